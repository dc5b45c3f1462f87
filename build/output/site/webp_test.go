package site

import (
	"image"
	_ "image/png"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
)

// TestWebPIsShown: a WebP keeps the name that its case gives it, is PNG by its bytes, and
// is shown from a file, from a server that names its type, and on a sheet.
func TestWebPIsShown(t *testing.T) {
	webp, err := os.ReadFile(filepath.Join("..", "picture", "testdata", "webp", "lossy.webp"))
	require.NoError(t, err)
	dir := t.TempDir()
	write(t, dir, "notebook.yaml", "name: W\n")
	write(t, dir, "cases/2026-0001-a.md", "---\ncase: 2026-0001\ntitle: Dead\ndevice: {kind: lamp, maker: W, model: L1}\nopened: 2026-01-02\nsymptoms: [no-power]\nphotos: [{file: a.webp, caption: A}]\n---\n## Symptom\n\nDead.\n")
	write(t, dir, "cases/2026-0001/a.webp", string(webp)+"PLANTED")
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	file, err := os.Open(filepath.Join(out, "photos", "2026-0001", "a.webp"))
	require.NoError(t, err)
	c, kind, err := image.DecodeConfig(file)
	require.NoError(t, err)
	require.NoError(t, file.Close())
	assert.Equal(t, []any{"png", 24, 17}, []any{kind, c.Width, c.Height})
	original, err := os.ReadFile(filepath.Join(dir, "cases/2026-0001/a.webp"))
	require.NoError(t, err)
	assert.Equal(t, string(webp)+"PLANTED", string(original), "the notebook keeps what it had")

	root, err := os.OpenRoot(out)
	require.NoError(t, err)
	defer root.Close()
	server := httptest.NewServer(handler(root, map[string]bool{"cases/2026-0001.html": true, "photos/2026-0001/a.webp": true,
		"assets/bench.css": true}))
	defer server.Close()
	answer, err := http.Get(server.URL + "/photos/2026-0001/a.webp")
	require.NoError(t, err)
	answer.Body.Close()
	assert.Equal(t, "image/png", answer.Header.Get("Content-Type"))

	b := startBrowser(t)
	for _, address := range []string{fileURL(out, "cases/2026-0001.html"), server.URL + "/cases/2026-0001.html"} {
		b.Do(t, chromedp.Navigate(address))
		_ = eval[any](t, b, `(document.querySelectorAll("img").forEach((i) => { i.loading = "eager"; }), null)`)
		waitFor(t, b, `document.querySelector("figure img").complete`)
		assert.Equal(t, 24, eval[int](t, b, `document.querySelector("figure img").naturalWidth`), address)
	}
}
