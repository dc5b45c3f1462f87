// Package practice makes exercises from closed cases: a learner sees the device
// and its symptom, chooses checks, says what each will show, and names the cause.
//
// [Book.Of] makes the exercise of a case and [Book.Lacks] says what keeps a case from
// being a good one. What a check could have told comes from the triage model with
// the case left out, see [Book.DebriefOf]. Which exercise is next is in schedule.go.
package practice

import (
	"cmp"
	"hash/fnv"
	"math"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/build/reason/hazard"
	"benchlore/build/reason/triage"
	"benchlore/build/reason/verdict"
	"benchlore/schema/casefile"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// Exercise is a closed case to be worked through blind. Names are as the
// notebook's terms show them.
type Exercise struct {
	ID       string       `json:"id"`
	Device   string       `json:"device"`
	Symptoms []string     `json:"symptoms"`
	Absent   []string     `json:"absent,omitempty"`
	Before   []string     `json:"before,omitempty"`
	Said     string       `json:"said"`   // the Symptom section as plain text
	Checks   []Check      `json:"checks"` // in an order that tells nothing
	Cause    triage.Cause `json:"cause"`
	Title    string       `json:"title"`
	Lesson   string       `json:"lesson"`
	Outcome  string       `json:"outcome"`
	// Evidence is what triage is asked with, as ids.
	Evidence Evidence `json:"evidence"`
	// Hazards are ids of the case's and the device's hazards.
	Hazards []string `json:"hazards,omitempty"`
	// Stop says that the device shows a danger: [hazard.Stop] comes first, and what is
	// first at each of the Dangers, which are ids.
	Stop    bool     `json:"stop,omitempty"`
	Dangers []string `json:"dangers,omitempty"`
}

// Held reports whether a check waits while the device shows a danger: it needs power or is
// not known to need none, and nothing was looked at without power yet, though it could be.
func (x *Exercise) Held(c Check, offered []Check, made func(i int) bool) bool {
	if !x.Stop || c.Unpowered {
		return false
	}
	could := false
	for i := range offered {
		if offered[i].Unpowered && made(i) {
			return false
		}
		could = could || offered[i].Unpowered
	}
	return could
}

// Evidence is [triage.Evidence] as a page reads it.
type Evidence struct {
	Symptoms []string `json:"symptoms"`
	Absent   []string `json:"absent"`
	Before   []string `json:"before"`
	Device   string   `json:"device"`
	Kind     string   `json:"kind"`
}

// Check is something that the case looked at or measured.
type Check struct {
	Text    string  `json:"text"`
	Seen    string  `json:"seen"`
	Result  string  `json:"result"`            // clear, fault or unsure
	Minutes float64 `json:"minutes"`           // as noted, or the usual of this notebook
	Noted   bool    `json:"noted,omitempty"`   // the minutes are the case's own
	Turn    int     `json:"turn"`              // the case's own order, from 1
	Key     string  `json:"key,omitempty"`     // of the same check in triage; empty for a reading
	Reading bool    `json:"reading,omitempty"` // a row of Measurements
	// Unpowered says that it is known to be made without power.
	Unpowered bool `json:"unpowered,omitempty"`
}

// fewest is the number of checks with a result that an exercise needs to be one.
const fewest = 3

// Book is a notebook to practise with. It is read-only, but [Book.DebriefOf],
// [Book.Choices] and [Book.Others] ask the model with a case left out and are for
// one caller at a time.
type Book struct {
	n       *notebook.Notebook
	judge   *verdict.Judge
	model   *triage.Model
	returns map[string][]*notebook.Case
}

// New prepares a notebook. Without a judge and a model it only knows which cases
// are fit.
func New(n *notebook.Notebook, j *verdict.Judge, m *triage.Model) *Book {
	b := &Book{n, j, m, map[string][]*notebook.Case{}}
	for _, c := range n.Cases {
		if of := c.File.Case.Returns; of != "" {
			b.returns[of] = append(b.returns[of], c)
		}
	}
	return b
}

// found reports whether the cause of a case is known.
func found(c *notebook.Case) bool {
	cause := c.File.Case.Cause
	return cause != nil && cause.Fault != "" && cause.Fault != "not-found"
}

// possible reports whether a case can be worked through at all, well or not: it is
// closed, its cause was found, and it has a check that says something.
func possible(c *notebook.Case) bool {
	k := &c.File.Case
	if k.Open() || !found(c) {
		return false
	}
	for i := range k.Findings {
		if says(c, i) {
			return true
		}
	}
	for i := range k.Measurements {
		if reads(c, i) {
			return true
		}
	}
	return false
}

// says reports whether a finding of a case can be asked as a check: it tells what
// came of it, it was made before the repair, and its wording does not give the
// culprit away.
func says(c *notebook.Case, finding int) bool {
	f := &c.File.Case.Findings[finding]
	return f.Check != "" && f.Result != "" && f.When != casefile.After && !givesAway(c, f.Check)
}

// reads is [says] for a measurement.
func reads(c *notebook.Case, row int) bool {
	m := &c.File.Case.Measurements[row]
	return m.Read != "" && m.When != casefile.After && !givesAway(c, m.Point+" "+m.What+" "+m.State)
}

// givesAway reports whether words name what was wrong: the fault itself, or the
// designator of a part that something was done with.
func givesAway(c *notebook.Case, text string) bool {
	k := &c.File.Case
	if k.Cause != nil && slices.ContainsFunc(terms.Builtin().Recognise(terms.Fault, text),
		func(m terms.Match) bool { return m.Term.ID == k.Cause.Fault }) {
		return true
	}
	named := notebook.Designators(text)
	return slices.ContainsFunc(k.Parts, func(p casefile.Part) bool {
		return slices.ContainsFunc(p.Refs(), func(ref string) bool { return slices.Contains(named, ref) })
	})
}

// Of makes the exercise of a case, where it can be worked through at all.
func (b *Book) Of(c *notebook.Case) (Exercise, bool) {
	n, j, m := b.n, b.judge, b.model
	k := &c.File.Case
	if !possible(c) {
		return Exercise{}, false
	}
	x := Exercise{ID: c.ID(), Device: c.Device.Described(n.Terms), Said: strings.TrimSpace(c.SectionPlain("Symptom")),
		Cause: triage.Cause{Fault: k.Cause.Fault, At: k.Cause.At},
		Title: k.Title, Lesson: strings.TrimSpace(c.SectionPlain("Lesson")), Outcome: strings.TrimSpace(c.SectionPlain("Outcome")),
		Evidence: Evidence{Symptoms: list(k.Symptoms), Absent: list(k.Absent), Before: []string{},
			Device: c.Device.ID, Kind: c.Device.Kind}}
	x.Symptoms, x.Absent, x.Before = n.Terms.Names(terms.Symptom, k.Symptoms), n.Terms.Names(terms.Symptom, k.Absent),
		n.Terms.Names(terms.Before, k.Before)
	for _, id := range k.Before {
		if id != "nothing" {
			x.Evidence.Before = append(x.Evidence.Before, id)
		}
	}
	w := hazard.OfCase(n, c)
	x.Stop = w.Stop()
	for _, t := range w.Dangers {
		x.Dangers = append(x.Dangers, t.ID)
	}
	for _, t := range w.Cautions {
		x.Hazards = append(x.Hazards, t.ID)
	}
	for i := range k.Findings {
		f := &k.Findings[i]
		if !says(c, i) {
			continue
		}
		check := Check{Text: f.Check, Seen: f.Seen, Result: f.Result, Minutes: float64(f.Minutes),
			Noted: f.Minutes > 0, Turn: len(x.Checks) + 1, Key: m.Key(f.Check), Unpowered: m.Unpowered(f.Check)}
		if !check.Noted {
			check.Minutes = m.Minutes(f.Check)
		}
		x.Checks = append(x.Checks, check)
	}
	for i := range k.Measurements {
		row := &k.Measurements[i]
		if !reads(c, i) || readInFinding(x.Checks, row.Read) {
			continue // a finding says it already
		}
		verdict := j.Reading(c, row).Verdict
		result := map[quantity.Verdict]string{quantity.In: "clear", quantity.TooClose: "unsure", quantity.NoVerdict: "unsure"}[verdict]
		text := row.Point
		for _, more := range []string{row.What, row.State} {
			if more != "" {
				text += ", " + more
			}
		}
		x.Checks = append(x.Checks, Check{Text: text, Seen: row.Read, Result: cmp.Or(result, "fault"),
			Minutes: m.Minutes(""), Turn: len(x.Checks) + 1, Reading: true, Unpowered: m.Unpowered(text)})
	}
	slices.SortStableFunc(x.Checks, func(a, b Check) int { return cmp.Compare(shuffle(x.ID+a.Text), shuffle(x.ID+b.Text)) })
	return x, true
}

// list is never nil, so that a page gets an empty list rather than nothing.
func list(ids []string) []string { return append([]string{}, ids...) }

// readInFinding reports whether a finding gives the reading already.
func readInFinding(checks []Check, read string) bool {
	return slices.ContainsFunc(checks, func(c Check) bool { return !c.Reading && strings.Contains(c.Seen, read) })
}

// shuffle orders texts in a way that tells nothing of them and stays.
func shuffle(text string) uint32 {
	h := fnv.New32a()
	_, _ = h.Write([]byte(text))
	return h.Sum32()
}

// Lacks says what keeps a closed case from being a good exercise, in words; it
// gives nothing for one that is good.
func (b *Book) Lacks(c *notebook.Case) []string {
	k := &c.File.Case
	var out []string
	lack := func(missing bool, what string) {
		if missing {
			out = append(out, what)
		}
	}
	lack(!found(c), "a cause that was found")
	lack(k.Cause != nil && (k.Cause.At == "" || k.Cause.At == "whole-device"), "a place of the cause narrower than the whole device")
	lack(len(k.Symptoms) == 0, "symptoms")
	lack(strings.TrimSpace(c.Section("Symptom")) == "", "words of the owner in Symptom")
	results, faults := 0, 0
	minutes := true
	for i := range k.Findings {
		f := &k.Findings[i]
		if !says(c, i) {
			continue
		}
		if f.Result == "clear" || f.Result == "fault" {
			results++
			minutes = minutes && f.Minutes > 0
		}
		if f.Result == "fault" {
			faults++
		}
	}
	lack(results < fewest, "at least three findings from before the repair that were clear or showed the fault, and whose wording does not name the culprit")
	lack(results > 0 && faults == 0, "a finding that showed the fault")
	lack(results > 0 && faults == results, "a finding that was clear, so that a check can be wasted")
	lack(results > 0 && !minutes, "the minutes of each finding")
	lack(strings.TrimSpace(c.Section("Lesson")) == "", "a lesson")
	lack(k.Outcome == "fixed" && k.Confirmed == "", "how the repair was proved, so that its cause is sure")
	lack(b.doubted(c), "a cause that held: the device came back with the same place at fault")
	return out
}

// doubted reports whether a comeback of the case had its cause at the same place,
// which makes the first cause doubtful.
func (b *Book) doubted(c *notebook.Case) bool {
	k := &c.File.Case
	return k.Cause != nil && slices.ContainsFunc(b.returns[c.ID()], func(later *notebook.Case) bool {
		cause := later.File.Case.Cause
		return cause != nil && cause.At == k.Cause.At && cause.Origin != "handling"
	})
}

// Closed lists the closed cases, those of other workshops too.
func Closed(n *notebook.Notebook) []*notebook.Case {
	var out []*notebook.Case
	for _, c := range n.Cases {
		if !c.File.Case.Open() {
			out = append(out, c)
		}
	}
	return out
}

// Debrief is what is said at the end of an exercise.
type Debrief struct {
	// Offered are the minutes that the order of triage would have taken to the
	// first check that showed the fault, and Found whether it would have come to
	// one; the case itself is left out of the model.
	Offered float64
	Found   bool
	Order   []string // the checks of that order, as far as it would have gone
	// Own are the minutes of the case's own path up to its last check that showed
	// the fault.
	Own  float64
	Told []Told // by check of the exercise
}

// Told is what a check could have told before anything was known but the symptom.
type Told struct {
	Known            bool // another case made the check
	Finds            float64
	IfFault, IfClear triage.Ranked
}

// Choices are the causes to choose among: the true one and those that the model,
// without the case, takes for most probable, in the order of their ids.
func (b *Book) Choices(x Exercise) []triage.Cause {
	m := b.model
	out := []triage.Cause{x.Cause}
	m.Without(x.ID, func() {
		ranked, _ := m.Causes(x.asked())
		for _, r := range ranked {
			if len(out) < choices && r.Cause != x.Cause && r.P > 0 {
				out = append(out, r.Cause)
			}
		}
	})
	slices.SortFunc(out, func(a, b triage.Cause) int {
		return cmp.Or(strings.Compare(a.Fault, b.Fault), strings.Compare(a.At, b.At))
	})
	return out
}

// choices is how many causes are offered.
const choices = 8

// Others are checks that the model would offer and the case never made, up to
// three: a list of only the right checks would tell too much.
func (b *Book) Others(x Exercise) []Check {
	m := b.model
	var out []Check
	m.Without(x.ID, func() {
		for _, s := range m.Plan(x.asked()).Steps {
			key := m.Key(s.Check)
			if len(out) < others && !slices.ContainsFunc(x.Checks, func(c Check) bool { return c.Key == key }) {
				out = append(out, Check{Text: s.Check, Minutes: s.Minutes, Key: key, Unpowered: m.Unpowered(s.Check)})
			}
		}
	})
	return out
}

const others = 3

func (x *Exercise) asked() triage.Evidence {
	return triage.Evidence{Symptoms: x.Evidence.Symptoms, Absent: x.Evidence.Absent, Before: x.Evidence.Before,
		Device: x.Evidence.Device, Kind: x.Evidence.Kind}
}

// DebriefOf works out what is said at the end.
func (b *Book) DebriefOf(x Exercise) Debrief {
	m := b.model
	var d Debrief
	d.Own = x.own()
	m.Without(x.ID, func() {
		e := x.asked()
		for _, s := range m.Plan(e).Steps {
			d.Offered += s.Minutes
			d.Order = append(d.Order, s.Check)
			key := m.Key(s.Check)
			if slices.ContainsFunc(x.Checks, func(c Check) bool { return c.Key == key && c.Result == "fault" }) {
				d.Found = true
				break
			}
		}
		for _, c := range x.Checks {
			var t Told
			if c.Key != "" {
				t.Finds, t.IfFault, t.IfClear, t.Known = m.Worth(e, c.Key)
			}
			d.Told = append(d.Told, t)
		}
	})
	return d
}

// own is the minutes of the case's own path up to its last check that showed the
// fault.
func (x *Exercise) own() float64 {
	last := 0
	for _, c := range x.Checks {
		if c.Result == "fault" && !c.Reading {
			last = max(last, c.Turn)
		}
	}
	sum := 0.0
	for _, c := range x.Checks {
		if !c.Reading && (c.Turn <= last || last == 0) {
			sum += c.Minutes
		}
	}
	return sum
}

// Attempt is what a learner did.
type Attempt struct {
	Minutes  float64
	Said     int // expectations stated, and
	Right    int // those that came true
	Named    triage.Cause
	Gave     bool // asked to be shown
	Readings int
}

// Grade is the quality of an attempt from 0 to 5, as the schedule takes it: 5 for
// the cause found in no more minutes than the case took and with half of the
// expectations right, 4 for up to half as many minutes more, 3 for longer; 2 for
// the right fault or place alone, 1 for neither, 0 for asking to be shown.
func (x *Exercise) Grade(a Attempt) int {
	own := x.own()
	switch {
	case a.Gave:
		return 0
	case a.Named != x.Cause && (a.Named.Fault == x.Cause.Fault || a.Named.At == x.Cause.At):
		return 2
	case a.Named != x.Cause:
		return 1
	case a.Minutes <= own && 2*a.Right >= a.Said:
		return 5
	case a.Minutes <= math.Ceil(own*1.5):
		return 4
	}
	return 3
}
