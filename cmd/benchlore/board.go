package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"benchlore/build/notebook"
	"benchlore/build/reason/boards"
	"benchlore/build/write/editor"
	"benchlore/schema/board"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

func newBoard() *cobra.Command {
	c := &cobra.Command{
		Use:   "board",
		Short: "Parts, nets and places of a device's boards",
		Long: `board reads a board's parts list and netlist into the notebook, and answers from
them: what a designator is and does, what a net loses without a part, and what a
slip of the tool would hit.`,
		Example: `  benchlore board add aldermoor-hb4 --parts main.csv --netlist main.ipc
  benchlore board show aldermoor-hb4 C341
  benchlore board near aldermoor-hb4 "display plug"`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return nil
			}
			var names []string
			for _, sub := range c.Commands() {
				names = append(names, sub.Name())
			}
			return usagef("there is no command \"board %s\"%s", args[0], diagnostic.DidYouMean(terms.Nearest(args[0], names)))
		},
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newBoardAdd(), newBoardShow(), newBoardNear(), newBoardFill(), newBoardPin(), newBoardRails())
	return c
}

// deviceOf loads the notebook and finds the device, which must have a file.
func deviceOf(dir, id string) (*notebook.Notebook, *notebook.Device, error) {
	n, err := loadBook(dir)
	if err != nil {
		return nil, nil, err
	}
	if err := n.Exists(); err != nil {
		return nil, nil, usageError{err}
	}
	d, ok := n.Device(id)
	if ok && d.Record != nil {
		return n, d, nil
	}
	var ids []string
	for _, d := range n.Devices {
		if d.Record != nil {
			ids = append(ids, d.ID)
		}
	}
	return nil, nil, usagef("there is no devices/%s.md%s", id, diagnostic.DidYouMean(terms.Nearest(id, ids)))
}

func newBoardAdd() *cobra.Command {
	var dir, parts, netlist, name, units string
	var replace bool
	columns := map[board.Column]*string{}
	c := &cobra.Command{
		Use:         "add DEVICE",
		Annotations: map[string]string{writes: "yes"},
		Short:       "Read a board's parts list and netlist into the notebook",
		Long: `add takes a parts list with places (a centroid or pick-and-place CSV) and a netlist
(IPC-D-356A). The columns and units of a parts list are recognised by their
headers; the flags name what is not. Rows that cannot be used are named and left
out. The notebook keeps the list as devices/DEVICE/BOARD.csv, with its units in
the header, and the netlist as it is.`,
		Example: `  benchlore board add aldermoor-hb4 --parts main.csv --netlist main.ipc
  benchlore board add tarnwick-a40 --board "A40 main rev D" --parts top.csv --units mil --designator Part`,
		Args: exactly(1, "the device's id"),
		RunE: func(c *cobra.Command, args []string) error {
			if parts == "" && netlist == "" {
				return usagef("--parts is missing: the parts list with places")
			}
			n, d, err := deviceOf(dir, args[0])
			if err != nil {
				return err
			}
			o := board.PartsOptions{Unit: units, Names: map[board.Column]string{}}
			for column, header := range columns {
				if *header != "" {
					o.Names[column] = *header
				}
			}
			return addBoard(c, n, d, boardFiles{name, parts, netlist, replace}, o)
		},
	}
	f := c.Flags()
	notebookFlag(c, &dir)
	f.StringVar(&parts, "parts", "", "the parts list, a CSV")
	f.StringVar(&netlist, "netlist", "", "the netlist, IPC-D-356A")
	f.StringVar(&name, "board", "", "which board, where the device has several or none is listed yet")
	f.StringVar(&units, "units", "", "unit of the parts list, where it says none: mm, mil or inch")
	f.BoolVar(&replace, "replace", false, "put the files in place of those that are there")
	for _, column := range board.Columns {
		columns[column] = new(string)
		f.StringVar(columns[column], string(column), "", "header of the column with the "+string(column))
	}
	return c
}

func notebookFlag(c *cobra.Command, dir *string) {
	c.Flags().StringVar(dir, "notebook", ".", "the notebook's folder")
}

type boardFiles struct {
	name, parts, netlist string
	replace              bool
}

