package search

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/build/reason/nearness"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/language"
	"benchlore/schema/terms"
)

func example(t testing.TB) *notebook.Notebook {
	t.Helper()
	return workshop.Load(t)
}

func load(t testing.TB, dir string) *notebook.Notebook {
	t.Helper()
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	return n
}

func open(t testing.TB, n *notebook.Notebook) *Index {
	t.Helper()
	ix, err := Open(n)
	require.NoError(t, err)
	t.Cleanup(func() { ix.Close() })
	return ix
}

func find(t testing.TB, ix *Index, q Query) []string {
	t.Helper()
	r, err := ix.Find(q)
	require.NoError(t, err)
	var ids []string
	for _, h := range r.Hits {
		ids = append(ids, h.Case.ID())
		assert.NotEmpty(t, h.Matched, "%s does not say what matched", h.Case.ID())
	}
	return ids
}

var english = language.Of(language.English)

func TestAnalyze(t *testing.T) {
	for text, want := range map[string]string{
		"The fan won't turn":    "fan wont turn",
		"R41: 4,7 kΩ and C12":   "r41 4.7 kohm c12",
		"charging CHARGED":      "charg charg",
		"0.22 µF, 10\u202fkΩ":   "0.22 uf 10 kohm",
		"4k7 4.7k 4.7kΩ 4,7 kΩ": "4.7 kohm 4.7 kohm 4.7 kohm 4.7 kohm",
		"2n2 100n 3V3 0R1 56pF": "2.2 nf 100 nf 3.3 v 0.1 ohm 56 pf",
		"C12 TP3 R47 2N3904 1x": "c12 tp3 r47 2n3904 1x",
		"soft-start USB-C":      "soft start usb c",
		"":                      "",
		"—…🙂":                   "",
		"Größe 1.2.3":           "größe 1.2.3",
		"trailing apostrophes'": "trail apostroph",
	} {
		var got []string
		for _, tok := range Analyze(english, text) {
			got = append(got, tok.Term)
			assert.NotEmpty(t, text[tok.Start:tok.Stop])
		}
		assert.Equal(t, want, strings.Join(got, " "), text)
	}
}

// TestStem pins the stemmer to words of the Snowball project's vocabulary
// (English, before version 3.0).
func TestStem(t *testing.T) {
	for word, want := range map[string]string{"consigned": "consign", "consistency": "consist",
		"knackeries": "knackeri", "knightly": "knight",
		"battery": "batteri", "charging": "charg", "corroded": "corrod", "generously": "generous", "news": "news",
		"only": "onli", "dying": "die",
		"skies": "sky", "herring": "herring", "succeed": "succeed", "intermittent": "intermitt", "evening": "even"} {
		assert.Equal(t, want, english.Stem(word))
	}
}

// TestSynonyms: the words of one symptom find the same cases.
func TestSynonyms(t *testing.T) {
	ix := open(t, example(t))
	want := find(t, ix, Query{Symptom: "no-power", Words: "no power", Limit: 50})
	require.Len(t, want, 7)
	for _, words := range []string{"won't turn on", "dead", "no power", "will not switch on"} {
		got := find(t, ix, Query{Words: words, Limit: 50})
		assert.Subset(t, got[:min(8, len(got))], want, "%s: cases with the words themselves may stand between", words)
	}
}

