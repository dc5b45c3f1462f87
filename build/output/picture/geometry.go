package picture

import (
	"errors"
	"image/color"
	"math"
	"strconv"
	"strings"
)

// What counts as not seen in a drawing. Common practice, no source.
const (
	faintest    = 0.02       // opacity below which nothing is seen
	likeGround  = 24         // levels of 255 that letters differ from what is beneath them
	smallest    = 1.0 / 5000 // of the view's longer side, for a shape
	smallLetter = 1.0 / 500  // of the view's longer side, for the size of a font
	letterWidth = 0.6        // of the size of a font, about
	maxWork     = 50_000_000 // comparisons of one drawing
)

// box is an area that is upright, in units of the drawing's view.
type box struct{ x0, y0, x1, y1 float64 }

var (
	nowhere    = box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	everywhere = box{math.Inf(-1), math.Inf(-1), math.Inf(1), math.Inf(1)}
)

// some reports whether a box has any place; one that cannot be computed has every place.
func (b box) some() bool { return b.x0 <= b.x1 && b.y0 <= b.y1 }

func (b box) and(o box) box {
	return box{max(b.x0, o.x0), max(b.y0, o.y0), min(b.x1, o.x1), min(b.y1, o.y1)}
}

func (b box) with(x, y float64) box {
	if math.IsNaN(x) || math.IsNaN(y) {
		return everywhere
	}
	return box{min(b.x0, x), min(b.y0, y), max(b.x1, x), max(b.y1, y)}
}

func (b box) grown(by float64) box { return box{b.x0 - by, b.y0 - by, b.x1 + by, b.y1 + by} }

func (b box) has(o box) bool { return b.x0 <= o.x0 && b.y0 <= o.y0 && b.x1 >= o.x1 && b.y1 >= o.y1 }

func (b box) longer() float64 { return max(b.x1-b.x0, b.y1-b.y0) }

// matrix is a, b, c, d, e, f of SVG 2, section 8.
type matrix [6]float64

func (m matrix) times(o matrix) matrix {
	return matrix{m[0]*o[0] + m[2]*o[1], m[1]*o[0] + m[3]*o[1], m[0]*o[2] + m[2]*o[3], m[1]*o[2] + m[3]*o[3],
		m[0]*o[4] + m[2]*o[5] + m[4], m[1]*o[4] + m[3]*o[5] + m[5]}
}

// of is the box around a box that was moved.
func (m matrix) of(b box) box {
	if !b.some() {
		return nowhere
	}
	if math.IsInf(b.x0, 0) || math.IsInf(b.x1, 0) || math.IsInf(b.y0, 0) || math.IsInf(b.y1, 0) {
		return everywhere
	}
	out := nowhere
	for _, p := range [][2]float64{{b.x0, b.y0}, {b.x1, b.y0}, {b.x0, b.y1}, {b.x1, b.y1}} {
		out = out.with(m[0]*p[0]+m[2]*p[1]+m[4], m[1]*p[0]+m[3]*p[1]+m[5])
	}
	return out
}

// stretch is at least the factor by which lengths grow.
func (m matrix) stretch() float64 {
	return math.Hypot(math.Hypot(m[0], m[1]), math.Hypot(m[2], m[3]))
}

// size is the root of the factor by which areas grow, 0 where nothing is left of them.
func (m matrix) size() float64 { return math.Sqrt(math.Abs(m[0]*m[3] - m[1]*m[2])) }

// upright reports whether rectangles stay so.
func (m matrix) upright() bool { return m[1] == 0 && m[2] == 0 || m[0] == 0 && m[3] == 0 }

// paint is what fills a shape or its line.
type paint struct {
	none bool
	flat bool // one colour, which is c
	c    color.NRGBA
}

func (p paint) seen(opacity float64) bool {
	if p.flat {
		opacity *= float64(p.c.A) / 255
	}
	return !p.none && opacity >= faintest
}

