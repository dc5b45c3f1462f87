package triage

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/gob"
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/build/parallel"
	"benchlore/build/reason/maxent"
	"benchlore/build/reason/nearness"
	"benchlore/build/reason/search"
	"benchlore/schema/casefile"
	"benchlore/schema/language"
)

// The numbers of learning from words, chosen on the typed laptop and vacuum records,
// folds 1 to 4.
const (
	wordsCost       = 5
	wordsIterations = 60
	wordsNewest     = 2000 // cases that are learned from at most
	fewest          = 2    // cases that a pair of neighbours or a run of letters must stand in
)

// vocabulary numbers the words, pairs and letters of the texts that were learned from.
type vocabulary struct {
	lang  *language.Language
	names []string // words, pairs with a space, letters behind a tilde; sorted
	idf   []float64
	none  float64 // rarity of a word that no case has
	plain bool    // without meanings, as a baseline
}

// tokensOf gives the words of a text in order.
func tokensOf(l *language.Language, text string) []string {
	var out []string
	for _, t := range search.Analyze(l, text) {
		out = append(out, t.Term)
	}
	return out
}

// counted gives words, pairs of neighbours and runs of letters of a text with how
// often each stands. Letters are what a misspelt word shares with the right one.
func counted(l *language.Language, text string) map[string]int {
	out := map[string]int{}
	tokens := tokensOf(l, text)
	for i, t := range tokens {
		out[t]++
		if i > 0 {
			out[tokens[i-1]+" "+t]++
		}
	}
	for _, w := range written.FindAllString(strings.ToLower(text), maxWritten) {
		r := []rune("<" + w + ">")
		for _, n := range lettersRun {
			for i := 0; i+n <= len(r); i++ {
				out[lettersMark+string(r[i:i+n])]++
			}
		}
	}
	return out
}

var (
	written    = regexp.MustCompile(`[\p{L}\p{Nd}]+`)
	lettersRun = []int{3, 4}
)

const (
	lettersMark = "~"
	maxWritten  = 300 // words of a text whose letters are looked at
)

func newVocabulary(l *language.Language, texts []map[string]int) *vocabulary {
	having := map[string]int{}
	for _, t := range texts {
		for w := range t {
			having[w]++
		}
	}
	v := &vocabulary{lang: l}
	for w, n := range having {
		if n >= fewest || !strings.Contains(w, " ") && !strings.HasPrefix(w, lettersMark) {
			v.names = append(v.names, w)
		}
	}
	slices.Sort(v.names)
	n := float64(len(texts))
	for _, w := range v.names {
		v.idf = append(v.idf, rarity(n, float64(having[w])))
	}
	v.none = rarity(n, 0)
	return v
}

// rarity is ln((1+n)/(1+having)) + 1, rounded so that it is written down exactly.
func rarity(n, having float64) float64 {
	return math.Round((math.Log((1+n)/(1+having))+1)*1e4) / 1e4
}

// row gives a text as a vector of three parts, each of length one: words and pairs by
// (1 + ln f) times rarity, letters likewise, and where the text stands among meanings.
func (v *vocabulary) row(counts map[string]int) maxent.Row {
	var r maxent.Row
	words := slices.Sorted(maps.Keys(counts))
	var squares [2]float64 // of words with pairs, and of letters
	for _, w := range words {
		at, ok := slices.BinarySearch(v.names, w)
		if !ok {
			continue
		}
		x := (1 + math.Log(float64(counts[w]))) * v.idf[at]
		squares[blockOf(w)] += x * x
		r.Features, r.Values = append(r.Features, int32(at)), append(r.Values, x)
	}
	for i, f := range r.Features {
		r.Values[i] /= math.Sqrt(squares[blockOf(v.names[f])])
	}
	if v.plain || v.lang.Tag != language.English {
		return r
	}
	var where [nearness.Dims]float64
	square := 0.0
	for _, w := range words {
		vector := nearness.Vector(w)
		if vector == nil {
			continue
		}
		idf := v.none
		if at, ok := slices.BinarySearch(v.names, w); ok {
			idf = v.idf[at]
		}
		for i, x := range vector {
			where[i] += idf * float64(x)
		}
	}
	for _, x := range where {
		square += x * x
	}
	if square > 0 {
		length := math.Sqrt(square)
		for i, x := range where {
			r.Features, r.Values = append(r.Features, int32(len(v.names)+i)), append(r.Values, x/length)
		}
	}
	return r
}

