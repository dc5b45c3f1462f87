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
	"bytes"
	"encoding/gob"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/blevesearch/bleve/v2"
	"github.com/blevesearch/bleve/v2/analysis"
	"github.com/blevesearch/bleve/v2/document"
	"github.com/blevesearch/bleve/v2/index/scorch"
	"github.com/blevesearch/bleve/v2/mapping"
	index "github.com/blevesearch/bleve_index_api"

	"benchlore/build/notebook"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// layout changes whenever documents are made in another way, so that an index
// of an older program is rebuilt.
const layout = "7"

// Index is an open search index over a loaded notebook. Close it after use.
type Index struct {
	n       *notebook.Notebook
	rows    map[string]row
	ids     []string          // of the rows, sorted
	names   map[string]string // of devices, by id
	partial bool              // n holds no cases; they are read when they are shown
	words   []string          // every word of the index, sorted; made when first needed
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

// row is what ranking needs of a case, kept beside the index so that a search
// reads only the cases that it shows.
type row struct {
	Path   string
	Hash   string     // of the case's content and its device's
	Length float64    // L(d)
	Values [][]string // by facet, in the order of FacetNames
}

type state struct {
	Layout  string
	Terms   string
	Rows    map[string]row    // by id
	Devices map[string]string // id -> name
	// Stamps and Written tell whether anything changed since; a file changed
	// shortly before Written is not trusted by its time.
	Stamps  map[string]notebook.Stamp
	Written int64
}

// safetyGap covers file systems that keep whole or even seconds.
const safetyGap = 3 * time.Second

// OpenDir opens the index of a notebook folder. Where no file changed since the
// index was written, the cases are not read at all.
func OpenDir(dir string) (*Index, error) {
	stamps, err := notebook.Stamps(dir)
	if err != nil {
		return nil, err
	}
	home := filepath.Join(dir, ".benchlore")
	s := readState(filepath.Join(home, stateName))
	if s.Layout == layout && s.trusts(stamps) {
		n, err := notebook.LoadSettings(dir)
		if err != nil {
			return nil, err
		}
		opened, err := bleve.OpenUsing(filepath.Join(home, "index"), map[string]any{"bolt_timeout": "10s", "read_only": true})
		if err == nil {
			ix := &Index{n: n, bleve: opened, rows: s.Rows, names: s.Devices, partial: true, Kept: len(s.Rows)}
			ix.sortIDs()
			return ix, nil
		}
	}
	n, err := notebook.Load(dir)
	if err != nil {
		return nil, err
	}
	if err := n.Exists(); err != nil {
		return nil, err
	}
	return openWith(n, stamps)
}

// trusts reports whether the stamps are the ones of the last run, and old
// enough then to be believed.
func (s *state) trusts(now map[string]notebook.Stamp) bool {
	if len(now) != len(s.Stamps) || len(s.Rows) == 0 {
		return false
	}
	for name, stamp := range now {
		if old, ok := s.Stamps[name]; !ok || old != stamp || stamp.Mod > s.Written-int64(safetyGap) {
			return false
		}
	}
	return true
}

const stateName = "index.gob"

// Open opens the notebook's index, creates it when there is none, rebuilds it
// when it is damaged, and indexes what changed. A notebook that cannot be
// written to is indexed in memory.
func Open(n *notebook.Notebook) (*Index, error) { return openWith(n, nil) }

// openWith is [Open] with the stamps of before the notebook was loaded.
func openWith(n *notebook.Notebook, stamps map[string]notebook.Stamp) (*Index, error) {
	dir := filepath.Join(n.Dir, ".benchlore")
	ix := &Index{n: n}
	if err := os.MkdirAll(dir, 0o755); err != nil || !writable(dir) {
		return ix, ix.inMemory()
	}
	path, statePath := filepath.Join(dir, "index"), filepath.Join(dir, stateName)
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
		ix.Rebuilt = len(old.Rows) > 0
		old.Rows = nil
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
	if err := ix.update(old.Rows, want); err != nil {
		ix.bleve.Close()
		return nil, err
	}
	want.Rows, want.Devices, want.Stamps, want.Written = ix.rows, ix.names, stamps, time.Now().UnixNano()
	if ix.Indexed > 0 || len(old.Rows) != len(want.Rows) || stamps != nil {
		var b bytes.Buffer
		if err := gob.NewEncoder(&b).Encode(want); err != nil {
			return nil, err
		}
		if err := notebook.WriteFile(statePath, b.Bytes()); err != nil {
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
	// The same engine as on disk, with no path; the library's memory-only kind
	// is another one, which counts frequencies differently.
	if ix.bleve, err = bleve.NewUsing("", m, scorch.Name, scorch.Name, nil); err != nil {
		return err
	}
	return ix.update(nil, wanted(ix.n))
}

// Terms returns the notebook's vocabulary.
func (ix *Index) Terms() *terms.Vocabulary { return ix.n.Terms }

// Close releases the index.
func (ix *Index) Close() error { return ix.bleve.Close() }

func readState(path string) state {
	var s state
	data, err := os.ReadFile(path)
	if err != nil || gob.NewDecoder(bytes.NewReader(data)).Decode(&s) != nil {
		return state{}
	}
	return s
}

// wanted is the state that a notebook should have, but for lengths.
func wanted(n *notebook.Notebook) state {
	s := state{Layout: layout, Terms: n.TermsHash(), Rows: make(map[string]row, len(n.Cases))}
	for _, c := range n.Cases {
		r := row{Path: c.Path, Hash: hex.EncodeToString(c.Hash[:12]) + hex.EncodeToString(c.Device.Hash[:4])}
		for _, facet := range FacetNames {
			r.Values = append(r.Values, Values(c, facet))
		}
		s.Rows[c.ID()] = r
	}
	return s
}

func (ix *Index) sortIDs() {
	ix.ids = slices.Sorted(maps.Keys(ix.rows))
}

func newMapping() (mapping.IndexMapping, error) {
	m := bleve.NewIndexMapping()
	m.ScoringModel = index.BM25Scoring
	m.DefaultMapping = bleve.NewDocumentStaticMapping()
	return m, m.Validate()
}

// update writes what changed and deletes what is gone. Documents are built
// with our own analyzer and store nothing: every text can be read from its case.
func (ix *Index) update(old map[string]row, want state) error {
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
	ix.rows, ix.names = want.Rows, map[string]string{}
	ix.sortIDs()
	for _, d := range ix.n.Devices {
		ix.names[d.ID] = d.Name(ix.n.Terms)
	}
	for _, c := range ix.n.Cases {
		r := ix.rows[c.ID()]
		if had, ok := old[c.ID()]; ok && had.Hash == r.Hash {
			r.Length = had.Length
			ix.rows[c.ID()] = r
			ix.Kept++
			continue
		}
		doc, length := ix.document(c)
		r.Length = length
		ix.rows[c.ID()] = r
		batch.Update(doc)
		ix.Indexed++
		if len(batch.IndexOps) >= batchSize {
			if err := flush(); err != nil {
				return err
			}
		}
	}
	for id := range old {
		if _, ok := want.Rows[id]; !ok {
			batch.Delete(id)
		}
	}
	return flush()
}

// document makes the indexed form of a case and returns its weighted length.
func (ix *Index) document(c *notebook.Case) (doc *document.Document, length float64) {
	doc = document.NewDocument(c.ID())
	for _, f := range Fields {
		if text := Text(ix.n, c, f); text != "" {
			doc.AddField(document.NewTextFieldCustom(string(f), nil, []byte(text), index.IndexField, analysis.Analyzer(analyzer{})))
			length += Weights[f] * float64(len(Analyze(text)))
		}
	}
	return doc, Round(length)
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
	shown := ranked[:min(q.Limit, len(ranked))]
	n, err := ix.holding(shown)
	if err != nil {
		return nil, err
	}
	for _, r := range shown {
		if c, ok := n.Case(r.id); ok {
			result.Hits = append(result.Hits, hit(n, c, r))
		}
	}
	if result.Total == 0 {
		if id := ix.n.Terms.Nearest(terms.Symptom, q.Words); id != "" {
			result.Nearest, _ = ix.n.Terms.Lookup(terms.Symptom, id)
		}
	}
	return result, nil
}

// holding returns a notebook that has the ranked cases.
func (ix *Index) holding(list []ranked) (*notebook.Notebook, error) {
	if !ix.partial {
		return ix.n, nil
	}
	var paths []string
	for _, r := range list {
		paths = append(paths, ix.rows[r.id].Path)
	}
	return ix.n.WithCases(paths)
}

func hit(n *notebook.Notebook, c *notebook.Case, r ranked) Hit {
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
		text := Text(n, c, f)
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
		return fmt.Errorf("%w: %q is not a known %s%s", ErrUnknownTerm, *word, c.Singular(), diagnostic.DidYouMean(ix.n.Terms.Nearest(c, *word)))
	}
	for _, err := range []error{term(terms.Symptom, &q.Symptom), term(terms.Kind, &q.Kind), term(terms.Fault, &q.Fault),
		term(terms.Place, &q.At), term(terms.Action, &q.Action), term(terms.Outcome, &q.Outcome)} {
		if err != nil {
			return q, err
		}
	}
	if q.Device != "" {
		if _, ok := ix.names[q.Device]; !ok {
			ids := slices.Sorted(maps.Keys(ix.names))
			for _, id := range ids {
				if strings.EqualFold(ix.names[id], q.Device) {
					q.Device = id
					return q, nil
				}
			}
			return q, fmt.Errorf("%w: %q is not a known device%s", ErrUnknownTerm, q.Device, diagnostic.DidYouMean(terms.Nearest(q.Device, ids)))
		}
	}
	return q, nil
}
