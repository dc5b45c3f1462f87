package editor

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/build/output/wording"
	"benchlore/build/reason/hazard"
	"benchlore/build/reason/rules"
	"benchlore/build/reason/triage"
	"benchlore/build/reason/verdict"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// problem is what check says, at the field that it is about.
type problem struct {
	Field      string `json:"field"` // as in Fields, or empty for the whole file
	Row        int    `json:"row"`   // of a table, -1 elsewhere
	Column     string `json:"column,omitempty"`
	Line       int    `json:"line"`
	Severity   string `json:"severity"`
	Message    string `json:"message"`
	Suggestion string `json:"suggestion,omitempty"`
}

// judgement is what is said of a reading or a part, by row.
type judgement struct {
	Word   string `json:"word"`
	Sign   string `json:"sign"`
	Class  string `json:"class"`
	Detail string `json:"detail,omitempty"` // the limits, the meter's share, the value as it was understood
}

// checked is what the rules say of a case that is being written.
type checked struct {
	Problems []problem   `json:"problems"`
	Readings []judgement `json:"readings"`
	Parts    []judgement `json:"parts"`
	// Stop says that an open case shows a danger, which [hazard.Stop] is said for, and
	// Dangers what is first at each.
	Stop    bool         `json:"stop"`
	Dangers []dangerView `json:"dangers"`
	// Offers are symptoms that the title or the text means and that nobody chose; they are
	// kept only when somebody takes them.
	Offers []offer `json:"offers"`
}

// dangerView is a danger with what is done and looked at first.
type dangerView struct {
	Name  string   `json:"name"`
	First []string `json:"first"`
}

type offer struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	Said string `json:"said"` // the words that mean it
}

// offers reads the title and the owner's words of a case.
func offers(n *notebook.Notebook, c *notebook.Case) []offer {
	k := &c.File.Case
	out := []offer{}
	text := k.Title + "\n" + c.SectionPlain("Symptom")
	for _, m := range n.Terms.Recognise(terms.Symptom, text) {
		id := m.Term.ID
		if !slices.Contains(k.Symptoms, id) && !slices.Contains(k.Absent, id) &&
			!slices.ContainsFunc(out, func(o offer) bool { return o.ID == id }) {
			out = append(out, offer{id, m.Term.Name, text[m.Start:m.Stop]})
		}
	}
	return out
}

// problems applies every rule of `check` to one case.
func (s *Server) problems(n *notebook.Notebook, c *notebook.Case, f *casefile.File) []diagnostic.Diagnostic {
	_, m := s.learned()
	return rules.OfCase(n, m.judge, c, f)
}

// check says what is wrong, and judges readings and parts, by the same code as
// the command line.
func (s *Server) check(n *notebook.Notebook, c *notebook.Case, f *casefile.File) checked {
	out := checked{Problems: []problem{}, Readings: []judgement{}, Parts: []judgement{}}
	for _, d := range s.problems(n, c, f) {
		w := f.Where(d.Line, d.Column)
		p := problem{Row: w.Row, Column: w.Column, Line: d.Line, Severity: d.Severity.String(), Message: d.Message,
			Suggestion: d.Suggestion}
		switch {
		case w.Row >= 0:
			p.Field = tablePrefix + w.Section
		case w.Section != "":
			p.Field = sectionPrefix + w.Section
		default:
			p.Field = w.Key
		}
		out.Problems = append(out.Problems, p)
	}
	_, m := s.learned()
	next := n.With(c, f)
	k := &next.File.Case
	out.Offers = offers(n, next)
	out.Dangers = []dangerView{}
	if w := hazard.OfCase(n, next); k.Open() {
		out.Stop = w.Stop()
		for _, t := range w.Dangers {
			out.Dangers = append(out.Dangers, dangerView{t.Name, t.First})
		}
	}
	for i := range k.Measurements {
		r := &k.Measurements[i]
		j := m.judge.Reading(next, r)
		v := readingVerdict(r, j)
		v.Word = s.say(v.Word)
		out.Readings = append(out.Readings, v)
	}
	for i := range k.Parts {
		v := judgement{}
		if p, ok := m.judge.Part(next, &k.Parts[i]); ok {
			v = partVerdict(p)
			v.Word = s.say(v.Word)
		}
		out.Parts = append(out.Parts, v)
	}
	return out
}

