package search

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"hash/fnv"
	"maps"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/build/parallel"
	"benchlore/build/reason/nearness"
	"benchlore/schema/language"
	"benchlore/schema/terms"
)

// The published index is cut into shards, small scripts that a page opened from
// a stick loads by script tags, and only those that a query needs:
//
//	root.js    what every search needs: the numbers, and which shards there are
//	l-NAME.js  what reads people's words: the grammars, and a language's phrases
//	w-HEX.js   words that begin alike, with their postings; HEX is the beginning
//	d-HEX.js   forms that begin with one character, for slips and beginnings
//	f-NAME.js  a facet's values with their cases, for narrowing
//	c-N.js     what a result shows of [cardsInShard] cases
//	n-HEX.js   names of devices with a word that begins with the character
//	s-HEX.js   words that begin with the character, with known words near them
//
// A beginning is its own shard where the words under it take more than
// [shardSize] together, so that an edit changes the shards of its own words and
// no boundary elsewhere. The root keeps a check of every shard; the page refuses
// one that is damaged or of another publish.
//
// Numbers are written in 89 printable characters that JSON leaves alone: 64 of
// them end a number and are its lowest digit, 25 go on. A word's line is the
// word, what it is compounded of or with, and its postings: for each level, the
// highest first, the level, the number of cases, and the differences between
// their ordinals.
const (
	shardSize    = 6 << 10
	cardsInShard = 8
)

// Shard is one file of the published index.
type Shard struct {
	Name string // below the site's search folder
	Data []byte
}

// Card is what the page shows of a case: texts in an order that the page knows.
type Card []string

// Export makes the shards of a notebook, the root first, out of the lines that answer
// [Index.Find] too. What was read of the cases is kept, so that the next export or
// search reads only what changed; where nothing can be kept, nothing is.
func Export(n *notebook.Notebook, card func(c *notebook.Case) Card) ([]Shard, error) {
	at, keep := placesIn(n.Dir)
	if !keep {
		at.inside.words = ""
	}
	f := loadForward(n, at.inside.words)
	x := exporter{n: n, lang: n.Terms.Language(), f: f, checks: map[string]string{}}
	saved := make(chan struct{})
	lines := x.kept(at)
	if lines == nil {
		f.save(n.Dir, at.inside.words)
		lines = invert(n, f)
	}
	go func() { // beside the rest
		defer close(saved)
		if keep && f.fresh {
			_ = disk.Folder(n.Dir).Write(at.inside.index,
				appendStore(nil, f.made, lines.words, lines.forms)) // only a help for the next time
		}
	}()
	defer func() { <-saved }()
	for _, line := range lines.words {
		x.names = append(x.names, keyOf(line))
	}
	x.cut("", lines.words)
	x.formShards(lines.forms)
	x.facets()
	x.devices()
	x.near()
	x.cards(card)
	if err := x.words(); err != nil {
		return nil, err
	}
	slices.SortFunc(x.shards, func(a, b Shard) int { return strings.Compare(a.Name, b.Name) })
	root, err := x.root()
	if err != nil {
		return nil, err
	}
	return append([]Shard{root}, x.shards...), nil
}

// forward is what stands in each case, in columns: case i has the entries
// Items[Starts[i]:Starts[i+1]] as often as Tenths says.
type forward struct {
	Layout, Terms string
	IDs           lines
	Marks         []byte
	Lengths       numbers
	Entries       lines
	Starts        numbers
	Items, Tenths numbers
	changed       int
	fresh         bool   // other than what is kept
	made          uint64 // marks what is kept: its length and its sum
}

