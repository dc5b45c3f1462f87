package terms

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"
)

// Mention is something that a text says: an id of a class with the bytes it stands on.
type Mention struct {
	Class Class
	ID    string
	// Start and Stop are byte offsets; both are 0 where the kind was inferred.
	Start, Stop int
	// Negated says that the text denies it ("no smoke", "not broken", "screen ok").
	Negated bool
	// Asked says that the text asks for it and does not state it.
	Asked bool
	// Inferred is how probable an inferred kind is, 0 for what is said.
	Inferred float64

	words int // that the phrase is made of
	span  int // words from its first to its last
	first int // token
	last  int
	opens bool // a clause
}

// Said reports whether the text states it. A danger that is asked about is taken for one.
func (m Mention) Said() bool { return !m.Negated && (!m.Asked || m.Class == Danger) }

// How far the parts of a phrase may stand apart, in words that are none of its own.
const farOrdered, farEither = 5, 6

// notKey is what every negator becomes, in phrases and in texts.
const notKey = "not"

// naming classes say what a thing is called: what is only a part of such a name is
// neither symptom nor danger ("smoke" of a smoke alarm).
var naming = map[Class]bool{Kind: true, Part: true, Instrument: true, Name: true}

// named are the classes whose phrases mean nothing inside a longer name.
var named = map[Class]bool{Symptom: true, Fault: true, Danger: true, Before: true, Place: true, Part: true, Kind: true, Action: true, Result: true, Protective: true}

// reader finds the phrases of one language in a text. Phrases wait until a text has a
// word that they may begin with: most are never asked for, and a command that reads one
// sentence need not put a hundred thousand ways to say something into a tree. What is
// read does not depend on what was read before. A reader is safe for concurrent use.
type reader struct {
	g       *Grammar
	lock    sync.RWMutex      // over all below
	waiting map[string][]walk // by the key of the first word
	known   map[string]bool   // keys of all words of phrases
	// The words of phrases by key, and the tree of words that stand together: a node
	// and a word give the next node, a node its segment.
	words   map[string]int32
	next    map[uint64]int32
	segment []int32     // of a node, -1 for none
	alone   [][]meaning // what a segment means by itself
	begins  []int       // how many patterns a segment is the first of
	// pairs are the patterns by their first two segments, so that a text asks for those
	// alone of which both stand in it.
	pairs   map[uint64][]*pattern
	seconds map[int32][]int32 // of a first segment, those that patterns go on with
	clash   []string
}

type meaning struct {
	class Class
	id    string
	// forms are the words as they were written, folded, where only an ending of nouns
	// may be added: a printer is a Drucker and nothing that is gedrückt. Any inflection
	// will do where there are none.
	forms []string
}

// nouns are the classes whose single words are names of things.
var nouns = map[Class]bool{Kind: true, Part: true, Instrument: true, Place: true, Protective: true}

type pattern struct {
	meaning
	joints   []byte
	segments []int32
	words    int
	turn     int // among those that begin alike
}

func pairOf(first, second int32) uint64 { return uint64(uint32(first))<<32 | uint64(uint32(second)) }

func newReader(g *Grammar) *reader {
	return &reader{g: g, waiting: map[string][]walk{}, known: map[string]bool{notKey: true}, words: map[string]int32{}, next: map[uint64]int32{}, pairs: map[uint64][]*pattern{}, seconds: map[int32][]int32{}, segment: []int32{-1}}
}

// add takes in what a phrase of a lexicon says. What means another id of its class
// already keeps its first meaning and is noted.
func (r *reader) add(l *lexicon, p phrase) error {
	items, err := l.parse(p)
	if err != nil {
		return err
	}
	w := walk{r: r, meaning: meaning{class: p.class, id: p.id}, text: p.text, items: items, plain: r.plain(items)}
	if !w.plain {
		w.put() // what it begins with shows only when it is spelt out
		return nil
	}
	for _, it := range items {
		for _, words := range it.alternatives {
			for _, word := range words {
				if k := r.keyOf(word); k != "" {
					r.known[k] = true
				}
			}
		}
	}
	for _, k := range w.begins() {
		r.waiting[k] = append(r.waiting[k], w)
	}
	return nil
}

