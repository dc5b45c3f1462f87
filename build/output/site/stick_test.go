package site

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	testbrowser "benchlore/build/testkit/browser"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestFromAStick copies the site elsewhere and searches it without network, in
// a phone-sized window, with a keyboard alone, and looks at what a screen
// reader is given.
func TestFromAStick(t *testing.T) {
	b := startBrowser(t)
	made := filepath.Join(t.TempDir(), "site")
	publish(t, example(t), made)
	stick := filepath.Join(t.TempDir(), "stick with spaces", "notes")
	require.NoError(t, os.MkdirAll(filepath.Dir(stick), 0o755))
	require.NoError(t, os.CopyFS(stick, os.DirFS(made)))
	require.NoError(t, os.RemoveAll(made))
	b.Do(t, command(network.OverrideNetworkState,
		network.OverrideNetworkStateParams{Offline: true, Latency: 0, DownloadThroughput: -1, UploadThroughput: -1}),
		chromedp.EmulateViewport(390, 700), chromedp.Navigate(fileURL(strings.ReplaceAll(stick, " ", "%20"), "search.html")))
	focus := func() string {
		return eval[string](t, b, `(() => { const e = document.activeElement; return e.id || e.className || e.textContent.trim(); })()`)
	}
	press := func(keys string) { b.Do(t, chromedp.KeyEvent(keys)) }
	press("\t")
	assert.Equal(t, "skip", focus(), "the way past the navigation comes first")
	for range 20 {
		if focus() == "q" {
			break
		}
		press("\t")
	}
	require.Equal(t, "q", focus())
	press("capacitor hu")
	waitFor(t, b, `!document.getElementById("offers").hidden`)
	press("\t") // the search button
	press("\t") // the first known word
	assert.Equal(t, "Hum or buzz in the sound", focus())
	press("\r")
	waitFor(t, b, `document.getElementById("q").value === "capacitor Hum or buzz in the sound" && document.getElementById("status").textContent.includes("Read as")`)
	assert.Equal(t, "q", focus(), "one goes on typing")
	require.Greater(t, eval[int](t, b, `document.querySelectorAll("#results li").length`), 1)
	assert.NotZero(t, eval[int](t, b, `document.querySelectorAll("#results mark").length`))
	b.Shot(t, "stick")

	// What a screen reader is given: a search landmark with a named field, a live
	// status, and a list of links.
	tree, err := chromedp.Run(b.Ctx, func(ctx context.Context, target *chromedp.Target) (accessibility.GetFullAXTreeResult, error) {
		return cdp.Call(ctx, target, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
	})
	require.NoError(t, err)
	roles := map[string][]string{}
	for _, n := range tree.Nodes {
		if n.Role != nil && !n.Ignored {
			name := ""
			if n.Name != nil {
				name = strings.Trim(string(n.Name.Value), `"`)
			}
			role := strings.Trim(string(n.Role.Value), `"`)
			roles[role] = append(roles[role], name)
		}
	}
	assert.NotEmpty(t, roles["search"])
	assert.Contains(t, roles["searchbox"], "What does it do, or not do?")
	assert.NotEmpty(t, roles["status"])
	assert.NotEmpty(t, roles["list"])

	// On to a result and its page.
	for range 40 {
		if strings.HasPrefix(focus(), "20") {
			break
		}
		press("\t")
	}
	require.True(t, strings.HasPrefix(focus(), "20"), focus())
	press("\r")
	waitFor(t, b, `document.querySelector("article") !== null`)
	for _, r := range b.Requests {
		assert.True(t, strings.HasPrefix(r, "file:"), r)
	}
	assert.Empty(t, b.Problems)
}

// TestMoreResults: ten at first, more by a button that keeps the place.
func TestMoreResults(t *testing.T) {
	b := startBrowser(t)
	out := published(t)
	b.Do(t, chromedp.Navigate(fileURL(out, "search.html#q=voltage")))
	waitFor(t, b, `!document.getElementById("more").hidden`)
	assert.Equal(t, 10, eval[int](t, b, `document.querySelectorAll("#results li").length`))
	b.Do(t, chromedp.Click(chromedp.CSS("#more")))
	waitFor(t, b, `document.querySelectorAll("#results li").length > 10 && document.activeElement.closest("#results") !== null`)
}

// TestDamagedIndexIsSaid: the page names what is damaged, and axe-core finds
// nothing wrong with how.
func TestDamagedIndexIsSaid(t *testing.T) {
	axe, err := os.ReadFile(testbrowser.Tool(t, "axe-core/axe.min.js"))
	require.NoError(t, err)
	b := startBrowser(t)
	for name, damage := range map[string]func(path string) error{
		"missing": os.Remove,
		"altered": func(path string) error {
			data, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			return os.WriteFile(path, []byte(strings.Replace(string(data), "hum", "hun", 1)), 0o644)
		},
		"cut short": func(path string) error { return os.Truncate(path, 40) },
	} {
		t.Run(name, func(t *testing.T) {
			out := published(t)
			shards, err := filepath.Glob(filepath.Join(out, "search", "w-*.js"))
			require.NoError(t, err)
			for _, path := range shards {
				require.NoError(t, damage(path))
			}
			b.Do(t, chromedp.Navigate("about:blank"), chromedp.Navigate(fileURL(out, "search.html#q=hum")))
			waitFor(t, b, `document.getElementById("status").textContent.includes("Publish the site again")`)
			assert.Regexp(t, `search/w-[0-9a-f]*\.js`, eval[string](t, b, `document.getElementById("status").textContent`))
			_ = eval[any](t, b, string(axe)+"; null")
			assert.Equal(t, 0, eval[int](t, b,
				`axe.run(document, {resultTypes: ["violations"], preload: false}).then(r => r.violations.length)`))
		})
	}
}

// TestAbsurdQueries: the page stands whatever is put into its field.
func TestAbsurdQueries(t *testing.T) {
	b := startBrowser(t)
	out := published(t)
	b.Do(t, chromedp.Navigate(fileURL(out, "search.html")))
	for _, script := range []string{`"a".repeat(100000)`, `"hum ".repeat(25000)`, `"!?;:,.()[]{}".repeat(50)`,
		`"\u202e\u0645\u0631\u062d\u0628\u0627 hum"`, `"e\u0301\u0301\u0301".repeat(400)`,
		`"<img src=x onerror=document.title='fired'>"`, `"\ud83d\ude42".repeat(300)`, `"\ud800 half"`, `"constructor __proto__ toString"`} {
		_ = eval[any](t, b, `(() => { const q = document.getElementById("q"); q.value = `+script+
			`; document.getElementById("status").textContent = ""; q.form.requestSubmit(); })()`)
		waitFor(t, b, `document.getElementById("status").textContent !== ""`)
		assert.NotContains(t, eval[string](t, b, `document.getElementById("status").textContent`), "damaged", script)
		assert.Zero(t, eval[int](t, b, `document.querySelectorAll("main img").length`))
	}
	assert.NotEqual(t, "fired", eval[string](t, b, `document.title`))
	assert.Empty(t, b.Problems)
}
