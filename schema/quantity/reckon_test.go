package quantity

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// givenOf reads "r=4k7 c=47n" as the command line does.
func givenOf(text string) (list []Given) {
	for _, pair := range strings.Fields(text) {
		k, v, _ := strings.Cut(pair, "=")
		list = append(list, Given{k, v})
	}
	return list
}

func reckoned(name, text string) (Reckoning, error) {
	f, ok := FindFormula(name)
	if !ok {
		return Reckoning{}, fmt.Errorf("no formula %s", name)
	}
	return Reckon(f, givenOf(text))
}

// result is the figure of a result by its name.
func result(t *testing.T, name, text, of string) float64 {
	t.Helper()
	r, err := reckoned(name, text)
	require.NoError(t, err, "%s %s", name, text)
	for _, x := range r.Results {
		if x.Name == of {
			return x.SI
		}
	}
	require.Fail(t, "no such result", "%s %s: %s", name, text, of)
	return 0
}

// TestWorkedExamples: figures worked apart from the formulas' data, with a desk calculator,
// from the law named beside each.
func TestWorkedExamples(t *testing.T) {
	for _, test := range []struct {
		formula, given, result string
		want, within           float64
	}{
		// P = U²/R, I = P/U (Ohm's and Joule's laws).
		{"heater-resistance", "v=230 p=2000", "hot resistance", 26.45, 1e-9},
		{"heater-resistance", "v=230 p=2kW", "current", 8.69565, 1e-5},
		{"heater-resistance", "v=230 p=2kW at=115", "power at the other voltage", 500, 1e-9},
		{"heater-power", "v=230 r=26.45", "power", 2000, 1e-9},
		{"heater-power", "v=230 r=26R45", "current", 8.69565, 1e-5},
		// 1/T = 1/298.15 + ln(R/R25)/B (IEC 60539-1, definition of B).
		{"ntc-temperature", "r25=10k beta=3950 r=10k", "temperature", 25, 1e-9},
		{"ntc-temperature", "r25=10k beta=3950 r=3588", "temperature", 50.0013, 1e-4},
		{"ntc-temperature", "r25=10k beta=3950kelvin r=1k", "temperature", 87.7197, 1e-4},
		{"ntc-temperature", "r25=10k beta=3950 r=32k65", "temperature", 0.5545, 1e-4},
		// 1/C = Σ 1/Ci; one charge on all, so that U1/U = C/C1 (any circuits text).
		{"series-capacitors", "c=10u,10u", "total", 5e-6, 1e-15},
		{"series-capacitors", "c=10u,22u,47u", "total", 5.997680e-6, 1e-12},
		{"series-capacitors", "c=100u,47u v=400", "voltage across the smallest", 272.1088, 1e-4},
		// P = (Uin-Uout)·I + Uin·Iq; T = Ta + P·Σθ (JESD51).
		{"linear-regulator", "vin=12 vout=5 i=0.5 iq=5mA theta=3,0.5,12 ambient=40", "heat in the regulator", 3.56, 1e-9},
		{"linear-regulator", "vin=12 vout=5 i=0.5 iq=5mA theta=3,0.5,12 ambient=40", "junction temperature", 95.18, 1e-9},
		{"linear-regulator", "vin=12 vout=5 i=0.5 iq=5mA theta=3,0.5,12", "warmest surroundings", 69.82, 1e-9},
		{"linear-regulator", "vin=12 vout=5 i=0.5 iq=5mA theta=15.5", "efficiency", 41.25413, 1e-5},
		// Energy through the converter over power; charge over current.
		{"battery-runtime", "capacity=2.2Ah v=3.7 load=2 share=80% efficiency=85%", "runtime", 2.7676, 1e-9},
		{"battery-runtime-current", "capacity=7Ah i=350mA share=50%", "runtime", 10, 1e-9},
		// I = P/U, R = U²/P (Joule's law); cold tungsten a tenth to a fifteenth.
		{"series-lamp", "v=230 p=60", "current at most, lamp at full light", 0.260870, 1e-6},
		{"series-lamp", "v=230 p=60", "resistance of the lamp at full light", 881.6667, 1e-4},
		{"series-lamp", "v=230 p=60", "first surge through the cold filament, up to about", 3.913043, 1e-6},
		// t = R·C·ln(U/U1), P = U²/R, E = C·U²/2 (any circuits text).
		{"bleeder", "c=470u v=400 time=5s", "largest resistor", 5607.604, 1e-3},
		{"bleeder", "c=470u v=400 time=5s", "power in it all the time", 28.532685, 1e-6},
		{"bleeder", "c=470u v=400 time=5s", "power rating to look for", 57.065369, 1e-6},
		{"bleeder", "c=470u v=400 time=5s r=4k7", "time with the chosen one", 4.190738, 1e-6},
		{"bleeder", "c=470u v=400 time=5s r=4k7", "power in the chosen one", 34.042553, 1e-6},
		{"bleeder", "c=470u v=400 time=5s", "voltage rating at least", 400, 1e-9},
		// R = (U - n·Uf)/I, P = R·I² (Ohm's and Joule's laws).
		{"led-resistor", "supply=24 forward=3.2 count=3 current=20mA", "resistor", 720, 1e-9},
		{"led-resistor", "supply=24 forward=3.2 count=3 current=20mA", "power in the resistor", 0.288, 1e-12},
		{"led-resistor", "supply=24 forward=3.2 count=3 current=20mA", "power rating to look for", 0.576, 1e-12},
		{"led-resistor", "supply=24 forward=3.2 count=3 current=20mA r=680", "current with the chosen resistor", 0.02117647, 1e-8},
		{"led-resistor", "supply=24 forward=3.2 count=3 current=20mA r=680", "power in the chosen resistor", 0.3049412, 1e-7},
		{"led-resistor", "supply=24 forward=3.2 count=3 current=20mA r=680 highest=27", "current at the highest supply", 0.02558824, 1e-8},
		// Shares of what is printed; I²t of a rectangle (common practice, no source).
		{"fuse-check", "printed=2 load=1.2", "load as a share of the printed rating", 60, 1e-9},
		{"fuse-check", "printed=2 load=1.2 inrush=20 time=5ms", "I²t of the inrush in A²s", 2, 1e-9},
		{"fuse-check", "printed=2 load=1.2 inrush=20 time=5ms melting=10", "inrush as a share of the melting I²t", 20, 1e-9},
		// n = U1/U2, R' = n²·R, I1 = I2/n (any circuits text).
		{"transformer", "v1=230 v2=12", "turns ratio", 19.166667, 1e-6},
		{"transformer", "v1=230 v2=12 load=6R", "load seen at the primary", 2204.16667, 1e-5},
		{"transformer", "v1=230 v2=12 load=6R", "secondary current", 2, 1e-9},
		{"transformer", "v1=230 v2=12 load=6R", "primary current", 0.10434783, 1e-8},
		{"transformer", "v1=230 v2=12 turns=1000", "turns of the secondary", 52.173913, 1e-6},
		{"duty-cycle", "on=250us period=1ms", "duty cycle", 25, 1e-9},
		{"duty-cycle", "on=250us period=1ms", "frequency", 1000, 1e-9},
		{"duty-cycle", "on=250us period=1ms", "time off", 750e-6, 1e-15},
		// Mean and root of the mean square over one period (any circuits text).
		{"pulsed-voltage", "high=12 duty=25%", "average", 3, 1e-9},
		{"pulsed-voltage", "high=12 duty=25%", "root mean square", 6, 1e-9},
		{"pulsed-voltage", "high=12 duty=25%", "root mean square without the average", 5.196152, 1e-6},
		{"pulsed-voltage", "high=10 low=-2 duty=40%", "average", 2.8, 1e-9},
		{"pulsed-voltage", "high=10 low=-2 duty=40%", "root mean square", 6.511528, 1e-6},
		// U = Uref·(1 + R2/R1) + I·R2 (data sheets of adjustable three-terminal regulators).
		{"regulator-adjust", "r1=240 r2=720", "output voltage", 5.036, 1e-9},
		{"regulator-adjust", "vref=1.25 r1=240 r2=720 iadj=0", "output voltage", 5, 1e-9},
		{"regulator-adjust", "vref=1.25 r1=240 r2=720", "current in R1", 5.208333e-3, 1e-9},
		// AWG 4/0 is 0.46 inch (ASTM B258).
		{"awg", "gauge=0000", "diameter", 0.011684, 1e-9},
		{"awg", "gauge=4/0", "diameter", 0.011684, 1e-9},
		{"awg", "gauge=00", "diameter", 0.009266, 1e-6}, // 0.3648 inch
		{"awg", "gauge=1/0", "diameter", 0.008252, 1e-6},
	} {
		assert.InDelta(t, test.want, result(t, test.formula, test.given, test.result), test.within, "%s %s: %s", test.formula, test.given, test.result)
	}
}

