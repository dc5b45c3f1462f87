package casefile

import (
	"bytes"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/cases"
	"benchlore/schema/diagnostic"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// exampleFiles returns the case files of the example notebook.
func exampleFiles(t testing.TB) map[string][]byte { return filesBelow(t, "notebook/cases") }

func exampleDevices(t testing.TB) map[string][]byte { return filesBelow(t, "notebook/devices") }

func filesBelow(t testing.TB, folder string) map[string][]byte {
	t.Helper()
	files := map[string][]byte{}
	require.NoError(t, fs.WalkDir(cases.Files, folder, func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || filepath.Ext(name) != ".md" {
			return err
		}
		src, err := cases.Files.ReadFile(name)
		files[filepath.Base(name)] = src
		return err
	}))
	require.NotEmpty(t, files)
	return files
}

const whole = `---
# a comment of its own
case: 2026-0031
title: Gate lamp flickers   # after rain
device: {kind: lamp, maker: Lumadane}
opened: 2026-03-04
closed: "2026-03-05"
symptoms: [flicker,
  no-light]
cause:
  fault: corrosion
  at: switch   # outdoors
outcome: fixed
confirmed: an hour in the rain
minutes: {diagnosis: 75, repair: 40}
---
Before the first heading.

## Symptom

Flickers.

## Findings

| seen | check | result | min | who |
|---|---|---|---|---|
| green | Look at the switch | fault | 5 | MT |

## Measurements

| point | what | state | expected | read | note |
|---|---|---|---|---|---|
| S1 | resistance | off | < 0.2 Ω | 3,8 | |
| LED+ \| LED− | voltage | on | 36 V ±5 % | 35.8 V | |

## Parts

| ref | part | value | package | net | action | fitted | note |
|---|---|---|---|---|---|---|---|
| S1 | switch | | | L | cleaned | | |

## Weather

Wet.
`

func parseClean(t testing.TB, name, src string) *File {
	t.Helper()
	f, list := Parse(name, []byte(src))
	require.NotNil(t, f, "%v", list)
	require.Empty(t, list)
	return f
}

func TestParse(t *testing.T) {
	f := parseClean(t, "2026-0031-gate-lamp.md", whole)
	assert.Empty(t, f.Check(terms.Builtin(), nil))
	c := f.Case
	assert.Equal(t, "2026-0031", c.ID)
	assert.Equal(t, Device{Kind: "lamp", Maker: "Lumadane"}, c.Device)
	assert.Equal(t, []string{"flicker", "no-light"}, c.Symptoms)
	assert.Equal(t, &Cause{Fault: "corrosion", At: "switch"}, c.Cause)
	assert.Equal(t, 115, c.Minutes.Total())
	var names []string
	for _, s := range c.Sections {
		names = append(names, s.Name)
	}
	assert.Equal(t, []string{"", "Symptom", "Findings", "Measurements", "Parts", "Weather"}, names)
	assert.Equal(t, "\nFlickers.\n\n", f.Section("Symptom"))
	require.Len(t, c.Findings, 1)
	assert.Equal(t, "Look at the switch", c.Findings[0].Check, "columns are found by name, in any order")
	assert.Equal(t, []Extra{{"who", "MT"}}, c.Findings[0].Extra)
	require.Len(t, c.Measurements, 2)
	assert.Equal(t, quantity.High, c.Measurements[0].Verdict(terms.Builtin()), "a reading without a unit takes the expectation's")
	assert.Equal(t, "LED+ | LED−", c.Measurements[1].Point)
	assert.Equal(t, quantity.In, c.Measurements[1].Verdict(terms.Builtin()))
}

