package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"benchlore/build/notebook"
	"benchlore/build/reason/boards"
	"benchlore/build/reason/pins"
	"benchlore/build/reason/rails"
	"benchlore/build/reason/verdict"
	"benchlore/schema/diagnostic"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// oneBoardOf loads the notebook and finds the device and the board that is meant, which
// must be said where several have files.
func oneBoardOf(dir, id, name string) (*notebook.Notebook, *notebook.Device, *notebook.Board, error) {
	n, d, err := deviceOf(dir, id)
	if err != nil {
		return nil, nil, nil, err
	}
	all, err := boardsOf(d, name)
	if err != nil {
		return nil, nil, nil, err
	}
	if len(all) > 1 {
		var names []string
		for _, b := range all {
			names = append(names, b.Name)
		}
		return nil, nil, nil, usagef("%s has the boards %s; say which with --board", d.ID, strings.Join(names, ", "))
	}
	return n, d, all[0], nil
}

func newBoardRails() *cobra.Command {
	var dir, name, from string
	var read []string
	var propose, asJSON bool
	c := &cobra.Command{
		Use:   "rails DEVICE",
		Short: "Which supply is made from which, and the first that fails",
		Long: `rails prints the supply tree of a board from the Rails table of its device's file.
Told what was measured, it says which rail is the first that fails, what follows
from it, and what to check there, without power first.`,
		Example: `  benchlore board rails uldra-n8
  benchlore board rails uldra-n8 --read VIN=12.1V --read +3V3=0.4V
  benchlore board rails uldra-n8 --case 2026-0010
  benchlore board rails tarnwick-a40 --propose`,
		Args: exactly(1, "one device"),
		RunE: func(c *cobra.Command, args []string) error {
			n, d, b, err := oneBoardOf(dir, args[0], name)
			if err != nil {
				return err
			}
			w := c.OutOrStdout()
			if propose {
				return printProposed(w, d, b)
			}
			tree := rails.Of(d, b)
			if len(tree.Rails) == 0 {
				return fmt.Errorf("devices/%s.md has no Rails table for %s; --propose writes one to begin with", d.ID, b.Name)
			}
			values, err := railReadings(n, &tree, from, read)
			if err != nil {
				return err
			}
			if err := tree.Judge(values); err != nil {
				var unknown *rails.UnknownRailError
				if errors.As(err, &unknown) {
					var names []string
					for i := range tree.Rails {
						names = append(names, tree.Rails[i].Name)
					}
					return usagef("%v%s", err, diagnostic.DidYouMean(terms.Nearest(unknown.Name, names)))
				}
				return err
			}
			if asJSON {
				e := json.NewEncoder(w)
				e.SetIndent("", "  ")
				return e.Encode(tree)
			}
			printRails(w, &tree, len(values) > 0)
			return nil
		},
	}
	notebookFlag(c, &dir)
	c.Flags().StringVar(&name, "board", "", "which board, where several have files")
	c.Flags().StringArrayVar(&read, "read", nil, "what was read, RAIL=VALUE; may be given several times")
	c.Flags().StringVar(&from, "case", "", "take the readings of this case")
	c.Flags().BoolVar(&propose, "propose", false, "print a table that the netlist suggests")
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}

// railReadings are those of a case and those that were given, which count more.
func railReadings(n *notebook.Notebook, tree *rails.Tree, id string, given []string) (map[string]quantity.Value, error) {
	out := map[string]quantity.Value{}
	if id != "" {
		k, ok := n.Case(id)
		if !ok {
			return nil, usagef("the notebook has no case %s", id)
		}
		for i := range k.File.Case.Measurements {
			m := &k.File.Case.Measurements[i]
			if m.Reading == nil || m.Reading.Unit != quantity.Volt || m.When == "after" {
				continue
			}
			for j := range tree.Rails {
				if strings.EqualFold(strings.TrimSpace(m.Point), tree.Rails[j].Name) {
					out[strings.ToLower(tree.Rails[j].Name)] = *m.Reading
				}
			}
		}
	}
	for _, text := range given {
		rail, value, ok := strings.Cut(text, "=")
		if !ok {
			return nil, usagef("--read is RAIL=VALUE, such as +3V3=0.4V, not %q", text)
		}
		v, err := quantity.ParseReading(strings.TrimSpace(value))
		if err != nil {
			return nil, usagef("--read %s: %v", text, err)
		}
		if v.Unit == quantity.None {
			v.Unit = quantity.Volt
		}
		rail = strings.TrimSpace(rail)
		delete(out, strings.ToLower(rail))
		out[rail] = v
	}
	return out, nil
}

func printRails(w io.Writer, t *rails.Tree, measured bool) {
	for i := range t.Rails {
		r := &t.Rails[i]
		fmt.Fprintf(w, "%s%s", strings.Repeat("  ", r.Depth), r.Name)
		if r.Volts != "" {
			fmt.Fprintf(w, "  %s", r.Volts)
		}
		if r.From != "" {
			fmt.Fprintf(w, "  from %s", r.From)
		}
		if r.By != "" {
			fmt.Fprintf(w, " by %s", r.By)
		}
		if r.Enable != "" {
			fmt.Fprintf(w, ", enabled by %s", r.Enable)
		}
		if r.Order > 0 {
			fmt.Fprintf(w, ", comes up %s", ordinal(r.Order))
		}
		if len(r.Consumers) > 0 {
			fmt.Fprintf(w, "; feeds %s", strings.Join(r.Consumers, ", "))
		}
		if measured {
			switch {
			case r.Read != "" && r.State == rails.Follows:
				fmt.Fprintf(w, "  [%s: %s, follows from %s]", r.Read, r.Verdict, r.From)
			case r.Read != "":
				fmt.Fprintf(w, "  [%s: %s]", r.Read, r.Verdict)
			case r.State == rails.Follows:
				fmt.Fprintf(w, "  [follows from %s]", r.From)
			default:
				fmt.Fprint(w, "  [not measured]")
			}
		}
		fmt.Fprintln(w)
	}
	if !measured {
		return
	}
	if t.First != "" {
		fmt.Fprintf(w, "\nFirst that fails: %s.\n", t.First)
	} else {
		fmt.Fprintln(w, "\nNo rail that was measured fails.")
	}
	if len(t.Next) > 0 {
		fmt.Fprintln(w, "Check next:")
	}
	for i, next := range t.Next {
		fmt.Fprintf(w, "  %d. %s\n", i+1, next)
	}
}

