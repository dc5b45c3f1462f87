package site

import (
	"bytes"
	"html/template"
	"io/fs"
	"path"
	"strings"

	"benchlore/build/learn/firstweeks"
	"benchlore/build/learn/practice"
	"benchlore/build/output/wording"
	cautions "benchlore/build/reason/hazard"
	"benchlore/schema/terms"
	"benchlore/theme"
)

type stepItem struct{ ID, Title, Href, Why string }

type pathPage struct {
	Frame frame
	Steps []stepItem
}

type questionView struct {
	Ask     string
	Options []string // the right one first
}

type careView struct {
	hazardView
	Care []string
}

// taskView is something to find out on a board, with what comes out.
type taskView struct {
	Ask, Answer string
	At          link
}

type readingView struct {
	Where, Expected, Read, Guard string
	Verdict                      mark
	Case                         link
}

type stepPage struct {
	Frame             frame
	ID                string
	Number, Of        int
	Title, Why, Drill string
	Gated             bool // closed until the questions on safety were answered
	Cautions          []caution
	HTML              template.HTML
	Hazards           []careView
	Questions         []questionView
	Readings          []readingView
	Cases             []counted
	Tasks             []taskView
	Before, Next      *link
	Safety            link
}

func stepPath(id string) string { return "path/" + id + ".html" }

// pathJobs are the pages of the first weeks. They are made from much of the
// notebook, and are few, so the models themselves are their keys.
func (s *site) pathJobs(entries []practice.Entry) []job {
	steps := firstweeks.Steps(s.n, s.judge, entries)
	p := pathPage{Frame: s.frame("", s.t("First weeks"))}
	for _, step := range steps {
		p.Steps = append(p.Steps, stepItem{step.ID, s.stepTitle(step), stepPath(step.ID), s.stepWhy(step)})
	}
	jobs := []job{s.page("path.html", "path", always(p))}
	for i := range steps {
		jobs = append(jobs, s.page(stepPath(steps[i].ID), "step", func() (any, error) { return s.stepPage(steps, i) }))
	}
	return jobs
}

var stepTitles = map[string]string{
	"safety": "Safety", "measuring-resistance": "Measuring resistance", "measuring-voltage": "Measuring voltage",
	"measuring-ac-voltage": "Measuring alternating voltage",
	"measuring-current":    "Measuring current", "measuring-diode": "Measuring a diode",
	"measuring-capacitance": "Measuring capacitance", "measuring-frequency": "Measuring frequency",
	"measuring-temperature": "Measuring temperature", "values": "Reading values",
	"markings-capacitors": "Markings of capacitors", "markings-resistors": "Markings of resistors", "cases": "Repairs, from common to rare",
	"boards": "Reading a board",
}

func (s *site) stepTitle(step firstweeks.Step) string {
	if step.Page != nil {
		return step.Page.Title
	}
	return s.t(stepTitles[step.ID])
}

// stepWhy says why a step is next.
func (s *site) stepWhy(step firstweeks.Step) string {
	switch step.Sort {
	case firstweeks.Safety:
		return s.t("First, since what is not known here hurts people, not devices.")
	case firstweeks.Measuring:
		if step.Count == 0 {
			return s.t("This shop has not recorded such a reading yet; it will be needed all the same.")
		}
		return s.texts.Count(step.Count, "Next, since %d reading of this shop is of this kind.",
			"Next, since %d readings of this shop are of this kind.")
	case firstweeks.Drill:
		return s.t("Next, since every reading is compared with a value that somebody wrote short.")
	case firstweeks.Boards:
		return s.t("Next, since a board answers most questions before it is touched.")
	case firstweeks.Cases:
		return s.t("Next, since the rest is learned from repairs; what comes in most often comes first.")
	}
	if step.Page.Why != "" {
		return step.Page.Why
	}
	return s.t("A page of this workshop.")
}