func blockOf(name string) int {
	if strings.HasPrefix(name, lettersMark) {
		return 1
	}
	return 0
}

func (v *vocabulary) features() int { return len(v.names) + nearness.Dims }

// wordModel says how probable each fault is, and each place, by the words of a text.
type wordModel struct {
	*vocabulary
	faults, places         []string
	fault, place           *maxent.Model
	faultPrior, placePrior []float64
}

// saidOf is what is learned from of a case: what its owner and its title say.
func saidOf(c *notebook.Case) string {
	return c.File.Case.Title + "\n" + c.SectionPlain("Symptom")
}

// learnWords learns from texts with their causes, each by its weight, all alike where
// there are none; plain leaves meanings out.
func learnWords(l *language.Language, texts []map[string]int, causes []Cause, weights []float64, plain bool) *wordModel {
	m := &wordModel{vocabulary: newVocabulary(l, texts)}
	m.plain = plain
	rows := make([]maxent.Row, len(texts))
	for i, t := range texts {
		rows[i] = m.row(t)
	}
	learn := func(of func(c Cause) string) (names []string, model *maxent.Model, prior []float64) {
		seen, all := map[string]float64{}, 0.0
		for i, c := range causes {
			w := 1.0
			if weights != nil {
				w = weights[i]
			}
			seen[of(c)] += w
			all += w
		}
		names = slices.Sorted(maps.Keys(seen))
		class := make([]int, len(causes))
		for i, c := range causes {
			class[i], _ = slices.BinarySearch(names, of(c))
		}
		for _, name := range names {
			prior = append(prior, seen[name]/all)
		}
		return names, maxent.Train(rows, class, len(names), m.features(),
			maxent.Options{Cost: wordsCost, Iterations: wordsIterations, Weights: weights}), prior
	}
	var both sync.WaitGroup
	both.Add(1)
	go func() {
		defer both.Done()
		m.faults, m.fault, m.faultPrior = learn(func(c Cause) string { return c.Fault })
	}()
	m.places, m.place, m.placePrior = learn(func(c Cause) string { return c.At })
	both.Wait()
	return m
}

// probable gives the probability of each fault and of each place.
func (m *wordModel) probable(said string) (fault, place []float64) {
	r := m.row(counted(m.lang, said))
	return m.fault.Probable(r), m.place.Probable(r)
}

// heard is what the words of a text say: how probable each fault and place is.
type heard struct{ fault, place []float64 }

// hear weighs a text, once for all that is asked about it.
func (m *Model) hear(said string) *heard {
	if strings.TrimSpace(said) == "" || m.had == 0 {
		return nil
	}
	fault, place := m.learned().probable(said)
	return &heard{fault, place}
}

// besideSymptoms is how much words count where symptoms were chosen too: both say the
// same thing, and it would be heard twice (common practice in joining dependent
// opinions: the mean of the logarithms).
const besideSymptoms = 0.5

// factors gives for each cause the logarithm of how much more probable the words make
// it: of its fault against how often that is, and of its place among the places of
// that fault, so that the faults come out as the words say.
func (m *Model) factors(e *Evidence) []float64 {
	if strings.TrimSpace(e.Said) == "" || m.had == 0 {
		return nil
	}
	if e.heard == nil { // the copies of this evidence that follow bring it along
		e.heard = m.hear(e.Said)
	}
	w, fault, place := m.learned(), e.heard.fault, e.heard.place
	beside := slices.ContainsFunc(e.Symptoms, func(id string) bool { return m.symptoms.all[id] > 0 })
	out, sums := make([]float64, len(m.causes)), map[string]float64{}
	for c, cause := range m.causes[:m.had] {
		at, _ := slices.BinarySearch(w.places, cause.At)
		out[c] = place[at] / w.placePrior[at]
		sums[cause.Fault] += m.count[c] * out[c]
	}
	for c, cause := range m.causes[:m.had] {
		at, _ := slices.BinarySearch(w.faults, cause.Fault)
		n := m.faultN[m.faults[c]]
		if m.count[c] == 0 || n == 0 || sums[cause.Fault] == 0 {
			continue // left out for the moment
		}
		out[c] = math.Log(fault[at]/w.faultPrior[at]) + math.Log(out[c]*n/sums[cause.Fault])
		if beside {
			out[c] *= besideSymptoms
		}
	}
	return out
}

// silenced is a text without one of its words, and how probable each fault is then.
type silenced struct {
	word  string
	fault []float64
}

