package privacy

import (
	_ "embed"
	"fmt"
	"sync"

	"go.yaml.in/yaml/v3"
)

//go:embed iban.yaml
var ibanFile []byte

// ibanLengths is how many characters an IBAN has, by country.
var ibanLengths = sync.OnceValue(func() map[[2]byte]int {
	var by map[int][]string
	if err := yaml.Unmarshal(ibanFile, &by); err != nil {
		panic(fmt.Sprintf("iban.yaml: %v", err)) // the file is ours
	}
	lengths := map[[2]byte]int{}
	for n, countries := range by {
		for _, c := range countries {
			lengths[[2]byte{c[0], c[1]}] = n
		}
	}
	return lengths
})

// ibanAt is where the IBAN ends that begins at a place of a line, or zero. Small letters
// count where a word says what it is.
func ibanAt(line []byte, i int) int {
	if i+15 > len(line) || !letter(line[i]) || !letter(line[i+1]) {
		return 0
	}
	digits := i + 2
	for digits < len(line) && mark(line[digits]) && digits < i+2+mostMarks {
		digits++
	}
	if digits >= len(line) || !digit(line[digits]) {
		return 0
	}
	n := ibanLengths()[[2]byte{upper(line[i]), upper(line[i+1])}]
	if n == 0 {
		return 0
	}
	small, marks, have := false, 0, 0
	rest := 0 // of what was read, moved to its place: the first four come last
	first := [4]byte{}
	stop := i
	for ; stop < len(line) && have < n; stop++ {
		c := line[stop]
		switch {
		case letter(c) || digit(c):
			small = small || c >= 'a'
			c = upper(c)
			if have >= 2 && have < 4 && !digit(c) {
				return 0
			}
			if have < 4 {
				first[have] = c
			} else {
				rest = mod97(rest, c)
			}
			have, marks = have+1, 0
		case mark(c) && marks < mostMarks:
			marks++
		default:
			return 0
		}
	}
	if have < n || wordAt(line, stop) {
		return 0
	}
	for _, c := range first {
		rest = mod97(rest, c)
	}
	context := func() bool { return is(contextOf(line, i), iban, account) }
	if rest != 1 || small && !context() || wordAt(line, i-1) && (digit(line[i-1]) || !context()) {
		return 0
	}
	return stop
}

// mod97 goes on with the remainder of ISO/IEC 7064 by one character, a letter counting
// as the two digits from 10 to 35.
func mod97(rest int, c byte) int {
	if digit(c) {
		return (rest*10 + int(c-'0')) % 97
	}
	return (rest*100 + int(c-'A') + 10) % 97
}

func letter(c byte) bool { return c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' }

func upper(c byte) byte {
	if c >= 'a' && c <= 'z' {
		return c - 'a' + 'A'
	}
	return c
}
