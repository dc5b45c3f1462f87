package board

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/diagnostic"
)

func messages(list []diagnostic.Diagnostic) string {
	var b strings.Builder
	for _, d := range list {
		fmt.Fprintln(&b, d)
	}
	return b.String()
}

// The same two parts, written in the ways of many programs. The forms are
// common practice, no source.
func TestPartsListsOfManyForms(t *testing.T) {
	for name, src := range map[string]string{
		"plain":           "Designator,Value,Package,X,Y,Rotation,Side\nC1,10u,0603,10.5,20.25,90,top\nR2,4k7,0402,-3,4,180,bottom\n",
		"units in header": "Ref;Val;Footprint;PosX (mm);PosY (mm);Rot;Side\nC1;10u;0603;10,5;20,25;90,0;T\nR2;4k7;0402;-3,0;4,0;180,0;B\n",
		"mil":             "RefDes,Comment,Pattern,Mid X (mil),Mid Y (mil),Rotation,Layer\nC1,10u,0603,413.3858,797.2441,90,TopLayer\nR2,4k7,0402,-118.1102,157.4803,180,BottomLayer\n",
		"unit in cell":    "\"Designator\",\"Comment\",\"Footprint\",\"Center-X\",\"Center-Y\",\"Rotation\",\"Layer\"\n\"C1\",\"10u\",\"0603\",\"10.5mm\",\"20.25mm\",\"90\",\"Top\"\n\"R2\",\"4k7\",\"0402\",\"-118.1102mil\",\"157.4803mil\",\"180\",\"Bottom\"\n",
		"inch":            "ref\tvalue\tpackage\tx_in\ty_in\trotation\tside\nC1\t10u\t0603\t0.41338583\t0.79724409\t90\tfront\nR2\t4k7\t0402\t-0.11811024\t0.15748031\t180\tback\n",
		"blanks":          "### positions ###\n## Unit = mm, Angle = deg.\n# Ref Val Package PosX PosY Rot Side\nC1 10u 0603 10.5000 20.2500 90.0 top\nR2 4k7 0402 -3.0 4.0 180 bottom\n## End\n",
		"preamble":        "Board: main\nUnits used: mils\n\nDesignator,Value,Package,X,Y,Rotation,Side\nC1,10u,0603,413.3858,797.2441,90,1\nR2,4k7,0402,-118.1102,157.4803,180,2\n",
		"bom and crlf":    "\xef\xbb\xbfDesignator,Value,Package,X,Y,Rotation,Side\r\nC1,10u,0603,10.5,20.25,90,top\r\n# a comment\r\nR2,4k7,0402,-3,4,-180,bottom\r\n",
		"utf-16":          utf16("Designator,Value,Package,X,Y,Rotation,Side\nC1,10u,0603,10.5,20.25,90,top\nR2,4k7,0402,-3,4,180,bottom\n"),
	} {
		t.Run(name, func(t *testing.T) {
			parts, list := ReadParts("p.csv", []byte(src), PartsOptions{})
			require.Len(t, parts, 2, messages(list))
			assert.Zero(t, diagnostic.Count(list, diagnostic.Error), messages(list))
			assert.InDelta(t, 10.5, parts[0].X, 1e-3)
			assert.InDelta(t, 20.25, parts[0].Y, 1e-3)
			assert.InDelta(t, -3, parts[1].X, 1e-3)
			assert.Equal(t, []any{"C1", "10u", "0603", 90.0, Top},
				[]any{parts[0].Ref, parts[0].Value, parts[0].Package, parts[0].Rotation, parts[0].Side})
			assert.Equal(t, []any{"R2", "4k7", "0402", 180.0, Bottom},
				[]any{parts[1].Ref, parts[1].Value, parts[1].Package, parts[1].Rotation, parts[1].Side})
			again, list := ReadParts("p.csv", FormatParts(parts), PartsOptions{})
			require.Len(t, again, 2)
			assert.Empty(t, list)
			assert.InDelta(t, parts[1].Y, again[1].Y, 1e-4)
		})
	}
}

