package editor

import (
	"cmp"
	"encoding/json"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/build/output/wording"
	"benchlore/build/reason/boards"
	"benchlore/build/reason/hazard"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

type listed struct{ ID, Title, Device, Date string }

type homePage struct {
	Title         string
	Workshop      string
	Message       string
	Form          url.Values
	Devices       []option
	Open, Newest  []listed
	Kept          []listed // with text in the journal that the file has not
	FormTitle, By string
}

type option struct{ Value, Name string }

func (s *Server) homePage(n *notebook.Notebook, form url.Values, message string) homePage {
	p := homePage{Title: "Write", Workshop: n.Config.Name, Message: message, FormTitle: form.Get("title"),
		By: form.Get("by"), Form: form, Devices: deviceOptions(n)}
	cases := slices.Clone(n.Cases)
	slices.SortFunc(cases, func(a, b *notebook.Case) int {
		return cmp.Or(strings.Compare(b.File.Case.Opened, a.File.Case.Opened), strings.Compare(b.ID(), a.ID()))
	})
	for _, c := range cases {
		k := &c.File.Case
		it := listed{c.ID(), k.Title, c.Device.Name(n.Terms), cmp.Or(k.Closed, k.Opened)}
		if _, ok := s.store.Kept(c.ID(), c.Path); ok {
			p.Kept = append(p.Kept, it)
		}
		switch {
		case k.From != "": // what came from another workshop is not on this bench
		case k.Open():
			p.Open = append(p.Open, it)
		case len(p.Newest) < 10:
			p.Newest = append(p.Newest, it)
		}
	}
	p.Open = p.Open[:min(100, len(p.Open))]
	return p
}

func deviceOptions(n *notebook.Notebook) []option {
	var out []option
	for _, id := range ids(n) {
		d, _ := n.Device(id)
		out = append(out, option{id, d.Name(n.Terms)})
	}
	return out
}

// field is one input of the sheet.
type field struct {
	Name, Label, Value, Hint, Class, List string
	Kind                                  string // text, area, pick (terms), choose, date, number
	Options                               []option
	Wide                                  bool
	Problems                              []problem
}

// How the fields of a case are asked for on the sheet, beside what
// [casefile.Fields] says of them.
var (
	inputOf = map[casefile.Kind]string{casefile.Line: "text", casefile.Date: "date", casefile.Word: "choose",
		casefile.Words: "pick", casefile.Labels: "text", casefile.Whole: "number", casefile.Money: "text"}
	benchFields = []string{"title", "device", "board", "opened", "by", "symptoms", "absent", "before",
		"hazards"} // before the sections, the rest after them
	wideFields = []string{"title", "confirmed"}
	// completedFrom are the lists that an input is completed from.
	completedFrom = map[string]string{"device": "devices", "board": "boards"}
	fieldHints    = map[string]string{"device": "an id of devices/", "by": "initials",
		"symptoms": "type what it does, in plain words", "absent": "asked for and not there",
		"before": "dropped, liquid, storm, repair elsewhere …", "hazards": "mains, lithium, hot air …",
		"barrier": "only where it was given up", "confirmed": "how the repair was proved",
		"fasteners.reason": "where the two differ", "returns": "the earlier case",
		"followed": "last day known to work", "tags": "with commas between",
		"private.intake.condition":   "scratches, cracks, missing screws, what was opened before",
		"private.intake.accessories": "what was handed over with it",
		"private.intake.data":        "what the owner agreed to: kept, may be erased, may be looked at; not asked is an answer too",
		"private.intake.words":       "as they said it; who the owner is stays out of the notebook"}
)

type tableView struct {
	Name    string
	Columns []string
	Rows    [][]string
	Choices map[string][]string
	Lists   map[string]string // column -> datalist
	Said    bool              // rows are judged as they are typed
}

type sectionView struct {
	Name, Anchor, Text, Hint string
	Table                    *tableView
}

type conflictView struct{ Label, Mine, Theirs string }

// openView is a choice that is still to be made.
type openView struct{ ID, Field, Label, Mine, Theirs string }

type sheetPage struct {
	Title, ID, Device, DeviceHref, Closed string
	Version                               Version
	Saved                                 string
	State                                 string // JSON for the script
	Opening                               []string
	Checked                               checked
	Stop                                  string // shown while [checked.Stop]
	First, Intake, Cause, End             []field
	IntakeOpen                            bool
	Sections, Work                        []sectionView
	WorkOpen                              bool
	Photos                                []photoField
	Problems                              []problem
	Conflicts                             []conflictView
	Opened                                []openView
	Refused                               []Refusal
	Kept                                  string
	Devices                               []option
	Lists                                 map[string][]string
}

func (s *Server) sheetPage(n *notebook.Notebook, c *notebook.Case, f *casefile.File, data []byte,
	conflicts []Conflict, refused []Refusal) sheetPage {
	k := &f.Case
	a := s.answer(n, c, f)
	fields := a.Fields
	names := map[string]string{}
	for class, list := range map[terms.Class][]string{terms.Symptom: append(slices.Clone(k.Symptoms), k.Absent...),
		terms.Before: k.Before, terms.Hazard: k.Hazards} {
		for _, id := range list {
			names[id] = n.Terms.Name(class, id)
		}
	}
	opened := s.openOf(c, fields)
	state, _ := json.Marshal(map[string]any{"open": opened, "names": names, "id": c.ID(), "version": a.Version, "fields": fields,
		"checked": a.Checked, "back": a.Back, "forward": a.Forward, "meter": s.meter != nil})
	p := sheetPage{Title: cmp.Or(k.Title, "Case "+c.ID()), ID: c.ID(), Device: c.Device.Name(n.Terms),
		DeviceHref: "/devices/" + c.Device.ID + ".html", Closed: k.Closed,
		Version: a.Version, Saved: a.Saved, Checked: a.Checked, State: string(state), Photos: photosOf(k.Photos),
		Problems: a.Checked.Problems, Refused: refused, Devices: deviceOptions(n)}
	if kept, ok := s.store.Kept(c.ID(), c.Path); ok {
		p.Kept = string(kept)
	}
	for _, o := range opened {
		if len(conflicts) > 0 {
			break // they are among those that are shown
		}
		p.Opened = append(p.Opened, openView{o.ID, o.Field, labelOf(o.Field), o.Mine, fields[o.Field]})
	}
	for _, x := range conflicts {
		p.Conflicts = append(p.Conflicts, conflictView{labelOf(x.Field), x.Mine, x.Theirs})
	}
	d := n.With(c, f).Device
	p.Stop = hazard.Stop
	w := hazard.OfCase(n, n.With(c, f))
	for _, h := range w.Cautions {
		p.Opening = append(p.Opening, h.Name+": "+h.Advice())
	}
	if d != nil && d.Record != nil {
		sheet := boards.NewSheet(n, d)
		p.Device, p.DeviceHref = d.Name(n.Terms), "/devices/"+d.ID+".html"
		if sheet.Fasteners > 0 {
			p.Opening = append(p.Opening,
				wording.In(n.Config.Language).Count(sheet.Fasteners, "%d fastener; count it out and in.",
					"%d fasteners; count them out and in."))
		}
		p.Opening = append(p.Opening, sheet.Warnings()...)
	}
	choose := func(c terms.Class, value string) []option {
		options := []option{{"", "not said"}}
		for _, t := range n.Terms.All(c) {
			options = append(options, option{t.ID, t.Name})
		}
		if value != "" && !slices.ContainsFunc(options, func(o option) bool { return o.Value == value }) {
			options = append(options, option{value, value + " (not a known word)"})
		}
		return options
	}
	for _, x := range casefile.Intake {
		one := field{Name: x.Path, Label: x.Label, Value: fields[x.Path], Hint: fieldHints[x.Path], Kind: "area", Wide: true}
		p.IntakeOpen = p.IntakeOpen || one.Value != ""
		p.Intake = append(p.Intake, one)
	}
	for _, x := range casefile.Fields {
		if x.Label == "" || x.Kind == casefile.Pictures {
			continue
		}
		hint := fieldHints[x.Path]
		if x.Kind == casefile.Money {
			hint = n.Config.Currency
		}
		one := field{Name: x.Path, Label: x.Label, Value: fields[x.Path], Hint: hint, Kind: inputOf[x.Kind], List: completedFrom[x.Path],
			Wide: x.Kind == casefile.Words || slices.Contains(wideFields, x.Path)}
		switch x.Kind {
		case casefile.Words:
			one.Class = string(x.Class)
		case casefile.Word:
			one.Options = choose(x.Class, one.Value)
		}
		switch {
		case x.Key() == "cause":
			p.Cause = append(p.Cause, one)
		case slices.Contains(benchFields, x.Key()):
			p.First = append(p.First, one)
		default:
			p.End = append(p.End, one)
		}
	}
	hints := map[string]string{"Symptom": "What the owner said, what the bench saw, how to provoke it.",
		"Outcome": "What was done, how it was proved, what was left and why.",
		"Lesson":  "What the next person should do differently.", "Measurements": "expected: 3.3 V ±5 %, 0.45..0.55 V, > 1 MΩ, OL"}
	for i, name := range casefile.SectionNames {
		v := sectionView{Name: name, Anchor: fmt.Sprintf("s%d", i+1), Text: fields[sectionPrefix+name], Hint: hints[name]}
		if slices.Contains(tableSections, name) {
			t := f.Table(name)
			rows := append(slices.Clone(t.Rows), make([]string, len(t.Columns)))
			v.Table = &tableView{Name: name, Columns: t.Columns, Rows: rows, Choices: map[string][]string{}, Lists: map[string]string{}}
			v.Table.Said = name != "Findings"
			switch name {
			case "Findings":
				v.Table.Choices["result"] = []string{"", "clear", "fault", "unsure"}
				v.Table.Lists["check"] = "checks"
			case "Parts":
				v.Table.Choices["action"] = []string{""}
				for _, t := range n.Terms.All(terms.Action) {
					v.Table.Choices["action"] = append(v.Table.Choices["action"], t.ID)
				}
				v.Table.Lists["ref"] = "refs"
			case "Measurements":
				v.Table.Lists["point"] = "points"
			}
		}
		p.Sections = append(p.Sections, v)
	}
	workHints := map[string]string{"Injection": "What was put in, with which limit, and what got warm.",
		"Rework":     "Heat and solder, so that it can be done again the same way; class: the number of the procedure.",
		"Jumpers":    "From and to as pins (U4.1), nets or parts; pictures before and after by their file.",
		"Firmware":   "The file stays out of the notebook: benchlore firmware FILE prints its size and its sum.",
		"Acceptance": "Limits of the codes that apply where you are; nothing here declares a device safe."}
	for _, name := range casefile.WorkSections {
		t := f.Table(name)
		v := sectionView{Name: name, Anchor: "work-" + strings.ToLower(name), Text: fields[sectionPrefix+name], Hint: workHints[name],
			Table: &tableView{Name: name, Columns: t.Columns, Rows: append(slices.Clone(t.Rows), make([]string, len(t.Columns))),
				Choices: map[string][]string{}, Lists: map[string]string{}}}
		if name == "Acceptance" {
			v.Table.Choices["result"] = append([]string{""}, casefile.AcceptanceResults...)
		}
		p.WorkOpen = p.WorkOpen || len(t.Rows) > 0 || v.Text != ""
		p.Work = append(p.Work, v)
	}
	p.Lists = s.lists(n, n.With(c, f))
	return p
}

// openOf gives the choices that are still to be made: those whose text is not what the
// file has by now.
func (s *Server) openOf(c *notebook.Case, fields Fields) []Open {
	list, err := s.store.Opened(c.ID())
	if err != nil {
		return []Open{} // damaged: what it holds is looked at as a file
	}
	out := []Open{}
	for _, o := range list {
		if theirs, ok := fields[o.Field]; ok && !sameField(o.Field, theirs, o.Mine) {
			out = append(out, o)
		}
	}
	return out
}

// lists are the words that cells are completed from: checks and points of past
// cases of the same kind, and the designators of the board.
func (s *Server) lists(n *notebook.Notebook, c *notebook.Case) map[string][]string {
	const most = 200
	count := map[string]map[string]int{"checks": {}, "points": {}}
	out := map[string][]string{}
	for _, other := range n.Cases {
		if other.Device == nil || c.Device == nil || other.Device.Kind != c.Device.Kind {
			continue
		}
		for _, f := range other.File.Case.Findings {
			count["checks"][f.Check]++
		}
		for _, m := range other.File.Case.Measurements {
			count["points"][m.Point]++
		}
	}
	if c.Device != nil && c.Device.Record != nil {
		for _, r := range c.Device.Record.Device.References {
			count["points"][r.Point] += 100
		}
		out["boards"] = c.Device.Record.Device.Boards
	}
	for name, words := range count {
		for w := range words {
			if w != "" {
				out[name] = append(out[name], w)
			}
		}
		slices.SortFunc(out[name], func(a, b string) int { return cmp.Or(words[b]-words[a], strings.Compare(a, b)) })
		out[name] = out[name][:min(most, len(out[name]))]
	}
	if b, ok := c.Board(); ok {
		for i := range b.Parts {
			out["refs"] = append(out["refs"], b.Parts[i].Ref)
		}
		out["refs"] = out["refs"][:min(2_000, len(out["refs"]))]
	}
	return out
}

// labelOf is what a field is called on the sheet.
func labelOf(name string) string {
	if f, ok := casefile.FieldAt(name); ok {
		return f.Label
	}
	if section, ok := strings.CutPrefix(name, sectionPrefix); ok {
		return section
	}
	if section, ok := strings.CutPrefix(name, tablePrefix); ok {
		return section + ", table"
	}
	return name
}

type sourcePage struct {
	Title, ID, Text, Theirs, Problem, Kept string
	Version                                Version
}

func (s *Server) sourcePage(n *notebook.Notebook, c *notebook.Case, text string, v Version, problem string) sourcePage {
	p := sourcePage{Title: wording.In(n.Config.Language).Say("Source of %s", c.ID()), ID: c.ID(), Text: text, Version: v, Problem: problem}
	if kept, ok := s.store.Kept(c.ID(), c.Path); ok && problem == "" {
		p.Kept = string(kept)
	}
	return p
}

type needed struct {
	What, Href string
	Done       bool
}

type closingPage struct {
	Title, ID, Day string
	Needed         []needed
	Errors, Others []problem
	Personal       []problem
	Ready          bool
}

// closingPage says what a good record still lacks.
func (s *Server) closingPage(n *notebook.Notebook, c *notebook.Case, f *casefile.File) closingPage {
	k := &f.Case
	p := closingPage{Title: wording.In(n.Config.Language).Say("Close %s", c.ID()), ID: c.ID(),
		Day: cmp.Or(k.Closed, s.now().Format("2006-01-02"))}
	add := func(done bool, what, anchor string) {
		p.Needed = append(p.Needed, needed{what, "/write/case/" + url.PathEscape(c.ID()) + "#" + anchor, done})
	}
	add(len(k.Symptoms) > 0, "Symptoms, in words that can be found again", "f-symptoms")
	add(k.Cause != nil && k.Cause.Fault != "", "The cause; with none found, “not found”", "f-cause.fault")
	add(k.Outcome != "", "The outcome", "f-outcome")
	add(k.Outcome != "fixed" || k.Confirmed != "", "How the repair was proved", "f-confirmed")
	add(k.Minutes.Total() > 0, "Minutes of bench time", "f-minutes.diagnosis")
	add(strings.TrimSpace(f.Section("Lesson")) != "", "The lesson for the next person", "s6")
	counted := k.Fasteners != nil && k.Fasteners.In != nil && (*k.Fasteners.In == k.Fasteners.Out || k.Fasteners.Reason != "")
	add(counted, "Fasteners counted out and in", "f-fasteners.out")
	next, err := f.Set("closed", p.Day)
	if err == nil && next.Case.Outcome == "" {
		next, err = next.Set("outcome", "unknown")
	}
	if err != nil {
		next = f
	}
	for _, d := range s.problems(n, c, next) {
		x := problem{Line: d.Line, Severity: d.Severity.String(), Message: d.Message, Suggestion: d.Suggestion}
		switch {
		case d.Rule == diagnostic.PersonalData:
			p.Personal = append(p.Personal, x)
		case d.Severity == diagnostic.Error:
			p.Errors = append(p.Errors, x)
		case d.Severity == diagnostic.Warning:
			p.Others = append(p.Others, x)
		}
	}
	p.Ready = len(p.Errors) == 0 && len(p.Personal) == 0
	return p
}

type historyPage struct {
	Title, ID string
	Versions  []versionView
}

type versionView struct {
	Version   Version
	At, Size  string
	Text      string
	Different int // lines that differ from the file as it is
}

func (s *Server) historyPage(n *notebook.Notebook, c *notebook.Case) historyPage {
	p := historyPage{Title: wording.In(n.Config.Language).Say("Earlier versions of %s", c.ID()), ID: c.ID()}
	have, _ := s.store.Read(c.Path)
	lines := map[string]bool{}
	for l := range strings.Lines(string(have)) {
		lines[strings.TrimSpace(l)] = true
	}
	for _, e := range s.store.History(c.ID()) {
		text, ok := s.store.Version(c.ID(), e.Version)
		if !ok {
			continue
		}
		v := versionView{Version: e.Version, At: e.At.Local().Format("2006-01-02 15:04:05"),
			Size: fmt.Sprintf("%d bytes", e.Size), Text: string(text)}
		for l := range strings.Lines(string(text)) {
			if !lines[strings.TrimSpace(l)] {
				v.Different++
			}
		}
		p.Versions = append(p.Versions, v)
		if len(p.Versions) == 100 {
			break
		}
	}
	return p
}
