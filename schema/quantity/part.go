package quantity

import (
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"
)

// part is what a text says of a part, with every word accounted for: what is not
// understood stands in others, so that no comparison can pass over it.
type part struct {
	kind   string            // a key of swapData.Kinds; "" when it cannot be told
	values map[string]Value  // by attribute
	words  map[string]string // by attribute
	waves  map[string]string // AC or DC of a value, by attribute, where it is said beside it
	others []string          // as written
	named  bool              // the kind is said and not told by a unit
	// inferred are attributes that nobody stated, with what they were inferred from;
	// that is "" where it goes without saying.
	inferred map[string]string
}

func newPart() *part {
	return &part{values: map[string]Value{}, words: map[string]string{}, waves: map[string]string{}, inferred: map[string]string{}}
}

// inference is what a repairer takes for granted of a part that does not state it.
type inference struct {
	Kinds  []string             `json:"kinds"`
	Attr   string               `json:"attr"`
	Is     string               `json:"is"`    // the word
	Value  string               `json:"value"` // or the value
	If     map[string][]string  `json:"if"`    // words that the part must have, one of each
	Has    []string             `json:"has"`
	Lacks  []string             `json:"lacks"`
	Least  map[string]float64   `json:"least"`  // in the base unit
	Values map[string][]float64 `json:"values"` // one of these, in the base unit
	Note   string               `json:"note"`   // "" where it goes without saying
	Source string               `json:"source"`
}

// holds reports whether a part says what an inference goes by.
func (in inference) holds(p *part) bool {
	if !slices.Contains(in.Kinds, p.kind) || p.has(in.Attr) {
		return false
	}
	for attr, list := range in.If {
		if !slices.Contains(list, p.words[attr]) {
			return false
		}
	}
	if slices.ContainsFunc(in.Has, func(attr string) bool { return !p.has(attr) }) || slices.ContainsFunc(in.Lacks, p.has) {
		return false
	}
	for attr, least := range in.Least {
		if v, ok := p.values[attr]; !ok || v.Number.Float() < least {
			return false
		}
	}
	for attr, list := range in.Values {
		if v, ok := p.values[attr]; !ok || !slices.Contains(list, v.Number.Float()) {
			return false
		}
	}
	return true
}

// infer adds what goes without saying.
func (p *part) infer() {
	for _, in := range swapData().Infer {
		if !in.holds(p) {
			continue
		}
		if in.Value != "" {
			v, err := Parse(in.Value)
			if err != nil {
				continue // a test reads them all
			}
			p.values[in.Attr] = v
		} else {
			p.words[in.Attr] = in.Is
		}
		p.inferred[in.Attr] = in.Note
	}
}

// partWord is a word or phrase that says something of parts of some kinds.
type partWord struct {
	Say     []string `json:"say"` // spellings, in lower case
	Attr    string   `json:"attr"`
	Is      string   `json:"is"`
	Kinds   []string `json:"kinds"`   // all when empty
	Implies string   `json:"implies"` // the kind, where nothing else names it
	// Also is what else the word says, by attribute: MKP is a film capacitor.
	Also map[string]string `json:"also"`
}

// token is a piece of a part's text.
type token struct {
	text  string
	value *Value
	words []partWord // readings of a word; which one holds depends on the kind
	label [3]string  // attribute and unit of the value beside it, "after" where the value always follows
	attr  string     // of a value that says by its form what it is
	wave  string     // "alternating", "direct" or "either" of a value, where it is marked so
}

// phrases finds the longest known phrase at the start of a text.
type phrases struct {
	longest int
	kinds   map[string]string
	words   map[string][]partWord
}

var partPhrases = sync.OnceValue(func() *phrases {
	p := &phrases{kinds: map[string]string{}, words: map[string][]partWord{}}
	see := func(s string) { p.longest = max(p.longest, len(s)) }
	for kind, list := range swapData().KindWords {
		for _, s := range list {
			p.kinds[s] = kind
			see(s)
		}
	}
	for _, w := range swapData().Words {
		for _, s := range w.Say {
			p.words[s] = append(p.words[s], w)
			see(s)
		}
	}
	for s := range swapData().Labels {
		see(s)
	}
	for _, s := range swapData().Fillers {
		see(s)
	}
	return p
})