func TestFindAndNarrow(t *testing.T) {
	ix := open(t, example(t))
	assert.Equal(t, "2025-0002", find(t, ix, Query{Words: "hum in both channels"})[0])
	assert.Equal(t, "2026-0010", find(t, ix, Query{Words: "restarts when knocked"})[0])
	assert.Equal(t, "2026-0005", find(t, ix, Query{Words: "9M9"})[0], "a value is found in any form")
	assert.Equal(t, "2026-0012", find(t, ix, Query{Words: "9k9"})[0])
	assert.Equal(t, "2025-0010", find(t, ix, Query{Words: "C341"})[0], "a designator is found as it is")
	for _, q := range []Query{{Kind: "amplifier", Words: "amplifier"}, {At: "relay", Words: "relay"}, {Action: "bridged", Words: "wire"}} {
		for _, id := range find(t, ix, q) {
			c, _ := ix.n.Case(id)
			k := c.File.Case
			switch {
			case q.Kind != "":
				assert.Equal(t, q.Kind, c.Device.Kind)
			case q.At != "":
				assert.Equal(t, q.At, k.Cause.At)
			default:
				assert.Contains(t, []string{"2025-0020", "2026-0006", "2026-0019"}, id)
			}
		}
	}
	all := find(t, ix, Query{Words: "lamp flickers", Limit: 50})
	assert.Equal(t, []string{"2025-0015"}, find(t, ix, Query{Words: "lamp flickers", Fault: "part-wrong"}))
	assert.Greater(t, len(all), 1)
	for _, id := range find(t, ix, Query{Words: "laptop", Year: "2026", Limit: 50}) {
		assert.True(t, strings.HasPrefix(id, "2026"), id)
	}
	assert.ElementsMatch(t, []string{"2025-0008", "2026-0009", "2026-0011", "2026-0012", "2026-0024"}, func() []string {
		r, err := ix.Find(Query{Outcome: "end-of-life"})
		require.NoError(t, err)
		var ids []string
		for _, h := range r.Hits {
			ids = append(ids, h.Case.ID())
		}
		return ids
	}())
	assert.ElementsMatch(t, []string{"2025-0002", "2025-0021", "2026-0001", "2026-0013"},
		find(t, ix, Query{Words: "amplifier", Device: "tarnwick-a40"}))
}

func TestFindNothing(t *testing.T) {
	ix := open(t, example(t))
	for _, words := range []string{"xyzzy", "!!! ...", strings.Repeat("q ", 50_000), "\u202eabc", "<script>", "+-&&||!(){}[]^\"~*?:\\/"} {
		r, err := ix.Find(Query{Words: words})
		require.NoError(t, err, words[:min(len(words), 20)])
		assert.Zero(t, r.Total, words[:min(len(words), 20)])
	}
	r, err := ix.Find(Query{Words: "vibratess"})
	require.NoError(t, err)
	require.NotNil(t, r.Nearest)
	assert.Equal(t, "vibrates", r.Nearest.ID)
	assert.ElementsMatch(t, []string{"2025-0015", "2025-0005"}, find(t, ix, Query{Words: "flikcer"})[:2], "one slip is forgiven")
}

func TestResolve(t *testing.T) {
	ix := open(t, example(t))
	q, err := ix.Resolve(Query{Symptom: "won't turn on", Fault: "dry joint", Outcome: "Fixed", Device: "Tarnwick A40"})
	require.NoError(t, err)
	assert.Equal(t, Query{Symptom: "no-power", Fault: "joint-cracked", Outcome: "fixed", Device: "tarnwick-a40"}, q)
	_, err = ix.Resolve(Query{Fault: "joint-craked"})
	assert.ErrorIs(t, err, errUnknownTerm)
	assert.ErrorContains(t, err, `did you mean "joint-cracked"?`)
	_, err = ix.Resolve(Query{Device: "tarnwick-a4"})
	assert.ErrorContains(t, err, `did you mean "tarnwick-a40"?`)
}

// TestUpToDate: only what changed is indexed, what is gone is forgotten, and a
// damaged index is rebuilt.
func TestUpToDate(t *testing.T) {
	n := example(t)
	reopen := func() *Index {
		ix, err := Open(load(t, n.Dir))
		require.NoError(t, err)
		return ix
	}
	ix := reopen()
	assert.Equal(t, len(n.Cases), ix.Indexed)
	require.NoError(t, ix.Close())
	ix = reopen()
	assert.Zero(t, ix.Indexed)
	assert.Equal(t, len(n.Cases), ix.Kept)
	require.NoError(t, ix.Close())

	c, _ := n.Case("2025-0016")
	edited, err := c.Set("title", "Radio with a zebrafish inside")
	require.NoError(t, err)
	require.NoError(t, disk.WriteFile(filepath.Join(n.Dir, c.Path), edited.Bytes()))
	gone, _ := n.Case("2025-0002")
	require.NoError(t, os.Remove(filepath.Join(n.Dir, gone.Path)))
	ix = reopen()
	assert.Equal(t, 1, ix.Indexed)
	assert.Equal(t, []string{"2025-0016"}, find(t, ix, Query{Words: "zebrafish"}))
	assert.NotContains(t, find(t, ix, Query{Words: "hum in both channels", Limit: 50}), "2025-0002")
	require.NoError(t, ix.Close())

	require.NoError(t, filepath.WalkDir(func() string { at, _ := placesIn(n.Dir); return at.index }(),
		func(p string, e os.DirEntry, err error) error {
			if err == nil && !e.IsDir() {
				return os.WriteFile(p, []byte("damaged"), 0o644)
			}
			return err
		}))
	ix = reopen()
	assert.True(t, ix.Rebuilt)
	assert.Equal(t, []string{"2025-0016"}, find(t, ix, Query{Words: "zebrafish"}))
	require.NoError(t, ix.Close())
}

