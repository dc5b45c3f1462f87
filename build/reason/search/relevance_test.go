package search

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/blevesearch/bleve/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"benchlore/build/notebook"
)

// gain of each place in a ranking.
type gains []float64

// dcg is discounted cumulated gain with log2(place + 1), over k places.
func (g gains) dcg(k int) float64 {
	sum := 0.0
	for i, x := range g[:min(k, len(g))] {
		sum += x / math.Log2(float64(i)+2)
	}
	return sum
}

// ndcg divides by the best that the ideal gains, in any order, could reach.
func (g gains) ndcg(ideal gains, k int) float64 {
	best := slices.Sorted(slices.Values(ideal))
	slices.Reverse(best)
	if d := gains(best).dcg(k); d > 0 {
		return g.dcg(k) / d
	}
	return 0
}

// reciprocal is 1 / the place of the first answer, 0 when there is none.
func (g gains) reciprocal() float64 {
	for i, x := range g {
		if x > 0 {
			return 1 / float64(i+1)
		}
	}
	return 0
}

// recall is the share of all answers among the first k.
func (g gains) recall(ideal gains, k int) float64 {
	n := 0
	for _, x := range g[:min(k, len(g))] {
		if x > 0 {
			n++
		}
	}
	return float64(n) / float64(len(ideal))
}

// TestMeasures: worked examples. The gains 3 2 3 0 1 2 with log2(i+1) are a
// common textbook example; the first places 3, 2, 1 give 11/18.
func TestMeasures(t *testing.T) {
	g := gains{3, 2, 3, 0, 1, 2}
	assert.InDelta(t, 6.8611, g.dcg(6), 5e-5)
	assert.InDelta(t, 0.9608, g.ndcg(g, 6), 5e-5)
	assert.InDelta(t, 0.7850, g.ndcg(gains{3, 3, 3, 2, 2, 2}, 6), 5e-5)
	assert.InDelta(t, 11.0/18, (gains{0, 0, 1}.reciprocal()+gains{0, 1}.reciprocal()+gains{1}.reciprocal())/3, 1e-12)
	assert.Zero(t, gains{0, 0}.reciprocal())
	assert.InDelta(t, 0.5, gains{1, 0, 0, 1}.recall(gains{1, 1}, 3), 1e-12)
}

type topic struct {
	Query string             `yaml:"query"`
	Cases map[string]float64 `yaml:"cases"`
}

// TestRelevance measures the ranking on the example notebook, beside bleve's
// default query over the same texts. The floor keeps a change from losing
// quality; raise it when the ranking gets better.
func TestRelevance(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("testdata", "relevance.yaml"))
	require.NoError(t, err)
	var topics []topic
	require.NoError(t, yaml.Unmarshal(data, &topics))
	require.GreaterOrEqual(t, len(topics), 80)
	n := example(t)
	for _, q := range topics {
		for id := range q.Cases {
			_, ok := n.Case(id)
			require.True(t, ok, "%s: no case %s", q.Query, id)
		}
	}
	ix := open(t, n)
	ours := measure(t, topics, func(q string) []string {
		r, err := ix.Find(Query{Words: q})
		require.NoError(t, err)
		var ids []string
		for _, h := range r.Hits {
			ids = append(ids, h.Case.ID())
		}
		return ids
	})
	plain := plainBleve(t, n)
	theirs := measure(t, topics, func(q string) []string {
		answer, err := plain.Search(bleve.NewSearchRequestOptions(bleve.NewMatchQuery(q), 10, 0, false))
		require.NoError(t, err)
		var ids []string
		for _, h := range answer.Hits {
			ids = append(ids, h.ID)
		}
		return ids
	})
	t.Logf("%d queries        nDCG@10  reciprocal rank  recall@10", len(topics))
	t.Logf("ours               %.3f    %.3f            %.3f", ours[0], ours[1], ours[2])
	t.Logf("bleve's default    %.3f    %.3f            %.3f", theirs[0], theirs[1], theirs[2])
	assert.Greater(t, ours[0], floorNDCG)
	assert.Greater(t, ours[0], theirs[0])
}

const floorNDCG = 0.94

func plainBleve(t *testing.T, n *notebook.Notebook) bleve.Index {
	t.Helper()
	ix, err := bleve.NewMemOnly(bleve.NewIndexMapping())
	require.NoError(t, err)
	t.Cleanup(func() { ix.Close() })
	for _, c := range n.Cases {
		doc := map[string]string{}
		for _, f := range Fields {
			doc[string(f)] = Text(n, c, f)
		}
		require.NoError(t, ix.Index(c.ID(), doc))
	}
	return ix
}

// measure returns the means of nDCG@10, reciprocal rank and recall@10.
func measure(t *testing.T, topics []topic, find func(string) []string) [3]float64 {
	t.Helper()
	var sum [3]float64
	for _, q := range topics {
		var g, ideal gains
		for _, id := range find(q.Query) {
			g = append(g, q.Cases[id])
		}
		for _, x := range q.Cases {
			ideal = append(ideal, x)
		}
		one := [3]float64{g.ndcg(ideal, 10), g.reciprocal(), g.recall(ideal, 10)}
		if one[0] < 0.6 {
			t.Logf("%.2f %q: %v", one[0], q.Query, find(q.Query)[:min(4, len(find(q.Query)))])
		}
		for i := range sum {
			sum[i] += one[i] / float64(len(topics))
		}
	}
	return sum
}