// TestDiagnostics drives one broken file after another through the reader and
// compares rule, place and suggestion.
func TestDiagnostics(t *testing.T) {
	defer func() { today = time.Now }()
	today = func() time.Time { return time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC) }
	const head = "---\ncase: 2026-0001\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\n"
	for _, test := range []struct {
		name, src string
		rule      diagnostic.Rule
		place     string // line:col
		suggest   string
		says      string
	}{
		{"no front matter", "# A note\n", diagnostic.FrontMatter, "1:1", "", "missing"},
		{"empty", "", diagnostic.FrontMatter, "1:1", "", "missing"},
		{"unclosed front matter", "---\ncase: x\n", diagnostic.FrontMatter, "1:1", "", "not closed"},
		{"key twice", head + "opened: 2026-01-03\n---\n", diagnostic.KeyTwice, "6:1", "", "line 5"},
		{"unknown key", head + "symtoms: []\n---\n", diagnostic.UnknownKey, "6:1", "symptoms", "symtoms"},
		{"nested unknown key", head + "cause: {fault: wear, att: motor}\n---\n", diagnostic.UnknownKey, "6:22", "at", "att"},
		{"missing key", "---\ncase: 2026-0001\ntitle: T\nopened: 2026-01-02\n---\n", diagnostic.MissingKey, "1:1", "", "device"},
		{"wrong type", head + "minutes: {diagnosis: long}\n---\n", diagnostic.WrongType, "6:22", "", "a text where a whole number belongs"},
		{"number as id", "---\ncase: 20260001\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\n---\n",
			diagnostic.WrongType, "2:7", "", `write it in quotes: "20260001"`},
		{"bad date", "---\ncase: 2026-0001\ntitle: T\ndevice: {kind: lamp}\nopened: 2023-02-29\n---\n",
			diagnostic.WrongValue, "5:9", "", "not a valid date"},
		{"tab", head + "cause:\n\tfault: wear\n---\n", diagnostic.YAMLTab, "7:1", "", "tab"},
		{"yaml", head + "by: [RK\n---\n", diagnostic.YAMLSyntax, "6:1", "", ""},
		{"alias", head + "by: &a RK\nboard: *a\n---\n", diagnostic.YAMLAlias, "6:5", "", "write the value out"},
		{"scalar front matter", "---\njust words\n---\n", diagnostic.WrongType, "2:1", "", "mapping"},
		{"unknown symptom", head + "symptoms: [no-pwer]\n---\n", diagnostic.UnknownTerm, "6:12", "no-power", "no-pwer"},
		{"synonym", head + "symptoms: [dead]\n---\n", diagnostic.UnknownTerm, "6:12", "no-power", "dead"},
		{"unknown fault", head + "cause: {fault: joint-craked, at: relay}\n---\n", diagnostic.UnknownTerm, "6:16", "joint-cracked", ""},
		{"unknown kind", "---\ncase: 2026-0001\ntitle: T\ndevice: {kind: lmap}\nopened: 2026-01-02\n---\n",
			diagnostic.UnknownTerm, "4:16", "lamp", ""},
		{"outcome", head + "closed: 2026-01-03\nsymptoms: [hum]\noutcome: fixd\n---\n", diagnostic.WrongValue, "8:10", "fixed", "fixd"},
		{"closed without outcome", head + "closed: 2026-01-03\nsymptoms: [hum]\n---\n", diagnostic.MissingKey, "1:1", "", "outcome"},
		{"closed without symptom", head + "closed: 2026-01-03\noutcome: unknown\n---\n", diagnostic.NoSymptom, "6:9", "", ""},
		{"barrier", head + "outcome: fixed\nbarrier: lack-of-equipment\n---\n", diagnostic.WrongValue, "6:10", "", "end-of-life"},
		{"date order", head + "closed: 2026-01-01\nsymptoms: [hum]\noutcome: unknown\n---\n", diagnostic.DateOrder, "6:9", "", "before"},
		{"present and absent", head + "symptoms: [hum]\nabsent: [hum]\n---\n", diagnostic.WrongValue, "7:10", "", "both"},
		{"photo path", head + "photos: [{file: ../x.jpg, caption: c}]\n---\n", diagnostic.WrongValue, "6:17", "", "own folder"},
		{"section name", head + "---\n## Findngs\n", diagnostic.SectionName, "7:4", "Findings", ""},
		{"section twice", head + "---\n## Symptom\n\n## symptom\n", diagnostic.SectionTwice, "9:4", "", ""},
		{"unclosed fence", head + "---\n## Symptom\n```\nboot\n## Findings\n", diagnostic.UnclosedFence, "8:1", "", "not closed"},
		{"row too short", head + "---\n## Findings\n| check | seen | result | min |\n|---|---|---|---|\n| a | b\n",
			diagnostic.TableRow, "10:1", "", "2 cells and the header 4"},
		{"row too long", head + "---\n## Findings\n| check | result |\n|---|---|\n| a | clear | c |\n",
			diagnostic.TableRow, "10:1", "", "3 cells"},
		{"broken table", head + "---\n## Findings\n| check | result |\n|---|\n| a | clear |\n", diagnostic.TableRow, "8:1", "", "not one"},
		{"column", head + "---\n## Findings\n| chek | result |\n|---|---|\n", diagnostic.TableColumn, "8:3", "check", "chek"},
		{"result", head + "---\n## Findings\n| check | result |\n|---|---|\n| a | ok |\n", diagnostic.WrongValue, "10:7", "clear", "ok"},
		{"action", head + "---\n## Parts\n| part | action |\n|---|---|\n| fuse | jumpered |\n", diagnostic.WrongValue,
			"10:10", "bridged", ""},
		{"reading", head + "---\n## Measurements\n| point | expected | read |\n|---|---|---|\n| a | 3 V ±5 % | 4k7k |\n", diagnostic.BadQuantity, "10:18", "", "4k7k"},
		{"units", head + "---\n## Measurements\n| point | expected | read |\n|---|---|---|\n| a | 3 V ±5 % | 2 A |\n",
			diagnostic.BadQuantity, "10:18", "", "current"},
		{"utf-8", head + "---\n\xff\n", diagnostic.InvalidUTF8, "7:1", "", "0xFF"},
		{"zero byte", head + "---\n\x00\n", diagnostic.InvalidUTF8, "7:1", "", "zero byte"},
		{"byte-order mark", "\ufeff" + head + "---\n", diagnostic.ByteOrderMark, "1:1", "", ""},
		{"line ends", strings.ReplaceAll(head, "\n", "\r\n") + "---\r\n", diagnostic.LineEnds, "1:4", "", ""},
		{"merge marker", head + "---\n## Symptom\n<<<<<<< ours\nDark.\n=======\nDim.\n>>>>>>> theirs\n",
			diagnostic.MergeMarker, "8:1", "", "two versions"},
		{"merge marker in front", head + "<<<<<<< ours\nby: RK\n=======\nby: QW\n>>>>>>> theirs\n---\n",
			diagnostic.MergeMarker, "6:1", "", "two versions"},
		{"years ahead", strings.Replace(head, "2026-01-02", "2062-01-02", 1) + "---\n", diagnostic.DateOrder, "5:9", "2026-01-02", "ahead of today"},
		{"long ago", strings.Replace(head, "2026-01-02", "0026-01-02", 1) + "---\n", diagnostic.DateOrder, "5:9", "", "long ago"},
		{"no symptom section", head + "---\n## Lesson\nx\n", diagnostic.NoSymptom, "3:8", "", "no section"},
		{"misspelt heading with a table",
			head + "---\n## Symptom\nx\n## Tests made\n| check | result |\n|---|---|\n| a | clear |\n",
			diagnostic.SectionName, "9:4", "## Findings", "not read here"},
		{"heading of another level", head + "---\n## Symptom\nx\n### Lesson\ny\n", diagnostic.SectionName, "9:5", "## Lesson", "two signs"},
		{"shape of a mapping", head + "cause: joint-cracked\n---\n", diagnostic.WrongType, "6:8", "", "write cause: {fault: …, at: …}"},
		{"shape of a list", head + "before: storm\n---\n", diagnostic.WrongType, "6:9", "", "write before: […, …]"},
		{"title with a colon", "---\ncase: 2026-0001\ntitle: Lamp: dark\n---\n", diagnostic.YAMLSyntax, "3:8", "",
			`in quotes: title: "Lamp: dark"`},
		{"clear at the place of the cause",
			head + "closed: 2026-01-03\nsymptoms: [hum]\noutcome: fixed\nconfirmed: c\ncause: {fault: joint-cracked, at: supply-rail}\n---\n## Symptom\nx\n## Findings\n| check | result |\n|---|---|\n| Rails powered | clear |\n", diagnostic.TakenAfter, "17:3", "", "after in a column when"},
		{"the same reading good again", head +
			"closed: 2026-01-03\nsymptoms: [hum]\noutcome: fixed\nconfirmed: c\ncause: {fault: joint-cracked, at: supply-rail}\n---\n## Symptom\nx\n## Measurements\n| point | expected | read |\n|---|---|---|\n| J1 | 5 V ±5 % | 0 V |\n| J1 | 5 V ±5 % | 5.0 V |\n", diagnostic.TakenAfter, "18:3", "", "wrong in a row above"},
		{"when", head + "---\n## Symptom\nx\n## Findings\n| check | result | when |\n|---|---|---|\n| a | clear | later |\n", diagnostic.WrongValue, "12:15", "", "before, after"},
		{"e-mail", head + "---\nWrite to a.b@example.com\n", diagnostic.PersonalData, "7:10", "", "e-mail"},
		{"telephone of another language", head + "---\nHandy der Kundin: 0171/3920012\n", diagnostic.PersonalData, "7:19", "", "telephone number; take it out or move it under private:"},
	} {
		t.Run(test.name, func(t *testing.T) {
			f, list := Parse("cases/2026-0001-t.md", []byte(test.src))
			if f != nil {
				list = append(list, f.Check(terms.Builtin(), nil)...)
			}
			for _, d := range list {
				if d.Rule == test.rule {
					assert.Equal(t, test.place, fmt.Sprintf("%d:%d", d.Line, d.Column), "%s", d)
					assert.Equal(t, test.suggest, d.Suggestion)
					assert.Contains(t, d.Message, test.says)
					return
				}
			}
			t.Fatalf("no %s among %v", test.rule, list)
		})
	}
}

