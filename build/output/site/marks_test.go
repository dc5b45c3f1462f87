package site

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
)

// TestMarksLieOnTheirTargets: on pictures of every size, on every screen and in print, the
// middle of a mark is within 2 px of its share of the picture as it is shown, and the
// picture is as wide as its file or its column, whichever is less.
func TestMarksLieOnTheirTargets(t *testing.T) {
	b := startBrowser(t)
	dir := t.TempDir()
	write(t, dir, "notebook.yaml", "name: W\n")
	widths := []int{300, 640, 900, 2000, 4000}
	photos := ""
	for _, w := range widths {
		img := image.NewGray(image.Rect(0, 0, w, w*3/5))
		for i := range img.Pix {
			img.Pix[i] = uint8(i / 7 % 200)
		}
		img.Set(0, 0, color.White)
		var out bytes.Buffer
		require.NoError(t, jpeg.Encode(&out, img, nil))
		require.NoError(t, os.MkdirAll(filepath.Join(dir, "cases/2026/2026-0001"), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "cases/2026/2026-0001", fmt.Sprintf("p%d.jpg", w)), out.Bytes(), 0o644))
		photos += fmt.Sprintf("  - {file: p%d.jpg, caption: A board %d wide, marks: [{x: 0.8, y: 0.3, label: R1}, {x: 0.1, y: 0.9, label: C1}]}\n", w, w)
	}
	write(t, dir, "cases/2026/2026-0001-a.md",
		"---\ncase: 2026-0001\ntitle: Dead\ndevice: {kind: lamp, maker: W, model: L1}\nopened: 2026-01-02\nsymptoms: [no-power]\nphotos:\n"+photos+"---\n## Symptom\n\nDead.\n")
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	type shown struct {
		Name                      string
		Width, Height, Own, Ratio float64
		Column                    float64
		Marks                     [][2]float64
	}
	measure := func() (list []shown) {
		return eval[[]shown](t, b, `[...document.querySelectorAll("figure .picture")].map((p) => {
			const img = p.querySelector("img"), r = img.getBoundingClientRect();
			return { Name: img.getAttribute("src"), Width: r.width, Height: r.height, Own: Number(img.getAttribute("width")), Ratio: img.naturalWidth / img.naturalHeight, Column: p.parentElement.clientWidth,
				Marks: [...p.querySelectorAll(".mark-pin")].map((c) => { const m = c.getBoundingClientRect(); return [m.left + m.width / 2 - r.left, m.top + m.height / 2 - r.top]; }) };
		})`)
	}
	for _, screen := range []int64{320, 390, 1280} {
		for _, density := range []float64{1, 2, 3} {
			for _, media := range []string{"screen", "print"} {
				b.Do(t, chromedp.EmulateViewport(screen, 900, chromedp.EmulateScale(density)),
					command(emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: media}),
					chromedp.Navigate(fileURL(out, "cases/2026-0001.html")))
				_ = eval[any](t, b, `(document.querySelectorAll("img").forEach((i) => { i.loading = "eager"; }), null)`)
				waitFor(t, b, `[...document.images].every((i) => i.complete && i.naturalWidth > 0)`)
				list := measure()
				require.Len(t, list, len(widths))
				for _, p := range list {
					at := fmt.Sprintf("%s at %d px, %gx, %s", p.Name, screen, density, media)
					assert.InDelta(t, min(p.Own, p.Column), p.Width, 2.5, at)
					assert.InDelta(t, p.Width/p.Height, p.Ratio, 0.02, at)
					require.Len(t, p.Marks, 2)
					for i, want := range [][2]float64{{0.8, 0.3}, {0.1, 0.9}} {
						off := math.Hypot(p.Marks[i][0]-want[0]*p.Width, p.Marks[i][1]-want[1]*p.Height)
						assert.LessOrEqual(t, off, 2.0, "%s: mark %d is %.1f px off", at, i+1, off)
					}
				}
			}
		}
	}
	b.Do(t, command(emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{}))
	for _, w := range widths[2:] { // the widths that are promised are the true ones
		c, err := os.ReadFile(filepath.Join(out, "cases/2026-0001.html"))
		require.NoError(t, err)
		file, err := os.Open(filepath.Join(out, "photos/2026-0001", fmt.Sprintf("p%d.jpg", w)))
		require.NoError(t, err)
		size, _, err := image.DecodeConfig(file)
		require.NoError(t, err)
		require.NoError(t, file.Close())
		assert.Contains(t, string(c), fmt.Sprintf("p%d.jpg %dw", w, size.Width))
	}
}
