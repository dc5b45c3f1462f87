package search

import (
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/schema/casefile"
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
