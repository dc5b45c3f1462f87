package quantity

import (
	_ "embed"
	"regexp"
	"strings"
	"sync"
)

// MarksJSON are the forms of markings, as data that the page reads too: patterns that mean
// the same to Go and to JavaScript.
//
//go:embed data/marks.json
var MarksJSON []byte

// markRule is one form of a marking. $1 to $3 stand for what the pattern's groups matched.
// A value that begins with # is a digit code, one that begins with @ a two-character voltage
// code. A condition whose group is empty is left out.
type markRule struct {
	Pattern    string            `json:"pattern"`
	Value      string            `json:"value"`
	Tolerance  string            `json:"tolerance"`
	Letters    map[string]string `json:"letters"` // tolerances that this system alone uses
	Conditions map[string]string `json:"conditions"`
	Reason     string            `json:"reason"`
	Source     string            `json:"source"`
	Place      string            `json:"place"`  // "" for the only reading, else first or last among others
	Refuse     string            `json:"refuse"` // why such a marking has no value
	re         *regexp.Regexp
}

type markSet struct {
	// Rewrites bring a marking to the form that other readers know: 1/2 W is 0.5 W.
	Rewrites [][2]string `json:"rewrites"`
	Rules    []*markRule `json:"rules"`
	rewrites []*regexp.Regexp
}

var markData = sync.OnceValue(func() *markSet {
	m := mustDecode[markSet]("marks.json", MarksJSON)()
	for _, r := range m.Rules {
		r.re = regexp.MustCompile(r.Pattern)
	}
	for _, f := range m.Rewrites {
		m.rewrites = append(m.rewrites, regexp.MustCompile(f[0]))
	}
	return &m
})

// rewritten is a marking in the form that other readers know.
func rewritten(s string) string {
	m := markData()
	for i, re := range m.rewrites {
		s = re.ReplaceAllString(s, m.Rewrites[i][1])
	}
	return strings.TrimSpace(s)
}

// expand puts groups into a template; it reports whether all that it names matched something.
func expand(template string, groups []string) (string, bool) {
	full := true
	for i := 1; i < len(groups); i++ {
		mark := "$" + string(rune('0'+i))
		if groups[i] == "" && strings.Contains(template, mark) {
			full = false
		}
		template = strings.ReplaceAll(template, mark, groups[i])
	}
	return template, full
}

// markValue reads an expanded value.
func markValue(s string) (Value, bool) {
	if code, ok := strings.CutPrefix(s, "@"); ok {
		volts, ok := tables().VoltageCodes[code]
		if !ok {
			return Value{}, false
		}
		s = volts + " V"
	}
	if code, ok := strings.CutPrefix(s, "#"); ok {
		v, err := Parse("1" + code[3:])
		if err != nil {
			return Value{}, false
		}
		d := Decimal{whole(code[:2]), v.Number.Exp + int(code[2]-'0')}.normal()
		return Value{Number: d, Unit: v.Unit}, d.Coef != 0
	}
	v, err := Parse(s)
	return v, err == nil && !v.Over
}

// read reads a marking by the rule; ok is false where it is not of this form.
func (r *markRule) read(s string) (Reading, bool) {
	m := r.re.FindStringSubmatch(s)
	if m == nil {
		return Reading{}, false
	}
	text, _ := expand(r.Value, m)
	v, ok := markValue(text)
	if !ok {
		return Reading{}, false
	}
	out := valueReading(v, r.Source, r.Reason)
	if out.Tolerance, _ = expand(r.Tolerance, m); len(out.Tolerance) == 1 {
		t, known := r.Letters[out.Tolerance]
		if !known {
			if t, known = toleranceOf(out.Tolerance, v); !known {
				return Reading{}, false
			}
		}
		out.Tolerance = t
	}
	for name, template := range r.Conditions {
		text, full := expand(template, m)
		if !full {
			continue
		}
		if strings.HasPrefix(text, "@") {
			volts, ok := markValue(text)
			if !ok {
				return Reading{}, false
			}
			text = volts.String()
		}
		if out.Conditions == nil {
			out.Conditions = map[string]string{}
		}
		out.Conditions[name] = text
	}
	return out, true
}

// patternReadings are the readings of a marking by its form: the only ones, those that come
// before others, those behind; the error says that such a marking has no value.
func patternReadings(s string) (only, first, last []Reading, err error) {
	for _, r := range markData().Rules {
		if r.Refuse != "" {
			if r.re.MatchString(s) {
				return nil, nil, nil, fail(s, 0, "%s", r.Refuse)
			}
			continue
		}
		out, ok := r.read(s)
		switch {
		case !ok:
		case r.Place == "":
			return []Reading{out}, nil, nil, nil
		case r.Place == "first":
			first = append(first, out)
		default:
			last = append(last, out)
		}
	}
	return nil, first, last, nil
}

