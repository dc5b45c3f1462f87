//go:build !unix

package notebook

import (
	"os"
	"path/filepath"
)

// statIn returns size and modification time (nanoseconds) of a file of an open
// folder, and whether it is an ordinary one.
func statIn(folder *os.File, name string) (size, mod int64, regular, ok bool) {
	info, err := os.Lstat(filepath.Join(folder.Name(), name))
	if err != nil {
		return 0, 0, false, false
	}
	return info.Size(), info.ModTime().UnixNano(), info.Mode().IsRegular(), true
}
