package triage

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/reason/method"
	"benchlore/schema/casefile"
)

// kettles is a method for kettles with two steps and three causes.
var kettles = method.Method{ID: "kettles", Name: "Kettles", Kinds: []string{"kettle"}, Steps: []method.Step{
	{Check: "Lead and plug, unplugged", Expect: "whole", Minutes: 9,
		Causes: []method.Cause{"wire-broken@mains-input", "fuse-open@mains-input"}},
	{Check: "Element resistance", Expect: "26 Ω", Minutes: 1, Causes: []method.Cause{"open-circuit@heating-element"}},
}}

func same(n int, cause casefile.Cause) []casefile.Case {
	var list []casefile.Case
	for range n {
		list = append(list, casefile.Case{Symptoms: []string{"no-power"}, Cause: &cause})
	}
	return list
}

// kettleBook are cases of kettles.
func kettleBook(list ...casefile.Case) *notebook.Notebook {
	n := book(list...)
	for _, c := range n.Cases {
		c.Device = &notebook.Device{ID: "any-kettle", Kind: "kettle"}
	}
	return n
}

// TestMethodAlone: before there are cases the causes of the method are as probable as each
// other, and half is kept for what nobody knows; the range of each is wide, its check is
// offered in the bench's order although the second is cheaper, and says where it is from.
func TestMethodAlone(t *testing.T) {
	m := New(book(), kettles)
	list, unseen := m.Causes(Evidence{Kind: "kettle"})
	require.Len(t, list, 3)
	assert.InDelta(t, 0.5, unseen, 1e-9)
	for _, c := range list {
		assert.InDelta(t, 0.5/3, c.P, 1e-9)
		assert.True(t, c.General)
		assert.Empty(t, c.Cases)
		assert.Less(t, c.Interval[0], 0.02)
		assert.Greater(t, c.Interval[1], 0.6)
	}
	plan := m.Plan(Evidence{Kind: "kettle"})
	require.Len(t, plan.Steps, 2)
	assert.Equal(t, "Lead and plug, unplugged", plan.Steps[0].Check)
	assert.Equal(t, FromMethod, plan.Steps[0].From)
	assert.Equal(t, "whole", plan.Steps[0].Expect)
	assert.Equal(t, "heating-element", plan.Steps[1].IfFault.At)
	// A step that was clear leaves less of what it finds.
	after, _ := m.Causes(Evidence{Kind: "kettle", Found: []Finding{{"lead and plug, unplugged", "clear"}}})
	assert.Equal(t, "heating-element", after[0].At)
	assert.Greater(t, after[0].P, list[0].P)
	// Of another kind it says nothing.
	none, unseen := m.Causes(Evidence{Kind: "vacuum"})
	assert.Empty(t, none)
	assert.InDelta(t, 1, unseen, 1e-9)
	assert.Empty(t, m.Plan(Evidence{Kind: "vacuum"}).Steps)
	assert.Empty(t, m.Plan(Evidence{}).Steps)
}

// TestMethodsOfOneName: two methods that are called alike stay two; a workshop that writes
// its own for one kind leaves the others theirs.
func TestMethodsOfOneName(t *testing.T) {
	own := kettles
	own.Own, own.Steps = true, kettles.Steps[:1]
	all := kettles
	all.Kinds = []string{"kettle", "toaster"}
	m := New(book(), own, all)
	causes := func(kind string) int { list, _ := m.Causes(Evidence{Kind: kind}); return len(list) }
	assert.Equal(t, 2, causes("kettle"))
	assert.Equal(t, 3, causes("toaster"))
	assert.Equal(t, FromOwn, m.Plan(Evidence{Kind: "kettle"}).Steps[0].From)
	assert.Equal(t, FromMethod, m.Plan(Evidence{Kind: "toaster"}).Steps[0].From)
}

// TestMethodIsOutweighed: with n cases of one cause, and none of another, the prior of the
// first is (n + s) / (n + s + 5) and that of each cause of the method a third of five cases
// in as many, worked by hand with s = 1.
func TestMethodIsOutweighed(t *testing.T) {
	for _, n := range []int{2, 4, 9} {
		t.Run(fmt.Sprint(n), func(t *testing.T) {
			m := New(kettleBook(same(n, casefile.Cause{Fault: "wear", At: "switch"})...), kettles)
			m.Strength = 1
			e := Evidence{Kind: "kettle"}
			assert.InDelta(t, float64(n+1)/float64(n+6), m.prior(&e, 0), 1e-9)
			for c := 1; c < 4; c++ {
				assert.InDelta(t, 5.0/3/float64(n+6), m.prior(&e, c), 1e-9)
			}
			list, _ := m.Causes(e)
			assert.Equal(t, "switch", list[0].At)
			assert.False(t, list[0].General)
			assert.Len(t, list, 4)
		})
	}
}

// TestOwnCaseDecides: what a method says that a check finds counts until a case of the
// cause made the check; two cases in which it was clear weigh more than the method.
func TestOwnCaseDecides(t *testing.T) {
	open := casefile.Cause{Fault: "open-circuit", At: "heating-element"}
	list := same(2, open)
	e := Evidence{Kind: "kettle"}
	m := New(kettleBook(list...), kettles)
	id, ok := m.checkID[m.Key("Element resistance")]
	require.True(t, ok)
	assert.InDelta(t, 0.5, m.shows(&e, m.checks[id], 0).mean(), 1e-9, "one place in question: half and half")
	for i := range list {
		list[i].Findings = []casefile.Finding{{Check: "element, its resistance measured", Result: "clear"}}
	}
	m = New(kettleBook(list...), kettles)
	assert.Less(t, m.shows(&e, m.checks[m.checkID[m.Key("Element resistance")]], 0).mean(), 0.2)
}

