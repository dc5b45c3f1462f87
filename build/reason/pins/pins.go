// Package pins gathers what was ever read at the pins of a board's parts: what a good
// board shows there, from the device's reference sheet and from readings that were good,
// and what boards with a fault showed, the odd ones first.
//
// A reading belongs to a pin where its point names one: J9.12, or a test point alone. In
// one mode and state of the board, readings of several boards are told by their median and
// range; nothing is called odd that cannot be compared.
package pins

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/build/reason/boards"
	"benchlore/build/reason/triage"
	"benchlore/build/reason/verdict"
	"benchlore/schema/board"
	"benchlore/schema/casefile"
	"benchlore/schema/quantity"
)

// Reading is what a case, or the reference sheet, says of a pin.
type Reading struct {
	Case    string `json:"case,omitempty"` // empty for the reference sheet
	Read    string `json:"read"`
	Verdict string `json:"verdict,omitempty"`
	Odd     bool   `json:"odd,omitempty"` // bad by its limits, or beyond what good boards show
	value   float64
	over    bool
}

// Row is one pin in one mode and state.
type Row struct {
	Pin      string `json:"pin"`
	Net      string `json:"net,omitempty"`
	What     string `json:"what"`
	State    string `json:"state,omitempty"`
	Expected string `json:"expected,omitempty"` // of the reference sheet
	// Good is how many boards showed a good reading, in so many different cases; Median,
	// Low and High are theirs. Over says that a good board reads beyond the range there.
	Good   int             `json:"good"`
	Median string          `json:"median,omitempty"`
	Low    string          `json:"low,omitempty"`
	High   string          `json:"high,omitempty"`
	Over   bool            `json:"over,omitempty"`
	Others []Reading       `json:"others"` // that were not good, newest first
	Odd    bool            `json:"odd"`
	At     [2]float64      `json:"-"` // mm
	order  int             // of the pin on its part
	unit   quantity.Unit   // of all its readings
	good   map[string]bool // cases
	values []float64

	expectation quantity.Expectation // of the reference sheet
}

// Table is what is known of a part's pins, the odd ones first.
type Table struct {
	Ref  string `json:"ref"`
	Rows []Row  `json:"rows"`
}

// Tables are those of all parts of a board that have any, in the order of designators.
func Tables(n *notebook.Notebook, j *verdict.Judge, d *notebook.Device, b *notebook.Board) []Table {
	g := gather(n, j, d, b, "")
	for _, late := range g.later {
		late()
	}
	byPart := map[string][]Row{}
	for k, row := range g.rows {
		row.finish()
		byPart[k.ref] = append(byPart[k.ref], *row)
	}
	var out []Table
	for i := range b.Parts {
		rows := byPart[b.Parts[i].Ref]
		if len(rows) == 0 {
			continue
		}
		slices.SortFunc(rows, func(x, y Row) int {
			return cmp.Or(cmp.Compare(odds(x), odds(y)), cmp.Compare(x.order, y.order), strings.Compare(x.What, y.What),
				strings.Compare(x.State, y.State), cmp.Compare(x.unit, y.unit))
		})
		out = append(out, Table{b.Parts[i].Ref, rows})
	}
	return out
}

// Judged is one reading of a case beside all that other cases and the sheet say of its
// pin; ok is false where the point is no pin, or nothing tells.
func Judged(n *notebook.Notebook, j *verdict.Judge, c *notebook.Case, b *notebook.Board, m *casefile.Measurement) (r Reading, ok bool) {
	g := gather(n, j, c.Device, b, c.ID())
	g.take(j, b.Board, c, m)
	for _, late := range g.later {
		late()
	}
	for _, row := range g.rows {
		at := slices.IndexFunc(row.Others, func(o Reading) bool { return o.Case == c.ID() })
		if at < 0 {
			if row.good[c.ID()] {
				return Reading{Case: c.ID(), Read: m.Read, Verdict: quantity.In.String()}, true
			}
			continue
		}
		row.Others = row.Others[at:]
		row.finish()
		r = row.Others[len(row.Others)-1]
		return r, r.Verdict != "" || r.Odd
	}
	return Reading{}, false
}

// gather takes what the sheet and the cases say, but for one case.
func gather(n *notebook.Notebook, j *verdict.Judge, d *notebook.Device, b *notebook.Board, except string) *gatherer {
	g := &gatherer{n: n, rows: map[key]*Row{}}
	if d.Record != nil {
		for i := range d.Record.Device.References {
			r := &d.Record.Device.References[i]
			if row := g.row(b.Board, r.Point, r.What, r.State, r.Expectation.Unit()); row != nil && r.Expected != "" {
				row.Expected, row.expectation = r.Expected, r.Expectation
			}
		}
	}
	for _, c := range n.Cases {
		if c.Device != d || c.ID() == except {
			continue
		}
		if on, ok := c.Board(); !ok || on != b {
			continue
		}
		for i := range c.File.Case.Measurements {
			g.take(j, b.Board, c, &c.File.Case.Measurements[i])
		}
	}
	return g
}

func odds(r Row) int {
	if r.Odd {
		return 0
	}
	return 1
}

