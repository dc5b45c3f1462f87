package casefile

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/diagnostic"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

const caseHead = "---\ncase: 2026-0001\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\n"

// checkOf parses and checks a case, and keeps what rules say.
func checkOf(t *testing.T, src string, of ...diagnostic.Rule) (found []diagnostic.Diagnostic) {
	t.Helper()
	f, list := Parse("cases/2026-0001.md", []byte(src))
	if f != nil {
		list = append(list, f.Check(terms.Builtin(), nil)...)
	}
	diagnostic.Sort(list)
	for _, d := range list {
		if slices.Contains(of, d.Rule) {
			found = append(found, d)
		}
	}
	return found
}

// measuredRow is a case with one row of readings, which is on line 15.
func measuredRow(what, expected, read string) string {
	return caseHead + "---\n## Symptom\n\nDark.\n\n## Measurements\n\n| point | what | state | expected | read |\n|---|---|---|---|---|\n" +
		fmt.Sprintf("| TP1 | %s | on | %s | %s |\n", what, expected, read)
}

// TestMeasuredRows goes through rows that must and must not be named. Units and what they
// measure are those of the SI brochure (BIPM, 9th edition, table 4); what benches write is
// common practice, no source.
func TestMeasuredRows(t *testing.T) {
	const none = diagnostic.Rule("")
	for _, test := range []struct {
		what, expected, read  string
		rule                  diagnostic.Rule
		severity              diagnostic.Severity
		column, suggest, says string
	}{
		{"bananas", "3.3 V ±5 %", "3.3 V", diagnostic.UnknownWhat, diagnostic.Warning, "what", "", `"bananas"`},
		{"voltge", "3.3 V ±5 %", "3.3 V", diagnostic.UnknownWhat, diagnostic.Warning, "what", "voltage", "not judged"},
		{"the usual", "", "3.3 V", diagnostic.UnknownWhat, diagnostic.Warning, "what", "", ""},
		{"resistance", "3.3 V ±5 %", "3.3 V", diagnostic.WhatUnit, diagnostic.Error, "read", "", `read: "3.3 V" is a voltage, and what says "resistance", which is read in Ω or S`},
		{"resistance to ground", "", "3.3 V", diagnostic.WhatUnit, diagnostic.Error, "read", "", "voltage"},
		{"resistance", "3.3 V ±5 %", "3.3", diagnostic.WhatUnit, diagnostic.Error, "expected", "", `expected: "3.3 V ±5 %" is a voltage`},
		{"Widerstand nach Masse", "", "12 mV", diagnostic.WhatUnit, diagnostic.Error, "read", "", "Widerstand nach Masse"},
		{"résistance", "", "1 A", diagnostic.WhatUnit, diagnostic.Error, "read", "", "is a current"},
		{"AC voltage", "", "4.7 kΩ", diagnostic.WhatUnit, diagnostic.Error, "read", "", "read in V"},
		{"voltage", "", "beep", diagnostic.WhatUnit, diagnostic.Error, "read", "", "is a resistance"},
		{"voltage", "beep", "", diagnostic.WhatUnit, diagnostic.Error, "expected", "", `expected: "beep" is a resistance`},
		{"mV", "", "4 kΩ", diagnostic.WhatUnit, diagnostic.Error, "read", "", "read in V"},
		{"capacitance", "", "12 mA", diagnostic.WhatUnit, diagnostic.Error, "read", "", "read in F"},
		{"temperature", "", "12 V", diagnostic.WhatUnit, diagnostic.Error, "read", "", "°C"},

		{"", "3.3 V ±5 %", "3.3 V", none, 0, "", "", ""},
		{"voltage", "3.3 V ±5 %", "3.3 V", none, 0, "", "", ""},
		{"voltage across R4", "", "12 mV", none, 0, "", "", ""},
		{"ripple at C12", "< 50 mV", "12 mV", none, 0, "", "", ""},
		{"ripple", "", "3 %", none, 0, "", "", ""},
		{"resistance to ground", "> 1 kΩ", "OL", none, 0, "", "", ""},
		{"diode, red on ground", "", "0.52", none, 0, "", "", ""},
		{"diode drop", "", "480 mV", none, 0, "", "", ""},
		{"insulation", "> 1 MΩ", "> 200 MΩ", none, 0, "", "", ""},
		{"leakage current", "", "0.02 mA", none, 0, "", "", ""},
		{"current sense", "", "12 mV", none, 0, "", "", ""},
		{"shunt, mV", "", "1.2 A", none, 0, "", "", ""},
		{"power", "", "5 V", none, 0, "", "", ""},
		{"gain", "", "12 dB", none, 0, "", "", ""},
		{"voltage", "", "-3 dB", none, 0, "", "", ""},
		{"time at full current", "", "2 h", none, 0, "", "", ""},
		{"speed", "", "33.3 /min", none, 0, "", "", ""},
		{"V DC", "", "12 V", none, 0, "", "", ""},
		{"mV", "", "12 mV", none, 0, "", "", ""},
		{"V min", "", "3.1 V", none, 0, "", "", ""},
		{"R to ground", "", "12 Ω", none, 0, "", "", ""},
		{"L to N", "", "230 V", none, 0, "", "", ""},
		{"Spannung", "12 V ±5 %", "12,1 V", none, 0, "", "", ""},
		{"Durchgang", "beep", "beep", none, 0, "", "", ""},
		{"Restwelligkeit", "", "12 mV", none, 0, "", "", ""},
		{"tension à vide", "", "12 V", none, 0, "", "", ""},
		{"chute de tension", "", "120 mV", none, 0, "", "", ""},
		{"weerstand", "", "12 Ω", none, 0, "", "", ""},

		{"voltage", "3.3 V ±500 %", "3.3 V", diagnostic.LooseTolerance, diagnostic.Error, "expected", "", "500 % reaches down to -13.2 V"},
		{"voltage", "3.3 V ±5000000 ppm", "3.3 V", diagnostic.LooseTolerance, diagnostic.Error, "expected", "", "±5 %"},
		{"voltage", "3.3 V +5/-120 %", "3.3 V", diagnostic.LooseTolerance, diagnostic.Error, "expected", "", "120 %"},
		{"voltage", "-12 V ±101 %", "-12 V", diagnostic.LooseTolerance, diagnostic.Error, "expected", "", "101 %"},
		{"voltage", "3.3 V ±100 %", "3.3 V", diagnostic.LooseTolerance, diagnostic.Warning, "expected", "", "is it meant so"},
		{"capacitance", "100 µF +300/-20 %", "100 µF", diagnostic.LooseTolerance, diagnostic.Warning, "expected", "", "300 %"},
		{"capacitance", "100 µF +100/-10 %", "100 µF", none, 0, "", "", ""},
		{"capacitance", "100 µF ±20 %", "100 µF", none, 0, "", "", ""},
		{"offset voltage", "5 mV ±20 mV", "5 mV", none, 0, "", "", ""},
		{"offset", "0 V ±50 mV", "5 mV", none, 0, "", "", ""},
		{"humidity", "2 % ±300 %", "2 %", none, 0, "", "", ""},
	} {
		t.Run(test.what+" "+test.expected+" "+test.read, func(t *testing.T) {
			found := checkOf(t, measuredRow(test.what, test.expected, test.read), diagnostic.UnknownWhat, diagnostic.WhatUnit, diagnostic.LooseTolerance)
			if test.rule == none {
				assert.Empty(t, found)
				return
			}
			require.Len(t, found, 1)
			d := found[0]
			assert.Equal(t, test.rule, d.Rule)
			assert.Equal(t, test.severity, d.Severity)
			assert.Equal(t, 15, d.Line)
			marked := string([]rune(d.Source)[d.Column-1 : d.Column-1+d.Length])
			assert.Equal(t, map[string]string{"what": test.what, "expected": test.expected, "read": test.read}[test.column], marked)
			assert.Equal(t, test.suggest, d.Suggestion)
			assert.Contains(t, d.Message, test.says)
		})
	}
}

