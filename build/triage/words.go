package triage

import (
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"
	"sync"

	"benchlore/build/maxent"
	"benchlore/build/nearness"
	"benchlore/build/notebook"
	"benchlore/build/search"
	"benchlore/schema/language"
)

// The numbers of learning from words, chosen on the typed laptop and vacuum records,
// folds 1 to 4.
const (
	wordsCost       = 5
	wordsIterations = 60
	wordsNewest     = 4000 // cases that are learned from at most
	fewest          = 2    // cases that a pair of neighbours or a run of letters must stand in
)

// vocabulary numbers the words, pairs and letters of the texts that were learned from.
type vocabulary struct {
	lang  *language.Language
	names []string // words, pairs with a space, letters behind a tilde; sorted
	idf   []float64
	none  float64 // rarity of a word that no case has
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
	if v.lang.Tag != language.English {
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

// learnWords learns from texts with their causes.
func learnWords(l *language.Language, texts []map[string]int, causes []Cause) *wordModel {
	m := &wordModel{vocabulary: newVocabulary(l, texts)}
	rows := make([]maxent.Row, len(texts))
	for i, t := range texts {
		rows[i] = m.row(t)
	}
	learn := func(of func(c Cause) string) (names []string, model *maxent.Model, prior []float64) {
		seen := map[string]int{}
		for _, c := range causes {
			seen[of(c)]++
		}
		names = slices.Sorted(maps.Keys(seen))
		class := make([]int, len(causes))
		for i, c := range causes {
			class[i], _ = slices.BinarySearch(names, of(c))
		}
		for _, name := range names {
			prior = append(prior, float64(seen[name])/float64(len(causes)))
		}
		return names, maxent.Train(rows, class, len(names), m.features(), maxent.Options{Cost: wordsCost, Iterations: wordsIterations}), prior
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
