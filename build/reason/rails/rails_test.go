package rails

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/quantity"
)

// supplied is a device whose board makes +5V from VIN by U1 and L1, +3V3 from +5V by U2,
// +1V0 from +3V3, and +5V_F from +5V by F2; rows may be left out or added.
func supplied(t *testing.T, rows ...string) (*notebook.Notebook, *notebook.Device) {
	t.Helper()
	pin := workshop.Pin
	if len(rows) == 0 {
		rows = []string{"| +1V0 | +3V3 | U3 | | 1 V ±5 % | | | 4 |", "| +3V3 | +5V | U2 | EN3 | 3.3 V ±5 % | 0.35..0.45 V | > 100 Ω | 3 |",
			"| VIN | socket | | | 12 V ±10 % | | | 1 |", "| +5V_F | +5V | F2 | | 5 V ±5 % | | | 5 |", "| +5V | VIN | U1, L1 | | 5 V ±5 % | | | 2 |"}
	}
	n := workshop.Book(t, map[string]string{"notebook.yaml": "name: W\n",
		"devices/w-b1.md": "---\ndevice: w-b1\nkind: amplifier\nmaker: W\nmodel: B1\nboards: [B1 main]\n---\n## Rails\n\n" +
			"| rail | from | by | enable | volts | diode | ohms | order |\n|---|---|---|---|---|---|---|---|\n" + strings.Join(rows, "\n") + "\n",
		"devices/w-b1/b1-main.csv": "designator,value,package,x_mm,y_mm,rotation,side\nJ1,plug,4x4 mm,5,5,0,top\nU1,buck,3x3 mm,20,10,0,top\n" +
			"L1,10u,4x4 mm,26,10,0,top\nU2,linear,3x3 mm,40,10,0,top\nU3,linear,3x3 mm,50,10,0,top\nF2,1 A,0603,30,20,0,top\nC1,10u,0603,30,5,0,top\nU9,logic,3x3 mm,60,10,0,top\n",
		"devices/w-b1/b1-main.ipc": workshop.Netlist(pin("VIN", "J1", "1", 4, 5), pin("GND", "J1", "2", 6, 5), pin("VIN", "U1", "1", 19, 10), pin("SW", "U1", "2", 21, 10), pin("GND", "U1", "3", 20, 9),
			pin("SW", "L1", "1", 24, 10), pin("+5V", "L1", "2", 28, 10), pin("+5V", "U2", "1", 39, 10), pin("+3V3", "U2", "2", 41, 10), pin("GND", "U2", "3", 40, 9),
			pin("+3V3", "U3", "1", 49, 10), pin("+1V0", "U3", "2", 51, 10), pin("+5V", "F2", "1", 29, 20), pin("+5V_F", "F2", "2", 31, 20),
			pin("+5V", "C1", "1", 29, 5), pin("GND", "C1", "2", 31, 5), pin("+1V0", "U9", "1", 59, 10), pin("+3V3", "U9", "2", 61, 10))})
	d, ok := n.Device("w-b1")
	require.True(t, ok)
	return n, d
}

func volts(t *testing.T, list ...string) map[string]quantity.Value {
	t.Helper()
	out := map[string]quantity.Value{}
	for _, text := range list {
		rail, value, _ := strings.Cut(text, "=")
		v, err := quantity.ParseReading(value)
		require.NoError(t, err)
		out[rail] = v
	}
	return out
}

func TestTree(t *testing.T) {
	n, d := supplied(t)
	require.Zero(t, n.Errors(), "%v", n.Problems)
	tree := Of(d, d.Boards[0])
	var got []string
	for _, r := range tree.Rails {
		got = append(got, fmt.Sprint(strings.Repeat(" ", r.Depth), r.Name, " ", r.Consumers))
	}
	assert.Equal(t, []string{"VIN [U1]", " +5V [U2]", "  +3V3 [U3 U9]", "   +1V0 [U9]", "  +5V_F []"}, got,
		"each under what it is made from, those of one rail as they come up, without what makes them")
}

