package erase

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"io/fs"
	"math/rand/v2"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/unicode/norm"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/build/output/site"
	"benchlore/build/reason/search"
	"benchlore/build/testkit/workshop"
	"benchlore/build/write/editor"
	"benchlore/build/write/interview"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
)

const (
	id       = "2026-0001"
	name     = "Zerline Quastmühl"
	casePath = "cases/2026/2026-0001-lamp.md"
)

var today = time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC)

func options(n *notebook.Notebook) Options {
	return Options{Word: "erased", Day: today, SiteFile: site.ManifestFile, Sites: site.Known(n.Dir), SiteList: site.KnownList(n.Dir)}
}

// spellings are ways to write the name in Markdown, and in plain text of YAML.
var spellings = []string{name, strings.ToUpper(name), norm.NFD.String(name), "Zerline\u00a0Quastmühl", "Zer\u00adline  Quastmühl",
	"Ｚｅｒｌｉｎｅ Quastmühl", "zerline-quastmühl", "zerline.quastmühl@example.org"}

var inMarkdown = append([]string{"**Zerline** Quastmühl", "Zerline *Quastmühl*", "Zer**line** Quastmühl", "Zerline Quastm&uuml;hl", "`Zerline` Quastmühl",
	"[Zerline](https://example.org) Quastmühl", "Zerline\nQuastmühl", "<https://example.org/Zerline%20Quastm%C3%BChl>", "Zerline \\\nQuastmühl"}, spellings...)

// hasName is an own reading of text, by other means than the package's: everything that is
// not a letter or digit goes, and what stands for characters is resolved over and over.
func hasName(text string) bool {
	numbered := regexp.MustCompile(`\\x[0-9a-fA-F]{2}|\\u[0-9a-fA-F]{4}`)
	encoded := regexp.MustCompile(`(?:%[0-9a-fA-F]{2})+`)
	for range 3 {
		text = html.UnescapeString(text)
		text = numbered.ReplaceAllStringFunc(text, func(s string) string {
			var r rune
			_, _ = fmt.Sscanf(s[2:], "%x", &r)
			return string(r)
		})
		text = encoded.ReplaceAllStringFunc(text, func(s string) string {
			var b []byte
			for part := range strings.SplitSeq(s[1:], "%") {
				var c byte
				_, _ = fmt.Sscanf(part, "%x", &c)
				b = append(b, c)
			}
			return string(b)
		})
	}
	text = regexp.MustCompile(`\]\([^)]*\)|\\n`).ReplaceAllString(text, "")
	text = norm.NFC.String(strings.ToLower(norm.NFKD.String(text)))
	text = regexp.MustCompile(`[^\p{L}\p{N}]+`).ReplaceAllString(text, "")
	return strings.Contains(text, "zerlinequastmühl") || strings.Contains(text, "zerlinequastmuehl")
}

// whoHas are the files of a folder whose bytes or names have the name, whatever they are.
func whoHas(t *testing.T, dir string) (out []string) {
	require.NoError(t, filepath.WalkDir(dir, func(p string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if hasName(e.Name()) {
			out = append(out, "name of "+p)
		}
		if !e.IsDir() {
			text, err := os.ReadFile(p)
			require.NoError(t, err)
			if hasName(string(text)) {
				out = append(out, p)
			}
		}
		return nil
	}))
	return out
}