func TestFileName(t *testing.T) {
	f := parseClean(t, "2026-0032-gate-lamp.md", whole)
	list := f.Check(terms.Builtin(), nil)
	require.Len(t, list, 1)
	assert.Equal(t, diagnostic.FileName, list[0].Rule)
	f = parseClean(t, "2026-00311.md", whole)
	assert.Len(t, f.Check(terms.Builtin(), nil), 1, "an id is not a prefix of a longer number")
}

func TestTooLarge(t *testing.T) {
	f, list := Parse("x.md", bytes.Repeat([]byte("a"), MaxSize+1))
	assert.Nil(t, f)
	require.Len(t, list, 1)
	assert.Equal(t, diagnostic.FileTooLarge, list[0].Rule)
}

// TestRoundTrip reads every example case and writes the same bytes.
func TestRoundTrip(t *testing.T) {
	for name, src := range exampleFiles(t) {
		f := parseClean(t, name, string(src))
		assert.Equal(t, src, f.Bytes(), name)
	}
}

// changedLines returns the lines of b that are not the same lines of a, when
// the two have the same number of lines.
func changedLines(a, b string) []string {
	la, lb := strings.Split(a, "\n"), strings.Split(b, "\n")
	var out []string
	for i := range lb {
		if i >= len(la) || la[i] != lb[i] {
			out = append(out, lb[i])
		}
	}
	return out
}

