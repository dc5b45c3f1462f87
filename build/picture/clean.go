package picture

import (
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
)

// MaxBytes is the largest picture that is read, in bytes.
const MaxBytes = 20 << 20

// Clean returns a picture without metadata (position, serial numbers,
// comments), or an error that says why it is not published. A picture that lies
// on its side is turned upright, since what said so is gone; any other is not
// decoded.
func Clean(name string, data []byte) ([]byte, error) {
	if len(data) > MaxBytes {
		return nil, fmt.Errorf("picture has %d bytes; at most %d are published", len(data), MaxBytes)
	}
	switch strings.ToLower(path.Ext(name)) {
	case ".jpg", ".jpeg":
		if turned(data) {
			return upright(data)
		}
		return cleanJPEG(data)
	case ".png":
		return cleanPNG(data)
	case ".webp":
		return cleanWebP(data)
	case ".svg":
		return data, checkSVG(data)
	}
	return nil, errors.New("only JPEG, PNG, WebP and SVG pictures are published")
}

var errPicture = errors.New("this is not a whole picture of the kind that its name says")

// cleanJPEG keeps the segments that the picture needs (ITU-T T.81 annex B) and
// the colour ones, APP0, APP2 and APP14.
func cleanJPEG(b []byte) ([]byte, error) {
	if len(b) < 4 || b[0] != 0xFF || b[1] != 0xD8 {
		return nil, errPicture
	}
	out := append(make([]byte, 0, len(b)), 0xFF, 0xD8)
	for i := 2; i+4 <= len(b); {
		if b[i] != 0xFF {
			return nil, errPicture
		}
		marker := b[i+1]
		if marker == 0xFF {
			i++
			continue
		}
		if marker == 0xDA { // the scan runs to the end
			end := bytes.LastIndex(b, []byte{0xFF, 0xD9})
			if end < i {
				return nil, errPicture
			}
			return append(out, b[i:end+2]...), nil
		}
		size := int(binary.BigEndian.Uint16(b[i+2:]))
		if size < 2 || i+2+size > len(b) {
			return nil, errPicture
		}
		meta := marker >= 0xE0 && marker <= 0xEF && marker != 0xE0 && marker != 0xE2 && marker != 0xEE || marker == 0xFE
		if !meta {
			out = append(out, b[i:i+2+size]...)
		}
		i += 2 + size
	}
	return nil, errPicture
}

// cleanPNG drops text, time and EXIF chunks (PNG, ISO/IEC 15948 clause 11).
func cleanPNG(b []byte) ([]byte, error) {
	const signature = "\x89PNG\r\n\x1a\n"
	if !bytes.HasPrefix(b, []byte(signature)) {
		return nil, errPicture
	}
	out := append(make([]byte, 0, len(b)), signature...)
	for i := len(signature); i+12 <= len(b); {
		size := int(binary.BigEndian.Uint32(b[i:]))
		if size < 0 || size > len(b)-i-12 {
			return nil, errPicture
		}
		kind := string(b[i+4 : i+8])
		switch kind {
		case "tEXt", "zTXt", "iTXt", "tIME", "eXIf":
		default:
			out = append(out, b[i:i+12+size]...)
		}
		i += 12 + size
		if kind == "IEND" {
			return out, nil
		}
	}
	return nil, errPicture
}

// cleanWebP drops the EXIF and XMP chunks of the RIFF container.
func cleanWebP(b []byte) ([]byte, error) {
	if len(b) < 12 || string(b[:4]) != "RIFF" || string(b[8:12]) != "WEBP" {
		return nil, errPicture
	}
	out := append(make([]byte, 0, len(b)), b[:12]...)
	for i := 12; i+8 <= len(b); {
		size := int(binary.LittleEndian.Uint32(b[i+4:]))
		padded := size + size%2
		if size < 0 || padded > len(b)-i-8 {
			return nil, errPicture
		}
		if kind := string(b[i : i+4]); kind != "EXIF" && kind != "XMP " {
			out = append(out, b[i:i+8+padded]...)
		}
		i += 8 + padded
	}
	if len(out) > 20 && string(out[12:16]) == "VP8X" {
		out[20] &^= 0x0C // no EXIF, no XMP
	}
	binary.LittleEndian.PutUint32(out[4:], uint32(len(out)-8))
	return out, nil
}

// Elements and attributes of a drawing. Anything else may run, load or hide
// something when the file is opened by itself.
var (
	svgElements = words(`svg g path rect circle ellipse line polyline polygon text tspan title desc defs
		linearGradient radialGradient stop marker clipPath pattern symbol`)
	svgAttributes = words(`xmlns viewBox width height x y x1 y1 x2 y2 cx cy r rx ry d points fill stroke stroke-width
		stroke-linecap stroke-linejoin stroke-dasharray stroke-opacity fill-opacity fill-rule opacity transform id class
		font-size font-family font-weight text-anchor dominant-baseline offset stop-color stop-opacity gradientUnits
		gradientTransform orient markerWidth markerHeight refX refY marker-end marker-start marker-mid clip-path role
		aria-label aria-labelledby preserveAspectRatio patternUnits version dx dy letter-spacing`)
)

func words(s string) map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(s) {
		m[w] = true
	}
	return m
}

func checkSVG(data []byte) error {
	d := xml.NewDecoder(bytes.NewReader(data))
	depth, seen := 0, false
	for {
		token, err := d.RawToken()
		if errors.Is(err, io.EOF) {
			if !seen || depth != 0 {
				return errPicture
			}
			return nil
		}
		if err != nil {
			return fmt.Errorf("the drawing cannot be read: %w", err)
		}
		switch t := token.(type) {
		case xml.StartElement:
			if t.Name.Space != "" || !svgElements[t.Name.Local] || depth == 0 && t.Name.Local != "svg" {
				return fmt.Errorf("the drawing has a <%s>, which is not published", t.Name.Local)
			}
			for _, a := range t.Attr {
				plain := a.Name.Space == "" && svgAttributes[a.Name.Local]
				value := strings.ToLower(strings.Join(strings.Fields(a.Value), ""))
				remote := strings.Contains(value, "url(") && !strings.Contains(value, "url(#") || strings.Contains(value, "javascript:")
				if !plain || remote {
					return fmt.Errorf("the drawing has the attribute %s, which is not published", a.Name.Local)
				}
			}
			depth++
			seen = true
		case xml.EndElement:
			depth--
		case xml.Directive:
			return errors.New("the drawing has a document type, which is not published")
		case xml.ProcInst:
			if t.Target != "xml" {
				return errors.New("the drawing has a processing instruction, which is not published")
			}
		}
		if depth > 200 {
			return errPicture
		}
	}
}
