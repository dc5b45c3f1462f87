package quantity

import (
	"cmp"
	"slices"
	"strings"
	"unicode/utf8"
)

// Spec is what a text says of a part: its value and what comes with it,
// "100 nF 16 V X7R 0402", "240R@100MHz 1 A", "fuse 2 A 32 V fast 0603".
type Spec struct {
	Kind        string // capacitor, resistor, ferrite, inductor, fuse, diode, regulator, transistor, or ""
	Value       *Value // ohms, farads or henries; nil for parts that have none
	Tolerance   Tolerance
	Voltage     *Value // rated, or regulated
	Current     *Value
	Power       *Value
	Frequency   *Value // at which Value holds
	Temperature *Value // highest rated
	DCR         *Value // direct current resistance
	ESR         *Value // equivalent series resistance
	Dielectric  string
	Package     string
	Safety      string // X1, X2, Y1, Y2
	Speed       string // of a fuse: fast or slow
	Technology  string // electrolytic, tantalum, schottky, npn …
	Others      []string
	code        bool // Value was written as an RKM code
	point       bool // with an R in the place of the point
}

// Tolerance is a deviation either way, in percent or in the value's own unit.
type Tolerance struct {
	Down, Up Decimal
	Unit     Unit // Percent, or the value's; None when nothing was said
}

// String prints the tolerance, "" when there is none.
func (t Tolerance) String() string {
	if t.Unit == None {
		return ""
	}
	up := Value{Number: t.Up, Unit: t.Unit}
	if t.Up == t.Down {
		return "±" + up.String()
	}
	return "+" + t.Up.String() + "/-" + Value{Number: t.Down, Unit: t.Unit}.String()
}

func (s *Spec) source() string {
	if s.code {
		return rkmSource
	}
	return "written value"
}

// main is the quantity that the part is called by.
func (s *Spec) main() *Value { return cmp.Or(s.Value, s.Current, s.Voltage, s.Power) }

// conditions lists what was said beside the main quantity, by name.
func (s *Spec) conditions() map[string]string {
	m := map[string]string{}
	main := s.main()
	for name, v := range map[string]*Value{"voltage": s.Voltage, "current": s.Current, "power": s.Power, "frequency": s.Frequency,
		"temperature": s.Temperature, "DC resistance": s.DCR, "series resistance": s.ESR} {
		if v != nil && v != main {
			m[name] = v.String()
		}
	}
	for name, text := range map[string]string{"not read": strings.Join(s.Others, ", "), "class": s.Dielectric, "package": s.Package, "safety class": s.Safety,
		"speed": s.Speed, "kind": s.Technology} {
		if text != "" {
			m[name] = text
		}
	}
	if len(m) == 0 {
		return nil
	}
	return m
}

// wordSet are the words of specifications, as data.
type wordSet struct {
	Kinds           map[string]string `json:"kinds"`
	Technologies    map[string]string `json:"technologies"`
	TechnologyKinds map[string]string `json:"technologyKinds"` // the kind of part that a technology implies
	Speeds          map[string]string `json:"speeds"`
	PackageHeads    []string          `json:"packageHeads"`
	Fits            map[Fit]string    `json:"fits"`
}

var specWords = mustDecode[wordSet]("words.json", WordsJSON)

