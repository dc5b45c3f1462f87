package disk

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/natefinch/atomic"
)

// WriteFile replaces a file whole: temporary file, sync, rename. A reader sees
// the old bytes or the new ones.
func WriteFile(name string, data []byte) error {
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		return err
	}
	_, err := os.Lstat(name)
	isNew := errors.Is(err, fs.ErrNotExist)
	if err := atomic.WriteFile(name, bytes.NewReader(data)); err != nil {
		return err
	}
	if isNew {
		return os.Chmod(name, 0o644)
	}
	return nil
}

// CreateFile writes a new file whole and fails with [fs.ErrExist] when there is
// one of that name already.
func CreateFile(name string, data []byte) error {
	dir := filepath.Dir(name)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return err
	}
	defer root.Close()
	return put(root, filepath.Base(name), data, placeNew)
}
