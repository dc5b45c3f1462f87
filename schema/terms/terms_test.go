package terms

import (
	"crypto/sha256"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/diagnostic"
)

// TestBuiltin checks the data files: enough words, each with a meaning, and no
// synonym that means two things (which loading itself refuses).
func TestBuiltin(t *testing.T) {
	v := Builtin()
	for c, least := range map[Class]int{Symptom: 60, Fault: 25, Place: 25, Origin: 8, Hazard: 12, Action: 7,
		Result: 3, Outcome: 4, Barrier: 6, Kind: 40, Before: 8} {
		assert.GreaterOrEqual(t, len(v.All(c)), least, c)
		for _, term := range v.All(c) {
			assert.Regexp(t, IDPattern, term.ID)
			assert.NotEmpty(t, term.Name, term.ID)
			assert.NotEmpty(t, term.Meaning, term.ID)
			assert.NotContains(t, term.Meaning, "\n", term.ID)
			if c == Symptom {
				assert.NotEmpty(t, term.Group, term.ID)
			}
			if c == Hazard {
				assert.NotEmpty(t, term.Caution, term.ID)
			}
		}
	}
}

// TestKindsFollowTheStandard checks the 40 product categories of the Open
// Repair Data Standard v0.3, by number and wording (its published code list).
func TestKindsFollowTheStandard(t *testing.T) {
	want := strings.Split("Aircon/dehumidifier|Battery/charger/adapter|Decorative or safety lights|Desktop computer|Digital compact camera|"+
		"DSLR/video camera|Fan|Flat screen|Hair & beauty item|Handheld entertainment device|Headphones|Hi-Fi integrated|Hi-Fi separates|"+
		"Kettle|Lamp|Laptop|Large home electrical|Misc|Mobile|Musical instrument|Paper shredder|PC accessory|Portable radio|Power tool|"+
		"Printer/scanner|Projector|Sewing machine|Small home electrical|Small kitchen item|Tablet|Toaster|Toy|"+
		"TV and gaming-related accessories|Vacuum|Watch/clock|Coffee maker|Food processor|Games console|Hair dryer|Iron", "|")
	require.Len(t, want, 40)
	got := map[int]string{}
	for _, k := range Builtin().All(Kind) {
		assert.GreaterOrEqual(t, k.Category, 1, k.ID)
		assert.LessOrEqual(t, k.Category, 40, k.ID)
		if k.Standard != "" {
			assert.Empty(t, got[k.Category], "two kinds claim category %d", k.Category)
			got[k.Category] = k.Standard
		}
	}
	for i, name := range want {
		assert.Equal(t, name, got[i+1])
	}
	_, ok := Builtin().Lookup(Kind, "misc")
	assert.True(t, ok)
}

func TestRecognise(t *testing.T) {
	for _, test := range []struct {
		text string
		want string
	}{
		{"Won't turn on at all", "no-power"},
		{"it is completely dead", "no-power"},
		{"no power", "no-power"},
		{"It will not switch on.", "no-power"},
		{"fails to turn on", "no-power"},
		{"doesn’t charge", "no-charge"},
		{"The screen flickers and hums", "flicker hum"},
		{"no distortion, it hums", "hum"},
		{"cuts out after ten minutes", "cuts-out"},
		{"trips the electrics", "trips-breaker"},
		{"turn. on", ""}, // a phrase does not cross a full stop
		{"nothing to see", ""},
		{"ne marche pas", "not-working"}, // read in the language that it is written in
		{"", ""},
		{"🙂🙂", ""},
	} {
		var got []string
		for _, m := range Builtin().Recognise(Symptom, test.text) {
			got = append(got, m.Term.ID)
			assert.NotEmpty(t, strings.TrimSpace(test.text[m.Start:m.Stop]))
		}
		assert.Equal(t, test.want, strings.Join(got, " "), test.text)
	}
}

func TestResolveAndNearest(t *testing.T) {
	v := Builtin()
	for word, want := range map[string]string{"no-power": "no-power", "Dead": "no-power",
		"won't power up": "no-power", "Blows its fuse": "fuse-blows"} {
		term, ok := v.Resolve(Symptom, word)
		if assert.True(t, ok, word) {
			assert.Equal(t, want, term.ID)
		}
	}
	for word, want := range map[string]string{"no-powr": "no-power", "flikcer": "flicker", "humm": "hum", "qqqqqq": "", "": ""} {
		assert.Equal(t, want, v.Nearest(Symptom, word), word)
	}
}

