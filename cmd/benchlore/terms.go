package main

import (
	"fmt"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"benchlore/schema/terms"
)

func newTerms() *cobra.Command {
	var dir string
	c := &cobra.Command{
		Use:     "terms [CLASS]",
		Short:   "List the controlled words and what they mean",
		Example: "  benchlore terms symptoms",
		Args:    atMost(1, "one class of words"),
		RunE: func(c *cobra.Command, args []string) error {
			n, err := load(dir)
			if err != nil {
				return err
			}
			classes := terms.Classes
			if len(args) > 0 {
				class := terms.Class(args[0])
				if !slices.Contains(classes, class) {
					var names []string
					for _, k := range classes {
						names = append(names, string(k))
					}
					return usagef("%q is not a class of words; they are %s", args[0], strings.Join(names, ", "))
				}
				classes = []terms.Class{class}
			}
			w := tabwriter.NewWriter(c.OutOrStdout(), 0, 0, 2, ' ', 0)
			for _, class := range classes {
				fmt.Fprintf(w, "%s\n", strings.ToUpper(string(class)))
				for _, t := range n.Terms.All(class) {
					fmt.Fprintf(w, "  %s\t%s\n", t.ID, safe(t.Meaning))
				}
			}
			return w.Flush()
		},
	}
	c.Flags().StringVar(&dir, "notebook", ".", "the notebook's folder, for its own words")
	return c
}
