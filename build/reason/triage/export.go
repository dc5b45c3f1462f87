package triage

import (
	"maps"
	"math"
	"slices"

	"benchlore/schema/terms"
)

// Export is the model as the published page reads it: the closed cases, from
// which the page counts for itself, and what does not come from cases.
type Export struct {
	Strength      float64         `json:"strength"`
	Chosen        bool            `json:"chosen"`
	CheckStrength float64         `json:"checkStrength"`
	Closed        int             `json:"closed"`  // our own cases, whether they say a cause or not
	Theirs        int             `json:"theirs"`  // the same of other workshops
	Minutes       float64         `json:"minutes"` // the usual of a check that is not known
	Causes        []Cause         `json:"causes"`  // that cases had
	Cases         []ExportedCase  `json:"cases"`   // newest first
	Checks        []ExportedCheck `json:"checks"`
	// Workshops are those that cases were received from, and Weights what a case of each
	// counts for, by kind of device.
	Workshops []string             `json:"workshops"`
	Weights   []map[string]float64 `json:"weights"`
	Rules     []ExportedRule       `json:"rules"`
	// Dangers are what symptoms and events say, by their ids, and Fitting the places where
	// the causes of each danger lie.
	Dangers     map[string]string   `json:"dangers"`
	Fitting     map[string][]string `json:"fitting"`
	Kinds       map[string]string   `json:"kinds"` // device -> kind
	Nodes       []float64           `json:"nodes"`
	NodeWeights []float64           `json:"nodeWeights"`
	Limits      map[string]float64  `json:"limits"`
}

// ExportedCase is a closed case: Made are check and side (0 clear, 1 fault) in
// turn.
type ExportedCase struct {
	ID       string   `json:"id"`
	Cause    int      `json:"cause"`
	Symptoms []string `json:"symptoms,omitempty"`
	Before   []string `json:"before,omitempty"`
	Device   string   `json:"device"`
	Kind     string   `json:"kind"`
	Made     []int    `json:"made,omitempty"`
	From     int      `json:"from,omitempty"` // the workshop, from 1 on; our own when it is not there
	Sure     float64  `json:"sure,omitempty"` // what its symptoms count of its weight, 1 when it is not there
}

// ExportedCheck is a check, with the rules of safety that it falls under and
// those that it satisfies.
type ExportedCheck struct {
	Key       string  `json:"key"`
	Name      string  `json:"name"`
	Minutes   float64 `json:"minutes"`
	Under     []int   `json:"under,omitempty"`
	Satisfies []int   `json:"satisfies,omitempty"`
	Unpowered bool    `json:"unpowered,omitempty"`
	Invasive  bool    `json:"invasive,omitempty"`
	// Own are wordings by device and Free the one for others, where they are not Name:
	// a check all of whose wordings name something of a board has Free "".
	Own  map[string]string `json:"own,omitempty"`
	Free *string           `json:"free,omitempty"`
}

// ExportedRule is what is said of a rule of safety.
type ExportedRule struct {
	Do  string `json:"do"`
	Why string `json:"why"`
}

// Export returns the model for the page.
func (m *Model) Export() Export {
	x := Export{Strength: m.Strength, Chosen: m.Chosen, CheckStrength: m.CheckStrength, Minutes: m.minutes,
		Causes: append([]Cause{}, m.causes[:m.had]...), Closed: m.ours.closed, Theirs: m.theirs.closed, Kinds: m.kindOf,
		Workshops: []string{}, Weights: []map[string]float64{},
		Dangers: map[string]string{}, Fitting: map[string][]string{},
		Cases: []ExportedCase{}, Checks: []ExportedCheck{}, Nodes: nodes[:], NodeWeights: nodeWeights[:],
		Limits: map[string]float64{"fewCases": FewCases, "exact": exactChecks, "maxChecks": maxChecks,
			"worthwhile": worthwhile, "farBehind": farBehind, "z90": z90, "fitting": fitting}}
	for p := range m.shares {
		x.Workshops = append(x.Workshops, p.from)
	}
	slices.Sort(x.Workshops)
	x.Workshops = slices.Compact(x.Workshops)
	for range x.Workshops {
		x.Weights = append(x.Weights, map[string]float64{})
	}
	for p, w := range m.shares {
		x.Weights[slices.Index(x.Workshops, p.from)][p.kind] = w
	}
	kept, number := m.exported()
	for i := range m.cases {
		c := &m.cases[i]
		k := ExportedCase{c.id, c.cause, c.evidence.Symptoms, c.evidence.Before, c.evidence.Device, c.evidence.Kind, nil, 1 + slices.Index(x.Workshops, c.from), 0}
		if c.sure != 1 {
			k.Sure = c.sure
		}
		for _, o := range c.made {
			if at := number[o.check]; at < len(kept) {
				k.Made = append(k.Made, at, o.side)
			}
		}
		x.Cases = append(x.Cases, k)
	}
	for _, c := range kept {
		x.Checks = append(x.Checks, c.export())
	}
	for _, class := range []terms.Class{terms.Symptom, terms.Before} {
		for _, t := range m.n.Terms.All(class) {
			if t.Danger != "" {
				x.Dangers[t.ID] = t.Danger
			}
		}
	}
	for _, t := range m.n.Terms.All(terms.Danger) {
		if stop, ok := terms.Stops(t.ID); ok {
			x.Fitting[t.ID] = stop.At
		}
	}
	for _, r := range stepPrerequisites() {
		x.Rules = append(x.Rules, ExportedRule{r.Do, r.Why})
	}
	return x
}

