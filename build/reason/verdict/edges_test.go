package verdict

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/board"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/quantity"
)

// TestDiodeShortEnds: up to 10 mV in either direction is a short in diode mode, above that
// a junction that reads low. Common practice, no source.
func TestDiodeShortEnds(t *testing.T) {
	assert.Equal(t, []string{"short", "low", "low", "short", "low"}, rows(t, "", `| D1 | diode mode | off | 0.4..0.7 V | 0.010 V |
| D2 | diode mode | off | 0.4..0.7 V | 0.011 V |
| D3 | diode mode | off | 0.4..0.7 V | 0.05 V |
| D4 | diode mode | off | 0.4..0.7 V | 8 mV |
| TP2 | voltage | off | 0.4..0.7 V | 8 mV |
`))
}

// TestLearnedLimits: the limits of a point without any are median ± 3.5 MAD / 0.6745, worked
// out by hand after Iglewicz and Hoaglin (1993), or 2 % where all were alike (common
// practice, no source). What is no exact reading with a unit is not held against them.
func TestLearnedLimits(t *testing.T) {
	at := func(reads ...string) []Reading {
		var bodies []string
		for _, read := range reads {
			bodies = append(bodies, measured("| TP2 | voltage | on | 3.3 V ±5 % | "+read+" |"))
		}
		var asked []string
		for _, read := range []string{"3.3 V", "9 V", "> 9 V", "< 1 V", "9", "OL"} {
			asked = append(asked, "| TP2 | voltage | on | | "+read+" |")
		}
		n := book(t, "", append(bodies, measured(asked...))...)
		var out []Reading
		for i := range asked {
			out = append(out, judged(n, len(reads), i))
		}
		return out
	}
	spread := at("3.30 V", "3.31 V", "3.29 V", "3.32 V", "3.30 V") // MAD 0.01: ± 0.0519
	assert.Equal(t, "3.248 V to 3.352 V", spread[0].Limits)
	for i, want := range []quantity.Verdict{quantity.In, quantity.High} {
		assert.Equal(t, want, spread[i].Verdict, i)
	}
	for i := 2; i < len(spread); i++ {
		assert.Equal(t, Reading{}, Reading{Verdict: spread[i].Verdict, Limits: spread[i].Limits, From: spread[i].From}, "row %d", i)
	}
	alike := at("3.3 V", "3.3 V", "3.3 V", "3.3 V", "3.3 V")
	assert.Equal(t, "3.234 V to 3.366 V", alike[0].Limits)
	assert.Contains(t, alike[0].From, "5 past good readings here, median 3.3 V (robust z to 3.5)")
	// A row that was expected and never read teaches nothing and has no verdict.
	unread := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n", "cases/2026-0001.md": "---\ncase: 2026-0001\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\n---\n## Symptom\n\nDark.\n\n" +
		measured("| TP2 | voltage | on | 3.3 V ±5 % | |")})
	assert.Equal(t, Reading{}, judged(unread, 0, 0))
	even := at("3.30 V", "3.40 V", "3.20 V", "3.36 V", "3.26 V", "3.32 V")
	assert.Contains(t, even[0].From, "6 past good readings here, median 3.31 V", "between the two in the middle")
}

