package casefile

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"benchlore/schema/diagnostic"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// Doubt is why nothing is said of a row's reading, whatever its numbers: it would be a
// guess. The rules that name it are [diagnostic.UnknownWhat], [diagnostic.WhatUnit] and
// [diagnostic.LooseTolerance].
type Doubt string

// The doubts; NoDoubt where there is none.
const (
	NoDoubt     Doubt = ""
	UnknownWhat Doubt = "what was measured is not understood, not judged"
	WhatUnit    Doubt = "the unit is none of what was measured, not judged"
	Unlimited   Doubt = "the tolerance reaches below zero and rules nothing out, not judged"
)

// widest is the tolerance in percent that parts are sold with at the most: old
// electrolytics have -10/+100 % (common practice, no source). A lower limit that is wider
// has the other sign than the value, which no tolerance in percent means.
const widest = 100

// Doubt says why the row cannot be judged, if so.
func (m *Measurement) Doubt(v *terms.Vocabulary) Doubt {
	d, _, _ := doubtOf(v, m.What, m.Expected, m.Expectation, m.Reading)
	return d
}

// Verdict judges the reading without a guard band; there is none where the row is in doubt.
func (m *Measurement) Verdict(v *terms.Vocabulary) quantity.Verdict {
	if m.Reading == nil || m.Doubt(v) != NoDoubt {
		return quantity.NoVerdict
	}
	verdict, _ := quantity.Judge(m.Expectation, *m.Reading, quantity.Decimal{})
	return verdict
}

// doubtOf gives the doubt with the column that shows it and, for a unit, what was measured.
func doubtOf(v *terms.Vocabulary, what, expected string, e quantity.Expectation, read *quantity.Value) (d Doubt, column string, m terms.Measured) {
	if strings.TrimSpace(what) != "" {
		m = measured(v, what)
		if !m.Known {
			return UnknownWhat, "what", m
		}
		if read != nil && contradicts(m, read.Unit) {
			return WhatUnit, "read", m
		}
		if contradicts(m, e.Unit()) || e.Beep != quantity.Exact && contradicts(m, quantity.Ohm) {
			return WhatUnit, "expected", m
		}
	}
	if down, _, ok := tolerance(expected, e); ok && down > widest {
		return Unlimited, "expected", m
	}
	return NoDoubt, "", m
}

// contradicts reports whether a unit is of no quantity that was measured. Shares and levels
// are of any.
func contradicts(m terms.Measured, u quantity.Unit) bool {
	switch u {
	case quantity.None, quantity.Percent, quantity.Decibel, quantity.DecibelMilliwatt:
		return false
	}
	return !m.Fits(u.Quantity())
}

// claiming are the units that say what was measured where they stand under what ("mV").
var claiming = []quantity.Unit{quantity.Ohm, quantity.Farad, quantity.Henry, quantity.Volt, quantity.Ampere, quantity.Hertz, quantity.Celsius}

// symbols are the letters that stand for quantities and units. They stand for poles and
// sides of a device as well, so that they say nothing of the unit.
const symbols = "UIRCLZPQTfVAWFHΩ"

// measured is what a row says was measured, in words or by a unit.
func measured(v *terms.Vocabulary, what string) terms.Measured {
	m := v.Measures(what)
	said := len(m.Quantities) > 0 || !m.Known // nothing there leaves the unit open
	for i, word := range strings.FieldsFunc(what, func(r rune) bool { return strings.ContainsRune(" \t,;:()[]/\u00a0", r) }) {
		if utf8.RuneCountInString(word) == 1 {
			if i == 0 && strings.Contains(symbols, word) {
				m.Known = true
			}
			continue
		}
		value, err := quantity.Parse("1 " + word)
		if err != nil || value.Unit == quantity.None {
			continue
		}
		m.Known = true
		if said && slices.Contains(claiming, value.Unit) && !slices.Contains(m.Quantities, value.Unit.Quantity()) {
			m.Quantities = append(slices.Clone(m.Quantities), value.Unit.Quantity())
		}
	}
	return m
}

// tolerance is how wide an expected value's tolerance is to either side, in percent; ok is
// false where it is not stated as a share of the value.
func tolerance(expected string, e quantity.Expectation) (down, up float64, ok bool) {
	if !strings.Contains(expected, "%") && !strings.Contains(expected, "ppm") || e.Unit() == quantity.Percent {
		return 0, 0, false
	}
	return e.Relative()
}

