package site

import (
	"bytes"
	"encoding/json"

	"benchlore/build/search"
	"benchlore/schema/terms"
)

// browserIndex is what the search page needs: the cases in order, the postings
// of each word, and the phrases that mean a symptom.
type browserIndex struct {
	Cases []browserCase `json:"cases"`
	// Lengths are the weighted numbers of words, for the length norm.
	Lengths []float64 `json:"lengths"`
	// Words maps a stemmed word to case ordinals and weighted frequencies in turn.
	Words map[string][]float64 `json:"words"`
	// Recognise is how the words of a query are taken for symptoms.
	Recognise terms.PhraseTable `json:"recognise"`
	// Symptoms maps a symptom to its name and the ordinals of its cases.
	Symptoms map[string]browserSymptom `json:"symptoms"`
	// Facets are the ways to narrow a result, and Labels the names of their values.
	Facets []string                     `json:"facets"`
	Labels map[string]map[string]string `json:"labels"`
	// ValueUnits is how a value's multiplier or unit is written as a word.
	ValueUnits map[string]string `json:"valueUnits"`
	// Ranking are the numbers of the formula; the search package explains them.
	Ranking map[string]float64 `json:"ranking"`
}

type browserCase struct {
	ID     string `json:"id"`
	Title  string `json:"title"`
	Device string `json:"device"`
	Cause  string `json:"cause,omitempty"`
	State  string `json:"state"`
	Sign   string `json:"sign"`
	Class  string `json:"class"`
	// Values are the ids by facet, in the order of search.FacetNames.
	Values [][]string `json:"values"`
}

type browserSymptom struct {
	Name  string `json:"name"`
	Cases []int  `json:"cases"`
}

// searchData is the index that the search page loads when somebody searches.
func (s *site) searchData() ([]byte, error) {
	ix := browserIndex{ValueUnits: search.ValueUnits, Facets: search.FacetNames, Labels: map[string]map[string]string{}, Words: map[string][]float64{}, Recognise: s.n.Terms.Phrases(terms.Symptom), Symptoms: map[string]browserSymptom{},
		Ranking: map[string]float64{"k1": search.K1, "b": search.B, "prefix": search.PrefixWeight, "typo": search.TypoWeight, "inPhrase": search.InPhrase, "symptom": search.SymptomWeight}}
	for i, c := range s.n.Cases {
		it := s.item("", c)
		b := browserCase{it.ID, it.Title, it.Device, it.Cause, it.State.Word, it.State.Sign, it.State.Class, nil}
		for _, facet := range search.FacetNames {
			values := search.Values(c, facet)
			if values == nil {
				values = []string{}
			}
			b.Values = append(b.Values, values)
			for _, id := range values {
				if ix.Labels[facet] == nil {
					ix.Labels[facet] = map[string]string{}
				}
				ix.Labels[facet][id] = search.FacetLabel(s.n, facet, id)
			}
		}
		ix.Cases = append(ix.Cases, b)
		frequency, length := map[string]float64{}, 0.0
		for _, f := range search.Fields {
			for _, t := range search.Analyze(search.Text(s.n, c, f)) {
				frequency[t.Term] += search.Weights[f]
				length += search.Weights[f]
			}
		}
		ix.Lengths = append(ix.Lengths, search.Round(length))
		for w, f := range frequency {
			ix.Words[w] = append(ix.Words[w], float64(i), search.Round(f))
		}
		for _, id := range search.Values(c, "symptom") {
			sym := ix.Symptoms[id]
			sym.Name = s.n.Terms.Name(terms.Symptom, id)
			sym.Cases = append(sym.Cases, i)
			ix.Symptoms[id] = sym
		}
	}
	return script("benchloreIndex", ix)
}

// script is a plain script that calls a function with data, since pages opened
// from a stick can load nothing else; the data is one string, which parses
// faster than a literal.
func script(function string, data any) ([]byte, error) {
	text, err := json.Marshal(data)
	if err != nil {
		return nil, err
	}
	quoted, err := json.Marshal(string(text)) // escapes <, > and & too
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	b.WriteString(function + "(")
	b.Write(quoted)
	b.WriteString(");\n")
	return b.Bytes(), nil
}
