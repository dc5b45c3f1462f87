package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"benchlore/build/notebook"
	"benchlore/build/output/wording"
	"benchlore/build/reason/similar"
	"benchlore/build/reason/verdict"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

func newSimilar() *cobra.Command {
	var dir string
	var asJSON bool
	limit := 5
	c := &cobra.Command{
		Use:     "similar CASE",
		Short:   "Show past cases like one, and why",
		Example: "  benchlore similar 2026-0017\n  benchlore similar 2026-0017 --json -n 10",
		Args:    exactly(1, "the case's id"),
		RunE: func(c *cobra.Command, args []string) error {
			if limit < 1 {
				return usagef("-n is how many cases to show, 1 or more, not %d", limit)
			}
			n, err := loadBook(dir)
			if err != nil {
				return err
			}
			one, ok := n.Case(args[0])
			if !ok {
				return noCase(n, args[0])
			}
			list := similar.New(n, verdict.New(n)).Of(one, limit)
			if asJSON {
				type hit struct {
					Case  string   `json:"case"`
					Score float64  `json:"score"`
					Why   []string `json:"why"`
				}
				out := struct {
					Case    string `json:"case"`
					Similar []hit  `json:"similar"`
				}{one.ID(), []hit{}}
				for _, nb := range list {
					out.Similar = append(out.Similar, hit{nb.Case.ID(), nb.Score, nb.Why})
				}
				err = printAsJSON(c.OutOrStdout(), out)
			} else {
				for _, nb := range list {
					fmt.Fprintf(c.OutOrStdout(), "%s  %s\n    %s\n    %s\n", nb.Case.ID(),
						safe(nb.Case.File.Case.Title), safe(nb.Case.Device.Name(n.Terms)), safe(strings.Join(nb.Why, "; ")))
				}
				if len(list) == 0 {
					fmt.Fprintln(c.OutOrStdout(), wording.In(n.Config.Language).Say("no past case is like %s", one.ID()))
				}
			}
			if err == nil && len(list) == 0 {
				return errSilent
			}
			return err
		},
	}
	f := c.Flags()
	f.StringVar(&dir, "notebook", ".", "the notebook's folder")
	f.IntVarP(&limit, "limit", "n", limit, "how many cases to show")
	f.BoolVar(&asJSON, "json", false, "print JSON")
	return c
}

// noCase says that there is no such case, and which is nearest.
func noCase(n *notebook.Notebook, id string) error {
	var ids []string
	for _, k := range n.Cases {
		ids = append(ids, k.ID())
	}
	return usagef("the notebook holds no case %q%s", id, diagnostic.DidYouMean(terms.Nearest(id, ids)))
}