func utf16(s string) string {
	out := []byte{0xff, 0xfe}
	for _, r := range s {
		out = append(out, byte(r), byte(r>>8))
	}
	return string(out)
}

func TestPartsListNamesWhatIsWrong(t *testing.T) {
	head := "Designator,Value,Package,X mm,Y mm,Rotation,Side\n"
	for name, c := range map[string]struct {
		src  string
		o    PartsOptions
		kept int
		says string
	}{
		"twice": {head + "C1,1u,0402,1,1,0,top\nc1,1u,0402,2,2,0,top\n", PartsOptions{}, 1,
			`p.csv:3:1: error: designator "c1" stands on line 2 already`},
		"not a number": {head + "C1,1u,0402,one,1,0,top\nC2,1u,0402,1,1,0,top\n", PartsOptions{}, 1,
			`p.csv:2:12: error: x: "one" is not a number`},
		"far away":  {head + "C1,1u,0402,1e12,1,0,top\nC2,1u,0402,1,1,0,top\n", PartsOptions{}, 1, "at most 2000 mm"},
		"infinite":  {head + "C1,1u,0402,Inf,1,0,top\nC2,1u,0402,1,1,0,top\n", PartsOptions{}, 1, `"Inf" is not a`},
		"short row": {head + "C1,1u\nC2,1u,0402,1,1,0,top\n", PartsOptions{}, 1, "p.csv:2:1: error: the row ends before its x"},
		"open quote": {head + "\"C1,1u,0402,1,1,0,top\nC2,1u,0402,1,1,0,top\nC3,1u,0402,1,1,0,top\n",
			PartsOptions{}, 2, "p.csv:2:1: error: a quote on this line is not closed"},
		"odd side":       {head + "C1,1u,0402,1,1,0,tpo\n", PartsOptions{}, 1, `did you mean "top"?`},
		"odd angle":      {head + "C1,1u,0402,1,1,left,top\n", PartsOptions{}, 1, `rotation "left" is not an angle`},
		"no designator":  {head + ",1u,0402,1,1,0,top\nC2,1u,0402,1,1,0,top\n", PartsOptions{}, 1, "the designator is empty"},
		"no y":           {"Designator,X,Rotation\nC1,1,0\n", PartsOptions{}, 0, "no y"},
		"no header":      {"a,b,c,d\n1,2,3,4\n", PartsOptions{}, 0, "no header was found"},
		"empty":          {"", PartsOptions{}, 0, "no header was found"},
		"only a header":  {head, PartsOptions{}, 0, "no row below this header"},
		"no side":        {"Designator,X,Y\nC1,1,1\n", PartsOptions{}, 1, "all parts are taken to be on top"},
		"no unit":        {"Designator,X,Y\nC1,1,1\n", PartsOptions{}, 1, "no unit is stated; mm is taken"},
		"large, no unit": {"Designator,X,Y\nC1,0,1\nC2,3937,1\n", PartsOptions{}, 2, "mil is taken"},
		"latin-1":        {head + "C1,10 \xb5F,0402,1,1,0,top\n", PartsOptions{}, 1, "read as Latin-1"},
		"unknown unit":   {head + "C1,1u,0402,1,1,0,top\n", PartsOptions{Unit: "furlong"}, 0, "a unit of length is mm, mil or inch"},
		"mapped by names": {"A,Kind,East,North\nC1,1u,1,1\n",
			PartsOptions{Names: map[Column]string{designatorColumn: "A", xColumn: "east", yColumn: "North",
				valueColumn: "Kind"}, Unit: "mm"}, 1, "does not say packages"},
	} {
		t.Run(name, func(t *testing.T) {
			parts, list := ReadParts("p.csv", []byte(c.src), c.o)
			assert.Len(t, parts, c.kept)
			assert.Contains(t, messages(list), c.says)
			for _, p := range parts {
				assert.True(t, utf8.ValidString(p.Value))
			}
		})
	}
	parts, _ := ReadParts("p.csv", []byte("Designator,X,Y\nC1,0,1\nC2,3937,1\n"), PartsOptions{})
	assert.InDelta(t, 100, parts[1].X, 0.01)
}