// begins gives the keys that a phrase may begin with.
func (w *walk) begins() (keys []string) {
	for _, it := range w.items {
		passes := it.joint != 0
		for _, words := range it.alternatives {
			first := ""
			for _, word := range words {
				if first = w.r.keyOf(word); first != "" {
					break
				}
			}
			if first == "" {
				passes = true
			} else if !slices.Contains(keys, first) {
				keys = append(keys, first)
			}
		}
		if !passes {
			break
		}
	}
	return keys
}

// put puts all that a phrase says, or all that begins with the word that was waited for,
// into the tree.
func (w *walk) put() {
	if w.plain {
		w.along(0, 0, 0, 0)
		return
	}
	// A negator of several words may be made of neighbours: each way is read as a text.
	w.spell(0, nil)
}

// fetch puts the phrases into the tree that begin with any of some words.
func (r *reader) fetch(keys []string) {
	r.lock.RLock()
	waits := slices.ContainsFunc(keys, func(k string) bool { return len(r.waiting[k]) > 0 })
	r.lock.RUnlock()
	if !waits {
		return
	}
	r.lock.Lock()
	defer r.lock.Unlock()
	for _, k := range keys {
		for _, w := range r.waiting[k] {
			w.first = k
			w.put()
		}
		delete(r.waiting, k)
	}
}

// plain reports whether each word of a phrase can be read by itself: none is the
// beginning of a negator that goes on with the next.
func (r *reader) plain(items []item) bool {
	for i, it := range items {
		for _, words := range it.alternatives {
			for k, w := range words {
				if strings.ContainsFunc(w, func(c rune) bool { return !unicode.IsLetter(c) && !unicode.IsDigit(c) }) {
					return false // a hyphen or an apostrophe makes more words of it, or other ones
				}
				for _, n := range r.g.negators[r.g.key(w)] {
					if len(n.words) == 1 && n.ending == "" {
						continue
					}
					if slices.ContainsFunc(behind(items, i, words[k+1:]), func(next string) bool {
						return len(n.words) > 1 && r.g.key(next) == n.words[1] || len(n.words) == 1 && strings.HasSuffix(next, n.ending)
					}) {
						return false
					}
				}
			}
		}
	}
	return true
}

// behind gives the words that may stand behind one, whose alternative goes on with rest.
func behind(items []item, i int, rest []string) []string {
	if len(rest) > 0 {
		return rest[:1]
	}
	var out []string
	for _, it := range items[i+1:] {
		passes := false
		for _, words := range it.alternatives {
			if len(words) > 0 {
				out = append(out, words[0])
			} else {
				passes = true
			}
		}
		if it.joint != 0 || !passes {
			break
		}
	}
	return out
}

// keyOf gives the key of a word, "" where it says nothing.
func (r *reader) keyOf(w string) string {
	k := r.g.key(w)
	switch {
	case slices.ContainsFunc(r.g.negators[k], func(n negator) bool { return len(n.words) == 1 && n.ending == "" }):
		return notKey
	case r.g.breaks[k], r.g.or[k], r.g.function[w]:
		return ""
	}
	return k
}

// walk goes through all that a phrase may say and puts it into the tree.
type walk struct {
	r *reader
	meaning
	text     string
	items    []item
	plain    bool
	first    string // only ways that begin with this key are taken, all where it is empty
	segments []int32
	joints   []byte
	joint    byte // before the segment that is walked
	keys     int
	only     string // the last key
	word     string // that it was made of
	ends     string // the last word that was written
	tail     string // the last word, where it says something at the end alone
}

