package maxent

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestTwoClasses compares with the same problem solved by Newton's method in two
// variables, written out here: one feature, one difference of weights, one of
// intercepts.
func TestTwoClasses(t *testing.T) {
	x := []float64{-2, -1.5, -1, -0.5, 0, 0.5, 1, 1.5, 2, 0.3}
	y := []int{0, 0, 0, 1, 0, 1, 1, 0, 1, 1}
	const cost = 2.0
	// With weights w and -w of the classes the penalty is w², and the odds are 2w x + 2b.
	w, b := 0.0, 0.0
	for range 100 {
		gw, gb, hww, hwb, hbb := 2*w, 0.0, 2.0, 0.0, 0.0
		for i := range x {
			p := 1 / (1 + math.Exp(-(2*w*x[i] + 2*b)))
			d, v := cost*(p-float64(y[i])), cost*p*(1-p)
			gw, gb = gw+2*d*x[i], gb+2*d
			hww, hwb, hbb = hww+4*v*x[i]*x[i], hwb+4*v*x[i], hbb+4*v
		}
		det := hww*hbb - hwb*hwb
		w, b = w-(hbb*gw-hwb*gb)/det, b-(hww*gb-hwb*gw)/det
	}
	var rows []Row
	for _, v := range x {
		rows = append(rows, Row{[]int32{0}, []float64{v}})
	}
	m := Train(rows, y, 2, 1, Options{Cost: cost, Iterations: 200})
	for _, v := range []float64{-3, -0.7, 0, 0.4, 2.5} {
		want := 1 / (1 + math.Exp(-(2*w*v + 2*b)))
		assert.InDelta(t, want, m.Probable(Row{[]int32{0}, []float64{v}})[1], 0.01, "%g", v)
	}
}

// TestOptimum: where the loss is least, each weight is the cost times what the data
// pull at it, for many classes; and the answer is the same every time.
func TestOptimum(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	const classes, features, cost = 5, 12, 0.3
	var rows []Row
	var class []int
	for range 200 {
		k := r.IntN(classes)
		row := Row{}
		for f := range int32(features) {
			if r.IntN(3) == 0 || int(f)%classes == k && r.IntN(3) > 0 {
				row.Features, row.Values = append(row.Features, f), append(row.Values, 0.2+r.Float64())
			}
		}
		rows, class = append(rows, row), append(class, k)
	}
	m := Train(rows, class, classes, features, Options{Cost: cost, Iterations: 300})
	pull, free := make([]float64, features*classes), make([]float64, classes)
	right := 0
	for i, row := range rows {
		p := m.Probable(row)
		best := 0
		sum := 0.0
		for k := range p {
			sum += p[k]
			if p[k] > p[best] {
				best = k
			}
		}
		assert.InDelta(t, 1, sum, 1e-12)
		if best == class[i] {
			right++
		}
		p[class[i]]--
		for j, f := range row.Features {
			for k := range p {
				pull[int(f)*classes+k] -= cost * row.Values[j] * p[k]
			}
		}
		for k := range p {
			free[k] += p[k]
		}
	}
	for i, w := range m.Weights {
		assert.InDelta(t, pull[i], float64(w)*m.Step, 6*m.Step, i)
	}
	for k := range free {
		assert.InDelta(t, 0, free[k], 1, k)
	}
	assert.Greater(t, right, 90, "of 200, a fifth by chance")
	assert.Equal(t, m, Train(rows, class, classes, features, Options{Cost: cost, Iterations: 300}))
}

// TestInsert: a class that was not learned takes nothing from what others say of each
// other.
func TestInsert(t *testing.T) {
	rows := []Row{{[]int32{0}, []float64{1}}, {[]int32{1}, []float64{1}}}
	m := Train(rows, []int{0, 1}, 2, 2, Options{Cost: 5, Iterations: 50})
	before := m.Probable(rows[0])
	m.Insert(1, -3)
	after := m.Probable(rows[0])
	assert.InDelta(t, before[0]/before[1], after[0]/after[2], 1e-9)
	assert.Greater(t, after[1], 0.0)
	none := Train(nil, nil, 1, 3, Options{Cost: 1, Iterations: 5})
	assert.Equal(t, []float64{1}, none.Probable(Row{}))
}