// checkMeasured names rows of readings that nothing can be said of.
func (f *File) checkMeasured(v *terms.Vocabulary) (list []diagnostic.Diagnostic) {
	for i := range f.Case.Measurements {
		m := &f.Case.Measurements[i]
		list = append(list, f.doubtful(v, m.at, m.What, m.Expected, m.Read, m.Expectation, m.Reading)...)
	}
	return list
}

// doubtful names what is in doubt in a row of readings or of reference readings.
func (d *Document) doubtful(v *terms.Vocabulary, at cells, what, expected, read string, e quantity.Expectation, reading *quantity.Value) []diagnostic.Diagnostic {
	say := func(column string, s diagnostic.Severity, rule diagnostic.Rule, format string, args ...any) []diagnostic.Diagnostic {
		return []diagnostic.Diagnostic{d.at(at, column, s, rule, format, args...)}
	}
	switch doubt, column, m := doubtOf(v, what, expected, e, reading); doubt {
	case UnknownWhat:
		out := say(column, diagnostic.Warning, diagnostic.UnknownWhat,
			"no word of %q says what was measured, so the row is not judged; write voltage, resistance, current or the like, or explain a word of your own under words: in terms/", what)
		out[0].Suggestion = terms.NearestMeasure(what)
		return out
	case WhatUnit:
		if column == "read" && e.Unit() != quantity.None && e.Unit() != reading.Unit && !contradicts(m, e.Unit()) {
			return nil // named beside the expected value
		}
		text, unit := read, quantity.Ohm // a beep is one
		if column == "expected" {
			text, unit = expected, e.Unit()
		} else if reading.Unit != quantity.None {
			unit = reading.Unit
		}
		out := say(column, diagnostic.Error, diagnostic.WhatUnit, "%s: %q is a %s, and what says %q, which is read in %s; one of the two is wrong",
			column, text, orOhm(unit).Quantity(), what, symbolsOf(m.Quantities))
		return out
	}
	down, up, ok := tolerance(expected, e)
	switch {
	case !ok:
	case down > widest:
		return say("expected", diagnostic.Error, diagnostic.LooseTolerance,
			"a tolerance of %g %% reaches down to %s, so that next to nothing could be out; write one that decides, such as %s ±5 %%", rounded(down), e.Low, e.Nominal)
	case up > widest || down == widest:
		return say("expected", diagnostic.Warning, diagnostic.LooseTolerance,
			"a tolerance of %g %% reaches from %s to %s; is it meant so?", rounded(max(down, up)), e.Low, e.High)
	}
	return nil
}

func orOhm(u quantity.Unit) quantity.Unit {
	if u == quantity.None {
		return quantity.Ohm
	}
	return u
}

// rounded is a number of percent with no more digits than anybody wrote.
func rounded(x float64) float64 {
	return float64(int64(x*100+0.5)) / 100
}

// symbolsOf lists the units of some quantities, as in "V or A".
func symbolsOf(quantities []string) string {
	var list []string
	for _, q := range quantities {
		for _, row := range quantity.UnitTable() {
			if row.Quantity == q {
				list = append(list, row.Symbol)
				break
			}
		}
	}
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " or " + list[len(list)-1]
}

// longestRepair is how many minutes of one thing a case may say before it is asked whether
// that is meant: three working days at one device (common practice, no source).
const longestRepair = 1440

// checkMinutes names times that are probably slips, such as seconds or a lost point.
func (f *File) checkMinutes() (list []diagnostic.Diagnostic) {
	hours := func(n int) string { return fmt.Sprintf("%d minutes are %.3g hours", n, float64(n)/60) }
	if m := f.Case.Minutes; m != nil {
		for _, x := range []struct {
			key string
			n   *int
		}{{"diagnosis", m.Diagnosis}, {"repair", m.Repair}} {
			if x.n != nil && *x.n > longestRepair {
				list = append(list, f.Say(diagnostic.Warning, diagnostic.LongTime,
					hours(*x.n)+" at the bench; write the minutes of work, without the days that it waited", "minutes", x.key))
			}
		}
	}
	for i := range f.Case.Findings {
		if row := &f.Case.Findings[i]; row.Minutes > longestRepair {
			list = append(list, f.cellProblem(row.at, "min", diagnostic.Warning, diagnostic.LongTime,
				"%s for one check; write the minutes of work, without the time that it ran alone", hours(row.Minutes)))
		}
	}
	return list
}
