package boards

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/board"
)

// shop is a notebook with one device, a board of known geometry in millimetres, and two
// cases: in the newer one handling cost R2.
//
//	J1 at (10, 10), 4 x 4; around it R1 (1.0 x 0.5, 1.75 mm away, in series with the input),
//	R2 (1.6 x 0.8, from the sense net to ground), C1 (2 x 1.25, supply to ground),
//	TP1 a test point, and R9 far away.
func shop(t *testing.T) (*notebook.Notebook, *notebook.Device) {
	t.Helper()
	pin := workshop.Pin
	files := map[string]string{}
	write := func(name, text string) { files[name] = text }
	write("notebook.yaml", "name: W\n")
	write("devices/w-b1.md", "---\ndevice: w-b1\nkind: amplifier\nmaker: W\nmodel: B1\nhazards: [mains]\nboards: [B1 main]\nviews: [{name: bottom, width: 100, height: 100}]\nfasteners: 4\n---\n## Fasteners\n\n"+
		"| mark | place | head | thread | length | count | torque | x | y | under | note |\n|---|---|---|---|---|---|---|---|---|---|---|\n"+
		"| A | lid | PH1 | M3 | 6 | 2 | | 1; 2 | 1; 1 | a flat cable | |\n| B | frame | PH1 | M3 | 9.5 | 1 | | 3 | 1 | | |\n| C | feet | PH1 | M3 | 12 | 1 | | 4 | 1 | | |\n\n"+
		"## Connectors\n\n| name | pins | carries | release | beside | ref | note |\n|---|---|---|---|---|---|---|\n| power plug | 2 | 12 V | pull | | J1 | |\n| ghost | 2 | | pull | | | |\n")
	write("devices/w-b1/b1-main.csv", "designator,value,package,x_mm,y_mm,rotation,side\n"+
		"J1,plug,4x4 mm,10,10,0,top\nR1,0R,1.0x0.5 mm,14.25,10,0,top\nR2,10k,1.6x0.8 mm,10,13.4,0,top\nC1,10u,2.0x1.25 mm,6.2,10,0,top\nTP1,,1x1 mm,10,7,0,top\nR9,1k,1.0x0.5 mm,60,60,0,top\nU1,regulator,3x3 mm,30,30,0,top\nC9,100n,1x0.5 mm,10,10.2,0,bottom\n")
	ipc := workshop.Netlist(pin("VIN", "J1", "1", 9, 10), pin("GND", "J1", "2", 11, 10),
		pin("VIN", "R1", "1", 14, 10), pin("V12", "R1", "2", 14.5, 10),
		pin("V12", "C1", "1", 5.7, 10), pin("GND", "C1", "2", 6.7, 10),
		pin("V12", "TP1", "1", 10, 7), pin("V12", "U1", "1", 29, 30), pin("GND", "U1", "2", 31, 30), pin("SNS", "U1", "3", 30, 31),
		pin("SNS", "R2", "1", 9.5, 13.4), pin("GND", "R2", "2", 10.5, 13.4),
		pin("SNS", "R9", "1", 59.7, 60), pin("V12", "R9", "2", 60.3, 60))
	write("devices/w-b1/b1-main.ipc", ipc)
	body := func(id, opened, origin, action, ref, note string) string {
		return "---\ncase: " + id + "\ntitle: Dead\ndevice: w-b1\nboard: B1 main\nopened: " + opened + "\nclosed: " +
			opened + "\nsymptoms: [no-power]\ncause: {fault: part-missing, at: power-supply, origin: " + origin +
			"}\noutcome: fixed\n---\n## Symptom\n\nDead.\n\n## Parts\n\n" +
			"| ref | part | value | package | net | action | fitted | note |\n|---|---|---|---|---|---|---|---|\n| " +
			ref + " | part | | | | " + action + " | | " + note + " |\n"
	}
	write("cases/2026/2026-0001-a.md", body("2026-0001", "2026-01-02", "wear", "replaced", "C1", "dried"))
	write("cases/2026/2026-0002-b.md", body("2026-0002", "2026-02-02", "handling", "replaced", "R2", "knocked off"))
	n := workshop.Book(t, files)
	for _, p := range n.Problems {
		require.NotEqual(t, "error", p.Severity.String(), p.String())
	}
	d, ok := n.Device("w-b1")
	require.True(t, ok)
	require.Len(t, d.Boards, 1)
	return n, d
}

