package editor

import (
	"context"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/disk"
	"benchlore/build/reason/hazard"
	"benchlore/build/testkit/browser"
	"benchlore/schema/casefile"
)

func TestMain(m *testing.M) { os.Exit(browser.Run(m)) }

// TestWritingPagesAreAccessible runs axe-core over the writing pages, light, dark
// and at phone width, and keeps pictures where BENCHLORE_SHOTS names a folder.
func TestWritingPagesAreAccessible(t *testing.T) {
	axe, err := os.ReadFile(browser.Tool(t, "axe-core/axe.min.js"))
	require.NoError(t, err)
	x := serveIt(t, Options{})
	x.s.patience = time.Minute
	c := loaded(t, x.dir, "2025-0010")
	require.NoError(t, x.s.store.keepHalfTyped("2025-0010", append(c.Bytes(), "More.\n"...)))
	other := loaded(t, x.dir, "2025-0020")
	require.NoError(t, x.s.store.Save("2025-0020", other.Path, VersionOf(other.Bytes()), append(other.Bytes(), "\nMore.\n"...)))
	b := browser.Start(t)
	for name, path := range map[string]string{"home": "/write/", "sheet": "/write/case/2025-0020",
		"sheet-kept": "/write/case/2025-0010", "sheet-open": "/write/case/2026-0018", "source": "/write/case/2025-0010/source",
		"close": "/write/case/2026-0018/close", "history": "/write/case/2025-0020/history", "enter": "/write/enter",
		"case": "/cases/2025-0010.html"} {
		for _, view := range []struct {
			name, scheme string
			width        int64
		}{{"desk", "light", 1280}, {"dark", "dark", 1280}, {"phone", "light", 390}} {
			t.Run(name+"/"+view.name, func(t *testing.T) {
				b.Requests, b.Problems = nil, nil
				b.Scheme(t, view.scheme)
				b.Do(t, chromedp.EmulateViewport(view.width, 900), chromedp.Navigate("about:blank"), chromedp.Navigate(x.base+path))
				b.WaitFor(t, `document.readyState === "complete"`)
				if strings.HasPrefix(name, "sheet") {
					b.WaitFor(t, `document.querySelector("#aside h3") !== null && [...document.images].every((i) => i.complete)`)
				}
				b.Shot(t, "write-"+name+"-"+view.name)
				for _, r := range b.Requests {
					assert.True(t, strings.HasPrefix(r, x.base) || r == "about:blank" ||
						strings.HasPrefix(r, "data:image/svg+xml"), "request to %s",
						r) // the drawing is the browser's own, of its field for days
				}
				assert.Empty(t, b.Problems)
				assert.Zero(t, browser.Eval[float64](t, b,
					`document.documentElement.scrollWidth - document.documentElement.clientWidth`), "the page scrolls sideways")
				assert.Equal(t, "[]", violations(t, b, axe))
			})
		}
	}
}

// violations are what axe-core says against the page, as JSON.
func violations(t *testing.T, b *browser.Browser, axe []byte) string {
	t.Helper()
	_ = browser.Eval[any](t, b,
		`(() => { const s = document.createElement("meta"); s.name = "axe"; document.head.append(s); })()`)
	_ = browser.Eval[any](t, b, string(axe)+"; null")
	return browser.Eval[string](t, b,
		`axe.run(document, {resultTypes: ["violations"], preload: false}).then(r => JSON.stringify(r.violations.map(v => v.id + ": " + v.help + ": " + v.nodes.map(n => n.html).slice(0, 3).join(" | "))))`)
}