// TestOneErrorForOneUnit: a reading that goes neither with what nor with what was expected
// is named once.
func TestOneErrorForOneUnit(t *testing.T) {
	found := checkOf(t, measuredRow("resistance", "4.7 kΩ ±5 %", "3.3 V"), diagnostic.WhatUnit, diagnostic.BadQuantity)
	require.Len(t, found, 1)
	assert.Equal(t, diagnostic.BadQuantity, found[0].Rule)
}

// TestDoubt: what is in doubt has no verdict, not even a good one.
func TestDoubt(t *testing.T) {
	for _, test := range []struct {
		what, expected, read string
		doubt                Doubt
		verdict              quantity.Verdict
	}{
		{"voltage", "3.3 V ±5 %", "3.3 V", NoDoubt, quantity.In},
		{"", "3.3 V ±5 %", "3.3 V", NoDoubt, quantity.In},
		{"bananas", "3.3 V ±5 %", "3.3 V", UnknownWhat, quantity.NoVerdict},
		{"bananas", "3.3 V ±5 %", "0 V", UnknownWhat, quantity.NoVerdict},
		{"resistance", "3.3 V ±5 %", "3.3 V", WhatUnit, quantity.NoVerdict},
		{"voltage", "3.3 V ±500 %", "3.3 V", Unlimited, quantity.NoVerdict},
		{"voltage", "3.3 V ±100 %", "3.3 V", NoDoubt, quantity.In},
	} {
		f, _ := Parse("cases/2026-0001.md", []byte(measuredRow(test.what, test.expected, test.read)))
		m := &f.Case.Measurements[0]
		assert.Equal(t, test.doubt, m.Doubt(terms.Builtin()), "%+v", test)
		assert.Equal(t, test.verdict, m.Verdict(terms.Builtin()), "%+v", test)
	}
}

