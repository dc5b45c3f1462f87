package quantity

import (
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Formula is one of the bench formulas, as data: its inputs with units, its
// results as expressions over SI values, its source and where it holds.
//
// An expression of a result or a refusal counts where all that it names has a value, so
// that one over an optional input is left out until that is given.
type Formula struct {
	Name    string   `json:"name"`
	Title   string   `json:"title"`
	Inputs  []Input  `json:"inputs"`
	Results []Output `json:"results"`
	Source  string   `json:"source"`
	Valid   string   `json:"valid"`
	Caution string   `json:"caution"` // always said with the answer
	// Refusals are the plans that are not given out.
	Refusals []Refusal `json:"refusals"`
}

// Refusal says of which inputs a formula gives no answer, since somebody might act
// on it, or since it does not hold there: those for which the expression is above 0.
type Refusal struct {
	Unless string `json:"unless"` // an optional input that, given, decides instead
	Expr   string `json:"expr"`
	Says   string `json:"says"`
}

// Input of a formula. Limits are in the unit without prefix.
type Input struct {
	Key     string `json:"key"`
	Name    string `json:"name"`
	Unit    string `json:"unit"` // the unit's name; "number" for none
	Default string `json:"default"`
	// Optional inputs have no value when they are not given.
	Optional bool     `json:"optional"`
	List     bool     `json:"list"`  // several values, separated by semicolons or commas with a space
	Ask      []string `json:"ask"`   // the units that are usual: a number without one is asked back
	Whole    bool     `json:"whole"` // a count
	Gauge    bool     `json:"gauge"` // of AWG, where 0000 or 4/0 is four sizes above 1
	Above    *float64 `json:"above"` // must be greater
	Low      *float64 `json:"low"`   // must not be less
	High     *float64 `json:"high"`  // must not be more
}

// Output of a formula. Beyond its limits the formula does not hold.
type Output struct {
	Key  string   `json:"key"`
	Name string   `json:"name"`
	Unit string   `json:"unit"`
	Expr string   `json:"expr"`
	Low  *float64 `json:"low"`
	High *float64 `json:"high"`
}

// Given is one input as a person wrote it.
type Given struct{ Key, Text string }

// Result is one figure that a formula gave.
type Result struct {
	Name  string  `json:"name"`
	Value string  `json:"value"` // rounded to four digits
	SI    float64 `json:"si"`    // as computed, in the unit without prefix
	Unit  string  `json:"unit"`
}

// Reckoning is a formula worked out.
type Reckoning struct {
	Formula  string            `json:"formula"`
	Title    string            `json:"title"`
	Inputs   map[string]string `json:"inputs"`
	Results  []Result          `json:"results"`
	Working  []string          `json:"working"`
	Source   string            `json:"source"`
	Valid    string            `json:"valid"`
	Cautions []string          `json:"cautions,omitempty"` // the formula's own, and that of a dangerous voltage
}

type formulaSet struct {
	// Live is said with every answer that has a voltage above a limit among what went in
	// or came out.
	Live struct {
		Above  float64 `json:"above"` // volts
		Says   string  `json:"says"`
		Source string  `json:"source"`
	} `json:"live"`
	Formulas []Formula `json:"formulas"`
}

var formulas = mustDecode[formulaSet]("formulas.json", FormulasJSON)

// Formulas lists the formulas in their order.
func Formulas() []Formula { return formulas().Formulas }

// LiveCaution is said with every answer in which a voltage can be dangerous.
func LiveCaution() string { return formulas().Live.Says }

// FindFormula returns the formula with the name.
func FindFormula(name string) (Formula, bool) {
	i := slices.IndexFunc(Formulas(), func(f Formula) bool { return f.Name == name })
	if i < 0 {
		return Formula{}, false
	}
	return Formulas()[i], true
}

func unitByName(name string) Unit {
	for u, info := range units {
		if info.name == name {
			return Unit(u)
		}
	}
	return None
}

// namesInExpr finds numbers, of which the e is no name, and names with what follows them.
var namesInExpr = regexp.MustCompile(`[0-9.]+(?:e-?[0-9]+)?|([a-z][a-z0-9]*)(\(?)`)

// namesIn lists the values that an expression is over.
func namesIn(expr string) (names []string) {
	for _, m := range namesInExpr.FindAllStringSubmatch(expr, -1) {
		if m[1] != "" && m[2] == "" && m[1] != "pi" {
			names = append(names, m[1])
		}
	}
	return names
}

// Reckon works out a formula from its inputs as written. Errors name the key and say
// what would be right: of several names that the formula does not have the first one
// given, and each input that would decide nothing. There is no answer where an input or
// a result lies outside of the range in which the formula holds.
func Reckon(f Formula, given []Given) (Reckoning, error) {
	out := Reckoning{Formula: f.Name, Title: f.Title, Inputs: map[string]string{}, Source: f.Source, Valid: f.Valid}
	var known []string
	for _, in := range f.Inputs {
		known = append(known, in.Key)
	}
	said := map[string]string{}
	for _, g := range given {
		if !slices.Contains(known, g.Key) {
			return out, fmt.Errorf("%s has no %q; it takes %s", f.Name, g.Key, strings.Join(known, ", "))
		}
		if _, twice := said[g.Key]; twice {
			return out, fmt.Errorf("%s stands twice", g.Key)
		}
		said[g.Key] = g.Text
	}
	vars := map[string][]float64{}
	live := false
	for _, in := range f.Inputs {
		text, ok := said[in.Key]
		if !ok {
			if in.Optional {
				continue
			}
			if text = in.Default; text == "" {
				return out, fmt.Errorf("%s is missing: %s, %s", in.Key, in.Name, in.unitWords())
			}
		}
		values, shown, err := in.read(text)
		if err != nil {
			return out, fmt.Errorf("%s: %w", in.Key, err)
		}
		vars[in.Key] = values
		live = live || in.Unit == "volt" && slices.ContainsFunc(values, dangerous)
		if ok || in.Key != "load" {
			out.Inputs[in.Key] = shown
		}
	}
	if err := f.unused(given, vars); err != nil {
		return out, err
	}
	for _, r := range f.Refusals {
		if vars[r.Unless] != nil || len(lacking(r.Expr, vars)) > 0 {
			continue
		}
		if x, err := evaluate(r.Expr, vars); err != nil || x > 0 {
			return out, fmt.Errorf("refused: %s", r.Says)
		}
	}
	var results []Result
	var working []string
	for _, r := range f.Results {
		if len(lacking(r.Expr, vars)) > 0 {
			continue
		}
		x, err := evaluate(r.Expr, vars)
		if err != nil {
			return out, fmt.Errorf("%s: %w", f.Name, err)
		}
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return out, fmt.Errorf("%s has no answer for these values", r.Name)
		}
		if x < 0 && neverNegativeResult(r.Unit) {
			return out, fmt.Errorf("%s would be negative: these values cannot be", r.Name)
		}
		unit := unitByName(r.Unit)
		number, ok := FromFloat(x, 4)
		if !ok {
			return out, fmt.Errorf("%s has no answer for these values", r.Name)
		}
		shown := Value{Number: number, Unit: unit}.String()
		if r.Low != nil && x < *r.Low || r.High != nil && x > *r.High {
			return out, fmt.Errorf("%s would be %s, outside of where the formula holds (%s)", r.Name, shown,
				rangeWords(nil, r.Low, r.High, func(x float64) string { return limitWords(x, unit) }))
		}
		vars[r.Key] = []float64{x} // later results may build on it
		live = live || r.Unit == "volt" && dangerous(x)
		results = append(results, Result{r.Name, shown, x, r.Unit})
		working = append(working, fmt.Sprintf("%s = %s = %s", r.Key, r.Expr, shown))
	}
	out.Results, out.Working = results, working
	if f.Caution != "" {
		out.Cautions = append(out.Cautions, f.Caution)
	}
	if live {
		out.Cautions = append(out.Cautions, LiveCaution())
	}
	return out, nil
}

