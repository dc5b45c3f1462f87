package disk

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSweepAfterAnHour: another program may write a large file for minutes, so what is younger
// than an hour stays.
func TestSweepAfterAnHour(t *testing.T) {
	for age, stays := range map[time.Duration]bool{2 * time.Minute: true, 55 * time.Minute: true, 65 * time.Minute: false} {
		f := Folder(t.TempDir())
		name := tempPrefix + "x"
		require.NoError(t, f.Write(name, []byte("x")))
		at := time.Now().Add(-age)
		require.NoError(t, os.Chtimes(filepath.Join(string(f), name), at, at))
		f.SweepTemporary(".")
		_, err := os.Stat(filepath.Join(string(f), name))
		assert.Equal(t, stays, err == nil, "%v", age)
	}
}

// TestSecretIsWhole: only a secret of 32 bytes is believed; a damaged one, shorter or longer, is
// made anew, and one that is whole stays.
func TestSecretIsWhole(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("the folder of settings is set by a variable there alone")
	}
	for _, n := range []int{0, 1, 31, 32, 33, 200} {
		t.Setenv("XDG_CONFIG_HOME", t.TempDir())
		name := filepath.Join(os.Getenv("XDG_CONFIG_HOME"), "benchlore", "secret")
		have := bytes.Repeat([]byte("k"), n)
		require.NoError(t, os.MkdirAll(filepath.Dir(name), 0o700))
		require.NoError(t, os.WriteFile(name, have, 0o600))
		key, err := readSecret()
		require.NoError(t, err, "%d bytes", n)
		assert.Len(t, key, 32, "%d bytes", n)
		assert.Equal(t, n == 32, bytes.Equal(key, have), "%d bytes", n)
		again, err := readSecret()
		require.NoError(t, err)
		assert.Equal(t, key, again, "it stays")
	}
	t.Setenv("XDG_CONFIG_HOME", t.TempDir())
	_, err := readSecret()
	require.NoError(t, err)
	info, err := os.Stat(filepath.Join(os.Getenv("XDG_CONFIG_HOME"), "benchlore", "secret"))
	require.NoError(t, err)
	assert.Zero(t, info.Mode().Perm()&0o077, "nobody else reads it")
}

// TestNothingBelievedThroughALink: what lies behind a link came with the notebook.
func TestNothingBelievedThroughALink(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("links need a right of their own there")
	}
	t.Setenv("HOME", t.TempDir())
	dir := t.TempDir()
	require.NoError(t, os.Symlink(t.TempDir(), filepath.Join(dir, ".benchlore")))
	_, ok := Derived(dir, "index.gob")
	assert.False(t, ok)
	_, ok = Derived(filepath.Join(dir, "none"), "index.gob")
	assert.False(t, ok, "there is no such notebook")
}

// TestNamesOfKept: the moment in UTC, and the first 16 hexadecimal digits of the SHA-256 of the
// bytes. Outside check: SHA-256 of "abc" begins with ba7816bf8f01cfea (FIPS 180-2, B.1).
func TestNamesOfKept(t *testing.T) {
	at := time.Date(2026, 3, 4, 6, 7, 8, 9e6, time.FixedZone("", 3600))
	assert.Equal(t, "20260304T050708.009Z-ba7816bf8f01cfea.md", KeptName(at, []byte("abc"), ".md"))
}

// TestRenameMakesFolders: a name in a folder that is not there yet gets it.
func TestRenameMakesFolders(t *testing.T) {
	f := Folder(t.TempDir())
	require.NoError(t, f.Write("a.md", []byte("x")))
	require.NoError(t, f.Rename("a.md", "b/c/a.md"))
	text, err := f.Read("b/c/a.md", 1)
	require.NoError(t, err)
	assert.Equal(t, "x", string(text))
	require.NoError(t, f.Rename("b/c/a.md", "a.md"))
}

// TestReadUpTo: as many bytes as asked for and none more, with why there are none.
func TestReadUpTo(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "a")
	for size, reason := range map[int]error{0: nil, 4: nil, 5: nil, 6: ErrTooLarge, 9: ErrTooLarge} {
		want := strings.Repeat("x", size)
		require.NoError(t, os.WriteFile(name, []byte(want), 0o644))
		got, err := ReadFile(name, 5)
		if reason != nil {
			assert.ErrorIs(t, err, reason, "%d", size)
			continue
		}
		require.NoError(t, err)
		assert.Equal(t, want, string(got))
	}
	_, err := ReadFile(dir, 5)
	assert.ErrorIs(t, err, ErrNotOrdinary)
	_, err = Open(dir)
	assert.ErrorIs(t, err, ErrNotOrdinary)
	_, err = Open(filepath.Join(dir, "none"))
	assert.ErrorIs(t, err, fs.ErrNotExist)
}

// TestRemoveIfNotMeant: a file that cannot be read is not said to be removed.
func TestRemoveIfNotMeant(t *testing.T) {
	f := Folder(t.TempDir())
	require.NoError(t, f.MkdirAll("folder"))
	removed, err := f.RemoveIf("folder", "folder", func([]byte) bool { return true })
	assert.ErrorIs(t, err, ErrNotOrdinary)
	assert.False(t, removed)
	assert.DirExists(t, filepath.Join(string(f), "folder"))
}

// TestRemoveIfCameAnew: what was moved aside and is not what was meant is kept where something
// new stands in its place, and nothing is lost.
func TestRemoveIfCameAnew(t *testing.T) {
	f := Folder(t.TempDir())
	require.NoError(t, f.Write("a.md", []byte("x")))
	looked := 0
	removed, err := f.RemoveIf("a.md", "a", func(have []byte) bool {
		looked++
		switch looked {
		case 1: // an editor saves just then
			require.NoError(t, os.WriteFile(filepath.Join(string(f), "a.md"), []byte("edited"), 0o644))
		case 2: // and once more, after it was moved
			require.NoError(t, os.WriteFile(filepath.Join(string(f), "a.md"), []byte("edited again"), 0o644))
		}
		return string(have) == "x"
	})
	require.NoError(t, err)
	assert.False(t, removed)
	text, err := f.Read("a.md", 100)
	require.NoError(t, err)
	assert.Equal(t, "edited again", string(text))
	names, err := filepath.Glob(filepath.Join(string(f), Kept, "history", "a", "*.md"))
	require.NoError(t, err)
	require.Len(t, names, 1)
	kept, err := os.ReadFile(names[0])
	require.NoError(t, err)
	assert.Equal(t, "edited", string(kept))
}

// TestCreateFileOnce: of many who make one file, one does, and the others are told.
func TestCreateFileOnce(t *testing.T) {
	name := filepath.Join(t.TempDir(), "new", "a.md")
	var all sync.WaitGroup
	results := make([]error, 5)
	for i := range results {
		all.Go(func() { results[i] = CreateFile(name, []byte{byte('0' + i)}) })
	}
	all.Wait()
	made := 0
	for _, err := range results {
		if err == nil {
			made++
		} else {
			assert.True(t, errors.Is(err, fs.ErrExist), "%v", err)
		}
	}
	assert.Equal(t, 1, made)
	require.NoError(t, WriteFile(name, []byte("after")))
	text, err := os.ReadFile(name)
	require.NoError(t, err)
	assert.Equal(t, "after", string(text))
}
