package site

import (
	"context"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// TestPictures makes the pictures of the README from the example notebook where
// BENCHLORE_PICTURES names a folder.
func TestPictures(t *testing.T) {
	dir := os.Getenv("BENCHLORE_PICTURES")
	if dir == "" {
		t.Skip("BENCHLORE_PICTURES names no folder")
	}
	require.NoError(t, os.MkdirAll(dir, 0o755))
	b := startBrowser(t)
	out := published(t)
	for _, p := range []struct{ name, page, ready, show string }{
		{"home", "index.html", `true`, "body"}, {"case", "cases/2025-0010.html", `true`, "#s3"},
		{"triage", "triage.html#has=hum&device=tarnwick-a40", `document.querySelectorAll("#checks li").length > 0`, "#answer"},
		{"practise", "practise.html#2025-0005", `document.querySelectorAll("#bench .pick").length > 0`, "#bench"},
		{"board", "boards/uldra-n8/n8-main-rev-4.html#ref=U4&photo=1", `document.querySelector("#side-top image") !== null`,
			".board-side:not([hidden])"},
	} {
		b.Scheme(t, "light")
		b.Do(t, chromedp.EmulateViewport(1000, 700), chromedp.Navigate("about:blank"), chromedp.Navigate(fileURL(out, p.page)))
		waitFor(t, b, p.ready)
		// What the caption names is what the picture shows.
		_ = eval[any](t, b, `document.querySelector(`+strconv.Quote(p.show)+`).scrollIntoView({block: "`+
			map[bool]string{true: "end", false: "start"}[p.name == "board"]+`"})`)
		ctx, cancel := context.WithTimeout(b.Ctx, time.Minute)
		png, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
		cancel()
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, p.name+".png"), png, 0o644))
	}
}
