package terms

import (
	"cmp"
	"slices"
	"sync"

	"benchlore/schema/language"
)

// Precaution is what belongs to a hazard beside its caution. All of it is common
// practice unless a limit names its source; local codes and licensed practice come
// first, and nothing here declares a device safe.
type Precaution struct {
	Hazard   string   `yaml:"hazard"` // id
	Care     []string `yaml:"care"`   // the usual precautions
	Limits   []Limit  `yaml:"limits"`
	Calls    []string `yaml:"calls"`  // phrases in a check that call for the caution
	Kinds    []string `yaml:"kinds"`  // ids of kinds of device that do
	Always   []string `yaml:"always"` // those of them that are never without the hazard
	Brings   []string `yaml:"brings"` // ids of hazards that come with it
	Question Question `yaml:"question"`
}

// Limit is a published figure with its source; without the figure the source alone says
// it.
type Limit struct {
	What   string `yaml:"what"`
	Limit  string `yaml:"limit"`
	Source string `yaml:"source"`
}

// Question asks whether a caution was understood.
type Question struct {
	Ask   string   `yaml:"ask"`
	Right string   `yaml:"right"`
	Wrong []string `yaml:"wrong"`
}

// Precautions lists what belongs to the built-in hazards, in the order in which a
// new person should meet them.
var Precautions = sync.OnceValue(func() []Precaution {
	var list []Precaution
	decode("precautions", &list)
	return list
})

// calls reads the phrases of all precautions, those of a hazard as a class of their own.
var calls = sync.OnceValue(func() *reader {
	r := newReader(grammarOf(language.English))
	for _, p := range Precautions() {
		for _, text := range p.Calls {
			_ = r.add(&lexicon{}, phrase{Class("calls/" + p.Hazard), p.Hazard, text})
		}
	}
	return r
})

// CalledFor gives the ids of the hazards that a text calls for by its wording, as
// "reflow the joint" calls for heat and fumes; what the text denies does not count.
func CalledFor(text string) []string {
	var out []string
	add := func(id string) {
		if !slices.Contains(out, id) {
			out = append(out, id)
		}
	}
	found := calls().read(text)
	slices.SortStableFunc(found, func(a, b Mention) int { return cmp.Compare(a.Start, b.Start) })
	for _, m := range found {
		if m.Negated {
			continue
		}
		add(m.ID)
		for _, p := range Precautions() {
			if p.Hazard == m.ID {
				for _, id := range p.Brings {
					add(id)
				}
			}
		}
	}
	return out
}

// Always reports whether every device of a kind has the hazard, so that a record
// that does not say so has a gap.
func Always(kind, hazard string) bool {
	return slices.ContainsFunc(Precautions(), func(p Precaution) bool { return p.Hazard == hazard && slices.Contains(p.Always, kind) })
}

// CalledForBy gives the ids of the hazards that a kind of device calls for.
func CalledForBy(kind string) []string {
	var out []string
	for _, p := range Precautions() {
		if slices.Contains(p.Kinds, kind) {
			out = append(out, p.Hazard)
		}
	}
	return out
}
