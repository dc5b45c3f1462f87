package hazard

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"benchlore/schema/terms"
)

// TestRedFlagsByWord: each of these words of a case, by itself, stops the work. The list is
// written here and not read from the terms, so that a word taken out is missed. Common
// practice, no source.
func TestRedFlagsByWord(t *testing.T) {
	n := example(t)
	for _, c := range []struct {
		class  terms.Class
		id     string
		danger string
	}{
		{terms.Symptom, "smoke", "smoke"}, {terms.Symptom, "smell-burning", "burnt-smell"}, {terms.Symptom, "swollen-battery", "cell-swollen"},
		{terms.Symptom, "trips-breaker", "trips-supply"}, {terms.Symptom, "shock", "shock"}, {terms.Symptom, "leaks", "liquid-in"},
		{terms.Symptom, "liquid-in", "liquid-in"}, {terms.Before, "wet", "liquid-in"},
	} {
		s := Subject{Symptoms: []string{c.id}}
		if c.class == terms.Before {
			s = Subject{Before: []string{c.id}}
		}
		w := WarningsOf(n, s)
		assert.True(t, w.Stop(), c.id)
		assert.Equal(t, []string{c.danger}, ids(w.Dangers), c.id)
	}
}

// TestDangersOnce: a danger that is said in several places, and by a symptom too, is named once,
// in the order in which it was said.
func TestDangersOnce(t *testing.T) {
	n := example(t)
	w := WarningsOf(n, Subject{Said: []string{"Smoke came out.", "There was smoke, and the battery is swollen."}, Symptoms: []string{"smoke", "swollen-battery"}})
	assert.Equal(t, []string{"smoke", "cell-swollen"}, ids(w.Dangers))
}

// TestWhatWasOpened: a verb belongs to its own thing wherever the two stand in a text, and to the
// last thing that was named before it.
func TestWhatWasOpened(t *testing.T) {
	mains, pack := []string{"mains", "stored-charge"}, []string{"lithium"}
	far := strings.Repeat("It ran for an hour and was cold to the touch. ", 4)
	for text, want := range map[string][]string{
		"Charger. Opened to make sure.":                                            mains,
		"The adapter was measured. " + far + "The charger was opened.":             mains,
		"Opened the charger. " + far + "Opened the battery pack.":                  append(append([]string{}, mains...), pack...),
		"The adapter. The battery pack. Opened to make sure.":                      pack,
		"The battery pack. The adapter. Opened to make sure.":                      mains,
		"The battery pack. The adapter. The pack. Opened to make sure.":            pack,
		"The radio. Opened to make sure. The adapter. Opened to make sure.":        mains,
		"The adapter. Opened to make sure. The battery pack. Opened to make sure.": append(append([]string{}, mains...), pack...),
		"The adapter, then the charger. The charger was opened.":                   mains,
		"Opened this adapter.":                              mains,
		"Opened the radio. " + far + "The adapter is fine.": nil,
	} {
		assert.ElementsMatch(t, want, openedIn(text), text)
	}
}
