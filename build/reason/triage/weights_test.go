package triage

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/schema/casefile"
	"benchlore/schema/terms"
)

// drawnCases draws so many own cases, then those of others.
func drawnCases(r *rand.Rand, own, theirs int) (list []*notebook.Case) {
	faults, places := []string{"wear", "joint-cracked", "short"}, []string{"relay", "fuse", "power-supply", "smoothing"}
	signs := []string{"no-power", "hum", "flicker"}
	for i := range own + theirs {
		kind := []string{"laptop", "lamp"}[r.IntN(2)]
		c := &notebook.Case{File: &casefile.File{Document: &casefile.Document{}}, Device: &notebook.Device{ID: "a-" + kind, Kind: kind}}
		c.File.Case = casefile.Case{ID: fmt.Sprintf("2026-%04d", i), Closed: fmt.Sprintf("2026-%02d-02", 1+r.IntN(9)),
			Symptoms: []string{signs[r.IntN(3)]},
			Cause:    &casefile.Cause{Fault: faults[r.IntN(3)], At: places[r.IntN(4)]},
			Findings: []casefile.Finding{{Check: "Fuse", Result: []string{"clear", "fault"}[r.IntN(2)], Minutes: 1 + r.IntN(9)}}}
		if i >= own {
			c.File.Case.From = []string{"quay", "harbour"}[r.IntN(2)]
		}
		list = append(list, c)
	}
	return list
}

// learnedFrom is the model of cases, those of others by a weight.
func learnedFrom(list []*notebook.Case, weight float64) *Model {
	n := &notebook.Notebook{Terms: terms.Builtin(), Cases: list}
	n.Config.Received.Weight = &weight
	return New(n)
}

// unsigned gives the same cases as if all were our own.
func unsigned(list []*notebook.Case) (out []*notebook.Case) {
	for _, c := range list {
		own, f := *c, *c.File
		f.Case.From = ""
		own.File = &f
		out = append(out, &own)
	}
	return out
}

// TestAnyMixture: whatever a notebook has of its own and of others, and whatever these
// weigh, an answer is made of numbers that are probabilities; weight 0 is as not received
// and weight 1 below the ceiling as our own; all received ones together never weigh more
// than our own of the kind and [beyond] more; and a received case of a cause that is known
// twice never makes the unseen more probable.
func TestAnyMixture(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 4))
	asked := []Evidence{{}, {Symptoms: []string{"no-power"}, Kind: "laptop"}, {Symptoms: []string{"hum"}, Absent: []string{"flicker"}, Device: "a-lamp"},
		{Kind: "laptop", Found: []Finding{{"Fuse", "clear"}}}}
	alike, risen := 0, 0
	for own := range 9 {
		for theirs := range 51 {
			list := drawnCases(r, own, theirs)
			weight := []float64{0, 0.0625, 0.25, 0.5, 0.8, 1, r.Float64()}[(own+theirs)%7]
			what := fmt.Sprintf("%d own, %d of others by %g", own, theirs, weight)
			m, alone, counted := learnedFrom(list, weight), learnedFrom(list[:own], weight), learnedFrom(unsigned(list), weight)
			ours, all := map[string]float64{}, map[string]float64{}
			for i, c := range list {
				all[c.Device.Kind]++
				if i < own {
					ours[c.Device.Kind]++
				}
			}
			below := true
			for kind, n := range all {
				limit := ours[kind] + beyond
				require.LessOrEqual(t, m.kindN[kind]-ours[kind], limit, what)
				below = below && n-ours[kind] <= limit
			}
			for _, e := range asked {
				causes, unseen := m.Causes(e)
				sum := unseen
				for _, c := range causes {
					sum += c.P
					for _, x := range []float64{c.P, c.Interval[0], c.Interval[1]} {
						require.True(t, x >= 0 && x <= 1, "%s: %v", what, c) // not so for NaN either
					}
					require.LessOrEqual(t, c.Interval[0], c.P+1e-12, what)
					require.GreaterOrEqual(t, c.Interval[1], c.P-1e-12, what)
				}
				require.InDelta(t, 1, sum, 1e-9, what)
				plan := m.Plan(e)
				require.False(t, math.IsNaN(plan.Expected) || math.IsInf(plan.Expected, 0), what)
				for _, s := range plan.Steps {
					require.True(t, s.Finds > 0 && s.Finds <= 1+1e-9 && s.Minutes > 0, "%s: %v", what, s)
				}
				if m.total == alone.total {
					requireSameAnswer(t, alone, m, e, what)
				}
				if weight == 1 && below {
					alike++
					requireSameAnswer(t, counted, m, e, what)
				}
			}
			met := map[Cause]int{}
			for _, c := range list {
				met[Cause{c.File.Case.Cause.Fault, c.File.Case.Cause.At}]++
			}
			more := drawnCases(r, 0, 1)[0]
			more.File.Case.ID = "2026-9999"
			if k := more.File.Case.Cause; met[Cause{k.Fault, k.At}] >= 2 {
				risen++
				_, before := m.Causes(Evidence{})
				_, after := learnedFrom(append(list[:len(list):len(list)], more), weight).Causes(Evidence{})
				require.LessOrEqual(t, after, before+1e-6, "%s: one more of a cause that is known", what) // weights are rounded
			}
		}
	}
	assert.Greater(t, alike, 50)
	assert.Greater(t, risen, 200)
}

