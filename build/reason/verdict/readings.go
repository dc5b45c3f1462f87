// Package verdict says what a notebook's numbers and parts are worth: readings
// against what they should be, and parts that were substituted, bridged or
// left off.
//
// Begin with [New]. [Judge.Reading] gives a verdict with where its limits came
// from: the row itself, the device's reference readings, or past good readings
// of the same point. [Judge.Part] gives what a rule says of a part, and
// [Judge.Problems] all of it as diagnostics. A judge is read-only and safe for
// concurrent use.
package verdict

import (
	"cmp"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/schema/casefile"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// FromDevice says of limits that the row does not state where they are from.
const FromDevice = "the device's reference readings"

// enough is the least number of past good readings that limits are made from.
const enough = 5

// robust z of Iglewicz and Hoaglin (1993): M = 0.6745 (x - median) / MAD, an
// outlier beyond 3.5.
const (
	zScale = 0.6745
	zLimit = 3.5
)

// Judge knows a notebook.
type Judge struct {
	n    *notebook.Notebook
	past map[string][]float64 // place -> good readings in SI units
	off  map[string]bool
}

// New reads what past cases and the notebook's settings say.
func New(n *notebook.Notebook) *Judge {
	j := &Judge{n: n, past: map[string][]float64{}, off: map[string]bool{}}
	for _, r := range n.Config.Rules.Off {
		j.off[r] = true
	}
	for _, c := range n.Cases {
		k := &c.File.Case
		for i := range k.Measurements {
			m := &k.Measurements[i]
			e, _, ok := j.stated(c, m)
			if !ok || m.Reading == nil || m.Reading.Over || m.Reading.Bound != quantity.Exact || m.Doubt(n.Terms) != casefile.NoDoubt {
				continue
			}
			reading := withUnit(*m.Reading, e.Unit())
			if v, err := quantity.Judge(e, reading, quantity.Decimal{}); err == nil && v == quantity.In {
				key := place(c, m, reading.Unit)
				j.past[key] = append(j.past[key], reading.Number.Float())
			}
		}
	}
	return j
}

func withUnit(v quantity.Value, u quantity.Unit) quantity.Value {
	if v.Unit == quantity.None {
		v.Unit = u
	}
	return v
}

func fold(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

// place identifies a point: board, where, state and what is measured.
func place(c *notebook.Case, m *casefile.Measurement, u quantity.Unit) string {
	return strings.Join([]string{c.Device.ID, fold(c.File.Case.Board), fold(m.Point), fold(m.State), u.Quantity()}, "\x00")
}

// stated returns the limits of the row, else of the device's reference readings.
func (j *Judge) stated(c *notebook.Case, m *casefile.Measurement) (e quantity.Expectation, from string, ok bool) {
	if m.Expectation.Judges() {
		return m.Expectation, "", true
	}
	var references []casefile.Reference
	if c.Device.Record != nil {
		references = c.Device.Record.Device.References
	}
	for _, r := range references {
		if fold(r.Point) == fold(m.Point) && fold(r.State) == fold(m.State) && r.Expectation.Judges() &&
			(m.Reading == nil || m.Reading.Over || m.Reading.Unit == quantity.None || r.Expectation.Over ||
				m.Reading.Unit == r.Expectation.Unit()) {
			return r.Expectation, FromDevice, true
		}
	}
	if m.Expectation.Nominal != nil {
		unit := m.Expectation.Unit()
		if percent, ok := j.n.Config.Tolerance[unit.Quantity()]; ok {
			if d, ok := quantity.FromFloat(percent, 6); ok {
				return m.Expectation.Within(d), fmt.Sprintf("the workshop's tolerance of ±%g %% for %s", percent, unit.Quantity()), true
			}
		}
	}
	return e, "", false
}

// Why a reading was not judged.
const (
	NoTolerance = "no tolerance, not judged"
	DiodeUnit   = "volts or millivolts? write the unit, or diode-numbers: in notebook.yaml; not judged"
	InCircuit   = "lower, in circuit: a path beside it reads low too; lift one end to decide, not judged"
	NotDecided  = "cannot be decided from what was noted, not judged"
)

// Reading is the judgement of one measurement.
type Reading struct {
	Verdict quantity.Verdict
	// Unjudged says why there is no verdict, where something was expected.
	Unjudged    string
	Expectation quantity.Expectation
	// From says where the limits came from when the row does not state them.
	From string
	// Limits are the limits as text when the row does not state them.
	Limits string
	// Guard is the meter's uncertainty, empty when the notebook does not give it.
	Guard string
}

// Reading judges a measurement of a case. There is no verdict on a row that is in doubt
// ([casefile.Measurement.Doubt]).
func (j *Judge) Reading(c *notebook.Case, m *casefile.Measurement) Reading {
	r := j.byNumbers(c, m)
	if r.Verdict == quantity.NoVerdict && r.Unjudged == "" {
		return r
	}
	if d := m.Doubt(j.n.Terms); d != casefile.NoDoubt {
		return Reading{Unjudged: string(d)}
	}
	return r
}

// byNumbers judges a measurement whatever is said of what was measured.
func (j *Judge) byNumbers(c *notebook.Case, m *casefile.Measurement) Reading {
	if m.Reading == nil {
		return Reading{}
	}
	e, from, ok := j.stated(c, m)
	r := Reading{Expectation: e, From: from}
	if !ok {
		if r.Expectation, r.From, ok = j.learned(c, m); !ok {
			if m.Expectation.Nominal != nil {
				return Reading{Unjudged: NoTolerance}
			}
			return Reading{}
		}
	}
	if r.From != "" {
		r.Limits = Limits(r.Expectation, fmt.Sprintf)
	}
	read, ok := j.bareDiode(m, r.Expectation)
	if !ok {
		return Reading{Unjudged: DiodeUnit}
	}
	reading := withUnit(read, r.Expectation.Unit())
	guard, known := j.guard(function(m), reading)
	if known && !reading.Over && reading.Bound == quantity.Exact {
		r.Guard = "±" + quantity.Value{Number: guard, Unit: reading.Unit}.String()
	}
	var err error
	if r.Verdict, err = quantity.Judge(r.Expectation, reading, guard); r.Verdict == quantity.NoVerdict {
		r.Unjudged, r.Guard = NotDecided, ""
		if err != nil {
			r.Unjudged = err.Error()
		}
	}
	// A junction never drops as little as this: in diode mode it is a short.
	if r.Verdict == quantity.Low && meterKey(function(m), reading.Unit) == "diode" && reading.Number.Abs().Cmp(diodeShort) <= 0 {
		r.Verdict = quantity.Short
	}
	if r.Verdict == quantity.Low && inCircuit(m, r.Expectation) {
		r.Verdict, r.Unjudged = quantity.NoVerdict, InCircuit
	}
	return r
}

// inCircuit reports whether a reading is the resistance of one part with a value of
// its own, and nothing says that the part was taken off or one end of it lifted.
// Whatever lies beside it can make it read lower, and nothing higher.
func inCircuit(m *casefile.Measurement, e quantity.Expectation) bool {
	return e.Unit() == quantity.Ohm && e.Nominal != nil && e.Low != nil && e.High != nil &&
		onePart.MatchString(strings.TrimSpace(m.Point)) &&
		!freed(m.State+" "+m.What+" "+m.Note)
}

var (
	onePart = regexp.MustCompile(`(?i)^(?:[a-z][a-z -]* )?(?:R|RN|RV|VR|TH|NTC|PTC)\d+[a-z]?$`)
	// takenOff is a designator that is out or off the board.
	takenOff = regexp.MustCompile(`(?i)\b[a-z]{1,3}\d+ (?:out|off)\b`)
)

// freed reports whether a text says that a part was taken out of its circuit.
func freed(text string) bool {
	return terms.HasWording(terms.OutOfCircuit, text) || takenOff.MatchString(text)
}

// bareDiode reads a number without unit in a diode row as the notebook says its
// meter shows it: in volts or in millivolts. Where the notebook does not say, a
// fraction is in volts, since no meter shows parts of a millivolt; a whole number
// could be either, and ok is false.
func (j *Judge) bareDiode(m *casefile.Measurement, e quantity.Expectation) (v quantity.Value, ok bool) {
	v = *m.Reading
	if v.Unit != quantity.None || v.Over || e.Unit() != quantity.Volt || meterKey(function(m), quantity.Volt) != "diode" {
		return v, true
	}
	v.Unit = quantity.Volt
	switch j.n.Config.DiodeNumbers {
	case "mV":
		v.Number.Exp -= 3
		return v, true
	case "V":
		return v, true
	}
	return v, v.Number.Sign() == 0 || v.Number.Exp < 0
}

// function is what tells with which function of which instrument a reading was
// taken.
func function(m *casefile.Measurement) string { return m.What + ", " + m.State }

// diodeShort is the drop in volts up to which diode mode shows a short: what a
// milliampere drops across leads and contacts (common practice, no source).
var diodeShort = quantity.Decimal{Coef: 1, Exp: -2}

// Limits are the limits of an expectation in words, which say makes, so that a page has
// them in its language.
func Limits(e quantity.Expectation, say func(format string, args ...any) string) string {
	switch {
	case e.Over:
		return "OL"
	case e.Low != nil && e.High != nil:
		return say("%s to %s", e.Low.String(), e.High.String())
	case e.Low != nil:
		return say("at least %s", e.Low.String())
	case e.High != nil:
		return say("at most %s", e.High.String())
	}
	return ""
}

// learned makes limits from past good readings of the same point. The reading
// that is judged is no row with limits, so it is not among them.
func (j *Judge) learned(c *notebook.Case, m *casefile.Measurement) (e quantity.Expectation, from string, ok bool) {
	if m.Reading.Over || m.Reading.Bound != quantity.Exact || m.Reading.Unit == quantity.None {
		return e, "", false
	}
	past := j.past[place(c, m, m.Reading.Unit)]
	if len(past) < enough {
		return e, "", false
	}
	mid, mad := spread(past)
	half := zLimit * mad / zScale
	if half == 0 {
		half = 0.02 * math.Abs(mid) // all alike: two percent either way (common practice, no source)
	}
	low, ok1 := quantity.FromFloat(mid-half, 4)
	high, ok2 := quantity.FromFloat(mid+half, 4)
	middle, ok3 := quantity.FromFloat(mid, 4)
	if !ok1 || !ok2 || !ok3 {
		return e, "", false
	}
	value := func(d quantity.Decimal) *quantity.Value { return &quantity.Value{Number: d, Unit: m.Reading.Unit} }
	from = fmt.Sprintf("%d past good readings here, median %s (robust z to %.1f)", len(past), value(middle), zLimit)
	return quantity.Expectation{Low: value(low), High: value(high), Nominal: value(middle)}, from, true
}

// spread returns median and median absolute deviation.
func spread(x []float64) (mid, mad float64) {
	mid = median(x)
	d := make([]float64, len(x))
	for i := range x {
		d[i] = math.Abs(x[i] - mid)
	}
	return mid, median(d)
}

func median(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	n := len(s)
	if n%2 == 1 {
		return s[n/2]
	}
	return (s[n/2-1] + s[n/2]) / 2
}

// robustZ returns the modified z-score of each value; all 0 when the median
// absolute deviation is 0.
func robustZ(x []float64) []float64 {
	mid, mad := spread(x)
	z := make([]float64, len(x))
	for i := range x {
		if mad > 0 {
			z[i] = zScale * (x[i] - mid) / mad
		}
	}
	return z
}

// meterKey names the function of the instrument for a reading.
func meterKey(what string, u quantity.Unit) string {
	w := fold(what)
	switch u {
	case quantity.Volt:
		if strings.Contains(w, "diode") {
			return "diode"
		}
		if strings.HasPrefix(w, "ac ") || strings.Contains(w, "ripple") {
			return "ac-voltage"
		}
		return "voltage"
	case quantity.Ohm:
		switch {
		case strings.Contains(w, "insulation"):
			return "insulation" // another instrument, with its own limits of error
		case strings.Contains(w, "four wire"), strings.Contains(w, "four-wire"), strings.Contains(w, "4-wire"),
			strings.Contains(w, "kelvin"):
			return "four-wire"
		}
		return "resistance"
	case quantity.Ampere:
		return "current"
	case quantity.Farad:
		return "capacitance"
	case quantity.Hertz:
		return "frequency"
	case quantity.Celsius:
		return "temperature"
	}
	return ""
}

// meterFunction is the unit that a function of the meter measures.
func meterFunction(name string) quantity.Unit {
	return map[string]quantity.Unit{"voltage": quantity.Volt, "ac-voltage": quantity.Volt, "diode": quantity.Volt,
		"resistance": quantity.Ohm, "insulation": quantity.Ohm, "four-wire": quantity.Ohm,
		"current": quantity.Ampere, "capacitance": quantity.Farad, "frequency": quantity.Hertz, "temperature": quantity.Celsius}[name]
}

// guard is the meter's uncertainty for a reading, from the smallest range that
// holds it; known is false when the notebook does not give it.
func (j *Judge) guard(what string, v quantity.Value) (g quantity.Decimal, known bool) {
	var best *notebook.MeterRange
	var bestScale float64
	x := math.Abs(v.Number.Float())
	for _, r := range j.n.Config.Meter[meterKey(what, v.Unit)] {
		full, err := quantity.Parse(r.Range)
		if err != nil || full.Unit != v.Unit {
			continue
		}
		if scale := full.Number.Float(); scale >= x && (best == nil || scale < bestScale) {
			best, bestScale = &r, scale
		}
	}
	if best == nil {
		return g, false
	}
	step, err := quantity.Parse(best.Resolution)
	if err != nil {
		return g, false
	}
	return quantity.FromFloat(cmp.Or(best.Percent/100*x+best.Counts*step.Number.Float(), 1e-30), 3)
}