// TestRepetitionIsCounted: a file of bad lines gives a short report.
func TestRepetitionIsCounted(t *testing.T) {
	src := "Designator,X mm,Y mm,side\nC0,1,1,top\n" + strings.Repeat("C1,one,1,top\n", 5_000)
	parts, list := ReadParts("p.csv", []byte(src), PartsOptions{})
	assert.Len(t, parts, 1)
	assert.Less(t, len(list), 40)
	assert.Contains(t, messages(list), "4980 more lines have problems like these")
}

// TestChipSizes: nominal sizes of EIA and IEC chip codes, as part makers print them, in the
// ways that footprints are named.
func TestChipSizes(t *testing.T) {
	for name, want := range map[string][2]float64{
		"008004": {0.25, 0.125}, "01005": {0.4, 0.2}, "0201": {0.6, 0.3}, "0402": {1, 0.5}, "0603": {1.6, 0.8}, "0805": {2, 1.25},
		"1008": {2.5, 2}, "1206": {3.2, 1.6}, "1210": {3.2, 2.5}, "1812": {4.5, 3.2}, "2010": {5, 2.5}, "2220": {5.7, 5},
		"0402M": {0.4, 0.2}, "0603M": {0.6, 0.3}, "C0402": {1, 0.5}, "R-0603-1608M": {1.6, 0.8},
		"CAP-0805": {2, 1.25}, "RESC1206X": {3.2, 1.6},
	} {
		got, ok := BodySize(name)
		assert.True(t, ok, name)
		assert.InDeltaSlice(t, want[:], got[:], 1e-9, name)
	}
	// Sizes that the name states, and named packages (JEDEC, from memory).
	for name, want := range map[string][2]float64{
		"7 × 7 mm": {7, 7}, "QFN-32_5x5mm": {5, 5}, "IND 4.0x4.2mm": {4, 4.2}, "radial 8 mm": {8, 8}, "snap-in 30 mm": {30, 30},
		"SOT-23": {2.9, 1.3}, "sot23": {2.9, 1.3}, "SOIC-8": {4.9, 3.9}, "small-outline:SOIC-8": {4.9, 3.9}, "TO-220": {10.2, 4.6},
	} {
		got, ok := BodySize(name)
		assert.True(t, ok, name)
		assert.InDeltaSlice(t, want[:], got[:], 1e-9, name)
	}
	for _, name := range []string{"", "through hole", "own", "9.7"} {
		_, ok := BodySize(name)
		assert.False(t, ok, name)
	}
}

// record writes a test record column by column, as IPC-D-356A's description of
// records 317 and 327 gives them: 1-3 code, 4-17 net, 21-26 part, 27 hyphen,
// 28-31 pin, 32 M, 33-37 D and hole, 38 plating, 39-41 A and access, 42-48 X,
// 49-55 Y, 56- feature size, rotation, mask. The layout is from memory of the
// standard and of the free description "IPC-D-356 Simplified".
func record(code, net, ref, pin, access string, x, y int) string {
	return fmt.Sprintf("%3s%-14.14s   %-6.6s-%-4.4s %-6sA%2sX%+07dY%+07dX0394Y0000R000 S0", code, net, ref, pin, "", access, x, y)
}

