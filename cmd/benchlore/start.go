package main

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"

	"github.com/spf13/cobra"

	"benchlore/build/notebook"
)

func newStart() *cobra.Command {
	var name string
	var force bool
	c := &cobra.Command{
		Use:         "start DIR",
		Annotations: map[string]string{writes: "yes"},
		Short:       "Begin a notebook",
		Long: `start begins a notebook in DIR. A folder that holds files already is left alone
unless --force is given; even then nothing that exists is overwritten.`,
		Example: `  benchlore start bench-notes --name "Harbour Street Repairs"`,
		Args:    exactly(1, "the folder of the new notebook"),
		RunE: func(c *cobra.Command, args []string) error {
			dir := args[0]
			if name == "" && terminal(c.InOrStdin()) {
				var err error
				if name, err = newPrompt(c.Context(), c.InOrStdin(), c.ErrOrStderr()).line("Name of the workshop: "); err != nil {
					return err
				}
			}
			if name == "" {
				abs, err := filepath.Abs(dir)
				if err != nil {
					return err
				}
				name = filepath.Base(abs)
			}
			written, err := notebook.Begin(dir, name, force)
			if errors.Is(err, notebook.ErrNotEmpty) {
				return usagef("%w; --force begins a notebook there all the same and overwrites nothing", err)
			}
			if errors.Is(err, fs.ErrInvalid) {
				return usageError{err}
			}
			if err != nil {
				return err
			}
			for _, w := range written {
				fmt.Fprintln(c.OutOrStdout(), filepath.ToSlash(w))
			}
			fmt.Fprintf(c.OutOrStdout(),
				"the notebook %q is ready; next:\n  cd %s\n  benchlore writeup        # or benchlore bench --open, on a page\n  benchlore doctor         # what is still to be set up\n", name, shellQuote(dir))
			return nil
		},
	}
	c.Flags().StringVar(&name, "name", "", "name of the workshop; asked for on a terminal")
	c.Flags().BoolVar(&force, "force", false, "also in a folder that holds files")
	return c
}