// slots are the places of a case that hold the name or not, each in one of its spellings.
func caseText(r *rand.Rand, share float64) string {
	any := func(list []string) string {
		if r.Float64() > share {
			return "somebody"
		}
		return list[r.IntN(len(list))]
	}
	slug := func() string {
		return casefile.Slug(fmt.Sprint(any([]string{name, "from " + name}), " ", r.IntN(1000000)))
	}
	y, m := func() string { return any(spellings) }, func() string { return any(inMarkdown) }
	cell := func() string { return strings.NewReplacer("\\\n", "", "\n", " ").Replace(m()) }
	return "---\ncase: 2026-0001\ntitle: Lamp of " + y() + " flickers\ndevice: {kind: lamp, maker: Lumadane, model: Arc}\nopened: 2026-01-02\n" +
		"by: MT\nsymptoms: [flicker]\nconfirmed: \"Ran for a day, told " + y() + "\"\n" +
		"photos:\n  - {file: label.png, caption: 'Label, ''with'' " + y() + "', marks: [{x: 0.5, y: 0.5, label: " + y() + "}]}\n  - {file: zerline-quastmuehl.png, caption: Another}\n" +
		"tags: [" + slug() + ", warm, " + slug() + "]\nprivate:\n  intake: {words: \"" + strings.ReplaceAll(y(), "ü", `\u00fc`) + " said so\"} # " + y() + "\n  rest: |\n    Lives there:\n    " + y() + "\n---\n" +
		"## Symptom\n\nThe lamp of " + m() + " flickers.\n\n> " + strings.ReplaceAll(m(), "\n", "\n> ") + "\n\n- " + cell() + "\n\n" +
		"## Findings\n\n| check | seen | result | min |\n|---|---|---|---|\n| Look at it with " + cell() + " | " + cell() + " | clear | 3 |\n\n" +
		"## Measurements\n\n| point | what | state | expected | read | note |\n|---|---|---|---|---|---|\n| LED+ | voltage | on | 36 V ±5 % | 35.8 V | " + cell() + " |\n\n" +
		"## Lesson\n\nAsk " + m() + ".\n\n    code of " + cell() + "\n\n<!-- " + cell() + " -->\n\n## Private notes\n\n" + m() + "\n"
}

// problemsOf are what check says, by place and rule.
func problemsOf(n *notebook.Notebook) (out []string) {
	for _, d := range n.Problems {
		if d.Rule == diagnostic.PersonalData {
			continue // which is what goes
		}
		out = append(out, fmt.Sprint(filepath.Base(filepath.Dir(d.File)), d.Line, d.Severity, d.Rule))
	}
	return out
}

// walked is a notebook on which some worked for a while, in ways that leave texts behind.
func walked(t *testing.T, r *rand.Rand, steps int) *notebook.Notebook {
	n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n", casePath: caseText(r, 0.5),
		"cases/2026/2026-0001/label.png":              "\x89PNG\r\n\x1a\n\x00",
		"cases/2026/2026-0001/zerline-quastmuehl.png": "\x89PNG\r\n\x1a\n\x00", "cases/2026/2026-0001/erased.png": "another\x00",
		"cases/2026/2026-0001/boot.log":               "ok\nlogged in as zerline_quastmühl\n",
		"cases/2026/2026-00010-other.md":              "---\ncase: 2026-00010\ntitle: Another\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\n---\n## Symptom\n\nDark.\n",
		"kept/originals/2026-0001/label.png":          "\x89PNG\r\n\x1a\n\x00",
		".benchlore/history/2026-0001/latest.md":      caseText(r, 1),
		"cases/2026/.benchlore-tmp-x":                 "half of " + name,
		"cases/2026/2026-0001-lamp.md~":               "the backup of " + name,
		"kept/history/2026-00010/latest.md":           "---\ncase: 2026-00010\n---\n",
		"cases/2026/2026-0001/zerline-quastmuehl.txt": "a letter",
	})
	file := filepath.Join(n.Dir, filepath.FromSlash(casePath))
	stores := []*editor.Store{editor.NewStore(n.Dir, 0), editor.NewStore(n.Dir, 0)}
	var stale editor.Version
	for range steps {
		s := stores[r.IntN(2)]
		have, err := s.Read(casePath)
		require.NoError(t, err)
		next := []byte(caseText(r, r.Float64()))
		switch r.IntN(6) {
		case 0: // an editor
			require.NoError(t, os.WriteFile(file, next, 0o644))
		case 1: // a page that was overtaken; what it has goes into the journal
			if stale != "" && stale != editor.VersionOf(have) {
				require.Error(t, s.Save(id, casePath, stale, next))
				require.NoError(t, disk.Folder(n.Dir).Write("kept/journal/2026-0001.md", next[:len(next)-r.IntN(200)]))
			}
		case 2:
			if list := s.History(id); len(list) > 0 {
				require.NoError(t, s.Restore(id, casePath, list[r.IntN(len(list))].Version))
			}
		default:
			stale = editor.VersionOf(have)
			require.NoError(t, s.Save(id, casePath, stale, next))
		}
	}
	for i, file := range []string{"close-2026-0001.json", "new.json", "new-20260101T000000.json"} {
		d := interview.Draft{Begun: today, Answers: []interview.Answer{{Key: "title", Text: "Lamp of " + spellings[i]},
			{Key: "section:Symptom", Text: "of " + inMarkdown[r.IntN(len(inMarkdown))] + " <b>&</b>"}}}
		text, err := json.MarshalIndent(d, "", "  ")
		require.NoError(t, err)
		require.NoError(t, disk.Folder(n.Dir).Write("kept/drafts/"+file, text))
	}
	n, err := notebook.Load(n.Dir)
	require.NoError(t, err)
	ix, err := search.Open(n)
	require.NoError(t, err)
	ix.Close()
	return n
}

