package casefile

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const twoTables = "---\ncase: 2026-0001\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\n---\n## Symptom\n\nIt *hums*.\n\n## Findings\n\n| check | seen | result | min |\n|---|---|---|---|\n| **Fuse** | good | clear | 2 |\n| Cord | ok | clear | |\n\nSeen by daylight.\n\n## Lesson\n\nNone.\n"

func read(t *testing.T, src string) *File {
	t.Helper()
	f, list := Parse("cases/2026/2026-0001-t.md", []byte(src))
	require.NotNil(t, f, list)
	return f
}

// TestSetTable: rows that did not change keep their bytes, and so does the rest
// of the section.
func TestSetTable(t *testing.T) {
	f := read(t, twoTables)
	table := f.Table("Findings")
	assert.Equal(t, [][]string{{"Fuse", "good", "clear", "2", ""}, {"Cord", "ok", "clear", "", ""}}, table.Rows,
		"the column that the file lacks is offered")
	same, err := f.SetTable("Findings", table)
	require.NoError(t, err)
	assert.Equal(t, twoTables, string(same.Bytes()))
	table.Rows = [][]string{{"Relay", "a | b", "unsure", ""}, {"Fuse", "good", "clear", "3"}, {"Cord", "ok", "clear", ""}, {"", "", "", ""}}
	next, err := f.SetTable("Findings", table)
	require.NoError(t, err)
	assert.Equal(t, strings.Replace(twoTables, "| **Fuse** | good | clear | 2 |\n",
		"| Relay | a \\| b | unsure | |\n| Fuse | good | clear | 3 |\n", 1), string(next.Bytes()))
	assert.Equal(t, "a | b", next.Case.Findings[0].Seen)
	// A cell of an unchanged place keeps its markup.
	table = f.Table("Findings")
	table.Rows[0][3] = "4"
	next, err = f.SetTable("Findings", table)
	require.NoError(t, err)
	assert.Contains(t, string(next.Bytes()), "| **Fuse** | good | clear | 4 |")
	// A column that the file lacks comes with the first cell that needs it.
	table.Rows[1][4] = "after"
	next, err = f.SetTable("Findings", table)
	require.NoError(t, err)
	assert.Contains(t, string(next.Bytes()),
		"| check | seen | result | min | when |\n|---|---|---|---|---|\n| **Fuse** | good | clear | 4 | |\n| Cord | ok | clear | | after |\n")
	assert.Equal(t, After, next.Case.Findings[1].When)
	// A section and table that are not there yet are added in their place.
	next, err = f.SetTable("Parts", Table{PartColumns, [][]string{{"C1", "capacitor", "10 µF", "", "", "replaced", "same", ""}}})
	require.NoError(t, err)
	assert.Contains(t, string(next.Bytes()), "Seen by daylight.\n\n## Parts\n\n| ref | part |")
	assert.Equal(t, "10 µF", next.Case.Parts[0].Value)
	assert.Contains(t, string(next.Bytes()), "\n\n## Lesson\n\nNone.\n")
}

func TestSetSection(t *testing.T) {
	f := read(t, twoTables)
	next, err := f.SetSection("Symptom", "It hums\nand buzzes.\n")
	require.NoError(t, err)
	assert.Equal(t, strings.Replace(twoTables, "It *hums*.", "It hums\nand buzzes.", 1), string(next.Bytes()))
	next, err = next.SetSection("Outcome", "Done.")
	require.NoError(t, err)
	assert.Contains(t, string(next.Bytes()), "daylight.\n\n## Outcome\n\nDone.\n\n## Lesson\n")
	next, err = next.SetSection("Lesson", "")
	require.NoError(t, err)
	assert.True(t, strings.HasSuffix(string(next.Bytes()), "Done.\n\n## Lesson\n"))
	next, err = next.SetSection("Extra", "More.")
	require.NoError(t, err)
	assert.True(t, strings.HasSuffix(string(next.Bytes()), "## Lesson\n\n## Extra\n\nMore.\n"), string(next.Bytes()))
	windows := read(t, strings.ReplaceAll(twoTables, "\n", "\r\n"))
	next, err = windows.SetSection("Symptom", "It hums\nand buzzes.")
	require.NoError(t, err)
	assert.NotContains(t, strings.ReplaceAll(string(next.Bytes()), "\r\n", ""), "\n")
}

// FuzzRewrite: what is written into a section or cell is read back, and the
// other sections stay byte for byte.
func FuzzRewrite(f *testing.F) {
	f.Add("It hums.", "a cell")
	f.Add("# not a heading of ours\n\n- list", "a | b \\ c")
	f.Add("```\ncode\n```", "`x` *y*")
	f.Fuzz(func(t *testing.T, text, cell string) {
		file := read(t, twoTables)
		if next, err := file.SetTable("Findings",
			Table{FindingColumns, [][]string{{"check " + cell, "x", "clear", ""}}}); err == nil && len(next.Case.Findings) == 1 {
			if got, want := squeeze(next.Case.Findings[0].Check), squeeze("check "+cell); got != want &&
				!strings.ContainsAny(cell, "\x00\ufffd") {
				t.Fatalf("%q was written and %q read", want, got)
			}
			if next.Section("Lesson") != file.Section("Lesson") || next.Section("Symptom") != file.Section("Symptom") {
				t.Fatal("another section changed")
			}
		}
		if strings.Contains("\n"+text, "\n## ") || strings.ContainsAny(text, "\r\x00") {
			return
		}
		if next, err := file.SetSection("Symptom", text); err == nil {
			if got := strings.Trim(next.Section("Symptom"), "\n"); got != strings.Trim(text, "\n") &&
				!strings.Contains(text, "```") && !strings.Contains(text, "~~~") && len(next.Case.Sections) == len(file.Case.Sections) {
				t.Fatalf("%q was written and %q read", text, got)
			}
		}
	})
}