// TestSnippetsAreWhole: marks lie inside their text, one after the other.
func TestSnippetsAreWhole(t *testing.T) {
	ix := open(t, example(t))
	for _, words := range []string{"capacitor", "rail voltage", "Ω", "adapter under load 12 V", "3.3V", "3V3", "+3V3",
		"2k2", "2,18k", "47u", "220uF/400V"} {
		r, err := ix.Find(Query{Words: words, Limit: 50})
		require.NoError(t, err)
		for _, h := range r.Hits {
			for _, s := range h.Context {
				at := 0
				for _, m := range s.Marks {
					assert.LessOrEqual(t, at, m[0], "%q twice in %q", s.Text[m[0]:m[1]], s.Text)
					assert.Less(t, m[0], m[1])
					assert.LessOrEqual(t, m[1], len(s.Text))
					at = m[1]
				}
				assert.NotContains(t, s.Text, "\n")
			}
		}
	}
}

func FuzzFind(f *testing.F) {
	ix, err := Memory(workshop.Load(f))
	require.NoError(f, err)
	f.Add("won't turn on")
	f.Add("4,7 kΩ C12 \u0301")
	f.Fuzz(func(t *testing.T, words string) {
		if _, err := ix.Find(Query{Words: words}); err != nil {
			t.Fatal(err)
		}
	})
}

// TestInMemoryIsTheSame: a notebook that cannot be written to gets the same
// answers.
func TestInMemoryIsTheSame(t *testing.T) {
	n := example(t)
	memory, err := Memory(n)
	require.NoError(t, err)
	t.Cleanup(func() { memory.Close() })
	disk := open(t, n)
	for _, words := range []string{"lamp flickers", "hum in both channels", "cracked joint", "capacitor", "C341", "amplifer"} {
		a, err := memory.Find(Query{Words: words, Limit: 50})
		require.NoError(t, err)
		b, err := disk.Find(Query{Words: words, Limit: 50})
		require.NoError(t, err)
		require.Equal(t, b.Total, a.Total, words)
		for i := range a.Hits {
			assert.Equal(t, b.Hits[i].Case.ID(), a.Hits[i].Case.ID(), words)
			assert.InEpsilon(t, b.Hits[i].Score, a.Hits[i].Score, 1e-12, words)
		}
	}
}

