// Package similar finds past cases like a given one and says why.
//
// [New] indexes a notebook by symptom, device, cause and part; [Model.Of]
// gathers candidates from those lists, never from all pairs, and weighs what
// they share. Rare symptoms weigh more than common ones: each counts its
// information, -log2 of the share of cases that have it. A list that is longer
// than [maxList] tells little and gives only its newest cases as candidates, so
// the work for one case does not grow with the notebook.
package similar

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/schema/terms"
)

// maxList bounds the candidates that one shared trait brings.
const maxList = 300

// Weights of what two cases share, in bits beside the symptoms' information.
const (
	sameModel = 4.0
	sameBoard = 1.0
	sameKind  = 1.5
	samePlace = 1.5
	sameFault = 1.0
	sameEvent = 0.7
	samePart  = 1.0
)

// Neighbour is a similar case with its reasons, the weightiest first.
type Neighbour struct {
	Case  *notebook.Case
	Score float64
	Why   []string
}

// Model answers for one notebook. It is read-only and safe for concurrent use.
type Model struct {
	n       *notebook.Notebook
	symptom map[string][]int // trait -> ordinals of cases, oldest first
	device  map[string][]int
	kind    map[string][]int
	cause   map[string][]int
	ordinal map[string]int
	order   []*notebook.Case // oldest first
}

// New indexes the notebook.
func New(n *notebook.Notebook) *Model {
	m := &Model{n: n, symptom: map[string][]int{}, device: map[string][]int{}, kind: map[string][]int{},
		cause: map[string][]int{}, ordinal: map[string]int{}}
	m.order = slices.Clone(n.Cases)
	slices.SortFunc(m.order, func(a, b *notebook.Case) int {
		return cmp.Or(strings.Compare(a.File.Case.Opened, b.File.Case.Opened), strings.Compare(a.ID(), b.ID()))
	})
	for i, c := range m.order {
		m.ordinal[c.ID()] = i
		k := &c.File.Case
		for _, s := range k.Symptoms {
			m.symptom[s] = append(m.symptom[s], i)
		}
		m.device[c.Device.ID] = append(m.device[c.Device.ID], i)
		m.kind[c.Device.Kind] = append(m.kind[c.Device.Kind], i)
		if k.Cause != nil {
			m.cause[k.Cause.Fault+"@"+k.Cause.At] = append(m.cause[k.Cause.Fault+"@"+k.Cause.At], i)
		}
	}
	return m
}

// Information returns how much a symptom tells, in bits, and in how many cases
// it stands.
func (m *Model) Information(symptom string) (bits float64, cases int) {
	cases = len(m.symptom[symptom])
	return math.Log2(float64(len(m.order)+1) / float64(cases+1)), cases
}

// Of returns up to limit neighbours of a case, best first, equal scores the
// newest first. The case itself and its own comebacks are left out.
func (m *Model) Of(c *notebook.Case, limit int) []Neighbour {
	candidates := map[int]bool{}
	add := func(list []int) {
		for _, i := range list[max(0, len(list)-maxList):] {
			candidates[i] = true
		}
	}
	k := &c.File.Case
	for _, s := range k.Symptoms {
		add(m.symptom[s])
	}
	add(m.device[c.Device.ID])
	if k.Cause != nil {
		add(m.cause[k.Cause.Fault+"@"+k.Cause.At])
	}
	if len(candidates) < limit {
		add(m.kind[c.Device.Kind])
	}
	var out []Neighbour
	for i := range candidates {
		other := m.order[i]
		if other == c || other.ID() == k.Returns || other.File.Case.Returns == c.ID() {
			continue
		}
		if nb := m.compare(c, other); nb.Score >= 1 {
			out = append(out, nb)
		}
	}
	slices.SortFunc(out, func(a, b Neighbour) int {
		return cmp.Or(cmp.Compare(b.Score, a.Score), strings.Compare(b.Case.ID(), a.Case.ID()))
	})
	return out[:min(limit, len(out))]
}

// Comebacks returns the cases that returned after c, and the one that c is a
// comeback of, oldest first.
func (m *Model) Comebacks(c *notebook.Case) []*notebook.Case {
	var out []*notebook.Case
	if earlier, ok := m.n.Case(c.File.Case.Returns); ok {
		out = append(out, earlier)
	}
	for _, i := range m.device[c.Device.ID] {
		if m.order[i].File.Case.Returns == c.ID() {
			out = append(out, m.order[i])
		}
	}
	return out
}

type reason struct {
	weight float64
	text   string
}

func (m *Model) compare(a, b *notebook.Case) Neighbour {
	var why []reason
	say := func(w float64, format string, args ...any) {
		why = append(why, reason{w, fmt.Sprintf(format, args...)})
	}
	x, y := &a.File.Case, &b.File.Case
	for _, s := range x.Symptoms {
		if slices.Contains(y.Symptoms, s) {
			bits, cases := m.Information(s)
			name := m.n.Terms.Name(terms.Symptom, s)
			if bits >= 4 {
				say(bits, "same symptom, rare here: %s (%d cases)", name, cases)
			} else {
				say(bits, "same symptom: %s", name)
			}
		}
	}
	switch {
	case a.Device.ID == b.Device.ID && !strings.HasPrefix(a.Device.ID, "any-"):
		say(sameModel, "same model")
		if x.Board != "" && x.Board == y.Board {
			say(sameBoard, "same board: %s", x.Board)
		}
	case a.Device.Kind == b.Device.Kind:
		say(sameKind, "same kind of device")
	}
	if x.Cause != nil && y.Cause != nil {
		if x.Cause.At == y.Cause.At {
			say(samePlace, "same place: %s", m.n.Terms.Name(terms.Place, x.Cause.At))
		}
		if x.Cause.Fault == y.Cause.Fault {
			say(sameFault, "same fault: %s", m.n.Terms.Name(terms.Fault, x.Cause.Fault))
		}
	}
	for _, e := range x.Before {
		if e != "nothing" && slices.Contains(y.Before, e) {
			say(sameEvent, "same beforehand: %s", m.n.Terms.Name(terms.Before, e))
		}
	}
	if a.Device.ID == b.Device.ID {
		seen := map[string]bool{}
		for _, p := range x.Parts {
			for _, q := range y.Parts {
				if p.Ref != "" && p.Ref == q.Ref && !seen[p.Ref] {
					seen[p.Ref] = true
					say(samePart, "same part: %s", p.Ref)
				}
			}
		}
	}
	slices.SortStableFunc(why, func(p, q reason) int { return cmp.Compare(q.weight, p.weight) })
	n := Neighbour{Case: b}
	for _, r := range why {
		n.Score += r.weight
		n.Why = append(n.Why, r.text)
	}
	return n
}