func readingVerdict(r *casefile.Measurement, j verdict.Reading) judgement {
	m := wording.OfVerdict(j.Verdict)
	if j.Verdict == quantity.NoVerdict && j.Unjudged != "" {
		m = wording.Mark{Word: j.Unjudged, Sign: "?", Class: "plain"}
	}
	v := judgement{Word: m.Word, Sign: m.Sign, Class: m.Class}
	var detail []string
	if r.Reading != nil {
		detail = append(detail, r.Reading.String())
	}
	if r.Expected == "" && j.Limits != "" {
		detail = append(detail, j.Limits+" from "+j.From)
	}
	if j.Guard != "" {
		detail = append(detail, j.Guard)
	}
	v.Detail = strings.Join(detail, ", ")
	return v
}

func partVerdict(p verdict.Part) judgement {
	m := wording.OfPart(p.Fit, p.Protective)
	return judgement{Word: m.Word, Sign: m.Sign, Class: m.Class, Detail: p.Text}
}

type asideCase struct {
	ID    string `json:"id"`
	Title string `json:"title"`
	Why   string `json:"why"`
}

type asideCause struct {
	Name  string   `json:"name"`
	P     float64  `json:"p"`
	Low   float64  `json:"low"`
	High  float64  `json:"high"`
	Cases []string `json:"cases"`
}

type asideCheck struct {
	Check   string  `json:"check"`
	Minutes float64 `json:"minutes"`
	Finds   float64 `json:"finds"`
	First   string  `json:"first,omitempty"`
}

type asideData struct {
	Similar []asideCase  `json:"similar"`
	Causes  []asideCause `json:"causes"`
	Checks  []asideCheck `json:"checks"`
	Basis   string       `json:"basis"`
}

// aside is what stands beside the text: similar cases, likely causes, what to
// check next.
func (s *Server) aside(w http.ResponseWriter, r *http.Request, _ *notebook.Notebook, c *notebook.Case) {
	f, _, _, err := s.read(c)
	if err != nil || f == nil {
		s.fail(w, cmp.Or(err, fmt.Errorf("the file cannot be read as a case")))
		return
	}
	n, m := s.learned()
	s.json(w, http.StatusOK, asideOf(n, m, c, f))
}

func asideOf(n *notebook.Notebook, m *models, c *notebook.Case, f *casefile.File) asideData {
	out := asideData{Similar: []asideCase{}, Causes: []asideCause{}, Checks: []asideCheck{}}
	next := n.With(c, f)
	for _, nb := range m.similar.Of(next, 5) {
		if nb.Case.ID() == c.ID() {
			continue
		}
		out.Similar = append(out.Similar, asideCase{nb.Case.ID(), nb.Case.File.Case.Title, strings.Join(nb.Why, "; ")})
	}
	k := &next.File.Case
	if len(k.Symptoms) == 0 {
		return out
	}
	e := triage.Evidence{Symptoms: k.Symptoms, Absent: k.Absent, Before: k.Before, Device: c.Device.ID, Kind: c.Device.Kind,
		Said: k.Title + "\n" + next.SectionPlain("Symptom")}
	if next.Device != nil {
		e.Device, e.Kind = next.Device.ID, next.Device.Kind
	}
	for _, finding := range k.Findings {
		if finding.When == casefile.After {
			continue
		}
		if name, ok := m.triage.Check(finding.Check); ok {
			e.Found = append(e.Found, triage.Finding{Check: name, Result: finding.Result})
		}
	}
	causes, _ := m.triage.Causes(e)
	for _, cause := range causes[:min(4, len(causes))] {
		out.Causes = append(out.Causes, asideCause{n.Terms.Name(terms.Fault, cause.Fault) + ", " +
			n.Terms.Name(terms.Place, cause.At), cause.P, cause.Interval[0], cause.Interval[1], cause.Cases[:min(3, len(cause.Cases))]})
	}
	out.Basis = m.triage.Basis(e).String()
	for _, step := range m.triage.Plan(e).Steps {
		if slices.ContainsFunc(k.Findings, func(x casefile.Finding) bool { return strings.EqualFold(x.Check, step.Check) }) {
			continue
		}
		check := asideCheck{Check: step.Check, Minutes: step.Minutes, Finds: step.Finds}
		var first []string
		for _, need := range step.First {
			first = append(first, need.Check+": "+need.Why)
		}
		check.First = strings.Join(first, "; ")
		out.Checks = append(out.Checks, check)
		if len(out.Checks) == 4 {
			break
		}
	}
	return out
}
