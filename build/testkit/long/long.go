// Package long says whether the tests that take long run in full: every page at every
// width, every kill, every language. BENCHLORE_LONG=1 asks for them;
// without it a test takes a part of the same, so that all run within minutes. Only tests
// import it.
package long

import "os"

// Run reports whether BENCHLORE_LONG is set.
func Run() bool { return os.Getenv("BENCHLORE_LONG") != "" }

// Or gives whole where BENCHLORE_LONG is set, and part elsewhere.
func Or[T any](whole, part T) T {
	if Run() {
		return whole
	}
	return part
}
