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
//	P      = the fourth of an octave nearest to the mean of L, by ratio
//	q(t,d) = f * (k1 + 1) / (f + k1 * (1 - b + b * L(d) / P)), rounded to 1/16
//	idf(t) = ln(1 + (N - n + 0.5) / (n + 0.5))
//	s(t,d) = idf(t) * q(t,d)
//
// with N cases in all, n of them with the word, k1 = 2 and b = 0.75: BM25
// over weighted frequencies (Robertson, Zaragoza & Taylor 2004). The owner's words
// weigh 1, so that k1 means what it says. P in the place of the mean, and the
// rounding, let q be written down once for each case and word: the index and the
// page's postings hold it, and one edited case changes no other's.
//
// A word of the query may be read in several ways; each case counts the one
// that brings most, at this share of s:
//
//   - as it is, stemmed in the notebook's language (1; see queryStem);
//   - as another word of its group in [terms.Synonyms] (synonymWeight);
//   - as two words, where both parts are known and the case has both
//     (compoundWeight; the part that brings less counts);
//   - in English, where fewer than a hundred cases have it: as a word that means
//     nearly the same (nearWeight times the cosine; package nearness);
//   - where no case has it: as a slip (a letter too many, too few, wrong, or two
//     swapped, never the first; five characters or more and no digit;
//     typoWeight; two slips from eight characters on, slipsWeight), and when it
//     is the last one as the beginning of words (three characters or more;
//     prefixWeight). Only where nothing else fits the slip may be in the first letter.
//
// Two neighbours are also read as one word, and as a phrase of their synonyms. A
// number with its unit is one thing: a case has both or neither. A type that is
// written apart ("VM-2405", "a 40") is also looked for as one word.
// Words that together mean a symptom ("won't turn on") count inPhrase of their
// weight by themselves, and every case with that symptom gets symptomWeight
// times the symptom's idf.
//
// A query of three words or more also looks for the words that stand for the first
// cases it finds, at most five and one in forty (see lookAround). The score is the sum
// of it all, rounded to nine places behind the point; ties are broken by case id, the
// last first. What has less than a quarter of the best score shares a word and no more,
// and is not counted; where the best has less than three tenths of what was asked,
// nothing is close, and that is said.
//
// The numbers were chosen on the typed laptop and vacuum records, folds 1 to 4, by how
// many of the first ten have the fault type of the record asked with.
//
// The index lives in the notebook's .benchlore folder, may be deleted at any
// time, and is brought up to date by content hash.
package search

