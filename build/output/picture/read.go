package picture

import (
	"os"

	"benchlore/build/disk"
)

// Read gives a picture inside a folder as it is. One beyond [MaxBytes], and what is not an
// ordinary file, are refused.
func Read(root *os.Root, name string) ([]byte, error) { return disk.Ordinary(root, name, MaxBytes) }
