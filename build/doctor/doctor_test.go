package doctor

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/workshop"
)

var today = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

func book(t *testing.T) string {
	t.Helper()
	return workshop.Dir(t)
}

func examine(t *testing.T, dir string) []Finding {
	t.Helper()
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	return Examine(n, today)
}

func states(list []Finding, what string) (out []State) {
	for _, f := range list {
		if f.What == what {
			out = append(out, f.State)
		}
	}
	return out
}

// TestHealthy: the example is well, but for its warnings and for lying in no
// repository.
func TestHealthy(t *testing.T) {
	list := examine(t, book(t))
	assert.Zero(t, Wrongs(list))
	for _, f := range list {
		if f.State != Good {
			assert.Contains(t, []string{"files", "history"}, f.What)
			assert.NotEmpty(t, f.Mend, f.What)
		}
	}
}

// TestEachAilment spoils one thing at a time, and it is named.
func TestEachAilment(t *testing.T) {
	put := func(dir, name, text string) {
		path := filepath.Join(dir, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	config := func(dir, old, new string) {
		data, err := os.ReadFile(filepath.Join(dir, "notebook.yaml"))
		require.NoError(t, err)
		require.Contains(t, string(data), old)
		put(dir, "notebook.yaml", strings.Replace(string(data), old, new, 1))
	}
	for name, c := range map[string]struct {
		spoil func(dir string)
		what  string
		state State
	}{
		"a broken case":         {func(d string) { put(d, "cases/x.md", "---\ncase: 1\n---\n") }, "files", Wrong},
		"no language":           {func(d string) { config(d, "language: en\n", "") }, "language", Worth},
		"an unknown language":   {func(d string) { config(d, "language: en", "language: tlh") }, "language", Worth},
		"a language half known": {func(d string) { config(d, "language: en", "language: fi") }, "language", Worth},
		"no meter": {func(d string) {
			put(d, "notebook.yaml", "name: T\nlanguage: en\n")
		}, "meter", Worth},
		"a picture of nobody": {func(d string) { put(d, "cases/2026/2026-0018/x.jpg", "x") }, "pictures", Worth},
		"an old open case": {func(d string) {
			put(d, "cases/2026/2026-0090.md", "---\ncase: 2026-0090\ntitle: Waits\ndevice: {kind: lamp}\nopened: 2026-01-02\n---\n")
		}, "open cases", Worth},
		"a case of tomorrow": {func(d string) {
			put(d, "cases/2026/2026-0090.md", "---\ncase: 2026-0090\ntitle: Waits\ndevice: {kind: lamp}\nopened: 2027-01-02\n---\n")
		}, "clock", Worth},
		"kept text":            {func(d string) { put(d, ".benchlore/journal/2026-0018.md", "text") }, "kept text", Worth},
		"a repository":         {func(d string) { put(d, ".git/HEAD", "x"); put(d, ".gitignore", "/.benchlore/\n") }, "history", Good},
		"a careless one":       {func(d string) { put(d, ".git/HEAD", "x") }, "history", Worth},
		"a file in the way":    {func(d string) { put(d, ".benchlore", "x") }, "folder", Wrong},
		"cases fit for nobody": {func(d string) { require.NoError(t, os.RemoveAll(filepath.Join(d, "cases", "2025"))) }, "practice", Good},
	} {
		dir := book(t)
		c.spoil(dir)
		list := examine(t, dir)
		assert.True(t, slices.Contains(states(list, c.what), c.state), "%s: %+v", name, list)
	}
	// Points of a picture that do not fit count among the warnings.
	dir := book(t)
	device := filepath.Join(dir, "devices", "tessaly-bm1.md")
	text, err := os.ReadFile(device)
	require.NoError(t, err)
	warned := func() string {
		list := examine(t, dir)
		return list[slices.IndexFunc(list, func(f Finding) bool { return f.What == "files" })].Says
	}
	before := warned()
	require.NoError(t, os.WriteFile(device, []byte(strings.ReplaceAll(string(text), "    board: BM1 parent rev 2\n", "")), 0o644))
	count := func(says string) (n int) {
		_, err := fmt.Sscanf(says, "%d warning", &n)
		require.NoError(t, err, says)
		return n
	}
	assert.Equal(t, count(before)+2, count(warned()), "two pictures that do not say which board they show")
	empty := examine(t, t.TempDir())
	require.Len(t, empty, 1)
	assert.Equal(t, Wrong, empty[0].State)
	assert.Contains(t, empty[0].Mend, "benchlore start")
}