// silence leaves each word of a text out in turn.
func (m *wordModel) silence(said string) []silenced {
	var list []silenced
	places := written.FindAllStringIndex(said, maxSpoken)
	for _, p := range places {
		word := strings.ToLower(said[p[0]:p[1]])
		if slices.ContainsFunc(list, func(s silenced) bool { return s.word == word }) || len(tokensOf(m.lang, word)) == 0 {
			continue
		}
		rest := said
		for _, q := range slices.Backward(places) {
			if strings.ToLower(said[q[0]:q[1]]) == word {
				rest = rest[:q[0]] + rest[q[1]:]
			}
		}
		list = append(list, silenced{word, m.fault.Probable(m.row(counted(m.lang, rest)))})
	}
	return list
}

// spoke gives the words that spoke for a fault, the strongest first, at most three:
// those without which it would be less probable by a tenth or more.
func (m *wordModel) spoke(whole []float64, without []silenced, fault string) []string {
	at, ok := slices.BinarySearch(m.faults, fault)
	if !ok {
		return nil
	}
	type spoken struct {
		word string
		by   float64
	}
	var list []spoken
	for _, s := range without {
		list = append(list, spoken{s.word, math.Round(math.Log(whole[at]/s.fault[at])*1e6) / 1e6})
	}
	slices.SortStableFunc(list, func(a, b spoken) int { return cmp.Compare(b.by, a.by) })
	var out []string
	for _, s := range list[:min(3, len(list))] {
		if s.by >= 0.1 {
			out = append(out, s.word)
		}
	}
	return out
}

const maxSpoken = 60 // words of what was said that are asked one by one

// lazyWords gives the words of cases, the newest first, to be learned from later, each by
// its weight. What was learned is kept beside the notebook, under a digest of all that it
// was learned from. Where there are too many, those that weigh most are learned from.
func lazyWords(dir string, l *language.Language, closed []*notebook.Case, weights []float64) func() *wordModel {
	return sync.OnceValue(func() *wordModel {
		closed, weights := heaviestFirst(closed, weights)
		digest := digestOf(l, closed, weights)
		at, keeps := disk.Derived(dir, "said.gob")
		if keeps {
			if m, ok := kept(filepath.Join(dir, filepath.FromSlash(at)), digest, l); ok {
				return m
			}
		}
		newest := closed[:min(wordsNewest, len(closed))]
		texts, causes := make([]map[string]int, len(newest)), make([]Cause, len(newest))
		parallel.Each(len(newest), func(i int) {
			texts[i] = counted(l, saidOf(newest[i]))
			k := newest[i].File.Case.Cause
			causes[i] = Cause{k.Fault, k.At}
		})
		m := learnWords(l, texts, causes, weights[:min(len(weights), len(newest))], false)
		m.addOlder(closed)
		if keeps && len(newest) >= worthKeeping {
			m.keep(dir, at, digest)
		}
		return m
	})
}

// worthKeeping is from how many cases on learning anew is felt.
const worthKeeping = 200

// wordsFormat changes whenever anything is learned in another way.
const wordsFormat = "2"

func digestOf(l *language.Language, closed []*notebook.Case, weights []float64) string {
	h := sha256.New()
	fmt.Fprintf(h, "%s %s %d %d %d %d\n", wordsFormat, l.Tag, wordsCost, wordsIterations, wordsNewest, fewest)
	for i, c := range closed {
		k := c.File.Case.Cause
		text := ""
		if i < wordsNewest {
			text = saidOf(c)
		}
		fmt.Fprintf(h, "%q %q %q\n", k.Fault, k.At, text)
	}
	fmt.Fprintln(h, weights)
	return string(h.Sum(nil))
}

// keptWords is a model as it lies on the disk.
type keptWords struct {
	Digest                 string
	Names                  string // by lines
	IDF                    []float64
	None                   float64
	Faults, Places         []string
	Fault, Place           *maxent.Model
	FaultPrior, PlacePrior []float64
}

func (m *wordModel) keep(dir, at, digest string) {
	var b bytes.Buffer
	k := keptWords{digest, strings.Join(m.names, "\n"), m.idf, m.none, m.faults, m.places, m.fault, m.place, m.faultPrior, m.placePrior}
	if gob.NewEncoder(&b).Encode(k) == nil && disk.Folder(dir).MkdirAll(".benchlore") == nil {
		_ = disk.Folder(dir).Write(at, b.Bytes()) // only a help for the next time
	}
}

