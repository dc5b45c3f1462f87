package quantity

import (
	"encoding/json"
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