func TestNetlistRecords(t *testing.T) {
	line := record("327", "+3V3", "C1", "1", "01", 12700, -8000)
	// Columns, from 1, by the description above.
	assert.Equal(t, "+3V3", strings.TrimSpace(line[3:17]))
	assert.Equal(t, "C1", strings.TrimSpace(line[20:26]))
	assert.Equal(t, byte('-'), line[26])
	assert.Equal(t, "A01", line[38:41])
	assert.Equal(t, "X+012700Y-008000", line[41:57])

	src := strings.Join([]string{
		"C  made for a test",
		"P  JOB   main",
		"P  UNITS CUST 1",
		"P  NNAME00001  A_NET_WITH_A_NAME_LONGER_THAN_ITS_COLUMNS",
		line,
		record("327", "GND", "C1", "2", "01", 13700, -8000),
		record("317", "NNAME00001", "J1", "1", "00", 1000, 2000),
		record("017", "", "J1", "2", "00", 3000, 2000),
		record("317", "GND", "VIA", "", "00", 5000, 5000),
		record("327", "N/C", "U1", "7", "02", 9000, 9000),
		"389BOARD_EDGE      X+000000Y+000000 X+020000 Y+010000 X+000000",
		"089 Y+000000",
		"999",
		"327 after the end",
	}, "\r\n")
	n, list := ReadNetlist("n.ipc", []byte(src))
	require.NotNil(t, n, messages(list))
	assert.Empty(t, list)
	assert.Equal(t, "mm", n.Units)
	require.Len(t, n.Pins, 6)
	assert.Equal(t, NetPin{Net: "+3V3", Ref: "C1", Pin: "1", X: 12.7, Y: -8, Side: Top, Line: 5}, n.Pins[0])
	assert.Equal(t, "A_NET_WITH_A_NAME_LONGER_THAN_ITS_COLUMNS", n.Pins[2].Net)
	assert.Equal(t, Both, n.Pins[2].Side)
	assert.Equal(t, []string{"A_NET_WITH_A_NAME_LONGER_THAN_ITS_COLUMNS", "J1", "2"}, []string{n.Pins[3].Net, n.Pins[3].Ref, n.Pins[3].Pin})
	assert.Empty(t, n.Pins[4].Ref)
	assert.Equal(t, Bottom, n.Pins[5].Side)
	assert.Equal(t, []Point{{0, 0}, {20, 0}, {20, 10}, {0, 10}, {0, 0}}, n.Outline)

	// CUST 0 counts ten-thousandths of an inch.
	n, _ = ReadNetlist("n.ipc", []byte("P  UNITS CUST 0\n"+record("327", "A", "R1", "1", "01", 10000, 0)+"\n999\n"))
	assert.InDelta(t, 25.4, n.Pins[0].X, 1e-9)
	// Small letters are taken as well.
	n, list = ReadNetlist("n.ipc", []byte(strings.ToLower("P  UNITS CUST 1\n"+record("327", "A", "R1", "1", "01", 1500, 0)+"\n999\n")))
	require.NotNil(t, n, messages(list))
	assert.InDelta(t, 1.5, n.Pins[0].X, 1e-9)
	assert.Empty(t, list)
}

func TestNetlistNamesWhatIsWrong(t *testing.T) {
	good := record("327", "A", "R1", "1", "01", 1500, 0)
	for name, c := range map[string]struct {
		src  string
		kept int
		says string
	}{
		"truncated":         {good + "\n" + good[:41] + "\n999", 1, "n.ipc:2:42: error: the record ends after 41 characters"},
		"no place":          {good + "\n" + good[:41] + "somewhere\n999", 1, "n.ipc:2:42: error: a place such as"},
		"unknown type":      {good + "\n555 what\n999", 1, "n.ipc:2:1: warning: record type 555 is not known"},
		"not a record":      {good + "\nhello\n999", 1, `this one with "hel" is left out`},
		"lone continuation": {"017" + good[3:] + "\n" + good + "\n999", 1, "goes on with a record 317 that is not there"},
		"no net":            {good + "\n" + record("327", "", "R2", "1", "01", 0, 0) + "\n999", 1, "names no net"},
		"no end":            {good, 1, "ends without its last record"},
		"odd unit":          {"P UNITS CUBIT\n" + good + "\n999", 1, "inch is taken"},
		"nothing":           {"C a comment\n999\n", 0, "no pin could be read"},
		"odd access":        {strings.Replace(good, "A01", "Axx", 1) + "\n999", 1, "an access such as A01"},
		"far away": {"P  UNITS CUST 0\n" + good + "\n" + good[:41] + "X+999999999999Y+000000\n999", 1,
			"at most 2000 mm are taken"},
		"edge goes astray":  {good + "\n389BOARD_EDGE      X+000000Y+000000 Q12\n999", 1, "edge cannot be followed"},
		"bytes of any sort": {good + "\n\x00\xff\xfe\n999", 1, "a record begins with three digits"},
		"edge out of bounds": {"P UNITS CUST 1\n" + good + "\n389BOARD_EDGE      X+99999999999Y+000000\n999", 1,
			"the board's edge goes more than"},
	} {
		t.Run(name, func(t *testing.T) {
			n, list := ReadNetlist("n.ipc", []byte(c.src))
			assert.Contains(t, messages(list), c.says)
			if c.kept == 0 {
				assert.Nil(t, n)
				return
			}
			require.NotNil(t, n)
			assert.Len(t, n.Pins, c.kept)
		})
	}
}