// TestNothingIsLeft: after any walk, no file of the notebook has the name in any spelling;
// every other line of the case is as it was, check says what it said, and every version
// that is kept can still be had.
func TestNothingIsLeft(t *testing.T) {
	t.Setenv("HOME", t.TempDir())
	for seed := range uint64(8) {
		r := rand.New(rand.NewPCG(seed, 7))
		n := walked(t, r, 12+r.IntN(8))
		require.NotEmpty(t, whoHas(t, n.Dir))
		before, err := os.ReadFile(filepath.Join(n.Dir, casePath))
		require.NoError(t, err)
		said, versions := problemsOf(n), len(editor.NewStore(n.Dir, 0).History(id))
		p, err := New(n, id, Wanted{Texts: []string{name}}, options(n))
		require.NoError(t, err)
		require.NotEmpty(t, whoHas(t, n.Dir), "looking changes nothing")
		done, err := p.Do(t.Context())
		require.NoError(t, err)
		assert.Empty(t, done.Left)
		for _, p := range whoHas(t, n.Dir) {
			text, _ := os.ReadFile(p)
			require.Fail(t, "the name is left", "seed %d: %s: %s", seed, p, text)
		}

		now, err := notebook.Load(n.Dir)
		require.NoError(t, err)
		assert.Equal(t, said, problemsOf(now))
		c, ok := now.Case(id)
		require.True(t, ok)
		after, err := os.ReadFile(filepath.Join(n.Dir, filepath.FromSlash(c.Path)))
		require.NoError(t, err)
		was, is := strings.Split(string(before), "\n"), strings.Split(string(after), "\n")
		require.Len(t, is, len(was))
		for i := range was {
			// A name may go on in the next line, which then has a part of it alone.
			if part := strings.ToLower(was[i]); was[i] != is[i] && !hasName(was[i]) {
				assert.Regexp(t, "zerline|quastm", part, "line %d", i+1)
			}
		}
		for file, want := range map[string]string{"erased.png": "another\x00", "erased-2.png": "\x89PNG\r\n\x1a\n\x00"} {
			have, err := os.ReadFile(filepath.Join(n.Dir, "cases", "2026", id, file))
			require.NoError(t, err)
			assert.Equal(t, want, string(have), "no other picture's name is taken")
		}
		store := editor.NewStore(n.Dir, 0)
		list := store.History(id)
		assert.LessOrEqual(t, len(list), versions)
		assert.NotEmpty(t, list)
		for _, e := range list {
			_, ok := store.Version(id, e.Version)
			assert.True(t, ok, "a version whose name is not that of its bytes")
		}
		derived, err := filepath.Glob(filepath.Join(n.Dir, ".benchlore", "*"))
		require.NoError(t, err)
		for _, p := range derived {
			if info, err := os.Stat(p); assert.NoError(t, err) && !info.IsDir() {
				assert.Zero(t, info.Size(), "%s was made from what is gone", p)
			}
		}
		p, err = New(now, id, Wanted{Texts: []string{name}}, options(now))
		require.NoError(t, err)
		assert.True(t, p.Nothing(), "%+v", p.Changes)
	}
}

