package site

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/reason/search"
	"benchlore/build/testkit/long"
	"benchlore/schema/terms"
)

// readTexts are sentences of every language that is read, texts of cases, and what nobody
// writes.
func readTexts(t *testing.T, n *notebook.Notebook) []string {
	t.Helper()
	texts := []string{"", "?", "is it the fuse? no.", "no smoke or smell, not broken", "Größe (ÄÖÜ) ß", "l’appareil ne s'allume plus", "İstanbul kettle",
		"🙂 smoke 🙂 alarm", "e\u0301lectricité", "won’t won't wont", "Akkuladegerät lädt nicht", strings.Repeat("not ", 40), "0R1 4k7 100 nF", "a-b/c_d"}
	for _, tag := range terms.Reading {
		src, err := os.ReadFile(filepath.Join("..", "..", "..", "schema", "terms", "testdata", "said", tag+".tsv"))
		require.NoError(t, err)
		for _, line := range strings.Split(string(src), "\n") {
			if parts := strings.Split(line, "\t"); len(parts) == 3 {
				texts = append(texts, parts[2])
			}
		}
	}
	for _, c := range n.Cases {
		for _, f := range search.Fields {
			if text := search.Text(n, c, f); len(text) < 2000 {
				texts = append(texts, text)
			}
		}
	}
	// Open repair records, where they lie beside the checkout.
	for _, name := range []string{"english-problems.csv", "german-problems.csv", "dutch-french-problems.csv"} {
		f, err := os.Open(filepath.Join("..", "..", "..", "..", "shared", "ords", name))
		if err != nil {
			continue
		}
		rows, err := csv.NewReader(f).ReadAll()
		require.NoError(t, err)
		require.NoError(t, f.Close())
		for i := 1; i < len(rows); i += 25 {
			texts = append(texts, rows[i][len(rows[i])-1])
		}
	}
	return texts
}

// TestReadAgrees: the page reads thousands of texts as the command line does: the same
// ids in the same order on the same letters, denied and asked alike.
func TestReadAgrees(t *testing.T) {
	t.Parallel()
	books := map[string]*notebook.Notebook{"en": example(t), "de": invented(t, 8, "de")}
	if long.Run() {
		books["fr"], books["es"] = invented(t, 8, "fr"), invented(t, 8, "es")
	}
	for name, n := range books {
		t.Run(name, func(t *testing.T) {
			out := filepath.Join(t.TempDir(), "site")
			publish(t, n, out)
			e := startEngine(t, out)
			texts := readTexts(t, n)
			for i, text := range texts {
				if i > 20 && i%long.Or(1, 8) != 0 {
					continue
				}
				quoted, err := json.Marshal(text)
				require.NoError(t, err)
				type mention struct {
					Cls, ID, Said  string
					Negated, Asked bool
				}
				got := run[[]mention](t, e, `(async () => { const text = `+string(quoted)+`; return (await rank.read(text)).map((m) => ({cls: m.cls, id: m.id, said: text.slice(m.start, m.stop), negated: m.negated, asked: m.asked})); })()`)
				want := []mention{}
				for _, m := range n.Terms.Read(text) {
					if m.Inferred == 0 {
						want = append(want, mention{string(m.Class), m.ID, text[m.Start:m.Stop], m.Negated, m.Asked})
					}
				}
				assert.Equal(t, want, append([]mention{}, got...), "%q", text)
				if i%10 == 0 && !slices.ContainsFunc(want, func(m mention) bool { return m.Cls == "kinds" && !m.Negated && !m.Asked }) {
					perhaps := run[struct {
						ID string
						P  float64
					}](t, e, `(async () => await rank.perhaps(`+string(quoted)+`) ?? {id: "", p: 0})()`)
					inferred := terms.Mention{}
					for _, m := range n.Terms.Read(text) {
						if m.Inferred > 0 {
							inferred = m
						}
					}
					assert.Equal(t, inferred.ID, perhaps.ID, "%q", text)
					assert.InDelta(t, inferred.Inferred, perhaps.P, 1e-9, "%q", text)
				}
				if t.Failed() {
					return
				}
			}
			t.Logf("%d texts", len(texts))
		})
	}
}
