package board

import (
	"cmp"
	"math"
	"slices"
)

// unknownSize is what a part of unknown size takes up in drawings and
// distances, mm.
const unknownSize = 0.6

// body is the part's length and width, with a stand-in where they are unknown.
func (p *Part) body() (length, width float64) {
	return cmp.Or(p.Size[0], unknownSize), cmp.Or(p.Size[1], unknownSize)
}

// Corners returns the corners of the body as it lies on the board.
func (p *Part) Corners() [4]Point {
	l, w := p.body()
	sin, cos := math.Sincos(p.Rotation * math.Pi / 180)
	var out [4]Point
	for i, c := range [4]Point{{-l / 2, -w / 2}, {l / 2, -w / 2}, {l / 2, w / 2}, {-l / 2, w / 2}} {
		out[i] = Point{p.X + c.X*cos - c.Y*sin, p.Y + c.X*sin + c.Y*cos}
	}
	return out
}

// bounds is the box around the body.
func (p *Part) bounds() (low, high [2]float64) {
	low, high = [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for _, c := range p.Corners() {
		low[0], low[1] = min(low[0], c.X), min(low[1], c.Y)
		high[0], high[1] = max(high[0], c.X), max(high[1], c.Y)
	}
	return low, high
}

func (p *Part) pinBounds() (low, high Point) {
	low, high = Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}
	for _, pin := range p.Pins {
		low = Point{min(low.X, pin.X), min(low.Y, pin.Y)}
		high = Point{max(high.X, pin.X), max(high.Y, pin.Y)}
	}
	return low, high
}

// padMargin is how far a pad reaches beyond its centre, about, mm.
const padMargin = 0.5

// fromPins places a part that only the netlist knows.
func (p *Part) fromPins() {
	low, high := p.pinBounds()
	p.X, p.Y, p.Rotation = (low.X+high.X)/2, (low.Y+high.Y)/2, 0
	p.Size = [2]float64{high.X - low.X + 2*padMargin, high.Y - low.Y + 2*padMargin}
}

// sizeFromPins takes the box of the pads for the body, in the part's own
// direction.
func (p *Part) sizeFromPins() {
	if len(p.Pins) < 2 {
		return
	}
	low, high := p.pinBounds()
	l, w := high.X-low.X+padMargin, high.Y-low.Y+padMargin
	if quarter := int(math.Round(p.Rotation/90)) % 2; quarter != 0 {
		l, w = w, l
	}
	p.Size = [2]float64{l, w}
}

// around is a box around all parts and pins, a millimetre off.
func (b *Board) around() []Point {
	if len(b.Parts) == 0 {
		return nil
	}
	low, high := Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}
	for i := range b.Parts {
		l, h := b.Parts[i].bounds()
		low = Point{min(low.X, l[0]), min(low.Y, l[1])}
		high = Point{max(high.X, h[0]), max(high.Y, h[1])}
	}
	low, high = Point{low.X - 1, low.Y - 1}, Point{high.X + 1, high.Y + 1}
	return []Point{low, {high.X, low.Y}, high, {low.X, high.Y}}
}

// Neighbour is a part near another one.
type Neighbour struct {
	Part   *Part
	Gap    float64 // between the bodies, mm; 0 where they touch or overlap
	Centre float64 // between the centres, mm
}

// Near returns the parts on the same side whose bodies are no further than
// within from the part's, nearest first. It asks a spatial index, so the whole
// board is never gone through.
func (b *Board) Near(p *Part, within float64) []Neighbour {
	if within < 0 || math.IsNaN(within) {
		return nil
	}
	low, high := p.bounds()
	low, high = [2]float64{low[0] - within, low[1] - within}, [2]float64{high[0] + within, high[1] + within}
	corners := p.Corners()
	var out []Neighbour
	b.space[p.Side&1].Search(low, high, func(_, _ [2]float64, i int) bool {
		other := &b.Parts[i]
		if other == p {
			return true
		}
		if gap := gapBetween(corners, other.Corners()); gap <= within {
			out = append(out, Neighbour{other, gap, math.Hypot(other.X-p.X, other.Y-p.Y)})
		}
		return true
	})
	slices.SortFunc(out, func(x, y Neighbour) int {
		return cmp.Or(cmp.Compare(x.Gap, y.Gap), cmp.Compare(x.Centre, y.Centre), natural(x.Part.Ref, y.Part.Ref))
	})
	return out
}

// Gap returns the distance between the bodies of two parts, mm, seen from
// above: their sides are not asked.
func Gap(p, q *Part) float64 { return gapBetween(p.Corners(), q.Corners()) }

// gapBetween is the distance of two convex shapes: none where an edge of each
// crosses or one lies inside the other, else the least from a corner to an edge.
func gapBetween(a, b [4]Point) float64 {
	if overlap(a, b) {
		return 0
	}
	least := math.Inf(1)
	for i := range 4 {
		for j := range 4 {
			least = min(least, toEdge(a[i], b[j], b[(j+1)%4]), toEdge(b[i], a[j], a[(j+1)%4]))
		}
	}
	return least
}

// overlap asks for a line that separates the two, along the edges of either.
func overlap(a, b [4]Point) bool {
	for _, shape := range [2][4]Point{a, b} {
		for i := range 4 {
			p, q := shape[i], shape[(i+1)%4]
			n := Point{q.Y - p.Y, p.X - q.X}
			lowA, highA := spanAlong(a, n)
			lowB, highB := spanAlong(b, n)
			if highA < lowB || highB < lowA {
				return false
			}
		}
	}
	return true
}

func spanAlong(shape [4]Point, n Point) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, c := range shape {
		d := c.X*n.X + c.Y*n.Y
		low, high = min(low, d), max(high, d)
	}
	return low, high
}

func toEdge(p, a, b Point) float64 {
	dx, dy := b.X-a.X, b.Y-a.Y
	t := 0.0
	if l := dx*dx + dy*dy; l > 0 {
		t = min(1, max(0, ((p.X-a.X)*dx+(p.Y-a.Y)*dy)/l))
	}
	return math.Hypot(p.X-a.X-t*dx, p.Y-a.Y-t*dy)
}
