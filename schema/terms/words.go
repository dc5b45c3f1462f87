package terms

import (
	"maps"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/blevesearch/snowballstem"
	"github.com/blevesearch/snowballstem/english"
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

// negative words are one word in a symptom: "cannot", "doesn't", "unable to".
var negative = set(`not wont cant cannot doesnt dont didnt isnt arent wasnt werent wouldnt couldnt hasnt havent unable
	never without`)

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
func tokens(text string) []token {
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
		case negative[w]:
			w = "not"
		case w == "to" && len(out) > 0 && !first && (out[len(out)-1].stem == "fail" || out[len(out)-1].stem == "refus"):
			out[len(out)-1].stem = "not" // "fails to start" is "does not start"
			continue
		case filler[w] && !kept[w]:
			continue
		default:
			w = Stem(w)
		}
		out = append(out, token{w, start, i, first})
		first = false
	}
	return out
}

// Stem applies the Snowball English (Porter 2) stemmer to a word in lower case;
// the words of a search are cut by the same one.
func Stem(w string) string {
	if len(w) < 3 || len(w) > 40 {
		return w
	}
	env := snowballstem.NewEnv(w)
	english.Stem(env)
	return env.Current()
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
	for w := range filler {
		if !kept[w] {
			t.Filler = append(t.Filler, w)
		}
	}
	t.Negative = slices.Sorted(maps.Keys(negative))
	slices.Sort(t.Filler)
	return t
}

func stems(phrase string) []string {
	var out []string
	for _, t := range tokens(phrase) {
		out = append(out, t.stem)
	}
	return out
}
