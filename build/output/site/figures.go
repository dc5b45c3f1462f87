package site

import (
	"cmp"
	"fmt"
	"html"
	"html/template"
	"maps"
	"slices"
	"strings"
	"time"

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
	Drawing    template.HTML // which says the rows at a glance; they fold away then
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
	Others *figuresPage // the same of other workshops' cases, where there are any
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
	if t.Low == t.High {
		return number("%.0f", t.Median)
	}
	return figureCell{Text: fmt.Sprintf("%.0f (%.0f–%.0f)", t.Median, t.Low, t.High), Number: true}
}

// bar draws a share of the longest. It says nothing that the number beside it
// does not, so it is hidden from screen readers.
func bar(n, most int) template.HTML {
	if most == 0 {
		return ""
	}
	return template.HTML(fmt.Sprintf(`<svg class="bar" viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true" focusable="false"><rect x="0" y="1" width="%.1f" height="8"></rect></svg>`, 100*float64(n)/float64(most)))
}

// spread draws how the minutes of one kind of device lie: diagnosis above, repair below;
// each a line over all of them, a box over the middle half, and a stroke at the median.
func spread(diagnosis, repair figures.Times, most float64) template.HTML {
	if most == 0 {
		return ""
	}
	var b strings.Builder
	b.WriteString(`<svg class="spread" viewBox="0 0 100 20" preserveAspectRatio="none" aria-hidden="true" focusable="false">`)
	for i, t := range []figures.Times{diagnosis, repair} {
		if t.N == 0 {
			continue
		}
		x := func(minutes float64) float64 { return 1 + 98*minutes/most }
		y := 5 + 10*i
		fmt.Fprintf(&b, `<path class="reach" d="M%.1f %dH%.1f"></path><rect class="half%s" x="%.1f" y="%d" width="%.1f" height="6"></rect><path class="middle" d="M%.1f %dv8"></path>`,
			x(t.Least), y, x(t.Most), map[int]string{1: " light"}[i], x(t.Low), y-3, max(x(t.High)-x(t.Low), 0.6), x(t.Median), y-4)
	}
	return template.HTML(b.String() + "</svg>")
}

// lastMonths are up to n months that end with the last one of the list, those without a
// case among them too.
func lastMonths(list []figures.Month, n int) []figures.Month {
	if len(list) == 0 {
		return nil
	}
	have := map[string]figures.Month{}
	for _, m := range list {
		have[m.Month] = m
	}
	last, err := time.Parse("2006-01", list[len(list)-1].Month)
	if err != nil {
		return list[max(0, len(list)-n):]
	}
	var out []figures.Month
	for back := n - 1; back >= 0; back-- {
		name := last.AddDate(0, -back, 0).Format("2006-01")
		m := have[name]
		m.Month = name
		if len(out) > 0 || name >= list[0].Month {
			out = append(out, m)
		}
	}
	return out
}

// monthsSaid says in a line what the months show.
func (s *site) monthsSaid(list []figures.Month) string {
	if len(list) == 0 {
		return ""
	}
	opened, closed, most := 0, 0, list[0]
	for _, m := range list {
		opened, closed = opened+m.Opened, closed+m.Closed
		if m.Opened > most.Opened {
			most = m
		}
	}
	return s.t("%.1f opened and %.1f closed a month; the most, %d, in %s.", float64(opened)/float64(len(list)),
		float64(closed)/float64(len(list)), most.Opened, most.Month)
}

// Sizes of the drawing of months, in its own units.
const (
	monthsHigh = 150 // of the longest column
	monthWide  = 28
	monthsLeft = 30 // for the numbers
)