func TestSet(t *testing.T) {
	for _, test := range []struct {
		key   string
		value any
		line  string
	}{
		{"title", "Gate lamp dark", "title: Gate lamp dark   # after rain"},
		{"title", "yes: it #flickers", "title: 'yes: it #flickers'   # after rain"},
		{"opened", "2026-03-03", "opened: 2026-03-03"},
		{"closed", "2026-03-06", "closed: 2026-03-06"},
		{"outcome", "unknown", "outcome: unknown"},
		{"minutes", map[string]int{"diagnosis": 80, "repair": 40}, "minutes: {diagnosis: 80, repair: 40}"},
		{"device", "lumadane-arc", "device: lumadane-arc"},
	} {
		t.Run(fmt.Sprint(test.key, test.value), func(t *testing.T) {
			f := parseClean(t, "x.md", whole)
			next, err := f.Set(test.key, test.value)
			require.NoError(t, err)
			assert.Equal(t, []string{test.line}, changedLines(whole, string(next.Bytes())))
			assert.Equal(t, whole, string(f.Bytes()), "the file that was set is itself unchanged")
		})
	}
	f := parseClean(t, "x.md", whole)
	next, err := f.Set("by", "RK")
	require.NoError(t, err)
	assert.Equal(t, strings.Replace(whole, "symptoms: [", "by: RK\nsymptoms: [", 1), string(next.Bytes()),
		"a new key stands in its usual place")
	next, err = f.Set("symptoms", []string{"hum"})
	require.NoError(t, err)
	assert.Equal(t, strings.Replace(whole, "[flicker,\n  no-light]", "[hum]", 1), string(next.Bytes()))
	next, err = f.Set("cause", map[string]string{"at": "relay", "fault": "wear"})
	require.NoError(t, err)
	assert.Equal(t, &Cause{Fault: "wear", At: "relay"}, next.Case.Cause)
	_, err = f.Set("colour", "red")
	assert.ErrorContains(t, err, "not a key")
}

