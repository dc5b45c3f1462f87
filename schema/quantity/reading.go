package quantity

import (
	"regexp"
	"strings"
)

// Bound says how a value stands to what was there. Meters and people say more
// than numbers: "> 200 MΩ" is not 200 MΩ, and a beep is no number at all.
type Bound uint8

// The bounds. A beep is a resistance below the meter's own threshold, which
// nobody stated.
const (
	Exact Bound = iota
	Above
	Below
	Beep
	NoBeep
)

// Wave is which kind of voltage or current a value is of, where that is said.
type Wave uint8

// The waves. AC is the effective value.
const (
	anyWave Wave = iota
	waveDC
	waveAC
	wavePeakToPeak
)

var waveNames = [...]string{"", " DC", " AC", " pp"}

// waveMarks are the marks for them.
const waveMarks = `AC rms|DC|dc|d\.c\.|AC|ac|a\.c\.|RMS|rms|pp|p-p|PP|~|⎓`

// waveForm is a unit of voltage or current with the kind of it behind.
var waveForm = regexp.MustCompile(`^(.*(?:[VAva]|[Vv]olts?|[Aa]mps?)) ?\(?(` + waveMarks + `)\)?$`)

var waves = map[string]Wave{"dc": waveDC, "d.c.": waveDC, "ac": waveAC, "a.c.": waveAC, "rms": waveAC,
	"ac rms": waveAC, "~": waveAC, "⎓": waveDC, "pp": wavePeakToPeak, "p-p": wavePeakToPeak}

// cutWave takes the kind of voltage or current off the end of a text.
func cutWave(s string) (string, Wave) {
	m := waveForm.FindStringSubmatch(s)
	if m == nil {
		return s, anyWave
	}
	return m[1], waves[strings.ToLower(m[2])]
}

// about are the words and signs for "not exactly".
var about = regexp.MustCompile(`^(?i:~|≈|circa|ca\.?|approximately|approx\.?|about|around|etwa|ungefähr|rund|environ|env\.?) ?`)

// cutAbout takes a word for "not exactly" off the beginning of a text.
func cutAbout(s string) (string, bool) {
	at := about.FindString(s)
	if at == "" || len(at) == len(s) {
		return s, false
	}
	return strings.TrimSpace(s[len(at):]), true
}

// boundMarks are what stands before a limit.
var boundMarks = []string{">=", "≥", "<=", "≤", ">", "<"}

// cutBound takes a sign of comparison off the beginning of a text.
func cutBound(s string) (string, Bound) {
	for _, mark := range boundMarks {
		if rest, ok := strings.CutPrefix(s, mark); ok {
			if strings.ContainsAny(mark, "<≤") {
				return strings.TrimSpace(rest), Below
			}
			return strings.TrimSpace(rest), Above
		}
	}
	return s, Exact
}

func beepOf(s string) (Value, bool) {
	switch strings.ToLower(s) {
	case "beep", "beeps", "beeped":
		return Value{Unit: Ohm, Bound: Beep}, true
	case "no beep", "silent":
		return Value{Unit: Ohm, Bound: NoBeep}, true
	}
	return Value{}, false
}

// ParseReading reads what a meter showed, as people note it: every value of
// [Parse], "> 200 MΩ" or "< 1 Ω" beyond or below a range, "~320 V", "12.1 V AC",
// "320 V DC", "beep", "no beep".
func ParseReading(text string) (Value, error) {
	s := strings.TrimSpace(text)
	if len(s) > maxText {
		return Parse(text)
	}
	if v, ok := beepOf(s); ok {
		return v, nil
	}
	s, bound := cutBound(s)
	s, _ = cutAbout(s)
	s, wave := cutWave(s)
	v, err := Parse(s)
	if err != nil {
		return Value{}, within(text, s, err)
	}
	if v.Over && bound != Exact {
		return Value{}, fail(text, 0, "OL has no limit beside it")
	}
	v.Bound, v.Wave = bound, wave
	return v, nil
}

// within says of a whole text what was said of a part of it.
func within(text, part string, err error) error {
	e := err.(*Error)
	return fail(text, max(0, strings.Index(text, part))+e.Offset, "%s", e.Message)
}

// sign is what is printed before a bounded value.
func (b Bound) sign() string {
	switch b {
	case Above:
		return "> "
	case Below:
		return "< "
	}
	return ""
}
