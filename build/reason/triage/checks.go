package triage

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"
	"sync"
	"unicode"

	"benchlore/build/notebook"
	"benchlore/build/reason/hazard"
	"benchlore/build/reason/method"
	"benchlore/build/reason/search"
	"benchlore/schema/casefile"
	"benchlore/schema/language"
	"benchlore/schema/terms"
)

// A check is what cases call a finding. Two wordings are one check when they
// name the same place and have the same words besides; designators, values and
// the order do not matter.
//
// What a check says of a cause is the share of its results that were a fault in
// cases of that cause, smoothed towards cases at the same place, and these
// towards one in as many as there are places: a check of which nothing is known
// at a place speaks to another. The strength of this smoothing is chosen by
// leave-one-out too, on the results themselves.
//
// An order of checks costs, in expected minutes until the fault is found,
//
//	sum over its checks of minutes * P(no check before it showed the fault)
//
// where P sums over the causes what probability is left after the checks before.
// Where each check speaks to one cause alone and decides it, the best order is
// that of falling p/C (Heckerman, Breese & Rommelse 1995). In general order is
// exact up to exactChecks checks, by dynamic programming over sets; beyond, it takes
// the check that finds most in a minute again and again, then swaps neighbours
// and moves single checks while that helps. Unsure results change nothing.
type check struct {
	id      int
	key     string
	name    string // the commonest wording
	words   []string
	minutes float64
	results map[int][2]float64 // cause -> clear and fault
	place   map[string][2]float64
	all     [2]float64
	kinds   map[string]float64 // of devices that it was made on
	finds   bool               // a closed case found a fault by it
	// on are the devices that it was made on; own is the commonest wording on those where
	// it names something of their board, and free that among the wordings that name nothing
	// of one; empty where all do.
	on   map[string]bool
	own  map[string]string
	free string
	// power is method.Off or method.On where a method says so.
	power string
}

// empty words hold a check's wording together, or say that it is a check, and say
// nothing of which it is.
var empty = sync.OnceValue(func() map[string]bool {
	out := map[string]bool{"on": true, "to": true, "through": true}
	for _, w := range words("check checked look looked measure measured measurement test tested testing inspect inspection examine verify") {
		out[w] = true
	}
	return out
})

// sameWord gives words of one meaning in the trade one of them, cap and capacitor.
var sameWord = sync.OnceValue(func() map[string]string {
	out := map[string]string{}
	for _, group := range terms.Synonyms(language.English) {
		first := ""
		for _, g := range group {
			if w := words(g); len(w) == 1 && len(strings.Fields(g)) == 1 {
				first = cmp.Or(first, w[0])
				out[w[0]] = first
			}
		}
	}
	return out
})

// checkKey is the same for two wordings of one check.
func checkKey(v *terms.Vocabulary, text string) string {
	var said, rest []string
	places := v.Named(terms.Place, text)
	for _, p := range places {
		said = append(said, "@"+p.Term.ID)
	}
	for _, t := range search.Analyze(v.Language(), text) {
		inPlace := slices.ContainsFunc(places, func(p terms.Match) bool { return t.Start >= p.Start && t.Stop <= p.Stop })
		switch {
		case inPlace || strings.ContainsFunc(t.Term, unicode.IsDigit):
		case empty()[t.Term]:
			rest = append(rest, t.Term)
		default:
			said = append(said, cmp.Or(sameWord()[t.Term], t.Term))
		}
	}
	if len(said) == 0 {
		said = rest
	}
	slices.Sort(said)
	return strings.Join(slices.Compact(said), " ")
}

// outcome is a check that a case made, and whether it was clear (0) or showed
// the fault (1).
type outcome struct{ check, side int }

// takeChecks counts a case's findings in (by 1) or out (by -1).
func (m *Model) takeChecks(s *sample, by float64) {
	by *= s.weight
	for _, o := range s.made {
		k, at := m.checks[o.check], m.causes[s.cause].At
		r, p := k.results[s.cause], k.place[at]
		r[o.side] += by
		p[o.side] += by
		k.all[o.side] += by
		k.results[s.cause], k.place[at] = r, p
		k.kinds[s.evidence.Kind] += by
	}
}