// TestReferencesAreMeasured: the reference readings of a device go by the same rules.
func TestReferencesAreMeasured(t *testing.T) {
	head := "---\ndevice: lumadane-arc\nkind: lamp\nmaker: Lumadane\nmodel: Arc\n---\n## " + ReferenceSection + "\n\n| point | what | state | expected |\n|---|---|---|---|\n"
	for line, want := range map[string]diagnostic.Rule{
		"| TP1 | bananas | on | 3.3 V ±5 % |":      diagnostic.UnknownWhat,
		"| TP1 | resistance | off | 3.3 V ±5 % |":  diagnostic.WhatUnit,
		"| TP1 | voltage | on | 3.3 V ±500 % |":    diagnostic.LooseTolerance,
		"| TP1 | voltage | on | 3.3 V ±5 % |":      "",
		"| TP1 | resistance | off | > 1 kΩ |":      "",
		"| TP1 | diode drop | off | 0.45..0.6 V |": "",
	} {
		f, list := ParseDevice("devices/lumadane-arc.md", []byte(head+line+"\n"))
		require.NotNil(t, f)
		list = append(list, f.Check(terms.Builtin(), nil)...)
		var found []diagnostic.Rule
		for _, d := range list {
			found = append(found, d.Rule)
		}
		if want == "" {
			assert.Empty(t, found, line)
		} else {
			assert.Equal(t, []diagnostic.Rule{want}, found, line)
		}
	}
}

// TestMeasuredQuantitiesAreUnits holds the words of schema/terms to the quantities that
// units have: a slip there would make every reading contradict.
func TestMeasuredQuantitiesAreUnits(t *testing.T) {
	known := map[string]bool{}
	for _, row := range quantity.UnitTable() {
		known[row.Quantity] = true
	}
	list := terms.MeasuredQuantities()
	assert.GreaterOrEqual(t, len(list), 8)
	for _, q := range list {
		assert.True(t, known[q], q)
	}
}

