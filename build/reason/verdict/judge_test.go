package verdict

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/quantity"
)

// book writes a notebook with a device record and the given cases' bodies.
func book(t testing.TB, config string, bodies ...string) *notebook.Notebook {
	t.Helper()
	dir := t.TempDir()
	write := func(name, text string) {
		path := filepath.Join(dir, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	write("notebook.yaml", "name: Y\n"+config)
	write("devices/d.md", "---\ndevice: d\nkind: lamp\nmaker: Velm\nmodel: D\n---\n## Reference readings\n\n| point | what | state | expected |\n|---|---|---|---|\n| TP1 | voltage | on | 5 V ±5 % |\n")
	for i, body := range bodies {
		write(fmt.Sprintf("cases/2026-%04d.md", i+1),
			fmt.Sprintf("---\ncase: 2026-%04d\ntitle: T\ndevice: d\nboard: B\nopened: 2026-01-02\nclosed: 2026-01-02\nsymptoms: [hum]\ncause: {fault: wear, at: relay}\noutcome: fixed\nconfirmed: yes, it was\n---\n%s", i+1, body))
	}
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	require.Zero(t, n.Errors(), "%v", n.Problems)
	return n
}

func measured(rows ...string) string {
	return "## Measurements\n\n| point | what | state | expected | read |\n|---|---|---|---|---|\n" + strings.Join(rows, "\n") + "\n"
}

func judged(n *notebook.Notebook, caseIndex, row int) Reading {
	c := n.Cases[caseIndex]
	return New(n).Reading(c, &c.File.Case.Measurements[row])
}

// TestRobustZ: M = 0.6745 (x - median)/MAD with the limit 3.5, after Iglewicz
// and Hoaglin (1993) as in the NIST/SEMATECH handbook 1.3.5.17; the figures are
// worked out from that formula.
func TestRobustZ(t *testing.T) {
	x := []float64{2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3}
	mid, mad := spread(x)
	assert.InDelta(t, 2.45, mid, 1e-12)
	assert.InDelta(t, 0.15, mad, 1e-12)
	z := robustZ(x)
	assert.InDelta(t, 25.86, z[8], 0.005)
	assert.InDelta(t, 26.31, z[9], 0.005)
	assert.InDelta(t, -1.574, z[0], 0.0005)
	outliers := 0
	for _, m := range z {
		if m > zLimit || m < -zLimit {
			outliers++
		}
	}
	assert.Equal(t, 2, outliers)
	assert.Equal(t, []float64{0, 0, 0}, robustZ([]float64{3, 3, 3}), "nothing is far from others that are all the same")
	mid, mad = spread([]float64{1, 1, 2, 2, 4, 6, 9})
	assert.Equal(t, []float64{2, 1}, []float64{mid, mad})
}

// TestWhereLimitsComeFrom: the row, then the device's record, then the past.
func TestWhereLimitsComeFrom(t *testing.T) {
	var bodies []string
	for _, read := range []string{"3.30", "3.31", "3.29", "3.32", "3.30"} {
		bodies = append(bodies, measured("| TP2 | voltage | on | 3.3 V ±5 % | "+read+" V |"))
	}
	bodies = append(bodies, measured("| TP1 | voltage | on | | 4 V |", "| TP1 | voltage | off | | 4 V |",
		"| TP2 | voltage | on | | 3.5 V |", "| TP2 | voltage | on | | 3.31 V |",
		"| tp2  | voltage | standby | 3 V..4 V | 3.5 V |", "| TP2  | voltage | Standby | | 3.5 V |"))
	n := book(t, "", bodies...)
	device := judged(n, 5, 0)
	assert.Equal(t, quantity.Low, device.Verdict)
	assert.Equal(t, "the device's reference readings", device.From)
	assert.Equal(t, "4.75 V to 5.25 V", device.Limits)
	assert.Equal(t, quantity.NoVerdict, judged(n, 5, 1).Verdict, "another state is another point")
	past := judged(n, 5, 2)
	assert.Equal(t, quantity.High, past.Verdict)
	assert.Contains(t, past.From, "5 past good readings here, median 3.3 V")
	assert.Equal(t, quantity.In, judged(n, 5, 3).Verdict)
	row := judged(n, 5, 4)
	assert.Equal(t, quantity.In, row.Verdict)
	assert.Empty(t, row.From, "the row's own limits come first")
	assert.Empty(t, row.Guard)
	assert.Equal(t, quantity.NoVerdict, judged(n, 5, 5).Verdict, "one past reading is too few")

	few := book(t, "", append(bodies[:4:4], measured("| TP2 | voltage | on | | 9 V |"))...)
	assert.Equal(t, quantity.NoVerdict, judged(few, 4, 0).Verdict, "four readings are too few")
}

// TestFoundSwap: a wrong part that somebody else had put in warns until a later row puts
// the right one back.
func TestFoundSwap(t *testing.T) {
	n := book(t, "")
	wrong := casefile.Part{Ref: "Q1", Part: "P-channel MOSFET", Value: "30 V 4 A", Package: "SOT-23", Action: "substituted",
		Fitted: "N-channel MOSFET 30 V 5.8 A", When: casefile.Found}
	again := wrong
	again.When = ""
	right := wrong
	right.Action, right.Fitted, right.When = "replaced", "same", ""
	for _, c := range []struct {
		rows []casefile.Part
		want diagnostic.Severity
	}{{[]casefile.Part{wrong}, diagnostic.Warning}, {[]casefile.Part{wrong, right}, diagnostic.Note},
		{[]casefile.Part{wrong, again}, diagnostic.Warning}} {
		x := &notebook.Case{File: &casefile.File{Document: &casefile.Document{Text: diagnostic.NewText("c.md", nil)}}, Device: &notebook.Device{}}
		x.File.Case.Parts = c.rows
		var got []diagnostic.Diagnostic // of the row that was found
		for _, d := range New(n).Of(x) {
			if d.Rule == diagnostic.PartSwap {
				got = append(got, d)
			}
		}
		require.Len(t, got, len(c.rows)-strings.Count(c.rows[len(c.rows)-1].Fitted, "same"))
		assert.Equal(t, c.want, got[0].Severity)
		assert.Equal(t, c.want == diagnostic.Note, strings.Contains(got[0].Message, "a later row puts it right"))
	}
}

// TestGuardBand: the meter's accuracy decides what is too close to call.
func TestGuardBand(t *testing.T) {
	meter := "meter:\n  voltage:\n    - {range: 40 V, percent: 0.5, counts: 2, resolution: 10 mV}\n    - {range: 4 V, percent: 0.5, counts: 2, resolution: 1 mV}\n"
	n := book(t, meter, measured("| a | voltage | on | 3.3 V ±5 % | 3.15 V |",
		"| b | voltage | on | 3.3 V ±5 % | 3.2 V |", "| c | voltage | on | > 12 V | 12.05 V |",
		"| d | resistance | off | > 1 Ω | 1.01 Ω |", "| e | voltage | on | > 100 V | 101 V |"))
	a := judged(n, 0, 0)
	assert.Equal(t, quantity.TooClose, a.Verdict)
	assert.Equal(t, "±17.8 mV", a.Guard) // 0.5 % of 3.15 V + 2 × 1 mV = 17.75 mV
	assert.Equal(t, quantity.In, judged(n, 0, 1).Verdict)
	c := judged(n, 0, 2)
	assert.Equal(t, "±80.3 mV", c.Guard) // 0.5 % of 12.05 V + 2 × 10 mV = 80.25 mV
	assert.Equal(t, quantity.TooClose, c.Verdict)
	for _, i := range []int{3, 4} {
		r := judged(n, 0, i)
		assert.Empty(t, r.Guard, "no accuracy is given there")
		assert.Equal(t, quantity.In, r.Verdict)
	}
}

func TestParts(t *testing.T) {
	j := New(book(t, ""))
	c := &notebook.Case{}
	for _, test := range []struct {
		part     casefile.Part
		severity diagnostic.Severity
		rule     diagnostic.Rule
		says     string
	}{
		{casefile.Part{Part: "ceramic capacitor", Value: "100 nF 16 V X7R", Package: "0402", Action: "substituted",
			Fitted: "100 nF 25 V X7R"}, diagnostic.Note, diagnostic.PartSwap, "fits"},
		{casefile.Part{Part: "ceramic capacitor", Value: "100 nF 16 V X7R", Action: "substituted",
			Fitted: "100 nF 10 V X7R"}, diagnostic.Warning, diagnostic.PartSwap, "voltage rating only 10 V"},
		{casefile.Part{Part: "chip fuse", Value: "2 A 32 V fast", Action: "substituted", Fitted: "3 A 32 V fast"},
			diagnostic.Error, diagnostic.ProtectivePart, "current rating 3 A"},
		{casefile.Part{Part: "chip fuse", Value: "2 A 32 V fast", Action: "replaced", Fitted: "3 A 32 V fast"},
			diagnostic.Error, diagnostic.ProtectivePart, "does not fit"},
		{casefile.Part{Part: "relay", Value: "24 V coil", Action: "substituted", Fitted: "something"},
			diagnostic.Note, diagnostic.PartSwap, "cannot tell"},
		{casefile.Part{Ref: "C1", Part: "capacitor", Value: "10 µF", Net: "+3V3", Action: "left-off"},
			diagnostic.Note, diagnostic.PartLeftOff, "decoupling on +3V3"},
		{casefile.Part{Ref: "L1", Part: "ferrite bead", Net: "VBUS", Action: "bridged", Fitted: "solder"},
			diagnostic.Note, diagnostic.PartBridged, "more noise"},
		{casefile.Part{Part: "track", Action: "bridged", Fitted: "wire 0.2 mm, 14 mm"}, diagnostic.Note,
			diagnostic.PartBridged, "7.683 mΩ"},
		{casefile.Part{Ref: "R6", Part: "resistor", Value: "22 Ω 0.1 W", Action: "bridged",
			Fitted: "wire 0.2 mm, 14 mm"}, diagnostic.Note, diagnostic.PartBridged, "the part had 22 Ω"},
		{casefile.Part{Ref: "R5", Part: "sense resistor", Value: "0R1", Action: "bridged"}, diagnostic.Note,
			diagnostic.PartBridged, "no longer seen"},
		{casefile.Part{Ref: "F1", Part: "chip fuse", Value: "2 A", Action: "bridged"}, diagnostic.Error,
			diagnostic.ProtectivePart, "marked found under when"},
		{casefile.Part{Part: "thermal cut-out", Action: "left-off"}, diagnostic.Error, diagnostic.ProtectivePart, "cannot be switched off"},
		{casefile.Part{Part: "suppression capacitor", Value: "100 nF X2", Action: "left-off"}, diagnostic.Error,
			diagnostic.ProtectivePart, "left off"},
		{casefile.Part{Part: "varistor", Action: "left-off"}, diagnostic.Error, diagnostic.ProtectivePart, ""},
		{casefile.Part{Part: "NTC thermistor", Action: "bridged"}, diagnostic.Error, diagnostic.ProtectivePart, ""},
		{casefile.Part{Part: "fuse", Action: "bridged", Note: "reason: short"}, diagnostic.Error, diagnostic.ProtectivePart, ""},
		{casefile.Part{Part: "fuse", Action: "bridged", Note: "reason: as found, put right in the next row"},
			diagnostic.Error, diagnostic.ProtectivePart, "stated reason: as found"},
	} {
		out, ok := j.Part(c, &test.part)
		require.True(t, ok, "%+v", test.part)
		assert.Equal(t, test.severity, out.Severity, "%+v: %s", test.part, out.Text)
		assert.Equal(t, test.rule, out.Rule)
		assert.Contains(t, out.Text, test.says)
	}
	for _, quiet := range []casefile.Part{{Part: "fuse", Value: "2 A", Action: "replaced", Fitted: "same"},
		{Part: "capacitor", Value: "1 µF", Action: "reworked"},
		{Part: "capacitor", Value: "100 nF 16 V", Action: "replaced", Fitted: "100 nF 25 V"}} {
		_, ok := j.Part(c, &quiet)
		assert.False(t, ok, "%+v", quiet)
	}
}

// TestProtectiveParts: however a part that protects is called, bridging it, leaving it
// off and fitting something worse are errors that no reason and no setting answers.
// Common practice, no source.
func TestProtectiveParts(t *testing.T) {
	j := New(book(t, "rules: {off: [part-swap, part-left-off, part-bridged, fuse-rating, fuse-voltage, capacitor-capacitance]}\n"))
	none := &notebook.Case{}
	for _, name := range []string{"fuse", "mains fuse", "micro-fuse", "fusible link", "thermal fuse",
		"thermal cut-off", "thermal cutout", "thermal cut out", "thermostat", "bimetal switch", "overheat sensor",
		"over-temperature switch",
		"fusible resistor", "X capacitor", "X2 capacitor", "x-cap", "class X capacitor", "class-Y1 capacitor",
		"Y capacitor", "Y-cap", "interference capacitor", "suppression capacitor", "suppressor", "bleeder",
		"bleeder resistor", "bleed resistor", "discharge resistor",
		"varistor", "MOV", "VDR", "TVS", "TVS diode", "transient suppressor", "crowbar zener", "crow-bar thyristor",
		"gas tube", "gas discharge tube", "gas arrester", "surge arrester", "spark gap", "polyfuse", "poly fuse",
		"resettable fuse", "PTC", "NTC",
		"optocoupler", "opto-isolator", "photocoupler", "isolating transformer", "isolation barrier", "mica washer",
		"insulating washer", "insulator", "earth lead", "earth wire", "earthing screw", "protective conductor",
		"ground strap", "ground connection", "PE wire",
		"door switch", "lid switch", "tilt switch", "pressure switch", "door interlock", "interlock",
		"emergency stop", "safety valve", "relief valve", "circuit breaker", "breaker", "RCD",
		"residual current device", "battery protection board", "cell protection", "BMS", "current limit resistor", "current limiter"} {
		for _, row := range []casefile.Part{{Part: name, Action: "bridged"}, {Part: name, Action: "left-off"},
			{Part: name, Action: "bridged", Note: "reason: customer wanted it today"},
			{Part: name, Value: "2 A", Action: "replaced", Fitted: "wire 0.5 mm"},
			{Part: name, Value: "2 A", Action: "substituted", Fitted: "solder bridge"}} {
			out, ok := j.Part(none, &row)
			require.True(t, ok, "%+v", row)
			assert.Equal(t, diagnostic.Error, out.Severity, "%+v: %s", row, out.Text)
			assert.Equal(t, diagnostic.ProtectivePart, out.Rule, name)
		}
	}
	for _, test := range []struct {
		part     casefile.Part
		severity diagnostic.Severity
	}{
		{casefile.Part{Part: "fuse", Value: "2 A 250 V fast", Action: "replaced", Fitted: "same, 10 A"}, diagnostic.Error},
		{casefile.Part{Part: "fuse", Value: "2 A 250 V fast", Action: "replaced", Fitted: "same but 32 V"}, diagnostic.Error},
		{casefile.Part{Part: "fuse", Value: "2 A 250 V fast ceramic", Action: "replaced", Fitted: "same, glass"}, diagnostic.Error},
		{casefile.Part{Part: "fuse", Value: "2 A 250 V fast", Action: "replaced",
			Fitted: "2 A 250 V fast, brand new old stock"}, diagnostic.Note},
		{casefile.Part{Part: "fuse", Value: "2 A 250 V fast", Action: "substituted", Fitted: "2 A 250 V"}, diagnostic.Warning},
		{casefile.Part{Part: "capacitor", Value: "4.7 nF Y2 250 V", Action: "substituted", Fitted: "6.8 nF Y2 250 V"}, diagnostic.Error},
		{casefile.Part{Part: "capacitor", Value: "100 nF X2 275 V", Action: "replaced", Fitted: "100 nF 275 V film"}, diagnostic.Error},
		{casefile.Part{Part: "resistor, fusible", Value: "10 Ω 1 W", Action: "substituted",
			Fitted: "carbon film 10 Ω 1 W"}, diagnostic.Error},
		{casefile.Part{Part: "thermal fuse", Value: "125 °C 10 A 250 V", Action: "replaced",
			Fitted: "152 °C 10 A 250 V"}, diagnostic.Error},
	} {
		out, ok := j.Part(none, &test.part)
		require.True(t, ok, "%+v", test.part)
		assert.Equal(t, test.severity, out.Severity, "%+v: %s", test.part, out.Text)
	}
	for _, quiet := range []casefile.Part{{Part: "fuse", Value: "2 A 250 V fast", Action: "replaced", Fitted: "same"},
		{Part: "fuse", Value: "2 A 250 V fast", Action: "replaced", Fitted: "same type, new"},
		{Part: "fuse", Value: "2 A 250 V fast", Action: "replaced", Fitted: "2 A 250 V fast"},
		{Part: "fuse holder", Action: "cleaned"}, {Part: "thermal cut-out", Action: "moved"}} {
		out, ok := j.Part(none, &quiet)
		assert.False(t, ok, "%+v: %s", quiet, out.Text)
	}
}

// TestPutRight: a later row that puts the part back answers the error; one that was
// found so and stays does not leave a repaired device alone.
func TestPutRight(t *testing.T) {
	head := "## Parts\n\n| ref | part | value | action | fitted | note | when |\n|---|---|---|---|---|---|---|\n"
	bridged, found := "| F1 | fuse | 2 A 250 V fast | bridged | wire | | |\n", "| F1 | fuse | 2 A 250 V fast | bridged | wire | | found |\n"
	for _, test := range []struct {
		rows string
		want diagnostic.Severity
	}{
		{bridged, diagnostic.Error},
		{bridged + "| F1 | fuse | 2 A 250 V fast | replaced | same | | |\n", diagnostic.Note},
		{bridged + "| F1 | fuse | | replaced | 2 A 250 V fast | | |\n", diagnostic.Note},
		{bridged + "| F1 | fuse | 2 A 250 V fast | replaced | 10 A 250 V fast | | |\n", diagnostic.Error},
		{bridged + "| F2 | fuse | 2 A 250 V fast | replaced | same | | |\n", diagnostic.Error},
		{bridged + "| F1 | fuse | 2 A 250 V fast | cleaned | | | |\n", diagnostic.Error},
		{"| F1 | fuse | 2 A 250 V fast | replaced | same | | |\n" + bridged, diagnostic.Error},
		{found, diagnostic.Error},
		{found + "| F1 | fuse | 2 A 250 V fast | replaced | same | | |\n", diagnostic.Note},
	} {
		n := book(t, "", head+test.rows)
		n.Cases[0].File.Case.Outcome, n.Cases[0].File.Case.Closed = "fixed", "2026-01-03"
		worst := diagnostic.Note
		for _, p := range New(n).Of(n.Cases[0]) {
			if p.Rule == diagnostic.ProtectivePart && p.Severity < worst || p.Severity == diagnostic.Error && worst != diagnostic.Error {
				worst = p.Severity
			}
		}
		assert.Equal(t, test.want, worst, test.rows)
	}
	n := book(t, "", head+found)
	n.Cases[0].File.Case.Outcome, n.Cases[0].File.Case.Closed = "end-of-life", "2026-01-03"
	list := New(n).Of(n.Cases[0])
	require.Len(t, list, 1)
	assert.Equal(t, diagnostic.Warning, list[0].Severity, "it goes to nobody")
}

// TestRulesOff: rules can be switched off, the protective one cannot.
func TestRulesOff(t *testing.T) {
	parts := "## Parts\n\n| ref | part | value | action | fitted |\n|---|---|---|---|---|\n| C1 | capacitor | 100 nF 16 V X7R | substituted | 100 nF 10 V X7R |\n| C2 | capacitor | 1 µF | left-off | |\n| F1 | fuse | 2 A | bridged | wire |\n"
	rules := func(config string) (out []diagnostic.Rule) {
		for _, p := range New(book(t, config, parts)).Problems() {
			out = append(out, p.Rule)
		}
		return out
	}
	assert.Equal(t, []diagnostic.Rule{diagnostic.PartSwap, diagnostic.PartLeftOff, diagnostic.ProtectivePart}, rules(""))
	assert.Equal(t, []diagnostic.Rule{diagnostic.PartLeftOff, diagnostic.ProtectivePart}, rules("rules: {off: [capacitor-voltage]}\n"))
	assert.Equal(t, []diagnostic.Rule{diagnostic.ProtectivePart}, rules("rules: {off: [part-swap, part-left-off]}\n"))
	assert.Contains(t, rules("rules: {off: [protective-part]}\n"), diagnostic.WrongValue)
	assert.Contains(t, rules("rules: {off: [protective-part]}\n"), diagnostic.ProtectivePart)
	for _, p := range New(book(t, "rules: {off: [part-swp]}\n", parts)).Problems() {
		if p.Rule == diagnostic.WrongValue {
			assert.Equal(t, "part-swap", p.Suggestion)
		}
	}
}

func TestMeterIsChecked(t *testing.T) {
	for config, says := range map[string]string{
		"meter: {voltage: [{range: 4 V, percent: 1, counts: 1, resolution: 1 mV}]}\n":     "",
		"meter: {voltage: [{range: four, percent: 1, counts: 1, resolution: 1 mV}]}\n":    "range: no number",
		"meter: {voltage: [{range: 4 V, percent: 1, counts: 1, resolution: 1 xV}]}\n":     "resolution: ",
		"meter: {voltage: [{range: 4 A, percent: 1, counts: 1, resolution: 1 mA}]}\n":     "do not both measure voltage",
		"meter: {resistance: [{range: 4 kΩ, percent: 1, counts: 1, resolution: 1 mV}]}\n": "do not both measure resistance",
	} {
		list := New(book(t, config)).Problems()
		if says == "" {
			assert.Empty(t, list)
			continue
		}
		require.Len(t, list, 1, config)
		assert.Contains(t, list[0].Message, says)
	}
}

func TestKey(t *testing.T) {
	a, slugA, ok := Key(&casefile.Part{Part: "ceramic capacitor", Value: "0,1 µF 16 V X7R", Package: "0402"})
	require.True(t, ok)
	b, slugB, ok := Key(&casefile.Part{Part: "capacitor", Value: "100n", Package: "0402"})
	require.True(t, ok)
	assert.Equal(t, a, b)
	assert.Equal(t, slugA, slugB)
	assert.Equal(t, "capacitor 100 nF 0402", a)
	_, milli, _ := Key(&casefile.Part{Part: "resistor", Value: "1 mΩ"})
	_, mega, _ := Key(&casefile.Part{Part: "resistor", Value: "1 MΩ"})
	assert.NotEqual(t, milli, mega, "lower case must not join milli and mega")
	for _, p := range []casefile.Part{{Part: "relay, two poles", Value: "24 V coil, 5 A"}, {Part: "capacitor"},
		{Part: "cable", Value: "40 pins"}, {}} {
		_, _, ok := Key(&p)
		assert.False(t, ok, "%+v", p)
	}
}

// TestExample: what the example notebook is to show.
func TestExample(t *testing.T) {
	n := workshop.Load(t)
	j := New(n)
	actions, fromDevice, tooClose := map[string]int{}, 0, 0
	for _, c := range n.Cases {
		for i := range c.File.Case.Measurements {
			r := j.Reading(c, &c.File.Case.Measurements[i])
			if r.From != "" {
				fromDevice++
			}
			if r.Verdict == quantity.TooClose {
				tooClose++
			}
		}
		for _, p := range c.File.Case.Parts {
			actions[p.Action]++
		}
	}
	withReferences := 0
	for _, d := range n.Devices {
		if d.Record != nil && len(d.Record.Device.References) > 0 {
			withReferences++
		}
	}
	assert.GreaterOrEqual(t, withReferences, 4)
	assert.Positive(t, fromDevice)
	assert.Equal(t, 1, tooClose)
	for _, a := range []string{"bridged", "left-off", "substituted"} {
		assert.Positive(t, actions[a], a)
	}
	for _, p := range j.Problems() {
		assert.NotEqual(t, diagnostic.Error, p.Severity, p.String())
	}
}

// TestNotJudged: an expected value without a tolerance is not judged and says so;
// the workshop's own tolerance judges it and says whose it is.
func TestNotJudged(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "cases"), 0o755))
	text := "---\ncase: 2026-0001\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: []\n---\n## Symptom\n\nx\n\n## Measurements\n\n| point | expected | read |\n|---|---|---|\n| a | 3.3 V | 3.4 V |\n| b | ca. 12 V | 12 V |\n| c | beep | 0.3 Ω |\n| d | | 5 V |\n| e | 100 Ω | 103 Ω |\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, "cases", "2026-0001.md"), []byte(text), 0o644))
	says := func(settings string) (out []string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "notebook.yaml"), []byte("name: B\n"+settings), 0o644))
		n, err := notebook.Load(dir)
		require.NoError(t, err)
		require.Empty(t, n.Problems)
		j := New(n)
		k := &n.Cases[0].File.Case
		for i := range k.Measurements {
			r := j.Reading(n.Cases[0], &k.Measurements[i])
			out = append(out, r.Verdict.String()+"/"+r.Unjudged+"/"+r.From)
		}
		for _, d := range j.Problems() {
			out = append(out, string(d.Rule)+" "+d.Severity.String())
		}
		return out
	}
	none, open := "/"+NoTolerance+"/", "/"+NotDecided+"/"
	assert.Equal(t, []string{none, none, open, "//", none, "not-judged note", "not-judged note", "not-judged note",
		"not-judged note"}, says(""))
	assert.Equal(t, []string{"in//the workshop's tolerance of ±5 % for voltage",
		"in//the workshop's tolerance of ±5 % for voltage", open, "//",
		"high//the workshop's tolerance of ±2 % for resistance", "not-judged note"}, says("tolerance: {voltage: 5, resistance: 2}\n"))
}

