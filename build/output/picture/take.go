// Package picture takes photos in and makes them fit to be shown: upright,
// without metadata, of a sensible size, with parts blurred for good.
//
// [Take] is for what a camera gave, [Clean] for what leaves a notebook or comes into one, [Smaller] for small screens. Every limit is asked before a picture is
// decoded.
package picture

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"math"

	_ "golang.org/x/image/webp" // decoding
	"golang.org/x/sync/semaphore"
)

// Limits of a picture that is taken in.
const (
	MaxUpload = 40 << 20   // bytes
	MaxPixels = 60_000_000 // width times height
	MaxSide   = 2048       // pixels of the longer side, as it is kept
	quality   = 85
)

// decoding bounds the pixels that are decoded at once, over all pictures: many that
// each keep the limit would together fill the memory.
var decoding = semaphore.NewWeighted(MaxPixels)

// Errors that a person can do something about.
var (
	ErrHEIC   = errors.New("this is a HEIC picture, which browsers do not show; set the camera to JPEG, or send it as JPEG")
	ErrKind   = errors.New("this is not a JPEG, PNG or WebP picture")
	ErrPixels = fmt.Errorf("the picture has more than %d million pixels", MaxPixels/1_000_000)
	ErrBytes  = fmt.Errorf("the picture has more than %d MB", MaxUpload>>20)
)

// Taken is a picture that is ready to be kept.
type Taken struct {
	Data          []byte
	Extension     string // ".jpg" or ".png"
	Width, Height int
}

// Take turns what a camera or a screen gave into a picture to keep: upright, no
// larger than MaxSide, without metadata, as PNG where it was one and stays
// smaller so, otherwise as JPEG.
func Take(data []byte) (*Taken, error) {
	img, kind, err := decode(data)
	if err != nil {
		return nil, err
	}
	img = fit(img, MaxSide)
	return encode(img, kind)
}

// decode asks the limits first.
func decode(data []byte) (image.Image, string, error) {
	switch {
	case len(data) > MaxUpload:
		return nil, "", ErrBytes
	case isHEIC(data):
		return nil, "", ErrHEIC
	}
	c, kind, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil || kind != "jpeg" && kind != "png" && kind != "webp" {
		return nil, "", ErrKind
	}
	free, err := claim(c.Width, c.Height)
	if err != nil {
		return nil, "", err
	}
	defer free()
	img, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, "", fmt.Errorf("the picture is damaged: %w", err)
	}
	switch kind {
	case "jpeg":
		img = rotated(img, orientation(data))
	case "webp":
		img = seen(img)
	}
	return img, kind, nil
}

// isHEIC reads the brand of an ISO base media file (ISO/IEC 14496-12).
func isHEIC(b []byte) bool {
	if len(b) < 12 || string(b[4:8]) != "ftyp" {
		return false
	}
	switch string(b[8:12]) {
	case "heic", "heix", "hevc", "heim", "heis", "hevm", "mif1", "msf1", "avif":
		return true
	}
	return false
}

func fit(img image.Image, side int) image.Image {
	b := img.Bounds()
	if b.Dx() <= side && b.Dy() <= side {
		return img
	}
	return shrink(img, float64(side)/float64(max(b.Dx(), b.Dy())))
}

// shrink scales width and height alike.
func shrink(img image.Image, by float64) image.Image {
	b := img.Bounds()
	side := func(n int) int { return max(1, int(math.Round(float64(n)*by))) }
	return resize(img, side(b.Dx()), side(b.Dy()))
}

func encode(img image.Image, kind string) (*Taken, error) {
	b := img.Bounds()
	t := &Taken{Width: b.Dx(), Height: b.Dy(), Extension: ".jpg"}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, opaque(img), &jpeg.Options{Quality: quality}); err != nil {
		return nil, err
	}
	t.Data = out.Bytes()
	if kind != "png" {
		return t, nil
	}
	// A drawing or a screen stays sharp as PNG and is often smaller so.
	var sharp bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&sharp, img); err != nil {
		return nil, err
	}
	if sharp.Len() < 2*out.Len() {
		t.Data, t.Extension = sharp.Bytes(), ".png"
	}
	return t, nil
}

