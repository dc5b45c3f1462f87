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
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// required reports whether browser tests must run; then nothing is skipped.
func required() bool { return os.Getenv("BENCHLORE_BROWSER") == "required" }

// missing skips the test, or fails it where browser tests are required.
func missing(t testing.TB, what string) {
	t.Helper()
	if required() {
		t.Fatalf("%s is required and was not found", what)
	}
	t.Skipf("%s was not found; set BENCHLORE_BROWSER=required to insist", what)
}

// tool returns a file that npm installed below .ci.
func tool(t testing.TB, name string) string {
	t.Helper()
	path, err := filepath.Abs(filepath.Join("..", "..", ".ci", "node_modules", filepath.FromSlash(name)))
	require.NoError(t, err)
	if _, err := os.Stat(path); err != nil {
		missing(t, name)
	}
	return path
}

// browser is a headless Chromium with what its page asked for and complained of.
type browser struct {
	ctx      context.Context
	mu       sync.Mutex
	requests []string
	problems []string
}

func startBrowser(t testing.TB) *browser {
	t.Helper()
	var path string
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		missing(t, "Chromium")
	}
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("no-first-run", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true))
	alloc, cancelAlloc := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, cancel := chromedp.NewContext(alloc)
	t.Cleanup(func() { cancel(); cancelAlloc() })
	b := &browser{ctx: ctx}
	require.NoError(t, chromedp.Listen(ctx, func(ev any) {
		b.mu.Lock()
		defer b.mu.Unlock()
		switch e := ev.(type) {
		case *network.EventRequestWillBeSent:
			b.requests = append(b.requests, e.Request.URL)
		case *runtime.EventExceptionThrown:
			b.problems = append(b.problems, e.ExceptionDetails.Text)
		case *log.EventEntryAdded:
			b.problems = append(b.problems, e.Entry.Text)
		}
	}))
	b.do(t, command(network.Enable, network.EnableParams{}), command(log.Enable, cdp.Empty{}))
	return b
}

// command makes an action of a protocol command whose answer does not matter.
func command[P, R any](c cdp.Command[P, R], params P) chromedp.Action[chromedp.Void] {
	return func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, c, params)
		return chromedp.Void{}, err
	}
}

func (b *browser) do(t testing.TB, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, time.Minute)
	defer cancel()
	require.NoError(t, chromedp.Do(ctx, actions...))
}

func eval[T any](t testing.TB, b *browser, script string) T {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, time.Minute)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	return v
}

// scheme sets light or dark, or print.
func (b *browser) scheme(t testing.TB, name string) {
	t.Helper()
	p := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}}}
	if name == "print" {
		p = emulation.SetEmulatedMediaParams{Media: "print", Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "light"}}}
	}
	b.do(t, command(emulation.SetEmulatedMedia, p))
}

// shot keeps a picture of the page where BENCHLORE_SHOTS names a folder.
func (b *browser) shot(t testing.TB, name string) {
	t.Helper()
	dir := os.Getenv("BENCHLORE_SHOTS")
	if dir == "" {
		return
	}
	ctx, cancel := context.WithTimeout(b.ctx, time.Minute)
	defer cancel()
	png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	require.NoError(t, err)
	require.NoError(t, os.MkdirAll(dir, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644))
}

