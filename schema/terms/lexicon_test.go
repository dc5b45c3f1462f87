package terms

import (
	"crypto/sha256"
	"flag"
	"fmt"
	"hash"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"
)

// TestLexiconIsYAML: the quick reader of the lexicon's files reads in each what a library
// reads that knows all of YAML; every id is a term of its class and every class has all
// its ids.
func TestLexiconIsYAML(t *testing.T) {
	for _, tag := range Reading {
		l := lexiconOf(tag)
		for _, c := range readClasses {
			name := filepath.Join("lexicon", tag, string(c)+".yaml")
			src, err := os.ReadFile(name)
			require.NoError(t, err)
			var doc map[string][]string
			require.NoError(t, yaml.Unmarshal(src, &doc), name)
			got := map[string][]string{}
			for _, p := range l.phrases {
				if p.class == c {
					got[p.id] = append(got[p.id], p.text)
				}
			}
			for id, list := range doc {
				if set, ok := strings.CutPrefix(id, "_"); ok {
					assert.Equal(t, strings.Join(list, "|"), l.sets[string(c)+"/"+set], name)
					continue
				}
				assert.Equal(t, list, got[id], "%s: %s", name, id)
				if c != Name {
					_, ok := Builtin().Lookup(c, id)
					assert.True(t, ok, "%s: %s", name, id)
				}
			}
			for _, term := range Builtin().All(c) {
				if c != Fault && c != Action && c != Kind { // some of them nobody says
					assert.NotEmpty(t, got[term.ID], "%s has no words for %s", name, term.ID)
				}
			}
			assert.Len(t, got, len(doc)-countSets(doc), name)
		}
	}
}

func countSets(doc map[string][]string) (n int) {
	for id := range doc {
		if strings.HasPrefix(id, "_") {
			n++
		}
	}
	return n
}

// TestPhrasesAreRead: every phrase can be parsed, and so many lines mean another id of
// their class already that the file is better mended.
func TestPhrasesAreRead(t *testing.T) {
	for _, tag := range Reading {
		r := newReader(grammarOf(tag))
		l := lexiconOf(tag)
		for _, p := range l.phrases {
			assert.NoError(t, r.add(l, p), "%s %s %s", tag, p.class, p.id)
		}
		for k := range r.waiting {
			r.fetch([]string{k})
		}
		t.Logf("%s: %d lines, %d words, %d meet another meaning", tag, len(l.phrases), len(r.known), len(r.clash))
		assert.Less(t, len(r.clash), len(l.phrases)/20, tag)
	}
}

// TestReading: what is denied, asked, parted, joined and named, by hand.
func TestReading(t *testing.T) {
	for _, c := range []struct{ tag, text, want string }{
		{"en", "blown fuse", "faults fuse-open 0-10"},
		{"en", "no smoke or sparks", "dangers spark 12-18 denied"},
		{"en", "smoke alarm beeps", "kinds alarm 0-11"},
		{"en", "screen ok", "places display-panel 0-6 denied"},
		{"en", "is the fuse blown?", "faults fuse-open 7-17 asked"},
		{"en", "the battery in it has puffed up", "dangers cell-swollen 4-28"},
		{"en", "amp hums loudly", "kinds amplifier 0-3; symptoms hum 0-8"},
		{"de", "Akkuladegerät ohne Geruch", "kinds charger 0-14"},
		{"de", "es raucht nicht", ""},
		{"fr", "pas de son", "symptoms no-sound 0-10"},
		{"en", "De stofzuiger doet het niet meer", "kinds vacuum 3-13; symptoms not-working 14-32"},
		{"en", "der Akku ist aufgebläht", "dangers cell-swollen 4-24"},
	} {
		var got []string
		for _, m := range In(c.tag).Read(c.text) {
			if !slices.Contains([]Class{Kind, Symptom, Fault, Danger, Place}, m.Class) || m.Inferred > 0 {
				continue
			}
			how := ""
			if m.Negated {
				how = " denied"
			}
			if m.Asked {
				how += " asked"
			}
			got = append(got, strings.Join([]string{string(m.Class), m.ID, place(m)}, " ")+how)
		}
		for _, want := range strings.Split(c.want, "; ") {
			if want != "" {
				assert.Contains(t, got, want, "%s: %q", c.tag, c.text)
			}
		}
		if c.want == "" {
			for _, g := range got {
				assert.False(t, strings.HasPrefix(g, "dangers") && !strings.HasSuffix(g, "denied"), "%s: %q is read as %s", c.tag, c.text, g)
			}
		}
	}
}

func place(m Mention) string { return fmt.Sprintf("%d-%d", m.Start, m.Stop) }

// TestWaitingChangesNothing: what is read does not depend on what was read before.
func TestWaitingChangesNothing(t *testing.T) {
	texts := []string{}
	for _, s := range sentences(t, "en") {
		texts = append(texts, s.text)
	}
	used := compile("en", readClasses)
	for _, text := range texts {
		used.read(text)
	}
	for _, text := range texts[:40] {
		assert.Equal(t, compile("en", readClasses).read(text), used.read(text), text)
	}
}

// FuzzRead: whatever is typed, places are inside the text, on whole letters, and reading
// twice gives the same.
func FuzzRead(f *testing.F) {
	for _, tag := range Reading {
		for _, s := range sentences(f, tag)[:40] {
			f.Add(tag, s.text)
		}
	}
	f.Add("en", "not ?!? no\u0301 ' won’t\x00\xff")
	f.Fuzz(func(t *testing.T, tag, text string) {
		if !slices.Contains(Reading, tag) || len(text) > 4000 {
			t.Skip()
		}
		v := In(tag)
		found := v.Read(text)
		for _, m := range found {
			if m.Inferred > 0 {
				continue
			}
			require.True(t, 0 <= m.Start && m.Start < m.Stop && m.Stop <= len(text), "%q %v", text, m)
		}
		assert.Equal(t, found, v.Read(text))
	})
}

