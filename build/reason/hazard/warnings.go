package hazard

import (
	"cmp"
	"slices"

	"benchlore/build/notebook"
	"benchlore/schema/terms"
)

// Subject is what warnings are asked about; whatever is known of it.
type Subject struct {
	Device           *notebook.Device
	Kinds            []string // ids of the kind of device, finer and wider ones alike
	Hazards          []string // ids that a case or a method declares
	Symptoms, Before []string // ids
	Said             []string // what people wrote of it now, read for dangers
	Checks           []string // wordings of what is done or offered
}

// Warnings are what stands before an answer: whatever carries an answer carries them.
// They inform; nothing in them makes a device safe.
type Warnings struct {
	// Dangers are there now, or were: [Stop] is said, and what is first at each. Those
	// that were read come in the order in which they are said.
	Dangers []*terms.Term
	// Cautions are the usual ones, in the vocabulary's order.
	Cautions []*terms.Term
}

// Stop reports whether nothing may be powered as it is.
func (w *Warnings) Stop() bool { return len(w.Dangers) > 0 }

// Gravest is the caution of the hazard that hurts worst, nil where there is none.
func (w *Warnings) Gravest() *terms.Term {
	if len(w.Cautions) == 0 {
		return nil
	}
	return slices.MinFunc(w.Cautions, byGravity)
}

func byGravity(a, b *terms.Term) int { return cmp.Compare(gravity(a), gravity(b)) }

// gravity puts a hazard that a workshop added behind those of which it is known how they
// hurt.
func gravity(t *terms.Term) int { return cmp.Or(t.Gravity, 1000) }

// ByGravity gives hazards, the one that hurts worst first.
func ByGravity(list []*terms.Term) []*terms.Term {
	return slices.SortedStableFunc(slices.Values(list), byGravity)
}

// WarningsOf gives all that is to be said before anything about a subject.
func WarningsOf(n *notebook.Notebook, s Subject) Warnings {
	var w Warnings
	danger := func(id string) {
		t, ok := n.Terms.Lookup(terms.Danger, id)
		if ok && !slices.Contains(w.Dangers, t) {
			w.Dangers = append(w.Dangers, t)
		}
	}
	for _, text := range s.Said {
		for _, m := range n.Terms.Recognise(terms.Danger, text) {
			danger(m.Term.ID)
		}
	}
	for _, text := range s.Said {
		for _, class := range []terms.Class{terms.Symptom, terms.Before} {
			for _, m := range n.Terms.Recognise(class, text) {
				if m.Term.Danger != "" {
					danger(m.Term.Danger)
				}
			}
		}
	}
	for _, id := range DangersOf(n, s.Symptoms, s.Before) {
		danger(id)
	}
	ids := slices.Clone(s.Hazards)
	if s.Device != nil {
		ids = append(ids, declared(s.Device)...)
	}
	for _, k := range s.Kinds {
		ids = append(ids, terms.CalledForBy(k)...)
	}
	for _, c := range s.Checks {
		ids = append(ids, terms.CalledFor(c)...)
	}
	for _, t := range w.Dangers {
		if stop, ok := terms.Stops(t.ID); ok {
			ids = append(ids, stop.Hazards...)
		}
	}
	w.Cautions = Of(n, ids)
	return w
}

// DangersOf gives the ids of the dangers that symptoms and events say, each once.
func DangersOf(n *notebook.Notebook, symptoms, before []string) []string {
	var out []string
	add := func(c terms.Class, ids []string) {
		for _, id := range ids {
			if t, ok := n.Terms.Lookup(c, id); ok && t.Danger != "" && !slices.Contains(out, t.Danger) {
				out = append(out, t.Danger)
			}
		}
	}
	add(terms.Symptom, symptoms)
	add(terms.Before, before)
	return out
}
