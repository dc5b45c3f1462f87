// Package similar finds past cases like a given one and says why.
//
// A case is a set of traits: its symptoms, its device, what was wrong and
// where, what happened to it before, the parts, nets and connectors touched,
// the readings that failed, and the words of its title. A trait that few cases
// have tells more: it weighs its information, -log2 of the share of cases that
// have it, times the weight of its sort. Two cases are as similar as the traits
// that they share weigh together.
//
// [New] lists the cases of each trait and [Model.Of] gathers candidates from
// those lists, never from all pairs. A list longer than maxList tells little
// and gives only its newest cases, so the work for one case does not grow with
// the notebook.
package similar

import (
	"cmp"
	"encoding/binary"
	"hash/fnv"
	"io"
	"math"
	"slices"
	"strings"
	"sync"
	"unicode"

	"benchlore/build/notebook"
	"benchlore/build/output/wording"
	"benchlore/build/parallel"
	"benchlore/build/reason/search"
	"benchlore/build/reason/verdict"
	"benchlore/schema/casefile"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// maxList bounds the candidates that one shared trait brings.
const maxList = 300

// sort is a sort of trait.
type sort uint8

const (
	symptom sort = iota
	model
	board
	kind
	place
	fault
	event
	part      // a designator of one device
	connector // the same, where it is a connector
	net
	reading // one point of one device, and how its reading failed
	comeback
	word
	sorts
)

// weights say what each sort counts for each bit of information, chosen by the
// leave-one-out test on the example notebook and rounded; the test prints what
// a change does.
var weights = [sorts]float64{symptom: 1, model: 0.8, board: 0.2, kind: 0.5, place: 0.5, fault: 0.5, event: 0.3, part: 0.3, connector: 0.4,
	net: 0.2, reading: 0.5, comeback: 0.3, word: 0.25}

// says is how a sort is given as a reason; %s is the name.
var says = [sorts]string{symptom: "same symptom: %s", model: "same model", board: "same board: %s",
	kind: "same kind of device", place: "same place: %s",
	fault: "same fault: %s", event: "same beforehand: %s", part: "same part: %s", connector: "same connector: %s", net: "same net: %s",
	reading: "the same reading %s", comeback: "returned after the same repair: %s", word: "same words: %s"}

// classes are the sorts whose names are controlled words.
var classes = map[sort]terms.Class{symptom: terms.Symptom, place: terms.Place, fault: terms.Fault, event: terms.Before}

// key names a trait; scope is the device where it only means something there.
type key struct {
	sort        sort
	scope, name string
}

// Neighbour is a similar case with its reasons, the weightiest first.
type Neighbour struct {
	Case  *notebook.Case
	Score float64
	Why   []string
}

// Model answers for one notebook. It is read-only and safe for concurrent use.
type Model struct {
	n       *notebook.Notebook
	judge   *verdict.Judge
	order   []*notebook.Case // oldest first
	ordinal map[string]int
	ids     map[key]int32
	keys    []key
	lists   [][]int32 // trait -> ordinals, oldest first
	traits  [][]int32 // ordinal -> traits, sorted
	device  map[string][]int
	returns map[string]bool // cases that came back
	weights []float64       // of traits
	seen    sync.Pool       // of *marks
}

// marks says which cases were seen in the present turn; it is used again and
// again, since clearing it would cost more than filling it.
type marks struct {
	turn uint32
	at   []uint32
}

// New reads the traits of every case.
func New(n *notebook.Notebook, j *verdict.Judge) *Model {
	m := &Model{n: n, judge: j, order: slices.Clone(n.Cases), ordinal: map[string]int{}, ids: map[key]int32{},
		device: map[string][]int{}, returns: map[string]bool{}}
	slices.SortFunc(m.order, func(a, b *notebook.Case) int {
		return cmp.Or(strings.Compare(a.File.Case.Opened, b.File.Case.Opened), strings.Compare(a.ID(), b.ID()))
	})
	for i, c := range m.order {
		m.ordinal[c.ID()] = i
		m.device[c.Device.ID] = append(m.device[c.Device.ID], i)
		if r := c.File.Case.Returns; r != "" {
			m.returns[r] = true
		}
	}
	found := make([][]key, len(m.order))
	parallel.Each(len(found), func(i int) { found[i] = m.keysOf(m.order[i]) })
	// Traits are numbered in the order of their keys, so that sums and ties come
	// out the same whatever other cases there are.
	for _, keys := range found {
		for _, k := range keys {
			if _, ok := m.ids[k]; !ok {
				m.ids[k], m.keys = 0, append(m.keys, k)
			}
		}
	}
	slices.SortFunc(m.keys, func(a, b key) int {
		return cmp.Or(cmp.Compare(a.sort, b.sort), strings.Compare(a.scope, b.scope), strings.Compare(a.name, b.name))
	})
	for i, k := range m.keys {
		m.ids[k] = int32(i)
	}
	m.lists, m.traits = make([][]int32, len(m.keys)), make([][]int32, len(m.order))
	for i, keys := range found {
		for _, k := range keys {
			id := m.ids[k]
			m.lists[id] = append(m.lists[id], int32(i))
			m.traits[i] = append(m.traits[i], id)
		}
		slices.Sort(m.traits[i])
	}
	m.weigh(func(sort) bool { return true })
	m.seen.New = func() any { return &marks{at: make([]uint32, len(m.order))} }
	return m
}

// weigh fixes what sharing each trait counts; sorts that are not kept count
// nothing.
func (m *Model) weigh(keep func(s sort) bool) {
	m.weights = make([]float64, len(m.keys))
	for id, k := range m.keys {
		if keep(k.sort) {
			m.weights[id] = weights[k.sort] * m.bits(len(m.lists[id]))
		}
	}
}

// keysOf lists the traits of a case, each once.
func (m *Model) keysOf(c *notebook.Case) []key {
	var list []key
	seen := map[key]bool{}
	add := func(s sort, scope, name string) {
		if k := (key{s, scope, name}); name != "" && !seen[k] {
			seen[k] = true
			list = append(list, k)
		}
	}
	k := &c.File.Case
	for _, s := range k.Symptoms {
		add(symptom, "", s)
	}
	if !strings.HasPrefix(c.Device.ID, "any-") { // described by its kind alone
		add(model, "", c.Device.ID)
	}
	add(board, c.Device.ID, k.Board)
	add(kind, "", c.Device.Kind)
	if k.Cause != nil {
		add(place, "", k.Cause.At)
		add(fault, "", k.Cause.Fault)
		if m.returns[c.ID()] || k.Returns != "" {
			add(comeback, "", k.Cause.Fault)
		}
	}
	for _, e := range k.Before {
		if e != "nothing" {
			add(event, "", e)
		}
	}
	for i := range k.Parts {
		p := &k.Parts[i]
		if isConnector(p) {
			add(connector, c.Device.ID, p.Ref)
		} else {
			add(part, c.Device.ID, p.Ref)
		}
		add(net, "", strings.ToUpper(p.Net))
	}
	for i := range k.Measurements {
		r := &k.Measurements[i]
		switch v := m.judge.Reading(c, r).Verdict; v {
		case quantity.Low, quantity.High, quantity.Open, quantity.Short, quantity.Reversed:
			add(reading, c.Device.ID, v.String()+": "+r.Point)
		}
	}
	for _, t := range search.Analyze(m.n.Terms.Language(), k.Title) {
		if !strings.ContainsFunc(t.Term, unicode.IsDigit) && !search.Filler(t.Term) {
			add(word, "", t.Term)
		}
	}
	return list
}

// isConnector goes by the reference letters of IEEE 315 (J, P, X) and by name.
func isConnector(p *casefile.Part) bool {
	letters := strings.TrimRight(p.Ref, "0123456789")
	name := strings.ToLower(p.Part)
	return letters == "J" || letters == "P" || letters == "X" || letters == "CN" ||
		strings.Contains(name, "connector") || strings.Contains(name, "socket")
}

// information returns how much a symptom tells, in bits, and in how many cases
// it stands.
func (m *Model) information(id string) (bits float64, cases int) {
	if trait, ok := m.ids[key{sort: symptom, name: id}]; ok {
		cases = len(m.lists[trait])
	}
	return m.bits(cases), cases
}

func (m *Model) bits(cases int) float64 {
	return math.Log2(float64(len(m.order)+1) / float64(cases+1))
}

// least is the score from which a case is called similar.
const least = 1

// Of returns up to limit neighbours of a case, best first, equal scores the
// newest first. The case itself and its own comebacks are left out. The case
// need not be of the notebook.
func (m *Model) Of(c *notebook.Case, limit int) []Neighbour {
	own := m.known(c)
	type scored struct {
		ordinal int32
		score   float64
	}
	before := func(a, b scored) bool {
		return a.score > b.score || a.score == b.score && m.order[a.ordinal].ID() > m.order[b.ordinal].ID()
	}
	var list []scored // the best first
	k := &c.File.Case
	for _, i := range m.candidates(own, limit) {
		next := scored{ordinal: i}
		m.shared(own, m.traits[i], func(_ int32, w float64) { next.score += w })
		if next.score < least || len(list) == limit && !before(next, list[limit-1]) {
			continue
		}
		other := m.order[i]
		if other.ID() == c.ID() || other.ID() == k.Returns || other.File.Case.Returns == c.ID() {
			continue
		}
		at := len(list)
		for at > 0 && before(next, list[at-1]) {
			at--
		}
		list = slices.Insert(list, at, next)
		list = list[:min(limit, len(list))]
	}
	var out []Neighbour
	for _, s := range list {
		out = append(out, Neighbour{Case: m.order[s.ordinal], Score: s.score, Why: m.why(c, own, m.traits[s.ordinal])})
	}
	return out
}

// trait is a trait of the case that is asked about, with its weight.
type trait struct {
	id     int32
	weight float64
}

// known returns the traits of a case that the notebook knows, by id.
func (m *Model) known(c *notebook.Case) []trait {
	var out []trait
	if i, ok := m.ordinal[c.ID()]; ok && m.order[i] == c {
		for _, id := range m.traits[i] {
			out = append(out, trait{id, m.weights[id]})
		}
		return out
	}
	for _, k := range m.keysOf(c) {
		if id, ok := m.ids[k]; ok {
			out = append(out, trait{id, m.weights[id]})
		}
	}
	slices.SortFunc(out, func(a, b trait) int { return cmp.Compare(a.id, b.id) })
	return out
}

// candidates gathers the cases that share a weighty trait, the weightiest
// traits first, until there are plenty. Common traits alone make no neighbour.
func (m *Model) candidates(own []trait, limit int) []int32 {
	enough := max(maxList, 20*limit)
	byWeight := slices.Clone(own)
	slices.SortFunc(byWeight, func(a, b trait) int {
		return cmp.Or(cmp.Compare(b.weight, a.weight), cmp.Compare(a.id, b.id))
	})
	seen := m.seen.Get().(*marks)
	defer m.seen.Put(seen)
	seen.turn++
	var out []int32
	for _, t := range byWeight {
		if t.weight == 0 || len(out) >= enough {
			break
		}
		list := m.lists[t.id]
		for _, i := range list[max(0, len(list)-maxList):] {
			if seen.at[i] != seen.turn {
				seen.at[i] = seen.turn
				out = append(out, i)
			}
		}
	}
	return out
}

// shared calls with every trait that both have; b is sorted, as a is.
func (m *Model) shared(a []trait, b []int32, call func(trait int32, weight float64)) {
	for i, j := 0, 0; i < len(a) && j < len(b); {
		switch {
		case a[i].id < b[j]:
			i++
		case a[i].id > b[j]:
			j++
		default:
			call(a[i].id, a[i].weight)
			i++
			j++
		}
	}
}

const (
	rareBits = 4 // of information, from which a symptom is called rare
	maxWords = 4 // named in a reason
)

// why says what two cases share, the weightiest first; words are one reason.
func (m *Model) why(c *notebook.Case, own []trait, other []int32) []string {
	type reason struct {
		text   string
		weight float64
	}
	var list []reason
	var words []trait
	m.shared(own, other, func(id int32, w float64) {
		k := m.keys[id]
		switch {
		case w <= 0:
		case k.sort == word:
			words = append(words, trait{id, w})
		case k.sort == symptom && m.bits(len(m.lists[id])) >= rareBits:
			list = append(list, reason{m.texts().Say("same symptom, rare here: %s (%d cases)",
				m.n.Terms.Name(terms.Symptom, k.name), len(m.lists[id])), w})
		default:
			list = append(list, reason{m.say(k), w})
		}
	})
	slices.SortStableFunc(words, func(a, b trait) int { return cmp.Compare(b.weight, a.weight) })
	if len(words) > 0 {
		written := map[string]string{} // by term, as the case has it
		for _, t := range search.Analyze(m.n.Terms.Language(), c.File.Case.Title) {
			written[t.Term] = strings.TrimSuffix(strings.ToLower(c.File.Case.Title[t.Start:t.Stop]), "'s")
		}
		var names []string
		sum := 0.0
		for i, t := range words {
			if i < maxWords {
				names = append(names, written[m.keys[t.id].name])
			}
			sum += t.weight
		}
		list = append(list, reason{m.texts().Say(says[word], strings.Join(names, ", ")), sum})
	}
	slices.SortStableFunc(list, func(a, b reason) int { return cmp.Compare(b.weight, a.weight) })
	var out []string
	for _, r := range list {
		out = append(out, r.text)
	}
	return out
}

// texts are those of the notebook's language.
func (m *Model) texts() *wording.Texts { return wording.In(m.n.Config.Language) }

// say gives a trait as a reason.
func (m *Model) say(k key) string {
	name := k.name
	if class, ok := classes[k.sort]; ok {
		name = m.n.Terms.Name(class, k.name)
	}
	if k.sort == comeback {
		name = m.n.Terms.Name(terms.Fault, k.name)
	}
	return strings.Replace(m.texts().Say(says[k.sort]), "%s", name, 1)
}

// Keys returns a function that gives for each case of the notebook a number that
// stays as long as its neighbours do, so that they need not be looked for
// again. The number also covers what item gives for every case that may be one.
func (m *Model) Keys(item func(c *notebook.Case) uint64) func(c *notebook.Case) uint64 {
	members := make([]uint64, len(m.order))
	for i, c := range m.order {
		h := fnv.New64a()
		_ = binary.Write(h, binary.LittleEndian, item(c))
		_, _ = io.WriteString(h, c.ID()+"\x00"+c.File.Case.Returns)
		for _, id := range m.traits[i] {
			k := m.keys[id]
			_, _ = io.WriteString(h, "\x00"+string(rune('0'+k.sort))+k.scope+"\x00"+k.name)
		}
		members[i] = h.Sum64()
	}
	const prime = 1099511628211 // of FNV
	lists := make([]uint64, len(m.lists))
	for id, list := range m.lists {
		sum := uint64(len(list))
		for _, i := range list[max(0, len(list)-maxList):] {
			sum = sum*prime ^ members[i]
		}
		lists[id] = sum
	}
	return func(c *notebook.Case) uint64 {
		i := m.ordinal[c.ID()]
		sum := uint64(len(m.order))*prime ^ members[i]
		for _, id := range m.traits[i] {
			sum = sum*prime ^ lists[id]
		}
		return sum
	}
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
