package method

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/terms"
)

// TestGeneral: every kind of device has a method with power after what needs none, and
// its words are known.
func TestGeneral(t *testing.T) {
	v := terms.Builtin()
	list, err := Of(t.TempDir(), v)
	require.NoError(t, err)
	assert.GreaterOrEqual(t, len(list), 35)
	named := map[string]string{}
	for _, m := range list {
		assert.GreaterOrEqual(t, len(m.Steps), 5, m.ID)
		for _, k := range m.Kinds {
			_, ok := v.Lookup(terms.Kind, k)
			assert.True(t, ok, "%s: %s", m.ID, k)
			assert.Empty(t, named[k], "%s has two methods", k)
			named[k] = m.ID
		}
		for _, h := range m.Hazards {
			_, ok := v.Lookup(terms.Hazard, h)
			assert.True(t, ok, "%s: %s", m.ID, h)
		}
		on := false
		for i, s := range m.Steps {
			assert.Contains(t, []string{Off, On}, s.Power, "%s: %s", m.ID, s.Check)
			assert.False(t, on && s.Power == Off, "%s: %s comes after a step with power", m.ID, s.Check)
			on = on || s.Power == On
			assert.NotEmpty(t, s.Expect, s.Check)
			assert.NotEmpty(t, s.Finds, s.Check)
			if strings.HasPrefix(s.Check, "Power ") {
				assert.GreaterOrEqual(t, i, 3, "%s: power before enough was measured without", m.ID)
			}
		}
	}
	for _, k := range v.All(terms.Kind) {
		m := For(list, v, k.ID)
		require.NotNil(t, m, k.ID)
		assert.NotEmpty(t, m.Steps)
	}
	m := For(list, v, "kettle")
	assert.Equal(t, "mains-heater", m.ID)
	m = For(list, v, "")
	assert.Equal(t, "any", m.ID)
}

// TestOwn: a workshop's own method comes first, and a slip in it is named.
func TestOwn(t *testing.T) {
	dir := t.TempDir()
	v := terms.Builtin()
	require.NoError(t, os.Mkdir(filepath.Join(dir, "method"), 0o755))
	write := func(text string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "method", "our.yaml"), []byte(text), 0o644))
	}
	write("- id: our-kettle\n  name: Our kettles\n  kinds: [kettle]\n  hazards: [mains]\n  steps:\n    - {check: Look, expect: clean, minutes: 2, finds: [scale]}\n")
	list, err := Of(dir, v)
	require.NoError(t, err)
	m := For(list, v, "kettle")
	assert.Equal(t, []any{"our-kettle", true}, []any{m.ID, m.Own})
	m = For(list, v, "toaster")
	assert.Equal(t, "mains-heater", m.ID)
	for text, says := range map[string]string{
		"- id: x\n  name: X\n  kinds: [kettel]\n  steps: [{check: a, minutes: 1}]\n": `"kettle"`,
		"- id: x\n  name: X\n  hazards: [main]\n  steps: [{check: a, minutes: 1}]\n": `"mains"`,
		"- id: x\n  nam: X\n":                         "our.yaml:2: \"nam\" is not a key here",
		"- id: x\n  name: X\n":                        "needs id, name and steps",
		"- id: x\n  name: X\n  steps: [{check: a}]\n": "minutes",
		"id: x\n": "a method is a list",
		"- id: x\n  name: X\n  steps: [{check: a, min: 1}]\n": "min",
	} {
		write(text)
		_, err := Of(dir, v)
		assert.ErrorContains(t, err, says, text)
		assert.ErrorContains(t, err, "method/our.yaml", text)
	}
}

