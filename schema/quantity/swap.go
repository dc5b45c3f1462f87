package quantity

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Fit says whether one part may stand in for another.
type Fit string

// The answers, from best to worst. CannotTell means that something needed was
// not stated, or that a word was not understood.
const (
	Fits           Fit = "fits"
	FitsWithRemark Fit = "fits-with-remark"
	CannotTell     Fit = "cannot-tell"
	DoesNotFit     Fit = "does-not-fit"
)

// Words is the answer as shown to people.
func (f Fit) Words() string { return specWords().Fits[f] }

// Reason is what one rule says of a swap.
type Reason struct {
	Rule string `json:"rule"` // "capacitor-voltage"
	Says Fit    `json:"says"`
	Text string `json:"text"`
	// Source is where the rule is from; for a fact of the trade, that it has none.
	Source string `json:"source,omitempty"`
}

// SwapResult is the judgement of a substitution.
type SwapResult struct {
	Verdict Fit      `json:"verdict"`
	Kind    string   `json:"kind"`
	Reasons []Reason `json:"reasons"`
}

// swapSet are the rules of substitution, as data: what the page and the command line
// read, so that both say the same.
type swapSet struct {
	Kinds        map[string]swapKind          `json:"kinds"`
	KindWords    map[string][]string          `json:"kindWords"`
	Refines      map[string][]string          `json:"refines"` // a kind, and the wider ones that it may be called by too
	Words        []partWord                   `json:"words"`
	Labels       map[string][3]string         `json:"labels"` // word -> attribute and unit of the value beside it, and whether it always follows
	Free         map[string][]string          `json:"free"`   // unit -> attribute of a value without a label
	FreeOf       map[string]map[string]string `json:"freeOf"` // the same by kind
	Fillers      []string                     `json:"fillers"`
	Units        map[string]string            `json:"units"` // unit of the value -> kind, where nothing names it
	Attributes   map[string]string            `json:"attributes"`
	BreakingFrom float64                      `json:"breakingFrom"` // A; a second current of a fuse from here on is its breaking capacity
}

type swapKind struct {
	Name     string     `json:"name"`
	Unit     string     `json:"unit"`     // of its value; "" where it has none
	Protects bool       `json:"protects"` // it stands between a fault and a person or a fire
	Rules    []swapRule `json:"rules"`
	Always   string     `json:"always"` // what its data do not say
	Needs    []string   `json:"needs"`  // attributes of which both parts must state one
	NeedText string     `json:"needtext"`
}

// swapRule is one comparison of an attribute.
type swapRule struct {
	Name    string               `json:"name"`
	Attr    string               `json:"attr"`
	Test    string               `json:"test"`
	Need    bool                 `json:"need"`   // both must state it
	Unless  string               `json:"unless"` // this attribute makes it needless
	Fit     [2]float64           `json:"fit"`
	Remark  [2]float64           `json:"remark"`
	Class1  [2]float64           `json:"class1"`
	Windows map[string]window    `json:"windows"` // by the first letter of the safety class
	Slack   float64              `json:"slack"`
	Factor  float64              `json:"factor"`
	Note    string               `json:"note"`
	Better  string               `json:"better"`
	Order   []string             `json:"order"`
	Pairs   map[string][2]string `json:"pairs"`
	Polar   []string             `json:"polarised"`
	Value   string               `json:"value"`
	Or      map[string][]string  `json:"or"`
	Says    Fit                  `json:"says"`
	New     map[string]string    `json:"new"` // what the new part must be for the rule to hold
	Source  string               `json:"source"`
}

type window struct {
	Fit    [2]float64 `json:"fit"`
	Remark [2]float64 `json:"remark"`
	Note   string     `json:"note"`
	Over   string     `json:"over"`
}

var swapData = mustDecode[swapSet]("swaps.json", SwapsJSON)

// SwapRules lists the names of the rules, for settings.
func SwapRules() []string {
	var names []string
	for kind, k := range swapData().Kinds {
		for _, r := range k.Rules {
			names = append(names, kind+"-"+r.Name)
		}
	}
	slices.Sort(names)
	return names
}

