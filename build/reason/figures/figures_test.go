package figures

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/workshop"
)

func TestOf(t *testing.T) {
	n := workshop.Load(t)
	f := Of(n)
	assert.Equal(t, len(n.Cases), f.Cases)
	opened, closed := 0, 0
	for i, m := range f.Months {
		opened, closed = opened+m.Opened, closed+m.Closed
		if i > 0 {
			assert.Less(t, f.Months[i-1].Month, m.Month)
		}
	}
	assert.Equal(t, len(n.Cases), opened)
	assert.Equal(t, len(n.Cases)-len(f.Open), closed)
	assert.LessOrEqual(t, f.FirstTime.Low, f.FirstTime.P)
	assert.Equal(t, f.FirstTime.Of-f.FirstTime.N,
		f.Returns.SameFault+f.Returns.OwnWork+f.Returns.Unrelated+f.Returns.Open, "each repair came back at most once here")
	cost := 0.0
	for _, c := range n.Cases {
		if c.File.Case.Cost != nil {
			cost += *c.File.Case.Cost.Parts
		}
	}
	assert.InDelta(t, cost, f.Cost, 1e-9)
	for _, s := range f.Symptoms {
		sum := 0
		for _, c := range s.Causes {
			sum += c.N
		}
		assert.LessOrEqual(t, sum, s.N)
	}
}

func TestEmpty(t *testing.T) {
	f := Of(&notebook.Notebook{})
	assert.Zero(t, f.Cases)
	assert.Zero(t, f.FirstTime.P)
}

// TestWhatIsNotKnown: no minutes are not 0 minutes, and a repair of which nobody
// knows whether it held is neither right nor wrong.
func TestWhatIsNotKnown(t *testing.T) {
	dir := t.TempDir()
	write := func(id, extra string) {
		text := "---\ncase: " + id + "\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\nclosed: 2026-01-03\nsymptoms: [hum]\noutcome: fixed\n" + extra + "---\n## Symptom\n\nHums.\n"
		require.NoError(t, os.MkdirAll(filepath.Join(dir, "cases"), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "cases", id+".md"), []byte(text), 0o644))
	}
	write("2026-0001", "minutes: {diagnosis: 0, repair: 10}\n")
	write("2026-0002", "minutes: {diagnosis: 4}\n")
	write("2026-0003", "")
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	f := Of(n)
	require.Len(t, f.Times, 1)
	assert.Equal(t, Times{2, 2}, f.Times[0].Diagnosis, "the median of 0 and 4")
	assert.Equal(t, Times{10, 1}, f.Times[0].Repair)
	assert.Zero(t, f.FirstTime.Of)
	assert.Equal(t, 3, f.FirstTimeUnknown)
	assert.Equal(t, 3, f.NoCause)
	write("2026-0004", "followed: 2026-03-01\n")
	write("2026-0005", "returns: 2026-0003\n")
	n, err = notebook.Load(dir)
	require.NoError(t, err)
	f = Of(n)
	assert.Equal(t, []int{1, 2, 3}, []int{f.FirstTime.N, f.FirstTime.Of, f.FirstTimeUnknown},
		"one held, one came back, of three nobody knows")
}
