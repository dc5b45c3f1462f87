package site

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/reason/figures"
)

// withReceived is the example with so many cases of another workshop beside its own, which
// are the example's under other names.
func withReceived(t testing.TB, count int) *notebook.Notebook {
	t.Helper()
	n := example(t)
	id, back := regexp.MustCompile(`(?m)^case: .*$`), regexp.MustCompile(`(?m)^returns: .*\n`)
	var plain []*notebook.Case // without pictures
	for _, c := range n.Cases {
		if _, err := os.Stat(filepath.Join(n.Dir, filepath.FromSlash(c.PhotoDir()))); err != nil {
			plain = append(plain, c)
		}
	}
	for i := range count {
		c := plain[i%len(plain)]
		text, err := os.ReadFile(filepath.Join(n.Dir, filepath.FromSlash(c.Path)))
		require.NoError(t, err)
		name := fmt.Sprintf("quay-2026-%04d", i)
		out := back.ReplaceAllString(id.ReplaceAllString(string(text), "case: "+name+"\nfrom: quay"), "")
		write(t, n.Dir, "cases/from-quay/2026/"+name+".md", out)
	}
	return load(t, n.Dir)
}

// TestWhoseIsIt: a received case names its workshop, its author and its licence on its
// page and in the feed, every page says that our own licence is for our own notes, and what
// has no stated licence says so.
func TestWhoseIsIt(t *testing.T) {
	t.Parallel()
	n := withReceived(t, 2)
	read := func(out, name string) string {
		text, err := os.ReadFile(filepath.Join(out, name))
		require.NoError(t, err)
		return string(text)
	}
	const theirs = "cases/quay-2026-0000.html"
	out := filepath.Join(t.TempDir(), "unknown")
	publish(t, n, out)
	assert.Contains(t, read(out, theirs), "A case of quay; its licence is not stated. Written by RK.")
	assert.Contains(t, read(out, "index.html"), "Includes cases of quay; its licence is not stated.")
	assert.Contains(t, read(out, "index.html"), "Licence of our own notes: ")

	write(t, n.Dir, "received/quay.json", `{"origin": {"id": "quay", "name": "Quay & Sons"}, "licence": "CC BY-NC-SA 4.0"}`)
	publish(t, load(t, n.Dir), out)
	assert.Contains(t, read(out, theirs), "A case of Quay &amp; Sons, under CC BY-NC-SA 4.0. Written by RK.")
	assert.Contains(t, read(out, "cases/2026-0001.html"), "Includes cases of Quay &amp; Sons (CC BY-NC-SA 4.0).")
	assert.NotContains(t, read(out, "cases/2026-0001.html"), "A case of")

	feed := filepath.Join(t.TempDir(), "feed")
	few := load(t, n.Dir)
	few.Cases = few.Cases[len(few.Cases)-4:]
	publish(t, few, feed)
	assert.Contains(t, read(feed, "feed.xml"), "<rights>CC BY-NC-SA 4.0</rights>")
	assert.Contains(t, read(published(t), "index.html"), "Licence of the notes: ")
}

// TestOursBeforeTheirs: with a thousand cases of another workshop the first page, the page
// of practice and the figures are this workshop's own; the others stand apart and open with
// the keyboard, on the first page and in the figures without a script.
func TestOursBeforeTheirs(t *testing.T) {
	t.Parallel()
	n := withReceived(t, 1000)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	b := startBrowser(t)
	b.Do(t, chromedp.EmulateViewport(1280, 800), chromedp.Navigate(fileURL(out, "practise.html")))
	waitFor(t, b, `document.querySelectorAll("#their-exercises li").length > 0`)
	own := len(example(t).Cases)
	alone := eval[[]string](t, b, `[...document.querySelectorAll("#exercises a")].map((a) => a.hash)`)
	assert.NotEmpty(t, alone)
	for _, hash := range alone {
		assert.NotContains(t, hash, "quay")
	}
	assert.Less(t, eval[float64](t, b, `document.documentElement.scrollHeight`), 4000.0)
	assert.False(t, eval[bool](t, b, `document.getElementById("others").open`))
	_ = eval[any](t, b, `document.querySelector("#others summary").focus()`)
	b.Do(t, chromedp.KeyEvent("\r"))
	waitFor(t, b, `document.getElementById("others").open`)
	assert.Greater(t, eval[int](t, b, `document.querySelectorAll("#their-exercises li").length`), 5*len(alone))
	_ = eval[any](t, b, `document.getElementById("next").click()`)
	waitFor(t, b, `location.hash.length > 1`)
	assert.NotContains(t, eval[string](t, b, `location.hash`), "quay", "one of our own comes next")

	page := func(name string) string {
		text, err := os.ReadFile(filepath.Join(out, name))
		require.NoError(t, err)
		return string(text)
	}
	parts := strings.Split(page("index.html"), "Newest of other workshops")
	require.Len(t, parts, 2)
	assert.NotContains(t, parts[0], "quay-", "on the bench and newest are our own")
	assert.Contains(t, parts[1], "quay-")
	assert.Contains(t, parts[0], "1000 cases of other workshops beside them")
	assert.Contains(t, parts[0], fmt.Sprintf("%d cases, ", own))

	f := figures.Of(n)
	assert.Equal(t, []int{own, 1000}, []int{f.Cases, f.Theirs})
	for _, id := range f.Open {
		assert.NotContains(t, id, "quay")
	}
	figure := strings.Split(page("figures.html"), "<details class=\"list\"")
	require.Len(t, figure, 2)
	assert.NotContains(t, figure[0], "quay-")
	assert.Contains(t, figure[1], "<dd>1000</dd>")
	assert.Equal(t, figures.Of(example(t)).Months, f.Months, "the figures are as if nothing had been received")
	assert.Empty(t, b.Problems)
}
