package main

import (
	"fmt"
	"os"
	"path/filepath"
	"time"

	"benchlore/build/output/outfile"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

func newManual() *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:         "manual --out DIR",
		Annotations: map[string]string{writes: "yes"},
		Short:       "Write the manual pages of all commands",
		Long: `manual writes a manual page (section 1) for each command to DIR, for man to read.
Put them where man looks, as in the second example.`,
		Example: `  benchlore manual --out pages
  benchlore manual --out ~/.local/share/man/man1`,
		Args: atMost(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			if out == "" {
				return usagef("--out is missing: the folder for the pages")
			}
			if err := outfile.Folder(out); err != nil {
				return usageError{err}
			}
			if err := os.MkdirAll(out, 0o755); err != nil {
				return err
			}
			root := c.Root()
			disableTime(root)
			// Equal programs write equal pages, whatever the day.
			day := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
			if err := doc.GenManTree(root,
				&doc.GenManHeader{Title: "BENCHLORE", Section: "1", Source: "benchlore", Manual: "benchlore",
					Date: &day}, out); err != nil {
				return err
			}
			pages, err := filepath.Glob(filepath.Join(out, "benchlore*.1"))
			if err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "%s: %s\n", out, plural(len(pages), "manual page", "manual pages"))
			return nil
		},
	}
	c.Flags().StringVar(&out, "out", "", "the folder for the pages")
	return c
}

// disableTime leaves out the line that says when a page was made.
func disableTime(c *cobra.Command) {
	c.DisableAutoGenTag = true
	for _, sub := range c.Commands() {
		disableTime(sub)
	}
}
