package terms

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"benchlore/schema/language"
)

// token is a stemmed word and where it stands.
type token struct {
	stem        string
	start, stop int
	first       bool // begins a clause: the text start, or punctuation stands before it
}

// filler carries no meaning in a symptom and is left out on both sides, so
// that "it will not turn on at all" and "won't turn on" are one phrase.
var filler = set(`a an the it its it's is are was were be been being to at and or of in my our his her this that
	very just completely really there with for any does do did doing will would can could has have had get got
	only even also any more longer properly correctly fully
	im ive i we he she they you`)

// fillerOf are the words that carry no meaning in a symptom in a language.
func fillerOf(l *language.Language) map[string]bool {
	if l.Tag == language.English {
		return filler
	}
	return set(strings.Join(l.StopWords(), " "))
}

// kept are words that filler would drop but some phrases are made of.
var kept = set(`no on off up down out`)

func set(words string) map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(words) {
		m[w] = true
	}
	return m
}

// tokens splits text into stemmed words. Apostrophes are dropped, hyphens and
// slashes separate words, other punctuation ends a clause.
func (v *Vocabulary) tokens(text string, stem func(word string) string) []token {
	var out []token
	first := true
	var word strings.Builder
	for i := 0; i < len(text); {
		r, n := utf8.DecodeRuneInString(text[i:])
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			if strings.ContainsRune(".,;:!?()[]\n|\"", r) {
				first = true
			}
			i += n
			continue
		}
		start := i
		word.Reset()
		for i < len(text) {
			r, n = utf8.DecodeRuneInString(text[i:])
			apostrophe := r == '\'' || r == '’' || r == '`' || r == '´'
			if apostrophe && v.lang.Splits {
				i += n
				break
			}
			if !apostrophe && !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.Is(unicode.Mn, r) {
				break
			}
			if !apostrophe {
				word.WriteRune(unicode.ToLower(r))
			}
			i += n
		}
		w := word.String()
		switch {
		case v.lang.Negates(w):
			w = "not"
		case w == "to" && len(out) > 0 && !first && (out[len(out)-1].stem == "fail" || out[len(out)-1].stem == "refus"):
			out[len(out)-1].stem = "not" // "fails to start" is "does not start"
			continue
		case v.filler[w] && !kept[w]:
			continue
		default:
			w = stem(w)
		}
		out = append(out, token{w, start, i, first})
		first = false
	}
	return out
}

// PhraseTable gives what [Vocabulary.Recognise] works with to programs in other
// languages: stemmed phrases with the ids they mean, and the word lists.
type PhraseTable struct {
	Phrases  map[string]string `json:"phrases"`
	Longest  int               `json:"longest"` // words in the longest phrase
	Filler   []string          `json:"filler"`
	Negative []string          `json:"negative"`
}

// Phrases returns the table of a class.
func (v *Vocabulary) Phrases(c Class) PhraseTable {
	t := PhraseTable{Phrases: map[string]string{}, Longest: v.longest[c]}
	for phrase, term := range v.phrases[c] {
		t.Phrases[phrase] = term.ID
	}
	for w := range v.filler {
		if !kept[w] {
			t.Filler = append(t.Filler, w)
		}
	}
	t.Negative = v.lang.Negatives()
	slices.Sort(t.Filler)
	return t
}

func (v *Vocabulary) stems(phrase string) []string {
	var out []string
	for _, t := range v.tokens(phrase, v.lang.Stem) {
		out = append(out, t.stem)
	}
	return out
}
