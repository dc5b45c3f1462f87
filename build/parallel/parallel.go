// Package parallel does independent pieces of work on all processors.
package parallel

import (
	"runtime"

	"golang.org/x/sync/errgroup"
)

// Each calls work for 0 to n-1 on all processors and returns when all is done.
func Each(n int, work func(i int)) {
	var g errgroup.Group
	g.SetLimit(runtime.NumCPU())
	for i := range n {
		g.Go(func() error {
			work(i)
			return nil
		})
	}
	_ = g.Wait() // no work fails
}