// requireSameAnswer compares what two models answer.
func requireSameAnswer(t *testing.T, want, got *Model, e Evidence, what string) {
	t.Helper()
	require.InDelta(t, want.Strength, got.Strength, 1e-12, what)
	require.InDelta(t, want.CheckStrength, got.CheckStrength, 1e-12, what)
	wanted, unseen := want.Causes(e)
	causes, left := got.Causes(e)
	require.InDelta(t, unseen, left, 1e-12, what)
	require.Len(t, causes, len(wanted), what)
	for i, c := range wanted {
		require.Equal(t, c.Cause, causes[i].Cause, what)
		require.InDelta(t, c.P, causes[i].P, 1e-12, what)
		require.InDelta(t, c.Interval[0], causes[i].Interval[0], 1e-12, what)
	}
	require.InDelta(t, want.Plan(e).Expected, got.Plan(e).Expected, 1e-9, what)
}

// TestUnseenOfFew works the share of the unseen out by hand: two received cases of two
// causes at a half are one case, of which all was seen once, (1 + 1/2) / (1 + 1); with
// two own ones of the first, (1/2 + 1/2) / (3 + 1), since that cause is known three times.
func TestUnseenOfFew(t *testing.T) {
	of := func(from ...string) *Model {
		list := drawnCases(rand.New(rand.NewPCG(1, 1)), 0, len(from))
		for i, f := range from {
			list[i].Device.Kind = "laptop"
			list[i].File.Case.From = f
			list[i].File.Case.Cause = &casefile.Cause{Fault: []string{"wear", "short", "wear", "wear"}[i], At: "relay"}
		}
		return learnedFrom(list, 0.5)
	}
	assert.InDelta(t, 0.75, of("quay", "quay").unseen(), 1e-12)
	assert.InDelta(t, 1.0/4, of("quay", "quay", "", "").unseen(), 1e-12)
	assert.Equal(t, Basis{All: 2, Closed: 2, Theirs: Theirs{All: 2, Closed: 2, Weight: of("quay", "quay", "", "").Basis(Evidence{}).Theirs.Weight}},
		of("quay", "quay", "", "").Basis(Evidence{}), "whole cases")
	assert.InDelta(t, 1, of("quay", "quay", "", "").Basis(Evidence{}).Theirs.Weight.All, 1e-12)
}

// TestManyReceived: a thousand received cases of a kind count for so much as our own of
// it and [beyond] more, without a trace of rounding when a case is counted out and in.
func TestManyReceived(t *testing.T) {
	list := drawnCases(rand.New(rand.NewPCG(2, 2)), 6, 1000)
	m := learnedFrom(list, 0.5)
	ours := map[string]float64{}
	for _, c := range list[:6] {
		ours[c.Device.Kind]++
	}
	for kind, n := range ours {
		assert.InDelta(t, 2*n+beyond, m.kindN[kind], 1e-6, kind)
	}
	total, counts := m.total, append([]float64{}, m.count...)
	for i := range m.cases {
		m.take(&m.cases[i], -1)
		m.take(&m.cases[i], 1)
	}
	assert.True(t, total == m.total)
	assert.Equal(t, counts, m.count)
	e := m.Evaluate()
	assert.Equal(t, []int{6, 6, 1000}, []int{e.Closed, e.Cases, e.Theirs})
}

// TestWeightedMedian: with equal weights it is the median, else the place where half of
// the weight lies to either side.
func TestWeightedMedian(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for n := range 12 {
		var plain []float64
		var list []weighted
		for range n {
			x := float64(r.IntN(6))
			plain, list = append(plain, x), append(list, weighted{x, 0.25})
		}
		assert.InDelta(t, Median(plain), weightedMedian(list), 1e-12, "%v", plain)
	}
	assert.InDelta(t, 10, weightedMedian([]weighted{{1, 0.1}, {2, 0.1}, {3, 0.1}, {10, 1}}), 1e-12)
}
