//go:build unix

package disk

import "syscall"

const (
	nonblock = syscall.O_NONBLOCK
	nofollow = syscall.O_NOFOLLOW
)
