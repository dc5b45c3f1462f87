package quantity

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
)

// Reading is one thing that a text or marking may mean.
type Reading struct {
	Kind      string  `json:"kind"` // resistance, capacitance, …, package, dielectric, number
	Value     string  `json:"value"`
	SI        float64 `json:"si"`   // in the unit without prefix
	Unit      string  `json:"unit"` // "ohm"; empty for none
	Tolerance string  `json:"tolerance,omitempty"`
	Source    string  `json:"source"`
	Reason    string  `json:"reason,omitempty"` // why it may mean this
	// Standard is the coarsest E-series that has the value, and Nearest the
	// closest member of some, by ratio; for parts that come in such values.
	Standard string            `json:"standard,omitempty"`
	Nearest  map[string]string `json:"nearest,omitempty"`
	// Conditions are what else the text states: voltage, package, class.
	Conditions map[string]string `json:"conditions,omitempty"`
	Warning    string            `json:"warning,omitempty"`
}

func valueReading(v Value, source, reason string) Reading {
	kind := v.Unit.Quantity()
	r := Reading{Kind: kind, Value: v.String(), SI: v.Number.Float(), Unit: v.Unit.Name(), Source: source, Reason: reason}
	if (v.Unit == Ohm || v.Unit == Farad || v.Unit == Henry) && v.Number.Sign() > 0 {
		if s := standardSeries(v.Number); s != 0 {
			r.Standard = s.String()
		}
		r.Nearest = map[string]string{}
		for _, s := range []Series{E6, E12, E24, E96} {
			r.Nearest[s.String()] = Value{Number: s.nearest(v.Number), Unit: v.Unit}.String()
		}
	}
	return r
}

// Read returns everything that a value, specification or marking may mean, the
// likeliest first. It returns an [*Error] when it means nothing.
func Read(text string) ([]Reading, error) {
	s := strings.TrimSpace(text)
	if len(s) > maxText {
		return nil, fail(text, maxText, "too long for a value")
	}
	if s == "" {
		return nil, fail(text, 0, "no value")
	}
	var list []Reading
	if r, ok := readColours(s); ok {
		return []Reading{r}, nil
	}
	if isOver(s) {
		return []Reading{{Kind: "over range", Value: "OL", Source: "meter display", Reason: "beyond the meter's range, or open"}}, nil
	}
	if two, ok := ambiguousReadings(s); ok {
		return two, nil
	}
	if parted := joined.ReplaceAllString(s, "$1 $2"); parted != s {
		return Read(parted) // 220uF25V
	}
	if plain := rewritten(s); plain != s {
		return Read(plain)
	}
	if len(s) > 9 && allDigits(s) {
		return nil, fail(text, 0, "more digits than a marking has, and no unit")
	}
	only, first, last, err := patternReadings(s)
	if err != nil || only != nil {
		return only, err
	}
	if found, ok := wordReadings(s); ok {
		return found, nil
	}
	list = append(list, markReadings(s)...)
	if isCode(s) {
		list = append(list, readCode(s)...)
	}
	spec, err := ParseSpec(s)
	if err == nil && spec.main() != nil {
		r := valueReading(*spec.main(), spec.source(), "")
		r.Tolerance, r.Conditions = spec.Tolerance.String(), spec.conditions()
		switch {
		case r.Unit == "":
			r.Kind, r.Source, r.Reason = "number", "written value", "a bare number has no unit"
			list = append(list, r)
			if n := spec.Value.Number; n.Sign() > 0 && n.Cmp(Decimal{1, 0}) < 0 {
				list = append(list, valueReading(Value{Number: Decimal{n.Coef, n.Exp - 6}, Unit: Farad}, oldSource,
					"capacitor: old ones are marked in microfarads without a unit"))
			}
		case slices.ContainsFunc(list, func(o Reading) bool { return o.Kind == r.Kind && o.Value == r.Value }):
		case len(list) > 0 && (spec.main().Unit == Farad || spec.main().Unit == Henry || spec.main().Unit == Joule ||
			spec.main().Unit == Ampere && (s[0] == '0' || len(s) == 4) || !isDigit(s[0]) ||
			list[0].Kind == "capacitance" && strings.Contains(s, " ")):
			list = append(list, r) // whole farads and a unit in front are rarer than the marking
		default:
			list = slices.Insert(list, 0, r)
		}
	}
	list = append(append(first, list...), last...)
	if len(list) > 0 {
		return list, nil
	}
	if e, perr := ParseExpectation(s); perr == nil && (e.Low != nil || e.High != nil) {
		return []Reading{expectationReading(e)}, nil
	}
	if semiconductor.MatchString(s) {
		return nil, fail(text, 0, "no value; it may be the mark of a semiconductor, and makers give one mark to several types: go by its package, its pins and the circuit")
	}
	if err == nil {
		err = fail(text, 0, "no value")
	}
	return nil, err
}

