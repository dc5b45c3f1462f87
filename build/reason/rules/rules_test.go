package rules

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/diagnostic"
)

// TestEveryRuleIsAsked: one fault for each package that knows rules, and each is said, in
// the order of the files.
func TestEveryRuleIsAsked(t *testing.T) {
	dir := workshop.Dir(t)
	change := func(name, old, with string) {
		path := filepath.Join(dir, filepath.FromSlash(name))
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Contains(t, string(data), old)
		require.NoError(t, os.WriteFile(path, []byte(strings.Replace(string(data), old, with, 1)), 0o644))
	}
	change("notebook.yaml", "language: en", "langauge: en")
	change("devices/aldermoor-hb4.md", "{at: J1, x: 0.0650", "{at: J1, x: 0.9650")
	require.NoError(t, os.Mkdir(filepath.Join(dir, "method"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "method", "lamp.yaml"), []byte("- nonsense\n"), 0o644))
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	list := Of(n)
	for file, rule := range map[string]diagnostic.Rule{
		"notebook.yaml":              diagnostic.UnknownKey,
		"devices/aldermoor-hb4.md":   diagnostic.BoardPhoto,
		"method/lamp.yaml":           diagnostic.WrongValue,
		"cases/2025/2025-0005-desk-": diagnostic.PartSwap,
	} {
		said := 0
		for _, d := range list {
			if strings.Contains(d.File, file) && d.Rule == rule {
				said++
			}
		}
		assert.Positive(t, said, "%s: %s", file, rule)
	}
	for i := 1; i < len(list); i++ {
		assert.LessOrEqual(t, list[i-1].File, list[i].File)
	}
}
