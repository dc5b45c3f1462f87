package site

import (
	"encoding/json"
	"math/rand/v2"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/search"
	"benchlore/schema/terms"
)

// agreeQueries are plain, misspelt, half-typed, synonymous, numeric, foreign,
// empty and absurd queries over a notebook's own words.
func agreeQueries(n *notebook.Notebook) []string {
	r := rand.New(rand.NewPCG(21, 22))
	list := []string{"", " ", "!!!", "won't turn on", "WON’T turn on!", "will not switch on at all", "fails to start", "no noise, it hums", "hum in both channels", "4k7", "4,7 kΩ", "0.22 Ω", "0R22", "9M9", "2n3904", "10u 6V3", "3v3 rail", "C341", "c341", "R41 open", "TP3",
		"soft start", "Größe", "電源が入らない", "не включается", "\u202eabc", "e\u0301", "<script>alert(1)</script>", "it it it", "the and of", strings.Repeat("lamp ", 60), "constructor", "__proto__ toString", "1.2.3,4", "don't", "dont",
		"'quoted'", "a'b c", "12,", "12.5.", "µF", "🙂 lamp", "usb-c", "3.3 V rail short to ground", "lamp flickers warm", "speeker cable", "capcaitor", "amplifer humms", "cap", "char", "no"}
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
	for range 130 {
		pick := func() string { return words[r.IntN(len(words))] }
		s := symptoms[r.IntN(len(symptoms))]
		w := []rune(pick())
		list = append(list, pick()+" "+pick(), pick()+" "+slip(pick())+" "+pick(), string(w[:max(1, len(w)/2)]), s.Also[r.IntN(len(s.Also))]+" "+pick())
	}
	return list
}

// TestSearchAgrees asks page and command line the same queries and compares
// the ten best and their scores, to nine digits.
func TestSearchAgrees(t *testing.T) {
	b := startBrowser(t)
	n := example(t)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	ix, err := search.Open(n)
	require.NoError(t, err)
	defer ix.Close()
	b.do(t, chromedp.Navigate(fileURL(out, "search.html#q=hum")))
	waitFor(t, b, `document.querySelectorAll("#results li").length > 0`)
	queries := agreeQueries(n)
	data, err := json.Marshal(queries)
	require.NoError(t, err)
	type hit = [2]any
	answers := eval[[][]hit](t, b, string(data)+`.map((q) => q.trim() === "" ? [] : benchloreFind(q))`)
	require.Len(t, answers, len(queries))
	found := 0
	for i, q := range queries {
		r := &search.Result{}
		if strings.TrimSpace(q) != "" {
			r, err = ix.Find(search.Query{Words: q})
			require.NoError(t, err)
		}
		if !assert.Len(t, answers[i], r.Total, "%q", q) {
			continue
		}
		for j, h := range r.Hits {
			found++
			assert.Equal(t, h.Case.ID(), answers[i][j][0], "%q, place %d", q, j+1)
			assert.InEpsilon(t, h.Score, answers[i][j][1], 1e-9, "%q, place %d", q, j+1)
		}
	}
	for _, f := range []search.Query{{Words: "cracked joint", Year: "2026"}, {Words: "", Outcome: "end-of-life"}, {Words: "capacitor", Kind: "amplifier"}, {Words: "no power", Fault: "corrosion"},
		{Words: "rail", At: "supply-rail"}, {Words: "wire", Action: "bridged"}, {Words: "hum", Symptom: "hum", Device: "tarnwick-a40"}, {Words: "", Year: "2025"}} {
		r, err := ix.Find(f)
		require.NoError(t, err)
		filters, err := json.Marshal(map[string]string{"symptom": f.Symptom, "device": f.Device, "kind": f.Kind, "fault": f.Fault, "at": f.At, "action": f.Action, "outcome": f.Outcome, "year": f.Year})
		require.NoError(t, err)
		got := eval[[]hit](t, b, "benchloreFind("+strconv.Quote(f.Words)+", "+string(filters)+")")
		require.NotZero(t, r.Total, "%+v", f)
		if assert.Len(t, got, r.Total, "%+v", f) {
			for j, h := range r.Hits {
				assert.Equal(t, h.Case.ID(), got[j][0], "%+v", f)
			}
		}
	}
	t.Logf("%d queries, %d places compared", len(queries), found)
	assert.Greater(t, len(queries), 500)
}
