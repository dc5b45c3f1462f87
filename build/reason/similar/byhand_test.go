package similar

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/reason/verdict"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/terms"
)

// byHand is a notebook of sixteen cases; the first two share one trait of every sort,
// the others are there to make traits common.
func byHand(t *testing.T) (*notebook.Notebook, *Model) {
	t.Helper()
	files := map[string]string{"notebook.yaml": "name: W\n"}
	write := func(name, text string) { files[name] = text }
	write("devices/w-b1.md", "---\ndevice: w-b1\nkind: amplifier\nmaker: W\nmodel: B1\nboards: [B1 main]\n---\n")
	full := func(id, title, front string) {
		write("cases/"+id+".md", "---\ncase: "+id+"\ntitle: "+title+"\ndevice: w-b1\nboard: B1 main\nopened: 2026-01-02\nclosed: 2026-01-03\n"+
			"symptoms: [hum]\nbefore: [wet]\ncause: {fault: joint-cracked, at: power-supply, origin: wear}\noutcome: fixed\n"+front+
			"---\n## Symptom\n\nHums.\n\n## Measurements\n\n| point | what | state | expected | read | note |\n|---|---|---|---|---|---|\n"+
			"| TP1 | voltage | on | 5 V ±5 % | 3 V | |\n| TP2 | voltage | on | 5 V ±5 % | 5 V | |\n\n## Parts\n\n"+
			"| ref | part | value | package | net | action | fitted | note |\n|---|---|---|---|---|---|---|---|\n"+
			"| R1 | resistor | 1k | 0603 | vcc | replaced | same | |\n| J1 | plug | | | | reworked | | |\n| K7 | speaker socket | | | | reworked | | |\n")
	}
	full("2026-0001", "Amplifier buzzes beneath velvet curtains yonder 42", "")
	full("2026-0002", "Amplifier buzzes beneath velvet curtains yonder 42", "")
	back := func(id, returns string) {
		write("cases/"+id+".md", "---\ncase: "+id+"\ntitle: Back\ndevice: w-b1\nopened: 2026-02-02\nclosed: 2026-02-03\nsymptoms: [no-power]\n"+
			"outcome: fixed\nreturns: "+returns+"\n---\n## Symptom\n\nBack.\n")
	}
	back("2026-0003", "2026-0001")
	back("2026-0004", "2026-0002")
	for i := 5; i <= 16; i++ {
		write(fmt.Sprintf("cases/2026-%04d.md", i), fmt.Sprintf("---\ncase: 2026-%04d\ntitle: Dark\ndevice: {kind: lamp}\nopened: 2026-03-02\n"+
			"symptoms: [flicker]\nbefore: [nothing]\n---\n## Symptom\n\nDark.\n", i))
	}
	n := workshop.Book(t, files)
	require.Zero(t, n.Errors(), "%v", n.Problems)
	return n, New(n, verdict.New(n))
}

// TestScoreByHand works out the score of two cases that share one trait of each sort.
// A trait of n among N cases tells log2((N+1)/(n+1)) bits, which are weighed by the
// numbers written here.
func TestScoreByHand(t *testing.T) {
	n, m := byHand(t)
	bits := func(of int) float64 { return math.Log2(17 / float64(of+1)) }
	c, ok := n.Case("2026-0001")
	require.True(t, ok)
	list := m.Of(c, 5)
	require.NotEmpty(t, list)
	first := list[0]
	assert.Equal(t, "2026-0002", first.Case.ID())
	// Symptom, board, place, fault, event, part, two connectors, net, reading and
	// comeback stand in two cases each, model and kind in four, and six words in two.
	want := (1+0.2+0.5+0.5+0.3+0.3+2*0.4+0.2+0.5+0.3)*bits(2) + (0.8+0.5)*bits(4) + 0.25*6*bits(2)
	words := 0
	for _, k := range m.keysOf(c) {
		if k.sort == word {
			words++
		}
	}
	require.Equal(t, 6, words, "without filler and without the number")
	assert.InDelta(t, want, first.Score, 1e-9)
	assert.Equal(t, []string{"same words: amplifier, beneath, buzzes, curtains", "same symptom: Hum or buzz in the sound", "same model", "same place: Power supply",
		"same fault: Cracked solder joint", "the same reading low: TP1", "same connector: J1", "same connector: K7", "same kind of device",
		"same beforehand: Got wet", "same part: R1", "returned after the same repair: Cracked solder joint", "same board: B1 main", "same net: VCC"},
		first.Why)
	for _, nb := range list {
		assert.NotEqual(t, "2026-0003", nb.Case.ID(), "its own comeback stands apart")
		assert.GreaterOrEqual(t, nb.Score, 1.0)
	}
}

// TestTies: equal scores are told newest first, whatever the limit, and what tells
// less than one bit is not called similar.
func TestTies(t *testing.T) {
	n, m := byHand(t)
	c, ok := n.Case("2026-0010")
	require.True(t, ok)
	// Twelve of sixteen are lamps that flicker: 0.387 bits each, weighed 1, 0.5 and 0.25.
	assert.Empty(t, m.Of(c, 5))
	back, _ := n.Case("2026-0004")
	var got []string
	for _, nb := range m.Of(back, 5) {
		got = append(got, nb.Case.ID())
	}
	assert.Equal(t, []string{"2026-0003", "2026-0001"}, got, "the case it came back from is left out")
	for limit := 1; limit <= 2; limit++ {
		assert.Len(t, m.Of(back, limit), limit)
	}
	assert.Equal(t, "2026-0003", m.Of(back, 1)[0].Case.ID())
}

// TestKeysFollow: the number of a case changes when a neighbour does and only then.
func TestKeysFollow(t *testing.T) {
	n, m := byHand(t)
	same := func(*notebook.Case) uint64 { return 1 }
	before, again := m.Keys(same), m.Keys(same)
	changed := m.Keys(func(c *notebook.Case) uint64 {
		if c.ID() == "2026-0002" {
			return 2
		}
		return 1
	})
	for _, c := range n.Cases {
		assert.Equal(t, before(c), again(c), c.ID())
		lamp := c.Device.Kind == "lamp"
		assert.Equal(t, lamp, before(c) == changed(c), "%s shares a trait with the changed one, or not", c.ID())
	}
}

// TestRareIsSaid: a shared symptom is called rare where it tells four bits or more,
// counted here from the cases themselves.
func TestRareIsSaid(t *testing.T) {
	n := example(t)
	m := New(n, verdict.New(n))
	have := map[string]int{}
	for _, c := range n.Cases {
		for _, s := range c.File.Case.Symptoms {
			have[s]++
		}
	}
	rare := 0
	for _, c := range n.Cases {
		for _, nb := range m.Of(c, 10) {
			for _, s := range c.File.Case.Symptoms {
				if !slices.Contains(nb.Case.File.Case.Symptoms, s) {
					continue
				}
				name := n.Terms.Name(terms.Symptom, s)
				text := "same symptom: " + name
				if math.Log2(float64(len(n.Cases)+1)/float64(have[s]+1)) >= 4 {
					text = fmt.Sprintf("same symptom, rare here: %s (%d cases)", name, have[s])
					rare++
				}
				assert.Contains(t, nb.Why, text, "%s and %s", c.ID(), nb.Case.ID())
			}
		}
	}
	assert.Positive(t, rare)
}
