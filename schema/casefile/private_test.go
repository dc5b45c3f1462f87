package casefile

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/extension"
	gmhtml "github.com/yuin/goldmark/renderer/html"
	"golang.org/x/net/html"

	"benchlore/schema/diagnostic"
)

func open(t testing.TB, src string) string {
	t.Helper()
	got, err := Public([]byte(src))
	require.NoError(t, err)
	return string(got)
}

func TestPublic(t *testing.T) {
	src := "---\ncase: 2026-0001\nprivate:\n  owner: SECRET one\n# SECRET three\n\ntitle: \"Not private: this\"\nopened: 2026-01-02\n---\n" +
		"## Symptom\n\nA private matter stays.\n\n## Private: owner\n\nSECRET six\n\n### Deeper\n\nSECRET seven\n\n## Outcome\n\nDone.\n\n### private note\n\nSECRET eight\n\n### Public note\n\nSeen.\n\nPrivate\n-------\n\nSECRET nine\n\n```\n## Outcome\n```\n"
	got := open(t, src)
	assert.NotContains(t, got, "SECRET")
	for _, want := range []string{"case: 2026-0001", "title: \"Not private: this\"", "opened: 2026-01-02",
		"A private matter stays.", "## Outcome\n\nDone.", "### Public note\n\nSeen."} {
		assert.Contains(t, got, want)
	}
	assert.Equal(t, strings.Count(src, "\n"), strings.Count(got, "\n"))
	assert.Len(t, got, len(src))
	f, list := Parse("a.md", []byte(got))
	require.NotNil(t, f, list)
	assert.Equal(t, "Not private: this", f.Case.Title)
	plain := []byte("---\ncase: 2026-0002\n---\nNothing of the sort.\n")
	same, err := Public(plain)
	require.NoError(t, err)
	assert.True(t, &plain[0] == &same[0], "nothing is copied where nothing is private")
	assert.Equal(t, "name: X\n                 \ncurrency: EUR\n", open(t, "name: X\nprivate: a secret\ncurrency: EUR\n"))
}