// loadForward reads the cases that the cache does not know, on all processors.
func loadForward(n *notebook.Notebook, cache string) *forward {
	old := readForward(n.Dir, cache)
	if old.Layout != layout || old.Terms != n.TermsHash() {
		old = forward{Starts: numbers{0}}
	}
	f := &forward{Layout: layout, Terms: n.TermsHash(), Starts: numbers{0},
		Items: make(numbers, 0, len(old.Items)+1000), Tenths: make(numbers, 0, len(old.Items)+1000)}
	known := make(map[string]int32, len(old.Entries))
	entry := func(s string) int32 {
		i, ok := known[s]
		if !ok {
			i = int32(len(f.Entries))
			known[s], f.Entries = i, append(f.Entries, s)
		}
		return i
	}
	moved := make([]int32, len(old.Entries)) // old entry -> new + 1
	const batch = 256
	for first := 0; first < len(n.Cases); first += batch {
		part := n.Cases[first:min(first+batch, len(n.Cases))]
		kept, read := make([]int, len(part)), make([]content, len(part))
		parallel.Each(len(part), func(i int) {
			mark := markOf(part[i])
			at, ok := slices.BinarySearch(old.IDs, part[i].ID())
			if ok && bytes.Equal(old.Marks[at*markSize:(at+1)*markSize], mark[:]) {
				kept[i] = at + 1
				return
			}
			read[i] = contentOf(n, part[i])
		})
		for i, c := range part {
			mark := markOf(c)
			f.IDs, f.Marks = append(f.IDs, c.ID()), append(f.Marks, mark[:]...)
			if at := kept[i] - 1; at >= 0 {
				f.Lengths = append(f.Lengths, old.Lengths[at])
				for j := old.Starts[at]; j < old.Starts[at+1]; j++ {
					o := old.Items[j]
					if moved[o] == 0 {
						moved[o] = entry(old.Entries[o]) + 1
					}
					f.Items, f.Tenths = append(f.Items, moved[o]-1), append(f.Tenths, old.Tenths[j])
				}
			} else {
				f.changed++
				f.Lengths = append(f.Lengths, int32(read[i].length))
				for _, e := range slices.Sorted(maps.Keys(read[i].entries)) {
					f.Items, f.Tenths = append(f.Items, entry(e)), append(f.Tenths, int32(read[i].entries[e]))
				}
			}
			f.Starts = append(f.Starts, int32(len(f.Items)))
		}
	}
	if f.fresh = f.changed > 0 || len(old.IDs) != len(f.IDs); !f.fresh {
		f.made = old.made
	}
	return f
}

// save writes the cache where anything changed: its parts one after another,
// each behind its length, and a sum over all.
func (f *forward) save(dir, cache string) {
	if cache == "" || !f.fresh {
		return
	}
	b := make([]byte, 0, 12*len(f.Items)+64*len(f.IDs)+20*len(f.Entries))
	for _, part := range [][]byte{[]byte(f.Layout), []byte(f.Terms), f.IDs.bytes(), f.Marks, f.Lengths.bytes(),
		f.Entries.bytes(), f.Starts.bytes(), f.Items.bytes(), f.Tenths.bytes()} {
		b = binary.AppendUvarint(b, uint64(len(part)))
		b = append(b, part...)
	}
	sum := crc32.ChecksumIEEE(b)
	f.made = uint64(len(b))<<32 | uint64(sum)
	b = binary.LittleEndian.AppendUint32(b, sum)
	_ = disk.Folder(dir).Write(cache, b) // only a help for the next time
}

// readForward reads a cache, or nothing where it is missing or damaged.
func readForward(dir, cache string) forward {
	var f forward
	data, err := disk.ReadFile(filepath.Join(dir, filepath.FromSlash(cache)), disk.MaxDerived)
	if cache == "" || err != nil || len(data) < 4 {
		return f
	}
	body := data[:len(data)-4]
	if binary.LittleEndian.Uint32(data[len(body):]) != crc32.ChecksumIEEE(body) {
		return f
	}
	f.made = uint64(len(body))<<32 | uint64(crc32.ChecksumIEEE(body))
	next := func() []byte {
		n, k := binary.Uvarint(body)
		if k <= 0 || n > uint64(len(body)-k) {
			body = nil
			return nil
		}
		part := body[k : k+int(n)]
		body = body[k+int(n):]
		return part
	}
	f.Layout, f.Terms = string(next()), string(next())
	f.IDs = splitLines(next())
	f.Marks = next()
	f.Lengths = toNumbers(next())
	f.Entries = splitLines(next())
	f.Starts, f.Items, f.Tenths = toNumbers(next()), toNumbers(next()), toNumbers(next())
	return f
}

// inverted are the lines of a store.
type inverted struct {
	words []string // the word, what it is compounded of or with, its postings
	forms []string
}

// kept returns the lines that were kept for what was read, nil where there are none.
func (x *exporter) kept(at places) *inverted {
	if x.f.fresh || at.inside.words == "" {
		return nil
	}
	s, file, err := openFile(at.index, x.f.made)
	if err != nil {
		return nil
	}
	defer file.Close()
	words, err := s.all(wordLines)
	if err != nil {
		return nil
	}
	forms, err := s.all(formLines)
	if err != nil {
		return nil
	}
	return &inverted{words, forms}
}