// along goes on from an item at a node of the tree, with so many keys and words behind
// in the segment.
func (w *walk) along(i int, node int32, keys, written int) {
	if i < len(w.items) && w.items[i].joint == 0 {
	alternatives:
		for _, words := range w.items[i].alternatives {
			at, n, only, last, tail, ends := node, 0, w.only, w.word, w.tail, w.ends
			for _, word := range words {
				k := w.r.keyOf(word)
				w.tail, w.ends = "", word
				if k == "" && slices.Contains(w.r.g.Final, word) {
					w.tail = word
				}
				if k != "" {
					if keys+n+w.keys == 0 && w.first != "" && k != w.first {
						continue alternatives
					}
					at, n, w.only, w.word = w.r.step(at, k), n+1, k, word
				}
			}
			w.along(i+1, at, keys+n, written+len(words))
			w.only, w.word, w.tail, w.ends = only, last, tail, ends
		}
		return
	}
	depth, joint, only := len(w.segments), w.joint, w.only
	if i == len(w.items) && keys+w.keys == 1 && w.tail != "" {
		// "Got in" is nothing without its last word.
		w.only = w.r.g.key(w.tail)
		node, keys = w.r.step(node, w.only), keys+1
	}
	if keys > 0 {
		w.segments, w.joints = append(w.segments, w.r.segmentAt(node)), append(w.joints, w.joint)
		w.keys += keys
	}
	if i < len(w.items) {
		w.joint = w.items[i].joint
		if len(w.segments) == 0 {
			w.joint = 0
		}
		w.along(i+1, 0, 0, written)
	} else {
		w.end(written)
	}
	if keys > 0 {
		w.segments, w.joints = w.segments[:depth], w.joints[:depth]
		w.keys -= keys
	}
	w.joint, w.only = joint, only
}

// spell writes each way out, and reads it as a text.
func (w *walk) spell(i int, said []string) {
	if i < len(w.items) {
		if w.items[i].joint != 0 {
			w.spell(i+1, append(said, string(w.items[i].joint)))
			return
		}
		for _, words := range w.items[i].alternatives {
			w.spell(i+1, append(slices.Clip(said), words...))
		}
		return
	}
	w.segments, w.joints, w.keys, w.joint = nil, nil, 0, 0
	if len(said) > 0 {
		w.ends = said[len(said)-1]
	}
	from := 0
	for k := 0; k <= len(said); k++ {
		if k < len(said) && said[k] != "." && said[k] != "&" {
			continue
		}
		keys := w.r.g.tokens(strings.Join(said[from:k], " "))
		if len(keys) > 0 {
			node := int32(0)
			for _, t := range keys {
				node, w.only, w.word = w.r.step(node, t.key), t.key, t.written
				w.r.known[t.key] = true
			}
			w.segments, w.joints = append(w.segments, w.r.segmentAt(node)), append(w.joints, w.joint)
			w.keys += len(keys)
		}
		if k < len(said) {
			w.joint = 0
			if len(w.segments) > 0 {
				w.joint = said[k][0]
			}
			from = k + 1
		}
	}
	w.end(len(said))
}

// end takes in one way that a phrase may be said.
func (w *walk) end(written int) {
	switch {
	case len(w.segments) == 0 || slices.Contains(w.r.g.Hanging, w.ends):
	case w.keys == 1 && (w.only == notKey || written > 1):
		// A phrase that lost all words but one says something else: "went in" is no "went".
		// What a word says alone is a phrase of its own.
	case len(w.segments) == 1:
		seg := w.segments[0]
		if w.keys == 1 && nouns[w.class] {
			w.noun(seg)
			return
		}
		for _, known := range w.r.alone[seg] {
			if known.class == w.class && known.forms == nil {
				if known.id != w.id {
					w.r.clash = append(w.r.clash, fmt.Sprintf("%s: of %q, %s, a part means %s already", w.class, w.text, w.id, known.id))
				}
				return
			}
		}
		w.r.alone[seg] = append(w.r.alone[seg], w.meaning)
	default:
		first := w.segments[0]
		pair := pairOf(first, w.segments[1])
		if w.r.pairs[pair] == nil {
			w.r.seconds[first] = append(w.r.seconds[first], w.segments[1])
		}
		w.r.pairs[pair] = append(w.r.pairs[pair], &pattern{w.meaning, slices.Clone(w.joints), slices.Clone(w.segments), w.keys, w.r.begins[first]})
		w.r.begins[first]++
	}
}