// TestPrefixAlone: a prefix without a unit is one of the quantity asked for.
func TestPrefixAlone(t *testing.T) {
	for _, test := range []struct{ formula, given, key, want string }{
		{"power-vi", "v=75m i=20m", "i", "20 mA"}, {"power-vi", "v=75m i=20m", "v", "75 mV"},
		{"power-vi", "v=-75m i=20u", "v", "-75 mV"}, {"power-vi", "v=1k5 i=1m5", "v", "1.5 kV"},
		{"power-vi", "v=1k5 i=1m5", "i", "1.5 mA"}, {"power-vi", "v=1,5k i=20_m", "i", "20 mA"},
		{"energy", "c=1m v=5", "c", "0.001 F"}, {"corner-rl", "r=20m l=4u7", "l", "4.7 µH"}, {"corner-rl", "r=20m l=4u7", "r", "20 mΩ"},
		{"track-width", "current=500m thickness=70u", "thickness", "70 µm"},
		{"copper", "d=2mm length=20m", "length", "20 m"}, // of a length it is the metre
		{"resonance-lc", "l=10u c=100n", "l", "10 µH"}, {"reactance-l", "f=4k7 l=1m", "f", "4.7 kHz"},
		{"timer-555", "r1=4k7 r2=1M c=10n", "r1", "4.7 kΩ"}, {"rc-time", "v=5 r=1k c=1u t=2 min", "t", "2 min"},
	} {
		var given []Given
		for _, g := range givenOf(strings.ReplaceAll(test.given, "2 min", "2_min")) {
			given = append(given, Given{g.Key, strings.ReplaceAll(g.Text, "_", " ")})
		}
		f, ok := FindFormula(test.formula)
		require.True(t, ok, test.formula)
		r, err := Reckon(f, given)
		require.NoError(t, err, test.given)
		want, err := Parse(test.want)
		require.NoError(t, err)
		assert.Equal(t, want.String(), r.Inputs[test.key], test.given)
	}
	assert.InDelta(t, 5*math.Exp(-60/10.0), result(t, "rc-time", "v=5 r=10k c=1mF t=1min", "discharging"), 1e-9, "a minute has sixty seconds")
}