func newCheck(id int, key string) *check {
	return &check{id: id, key: key, results: map[int][2]float64{}, place: map[string][2]float64{}, kinds: map[string]float64{}}
}

func (m *Model) learnChecks(closed []*notebook.Case) {
	names := map[int]map[string]float64{}
	made := map[int]map[string]map[string]float64{} // check, device, wording
	minutes := map[int][]weighted{}
	var every []weighted
	for at, c := range closed {
		weight := m.cases[at].weight
		for _, f := range c.File.Case.Findings {
			key := checkKey(m.n.Terms, f.Check)
			if key == "" || f.When == casefile.After {
				continue // what is clear after a repair says nothing of its cause
			}
			id, ok := m.checkID[key]
			if !ok {
				id = len(m.checks)
				m.checkID[key] = id
				m.checks = append(m.checks, newCheck(id, key))
				names[id], made[id] = map[string]float64{}, map[string]map[string]float64{}
			}
			names[id][f.Check] += weight
			if f.Minutes > 0 {
				minutes[id] = append(minutes[id], weighted{float64(f.Minutes), weight})
				every = append(every, weighted{float64(f.Minutes), weight})
			}
			if side := slices.Index([]string{"clear", "fault"}, f.Result); side >= 0 {
				m.cases[at].made = append(m.cases[at].made, outcome{id, side})
				if made[id][c.Device.ID] == nil {
					made[id][c.Device.ID] = map[string]float64{}
				}
				made[id][c.Device.ID][f.Check] += weight
			}
		}
		m.takeChecks(&m.cases[at], 1)
	}
	places := map[string]bool{}
	for i, c := range m.causes {
		if i < m.had || m.had == 0 {
			places[c.At] = true
		}
	}
	m.placeN = len(places)
	m.minutes = cmp.Or(weightedMedian(every), 5)
	for id, k := range m.checks {
		k.minutes = cmp.Or(weightedMedian(minutes[id]), m.minutes)
		k.name = commonest(names[id])
		k.on, k.own = map[string]bool{}, map[string]string{}
		for device, said := range made[id] {
			k.on[device] = true
			if name := commonest(said); m.ofOneBoard(name) {
				k.own[device] = name
			}
		}
		for name := range names[id] {
			if m.ofOneBoard(name) {
				delete(names[id], name)
			}
		}
		k.free = commonest(names[id])
		k.words = words(k.name)
		k.finds = k.all[1] > 0
	}
}

// commonest is the wording that was used most, the first of equals by letter.
func commonest(said map[string]float64) (name string) {
	for s, n := range said {
		if name == "" || n > said[name] || n == said[name] && s < name {
			name = s
		}
	}
	return name
}

// ofOneBoard reports whether a wording names a part or a net of some board, so that it says
// nothing on another device.
func (m *Model) ofOneBoard(name string) bool {
	if len(notebook.Designators(name)) > 0 {
		return true
	}
	for _, w := range strings.FieldsFunc(name, func(r rune) bool { return unicode.IsSpace(r) || strings.ContainsRune(",;:()", r) }) {
		if m.nets()[strings.ToLower(w)] {
			return true
		}
	}
	return false
}

// netsOf are the nets and rails that the devices' records and boards name, in small
// letters; plain words of the trade, such as ground, are on every board.
func netsOf(n *notebook.Notebook) map[string]bool {
	out := map[string]bool{}
	add := func(name string) {
		if strings.ContainsAny(name, "_0123456789") {
			out[strings.ToLower(name)] = true
		}
	}
	for _, d := range n.Devices {
		if d.Record == nil {
			continue
		}
		for _, r := range d.Record.Device.Rails {
			add(r.Name)
		}
		for _, b := range d.Boards {
			for i := range b.Nets {
				add(b.Nets[i].Name)
			}
		}
	}
	return out
}

// called gives the name of a check for a device: as it was worded there, else by a wording
// that belongs to no board; false where there is neither.
func (k *check) called(device string) (string, bool) {
	if name := k.own[device]; name != "" {
		return name, true
	}
	if k.on == nil { // of a method or a sheet alone
		return k.name, true
	}
	return k.free, k.free != ""
}