// noun takes in a name of one word.
func (w *walk) noun(seg int32) {
	form, list := w.r.g.fold(w.word), w.r.alone[seg]
	for i := range list {
		if list[i].class != w.class {
			continue
		}
		if slices.Contains(list[i].forms, form) {
			if list[i].id != w.id {
				w.r.clash = append(w.r.clash, fmt.Sprintf("%s: %q means both %s and %s", w.class, w.word, list[i].id, w.id))
			}
			return
		}
	}
	for i := range list {
		if list[i].class == w.class && list[i].id == w.id {
			list[i].forms = append(list[i].forms, form)
			return
		}
	}
	w.r.alone[seg] = append(list, meaning{w.class, w.id, []string{form}})
}

// phraseKeys gives the keys of a phrase as a text would have them.
func (r *reader) phraseKeys(text string) []string {
	tokens := r.g.tokens(text)
	out := make([]string, len(tokens))
	for i, t := range tokens {
		out[i] = t.key
	}
	return out
}

// step gives the node behind another by a word, and makes it where there is none.
func (r *reader) step(node int32, key string) int32 {
	w, ok := r.words[key]
	if !ok {
		w = int32(len(r.words))
		r.words[key] = w
	}
	at := uint64(node)<<32 | uint64(w)
	n, ok := r.next[at]
	if !ok {
		n = int32(len(r.segment))
		r.segment = append(r.segment, -1)
		r.next[at] = n
	}
	return n
}

func (r *reader) segmentAt(node int32) int32 {
	if r.segment[node] < 0 {
		r.segment[node] = int32(len(r.alone))
		r.alone, r.begins = append(r.alone, nil), append(r.begins, 0)
	}
	return r.segment[node]
}

// token is a word of a text that says something.
type token struct {
	key         string
	written     string // in lower case
	start, stop int
	first       bool // opens a clause
	or          bool // a word such as "or" stands before it
	asked       bool // its clause asks
	supposed    bool // its clause supposes it
}

// punctuation that ends a clause.
const clauseEnds = ".,;:!?()[]\n|\""

// tokens parts a text into the words that say something. Apostrophes are left out or
// part words, as the language has it; hyphens and slashes part words; other punctuation
// ends a clause.
func (g *Grammar) tokens(text string) []token {
	raw := g.split(text)
	out := make([]token, 0, len(raw))
	first, or, clause, begun := true, false, 0, 0 // where the words of the clause begin, in out and in raw
	for i := 0; i < len(raw); i++ {
		t := raw[i]
		if t.first {
			first, or = true, false
		}
		if t.asked && g.opens(raw[begun:i]) { // a question mark behind the clause
			for k := clause; k < len(out); k++ {
				out[k].asked = true
			}
		}
		if t.key == "" || t.first {
			clause, begun = len(out), i
		}
		if t.key == "" { // only the mark
			begun++
			continue
		}
		if n := g.negates(raw, i); n > 0 {
			t.stop, t.key, t.first, t.or, t.asked = raw[i+n-1].stop, notKey, first, or, false
			out = append(out, t)
			first, or = false, false
			i += n - 1
			continue
		}
		switch {
		case g.breaks[t.key]:
			first, or, clause = true, false, len(out)
			continue
		case g.or[t.key]:
			or = true
			continue
		case g.function[t.written] && !(slices.Contains(g.Final, t.written) && (i+1 == len(raw) || raw[i+1].first)):
			continue
		}
		t.first, t.or, t.asked = first, or, false
		out = append(out, t)
		first, or = false, false
	}
	if len(out) == 0 {
		return nil
	}
	g.ask(raw, out)
	return out
}

