package picture

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
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

// TestPictures: metadata goes, what is no picture is refused.
func TestPictures(t *testing.T) {
	chunk := func(kind, data string) string {
		n := len(data)
		return string([]byte{byte(n >> 24), byte(n >> 16), byte(n >> 8), byte(n)}) + kind + data + "CRC!"
	}
	png := "\x89PNG\r\n\x1a\n" + chunk("IHDR", "0123456789012") + chunk("eXIf", "GPS here") +
		chunk("tEXt", "Serial 123") + chunk("IDAT", "x") + chunk("IEND", "")
	segment := func(marker byte, data string) string {
		n := len(data) + 2
		return "\xff" + string([]byte{marker, byte(n >> 8), byte(n)}) + data
	}
	jpeg := "\xff\xd8" + segment(0xE0, "JFIF") + segment(0xE1, "Exif GPS here") + segment(0xFE, "Serial 123") +
		segment(0xDB, "q") + segment(0xDA, "s") + "scan\xff\xd9trailing"
	riff := func(kind, data string) string {
		return kind + string([]byte{byte(len(data)), 0, 0, 0}) + data + strings.Repeat("\x00", len(data)%2)
	}
	body := "WEBP" + riff("VP8X", "\x0c123456789") + riff("VP8 ", "xx") + riff("EXIF", "GPS here") + riff("XMP ", "Serial 123")
	webp := "RIFF" + string([]byte{byte(len(body)), 0, 0, 0}) + body
	for name, data := range map[string]string{"a.png": png, "a.jpg": jpeg, "a.webp": webp} {
		got, err := Clean(name, []byte(data))
		require.NoError(t, err, name)
		assert.NotContains(t, string(got), "GPS", name)
		assert.NotContains(t, string(got), "Serial", name)
		again, err := Clean(name, got)
		require.NoError(t, err, name)
		assert.True(t, bytes.Equal(got, again), "%s: cleaning twice changes nothing more", name)
		for cut := range len(data) {
			_, _ = Clean(name, []byte(data[:cut])) // must not panic
		}
	}
	for name, data := range map[string]string{
		"a.png": "GIF89a", "a.jpg": "\xff\xd8\xff", "a.gif": "GIF89a", "b.webp": "RIFF",
		"script.svg": `<svg><script/></svg>`, "event.svg": `<svg onload="x"/>`, "link.svg": `<svg><a href="javascript:x"/></svg>`,
		"use.svg": `<svg><use href="http://x"/></svg>`, "css.svg": `<svg><rect fill="url(http://x)"/></svg>`,
		"style.svg":   `<svg><style>@import 'x'</style></svg>`,
		"doctype.svg": `<!DOCTYPE svg [<!ENTITY a "b">]><svg/>`, "open.svg": `<svg><g>`, "none.svg": ``,
		"foreign.svg": `<svg><foreignObject/></svg>`,
	} {
		_, err := Clean(name, []byte(data))
		assert.Error(t, err, name)
	}
	_, err := Clean("a.svg", []byte(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1"><title>t</title><path d="M0 0" fill="url(#g)"/></svg>`))
	assert.NoError(t, err)
}

func FuzzClean(f *testing.F) {
	f.Add("a.png", []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\x00IEND1234"))
	f.Add("a.jpg", []byte("\xff\xd8\xff\xe1\x00\x04ab\xff\xda\x00\x02\xff\xd9"))
	f.Add("a.webp", []byte("RIFF\x00\x00\x00\x00WEBPVP8 \x00\x00\x00\x00"))
	f.Add("a.svg", []byte("<svg><g/></svg>"))
	f.Fuzz(func(t *testing.T, name string, data []byte) {
		got, err := Clean(name, data)
		if err == nil && len(got) > len(data) && !hasOrientation(data) {
			t.Fatal("cleaning made it longer")
		}
	})
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

const mark = "PLANTED-MARK"

// TestMarksAreCut plants a mark in every place of each format that has room for words
// and is not the picture itself.
func TestMarksAreCut(t *testing.T) {
	var plain bytes.Buffer
	img := image.NewGray(image.Rect(0, 0, 16, 16))
	img.Set(3, 3, color.White)
	require.NoError(t, jpeg.Encode(&plain, img, nil))
	segment := func(marker byte, data string) string {
		n := len(data) + 2
		return "\xff" + string([]byte{marker, byte(n >> 8), byte(n)}) + data
	}
	j := plain.String()
	var jpegs []string
	for m := byte(0xE0); m <= 0xEF; m++ {
		for _, head := range []string{"", "JFIF\x00\x01\x02\x00\x00\x01\x00\x01\x00\x00", "JFXX\x00\x10",
			"Exif\x00\x00", "ICC_PROFILE\x00\x01\x01", "MPF\x00", "Adobe\x00\x64\x00\x00\x00\x00\x01", "Photoshop 3.0\x00"} {
			jpegs = append(jpegs, j[:2]+segment(m, head+mark)+j[2:])
		}
	}
	end := len(j) - 2
	jpegs = append(jpegs, j[:2]+segment(0xFE, mark)+j[2:], j+mark, j+j[:2]+segment(0xE1, mark)+j[2:],
		j[:end]+segment(0xE1, mark)+j[end:], j[:end]+segment(0xFE, mark)+j[end:],
		j[:2]+"\xff\xff"+segment(0xFE, mark)+j[2:], j[:2]+segment(0xF7, mark)+j[2:], j[:2]+segment(0xC8, mark)+j[2:])
	for i, src := range jpegs {
		got, err := Clean("a.jpg", []byte(src))
		if err != nil {
			continue
		}
		assert.NotContains(t, string(got), mark, i)
		back, err := jpeg.Decode(bytes.NewReader(got))
		require.NoError(t, err, i)
		assert.Equal(t, img.Bounds(), back.Bounds())
		_, err = exif.Decode(bytes.NewReader(got))
		assert.Error(t, err, "another reader finds nothing")
	}

	plain.Reset()
	require.NoError(t, png.Encode(&plain, img))
	p := plain.String()
	chunk := func(kind, data string) string {
		b := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
		b = append(append(b, kind...), data...)
		return string(binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:])))
	}
	head, tail := p[:33], p[len(p)-12:]
	for _, kind := range []string{"tEXt", "zTXt", "iTXt", "tIME", "eXIf", "iCCP", "sPLT", "hIST", "gAMA", "cHRM",
		"sRGB", "pHYs", "bKGD", "sBIT", "acTL", "fcTL", "fdAT", "prVt", "text", "TEXT", "vpAg", "oFFs", "sCAL", "iDOT"} {
		for _, src := range []string{head + chunk(kind, mark) + p[33:], p[:len(p)-12] + chunk(kind, mark) + tail,
			p + mark, p + chunk(kind, mark)} {
			got, err := Clean("a.png", []byte(src))
			require.NoError(t, err, kind)
			if kind != "bKGD" && kind != "gAMA" && kind != "cHRM" {
				assert.NotContains(t, string(got), mark, kind)
			}
			_, err = png.Decode(bytes.NewReader(got))
			require.NoError(t, err, kind)
		}
	}
	for _, kind := range []string{"gAMA", "bKGD", "pHYs", "sRGB"} { // too long for its kind
		got, err := Clean("a.png", []byte(head+chunk(kind, mark)+p[33:]))
		require.NoError(t, err)
		assert.NotContains(t, string(got), mark, kind)
	}

	riff := func(kind, data string) string {
		return kind + string(binary.LittleEndian.AppendUint32(nil, uint32(len(data)))) + data + strings.Repeat("\x00", len(data)%2)
	}
	for _, kind := range []string{"EXIF", "XMP ", "ICCP", "exif", "xmp ", "UNKN", "VP8x", "LIST", "ANIM"} {
		body := "WEBP" + riff("VP8X", "\x2c123456789") + riff(kind, mark) + riff("VP8 ", "xx") + riff("VP8 ", mark) +
			riff("ANMF", strings.Repeat("f", 16)+riff("VP8 ", "yy")+riff(kind, mark))
		got, err := Clean("a.webp", []byte("RIFF"+string(binary.LittleEndian.AppendUint32(nil, uint32(len(body))))+body+mark))
		require.NoError(t, err, kind)
		assert.NotContains(t, string(got), mark, kind)
		assert.Zero(t, got[20]&0x2C)
	}

	for _, src := range []string{"<!-- " + mark + " -->", "<title>" + mark + "</title>",
		"<desc>" + mark + "<tspan/></desc>",
		`<g class="` + mark + ` x" aria-label="` + mark + `"><path d="M0 0"/></g>`, `<rect id="a; ` + mark + `!"/>`,
		mark, `<g>` + mark + `</g>`, `<path d="M0 0" font-family="'` + mark + `'"/>`, `<g role="` + mark + `"/>`} {
		got, err := Clean("a.svg", []byte(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1">`+src+`<text x="1">seen</text></svg>`))
		if err != nil {
			continue
		}
		assert.NotContains(t, string(got), mark, src)
		assert.Contains(t, string(got), `<text x="1">seen</text></svg>`)
		again, err := Clean("a.svg", got)
		require.NoError(t, err)
		assert.Equal(t, string(got), string(again))
	}
}
