package triage

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"benchlore/build/notebook"
	"benchlore/schema/terms"
)

// Life is how long something was watched, and whether it ended then.
type Life struct {
	Days  float64
	Ended bool
}

// Point is a step of a survival curve.
type Point struct {
	Days   float64 `json:"days"`
	AtRisk int     `json:"at_risk"`
	Ended  int     `json:"ended"`
	Holds  float64 `json:"holds"` // share that holds beyond this day
	Error  float64 `json:"error"` // Greenwood's standard error
	Low    float64 `json:"low"`   // 95 % interval on the log-log scale
	High   float64 `json:"high"`
}

// Z95 is the 97.5 % point of the normal distribution, for 95 % intervals.
const Z95 = 1.959963984540054

// survival is the product-limit estimate (Kaplan & Meier 1958), a step for each
// day on which something ended, with Greenwood's variance.
func survival(lives []Life) []Point {
	sorted := slices.Clone(lives)
	slices.SortFunc(sorted, func(a, b Life) int { return cmp.Compare(a.Days, b.Days) })
	var out []Point
	holds, sum := 1.0, 0.0
	for i := 0; i < len(sorted); {
		day, ended, n := sorted[i].Days, 0, len(sorted)-i
		for ; i < len(sorted) && sorted[i].Days == day; i++ {
			if sorted[i].Ended {
				ended++
			}
		}
		if ended == 0 {
			continue
		}
		holds *= 1 - float64(ended)/float64(n)
		p := Point{Days: day, AtRisk: n, Ended: ended, Holds: holds}
		if n > ended {
			sum += float64(ended) / (float64(n) * float64(n-ended))
			p.Error = holds * math.Sqrt(sum)
			theta := Z95 * math.Sqrt(sum) / math.Log(holds)
			p.Low, p.High = math.Pow(holds, math.Exp(-theta)), math.Pow(holds, math.Exp(theta))
		} else { // none is left; the scale has no place for nought
			_, p.High = Wilson(0, n, Z95)
		}
		out = append(out, p)
	}
	return out
}

// Hold is how one kind of repair holds.
type Hold struct {
	By       string  `json:"by"` // action or fault
	ID       string  `json:"id"`
	Repairs  int     `json:"repairs"`
	Watched  int     `json:"watched"` // with a day last known to work, or a comeback
	Returned int     `json:"returned"`
	Curve    []Point `json:"curve"`
}

// Returns counts comebacks by what brought them.
type Returns struct {
	Repairs   int        `json:"repairs"`
	SameFault int        `json:"same_fault"`
	OwnWork   int        `json:"own_work"`  // the shop's own handling
	Unrelated int        `json:"unrelated"` // another fault
	Open      int        `json:"open"`      // not known yet
	Rate      float64    `json:"rate"`
	Interval  [2]float64 `json:"interval"` // Wilson, 95 %
}

// Risk is what past work on a device damaged.
type Risk struct {
	Case, Fault, At, Parts string
}

// History is what became of repairs.
type History struct {
	Holds   []Hold
	Returns Returns
	// Handling counts by device how many of its causes came from handling.
	Handling map[string][2]int // handling, all
	risks    map[string][]Risk
}

// NewHistory reads a notebook's repairs and comebacks. A repair begins on the
// day the case was closed as fixed. It ends on the day a comeback with the same
// fault or from the shop's own work was opened; otherwise it was watched until
// `followed`, or until an unrelated comeback. One without either is counted and
// not watched.
func NewHistory(n *notebook.Notebook) *History {
	h := &History{Handling: map[string][2]int{}, risks: map[string][]Risk{}}
	back := map[string][]*notebook.Case{}
	for _, c := range n.Cases {
		if r := c.File.Case.Returns; r != "" {
			back[r] = append(back[r], c)
		}
	}
	lives := map[[2]string][]Life{}
	repairs := map[[2]string]int{}
	for _, c := range n.Cases {
		k := &c.File.Case
		if k.Cause != nil {
			d := h.Handling[c.Device.ID]
			d[1]++
			if k.Cause.Origin == "handling" {
				d[0]++
				var parts []string
				for _, p := range k.Parts {
					parts = append(parts, cmp.Or(p.Ref, p.Part))
				}
				h.risks[c.Device.ID] = append(h.risks[c.Device.ID],
					Risk{c.ID(), n.Terms.Name(terms.Fault, k.Cause.Fault), n.Terms.Name(terms.Place, k.Cause.At),
						strings.Join(unique(parts), ", ")})
			}
			h.Handling[c.Device.ID] = d
		}
		if k.Outcome != "fixed" || k.Cause == nil || k.Closed == "" {
			continue
		}
		h.Returns.Repairs++
		life, watched := Life{}, false
		for _, b := range back[c.ID()] {
			days := daysBetween(k.Closed, b.File.Case.Opened)
			switch cause := b.File.Case.Cause; {
			case cause == nil:
				h.Returns.Open++
				life, watched = Life{days, true}, true
			case cause.Origin == "handling":
				h.Returns.OwnWork++
				life, watched = Life{days, true}, true
			case cause.At == k.Cause.At:
				h.Returns.SameFault++
				life, watched = Life{days, true}, true
			default:
				h.Returns.Unrelated++
				if !watched {
					life, watched = Life{days, false}, true
				}
			}
		}
		if !watched && k.Followed != "" {
			life, watched = Life{daysBetween(k.Closed, k.Followed), false}, true
		}
		keys := [][2]string{{"fault", k.Cause.Fault}}
		var actions []string
		for _, p := range k.Parts {
			actions = append(actions, p.Action)
		}
		for _, a := range unique(actions) {
			keys = append(keys, [2]string{"action", a})
		}
		for _, key := range keys {
			repairs[key]++
			if watched && life.Days >= 0 {
				lives[key] = append(lives[key], life)
			}
		}
	}
	r := &h.Returns
	if came := r.SameFault + r.OwnWork + r.Unrelated + r.Open; r.Repairs > 0 {
		r.Rate = float64(came) / float64(r.Repairs)
		r.Interval[0], r.Interval[1] = Wilson(min(came, r.Repairs), r.Repairs, Z95)
	}
	for key, count := range repairs {
		hold := Hold{By: key[0], ID: key[1], Repairs: count, Watched: len(lives[key]), Curve: survival(lives[key])}
		for _, l := range lives[key] {
			if l.Ended {
				hold.Returned++
			}
		}
		h.Holds = append(h.Holds, hold)
	}
	slices.SortFunc(h.Holds, func(a, b Hold) int {
		return cmp.Or(strings.Compare(a.By, b.By), cmp.Compare(b.Repairs, a.Repairs), strings.Compare(a.ID, b.ID))
	})
	return h
}

// Risks returns what past work on the device damaged, oldest first.
func (h *History) Risks(device string) []Risk { return h.risks[device] }

func daysBetween(from, to string) float64 {
	a, errA := time.Parse(time.DateOnly, from)
	b, errB := time.Parse(time.DateOnly, to)
	if errA != nil || errB != nil {
		return -1
	}
	return b.Sub(a).Hours() / 24
}
