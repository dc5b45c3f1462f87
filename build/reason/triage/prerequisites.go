package triage

import (
	"slices"
	"strings"
	"sync"

	"benchlore/build/reason/search"
	"benchlore/schema/language"
	"benchlore/schema/terms"
)

// Prerequisite is a rule of safety: a check whose wording has any of the When
// phrases comes after one that has any of the First phrases.
type Prerequisite struct {
	terms.Prerequisite
	when, first [][]string // stemmed
}

// stepPrerequisites returns the rules, which are data of the terms.
var stepPrerequisites = sync.OnceValue(func() []Prerequisite {
	var list []Prerequisite
	for _, p := range terms.Prerequisites() {
		list = append(list, Prerequisite{p, stems(p.When), stems(p.First)})
	}
	return list
})

func stems(phrases []string) (out [][]string) {
	for _, p := range phrases {
		out = append(out, words(p))
	}
	return out
}

// unpowered are the stemmed phrases of checks without and with power.
var unpowered = sync.OnceValue(func() [3][][]string {
	u := terms.UnpoweredChecks()
	return [3][][]string{stems(u.Without), stems(u.With), stems(u.Invasive)}
})

// isInvasive reports whether a check takes something apart.
func isInvasive(check []string) bool { return hasAny(check, unpowered()[2]) }

// needsNoPower reports whether a check is known to be made on a device without
// power; one that is not understood needs it.
func needsNoPower(check []string) bool {
	u := unpowered()
	return hasAny(check, u[0]) && !hasAny(check, u[1])
}

// english cuts the words of rules and of checks alike; a rule has phrases in other
// languages among its own.
var english = language.Of(language.English)

func words(text string) []string {
	var out []string
	for _, t := range search.Analyze(english, text) {
		out = append(out, t.Term)
	}
	return out
}

// applies looks at the words of a check.
func (p *Prerequisite) applies(check []string) bool { return hasAny(check, p.when) }

// satisfies reports whether a check, by its name, is what must come first. That something
// is "discharged" is taken for granted there and done by nobody, so such a word counts for
// nothing; in doubt the rule's own words are said.
func (p *Prerequisite) satisfies(name string) bool {
	var done []string
	for _, w := range strings.Fields(name) {
		if w = strings.ToLower(strings.Trim(w, ".,;:()")); !terms.HasWording(terms.Discharged, w) {
			done = append(done, w)
		}
	}
	return hasAny(words(strings.Join(done, " ")), p.first)
}

// hasAny reports whether all words of one of the phrases are there.
func hasAny(have []string, phrases [][]string) bool {
	return slices.ContainsFunc(phrases, func(phrase []string) bool {
		return !slices.ContainsFunc(phrase, func(w string) bool { return !slices.Contains(have, w) })
	})
}
