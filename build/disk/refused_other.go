//go:build !unix

package disk

import (
	"errors"
	"syscall"
)

// The numbers that Windows has for a medium that is write-protected and a full disk
// (System Error Codes 19, 39 and 112).
const (
	errorWriteProtect   = syscall.Errno(19)
	errorHandleDiskFull = syscall.Errno(39)
	errorDiskFull       = syscall.Errno(112)
)

func isReadOnly(err error) bool { return errors.Is(err, errorWriteProtect) }

func isFull(err error) bool {
	return errors.Is(err, errorDiskFull) || errors.Is(err, errorHandleDiskFull)
}
