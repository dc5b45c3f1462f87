package practice

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/reason/triage"
	"benchlore/build/reason/verdict"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/casefile"
)

func example(t testing.TB) (*notebook.Notebook, *triage.Model, *Book) {
	t.Helper()
	n := workshop.Load(t)
	m := triage.New(n)
	return n, m, New(n, verdict.New(n), m)
}

// TestExercises: every closed case of the example with a cause and a check is an
// exercise; its checks are those of the case, shuffled; the model is as before when
// an exercise has been asked about.
func TestExercises(t *testing.T) {
	n, m, b := example(t)
	before, err := json.Marshal(m.Export())
	require.NoError(t, err)
	made := 0
	for _, c := range n.Cases {
		k := &c.File.Case
		x, ok := b.Of(c)
		if k.Open() || k.Cause == nil || k.Cause.Fault == "not-found" {
			assert.False(t, ok, c.ID())
			continue
		}
		require.True(t, ok, c.ID())
		made++
		found := 0
		for _, check := range x.Checks {
			if !check.Reading {
				found++
				at := slices.IndexFunc(k.Findings, func(f casefile.Finding) bool { return f.Check == check.Text })
				require.GreaterOrEqual(t, at, 0, check.Text)
				assert.Equal(t, k.Findings[at].Result, check.Result)
				assert.Positive(t, check.Minutes)
			}
		}
		asked := 0
		for i := range k.Findings {
			if says(c, i) {
				asked++
			}
		}
		assert.Equal(t, asked, found)
		choices := b.Choices(x)
		assert.Contains(t, choices, x.Cause)
		assert.LessOrEqual(t, len(choices), 8)
		for _, o := range b.Others(x) {
			assert.Empty(t, o.Result)
			assert.False(t, slices.ContainsFunc(x.Checks, func(c Check) bool { return c.Key == o.Key }),
				"%s: %s is a check of the case", x.ID, o.Text)
		}
		d := b.DebriefOf(x)
		assert.Len(t, d.Told, len(x.Checks))
		for _, told := range d.Told {
			assert.True(t, told.Finds >= 0 && told.Finds <= 1)
		}
		assert.GreaterOrEqual(t, d.Own, 0.0)
	}
	assert.Greater(t, made, 50)
	after, err := json.Marshal(m.Export())
	require.NoError(t, err)
	assert.Equal(t, string(before), string(after), "leaving cases out left nothing behind")
}

// TestLeftOut: what a check could have told does not know the case itself: a cause
// that only this case had is impossible without it, and its own check says nothing.
func TestLeftOut(t *testing.T) {
	n, m, b := example(t)
	alone := 0
	for _, c := range n.Cases {
		x, ok := b.Of(c)
		if !ok {
			continue
		}
		same := 0
		for _, other := range n.Cases {
			if k := other.File.Case.Cause; k != nil && !other.File.Case.Open() && k.Fault == x.Cause.Fault && k.At == x.Cause.At {
				same++
			}
		}
		if same > 1 {
			continue
		}
		alone++
		m.Without(x.ID, func() {
			ranked, _ := m.Causes(x.asked())
			for _, r := range ranked {
				if r.Cause == x.Cause {
					assert.Zero(t, r.P, x.ID)
				}
			}
		})
		for _, told := range b.DebriefOf(x).Told {
			assert.NotEqual(t, x.Cause, told.IfFault.Cause, x.ID)
		}
	}
	assert.Greater(t, alone, 20)
}