// small is a board for questions of topology: VIN - F1 - +12V - FB1 - +3V3, C1
// to C3 on +3V3, R1 and R2 in parallel from +3V3 to EN, R3 from EN to ground.
func small(t *testing.T) *Board {
	t.Helper()
	parts := []Part{
		{Ref: "F1", Value: "1 A", Package: "0603", X: 5, Y: 5}, {Ref: "FB1", Value: "240R@100MHz", Package: "0402", X: 10, Y: 5},
		{Ref: "C1", Value: "10u", Package: "0603", X: 14, Y: 5},
		{Ref: "C2", Value: "10 µF", Package: "0603", X: 16, Y: 5}, {Ref: "C3", Value: "100n", Package: "0201", X: 18, Y: 5},
		{Ref: "R1", Value: "10k", Package: "0402", X: 20, Y: 5},
		{Ref: "R2", Value: "10k", Package: "0402", X: 22, Y: 5}, {Ref: "R3", Value: "4k7", Package: "0402", X: 24, Y: 5, Side: Bottom},
		{Ref: "U1", Package: "SOIC-8", X: 14, Y: 12}, {Ref: "J1", X: 1, Y: 5}, {Ref: "TP1", X: 3, Y: 9},
		{Ref: "L9", Value: "1u", Package: "0402", X: 30, Y: 5},
	}
	n := &Netlist{}
	at := map[string]Part{}
	for _, p := range parts {
		at[p.Ref] = p
	}
	for _, w := range strings.Fields("J1.1:VIN J1.2:GND F1.1:VIN F1.2:+12V FB1.1:+12V FB1.2:+3V3 C1.1:+3V3 C1.2:GND C2.1:+3V3 C2.2:GND C3.1:+3V3 C3.2:GND " +
		"R1.1:+3V3 R1.2:EN R2.1:+3V3 R2.2:EN R3.1:EN R3.2:GND U1.1:EN U1.2:GND U1.3:+3V3 U1.4:USB_D+ TP1.1:EN L9.1:EN L9.2:EN X5.1:GND X5.2:USB_D+") {
		ref, rest, _ := strings.Cut(w, ".")
		pin, net, _ := strings.Cut(rest, ":")
		x := map[string]float64{"1": -0.5, "2": 0.5, "3": -0.5, "4": 0.5}[pin]
		n.Pins = append(n.Pins, NetPin{Net: net, Ref: ref, Pin: pin, X: at[ref].X + x, Y: at[ref].Y})
	}
	b, list := New(parts, n, "n.ipc")
	assert.Contains(t, messages(list), "1 designators are in the netlist and not in the parts list")
	return b
}

func TestRolesByTopology(t *testing.T) {
	b := small(t)
	for ref, want := range map[string]Role{"F1": Series, "FB1": Series, "C1": Shunt, "R1": Series, "R3": Shunt,
		"U1": Many, "J1": Connector, "TP1": TestPoint, "L9": Link, "X5": Connector} {
		p, ok := b.Part(strings.ToLower(ref))
		require.True(t, ok, ref)
		assert.Equal(t, want, b.Role(p), ref)
	}
	plain, _ := New([]Part{{Ref: "C1"}}, nil, "")
	assert.Equal(t, Unwired, plain.Role(&plain.Parts[0]))
	assert.False(t, plain.Wired())
	f1, _ := b.Part("F1")
	r3, _ := b.Part("R3")
	assert.True(t, b.Important(f1))
	assert.False(t, b.Important(r3))
}

