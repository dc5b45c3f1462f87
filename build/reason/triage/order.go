package triage

import (
	"cmp"
	"math"
	"slices"
)

// problem is a question of order: causes with probabilities, checks with minutes
// and with the probability that each shows each cause, and which checks must
// come before a check.
type problem struct {
	P       []float64   // by cause
	Minutes []float64   // by check
	Shows   [][]float64 // by check, by cause
	Before  [][]int     // by check; nil means none
}

// cost is the expected minutes of an order until the fault is found or the
// checks are used up.
func (o *problem) cost(order []int) float64 {
	left := slices.Clone(o.P)
	cost := 0.0
	for _, k := range order {
		rest := 0.0
		for _, p := range left {
			rest += p
		}
		cost += o.Minutes[k] * rest
		for c := range left {
			left[c] *= 1 - o.Shows[k][c]
		}
	}
	return cost
}

// after gives for each step the expected minutes still to go once it was clear.
func (o *problem) after(order []int) []float64 {
	out := make([]float64, len(order))
	left := slices.Clone(o.P)
	for i, k := range order {
		rest := 0.0
		for c := range left {
			left[c] *= 1 - o.Shows[k][c]
			rest += left[c]
		}
		if rest > 0 {
			scaled := problem{P: slices.Clone(left), Minutes: o.Minutes, Shows: o.Shows}
			for c := range scaled.P {
				scaled.P[c] /= rest
			}
			out[i] = scaled.cost(order[i+1:])
		}
	}
	return out
}

// order returns the order of least cost that keeps what must come first, exact
// up to exactChecks checks and by the stated heuristic beyond.
func (o *problem) order() []int {
	if len(o.Minutes) <= exactChecks {
		return o.exact()
	}
	return o.heuristic()
}

func (o *problem) allowed(k int, done func(int) bool) bool {
	if o.Before == nil {
		return true
	}
	for _, b := range o.Before[k] {
		if !done(b) {
			return false
		}
	}
	return true
}

// exact goes over all sets of checks made: the rest of the cost depends only on
// which were made, not in which order.
func (o *problem) exact() []int {
	n := len(o.Minutes)
	size := 1 << n
	rest := make([]float64, size) // probability that nothing in the set showed the fault
	left := make([][]float64, size)
	for set := range size {
		if set == 0 {
			left[0] = o.P
		} else {
			k := lowest(set)
			from := left[set&(set-1)]
			row := make([]float64, len(o.P))
			for c := range row {
				row[c] = from[c] * (1 - o.Shows[k][c])
			}
			left[set] = row
		}
		for _, p := range left[set] {
			rest[set] += p
		}
	}
	best, next := make([]float64, size), make([]int, size)
	for set := size - 2; set >= 0; set-- {
		best[set], next[set] = math.Inf(1), -1
		for k := range n {
			if set>>k&1 == 1 || !o.allowed(k, func(b int) bool { return set>>b&1 == 1 }) {
				continue
			}
			if cost := o.Minutes[k]*rest[set] + best[set|1<<k]; cost < best[set]-1e-12 {
				best[set], next[set] = cost, k
			}
		}
	}
	if n > 0 && next[0] < 0 {
		return o.heuristic() // what must come first goes in a circle
	}
	var order []int
	for set := 0; set < size-1 && next[set] >= 0; set |= 1 << next[set] {
		order = append(order, next[set])
	}
	return order
}

func lowest(set int) int {
	k := 0
	for set>>k&1 == 0 {
		k++
	}
	return k
}

// heuristic takes the check that finds most in a minute, again and again, then
// moves single checks while that lowers the cost.
func (o *problem) heuristic() []int {
	order := o.by(func(left []float64, k int) float64 {
		finds := 0.0
		for c, p := range left {
			finds += p * o.Shows[k][c]
		}
		return finds / o.Minutes[k]
	})
	cost := o.cost(order)
	for better := true; better; {
		better = false
		for from := range order {
			for to := range order {
				if from == to {
					continue
				}
				next := slices.Delete(slices.Clone(order), from, from+1)
				next = slices.Insert(next, to, order[from])
				if !o.keeps(next) {
					continue
				}
				if c := o.cost(next); c < cost-1e-9 {
					order, cost, better = next, c, true
				}
			}
		}
	}
	return order
}