type exporter struct {
	n      *notebook.Notebook
	lang   *language.Language
	f      *forward
	names  []string // terms, sorted
	shards []Shard
	checks map[string]string // by name without ending
	// lexicon are the checks of what reads people's words, by name.
	lexicon map[string]string
}

// invert makes the lines of a notebook of what stands in its cases.
func invert(n *notebook.Notebook, f *forward) *inverted {
	lang := n.Terms.Language()
	ids := make(map[string]int32, len(f.Entries))
	var names []string
	id := func(term string) int32 {
		i, ok := ids[term]
		if !ok {
			i = int32(len(names))
			ids[term], names = i, append(names, term)
		}
		return i
	}
	terms := make([]int32, len(f.Entries))
	for i, e := range f.Entries {
		term, _ := termOf(lang, e)
		terms[i] = id(term)
	}
	sum := 0.0
	for _, l := range f.Lengths {
		sum += float64(l) / 10
	}
	pivot := pivot(sum / float64(max(len(f.IDs), 1)))
	lists := make([][]posting, len(names), len(names)+100)
	tenths := make([]int32, len(names))
	var touched []int32
	for o := range f.IDs {
		touched = touched[:0]
		for j := f.Starts[o]; j < f.Starts[o+1]; j++ {
			t := terms[f.Items[j]]
			if tenths[t] == 0 {
				touched = append(touched, t)
			}
			tenths[t] += f.Tenths[j]
		}
		for _, t := range touched {
			level := levelOf(int(tenths[t]), int(f.Lengths[o]), pivot)
			if strings.HasPrefix(names[t], symptomMark) {
				level = tenths[t]
			}
			lists[t] = append(lists[t], posting{int32(o), level})
			tenths[t] = 0
		}
		for _, s := range facetValues(n.Cases[o], "symptom") {
			t := id(symptomWord(s))
			for int(t) >= len(lists) {
				lists, tenths = append(lists, nil), append(tenths, 0)
			}
			lists[t] = append(lists[t], posting{int32(o), lengthSteps})
		}
	}
	order := make([]int, len(names))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return strings.Compare(names[a], names[b]) })
	sorted := make([]string, len(order))
	for at, i := range order {
		sorted[at] = names[i]
	}
	compounds := compoundsOf(lang, sorted)
	out := &inverted{words: make([]string, len(order))}
	parallel.Each(len(order), func(at int) {
		var b []byte
		b = append(b, sorted[at]...)
		b = append(b, ' ')
		b = append(b, strings.Join(compounds[at], ",")...)
		b = append(b, ' ')
		out.words[at] = string(appendPostings(b, lists[order[at]]))
	})
	for _, e := range f.Entries {
		if _, form := termOf(lang, e); form != "" {
			out.forms = append(out.forms, form)
		}
	}
	slices.Sort(out.forms)
	return out
}

func (x *exporter) has(term string) bool {
	_, ok := slices.BinarySearch(x.names, term)
	return ok
}

// compoundsOf lists for each term, all of them sorted, the places where it falls into two
// known words, and the known words that begin with it.
func compoundsOf(l *language.Language, names []string) [][]string {
	out := make([][]string, len(names))
	for i, w := range names {
		if hasDigit(w) || strings.HasPrefix(w, "#") {
			continue
		}
		at := 0
		for j := range w {
			if a, b := w[:j], w[j:]; isPart(a) && isPart(b) {
				if k, ok := slices.BinarySearch(names, partOf(l, a)); ok {
					out[k] = append(out[k], w)
					if _, ok := slices.BinarySearch(names, b); ok {
						out[i] = append(out[i], fmt.Sprint(at))
					}
				}
			}
			at++
		}
	}
	for i := range out {
		slices.Sort(out[i])
		out[i] = slices.Compact(out[i])
	}
	return out
}

// appendPostings writes a word's cases level by level.
func appendPostings(b []byte, list []posting) []byte {
	byLevel := map[int32][]int32{}
	for _, p := range list {
		byLevel[p.level] = append(byLevel[p.level], p.ordinal)
	}
	for _, level := range slices.Backward(slices.Sorted(maps.Keys(byLevel))) {
		b = appendNumber(b, int(level))
		b = appendNumber(b, len(byLevel[level]))
		b = appendOrdinals(b, byLevel[level])
	}
	return b
}

func appendOrdinals(b []byte, list []int32) []byte {
	before := int32(-1)
	for _, o := range list {
		b = appendNumber(b, int(o-before-1))
		before = o
	}
	return b
}

