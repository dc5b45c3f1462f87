package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"benchlore/build/notebook"
	"benchlore/build/output/exchange"
	"benchlore/build/output/outfile"
	"benchlore/build/output/pack"
	"benchlore/build/output/site"
	"benchlore/build/reason/verdict"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

func newImport() *cobra.Command {
	c := &cobra.Command{Use: "import", Short: "Bring in repairs from other sources",
		Example: "  benchlore import ords OpenRepairData.csv --into open-repairs", Args: exactly(1, "what to import (ords)"),
		RunE: func(_ *cobra.Command, args []string) error {
			return usagef("%q cannot be imported; ords can", args[0])
		}}
	c.AddCommand(newImportORDS())
	return c
}

func newImportORDS() *cobra.Command {
	var into, personal string
	var o exchange.Options
	c := &cobra.Command{
		Use:         "ords FILE.csv --into DIR",
		Annotations: map[string]string{writes: "yes"},
		Short:       "Turn Open Repair Data Standard rows into cases",
		Long: `Each row of the CSV file becomes a case file in the notebook DIR, which is begun when
the folder is new. Rows that cannot be taken are named with their line and left
out; the exit code is then 1. Running it again changes nothing that is there.
Rows with a text that looks like personal data are named; --personal leave-out or
blank says what becomes of them, and otherwise they stop publishing later. Say whose
data it is with --credit and --licence: both go onto every page and into exports.
Symptoms are read from the text and marked as guessed, on pages too; --guess none
leaves them out.`,
		Example: `  benchlore import ords OpenRepairData.csv --into open-repairs \
    --credit "data of the Open Repair Alliance" --licence "CC BY-SA 4.0" --personal blank`,
		Args: exactly(1, "the CSV file"),
		RunE: func(c *cobra.Command, args []string) error {
			if into == "" {
				return usagef("--into is missing: the notebook's folder")
			}
			switch exchange.Personal(personal) {
			case exchange.KeepPersonal, exchange.LeaveOut, exchange.BlankPersonal:
			default:
				return usagef("--personal is keep, leave-out or blank, not %q", personal)
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
			if o.Guess != exchange.GuessSymptoms && o.Guess != exchange.GuessNone {
				return usagef("--guess is symptoms or none, not %q", o.Guess)
			}
			o.Personal = exchange.Personal(personal)
			o.Told = func(line int, kind string) {
				if o.Personal == exchange.KeepPersonal {
					fmt.Fprintf(c.ErrOrStderr(), "%s:%d: this may hold a customer's %s\n", args[0], line, kind)
				}
			}
			sum, err := exchange.ImportORDS(c.Context(), f, into, n.Terms, o, func(b exchange.BadRow) {
				fmt.Fprintf(c.ErrOrStderr(), "%s:%d: %s\n", args[0], b.Line, b.Reason)
			})
			if errors.Is(err, exchange.ErrNotORDS) {
				return usageError{err}
			}
			if err != nil {
				return err
			}
			printSummary(c, sum, o.Personal)
			if sum.Bad > 0 {
				return errSilent
			}
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&into, "into", "", "the notebook's folder")
	f.StringVar(&o.Credit, "credit", "", "whose data it is; each row's provider by default")
	f.StringVar(&o.Guess, "guess", exchange.GuessSymptoms, "what is read from the text and marked as guessed: symptoms or none")
	f.StringVar(&o.Licence, "licence", "", "the licence that the data is under")
	f.StringVar(&personal, "personal", string(exchange.KeepPersonal),
		"rows with a text that looks like personal data: keep, leave-out or blank")
	return c
}

func printSummary(c *cobra.Command, s exchange.Summary, personal exchange.Personal) {
	out := c.OutOrStdout()
	share := func(part, whole int) string {
		if whole == 0 {
			return ""
		}
		return fmt.Sprintf(" (%.1f %%)", 100*float64(part)/float64(whole))
	}
	fmt.Fprintf(out, "%d rows: %d written, %d there already, %d edited since and kept, %d left out\n", s.Rows,
		s.Written, s.Unchanged, s.Kept, s.Bad)
	if s.Personal > 0 {
		fmt.Fprintf(out, "%s a text that looks like personal data", plural(s.Personal, "row has", "rows have"))
		switch {
		case s.LeftOut == s.Personal:
			fmt.Fprintln(out, ": left out")
		case personal == exchange.BlankPersonal:
			fmt.Fprintf(out, ": blanked in %d, left out %d\n", s.Personal-s.LeftOut, s.LeftOut)
		default:
			fmt.Fprintln(out, ", and stops publishing until that is mended; import again with --personal blank or --personal leave-out")
		}
	}
	taken := s.Rows - s.Bad
	fmt.Fprintf(out, "%d of %d rows taken got a symptom%s; with 20 characters of text or more, %d of %d%s\n",
		s.WithSymptom, taken, share(s.WithSymptom, taken), s.LongSymptom, s.LongText, share(s.LongSymptom, s.LongText))
}

func newExport() *cobra.Command {
	kinds := []string{"ords", "json", "csv", "ndjson", "site", "sheet"}
	c := &cobra.Command{Use: "export", Short: "Give repairs out in other forms",
		Args:    exactly(1, "what to export ("+strings.Join(kinds, ", ")+")"),
		Example: "  benchlore export csv bench-notes --out cases.csv\n  benchlore export sheet 2026-0013 --out sheet.html",
		RunE: func(_ *cobra.Command, args []string) error {
			return usagef("%q cannot be exported to%s", args[0], diagnostic.DidYouMean(terms.Nearest(args[0], kinds)))
		}}
	c.AddCommand(newExportORDS(), newExportCases("json", "Write every case as JSON, readings judged", exchange.ExportJSON),
		newExportCases("csv", "Write every case as a row of a table, readings judged", exchange.ExportCSV),
		newExportCases("ndjson", "Write every case for bulk loading into a search engine", exchange.ExportNDJSON),
		newExportSite(), newExportSheet())
	return c
}

// newExportCases makes the command for one form of all cases.
func newExportCases(form, short string, write func(io.Writer, *notebook.Notebook, *verdict.Judge) error) *cobra.Command {
	var out string
	var replace bool
	c := &cobra.Command{
		Use:         form + " [DIR]",
		Annotations: map[string]string{writes: "yes"},
		Short:       short,
		Example:     "  benchlore export " + form + " bench-notes --out cases." + form,
		Args:        atMost(1, "one folder"),
		RunE: func(c *cobra.Command, args []string) error {
			n, err := loadSound(folder(args))
			if err != nil {
				return err
			}
			j := verdict.New(n)
			if out == "" {
				return write(c.OutOrStdout(), n, j)
			}
			mapping := strings.TrimSuffix(out, filepath.Ext(out)) + ".mapping.json"
			if err := allowed(out, replace); err != nil {
				return err
			}
			if err := allowed(mapping, replace); form == "ndjson" && err != nil {
				return err
			}
			if err := writeWhole(c.Context(), out, func(w io.Writer) error { return write(w, n, j) }); err != nil {
				return err
			}
			outfile.Note(out)
			fmt.Fprintf(c.OutOrStdout(), "%s: %s\n", out, plural(len(n.Cases), "case", "cases"))
			if form != "ndjson" {
				return nil
			}
			fmt.Fprintf(c.OutOrStdout(), "%s: what the search engine is told of the fields\n", mapping)
			return writeOut(mapping, exchange.Mapping(), true)
		},
	}
	c.Flags().StringVar(&out, "out", "", "the file to write; standard output by default")
	replaceFlag(c, &replace)
	return c
}

// loadSound loads a notebook that has no error and nothing that looks like
// personal data.
func loadSound(dir string) (*notebook.Notebook, error) {
	n, err := loadJudged(dir)
	if err != nil {
		return nil, err
	}
	if err := n.Exists(); err != nil {
		return nil, usageError{err}
	}
	if n.Errors() > 0 {
		return nil, fmt.Errorf("%s; mend the errors first, `benchlore check %s` names them", overall(n), dir)
	}
	return n, nil
}

func newExportSite() *cobra.Command {
	var out string
	var replace bool
	c := &cobra.Command{
		Use:         "site [DIR] --out FILE",
		Annotations: map[string]string{writes: "yes"},
		Short:       "Write the published site as one ZIP archive",
		Example:     "  benchlore export site bench-notes --out site.zip",
		Args:        atMost(1, "one folder"),
		RunE: func(c *cobra.Command, args []string) error {
			if out == "" {
				return usagef("--out is missing: the file to write, such as site.zip")
			}
			if err := allowed(out, replace); err != nil {
				return err
			}
			n, err := loadSound(folder(args))
			if err != nil {
				return err
			}
			pages, err := os.MkdirTemp("", "benchlore-site-")
			if err != nil {
				return err
			}
			defer os.RemoveAll(pages)
			if _, err := site.Publish(c.Context(), n, pages, site.Options{}); err != nil {
				return err
			}
			files := 0
			err = writeWhole(c.Context(), out, func(w io.Writer) (err error) {
				files, err = pack.Archive(c.Context(), w, pages)
				return err
			})
			if err != nil {
				return err
			}
			outfile.Note(out)
			fmt.Fprintf(c.OutOrStdout(), "%s: %s\n", out, plural(files, "file", "files"))
			return nil
		},
	}
	c.Flags().StringVar(&out, "out", "", "the file to write")
	replaceFlag(c, &replace)
	return c
}

func newExportSheet() *cobra.Command {
	var dir, out string
	var replace bool
	c := &cobra.Command{
		Use:         "sheet CASE --out FILE.html",
		Annotations: map[string]string{writes: "yes"},
		Short:       "Write one case as a page to print, with its pictures in it",
		Example:     "  benchlore export sheet 2026-0013 --out sheet.html",
		Args:        exactly(1, "a case"),
		RunE: func(c *cobra.Command, args []string) error {
			if !strings.HasSuffix(strings.ToLower(out), ".html") {
				return usagef("--out names the page to write, FILE.html, not %q", out)
			}
			n, err := load(dir)
			if err != nil {
				return err
			}
			found, ok := n.Case(args[0])
			if !ok {
				return noCase(n, args[0])
			}
			for _, p := range n.Problems {
				if p.Rule == diagnostic.PersonalData && onSheet(found, p.File) {
					return fmt.Errorf("%s; nothing was written", p)
				}
			}
			page, err := site.CaseSheet(n, found)
			if err != nil {
				return err
			}
			if err := writeOut(out, page, replace); err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "%s: print it from a browser\n", out)
			return nil
		},
	}
	notebookFlag(c, &dir)
	c.Flags().StringVar(&out, "out", "", "the page to write")
	replaceFlag(c, &replace)
	return c
}

// onSheet reports whether words of a file may stand on the sheet of a case: its own,
// its drawings', the notebook's and the terms'.
func onSheet(c *notebook.Case, file string) bool {
	root, ok := strings.CutSuffix(c.Text.Name, c.Path)
	name, under := strings.CutPrefix(file, root)
	return !ok || !under || name == c.Path || path.Dir(name) == c.PhotoDir() || name == "notebook.yaml" || strings.HasPrefix(name, "terms/")
}

func newExportORDS() *cobra.Command {
	var out string
	var replace bool
	var safe bool
	c := &cobra.Command{
		Use:         "ords [DIR]",
		Annotations: map[string]string{writes: "yes"},
		Short:       "Write closed cases as Open Repair Data Standard rows",
		Long: `Each closed case becomes a row, its text exactly as it stands in the case, as readers
of the standard expect. A spreadsheet takes a text that begins with =, +, - or @ for a
formula: --safe-cells puts an apostrophe before each such text, for rows that are opened
in one. Rows with it are read back with the apostrophe.`,
		Example: "  benchlore export ords bench-notes --out repairs.csv",
		Args:    atMost(1, "one folder"),
		RunE: func(c *cobra.Command, args []string) error {
			n, err := load(folder(args))
			if err != nil {
				return err
			}
			if n.Errors() > 0 {
				return fmt.Errorf("%s; mend the errors first, `benchlore check %s` names them", overall(n), folder(args))
			}
			if out == "" {
				_, err := exchange.ExportORDS(c.OutOrStdout(), n, safe)
				return err
			}
			var b bytes.Buffer
			rows, err := exchange.ExportORDS(&b, n, safe)
			if err != nil {
				return err
			}
			if err := writeOut(out, b.Bytes(), replace); err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "%s: %d rows\n", out, rows)
			return nil
		},
	}
	c.Flags().StringVar(&out, "out", "", "the CSV file to write; standard output by default")
	replaceFlag(c, &replace)
	c.Flags().BoolVar(&safe, "safe-cells", false, "put an apostrophe before what a spreadsheet would take for a formula")
	return c
}
