package site

import (
	"bytes"
	"encoding/json"
	"slices"
	"strings"

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
	// Phrases maps a stemmed phrase to the symptom it means; Symptoms maps a
	// symptom to its name and the ordinals of its cases.
	Phrases  map[string]string         `json:"phrases"`
	Symptoms map[string]browserSymptom `json:"symptoms"`
}

type browserCase struct {
	ID     string `json:"id"`
	Title  string `json:"title"`
	Device string `json:"device"`
	Cause  string `json:"cause,omitempty"`
	State  string `json:"state"`
	Sign   string `json:"sign"`
	Class  string `json:"class"`
}

type browserSymptom struct {
	Name  string `json:"name"`
	Cases []int  `json:"cases"`
}

// searchData is a plain script, since pages opened from a stick can load
// nothing else; the index is one string, which parses faster than a literal.
func (s *site) searchData() ([]byte, error) {
	ix := browserIndex{Words: map[string][]float64{}, Phrases: map[string]string{}, Symptoms: map[string]browserSymptom{}}
	for i, c := range s.n.Cases {
		it := s.item("", c)
		ix.Cases = append(ix.Cases, browserCase{it.ID, it.Title, it.Device, it.Cause, it.State.Word, it.State.Sign, it.State.Class})
		frequency, length := map[string]float64{}, 0.0
		for _, f := range search.Fields {
			for _, t := range search.Analyze(search.Text(s.n, c, f)) {
				frequency[t.Term] += search.Weights[f]
				length += search.Weights[f]
			}
		}
		ix.Lengths = append(ix.Lengths, round(length))
		for w, f := range frequency {
			ix.Words[w] = append(ix.Words[w], float64(i), round(f))
		}
		for _, id := range c.File.Case.Symptoms {
			sym := ix.Symptoms[id]
			sym.Name = s.n.Terms.Name(terms.Symptom, id)
			sym.Cases = append(sym.Cases, i)
			ix.Symptoms[id] = sym
		}
	}
	for _, t := range s.n.Terms.All(terms.Symptom) {
		if _, used := ix.Symptoms[t.ID]; !used {
			continue
		}
		for _, phrase := range slices.Concat([]string{t.Name}, t.Also) {
			var words []string
			for _, w := range search.Analyze(phrase) {
				words = append(words, w.Term)
			}
			if key := strings.Join(words, " "); key != "" && ix.Phrases[key] == "" {
				ix.Phrases[key] = t.ID
			}
		}
	}
	data, err := json.Marshal(ix)
	if err != nil {
		return nil, err
	}
	quoted, err := json.Marshal(string(data)) // escapes <, > and & too
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	b.WriteString("benchloreIndex(")
	b.Write(quoted)
	b.WriteString(");\n")
	return b.Bytes(), nil
}

func round(x float64) float64 { return float64(int(x*10+0.5)) / 10 }