// phrase is the longest known phrase at the start of a text in lower case, "" for none.
func (p *phrases) phrase(lower string) string {
	for n := min(p.longest, len(lower)); n > 0; n-- {
		s := lower[:n]
		rest := lower[n:]
		if !utf8.ValidString(s) || rest != "" && !boundary(rest) && rest[0] != '=' && rest[0] != ':' && s != "=" && s != ":" {
			continue
		}
		_, kind := p.kinds[s]
		_, word := p.words[s]
		_, label := swapData().Labels[s]
		if kind || word || label || slices.Contains(swapData().Fillers, s) {
			return s
		}
	}
	return ""
}

var (
	partSize     = regexp.MustCompile(`^([0-9]+(?:\.[0-9]+)?) ?[x×] ?([0-9]+(?:\.[0-9]+)?)(?: ?mm)?(?:$|[ ,;()/])`)
	partFraction = regexp.MustCompile(`^([1-9])/(2|3|4|6|8|10|16|20) ?[Ww](?:att)?(?:$|[ ,;()/])`)
	partPPM      = regexp.MustCompile(`^(?:±|\+/-)?([0-9]+) ?ppm(?:/(?:K|°C|C))?(?:$|[ ,;()/])`)
	partFuse     = regexp.MustCompile(`^(FF|F|M|TT|T) ?([0-9]+(?:[.,][0-9]+)?) ?(m?A)([LEH])? ?(?:([0-9]+) ?V(?: ?(AC|DC|ac|dc|~))?)?(?:$|[ ,;()/])`) // IEC 60127-1 marking
	// A voltage or current with the mark of its kind, as readings have it.
	partWave    = regexp.MustCompile(`^([-+−]?[0-9][0-9.,]*[ \x{a0}\x{202f}\x{2009}]?[numkKMµμ]?(?:[VAva]|[Vv]olts?|[Aa]mps?)) ?\(?(AC/DC|` + waveMarks + `)\)?(?:$|[ ,;()/@])`)
	partCelsius = regexp.MustCompile(`^([0-9]{2,3})C(?:$|[ ,;()/])`) // no marking of a value among ratings
	partBeta    = regexp.MustCompile(`^(?:(?:[Bb]eta|B) ?[=:]? ?([0-9]{4}) ?K|B([0-9]{4}))(?:$|[ ,;()/])`)
	partArea    = regexp.MustCompile(`^([0-9]+(?:\.[0-9]+)?) ?(?:mm²|mm2|mm\^2|qmm|sq ?mm)(?:$|[ ,;()/])`)
	partGauge   = regexp.MustCompile(`^(?:AWG ?#?([0-9]{1,2})|([0-9]{1,2}) ?AWG)(?:$|[ ,;()/])`)
)

// wireArea is the cross-section in mm² of a wire by its American gauge (ASTM B258).
func wireArea(gauge int) (Decimal, bool) {
	d := 0.127 * math.Pow(92, float64(36-gauge)/39)
	return FromFloat(math.Pi/4*d*d, 4)
}

var (
	fuseSpeeds  = map[string]string{"FF": "very fast", "F": "fast", "M": "medium", "T": "slow", "TT": "very slow"}
	fuseClasses = map[string]string{"L": "low", "E": "enhanced", "H": "high"}
)

// parsePart reads what a text says of a part. No text is an error: what cannot be
// read is kept in others.
func parsePart(text string) *part {
	p := newPart()
	if len(text) > maxText {
		p.others = []string{clip(text)}
		return p
	}
	p.settle(tokens(text, p))
	return p
}

