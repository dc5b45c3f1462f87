package terms

import (
	"fmt"
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
		{"en", "no smoke or sparks", "dangers smoke 3-8 denied; dangers spark 12-18 denied"},
		{"en", "smoke alarm beeps", "kinds alarm 0-11"},
		{"en", "screen ok", "places display-panel 0-6 denied"},
		{"en", "is the fuse blown?", "faults fuse-open 7-17 asked"},
		{"en", "the battery in it has puffed up", "dangers cell-swollen 4-31"},
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
