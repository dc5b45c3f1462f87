package verdict

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/diagnostic"
)

// TestMistakesAreCaught puts one mistake at a time into a copy of the example:
// in each board's files, each fastener map, and each case that names parts of a
// board.
func TestMistakesAreCaught(t *testing.T) {
	dir := workshop.Dir(t)
	find := func(id string) string {
		found, err := filepath.Glob(filepath.Join(dir, "cases", "*", id+"-*.md"))
		require.NoError(t, err)
		require.Len(t, found, 1)
		return found[0]
	}
	device := func(name string) string { return filepath.Join(dir, "devices", filepath.FromSlash(name)) }
	problems := func() []diagnostic.Diagnostic {
		n, err := notebook.Load(dir)
		require.NoError(t, err)
		list := slices.Concat(n.Problems, New(n).Problems())
		return slices.DeleteFunc(list, func(d diagnostic.Diagnostic) bool { return d.Severity != diagnostic.Error })
	}
	require.Empty(t, problems())
	for name, c := range map[string]struct{ file, old, new, says string }{
		"laptop's parts":    {device("aldermoor-hb4/hb4-main-rev-3.csv"), "\nF2,", "\nF1,", `designator "F1" stands on line`},
		"laptop's netlist":  {device("aldermoor-hb4/hb4-main-rev-3.ipc"), "X+185", "Y+185", "a place such as"},
		"switch's parts":    {device("uldra-n8/n8-main-rev-4.csv"), "\nU4,", "\nU1,", `designator "U1" stands on line`},
		"amplifier's parts": {device("tarnwick-a40/a40-main-rev-d.csv"), "snap-in 30 mm,45,85", "snap-in 30 mm,45,1e12", "at most 2000 mm"},

		"laptop's fasteners": {device("aldermoor-hb4.md"), "fasteners: 11", "fasteners: 12",
			"the table counts 11 fasteners and this says 12"},
		"switch's fasteners":    {device("uldra-n8.md"), "| B | board", "| A | board", `mark "A" stands on line`},
		"amplifier's fasteners": {device("tarnwick-a40.md"), "| inside | silicone", "| insid | silicone", `did you mean "inside"?`},
		"kettle's fasteners":    {device("pellgrove-k17.md"), "tri-lobe | ST3.5 | 12", "tri-lob | ST3.5 | 12", `did you mean "tri-lobe"?`},
		"drill's fasteners": {device("kestrin-d18.md"), "| 12 | 2 | 40; 45 |", "| 12 | 3 | 40; 45 |",
			"the row counts 3 and gives 2 places"},
		"coffee's fasteners": {device("brenwick-c2.md"), "| 10 | 2 | 70; 140 |", "| 10 | 2 | 70; 1400 |", "lies outside back"},
		"a length":           {device("brenwick-c2.md"), "| ST4 | 10 |", "| ST4 | long |", "length is in mm"},
		"a torque":           {device("aldermoor-hb4.md"), "20 N cm", "tight", "torque is a number"},
		"a plug's part":      {device("aldermoor-hb4.md"), "| J5 |", "| J55 |", "which no board of the device has"},
		"a spare's part":     {device("uldra-n8.md"), "| L2 | drawer", "| L22 | drawer", "L22, which no board of the device has"},
		"a point twice": {device("uldra-n8.md"), "| U3.16 | voltage | on, at rest |",
			"| 3.3 V at U1 | voltage | on, at rest |", "stands twice"},

		"C341's value":   {find("2025-0010"), "10 µF 6.3 V X5R", "1 µF 6.3 V X5R", "C341 is 10u 6.3V X5R on HB4 main rev 3, not 1 µF"},
		"C341's net":     {find("2025-0010"), "| 0603 | +3V3 |", "| 0603 | +5V |", "C341 is on +3V3 and GND"},
		"insulation":     {find("2026-0019"), "| > 1 MΩ | 95 MΩ | passed |", "| > 1 MΩ | 0.95 MΩ | passed |", "so it did not pass"},
		"injected amps":  {find("2025-0010"), "| 1 V | 2 A |", "| 1 A | 2 A |", "volts is in volt"},
		"F2's package":   {find("2026-0007"), "| 0603 |", "| 1206 |", "F2 has the package 0603"},
		"L2's name":      {find("2026-0010"), "| L2 | power", "| L22 | power", "L22 is not on N8 main rev 4"},
		"Q9's net":       {find("2026-0013"), "| TO-3P | +38 V |", "| TO-3P | −38 V |", "Q9 is on"},
		"fasteners lost": {find("2026-0013"), "{out: 8, in: 8}", "{out: 8, in: 7}", "8 fasteners came out and 7 went back in"},
		"too many":       {find("2026-0013"), "{out: 8, in: 8}", "{out: 80, in: 80}", "knows 18"},
		"not counted in": {find("2026-0013"), "{out: 8, in: 8}", "{out: 8}", "say how many went back in"},
	} {
		t.Run(name, func(t *testing.T) {
			src, err := os.ReadFile(c.file)
			require.NoError(t, err)
			require.Contains(t, string(src), c.old)
			require.NoError(t, os.WriteFile(c.file, []byte(strings.Replace(string(src), c.old, c.new, 1)), 0o644))
			defer func() { require.NoError(t, os.WriteFile(c.file, src, 0o644)) }()
			var said strings.Builder
			for _, d := range problems() {
				said.WriteString(d.String() + "\n")
				assert.Positive(t, d.Line, d.String())
			}
			assert.Contains(t, said.String(), c.says)
		})
	}
	// A stated reason makes a warning of what differs.
	file := find("2026-0013")
	src, err := os.ReadFile(file)
	require.NoError(t, err)
	next := strings.Replace(strings.Replace(string(src), "| TO-3P | +38 V |", "| TO-3P | −38 V |", 1),
		"pair changed together", "reason: the print on this board says otherwise", 1)
	require.NoError(t, os.WriteFile(file, []byte(next), 0o644))
	assert.Empty(t, problems())
	require.NoError(t, os.WriteFile(file,
		[]byte(strings.Replace(string(src), "{out: 8, in: 8}", "{out: 8, in: 7, reason: one was missing on arrival}", 1)), 0o644))
	assert.Empty(t, problems())
}

