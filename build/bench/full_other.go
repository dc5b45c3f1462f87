//go:build !unix

package bench

import "errors"

// errFull is what a full disk answers; here it is not told apart.
var errFull = errors.New("no space left")