// TestOpenDir: where nothing changed the cases are not read, the answers are
// the same, and any change is noticed.
func TestOpenDir(t *testing.T) {
	n := example(t)
	ask := func(q Query) (*Index, []string) {
		ix, err := OpenDir(n.Dir)
		require.NoError(t, err)
		defer ix.Close()
		return ix, find(t, ix, q)
	}
	old := time.Now().Add(-time.Hour)
	require.NoError(t, filepath.WalkDir(n.Dir, func(p string, e os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		return os.Chtimes(p, old, old)
	}))
	q := Query{Words: "hum in both channels", Limit: 50}
	ix, first := ask(q)
	assert.False(t, ix.partial, "the first time everything is read")
	ix, second := ask(q)
	assert.True(t, ix.partial)
	assert.Equal(t, first, second)
	full, err := Memory(n)
	require.NoError(t, err)
	t.Cleanup(func() { full.Close() })
	for _, q := range []Query{{Words: "lamp flickers"}, {Words: "wire", Action: "bridged"}, {Outcome: "end-of-life"},
		{Words: "won't turn on", Limit: 3}} {
		a, err := full.Find(q)
		require.NoError(t, err)
		fast, err := OpenDir(n.Dir)
		require.NoError(t, err)
		b, err := fast.Find(q)
		require.NoError(t, err)
		require.NoError(t, fast.Close())
		assert.Equal(t, a.Total, b.Total)
		assert.Equal(t, a.Facets, b.Facets)
		require.Len(t, b.Hits, len(a.Hits))
		for i := range a.Hits {
			assert.Equal(t, a.Hits[i].Case.ID(), b.Hits[i].Case.ID())
			assert.InEpsilon(t, a.Hits[i].Score+1, b.Hits[i].Score+1, 1e-12)
			assert.Equal(t, a.Hits[i].Context, b.Hits[i].Context)
		}
	}

	// A changed file, also one changed just now to the same length.
	c, _ := n.Case("2025-0016")
	path := filepath.Join(n.Dir, c.Path)
	edited, err := c.Set("title", "Radio zebrafish when the volume turned")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, edited.Bytes(), 0o644))
	ix, ids := ask(Query{Words: "zebrafish"})
	assert.False(t, ix.partial)
	assert.Equal(t, []string{"2025-0016"}, ids)
	ix, _ = ask(Query{Words: "zebrafish"})
	assert.False(t, ix.partial, "a file changed seconds ago is not trusted by its time")
	require.NoError(t, os.Chtimes(path, old, old))
	ask(Query{Words: "zebrafish"})
	ix, ids = ask(Query{Words: "zebrafish"})
	assert.True(t, ix.partial)
	assert.Equal(t, []string{"2025-0016"}, ids)
	require.NoError(t, os.Remove(path))
	ix, ids = ask(Query{Words: "zebrafish"})
	assert.False(t, ix.partial)
	assert.Empty(t, ids)

	// A damaged list is noticed and made anew.
	require.NoError(t, os.WriteFile(func() string { at, _ := placesIn(n.Dir); return at.state }(), []byte("damaged"), 0o644))
	ix, ids = ask(q)
	assert.False(t, ix.partial)
	assert.NotEmpty(t, ids)
}

// TestCompounds: one word, two words and a hyphen are the same; so are the
// trade's short forms.
func TestCompoundsAndShortForms(t *testing.T) {
	lex := mapLexicon{}
	lex.put("soft start resistor", "softstart relay", "soft-start triac", "power supply hums", "PSU dead",
		"electrolytic cap bulged", "capacitor open", "MOSFET shorted", "heatsink loose")
	for query, want := range map[string][]int32{
		"softstart": {0, 1, 2}, "soft start": {0, 1, 2}, "soft-start": {0, 1, 2},
		"psu": {3, 4}, "power supply": {3, 4}, "cap": {5, 6}, "capacitors": {5, 6}, "fet": {7}, "heat sink": {8}, "heat-sinks": {8},
		"capcaitor": {6}, "capaci": {6}, "softstrat": {1}, "sotf": {}, "apcacitor": {}, "xapacitor": {6}, "psuu": {},
		"capcaitr": {6}, "eletcrolytik": {5}, "xapcaitor": {},
	} {
		p, err := makePlan(lex, english, english.Stem, Analyze(english, query), nil, asked(query))
		require.NoError(t, err)
		for i := range p.items { // nearness is tested by itself
			p.items[i].readings = slices.DeleteFunc(p.items[i].readings, func(r *reading) bool { return r.how == byNear })
		}
		got := []int32{}
		for _, r := range p.rank(func(int32) bool { return true }) {
			got = append(got, r.ordinal)
		}
		slices.Sort(got)
		assert.Equal(t, want, got, query)
	}
	words, err := nearForms(lex, Analyze(english, "capacotors"))
	require.NoError(t, err)
	assert.Equal(t, []string{"capacitor"}, words)
}

// mapLexicon is a few texts, each a case of the pivot's length.
type mapLexicon struct {
	words  map[string][]posting
	listed []string
	n      int
}

