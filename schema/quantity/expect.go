package quantity

import (
	"math/big"
	"regexp"
	"strings"
)

// Expectation is what a reading should be: limits, each of which may be
// absent, or a reading beyond the meter's range.
type Expectation struct {
	Low, High *Value // inclusive; nil when that side is open
	Nominal   *Value // the value that a tolerance was given for
	Over      bool   // OL expected
	Beep      Bound  // Beep or NoBeep expected; otherwise Exact
	Wave      Wave   // of a voltage or current where it is said
	About     bool   // the value was given as a rough one
}

// Judges reports whether the expectation can decide anything.
func (e Expectation) Judges() bool {
	return e.Low != nil || e.High != nil || e.Over || e.Beep != Exact
}

// Within returns the expectation with limits at a tolerance around its nominal
// value; percent is 0 or more. It is unchanged where it judges already, or has
// no nominal value.
func (e Expectation) Within(percent Decimal) Expectation {
	if e.Judges() || e.Nominal == nil || percent.Sign() < 0 {
		return e
	}
	d := percent.rat()
	d.Mul(d, e.Nominal.Number.Abs().rat())
	d.Quo(d, big.NewRat(100, 1))
	low, high := addRat(*e.Nominal, new(big.Rat).Neg(d)), addRat(*e.Nominal, d)
	if low != nil && high != nil {
		e.Low, e.High = low, high
	}
	return e
}

// Relative returns how far the limits lie below and above the nominal value, in percent of
// it; ok is false without a nominal value other than 0, or where a side is open.
func (e Expectation) Relative() (down, up float64, ok bool) {
	if e.Nominal == nil || e.Low == nil || e.High == nil || e.Nominal.Number.Sign() == 0 {
		return 0, 0, false
	}
	x, size := e.Nominal.Number.rat(), e.Nominal.Number.Abs().rat()
	share := func(d *big.Rat) float64 {
		f, _ := d.Quo(d.Mul(d, big.NewRat(100, 1)), size).Float64()
		return f
	}
	return share(new(big.Rat).Sub(x, e.Low.Number.rat())), share(new(big.Rat).Sub(e.High.Number.rat(), x)), true
}

// Unit returns the unit of the limits.
func (e Expectation) Unit() Unit {
	for _, v := range []*Value{e.Nominal, e.Low, e.High} {
		if v != nil {
			return v.Unit
		}
	}
	return None
}

// ParseExpectation reads a value with tolerance ("3.3 V ±5 %", "3.3 V ±50 mV",
// "5 V +5/-10 %", "16 MHz ±50 ppm"), a range ("0.45..0.55 V", "300-340 V"), a
// bound ("> 1 MΩ"), "OL", "beep", a bare value (which judges nothing), or
// nothing. "320 V DC" and "12 V AC" are told apart, and "ca. 12 V" is rough.
func ParseExpectation(text string) (Expectation, error) {
	s := strings.TrimSpace(text)
	if len(s) > maxText {
		return Expectation{}, fail(text, maxText, "too long for an expectation")
	}
	if s == "" || s == "-" || s == "–" {
		return Expectation{}, nil
	}
	if isOver(s) {
		return Expectation{Over: true}, nil
	}
	if v, ok := beepOf(s); ok {
		return Expectation{Beep: v.Bound}, nil
	}
	s, rough := cutAbout(s)
	lead := strings.Index(text, s)
	s, wave := cutWaves(s)
	e, err := parseExpectation(s)
	if err != nil {
		q := err.(*Error)
		return Expectation{}, fail(text, lead+q.Offset, "%s", q.Message)
	}
	e.Wave, e.About = wave, rough
	return e, nil
}

// waveBefore finds the kind of a voltage before its tolerance, as in
// "320 V DC ±5 %".
var waveBefore = regexp.MustCompile(`^([^±+]*?(?:[VAva]|[Vv]olts?|[Aa]mps?)) ?\(?(DC|dc|AC|ac|RMS|rms|pp|p-p)\)?( *(?:±|\+).*)$`)

func cutWaves(s string) (string, Wave) {
	if m := waveBefore.FindStringSubmatch(s); m != nil {
		return m[1] + m[3], waves[strings.ToLower(m[2])]
	}
	return cutWave(s)
}

