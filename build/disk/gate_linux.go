package disk

import (
	"errors"
	"io/fs"
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
	for {
		err := unix.Renameat2(fd, filepath.Base(tmp), fd, filepath.Base(target), unix.RENAME_EXCHANGE)
		if err == nil {
			return Ordinary(root, tmp, mostDisplaced)
		}
		if !errors.Is(err, fs.ErrNotExist) {
			return renamed(root, tmp, target) // the disk cannot
		}
		// Nothing is there yet; what comes into being meanwhile is exchanged after all.
		err = root.Link(tmp, target)
		if err == nil {
			return nil, nil
		}
		if !errors.Is(err, fs.ErrExist) {
			return renamed(root, tmp, target)
		}
	}
}
