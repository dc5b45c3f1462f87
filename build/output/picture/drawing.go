package picture

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"unicode"
)

// Limits of a drawing.
const (
	maxElements = 50_000
	maxLevels   = 100
)

const svgSpace = "http://www.w3.org/2000/svg"

// source is an element of a drawing as it came.
type source struct {
	name string
	attr map[string]string
	kids []*source
	text string // of character data, whose name is ""
}

// Elements by what becomes of them; any other of SVG's own draws, runs or loads something
// in a way that is not followed here, and the drawing is refused.
var (
	shapeElements   = words(`path rect circle ellipse line polyline polygon`)
	definedElements = words(`linearGradient radialGradient marker clipPath pattern`)
	keptElements    = words(`svg g defs symbol text tspan stop`)
	unseenElements  = words(`script title desc metadata font font-face`)
)

func words(s string) map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(s) {
		m[w] = true
	}
	return m
}

// readDrawing reads the elements of SVG that may draw. Comments, scripts, titles,
// descriptions, metadata and what belongs to other namespaces draw nothing and are passed
// over.
func readDrawing(data []byte) (root *source, ids map[string]*source, err error) {
	d := xml.NewDecoder(bytes.NewReader(data))
	ids = map[string]*source{}
	var open []*source
	unseen, count := 0, 0
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			if root == nil {
				return nil, nil, errPicture
			}
			return root, ids, nil
		}
		if err != nil {
			return nil, nil, fmt.Errorf("the drawing cannot be read: %w", err)
		}
		switch t := token.(type) {
		case xml.StartElement:
			count++
			name := t.Name.Local
			ours := t.Name.Space == "" || t.Name.Space == svgSpace
			switch {
			case count > maxElements || len(open)+unseen >= maxLevels:
				return nil, nil, fmt.Errorf("the drawing has more than %d elements or %d levels; make it simpler, or save it as PNG", maxElements, maxLevels)
			case root == nil && (!ours || name != "svg"), root != nil && ours && name == "svg":
				return nil, nil, fmt.Errorf("the drawing has a <%s> where it is not published", name)
			case unseen > 0 || !ours || unseenElements[name]:
				unseen++
				continue
			case !shapeElements[name] && !definedElements[name] && !keptElements[name]:
				return nil, nil, fmt.Errorf("the drawing has a <%s>, which is not published; draw it with shapes, or save it as PNG", name)
			}
			e := &source{name: name, attr: map[string]string{}}
			if err := e.take(t.Attr); err != nil {
				return nil, nil, err
			}
			if root == nil {
				root = e
			} else if len(open) == 0 {
				return nil, nil, errPicture
			} else {
				open[len(open)-1].kids = append(open[len(open)-1].kids, e)
			}
			if id := e.attr["id"]; id != "" && ids[id] == nil {
				ids[id] = e
			}
			open = append(open, e)
		case xml.EndElement:
			if unseen > 0 {
				unseen--
			} else {
				open = open[:len(open)-1]
			}
		case xml.CharData:
			if n := len(open); unseen == 0 && n > 0 && (open[n-1].name == "text" || open[n-1].name == "tspan") {
				open[n-1].kids = append(open[n-1].kids, &source{text: readable(string(t))})
			}
		case xml.Directive:
			return nil, nil, errors.New("the drawing has a document type, which is not published; save it as plain SVG")
		case xml.ProcInst:
			if t.Target != "xml" {
				return nil, nil, errors.New("the drawing has a processing instruction, which is not published; save it as plain SVG")
			}
		}
	}
}

// take reads the attributes of an element. Those of its style stand above the others, as
// in CSS.
func (e *source) take(list []xml.Attr) error {
	style := ""
	for _, a := range list {
		name, value := a.Name.Local, strings.TrimSpace(a.Value)
		switch {
		case a.Name.Space != "" && name == "href", a.Name.Space == "" && name == "href":
			return fmt.Errorf("the drawing has a <%s> that refers to something else, which is not published", e.name)
		case a.Name.Space != "":
		case name == "style":
			style = value
		case name == "id":
			e.attr[name] = a.Value
		default:
			if err := e.set(name, value); err != nil {
				return err
			}
		}
	}
	for declaration := range strings.SplitSeq(style, ";") {
		name, value, ok := strings.Cut(declaration, ":")
		name = strings.ToLower(strings.TrimSpace(name))
		value, _, _ = strings.Cut(value, "!")
		if !ok {
			continue
		}
		if _, known := grammar[name]; known && !presentation[name] {
			return fmt.Errorf("the drawing has %s in a style, which is not published; give it as an attribute", name)
		}
		if err := e.set(name, strings.TrimSpace(value)); err != nil {
			return err
		}
	}
	return nil
}

