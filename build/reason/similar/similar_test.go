package similar

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/reason/verdict"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/casefile"
)

func example(t testing.TB) *notebook.Notebook {
	t.Helper()
	n := workshop.Load(t)
	return n
}

func TestOf(t *testing.T) {
	n := example(t)
	m := New(n, verdict.New(n))
	c, ok := n.Case("2025-0021") // amplifier, one side silent
	require.True(t, ok)
	list := m.Of(c, 5)
	require.NotEmpty(t, list)
	assert.Equal(t, "2025-0011", list[0].Case.ID(), "the other case with one side silent, now and then")
	assert.Contains(t, strings.Join(list[0].Why, "; "), "One side silent")
	for i, nb := range list {
		assert.NotEqual(t, c, nb.Case)
		assert.NotEmpty(t, nb.Why)
		if i > 0 {
			assert.LessOrEqual(t, nb.Score, list[i-1].Score)
		}
	}
}

// TestOpenCasesHaveNeighbours: unfinished evidence is enough.
func TestOpenCasesHaveNeighbours(t *testing.T) {
	n := example(t)
	m := New(n, verdict.New(n))
	c, _ := n.Case("2026-0017") // coffee maker stays cold, still open
	require.True(t, c.File.Case.Open())
	assert.NotEmpty(t, m.Of(c, 5))
}

func TestComebacks(t *testing.T) {
	n := example(t)
	m := New(n, verdict.New(n))
	first, _ := n.Case("2025-0005")
	second, _ := n.Case("2025-0015")
	assert.Equal(t, []*notebook.Case{second}, m.Comebacks(first))
	assert.Equal(t, []*notebook.Case{first}, m.Comebacks(second))
	for _, nb := range m.Of(first, 50) {
		assert.NotEqual(t, second, nb.Case, "a comeback is shown apart")
	}
}

// TestInformation: the worked value, 68 cases of which 2 have the symptom.
func TestInformation(t *testing.T) {
	n := example(t)
	bits, count := New(n, verdict.New(n)).information("hum")
	require.Equal(t, 2, count)
	require.Len(t, n.Cases, 68)
	assert.InDelta(t, 4.524, bits, 0.001) // log2(69/3)
}

// TestSameCauseAmongTheFirstThree leaves each case out in turn: how often do
// its three nearest hold one with the same cause? The evidence is what is known
// on the first day: cause, parts, outcome and lesson are hidden. Beside it, the
// same by text alone and by symptoms alone; `-v` prints all three.
func TestSameCauseAmongTheFirstThree(t *testing.T) {
	n := example(t)
	m := New(n, verdict.New(n))
	without := func(keep func(s sort) bool) *Model {
		some := New(n, verdict.New(n))
		some.weigh(keep)
		return some
	}
	text := without(func(s sort) bool { return s == word })
	symptoms := without(func(s sort) bool { return s == symptom })
	for _, measure := range []struct {
		name string
		same func(a, b *casefile.Cause) bool
	}{
		{"fault and place", func(a, b *casefile.Cause) bool { return a.Fault == b.Fault && a.At == b.At }},
		{"fault", func(a, b *casefile.Cause) bool { return a.Fault == b.Fault }},
		{"fault or place", func(a, b *casefile.Cause) bool { return a.Fault == b.Fault || a.At == b.At }},
	} {
		var hits [3]int
		asked := 0
		for _, c := range n.Cases {
			if c.File.Case.Cause == nil || !slices.ContainsFunc(n.Cases, func(o *notebook.Case) bool {
				return o != c && o.File.Case.Cause != nil && measure.same(c.File.Case.Cause, o.File.Case.Cause)
			}) {
				continue
			}
			asked++
			blind := *c.File
			blind.Case.Cause, blind.Case.Parts, blind.Case.Measurements, blind.Case.Returns = nil, nil, nil, ""
			hidden := *c
			hidden.File = &blind
			for i, model := range []*Model{m, text, symptoms} {
				if slices.ContainsFunc(model.Of(&hidden, 3), func(nb Neighbour) bool {
					other := nb.Case.File.Case.Cause
					return other != nil && measure.same(c.File.Case.Cause, other)
				}) {
					hits[i]++
				}
			}
		}
		t.Logf("same %s among the first three, of %d: %d; by text alone %d, by symptoms alone %d", measure.name,
			asked, hits[0], hits[1], hits[2])
		require.Positive(t, asked)
		assert.GreaterOrEqual(t, hits[0], hits[1], measure.name)
		assert.GreaterOrEqual(t, hits[0], hits[2], measure.name)
	}
}
