package picture

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"

	"golang.org/x/image/webp"
)

const pngSignature = "\x89PNG\r\n\x1a\n"

var errMoving = errors.New("this is a moving picture, which is not published; save the frame that matters as PNG")

// cleanPixels decodes a PNG or WebP and writes its pixels as PNG: what the file had beside
// them is not read, and so not carried on.
func cleanPixels(data []byte, kind string) ([]byte, error) {
	read, measure, moving := png.Decode, png.DecodeConfig, movingPNG
	if kind == "WebP" {
		read, measure, moving = webp.Decode, webp.DecodeConfig, movingWebP
	}
	if moving(data) {
		return nil, errMoving
	}
	c, err := measure(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("the %s cannot be decoded: %w", kind, err)
	}
	free, err := claim(c.Width, c.Height)
	if err != nil {
		return nil, err
	}
	defer free()
	img, err := read(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("the %s cannot be decoded: %w", kind, err)
	}
	var out bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.DefaultCompression}).Encode(&out, seen(img)); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// movingPNG reports whether a PNG has frames (PNG, third edition, section 11.3.6). Only
// programs that know nothing of frames show what stands beside them.
func movingPNG(b []byte) bool {
	for i := len(pngSignature); i+12 <= len(b); {
		size := int(binary.BigEndian.Uint32(b[i:]))
		switch string(b[i+4 : i+8]) {
		case "acTL", "fcTL", "fdAT":
			return true
		case "IEND":
			return false
		}
		if size < 0 || size > len(b)-i-12 {
			return false
		}
		i += 12 + size
	}
	return false
}

// movingWebP reports whether a WebP has frames (RFC 9649, section 2.7.1).
func movingWebP(b []byte) bool {
	for i := 12; i+8 <= len(b); {
		size := int(binary.LittleEndian.Uint32(b[i+4:]))
		switch string(b[i : i+4]) {
		case "ANIM", "ANMF":
			return true
		case "VP8X":
			if i+8 < len(b) && b[i+8]&0x02 != 0 {
				return true
			}
		}
		if size < 0 || size > len(b)-i-8 {
			return false
		}
		i += 8 + size + size%2
	}
	return false
}

// seen takes from a picture what nobody sees in it: the colours of clear pixels, and the
// entries of a palette that no pixel has, that look alike or that stand in an order of
// their own. A pixel of 16 bits counts as clear where 8 bits of alpha would be 0.
func seen(img image.Image) image.Image {
	switch m := img.(type) {
	case *image.NRGBA:
		for i := 0; i+4 <= len(m.Pix); i += 4 {
			if m.Pix[i+3] == 0 {
				clear(m.Pix[i : i+3])
			}
		}
	case *image.NRGBA64:
		for i := 0; i+8 <= len(m.Pix); i += 8 {
			if m.Pix[i+6] == 0 && m.Pix[i+7] < 0x80 {
				clear(m.Pix[i : i+8])
			}
		}
	case *image.Paletted:
		return repainted(m)
	case *image.YCbCr:
		return videoRange(m, nil, 0)
	case *image.NYCbCrA:
		return seen(videoRange(&m.YCbCr, m.A, m.AStride))
	}
	return img
}

// repainted gives a picture the palette of the colours that it shows, in the order in
// which they come.
func repainted(m *image.Paletted) *image.Paletted {
	out := &image.Paletted{Pix: make([]uint8, 0, m.Rect.Dx()*m.Rect.Dy()), Stride: m.Rect.Dx(),
		Rect: image.Rect(0, 0, m.Rect.Dx(), m.Rect.Dy())}
	at := map[color.NRGBA]uint8{}
	var known [256]bool
	var index [256]uint8
	for y := range m.Rect.Dy() {
		for _, old := range m.Pix[y*m.Stride:][:m.Rect.Dx()] {
			if !known[old] {
				c := color.NRGBA{A: 0xFF}
				if int(old) < len(m.Palette) {
					c = color.NRGBAModel.Convert(m.Palette[old]).(color.NRGBA)
				}
				if c.A == 0 {
					c = color.NRGBA{}
				}
				n, ok := at[c]
				if !ok {
					n = uint8(len(out.Palette))
					at[c] = n
					out.Palette = append(out.Palette, c)
				}
				known[old], index[old] = true, n
			}
			out.Pix = append(out.Pix, index[old])
		}
	}
	return out
}

// videoRange turns the pixels of a lossy WebP into red, green and blue: its luma goes from
// 16 to 235 (ITU-R BT.601, section 2.5.3; RFC 6386, section 9.2), where the library's
// picture would be read as if it went from 0 to 255, which is paler.
func videoRange(m *image.YCbCr, alpha []byte, stride int) *image.NRGBA {
	out := image.NewNRGBA(image.Rect(0, 0, m.Rect.Dx(), m.Rect.Dy()))
	level := func(v int32) uint8 { return uint8(min(max((v+1<<15)>>16, 0), 255)) }
	for y := range m.Rect.Dy() {
		for x := range m.Rect.Dx() {
			luma := 76309 * (int32(m.Y[m.YOffset(m.Rect.Min.X+x, m.Rect.Min.Y+y)]) - 16) // 255/219 of 65536
			c := m.COffset(m.Rect.Min.X+x, m.Rect.Min.Y+y)
			cb, cr := int32(m.Cb[c])-128, int32(m.Cr[c])-128
			to := out.Pix[y*out.Stride+4*x:][:4]
			to[0], to[1], to[2], to[3] = level(luma+104597*cr), level(luma-25675*cb-53279*cr), level(luma+132201*cb), 0xFF
			if alpha != nil {
				to[3] = alpha[y*stride+x]
			}
		}
	}
	return out
}