// TestDiodeShort: in diode mode a drop of nothing is a short, a small one is low.
// Common practice, no source.
func TestDiodeShort(t *testing.T) {
	n := book(t, "", "## Measurements\n\n| point | what | state | expected | read |\n|---|---|---|---|---|\n| D1 | diode mode | unpowered | 0.4..0.7 V | 0.000 V |\n| D2 | diode mode | unpowered | 0.4..0.7 V | 0.2 V |\n| TP1 | voltage | on | 3.3 V ±5 % | 0.000 V |\n")
	j := New(n)
	for i, want := range []quantity.Verdict{quantity.Short, quantity.Low, quantity.Low} {
		assert.Equal(t, want, j.Reading(n.Cases[0], &n.Cases[0].File.Case.Measurements[i]).Verdict, i)
	}
}

// rows judges rows of Measurements and gives verdict or reason of each.
func rows(t *testing.T, settings, table string) (out []string) {
	t.Helper()
	n := book(t, settings, "## Measurements\n\n| point | what | state | expected | read |\n|---|---|---|---|---|\n"+table)
	j := New(n)
	for i := range n.Cases[0].File.Case.Measurements {
		r := j.Reading(n.Cases[0], &n.Cases[0].File.Case.Measurements[i])
		said := r.Verdict.String() + r.Unjudged
		if r.Guard != "" {
			said += " " + r.Guard
		}
		out = append(out, said)
	}
	return out
}

