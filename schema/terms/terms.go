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
	Part    Class = "parts" // components, as Place is a block of a device
	// Danger is what can hurt a person, and what a text says of it stops power.
	Danger     Class = "dangers"
	Protective Class = "protective" // parts that stand between a fault and a person
	Instrument Class = "instruments"
	// Name holds set phrases that only sound like something else ("shock absorber"); they
	// are read and have no terms.
	Name Class = "names"
)

// Classes lists every class, in the order in which a reader meets them.
var Classes = []Class{Symptom, Before, Fault, Place, Part, Origin, Hazard, Danger, Protective, Action, Result, Outcome, Barrier, Kind, Instrument, Head, Word}

// readClasses are those with a lexicon, in the order in which a reading is given.
var readClasses = []Class{Kind, Symptom, Before, Fault, Danger, Place, Part, Protective, Action, Result, Instrument, Name}

// Singular returns the word for one term of the class.
func (c Class) Singular() string {
	switch c {
	case Before:
		return "event"
	case Protective:
		return "protective part"
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
	// Parent is the id of the wider kind that this one is a sort of; kinds only.
	Parent string `yaml:"parent" json:"parent,omitempty"`
	// Weak says that the words for it mostly name a part or an accessory of another device
	// (a fan, a charger): it is the device where a text begins with it. Kinds only; found
	// on open repair records.
	Weak bool `yaml:"weak" json:"-"`
	// Vague says that it is all that was said: where anything finer is said it falls away.
	Vague bool `yaml:"vague" json:"-"`
	// Danger is the id of the danger that a symptom or an event says is there.
	Danger string `yaml:"danger" json:"-"`
	// Gravity is 1 for the hazard that hurts worst, and so on; 0 for one that a workshop
	// added.
	Gravity int `yaml:"gravity" json:"-"`
	// First is what to do before anything else, in this order; dangers only.
	First []string `yaml:"first" json:"first,omitempty"`
	// Own marks a word that the workshop added.
	Own bool `yaml:"-" json:"own,omitempty"`
}

// Vocabulary is a set of controlled words, and what people say for them.
type Vocabulary struct {
	lang   *language.Language
	byID   map[Class]map[string]*Term
	order  map[Class][]*Term
	own    []phrase           // of the workshop
	ownIDs map[ownWord]string // of them, what each means
	made   *sync.Once
	with   *reader   // the language's words and the workshop's
	named  *sync.Map // readers of the names of a class alone, by class
}

//go:embed data
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

// Language is what the words are in.
func (v *Vocabulary) Language() *language.Language { return v.lang }

func build(l *language.Language) *Vocabulary {
	names := translations(l.Tag)
	v := &Vocabulary{lang: l, byID: map[Class]map[string]*Term{}, order: map[Class][]*Term{}, made: &sync.Once{}, named: &sync.Map{}}
	for _, c := range Classes {
		v.byID[c] = map[string]*Term{}
		for _, t := range builtin(c) {
			if own, ok := names[c][t.ID]; ok {
				t.say(own)
			}
			t.Also = append(t.Also, shown(l.Tag, c, t)...)
			v.byID[c][t.ID] = t
			v.order[c] = append(v.order[c], t)
		}
	}
	return v
}

// builtin gives the terms of a class, in English, as copies that the caller may change.
func builtin(c Class) []*Term {
	once, _ := builtins.LoadOrStore(c, sync.OnceValue(func() []Term {
		var list []Term
		decode(string(c), &list)
		return list
	}))
	list := once.(func() []Term)()
	out := make([]*Term, len(list))
	for i := range list {
		t := list[i]
		t.Also = slices.Clip(t.Also)
		out[i] = &t
	}
	return out
}

var builtins sync.Map // by class

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
	if own.First != nil {
		t.First = own.First
	}
}

// translations are the names of a language by class and id, none for English.
func translations(tag string) map[Class]map[string]Term {
	once, _ := translated.LoadOrStore(tag, sync.OnceValue(func() map[Class]map[string]Term {
		if _, err := data.ReadFile("data/" + tag + ".yaml"); err != nil {
			return nil
		}
		var out map[Class]map[string]Term
		decode(tag, &out)
		return out
	}))
	return once.(func() map[Class]map[string]Term)()
}

var translated sync.Map // by language

// Advice is what to mind: the term's caution, else its meaning.
func (t *Term) Advice() string { return cmp.Or(t.Caution, t.Meaning) }

func (t *Term) words() []string {
	return append([]string{strings.ReplaceAll(t.ID, "-", " "), t.Name}, t.Also...)
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
	own, english := v.reader, func() *reader { return readerOf(language.English) }
	if !slices.Contains(readClasses, c) {
		own, english = func() *reader { return namesOf(v.lang.Tag) }, func() *reader { return namesOf(language.English) }
	}
	id, ok := own().whole(c, word)
	if !ok && v.lang.Tag != language.English { // ids and untranslated names are English
		id, ok = english().whole(c, word)
	}
	if !ok && !slices.Contains(readClasses, c) {
		id, ok = v.ownWord(c, word)
	}
	if !ok {
		return nil, false
	}
	return v.Lookup(c, id)
}

// ownWord gives what a phrase of the workshop's means.
func (v *Vocabulary) ownWord(c Class, word string) (string, bool) {
	id, ok := v.ownIDs[ownWord{c, v.ownKeys(word)}]
	return id, ok
}

// ownWord is a phrase of the workshop's as it is told from others.
type ownWord struct {
	class Class
	keys  string
}

func (v *Vocabulary) ownKeys(text string) string {
	return strings.Join(readerOf(v.lang.Tag).phraseKeys(text), " ")
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
		v.byID[c][known.ID] = &merged
		v.order[c][slices.Index(v.order[c], known)] = &merged
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
		if other, ok := v.says(c, w); ok && other != known.ID {
			say(n, diagnostic.TermTwice, "", "%q already means %s", w, other)
			continue
		}
		v.own = append(v.own, phrase{c, known.ID, w})
		if word := (ownWord{c, v.ownKeys(w)}); v.ownIDs[word] == "" {
			v.ownIDs[word] = known.ID
		}
	}
}

// says gives what a phrase means among the words of the language and those that were
// added before.
func (v *Vocabulary) says(c Class, w string) (string, bool) {
	r := readerOf(v.lang.Tag)
	if !slices.Contains(readClasses, c) {
		r = namesOf(v.lang.Tag)
	}
	if id, ok := v.ownWord(c, w); ok {
		return id, true
	}
	return r.whole(c, w)
}

func (v *Vocabulary) clone() *Vocabulary {
	next := &Vocabulary{lang: v.lang, byID: map[Class]map[string]*Term{}, order: map[Class][]*Term{}, own: slices.Clone(v.own), ownIDs: map[ownWord]string{}, made: &sync.Once{}, named: &sync.Map{}}
	maps.Copy(next.ownIDs, v.ownIDs)
	for _, c := range Classes {
		next.order[c] = slices.Clone(v.order[c])
		next.byID[c] = maps.Clone(v.byID[c])
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