// tree is all files of a folder; what is derived does not count.
func tree(t *testing.T, dir string) map[string]string {
	out := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(p string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := os.ReadFile(p)
		in, _ := filepath.Rel(dir, p)
		if in = filepath.ToSlash(in); !strings.HasPrefix(in, ".benchlore/") || strings.Contains(in, "/history/") {
			out[in] = string(text)
		}
		return err
	}))
	return out
}

// TestBrokenOff: broken off before any of its writes, the notebook is whole, and running it
// again ends where one that was not broken off ends.
func TestBrokenOff(t *testing.T) {
	t.Setenv("HOME", t.TempDir())
	n := walked(t, rand.New(rand.NewPCG(3, 3)), 4)
	for what, want := range map[string]Wanted{"texts": {Texts: []string{name}}, "private": {Private: true},
		"pictures": {Pictures: []string{"label.png"}}, "all": {All: true}} {
		whole := ""
		var end map[string]string
		for k := 0; ; k++ {
			dir := filepath.Join(t.TempDir(), "book")
			require.NoError(t, os.CopyFS(dir, os.DirFS(n.Dir)))
			book, err := notebook.Load(dir)
			require.NoError(t, err)
			p, err := New(book, id, want, options(book))
			require.NoError(t, err)
			left, off := k, errors.New("broken off")
			p.e.before = func() error {
				if k > 0 {
					if left--; left == 0 {
						return off
					}
				}
				return nil
			}
			_, err = p.Do(t.Context())
			if k > 0 && err == nil {
				whole = fmt.Sprint(k, " writes")
				break
			}
			if k > 0 {
				require.ErrorIs(t, err, off)
			}
			now, err := notebook.Load(dir)
			require.NoError(t, err)
			if !want.All {
				// A picture has its new name a moment after the case says it.
				said := slices.DeleteFunc(problemsOf(now), func(p string) bool {
					return k > 0 && what == "texts" && strings.HasSuffix(p, string(diagnostic.MissingPhoto))
				})
				assert.Len(t, said, len(problemsOf(n)), "%s %d", what, k)
			}
			if k > 0 {
				p, err := New(now, id, want, options(now))
				require.NoError(t, err, "%s %d", what, k)
				_, err = p.Do(t.Context())
				require.NoError(t, err)
			}
			if end == nil {
				end = tree(t, dir)
			} else {
				require.Equal(t, end, tree(t, dir), "%s broken off before write %d", what, k)
			}
		}
		assert.NotEmpty(t, whole)
		t.Log(what, whole)
	}
}

// TestStaysACase: where a text is what the notebook is read by it stays and is named;
// where a value must stand the cell is emptied; a private section stays private.
func TestStaysACase(t *testing.T) {
	text := "---\ncase: 2026-0001\ntitle: Storm lamp 36\ndevice: {kind: lamp, maker: Storm, model: Arc}\nopened: 2026-01-02\nsymptoms: [flicker]\nbefore: [storm]\ncost: {charged: 36}\n---\n" +
		"## Symptom\n\nFlickers at 36 degrees in a storm.\n\n## Measurements\n\n| point | what | state | expected | read | note |\n|---|---|---|---|---|---|\n" +
		"| LED+ | voltage | on | 30-40 V | 36 V | storm |\n\n## Findings\n\n| check | seen | result | min |\n|---|---|---|---|\n| storm | 36 | clear | 36 |\n\n## Lesson\n\nA lesson.\n\n## Private storm\n\nStorm lives at 36 Elm Road.\n"
	n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n", casePath: text})
	said := problemsOf(n)
	p, err := New(n, id, Wanted{Texts: []string{"storm", "36", "private", "symptom", "lesson", "title"}}, options(n))
	require.NoError(t, err)
	done, err := p.Do(t.Context())
	require.NoError(t, err)
	after, err := os.ReadFile(filepath.Join(n.Dir, casePath))
	require.NoError(t, err)
	const m = "‹erased 2026-12-01›"
	assert.Equal(t, "---\ncase: 2026-0001\ntitle: "+m+" lamp "+m+"\ndevice: {kind: lamp, maker: "+m+", model: Arc}\nopened: 2026-01-02\nsymptoms: [flicker]\nbefore: [storm]\ncost: {charged: 36}\n---\n"+
		"## Symptom\n\nFlickers at "+m+" degrees in a "+m+".\n\n## Measurements\n\n| point | what | state | expected | read | note |\n|---|---|---|---|---|---|\n"+
		"| LED+ | voltage | on | 30-40 V | | "+m+" |\n\n## Findings\n\n| check | seen | result | min |\n|---|---|---|---|\n| "+m+" | "+m+" | clear | 36 |\n\n## Lesson\n\nA "+m+".\n\n## Private "+m+"\n\n"+m+" lives at "+m+" Elm Road.\n", string(after))
	var left []string
	for _, l := range done.Left {
		left = append(left, fmt.Sprint(l.Line, " ", l.Text))
	}
	assert.ElementsMatch(t, []string{"3 title: " + m + " lamp " + m, "7 before: [storm]", "8 cost: {charged: 36}", "10 ## Symptom", "24 | " + m + " | " + m + " | clear | 36 |",
		"26 ## Lesson", "30 ## Private " + m}, left)
	now, err := notebook.Load(n.Dir)
	require.NoError(t, err)
	assert.Equal(t, said, problemsOf(now))
	public, err := casefile.Public(after)
	require.NoError(t, err)
	assert.NotContains(t, string(public), "Elm Road")
}