// TestInCircuit: what lies beside a resistor makes it read lower and nothing makes it
// read higher, since conductances add. Outside check: 10 kΩ with 10 kΩ beside it reads
// 5 kΩ, by G = G1 + G2.
func TestInCircuit(t *testing.T) {
	assert.Equal(t, []string{InCircuit, "high", "in", "low", "low", "low", "low", "short"}, rows(t, "", `| R5 | resistance | off | 10 kΩ ±5 % | 5 kΩ |
| R5 | resistance | off | 10 kΩ ±5 % | 12 kΩ |
| R5 | resistance | off | 10 kΩ ±5 % | 9.9 kΩ |
| R5 | resistance | out of circuit | 10 kΩ ±5 % | 5 kΩ |
| R5 | resistance | one end lifted | 10 kΩ ±5 % | 5 kΩ |
| heating element | resistance | off | 43 Ω ±5 % | 30 Ω |
| 3.3 V rail to ground | resistance | off | > 500 Ω | 90 Ω |
| R5 | resistance | off | 10 kΩ ±5 % | 0.2 Ω |
`))
}

// TestDiodeNumbers: a bare number in diode mode is in volts or millivolts as the
// notebook says; where it does not say, only a fraction is certain to be in volts.
func TestDiodeNumbers(t *testing.T) {
	table := "| D1 | diode mode | off | 0.4..0.7 V | 0.45 |\n| D1 | diode mode | off | 0.4..0.7 V | 450 |\n| D1 | diode mode | off | 0.4..0.7 V | 2 |\n| D1 | diode mode | off | 0.4..0.7 V | OL |\n| D1 | diode mode | off | 0.4..0.7 V | 450 mV |\n| TP1 | voltage | on | 400..700 V | 450 |\n"
	assert.Equal(t, []string{"in", DiodeUnit, DiodeUnit, "open", "in", "in"}, rows(t, "", table))
	assert.Equal(t, []string{"short", "in", "short", "open", "in", "in"}, rows(t, "diode-numbers: mV\n", table))
	assert.Equal(t, []string{"in", "high", "high", "open", "in", "in"}, rows(t, "diode-numbers: V\n", table))
}

