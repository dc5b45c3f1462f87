package site

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	testbrowser "benchlore/build/testkit/browser"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/reason/search"
	"benchlore/build/reason/triage"
	"benchlore/schema/terms"
	"benchlore/theme"
)

// problems are the texts of the real repair records beside the checkout, where
// they are; without them the benchmarks that speak of real queries are skipped.
func problems(tb testing.TB) []string {
	tb.Helper()
	f, err := os.Open(filepath.Join("..", "..", "..", "..", "shared", "ords", "open-repair-sample.csv"))
	if err != nil {
		tb.Skip("the real repair records are not beside the checkout")
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(tb, err)
	var out []string
	for _, row := range rows[1:] {
		if text := strings.TrimSpace(strings.Trim(row[len(row)-1], ". ")); len(text) > 20 {
			out = append(out, text)
		}
	}
	return out
}

// realNotebook makes a notebook of n cases of about size bytes whose sentences
// are real ones, each case with values, designators and a model of its own, the
// same for the same arguments.
func realNotebook(tb testing.TB, n, size int) *notebook.Notebook {
	tb.Helper()
	texts := problems(tb)
	var sentences []string
	for _, t := range texts {
		for _, s := range strings.FieldsFunc(t, func(r rune) bool { return strings.ContainsRune(".!?\n", r) }) {
			s = strings.Map(func(r rune) rune {
				if strings.ContainsRune("|#*_`<>[]\\:~-", r) {
					return ' '
				}
				return r
			}, s)
			if s = strings.Join(strings.Fields(s), " "); len(s) > 10 {
				sentences = append(sentences, s)
			}
		}
	}
	dir := tb.TempDir()
	r := rand.New(rand.NewPCG(100, uint64(n)))
	v := terms.Builtin()
	pick := func(c terms.Class) string { list := v.All(c); return list[r.IntN(len(list))].ID }
	say := func(bytes int) string {
		var b strings.Builder
		for b.Len() < bytes {
			b.WriteString(sentences[r.IntN(len(sentences))] + ". ")
		}
		return strings.TrimSpace(b.String())
	}
	write(tb, dir, "notebook.yaml", "name: Real words\n")
	kinds := make([]string, max(n/50, 5)) // of the models
	for i := range kinds {
		kinds[i] = pick(terms.Kind)
	}
	for i := range n {
		year := 2010 + i*15/n
		id := fmt.Sprintf("%d-%06d", year, i)
		title, _ := json.Marshal(sentences[r.IntN(len(sentences))])
		model := r.IntN(len(kinds))
		maker := sentences[model%40][:4] + "ex"
		var b strings.Builder
		fmt.Fprintf(&b, "---\ncase: %s\ntitle: %s\ndevice: {kind: %s, maker: %q, model: M%d}\nopened: %d-%02d-%02d\nclosed: %d-12-31\nsymptoms: [%s]\ncause: {fault: %s, at: %s, origin: wear}\noutcome: fixed\nconfirmed: an hour\n---\n",
			id, title, kinds[model], maker, model, year, 1+r.IntN(12), 1+r.IntN(28), year, pick(terms.Symptom),
			pick(terms.Fault), pick(terms.Place))
		fmt.Fprintf(&b, "## Symptom\n\n%s\n\n## Measurements\n\n| point | what | state | expected | read | note |\n|---|---|---|---|---|---|\n", say(size/4))
		for range 4 {
			fmt.Fprintf(&b, "| TP%d | voltage | on | %d V ±5 %% | %d.%02d V | |\n", r.IntN(60), 3+r.IntN(20), 2+r.IntN(20), r.IntN(100))
		}
		fmt.Fprintf(&b, "\n## Parts\n\n| ref | part | value | package | net | action | fitted | note |\n|---|---|---|---|---|---|---|---|\n| C%d | capacitor | %d µF %d V X5R | 0603 | +3V3 | replaced | same | |\n", r.IntN(900), 1+r.IntN(470), 6+r.IntN(50))
		fmt.Fprintf(&b, "\n## Outcome\n\n%s\n\n## Lesson\n\n%s\n", say(size/4), say(size/4))
		write(tb, dir, fmt.Sprintf("cases/%d/%s.md", year, id), b.String())
	}
	loaded, err := notebook.Load(dir)
	require.NoError(tb, err)
	require.LessOrEqual(tb, len(loaded.Cases), n)
	return loaded
}

// realQueries are the first words of real problem texts, as somebody in a hurry
// would type them: three to five words.
func realQueries(tb testing.TB, n int) []string {
	tb.Helper()
	texts := problems(tb)
	r := rand.New(rand.NewPCG(200, 200))
	var out []string
	for len(out) < n {
		words := strings.Fields(texts[r.IntN(len(texts))])
		if k := 3 + r.IntN(3); len(words) >= k {
			out = append(out, strings.Join(words[:k], " "))
		}
	}
	return out
}

// searchOnly writes what the search page loads, without the other pages.
func searchOnly(tb testing.TB, n *notebook.Notebook, out string) (total int) {
	tb.Helper()
	s := &site{n: n}
	shards, err := search.Export(n, s.card)
	require.NoError(tb, err)
	for _, shard := range shards {
		write(tb, out, "search/"+shard.Name, string(shard.Data))
		total += len(shard.Data)
	}
	for _, name := range []string{"stem.js", "read.js", "rank.js"} {
		data, err := theme.Assets.ReadFile("assets/" + name)
		require.NoError(tb, err)
		write(tb, out, "assets/"+name, string(data))
	}
	return total
}

// BenchmarkFirstSearch reports the bytes of index that a first search loads from
// an empty cache, over 200 real queries, beside the whole serialised index of a
// general-purpose search library (MiniSearch 7.2.0) of the same fields.
// BENCHLORE_LARGE=1 adds 100,000 cases of 1 kB.
func BenchmarkFirstSearch(b *testing.B) {
	sizes := [][2]int{{1000, 3000}, {10_000, 3000}}
	if os.Getenv("BENCHLORE_LARGE") != "" {
		sizes = append(sizes, [2]int{100_000, 1000})
	}
	for _, size := range sizes {
		b.Run(fmt.Sprintf("cases=%d", size[0]), func(b *testing.B) {
			n := realNotebook(b, size[0], size[1])
			out := b.TempDir()
			total := searchOnly(b, n, out)
			queries := realQueries(b, 200)
			var loaded []int
			for b.Loop() {
				e := startEngine(b, out)
				loaded = loaded[:0]
				for _, q := range queries {
					e.open(b)
					quoted, err := json.Marshal(q)
					require.NoError(b, err)
					run[answer](b, e, `benchloreFind(`+string(quoted)+`)`)
					run[[2][]string](b, e, `benchloreOffers(`+string(quoted)+`)`)
					loaded = append(loaded, e.bytes)
				}
			}
			slices.Sort(loaded)
			b.ReportMetric(float64(loaded[len(loaded)/2]), "bytes/median")
			b.ReportMetric(float64(loaded[len(loaded)*95/100]), "bytes/p95")
			b.ReportMetric(float64(total), "bytes/whole")
			if size[0] <= 10_000 {
				whole := baselineIndex(b, n)
				b.ReportMetric(float64(whole), "bytes/baseline")
				b.ReportMetric(float64(whole)/float64(loaded[len(loaded)/2]), "baseline/median")
			}
		})
	}
}

// baselineIndex is the size of the other library's index over the same fields.
func baselineIndex(tb testing.TB, n *notebook.Notebook) int {
	tb.Helper()
	library := testbrowser.Tool(tb, "minisearch/dist/cjs/index.cjs")
	node, err := exec.LookPath("node")
	if err != nil {
		testbrowser.Missing(tb, "node")
	}
	type doc map[string]string
	var docs []doc
	for _, c := range n.Cases {
		d := doc{"id": c.ID()}
		for _, f := range search.Fields {
			d[string(f)] = search.Text(n, c, f)
		}
		docs = append(docs, d)
	}
	data, err := json.Marshal(docs)
	require.NoError(tb, err)
	path := filepath.Join(tb.TempDir(), "docs.json")
	require.NoError(tb, os.WriteFile(path, data, 0o644))
	fields, err := json.Marshal(search.Fields)
	require.NoError(tb, err)
	script := `const m = require(process.argv[1]); const Search = m.default ?? m; const s = new Search({fields: ` + string(fields) + `, storeFields: ["title", "device", "cause"]});
s.addAll(JSON.parse(require("fs").readFileSync(process.argv[2], "utf8"))); console.log(Buffer.byteLength(JSON.stringify(s)));`
	answer, err := exec.Command(node, "--max-old-space-size=8192", "-e", script, library, path).CombinedOutput()
	require.NoError(tb, err, string(answer))
	var size int
	_, err = fmt.Sscan(string(answer), &size)
	require.NoError(tb, err)
	return size
}

// BenchmarkTyping types into the search page of 10,000 cases, opened from
// file:// in a browser slowed fourfold, and reports the longest task, and the
// longest run of a script of the page. Beside it the same keys go into a field
// of a page without scripts: what the browser does by itself.
func BenchmarkTyping(b *testing.B) {
	n := realNotebook(b, 10_000, 3000)
	out := b.TempDir()
	searchOnly(b, n, out)
	s := newSite(n)
	page, err := s.render("search", searchPage{Frame: s.frame("", "Search")})
	require.NoError(b, err)
	write(b, out, "search.html", string(page))
	write(b, out, "plain.html", `<!DOCTYPE html><title>Plain</title><input id="q">`)
	for _, name := range []string{"say.js", "search.js", "bench.css", "icon.svg"} {
		data, err := theme.Assets.ReadFile("assets/" + name)
		require.NoError(b, err)
		write(b, out, "assets/"+name, string(data))
	}
	for _, name := range []string{"plain.html", "search.html"} {
		b.Run(name, func(b *testing.B) {
			chrome := startBrowser(b)
			chrome.Do(b, chromedp.Navigate(fileURL(out, name)),
				command(emulation.SetCPUThrottlingRate, emulation.SetCPUThrottlingRateParams{Rate: 4}))
			_ = eval[any](b, chrome, `globalThis.tasks = []; globalThis.ours = [];
				new PerformanceObserver((list) => { for (const e of list.getEntries()) tasks.push(e.duration); }).observe({type: "longtask", buffered: true});
				new PerformanceObserver((list) => { for (const e of list.getEntries()) for (const s of e.scripts) ours.push(s.duration); }).observe({type: "long-animation-frame", buffered: true}); null`)
			keys := 0
			for b.Loop() {
				for _, q := range realQueries(b, 8) {
					_ = eval[any](b, chrome, `document.getElementById("q").value = ""; null`)
					chrome.Do(b, chromedp.Focus(chromedp.CSS("#q")))
					for _, key := range q {
						chrome.Do(b, chromedp.KeyEvent(string(key)))
						keys++
						time.Sleep(60 * time.Millisecond) // as a quick typist does
					}
					time.Sleep(400 * time.Millisecond)
				}
			}
			longest := func(list string) float64 { return eval[float64](b, chrome, `Math.max(0, ...`+list+`)`) }
			b.ReportMetric(longest("tasks"), "ms/longest-task")
			b.ReportMetric(longest("ours"), "ms/longest-script")
			b.ReportMetric(eval[float64](b, chrome, "tasks.length"), "tasks-over-50ms")
			b.ReportMetric(float64(keys), "keys")
		})
	}
}

// BenchmarkEdited publishes after one edited case, beside the whole publish in
// the same run.
func BenchmarkEdited(b *testing.B) {
	n := realNotebook(b, 10_000, 3000)
	out := filepath.Join(b.TempDir(), "site")
	runtime.GC()
	began := time.Now()
	_, err := Publish(context.Background(), n, out, Options{})
	require.NoError(b, err)
	whole := time.Since(began)
	dir, name, text := n.Dir, n.Cases[5000].Path, string(n.Cases[5000].Text.Bytes)
	n = nil
	var spent, written time.Duration
	files, round := 0, 0
	for b.Loop() {
		b.StopTimer()
		round++
		write(b, dir, name, text+fmt.Sprintf("\nOne more remark, number %d.\n", round))
		load := time.Now()
		edited, err := notebook.Load(dir)
		require.NoError(b, err)
		written += time.Since(load)
		runtime.GC() // a process of its own would begin without what the last round left
		b.StartTimer()
		start := time.Now()
		r, err := Publish(context.Background(), edited, out, Options{})
		require.NoError(b, err)
		spent += time.Since(start)
		files = r.Written
	}
	b.ReportMetric(whole.Seconds(), "s/whole-publish")
	b.ReportMetric(whole.Seconds()/(spent.Seconds()/float64(round)), "times-faster")
	b.ReportMetric(written.Seconds()/float64(round), "s/load")
	b.ReportMetric(float64(files), "files-written")
}

// BenchmarkReady opens pages in a browser whose processor is slowed down four times, beside
// a page that holds one word and no style: milliseconds until the first thing is seen, and
// until all is loaded, medians of fifteen; and until a letter typed into the search box is
// shown, where the page has one.
func BenchmarkReady(b *testing.B) {
	out := published(b)
	require.NoError(b, os.WriteFile(filepath.Join(out, "empty.html"), []byte("<!DOCTYPE html><html lang=\"en\"><title>Empty</title><p>Empty</p></html>"), 0o644))
	br := startBrowser(b)
	br.Do(b, chromedp.EmulateViewport(390, 844), command(emulation.SetCPUThrottlingRate, emulation.SetCPUThrottlingRateParams{Rate: 4}))
	base := 0.0
	for _, page := range []string{"empty.html", "index.html", "cases/2025-0010.html", "triage.html", "search.html", "boards/aldermoor-hb4/hb4-main-rev-3.html"} {
		b.Run(strings.TrimSuffix(path.Base(page), ".html"), func(b *testing.B) {
			var seen, loaded, typed []float64
			for b.Loop() {
				for range 15 {
					br.Do(b, chromedp.Navigate("about:blank"), chromedp.Navigate(fileURL(out, page)))
					times := eval[[]float64](b, br, `new Promise((done) => { const ask = () => { const p = performance.getEntriesByName("first-contentful-paint")[0], n = performance.getEntriesByType("navigation")[0]; if (p && n.loadEventEnd > 0) done([p.startTime, n.loadEventEnd]); else requestAnimationFrame(ask); }; ask(); })`)
					seen, loaded = append(seen, times[0]), append(loaded, times[1])
					typed = append(typed, eval[float64](b, br,
						`new Promise((done) => { const q = document.getElementById("q"); if (!q) { done(0); return; } q.focus(); const at = performance.now(); q.value = "h"; q.dispatchEvent(new Event("input", { bubbles: true })); requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now() - at))); })`))
				}
			}
			first := triage.Median(seen)
			if page == "empty.html" {
				base = first
			}
			b.ReportMetric(first, "ms/seen")
			b.ReportMetric(triage.Median(loaded), "ms/loaded")
			b.ReportMetric(triage.Median(typed), "ms/letter")
			b.ReportMetric(first/base, "times-empty")
		})
	}
}