// TestAsksBack: what may be meant in two ways is asked, with both ways named.
func TestAsksBack(t *testing.T) {
	for _, test := range []struct {
		formula, given string
		says           []string
	}{
		{"track-current", "width=10", []string{`width: "10" has no unit`, "10 mm", "10 µm"}},
		{"copper", "d=0.2 length=1m", []string{"d: ", "0.2 mm"}},
		{"awg", "gauge=24 length=3", []string{"length: ", "3 m", "3 mm"}},
		{"energy", "c=100 v=5", []string{"c: ", "100 µF", "100 nF", "100 pF"}},
		{"reactance-l", "f=50 l=10", []string{"l: ", "10 µH", "10 mH"}},
		{"battery-health", "measured=2100 rated=3Ah", []string{"measured: ", "2100 mAh", "2100 Ah"}},
		{"rc-time", "v=5 r=1k c=1u t=5", []string{"t: ", "5 s", "5 ms"}},
		{"rc-time", "v=5 r=1k c=1u t=5m", []string{"t: ", "5 ms", "5 min"}},
		{"duty-cycle", "on=250 period=1ms", []string{"on: ", "250 µs", "250 ms"}},
		{"pulsed-voltage", "high=12 duty=0.3", []string{"duty: ", "0.3 %", "30 %"}},
	} {
		_, err := reckoned(test.formula, test.given)
		require.Error(t, err, test.given)
		for _, word := range test.says {
			assert.ErrorContains(t, err, word, test.given)
		}
	}
	_, err := reckoned("rc-time", "v=5 r=1k c=1u t=0")
	assert.NoError(t, err, "nothing is nothing in any unit")
	_, err = reckoned("pulsed-voltage", "high=12 duty=30")
	assert.NoError(t, err)
}

