//go:build unix

package erase

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/workshop"
)

// TestPipes: what is no ordinary file is named and not waited for, a link is not followed,
// and what is derived goes whatever it is.
func TestPipes(t *testing.T) {
	n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n", casePath: "---\ncase: 2026-0001\ntitle: Lamp\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\n---\n## Symptom\n\nOf " + name + ".\n"})
	outside := filepath.Join(t.TempDir(), "a.md")
	require.NoError(t, os.WriteFile(outside, []byte(name), 0o644))
	for _, p := range []string{"kept/history/2026-0001/a.md", "kept/journal/2026-0001.md", "cases/2026/2026-0001/a.png", ".benchlore/index", "devices/a.md"} {
		at := filepath.Join(n.Dir, filepath.FromSlash(p))
		require.NoError(t, os.MkdirAll(filepath.Dir(at), 0o755))
		require.NoError(t, syscall.Mkfifo(at, 0o644))
	}
	require.NoError(t, os.Symlink(outside, filepath.Join(n.Dir, "kept", "history", "2026-0001", "b.md")))
	n, err := notebook.Load(n.Dir)
	require.NoError(t, err)
	p, err := New(n, id, Wanted{Texts: []string{name}}, options(n))
	require.NoError(t, err)
	var named []string
	for _, u := range p.Unread {
		assert.Equal(t, Link, u.Kind)
		named = append(named, u.Path)
	}
	assert.Equal(t, []string{"cases/2026/2026-0001/a.png", "devices/a.md", "kept/history/2026-0001/a.md", "kept/history/2026-0001/b.md",
		"kept/journal/2026-0001.md"}, named)
	_, err = p.Do(t.Context())
	require.NoError(t, err)
	text, err := os.ReadFile(filepath.Join(n.Dir, casePath))
	require.NoError(t, err)
	assert.False(t, hasName(string(text)))
	assert.NoFileExists(t, filepath.Join(n.Dir, ".benchlore", "index"))
	text, err = os.ReadFile(outside)
	require.NoError(t, err)
	assert.Equal(t, name, string(text))
}
