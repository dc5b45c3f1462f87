package triage

import (
	"slices"
	"strings"

	"benchlore/build/reason/method"
	"benchlore/schema/terms"
)

// Pseudo is the number of cases that a bench's method counts as, for each kind of device
// that it is for: as many as a level needs that is not said to have too few, so that the
// workshop's own cases soon outweigh it. A check counts as having been made in so many
// cases of what it finds, and as having found half of them (common practice, no source).
const Pseudo = FewCases

// Where a check comes from that no case of the kind made.
const (
	FromMethod = method.Note
	FromOwn    = method.OwnNote
	FromSheet  = "reference reading of the device"
)

// starter is what a method says of the kinds of device that it is for.
type starter struct {
	way    *method.Method
	causes []int
	checks []int          // in the bench's order
	finds  map[int][]int  // check -> causes
	expect map[int]string // check -> what a good one shows
}

// reference is what a row of a device's sheet says.
type reference struct {
	places []string // that it tells of
	expect string   // what a good one shows
}

func (s *starter) share(cause int) float64 {
	if slices.Contains(s.causes, cause) {
		return 1 / float64(len(s.causes))
	}
	return 0
}

// inQuestion reports whether a cause is in question: a case had it, or the method for the
// kind names it.
func (m *Model) inQuestion(e *Evidence, cause int) bool {
	if m.count[cause] > 0 {
		return true
	}
	start := m.starters[e.Kind]
	return start != nil && slices.Contains(start.causes, cause)
}

// HasMethod reports whether a method says something of the kind of device.
func (m *Model) HasMethod(e Evidence) bool { return m.starters[m.KindOf(e)] != nil }

// takeMethods adds the causes that methods name. What a workshop's own method names
// stands as it is written; package method has checked it.
func (m *Model) takeMethods(index map[Cause]int, faults map[string]int) {
	m.starters = map[string]*starter{}
	made := map[*method.Method]*starter{}
	for _, t := range m.n.Terms.All(terms.Kind) {
		way := method.For(m.methods, m.n.Terms, t.ID)
		if way == nil || !slices.ContainsFunc(way.Steps, func(s method.Step) bool { return len(s.Causes) > 0 }) {
			continue
		}
		s := made[way]
		if s == nil {
			s = &starter{way: way, finds: map[int][]int{}, expect: map[int]string{}}
			for _, step := range way.Steps {
				for _, c := range step.Causes {
					fault, at := c.Parts()
					if i := m.number(Cause{fault, at}, index, faults); !slices.Contains(s.causes, i) {
						s.causes = append(s.causes, i)
					}
				}
			}
			made[way] = s
			m.ways = append(m.ways, s)
		}
		m.starters[t.ID] = s
	}
}

// addChecks adds the steps of methods and the reference readings of devices to the
// checks that cases made.
func (m *Model) addChecks(index map[Cause]int) {
	m.sheets = map[string]map[int]*reference{}
	if len(m.methods) == 0 {
		return
	}
	add := func(name string, minutes float64) (id int, ok bool) {
		key := checkKey(m.n.Terms, name)
		if key == "" {
			return 0, false
		}
		if id, ok = m.checkID[key]; ok {
			return id, true
		}
		k := newCheck(len(m.checks), key)
		k.name, k.minutes, k.words = name, minutes, words(name)
		m.checkID[key], m.checks = k.id, append(m.checks, k)
		return k.id, true
	}
	for _, s := range m.ways {
		for _, step := range s.way.Steps {
			id, ok := add(step.Check, step.Minutes)
			if !ok || len(step.Causes) == 0 || slices.Contains(s.checks, id) {
				continue
			}
			s.checks = append(s.checks, id)
			s.expect[id] = step.Expect
			if k := m.checks[id]; k.power == "" || step.Power == method.On {
				k.power = step.Power // in doubt the one that needs power
			}
			for _, c := range step.Causes {
				fault, at := c.Parts()
				s.finds[id] = append(s.finds[id], index[Cause{fault, at}])
			}
		}
	}
	for _, d := range m.n.Devices {
		if d.Record == nil {
			continue
		}
		for _, r := range d.Record.Device.References {
			name := strings.Join(slices.DeleteFunc([]string{r.Point, r.What, r.State}, func(s string) bool { return s == "" }), ", ")
			var places []string
			for _, p := range m.n.Terms.Named(terms.Place, r.Point+" "+r.What) {
				places = append(places, p.Term.ID)
			}
			if len(places) == 0 || strings.TrimSpace(r.Expected) == "" {
				continue // nothing says what it would tell
			}
			id, ok := add(name, m.minutes)
			if !ok {
				continue
			}
			if m.sheets[d.ID] == nil {
				m.sheets[d.ID] = map[int]*reference{}
			}
			if row := m.sheets[d.ID][id]; row != nil {
				row.places = unique(append(row.places, places...))
			} else {
				m.sheets[d.ID][id] = &reference{unique(places), r.Expected}
			}
		}
	}
}

// named reports whether a method or the device's sheet has a check.
func (m *Model) named(e *Evidence, check int) bool {
	start := m.starters[e.Kind]
	return start != nil && start.finds[check] != nil || m.sheets[e.Device][check] != nil
}

// namedToFind reports whether these say that the check finds a cause.
func (m *Model) namedToFind(e *Evidence, check, cause int) bool {
	if start := m.starters[e.Kind]; start != nil && slices.Contains(start.finds[check], cause) {
		return true
	}
	row := m.sheets[e.Device][check]
	return row != nil && slices.Contains(row.places, m.causes[cause].At)
}

// source says where a check comes from if not from cases, and what a good one shows.
func (m *Model) source(e *Evidence, check int) (from, expect string) {
	if row := m.sheets[e.Device][check]; row != nil {
		return FromSheet, row.expect
	}
	start := m.starters[e.Kind]
	if start == nil || start.finds[check] == nil {
		return "", ""
	}
	if k := m.checks[check]; k.all[1] == 0 || !m.belongs(k, e) {
		from = start.way.Says()
	}
	return from, start.expect[check]
}

// inMethodsOrder keeps the steps of a method in the bench's order, where nothing that
// comes before for safety says otherwise.
func (m *Model) inMethodsOrder(e *Evidence, ids []int, before [][]int) {
	start := m.starters[e.Kind]
	if start == nil {
		return
	}
	var steps []int // places in ids
	for _, check := range start.checks {
		if at := slices.Index(ids, check); at >= 0 {
			steps = append(steps, at)
		}
	}
	var waits func(i, j int, seen []bool) bool // i for j
	waits = func(i, j int, seen []bool) bool {
		if i == j {
			return true
		}
		seen[i] = true
		return slices.ContainsFunc(before[i], func(k int) bool { return !seen[k] && waits(k, j, seen) })
	}
	for n, later := range steps {
		for _, sooner := range steps[:n] {
			if !slices.Contains(before[later], sooner) && !waits(sooner, later, make([]bool, len(ids))) {
				before[later] = append(before[later], sooner)
			}
		}
	}
}