// TestSetProperty sets random fields of every example case, in all three line
// endings, and sees that no other line changes and that the value reads back.
func TestSetProperty(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	words := []string{"plain", "with: colon", "# hash", "'quoted'", `back\slash`, "ünïcode Ω", "- dash", "yes",
		"2026-01-01", "1e3", "null", "[a, b]", "{x: y}", "trailing  ", "*star", "&amp", "%p", "@at", "`tick`", "a\tb", ""}
	for name, src := range exampleFiles(t) {
		for _, newline := range []string{"\n", "\r\n"} {
			text := strings.ReplaceAll(string(src), "\n", newline)
			for range 6 {
				f, _ := Parse(name, []byte(text))
				require.NotNil(t, f)
				key := []string{"title", "confirmed", "board", "by"}[r.IntN(4)]
				value := words[r.IntN(len(words))] + words[r.IntN(len(words))]
				next, err := f.Set(key, value)
				require.NoError(t, err, "%s %s %q", name, key, value)
				got, _ := next.Values[key].(string)
				assert.Equal(t, value, got, "%s %s", name, key)
				_, had := f.Values[key]
				lost, gained := difference(text, string(next.Bytes()))
				if had {
					assert.LessOrEqual(t, len(lost), 1, "%s %s %q: %q", name, key, value, lost)
				} else {
					assert.Empty(t, lost)
				}
				assert.LessOrEqual(t, len(gained), 1)
			}
		}
	}
}

// difference returns the lines between the common start and end of two texts.
func difference(a, b string) (lost, gained []string) {
	la, lb := strings.SplitAfter(a, "\n"), strings.SplitAfter(b, "\n")
	for len(la) > 0 && len(lb) > 0 && la[0] == lb[0] {
		la, lb = la[1:], lb[1:]
	}
	for len(la) > 0 && len(lb) > 0 && la[len(la)-1] == lb[len(lb)-1] {
		la, lb = la[:len(la)-1], lb[:len(lb)-1]
	}
	return la, lb
}

func TestCompose(t *testing.T) {
	c := &Case{ID: "2026-0007", Title: "No: it's #dead", Device: Device{Kind: "lamp", Model: "yes"}, Opened: "2026-01-02",
		Symptoms: []string{"no-power"}, By: "RK", Minutes: &Minutes{Diagnosis: new(3)}}
	data, err := Compose(c, []SectionText{{"Symptom", EscapeText("# not a heading\n| no | table |\n1. no list <b>")},
		{"Parts", FormatTable(PartColumns, [][]string{{"C1", "cap | odd", "100 nF"}})}})
	require.NoError(t, err)
	f, list := Parse("2026-0007.md", data)
	require.Empty(t, list)
	assert.Equal(t, c.Title, f.Case.Title)
	assert.Equal(t, c.Device, f.Case.Device)
	assert.Equal(t, "# not a heading\n| no | table |\n1. no list <b>", UnescapeText(strings.TrimSpace(f.Section("Symptom"))))
	require.Len(t, f.Case.Parts, 1)
	assert.Equal(t, "cap | odd", f.Case.Parts[0].Part)
	_, err = Compose(&Case{ID: "bad id", Title: "x", Device: Device{Kind: "lamp"}, Opened: "2026-01-02"}, nil)
	require.NoError(t, err, "form is the schema's affair, not the writer's")
}

