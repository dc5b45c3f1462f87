package disk

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
)

// ErrNotOrdinary and ErrTooLarge are why a file is not read; they stand in an
// [fs.PathError] that names it.
var (
	ErrNotOrdinary = errors.New("it is not an ordinary file")
	ErrTooLarge    = errors.New("larger than what is read")
)

// MaxDerived is the most that is read of what we made ourselves, in bytes.
const MaxDerived = 4 << 30

// Ordinary returns the bytes of an ordinary file in a root, up to a size in bytes.
// Something else of that name, such as a pipe that would never end, is never waited for:
// the file is opened without blocking and looked at once it is open.
func Ordinary(root *os.Root, name string, most int64) ([]byte, error) {
	f, err := root.OpenFile(filepath.FromSlash(name), os.O_RDONLY|nonblock, 0)
	if err != nil {
		return nil, err
	}
	return whole(f, name, most)
}

// ReadFile is [Ordinary] for a file anywhere.
func ReadFile(name string, most int64) ([]byte, error) {
	f, err := os.OpenFile(name, os.O_RDONLY|nonblock, 0)
	if err != nil {
		return nil, err
	}
	return whole(f, name, most)
}

// Open opens an ordinary file for reading a part at a time.
func Open(name string) (*os.File, error) {
	f, err := os.OpenFile(name, os.O_RDONLY|nonblock, 0)
	if err != nil {
		return nil, err
	}
	if _, err := ordinary(f, name); err != nil {
		f.Close()
		return nil, err
	}
	return f, nil
}

// Sum is the SHA-256 of an ordinary file, in hexadecimal digits.
func Sum(name string) (string, error) {
	f, err := Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// OpenDir opens a folder.
func OpenDir(name string) (*os.File, error) { return os.OpenFile(name, os.O_RDONLY|nonblock, 0) }

// ReadDir gives what a folder of a root holds, by name; like [Ordinary] it waits for nothing.
func ReadDir(root *os.Root, name string) ([]fs.DirEntry, error) {
	f, err := root.OpenFile(filepath.FromSlash(name), os.O_RDONLY|nonblock, 0)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	entries, err := f.ReadDir(-1)
	slices.SortFunc(entries, func(a, b fs.DirEntry) int { return cmp.Compare(a.Name(), b.Name()) })
	return entries, err
}

func ordinary(f *os.File, name string) (fs.FileInfo, error) {
	info, err := f.Stat()
	if err == nil && !info.Mode().IsRegular() {
		err = &fs.PathError{Op: "read", Path: name, Err: ErrNotOrdinary}
	}
	return info, err
}

// whole reads a file to its end and closes it.
func whole(f *os.File, name string, most int64) ([]byte, error) {
	defer f.Close()
	info, err := ordinary(f, name)
	if err != nil {
		return nil, err
	}
	tooLarge := &fs.PathError{Op: "read", Path: name, Err: fmt.Errorf("%w: at most %d bytes", ErrTooLarge, most)}
	if info.Size() > most {
		return nil, tooLarge
	}
	data := make([]byte, 0, info.Size()+1)
	for limited := io.LimitReader(f, most+1); ; { // it may grow while it is read
		n, err := limited.Read(data[len(data):cap(data)])
		data = data[:len(data)+n]
		switch {
		case int64(len(data)) > most:
			return nil, tooLarge
		case errors.Is(err, io.EOF):
			return data, nil
		case err != nil:
			return nil, err
		case len(data) == cap(data):
			data = append(data, 0)[:len(data)]
		}
	}
}
