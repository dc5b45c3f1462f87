package exchange

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/reason/verdict"
	"benchlore/build/testkit/workshop"
)

// TestExportsOfAHostileNotebook: what a spreadsheet would run is marked as text,
// and every form is read back whole by the standard library.
func TestExportsOfAHostileNotebook(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "cases"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "notebook.yaml"), []byte("name: X\n"), 0o644))
	evil := []string{`=HYPERLINK("http://x","y")`, "+1+1", "-2+3", "@SUM(A1)", `"quoted", and; more`, "a\u2028b",
		"<script>alert(1)</script>"}
	for i, text := range evil {
		quoted, _ := json.Marshal(text)
		id := "2026-000" + string(rune('1'+i))
		src := "---\ncase: " + id + "\ntitle: " + string(quoted) +
			"\ndevice: {kind: lamp}\nopened: 2026-01-02\n---\n## Measurements\n\n| point | what | state | expected | read |\n|---|---|---|---|---|\n| =1+1 | voltage | on | > 5 V | 3 V |\n"
		require.NoError(t, os.WriteFile(filepath.Join(dir, "cases", id+".md"), []byte(src), 0o644))
	}
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	require.Len(t, n.Cases, len(evil), n.Problems)
	j := verdict.New(n)
	var b bytes.Buffer
	require.NoError(t, ExportCSV(&b, n, j))
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, len(evil)+1)
	for i, row := range rows[1:] {
		assert.Equal(t, evil[i], strings.TrimPrefix(row[2], "'"), "nothing of the text is lost")
		for _, cell := range row {
			assert.False(t, cell != "" && strings.ContainsAny(cell[:1], "=+-@\t\r"), cell)
		}
	}
	b.Reset()
	require.NoError(t, ExportJSON(&b, n, j))
	assert.NotContains(t, b.String(), "<script>")
	assert.NotContains(t, b.String(), "\u2028")
	var all []Data
	require.NoError(t, json.Unmarshal(b.Bytes(), &all))
	require.Len(t, all, len(evil))
	assert.Equal(t, "low", all[0].Measurements[0].Verdict)
	b.Reset()
	require.NoError(t, ExportNDJSON(&b, n, j))
	lines := strings.Split(strings.TrimSpace(b.String()), "\n")
	require.Len(t, lines, 2*len(evil))
	for i, line := range lines {
		assert.True(t, json.Valid([]byte(line)))
		assert.Equal(t, i%2 == 0, strings.HasPrefix(line, `{"index":{"_id":`))
	}
	assert.True(t, json.Valid(Mapping()))
}

// TestWorkIsExported: the records of work go out with their cells, an acceptance with its
// verdict.
func TestWorkIsExported(t *testing.T) {
	n := workshop.Load(t)
	j := verdict.New(n)
	c, _ := n.Case("2026-0019")
	assert.Equal(t, []workData{{"Acceptance", map[string]string{"test": "insulation, live to earth, 500 V, warm", "instrument": "insulation tester",
		"limit": "> 1 MΩ", "read": "95 MΩ", "result": "passed", "note": "the limit is the local code's to state"}, "in"}}, DataOf(n, j, c, "").Work)
	c, _ = n.Case("2026-0018")
	assert.Empty(t, DataOf(n, j, c, "").Work)
}