// unpowered reports whether a check is known to be made without power.
func (k *check) unpowered() bool {
	if k.power != "" {
		return k.power == method.Off
	}
	return needsNoPower(k.words)
}

// Median returns the middle of the numbers, the mean of the middle two, or 0.
func Median(list []float64) float64 {
	if len(list) == 0 {
		return 0
	}
	sorted := slices.Sorted(slices.Values(list))
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}

// shows gives P(the check says fault | cause) as counts. What a method or the device's
// sheet says that the check finds counts as [Pseudo] cases, in half of which it
// did, until a case of the cause made it.
func (m *Model) shows(e *Evidence, k *check, cause int) beta {
	s := m.CheckStrength
	at := k.place[m.causes[cause].At]
	own := k.results[cause]
	place := (at[1] + s/float64(m.placeN+1)) / ((at[0] + at[1]) + s)
	if own[0]+own[1] == 0 && m.namedToFind(e, k.id, cause) {
		own[0] += Pseudo / 2.0
		own[1] += Pseudo / 2.0
	}
	return beta{own[1] + s*place, own[0] + s*(1-place)}
}

// chooseCheckStrength leaves cases out in turn and takes the strength under which
// the results of checks that another case of the same place made too were least
// surprising.
func (m *Model) chooseCheckStrength() float64 {
	repeats := 0.0
	all := make([]int, len(m.cases))
	for i := range m.cases {
		all[i] = i
		for _, o := range m.cases[i].made {
			at := m.checks[o.check].place[m.causes[m.cases[i].cause].At]
			repeats += m.cases[i].weight * one(at[0]+at[1] > m.cases[i].weight)
		}
	}
	if repeats < fewRepeats {
		return 1
	}
	some, none := m.drawn(all), &Evidence{}
	return least(func(s float64) float64 {
		m.CheckStrength = s
		loss := 0.0
		for _, i := range some {
			c := &m.cases[i]
			m.takeChecks(c, -1)
			for _, o := range c.made {
				k := m.checks[o.check]
				if at := k.place[m.causes[c.cause].At]; at[0]+at[1] > 0 {
					value, _ := m.shows(none, k, c.cause).log(o.side == 0)
					loss -= value
				}
			}
			m.takeChecks(c, 1)
		}
		return loss
	})
}

// said is a finding that decides something, with its check looked up once.
type said struct {
	check *check
	clear bool
}

func (m *Model) saidBy(found []Finding) []said {
	var out []said
	for _, f := range found {
		if id, ok := m.checkID[checkKey(m.n.Terms, f.Check)]; ok && (f.Result == "clear" || f.Result == "fault") {
			out = append(out, said{m.checks[id], f.Result == "clear"})
		}
	}
	return out
}

// saidUnseen is what a finding adds to the logarithm of the weight of a cause that
// no case had: the check says fault as often as it does over all cases.
func (m *Model) saidUnseen(f said) float64 {
	s := m.CheckStrength
	p := (f.check.all[1] + s/float64(m.placeN+1)) / ((f.check.all[0] + f.check.all[1]) + s)
	if f.clear {
		p = 1 - p
	}
	return math.Log(p)
}

// Step is a check in the order offered.
type Step struct {
	Check   string  `json:"check"`
	Minutes float64 `json:"minutes"`
	// Finds is the probability that it shows the fault, given all known now.
	Finds float64 `json:"finds"`
	// After is the expected minutes still to go when it has been made and was
	// clear, 0 for the last.
	After float64 `json:"expected_minutes_after"`
	// First names checks that come before it for safety, and why.
	First []Need `json:"first,omitempty"`
	// Cases found the fault by it, newest first.
	Cases []string `json:"cases"`
	// From says where it comes from, other than cases: a method, or the device's sheet.
	From string `json:"from,omitempty"`
	// On names the devices that it was made on, where this one is none of them.
	On []string `json:"on,omitempty"`
	// Expect is what a good one shows, as these have it.
	Expect string `json:"expect,omitempty"`
	// IfFault and IfClear are the most probable cause after either result; P is 0
	// where none is known.
	IfFault Ranked `json:"-"`
	IfClear Ranked `json:"-"`
}

