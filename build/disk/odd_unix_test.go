//go:build unix

package disk

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
)

func pipe(name string) error { return syscall.Mkfifo(name, 0o644) }

// TestRefused: what the system says when it takes no write is told apart, with the file
// that it was about, however it is wrapped.
func TestRefused(t *testing.T) {
	for _, c := range []struct {
		err  error
		why  Refusal
		name string
	}{
		{&fs.PathError{Op: "open", Path: "kept/x", Err: syscall.EROFS}, ReadOnly, "kept/x"},
		{fmt.Errorf("nothing was written: %w", &os.LinkError{Op: "rename", Old: "a", New: "b", Err: syscall.EROFS}), ReadOnly, "b"},
		{&fs.PathError{Op: "open", Path: "x", Err: syscall.EACCES}, NotAllowed, "x"},
		{&fs.PathError{Op: "open", Path: "x", Err: syscall.EPERM}, NotAllowed, "x"},
		{&fs.PathError{Op: "write", Path: "x", Err: syscall.ENOSPC}, Full, "x"},
		{&fs.PathError{Op: "write", Path: "x", Err: syscall.EDQUOT}, Full, "x"},
		{&fs.PathError{Op: "open", Path: "x", Err: syscall.ENOENT}, "", ""},
		{errors.New("read-only"), "", ""},
	} {
		why, name, ok := Refused(c.err)
		assert.Equal(t, c.why, why, "%v", c.err)
		assert.Equal(t, c.name, name, "%v", c.err)
		assert.Equal(t, c.why != "", ok)
		if ok {
			assert.Contains(t, Advice(c.err), name)
		} else {
			assert.Empty(t, Advice(c.err))
		}
	}
	assert.Contains(t, Advice(syscall.EROFS), "read-only, so a file cannot be written")
}