// set takes a value as far as it is one of the attribute; what is none is passed over, as
// browsers do. What leads outside is refused, and so is what draws in a way that is not
// followed here.
func (e *source) set(name, value string) error {
	low := strings.ToLower(value)
	if strings.Contains(low, "url(") && !reference.MatchString(value) {
		return fmt.Errorf("the drawing's attribute %s refers to something outside, which is not published", name)
	}
	read, ok := grammar[name]
	if !ok {
		if !strings.HasPrefix(name, "on") && drawsOtherwise[name] && !plainly[low] {
			return fmt.Errorf("the drawing has the attribute %s, which is not published; save it as PNG", name)
		}
		return nil
	}
	v, ok := read(value)
	if ok {
		e.attr[name] = v
	} else if strings.Contains(value, "(") {
		return fmt.Errorf("the drawing's attribute %s is written in a way that is not published; save it as PNG", name)
	}
	return nil
}

// readable gives the letters of a text that have a shape: control and format characters,
// variation selectors and letters without ink go, and white space is one blank.
func readable(s string) string {
	var out strings.Builder
	blank := false
	for _, r := range s {
		switch {
		case unicode.IsSpace(r):
			blank = true
			continue
		case !unicode.IsPrint(r), unicode.In(r, unicode.Variation_Selector, unicode.Other_Default_Ignorable_Code_Point), r == 0x2800:
			continue
		}
		if blank {
			out.WriteByte(' ')
			blank = false
		}
		out.WriteRune(r)
	}
	if blank {
		out.WriteByte(' ')
	}
	return out.String()
}

// drawn is an element as it is written.
type drawn struct {
	name string
	attr []pair
	kids []*drawn
	text string
	gone bool // nobody sees it
}

type pair struct{ name, value string }

// cleaner follows a drawing as a browser draws it, as far as it has to know what is seen.
type cleaner struct {
	ids     map[string]*source
	defined map[string]*drawn // by the id that it came with
	busy    int
	work    int
}

// cleanSVG writes a drawing anew with what is drawn inside its view: shapes, letters, and
// the gradients, patterns, markers and clips that these use. Names of ids are ours,
// numbers have six figures, a font is one of the generic ones. Title and description go:
// a picture on a page shows neither, and its caption in the case says what it is of.
func cleanSVG(data []byte) ([]byte, error) {
	root, ids, err := readDrawing(data)
	if err != nil {
		return nil, err
	}
	c := &cleaner{ids: ids, defined: map[string]*drawn{}}
	view := viewOf(root)
	if !view.some() {
		return nil, errors.New("the drawing has a view without any size")
	}
	out := &drawn{name: "svg", attr: []pair{{"xmlns", svgSpace}}}
	l := &layer{}
	start := initial(view)
	if err := c.container(root, out, start, l, 0); err != nil {
		return nil, err
	}
	if err := c.finish(l); err != nil {
		return nil, err
	}
	if !out.prune() {
		return nil, errors.New("nothing is drawn inside the drawing's view")
	}
	// What is used is written first, in the order of its use.
	names := map[string]string{}
	defs := &drawn{name: "defs"}
	var order []string
	use := func(e *drawn) { e.references(func(id string) { order = append(order, id) }) }
	for use(out); len(order) > 0; order = order[1:] {
		id := order[0]
		if d := c.defined[id]; d != nil && names[id] == "" {
			names[id] = fmt.Sprintf("a%d", len(names)+1)
			copied := *d
			copied.attr = append([]pair{{"id", names[id]}}, d.attr...)
			defs.kids = append(defs.kids, &copied)
			use(d)
		}
	}
	if len(defs.kids) > 0 {
		out.kids = append([]*drawn{defs}, out.kids...)
	}
	var b bytes.Buffer
	out.write(&b, names)
	return b.Bytes(), nil
}

// prune takes out what is not seen, and groups that hold nothing any more.
func (e *drawn) prune() bool {
	if e.gone {
		return false
	}
	if shapeElements[e.name] || e.name == "" {
		return true
	}
	kept, some := e.kids[:0], false
	for _, k := range e.kids {
		if k.prune() {
			kept = append(kept, k)
			some = some || k.name != "" || strings.TrimSpace(k.text) != ""
		}
	}
	e.kids = kept
	return some
}

func (e *drawn) references(use func(id string)) {
	for _, a := range e.attr {
		if m := reference.FindStringSubmatch(a.value); m != nil {
			use(m[1])
		}
	}
	for _, k := range e.kids {
		k.references(use)
	}
}

func (e *drawn) write(b *bytes.Buffer, names map[string]string) {
	if e.name == "" {
		_ = xml.EscapeText(b, []byte(e.text))
		return
	}
	b.WriteString("<" + e.name)
	for _, a := range e.attr {
		value := a.value
		if m := reference.FindStringSubmatch(value); m != nil {
			value = "none" // what is not there paints nothing
			if n := names[m[1]]; n != "" {
				value = "url(#" + n + ")"
			} else if a.name != "fill" && a.name != "stroke" {
				continue
			}
		}
		b.WriteString(" " + a.name + `="` + value + `"`) // the grammar leaves nothing to escape
	}
	if len(e.kids) == 0 {
		b.WriteString("/>")
		return
	}
	b.WriteByte('>')
	for _, k := range e.kids {
		k.write(b, names)
	}
	b.WriteString("</" + e.name + ">")
}

