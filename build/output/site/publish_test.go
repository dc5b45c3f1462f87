package site

import (
	"context"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"html"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/build/testkit/long"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// files reads a site: name -> bytes.
func files(t testing.TB, dir string) map[string]string {
	t.Helper()
	m := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(p string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		data, err := os.ReadFile(p)
		rel, _ := filepath.Rel(dir, p)
		m[filepath.ToSlash(rel)] = string(data)
		return err
	}))
	return m
}

var reference = regexp.MustCompile(`(?:href|src|action)="([^"]*)"`)

// TestLinks: every link of the site leads to a file of the site, and none to
// anywhere else.
func TestLinks(t *testing.T) {
	out := published(t)
	site := files(t, out)
	seen := 0
	for name, text := range site {
		if !strings.HasSuffix(name, ".html") {
			continue
		}
		assert.Contains(t, text, "Content-Security-Policy", name)
		assert.NotContains(t, text, "style=", name)
		assert.NotRegexp(t, `<script>|<script [^s]|\son[a-z]+="`, text, name)
		for _, m := range reference.FindAllStringSubmatch(text, -1) {
			target, fragment, _ := strings.Cut(m[1], "#")
			assert.NotContains(t, target, "://", name)
			assert.False(t, strings.HasPrefix(target, "/"), "%s: %s", name, m[1])
			seen++
			if ref, ok := strings.CutPrefix(fragment, "ref="); ok && target == "" { // the page's script shows it
				assert.Contains(t, text, ">"+ref+"</text>", name)
				continue
			}
			if net, ok := strings.CutPrefix(fragment, "net="); ok && target == "" {
				net, err := url.QueryUnescape(net)
				require.NoError(t, err)
				assert.Contains(t, site[strings.TrimSuffix(name, ".html")+".js"], `\"n\":\"`+net+`\"`, name)
				continue
			}
			if target == "" {
				assert.Contains(t, text, `id="`+fragment+`"`, name)
				continue
			}
			path := filepath.ToSlash(filepath.Join(filepath.Dir(name), target))
			other, ok := site[path]
			assert.True(t, ok, "%s links to %s", name, m[1])
			if id, ok := strings.CutPrefix(fragment, "photo="); ok { // so it does
				assert.Contains(t, other, `data-photo="`+id+`"`, "%s links to %s", name, m[1])
				continue
			}
			if ref, ok := strings.CutPrefix(fragment, "ref="); ok { // the drawing's script shows it
				assert.Contains(t, other, ">"+ref+"</text>", "%s links to %s", name, m[1])
				continue
			}
			if strings.HasSuffix(path, "practise.html") && fragment != "" { // the page's script fetches it
				assert.Contains(t, site, "practice/"+fragment+".js", "%s links to %s", name, m[1])
				continue
			}
			if strings.HasSuffix(path, "triage.html") && fragment != "" { // what is filled in there
				known, err := url.ParseQuery(html.UnescapeString(fragment))
				require.NoError(t, err)
				for _, id := range strings.FieldsFunc(known.Get("has"), func(r rune) bool { return r == ',' }) {
					_, ok := terms.Builtin().Lookup(terms.Symptom, id)
					assert.True(t, ok, "%s links to %s", name, m[1])
				}
				if device := known.Get("device"); device != "" {
					assert.Contains(t, site, "devices/"+device+".html", "%s links to %s", name, m[1])
				}
				continue
			}
			if fragment != "" {
				assert.Contains(t, other, `id="`+fragment+`"`, "%s links to %s", name, m[1])
			}
		}
	}
	assert.Greater(t, seen, 500)
}

// TestWarmIsCold: publish, edit, publish, undo, publish gives the bytes of the
// first run, and each run writes only what changed.
func TestWarmIsCold(t *testing.T) {
	n := example(t)
	out := filepath.Join(t.TempDir(), "site")
	first := publish(t, n, out)
	assert.Equal(t, first.Files, first.Written)
	cold := files(t, out)
	again := publish(t, load(t, n.Dir), out)
	assert.Zero(t, again.Written)
	assert.Equal(t, cold, files(t, out))

	c, _ := n.Case("2025-0016")
	edited, err := c.Set("title", "Radio scratches when the knob is turned")
	require.NoError(t, err)
	require.NoError(t, disk.WriteFile(filepath.Join(n.Dir, c.Path), edited.Bytes()))
	changed := publish(t, load(t, n.Dir), out)
	assert.NotZero(t, changed.Written)
	assert.Less(t, changed.Written, first.Files/4)
	assert.NotEqual(t, cold, files(t, out))

	require.NoError(t, disk.WriteFile(filepath.Join(n.Dir, c.Path), c.Bytes()))
	publish(t, load(t, n.Dir), out)
	assert.Equal(t, cold, files(t, out))

	other := filepath.Join(t.TempDir(), "other")
	publish(t, load(t, n.Dir), other)
	assert.Equal(t, cold, files(t, other), "another folder, the same bytes")
}

