package triage

import (
	"math"
	"slices"

	"benchlore/build/reason/hazard"
	"benchlore/build/reason/method"
	"benchlore/schema/terms"
)

// Warnings are what stands before everything that is said of the evidence: the dangers
// that it shows, and the cautions of device, kind, method, dangers and checks.
func (m *Model) Warnings(e Evidence, checks ...string) hazard.Warnings {
	u := m.Understand(e.Said)
	e = m.complete(e)
	s := hazard.Subject{Kinds: []string{e.Kind}, Symptoms: append(slices.Clone(e.Symptoms), u.Symptoms()...),
		Before: append(slices.Clone(e.Before), u.Events()...), Checks: checks}
	if e.Said != "" {
		s.Said = []string{e.Said}
	}
	if d, ok := m.n.Device(e.Device); ok {
		s.Device = d
	} else if u.As != "" {
		s.Kinds = append(s.Kinds, u.As) // finer than what cases know
	}
	if way := method.For(m.methods, m.n.Terms, e.Kind); way != nil {
		s.Hazards = way.Hazards
	}
	return hazard.WarningsOf(m.n, s)
}

// Look is what comes first at a danger, before every check; it needs no power.
type Look struct {
	Danger *terms.Term `json:"-"`
	Check  string      `json:"check"`
	Expect string      `json:"expect"` // what a good one shows
	Until  string      `json:"until"`  // what has to be so before anything else is checked
}

// looks gives what is looked at first at each danger, each thing once.
func (m *Model) looks(w *hazard.Warnings) (out []Look) {
	tag := m.n.Terms.Language().Tag
	for _, t := range w.Dangers {
		stop, ok := terms.Stops(t.ID)
		if !ok {
			continue
		}
		l := Look{t, terms.Said(stop.Look, tag), terms.Said(stop.Good, tag), terms.Said(stop.Until, tag)}
		if !slices.ContainsFunc(out, func(o Look) bool { return o.Check == l.Check }) {
			out = append(out, l)
		}
	}
	return out
}

// fitting is how much likelier a danger makes the causes at the places where its own lie:
// as much as five of six such devices have it there (common practice, no source).
const fitting = 5

// placesOf are those where the causes of the dangers lie that the evidence shows.
func (m *Model) placesOf(e *Evidence) (at []string) {
	u := m.Understand(e.Said)
	dangers := append(u.Dangers(), hazard.DangersOf(m.n, append(slices.Clone(e.Symptoms), u.Symptoms()...), append(slices.Clone(e.Before), u.Events()...))...)
	for _, id := range dangers {
		if stop, ok := terms.Stops(id); ok {
			at = append(at, stop.At...)
		}
	}
	return at
}

// fits is what the dangers add to the logarithm of the weight of a cause at a place.
func fits(places []string, at string) float64 {
	if slices.Contains(places, at) {
		return math.Log(fitting)
	}
	return 0
}

// Unpowered reports whether a step of a method is known to be made without power.
func Unpowered(s method.Step) bool {
	if s.Power != "" {
		return s.Power == method.Off
	}
	return needsNoPower(words(s.Check))
}

// Powered gives methods with the power of each step said.
func Powered(list []method.Method) []method.Method {
	out := slices.Clone(list)
	for i := range out {
		out[i].Steps = slices.Clone(out[i].Steps)
		for k := range out[i].Steps {
			s := &out[i].Steps[k]
			if s.Power = method.On; Unpowered(list[i].Steps[k]) {
				s.Power = method.Off
			}
		}
	}
	return out
}

func (m *Model) refer(kind string) string {
	if way := method.For(m.methods, m.n.Terms, kind); way != nil {
		return way.Refer
	}
	return ""
}
