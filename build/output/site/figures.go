package site

import (
	"fmt"
	"html"
	"html/template"
	"strings"

	"benchlore/build/reason/figures"
	"benchlore/build/reason/triage"
	"benchlore/schema/terms"
)

type figureCell struct {
	Text, Href string
	Number     bool
}

type figureRow struct {
	Cells []figureCell
	Bar   template.HTML
}

type figureTable struct {
	Name, Lead string
	Columns    []string
	Bars       bool
	Rows       []figureRow
}

type curveRow struct{ Days, AtRisk, Ended, Holds, Range string }

type curveView struct {
	Name, Lead string
	Drawing    template.HTML
	Rows       []curveRow
}

type figuresPage struct {
	Frame  frame
	Facts  []fact
	Tables []figureTable
	Curves []curveView
}

// mostRows bounds a table of figures.
const mostRows = 24

func number(format string, x any) figureCell {
	return figureCell{Text: fmt.Sprintf(format, x), Number: true}
}

// minutesOf is a median, or a dash where nobody noted minutes.
func minutesOf(t figures.Times) figureCell {
	if t.N == 0 {
		return figureCell{Text: "–", Number: true}
	}
	return number("%.0f", t.Median)
}

// bar draws a share of the longest. It says nothing that the number beside it
// does not, so it is hidden from screen readers.
func bar(n, most int) template.HTML {
	if most == 0 {
		return ""
	}
	return template.HTML(fmt.Sprintf(`<svg class="bar" viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true" focusable="false"><rect x="0" y="1" width="%.1f" height="8"></rect></svg>`, 100*float64(n)/float64(most)))
}

func (s *site) figuresPage() figuresPage {
	f := figures.Of(s.n)
	p := figuresPage{Frame: s.frame("", s.t("Figures"))}
	first := s.t("unknown: no record says whether the device came back")
	if k := f.FirstTime; k.Of > 0 {
		first = s.t("%d of %d of which it is known, %.0f %% (95 %% range %.0f to %.0f %%); of %d it is not", k.N,
			k.Of, 100*k.P, 100*k.Low, 100*k.High, f.FirstTimeUnknown)
	}
	r := f.Returns
	p.Facts = []fact{{Name: s.t("Cases"), Text: fmt.Sprint(f.Cases)},
		{Name: s.t("Open"), Text: fmt.Sprint(len(f.Open))},
		{Name: s.t("Closed without a cause"), Text: fmt.Sprint(f.NoCause)}, {Name: s.t("Right the first time"), Text: first},
		{Name: s.t("Came back"), Text: s.t("%d with the same fault, %d from our own work, %d unrelated, %d not known yet", r.SameFault, r.OwnWork, r.Unrelated, r.Open)},
		{Name: s.t("Parts cost"), Text: strings.TrimSpace(s.t("%.2f %s in %s that say", f.Cost, f.Currency,
			s.count(f.CostCases, "%d case", "%d cases")))}}
	months := figureTable{Name: s.t("Cases a month"), Columns: []string{s.t("Month"), s.t("Opened"), s.t("Closed")}, Bars: true}
	recent := f.Months[max(0, len(f.Months)-mostRows):]
	most := 0
	for _, m := range recent {
		most = max(most, m.Opened, m.Closed)
	}
	for _, m := range recent {
		months.Rows = append(months.Rows,
			figureRow{[]figureCell{{Text: m.Month}, number("%d", m.Opened), number("%d", m.Closed)}, bar(m.Opened, most)})
	}
	times := figureTable{Name: s.t("Minutes by kind of device"), Lead: s.t("Medians; the bar is both together."),
		Columns: []string{s.t("Kind"), s.t("Cases"), s.t("Diagnosis"), s.t("Repair")}, Bars: true}
	most = 0
	for _, k := range f.Times[:min(mostRows, len(f.Times))] {
		most = max(most, int(k.Diagnosis.Median+k.Repair.Median))
	}
	for _, k := range f.Times[:min(mostRows, len(f.Times))] {
		times.Rows = append(times.Rows, figureRow{[]figureCell{{Text: k.Name}, number("%d", k.N),
			minutesOf(k.Diagnosis), minutesOf(k.Repair)}, bar(int(k.Diagnosis.Median+k.Repair.Median), most)})
	}
	causes := figureTable{Name: s.t("What symptoms turned out to be"),
		Columns: []string{s.t("Symptom"), s.t("Cases"), s.t("Commonest causes")}, Bars: true}
	for _, k := range f.Symptoms[:min(mostRows, len(f.Symptoms))] {
		var names []string
		for _, c := range k.Causes[:min(3, len(k.Causes))] {
			names = append(names, fmt.Sprintf("%s (%d)", c.Name, c.N))
		}
		causes.Rows = append(causes.Rows,
			figureRow{[]figureCell{{Text: k.Name, Href: "symptoms/" + k.ID + ".html"}, number("%d", k.N),
				{Text: strings.Join(names, "; ")}}, bar(k.N, f.Symptoms[0].N)})
	}
	parts := figureTable{Name: s.t("Parts used most"), Columns: []string{s.t("Part"), s.t("Times")}, Bars: true}
	for _, k := range f.Parts[:min(mostRows, len(f.Parts))] {
		parts.Rows = append(parts.Rows, figureRow{[]figureCell{{Text: k.Name}, number("%d", k.N)}, bar(k.N, f.Parts[0].N)})
	}
	open := figureTable{Name: s.t("Open cases"), Columns: []string{s.t("Case"), s.t("Title")}}
	for _, id := range f.Open[:min(mostRows, len(f.Open))] {
		if c, ok := s.n.Case(id); ok {
			it := s.item("", c)
			open.Rows = append(open.Rows, figureRow{Cells: []figureCell{{Text: id, Href: it.Href}, {Text: it.Title}}})
		}
	}
	for _, t := range []figureTable{months, times, causes, parts, open} {
		if len(t.Rows) > 0 {
			p.Tables = append(p.Tables, t)
		}
	}
	for _, h := range f.Holds {
		if len(h.Curve) > 0 {
			p.Curves = append(p.Curves, s.curve(h))
		}
	}
	return p
}

