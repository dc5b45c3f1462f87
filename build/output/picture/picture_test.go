package picture

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/rwcarlsen/goexif/exif"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestRefused: what cannot be decoded, or would run or load something, is refused with
// its name.
func TestRefused(t *testing.T) {
	for _, c := range []struct{ name, data, says string }{
		{"a.png", "GIF89a", "GIF"}, {"a.gif", "GIF89a", "GIF"}, {"a.jpg", "\xff\xd8\xff", "cannot be decoded"},
		{"b.webp", "RIFF", "whole picture"}, {"a.png", "BM123456", "BMP"}, {"a.bmp", "BM123456", "BMP"},
		{"a.tif", "II*\x00", "TIFF"}, {"a.jpg", "\x00\x00\x00\x18ftypheic", "HEIC"}, {"a.jpg", "\x00\x00\x00\x18ftypavif", "AVIF"},
		{"a.jxl", "\xff\x0a", "JPEG XL"}, {"a.jp2", "\x00\x00\x00\x0cjP  ", "JPEG 2000"}, {"a.xyz", "?", "XYZ"}, {"a", "?", "unknown kind"},
		{"a.jpg", "\x89PNG\r\n\x1a\n", "give it the ending .png"}, {"a.png", "\xff\xd8\xff", "give it the ending .jpg"},
		{"a.svg", "\x89PNG\r\n\x1a\n", "give it the ending .png"}, {"a.png", "<svg/>", "whole picture"},
		{"script.svg", `<svg><script/></svg>`, "nothing is drawn"}, {"event.svg", `<svg onload="x"/>`, "nothing is drawn"},
		{"link.svg", `<svg><a href="javascript:x"/></svg>`, "<a>"}, {"use.svg", `<svg><use href="http://x"/></svg>`, "<use>"},
		{"css.svg", `<svg><rect fill="url(http://x)"/></svg>`, "outside"}, {"style.svg", `<svg><style>@import 'x'</style></svg>`, "<style>"},
		{"gradient.svg", `<svg><linearGradient xlink:href="#a"/></svg>`, "refers to something else"},
		{"filter.svg", `<svg><rect width="9" height="9" filter="url(#a)"/></svg>`, "filter"},
		{"calc.svg", `<svg><rect width="calc(1px)" height="9"/></svg>`, "width"},
		{"doctype.svg", `<!DOCTYPE svg [<!ENTITY a "b">]><svg/>`, "document type"}, {"open.svg", `<svg><g>`, "cannot be read"},
		{"none.svg", ``, "whole picture"}, {"html.svg", `<html/>`, "<html>"}, {"foreign.svg", `<svg><foreignObject/></svg>`, "<foreignObject>"},
		{"deep.svg", "<svg>" + strings.Repeat("<g>", 200) + strings.Repeat("</g>", 200) + "</svg>", "levels"},
	} {
		_, err := Clean(c.name, []byte(c.data))
		if assert.Error(t, err, c.name) {
			assert.Contains(t, err.Error(), c.says, c.name)
		}
	}
	_, err := Clean("a.png", make([]byte, MaxBytes+1))
	assert.ErrorContains(t, err, "at most")
}

