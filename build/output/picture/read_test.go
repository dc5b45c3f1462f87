package picture

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestReadTakesOrdinaryFiles: what is not a file is refused before it is opened, a
// picture comes whole, and of one that is too large only so much that this shows.
func TestReadTakesOrdinaryFiles(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(dir, "photos"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "photos", "a.png"), []byte("whole"), 0o644))
	large, err := os.Create(filepath.Join(dir, "large.png"))
	require.NoError(t, err)
	require.NoError(t, large.Truncate(MaxBytes+100))
	require.NoError(t, large.Close())
	root, err := os.OpenRoot(dir)
	require.NoError(t, err)
	defer root.Close()

	_, err = Read(root, "photos")
	assert.EqualError(t, err, "it is not an ordinary file")
	_, err = Read(root, "none.png")
	assert.ErrorIs(t, err, os.ErrNotExist)
	_, err = Read(root, "../a.png")
	assert.Error(t, err, "outside the folder")
	data, err := Read(root, "photos/a.png")
	require.NoError(t, err)
	assert.Equal(t, "whole", string(data))
	data, err = Read(root, "large.png")
	require.NoError(t, err)
	assert.Len(t, data, MaxBytes+1)
}
