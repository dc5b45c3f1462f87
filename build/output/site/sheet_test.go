package site

import (
	"context"
	"fmt"
	"html"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"benchlore/build/notebook"
	"benchlore/build/testkit/long"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestNarrowest: no kind of page scrolls sideways at 320 px, which is also 1280 px at 400 %
// (WCAG 2.2, 1.4.10), in any of the languages with texts of their own.
func TestNarrowest(t *testing.T) {
	t.Parallel()
	b := startBrowser(t)
	for _, language := range long.Or([]string{"en", "de", "fr"}, []string{"de"}) {
		out := inLanguage(t, language)
		b.Scheme(t, "light")
		for _, kind := range kindNames() {
			b.Do(t, chromedp.EmulateViewport(320, 640), chromedp.Navigate("about:blank"), chromedp.Navigate(fileURL(out, pageKinds[kind])))
			wide := eval[float64](t, b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`)
			assert.LessOrEqual(t, wide, 0.0, "%s, %s scrolls sideways", kind, language)
		}
	}
}

// TestNothingDead: what does nothing without scripts is not offered, and the page says
// what does it instead.
func TestNothingDead(t *testing.T) {
	t.Parallel()
	b := startBrowser(t)
	out := published(t)
	shown := func(page, selector string) bool {
		b.Do(t, chromedp.Navigate("about:blank"), chromedp.Navigate(fileURL(out, page)))
		return eval[bool](t, b, `document.querySelector("`+selector+`")?.getClientRects().length > 0`)
	}
	pages := map[string]string{"triage.html": ".two-sides", "reckon.html": ".forms", "search.html": ".search", "index.html": ".ask",
		"cases.html": ".bar-find"}
	for page, selector := range pages {
		assert.True(t, shown(page, selector), "%s with scripts", page)
	}
	b.Do(t, command(emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}))
	for page, selector := range pages {
		assert.False(t, shown(page, selector), "%s without", page)
	}
	for _, page := range []string{"triage.html", "reckon.html", "search.html", "practise.html"} {
		assert.True(t, shown(page, "main noscript"), "%s says what does it instead", page)
	}
}

// speaking is the example as a workshop of another language has it: texts and words in
// its language, notes as they are.
func speaking(t testing.TB, language string) *notebook.Notebook {
	t.Helper()
	dir := example(t).Dir
	config := filepath.Join(dir, "notebook.yaml")
	src, err := os.ReadFile(config)
	require.NoError(t, err)
	require.Contains(t, string(src), "language: en")
	require.NoError(t, os.WriteFile(config, []byte(strings.Replace(string(src), "language: en", "language: "+language, 1)), 0o644))
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	require.Zero(t, n.Errors())
	return n
}

// TestContactSheet pictures every kind of page where BENCHLORE_SHEET names a folder: at
// four widths, light and dark, as print, in three languages; sheet.html in that folder
// shows them all.
func TestContactSheet(t *testing.T) {
	dir := os.Getenv("BENCHLORE_SHEET")
	if dir == "" {
		t.Skip("BENCHLORE_SHEET names the folder for the pictures")
	}
	b := startBrowser(t)
	var sheet strings.Builder
	sheet.WriteString(`<!DOCTYPE html><meta charset="utf-8"><title>Contact sheet</title><style>body{font:14px sans-serif}figure{display:inline-block;margin:4px;vertical-align:top}img{height:260px;border:1px solid #999}</style>`)
	for _, language := range []string{"en", "de", "fr"} {
		out := inLanguage(t, language)
		for _, kind := range kindNames() {
			fmt.Fprintf(&sheet, "<h2>%s, %s</h2>\n", html.EscapeString(kind), language)
			for _, width := range []int64{1280, 768, 390, 320} {
				for _, scheme := range []string{"light", "dark", "print"} {
					if scheme == "print" && width != 768 {
						continue
					}
					b.Scheme(t, scheme)
					b.Do(t, chromedp.EmulateViewport(width, width*3/4+400), chromedp.Navigate("about:blank"), chromedp.Navigate(fileURL(out, pageKinds[kind])))
					time.Sleep(60 * time.Millisecond) // for scripts that fetch their data; nothing is asserted here
					ctx, cancel := context.WithTimeout(b.Ctx, time.Minute)
					png, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
					cancel()
					require.NoError(t, err)
					name := fmt.Sprintf("%s-%s-%d-%s.png", kind, language, width, scheme)
					require.NoError(t, os.MkdirAll(dir, 0o755))
					require.NoError(t, os.WriteFile(filepath.Join(dir, name), png, 0o644))
					fmt.Fprintf(&sheet, `<figure><img src="%s" loading="lazy" alt=""><figcaption>%d %s</figcaption></figure>`+"\n", name, width, scheme)
				}
			}
		}
		require.NoError(t, os.WriteFile(filepath.Join(dir, "sheet.html"), []byte(sheet.String()), 0o644))
	}
}