func ordinal(n int) string {
	suffix := "th"
	if n%100/10 != 1 {
		switch n % 10 {
		case 1:
			suffix = "st"
		case 2:
			suffix = "nd"
		case 3:
			suffix = "rd"
		}
	}
	return fmt.Sprintf("%d%s", n, suffix)
}

func printProposed(w io.Writer, d *notebook.Device, b *notebook.Board) error {
	list := rails.Propose(b)
	if len(list) == 0 {
		return fmt.Errorf("the netlist of %s names no supply", b.Name)
	}
	fmt.Fprintf(w, "## Rails\n\n| rail | from | by | enable | volts | diode | ohms | order |%s note |\n|---|---|---|---|---|---|---|---|%s---|\n",
		map[bool]string{true: " board |"}[len(d.Record.Device.Boards) > 1], map[bool]string{true: "---|"}[len(d.Record.Device.Boards) > 1])
	for _, p := range list {
		fmt.Fprintf(w, "| %s | %s | %s | | | | | |", p.Name, p.From, p.By)
		if len(d.Record.Device.Boards) > 1 {
			fmt.Fprintf(w, " %s |", b.Name)
		}
		fmt.Fprintln(w, " |")
	}
	fmt.Fprintf(w, "\nThe netlist tells no more. Put it into devices/%s.md and fill in what is empty.\n", d.ID)
	return nil
}

func newBoardPin() *cobra.Command {
	var dir, name string
	var asJSON bool
	c := &cobra.Command{
		Use:   "pin DEVICE PART[.PIN]",
		Short: "What was ever read at a pin, good beside bad",
		Long: `pin prints what good boards show at a pin, or at every pin of a part, and what boards
with a fault showed, the odd ones first. Readings come from cases and from the device's
reference sheet, wherever a point is written as a pin: J9.12.`,
		Example: "  benchlore board pin uldra-n8 U3.13\n  benchlore board pin uldra-n8 U4",
		Args:    exactly(2, "a device and a part or pin"),
		RunE: func(c *cobra.Command, args []string) error {
			n, d, b, err := oneBoardOf(dir, args[0], name)
			if err != nil {
				return err
			}
			p, pin, err := boards.FindPin(b.Board, args[1])
			if err != nil {
				return err
			}
			table := pins.Table{Ref: p.Ref, Rows: []pins.Row{}}
			for _, t := range pins.Tables(n, verdict.New(n), d, b) {
				if t.Ref != p.Ref {
					continue
				}
				for _, r := range t.Rows {
					if pin == nil || r.Pin == p.Ref+"."+pin.Name {
						table.Rows = append(table.Rows, r)
					}
				}
			}
			w := c.OutOrStdout()
			if asJSON {
				e := json.NewEncoder(w)
				e.SetIndent("", "  ")
				return e.Encode(table)
			}
			if pin != nil {
				net := "no net"
				if pin.Net >= 0 {
					net = "net " + b.Nets[pin.Net].Name
				}
				fmt.Fprintf(w, "%s.%s, %s, at %.2f, %.2f mm, %s side\n", p.Ref, pin.Name, net, pin.X, pin.Y, p.Side)
			}
			if len(table.Rows) == 0 {
				return fmt.Errorf("no case and no reference sheet has a reading at %s", args[1])
			}
			for _, r := range table.Rows {
				printPin(w, r)
			}
			return nil
		},
	}
	notebookFlag(c, &dir)
	c.Flags().StringVar(&name, "board", "", "which board, where several have files")
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}

func printPin(w io.Writer, r pins.Row) {
	mark := " "
	if r.Odd {
		mark = "!"
	}
	what := r.What
	if r.State != "" {
		what += ", " + r.State
	}
	fmt.Fprintf(w, "%s %s", mark, r.Pin)
	if r.Net != "" {
		fmt.Fprintf(w, " (%s)", r.Net)
	}
	fmt.Fprintf(w, ", %s\n", what)
	if r.Expected != "" {
		fmt.Fprintf(w, "    expected %s (reference sheet)\n", r.Expected)
	}
	switch {
	case r.Median != "" && r.Good > 1:
		fmt.Fprintf(w, "    good: median %s, %s to %s on %d boards\n", r.Median, r.Low, r.High, r.Good)
	case r.Median != "":
		fmt.Fprintf(w, "    good: %s on one board\n", r.Median)
	case r.Over:
		fmt.Fprintf(w, "    good: beyond the range on %s\n", plural(r.Good, "board", "boards"))
	}
	for _, o := range r.Others {
		said := o.Verdict
		if said == "" && o.Odd {
			said = "beyond what good boards show"
		}
		if said == "" {
			said = "not judged"
		}
		fmt.Fprintf(w, "    %s: %s, %s\n", o.Case, o.Read, said)
	}
}
