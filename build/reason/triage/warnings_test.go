package triage

import (
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"benchlore/build/reason/method"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/terms"
)

// data reads a file of the built-in words as it lies on the disk, past the code that
// reads it otherwise.
func data(t *testing.T, name string, into any) {
	t.Helper()
	src, err := os.ReadFile(filepath.Join("..", "..", "..", "schema", "terms", "data", name+".yaml"))
	require.NoError(t, err)
	require.NoError(t, yaml.Unmarshal(src, into))
}

// TestNoAnswerLacksAWarning: for every kind of device with every symptom and in three
// languages, the plan of checks carries each danger that the symptom says and each hazard
// that the kind, its method or that danger calls for. What is expected is read from the
// files.
func TestNoAnswerLacksAWarning(t *testing.T) {
	var kinds []struct{ ID, Parent string }
	var symptoms []struct{ ID, Danger string }
	var precautions []struct {
		Hazard string
		Kinds  []string
	}
	var stops []struct{ Dangers, Hazards []string }
	var methods []struct{ Kinds, Hazards []string }
	data(t, "kinds", &kinds)
	data(t, "symptoms", &symptoms)
	data(t, "precautions", &precautions)
	data(t, "stops", &stops)
	src, err := os.ReadFile(filepath.Join("..", "method", "general.yaml"))
	require.NoError(t, err)
	require.NoError(t, yaml.Unmarshal(src, &methods))
	require.Greater(t, len(kinds), 150)
	stopping := 0
	for _, tag := range []string{"en", "de", "fr"} {
		n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\nlanguage: " + tag + "\n"})
		ways, err := method.Of(n.Dir, n.Terms)
		require.NoError(t, err)
		m := New(n, ways...)
		for _, kind := range kinds {
			var calls []string
			for _, p := range precautions {
				if slices.Contains(p.Kinds, kind.ID) {
					calls = append(calls, p.Hazard)
				}
			}
			way := slices.IndexFunc(methods, func(w struct{ Kinds, Hazards []string }) bool { return slices.Contains(w.Kinds, kind.ID) })
			if way < 0 && kind.Parent != "" {
				way = slices.IndexFunc(methods, func(w struct{ Kinds, Hazards []string }) bool { return slices.Contains(w.Kinds, kind.Parent) })
			}
			if way >= 0 {
				calls = append(calls, methods[way].Hazards...)
			}
			for i, s := range symptoms {
				if tag != "en" && s.Danger == "" && i%10 != 0 {
					continue
				}
				e := Evidence{Kind: kind.ID, Symptoms: []string{s.ID}}
				plan := Plan{Warnings: m.Warnings(e)} // what a plan begins with, and quick
				if s.Danger != "" || i%10 == 0 {
					plan = m.Plan(e)
				}
				want := slices.Clone(calls)
				if s.Danger != "" {
					stopping++
					at := slices.IndexFunc(stops, func(x struct{ Dangers, Hazards []string }) bool { return slices.Contains(x.Dangers, s.Danger) })
					require.GreaterOrEqual(t, at, 0, s.Danger)
					want = append(want, stops[at].Hazards...)
				}
				var dangers, cautions []string
				for _, d := range plan.Dangers {
					dangers = append(dangers, d.ID)
				}
				for _, c := range plan.Cautions {
					cautions = append(cautions, c.ID)
				}
				for _, id := range want {
					if !slices.Contains(cautions, id) {
						assert.Fail(t, "a caution is lacking", "%s: %s with %s lacks %s", tag, kind.ID, s.ID, id)
					}
				}
				if s.Danger != "" && (!plan.Stop() || !slices.Contains(dangers, s.Danger)) {
					assert.Fail(t, "a danger is lacking", "%s: %s with %s lacks %s", tag, kind.ID, s.ID, s.Danger)
				}
				for _, step := range plan.Steps {
					if plan.Stop() && !m.checks[m.checkID[m.Key(step.Check)]].unpowered() {
						assert.Fail(t, "power is offered beside a danger", "%s: %s with %s: %s", tag, kind.ID, s.ID, step.Check)
					}
				}
			}
		}
	}
	assert.Greater(t, stopping, 3000)
}

// TestSaidWarns: dangers that the words say stop for every kind, whatever language they are
// said in, and what only sounds like one does not.
func TestSaidWarns(t *testing.T) {
	n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n"})
	ways, err := method.Of(n.Dir, n.Terms)
	require.NoError(t, err)
	m := New(n, ways...)
	for said, danger := range map[string]string{"the pack is swollen and hot": "cell-swollen", "Der Akku ist aufgebläht": "cell-swollen",
		"la batterie est gonflée": "cell-swollen", "there was smoke and a bang": "smoke", "smoke alarm beeps": "", "the shock absorber squeaks": "",
		"no smoke and no smell": ""} {
		for _, k := range n.Terms.All(terms.Kind) {
			plan := m.Plan(Evidence{Kind: k.ID, Said: said})
			ids := []string{}
			for _, d := range plan.Dangers {
				ids = append(ids, d.ID)
			}
			if danger == "" {
				require.Empty(t, ids, "%s: %s", k.ID, said)
				continue
			}
			require.Contains(t, ids, danger, "%s: %s", k.ID, said)
		}
	}
}
