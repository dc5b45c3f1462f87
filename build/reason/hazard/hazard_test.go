package hazard

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/casefile"
	"benchlore/schema/terms"
)

func example(t *testing.T) *notebook.Notebook {
	t.Helper()
	n := workshop.Load(t)
	return n
}

func ids(list []*terms.Term) []string {
	out := []string{}
	for _, t := range list {
		out = append(out, t.ID)
	}
	return out
}

// TestByWording: what a check says calls for cautions; "no" before it does not, and
// heat brings fumes along. Common practice, no source.
func TestByWording(t *testing.T) {
	n := example(t)
	for text, want := range map[string][]string{
		"Reflow the joint at the relay": {"hot-air", "fumes"}, "Discharge the reservoir capacitor": {"stored-charge"},
		"Insulation test, unplugged": {"mains"},
		"Look at the battery pack":   {"lithium"}, "No hot air was used": {}, "Wiggle the knob": {},
		"Belt": {"moving-parts"}, "On the isolating transformer, live": {"mains"},
		"Heißluft auf C12": {"hot-air", "fumes"}, "Clean with isopropyl alcohol": {"chemicals"},
		"Laser pickup": {"laser"}, "Lift the cracked glass": {"sharp-edges"},
	} {
		assert.Equal(t, want, ids(OfText(n, text)), text)
	}
}

// TestEverywhere: what a case declares, its device's record and its kind are gathered,
// each once, in the vocabulary's order.
func TestEverywhere(t *testing.T) {
	n := example(t)
	for _, c := range n.Cases {
		w := OfCase(n, c)
		got := ids(w.Cautions)
		for _, h := range c.File.Case.Hazards {
			assert.Contains(t, got, h, c.ID())
		}
		for _, h := range ids(OfDevice(n, c.Device)) {
			assert.Contains(t, got, h, c.ID())
		}
		seen := map[string]bool{}
		for _, h := range got {
			assert.False(t, seen[h], "%s: %s twice", c.ID(), h)
			seen[h] = true
		}
	}
	kettle, ok := n.Device("pellgrove-k17")
	require.True(t, ok)
	assert.Subset(t, ids(OfDevice(n, kettle)), []string{"mains", "pressure-hot-water"})
}

// TestPrecautions: every built-in hazard has its precautions and a question with two
// wrong answers; every limit names a source; nothing claims that a device is safe.
func TestPrecautions(t *testing.T) {
	v := terms.Builtin()
	known := map[string]bool{}
	for _, p := range terms.Precautions() {
		_, ok := v.Lookup(terms.Hazard, p.Hazard)
		assert.True(t, ok, p.Hazard)
		known[p.Hazard] = true
		assert.NotEmpty(t, p.Care, p.Hazard)
		assert.NotEmpty(t, p.Calls, p.Hazard)
		assert.Len(t, p.Question.Wrong, 2, p.Hazard)
		assert.NotContains(t, p.Question.Wrong, p.Question.Right)
		for _, l := range p.Limits {
			assert.NotEmpty(t, l.Source, "%s: %s", p.Hazard, l.What)
		}
		for _, k := range p.Kinds {
			_, ok := v.Lookup(terms.Kind, k)
			assert.True(t, ok, k)
		}
		for _, h := range p.Brings {
			_, ok := v.Lookup(terms.Hazard, h)
			assert.True(t, ok, h)
		}
		for _, text := range p.Care {
			assert.NotContains(t, text, "is safe")
		}
	}
	for _, h := range v.All(terms.Hazard) {
		assert.True(t, known[h.ID], "%s has no precautions", h.ID)
	}
	// Limits that can be worked out (formulas as their sources say; the discharge by
	// t = R C ln(V0/V), worked by hand).
	limits := map[string]string{}
	for _, p := range terms.Precautions() {
		for _, l := range p.Limits {
			limits[l.What] = l.Limit
		}
	}
	assert.Equal(t, fmt.Sprintf("%.0f V", 230*math.Sqrt2), limits["Peak of rectified 230 V mains"])
	const c, v0, r = 220e-6, 400.0, 2200.0
	assert.Equal(t, fmt.Sprintf("%.2f s, %.1f J, %.0f W at first", r*c*math.Log(v0/60), c*v0*v0/2, v0*v0/r),
		limits["400 V on 220 µF through 2.2 kΩ down to 60 V"])
	assert.Contains(t, limits["1 µF at 2.1 kV, as in a microwave oven"], fmt.Sprintf("%.1f J", 1e-6*2100*2100/2))
}

