package picture

import (
	"errors"
	"io"
	"os"
	"path/filepath"
)

// Read gives a picture inside a folder as it is, one byte beyond [MaxBytes] at most, so
// that what is too large is told from what fits. What is not an ordinary file is refused
// before it is opened: a pipe would keep the reader waiting for ever.
func Read(root *os.Root, name string) ([]byte, error) {
	info, err := root.Stat(filepath.FromSlash(name))
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New("it is not an ordinary file")
	}
	f, err := root.Open(filepath.FromSlash(name))
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, MaxBytes+1))
}
