//go:build !linux

package disk

import "os"

func exchange(root *os.Root, tmp, target string) ([]byte, error) { return renamed(root, tmp, target) }