// Swap judges whether the part that fitted describes may stand in for the one that
// original describes. Off names rules that are not applied; the rules of kinds that
// protect are always applied. A word that is not understood, on either side, is named
// and makes the answer [CannotTell] at best. It returns an [*Error] for a text that
// says nothing.
func Swap(original, fitted string, off []string) (SwapResult, error) {
	for _, s := range []string{original, fitted} {
		switch {
		case len(s) > maxText:
			return SwapResult{}, fail(s, maxText, "too long for a part")
		case strings.TrimSpace(s) == "":
			return SwapResult{}, fail(s, 0, "no part")
		}
	}
	a, b := parsePart(original), parsePart(fitted)
	return compareParts(a, b, off, strings.Join(strings.Fields(original), " ") == strings.Join(strings.Fields(fitted), " ")), nil
}

// Protects reports what protective kind of part a text describes, "" for none that is
// known.
func Protects(text string) string {
	p := parsePart(text)
	switch {
	case swapData().Kinds[p.kind].Protects:
		return swapData().Kinds[p.kind].Name
	case p.words["safety"] != "":
		return "safety capacitor"
	case p.words["fusible"] != "":
		return "fusible resistor"
	}
	return ""
}

// KnownWords keeps of a description the words that say something of a part.
func KnownWords(description string) string {
	p := &part{values: map[string]Value{}, words: map[string]string{}}
	var said []string
	for _, t := range tokens(description[:min(len(description), maxText)], p) {
		if t.value == nil && len(t.words) > 0 {
			said = append(said, t.text)
		}
	}
	return strings.Join(said, " ")
}

// Instead is the description of a part with what another text says in place of what it
// said of the same, as in "same, 10 A".
func Instead(original, said string) string {
	a, b := parsePart(original), parsePart(KindWord(original)+" "+said)
	var out []string
	for _, t := range tokens(original, &part{}) {
		attr := ""
		switch {
		case t.value != nil:
			attr = a.attributeNamed(*t.value)
		case len(t.words) > 0 && t.words[0].Attr != "kind":
			for _, w := range t.words {
				if a.words[w.Attr] == w.Is {
					attr = w.Attr
				}
			}
		}
		if attr == "" || !b.has(attr) {
			out = append(out, unended(t.text))
		}
	}
	return strings.Join(append(append(out, a.others...), said), " ")
}

// attributeNamed is the attribute that has a value.
func (p *part) attributeNamed(v Value) string {
	for _, attr := range slices.Sorted(maps.Keys(p.values)) {
		if p.values[attr] == v {
			return attr
		}
	}
	return ""
}

// NamesKind reports whether the words of a text say what kind of part it is, and not
// its unit alone.
func NamesKind(text string) bool {
	return slices.ContainsFunc(tokens(text[:min(len(text), maxText)], &part{}), func(t token) bool {
		return slices.ContainsFunc(t.words, func(w partWord) bool { return w.Attr == "kind" || w.Implies != "" })
	})
}

// KindWord is a word for the kind of part that a text describes, "" when it is not known.
func KindWord(text string) string {
	if words := swapData().KindWords[parsePart(text).kind]; len(words) > 0 {
		return words[0]
	}
	return ""
}

func compareParts(a, b *part, off []string, alike bool) SwapResult {
	data := swapData()
	kind := a.kind
	if kind == "" {
		kind = b.kind
	}
	result := SwapResult{Verdict: Fits, Kind: kind, Reasons: []Reason{}}
	say := func(rule string, says Fit, text, source string) {
		if text != "" {
			result.Reasons = append(result.Reasons, Reason{rule, says, text, source})
		}
		if rank(says) > rank(result.Verdict) {
			result.Verdict = says
		}
	}
	// A bead is given at a frequency; where one side leaves it out, both are beads.
	if a.kind == "ferrite" && b.kind == "resistor" || a.kind == "resistor" && b.kind == "ferrite" {
		kind, result.Kind = "ferrite", "ferrite"
	} else if a.kind != "" && b.kind != "" && a.kind != b.kind {
		say("kind", DoesNotFit, fmt.Sprintf("%s instead of %s", data.Kinds[b.kind].Name, data.Kinds[a.kind].Name), "")
		return result
	}
	for i, p := range []*part{a, b} {
		for _, word := range p.others {
			say("words", CannotTell, fmt.Sprintf("did not understand %q of the %s part", clip(word), [2]string{"original", "new"}[i]), "")
		}
	}
	k, ok := data.Kinds[kind]
	if !ok {
		say("kind", CannotTell, "the kind of part is not known; begin with a word such as fuse, diode or regulator", "")
		return result
	}
	if b.kind == "" || a.kind == "" {
		// One side does not say what it is: its bare value may be of anything.
		say("kind", CannotTell, "only one of them says what kind of part it is", "")
	}
	for _, r := range k.Rules {
		name := kind + "-" + r.Name
		if slices.Contains(off, name) && !k.Protects && a.words["safety"] == "" && a.words["fusible"] == "" {
			continue
		}
		says, text := r.compare(a, b)
		say(name, says, text, r.Source)
	}
	if len(k.Needs) > 0 && !slices.ContainsFunc(k.Needs, func(attr string) bool { return a.has(attr) && b.has(attr) }) {
		say(kind+"-needs", CannotTell, k.NeedText, "")
	}
	if k.Always != "" && !alike {
		say(kind+"-always", FitsWithRemark, k.Always, "common practice, no source")
	}
	return result
}

