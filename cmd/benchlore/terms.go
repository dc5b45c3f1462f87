package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

func newTerms() *cobra.Command {
	var dir, said, tag string
	var asJSON bool
	c := &cobra.Command{
		Use:   "terms [CLASS [WORDS]]",
		Short: "List the controlled words, look one up, or say how a text is read",
		Long: `terms lists the controlled words and what they mean. With words behind a class it
looks up which of the class they mean, by meaning and not by spelling alone. With
--said it says what a text is read as: what is denied or asked for is marked so, and
a kind of device that is only inferred is said with how probable it is. It works in
any folder with the words that come with the program, and with a workshop's own in
its notebook.`,
		Example: `  benchlore terms symptoms
  benchlore terms faults blown
  benchlore terms --said "amp hums, no smoke" --json`,
		Args: cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error {
			v, err := wordsOf(dir, tag)
			if err != nil {
				return err
			}
			switch {
			case c.Flags().Changed("said") && len(args) > 0:
				return usagef("--said reads a text and takes no class of words")
			case c.Flags().Changed("said"):
				return printReading(c.OutOrStdout(), v, said, asJSON)
			case asJSON:
				return usagef("--json goes with --said")
			}
			classes := terms.Classes
			if len(args) > 0 {
				class := terms.Class(args[0])
				if !slices.Contains(classes, class) {
					return usagef("%q is not a class of words%s; they are %s", args[0],
						diagnostic.DidYouMean(terms.Nearest(args[0], classNames())), strings.Join(classNames(), ", "))
				}
				classes = []terms.Class{class}
			}
			if len(args) > 1 {
				return lookUp(c.OutOrStdout(), v, classes[0], strings.Join(args[1:], " "))
			}
			w := tabwriter.NewWriter(c.OutOrStdout(), 0, 0, 2, ' ', 0)
			for _, class := range classes {
				fmt.Fprintf(w, "%s\n", strings.ToUpper(string(class)))
				for _, t := range v.All(class) {
					fmt.Fprintf(w, "  %s\t%s\n", t.ID, safe(t.Meaning))
				}
			}
			return w.Flush()
		},
	}
	c.Flags().StringVar(&dir, "notebook", ".", "the notebook's folder, for its own words")
	c.Flags().StringVar(&said, "said", "", "a text to be read")
	c.Flags().StringVar(&tag, "language", "", "the language of the words, such as de; the notebook's unless given")
	c.Flags().BoolVar(&asJSON, "json", false, "print what was read as JSON")
	return c
}

func classNames() (names []string) {
	for _, k := range terms.Classes {
		names = append(names, string(k))
	}
	return names
}

// wordsOf gives the words of the notebook in a folder, or those that come with the
// program where it holds none or another language is asked for.
func wordsOf(dir, tag string) (*terms.Vocabulary, error) {
	if tag != "" {
		return terms.In(tag), nil
	}
	if _, err := os.Stat(filepath.Join(dir, "notebook.yaml")); errors.Is(err, os.ErrNotExist) {
		return terms.Builtin(), nil
	}
	n, err := load(dir)
	if err != nil {
		return nil, err
	}
	return n.Terms, nil
}

// lookUp prints the terms of a class that somebody may mean by some words.
func lookUp(out io.Writer, v *terms.Vocabulary, class terms.Class, words string) error {
	near := v.Suggest(class, words)
	if len(near) == 0 {
		return fmt.Errorf("no %s is like %q; `benchlore terms %s` lists them", class.Singular(), words, class)
	}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, t := range near {
		fmt.Fprintf(w, "  %s\t%s\t%s\n", t.ID, safe(t.Name), safe(t.Meaning))
	}
	return w.Flush()
}

// reading is a mention as JSON has it; an inferred one stands nowhere.
type reading struct {
	Class    terms.Class `json:"class"`
	ID       string      `json:"id"`
	Text     string      `json:"text,omitempty"`
	At       *[2]int     `json:"at,omitempty"` // bytes
	Negated  bool        `json:"negated"`
	Asked    bool        `json:"asked,omitempty"`
	Inferred float64     `json:"inferred,omitempty"`
}

// readings are mentions of a text as JSON has them.
func readings(found []terms.Mention, text string) []reading {
	list := []reading{}
	for _, m := range found {
		r := reading{Class: m.Class, ID: m.ID, Negated: m.Negated, Asked: m.Asked, Inferred: m.Inferred}
		if m.Inferred == 0 {
			r.Text, r.At = text[m.Start:m.Stop], &[2]int{m.Start, m.Stop}
		}
		list = append(list, r)
	}
	return list
}

func printReading(out io.Writer, v *terms.Vocabulary, text string, asJSON bool) error {
	list := readings(v.Read(text), text)
	if asJSON {
		return printAsJSON(out, struct {
			Read []reading `json:"read"`
		}{list})
	}
	if len(list) == 0 {
		return fmt.Errorf("nothing is understood of %q", text)
	}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, r := range list {
		how := fmt.Sprintf("%q", r.Text)
		switch {
		case r.Inferred > 0:
			how = fmt.Sprintf("perhaps, %.0f %%", 100*r.Inferred)
		case r.Negated:
			how += ", denied"
		case r.Asked:
			how += ", asked"
		}
		name := r.ID
		if t, ok := v.Lookup(r.Class, r.ID); ok {
			name = t.Name
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", r.Class.Singular(), r.ID, safe(name), safe(how))
	}
	return w.Flush()
}
