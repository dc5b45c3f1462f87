// Package boards answers what a shop knows of a device before it is opened:
// what a part of its boards is and does ([Show]), what a slip of the tool would
// hit ([Near]), and both with the hazards, the fasteners and the damage of past
// work on one sheet ([NewSheet]). It reads loaded notebooks only.
package boards

import (
	"cmp"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/build/reason/hazard"
	"benchlore/schema/board"
	"benchlore/schema/casefile"
	"benchlore/schema/terms"
)

// Touch is one time that a case did something to a part.
type Touch struct {
	Case   string `json:"case"`
	Action string `json:"action"`
	Note   string `json:"note,omitempty"`
	Lost   bool   `json:"lost,omitempty"` // it was damaged or gone, and by handling
}

// Touched returns what cases did to the parts of a board, by designator, oldest
// first.
func Touched(n *notebook.Notebook, b *notebook.Board, device string) map[string][]Touch {
	out := map[string][]Touch{}
	for _, c := range n.Cases {
		if c.Device == nil || c.Device.ID != device {
			continue
		}
		on, ok := c.Board()
		if !ok || on != b {
			continue
		}
		k := &c.File.Case
		for i := range k.Parts {
			row := &k.Parts[i]
			for _, ref := range row.Refs() {
				p, ok := b.Part(ref)
				if !ok {
					continue
				}
				out[p.Ref] = append(out[p.Ref],
					Touch{c.ID(), row.Action, cmp.Or(row.Note, row.Fitted), k.Cause != nil && k.Cause.Origin == "handling"})
			}
		}
	}
	return out
}

// Hit is a part that a slip of the tool would hit.
type Hit struct {
	Part      *board.Part
	Gap       float64 // mm, between the bodies
	Role      board.Role
	Nets      []string
	Important bool // in series in a supply, data or sense net, or lost before
	Touches   []Touch
}

// Lost reports whether past handling cost this part.
func (h *Hit) Lost() bool {
	return slices.ContainsFunc(h.Touches, func(t Touch) bool { return t.Lost })
}

// Near lists the parts on the same side within so many mm of a part: first
// what past handling cost, then what is important, then the rest; in each the
// smallest first, since it is lost the most easily.
func Near(b *board.Board, p *board.Part, within float64, touched map[string][]Touch) []Hit {
	var out []Hit
	for _, near := range b.Near(p, within) {
		role := b.Role(near.Part)
		if role == board.TestPoint {
			continue
		}
		h := Hit{Part: near.Part, Gap: near.Gap, Role: role, Nets: b.NetsOf(near.Part),
			Important: b.Important(near.Part), Touches: touched[near.Part.Ref]}
		h.Important = h.Important || h.Lost()
		out = append(out, h)
	}
	rank := func(h *Hit) int {
		switch {
		case h.Lost():
			return 0
		case h.Important:
			return 1
		}
		return 2
	}
	slices.SortStableFunc(out, func(x, y Hit) int {
		return cmp.Or(cmp.Compare(rank(&x), rank(&y)), cmp.Compare(area(x.Part), area(y.Part)), cmp.Compare(x.Gap, y.Gap))
	})
	return out
}

// area orders parts by size; one of unknown size comes last.
func area(p *board.Part) float64 {
	if a := p.Size[0] * p.Size[1]; a > 0 {
		return a
	}
	return 1e9
}

// Reach is how far a slip of the tool goes, mm. Common practice, no source.
const Reach = 3

// Slips are what a slip at one connector would hit.
type Slips struct {
	Plug  *casefile.Plug
	Board *notebook.Board
	Part  *board.Part
	Hits  []Hit
}

// Sheet is what to know before a device is opened.
type Sheet struct {
	Device    *notebook.Device
	Hazards   []*terms.Term
	Fasteners int // in all; 0 when not known
	Clashes   []casefile.Clash
	Slips     []Slips
}

// NewSheet gathers the sheet of a device.
func NewSheet(n *notebook.Notebook, d *notebook.Device) Sheet {
	s := Sheet{Device: d, Hazards: hazard.OfDevice(n, d)}
	if d.Record == nil {
		return s
	}
	r := &d.Record.Device
	s.Fasteners = r.FastenerCount()
	if r.Total != nil {
		s.Fasteners = *r.Total
	}
	s.Clashes = r.Clashes()
	for _, b := range d.Boards {
		touched := Touched(n, b, d.ID)
		for i := range r.Plugs {
			plug := &r.Plugs[i]
			p, ok := b.Part(plug.Ref)
			if !ok || plug.Ref == "" {
				continue
			}
			s.Slips = append(s.Slips, Slips{plug, b, p, Near(b.Board, p, Reach, touched)})
		}
	}
	return s
}

// FindPart looks for a designator, or the name of a connector, on a device's
// boards. The boards are those that have it.
func FindPart(d *notebook.Device, word string) (found []Place) {
	ref := word
	if d.Record != nil {
		for i := range d.Record.Device.Plugs {
			if p := &d.Record.Device.Plugs[i]; strings.EqualFold(p.Name, word) && p.Ref != "" {
				ref = p.Ref
			}
		}
	}
	for _, b := range d.Boards {
		if p, ok := b.Part(ref); ok {
			found = append(found, Place{b, p})
		}
	}
	return found
}

// Place is a part on one of a device's boards.
type Place struct {
	Board *notebook.Board
	Part  *board.Part
}

// Nearest returns the closest word that [FindPart] or [ShowNet] would take.
func Nearest(d *notebook.Device, word string) string {
	var names []string
	if d.Record != nil {
		for i := range d.Record.Device.Plugs {
			names = append(names, d.Record.Device.Plugs[i].Name)
		}
	}
	if near := terms.Nearest(word, names); near != "" {
		return near
	}
	for _, b := range d.Boards {
		if near := b.Nearest(word); near != "" {
			return near
		}
	}
	return ""
}