func (p *part) has(attr string) bool {
	_, value := p.values[attr]
	return value || p.words[attr] != ""
}

func rank(f Fit) int {
	return slices.Index([]Fit{Fits, FitsWithRemark, CannotTell, DoesNotFit}, f)
}

func larger(a, b Decimal) Decimal {
	if a.Cmp(b) < 0 {
		return b
	}
	return a
}

// compare applies one rule; an empty text means there is nothing to say.
func (r swapRule) compare(a, b *part) (Fit, string) {
	for _, attr := range slices.Sorted(maps.Keys(r.New)) {
		if b.words[attr] != r.New[attr] {
			return Fits, ""
		}
	}
	name := swapData().Attributes[r.Attr]
	switch r.Test {
	case "dielectric":
		return compareDielectric(a, b)
	case "safety":
		return compareSafety(a.words["safety"], b.words["safety"])
	case "package":
		return comparePackage(a.words["package"], b.words["package"])
	case "smaller":
		return r.smaller(a, b)
	case "times":
		if x, y := a.values[r.Attr], b.values[r.Attr]; a.words["technology"] != b.words["technology"] &&
			a.has(r.Attr) && b.has(r.Attr) && y.Number.Float() < r.Factor*x.Number.Float()*(1-1e-9) {
			return DoesNotFit, fmt.Sprintf("%s only %s instead of %s: %s", name, y, x, r.Note)
		}
		return Fits, ""
	case "keep":
		return r.keep(a, b, name)
	}
	switch hasA, hasB := a.has(r.Attr), b.has(r.Attr); {
	case !hasA && !hasB:
		if r.Need && !(r.Unless != "" && a.has(r.Unless) && b.has(r.Unless)) {
			return CannotTell, "neither states its " + name
		}
		return Fits, ""
	case !hasB:
		switch {
		case r.Test == "soft":
			return Fits, ""
		case r.Test == "at-most-remark":
			return FitsWithRemark, "the new part does not state its " + name
		}
		return CannotTell, "the new part does not state its " + name
	case !hasA:
		if r.Test == "pairs" && !r.Need {
			if p, ok := r.Pairs["*>"+b.words[r.Attr]]; ok {
				return Fit(p[0]), b.words[r.Attr] + ": " + p[1]
			}
		}
		if r.Need || r.Test == "same" || r.Test == "equal" || r.Test == "near" || r.Test == "keep-both" {
			return CannotTell, "the original does not state its " + name
		}
		return Fits, ""
	}
	if x, y := a.words[r.Attr], b.words[r.Attr]; x != "" {
		return r.compareWords(name, x, y)
	}
	x, y := a.values[r.Attr], b.values[r.Attr]
	if x.Unit != y.Unit {
		return DoesNotFit, fmt.Sprintf("%s in %s against %s", name, y.Unit.Quantity(), x.Unit.Quantity())
	}
	return r.compareValues(name, a, x, y)
}

