package site

import (
	"fmt"
	"strings"
	"testing"

	"benchlore/build/testkit/long"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
)

// thumb taps and types on a phone, and counts.
type thumb struct {
	t          *testing.T
	b          *browser
	taps, keys int
}

// tap touches the middle of what matches, which must be there, within the phone's width and
// on top of all else.
func (h *thumb) tap(selector string) {
	h.t.Helper()
	waitFor(h.t, h.b, `document.querySelector(`+jsonOf(h.t, selector)+`)?.checkVisibility() === true`)
	at := eval[[]float64](h.t, h.b, `(() => { const e = document.querySelector(`+jsonOf(h.t, selector)+`), r0 = e.getBoundingClientRect();
		if (r0.top < 0 || r0.bottom > innerHeight) e.scrollIntoView({ block: "center" });
		const r = e.getBoundingClientRect(), x = r.left + Math.min(r.width, 300) / 2, y = r.top + r.height / 2, hit = document.elementFromPoint(x, y);
		return [x, y, hit !== null && (e.contains(hit) || hit.contains(e)) ? 1 : 0]; })()`)
	assert.Equal(h.t, 1.0, at[2], "%s lies under something else", selector)
	h.b.Do(h.t, command(input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: input.DispatchTouchEventTypeTouchStart,
		TouchPoints: []*input.TouchPoint{{X: at[0], Y: at[1]}}}),
		command(input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: input.DispatchTouchEventTypeTouchEnd, TouchPoints: []*input.TouchPoint{}}))
	h.taps++
}

func (h *thumb) typing(text string) {
	h.t.Helper()
	h.b.Do(h.t, chromedp.KeyEvent(text))
	h.keys += len([]rune(text))
}

// inSight reports whether an element begins within the screen as it is scrolled now.
func (h *thumb) inSight(selector string) bool {
	return eval[bool](h.t, h.b, `(() => { const r = document.querySelector(`+jsonOf(h.t, selector)+`)?.getBoundingClientRect(); return Boolean(r) && r.height > 0 && r.top >= 0 && r.top < innerHeight; })()`)
}

