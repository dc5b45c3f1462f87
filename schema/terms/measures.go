package terms

import (
	"slices"
	"strings"
	"sync"
	"unicode"
)

// Measured is what the words of a row say was measured.
type Measured struct {
	// Known says that a word of it is known at all.
	Known bool
	// Quantities are those that a reading may then be of, by the names of schema/quantity;
	// none where the words leave that open.
	Quantities []string
}

// Fits reports whether a reading of a quantity goes with what was measured.
func (m Measured) Fits(quantity string) bool {
	return len(m.Quantities) == 0 || slices.Contains(m.Quantities, quantity)
}

// measure is an entry of data/measures.yaml.
type measure struct {
	Quantities []string `yaml:"quantities"`
	Open       bool     `yaml:"open"` // leaves open what the unit is, whatever stands beside it
	Words      []string `yaml:"words"`
}

// affix is a part of a longer word, at its beginning or its end.
type affix struct {
	text  string
	entry *measure
}

// measureWords are the words of data/measures.yaml as they are looked for.
type measureWords struct {
	whole        map[string][]*measure
	begins, ends []affix
	quantities   []string // that the entries name
	list         []string // whole words that say a quantity, for slips of spelling
}

var measures = sync.OnceValue(func() *measureWords {
	var entries []measure
	decode("measures", &entries)
	m := &measureWords{whole: map[string][]*measure{}}
	for i := range entries {
		e := &entries[i]
		for _, word := range e.Words {
			switch {
			case strings.HasPrefix(word, "-"):
				m.ends = append(m.ends, affix{word[1:], e})
			case strings.HasSuffix(word, "-"):
				m.begins = append(m.begins, affix{strings.TrimSuffix(word, "-"), e})
			default:
				m.whole[word] = append(m.whole[word], e)
				if len(e.Quantities) > 0 {
					m.list = append(m.list, word)
				}
			}
		}
		for _, q := range e.Quantities {
			if !slices.Contains(m.quantities, q) {
				m.quantities = append(m.quantities, q)
			}
		}
	}
	return m
})

// measureTokens splits what a row says was measured into words, folded to small letters.
func measureTokens(text string) []string {
	return strings.FieldsFunc(strings.ToLower(text), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsMark(r) && !unicode.IsDigit(r)
	})
}

// Measures says what the words of a row's column what mean, in any language. Where they
// name several quantities ("voltage across the resistance wire") each may be meant, and a
// word that stands for another ("current at the shunt") leaves the unit open. A part, a
// place, or a word of the workshop's own under words: in terms/ is known and says no
// quantity. Known is false where none of the words is known.
func (v *Vocabulary) Measures(text string) (out Measured) {
	m := measures()
	open := false
	take := func(e *measure) {
		out.Known = true
		open = open || e.Open
		for _, q := range e.Quantities {
			if !slices.Contains(out.Quantities, q) {
				out.Quantities = append(out.Quantities, q)
			}
		}
	}
	for _, word := range measureTokens(text) {
		if found := m.whole[word]; len(found) > 0 {
			for _, e := range found {
				take(e)
			}
			continue
		}
		for _, a := range m.begins {
			if len(word) > len(a.text) && strings.HasPrefix(word, a.text) {
				take(a.entry)
			}
		}
		for _, a := range m.ends {
			if len(word) > len(a.text) && strings.HasSuffix(word, a.text) {
				take(a.entry)
			}
		}
	}
	if !out.Known {
		out.Known = v.namesAny(text)
	}
	if open {
		out.Quantities = nil
	}
	return out
}

// namesAny reports whether a text names anything of the bench: a part, a place, an
// instrument, or a word that is explained.
func (v *Vocabulary) namesAny(text string) bool {
	for _, c := range []Class{Word, Part, Place, Instrument, Protective} {
		if len(v.Named(c, text)) > 0 {
			return true
		}
	}
	return Component(text) != ""
}

// NearestMeasure is the known word for a quantity that a text is a slip of, "" for none.
func NearestMeasure(text string) string {
	for _, word := range measureTokens(text) {
		if len([]rune(word)) < 4 {
			continue // every short word is near another
		}
		if near := Nearest(word, measures().list); near != "" {
			return near
		}
	}
	return ""
}

// MeasuredQuantities are the quantities that data/measures.yaml names.
func MeasuredQuantities() []string { return slices.Clone(measures().quantities) }