// curve shows how one kind of repair holds.
func (s *site) curve(h triage.Hold) curveView {
	name := s.n.Terms.Name(terms.Fault, h.ID)
	if h.By == "action" {
		name = s.n.Terms.Name(terms.Action, h.ID)
	}
	v := curveView{Name: s.t("How repairs hold: %s", name),
		Lead: s.t("%s, %d of them watched, %d came back. The estimate is Kaplan and Meier's, the range 95 %% by Greenwood's formula.",
			s.count(h.Repairs, "%d repair", "%d repairs"), h.Watched, h.Returned)}
	if h.Watched < triage.FewCases {
		v.Lead += " " + s.t("The numbers are small.")
	}
	last := h.Curve[len(h.Curve)-1].Days * 1.2
	x := func(days float64) float64 { return 30 + 260*days/max(last, 1) }
	y := func(share float64) float64 { return 110 - 100*share }
	line, before := fmt.Sprintf("M%.1f %.1f", x(0), y(1)), 1.0
	for _, k := range h.Curve {
		line += fmt.Sprintf(" H%.1f V%.1f", x(k.Days), y(k.Holds))
		before = k.Holds
		v.Rows = append(v.Rows, curveRow{fmt.Sprintf("%.0f", k.Days), fmt.Sprint(k.AtRisk), fmt.Sprint(k.Ended),
			fmt.Sprintf("%.0f %%", 100*k.Holds), s.t("%.0f to %.0f %%", 100*k.Low, 100*k.High)})
	}
	if h.Watched < triage.FewCases {
		return v // a line through one or two repairs would look like knowledge
	}
	line += fmt.Sprintf(" H%.1f", x(last))
	v.Drawing = template.HTML(fmt.Sprintf(`<svg class="curve" viewBox="0 0 300 130" role="img" aria-label="%s"><path class="axis" d="M30 10 V110 H290"></path><text x="2" y="14">100 %%</text><text x="14" y="112">0 %%</text><text x="30" y="124">0</text><text x="262" y="124">%.0f d</text><path d="%s"></path></svg>`,
		html.EscapeString(s.t("Share that holds, falling in steps to %.0f %%", 100*before)), last, line))
	return v
}
