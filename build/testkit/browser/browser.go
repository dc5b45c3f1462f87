// Package browser drives a headless Chromium for the tests of pages, one for a package. Only tests
// import it. Where Chromium or another tool is not found a test is skipped, unless
// BENCHLORE_BROWSER=required insists.
package browser

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// required reports whether browser tests must run; then nothing is skipped.
func required() bool { return os.Getenv("BENCHLORE_BROWSER") == "required" }

// Missing skips the test, or fails it where browser tests are required.
func Missing(t testing.TB, what string) {
	t.Helper()
	if required() {
		t.Fatalf("%s is required and was not found", what)
	}
	t.Skipf("%s was not found; set BENCHLORE_BROWSER=required to insist", what)
}

// Tool returns a file that npm installed below .ci.
func Tool(t testing.TB, name string) string {
	t.Helper()
	path, err := filepath.Abs(filepath.Join("..", "..", "..", ".ci", "node_modules", filepath.FromSlash(name)))
	require.NoError(t, err)
	if _, err := os.Stat(path); err != nil {
		Missing(t, name)
	}
	return path
}

// Browser is a headless Chromium with what its page asked for and complained of.
type Browser struct {
	Ctx      context.Context
	mu       sync.Mutex
	Requests []string // what its page asked for
	Problems []string // and complained of
}

// one is the Chromium that the tests of a package share; each test has a page of its own in
// it, with cookies and storage of its own.
var one struct {
	sync.Mutex
	ctx   context.Context
	close func()
}

// Run runs a package's tests and stops the Chromium that they shared. It is for TestMain
// and returns what to exit with.
func Run(m *testing.M) int {
	defer func() {
		if one.close != nil {
			one.close()
		}
	}()
	return m.Run()
}

// shared gives the context of the Chromium at path, started once.
func shared(t testing.TB, path string) context.Context {
	one.Lock()
	defer one.Unlock()
	if one.ctx != nil {
		return one.ctx
	}
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(path),
		chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("no-first-run", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true))
	alloc, cancelAlloc := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, cancel := chromedp.NewContext(alloc)
	require.NoError(t, chromedp.Do(ctx))
	one.ctx, one.close = ctx, func() { cancel(); cancelAlloc() }
	return ctx
}

// Start opens a page in a headless Chromium, or skips the test where there is none and in
// short runs. A package whose tests use it has a TestMain with [Run].
func Start(t testing.TB) *Browser {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser takes long")
	}
	var path string
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		Missing(t, "Chromium")
	}
	ctx, cancel := chromedp.NewContext(shared(t, path), chromedp.WithNewBrowserContext())
	t.Cleanup(cancel)
	b := &Browser{Ctx: ctx}
	require.NoError(t, chromedp.Listen(ctx, func(ev any) {
		b.mu.Lock()
		defer b.mu.Unlock()
		switch e := ev.(type) {
		case *network.EventRequestWillBeSent:
			b.Requests = append(b.Requests, e.Request.URL)
		case *runtime.EventExceptionThrown:
			b.Problems = append(b.Problems, e.ExceptionDetails.Text)
		case *log.EventEntryAdded:
			b.Problems = append(b.Problems, e.Entry.Text)
		}
	}))
	b.Do(t, Command(network.Enable, network.EnableParams{}), Command(log.Enable, cdp.Empty{}),
		// Each page behaves as the one in front.
		Command(emulation.SetFocusEmulationEnabled, emulation.SetFocusEmulationEnabledParams{Enabled: true}))
	return b
}

// Command makes an action of a protocol command whose answer does not matter.
func Command[P, R any](c cdp.Command[P, R], params P) chromedp.Action[chromedp.Void] {
	return func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, c, params)
		return chromedp.Void{}, err
	}
}

// patience is how long one step may take; machines that run tests are often busy.
const patience = 3 * time.Minute

// Do takes the steps and fails the test where one fails.
func (b *Browser) Do(t testing.TB, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.Ctx, patience)
	defer cancel()
	require.NoError(t, chromedp.Do(ctx, actions...))
}

// Eval returns what a script gives, waiting for a promise.
func Eval[T any](t testing.TB, b *Browser, script string) T {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.Ctx, patience)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	return v
}

// Scheme sets light or dark, or print.
func (b *Browser) Scheme(t testing.TB, name string) {
	t.Helper()
	p := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}}}
	if name == "print" {
		p = emulation.SetEmulatedMediaParams{Media: "print",
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "light"}}}
	}
	b.Do(t, Command(emulation.SetEmulatedMedia, p))
}

// Shot keeps a picture of the page where BENCHLORE_SHOTS names a folder.
func (b *Browser) Shot(t testing.TB, name string) {
	t.Helper()
	dir := os.Getenv("BENCHLORE_SHOTS")
	if dir == "" {
		return
	}
	ctx, cancel := context.WithTimeout(b.Ctx, patience)
	defer cancel()
	png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	require.NoError(t, err)
	require.NoError(t, os.MkdirAll(dir, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644))
}

// WaitFor looks again and again until the condition holds; a page that is just
// being left answers with an error, which counts as not yet.
func (b *Browser) WaitFor(t testing.TB, condition string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.Ctx, 20*time.Second)
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
