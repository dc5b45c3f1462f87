package hazard

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/terms"
)

// rowsOf reads a table of the test data.
func rowsOf(t *testing.T, name string, columns int) (out [][]string) {
	t.Helper()
	src, err := os.ReadFile(filepath.Join("testdata", name))
	require.NoError(t, err)
	for i, line := range strings.Split(strings.TrimRight(string(src), "\n"), "\n") {
		if strings.HasPrefix(line, "#") {
			continue
		}
		row := strings.Split(line, "\t")
		require.Len(t, row, columns, "%s, line %d", name, i+1)
		out = append(out, row)
	}
	return out
}

func inLanguage(t *testing.T, tag string) *notebook.Notebook {
	t.Helper()
	return workshop.Book(t, map[string]string{"notebook.yaml": "name: T\nlanguage: " + tag + "\n"})
}

// TestSaidStops: what people say of each danger stops the work, as that danger, in each
// language, with exactly the cautions that belong to what was read and the places where
// its causes lie.
func TestSaidStops(t *testing.T) {
	type belonging struct {
		hazards, at []string
		surely      string
	}
	belongs := map[string]belonging{}
	for _, row := range rowsOf(t, "belongs.tsv", 4) {
		belongs[row[0]] = belonging{strings.Fields(row[1]), strings.Fields(row[3]), row[2]}
	}
	books, heard := map[string]*notebook.Notebook{}, map[string]bool{}
	for _, row := range rowsOf(t, "stop.tsv", 3) {
		tag, text := row[0], row[2]
		if books[tag] == nil {
			books[tag] = inLanguage(t, tag)
		}
		w := WarningsOf(books[tag], Subject{Said: []string{text}})
		assert.True(t, w.Stop(), "%s: %q does not stop", tag, text)
		right := false
		var calls []string
		for _, d := range w.Dangers {
			right = right || slices.Contains(strings.Split(row[1], "|"), d.ID)
			heard[d.ID] = true
			calls = append(calls, belongs[d.ID].hazards...)
		}
		assert.True(t, right, "%s: %q is read as %v, not as %s", tag, text, ids(w.Dangers), row[1])
		slices.Sort(calls)
		assert.ElementsMatch(t, slices.Compact(calls), ids(w.Cautions), "%s: %q", tag, text)
	}
	for id, b := range belongs {
		assert.True(t, heard[id], "no sentence is read as %s", id)
		stop, ok := terms.Stops(id)
		require.True(t, ok, id)
		assert.ElementsMatch(t, b.hazards, stop.Hazards, id)
		assert.ElementsMatch(t, b.at, stop.At, id)
		assert.Equal(t, b.surely, stop.Shows, id)
	}
	for _, d := range terms.Builtin().All(terms.Danger) {
		_, ok := belongs[d.ID]
		assert.True(t, ok, "nothing was typed of %s", d.ID)
	}
}