// tokens cuts a text into pieces that are known, the rest goes to others.
func tokens(text string, p *part) (list []token) {
	known := partPhrases()
	lower := strings.ToLower(text)
	if len(lower) != len(text) {
		lower = text // letters that change their length are in no known word
	}
	word := func(attr, is string) token { return token{text: is, words: []partWord{{Attr: attr, Is: is}}} }
	for at := 0; at < len(text); {
		rest := text[at:]
		if n := gap(rest); n > 0 {
			at += n
			continue
		}
		if rest[0] == '@' {
			list = append(list, token{text: "@", label: [3]string{"@", ""}})
			at++
			continue
		}
		if m := partPPM.FindStringSubmatch(rest); m != nil {
			d, _ := scanNumber(m[1])
			list = append(list, token{text: m[0], value: &Value{Number: d}, attr: "tempco"})
			at += len(unended(m[0]))
			continue
		}
		if m := partBeta.FindStringSubmatch(rest); m != nil {
			d, _ := scanNumber(m[1] + m[2])
			list = append(list, token{text: m[0], value: &Value{Number: d.normal(), Unit: Kelvin}, attr: "beta"})
			at += len(unended(m[0]))
			continue
		}
		if m := partArea.FindStringSubmatch(rest); m != nil {
			d, _ := scanNumber(m[1])
			list = append(list, token{text: m[0], value: &Value{Number: d.normal()}, attr: "area"})
			at += len(unended(m[0]))
			continue
		}
		if m := partGauge.FindStringSubmatch(rest); m != nil {
			if d, ok := wireArea(int(whole(m[1] + m[2]))); ok {
				list = append(list, token{text: m[0], value: &Value{Number: d}, attr: "area"})
				at += len(unended(m[0]))
				continue
			}
		}
		if m := partCelsius.FindStringSubmatch(rest); m != nil {
			d, _ := scanNumber(m[1])
			list = append(list, token{text: m[0], value: &Value{Number: d.normal(), Unit: Celsius}})
			at += len(unended(m[0]))
			continue
		}
		if m := partWave.FindStringSubmatch(rest); m != nil {
			if v, err := Parse(m[1]); err == nil && !v.Over {
				list = append(list, token{text: unended(m[0]), value: &v, wave: waveWord(m[2])})
				at += len(unended(m[0]))
				continue
			}
		}
		if m := partFraction.FindStringSubmatch(rest); m != nil {
			if d, ok := FromFloat(float64(whole(m[1]))/float64(whole(m[2])), 6); ok {
				list = append(list, token{text: m[0], value: &Value{Number: d, Unit: Watt}, attr: "power"})
				at += len(unended(m[0]))
				continue
			}
		}
		if m := partFuse.FindStringSubmatch(rest); m != nil {
			v, err := Parse(m[2] + " " + m[3])
			if err == nil {
				list = append(list, token{text: m[0], value: &v, attr: "current"},
					token{words: []partWord{{Attr: "speed", Is: fuseSpeeds[m[1]], Kinds: []string{"fuse"}, Implies: "fuse"}}, text: m[1]})
				if m[4] != "" {
					list = append(list, token{words: []partWord{{Attr: "breakingclass", Is: fuseClasses[m[4]],
						Kinds: []string{"fuse"}}}, text: m[4]})
				}
				if m[5] != "" {
					d, _ := scanNumber(m[5])
					list = append(list, token{text: m[5] + " V", value: &Value{Number: d, Unit: Volt}, attr: "voltage",
						wave: waveWord(m[6])})
				}
				at += len(unended(m[0]))
				continue
			}
		}
		if m := partSize.FindStringSubmatch(rest); m != nil {
			list = append(list, word("size", m[1]+" × "+m[2]+" mm"))
			at += len(unended(m[0]))
			continue
		}
		if strings.HasPrefix(rest, "±") || strings.HasPrefix(rest, "+") {
			s := &Spec{Value: &Value{}}
			if t, n := s.tolerance(rest); n > 0 {
				if t.Unit == Percent {
					list = append(list, token{text: rest[:n],
						value: &Value{Number: larger(t.Up, t.Down), Unit: Percent}, attr: "tolerance"})
				} else {
					p.others = append(p.others, rest[:n])
				}
				at += n
				continue
			}
		}
		if s := known.phrase(lower[at:]); s != "" {
			switch kind, ok := known.kinds[s]; {
			case ok:
				list = append(list, token{text: s,
					words: append([]partWord{{Attr: "kind", Is: kind}}, known.words[s]...), label: swapData().Labels[s]})
			case known.words[s] != nil:
				list = append(list, token{text: text[at : at+len(s)], words: known.words[s], label: swapData().Labels[s]})
			case swapData().Labels[s] != [3]string{}:
				list = append(list, token{text: text[at : at+len(s)], label: swapData().Labels[s]})
			}
			at += len(s)
			continue
		}
		said := rest[:wordLength(rest)]
		if d, ok := findDielectric(said); ok {
			list = append(list, word("dielectric", d.Code))
			at += len(said)
			continue
		}
		upper := strings.ToUpper(said)
		if _, ok := FindPackage(said); ok ||
			slices.ContainsFunc(specWords().PackageHeads, func(h string) bool { return strings.HasPrefix(upper, h) }) {
			if same := swapData().PackageAlias[upper]; same != "" {
				upper = same
			}
			list = append(list, word("package", upper))
			at += len(said)
			continue
		}
		v, n, err := scanValue(rest)
		if err == nil && n > 0 && boundary(rest[n:]) {
			list = append(list, token{text: rest[:n], value: &v})
			at += n
			continue
		}
		p.others = append(p.others, said)
		at += len(said)
	}
	return list
}

