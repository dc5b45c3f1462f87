package picture

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	xdraw "golang.org/x/image/draw"
)

// TestRotated: where the first dot of the first row and the last of it come to lie, by the
// words of Exif 2.3 (JEITA CP-3451C) for the tag Orientation: the 0th row is at the
// visual top, bottom, left or right, and so the 0th column.
func TestRotated(t *testing.T) {
	const w, h = 5, 3
	src := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			src.SetRGBA(x, y, color.RGBA{uint8(x), uint8(y), 9, 255})
		}
	}
	for o, want := range map[int]struct{ row, column string }{
		0: {"top", "left"}, 1: {"top", "left"}, 2: {"top", "right"}, 3: {"bottom", "right"}, 4: {"bottom", "left"},
		5: {"left", "top"}, 6: {"right", "top"}, 7: {"right", "bottom"}, 8: {"left", "bottom"},
	} {
		got := rotated(src, o)
		b := got.Bounds()
		assert.Equal(t, o >= 5, b.Dx() == h && b.Dy() == w, "%d: %v", o, b)
		at := func(x, y int) [2]int {
			r, g, _, _ := got.At(b.Min.X+x, b.Min.Y+y).RGBA()
			return [2]int{int(r >> 8), int(g >> 8)}
		}
		edge := map[string]func(i int) [2]int{
			"top": func(i int) [2]int { return at(i, 0) }, "bottom": func(i int) [2]int { return at(i, b.Dy()-1) },
			"left": func(i int) [2]int { return at(0, i) }, "right": func(i int) [2]int { return at(b.Dx()-1, i) },
		}
		for i := range w {
			assert.Equal(t, 0, edge[want.row](i)[1], "%d: the 0th row is at the %s", o, want.row)
		}
		for i := range h {
			assert.Equal(t, 0, edge[want.column](i)[0], "%d: the 0th column is at the %s", o, want.column)
		}
	}
}

// noise is a picture with large and small things in it.
func noise(w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	r := rand.New(rand.NewPCG(4, 4))
	for y := range h {
		for x := range w {
			v := 128 + 60*math.Sin(float64(x)/17)*math.Cos(float64(y)/23) + 20*r.Float64()
			if (x/40+y/30)%5 == 0 {
				v = 255 - v
			}
			img.SetRGBA(x, y, color.RGBA{uint8(v), uint8(v / 2), uint8(255 - v), 255})
		}
	}
	return img
}

// TestResize: close to what the library's own kernel makes of the whole picture at once,
// which needs 32 bytes of memory for each dot between, and even where the picture is even.
func TestResize(t *testing.T) {
	src := noise(1600, 1200)
	for _, width := range []int{1500, 900, 333, 200, 64} {
		height := width * 3 / 4
		want := image.NewRGBA(image.Rect(0, 0, width, height))
		xdraw.CatmullRom.Scale(want, want.Rect, src, src.Rect, xdraw.Src, nil)
		got := resize(src, width, height)
		assert.Equal(t, want.Rect, got.Rect)
		sum := 0.0
		for i := range got.Pix {
			d := float64(got.Pix[i]) - float64(want.Pix[i])
			sum += d * d
		}
		decibel := 10 * math.Log10(255*255/(sum/float64(len(got.Pix))))
		t.Logf("%d: %.1f dB", width, decibel)
		assert.Greater(t, decibel, 30.0, "%d", width)
	}
	require.Greater(t, 1500*1200, mostBetween, "the largest goes dot by dot")
	even := image.NewUniform(color.RGBA{90, 120, 200, 255})
	flat := image.NewRGBA(image.Rect(0, 0, 101, 77))
	xdraw.Draw(flat, flat.Rect, even, image.Point{}, xdraw.Src)
	for _, p := range []image.Point{{0, 0}, {20, 7}, {29, 21}} {
		assert.Equal(t, color.RGBA{90, 120, 200, 255}, resize(flat, 30, 22).RGBAAt(p.X, p.Y))
	}
}

// BenchmarkResize scales a photo of 12 million dots as it is taken in, beside the library's
// kernel over the whole picture.
func BenchmarkResize(b *testing.B) {
	src := noise(4000, 3000)
	b.Run(fmt.Sprint("ours to ", MaxSide), func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			resize(src, MaxSide, MaxSide*3/4)
		}
	})
	b.Run("whole at once", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			out := image.NewRGBA(image.Rect(0, 0, MaxSide, MaxSide*3/4))
			xdraw.CatmullRom.Scale(out, out.Rect, src, src.Rect, xdraw.Src, nil)
		}
	})
}
