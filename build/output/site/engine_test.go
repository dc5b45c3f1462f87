package site

import (
	"encoding/json"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"unicode/utf8"

	testbrowser "benchlore/build/testkit/browser"
	"benchlore/build/testkit/long"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/reason/search"
	"benchlore/schema/language"
	"benchlore/theme"
)

// engine runs the site's scripts in a page of their own, its shards read from the
// published folder, and notes which were asked for.
type engine struct {
	b     *browser
	mu    sync.Mutex
	asked []string
	bytes int
}

// glue stands in for the page: it runs a shard's script when it is asked for.
const glue = `
const arrived = new Map();
globalThis.benchloreShard = (name, text) => arrived.set(name, text);
globalThis.benchloreRoot = (data) => arrived.set("root", data);
const fetchShard = async (name) => { const src = await (await fetch("search/" + name)).text(); if (src === "") throw new Error(name); (0, eval)(src); return arrived.get(name); };
globalThis.rank = null;
globalThis.benchloreOpen = async () => { arrived.clear(); const root = await fetchShard("root"); rank = benchloreRank(root, fetchShard); };
globalThis.benchloreFind = async (query, filters = {}, limit = 10) => {
  const { total, best, close } = await rank.find(query, filters, limit);
  const hits = [];
  for (const [o, score] of best) hits.push([(await rank.card(o))[0], score]);
  return { total, close, hits };
};
globalThis.benchloreOffers = async (query) => [await rank.offers(query), await rank.nearest(rank.analyze(query))];
`

func startEngine(t testing.TB, out string) *engine {
	t.Helper()
	e := &engine{}
	pages := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", "no-store")
		name, ok := strings.CutPrefix(r.URL.Path, "/search/")
		if !ok {
			w.Header().Set("Content-Type", "text/html")
			return
		}
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		data, err := os.ReadFile(filepath.Join(out, "search", name+".js"))
		if err != nil {
			return
		}
		e.mu.Lock()
		defer e.mu.Unlock()
		e.asked, e.bytes = append(e.asked, name), e.bytes+len(data)
		_, _ = w.Write(data)
	}))
	t.Cleanup(pages.Close)
	e.b = startBrowser(t)
	e.b.Do(t, chromedp.Navigate(pages.URL))
	for _, name := range []string{"stem.js", "read.js", "rank.js"} {
		src, err := os.ReadFile(filepath.Join(out, "assets", name))
		require.NoError(t, err)
		e.eval(t, string(src))
	}
	e.eval(t, glue)
	e.open(t)
	return e
}

// scripts runs some of the page's scripts without the page.
func scripts(t testing.TB, names ...string) *engine {
	t.Helper()
	e := &engine{b: startBrowser(t)}
	for _, name := range names {
		src, err := theme.Assets.ReadFile("assets/" + name)
		require.NoError(t, err)
		e.eval(t, string(src))
	}
	return e
}

// eval runs a script as a script element does.
func (e *engine) eval(t testing.TB, script string) {
	t.Helper()
	_ = eval[int](t, e.b, script+"\n;0")
}

// open begins with an empty cache.
func (e *engine) open(t testing.TB) {
	t.Helper()
	e.mu.Lock()
	e.asked, e.bytes = nil, 0
	e.mu.Unlock()
	run[int](t, e, `(async () => { await benchloreOpen(); return 1; })()`)
}

// run evaluates a promise and decodes what it gives.
func run[T any](t testing.TB, e *engine, promise string) T {
	t.Helper()
	var out T
	text := eval[string](t, e.b, `(`+promise+`).then((v) => JSON.stringify(v), (err) => "failed: " + String(err) + (err.stack ?? ""))`)
	require.False(t, strings.HasPrefix(text, "failed: "), text)
	require.NoError(t, json.Unmarshal([]byte(text), &out), text)
	return out
}

func (e *engine) ask(t testing.TB) asker {
	return func(queries []search.Query) []answer { return run[[]answer](t, e, asking(t, queries)) }
}