// TestPrivate: what is private goes, comments too, in all versions; what cannot be told
// apart in a version goes with it, in the case file it stops everything.
func TestPrivate(t *testing.T) {
	const front = "---\ncase: 2026-0001\ntitle: Lamp\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\n"
	text := front + "private: {intake: {words: Secret}}\n---\n## Symptom\n\nFlickers. <!-- Secret -->\n\n## Private\n\nSecret\n"
	n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n", casePath: text, "kept/history/2026-0001/latest.md": text,
		"kept/journal/2026-0001.md": front + "private: [Secret\n---\n"})
	p, err := New(n, id, Wanted{Private: true}, options(n))
	require.NoError(t, err)
	_, err = p.Do(t.Context())
	require.NoError(t, err)
	assert.Equal(t, map[string]string{"notebook.yaml": "name: T\n", casePath: front + "---\n## Symptom\n\nFlickers.\n\n\n",
		"kept/history/2026-0001/latest.md": front + "---\n## Symptom\n\nFlickers.\n\n\n"}, tree(t, n.Dir))

	unclear := front + "---\n## Symptom\n\n##Private\nSecret\n"
	n = workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n", "cases/2026-0001.md": unclear, "kept/history/2026-0001/latest.md": text})
	_, err = New(n, id, Wanted{Private: true}, options(n))
	assert.ErrorContains(t, err, "cases/2026-0001.md:10:1: this word keeps nothing private here; put what is private under a heading")
}

// TestPictures: a picture goes with its original, its place in the front matter and what
// names it, in all versions; another picture that was compared with it stays.
func TestPictures(t *testing.T) {
	text := "---\ncase: 2026-0001\ntitle: Lamp\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\nphotos:\n  - {file: label.png, caption: Label}\n  - {file: new-label.png, caption: After, compare: label.png}\n---\n" +
		"## Symptom\n\nSee ![the label](2026-0001/label.png) and new-label.png.\n"
	want := "---\ncase: 2026-0001\ntitle: Lamp\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\nphotos:\n  - {file: new-label.png, caption: After}\n---\n" +
		"## Symptom\n\nSee ![the label](2026-0001/‹erased 2026-12-01›) and new-label.png.\n"
	files := map[string]string{"notebook.yaml": "name: T\n", casePath: text, "kept/history/2026-0001/latest.md": text, "kept/originals/2026-0001/label.png": "x\x00",
		"cases/2026/2026-0001/label.png": "x\x00", "cases/2026/2026-0001/new-label.png": "y\x00"}
	n := workshop.Book(t, files)
	p, err := New(n, id, Wanted{Pictures: []string{"label.png"}}, options(n))
	require.NoError(t, err)
	assert.Equal(t, files, tree(t, n.Dir))
	_, err = p.Do(t.Context())
	require.NoError(t, err)
	assert.Equal(t, map[string]string{"notebook.yaml": "name: T\n", casePath: want, "kept/history/2026-0001/latest.md": want,
		"cases/2026/2026-0001/new-label.png": "y\x00"}, tree(t, n.Dir))
	now, err := notebook.Load(n.Dir)
	require.NoError(t, err)
	assert.Zero(t, now.Errors(), "%v", now.Problems)
	p, err = New(now, id, Wanted{Pictures: []string{"lable.png"}}, options(now))
	require.NoError(t, err)
	assert.True(t, p.Nothing())
	assert.Equal(t, []string{"lable.png"}, p.Missing)
}

