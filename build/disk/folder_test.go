package disk

import (
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestFolderStaysInside: no name and no link, wherever it lies on the way, makes a
// write, a removal or a new name touch anything outside the folder.
func TestFolderStaysInside(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("links need a right of their own there")
	}
	for _, link := range []string{"cases", "cases/2027", "devices/x1", ".benchlore", "site/assets", "notebook.yaml"} {
		for _, name := range []string{link, link + "/a.md", link + "/b/c.md"} {
			dir, outside := t.TempDir(), t.TempDir()
			kept := filepath.Join(outside, "a.md")
			require.NoError(t, os.WriteFile(kept, []byte("ours"), 0o644))
			require.NoError(t, os.MkdirAll(filepath.Join(outside, "b"), 0o755))
			require.NoError(t, os.MkdirAll(filepath.Join(dir, filepath.Dir(link)), 0o755))
			require.NoError(t, os.Symlink(outside, filepath.Join(dir, filepath.FromSlash(link))))
			require.NoError(t, os.WriteFile(filepath.Join(dir, "mine"), nil, 0o644))
			f := Folder(dir)
			for what, do := range map[string]func() error{
				"write":        func() error { return f.Write(name, []byte("x")) },
				"create":       func() error { return f.Create(name, []byte("x")) },
				"remove":       func() error { return f.Remove(name) },
				"remove all":   func() error { return f.RemoveAll(name) },
				"rename to":    func() error { return f.Rename("mine", name) },
				"rename from":  func() error { return f.Rename(name, "yours") },
				"make folders": func() error { return f.MkdirAll(name + "/d") },
			} {
				assert.ErrorIs(t, do(), errLink, "%s %s", what, name)
			}
			now, err := os.ReadFile(kept)
			require.NoError(t, err)
			assert.Equal(t, "ours", string(now))
			left, err := os.ReadDir(outside)
			require.NoError(t, err)
			assert.Len(t, left, 2)
		}
	}
	parent := t.TempDir()
	f := Folder(filepath.Join(parent, "book"))
	require.NoError(t, os.MkdirAll(string(f), 0o755))
	for _, name := range []string{"../x", "cases/../../x", "/x", "", "cases/../../../x/y"} {
		assert.Error(t, f.Write(name, []byte("x")), name)
		assert.Error(t, f.Create(name, []byte("x")), name)
		assert.Error(t, f.RemoveAll(name), name)
		assert.Error(t, f.MkdirAll(name), name)
	}
	left, err := os.ReadDir(parent)
	require.NoError(t, err)
	assert.Len(t, left, 1)
}

// TestSweep: what a killed run left goes, what another run may still be writing and
// everything else stays.
func TestSweep(t *testing.T) {
	dir := t.TempDir()
	f := Folder(dir)
	old := time.Now().Add(-2 * sweepAge)
	for _, name := range []string{"cases/2026/" + tempPrefix + "old", "cases/2026/" + tempPrefix + "new",
		"cases/2026/a.md", "elsewhere/" + tempPrefix + "old"} {
		require.NoError(t, f.Write(name, []byte("x")))
		if filepath.Base(name) != tempPrefix+"new" {
			require.NoError(t, os.Chtimes(filepath.Join(dir, filepath.FromSlash(name)), old, old))
		}
	}
	f.SweepTemporary("cases", "not-there")
	assert.NoFileExists(t, filepath.Join(dir, "cases", "2026", tempPrefix+"old"))
	for _, name := range []string{"cases/2026/" + tempPrefix + "new", "cases/2026/a.md", "elsewhere/" + tempPrefix + "old"} {
		assert.FileExists(t, filepath.Join(dir, filepath.FromSlash(name)))
	}
}

// TestDerivedIsOurs: state is believed only under a name that this installation made
// for this very folder.
func TestDerivedIsOurs(t *testing.T) {
	t.Setenv("HOME", t.TempDir())
	a, b := t.TempDir(), t.TempDir()
	inA, ok := Derived(a, "index.gob")
	require.True(t, ok)
	inB, ok := Derived(b, "index.gob")
	require.True(t, ok)
	again, _ := Derived(a, "index.gob")
	assert.Equal(t, inA, again)
	assert.NotEqual(t, inA, inB, "a notebook that was copied elsewhere does not bring its state")
	assert.Regexp(t, `^\.benchlore/index-[0-9a-f]{24}\.gob$`, inA)
}