// ParseSpec reads a specification. Words that it does not know are kept in
// Others; the error is about a text with no meaning at all.
func ParseSpec(text string) (*Spec, error) {
	s := &Spec{}
	if len(text) > maxText {
		return nil, fail(text, maxText, "too long for a value")
	}
	label := ""
	for at := 0; at < len(text); {
		if n := gap(text[at:]); n > 0 {
			at += n
			continue
		}
		if text[at] == '@' {
			label = "@"
			at++
			continue
		}
		if t, n := s.tolerance(text[at:]); n > 0 {
			s.Tolerance = t
			at += n
			continue
		}
		word := text[at : at+wordLength(text[at:])]
		if s.word(word, &label) {
			at += len(word)
			continue
		}
		v, n, err := scanValue(text[at:])
		if err == nil && n > 0 && boundary(text[at+n:]) {
			if v.Unit == None && s.Value == nil && s.Kind == "" && at == 0 && strings.TrimSpace(text[at+n:]) == "" {
				s.Value = &v
			} else if s.assign(v, label, isRKM(text[at:at+n])) {
				s.point = s.point || s.code && strings.Contains(text[at:at+n], "R")
			} else {
				s.Others = append(s.Others, text[at:at+n])
			}
			label = ""
			at += n
			continue
		}
		if s.Value == nil && s.Kind == "" && s.Technology == "" && len(s.Others) == 0 && s.Voltage == nil && s.Current == nil {
			// Nothing has been understood so far: this is not a specification.
			if err != nil {
				e := err.(*Error)
				return nil, fail(text, at+e.Offset, "%s", e.Message)
			}
			return nil, fail(text, at+n, "%q does not belong to a value", clip(text[at+n:]))
		}
		if s.Value != nil && onlyValue(s) && !strings.ContainsAny(text[:at], " ") {
			return nil, fail(text, at, "%q does not belong to a value", clip(text[at:]))
		}
		s.Others = append(s.Others, word)
		at += len(word)
	}
	s.settle()
	if s.Value == nil && s.Kind == "" && s.Voltage == nil && s.Current == nil && s.Power == nil &&
		s.Frequency == nil && s.Temperature == nil {
		return nil, fail(text, 0, "no value")
	}
	return s, nil
}

func onlyValue(s *Spec) bool {
	return s.Voltage == nil && s.Current == nil && s.Power == nil && s.Package == "" && s.Dielectric == ""
}

// settle names the kind where the text did not, and makes the only quantity
// the value where there is no other. Where the text names it, the word decides what a
// code stands for: an R is the point of picofarads or microhenries too.
func (s *Spec) settle() {
	if s.code && s.Value != nil && s.Value.Unit == Ohm && s.point {
		switch s.Kind {
		case "capacitor":
			s.Value = &Value{Number: Decimal{s.Value.Number.Coef, s.Value.Number.Exp - 12}, Unit: Farad}
		case "inductor":
			s.Value = &Value{Number: Decimal{s.Value.Number.Coef, s.Value.Number.Exp - 6}, Unit: Henry}
		}
	}
	if s.Kind == "" {
		s.Kind = specWords().TechnologyKinds[s.Technology]
	}
	if s.Kind == "" && s.Value != nil {
		switch s.Value.Unit {
		case Ohm:
			s.Kind = "resistor"
			if s.Frequency != nil {
				s.Kind = "ferrite"
			}
		case Farad:
			s.Kind = "capacitor"
		case Henry:
			s.Kind = "inductor"
		}
	}
	if s.Kind == "" && s.Value == nil {
		for _, v := range []*Value{s.Voltage, s.Current, s.Power, s.Frequency, s.Temperature} {
			if v != nil {
				s.Value = v
				break
			}
		}
		switch s.Value {
		case nil:
		case s.Voltage:
			s.Voltage = nil
		case s.Current:
			s.Current = nil
		case s.Power:
			s.Power = nil
		case s.Frequency:
			s.Frequency = nil
		case s.Temperature:
			s.Temperature = nil
		}
	}
}

// gap is the length of what separates words: spaces, commas, semicolons.
func gap(s string) int {
	r, n := utf8.DecodeRuneInString(s)
	switch r {
	case ' ', '\t', '\u00a0', '\u202f', '\u2009', ',', ';', '(', ')', '/':
		return n
	}
	return 0
}

func wordLength(s string) int {
	for i, r := range s {
		if i > 0 && (gap(s[i:]) > 0 || r == '@' || r == '±') {
			return i
		}
	}
	return len(s)
}

// boundary reports whether a value may end before s.
func boundary(s string) bool {
	return s == "" || gap(s) > 0 || s[0] == '@' || strings.HasPrefix(s, "±") || strings.HasPrefix(s, "+/-")
}

func isRKM(s string) bool {
	_, n, ok := rkm(s)
	return ok && n == len(s)
}

