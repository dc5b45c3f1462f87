package quantity

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"sync"
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
	// IsolationFrom is in V; a voltage of an optocoupler from here on is its isolation.
	IsolationFrom float64           `json:"isolationFrom"`
	Defaults      []swapRule        `json:"defaults"` // for every kind that has no rule of its own for the attribute
	Infer         []inference       `json:"infer"`
	PackageAlias  map[string]string `json:"packageAlias"`
	Insulated     []string          `json:"insulated"` // packages whose tab is insulated
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
	Need    bool                 `json:"need"`    // both must state it
	Mention string               `json:"mention"` // what to look at where neither states it
	Unless  string               `json:"unless"`  // this attribute makes it needless
	Fit     [2]float64           `json:"fit"`
	Remark  [2]float64           `json:"remark"`
	Class1  [2]float64           `json:"class1"`
	Windows map[string]window    `json:"windows"` // by the first letter of the safety class
	Slack   float64              `json:"slack"`   // how many times as much still goes, with a remark
	Factor  float64              `json:"factor"`
	Note    string               `json:"note"`
	Better  string               `json:"better"`
	Order   []string             `json:"order"`
	Pairs   map[string][2]string `json:"pairs"`
	Cells   map[string][2]string `json:"cells"` // chemistry -> the two nominal voltages of one cell
	Polar   []string             `json:"polarised"`
	Value   string               `json:"value"`
	Or      map[string][]string  `json:"or"`
	Says    Fit                  `json:"says"`
	Old     map[string]string    `json:"old"` // what the original must be for the rule to hold
	New     map[string]string    `json:"new"` // what the new part must be for it
	Source  string               `json:"source"`
}

type window struct {
	Fit    [2]float64 `json:"fit"`
	Remark [2]float64 `json:"remark"`
	Note   string     `json:"note"`
	Over   string     `json:"over"`
}

var decodedSwaps = mustDecode[swapSet]("swaps.json", SwapsJSON)

// swapData are the rules, each kind with those for all kinds that it has none for: what
// may be stated of any part is compared.
var swapData = sync.OnceValue(func() swapSet {
	data := decodedSwaps()
	for name, k := range data.Kinds {
		own := slices.Clone(k.Rules)
		for _, r := range data.Defaults {
			if !slices.ContainsFunc(k.Rules, func(o swapRule) bool { return o.Attr == r.Attr }) {
				own = append(own, r)
			}
		}
		k.Rules = own
		data.Kinds[name] = k
	}
	return data
})

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
	p := newPart()
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
	if a.kind == "ferrite" && b.kind == "resistor" && !b.named || a.kind == "resistor" && b.kind == "ferrite" && !a.named {
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
		says, text := r.judge(a, b)
		say(name, says, text, r.Source)
	}
	for _, attr := range uncompared(k, a, b) {
		say(kind+"-not-compared", CannotTell, attributeName(attr)+" of the original is not compared: no rule for it", "")
	}
	if len(k.Needs) > 0 && !slices.ContainsFunc(k.Needs, func(attr string) bool { return a.has(attr) && b.has(attr) }) {
		say(kind+"-needs", CannotTell, k.NeedText, "")
	}
	if k.Always != "" && !alike {
		say(kind+"-always", FitsWithRemark, k.Always, "common practice, no source")
	}
	return result
}

// attributeName is an attribute in words.
func attributeName(attr string) string {
	if name := swapData().Attributes[attr]; name != "" {
		return name
	}
	if of, ok := strings.CutSuffix(attr, "supply"); ok {
		return "AC or DC of its " + attributeName(of)
	}
	return attr
}

// uncompared are the attributes that the original states, that no rule of its kind
// compares, and of which the new part does not say the very same.
func uncompared(k swapKind, a, b *part) (list []string) {
	for _, attr := range slices.Compact(slices.Sorted(func(yield func(string) bool) {
		for _, m := range []func(func(string) bool){maps.Keys(a.values), maps.Keys(a.words)} {
			m(yield)
		}
	})) {
		_, inferred := a.inferred[attr]
		if !inferred && !slices.ContainsFunc(k.Rules, func(r swapRule) bool { return r.Attr == attr }) &&
			(a.values[attr] != b.values[attr] || a.words[attr] != b.words[attr]) {
			list = append(list, attr)
		}
	}
	return list
}

