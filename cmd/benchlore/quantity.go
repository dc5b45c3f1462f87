package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"benchlore/schema/diagnostic"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

func printAsJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// pointAt shows where a text could not be read.
func pointAt(w io.Writer, err error) {
	var bad *quantity.Error
	if !errors.As(err, &bad) || utf8.RuneCountInString(bad.Text) > 100 {
		return
	}
	fmt.Fprintf(w, "  %s\n  %s^\n", safe(bad.Text), strings.Repeat(" ", utf8.RuneCountInString(bad.Text[:bad.Offset])))
}

func newValue() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "value TEXT...",
		Short: "Say what a value or marking may mean",
		Long: `value reads a value, a specification or a marking in every way that repairers and
makers write them, and prints all that it may mean, the likeliest first. Put --
before a text that begins with a dash.`,
		Example: "  benchlore value 4k7\n  benchlore value 104K\n  benchlore value 100 nF 16 V X7R 0402\n  benchlore value brown black red gold",
		RunE: func(c *cobra.Command, args []string) error {
			text := strings.Join(args, " ")
			if strings.TrimSpace(text) == "" {
				return usagef("say what to read, as in `benchlore value 4k7`")
			}
			readings, err := quantity.Read(text)
			if err != nil {
				pointAt(c.ErrOrStderr(), err)
				return err
			}
			if asJSON {
				return printAsJSON(c.OutOrStdout(), struct {
					Input    string             `json:"input"`
					Readings []quantity.Reading `json:"readings"`
				}{text, readings})
			}
			printReadings(c.OutOrStdout(), readings)
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}

func printReadings(w io.Writer, readings []quantity.Reading) {
	for i, r := range readings {
		if i > 0 {
			fmt.Fprintln(w)
		}
		line := r.Value
		if r.Tolerance != "" {
			line += " " + r.Tolerance
		}
		fmt.Fprintf(w, "%s  (%s; %s)\n", line, r.Kind, r.Source)
		if r.Reason != "" {
			fmt.Fprintf(w, "    %s\n", r.Reason)
		}
		var names []string
		for name := range r.Conditions {
			names = append(names, name)
		}
		slices.Sort(names)
		for _, name := range names {
			extra := ""
			if p, ok := quantity.FindPackage(r.Conditions[name]); ok && name == "package" {
				extra = ", " + p.Size()
				if p.Warning != "" {
					extra += "; " + p.Warning
				}
			}
			fmt.Fprintf(w, "    %s: %s%s\n", name, r.Conditions[name], extra)
		}
		if r.Nearest != nil {
			standard := "not a standard value"
			if r.Standard != "" {
				standard = "standard from " + r.Standard + " on"
			}
			fmt.Fprintf(w, "    %s; nearest: E6 %s, E12 %s, E24 %s, E96 %s\n", standard, r.Nearest["E6"],
				r.Nearest["E12"], r.Nearest["E24"], r.Nearest["E96"])
		}
		if r.Warning != "" {
			fmt.Fprintf(w, "    careful: %s\n", r.Warning)
		}
	}
}

func newSwap() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "swap OLD NEW",
		Short: "Say whether one part may stand in for another",
		Long: `swap compares what is stated of two parts, rule by rule. It judges what it is told:
read both data sheets.`,
		Example: `  benchlore swap "100 nF 16 V X7R 0402" "100 nF 25 V X7R 0402"
  benchlore swap "fuse 2 A 32 V fast" "fuse 3 A 32 V fast"`,
		Args: exactly(2, "two parts, each in quotes"),
		RunE: func(c *cobra.Command, args []string) error {
			r, err := quantity.Swap(args[0], args[1], nil)
			if err != nil {
				pointAt(c.ErrOrStderr(), err)
				return err
			}
			if asJSON {
				err = printAsJSON(c.OutOrStdout(), r)
			} else {
				out := c.OutOrStdout()
				fmt.Fprintln(out, r.Verdict.Words())
				for _, reason := range r.Reasons {
					fmt.Fprintf(out, "  %-20s %s [%s]\n", reason.Says.Words()+":", safe(reason.Text), reason.Rule)
				}
			}
			return err
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}

func newReckon() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "reckon [FORMULA key=value...]",
		Short: "Work out a bench formula, with its working and source",
		Long:  "reckon without a formula lists them all.",
		Example: `  benchlore reckon
  benchlore reckon corner-rc r=4k7 c=47n
  benchlore reckon discharge c=220u v=400 r=2k2`,
		RunE: func(c *cobra.Command, args []string) error {
			out := c.OutOrStdout()
			if len(args) == 0 {
				return listFormulas(out, asJSON)
			}
			f, ok := quantity.FindFormula(args[0])
			if !ok {
				var names []string
				for _, f := range quantity.Formulas() {
					names = append(names, f.Name)
				}
				return usagef("there is no formula %q%s; `benchlore reckon` lists them", args[0],
					diagnostic.DidYouMean(terms.Nearest(args[0], names)))
			}
			var given []quantity.Given
			for _, arg := range args[1:] {
				key, value, ok := strings.Cut(arg, "=")
				if !ok {
					return usagef("%q is not key=value; %s takes %s", arg, f.Name, inputWords(f))
				}
				given = append(given, quantity.Given{Key: key, Text: value})
			}
			r, err := quantity.Reckon(f, given)
			if err != nil {
				pointAt(c.ErrOrStderr(), err)
				return usageError{err}
			}
			if asJSON {
				return printAsJSON(out, r)
			}
			printReckoning(out, f, r)
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}

func inputWords(f quantity.Formula) string {
	var words []string
	for _, in := range f.Inputs {
		w := in.Key
		if in.Default != "" || in.Optional {
			w = "[" + w + "]"
		}
		words = append(words, w)
	}
	return strings.Join(words, " ")
}

func listFormulas(w io.Writer, asJSON bool) error {
	if asJSON {
		return printAsJSON(w, quantity.Formulas())
	}
	for _, f := range quantity.Formulas() {
		fmt.Fprintf(w, "%-18s %s: %s\n", f.Name, f.Title, inputWords(f))
	}
	return nil
}

func printReckoning(w io.Writer, f quantity.Formula, r quantity.Reckoning) {
	fmt.Fprintln(w, r.Title)
	for _, in := range f.Inputs {
		if text, ok := r.Inputs[in.Key]; ok {
			fmt.Fprintf(w, "    %s = %s  (%s)\n", in.Key, text, in.Name)
		}
	}
	for i, result := range r.Results {
		fmt.Fprintf(w, "%s: %s\n    %s\n", result.Name, result.Value, r.Working[i])
	}
	fmt.Fprintf(w, "source: %s\nvalid: %s\n", r.Source, r.Valid)
	for _, caution := range r.Cautions {
		fmt.Fprintf(w, "caution: %s\n", caution)
	}
}