// pageKinds names one page of each kind in the example's site.
var pageKinds = map[string]string{
	"home": "index.html", "case": "cases/2025-0010.html", "case-code": "cases/2026-0008.html", "case-picture": "cases/2025-0020.html",
	"case-open": "cases/2026-0018.html", "case-readings": "cases/2026-0005.html", "case-alarm": "cases/2026-0019.html", "cases": "cases.html", "year": "years/2026.html", "symptoms": "symptoms.html",
	"symptom": "symptoms/no-power.html", "devices": "devices.html", "device": "devices/tarnwick-a40.html", "device-board": "devices/aldermoor-l14.html", "device-plain": "devices/tessaly-bm1.html",
	"tray": "trays/tarnwick-a40-a4.html", "tray-letter": "trays/aldermoor-l14-letter.html", "board": "boards/aldermoor-l14/l14-main-rev-3.html", "board-part": "boards/aldermoor-l14/l14-main-rev-3.html#ref=C341",
	"board-net": "boards/uldra-n8/n8-main-rev-4.html#net=%2B3V3", "board-case": "boards/tarnwick-a40/a40-main-rev-d.html#case=2026-0013", "faults": "faults.html",
	"fault": "faults/joint-cracked.html", "cautions": "cautions.html", "words": "words.html", "search": "search.html#q=hum", "search-narrowed": "search.html#q=amplifier&kind=amplifier",
	"figures": "figures.html", "triage": "triage.html#has=hum&device=tarnwick-a40&found=rail+rippl%3Dclear", "triage-empty": "triage.html", "search-offers": "search.html#q=capacitor+hu", "search-nothing": "search.html#q=capacotorss", "reckon": "reckon.html", "parts": "parts.html", "part": "parts/capacitor-100-uf.html",
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
	axe, err := os.ReadFile(tool(t, "axe-core/axe.min.js"))
	require.NoError(t, err)
	b := startBrowser(t)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, example(t), out)
	for _, kind := range kindNames() {
		for _, view := range []struct {
			name, scheme string
			width        int64
		}{{"desk", "light", 1280}, {"dark", "dark", 1280}, {"phone", "light", 390}, {"print", "print", 794}} {
			t.Run(kind+"/"+view.name, func(t *testing.T) {
				b.requests, b.problems = nil, nil
				b.scheme(t, view.scheme)
				b.do(t, chromedp.EmulateViewport(view.width, 900), chromedp.Navigate("about:blank"), chromedp.Navigate(fileURL(out, pageKinds[kind])))
				if strings.HasPrefix(kind, "search") || strings.HasPrefix(kind, "triage") {
					waitFor(t, b, `document.getElementById("status").textContent !== ""`)
				}
				b.shot(t, kind+"-"+view.name)
				for _, r := range b.requests {
					assert.True(t, strings.HasPrefix(r, "file:") || r == "about:blank", "request to %s", r)
				}
				assert.Empty(t, b.problems)
				if view.name == "print" {
					return
				}
				wide := eval[float64](t, b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`)
				assert.Zero(t, wide, "the page scrolls sideways")
				_ = eval[any](t, b, string(axe)+"; null")
				found := eval[string](t, b, `axe.run(document, {resultTypes: ["violations"]}).then(r => JSON.stringify(r.violations.map(v => v.id + ": " + v.help + ": " + v.nodes.map(n => n.html).slice(0, 3).join(" | "))))`)
				assert.Equal(t, "[]", found)
			})
		}
	}
}

// waitFor looks again and again until the condition holds; a page that is just
// being left answers with an error, which counts as not yet.
func waitFor(t testing.TB, b *browser, condition string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, 20*time.Second)
	defer cancel()
	for {
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("Boolean("+condition+")"))
		if err == nil && ok {
			return
		}
		select {
		case <-ctx.Done():
			t.Fatalf("never came true: %s", condition)
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// TestSearchInThePage searches from file:// and from a server.
func TestSearchInThePage(t *testing.T) {
	b := startBrowser(t)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, example(t), out)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	served := make(chan error, 1)
	go func() { served <- Serve(ctx, l, out) }()
	t.Cleanup(func() { stop(); assert.NoError(t, <-served) })
	for _, base := range []string{fileURL(out, ""), "http://" + l.Addr().String() + "/"} {
		t.Run(base[:4], func(t *testing.T) {
			b.problems = nil
			b.do(t, chromedp.Navigate(base+"index.html"))
			// As a person does: type into the home page's box and press Enter.
			b.do(t, chromedp.Focus(chromedp.CSS("#q")), chromedp.SendKeys(chromedp.CSS("#q"), "amp hums in both channels\r"))
			waitFor(t, b, `document.querySelectorAll("#results li").length > 0`)
			assert.Contains(t, eval[string](t, b, `document.querySelector("#results a").textContent`), "2025-0002")
			assert.Contains(t, eval[string](t, b, `document.getElementById("status").textContent`), "Hum or buzz")
			b.do(t, chromedp.Navigate("about:blank"), chromedp.Navigate(base+"search.html#q="+"won%27t%20turn%20on"))
			waitFor(t, b, `document.querySelectorAll("#results li").length > 0`)
			first := eval[string](t, b, `document.querySelector("#results a").href`)
			dead := []string{"2025-0003", "2025-0006", "2025-0010", "2025-0023", "2026-0006"} // the cases with no-power
			assert.True(t, slices.ContainsFunc(dead, func(id string) bool { return strings.Contains(first, id) }), first)
			// Narrowed by the address, then by the control, which changes the address.
			b.do(t, chromedp.Navigate("about:blank"), chromedp.Navigate(base+"search.html#q=amplifier&kind=amplifier"))
			waitFor(t, b, `document.querySelectorAll("#results li").length === 4`)
			waitFor(t, b, `document.querySelector("#by-kind").selectedOptions[0].textContent.includes("Amplifier (4)") && document.querySelector("#by-year").options.length > 1`)
			_ = eval[any](t, b, `(() => { const s = document.querySelector("#by-fault"); s.value = "capacitor-dried"; s.dispatchEvent(new Event("change")); })()`)
			waitFor(t, b, `document.querySelectorAll("#results li").length === 1`)
			assert.Contains(t, eval[string](t, b, `location.hash`), "fault=capacitor-dried")
			b.do(t, chromedp.Navigate("about:blank"), chromedp.Navigate(base+"search.html#q=xyzzy"))
			waitFor(t, b, `document.getElementById("status").textContent.startsWith("Nothing found")`)
			assert.Empty(t, b.problems)
		})
	}
}

// TestWithoutScripts shows that everything but search works with scripts off.
func TestWithoutScripts(t *testing.T) {
	b := startBrowser(t)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, example(t), out)
	b.do(t, command(emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}),
		chromedp.Navigate(fileURL(out, "symptoms.html")), chromedp.Click(chromedp.CSS(`a[href="symptoms/no-power.html"]`)))
	b.do(t, chromedp.WaitVisible(chromedp.CSS(`a[href="../cases/2025-0010.html"]`)), chromedp.Click(chromedp.CSS(`a[href="../cases/2025-0010.html"]`)),
		chromedp.WaitVisible(chromedp.CSS("article")))
	ctx, cancel := context.WithTimeout(b.ctx, time.Minute)
	defer cancel()
	text, err := chromedp.Run(ctx, chromedp.Text(chromedp.CSS("article")))
	require.NoError(t, err)
	assert.Contains(t, text, "3.3 V rail short to ground")
	b.do(t, chromedp.Navigate(fileURL(out, "search.html")))
	text, err = chromedp.Run(ctx, chromedp.Text(chromedp.CSS("main")))
	require.NoError(t, err)
	assert.Contains(t, text, "Searching needs scripts")
}

// TestHTMLIsValid gives every page of the example's site to the Nu HTML checker.
func TestHTMLIsValid(t *testing.T) {
	jar := tool(t, "vnu-jar/build/dist/vnu.jar")
	java, err := exec.LookPath("java")
	if err != nil {
		missing(t, "java")
	}
	out := filepath.Join(t.TempDir(), "site")
	publish(t, example(t), out)
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