// Need is something to be done before a check.
type Need struct {
	Check string `json:"check"`
	Why   string `json:"why"`
}

// Plan is an order of checks with what it costs, if the fault is of a known
// cause.
type Plan struct {
	hazard.Warnings
	// Refer says what of the method for the kind is not done at a bench, and who does it.
	Refer string
	// Looks come before every step where something is dangerous.
	Looks []Look
	// Withheld is how many checks are not offered while a danger is there, since they
	// need power or are not known to need none.
	Withheld int
	Steps    []Step
	Expected float64 // minutes until the fault is found
	// Expected minutes of other orders of the same checks: the commonest cause's
	// first, the cheapest first, and the mean over all orders.
	CommonestFirst, CheapestFirst, Random float64
}

const (
	// exactChecks is the number of checks up to which the order is the best there is.
	exactChecks = 12
	// maxChecks bounds the checks that are offered.
	maxChecks = 16
	// farBehind leaves out checks that show the fault so many times less probably
	// than the best.
	farBehind = 10
	// worthwhile is the least probability of showing the fault for which a check
	// is offered.
	worthwhile = 0.01
)

// problem puts the question of order for the checks not made yet, given that the
// cause is known; finds is how probably each shows the fault.
func (m *Model) problem(e *Evidence, p []float64, stop bool) (o problem, ids []int, finds []float64, withheld int) {
	sum := 0.0
	for _, x := range p {
		sum += x
	}
	if sum == 0 {
		return o, nil, nil, 0
	}
	o.P = make([]float64, len(p))
	for c := range p {
		o.P[c] = p[c] / sum
	}
	made := map[int]bool{}
	for _, f := range e.Found {
		if id, ok := m.checkID[checkKey(m.n.Terms, f.Check)]; ok {
			made[id] = true
		}
	}
	type candidate struct {
		id    int
		finds float64
		shows []float64
	}
	var list []candidate
	for id, k := range m.checks {
		if made[id] || (k.all[1] == 0 || !m.belongs(k, e)) && !m.named(e, id) {
			continue
		}
		next := candidate{id, 0, make([]float64, len(p))}
		for c, x := range o.P {
			if x > 0 {
				next.shows[c] = m.shows(e, k, c).mean()
				next.finds += x * next.shows[c]
			}
		}
		switch {
		case next.finds < worthwhile:
		case stop && !k.unpowered():
			withheld++
		default:
			list = append(list, next)
		}
	}
	slices.SortStableFunc(list, func(a, b candidate) int {
		return cmp.Or(cmp.Compare(even(b.finds/m.checks[b.id].minutes), even(a.finds/m.checks[a.id].minutes)),
			strings.Compare(m.checks[a.id].key, m.checks[b.id].key))
	})
	most := 0.0
	for _, k := range list {
		most = max(most, k.finds)
	}
	list = slices.DeleteFunc(list, func(k candidate) bool { return k.finds < most/farBehind })
	for _, k := range list[:min(maxChecks, len(list))] {
		o.Minutes, o.Shows = append(o.Minutes, m.checks[k.id].minutes), append(o.Shows, k.shows)
		ids, finds = append(ids, k.id), append(finds, k.finds)
	}
	return o, ids, finds, withheld
}

// belongs reports whether a check may be offered for a device: it was made on one of its
// kind, and it names nothing of another board. Where the kind is not known it was made on
// several, unless the cases know only one.
func (m *Model) belongs(k *check, e *Evidence) bool {
	if _, called := k.called(e.Device); !called {
		return false
	}
	if e.Kind != "" {
		return k.kinds[e.Kind] > 0
	}
	return known(k.kinds) > 1 || known(m.kindN) == 1
}

// known is how many keys count for something.
func known(of map[string]float64) (n int) {
	for _, x := range of {
		if x > 0 {
			n++
		}
	}
	return n
}