// state is what an element inherits.
type state struct {
	m                          matrix
	view                       box // what percentages are of
	visible                    box // where something is seen, in units of the view
	fill, stroke               paint
	fillOpacity, strokeOpacity float64
	opacity                    float64 // of all groups around
	strokeWidth, miter         float64
	fontSize                   float64
	anchor                     string
	hidden, clipped, marked    bool
	shapeOnly                  bool // within a clip nothing is painted
}

func initial(view box) state {
	return state{m: matrix{1, 0, 0, 1, 0, 0}, view: view, visible: view, fill: paint{flat: true, c: color.NRGBA{A: 0xFF}},
		stroke: paint{none: true}, fillOpacity: 1, strokeOpacity: 1, opacity: 1, strokeWidth: 1, miter: 4, fontSize: 16}
}

// inherit applies an element's own attributes, and makes what they refer to.
func (c *cleaner) inherit(s *source, at state) (state, error) {
	if c.work++; c.work > maxWork {
		return at, errWork
	}
	number := func(name string, to *float64) {
		if v, err := strconv.ParseFloat(s.attr[name], 64); err == nil {
			*to = v
		}
	}
	if t, ok := s.attr["transform"]; ok {
		at.m = at.m.times(matrixOf(t))
	}
	own := 1.0
	number("opacity", &own)
	at.opacity *= min(max(own, 0), 1)
	number("fill-opacity", &at.fillOpacity)
	number("stroke-opacity", &at.strokeOpacity)
	number("stroke-miterlimit", &at.miter)
	for name, to := range map[string]*paint{"fill": &at.fill, "stroke": &at.stroke} {
		if v, ok := s.attr[name]; ok {
			*to = paintOf(v)
			if m := reference.FindStringSubmatch(v); m != nil {
				if err := c.define(m[1]); err != nil {
					return at, err
				}
				e := c.defined[m[1]]
				to.none = e == nil || e.name == "marker" || e.name == "clipPath"
			}
		}
	}
	if v, ok := s.length("stroke-width", at, 2); ok {
		at.strokeWidth = v
	}
	if v := s.attr["font-size"]; v != "" {
		n, unit := split(v)
		switch unit {
		case "em":
			at.fontSize *= n
		case "ex":
			at.fontSize *= n / 2
		case "%":
			at.fontSize *= n / 100
		default:
			at.fontSize = n * units[unit]
		}
	}
	if v := s.attr["text-anchor"]; v != "" {
		at.anchor = v
	}
	if v := s.attr["visibility"]; v != "" {
		at.hidden = v != "visible"
	}
	for _, name := range []string{"marker-start", "marker-mid", "marker-end"} {
		if v, ok := s.attr[name]; ok {
			m := reference.FindStringSubmatch(v)
			if m == nil {
				continue
			}
			if err := c.define(m[1]); err != nil {
				return at, err
			}
			if e := c.defined[m[1]]; e == nil || e.name != "marker" {
				delete(s.attr, name)
				continue
			}
			at.marked = true
		}
	}
	if m := reference.FindStringSubmatch(s.attr["clip-path"]); m != nil {
		if err := c.define(m[1]); err != nil {
			return at, err
		}
		if e := c.defined[m[1]]; e == nil || e.name != "clipPath" {
			delete(s.attr, "clip-path")
			return at, nil
		}
		at.clipped = true
		if clip := c.ids[m[1]]; clip.attr["clipPathUnits"] != "objectBoundingBox" {
			within := initial(at.view)
			within.m = at.m
			if t, ok := clip.attr["transform"]; ok {
				within.m = within.m.times(matrixOf(t))
			}
			around := nowhere
			for _, k := range clip.kids {
				if !shapeElements[k.name] || k.attr["display"] == "none" {
					continue
				}
				// Its outline is read again for everything that it clips.
				c.work += 1 + len(k.attr["d"]) + len(k.attr["points"]) + len(k.attr["transform"])
				if c.work > maxWork {
					return at, errWork
				}
				own := within
				if t, ok := k.attr["transform"]; ok {
					own.m = own.m.times(matrixOf(t))
				}
				own.visible = everywhere
				if _, b, _, ok := outline(k, own); ok {
					around = around.with(b.x0, b.y0).with(b.x1, b.y1)
				}
			}
			at.visible = at.visible.and(around)
		}
	}
	return at, nil
}

