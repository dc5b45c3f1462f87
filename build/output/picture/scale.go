package picture

import (
	"image"
	"image/draw"

	xdraw "golang.org/x/image/draw"
	"golang.org/x/image/math/f64"
)

// rotated turns a picture as its orientation says: 2 to 4 mirror or turn by half, 5 to 8
// change width and height.
func rotated(img image.Image, orientation int) image.Image {
	if orientation < 2 || orientation > 8 {
		return img
	}
	src := toRGBA(img)
	w, h := src.Rect.Dx(), src.Rect.Dy()
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	if orientation >= 5 {
		out = image.NewRGBA(image.Rect(0, 0, h, w))
	}
	for y := range h {
		for x := range w {
			tx, ty := x, y
			switch orientation {
			case 2:
				tx = w - 1 - x
			case 3:
				tx, ty = w-1-x, h-1-y
			case 4:
				ty = h - 1 - y
			case 5:
				tx, ty = y, x
			case 6:
				tx, ty = h-1-y, x
			case 7:
				tx, ty = h-1-y, w-1-x
			case 8:
				tx, ty = y, w-1-x
			}
			copy(out.Pix[ty*out.Stride+4*tx:][:4], src.Pix[y*src.Stride+4*x:][:4])
		}
	}
	return out
}

// toRGBA gives a picture as one of our own from (0, 0), itself where it is that already.
func toRGBA(img image.Image) *image.RGBA {
	b := img.Bounds()
	if own, ok := img.(*image.RGBA); ok && b.Min == (image.Point{}) {
		return own
	}
	out := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	draw.Draw(out, out.Rect, img, b.Min, draw.Src)
	return out
}

// resize scales to a width and a height: halved by averaging as long as that is not too
// small, then by a Catmull-Rom kernel: by columns and rows where there is memory for what
// lies between, dot by dot, three times slower, where there is not.
func resize(img image.Image, width, height int) *image.RGBA {
	src := toRGBA(img)
	for src.Rect.Dx() >= 2*width && src.Rect.Dy() >= 2*height {
		src = halve(src)
	}
	out := image.NewRGBA(image.Rect(0, 0, width, height))
	if width*src.Rect.Dy() <= mostBetween {
		xdraw.CatmullRom.Scale(out, out.Rect, src, src.Rect, xdraw.Src, nil)
		return out
	}
	x, y := float64(width)/float64(src.Rect.Dx()), float64(height)/float64(src.Rect.Dy())
	xdraw.CatmullRom.Transform(out, f64.Aff3{x, 0, 0, 0, y, 0}, src, src.Rect, xdraw.Src, nil)
	return out
}

// mostBetween is how many dots of 32 bytes the kernel may keep between columns and rows.
const mostBetween = 1 << 20

// halve makes one dot of four; an odd last line goes.
func halve(src *image.RGBA) *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, src.Rect.Dx()/2, src.Rect.Dy()/2))
	for y := range out.Rect.Dy() {
		a, b := src.Pix[2*y*src.Stride:], src.Pix[(2*y+1)*src.Stride:]
		to := out.Pix[y*out.Stride:]
		for x := range out.Rect.Dx() {
			for c := range 4 {
				sum := int(a[8*x+c]) + int(a[8*x+4+c]) + int(b[8*x+c]) + int(b[8*x+4+c])
				to[4*x+c] = uint8((sum + 2) / 4)
			}
		}
	}
	return out
}

// flatten fills an area with the means of fields of it, so many columns and rows.
func flatten(img *image.RGBA, r image.Rectangle, columns, rows int) {
	for j := range rows {
		for i := range columns {
			field := image.Rect(r.Min.X+i*r.Dx()/columns, r.Min.Y+j*r.Dy()/rows, r.Min.X+(i+1)*r.Dx()/columns, r.Min.Y+(j+1)*r.Dy()/rows)
			var sum [4]int
			for y := field.Min.Y; y < field.Max.Y; y++ {
				for x := field.Min.X; x < field.Max.X; x++ {
					for c := range 4 {
						sum[c] += int(img.Pix[img.PixOffset(x, y)+c])
					}
				}
			}
			n := max(1, field.Dx()*field.Dy())
			for y := field.Min.Y; y < field.Max.Y; y++ {
				for x := field.Min.X; x < field.Max.X; x++ {
					for c := range 4 {
						img.Pix[img.PixOffset(x, y)+c] = uint8(sum[c] / n)
					}
				}
			}
		}
	}
}
