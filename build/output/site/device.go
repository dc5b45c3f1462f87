package site

import (
	"html"
	"html/template"
	"math"
	"os"
	"path"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"benchlore/build/notebook"
	"benchlore/build/output/wording"
	"benchlore/build/reason/boards"
	cautions "benchlore/build/reason/hazard"
	"benchlore/schema/board"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

type slipRow struct {
	Ref, Href, What, Does, Gap string
	Why                        mark
	Cases                      []link
}

type slipView struct {
	Name, Carries, Release, Beside, Board, Href string
	Rows                                        []slipRow
	More                                        int
}

type fastenerRow struct {
	Glyph                                                         template.HTML
	Mark, Place, Head, Thread, Length, Count, Torque, Under, Note string
}

type mapView struct {
	Name string
	SVG  template.HTML
}

type devicePage struct {
	Frame        frame
	Heading      string
	Triage       string
	Cautions     []caution
	Facts        []fact
	Opening      template.HTML
	Total        int
	Warnings     []string
	Slips        []slipView // where a slip would cost something that is known of
	OtherSlips   []slipView
	Known        []block  // faults
	Quiet        []string // connectors with nothing near
	Maps         []mapView
	Fasteners    []fastenerRow
	Trays        []link
	Boards       []link
	HTML         template.HTML
	Blocks       []block
	Empty        string
	HasSheet     bool
	NoNetlistFor []string
}

// maxHits is how many parts a slip's table lists; the command line lists all.
const maxHits = 8

func (s *site) devicePage(d *notebook.Device) (devicePage, error) {
	const root = "../"
	name := d.Name(s.n.Terms)
	p := devicePage{Frame: s.frame(root, name), Heading: name, Triage: triageHref(root, nil, d.ID)}
	p.Facts = append(p.Facts, fact{Name: s.t("Kind"), Text: s.n.Terms.Name(terms.Kind, d.Kind)})
	cases := s.lists.device[d.ID]
	p.Cautions = s.cautions(root, cautions.OfDevice(s.n, d))
	if d.Record != nil {
		if err := s.deviceRecord(&p, root, d); err != nil {
			return p, err
		}
	}
	if k := s.history.Handling[d.ID]; k[1] > 0 {
		p.Facts = append(p.Facts, fact{Name: s.t("From handling"),
			Text: s.t("%d of %s", k[0], s.count(k[1], "%d known cause", "%d known causes"))})
	}
	if causes := s.causeCounts(root, cases); len(causes) > 0 {
		p.Known = append(p.Known, block{Name: s.t("Known faults here"), Items: causes})
	}
	if len(cases) > 0 {
		p.Blocks = append(p.Blocks, s.caseBlock(root, s.count(len(cases), "%d case", "%d cases"), cases))
	} else {
		p.Empty = s.t("No case of it yet.")
	}
	return p, nil
}

// openingSection is the section of a device file with the notes on opening it.
const openingSection = "Before you open it"

func (s *site) deviceRecord(p *devicePage, root string, d *notebook.Device) error {
	r := &d.Record.Device
	for _, risk := range s.history.Risks(d.ID) {
		p.Cautions = append(p.Cautions, caution{s.t("At risk when you open it"),
			s.t("%s (case %s).", riskText(risk), risk.Case), root + "cases/" + risk.Case + ".html"})
	}
	for _, f := range []fact{{Name: s.t("Made"), Text: r.Years}, {Name: s.t("Supply"), Text: r.Power},
		{Name: s.t("Boards"), Text: strings.Join(r.Boards, ", ")}} {
		if f.Text != "" {
			p.Facts = append(p.Facts, f)
		}
	}
	sheet := boards.NewSheet(s.n, d)
	p.Total, p.Warnings = sheet.Fasteners, sheet.Warnings()
	for i := range sheet.Slips {
		if len(sheet.Slips[i].Hits) == 0 && sheet.Slips[i].Plug.Release == "" {
			p.Quiet = append(p.Quiet, sheet.Slips[i].Plug.Name)
			continue
		}
		v := s.slipView(root, d, &sheet.Slips[i])
		if slices.ContainsFunc(sheet.Slips[i].Hits, costly) {
			p.Slips = append(p.Slips, v)
		} else {
			p.OtherSlips = append(p.OtherSlips, v)
		}
	}
	for _, b := range d.Boards {
		p.Boards = append(p.Boards, link{b.Name, root + boardPath(d, b)})
		if !b.Wired() {
			p.NoNetlistFor = append(p.NoNetlistFor, b.Name)
		}
	}
	p.Maps = s.fastenerMaps(root, d)
	for i := range r.Fasteners {
		f := &r.Fasteners[i]
		row := fastenerRow{Mark: f.Mark, Place: f.Place, Head: headWords(s.n.Terms, f), Thread: f.Thread,
			Count: strconv.Itoa(f.Count), Torque: f.Torque, Under: f.Under, Note: f.Note, Glyph: fastenerGlyph(f)}
		if f.Length > 0 {
			row.Length = boards.Number(f.Length) + " mm"
		}
		p.Fasteners = append(p.Fasteners, row)
	}
	if len(r.Fasteners) > 0 {
		for _, paper := range papers {
			p.Trays = append(p.Trays, link{paper.Name, root + trayPath(d, paper)})
		}
	}
	body := d.Record.Text.Bytes
	for _, sec := range r.Sections {
		src := body[sec.Start:sec.Stop]
		if sec.Name == casefile.FastenerSection && len(r.Fasteners) > 0 {
			src = cutTable(body, sec) // which is shown with drawings
			if strings.TrimSpace(string(src)) == "" {
				continue
			}
		}
		html, err := convert(s.markdown, src, safeURL)
		if err != nil {
			return err
		}
		if strings.EqualFold(sec.Name, openingSection) {
			p.Opening += html
			continue
		}
		if sec.Name != "" {
			p.HTML += "<h2>" + escaped(s.t(sec.Name)) + "</h2>\n"
		}
		p.HTML += s.heads(html)
	}
	p.HasSheet = p.Opening != "" || len(p.Warnings) > 0 || len(p.Slips) > 0 || p.Total > 0
	return nil
}

// costly reports whether hitting a part cost something before, or may: what a part does
// is not known without a netlist.
func costly(h boards.Hit) bool { return h.Lost() || h.Important || h.Role == board.Unwired }

func (s *site) slipView(root string, d *notebook.Device, slip *boards.Slips) slipView {
	v := slipView{Name: slip.Plug.Name, Carries: slip.Plug.Carries, Release: slip.Plug.Release,
		Beside: slip.Plug.Beside, Board: slip.Board.Name,
		Href: root + boardRef(d, slip.Board, slip.Part.Ref)}
	for i := range slip.Hits[:min(maxHits, len(slip.Hits))] {
		h := &slip.Hits[i]
		row := slipRow{Ref: h.Part.Ref, Href: root + boardRef(d, slip.Board, h.Part.Ref),
			What: strings.TrimSpace(h.Part.Value + " " + h.Part.Package), Does: h.Does(s.t), Gap: s.t("%.1f mm", h.Gap)}
		switch {
		case h.Lost():
			row.Why = mark{Word: "lost before", Sign: "▲", Class: "bad"}
		case h.Important:
			row.Why = mark{Word: "important", Sign: "◆", Class: "care"}
		}
		for _, t := range h.Touches {
			if c, ok := s.n.Case(t.Case); ok && !slices.ContainsFunc(row.Cases, func(l link) bool { return l.Text == t.Case }) {
				row.Cases = append(row.Cases, link{t.Case, root + casePath(c)})
			}
		}
		v.Rows = append(v.Rows, row)
	}
	v.More = len(slip.Hits) - len(v.Rows)
	return v
}

func headWords(v *terms.Vocabulary, f *casefile.Fastener) string {
	if f.Drive == "" {
		return f.Head
	}
	name := v.Name(terms.Head, f.Drive)
	if f.Tool != "" {
		return name + " " + f.Tool
	}
	return name
}

// headShape draws what a head looks like from above, within a circle of radius
// r: its outline and the recess. Every kind differs in shape.
func headShape(drive string, x, y, r float64) string {
	at := func(angle, radius float64) string {
		sin, cos := math.Sincos(angle * math.Pi / 180)
		return num2(x+radius*r*cos) + " " + num2(y+radius*r*sin)
	}
	polygon := func(corners int, turn, radius float64) string {
		var b strings.Builder
		for i := range corners {
			b.WriteString(map[bool]string{true: "M", false: "L"}[i == 0] + at(turn+360*float64(i)/float64(corners), radius))
		}
		return b.String() + "Z"
	}
	star := func(points int, turn, outer, inner float64) string {
		var b strings.Builder
		for i := range 2 * points {
			radius := outer
			if i%2 == 1 {
				radius = inner
			}
			b.WriteString(map[bool]string{true: "M", false: "L"}[i == 0] + at(turn+180*float64(i)/float64(points), radius))
		}
		return b.String() + "Z"
	}
	line := func(angle, from, to float64) string { return "M" + at(angle, from) + "L" + at(angle, to) }
	dot := func(angle, radius, size float64) string {
		sin, cos := math.Sincos(angle * math.Pi / 180)
		return `<circle class="recess-fill" cx="` + num2(x+radius*r*cos) + `" cy="` + num2(y+radius*r*sin) + `" r="` +
			num2(size*r) + `"></circle>`
	}
	outline := `<circle class="head" cx="` + num2(x) + `" cy="` + num2(y) + `" r="` + num2(r) + `"></circle>`
	recess, more := "", ""
	switch drive {
	case "slot":
		recess = line(0, -0.75, 0.75)
	case "cross":
		recess = line(0, -0.7, 0.7) + line(90, -0.7, 0.7)
	case "cross-z":
		recess = line(0, -0.7, 0.7) + line(90, -0.7, 0.7)
		for a := 45.0; a < 360; a += 90 {
			recess += line(a, 0.4, 0.75)
		}
	case "hexalobe":
		recess = star(6, 0, 0.75, 0.45)
	case "hexalobe-pin":
		recess, more = star(6, 0, 0.75, 0.5), dot(0, 0, 0.2)
	case "five-lobe":
		recess = star(5, -90, 0.75, 0.4)
	case "hex-socket":
		recess = polygon(6, 0, 0.6)
	case "square":
		recess = polygon(4, 45, 0.7)
	case "tri-lobe":
		recess = line(-90, 0, 0.75) + line(30, 0, 0.75) + line(150, 0, 0.75)
	case "two-hole":
		more = dot(0, 0.5, 0.18) + dot(180, 0.5, 0.18)
	case "hex":
		outline = `<path class="head" d="` + polygon(6, 0, 1) + `"></path>`
	case "nut":
		outline = `<path class="head" d="` + polygon(6, 0, 1) + `"></path>`
		more = `<circle class="recess" cx="` + num2(x) + `" cy="` + num2(y) + `" r="` + num2(0.45*r) + `"></circle>`
	case "standoff":
		outline = `<path class="head" d="` + polygon(6, 0, 1) + `"></path>`
		more = dot(0, 0, 0.35)
	case "clip":
		outline = `<path class="head" d="` + polygon(4, 45, 1.1) + `"></path>`
		recess = "M" + at(150, 0.7) + "L" + at(90, 0.45) + "L" + at(30, 0.7)
	case "push-pin":
		more = `<circle class="recess" cx="` + num2(x) + `" cy="` + num2(y) + `" r="` + num2(0.5*r) + `"></circle>`
	default:
		recess = line(45, -0.5, 0.5)
	}
	if recess != "" {
		more += `<path class="recess" d="` + recess + `"></path>`
	}
	return outline + more
}

func num2(v float64) string {
	return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)
}

