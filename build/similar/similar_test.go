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
