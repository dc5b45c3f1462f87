//go:build unix

package editor

import "syscall"

// errFull is what a full disk answers.
var errFull error = syscall.ENOSPC