// unended is a match without the separator that ended it.
func unended(match string) string { return strings.TrimRight(match, " ,;()/@") }

// waveWord says which kind of voltage or current a mark means.
func waveWord(mark string) string {
	if mark == "AC/DC" {
		return "either"
	}
	return map[Wave]string{waveAC: "alternating", waveDC: "direct", wavePeakToPeak: "peak to peak"}[waves[strings.ToLower(mark)]]
}

// settle finds the kind, then what each piece says of a part of that kind.
func (p *part) settle(list []token) {
	p.kind = kindOf(list, p)
	claimed := make([]bool, len(list))
	p.takeLabels(list, claimed)
	for i, t := range list {
		switch {
		case claimed[i]:
		case t.value != nil:
			if attr := p.attributeOf(t); attr == "" || !p.put(attr, t) {
				p.others = append(p.others, unended(t.text))
			}
		default:
			if !p.takeWord(t) {
				p.others = append(p.others, t.text)
			}
		}
	}
	for _, t := range list {
		p.takeAlso(t)
	}
	p.settleSupply()
	if _, ok := findDielectric(p.words["dielectric"]); ok {
		if p.kind != "capacitor" || p.words["technology"] != "" && p.words["technology"] != "ceramic" {
			p.others = append(p.others, p.words["dielectric"])
		}
		p.words["technology"] = "ceramic"
	}
	p.infer()
}

// takeAlso adds what else a word says that was taken.
func (p *part) takeAlso(t token) {
	for _, w := range t.words {
		if p.words[w.Attr] != w.Is || len(w.Kinds) > 0 && !slices.Contains(w.Kinds, p.kind) {
			continue
		}
		for attr, is := range w.Also {
			if have, ok := p.words[attr]; ok && have != is {
				p.others = append(p.others, t.text)
			} else {
				p.words[attr] = is
			}
		}
	}
}

// settleSupply says whether what the part is rated for is AC or DC. A mark stands beside
// a value and is of that one; a word on its own is of the rating, where there is but one.
func (p *part) settleSupply() {
	said := p.words["supply"]
	if said != "" && p.kind == "relay" {
		p.others = append(p.others, map[string]string{"alternating": "AC", "direct": "DC"}[said]) // of its coil or its contacts
		delete(p.words, "supply")
		said = ""
	}
	for _, attr := range slices.Sorted(maps.Keys(p.waves)) {
		wave := p.waves[attr]
		switch {
		case wave == "peak to peak":
			p.others = append(p.others, p.values[attr].String()+" peak to peak")
		case attr != "voltage" && attr != "current":
			p.words[attr+"supply"] = wave
		case said != "" && said != wave:
			p.others = append(p.others, p.values[attr].String()+map[string]string{"alternating": " AC", "direct": " DC", "either": " AC/DC"}[wave])
		default:
			said = wave
			p.words["supply"] = wave
		}
	}
}

