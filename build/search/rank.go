package search

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	index "github.com/blevesearch/bleve_index_api"

	"benchlore/schema/terms"
)

// The numbers of the ranking, as the package comment explains them.
const (
	K1            = 1.2
	B             = 0.75
	PrefixWeight  = 0.4
	TypoWeight    = 0.5
	InPhrase      = 0.3
	SymptomWeight = 1.5

	minPrefix = 3  // characters
	minTypo   = 5  // characters
	maxExpand = 50 // words that one word of the query is expanded to
)

// How a word of the query was found in a case.
type How string

// The ways.
const (
	Exactly   How = "as written"
	ByPrefix  How = "as the beginning of"
	ByTypo    How = "with one slip for"
	BySymptom How = "as symptom"
)

// Brought is what one word or symptom brought to a score.
type Brought struct {
	Asked string // the word of the query, stemmed, or the symptom's id
	How   How
	Word  string // the word of the case, or the symptom's name
	Score float64
}

// String says it in words: `"humm" with one slip for "hum", 1.23`.
func (b Brought) String() string {
	switch b.How {
	case Exactly:
		return fmt.Sprintf("%q, %.2f", b.Word, b.Score)
	case BySymptom:
		return fmt.Sprintf("%s %q, %.2f", b.How, b.Word, b.Score)
	}
	return fmt.Sprintf("%q %s %q, %.2f", b.Asked, b.How, b.Word, b.Score)
}

// Round keeps weighted counts exact to a tenth, as [Weights] are.
func Round(x float64) float64 { return math.Round(x*10) / 10 }

type ranked struct {
	id    string
	score float64
	why   []Brought
}

// rank scores the cases that have any word or symptom of the query and pass
// its filters; without words it lists what passes, newest first.
func (ix *Index) rank(q Query, tokens []Token, phrases []terms.Match, symptoms []*terms.Term) ([]ranked, error) {
	found := map[string]*ranked{}
	get := func(id string) *ranked {
		r := found[id]
		if r == nil {
			row, ok := ix.rows[id]
			if !ok || !passes(q, row.Values) {
				return nil
			}
			r = &ranked{id: id}
			found[id] = r
		}
		return r
	}
	if len(tokens) == 0 && len(symptoms) == 0 {
		for _, id := range ix.ids {
			get(id)
		}
	}
	advanced, err := ix.bleve.Advanced()
	if err != nil {
		return nil, err
	}
	reader, err := advanced.Reader()
	if err != nil {
		return nil, err
	}
	defer reader.Close()
	p := postings{reader: reader, ids: map[string]string{}}
	total := float64(len(ix.ids))
	mean := 0.0
	for _, id := range ix.ids {
		mean += ix.rows[id].Length
	}
	mean = cmp.Or(mean/max(total, 1), 1)
	seen := map[string]bool{}
	for i, t := range tokens {
		if seen[t.Term] {
			continue
		}
		seen[t.Term] = true
		share := 1.0
		if slices.ContainsFunc(phrases, func(m terms.Match) bool { return t.Start >= m.Start && t.Stop <= m.Stop }) {
			share = InPhrase
		}
		expanded, err := ix.expand(&p, t.Term, i == len(tokens)-1)
		if err != nil {
			return nil, err
		}
		for _, w := range expanded {
			idf := math.Log(1 + (total-float64(len(w.cases))+0.5)/(float64(len(w.cases))+0.5))
			for id, f := range w.cases {
				if r := get(id); r != nil {
					s := share * w.weight * idf * f * (K1 + 1) / (f + K1*(1-B+B*ix.rows[id].Length/mean))
					r.score += s
					r.why = append(r.why, Brought{t.Term, w.how, w.word, s})
				}
			}
		}
	}
	for _, s := range symptoms {
		var having []string
		for _, id := range ix.ids {
			if slices.Contains(ix.rows[id].Values[0], s.ID) { // symptoms are the first facet
				having = append(having, id)
			}
		}
		n := float64(len(having))
		score := SymptomWeight * math.Log(1+(total-n+0.5)/(n+0.5))
		for _, id := range having {
			if r := get(id); r != nil {
				r.score += score
				r.why = append(r.why, Brought{s.ID, BySymptom, s.Name, score})
			}
		}
	}
	list := make([]ranked, 0, len(found))
	for _, r := range found {
		list = append(list, *r)
	}
	slices.SortFunc(list, func(a, b ranked) int {
		return cmp.Or(cmp.Compare(b.score, a.score), strings.Compare(b.id, a.id))
	})
	return list, nil
}

// expansion is a word of the index that a word of the query stands for.
type expansion struct {
	word   string
	how    How
	weight float64
	cases  map[string]float64 // id -> f(t,d)
}

func (ix *Index) expand(p *postings, word string, last bool) ([]expansion, error) {
	cases, err := p.of(word)
	if err != nil {
		return nil, err
	}
	if len(cases) > 0 {
		return []expansion{{word, Exactly, 1, cases}}, nil
	}
	size := utf8.RuneCountInString(word)
	digits := strings.ContainsFunc(word, unicode.IsDigit)
	var out []expansion
	if err := ix.dictionary(p.reader); err != nil {
		return nil, err
	}
	for _, w := range ix.words {
		e := expansion{word: w}
		switch {
		case last && size >= minPrefix && strings.HasPrefix(w, word):
			e.how, e.weight = ByPrefix, PrefixWeight
		case size >= minTypo && !digits && abs(utf8.RuneCountInString(w)-size) <= 1 && terms.Distance(word, w) == 1:
			e.how, e.weight = ByTypo, TypoWeight
		default:
			continue
		}
		if e.cases, err = p.of(w); err != nil {
			return nil, err
		}
		if len(e.cases) > 0 {
			out = append(out, e)
		}
		if len(out) == maxExpand {
			break
		}
	}
	return out, nil
}

func abs(x int) int { return max(x, -x) }

// dictionary gathers every word of the index, once.
func (ix *Index) dictionary(reader index.IndexReader) error {
	if ix.words != nil {
		return nil
	}
	seen := map[string]bool{}
	for _, f := range Fields {
		dict, err := reader.FieldDict(string(f))
		if err != nil {
			return err
		}
		for {
			entry, err := dict.Next()
			if err != nil {
				return err
			}
			if entry == nil {
				break
			}
			seen[entry.Term] = true
		}
		if err := dict.Close(); err != nil {
			return err
		}
	}
	ix.words = make([]string, 0, len(seen))
	for w := range seen {
		ix.words = append(ix.words, w)
	}
	slices.Sort(ix.words)
	return nil
}

// postings reads weighted frequencies from the index.
type postings struct {
	reader index.IndexReader
	ids    map[string]string // internal -> external
}

func (p *postings) of(word string) (map[string]float64, error) {
	out := map[string]float64{}
	for _, f := range Fields {
		r, err := p.reader.TermFieldReader(context.Background(), []byte(word), string(f), true, false, false)
		if err != nil {
			return nil, err
		}
		var doc index.TermFieldDoc
		for {
			d, err := r.Next(&doc)
			if err != nil {
				r.Close()
				return nil, err
			}
			if d == nil {
				break
			}
			id, ok := p.ids[string(d.ID)]
			if !ok {
				if id, err = p.reader.ExternalID(d.ID); err != nil {
					r.Close()
					return nil, err
				}
				p.ids[string(d.ID)] = id
			}
			out[id] += Weights[f] * float64(d.Freq)
		}
		if err := r.Close(); err != nil {
			return nil, err
		}
	}
	for id, f := range out {
		out[id] = Round(f)
	}
	return out, nil
}