// hyphenRange is a range with a hyphen between its ends: 300-340 V.
var hyphenRange = regexp.MustCompile(`^[+\-\x{2212}]?[0-9][0-9.,]* ?[A-Za-zΩµμ°%]{0,4} ?(-|\x{2212}) ?[0-9]`)

func parseExpectation(s string) (Expectation, error) {
	for _, mark := range boundMarks {
		if rest, ok := strings.CutPrefix(s, mark); ok {
			v, err := Parse(rest)
			if err != nil {
				return Expectation{}, fail(s, len(mark)+err.(*Error).Offset, "%s", err.(*Error).Message)
			}
			if v.Over {
				return Expectation{}, fail(s, len(mark), "OL is not a limit")
			}
			if strings.ContainsAny(mark, "<≤") {
				return Expectation{High: &v}, nil
			}
			return Expectation{Low: &v}, nil
		}
	}
	for _, mark := range []string{"...", "..", "…", "–", "—", " to "} {
		if i := strings.Index(s, mark); i > 0 {
			return parseRange(s, i, i+len(mark))
		}
	}
	if m := hyphenRange.FindStringSubmatchIndex(s); m != nil {
		return parseRange(s, m[2], m[3])
	}
	v, n, err := scanValue(s)
	if err != nil {
		return Expectation{}, err
	}
	rest := strings.TrimLeft(s[n:], " \u00a0\u202f")
	at := len(s) - len(rest)
	if rest == "" {
		return Expectation{Nominal: &v}, nil
	}
	up, down, err := parseTolerance(s, at, v)
	if err != nil {
		return Expectation{}, err
	}
	low, high := addRat(v, new(big.Rat).Neg(down)), addRat(v, up)
	if low == nil || high == nil {
		return Expectation{}, fail(s, at, "the tolerance has more digits than a value can have")
	}
	return Expectation{Low: low, High: high, Nominal: &v}, nil
}

func parseRange(s string, stop, start int) (Expectation, error) {
	high, err := Parse(s[start:])
	if err != nil {
		return Expectation{}, fail(s, start+err.(*Error).Offset, "%s", err.(*Error).Message)
	}
	low, err := Parse(s[:stop])
	if err != nil {
		return Expectation{}, fail(s, err.(*Error).Offset, "%s", err.(*Error).Message)
	}
	if low.Over || high.Over {
		return Expectation{}, fail(s, 0, "OL is not a limit")
	}
	if low.Unit == None && high.Unit != None {
		// "0.45..0.55 V", "10..22 kΩ": the low end shares unit and prefix.
		_, exp, _ := scanUnit(unitWord(strings.TrimLeft(s[start:], " 0123456789.,+-\u2212")))
		low.Unit, low.Number.Exp = high.Unit, low.Number.Exp+exp
		low.Number = low.Number.normal()
	}
	if low.Unit != high.Unit {
		return Expectation{}, fail(s, start, "%s does not go with %s", high.Unit.Quantity(), low.Unit.Quantity())
	}
	if low.Number.Cmp(high.Number) > 0 {
		return Expectation{}, fail(s, 0, "the range runs backwards; write the smaller value first")
	}
	return Expectation{Low: &low, High: &high}, nil
}

// parseTolerance reads what follows the nominal value at byte at: ±5 %,
// ±0.1 V, +5/-10 %, or the same with "+-" and "+/-".
func parseTolerance(s string, at int, nominal Value) (up, down *big.Rat, err error) {
	rest := s[at:]
	for _, mark := range []string{"±", "+/-", "+-"} {
		if tol, ok := strings.CutPrefix(rest, mark); ok {
			t, err := oneTolerance(s, at+len(mark), tol, nominal)
			return t, t, err
		}
	}
	plus, ok := strings.CutPrefix(rest, "+")
	if !ok {
		return nil, nil, fail(s, at, "%q is not a tolerance; write ±5 %% or ±0.1 V", clip(rest))
	}
	a, b, ok := strings.Cut(plus, "/-")
	if !ok {
		return nil, nil, fail(s, at, "a two-sided tolerance is written +5/-10 %%")
	}
	if !strings.Contains(a, "%") && strings.HasSuffix(strings.TrimSpace(b), "%") {
		a += "%"
	}
	if up, err = oneTolerance(s, at+1, a, nominal); err != nil {
		return nil, nil, err
	}
	down, err = oneTolerance(s, at+1, b, nominal)
	return up, down, err
}

