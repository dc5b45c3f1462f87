package triage

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"benchlore/schema/language"
)

type record struct{ text, fault, fold string }

func records(t testing.TB, name string) []record {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "..", "shared", "ords", name))
	if err != nil {
		t.Skip("the typed open repair records are not beside this checkout")
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var out []record
	for _, r := range rows[1:] {
		out = append(out, record{r[6], r[2], r[1]})
	}
	return out
}

// measured are the share of right first answers, of right ones among three, and the
// expected calibration error in ten bins of the first answer's probability.
func measured(p [][]float64, names []string, truth []string) (first, three, ece float64) {
	said, right, count := make([]float64, 10), make([]float64, 10), make([]float64, 10)
	for i := range p {
		order := make([]int, len(names))
		for k := range order {
			order[k] = k
		}
		slices.SortStableFunc(order, func(a, b int) int { return cmpFloat(p[i][b], p[i][a]) })
		top := order[0]
		bin := min(9, int(math.Ceil(10*p[i][top]))-1)
		said[bin] += p[i][top]
		count[bin]++
		if names[top] == truth[i] {
			first++
			right[bin]++
		}
		for _, k := range order[:3] {
			if names[k] == truth[i] {
				three++
			}
		}
	}
	n := float64(len(p))
	for b := range said {
		ece += math.Abs(said[b]-right[b]) / n
	}
	return first / n, three / n, ece
}

func cmpFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

func TestWordsOnRecords(t *testing.T) {
	for _, set := range []string{"fault-typed-laptops.csv", "fault-typed-vacuums.csv"} {
		all := records(t, set)
		var sum [3]float64
		for _, fold := range []string{"1", "2", "3", "4"} {
			var texts []map[string]int
			var causes []Cause
			var asked []record
			for _, r := range all {
				if r.fold == fold {
					asked = append(asked, r)
				} else if r.fold != "0" {
					texts = append(texts, counted(language.Of(language.English), r.text))
					causes = append(causes, Cause{Fault: r.fault})
				}
			}
			begin := time.Now()
			m := learnWords(language.Of(language.English), texts, causes)
			took := time.Since(begin)
			var p [][]float64
			var truth []string
			for _, r := range asked {
				f, _ := m.probable(r.text)
				p, truth = append(p, f), append(truth, r.fault)
			}
			a, b, c := measured(p, m.faults, truth)
			sum[0] += a / 4
			sum[1] += b / 4
			sum[2] += c / 4
			t.Logf("%s fold %s: %.4f %.4f %.4f, %d learned in %v, %d features", set, fold, a, b, c, len(texts), took.Round(time.Millisecond), m.features())
		}
		t.Logf("%s: %.4f %.4f %.4f", set, sum[0], sum[1], sum[2])
	}
}