// camera is a JPEG as a camera writes it: an orientation, a position, a serial
// number and a comment. The left half is red, the right one blue, before it is
// turned.
func camera(t testing.TB, orientation uint16) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 64, 32))
	for x := range 64 {
		for y := range 32 {
			img.Set(x, y, color.RGBA{uint8(255 * (1 - x/32)), 0, uint8(255 * (x / 32)), 255})
		}
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}))
	// TIFF, little endian: IFD0 with make, orientation, serial number (in the
	// comment field, since the tag for it sits in a sub-IFD) and a GPS directory.
	le := binary.LittleEndian
	var tiff []byte
	u16 := func(v uint16) { tiff = le.AppendUint16(tiff, v) }
	u32 := func(v uint32) { tiff = le.AppendUint32(tiff, v) }
	tiff = append(tiff, "II*\x00"...)
	u32(8)
	u16(4)
	entry := func(tag, kind uint16, count, value uint32) { u16(tag); u16(kind); u32(count); u32(value) }
	const after = 8 + 2 + 4*12 + 4
	entry(0x010F, 2, 12, after)              // Make
	entry(0x0112, 3, 1, uint32(orientation)) // Orientation
	entry(0x0131, 2, 16, after+12)           // Software
	entry(0x8825, 4, 1, after+28)            // GPS directory
	u32(0)
	tiff = append(tiff, "VelmCamera\x00\x00"...)
	tiff = append(tiff, "Serial-4711-xyz\x00"...)
	u16(4)
	entry(1, 2, 2, uint32('N'))
	entry(2, 5, 3, after+28+2+4*12+4)
	entry(3, 2, 2, uint32('W'))
	entry(4, 5, 3, after+28+2+4*12+4+24)
	u32(0)
	for _, v := range []uint32{53, 1, 20, 1, 30, 1, 6, 1, 15, 1, 45, 1} {
		u32(v)
	}
	segment := append([]byte("Exif\x00\x00"), tiff...)
	out := append([]byte{0xFF, 0xD8, 0xFF, 0xE1}, byte((len(segment)+2)>>8), byte(len(segment)+2))
	out = append(out, segment...)
	comment := "Serial-4711-xyz in a comment"
	out = append(out, 0xFF, 0xFE, 0, byte(len(comment)+2))
	out = append(out, comment...)
	return append(out, b.Bytes()[2:]...)
}

// TestMetadataGoes reads the camera's file and what is kept of it with another
// reader of EXIF.
func TestMetadataGoes(t *testing.T) {
	for o := uint16(1); o <= 8; o++ {
		src := camera(t, o)
		x, err := exif.Decode(bytes.NewReader(src))
		require.NoError(t, err)
		lat, long, err := x.LatLong()
		require.NoError(t, err, "the position is there")
		assert.InDelta(t, 53.3417, lat, 0.001)
		assert.InDelta(t, -6.2625, long, 0.001)
		taken, err := Take(src)
		require.NoError(t, err)
		cleaned, err := Clean("a.jpg", src)
		require.NoError(t, err)
		for name, out := range map[string][]byte{"take": taken.Data, "clean": cleaned} {
			_, err = exif.Decode(bytes.NewReader(out))
			assert.Error(t, err, "%s: no EXIF is left", name)
			for _, secret := range []string{"Serial-4711", "VelmCamera", "Exif", "GPS"} {
				assert.NotContains(t, string(out), secret, name)
			}
			img, err := jpeg.Decode(bytes.NewReader(out))
			require.NoError(t, err)
			tall := o >= 5
			assert.Equal(t, tall, img.Bounds().Dy() > img.Bounds().Dx(), "%s: orientation %d", name, o)
			// Where red is once it is upright (JEITA CP-3451, figure of the
			// eight orientations): left, right, right, left, top, top, bottom, bottom.
			at := map[uint16]image.Point{1: {8, 16}, 2: {56, 16}, 3: {56, 16}, 4: {8, 16}, 5: {16, 8}, 6: {16, 8},
				7: {16, 56}, 8: {16, 56}}[o]
			r, _, blue, _ := img.At(at.X, at.Y).RGBA()
			assert.Greater(t, r, blue, "%s: orientation %d", name, o)
		}
	}
}

func pngOf(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	return b.Bytes()
}