// TestLacks: a case that has everything lacks nothing, and each thing that is taken
// out of it is named.
func TestLacks(t *testing.T) {
	whole := `---
case: 2026-0001
title: Hums
device: {kind: amplifier, maker: Tarnwick, model: A1}
opened: 2026-01-01
closed: 2026-01-02
symptoms: [hum]
cause: {fault: capacitor-dried, at: smoothing, origin: wear}
outcome: fixed
confirmed: an hour on music
---
## Symptom

Hums.

## Findings

| check | seen | result | min |
|---|---|---|---|
| Fuse | whole | clear | 1 |
| Rectifier | 0.5 V each | clear | 3 |
| Rail ripple | 4 V | fault | 4 |

## Lesson

Look at the ripple first.
`
	for missing, c := range map[string][2]string{
		"":                           {"", ""},
		"a cause that was found":     {"fault: capacitor-dried", "fault: not-found"},
		"narrower than the whole":    {"at: smoothing", "at: whole-device"},
		"symptoms":                   {"symptoms: [hum]\n", ""},
		"words of the owner":         {"\nHums.\n", "\n"},
		"three findings":             {"| Fuse | whole | clear | 1 |\n", ""},
		"that showed the fault":      {"| 4 V | fault | 4 |", "| 4 V | clear | 4 |"},
		"a finding that was clear":   {"clear", "fault"},
		"the minutes of each":        {"| clear | 3 |", "| clear | |"},
		"a lesson":                   {"Look at the ripple first.\n", ""},
		"how the repair was proved":  {"confirmed: an hour on music\n", ""},
		"the device came back with ": {"comeback", "comeback"},
	} {
		dir := t.TempDir()
		put := func(name, text string) {
			path := filepath.Join(dir, name)
			require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
			require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		}
		put("notebook.yaml", "name: T\n")
		put("cases/2026-0001.md", strings.ReplaceAll(whole, c[0], c[1]))
		if missing == "" {
			put("cases/2026-0001.md", whole)
		}
		if c[0] == "comeback" {
			put("cases/2026-0001.md", whole)
			put("cases/2026-0002.md", strings.NewReplacer("2026-0001", "2026-0002\nreturns: 2026-0001",
				"capacitor-dried", "joint-cracked", "2026-01-02", "2026-03-02", "2026-01-01", "2026-03-01").Replace(whole))
		}
		n, err := notebook.Load(dir)
		require.NoError(t, err)
		k, ok := n.Case("2026-0001")
		require.True(t, ok)
		lacks := New(n, verdict.New(n), nil).Lacks(k)
		if missing == "" {
			assert.Empty(t, lacks)
			continue
		}
		assert.True(t, slices.ContainsFunc(lacks, func(l string) bool { return strings.Contains(l, missing) }), "%q: %q", missing, lacks)
	}
}

// TestSchedule follows SM-2 as published (P. A. Woźniak, Optimization of learning,
// Poznań 1990), worked out by hand: with quality 4 the ease stays 2.5 and the
// intervals are 1, 6, 15, 38, 95 days; with 5 the ease rises by 0.1, with 3 it falls
// by 0.14, and below 3 the intervals begin again with the ease as it was.
func TestSchedule(t *testing.T) {
	day := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	p := NewProgress("T")
	var intervals []int
	for range 5 {
		intervals = append(intervals, p.Take("a", 4, day).Interval)
	}
	assert.Equal(t, []int{1, 6, 15, 38, 95}, intervals)
	assert.Equal(t, "2026-04-06", p.Cases["a"].Due)
	assert.InDelta(t, 2.5, p.Cases["a"].Ease, 1e-9)
	r := p.Take("a", 2, day)
	assert.Equal(t, Record{Times: 0, Ease: 2.5, Interval: 1, Due: "2026-01-02", Last: 2, Missed: 1}, r)
	assert.InDelta(t, 2.6, p.Take("b", 5, day).Ease, 1e-9)
	assert.InDelta(t, 2.36, p.Take("c", 3, day).Ease, 1e-9)
	for range 50 {
		p.Take("c", 3, day)
	}
	assert.InDelta(t, 1.3, p.Cases["c"].Ease, 1e-9, "never below")
}

// TestScheduleProperties: whatever the qualities, the ease stays at 1.3 or more, an
// interval is at least a day, and passing never brings a case sooner than the last
// interval did.
func TestScheduleProperties(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 500 {
		p := NewProgress("T")
		last := Record{}
		for range 30 {
			q := r.IntN(6)
			next := p.Take("x", q, time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC))
			assert.GreaterOrEqual(t, next.Ease, 1.3)
			assert.GreaterOrEqual(t, next.Interval, 1)
			if q >= 3 && last.Times > 0 {
				assert.GreaterOrEqual(t, next.Interval, last.Interval)
			}
			assert.False(t, math.IsNaN(next.Ease))
			last = next
		}
	}
}

func TestNext(t *testing.T) {
	day := time.Date(2026, 1, 10, 0, 0, 0, 0, time.UTC)
	entries := []Entry{{"a", "f1", "p1", "lamp", 1, ""}, {"b", "f2", "p2", "radio", 5, ""}, {"c", "f1", "p3", "radio", 2, ""},
		{"d", "f3", "p3", "toy", 1, ""}}
	p := NewProgress("T")
	first := func() string {
		e, _, ok := p.Next(entries, day)
		require.True(t, ok)
		return e.ID
	}
	assert.Equal(t, "b", first(), "the commonest cause first")
	p.Take("b", 4, day)
	assert.Equal(t, "c", first(), "then the next commonest")
	p.Take("a", 1, day) // wrong: fault f1
	assert.Equal(t, "c", first(), "near what was wrong")
	p.Take("c", 1, day)
	assert.Equal(t, "d", first(), "the only new one")
	p.Take("d", 5, day)
	day = day.AddDate(0, 0, 1)
	e, due, _ := p.Next(entries, day)
	assert.True(t, due)
	assert.Equal(t, "a", e.ID, "all are due; the first by id")
	day = day.AddDate(0, 0, -1)
	_, due, _ = p.Next(entries, day)
	assert.False(t, due, "none is due yet; the soonest is offered")
	_, _, ok := p.Next(nil, day)
	assert.False(t, ok)
}