func dangerous(volts float64) bool { return math.Abs(volts) > formulas().Live.Above }

// lacking lists the names in an expression that have no value.
func lacking(expr string, vars map[string][]float64) []string {
	return slices.DeleteFunc(namesIn(expr), func(name string) bool { return vars[name] != nil })
}

// unused returns an error that names the first input that decides nothing beside the others.
func (f Formula) unused(given []Given, vars map[string][]float64) error {
	type use struct{ expr, unless string }
	var uses []use
	have := maps.Clone(vars)
	for _, r := range f.Refusals {
		uses = append(uses, use{r.Expr, r.Unless})
	}
	for _, r := range f.Results {
		uses = append(uses, use{r.Expr, ""})
		if len(lacking(r.Expr, have)) == 0 {
			have[r.Key] = []float64{0}
		}
	}
	for _, g := range given {
		why := ""
		for _, u := range uses {
			if !slices.Contains(namesIn(u.expr), g.Key) {
				continue
			}
			missing := lacking(u.expr, have)
			if len(missing) == 0 && have[u.unless] == nil {
				why = ""
				break
			}
			if why == "" && len(missing) > 0 {
				why = "without " + strings.Join(missing, ", ")
			} else if why == "" {
				why = "beside " + u.unless
			}
		}
		if why != "" {
			return fmt.Errorf("%s would not be used %s", g.Key, why)
		}
	}
	return nil
}

