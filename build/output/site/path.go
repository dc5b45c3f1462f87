package site

import (
	"bytes"
	"hash/fnv"
	"html/template"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"strings"

	"benchlore/build/learn/firstweeks"
	"benchlore/build/learn/practice"
	"benchlore/build/output/wording"
	cautions "benchlore/build/reason/hazard"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
	"benchlore/theme"
)

type stepItem struct{ ID, Title, Href, Why string }

type pathPage struct {
	Frame frame
	Steps []stepItem
}

type careView struct {
	hazardView
	Care []string
}

// choiceView is a question with answers to choose from; what is said when it was answered,
// or looked at without an answer, comes after it.
type choiceView struct {
	Key     string // the same as long as the question is
	At      *link  // where it is to be found out
	Ask     string
	Options []choice
	Ordered bool // the options stand in their usual order; others are shuffled
	Answer  string
	Mark    *mark
	Case    *link
}

type choice struct {
	Text  string
	Right bool
}

// newChoice makes a question from its right answer and wrong ones, if there are any.
func newChoice(ask, right string, wrong []string, answer string) choiceView {
	c := choiceView{Key: keyOf(ask), Ask: ask, Answer: answer}
	if len(wrong) == 0 {
		return c // nothing to choose from; it is looked at
	}
	c.Options = []choice{{right, true}}
	for _, w := range wrong {
		c.Options = append(c.Options, choice{w, false})
	}
	return c
}

// questionChoice asks a question of the first weeks; its right answer is what it teaches.
func (s *site) questionChoice(q terms.Question) choiceView {
	var wrong []string
	for _, w := range q.Wrong {
		wrong = append(wrong, s.t(w))
	}
	return newChoice(s.t(q.Ask), s.t(q.Right), wrong, s.t(q.Right))
}

// verdictChoice asks what a reading is against its limits. Where the right answer is no
// verdict there is nothing to choose from.
func (s *site) verdictChoice(ask, right, answer string) choiceView {
	var options []choice
	for _, v := range verdicts {
		word := s.t(v.String())
		options = append(options, choice{word, word == right})
	}
	if !slices.Contains(options, choice{right, true}) {
		options = nil
	}
	return choiceView{Key: keyOf(ask), Ask: ask, Options: options, Ordered: true, Answer: answer}
}

// keyOf is short and the same for the same question.
func keyOf(question string) string {
	h := fnv.New32a()
	_, _ = h.Write([]byte(question))
	return strconv.FormatUint(uint64(h.Sum32()), 36)
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
	Questions         []choiceView
	Choices           []choiceView
	Judging, Finding  bool // what the choices are about: readings of the shop, its boards
	Cases             []counted
	Before, Next      *link
	Safety            link
}

// learnedPath is the last page of the way.
const learnedPath = "path/learned.html"

type learnedPage struct {
	Frame frame
	Steps []stepItem
}

// learnedPage says what was learned and what comes next, and is the sheet to sign.
func (s *site) learnedPage(steps []stepItem) learnedPage {
	p := learnedPage{Frame: s.frame("../", s.t("What was learned"))}
	for _, step := range steps {
		step.Href = "../" + step.Href
		p.Steps = append(p.Steps, step)
	}
	return p
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
	jobs := []job{s.page("path.html", "path", always(p)), s.page(learnedPath, "learned", always(s.learnedPage(p.Steps)))}
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
	"boards": "Reading a board", "soldering": "Soldering", "the-scope": "The oscilloscope",
	"finding-shorts": "Finding shorts", "writing-a-case": "Writing a good case",
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
	case firstweeks.Hands:
		switch step.ID {
		case "soldering":
			return s.t("Next, since most repairs end with a joint.")
		case "the-scope":
			return s.t("Next, since a meter does not see what is short.")
		case "finding-shorts":
			return s.t("Next, since a low rail says little about its reason.")
		}
		return s.t("Next, since what is not written is looked for again.")
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
		switch {
		case i < 0:
			return nil
		case i == len(steps):
			return &link{s.t("What was learned"), root + learnedPath}
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
		p.Judging = true
		for _, r := range step.Readings {
			p.Choices = append(p.Choices, s.readingChoice(root, r))
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
		p.Choices, p.Finding = s.boardTasks(root), true
	case firstweeks.Hands:
		p.Cautions = s.cautions(root, cautions.Of(s.n, step.Craft.Hazards))
		for _, q := range step.Craft.Questions {
			p.Choices = append(p.Choices, s.questionChoice(q))
		}
	case firstweeks.Own:
		p.Cautions = s.cautions(root, cautions.OfText(s.n, string(source)))
	}
	return p, nil
}

// verdicts are what a reading can be, in the order in which they are offered.
var verdicts = []quantity.Verdict{quantity.In, quantity.Low, quantity.High, quantity.Open, quantity.Short, quantity.Reversed,
	quantity.TooClose}

// readingChoice asks what a reading of this shop is against its limits.
func (s *site) readingChoice(root string, r firstweeks.Reading) choiceView {
	where := strings.Join([]string{r.Case.Device.Name(s.n.Terms), r.Point, r.State}, ", ")
	m := wording.OfVerdict(r.Verdict)
	c := s.verdictChoice(where+": "+s.t("expected %s, read %s", r.Expected, r.Read), s.t(r.Verdict.String()), r.Guard)
	c.Mark, c.Case = &m, &link{r.Case.ID(), root + casePath(r.Case)}
	return c
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
		p.Questions = append(p.Questions, s.questionChoice(care.Question))
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