// fastenerGlyph is the head and, to its right, the length as it is: a CSS pixel
// is 1/96 inch.
func fastenerGlyph(f *casefile.Fastener) template.HTML {
	const scale = 96 / 25.4
	w := 34 + scale*f.Length
	svg := `<svg class="fastener" viewBox="0 0 ` + num2(w) + ` 28" width="` + num2(w) +
		`" height="28" aria-hidden="true" focusable="false">` + headShape(f.Drive, 14, 14, 11)
	if f.Length > 0 {
		svg += `<path class="shank" d="M28 14H` + num2(28+scale*f.Length) + `M` + num2(28+scale*f.Length) + ` 9V19"></path>`
	}
	return template.HTML(svg + `</svg>`)
}

// fastenerMaps draws each view with the places of its fasteners: the head's
// shape, the mark, and the length to the scale of the view.
func (s *site) fastenerMaps(root string, d *notebook.Device) []mapView {
	r := &d.Record.Device
	var out []mapView
	for i := range r.Views {
		v := &r.Views[i]
		size := max(v.Width, v.Height)
		radius, letter, margin := size/60, size/24, size/30
		var b strings.Builder
		count := 0
		for j := range r.Fasteners {
			f := &r.Fasteners[j]
			on, ok := r.View(f)
			if !ok || on != v {
				continue
			}
			for _, at := range f.At {
				count++
				b.WriteString(headShape(f.Drive, at.X, at.Y, radius))
				if f.Length > 0 {
					down := 1.0
					if at.Y+radius+f.Length > v.Height+margin/2 {
						down = -1
					}
					from, to := at.Y+down*radius, at.Y+down*(radius+f.Length)
					b.WriteString(`<path class="shank" d="M` + num2(at.X) + " " + num2(from) + "V" + num2(to) + "M" +
						num2(at.X-radius/2) + " " + num2(to) + "h" + num2(radius) + `"></path>`)
				}
				x, anchor := at.X+1.5*radius, "start"
				if at.X > v.Width*0.92 {
					x, anchor = at.X-1.5*radius, "end"
				}
				b.WriteString(`<text x="` + num2(x) + `" y="` + num2(at.Y+letter/3) + `" font-size="` + num2(letter) +
					`" text-anchor="` + anchor + `">` + html.EscapeString(f.Mark) + `</text>`)
			}
		}
		if count == 0 {
			continue
		}
		picture := ""
		if v.Picture != "" && s.photos[devicePhoto(d, v.Picture)] {
			picture = `<image href="` + html.EscapeString(root+sitePhoto(d, v.Picture)) + `" width="` +
				num2(v.Width) + `" height="` + num2(v.Height) + `" preserveAspectRatio="none"></image>`
		}
		title := s.t("%s of %s, %s × %s mm, with %s", v.Name, d.Name(s.n.Terms), boards.Number(v.Width),
			boards.Number(v.Height), s.count(count, "%d fastener", "%d fasteners"))
		svg := `<svg class="map" role="img" aria-label="` + html.EscapeString(title) + `" viewBox="` + num2(-margin) +
			" " + num2(-margin) + " " + num2(v.Width+2*margin) + " " + num2(v.Height+2*margin) + `">` +
			picture + `<rect class="case-edge" width="` + num2(v.Width) + `" height="` + num2(v.Height) + `" rx="` +
			num2(size/50) + `"></rect>` + b.String() + `</svg>`
		out = append(out, mapView{title, template.HTML(svg)})
	}
	return out
}

