// Package terms holds the controlled words of a notebook: symptoms, faults,
// places, origins, hazards, actions and the rest, each with a one-line meaning
// and the synonyms people really use.
//
// Begin with [Builtin]; a workshop's own words are added with
// [Vocabulary.Extend]. [Vocabulary.Resolve] turns what somebody typed into a
// term, [Vocabulary.Recognise] finds terms in running text, and
// [Vocabulary.Nearest] offers the closest known word. A vocabulary is
// read-only once built and safe for concurrent use.
package terms

import (
	"bytes"
	"cmp"
	"embed"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"

	"benchlore/schema/diagnostic"
	"benchlore/schema/language"
)

// Class is the kind of a controlled word.
type Class string

// The classes. Each value is also the key under which a terms file lists its
// words.
const (
	Symptom Class = "symptoms"
	Fault   Class = "faults"
	Place   Class = "places"
	Origin  Class = "origins"
	Before  Class = "before"
	Hazard  Class = "hazards"
	Action  Class = "actions"
	Result  Class = "results"
	Outcome Class = "outcomes"
	Barrier Class = "barriers"
	Kind    Class = "kinds"
	Head    Class = "heads"
	Word    Class = "words" // of the bench, explained where they stand
)

// Classes lists every class, in the order in which a reader meets them.
var Classes = []Class{Symptom, Before, Fault, Place, Origin, Hazard, Action, Result, Outcome, Barrier, Kind, Head, Word}

// Singular returns the word for one term of the class.
func (c Class) Singular() string {
	switch c {
	case Before:
		return "event"
	default:
		return strings.TrimSuffix(string(c), "s")
	}
}

// Term is one controlled word.
type Term struct {
	ID      string   `yaml:"id" json:"id"`                 // as written in case files
	Name    string   `yaml:"name" json:"name"`             // as shown to people
	Group   string   `yaml:"group" json:"group,omitempty"` // what a person notices it by; symptoms only
	Meaning string   `yaml:"meaning" json:"meaning"`       // one line
	Also    []string `yaml:"also" json:"also,omitempty"`
	// Caution is the usual precaution; hazards only.
	Caution string `yaml:"caution" json:"caution,omitempty"`
	// Standard is the Open Repair Data Standard's own wording, where it has one.
	Standard string `yaml:"standard" json:"standard,omitempty"`
	// Category is the standard's product category, 1 to 40; kinds only.
	Category int `yaml:"category" json:"category,omitempty"`
	// Own marks a word that the workshop added.
	Own bool `yaml:"-" json:"own,omitempty"`
}

// Vocabulary is a set of controlled words.
type Vocabulary struct {
	lang    *language.Language
	filler  map[string]bool
	byID    map[Class]map[string]*Term
	order   map[Class][]*Term
	phrases map[Class]map[string]*Term // stemmed phrase -> term
	longest map[Class]int              // words in the longest phrase
	forms   map[string]string          // words of symptoms' phrases as written -> stems
}

//go:embed data/*.yaml
var data embed.FS

// Builtin returns the words that come with the program, in English.
func Builtin() *Vocabulary { return In(language.English) }

// In returns the words that come with the program with their names in a language,
// where there are such; English names are understood as well.
func In(tag string) *Vocabulary {
	l := language.Of(tag)
	if made, ok := vocabularies.Load(l.Tag); ok {
		return made.(*Vocabulary)
	}
	v := build(l)
	kept, _ := vocabularies.LoadOrStore(l.Tag, v)
	return kept.(*Vocabulary)
}

var vocabularies sync.Map // by tag

// Forms are the words of the symptoms' phrases as they are written, with their
// stems, for programs that have no stemmer for the language.
func (v *Vocabulary) Forms() map[string]string { return v.forms }

// Language is what the words are in.
func (v *Vocabulary) Language() *language.Language { return v.lang }

