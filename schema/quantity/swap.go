package quantity

import (
	"fmt"
	"slices"
	"strings"
)

// Fit says whether one part may stand in for another.
type Fit string

// The answers, from best to worst. CannotTell means that something needed was
// not stated.
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
}

// SwapResult is the judgement of a substitution.
type SwapResult struct {
	Verdict Fit      `json:"verdict"`
	Kind    string   `json:"kind"`
	Reasons []Reason `json:"reasons"`
}

// swapRule is one comparison of an attribute, as the data file has it.
type swapRule struct {
	Name   string     `json:"name"`
	Attr   string     `json:"attr"`
	Test   string     `json:"test"`
	Fit    [2]float64 `json:"fit"`
	Remark [2]float64 `json:"remark"`
	Class1 [2]float64 `json:"class1"`
	Need   bool       `json:"need"`
}

var swapRules = mustDecode[map[string][]swapRule]("swaps.json", SwapsJSON)

// SwapRules lists the names of the rules, for settings.
func SwapRules() []string {
	var names []string
	for kind, rules := range swapRules() {
		for _, r := range rules {
			names = append(names, kind+"-"+r.Name)
		}
	}
	slices.Sort(names)
	return names
}

// Swap judges whether fitted may stand in for original. Off names rules that
// are not applied. Both must be specifications of one kind of part.
func Swap(original, fitted string, off []string) (SwapResult, error) {
	a, err := ParseSpec(original)
	if err != nil {
		return SwapResult{}, err
	}
	b, err := ParseSpec(fitted)
	if err != nil {
		return SwapResult{}, err
	}
	return SwapSpecs(a, b, off), nil
}

// SwapSpecs is [Swap] for parsed specifications. Where only one of them says
// what kind of part it is, the other is taken for the same.
func SwapSpecs(a, b *Spec, off []string) SwapResult {
	kind := a.Kind
	if kind == "" {
		kind = b.Kind
	}
	// A bead is given at a frequency; where one side leaves it out, both are beads.
	if a.Kind == "ferrite" && b.Kind == "resistor" || a.Kind == "resistor" && b.Kind == "ferrite" {
		kind = "ferrite"
	} else if a.Kind != "" && b.Kind != "" && a.Kind != b.Kind {
		return SwapResult{DoesNotFit, kind, []Reason{{"kind", DoesNotFit, fmt.Sprintf("a %s is no %s", b.Kind, a.Kind)}}}
	}
	rules, ok := swapRules()[kind]
	if !ok {
		return SwapResult{CannotTell, kind, []Reason{{"kind", CannotTell, "the kind of part is not known; begin with a word such as fuse, diode or regulator"}}}
	}
	result := SwapResult{Verdict: Fits, Kind: kind, Reasons: []Reason{}}
	for _, r := range rules {
		name := kind + "-" + r.Name
		if slices.Contains(off, name) {
			continue
		}
		fit, text := r.compare(a, b)
		if text != "" {
			result.Reasons = append(result.Reasons, Reason{name, fit, text})
		}
		if rank(fit) > rank(result.Verdict) {
			result.Verdict = fit
		}
	}
	return result
}

func rank(f Fit) int {
	return slices.Index([]Fit{Fits, FitsWithRemark, CannotTell, DoesNotFit}, f)
}

// quantityOf returns the attribute as a quantity.
func (s *Spec) quantityOf(attr string) *Value {
	switch attr {
	case "value":
		return s.Value
	case "voltage":
		return s.Voltage
	case "current":
		return s.Current
	case "power":
		return s.Power
	case "frequency":
		return s.Frequency
	case "temperature":
		return s.Temperature
	case "dcr":
		return s.DCR
	case "esr":
		return s.ESR
	case "tolerance":
		if s.Tolerance.Unit == Percent {
			return &Value{Number: larger(s.Tolerance.Up, s.Tolerance.Down), Unit: Percent}
		}
	}
	return nil
}

func larger(a, b Decimal) Decimal {
	if a.Cmp(b) < 0 {
		return b
	}
	return a
}

func (s *Spec) wordOf(attr string) string {
	switch attr {
	case "speed":
		return s.Speed
	case "technology":
		return s.Technology
	case "package":
		return s.Package
	}
	return ""
}

