package quantity

import (
	"cmp"
	"math"
	"math/big"
	"strconv"
	"strings"
)

// Decimal is an exact decimal number, Coef × 10^Exp. The zero value is 0.
// Decimals made by this package have no trailing zeros in Coef, so equal
// numbers are equal structs.
type Decimal struct {
	Coef int64
	Exp  int
}

// Limits of a decimal: what a repairer can mean lies far inside, and sums of
// exponents stay far from overflow.
const (
	maxDigits = 18
	maxExp    = 30 // of the leading digit, either way
)

var pow10 = [...]int64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18}

func (d Decimal) normal() Decimal {
	if d.Coef == 0 {
		return Decimal{}
	}
	for d.Coef%10 == 0 {
		d.Coef /= 10
		d.Exp++
	}
	return d
}

// digits returns the number of decimal digits of the coefficient.
func (d Decimal) digits() int {
	c, n := d.Coef, 1
	for c >= 10 || c <= -10 {
		c /= 10
		n++
	}
	return n
}

// order returns the exponent of the leading digit: 0 for 1 to 9.99.
func (d Decimal) order() int { return d.digits() - 1 + d.Exp }

// rat returns the number as an exact fraction.
func (d Decimal) rat() *big.Rat {
	if d.Exp == 0 || d.Coef == 0 {
		return new(big.Rat).SetInt64(d.Coef)
	}
	if d.Exp < 0 {
		return new(big.Rat).SetFrac(big.NewInt(d.Coef), tenTo(-d.Exp))
	}
	whole := big.NewInt(d.Coef)
	return new(big.Rat).SetInt(whole.Mul(whole, tenTo(d.Exp)))
}

// tens are the powers of ten that numbers at a bench need, and are only read.
var tens = func() (list [31]*big.Int) {
	for n := range list {
		list[n] = new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(n)), nil)
	}
	return list
}()

func tenTo(n int) *big.Int {
	if n < len(tens) {
		return tens[n]
	}
	return new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(n)), nil)
}

// Float returns the nearest float64.
func (d Decimal) Float() float64 {
	f, _ := strconv.ParseFloat(strconv.FormatInt(d.Coef, 10)+"e"+strconv.Itoa(d.Exp), 64)
	return f
}

// Cmp compares two decimals exactly.
func (d Decimal) Cmp(e Decimal) int {
	if d == e {
		return 0
	}
	if d.Exp < e.Exp {
		return -e.Cmp(d)
	}
	// Where the coefficients fit at one exponent, integers are compared.
	if k := d.Exp - e.Exp; k < len(powers) {
		if d.Coef != math.MinInt64 && max(d.Coef, -d.Coef) <= math.MaxInt64/powers[k] {
			return cmp.Compare(d.Coef*powers[k], e.Coef)
		}
	}
	return d.rat().Cmp(e.rat())
}

// powers of ten that fit an int64.
var powers = func() (list [19]int64) {
	list[0] = 1
	for i := 1; i < len(list); i++ {
		list[i] = 10 * list[i-1]
	}
	return list
}()

// Sign returns -1, 0 or 1.
func (d Decimal) Sign() int {
	switch {
	case d.Coef < 0:
		return -1
	case d.Coef > 0:
		return 1
	}
	return 0
}

// Abs returns the magnitude.
func (d Decimal) Abs() Decimal {
	if d.Coef < 0 {
		d.Coef = -d.Coef
	}
	return d
}

// Add returns the sum; ok is false where it has more digits than a decimal holds.
func (d Decimal) Add(e Decimal) (sum Decimal, ok bool) {
	if d.Coef == 0 || e.Coef == 0 {
		return Decimal{d.Coef + e.Coef, d.Exp + e.Exp}.normal(), true
	}
	if d.Exp < e.Exp {
		d, e = e, d
	}
	for ; d.Exp > e.Exp; d.Exp-- {
		if d.Coef > math.MaxInt64/10 || d.Coef < math.MinInt64/10 {
			return Decimal{}, false
		}
		d.Coef *= 10
	}
	c := d.Coef + e.Coef
	if (c > d.Coef) != (e.Coef > 0) {
		return Decimal{}, false
	}
	return Decimal{c, e.Exp}.normal(), true
}

// Neg returns the number with its sign changed.
func (d Decimal) Neg() Decimal {
	d.Coef = -d.Coef
	return d
}