// TestPutRightOrNot: what puts a protective part back and what only looks like it.
func TestPutRightOrNot(t *testing.T) {
	head := "## Parts\n\n| ref | part | value | action | fitted | note | when |\n|---|---|---|---|---|---|---|\n"
	const fuse = "| F1 | fuse | 2 A 250 V fast | "
	for _, test := range []struct {
		name, rows string
		want       diagnostic.Severity
	}{
		{"the bridge is taken off again", fuse + "bridged | wire | | |\n" + fuse + "reworked | | | |\n", diagnostic.Note},
		{"the bridge is made better", fuse + "bridged | wire | | |\n" + fuse + "reworked | thicker wire | | |\n", diagnostic.Error},
		{"what is not there cannot be reworked", fuse + "left-off | | | |\n" + fuse + "reworked | | | |\n", diagnostic.Error},
		{"a substitute that fits", fuse + "bridged | wire | | |\n" + fuse + "substituted | 2 A 250 V fast | | |\n", diagnostic.Note},
		{"a substitute that cannot be told", fuse + "bridged | wire | | |\n" + fuse + "substituted | 2 A | | |\n", diagnostic.Error},
		{"replaced, and nobody says by what", fuse + "bridged | wire | | |\n" + fuse + "replaced | | | |\n", diagnostic.Error},
		{"the row that puts it right was found so", fuse + "bridged | wire | | |\n" + fuse + "replaced | same | | found |\n", diagnostic.Error},
		{"without a designator, by its name", "| | Mains  fuse | 2 A 250 V fast | bridged | wire | | |\n| | mains fuse | 2 A 250 V fast | replaced | same | | |\n", diagnostic.Note},
		{"without a designator, another part", "| | mains fuse | 2 A 250 V fast | bridged | wire | | |\n| | motor fuse | 2 A 250 V fast | replaced | same | | |\n", diagnostic.Error},
		{"one with a designator says nothing of one without", "| | fuse | 2 A 250 V fast | bridged | wire | | |\n" + fuse + "replaced | same | | |\n", diagnostic.Error},
	} {
		n := book(t, "", head+test.rows)
		list := New(n).Of(n.Cases[0])
		require.NotEmpty(t, list, test.name)
		assert.Equal(t, diagnostic.ProtectivePart, list[0].Rule, test.name)
		assert.Equal(t, test.want, list[0].Severity, test.name)
		assert.Equal(t, test.want == diagnostic.Note, strings.Contains(list[0].Message, "a later row puts it right"), test.name)
	}
	// A device that was found so: while it is open or fixed it is an error, given up it warns.
	for outcome, want := range map[string]diagnostic.Severity{"": diagnostic.Error, "fixed": diagnostic.Error, "end-of-life": diagnostic.Warning} {
		n := book(t, "", head+fuse+"bridged | wire | | found |\n")
		k := &n.Cases[0].File.Case
		if k.Outcome = outcome; outcome == "" {
			k.Closed = ""
		}
		list := New(n).Of(n.Cases[0])
		require.NotEmpty(t, list)
		assert.Equal(t, want, list[0].Severity, "outcome %q", outcome)
		assert.Contains(t, list[0].Message, "was found so: it was bridged")
	}
}

