package terms_test

import (
	"fmt"

	"benchlore/schema/terms"
)

// Symptoms are recognised in plain words, and a slip gets the nearest word.
func ExampleVocabulary_Recognise() {
	v := terms.Builtin()
	for _, m := range v.Recognise(terms.Symptom, "it won't turn on and smells burnt") {
		fmt.Println(m.Term.ID)
	}
	fmt.Println(v.Nearest(terms.Symptom, "no-powr"))
	// Output:
	// no-power
	// smell-burning
	// no-power
}
