// Package rails is the supply tree of a board: which rail is made from which, by what and
// in which order, and, given what was measured, which is the first that fails and what
// follows from it.
//
// A rail that fails is never blamed while the rail that it is made from fails too, and
// nothing is said of a rail that was not measured but that it follows from one that was.
package rails

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/schema/board"
	"benchlore/schema/casefile"
	"benchlore/schema/quantity"
)

// State says what is known of a rail.
type State string

// The states of a rail.
const (
	Unknown State = "not measured"
	Good    State = "good"
	Bad     State = "bad"
	Follows State = "follows" // not measured or bad, and made from one that is bad
)

// Rail is one supply with its place in the tree.
type Rail struct {
	Name      string   `json:"rail"`
	From      string   `json:"from,omitempty"` // another rail, or where it comes in
	By        string   `json:"by,omitempty"`
	Enable    string   `json:"enable,omitempty"`
	Volts     string   `json:"volts,omitempty"`
	Diode     string   `json:"diode,omitempty"`
	Ohms      string   `json:"ohms,omitempty"`
	Order     int      `json:"order,omitempty"`
	Note      string   `json:"note,omitempty"`
	Consumers []string `json:"consumers,omitempty"` // parts on its net that draw from it
	Depth     int      `json:"depth"`               // 0 for one that comes in
	State     State    `json:"state"`
	Read      string   `json:"read,omitempty"`
	Verdict   string   `json:"verdict,omitempty"`
	parent    int      // -1 for one that comes in
	expected  quantity.Expectation
}

// Tree is the rails of one board, each after the one that it is made from, and those made
// from one rail in the order in which they come up.
type Tree struct {
	Rails []Rail `json:"rails"`
	// First is the first rail that fails, empty where none is known to.
	First string `json:"first,omitempty"`
	// Next is what to measure next, in order.
	Next []string `json:"next,omitempty"`
}

// Of builds the tree of a board from its device's record.
func Of(d *notebook.Device, b *notebook.Board) Tree {
	var t Tree
	if d.Record == nil {
		return t
	}
	var rows []*casefile.Rail
	for i := range d.Record.Device.Rails {
		r := &d.Record.Device.Rails[i]
		if r.Board == "" && len(d.Record.Device.Boards) <= 1 || casefile.Slug(r.Board) == b.Slug {
			rows = append(rows, r)
		}
	}
	byName := map[string]bool{}
	for _, r := range rows {
		byName[strings.ToLower(r.Name)] = true
	}
	var grow func(parent int, under string, depth int)
	grow = func(parent int, under string, depth int) {
		var list []*casefile.Rail
		for _, r := range rows {
			from := strings.ToLower(r.From)
			if depth == 0 && !byName[from] || depth > 0 && from == strings.ToLower(under) {
				list = append(list, r)
			}
		}
		slices.SortStableFunc(list, func(x, y *casefile.Rail) int { return cmp.Compare(late(x.Order), late(y.Order)) })
		for _, r := range list {
			if depth > len(rows) {
				return // a ring, which check names
			}
			t.Rails = append(t.Rails, Rail{Name: r.Name, From: r.From, By: r.By, Enable: r.Enable, Volts: r.Volts, Diode: r.Diode,
				Ohms: r.Ohms, Order: r.Order, Note: r.Note, Consumers: consumers(b, r, depth == 0), Depth: depth, State: Unknown,
				parent: parent, expected: r.VoltsExpected})
			grow(len(t.Rails)-1, r.Name, depth+1)
		}
	}
	grow(-1, "", 0)
	return t
}

// late puts those whose order is not stated last.
func late(order int) int {
	if order == 0 {
		return 1 << 30
	}
	return order
}

// consumers are the parts on a rail's net that draw from it: neither what makes it nor
// capacitors, resistors and test points, nor the plug by which it comes in.
func consumers(b *notebook.Board, r *casefile.Rail, comesIn bool) (out []string) {
	net, ok := b.Net(r.Name)
	if !ok {
		return nil
	}
	makes := notebook.Designators(r.By)
	for _, p := range b.PartsOf(net) {
		letters := strings.TrimRight(p.Ref, "0123456789")
		if !slices.Contains([]string{"U", "J", "Q", "K", "M", "IC"}, letters) || slices.Contains(makes, p.Ref) ||
			comesIn && letters == "J" {
			continue
		}
		out = append(out, p.Ref)
	}
	return out
}

