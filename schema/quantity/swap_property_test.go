package quantity

import (
	"maps"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// wholeParts are a part of each kind with all that its rules need.
var wholeParts = map[string]string{
	"bridge":        "bridge rectifier 4 A 600 V",
	"capacitor":     "electrolytic 100 µF 50 V",
	"cell":          "cell 18650 li-ion 3.6 V 2500 mAh 10 A",
	"connector":     "connector 4 pins 2.54 mm",
	"crystal":       "crystal 8 MHz 18 pF",
	"diode":         "diode standard 1 A 1000 V",
	"ferrite":       "bead 600R@100MHz 1 A",
	"fuse":          "fuse 2 A 250 V slow",
	"gdt":           "gdt 230 V 5 kA",
	"igbt":          "igbt 600 V 30 A",
	"inductor":      "inductor 10 µH 3 A",
	"jfet":          "jfet n-channel 25 V 10 mA",
	"led":           "led red 20 mA 2 V",
	"mosfet":        "mosfet n-channel 60 V 30 A 10 mΩ vth 2 V TO-220",
	"ntc":           "ntc 10 Ω 5 A",
	"optocoupler":   "optocoupler phototransistor isolation 5 kV ctr 50 % 70 V",
	"oscillator":    "oscillator 25 MHz 3.3 V",
	"pack":          "battery pack 11.1 V 4400 mAh li-ion",
	"potentiometer": "potentiometer 10k linear 0.5 W",
	"ptc":           "polyfuse hold 0.5 A trip 1 A 30 V",
	"regulator":     "regulator linear 5 V 1 A",
	"relay":         "relay coil 12 V SPDT 10 A 250 V",
	"resonator":     "resonator 4 MHz",
	"resistor":      "resistor 10k 0.25 W",
	"supply":        "power supply 12 V 2 A",
	"switch":        "switch SPST 10 A 250 V",
	"thermal-fuse":  "thermal fuse 125 °C 10 A 250 V",
	"thermostat":    "thermostat 95 °C 10 A 250 V NC manual reset",
	"thyristor":     "thyristor 600 V 8 A",
	"transistor":    "transistor npn 60 V 3 A",
	"triac":         "triac 600 V 8 A",
	"tvs":           "tvs 24 V 600 W unidirectional",
	"varistor":      "varistor 275 V 14 mm",
	"wire":          "wire 1.5 mm² 300 V",
	"zener":         "zener 12 V 0.5 W",
}

// TestWholePartFitsItself: a part with all that its rules need fits itself.
func TestWholePartFitsItself(t *testing.T) {
	for kind := range swapData().Kinds {
		text := wholeParts[kind]
		if !assert.NotEmpty(t, text, kind) {
			continue
		}
		p := parsePart(text)
		assert.Equal(t, kind, p.kind, text)
		assert.Empty(t, p.others, text)
		r, err := Swap(text, text, nil)
		require.NoError(t, err)
		assert.Equal(t, Fits, r.Verdict, "%s: %v", text, r.Reasons)
	}
}

// TestWorseNeverFits: of every kind, for every quantity that anything can state of a part:
// where the new part states a tenth of it, or ten times as much where less is better, or
// nothing, the answer is neither "fits" nor, of a rating, a mere remark.
func TestWorseNeverFits(t *testing.T) {
	attrs := map[string]bool{}
	for _, k := range swapData().Kinds {
		for _, r := range k.Rules {
			attrs[r.Attr] = true
		}
	}
	for _, l := range swapData().Labels {
		attrs[l[0]] = true
	}
	for _, list := range swapData().Free {
		attrs[list[0]] = true
	}
	attrs["quality"] = true // one that no rule knows
	units := map[string]Unit{}
	for kind, text := range wholeParts {
		units[kind] = parsePart(text).values["value"].Unit
	}
	value := func(exp int, u Unit) Value { return Value{Number: Decimal{1, exp}, Unit: u} }
	checked := 0
	for kind, k := range swapData().Kinds {
		for attr := range attrs {
			test, ofWords := "", false
			for _, r := range k.Rules {
				switch {
				case r.Attr != attr:
				case slices.Contains([]string{"keep", "keep-both", "order", "pairs", "soft", "dielectric", "safety", "package", "equal", "added"}, r.Test):
					ofWords = true
				case r.Test != "times" && r.Test != "smaller" && len(r.Old)+len(r.New) == 0:
					test = r.Test
				}
			}
			if test == "" && ofWords {
				continue
			}
			a, b := parsePart(wholeParts[kind]), parsePart(wholeParts[kind])
			unit := Volt
			if have, ok := a.values[attr]; ok {
				unit = have.Unit
			}
			worse := -1
			if test == "at-most" || test == "at-most-remark" {
				worse = 1
			}
			delete(a.inferred, attr)
			a.values[attr], b.values[attr] = value(0, unit), value(worse, unit)
			r := compareParts(a, b, nil, false)
			checked++
			allowed := []Fit{CannotTell, DoesNotFit}
			if test == "at-most-remark" {
				allowed = append(allowed, FitsWithRemark)
			}
			assert.Contains(t, allowed, r.Verdict, "%s: worse %s (%s): %v", kind, attr, test, r.Reasons)
			delete(b.values, attr)
			r = compareParts(a, b, nil, false)
			if test != "at-most-remark" {
				assert.Contains(t, []Fit{CannotTell, DoesNotFit}, r.Verdict, "%s: no %s (%s): %v", kind, attr, test, r.Reasons)
			} else {
				assert.NotEqual(t, Fits, r.Verdict, "%s: no %s", kind, attr)
			}
		}
	}
	assert.Greater(t, checked, 1000)
}

// TestSupplyIsNeverPassedOver: what is stated for DC is not replaced by one for AC, nor
// the other way, of any kind and however it is written.
func TestSupplyIsNeverPassedOver(t *testing.T) {
	for kind := range swapData().Kinds {
		for _, pair := range [][2]string{{"1000 VDC", "1000 VAC"}, {"1000 V DC", "1000 V AC"}, {"1000V⎓", "1000V~"},
			{"1000 V (DC)", "1000 V (AC)"}, {"1000VDC", "1000 V rms"}, {"1000 V d.c.", "1000 V a.c."}} {
			volts := regexp.MustCompile(`[0-9.]+ k?V`).FindString(wholeParts[kind])
			for _, way := range [][2]string{{pair[0], pair[1]}, {pair[1], pair[0]}} {
				a, b := wholeParts[kind]+" "+way[0], wholeParts[kind]+" "+way[1]
				if volts != "" {
					a, b = strings.Replace(wholeParts[kind], volts, way[0], 1), strings.Replace(wholeParts[kind], volts, way[1], 1)
					require.NotEqual(t, a, b, kind)
				}
				r, err := Swap(a, b, nil)
				require.NoError(t, err)
				assert.Contains(t, []Fit{CannotTell, DoesNotFit}, r.Verdict, "%s | %s: %v", a, b, r.Reasons)
			}
		}
	}
}

// quantities are ratings in the words of the bench.
var quantities = []string{"10 A", "0.1 A", "400 V", "16 V", "250 VAC", "250 VDC", "60 V~", "2 W", "1/8 W", "105 °C", "85C", "5000 h",
	"200 J", "10 mΩ", "ESR 5 Ω", "DCR 1 Ω", "ripple 1 A", "surge 100 A", "peak 5 A", "ifsm 30 A", "5 %", "50 ppm", "100 kHz",
	"Isat 2 A", "trr 35 ns", "vf 1 V", "leakage 1 mA", "20 kA", "clamp 40 V", "2.5 Ah", "load 12 pF", "charge 4.2 V", "1.5 mm²",
	"AWG 20", "14 mm", "100 µF", "47k", "10 µH", "hold 1 A", "trip 2 A", "input 24 V", "isolation 2 kV", "ctr 80 %", "10x20"}

// TestMoreSaidNeverHelps: a quantity that is added to either side never makes "does not fit"
// into "fits", with or without a remark, and "cannot tell" only where it was named as
// missing. What was only assumed may be replaced: the tolerance of a resistor, where none is
// stated.
func TestMoreSaidNeverHelps(t *testing.T) {
	var pairs [][2]string
	for _, name := range []string{"swaps.tsv", "bench-swaps.tsv"} {
		for _, row := range table(t, name, 5) {
			pairs = append(pairs, [2]string{row[0], row[1]}, [2]string{row[1], row[0]})
		}
	}
	for _, a := range slices.Sorted(maps.Values(wholeParts)) {
		pairs = append(pairs, [2]string{a, a})
	}
	r := rand.New(rand.NewPCG(21, 22))
	fit := func(f Fit) bool { return f == Fits || f == FitsWithRemark }
	checked := 0
	for _, pair := range pairs {
		before, err := Swap(pair[0], pair[1], nil)
		require.NoError(t, err)
		if fit(before.Verdict) {
			continue
		}
		for range 12 {
			q := quantities[r.IntN(len(quantities))]
			for _, now := range [][2]string{{pair[0] + " " + q, pair[1]}, {pair[0], pair[1] + " " + q}, {q + " " + pair[0], pair[1]},
				{pair[0], q + " " + pair[1]}} {
				after, err := Swap(now[0], now[1], nil)
				require.NoError(t, err)
				checked++
				if !fit(after.Verdict) || namedMissing(before, q, now) {
					continue
				}
				t.Errorf("%q | %q: %s; with %q | %q: %s\n%v\n%v", pair[0], pair[1], before.Verdict, now[0], now[1], after.Verdict,
					before.Reasons, after.Reasons)
			}
		}
	}
	assert.Greater(t, checked, 5000)
}

// namedMissing reports whether all that stood against a swap was that something is not
// stated, and that an added quantity says just that.
func namedMissing(before SwapResult, q string, now [2]string) bool {
	attrs := map[string]bool{}
	for _, text := range now {
		p := parsePart(text)
		for attr := range p.values {
			attrs[attributeName(attr)] = true
		}
		for attr := range p.words {
			attrs[attributeName(attr)] = true
		}
	}
	for _, reason := range before.Reasons {
		if rank(reason.Says) < rank(CannotTell) {
			continue
		}
		_, missing, ok := strings.Cut(reason.Text, " its ")
		states := strings.Contains(reason.Text, "states its ") || strings.Contains(reason.Text, "state its ")
		switch {
		case ok && states && attrs[missing]:
		case strings.HasPrefix(reason.Text, "neither its "): // needs, one of several
		case strings.Contains(reason.Text, "is not stated") || strings.Contains(reason.Text, "inferred: "):
		case strings.HasSuffix(q, "%") && strings.HasPrefix(reason.Text, "value "): // of a tolerance that was assumed
		default:
			return false
		}
	}
	return true
}

// TestBenchSwaps: swaps of the bench, most of them ordinary, judged by hand before any
// answer was looked at: each has one of the answers that are right.
func TestBenchSwaps(t *testing.T) {
	rows := table(t, "bench-swaps.tsv", 5)
	ordinary := 0
	for _, row := range rows {
		r, err := Swap(row[0], row[1], nil)
		require.NoError(t, err)
		assert.Contains(t, strings.Fields(row[2]), string(r.Verdict), "%s | %s: %v", row[0], row[1], r.Reasons)
		if row[3] == "ordinary" {
			ordinary++
		}
		assert.NotEmpty(t, row[4], "a source, or that there is none")
	}
	assert.GreaterOrEqual(t, len(rows), 150)
	assert.GreaterOrEqual(t, ordinary*2, len(rows))
}

// TestInferencesCanBeRead: the value of every inference is one, its kinds exist, and it is
// inferred by something.
func TestInferencesCanBeRead(t *testing.T) {
	require.NotEmpty(t, swapData().Infer)
	for _, in := range swapData().Infer {
		assert.NotEmpty(t, in.Source, in.Attr)
		assert.NotEqual(t, in.Is == "", in.Value == "", in.Attr)
		if in.Value != "" {
			_, err := Parse(in.Value)
			assert.NoError(t, err, in.Value)
		}
		for _, kind := range in.Kinds {
			assert.Contains(t, swapData().Kinds, kind)
		}
		assert.NotEmpty(t, attributeName(in.Attr))
	}
}