// TestAll: the whole case goes, its number is not given again, and a case that came back
// from it stays one only as long as nobody says otherwise.
func TestAll(t *testing.T) {
	const front = "device: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\n"
	text := "---\ncase: 2026-0009\ntitle: Lamp\n" + front + "---\n## Symptom\n\nFlickers.\n"
	files := map[string]string{"notebook.yaml": "name: T\n", "cases/2026/2026-0009.md": text, "kept/history/2026-0009/latest.md": text,
		"kept/originals/2026-0009/a.png": "x", "cases/2026/2026-0009/a.png": "x", "kept/journal/2026-0009.md": text, "kept/drafts/close-2026-0009.json": "{}",
		"kept/drafts/new.json":      "{}",
		"cases/2026/2026-0009-b.md": strings.Replace(text, "2026-0009", "2026-0009-b", 1), "kept/history/2026-0009-b/latest.md": "x", "cases/2026/2026-0009-b/a.png": "x",
		"cases/2026/2026-0002.md": "---\ncase: 2026-0002\ntitle: Lamp again\n" + front + "returns: 2026-0009\n---\n## Symptom\n\nAs in 2026-0009.\n"}
	n := workshop.Book(t, files)
	_, err := New(n, "2026-0009", Wanted{All: true}, options(n))
	require.ErrorIs(t, err, ErrReturned)
	assert.ErrorContains(t, err, "cases/2026/2026-0002.md:7:")
	p, err := New(n, "2026-0009", Wanted{All: true, Everywhere: true}, options(n))
	require.NoError(t, err)
	done, err := p.Do(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []Place{{"cases/2026/2026-0002.md", 10, "As in 2026-0009."}}, done.Elsewhere)
	assert.Equal(t, map[string]string{"notebook.yaml": "name: T\n", "kept/drafts/new.json": "{}", "cases/2026/2026-0009.erased": "erased 2026-12-01\n",
		"cases/2026/2026-0009-b.md": files["cases/2026/2026-0009-b.md"], "kept/history/2026-0009-b/latest.md": "x", "cases/2026/2026-0009-b/a.png": "x",
		"cases/2026/2026-0002.md": "---\ncase: 2026-0002\ntitle: Lamp again\n" + front + "---\n## Symptom\n\nAs in 2026-0009.\n"}, tree(t, n.Dir))
	n, err = notebook.Load(n.Dir)
	require.NoError(t, err)
	assert.Zero(t, n.Errors(), "%v", n.Problems)
	require.NoError(t, os.Remove(filepath.Join(n.Dir, "cases", "2026", "2026-0009-b.md")))
	require.NoError(t, os.RemoveAll(filepath.Join(n.Dir, "cases", "2026", "2026-0009-b")))
	n, err = notebook.Load(n.Dir)
	require.NoError(t, err)
	at, problems, err := n.Write(notebook.Draft{Case: casefile.Case{Title: "New", Device: casefile.Device{Kind: "lamp"}, Opened: "2026-02-01", Symptoms: []string{"flicker"}}})
	require.NoError(t, err, "%v", problems)
	assert.Contains(t, at, "2026-0010")
	p, err = New(n, "2026-0009", Wanted{All: true}, options(n))
	require.NoError(t, err, "it went, which is no mistake to ask again")
	assert.True(t, p.Nothing())
	_, err = New(n, "2026-0077", Wanted{All: true}, options(n))
	assert.ErrorIs(t, err, ErrNoCase)
}