func TestProofSaysHow(t *testing.T) {
	const fixed = "closed: 2026-01-03\nsymptoms: [flicker]\ncause: {fault: wear, at: motor}\noutcome: fixed\n"
	for confirmed, bare := range map[string]bool{
		"yes": true, "Yes.": true, "ok": true, "OK!": true, "works": true, "it works": true, "tested, works": true, "\"true\"": true, "y": true,
		"ja": true, "geht wieder": true, "getestet": true, "i. O.": true, "oui": true, "testé, fonctionne": true, "ça marche": true,
		"werkt weer": true, "no": true, "not yet": true, "nein": true, "noch nicht getestet": true, "all good": true,
		"Ten boils": false, "Works after ten boils": false, "Tested for an hour": false, "ok at 20 W for an hour": false, "30 V": false,
		"Eine Stunde getestet": false, "Testé pendant une heure": false, "yes, ten boils": false, "Twenty minutes on a rug": false,
		"goed na tien keer koken": false, "earth 0.05 Ω": false,
	} {
		found := checkOf(t, caseHead+fixed+"confirmed: "+confirmed+"\n---\n## Symptom\n\nDark.\n", diagnostic.NoProof)
		if !bare {
			assert.Empty(t, found, confirmed)
			continue
		}
		if assert.Len(t, found, 1, confirmed) {
			assert.Equal(t, diagnostic.Warning, found[0].Severity)
			assert.Equal(t, "10:12", fmt.Sprintf("%d:%d", found[0].Line, found[0].Column))
			assert.Contains(t, found[0].Message, "how it was proved")
		}
	}
	imported := checkOf(t, caseHead+fixed+"confirmed: yes\nsource: {standard: open-repair-data, id: x, provider: p}\n---\n", diagnostic.NoProof)
	assert.Empty(t, imported, "imported cases are not asked")
	boolean := checkOf(t, caseHead+fixed+"confirmed: true\n---\n## Symptom\n\nDark.\n", diagnostic.NoProof, diagnostic.WrongType)
	require.Len(t, boolean, 1)
	assert.Contains(t, boolean[0].Message, "write how it was proved")
}

func TestLongTimes(t *testing.T) {
	for minutes, want := range map[string][]string{
		"{diagnosis: 75, repair: 40}":     nil,
		"{diagnosis: 1440, repair: 1440}": nil,
		"{diagnosis: 5, repair: 3000}":    {"6:33 3000 minutes are 50 hours"},
		"{diagnosis: 1441, repair: 3000}": {"6:22 1441 minutes are 24 hours", "6:36 3000 minutes are 50 hours"},
	} {
		var got []string
		for _, d := range checkOf(t, caseHead+"minutes: "+minutes+"\n---\n## Symptom\n\nDark.\n", diagnostic.LongTime) {
			says, _, _ := strings.Cut(d.Message, " at ")
			got = append(got, fmt.Sprintf("%d:%d %s", d.Line, d.Column, says))
			assert.Equal(t, diagnostic.Warning, d.Severity)
		}
		assert.Equal(t, want, got, minutes)
	}
	table := caseHead + "---\n## Symptom\n\nDark.\n\n## Findings\n\n| check | seen | result | min |\n|---|---|---|---|\n| Look | dark | fault | 3000 |\n| Look again | dark | fault | 30 |\n"
	found := checkOf(t, table, diagnostic.LongTime)
	require.Len(t, found, 1)
	assert.Equal(t, 15, found[0].Line)
}

