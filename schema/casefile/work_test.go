package casefile

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/quantity"
)

func withWork(tables string) string {
	return "---\ncase: 2026-0001\ntitle: T\ndevice: {kind: radio}\nopened: 2026-01-02\nsymptoms: []\nphotos: [{file: a.jpg, caption: A}]\n---\n## Symptom\n\nDead.\n\n" +
		tables + "\n## Outcome\n\nDone.\n"
}

// TestWork reads each table of work whole.
func TestWork(t *testing.T) {
	sum := strings.Repeat("0123456789abcdef", 4)
	f, list := Parse("c.md", []byte(withWork("## Injection\n\n| net | volts | limit | current | warm | picture |\n|---|---|---|---|---|---|\n| +3V3 | 1 V | 2 A | 1.9 A | C341 | a.jpg |\n\n"+
		"## Rework\n\n| part | alloy | temperature | time | class |\n|---|---|---|---|---|\n| U4 | SAC305 | 380 °C | 40 s | 7711 3.3.1 |\n\n"+
		"## Jumpers\n\n| from | to | wire | after |\n|---|---|---|---|\n| U4.9 | R62 | 0.1 mm enamelled | a.jpg |\n\n"+
		"## Firmware\n\n| chip | size | sha256 |\n|---|---|---|\n| U7 | 8 MiB | "+sum+" |\n\n"+
		"## Acceptance\n\n| test | instrument | limit | read | result |\n|---|---|---|---|---|\n| leakage | clamp | < 0.5 mA | 0.2 mA | passed |\n| soak | | 24 h | | passed |\n")))
	require.Empty(t, list)
	var got []string
	for _, w := range f.Case.Work {
		got = append(got, w.Section+": "+w.Line())
	}
	assert.Equal(t, []string{"Injection: net +3V3, volts 1 V, limit 2 A, current 1.9 A, warm C341, picture a.jpg",
		"Rework: part U4, alloy SAC305, temperature 380 °C, time 40 s, class 7711 3.3.1",
		"Jumpers: from U4.9, to R62, wire 0.1 mm enamelled, after a.jpg", "Firmware: chip U7, size 8 MiB, sha256 " + sum,
		"Acceptance: test leakage, instrument clamp, limit < 0.5 mA, read 0.2 mA, result passed",
		"Acceptance: test soak, limit 24 h, result passed"}, got)
	assert.Equal(t, quantity.In, f.Case.Work[4].Verdict)
	assert.Equal(t, quantity.NoVerdict, f.Case.Work[5].Verdict)
}

// TestWorkRefused: what cannot be read is named at its cell, and a result that its own
// reading contradicts is an error.
func TestWorkRefused(t *testing.T) {
	for tables, says := range map[string]string{
		"## Injection\n\n| net | volts |\n|---|---|\n| +3V3 | 2 A |\n":                                                      `17:10: error: volts is in volt, not "2 A"`,
		"## Injection\n\n| net | volts | picture |\n|---|---|---|\n| +3V3 | 1 V | b.jpg |\n":                                "picture is the file of a picture under photos:",
		"## Injection\n\n| net | limit |\n|---|---|\n| +3V3 | 2 A |\n":                                                      "volts",
		"## Rework\n\n| part | time |\n|---|---|\n| U4 | long |\n":                                                          "time is a number with s or min",
		"## Rework\n\n| part | class |\n|---|---|\n| U4 | good |\n":                                                         "class is the number of the procedure",
		"## Firmware\n\n| chip | sha256 |\n|---|---|\n| U7 | 1234 |\n":                                                      "64 digits",
		"## Firmware\n\n| chip | size | sha256 |\n|---|---|---|\n| U7 | big | " + strings.Repeat("a", 64) + " |\n":          "size is a number with B",
		"## Acceptance\n\n| test | limit | read | result |\n|---|---|---|---|\n| leakage | < 0.5 mA | 0.9 mA | passed |\n":  "0.9 mA is high by the limit < 0.5 mA, so it did not pass",
		"## Acceptance\n\n| test | limit | read | result |\n|---|---|---|---|\n| insulation | > 1 MΩ | 0.9 MΩ | passed |\n": "0.9 MΩ is low by the limit > 1 MΩ, so it did not pass",
		"## Acceptance\n\n| test | limit | read | result |\n|---|---|---|---|\n| leakage | < 0.5 mA | 0.2 V | passed |\n":   "read:",
		"## Acceptance\n\n| test | result |\n|---|---|\n| leakage | fine |\n":                                               "result is passed, failed, not done only",
	} {
		_, list := Parse("c.md", []byte(withWork(tables)))
		require.NotEmpty(t, list, tables)
		var all []string
		for _, d := range list {
			all = append(all, d.String())
		}
		assert.Contains(t, strings.Join(all, "\n"), says)
	}
	_, list := Parse("c.md", []byte(withWork("## Acceptance\n\n| test | limit | read | result |\n|---|---|---|---|\n| leakage | < 0.5 mA | 0.9 mA | failed |\n")))
	assert.Empty(t, list, "a test that failed and says so is right")
}

// TestWorkWritten: rows put into a table that is not there come before the outcome, and no
// other byte changes.
func TestWorkWritten(t *testing.T) {
	f, list := Parse("c.md", []byte(withWork("")))
	require.Empty(t, list)
	next, err := f.SetTable("Rework", Table{Columns: []string{"part", "temperature"}, Rows: [][]string{{"U4", "380 °C"}}})
	require.NoError(t, err)
	text := string(next.Bytes())
	assert.Less(t, strings.Index(text, "## Rework"), strings.Index(text, "## Outcome"))
	assert.Contains(t, text, "| U4 | 380 °C |")
	require.Len(t, next.Case.Work, 1)
	same, err := next.SetTable("Rework", next.Table("Rework"))
	require.NoError(t, err)
	assert.Equal(t, text, string(same.Bytes()))
	empty, err := f.SetTable("Rework", f.Table("Rework"))
	require.NoError(t, err)
	assert.Equal(t, string(f.Bytes()), string(empty.Bytes()), "no row, no section")
}
