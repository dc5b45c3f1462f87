package editor

import (
	"context"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/browser"
)

// TestOpenChoiceInTheBrowser: with a choice open on a field, what is typed on is kept, on
// the disk and in the browser; leaving is asked about; whoever comes back sees both texts
// and the choice; and nothing goes into the file but by the choice.
func TestOpenChoiceInTheBrowser(t *testing.T) {
	x := serveDir(t, oneCase(t, "en"), Options{})
	x.s.patience = time.Minute
	const sheet = "/write/case/2026-0001"
	b := browser.Start(t)
	do := func(script string) { t.Helper(); _ = browser.Eval[any](t, b, `(() => { `+script+` })()`) }
	holds := func(script string) bool { t.Helper(); return browser.Eval[bool](t, b, script) }
	goTo := func(path string) {
		t.Helper()
		b.Do(t, browser.Command(emulation.SetFocusEmulationEnabled, emulation.SetFocusEmulationEnabledParams{Enabled: true}),
			chromedp.EmulateViewport(1280, 900), chromedp.Navigate(x.base+path))
		if path == sheet {
			b.WaitFor(t, at("clock")+`?.hidden === false`)
		}
	}
	put := func(text string) {
		t.Helper()
		do(`const e = ` + at("f-title") + `; e.value = ` + quote(text) + `; e.dispatchEvent(new Event("input", {bubbles: true}));`)
	}
	title := func() string { return FieldsOf(loaded(t, x.dir, "2026-0001").File)["title"] }
	kept := func(want ...string) {
		t.Helper()
		var got []string
		require.Eventually(t, func() bool {
			list, err := x.s.store.Opened("2026-0001")
			got = nil
			for _, o := range list {
				got = append(got, o.Field+": "+o.Mine)
			}
			return err == nil && assert.ObjectsAreEqual(want, got)
		}, 20*time.Second, 20*time.Millisecond, "%v", got)
	}
	asks := `(() => !dispatchEvent(new Event("beforeunload", {cancelable: true})))()`
	link := `document.querySelector('.crumb a[href$="/history"]')`
	clash := func(field string) string { return `document.querySelector('section[data-clash="` + field + `"]')` }

	goTo(sheet)
	assert.False(t, holds(asks), "nothing is open")
	// What the page sends waits until somebody else was quicker.
	do(`const real = window.fetch; window.held = new Promise((go) => { window.release = go; }); window.fetch = (...a) => window.held.then(() => real(...a));`)
	put("Mine, typed")
	code, body, _ := x.do(changeTitle("Lamp flickers", "Theirs"))
	require.Equal(t, http.StatusOK, code, body)
	do(`window.release();`)
	b.WaitFor(t, clash("title")+` !== null`)
	kept("title: Mine, typed")
	put("Mine, typed and more")
	kept("title: Mine, typed and more")
	assert.Equal(t, "Theirs", title(), "typing on is no choice")
	assert.Contains(t, browser.Eval[string](t, b, clash("title")+`.textContent`), "Mine, typed and more")
	assert.False(t, holds(at("saved")+`.textContent.startsWith("Saved")`), "it is not saved, and not said to be")
	assert.True(t, holds(asks))

	// Another page is asked about first.
	do(link + `.click()`)
	b.WaitFor(t, at("leave")+`.open`)
	do(`document.querySelector('#leave button[value="stay"]').click()`)
	b.WaitFor(t, `!`+at("leave")+`.open`)
	assert.Equal(t, sheet, browser.Eval[string](t, b, `location.pathname`))
	do(link + `.click()`)
	b.WaitFor(t, at("leave")+`.open`)
	do(`document.querySelector('#leave button[value="go"]').click()`)
	b.WaitFor(t, `location.pathname.endsWith("/history") && document.readyState === "complete"`)

	both := func() {
		t.Helper()
		b.WaitFor(t, clash("title")+` !== null`)
		text := browser.Eval[string](t, b, clash("title")+`.textContent`)
		assert.Contains(t, text, "Mine, typed and more")
		assert.Contains(t, text, "Theirs")
		assert.Equal(t, "Mine, typed and more", browser.Eval[string](t, b, at("f-title")+`.value`))
		assert.False(t, holds(at("saved")+`.textContent.startsWith("Saved")`))
		assert.Equal(t, "Theirs", title())
	}
	goTo(sheet)
	both()
	// The disk forgot, the browser did not: it is on the disk again.
	require.NoError(t, os.Remove(filepath.Join(x.dir, filepath.FromSlash(openPath("2026-0001")))))
	goTo("/write/")
	goTo(sheet)
	both()
	kept("title: Mine, typed and more")
	// The browser forgot, the disk did not.
	goTo("/write/")
	do(`localStorage.clear()`)
	goTo(sheet)
	both()
	do(`[...` + clash("title") + `.querySelectorAll("button")].find((b) => b.textContent === "Keep mine").click()`)
	b.WaitFor(t, at("saved")+`.textContent.startsWith("Saved") && `+clash("title")+` === null`)
	kept()
	assert.Equal(t, "Mine, typed and more", title())
	b.WaitFor(t, `localStorage.length === 0`)
	b.WaitFor(t, `!`+asks)
	goTo(sheet)
	assert.True(t, holds(clash("title")+` === null`))

	// Another one, and the other's text is taken.
	require.NoError(t, x.s.store.open("2026-0001", Open{ID: "w", Field: "section:Lesson", Mine: "My lesson."}))
	goTo(sheet)
	b.WaitFor(t, clash("section:Lesson")+` !== null`)
	assert.Equal(t, "My lesson.", browser.Eval[string](t, b, at("t-s6")+`.value`))
	do(`[...` + clash("section:Lesson") + `.querySelectorAll("button")].find((b) => b.textContent === "Take what is in the file").click()`)
	kept()
	assert.Empty(t, browser.Eval[string](t, b, at("t-s6")+`.value`))
	assert.True(t, holds(at("saved")+`.textContent.startsWith("Saved")`))
	// Two on one field are asked one after the other.
	for _, id := range []string{"v", "w"} {
		require.NoError(t, x.s.store.open("2026-0001", Open{ID: id, Field: "section:Lesson", Mine: "Lesson of " + id}))
	}
	goTo(sheet)
	for _, id := range []string{"v", "w"} {
		b.WaitFor(t, clash("section:Lesson")+`?.textContent.includes("Lesson of `+id+`")`)
		do(`[...` + clash("section:Lesson") + `.querySelectorAll("button")].find((b) => b.textContent.startsWith("Keep both")).click()`)
	}
	kept()
	assert.Equal(t, "Lesson of v\n\nLesson of w", FieldsOf(loaded(t, x.dir, "2026-0001").File)["section:Lesson"])
}