func TestKindsOfNets(t *testing.T) {
	for kind, names := range map[NetKind]string{
		Ground: "GND AGND DGND PGND VSS 0V GND_IN earth",
		Supply: "+3V3 3V3 +5V VCC VBUS VDD_CORE +38V DCIN CHG+ LED+ BAT+ V_RAIL P5V 5V_USB", Sense: "CSP ISENSE+ VSENSE NTC FB",
		Data: "USB_D+ SDA I2C_SCL MDI0+ UART_TX HDMI_CLK D-", Signal: "EN RESET N12 MOT_B BTN1 R1_PAD1",
	} {
		for _, name := range strings.Fields(names) {
			assert.Equal(t, kind, kindOfNet(name), name)
		}
	}
}

func TestWithoutAPart(t *testing.T) {
	b := small(t)
	part := func(ref string) *Part { p, ok := b.Part(ref); require.True(t, ok); return p }
	l := b.Without(part("FB1"))
	assert.True(t, l.Cut, "nothing else joins the two")
	assert.Equal(t, []string{"+12V", "+3V3"}, []string{l.To.Name, l.From.Name})
	l = b.Without(part("R1"))
	assert.False(t, l.Cut)
	require.Len(t, l.Around, 1)
	assert.Equal(t, "R2", l.Around[0].Ref)
	l = b.Without(part("C1"))
	assert.Equal(t, "+3V3", l.On.Name)
	assert.Equal(t, "20.1 µF", l.Before.Total.String())
	assert.Equal(t, "10.1 µF", l.Left.Total.String())
	assert.Equal(t, 2, l.Left.Count)
}

// TestNearAgreesWithTryingAll: the index finds what going through all finds.
func TestNearAgreesWithTryingAll(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	packages := []string{"0201", "0402", "0603", "1206", "SOIC-8", "QFN-32"}
	parts := make([]Part, 600)
	for i := range parts {
		parts[i] = Part{Ref: fmt.Sprintf("R%d", i), Package: packages[r.IntN(len(packages))], X: 60 * r.Float64(),
			Y: 40 * r.Float64(), Rotation: 360 * r.Float64(), Side: Side(r.IntN(2))}
	}
	b, _ := New(parts, nil, "")
	for i := range b.Parts {
		p := &b.Parts[i]
		within := 5 * r.Float64()
		var got, want []string
		for _, n := range b.Near(p, within) {
			got = append(got, n.Part.Ref)
		}
		for j := range b.Parts {
			if q := &b.Parts[j]; q != p && q.Side == p.Side && Gap(p, q) <= within {
				want = append(want, q.Ref)
			}
		}
		assert.ElementsMatch(t, want, got)
		for j := range b.Parts[:20] {
			q := &b.Parts[j]
			assert.InDelta(t, Gap(p, q), Gap(q, p), 1e-9, "a distance is the same both ways")
			assert.LessOrEqual(t, Gap(p, q), math.Hypot(p.X-q.X, p.Y-q.Y)+1e-9)
		}
	}
	assert.Empty(t, b.Near(&b.Parts[0], -1))
	assert.Empty(t, b.Near(&b.Parts[0], math.NaN()))
}

