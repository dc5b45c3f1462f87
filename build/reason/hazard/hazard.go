// Package hazard says which usual cautions a case, a device or a check calls for:
// those that are declared, those of the kind of device, and those that the wording
// of a check brings. It informs; nothing it says makes a device safe.
package hazard

import (
	"slices"

	"benchlore/build/notebook"
	"benchlore/schema/casefile"
	"benchlore/schema/terms"
)

// OfCase gives what is to be said before a case, also one that is being written and is
// not in the notebook yet.
func OfCase(n *notebook.Notebook, c *notebook.Case) Warnings {
	k := &c.File.Case
	inside, _ := opened(k, c.SectionPlain)
	s := Subject{Device: c.Device, Hazards: append(slices.Clone(k.Hazards), inside...), Symptoms: k.Symptoms, Before: k.Before,
		Said: []string{k.Title, c.SectionPlain("Symptom")}}
	for i := range k.Findings {
		s.Checks = append(s.Checks, k.Findings[i].Check)
	}
	for i := range k.Parts {
		s.Checks = append(s.Checks, k.Parts[i].Note)
	}
	return WarningsOf(n, s)
}

// written are those that a case and its device declare and its checks call for.
func written(d *notebook.Device, k *casefile.Case) []string {
	ids := slices.Clone(k.Hazards)
	if d != nil {
		ids = append(ids, declared(d)...)
	}
	for i := range k.Findings {
		ids = append(ids, terms.CalledFor(k.Findings[i].Check)...)
	}
	return ids
}

// OfDevice gives the cautions of a device: its record's and its kind's.
func OfDevice(n *notebook.Notebook, d *notebook.Device) []*terms.Term {
	w := WarningsOf(n, Subject{Device: d})
	return w.Cautions
}

// OfText gives the cautions that the wording of a check calls for.
func OfText(n *notebook.Notebook, text string) []*terms.Term {
	w := WarningsOf(n, Subject{Checks: []string{text}})
	return w.Cautions
}

func declared(d *notebook.Device) []string {
	ids := terms.CalledForBy(d.Kind)
	if d.Record != nil {
		ids = append(ids, d.Record.Device.Hazards...)
	}
	return ids
}

// Of gives the known hazards among the ids, each once, in the vocabulary's order.
func Of(n *notebook.Notebook, ids []string) []*terms.Term {
	var out []*terms.Term
	for _, t := range n.Terms.All(terms.Hazard) {
		if slices.Contains(ids, t.ID) {
			out = append(out, t)
		}
	}
	return out
}