// TestDatesAhead: a clock or a time zone is a day or two apart, a year is a slip.
func TestDatesAhead(t *testing.T) {
	defer func() { today = time.Now }()
	today = func() time.Time { return time.Date(2026, 3, 1, 23, 30, 0, 0, time.UTC) }
	for opened, want := range map[string]string{
		"2026-03-01": "", "2026-03-02": "", "2026-03-03": "",
		"2026-03-04": "are day and month right? ",
		"2026-06-01": "are day and month right? ",
		"2036-02-01": "is the year right? 2026-02-01",
		"2062-12-24": "is the year right? 2025-12-24",
		"2028-02-29": "is the year right? ",
	} {
		list := checkOf(t, strings.Replace(caseHead, "2026-01-02", opened, 1)+"---\n## Symptom\n\nDark.\n", diagnostic.DateOrder)
		if want == "" {
			assert.Empty(t, list, opened)
			continue
		}
		if assert.Len(t, list, 1, opened) {
			_, says, _ := strings.Cut(list[0].Message, "; ")
			assert.Equal(t, want, says+" "+list[0].Suggestion, opened)
			assert.Equal(t, diagnostic.Warning, list[0].Severity)
		}
	}
	list := checkOf(t, caseHead+"closed: 2036-01-03\nfollowed: 2037-01-03\n---\n", diagnostic.DateOrder)
	assert.Len(t, list, 2)
}

// TestDecimalCommas: in braces a comma parts two values (YAML 1.2.2, 7.4), which nobody
// means who writes 12,50.
func TestDecimalCommas(t *testing.T) {
	for key, want := range map[string][]string{
		"cost: {parts: 12,50}":               {"6:15 write parts: 12.50"},
		"cost: {parts: 12,50, charged: 3,5}": {"6:15 write parts: 12.50", "6:31 write charged: 3.5"},
		"cost: {charged: 40, parts: 0,5}":    {"6:28 write parts: 0.5"},
		"minutes: {repair: 3,000}":           {"6:19 write repair: 3000, or 3.000 for a part of one"},
		"photos: [{file: a.png, caption: c, marks: [{x: 0,5, y: 0,5, label: l}]}]": {"6:48 write x: 0.5", "6:56 write y: 0.5"},
		"cost:\n  parts: 12,50":            {"7:10 write 12.50"},
		"cost: {parts: 12.50}":             nil,
		"cost: {parts: 12, 50}":            nil, // a key that is not known
		"tags: [12,50]":                    nil,
		"cause: {fault: wear,at: motor,x}": nil, // words are no number
	} {
		var got []string
		for _, d := range checkOf(t, caseHead+key+"\n---\n## Symptom\n\nDark.\n", diagnostic.DecimalComma, diagnostic.KeyTwice) {
			assert.Equal(t, diagnostic.Error, d.Severity)
			at := strings.LastIndex(d.Message, "write ")
			got = append(got, fmt.Sprintf("%d:%d %s", d.Line, d.Column, d.Message[at:]))
		}
		assert.Equal(t, want, got, key)
	}
	found := checkOf(t, caseHead+"cost: {parts: 12,50}\n---\n", diagnostic.DecimalComma, diagnostic.UnknownKey)
	require.Len(t, found, 1)
	assert.Equal(t, 5, found[0].Length, "the whole number is marked")
	_, list := ParseYAML("notebook.yaml", []byte("tolerance: {voltage: 2,5}\n"), nil)
	require.Len(t, list, 1)
	assert.Equal(t, diagnostic.DecimalComma, list[0].Rule)
}

func TestPointers(t *testing.T) {
	src := caseHead + "confirmed: As in 2026-0007\n---\n## Symptom\n\nLike 2026-0042, not 2026-0042x or x-2026-0043/4; [here](2026-0044-lamp.md#a), [there](https://a.example/2026-0045.html).\n" +
		"`2026-0046` ![c](b.png) ![r](https://a.example/c.png) [2]: 2026-01-02\n\n```\n2026-0047\n```\n\n| a |\n|---|\n| R-0042 |\n"
	f, _ := Parse("x.md", []byte(src))
	require.NotNil(t, f)
	var got []string
	for _, p := range f.Mentions {
		assert.Contains(t, src[p.start:p.stop], p.Text)
		got = append(got, p.Text)
	}
	assert.Equal(t, []string{"2026-0007", "2026-0042", "2026-0042x", "2026-0044-lamp", "2026-01-02", "R-0042"}, got)
	require.Len(t, f.Pictures, 1)
	assert.Equal(t, "b.png", src[f.Pictures[0].start:f.Pictures[0].stop])
	assert.Empty(t, Read("x.md", []byte(src)).Mentions)
}
