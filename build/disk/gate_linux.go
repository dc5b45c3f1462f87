package disk

import (
	"os"
	"path/filepath"

	"golang.org/x/sys/unix"
)

// exchange swaps two names in one step, so that what is displaced cannot be missed.
func exchange(root *os.Root, tmp, target string) ([]byte, error) {
	dir, err := root.Open(filepath.Dir(target))
	if err != nil {
		return nil, err
	}
	defer dir.Close()
	fd := int(dir.Fd())
	if err := unix.Renameat2(fd, filepath.Base(tmp), fd, filepath.Base(target), unix.RENAME_EXCHANGE); err != nil {
		return renamed(root, tmp, target) // nothing is there yet, or the disk cannot
	}
	return Ordinary(root, tmp, mostDisplaced)
}
