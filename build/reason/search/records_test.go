package search

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/blevesearch/bleve/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
)

// TestWorkedExample: BM25 with ln(1 + (N-n+0.5)/(n+0.5)), k1 = 1.2 and b = 0.75 over
// three short texts, worked out by hand from Robertson & Zaragoza (2009), formula 3.15,
// and the classic ln((N-n+0.5)/(n+0.5)) as in Croft, Metzler & Strohman, chapter 7.
func TestWorkedExample(t *testing.T) {
	texts := []string{"no power fuse blown", "no sound speaker cable no hiss", "fuse blown fuse holder burnt no power mains"}
	score := func(doc int, words ...string) float64 {
		sum := 0.0
		for _, w := range words {
			having := 0
			for _, text := range texts {
				if strings.Contains(" "+text+" ", " "+w+" ") {
					having++
				}
			}
			fields := strings.Fields(texts[doc])
			f := strings.Count(strings.Join(fields, "  ")+" ", w+" ")
			if f > 0 {
				sum += idf(len(texts), having) * saturated(float64(f), float64(len(fields)), 6, 1.2, 0.75)
			}
		}
		return sum
	}
	for _, c := range []struct {
		doc   int
		words []string
		want  float64
	}{{0, []string{"fuse", "power"}, 1.0884}, {2, []string{"fuse", "power"}, 1.0045},
		{1, []string{"fuse", "power"}, 0}, {2, []string{"fuse"}, 0.5909}, {0, []string{"fuse"}, 0.5442}} {
		assert.InDelta(t, c.want, score(c.doc, c.words...), 5e-5, "%d %v", c.doc, c.words)
	}
	// The book's K is 1.11 for a length of 0.9 of the mean: 15 (k1+1)/(15+K) and 25 (k1+1)/(25+K).
	assert.InDelta(t, 15*2.2/16.11, saturated(15, 0.9, 1, 1.2, 0.75), 1e-9)
	assert.InDelta(t, 25*2.2/26.11, saturated(25, 0.9, 1, 1.2, 0.75), 1e-9)
}

// record is a text with the fault type that volunteers judged.
type record struct{ kind, text, fault, fold string }

func records(t testing.TB, name, kind string) []record {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "..", "..", "shared", "ords", name))
	if err != nil {
		t.Skip("the typed open repair records are not beside this checkout")
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var out []record
	for _, r := range rows[1:] {
		out = append(out, record{kind, r[6], r[2], r[1]})
	}
	return out
}

// recordsNotebook writes the records as cases, each with the text as its symptom.
func recordsNotebook(t testing.TB, list []record) *notebook.Notebook {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "cases"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "notebook.yaml"), []byte("name: Records\n"), 0o644))
	for i, r := range list {
		id := fmt.Sprintf("2020-%04d", i+1)
		text := strings.Join(strings.Fields(strings.NewReplacer("#", " ", "|", " ", "<", " ", "`", " ").Replace(r.text)), " ")
		body := fmt.Sprintf("---\ncase: %s\ntitle: Record %d\ndevice: {kind: %s}\nopened: 2020-01-02\nsymptoms: []\n---\n## Symptom\n\n> %s\n", id, i+1, r.kind, text)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "cases", id+".md"), []byte(body), 0o644))
	}
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	require.Len(t, n.Cases, len(list))
	return n
}

// TestSameFault asks with records of the fold that no number was chosen on, and counts
// how many of the first ten of the other folds have the same fault type, beside the
// index library's own ranking in its English analysis. Data: Open Repair Alliance.
func TestSameFault(t *testing.T) {
	for _, set := range [][2]string{{"fault-typed-laptops.csv", "laptop"}, {"fault-typed-vacuums.csv", "vacuum"}} {
		var known, asked []record
		for _, r := range records(t, set[0], set[1]) {
			if r.fold == "0" {
				asked = append(asked, r)
			} else {
				known = append(known, r)
			}
		}
		n := recordsNotebook(t, known)
		fault := map[string]string{}
		for i, c := range n.Cases {
			fault[c.ID()] = known[i].fault
		}
		ix, err := Memory(n)
		require.NoError(t, err)
		defer ix.Close()
		m := bleve.NewIndexMapping()
		m.DefaultAnalyzer = "en"
		m.ScoringModel = "bm25"
		plain, err := bleve.NewMemOnly(m)
		require.NoError(t, err)
		defer plain.Close()
		for _, c := range n.Cases {
			require.NoError(t, plain.Index(c.ID(),
				map[string]string{"text": strings.Join([]string{Text(n, c, titleField), Text(n, c, symptomField),
					Text(n, c, deviceField)}, "\n")}))
		}
		share := func(find func(text string) []string) float64 {
			sum := 0.0
			for _, r := range asked {
				for _, id := range find(r.text) {
					if fault[id] == r.fault {
						sum++
					}
				}
			}
			return sum / 10 / float64(len(asked))
		}
		ours := share(func(text string) (ids []string) {
			r, err := ix.Find(Query{Words: text})
			require.NoError(t, err)
			for _, h := range r.Hits {
				ids = append(ids, h.Case.ID())
			}
			return ids
		})
		theirs := share(func(text string) (ids []string) {
			a, err := plain.Search(bleve.NewSearchRequestOptions(bleve.NewMatchQuery(text), 10, 0, false))
			require.NoError(t, err)
			for _, h := range a.Hits {
				ids = append(ids, h.ID)
			}
			return ids
		})
		t.Logf("%s: %d asked of %d: same fault among the first ten: ours %.4f, the library's BM25 %.4f", set[1],
			len(asked), len(known), ours, theirs)
		assert.Greater(t, ours, theirs)
	}
}