func readLimited(name string) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, usageError{err}
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	if info.IsDir() {
		return nil, usagef("%s is a folder", name)
	}
	src, err := io.ReadAll(io.LimitReader(f, board.MaxFile+1))
	if err == nil && len(src) > board.MaxFile {
		err = fmt.Errorf("%s is longer than %d bytes", name, board.MaxFile)
	}
	return src, err
}

func addBoard(c *cobra.Command, n *notebook.Notebook, d *notebook.Device, files boardFiles, o board.PartsOptions) error {
	name, err := d.ChooseBoard(files.name)
	if err != nil {
		return usageError{err}
	}
	var problems []diagnostic.Diagnostic
	var rows []board.Part
	var nets *board.Netlist
	var netSource []byte
	if files.parts != "" {
		src, err := readLimited(files.parts)
		if err != nil {
			return err
		}
		var said []diagnostic.Diagnostic
		rows, said = board.ReadParts(files.parts, src, o)
		problems = append(problems, said...)
	}
	if files.netlist != "" {
		if netSource, err = readLimited(files.netlist); err != nil {
			return err
		}
		var said []diagnostic.Diagnostic
		nets, said = board.ReadNetlist(files.netlist, netSource)
		problems = append(problems, said...)
	}
	failed := files.parts != "" && rows == nil || files.netlist != "" && nets == nil
	var b *board.Board
	if !failed {
		var said []diagnostic.Diagnostic
		b, said = board.New(rows, nets, files.netlist)
		problems = append(problems, said...)
	}
	if err := diagnostic.WriteText(c.ErrOrStderr(), problems); err != nil {
		return err
	}
	if failed {
		return errors.New("nothing was written")
	}
	added := notebook.AddedBoard{Name: name, Parts: rows, Netlist: netSource, Replace: files.replace}
	if nets == nil {
		added.Netlist = nil
	}
	if err := n.AddBoard(d, added); err != nil {
		if exists := (*fs.PathError)(nil); errors.As(err, &exists) && errors.Is(err, fs.ErrExist) {
			return fmt.Errorf("%s is there already; --replace puts this one in its place", exists.Path)
		}
		return err
	}
	printBoard(c.OutOrStdout(), name, b)
	if diagnostic.Count(problems, diagnostic.Error) > 0 {
		return errSilent
	}
	return nil
}

// printBoard sums a board up.
func printBoard(w io.Writer, name string, b *board.Board) {
	bottom, sized, pins := 0, 0, 0
	for i := range b.Parts {
		if b.Parts[i].Side == board.Bottom {
			bottom++
		}
		if b.Parts[i].Size[0] > 0 {
			sized++
		}
		pins += len(b.Parts[i].Pins)
	}
	fmt.Fprintf(w, "%s: %s, %d on top and %d below, %d of known size\n", safe(name),
		plural(len(b.Parts), "part", "parts"), len(b.Parts)-bottom, bottom, sized)
	if !b.Wired() {
		fmt.Fprintln(w, "no netlist: what a part does is not known")
		return
	}
	fmt.Fprintf(w, "%s, %s\n", plural(len(b.Nets), "net", "nets"), plural(pins, "pin", "pins"))
	for i := range b.Nets {
		if sum := b.Decoupling(&b.Nets[i]); b.Nets[i].Kind == board.Supply && sum.Count > 0 {
			fmt.Fprintf(w, "  %s: %s to ground in %s\n", safe(b.Nets[i].Name), sum.Total, plural(sum.Count, "capacitor", "capacitors"))
		}
	}
}