// TestElsewhere: other files are named and stay, unless they too are wanted; ids, keys and
// words of the vocabulary stay there as well.
func TestElsewhere(t *testing.T) {
	files := map[string]string{"notebook.yaml": "name: T # asked Quastmühl\n", casePath: "---\ncase: 2026-0001\ntitle: Lamp\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\n---\n## Symptom\n\nOf Quastmühl.\n",
		"cases/2026/2026-0002.md": "---\ncase: 2026-0002\ntitle: Radio\ndevice: {kind: radio}\nopened: 2026-01-02\nsymptoms: [hum]\nprivate: Quastmühl\n---\n## Symptom\n\nHums.\n",
		"terms/own.yaml":          "places:\n  - {id: quastm-hl, name: Quastmühl, meaning: A lever of Quastmühl.}\n  - {id: quastm, name: Other, meaning: x}\n",
		"received/a.json":         `{"files": {"a": "QUASTM\u00dcHL"}, "quastmühl": 1}`}
	n := workshop.Book(t, files)
	p, err := New(n, id, Wanted{Texts: []string{"Quastmühl"}}, options(n))
	require.NoError(t, err)
	var named []string
	for _, e := range p.Elsewhere {
		named = append(named, fmt.Sprintf("%s:%d", e.Path, e.Line))
	}
	assert.Equal(t, []string{"cases/2026/2026-0002.md:7", "notebook.yaml:1", "received/a.json:1", "terms/own.yaml:2"}, named)
	require.Len(t, p.Changes, 1)
	p, err = New(n, id, Wanted{Texts: []string{"Quastmühl"}, Everywhere: true}, options(n))
	require.NoError(t, err)
	done, err := p.Do(t.Context())
	require.NoError(t, err)
	got := tree(t, n.Dir)
	const m = "‹erased 2026-12-01›"
	assert.Equal(t, "name: T # asked "+m+"\n", got["notebook.yaml"])
	assert.Equal(t, strings.Replace(files["cases/2026/2026-0002.md"], "Quastmühl", m, 1), got["cases/2026/2026-0002.md"])
	assert.Equal(t, "places:\n  - {id: quastm-hl, name: "+m+", meaning: A lever of "+m+".}\n  - {id: quastm, name: Other, meaning: x}\n", got["terms/own.yaml"])
	assert.Equal(t, `{"files": {"a": "`+m+`"}, "quastmühl": 1}`, got["received/a.json"])
	assert.Equal(t, []Place{{"received/a.json", 1, got["received/a.json"]}}, done.Left)
}

// TestUnread: what cannot be searched is named, and version control is.
func TestUnread(t *testing.T) {
	n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n", casePath: "---\ncase: 2026-0001\ntitle: Lamp\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\n---\n## Symptom\n\nDark.\n",
		"cases/2026/2026-0001/a.jpg": "\xff\xd8\x00", "cases/2026/2026-0001/b.ogg": "Ogg\x00", "packs/notes.zip": "PK\x03\x04\x00", "old.txt": "M\xfcller", ".git/HEAD": name,
		"site/" + site.ManifestFile: "{}", "site/cases/2026-0001.html": name})
	p, err := New(n, id, Wanted{Texts: []string{name}}, options(n))
	require.NoError(t, err)
	assert.Equal(t, []Unread{{"cases/2026/2026-0001/a.jpg", Picture, true}, {"cases/2026/2026-0001/b.ogg", Sound, true},
		{"old.txt", Other, false}, {"packs/notes.zip", Archive, false}}, p.Unread)
	assert.Equal(t, []string{".git"}, p.Control)
	assert.Equal(t, []string{filepath.Join(n.Dir, "site")}, p.Sites)
	assert.Empty(t, p.Elsewhere)
	assert.True(t, p.Nothing())
}

