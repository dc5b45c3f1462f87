package triage

import (
	"math"
	"slices"

	"benchlore/build/notebook"
)

// Evaluation says how well the model does on its own notebook, each of the workshop's own
// cases judged by the others alone, from its symptoms, what happened before, and its
// device. Cases of other workshops are learned from and not judged: how well they tell
// one another says nothing of this shop.
type Evaluation struct {
	Closed   int     `json:"closed"`           // all closed cases of our own
	Cases    int     `json:"cases"`            // those that say a cause, which are judged
	Theirs   int     `json:"theirs,omitempty"` // closed cases of other workshops that say a cause, which are not
	Seen     int     `json:"seen"`             // whose cause another case has too, or a method names: no model could name the others
	Strength float64 `json:"strength"`
	// Hits are over all cases; a cause that no other case has is a miss.
	Hits
	// Known are the same over the cases whose cause another case has too.
	Known Hits `json:"known"`
	// Brier is the mean over all cases of the squared error over causes, a cause
	// not seen counting as one more; 0 is best, 2 worst.
	Brier       float64   `json:"brier"`
	Reliability []Bin     `json:"reliability"`
	Minutes     MinutesOf `json:"minutes"`
	Later       *Later    `json:"later,omitempty"` // none with too few cases
}

// Later says how well the older cases tell the newer: the model learns from those
// closed first, olderCases of all, and is asked with what was known of the others when
// they came in, so that nothing of them could be learned.
type Later struct {
	Older int `json:"older"`
	Newer int `json:"newer"`
	Seen  int `json:"seen"` // newer ones whose cause an older one has
	// Chosen is by symptoms, events and device; Words by what was said alone; Both by all
	// of it; Commonest by how often a cause was alone.
	Chosen      Right `json:"chosen"`
	Words       Right `json:"words"`
	Both        Right `json:"both"`
	Commonest   Right `json:"commonest_first"`
	Methods     Right `json:"methods_alone"` // by the methods for the kinds, without a case
	Reliability []Bin `json:"reliability"`   // of both
	// Calibration is the expected calibration error of both, over [laterBins] bins.
	Calibration float64 `json:"calibration_error"`
}

// Right are shares of the newer cases whose cause came first, and among three. A cause
// that no older case has is a miss.
type Right struct {
	Top1 float64 `json:"top1"`
	Top3 float64 `json:"top3"`
}

// olderCases is the share of the cases that is learned from.
const olderCases = 0.7

const (
	laterBins   = 10
	fewestLater = 10 // newer cases
)

// later evaluates by time; alone is the model of the methods without cases.
func (m *Model) later(alone *Model) *Later {
	var own []int // of our own, the newest first
	for i := range m.cases {
		if m.cases[i].from == "" {
			own = append(own, i)
		}
	}
	newer := len(own) - int(math.Round(olderCases*float64(len(own))))
	if newer < fewestLater {
		return nil
	}
	older := map[string]bool{}
	for _, c := range m.cases[own[newer]:] { // those of others that were closed by then too
		older[c.id] = true
	}
	part := *m.n
	part.Cases = slices.DeleteFunc(slices.Clone(m.n.Cases), func(c *notebook.Case) bool { return !older[c.ID()] })
	learned := New(&part, m.methods...)
	l := &Later{Older: len(own) - newer, Newer: newer}
	said, right, count := make([]float64, laterBins), make([]float64, laterBins), make([]int, laterBins)
	for _, i := range own[:newer] {
		s := &m.cases[i]
		truth := m.causes[s.cause]
		c, ok := m.n.Case(s.id)
		if !ok {
			continue
		}
		if slices.Contains(learned.causes, truth) {
			l.Seen++
		}
		ask := func(of *Model, e Evidence, r *Right) []Ranked {
			list, _ := of.Causes(e)
			for at, x := range list[:min(3, len(list))] {
				if x.Cause == truth {
					r.Top3++
					r.Top1 += one(at == 0)
				}
			}
			return list
		}
		both := s.evidence
		both.Said = saidOf(c)
		ask(learned, s.evidence, &l.Chosen)
		ask(learned, Evidence{Said: both.Said, Kind: both.Kind, Device: both.Device}, &l.Words)
		ask(learned, Evidence{}, &l.Commonest)
		ask(alone, Evidence{Kind: both.Kind}, &l.Methods)
		if list := ask(learned, both, &l.Both); len(list) > 0 {
			bin := min(int(list[0].P*laterBins), laterBins-1)
			said[bin] += list[0].P
			right[bin] += one(list[0].Cause == truth)
			count[bin]++
		}
	}
	for _, r := range []*Right{&l.Chosen, &l.Words, &l.Both, &l.Commonest, &l.Methods} {
		r.Top1, r.Top3 = r.Top1/float64(newer), r.Top3/float64(newer)
	}
	for b := range laterBins {
		bin := Bin{From: float64(b) / laterBins, To: float64(b+1) / laterBins, Cases: count[b]}
		l.Calibration += math.Abs(said[b]-right[b]) / float64(newer)
		if count[b] > 0 {
			bin.Said, bin.Right = said[b]/float64(count[b]), right[b]/float64(count[b])
		}
		l.Reliability = append(l.Reliability, bin)
	}
	return l
}

