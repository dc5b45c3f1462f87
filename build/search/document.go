package search

import (
	"math"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/schema/casefile"
	"benchlore/schema/language"
	"benchlore/schema/terms"
)

// Field names one part of a case that is searched.
type Field string

// The fields, with their weights in [Weights].
const (
	Title    Field = "title"
	Symptom  Field = "symptom"
	Findings Field = "findings"
	Readings Field = "readings"
	Parts    Field = "parts"
	Cause    Field = "cause"
	Outcome  Field = "outcome"
	Lesson   Field = "lesson"
	Device   Field = "device"
)

// Fields lists the fields in the order in which a case is read.
var Fields = []Field{Title, Symptom, Device, Cause, Findings, Readings, Parts, Outcome, Lesson}

// Weights say how much a word counts by where it stands.
var Weights = map[Field]float64{Title: 3, Symptom: 2.5, Device: 2, Cause: 1.5, Lesson: 1, Findings: 1, Parts: 1, Outcome: 0.8, Readings: 0.6}

// content is a case as the ranking sees it: what stands in it with weighted
// frequencies and its weighted length, all in tenths, as [Weights] are.
type content struct {
	entries map[string]int // see entryOf
	length  int
}

// entryOf is the one name for a token under which frequencies are kept: its
// form, or valueMark and the term for a part of a value, which has none.
func entryOf(t Token) string {
	if t.form == "" {
		return valueMark + t.Term
	}
	return t.form
}

// valueMark is never part of a word.
const valueMark = "="

// termOf returns the term of an entry, and its form where it has one.
func termOf(l *language.Language, entry string) (term, form string) {
	if value, ok := strings.CutPrefix(entry, valueMark); ok {
		return value, ""
	}
	return stemmed(l, entry), entry
}

func contentOf(n *notebook.Notebook, c *notebook.Case) content {
	out := content{entries: map[string]int{}}
	for _, f := range Fields {
		tenths := int(math.Round(10 * Weights[f]))
		for _, t := range Analyze(n.Terms.Language(), Text(n, c, f)) {
			out.entries[entryOf(t)] += tenths
			out.length += tenths
		}
	}
	return out
}

// symptomWord is how a symptom stands among the words; no text can hold it,
// since # is never part of a word.
func symptomWord(id string) string { return "#" + id }

// Text returns what a field of a case says, as one text.
func Text(n *notebook.Notebook, c *notebook.Case, f Field) string {
	var words []string
	k := &c.File.Case
	section := func(name string) { words = append(words, c.SectionPlain(name)) }
	switch f {
	case Title:
		words = append(words, k.Title)
	case Symptom:
		for _, id := range k.Symptoms {
			words = append(words, n.Terms.Name(terms.Symptom, id))
		}
		section("Symptom")
	case Device:
		words = append(words, c.Device.Maker, c.Device.Model, n.Terms.Name(terms.Kind, c.Device.Kind), k.Board)
	case Cause:
		if k.Cause != nil {
			words = append(words, n.Terms.Name(terms.Fault, k.Cause.Fault), n.Terms.Name(terms.Place, k.Cause.At))
		}
	case Findings:
		for _, r := range k.Findings {
			words = append(words, r.Check, r.Seen)
		}
		if len(k.Findings) == 0 {
			section("Findings")
		}
	case Readings:
		for _, r := range k.Measurements {
			words = append(words, r.Point, r.What, r.Read, r.Note)
		}
	case Parts:
		for _, r := range k.Parts {
			words = append(words, r.Ref, r.Part, r.Value, r.Net, r.Fitted, r.Note)
		}
	case Outcome:
		section("Outcome")
	case Lesson:
		section("Lesson")
		for _, s := range k.Sections {
			if !slices.Contains(casefile.SectionNames, s.Name) {
				section(s.Name)
			}
		}
	}
	return strings.Join(words, "\n")
}

// Year returns the year in which the case was opened, as text.
func Year(c *notebook.Case) string {
	if o := c.File.Case.Opened; len(o) >= 4 {
		return o[:4]
	}
	return ""
}