var errWork = errors.New("the drawing has too many elements over each other; save it as PNG")

// units are those of CSS lengths that do not depend on anything, in px.
var units = map[string]float64{"": 1, "px": 1, "pt": 4.0 / 3, "pc": 16, "in": 96, "cm": 96 / 2.54, "mm": 9.6 / 2.54}

// split cuts a length that the grammar has passed into its number and its unit.
func split(v string) (float64, string) {
	i := len(v)
	for i > 0 && (v[i-1] >= 'a' && v[i-1] <= 'z' || v[i-1] == '%') {
		i--
	}
	n, _ := strconv.ParseFloat(v[:i], 64)
	return n, v[i:]
}

// length is an attribute in px, the first where there are several; percentages are of the
// view's width, height or diagonal, em and ex of the size of the font.
func (s *source) length(name string, at state, axis int) (v float64, ok bool) {
	text, ok := s.attr[name]
	if !ok {
		return 0, false
	}
	text, _, _ = strings.Cut(text, " ")
	n, unit := split(text)
	if f, ok := units[unit]; ok {
		return n * f, true
	}
	switch unit {
	case "em":
		return n * at.fontSize, true
	case "ex":
		return n * at.fontSize / 2, true
	}
	w, h := at.view.x1-at.view.x0, at.view.y1-at.view.y0
	return n / 100 * []float64{w, h, math.Hypot(w, h) / math.Sqrt2}[axis], true
}

// viewOf is the part of the plane that a drawing shows: its view box, with what lies
// beside that where width and height have another shape (SVG 2, section 8.2).
func viewOf(s *source) box {
	w, hasW := s.length("width", initial(everywhere), 0)
	h, hasH := s.length("height", initial(everywhere), 1)
	if math.IsNaN(w) || math.IsInf(w, 0) {
		hasW = false
	}
	if math.IsNaN(h) || math.IsInf(h, 0) {
		hasH = false
	}
	v, ok := viewBox(s)
	switch {
	case !ok && hasW && hasH:
		return box{0, 0, w, h}
	case !ok && s.attr["width"] == "" && s.attr["height"] == "":
		return box{0, 0, 300, 150} // CSS 2.2, section 10.3.2
	case !ok:
		return everywhere
	case !hasW || !hasH || w <= 0 || h <= 0 || s.attr["preserveAspectRatio"] == "none" ||
		strings.HasSuffix(s.attr["preserveAspectRatio"], "slice"):
		return v
	}
	scale := min(w/(v.x1-v.x0), h/(v.y1-v.y0))
	moreX, moreY := w/scale-(v.x1-v.x0), h/scale-(v.y1-v.y0)
	if s.attr["preserveAspectRatio"] == "" { // in the middle
		moreX, moreY = moreX/2, moreY/2
	}
	return box{v.x0 - moreX, v.y0 - moreY, v.x1 + moreX, v.y1 + moreY}
}

func viewBox(s *source) (box, bool) {
	n := numbersOf(s.attr["viewBox"])
	if len(n) != 4 {
		return box{}, false
	}
	b := box{n[0], n[1], n[0] + n[2], n[1] + n[3]}
	if n[2] <= 0 || n[3] <= 0 {
		b = nowhere
	}
	return b, true
}