// Hits say how often the true cause was named.
type Hits struct {
	Top1       float64 `json:"top1"`
	Top3       float64 `json:"top3"`
	Reciprocal float64 `json:"mean_reciprocal_rank"`
	// The same by the commonest causes alone.
	CommonestTop1 float64 `json:"commonest_first_top1"`
	CommonestTop3 float64 `json:"commonest_first_top3"`
	// The same by the methods for the kinds of device, without a case.
	MethodsTop1 float64 `json:"methods_alone_top1"`
	MethodsTop3 float64 `json:"methods_alone_top3"`
}

// over gives the shares of n cases of what was counted.
func (h Hits) over(n int) Hits {
	for _, x := range []*float64{&h.Top1, &h.Top3, &h.Reciprocal, &h.CommonestTop1, &h.CommonestTop3, &h.MethodsTop1, &h.MethodsTop3} {
		if n > 0 {
			*x /= float64(n)
		}
	}
	return h
}

// Bin compares what was said with what came: of the answers whose probability
// lay in the range, how many were right.
type Bin struct {
	From  float64 `json:"from"`
	To    float64 `json:"to"`
	Said  float64 `json:"said"` // mean probability
	Right float64 `json:"right"`
	Cases int     `json:"cases"`
}

// MinutesOf are expected minutes to the fault, the mean over the cases whose
// cause was seen and for which the notebook knows checks.
type MinutesOf struct {
	Cases          int     `json:"cases"`
	Offered        float64 `json:"offered"`
	CommonestFirst float64 `json:"commonest_first"`
	CheapestFirst  float64 `json:"cheapest_first"`
	Random         float64 `json:"random"`
	Clairvoyant    float64 `json:"clairvoyant"`
}

const bins = 5

