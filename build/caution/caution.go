// Package caution says which usual cautions a case, a device or a check calls for:
// those that are declared, those of the kind of device, and those that the wording
// of a check brings. It informs; nothing it says makes a device safe.
package caution

import (
	"slices"

	"benchlore/build/notebook"
	"benchlore/schema/casefile"
	"benchlore/schema/terms"
)

// OfCase gives the hazards of a case as they stand in the vocabulary's order.
func OfCase(n *notebook.Notebook, c *notebook.Case) []*terms.Term {
	k := &c.File.Case
	ids := append(slices.Clone(k.Hazards), declared(c.Device)...)
	for i := range k.Findings {
		ids = append(ids, terms.CalledFor(k.Findings[i].Check)...)
	}
	for i := range k.Parts {
		ids = append(ids, terms.CalledFor(k.Parts[i].Note)...)
	}
	return ordered(n.Terms, ids)
}

// OfDraft gives those of a case that is being written, before it is in the
// notebook.
func OfDraft(n *notebook.Notebook, d *notebook.Device, k *casefile.Case) []*terms.Term {
	ids := slices.Clone(k.Hazards)
	if d != nil {
		ids = append(ids, declared(d)...)
	}
	for i := range k.Findings {
		ids = append(ids, terms.CalledFor(k.Findings[i].Check)...)
	}
	return ordered(n.Terms, ids)
}

// OfDevice gives the hazards of a device: its record's and its kind's.
func OfDevice(n *notebook.Notebook, d *notebook.Device) []*terms.Term {
	return ordered(n.Terms, declared(d))
}

// OfText gives the hazards that a wording calls for.
func OfText(n *notebook.Notebook, text string) []*terms.Term {
	return ordered(n.Terms, terms.CalledFor(text))
}

func declared(d *notebook.Device) []string {
	ids := terms.CalledForBy(d.Kind)
	if d.Record != nil {
		ids = append(ids, d.Record.Device.Hazards...)
	}
	return ids
}

// ordered gives the known terms among the ids, each once.
func ordered(v *terms.Vocabulary, ids []string) []*terms.Term {
	var out []*terms.Term
	for _, t := range v.All(terms.Hazard) {
		if slices.Contains(ids, t.ID) {
			out = append(out, t)
		}
	}
	return out
}