// TestDangersOf: these symptoms and events, alone, say a danger that stops, and no other does.
// Common practice, no source.
func TestDangersOf(t *testing.T) {
	n := example(t)
	says := map[string]string{"smoke": "smoke", "smell-burning": "burnt-smell", "swollen-battery": "cell-swollen", "trips-breaker": "trips-supply",
		"shock": "shock", "leaks": "liquid-in", "liquid-in": "liquid-in", "wet": "liquid-in"}
	for _, class := range []terms.Class{terms.Symptom, terms.Before} {
		for _, term := range n.Terms.All(class) {
			var want []string
			if says[term.ID] != "" {
				want = []string{says[term.ID]}
			}
			assert.Equal(t, want, DangersOf(n, []string{"hum", term.ID}, []string{term.ID, "dropped"}), term.ID)
			w := WarningsOf(n, Subject{Symptoms: []string{term.ID}, Before: []string{term.ID}})
			assert.Equal(t, want != nil, w.Stop(), term.ID)
		}
	}
	assert.Contains(t, Stop, "Do not power it")
}

// TestStops: for every danger it is known what is looked at first, what has to be so before
// the work goes on and which hazards it calls for, in three languages; every word of it is
// known, and nothing is said to be safe.
func TestStops(t *testing.T) {
	n := example(t)
	for _, d := range n.Terms.All(terms.Danger) {
		stop, ok := terms.Stops(d.ID)
		require.True(t, ok, d.ID)
		for _, texts := range []map[string]string{stop.Look, stop.Good, stop.Until} {
			for _, tag := range []string{"en", "de", "fr"} {
				assert.NotEmpty(t, texts[tag], "%s %s", d.ID, tag)
				assert.NotRegexp(t, `(?i)\bsafe\b|\bsicher\b|sûr\b`, texts[tag], d.ID)
			}
		}
		for _, id := range stop.At {
			_, ok := n.Terms.Lookup(terms.Place, id)
			assert.True(t, ok, id)
		}
		w := WarningsOf(n, Subject{Symptoms: nil, Said: []string{d.Name}})
		assert.Contains(t, w.Dangers, d, "%s is not heard by its name", d.ID)
		assert.Subset(t, ids(w.Cautions), stop.Hazards, d.ID)
	}
	_, ok := terms.Stops("rain")
	assert.False(t, ok)
}

// TestGravity: what kills stands before what hurts; a workshop's own comes last.
func TestGravity(t *testing.T) {
	v := terms.Builtin()
	own := &terms.Term{ID: "wasps"}
	list := append([]*terms.Term{own}, v.All(terms.Hazard)...)
	assert.Equal(t, []string{"high-voltage", "mains", "lithium", "stored-charge", "pressure-hot-water", "moving-parts", "laser", "hot-air", "lamp-uv",
		"chemicals", "sharp-edges", "fumes", "esd", "wasps"}, ids(ByGravity(list)))
	w := Warnings{Cautions: list}
	assert.Equal(t, "high-voltage", w.Gravest().ID)
	assert.Nil(t, (&Warnings{}).Gravest())
}