// digits are what numbers are written with: JSON in a string leaves all of them
// alone.
const digits = "!#$%'()*+,-./0123456789:;=?@ABCDEFGHIJKLMNOPQRSTUVWXYZ[]^_`abcdefghijklmnopqrstuvwxyz{|}~"

const ending = 64 // of the digits; the rest go on

func appendNumber(b []byte, v int) []byte {
	high := v / ending
	at := len(b)
	for ; high > 0; high /= len(digits) - ending {
		b = append(b, digits[ending+high%(len(digits)-ending)])
	}
	slices.Reverse(b[at:])
	return append(b, digits[v%ending])
}

// cut makes shards of the lines, all of which begin with the given beginning:
// while they are too long together, those with the longest next character go
// into shards of their own.
func (x *exporter) cut(beginning string, lines []string) {
	size := 0
	type group struct {
		beginning string
		lines     []string
		size      int
	}
	var groups []group
	var own []string // the word that is the beginning itself
	for _, line := range lines {
		size += len(line) + 1
		word, _, _ := strings.Cut(line, " ")
		if word == beginning {
			own = append(own, line)
			continue
		}
		_, n := utf8.DecodeRuneInString(word[len(beginning):])
		next := word[:len(beginning)+n]
		if len(groups) == 0 || groups[len(groups)-1].beginning != next {
			groups = append(groups, group{beginning: next})
		}
		g := &groups[len(groups)-1]
		g.lines, g.size = append(g.lines, line), g.size+len(line)+1
	}
	bySize := slices.Clone(groups)
	slices.SortStableFunc(bySize, func(a, b group) int { return cmp.Compare(b.size, a.size) })
	away := map[string]bool{}
	for _, g := range bySize {
		if size <= shardSize {
			break
		}
		away[g.beginning] = true
		size -= g.size
		x.cut(g.beginning, g.lines)
	}
	rest := own
	for _, g := range groups {
		if !away[g.beginning] {
			rest = append(rest, g.lines...)
		}
	}
	if len(rest) > 0 {
		x.add("w-"+hex.EncodeToString([]byte(beginning)), strings.Join(rest, " "))
	}
}

// add makes a shard of a text.
func (x *exporter) add(name, text string) {
	x.checks[name] = check(text)
	x.shards = append(x.shards, Shard{name + ".js", Call("benchloreShard", name, text)})
}

// Call is a script that calls a function with strings, the only way for data
// into a page opened from a stick; one string parses faster than a literal.
func Call(function string, texts ...string) []byte {
	var b bytes.Buffer
	b.WriteString(function + "(")
	for i, t := range texts {
		if i > 0 {
			b.WriteByte(',')
		}
		quoted, err := json.Marshal(t) // escapes <, > and & too
		if err != nil {
			panic(err) // a string can always be written
		}
		b.Write(quoted)
	}
	b.WriteString(");\n")
	return b.Bytes()
}

// check is two digits that tell a damaged shard or one of another publish, but
// for one in eight thousand.
func check(text string) string {
	h := fnv.New32a()
	_, _ = h.Write([]byte(text))
	v := int(h.Sum32())
	return string(digits[v%len(digits)]) + string(digits[v/len(digits)%len(digits)])
}

// appendStem writes how a form becomes its stem, where it is another: a slash, how
// many characters come off its end, and what takes their place.
func appendStem(b []byte, form, stem []rune) []byte {
	n := 0
	for n < len(form) && n < len(stem) && form[n] == stem[n] {
		n++
	}
	if n == len(form) && n == len(stem) {
		return b
	}
	b = appendNumber(append(b, '/'), len(form)-n)
	return append(b, string(stem[n:])...)
}

// formShards lists the forms by first character, each as the number of characters
// that it shares with the one before and the rest; in other languages than English
// also how it becomes its stem, since the page has no stemmer for them.
func (x *exporter) formShards(forms []string) {
	byFirst := map[rune][]string{}
	for _, f := range forms {
		r, _ := utf8.DecodeRuneInString(f)
		byFirst[r] = append(byFirst[r], f)
	}
	for r, list := range byFirst {
		var b strings.Builder
		before := []rune{}
		for i, f := range list {
			now := []rune(f)
			n := 0
			for n < len(before) && n < len(now) && before[n] == now[n] {
				n++
			}
			if i > 0 {
				b.WriteByte(' ')
			}
			b.Write(appendNumber(nil, n))
			b.WriteString(string(now[n:]))
			if x.lang.Tag != language.English { // whose stemmer the page has
				b.Write(appendStem(nil, now, []rune(stemmed(x.lang, f))))
			}
			before = now
		}
		x.add(fmt.Sprintf("d-%x", r), b.String())
	}
}

