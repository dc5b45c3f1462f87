package site

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/reason/figures"
	"benchlore/build/reason/triage"
)

// TestRowsOnAPhone: on a narrow screen every cell of a table lies inside it, each but the
// first says what it is, and what a row says comes before its name; on a wide screen the
// same is a table.
func TestRowsOnAPhone(t *testing.T) {
	b := startBrowser(t)
	out := published(t)
	const cells = `[...document.querySelectorAll(".rows tbody td, .rows tbody th")].filter((c) => c.textContent.trim() !== "")`
	for _, page := range []string{"cases/2025-0005.html", "cases/2025-0002.html", "devices/tarnwick-a40.html",
		"devices/aldermoor-hb4.html"} {
		for _, width := range []int64{320, 390} {
			b.Do(t, chromedp.EmulateViewport(width, 844), chromedp.Navigate(fileURL(out, page)))
			waitFor(t, b, `document.querySelector(".rows") !== null`)
			assert.Empty(t, eval[[]string](t, b,
				cells+`.filter((c) => { const r = c.getBoundingClientRect(); return r.left < 0 || r.right > innerWidth + 0.5; }).map((c) => c.textContent)`), "%s at %d", page, width)
			assert.Empty(t, eval[[]string](t, b,
				cells+`.filter((c) => c.tagName === "TD" && !c.classList.contains("said") && !getComputedStyle(c, "::before").content.includes(c.dataset.label ?? "-")).map((c) => c.textContent)`), page)
			assert.True(t, eval[bool](t, b,
				`[...document.querySelectorAll(".rows tr:has(td.said)")].every((r) => { const s = r.querySelector("td.said"), n = r.querySelector("th"); if (!n || s.textContent.trim() === "") return true; const a = s.getBoundingClientRect(), c = n.getBoundingClientRect(); return a.top < c.top - 1 || a.left <= c.left; })`), page)
			assert.Zero(t, eval[float64](t, b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`), page)
		}
		b.Do(t, chromedp.EmulateViewport(1280, 900))
		assert.Equal(t, "table-row", eval[string](t, b, `getComputedStyle(document.querySelector(".rows tbody tr")).display`))
	}
}

// TestFewRepairsAreNoCurve: a line is drawn only through as many repairs as say something.
func TestFewRepairsAreNoCurve(t *testing.T) {
	s := newSite(example(t))
	drawn, few := 0, 0
	for _, h := range figures.Of(s.n).Holds {
		if len(h.Curve) == 0 {
			continue
		}
		v := s.curve(h)
		assert.NotEmpty(t, v.Rows)
		assert.Equal(t, h.Watched >= triage.FewCases, v.Drawing != "", v.Name)
		if v.Drawing != "" {
			drawn++
		} else {
			few++
		}
	}
	assert.Positive(t, drawn+few)
}

// TestCurrentPage: a page of the bar says in it where one is, once; others do not.
func TestCurrentPage(t *testing.T) {
	out := published(t)
	for page, want := range map[string]string{"search.html": "Search", "triage.html": "Triage", "cases.html": "Cases",
		"symptoms.html": "Symptoms", "devices.html": "Devices", "faults.html": "Faults", "parts.html": "Parts",
		"reckon.html": "Calculate", "figures.html": "Figures", "path.html": "First weeks",
		"practise.html": "Practise", "cautions.html": "Cautions", "words.html": "Words", "cases/2025-0002.html": "", "index.html": ""} {
		src, err := os.ReadFile(filepath.Join(out, filepath.FromSlash(page)))
		require.NoError(t, err)
		if want == "" {
			assert.NotContains(t, string(src), "aria-current", page)
			continue
		}
		assert.Equal(t, 1, strings.Count(string(src), "aria-current"), page)
		assert.Contains(t, string(src), `href="`+page+`" aria-current="page">`+want+`</a>`, page)
	}
}

// TestPicturesBeforeTheOutcome: what was seen stands before what was made of it, once; a case
// without an outcome has its pictures last.
func TestPicturesBeforeTheOutcome(t *testing.T) {
	n := example(t)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	seen := 0
	for _, c := range n.Cases {
		src, err := os.ReadFile(filepath.Join(out, filepath.FromSlash(casePath(c))))
		require.NoError(t, err)
		pictures := strings.Index(string(src), `<section id="pictures">`)
		if len(c.File.Case.Photos) == 0 {
			assert.Equal(t, -1, pictures)
			continue
		}
		seen++
		assert.Equal(t, 1, strings.Count(string(src), `<section id="pictures">`), c.ID())
		if at := strings.Index(string(src), "<h2>Outcome</h2>"); at >= 0 {
			assert.Less(t, pictures, at, c.ID())
			assert.Greater(t, pictures, strings.Index(string(src), "<h2>Symptom</h2>"), c.ID())
		}
	}
	assert.Positive(t, seen)
}

// TestTriageThis: pages lead to Triage with what they are about filled in.
func TestTriageThis(t *testing.T) {
	out := published(t)
	for page, want := range map[string]string{
		"devices/tarnwick-a40.html": `href="../triage.html#device=tarnwick-a40"`,
		"symptoms/hum.html":         `href="../triage.html#has=hum"`,
		"cases/2025-0002.html":      `href="../triage.html#device=tarnwick-a40&amp;has=hum"`,
	} {
		src, err := os.ReadFile(filepath.Join(out, filepath.FromSlash(page)))
		require.NoError(t, err)
		assert.Contains(t, string(src), want, page)
	}
}
