package terms

import (
	"cmp"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"

	"benchlore/schema/language"
)

// Read says what a text says: every class of words, each mention with its place,
// whether it is denied or asked about. The best reading of each class comes first: what
// is stated before what is denied, the longest phrase, the finest kind. The text is read
// in the vocabulary's language, and in another where its function words show that it is
// written in that; dangers are heard in every language, unless their words mean
// something else in the text's own. Where no kind of device is said, one that the words
// make probable is inferred.
func (v *Vocabulary) Read(text string) []Mention {
	found, tag := v.read(text)
	if !slices.ContainsFunc(found, func(m Mention) bool { return m.Class == Kind && m.Said() }) {
		if m, ok := infer(tag, text); ok {
			found = slices.Insert(found, 0, m)
		}
	}
	return found
}

// Stated is [Vocabulary.Read] without anything inferred.
func (v *Vocabulary) Stated(text string) []Mention {
	found, _ := v.read(text)
	return found
}

// read gives what is said, and the language that the text is written in.
func (v *Vocabulary) read(text string) ([]Mention, string) {
	tag := v.writtenIn(text)
	r := v.reader()
	if tag != v.lang.Tag {
		r = readerOf(tag)
	}
	found := slices.DeleteFunc(r.read(text), func(m Mention) bool {
		return m.Class == Kind && m.first > 0 && v.byID[Kind][m.ID] != nil && v.byID[Kind][m.ID].Weak
	})
	taken := make([]bool, len(text)) // bytes that something is said with
	take := func(m Mention) {
		for i := m.Start; i < m.Stop; i++ {
			taken[i] = true
		}
	}
	for _, m := range found {
		take(m)
	}
	for _, other := range Reading {
		if other == tag {
			continue
		}
		for _, m := range dangersOf(other).read(text) {
			if m.Class == Danger && !slices.Contains(taken[m.Start:m.Stop], true) {
				found = append(found, m)
				take(m)
			}
		}
	}
	found = slices.DeleteFunc(found, func(m Mention) bool { return m.Class == Name })
	found = v.finer(found)
	v.sort(found)
	return found, tag
}

// finer leaves out what says no more than that something is wrong, where the text says
// what, or says it of a part and not of the device.
func (v *Vocabulary) finer(found []Mention) []Mention {
	vague := func(m Mention) bool {
		t := v.byID[m.Class][m.ID]
		return t != nil && t.Vague
	}
	ends := map[int]bool{} // the words that parts end with
	for _, m := range found {
		if m.Class == Part || m.Class == Protective {
			ends[m.last] = true
		}
	}
	ofPart := func(m Mention) bool { return !m.opens && ends[m.first-1] }
	var kept []Mention
	for _, m := range found {
		if m.Class != Symptom || !vague(m) || !ofPart(m) {
			kept = append(kept, m)
		}
	}
	found = kept
	if slices.ContainsFunc(found, func(m Mention) bool { return m.Class == Symptom && m.Said() && !vague(m) }) {
		found = slices.DeleteFunc(found, func(m Mention) bool { return m.Class == Symptom && vague(m) })
	}
	return found
}

// Recognise gives what a text states of one class, in order of appearance.
func (v *Vocabulary) Recognise(c Class, text string) []Match {
	var out []Match
	var found []Mention
	if slices.Contains(readClasses, c) {
		found, _ = v.read(text)
	} else {
		found = namesOf(v.lang.Tag).read(text)
	}
	for _, m := range found {
		if t, ok := v.byID[c][m.ID]; ok && m.Class == c && m.Said() {
			out = append(out, Match{t, m.Start, m.Stop})
		}
	}
	slices.SortStableFunc(out, func(a, b Match) int { return cmp.Compare(a.Start, b.Start) })
	return out
}