// keeps reports whether the order keeps what must come first.
func (o *problem) keeps(order []int) bool {
	made := make([]bool, len(o.Minutes))
	for _, k := range order {
		if !o.allowed(k, func(b int) bool { return made[b] }) {
			return false
		}
		made[k] = true
	}
	return true
}

// even makes numbers that differ only in their last digits equal, so that ties
// fall the same way wherever they are computed.
func even(x float64) float64 {
	if math.IsInf(x, 0) {
		return x
	}
	return math.Round(x * 1e9)
}

// by orders the checks by falling worth, again after each, keeping what must
// come first.
func (o *problem) by(worth func(left []float64, k int) float64) []int {
	left := slices.Clone(o.P)
	made := make([]bool, len(o.Minutes))
	var order []int
	for len(order) < len(made) {
		best, most := -1, math.Inf(-1)
		for k := range made {
			if made[k] || !o.allowed(k, func(b int) bool { return made[b] }) {
				continue
			}
			if w := worth(left, k); even(w) > even(most) {
				best, most = k, w
			}
		}
		if best < 0 {
			break // what must come first goes in a circle; leave it out
		}
		made[best] = true
		order = append(order, best)
		for c := range left {
			left[c] *= 1 - o.Shows[best][c]
		}
	}
	return order
}

// commonestFirst looks for the most probable cause first, whatever it costs.
func (o *problem) commonestFirst() []int {
	return o.by(func(_ []float64, k int) float64 {
		best := 0.0
		for c, p := range o.P {
			best = max(best, p*o.Shows[k][c])
		}
		return best
	})
}

func (o *problem) cheapestFirst() []int {
	return o.by(func(_ []float64, k int) float64 { return -o.Minutes[k] })
}

// random is the mean cost over all orders, whatever must come first. Another
// check stands before a given one, at a place t of the way, with probability t:
// the mean is an integral over t of a product, a polynomial that Gauss-Legendre
// with 16 nodes integrates exactly up to degree 31.
func (o *problem) random() float64 {
	cost := 0.0
	for k := range o.Minutes {
		for c, p := range o.P {
			if p == 0 {
				continue
			}
			mean := 0.0
			for i, x := range nodes {
				for _, t := range [2]float64{(1 - x) / 2, (1 + x) / 2} {
					product := 1.0
					for j := range o.Minutes {
						if j != k {
							product *= 1 - t*o.Shows[j][c]
						}
					}
					mean += product * nodeWeights[i] / 2
				}
			}
			cost += o.Minutes[k] * p * mean
		}
	}
	return cost
}

// nodes and nodeWeights are the positive half of the 16-point Gauss-Legendre
// rule, found by Newton's method on the Legendre polynomial.
var nodes, nodeWeights = func() (x, w [8]float64) {
	const n = 16
	for i := range x {
		z := math.Cos(math.Pi * (float64(i) + 0.75) / (n + 0.5))
		var slope float64
		for range 100 {
			p, before := 1.0, 0.0
			for j := range n {
				p, before = ((2*float64(j)+1)*z*p-float64(j)*before)/float64(j+1), p
			}
			slope = n * (z*p - before) / (z*z - 1)
			step := p / slope
			z -= step
			if math.Abs(step) < 1e-15 {
				break
			}
		}
		x[i], w[i] = z, 2/((1-z*z)*slope*slope)
	}
	return x, w
}()

// clairvoyant is the least expected minutes for somebody who knows the cause:
// the checks that show it, by what they find in a minute.
func (o *problem) clairvoyant(cause int) float64 {
	known := problem{P: make([]float64, len(o.P)), Minutes: o.Minutes, Shows: o.Shows}
	known.P[cause] = 1
	order := make([]int, len(o.Minutes))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(o.Shows[b][cause]/o.Minutes[b], o.Shows[a][cause]/o.Minutes[a])
	})
	return known.cost(order)
}
