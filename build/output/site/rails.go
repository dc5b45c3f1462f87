package site

import (
	"cmp"
	"fmt"
	"html"
	"html/template"
	"strings"

	"benchlore/build/reason/pins"
	"benchlore/build/reason/rails"
)

// railView is a rail with those that are made from it.
type railView struct {
	Name, Href, Text string
	Feeds            string
	Under            []railView
}

// railViews nests the flat tree.
func (s *site) railViews(t rails.Tree) []railView {
	at := 0
	var grow func(depth int) []railView
	grow = func(depth int) (out []railView) {
		for at < len(t.Rails) && t.Rails[at].Depth == depth {
			r := &t.Rails[at]
			at++
			v := railView{Name: r.Name, Href: "#net=" + template.URLQueryEscaper(r.Name), Text: s.railText(r), Feeds: strings.Join(r.Consumers, ", ")}
			v.Under = grow(depth + 1)
			out = append(out, v)
		}
		return out
	}
	return grow(0)
}

func (s *site) railText(r *rails.Rail) string {
	var list []string
	if r.Volts != "" {
		list = append(list, r.Volts)
	}
	if r.By != "" {
		list = append(list, s.t("made by %s", r.By))
	} else if r.Depth == 0 && r.From != "" {
		list = append(list, s.t("comes in at: %s", r.From))
	}
	if r.Enable != "" {
		list = append(list, s.t("enabled by %s", r.Enable))
	}
	if r.Diode != "" {
		list = append(list, s.t("diode mode, red on ground: %s", r.Diode))
	}
	if r.Ohms != "" {
		list = append(list, s.t("to ground without power: %s", r.Ohms))
	}
	if r.Note != "" {
		list = append(list, r.Note)
	}
	return strings.Join(list, "; ")
}

// Sizes of the time line, in its own units.
const (
	lineRow   = 26
	lineNames = 110
	lineStep  = 60
)

// railLine draws in which order the rails come up; empty where no order is written.
func (s *site) railLine(t rails.Tree) template.HTML {
	last := 0
	for i := range t.Rails {
		last = max(last, t.Rails[i].Order)
	}
	if last < 2 {
		return ""
	}
	var rows []*rails.Rail
	for i := range t.Rails {
		if t.Rails[i].Order > 0 {
			rows = append(rows, &t.Rails[i])
		}
	}
	width, height := lineNames+(last+1)*lineStep, len(rows)*lineRow+10
	var b strings.Builder
	var said []string
	for step := 1; step <= last; step++ {
		for _, r := range rows {
			if r.Order == step {
				said = append(said, r.Name)
			}
		}
	}
	fmt.Fprintf(&b, `<svg class="rail-line" role="img" aria-label="%s" viewBox="0 0 %d %d" width="%d" height="%d">`,
		html.EscapeString(s.t("The order in which the rails come up: %s", strings.Join(said, ", "))), width, height, width, height)
	for i, r := range rows {
		low := 6 + (i+1)*lineRow - 8
		x := lineNames + r.Order*lineStep - lineStep/2
		fmt.Fprintf(&b, `<text x="0" y="%d">%s</text><path d="M%d %dH%dL%d %dH%d"></path>`, low, html.EscapeString(r.Name),
			lineNames, low, x, x+8, low-14, width)
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

// pinTable is what was read at a part's pins.
type pinTable struct {
	Ref, Href string
	Rows      []pinRow
}

type pinRow struct {
	Pin, Net, What, Good string
	Odd                  bool
	Others               []pinReading
}

type pinReading struct {
	Case, Href, Read, Word string
	Odd                    bool
}

func (s *site) pinTables(list []pins.Table) (out []pinTable) {
	const root = "../../"
	for _, t := range list {
		v := pinTable{Ref: t.Ref, Href: "#ref=" + template.URLQueryEscaper(t.Ref)}
		for _, r := range t.Rows {
			what := r.What
			if r.State != "" {
				what += ", " + r.State
			}
			row := pinRow{Pin: r.Pin, Net: r.Net, What: what, Odd: r.Odd, Good: s.goodPin(r)}
			for _, o := range r.Others {
				word := o.Verdict
				if word == "" && o.Odd {
					word = s.t("beyond what good boards show")
				}
				reading := pinReading{Case: o.Case, Read: o.Read, Word: s.t(cmp.Or(word, "not judged")), Odd: o.Odd}
				if c, ok := s.n.Case(o.Case); ok {
					reading.Href = root + casePath(c)
				}
				row.Others = append(row.Others, reading)
			}
			v.Rows = append(v.Rows, row)
		}
		out = append(out, v)
	}
	return out
}

// goodPin says in a few words what a good board shows.
func (s *site) goodPin(r pins.Row) string {
	var list []string
	if r.Expected != "" {
		list = append(list, s.t("%s by the reference sheet", r.Expected))
	}
	switch {
	case r.Median != "" && r.Good > 1:
		list = append(list, s.t("%s, from %s to %s on %s boards", r.Median, r.Low, r.High, fmt.Sprint(r.Good)))
	case r.Median != "":
		list = append(list, s.t("%s on one board", r.Median))
	case r.Over:
		list = append(list, s.t("beyond the meter’s range"))
	}
	return strings.Join(list, "; ")
}