// Named gives what a text names of one class by the words of the terms themselves, and not
// by all that people say: where two wordings must mean the very same. In order of
// appearance.
func (v *Vocabulary) Named(c Class, text string) []Match {
	r := made(v.named, string(c), func() *reader {
		r := newReader(grammarOf(v.lang.Tag))
		for _, tag := range []string{v.lang.Tag, language.English} {
			for _, p := range spokenBy(tag, []Class{c}) {
				_ = r.add(&lexicon{}, p)
			}
		}
		for _, p := range v.own {
			if p.class == c {
				_ = r.add(&lexicon{}, phrase{p.class, p.id, plainPhrase(p.text)})
			}
		}
		return r
	})
	var out []Match
	for _, m := range r.read(text) {
		if t, ok := v.byID[c][m.ID]; ok && !m.Negated {
			out = append(out, Match{t, m.Start, m.Stop})
		}
	}
	slices.SortStableFunc(out, func(a, b Match) int { return cmp.Compare(a.Start, b.Start) })
	return out
}

// Match is a term found in text; Start and Stop are byte offsets.
type Match struct {
	Term        *Term
	Start, Stop int
}

// depth is how many kinds a kind is a sort of.
func (v *Vocabulary) depth(kind string) int {
	n := 0
	for t := v.byID[Kind][kind]; t != nil && t.Parent != "" && n < deepest; t = v.byID[Kind][t.Parent] {
		n++
	}
	return n
}

const deepest = 4

// Widened gives a kind and the wider ones that it is a sort of, from it on.
func (v *Vocabulary) Widened(kind string) (out []string) {
	for t := v.byID[Kind][kind]; t != nil && len(out) <= deepest; t = v.byID[Kind][t.Parent] {
		out = append(out, t.ID)
	}
	return out
}

func (v *Vocabulary) sort(found []Mention) {
	denied := func(m Mention) int {
		switch {
		case m.Negated:
			return 2
		case m.Asked:
			return 1
		}
		return 0
	}
	slices.SortStableFunc(found, func(a, b Mention) int {
		c := cmp.Compare(slices.Index(readClasses, a.Class), slices.Index(readClasses, b.Class))
		if c != 0 {
			return c
		}
		if a.Class == Kind {
			return cmp.Or(cmp.Compare(denied(a), denied(b)), cmp.Compare(v.depth(b.ID), v.depth(a.ID)), cmp.Compare(b.words, a.words), cmp.Compare(a.Start, b.Start))
		}
		return cmp.Or(cmp.Compare(denied(a), denied(b)), cmp.Compare(b.words, a.words), cmp.Compare(a.Start, b.Start))
	})
}

// writtenIn gives the language that a text is written in, by its function words; the
// vocabulary's own unless another has more of them.
func (v *Vocabulary) writtenIn(text string) string {
	own := v.lang.Tag
	if !slices.Contains(Reading, own) {
		if n, all := functionWords(language.English, text); n > 1 && 3*n >= all {
			return language.English
		}
		return own
	}
	mine, _ := functionWords(own, text)
	best, most := own, mine
	for _, tag := range Reading {
		if tag == own {
			continue
		}
		if n, all := functionWords(tag, text); n > most && (n > 1 || all <= fewWords) {
			best, most = tag, n
		}
	}
	if best != own && v.reader().knows(text) >= enoughKnown {
		return own
	}
	return best
}

// enoughKnown is the share of the words of a text from which on it is in a language that
// knows them, whatever other languages share with it.
const enoughKnown = 0.6

// knows gives the share of the words of a text that the language has.
func (r *reader) knows(text string) float64 {
	known, all := 0, 0
	for _, t := range r.g.split(text) {
		if t.key == "" {
			continue
		}
		all++
		if r.known[t.key] || r.g.function[t.written] || r.g.or[t.key] || len(r.g.negators[t.key]) > 0 {
			known++
		}
	}
	return float64(known) / float64(max(1, all))
}

// fewWords make a text in which one function word tells the language.
const fewWords = 4