// TestTextsSay: every text of safety has its steps, each says what it must, and none is
// more than was typed.
func TestTextsSay(t *testing.T) {
	v := terms.Builtin()
	precautions := map[string]terms.Precaution{}
	for _, p := range terms.Precautions() {
		precautions[p.Hazard] = p
	}
	seen := map[[2]string]bool{}
	for _, row := range rowsOf(t, "must-say.tsv", 3) {
		text, id := row[0], row[1]
		require.False(t, seen[[2]string{text, id}], "%s of %s stands twice", text, id)
		seen[[2]string{text, id}] = true
		var got []string
		class := terms.Hazard
		if slices.Contains([]string{"first", "meaning", "name", "look", "good", "until"}, text) {
			class = terms.Danger
		}
		if strings.HasPrefix(text, "part-") {
			class = terms.Protective
		}
		term, ok := v.Lookup(class, id)
		require.True(t, ok, id)
		stop, _ := terms.Stops(id)
		p := precautions[id]
		switch text {
		case "first":
			got = term.First
		case "meaning", "hazard-meaning", "part-meaning":
			got = []string{term.Meaning}
		case "name", "part-name":
			got = []string{term.Name}
		case "look":
			got = []string{stop.Look["en"]}
		case "good":
			got = []string{stop.Good["en"]}
		case "until":
			got = []string{stop.Until["en"]}
		case "caution":
			for range strings.Split(row[2], " | ") {
				got = append(got, term.Caution)
			}
		case "care":
			got = p.Care
		case "limits":
			for _, l := range p.Limits {
				got = append(got, l.What+": "+l.Limit+", "+l.Source)
			}
		case "question":
			got = append([]string{p.Question.Ask, p.Question.Right}, p.Question.Wrong...)
		default:
			t.Fatalf("there is no text %q", text)
		}
		want := strings.Split(row[2], " | ")
		if !assert.Len(t, got, len(want), "%s of %s", text, id) {
			continue
		}
		for i, piece := range want {
			assert.Contains(t, strings.ToLower(got[i]), strings.ToLower(piece), "%s of %s, step %d", text, id, i+1)
			if text == "limits" {
				assert.Equal(t, piece, got[i], "limits of %s", id)
			}
		}
	}
	for _, d := range v.All(terms.Danger) {
		for _, text := range []string{"first", "meaning", "name", "look", "good", "until"} {
			assert.True(t, seen[[2]string{text, d.ID}], "nothing was typed for the %s of %s", text, d.ID)
		}
	}
	for _, p := range v.All(terms.Protective) {
		assert.True(t, seen[[2]string{"part-name", p.ID}] && seen[[2]string{"part-meaning", p.ID}], "nothing was typed for %s", p.ID)
	}
	for _, h := range v.All(terms.Hazard) {
		for _, text := range []string{"caution", "hazard-meaning", "care", "limits", "question"} {
			assert.True(t, seen[[2]string{text, h.ID}], "nothing was typed for the %s of %s", text, h.ID)
		}
	}
}

var figures = regexp.MustCompile(`\d+(?:[.,]\d+)?`)

// numbersIn gives the numbers of a text, sorted, with a point where a comma may stand.
func numbersIn(texts ...string) []string {
	var out []string
	for _, text := range texts {
		for _, n := range figures.FindAllString(text, -1) {
			out = append(out, strings.ReplaceAll(n, ",", "."))
		}
	}
	slices.Sort(out)
	return out
}

// TestNumbersInEveryLanguage: a number of a text of safety is the same in German and
// French, and a list of steps has as many.
func TestNumbersInEveryLanguage(t *testing.T) {
	english := terms.Builtin()
	numbers := 0
	for _, tag := range []string{"de", "fr"} {
		own := terms.In(tag)
		for _, class := range []terms.Class{terms.Danger, terms.Hazard} {
			for _, e := range english.All(class) {
				o, ok := own.Lookup(class, e.ID)
				require.True(t, ok, e.ID)
				assert.Len(t, o.First, len(e.First), "%s %s", tag, e.ID)
				assert.Equal(t, numbersIn(e.Meaning, e.Caution), numbersIn(o.Meaning, o.Caution), "%s %s", tag, e.ID)
				for i := range min(len(e.First), len(o.First)) {
					assert.Equal(t, numbersIn(e.First[i]), numbersIn(o.First[i]), "%s %s, step %d", tag, e.ID, i+1)
				}
				numbers += len(numbersIn(e.Caution))
				if class != terms.Danger {
					continue
				}
				stop, _ := terms.Stops(e.ID)
				for _, text := range []map[string]string{stop.Look, stop.Good, stop.Until} {
					assert.Equal(t, numbersIn(text["en"]), numbersIn(text[tag]), "%s %s", tag, e.ID)
				}
			}
		}
	}
	assert.NotZero(t, numbers)
}

// TestChecksCall: the wording of a check calls for the cautions that belong to it.
func TestChecksCall(t *testing.T) {
	for _, row := range rowsOf(t, "calls.tsv", 2) {
		assert.Subset(t, terms.CalledFor(row[1]), strings.Fields(row[0]), "%q", row[1])
	}
}

// TestProtectiveNames: what people call a part that protects is read as one, in each
// language, so that it is never bridged unsaid; each is explained.
func TestProtectiveNames(t *testing.T) {
	named := map[string]bool{}
	for _, row := range rowsOf(t, "protective.tsv", 3) {
		tag, id, name := row[0], row[1], row[2]
		assert.True(t, terms.Protects(name), "%s: %q protects", tag, name)
		var got []string
		for _, m := range terms.In(tag).Recognise(terms.Protective, name) {
			got = append(got, m.Term.ID)
		}
		assert.Contains(t, got, id, "%s: %q", tag, name)
		named[id] = true
	}
	for _, p := range terms.Builtin().All(terms.Protective) {
		assert.True(t, named[p.ID], "no name was typed for %s", p.ID)
	}
	assert.Len(t, terms.Builtin().All(terms.Protective), len(named))
}