// Judge marks the tree by what was read, by the names of rails in any case of letters. The
// error names a rail that the board does not have, or a reading that cannot be judged.
func (t *Tree) Judge(read map[string]quantity.Value) error {
	t.First, t.Next = "", nil
	known := map[string]int{}
	for i := range t.Rails {
		known[strings.ToLower(t.Rails[i].Name)] = i
		t.Rails[i].State, t.Rails[i].Read, t.Rails[i].Verdict = Unknown, "", ""
	}
	for name, v := range read {
		i, ok := known[strings.ToLower(name)]
		if !ok {
			return &UnknownRailError{name}
		}
		r := &t.Rails[i]
		r.Read = v.String()
		if !r.expected.Judges() {
			return fmt.Errorf("what %s should show is not written under volts", r.Name)
		}
		verdict, err := quantity.Judge(r.expected, v, quantity.Decimal{})
		if err != nil {
			return fmt.Errorf("%s: %w", r.Name, err)
		}
		r.Verdict, r.State = verdict.String(), Good
		if verdict != quantity.In {
			r.State = Bad
		}
	}
	for i := range t.Rails { // parents come first
		r := &t.Rails[i]
		if r.parent >= 0 && r.State != Good {
			if up := t.Rails[r.parent].State; up == Bad || up == Follows {
				r.State = Follows
			}
		}
	}
	first := -1
	for i := range t.Rails {
		if t.Rails[i].State == Bad && (first < 0 || late(t.Rails[i].Order) < late(t.Rails[first].Order)) {
			first = i
		}
	}
	if first >= 0 {
		t.First = t.Rails[first].Name
		t.Next = t.after(first)
		return nil
	}
	for i := range t.Rails { // none is known to fail: what was not measured, from the top of the tree
		if t.Rails[i].State == Unknown {
			t.Next = append(t.Next, t.Rails[i].Name+": voltage")
		}
	}
	return nil
}

// UnknownRailError names a rail that the board does not have.
type UnknownRailError struct{ Name string }

func (e *UnknownRailError) Error() string { return fmt.Sprintf("the board has no rail %q", e.Name) }

// after is what to check at a rail that fails, what needs no power first.
func (t *Tree) after(i int) (out []string) {
	r := &t.Rails[i]
	if r.Ohms != "" {
		out = append(out, fmt.Sprintf("%s to ground without power: %s", r.Name, r.Ohms))
	} else {
		out = append(out, fmt.Sprintf("%s to ground without power", r.Name))
	}
	if r.Diode != "" {
		out = append(out, fmt.Sprintf("%s in diode mode, red on ground: %s", r.Name, r.Diode))
	}
	if r.parent >= 0 {
		up := &t.Rails[r.parent]
		if up.State == Unknown {
			out = append(out, fmt.Sprintf("%s, which it is made from: %s", up.Name, cmp.Or(up.Volts, "voltage")))
		}
	} else if r.From != "" {
		out = append(out, r.From+", where it comes in")
	}
	if r.Enable != "" {
		out = append(out, fmt.Sprintf("%s, which enables it", r.Enable))
	}
	if r.By != "" {
		out = append(out, fmt.Sprintf("%s, which makes it", r.By))
	}
	return out
}

// Proposed is a row of the Rails table that the netlist suggests. What it cannot tell is
// left empty.
type Proposed struct{ Name, From, By string }

// Propose looks through the netlist for supplies and what makes them: a converter drives
// an inductor whose other end is the rail, and its other supply is what it is made from.
// What is not certain is left empty: it is for a person to say.
func Propose(b *notebook.Board) []Proposed {
	var out []Proposed
	for i := range b.Nets {
		net := &b.Nets[i]
		if net.Kind != board.Supply {
			continue
		}
		p := Proposed{Name: net.Name}
		for _, l := range b.PartsOf(net) {
			if strings.TrimRight(l.Ref, "0123456789") != "L" || len(l.Pins) != 2 {
				continue
			}
			for _, pin := range l.Pins {
				if pin.Net < 0 || pin.Net == i || b.Nets[pin.Net].Kind == board.Supply {
					continue
				}
				for _, u := range b.PartsOf(&b.Nets[pin.Net]) {
					if strings.TrimRight(u.Ref, "0123456789") != "U" {
						continue
					}
					if from, ok := onlyOtherSupply(b, u, i); ok {
						p.By, p.From = u.Ref+", "+l.Ref, from
					} else {
						p.By = u.Ref + ", " + l.Ref
					}
				}
			}
		}
		out = append(out, p)
	}
	// A fuse or bead that joins two supplies makes the one whose name is the longer, +5V_F
	// of +5V; which way round it is elsewhere only a person can tell.
	for i := range out {
		for j := range out {
			if p := &out[i]; p.By == "" && i != j && strings.HasPrefix(p.Name, out[j].Name+"_") {
				if ref, ok := joins(b, p.Name, out[j].Name); ok {
					p.By, p.From = ref, out[j].Name
				}
			}
		}
	}
	return out
}

// joins is the one part of two pins between two nets.
func joins(b *notebook.Board, one, other string) (ref string, ok bool) {
	x, _ := b.Net(one)
	y, _ := b.Net(other)
	for _, p := range b.PartsOf(x) {
		if len(p.Pins) == 2 && slices.ContainsFunc(b.PartsOf(y), func(q *board.Part) bool { return q == p }) {
			if ok {
				return "", false
			}
			ref, ok = p.Ref, true
		}
	}
	return ref, ok
}

// onlyOtherSupply is the one supply of a part beside a net; ok is false where there are
// several or none.
func onlyOtherSupply(b *notebook.Board, u *board.Part, but int) (name string, ok bool) {
	for _, pin := range u.Pins {
		if pin.Net < 0 || pin.Net == but || b.Nets[pin.Net].Kind != board.Supply || b.Nets[pin.Net].Name == name {
			continue
		}
		if name != "" {
			return "", false
		}
		name = b.Nets[pin.Net].Name
	}
	return name, name != ""
}