// TestWarmIsColdAfterAnything makes one change after another, of every sort that
// reaches beyond its own page, and compares each warm site with one made anew.
func TestWarmIsColdAfterAnything(t *testing.T) {
	n := example(t)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	set := func(id string, path ...string) func() {
		return func() {
			c, ok := load(t, n.Dir).Case(id)
			require.True(t, ok)
			edited, err := c.Set(path[0], path[1])
			require.NoError(t, err)
			require.NoError(t, disk.WriteFile(filepath.Join(n.Dir, c.Path), edited.Bytes()))
		}
	}
	replace := func(name, old, with string) func() {
		return func() {
			path := filepath.Join(n.Dir, filepath.FromSlash(name))
			data, err := os.ReadFile(path)
			require.NoError(t, err)
			require.Contains(t, string(data), old)
			require.NoError(t, os.WriteFile(path, []byte(strings.Replace(string(data), old, with, 1)), 0o644))
		}
	}
	of := func(id string) string {
		c, _ := n.Case(id)
		return c.Path
	}
	steps := []struct {
		name string
		make func()
	}{
		{"a title", set("2025-0002", "title", "Amplifier buzzes softly")},
		{"a symptom", replace(of("2025-0002"), "symptoms: [hum", "symptoms: [no-power, hum")},
		{"an outcome", replace(of("2025-0003"), "outcome: fixed", "outcome: repairable")},
		{"a reading", replace(of("2026-0005"), "| on |", "| off |")},
		{"a device's name", replace("devices/tarnwick-a40.md", "model: A40", "model: A41")},
		{"the workshop's name", replace("notebook.yaml", "name: ", "name: New ")},
		{"a word of the shop's own", func() {
			write(t, n.Dir, "terms/more.yaml", "symptoms:\n  - {id: smells-of-tea, name: Smells of tea, meaning: It smells of tea.}\n")
		}},
		{"a new case", func() {
			write(t, n.Dir, "cases/2026/2026-0900-new.md",
				"---\ncase: 2026-0900\ntitle: Amplifier hums again\ndevice: tarnwick-a40\nopened: 2026-11-01\nsymptoms: [hum]\n---\n## Symptom\n\nHums.\n")
		}},
		{"a comeback", set("2026-0900", "returns", "2025-0002")},
		{"a case gone", func() { require.NoError(t, os.Remove(filepath.Join(n.Dir, of("2025-0016")))) }},
		{"a damaged cache", func() {
			names, err := filepath.Glob(filepath.Join(n.Dir, ".benchlore", "*.gob"))
			require.NoError(t, err)
			require.NotEmpty(t, names)
			for _, name := range names {
				require.NoError(t, os.WriteFile(name, []byte("damaged"), 0o644))
			}
		}},
		{"a page altered by somebody", func() { write(t, out, "index.html", "altered") }},
		{"nothing", func() {}},
	}
	for i, step := range steps {
		step.make()
		now := load(t, n.Dir)
		r := publish(t, now, out)
		if i%long.Or(1, 4) != 0 {
			continue
		}
		fresh := filepath.Join(t.TempDir(), "book")
		require.NoError(t, os.CopyFS(fresh, os.DirFS(n.Dir)))
		require.NoError(t, os.RemoveAll(filepath.Join(fresh, ".benchlore")))
		cold := filepath.Join(t.TempDir(), "site")
		publish(t, load(t, fresh), cold)
		want, got := files(t, cold), files(t, out)
		for name, data := range want {
			assert.True(t, data == got[name], "after %s: %s differs", step.name, name)
		}
		assert.Len(t, got, len(want), step.name)
		if i == len(steps)-1 {
			assert.Zero(t, r.Written)
		}
	}
}

// TestRemovedCase: its pages go, a file that somebody else put there stays.
func TestRemovedCase(t *testing.T) {
	n := example(t)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	write(t, out, "note-of-mine.txt", "keep me")
	c, _ := n.Case("2025-0016")
	require.NoError(t, os.Remove(filepath.Join(n.Dir, c.Path)))
	r := publish(t, load(t, n.Dir), out)
	assert.NotZero(t, r.Removed)
	site := files(t, out)
	assert.NotContains(t, site, "cases/2025-0016.html")
	assert.NotContains(t, site, "data/2025-0016.json")
	assert.Equal(t, "keep me", site["note-of-mine.txt"])
	for name := range site {
		assert.NotContains(t, name, ".staging-")
	}
}