// devicePhoto names a device's picture in s.photos, where no case's can have
// that name.
func devicePhoto(d *notebook.Device, file string) string { return "devices/" + d.ID + "/" + file }

// sitePhoto is where the site keeps it.
func sitePhoto(d *notebook.Device, file string) string { return "views/" + d.ID + "/" + file }

// viewJobs reads and cleans the pictures of devices' views.
func (s *site) viewJobs(root *os.Root) []job {
	var jobs []job
	for _, d := range s.n.Devices {
		if d.Record == nil {
			continue
		}
		for i := range d.Record.Device.Views {
			file := d.Record.Device.Views[i].Picture
			if file == "" || strings.ContainsAny(file, "/\\") || s.photos[devicePhoto(d, file)] {
				continue
			}
			name := path.Join("devices", d.ID, file)
			j, err := s.pictureJob(root, name, sitePhoto(d, file))
			if err != nil {
				s.report.Problems = append(s.report.Problems, d.Record.Say(diagnostic.Warning, diagnostic.BadFile,
					"this picture is not published: "+err.Error(), "views", strconv.Itoa(i), "picture"))
				continue
			}
			s.photos[devicePhoto(d, file)] = true
			jobs = append(jobs, j)
		}
	}
	return jobs
}

// paper is a size of sheet, in mm.
type paper struct {
	Name, ID      string
	Width, Height float64
}

