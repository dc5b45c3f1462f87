package site

import (
	"context"
	"encoding/json"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	testbrowser "benchlore/build/testkit/browser"
	"benchlore/build/testkit/long"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The browser and what is done with it, under short names.
type browser struct{ *testbrowser.Browser }

func startBrowser(t testing.TB) *browser { return &browser{testbrowser.Start(t)} }

func eval[T any](t testing.TB, b *browser, script string) T {
	t.Helper()
	return testbrowser.Eval[T](t, b.Browser, script)
}

func waitFor(t testing.TB, b *browser, condition string) { t.Helper(); b.WaitFor(t, condition) }

func command[P, R any](c cdp.Command[P, R], params P) chromedp.Action[chromedp.Void] {
	return testbrowser.Command(c, params)
}

// pageKinds names one page of each kind in the example's site.
var pageKinds = map[string]string{
	"home": "index.html", "case": "cases/2025-0010.html", "case-code": "cases/2026-0008.html", "case-picture": "cases/2025-0020.html",
	"case-open": "cases/2026-0018.html", "case-readings": "cases/2026-0005.html",
	"case-alarm": "cases/2026-0019.html", "cases": "cases.html", "year": "years/2026.html", "symptoms": "symptoms.html",
	"symptom": "symptoms/no-power.html", "devices": "devices.html", "device": "devices/tarnwick-a40.html",
	"device-board": "devices/aldermoor-hb4.html", "device-plain": "devices/tessaly-bm1.html",
	"tray": "trays/tarnwick-a40-a4.html", "tray-letter": "trays/aldermoor-hb4-letter.html",
	"board": "boards/aldermoor-hb4/hb4-main-rev-3.html", "board-part": "boards/aldermoor-hb4/hb4-main-rev-3.html#ref=C341",
	"board-net":  "boards/uldra-n8/n8-main-rev-4.html#net=%2B3V3",
	"board-case": "boards/tarnwick-a40/a40-main-rev-d.html#case=2026-0013", "faults": "faults.html",
	"fault": "faults/joint-cracked.html", "cautions": "cautions.html", "words": "words.html",
	"search": "search.html#q=hum", "search-narrowed": "search.html#q=amplifier&kind=amplifier",
	"figures": "figures.html", "triage": "triage.html#has=hum&device=tarnwick-a40&found=rail+rippl%3Dclear",
	"triage-empty": "triage.html", "search-offers": "search.html#q=capacitor+hu",
	"search-nothing": "search.html#q=capacotorss", "reckon": "reckon.html", "practise": "practise.html",
	"practise-bench": "practise.html#2025-0005", "path": "path.html", "step-safety": "path/safety.html",
	"step-voltage": "path/measuring-voltage.html",
	"step-drill":   "path/values.html", "step-cases": "path/cases.html", "hazard": "hazards/mains.html",
	"docs": "docs.html", "doc": "docs/triage.html", "parts": "parts.html", "part": "parts/capacitor-100-uf.html",
}

func kindNames() []string {
	var names []string
	for name := range pageKinds {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// fileURL is the address of a page opened from disk.
func fileURL(dir, page string) string { return "file://" + filepath.ToSlash(dir) + "/" + page }

// TestPagesAreAccessible runs axe-core over every kind of page from file://,
// light and dark, at desk and phone width, and watches for requests and
// complaints, a breach of the content security policy among them.
func TestPagesAreAccessible(t *testing.T) {
	t.Parallel()
	axe, err := os.ReadFile(testbrowser.Tool(t, "axe-core/axe.min.js"))
	require.NoError(t, err)
	b := startBrowser(t)
	out := published(t)
	for _, kind := range kindNames() {
		for _, view := range []struct {
			name, scheme string
			width        int64
		}{{"desk", "light", 1280}, {"dark", "dark", 1280}, {"phone", "light", 390}, {"print", "print", 794}}[long.Or(0, 2):long.Or(4, 3)] {
			if view.name == "desk" && !strings.Contains(pageKinds[kind], "#") {
				continue // TestEveryPage looks at every page so
			}
			t.Run(kind+"/"+view.name, func(t *testing.T) {
				b.Requests, b.Problems = nil, nil
				b.Scheme(t, view.scheme)
				b.Do(t, chromedp.EmulateViewport(view.width, 900), chromedp.Navigate("about:blank"),
					chromedp.Navigate(fileURL(out, pageKinds[kind])))
				if strings.HasPrefix(kind, "search") || strings.HasPrefix(kind, "triage") {
					waitFor(t, b, `document.getElementById("status").textContent !== ""`)
				}
				if kind == "practise-bench" {
					waitFor(t, b, `document.querySelectorAll("#bench .pick").length > 0`)
				}
				if strings.HasPrefix(kind, "step-") { // as it is when the questions on safety were answered
					_ = eval[any](t, b, `(() => { const g = document.getElementById("gated"); if (g) { g.hidden = false; document.getElementById("closed").hidden = true; } })()`)
				}
				b.Shot(t, kind+"-"+view.name)
				for _, r := range b.Requests {
					assert.True(t, strings.HasPrefix(r, "file:") || r == "about:blank", "request to %s", r)
				}
				assert.Empty(t, b.Problems)
				if view.name == "print" {
					return
				}
				wide := eval[float64](t, b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`)
				assert.Zero(t, wide, "the page scrolls sideways")
				_ = eval[any](t, b, string(axe)+"; null")
				// Only what depends on colours and widths: TestEveryPage looks for the rest.
				only := `runOnly: ["color-contrast", "target-size", "scrollable-region-focusable", "link-in-text-block", "meta-viewport"], `
				if view.name == "desk" {
					only = ""
				}
				found := eval[string](t, b,
					`axe.run(document, {`+only+
						`resultTypes: ["violations"], preload: false}).then(r => JSON.stringify(r.violations.map(v => v.id + ": " + v.help + ": " + v.nodes.map(n => n.html).slice(0, 3).join(" | "))))`)
				assert.Equal(t, "[]", found)
			})
		}
	}
}

// TestNothingAsked: an empty search page offers common symptoms and the newest cases, and
// takes them away once something is asked.
func TestNothingAsked(t *testing.T) {
	t.Parallel()
	b := startBrowser(t)
	out := published(t)
	b.Do(t, chromedp.Navigate(fileURL(out, "search.html")))
	waitFor(t, b, `!document.getElementById("unasked").hidden`)
	assert.Equal(t, 8, eval[int](t, b, `document.querySelectorAll("#unasked .cases li").length`))
	assert.Contains(t, eval[string](t, b, `document.getElementById("unasked").textContent`), "No power")
	b.Do(t, chromedp.Focus(chromedp.CSS("#q")), chromedp.SendKeys(chromedp.CSS("#q"), "hum"))
	waitFor(t, b, `document.getElementById("unasked").hidden && document.querySelectorAll("#results li").length > 0`)
	assert.Empty(t, b.Problems)
}

// TestSearchInThePage searches from file:// and from a server.
func TestSearchInThePage(t *testing.T) {
	t.Parallel()
	b := startBrowser(t)
	out := filepath.Join(t.TempDir(), "site")
	report := publish(t, example(t), out)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	served := make(chan error, 1)
	go func() { served <- Serve(ctx, l, out, report) }()
	t.Cleanup(func() { stop(); assert.NoError(t, <-served) })
	for _, base := range []string{fileURL(out, ""), "http://" + l.Addr().String() + "/"} {
		t.Run(base[:4], func(t *testing.T) {
			b.Problems = nil
			b.Do(t, chromedp.Navigate(base+"index.html"))
			// As a person does: type into the home page's box and press Enter.
			b.Do(t, chromedp.Focus(chromedp.CSS("#q")), chromedp.SendKeys(chromedp.CSS("#q"), "amp hums in both channels\r"))
			waitFor(t, b, `document.querySelectorAll("#results li").length > 0`)
			assert.Contains(t, eval[string](t, b, `document.querySelector("#results a").textContent`), "2025-0002")
			assert.Contains(t, eval[string](t, b, `document.getElementById("status").textContent`), "Hum or buzz")
			b.Do(t, chromedp.Navigate("about:blank"), chromedp.Navigate(base+"search.html#q="+"won%27t%20turn%20on"))
			waitFor(t, b, `document.querySelectorAll("#results li").length > 0`)
			first := eval[string](t, b, `document.querySelector("#results a").href`)
			dead := []string{"2025-0003", "2025-0006", "2025-0010", "2025-0023", "2026-0006", "2026-0020", "2026-0024"} // the cases with no-power
			assert.True(t, slices.ContainsFunc(dead, func(id string) bool { return strings.Contains(first, id) }), first)
			// Narrowed by the address, then by the control, which changes the address.
			b.Do(t, chromedp.Navigate("about:blank"), chromedp.Navigate(base+"search.html#q=amplifier&kind=amplifier"))
			waitFor(t, b, `document.querySelectorAll("#results li").length === 4`)
			waitFor(t, b, `document.querySelector("#by-kind").selectedOptions[0].textContent.includes("Amplifier (4)") && document.querySelector("#by-year").options.length > 1`)
			_ = eval[any](t, b, `(() => { const s = document.querySelector("#by-fault"); s.value = "capacitor-dried"; s.dispatchEvent(new Event("change")); })()`)
			waitFor(t, b, `document.querySelectorAll("#results li").length === 1`)
			assert.Contains(t, eval[string](t, b, `location.hash`), "fault=capacitor-dried")
			b.Do(t, chromedp.Navigate("about:blank"), chromedp.Navigate(base+"search.html#q=xyzzy"))
			waitFor(t, b, `document.getElementById("status").textContent.startsWith("Nothing found")`)
			assert.Empty(t, b.Problems)
		})
	}
}

// TestWithoutScripts shows that everything but search works with scripts off.
func TestWithoutScripts(t *testing.T) {
	b := startBrowser(t)
	out := published(t)
	b.Do(t, command(emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}),
		chromedp.Navigate(fileURL(out, "symptoms.html")), chromedp.Click(chromedp.CSS(`a[href="symptoms/no-power.html"]`)))
	b.Do(t, chromedp.WaitVisible(chromedp.CSS(`a[href="../cases/2025-0010.html"]`)),
		chromedp.Click(chromedp.CSS(`a[href="../cases/2025-0010.html"]`)),
		chromedp.WaitVisible(chromedp.CSS("article")))
	ctx, cancel := context.WithTimeout(b.Ctx, time.Minute)
	defer cancel()
	text, err := chromedp.Run(ctx, chromedp.Text(chromedp.CSS("article")))
	require.NoError(t, err)
	assert.Contains(t, text, "3.3 V rail short to ground")
	b.Do(t, chromedp.Navigate(fileURL(out, "search.html")))
	text, err = chromedp.Run(ctx, chromedp.Text(chromedp.CSS("main")))
	require.NoError(t, err)
	assert.Contains(t, text, "Searching needs scripts")
}

// TestHTMLIsValid gives every page of the example's site to the Nu HTML checker.
func TestHTMLIsValid(t *testing.T) {
	t.Parallel()
	jar := testbrowser.Tool(t, "vnu-jar/build/dist/vnu.jar")
	java, err := exec.LookPath("java")
	if err != nil {
		testbrowser.Missing(t, "java")
	}
	out := published(t)
	cmd := exec.Command(java, "-Xss4m", "-jar", jar, "--format", "json", "--errors-only", "--skip-non-html", out)
	var answer strings.Builder
	cmd.Stderr = &answer
	_ = cmd.Run() // its exit code says only whether there are messages
	var report struct {
		Messages []struct{ URL, Message, Extract string } `json:"messages"`
	}
	require.NoError(t, json.Unmarshal([]byte(answer.String()), &report), answer.String())
	assert.Empty(t, report.Messages)
}
