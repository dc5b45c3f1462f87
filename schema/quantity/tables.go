package quantity

import (
	_ "embed"
	"encoding/json"
	"math"
	"slices"
	"strconv"
	"sync"
)

// The tables of the standards, as data, so that the page and the command line
// read the same ones.
var (
	//go:embed data/tables.json
	TablesJSON []byte
	//go:embed data/formulas.json
	FormulasJSON []byte
	//go:embed data/swaps.json
	SwapsJSON []byte
	//go:embed data/words.json
	WordsJSON []byte
)

type tableSet struct {
	Sources             map[string]string    `json:"sources"`    // of each table below, by its name here
	Tolerances          map[string][2]string `json:"tolerances"` // letter -> percent down and up
	TolerancesBelow10pF map[string]string    `json:"tolerancesBelow10pF"`
	EIA96               map[string]int       `json:"eia96"` // letter -> power of ten
	VoltageLetters      map[string]string    `json:"voltageLetters"`
	VoltageCodes        map[string]string    `json:"voltageCodes"` // two characters -> volts
	Bodies              map[string]string    `json:"bodies"`
	TantalumCases       map[string]string    `json:"tantalumCases"`
	JIS                 map[string]string    `json:"jis"`
	Colours             []string             `json:"colours"`
	ColourMultipliers   map[string]int       `json:"colourMultipliers"`
	ColourTolerances    map[string]string    `json:"colourTolerances"`
	ColourCoefficients  map[string]int       `json:"colourCoefficients"`
	ColourAlso          map[string]string    `json:"colourAlso"`
	DielectricLow       map[string]int       `json:"dielectricLow"`
	DielectricHigh      map[string]int       `json:"dielectricHigh"`
	DielectricChange    map[string][2]string `json:"dielectricChange"` // letter -> percent down and up
	Class1Figure        map[string]string    `json:"class1Figure"`
	Class1Multiplier    map[string]int       `json:"class1Multiplier"`
	Class1Tolerance     map[string]int       `json:"class1Tolerance"`
	Packages            [][4]string          `json:"packages"` // imperial, metric, length, width in mm
}

// mustDecode reads an embedded table; a mistake in it is ours and a test finds it.
func mustDecode[T any](name string, data []byte) func() T {
	return sync.OnceValue(func() T {
		var v T
		if err := json.Unmarshal(data, &v); err != nil {
			panic(name + ": " + err.Error())
		}
		return v
	})
}

var tables = mustDecode[tableSet]("tables.json", TablesJSON)

// Series is an E-series of preferred numbers (IEC 60063).
type Series int

// The series.
const (
	E3   Series = 3
	E6   Series = 6
	E12  Series = 12
	E24  Series = 24
	E48  Series = 48
	E96  Series = 96
	E192 Series = 192
)

// AllSeries lists the series from coarse to fine.
var AllSeries = []Series{E3, E6, E12, E24, E48, E96, E192}

// String returns the series' name, "E96".
func (s Series) String() string { return "E" + strconv.Itoa(int(s)) }

// e24 is not the rounded geometric series: 2.7 to 4.7 and 8.2 differ.
var e24 = []int64{10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91}

var members = sync.OnceValue(func() map[Series][]int64 {
	m := map[Series][]int64{E24: e24}
	for _, s := range []Series{E3, E6, E12} {
		for i := 0; i < 24; i += 24 / int(s) {
			m[s] = append(m[s], e24[i])
		}
	}
	for i := range 192 {
		v := int64(math.Round(100 * math.Pow(10, float64(i)/192)))
		if i == 185 {
			v = 920 // the one exception; the formula gives 919
		}
		m[E192] = append(m[E192], v)
		if i%2 == 0 {
			m[E96] = append(m[E96], v)
		}
		if i%4 == 0 {
			m[E48] = append(m[E48], v)
		}
	}
	return m
})

// Members returns the values of one decade, as two digits (E3 to E24) or three
// digits (E48 to E192).
func (s Series) Members() []int64 { return slices.Clone(members()[s]) }

// digits is how many digits the members have.
func (s Series) digits() int {
	if s <= E24 {
		return 2
	}
	return 3
}

// Has reports whether the value is a member in any decade.
func (s Series) Has(d Decimal) bool {
	d = d.Abs().normal()
	if d.Coef == 0 || d.digits() > s.digits() {
		return false
	}
	c := d.Coef
	for n := d.digits(); n < s.digits(); n++ {
		c *= 10
	}
	return slices.Contains(members()[s], c)
}