// Evaluate leaves each case out in turn. It counts on a model of its own, so that others
// may ask m meanwhile.
func (m *Model) Evaluate() Evaluation {
	own := learn(m.n, m.methods)
	own.Strength, own.Chosen, own.CheckStrength = m.Strength, m.Chosen, m.CheckStrength
	m = own
	e := Evaluation{Closed: m.ours.closed, Cases: m.ours.all, Theirs: m.theirs.all, Strength: m.Strength}
	said, right, count := make([]float64, bins), make([]float64, bins), make([]int, bins)
	alone, asked := m.withoutCases(), map[string][]Ranked{}
	for i := range m.cases {
		c := &m.cases[i]
		if c.from != "" {
			continue
		}
		m.take(c, -1)
		m.takeChecks(c, -1)
		p, _, unseen := m.weigh(&c.evidence)
		seen := m.inQuestion(&c.evidence, c.cause)
		truth := p[c.cause]
		if !seen {
			truth = unseen
		}
		brier := unseen * unseen
		top, topAt := 0.0, -1
		rank, common := 1, 1
		for k, x := range p {
			brier += x * x
			if x > top {
				top, topAt = x, k
			}
			if k != c.cause && (x > p[c.cause] || x == p[c.cause] && k < c.cause) {
				rank++
			}
			if k != c.cause && (m.count[k] > m.count[c.cause] || m.count[k] == m.count[c.cause] && k < c.cause) {
				common++
			}
		}
		e.Brier += brier - 2*truth + 1
		bin := min(int(top*bins), bins-1)
		said[bin] += top
		count[bin]++
		if seen && topAt == c.cause {
			right[bin]++
		}
		if seen {
			e.Seen++
			e.Reciprocal += 1 / float64(rank)
			e.Top1 += one(rank <= 1)
			e.Top3 += one(rank <= 3)
			e.CommonestTop1 += one(common <= 1)
			e.CommonestTop3 += one(common <= 3)
			kind := c.evidence.Kind
			if _, ok := asked[kind]; !ok {
				asked[kind], _ = alone.Causes(Evidence{Kind: kind})
			}
			if at := slices.IndexFunc(asked[kind], func(r Ranked) bool { return r.Cause == m.causes[c.cause] }); at >= 0 {
				e.MethodsTop1 += one(at < 1)
				e.MethodsTop3 += one(at < 3)
			}
			m.minutesFor(c, p, &e.Minutes)
		}
		m.take(c, 1)
		m.takeChecks(c, 1)
	}
	part := func(x *float64, n int) {
		if n > 0 {
			*x /= float64(n)
		}
	}
	part(&e.Brier, e.Cases)
	e.Hits, e.Known = e.Hits.over(e.Cases), e.Hits.over(e.Seen)
	for _, x := range []*float64{&e.Minutes.Offered, &e.Minutes.CommonestFirst, &e.Minutes.CheapestFirst,
		&e.Minutes.Random, &e.Minutes.Clairvoyant} {
		part(x, e.Minutes.Cases)
	}
	for b := range bins {
		bin := Bin{From: float64(b) / bins, To: float64(b+1) / bins, Cases: count[b]}
		if count[b] > 0 {
			bin.Said, bin.Right = said[b]/float64(count[b]), right[b]/float64(count[b])
		}
		e.Reliability = append(e.Reliability, bin)
	}
	e.Later = m.later(alone)
	return e
}

// withoutCases is the model of the same methods before there are cases.
func (m *Model) withoutCases() *Model {
	none := *m.n
	none.Cases = nil
	return New(&none, m.methods...)
}

func one(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// minutesFor adds what each order would cost a case whose cause is known now.
func (m *Model) minutesFor(c *sample, p []float64, out *MinutesOf) {
	o, _, _, _ := m.problem(&c.evidence, p, false)
	if len(o.Minutes) == 0 || !slices.ContainsFunc(o.Shows, func(row []float64) bool { return row[c.cause] >= worthwhile }) {
		return
	}
	true1 := problem{P: make([]float64, len(o.P)), Minutes: o.Minutes, Shows: o.Shows}
	true1.P[c.cause] = 1
	out.Cases++
	out.Offered += true1.cost(o.order())
	out.CommonestFirst += true1.cost(o.commonestFirst())
	out.CheapestFirst += true1.cost(o.cheapestFirst())
	out.Random += true1.random()
	out.Clairvoyant += true1.clairvoyant(c.cause)
}

// Wilson returns the score interval of a share, without continuity correction
// (Wilson 1927; Newcombe 1998, method 3), at the given normal quantile.
func Wilson(r, n int, z float64) (low, high float64) {
	if n == 0 {
		return 0, 1
	}
	p, m := float64(r)/float64(n), float64(n)
	centre := p + z*z/(2*m)
	spread := z * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	scale := 1 + z*z/m
	return max(0, (centre-spread)/scale), min(1, (centre+spread)/scale)
}
