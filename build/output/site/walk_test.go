package site

import (
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	testbrowser "benchlore/build/testkit/browser"
	"benchlore/build/testkit/long"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// tabTo presses Tab until what is in focus matches, as somebody without a mouse does.
func tabTo(t *testing.T, b *browser, selector string) {
	t.Helper()
	for range 250 {
		b.Do(t, chromedp.KeyEvent("\t"))
		if eval[bool](t, b, `document.activeElement?.matches(`+jsonOf(t, selector)+`) ?? false`) {
			visible := eval[bool](t, b, `(() => { const r = document.activeElement.getBoundingClientRect(); return r.width > 0 && r.bottom > 0 && r.top < innerHeight; })()`)
			assert.True(t, visible, "%s has the focus and is not in sight", selector)
			return
		}
	}
	t.Fatalf("Tab never came to %s", selector)
}

// TestWalks goes the main ways by keyboard alone, from disk, at a desk's width and at
// a phone's: search to a case and its device, triage to the next check, a value read,
// a case practised to its end, a caution looked up.
func TestWalks(t *testing.T) {
	t.Parallel()
	b := startBrowser(t)
	out := published(t)
	for _, width := range []int64{1280, 390} {
		open := func(t *testing.T, page string) {
			b.Do(t, command(emulation.SetFocusEmulationEnabled,
				emulation.SetFocusEmulationEnabledParams{Enabled: true}), chromedp.EmulateViewport(width, 844),
				chromedp.Navigate("about:blank"), chromedp.Navigate(fileURL(out, page)))
		}
		fits := func(t *testing.T) {
			waitFor(t, b, `document.readyState === "complete"`) // with its style
			assert.Zero(t, eval[float64](t, b,
				`document.documentElement.scrollWidth - document.documentElement.clientWidth`), "the page scrolls sideways")
		}
		name := map[int64]string{1280: "desk", 390: "phone"}[width]
		t.Run(name+"/search", func(t *testing.T) {
			open(t, "index.html")
			tabTo(t, b, "#q")
			b.Do(t, chromedp.KeyEvent("amp hums in both channels"), chromedp.KeyEvent("\r"))
			waitFor(t, b, `document.querySelectorAll("#results li").length > 0`)
			fits(t)
			tabTo(t, b, "#results li:first-child a")
			b.Do(t, chromedp.KeyEvent("\r"))
			waitFor(t, b, `document.querySelector("article h1")?.textContent.includes("hums")`)
			fits(t)
			tabTo(t, b, `.crumb a[href*="devices/"]`)
			b.Do(t, chromedp.KeyEvent("\r"))
			waitFor(t, b, `location.pathname.endsWith("devices/tarnwick-a40.html") && document.querySelector("h1") !== null`)
			fits(t)
		})
		t.Run(name+"/triage", func(t *testing.T) {
			open(t, "triage.html")
			waitFor(t, b, `document.getElementById("status").textContent !== ""`)
			tabTo(t, b, `[data-symptom="hum"]`)
			b.Do(t, chromedp.KeyEvent(" "))
			waitFor(t, b, `document.querySelectorAll("#checks li").length > 0`)
			fits(t)
			tabTo(t, b, "#checks li:first-child .choose button:nth-child(2)")
			b.Do(t, chromedp.KeyEvent("\r"))
			waitFor(t, b, `document.querySelectorAll("#made li").length === 1 && document.activeElement.id === "status"`)
		})
		t.Run(name+"/value", func(t *testing.T) {
			open(t, "reckon.html")
			tabTo(t, b, "#value-text")
			b.Do(t, chromedp.KeyEvent("104K"), chromedp.KeyEvent("\r"))
			waitFor(t, b, `document.getElementById("value-answer").textContent.includes("100 nF")`)
			fits(t)
		})
		t.Run(name+"/practise", func(t *testing.T) {
			open(t, "practise.html")
			waitFor(t, b, `!document.getElementById("next").hidden && document.getElementById("why-next").textContent !== ""`)
			tabTo(t, b, "#next")
			b.Do(t, chromedp.KeyEvent("\r"))
			waitFor(t, b, `document.activeElement.matches("#bench h2")`)
			fits(t)
			tabTo(t, b, "#check-0")
			b.Do(t, chromedp.KeyEvent(" "))
			tabTo(t, b, "#bench form button[type=submit]")
			b.Do(t, chromedp.KeyEvent("\r"))
			waitFor(t, b, `document.querySelectorAll("#bench tbody tr").length === 1`)
			tabTo(t, b, "#cause")
			b.Do(t, chromedp.KeyEvent(kb.ArrowDown), chromedp.KeyEvent("\t"), chromedp.KeyEvent("\r"))
			waitFor(t, b, `document.querySelector("#bench .lead") !== null`)
			fits(t)
		})
		t.Run(name+"/caution", func(t *testing.T) {
			open(t, "cases/2025-0010.html")
			tabTo(t, b, `.caution a`)
			b.Do(t, chromedp.KeyEvent("\r"))
			waitFor(t, b, `document.querySelector("h1")?.textContent === "Lithium cells"`)
			fits(t)
		})
	}
	assert.Empty(t, b.Problems)
}

// TestEveryPage runs axe-core over the pages of the example's site, and weighs each:
// with its style, scripts and data, but without photos, under 100 kB. Of folders with
// many pages of one kind it takes every fourth, or fewer; all where BENCHLORE_EVERY is set.
func TestEveryPage(t *testing.T) {
	t.Parallel()
	axe, err := os.ReadFile(testbrowser.Tool(t, "axe-core/axe.min.js"))
	require.NoError(t, err)
	b := startBrowser(t)
	out := published(t)
	var pages []string
	require.NoError(t, filepath.WalkDir(out, func(name string, e fs.DirEntry, err error) error {
		if err == nil && strings.HasSuffix(name, ".html") {
			rel, _ := filepath.Rel(out, name)
			pages = append(pages, filepath.ToSlash(rel))
		}
		return err
	}))
	require.Greater(t, len(pages), 150)
	weights := map[string]int64{}
	b.Scheme(t, "light")
	b.Do(t, chromedp.EmulateViewport(1280, 900), chromedp.Navigate(fileURL(out, "path/safety.html")))
	_ = eval[any](t, b, `(() => { const p = benchloreProgress.load(); p.safety = benchloreProgress.today(); benchloreProgress.save(p); })()`) // so that what is behind it is looked at too
	inFolder := map[string]int{}
	for _, page := range pages {
		folder := path.Dir(page)
		inFolder[folder]++
		if folder != "." && folder != "path" && inFolder[folder]%long.Or(4, 16) != 1 && os.Getenv("BENCHLORE_EVERY") == "" {
			continue
		}
		b.Requests, b.Problems = nil, nil
		b.Do(t, chromedp.Navigate(fileURL(out, page)))
		if page == "triage.html" || page == "practise.html" {
			waitFor(t, b, `document.querySelector("#device option:nth-child(2), #exercises li") !== null`)
		}
		assert.Empty(t, b.Problems, page)
		_ = eval[any](t, b, string(axe)+"; null")
		found := eval[string](t, b, `axe.run(document, {resultTypes: ["violations"], preload: false}).then(r => JSON.stringify(r.violations.map(v => v.id + ": " + v.nodes.map(n => n.html).slice(0, 2).join(" | "))))`)
		assert.Equal(t, "[]", found, page)
		for _, r := range b.Requests {
			file, ok := strings.CutPrefix(strings.SplitN(r, "#", 2)[0], "file://")
			if info, err := os.Stat(file); ok && err == nil && !strings.Contains(file, "/photos/") && !strings.Contains(file, "/views/") && path.Ext(file) != ".jpg" {
				weights[page] += info.Size()
			}
		}
		assert.Less(t, weights[page], int64(100_000), page)
	}
	sort.Slice(pages, func(i, j int) bool { return weights[pages[i]] > weights[pages[j]] })
	for _, page := range pages[:5] {
		t.Logf("%s: %d bytes", page, weights[page])
	}
	t.Logf("%d pages; index.html: %d bytes", len(pages), weights["index.html"])
}