// keep: what the original is, the new part must be too.
func (r swapRule) keep(a, b *part, name string) (Fit, string) {
	x, y := a.words[r.Attr], b.words[r.Attr]
	switch {
	case x == "" || r.Value != "" && x != r.Value:
		return Fits, ""
	case x == y:
		return Fits, fmt.Sprintf("same %s, %s", name, x)
	}
	for attr, list := range r.Or {
		if slices.Contains(list, b.words[attr]) {
			return Fits, ""
		}
	}
	says := r.Says
	if says == "" {
		says = DoesNotFit
	}
	return says, r.Note
}

// smaller: both packages are known, and the new one is the smaller.
func (r swapRule) smaller(a, b *part) (Fit, string) {
	p, okP := FindPackage(a.words[r.Attr])
	q, okQ := FindPackage(b.words[r.Attr])
	if d, ok := findDielectric(b.words["dielectric"]); !okP || !okQ || ok && d.Class == 1 {
		return Fits, ""
	}
	area := func(p Package) float64 {
		l, _ := scanNumber(p.Length)
		w, _ := scanNumber(p.Width)
		return l.Float() * w.Float()
	}
	if area(q) < area(p) {
		return FitsWithRemark, r.Note
	}
	return Fits, ""
}

func (r swapRule) compareWords(name, x, y string) (Fit, string) {
	instead := fmt.Sprintf("%s %s instead of %s", name, y, x)
	switch {
	case x == y:
		return Fits, fmt.Sprintf("same %s, %s", name, x)
	case r.Test == "soft":
		return FitsWithRemark, instead + ": look whether it sits in its place"
	case r.Test == "order":
		switch i, j := slices.Index(r.Order, x), slices.Index(r.Order, y); {
		case i < 0 || j < 0:
			return CannotTell, instead
		case j < i:
			return DoesNotFit, instead
		case r.Better != "":
			return FitsWithRemark, instead + ": " + r.Better
		}
		return Fits, instead
	case r.Test == "pairs":
		p, ok := r.Pairs[x+">"+y]
		if !ok {
			p, ok = r.Pairs["*>"+y]
		}
		switch {
		case ok:
			return Fit(p[0]), strings.TrimSuffix(y+" instead of "+x+": "+p[1], ": ")
		case len(r.Polar) > 0 && !slices.Contains(r.Polar, x) && slices.Contains(r.Polar, y):
			return DoesNotFit, y + " is polarised, " + x + " is not"
		}
		return CannotTell, y + " instead of " + x + ": no rule compares them"
	}
	return DoesNotFit, instead
}

func (r swapRule) compareValues(name string, a *part, x, y Value) (Fit, string) {
	order := y.Number.Cmp(x.Number)
	equal, instead := fmt.Sprintf("same %s, %s", name, y), fmt.Sprintf("%s %s instead of %s", name, y, x)
	const slack = 1e-9 // the ratio of two decimals is not exact
	switch r.Test {
	case "same", "equal", "keep-both":
		if order == 0 {
			return Fits, equal
		}
		return DoesNotFit, instead
	case "at-least":
		if order >= 0 {
			return Fits, fmt.Sprintf("%s %s, at least %s", name, y, x)
		}
		return DoesNotFit, fmt.Sprintf("%s only %s instead of %s", name, y, x)
	case "at-most", "at-most-remark":
		switch {
		case order <= 0:
			return Fits, fmt.Sprintf("%s %s, at most %s", name, y, x)
		case r.Test == "at-most-remark":
			return FitsWithRemark, fmt.Sprintf("%s %s is more than %s", name, y, x)
		case r.Slack > 1 && y.Number.Float() <= r.Slack*x.Number.Float()*(1+slack):
			return FitsWithRemark, fmt.Sprintf("%s %s is more than %s: %s", name, y, x, r.Note)
		}
		return DoesNotFit, fmt.Sprintf("%s %s is more than %s", name, y, x)
	}
	if order == 0 {
		return Fits, equal
	}
	if x.Number.Coef == 0 || y.Number.Coef == 0 {
		return DoesNotFit, instead
	}
	ratio := y.Number.Float() / x.Number.Float()
	w := window{r.Fit, r.Remark, r.Note, ""}
	if class := a.words["safety"]; class != "" && r.Windows[class[:1]].Note != "" {
		w = r.Windows[class[:1]]
	} else if r.Test == "tolerance" {
		// The new value must lie inside the old one's tolerance; 1 % when none is stated.
		t := 0.01
		if p, ok := a.values["tolerance"]; ok {
			t = p.Number.Float() / 100
		}
		w.Fit, w.Remark = [2]float64{1 - t, 1 + t}, [2]float64{1 - 2*t, 1 + 2*t}
	} else if d, ok := findDielectric(a.words["dielectric"]); ok && d.Class == 1 && r.Class1 != [2]float64{} {
		w.Fit, w.Remark = r.Class1, r.Class1
	}
	switch {
	case ratio >= w.Fit[0]-slack && ratio <= w.Fit[1]+slack:
		return Fits, fmt.Sprintf("%s %s is close enough to %s", name, y, x)
	case ratio >= w.Remark[0]-slack && ratio <= w.Remark[1]+slack:
		return FitsWithRemark, strings.TrimSuffix(instead+"; "+w.Note, "; ")
	case w.Over != "" && ratio > 1:
		return DoesNotFit, instead + ": " + w.Over
	}
	return DoesNotFit, instead
}