// Is reports whether the row is of a mode and state, in any case of letters.
func (r *Row) Is(what, state string) bool {
	return fold(r.What) == fold(what) && fold(r.State) == fold(state)
}

// Shows is what a good board reads there in a few words, or nothing.
func (r *Row) Shows() string {
	switch {
	case r.Expected != "":
		return r.Expected
	case r.Median != "" && r.Good > 1:
		return r.Median + " (" + r.Low + " to " + r.High + ")"
	case r.Median != "":
		return r.Median
	case r.Over:
		return "OL"
	}
	return ""
}

type key struct {
	ref, pin, what, state string
	unit                  quantity.Unit
}

type gatherer struct {
	n     *notebook.Notebook
	rows  map[key]*Row
	later []func() // readings that have no unit: they belong to whichever row there is
}

func fold(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

// row finds or begins the row of a point; nil where it names no pin.
func (g *gatherer) row(b *board.Board, point, what, state string, unit quantity.Unit) *Row {
	p, pin, err := boards.FindPin(b, point)
	if err != nil || p == nil {
		return nil
	}
	if pin == nil { // a test point is its one pin
		if len(p.Pins) != 1 {
			return nil
		}
		pin = &p.Pins[0]
	}
	k := key{p.Ref, pin.Name, fold(what), fold(state), unit}
	if g.rows[k] == nil {
		net := ""
		if pin.Net >= 0 {
			net = b.Nets[pin.Net].Name
		}
		order := slices.IndexFunc(p.Pins, func(q board.Pin) bool { return q.Name == pin.Name })
		g.rows[k] = &Row{Pin: p.Ref + "." + pin.Name, Net: net, What: what, State: state, Others: []Reading{},
			At: [2]float64{pin.X, pin.Y}, order: order, unit: unit, good: map[string]bool{}}
	}
	return g.rows[k]
}

func (g *gatherer) take(j *verdict.Judge, b *board.Board, c *notebook.Case, m *casefile.Measurement) {
	if m.Reading == nil {
		return
	}
	judged := j.Reading(c, m)
	unit := m.Reading.Unit
	if unit == quantity.None {
		unit = judged.Expectation.Unit()
	}
	if unit == quantity.None {
		g.later = append(g.later, func() { g.put(g.anyRow(b, m), judged, c, m) })
		return
	}
	g.put(g.row(b, m.Point, m.What, m.State, unit), judged, c, m)
}

// anyRow is the row of a point whatever its unit.
func (g *gatherer) anyRow(b *board.Board, m *casefile.Measurement) *Row {
	for _, u := range []quantity.Unit{quantity.Volt, quantity.Ohm, quantity.Ampere, quantity.Hertz} {
		p, pin, err := boards.FindPin(b, m.Point)
		if err == nil && pin != nil {
			if row := g.rows[key{p.Ref, pin.Name, fold(m.What), fold(m.State), u}]; row != nil {
				return row
			}
		}
	}
	return g.row(b, m.Point, m.What, m.State, quantity.None)
}

func (g *gatherer) put(row *Row, judged verdict.Reading, c *notebook.Case, m *casefile.Measurement) {
	if row == nil {
		return
	}
	if judged.Verdict == quantity.NoVerdict && m.Doubt(g.n.Terms) == casefile.NoDoubt && row.expectation.Judges() { // J9-2 is the J9.2 of the sheet
		if v, err := quantity.Judge(row.expectation, *m.Reading, quantity.Decimal{}); err == nil {
			judged.Verdict = v
		}
	}
	if judged.Verdict == quantity.In {
		row.good[c.ID()] = true
		if m.Reading.Over {
			row.Over = true
		} else {
			row.values = append(row.values, m.Reading.Number.Float())
		}
		return
	}
	said := ""
	if judged.Verdict != quantity.NoVerdict {
		said = judged.Verdict.String()
	}
	row.Others = append(row.Others, Reading{Case: c.ID(), Read: m.Read, Verdict: said, Odd: judged.Verdict.Bad(),
		value: m.Reading.Number.Float(), over: m.Reading.Over})
}

// fewGood is the number of good boards from which a reading beyond theirs is odd, and
// apart how far beyond, as a share of their median. Common practice, no source.
const (
	fewGood = 2
	apart   = 0.15
)

func (r *Row) finish() {
	r.Good = len(r.good)
	if len(r.values) > 0 {
		slices.Sort(r.values)
		low, high, mid := r.values[0], r.values[len(r.values)-1], triage.Median(r.values)
		r.Median, r.Low, r.High = text(mid, r.unit), text(low, r.unit), text(high, r.unit)
		if r.Good >= fewGood {
			for i := range r.Others {
				o := &r.Others[i]
				beyond := apart * math.Abs(mid)
				if o.Verdict == "" && (o.over && !r.Over || !o.over && (o.value < low-beyond || o.value > high+beyond)) {
					o.Odd = true
				}
			}
		}
	}
	slices.Reverse(r.Others)
	r.Odd = slices.ContainsFunc(r.Others, func(o Reading) bool { return o.Odd })
}

// text prints a number of a unit as a reading is written.
func text(v float64, u quantity.Unit) string {
	d, ok := quantity.FromFloat(v, 4)
	if !ok {
		return ""
	}
	return quantity.Value{Number: d, Unit: u}.String()
}