// TestRefuses: beyond what a formula holds for there is a refusal that says the range or why.
func TestRefuses(t *testing.T) {
	for _, test := range []struct{ formula, given, says string }{
		{"track-current", "width=300mm", "at most 10.16 mm"},
		{"track-current", "width=10mm rise=100 thickness=105um", "35 A"},
		{"track-current", "width=10mm rise=100 thickness=105um k=0.024", "17.5 A"},
		{"track-current", "width=1mm rise=5", "from 10 kelvin to 100 kelvin"},
		{"track-current", "width=1mm thickness=1mm", "from 17 µm to 106 µm"},
		{"track-width", "current=50", "35 A"}, {"track-width", "current=20 k=0.024", "17.5 A"}, {"track-width", "current=34", "at most 10.16 mm"},
		{"awg", "gauge=00000", "from 4/0 to 56"}, {"awg", "gauge=5/0", "from 4/0 to 56"}, {"awg", "gauge=57", "from 4/0 to 56"},
		{"awg", "gauge=-4", "from 4/0 to 56"}, {"awg", "gauge=0/4", "is no gauge"},
		{"awg", "gauge=30 temperature=300", "from -100 °C to 250 °C"},
		{"fusing-current", "d=0.1mm time=20", "from 1 ms to 10 s"},
		{"timer-555", "r1=100R r2=10k c=1n", "from 1 kΩ to 1 MΩ"}, {"timer-555", "r1=1k r2=2M2 c=1n", "from 1 kΩ to 1 MΩ"},
		{"buck-ripple", "vin=5 vout=12 l=10u f=500k", "only steps down"},
		{"linear-regulator", "vin=5 vout=12 i=1 theta=10", "only lowers"},
		{"linear-regulator", "vin=5.5 vout=5 i=1 theta=10 dropout=1", "dropout"},
		{"zener-resistor", "vin=10 vmax=9 vz=5 load=45mA iz=5mA", "highest input is below the lowest"},
		{"zener-resistor", "vin=4 vmax=9 vz=5 load=45mA iz=5mA", "lowest input must be above"},
		{"i2c-pull-up", "vdd=3.3 c=2n", "no resistor"},
		{"internal-resistance", "open=12 loaded=12.5 i=1", "would be negative"},
		{"electrolytic-life", "hours=2000 rated=105 t=110", "above the rated"},
		{"electrolytic-life", "hours=5000 rated=105 t=25", "15 years"},
		{"led-resistor", "supply=12 forward=2 count=1.5 current=20m", "whole number"},
		{"led-resistor", "supply=12 forward=2 current=20m highest=10 r=1k", "highest supply is below"},
		{"led-resistor", "supply=12 forward=2 current=20m r=330", "more than was asked"},
		{"ntc-temperature", "r25=10k beta=3950 r=1", "from -55 °C to 150 °C"},
		{"ntc-temperature", "r25=10k beta=39.5 r=5k", "from 1000 kelvin to 10000 kelvin"},
		{"ntc-beta", "r25=10k beta=3950 t=200", "from -55 °C to 150 °C"},
		{"battery-runtime", "capacity=2Ah v=3.7 load=2 share=120", "at most 100 %"},
		{"battery-runtime", "capacity=2Ah v=3.7 load=2 efficiency=0.9", "90 %"},
		{"series-lamp", "v=12 p=60", "from 90 V to 260 V"}, {"series-lamp", "v=230 p=2kW", "from 5 W to 500 W"},
		{"bleeder", "c=470u v=400 time=5s rated=50", "twice"}, {"bleeder", "c=470u v=400 time=5s r=4k7 rated=60", "twice"},
		{"bleeder", "c=470u v=400 time=5s volts=350", "several in series"}, {"bleeder", "c=470u v=400 time=5s r=10k", "too slow"},
		{"bleeder", "c=470u v=50 time=5s", "already below"},
		{"fuse-check", "printed=2 load=1.8", "never a larger fuse"}, {"fuse-check", "printed=2 load=3", "never a larger fuse"},
		{"fuse-check", "printed=2 load=1 inrush=20 time=10ms melting=10", "never a larger fuse"},
		{"fuse-check", "printed=2 load=1.2 inrush=1 time=10ms", "below the load"},
		{"duty-cycle", "on=2ms period=1ms", "longer than the period"}, {"pulsed-voltage", "high=2 low=5 duty=50%", "low level is above"},
		{"pulsed-voltage", "high=12 duty=101", "from 0 % to 100 %"},
		{"discharge", "c=220u v=400 r=2k2 rated=200 pulse=100", "misread"},
		{"regulator-adjust", "r1=2 r2=100k", "at most 125 V"},
	} {
		r, err := reckoned(test.formula, test.given)
		if assert.ErrorContains(t, err, test.says, "%s %s", test.formula, test.given) {
			assert.Empty(t, r.Results, test.given)
		}
	}
}