// compareDielectric: never a wider third letter or a narrower range (EIA-198). A
// ceramic that does not state its class may be of any.
func compareDielectric(a, b *part) (Fit, string) {
	if a.words["technology"] != "ceramic" && b.words["technology"] != "ceramic" {
		return Fits, ""
	}
	x, okX := findDielectric(a.words["dielectric"])
	y, okY := findDielectric(b.words["dielectric"])
	ceramicA, ceramicB := a.words["technology"] == "ceramic", b.words["technology"] == "ceramic"
	switch {
	case ceramicA && !ceramicB || !ceramicA && ceramicB && okY:
		return Fits, "" // the kinds are compared
	case !okY:
		return CannotTell, "the new part does not state its dielectric class"
	case !okX:
		return CannotTell, "the original does not state its dielectric class"
	case x.Code == y.Code:
		return Fits, "same class, " + y.Code
	case y.Class == 1 && x.Class == 2:
		return Fits, y.Code + " is steadier than " + x.Code
	case x.Class == 1 && y.Class == 2:
		return DoesNotFit, y.Code + " is not stable enough for " + x.Code
	case x.Class == 1:
		return FitsWithRemark, y.Code + " has another temperature coefficient than " + x.Code
	}
	up := func(s string) float64 { d, _ := scanNumber(s); return d.Float() }
	if y.Low > x.Low || y.High < x.High {
		return DoesNotFit, fmt.Sprintf("%s is made for %d..%d °C, %s for %d..%d °C", y.Code, y.Low, y.High, x.Code, x.Low, x.High)
	}
	if up(y.Down) > up(x.Down) || up(y.Up) > up(x.Up) {
		return DoesNotFit, fmt.Sprintf("%s changes more over its range (%s) than %s", y.Code, y, x.Code)
	}
	return Fits, y.Code + " is at least as good as " + x.Code
}

// compareSafety: a safety capacitor is replaced by its class or a better one;
// Y covers X of the same number, and 1 covers 2 (IEC 60384-14, from memory).
func compareSafety(x, y string) (Fit, string) {
	switch {
	case x == "":
		return Fits, ""
	case y == "":
		return DoesNotFit, "a safety capacitor of class " + x + " is replaced by a safety capacitor alone"
	case x == y:
		return Fits, "same safety class, " + y
	case y[0] >= x[0] && y[1] <= x[1]:
		return Fits, "safety class " + y + " covers " + x
	}
	return DoesNotFit, "safety class " + y + " does not cover " + x
}

func comparePackage(x, y string) (Fit, string) {
	switch {
	case x == "" || y == "":
		return Fits, ""
	case x == y:
		return Fits, "same package, " + y
	}
	p, okP := FindPackage(x)
	q, okQ := FindPackage(y)
	if okP && okQ && p.Length == q.Length && p.Width == q.Width {
		return Fits, "the same size by another name, " + q.Size()
	}
	text := "package " + y + " instead of " + x
	if okP && okQ {
		text += fmt.Sprintf(" (%s instead of %s)", q.Size(), p.Size())
	}
	return FitsWithRemark, strings.TrimSpace(text) + ": look whether it sits on the pads"
}