// TestJobsOfParts: what is lost with a part that is bridged or left off, by what it is
// called. Common practice, no source.
func TestJobsOfParts(t *testing.T) {
	j := New(book(t, ""))
	for _, test := range []struct {
		part casefile.Part
		says string
	}{
		{casefile.Part{Part: "resistor", Value: "10 Ω", Action: "bridged"}, "series: what limited the current is now a wire (10 Ω)"},
		{casefile.Part{Part: "resistor", Value: "10 Ω", Action: "left-off"}, "job not stated: say in the note what it did"},
		{casefile.Part{Part: "diode", Action: "bridged"}, "series: nothing blocks the reverse direction any more"},
		{casefile.Part{Part: "diode", Action: "left-off"}, "job not stated"},
		{casefile.Part{Part: "choke", Action: "left-off"}, "series filter: the path is open without it"},
		{casefile.Part{Part: "choke", Action: "bridged"}, "expect more noise"},
		{casefile.Part{Part: "capacitor", Net: "+5V", Value: "10 µF", Action: "left-off"}, "shunt, decoupling on +5V: that much less capacitance holds the supply (10 µF)"},
		{casefile.Part{Part: "capacitor", Net: "AUDIO_L", Action: "left-off"}, "shunt or coupling: filtering"},
		{casefile.Part{Part: "capacitor", Net: "+5V", Action: "bridged"}, "shunt or coupling: filtering"},
		{casefile.Part{Part: "resistor", Note: "pull-up of SDA", Action: "left-off"}, "pull: the line may float"},
		{casefile.Part{Part: "resistor", Note: "feedback of U3", Action: "left-off"}, "no longer set by it"},
		{casefile.Part{Ref: "W1", Part: "track", Action: "left-off"}, "W1, track, connection: the path goes another way"},
	} {
		out, ok := j.Part(&notebook.Case{}, &test.part)
		require.True(t, ok, "%+v", test.part)
		assert.Contains(t, out.Text, test.says)
		assert.Equal(t, diagnostic.Note, out.Severity)
	}
	bridge := func(p casefile.Part) string {
		out, _ := j.Part(&notebook.Case{}, &p)
		return out.Text
	}
	// 16.78 nΩm (IEC 60028: 0.017241 Ω mm²/m) over 14 mm of 0.2 mm wire is 7.68 mΩ; one length is
	// not enough to tell, and what was left off has no bridge.
	assert.Contains(t, bridge(casefile.Part{Part: "track", Action: "bridged", Fitted: "wire 0.2 mm, 14 mm"}), "the bridge itself has about 7.68")
	assert.NotContains(t, bridge(casefile.Part{Part: "track", Action: "bridged", Fitted: "wire 0.2 mm"}), "the bridge itself")
	assert.NotContains(t, bridge(casefile.Part{Part: "track", Action: "left-off", Fitted: "wire 0.2 mm, 14 mm"}), "the bridge itself")
	for _, quiet := range []casefile.Part{{Part: "capacitor", Value: "10 µF", Action: "substituted"},
		{Part: "capacitor", Action: "substituted", Fitted: "10 µF"}, {Part: "capacitor", Value: "1 µF", Action: "cleaned", Fitted: "2 µF"}} {
		out, ok := j.Part(&notebook.Case{}, &quiet)
		assert.False(t, ok, "%+v: %s", quiet, out.Text)
	}
	// In German the component that is named says what the value is.
	german, ok := j.Part(&notebook.Case{}, &casefile.Part{Part: "Kondensator", Value: "100 nF 16 V X7R", Action: "substituted", Fitted: "100 nF 10 V X7R"})
	require.True(t, ok)
	assert.Contains(t, german.Text, "voltage rating only 10 V")
}

// TestReasonsHaveWords: a reason of fewer than ten letters is none.
func TestReasonsHaveWords(t *testing.T) {
	for note, want := range map[string]string{"reason: abcdefghij": "abcdefghij", "reason: abcdefghi": "", "Found loose. REASON: was like that": "was like that",
		"was like that": "", "": ""} {
		assert.Equal(t, want, reasonOf(&casefile.Part{Note: note}), note)
	}
}

// TestKeysOfParts: what the figures count as one kind of part.
func TestKeysOfParts(t *testing.T) {
	for _, c := range []struct{ part, value, pkg, name, slug string }{
		{"fuse", "2 A 250 V fast", "", "fuse 2 A", "fuse-2-a"},
		{"resistor", "4.7 MΩ", "0603", "resistor 4.7 MΩ 0603", "resistor-4p7-megohm-0603"},
		{"resistor", "4.7 Ω", "", "resistor 4.7 Ω", "resistor-4p7-ohm"},
		{"electrolytic capacitor", "220 µF 35 V", "", "capacitor 220 µF", "capacitor-220-uf"},
		{"fuse", "", "", "", ""},
		{"relay", "24 V coil", "", "", ""},
	} {
		name, slug, ok := Key(&casefile.Part{Part: c.part, Value: c.value, Package: c.pkg})
		assert.Equal(t, []any{c.name, c.slug, c.name != ""}, []any{name, slug, ok}, "%s %s", c.part, c.value)
	}
}