// TestGaps checks distances that can be worked out by hand.
func TestGaps(t *testing.T) {
	a := Part{X: 0, Y: 0, Size: [2]float64{2, 1}}
	for _, c := range []struct {
		b    Part
		want float64
	}{
		{Part{X: 5, Size: [2]float64{2, 1}}, 3},
		{Part{X: 5, Rotation: 90, Size: [2]float64{2, 1}}, 3.5},
		{Part{X: 0.5, Size: [2]float64{2, 1}}, 0},
		{Part{X: 5, Y: 4.5, Size: [2]float64{2, 1}}, math.Hypot(3, 3.5)},
		{Part{X: 1 + 0.5*math.Sqrt2, Rotation: 45, Size: [2]float64{1, 1}}, 0},
		{Part{X: 2 + 0.5*math.Sqrt2, Rotation: 45, Size: [2]float64{1, 1}}, 1},
	} {
		assert.InDelta(t, c.want, Gap(&a, &c.b), 1e-9)
	}
}

// TestNetlistMovedOntoParts: two files that count from different corners.
func TestNetlistMovedOntoParts(t *testing.T) {
	var parts []Part
	n := &Netlist{}
	for i := range 10 {
		ref := fmt.Sprintf("R%d", i)
		parts = append(parts, Part{Ref: ref, X: float64(3 * i), Y: 2, Package: "0402"})
		for pin, dx := range map[string]float64{"1": -0.5, "2": 0.5} {
			n.Pins = append(n.Pins, NetPin{Net: "N" + pin, Ref: ref, Pin: pin, X: float64(3*i) + dx + 100, Y: 52})
		}
	}
	b, list := New(parts, n, "n.ipc")
	assert.Contains(t, messages(list), "moved by -100.00 mm, -50.00 mm")
	assert.InDelta(t, b.Parts[3].X-0.5, b.Parts[3].Pins[0].X, 1e-9)
	for i := range n.Pins {
		n.Pins[i].X *= 2.54
	}
	_, list = New(parts, n, "n.ipc")
	assert.Contains(t, messages(list), "do not lie where the parts list has those parts")
}

func TestNaturalOrder(t *testing.T) {
	list := []string{"C10", "C9", "R1", "C1", "C010", "U1-12", "U1-2"}
	slices.SortFunc(list, natural)
	assert.Equal(t, "C1 C9 C10 C010 R1 U1-2 U1-12", strings.Join(list, " "))
}

func FuzzParts(f *testing.F) {
	f.Add([]byte("Designator,Value,Package,X,Y,Rotation,Side\nC1,10u,0603,10.5,20.25,90,top\n"))
	f.Add([]byte("## Unit = mm\n# Ref Val Package PosX PosY Rot Side\nC1 10u 0603 10.5 20.2 90 top\n"))
	f.Add([]byte("Ref;Val;PosX (mm);PosY (mm)\n\"C1;1;2;3\nC2;1;2,5;1.000,5\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		parts, _ := ReadParts("p.csv", src, PartsOptions{})
		for i := range parts {
			p := &parts[i]
			if p.Ref == "" || math.Abs(p.X) > MaxReach || math.IsNaN(p.X) || math.IsNaN(p.Y) || p.Rotation < 0 || p.Rotation >= 360 {
				t.Fatalf("%+v", p)
			}
		}
		b, _ := New(parts, nil, "")
		if len(parts) > 0 {
			again, list := ReadParts("again.csv", FormatParts(b.Parts), PartsOptions{})
			if len(again) != len(parts) {
				t.Fatalf("%d parts were written and %d read: %s", len(parts), len(again), messages(list))
			}
		}
	})
}

func FuzzNetlist(f *testing.F) {
	f.Add([]byte("P  UNITS CUST 1\n" + record("327", "A", "R1", "1", "01", 1500, 0) + "\n999\n"))
	f.Add([]byte("389BOARD_EDGE      X+000000Y+000000 X+020000 Y+010000\n" + record("317", "GND", "VIA", "", "00", 1, 1)))
	f.Fuzz(func(t *testing.T, src []byte) {
		n, _ := ReadNetlist("n.ipc", src)
		if n == nil {
			return
		}
		b, _ := New(nil, n, "n.ipc")
		for i := range b.Parts {
			p := &b.Parts[i]
			_ = b.Role(p)
			_ = b.Without(p)
			_ = b.Near(p, 3)
			if math.Abs(p.X) > MaxReach+1 || math.IsNaN(p.Y) {
				t.Fatalf("%+v", p)
			}
		}
	})
}

