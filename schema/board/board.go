// Package board knows what stands on a circuit board and how it is joined: the
// parts with their places, from a parts list, and the nets, from a netlist in
// IPC-D-356A.
//
// [ReadParts] and [ReadNetlist] read the two files, [New] joins them. A [Board]
// answers what a part does ([Board.Role]), what is around it ([Board.Near]),
// and what a net loses when a part is gone ([Board.Without]). Lengths are in
// millimetres, angles in degrees counter-clockwise, y points away from the
// reader; a board is read-only and safe for concurrent use. Nothing here reads
// a disk.
package board

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/tidwall/rtree"

	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// Side is the face of the board that a part or pad is on.
type Side uint8

// The two faces. Both is for pads of holes that go through.
const (
	Top Side = iota
	Bottom
	Both
)

// String returns the word for the side.
func (s Side) String() string { return [...]string{"top", "bottom", "both"}[s] }

// Part is a part of a board.
type Part struct {
	Ref, Value, Package string
	X, Y                float64 // of the body's centre, mm
	Rotation            float64 // degrees, counter-clockwise
	Side                Side
	Size                [2]float64 // of the body before rotation, mm; 0 when not known
	Pins                []Pin      // by name; none without a netlist
	Line                int        // of the parts list; 0 when only the netlist has it
}

// Pin is a pad of a part, or of no part where the netlist names a point alone.
type Pin struct {
	Name string
	Net  int // index into Board.Nets, -1 for none
	X, Y float64
	Side Side
}

// Net is a set of pins that are joined.
type Net struct {
	Name string
	Pins []PinRef
	Kind NetKind
}

// PinRef says which pin of which part; both are indexes.
type PinRef struct{ Part, Pin int }

// Point is a place on the board, mm.
type Point struct{ X, Y float64 }

// Board is what the two files say.
type Board struct {
	Parts   []Part // in the natural order of their designators
	Nets    []Net  // likewise, of their names
	Outline []Point
	Drawn   bool  // the outline comes from the netlist; otherwise it is a box around the parts
	Shift   Point // by how much the netlist was moved onto the parts list, mm

	refs, nets map[string]int
	space      [2]rtree.RTreeG[int]
}

// New joins a parts list and a netlist, either of which may be nil. Parts that
// only the netlist knows are added, with the size of their pads. The name is
// that of the netlist, for diagnostics.
func New(parts []Part, n *Netlist, name string) (*Board, []diagnostic.Diagnostic) {
	b := &Board{Parts: slices.Clone(parts), refs: make(map[string]int, len(parts)), nets: map[string]int{}}
	report := reporter{file: name}
	for i := range b.Parts {
		b.Parts[i].Pins = nil
		b.refs[key(b.Parts[i].Ref)] = i
		if b.Parts[i].Size == ([2]float64{}) {
			b.Parts[i].Size, _ = BodySize(b.Parts[i].Package)
		}
	}
	if n != nil {
		b.takeNetlist(n, &report)
	}
	b.sortAll()
	if len(b.Outline) == 0 {
		b.Outline = b.around()
	}
	for i := range b.Parts {
		p := &b.Parts[i]
		low, high := p.bounds()
		b.space[p.Side&1].Insert(low, high, i)
	}
	return b, report.done()
}

// key folds a designator or a net's name for looking it up.
func key(s string) string { return strings.ToUpper(strings.TrimSpace(s)) }