// tap is a board on which each kind of loss stands once: R1 alone leads to U2 and C9; R2 to
// R4 alone; R5 and R6 lie beside each other; R7 has R8 and R9 in series beside it.
func tap() (parts, netlist string) {
	pin := workshop.Pin
	parts = "designator,value,package,x_mm,y_mm,rotation,side\n"
	place := func(rows string) {
		for i, r := range strings.Split(rows, ";") {
			parts += fmt.Sprintf("%s,0603,%d,%d,0,top\n", r, 5*(i%10)+5, 5*(i/10)+5)
		}
	}
	place("R1,10R;R2,10R;R4,1k;R5,10R;R6,10R;R7,10R;R8,10R;R9,10R;R10,10R;R11,10R;C1,10u;C2,30u;C3,odd;C4,1u;C5,1u;C9,1u;R30,1k")
	u := func(rows ...string) string { return workshop.Netlist(rows...) }
	netlist = u(pin("+5V", "R1", "1", 5, 5), pin("OUT1", "R1", "2", 6, 5), pin("OUT1", "U2", "1", 7, 5), pin("OUT1", "C9", "1", 30, 10), pin("GND", "C9", "2", 31, 10), pin("GND", "U2", "2", 8, 5),
		pin("+5V", "R2", "1", 10, 5), pin("OUT2", "R2", "2", 11, 5), pin("OUT2", "R4", "1", 15, 5), pin("GND", "R4", "2", 16, 5),
		pin("+5V", "R5", "1", 20, 5), pin("OUT3", "R5", "2", 21, 5), pin("+5V", "R6", "1", 25, 5), pin("OUT3", "R6", "2", 26, 5),
		pin("+5V", "R7", "1", 30, 5), pin("OUT4", "R7", "2", 31, 5), pin("+5V", "R8", "1", 35, 5), pin("MID", "R8", "2", 36, 5), pin("MID", "R9", "1", 40, 5), pin("OUT4", "R9", "2", 41, 5),
		pin("+5V", "R10", "1", 45, 5), pin("+5V", "R10", "2", 46, 5), pin("GND", "R11", "1", 50, 5), pin("AGND", "R11", "2", 51, 5),
		pin("+5V", "C1", "1", 5, 10), pin("GND", "C1", "2", 6, 10), pin("+5V", "C2", "1", 10, 10), pin("GND", "C2", "2", 11, 10), pin("+5V", "C3", "1", 15, 10), pin("GND", "C3", "2", 16, 10),
		pin("+3V3", "C4", "1", 20, 10), pin("GND", "C4", "2", 21, 10), pin("+3V3", "C5", "1", 25, 10), pin("GND", "C5", "2", 26, 10),
		pin("+5V", "R30", "1", 35, 10), pin("GND", "R30", "2", 36, 10))
	return parts, netlist
}

// TestWordsOfLoss: what is said of a part on a board whose every net can be counted by hand.
func TestWordsOfLoss(t *testing.T) {
	parts, netlist := tap()
	list, bad := board.ReadParts("p.csv", []byte(parts), board.PartsOptions{})
	require.Empty(t, bad)
	nets, bad := board.ReadNetlist("n.ipc", []byte(netlist))
	require.Empty(t, bad)
	b, _ := board.New(list, nets, "tap")
	for _, c := range []struct {
		ref        string
		bridged    bool
		role, lost string
	}{
		{"R1", false, "series, between +5V and OUT1", "OUT1, with 2 other parts, is cut off from +5V; nothing else joins the two"},
		{"R1", true, "series, between +5V and OUT1", "the two are one net now; what it limited, filtered or blocked goes through"},
		{"R2", false, "series, between +5V and OUT2", "OUT2, with 1 other part, is cut off from +5V; nothing else joins the two"},
		{"R5", false, "series, between +5V and OUT3", "the two stay joined by R6 alone"},
		{"R7", false, "series, between +5V and OUT4", "the two stay joined by a longer way"},
		{"R10", false, "link on one net", "nothing, as both its ends are on one net"},
		{"R11", false, "tie between grounds", "the two grounds may drift apart"},
		// 10 µF of 40 µF go; C3 has no value that can be read.
		{"C1", false, "shunt, from +5V to ground", "2 capacitors left on it, 30 µF of 40 µF, 25 % gone (1 of them have no value that can be read); measure the ripple"},
		{"C3", false, "shunt, from +5V to ground", "2 capacitors left on it, 40 µF of 40 µF, 0 % gone; measure the ripple"},
		{"C4", false, "shunt, from +3V3 to ground", "1 capacitor left on it, 1 µF of 2 µF, 50 % gone; measure the ripple"},
		{"C9", false, "shunt, from OUT1 to ground", "0 capacitors left on it, nothing of 1 µF, 100 % gone; measure the ripple"},
		{"C9", true, "shunt, from OUT1 to ground", "OUT1 is short to ground"},
		{"R30", false, "shunt, from +5V to ground", "nothing stands from +5V to ground here any more"},
	} {
		p, ok := b.Part(c.ref)
		require.True(t, ok, c.ref)
		role, lost := LossWords(fmt.Sprintf, b, p, c.bridged)
		assert.Equal(t, []string{c.role, c.lost}, []string{role, lost}, c.ref)
	}
}