// tileOf is the part of a pattern or marker that is shown, everywhere where that depends
// on what uses it.
func tileOf(s *source) box {
	if b, ok := viewBox(s); ok {
		return b
	}
	switch {
	case s.name == "marker":
		w, h := 3.0, 3.0 // SVG 2, section 13.7.1
		if v, ok := s.length("markerWidth", initial(everywhere), 0); ok {
			w = v
		}
		if v, ok := s.length("markerHeight", initial(everywhere), 1); ok {
			h = v
		}
		if b := (box{0, 0, w, h}); !math.IsNaN(w+h) && !math.IsInf(w+h, 0) {
			return b
		}
	case s.name == "pattern" && s.attr["patternUnits"] == "userSpaceOnUse" && s.attr["patternContentUnits"] != "objectBoundingBox":
		x, _ := s.length("x", initial(everywhere), 0)
		y, _ := s.length("y", initial(everywhere), 1)
		w, _ := s.length("width", initial(everywhere), 0)
		h, _ := s.length("height", initial(everywhere), 1)
		if b := (box{x, y, x + w, y + h}); !math.IsNaN(x+y+w+h) && !math.IsInf(x+y+w+h, 0) {
			return b
		}
	}
	return everywhere
}

// letterBox is about where letters stand.
func letterBox(text string, pen [2]float64, at state) box {
	width := letterWidth * at.fontSize * float64(len([]rune(strings.TrimSpace(text))))
	x := pen[0]
	switch at.anchor {
	case "middle":
		x -= width / 2
	case "end":
		x -= width
	}
	if math.IsNaN(x + pen[1] + width) {
		return everywhere
	}
	return at.m.of(box{x, pen[1] - 0.75*at.fontSize, x + width, pen[1] + 0.1*at.fontSize})
}

// layer is what is painted over each other, in its order.
type layer struct{ list []painted }

type painted struct {
	e       *drawn
	area    box // where it may be seen
	cover   box // what it hides for certain, nowhere for nothing
	covers  bool
	flat    bool // its whole look is one colour
	letters bool
	c       color.NRGBA
	opacity float64
}

// paint puts an element on top; one that is not seen by itself is marked so. inner is the
// shape alone, outer what its line may reach as well.
func (l *layer) paint(e *drawn, kind string, inner, outer box, at state) {
	if at.shapeOnly {
		return
	}
	fills := kind != "line" && at.fill.seen(at.fillOpacity*at.opacity)
	lines := at.strokeWidth > 0 && at.stroke.seen(at.strokeOpacity*at.opacity)
	area := outer.and(at.visible)
	view := at.view.longer()
	letters := kind == ""
	switch {
	case at.hidden || at.opacity < faintest, !fills && !lines && !(at.marked && !letters), !area.some(), at.m.size() == 0,
		letters && at.fontSize*at.m.size() < smallLetter*view, !letters && outer.longer() < smallest*view:
		e.gone = true
		return
	}
	p := painted{e: e, area: area, cover: nowhere, flat: fills && !lines && !at.marked && at.fill.flat, letters: letters,
		c: at.fill.c, opacity: at.fillOpacity * at.opacity}
	if kind == "rect" && at.m.upright() && fills && at.fill.flat && at.fill.c.A == 0xFF && p.opacity >= 1 && !at.clipped {
		p.cover, p.covers = inner, true
	}
	l.list = append(l.list, p)
}

