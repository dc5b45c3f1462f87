package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"benchlore/build/learn/practice"
	"benchlore/build/notebook"
	"benchlore/build/reason/rules"
	"benchlore/schema/diagnostic"
)

func newCheck() *cobra.Command {
	var format string
	var teach bool
	c := &cobra.Command{
		Use:   "check [DIR]",
		Short: "Name every problem of a notebook, with its place",
		Long: `check reads every file of the notebook in DIR (the current folder by default) and
names each problem with file, line and column. It changes nothing. With --teach it
also says what each closed case lacks to be practised blind.`,
		Example: "  benchlore check\n  benchlore check bench-notes --format sarif > report.sarif\n  benchlore check --teach",
		Args:    atMost(1, "one folder"),
		RunE: func(c *cobra.Command, args []string) error {
			n, err := loadJudged(folder(args))
			if err != nil {
				return err
			}
			out := c.OutOrStdout()
			fit := ""
			if teach {
				fit = addTeaching(n)
			}
			switch format {
			case "json":
				err = diagnostic.WriteJSON(out, n.Problems)
			case "sarif":
				err = diagnostic.WriteSARIF(out, n.Problems, version())
			case "text":
				err = diagnostic.WriteText(out, n.Problems)
				if err == nil {
					_, err = fmt.Fprintln(out, overall(n)+fit)
				}
			default:
				return usagef("--format is text, json or sarif, not %q", format)
			}
			if err == nil && n.Errors() > 0 {
				err = errSilent
			}
			return err
		},
	}
	c.Flags().BoolVar(&teach, "teach", false, "also say what each closed case lacks for practice")
	c.Flags().StringVar(&format, "format", "text", "text, json or sarif (SARIF 2.1.0)")
	return c
}

// addTeaching notes what each closed case lacks to be an exercise, and says how
// many lack nothing.
func addTeaching(n *notebook.Notebook) string {
	book := practice.New(n, nil, nil)
	closed := practice.Closed(n)
	fit := 0
	for _, c := range closed {
		lacks := book.Lacks(c)
		if len(lacks) == 0 {
			fit++
			continue
		}
		n.Problems = append(n.Problems, c.Say(diagnostic.Note, diagnostic.Teach,
			"for practice it lacks "+strings.Join(lacks, "; "), "case"))
	}
	diagnostic.Sort(n.Problems)
	return fmt.Sprintf("; %d of %s fit for practice", fit, plural(len(closed), "closed case", "closed cases"))
}

// load reads a notebook; a folder that is not there is a mistake of usage.
func load(dir string) (*notebook.Notebook, error) {
	n, err := notebook.Load(dir)
	if err != nil {
		return nil, usageError{err}
	}
	return n, nil
}

// loadBook reads a notebook that is one: a folder with notebook.yaml or a case.
func loadBook(dir string) (*notebook.Notebook, error) {
	n, err := load(dir)
	if err == nil {
		err = n.Exists()
	}
	if err != nil {
		return nil, usageError{err}
	}
	return n, nil
}

// loadJudged reads a notebook with what every rule says of it.
func loadJudged(dir string) (*notebook.Notebook, error) {
	n, err := load(dir)
	if err != nil {
		return nil, err
	}
	n.Problems = rules.Of(n)
	return n, nil
}

func overall(n *notebook.Notebook) string {
	count := func(k int, word string) string {
		if k != 1 {
			word += "s"
		}
		return fmt.Sprintf("%d %s", k, word)
	}
	parts := []string{count(len(n.Cases), "case") + " and " + count(len(n.Devices), "device") + " read"}
	for _, s := range []diagnostic.Severity{diagnostic.Error, diagnostic.Warning, diagnostic.Note} {
		if k := diagnostic.Count(n.Problems, s); k > 0 {
			parts = append(parts, count(k, s.String()))
		}
	}
	if len(n.Problems) == 0 {
		parts = append(parts, "no problem found")
	}
	return strings.Join(parts, ", ")
}