// judge applies one rule. What is only inferred of a part gives a remark where it would
// do, and decides nothing against it.
func (r swapRule) judge(a, b *part) (Fit, string) {
	says, text := r.compare(a, b)
	noteA, byA := a.inferred[r.Attr]
	noteB, byB := b.inferred[r.Attr]
	switch {
	case byA && !r.Need && !b.has(r.Attr):
		return Fits, ""
	case !byA && !byB || says == CannotTell || text == "":
		return says, text
	case byA && byB && !r.Need && says == Fits:
		return Fits, ""
	case says == DoesNotFit:
		says = CannotTell
	case says == Fits && noteA+noteB != "":
		says = FitsWithRemark
	}
	for _, note := range slices.Compact([]string{noteA, noteB}) {
		if note != "" {
			text += "; inferred: " + note
		}
	}
	return says, strings.TrimPrefix(text, "; ")
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
	for attr, is := range r.Old {
		if a.words[attr] != is {
			return Fits, ""
		}
	}
	for _, attr := range slices.Sorted(maps.Keys(r.New)) {
		if b.words[attr] != r.New[attr] {
			return Fits, ""
		}
	}
	name := attributeName(r.Attr)
	switch r.Test {
	case "dielectric":
		return compareDielectric(a, b)
	case "safety":
		return compareSafety(a.words["safety"], b.words["safety"])
	case "package":
		return comparePackage(a.words["package"], b.words["package"])
	case "added":
		if a.words[r.Attr] == "" && b.words[r.Attr] != "" {
			return r.Says, r.Note
		}
		return Fits, ""
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
	needless := r.Unless != "" && a.has(r.Unless) && b.has(r.Unless)
	switch hasA, hasB := a.has(r.Attr), b.has(r.Attr); {
	case !hasA && needless:
		return Fits, ""
	case !hasA && !hasB:
		if r.Need {
			return CannotTell, "neither states its " + name
		}
		if r.Mention != "" {
			return FitsWithRemark, "neither states its " + name + ": " + r.Mention
		}
		return Fits, ""
	case !hasB:
		switch {
		case r.Test == "soft":
			return FitsWithRemark, "the new part does not state its " + name + ": look whether it sits in its place"
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
		if _, inferred := b.inferred[r.Attr]; (inferred || b.words[r.Attr] == "either") && !r.Need {
			return Fits, ""
		}
		if r.Need || r.Test == "same" || r.Test == "equal" || r.Test == "near" || r.Test == "keep-both" {
			return CannotTell, "the original does not state its " + name
		}
		return Fits, ""
	}
	if x, y := a.words[r.Attr], b.words[r.Attr]; x != "" {
		if d, ok := findDielectric(b.words["dielectric"]); ok && d.Class == 1 && r.Test == "pairs" && x != y {
			if _, ok := r.Pairs[x+">"+y+" of class 1"]; ok {
				y += " of class 1"
			}
		}
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
	case r.Test == "equal" && y == "either": // AC/DC
		return Fits, fmt.Sprintf("%s %s covers %s", name, y, x)
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
		case r.Test == "at-most-remark" && (r.Slack == 0 || y.Number.Float() <= r.Slack*x.Number.Float()*(1+slack)):
			return FitsWithRemark, fmt.Sprintf("%s %s is more than %s", name, y, x)
		case r.Slack > 1 && y.Number.Float() <= r.Slack*x.Number.Float()*(1+slack):
			return FitsWithRemark, fmt.Sprintf("%s %s is more than %s: %s", name, y, x, r.Note)
		}
		return DoesNotFit, fmt.Sprintf("%s %s is more than %s", name, y, x)
	}
	if order == 0 {
		return Fits, equal
	}
	if pair, ok := r.Cells[a.words["chemistry"]]; ok && r.Test == "nominal" && sameCells(pair, x, y) {
		return FitsWithRemark, instead + ": " + r.Note
	}
	if x.Number.Coef == 0 || y.Number.Coef == 0 {
		return DoesNotFit, instead
	}
	ratio := y.Number.Float() / x.Number.Float()
	if r.Test == "load" && ratio >= r.Remark[0] && ratio <= r.Remark[1] {
		return FitsWithRemark, instead + ": " + pulled(a.values["frequency"], x, y) + "; " + r.Note
	}
	w := window{r.Fit, r.Remark, r.Note, ""}
	if special, ok := r.Windows[windowOf(a)]; ok {
		w = special
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

// sameCells reports whether two voltages are as many cells by the two nominal voltages
// that one chemistry goes by.
func sameCells(pair [2]string, x, y Value) bool {
	low, errLow := Parse(pair[0])
	high, errHigh := Parse(pair[1])
	if errLow != nil || errHigh != nil {
		return false
	}
	n := math.Round(x.Number.Float() / low.Number.Float())
	is := func(v, one Value) bool { return math.Abs(v.Number.Float()-n*one.Number.Float()) < 1e-9 }
	return n > 0 && (is(x, low) && is(y, high) || is(x, high) && is(y, low))
}

// windowOf names the window of values for what a capacitor is used as.
func windowOf(a *part) string {
	switch class := a.words["safety"]; {
	case strings.Contains(class, "Y"):
		return "Y"
	case class != "":
		return "X"
	case a.words["duty"] != "":
		return "motor"
	}
	return a.words["technology"]
}

// pulled says how far a crystal is off that was made for another load than it gets:
// C1/2 (1/(C0+CL) - 1/(C0+CL')), with 15 fF and 4 pF as an AT cut usually has, 3.5 fF and
// 1.6 pF as a tuning fork. Common practice, no source.
func pulled(frequency, x, y Value) string {
	motional, parallel := 15e-15, 4e-12
	if frequency.Number.Float() < 1e6 {
		motional, parallel = 3.5e-15, 1.6e-12
	}
	shift := motional / 2 * (1/(parallel+x.Number.Float()) - 1/(parallel+y.Number.Float())) * 1e6
	way := "fast"
	if shift < 0 {
		way = "slow"
	}
	d, _ := FromFloat(math.Abs(shift), 2)
	return "a usual one then runs about " + d.String() + " ppm " + way
}

// compareDielectric: never a wider third letter or a narrower range (EIA-198). A
// ceramic that does not state its class may be of any.
func compareDielectric(a, b *part) (Fit, string) {
	if a.words["technology"] != "ceramic" && b.words["technology"] != "ceramic" {
		return Fits, ""
	}
	x, okX := findDielectric(a.words["dielectric"])
	y, okY := findDielectric(b.words["dielectric"])
	up := func(s string) float64 { d, _ := scanNumber(s); return d.Float() }
	ceramicA, ceramicB := a.words["technology"] == "ceramic", b.words["technology"] == "ceramic"
	switch {
	case ceramicA && !ceramicB || !ceramicA && ceramicB && okY:
		return Fits, "" // the kinds are compared
	case !okX && !okY && a.words["safety"] != "" && b.words["safety"] != "":
		return Fits, "" // the safety class says what it must stand
	case !okX && !okY && a.words["style"] == "disc" && b.words["style"] == "disc" && a.values["value"] == b.values["value"]:
		return FitsWithRemark, "neither states its dielectric class; inferred: discs of one value and voltage mostly are of one class, compare the mark of colour"
	case !okY:
		return CannotTell, "the new part does not state its dielectric class"
	case !okX && y.Class == 1:
		return FitsWithRemark, "the original does not state its dielectric class; " + y.Code + " is as steady as any"
	case !okX && y.Low <= -55 && y.High >= 125 && up(y.Down) <= 15 && a.values["value"].Number.Float() >= 10e-9:
		return FitsWithRemark, "the original does not state its dielectric class; inferred: from 10 nF a ceramic is of class 2, and " + y.Code + " is a steady one"
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
	case coversSafety(x, y):
		return Fits, "safety class " + y + " covers " + x
	}
	return DoesNotFit, "safety class " + y + " does not cover " + x
}

// coversSafety: each class of the original, two in X1Y2, is covered by one of the new part.
func coversSafety(x, y string) bool {
	for ; x != ""; x = x[2:] {
		covered := false
		for rest := y; rest != ""; rest = rest[2:] {
			covered = covered || rest[0] >= x[0] && rest[1] <= x[1]
		}
		if !covered {
			return false
		}
	}
	return true
}

func comparePackage(x, y string) (Fit, string) {
	insulated := func(p string) bool { return slices.Contains(swapData().Insulated, p) }
	switch {
	case x == "":
		return Fits, ""
	case y == "" && insulated(x):
		return CannotTell, "the new part does not state its package; the tab of " + x + " is insulated"
	case y == "":
		return FitsWithRemark, "the new part does not state its package: look whether it sits in its place"
	case insulated(x) && !insulated(y):
		return DoesNotFit, "package " + y + " instead of " + x + ": its tab may be live, that of the original is insulated"
	case insulated(y) && !insulated(x):
		return FitsWithRemark, "package " + y + " instead of " + x + ": insulated, it gives off its heat less well; look whether it sits in its place"
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