// hide marks what lies wholly under a rectangle, and what has the colour of its ground.
func (l *layer) hide(work *int) error {
	for i := len(l.list) - 1; i >= 0; i-- {
		p := &l.list[i]
		if !p.covers || p.e.gone {
			continue
		}
		if *work += i; *work > maxWork {
			return errWork
		}
		for j := range i {
			if p.cover.has(l.list[j].area) {
				l.list[j].e.gone = true
			}
		}
	}
	for i := range l.list {
		p := &l.list[i]
		if p.e.gone || !p.flat {
			continue
		}
		ground, known := color.NRGBA{255, 255, 255, 255}, p.letters // the page
		for j := i - 1; j >= 0; j-- {
			if *work++; *work > maxWork {
				return errWork
			}
			o := &l.list[j]
			if o.e.gone || !o.area.and(p.area).some() {
				continue
			}
			if known = o.cover.has(p.area); known {
				ground = o.c
			}
			break
		}
		apart := 0.0
		for _, v := range [][2]uint8{{p.c.R, ground.R}, {p.c.G, ground.G}, {p.c.B, ground.B}} {
			apart = max(apart, math.Abs(float64(v[0])-float64(v[1]))*min(1, p.opacity)*float64(p.c.A)/255)
		}
		if known && (apart == 0 || p.letters && apart <= likeGround) {
			p.e.gone = true
		}
	}
	return nil
}

// outline is where a shape is: by itself, and with its line and markers. Its coordinates
// are given as they are written where they change; ok is false where nothing is drawn.
func outline(s *source, at state) (inner, outer box, values map[string]string, ok bool) {
	var local box
	length := func(name string, axis int) float64 { v, _ := s.length(name, at, axis); return v }
	reach := at.m.stretch() * at.strokeWidth / 2 * max(at.miter, math.Sqrt2)
	if at.shapeOnly || !at.stroke.seen(at.strokeOpacity*at.opacity) {
		reach = 0
	}
	if at.marked || math.IsNaN(reach) {
		reach = math.Inf(1)
	}
	switch s.name {
	case "rect":
		x, y, w, h := length("x", 0), length("y", 1), length("width", 0), length("height", 1)
		if w <= 0 || h <= 0 {
			return nowhere, nowhere, nil, false
		}
		local = nowhere.with(x, y).with(x+w, y+h)
		inner = at.m.of(local)
		if s.attr["rx"] != "" || s.attr["ry"] != "" {
			r := max(length("rx", 0), length("ry", 1)) * at.m.stretch()
			inner = inner.grown(-r)
		}
		return inner, at.m.of(local).grown(reach), nil, true
	case "circle", "ellipse":
		rx, ry := length("rx", 0), length("ry", 1)
		if s.name == "circle" {
			rx = length("r", 2)
			ry = rx
		} else if s.attr["rx"] == "" || s.attr["ry"] == "" { // SVG 2, section 10.4: the other one
			rx = max(rx, ry)
			ry = rx
		}
		if rx <= 0 || ry <= 0 {
			return nowhere, nowhere, nil, false
		}
		x, y := length("cx", 0), length("cy", 1)
		local = nowhere.with(x-rx, y-ry).with(x+rx, y+ry)
	case "line":
		local = nowhere.with(length("x1", 0), length("y1", 1)).with(length("x2", 0), length("y2", 1))
	case "polyline", "polygon":
		n := numbersOf(s.attr["points"])
		if len(n) < 4 {
			return nowhere, nowhere, nil, false
		}
		local = nowhere
		for i := 0; i+1 < len(n); i += 2 {
			local = local.with(n[i], n[i+1])
		}
	case "path":
		local = nowhere
		var d strings.Builder
		split := !at.marked && !at.shapeOnly && (at.fill.none || at.fill.flat) && (at.stroke.none || at.stroke.flat) && !at.clipped
		for _, sub := range subpaths(s.attr["d"]) {
			// A part that lies beside the view changes nothing of what is inside (a point
			// outside of its box has the winding number 0).
			if split && !at.m.of(sub.box).grown(reach).and(at.visible).some() {
				continue
			}
			local = local.with(sub.box.x0, sub.box.y0).with(sub.box.x1, sub.box.y1)
			d.WriteString(sub.d)
		}
		if d.Len() == 0 {
			return nowhere, nowhere, nil, false
		}
		b := at.m.of(local)
		return b, b.grown(reach), map[string]string{"d": d.String()}, true
	}
	inner = at.m.of(local)
	return inner, inner.grown(reach), nil, true
}
