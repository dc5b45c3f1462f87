package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"benchlore/build/exchange"
	"benchlore/build/notebook"
)

func newImport() *cobra.Command {
	c := &cobra.Command{Use: "import", Short: "Bring in repairs from other sources", Args: exactly(1, "what to import (ords)"),
		RunE: func(_ *cobra.Command, args []string) error {
			return usagef("%q cannot be imported; ords can", args[0])
		}}
	c.AddCommand(newImportORDS())
	return c
}

func newImportORDS() *cobra.Command {
	var into string
	c := &cobra.Command{
		Use:   "ords FILE.csv --into DIR",
		Short: "Turn Open Repair Data Standard rows into cases",
		Long: `Each row of the CSV file becomes a case file in the notebook DIR, which is begun when
the folder is new. Rows that cannot be taken are named with their line and left
out; the exit code is then 1. Running it again changes nothing that is there.`,
		Example: "  benchlore import ords OpenRepairData.csv --into open-repairs",
		Args:    exactly(1, "the CSV file"),
		RunE: func(c *cobra.Command, args []string) error {
			if into == "" {
				return usagef("--into is missing: the notebook's folder")
			}
			f, err := os.Open(args[0])
			if err != nil {
				return usageError{err}
			}
			defer f.Close()
			if info, err := f.Stat(); err == nil && info.IsDir() {
				return usagef("%s is a folder; a CSV file is needed", args[0])
			}
			if _, err := notebook.Begin(into, filepath.Base(into), false); err != nil && !errors.Is(err, notebook.ErrNotEmpty) {
				return err
			}
			if _, err := os.Stat(filepath.Join(into, "notebook.yaml")); errors.Is(err, fs.ErrNotExist) {
				return usagef("%s holds files but no notebook.yaml; choose a notebook or a new folder", into)
			}
			n, err := load(into)
			if err != nil {
				return err
			}
			sum, err := exchange.ImportORDS(c.Context(), f, into, n.Terms, func(b exchange.BadRow) {
				fmt.Fprintf(c.ErrOrStderr(), "%s:%d: %s\n", args[0], b.Line, b.Reason)
			})
			if errors.Is(err, exchange.ErrNotORDS) {
				return usageError{err}
			}
			if err != nil {
				return err
			}
			printSummary(c, sum)
			if sum.Bad > 0 {
				return errSilent
			}
			return nil
		},
	}
	c.Flags().StringVar(&into, "into", "", "the notebook's folder")
	return c
}

func printSummary(c *cobra.Command, s exchange.Summary) {
	out := c.OutOrStdout()
	share := func(part, whole int) string {
		if whole == 0 {
			return ""
		}
		return fmt.Sprintf(" (%.1f %%)", 100*float64(part)/float64(whole))
	}
	fmt.Fprintf(out, "%d rows: %d written, %d there already, %d edited since and kept, %d left out\n", s.Rows, s.Written, s.Unchanged, s.Kept, s.Bad)
	taken := s.Rows - s.Bad
	fmt.Fprintf(out, "%d of %d rows taken got a symptom%s; with 20 characters of text or more, %d of %d%s\n",
		s.WithSymptom, taken, share(s.WithSymptom, taken), s.LongSymptom, s.LongText, share(s.LongSymptom, s.LongText))
}

func newExport() *cobra.Command {
	c := &cobra.Command{Use: "export", Short: "Give repairs out in other forms", Args: exactly(1, "what to export (ords)"),
		RunE: func(_ *cobra.Command, args []string) error {
			return usagef("%q cannot be exported to; ords can", args[0])
		}}
	c.AddCommand(newExportORDS())
	return c
}

func newExportORDS() *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:     "ords [DIR]",
		Short:   "Write closed cases as Open Repair Data Standard rows",
		Example: "  benchlore export ords bench-notes --out repairs.csv",
		Args:    atMost(1, "one folder"),
		RunE: func(c *cobra.Command, args []string) error {
			n, err := load(folder(args))
			if err != nil {
				return err
			}
			if n.Errors() > 0 {
				return fmt.Errorf("%s; mend the errors first, `benchlore check %s` names them", verdict(n), folder(args))
			}
			if out == "" {
				_, err := exchange.ExportORDS(c.OutOrStdout(), n)
				return err
			}
			var b bytes.Buffer
			rows, err := exchange.ExportORDS(&b, n)
			if err != nil {
				return err
			}
			if err := notebook.WriteFile(out, b.Bytes()); err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "%s: %d rows\n", out, rows)
			return nil
		},
	}
	c.Flags().StringVar(&out, "out", "", "the CSV file to write; standard output by default")
	return c
}