func (b *Board) takeNetlist(n *Netlist, report *reporter) {
	b.Outline, b.Drawn = n.Outline, len(n.Outline) > 2
	listed := len(b.Parts)
	unknown := 0
	for _, r := range n.Pins {
		if r.Ref == "" {
			continue
		}
		i, ok := b.refs[key(r.Ref)]
		if !ok {
			i = len(b.Parts)
			b.refs[key(r.Ref)] = i
			b.Parts = append(b.Parts, Part{Ref: r.Ref, Side: r.Side & 1})
			if listed > 0 {
				unknown++
			}
		}
		p := &b.Parts[i]
		p.Pins = append(p.Pins, Pin{Name: r.Pin, Net: b.net(r.Net), X: r.X, Y: r.Y, Side: r.Side})
	}
	for _, r := range n.Pins {
		if r.Ref == "" {
			b.net(r.Net) // a via: its net exists though no part is on it
		}
	}
	if unknown > 0 {
		report.say(0, 0, diagnostic.Note,
			"%d designators are in the netlist and not in the parts list; they are taken over with the size of their pads", unknown)
	}
	b.align(listed, report)
	for i := listed; i < len(b.Parts); i++ {
		b.Parts[i].fromPins()
	}
	for i := range b.Parts[:listed] {
		if p := &b.Parts[i]; p.Size == ([2]float64{}) {
			p.sizeFromPins()
		}
	}
}

// net returns the index of the net, new or known; -1 for "not connected".
func (b *Board) net(name string) int {
	if name == "" || key(name) == "N/C" {
		return -1
	}
	if i, ok := b.nets[key(name)]; ok {
		return i
	}
	b.nets[key(name)] = len(b.Nets)
	b.Nets = append(b.Nets, Net{Name: name, Kind: kindOfNet(name)})
	return len(b.Nets) - 1
}

// align moves the netlist, and its outline, by what most parts are off: the two
// files often count from different corners.
func (b *Board) align(listed int, report *reporter) {
	var dx, dy []float64
	for i := range b.Parts[:listed] {
		p := &b.Parts[i]
		if len(p.Pins) < 2 || len(p.Pins) > 8 {
			continue
		}
		low, high := p.pinBounds()
		dx = append(dx, p.X-(low.X+high.X)/2)
		dy = append(dy, p.Y-(low.Y+high.Y)/2)
	}
	if len(dx) < 3 {
		return
	}
	d := Point{middle(dx), middle(dy)}
	if math.Hypot(d.X, d.Y) < 0.2 {
		return
	}
	agree := 0
	for i := range dx {
		if math.Abs(dx[i]-d.X) < 0.5 && math.Abs(dy[i]-d.Y) < 0.5 {
			agree++
		}
	}
	if 2*agree < len(dx) {
		report.say(0, 0, diagnostic.Warning,
			"the pins of %d of %d parts do not lie where the parts list has those parts; are both of one revision, and in the units that they say?", len(dx)-agree, len(dx))
		return
	}
	b.Shift = d
	for i := range b.Parts {
		for j := range b.Parts[i].Pins {
			b.Parts[i].Pins[j].X += d.X
			b.Parts[i].Pins[j].Y += d.Y
		}
	}
	b.Outline = slices.Clone(b.Outline)
	for i := range b.Outline {
		b.Outline[i].X += d.X
		b.Outline[i].Y += d.Y
	}
	report.say(0, 0, diagnostic.Note, "the netlist counts from another corner than the parts list; it was moved by %.2f mm, %.2f mm", d.X, d.Y)
}

func middle(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	return s[len(s)/2]
}

// sortAll orders parts and nets, and lists the pins of each net.
func (b *Board) sortAll() {
	slices.SortStableFunc(b.Parts, func(x, y Part) int { return natural(x.Ref, y.Ref) })
	order := make([]int, len(b.Nets))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(x, y int) int { return natural(b.Nets[x].Name, b.Nets[y].Name) })
	at, nets := make([]int, len(order)), make([]Net, len(order))
	for to, from := range order {
		at[from], nets[to] = to, b.Nets[from]
		b.nets[key(b.Nets[from].Name)] = to
	}
	b.Nets = nets
	for i := range b.Parts {
		p := &b.Parts[i]
		b.refs[key(p.Ref)] = i
		slices.SortStableFunc(p.Pins, func(x, y Pin) int { return natural(x.Name, y.Name) })
		for j := range p.Pins {
			if n := p.Pins[j].Net; n >= 0 {
				p.Pins[j].Net = at[n]
				b.Nets[at[n]].Pins = append(b.Nets[at[n]].Pins, PinRef{i, j})
			}
		}
	}
}