// onTap gives what is said of rows of Parts and points of Measurements of a case on that board.
func onTap(t *testing.T, body string) (out []string) {
	t.Helper()
	parts, netlist := tap()
	n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n",
		"devices/tap.md":     "---\ndevice: tap\nkind: portable-radio\nmaker: Oke\nmodel: T\nboards: [B1]\n---\n",
		"devices/tap/b1.csv": parts,
		"devices/tap/b1.ipc": netlist,
		"cases/2026-0001.md": "---\ncase: 2026-0001\ntitle: T\ndevice: tap\nboard: B1\nopened: 2026-01-02\nsymptoms: [no-power]\nhazards: [esd]\n---\n## Symptom\n\nDead.\n\n" + body})
	require.Zero(t, n.Errors(), "%v", n.Problems)
	for _, d := range New(n).Of(n.Cases[0]) {
		if d.Rule == diagnostic.BoardPart || d.Rule == diagnostic.BoardPoint {
			out = append(out, d.Severity.String()+": "+d.Message)
		}
	}
	return out
}

// TestRowsAgainstTheBoard: what a row of Parts may leave out or write in another way, and what
// differs from the board.
func TestRowsAgainstTheBoard(t *testing.T) {
	head := "## Parts\n\n| ref | part | value | package | net | action | fitted | note |\n|---|---|---|---|---|---|---|---|\n"
	const tail = "; correct it, or begin the note with \"reason:\" and say why it differs"
	for row, want := range map[string]string{
		"| R1 | resistor | | | | replaced | same | |":                                   "",
		"| R1 | resistor | 10 Ω | 0603 | +5V | replaced | same | |":                     "",
		"| R1 | resistor | 10 | 0603 | +5V to OUT1 | replaced | same | |":               "",
		"| R1 | resistor | 10 Ω | 0603 | 5v to out 1 | replaced | same | |":             "",
		"| R1 | resistor | 22 Ω | | | replaced | same | |":                              "error: R1 is 10R on B1, not 22 Ω" + tail,
		"| R1 | resistor | 10 kΩ | | | replaced | same | |":                             "error: R1 is 10R on B1, not 10 kΩ" + tail,
		"| C1 | capacitor | 22 µF | | | replaced | same | |":                            "error: C1 is 10u on B1, not 22 µF" + tail,
		"| C3 | capacitor | 22 µF | | | replaced | same | |":                            "",
		"| R1 | resistor | | 0805 | | replaced | same | |":                              "error: R1 has the package 0603 on B1, not 0805" + tail,
		"| R1 | resistor | | oddly shaped | | replaced | same | |":                      "",
		"| R1 | resistor | | | -5V | replaced | same | |":                               "error: R1 is on +5V and OUT1 of B1, not on -5V" + tail,
		"| R1 | resistor | | | +5V to OUT2 | replaced | same | |":                       "error: R1 is on +5V and OUT1 of B1, not on +5V to OUT2" + tail,
		"| R77 | resistor | | | | replaced | same | |":                                  "error: R77 is not on B1" + tail,
		"| R1 | resistor | 22 Ω | | | replaced | same | reason: changed by the maker |": "warning: R1 is 10R on B1, not 22 Ω; stated reason: changed by the maker",
		"| R1, R77 | resistor | 22 Ω | | | replaced | same | |":                         "error: R77 is not on B1" + tail,
		"| R1, R2 | resistor | 22 Ω | | | replaced | same | |":                          "",
	} {
		assert.Equal(t, want, strings.Join(onTap(t, head+row+"\n"), "\n"), row)
	}
	points := "## Measurements\n\n| point | what | state | expected | read |\n|---|---|---|---|---|\n| C1 | voltage | on | | 5 V |\n| C77 to R1 | voltage | on | | 5 V |\n| the plug | voltage | on | | 5 V |\n"
	assert.Equal(t, []string{"warning: C77 is not on B1"}, onTap(t, points))
}