// monthsDrawn draws two columns a month: opened is full, closed an outline.
func (s *site) monthsDrawn(list []figures.Month) template.HTML {
	most := 0
	for _, m := range list {
		most = max(most, m.Opened, m.Closed)
	}
	if len(list) < 2 || most == 0 {
		return ""
	}
	step := max(1, (most+3)/4)
	top := (most + step - 1) / step * step
	y := func(n int) float64 { return 10 + monthsHigh*(1-float64(n)/float64(top)) }
	width := monthsLeft + monthWide*len(list) + 6
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="months" role="img" aria-label="%s" viewBox="0 0 %d %d">`, html.EscapeString(s.monthsSaid(list)), width, monthsHigh+46)
	for n := 0; n <= top; n += step {
		fmt.Fprintf(&b, `<path class="grid-line" d="M%d %.1fH%d"></path><text class="number" x="%d" y="%.1f">%d</text>`, monthsLeft, y(n), width, monthsLeft-6, y(n)+4, n)
	}
	for i, m := range list {
		x := float64(monthsLeft + monthWide*i + 4)
		fmt.Fprintf(&b, `<rect class="opened" x="%.1f" y="%.1f" width="9" height="%.1f"></rect><rect class="closed" x="%.1f" y="%.1f" width="9" height="%.1f"></rect>`,
			x, y(m.Opened), y(0)-y(m.Opened), x+10, y(m.Closed), y(0)-y(m.Closed))
		if year, month, ok := strings.Cut(m.Month, "-"); ok {
			fmt.Fprintf(&b, `<text x="%.1f" y="%d">%s</text>`, x+9.5, monthsHigh+26, month)
			if month == "01" || i == 0 && month != "12" {
				fmt.Fprintf(&b, `<text class="year" x="%.1f" y="%d">%s</text>`, x+9.5, monthsHigh+42, year)
			}
		}
	}
	b.WriteString("</svg>")
	fmt.Fprintf(&b, `<p class="meta"><svg class="key" viewBox="0 0 9 9" aria-hidden="true"><rect class="opened" width="9" height="9"></rect></svg> %s <svg class="key" viewBox="0 0 9 9" aria-hidden="true"><rect class="closed" x="1" y="1" width="7" height="7"></rect></svg> %s</p>`,
		html.EscapeString(s.t("Opened")), html.EscapeString(s.t("Closed")))
	return template.HTML(b.String())
}

func (s *site) figuresPage() figuresPage {
	f := figures.Of(s.n)
	p := s.figuresOf(f)
	p.Frame = s.frame("", s.t("Figures"))
	if f.Theirs > 0 {
		others := s.figuresOf(figures.OfOthers(s.n))
		p.Others = &others
	}
	return p
}

// figuresOf lays figures out.
func (s *site) figuresOf(f figures.Figures) figuresPage {
	p := figuresPage{}
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
	months := figureTable{Name: s.t("Cases a month"), Columns: []string{s.t("Month"), s.t("Opened"), s.t("Closed")}}
	recent := lastMonths(f.Months, mostRows)
	for _, m := range recent {
		months.Rows = append(months.Rows,
			figureRow{Cells: []figureCell{{Text: m.Month}, number("%d", m.Opened), number("%d", m.Closed)}})
	}
	months.Lead, months.Drawing = s.monthsSaid(recent), s.monthsDrawn(recent)
	most := 0.0
	times := figureTable{Name: s.t("Minutes by kind of device"), Lead: s.t("The median, and the middle half in brackets. Drawn: diagnosis above, repair below; a line over all cases, a box over the middle half, a stroke at the median."),
		Columns: []string{s.t("Kind"), s.t("Cases"), s.t("Diagnosis"), s.t("Repair")}, Bars: true}
	for _, k := range f.Times[:min(mostRows, len(f.Times))] {
		most = max(most, k.Diagnosis.Most, k.Repair.Most)
	}
	for _, k := range f.Times[:min(mostRows, len(f.Times))] {
		times.Rows = append(times.Rows, figureRow{[]figureCell{{Text: k.Name}, number("%d", k.N),
			minutesOf(k.Diagnosis), minutesOf(k.Repair)}, spread(k.Diagnosis, k.Repair, most)})
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
	causes.Drawing, causes.Lead = s.heat(f.Symptoms)
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
	short := figureTable{Name: s.t("Spare parts that run out"), Columns: []string{s.t("Part"), s.t("Left"), s.t("Device"), s.t("From")}}
	for _, k := range f.Short[:min(mostRows, len(f.Short))] {
		if d, ok := s.n.Device(k.Device); ok {
			short.Rows = append(short.Rows, figureRow{Cells: []figureCell{{Text: k.Part, Href: "devices/" + d.ID + ".html"}, number("%d", k.Left),
				{Text: d.Name(s.n.Terms)}, {Text: k.From}}})
		}
	}
	for _, t := range []figureTable{months, times, causes, parts, short, open} {
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

// How many symptoms and causes the grid has at the most; it must be read on paper too.
const mostHeatRows, mostHeatColumns = 10, 8

// heat draws which causes the commonest symptoms had, darker where more often, each square
// with its number; and says which pair is the commonest.
func (s *site) heat(symptoms []figures.SymptomCauses) (drawing template.HTML, said string) {
	rows := symptoms[:min(mostHeatRows, len(symptoms))]
	total := map[string]int{}
	names := map[string]string{}
	most, first := 0, [2]string{}
	for _, r := range rows {
		for _, c := range r.Causes {
			total[c.ID] += c.N
			names[c.ID] = c.Name
			if c.N > most {
				most, first = c.N, [2]string{r.Name, c.Name}
			}
		}
	}
	columns := slices.SortedFunc(maps.Keys(total), func(a, b string) int {
		return cmp.Or(total[b]-total[a], strings.Compare(a, b))
	})
	columns = columns[:min(mostHeatColumns, len(columns))]
	if len(rows) < 3 || len(columns) < 3 || most < 2 {
		return "", ""
	}
	const left, top, cell, high = 190, 132, 58, 30
	var b strings.Builder
	width, height := left+cell*len(columns)+60, top+high*len(rows)+4
	fmt.Fprintf(&b, `<svg class="heat" role="img" aria-label="%s" viewBox="0 0 %d %d" width="%d" height="%d">`,
		html.EscapeString(s.t("Causes by symptom; the table below says the same.")), width, height, width, height)
	for k, id := range columns {
		x := left + cell*k + cell/2
		fault, place, _ := strings.Cut(names[id], ", ")
		fmt.Fprintf(&b, `<text transform="translate(%d %d) rotate(-38)"><tspan>%s</tspan><tspan x="10" dy="13" class="heat-place">%s</tspan></text>`, x, top-12,
			html.EscapeString(fault), html.EscapeString(place))
	}
	for i, r := range rows {
		y := top + high*i
		fmt.Fprintf(&b, `<text class="heat-row" x="%d" y="%d">%s</text>`, left-8, y+19, html.EscapeString(r.Name))
		for k, id := range columns {
			n := 0
			for _, c := range r.Causes {
				if c.ID == id {
					n = c.N
				}
			}
			fmt.Fprintf(&b, `<rect x="%d" y="%d" width="%d" height="%d"></rect>`, left+cell*k, y, cell-2, high-2)
			if n == 0 {
				continue
			}
			fmt.Fprintf(&b, `<rect class="heat-some" x="%d" y="%d" width="%d" height="%d" fill-opacity="%.2f"></rect><text class="heat-n%s" x="%d" y="%d">%d</text>`,
				left+cell*k, y, cell-2, high-2, shade(n, most), map[bool]string{true: " heat-dark"}[2*n > most], left+cell*k+cell/2-1, y+19, n)
		}
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String()), s.t("The commonest pair: %s, and it was %s (%d cases).", first[0], first[1], most)
}

// shade is how dark a square is: light below the middle and dark above, with nothing
// between, since a number must be read on either.
func shade(n, most int) float64 {
	share := float64(n) / float64(most)
	if 2*n > most {
		return 0.8 + 0.2*share
	}
	return 0.15 + 0.3*share
}