func expectationReading(e Expectation) Reading {
	v := cmp.Or(e.Nominal, e.Low, e.High)
	r := valueReading(*v, "written limits", "")
	switch {
	case e.Low != nil && e.High != nil:
		r.Value = e.Low.String() + " to " + e.High.String()
	case e.Low != nil:
		r.Value = "at least " + e.Low.String()
	default:
		r.Value = "at most " + e.High.String()
	}
	r.Standard, r.Nearest = "", nil
	return r
}

// isCode reports whether the text can be a marking: few letters and digits.
func isCode(s string) bool {
	if len(s) > 8 {
		return false
	}
	for _, c := range []byte(s) {
		if !isDigit(c) && !(c >= 'A' && c <= 'Z') && !(c >= 'a' && c <= 'z') {
			return false
		}
	}
	return true
}

func allDigits(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }

func whole(s string) int64 { n, _ := strconv.ParseInt(s, 10, 64); return n }

const (
	digitSource = "IEC 60062, digit code"
	rkmSource   = "IEC 60062, RKM code"
)

// readCode gives the meanings of a marking, likeliest first.
func readCode(s string) []Reading {
	var list []Reading
	add := func(r Reading) { list = append(list, r) }
	p, isPackage := FindPackage(s)
	size := Reading{Kind: "package", Value: p.Size(), Source: "EIA and IEC chip sizes",
		Reason: "imperial " + cmp.Or(p.Imperial, "none") + ", metric " + p.Metric + "M", Warning: p.Warning}
	if isPackage && (s[0] == '0' || len(s) == 5) {
		add(size)
	}
	switch {
	case strings.Trim(s, "0") == "" && len(s) <= 4:
		add(Reading{Kind: "resistance", Value: "0 Ω", Unit: "ohm", Source: digitSource, Reason: "a link"})
	case len(s) == 3 && allDigits(s):
		list = append(list, digitReadings(s, "")...)
	case len(s) == 4 && allDigits(s):
		stem := Decimal{Coef: whole(s[:3])}
		if isPackage && s[0] != '0' && (!E96.Has(stem) && !E24.Has(stem) || s[3] >= '5') {
			add(size) // no such resistor is usual, so the size is meant
		}
		d := Decimal{whole(s[:3]), int(s[3] - '0')}
		add(valueReading(Value{Number: d.normal(), Unit: Ohm}, digitSource,
			"chip resistor: three digits and the number of zeros, usually 1 %"))
	case len(s) == 3 && allDigits(s[:2]) && s[2] >= 'A':
		if strings.IndexByte("RKM", s[2]) >= 0 {
			list = append(list, rkmReadings(s, nil)...)
		}
		list = append(list, twoDigitReadings(s)...)
	case len(s) == 4 && allDigits(s[:3]):
		list = append(list, digitReadings(s[:3], s[3:])...)
	case len(s) == 4 && allDigits(s[1:]):
		if volts, ok := tables().VoltageLetters[s[:1]]; ok {
			if v, ok := picofarads(s[1:]); ok {
				r := valueReading(v, "tantalum chip marking", "voltage letter, then picofarads")
				r.Conditions = map[string]string{"voltage": volts + " V"}
				add(r)
			}
		}
	}
	list = append(list, rkmReadings(s, list)...)
	if d, ok := findDielectric(s); ok {
		add(Reading{Kind: "dielectric", Value: d.String(), Source: "EIA-198",
			Reason: "class " + strconv.Itoa(d.Class) + " ceramic, " + d.Code + "; says nothing of voltage and age"})
	}
	if isPackage && !slices.ContainsFunc(list, func(r Reading) bool { return r.Kind == "package" }) {
		add(size)
	}
	return list
}

