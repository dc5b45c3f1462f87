package verdict

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/workshop"
)

// read gives the reading of a case at a point and state, in the unit without prefix.
func read(t *testing.T, n *notebook.Notebook, id, point, state string) float64 {
	t.Helper()
	c, ok := n.Case(id)
	require.True(t, ok, id)
	for i := range c.File.Case.Measurements {
		if m := &c.File.Case.Measurements[i]; m.Point == point && m.State == state && m.Reading != nil {
			return m.Reading.Number.Float()
		}
	}
	t.Fatalf("%s has no reading of %s, %s", id, point, state)
	return 0
}

// TestExampleFigures: where a figure of an example case follows from others, it does.
// The laws are those of any circuits text; each is written out here and not taken
// from the program's own formulas.
func TestExampleFigures(t *testing.T) {
	n := workshop.Load(t)
	near := func(what string, want, got, part float64) {
		t.Helper()
		assert.InDelta(t, want, got, math.Abs(want)*part, what)
	}
	// A sawtooth of I/(2 f C) from top to bottom is its height over 2√3 effective.
	const idle, doubled = 0.1, 100.0
	near("ripple of the + rail", idle/doubled/read(t, n, "2025-0002", "C31", "out of circuit")/(2*math.Sqrt(3)),
		read(t, n, "2025-0002", "+rail ripple", "on, no signal"), 0.05)
	near("ripple of the - rail", idle/doubled/read(t, n, "2025-0002", "C32", "out of circuit")/(2*math.Sqrt(3)),
		read(t, n, "2025-0002", "−rail ripple", "on, no signal"), 0.05)
	near("ripple with new reservoirs", idle/doubled/6800e-6/(2*math.Sqrt(3)), 41e-3, 0.05)
	// Cells in series add.
	sum := 0.0
	for _, group := range []string{"1", "2", "3", "4", "5"} {
		sum += read(t, n, "2025-0004", "cell group "+group, "10 A load")
	}
	near("pack under load", sum, read(t, n, "2025-0004", "pack", "10 A load"), 0.001)
	// A residual-current device of 30 mA trips between 15 mA and 30 mA (IEC 61008-1,
	// from memory), and lets what is well below pass.
	leak := 230 / read(t, n, "2025-0008", "live to earth", "warm")
	assert.True(t, leak > 0.015 && leak < 0.030, "%g A trips 30 mA", leak)
	assert.Less(t, 230/read(t, n, "2025-0008", "live to earth", "cold"), 0.015)
	near("power of the element", 230*230/1250.0, read(t, n, "2025-0008", "element", "off"), 0.05)
	// Twice the life for each ten degrees less.
	assert.InDelta(t, 1500, 1000*math.Exp2((85-read(t, n, "2025-0015", "C5 case", "on, one hour"))/10), 50)
	assert.InDelta(t, 12000, 2000*math.Exp2((105-read(t, n, "2025-0015", "C5 case", "on, one hour"))/10), 500)
	// Volts over ohms.
	near("quiescent current in R61", 22e-3*0.22, read(t, n, "2026-0001", "R61", "no signal"), 0.03)
	near("injected power", 0.8, 2*read(t, n, "2025-0010", "3.3 V rail to ground", "off, pack out"), 0.05)
	near("injected current", 0.3/read(t, n, "2026-0027", "+3V3_RF", "off, cell out"), 0.86, 0.01)
	// A divider of the pull-up R4 and what is left of C7.
	const pullUp = 10e3
	cracked := read(t, n, "2026-0029", "C7", "out of circuit")
	near("enable with C7 cracked", read(t, n, "2026-0029", "+5V", "on, standing")*cracked/(pullUp+cracked),
		read(t, n, "2026-0029", "U2.3", "on"), 0.02)
	// The rail less one diode, through the channel that is the other way round.
	near("motor through Q1's diode", read(t, n, "2026-0026", "SYS", "on, standing")-read(t, n, "2026-0026", "Q1 source to drain", "off, pack out"),
		read(t, n, "2026-0026", "MOT_A", "on, standing"), 0.002)
	// The same share low as the divider is high.
	near("meter's error", read(t, n, "2026-0005", "R11", "out of circuit")/9.9e6,
		10/read(t, n, "2026-0005", "10 V reference", "meter under test"), 0.002)
	// A bleeder's time constant, its dissipation, and the discharge by hand.
	assert.InDelta(t, 68, 10e3*6800e-6, 0.5)
	assert.InDelta(t, 240, 10e3*6800e-6*math.Log(38), 15, "four minutes to 1 V")
	assert.Less(t, 220*6800e-6*math.Log(38), 8.0, "eight seconds through 220 Ω")
	assert.Less(t, 38.0*38/220, 10.0, "a resistor of 10 W")
}