func neverNegativeResult(unit string) bool {
	return unit == "ohm" || unit == "second" || unit == "metre"
}

func (in Input) unitWords() string {
	if in.Unit == "number" {
		return "a number"
	}
	return "in " + in.Unit
}

// rangeWords says limits: "from 10 kelvin to 100 kelvin".
func rangeWords(above, low, high *float64, show func(float64) string) string {
	switch {
	case low != nil && high != nil:
		return "from " + show(*low) + " to " + show(*high)
	case above != nil && high != nil:
		return "more than " + show(*above) + " and at most " + show(*high)
	case above != nil:
		return "more than " + show(*above)
	case low != nil:
		return "at least " + show(*low)
	}
	return "at most " + show(*high)
}

func limitWords(x float64, unit Unit) string {
	number, _ := FromFloat(x, 4)
	return Value{Number: number, Unit: unit}.String()
}

// read parses one input, or the list of one.
func (in Input) read(text string) (values []float64, shown string, err error) {
	parts := []string{text}
	if in.List {
		parts = listed(text)
		if len(parts) == 0 || len(parts) > 50 {
			return nil, "", fmt.Errorf("a list of 1 to 50 values is needed, such as 10k,22k")
		}
	}
	var texts []string
	for _, p := range parts {
		x, shown, err := in.readOne(p)
		if err != nil {
			return nil, "", err
		}
		values = append(values, x)
		texts = append(texts, shown)
	}
	return values, strings.Join(texts, ", "), nil
}

var beforeUnit = regexp.MustCompile(`([0-9]) +([A-Za-zµμΩ])`)

// listed splits a list at its semicolons, or else at commas and at spaces that do not
// stand before a unit.
func listed(text string) []string {
	if strings.Contains(text, ";") {
		return slices.DeleteFunc(strings.Split(text, ";"), func(p string) bool { return strings.Trim(p, " ") == "" })
	}
	return strings.FieldsFunc(beforeUnit.ReplaceAllString(text, "$1$2"), func(r rune) bool { return r == ' ' || r == ',' })
}

