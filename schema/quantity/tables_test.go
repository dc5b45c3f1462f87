package quantity

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSources: every table says where its values come from, every rule of a swap and
// every formula too.
func TestSources(t *testing.T) {
	var all map[string]json.RawMessage
	require.NoError(t, json.Unmarshal(TablesJSON, &all))
	delete(all, "sources")
	require.NotEmpty(t, all)
	for name := range all {
		assert.NotEmpty(t, tables().Sources[name], "table %s", name)
	}
	assert.Len(t, tables().Sources, len(all))
	rules := 0
	for kind, k := range swapData().Kinds {
		for _, r := range k.Rules {
			assert.NotEmpty(t, r.Source, "%s, %s", kind, r.Name)
			rules++
		}
	}
	require.NotZero(t, rules)
	for _, f := range Formulas() {
		assert.NotEmpty(t, f.Source, f.Name)
	}
}

// TestTablesAsPublished: every cell of every table, and of every series, is what the
// standard named beside it prints, and every row of the standard that was typed is there.
func TestTablesAsPublished(t *testing.T) {
	type row struct{ table, name string }
	want := map[row]string{}
	text, err := os.ReadFile(filepath.Join("testdata", "tables.tsv"))
	require.NoError(t, err)
	for i, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
		if strings.HasPrefix(line, "#") {
			continue
		}
		column := strings.Split(line, "\t")
		require.Len(t, column, 4, "line %d", i+1)
		assert.NotEmpty(t, column[3], "line %d names no source", i+1)
		at := row{column[0], column[1]}
		assert.Empty(t, want[at], "line %d: %v stands twice", i+1, at)
		want[at] = column[2]
	}
	got := map[row]string{}
	var all map[string]any
	d := json.NewDecoder(strings.NewReader(string(TablesJSON)))
	d.UseNumber()
	require.NoError(t, d.Decode(&all))
	for table, rows := range all {
		for name, cells := range rowsOf(t, rows) {
			if table == "packages" { // found by the imperial code, by the metric one where there is none
				imperial, rest, _ := strings.Cut(cells, "|")
				metric, _, _ := strings.Cut(rest, "|")
				name, cells = imperial, rest
				if imperial == "" {
					name = metric + "M"
				}
			}
			assert.Empty(t, got[row{table, name}], "%s: %s stands twice", table, name)
			got[row{table, name}] = cells
		}
	}
	for _, s := range AllSeries {
		var members []string
		for _, m := range s.Members() {
			members = append(members, strconv.FormatInt(m, 10))
		}
		got[row{s.String(), "all"}] = strings.Join(members, "|")
	}
	for at, cells := range want {
		assert.Equal(t, cells, got[at], "%s, row %s", at.table, at.name)
	}
	for at, cells := range got {
		assert.NotEmpty(t, want[at], "%s, row %s (%s) was never typed from its source", at.table, at.name, cells)
	}
}

// rowsOf gives the rows of a table by name, those of a list by place, and their cells parted
// by bars.
func rowsOf(t *testing.T, rows any) map[string]string {
	t.Helper()
	out := map[string]string{}
	cells := func(v any) string {
		list, ok := v.([]any)
		if !ok {
			return fmt.Sprint(v)
		}
		var parts []string
		for _, c := range list {
			parts = append(parts, fmt.Sprint(c))
		}
		return strings.Join(parts, "|")
	}
	switch rows := rows.(type) {
	case map[string]any:
		for name, v := range rows {
			out[name] = cells(v)
		}
	case []any:
		for i, v := range rows {
			out[strconv.Itoa(i)] = cells(v)
		}
	default:
		t.Fatalf("%v is no table", rows)
	}
	return out
}
