package quantity

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Formula is one of the bench formulas, as data: its inputs with units, its
// results as expressions over SI values, its source and where it holds.
type Formula struct {
	Name    string   `json:"name"`
	Title   string   `json:"title"`
	Inputs  []Input  `json:"inputs"`
	Results []Output `json:"results"`
	Source  string   `json:"source"`
	Valid   string   `json:"valid"`
	Caution string   `json:"caution"`
	// Refusals are the plans that are not given out.
	Refusals []Refusal `json:"refusals"`
}

// Refusal says of which inputs a formula gives no answer, since somebody might act
// on it: those for which the expression is above 0.
type Refusal struct {
	Needs  string `json:"needs"`  // the optional input that it is about
	Unless string `json:"unless"` // an optional input that, given, decides instead
	Expr   string `json:"expr"`
	Says   string `json:"says"`
}

// Input of a formula.
type Input struct {
	Key     string `json:"key"`
	Name    string `json:"name"`
	Unit    string `json:"unit"` // the unit's name; "number" for none
	Default string `json:"default"`
	// Optional inputs have no value when they are not given; only refusals ask for them.
	Optional bool     `json:"optional"`
	List     bool     `json:"list"`  // several values, separated by semicolons or commas with a space
	Above    *float64 `json:"above"` // must be greater
	Low      *float64 `json:"low"`   // must not be less
	High     *float64 `json:"high"`  // must not be more
}

// Output of a formula.
type Output struct {
	Key  string `json:"key"`
	Name string `json:"name"`
	Unit string `json:"unit"`
	Expr string `json:"expr"`
}

// Result is one figure that a formula gave.
type Result struct {
	Name  string  `json:"name"`
	Value string  `json:"value"` // rounded to four digits
	SI    float64 `json:"si"`    // as computed, in the unit without prefix
	Unit  string  `json:"unit"`
}

// Reckoning is a formula worked out.
type Reckoning struct {
	Formula string            `json:"formula"`
	Title   string            `json:"title"`
	Inputs  map[string]string `json:"inputs"`
	Results []Result          `json:"results"`
	Working []string          `json:"working"`
	Source  string            `json:"source"`
	Valid   string            `json:"valid"`
	Caution string            `json:"caution,omitempty"`
}

var formulas = mustDecode[[]Formula]("formulas.json", FormulasJSON)

// Formulas lists the formulas in their order.
func Formulas() []Formula { return formulas() }

// FindFormula returns the formula with the name.
func FindFormula(name string) (Formula, bool) {
	i := slices.IndexFunc(formulas(), func(f Formula) bool { return f.Name == name })
	if i < 0 {
		return Formula{}, false
	}
	return formulas()[i], true
}

func unitByName(name string) Unit {
	for u, info := range units {
		if info.name == name {
			return Unit(u)
		}
	}
	return None
}

// Reckon works out a formula from key=value texts. Errors name the key and say
// what would be right.
func Reckon(f Formula, given map[string]string) (Reckoning, error) {
	out := Reckoning{Formula: f.Name, Title: f.Title, Inputs: map[string]string{}, Source: f.Source, Valid: f.Valid, Caution: f.Caution}
	vars := map[string][]float64{}
	var known []string
	for _, in := range f.Inputs {
		known = append(known, in.Key)
		text, ok := given[in.Key]
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
		if ok || in.Key != "load" {
			out.Inputs[in.Key] = shown
		}
	}
	for key := range given {
		if !slices.Contains(known, key) {
			return out, fmt.Errorf("%s has no %q; it takes %s", f.Name, key, strings.Join(known, ", "))
		}
	}
	for _, r := range f.Refusals {
		if vars[r.Needs] == nil || r.Unless != "" && vars[r.Unless] != nil {
			continue
		}
		if x, err := evaluate(r.Expr, vars); err != nil || x > 0 {
			return out, fmt.Errorf("refused: %s", r.Says)
		}
	}
	for _, r := range f.Results {
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
		vars[r.Key] = []float64{x} // later results may build on it
		out.Results = append(out.Results, Result{r.Name, shown, x, r.Unit})
		out.Working = append(out.Working, fmt.Sprintf("%s = %s = %s", r.Key, r.Expr, shown))
	}
	return out, nil
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

// read parses one input, or the list of one.
func (in Input) read(text string) (values []float64, shown string, err error) {
	parts := []string{text}
	if in.List {
		parts = strings.FieldsFunc(text, func(r rune) bool { return r == ';' || r == ' ' || r == ',' })
		if len(parts) == 0 || len(parts) > 50 {
			return nil, "", fmt.Errorf("a list of 1 to 50 values is needed, such as 10k,22k")
		}
	}
	var texts []string
	want := unitByName(in.Unit)
	for _, p := range parts {
		v, err := Parse(p)
		if err != nil {
			return nil, "", err
		}
		if v.Over {
			return nil, "", fmt.Errorf("OL is no value to reckon with")
		}
		if v.Unit == None || bareCode(p, v.Unit) && want != None {
			v.Unit = want // "10u" of an inductance is not farads
		}
		if v.Unit != want {
			if want == None {
				return nil, "", fmt.Errorf("%q is a %s; a plain number is needed", p, v.Unit.Quantity())
			}
			return nil, "", fmt.Errorf("%q is a %s; a %s in %s is needed", p, v.Unit.Quantity(), want.Quantity(), want.symbol())
		}
		x := v.Number.Float()
		switch {
		case in.Above != nil && x <= *in.Above:
			return nil, "", fmt.Errorf("%q must be more than %s", p, strconv.FormatFloat(*in.Above, 'g', -1, 64))
		case in.Low != nil && x < *in.Low:
			return nil, "", fmt.Errorf("%q must be at least %s", p, strconv.FormatFloat(*in.Low, 'g', -1, 64))
		case in.High != nil && x > *in.High:
			return nil, "", fmt.Errorf("%q must be at most %s", p, strconv.FormatFloat(*in.High, 'g', -1, 64))
		}
		values = append(values, x)
		texts = append(texts, v.String())
	}
	return values, strings.Join(texts, ", "), nil
}

// prefixed is a number with a prefix and no unit, which [Parse] reads as ohms or farads
// by habit.
var prefixed = regexp.MustCompile(`^[0-9]+(?:[.,][0-9]+)? ?[pnuµμkKMG]$`)

// bareCode reports whether the unit of a value was a guess from its prefix alone.
func bareCode(text string, u Unit) bool {
	return (u == Ohm || u == Farad) && prefixed.MatchString(strings.TrimSpace(text))
}

// evaluate works out an expression: numbers, names, + - * / ^, brackets, and
// the functions sqrt, exp, ln, log10, max, min, par, sum and sumrecip.
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
	if name == "sum" || name == "sumrecip" {
		start := e.at
		for e.peek() != ')' && e.peek() != 0 {
			e.at++
		}
		list, ok := e.vars[e.src[start:e.at]]
		if !ok || !e.take(')') {
			return e.fail("%s takes a list", name)
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
