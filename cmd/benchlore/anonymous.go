package main

import (
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"benchlore/build/notebook"
	"benchlore/build/output/pack"
)

// anonymousNotes are the notes of an anonymous pack as a notebook of their own, so that
// its pages are made from what the pack says and from nothing else. done removes them.
func anonymousNotes(c *cobra.Command, n *notebook.Notebook, o pack.Options) (notes *notebook.Notebook, done func(), err error) {
	dir, err := os.MkdirTemp("", "benchlore-anonymous-")
	if err != nil {
		return nil, nil, err
	}
	done = func() { os.RemoveAll(dir) }
	defer func() {
		if err != nil {
			done()
		}
	}()
	if err := pack.Notes(c.Context(), n, filepath.Join(dir, "notes"), o); err != nil {
		return nil, nil, err
	}
	notes, err = notebook.Load(filepath.Join(dir, "notes"))
	return notes, done, err
}