// kindOf is the kind that the words name, else the one that they or the value imply.
func kindOf(list []token, p *part) string {
	kind := ""
	for _, t := range list {
		for _, w := range t.words {
			if w.Attr != "kind" || t.label[0] != "" { // a relay's coil is no inductor
				continue
			}
			switch refines := swapData().Refines; {
			case kind == "" || kind == w.Is || slices.Contains(refines[w.Is], kind):
				kind, p.named = w.Is, true
			case !slices.Contains(refines[kind], w.Is):
				p.others = append(p.others, t.text)
			}
		}
	}
	for _, t := range list {
		for _, w := range t.words {
			if w.Implies != "" && (kind == "" || slices.Contains(swapData().Refines[w.Implies], kind)) {
				kind, p.named = w.Implies, true
			}
		}
	}
	for _, t := range list {
		if kind == "" && t.label[0] != "" && len(t.words) > 0 && t.words[0].Attr == "kind" {
			kind = t.words[0].Is
		}
	}
	for i, t := range list {
		if kind == "" && t.value != nil {
			kind = swapData().Units[t.value.Unit.Name()]
			if kind == "resistor" && i+2 < len(list) && list[i+1].label[0] == "@" && list[i+2].value != nil &&
				list[i+2].value.Unit == Hertz {
				kind = "ferrite" // its impedance is said at a frequency
			}
		}
	}
	return kind
}

// takeLabels gives a value to the label beside it. Where the values on both sides
// would do, it is not known which is meant.
func (p *part) takeLabels(list []token, claimed []bool) {
	for i, t := range list {
		if t.label[0] == "" {
			continue
		}
		if slices.ContainsFunc(t.words, func(w partWord) bool {
			return w.Attr != "kind" && len(w.Kinds) == 0 || w.Attr == "kind" && w.Is == p.kind || slices.Contains(w.Kinds, p.kind)
		}) {
			continue // it says something by itself
		}
		suits := func(j int) bool {
			return j >= 0 && j < len(list) && !claimed[j] && list[j].value != nil && list[j].attr == "" &&
				(list[j].value.Unit.Name() == t.label[1] || t.label[1] == "number" && list[j].value.Unit == None)
		}
		attr, at := t.label[0], -1
		switch {
		case attr == "@":
			if i+1 < len(list) && list[i+1].value != nil {
				switch list[i+1].value.Unit {
				case Hertz:
					attr, at = "frequency", i+1
				case Celsius:
					attr, at = "attemp", i+1
				}
			}
		case suits(i+1) && suits(i-1) && t.label[2] == "":
		case suits(i + 1):
			at = i + 1
		case suits(i-1) && t.label[2] == "":
			at = i - 1
		}
		claimed[i] = true
		if at < 0 || !p.put(attr, list[at]) {
			p.others = append(p.others, t.text)
			continue
		}
		claimed[at] = true
	}
}

// attributeOf is what a value without a label says of a part of this kind.
func (p *part) attributeOf(t token) string {
	if t.attr != "" {
		return t.attr
	}
	unit := t.value.Unit.Name()
	data := swapData()
	if p.kind == "optocoupler" && t.value.Unit == Volt && t.value.Number.Float() >= data.IsolationFrom {
		return "isolation"
	}
	if attr, ok := data.FreeOf[p.kind][unit]; ok {
		return attr
	}
	if _, ok := p.values["value"]; !ok && unit != "" && data.Kinds[p.kind].Unit == unit {
		return "value"
	}
	if t.value.Unit == Percent {
		return "tolerance"
	}
	if _, second := p.values["current"]; second && p.kind == "fuse" && t.value.Unit == Ampere &&
		t.value.Number.Float() >= data.BreakingFrom {
		return "breaking"
	}
	if list := data.Free[unit]; len(list) > 0 {
		return list[0]
	}
	return ""
}

// put takes the value of a token for an attribute; it reports whether that says nothing
// else than what is known.
func (p *part) put(attr string, t token) bool {
	if have, ok := p.values[attr]; ok && (have != *t.value || p.waves[attr] != t.wave) {
		return false
	}
	p.values[attr] = *t.value
	if t.wave != "" {
		p.waves[attr] = t.wave
	}
	return true
}

func (p *part) takeWord(t token) bool {
	kind := false
	for _, w := range t.words {
		switch {
		case w.Attr == "kind" && w.Is == p.kind:
			return true // kindOf has looked at it
		case w.Attr == "kind":
			kind = true // the triac of an optocoupler says something of it too
			continue
		case len(w.Kinds) > 0 && !slices.Contains(w.Kinds, p.kind):
			continue
		}
		have, ok := p.words[w.Attr]
		if ok && have != w.Is {
			return false
		}
		p.words[w.Attr] = w.Is
		return true
	}
	return kind
}