var papers = []paper{{"A4", "a4", 210, 297}, {"Letter", "letter", 215.9, 279.4}}

// trayMargin is what printers leave white, mm.
const trayMargin = 10

func trayPath(d *notebook.Device, p paper) string { return "trays/" + d.ID + "-" + p.ID + ".html" }

type trayPage struct {
	Frame           frame
	Heading, Device string
	DeviceHref      string
	Paper           paper
	Other           link
	Sheets          []template.HTML
}

func (s *site) trayPage(d *notebook.Device, p paper) trayPage {
	const root = "../"
	name := d.Name(s.n.Terms)
	other := papers[0]
	if other == p {
		other = papers[1]
	}
	t := trayPage{Frame: s.frame(root, s.t("Fastener tray, %s, %s", name, p.Name)),
		Heading: s.t("Fastener tray: %s", name), Device: name, Paper: p,
		DeviceHref: root + "devices/" + d.ID + ".html", Other: link{other.Name, root + trayPath(d, other)}}
	tray := newTray(s.texts, name, p)
	r := &d.Record.Device
	longer := map[*casefile.Fastener][]string{}
	for _, c := range r.Clashes() {
		longer[c.Shorter] = append(longer[c.Shorter], c.Longer.Mark+" ("+boards.Number(c.Longer.Length)+" mm)")
	}
	for i := range r.Fasteners {
		tray.add(s.n.Terms, &r.Fasteners[i], longer[&r.Fasteners[i]])
	}
	total := r.FastenerCount()
	t.Sheets = tray.finish(total)
	return t
}