// facets writes for each facet its values: id, name and cases.
func (x *exporter) facets() {
	for _, name := range facetNames {
		cases := map[string][]int32{}
		for o, c := range x.n.Cases {
			for _, id := range facetValues(c, name) {
				cases[id] = append(cases[id], int32(o))
			}
		}
		values := [][3]string{}
		for _, id := range slices.Sorted(maps.Keys(cases)) {
			values = append(values, [3]string{id, facetLabel(x.n, name, id), string(appendOrdinals(nil, cases[id]))})
		}
		text, err := json.Marshal(values)
		if err != nil {
			panic(err) // strings can always be written
		}
		x.add("f-"+name, string(text))
	}
}

// devices lists the names of devices by the first characters of their words, to
// be offered while somebody types.
func (x *exporter) devices() {
	names := map[rune][]string{}
	for _, d := range x.n.Devices {
		name := d.Name(x.n.Terms)
		for _, t := range Analyze(x.lang, name) {
			if r, _ := utf8.DecodeRuneInString(t.form); t.form != "" && !slices.Contains(names[r], name) {
				names[r] = append(names[r], name)
			}
		}
	}
	for r, list := range names {
		slices.Sort(list)
		text, err := json.Marshal(list)
		if err != nil {
			panic(err) // strings can always be written
		}
		x.add(fmt.Sprintf("n-%x", r), string(text))
	}
}

func (x *exporter) cards(card func(c *notebook.Case) Card) {
	i, o := 0, 0
	for part := range slices.Chunk(x.n.Cases, cardsInShard) {
		var cards []Card
		for _, c := range part {
			cards = append(cards, append(card(c), x.gist(o)))
			o++
		}
		text, err := json.Marshal(cards)
		if err != nil {
			panic(err) // strings can always be written
		}
		x.add(fmt.Sprintf("c-%d", i), string(text))
		i++
	}
}

// gist writes the words that stand for a case behind its length, each with its
// frequency, in tenths.
func (x *exporter) gist(o int) string {
	entries := map[string]int{}
	for j := x.f.Starts[o]; j < x.f.Starts[o+1]; j++ {
		entries[x.f.Entries[x.f.Items[j]]] = int(x.f.Tenths[j])
	}
	b := appendNumber(nil, max(1, int(x.f.Lengths[o])))
	for _, w := range gistOf(x.lang, entries) {
		b = append(append(appendNumber(append(b, ' '), w.tenths), ' '), w.word...)
	}
	return string(b)
}

// near writes for the words of an English notebook's readers which known words are
// near them, by the first character: the word, then each near word with its share.
func (x *exporter) near() {
	if x.lang.Tag != language.English {
		return
	}
	lines := map[rune][]string{}
	for _, w := range nearness.Words() {
		var b []byte
		for _, n := range nearness.Of(w) {
			if x.has(n.Word) {
				b = append(append(append(b, ','), n.Word...), ',')
				b = strconv.AppendInt(b, int64(n.Share), 10)
			}
		}
		if len(b) > 0 {
			r, _ := utf8.DecodeRuneInString(w)
			lines[r] = append(lines[r], w+string(b))
		}
	}
	for r, list := range lines {
		x.add(fmt.Sprintf("s-%x", r), strings.Join(list, " "))
	}
}

// rootLanguage is what the page needs to cut the words of a query in another
// language than English.
type rootLanguage struct {
	Splits  bool              `json:"splits,omitempty"`
	Endings string            `json:"endings"`
	Folds   map[string]string `json:"folds"`
	Fewest  int               `json:"fewest"`
}

func (x *exporter) language() *rootLanguage {
	if x.lang.Tag == language.English {
		return nil
	}
	l := &rootLanguage{x.lang.Splits, strings.Join(x.lang.Endings(), " "), x.lang.Folds(), minPart}
	if l.Folds == nil {
		l.Folds = map[string]string{}
	}
	return l
}

