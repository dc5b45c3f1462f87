package terms

import (
	"slices"
	"sync"

	"benchlore/schema/language"
)

// Stopping is what a danger means for the work. Common practice, no source; nothing here
// declares a device safe.
type Stopping struct {
	Dangers []string `yaml:"dangers"` // ids
	Hazards []string `yaml:"hazards"` // ids of those that they call for
	// Shows is the hazard that is surely there with such a danger, so that a case that
	// tells of one names it; empty where none is sure.
	Shows string   `yaml:"shows"`
	At    []string `yaml:"at"` // ids of places where their causes lie
	// Look is a check that comes before every other and needs no power, Good what a good
	// one shows, and Until what has to be so before anything else is checked; by language.
	Look  map[string]string `yaml:"look"`
	Good  map[string]string `yaml:"good"`
	Until map[string]string `yaml:"until"`
}

var stoppings = sync.OnceValue(func() []Stopping {
	var list []Stopping
	decode("stops", &list)
	return list
})

// Stops gives what a danger means for the work. A danger of which nothing is known has
// nothing looked at first.
func Stops(danger string) (Stopping, bool) {
	at := slices.IndexFunc(stoppings(), func(s Stopping) bool { return slices.Contains(s.Dangers, danger) })
	if at < 0 {
		return Stopping{}, false
	}
	return stoppings()[at], true
}

// Said gives a text by language in one, in English where it has none.
func Said(texts map[string]string, tag string) string {
	if text, ok := texts[tag]; ok {
		return text
	}
	return texts[language.English]
}