func TestGrade(t *testing.T) {
	x := Exercise{Cause: triage.Cause{Fault: "f", At: "p"},
		Checks: []Check{{Text: "a", Result: "clear", Minutes: 4, Turn: 1},
			{Text: "b", Result: "fault", Minutes: 6, Turn: 2}, {Text: "c", Result: "clear", Minutes: 30, Turn: 3}}}
	assert.InDelta(t, 10, x.own(), 1e-9, "up to the check that showed it")
	right := x.Cause
	for want, a := range map[int]Attempt{
		5: {Minutes: 10, Said: 2, Right: 1, Named: right}, 4: {Minutes: 15, Named: right}, 3: {Minutes: 16, Named: right},
		2: {Named: triage.Cause{Fault: "f", At: "q"}}, 1: {Named: triage.Cause{Fault: "g", At: "q"}}, 0: {Gave: true, Named: right},
	} {
		assert.Equal(t, want, x.Grade(a), "%+v", a)
	}
	assert.Equal(t, 4, x.Grade(Attempt{Minutes: 5, Said: 4, Right: 1, Named: right}), "quick, but mostly surprised")
}

func TestProgressFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "p.json")
	p, err := ReadProgress(path, "T")
	require.NoError(t, err)
	p.Take("2026-0001", 4, time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC))
	require.NoError(t, p.Write(path))
	again, err := ReadProgress(path, "T")
	require.NoError(t, err)
	assert.Equal(t, p, again)
	for _, bad := range []string{"", "{", "[]", `{"format":"other"}`,
		`{"format":"benchlore practice 1","cases":{"x":{"ease":0,"due":"2026-01-01"}}}`,
		`{"format":"benchlore practice 1","cases":{"x":{"ease":2,"due":"soon"}}}`,
		`{"format":"benchlore practice 1","cases":{"x":{"ease":2,"interval":-1,"due":"2026-01-01"}}}`} {
		_, err := ParseProgress([]byte(bad))
		assert.Error(t, err, bad)
	}
}

// FuzzProgress: nothing that is read makes the schedule fail.
func FuzzProgress(f *testing.F) {
	f.Add([]byte(`{"format":"benchlore practice 1","cases":{"a":{"times":1,"ease":2.5,"interval":1,"due":"2026-01-02","last":4,"missed":0}}}`))
	f.Add([]byte(`{"format":"benchlore practice 1","cases":null}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := ParseProgress(data)
		if err != nil {
			return
		}
		day := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
		for id := range p.Cases {
			r := p.Take(id, 4, day)
			if r.Interval < 0 || r.Ease < 1.3 {
				t.Fatalf("%+v", r)
			}
		}
		p.Next([]Entry{{ID: "a"}}, day)
	})
}

// TestHeld: while the device shows a danger, what needs power waits for a check that needs
// none, where there is one.
func TestHeld(t *testing.T) {
	look, rails := Check{Text: "look", Unpowered: true}, Check{Text: "rails"}
	none := func(int) bool { return false }
	stopped := Exercise{Stop: true}
	assert.True(t, stopped.Held(rails, []Check{look, rails}, none))
	assert.False(t, stopped.Held(look, []Check{look, rails}, none))
	assert.False(t, stopped.Held(rails, []Check{look, rails}, func(i int) bool { return i == 0 }), "it was looked at")
	assert.True(t, stopped.Held(rails, []Check{look, rails}, func(i int) bool { return i == 1 }))
	assert.False(t, stopped.Held(rails, []Check{rails}, none), "nothing can be looked at without power")
	assert.False(t, (&Exercise{}).Held(rails, []Check{look, rails}, none))
}

// TestOursFirst: what is chosen unasked is our own, or was begun; others come where there
// is nothing else.
func TestOursFirst(t *testing.T) {
	ours, theirs, begun := Entry{ID: "a"}, Entry{ID: "b", From: "quay"}, Entry{ID: "c", From: "quay"}
	p := NewProgress("T")
	p.Take("c", 5, time.Date(2026, 1, 10, 0, 0, 0, 0, time.UTC))
	assert.Equal(t, []Entry{ours, begun}, p.Ours([]Entry{ours, theirs, begun}))
	assert.Equal(t, []Entry{theirs, begun}, p.Ours([]Entry{theirs, begun}))
}