// TestWaitingPagesInTheBrowser: the page of a server that only reads and the page that is
// shown while the first pages are made are accessible, and show themselves anew when what
// they wait for is there.
func TestWaitingPagesInTheBrowser(t *testing.T) {
	axe, err := os.ReadFile(browser.Tool(t, "axe-core/axe.min.js"))
	require.NoError(t, err)
	dir := oneCase(t, "en")
	first, err := New(dir, Options{})
	require.NoError(t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	require.NoError(t, first.Attend(l.Addr().String()))
	go func() { ended <- first.Serve(ctx, l) }()
	t.Cleanup(stop)
	x := serveDir(t, dir, Options{})
	x.s.patience = 0
	goOn := make(chan struct{})
	publish := x.s.make
	x.s.make = func(ctx context.Context, n *notebook.Notebook, out string) error {
		select {
		case <-goOn:
		case <-ctx.Done():
		}
		return publish(ctx, n, out)
	}
	b := browser.Start(t)
	b.Do(t, chromedp.EmulateViewport(1280, 900), chromedp.Navigate(x.base+"/write/case/2026-0001"))
	// The style of a page of ours does not wait for the pages.
	b.WaitFor(t, at("why")+` !== null && document.readyState === "complete"`)
	assert.Equal(t, "[]", violations(t, b, axe))
	assert.True(t, browser.Eval[bool](t, b, at("t-s1")+`.readOnly && `+at("f-outcome")+`.disabled && `+at("t-s1")+`.value.includes("flickers")`))
	b.Do(t, chromedp.Navigate(x.base+"/cases/2026-0001.html"))
	b.WaitFor(t, `document.querySelector("[data-until=pages]") !== null && document.readyState === "complete"`)
	assert.Equal(t, "[]", violations(t, b, axe))
	close(goOn)
	b.WaitFor(t, `document.querySelector("[data-until=pages]") === null && document.querySelector("h1")?.textContent.includes("Lamp flickers")`)
	b.Do(t, chromedp.Navigate(x.base+"/write/case/2026-0001"))
	b.WaitFor(t, at("why")+` !== null`)
	stop()
	require.NoError(t, <-ended)
	b.WaitFor(t, at("why")+` === null && `+at("clock")+`?.hidden === false`)
	assert.False(t, browser.Eval[bool](t, b, at("t-s1")+`.readOnly`))
}
