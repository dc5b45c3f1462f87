// Package triage says what a fault probably is, what to check first, and how
// long repairs hold, from the closed cases of a notebook.
//
// # Causes
//
// A cause is a fault at a place. Begin with [New]; [Model.Causes] gives
//
//	P(c | e) proportional to P(c | device) * product over the evidence of P(e | c)
//
// (naive Bayes). Every probability is a count, smoothed towards a more general
// one with the strength s, as if s more cases had been seen of the general kind
// (Dirichlet smoothing, hierarchical shrinkage):
//
//	P(c)          = (n(c) + s g(c)) / (N + s)           N closed cases
//	P(c | kind)   = (n(c, kind) + s P(c)) / (n(kind) + s)
//	P(c | device) = (n(c, device) + s P(c | kind)) / (n(device) + s)
//	P(x)          = (n(x) + 1/2) / (N + 1)              a symptom, or an event before
//	P(x | fault)  = (n(x, fault) + s P(x)) / (n(fault) + s)
//	P(x | c)      = (n(x, c) + s P(x | fault)) / (n(c) + s)
//
// where g(c) is 1/K for each of K causes; a cause of which less than one case counts has
// as much less of it. A symptom that was asked for and is absent counts 1 - P(x | c); one
// that nobody asked for counts nothing. Some of the probability is kept for a cause that
// no case had yet: the share of causes seen once (Good & Turing), with P(x) for its
// evidence; see weights.go for what once means where cases count for less than one. The strength is chosen by leave-one-out on the notebook, the one of
// symptomStrengths under which the true causes were least surprising; with fewer than
// fewRepeats cases of repeated causes it stays 1.
//
// What the owner says is weighed by a classifier of maximum entropy over words, pairs
// of neighbours, runs of letters and where the text stands among meanings (words.go,
// packages maxent and nearness): each cause counts
//
//	P(fault | words) / P(fault) * P(place | words) / P(place), the second within the fault,
//
// so that without other evidence the faults are as probable as the words make them.
// Symptoms and events that the words mean are evidence too, where a case has them;
// beside symptoms the words count half, as their square root. A cause that no case had
// yet is neither helped nor hurt by words.
//
// The interval of a cause is a 90 % credible interval by the delta method on its
// log-odds, from the variances of the logarithms of the smoothed counts, none of
// them taken for less than half a case.
//
// # Before there are cases
//
// A bench's method (package method) counts as [Pseudo] cases of each kind of device that
// it is for, spread evenly over the causes that its steps name, M(c):
//
//	P(c | kind) = (n(c, kind) + s P(c) + Pseudo M(c)) / (n(kind) + s + Pseudo)
//
// A cause that no case had stands among the others then, and says so. The method counts
// for nothing where the kind is not known.
//
// # Checks
//
// See checks.go. How repairs hold is in survival.go.
//
// A model is read-only and safe for concurrent use.
package triage

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"benchlore/build/notebook"
	"benchlore/build/reason/method"
	"benchlore/schema/terms"
)

// symptomStrengths are those that are tried.
var symptomStrengths = []float64{0.25, 0.5, 1, 2, 4, 8, 16}

// FewCases is the number of closed cases below which a level (the model, its
// kind, the whole notebook) is said to have too few cases.
const FewCases = 5

// Cause is a fault at a place.
type Cause struct {
	Fault string `json:"fault"`
	At    string `json:"at"`
}

// Finding is a check that was made, with what it said: clear, fault or unsure.
type Finding struct{ Check, Result string }

// Evidence is what is known of the device on the bench, as ids of terms.
type Evidence struct {
	Symptoms []string
	Absent   []string // asked for and not there
	Before   []string
	Device   string
	Kind     string // of the device; found from Device when it is known
	Found    []Finding
	Said     string // what the owner says, in plain words

	heard *heard // what Said says, once it was weighed
}