// picofarads reads a capacitor's three digits; 8 and 9 as the third mean
// hundredths and tenths.
func picofarads(s string) (Value, bool) {
	if len(s) != 3 || !allDigits(s) {
		return Value{}, false
	}
	exp := int(s[2] - '0')
	if exp >= 8 {
		exp -= 10
	}
	d := Decimal{whole(s[:2]), exp - 12}.normal()
	return Value{Number: d, Unit: Farad}, d.Coef != 0
}

// digitReadings reads three digits with an optional letter: a chip resistor, a
// capacitor in picofarads, an inductor in microhenries.
func digitReadings(s, letter string) []Reading {
	var list []Reading
	exp := int(s[2] - '0')
	ohms := Value{Number: Decimal{whole(s[:2]), exp}.normal(), Unit: Ohm}
	if letter == "" && ohms.Number.Coef != 0 && exp < 8 {
		list = append(list, valueReading(ohms, digitSource, "chip resistor: two digits and the number of zeros, usually 5 %"))
	}
	c, isCap := picofarads(s)
	if isCap {
		tolerance, known := toleranceOf(letter, c)
		if known {
			r := valueReading(c, digitSource, "capacitor: picofarads, two digits and the number of zeros")
			r.Tolerance = tolerance
			list = append(list, r)
		}
		if volts, ok := tables().VoltageLetters[letter]; ok && letter != "" {
			r := valueReading(c, "tantalum chip marking", "picofarads, then a voltage letter")
			r.Conditions = map[string]string{"voltage": volts + " V"}
			list = append(list, r)
		}
	}
	h := Value{Number: Decimal{whole(s[:2]), exp - 6}.normal(), Unit: Henry}
	if tolerance, known := toleranceOf(letter, h); known && h.Number.Coef != 0 && exp <= 6 {
		r := valueReading(h, digitSource, "inductor: microhenries, two digits and the number of zeros")
		r.Tolerance = tolerance
		list = append(list, r)
	}
	return list
}

// twoDigitReadings reads two digits and a letter: EIA-96, or a capacitor below
// 100 pF with its tolerance.
func twoDigitReadings(s string) []Reading {
	var list []Reading
	letter := s[2:]
	if exp, ok := tables().EIA96[letter]; ok {
		if i := whole(s[:2]); i >= 1 && i <= 96 {
			d := Decimal{members()[E96][i-1], exp}.normal()
			r := valueReading(Value{Number: d, Unit: Ohm}, "EIA-96",
				"1 % chip resistor: number in E96, then the multiplier; older 2, 5 and 10 % codes look alike")
			r.Tolerance = "±1 %"
			list = append(list, r)
		}
	}
	c := Value{Number: Decimal{whole(s[:2]), -12}.normal(), Unit: Farad}
	if tolerance, ok := toleranceOf(letter, c); ok && s[0] != '0' {
		r := valueReading(c, digitSource, "small capacitor: picofarads and a tolerance letter")
		r.Tolerance = tolerance
		list = append(list, r)
	}
	return list
}

// toleranceOf reads a tolerance letter for a value; ok is false for a letter
// that is none. Below 10 pF some letters are picofarads.
func toleranceOf(letter string, v Value) (string, bool) {
	if letter == "" {
		return "", true
	}
	if v.Unit == Farad && v.Number.Cmp(Decimal{1, -11}) < 0 {
		if pf, ok := tables().TolerancesBelow10pF[letter]; ok {
			return "±" + pf + " pF", true
		}
	}
	t, ok := tables().Tolerances[letter]
	if !ok {
		return "", false
	}
	return percentText(t[0], t[1]), true
}

func percentText(down, up string) string {
	if down == up {
		return "±" + up + " %"
	}
	return "+" + up + "/-" + down + " %"
}

