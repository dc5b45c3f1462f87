// Package quantity reads and prints the values of the bench: numbers with SI
// units, RKM codes, expectations with tolerance, and the verdict of a reading.
//
// Call [Parse] for one value and [ParseExpectation] for what a reading should
// be. Numbers are exact decimals; nothing is rounded on the way in, and the
// printed form parses back to the same value. Errors are [*Error] and point at
// the character that could not be read.
package quantity

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// maxText bounds the text of one value, so that hostile input costs nothing.
const maxText = 200

// Value is a number with its unit. Over marks a reading beyond the meter's
// range ("OL"); its number is zero.
type Value struct {
	Number Decimal
	Unit   Unit
	Over   bool
	Bound  Bound // of a reading; of all else it is Exact
	Wave   Wave  // of a voltage or current where it is said
}

// Error is text that is not a quantity.
type Error struct {
	Text    string
	Offset  int // byte offset of the first character that could not be read
	Message string
}

func (e *Error) Error() string { return fmt.Sprintf("%s in %q", e.Message, clip(e.Text)) }

func clip(s string) string {
	if utf8.RuneCountInString(s) <= 40 {
		return s
	}
	return string([]rune(s)[:40]) + "…"
}

func fail(text string, offset int, format string, args ...any) error {
	return &Error{text, min(offset, len(text)), fmt.Sprintf(format, args...)}
}

// Parse reads one value: "4.7 kΩ", "4k7", "4,7k", "0R1", "3V3", "56p", "OL".
// A code without a unit is taken as ohms after R, K, M or G and as farads
// after p, n or u; a bare number has no unit.
func Parse(text string) (Value, error) {
	s := strings.TrimSpace(text)
	lead := strings.Index(text, s)
	if len(s) > maxText {
		return Value{}, fail(text, maxText, "too long for a value")
	}
	if s == "" {
		return Value{}, fail(text, 0, "no value")
	}
	if isOver(s) {
		return Value{Over: true}, nil
	}
	v, n, err := scanValue(s)
	if err != nil {
		e := err.(*Error)
		return Value{}, fail(text, lead+e.Offset, "%s", e.Message)
	}
	if n < len(s) {
		return Value{}, fail(text, lead+n, "%q does not belong to a value", clip(s[n:]))
	}
	return v, nil
}

func isOver(s string) bool {
	switch strings.ReplaceAll(strings.ToLower(s), ".", "") {
	case "ol", "0l", "∞", "open", "ovld", "overload":
		return true
	}
	return false
}

// scanValue reads a value at the start of s and returns the bytes it used.
func scanValue(s string) (Value, int, error) {
	d, n := scanNumber(s)
	if n == ambiguousComma {
		return Value{}, 0, fail(s, 0, "the comma may group thousands or be the decimal point: write %s", twoWays(s))
	}
	if n < 0 {
		return Value{}, 0, fail(s, 0, "more digits than a value can have")
	}
	if n == 0 {
		if v, n, ok := scanCode(s, Decimal{}, 0); ok {
			return bounded(s, v, n)
		}
		if v, n, ok := scanUnitFirst(s); ok {
			return bounded(s, v, n)
		}
		return Value{}, 0, fail(s, 0, "no number")
	}
	if v, m, ok := scanCode(s[n:], d, n); ok {
		return bounded(s, v, n+m)
	}
	// The unit may stand off by a space, also a narrow or unbreakable one.
	at := n
	for at < len(s) {
		r, size := utf8.DecodeRuneInString(s[at:])
		if r != ' ' && r != '\u00a0' && r != '\u202f' && r != '\u2009' {
			break
		}
		at += size
	}
	word := unitWord(s[at:])
	if word == "" {
		return bounded(s, Value{Number: d}, n)
	}
	if word == "C" && at > n {
		return bounded(s, Value{Number: d, Unit: Celsius}, at+1) // "25C" may be a marking
	}
	if u, exp, ok := scanUnit(word); ok {
		d.Exp += exp
		return bounded(s, Value{Number: d, Unit: u}, at+len(word))
	}
	if exp, size, ok := prefix(word); ok && size == len(word) {
		// A bare prefix names its quantity by habit: "4.7 k" is ohms, "56 p" farads.
		u := Ohm
		if exp < -3 {
			u = Farad
		} else if exp == -3 {
			return Value{}, 0, fail(s, at, "%q alone may be milli or metre; write the unit", word)
		}
		d.Exp += exp
		return bounded(s, Value{Number: d, Unit: u}, at+len(word))
	}
	if at > n {
		return bounded(s, Value{Number: d}, n) // a word after a bare number is the caller's affair
	}
	return Value{}, 0, fail(s, at, "%q is not a unit", clip(word))
}

// twoWays says how a number with an ambiguous comma is written without doubt.
func twoWays(s string) string {
	i := strings.IndexByte(s, ',')
	start := strings.LastIndexFunc(s[:i], func(r rune) bool { return r < '0' || r > '9' }) + 1
	return s[start:i] + " " + s[i+1:i+4] + " or " + s[start:i] + "." + s[i+1:i+4]
}

