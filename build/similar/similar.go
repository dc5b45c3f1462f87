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
	"benchlore/schema/casefile"
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
	type scored struct {
		c     *notebook.Case
		score float64
	}
	var list []scored
	for i := range candidates {
		other := m.order[i]
		if other == c || other.ID() == k.Returns || other.File.Case.Returns == c.ID() {
			continue
		}
		if score := total(m.shared(c, other)); score >= 1 {
			list = append(list, scored{other, score})
		}
	}
	slices.SortFunc(list, func(a, b scored) int {
		return cmp.Or(cmp.Compare(b.score, a.score), strings.Compare(b.c.ID(), a.c.ID()))
	})
	var out []Neighbour
	for _, s := range list[:min(limit, len(list))] {
		n := Neighbour{Case: s.c, Score: s.score}
		for _, t := range m.shared(c, s.c) {
			n.Why = append(n.Why, m.words(t))
		}
		out = append(out, n)
	}
	return out
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

// trait is something that two cases share; words are made of it only for the
// few that are shown.
type trait struct {
	weight float64
	text   string // with %s for the name
	class  terms.Class
	id     string // of the term, or the name itself when there is no class
}

func total(list []trait) float64 {
	sum := 0.0
	for _, t := range list {
		sum += t.weight
	}
	return sum
}

// words says a trait as a reason.
func (m *Model) words(t trait) string {
	name := t.id
	if t.class != "" {
		name = m.n.Terms.Name(t.class, t.id)
	}
	text := strings.Replace(t.text, "%s", name, 1)
	if t.class == terms.Symptom && t.weight >= rareBits {
		text = fmt.Sprintf("same symptom, rare here: %s (%d cases)", name, len(m.symptom[t.id]))
	}
	return text
}

// rareBits is the information from which a symptom is called rare.
const rareBits = 4

// shared lists what two cases share, the weightiest first.
func (m *Model) shared(a, b *notebook.Case) []trait {
	var list []trait
	add := func(weight float64, text string, class terms.Class, id string) {
		list = append(list, trait{weight, text, class, id})
	}
	x, y := &a.File.Case, &b.File.Case
	for _, s := range x.Symptoms {
		if slices.Contains(y.Symptoms, s) {
			bits, _ := m.Information(s)
			add(bits, "same symptom: %s", terms.Symptom, s)
		}
	}
	switch {
	case a.Device == b.Device && !strings.HasPrefix(a.Device.ID, "any-"):
		add(sameModel, "same model", "", "")
		if x.Board != "" && x.Board == y.Board {
			add(sameBoard, "same board: %s", "", x.Board)
		}
	case a.Device.Kind == b.Device.Kind:
		add(sameKind, "same kind of device", "", "")
	}
	if x.Cause != nil && y.Cause != nil {
		if x.Cause.At == y.Cause.At {
			add(samePlace, "same place: %s", terms.Place, x.Cause.At)
		}
		if x.Cause.Fault == y.Cause.Fault {
			add(sameFault, "same fault: %s", terms.Fault, x.Cause.Fault)
		}
	}
	for _, e := range x.Before {
		if e != "nothing" && slices.Contains(y.Before, e) {
			add(sameEvent, "same beforehand: %s", terms.Before, e)
		}
	}
	if a.Device == b.Device {
		for i, p := range x.Parts {
			again := func(list []casefile.Part) bool {
				return slices.ContainsFunc(list, func(q casefile.Part) bool { return q.Ref == p.Ref })
			}
			if p.Ref != "" && again(y.Parts) && !again(x.Parts[:i]) {
				add(samePart, "same part: %s", "", p.Ref)
			}
		}
	}
	slices.SortStableFunc(list, func(p, q trait) int { return cmp.Compare(q.weight, p.weight) })
	return list
}