// TestWorkOnTheBoard: what records of work name is on the board, and a rail is not given
// more than it is made for.
func TestWorkOnTheBoard(t *testing.T) {
	for _, c := range []struct{ old, new, says string }{
		{"| +3V3 | 1 V |", "| +3V3 | 5 V |", "5 V is more than +3V3 is made for, 3.3 V ±5 %"},
		{"| +3V3 | 1 V |", "| +3V33 | 1 V |", `HB4 main rev 3 has no net "+3V33"; did you mean "+3V3"?`},
		{"| C341 | SAC305", "| C3411 | SAC305", "HB4 main rev 3 has no C3411"},
	} {
		dir := workshop.Dir(t)
		file := filepath.Join(dir, "cases", "2025", "2025-0010-laptop-dead-short-on-3-3-v.md")
		src, err := os.ReadFile(file)
		require.NoError(t, err)
		require.Contains(t, string(src), c.old)
		require.NoError(t, os.WriteFile(file, []byte(strings.Replace(string(src), c.old, c.new, 1)), 0o644))
		n, err := notebook.Load(dir)
		require.NoError(t, err)
		var said strings.Builder
		for _, d := range n.Problems {
			said.WriteString(d.String() + "\n")
		}
		assert.Contains(t, said.String(), c.says)
	}
}

// TestMissingPartsOnBoards: what the example's board says of a part that was
// left off or bridged.
func TestMissingPartsOnBoards(t *testing.T) {
	n := workshop.Load(t)
	d, _ := n.Device("aldermoor-hb4")
	b := d.Boards[0]
	for ref, want := range map[string][2]string{
		"C341": {"shunt, from +3V3 to ground", "86 µF of 96 µF, 10 % gone"},
		"F2":   {"series, between LED_OUT and LED_SUPPLY", "nothing else joins the two"},
		"L1":   {"series, between CHG_SW and CHG_CSP", "cut off from"},
		"R901": {"series, between CHG_CSP and BAT+", "cut off from"},
		"D1":   {"shunt, from DCIN to ground", "nothing stands from DCIN to ground here any more"},
	} {
		p, ok := b.Part(ref)
		require.True(t, ok, ref)
		role, lost := LossWords(fmt.Sprintf, b.Board, p, false)
		assert.Contains(t, role, strings.SplitN(want[0], ",", 2)[0], ref)
		assert.Contains(t, lost, want[1], ref)
	}
	p, _ := b.Part("C341")
	_, lost := LossWords(fmt.Sprintf, b.Board, p, true)
	assert.Equal(t, "+3V3 is short to ground", lost)
	c, _ := n.Case("2025-0010")
	out, ok := New(n).Part(c, &c.File.Case.Parts[0])
	require.True(t, ok)
	assert.Contains(t, out.Text, "86 µF of 96 µF")
}