func TestRefusesForeignFolders(t *testing.T) {
	n := example(t)
	foreign := t.TempDir()
	write(t, foreign, "thesis.txt", "years of work")
	_, err := Publish(context.Background(), n, foreign, Options{})
	assert.ErrorIs(t, err, ErrNotASite)
	assert.Equal(t, map[string]string{"thesis.txt": "years of work"}, files(t, foreign))
	for _, inside := range []string{"", "cases", "devices/x"} {
		_, err = Publish(context.Background(), n, filepath.Join(n.Dir, inside), Options{})
		assert.ErrorContains(t, err, "belongs to the notebook")
	}
}

// TestInterrupted: a run that is stopped leaves the old site as it was.
func TestInterrupted(t *testing.T) {
	n := example(t)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	before := files(t, out)
	c, _ := n.Case("2025-0016")
	edited, err := c.Set("title", "Another title")
	require.NoError(t, err)
	require.NoError(t, disk.WriteFile(filepath.Join(n.Dir, c.Path), edited.Bytes()))
	ctx, cancel := context.WithCancel(context.Background())
	_, err = Publish(ctx, load(t, n.Dir), out, Options{Progress: func(done, total int) {
		if done > total/2 {
			cancel()
		}
	}})
	assert.ErrorIs(t, err, context.Canceled)
	assert.Equal(t, before, files(t, out))
	publish(t, load(t, n.Dir), out)
	assert.NotEqual(t, before, files(t, out))
}

// TestEmptyNotebook publishes pages that say so.
func TestEmptyNotebook(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "book")
	_, err := notebook.Begin(dir, "New shop", false)
	require.NoError(t, err)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, load(t, dir), out)
	assert.Contains(t, files(t, out)["index.html"], "No finished case yet")
}

// TestFeed checks what RFC 4287 demands: id, title and updated on feed and
// entries, an author, RFC 3339 dates, ids that last.
func TestFeed(t *testing.T) {
	n := example(t)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	var feed struct {
		XMLName xml.Name `xml:"http://www.w3.org/2005/Atom feed"`
		ID      string   `xml:"id"`
		Title   string   `xml:"title"`
		Updated string   `xml:"updated"`
		Author  string   `xml:"author>name"`
		Entries []struct {
			ID      string `xml:"id"`
			Title   string `xml:"title"`
			Updated string `xml:"updated"`
		} `xml:"entry"`
	}
	require.NoError(t, xml.Unmarshal([]byte(files(t, out)["feed.xml"]), &feed))
	date := regexp.MustCompile(`^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$`)
	assert.Equal(t, "Tidewater Bench", feed.Title)
	assert.NotEmpty(t, feed.Author)
	assert.Regexp(t, date, feed.Updated)
	require.NotEmpty(t, feed.Entries)
	ids := map[string]bool{feed.ID: true}
	for _, e := range feed.Entries {
		assert.Regexp(t, `^urn:uuid:[0-9a-f-]{36}$`, e.ID)
		assert.False(t, ids[e.ID])
		ids[e.ID] = true
		assert.Regexp(t, date, e.Updated)
		assert.NotEmpty(t, e.Title)
	}
}

func TestCaseData(t *testing.T) {
	n := example(t)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	site := files(t, out)
	for _, c := range n.Cases {
		var d struct {
			Case         map[string]any
			Measurements []struct {
				Verdict string
				SI      *float64
				Unit    string
			}
		}
		require.NoError(t, json.Unmarshal([]byte(site["data/"+c.ID()+".json"]), &d), c.ID())
		assert.Equal(t, c.ID(), d.Case["case"])
		assert.Len(t, d.Measurements, len(c.File.Case.Measurements))
		if c.ID() == "2025-0010" {
			assert.Equal(t, "short", d.Measurements[0].Verdict)
			assert.InDelta(t, 0.4, *d.Measurements[0].SI, 1e-12)
			assert.Equal(t, "ohm", d.Measurements[0].Unit)
		}
	}
}

