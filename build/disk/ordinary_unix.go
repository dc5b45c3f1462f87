//go:build unix

package disk

import "syscall"

const nonblock = syscall.O_NONBLOCK