// TestSafetyBeforeTheMethodsOrder: while something is dangerous, only what needs no power is
// offered, whatever the order of a method, and it is said how much is withheld.
func TestSafetyBeforeTheMethodsOrder(t *testing.T) {
	wrong := kettles
	wrong.Steps = []method.Step{
		{Check: "Standby lamp watched", Expect: "5 V", Minutes: 1, Causes: kettles.Steps[0].Causes},
		{Check: "Resistance to ground, unpowered", Expect: "no short", Minutes: 5, Causes: kettles.Steps[1].Causes},
	}
	m := New(book(), wrong)
	plan := m.Plan(Evidence{Kind: "kettle", Symptoms: []string{"smoke"}})
	require.True(t, plan.Stop())
	require.Len(t, plan.Steps, 1)
	assert.Equal(t, 1, plan.Withheld)
	require.Len(t, plan.Looks, 1)
	assert.Equal(t, "Resistance to ground, unpowered", plan.Steps[0].Check)
	assert.Equal(t, "Standby lamp watched", m.Plan(Evidence{Kind: "kettle"}).Steps[0].Check)
}

// TestReferenceReadings: a row of the device's sheet at a place in question is a check of
// that device alone, with what is expected.
func TestReferenceReadings(t *testing.T) {
	n := kettleBook(same(3, casefile.Cause{Fault: "open-circuit", At: "heating-element"})...)
	sheet := &casefile.DeviceFile{}
	sheet.Device.References = []casefile.Reference{{Point: "heating element", What: "resistance", State: "off",
		Expected: "26 Ω ±10 %"}, {Point: "TP4", What: "voltage", Expected: "5 V"}}
	n.Devices = []*notebook.Device{{ID: "any-kettle", Kind: "kettle", Record: sheet}}
	m := New(n, kettles)
	sheets := func(e Evidence) (out []string) {
		for _, s := range m.Plan(e).Steps {
			if s.From == FromSheet {
				out = append(out, s.Check+": "+s.Expect)
			}
		}
		return out
	}
	assert.Equal(t, []string{"heating element, resistance, off: 26 Ω ±10 %"}, sheets(Evidence{Device: "any-kettle"}))
	assert.Empty(t, sheets(Evidence{Kind: "kettle"}))
}

// TestGeneralMethods: every kind that has a method of its own has a plan from it on day
// one, without the cut-out's name making its check an invasive one.
func TestGeneralMethods(t *testing.T) {
	methods, err := method.Of(t.TempDir(), book().Terms)
	require.NoError(t, err)
	m := New(book(), methods...)
	for _, way := range methods {
		for _, kind := range way.Kinds {
			plan := m.Plan(Evidence{Kind: kind})
			assert.GreaterOrEqual(t, len(plan.Steps), 5, kind)
			var names []string
			for _, s := range plan.Steps {
				names = append(names, s.Check)
			}
			var listed []string
			for _, s := range way.Steps {
				if len(s.Causes) > 0 && strings.Contains(strings.Join(names, "\n"), s.Check) {
					listed = append(listed, s.Check)
				}
			}
			if !hasInvasive(names) {
				assert.Equal(t, listed, names, kind)
			}
		}
	}
	assert.False(t, isInvasive(words("Thermal cut-out, cold")))
	assert.True(t, isInvasive(words("Cut the track to C5")))
}

func hasInvasive(checks []string) bool {
	for _, c := range checks {
		if isInvasive(words(c)) {
			return true
		}
	}
	return false
}

// TestDischargedIsNoDischarging: a check that takes it for granted that a capacitor is
// empty is not the one that empties it.
func TestDischargedIsNoDischarging(t *testing.T) {
	rules := stepPrerequisites()
	at := slices.IndexFunc(rules, func(r Prerequisite) bool { return strings.HasPrefix(r.Do, "Discharge the reservoir") })
	require.GreaterOrEqual(t, at, 0)
	rule := rules[at]
	for name, want := range map[string]bool{"Discharge the reservoirs": true, "Reservoirs: discharge, then measure": true,
		"Rails to ground, discharged, in diode mode": false, "Discharged reservoirs measured": false, rule.Do: true} {
		assert.Equal(t, want, rule.satisfies(name), name)
	}
}

// TestFewRepeatsChooseNothing: two cases that made the same check are too few to choose a
// strength on.
func TestFewRepeatsChooseNothing(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "notebook.yaml"), []byte("name: W\n"), 0o644))
	require.NoError(t, os.Mkdir(filepath.Join(dir, "cases"), 0o755))
	for i := range 2 {
		id := fmt.Sprintf("2026-%04d", i+1)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "cases", id+".md"), []byte("---\ncase: "+id+
			"\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\nclosed: 2026-01-03\nsymptoms: [hum]\ncause: {fault: fuse-open, at: mains-input, origin: wear}\n"+
			"outcome: fixed\nconfirmed: an hour\n---\n## Symptom\n\nHums.\n\n## Findings\n\n| check | seen | result | min |\n|---|---|---|---|\n| Fuse | open | fault | 2 |\n"), 0o644))
	}
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	require.Zero(t, n.Errors(), "%v", n.Problems)
	m := New(n)
	assert.Equal(t, 1.0, m.CheckStrength)
	assert.Equal(t, 1.0, m.Strength)
}
