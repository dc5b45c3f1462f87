package triage

import (
	"cmp"
	"math"
	"slices"

	"benchlore/build/notebook"
)

// What cases of other workshops count for.
//
// A case of another workshop counts by its weight, our own as one. What is said to be a
// number of cases is a number of whole cases, ours and theirs apart ([Basis]); weights come
// in where counts become probabilities, and nowhere before.
//
// A cause is seen once where exactly one case had it, whoever's: then it counts as that
// case does. Good & Turing's share of the unseen is
//
//	(sum over the causes seen once of n(c) + 1/2) / (N + 1)
//
// which is below one, since that sum is part of N. A cause of which two cases are known
// is never one of these, however little they weigh, so another case of it can only make the
// share smaller.

// beyond is how many cases more than our own of a kind all received ones of that kind
// together may count for. It is as many as a level needs that is not said to have too few:
// a new notebook answers from what it received, as it does from a method (Pseudo), and from
// twice as many own cases on most of what decides is its own (common practice, no source;
// it was not chosen by measuring).
const beyond = FewCases

// unit is what weights are whole multiples of. Sums of as many as four million cases are
// exact then, halves for guessed symptoms included, so that a case is counted in and out
// again without a trace, in Go and on the page alike.
const unit = 1.0 / (1 << 30)

// pool are the received cases of one workshop and kind of device.
type pool struct{ from, kind string }

// limitWeights makes the cases of other workshops lighter, alike within a kind of device,
// where they would weigh more together than [beyond] allows.
//
// What a case is left out for later changes no other's weight.
func (m *Model) limitWeights() {
	ours, theirs := map[string]float64{}, map[string]float64{}
	for i := range m.cases {
		if c := &m.cases[i]; c.from == "" {
			ours[c.evidence.Kind]++
		} else {
			theirs[c.evidence.Kind] += c.weight
		}
	}
	m.shares = map[pool]float64{}
	for i := range m.cases {
		c := &m.cases[i]
		if c.from == "" {
			continue
		}
		kind := c.evidence.Kind
		c.weight *= min(1, (ours[kind]+beyond)/theirs[kind])
		c.weight = max(unit, math.Floor(c.weight/unit)*unit)
		m.shares[pool{c.from, kind}] = c.weight
	}
}

// spreadOf gives g(c): in equal parts to all causes that cases had, but to one of which
// less than a case counts so much less.
func spreadOf(count []float64) []float64 {
	out, all := make([]float64, len(count)), 0.0
	for c, n := range count {
		out[c] = min(1, n)
		all += out[c]
	}
	for c := range out {
		if all > 0 {
			out[c] /= all
		}
	}
	return out
}

// unseen is the probability, before any evidence, of a cause that no case had.
func (m *Model) unseen() float64 {
	once := 0.0
	for c, n := range m.whole {
		if n == 1 {
			once += m.count[c]
		}
	}
	return (once + 0.5) / (m.total + 1)
}

// oursFirst puts our own cases of each cause before those of others; both stay in order.
func (m *Model) oursFirst() {
	theirs := map[string]bool{}
	for i := range m.cases {
		theirs[m.cases[i].id] = m.cases[i].from != ""
	}
	for _, list := range m.ids {
		slices.SortStableFunc(list, func(a, b string) int { return cmp.Compare(one(theirs[a]), one(theirs[b])) })
	}
}

// drawn are those of the cases that a strength is chosen on: all of them, or every so
// many by weight, so that many light cases have no more say than they weigh.
func (m *Model) drawn(some []int) (out []int) {
	all := 0.0
	for _, i := range some {
		all += m.cases[i].weight
	}
	step := max(1, math.Floor(all/tried))
	next, before := 0.0, 0.0
	for _, i := range some {
		if after := before + m.cases[i].weight; next < after {
			out, next = append(out, i), next+step
		}
		before += m.cases[i].weight
	}
	return out
}

// weighted is a number with what it counts for.
type weighted struct{ value, weight float64 }

// weightedMedian is the middle of the numbers by weight, the mean of two where it falls
// between them, or 0; with equal weights it is [Median].
func weightedMedian(list []weighted) float64 {
	slices.SortFunc(list, func(a, b weighted) int { return cmp.Compare(a.value, b.value) })
	all := 0.0
	for _, x := range list {
		all += x.weight
	}
	sum := 0.0
	for i, x := range list {
		switch sum += x.weight; {
		case 2*sum > all || i+1 == len(list):
			return x.value
		case 2*sum == all:
			return (x.value + list[i+1].value) / 2
		}
	}
	return 0
}

// heaviestFirst puts cases in falling order of their weights, else as they are, without
// weights where all count as one.
func heaviestFirst(closed []*notebook.Case, weights []float64) ([]*notebook.Case, []float64) {
	if !slices.ContainsFunc(weights, func(w float64) bool { return w != 1 }) {
		return closed, nil
	}
	order := make([]int, len(closed))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(weights[b], weights[a]) })
	outC, outW := make([]*notebook.Case, len(closed)), make([]float64, len(closed))
	for at, i := range order {
		outC[at], outW[at] = closed[i], weights[i]
	}
	return outC, outW
}

// tally counts whole cases.
type tally struct {
	device, kind map[string]int
	all          int
	closed       int // whether they say a cause or not
}

func newTally() tally { return tally{device: map[string]int{}, kind: map[string]int{}} }

func (t *tally) take(s *sample, by int) {
	t.device[s.evidence.Device] += by
	t.kind[s.evidence.Kind] += by
	t.all += by
}

// tallyOf is the tally of a workshop's cases.
func (m *Model) tallyOf(from string) *tally {
	if from == "" {
		return &m.ours
	}
	return &m.theirs
}
