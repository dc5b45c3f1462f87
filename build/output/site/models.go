package site

import (
	"cmp"
	"html/template"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"benchlore/build/notebook"
	"benchlore/build/output/wording"
	cautions "benchlore/build/reason/hazard"
	"benchlore/build/reason/similar"
	"benchlore/build/reason/verdict"
	"benchlore/schema/casefile"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// The view models hold finished words; templates only place them.

type frame struct {
	Root     string // from the page to the site's root, "" or "../"
	Title    string
	About    string // what the page is about, which it does not explain
	Workshop string
	Lang     string
	Licence  string
	Others   bool // cases of other workshops stand here too, each under its own licence
	Credit   string
	Nav      template.HTML
}

// mark is a state, said by word and sign; Class only colours it.
type mark = wording.Mark

type caseItem struct {
	ID, Title, Href, Device, Cause, Date string
	State                                mark
}

type counted struct {
	Name, Href, Note string
	Count            int
}

type link struct{ Text, Href string }

type fact struct {
	Name, Text string
	Mark       *mark
	Links      []link
}

type caution struct{ Name, Text, Href string }

type findingRow struct {
	Check, Seen, Minutes string
	After                bool // taken after the repair
	Result               mark
	Extra                []string
}

type measurementRow struct {
	Point, What, State, Expected, Read, Note string
	From                                     string // of limits that the row does not state
	Guard                                    string // the meter's uncertainty
	Unjudged                                 string // why there is no verdict
	After                                    bool   // taken after the repair
	Verdict                                  mark
	Scale                                    template.HTML
	Extra                                    []string
}

type partRow struct {
	Ref, Part, Href, Value, Package, Net, Action, Fitted, Note string
	OnBoard                                                    string // where the drawing shows it
	Judged                                                     mark
	Says                                                       string
	Extra                                                      []string
}

type sectionView struct {
	Name, Anchor  string
	AfterPictures bool // they stand before this one
	HTML          template.HTML
	Findings      []findingRow
	Measurements  []measurementRow
	Parts         []partRow
	ExtraColumns  []string
	Alarms        []string // protective parts bridged or left off
	NoMeter       bool     // readings were judged without the meter's accuracy
	Story         template.HTML
	Filled        filledColumns
}

// filledColumns are those of a table of readings or parts in which something stands.
type filledColumns struct{ Value, Package, Net, Fitted, Judged, Note bool }

type photoMark struct {
	Number          int
	X, Y, Label     string
	Where           string
	Shape           string // pin, box or arrow
	ToX, ToY        string
	Left, Top, W, H string // of a box
}

type photoView struct {
	ID                  string // of its figure
	Src, Small, Caption string
	Width, Height       int // pixels of Src; 0 where they are not known
	SmallWidth          int
	Marks               []photoMark
	Before              *photoView // the picture that it is compared with
	Alike               bool       // both have one shape, so that they can be laid over each other
}

type neighbourView struct {
	Case caseItem
	Why  string
}

type casePage struct {
	Frame                                frame
	ID, Title, Device, DeviceHref, Board string
	Cautions                             []caution
	Stop                                 *stopView // of an open case that shows a danger
	Glance                               []fact
	Sections                             []sectionView
	Photos                               []photoView
	Wipes                                bool   // pictures that are compared have one shape
	Line                                 string // what it was, what proved it, minutes
	Map                                  *caseMap
	PicturesLast                         bool // no section has them before it
	Comebacks                            []caseItem
	Similar                              []neighbourView
	Origin, DataHref, Practise, Triage   string
	Guessed                              bool // symptoms that a program read
}

type block struct {
	Name, Text string
	Items      []counted
	Lines      []string
	Cases      []caseItem
}

type listPage struct {
	Frame         frame
	Heading, Lead string
	Triage        string // where what is known of it is asked about
	Cautions      []caution
	Facts         []fact
	HTML          template.HTML
	Blocks        []block
	Empty         string
}

type homePage struct {
	Frame                 frame
	Welcome, Figures      string
	Common                []counted
	Open, Newest, Returns []caseItem
	Theirs                []caseItem // newest finished ones of other workshops
}

type wordView struct{ ID, Anchor, Name, Meaning, Also, Href string }

type wordsPage struct {
	Frame   frame
	Classes []struct {
		ID, Name string
		Terms    []wordView
	}
}

type searchPage struct {
	Frame  frame
	Common []counted  // symptoms, shown until something is asked
	Newest []caseItem // likewise
}

// Signs differ in shape, so that state is never told by colour alone.
func outcomeMark(k *casefile.Case) mark {
	switch {
	case k.Open():
		return mark{Word: "open", Sign: "◌", Class: "care"}
	case k.Outcome == "fixed":
		return mark{Word: "fixed", Sign: "●", Class: "good"}
	case k.Outcome == "repairable":
		return mark{Word: "repairable", Sign: "◐", Class: "care"}
	case k.Outcome == "end-of-life":
		return mark{Word: "end of life", Sign: "✕", Class: "bad"}
	}
	return mark{Word: "outcome unknown", Sign: "?", Class: "plain"}
}

func resultMark(result string) mark {
	switch result {
	case "clear":
		return mark{Word: "clear", Sign: "○", Class: "good"}
	case "fault":
		return mark{Word: "fault", Sign: "▲", Class: "bad"}
	case "unsure":
		return mark{Word: "unsure", Sign: "?", Class: "care"}
	}
	return mark{Word: result, Class: "plain"}
}

func (s *site) item(root string, c *notebook.Case) caseItem {
	k := &c.File.Case
	it := caseItem{ID: c.ID(), Title: k.Title, Href: root + casePath(c), Device: c.Device.Name(s.n.Terms),
		Date: cmp.Or(k.Closed, k.Opened), State: outcomeMark(k)}
	if it.Title == "" {
		it.Title = s.t("Case %s", c.ID())
	}
	if k.From != "" {
		it.Device += ", " + s.t("from %s", k.From)
	}
	if k.Cause != nil {
		it.Cause = s.n.Terms.Name(terms.Fault, k.Cause.Fault) + ", " + s.n.Terms.Name(terms.Place, k.Cause.At)
	}
	return it
}

func (s *site) items(root string, list []*notebook.Case) []caseItem {
	out := make([]caseItem, 0, len(list))
	for _, c := range list {
		out = append(out, s.item(root, c))
	}
	return out
}

func casePath(c *notebook.Case) string { return "cases/" + c.ID() + ".html" }

func (s *site) cautions(root string, hazards []*terms.Term) []caution {
	var out []caution
	for _, t := range hazards {
		out = append(out, caution{t.Name, t.Advice(), root + hazardPath(t.ID)})
	}
	return out
}

func (s *site) casePage(c *notebook.Case, near []similar.Neighbour) (casePage, error) {
	k := &c.File.Case
	const root = "../"
	it := s.item(root, c)
	p := casePage{Frame: s.frame(root, it.Title+" · "+c.ID()), ID: c.ID(), Title: it.Title, Device: it.Device,
		DeviceHref: root + "devices/" + c.Device.ID + ".html", Board: k.Board,
		Cautions: s.cautions(root, s.cautioned[c].Cautions), Stop: s.stop(c), Glance: s.facts(root, c), Line: s.caseLine(c),
		DataHref: root + "data/" + c.ID() + ".json", Triage: triageHref(root, k.Symptoms, c.Device.ID)}
	if s.exercises[c.ID()] {
		p.Practise = root + "practise.html#" + c.ID()
	}
	var err error
	if p.Sections, err = s.sections(c); err != nil {
		return p, err
	}
	p.Map = s.caseMap(root, c)
	p.PicturesLast = !slices.ContainsFunc(p.Sections, func(v sectionView) bool { return v.AfterPictures })
	for i, ph := range k.Photos {
		if v, ok := s.photoView(root, c, ph); ok {
			v.ID = pictureID(i)
			p.Photos = append(p.Photos, v)
		}
	}
	p.Photos = pairs(k.Photos, p.Photos)
	p.Wipes = slices.ContainsFunc(p.Photos, func(v photoView) bool { return v.Alike })
	p.Comebacks = s.items(root, s.similar.Comebacks(c))
	for _, nb := range near {
		p.Similar = append(p.Similar, neighbourView{s.item(root, nb.Case), strings.Join(nb.Why, "; ")})
	}
	if k.From != "" {
		w := s.n.Workshop(k.From)
		p.Origin = s.t("A case of %s, under %s.", w.Name, w.Licence)
		if w.Licence == "" {
			p.Origin = s.t("A case of %s; its licence is not stated.", w.Name)
		}
		if k.By != "" {
			p.Origin += " " + s.t("Written by %s.", k.By)
		}
	}
	if src := k.Source; src != nil {
		p.Guessed = src.SymptomsGuessed()
		p.Origin = strings.TrimSpace(p.Origin + " " + strings.Join(slices.DeleteFunc([]string{"Open repair record " + src.ID, src.Provider, src.Credit, src.Licence},
			func(t string) bool { return t == "" }), ", "))
	}
	return p, nil
}

func (s *site) photoView(root string, c *notebook.Case, ph casefile.Photo) (photoView, bool) {
	if !s.photos[c.ID()+"/"+ph.File] {
		return photoView{}, false
	}
	folder := root + "photos/" + url.PathEscape(c.ID()) + "/"
	v := photoView{Src: folder + url.PathEscape(ph.File), Caption: ph.Caption}
	size := s.sizes["photos/"+c.ID()+"/"+ph.File]
	v.Width, v.Height = size[0], size[1]
	if s.photos[smallPhoto(c.ID(), ph.File)] && v.Width > smallWidth {
		v.SmallWidth = smallWidth
		v.Small = folder + smallFolder + "/" + url.PathEscape(ph.File)
	}
	for i, m := range ph.Marks {
		mark := photoMark{Number: i + 1, X: percent(m.X), Y: percent(m.Y), Label: m.Label, Where: where(m.X, m.Y),
			Shape: cmp.Or(m.Shape, "pin")}
		if len(m.To) != 2 {
			mark.Shape = "pin"
		} else {
			mark.ToX, mark.ToY = percent(m.To[0]), percent(m.To[1])
			mark.Left, mark.Top = percent(min(m.X, m.To[0])), percent(min(m.Y, m.To[1]))
			mark.W, mark.H = percent(max(m.X, m.To[0])-min(m.X, m.To[0])), percent(max(m.Y, m.To[1])-min(m.Y, m.To[1]))
		}
		v.Marks = append(v.Marks, mark)
	}
	return v, true
}

// pairs puts a picture that another one is compared with beside that one.
func pairs(photos []casefile.Photo, views []photoView) []photoView {
	byFile := map[string]*photoView{}
	for i := range views {
		for _, ph := range photos {
			if strings.HasSuffix(views[i].Src, "/"+url.PathEscape(ph.File)) {
				byFile[ph.File] = &views[i]
			}
		}
	}
	gone := map[*photoView]bool{}
	for _, ph := range photos {
		before, after := byFile[ph.Compare], byFile[ph.File]
		if before != nil && after != nil && before != after && !gone[before] && before.Before == nil {
			after.Before = before
			after.Alike = sameShape(before, after)
			gone[before] = true
		}
	}
	var out []photoView
	for i := range views {
		if !gone[&views[i]] {
			out = append(out, views[i])
		}
	}
	return out
}

// sameShape reports whether two pictures are as wide for their height, within a
// hundredth.
func sameShape(a, b *photoView) bool {
	x, y := float64(a.Width*b.Height), float64(b.Width*a.Height)
	return x > 0 && math.Abs(x-y) <= 0.01*x
}

func percent(share float64) string { return strconv.FormatFloat(share*100, 'f', 1, 64) }

// where says a place in a picture in words.
func where(x, y float64) string {
	part := func(v float64, low, mid, high string) string {
		switch {
		case v < 1.0/3:
			return low
		case v > 2.0/3:
			return high
		}
		return mid
	}
	v, h := part(y, "top", "middle", "bottom"), part(x, "left", "centre", "right")
	if v == "middle" && h == "centre" {
		return "centre"
	}
	return v + " " + h
}

// stopView is what comes before all else while something is dangerous.
type stopView struct {
	Text    string
	Dangers []dangerView
}

type dangerView struct {
	Name  string
	First []string
}

// stop is said above an open case; what a closed one showed is past.
func (s *site) stop(c *notebook.Case) *stopView {
	w := s.cautioned[c]
	if !c.File.Case.Open() || !w.Stop() {
		return nil
	}
	v := stopView{Text: s.t(cautions.Stop)}
	for _, t := range w.Dangers {
		v.Dangers = append(v.Dangers, dangerView{t.Name, t.First})
	}
	return &v
}

// caseLine says in a line what it was, what proved it and how long it took. Above a row
// that is still out nothing is said to be proved.
func (s *site) caseLine(c *notebook.Case) string {
	k := &c.File.Case
	if k.Open() || k.Cause == nil {
		return ""
	}
	line := s.n.Terms.Name(terms.Fault, k.Cause.Fault) + ", " + s.n.Terms.Name(terms.Place, k.Cause.At) + "."
	switch {
	case s.judge.StillOut(c):
		line += " " + s.t("Not proved: a row after the repair is still out.")
	case k.Confirmed != "":
		line += " " + s.t("Proved by: %s.", strings.TrimRight(k.Confirmed, "."))
	}
	if n := k.Minutes.Total(); n > 0 {
		line += " " + s.t("%d min.", n)
	}
	return line
}

func (s *site) facts(root string, c *notebook.Case) []fact {
	k, v := &c.File.Case, s.n.Terms
	state := outcomeMark(k)
	list := []fact{{Name: s.t("Outcome"), Mark: &state}}
	termLinks := func(name string, class terms.Class, dir string, ids []string) {
		if len(ids) == 0 {
			return
		}
		f := fact{Name: name}
		for _, id := range ids {
			l := link{Text: v.Name(class, id)}
			if dir != "" && (class != terms.Symptom || len(s.lists.symptom[id]) > 0) {
				l.Href = root + dir + id + ".html"
			}
			f.Links = append(f.Links, l)
		}
		list = append(list, f)
	}
	text := func(name, value string) {
		if value != "" {
			list = append(list, fact{Name: name, Text: value})
		}
	}
	if k.Cause != nil {
		termLinks(s.t("Cause"), terms.Fault, "faults/", []string{k.Cause.Fault})
		termLinks(s.t("Place"), terms.Place, "", []string{k.Cause.At})
		text(s.t("Brought about by"), v.Name(terms.Origin, k.Cause.Origin))
	}
	termLinks(s.t("Symptoms"), terms.Symptom, "symptoms/", k.Symptoms)
	termLinks(s.t("Asked and absent"), terms.Symptom, "symptoms/", k.Absent)
	termLinks(s.t("Beforehand"), terms.Before, "", k.Before)
	if k.Barrier != "" {
		text(s.t("Given up because"), v.Name(terms.Barrier, k.Barrier))
	}
	if s.judge.StillOut(c) {
		text(s.t("Not proved"), s.t("a row after the repair is still out"))
	} else {
		text(s.t("Proved by"), k.Confirmed)
	}
	if m := k.Minutes; m != nil {
		switch {
		case m.Diagnosis != nil && m.Repair != nil:
			text(s.t("Bench time"), s.t("%d min (%d diagnosis, %d repair)", m.Total(), *m.Diagnosis, *m.Repair))
		case m.Diagnosis != nil:
			text(s.t("Bench time"), s.t("%d min of diagnosis; of repair not noted", *m.Diagnosis))
		case m.Repair != nil:
			text(s.t("Bench time"), s.t("%d min of repair; of diagnosis not noted", *m.Repair))
		}
	}
	if k.Cost != nil {
		money := func(name string, sum *float64) {
			if sum != nil {
				text(name, strings.TrimSpace(s.t("%.2f %s", *sum, s.n.Config.Currency)))
			}
		}
		money(s.t("Parts cost"), k.Cost.Parts)
		money(s.t("Charged"), k.Cost.Charged)
	}
	if n := k.Fasteners; n != nil {
		counted := s.t("%d out", n.Out)
		if n.In != nil {
			counted += s.t(", %d back in", *n.In)
		}
		if n.Reason != "" {
			counted += ": " + n.Reason
		}
		text(s.t("Fasteners"), counted)
	}
	dates := k.Opened
	if k.Closed != "" && k.Closed != k.Opened {
		dates = s.t("%s to %s", dates, k.Closed)
	}
	text(s.t("On the bench"), dates)
	text(s.t("Known to work until"), k.Followed)
	text(s.t("By"), k.By)
	text(s.t("From the workshop"), k.From)
	return list
}

func (s *site) sections(c *notebook.Case) ([]sectionView, error) {
	k := &c.File.Case
	var out []sectionView
	shown := false // the pictures have their place
	for i, sec := range k.Sections {
		v := sectionView{Name: s.t(cmp.Or(sec.Name, "Note")), Anchor: "s" + strconv.Itoa(i+1),
			AfterPictures: !shown && (sec.Name == "Outcome" || sec.Name == "Lesson")}
		shown = shown || v.AfterPictures
		src := c.Text.Bytes[sec.Start:sec.Stop]
		computed := false
		switch sec.Name {
		case "Findings":
			computed = s.findings(k, &v)
		case "Measurements":
			computed = s.measurements(c, &v)
		case "Parts":
			computed = s.parts(c, &v)
		}
		if computed && sec.TableStop > 0 {
			src = cutTable(c.Text.Bytes, sec)
		}
		html, err := convert(s.markdown, src, s.resolver(c))
		if err != nil {
			return nil, err
		}
		if slices.Contains(casefile.WorkSections, sec.Name) {
			html = s.heads(s.pictureLinks(c, html))
		}
		v.HTML = html + s.workNote(k, sec.Name)
		out = append(out, v)
	}
	return out, nil
}

// resolver lets pictures of the case's own folder through, and links that are
// safe anywhere.
func (s *site) resolver(c *notebook.Case) resolver {
	return func(dest string, picture bool) (string, bool) {
		if id, ok := strings.CutPrefix(dest, "word:"); ok && !picture { // the author means this word of the bench
			if _, known := s.n.Terms.Lookup(terms.Word, id); !known {
				return "", false
			}
			return "../words.html#" + string(terms.Word) + "-" + url.PathEscape(id), true
		}
		if !picture {
			return safeURL(dest, false)
		}
		name, err := url.PathUnescape(dest)
		if err != nil || !s.photos[c.ID()+"/"+name] {
			return "", false
		}
		return "../photos/" + url.PathEscape(c.ID()) + "/" + url.PathEscape(name), true
	}
}

// cutTable returns a section without its table, which is shown computed instead.
func cutTable(src []byte, sec casefile.Section) []byte {
	return slices.Concat(src[sec.Start:sec.TableStart], src[sec.TableStop:sec.Stop])
}

func columnsOf(extra []casefile.Extra) (columns []string) {
	for _, e := range extra {
		columns = append(columns, e.Column)
	}
	return columns
}

func cellsOf(extra []casefile.Extra) (cells []string) {
	for _, e := range extra {
		cells = append(cells, e.Text)
	}
	return cells
}

// findings shows the table computed, and reports whether it did.
func (s *site) findings(k *casefile.Case, v *sectionView) bool {
	if len(k.Findings) == 0 {
		return false
	}
	v.Story = s.story(k)
	v.ExtraColumns = columnsOf(k.Findings[0].Extra)
	for _, f := range k.Findings {
		row := findingRow{Check: f.Check, Seen: f.Seen, Result: resultMark(f.Result), After: f.When == casefile.After,
			Extra: cellsOf(f.Extra)}
		if f.Minutes > 0 {
			row.Minutes = strconv.Itoa(f.Minutes)
		}
		v.Findings = append(v.Findings, row)
	}
	return true
}

func (s *site) measurements(c *notebook.Case, v *sectionView) bool {
	k := &c.File.Case
	if len(k.Measurements) == 0 {
		return false
	}
	v.ExtraColumns = columnsOf(k.Measurements[0].Extra)
	for i := range k.Measurements {
		m := &k.Measurements[i]
		j := s.judge.Reading(c, m)
		limits, from := s.limits(j)
		row := measurementRow{Point: m.Point, What: m.What, State: m.State, Expected: cmp.Or(m.Expected, limits),
			Read: m.Read, Note: m.Note,
			From: from, Guard: j.Guard, Unjudged: j.Unjudged, After: m.When == casefile.After,
			Verdict: wording.OfVerdict(j.Verdict), Scale: scale(m.Reading, j), Extra: cellsOf(m.Extra)}
		v.NoMeter = v.NoMeter || j.Verdict != quantity.NoVerdict && j.Guard == "" && !m.Reading.Over
		v.Filled.Note = v.Filled.Note || m.Note != ""
		v.Measurements = append(v.Measurements, row)
	}
	return true
}

func (s *site) parts(c *notebook.Case, v *sectionView) bool {
	k := &c.File.Case
	if len(k.Parts) == 0 {
		return false
	}
	v.ExtraColumns = columnsOf(k.Parts[0].Extra)
	for i := range k.Parts {
		p := &k.Parts[i]
		row := partRow{Ref: p.Ref, Part: p.Part, Value: p.Value, Package: p.Package, Net: p.Net,
			Action: s.action(p), Fitted: p.Fitted, Note: p.Note, Extra: cellsOf(p.Extra)}
		if b, ok := c.Board(); ok {
			if known, ok := b.Part(p.Ref); ok {
				row.OnBoard = "../" + boardRef(c.Device, b, known.Ref)
				row.Value, row.Package, row.Net = cmp.Or(row.Value, known.Value), cmp.Or(row.Package, known.Package),
					cmp.Or(row.Net, b.NetWords(known))
				if strings.EqualFold(row.Value, row.Part) { // as lists of parts write what has no value
					row.Value = ""
				}
			}
		}
		if j, ok := s.judge.Part(c, p); ok {
			row.Judged, row.Says = wording.OfPart(j.Fit, j.Protective), j.Text
			if j.Protective {
				v.Alarms = append(v.Alarms, j.Text)
			}
		}
		if _, slug, ok := verdict.Key(p); ok {
			row.Href = "../parts/" + slug + ".html"
		}
		has := &v.Filled
		has.Value, has.Package, has.Net = has.Value || row.Value != "", has.Package || row.Package != "", has.Net || row.Net != ""
		has.Fitted, has.Judged, has.Note = has.Fitted || row.Fitted != "", has.Judged || row.Judged.Word != "", has.Note || row.Note != ""
		v.Parts = append(v.Parts, row)
	}
	return true
}

// action is what was done with a part, and that it was found so.
func (s *site) action(p *casefile.Part) string {
	name := s.n.Terms.Name(terms.Action, p.Action)
	if p.When == casefile.Found {
		name += " (" + s.texts.Say("found so") + ")"
	}
	return name
}

// scale draws where a reading lies against its limits: a band for what is
// allowed, a pointer for what was read. It says nothing that the verdict does
// not, so it is hidden from screen readers.
func scale(reading *quantity.Value, j verdict.Reading) template.HTML {
	e := j.Expectation
	if reading == nil || reading.Over || e.Low == nil && e.High == nil {
		return ""
	}
	f := func(v *quantity.Value) float64 { return v.Number.Float() }
	x := f(reading)
	var low, high, left, right float64
	switch {
	case e.Low != nil && e.High != nil:
		low, high = f(e.Low), f(e.High)
		span := high - low
		if span == 0 {
			span = max(abs(low), 1) / 10
		}
		left, right = low-span, high+span
	case e.High != nil:
		high = f(e.High)
		left, right = min(0, high*2), max(high*2, 0)
		low = left
	default:
		low = f(e.Low)
		left, right = min(0, low*2), max(low*2, 0)
		high = right
	}
	if right <= left {
		return ""
	}
	at := func(v float64) float64 { return 4 + 92*(v-left)/(right-left) }
	num := func(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }
	px, pointer := at(x), ""
	switch {
	case px < 4: // off the scale: the pointer becomes an arrow at its end
		pointer = `<path class="scale-read" d="M1 9 L7 5 L7 13 Z"></path>`
	case px > 96:
		pointer = `<path class="scale-read" d="M99 9 L93 5 L93 13 Z"></path>`
	default:
		pointer = `<path class="scale-read" d="M` + num(px) + ` 8 L` + num(px-3) + ` 1 L` + num(px+3) + ` 1 Z"></path>`
	}
	return template.HTML(`<svg class="scale" viewBox="0 0 100 16" aria-hidden="true" focusable="false"><rect class="scale-band" x="` +
		num(at(low)) + `" y="6" width="` + num(max(at(high)-at(low), 0.5)) +
		`" height="7"></rect><path class="scale-line" d="M4 13 H96"></path>` + pointer + `</svg>`)
}

func abs(x float64) float64 { return max(x, -x) }
