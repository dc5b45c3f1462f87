package notebook

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/diagnostic"
)

// TestElsewhereIsCounted: a pack or an import of many cases has one line for what each of
// them has, with the number of cases and not of rows; our own are named one by one.
func TestElsewhereIsCounted(t *testing.T) {
	const table = "\n## Measurements\n\n| point | what | read |\n|---|---|---|\n| A | bananas | 3 V |\n| B | bananas | 4 V |\n"
	files := map[string]string{"notebook.yaml": "name: Y\n", "cases/2026-0001.md": caseText("2026-0001", "") + table}
	for _, id := range []string{"quay-1", "quay-2", "quay-3"} {
		files["cases/"+id+".md"] = caseText(id, "from: quay\n") + table
	}
	files["cases/ords-1.md"] = caseText("ords-1", "source: {standard: open-repair-data, id: x, provider: p}\n") + table
	n, err := Load(book(t, files))
	require.NoError(t, err)
	assert.Equal(t, []string{"2026-0001.md unknown-what", "2026-0001.md unknown-what", "notebook.yaml unknown-what"}, rules(n))
	last := n.Problems[2]
	assert.Equal(t, diagnostic.Note, last.Severity)
	assert.Contains(t, last.Message, "4 cases from elsewhere")
	c, _ := n.Case("quay-1")
	list := n.Check(c.Path, []byte(files[c.Path]))
	require.Len(t, list, 2, "whoever edits such a case is told each row")
	assert.Equal(t, diagnostic.UnknownWhat, list[0].Rule)
}
