package site

import (
	"fmt"
	"html"
	"html/template"
	"math"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/schema/board"
	"benchlore/schema/casefile"
)

// story draws a case's checks in their order, each as long as it took, and the repair
// after them; empty where fewer than two say their minutes.
func (s *site) story(k *casefile.Case) template.HTML {
	type step struct {
		minutes     int
		class, sign string
		said        string
	}
	var steps []step
	for i := range k.Findings {
		f := &k.Findings[i]
		if f.When == casefile.After || f.Minutes == 0 {
			continue
		}
		m := resultMark(f.Result)
		steps = append(steps, step{f.Minutes, m.Class, m.Sign, s.t("%s: %s, %d min", f.Check, s.t(m.Word), f.Minutes)})
	}
	if len(steps) < 2 {
		return ""
	}
	if k.Minutes != nil && k.Minutes.Repair != nil && *k.Minutes.Repair > 0 {
		steps = append(steps, step{*k.Minutes.Repair, "repair", "", s.t("repair, %d min", *k.Minutes.Repair)})
	}
	total := 0
	for _, x := range steps {
		total += x.minutes
	}
	var said []string
	var b strings.Builder
	at := 0
	for _, x := range steps {
		said = append(said, x.said)
		left, wide := 100*float64(at)/float64(total), 100*float64(x.minutes)/float64(total)
		fmt.Fprintf(&b, `<rect class="step-%s" x="%.2f%%" y="1" width="%.2f%%" height="26"><title>%s</title></rect>`, x.class, left, wide, html.EscapeString(x.said))
		if wide > 4 {
			fmt.Fprintf(&b, `<text x="%.2f%%" y="19">%s%d</text>`, left+wide/2, x.sign, x.minutes)
		}
		at += x.minutes
	}
	return template.HTML(fmt.Sprintf(`<svg class="story" height="28" role="img" aria-label="%s">%s</svg>`,
		html.EscapeString(s.t("In order: %s.", strings.Join(said, "; "))), b.String()))
}

// caseMap shows where on its board the parts lie that it speaks of.
type caseMap struct {
	Board link
	Sides []template.HTML
	Refs  []link
}

// mostMapped is how many parts a case's map rings; more would hide each other.
const mostMapped = 12

// caseMap is nil where the case names no part of a board that the notebook holds.
func (s *site) caseMap(root string, c *notebook.Case) *caseMap {
	b, ok := c.Board()
	if !ok {
		return nil
	}
	var refs []string
	take := func(text string) {
		for _, ref := range notebook.Designators(text) {
			if p, ok := b.Part(ref); ok && !slices.Contains(refs, p.Ref) && len(refs) < mostMapped {
				refs = append(refs, p.Ref)
			}
		}
	}
	k := &c.File.Case
	for i := range k.Parts {
		take(strings.Join(k.Parts[i].Refs(), " "))
	}
	for i := range k.Work {
		take(k.Work[i].Text["warm"] + " " + k.Work[i].Text["from"] + " " + k.Work[i].Text["to"])
	}
	for i := range k.Measurements {
		take(k.Measurements[i].Point)
	}
	if len(refs) == 0 {
		return nil
	}
	m := &caseMap{Board: link{b.Name, root + boardPath(c.Device, b)}}
	for _, side := range []board.Side{board.Top, board.Bottom} {
		var here []string
		for _, ref := range refs {
			if p, _ := b.Part(ref); p.Side == side {
				here = append(here, ref)
			}
		}
		if len(here) > 0 {
			m.Sides = append(m.Sides, s.mapSide(b, side, here))
		}
	}
	for _, ref := range refs {
		m.Refs = append(m.Refs, link{ref, root + boardRef(c.Device, b, ref)})
	}
	return m
}

// mapSide draws one side small: its edge, the larger bodies, and the named parts in rings.
func (s *site) mapSide(b *notebook.Board, side board.Side, refs []string) template.HTML {
	f := newFrameOf(b.Board)
	w, h := f.size()
	var bodies, marks strings.Builder
	for i := range b.Parts {
		p := &b.Parts[i]
		if p.Side != side || max(p.Size[0], p.Size[1]) < w/40 && !slices.Contains(refs, p.Ref) {
			continue
		}
		corners := p.Corners()
		bodies.WriteString(f.path(corners[:], side))
	}
	letter := w / 22
	for _, ref := range refs {
		p, _ := b.Part(ref)
		x, y := f.at(board.Point{X: p.X, Y: p.Y}, side)
		r := max(math.Hypot(p.Size[0], p.Size[1])/2+w/120, w/50)
		below := y + r + 0.95*letter
		if below > h {
			below = y - r - 0.25*letter
		}
		fmt.Fprintf(&marks, `<circle cx="%s" cy="%s" r="%s"></circle><text x="%s" y="%s">%s</text>`, num2(x), num2(y), num2(r),
			num2(min(max(x, letter), w-letter)), num2(below), html.EscapeString(ref))
	}
	return template.HTML(fmt.Sprintf(`<svg class="case-map" role="img" aria-label="%s" viewBox="0 0 %s %s" font-size="%s"><path class="edge" d="%s"></path><path class="bodies" d="%s"></path>%s</svg>`,
		html.EscapeString(s.t("%s with %s in rings", s.t(sideNames[side]), strings.Join(refs, ", "))), num2(w), num2(h), num2(letter),
		f.path(b.Outline, side), bodies.String(), marks.String()))
}

// pictureLinks turns the names of a case's pictures in a table's cells into links to where
// they stand on the page.
func (s *site) pictureLinks(c *notebook.Case, table template.HTML) template.HTML {
	for i, ph := range c.File.Case.Photos {
		if s.photos[c.ID()+"/"+ph.File] {
			cell := "<td>" + html.EscapeString(ph.File) + "</td>"
			table = template.HTML(strings.ReplaceAll(string(table), cell, fmt.Sprintf(`<td><a href="#%s">%s</a></td>`, pictureID(i), html.EscapeString(ph.File))))
		}
	}
	return table
}

func pictureID(i int) string { return fmt.Sprintf("picture-%d", i+1) }