// needs says for each check what must come before it: places in the list, and
// words.
func (m *Model) needs(e *Evidence, ids []int) (before [][]int, says [][]Need) {
	before, says = make([][]int, len(ids)), make([][]Need, len(ids))
	for i, id := range ids {
		own := m.checks[id].words
		for j, other := range ids {
			if rest := m.checks[other].words; isInvasive(own) && !isInvasive(rest) {
				before[i] = append(before[i], j)
			}
		}
		for _, rule := range stepPrerequisites() {
			if !rule.applies(m.checks[id].words) ||
				slices.ContainsFunc(e.Found, func(f Finding) bool { return rule.satisfies(f.Check) }) {
				continue
			}
			found := false
			for j, other := range ids {
				if k := m.checks[other]; j != i && rule.satisfies(k.name) && !rule.applies(k.words) {
					before[i], found = append(before[i], j), true
					says[i] = append(says[i], Need{k.name, rule.Why})
				}
			}
			if !found {
				says[i] = append(says[i], Need{rule.Do, rule.Why})
			}
		}
	}
	m.inMethodsOrder(e, ids, before)
	return before, says
}

// Plan offers an order of the checks not made yet.
func (m *Model) Plan(e Evidence) Plan {
	asked := e
	e = m.complete(e)
	p, _, _ := m.weigh(&e)
	now := m.Warnings(asked)
	o, ids, finds, withheld := m.problem(&e, p, now.Stop())
	if len(ids) == 0 {
		return Plan{Warnings: now, Refer: m.refer(e.Kind), Looks: m.looks(&now), Withheld: withheld}
	}
	var needs [][]Need
	o.Before, needs = m.needs(&e, ids)
	order := o.order()
	plan := Plan{Withheld: withheld, Refer: m.refer(e.Kind), Expected: o.cost(order), CommonestFirst: o.cost(o.commonestFirst()),
		CheapestFirst: o.cost(o.cheapestFirst()), Random: o.random()}
	after := o.after(order)
	for i, at := range order {
		k := m.checks[ids[at]]
		from, expect := m.source(&e, ids[at])
		name, _ := k.called(e.Device)
		s := Step{From: from, Expect: expect, Check: cmp.Or(name, k.name), Minutes: k.minutes,
			Finds: finds[at], After: after[i], First: needs[at], Cases: m.foundBy(ids[at]),
			IfFault: m.then(e, k.name, "fault"), IfClear: m.then(e, k.name, "clear")}
		if from == "" && !k.on[e.Device] {
			s.On = m.madeOn(k, e.Kind)
		}
		plan.Steps = append(plan.Steps, s)
	}
	var checks []string
	for _, s := range plan.Steps {
		checks = append(checks, s.Check)
	}
	plan.Warnings = m.Warnings(asked, checks...)
	plan.Looks = m.looks(&plan.Warnings)
	return plan
}

// madeOn names the devices of a kind, of any where it is not known, that a check was made
// on.
func (m *Model) madeOn(k *check, kind string) (out []string) {
	for _, id := range slices.Sorted(maps.Keys(k.on)) {
		if d, ok := m.n.Device(id); ok && (kind == "" || d.Kind == kind) {
			out = append(out, d.Name(m.n.Terms))
		}
	}
	return out
}

// foundBy lists the cases in which the check showed the fault, our own first, then newest
// first.
func (m *Model) foundBy(id int) []string {
	ours, theirs := []string{}, []string{}
	for i := range m.cases {
		switch c := &m.cases[i]; {
		case !slices.Contains(c.made, outcome{id, 1}):
		case c.from == "":
			ours = append(ours, c.id)
		default:
			theirs = append(theirs, c.id)
		}
	}
	return append(ours, theirs...)
}

// Check returns the usual wording of a check, however it is worded.
func (m *Model) Check(text string) (name string, ok bool) {
	id, ok := m.checkID[checkKey(m.n.Terms, text)]
	if !ok {
		return "", false
	}
	return m.checks[id].name, true
}

// NearestCheck returns the known check that shares most words with the text, or
// is nearest by spelling; empty when none is near.
func (m *Model) NearestCheck(text string) string {
	want := words(text)
	best, most := "", 0
	var names []string
	for _, k := range m.checks {
		names = append(names, k.name)
		n := 0
		for _, w := range words(k.name) {
			if slices.Contains(want, w) {
				n++
			}
		}
		if n > most {
			best, most = k.name, n
		}
	}
	return cmp.Or(best, terms.Nearest(text, names))
}