func TestTake(t *testing.T) {
	big := image.NewRGBA(image.Rect(0, 0, 3000, 1500))
	r := rand.New(rand.NewPCG(1, 2))
	for i := range big.Pix {
		big.Pix[i] = uint8(r.Uint32())
	}
	taken, err := Take(pngOf(t, big))
	require.NoError(t, err)
	assert.Equal(t, []any{MaxSide, MaxSide / 2, ".jpg"}, []any{taken.Width, taken.Height, taken.Extension}, "noise is kept as JPEG")
	flat := image.NewRGBA(image.Rect(0, 0, 400, 300))
	taken, err = Take(pngOf(t, flat))
	require.NoError(t, err)
	assert.Equal(t, ".png", taken.Extension, "a drawing stays PNG")
	small, ok := Smaller(pngOf(t, flat), 200)
	require.True(t, ok)
	c, _, err := image.DecodeConfig(bytes.NewReader(small))
	require.NoError(t, err)
	assert.Equal(t, []int{200, 150}, []int{c.Width, c.Height})
	_, ok = Smaller(pngOf(t, flat), 400)
	assert.False(t, ok)

	heic := append([]byte{0, 0, 0, 24}, "ftypheic\x00\x00\x00\x00mif1heic"...)
	_, err = Take(heic)
	assert.ErrorIs(t, err, ErrHEIC)
	for _, src := range []string{"", "GIF89a", "<svg xmlns='http://www.w3.org/2000/svg'/>", "%PDF-1.7"} {
		_, err = Take([]byte(src))
		assert.ErrorIs(t, err, ErrKind)
	}
	// A header that promises a hundred million pixels is refused before they are
	// made room for.
	header := pngOf(t, image.NewGray(image.Rect(0, 0, 1, 1)))
	binary.BigEndian.PutUint32(header[16:], 20_000)
	binary.BigEndian.PutUint32(header[20:], 20_000)
	binary.BigEndian.PutUint32(header[29:], crc(header[12:29]))
	_, err = Take(header)
	assert.ErrorIs(t, err, ErrPixels)
	_, err = Take(make([]byte, MaxUpload+1))
	assert.ErrorIs(t, err, ErrBytes)
}

func crc(b []byte) uint32 {
	c := ^uint32(0)
	for _, x := range b {
		c ^= uint32(x)
		for range 8 {
			c = c>>1 ^ 0xEDB88320&-(c&1)
		}
	}
	return ^c
}

// TestBlurIsBurntIn: nothing of a fine pattern is left in the area, everything
// outside is as it was.
func TestBlurIsBurntIn(t *testing.T) {
	img := image.NewGray(image.Rect(0, 0, 200, 100))
	for x := range 200 {
		for y := range 100 {
			img.Pix[y*img.Stride+x] = uint8(255 * ((x / 2) % 2))
		}
	}
	taken, err := Blur(pngOf(t, img), []Area{{0.5, 0, 0.5, 1}})
	require.NoError(t, err)
	got, _, err := image.Decode(bytes.NewReader(taken.Data))
	require.NoError(t, err)
	grey := func(x, y int) int { r, _, _, _ := got.At(x, y).RGBA(); return int(r >> 8) }
	for x := 102; x < 198; x++ {
		assert.InDelta(t, 128, grey(x, 50), 12, "the stripes are gone at %d", x)
	}
	assert.Less(t, grey(0, 50), 60)
	assert.Greater(t, grey(3, 50), 195)
	for _, bad := range []Area{{-0.1, 0, 0.5, 0.5}, {0, 0, 2, 1}, {0, 0, 0, 0}, {0.9, 0.9, 0.5, 0.5}} {
		_, err = Blur(pngOf(t, img), []Area{bad})
		assert.Error(t, err)
	}
}

func FuzzTake(f *testing.F) {
	f.Add(camera(f, 6))
	f.Add(pngOf(f, image.NewGray(image.Rect(0, 0, 3, 2))))
	f.Add([]byte("RIFF\x00\x00\x00\x00WEBPVP8 \x00\x00\x00\x00"))
	f.Fuzz(func(t *testing.T, data []byte) {
		taken, err := Take(data)
		if err != nil {
			return
		}
		if taken.Width > MaxSide || taken.Height > MaxSide || orientation(taken.Data) != 0 {
			t.Fatal("too large, or with metadata")
		}
		if _, err := Take(taken.Data); err != nil {
			t.Fatal(err)
		}
	})
}