// TestNear: what handling cost comes first although it is larger, then what is important,
// the smaller first; a test point, the other side and what is far are not there; gaps are
// between the bodies.
func TestNear(t *testing.T) {
	n, d := shop(t)
	b := d.Boards[0]
	j1, ok := b.Part("J1")
	require.True(t, ok)
	hits := Near(b.Board, j1, Reach, Touched(n, b, d.ID))
	var refs []string
	for _, h := range hits {
		refs = append(refs, h.Part.Ref)
	}
	assert.Equal(t, []string{"R2", "R1", "C1"}, refs)
	assert.True(t, hits[0].Lost())
	assert.True(t, hits[0].Important)
	assert.InDelta(t, 13.4-10-2-0.4, hits[0].Gap, 1e-9)
	assert.True(t, hits[1].Important, "in series with the input")
	assert.False(t, hits[1].Lost())
	assert.InDelta(t, 14.25-10-2-0.5, hits[1].Gap, 1e-9)
	assert.Equal(t, []Touch{{"2026-0001", "replaced", "dried", false}}, hits[2].Touches)
	assert.Equal(t, "R1 0R 1.0x0.5 mm", hits[1].Words())
	assert.Contains(t, hits[1].Does(fmt.Sprintf), "V12 and VIN")
	closer := Near(b.Board, j1, 1.5, nil)
	require.Len(t, closer, 2, "C1 is 0.8 mm away, R2 1.0, R1 1.75")
	assert.Equal(t, "R2", closer[0].Part.Ref, "the smaller, although the other is nearer")
	assert.False(t, closer[0].Lost(), "without cases nothing was lost")
}

func TestSheetOfADevice(t *testing.T) {
	n, d := shop(t)
	s := NewSheet(n, d)
	require.Len(t, s.Slips, 1, "the plug that the board has no part for is left out")
	assert.Equal(t, "power plug", s.Slips[0].Plug.Name)
	assert.Len(t, s.Slips[0].Hits, 3)
	assert.Equal(t, 4, s.Fasteners)
	require.NotEmpty(t, s.Hazards)
	assert.Equal(t, "mains", s.Hazards[0].ID)
	assert.Equal(t, []string{"A, M3 × 6 mm, lid: B (9.5 mm), C (12 mm) fit there and are longer. Under it: a flat cable.", "B, M3 × 9.5 mm, frame: C (12 mm) fits there and is longer."}, s.Warnings())
	bare := *d
	bare.Record = nil
	assert.Empty(t, NewSheet(n, &bare).Slips)
}

func TestShowPartAndNet(t *testing.T) {
	n, d := shop(t)
	b := d.Boards[0]
	found := FindPart(d, "Power Plug")
	require.Len(t, found, 1, "a connector by its name, in any case")
	assert.Equal(t, "J1", found[0].Part.Ref)
	require.Len(t, FindPart(d, "R2"), 1)
	assert.Empty(t, FindPart(d, "R77"))
	assert.Equal(t, "power plug", Nearest(d, "power plugg"))
	assert.NotEmpty(t, Nearest(d, "R22"))

	v := ShowPart(n, d, FindPart(d, "R2")[0], 2)
	assert.Equal(t, []string{"GND", "SNS"}, v.Nets)
	assert.Equal(t, []float64{1.6, 0.8}, v.SizeMM)
	assert.Equal(t, [2]float64{10, 13.4}, v.AtMM)
	assert.Equal(t, []PinView{{"1", "SNS"}, {"2", "GND"}}, v.Pins)
	assert.Equal(t, []Neighbour{{"J1", 1, 3.4}}, v.Neighbours)
	assert.Equal(t, []string{"2026-0002"}, v.Cases)
	assert.Equal(t, []Touch{{"2026-0002", "replaced", "knocked off", true}}, v.Touches)

	net, ok := b.Net("V12")
	require.True(t, ok)
	w := ShowNet(n, d, b, net)
	assert.Equal(t, []string{"TP1"}, w.TestPoints)
	var refs []string
	for _, p := range w.Parts {
		refs = append(refs, p.Ref+":"+strings.Join(p.Pins, ","))
	}
	assert.ElementsMatch(t, []string{"R1:2", "C1:1", "U1:1", "R9:2"}, refs)
	require.NotNil(t, w.Decoupling)
	assert.Equal(t, 1, w.Decoupling.Capacitors)
	assert.Equal(t, "10 µF", w.Decoupling.Total)
	assert.Equal(t, []string{"2026-0001"}, w.Cases)
	ground, _ := b.Net("GND")
	require.Equal(t, board.Ground, ground.Kind)
	assert.Nil(t, ShowNet(n, d, b, ground).Decoupling, "ground is decoupled from nothing")
}

// TestTouchedIsOfTheBoard: cases of another device, or that name no part of the board,
// touch nothing.
func TestTouchedIsOfTheBoard(t *testing.T) {
	n, d := shop(t)
	assert.Len(t, Touched(n, d.Boards[0], d.ID), 2)
	assert.Empty(t, Touched(n, d.Boards[0], "another"))
	other := *d.Boards[0]
	assert.Empty(t, Touched(n, &other, d.ID))
}

// TestDoesNamesFewNets: up to three nets are named; a list of four says nothing at a
// glance.
func TestDoesNamesFewNets(t *testing.T) {
	for count, want := range map[int]string{0: "series", 1: "series, A", 3: "series, A and B and C", 4: "series"} {
		h := Hit{Role: "series", Nets: []string{"A", "B", "C", "D"}[:count]}
		assert.Equal(t, want, h.Does(fmt.Sprintf))
	}
}