var update = flag.Bool("update", false, "write the golden files anew")

// TestSafetyWordsStay: no entry of the words that decide safety goes away, or changes,
// unnoticed: for each danger and each part that protects the golden file holds how many
// there are and a sum over them. Whoever changes one on purpose runs with -update, and the
// change stands in what is reviewed.
func TestSafetyWordsStay(t *testing.T) {
	var b strings.Builder
	for _, tag := range Reading {
		count, sums := map[termKey]int{}, map[termKey]hash.Hash{}
		var order []termKey
		for _, p := range lexiconOf(tag).phrases {
			if p.class != Danger && p.class != Protective && p.class != Name {
				continue
			}
			key := termKey{p.class, p.id}
			if sums[key] == nil {
				sums[key], order = sha256.New(), append(order, key)
			}
			count[key]++
			fmt.Fprintln(sums[key], p.text)
		}
		for _, k := range order {
			fmt.Fprintf(&b, "%s %s %s: %d entries %x\n", tag, k.class, k.id, count[k], sums[k].Sum(nil)[:6])
		}
	}
	name := filepath.Join("testdata", "safety-words.golden")
	if *update {
		require.NoError(t, os.WriteFile(name, []byte(b.String()), 0o644))
	}
	want, err := os.ReadFile(name)
	require.NoError(t, err)
	assert.Equal(t, string(want), b.String(), "words that decide safety changed; look at the difference, then run with -update")
}

// TestEachClassIsHeard: of each class and language some words, by hand; what nothing else
// tests.
func TestEachClassIsHeard(t *testing.T) {
	for _, c := range []struct {
		tag, text string
		class     Class
		id        string
	}{
		{"en", "charging port", Place, "charge-socket"}, {"de", "Ladebuchse", Place, "charge-socket"}, {"fr", "prise de charge", Place, "charge-socket"}, {"nl", "laadpoort", Place, "charge-socket"},
		{"en", "electrolytic", Part, "electrolytic-capacitor"}, {"de", "Elko", Part, "electrolytic-capacitor"}, {"fr", "condensateur chimique", Part, "electrolytic-capacitor"}, {"nl", "elco", Part, "electrolytic-capacitor"},
		{"en", "thermal cut-out", Protective, "thermal-limiter"}, {"de", "Thermosicherung", Protective, "thermal-fuse"}, {"fr", "fusible thermique", Protective, "thermal-fuse"}, {"nl", "thermische zekering", Protective, "thermal-fuse"},
		{"en", "it fell off the table", Before, "dropped"}, {"de", "runtergefallen", Before, "dropped"}, {"fr", "il est tombé", Before, "dropped"}, {"nl", "is gevallen", Before, "dropped"},
		{"en", "resoldered", Action, "reworked"}, {"de", "nachgelötet", Action, "reworked"}, {"fr", "ressoudé", Action, "reworked"}, {"nl", "opnieuw gesoldeerd", Action, "reworked"},
		{"en", "nothing wrong there", Result, "clear"}, {"de", "alles unauffällig", Result, "clear"}, {"fr", "rien d’anormal", Result, "clear"}, {"nl", "in orde", Result, "clear"},
		{"en", "with the multimeter", Instrument, "multimeter"}, {"de", "mit dem Oszilloskop", Instrument, "oscilloscope"}, {"fr", "à l’oscilloscope", Instrument, "oscilloscope"}, {"nl", "met de multimeter", Instrument, "multimeter"},
	} {
		var got []string
		for _, m := range In(c.tag).Read(c.text) {
			if m.Class == c.class {
				got = append(got, m.ID)
			}
		}
		assert.Contains(t, got, c.id, "%s: %q", c.tag, c.text)
	}
}

// TestLanguageOfAText: English, German, French and Dutch are told apart by their function
// words, and a text that the notebook's own language knows stays in it.
func TestLanguageOfAText(t *testing.T) {
	for _, c := range []struct{ own, text, want string }{
		{"en", "won't turn on", "en"}, {"en", "skips on every CD", "en"}, {"en", "De stofzuiger doet het niet meer", "nl"},
		{"en", "Die Lampe ist nicht mehr an", "de"}, {"de", "the lamp is dead and it smells", "en"}, {"de", "Toaster geht nicht", "de"},
		{"fr", "le grille-pain ne chauffe plus", "fr"}, {"fr", "it does not get warm at all", "en"}, {"nl", "ne s'allume plus du tout depuis hier", "fr"},
		{"es", "la lavadora no se enciende", "es"}, {"es", "it will not turn on", "en"}, {"en", "", "en"},
	} {
		assert.Equal(t, c.want, In(c.own).writtenIn(c.text), "%s: %q", c.own, c.text)
	}
}

// TestNounForms: a name of a thing is read in its plural and case, and not in a verb that
// only begins alike.
func TestNounForms(t *testing.T) {
	kind := func(tag, text string) string {
		for _, m := range In(tag).Read(text) {
			if m.Class == Kind && m.Inferred == 0 {
				return m.ID
			}
		}
		return ""
	}
	assert.Equal(t, "printer", kind("de", "der Drucker streikt"))
	assert.Equal(t, "printer", kind("de", "zwei Druckern fehlt Toner"))
	assert.NotEqual(t, "printer", kind("de", "den Knopf gedrückt"))
	assert.Equal(t, "kettle", kind("en", "two kettles leak"))
	assert.NotEqual(t, "receiver", kind("en", "received last week"))
}