// readOne parses one value and holds it against the input's limits.
func (in Input) readOne(p string) (x float64, shown string, err error) {
	want := unitByName(in.Unit)
	limit := func(x float64) string { return limitWords(x, want) }
	var v Value
	if n, ok, err := in.aught(p); err != nil {
		return 0, "", err
	} else if ok {
		v = Value{Number: Decimal{Coef: n}.normal()}
	} else {
		if p, err = completed(p, want); err != nil {
			return 0, "", err
		}
		if v, err = Parse(p); err != nil {
			return 0, "", err
		}
	}
	if v.Over {
		return 0, "", fmt.Errorf("OL is no value to reckon with")
	}
	if v.Unit == None && want != None {
		if err := in.askBack(p, v.Number, want); err != nil {
			return 0, "", err
		}
		v.Unit = want
	}
	x = v.Number.Float()
	switch {
	case v.Unit == want:
	case want == Second && v.Unit == Minute:
		x *= 60
	case want == Second && v.Unit == Hour:
		x *= 3600
	case want == None:
		return 0, "", fmt.Errorf("%q is a %s; a plain number is needed", p, v.Unit.Quantity())
	default:
		return 0, "", fmt.Errorf("%q is a %s; a %s in %s is needed", p, v.Unit.Quantity(), want.Quantity(), want.symbol())
	}
	shown = v.String()
	if in.Gauge {
		limit = gaugeWords
		shown = gaugeWords(x)
	}
	if in.Above != nil && x <= *in.Above || in.Low != nil && x < *in.Low || in.High != nil && x > *in.High {
		return 0, "", fmt.Errorf("%q must be %s", p, rangeWords(in.Above, in.Low, in.High, limit))
	}
	if in.Whole && x != math.Trunc(x) {
		return 0, "", fmt.Errorf("%q must be a whole number", p)
	}
	return x, shown, nil
}

// completed adds the unit to a number with a prefix alone, which is one of the quantity
// asked for: "20m" of a current is 20 mA, "4u7" of an inductance 4.7 µH. Of a length
// m is the metre, and of a time it may be the minute.
func completed(text string, want Unit) (string, error) {
	s := strings.TrimSpace(text)
	d, n := scanNumber(s)
	if n <= 0 || !units[want].prefixes {
		return text, nil
	}
	rest := strings.TrimLeft(s[n:], " \u00a0\u202f\u2009")
	exp, size, ok := prefix(rest)
	if !ok || exp < -12 || want == Metre && exp == -3 {
		return text, nil
	}
	mark, digits := rest[:size], rest[size:]
	if want == Second && exp == -3 && digits == "" {
		return "", fmt.Errorf("%q may be milliseconds or minutes: write %s ms or %s min", text, d, d)
	}
	if digits == "" {
		return d.String() + " " + mark + want.symbol(), nil
	}
	if d.Exp == 0 && rest == s[n:] && len(digits) <= 6 && strings.Trim(digits, "0123456789") == "" {
		return d.String() + "." + digits + " " + mark + want.symbol(), nil
	}
	return text, nil
}

// askBack returns an error where a number without a unit may be meant in two ways.
func (in Input) askBack(text string, d Decimal, want Unit) error {
	if d.Coef == 0 {
		return nil
	}
	if want == Percent && d.Coef > 0 && d.Cmp(Decimal{Coef: 1}) <= 0 {
		return fmt.Errorf("%q may be %s %% or a share of one: write %s %% or %s %%", text, d, d, Decimal{d.Coef, d.Exp + 2})
	}
	if len(in.Ask) == 0 {
		return nil
	}
	var ways []string
	for _, unit := range in.Ask {
		ways = append(ways, d.String()+" "+unit)
	}
	return fmt.Errorf("%q has no unit: write %s", text, strings.Join(ways, " or "))
}

// aughts are the gauges thicker than 1 of AWG, 0000 or 4/0.
var aughts = regexp.MustCompile(`^(?:(0+)|([1-9])/0|.*/.*)$`)

// aught reads a gauge that is written with noughts: 0 is one size above 1, 00 two.
func (in Input) aught(text string) (n int64, ok bool, err error) {
	m := aughts.FindStringSubmatch(strings.TrimSpace(text))
	switch {
	case !in.Gauge || m == nil:
		return 0, false, nil
	case m[1] != "":
		return 1 - int64(len(m[1])), true, nil
	case m[2] != "":
		return 1 - int64(m[2][0]-'0'), true, nil
	}
	return 0, false, fmt.Errorf("%q is no gauge: write 24, 0000 or 4/0", text)
}

