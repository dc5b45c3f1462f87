package hazard

import (
	"regexp"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/schema/casefile"
)

// inside is what is found once a thing is open. Common practice, no source.
var inside = []struct {
	thing   *regexp.Regexp
	hazards []string
}{
	{regexp.MustCompile(`(?i)\b(?:adapters?|adaptors?|chargers?|power (?:supply|supplies|bricks?|units?)|wall warts?|dimmers?|` +
		`netzteile?s?|netzadapter|ladegeräte?s?|adaptateurs?|chargeurs?|bloc d[’']alimentation)\b`), []string{"mains", "stored-charge"}},
	{regexp.MustCompile(`(?i)\b(?:battery packs?|packs?|power banks?|akkus?|akkupacks?|batterie|pack de batterie)\b`), []string{"lithium"}},
	{regexp.MustCompile(`(?i)\b(?:microwave(?: oven)?s?|magnetrons?|picture tubes?|photo ?flash(?:es)?|mikrowellen?|bildröhren?|micro-ondes|tube cathodique)\b`),
		[]string{"high-voltage", "stored-charge"}},
}

// openedBefore and openedAfter are a verb on either side of its thing with no other
// noun between, and openedIt one whose thing was named earlier.
var (
	article      = `(?:(?:up|the|its|it's|their|our|an?|old|new|own|this|that|das|den|die|sein|ihr|le|la|les|l[’']|son|sa) ?)*`
	openedBefore = regexp.MustCompile(`(?i)\b(?:opened|prised open|cracked open|cut open|geöffnet|öffnete|ouvert|ouvrir)(?: up)? ` + article + `$`)
	openedAfter  = regexp.MustCompile(`(?i)^ (?:(?:was|were|is|has been|had been|wurde|war|a été|est) )?(?:carefully )?(?:opened|prised open|cracked open|cut open|geöffnet|ouvert)\b`)
	openedIt     = regexp.MustCompile(`(?i)(?:^|[.;:] *|\bthen |\b(?:it|this|that) (?:was |has been )?)(?:opened|prised open|cracked open|cut open|geöffnet|ouvert)\b(?: (?:it|this|that)\b)?(?: up)?(?: to\b| and\b|[,.:;]|$)`)
)

// verbs are in every text that opens something, in small letters.
var verbs = []string{"opened", "prised open", "cracked open", "cut open", "geöffnet", "öffnete", "ouvert", "ouvrir"}

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
	lower := strings.ToLower(text)
	if !slices.ContainsFunc(verbs, func(v string) bool { return strings.Contains(lower, v) }) {
		return nil // most texts, and without a pattern
	}
	text = strings.Join(strings.Fields(text), " ")
	for _, in := range inside {
		for _, at := range in.thing.FindAllStringIndex(text, -1) {
			before, after := text[max(0, at[0]-beside):at[0]], text[at[1]:min(len(text), at[1]+beside)]
			if openedBefore.MatchString(before) || openedAfter.MatchString(after) {
				add(in.hazards)
			}
		}
	}
	for _, verb := range openedIt.FindAllStringIndex(text, -1) {
		last, hazards := -1, []string(nil)
		for _, in := range inside {
			if all := in.thing.FindAllStringIndex(text[:verb[0]], -1); len(all) > 0 && all[len(all)-1][0] > last {
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