// TestHazardsNobodyWrote: when check asks for a hazard, for which, and at which line.
func TestHazardsNobodyWrote(t *testing.T) {
	said := func(kind, head, symptom string) string {
		n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n", "cases/2026-0001.md": "---\ncase: 2026-0001\ntitle: T\ndevice: {kind: " + kind + "}\nopened: 2026-01-02\n" +
			head + "---\n## Symptom\n\n" + symptom + "\n"})
		require.Zero(t, n.Errors(), "%v", n.Problems)
		var out []string
		for _, d := range New(n).Problems() {
			if d.Rule == diagnostic.NoHazard {
				out = append(out, fmt.Sprintf("%d %s", d.Line, d.Message))
			}
		}
		return strings.Join(out, "\n")
	}
	for _, c := range []struct{ name, kind, head, symptom, want string }{
		{"a kettle", "kettle", "symptoms: [no-heat]\n", "Stays cold.", "4 a device of this kind usually runs on mains"},
		{"a kettle that says so", "kettle", "symptoms: [no-heat]\nhazards: [mains]\n", "Stays cold.", ""},
		{"a kettle that says another", "kettle", "symptoms: [no-heat]\nhazards: [pressure-hot-water]\n", "Stays cold.", ""},
		{"a radio", "portable-radio", "symptoms: [no-power]\n", "Dead.", ""},
		{"a charger was opened", "portable-radio", "symptoms: [no-power]\n", "Opened the charger.", "4 Symptom says that something was opened that holds mains and stored-charge, and the case does not say so; write hazards: [mains, stored-charge]"},
		{"and one hazard was known", "portable-radio", "symptoms: [no-power]\nhazards: [mains]\n", "Opened the charger.", "7 Symptom says that something was opened that holds stored-charge, and the case does not say so; write hazards: [mains, stored-charge]"},
		{"a swollen pack", "portable-radio", "symptoms: [swollen-battery]\n", "The pack is thick.", "6 the text tells of a danger that calls for lithium, and neither the case nor its device says so; write hazards: [lithium]"},
		{"that was said", "portable-radio", "symptoms: [swollen-battery]\nhazards: [lithium]\n", "The pack is thick.", ""},
		{"beside another", "portable-radio", "symptoms: [swollen-battery]\nhazards: [esd]\n", "The pack is thick.", "6 the text tells of a danger that calls for lithium, and neither the case nor its device says so; write hazards: [esd, lithium]"},
		{"smoke alone calls for none", "portable-radio", "symptoms: [smoke]\n", "It smoked.", ""},
		{"an imported case", "kettle", "symptoms: [no-heat]\nsource: {standard: open-repair-data, provider: Records, id: x_1}\n", "Stays cold.", ""},
	} {
		got := said(c.kind, c.head, c.symptom)
		if c.want == "" {
			assert.Empty(t, got, c.name)
			continue
		}
		assert.Contains(t, got, c.want, c.name)
		assert.Equal(t, 1, strings.Count(got, "write hazards:"), c.name)
	}
}