func (s *site) stepPage(steps []firstweeks.Step, at int) (stepPage, error) {
	const root = "../"
	step := steps[at]
	p := stepPage{Frame: s.frame(root, s.stepTitle(step)), ID: step.ID, Number: at + 1, Of: len(steps), Title: s.stepTitle(step), Why: s.stepWhy(step),
		Gated: step.Sort != firstweeks.Safety, Safety: link{s.stepTitle(steps[0]), root + stepPath(steps[0].ID)}}
	neighbour := func(i int) *link {
		if i < 0 || i >= len(steps) {
			return nil
		}
		return &link{s.stepTitle(steps[i]), root + stepPath(steps[i].ID)}
	}
	p.Before, p.Next = neighbour(at-1), neighbour(at+1)
	source := s.builtInText(step.ID)
	if step.Page != nil {
		source = step.Page.Body()
	}
	var err error
	if p.HTML, err = convert(s.markdown2, source, onlyLinks); err != nil {
		return p, err
	}
	switch step.Sort {
	case firstweeks.Safety:
		s.safety(&p, root)
	case firstweeks.Measuring:
		p.Cautions = s.cautions(root, cautions.Of(s.n, measuringHazards[step.ID]))
		for _, r := range step.Readings {
			where := []string{r.Case.Device.Name(s.n.Terms), r.Point, r.State}
			p.Readings = append(p.Readings,
				readingView{Where: strings.Join(where, ", "), Expected: r.Expected, Read: r.Read, Guard: r.Guard,
					Verdict: wording.OfVerdict(r.Verdict),
					Case:    link{r.Case.ID(), root + casePath(r.Case)}})
		}
	case firstweeks.Drill:
		p.Drill = step.ID
	case firstweeks.Cases:
		for _, e := range step.Entries[:min(maxListed, len(step.Entries))] {
			c, _ := s.n.Case(e.ID)
			p.Cases = append(p.Cases, counted{Name: c.Device.Name(s.n.Terms) + ": " +
				strings.Join(s.n.Terms.Names(terms.Symptom, c.File.Case.Symptoms), ", "), Href: root + "practise.html#" + e.ID,
				Note: s.texts.Count(e.Common, "its cause was met %d time here", "its cause was met %d times here")})
		}
	case firstweeks.Boards:
		p.Cautions = s.cautions(root, cautions.Of(s.n, []string{"esd", "stored-charge"}))
		p.Tasks = s.boardTasks(root)
	case firstweeks.Own:
		p.Cautions = s.cautions(root, cautions.OfText(s.n, string(source)))
	}
	return p, nil
}

// measuringHazards are what a kind of measurement calls for.
var measuringHazards = map[string][]string{"measuring-voltage": {"mains", "stored-charge"},
	"measuring-ac-voltage": {"mains"}, "measuring-current": {"mains"},
	"measuring-resistance": {"stored-charge"}, "measuring-diode": {"stored-charge"},
	"measuring-capacitance": {"stored-charge"}, "measuring-temperature": {"mains", "hot-air"}}

// safety shows every hazard with its precautions, and asks about each.
func (s *site) safety(p *stepPage, root string) {
	for _, care := range terms.Precautions() {
		t, ok := s.n.Terms.Lookup(terms.Hazard, care.Hazard)
		if !ok {
			continue
		}
		v := careView{hazardView: hazardView{ID: t.ID, Name: t.Name, Meaning: t.Meaning, Caution: s.cautionText(t),
			Href: root + hazardPath(t.ID)}}
		for _, c := range care.Care {
			v.Care = append(v.Care, s.t(c))
		}
		p.Hazards = append(p.Hazards, v)
		q := questionView{Ask: s.t(care.Question.Ask), Options: []string{s.t(care.Question.Right)}}
		for _, w := range care.Question.Wrong {
			q.Options = append(q.Options, s.t(w))
		}
		p.Questions = append(p.Questions, q)
	}
}

// builtInText is the text of a built-in step in the interface's language, in
// English where there is none.
func (s *site) builtInText(id string) []byte {
	for _, lang := range []string{s.texts.Language(), "en"} {
		if data, err := fs.ReadFile(theme.Path, path.Join("path", lang, id+".md")); err == nil {
			return bytes.TrimSpace(data)
		}
	}
	return nil
}

// onlyLinks shows pictures as text: a page of path/ has no folder of its own.
func onlyLinks(dest string, picture bool) (string, bool) {
	if picture {
		return "", false
	}
	return safeURL(dest, false)
}