// TestSearchAgreesInAnEngine is the test of agreement over a bigger notebook of
// real problem texts' shape, by the scripts alone.
func TestSearchAgreesInAnEngine(t *testing.T) {
	t.Parallel()
	books := map[string]*notebook.Notebook{"example": example(t), "ru": invented(t, 100, "ru")}
	if long.Run() {
		books["invented"], books["de"], books["fr"] = invented(t, 1500, "en"), invented(t, 150, "de"), invented(t, 150, "fr")
		books["fi"], books["pl"] = invented(t, 100, "fi"), invented(t, 60, "pl")
	}
	for name, n := range books {
		t.Run(name, func(t *testing.T) {
			out := filepath.Join(t.TempDir(), "site")
			publish(t, n, out)
			ix, err := search.Open(n)
			require.NoError(t, err)
			defer ix.Close()
			e := startEngine(t, out)
			queries := append(plainQueries(agreeQueries(n)), filtered...)
			places := compare(t, ix, queries, e.ask(t))
			t.Logf("%d queries, %d places compared", len(queries), places)
			assert.Greater(t, len(queries), 500)
			near := 0
			for _, q := range agreeQueries(n)[100:160] {
				words := strings.ReplaceAll(q, "a", "qj")
				r, err := ix.Find(search.Query{Words: words})
				require.NoError(t, err)
				if r.Total > 0 {
					continue
				}
				got := run[[2][]string](t, e, `benchloreOffers(`+string(must(json.Marshal(words)))+`)`)
				assert.Equal(t, append([]string{}, r.Words...), got[1], words)
				near += len(got[1])
			}
			if name != "ru" { // whose queries have hardly an "a"
				assert.NotZero(t, near)
			}
		})
	}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// otherWords are words of the bench in some languages, and endings that they take.
var otherWords = map[string][2]string{
	"de": {"Kondensator Gerät Widerstand Sicherung Leitung Kabel Akku Lötstelle Schalter Netzteil Lautsprecher Bildschirm Gehäuse Stecker Buchse Brücke Fehler Messung flacker brumm ausfall repariert warm locker nicht geht an und", "- - - -e -en -er -es -s -n"},
	"fr": {"condensateur appareil résistance câble soudure interrupteur alimentation écran boîtier fusible mesure panne l'appareil d'écran chauffe répar remplac court-circuit ne pas marche et", "- - - -s -e -es -er -ée -ant"},
	"fi": {"kondensaattori laite vastus johto kytkin näyttö kotelo sulake mittaus vika akku juotos kaiutin jännite virta ei toimi ja", "- - -n -t -ssa -sta -lla -en -in"},
	"ru": {"конденсатор прибор резистор кабель провод экран корпус предохранител пайк питани аккумулятор выключател не работает и", "- - -а -ы -ов -ом -е -ами"},
	"pl": {"kondensator urządzenie rezystor kabel przewód ekran obudowa bezpiecznik zasilacz bateria nie działa i",
		"- - -y -a -ów -em -owi"},
}

// invented makes a notebook of n cases whose words follow Zipf's law, as those
// of real texts do, the same for the same n.
func invented(t testing.TB, n int, lang string) *notebook.Notebook {
	t.Helper()
	dir := t.TempDir()
	r := rand.New(rand.NewPCG(7, 11))
	zipf := rand.NewZipf(r, 1.15, 3, 20_000)
	syllables := strings.Fields("ca pa ci tor so lo ba te ri am pli fi er po wer rail sco na mu li ne tra cer hum di op ger swi ti ka re")
	word := func() string {
		k := zipf.Uint64()
		if k%97 == 0 {
			return []string{"C", "R", "TP", "Q", "IC"}[k%5] + string(rune('1'+k%9)) + string(rune('0'+k%7))
		}
		var b strings.Builder
		for k += 31; k > 0; k /= uint64(len(syllables)) {
			b.WriteString(syllables[k%uint64(len(syllables))])
		}
		return b.String()
	}
	sentence := func(k int) string {
		var words []string
		for range k {
			words = append(words, word())
		}
		return strings.Join(words, " ")
	}
	symptoms := []string{"hum", "no-power", "flicker", "cuts-out-when-warm", "restarts"}
	faults := []string{"joint-cracked", "corrosion", "part-wrong", "short-circuit", "wear"}
	if stems, ok := otherWords[lang]; ok { // real words of that language in many forms
		stock, endings := strings.Fields(stems[0]), strings.Fields(stems[1])
		word = func() string {
			k := zipf.Uint64()
			return stock[k%uint64(len(stock))] + strings.TrimPrefix(endings[r.IntN(len(endings))], "-")
		}
	}
	write(t, dir, "notebook.yaml", "name: Invented\nlanguage: "+lang+"\n")
	for i := range n {
		id := []string{"2024", "2025", "2026"}[i*3/n] + "-" + string(must(json.Marshal(10000+i)))
		write(t, dir, "cases/"+id+".md",
			"---\ncase: "+id+"\ntitle: "+sentence(5)+"\ndevice: {kind: amplifier, maker: "+word()+", model: M"+string(rune('1'+i%9))+
				"}\nopened: 2026-01-01\nclosed: 2026-02-01\nsymptoms: ["+symptoms[r.IntN(len(symptoms))]+
				"]\ncause: {fault: "+faults[r.IntN(len(faults))]+
				", at: power-supply, origin: wear}\noutcome: fixed\nconfirmed: an hour\n---\n## Symptom\n\n"+
				sentence(20+r.IntN(40))+".\n\n## Outcome\n\n"+sentence(30)+".\n")
	}
	loaded, err := notebook.Load(dir)
	require.NoError(t, err)
	require.Zero(t, loaded.Errors(), "%v", loaded.Problems[:min(3, len(loaded.Problems))])
	return loaded
}

// FuzzSearchAgrees: whatever is asked, both say the same.
func FuzzSearchAgrees(f *testing.F) {
	n := example(f)
	out := filepath.Join(f.TempDir(), "site")
	publish(f, n, out)
	ix, err := search.Memory(n)
	require.NoError(f, err)
	f.Cleanup(func() { _ = ix.Close() })
	for _, q := range agreeQueries(n)[:60] {
		f.Add(q)
	}
	e := startEngine(f, out)
	f.Fuzz(func(t *testing.T, words string) {
		// A text field holds no half characters, no NUL and no line breaks.
		if !utf8.ValidString(words) || len(words) > 2000 || strings.ContainsAny(words, "\x00\r\n") {
			t.Skip()
		}
		compare(t, ix, []search.Query{{Words: words}}, e.ask(t))
	})
}

// TestStemmersAgree cuts the words of a published list (an-array-of-english-words
// 2.0.0 from npm, every fifth of its words) in the page's stemmer and in the
// command line's.
func TestStemmersAgree(t *testing.T) {
	t.Parallel()
	data, err := os.ReadFile(testbrowser.Tool(t, "an-array-of-english-words/index.json"))
	require.NoError(t, err)
	var all, some []string
	require.NoError(t, json.Unmarshal(data, &all))
	for i := 0; i < len(all); i += 5 {
		some = append(some, strings.ToLower(all[i]))
	}
	require.Greater(t, len(some), 20_000)
	out := published(t)
	e := startEngine(t, out)
	for part := range slices.Chunk(some, 5000) {
		list, err := json.Marshal(part)
		require.NoError(t, err)
		got := run[[]string](t, e, `(async () => `+string(list)+`.map((w) => w.length < 3 || w.length > 40 ? w : benchloreStem(w)))()`)
		require.Len(t, got, len(part))
		for i, w := range part {
			assert.Equal(t, language.Of(language.English).Stem(w), got[i], w)
		}
	}
	t.Logf("%d words", len(some))
}

// TestDamagedShards: a shard that is cut short, altered or of another publish is
// refused by name, and what does not need it still works.
func TestDamagedShards(t *testing.T) {
	n := example(t)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	e := startEngine(t, out)
	run[answer](t, e, `benchloreFind("hum")`)
	shard := e.asked[slices.IndexFunc(e.asked, func(s string) bool { return strings.HasPrefix(s, "w-") })]
	path := filepath.Join(out, "search", shard+".js")
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	refused := func(data []byte) {
		require.NoError(t, os.WriteFile(path, data, 0o644))
		e.open(t)
		said := run[string](t, e, `benchloreFind("hum").then(() => "answered", (err) => String(err))`)
		assert.NotEqual(t, "answered", said)
	}
	refused(whole[:len(whole)/2])
	refused([]byte(strings.Replace(string(whole), "hum", "hun", 1)))
	refused(nil)
	require.NoError(t, os.WriteFile(path, whole, 0o644))
	e.open(t)
	assert.NotZero(t, run[answer](t, e, `benchloreFind("hum")`).Total)
	publish(t, n, out)
}