// exported gives the checks of cases that the page needs, and each check's number there;
// those of [ExportedStarter] are numbered on from these. A check that never showed a fault
// is never offered unless a method or a device's sheet has it.
func (m *Model) exported() (kept []*check, number []int) {
	listed := map[int]bool{}
	for _, s := range m.ways {
		for _, id := range s.checks {
			listed[id] = true
		}
	}
	for _, rows := range m.sheets {
		for id := range rows {
			listed[id] = true
		}
	}
	number = make([]int, len(m.checks))
	var rest []int
	for id, k := range m.checks {
		number[id] = math.MaxInt
		switch {
		case k.finds || listed[id] && k.all[0]+k.all[1] > 0:
			number[id] = len(kept)
			kept = append(kept, k)
		case listed[id]:
			rest = append(rest, id)
		}
	}
	for i, id := range rest {
		number[id] = len(kept) + i
	}
	return kept, number
}

func (k *check) export() ExportedCheck {
	x := ExportedCheck{Key: k.key, Name: k.name, Minutes: k.minutes, Unpowered: k.unpowered(), Invasive: isInvasive(k.words)}
	rules := stepPrerequisites()
	if len(k.own) > 0 {
		x.Own = k.own
	}
	if k.on != nil && k.free != k.name {
		x.Free = &k.free
	}
	for i := range rules {
		if rules[i].applies(k.words) {
			x.Under = append(x.Under, i)
		}
		if rules[i].satisfies(k.name) {
			x.Satisfies = append(x.Satisfies, i)
		}
	}
	return x
}

// ExportedStarter is what methods and devices' sheets say, as the page reads it.
type ExportedStarter struct {
	Pseudo   float64                      `json:"pseudo"`
	Causes   []Cause                      `json:"causes"` // numbered on from those of cases
	Checks   []ExportedCheck              `json:"checks"` // numbered on from those of cases
	Ways     []ExportedWay                `json:"ways"`
	Kinds    map[string]int               `json:"kinds"` // kind -> its way
	Readings map[string][]ExportedReading `json:"readings"`
}

// ExportedWay is a method: its causes, and its checks in their order, each with the
// causes that it finds.
type ExportedWay struct {
	Own    bool     `json:"own,omitempty"` // the workshop's
	Causes []int    `json:"causes"`
	Steps  [][]int  `json:"steps"` // a check, then causes
	Expect []string `json:"expect"`
}

// ExportedReading is a row of a device's sheet.
type ExportedReading struct {
	Check  int      `json:"check"`
	Places []string `json:"places"`
	Expect string   `json:"expect"`
}

// ExportStarter returns what does not rest on cases.
func (m *Model) ExportStarter() ExportedStarter {
	kept, number := m.exported()
	x := ExportedStarter{Pseudo: Pseudo, Causes: append([]Cause{}, m.causes[m.had:]...), Checks: []ExportedCheck{},
		Ways: []ExportedWay{}, Kinds: map[string]int{}, Readings: map[string][]ExportedReading{}}
	for id, k := range m.checks {
		if at := number[id]; at != math.MaxInt && at >= len(kept) {
			x.Checks = append(x.Checks, k.export())
		}
	}
	for _, s := range m.ways {
		w := ExportedWay{Own: s.way.Own, Causes: s.causes}
		for _, id := range s.checks {
			w.Steps, w.Expect = append(w.Steps, append([]int{number[id]}, s.finds[id]...)), append(w.Expect, s.expect[id])
		}
		x.Ways = append(x.Ways, w)
	}
	for kind, s := range m.starters {
		x.Kinds[kind] = slices.Index(m.ways, s)
	}
	for device, rows := range m.sheets {
		for _, id := range slices.Sorted(maps.Keys(rows)) {
			x.Readings[device] = append(x.Readings[device], ExportedReading{number[id], rows[id].places, rows[id].expect})
		}
	}
	return x
}