// TestRedFlagsAreHeard: what people say of fire, smoke, shock and swollen cells stops, in
// each language; what only sounds like it does not. Common practice, no source.
func TestRedFlagsAreHeard(t *testing.T) {
	for tag, said := range map[string][2][]string{
		"en": {{"it smokes", "smoke came out", "on fire", "caught fire", "sparks inside", "smells burnt", "a burning smell", "swollen battery",
			"the battery is swollen", "trips the breaker", "gave me a shock", "water got in"},
			{"no light at all", "hums when warm", "the fuse is blown", "battery runs down"}},
		"de": {{"Rauch", "es raucht", "Rauch kommt heraus", "qualmt", "Funken", "Flammen", "hat Feuer gefangen", "riecht verbrannt", "stinkt verschmort",
			"Akku aufgebläht", "der Akku ist gebläht", "FI löst aus", "FI fliegt", "hat mich elektrisiert", "Wasser eingedrungen"},
			{"die Lampe brennt nicht", "kein Licht", "brummt, wenn warm", "Akku schnell leer"}},
		"fr": {{"fumée", "ça fume", "des flammes", "étincelles", "a pris feu", "ça sent le brûlé", "odeur de cramé", "batterie gonflée",
			"la batterie a gonflé", "fait sauter le disjoncteur", "j’ai pris une décharge", "tombé dans l’eau"},
			{"pas de lumière", "ronfle à chaud", "la batterie se vide vite"}},
	} {
		n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\nlanguage: " + tag + "\n"})
		heard := func(text string) bool {
			w := WarningsOf(n, Subject{Said: []string{text}})
			return w.Stop()
		}
		for _, text := range said[0] {
			assert.True(t, heard(text), "%s: %q", tag, text)
		}
		for _, text := range said[1] {
			assert.False(t, heard(text), "%s: %q", tag, text)
		}
	}
}

// TestOpened: what a text opens calls for the cautions of what is inside, and what it
// only names, swaps or forbids to open does not.
func TestOpened(t *testing.T) {
	mains, pack, tube := []string{"mains", "stored-charge"}, []string{"lithium"}, []string{"high-voltage", "stored-charge"}
	for text, want := range map[string][]string{
		"Opened the adapter: 470 µF read 38 µF.":                          mains,
		"The adapter was opened and C3 bulged.":                           mains,
		"New adapter. The old one ran warm. Opened to make sure.":         mains,
		"Tested the charger, then opened it and found C2 dry.":            mains,
		"The power supply had been opened before.":                        mains,
		"Cracked open the old adapter.":                                   mains,
		"Das Netzteil wurde geöffnet.":                                    mains,
		"L'adaptateur a été ouvert.":                                      mains,
		"Opened up the battery pack and measured each group.":             pack,
		"The microwave oven was opened by somebody.":                      tube,
		"Opened the radio; runs on another adapter.":                      nil,
		"Load the adapter before you open the device.":                    nil,
		"Adapter fine. Opened the switch and found C2 dry.":               nil,
		"A new adapter, never opened.":                                    nil,
		"Opened to make sure.":                                            nil,
		"The turntable runs from a 16 V adapter; belt replaced.":          nil,
		"The contact was open and the charger showed a steady red light.": nil,
	} {
		assert.Equal(t, want, openedIn(text), text)
	}
}

// TestOmitted names the first section that opens something, and leaves out what the
// case, its device or its kind says already.
func TestOmitted(t *testing.T) {
	parse := func(hazards, symptom, outcome string) *notebook.Case {
		f, problems := casefile.Parse("c.md", []byte("---\ncase: 2026-0001\ntitle: T\ndevice: {kind: radio}\nopened: 2026-01-02\nsymptoms: []\n"+
			hazards+"---\n## Symptom\n\n"+symptom+"\n\n## Outcome\n\n"+outcome+"\n"))
		require.Empty(t, problems)
		return &notebook.Case{File: f}
	}
	for _, c := range []struct{ hazards, symptom, outcome, section, ids string }{
		{"", "Opened the charger.", "Opened the battery pack.", "Symptom", "mains stored-charge lithium"},
		{"", "Dead.", "Opened the battery pack.", "Outcome", "lithium"},
		{"hazards: [mains, stored-charge]\n", "Opened the charger.", "Opened the battery pack.", "Outcome", "lithium"},
		{"", "Dead.", "A new fuse.", "", ""},
	} {
		ids, section := Omitted(parse(c.hazards, c.symptom, c.outcome))
		assert.Equal(t, c.ids, strings.Join(ids, " "))
		assert.Equal(t, c.section, section)
	}
}