// TestFirstThatFails: the rail that is named is the one whose own supply is there, what
// hangs on it follows, and a rail beside it is not judged by it.
func TestFirstThatFails(t *testing.T) {
	_, d := supplied(t)
	b := d.Boards[0]
	states := func(tree Tree) map[string]State {
		out := map[string]State{}
		for _, r := range tree.Rails {
			out[r.Name] = r.State
		}
		return out
	}
	tree := Of(d, b)
	require.NoError(t, tree.Judge(volts(t, "vin=12.2 V", "+3V3=0.3 V", "+1V0=0 V")))
	assert.Equal(t, "+3V3", tree.First)
	assert.Equal(t, map[string]State{"VIN": Good, "+5V": Unknown, "+3V3": Bad, "+1V0": Follows, "+5V_F": Unknown}, states(tree))
	assert.Equal(t, []string{"+3V3 to ground without power: > 100 Ω", "+3V3 in diode mode, red on ground: 0.35..0.45 V",
		"+5V, which it is made from: 5 V ±5 %", "EN3, which enables it", "U2, which makes it"}, tree.Next)

	require.NoError(t, tree.Judge(volts(t, "+5V=0 V", "+3V3=0.3 V")))
	assert.Equal(t, "+5V", tree.First, "its own supply fails too")
	assert.Equal(t, map[string]State{"VIN": Unknown, "+5V": Bad, "+3V3": Follows, "+1V0": Follows, "+5V_F": Follows}, states(tree))

	require.NoError(t, tree.Judge(volts(t, "+5V=0 V", "+3V3=3.3 V")))
	assert.Equal(t, map[string]State{"VIN": Unknown, "+5V": Bad, "+3V3": Good, "+1V0": Unknown, "+5V_F": Follows}, states(tree),
		"what was measured good is good, however odd")

	require.NoError(t, tree.Judge(volts(t, "+5V_F=0 V", "+1V0=0.2 V")))
	assert.Equal(t, "+1V0", tree.First, "of two that fail apart from each other, the one that comes up first")

	require.NoError(t, tree.Judge(volts(t, "VIN=0 V")))
	assert.Equal(t, []string{"VIN to ground without power", "socket, where it comes in"}, tree.Next)

	require.NoError(t, tree.Judge(volts(t, "VIN=12 V", "+5V=5.1 V")))
	assert.Empty(t, tree.First)
	assert.Equal(t, []string{"+3V3: voltage", "+1V0: voltage", "+5V_F: voltage"}, tree.Next)

	var unknown *UnknownRailError
	assert.ErrorAs(t, tree.Judge(volts(t, "+9V=1 V")), &unknown)
	assert.ErrorContains(t, tree.Judge(volts(t, "+5V=3 Ω")), "+5V")
}

// TestRailRows: what stands in the table is checked at its cell, and what a rail should
// show is a reference reading too.
func TestRailRows(t *testing.T) {
	for row, says := range map[string]string{
		"| +5V | VIN | U1 | | 5 V ±5 % | | | 2 |\n| +5v | VIN | | | | | | |": "stands in row 1 already",
		"| A | B | | | | | | |\n| B | A | | | | | | |":                       "made from it again",
		"| A | VIN | | | five volts | | | |":                                 "volts:",
		"| A | VIN | | | | | | first |":                                      "order is a whole number",
		"| A | VIN | | | | | | 0 |":                                          "order is a whole number",
	} {
		n, _ := supplied(t, row)
		var all []string
		for _, p := range n.Problems {
			all = append(all, p.Message)
		}
		assert.Contains(t, strings.Join(all, "\n"), says, row)
	}
	_, d := supplied(t)
	var points []string
	for _, r := range d.Record.Device.References {
		points = append(points, r.Point+", "+r.What+": "+r.Expected)
	}
	assert.Contains(t, points, "+3V3, voltage: 3.3 V ±5 %")
	assert.Contains(t, points, "+3V3, diode, red on ground: 0.35..0.45 V")
	assert.Contains(t, points, "+3V3, resistance to ground: > 100 Ω")
	assert.Len(t, points, 7)
}

// TestPropose: the netlist tells of a converter with an inductor and of a fuse between two
// supplies, and of a linear one nothing that is certain.
func TestPropose(t *testing.T) {
	_, d := supplied(t)
	assert.Equal(t, []Proposed{{"+1V0", "", ""}, {"+3V3", "", ""}, {"+5V", "VIN", "U1, L1"}, {"+5V_F", "+5V", "F2"}, {"VIN", "", ""}},
		Propose(d.Boards[0]))
}

// TestRailsOfTheExample: each rail of the example is a net, what makes it is on the board,
// one of its makers touches the rail and one what it is made from.
func TestRailsOfTheExample(t *testing.T) {
	n := workshop.Load(t)
	trees := 0
	for _, d := range n.Devices {
		for _, b := range d.Boards {
			tree := Of(d, b)
			if len(tree.Rails) == 0 {
				continue
			}
			trees++
			for _, r := range tree.Rails {
				net, ok := b.Net(r.Name)
				require.True(t, ok, r.Name)
				if r.By == "" {
					assert.Zero(t, r.Depth, r.Name)
					continue
				}
				from, ok := b.Net(r.From)
				require.True(t, ok, r.From)
				touches := map[string]bool{}
				for _, ref := range notebook.Designators(r.By) {
					p, ok := b.Part(ref)
					require.True(t, ok, ref)
					for _, q := range p.Pins {
						if q.Net >= 0 {
							touches[b.Nets[q.Net].Name] = true
						}
					}
				}
				assert.True(t, touches[net.Name], "%s is made by %s", r.Name, r.By)
				assert.True(t, touches[from.Name], "%s is made from %s", r.Name, r.From)
			}
		}
	}
	assert.Equal(t, 4, trees)
}