// TestFirstIsBlamed: of several names that a formula does not have the error says the
// first one given, however often it is asked.
func TestFirstIsBlamed(t *testing.T) {
	for range 50 {
		_, err := reckoned("corner-rc", "r=1k zz=1 c=1n b=2 aa=3 m=4 q=5")
		require.ErrorContains(t, err, `has no "zz"`)
		_, err = reckoned("corner-rc", "q=1 r=1k zz=1 c=1n")
		require.ErrorContains(t, err, `has no "q"`)
	}
	_, err := reckoned("corner-rc", "r=1k c=1n r=2k")
	assert.ErrorContains(t, err, "r stands twice")
}

// TestUnusedIsNamed: what is given and would decide nothing is an error that names it.
func TestUnusedIsNamed(t *testing.T) {
	for _, test := range []struct{ formula, given, key string }{
		{"fuse-check", "printed=2 load=1 time=5ms", "time"}, {"fuse-check", "printed=2 load=1 melting=10", "melting"},
		{"fuse-check", "printed=2 load=1 time=5ms melting=10", "time"}, {"led-resistor", "supply=12 forward=2 current=20m highest=14", ""},
	} {
		_, err := reckoned(test.formula, test.given)
		if test.key == "" {
			assert.NoError(t, err, test.given)
			continue
		}
		assert.ErrorContains(t, err, test.key+" would not be used", test.given)
	}
}

// TestNothingIsIgnored: of every formula, with every choice of its optional inputs, each
// input that is given either changes the answer or its refusals, or is refused by name.
func TestNothingIsIgnored(t *testing.T) {
	r := rand.New(rand.NewPCG(41, 42))
	moved := map[string]bool{}
	for _, f := range Formulas() {
		for range 400 {
			given := randomGiven(r, f)
			first, err := Reckon(f, given)
			if err != nil {
				continue
			}
			i := r.IntN(len(given))
			for range 60 {
				other := slices.Clone(given)
				again := randomGiven(r, f)
				j := slices.IndexFunc(again, func(g Given) bool { return g.Key == given[i].Key })
				if j < 0 {
					continue
				}
				other[i] = again[j]
				second, err := Reckon(f, other)
				if err != nil || !sameFigures(first, second) {
					moved[f.Name+" "+given[i].Key] = true
					break
				}
			}
		}
		for _, in := range f.Inputs {
			assert.True(t, moved[f.Name+" "+in.Key], "%s: %s decides nothing", f.Name, in.Key)
		}
	}
}

func sameFigures(a, b Reckoning) bool {
	return slices.EqualFunc(a.Results, b.Results, func(x, y Result) bool { return x.Name == y.Name && x.SI == y.SI })
}