// TestNamesOfHazards: other names of a hazard that people write in a case.
func TestNamesOfHazards(t *testing.T) {
	for word, id := range map[string]string{"line voltage": "mains", "mains voltage": "mains", "230 V": "mains", "120 V": "mains",
		"charged capacitor": "stored-charge", "capacitor charge": "stored-charge", "Li-ion": "lithium", "lithium battery": "lithium",
		"hot air tool": "hot-air", "soldering heat": "hot-air", "solder fumes": "fumes", "flux fumes": "fumes",
		"static damage": "esd", "electrostatic discharge": "esd", "laser beam": "laser", "laser diode": "laser",
		"ultraviolet": "lamp-uv", "bright light": "lamp-uv", "kilovolt supply": "high-voltage", "EHT": "high-voltage",
		"blades": "moving-parts", "rotating parts": "moving-parts", "broken glass": "sharp-edges", "sharp metal": "sharp-edges",
		"steam pressure": "pressure-hot-water", "boiler": "pressure-hot-water", "solvents": "chemicals", "electrolyte": "chemicals",
		"Mains voltage": "mains", "Stored charge": "stored-charge", "Lithium cells": "lithium", "Hot air and soldering heat": "hot-air",
		"Solder and flux fumes": "fumes", "Electrostatic damage": "esd", "Laser": "laser", "Intense or ultraviolet light": "lamp-uv",
		"High-voltage supply": "high-voltage", "Moving parts": "moving-parts", "Sharp edges and glass": "sharp-edges",
		"Cleaning agents and electrolyte": "chemicals"} {
		term, ok := terms.Builtin().Resolve(terms.Hazard, word)
		if assert.True(t, ok, "%q is no hazard", word) {
			assert.Equal(t, id, term.ID, word)
		}
	}
	assert.Equal(t, []string{"High-voltage supply", "Mains voltage", "Lithium cells", "Stored charge", "Hot water, steam, pressure", "Moving parts", "Laser",
		"Hot air and soldering heat", "Intense or ultraviolet light", "Cleaning agents and electrolyte", "Sharp edges and glass", "Solder and flux fumes",
		"Electrostatic damage"}, namesOf(ByGravity(terms.Builtin().All(terms.Hazard))))
}

// TestOpenedThings: whatever a text says was opened calls for what is inside, in the words of
// each language.
func TestOpenedThings(t *testing.T) {
	for _, row := range rowsOf(t, "opened.tsv", 2) {
		assert.Equal(t, strings.Fields(row[0]), openedIn(row[1]), row[1])
	}
}

// TestKindsCall: what each kind of device calls for, and what it is never without.
func TestKindsCall(t *testing.T) {
	letters := map[string]string{"m": "mains", "c": "stored-charge", "l": "lithium", "x": "laser", "u": "lamp-uv", "h": "high-voltage",
		"v": "moving-parts", "s": "sharp-edges", "p": "pressure-hot-water", "a": "chemicals"}
	typed := map[string]bool{}
	for _, row := range rowsOf(t, "kinds.tsv", 2) {
		kind := row[0]
		want, always := []string{}, map[string]bool{}
		for _, letter := range strings.Fields(row[1]) {
			id := letters[strings.ToLower(letter)]
			require.NotEmpty(t, id, "%s %s", kind, letter)
			want, always[id] = append(want, id), letter == strings.ToUpper(letter)
		}
		assert.ElementsMatch(t, want, terms.CalledForBy(kind), kind)
		for _, id := range letters {
			assert.Equal(t, always[id], terms.Always(kind, id), "%s is never without %s", kind, id)
		}
		typed[kind] = true
	}
	for _, k := range terms.Builtin().All(terms.Kind) {
		assert.True(t, typed[k.ID], "nothing was typed for %s", k.ID)
	}
}

func namesOf(list []*terms.Term) (out []string) {
	for _, t := range list {
		out = append(out, t.Name)
	}
	return out
}
