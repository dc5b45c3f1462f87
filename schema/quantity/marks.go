package quantity

import (
	"regexp"
	"strings"
)

// Sources of markings that no standard at hand gives.
const (
	oldSource      = "common practice, no source"
	voltageSource  = "two-character voltage code, from memory"
	fuseSource     = "IEC 60127-1 marking, from memory"
	tantalumSource = "EIA-535BAAC case codes, from memory"
	bodySource     = "package outlines, from memory"
	jisSource      = "JIS C 5101 characteristic codes, from memory"
)

var (
	joined        = regexp.MustCompile(`^([0-9]+(?:[.,][0-9]+)?[pnuµμm]F)([0-9]+(?:[.,][0-9]+)?k?V)$`)
	voltageFirst  = regexp.MustCompile(`^([0-3][A-Z])([0-9]{3})([A-Z])?$`)
	codeAndVolts  = regexp.MustCompile(`^([0-9]{3})([A-Z])? +([0-9]+(?:[.,][0-9]+)?) ?(k?V)$`)
	varistorMark  = regexp.MustCompile(`^([0-9]{2})D([0-9]{3})K$`)
	ntcMark       = regexp.MustCompile(`^([0-9]+(?:\.[0-9])?)D-?([0-9]{1,2})$`)
	tantalumCase  = regexp.MustCompile(`^(?:[Cc]ase )?([A-E])$`)
	semiconductor = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9]{1,4}$`)
	ambiguousMark = regexp.MustCompile(`^([1-9][0-9]{0,2}),([0-9]{3})([^0-9,.].*)?$`)
)

// ambiguousReadings reads a number whose comma may group thousands or be the decimal
// point as both.
func ambiguousReadings(s string) ([]Reading, bool) {
	m := ambiguousMark.FindStringSubmatch(s)
	if m == nil {
		return nil, false
	}
	var list []Reading
	for _, way := range [][2]string{{m[1] + m[2] + m[3], "the comma groups thousands"},
		{m[1] + "." + m[2] + m[3], "the comma is the decimal point"}} {
		found, err := Read(way[0])
		if err != nil {
			return nil, false
		}
		r := found[0]
		r.Reason, r.Warning = way[1], "the comma may be either: write a space or a point"
		list = append(list, r)
	}
	return list, true
}

// markReadings reads markings that are neither digits with a letter nor RKM codes.
func markReadings(s string) []Reading {
	t := tables()
	capacitor := func(digits, letter, volts, source, reason string) (Reading, bool) {
		c, ok := picofarads(digits)
		tolerance, known := toleranceOf(letter, c)
		if !ok || !known {
			return Reading{}, false
		}
		r := valueReading(c, source, reason)
		r.Tolerance, r.Conditions = tolerance, map[string]string{"voltage": volts}
		return r, true
	}
	if m := voltageFirst.FindStringSubmatch(s); m != nil {
		if volts, ok := t.VoltageCodes[m[1]]; ok {
			if r, ok := capacitor(m[2], m[3], volts+" V", voltageSource, "capacitor: a voltage code, then picofarads"); ok {
				return []Reading{r}
			}
		}
	}
	if m := codeAndVolts.FindStringSubmatch(s); m != nil {
		if v, err := Parse(m[3] + " " + m[4]); err == nil {
			if r, ok := capacitor(m[1], m[2], v.String(), digitSource, "capacitor: picofarads, two digits and the number of zeros"); ok {
				return []Reading{r}
			}
		}
	}
	if m := partFuse.FindStringSubmatch(s); m != nil && len(m[0]) == len(s) {
		if v, err := Parse(m[2] + " " + m[3]); err == nil {
			r := valueReading(v, fuseSource, "fuse: speed, then rated current")
			r.Conditions = map[string]string{"speed": fuseSpeeds[m[1]]}
			if m[4] != "" {
				r.Conditions["breaking capacity"] = fuseClasses[m[4]]
			}
			if m[5] != "" {
				r.Conditions["voltage"] = strings.TrimSpace(m[5] + " V " + strings.Replace(strings.ToUpper(m[6]), "~", "AC", 1))
			}
			return []Reading{r}
		}
	}
	if m := varistorMark.FindStringSubmatch(s); m != nil {
		v := Value{Number: Decimal{whole(m[2][:2]), int(m[2][2] - '0')}.normal(), Unit: Volt}
		r := valueReading(v, oldSource, "disc varistor: diameter, then its voltage at 1 mA, which is not what it may be run at")
		r.Tolerance, r.Conditions = "±10 %", map[string]string{"diameter": strings.TrimPrefix(m[1], "0") + " mm"}
		return []Reading{r}
	}
	if m := ntcMark.FindStringSubmatch(s); m != nil {
		if d, n := scanNumber(m[1]); n > 0 {
			r := valueReading(Value{Number: d.normal(), Unit: Ohm}, oldSource,
				"inrush limiter (NTC): resistance at 25 °C, then its diameter")
			r.Standard, r.Nearest = "", nil
			r.Conditions = map[string]string{"diameter": strings.TrimPrefix(m[2], "0") + " mm"}
			return []Reading{r}
		}
	}
	if strings.EqualFold(s, "black") {
		return []Reading{{Kind: "resistance", Value: "0 Ω", Unit: "ohm", Source: "IEC 60062, colour code",
			Reason: "a single black band: a link"}}
	}
	upper := strings.ToUpper(s)
	if body, ok := t.Bodies[upper]; ok {
		return []Reading{{Kind: "package", Value: body, Source: bodySource, Reason: upper}}
	}
	if characteristic, ok := t.JIS[upper]; ok {
		return []Reading{{Kind: "dielectric", Value: characteristic, Source: jisSource,
			Reason: upper + "; says nothing of voltage and age"}}
	}
	if m := tantalumCase.FindStringSubmatch(s); m != nil {
		return []Reading{{Kind: "package", Value: t.TantalumCases[m[1]], Source: tantalumSource, Reason: "tantalum case " + m[1]}}
	}
	return nil
}