// TestDistance counts characters, not bytes, and a swap as one.
func TestDistance(t *testing.T) {
	for _, test := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"a", "", 1}, {"Ω", "µ", 1}, {"lamp", "lmap", 1}, {"kitten", "sitting", 3}, {"ca", "abc", 3}} {
		assert.Equal(t, test.want, Distance(test.a, test.b), test.a+" "+test.b)
		assert.Equal(t, test.want, Distance(test.b, test.a), test.b+" "+test.a)
	}
}

func TestExtend(t *testing.T) {
	v, list := Builtin().Extend("terms/own.yaml", []byte(`
places:
  - {id: cue-lift, name: Cue lift, meaning: Lowers the arm., also: [arm lift]}
symptoms:
  - {id: no-power, also: [dead as a dodo]}
`))
	require.Empty(t, list)
	term, ok := v.Resolve(Place, "arm lift")
	require.True(t, ok)
	assert.True(t, term.Own)
	term, ok = v.Resolve(Symptom, "dead as a dodo")
	require.True(t, ok)
	assert.Equal(t, "no-power", term.ID)
	_, ok = Builtin().Resolve(Place, "arm lift")
	assert.False(t, ok, "the built-in vocabulary is not changed")

	for _, test := range []struct {
		src  string
		rule diagnostic.Rule
		line int
	}{
		{"symptons:\n  - {id: a}\n", diagnostic.UnknownKey, 1},
		{"actions:\n  - {id: a, name: A, meaning: m}\n", diagnostic.UnknownKey, 1},
		{"places: x\n", diagnostic.WrongType, 1},
		{"places:\n  - x\n", diagnostic.WrongType, 2},
		{"places:\n  - {id: Bad Id, name: A, meaning: m}\n", diagnostic.WrongValue, 2},
		{"places:\n  - {id: good}\n", diagnostic.MissingKey, 2},
		{"places:\n  - {id: relay, name: Relay, meaning: again}\n", diagnostic.TermTwice, 2},
		{"places:\n  - {id: x1, name: X, meaning: m, also: [relay coil]}\n", diagnostic.TermTwice, 2},
		{"kinds:\n  - {id: x1, name: X, meaning: m}\n", diagnostic.WrongValue, 2},
		{"places: [\n", diagnostic.YAMLSyntax, 1},
		{"- a\n", diagnostic.WrongType, 1},
	} {
		_, list := Builtin().Extend("terms/own.yaml", []byte(test.src))
		if assert.NotEmpty(t, list, test.src) {
			assert.Equal(t, test.rule, list[0].Rule, test.src)
			assert.Equal(t, test.line, list[0].Line, test.src)
		}
	}
}

func FuzzRecognise(f *testing.F) {
	f.Add("won't turn on after it got wet")
	f.Add("Ωµ’'\u0301 no\nno. not")
	f.Fuzz(func(t *testing.T, text string) {
		last := 0
		for _, m := range Builtin().Recognise(Symptom, text) {
			if m.Start < last || m.Stop <= m.Start || m.Stop > len(text) {
				t.Fatalf("match %d..%d after %d in %d bytes", m.Start, m.Stop, last, len(text))
			}
			last = m.Stop
		}
		Builtin().Nearest(Fault, text)
	})
}

func FuzzExtend(f *testing.F) {
	f.Add([]byte("places:\n  - {id: a-b, name: A, meaning: m, also: [c]}\n"))
	f.Add([]byte("symptoms: &a [*a]\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		if len(src) > 1<<16 {
			return
		}
		if v, _ := Builtin().Extend("x.yaml", src); v == nil {
			t.Fatal("no vocabulary")
		}
	})
}