// compare applies one rule; an empty text means there is nothing to say.
func (r swapRule) compare(a, b *Spec) (Fit, string) {
	name := specWords().Attributes[r.Attr]
	switch r.Test {
	case "dielectric":
		return compareDielectric(a, b)
	case "safety":
		return compareSafety(a.Safety, b.Safety)
	case "technology":
		return compareTechnology(a.Technology, b.Technology)
	case "package":
		return comparePackage(a.Package, b.Package)
	}
	x, y := a.quantityOf(r.Attr), b.quantityOf(r.Attr)
	if x == nil && y == nil {
		if wx, wy := a.wordOf(r.Attr), b.wordOf(r.Attr); wx != "" || wy != "" {
			return r.compareWords(name, wx, wy)
		}
		if r.Need {
			return CannotTell, "neither states its " + name
		}
		return Fits, ""
	}
	if x == nil || y == nil {
		which := "the original"
		if y == nil {
			which = "the new part"
		}
		if r.Need || r.Test == "at-least" && y == nil {
			return CannotTell, fmt.Sprintf("%s does not state its %s", which, name)
		}
		return Fits, ""
	}
	if x.Unit != y.Unit {
		return DoesNotFit, fmt.Sprintf("%s in %s against %s", name, y.Unit.Quantity(), x.Unit.Quantity())
	}
	return r.compareValues(name, a, x, y)
}

func (r swapRule) compareWords(name, x, y string) (Fit, string) {
	switch {
	case x == y:
		return Fits, fmt.Sprintf("same %s, %s", name, x)
	case x == "" || y == "":
		if r.Need {
			return CannotTell, fmt.Sprintf("only one states its %s", name)
		}
		return Fits, ""
	}
	return DoesNotFit, fmt.Sprintf("%s %s instead of %s", name, y, x)
}

func (r swapRule) compareValues(name string, a *Spec, x, y *Value) (Fit, string) {
	order := y.Number.Cmp(x.Number)
	switch r.Test {
	case "same":
		if order == 0 {
			return Fits, fmt.Sprintf("same %s, %s", name, y)
		}
		return DoesNotFit, fmt.Sprintf("%s %s instead of %s", name, y, x)
	case "at-least":
		if order >= 0 {
			return Fits, fmt.Sprintf("%s %s, at least %s", name, y, x)
		}
		return DoesNotFit, fmt.Sprintf("%s only %s instead of %s", name, y, x)
	case "at-most-remark":
		if order <= 0 {
			return Fits, fmt.Sprintf("%s %s, at most %s", name, y, x)
		}
		return FitsWithRemark, fmt.Sprintf("%s %s is more than %s", name, y, x)
	}
	if x.Number.Coef == 0 || y.Number.Coef == 0 {
		if order == 0 {
			return Fits, fmt.Sprintf("same %s, %s", name, y)
		}
		return DoesNotFit, fmt.Sprintf("%s %s instead of %s", name, y, x)
	}
	ratio := y.Number.Float() / x.Number.Float()
	fit, remark := r.Fit, r.Remark
	if r.Test == "tolerance" {
		// The new value must lie inside the old one's tolerance; 1 % when none is stated.
		t := 0.01
		if p := a.quantityOf("tolerance"); p != nil {
			t = p.Number.Float() / 100
		}
		fit, remark = [2]float64{1 - t, 1 + t}, [2]float64{1 - 2*t, 1 + 2*t}
	} else if d, ok := FindDielectric(a.Dielectric); ok && d.Class == 1 && r.Class1 != [2]float64{} {
		fit, remark = r.Class1, r.Class1
	}
	const slack = 1e-9 // the ratio of two decimals is not exact
	switch {
	case order == 0:
		return Fits, fmt.Sprintf("same %s, %s", name, y)
	case ratio >= fit[0]-slack && ratio <= fit[1]+slack:
		return Fits, fmt.Sprintf("%s %s is close enough to %s", name, y, x)
	case ratio >= remark[0]-slack && ratio <= remark[1]+slack:
		return FitsWithRemark, fmt.Sprintf("%s %s instead of %s; good enough for filtering and decoupling, not for timing or tuning", name, y, x)
	}
	return DoesNotFit, fmt.Sprintf("%s %s instead of %s", name, y, x)
}

// compareDielectric: never a wider third letter or a narrower range (EIA-198).
func compareDielectric(a, b *Spec) (Fit, string) {
	x, okX := FindDielectric(a.Dielectric)
	y, okY := FindDielectric(b.Dielectric)
	switch {
	case !okX && !okY:
		return Fits, ""
	case !okX:
		return Fits, ""
	case !okY && b.Technology != "" && b.Technology != "ceramic":
		return FitsWithRemark, fmt.Sprintf("%s instead of %s ceramic: look at ripple current and frequency", b.Technology, x.Code)
	case !okY:
		return CannotTell, "the new part does not state its dielectric class"
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

func polarised(t string) bool { return t == "electrolytic" || t == "tantalum" || t == "polymer" }

func compareTechnology(x, y string) (Fit, string) {
	switch {
	case x == "" || y == "" || x == y:
		return Fits, ""
	case !polarised(x) && polarised(y):
		return DoesNotFit, y + " is polarised, " + x + " is not"
	}
	return FitsWithRemark, y + " instead of " + x + ": look at its series resistance, which some regulators need"
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