var (
	digitHead = regexp.MustCompile(`^[0-9]{3}[BCDGJKMZ]?$`)
	bareHead  = regexp.MustCompile(`^(?:[0-9]{1,4}|[0-9]*[.,][0-9]+)$`)
	betaWord  = regexp.MustCompile(`^B[0-9]{4}$`)
	pairWord  = regexp.MustCompile(`^([XY][12])([XY][12])$`)
)

// wordReadings reads a digit code or a bare number with words beside it, which say what kind
// of part it is. Each word is read or named as not read.
func wordReadings(s string) ([]Reading, bool) {
	words := strings.FieldsFunc(pairSplit(s), func(r rune) bool { return r == ' ' || r == '/' || r == '@' })
	head := -1
	for i, w := range words {
		if _, ok := FindPackage(w); ok && head >= 0 {
			continue
		}
		if digitHead.MatchString(w) || bareHead.MatchString(w) {
			if head >= 0 {
				return nil, false // two codes: which belongs to the part cannot be told
			}
			head = i
		}
	}
	if head < 0 || len(words) < 2 || len(words) > 8 {
		return nil, false
	}
	if head+1 < len(words) && !isDigit(words[head+1][0]) {
		if v, err := Parse(words[head] + " " + words[head+1]); err == nil && v.Unit != None {
			return nil, false // the next word is its unit
		}
	}
	facts := map[string]string{}
	put := func(name, text string) {
		if facts[name] != "" {
			text = facts[name] + ", " + text
		}
		facts[name] = text
	}
	spec := &Spec{Value: &Value{Unit: Farad}}
	tolerance, known := "", false
	for i, w := range words {
		if i == head {
			continue
		}
		before := spec.Kind + spec.Technology + spec.Dielectric + spec.Package
		bare, _ := cutWave(w)
		label := ""
		v, err := Parse(bare)
		switch {
		case err == nil && strings.Contains("VAWHz°C", v.Unit.symbol()) && v.Unit != None:
			put(map[Unit]string{Volt: "voltage", Ampere: "current", Watt: "power", Hertz: "frequency", Celsius: "temperature"}[v.Unit], v.String())
			known = true
		case err == nil && v.Unit == Percent && v.Number.Sign() > 0 && tolerance == "":
			tolerance, known = "±"+v.String(), true
		case betaWord.MatchString(w):
			put("B", w[1:]+" kelvin")
			known = true
		case spec.word(w, &label) && label == "":
			if spec.Safety != "" {
				put("safety class", spec.Safety)
				spec.Safety = ""
			} else if before == spec.Kind+spec.Technology+spec.Dielectric+spec.Package {
				put("not read", w)
			}
			known = true
		default:
			put("not read", w)
		}
	}
	for name, text := range map[string]string{"class": spec.Dielectric, "package": spec.Package, "kind": spec.Technology} {
		if text != "" {
			put(name, text)
		}
	}
	if spec.Kind == "" {
		spec.Kind = specWords().TechnologyKinds[spec.Technology]
	}
	want := map[string]string{"capacitor": "capacitance", "resistor": "resistance", "ferrite": "resistance", "inductor": "inductance"}[spec.Kind]
	switch {
	case want != "":
	case spec.Kind != "":
		return nil, false
	case facts["safety class"] != "" || facts["class"] != "" || facts["voltage"] != "":
		want = "capacitance"
	case facts["frequency"] != "" || facts["power"] != "" || facts["B"] != "":
		want = "resistance"
	}
	var list []Reading
	if n, err := Parse(words[head]); err == nil && n.Unit == None && want == "capacitance" && n.Number.Sign() > 0 {
		micro := len(words[head]) != 3 || strings.HasSuffix(words[head], "0") || strings.ContainsAny(words[head], ".,")
		if micro && spec.Dielectric == "" && spec.Kind == "" || spec.Technology == "electrolytic" {
			list = append(list, valueReading(Value{Number: Decimal{n.Number.Coef, n.Number.Exp - 6}, Unit: Farad}, oldSource,
				"capacitor: a number beside a voltage is microfarads, as on electrolytic and film ones"))
		}
	}
	if digitHead.MatchString(words[head]) {
		for _, r := range digitReadings(words[head][:3], words[head][3:]) {
			if want == "" || r.Kind == want {
				list = append(list, r)
			}
		}
	}
	if len(list) == 0 || !known && facts["not read"] == "" {
		return nil, false
	}
	for i := range list {
		conditions := map[string]string{}
		for name, text := range list[i].Conditions {
			conditions[name] = text
		}
		for name, text := range facts {
			conditions[name] = text
		}
		if len(conditions) > 0 {
			list[i].Conditions = conditions
		}
		if list[i].Tolerance == "" {
			list[i].Tolerance = tolerance
		} else if tolerance != "" && tolerance != list[i].Tolerance {
			list[i].Warning = "two tolerances are stated: " + list[i].Tolerance + " and " + tolerance
		}
	}
	return list, true
}

// pairSplit writes X1Y2 as X1 Y2.
func pairSplit(s string) string {
	words := strings.Split(s, " ")
	for i, w := range words {
		words[i] = pairWord.ReplaceAllString(w, "$1 $2")
	}
	return strings.Join(words, " ")
}