// TestTapsCounted goes the ways that matter at a bench on a phone, from the first page,
// and holds how many taps and keys they take. What a person needs to think and to aim is
// not in it.
func TestTapsCounted(t *testing.T) {
	t.Parallel()
	b := startBrowser(t)
	out := published(t)
	start := func(t *testing.T, page string) *thumb {
		b.Do(t, chromedp.EmulateViewport(390, 844, chromedp.EmulateTouch),
			command(emulation.SetFocusEmulationEnabled, emulation.SetFocusEmulationEnabledParams{Enabled: true}),
			chromedp.Navigate("about:blank"), chromedp.Navigate(fileURL(out, page)))
		return &thumb{t: t, b: b}
	}
	counted := func(h *thumb, taps, keys int) {
		h.t.Helper()
		h.t.Logf("%d taps, %d keys", h.taps, h.keys)
		assert.LessOrEqual(h.t, h.taps, taps, "taps")
		assert.LessOrEqual(h.t, h.keys, keys, "keys")
	}
	t.Run("find a case", func(t *testing.T) {
		h := start(t, "index.html")
		h.tap("#q")
		h.typing("amp hums")
		h.typing(kb.Enter)
		waitFor(t, b, `document.querySelectorAll("#results li").length > 0`)
		h.tap("#results li a")
		waitFor(t, b, `document.querySelector("article h1")?.textContent.includes("hum")`)
		counted(h, 2, 9)
	})
	t.Run("the next check, by words", func(t *testing.T) {
		h := start(t, "index.html")
		h.tap("#q")
		h.typing("no sound after a fall")
		h.tap(".ask button.second")
		waitFor(t, b, `document.querySelector("#checks li strong") !== null`)
		waitFor(t, b, `document.getElementById("brief").checkVisibility() && document.getElementById("brief").textContent.length > 10`)
		assert.True(t, h.inSight("#brief"), "the answer is in sight without scrolling")
		counted(h, 4, 21)
	})
	t.Run("the next check, by symptoms", func(t *testing.T) {
		h := start(t, "index.html")
		h.tap(`.top a[href$="triage.html"]`)
		waitFor(t, b, `document.getElementById("status")?.textContent !== "" && document.querySelector('[data-symptom="hum"]') !== null`)
		h.tap(`[data-symptom="hum"]`)
		waitFor(t, b, `document.querySelectorAll("#checks li").length > 0`)
		assert.True(t, h.inSight("#brief"))
		h.tap("#brief button")
		waitFor(t, b, `(() => { const r = document.querySelector("#checks li .choose button").getBoundingClientRect(); return r.top > 0 && r.bottom < innerHeight; })()`)
		h.tap("#checks li .choose button")
		waitFor(t, b, `document.querySelectorAll("#made li").length === 1`)
		counted(h, 4, 0)
	})
	t.Run("a first-weeks step", func(t *testing.T) {
		h := start(t, "path.html")
		_ = eval[any](t, b, `(() => { const p = benchloreProgress.load(); p.safety = benchloreProgress.today(); benchloreProgress.save(p); })()`)
		h.tap(`[data-step="soldering"] a`)
		waitFor(t, b, `document.getElementById("gated")?.hidden === false`)
		for i := range eval[int](t, b, `document.querySelectorAll("[data-question]").length`) {
			h.tap(fmt.Sprintf(`[data-question]:nth-child(%d) .pick:has([data-right]) label`, i+1))
		}
		h.tap("#step-done")
		waitFor(t, b, `document.getElementById("step-done").getAttribute("aria-pressed") === "true"`)
		assert.Equal(t, "2 of 2 answered, 2 of them right at first.", eval[string](t, b, `document.getElementById("asked").textContent`))
		counted(h, 4, 0)
	})
	t.Run("a part on the board", func(t *testing.T) {
		h := start(t, "devices/aldermoor-hb4.html")
		h.tap(`a[href*="boards/"]`)
		waitFor(t, b, `document.getElementById("sought") !== null`)
		h.tap("#sought")
		h.typing("C341")
		h.typing(kb.Enter)
		waitFor(t, b, `!document.getElementById("told").hidden && document.getElementById("told").textContent.includes("C341")`)
		counted(h, 2, 5)
	})
	assert.Empty(t, b.Problems)
}

// TestNothingJumps: while a page is made ready nothing that is seen moves. The sum is the
// Layout Instability API's, over all that moved without a touch; what moves by less than
// a hundredth of the screen cannot be seen.
func TestNothingJumps(t *testing.T) {
	t.Parallel()
	b := startBrowser(t)
	out := published(t)
	for _, width := range long.Or([]int64{1280, 390}, []int64{390}) {
		for _, page := range []string{"index.html", "search.html?q=amp+hums", "triage.html?q=no+sound", "cases/2025-0010.html", "cases/2026-0025.html",
			"boards/aldermoor-hb4/hb4-main-rev-3.html", "devices/aldermoor-hb4.html", "figures.html", "practise.html", "path.html",
			"path/soldering.html", "reckon.html", "words.html", "cautions.html", "parts.html"} {
			name, query, _ := strings.Cut(page, "?")
			address := fileURL(out, name)
			if query != "" {
				address += "?" + query
			}
			b.Do(t, chromedp.EmulateViewport(width, 844), chromedp.Navigate("about:blank"), chromedp.Navigate(address))
			waitFor(t, b, `document.readyState === "complete"`)
			moved := eval[[]string](t, b, `new Promise((done) => {
				const list = [];
				new PerformanceObserver((l) => { for (const e of l.getEntries()) if (!e.hadRecentInput && e.value > 0.01) list.push(e.value.toFixed(3) + " " + e.sources.map((s) => s.node?.id || s.node?.className || s.node?.nodeName).join(" ")); }).observe({ type: "layout-shift", buffered: true });
				let frames = 0;
				const tick = () => ++frames > 30 ? done(list) : requestAnimationFrame(tick);
				requestAnimationFrame(tick);
			})`)
			assert.Empty(t, moved, "%s at %d", page, width)
		}
	}
}