// randomGiven draws values of the sizes that a bench has, optional ones or not.
func randomGiven(r *rand.Rand, f Formula) (list []Given) {
	sizes := map[string][2]float64{"ohm": {0, 6}, "farad": {-9, -3}, "henry": {-6, -2}, "volt": {0, 2.6}, "ampere": {-3, 1}, "watt": {-1, 2.5},
		"hertz": {1, 6}, "second": {-3, 1}, "metre": {-4, -2.1}, "ampere hour": {-1, 1}, "number": {0, 2}, "percent": {1.2, 2}}
	for _, in := range f.Inputs {
		if (in.Optional || in.Default != "") && r.IntN(2) == 0 {
			continue
		}
		draw := func() string {
			size := sizes[in.Unit]
			x := math.Pow(10, size[0]+r.Float64()*(size[1]-size[0]))
			switch {
			case in.Unit == "degree Celsius":
				x = float64(r.IntN(150) - 20)
			case in.Unit == "kelvin" && in.Key == "beta":
				x = float64(2000 + r.IntN(3000))
			case in.Unit == "kelvin":
				x = float64(10 + r.IntN(90))
			case in.Key == "k":
				x = []float64{0.024, 0.048}[r.IntN(2)]
			case in.Key == "thickness":
				x = float64(17+r.IntN(89)) / 1e6
			case in.Key == "printed":
				x = float64(2 + r.IntN(8))
			case in.Whole:
				x = float64(1 + r.IntN(5))
			case in.Gauge:
				x = float64(r.IntN(56))
			}
			unit := ""
			if in.Unit != "number" {
				unit = " " + unitByName(in.Unit).symbol()
			}
			return strconv.FormatFloat(x, 'g', 5, 64) + unit
		}
		text := draw()
		if in.List {
			text += "; " + draw()
		}
		list = append(list, Given{in.Key, text})
	}
	return list
}

