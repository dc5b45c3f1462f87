// Package maxent is multinomial logistic regression, the maximum-entropy classifier:
// from sparse rows with known classes it learns how probable each class is for a new
// row.
//
// [Train] minimizes the cross-entropy plus the sum of squares of the weights over
// twice [Options.Cost], intercepts left free, by L-BFGS. Weights are kept as signed
// bytes of one [Model.Step], so that whoever writes them down and reads them back gets
// the same answers.
package maxent

import (
	"math"
	"runtime"
	"slices"
	"sync"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/optimize"
)

// Row is a sparse vector: features in rising order with their values.
type Row struct {
	Features []int32
	Values   []float64
}

// Options of the training.
type Options struct {
	Cost       float64 // weight of the data against the sum of squares
	Iterations int     // at most
	// Weights are what each row counts for, above 0; all alike where there are none.
	Weights []float64
}

// Model holds the weights of features by class. It is read-only.
type Model struct {
	Classes    int
	Step       float64   // worth of one unit of a weight
	Weights    []int8    // by feature, then by class
	Intercepts []float64 // by class
}

// history is how many steps back the optimizer remembers; each costs two vectors of all
// weights, and Liu & Nocedal (1989) found 3 to 7 to be enough.
const history = 6

// Train learns from rows with their classes, 0 to classes-1. Every sum is taken in the
// order of the rows, so that it is the same on any number of processors.
func Train(rows []Row, class []int, classes, features int, o Options) *Model {
	m := &Model{Classes: classes, Weights: make([]int8, features*classes), Intercepts: make([]float64, classes)}
	if len(rows) == 0 || classes < 2 {
		return m
	}
	n := features*classes + classes // the intercepts are last
	columns := transposed(rows, features)
	missed := make([]float64, len(rows)*classes) // by row and class: the probability, less one where it is the class
	logs := make([]float64, len(rows))
	weight := func(i int) float64 {
		if o.Weights == nil {
			return 1
		}
		return o.Weights[i]
	}
	loss := func(grad, x []float64) float64 {
		shared(len(rows), func(i int) {
			p := missed[i*classes : (i+1)*classes]
			scores(rows[i], x, x[features*classes:], classes, p)
			logs[i] = weight(i) * math.Log(max(softmax(p)[class[i]], 1e-300))
			p[class[i]]--
			if o.Weights != nil {
				floats.Scale(o.Weights[i], p)
			}
		})
		shared(features, func(f int) {
			g := grad[f*classes : (f+1)*classes]
			clear(g)
			for j, i := range columns[f].Features {
				floats.AddScaled(g, columns[f].Values[j], missed[int(i)*classes:(int(i)+1)*classes])
			}
			for k, w := range x[f*classes : (f+1)*classes] {
				g[k] = o.Cost*g[k] + w
			}
		})
		free := grad[features*classes:]
		clear(free)
		sum := 0.0
		for i := range rows {
			sum -= o.Cost * logs[i]
			for k, p := range missed[i*classes : (i+1)*classes] {
				free[k] += o.Cost * p
			}
		}
		for _, w := range x[:features*classes] {
			sum += w * w / 2
		}
		return sum
	}
	// The optimizer asks for value and gradient one after the other at the same place.
	at, last, grads := []float64(nil), 0.0, make([]float64, n)
	both := func(x []float64) {
		if !slices.Equal(at, x) {
			at, last = append(at[:0], x...), loss(grads, x)
		}
	}
	problem := optimize.Problem{Func: func(x []float64) float64 { both(x); return last },
		Grad: func(grad, x []float64) { both(x); copy(grad, grads) }}
	begin := make([]float64, n)
	if o.Weights != nil {
		// The shares of the classes, which is where no feature says anything. From
		// nought a class that weighs next to nothing would not come so far down in few
		// iterations.
		for i, k := range class {
			begin[features*classes+k] += o.Weights[i]
		}
		for k := range classes {
			begin[features*classes+k] = math.Log(begin[features*classes+k])
		}
	}
	result, err := optimize.Minimize(problem, begin,
		&optimize.Settings{MajorIterations: o.Iterations, GradientThreshold: 1e-3 * o.Cost, Concurrent: 1}, &optimize.LBFGS{Store: history})
	if result == nil {
		panic(err) // a convex function has a step downhill
	}
	x := result.X
	most := 0.0
	for _, w := range x[:features*classes] {
		most = max(most, math.Abs(w))
	}
	m.Step = math.Exp2(math.Ceil(math.Log2(max(most, 1e-9) / 127))) // a power of two, which text keeps exactly
	for i := range m.Weights {
		m.Weights[i] = int8(math.Round(x[i] / m.Step))
	}
	for k := range m.Intercepts {
		m.Intercepts[k] = math.Round(x[features*classes+k]*1e6) / 1e6
	}
	return m
}

// transposed gives the rows in which each feature stands.
func transposed(rows []Row, features int) []Row {
	count, held := make([]int, features), 0
	for _, r := range rows {
		for _, f := range r.Features {
			count[f]++
			held++
		}
	}
	in, values := make([]int32, held), make([]float64, held)
	out := make([]Row, features)
	for f, n := range count {
		out[f] = Row{in[:0:n], values[:0:n]}
		in, values = in[n:], values[n:]
	}
	for i, r := range rows {
		for j, f := range r.Features {
			out[f].Features = append(out[f].Features, int32(i))
			out[f].Values = append(out[f].Values, r.Values[j])
		}
	}
	return out
}

// shared does n pieces of work that need nothing of one another, on all processors.
func shared(n int, work func(i int)) {
	var done sync.WaitGroup
	workers := min(runtime.GOMAXPROCS(0), n)
	for w := range workers {
		done.Go(func() {
			for i := n * w / workers; i < n*(w+1)/workers; i++ {
				work(i)
			}
		})
	}
	done.Wait()
}

func scores(r Row, weights, intercepts []float64, classes int, out []float64) {
	copy(out, intercepts)
	for j, f := range r.Features {
		floats.AddScaled(out, r.Values[j], weights[int(f)*classes:int(f+1)*classes])
	}
}

// softmax turns scores into probabilities, in place.
func softmax(s []float64) []float64 {
	top := s[0]
	for _, x := range s {
		top = max(top, x)
	}
	sum := 0.0
	for k, x := range s {
		s[k] = math.Exp(x - top)
		sum += s[k]
	}
	for k := range s {
		s[k] /= sum
	}
	return s
}

// Insert adds a class at a place with an intercept, which no feature speaks for.
func (m *Model) Insert(at int, intercept float64) {
	weights := make([]int8, 0, len(m.Weights)/max(1, m.Classes)*(m.Classes+1))
	for i := 0; i < len(m.Weights); i += m.Classes {
		weights = append(append(append(weights, m.Weights[i:i+at]...), 0), m.Weights[i+at:i+m.Classes]...)
	}
	m.Weights, m.Classes, m.Intercepts = weights, m.Classes+1, slices.Insert(m.Intercepts, at, intercept)
}

// Probable gives the probability of each class for a row.
func (m *Model) Probable(r Row) []float64 {
	out := append([]float64(nil), m.Intercepts...)
	for j, f := range r.Features {
		v := r.Values[j] * m.Step
		for k, w := range m.Weights[int(f)*m.Classes : int(f+1)*m.Classes] {
			out[k] += v * float64(w)
		}
	}
	return softmax(out)
}
