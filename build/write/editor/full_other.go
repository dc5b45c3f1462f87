//go:build !unix

package editor

import "errors"

// errFull is what a full disk answers; here it is not told apart.
var errFull = errors.New("no space left")
