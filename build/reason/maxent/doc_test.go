package maxent_test

import (
	"fmt"

	"benchlore/build/reason/maxent"
)

// Two words that speak for two classes.
func Example() {
	warm, loose := maxent.Row{Features: []int32{0}, Values: []float64{1}}, maxent.Row{Features: []int32{1}, Values: []float64{1}}
	m := maxent.Train([]maxent.Row{warm, warm, loose, loose}, []int{0, 0, 1, 1}, 2, 2, maxent.Options{Cost: 10, Iterations: 50})
	p := m.Probable(warm)
	fmt.Println(p[0] > 0.9, p[0]+p[1] > 0.999)
	// Output: true true
}
