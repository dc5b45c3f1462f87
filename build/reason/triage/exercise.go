package triage

import "slices"

// What an exercise asks the model: a case to be worked through blind must not be
// among the evidence.

// Key identifies a check whatever its wording.
func (m *Model) Key(text string) string { return checkKey(m.n.Terms, text) }

// Minutes are the usual minutes of a check, or of all checks where it is not known.
func (m *Model) Minutes(text string) float64 {
	if id, ok := m.checkID[checkKey(m.n.Terms, text)]; ok {
		return m.checks[id].minutes
	}
	return m.minutes
}

// Unpowered reports whether a check is known to be made without power.
func (m *Model) Unpowered(text string) bool {
	if id, ok := m.checkID[checkKey(m.n.Terms, text)]; ok {
		return m.checks[id].unpowered()
	}
	return needsNoPower(words(text))
}

// Without takes a case out of what was learned while use runs. Nobody else may ask
// the model meanwhile.
func (m *Model) Without(id string, use func()) {
	i := slices.IndexFunc(m.cases, func(c sample) bool { return c.id == id })
	if i < 0 {
		use()
		return
	}
	c := &m.cases[i]
	m.take(c, -1)
	m.takeChecks(c, -1)
	made := c.made
	c.made = nil // so that it vouches for no check
	use()
	c.made = made
	m.take(c, 1)
	m.takeChecks(c, 1)
}

// Worth says what a check, by its key, could tell: how probably it shows the fault,
// and the most probable cause after either result. It is not known where no other
// case made the check, or none ever found a fault by it.
func (m *Model) Worth(e Evidence, key string) (finds float64, ifFault, ifClear Ranked, known bool) {
	id, ok := m.checkID[key]
	if !ok || !m.checks[id].finds || m.checks[id].all[0]+m.checks[id].all[1] <= 0 {
		return 0, Ranked{}, Ranked{}, false
	}
	e = m.complete(e)
	p, _, unseen := m.weigh(&e)
	for c, x := range p {
		if x > 0 {
			finds += x / (1 - unseen) * m.shows(&e, m.checks[id], c).mean()
		}
	}
	return finds, m.then(e, m.checks[id].name, "fault"), m.then(e, m.checks[id].name, "clear"), true
}

// then is the most probable cause when a check has said something.
func (m *Model) then(e Evidence, check, result string) Ranked {
	e.Found = append(slices.Clone(e.Found), Finding{check, result})
	p, _, _ := m.weigh(&e)
	top := Ranked{}
	for c, x := range p {
		if even(x) > even(top.P) {
			top = Ranked{Cause: m.causes[c], P: x}
		}
	}
	return top
}