// TestOwnLines: a slip is named with its line and its number, whichever file of the
// folder holds it, and what is no file of methods does not hide those after it.
func TestOwnLines(t *testing.T) {
	dir := t.TempDir()
	v := terms.Builtin()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "method", "a.yaml"), 0o755))
	write := func(name, text string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "method", name), []byte(text), 0o644))
	}
	write("notes.txt", "not ours to read")
	good := "- id: good\n  name: Good\n  kinds: [kettle]\n  steps: [{check: Look, minutes: 1000, causes: [fuse-open@mains-input]}]\n"
	for text, says := range map[string]string{
		"- id: b\n  name: B\n":                              "method/our.yaml:5: method 2 needs id, name and steps",
		"- name: B\n  steps: [{check: Look, minutes: 2}]\n": "method/our.yaml:5: method 2 needs id",
		"- id: b\n  name: B\n  kinds:\n    - kettle\n    - kettel\n  steps: [{check: Look, minutes: 2}]\n":                      "method/our.yaml:9: \"kettel\" of the method \"b\" is not a known kind of device; the nearest is \"kettle\"",
		"- id: b\n  name: B\n  hazards: [main]\n  steps: [{check: Look, minutes: 2}]\n":                                         "method/our.yaml:7: \"main\" of the method \"b\" is not a known hazard; the nearest is \"mains\"",
		"- id: b\n  name: B\n  steps:\n    - {check: Look, minutes: 2}\n    - {check: Feel, minutes: 1001}\n":                   "method/our.yaml:9: step 2 of the method \"b\" needs a check and its minutes, 1 to 1000",
		"- id: b\n  name: B\n  steps:\n    - {check: Look, minutes: 2}\n    - {check: Feel, minutes: 2, causes: [fuse-open]}\n": "method/our.yaml:9: \"fuse-open\" in the step \"Feel\"",
		"- id: b\n  name: B\n  steps: [{check: Look, minutes: 2, causes: [fuse-opn@mains-input]}]\n":                            "\"fuse-opn\" is not a known fault; the nearest is \"fuse-open\"",
		"- id: b\n  name: B\n  steps: [{check: Look, minutes: 2, causes: [fuse-open@mains-inpt]}]\n":                            "\"mains-inpt\" is not a known place; the nearest is \"mains-input\"",
	} {
		write("our.yaml", good+text)
		_, err := Of(dir, v)
		assert.ErrorContains(t, err, says)
	}
	write("our.yaml", good)
	list, err := Of(dir, v)
	require.NoError(t, err)
	require.Equal(t, "good", list[0].ID)
	fault, at := list[0].Steps[0].Causes[0].Parts()
	assert.Equal(t, []string{"fuse-open", "mains-input"}, []string{fault, at})
	write("our.yaml", good+"#"+strings.Repeat(" ", maxFile-len(good)-1))
	_, err = Of(dir, v)
	require.NoError(t, err, "as large as may be")
	write("our.yaml", good+"#"+strings.Repeat(" ", maxFile-len(good)))
	_, err = Of(dir, v)
	assert.ErrorContains(t, err, "method/our.yaml:1: larger than what is read: at most 262144 bytes")
}

// TestSafetyOfMethods: what a bench never does, and what it does first and last, by the
// kinds where it can kill. Common practice, no source.
func TestSafetyOfMethods(t *testing.T) {
	v := terms.Builtin()
	list, err := Of(t.TempDir(), v)
	require.NoError(t, err)
	for _, kind := range []string{"microwave", "refrigerator", "cooker", "hob", "e-bike-part", "battery-pack", "water-heater", "thermostat", "ceiling-lamp"} {
		assert.NotEmpty(t, For(list, v, kind).Refer, "%s: who does what is not done here?", kind)
	}
	oven := For(list, v, "microwave")
	assert.Subset(t, oven.Hazards, []string{"mains", "high-voltage", "stored-charge"})
	for _, s := range oven.Steps[:len(oven.Steps)-1] {
		assert.Equal(t, Off, s.Power, "a microwave oven is measured without power alone: %s", s.Check)
	}
	for _, kind := range []string{"valve-amplifier"} {
		for _, s := range For(list, v, kind).Steps {
			assert.NotContains(t, s.Check, "without loudspeaker", "a valve amplifier has its load always")
		}
	}
	for _, m := range list {
		if !slices.Contains(m.Hazards, "mains") || m.ID == "any" {
			continue
		}
		last := m.Steps[len(m.Steps)-1]
		assert.True(t, strings.HasPrefix(last.Check, "Acceptance"), "%s ends with %q", m.ID, last.Check)
	}
	for _, m := range list {
		for _, s := range m.Steps {
			if strings.Contains(s.Check+s.Expect, "varistor") || strings.Contains(s.Check, "Varistor") {
				assert.Contains(t, s.Expect, "both", "%s: a varistor reads open both ways", m.ID)
			}
			assert.NotRegexp(t, `(^|[^n]) 20 % of the printed`, s.Expect, "%s: within 20 %%, not at 20 %%", m.ID)
		}
	}
}

// TestTranslated: every method stands whole in German and French, with the English one's
// figures and other words.
func TestTranslated(t *testing.T) {
	figures := regexp.MustCompile(`[0-9]+`)
	english := builtin("en")
	for _, tag := range []string{"de", "fr"} {
		list := builtin(tag)
		require.Len(t, list, len(english))
		for i, m := range list {
			e := english[i]
			assert.NotEqual(t, e.Name, m.Name, "%s: %s", tag, m.ID)
			assert.Equal(t, e.Refer == "", m.Refer == "", "%s: %s", tag, m.ID)
			for k, s := range m.Steps {
				assert.NotEqual(t, e.Steps[k].Check, s.Check, "%s: %s", tag, m.ID)
				assert.Equal(t, figures.FindAllString(e.Steps[k].Check+" "+e.Steps[k].Expect, -1), figures.FindAllString(s.Check+" "+s.Expect, -1), "%s: %s: %s", tag, m.ID, s.Check)
				assert.Len(t, s.Finds, len(e.Steps[k].Finds), "%s: %s: %s", tag, m.ID, s.Check)
				assert.Equal(t, []any{e.Steps[k].Power, e.Steps[k].Minutes, e.Steps[k].Causes}, []any{s.Power, s.Minutes, s.Causes})
			}
		}
	}
	assert.Equal(t, english, builtin("es"), "in English where it is not translated")
}