// TestOtherInstruments: an insulation tester and four wires have limits of error of
// their own, and OL has none.
func TestOtherInstruments(t *testing.T) {
	meter := "meter: {resistance: [{range: 40 MΩ, percent: 1, counts: 0, resolution: 10 kΩ}, {range: 40 Ω, percent: 10, counts: 0, resolution: 10 mΩ}], insulation: [{range: 400 MΩ, percent: 5, counts: 0, resolution: 100 kΩ}], four-wire: [{range: 4 Ω, percent: 0.1, counts: 0, resolution: 1 mΩ}]}\n"
	assert.Equal(t, []string{"in ±1 MΩ", "in ±200 kΩ", "in ±1 mΩ", "in ±100 mΩ", "in"}, rows(t, meter, `| live to earth | insulation | off | > 1 MΩ | 20 MΩ |
| live to earth | resistance | off | > 1 MΩ | 20 MΩ |
| shunt | resistance | off, four wires | 0.9..1.1 Ω | 1 Ω |
| shunt | resistance | off | 0.5..1.5 Ω | 1 Ω |
| live to earth | insulation | off | > 1 MΩ | OL |
`))
}

// TestWhatTeaches: limits are learned from readings that were good, whole and of the
// same kind; a number without a unit has that of what was expected.
func TestWhatTeaches(t *testing.T) {
	rows := func(reads ...string) (out []string) {
		for _, read := range reads {
			out = append(out, measured("| TP2 | voltage | on | 3.3 V ±5 % | "+read+" |"))
		}
		return append(out, measured("| TP2 | voltage | on | | 9 V |"))
	}
	for _, last := range []string{"2.9 V", "OL", "< 3.4 V", "3.4 mV"} {
		n := book(t, "", rows("3.30 V", "3.31 V", "3.29 V", "3.32 V", last)...)
		assert.Equal(t, quantity.NoVerdict, judged(n, 5, 0).Verdict, "%s teaches nothing, and four are too few", last)
	}
	n := book(t, "", rows("3.30", "3.31", "3.29", "3.32", "3.30")...)
	assert.Equal(t, quantity.High, judged(n, 5, 0).Verdict, "volts were expected, so volts were read")
}

