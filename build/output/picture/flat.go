package picture

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"math"
)

// Size gives the width and height of a picture as it is seen, in pixels: one that lies on
// its side is measured upright.
func Size(data []byte) (width, height int, err error) {
	c, _, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return 0, 0, err
	}
	if o := orientation(data); o >= 5 && o <= 8 {
		return c.Height, c.Width, nil
	}
	return c.Width, c.Height, nil
}

// ground is what stands where the picture shows nothing.
var ground = color.RGBA{0x80, 0x80, 0x80, 0xFF}

// Flat draws a picture anew so that every pixel shows another place of it: at tells for a
// place of the new one, as shares of its width and height, where it lies on the old one.
// The result is a JPEG without metadata. Where the old one does not reach there is grey.
func Flat(data []byte, width, height int, at func(x, y float64) (u, v float64, ok bool)) ([]byte, error) {
	if width < 1 || height < 1 || width > maxFlat || height > maxFlat {
		return nil, errors.New("a picture of that size is not drawn")
	}
	img, _, err := decode(data)
	if err != nil {
		return nil, err
	}
	from := img.Bounds()
	w, h := float64(from.Dx()), float64(from.Dy())
	out := image.NewRGBA(image.Rect(0, 0, width, height))
	pixel := pixels(img)
	for j := range height {
		for i := range width {
			c := ground
			if u, v, ok := at((float64(i)+0.5)/float64(width), (float64(j)+0.5)/float64(height)); ok && u >= 0 && u < 1 && v >= 0 && v < 1 {
				c = between(pixel, u*w-0.5, v*h-0.5, from.Dx(), from.Dy())
			}
			k := out.PixOffset(i, j)
			out.Pix[k], out.Pix[k+1], out.Pix[k+2], out.Pix[k+3] = c.R, c.G, c.B, 0xFF
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, out, &jpeg.Options{Quality: flatQuality}); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

const (
	maxFlat     = 4096
	flatQuality = 80
)

// pixels reads single pixels of a picture, the usual kinds without a detour.
func pixels(img image.Image) func(x, y int) color.RGBA {
	low := img.Bounds().Min
	if rgba, ok := img.(*image.RGBA); ok {
		return func(x, y int) color.RGBA { return rgba.RGBAAt(low.X+x, low.Y+y) }
	}
	if ycc, ok := img.(*image.YCbCr); ok {
		return func(x, y int) color.RGBA {
			c := ycc.YCbCrAt(low.X+x, low.Y+y)
			r, g, b := color.YCbCrToRGB(c.Y, c.Cb, c.Cr)
			return color.RGBA{r, g, b, 0xFF}
		}
	}
	return func(x, y int) color.RGBA {
		r, g, b, _ := img.At(low.X+x, low.Y+y).RGBA()
		return color.RGBA{uint8(r >> 8), uint8(g >> 8), uint8(b >> 8), 0xFF}
	}
}

// between mixes the four pixels around a place (bilinear).
func between(pixel func(x, y int) color.RGBA, x, y float64, w, h int) color.RGBA {
	i, j := math.Floor(x), math.Floor(y)
	fx, fy := x-i, y-j
	at := func(dx, dy float64) color.RGBA {
		return pixel(min(max(int(i+dx), 0), w-1), min(max(int(j+dy), 0), h-1))
	}
	a, b, c, d := at(0, 0), at(1, 0), at(0, 1), at(1, 1)
	mix := func(a, b, c, d uint8) uint8 {
		top := float64(a)*(1-fx) + float64(b)*fx
		low := float64(c)*(1-fx) + float64(d)*fx
		return uint8(top*(1-fy) + low*fy + 0.5)
	}
	return color.RGBA{mix(a.R, b.R, c.R, d.R), mix(a.G, b.G, c.G, d.G), mix(a.B, b.B, c.B, d.B), 0xFF}
}