func TestEscapeTextProperty(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	alphabet := []rune("ab 1.)#*_-+=|<>&~`[]()!\\:$\n'\"äΩ")
	for range 5000 {
		n := r.IntN(30)
		var b strings.Builder
		for range n {
			b.WriteRune(alphabet[r.IntN(len(alphabet))])
		}
		s := b.String()
		require.Equal(t, s, UnescapeText(EscapeText(s)))
	}
}

func TestDevice(t *testing.T) {
	f, list := ParseDevice("devices/lumadane-arc.md",
		[]byte("---\ndevice: lumadane-arc\nkind: lmp\nmaker: Lumadane\nmodel: Arc\nhazards: [mians]\n---\n## What is usual\n\nText.\n"))
	require.Empty(t, list)
	list = f.Check(terms.Builtin(), nil)
	require.Len(t, list, 2)
	assert.Equal(t, "lamp", list[0].Suggestion)
	assert.Equal(t, "mains", list[1].Suggestion)
	assert.Equal(t, "Lumadane Arc", f.Device.Name())
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(whole))
	for _, src := range exampleFiles(f) {
		f.Add(src)
	}
	seedHostile(f)
	v := terms.Builtin()
	f.Fuzz(func(t *testing.T, src []byte) {
		file, list := Parse("fuzz.md", src)
		for _, d := range list {
			if d.Line < 0 || d.Column < 0 || diagnostic.Rule(d.Rule).Help() == "" {
				t.Fatalf("bad diagnostic %+v", d)
			}
		}
		if file == nil {
			if diagnostic.Count(list, diagnostic.Error) == 0 {
				t.Fatal("nothing was read and no error was named")
			}
			return
		}
		if !bytes.Equal(file.Bytes(), src) {
			t.Fatal("reading and writing back changed bytes")
		}
		file.Check(v, nil)
		for _, s := range file.Case.Sections {
			if s.Start > s.Stop || s.Stop > len(src) {
				t.Fatalf("section %q out of range", s.Name)
			}
		}
	})
}

func FuzzSet(f *testing.F) {
	f.Add([]byte(whole), "title", "a # b")
	for _, src := range exampleFiles(f) {
		f.Add(src, "confirmed", "- ok: yes")
	}
	seedSet(f)
	f.Fuzz(func(t *testing.T, src []byte, key, value string) {
		file, list := Parse("fuzz.md", src)
		if file == nil || diagnostic.Count(list, diagnostic.Error) > 0 {
			return
		}
		next, err := file.Set(key, value)
		if err != nil {
			return
		}
		if got, ok := next.Values[key].(string); !ok || got != value {
			t.Fatalf("%s: set %q, read %q", key, value, next.Values[key])
		}
		for k, v := range file.Values {
			if k != key && fmt.Sprint(next.Values[k]) != fmt.Sprint(v) {
				t.Fatalf("setting %s changed %s from %v to %v", key, k, v, next.Values[k])
			}
		}
		if string(next.Text.Bytes[next.body:]) != string(file.Text.Bytes[file.body:]) {
			t.Fatal("setting a field changed the body")
		}
	})
}

func FuzzTable(f *testing.F) {
	f.Add("| check | seen | result |\n|---|---|---|\n| a | b | clear |\n")
	f.Add("| check | result |\n|:-:|--:|\n| `a|b` | fault\n\\| | |\n")
	f.Add("|check|\n|-|\n||\n|\n")
	f.Fuzz(func(t *testing.T, table string) {
		src := []byte("---\ncase: a\ntitle: t\ndevice: d\nopened: 2026-01-02\n---\n## Findings\n\n" + table +
			"\n\n## Measurements\n\n" + table + "\n")
		file, _ := Parse("a.md", src)
		if file == nil {
			return
		}
		for _, r := range file.Case.Findings {
			for _, c := range r.at.list {
				if c.Start > c.Stop || c.Stop > len(src) {
					t.Fatalf("cell %+v out of range", c)
				}
			}
		}
	})
}

// seedHostile adds inputs that once were, or are likely to be, trouble.
func seedHostile(f *testing.F) {
	for _, s := range []string{"", "---", "---\n---\n", "---\n- a\n---\n", "---\n? a\n: b\n---\n",
		"---\na: !!binary x\n---\n", "---\na: &x [*x]\n---\n",
		"\xef\xbb\xbf---\r\ncase: a\r\n---\r\n## X\r\n```", "---\ncase: a\n---\nX\n---\n## Y\n===\n", "---\n\"a\\\nb\": c\n---\n"} {
		f.Add([]byte(s))
	}
}

