// Package figures counts what an owner asks of a notebook: how much work there
// was, how long it took, what came back, what it cost.
//
// Of is the whole of it. Shares carry a 95 % Wilson interval, and small numbers
// stand beside every figure.
package figures

import (
	"cmp"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/build/reason/triage"
	"benchlore/schema/terms"
)

// Count is a name with a number.
type Count struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	N    int    `json:"n"`
}

// Month is what was opened and closed in one.
type Month struct {
	Month  string `json:"month"` // YYYY-MM
	Opened int    `json:"opened"`
	Closed int    `json:"closed"`
}

// KindTime is how long repairs of one kind of device took.
type KindTime struct {
	Count
	Diagnosis Times `json:"diagnosis_minutes"`
	Repair    Times `json:"repair_minutes"`
}

// Times are what was noted, in minutes, and how often it was; 0 counts, what was not noted
// does not. Low and High hold the middle half between them, Least and Most all of it.
type Times struct {
	Median float64 `json:"median"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
	Least  float64 `json:"least"`
	Most   float64 `json:"most"`
	N      int     `json:"n"`
}

// SymptomCauses is what a symptom turned out to be, the commonest first.
type SymptomCauses struct {
	Count
	Causes []Count `json:"causes"`
}

// Share is a share of cases with its 95 % interval.
type Share struct {
	N    int     `json:"n"`
	Of   int     `json:"of"`
	P    float64 `json:"p"`
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// Figures are the workshop's.
type Figures struct {
	Cases  int        `json:"cases"`
	Theirs int        `json:"cases_of_others,omitempty"` // received ones, which nothing else here counts
	Open   []string   `json:"open"`                      // ids, oldest first
	Months []Month    `json:"months"`
	Times  []KindTime `json:"times"`
	// FirstTime is fixed and known to have held, of the fixed of which it is known:
	// followed up, or come back. FirstTimeUnknown counts the other fixed ones.
	FirstTime        Share           `json:"first_time_right"`
	FirstTimeUnknown int             `json:"first_time_unknown"`
	NoCause          int             `json:"closed_without_cause"`
	Returns          triage.Returns  `json:"returns"`
	Symptoms         []SymptomCauses `json:"symptoms"`
	Parts            []Count         `json:"parts"`
	Cost             float64         `json:"cost"` // of parts, in the notebook's currency
	CostCases        int             `json:"cost_cases"`
	Currency         string          `json:"currency"`
	Holds            []triage.Hold   `json:"holds"`
	// Short are the spare parts of which fewer are left than should be, by device.
	Short []Short `json:"short"`
}

// Short is a spare part that runs out.
type Short struct {
	Device string `json:"device"` // id of the device whose file counts it
	Part   string `json:"part"`   // with its value
	From   string `json:"from,omitempty"`
	Left   int    `json:"left"`
	Least  *int   `json:"least,omitempty"`
}

// Of counts a workshop's own cases. Lists are complete; whoever shows them may cut them.
func Of(n *notebook.Notebook) Figures {
	f := of(n, func(c *notebook.Case) bool { return c.File.Case.From == "" })
	f.Theirs = len(n.Cases) - f.Cases
	return f
}

// OfOthers counts the cases that came from other workshops alone. What the notebook's own
// drawers hold is none of theirs.
func OfOthers(n *notebook.Notebook) Figures {
	f := of(n, func(c *notebook.Case) bool { return c.File.Case.From != "" })
	f.Short = []Short{}
	return f
}

func of(whole *notebook.Notebook, counts func(*notebook.Case) bool) Figures {
	part := *whole
	part.Cases = slices.DeleteFunc(slices.Clone(whole.Cases), func(c *notebook.Case) bool { return !counts(c) })
	n := &part
	h := triage.NewHistory(n)
	f := Figures{Cases: len(n.Cases), Open: []string{}, Short: []Short{}, Currency: n.Config.Currency, Returns: h.Returns, Holds: h.Holds}
	months := map[string]*Month{}
	month := func(day string) *Month {
		m := day[:min(7, len(day))]
		if months[m] == nil {
			months[m] = &Month{Month: m}
		}
		return months[m]
	}
	diagnosis, repair := map[string][]float64{}, map[string][]float64{}
	symptoms, causes := map[string]int{}, map[string]map[[2]string]int{}
	parts := map[string]int{}
	came := map[string]bool{}
	for _, c := range n.Cases {
		if r := c.File.Case.Returns; r != "" {
			came[r] = true
		}
	}
	for _, c := range n.Cases {
		k := &c.File.Case
		if k.Opened != "" {
			month(k.Opened).Opened++
		}
		if k.Open() {
			f.Open = append(f.Open, c.ID())
		} else {
			month(k.Closed).Closed++
		}
		if m := k.Minutes; m != nil {
			if m.Diagnosis != nil {
				diagnosis[c.Device.Kind] = append(diagnosis[c.Device.Kind], float64(*m.Diagnosis))
			}
			if m.Repair != nil {
				repair[c.Device.Kind] = append(repair[c.Device.Kind], float64(*m.Repair))
			}
		}
		if !k.Open() && k.Cause == nil {
			f.NoCause++
		}
		if k.Outcome == "fixed" {
			switch {
			case came[c.ID()]:
				f.FirstTime.Of++
			case k.Followed != "":
				f.FirstTime.Of++
				f.FirstTime.N++
			default:
				f.FirstTimeUnknown++
			}
		}
		for _, s := range k.Symptoms {
			symptoms[s]++
			if k.Cause != nil {
				if causes[s] == nil {
					causes[s] = map[[2]string]int{}
				}
				causes[s][[2]string{k.Cause.Fault, k.Cause.At}]++
			}
		}
		for _, p := range k.Parts {
			if p.Action == "replaced" || p.Action == "substituted" {
				parts[strings.ToLower(p.Part)]++
			}
		}
		if k.Cost != nil && k.Cost.Parts != nil {
			f.Cost += *k.Cost.Parts
			f.CostCases++
		}
	}
	for _, m := range months {
		f.Months = append(f.Months, *m)
	}
	slices.SortFunc(f.Months, func(a, b Month) int { return strings.Compare(a.Month, b.Month) })
	for kind := range union(diagnosis, repair) {
		f.Times = append(f.Times, KindTime{Count{kind, n.Terms.Name(terms.Kind, kind),
			max(len(diagnosis[kind]), len(repair[kind]))}, timesOf(diagnosis[kind]), timesOf(repair[kind])})
	}
	slices.SortFunc(f.Times, func(a, b KindTime) int { return byCount(a.Count, b.Count) })
	if s := &f.FirstTime; s.Of > 0 {
		s.P = float64(s.N) / float64(s.Of)
		s.Low, s.High = triage.Wilson(s.N, s.Of, triage.Z95)
	}
	for id, count := range symptoms {
		s := SymptomCauses{Count: Count{id, n.Terms.Name(terms.Symptom, id), count}}
		for cause, times := range causes[id] {
			s.Causes = append(s.Causes, Count{cause[0] + "@" + cause[1],
				n.Terms.Name(terms.Fault, cause[0]) + ", " + n.Terms.Name(terms.Place, cause[1]), times})
		}
		slices.SortFunc(s.Causes, byCount)
		f.Symptoms = append(f.Symptoms, s)
	}
	slices.SortFunc(f.Symptoms, func(a, b SymptomCauses) int { return byCount(a.Count, b.Count) })
	for name, times := range parts {
		f.Parts = append(f.Parts, Count{name, name, times})
	}
	slices.SortFunc(f.Parts, byCount)
	for _, d := range n.Devices {
		if d.Record == nil {
			continue
		}
		for i := range d.Record.Device.Spares {
			if p := &d.Record.Device.Spares[i]; p.Short() {
				f.Short = append(f.Short, Short{d.ID, strings.TrimSpace(p.Part + " " + p.Value), p.From, *p.Left, p.Least})
			}
		}
	}
	return f
}

func timesOf(minutes []float64) Times {
	if len(minutes) == 0 {
		return Times{}
	}
	sorted := slices.Sorted(slices.Values(minutes))
	return Times{quantile(sorted, 0.5), quantile(sorted, 0.25), quantile(sorted, 0.75), sorted[0], sorted[len(sorted)-1], len(sorted)}
}

// quantile is the value that a share of a sorted list lies below, between its two
// neighbours in proportion (definition 7 of R. J. Hyndman and Y. Fan, Sample quantiles in
// statistical packages, The American Statistician 50, 1996).
func quantile(sorted []float64, share float64) float64 {
	at := share * float64(len(sorted)-1)
	below := int(at)
	if below+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[below] + (at-float64(below))*(sorted[below+1]-sorted[below])
}

func byCount(a, b Count) int {
	return cmp.Or(cmp.Compare(b.N, a.N), strings.Compare(a.ID, b.ID))
}

func union(a, b map[string][]float64) map[string]bool {
	out := map[string]bool{}
	for k := range a {
		out[k] = true
	}
	for k := range b {
		out[k] = true
	}
	return out
}