// Ranked is a cause with how probable it is.
type Ranked struct {
	Cause
	P        float64    `json:"p"`
	Interval [2]float64 `json:"interval"`                 // 90 % credible
	Cases    []string   `json:"cases"`                    // with this cause, those with shared evidence first, newest first
	Shared   int        `json:"shared"`                   // of Cases, with shared evidence
	Words    []string   `json:"words,omitempty"`          // of what was said, that spoke for the fault
	General  bool       `json:"general_method,omitempty"` // no case had it: a method names it
}

// Model is learned from closed cases.
type Model struct {
	ours, theirs  tally   // whole cases: the workshop's own, and those of others
	Strength      float64 // s
	Chosen        bool    // from the notebook; otherwise it has too few repeated causes
	CheckStrength float64 // the same for what checks show

	n       *notebook.Notebook
	learned func() *wordModel // from the texts of the closed cases, when it is first asked
	causes  []Cause
	had     int   // of causes: those that cases had, which come first
	faults  []int // cause -> its fault's index
	// Counts of cases, those of other workshops by their weight (weights.go).
	shares   map[pool]float64
	whole    []int     // cases by cause, each as one
	spread   []float64 // g(c)
	faultN   []float64
	count    []float64
	total    float64
	kinds    map[string][]float64 // kind -> counts by cause
	kindN    map[string]float64
	devices  map[string]map[int]float64
	deviceN  map[string]float64
	kindOf   map[string]string // device -> kind
	symptoms signs
	before   signs
	checks   []*check
	checkID  map[string]int
	ids      [][]string // by cause, newest first
	cases    []sample
	minutes  float64 // median of all checks
	placeN   int     // places that causes are at
	methods  []method.Method
	ways     []*starter                    // one of each method that is for a kind
	starters map[string]*starter           // by kind of device
	sheets   map[string]map[int]*reference // by device and check
	names    func() map[string][]string    // of devices, as they are looked for in texts
	nets     func() map[string]bool        // of boards, in small letters
	last     atomic.Pointer[lastRead]
}

// signs counts how often each symptom or event stands with each cause.
type signs struct {
	cause map[string][]float64
	fault map[string][]float64
	all   map[string]float64
}

func newSigns() signs {
	return signs{map[string][]float64{}, map[string][]float64{}, map[string]float64{}}
}

// sample is a closed case as the model sees it.
type sample struct {
	id       string
	from     string // the workshop that it came from, empty for our own
	weight   float64
	sure     float64 // what its symptoms count: less where a program read them
	cause    int
	evidence Evidence
	made     []outcome
}

// New learns from the closed cases with a cause, and chooses the strength. Methods, where
// they are given, count beside the cases as [Pseudo] says; the first for a kind decides.
func New(n *notebook.Notebook, methods ...method.Method) *Model {
	m := learn(n, methods)
	m.Strength, m.Chosen = m.chooseStrength()
	m.CheckStrength = m.chooseCheckStrength()
	return m
}