// TestEarthAndInsulationEnds: rows that state no limits are held against 1 Ω and 1 MΩ (common
// practice, no source); a current that leaks has limits of its own kind and is not judged.
func TestEarthAndInsulationEnds(t *testing.T) {
	const earth, insulated = "| case to earth pin | resistance | off | < 0.2 Ω | 0.1 Ω | | after |\n", "| live to case | insulation | 500 V | > 1 MΩ | 120 MΩ | | after |\n"
	for row, want := range map[string]string{
		"| earth of the lid | resistance | off | | 0.99 Ω | | after |\n": "",
		"| earth of the lid | resistance | off | | 1.1 Ω | | after |\n":  "earth is lost",
		"| earth of the lid | resistance | off | | 1.1 | | after |\n":    "",
		"| live to lid | insulation | 500 V | | 1.1 MΩ | | after |\n":    "",
		"| live to lid | insulation | 500 V | | 0.9 MΩ | | after |\n":    "insulation has failed",
		"| live to lid | insulation | 500 V | | OL | | after |\n":        "",
		"| live to lid | leakage current | on | | 30 mA | | after |\n":   "",
		"| the lamp | resistance | off | | 5 MΩ | | after |\n":           "",
	} {
		var said []string
		for _, d := range closed(t, "I", "", readings+earth+insulated+row) {
			said = append(said, d.Message)
		}
		if want == "" {
			assert.Empty(t, said, row)
			continue
		}
		require.Len(t, said, 1, row)
		assert.Contains(t, said[0], want, row)
	}
}

// TestImportedAreCounted: imported repairs without a record are one note with their number.
func TestImportedAreCounted(t *testing.T) {
	files := map[string]string{"notebook.yaml": "name: T\n"}
	for i := range 3 {
		files[fmt.Sprintf("cases/2026-000%d.md", i+1)] = fmt.Sprintf("---\ncase: 2026-000%d\ntitle: T\ndevice: {kind: kettle}\nopened: 2026-01-02\nclosed: 2026-01-03\nsymptoms: [no-heat]\nhazards: [mains]\n"+
			"outcome: %s\nsource: {standard: open-repair-data, provider: Records, id: x_%d}\n---\n## Symptom\n\nCold.\n", i+1, []string{"fixed", "fixed", "end-of-life"}[i], i)
	}
	var said []string
	for _, d := range New(workshop.Book(t, files)).Problems() {
		if d.Rule == diagnostic.NoAcceptance {
			said = append(said, d.Message)
		}
	}
	assert.Equal(t, []string{"2 imported repairs on mains without a record of earth, insulation and function after them"}, said)
}

// TestFunctionsOfTheMeter: each kind of reading has the accuracy of the function that it was
// taken with, and no other's.
func TestFunctionsOfTheMeter(t *testing.T) {
	meter := "meter:\n"
	for i, f := range []string{"voltage 400 V 10 mV", "ac-voltage 400 V 10 mV", "diode 4 V 1 mV", "current 4 A 1 mA", "capacitance 400 µF 1 nF", "frequency 4 MHz 1 Hz", "temperature 400 °C 100 m°C"} {
		w := strings.Fields(f)
		meter += fmt.Sprintf("  %s: [{range: %s %s, percent: %d, counts: 0, resolution: %s %s}]\n", w[0], w[1], w[2], i+1, w[3], w[4])
	}
	meter = strings.Replace(meter, "100 m°C", "1 °C", 1)
	assert.Equal(t, []string{"in ±1 V", "in ±2 V", "in ±2 V", "in ±15 mV", "in ±40 mA", "in ±5 µF", "in ±60 Hz", "in ±7 °C"}, rows(t, meter, `| a | voltage | on | > 1 V | 100 V |
| b | AC voltage | on | > 1 V | 100 V |
| c | ripple | on | > 1 V | 100 V |
| d | diode mode | off | > 0.1 V | 0.5 V |
| e | current | on | > 0.1 A | 1 A |
| f | capacitance | off | > 1 µF | 100 µF |
| g | frequency | on | > 10 Hz | 1 kHz |
| h | temperature | on | > 10 °C | 100 °C |
`))
}