// opens reports whether a clause begins as a question that is answered with yes or no.
func (g *Grammar) opens(clause []token) bool {
	var said strings.Builder
	for _, t := range clause {
		said.WriteString(t.written + " ")
	}
	return slices.ContainsFunc(g.Opening, func(w string) bool { return strings.HasPrefix(said.String(), w+" ") })
}

// negates gives how many words from the i-th on are a negator, 0 for none.
func (g *Grammar) negates(raw []token, i int) int {
search:
	for _, n := range g.negators[raw[i].key] {
		if i+len(n.words) > len(raw) {
			continue
		}
		for k, w := range n.words {
			if k > 0 && (raw[i+k].key != w || raw[i+k].first) {
				continue search
			}
		}
		if n.ending != "" {
			k := i + len(n.words)
			if k >= len(raw) || raw[k].first || !strings.HasSuffix(raw[k].written, n.ending) {
				continue
			}
		}
		return len(n.words)
	}
	return 0
}

// ask marks the clauses that open with a word that asks, and what is supposed in them.
func (g *Grammar) ask(raw, out []token) {
	asks, supposes := 0, 0 // how far the clause of an earlier word goes, which marks all behind it
	for i, t := range raw {
		if t.key == "" || (!g.asking[t.key] || i < asks) && (!g.supposing[t.key] || i < supposes) {
			continue
		}
		stop := len(raw)
		for k := i + 1; k < len(raw); k++ {
			if raw[k].first || raw[k].key == "" {
				stop = k
				break
			}
		}
		if g.asking[t.key] {
			asks = stop
		}
		if g.supposing[t.key] {
			supposes = stop
		}
		end := raw[stop-1].stop
		from, _ := slices.BinarySearchFunc(out, t.start+1, func(o token, at int) int { return cmp.Compare(o.start, at) })
		for k := from; k < len(out) && out[k].start < end; k++ {
			if out[k].stop <= end {
				out[k].asked = out[k].asked || g.asking[t.key]
				out[k].supposed = out[k].supposed || g.supposing[t.key]
			}
		}
	}
}

