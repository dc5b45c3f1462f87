package firstweeks

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/learn/practice"
	"benchlore/build/notebook"
	"benchlore/build/reason/verdict"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/quantity"
)

func load(t testing.TB, files map[string]string) (*notebook.Notebook, *verdict.Judge) {
	t.Helper()
	book := workshop.Dir(t)
	for name, text := range files {
		path := filepath.Join(book, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	n, err := notebook.Load(book)
	require.NoError(t, err)
	return n, verdict.New(n)
}

func ids(steps []Step) []string {
	var out []string
	for _, s := range steps {
		out = append(out, s.ID)
	}
	return out
}

// TestOrder: safety first, then measuring with the device off, each by how often the
// shop takes the reading, then values, then cases from common to rare.
func TestOrder(t *testing.T) {
	n, j := load(t, nil)
	steps := Steps(n, j, practice.New(n, j, nil).Entries())
	builtIn := slices.Concat([]string{safetyID, "boards", "cases"}, Drills)
	for _, q := range quantities {
		builtIn = append(builtIn, measuring+q)
	}
	for _, c := range Crafts {
		builtIn = append(builtIn, c.ID)
	}
	assert.ElementsMatch(t, append(builtIn, "our-bench"), ids(steps))
	assert.Equal(t, safetyID, steps[0].ID)
	assert.Equal(t, "our-bench", steps[1].ID, "the example's own page")
	assert.Equal(t, "measuring-resistance", steps[2].ID)
	at := func(id string) int { return slices.Index(ids(steps), id) }
	assert.Less(t, at("measuring-capacitance"), at("measuring-voltage"), "with the device off first")
	assert.Less(t, at("measuring-voltage"), at("values"))
	assert.Equal(t, "cases", steps[len(steps)-1].ID)
	for i := 3; i < 5; i++ {
		assert.GreaterOrEqual(t, steps[i-1].Count, steps[i].Count)
	}
	entries := steps[len(steps)-1].Entries
	assert.Greater(t, len(entries), 20)
	assert.True(t, slices.IsSortedFunc(entries, func(a, b practice.Entry) int { return b.Common - a.Common }))
	for _, s := range steps {
		if s.Sort != Measuring {
			continue
		}
		assert.LessOrEqual(t, len(s.Readings), shown)
		for _, r := range s.Readings {
			assert.NotEqual(t, quantity.NoVerdict, r.Verdict)
			assert.NotEmpty(t, r.Expected)
		}
	}
	assert.GreaterOrEqual(t, len(steps[2].Readings), 4, "some of the shop's own readings to judge")
}

// TestOwnPages: an owner's page goes where it says; an order of notebook.yaml holds,
// but safety stays first.
func TestOwnPages(t *testing.T) {
	page := map[string]string{"path/our-tools.md": "---\ntitle: Our tools\nwhy: Needed today.\nafter: safety\n---\nHere they are.\n", "path/last.md": "---\ntitle: Last\n---\nText.\n"}
	n, j := load(t, page)
	assert.Zero(t, n.Errors())
	got := ids(Steps(n, j, nil))
	assert.Contains(t, got[1:3], "our-tools")
	assert.Equal(t, "last", got[len(got)-1])
	page["notebook.yaml"] = "name: T\npath: [values, our-tools, safety, nothing-like-this, cases]\n"
	n, j = load(t, page)
	assert.Equal(t, []string{"safety", "values", "our-tools", "cases"}, ids(Steps(n, j, nil)))
}

// TestPageRules: a page that is wrong is named with its line.
func TestPageRules(t *testing.T) {
	for text, want := range map[string]string{
		"---\nwhy: x\n---\n": "title", "---\ntitle: A\nwhat: b\n---\n": "what", "no front matter": "front matter",
		"---\ntitle: A\n---\nCall +44 20 7946 0958 for Mrs Price.\n": "personal",
	} {
		n, _ := load(t, map[string]string{"path/a.md": text})
		found := false
		for _, p := range n.Problems {
			found = found || filepath.Base(p.File) == "a.md"
		}
		assert.True(t, found, "%s: %v", want, text)
	}
	n, _ := load(t, map[string]string{"path/Our Tools.md": "---\ntitle: A\n---\n"})
	assert.NotZero(t, n.Errors())
}

// TestDrills: every question has an answer of its kind, worked out by the quantity
// package, and takes it in other spellings; a thousandfold is wrong.
func TestDrills(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, drill := range Drills {
		seen := map[string]bool{}
		for range 400 {
			item := newItem(drill, r)
			answer, err := item.Answer()
			require.NoError(t, err, "%s: %s", drill, item.Text)
			assert.True(t, item.right(answer), item.Text)
			assert.False(t, item.right(answer+"0"), item.Text)
			assert.False(t, item.right("nonsense"))
			v, err := quantity.Parse(answer)
			require.NoError(t, err)
			other := "farad"
			if item.Kind == "capacitance" {
				other = "ohm"
			}
			assert.False(t, item.right(v.Number.String()+" "+other), "the unit counts")
			seen[item.Text] = true
		}
		assert.Greater(t, len(seen), 60, drill)
	}
	// IEC 60062 and EIA-96, as in testdata of the quantity package.
	for text, c := range map[string][2]string{"4k7": {"resistance", "4.7 kΩ"}, "104K": {"capacitance", "100 nF"},
		"01C": {"resistance", "10 kΩ"}, "yellow violet orange gold": {"resistance", "47 kΩ"}} {
		assert.True(t, Item{text, c[0]}.right(c[1]), text)
	}
	assert.True(t, Item{"104", "capacitance"}.right("0.1 uF"))
	assert.False(t, Item{"104", "capacitance"}.right("100 pF"))
}