// tray lays pockets out on sheets, in mm.
type tray struct {
	texts  *wording.Texts
	name   string
	paper  paper
	w, h   float64
	b      strings.Builder
	y      float64
	sheets []string
}

func newTray(texts *wording.Texts, name string, p paper) *tray {
	t := &tray{texts: texts, name: name, paper: p, w: p.Width - 2*trayMargin, h: p.Height - 2*trayMargin - 1}
	t.begin()
	return t
}

func (t *tray) text(x, y, size float64, class, s string) {
	t.b.WriteString(`<text x="` + num2(x) + `" y="` + num2(y) + `" font-size="` + num2(size) + `"` + class + `>` +
		html.EscapeString(s) + `</text>`)
}

// fit cuts a text to a width in mm; a character takes about 0.55 of its size.
func fit(s string, width, size float64) string {
	most := int(width / (0.55 * size))
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return string([]rune(s)[:max(1, most-1)]) + "…"
}

// wrapped breaks a text between words so that each line fits a width in mm.
func wrapped(s string, width, size float64) (out []string) {
	most := int(width / (0.55 * size))
	line := ""
	for _, word := range strings.Fields(s) {
		switch {
		case line == "":
			line = word
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) <= most:
			line += " " + word
		default:
			out, line = append(out, fit(line, width, size)), word
		}
	}
	if line != "" {
		out = append(out, fit(line, width, size))
	}
	return out
}

const ruleLength = 50 // mm

func (t *tray) begin() {
	t.b.Reset()
	t.text(0, 6, 5, ` class="strong"`, fit(t.name, t.w-70, 5))
	t.text(0, 11, 3.2, "", t.texts.Say("Fastener tray, true size. Print at 100 %, not fitted to the page."))
	x := t.w - ruleLength - 1
	t.b.WriteString(`<path class="rule" d="M` + num2(x) + ` 4H` + num2(x+ruleLength) + `"></path>`)
	for i := 0; i <= ruleLength; i += 5 {
		length := 2.0
		if i%10 == 0 {
			length = 3.5
		}
		t.b.WriteString(`<path class="tick" d="M` + num2(x+float64(i)) + ` 4v` + num2(length) + `"></path>`)
	}
	t.text(x, 11, 3.2, "", t.texts.Say("This rule is 50 mm long."))
	t.y = 16
}

func (t *tray) end() {
	t.sheets = append(t.sheets, t.b.String())
	t.begin()
}

// diameter reads the thread's diameter, for the drawing alone.
func diameter(thread string) float64 {
	digits := strings.TrimLeftFunc(thread, func(r rune) bool { return r < '0' || r > '9' })
	end := strings.IndexFunc(digits, func(r rune) bool { return (r < '0' || r > '9') && r != '.' && r != ',' })
	if end >= 0 {
		digits = digits[:end]
	}
	v, err := strconv.ParseFloat(strings.Replace(digits, ",", ".", 1), 64)
	if err != nil || v <= 0 || v > 20 {
		return 2.5
	}
	return v
}