// TestTwoWindows: one case in two windows and an editor. The second to change a
// section is shown both and loses nothing; other fields appear in the first.
func TestTwoWindows(t *testing.T) {
	x := serveIt(t, Options{})
	one, two := browser.Start(t), browser.Start(t)
	for _, b := range []*browser.Browser{one, two} {
		b.Do(t, browser.Command(emulation.SetFocusEmulationEnabled,
			emulation.SetFocusEmulationEnabledParams{Enabled: true}), chromedp.EmulateViewport(1280, 900),
			chromedp.Navigate(x.base+"/write/case/2026-0018"))
		b.WaitFor(t, at("clock")+`?.hidden === false`)
	}
	put := func(b *browser.Browser, id, text string) {
		_ = browser.Eval[any](t, b, `(() => { const e = `+at(id)+`; e.value = `+quote(text)+
			`; e.dispatchEvent(new Event("input", {bubbles: true})); })()`)
	}
	// At the same moment: different fields, and one section in both.
	put(one, "t-s6", "First lesson.")
	put(one, "f-by", "AA")
	one.WaitFor(t, at("saved")+`.textContent.startsWith("Saved, ")`)
	put(two, "t-s6", "Second lesson.")
	put(two, "f-confirmed", "an hour on")
	two.WaitFor(t, `document.querySelector("section[data-clash]") !== null`)
	box := browser.Eval[string](t, two, `document.querySelector("section[data-clash]").textContent`)
	// The choice is at the field; the bar above leads to it.
	assert.True(t, browser.Eval[bool](t, two, `document.querySelector("section[data-clash]").parentElement.contains(`+at("t-s6")+`)`))
	_ = browser.Eval[any](t, two, at("clashes")+`.querySelector("button").click()`)
	assert.True(t, browser.Eval[bool](t, two, `document.activeElement === document.querySelector("section[data-clash]")`))
	assert.Contains(t, box, "Second lesson.")
	assert.Contains(t, box, "First lesson.")
	one.WaitFor(t, at("f-confirmed")+`.value === "an hour on"`)
	two.WaitFor(t, at("f-by")+`.value === "AA"`)
	assert.Equal(t, "First lesson.", FieldsOf(loaded(t, x.dir, "2026-0018").File)["section:Lesson"])
	_ = browser.Eval[any](t, two, `[...document.querySelectorAll("section[data-clash] button")].find((b) => b.textContent.startsWith("Keep both")).click()`)
	two.WaitFor(t, at("saved")+`.textContent.startsWith("Saved, ") && document.querySelector("[data-clash]") === null`)
	assert.Equal(t, "First lesson.\n\nSecond lesson.", FieldsOf(loaded(t, x.dir, "2026-0018").File)["section:Lesson"])
	// An editor outside changes the title; the windows show it.
	c := loaded(t, x.dir, "2026-0018")
	next, err := c.Set("title", "Changed by an editor")
	require.NoError(t, err)
	// Whole at once: half a file cannot be read as a case, and a window that looks
	// then is told so.
	require.NoError(t, disk.WriteFile(filepath.Join(x.dir, filepath.FromSlash(c.Path)), next.Bytes()))
	for _, b := range []*browser.Browser{one, two} {
		b.WaitFor(t, at("f-title")+`.value === "Changed by an editor"`)
		for _, p := range b.Problems {
			assert.Contains(t, p, "409", "a conflict is answered so, and nothing else is wrong")
		}
	}
	// Undo goes back through this session's changes.
	_ = browser.Eval[any](t, two, at("undo")+".click()")
	two.WaitFor(t, at("saved")+`.textContent.includes("somebody else")`)
}

// TestTypedWhileSaving: what is typed while a change is on its way is not said to be
// in the file before it is, and is kept without another key.
func TestTypedWhileSaving(t *testing.T) {
	x := serveIt(t, Options{})
	b := browser.Start(t)
	b.Do(t, browser.Command(emulation.SetFocusEmulationEnabled,
		emulation.SetFocusEmulationEnabledParams{Enabled: true}), chromedp.EmulateViewport(1280, 900),
		chromedp.Navigate(x.base+"/write/case/2026-0018"))
	b.WaitFor(t, at("clock")+`?.hidden === false`)
	// The first change waits until it is let go.
	_ = browser.Eval[any](t, b, `(() => {
		const send = window.fetch;
		window.held = new Promise((done) => { window.letGo = done; });
		let first = true;
		window.fetch = async (url, o) => {
			if (!String(url).includes("/change") || !first) return send(url, o);
			first = false;
			window.waiting = true;
			await held;
			return send(url, o);
		};
	})()`)
	put := func(id, text string) {
		_ = browser.Eval[any](t, b, `(() => { const e = `+at(id)+`; e.value = `+quote(text)+
			`; e.dispatchEvent(new Event("input", {bubbles: true})); })()`)
	}
	put("f-by", "AA")
	b.WaitFor(t, `window.waiting === true`)
	put("f-confirmed", "an hour on")
	// Long enough for the timer of the second change to find the first one away.
	_ = browser.Eval[any](t, b, `new Promise((done) => setTimeout(done, 1700))`)
	_ = browser.Eval[any](t, b, `letGo()`)
	b.WaitFor(t, at("saved")+`.textContent.startsWith("Saved")`)
	fields := FieldsOf(loaded(t, x.dir, "2026-0018").File)
	assert.Equal(t, "AA", fields["by"])
	assert.Equal(t, "an hour on", fields["confirmed"])
}

