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

// OfCase gives the hazards of a case as they stand in the vocabulary's order.
func OfCase(n *notebook.Notebook, c *notebook.Case) []*terms.Term {
	k := &c.File.Case
	ids := written(c.Device, k)
	for i := range k.Parts {
		ids = append(ids, terms.CalledFor(k.Parts[i].Note)...)
	}
	inside, _ := opened(k, c.SectionPlain)
	ids = append(ids, inside...)
	return Of(n, ids)
}

// OfDraft gives those of a case that is being written, before it is in the
// notebook.
func OfDraft(n *notebook.Notebook, d *notebook.Device, k *casefile.Case) []*terms.Term {
	return Of(n, written(d, k))
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

// OfDevice gives the hazards of a device: its record's and its kind's.
func OfDevice(n *notebook.Notebook, d *notebook.Device) []*terms.Term {
	return Of(n, declared(d))
}

// OfText gives the hazards that a wording calls for.
func OfText(n *notebook.Notebook, text string) []*terms.Term {
	return Of(n, terms.CalledFor(text))
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
