package label

import (
	"fmt"
	"maps"
	"slices"
)

// Sheet is a paper with labels in columns and rows. Margin is left and above
// the first label, Gap lies between two, mm.
type Sheet struct {
	Paper         Size
	Columns, Rows int
	Margin, Gap   Size
}

// Papers by name.
var Papers = map[string]Size{"a4": {210, 297}, "letter": {215.9, 279.4}}

// Grid is a sheet as it is sold, with its label's size.
type Grid struct {
	Sheet
	Label Size
}

// Grids are common divisions, by paper and number of labels. Common practice,
// no source: makers differ by tenths of a millimetre, so the flags can say
// otherwise.
var Grids = map[string]Grid{
	"a4-8":      {Sheet{Papers["a4"], 2, 4, Size{4.65, 12.9}, Size{2.5, 0}}, Size{99.1, 67.7}},
	"a4-14":     {Sheet{Papers["a4"], 2, 7, Size{4.65, 15.1}, Size{2.5, 0}}, Size{99.1, 38.1}},
	"a4-21":     {Sheet{Papers["a4"], 3, 7, Size{7.2, 15.1}, Size{2.5, 0}}, Size{63.5, 38.1}},
	"a4-24":     {Sheet{Papers["a4"], 3, 8, Size{0, 0.5}, Size{0, 0}}, Size{70, 37}},
	"a4-40":     {Sheet{Papers["a4"], 4, 10, Size{0, 0}, Size{0, 0}}, Size{52.5, 29.7}},
	"a4-65":     {Sheet{Papers["a4"], 5, 13, Size{4.75, 10.7}, Size{2.5, 0}}, Size{38.1, 21.2}},
	"letter-10": {Sheet{Papers["letter"], 2, 5, Size{4.2, 12.7}, Size{4.2, 0}}, Size{101.6, 50.8}},
	"letter-30": {Sheet{Papers["letter"], 3, 10, Size{4.8, 12.7}, Size{3.1, 0}}, Size{66.7, 25.4}},
}

// GridNames lists the names of the grids.
func GridNames() []string { return slices.Sorted(maps.Keys(Grids)) }

// check reports a grid that does not fit its paper.
func (s *Sheet) check(label Size) error {
	if s.Columns < 1 || s.Rows < 1 || s.Columns > 50 || s.Rows > 100 {
		return fmt.Errorf("a sheet has 1 to 50 columns and 1 to 100 rows, not %d by %d", s.Columns, s.Rows)
	}
	if s.Margin.Width < 0 || s.Margin.Height < 0 || s.Gap.Width < 0 || s.Gap.Height < 0 {
		return fmt.Errorf("margins and gaps are 0 mm or more")
	}
	const slack = 0.05
	w := s.Margin.Width + float64(s.Columns)*label.Width + float64(s.Columns-1)*s.Gap.Width
	h := s.Margin.Height + float64(s.Rows)*label.Height + float64(s.Rows-1)*s.Gap.Height
	if w > s.Paper.Width+slack || h > s.Paper.Height+slack {
		return fmt.Errorf("%d by %d labels of %g × %g mm need %.1f × %.1f mm with margins and gaps; the paper has %g × %g mm",
			s.Columns, s.Rows, label.Width, label.Height, w, h, s.Paper.Width, s.Paper.Height)
	}
	return nil
}