// functionWords counts the words of a text that hold a language together, and all.
func functionWords(tag, text string) (n, all int) {
	g := grammarOf(tag)
	for _, t := range g.split(text) {
		if t.key == "" {
			continue
		}
		all++
		size := utf8.RuneCountInString(t.written)
		if size > 1 && (g.function[t.written] || g.or[t.key]) || size > 2 && len(g.negators[t.key]) > 0 {
			n++
		}
	}
	return n, all
}

// reader is what the vocabulary reads with, made when something is first read.
func (v *Vocabulary) reader() *reader {
	if len(v.own) == 0 {
		return readerOf(v.lang.Tag)
	}
	v.made.Do(func() {
		r := compile(v.lang.Tag, readClasses)
		l := lexiconOf(v.lang.Tag)
		for _, p := range v.own {
			_ = r.add(&lexicon{sets: l.sets}, phrase{p.class, p.id, plainPhrase(p.text)})
		}
		v.with = r
	})
	return v.with
}

// plainPhrase is a workshop's phrase without the signs of the lexicon's.
func plainPhrase(text string) string {
	return strings.Map(func(r rune) rune {
		if strings.ContainsRune("()<>|&", r) || r == '.' {
			return ' '
		}
		return r
	}, text)
}

var readers, nameReaders, dangerReaders sync.Map // tag -> func() *reader

func made(m *sync.Map, tag string, make func() *reader) *reader {
	once, _ := m.LoadOrStore(tag, sync.OnceValue(make))
	return once.(func() *reader)()
}

// readerOf is what reads the words that come with the program in a language.
func readerOf(tag string) *reader {
	return made(&readers, tag, func() *reader { return compile(tag, readClasses) })
}

// namesOf finds the words of the classes that no text is read for: hazards, outcomes.
func namesOf(tag string) *reader {
	return made(&nameReaders, tag, func() *reader {
		return compile(tag, slices.DeleteFunc(slices.Clone(Classes), func(c Class) bool { return slices.Contains(readClasses, c) }))
	})
}

// dangersOf reads the dangers of a language, and what only sounds like them.
func dangersOf(tag string) *reader {
	return made(&dangerReaders, tag, func() *reader { return compile(tag, dangerClasses) })
}

// dangerClasses are read in every language.
var dangerClasses = []Class{Danger, Name}

// compile makes a reader of some classes: of their names in the language first, then of
// what people say.
func compile(tag string, classes []Class) *reader {
	r := newReader(grammarOf(tag))
	l := lexiconOf(tag)
	for _, p := range slices.Concat(spokenBy(tag, classes), l.phrases) {
		if !slices.Contains(classes, p.class) {
			continue
		}
		if err := r.add(l, p); err != nil {
			r.clash = append(r.clash, err.Error())
		}
	}
	return r
}

// spokenBy gives the names of the built-in terms of some classes in a language.
func spokenBy(tag string, classes []Class) []phrase {
	names := translations(tag)
	var out []phrase
	for _, c := range classes {
		if !slices.Contains(Classes, c) {
			continue
		}
		for _, t := range builtin(c) {
			if tag != language.English {
				own, ok := names[c][t.ID]
				if !ok {
					continue
				}
				t.say(own)
			}
			for _, w := range t.spoken(tag) {
				out = append(out, phrase{c, t.ID, plainPhrase(w)})
			}
		}
	}
	return out
}

// spoken are the id in words, in English, the name and what else is said.
func (t *Term) spoken(tag string) []string {
	if tag != language.English {
		return append([]string{t.Name}, t.Also...)
	}
	return t.words()
}

// whole gives what a text means that is one phrase of a class and nothing else.
func (r *reader) whole(c Class, text string) (string, bool) {
	tokens := r.g.tokens(text)
	for _, m := range r.read(text) {
		if m.Class == c && m.first == 0 && m.last == len(tokens)-1 && m.words == len(tokens) && !m.Negated {
			return m.ID, true
		}
	}
	return "", false
}