// scanCode reads the rest of an RKM code (IEC 60062): a letter in the place of
// the decimal point, then digits. d is what stood before it, in n bytes.
func scanCode(s string, d Decimal, n int) (Value, int, bool) {
	if d.Exp < 0 || s == "" {
		return Value{}, 0, false
	}
	var unit Unit
	exp, size := 0, 1
	switch s[0] {
	case 'R':
		unit = Ohm
	case 'L':
		unit, exp = Ohm, -3
	case 'V':
		unit = Volt
	case 'A':
		unit = Ampere
	case 'F':
		unit = Farad
	case 'H':
		unit = Henry
	case 'k', 'K', 'M', 'G', 'T':
		exp, _, _ = prefix(s)
		unit = Ohm
	case 'm':
		unit, exp = Farad, -3
	default:
		e, m, ok := prefix(s)
		if !ok || e < -12 {
			return Value{}, 0, false
		}
		unit, exp, size = Farad, e, m
	}
	i := size
	for i < len(s) && isDigit(s[i]) {
		i++
	}
	if i == size || i-size > 6 {
		return Value{}, 0, false
	}
	if d.Coef < 0 || d.Coef > pow10[maxDigits-8] {
		return Value{}, 0, false
	}
	for _, c := range []byte(s[size:i]) {
		d.Coef = d.Coef*10 + int64(c-'0')
		d.Exp--
	}
	// An explicit unit may follow: 2n2F, 4k7Ω, 4u7H. Others may be tolerance letters.
	if word := unitWord(s[i:]); word != "" {
		if u, ok := spellings[word]; ok &&
			(u == unit || exp > 0 && u == Hertz || exp < 0 && (u == Henry || u == Volt || u == Ampere || u == Second)) {
			unit = u
			i += len(word)
		}
	}
	d.Exp += exp
	return Value{Number: d, Unit: unit}, i, true
}

// scanUnitFirst reads a unit that stands before its number: "V 3.3", "Ω4.7k".
func scanUnitFirst(s string) (Value, int, bool) {
	word := unitWord(s)
	u, ok := spellings[word]
	if !ok || u == None {
		return Value{}, 0, false
	}
	at := len(word)
	for at < len(s) && s[at] == ' ' {
		at++
	}
	d, n := scanNumber(s[at:])
	if n <= 0 {
		return Value{}, 0, false
	}
	at += n
	if rest := unitWord(s[at:]); rest != "" {
		exp, size, ok := prefix(rest)
		if !ok || size != len(rest) || !units[u].prefixes {
			return Value{}, 0, false
		}
		d.Exp += exp
		at += size
	}
	return Value{Number: d, Unit: u}, at, true
}

// unitWord returns the run of characters that can spell a unit.
func unitWord(s string) string {
	if strings.HasPrefix(s, "1/min") {
		return "1/min"
	}
	for i, r := range s {
		ascii := r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r == '%' || r == '/' && i == 0
		if !ascii && r != 'Ω' && r != '\u2126' && r != 'µ' && r != 'μ' && r != '°' && r != '℃' && r != '⁻' && r != '¹' {
			return s[:i]
		}
	}
	return s
}

func bounded(s string, v Value, n int) (Value, int, error) {
	v.Number = v.Number.normal()
	if v.Number.Coef < 0 && int(v.Unit) < len(neverNegative) && neverNegative[v.Unit] {
		return Value{}, 0, fail(s, 0, "a %s is never negative", v.Unit.Quantity())
	}
	if v.Number.Coef != 0 {
		if o := v.Number.order(); o > maxExp || o < -maxExp {
			return Value{}, 0, fail(s, 0, "beyond anything that can be measured")
		}
	}
	return v, n, nil
}

// String prints the value in engineering notation with all its digits:
// "4.7 kΩ", "220 µF", "OL". [Parse] reads it back to the same value.
func (v Value) String() string {
	switch {
	case v.Over:
		return "OL"
	case v.Bound == Beep:
		return "beep"
	case v.Bound == NoBeep:
		return "no beep"
	case v.Bound != Exact || v.Wave != anyWave:
		exact := v
		exact.Bound, exact.Wave = Exact, anyWave
		return v.Bound.sign() + exact.String() + waveNames[v.Wave]
	}
	u := units[v.Unit]
	if v.Unit == None {
		return v.Number.String()
	}
	if !u.prefixes || v.Number.Coef == 0 {
		return v.Number.String() + " " + u.symbol
	}
	step := v.Number.order()
	if step < 0 {
		step -= 2
	}
	step = min(max(step/3*3, -15), 12)
	if v.Unit == Metre || v.Unit == Second || v.Unit == Litre {
		step = min(step, 0) // kilometres, kiloseconds and kilolitres are not of the bench
	}
	if v.Unit == Farad || v.Unit == Henry {
		step = min(max(step, -12), 0)
	}
	return v.Number.plain(-step) + " " + prefixNames[step/3+5] + u.symbol
}

var prefixNames = [...]string{"f", "p", "n", "µ", "m", "", "k", "M", "G", "T"}