// split gives all words of a text. A question mark is a token without a key that is
// asked.
func (g *Grammar) split(text string) []token {
	var out []token
	first := true
	var word strings.Builder
	for i := 0; i < len(text); {
		r, n := utf8.DecodeRuneInString(text[i:])
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			if strings.ContainsRune(clauseEnds, r) {
				first = true
				if r == '?' {
					out = append(out, token{start: i, stop: i + 1, asked: true, first: true})
				}
			}
			i += n
			continue
		}
		start := i
		word.Reset()
		for i < len(text) {
			r, n = utf8.DecodeRuneInString(text[i:])
			apostrophe := r == '\'' || r == '’' || r == '`' || r == '´'
			if apostrophe && g.Splits {
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
		out = append(out, token{key: g.key(w), written: w, start: start, stop: i, first: first})
		first = false
	}
	return out
}

// hit is a segment that stands in a text.
type hit struct{ first, last int }

// read finds what a text says, each class by itself, unsorted.
func (r *reader) read(text string) []Mention {
	tokens := r.g.tokens(text)
	if len(tokens) == 0 {
		return nil
	}
	var keys []string
	for _, t := range tokens {
		keys = append(keys, t.key)
		for _, head := range r.heads(t) {
			keys = append(keys, r.g.key(head))
		}
	}
	r.fetch(keys)
	r.lock.RLock()
	defer r.lock.RUnlock()
	var found []Mention
	hits := map[int32][]hit{}
	var order []int32
	for i := range tokens {
		node := int32(0)
		for k := i; k < len(tokens) && (k == i || !tokens[k].first); k++ {
			w, ok := r.words[tokens[k].key]
			if !ok {
				break
			}
			n, ok := r.next[uint64(node)<<32|uint64(w)]
			if !ok {
				break
			}
			node = n
			seg := r.segment[node]
			if seg < 0 {
				continue
			}
			if hits[seg] == nil {
				order = append(order, seg)
			}
			hits[seg] = append(hits[seg], hit{i, k})
			for _, m := range r.alone[seg] {
				if m.forms == nil || r.g.isForm(tokens[i].written, m.forms) {
					found = append(found, Mention{Class: m.class, ID: m.id, words: k - i + 1, span: k - i + 1, first: i, last: k})
				}
			}
		}
	}
	var stand []*pattern
	for _, seg := range order {
		if r.begins[seg] == 0 {
			continue
		}
		stand = stand[:0]
		// Whichever are fewer: what stands in the text, or what may follow.
		if len(r.seconds[seg]) < len(order) {
			for _, second := range r.seconds[seg] {
				if hits[second] != nil {
					stand = append(stand, r.pairs[pairOf(seg, second)]...)
				}
			}
		} else {
			for _, second := range order {
				stand = append(stand, r.pairs[pairOf(seg, second)]...)
			}
		}
		slices.SortFunc(stand, func(a, b *pattern) int { return a.turn - b.turn })
		for _, p := range stand {
			for _, h := range hits[seg] {
				if first, last, ok := p.match(tokens, hits, 1, h, h.first, h.last); ok {
					found = append(found, Mention{Class: p.class, ID: p.id, words: p.words, span: last - first + 1, first: first, last: last})
				}
			}
		}
	}
	found = append(found, r.compounds(tokens)...)
	found = chosen(found, tokens)
	r.negate(tokens, found)
	for i := range found {
		m := &found[i]
		m.Start, m.Stop, m.opens = tokens[m.first].start, tokens[m.last].stop, tokens[m.first].first
		m.Asked = tokens[m.first].asked || m.Class == Symptom && tokens[m.first].supposed
	}
	return found
}

// match looks for the i-th segment of a pattern beside the one before.
func (p *pattern) match(tokens []token, hits map[int32][]hit, i int, before hit, first, last int) (int, int, bool) {
	if i == len(p.segments) {
		return first, last, true
	}
	bestFirst, bestLast, ok := 0, 0, false
	for _, h := range near(hits[p.segments[i]], before) {
		fits := h.first > before.last && h.first-before.last-1 <= far(p.joints[i]) && together(tokens, before.last, h.first)
		if p.joints[i] == '&' && !fits {
			fits = h.last < before.first && before.first-h.last-1 <= far('&') && together(tokens, h.last, before.first)
		}
		if !fits {
			continue
		}
		f, l, whole := p.match(tokens, hits, i+1, h, min(first, h.first), max(last, h.last))
		if whole && (!ok || l-f < bestLast-bestFirst) {
			bestFirst, bestLast, ok = f, l, true
		}
	}
	return bestFirst, bestLast, ok
}

// near gives those hits of a segment, which lie in order, that are near enough to another
// hit to be of one phrase with it.
func near(list []hit, to hit) []hit {
	from, _ := slices.BinarySearchFunc(list, to.first-1-farEither, func(h hit, at int) int { return cmp.Compare(h.last, at) })
	stop, _ := slices.BinarySearchFunc(list, to.last+2+farEither, func(h hit, at int) int { return cmp.Compare(h.first, at) })
	return list[from:max(from, stop)]
}

func far(joint byte) int {
	if joint == '&' {
		return farEither
	}
	return farOrdered
}

// together reports whether two words stand in one clause.
func together(tokens []token, a, b int) bool {
	for k := a + 1; k <= b; k++ {
		if tokens[k].first {
			return false
		}
	}
	return true
}

// compounds reads a long word that no phrase has by its last part, where the language
// joins words: Akkuladegerät is a Ladegerät.
func (r *reader) compounds(tokens []token) []Mention {
	var out []Mention
	for i, t := range tokens {
		for _, head := range r.heads(t) {
			seg, ok := r.word(head)
			if !ok {
				continue
			}
			joint, _ := utf8.DecodeRuneInString(head)
			found := false
			for _, m := range r.alone[seg] {
				// An umlaut at the joint makes another word of it.
				if !slices.ContainsFunc(m.forms, func(f string) bool { return strings.HasPrefix(f, string(joint)) }) || !r.g.isForm(head, m.forms) {
					continue
				}
				if naming[m.class] && m.class != Name || m.class == Place {
					out = append(out, Mention{Class: m.class, ID: m.id, words: 1, span: 1, first: i, last: i})
					found = true
				}
			}
			if found {
				break
			}
		}
	}
	return out
}

// heads are what a word may end in that is a compound, the longest first; none where the
// language joins no words or a phrase has this one.
func (r *reader) heads(t token) (out []string) {
	letters := []rune(t.written)
	if !r.g.Compounds || r.known[t.key] {
		return nil
	}
	for from := max(shortestPart, len(letters)-longestHead); from <= len(letters)-shortestHead; from++ {
		out = append(out, string(letters[from:]))
	}
	return out
}

// What a compound is made of, in letters: what stands before its last part, and that. No
// word of a phrase is longer than the longest, so that a word of a hundred thousand
// letters is asked no more often than one of fifty.
const shortestPart, shortestHead, longestHead = 3, 5, 40

// word gives the segment of a single word.
func (r *reader) word(w string) (int32, bool) {
	k, ok := r.words[r.g.key(w)]
	if !ok {
		return 0, false
	}
	node, ok := r.next[uint64(k)]
	if !ok || r.segment[node] < 0 {
		return 0, false
	}
	return r.segment[node], true
}

// chosen keeps of each class the longest at each place, and nothing that is only a part
// of a longer name.
func chosen(found []Mention, tokens []token) []Mention {
	slices.SortStableFunc(found, func(a, b Mention) int {
		return cmp.Or(cmp.Compare(b.words, a.words), cmp.Compare(a.span, b.span), cmp.Compare(a.first, b.first))
	})
	taken := map[Class][]bool{}
	var out []Mention
	for _, m := range found {
		used := taken[m.Class]
		if used == nil {
			used = make([]bool, len(tokens))
			taken[m.Class] = used
		}
		if m.span == m.words { // stands together
			if slices.Contains(used[m.first:m.last+1], true) {
				continue
			}
			for k := m.first; k <= m.last; k++ {
				used[k] = true
			}
		} else {
			// "Swollen and hot": two dangers of one thing are two.
			if used[m.first] && used[m.last] || (used[m.first] || used[m.last]) && m.Class != Danger {
				continue
			}
			used[m.first], used[m.last] = true, true
		}
		out = append(out, m)
	}
	at := standing(out, len(tokens))
	// A name that holds a negator denies what is a part of it: "no smoke".
	for i := range out {
		m := &out[i]
		m.Negated = spending[m.Class] && slices.ContainsFunc(at[m.first], func(k int) bool {
			n := out[k]
			return n.Class == Name && n.words > m.words && n.last >= m.last && tokens[n.first].key == notKey
		})
	}
	part := func(m Mention, k int) bool {
		n := out[k]
		if leans(m, n) {
			return true
		}
		if !naming[n.Class] || n.words <= m.words || n.first > m.first || n.last < m.last {
			return false
		}
		if n.Class == Name && !spending[m.Class] {
			return false // it only sounds like what happens, and names what it names
		}
		return !(m.Class == Kind && (n.Class == Part || n.Class == Kind)) && !(m.Class == Part && n.Class == Part) &&
			!(m.Class == Place && n.Class == Part)
	}
	var kept []Mention
	gone := make([]bool, len(out)) // what is left out itself takes nothing else with it
	for i, m := range out {
		inside := func(k int) bool { return !gone[k] && part(m, k) }
		if gone[i] = named[m.Class] && !m.Negated && (slices.ContainsFunc(at[m.first], inside) || slices.ContainsFunc(at[m.last], inside)); !gone[i] {
			kept = append(kept, m)
		}
	}
	return kept
}

// standing gives, for each of so many words, which mentions whose words stand together it
// is a part of: few, since of each class one stands at a place.
func standing(found []Mention, words int) [][]int {
	at := make([][]int, words)
	for i, m := range found {
		if m.span != m.words {
			continue
		}
		for k := m.first; k <= m.last; k++ {
			at[k] = append(at[k], i)
		}
	}
	return at
}

// leans reports whether one end of a phrase whose words stand apart is a part of an instrument:
// "the socket was renewed with much hot air" is no hot socket.
func leans(m, n Mention) bool {
	if n.Class != Instrument || n.span != n.words || n.words < 2 || !spending[m.Class] || m.span == m.words {
		return false
	}
	return n.first <= m.first && m.first <= n.last && m.last > n.last || n.first <= m.last && m.last <= n.last && m.first < n.first
}

// spending are the classes that a negator may be a part of, so that it denies nothing ("not
// turn on"), and that one right behind denies: what a verb says.
var spending = map[Class]bool{Symptom: true, Fault: true, Before: true, Danger: true}

// How far behind a negator a thing may stand that it denies, and a word before one that
// says it is fine, in words between.
const farNegated, farFine = 2, 2

// denies reports whether a phrase that holds another has a negator beside it.
func denies(tokens []token, long, short Mention) bool {
	for k := long.first; k <= long.last; k++ {
		if tokens[k].key == notKey && (k < short.first || k > short.last) {
			return true
		}
	}
	return false
}

// negate marks what the text denies.
func (r *reader) negate(tokens []token, found []Mention) {
	// A negator that a phrase is made of denies nothing else.
	spent := make([]bool, len(tokens))
	for _, m := range found {
		if !spending[m.Class] || m.span != m.words {
			continue
		}
		for k := m.first; k <= m.last; k++ {
			spent[k] = spent[k] || tokens[k].key == notKey
		}
	}
	slices.SortStableFunc(found, func(a, b Mention) int { return cmp.Compare(a.first, b.first) })
	at, denied := standing(found, len(tokens)), make([]bool, len(tokens)) // where what is denied ends
	for i := range found {
		m := &found[i]
		reach := farNegated
		if naming[m.Class] || m.Class == Place || m.Class == Protective {
			reach = 0
		}
		for k := m.first - 1; k >= 0 && k >= m.first-1-reach; k-- {
			if tokens[k+1].first {
				break
			}
			if tokens[k].key == notKey && !spent[k] {
				m.Negated = true
				break
			}
		}
		if m.span != m.words {
			for k := m.first + 1; k < m.last; k++ {
				if tokens[k].key == notKey && !spent[k] {
					m.Negated = true
				}
			}
		}
		if r.g.After && spending[m.Class] && m.last+1 < len(tokens) {
			// One that goes on denies what follows: "melted, does not fit".
			ends := m.last+2 == len(tokens) || tokens[m.last+2].first
			if next := tokens[m.last+1]; ends && next.key == notKey && !next.first && !spent[m.last+1] {
				m.Negated = true
			}
		}
		// "Die Lampe brennt nicht" is no fire: the longer phrase holds the negator.
		if m.Class == Danger && slices.ContainsFunc(at[m.first], func(k int) bool {
			n := found[k]
			return n.Class != Danger && n.last >= m.last && denies(tokens, n, *m)
		}) {
			m.Negated = true
		}
		// "no smoke or sparks"
		if !m.Negated && tokens[m.first].or && m.first > 0 && denied[m.first-1] {
			m.Negated = true
		}
		if m.Class == Place || m.Class == Part {
			for k := m.last + 1; k < len(tokens) && k <= m.last+1+farFine && !tokens[k].first; k++ {
				if tokens[k].key == notKey {
					break
				}
				if r.g.fine[tokens[k].key] {
					m.Negated = true
					break
				}
			}
		}
		denied[m.last] = denied[m.last] || m.Negated
	}
}
