package main

import (
	"bytes"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"benchlore/build/notebook"
	"benchlore/build/output/label"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

func newLabel() *cobra.Command {
	var dir, out, sheet, paper string
	var replace bool
	var size, margin, gap sizeFlag
	var skip, copies int
	c := &cobra.Command{
		Use:         "label CASE|DEVICE... --out FILE",
		Annotations: map[string]string{writes: "yes"},
		Short:       "Labels for bags and devices, with a QR code",
		Long: `label draws a label with the case's number, the device, the date, the open
questions, and a QR code that holds the address of its page, or its id where
notebook.yaml gives no address. The file is .svg, .png or .pdf by its name.
--sheet lays labels out for a sheet: ` + strings.Join(label.GridNames(), ", ") + `,
or columns and rows such as 3x8 with --size, --margin and --gap in mm.`,
		Example: `  benchlore label 2026-0018 --out bag.pdf
  benchlore label 2026-0018 2026-0017 --sheet a4-24 --skip 5 --out labels.pdf
  benchlore label tarnwick-a40 --size 62x29 --out shelf.png`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usagef("a case or device is missing; see `%s --help`", c.CommandPath())
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			if out == "" {
				return usagef("--out is missing: a file name that ends in .svg, .png or .pdf")
			}
			format, err := label.FormatOf(out)
			if err != nil {
				return usageError{err}
			}
			if copies < 1 || copies > 1000 || copies*len(args) > 10_000 {
				return usagef("--copies is 1 to 1000, and 10000 labels in all, not %d", copies)
			}
			s := label.Size{Width: 70, Height: 36}
			grid, err := chooseSheet(sheet, paper, &s)
			if err != nil {
				return err
			}
			if size.set {
				s = size.Size
			}
			if grid != nil && margin.set {
				grid.Margin = margin.Size
			}
			if grid != nil && gap.set {
				grid.Gap = gap.Size
			}
			n, err := loadBook(dir)
			if err != nil {
				return err
			}
			if err := n.Exists(); err != nil {
				return usageError{err}
			}
			var labels []label.Label
			for _, id := range args {
				l, ok := label.Of(n, id)
				if !ok {
					return noCaseOrDevice(n, id)
				}
				labels = append(labels, slices.Repeat([]label.Label{l}, copies)...)
			}
			var b bytes.Buffer
			if err := label.Write(&b, format, labels, s, grid, skip); err != nil {
				return usageError{err}
			}
			if err := writeOut(out, b.Bytes(), replace); err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "%s: %s\n", filepath.ToSlash(out), plural(len(labels), "label", "labels"))
			return nil
		},
	}
	notebookFlag(c, &dir)
	f := c.Flags()
	f.StringVar(&out, "out", "", "the file to write")
	replaceFlag(c, &replace)
	f.StringVar(&sheet, "sheet", "", "a sheet of labels: a known grid, or columns and rows")
	f.StringVar(&paper, "paper", "", "paper of the sheet: a4 or letter")
	f.Var(&size, "size", "width and height of a label, mm")
	f.Var(&margin, "margin", "from the paper's left and upper edge to the first label, mm")
	f.Var(&gap, "gap", "between two labels, across and down, mm")
	f.IntVar(&skip, "skip", 0, "labels of the first sheet that are used up")
	f.IntVar(&copies, "copies", 1, "how many of each")
	return c
}

// chooseSheet reads --sheet and --paper; the label's size comes from a known
// grid.
func chooseSheet(sheet, paper string, s *label.Size) (*label.Sheet, error) {
	page, ok := label.Papers[strings.ToLower(paper)]
	if paper != "" && !ok {
		return nil, usagef("--paper is a4 or letter, not %q", paper)
	}
	if sheet == "" {
		if paper != "" {
			return nil, usagef("--paper needs --sheet, such as --sheet 3x8")
		}
		return nil, nil
	}
	if grid, ok := label.Grids[strings.ToLower(sheet)]; ok {
		*s = grid.Label
		if paper != "" {
			grid.Paper = page
		}
		return &grid.Sheet, nil
	}
	columns, rows, found := strings.Cut(strings.ToLower(sheet), "x")
	c, errC := strconv.Atoi(columns)
	r, errR := strconv.Atoi(rows)
	if !found || errC != nil || errR != nil {
		return nil, usagef("--sheet %q is neither a known grid nor columns and rows such as 3x8%s", sheet,
			diagnostic.DidYouMean(terms.Nearest(sheet, label.GridNames())))
	}
	if paper == "" {
		page = label.Papers["a4"]
	}
	return &label.Sheet{Paper: page, Columns: c, Rows: r}, nil
}

// sizeFlag is two lengths in mm: 70x36, 63.5x38.1mm.
type sizeFlag struct {
	label.Size
	set bool
}

func (f *sizeFlag) Type() string { return "WxH" }

func (f *sizeFlag) String() string {
	if !f.set {
		return ""
	}
	return fmt.Sprintf("%gx%g", f.Width, f.Height)
}

func (f *sizeFlag) Set(s string) error {
	text := strings.TrimSuffix(strings.ToLower(strings.TrimSpace(s)), "mm")
	w, h, ok := strings.Cut(strings.NewReplacer("×", "x", ",", ".", " ", "").Replace(text), "x")
	width, errW := strconv.ParseFloat(strings.TrimSuffix(w, "mm"), 64)
	height, errH := strconv.ParseFloat(h, 64)
	if !ok || errW != nil || errH != nil || !(width >= 0 && height >= 0 && width <= 1000 && height <= 1000) {
		return fmt.Errorf("two lengths in mm are needed, such as 70x36, not %q", s)
	}
	f.Size, f.set = label.Size{Width: width, Height: height}, true
	return nil
}

func noCaseOrDevice(n *notebook.Notebook, id string) error {
	var ids []string
	for _, c := range n.Cases {
		ids = append(ids, c.ID())
	}
	for _, d := range n.Devices {
		ids = append(ids, d.ID)
	}
	return usagef("the notebook holds no case or device %q%s", id, diagnostic.DidYouMean(terms.Nearest(id, ids)))
}