func learn(n *notebook.Notebook, methods []method.Method) *Model {
	m := &Model{methods: methods, Strength: 1, CheckStrength: 1, n: n, kinds: map[string][]float64{},
		kindN: map[string]float64{}, devices: map[string]map[int]float64{}, deviceN: map[string]float64{},
		kindOf: map[string]string{}, ours: newTally(), theirs: newTally(), symptoms: newSigns(), before: newSigns(), checkID: map[string]int{}}
	m.names = sync.OnceValue(m.callings)
	m.nets = sync.OnceValue(func() map[string]bool { return netsOf(n) })
	index := map[Cause]int{}
	faults := map[string]int{}
	for _, d := range n.Devices {
		m.kindOf[d.ID] = d.Kind
	}
	var closed []*notebook.Case
	for _, c := range n.Cases {
		if !c.File.Case.Open() {
			m.tallyOf(c.File.Case.From).closed++
		}
		if k := &c.File.Case; !k.Open() && k.Cause != nil && k.Cause.Fault != "not-found" && n.Weight(c) > 0 {
			closed = append(closed, c)
		}
	}
	slices.SortStableFunc(closed, func(a, b *notebook.Case) int {
		return cmp.Or(strings.Compare(b.File.Case.Closed, a.File.Case.Closed), strings.Compare(b.ID(), a.ID()))
	})
	for _, c := range closed {
		i := m.number(Cause{c.File.Case.Cause.Fault, c.File.Case.Cause.At}, index, faults)
		m.ids[i] = append(m.ids[i], c.ID())
		k := &c.File.Case
		s := sample{id: c.ID(), from: k.From, weight: n.Weight(c), sure: 1, cause: i,
			evidence: Evidence{Symptoms: unique(k.Symptoms), Absent: unique(k.Absent), Device: c.Device.ID, Kind: c.Device.Kind}}
		if k.Source.SymptomsGuessed() {
			s.sure = guessedCount
		}
		for _, e := range unique(k.Before) {
			if e != "nothing" {
				s.evidence.Before = append(s.evidence.Before, e)
			}
		}
		m.cases = append(m.cases, s)
	}
	m.had = len(m.causes)
	m.takeMethods(index, faults)
	m.oursFirst()
	m.limitWeights()
	m.whole = make([]int, len(m.causes))
	m.count, m.faultN = make([]float64, len(m.causes)), make([]float64, len(faults))
	for i := range m.cases {
		m.take(&m.cases[i], 1)
	}
	m.spread = spreadOf(m.count)
	m.learnChecks(closed)
	m.addChecks(index)
	weights := make([]float64, len(m.cases))
	for i := range m.cases {
		weights[i] = m.cases[i].weight
	}
	m.learned = lazyWords(n.Dir, n.Terms.Language(), closed, weights)
	return m
}

// number gives the place of a cause in the list, a new one at its end.
func (m *Model) number(cause Cause, index map[Cause]int, faults map[string]int) int {
	if i, ok := index[cause]; ok {
		return i
	}
	i := len(m.causes)
	index[cause] = i
	m.causes, m.ids = append(m.causes, cause), append(m.ids, nil)
	f, ok := faults[cause.Fault]
	if !ok {
		f = len(faults)
		faults[cause.Fault] = f
	}
	m.faults = append(m.faults, f)
	return i
}

