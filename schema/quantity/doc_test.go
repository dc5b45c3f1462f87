package quantity_test

import (
	"fmt"

	"benchlore/schema/quantity"
)

// A reading is judged against what is expected, with how sure the meter is.
func Example() {
	expected, err := quantity.ParseExpectation("3.3 V ±5 %")
	if err != nil {
		fmt.Println(err)
		return
	}
	read, err := quantity.ParseReading("2.71 V")
	if err != nil {
		fmt.Println(err)
		return
	}
	verdict, err := quantity.Judge(expected, read, quantity.Decimal{})
	fmt.Println(verdict, err)
	// Output: low <nil>
}

// What is not understood is named, and no verdict is given on it.
func ExampleSwap() {
	fits, _ := quantity.Swap("100 nF 16 V X7R 0402", "100 nF 25 V X7R 0402", nil)
	fmt.Println(fits.Verdict)
	refused, _ := quantity.Swap("fuse 2 A 250 V slow", "fuse 4 A 250 V slow", nil)
	fmt.Println(refused.Verdict)
	// Output:
	// fits
	// does-not-fit
}
