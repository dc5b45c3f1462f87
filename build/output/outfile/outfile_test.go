package outfile

import (
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func book(t *testing.T) string {
	t.Helper()
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	t.Setenv("HOME", t.TempDir())
	t.Setenv("AppData", t.TempDir())
	dir := t.TempDir()
	for _, name := range []string{"notebook.yaml", "cases/2026/2026-0001.md", "devices/x.md", "received/quay/state.json"} {
		p := filepath.Join(dir, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(p), 0o755))
		require.NoError(t, os.WriteFile(p, []byte("theirs"), 0o644))
	}
	return dir
}

// TestAllow: a notebook's own files are never written over, whatever was asked for and by
// whatever way they are named.
func TestAllow(t *testing.T) {
	dir := book(t)
	for _, name := range []string{"notebook.yaml", "NOTEBOOK.yaml", "cases/2026/2026-0001.md", "cases/new.csv", "Cases/2026/x.csv", "devices/x.md", "method/m.pdf",
		"received/quay/state.json", "terms/t.yaml", "path/p.md", ".benchlore/index/x", "kept/history/x", "cases/../devices/x.md", "site/../cases/x.zip"} {
		for _, replace := range []bool{false, true} {
			assert.ErrorIs(t, Allow(filepath.Join(dir, filepath.FromSlash(name)), replace), ErrOwn, name)
		}
	}
	for _, name := range []string{"bag.pdf", "out/repairs.csv", "site/index.html", "caseso/x.csv"} {
		assert.NoError(t, Allow(filepath.Join(dir, filepath.FromSlash(name)), false), name)
	}
	if runtime.GOOS != "windows" {
		link := filepath.Join(t.TempDir(), "elsewhere")
		require.NoError(t, os.Symlink(filepath.Join(dir, "cases"), link))
		assert.ErrorIs(t, Allow(filepath.Join(link, "x.csv"), true), ErrOwn, "by a link")
	}
	assert.ErrorIs(t, Folder(filepath.Join(dir, "cases")), ErrOwn)
	assert.ErrorIs(t, Folder(filepath.Join(dir, "cases", "deeper")), ErrOwn)
	assert.NoError(t, Folder(filepath.Join(dir, "pages")))
	assert.Error(t, Outside(dir))
	assert.Error(t, Outside(filepath.Join(dir, "keys")))
	assert.NoError(t, Outside(t.TempDir()))
}

// TestReplace: over another file only with replace; over its own, as it left it, always.
func TestReplace(t *testing.T) {
	dir := book(t)
	name := filepath.Join(dir, "repairs.csv")
	require.NoError(t, Allow(name, false))
	require.NoError(t, os.WriteFile(name, []byte("a"), 0o644))
	assert.ErrorIs(t, Allow(name, false), ErrThere, "nobody said that a run wrote it")
	assert.ErrorContains(t, Allow(name, false), "--replace")
	assert.NoError(t, Allow(name, true))
	Note(name)
	assert.NoError(t, Allow(name, false), "an earlier run wrote it")
	require.NoError(t, os.WriteFile(name, []byte("b"), 0o644))
	assert.ErrorIs(t, Allow(name, false), ErrThere, "somebody changed it since")
	require.NoError(t, os.Mkdir(filepath.Join(dir, "folder.pdf"), 0o755))
	assert.Error(t, Allow(filepath.Join(dir, "folder.pdf"), true), "a folder is replaced by nothing")
}