func (m mapLexicon) all() ([]string, error) { return m.listed, nil }

func (m *mapLexicon) put(texts ...string) {
	m.words, m.n = map[string][]posting{}, len(texts)
	for i, text := range texts {
		for _, t := range Analyze(english, text) {
			m.words[t.Term] = append(m.words[t.Term], posting{int32(i), levelOf(10, 10, 1)})
			m.listed = append(m.listed, t.form)
		}
	}
	slices.Sort(m.listed)
	m.listed = slices.Compact(m.listed)
}

func (m mapLexicon) of(word string) ([]posting, error) { return m.words[word], nil }
func (m mapLexicon) written(string) (bool, error)      { return true, nil }
func (m mapLexicon) size() int                         { return m.n }
func (m mapLexicon) forms(first rune) ([]string, error) {
	return slices.DeleteFunc(slices.Clone(m.listed), func(w string) bool { return !strings.HasPrefix(w, string(first)) }), nil
}

// TestTurns: processes that open one index at the same time take turns, and all
// answer the same.
func TestTurns(t *testing.T) {
	if dir := os.Getenv("BENCHLORE_TEST_TURN"); dir != "" { // one of the processes
		ix, err := OpenDir(dir)
		require.NoError(t, err)
		defer ix.Close()
		r, err := ix.Find(Query{Words: "hum in both channels"})
		require.NoError(t, err)
		require.NotEmpty(t, r.Hits)
		fmt.Printf("found %s of %d\n", r.Hits[0].Case.ID(), r.Total)
		return
	}
	n := example(t)
	var wg sync.WaitGroup
	answers := make([]string, 4)
	for i := range answers {
		wg.Go(func() {
			c := exec.Command(os.Args[0], "-test.run", "^TestTurns$", "-test.v")
			c.Env = append(os.Environ(), "BENCHLORE_TEST_TURN="+n.Dir)
			out, err := c.CombinedOutput()
			assert.NoError(t, err, string(out))
			answers[i] = regexp.MustCompile(`found .*`).FindString(string(out))
		})
	}
	wg.Wait()
	for _, a := range answers {
		assert.Equal(t, answers[0], a)
		assert.Contains(t, a, "found 2025-0002")
	}
	ix := open(t, load(t, n.Dir))
	assert.Equal(t, len(n.Cases), ix.Kept, "the index is whole")
	assert.False(t, ix.Rebuilt)
}

// TestWholeThings: types in any spelling, a value that is not every value of its unit,
// slips, and nothing that is close.
func TestWholeThings(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "cases"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "notebook.yaml"), []byte("name: W\n"), 0o644))
	for i, text := range []string{"The VM-2405 hums", "The VM2406 hums", "VM 2407 hums at 12 V",
		"R5 was 4.7 kΩ and is open", "R6 was 10 kΩ and is open", "R7 was 4,7k", "R8 10 kΩ at 4.7 V", "The loudspeaker crackles",
		"The display stays dark, the backlight is lit", "A worn potentiometer", "Something else"} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "cases", fmt.Sprintf("2026-%04d.md", i+1)),
			[]byte(fmt.Sprintf("---\ncase: 2026-%04d\ntitle: T\ndevice: {kind: misc}\nopened: 2026-01-02\nsymptoms: []\n---\n## Symptom\n\n%s\n", i+1, text)), 0o644))
	}
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	ix, err := Memory(n)
	require.NoError(t, err)
	defer ix.Close()
	for query, want := range map[string][]string{
		"VM2405": {"2026-0001"}, "vm-2405": {"2026-0001"}, "vm 2405": {"2026-0001"}, "VM2407": {"2026-0003"},
		"4k7": {"2026-0004", "2026-0006"}, "4.7 kΩ": {"2026-0004", "2026-0006"}, "4,7 kohm": {"2026-0004", "2026-0006"},
		"loudspaeker": {"2026-0008"}, "loudspeakr": {"2026-0008"}, "lodspeakr": {"2026-0008"},
		"poudspeaker": {"2026-0008"}, "oudspeaker": {"2026-0008"}, "potentimeter": {"2026-0010"}, "potentometr": {"2026-0010"},
	} {
		got := find(t, ix, Query{Words: query})
		slices.Sort(got)
		if strings.Contains(query, "k") && query[0] == '4' {
			got = slices.DeleteFunc(got, func(id string) bool { return id == "2026-0007" }) // both stand there, in two values
		}
		assert.Equal(t, want, got, query)
		assert.NotContains(t, got, "2026-0005", "a value is not every value of its unit")
	}
	for _, query := range []string{"VM-2406", "vm 2406", "vm2406"} {
		assert.Equal(t, "2026-0002", find(t, ix, Query{Words: query})[0], query)
		r, err := ix.Find(Query{Words: query})
		require.NoError(t, err)
		assert.True(t, r.Close, query)
	}
	close := func(words string) bool {
		r, err := ix.Find(Query{Words: words})
		require.NoError(t, err)
		return r.Close
	}
	assert.True(t, close("loudspeaker crackles"))
	assert.False(t, close("zither xylophone quokka hums"))
}