// TestHostileNotebook plants markup in every field of case, device and
// notebook; it comes out as text.
func TestHostileNotebook(t *testing.T) {
	const evil = `\"><img src=x onerror=alert(1)><script>alert(2)</script>`
	dir := filepath.Join(t.TempDir(), "book")
	write(t, dir, "notebook.yaml", "name: \""+evil+"\"\nsite: {welcome: \""+evil+"\", licence: \""+evil+"\"}\n")
	write(t, dir, "terms/more.yaml", "symptoms:\n  - {id: odd, group: power, name: \""+evil+"\", meaning: \""+evil+
		"\", also: [\""+evil+"\"]}\n")
	write(t, dir, "devices/d.md", "---\ndevice: d\nkind: lamp\nmaker: \""+evil+"\"\nmodel: \""+evil+"\"\nboards: [\""+
		evil+"\"]\npower: \""+evil+"\"\n---\n## "+evil+"\n\n"+evil+"\n")
	write(t, dir, "cases/x1.md", "---\ncase: x1\ntitle: \""+evil+"\"\ndevice: d\nboard: \""+evil+
		"\"\nopened: 2026-01-02\nclosed: 2026-01-02\nsymptoms: [odd]\noutcome: fixed\nconfirmed: \""+evil+
		"\"\ncause: {fault: wear, at: relay}\nphotos: [{file: p.svg, caption: \""+evil+
		"\", marks: [{x: 0.5, y: 0.5, label: \""+evil+"\"}]}]\n---\n"+
		"## "+evil+"\n\n"+evil+"\n\n## Findings\n| check | seen | result | "+strings.ReplaceAll(evil, "|", "")+
		" |\n|---|---|---|---|\n| "+evil+" | "+evil+" | clear | "+evil+" |\n\n"+
		"## Measurements\n| point | read | note |\n|---|---|---|\n| "+evil+" | 1 V | "+evil+
		" |\n\n## Parts\n| ref | part | action | note |\n|---|---|---|---|\n| "+evil+" | "+evil+" | cleaned | "+evil+" |\n")
	write(t, dir, "cases/x1/p.svg", `<svg xmlns="http://www.w3.org/2000/svg"><script>alert(3)</script></svg>`)
	out := filepath.Join(t.TempDir(), "site")
	r := publish(t, load(t, dir), out)
	require.Len(t, r.Problems, 1, "the drawing with a script is not published")
	site := files(t, out)
	assert.NotContains(t, site, "photos/x1/p.svg")
	planted := 0
	for name, text := range site {
		if strings.HasSuffix(name, ".html") || name == "feed.xml" || strings.HasPrefix(name, "search/") {
			assert.NotContains(t, text, "<img src=x", name)
			assert.NotContains(t, text, "<script>alert", name)
			planted += strings.Count(text, "onerror=alert(1)")
		}
	}
	assert.Greater(t, planted, 30, "the text itself is not lost")
}

// TestTwoAtOnce: two runs take turns, both end well, and the site is whole.
func TestTwoAtOnce(t *testing.T) {
	n := example(t)
	out := filepath.Join(t.TempDir(), "site")
	done := make(chan error, 4)
	for range 4 {
		go func() {
			_, err := Publish(context.Background(), n, out, Options{})
			done <- err
		}()
	}
	for range 4 {
		assert.NoError(t, <-done)
	}
	cold := filepath.Join(t.TempDir(), "cold")
	publish(t, n, cold)
	assert.Equal(t, files(t, cold), files(t, out))
}

// TestStrangeNotebooks: blanks, letters of all sorts and long names in paths, leap
// days, files that go while others are read, and a clock that was set back.
func TestStrangeNotebooks(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "Ωhm & Söhne 🔧 (1)", strings.Repeat("long-", 40)+"end")
	require.NoError(t, os.MkdirAll(dir, 0o755))
	require.NoError(t, os.CopyFS(dir, os.DirFS(example(t).Dir)))
	found, err := filepath.Glob(filepath.Join(dir, "cases", "2025", "2025-0010-*.md"))
	require.NoError(t, err)
	src, err := os.ReadFile(found[0])
	require.NoError(t, err)
	leap := strings.NewReplacer("opened: 2025-05-21", "opened: 2024-02-29", "closed: 2025-05-23", "closed: 2024-02-29").Replace(string(src))
	require.NoError(t, os.WriteFile(filepath.Join(filepath.Dir(found[0]), "2025-0010 Laptop dead 🔧.md"), []byte(leap), 0o644))
	require.NoError(t, os.Remove(found[0]))
	future := time.Now().AddDate(3, 0, 0)
	require.NoError(t, os.Chtimes(filepath.Join(dir, "notebook.yaml"), future, future))
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	for _, p := range n.Problems {
		assert.Equal(t, diagnostic.FileName, p.Rule, p.String())
	}
	out := filepath.Join(t.TempDir(), "sité 🔧")
	publish(t, n, out)
	text, err := os.ReadFile(filepath.Join(out, "cases", "2025-0010.html"))
	require.NoError(t, err)
	assert.Contains(t, string(text), "2024-02-29")
	// Files come, go and change while the notebook is read.
	stop, gone := make(chan bool), make(chan bool)
	go func() {
		defer close(gone)
		for i := 0; ; i++ {
			select {
			case <-stop:
				return
			default:
			}
			path := filepath.Join(dir, "cases", "2025", fmt.Sprintf("2025-9%03d-x.md", i%50))
			_ = os.WriteFile(path, src[:len(src)*(i%7)/7], 0o644)
			_ = os.Remove(filepath.Join(dir, "cases", "2025", fmt.Sprintf("2025-9%03d-x.md", (i+25)%50)))
		}
	}()
	for range 30 {
		_, err := notebook.Load(dir)
		assert.NoError(t, err)
		_, err = notebook.FingerprintOf(dir)
		assert.NoError(t, err)
	}
	close(stop)
	<-gone
}
