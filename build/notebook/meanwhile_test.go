package notebook

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/board"
)

// TestBoardOfAnEditedDevice: a board that is added to a device whose file was edited since
// the notebook was read keeps the edit, and a parts list that came meanwhile is not
// written over unasked.
func TestBoardOfAnEditedDevice(t *testing.T) {
	dir := t.TempDir()
	device := "---\ndevice: lamp-1\nkind: lamp\nmaker: Lumadane\nmodel: Arc\n---\n"
	for name, text := range map[string]string{"notebook.yaml": "name: Quay Street\n", "devices/lamp-1.md": device} {
		name = filepath.Join(dir, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(name), 0o755))
		require.NoError(t, os.WriteFile(name, []byte(text), 0o644))
	}
	n, err := Load(dir)
	require.NoError(t, err)
	d, ok := n.Device("lamp-1")
	require.True(t, ok)
	file := filepath.Join(dir, "devices", "lamp-1.md")
	require.NoError(t, os.WriteFile(file, []byte(device+"\n## Notes\n\nWritten meanwhile.\n"), 0o644))
	parts := []board.Part{{Ref: "R1"}}
	require.NoError(t, n.AddBoard(d, AddedBoard{Name: "main", Parts: parts}))
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Contains(t, string(text), "Written meanwhile.")
	assert.Contains(t, string(text), "boards: [main]")
	list, _ := BoardPaths("lamp-1", "main")
	require.NoError(t, os.WriteFile(filepath.Join(dir, filepath.FromSlash(list)), []byte("mine"), 0o644))
	assert.ErrorIs(t, n.AddBoard(d, AddedBoard{Name: "main", Parts: parts}), os.ErrExist)
	text, err = os.ReadFile(filepath.Join(dir, filepath.FromSlash(list)))
	require.NoError(t, err)
	assert.Equal(t, "mine", string(text))
	require.NoError(t, n.AddBoard(d, AddedBoard{Name: "main", Parts: parts, Replace: true}))
	text, err = os.ReadFile(file)
	require.NoError(t, err)
	assert.Contains(t, string(text), "Written meanwhile.")
	require.NoError(t, os.WriteFile(file, []byte("no device"), 0o644))
	assert.ErrorContains(t, n.AddBoard(d, AddedBoard{Name: "second"}), "cannot be read now")
}