// nearest returns the member closest by ratio, as a tolerance is a ratio; the
// lower one of equals. It compares scaled integers: a/b < c/a where b and c are
// the members around a.
func (s Series) nearest(d Decimal) Decimal {
	d = d.Abs().normal()
	if d.Coef == 0 {
		return Decimal{}
	}
	list, n := members()[s], s.digits()
	exp := d.order() - (n - 1) // of the members' last digit
	x := d.rat()
	best := Decimal{list[len(list)-1], exp - 1}
	for _, m := range append(slices.Clone(list), list[0]*10) {
		next := Decimal{m, exp}
		// next is nearer than best when next/x < x/best, that is next*best < x*x,
		// for next above x; below x the larger is always nearer.
		if next.rat().Cmp(x) <= 0 {
			best = next
			continue
		}
		p := next.rat()
		p.Mul(p, best.rat())
		q := x.Mul(x, x)
		if p.Cmp(q) < 0 {
			best = next
		}
		break
	}
	return best.normal()
}

// standardSeries returns the coarsest series that has the value, 0 when none has.
func standardSeries(d Decimal) Series {
	for _, s := range AllSeries {
		if s.Has(d) {
			return s
		}
	}
	return 0
}

// Package is the size of a chip part.
type Package struct {
	Imperial string // EIA code in hundredths of an inch, "0402"
	Metric   string // code in tenths of a millimetre, "1005"
	Length   string // mm
	Width    string // mm
	Warning  string // where the bare code means two sizes
}

// Size prints length and width, "1 × 0.5 mm".
func (p Package) Size() string { return p.Length + " × " + p.Width + " mm" }

// FindPackage reads a chip size code. A bare code is imperial, with a warning
// where it also is a metric one; a final M makes it metric.
func FindPackage(code string) (Package, bool) {
	metric := false
	if n := len(code); n > 1 && (code[n-1] == 'M' || code[n-1] == 'm') {
		code, metric = code[:n-1], true
	}
	var imperialHit, metricHit *Package
	for _, row := range tables().Packages {
		p := Package{Imperial: row[0], Metric: row[1], Length: row[2], Width: row[3]}
		if row[0] == code && code != "" {
			imperialHit = &p
		}
		if row[1] == code {
			metricHit = &p
		}
	}
	switch {
	case metric && metricHit != nil:
		return *metricHit, true
	case metric:
		return Package{}, false
	case imperialHit != nil:
		if metricHit != nil {
			imperialHit.Warning = "read as the imperial code; as a metric code " + code + "M it is " + metricHit.Size()
		}
		return *imperialHit, true
	case metricHit != nil:
		metricHit.Warning = "read as a metric code; there is no imperial " + code
		return *metricHit, true
	}
	return Package{}, false
}

// Dielectric is a ceramic capacitor's class (EIA-198).
type Dielectric struct {
	Code     string // as the standard writes it, "C0G"
	Class    int    // 1 for stable, 2 for the others
	Low      int    // °C, classes 2 and 3
	High     int    // °C
	Down, Up string // percent over the range, classes 2 and 3
	PPM      string // temperature coefficient of class 1, "0 ±30 ppm/K"
}

// String says what the code promises.
func (d Dielectric) String() string {
	if d.Class == 1 {
		return d.PPM
	}
	change := "±" + d.Up + " %"
	if d.Up != d.Down {
		change = "+" + d.Up + "/-" + d.Down + " %"
	}
	return strconv.Itoa(d.Low) + ".." + strconv.Itoa(d.High) + " °C, " + change
}

// findDielectric reads a class code; COG, NP0 and NPO are taken for C0G. The
// code says nothing of what voltage and age do to the capacitance.
func findDielectric(code string) (Dielectric, bool) {
	b := []byte(code)
	if len(b) != 3 {
		return Dielectric{}, false
	}
	for i, c := range b {
		if c >= 'a' && c <= 'z' {
			b[i] = c - 32
		}
	}
	switch string(b) {
	case "COG", "NP0", "NPO":
		b = []byte("C0G")
	}
	t := tables()
	one, two, three := string(b[0]), string(b[1]), string(b[2])
	if low, ok := t.DielectricLow[one]; ok {
		high, okHigh := t.DielectricHigh[two]
		change, okChange := t.DielectricChange[three]
		if okHigh && okChange {
			return Dielectric{Code: string(b), Class: 2, Low: low, High: high, Down: change[0], Up: change[1]}, true
		}
	}
	figure, ok1 := t.Class1Figure[one]
	multiplier, ok2 := t.Class1Multiplier[two]
	tolerance, ok3 := t.Class1Tolerance[three]
	if !ok1 || !ok2 || !ok3 {
		return Dielectric{}, false
	}
	f, _ := scanNumber(figure)
	c := Decimal{f.Coef * int64(multiplier), f.Exp}.normal()
	return Dielectric{Code: string(b), Class: 1, PPM: c.String() + " ±" + strconv.Itoa(tolerance) + " ppm/K"}, true
}