func newBoardShow() *cobra.Command {
	var dir, name string
	var within length = 3
	var asJSON bool
	c := &cobra.Command{
		Use:   "show DEVICE REF|NET",
		Short: "What a part or net is, does and had",
		Long: `show tells of a designator its value, size, nets, what it does, what is lost without
it, its neighbours and the cases that touched it; of a net its parts, its test
points and its decoupling.`,
		Example: `  benchlore board show aldermoor-hb4 C341
  benchlore board show aldermoor-hb4 +3V3 --json`,
		Args: exactly(2, "a device and a designator or net"),
		RunE: func(c *cobra.Command, args []string) error {
			n, d, err := deviceOf(dir, args[0])
			if err != nil {
				return err
			}
			all, err := boardsOf(d, name)
			if err != nil {
				return err
			}
			at, ok, err := placeOf(d, all, args[1])
			if err != nil {
				return err
			}
			var view any
			if ok {
				view = boards.ShowPart(n, d, at, float64(within))
			} else {
				for _, b := range all {
					net, ok := b.Net(args[1])
					if !ok {
						continue
					}
					if view != nil {
						return usagef("the net %s is on several boards; say which with --board", args[1])
					}
					view = boards.ShowNet(n, d, b, net)
				}
			}
			if view == nil {
				return fmt.Errorf("no board of %s has a part or net %q%s", d.ID, args[1], diagnostic.DidYouMean(boards.Nearest(d, args[1])))
			}
			if asJSON {
				return printAsJSON(c.OutOrStdout(), view)
			}
			switch v := view.(type) {
			case boards.PartView:
				printPart(c.OutOrStdout(), v, float64(within))
			case boards.NetView:
				printNet(c.OutOrStdout(), v)
			}
			return nil
		},
	}
	notebookFlag(c, &dir)
	c.Flags().StringVar(&name, "board", "", "which board, where several have it")
	c.Flags().Var(&within, "within", "how far neighbours are, such as 3mm or 120mil")
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}

// boardsOf are the device's boards with files, or the one that is named.
func boardsOf(d *notebook.Device, name string) ([]*notebook.Board, error) {
	if len(d.Boards) == 0 {
		return nil, fmt.Errorf("the notebook has no parts list of %s; `benchlore board add %s --parts FILE.csv` reads one", d.ID, d.ID)
	}
	if name == "" {
		return d.Boards, nil
	}
	b, ok := d.Board(name)
	if !ok {
		var names []string
		for _, b := range d.Boards {
			names = append(names, b.Name)
		}
		return nil, usagef("%s has no parts list of a board %q%s", d.ID, name, diagnostic.DidYouMean(terms.Nearest(name, names)))
	}
	return []*notebook.Board{b}, nil
}

// placeOf finds a part on one of the boards; that it is on several is an error.
func placeOf(d *notebook.Device, all []*notebook.Board, word string) (at boards.Place, ok bool, err error) {
	places := slices.DeleteFunc(boards.FindPart(d, word), func(p boards.Place) bool { return !slices.Contains(all, p.Board) })
	switch len(places) {
	case 0:
		return at, false, nil
	case 1:
		return places[0], true, nil
	}
	return at, false, usagef("%s is on %s and %s; say which with --board", word, places[0].Board.Name, places[1].Board.Name)
}

// length is a flag in millimetres.
type length float64

func (l *length) String() string { return strconv.FormatFloat(float64(*l), 'f', -1, 64) + "mm" }
func (l *length) Type() string   { return "length" }

func (l *length) Set(s string) error {
	text, unit := strings.TrimSpace(s), 1.0
	for suffix, f := range map[string]float64{"mm": 1, "mil": 0.0254, "in": 25.4, "inch": 25.4, "cm": 10} {
		if rest, ok := strings.CutSuffix(text, suffix); ok {
			text, unit = strings.TrimSpace(rest), f
			break
		}
	}
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || !(v >= 0 && v*unit <= 1000) {
		return fmt.Errorf("a length is a number with mm, mil or in, up to 1 m, not %q", s)
	}
	*l = length(v * unit)
	return nil
}

func printPart(w io.Writer, v boards.PartView, within float64) {
	fmt.Fprintf(w, "%s", safe(v.Ref))
	for _, s := range []string{v.Value, v.Package} {
		if s != "" {
			fmt.Fprintf(w, "  %s", safe(s))
		}
	}
	if len(v.SizeMM) == 2 {
		fmt.Fprintf(w, "  %g × %g mm", v.SizeMM[0], v.SizeMM[1])
	}
	fmt.Fprintf(w, "\n%s, %s side, at %.2f, %.2f mm\n", safe(v.Board), v.Side, v.AtMM[0], v.AtMM[1])
	switch {
	case v.Does != "":
		fmt.Fprintln(w, safe(v.Does))
	case len(v.Nets) > 0:
		fmt.Fprintf(w, "%s, on %s\n", v.Role, safe(strings.Join(v.Nets[:min(12, len(v.Nets))], ", ")))
	default:
		fmt.Fprintln(w, "what it does is not known: no netlist, or no pin of it in the netlist")
	}
	if v.Without != "" {
		fmt.Fprintf(w, "without it: %s\n", safe(v.Without))
	}
	for _, t := range v.Touches {
		fmt.Fprintf(w, "case %s: %s %s\n", t.Case, t.Action, safe(t.Note))
	}
	if len(v.Neighbours) == 0 {
		fmt.Fprintf(w, "nothing else within %g mm on this side\n", within)
		return
	}
	fmt.Fprintf(w, "within %g mm, between the bodies:\n", within)
	for _, near := range v.Neighbours {
		fmt.Fprintf(w, "  %5.2f mm  %s\n", near.MM, safe(near.Ref))
	}
}