func oneTolerance(s string, at int, text string, nominal Value) (*big.Rat, error) {
	if parts, ok := strings.CutSuffix(strings.TrimSpace(text), "ppm"); ok {
		t, err := Parse(parts)
		if err != nil || t.Unit != None || t.Over || t.Number.Sign() < 0 {
			return nil, fail(s, at, "a tolerance in ppm is a positive number before ppm")
		}
		r := t.Number.rat()
		r.Mul(r, nominal.Number.Abs().rat())
		return r.Quo(r, big.NewRat(1_000_000, 1)), nil
	}
	t, err := Parse(text)
	if err != nil {
		return nil, fail(s, at+err.(*Error).Offset, "%s", err.(*Error).Message)
	}
	if t.Over || t.Number.Sign() < 0 {
		return nil, fail(s, at, "a tolerance is a positive number")
	}
	switch t.Unit {
	case Percent:
		r := t.Number.rat()
		r.Mul(r, nominal.Number.Abs().rat())
		return r.Quo(r, big.NewRat(100, 1)), nil
	case nominal.Unit, None:
		return t.Number.rat(), nil
	}
	return nil, fail(s, at, "a tolerance of %s is in %% or %s, not in %s",
		nominal.Unit.Quantity(), nominal.Unit.symbol(), t.Unit.symbol())
}

// addRat returns v + d, or nil when the sum does not fit a Decimal.
func addRat(v Value, d *big.Rat) *Value {
	sum := new(big.Rat).Add(v.Number.rat(), d)
	n, ok := fromRat(sum)
	if !ok {
		return nil
	}
	return &Value{Number: n, Unit: v.Unit}
}

// fromRat converts a fraction whose denominator is a product of twos and
// fives, as every sum and percentage of decimals is.
func fromRat(r *big.Rat) (Decimal, bool) {
	num, den := new(big.Int).Set(r.Num()), r.Denom()
	exp := 0
	ten := big.NewInt(10)
	for exp > -60 {
		q, m := new(big.Int).QuoRem(num, den, new(big.Int))
		if m.Sign() == 0 {
			for !q.IsInt64() {
				d, m := new(big.Int).QuoRem(q, ten, new(big.Int))
				if m.Sign() != 0 {
					return Decimal{}, false
				}
				q = d
				exp++
			}
			return Decimal{q.Int64(), exp}.normal(), true
		}
		num.Mul(num, ten)
		exp--
	}
	return Decimal{}, false
}

// reversed reports whether a voltage or current has the other sign than every
// expected value, and at least a tenth of the size of the nearest: less than that is
// a rail that is missing, not one the wrong way round (common practice, no source).
func (e Expectation) reversed(x Decimal) bool {
	if u := e.Unit(); u != Volt && u != Ampere || e.Wave == waveAC || e.Wave == wavePeakToPeak {
		return false
	}
	var near Decimal
	switch {
	case e.Low != nil && e.Low.Number.Sign() > 0:
		near = e.Low.Number
	case e.High != nil && e.High.Number.Sign() < 0:
		near = e.High.Number
	default:
		return false
	}
	tenth := new(big.Rat).Mul(x.Abs().rat(), big.NewRat(10, 1))
	return x.Sign()*near.Sign() < 0 && tenth.Cmp(near.Abs().rat()) >= 0
}

// Verdict is what a reading says against its expectation.
type Verdict uint8

// The verdicts. NoVerdict stands where nothing can be decided.
const (
	NoVerdict Verdict = iota
	In
	Low
	High
	Open
	Short
	Reversed // the other sign: leads or a part the wrong way round, or the wrong rail
	TooClose
)

var verdictWords = [...]string{"", "in", "low", "high", "open", "short", "reversed", "too close to call"}

// String returns the word shown to people.
func (v Verdict) String() string { return verdictWords[v] }

// Bad reports whether the verdict says that something is wrong.
func (v Verdict) Bad() bool { return v >= Low && v <= Reversed }

// beepLimit is the resistance up to which meters beep at the most (common
// practice, no source: 10 to 100 Ω, by make).
var beepLimit = Decimal{1, 2}