// TestRangeHoldsItsEnd: a range of 4 V is the one for 4 V; beyond it the next is.
func TestRangeHoldsItsEnd(t *testing.T) {
	meter := "meter:\n  voltage:\n    - {range: 4 V, percent: 1, counts: 0, resolution: 1 mV}\n    - {range: 40 V, percent: 2, counts: 0, resolution: 10 mV}\n"
	n := book(t, meter, measured("| a | voltage | on | 5 V ±5 % | 4 V |", "| b | voltage | on | 5 V ±5 % | 4.1 V |",
		"| c | voltage | on | -5 V ±5 % | -4 V |"))
	assert.Equal(t, []string{"±40 mV", "±82 mV", "±40 mV"}, []string{judged(n, 0, 0).Guard, judged(n, 0, 1).Guard, judged(n, 0, 2).Guard})
}

// TestProtectiveIsSaid: whoever shows the judgement of a part can tell that it protects
// people, and why it is as it is.
func TestProtectiveIsSaid(t *testing.T) {
	j := New(book(t, ""))
	fuse, ok := j.Part(&notebook.Case{}, &casefile.Part{Part: "fuse", Value: "2 A 250 V fast", Action: "bridged"})
	require.True(t, ok)
	assert.True(t, fuse.Protective)
	resistor, ok := j.Part(&notebook.Case{}, &casefile.Part{Part: "resistor", Value: "10k", Action: "left-off"})
	require.True(t, ok)
	assert.False(t, resistor.Protective)
}

// TestBadMeterEntry names the entry by its number in the list.
func TestBadMeterEntry(t *testing.T) {
	n := book(t, "meter:\n  voltage:\n    - {range: 4 V, percent: 1, counts: 0, resolution: 1 mV}\n    - {range: 4 A, percent: 1, counts: 0, resolution: 1 mV}\n")
	list := New(n).Problems()
	require.NotEmpty(t, list)
	assert.Contains(t, list[0].Message, "meter: voltage: entry 2:")
}

// TestOwnResistance: what a part had by its own value, where that says so.
func TestOwnResistance(t *testing.T) {
	for _, c := range []struct{ part, value, want string }{
		{"resistor", "10R 0603", "10 Ω"}, {"inductor", "10 µH DCR 30 mΩ", "30 mΩ"}, {"capacitor", "100 nF", ""}, {"resistor", "", ""},
	} {
		assert.Equal(t, c.want, ownResistance(&casefile.Part{Part: c.part, Value: c.value}), "%s %s", c.part, c.value)
	}
}