func seedSet(f *testing.F) {
	for _, front := range []string{"title: |\n  T\n", "title: >-\n  T\n  U\n", "title: \"T\\\n  U\"\n",
		"title:\n  T\n", "\"title\": T\n", "title: T # c # d\n"} {
		f.Add([]byte("---\ncase: a\n"+front+"device: d\nopened: 2026-01-02\n---\nBody\n"), "title", "new")
	}
}

func BenchmarkParse(b *testing.B) {
	src := exampleFiles(b)["2025-0010-laptop-dead-short-on-3-3-v.md"]
	require.NotEmpty(b, src)
	b.Run("case", func(b *testing.B) {
		b.SetBytes(int64(len(src)))
		b.ReportAllocs()
		for b.Loop() {
			Parse("2025-0010.md", src)
		}
	})
	b.Run("goldmark alone", func(b *testing.B) { // the baseline: converting the same text
		b.SetBytes(int64(len(src)))
		b.ReportAllocs()
		var out bytes.Buffer
		for b.Loop() {
			out.Reset()
			_ = markdownParser.Convert(src, &out)
		}
	})
}

func FuzzDevice(f *testing.F) {
	for _, src := range exampleDevices(f) {
		f.Add(src)
	}
	seedHostile(f)
	v := terms.Builtin()
	f.Fuzz(func(t *testing.T, src []byte) {
		file, list := ParseDevice("fuzz.md", src)
		if file == nil {
			if diagnostic.Count(list, diagnostic.Error) == 0 {
				t.Fatal("nothing was read and no error was named")
			}
			return
		}
		for _, d := range append(list, file.Check(v, nil)...) {
			if d.Line < 0 || d.Column < 0 || d.Rule.Help() == "" {
				t.Fatalf("bad diagnostic %+v", d)
			}
		}
		for i := range file.Device.Fasteners {
			s := &file.Device.Fasteners[i]
			if s.Count < 1 || s.Length < 0 || s.Length > maxLength || len(s.At) > 0 && len(s.At) != s.Count {
				t.Fatalf("%+v", s)
			}
		}
		for _, c := range file.Device.Clashes() {
			if c.By < longerBy-1e-6 || c.Longer == c.Shorter {
				t.Fatalf("%+v", c)
			}
		}
	})
}

// TestClashes: same thread and head, longer by 0.3 mm or more.
func TestClashes(t *testing.T) {
	src := "---\ndevice: d\nkind: lamp\nmaker: V\nmodel: D\n---\n## Fasteners\n\n| mark | head | thread | length | count |\n|---|---|---|---|---|\n" +
		"| A | PH1 | M2 | 3 | 2 |\n| B | cross | m 2 | 3.3 | 1 |\n| C | PH1 | M2 | 3,29 | 1 |\n| D | T5 | M2 | 8 | 1 |\n| E | PH1 | M2.5 | 8 | 1 |\n| F | PH1 | M2 | | 1 |\n"
	file, list := ParseDevice("devices/d.md", []byte(src))
	require.NotNil(t, file, list)
	assert.Empty(t, list)
	var got []string
	for _, c := range file.Device.Clashes() {
		got = append(got, c.Longer.Mark+" in "+c.Shorter.Mark)
	}
	assert.Equal(t, []string{"B in A"}, got)
	assert.Equal(t, 7, file.Device.FastenerCount())
}

// TestHeads: bits by their numbers, and heads by their words.
func TestHeads(t *testing.T) {
	for text, want := range map[string][2]string{
		"PH0": {"cross", "PH0"}, "ph 1": {"cross", "PH1"}, "PZ2": {"cross-z", "PZ2"}, "T5": {"hexalobe", "T5"},
		"TR10": {"hexalobe-pin", "TR10"}, "P2": {"five-lobe", "P2"},
		"H2,5": {"hex-socket", "H2.5"}, "slot": {"slot", ""}, "tri-lobe": {"tri-lobe", ""},
		"Three wing": {"tri-lobe", ""}, "hexalobe T6": {"hexalobe", "T6"}, "clip": {"clip", ""}, "odd": {"", ""}, "": {"", ""},
	} {
		drive, tool := headOf(text)
		assert.Equal(t, want, [2]string{drive, tool}, text)
	}
}

