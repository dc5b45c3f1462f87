package terms

import (
	"slices"
	"strings"

	"benchlore/schema/language"
)

// ExportedReader is what a page reads texts with beside the words of each language,
// which [ExportedWords] gives.
type ExportedReader struct {
	Language string                     `json:"language"`
	Reading  []string                   `json:"reading"`
	Classes  []Class                    `json:"classes"` // in the order of a reading
	Parents  map[string]string          `json:"parents"` // the wider kinds of kinds
	Grammars map[string]ExportedGrammar `json:"grammars"`
	Weak     []string                   `json:"weak"` // kinds that count at the beginning alone
	// Vague are symptoms that fall away beside any finer one.
	Vague []string `json:"vague"`
	// Inferring are the languages in which a kind that is not said may be inferred.
	Inferring []string `json:"inferring"`
	Own       string   `json:"own"` // the workshop's words, as [ExportedWords]
}

// ExportedGrammar is a grammar, and whether its words are cut by the English stemmer.
type ExportedGrammar struct {
	*Grammar
	English bool `json:"english"`
}

// ExportReader gives what pages need to read as [Vocabulary.Read] does.
func (v *Vocabulary) ExportReader() ExportedReader {
	x := ExportedReader{Language: v.lang.Tag, Reading: Reading, Parents: map[string]string{}, Grammars: map[string]ExportedGrammar{}}
	for _, c := range readClasses {
		if c != Name {
			x.Classes = append(x.Classes, c)
		}
	}
	for _, t := range v.order[Symptom] {
		if t.Vague {
			x.Vague = append(x.Vague, t.ID)
		}
	}
	for _, t := range v.order[Kind] {
		if t.Weak {
			x.Weak = append(x.Weak, t.ID)
		}
		if t.Parent != "" {
			x.Parents[t.ID] = t.Parent
		}
	}
	for _, tag := range Reading {
		if InferenceOf(tag) != nil {
			x.Inferring = append(x.Inferring, tag)
		}
		x.Grammars[tag] = ExportedGrammar{grammarOf(tag).whole(), tag == language.English}
	}
	var b strings.Builder
	for _, p := range v.own {
		b.WriteString("=" + string(p.class) + "\n>" + p.id + "\n-" + plainPhrase(p.text) + "\n")
	}
	x.Own = b.String()
	return x
}

// whole is a grammar with empty lists where it has none, as programs expect that do not
// tell the two apart.
func (g *Grammar) whole() *Grammar {
	c := *g
	for _, list := range []*[]string{&c.Function, &c.Final, &c.Hanging, &c.Negators, &c.Fine, &c.Asking, &c.Supposing, &c.Opening, &c.Breaks, &c.Or, &c.Folds, &c.Endings, &c.Nouns} {
		if *list == nil {
			*list = []string{}
		}
	}
	if c.Slips == nil {
		c.Slips = map[string]string{}
	}
	return &c
}

// ExportedWords gives the phrases of a language by lines: "=class", "<set and its words",
// ">id" and "-phrase", in the order in which they are to be taken in.
func ExportedWords(tag string) string { return exported(tag, readClasses) }

// ExportedDangers gives in the same way what is heard of a text in any language.
func ExportedDangers(tag string) string { return exported(tag, dangerClasses) }

func exported(tag string, classes []Class) string {
	var b strings.Builder
	l, names := lexiconOf(tag), spokenBy(tag, classes)
	for _, c := range classes {
		b.WriteString("=" + string(c) + "\n")
		for _, name := range l.setsOf(c) {
			b.WriteString("<" + name + " " + l.sets[string(c)+"/"+name] + "\n")
		}
		last := ""
		for _, p := range slices.Concat(names, l.phrases) {
			if p.class != c {
				continue
			}
			if p.id != last {
				b.WriteString(">" + p.id + "\n")
				last = p.id
			}
			b.WriteString("-" + p.text + "\n")
		}
	}
	return b.String()
}

// setsOf lists the sets of a class by name.
func (l *lexicon) setsOf(c Class) (names []string) {
	for key := range l.sets {
		if name, ok := strings.CutPrefix(key, string(c)+"/"); ok {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}

// ExportedInference is an [Inference] as text: buckets as two bytes each, the lower first,
// and weights as signed bytes, both in base 64 by encoding/json.
type ExportedInference struct {
	Bits       int       `json:"bits"`
	Most       int       `json:"most"` // words that are looked at
	Runs       []int     `json:"runs"`
	Kinds      []string  `json:"kinds"`
	Buckets    []byte    `json:"buckets"`
	Weights    []byte    `json:"weights"`
	Step       float64   `json:"step"`
	Intercepts []float64 `json:"intercepts"`
	Least      float64   `json:"least"`
}

// ExportInference gives what was learned for a language, nil for none.
func ExportInference(tag string) *ExportedInference {
	i := InferenceOf(tag)
	if i == nil {
		return nil
	}
	x := &ExportedInference{Bits: hashBits, Most: mostInferred, Runs: letterRuns, Kinds: i.Kinds, Step: i.Step, Intercepts: i.Intercepts, Least: i.Least}
	for _, b := range i.Buckets {
		x.Buckets = append(x.Buckets, byte(b), byte(b>>8))
	}
	for _, w := range i.Weights {
		x.Weights = append(x.Weights, byte(w))
	}
	return x
}