func gaugeWords(x float64) string {
	if x < 0 {
		return strconv.FormatFloat(1-x, 'f', -1, 64) + "/0"
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// evaluate works out an expression: numbers, names, + - * / ^, brackets, and
// the functions sqrt, exp, ln, log10, max, min, par, and of lists sum, sumrecip and least.
func evaluate(src string, vars map[string][]float64) (float64, error) {
	e := &evaluator{src: src, vars: vars}
	x := e.sum()
	if e.err == nil && e.peek() != 0 {
		e.err = fmt.Errorf("%q is left over", e.src[e.at:])
	}
	return x, e.err
}

type evaluator struct {
	src  string
	at   int
	vars map[string][]float64
	err  error
}

func (e *evaluator) peek() byte {
	if e.at < len(e.src) {
		return e.src[e.at]
	}
	return 0
}

func (e *evaluator) take(c byte) bool {
	if e.peek() == c {
		e.at++
		return true
	}
	return false
}

func (e *evaluator) fail(format string, args ...any) float64 {
	if e.err == nil {
		e.err = fmt.Errorf(format, args...)
	}
	e.at = len(e.src)
	return 0
}

func (e *evaluator) sum() float64 {
	x := e.product()
	for {
		switch {
		case e.take('+'):
			x += e.product()
		case e.take('-'):
			x -= e.product()
		default:
			return x
		}
	}
}

func (e *evaluator) product() float64 {
	x := e.power()
	for {
		switch {
		case e.take('*'):
			x *= e.power()
		case e.take('/'):
			x /= e.power()
		default:
			return x
		}
	}
}

func (e *evaluator) power() float64 {
	x := e.atom()
	if e.take('^') {
		return math.Pow(x, e.power())
	}
	return x
}

func (e *evaluator) atom() float64 {
	if e.take('(') {
		x := e.sum()
		if !e.take(')') {
			return e.fail("a bracket is not closed")
		}
		return x
	}
	start := e.at
	for c := e.peek(); c >= '0' && c <= '9' || c == '.' || c == 'e' && e.at > start || c == '-' && e.at > start &&
		e.src[e.at-1] == 'e'; c = e.peek() {
		e.at++
	}
	if e.at > start {
		x, err := strconv.ParseFloat(e.src[start:e.at], 64)
		if err != nil {
			return e.fail("%q is not a number", e.src[start:e.at])
		}
		return x
	}
	for c := e.peek(); c >= 'a' && c <= 'z' || c >= '0' && c <= '9'; c = e.peek() {
		e.at++
	}
	name := e.src[start:e.at]
	if e.take('(') {
		return e.call(name)
	}
	if name == "pi" {
		return math.Pi
	}
	v, ok := e.vars[name]
	if !ok || len(v) != 1 {
		return e.fail("%q is not a value", name)
	}
	return v[0]
}

func (e *evaluator) call(name string) float64 {
	if name == "sum" || name == "sumrecip" || name == "least" {
		start := e.at
		for e.peek() != ')' && e.peek() != 0 {
			e.at++
		}
		list, ok := e.vars[e.src[start:e.at]]
		if !ok || !e.take(')') {
			return e.fail("%s takes a list", name)
		}
		if name == "least" {
			return slices.Min(list)
		}
		total := 0.0
		for _, x := range list {
			if name == "sumrecip" {
				x = 1 / x
			}
			total += x
		}
		return total
	}
	args := []float64{e.sum()}
	for e.take(',') {
		args = append(args, e.sum())
	}
	if !e.take(')') {
		return e.fail("a bracket is not closed")
	}
	one, two := len(args) == 1, len(args) == 2
	switch {
	case name == "sqrt" && one:
		return math.Sqrt(args[0])
	case name == "exp" && one:
		return math.Exp(args[0])
	case name == "ln" && one:
		return math.Log(args[0])
	case name == "log10" && one:
		return math.Log10(args[0])
	case name == "max" && two:
		return max(args[0], args[1])
	case name == "min" && two:
		return min(args[0], args[1])
	case name == "par" && two:
		return args[0] * args[1] / (args[0] + args[1])
	}
	return e.fail("%q is not a function of %d values", name, len(args))
}