// rkmReadings reads a letter in the place of the point, with an optional
// tolerance letter behind. R also stands for the point in capacitor and
// inductor codes. Values that others found already are left out.
func rkmReadings(s string, have []Reading) []Reading {
	var list []Reading
	body, tolerance := s, ""
	v, n, ok := rkm(body)
	if ok && n == len(s)-1 {
		if t, known := toleranceOf(s[n:], v); known {
			body, tolerance = s[:n], t
		} else {
			ok = false
		}
	} else if ok && n != len(s) {
		ok = false
	}
	if !ok {
		return nil
	}
	r := valueReading(v, rkmSource, "")
	r.Tolerance = tolerance
	list = append(list, r)
	if strings.Contains(body, "R") && !strings.HasSuffix(body, "R") {
		r.Reason = "R stands for the point"
		list[0] = r
		c := valueReading(Value{Number: Decimal{v.Number.Coef, v.Number.Exp - 12}, Unit: Farad}, digitSource,
			"capacitor: R as the point, picofarads")
		c.Tolerance, _ = toleranceOf(strings.TrimPrefix(s, body), Value{Number: Decimal{v.Number.Coef, v.Number.Exp - 12}, Unit: Farad})
		h := valueReading(Value{Number: Decimal{v.Number.Coef, v.Number.Exp - 6}, Unit: Henry}, digitSource,
			"inductor: R as the point, microhenries")
		h.Tolerance = tolerance
		if v.Number.Coef != 0 {
			list = append(list, c, h)
		}
	}
	return slices.DeleteFunc(list, func(r Reading) bool {
		return slices.ContainsFunc(have, func(o Reading) bool { return o.Kind == r.Kind && o.Value == r.Value })
	})
}

// rkm reads an RKM code at the start of s, also one that ends with its letter:
// 47K, 100R, 10p.
func rkm(s string) (Value, int, bool) {
	d, n := scanNumber(s)
	if n < 0 || n > 0 && (d.Exp < 0 || !allDigits(s[:n])) {
		return Value{}, 0, false
	}
	if v, m, ok := scanCode(s[n:], d, n); ok {
		w, _, err := bounded(s, v, n+m)
		return w, n + m, err == nil
	}
	if n == 0 || n == len(s) {
		return Value{}, 0, false
	}
	if exp, size, ok := prefix(s[n:]); ok && exp != -3 && exp >= -12 {
		unit := Ohm
		if exp < 0 {
			unit = Farad
		}
		d.Exp += exp
		w, _, err := bounded(s, Value{Number: d, Unit: unit}, n+size)
		return w, n + size, err == nil
	}
	if s[n] == 'R' {
		w, _, err := bounded(s, Value{Number: d, Unit: Ohm}, n+1)
		return w, n + 1, err == nil
	}
	return Value{}, 0, false
}

// readColours reads the bands of a resistor (IEC 60062): three to six names,
// first to last.
func readColours(s string) (Reading, bool) {
	fields := strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r == ' ' || r == ',' || r == '-' || r == '/' })
	if len(fields) < 3 || len(fields) > 6 {
		return Reading{}, false
	}
	t := tables()
	for i, f := range fields {
		if other, ok := t.ColourAlso[f]; ok {
			fields[i] = other
		}
		if _, ok := t.ColourMultipliers[fields[i]]; !ok {
			return Reading{}, false
		}
	}
	digits := 2
	if len(fields) >= 5 {
		digits = 3
	}
	var coef int64
	for _, f := range fields[:digits] {
		n := slices.Index(t.Colours, f)
		if n < 0 {
			return Reading{}, false
		}
		coef = coef*10 + int64(n)
	}
	d := Decimal{coef, t.ColourMultipliers[fields[digits]]}.normal()
	r := valueReading(Value{Number: d, Unit: Ohm}, "IEC 60062, colour code", strconv.Itoa(len(fields))+" bands, first to last")
	r.Tolerance = "±20 %"
	if len(fields) > digits+1 {
		tolerance, ok := t.ColourTolerances[fields[digits+1]]
		if !ok {
			return Reading{}, false
		}
		r.Tolerance = "±" + tolerance + " %"
	}
	if len(fields) == 6 {
		ppm, ok := t.ColourCoefficients[fields[5]]
		if !ok {
			return Reading{}, false
		}
		r.Conditions = map[string]string{"temperature coefficient": strconv.Itoa(ppm) + " ppm/K"}
	}
	return r, true
}
