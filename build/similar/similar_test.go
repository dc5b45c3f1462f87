package similar

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/cases"
)

func example(t testing.TB) *notebook.Notebook {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, cases.Files))
	n, err := notebook.Load(filepath.Join(dir, "notebook"))
	require.NoError(t, err)
	return n
}

func TestOf(t *testing.T) {
	n := example(t)
	m := New(n)
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
	m := New(n)
	c, _ := n.Case("2026-0017") // coffee maker stays cold, still open
	require.True(t, c.File.Case.Open())
	assert.NotEmpty(t, m.Of(c, 5))
}

func TestComebacks(t *testing.T) {
	n := example(t)
	m := New(n)
	first, _ := n.Case("2025-0005")
	second, _ := n.Case("2025-0015")
	assert.Equal(t, []*notebook.Case{second}, m.Comebacks(first))
	assert.Equal(t, []*notebook.Case{first}, m.Comebacks(second))
	for _, nb := range m.Of(first, 50) {
		assert.NotEqual(t, second, nb.Case, "a comeback is shown apart")
	}
}

// TestInformation: the worked value, 42 cases of which 2 have the symptom.
func TestInformation(t *testing.T) {
	n := example(t)
	bits, count := New(n).Information("hum")
	require.Equal(t, 2, count)
	require.Len(t, n.Cases, 42)
	assert.InDelta(t, 3.841, bits, 0.001) // log2(43/3)
}

// TestSameCauseAmongTheFirstThree leaves each case out in turn: how often do
// its three nearest hold one with the same cause? The evidence is what is known
// before the cause is: the case's own cause and parts are hidden. Beside it,
// symptoms alone.
func TestSameCauseAmongTheFirstThree(t *testing.T) {
	n := example(t)
	m := New(n)
	ours, symptomsAlone, asked := 0, 0, 0
	for _, c := range n.Cases {
		cause := c.File.Case.Cause
		if cause == nil || len(m.cause[cause.Fault+"@"+cause.At]) < 2 && !shareFault(n, c) {
			continue
		}
		asked++
		blind := *c.File
		blind.Case.Cause, blind.Case.Parts = nil, nil
		hidden := *c
		hidden.File = &blind
		hit := func(list []Neighbour) bool {
			for _, nb := range list {
				if k := nb.Case.File.Case.Cause; nb.Case.ID() != c.ID() && k != nil && k.Fault == cause.Fault {
					return true
				}
			}
			return false
		}
		if hit(withoutItself(m.Of(&hidden, 4), c.ID())) {
			ours++
		}
		bare := blind
		bare.Case.Before, bare.Case.Board = nil, ""
		hidden.File = &bare
		hidden.Device = &notebook.Device{ID: "any-none", Kind: "none"}
		if hit(withoutItself(m.Of(&hidden, 4), c.ID())) {
			symptomsAlone++
		}
	}
	t.Logf("same fault among the first three: %d of %d, by symptoms alone %d", ours, asked, symptomsAlone)
	require.Positive(t, asked)
	assert.GreaterOrEqual(t, ours, symptomsAlone)
}

func shareFault(n *notebook.Notebook, c *notebook.Case) bool {
	for _, o := range n.Cases {
		if k := o.File.Case.Cause; o != c && k != nil && k.Fault == c.File.Case.Cause.Fault {
			return true
		}
	}
	return false
}

func withoutItself(list []Neighbour, id string) []Neighbour {
	var out []Neighbour
	for _, nb := range list {
		if nb.Case.ID() != id {
			out = append(out, nb)
		}
	}
	return out[:min(3, len(out))]
}