func build(l *language.Language) *Vocabulary {
	names := translations(l.Tag)
	v := &Vocabulary{
		lang: l, filler: fillerOf(l), forms: map[string]string{}, byID: map[Class]map[string]*Term{}, order: map[Class][]*Term{},
		phrases: map[Class]map[string]*Term{}, longest: map[Class]int{},
	}
	var clashes []string
	for _, c := range Classes {
		v.byID[c], v.phrases[c] = map[string]*Term{}, map[string]*Term{}
		src, err := data.ReadFile("data/" + string(c) + ".yaml")
		if err != nil {
			panic(err) // the embed pattern and the classes are both ours
		}
		var list []*Term
		dec := yaml.NewDecoder(bytes.NewReader(src))
		dec.KnownFields(true)
		if err := dec.Decode(&list); err != nil {
			panic(fmt.Sprintf("built-in %s: %v", c, err))
		}
		for _, t := range list {
			v.byID[c][t.ID] = t
			v.order[c] = append(v.order[c], t)
		}
		// Words of the language come before the English ones, so that these mean
		// nothing else there.
		english := map[string][]string{}
		for _, t := range list {
			english[t.ID] = t.words()
			if own, ok := names[c][t.ID]; ok {
				t.say(own)
				for _, w := range append([]string{t.Name}, t.Also...) {
					if other := v.addPhrase(c, w, t); other != nil && other != t {
						clashes = append(clashes, fmt.Sprintf("%s, %s: %q means both %s and %s", l.Tag, c, w, other.ID, t.ID))
					}
				}
			}
		}
		for _, t := range list {
			for _, w := range english[t.ID] {
				if other := v.addPhrase(c, w, t); other != nil && other != t && l.Tag == language.English {
					clashes = append(clashes, fmt.Sprintf("%s: %q means both %s and %s", c, w, other.ID, t.ID))
				}
			}
		}
	}
	if clashes != nil {
		panic("built-in " + strings.Join(clashes, "\nbuilt-in "))
	}
	return v
}

// say gives a term the names of another language.
func (t *Term) say(own Term) {
	t.Name = own.Name
	t.Also = own.Also
	if own.Meaning != "" {
		t.Meaning = own.Meaning
	}
	if own.Caution != "" {
		t.Caution = own.Caution
	}
}

// translations are the names of a language by class and id, none for English.
func translations(tag string) map[Class]map[string]Term {
	src, err := data.ReadFile("data/" + tag + ".yaml")
	if err != nil {
		return nil
	}
	var out map[Class]map[string]Term
	dec := yaml.NewDecoder(bytes.NewReader(src))
	dec.KnownFields(true)
	if err := dec.Decode(&out); err != nil {
		panic(fmt.Sprintf("built-in %s: %v", tag, err))
	}
	return out
}

// Advice is what to mind: the term's caution, else its meaning.
func (t *Term) Advice() string { return cmp.Or(t.Caution, t.Meaning) }

func (t *Term) words() []string {
	return append([]string{strings.ReplaceAll(t.ID, "-", " "), t.Name}, t.Also...)
}

// addPhrase returns the term that already owns the phrase, if any.
func (v *Vocabulary) addPhrase(c Class, phrase string, t *Term) *Term {
	words := v.stems(phrase)
	if len(words) == 0 {
		return nil
	}
	if c == Symptom {
		v.tokens(phrase, func(w string) string {
			v.forms[w] = v.lang.Stem(w)
			return w
		})
	}
	key := strings.Join(words, " ")
	if other, ok := v.phrases[c][key]; ok {
		return other
	}
	v.phrases[c][key] = t
	v.longest[c] = max(v.longest[c], len(words))
	return nil
}

// All returns the terms of a class in the order of their file.
func (v *Vocabulary) All(c Class) []*Term { return v.order[c] }

// Lookup returns the term with exactly this id.
func (v *Vocabulary) Lookup(c Class, id string) (*Term, bool) {
	t, ok := v.byID[c][id]
	return t, ok
}

// Name returns the shown name of a term, or the id itself when it is unknown.
func (v *Vocabulary) Name(c Class, id string) string {
	if t, ok := v.byID[c][id]; ok {
		return t.Name
	}
	return id
}

// Names gives the names of the ids, never nil.
func (v *Vocabulary) Names(c Class, ids []string) []string {
	out := make([]string, 0, len(ids))
	for _, id := range ids {
		out = append(out, v.Name(c, id))
	}
	return out
}

// Resolve returns the term whose id, name or synonym is the whole of word.
func (v *Vocabulary) Resolve(c Class, word string) (*Term, bool) {
	if t, ok := v.byID[c][strings.TrimSpace(word)]; ok {
		return t, true
	}
	t, ok := v.phrases[c][strings.Join(v.stems(word), " ")]
	return t, ok
}

