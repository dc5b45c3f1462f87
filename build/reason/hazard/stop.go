package hazard

import (
	"slices"

	"benchlore/build/notebook"
	"benchlore/schema/terms"
)

// redFlags are what a device shows that must not be powered as it is, symptoms and
// what happened before. Common practice, no source.
var redFlags = []string{"smoke", "smell-burning", "swollen-battery", "trips-breaker", "shock", "leaks", "liquid-in", "wet"}

// RedFlags are the ids of symptoms and events that [Stop] is said for.
func RedFlags() []string { return slices.Clone(redFlags) }

// Stop comes before every check of a device that shows a red flag.
const Stop = "Do not power it. Unplug it, isolate it, take its battery out where that is safe, and keep it away from what burns. First only what needs no power: look, smell, resistance to ground and insulation, unplugged and discharged. A swollen or hot cell goes outdoors and is never charged."

// Said reports whether a text says of a danger that it is or was there.
func Said(n *notebook.Notebook, text string) bool {
	return len(n.Terms.Recognise(terms.Danger, text)) > 0
}

// MustStop reports whether anything of a device is a red flag, whatever past cases
// say of it.
func MustStop(symptoms, before []string) bool {
	red := func(id string) bool { return slices.Contains(redFlags, id) }
	return slices.ContainsFunc(symptoms, red) || slices.ContainsFunc(before, red)
}