// TestOneSlipOneError: what a person got wrong once is said once.
func TestOneSlipOneError(t *testing.T) {
	const head = "---\ncase: 2026-0001\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\n"
	const tail = "---\n## Symptom\n\nDark.\n"
	for _, src := range []string{
		head + "cause: joint-cracked\n" + tail, head + "cause: [joint-cracked]\n" + tail,
		head + "minutes: 45\n" + tail, head + "cost: 0.80\n" + tail, head + "before: storm\n" + tail,
		head + "photos: ring.jpg\n" + tail, head + "tags: {a: b}\n" + tail, head + "fasteners: 3\n" + tail,
		"---\ncase: 2026-0001\ntitle: Lamp: dark\ndevice: {kind: lamp}\nopened: 2026-01-02\n" + tail,
		strings.Replace(head, "{kind: lamp}", "[lamp]", 1) + tail,
		strings.Replace(head, "2026-01-02", "02.01.2026", 1) + tail, strings.Replace(head, "2026-01-02", "2062-01-02", 1) + tail,
		head + tail + "## Findngs\n| check | result |\n|---|---|\n| a | clear |\n",
		head + tail + "### Findings\n| check | result |\n|---|---|\n| a | clear |\n",
		head + tail + "## Measurements\n| point | expected | read |\n|---|---|---|\n| a | 12 wobbles ±5 % | 12 V |\n",
		head + "---\n## Lesson\n\nx\n",
	} {
		f, list := Parse("cases/2026-0001-t.md", []byte(src))
		if f != nil {
			list = append(list, f.Check(terms.Builtin(), nil)...)
		}
		assert.Len(t, list, 1, "%s\n%v", src, list)
	}
}

// TestWhen: rows say it in their column or in their own words.
func TestWhen(t *testing.T) {
	f, _ := Parse("cases/2026-0001-t.md",
		[]byte("---\ncase: 2026-0001\n---\n## Findings\n| check | result | when |\n|---|---|---|\n| a | clear | after |\n| b | clear | before |\n| c | clear | |\n| Hum after the repair | clear | |\n\n## Measurements\n| point | state | read |\n|---|---|---|\n| p | after repair | 5 V |\n"))
	require.NotNil(t, f)
	var when []When
	for _, r := range f.Case.Findings {
		when = append(when, r.When)
	}
	assert.Equal(t, []When{After, Before, "", After}, when)
	assert.Equal(t, After, f.Case.Measurements[0].When)
}

// TestTableRange: the bytes of a table are its lines and nothing else, whatever
// stands before and behind it.
func TestTableRange(t *testing.T) {
	const table = "| check | result |\n|---|---|\n| a | clear |\n| | |\n| b \\| c | fault |\n"
	for _, around := range [][2]string{{"", ""}, {"Power | ground was the question.\n\n", "\nAnd | after.\n"},
		{"Prose right | before\n", ""}, {"```\n| x | y |\n|---|---|\n```\n\n", "\n| second | table |\n|---|---|\n| 1 | 2 |\n"}} {
		for _, nl := range []string{"\n", "\r\n"} {
			src := strings.ReplaceAll("---\ncase: 2026-0001\n---\n## Findings\n\n"+around[0]+table+around[1]+"\n## Lesson\n\nx\n", "\n", nl)
			f, _ := Parse("cases/2026-0001-t.md", []byte(src))
			require.NotNil(t, f)
			s := f.Case.Sections[0]
			assert.Equal(t, strings.ReplaceAll(table, "\n", nl), src[s.TableStart:s.TableStop], "%q", around)
			assert.Len(t, f.Case.Findings, 2)
			next, err := f.SetTable("Findings", f.Table("Findings"))
			require.NoError(t, err)
			for _, prose := range around {
				assert.Contains(t, string(next.Bytes()), strings.ReplaceAll(prose, "\n", nl))
			}
		}
	}
}