// TestExampleCounts: what a case says of how many there were.
func TestExampleCounts(t *testing.T) {
	n := workshop.Load(t)
	words := map[string]int{"second": 2, "Two": 2, "third": 3, "Three": 3}
	for id, says := range map[string]string{"2024-0014": `The (\w+) one this year`, "2024-0016": `(\w+) in a year`} {
		c, _ := n.Case(id)
		m := regexp.MustCompile(says).FindStringSubmatch(c.SectionPlain("Lesson"))
		require.NotNil(t, m, id)
		count := 0
		for _, x := range n.Cases {
			k := &x.File.Case
			if x.Device == c.Device && k.Cause != nil && *k.Cause == *c.File.Case.Cause &&
				strings.HasPrefix(k.Opened, c.File.Case.Opened[:4]) && k.Opened <= c.File.Case.Opened {
				count++
			}
		}
		assert.Equal(t, words[m[1]], count, id)
	}
}

// TestExampleBoards: what the amplifier's sheet says of its bleeders and its relay is
// on its board, and the case of the port lights names what the switch has.
func TestExampleBoards(t *testing.T) {
	n := workshop.Load(t)
	find := func(device, rev string) *notebook.Board {
		d, ok := n.Device(device)
		require.True(t, ok)
		b, ok := d.Board(rev)
		require.True(t, ok)
		return b
	}
	a40 := find("tarnwick-a40", "A40 main rev D")
	nets := func(b *notebook.Board, ref string) (out []string) {
		p, ok := b.Part(ref)
		require.True(t, ok, ref)
		for _, pin := range p.Pins {
			out = append(out, b.Nets[pin.Net].Name)
		}
		return out
	}
	assert.ElementsMatch(t, []string{"+38V", "GND"}, nets(a40, "R8"))
	assert.ElementsMatch(t, []string{"-38V", "GND"}, nets(a40, "R28"))
	// The coil of 24 V with R70 between +38 V and ground, 1.1 kΩ and 680 Ω.
	assert.InDelta(t, 24, 38*1100/(1100.0+680), 1)
	// Each stage of the left side has a way to both rails.
	for ref, want := range map[string][]string{"R7": {"TAIL_L", "-38V"}, "R10": {"VASB_L", "-38V"},
		"R11": {"VAS0_L", "+38V"}, "R73": {"+38V", "RLY_T"}, "Q20": {"RLY_B", "GND", "RLY-"}} {
		assert.ElementsMatch(t, want, nets(a40, ref), ref)
	}
	n8 := find("uldra-n8", "N8 main rev 4")
	assert.Contains(t, nets(n8, "D15"), "K2")
	assert.Equal(t, "K2", nets(n8, "U3")[12], "pin 13")
	assert.Equal(t, "+3V3", nets(n8, "U3")[15], "pin 16")

	// The cars' bridge: P above and N below, the drains on the motor; what each rail's
	// sheet says makes it is between the two on the netlist.
	rover := find("zandeck-rover", "Rover main V1.2")
	for ref, want := range map[string][]string{"Q1": {"GATE1", "SYS", "MOT_A"}, "Q2": {"GATE2", "SYS", "MOT_B"},
		"Q3": {"GATE3", "ISENSE", "MOT_A"}, "Q4": {"GATE4", "ISENSE", "MOT_B"}, "FB1": {"+5V", "SRV+"}, "C7": {"EN_3V3", "GND"},
		"R4": {"+5V", "EN_3V3"}} {
		assert.Equal(t, want, nets(rover, ref), ref)
	}
	// 0.8 V across the lower resistor of the divider, from memory of such converters.
	assert.InDelta(t, 5, 0.8*(1+43.2/8.25), 0.02)
	bm1 := find("tessaly-bm1", "BM1 parent rev 2")
	for ref, want := range map[string][]string{"Q2": {"Q2_G", "+3V3", "+3V3_RF"}, "C9": {"+3V3_RF", "GND"}, "F1": {"VBUS", "VBUS_F"},
		"R5": {"+3V3", "EN_1V8"}, "R4": {"SYS", "EN_3V3"}} {
		assert.Equal(t, want, nets(bm1, ref), ref)
	}
	assert.Equal(t, "+3V3", nets(bm1, "U5")[7], "pin 8, the supply of the flash")
	assert.Equal(t, "X32_1", nets(bm1, "U4")[3])
}
