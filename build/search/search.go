// Package search finds past cases from a few words.
//
// [Open] brings the index of a notebook up to date and [Index.Find] answers a
// [Query]. The same ranking runs in the published page over exported postings;
// a test compares the two.
//
// # Ranking
//
// A document is a case, in the fields of [Fields]. For a case d and a word t,
//
//	f(t,d) = sum over fields of Weights[field] * tf(t, field of d)
//	L(d)   = sum over fields of Weights[field] * words in the field of d
//	idf(t) = ln(1 + (N - n + 0.5) / (n + 0.5))
//	s(t,d) = idf(t) * f * (k1 + 1) / (f + k1 * (1 - b + b * L(d) / mean L))
//
// with N cases in all, n of them with the word, k1 = 1.2 and b = 0.75 (BM25
// over weighted frequencies; Robertson, Zaragoza & Taylor 2004). The score is
// the sum over the distinct words of the query, where
//
//   - a word that no case has is looked for as the beginning of words, when it
//     is the last one and has three characters or more (weight [PrefixWeight]),
//     and with one slip (a letter too many, too few, wrong, or two swapped),
//     when it has five characters or more and no digit (weight [TypoWeight]);
//   - words that together mean a symptom ("won't turn on") count [InPhrase] of
//     their weight by themselves, and every case with that symptom gets
//     [SymptomWeight] times the symptom's idf.
//
// Ties are broken by case id, the newest first.
//
// The index lives in the notebook's .benchlore folder, may be deleted at any
// time, and is brought up to date by content hash.
package search

import (
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/blevesearch/bleve/v2"
	"github.com/blevesearch/bleve/v2/analysis"
	"github.com/blevesearch/bleve/v2/document"
	"github.com/blevesearch/bleve/v2/mapping"
	index "github.com/blevesearch/bleve_index_api"

	"benchlore/build/notebook"
	"benchlore/schema/terms"
)

// layout changes whenever documents are made in another way, so that an index
// of an older program is rebuilt.
const layout = "5"

// Index is an open search index over a loaded notebook. Close it after use.
type Index struct {
	n       *notebook.Notebook
	lengths map[string]float64
	words   []string // every word of the index, sorted; made when first needed
	bleve   bleve.Index
	Indexed int  // documents written by [Open]
	Kept    int  // documents that were up to date
	Rebuilt bool // the index on disk was damaged or of another version
}

// Query is what is looked for; empty filters match everything.
type Query struct {
	Words   string
	Symptom string // ids from the terms
	Device  string
	Kind    string
	Fault   string
	At      string // place
	Action  string // done with a part
	Outcome string
	Year    string
	Limit   int // 0 means 10
}

// Result is the answer to a query.
type Result struct {
	Total    int
	Hits     []Hit
	Symptoms []*terms.Term // that the words were taken to mean
	Facets   []Facet       // over all that was found, not only the hits
	// Nearest is the closest known symptom when nothing was found.
	Nearest *terms.Term
}

// Hit is a case that was found.
type Hit struct {
	Case    *notebook.Case
	Score   float64
	Matched []string  // words of the query that the case has, and symptom names
	Context []Snippet // where they stand
	Why     []Brought // what each brought to the score, as they were added
}

// Snippet is a piece of a field around matched words; Marks are byte ranges.
type Snippet struct {
	Field Field
	Text  string
	Marks [][2]int
}

type state struct {
	Layout string            `json:"layout"`
	Terms  string            `json:"terms"`
	Cases  map[string]string `json:"cases"` // id -> content hash with the device's
	// Lengths are L(d) by id.
	Lengths map[string]float64 `json:"lengths"`
}

// Open opens the notebook's index, creates it when there is none, rebuilds it
// when it is damaged, and indexes what changed. A notebook that cannot be
// written to is indexed in memory.
func Open(n *notebook.Notebook) (*Index, error) {
	dir := filepath.Join(n.Dir, ".benchlore")
	ix := &Index{n: n}
	if err := os.MkdirAll(dir, 0o755); err != nil || !writable(dir) {
		return ix, ix.inMemory()
	}
	path, statePath := filepath.Join(dir, "index"), filepath.Join(dir, "index.json")
	old := readState(statePath)
	want := wanted(n)
	if old.Layout == want.Layout && old.Terms == want.Terms {
		opened, err := bleve.OpenUsing(path, map[string]any{"bolt_timeout": "10s"})
		if err == nil {
			ix.bleve = opened
		} else if strings.Contains(err.Error(), "timeout") {
			return ix, ix.inMemory() // another process holds it; do not disturb
		}
	}
	if ix.bleve == nil {
		ix.Rebuilt = len(old.Cases) > 0
		old.Cases = nil
		_ = os.Remove(statePath)
		if err := os.RemoveAll(path); err != nil {
			return ix, ix.inMemory()
		}
		m, err := newMapping()
		if err != nil {
			return nil, err
		}
		if ix.bleve, err = bleve.New(path, m); err != nil {
			return ix, ix.inMemory()
		}
	}
	ix.lengths = old.Lengths
	if err := ix.update(old.Cases, want.Cases); err != nil {
		ix.bleve.Close()
		return nil, err
	}
	want.Lengths = ix.lengths
	if ix.Indexed > 0 || len(old.Cases) != len(want.Cases) {
		data, err := json.Marshal(want)
		if err != nil {
			return nil, err
		}
		if err := notebook.WriteFile(statePath, data); err != nil {
			return nil, err
		}
	}
	return ix, nil
}