// TestWrittenMeanwhile: what somebody writes at the very moment of the change is not lost,
// and loses the text as well.
func TestWrittenMeanwhile(t *testing.T) {
	n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n", casePath: caseText(rand.New(rand.NewPCG(1, 1)), 1)})
	file := filepath.Join(n.Dir, casePath)
	p, err := New(n, id, Wanted{Texts: []string{name}}, options(n))
	require.NoError(t, err)
	times := 0
	p.e.before = func() error {
		now, err := os.ReadFile(file)
		if errors.Is(err, fs.ErrNotExist) {
			return nil // it has another name by now
		}
		require.NoError(t, err)
		if times++; times < 4 {
			now = append(now, fmt.Sprintf("\nAnother line %d, of %s.\n", times, name)...)
			require.NoError(t, os.WriteFile(file, now, 0o644))
		}
		return nil
	}
	_, err = p.Do(t.Context())
	require.NoError(t, err)
	assert.Empty(t, whoHas(t, n.Dir))
	all := ""
	for _, text := range tree(t, n.Dir) {
		all += text
	}
	for i := range 3 {
		assert.Contains(t, all, fmt.Sprintf("Another line %d, of ‹erased 2026-12-01›.", i+1))
	}
	assert.GreaterOrEqual(t, times, 4)
}

// TestAtWork: while a writing server runs, whose memory has earlier versions, nothing is
// erased; afterwards a page that was left open conflicts and brings nothing back.
func TestAtWork(t *testing.T) {
	text := caseText(rand.New(rand.NewPCG(1, 1)), 1)
	n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n", casePath: text})
	s, err := editor.New(n.Dir, editor.Options{})
	require.NoError(t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error)
	go func() { ended <- s.Serve(ctx, l) }()
	require.Eventually(t, func() bool {
		_, err := os.Stat(filepath.Join(n.Dir, ".benchlore", "attended.lock"))
		return err == nil
	}, 10*time.Second, 5*time.Millisecond)
	p, err := New(n, id, Wanted{Texts: []string{name}}, options(n))
	require.NoError(t, err)
	_, err = p.Do(t.Context())
	require.ErrorIs(t, err, ErrAtWork)
	have, err := os.ReadFile(filepath.Join(n.Dir, casePath))
	require.NoError(t, err)
	require.Equal(t, text, string(have))
	stop()
	require.NoError(t, <-ended)
	store := editor.NewStore(n.Dir, 0)
	_, err = p.Do(t.Context())
	require.NoError(t, err)
	later := strings.Replace(text, "Ask ", "Always ask ", 1)
	assert.Error(t, store.Save(id, casePath, editor.VersionOf([]byte(text)), []byte(later)), "a page that has the case as it was")
	assert.Empty(t, whoHas(t, n.Dir))
}

// TestPublishedAgain: publishing takes what was erased out of pages, data and search index.
func TestPublishedAgain(t *testing.T) {
	t.Setenv("HOME", t.TempDir())
	const front = "device: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\n---\n## Symptom\n\n"
	dir, out := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\nlanguage: en\n",
		"cases/2026-0018.md": "---\ncase: 2026-0018\ntitle: Lamp of Quastzerl flickers\n" + front + "The lamp of Quastzerl flickers.\n",
		"cases/2026-0019.md": "---\ncase: 2026-0019\ntitle: Lamp flickers\n" + front + "It flickers.\n"}).Dir, filepath.Join(t.TempDir(), "site")
	publish := func() (has []string) {
		n, err := notebook.Load(dir)
		require.NoError(t, err)
		require.Zero(t, diagnostic.Count(n.Problems, diagnostic.Error))
		_, err = site.Publish(t.Context(), n, out, site.Options{})
		require.NoError(t, err)
		require.NoError(t, filepath.WalkDir(out, func(p string, e fs.DirEntry, err error) error {
			if err == nil && !e.IsDir() {
				text, err := os.ReadFile(p)
				require.NoError(t, err)
				if bytes.Contains(bytes.ToLower(text), []byte("quastzerl")) {
					has = append(has, p)
				}
			}
			return err
		}))
		return has
	}
	require.Greater(t, len(publish()), 1, "the page and the index")
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	assert.Equal(t, []string{out}, site.Known(dir))
	p, err := New(n, "2026-0018", Wanted{Texts: []string{"Quastzerl"}}, options(n))
	require.NoError(t, err)
	assert.Equal(t, []string{out}, p.Sites)
	_, err = p.Do(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []string{out}, site.Known(dir), "it is still known where to publish again")
	assert.Empty(t, publish())
}