// tolerance reads ±5 %, 5 %, +80/-20 %, ±0.5 pF at the start of s.
func (s *Spec) tolerance(text string) (Tolerance, int) {
	for _, mark := range []string{"±", "+/-", "+-"} {
		if rest, ok := strings.CutPrefix(text, mark); ok {
			skip := len(rest) - len(strings.TrimLeft(rest, " "))
			v, n, err := scanValue(rest[skip:])
			if err == nil && v.Unit != None && v.Number.Sign() >= 0 && boundary(rest[skip+n:]) {
				return Tolerance{v.Number, v.Number, v.Unit}, len(mark) + skip + n
			}
			return Tolerance{}, 0
		}
	}
	if strings.HasPrefix(text, "+") {
		end := strings.IndexByte(text, '%')
		a, b, ok := strings.Cut(text[1:max(end, 1)], "/-")
		up, err1 := Parse(a)
		down, err2 := Parse(b)
		if end > 0 && ok && err1 == nil && err2 == nil && up.Number.Sign() >= 0 && down.Number.Sign() >= 0 {
			return Tolerance{down.Number, up.Number, Percent}, end + 1
		}
		return Tolerance{}, 0
	}
	v, n, err := scanValue(text)
	if err == nil && v.Unit == Percent && v.Number.Sign() >= 0 && s.Value != nil && boundary(text[n:]) {
		return Tolerance{v.Number, v.Number, Percent}, n
	}
	return Tolerance{}, 0
}

// word reads what is not a quantity; it reports whether it knew the word.
func (s *Spec) word(word string, label *string) bool {
	lower := strings.ToLower(word)
	if kind, ok := specWords().Kinds[lower]; ok {
		s.Kind = kind
		return true
	}
	if t, ok := specWords().Technologies[lower]; ok {
		s.Technology = t
		return true
	}
	if speed, ok := specWords().Speeds[lower]; ok && s.Kind == "fuse" {
		s.Speed = speed
		return true
	}
	switch lower {
	case "dcr", "esr":
		*label = lower
		return true
	case "x1", "x2", "y1", "y2":
		s.Safety = strings.ToUpper(word)
		return true
	}
	if d, ok := findDielectric(word); ok && (s.Value != nil && s.Value.Unit == Farad || s.Kind == "capacitor") {
		s.Dielectric = d.Code
		return true
	}
	if _, ok := FindPackage(word); ok && (s.Value != nil || s.Kind != "" || s.Voltage != nil || s.Current != nil) {
		s.Package = strings.ToUpper(word)
		return true
	}
	upper := strings.ToUpper(word)
	if slices.ContainsFunc(specWords().PackageHeads, func(h string) bool { return strings.HasPrefix(upper, h) }) {
		s.Package = upper
		return true
	}
	return false
}

// assign puts a quantity where its unit and label say.
func (s *Spec) assign(v Value, label string, code bool) bool {
	switch {
	case label == "dcr" && v.Unit == Ohm:
		s.DCR = &v
	case label == "esr" && v.Unit == Ohm:
		s.ESR = &v
	case label == "@" && v.Unit == Hertz:
		s.Frequency = &v
	case (v.Unit == Ohm || v.Unit == Farad || v.Unit == Henry) && s.Value == nil && s.Kind != "fuse" &&
		s.Kind != "diode" && s.Kind != "transistor" && s.Kind != "regulator":
		s.Value, s.code = &v, code
	case v.Unit == Volt && s.Voltage == nil:
		s.Voltage = &v
	case v.Unit == Ampere && s.Current == nil:
		s.Current = &v
	case v.Unit == Watt && s.Power == nil:
		s.Power = &v
	case v.Unit == Hertz && s.Frequency == nil:
		s.Frequency = &v
	case v.Unit == Celsius && s.Temperature == nil:
		s.Temperature = &v
	case v.Unit != None && v.Unit != Percent && s.Value == nil && s.Kind == "":
		s.Value, s.code = &v, code
	default:
		return false
	}
	return true
}