// TestNearWords: a word that no case has finds what means nearly the same, and says so.
func TestNearWords(t *testing.T) {
	lex := mapLexicon{}
	lex.put("a loud crackle", "smoke and a burnt part", "water in the tray")
	for query, want := range map[string]int32{"buzz": 0, "smell": 1, "leak": 2} {
		p, err := makePlan(lex, english, english.Stem, Analyze(english, query), nil, nil)
		require.NoError(t, err)
		list := p.rank(func(int32) bool { return true })
		require.Len(t, list, 1, query)
		assert.Equal(t, want, list[0].ordinal, query)
		assert.Equal(t, byNear, p.why(want)[0].How)
		assert.Contains(t, p.why(want)[0].String(), "near in meaning to")
	}
	assert.Contains(t, nearness.Of("buzz"), nearness.Near{Word: "crackl", Share: 70})
	// What says little by itself is not widened: "after" would find every "year".
	lex = mapLexicon{}
	lex.put("a year of use", "after a knock")
	require.NotEmpty(t, nearness.Of("after"))
	p, err := makePlan(lex, english, english.Stem, Analyze(english, "after"), nil, nil)
	require.NoError(t, err)
	list := p.rank(func(int32) bool { return true })
	require.Len(t, list, 1)
	assert.Equal(t, int32(1), list[0].ordinal)
}

// TestSynonymsInOtherLanguages: every group of the trade's words has two that can be told
// apart, none is in two groups, and one finds another in its language alone.
func TestSynonymsInOtherLanguages(t *testing.T) {
	for _, tag := range []string{language.English, "de", "fr"} {
		l := language.Of(tag)
		groups := terms.Synonyms(tag)
		require.Greater(t, len(groups), 30, tag)
		of := map[string]int{}
		for i, group := range groups {
			distinct := map[string]bool{}
			for _, text := range group {
				var words []string
				for _, token := range Analyze(l, text) {
					words = append(words, token.Term)
				}
				key := strings.Join(words, " ")
				assert.NotEmpty(t, key, "%s: %s", tag, text)
				assert.LessOrEqual(t, len(words), 3, "%s: %s", tag, text)
				distinct[key] = true
				if first, ok := of[key]; ok && tag != language.English {
					assert.Equal(t, first, i, "%s: %s is in two groups", tag, text)
				}
				of[key] = i
			}
			assert.Greater(t, len(distinct), 1, "%s: %v", tag, group)
		}
	}
	for tag, c := range map[string][2]string{"de": {"Elko", "der Elektrolytkondensator war trocken"}, "fr": {"transfo", "le transformateur est coupé"}} {
		for _, other := range []string{tag, "es"} {
			n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\nlanguage: " + other + "\n",
				"cases/2026/2026-0001.md": "---\ncase: 2026-0001\ntitle: X\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: []\n---\n## Outcome\n\n" + c[1] + "\n"})
			r, err := open(t, n).Find(Query{Words: c[0]})
			require.NoError(t, err)
			known := false
			for _, h := range r.Hits {
				known = known || h.Why[0].How == bySynonym
			}
			assert.Equal(t, other == tag, known, "%s in %s", c[0], other)
		}
	}
}