// TestServerGoes: what is typed while the server is away stays on the page and is
// kept when it comes back.
func TestServerGoes(t *testing.T) {
	b := browser.Start(t) // first, since it may skip
	dir := example(t)
	s, err := New(dir, Options{})
	require.NoError(t, err)
	listen := func(on string) (string, func()) {
		l, err := net.Listen("tcp", on)
		require.NoError(t, err)
		ctx, stop := context.WithCancel(context.Background())
		done := make(chan error, 1)
		go func() { done <- s.Serve(ctx, l) }()
		return l.Addr().String(), func() { stop(); <-done }
	}
	addr, stop := listen("127.0.0.1:0")
	b.Do(t, chromedp.Navigate("http://"+addr+"/write/case/2026-0018"))
	b.WaitFor(t, at("clock")+`?.hidden === false`)
	stop()
	_ = browser.Eval[any](t, b, `(() => { const e = `+at("t-s6")+
		`; e.value = "Typed while nobody listened."; e.dispatchEvent(new Event("input", {bubbles: true})); })()`)
	b.WaitFor(t, at("saved")+`.textContent.includes("still here")`)
	_, stop = listen(addr)
	defer stop()
	b.WaitFor(t, at("saved")+`.textContent.startsWith("Saved, ")`)
	assert.Equal(t, "Typed while nobody listened.", FieldsOf(loaded(t, dir, "2026-0018").File)["section:Lesson"])
}

// TestPasteATable: cells from a spreadsheet, and a meter's log with a header.
func TestPasteATable(t *testing.T) {
	x := serveIt(t, Options{})
	b := browser.Start(t)
	b.Do(t, chromedp.EmulateViewport(1280, 900), chromedp.Navigate(x.base+"/write/case/2026-0018"))
	b.WaitFor(t, at("clock")+`?.hidden === false`)
	paste := func(element, text string) {
		_ = browser.Eval[any](t, b, `(() => { const e = `+element+
			`; e.focus(); const d = new DataTransfer(); d.setData("text/plain", `+quote(text)+
			`); e.dispatchEvent(new ClipboardEvent("paste", {clipboardData: d, bubbles: true, cancelable: true})); })()`)
	}
	paste(cell("Measurements", 0, 0), "3.3 V rail\tvoltage\ton\t3.3 V ±5 %\t3.31 V\r\nbattery\tvoltage\toff\t> 6 V\t5,4 V\r\n")
	b.WaitFor(t, `document.querySelectorAll('table[data-table="Measurements"] .said .mark').length === 2`)
	paste(cell("Measurements", 2, 0), "read;point;state\n\"1,2 V\";\"A; B\";hot\n")
	b.WaitFor(t, at("saved")+`.textContent.startsWith("Saved, ") && `+cell("Measurements", 3, 0)+` !== undefined`)
	rows := loaded(t, x.dir, "2026-0018").File.Table("Measurements").Rows
	require.Len(t, rows, 3)
	assert.Equal(t, []string{"battery", "voltage", "off", "> 6 V", "5,4 V", "", ""}, rows[1])
	assert.Equal(t, []string{"A; B", "", "hot", "", "1,2 V", "", ""}, rows[2])
	assert.Empty(t, b.Problems)
}