// words makes the shards that texts are read with: what all languages need, the phrases
// of each, and the dangers of all, which are heard in any.
func (x *exporter) words() error {
	common, err := json.Marshal(x.n.Terms.ExportReader())
	if err != nil {
		return err
	}
	dangers := map[string]string{}
	texts := map[string]string{"common": string(common)}
	for _, tag := range terms.Reading {
		dangers[tag], texts[tag] = terms.ExportedDangers(tag), terms.ExportedWords(tag)
	}
	all, err := json.Marshal(dangers)
	if err != nil {
		return err
	}
	texts["dangers"] = string(all)
	for _, tag := range terms.Reading {
		if i := terms.ExportInference(tag); i != nil {
			text, err := json.Marshal(i)
			if err != nil {
				return err
			}
			texts["kind-"+tag] = string(text)
		}
	}
	x.lexicon = map[string]string{}
	for _, name := range slices.Sorted(maps.Keys(texts)) {
		x.add("l-"+name, texts[name])
		x.lexicon[name] = x.checks["l-"+name]
	}
	return nil
}

// root is what every search needs.
func (x *exporter) root() (Shard, error) {
	// The checks of w and d shards stand behind their beginnings, in order; those
	// of cards one after another.
	var words, forms, devices, near []string
	for name, c := range x.checks {
		switch kind, rest, _ := strings.Cut(name, "-"); kind {
		case "w":
			beginning, err := hex.DecodeString(rest)
			if err != nil {
				return Shard{}, err
			}
			words = append(words, string(beginning)+" "+c)
		case "d":
			forms = append(forms, rest+" "+c)
		case "n":
			devices = append(devices, rest+" "+c)
		case "s":
			near = append(near, rest+" "+c)
		}
	}
	slices.Sort(words)
	slices.Sort(forms)
	slices.Sort(devices)
	slices.Sort(near)
	var cards strings.Builder
	for i := 0; i*cardsInShard < len(x.n.Cases); i++ {
		cards.WriteString(x.checks[fmt.Sprintf("c-%d", i)])
	}
	facets := map[string]string{}
	for _, name := range facetNames {
		facets[name] = x.checks["f-"+name]
	}
	others := map[string][]string{}
	for phrase, list := range synonymsIn(x.lang) {
		for _, ws := range list {
			if !slices.ContainsFunc(ws, func(w string) bool { return !x.has(w) }) {
				others[phrase] = append(others[phrase], strings.Join(ws, " "))
			}
		}
	}
	names := map[string]string{}
	for _, t := range x.n.Terms.All(terms.Symptom) {
		names[t.ID] = t.Name
	}
	data := struct {
		Cases        int                 `json:"cases"`
		CardsInShard int                 `json:"cardsInShard"`
		Words        string              `json:"words"`
		Forms        string              `json:"forms"`
		Devices      string              `json:"devices"`
		Near         string              `json:"near"`
		Cards        string              `json:"cards"`
		Facets       map[string]string   `json:"facets"`
		Lexicon      map[string]string   `json:"lexicon"`
		Symptoms     map[string]string   `json:"symptoms"`
		Synonyms     map[string][]string `json:"synonyms"`
		Stop         string              `json:"stop"`
		Little       string              `json:"little"`
		Language     *rootLanguage       `json:"language,omitempty"`
		ValueUnits   map[string]string   `json:"valueUnits"`
		Ranking      map[string]float64  `json:"ranking"`
	}{len(x.n.Cases), cardsInShard, strings.Join(words, " "), strings.Join(forms, " "), strings.Join(devices, " "),
		strings.Join(near, " "), cards.String(), facets,
		x.lexicon, names, others,
		strings.Join(stopList(x.lang), " "), littleWords, x.language(), valueUnits,
		map[string]float64{"steps": lengthSteps, "synonym": synonymWeight, "compound": compoundWeight,
			"prefix": prefixWeight, "typo": typoWeight, "slips": slipsWeight, "near": nearWeight, "nearCap": nearCap,
			"companyCases": companyCases, "companyOf": companyOf, "companyWords": companyWords,
			"companyScale": companyShare / (1 - companyShare), "companyLeast": companyLeast, "matters": matters,
			"closeShare": closeShare, "minSlips": minSlips,
			"inPhrase": inPhrase, "little": littleWeight, "mostTimes": mostTimes, "symptom": symptomWeight,
			"minPrefix": minPrefix, "minTypo": minTypo, "minPart": minPart, "maxExpand": maxExpand, "maxQuery": maxQuery}}
	text, err := json.Marshal(data)
	// As a literal: it is small, and full of quotes that a string would double.
	return Shard{"root.js", []byte("benchloreRoot(" + string(text) + ");\n")}, err
}