// TestInverses: where one formula asks what another answers, going there and back gives
// what one began with.
func TestInverses(t *testing.T) {
	r := rand.New(rand.NewPCG(43, 44))
	between := func(low, high float64) float64 { return low * math.Pow(high/low, r.Float64()) }
	say := func(format string, args ...any) string { return fmt.Sprintf(format, args...) }
	for range 300 {
		v, p := between(5, 400), between(1, 3000)
		ohms := result(t, "heater-resistance", say("v=%gV p=%gW", v, p), "hot resistance")
		assert.InEpsilon(t, p, result(t, "heater-power", say("v=%gV r=%gΩ", v, ohms), "power"), 1e-9)
		assert.InEpsilon(t, p, result(t, "power-vr", say("v=%gV r=%gΩ", v, ohms), "power"), 1e-9)

		temperature, beta := -50+190*r.Float64(), between(2000, 5000)
		ohms = result(t, "ntc-beta", say("r25=10k beta=%g t=%g", beta, temperature), "resistance")
		assert.InDelta(t, temperature, result(t, "ntc-temperature", say("r25=10k beta=%g r=%gΩ", beta, ohms), "temperature"), 1e-8)

		current := between(0.2, 8)
		width := result(t, "track-width", say("current=%gA rise=20", current), "width")
		assert.InEpsilon(t, current, result(t, "track-current", say("width=%gm rise=20", width), "current"), 1e-9)

		c, volts, time := between(1e-6, 1e-3), between(70, 400), between(0.5, 30)
		ohms = result(t, "bleeder", say("c=%gF v=%gV time=%gs", c, volts, time), "largest resistor")
		assert.InEpsilon(t, time, result(t, "discharge", say("c=%gF v=%gV r=%gΩ", c, volts, ohms), "time"), 1e-9)
		assert.InEpsilon(t, 60, result(t, "rc-time", say("c=%gF v=%gV r=%gΩ t=%gs", c, volts, ohms, time), "discharging"), 1e-9)

		d := between(0.1, 5)
		gauge := result(t, "awg", say("gauge=%d", int(d*10)), "diameter")
		assert.InEpsilon(t, result(t, "awg", say("gauge=%d", int(d*10)), "resistance"), result(t, "copper", say("d=%gm", gauge), "resistance"), 1e-9)

		c1, c2 := between(1e-9, 1e-3), between(1e-9, 1e-3)
		assert.InEpsilon(t, result(t, "parallel", say("r=%gΩ;%gΩ", c1*1e9, c2*1e9), "total")/1e9, result(t, "series-capacitors", say("c=%gF;%gF", c1, c2), "total"), 1e-9)
		one := result(t, "series-capacitors", say("c=%gF;%gF v=100", c1, c2), "voltage across the smallest")
		assert.InEpsilon(t, 100, one*(1+min(c1, c2)/max(c1, c2)), 1e-9, "both voltages make the whole")

		r1, r2 := between(100, 1000), between(100, 5000)
		a, b := result(t, "regulator-adjust", say("vref=1.25 r1=%gΩ r2=%gΩ iadj=0", r1, r2), "output voltage"), result(t, "feedback-divider", say("vref=1.25 r1=%gΩ r2=%gΩ", r2, r1), "output voltage")
		assert.InEpsilon(t, a, b, 1e-12, "R1 and R2 change places")
		assert.InEpsilon(t, 1.25, result(t, "divider", say("vin=%gV r1=%gΩ r2=%gΩ", a, r2, r1), "output voltage"), 1e-9)

		high, low, duty := between(1, 40), -between(1, 10), 1+98*r.Float64()
		mean, square, wave := result(t, "pulsed-voltage", say("high=%gV low=%gV duty=%g%%", high, low, duty), "average"),
			result(t, "pulsed-voltage", say("high=%gV low=%gV duty=%g%%", high, low, duty), "root mean square"),
			result(t, "pulsed-voltage", say("high=%gV low=%gV duty=%g%%", high, low, duty), "root mean square without the average")
		assert.InEpsilon(t, square*square, mean*mean+wave*wave, 1e-9)

		n := result(t, "transformer", say("v1=230 v2=%gV load=8Ω", volts), "load seen at the primary")
		assert.InEpsilon(t, 230/n, result(t, "transformer", say("v1=230 v2=%gV load=8Ω", volts), "primary current"), 1e-9, "Ohm's law on both sides")

		lamp := 5 + 400*r.Float64()
		assert.InEpsilon(t, result(t, "heater-resistance", say("v=230 p=%gW", lamp), "hot resistance"), result(t, "series-lamp", say("p=%gW", lamp), "resistance of the lamp at full light"), 1e-9)
	}
}

// TestBeyondRanges: below and above every limit in the data the answer is a refusal
// that names the limit, and on the limit there is none for that input.
func TestBeyondRanges(t *testing.T) {
	limits := 0
	for _, f := range Formulas() {
		for _, in := range f.Inputs {
			unit := in.Unit
			if unit = unitByName(unit).symbol(); in.Unit == "number" {
				unit = ""
			}
			text := func(x float64) string { return strings.TrimSpace(strconv.FormatFloat(x, 'g', 12, 64) + " " + unit) }
			try := func(x float64) error {
				_, _, err := in.read(text(x))
				return err
			}
			if in.Low != nil {
				limits++
				assert.NoError(t, try(*in.Low), "%s %s", f.Name, in.Key)
				assert.Error(t, try(*in.Low-1e-3*max(1e-3, math.Abs(*in.Low))), "%s %s", f.Name, in.Key)
			}
			if in.High != nil {
				limits++
				assert.NoError(t, try(*in.High), "%s %s", f.Name, in.Key)
				err := try(*in.High * 1.01)
				if assert.Error(t, err, "%s %s", f.Name, in.Key) && !in.Gauge {
					end, _ := FromFloat(*in.High, 4)
					assert.ErrorContains(t, err, Value{Number: end, Unit: unitByName(in.Unit)}.String(), "%s %s", f.Name, in.Key)
				}
			}
			if in.Above != nil {
				limits++
				assert.ErrorContains(t, try(*in.Above), "must be more than", "%s %s", f.Name, in.Key)
			}
		}
	}
	assert.Greater(t, limits, 100)
}