// plain prints the number times 10^shift without an exponent.
func (d Decimal) plain(shift int) string {
	exp := d.Exp + shift
	s := strconv.FormatInt(d.Abs().Coef, 10)
	switch {
	case d.Coef == 0:
		s = "0"
	case exp >= 0:
		for range exp {
			s += "0"
		}
	default:
		for len(s) <= -exp {
			s = "0" + s
		}
		s = s[:len(s)+exp] + "." + s[len(s)+exp:]
	}
	if d.Coef < 0 {
		return "-" + s
	}
	return s
}

// String prints the number in full, without an exponent.
func (d Decimal) String() string { return d.plain(0) }

// FromFloat rounds a computed number to the given significant digits, for
// results that were never exact.
func FromFloat(f float64, digits int) (Decimal, bool) {
	s := strconv.FormatFloat(f, 'e', digits-1, 64)
	d, n := scanNumber(s)
	return d.normal(), n == len(s)
}

// scanNumber reads [sign] digits [point digits] [e exponent] at the start of s
// and returns the bytes used, 0 when there is no number. A comma counts as a
// decimal point, and a space before three digits groups thousands. More digits than
// fit are an error, reported as -1; so is a comma before just three digits, which may
// be either, reported as -2.
func scanNumber(s string) (Decimal, int) {
	i, negative := 0, false
	if i < len(s) && (s[i] == '-' || s[i] == '+') {
		negative = s[i] == '-'
		i++
	} else if len(s) >= 3 && s[:3] == "\u2212" {
		negative = true
		i += 3
	}
	var coef int64
	exp, digits, seen, point, grouped := 0, 0, false, false, false
	for ; i < len(s); i++ {
		c := s[i]
		switch {
		case c >= '0' && c <= '9':
			seen = true
			if digits == maxDigits {
				if c != '0' {
					return Decimal{}, -1
				}
				if !point {
					exp++ // a zero more is no digit more
				}
				continue
			}
			coef = coef*10 + int64(c-'0')
			if coef != 0 {
				digits++
			}
			if point {
				exp--
			}
		case !point && !grouped && c == ',' && ambiguous(s, i):
			return Decimal{}, ambiguousComma
		case !point && groupAt(s, i) > 0:
			i += groupAt(s, i) - 1
			grouped = true
		case (c == '.' || c == ',') && !point && seen && i+1 < len(s) && isDigit(s[i+1]),
			(c == '.' || c == ',') && !point && !seen && i+1 < len(s) && isDigit(s[i+1]):
			point = true
		default:
			goto done
		}
	}
done:
	if !seen {
		return Decimal{}, 0
	}
	if i+1 < len(s) && (s[i] == 'e' || s[i] == 'E') {
		j, expNegative, e := i+1, false, 0
		if s[j] == '-' || s[j] == '+' {
			expNegative = s[j] == '-'
			j++
		}
		if j < len(s) && isDigit(s[j]) {
			for ; j < len(s) && isDigit(s[j]); j++ {
				if e = e*10 + int(s[j]-'0'); e > 1000 {
					return Decimal{}, -1
				}
			}
			if expNegative {
				e = -e
			}
			exp += e
			i = j
		}
	}
	if negative {
		coef = -coef
	}
	return Decimal{coef, exp}, i
}

const ambiguousComma = -2

// ambiguous reports whether the comma at i stands between one to three digits, the
// first no zero, and just three.
func ambiguous(s string, i int) bool {
	start := i
	for start > 0 && isDigit(s[start-1]) {
		start--
	}
	return i-start >= 1 && i-start <= 3 && s[start] != '0' && threeDigits(s[i+1:])
}

func threeDigits(s string) bool {
	return len(s) >= 3 && isDigit(s[0]) && isDigit(s[1]) && isDigit(s[2]) && (len(s) == 3 || !isDigit(s[3]))
}

// groupAt is the length of a space at i that groups thousands: before it one to three
// digits, the first no zero, or another group, and behind it just three.
func groupAt(s string, i int) int {
	n := 0
	for _, space := range []string{" ", "\u00a0", "\u202f", "\u2009"} {
		if strings.HasPrefix(s[i:], space) {
			n = len(space)
		}
	}
	if n == 0 || !threeDigits(s[i+n:]) {
		return 0
	}
	start := i
	for start > 0 && isDigit(s[start-1]) {
		start--
	}
	if i-start < 1 || i-start > 3 || start > 0 && (s[start-1] == '.' || s[start-1] == ',') {
		return 0
	}
	if s[start] == '0' && (i-start != 3 || start == 0) {
		return 0
	}
	return n
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }
