//go:build unix

package bench

import "syscall"

// errFull is what a full disk answers.
var errFull error = syscall.ENOSPC
