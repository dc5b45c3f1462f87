package site

import (
	"encoding/json"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/reason/search"
	"benchlore/schema/terms"
)

// agreeQueries are plain, misspelt, half-typed, synonymous, numeric, foreign,
// empty and absurd queries over a notebook's own words.
func agreeQueries(n *notebook.Notebook) []string {
	r := rand.New(rand.NewPCG(21, 22))
	list := []string{"", " ", "!!!", "won't turn on", "WON’T turn on!", "will not switch on at all", "fails to start",
		"no noise, it hums", "hum in both channels", "4k7", "4,7 kΩ", "0.22 Ω", "0R22", "9M9", "2n3904", "10u 6V3",
		"3v3 rail", "C341", "c341", "R41 open", "TP3",
		"soft start", "Größe", "電源が入らない", "не включается", "\u202eabc", "e\u0301", "<script>alert(1)</script>",
		"it it it", "the and of", strings.Repeat("lamp ", 60), "constructor", "__proto__ toString", "1.2.3,4", "don't", "dont",
		"'quoted'", "a'b c", "12,", "12.5.", "µF", "🙂 lamp", "usb-c", "3.3 V rail short to ground",
		"lamp flickers warm", "speeker cable", "capcaitor", "amplifer humms", "cap", "char", "no"}
	var words []string
	for _, c := range n.Cases {
		for _, f := range search.Fields {
			words = append(words, strings.Fields(search.Text(n, c, f))...)
		}
	}
	symptoms := n.Terms.All(terms.Symptom)
	slip := func(w string) string {
		x := []rune(w)
		if len(x) < 3 {
			return w
		}
		i := r.IntN(len(x) - 1)
		switch r.IntN(4) {
		case 0:
			x[i], x[i+1] = x[i+1], x[i]
		case 1:
			x = append(x[:i], x[i+1:]...)
		case 2:
			x[i] = 'x'
		default:
			x = append(x[:i], append([]rune{'e'}, x[i:]...)...)
		}
		return string(x)
	}
	endings := append([]string{"en", "s", "es", "ungen", "ssa", "ами", "x"}, n.Terms.Language().Endings()...)
	for range 130 {
		pick := func() string { return words[r.IntN(len(words))] }
		s := symptoms[r.IntN(len(symptoms))]
		w := []rune(pick())
		list = append(list, pick()+" "+pick(), pick()+" "+slip(pick())+" "+pick(), string(w[:max(1, len(w)/2)]),
			append([]string{s.Name}, s.Also...)[r.IntN(1+len(s.Also))]+" "+pick(), pick()+endings[r.IntN(len(endings))])
	}
	return list
}

// filtered are queries with choices, some without words.
var filtered = []search.Query{{Words: "cracked joint", Year: "2026"}, {Words: "", Outcome: "end-of-life"},
	{Words: "capacitor", Kind: "amplifier"}, {Words: "no power", Fault: "corrosion"},
	{Words: "rail", At: "supply-rail"}, {Words: "wire", Action: "bridged"},
	{Words: "hum", Symptom: "hum", Device: "tarnwick-a40"}, {Words: "", Year: "2025"},
	{Words: "lamp", Year: "1999"}}

// answer is what the browser's ranking says of a query.
type answer struct {
	Total int      `json:"total"`
	Hits  [][2]any `json:"hits"`
	Close bool     `json:"close"`
}

// asker puts queries to the browser's ranking.
type asker func(queries []search.Query) []answer

// compare asks both and compares the number found, the ten best and their
// scores, to nine digits; it returns how many places were compared.
func compare(t testing.TB, ix *search.Index, queries []search.Query, ask asker) int {
	t.Helper()
	answers := ask(queries)
	require.Len(t, answers, len(queries))
	places := 0
	for i, q := range queries {
		r := &search.Result{}
		if strings.TrimSpace(q.Words) != "" || q != (search.Query{Words: q.Words}) {
			var err error
			r, err = ix.Find(q)
			require.NoError(t, err)
		}
		if !assert.Equal(t, r.Total, answers[i].Total, "%+v", q) || !assert.Len(t, answers[i].Hits, len(r.Hits), "%+v", q) {
			continue
		}
		if r.Total > 0 {
			assert.Equal(t, r.Close, answers[i].Close, "%+v", q)
		}
		for j, h := range r.Hits {
			places++
			assert.Equal(t, h.Case.ID(), answers[i].Hits[j][0], "%+v, place %d", q, j+1)
			if h.Score > 0 {
				assert.InEpsilon(t, h.Score, answers[i].Hits[j][1], 1e-9, "%+v, place %d", q, j+1)
			}
		}
	}
	return places
}

// asking is a script that puts the queries to a function find(words, filters).
func asking(t testing.TB, queries []search.Query) string {
	t.Helper()
	var list [][2]any
	for _, q := range queries {
		list = append(list, [2]any{q.Words,
			map[string]string{"symptom": q.Symptom, "device": q.Device, "kind": q.Kind, "fault": q.Fault, "at": q.At,
				"action": q.Action, "outcome": q.Outcome, "year": q.Year}})
	}
	data, err := json.Marshal(list)
	require.NoError(t, err)
	return `(async () => { const out = []; for (const [q, f] of ` + string(data) +
		`) out.push(q.trim() === "" && Object.values(f).every((v) => v === "") ? {total: 0, hits: []} : await benchloreFind(q, f)); return out; })()`
}

func plainQueries(words []string) []search.Query {
	var list []search.Query
	for _, w := range words {
		list = append(list, search.Query{Words: w})
	}
	return list
}

// TestSearchAgrees asks the page in a browser and the command line's search the
// same over the example notebook.
func TestSearchAgrees(t *testing.T) {
	t.Parallel()
	b := startBrowser(t)
	n := example(t)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	ix, err := search.Open(n)
	require.NoError(t, err)
	defer ix.Close()
	b.Do(t, chromedp.Navigate(fileURL(out, "search.html#q=hum")))
	waitFor(t, b, `document.querySelectorAll("#results li").length > 0`)
	queries := append(plainQueries(agreeQueries(n)), filtered...)
	places := compare(t, ix, queries, func(queries []search.Query) []answer {
		return eval[[]answer](t, b, asking(t, queries))
	})
	t.Logf("%d queries, %d places compared", len(queries), places)
	assert.Greater(t, len(queries), 500)
	assert.Greater(t, places, 2000)
}