// keep copies attributes in the order of their names.
func (e *drawn) keep(s *source, which func(name string) bool) {
	for _, name := range slices.Sorted(maps.Keys(s.attr)) {
		if name != "id" && name != "display" && name != "visibility" && which(name) {
			e.attr = append(e.attr, pair{name, s.attr[name]})
		}
	}
}

// container draws the children of an element.
func (c *cleaner) container(s *source, to *drawn, at state, l *layer, level int) error {
	if level > maxLevels {
		return errPicture
	}
	if s.attr["display"] == "none" {
		return nil
	}
	at, err := c.inherit(s, at)
	if err != nil {
		return err
	}
	to.keep(s, func(name string) bool { return applies[s.name][name] || presentation[name] })
	for _, k := range s.kids {
		switch {
		case k.name == "g":
			g := &drawn{name: "g"}
			to.kids = append(to.kids, g)
			if err := c.container(k, g, at, l, level+1); err != nil {
				return err
			}
		case k.name == "text":
			if err := c.text(k, to, at, l); err != nil {
				return err
			}
		case shapeElements[k.name]:
			if err := c.shape(k, to, at, l); err != nil {
				return err
			}
		}
	}
	return nil
}

func (c *cleaner) shape(s *source, to *drawn, at state, l *layer) error {
	if s.attr["display"] == "none" {
		return nil
	}
	at, err := c.inherit(s, at)
	if err != nil {
		return err
	}
	inner, outer, values, ok := outline(s, at)
	if !ok {
		return nil
	}
	e := &drawn{name: s.name}
	e.keep(s, func(name string) bool { return applies[s.name][name] && values[name] == "" || presentation[name] })
	for _, name := range slices.Sorted(maps.Keys(values)) {
		e.attr = append(e.attr, pair{name, values[name]})
	}
	to.kids = append(to.kids, e)
	l.paint(e, s.name, inner, outer, at)
	return nil
}

// define makes what a reference names, once.
func (c *cleaner) define(id string) error {
	s := c.ids[id]
	if s == nil || !definedElements[s.name] || c.defined[id] != nil {
		return nil
	}
	if c.busy++; c.busy > 10 {
		return errors.New("the drawing's patterns, markers or clips lie too deep in each other")
	}
	defer func() { c.busy-- }()
	e := &drawn{name: s.name}
	c.defined[id] = e
	if strings.HasSuffix(s.name, "Gradient") {
		e.keep(s, func(name string) bool { return applies[s.name][name] })
		for _, k := range s.kids {
			if k.name == "stop" {
				stop := &drawn{name: "stop"}
				stop.keep(k, func(name string) bool { return applies["stop"][name] })
				e.kids = append(e.kids, stop)
			}
		}
		return nil
	}
	if s.holds("text") {
		return fmt.Errorf("the drawing has letters in a <%s>, which is not published; draw them where they are seen", s.name)
	}
	at := initial(tileOf(s))
	at.shapeOnly = s.name == "clipPath"
	l := &layer{}
	if err := c.container(s, e, at, l, 0); err != nil {
		return err
	}
	if err := c.finish(l); err != nil {
		return err
	}
	e.prune()
	return nil
}

func (s *source) holds(name string) bool {
	return s.name == name || slices.ContainsFunc(s.kids, func(k *source) bool { return k.holds(name) })
}

// finish marks what a layer does not show.
func (c *cleaner) finish(l *layer) error {
	return l.hide(&c.work)
}

// text draws a text and the parts in it, letter runs one by one.
func (c *cleaner) text(s *source, to *drawn, at state, l *layer) error {
	var pen [2]float64
	e, err := c.run(s, at, l, &pen, 0)
	if err == nil && e != nil {
		to.kids = append(to.kids, e)
	}
	return err
}

func (c *cleaner) run(s *source, at state, l *layer, pen *[2]float64, level int) (*drawn, error) {
	if s.attr["display"] == "none" || level > maxLevels {
		return nil, nil
	}
	at, err := c.inherit(s, at)
	if err != nil {
		return nil, err
	}
	e := &drawn{name: s.name}
	e.keep(s, func(name string) bool { return applies["text"][name] || presentation[name] })
	for axis, name := range []string{"x", "y"} {
		if v, ok := s.length(name, at, axis); ok {
			pen[axis] = v
		}
		if v, ok := s.length("d"+name, at, axis); ok {
			pen[axis] += v
		}
	}
	for _, k := range s.kids {
		switch {
		case k.name == "tspan":
			part, err := c.run(k, at, l, pen, level+1)
			if err != nil {
				return nil, err
			}
			if part != nil {
				e.kids = append(e.kids, part)
			}
		case k.name == "" && k.text != "":
			letters := &drawn{text: k.text}
			e.kids = append(e.kids, letters)
			if strings.TrimSpace(k.text) != "" {
				where := letterBox(k.text, *pen, at)
				l.paint(letters, "", where, where, at)
				pen[0] += letterWidth * at.fontSize * float64(len([]rune(k.text)))
			}
		}
	}
	return e, nil
}
