package triage

import "benchlore/build/caution"

// Export is the model as the published page reads it: the closed cases, from
// which the page counts for itself, and what does not come from cases.
type Export struct {
	Strength      float64            `json:"strength"`
	Chosen        bool               `json:"chosen"`
	CheckStrength float64            `json:"checkStrength"`
	Closed        int                `json:"closed"`  // cases, whether they say a cause or not
	Minutes       float64            `json:"minutes"` // the usual of a check that is not known
	Causes        []Cause            `json:"causes"`
	Cases         []ExportedCase     `json:"cases"` // newest first
	Checks        []ExportedCheck    `json:"checks"`
	Rules         []ExportedRule     `json:"rules"`
	RedFlags      []string           `json:"redFlags"` // ids for which checks that need no power come first
	Unplugged     ExportedRule       `json:"unplugged"`
	Kinds         map[string]string  `json:"kinds"` // device -> kind
	Nodes         []float64          `json:"nodes"`
	NodeWeights   []float64          `json:"nodeWeights"`
	Limits        map[string]float64 `json:"limits"`
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
	Weight   float64  `json:"weight,omitempty"` // 1 when it is not there
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
}

// ExportedRule is what is said of a rule of safety.
type ExportedRule struct {
	Do  string `json:"do"`
	Why string `json:"why"`
}

// Export returns the model for the page.
func (m *Model) Export() Export {
	x := Export{Strength: m.Strength, Chosen: m.Chosen, CheckStrength: m.CheckStrength, Minutes: m.minutes, Causes: append([]Cause{}, m.causes...), Closed: m.closed, Kinds: m.kindOf,
		RedFlags: caution.RedFlags(), Unplugged: ExportedRule{unplugged.Check, unplugged.Why},
		Cases: []ExportedCase{}, Checks: []ExportedCheck{}, Nodes: nodes[:], NodeWeights: nodeWeights[:],
		Limits: map[string]float64{"fewCases": FewCases, "exact": Exact, "maxChecks": maxChecks, "worthwhile": worthwhile, "farBehind": farBehind, "z90": z90}}
	// A check that never showed a fault is never offered, so the page needs none.
	number := make([]int, len(m.checks))
	var kept []*check
	for id, k := range m.checks {
		if k.finds {
			kept = append(kept, k)
			number[id] = len(kept)
		}
	}
	for i := range m.cases {
		c := &m.cases[i]
		k := ExportedCase{c.id, c.cause, c.evidence.Symptoms, c.evidence.Before, c.evidence.Device, c.evidence.Kind, nil, 0}
		if c.weight != 1 {
			k.Weight = c.weight
		}
		for _, o := range c.made {
			if at := number[o.check]; at > 0 {
				k.Made = append(k.Made, at-1, o.side)
			}
		}
		x.Cases = append(x.Cases, k)
	}
	rules := Prerequisites()
	for _, c := range kept {
		k := ExportedCheck{Key: c.key, Name: c.name, Minutes: c.minutes, Unpowered: needsNoPower(c.words), Invasive: isInvasive(c.words)}
		for i := range rules {
			if rules[i].applies(c.words) {
				k.Under = append(k.Under, i)
			}
			if rules[i].satisfies(c.words) {
				k.Satisfies = append(k.Satisfies, i)
			}
		}
		x.Checks = append(x.Checks, k)
	}
	for _, r := range rules {
		x.Rules = append(x.Rules, ExportedRule{r.Do, r.Why})
	}
	return x
}
