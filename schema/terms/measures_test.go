package terms

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestMeasures reads what benches write into the column what. The sentences are our own
// (common practice, no source); those of the known words in other languages follow the
// dictionary entries of the International Electrotechnical Vocabulary (IEC 60050-131,
// electropedia.org).
func TestMeasures(t *testing.T) {
	for _, test := range []struct {
		what       string
		known      bool
		quantities []string
	}{
		{"voltage", true, []string{"voltage"}},
		{"ripple at C12", true, []string{"voltage", "current"}},
		{"resistance to ground", true, []string{"resistance", "conductance"}},
		{"Voltage across R4", true, []string{"voltage"}},
		{"AC voltage", true, []string{"voltage"}},
		{"diode, red on ground", true, []string{"voltage", "resistance"}},
		{"offset voltage", true, nil},
		{"current sense", true, nil},
		{"current at the shunt", true, nil},
		{"charge time at full current", true, nil},
		{"voltage drop of the supply current path", true, []string{"voltage", "current"}},
		{"speed", true, nil},
		{"power", true, nil},
		{"standby", true, nil},
		{"wetness of the foot", false, nil},
		{"Betriebsspannung", true, []string{"voltage"}},
		{"Isolationswiderstand", true, []string{"resistance", "conductance", "voltage", "current"}},
		{"Ruhestrom", true, []string{"current"}},
		{"Übergangswiderstände", true, []string{"resistance", "conductance"}},
		{"Widerstand nach Masse", true, []string{"resistance", "conductance"}},
		{"Dioden-Durchlassspannung", true, []string{"voltage", "resistance"}},
		{"tension d’alimentation", true, []string{"voltage"}},
		{"résistance d'isolement", true, nil},
		{"weerstand naar massa", true, []string{"resistance", "conductance"}},
		{"tensión de salida", true, []string{"voltage"}},
		{"lepojännite", true, []string{"voltage"}},
		{"напряжения", true, []string{"voltage"}},
		{"प्रतिरोध", true, []string{"resistance", "conductance"}},
		{"capacitor", true, nil},
		{"Kondensator", true, nil},
		{"bananas", false, nil},
		{"bananas across the board", true, nil},
		{"xyzzy", false, nil},
		{"the usual", false, nil},
		{"", false, nil},
	} {
		got := In("en").Measures(test.what)
		assert.Equal(t, test.known, got.Known, test.what)
		if strings.Contains(strings.ToLower(test.what), "isol") {
			continue // several entries; their union is asked for below
		}
		assert.Equal(t, test.quantities, got.Quantities, test.what)
	}
	insulation := In("de").Measures("Isolationswiderstand")
	assert.True(t, insulation.Fits("resistance") && insulation.Fits("current"))
	assert.False(t, insulation.Fits("capacitance"))
	assert.False(t, In("en").Measures("resistance").Fits("voltage"))
	assert.True(t, In("en").Measures("power").Fits("voltage"), "a power rail is read in volts")
}

// TestOwnMeasure: a word that the workshop explains is a known one.
func TestOwnMeasure(t *testing.T) {
	v, list := Builtin().Extend("terms/own.yaml", []byte("words:\n  - {id: wobble, name: Wobble, meaning: How far the arm swings.}\n"))
	require.Empty(t, list)
	assert.True(t, v.Measures("wobble at the tip").Known)
	assert.False(t, Builtin().Measures("wobble at the tip").Known)
}

func TestNearestMeasure(t *testing.T) {
	for text, want := range map[string]string{"voltge": "voltage", "resistence to ground": "resistance", "Spanung": "spannung", "capacitence": "capacitance",
		"bananas": "", "foo": "", "": ""} {
		assert.Equal(t, want, NearestMeasure(text), text)
	}
}

// TestMeasuresAreWords holds the data to what is looked up: words of one piece in small
// letters, none twice in an entry, and none that both says a quantity and leaves it open.
func TestMeasuresAreWords(t *testing.T) {
	var entries []measure
	decode("measures", &entries)
	says, opens := map[string]bool{}, map[string]bool{}
	for _, e := range entries {
		seen := map[string]bool{}
		for _, w := range e.Words {
			assert.False(t, seen[w], "%s stands twice", w)
			seen[w] = true
			bare := strings.TrimSuffix(strings.TrimPrefix(w, "-"), "-")
			assert.Equal(t, []string{bare}, measureTokens(bare), "%q is not one word in small letters", w)
			if len(e.Quantities) > 0 {
				says[w] = true
			}
			if e.Open {
				opens[w] = true
			}
		}
		assert.False(t, e.Open && len(e.Quantities) > 0)
	}
	for w := range says {
		assert.False(t, opens[w], "%s says a quantity and leaves it open", w)
	}
}