func kept(path, digest string, l *language.Language) (*wordModel, bool) {
	var k keptWords
	data, err := disk.ReadFile(path, disk.MaxDerived)
	if err != nil || gob.NewDecoder(bytes.NewReader(data)).Decode(&k) != nil || k.Digest != digest || k.Fault == nil || k.Place == nil {
		return nil, false
	}
	m := &wordModel{vocabulary: &vocabulary{lang: l, names: strings.Split(k.Names, "\n"), idf: k.IDF, none: k.None},
		faults: k.Faults, places: k.Places,
		fault: k.Fault, place: k.Place, faultPrior: k.FaultPrior, placePrior: k.PlacePrior}
	whole := len(m.names) == len(m.idf)
	for _, x := range []*maxent.Model{m.fault, m.place} {
		whole = whole && x.Classes == len(x.Intercepts) && len(x.Weights) == m.features()*x.Classes
	}
	return m, whole && m.fault.Classes == len(m.faults) && m.place.Classes == len(m.places)
}

// addOlder adds the faults and places of older cases, which the words say nothing of.
func (m *wordModel) addOlder(closed []*notebook.Case) {
	older := func(names []string, prior []float64, model *maxent.Model, of func(c *casefile.Cause) string) ([]string, []float64) {
		for _, c := range closed[min(wordsNewest, len(closed)):] {
			name := of(c.File.Case.Cause)
			at, ok := slices.BinarySearch(names, name)
			if ok {
				continue
			}
			names, prior = slices.Insert(names, at, name), slices.Insert(prior, at, 1/float64(len(closed)))
			model.Insert(at, math.Log(1/float64(len(closed))))
		}
		return names, prior
	}
	m.faults, m.faultPrior = older(m.faults, m.faultPrior, m.fault, func(c *casefile.Cause) string { return c.Fault })
	m.places, m.placePrior = older(m.places, m.placePrior, m.place, func(c *casefile.Cause) string { return c.At })
}

// ExportedWords are what the page weighs words with.
type ExportedWords struct {
	Names      string          `json:"names"` // by lines
	IDF        []float64       `json:"idf"`
	None       float64         `json:"none"`
	Vectors    string          `json:"vectors"` // a word and its vector in base 64, by lines
	Dims       int             `json:"dims"`
	Faults     []string        `json:"faults"`
	Places     []string        `json:"places"`
	Fault      ExportedWeights `json:"fault"`
	Place      ExportedWeights `json:"place"`
	Beside     float64         `json:"beside"`
	Runs       []int           `json:"runs"`
	MaxWritten int             `json:"maxWritten"`
	MaxSpoken  int             `json:"maxSpoken"`
	// Devices are what a text may call a device of the notebook by, and Known the wider kind
	// that stands for a kind of which there are no cases.
	Devices map[string][]string `json:"devices"`
	Order   []string            `json:"order"` // of the devices
	Kinds   map[string]string   `json:"kinds"` // of the devices
	Known   map[string]string   `json:"known"`
}

// ExportedWeights are one classifier's: signed bytes by feature, then by class.
type ExportedWeights struct {
	Step       float64   `json:"step"`
	Weights    []byte    `json:"weights"`
	Intercepts []float64 `json:"intercepts"`
	Prior      []float64 `json:"prior"`
}

// ExportWords returns what was learned from words, for the page.
func (m *Model) ExportWords() ExportedWords {
	x := m.exportNames()
	if len(m.causes) == 0 || m.had == 0 {
		return x
	}
	w := m.learned()
	weights := func(x *maxent.Model, prior []float64) ExportedWeights {
		b := make([]byte, len(x.Weights))
		for i, v := range x.Weights {
			b[i] = byte(v)
		}
		return ExportedWeights{x.Step, b, x.Intercepts, prior}
	}
	x.Names, x.IDF, x.None, x.Dims = strings.Join(w.names, "\n"), w.idf, w.none, nearness.Dims
	x.Faults, x.Fault = w.faults, weights(w.fault, w.faultPrior)
	x.Places, x.Place = w.places, weights(w.place, w.placePrior)
	x.Beside, x.Runs, x.MaxWritten, x.MaxSpoken = besideSymptoms, lettersRun, maxWritten, maxSpoken
	if w.lang.Tag == language.English {
		x.Vectors = nearness.Lines()
	}
	return x
}