// TestHostileCaseOnTheSheet: texts of another shop stay texts on the writing pages.
func TestHostileCaseOnTheSheet(t *testing.T) {
	x := serveIt(t, Options{})
	src, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "xss", "payloads.txt"))
	require.NoError(t, err)
	var list []string
	for _, l := range strings.Split(string(src), "\n") {
		if l != "" && !strings.HasPrefix(l, "# ") {
			list = append(list, l)
		}
	}
	c := loaded(t, x.dir, "2026-0018")
	var rows [][]string
	for _, p := range list {
		rows = append(rows, []string{p, p, "clear", ""})
	}
	next, err := c.SetTable("Findings", casefile.Table{Columns: casefile.FindingColumns, Rows: rows})
	require.NoError(t, err)
	next, err = next.Set("title", list[0])
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(x.dir, filepath.FromSlash(c.Path)), next.Bytes(), 0o644))
	b := browser.Start(t)
	for _, path := range []string{"/write/", "/write/case/2026-0018", "/write/case/2026-0018/source",
		"/write/case/2026-0018/close", "/write/case/2026-0018/history", "/cases/2026-0018.html"} {
		b.Problems, b.Requests = nil, nil
		b.Do(t, chromedp.Navigate(x.base+path))
		b.WaitFor(t, `document.readyState === "complete"`)
		if path == "/write/case/2026-0018" {
			b.WaitFor(t, at("clock")+`?.hidden === false && document.querySelector("#aside h3") !== null`)
			assert.Equal(t, list[3], browser.Eval[string](t, b, cell("Findings", 3, 1)+".value"))
		}
		assert.Zero(t, browser.Eval[int](t, b,
			`document.querySelectorAll("main iframe, main object, main embed, main [onerror], main [onload], main [onfocus]").length`), path)
		for _, r := range b.Requests {
			assert.True(t, strings.HasPrefix(r, x.base) || strings.HasPrefix(r, "data:image/svg+xml"), "%s asked for %s", path, r)
		}
		assert.Empty(t, b.Problems, path)
	}
}

// TestStopOnTheSheet: an open case with a red flag shows what comes before all else,
// at once when the symptom is written, and no longer when it is taken out.
func TestStopOnTheSheet(t *testing.T) {
	x := serveIt(t, Options{})
	b := browser.Start(t)
	b.Do(t, chromedp.Navigate(x.base+"/write/case/2026-0018"))
	b.WaitFor(t, `document.querySelector("#f-symptoms") !== null`)
	hidden := `document.getElementById("stop").hidden`
	assert.True(t, browser.Eval[bool](t, b, hidden))
	b.Do(t, chromedp.SendKeys(chromedp.CSS("#f-symptoms"), "smoke"))
	b.WaitFor(t, `document.querySelector('[data-for="symptoms"] .found button') !== null`)
	_ = browser.Eval[any](t, b, `(() => { document.querySelector('[data-for="symptoms"] .found button').click(); return null; })()`)
	b.WaitFor(t, "!"+hidden)
	assert.Contains(t, browser.Eval[string](t, b, `document.getElementById("stop").textContent`), hazard.Stop)
	b.Shot(t, "write-stop")
	_ = browser.Eval[any](t, b, `(() => { [...document.querySelectorAll('[data-for="symptoms"] .picks li button')].at(-1).click(); return null; })()`)
	b.WaitFor(t, hidden)
}

// TestStripAndKeys: the strip says which sections have something, by sign and word, and
// follows what is typed; "?" opens the list of keys and Escape closes it, but not in a field.
func TestStripAndKeys(t *testing.T) {
	x := serveIt(t, Options{})
	b := browser.Start(t)
	b.Do(t, chromedp.EmulateViewport(1280, 900), chromedp.Navigate(x.base+"/write/case/2026-0018"))
	says := func(section string) string {
		return `document.querySelector('#strip [data-section="` + section + `"]').getAttribute("aria-label")`
	}
	b.WaitFor(t, says("Symptom")+` === "Symptom: has something"`)
	assert.Equal(t, "Lesson: nothing yet", browser.Eval[string](t, b, says("Lesson")))
	_ = browser.Eval[any](t, b, `document.body.focus()`)
	b.Do(t, chromedp.KeyEvent("?"))
	b.WaitFor(t, `document.getElementById("key-map").open`)
	b.Do(t, chromedp.KeyEvent(kb.Escape))
	b.WaitFor(t, `!document.getElementById("key-map").open`)
	b.Do(t, chromedp.Focus(chromedp.CSS("#t-"+browser.Eval[string](t, b, `document.querySelector('#strip [data-section="Lesson"]').getAttribute("href").slice(1)`))))
	b.Do(t, chromedp.KeyEvent("W"), chromedp.KeyEvent("h"), chromedp.KeyEvent("y"), chromedp.KeyEvent("?"))
	b.WaitFor(t, says("Lesson")+` === "Lesson: has something"`)
	assert.False(t, browser.Eval[bool](t, b, `document.getElementById("key-map").open`))
	assert.Empty(t, b.Problems)
}
