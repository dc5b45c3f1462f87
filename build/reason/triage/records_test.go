package triage

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/language"
)

type record struct{ text, fault, fold string }

func records(t testing.TB, name string) []record {
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

// TestWordsOnRecords names the fault type of records by the others: fold 0, on which no
// number was chosen, and all five folds, beside the same classifier without meanings
// (logistic regression on words, pairs and letters) and beside the commonest types.
// Data: Open Repair Alliance.
func TestWordsOnRecords(t *testing.T) {
	english := language.Of(language.English)
	for _, set := range []struct {
		file         string
		first, three float64 // floors of fold 0
	}{{"fault-typed-laptops.csv", 0.73, 0.90}, {"fault-typed-vacuums.csv", 0.65, 0.90}} {
		all := records(t, set.file)
		var sums [3][3]float64
		var pooled [][]float64 // ours, of all folds
		var truths, faults []string
		for _, fold := range []string{"0", "1", "2", "3", "4"} {
			var texts []map[string]int
			var causes []Cause
			var asked []record
			count := map[string]float64{}
			for _, r := range all {
				if r.fold == fold {
					asked = append(asked, r)
					continue
				}
				texts, causes = append(texts, counted(english, r.text)), append(causes, Cause{Fault: r.fault})
				count[r.fault]++
			}
			var truth []string
			for _, r := range asked {
				truth = append(truth, r.fault)
			}
			for way, m := range []*wordModel{learnWords(english, texts, causes, nil, false), learnWords(english, texts, causes, nil, true)} {
				var p [][]float64
				for _, r := range asked {
					f, _ := m.probable(r.text)
					p = append(p, f)
				}
				first, three, ece := measured(p, m.faults, truth)
				if way == 0 {
					pooled, truths = append(pooled, p...), append(truths, truth...)
					faults = m.faults
				}
				if way == 0 && fold == "0" {
					t.Logf("%s fold 0: first %.4f, among three %.4f, calibration error %.4f", set.file, first, three, ece)
					assert.Greater(t, first, set.first)
					assert.Greater(t, three, set.three)
				}
				for i, x := range []float64{first, three, ece} {
					sums[way][i] += x / 5
				}
				if way == 0 {
					shares := make([]float64, len(m.faults))
					for k, f := range m.faults {
						shares[k] = count[f] / float64(len(causes))
					}
					p = nil
					for range asked {
						p = append(p, shares)
					}
					first, three, ece = measured(p, m.faults, truth)
					for i, x := range []float64{first, three, ece} {
						sums[2][i] += x / 5
					}
				}
			}
		}
		for way, name := range []string{"ours", "without meanings", "commonest first"} {
			t.Logf("%s, five folds, %-17s first %.4f, among three %.4f, calibration error by fold %.4f", set.file,
				name+":", sums[way][0], sums[way][1], sums[way][2])
		}
		_, _, ece := measured(pooled, faults, truths)
		t.Logf("%s, all %d answers of five folds together: calibration error %.4f", set.file, len(truths), ece)
		assert.LessOrEqual(t, ece, 0.06)
		assert.Greater(t, sums[0][0]+sums[0][1], sums[1][0]+sums[1][1])
	}
}

// BenchmarkWords learns from 10,000 texts and asks one question; beside it, counting
// their words alone.
func BenchmarkWords(b *testing.B) {
	english := language.Of(language.English)
	all := append(records(b, "fault-typed-laptops.csv"), records(b, "fault-typed-vacuums.csv")...)
	const cases = 10000
	text := func(i int) string { return all[i%len(all)].text + " " + all[(i*7+i/len(all))%len(all)].text }
	b.Run("counting", func(b *testing.B) {
		for b.Loop() {
			for i := range cases {
				counted(english, text(i))
			}
		}
	})
	var m *wordModel
	b.Run("learning", func(b *testing.B) {
		for b.Loop() {
			texts, causes := make([]map[string]int, 0, cases), make([]Cause, 0, cases)
			for i := range min(cases, wordsNewest) {
				texts, causes = append(texts, counted(english, text(i))), append(causes, Cause{all[i%len(all)].fault, "other"})
			}
			m = learnWords(english, texts, causes, nil, false)
		}
	})
	b.Run("question", func(b *testing.B) {
		for b.Loop() {
			m.probable("clicks, then nothing, after the storm")
		}
	})
}