func unique(list []string) []string {
	var out []string
	for _, s := range list {
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

// take counts a case in (by 1) or out (by -1).
func (m *Model) take(s *sample, by float64) {
	m.tallyOf(s.from).take(s, int(by))
	c, f := s.cause, m.faults[s.cause]
	m.whole[c] += int(by)
	by *= s.weight
	m.total += by
	m.count[c] += by
	m.faultN[f] += by
	if m.kinds[s.evidence.Kind] == nil {
		m.kinds[s.evidence.Kind] = make([]float64, len(m.causes))
	}
	m.kinds[s.evidence.Kind][c] += by
	m.kindN[s.evidence.Kind] += by
	if m.devices[s.evidence.Device] == nil {
		m.devices[s.evidence.Device] = map[int]float64{}
	}
	m.devices[s.evidence.Device][c] += by
	m.deviceN[s.evidence.Device] += by
	m.symptoms.take(s.evidence.Symptoms, c, f, by*s.sure, len(m.causes), len(m.faultN))
	m.before.take(s.evidence.Before, c, f, by, len(m.causes), len(m.faultN))
}

func (g *signs) take(list []string, cause, fault int, by float64, causes, faults int) {
	for _, x := range list {
		if g.cause[x] == nil {
			g.cause[x], g.fault[x] = make([]float64, causes), make([]float64, faults)
		}
		g.cause[x][cause] += by
		g.fault[x][fault] += by
		g.all[x] += by
	}
}

// guessedCount is what a symptom counts that a program read from the text of a record, of
// one that somebody chose. Of such readings about nine in ten are right, and nobody can
// tell which; half is a judgement, and exact in counting.
const guessedCount = 0.5

// beta is a smoothed share of counts: (a, b) are those for and against.
type beta struct{ a, b float64 }

func (p beta) mean() float64 { return p.a / (p.a + p.b) }

// log returns the logarithm of the share, or of the rest, and its variance.
func (p beta) log(rest bool) (value, variance float64) {
	a := p.a
	if rest {
		a = p.b
	}
	return math.Log(a / (p.a + p.b)), trigamma(max(a, leastCount)) - trigamma(max(p.a+p.b, leastCount))
}

// leastCount bounds the variance of a share that rests on next to nothing: below
// half a case, Jeffreys' prior, its logarithm says only that it is small.
const leastCount = 0.5

// logMean is log without the variance.
func (p beta) logMean(rest bool) (value, variance float64) {
	a := p.a
	if rest {
		a = p.b
	}
	return math.Log(a / (p.a + p.b)), 0
}

// trigamma is the second derivative of the logarithm of the gamma function, by
// recurrence to 6 and the asymptotic series from there (Abramowitz & Stegun
// 6.4.6 and 6.4.12).
func trigamma(x float64) float64 {
	sum := 0.0
	for ; x < 6; x++ {
		sum += 1 / (x * x)
	}
	y := 1 / (x * x)
	return sum + 1/x + y/2 + y/x*(1.0/6-y*(1.0/30-y*(1.0/42-y/30)))
}

// share gives P(x | cause) as counts.
func (m *Model) share(g *signs, x string, cause int) beta {
	s := m.Strength
	all := (g.all[x] + 0.5) / (m.total + 1)
	f := m.faults[cause]
	nf, nc := m.faultN[f], m.count[cause]
	xf, xc := 0.0, 0.0
	if g.cause[x] != nil {
		xf, xc = g.fault[x][f], g.cause[x][cause]
	}
	fault := (xf + s*all) / (nf + s)
	return beta{xc + s*fault, nc - xc + s*(1-fault)}
}

// prior gives P(cause | device).
func (m *Model) prior(e *Evidence, cause int) float64 {
	s := m.Strength
	p := 0.0
	if m.count[cause] > 0 {
		p = (m.count[cause] + s*m.spread[cause]) / (m.total + s)
	}
	counts, start := m.kinds[e.Kind], m.starters[e.Kind]
	if counts != nil || start != nil {
		n, of := 0.0, m.kindN[e.Kind]
		if m.total > 0 {
			of += s
		}
		if counts != nil {
			n = counts[cause]
		}
		if start != nil {
			n, of = n+Pseudo*start.share(cause), of+Pseudo
		}
		p = (n + s*p) / of
	}
	if counts := m.devices[e.Device]; counts != nil {
		p = (counts[cause] + s*p) / (m.deviceN[e.Device] + s)
	}
	return p
}

// base are the counts that a cause's probability rests on, before any evidence.
func (m *Model) base(cause int) beta {
	if m.count[cause] == 0 { // a method alone names it, which nobody counted
		return beta{leastCount, Pseudo - leastCount}
	}
	s, g := m.Strength, m.spread[cause]
	return beta{m.count[cause] + s*g, m.total - m.count[cause] + s*(1-g)}
}

// probable is [Model.weigh] without the variances, which take most of its time.
func (m *Model) probable(e *Evidence) (p []float64, unseen float64) {
	p, _, unseen = m.weights(e, beta.logMean)
	return p, unseen
}

// weigh returns for each cause the probability and the variance of the logarithm
// of its weight; and the probability of a cause not seen yet.
func (m *Model) weigh(e *Evidence) (p, variance []float64, unseen float64) {
	return m.weights(e, beta.log)
}

func (m *Model) weights(e *Evidence, log func(p beta, rest bool) (value, variance float64)) (p, variance []float64, unseen float64) {
	p, variance = make([]float64, len(m.causes)), make([]float64, len(m.causes))
	if len(m.causes) == 0 {
		return p, variance, 1
	}
	u := m.unseen()
	other := math.Log(u)
	for _, x := range e.Symptoms {
		other += math.Log((m.symptoms.all[x] + 0.5) / (m.total + 1))
	}
	for _, x := range e.Absent {
		other += math.Log(1 - (m.symptoms.all[x]+0.5)/(m.total+1))
	}
	for _, x := range e.Before {
		other += math.Log((m.before.all[x] + 0.5) / (m.total + 1))
	}
	findings, words, places := m.saidBy(e.Found), m.factors(e), m.placesOf(e)
	for _, f := range findings {
		other += m.saidUnseen(f)
	}
	top := other
	for c := range m.causes {
		if !m.inQuestion(e, c) {
			p[c] = math.Inf(-1)
			continue
		}
		logP := math.Log((1 - u) * m.prior(e, c))
		_, v := log(m.base(c), false)
		add := func(value, variance float64) { logP, v = logP+value, v+variance }
		for _, x := range e.Symptoms {
			add(log(m.share(&m.symptoms, x, c), false))
		}
		for _, x := range e.Absent {
			add(log(m.share(&m.symptoms, x, c), true))
		}
		for _, x := range e.Before {
			add(log(m.share(&m.before, x, c), false))
		}
		for _, f := range findings {
			add(log(m.shows(e, f.check, c), f.clear))
		}
		if words != nil {
			add(words[c], 0)
		}
		add(fits(places, m.causes[c].At), 0)
		p[c], variance[c] = logP, v
		top = max(top, logP)
	}
	sum := math.Exp(other - top)
	for c := range p {
		p[c] = math.Exp(p[c] - top)
		sum += p[c]
	}
	for c := range p {
		p[c] /= sum
	}
	return p, variance, math.Exp(other-top) / sum
}

// z90 is the 95 % point of the normal distribution, for 90 % intervals.
const z90 = 1.6448536269514722

// intervals gives each cause's 90 % credible interval. With weights w and
// variances v of their logarithms, logit p = ln w - ln(sum of the others), whose
// variance is v plus the others' weighted by the squares of their shares.
func intervals(p, v []float64) [][2]float64 {
	all := 0.0
	for c := range p {
		all += p[c] * p[c] * v[c]
	}
	out := make([][2]float64, len(p))
	for c := range p {
		rest := 1 - p[c]
		if p[c] <= 0 || rest <= 0 {
			out[c] = [2]float64{p[c], p[c]}
			continue
		}
		spread := z90 * math.Sqrt(v[c]+(all-p[c]*p[c]*v[c])/(rest*rest))
		odds := math.Log(p[c] / rest)
		out[c] = [2]float64{1 / (1 + math.Exp(spread-odds)), 1 / (1 + math.Exp(-spread-odds))}
	}
	return out
}

// complete fills in the device and its kind, where the words say them, and what else
// they say.
func (m *Model) complete(e Evidence) Evidence {
	u := m.Understand(e.Said)
	if e.Kind == "" && e.Device == "" {
		e.Device, e.Kind = u.Device, u.Kind
	}
	if e.Kind == "" {
		e.Kind = m.kindOf[e.Device]
	}
	e.Symptoms, e.Absent, e.Before = unique(e.Symptoms), unique(e.Absent), unique(e.Before)
	// What the words mean is evidence where a case has it too.
	for _, id := range u.Symptoms() {
		if m.symptoms.all[id] > 0 && !slices.Contains(e.Absent, id) && !slices.Contains(e.Symptoms, id) {
			e.Symptoms = append(slices.Clip(e.Symptoms), id)
		}
	}
	for _, id := range u.Events() {
		if m.before.all[id] > 0 && !slices.Contains(e.Before, id) {
			e.Before = append(slices.Clip(e.Before), id)
		}
	}
	return e
}

// KindOf is the kind of the device, empty where it is not known.
func (m *Model) KindOf(e Evidence) string { return m.complete(e).Kind }

// DeviceOf is the device, chosen or named by the words, empty where it is not known.
func (m *Model) DeviceOf(e Evidence) string { return m.complete(e).Device }

// Causes ranks the causes, the most probable first, and gives the probability of
// a cause that no case had yet.
func (m *Model) Causes(e Evidence) (list []Ranked, unseen float64) {
	e = m.complete(e)
	p, v, unseen := m.weigh(&e)
	bounds := intervals(p, v)
	shared := m.sharing(&e)
	for c := range m.causes {
		if !m.inQuestion(&e, c) {
			continue
		}
		r := Ranked{Cause: m.causes[c], P: p[c], Interval: bounds[c], Cases: []string{}, General: m.count[c] == 0}
		for _, id := range m.ids[c] {
			if shared[id] {
				r.Cases = append(r.Cases, id)
			}
		}
		r.Shared = len(r.Cases)
		for _, id := range m.ids[c] {
			if !shared[id] {
				r.Cases = append(r.Cases, id)
			}
		}
		list = append(list, r)
	}
	slices.SortStableFunc(list, func(a, b Ranked) int {
		return cmp.Or(cmp.Compare(even(b.P), even(a.P)), strings.Compare(a.Fault, b.Fault), strings.Compare(a.At, b.At))
	})
	if e.heard != nil {
		without := m.learned().silence(e.Said)
		for i := range list[:min(spoken, len(list))] {
			list[i].Words = m.learned().spoke(e.heard.fault, without, list[i].Fault)
		}
	}
	return list, unseen
}

// spoken is of how many causes it is said which words spoke for them.
const spoken = 6

// sharing returns the cases that have a symptom or event of the evidence, or
// its device.
func (m *Model) sharing(e *Evidence) map[string]bool {
	out := map[string]bool{}
	for i := range m.cases {
		s := &m.cases[i].evidence
		has := s.Device == e.Device && e.Device != ""
		for _, x := range e.Symptoms {
			has = has || slices.Contains(s.Symptoms, x)
		}
		for _, x := range e.Before {
			has = has || slices.Contains(s.Before, x)
		}
		if has {
			out[m.cases[i].id] = true
		}
	}
	return out
}

const (
	// tried bounds the cases that a strength is chosen on.
	tried = 200
	// fewRepeats is the number of cases, or findings, of which another case has the
	// like, below which there is nothing to choose a strength on and it stays 1. Cases of
	// other workshops count by their weight here too.
	fewRepeats = 10
)

// chooseStrength leaves cases out in turn, those whose cause another case has
// too, and takes the strength under which their true causes were least
// surprising among the known ones; the larger among equals.
func (m *Model) chooseStrength() (strength float64, chosen bool) {
	var some []int
	weight := 0.0
	for i := range m.cases {
		if m.whole[m.cases[i].cause] > 1 {
			some = append(some, i)
			weight += m.cases[i].weight
		}
	}
	if weight < fewRepeats {
		return 1, false
	}
	some = m.drawn(some)
	return least(func(s float64) float64 {
		m.Strength = s
		loss := 0.0
		for _, i := range some {
			c := &m.cases[i]
			m.take(c, -1)
			p, unseen := m.probable(&c.evidence)
			m.take(c, 1)
			loss -= math.Log(max(p[c.cause], 1e-12) / (1 - unseen))
		}
		return loss
	}), true
}

// least returns the strength of least loss, the larger among equals.
func least(loss func(s float64) float64) float64 {
	best, lowest := 1.0, math.Inf(1)
	for _, s := range symptomStrengths {
		if l := loss(s); l <= lowest+1e-12 {
			best, lowest = s, l
		}
	}
	return best
}

// Contradictions says in words what of the evidence cannot all be true.
func (m *Model) Contradictions(e Evidence) []string {
	var out []string
	for _, x := range unique(e.Symptoms) {
		if slices.Contains(e.Absent, x) {
			out = append(out, fmt.Sprintf("%s is given both as there and as absent", m.n.Terms.Name(terms.Symptom, x)))
		}
	}
	said := map[string]string{}
	for _, f := range e.Found {
		key := checkKey(m.n.Terms, f.Check)
		if before, ok := said[key]; ok && before != f.Result {
			out = append(out, fmt.Sprintf("%s is said to be both %s and %s", f.Check, before, f.Result))
		}
		said[key] = f.Result
	}
	return out
}