// Nearest returns the id of the known term closest to word, or "" when
// nothing is close. Distance counts characters, not bytes.
func (v *Vocabulary) Nearest(c Class, word string) string {
	if t, ok := v.Resolve(c, word); ok {
		return t.ID
	}
	if m := v.Recognise(c, word); len(m) > 0 {
		return m[0].Term.ID
	}
	var ids []string
	for _, t := range v.order[c] {
		ids = append(ids, t.ID)
		for _, w := range t.words() {
			ids = append(ids, strings.ToLower(w))
		}
	}
	near := Nearest(word, ids)
	if t, ok := v.Resolve(c, near); ok {
		return t.ID
	}
	return ""
}

// Nearest returns the candidate with the smallest edit distance to word, the
// first of equals, or "" when all differ in more than a third of the word.
func Nearest(word string, candidates []string) string {
	word = strings.ToLower(strings.TrimSpace(word))
	if word == "" || len(word) > 100 {
		return ""
	}
	best, at := max(1, len([]rune(word))/3)+1, ""
	for _, c := range candidates {
		if d := Distance(word, strings.ToLower(c)); d < best {
			best, at = d, c
		}
	}
	return at
}

// Distance is the number of insertions, deletions, substitutions and swaps of
// neighbours that turn a into b (optimal string alignment), in characters.
func Distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	before, last, row := make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range last {
		last[j] = j
	}
	for i := range x {
		row[0] = i + 1
		for j := range y {
			cost := 1
			if x[i] == y[j] {
				cost = 0
			}
			row[j+1] = min(last[j+1]+1, row[j]+1, last[j]+cost)
			if i > 0 && j > 0 && x[i] == y[j-1] && x[i-1] == y[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(y)]
}

// Match is a term found in text; Start and Stop are byte offsets.
type Match struct {
	Term        *Term
	Start, Stop int
}

// Recognise finds the terms of a class in running text, the longest phrase
// first at each place, in order of appearance. Each place is used once; a
// phrase never crosses punctuation, and a phrase right after "no" or "not" that
// is not itself part of the phrase does not count.
func (v *Vocabulary) Recognise(c Class, text string) []Match {
	return v.RecogniseBy(c, text, v.lang.Stem)
}

// RecogniseBy is [Vocabulary.Recognise] with words cut by another stemmer, which must
// come to the same stems for the words of the vocabulary's phrases.
func (v *Vocabulary) RecogniseBy(c Class, text string, stem func(word string) string) []Match {
	var found []Match
	words := v.tokens(text, stem)
	for i := 0; i < len(words); {
		n, t := v.longestAt(c, words, i)
		if t == nil {
			i++
			continue
		}
		negated := i > 0 && !words[i].first && (words[i-1].stem == "not" || words[i-1].stem == "no")
		if !negated {
			found = append(found, Match{t, words[i].start, words[i+n-1].stop})
		}
		i += n
	}
	return found
}

func (v *Vocabulary) longestAt(c Class, words []token, i int) (int, *Term) {
	var key strings.Builder
	best, bestTerm := 0, (*Term)(nil)
	for n := 1; n <= v.longest[c] && i+n <= len(words); n++ {
		if n > 1 {
			if words[i+n-1].first {
				break
			}
			key.WriteByte(' ')
		}
		key.WriteString(words[i+n-1].stem)
		if t, ok := v.phrases[c][key.String()]; ok {
			best, bestTerm = n, t
		}
	}
	return best, bestTerm
}

// IDPattern is what the id of a term looks like.
var IDPattern = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

// Extend returns a vocabulary with a workshop's own words added from one terms
// file, whose top-level keys are classes. An entry for a known id may give
// further synonyms only. Entries that are wrong are named and left out.
func (v *Vocabulary) Extend(name string, src []byte) (*Vocabulary, []diagnostic.Diagnostic) {
	text := diagnostic.NewText(name, src)
	var found []diagnostic.Diagnostic
	say := func(n *yaml.Node, rule diagnostic.Rule, hint, format string, args ...any) {
		at := text.Offset(n.Line, n.Column)
		d := text.At(at, at+len(n.Value), diagnostic.Error, rule, fmt.Sprintf(format, args...))
		d.Suggestion = hint
		found = append(found, d)
	}
	var doc yaml.Node
	if err := yaml.Unmarshal(src, &doc); err != nil {
		return v, []diagnostic.Diagnostic{diagnostic.YAMLError(text, 0, err)}
	}
	if len(doc.Content) == 0 {
		return v, nil
	}
	root := doc.Content[0]
	if root.Kind != yaml.MappingNode {
		say(root, diagnostic.WrongType, "", "a terms file is a mapping with keys such as symptoms or places")
		return v, found
	}
	next := v.clone()
	for i := 0; i+1 < len(root.Content); i += 2 {
		key, list := root.Content[i], root.Content[i+1]
		c := Class(key.Value)
		if _, ok := next.byID[c]; !ok {
			say(key, diagnostic.UnknownKey, Nearest(key.Value, classNames()), "%q is not a class of terms", key.Value)
			continue
		}
		if c == Action || c == Result || c == Outcome || c == Barrier || c == Origin {
			say(key, diagnostic.UnknownKey, "",
				"%s are fixed and cannot be added to; symptoms, faults, places, before, hazards and kinds can", c)
			continue
		}
		if list.Kind != yaml.SequenceNode {
			say(list, diagnostic.WrongType, "", "%s is a list of terms, each with id, name and meaning", c)
			continue
		}
		for _, n := range list.Content {
			next.extendOne(c, n, say)
		}
	}
	return next, found
}

type sayFunc func(n *yaml.Node, rule diagnostic.Rule, hint, format string, args ...any)

func (v *Vocabulary) extendOne(c Class, n *yaml.Node, say sayFunc) {
	var t Term
	if err := n.Decode(&t); err != nil {
		say(n, diagnostic.WrongType, "", "a term is a mapping with id, name, meaning and also (a list of words)")
		return
	}
	if !IDPattern.MatchString(t.ID) {
		say(n, diagnostic.WrongValue, "", "a term's id is lower-case words joined by hyphens, such as no-power")
		return
	}
	if len(t.ID) > 64 || len(t.Name) > 200 || len(t.Meaning) > 1000 || len(t.Also) > 500 {
		say(n, diagnostic.WrongValue, "", "term %q is too long: id 64, name 200, meaning 1000 characters, 500 synonyms", t.ID)
		return
	}
	known, exists := v.byID[c][t.ID]
	switch {
	case exists && t.Name == "" && t.Meaning == "":
		merged := *known
		merged.Also = append(slices.Clone(known.Also), t.Also...)
		v.replace(c, known, &merged)
		known = &merged
	case exists:
		say(n, diagnostic.TermTwice, "", "%s %q exists already; give only id and also to add synonyms", c.Singular(), t.ID)
		return
	case t.Name == "" || t.Meaning == "":
		say(n, diagnostic.MissingKey, "", "%s %q needs a name and a meaning", c.Singular(), t.ID)
		return
	default:
		t.Own = true
		if c == Kind && (t.Category < 1 || t.Category > 40) {
			say(n, diagnostic.WrongValue, "", "kind %q needs the category of the Open Repair Data Standard, 1 to 40", t.ID)
			return
		}
		known = &t
		v.byID[c][t.ID] = known
		v.order[c] = append(v.order[c], known)
	}
	words := t.Also
	if !exists {
		words = known.words()
	}
	for _, w := range words {
		if other := v.addPhrase(c, w, known); other != nil && other.ID != known.ID {
			say(n, diagnostic.TermTwice, "", "%q already means %s", w, other.ID)
		}
	}
}

func (v *Vocabulary) replace(c Class, old, with *Term) {
	v.byID[c][old.ID] = with
	v.order[c][slices.Index(v.order[c], old)] = with
	for k, t := range v.phrases[c] {
		if t == old {
			v.phrases[c][k] = with
		}
	}
}

func (v *Vocabulary) clone() *Vocabulary {
	next := &Vocabulary{
		lang: v.lang, filler: v.filler, forms: maps.Clone(v.forms), byID: map[Class]map[string]*Term{}, order: map[Class][]*Term{},
		phrases: map[Class]map[string]*Term{}, longest: map[Class]int{},
	}
	for _, c := range Classes {
		next.order[c] = slices.Clone(v.order[c])
		next.longest[c] = v.longest[c]
		next.byID[c] = map[string]*Term{}
		for k, t := range v.byID[c] {
			next.byID[c][k] = t
		}
		next.phrases[c] = map[string]*Term{}
		for k, t := range v.phrases[c] {
			next.phrases[c][k] = t
		}
	}
	return next
}

func classNames() []string {
	var names []string
	for _, c := range Classes {
		names = append(names, string(c))
	}
	return names
}