// privateForms are spellings of something private that YAML 1.2 and CommonMark
// allow, with what must stay where it can be cut; the others are refused.
var privateForms = map[string]struct{ src, stays string }{
	"front matter indented":        {"---\n case: 2026-0001\n private: SECRET\n title: T\n---\n", "title: T"},
	"flow map":                     {"---\n{case: 2026-0001, private: {owner: SECRET, tel: [SECRET]}, title: T}\n---\n", "title: T"},
	"flow map, last":               {"---\n{case: 2026-0001, title: T, private: {owner: SECRET}}\n---\n", "title: T"},
	"flow map, first":              {"---\n{private: SECRET, title: T}\n---\n", "title: T"},
	"flow map, only":               {"---\n{private: SECRET}\n---\n", ""},
	"explicit key":                 {"---\ncase: 2026-0001\n? private\n: SECRET\ntitle: T\n---\n", "title: T"},
	"escaped key":                  {"---\ncase: 2026-0001\n\"priv\\u0061te\": SECRET\ntitle: T\n---\n", "title: T"},
	"escaped whole key":            {"---\n\"\\x70\\x72\\x69\\x76\\x61\\x74\\x65\": SECRET\ntitle: T\n---\n", "title: T"},
	"single quotes":                {"---\n'Private' : SECRET\ntitle: T\n---\n", "title: T"},
	"full width":                   {"---\nｐｒｉｖａｔｅ: SECRET\ntitle: T\n---\n", "title: T"},
	"CR before it":                 {"---\ncase: 2026-0001\rprivate: SECRET\rtitle: T\n---\n", "title: T"},
	"NEL before it":                {"---\ncase: 2026-0001\u0085private: SECRET\u0085title: T\n---\n", ""},
	"block text":                   {"---\nprivate: |\n  SECRET\n\n  SECRET\n# SECRET\ntitle: T\n---\n", "title: T"},
	"folded with deeper":           {"---\nprivate: >-\n   SECRET\n  # SECRET\ntitle: T\n---\n", "title: T"},
	"multi-line plain":             {"---\nprivate: SECRET and\n  SECRET: no\ntitle: T\n---\n", ""},
	"quoted over lines":            {"---\nprivate: \"SECRET\n\n  title: SECRET\"\ntitle: T\n---\n", "title: T"},
	"list below at the same":       {"---\nprivate:\n- SECRET\n- {a: SECRET}\ntitle: T\n---\n", "title: T"},
	"nested key":                   {"---\ntitle: T\ncause: {fault: wear, private: SECRET}\n---\n", "fault: wear"},
	"nested block key":             {"---\ncause:\n  fault: wear\n  private:\n    a: SECRET\ntitle: T\n---\n", "title: T"},
	"in a list":                    {"---\nphotos:\n- private: SECRET\n  file: a.jpg\n---\n", "file: a.jpg"},
	"anchored value used again":    {"---\nprivate: &a SECRET\nboard: *a\n---\n", ""},
	"second document":              {"---\ntitle: T\n...\nprivate: SECRET\n---\n", ""},
	"tagged value":                 {"---\nprivate: !!str SECRET\ntitle: T\n---\n", "title: T"},
	"entity in a heading":          {"---\na: b\n---\n## &#80;rivate\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"named entity":                 {"---\na: b\n---\n## &#x50;ri&shy;vate\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"escape in a heading":          {"---\na: b\n---\n## \\(Private\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"backslash letter":             {"---\na: b\n---\n## \\Private\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"picture sign":                 {"---\na: b\n---\n## 🔒 Private\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"brackets":                     {"---\na: b\n---\n## (Private)\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"numbered":                     {"---\na: b\n---\n## 1. Private\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"emphasis between letters":     {"---\na: b\n---\n## Pri*va*te\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"link":                         {"---\na: b\n---\n## [Private](x)\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"zero width":                   {"---\na: b\n---\n## Pri\u200bvate\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"Cyrillic a":                   {"---\na: b\n---\n## Privаte\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"in a quote":                   {"---\na: b\n---\n> ## Private\n>\n> SECRET\n\n## Lesson\n\nstays\n", "stays"},
	"in a quote, lazily":           {"---\na: b\n---\n> ## Private\n> SECRET\nSECRET\n\nSECRET\n\n# Lesson\n\nstays\n", "stays"},
	"in a list item":               {"---\na: b\n---\n- ## Private\n\n  SECRET\n- SECRET\n\n## Lesson\n\nstays\n", "stays"},
	"deep in lists":                {"---\na: b\n---\n1. x\n   - > # private\n     > SECRET\n\n## Lesson\n\nstays\n", "stays"},
	"no space":                     {"---\na: b\n---\n##Private\n\nSECRET\n", ""},
	"CR line ends":                 {"---\na: b\n---\nx\r## Private\rSECRET\r", ""},
	"CR LF":                        {"---\r\na: b\r\nprivate: SECRET\r\ntitle: T\r\n---\r\n## Private\r\n\r\nSECRET\r\n\r\n## Lesson\r\n\r\nstays\r\n", "stays"},
	"setext":                       {"---\na: b\n---\nPrivate\n===\n\nSECRET\n\n## SECRET\n\nSECRET\n", ""},
	"column of a table":            {"---\na: b\n---\n## Findings\n\n| check | Private |\n|---|---|\n| a | SECRET |\n", ""},
	"row of a table":               {"---\na: b\n---\n## Findings\n\n| check | seen |\n|---|---|\n| Private | SECRET |\n", ""},
	"heading of HTML":              {"---\na: b\n---\n<h2>Private</h2>\n\nSECRET\n", ""},
	"comment of HTML":              {"---\na: b\n---\n## Symptom\n\nx <!-- SECRET\nSECRET --> stays\n\n<!-- SECRET -->\n\n<!--\nSECRET\n\nSECRET\n-->\n", "stays"},
	"comment that is not closed":   {"---\na: b\n---\nstays\n\n<!-- SECRET\n\n## Lesson\n\nSECRET\n", ""},
	"comment over two paragraphs":  {"---\na: b\n---\nx <!-- SECRET\n\nSECRET -->\n", ""},
	"tag in a heading":             {"---\na: b\n---\n### <b>Private</b>\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"tags between letters":         {"---\na: b\n---\n### Pri<i class=x>va</i>te\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"German heading":               {"---\na: b\n---\n### Privat\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"French heading":               {"---\na: b\n---\n### Privé\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"French heading, feminine":     {"---\na: b\n---\n## PARTIE PRIVÉE\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"strictly":                     {"---\na: b\n---\n## Strictly private\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"confidential":                 {"---\na: b\n---\n#### Streng vertraulich!\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"word at the end of a heading": {"---\na: b\n---\n### Owner (private)\n\nSECRET\n\n## Lesson\n\nstays\n", "stays"},
	"a line alone":                 {"---\na: b\n---\n## Lesson\n\nPrivate\n\nSECRET\n", ""},
	"a line with a colon":          {"---\na: b\n---\n## Lesson\n\nDone.\nPrivat: SECRET\n", ""},
	"a line with a dash":           {"---\na: b\n---\n## Lesson\n\nprivé – SECRET\n", ""},
	"a line with a bracket":        {"---\na: b\n---\n## Lesson\n\n(Private [SECRET]\n", ""},
	"a point of a list":            {"---\na: b\n---\n## Lesson\n\n- confidential: SECRET\n", ""},
	"bold alone":                   {"---\na: b\n---\n## Lesson\n\nx **Private** SECRET\n", ""},
	"bold with a colon":            {"---\na: b\n---\n## Lesson\n\n__Strictly private:__ SECRET\n", ""},
	"a cell with a colon":          {"---\na: b\n---\n## Findings\n\n| check | seen |\n|---|---|\n| a | Private: SECRET |\n", ""},
	"a German cell":                {"---\na: b\n---\n## Findings\n\n| check | seen |\n|---|---|\n| Vertraulich | SECRET |\n", ""},
	"a value":                      {"---\ncase: 2026-0001\ntitle: \"Private: SECRET\"\n---\n", ""},
	"processing instruction":       {"---\na: b\n---\nstays <?php SECRET ?>\n", "stays"},
	"fence that swallows the end":  {"---\na: b\n---\n## Private\n\n```\nSECRET\n\n## Lesson\n\nSECRET\n", ""},
	"unmasked by cutting":          {"---\na: b\n---\n<!-- x\n## Private\n-->\n\nSECRET? no, seen\n", "seen"},
	"BOM":                          {"\ufeff---\nprivate: SECRET\ntitle: T\n---\n", "title: T"},
	"tab after the key":            {"---\nprivate:\tSECRET\ntitle: T\n---\n", "title: T"},
}

// TestPrivateForms: whatever the spelling, the words are cut or the file is refused;
// what is not private stays where it can be told.
func TestPrivateForms(t *testing.T) {
	for name, form := range privateForms {
		for _, cut := range []func([]byte) ([]byte, error){Public, Strip} {
			got, err := cut([]byte(form.src))
			if err != nil {
				var doubt *NotCut
				require.ErrorAs(t, err, &doubt, name)
				assert.Nil(t, got, name)
				assert.NotContains(t, doubt.Message, "SECRET", name)
				assert.Equal(t, diagnostic.PrivateForm, doubt.Problem("x.md", []byte(form.src)).Rule)
				assert.Empty(t, form.stays, "%s: %v", name, err)
				continue
			}
			if name == "unmasked by cutting" {
				assert.Contains(t, string(got), form.stays)
				continue
			}
			assert.NotContains(t, string(got), "SECRET", "%s\n%s", name, got)
			assert.Contains(t, string(got), form.stays, "%s\n%s", name, got)
			again, err := Public(got)
			require.NoError(t, err, name)
			assert.Equal(t, string(got), string(again), name)
		}
	}
}

// TestStrip: comments are not given away, and every value stays what it was.
func TestStrip(t *testing.T) {
	src := "---\n# SECRET about the shop\ncase: 2026-0001 # SECRET number\ntitle: \"a # b\" # SECRET\nboard: 'x # y'\nby: RK#1\nsymptoms: # SECRET\n  - hum # SECRET\n  # SECRET\n  - flicker\ncause: {fault: wear, # SECRET\n  at: motor}\nconfirmed: |\n  # not a comment\n  two\n# SECRET\n---\n## Symptom\n\n# A heading <!-- SECRET -->\n\n`<!-- code -->`\n"
	got, err := Strip([]byte(src))
	require.NoError(t, err)
	assert.NotContains(t, string(got), "SECRET")
	a, _ := Parse("a.md", []byte(src))
	b, _ := Parse("a.md", got)
	require.NotNil(t, b, string(got))
	assert.Equal(t, a.Values, b.Values)
	assert.Contains(t, string(got), "`<!-- code -->`")
	assert.Contains(t, string(got), "  # not a comment\n")
	_, err = Strip([]byte("---\nby: &a RK # SECRET\n---\n"))
	assert.Error(t, err, "what cannot be told apart is not given away")
}

// disguise writes a word in a random spelling that CommonMark shows as the same
// letters.
func disguise(r *rand.Rand, word string) string {
	var b strings.Builder
	for i, c := range word {
		switch r.IntN(9) {
		case 0:
			fmt.Fprintf(&b, "&#%d;", c)
		case 1:
			fmt.Fprintf(&b, "&#x%X;", c)
		case 2:
			b.WriteRune(c - 'a' + 'A')
		case 3:
			b.WriteString(string(c) + "\u200b")
		case 4:
			b.WriteRune(0xff41 + c - 'a')
		default:
			b.WriteRune(c)
		}
		if i == 2 && r.IntN(6) == 0 {
			b.WriteString("\u00ad")
		}
	}
	return b.String()
}

// yamlKey writes a key in a random spelling that YAML reads as the same.
func yamlKey(r *rand.Rand, word string) string {
	switch r.IntN(5) {
	case 0:
		return "'" + word + "'"
	case 1:
		var b strings.Builder
		for _, c := range word {
			switch r.IntN(4) {
			case 0:
				fmt.Fprintf(&b, "\\x%02x", c)
			case 1:
				fmt.Fprintf(&b, "\\u%04x", c)
			case 2:
				fmt.Fprintf(&b, "\\U%08x", c)
			default:
				b.WriteRune(c)
			}
		}
		return `"` + b.String() + `"`
	case 2:
		return strings.ToUpper(word[:1]) + word[1:]
	}
	return word
}

const planted = "PLANTED"

// randomCase is a case with marks in private places, in random spellings.
func randomCase(r *rand.Rand) string {
	pick := func(list ...string) string { return list[r.IntN(len(list))] }
	value := pick(planted, "{a: "+planted+"}", "["+planted+", b]", "\""+planted+"\"",
		"|\n    "+planted+"\n    "+planted, "\n  a: "+planted+"\n  b: ["+planted+"]", "'"+planted+"'", ">-\n   "+planted)
	keys := []string{"case: 2026-0001", "title: Lamp dark", "device: {kind: lamp}", "opened: 2026-01-02", "symptoms: [flicker]"}
	keys = append(keys, pick(yamlKey(r, "private")+": "+value, "? "+yamlKey(r, "private")+"\n: "+planted))
	r.Shuffle(len(keys), func(i, j int) { keys[i], keys[j] = keys[j], keys[i] })
	indent := pick("", "", " ", "  ")
	front := indent + strings.ReplaceAll(strings.Join(keys, "\n"), "\n", "\n"+indent) + "\n"
	if r.IntN(4) == 0 && !strings.ContainsAny(value, "|>\n") && !strings.Contains(front, "?") {
		front = "{" + strings.Join(keys, pick(", ", ",\n ")) + "}\n"
	}
	var body strings.Builder
	body.WriteString("## Symptom\n\nDark, says the owner.\n\n")
	for range 1 + r.IntN(3) {
		prefix := pick("", "", "", "> ", "- ", "1. ")
		heading := pick("## ", "### ", "# ", "##\t") + pick("", "(", "🔒 ", "1. ", "\\# ") + disguise(r, "private") +
			pick("", ": notes", " ##")
		body.WriteString(prefix + heading + "\n\n" + strings.Repeat(" ", len(prefix)) + planted + "\n\n" +
			pick("", "<!-- "+planted+" -->\n\n", "```\n"+planted+"\n```\n\n"))
		body.WriteString(pick("# ", "## ") + pick("Lesson", "Outcome", "Notes") + "\n\nText <!-- " + planted + " --> here.\n\n")
	}
	return "---\n" + front + "---\n" + body.String()
}

// FuzzPrivate: no mark in a private place is left, whatever the spelling; and for
// any text at all nothing is written that was not there.
func FuzzPrivate(f *testing.F) {
	for _, form := range privateForms {
		f.Add([]byte(form.src), uint64(1))
	}
	for seed := range uint64(60) {
		f.Add([]byte(randomCase(rand.New(rand.NewPCG(seed, 7)))), seed)
	}
	f.Fuzz(func(t *testing.T, src []byte, seed uint64) {
		got, err := Public(src)
		if err == nil {
			if len(got) != len(src) || bytes.Count(got, []byte("\n")) != bytes.Count(src, []byte("\n")) {
				t.Fatal("lines moved")
			}
			for i := range src {
				if got[i] != src[i] && got[i] != ' ' {
					t.Fatal("something was written")
				}
			}
			if again, err := Public(got); err != nil || !bytes.Equal(again, got) {
				t.Fatalf("twice is not once: %q %q %v", got, again, err)
			}
		} else if got != nil {
			t.Fatal("bytes in doubt")
		}
		text := randomCase(rand.New(rand.NewPCG(seed, 11)))
		for name, cut := range map[string]func([]byte) ([]byte, error){"Public": Public, "Strip": Strip} {
			out, err := cut([]byte(text))
			if err == nil && bytes.Contains(out, []byte(planted)) {
				t.Fatalf("%s leaves %q\nof %q", name, out, text)
			}
		}
	})
}

// TestRandomPrivateCases does what the fuzz target does for some thousand spellings,
// and most of them can be cut.
func TestRandomPrivateCases(t *testing.T) {
	cut := 0
	const tries = 600
	for seed := range uint64(tries) {
		text := randomCase(rand.New(rand.NewPCG(seed, 99)))
		out, err := Strip([]byte(text))
		if err != nil {
			continue
		}
		cut++
		require.NotContains(t, string(out), planted, "%s", text)
		f, list := Parse("2026-0001.md", out)
		require.NotNil(t, f, "%v\n%s\n%s", list, text, out)
		assert.Equal(t, "Lamp dark", f.Case.Title)
	}
	assert.Greater(t, cut, tries*9/10)
}

// TestNotMarked: what only has the word in it stays as it is.
func TestNotMarked(t *testing.T) {
	for _, line := range []string{"A private matter stays.", "Privately owned.", "The owner's private number is kept by the shop.",
		"Privat gekauft.", "Un usage privé du four.", "Not private: the model is common.", "**A private** lesson",
		"private-label maker", "| a | use |\n|---|---|\n| x | private use |", "`Private: code`"} {
		src := "---\na: b\n---\n## Lesson\n\n" + line + "\n"
		assert.Equal(t, src, open(t, src), line)
	}
}

// TestReleased: what the schema names and the notebook names goes out, and nothing else;
// places stay.
func TestReleased(t *testing.T) {
	known := append([]string{"Background"}, CaseSections...)
	for name, c := range map[string]struct {
		body        string
		held, stays []string
	}{
		"known":                  {"## Symptom\n\nkept\n\n## Lesson\n\nkept too\n", nil, []string{"kept", "kept too"}},
		"named by the notebook":  {"## Symptom\n\nkept\n\n## background\n\nkept too\n", nil, []string{"kept", "kept too"}},
		"another":                {"## Symptom\n\nkept\n\n## Money\n\nSECRET\n\n### Lesson\n\nSECRET\n\n## Lesson\n\nkept too\n", []string{"Money"}, []string{"kept", "kept too"}},
		"before the first":       {"SECRET\n\n## Symptom\n\nkept\n", []string{""}, []string{"kept"}},
		"of level one":           {"## Symptom\n\nkept\n\n# Money\n\nSECRET\n\n## Lesson\n\nkept too\n", []string{"Money"}, []string{"kept", "kept too"}},
		"underlined":             {"## Symptom\n\nkept\n\nMoney\n---\n\nSECRET\n\nLesson\n------\n\nkept too\n", []string{"Money"}, []string{"kept", "kept too"}},
		"with marks":             {"## *Symptom*\n\nkept\n\n## <b>Mo</b>ney\n\nSECRET\n\n## Les\u200bson\n\nkept too\n", []string{"Money"}, []string{"kept", "kept too"}},
		"nearly known":           {"## Symptoms\n\nSECRET\n\n## Lesson\n\nkept\n", []string{"Symptoms"}, []string{"kept"}},
		"a fence that swallows":  {"## Symptom\n\nkept\n\n## Money\n\n```\nSECRET\n\n## Lesson\n\nSECRET\n", []string{"Money"}, []string{"kept"}},
		"a heading in a fence":   {"## Symptom\n\n```\n## Money\nkept\n```\n", nil, []string{"kept"}},
		"unused links":           {"## Lesson\n\n[kept][a] and [b]\n\n[a]: https://example.org/kept\n[b]: x.html 'kept title'\n[c]: https://example.org/SECRET\n[a]: SECRET\n[^1]: SECRET\n[d]:\n  SECRET\n  \"SECRET\n  SECRET\"\n", nil, []string{"example.org/kept", "kept title"}},
		"behind a language":      {"## Lesson\n\n```text SECRET {SECRET}\nkept\n```\n", nil, []string{"```text", "kept"}},
		"tags":                   {"## Lesson\n\nkept <span title=\"seen\">kept too</span>\n\n<div class=\"seen\">\nkept\n</div>\n\nkept last\n", nil, []string{"kept", "title=\"seen\"", "kept too", "class=\"seen\"", "kept last"}},
		"CR LF":                  {"## Symptom\r\n\r\nkept\r\n\r\n## Money\r\n\r\nSECRET\r\n", []string{"Money"}, []string{"kept"}},
		"a quoted heading stays": {"## Lesson\n\n> ## Money\n>\n> kept\n", nil, []string{"kept"}},
	} {
		src := []byte("---\ncase: 2026-0001\n---\n" + c.body)
		got, held := Released(src, known)
		var names []string
		for _, h := range held {
			names = append(names, h.Name)
			assert.NotContains(t, " \n", string(src[h.Start]), name)
		}
		assert.Equal(t, c.held, names, name)
		assert.NotContains(t, string(got), "SECRET", name)
		for _, s := range c.stays {
			assert.Contains(t, string(got), s, name)
		}
		assert.Len(t, got, len(src), name)
		assert.Equal(t, bytes.Count(src, []byte("\n")), bytes.Count(got, []byte("\n")), name)
		again, more := Released(got, known)
		assert.Equal(t, string(got), string(again), name)
		assert.Empty(t, more, name)
	}
}

// shownHeading is the text of the last heading of the first or second level before a
// word in what a browser shows, by a parser of HTML that is not ours.
func shownHeading(t testing.TB, md, word string) (heading string, shown bool) {
	var out bytes.Buffer
	require.NoError(t, goldmark.New(goldmark.WithExtensions(extension.Table, extension.Strikethrough),
		goldmark.WithRendererOptions(gmhtml.WithUnsafe())).Convert([]byte(md), &out))
	doc, err := html.Parse(&out)
	if err != nil {
		return "", false
	}
	var text func(n *html.Node) string
	text = func(n *html.Node) string {
		if n.Type == html.TextNode {
			return n.Data
		}
		for _, a := range n.Attr { // what a picture shows is said in words
			if n.Data == "img" && a.Key == "alt" {
				return a.Val
			}
		}
		var b strings.Builder
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			b.WriteString(text(c))
		}
		return b.String()
	}
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		if shown || n.Type == html.CommentNode {
			return
		}
		if n.Type == html.ElementNode && (n.Data == "h1" || n.Data == "h2") {
			heading = n.Data + " " + text(n)
		}
		if n.Type == html.TextNode && strings.Contains(n.Data, word) {
			shown = true
			return
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(doc)
	return heading, shown
}

// FuzzHeadingsAsSeen: whatever stands in a heading, what is below it goes out only where
// a browser shows the name of a section that goes out.
func FuzzHeadingsAsSeen(f *testing.F) {
	for _, h := range []string{"Lesson", "<b>Lesson</b>", "<b>Private</b>", "Les&#115;on", "*Lesson* <!-- x -->", "[Lesson](x)", "`Lesson`", "Lesson\n\n# x",
		"Le\u200bsson", "![Lesson](a.png)", "Lesson <span hidden>x</span>", "\\Lesson", "Lesson ##", "LESSON", "Ｌｅｓｓｏｎ", "<h2>Lesson</h2>", "Le&shy;sson"} {
		f.Add(h)
	}
	f.Fuzz(func(t *testing.T, h string) {
		md := "## " + h + "\n\nzqsecret\n"
		public, err := Public([]byte("---\na: b\n---\n" + md))
		if err != nil {
			return
		}
		got, _ := Released(public, []string{"Lesson"})
		if !bytes.Contains(got, []byte("zqsecret")) || strings.Contains(h, "zqsecret") || !utf8.ValidString(h) {
			return
		}
		heading, shown := shownHeading(t, md, "zqsecret")
		if !shown || strings.Contains(h, "<") && heading == "" { // tags that close the heading they stand in
			return
		}
		assert.Equal(t, "h2 lesson", foldHeading(heading), "%q\n%s", h, got)
	})
}
