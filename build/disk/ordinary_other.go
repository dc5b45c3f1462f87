//go:build !unix

package disk

const nonblock = 0