// TestCautions: what may be live, or charged, says so with the answer; a battery of 9 V
// does not.
func TestCautions(t *testing.T) {
	for _, test := range []struct {
		formula, given string
		says           string
	}{
		{"divider", "vin=325 r1=1M r2=10k", "can kill"}, {"ohms-law", "v=400 i=1", "can kill"}, {"power-vr", "v=230 r=100", "can kill"},
		{"power-ir", "i=2 r=100", "can kill"}, {"buck-ripple", "vin=325 vout=12 l=1m f=100k", "can kill"}, {"rc-time", "v=400 r=1k c=1u t=1s", "can kill"},
		{"led-resistor", "supply=48 forward=3 count=10 current=20m", "can kill"}, {"series-capacitors", "c=10u,10u v=400", "can kill"},
		{"heater-power", "v=230 r=50", "can kill"}, {"heater-power", "v=12 r=50", "leak to earth"}, {"pulsed-voltage", "high=400 duty=50%", "can kill"},
		{"divider", "vin=9 r1=1k r2=1k", ""}, {"ohms-law", "v=9 i=1", ""}, {"corner-rc", "r=1k c=1n", ""},
		{"smoothing-ripple", "i=1 c=1mF", "holds its charge"}, {"series-lamp", "p=60", "stays live"}, {"bleeder", "c=1u v=400 time=1s", "measure"},
		{"transformer", "v1=230 v2=12", "mains"}, {"fuse-check", "printed=2 load=1", "above the print"}, {"peak", "v=230", "Discharge"},
		{"energy", "c=220u v=400", "discharge"}, {"discharge", "c=220u v=400 r=2k2", "Measure after"}, {"touch-current", "c=4.7n", "safety test"},
	} {
		r, err := reckoned(test.formula, test.given)
		require.NoError(t, err, "%s %s", test.formula, test.given)
		all := strings.Join(r.Cautions, " ")
		if test.says == "" {
			assert.Empty(t, all, "%s %s", test.formula, test.given)
			continue
		}
		assert.Contains(t, all, test.says, "%s %s", test.formula, test.given)
	}
	r, err := reckoned("heater-power", "v=12 r=50")
	require.NoError(t, err)
	assert.NotContains(t, r.Cautions, LiveCaution())
}

// TestFormulasAreSound: expressions name inputs and earlier results alone, so that one
// over an optional input is left out for want of it and never for a slip; each required
// input has a place; keys and names are not used twice.
func TestFormulasAreSound(t *testing.T) {
	for _, f := range Formulas() {
		known, used := map[string]bool{}, map[string]bool{}
		for _, in := range f.Inputs {
			assert.False(t, known[in.Key], "%s: %s", f.Name, in.Key)
			known[in.Key] = true
			assert.True(t, in.Unit == "number" || unitByName(in.Unit) != None, "%s: %s", f.Name, in.Unit)
			if in.Default != "" {
				_, _, err := in.read(in.Default)
				assert.NoError(t, err, "%s: %s", f.Name, in.Key)
			}
		}
		for _, r := range f.Refusals {
			for _, name := range namesIn(r.Expr) {
				assert.True(t, known[name], "%s: %s in %s", f.Name, name, r.Expr)
				used[name] = true
			}
			assert.True(t, r.Unless == "" || known[r.Unless], f.Name)
		}
		names := map[string]bool{}
		for _, o := range f.Results {
			for _, name := range namesIn(o.Expr) {
				assert.True(t, known[name], "%s: %s in %s", f.Name, name, o.Expr)
				used[name] = true
			}
			assert.False(t, known[o.Key] || names[o.Name], "%s: %s, %s", f.Name, o.Key, o.Name)
			known[o.Key], names[o.Name] = true, true
			assert.True(t, o.Unit == "number" || unitByName(o.Unit) != None, "%s: %s", f.Name, o.Unit)
		}
		for _, in := range f.Inputs {
			assert.True(t, used[in.Key], "%s: %s is in no expression", f.Name, in.Key)
		}
	}
}