// TestOtherLanguages: every built-in word has its name in the other languages, a
// meaning of its own where it has one in English, and no two mean the same.
func TestOtherLanguages(t *testing.T) {
	english := Builtin()
	for _, tag := range []string{"de", "fr"} {
		v := In(tag) // panics where two words mean the same
		names := translations(tag)
		for _, c := range Classes {
			for _, e := range english.All(c) {
				own, ok := names[c][e.ID]
				assert.True(t, ok && own.Name != "", "%s: %s %s", tag, c, e.ID)
				assert.NotEmpty(t, own.Meaning, "%s: %s %s has no meaning", tag, c, e.ID)
				assert.Equal(t, e.Caution != "", own.Caution != "", "%s: caution of %s", tag, e.ID)
				got, ok := v.Lookup(c, e.ID)
				require.True(t, ok)
				assert.Equal(t, own.Name, got.Name)
			}
			for id := range names[c] {
				_, ok := english.Lookup(c, id)
				assert.True(t, ok, "%s: there is no %s %s", tag, c, id)
			}
		}
	}
	for phrase, want := range map[string]string{"geht nicht mehr an": "no-power", "der Ton brummt": "hum", "wird zu heiß": "overheats"} {
		m := In("de").Recognise(Symptom, phrase)
		if assert.NotEmpty(t, m, phrase) {
			assert.Equal(t, want, m[0].Term.ID, phrase)
		}
	}
	m := In("fr").Recognise(Symptom, "l’écran noir, mais elle ne s’allume plus")
	require.Len(t, m, 2)
	assert.Equal(t, "no-power", m[1].Term.ID)
}

// TestSymptomsOfRecords reads problem texts of open repair records and compares what is
// recognised with what a person read in them, and counts how many get a symptom at all.
func TestSymptomsOfRecords(t *testing.T) {
	f, err := os.Open(filepath.Join("..", "..", "..", "shared", "ords", "open-repair-sample.csv"))
	if err != nil {
		t.Skip("the open repair records are not beside this checkout")
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	read := map[string][]string{}
	texts, some := 0, 0
	for _, r := range rows[1:] {
		text := strings.Join(strings.Fields(r[len(r)-1]), " ")
		if text == "" {
			continue
		}
		texts++
		id := fmt.Sprintf("%x", sha256.Sum256([]byte(r[0])))[:12] // ids name who collected them
		for _, m := range Builtin().Recognise(Symptom, text) {
			read[id] = append(read[id], m.Term.ID)
		}
		if len(read[id]) > 0 {
			some++
		}
	}
	judged, err := os.ReadFile(filepath.Join("testdata", "records.tsv"))
	require.NoError(t, err)
	n, right, wrong, missed := 0, 0, 0, 0
	for line := range strings.Lines(string(judged)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		column := strings.Split(strings.TrimRight(line, "\n"), "\t")
		require.Len(t, column, 3)
		n++
		for _, id := range strings.Split(column[1], ",") {
			switch {
			case id == "":
			case slices.Contains(read[column[0]], id):
				right++
			default:
				missed++
			}
		}
		for _, id := range read[column[0]] {
			if slices.Contains(strings.Split(column[2], ","), id) {
				wrong++
			}
		}
	}
	t.Logf("of what was judged in records taken at random, %d right, %d wrong, %d that were right are read no more", right, wrong, missed)
	assert.Greater(t, float64(right)/float64(right+wrong), 0.85)
	assert.Less(t, missed, right/20)
	assert.GreaterOrEqual(t, n, 190)
	t.Logf("%d of %d texts get a symptom, %.1f %%; %d judged", some, texts, 100*float64(some)/float64(texts), n)
	assert.Greater(t, float64(some)/float64(texts), 0.75)
}

// TestGlossary: the standard's term for a thing is read as that thing in each language.
func TestGlossary(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("testdata", "glossary.tsv"))
	require.NoError(t, err)
	n := 0
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		row := strings.Split(strings.TrimSpace(line), "\t")
		require.Len(t, row, 5, line)
		for i, tag := range []string{"en", "de", "fr"} {
			found := false
			for _, m := range In(tag).Recognise(Place, row[2+i]) {
				found = found || m.Term.ID == row[1]
			}
			assert.True(t, found, "%s: %q is not read as %s", tag, row[2+i], row[1])
			n++
		}
	}
	assert.Equal(t, 30, n)
}