// large writes both files of a board of so many parts, with four pins each on
// average.
func large(parts int) (list, net []byte) {
	var c, n bytes.Buffer
	c.WriteString("Designator,Value,Package,X mm,Y mm,Rotation,Side\n")
	n.WriteString("P  UNITS CUST 1\n")
	r := rand.New(rand.NewPCG(5, 6))
	side := int(math.Sqrt(float64(parts))) + 1
	for i := range parts {
		x, y := 3*(i%side), 3*(i/side)
		ref, pkg, pins := fmt.Sprintf("C%d", i+1), "0402", 2
		if i%8 == 0 {
			ref, pkg, pins = fmt.Sprintf("U%d", i+1), "SOIC-16", 18
		}
		fmt.Fprintf(&c, "%s,100n,%s,%d.25,%d.5,%d,%s\n", ref, pkg, x, y, 90*(i%4), []string{"top", "bottom"}[i%2])
		for p := range pins {
			net := "GND"
			if p > 0 {
				net = fmt.Sprintf("NET%d", r.IntN(parts/2))
			}
			fmt.Fprintln(&n, record("327", net, ref, fmt.Sprint(p+1), "01", 1000*x+250+500*p-250, 1000*y+500))
		}
	}
	n.WriteString("999\n")
	return c.Bytes(), n.Bytes()
}

// BenchmarkBoard reads a board of 5,000 parts and 20,000 pins beside what
// encoding/csv alone needs for the same bytes.
func BenchmarkBoard(b *testing.B) {
	list, net := large(5_000)
	b.Run("encoding-csv", func(b *testing.B) {
		b.SetBytes(int64(len(list)))
		for b.Loop() {
			if _, err := csv.NewReader(bytes.NewReader(list)).ReadAll(); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("encoding-csv-of-both", func(b *testing.B) {
		b.SetBytes(int64(len(list) + len(net)))
		for b.Loop() {
			for _, src := range [][]byte{list, net} {
				r := csv.NewReader(bytes.NewReader(src))
				r.FieldsPerRecord = -1
				if _, err := r.ReadAll(); err != nil {
					b.Fatal(err)
				}
			}
		}
	})
	b.Run("parts-list", func(b *testing.B) {
		b.SetBytes(int64(len(list)))
		for b.Loop() {
			if parts, _ := ReadParts("p", list, PartsOptions{}); len(parts) != 5_000 {
				b.Fatal(len(parts))
			}
		}
	})
	b.Run("netlist", func(b *testing.B) {
		b.SetBytes(int64(len(net)))
		for b.Loop() {
			if n, _ := ReadNetlist("n", net); len(n.Pins) != 20_000 {
				b.Fatal(len(n.Pins))
			}
		}
	})
	b.Run("whole-board", func(b *testing.B) {
		b.SetBytes(int64(len(list) + len(net)))
		for b.Loop() {
			parts, _ := ReadParts("p", list, PartsOptions{})
			n, _ := ReadNetlist("n", net)
			if board, _ := New(parts, n, "n"); len(board.Parts) != 5_000 {
				b.Fatal(len(board.Parts))
			}
		}
	})
	parts, _ := ReadParts("p", list, PartsOptions{})
	board, _ := New(parts, nil, "")
	b.Run("near-3mm", func(b *testing.B) {
		i := 0
		for b.Loop() {
			_ = board.Near(&board.Parts[i%len(board.Parts)], 3)
			i++
		}
	})
}

// TestManyRecords: 200,000 records are read, and the memory stays bounded by
// the limits.
func TestManyRecords(t *testing.T) {
	_, net := large(50_000)
	n, list := ReadNetlist("n", net)
	require.NotNil(t, n)
	assert.Len(t, n.Pins, 200_000)
	assert.Empty(t, list)
	b, _ := New(nil, n, "n")
	assert.Len(t, b.Parts, 50_000)
}
