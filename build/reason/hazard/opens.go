package hazard

import (
	"regexp"
	"slices"
	"strings"
	"sync"

	"benchlore/build/notebook"
	"benchlore/schema/casefile"
	"benchlore/schema/terms"
)

// patterns are how a thing and the verb that opens it stand together, made of the words
// that the terms hold.
type patterns struct {
	verbs  []string // in small letters
	things []thing
	// before and after are a verb on either side of its thing with no other noun
	// between, and it one whose thing was named earlier.
	before, after, it *regexp.Regexp
}

// thing is what has something inside.
type thing struct {
	word    *regexp.Regexp
	hazards []string
}

var opening = sync.OnceValue(func() patterns {
	o := terms.OpenedWords()
	p := patterns{}
	for _, v := range o.Verbs {
		p.verbs = append(p.verbs, strings.ToLower(v))
	}
	for _, in := range o.Inside {
		p.things = append(p.things, thing{regexp.MustCompile(`(?i)\b(?:` + terms.Alternatives(in.Things) + `)\b`), in.Hazards})
	}
	any := terms.Alternatives
	verb, up := `(?:`+any(o.Verbs)+`)`, `(?: `+any(o.Between[:1])+`)?`
	// A boundary \b knows the letters of English alone, and would pass over "öffnete".
	p.before = regexp.MustCompile(`(?i)(?:^|[^\pL\pN])` + verb + up + ` (?:(?:` + any(o.Between) + `) ?)*$`)
	p.after = regexp.MustCompile(`(?i)^ (?:(?:` + any(o.Was) + `) )?(?:(?:` + any(o.How) + `) )?` + verb + `\b`)
	p.it = regexp.MustCompile(`(?i)(?:^|[.;:] *|\b(?:` + any(o.Then) + `) |\b(?:` + any(o.It) + `) (?:(?:` + any(o.Was) + `) )?)` + verb +
		`\b(?: (?:` + any(o.It) + `)\b)?` + up + `(?: (?:` + any(o.GoOn) + `)\b|[,.:;]|$)`)
	return p
})

// beside is how far from its thing a verb is looked for, in bytes: as far as the longest
// verb and three articles.
const beside = 80

// openedIn gives the ids of the hazards inside of what a text says was opened: "the
// adapter was opened", "opened its charger", or "opened to make sure" where the last
// thing that was named is one.
func openedIn(text string) []string {
	var out []string
	add := func(ids []string) {
		for _, id := range ids {
			if !slices.Contains(out, id) {
				out = append(out, id)
			}
		}
	}
	lower, o := strings.ToLower(text), opening()
	if !slices.ContainsFunc(o.verbs, func(v string) bool { return strings.Contains(lower, v) }) {
		return nil // most texts, and without a pattern
	}
	text = strings.Join(strings.Fields(text), " ")
	for _, in := range o.things {
		for _, at := range in.word.FindAllStringIndex(text, -1) {
			before, after := text[max(0, at[0]-beside):at[0]], text[at[1]:min(len(text), at[1]+beside)]
			if o.before.MatchString(before) || o.after.MatchString(after) {
				add(in.hazards)
			}
		}
	}
	for _, verb := range o.it.FindAllStringIndex(text, -1) {
		last, hazards := -1, []string(nil)
		for _, in := range o.things {
			if all := in.word.FindAllStringIndex(text[:verb[0]], -1); len(all) > 0 && all[len(all)-1][0] > last {
				last, hazards = all[len(all)-1][0], in.hazards
			}
		}
		add(hazards)
	}
	return out
}

// opened gives those of the sections and findings of a case, without those that are said
// already, and the first section that one of them stands in.
func opened(k *casefile.Case, plain func(section string) string, said ...string) (ids []string, section string) {
	for _, name := range casefile.SectionNames {
		text := ""
		switch name {
		case "Findings":
			for i := range k.Findings {
				text += k.Findings[i].Check + ". " + k.Findings[i].Seen + ". "
			}
		case "Symptom", "Outcome":
			text = plain(name)
		}
		for _, id := range openedIn(text) {
			if !slices.Contains(ids, id) && !slices.Contains(said, id) {
				ids = append(ids, id)
			}
		}
		if len(ids) > 0 && section == "" {
			section = name
		}
	}
	return ids, section
}

// Omitted gives the hazards that the text of a case opens and that neither it, nor
// its device, nor its kind of device says, with the section that opens.
func Omitted(c *notebook.Case) (ids []string, section string) {
	return opened(&c.File.Case, c.SectionPlain, written(c.Device, &c.File.Case)...)
}