func writable(dir string) bool {
	f, err := os.CreateTemp(dir, ".probe-*")
	if err != nil {
		return false
	}
	f.Close()
	return os.Remove(f.Name()) == nil
}

// Memory indexes the notebook in memory alone.
func Memory(n *notebook.Notebook) (*Index, error) {
	ix := &Index{n: n}
	return ix, ix.inMemory()
}

func (ix *Index) inMemory() error {
	m, err := newMapping()
	if err != nil {
		return err
	}
	if ix.bleve, err = bleve.NewMemOnly(m); err != nil {
		return err
	}
	return ix.update(nil, wanted(ix.n).Cases)
}

// Close releases the index.
func (ix *Index) Close() error { return ix.bleve.Close() }

func readState(path string) state {
	var s state
	data, err := os.ReadFile(path)
	if err != nil || json.Unmarshal(data, &s) != nil {
		return state{}
	}
	return s
}

func wanted(n *notebook.Notebook) state {
	s := state{Layout: layout, Terms: n.TermsHash(), Cases: make(map[string]string, len(n.Cases))}
	for _, c := range n.Cases {
		s.Cases[c.ID()] = hex.EncodeToString(c.Hash[:12]) + hex.EncodeToString(c.Device.Hash[:4])
	}
	return s
}

func newMapping() (mapping.IndexMapping, error) {
	m := bleve.NewIndexMapping()
	m.ScoringModel = index.BM25Scoring
	m.DefaultMapping = bleve.NewDocumentStaticMapping()
	return m, m.Validate()
}

// update writes what changed and deletes what is gone. Documents are built
// with our own analyzer and store nothing: every text can be read from its case.
func (ix *Index) update(old, want map[string]string) error {
	const batchSize = 500
	advanced, err := ix.bleve.Advanced()
	if err != nil {
		return err
	}
	batch := index.NewBatch()
	flush := func() error {
		if len(batch.IndexOps) == 0 {
			return nil
		}
		err := advanced.Batch(batch)
		batch = index.NewBatch()
		return err
	}
	if ix.lengths == nil {
		ix.lengths = map[string]float64{}
	}
	for _, c := range ix.n.Cases {
		if _, known := ix.lengths[c.ID()]; known && old[c.ID()] == want[c.ID()] && old[c.ID()] != "" {
			ix.Kept++
			continue
		}
		batch.Update(ix.document(c))
		ix.Indexed++
		if len(batch.IndexOps) >= batchSize {
			if err := flush(); err != nil {
				return err
			}
		}
	}
	for id := range old {
		if _, ok := want[id]; !ok {
			batch.Delete(id)
			delete(ix.lengths, id)
		}
	}
	return flush()
}

func (ix *Index) document(c *notebook.Case) *document.Document {
	doc := document.NewDocument(c.ID())
	length := 0.0
	for _, f := range Fields {
		if text := Text(ix.n, c, f); text != "" {
			doc.AddField(document.NewTextFieldCustom(string(f), nil, []byte(text), index.IndexField, analysis.Analyzer(analyzer{})))
			length += Weights[f] * float64(len(Analyze(text)))
		}
	}
	ix.lengths[c.ID()] = Round(length)
	return doc
}

// maxQuery bounds the words that are looked at; a query is a few words.
const maxQuery = 32

