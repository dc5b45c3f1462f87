//go:build !unix

package disk

const nonblock, nofollow = 0, 0
