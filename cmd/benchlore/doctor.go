package main

import (
	"encoding/json"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"benchlore/build/doctor"
)

func newDoctor() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "doctor [DIR]",
		Short: "Say what is wrong with a notebook or its set-up, and how to mend it",
		Long: `doctor looks at the files, the language, the folder and the search index, the meter,
open cases, pictures and version control of the notebook in DIR, and says of each
whether it is good, and how to mend it where it is not. It changes no file of yours.`,
		Example: "  benchlore doctor\n  benchlore doctor --json",
		Args:    atMost(1, "one folder"),
		RunE: func(c *cobra.Command, args []string) error {
			n, err := load(folder(args))
			if err != nil {
				return err
			}
			list := doctor.Examine(n, time.Now())
			out := c.OutOrStdout()
			if asJSON {
				enc := json.NewEncoder(out)
				enc.SetIndent("", "  ")
				err = enc.Encode(list)
			} else {
				signs := map[doctor.State]string{doctor.Good: "●", doctor.Worth: "◌", doctor.Wrong: "✕"}
				for _, f := range list {
					fmt.Fprintf(out, "%s %-12s  %s: %s\n", signs[f.State], f.State, f.What, safe(f.Says))
					if f.Mend != "" {
						fmt.Fprintf(out, "%17smend: %s\n", "", f.Mend)
					}
				}
				fmt.Fprintf(out, "benchlore %s\n", version())
			}
			if err == nil && doctor.Wrongs(list) > 0 {
				err = errSilent
			}
			return err
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}
