package picture

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/disk"
)

// TestReadTakesOrdinaryFiles: what is not a file is refused before it is opened, a
// picture comes whole, and one that is too large is refused.
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
	assert.ErrorIs(t, err, disk.ErrNotOrdinary)
	_, err = Read(root, "none.png")
	assert.ErrorIs(t, err, os.ErrNotExist)
	_, err = Read(root, "../a.png")
	assert.Error(t, err, "outside the folder")
	data, err := Read(root, "photos/a.png")
	require.NoError(t, err)
	assert.Equal(t, "whole", string(data))
	_, err = Read(root, "large.png")
	assert.ErrorIs(t, err, disk.ErrTooLarge)
}