// natural compares names with numbers in them as people order them: C9 before
// C10.
func natural(a, b string) int {
	for a != "" && b != "" {
		na, ra := leadingNumber(a)
		nb, rb := leadingNumber(b)
		if na != "" && nb != "" {
			x, y := strings.TrimLeft(na, "0"), strings.TrimLeft(nb, "0")
			if c := cmp.Or(cmp.Compare(len(x), len(y)), strings.Compare(x, y)); c != 0 {
				return c
			}
			a, b = ra, rb
			continue
		}
		if a[0] != b[0] {
			return cmp.Compare(a[0], b[0])
		}
		a, b = a[1:], b[1:]
	}
	return cmp.Compare(len(a), len(b))
}

func leadingNumber(s string) (number, rest string) {
	i := 0
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	return s[:i], s[i:]
}

// Part returns the part with the designator, in any case of letters.
func (b *Board) Part(ref string) (*Part, bool) {
	i, ok := b.refs[key(ref)]
	if !ok {
		return nil, false
	}
	return &b.Parts[i], true
}

// Net returns the net with the name, in any case of letters.
func (b *Board) Net(name string) (*Net, bool) {
	i, ok := b.nets[key(name)]
	if !ok {
		return nil, false
	}
	return &b.Nets[i], true
}

// Nearest returns the designator or net closest to a word that is neither, or
// an empty text.
func (b *Board) Nearest(word string) string {
	names := make([]string, 0, len(b.Parts)+len(b.Nets))
	for i := range b.Parts {
		names = append(names, b.Parts[i].Ref)
	}
	for i := range b.Nets {
		names = append(names, b.Nets[i].Name)
	}
	return terms.Nearest(key(word), names)
}

// NetsOf returns the names of the nets that a part is on, in their order.
func (b *Board) NetsOf(p *Part) []string {
	var names []string
	for _, i := range p.nets() {
		names = append(names, b.Nets[i].Name)
	}
	return names
}

// nets are the indexes of the nets that a part is on, each once.
func (p *Part) nets() []int {
	var list []int
	for _, pin := range p.Pins {
		if pin.Net >= 0 && !slices.Contains(list, pin.Net) {
			list = append(list, pin.Net)
		}
	}
	slices.Sort(list)
	return list
}

// Wired reports whether the board has a netlist.
func (b *Board) Wired() bool { return len(b.Nets) > 0 }

// reporter gathers what is wrong with a file, by line, and stops repeating
// itself.
type reporter struct {
	file string
	list []diagnostic.Diagnostic
	more map[string]int
	said map[string]int
}

// most is how often one kind of message is given for a file; the rest is
// counted.
const most = 20

func (r *reporter) say(line, column int, s diagnostic.Severity, format string, args ...any) *diagnostic.Diagnostic {
	if r.said == nil {
		r.said, r.more = map[string]int{}, map[string]int{}
	}
	if r.said[format]++; r.said[format] > most {
		r.more[format]++
		return &diagnostic.Diagnostic{}
	}
	r.list = append(r.list, diagnostic.Diagnostic{File: r.file, Line: line, Column: column, Severity: s,
		Rule: diagnostic.BoardFile, Message: fmt.Sprintf(format, args...)})
	return &r.list[len(r.list)-1]
}

func (r *reporter) done() []diagnostic.Diagnostic {
	total := 0
	for _, n := range r.more {
		total += n
	}
	if total > 0 {
		r.list = append(r.list, diagnostic.Diagnostic{File: r.file, Severity: diagnostic.Warning, Rule: diagnostic.BoardFile,
			Message: fmt.Sprintf("%d more lines have problems like these", total)})
	}
	return r.list
}