// add gives each fastener of a row a pocket of its own with its length drawn
// true. What lies under it and which longer ones fit its hole stand whole beneath its name.
func (t *tray) add(v *terms.Vocabulary, f *casefile.Fastener, longer []string) {
	d := diameter(f.Thread)
	width, height := max(14, 2.4*d+6), min(max(22, f.Length+15), t.h-40)
	perRow := max(1, int(t.w/(width+2)))
	words := []string{f.Place, headWords(v, f)}
	if f.Length > 0 {
		words = append(words, strings.TrimSpace(f.Thread+" × "+boards.Number(f.Length)+" mm"))
	} else if f.Thread != "" {
		words = append(words, f.Thread)
	}
	if f.Torque != "" {
		words = append(words, f.Torque)
	}
	var notes []string
	const small = 3.2
	if f.Under != "" {
		notes = append(notes, wrapped(t.texts.Say("under it: %s", f.Under), t.w-8, small)...)
	}
	if len(longer) > 0 {
		notes = append(notes, wrapped(t.texts.Say("longer ones fit here too: %s", strings.Join(longer, ", ")), t.w-8, small)...)
	}
	words = slices.DeleteFunc(words, func(s string) bool { return s == "" })
	for done := 0; done < f.Count; {
		if t.y+10+height+4*float64(len(notes)) > t.h-12 {
			t.end()
		}
		t.text(0, t.y+5, 6, ` class="strong"`, f.Mark)
		t.text(6+3*float64(utf8.RuneCountInString(f.Mark)), t.y+4.5, 3.4, "", fit(strings.Join(words, " · "), t.w-72, 3.4))
		if done == 0 {
			t.text(t.w-64, t.y+4.5, 3.4, "", t.texts.Say("%d here; out", f.Count))
			t.box(t.w-40, t.y, 9)
			t.text(t.w-29, t.y+4.5, 3.4, "", t.texts.Say("back in"))
			t.box(t.w-10, t.y, 9)
		}
		t.y += 7
		if done == 0 {
			for _, note := range notes {
				t.text(6, t.y+2, small, ` class="strong"`, note)
				t.y += 4
			}
		}
		for i := 0; i < perRow && done < f.Count; i++ {
			t.pocket(f, d, float64(i)*(width+2), width, height, done+1)
			done++
		}
		t.y += height + 3
	}
}

func (t *tray) box(x, y, w float64) {
	t.b.WriteString(`<rect class="box" x="` + num2(x) + `" y="` + num2(y) + `" width="` + num2(w) + `" height="6"></rect>`)
}

func (t *tray) pocket(f *casefile.Fastener, d, x, w, h float64, n int) {
	t.b.WriteString(`<rect class="pocket" x="` + num2(x) + `" y="` + num2(t.y) + `" width="` + num2(w) +
		`" height="` + num2(h) + `"></rect>`)
	t.text(x+1, t.y+h-1, 3.2, "", f.Mark+strconv.Itoa(n))
	head := 0.95 * d
	mid := x + w/2
	t.b.WriteString(headShape(f.Drive, mid, t.y+1.5+head, head))
	top := t.y + 2.5 + 2*head
	if f.Length > 0 {
		length := min(f.Length, h-(top-t.y)-4)
		t.b.WriteString(`<path class="silhouette" d="M` + num2(mid-d/2) + " " + num2(top) + "h" + num2(d) + "v" +
			num2(length) + "h" + num2(-d) + `Z"></path>`)
		if length < f.Length {
			t.text(x+1, t.y+h-5, 2.6, "", t.texts.Say("cut short"))
		}
	}
}

func (t *tray) finish(total int) []template.HTML {
	t.text(0, t.y+5, 4, ` class="strong"`, t.texts.Say("All: %d. Came out", total))
	t.box(46, t.y, 12)
	t.text(62, t.y+5, 4, ` class="strong"`, t.texts.Say("went back in"))
	t.box(93, t.y, 12)
	t.sheets = append(t.sheets, t.b.String())
	var out []template.HTML
	for i, body := range t.sheets {
		label := t.texts.Say("Fastener tray of %s, sheet %d of %d", t.name, i+1, len(t.sheets))
		out = append(out, template.HTML(`<svg class="tray-sheet" role="img" aria-label="`+html.EscapeString(label)+
			`" width="`+num2(t.w)+`mm" height="`+num2(t.h)+`mm" viewBox="0 0 `+num2(t.w)+" "+num2(t.h)+`">`+body+`</svg>`))
	}
	return out
}

// deviceJobs are the pages of a device: its own, its tray sheets, its boards.
func (s *site) deviceJobs(d *notebook.Device) []job {
	jobs := []job{s.page("devices/"+d.ID+".html", "device", func() (any, error) { return s.devicePage(d) })}
	if d.Record != nil && len(d.Record.Device.Fasteners) > 0 {
		for _, p := range papers {
			jobs = append(jobs, s.page(trayPath(d, p), "tray", func() (any, error) { return s.trayPage(d, p), nil }))
		}
	}
	for _, b := range d.Boards {
		jobs = append(jobs, s.boardJobs(d, b)...)
	}
	return jobs
}
