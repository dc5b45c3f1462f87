package pins

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/reason/verdict"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/quantity"
)

// readings is a notebook with a plug J1 of three pins and a test point, and a case for
// each list of measurement rows.
func readings(t *testing.T, cases ...string) (*notebook.Notebook, *notebook.Device) {
	t.Helper()
	files := map[string]string{}
	write := func(name, text string) { files[name] = text }
	write("notebook.yaml", "name: W\n")
	write("devices/w-b1.md", "---\ndevice: w-b1\nkind: amplifier\nmaker: W\nmodel: B1\nboards: [B1 main]\n---\n## Reference readings\n\n"+
		"| point | what | state | expected |\n|---|---|---|---|\n| J1.2 | diode, red on ground | off | 0.3..0.5 V |\n")
	write("devices/w-b1/b1-main.csv", "designator,value,package,x_mm,y_mm,rotation,side\nJ1,plug,4x4 mm,5,5,0,top\nTP7,,1x1 mm,9,9,0,top\n")
	write("devices/w-b1/b1-main.ipc", workshop.Netlist(workshop.Pin("VIN", "J1", "1", 4, 5), workshop.Pin("D+", "J1", "2", 5, 5),
		workshop.Pin("GND", "J1", "10", 6, 5), workshop.Pin("D+", "TP7", "1", 9, 9)))
	for i, rows := range cases {
		write(fmt.Sprintf("cases/2026-%04d.md", i+1), fmt.Sprintf("---\ncase: 2026-%04d\ntitle: T\ndevice: w-b1\nopened: 2026-01-02\nclosed: 2026-01-02\n"+
			"symptoms: [hum]\ncause: {fault: joint-cracked, at: power-supply}\noutcome: fixed\nconfirmed: an hour\n---\n## Symptom\n\nHums.\n\n## Measurements\n\n"+
			"| point | what | state | expected | read |\n|---|---|---|---|---|\n%s\n", i+1, rows))
	}
	n := workshop.Book(t, files)
	require.Zero(t, n.Errors(), "%v", n.Problems)
	d, _ := n.Device("w-b1")
	return n, d
}

func tables(t *testing.T, cases ...string) []Table {
	n, d := readings(t, cases...)
	return Tables(n, verdict.New(n), d, d.Boards[0])
}

func shown(r Row) string {
	var others []string
	for _, o := range r.Others {
		others = append(others, fmt.Sprintf("%s %s %s %v", o.Case, o.Read, o.Verdict, o.Odd))
	}
	return fmt.Sprintf("%s %s %s|%s|%s|%d %s %s %s|%s", r.Pin, r.Net, r.What, r.State, r.Expected, r.Good, r.Median, r.Low, r.High, strings.Join(others, "; "))
}

// TestTables: readings of a pin are gathered over cases by what and state however they are
// spelled; good ones give median and range, the odd come first, then pins in order.
func TestTables(t *testing.T) {
	good := "| J1.1 | voltage | on | 12 V ±10 %% | %s |"
	list := tables(t, fmt.Sprintf(good, "12.0 V"), fmt.Sprintf(good, "12.4 V"), fmt.Sprintf(good, "11.8 V"),
		"| j1.1 | Voltage | ON | 12 V ±10 % | 3 V |\n| J1.10 | resistance | off | < 1 Ω | 0.2 Ω |\n| J1-2 | diode, red on ground | off | | OL |",
		"| J1.2 | diode, red on ground | off | | 0.41 V |\n| J1.1 | voltage | off | | 0 V |\n| the plug | voltage | on | 12 V | 12 V |\n| TP7 | voltage | on | 3.3 V ±5 % | 3.3 V |")
	require.Len(t, list, 2)
	var got []string
	for _, r := range list[0].Rows {
		got = append(got, shown(r))
	}
	assert.Equal(t, []string{
		"J1.1 VIN voltage|on||3 12 V 11.8 V 12.4 V|2026-0004 3 V low true",
		"J1.2 D+ diode, red on ground|off|0.3..0.5 V|1 410 mV 410 mV 410 mV|2026-0004 OL open true",
		"J1.1 VIN voltage|off||0   |2026-0005 0 V  false",
		"J1.10 GND resistance|off||1 200 mΩ 200 mΩ 200 mΩ|",
	}, got)
	assert.Equal(t, [2]float64{4, 5}, list[0].Rows[0].At)
	require.Equal(t, "TP7", list[1].Ref, "a test point is its one pin")
	assert.Equal(t, "TP7.1", list[1].Rows[0].Pin)
}

// TestOddWithoutLimits: what nobody gave limits for is odd where two good boards or more
// show something else, and is not judged by one.
func TestOddWithoutLimits(t *testing.T) {
	good := "| J1.10 | resistance | off | 90..110 Ω | %s |"
	bare := "| J1.10 | resistance | off | | %s |"
	odd := func(goods, read string) bool {
		var cases []string
		for _, g := range strings.Fields(goods) {
			cases = append(cases, fmt.Sprintf(good, g+" Ω"))
		}
		return tables(t, append(cases, fmt.Sprintf(bare, read))...)[0].Rows[0].Odd
	}
	assert.False(t, odd("100", "300 Ω"), "one good board is no range")
	assert.True(t, odd("100 102", "300 Ω"))
	assert.True(t, odd("100 102", "OL"))
	assert.True(t, odd("100 102", "80 Ω"))
	assert.False(t, odd("100 102", "116 Ω"), "within 15 % of the median beyond the range")
	assert.False(t, odd("100 102", "86 Ω"))
	assert.True(t, odd("100 102", "118 Ω"))
}

// TestDoubtIsNoGoodReading: a reading of which nobody knows what it is of is not counted
// among the good ones of its pin, though it lies within the sheet's limits.
func TestDoubtIsNoGoodReading(t *testing.T) {
	n, _ := readings(t, "| J1-2 | diode, red on ground | off | | 0.41 V |\n| J1-2 | bananas | off | | 0.41 V |")
	c := n.Cases[0]
	e, err := quantity.ParseExpectation("0.3..0.5 V")
	require.NoError(t, err)
	for i, good := range []int{1, 0} {
		row := &Row{expectation: e, good: map[string]bool{}}
		(&gatherer{n: n, rows: map[key]*Row{}}).put(row, verdict.Reading{}, c, &c.File.Case.Measurements[i])
		assert.Len(t, row.good, good)
	}
}
