package editor

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/output/site"
	"benchlore/build/testkit/long"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/casefile"
)

// TestAlwaysAsTheFilesAre: the pages follow every file that they are made from,
// parts lists and pictures too.
func TestAlwaysAsTheFilesAre(t *testing.T) {
	x := serveIt(t, Options{})
	see := func(path string) string {
		code, body, _ := x.do(ask{method: http.MethodGet, path: path})
		require.Equal(t, http.StatusOK, code, path)
		return body
	}
	const page = "/boards/aldermoor-hb4/hb4-main-rev-3.html"
	require.Contains(t, see(page), "C341")
	lists, err := filepath.Glob(filepath.Join(x.dir, "devices", "aldermoor-hb4", "*.csv"))
	require.NoError(t, err)
	require.NotEmpty(t, lists)
	src, err := os.ReadFile(lists[0])
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(lists[0], []byte(strings.ReplaceAll(string(src), "R37", "R7777")), 0o644))
	assert.Contains(t, see(page), "R7777")
	old := time.Now().Add(-time.Hour) // an older file than those that are known is a change too
	require.NoError(t, os.WriteFile(lists[0], src, 0o644))
	require.NoError(t, os.Chtimes(lists[0], old, old))
	assert.NotContains(t, see(page), "R7777")

	n, err := notebook.Load(x.dir)
	require.NoError(t, err)
	at := slices.IndexFunc(n.Cases, func(c *notebook.Case) bool {
		return len(c.File.Case.Photos) > 0 && strings.HasSuffix(c.File.Case.Photos[0].File, ".svg")
	})
	if at >= 0 {
		c := n.Cases[at]
		name := c.File.Case.Photos[0].File
		require.NoError(t, os.WriteFile(filepath.Join(x.dir, filepath.FromSlash(c.PhotoDir()), name),
			[]byte(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><rect width="7" height="7"/></svg>`), 0o644))
		assert.Contains(t, see("/photos/"+c.ID()+"/"+name), `width="7"`)
	}
}

// TestServedPagesAreOurs: pages that came with the notebook are not served, folders
// are not listed, and every answer has a policy.
func TestServedPagesAreOurs(t *testing.T) {
	dir := example(t)
	shipped := filepath.Join(dir, ".benchlore", "bench-site")
	require.NoError(t, os.MkdirAll(filepath.Join(shipped, "cases"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(shipped, "evil.html"), []byte("<script>alert(1)</script>"), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(shipped, "benchlore-site.json"),
		[]byte(`{"files":{"evil.html":"x","../../../notebook.yaml":"x"}}`), 0o644))
	x := serveDir(t, dir, Options{})
	for path, want := range map[string]int{"/evil.html": http.StatusNotFound, "/%00": http.StatusBadRequest,
		"/index.html%00.html": http.StatusBadRequest, "/write/case/2026-0001%00": http.StatusBadRequest,
		"/cases/": http.StatusNotFound, "/cases": http.StatusNotFound, "/assets/": http.StatusNotFound,
		"/write/assets/": http.StatusNotFound,
		"/":              http.StatusOK, "/index.html": http.StatusOK, "/assets/bench.css": http.StatusOK,
		"/write/": http.StatusOK, "/write/assets/write.js": http.StatusOK, "/nothing": http.StatusNotFound} {
		code, body, h := x.do(ask{method: http.MethodGet, path: path})
		assert.Equal(t, want, code, path)
		assert.NotContains(t, body, "alert(1)")
		assert.Contains(t, h.Get("Content-Security-Policy"), "default-src 'none'", path)
	}
	assert.FileExists(t, filepath.Join(dir, "notebook.yaml"))
	assert.FileExists(t, filepath.Join(shipped, "evil.html"), "what is not ours is not removed")
}

// TestChangesWhilePublishing: a change does not wait for the pages.
func TestChangesWhilePublishing(t *testing.T) {
	x := serveIt(t, Options{})
	x.s.publishing.Lock() // as if a publish went on for ever
	c := loaded(t, x.dir, "2026-0018")
	code, body, _ := x.do(ask{path: "/write/case/2026-0018/change", kind: "application/json",
		body: fmt.Sprintf(`{"changes":{"title":{"was":%q,"now":"Radio, changed meanwhile"}}}`, c.File.Case.Title)})
	assert.Equal(t, http.StatusOK, code, body)
	for _, path := range []string{"/write/", "/write/case/2026-0018", "/write/case/2026-0018/aside",
		"/write/words?class=symptoms&text=hum"} {
		code, _, _ := x.do(ask{method: http.MethodGet, path: path})
		assert.Equal(t, http.StatusOK, code, path)
	}
	x.s.publishing.Unlock()
	assert.Equal(t, "Radio, changed meanwhile", loaded(t, x.dir, "2026-0018").File.Case.Title)
}

// BenchmarkChangeWhilePublishing prints the slowest and the median change while the
// pages of a large notebook are made, beside changes while nothing else goes on.
func BenchmarkChangeWhilePublishing(b *testing.B) {
	dir := workshop.Dir(b)
	n, err := notebook.Load(dir)
	require.NoError(b, err)
	many := 10_000
	for i := len(n.Cases); i < many; i++ {
		c := n.Cases[i%len(n.Cases)]
		id := fmt.Sprintf("2023-%05d", i)
		text := strings.Replace(string(c.Bytes()), "case: "+c.ID(), "case: "+id, 1)
		if f, _, ok := strings.Cut(text, "\nphotos:"); ok {
			_, rest, _ := strings.Cut(text, "\nphotos:")
			_, rest, _ = strings.Cut(rest, "\n---\n")
			text = f + "\n---\n" + rest
		}
		require.NoError(b, os.MkdirAll(filepath.Join(dir, "cases", "2023"), 0o755))
		require.NoError(b, os.WriteFile(filepath.Join(dir, "cases", "2023", id+".md"), []byte(text), 0o644))
	}
	x := serveDir(b, dir, Options{})
	title := loaded(b, dir, "2026-0018").File.Case.Title
	turn := 0
	change := func() time.Duration {
		turn++
		next := fmt.Sprintf("Radio %d", turn)
		began := time.Now()
		code, body, _ := x.do(ask{path: "/write/case/2026-0018/change", kind: "application/json",
			body: fmt.Sprintf(`{"changes":{"title":{"was":%q,"now":%q}}}`, title, next)})
		took := time.Since(began)
		require.Equal(b, http.StatusOK, code, body)
		title = next
		return took
	}
	change() // the models are made once
	for b.Loop() {
		var idle, busy []time.Duration
		for range 50 {
			idle = append(idle, change())
		}
		var wg sync.WaitGroup
		done := make(chan struct{})
		wg.Go(func() {
			out := filepath.Join(b.TempDir(), "pages")
			_, err := site.Publish(context.Background(), x.s.latest.Load().book, out, site.Options{Background: true})
			assert.NoError(b, err)
			close(done)
		})
		for going := true; going; {
			select {
			case <-done:
				going = false
			default:
				busy = append(busy, change())
			}
		}
		wg.Wait()
		slices.Sort(idle)
		slices.Sort(busy)
		ms := func(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }
		b.ReportMetric(ms(busy[len(busy)-1]), "slowest-ms")
		b.ReportMetric(ms(busy[len(busy)*99/100]), "p99-ms")
		b.ReportMetric(ms(busy[len(busy)/2]), "median-ms")
		b.ReportMetric(ms(idle[len(idle)-1]), "idle-slowest-ms")
		b.ReportMetric(ms(idle[len(idle)/2]), "idle-median-ms")
		b.ReportMetric(float64(len(busy)), "changes")
	}
}

// TestManyClients: twenty pages that write on one case at once lose nothing: each
// counts in a field that another one counts in too, and starts again from what is there
// where that was quicker.
func TestManyClients(t *testing.T) {
	clients, changes := 20, long.Or(200, 20)
	if testing.Short() {
		changes = 10
	}
	fields := []string{"title", "board", "by", "tags", "section:Symptom", "section:Findings", "section:Measurements",
		"section:Parts", "section:Outcome", "section:Lesson"}
	dir := t.TempDir()
	name := filepath.Join(dir, "cases", "2026", "2026-0001-lamp.md")
	require.NoError(t, os.MkdirAll(filepath.Dir(name), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "notebook.yaml"), []byte("name: Quay Street\n"), 0o644))
	require.NoError(t, os.WriteFile(name,
		[]byte("---\ncase: 2026-0001\ntitle: n0\nboard: n0\nby: n0\ntags: [n0]\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\n---\n## Symptom\n\nn0\n\n## Findings\n\nn0\n\n## Measurements\n\nn0\n\n## Parts\n\nn0\n\n## Outcome\n\nn0\n\n## Lesson\n\nn0\n"), 0o644))
	x := serveDir(t, dir, Options{})
	var all sync.WaitGroup
	for i := range clients {
		all.Go(func() {
			key, have := fields[i%len(fields)], "n0"
			for range changes {
				for taken := false; !taken; {
					n, err := strconv.Atoi(strings.TrimPrefix(strings.SplitN(have, "-", 2)[0], "n"))
					if !assert.NoError(t, err) {
						return
					}
					body, _ := json.Marshal(map[string]any{"changes": map[string]Change{key: {have, fmt.Sprintf("n%d-%d", n+1, i)}}})
					code, text, _ := x.do(ask{path: "/write/case/2026-0001/change", kind: "application/json", body: string(body)})
					var a answer
					if !assert.NoError(t, json.Unmarshal([]byte(text), &a), text) || !assert.Empty(t, a.Refused) {
						return
					}
					taken, have = code == http.StatusOK, a.Fields[key]
					if !taken && !assert.Equal(t, http.StatusConflict, code) {
						return
					}
				}
			}
		})
	}
	all.Wait()
	data, err := os.ReadFile(name)
	require.NoError(t, err)
	f, _ := casefile.Parse(name, data)
	require.NotNil(t, f)
	got := FieldsOf(f)
	for _, key := range fields {
		assert.Equal(t, "n"+strconv.Itoa(clients/len(fields)*changes), strings.SplitN(got[key], "-", 2)[0], key)
	}
}
