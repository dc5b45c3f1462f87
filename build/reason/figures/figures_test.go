package figures

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
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
	assert.Equal(t, Times{Median: 2, Low: 1, High: 3, Least: 0, Most: 4, N: 2}, f.Times[0].Diagnosis, "the median of 0 and 4")
	assert.Equal(t, Times{Median: 10, Low: 10, High: 10, Least: 10, Most: 10, N: 1}, f.Times[0].Repair)
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

// TestCounts counts a notebook of five cases that can be counted by hand.
func TestCounts(t *testing.T) {
	dir := t.TempDir()
	write := func(id, front, body string) {
		text := "---\ncase: " + id + "\ntitle: T\n" + front + "---\n## Symptom\n\nHums.\n" + body
		require.NoError(t, os.MkdirAll(filepath.Join(dir, "cases"), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "cases", id+".md"), []byte(text), 0o644))
	}
	parts := func(rows ...string) string {
		out := "\n## Parts\n\n| ref | part | value | package | net | action | fitted | note |\n|---|---|---|---|---|---|---|---|\n"
		for _, row := range rows {
			out += row + "\n"
		}
		return out
	}
	lamp := "device: {kind: lamp}\nopened: 2026-01-31\nclosed: 2026-02-01\n"
	fuse := "cause: {fault: fuse-open, at: mains-input, origin: wear}\noutcome: fixed\n"
	write("2026-0001", lamp+"symptoms: [hum, no-power]\n"+fuse+"followed: 2026-06-01\ncost: {parts: 2.5}\n",
		parts("| F1 | Fuse | | | | replaced | | |", "| R1 | resistor | | | | measured | | |"))
	write("2026-0002", lamp+"symptoms: [hum]\n"+fuse+"followed: 2026-06-01\ncost: {parts: 4}\n", parts("| F1 | fuse | | | | substituted | other | |"))
	write("2026-0003", lamp+"symptoms: [hum]\ncause: {fault: joint-cracked, at: mains-input, origin: wear}\noutcome: fixed\nfollowed: 2026-06-01\n",
		parts("| C1 | capacitor | | | | replaced | | |"))
	write("2026-0004", "device: {kind: radio}\nopened: 2026-02-03\nsymptoms: [no-power]\nminutes: {diagnosis: 8}\n", "")
	write("2026-0005", lamp+"symptoms: [hum]\noutcome: fixed\nminutes: {diagnosis: 6, repair: 4}\nreturns: 2026-0003\n", "")
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	f := Of(n)
	assert.Equal(t, []Month{{"2026-01", 4, 0}, {"2026-02", 1, 4}}, f.Months)
	assert.Equal(t, []string{"2026-0004"}, f.Open)
	assert.Equal(t, 1, f.NoCause, "an open case needs none yet")
	assert.Equal(t, []int{2, 3}, []int{f.FirstTime.N, f.FirstTime.Of})
	assert.InDelta(t, 2.0/3, f.FirstTime.P, 1e-12)
	assert.InDelta(t, 6.5, f.Cost, 1e-12)
	assert.Equal(t, 2, f.CostCases)
	var said []string
	for _, s := range f.Symptoms {
		for _, c := range s.Causes {
			said = append(said, fmt.Sprint(s.ID, " ", s.N, " ", c.ID, " ", c.N))
		}
	}
	assert.Equal(t, []string{"hum 4 fuse-open@mains-input 2", "hum 4 joint-cracked@mains-input 1", "no-power 2 fuse-open@mains-input 1"}, said)
	require.Len(t, f.Parts, 2)
	assert.Equal(t, Count{"fuse", "fuse", 2}, f.Parts[0], "however it is written, and a part that was only measured is none")
	assert.Equal(t, "capacitor", f.Parts[1].ID)
	require.Len(t, f.Times, 2)
	assert.Equal(t, []string{"lamp", "radio"}, []string{f.Times[0].ID, f.Times[1].ID})
}

// TestShort: a drawer is short below what should be in it, and where nobody said what
// should, when it is empty; what nobody counted is not said to be empty.
func TestShort(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "devices"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "notebook.yaml"), []byte("name: T\n"), 0o644))
	text := "---\ndevice: a-b\nkind: lamp\nmaker: A\nmodel: B\n---\n## Spare parts\n\n| part | value | from | left | least |\n|---|---|---|---|---|\n" +
		"| fuse | 2 A | drawer 7 | 4 | 5 |\n| bead | | | 5 | 5 |\n| cable | | maker | 0 | |\n| lamp | | | 1 | |\n| screw | | | | |\n| pin | | | | 3 |\n"
	name := filepath.Join(dir, "devices", "a-b.md")
	require.NoError(t, os.WriteFile(name, []byte(text), 0o644))
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	five := 5
	assert.Equal(t, []Short{{"a-b", "fuse 2 A", "drawer 7", 4, &five}, {"a-b", "cable", "maker", 0, nil}}, Of(n).Short)
	before := n.Errors()
	require.NoError(t, os.WriteFile(name, []byte(strings.Replace(text, "| 4 | 5 |", "| four | -5 |", 1)), 0o644))
	n, err = notebook.Load(dir)
	require.NoError(t, err)
	assert.Equal(t, before+2, n.Errors())
}

// TestQuantile: the worked example of the definition (the 40th percentile of 15, 20, 35, 40
// and 50 is 29), which textbooks give for the one that spreadsheets use; and the ends.
func TestQuantile(t *testing.T) {
	list := []float64{15, 20, 35, 40, 50}
	for share, want := range map[float64]float64{0: 15, 0.25: 20, 0.4: 29, 0.5: 35, 0.75: 40, 1: 50} {
		assert.InDelta(t, want, quantile(list, share), 1e-12, share)
	}
	assert.InDelta(t, 1.75, quantile([]float64{1, 2, 3, 4}, 0.25), 1e-12)
	assert.InDelta(t, 7.0, quantile([]float64{7}, 0.25), 1e-12)
	assert.Equal(t, Times{}, timesOf(nil))
}
