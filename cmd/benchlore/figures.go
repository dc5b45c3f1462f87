package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"benchlore/build/notebook"
	"benchlore/build/reason/figures"
	"benchlore/schema/terms"
)

func newFigures() *cobra.Command {
	var asJSON, others bool
	c := &cobra.Command{
		Use:     "figures [DIR]",
		Short:   "The workshop's figures: how much, how long, what came back",
		Example: "  benchlore figures\n  benchlore figures bench-notes --json",
		Args:    atMost(1, "one folder"),
		RunE: func(c *cobra.Command, args []string) error {
			n, err := loadBook(folder(args))
			if err != nil {
				return err
			}
			f := figures.Of(n)
			if others {
				f = figures.OfOthers(n)
			}
			if asJSON {
				return printAsJSON(c.OutOrStdout(), f)
			}
			if f.Theirs > 0 {
				fmt.Fprintf(c.OutOrStdout(), "our own alone; --others gives the figures of %d from other workshops\n", f.Theirs)
			}
			if f.Cases == 0 {
				fmt.Fprintln(c.OutOrStdout(), "0 cases; figures come with the first one, which `benchlore writeup` begins")
				return nil
			}
			printFigures(c.OutOrStdout(), n, f)
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	c.Flags().BoolVar(&others, "others", false, "of the cases that came from other workshops, in place of our own")
	return c
}

// widestBar is how long a bar of signs may be.
const widestBar = 50

// median is a dash where nobody noted minutes.
func median(t figures.Times) string {
	if t.N == 0 {
		return "-"
	}
	return fmt.Sprintf("%.0f", t.Median)
}

func printFigures(w io.Writer, n *notebook.Notebook, f figures.Figures) {
	const most = 12
	fmt.Fprintf(w, "%d cases, %d open", f.Cases, len(f.Open))
	if len(f.Open) > 0 {
		fmt.Fprintf(w, ": %s", strings.Join(f.Open[:min(most, len(f.Open))], ", "))
	}
	if f.NoCause > 0 {
		fmt.Fprintf(w, "; %d closed without a cause", f.NoCause)
	}
	recent, longest := f.Months[max(0, len(f.Months)-most):], 0
	for _, m := range recent {
		longest = max(longest, m.Opened)
	}
	each := max(1, (longest+widestBar-1)/widestBar)
	fmt.Fprintf(w, "\n\nmonth    opened  closed  each # is %s opened\n", plural(each, "case", "cases"))
	for _, m := range recent {
		fmt.Fprintf(w, "%-7s  %6d  %6d  %s\n", m.Month, m.Opened, m.Closed, strings.Repeat("#", (m.Opened+each-1)/each))
	}
	if k := f.FirstTime; k.Of > 0 {
		fmt.Fprintf(w, "\nright the first time: %d of %d of which it is known, %.0f %% (95 %% interval %.0f to %.0f %%); of %d fixed ones it is not\n", k.N, k.Of, 100*k.P, 100*k.Low, 100*k.High, f.FirstTimeUnknown)
	} else {
		fmt.Fprintf(w, "\nright the first time: unknown; no record says whether the device came back (followed:, or a case with returns:)\n")
	}
	r := f.Returns
	fmt.Fprintf(w, "came back: %d with the same fault, %d from our own work, %d unrelated, %d not known yet\n",
		r.SameFault, r.OwnWork, r.Unrelated, r.Open)
	fmt.Fprintf(w, "parts cost %.2f %s in %d cases that say\n", f.Cost, f.Currency, f.CostCases)
	fmt.Fprintf(w, "\nminutes, medians                 cases  diagnosis  repair\n")
	for _, k := range f.Times[:min(most, len(f.Times))] {
		fmt.Fprintf(w, "%-32s %5d  %9s  %6s\n", safe(k.Name), k.N, median(k.Diagnosis), median(k.Repair))
	}
	fmt.Fprintf(w, "\ncommonest causes by symptom\n")
	for _, s := range f.Symptoms[:min(most, len(f.Symptoms))] {
		var causes []string
		for _, c := range s.Causes[:min(3, len(s.Causes))] {
			causes = append(causes, fmt.Sprintf("%s (%d)", c.Name, c.N))
		}
		fmt.Fprintf(w, "%-28s %3d  %s\n", safe(s.Name), s.N, safe(strings.Join(causes, "; ")))
	}
	fmt.Fprintf(w, "\nparts used most\n")
	for _, p := range f.Parts[:min(most, len(f.Parts))] {
		fmt.Fprintf(w, "%-28s %3d\n", safe(p.Name), p.N)
	}
	if len(f.Short) > 0 {
		fmt.Fprintf(w, "\nspare parts that run out       left  device\n")
		for _, p := range f.Short[:min(most, len(f.Short))] {
			fmt.Fprintf(w, "%-30s %4d  %s\n", safe(p.Part), p.Left, safe(strings.TrimSuffix(p.Device+", "+p.From, ", ")))
		}
	}
	fmt.Fprintf(w, "\nhow repairs hold                 repairs  watched  came back  holds\n")
	for _, h := range f.Holds {
		if h.Watched == 0 {
			continue
		}
		name := n.Terms.Name(terms.Fault, h.ID)
		if h.By == "action" {
			name = n.Terms.Name(terms.Action, h.ID)
		}
		says := "none came back while watched"
		if k := len(h.Curve); k > 0 {
			p := h.Curve[k-1]
			says = fmt.Sprintf("%.0f %% beyond %.0f days (95 %% interval %.0f to %.0f %%)", 100*p.Holds, p.Days, 100*p.Low, 100*p.High)
		}
		if h.Watched < 5 {
			says += ", small numbers"
		}
		fmt.Fprintf(w, "%-32s %7d  %7d  %9d  %s\n", safe(h.By+": "+name), h.Repairs, h.Watched, h.Returned, says)
	}
}