func printNet(w io.Writer, v boards.NetView) {
	fmt.Fprintf(w, "%s, %s net of %s\n", safe(v.Net), v.Kind, safe(v.Board))
	if d := v.Decoupling; d != nil {
		fmt.Fprintf(w, "%s to ground in %s\n", d.Total, plural(d.Capacitors, "capacitor", "capacitors"))
		if d.Unread > 0 {
			fmt.Fprintf(w, "%d of them have no value that can be read\n", d.Unread)
		}
	}
	if len(v.TestPoints) > 0 {
		fmt.Fprintf(w, "test points: %s\n", safe(strings.Join(v.TestPoints, ", ")))
	}
	if len(v.Cases) > 0 {
		fmt.Fprintf(w, "cases: %s\n", strings.Join(v.Cases, ", "))
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, p := range v.Parts {
		fmt.Fprintf(t, "  %s\t%s\tpin %s\t%s\t%s\n", safe(p.Ref), safe(p.Value),
			safe(strings.Join(p.Pins[:min(4, len(p.Pins))], ", ")), p.Role, safe(p.Without))
	}
	_ = t.Flush()
}

func newBoardNear() *cobra.Command {
	var dir, name string
	var within length = boards.Reach
	var asJSON bool
	c := &cobra.Command{
		Use:   "near DEVICE CONNECTOR|REF",
		Short: "What a slip of the tool there would hit",
		Long: `near lists the parts on the same side around a connector or part: first what past
work lost there, then what is in series in a supply, data or sense net, then the
rest; in each the smallest first. Distances are between the bodies.`,
		Example: `  benchlore board near aldermoor-hb4 "display plug" --within 3mm
  benchlore board near aldermoor-hb4 J5`,
		Args: exactly(2, "a device and a connector or designator"),
		RunE: func(c *cobra.Command, args []string) error {
			n, d, err := deviceOf(dir, args[0])
			if err != nil {
				return err
			}
			all, err := boardsOf(d, name)
			if err != nil {
				return err
			}
			at, ok, err := placeOf(d, all, args[1])
			if err != nil {
				return err
			}
			if !ok {
				return fmt.Errorf("no board of %s has a connector or part %q%s", d.ID, args[1],
					diagnostic.DidYouMean(boards.Nearest(d, args[1])))
			}
			hits := boards.Near(at.Board.Board, at.Part, float64(within), boards.Touched(n, at.Board, d.ID))
			if asJSON {
				return printAsJSON(c.OutOrStdout(), hitViews(hits))
			}
			printSlip(c.OutOrStdout(), at, hits, float64(within))
			if len(hits) == 0 {
				return errSilent
			}
			return nil
		},
	}
	notebookFlag(c, &dir)
	c.Flags().StringVar(&name, "board", "", "which board, where several have it")
	c.Flags().Var(&within, "within", "how far a slip goes, such as 3mm or 120mil")
	c.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return c
}

type hitView struct {
	Ref       string         `json:"ref"`
	MM        float64        `json:"mm"`
	Value     string         `json:"value"`
	Package   string         `json:"package"`
	Role      board.Role     `json:"role"`
	Nets      []string       `json:"nets"`
	Important bool           `json:"important"`
	Touches   []boards.Touch `json:"touches"`
}

func hitViews(hits []boards.Hit) []hitView {
	out := []hitView{}
	for _, h := range hits {
		out = append(out, hitView{h.Part.Ref, float64(int(h.Gap*100+0.5)) / 100, h.Part.Value, h.Part.Package, h.Role,
			h.Nets, h.Important, h.Touches})
	}
	return out
}

func printSlip(w io.Writer, at boards.Place, hits []boards.Hit, within float64) {
	if len(hits) == 0 {
		fmt.Fprintf(w, "nothing else within %g mm of %s on this side of %s\n", within, safe(at.Part.Ref), safe(at.Board.Name))
		return
	}
	fmt.Fprintf(w, "a slip at %s of %s, %s side, within %g mm, would hit:\n", safe(at.Part.Ref), safe(at.Board.Name), at.Part.Side, within)
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for i := range hits {
		h := &hits[i]
		why := ""
		switch {
		case h.Lost():
			why = "LOST BEFORE"
		case h.Important:
			why = "IMPORTANT"
		}
		var cases []string
		for _, touch := range h.Touches {
			cases = append(cases, touch.Case)
		}
		fmt.Fprintf(t, "  %s\t%.2f mm\t%s\t%s\t%s\t%s\t%s\n", safe(h.Part.Ref), h.Gap,
			safe(strings.TrimSpace(h.Part.Value+" "+h.Part.Package)), h.Role,
			safe(strings.Join(h.Nets[:min(3, len(h.Nets))], ", ")), why, strings.Join(cases, ", "))
	}
	_ = t.Flush()
}

func newBoardFill() *cobra.Command {
	var dir string
	c := &cobra.Command{
		Use:         "fill CASE...",
		Annotations: map[string]string{writes: "yes"},
		Short:       "Complete the Parts table of a case from its board",
		Long: `fill writes value, package and net of each part that the case's board knows into
the empty cells of its Parts table. What is written already stays, and so does
every other byte of the file.`,
		Example: "  benchlore board fill 2026-0007",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usagef("a case is missing; see `%s --help`", c.CommandPath())
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			n, err := loadBook(dir)
			if err != nil {
				return err
			}
			for _, id := range args {
				found, ok := n.Case(id)
				if !ok {
					return noCase(n, id)
				}
				if _, ok := found.Board(); !ok {
					return fmt.Errorf("the notebook has no parts list for the board of %s", id)
				}
				cells := 0
				err := editor.NewStore(n.Dir, n.Config.History).Update(id, found.Path, func(have []byte) ([]byte, error) {
					whole, list := casefile.Parse(found.Path, have)
					if whole == nil {
						return nil, fmt.Errorf("%s: %s", found.Path, list[len(list)-1].Message)
					}
					var next *casefile.File
					next, cells = n.FillParts(whole, found.Path)
					return next.Bytes(), nil
				})
				if err != nil {
					return err
				}
				fmt.Fprintf(c.OutOrStdout(), "%s: %s filled\n", id, plural(cells, "cell", "cells"))
			}
			return nil
		},
	}
	notebookFlag(c, &dir)
	return c
}

