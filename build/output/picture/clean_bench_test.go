package picture

import (
	"bytes"
	"image"
	"image/color"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkClean writes pictures anew as publishing does, beside a plain decode of the
// same bytes, in megapixels a second.
func BenchmarkClean(b *testing.B) {
	shot := image.NewNRGBA(image.Rect(0, 0, 1600, 1000)) // a screen: areas, edges, lines of letters
	for y := range 1000 {
		for x := range 1600 {
			v := uint8(240)
			if y/20%2 == 0 && (x*7+y*13)%11 < 3 && x%400 > 40 {
				v = 30
			}
			shot.SetNRGBA(x, y, color.NRGBA{v, v, v - uint8(x/400), 255})
		}
	}
	drawing, err := os.ReadFile(filepath.Join("..", "..", "..", "cases", "notebook", "cases", "2025", "2025-0020", "station.svg"))
	require.NoError(b, err)
	for _, c := range []struct {
		name, file string
		data       []byte
	}{
		{"photo, whole blocks", "a.jpg", jpegOf(b, photo(2048, 1536), 85)},
		{"photo, part of a block", "a.jpg", jpegOf(b, photo(2046, 1534), 85)},
		{"photo as PNG", "a.png", pngOf(b, photo(1024, 768))},
		{"screen", "a.png", pngOf(b, shot)},
		{"drawing", "a.svg", drawing},
	} {
		size, _, err := image.DecodeConfig(bytes.NewReader(c.data))
		mega := func(b *testing.B) {
			if err == nil {
				b.ReportMetric(float64(size.Width)*float64(size.Height)*float64(b.N)/1e6/b.Elapsed().Seconds(), "Mpx/s")
			}
		}
		b.Run(c.name+"/clean", func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				_, err := Clean(c.file, c.data)
				require.NoError(b, err)
			}
			mega(b)
		})
		if err != nil {
			continue
		}
		b.Run(c.name+"/decode", func(b *testing.B) {
			for b.Loop() {
				_, _, err := image.Decode(bytes.NewReader(c.data))
				require.NoError(b, err)
			}
			mega(b)
		})
	}
}