import (
	"bytes"
	"context"
	"encoding/gob"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/gofrs/flock"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// layout changes whenever documents are made in another way, so that an index
// of an older program is rebuilt.
const layout = "13"

// Index is an open search index over a loaded notebook. Close it after use.
type Index struct {
	n       *notebook.Notebook
	rows    rows
	partial bool // n holds no cases and no devices; they are read when they are shown
	store   *store
	file    *os.File             // of the store, where it is on disk
	found   map[string][]posting // words looked up before
	turn    *flock.Flock         // held while the index on disk is open
	Indexed int                  // cases that [Open] read
	Kept    int                  // cases that were up to date
	Rebuilt bool                 // the index on disk was damaged or of another version
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
	Total int
	// Close reports whether the best has a fair part of what was asked; where it has
	// not, what was found shares a word and no more.
	Close    bool
	Hits     []Hit
	Symptoms []*terms.Term // that the words were taken to mean
	Kind     *terms.Term   // of device that the words say, where a case found is of it; offered, never taken
	Facets   []Facet       // over all that was found, not only the hits
	// Nearest is the closest known symptom, and Words the closest words of the
	// notebook, when nothing was found.
	Nearest *terms.Term
	Words   []string
}

// Hit is a case that was found.
type Hit struct {
	Case    *notebook.Case
	Score   float64
	Matched []string  // words of the query that the case has, and symptom names
	Context []Snippet // where they stand
	Why     []Brought // what each brought to the score, as they were added
}

// Snippet is a piece of a field around matched words; Marks are byte ranges in
// order that do not touch each other's letters.
type Snippet struct {
	Field Field
	Text  string
	Marks [][2]int
}

// places are where the index of a notebook is kept: names that only this
// installation makes, so that an index which came along with the notebook is never
// opened.
type places struct {
	index, state, turn string
	inside             struct{ index, state, words, old string } // within the notebook
}

// placesIn gives the places; ok is false where nothing can be kept.
func placesIn(dir string) (p places, ok bool) {
	ok = dir != "" // which is the folder of nobody
	name := func(of string) string {
		inside, fine := disk.Derived(dir, of)
		ok = ok && fine
		return inside
	}
	p.inside.index, p.inside.state, p.inside.words, p.inside.old = name("postings"), name("index.gob"), name("words"), name("index")
	turn := name("turn")
	in := func(name string) string { return filepath.Join(dir, filepath.FromSlash(name)) }
	p.index, p.state, p.turn = in(p.inside.index), in(p.inside.state), in(turn)
	return p, ok
}

// OpenDir opens the index of a notebook folder. Where no file changed since the
// index was written, the cases are not read at all.
func OpenDir(dir string) (*Index, error) {
	at, kept := placesIn(dir)
	var turn *flock.Flock
	if kept {
		var err error
		if turn, err = acquire(at.turn, (*flock.Flock).TryRLockContext); err != nil {
			turn = nil // there is no index yet, or none that can be locked
		}
	}
	keep := false
	defer func() {
		if turn != nil && !keep {
			_ = turn.Unlock()
		}
	}()
	var s state
	reading := make(chan struct{}) // beside the look, which waits for the disk
	go func() {
		if kept {
			s = readState(at.state)
		}
		terms.Builtin() // which takes as long
		close(reading)
	}()
	look, err := notebook.TextFingerprintOf(dir)
	<-reading
	if err != nil {
		return nil, err
	}
	if turn != nil && s.trusts(look) {
		n, err := notebook.LoadSettings(dir)
		if err != nil {
			return nil, err
		}
		if lines, file, err := openFile(at.index, s.Made); err == nil {
			keep = true
			return &Index{n: n, store: lines, file: file, found: map[string][]posting{}, rows: s.Rows, partial: true,
				Kept: len(s.Rows.IDs), turn: turn}, nil
		}
	}
	if turn != nil {
		_ = turn.Unlock() // somebody may be waiting to write
		turn = nil
	}
	n, err := notebook.Load(dir)
	if err != nil {
		return nil, err
	}
	if err := n.Exists(); err != nil {
		return nil, err
	}
	return openWith(n, look)
}

// patience is how long a process waits for its turn at the index.
const patience = 10 * time.Second

// acquire locks the index: many may read it at a time, or one write.
func acquire(name string, lock func(f *flock.Flock, ctx context.Context, retry time.Duration) (bool, error)) (*flock.Flock, error) {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	turn := disk.LockFile(name)
	if ok, err := lock(turn, ctx, 20*time.Millisecond); err != nil || !ok {
		return nil, fmt.Errorf("the index is in use: %w", err)
	}
	return turn, nil
}

// Open opens the notebook's index, creates it when there is none, rebuilds it
// when it is damaged, and indexes what changed. A notebook that cannot be
// written to is indexed in memory.
func Open(n *notebook.Notebook) (*Index, error) { return openWith(n, notebook.Fingerprint{}) }

// openWith is [Open] with a look at the folder from before it was loaded.
func openWith(n *notebook.Notebook, look notebook.Fingerprint) (*Index, error) {
	at, kept := placesIn(n.Dir)
	if !kept || disk.Folder(n.Dir).MkdirAll(".benchlore") != nil || !writable(filepath.Join(n.Dir, ".benchlore")) {
		return Memory(n)
	}
	turn, err := acquire(at.turn, (*flock.Flock).TryLockContext)
	if err != nil {
		return Memory(n) // another process holds it; do not disturb
	}
	ix := &Index{n: n, rows: rowsOf(n), found: map[string][]posting{}, turn: turn}
	old := readState(at.state)
	f := loadForward(n, at.inside.words)
	ix.Indexed, ix.Kept = f.changed, len(n.Cases)-f.changed
	if !f.fresh {
		if lines, file, err := openFile(at.index, f.made); err == nil {
			if lines.whole() {
				ix.store, ix.file = lines, file
			} else {
				file.Close()
			}
		}
	}
	if ix.store == nil {
		ix.Rebuilt = len(old.Rows.IDs) > 0 && (!f.fresh || old.Layout != layout)
		f.save(n.Dir, at.inside.words)
		v := invert(n, f)
		data := appendStore(nil, f.made, v.words, v.forms)
		if err := disk.Folder(n.Dir).Write(at.inside.index, data); err == nil {
			ix.store, ix.file, _ = openFile(at.index, f.made) // else from memory
		}
		if ix.store == nil {
			if ix.store, err = inMemory(data); err != nil {
				return nil, err
			}
		}
		_ = disk.Folder(n.Dir).RemoveAll(at.inside.old) // of an older program
	}
	s := state{Layout: layout, Made: f.made, Rows: ix.rows, Fingerprint: look, Written: time.Now().UnixNano()}
	if f.fresh || old.Layout != layout || old.Made != s.Made || look.Newest != 0 {
		var b bytes.Buffer
		if err := gob.NewEncoder(&b).Encode(s); err != nil {
			return nil, err
		}
		if err := disk.Folder(n.Dir).Write(at.inside.state, b.Bytes()); err != nil {
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
	f := loadForward(n, "")
	v := invert(n, f)
	lines, err := inMemory(appendStore(nil, 0, v.words, v.forms))
	if err != nil {
		return nil, err
	}
	return &Index{n: n, rows: rowsOf(n), store: lines, found: map[string][]posting{}, Indexed: len(n.Cases)}, nil
}

// Terms returns the notebook's vocabulary.
func (ix *Index) Terms() *terms.Vocabulary { return ix.n.Terms }

// Close releases the index.
func (ix *Index) Close() error {
	if ix.turn != nil {
		defer ix.turn.Unlock()
	}
	if ix.file == nil {
		return nil
	}
	return ix.file.Close()
}

// Index is the lexicon of its own words.
func (ix *Index) size() int { return len(ix.rows.IDs) }

func (ix *Index) of(word string) ([]posting, error) {
	if list, ok := ix.found[word]; ok {
		return list, nil
	}
	line, ok, err := ix.store.line(wordLines, word)
	if err != nil {
		return nil, err
	}
	var list []posting
	if ok {
		if list, err = postingsOf(line); err != nil {
			return nil, err
		}
	}
	if len(list) > 0 && int(list[len(list)-1].ordinal) >= ix.size() {
		return nil, errDamaged
	}
	ix.found[word] = list
	return list, nil
}

func (ix *Index) forms(first rune) ([]string, error) {
	return ix.store.beginning(formLines, string(first))
}

func (ix *Index) all() ([]string, error) { return ix.store.all(formLines) }

func (ix *Index) written(form string) (bool, error) {
	_, ok, err := ix.store.line(formLines, form)
	return ok, err
}

// gist gives the words that stand for a case, and its length in tenths.
func (ix *Index) gist(ordinal int32) ([]weighed, int, error) {
	n, err := ix.holding([]ranked{{ordinal: ordinal}})
	if err != nil {
		return nil, 0, err
	}
	c, ok := n.Case(ix.rows.IDs[ordinal])
	if !ok {
		return nil, 0, fmt.Errorf("case %s is gone", ix.rows.IDs[ordinal])
	}
	has := contentOf(n, c)
	return gistOf(n.Terms.Language(), has.entries), max(has.length, 1), nil
}

// Find answers a query. With no words it lists what the filters leave, newest
// first.
func (ix *Index) Find(q Query) (*Result, error) {
	r, err := ix.find(q)
	if !errors.Is(err, errDamaged) || !ix.partial {
		return r, err
	}
	// Opened on trust, and damaged since: everything is read again, once.
	n, err := notebook.Load(ix.n.Dir)
	if err != nil {
		return nil, err
	}
	if err := ix.Close(); err != nil {
		return nil, err
	}
	anew, err := Open(n)
	if err != nil {
		return nil, err
	}
	*ix = *anew
	return ix.find(q)
}

func (ix *Index) find(q Query) (*Result, error) {
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
	var failed error
	lang, stem := ix.n.Terms.Language(), queryStem(ix, ix.n.Terms, &failed)
	tokens := cut(lang, q.Words, stem)
	tokens = tokens[:min(len(tokens), maxQuery)]
	phrases := ix.n.Terms.Recognise(terms.Symptom, q.Words)
	if failed != nil {
		return nil, fmt.Errorf("search: %w", failed)
	}
	for _, m := range phrases {
		if !slices.Contains(result.Symptoms, m.Term) {
			result.Symptoms = append(result.Symptoms, m.Term)
		}
	}
	if strings.TrimSpace(q.Words) != "" && len(tokens) == 0 && len(result.Symptoms) == 0 {
		return result, nil // punctuation alone
	}
	p, err := makePlan(ix, lang, stem, tokens, phrases, asked(q.Words))
	if err != nil {
		return nil, fmt.Errorf("search: %w", err)
	}
	passes := ix.rows.filter(q)
	var list []ranked
	if len(tokens) == 0 && len(phrases) == 0 {
		for o := int32(ix.size()) - 1; o >= 0; o-- {
			if passes(o) {
				list = append(list, ranked{ordinal: o})
			}
		}
	} else {
		list, err = p.lookAround(p.rank(passes), ix.gist)
		if err != nil {
			return nil, fmt.Errorf("search: %w", err)
		}
		list = thatMatter(list)
	}
	result.Total = len(list)
	result.Facets = ix.facets(list)
	result.Kind = ix.kindSaid(q, result.Facets)
	shown := best(list, q.Limit)
	result.Close = len(p.items) == 0 || len(shown) > 0 && p.isClose(shown[0].ordinal)
	n, err := ix.holding(shown)
	if err != nil {
		return nil, err
	}
	for _, r := range shown {
		if c, ok := n.Case(ix.rows.IDs[r.ordinal]); ok {
			result.Hits = append(result.Hits, hit(n, c, r.score, p.why(r.ordinal)))
		}
	}
	if result.Total == 0 {
		if id := ix.n.Terms.Nearest(terms.Symptom, q.Words); id != "" {
			result.Nearest, _ = ix.n.Terms.Lookup(terms.Symptom, id)
		}
		if result.Words, err = nearForms(ix, tokens); err != nil {
			return nil, fmt.Errorf("search: %w", err)
		}
	}
	return result, nil
}

// kindSaid gives the kind of device that the words of a query say, or the nearest wider
// one that a found case is of.
func (ix *Index) kindSaid(q Query, facets []Facet) *terms.Term {
	if q.Kind != "" || q.Device != "" {
		return nil
	}
	for _, m := range ix.n.Terms.Stated(q.Words) {
		if m.Class != terms.Kind {
			return nil
		}
		if !m.Said() {
			continue
		}
		for _, id := range ix.n.Terms.Widened(m.ID) {
			for _, f := range facets {
				if f.Name == "kind" && slices.ContainsFunc(f.Choices, func(c Count) bool { return c.ID == id }) {
					t, _ := ix.n.Terms.Lookup(terms.Kind, id)
					return t
				}
			}
		}
	}
	return nil
}

// holding returns a notebook that has the ranked cases.
func (ix *Index) holding(list []ranked) (*notebook.Notebook, error) {
	if !ix.partial {
		return ix.n, nil
	}
	var cases, devices []string
	for _, r := range list {
		cases = append(cases, ix.rows.Paths[r.ordinal])
		for _, id := range ix.rows.values(int(r.ordinal), deviceFacet) {
			if path := ix.rows.DevicePaths[id]; path != "" && !slices.Contains(devices, path) {
				devices = append(devices, path)
			}
		}
	}
	return ix.n.WithCases(cases, devices)
}

func hit(n *notebook.Notebook, c *notebook.Case, score float64, why []Brought) Hit {
	out := Hit{Case: c, Score: score, Matched: []string{}, Why: why}
	words := map[string][]Field{} // where each stands
	// Filler is not worth a mark where anything else was found.
	telling := slices.ContainsFunc(why, func(w Brought) bool { return w.How != byCompany && (w.How == bySymptom || !Filler(w.Word)) })
	for i, w := range why {
		if w.How == byCompany {
			continue // no word of the query
		}
		if telling && w.How != bySymptom && Filler(w.Word) {
			continue
		}
		if w.How == bySymptom {
			why[i].Word = n.Terms.Name(terms.Symptom, w.Asked)
		} else {
			for _, word := range strings.Fields(w.Word) {
				words[word] = nil
			}
		}
		if !slices.Contains(out.Matched, why[i].Word) {
			out.Matched = append(out.Matched, why[i].Word)
		}
	}
	for _, f := range Fields {
		text := Text(n, c, f)
		var marks [][2]int
		for _, t := range Analyze(n.Terms.Language(), text) {
			if in, ok := words[t.Term]; ok {
				marks = mark(marks, t)
				if !slices.Contains(in, f) {
					words[t.Term] = append(in, f)
				}
			}
		}
		if len(marks) > 0 && f != titleField && len(out.Context) < 3 {
			out.Context = append(out.Context, snippet(f, text, marks))
		}
	}
	for i, w := range why {
		if w.How != bySymptom && w.How != byCompany {
			for _, word := range strings.Fields(w.Word) {
				for _, f := range words[word] {
					if !slices.Contains(why[i].Fields, f) {
						why[i].Fields = append(why[i].Fields, f)
					}
				}
			}
		}
	}
	return out
}

// mark adds the place of a token. Tokens may share letters: 4k7 is a number and a
// unit, which are marked once.
func mark(marks [][2]int, t Token) [][2]int {
	if last := len(marks) - 1; last >= 0 && t.Start < marks[last][1] {
		marks[last][1] = max(marks[last][1], t.Stop)
		return marks
	}
	return append(marks, [2]int{t.Start, t.Stop})
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

// errUnknownTerm is returned for a filter that names no known word.
var errUnknownTerm = errors.New("unknown word")

// Resolve turns the filters that people typed into ids, or says which is
// unknown and what is nearest.
func (ix *Index) Resolve(q Query) (Query, error) {
	term := func(c terms.Class, word *string) error {
		if *word == "" {
			return nil
		}
		t, err := ix.n.FindTerm(c, *word)
		if err != nil {
			return fmt.Errorf("%w: %w", errUnknownTerm, err)
		}
		*word = t.ID
		return nil
	}
	for _, err := range []error{term(terms.Symptom, &q.Symptom), term(terms.Kind, &q.Kind), term(terms.Fault, &q.Fault),
		term(terms.Place, &q.At), term(terms.Action, &q.Action), term(terms.Outcome, &q.Outcome)} {
		if err != nil {
			return q, err
		}
	}
	names := ix.rows.DeviceNames
	if _, ok := names[q.Device]; q.Device != "" && !ok {
		ids := slices.Sorted(maps.Keys(names))
		for _, id := range ids {
			if strings.EqualFold(names[id], q.Device) {
				q.Device = id
				return q, nil
			}
		}
		return q, fmt.Errorf("%w: %q is not a known device%s", errUnknownTerm, q.Device,
			diagnostic.DidYouMean(terms.Nearest(q.Device, ids)))
	}
	return q, nil
}