// shownHits is how many parts a slip's line names where a case is begun.
const shownHits = 4

// printOpening prints the sheet of what to know before a device is opened.
func printOpening(w io.Writer, n *notebook.Notebook, id string) {
	d, ok := n.Device(id)
	if !ok || d.Record == nil {
		return
	}
	s := boards.NewSheet(n, d)
	for _, h := range s.Hazards {
		fmt.Fprintf(w, "CAUTION  %s: %s\n", safe(h.Name), safe(h.Advice()))
	}
	printRisks(w, n, id)
	if s.Fasteners > 0 {
		fmt.Fprintf(w, "COUNT    %d fasteners; write what came out as fasteners: {out: %d}\n", s.Fasteners, s.Fasteners)
	}
	for _, text := range s.Warnings() {
		fmt.Fprintf(w, "TOO LONG %s\n", safe(text))
	}
	for i := range s.Slips {
		slip := &s.Slips[i]
		if len(slip.Hits) == 0 {
			continue
		}
		var names []string
		for j := range slip.Hits[:min(shownHits, len(slip.Hits))] {
			h := &slip.Hits[j]
			name := fmt.Sprintf("%s at %.1f mm", h.Part.Ref, h.Gap)
			if h.Lost() {
				name += " (lost before)"
			} else if h.Important {
				name += " (important)"
			}
			names = append(names, name)
		}
		if more := len(slip.Hits) - len(names); more > 0 {
			names = append(names, fmt.Sprintf("%d more", more))
		}
		fmt.Fprintf(w, "SLIP     at the %s: %s\n", safe(slip.Plug.Name), safe(strings.Join(names, ", ")))
	}
}
