package figures

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"benchlore/build/notebook"
	"benchlore/build/workshop"
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
	assert.Equal(t, f.FirstTime.Of-f.FirstTime.N, f.Returns.SameFault+f.Returns.OwnWork+f.Returns.Unrelated+f.Returns.Open, "each repair came back at most once here")
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