// Find answers a query. With no words it lists what the filters leave, newest
// first.
func (ix *Index) Find(q Query) (*Result, error) {
	if len(q.Words) > 2000 {
		q.Words = q.Words[:2000]
		for !utf8.ValidString(q.Words) && len(q.Words) > 1990 {
			q.Words = q.Words[:len(q.Words)-1]
		}
	}
	if q.Limit <= 0 {
		q.Limit = 10
	}
	result := &Result{Hits: []Hit{}}
	tokens := Analyze(q.Words)
	tokens = tokens[:min(len(tokens), maxQuery)]
	phrases := ix.n.Terms.Recognise(terms.Symptom, q.Words)
	for _, m := range phrases {
		if !slices.Contains(result.Symptoms, m.Term) {
			result.Symptoms = append(result.Symptoms, m.Term)
		}
	}
	if strings.TrimSpace(q.Words) != "" && len(tokens) == 0 && len(result.Symptoms) == 0 {
		return result, nil // punctuation alone
	}
	ranked, err := ix.rank(q, tokens, phrases, result.Symptoms)
	if err != nil {
		return nil, fmt.Errorf("search: %w", err)
	}
	result.Total = len(ranked)
	result.Facets = ix.facets(ranked)
	for _, r := range ranked[:min(q.Limit, len(ranked))] {
		result.Hits = append(result.Hits, ix.hit(r))
	}
	if result.Total == 0 {
		if id := ix.n.Terms.Nearest(terms.Symptom, q.Words); id != "" {
			result.Nearest, _ = ix.n.Terms.Lookup(terms.Symptom, id)
		}
	}
	return result, nil
}

func (ix *Index) hit(r ranked) Hit {
	c := r.c
	out := Hit{Case: c, Score: r.score, Matched: []string{}, Why: r.why}
	words := map[string]bool{}
	for _, w := range r.why {
		if w.How != BySymptom {
			words[w.Word] = true
		}
		if !slices.Contains(out.Matched, w.Word) {
			out.Matched = append(out.Matched, w.Word)
		}
	}
	for _, f := range Fields {
		text := Text(ix.n, c, f)
		var marks [][2]int
		for _, t := range Analyze(text) {
			if words[t.Term] {
				marks = append(marks, [2]int{t.Start, t.Stop})
			}
		}
		if len(marks) > 0 && f != Title && len(out.Context) < 3 {
			out.Context = append(out.Context, snippet(f, text, marks))
		}
	}
	return out
}

// snippetWidth is about one line of a terminal.
const snippetWidth = 110

// snippet cuts the piece of text around the first mark, at word ends.
func snippet(f Field, text string, marks [][2]int) Snippet {
	start := max(0, marks[0][0]-snippetWidth/3)
	for start > 0 && !(text[start-1] == ' ' || text[start-1] == '\n') {
		start--
	}
	stop := min(len(text), start+snippetWidth)
	for stop < len(text) && text[stop] != ' ' && text[stop] != '\n' {
		stop++
	}
	s := Snippet{Field: f}
	for _, m := range marks {
		if m[1] <= stop && m[0] >= start {
			s.Marks = append(s.Marks, [2]int{m[0] - start, m[1] - start})
		}
	}
	s.Text = strings.Map(func(r rune) rune {
		if r == '\n' || r == '\t' || r == '\r' {
			return ' '
		}
		return r
	}, text[start:stop])
	return s
}

// ErrUnknownTerm is returned for a filter that names no known word.
var ErrUnknownTerm = errors.New("unknown word")

// Resolve turns the filters that people typed into ids, or says which is
// unknown and what is nearest.
func (ix *Index) Resolve(q Query) (Query, error) {
	term := func(c terms.Class, word *string) error {
		if *word == "" {
			return nil
		}
		if t, ok := ix.n.Terms.Resolve(c, *word); ok {
			*word = t.ID
			return nil
		}
		hint := ""
		if near := ix.n.Terms.Nearest(c, *word); near != "" {
			hint = fmt.Sprintf("; did you mean %q?", near)
		}
		return fmt.Errorf("%w: %q is not a known %s%s", ErrUnknownTerm, *word, c.Singular(), hint)
	}
	for _, err := range []error{term(terms.Symptom, &q.Symptom), term(terms.Kind, &q.Kind), term(terms.Fault, &q.Fault),
		term(terms.Place, &q.At), term(terms.Action, &q.Action), term(terms.Outcome, &q.Outcome)} {
		if err != nil {
			return q, err
		}
	}
	if q.Device != "" {
		if _, ok := ix.n.Device(q.Device); !ok {
			var ids []string
			for _, d := range ix.n.Devices {
				ids = append(ids, d.ID)
				if strings.EqualFold(d.Name(ix.n.Terms), q.Device) {
					q.Device = d.ID
					return q, nil
				}
			}
			hint := ""
			if near := terms.Nearest(q.Device, ids); near != "" {
				hint = fmt.Sprintf("; did you mean %q?", near)
			}
			return q, fmt.Errorf("%w: %q is not a known device%s", ErrUnknownTerm, q.Device, hint)
		}
	}
	return q, nil
}
