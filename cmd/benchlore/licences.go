package main

import (
	_ "embed"
	"io"

	"github.com/spf13/cobra"
)

// notices are the licences of everything, data and fonts too, that is built into the program; a test writes
// them (go test ./cmd/benchlore -run Notices -update) and fails where they are out of date.
//
//go:embed notices.txt
var notices string

func newLicences() *cobra.Command {
	return &cobra.Command{
		Use:   "licences",
		Short: "The licences of what is built into this program",
		Long: `licences prints the notices of all third-party code that is built into this
program, each with its licence in full, and names the data of others that words and
phrases were taken from, with their terms.`,
		Example: `  benchlore licences
  benchlore licences > third-party.txt`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			_, err := io.WriteString(c.OutOrStdout(), notices)
			return err
		},
	}
}