// opaque lays a picture on white, since JPEG has no transparency.
func opaque(img image.Image) image.Image {
	if o, ok := img.(interface{ Opaque() bool }); ok && o.Opaque() {
		return img
	}
	white := image.NewRGBA(img.Bounds())
	draw.Draw(white, white.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src)
	draw.Draw(white, white.Bounds(), img, img.Bounds().Min, draw.Over)
	return white
}

// orientation reads tag 0x0112 of a JPEG's EXIF (JEITA CP-3451), 0 for none.
func orientation(b []byte) int {
	for i := 2; i+4 <= len(b) && b[i] == 0xFF && b[i+1] != 0xDA; {
		size := int(b[i+2])<<8 | int(b[i+3])
		if size < 2 || i+2+size > len(b) {
			return 0
		}
		if b[i+1] == 0xE1 && bytes.HasPrefix(b[i+4:i+2+size], []byte("Exif\x00\x00")) {
			return orientationOf(b[i+10 : i+2+size])
		}
		i += 2 + size
	}
	return 0
}

func orientationOf(tiff []byte) int {
	if len(tiff) < 8 {
		return 0
	}
	little := tiff[0] == 'I'
	u16 := func(i int) int {
		if i < 0 || i+2 > len(tiff) {
			return 0
		}
		if little {
			return int(tiff[i]) | int(tiff[i+1])<<8
		}
		return int(tiff[i+1]) | int(tiff[i])<<8
	}
	u32 := func(i int) int {
		if little {
			return u16(i) | u16(i+2)<<16
		}
		return u16(i+2) | u16(i)<<16
	}
	at := u32(4)
	for k := range u16(at) {
		if entry := at + 2 + 12*k; u16(entry) == 0x0112 {
			return u16(entry + 8)
		}
		if k > 200 {
			break
		}
	}
	return 0
}

// Smaller returns a picture no wider than so many pixels, for small screens; ok
// is false when it is not wider, or cannot be decoded.
func Smaller(data []byte, width int) (out []byte, ok bool) {
	c, kind, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil || kind != "jpeg" && kind != "png" || c.Width <= width || c.Height < 1 || c.Width > MaxPixels/c.Height {
		return nil, false
	}
	img, _, err := decode(data)
	if err != nil {
		return nil, false
	}
	t, err := encode(shrink(img, float64(width)/float64(img.Bounds().Dx())), kind)
	if err != nil {
		return nil, false
	}
	return t.Data, true
}

// Area is a part of a picture, as shares of its width and height.
type Area struct{ X, Y, W, H float64 }

// Blur makes an area unreadable for good: it is averaged into few large fields
// and written into the file, not laid over it.
func Blur(data []byte, areas []Area) (*Taken, error) {
	img, kind, err := decode(data)
	if err != nil {
		return nil, err
	}
	out := toRGBA(img) // nobody else has it
	w, h := float64(out.Bounds().Dx()), float64(out.Bounds().Dy())
	for _, a := range areas {
		if !(a.X >= 0 && a.Y >= 0 && a.W > 0 && a.H > 0 && a.X+a.W <= 1.0001 && a.Y+a.H <= 1.0001) {
			return nil, errors.New("an area to blur lies within the picture, as shares of its width and height")
		}
		r := image.Rect(int(a.X*w), int(a.Y*h), int(math.Ceil((a.X+a.W)*w)), int(math.Ceil((a.Y+a.H)*h))).Intersect(out.Bounds())
		if r.Dx() < 1 || r.Dy() < 1 {
			return nil, errors.New("the area to blur is empty")
		}
		// Four fields along the longer side leave no letter and no face.
		field := max(1, (max(r.Dx(), r.Dy())+3)/4)
		flatten(out, r, max(1, r.Dx()/field), max(1, r.Dy()/field))
	}
	if kind != "png" {
		return encode(out, "jpeg")
	}
	var sharp bytes.Buffer // what was PNG stays so, and keeps its name
	err = png.Encode(&sharp, out)
	return &Taken{sharp.Bytes(), ".png", out.Bounds().Dx(), out.Bounds().Dy()}, err
}
