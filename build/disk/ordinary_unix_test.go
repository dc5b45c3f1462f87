//go:build unix

package disk

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestOrdinary: a pipe, a folder and what is too large are refused, and nothing waits.
func TestOrdinary(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "a"), []byte("12345"), 0o644))
	require.NoError(t, syscall.Mkfifo(filepath.Join(dir, "pipe"), 0o644))
	require.NoError(t, os.Mkdir(filepath.Join(dir, "folder"), 0o755))
	root, err := os.OpenRoot(dir)
	require.NoError(t, err)
	defer root.Close()
	got, err := Ordinary(root, "a", 5)
	require.NoError(t, err)
	assert.Equal(t, "12345", string(got))
	for name, most := range map[string]int64{"a": 4, "pipe": 5, "folder": 5, "none": 5, "../a": 5} {
		_, err := Ordinary(root, name, most)
		assert.Error(t, err, name)
	}
	_, err = Folder(dir).Read("pipe", 5)
	assert.Error(t, err)
}