// judgeBeep decides where a beep is enough to decide: a beep is not open, and
// silence is no short.
func judgeBeep(e Expectation, reading Value) Verdict {
	beeps := reading.Bound == Beep
	switch {
	case reading.Unit != Ohm && !reading.Over:
		return NoVerdict
	case e.Beep == Beep && beeps, e.Beep == NoBeep && (reading.Bound == NoBeep || reading.Over):
		return In
	case e.Beep == Beep && (reading.Over || reading.Bound == NoBeep):
		return Open
	case e.Beep == NoBeep && beeps:
		return Short
	case beeps && (e.Over || e.Low != nil && e.Unit() == Ohm && e.Low.Number.Cmp(beepLimit) > 0):
		return Short
	}
	return NoVerdict // how many ohms there were is not known
}

// judgeBound decides on a reading that is only known to lie above or below a
// value; nothing where both sides of a limit are possible.
func judgeBound(e Expectation, reading Value) (Verdict, error) {
	above := reading.Bound == Above
	if e.Over {
		if above && (reading.Unit == Ohm || reading.Unit == None) {
			return In, nil // beyond what the meter measures
		}
		return NoVerdict, nil
	}
	edge := reading
	edge.Bound = Exact
	v, err := Judge(e, edge, Decimal{})
	switch {
	case err != nil:
		return NoVerdict, err
	case above && (v == High || v == In && e.High == nil), !above && (v == Low || v == Short || v == In && e.Low == nil):
		return v, nil
	}
	return NoVerdict, nil
}

// shortLimit is the resistance below which a reading that should be far higher
// is called a short: about the resistance of leads and contacts (common
// practice, no source).
var shortLimit = Decimal{1, 0}

// Judge compares a reading with an expectation. Guard is the expanded
// uncertainty of the reading in its own unit, zero when unknown: a limit inside
// reading ± guard makes it too close to call (guard band, JCGM 106:2012).
// A reading without a unit takes the expectation's. The error says when the two
// do not measure the same thing.
func Judge(e Expectation, reading Value, guard Decimal) (Verdict, error) {
	if e.Wave != anyWave && reading.Wave != anyWave && e.Wave != reading.Wave {
		return NoVerdict, fail(reading.String(), 0,
			"the reading is%s and the expected value is%s; the two do not compare", waveNames[reading.Wave], waveNames[e.Wave])
	}
	if !e.Judges() {
		return NoVerdict, nil
	}
	if reading.Bound == Beep || reading.Bound == NoBeep || e.Beep != Exact {
		return judgeBeep(e, reading), nil
	}
	if reading.Over {
		if e.Over || e.High == nil {
			return In, nil
		}
		return Open, nil
	}
	if reading.Bound != Exact {
		return judgeBound(e, reading)
	}
	if e.Over {
		if reading.Unit == Ohm && reading.Number.Abs().Cmp(shortLimit) <= 0 {
			return Short, nil
		}
		return Low, nil
	}
	if reading.Unit == None {
		reading.Unit = e.Unit()
	}
	if e.Unit() != None && reading.Unit != e.Unit() {
		return NoVerdict, fail(reading.String(), 0, "reading is a %s, expected is a %s; a reading in %s would fit",
			reading.Unit.Quantity(), e.Unit().Quantity(), e.Unit().symbol())
	}
	x := reading.Number
	if e.reversed(x) {
		return Reversed, nil
	}
	if guard.Coef != 0 {
		g := guard.Abs().rat()
		near := func(limit *Value) bool {
			d := new(big.Rat).Sub(x.rat(), limit.Number.rat())
			return d.Abs(d).Cmp(g) < 0
		}
		if e.Low != nil && near(e.Low) || e.High != nil && near(e.High) {
			return TooClose, nil
		}
	}
	if e.Low != nil && e.High != nil && e.Low.Number.Sign() < 0 && e.High.Number.Sign() < 0 && x.Sign() <= 0 {
		// A negative rail is low when it is small: −10 V instead of −12 V.
		switch {
		case x.Cmp(e.High.Number) > 0:
			return Low, nil
		case x.Cmp(e.Low.Number) < 0:
			return High, nil
		}
		return In, nil
	}
	if e.Low != nil && x.Cmp(e.Low.Number) < 0 {
		if reading.Unit == Ohm && x.Abs().Cmp(shortLimit) <= 0 &&
			new(big.Rat).Mul(x.rat(), big.NewRat(10, 1)).Cmp(e.Low.Number.rat()) <= 0 {
			return Short, nil
		}
		return Low, nil
	}
	if e.High != nil && x.Cmp(e.High.Number) > 0 {
		return High, nil
	}
	return In, nil
}
