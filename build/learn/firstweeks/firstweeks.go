// Package firstweeks lays the way for a new person through a notebook: safety,
// measuring with the shop's own readings, values and markings, then cases from
// common to rare. [Steps] gives it in the order of notebook.yaml.
package firstweeks

import (
	"cmp"
	"slices"
	"strings"

	"benchlore/build/learn/practice"
	"benchlore/build/notebook"
	"benchlore/build/reason/verdict"
	"benchlore/schema/quantity"
)

// Sort is what a step is made of.
type Sort string

// The sorts.
const (
	Safety    Sort = "safety"
	Measuring Sort = "measuring"
	Drill     Sort = "drill"
	Hands     Sort = "hands"  // one of [Crafts]
	Boards    Sort = "boards" // where the notebook has the files of one
	Cases     Sort = "cases"
	Own       Sort = "own" // a page of the workshop
)

// Step is one page of the way.
type Step struct {
	ID       string
	Sort     Sort
	Readings []Reading        // of this shop, for measuring
	Count    int              // readings of that quantity in all closed cases, or exercises
	Entries  []practice.Entry // for cases, from common to rare
	Page     *notebook.Page   // for pages of the workshop
	Craft    *Craft           // for work of the hands
}

// Reading is one of the shop's own, to be judged by the learner.
type Reading struct {
	Case     *notebook.Case
	Point    string
	What     string
	State    string
	Expected string
	Read     string
	Verdict  quantity.Verdict
	Guard    string
}

// safetyID is the step that is always the first.
const safetyID = "safety"

// Drills are the ids of the steps that drill, in their order.
var Drills = []string{"values", "markings-capacitors", "markings-resistors"}

// quantities are the kinds of reading that there is a page for; those up to
// unpowered are taken with the device off.
var quantities = []string{"resistance", "diode", "capacitance", "voltage", "current", "frequency", "temperature", "ac-voltage"}

const unpowered = 3

const measuring = "measuring-"

// afterBoards is the craft that comes after the page about boards, where there is one:
// a case is written when the rest is known.
const afterBoards = "writing-a-case"

// shown is how many readings a page asks about.
const shown = 8

// Steps gives the way: the order of notebook.yaml where it gives one, else the
// built-in steps with measuring, first with the device off, by how often this shop
// takes each reading, and its own pages where they say. Safety comes first whatever
// is said. The entries are the exercises of [practice.Book.Entries].
func Steps(n *notebook.Notebook, j *verdict.Judge, entries []practice.Entry) []Step {
	counts, readings := gather(n, j)
	byID := map[string]Step{safetyID: {ID: safetyID, Sort: Safety}}
	usual := []string{safetyID}
	sorted := slices.Clone(quantities)
	for _, part := range [][]string{sorted[:unpowered], sorted[unpowered:]} {
		slices.SortStableFunc(part, func(a, b string) int { return cmp.Compare(counts[b], counts[a]) })
	}
	for _, q := range sorted {
		id := measuring + q
		byID[id] = Step{ID: id, Sort: Measuring, Count: counts[q], Readings: readings[q]}
		usual = append(usual, id)
	}
	for _, id := range Drills {
		byID[id] = Step{ID: id, Sort: Drill}
		usual = append(usual, id)
	}
	for _, c := range Crafts {
		if c.ID == afterBoards && slices.ContainsFunc(n.Devices, func(d *notebook.Device) bool { return len(d.Boards) > 0 }) {
			byID["boards"] = Step{ID: "boards", Sort: Boards}
			usual = append(usual, "boards")
		}
		byID[c.ID] = Step{ID: c.ID, Sort: Hands, Craft: &c}
		usual = append(usual, c.ID)
	}
	if ours := slices.DeleteFunc(slices.Clone(entries), func(e practice.Entry) bool { return e.From != "" }); len(ours) > 0 {
		entries = ours // those of other workshops are practised by choice
	}
	entries = slices.Clone(entries)
	slices.SortStableFunc(entries, func(a, b practice.Entry) int { return cmp.Compare(b.Common, a.Common) })
	byID["cases"] = Step{ID: "cases", Sort: Cases, Count: len(entries), Entries: entries}
	usual = append(usual, "cases")
	for _, p := range n.Pages {
		if _, taken := byID[p.ID]; taken {
			continue // the built-in step keeps its name
		}
		byID[p.ID] = Step{ID: p.ID, Sort: Own, Page: p}
		if at := slices.Index(usual, p.After); at >= 0 {
			usual = slices.Insert(usual, at+1, p.ID)
		} else {
			usual = append(usual, p.ID)
		}
	}
	order := usual
	if len(n.Config.Path) > 0 {
		order = []string{safetyID}
		for _, id := range n.Config.Path {
			if id != safetyID {
				order = append(order, id)
			}
		}
	}
	var out []Step
	for _, id := range order {
		if s, ok := byID[id]; ok {
			out = append(out, s)
		}
	}
	return out
}

// gather counts this workshop's own readings of each quantity and picks some to ask
// about: turn by turn from each verdict, the newest cases first.
func gather(n *notebook.Notebook, j *verdict.Judge) (counts map[string]int, picked map[string][]Reading) {
	counts, picked = map[string]int{}, map[string][]Reading{}
	byVerdict := map[string]map[quantity.Verdict][]Reading{}
	for _, c := range slices.Backward(n.Cases) {
		k := &c.File.Case
		if k.Open() || k.From != "" {
			continue
		}
		for i := range k.Measurements {
			m := &k.Measurements[i]
			if m.Reading == nil {
				continue
			}
			q := quantityOf(m.What, m.Reading.Unit)
			if !slices.Contains(quantities, q) {
				continue
			}
			counts[q]++
			r := j.Reading(c, m)
			if r.Verdict == quantity.NoVerdict {
				continue
			}
			if byVerdict[q] == nil {
				byVerdict[q] = map[quantity.Verdict][]Reading{}
			}
			if len(byVerdict[q][r.Verdict]) < shown {
				byVerdict[q][r.Verdict] = append(byVerdict[q][r.Verdict],
					Reading{c, m.Point, m.What, m.State, cmp.Or(m.Expected, r.Limits), m.Read, r.Verdict, r.Guard})
			}
		}
	}
	turns := []quantity.Verdict{quantity.In, quantity.Low, quantity.TooClose, quantity.High, quantity.Short,
		quantity.Open, quantity.Reversed}
	for q, lists := range byVerdict {
		for turn := 0; turn < shown; turn++ {
			for _, v := range turns {
				if len(picked[q]) < shown && turn < len(lists[v]) {
					picked[q] = append(picked[q], lists[v][turn])
				}
			}
		}
	}
	return counts, picked
}

// quantityOf is the kind of a reading: what the row says, since volts may be direct,
// alternating, or a diode's.
func quantityOf(what string, u quantity.Unit) string {
	w := strings.ToLower(what)
	switch {
	case contains(w, "diode"):
		return "diode"
	case u.Quantity() == "voltage" && (contains(w, "ac") || contains(w, "ripple") || contains(w, "alternating")):
		return "ac-voltage"
	}
	return u.Quantity()
}

// contains reports whether a word in lower case stands in the text as a whole.
func contains(text, word string) bool {
	for _, w := range strings.FieldsFunc(text, func(r rune) bool { return r < 'a' || r > 'z' }) {
		if w == word {
			return true
		}
	}
	return false
}
