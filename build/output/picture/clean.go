package picture

import (
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"regexp"
	"strings"
)

// MaxBytes is the largest picture that is read, in bytes.
const MaxBytes = 20 << 20

// MediaType returns the media type (RFC 2046) of a picture by the ending of its
// name; it is empty where files of that ending are no pictures that are published.
func MediaType(name string) string {
	switch strings.ToLower(path.Ext(name)) {
	case ".jpg", ".jpeg":
		return "image/jpeg"
	case ".png":
		return "image/png"
	case ".webp":
		return "image/webp"
	case ".svg":
		return "image/svg+xml"
	}
	return ""
}

// Clean returns a picture without metadata (position, serial numbers,
// comments), or an error that says why it is not published. A picture that lies
// on its side is turned upright, since what said so is gone; any other is not
// decoded.
func Clean(name string, data []byte) ([]byte, error) {
	if len(data) > MaxBytes {
		return nil, fmt.Errorf("picture has %d bytes; at most %d are published", len(data), MaxBytes)
	}
	switch MediaType(name) {
	case "image/jpeg":
		if hasOrientation(data) {
			return upright(data)
		}
		return cleanJPEG(data)
	case "image/png":
		return cleanPNG(data)
	case "image/webp":
		return cleanWebP(data)
	case "image/svg+xml":
		return cleanSVG(data)
	}
	return nil, errors.New("only JPEG, PNG, WebP and SVG pictures are published")
}

var errPicture = errors.New("this is not a whole picture of the kind that its name says")

// cleanJPEG keeps what decoding needs (ITU-T T.81 annex B): tables, frames, scans and
// restart intervals, the resolution of JFIF and the colour transform of Adobe's APP14.
// Everything else goes: other application segments, comments, colour profiles, further
// pictures, and what stands after the end.
func cleanJPEG(b []byte) ([]byte, error) {
	if len(b) < 4 || b[0] != 0xFF || b[1] != 0xD8 {
		return nil, errPicture
	}
	out := append(make([]byte, 0, len(b)), 0xFF, 0xD8)
	scanned := false
	for i := 2; i+2 <= len(b); {
		if b[i] != 0xFF {
			return nil, errPicture
		}
		marker := b[i+1]
		switch {
		case marker == 0xFF: // a fill byte
			i++
			continue
		case marker == 0xD9:
			if !scanned {
				return nil, errPicture
			}
			return append(out, 0xFF, 0xD9), nil
		case marker == 0x01 || marker >= 0xD0 && marker <= 0xD7:
			return nil, errPicture // these stand within a scan alone
		}
		if i+4 > len(b) {
			return nil, errPicture
		}
		size := int(binary.BigEndian.Uint16(b[i+2:]))
		if size < 2 || i+2+size > len(b) {
			return nil, errPicture
		}
		segment := b[i : i+2+size]
		switch {
		case marker == 0xE0 && size >= 16 && string(segment[4:9]) == "JFIF\x00":
			out = append(append(append(out, 0xFF, 0xE0, 0, 16), segment[4:16]...), 0, 0) // without its thumbnail
		case marker == 0xEE && size >= 14 && string(segment[4:9]) == "Adobe":
			out = append(append(out, 0xFF, 0xEE, 0, 14), segment[4:16]...)
		case marker >= 0xC0 && marker <= 0xCF && marker != 0xC8, marker == 0xDB, marker == 0xDC, marker == 0xDD:
			out = append(out, segment...)
		case marker == 0xDA:
			scanned = true
			out = append(out, segment...)
			from := i + 2 + size
			end := from
			for end+1 < len(b) && (b[end] != 0xFF || b[end+1] == 0 || b[end+1] >= 0xD0 && b[end+1] <= 0xD7) {
				end++
			}
			if end+1 >= len(b) {
				return nil, errPicture // cut off within a scan
			}
			out = append(out, b[from:end]...)
			i = end
			continue
		}
		i += 2 + size
	}
	return nil, errPicture
}

// pngChunks are those that a picture needs, with the most bytes that they may have
// (PNG, ISO/IEC 15948 clause 11): pixels, palette, transparency, and figures of
// colour and size that have no room for words.
var pngChunks = map[string]int{"IHDR": 13, "PLTE": 768, "IDAT": MaxBytes, "IEND": 0, "tRNS": 256, "gAMA": 4,
	"cHRM": 32, "sRGB": 1, "pHYs": 9, "bKGD": 6}

// cleanPNG drops every other chunk, and what stands after the end.
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
		if most, ok := pngChunks[kind]; ok && size <= most {
			out = append(out, b[i:i+12+size]...)
		}
		i += 12 + size
		if kind == "IEND" {
			return out, nil
		}
	}
	return nil, errPicture
}

// cleanWebP keeps the chunks that a picture needs, of the RIFF container and of the
// frames of a moving one; profiles, EXIF, XMP, unknown chunks and what stands after
// the end go.
func cleanWebP(b []byte) ([]byte, error) {
	if len(b) < 12 || string(b[:4]) != "RIFF" || string(b[8:12]) != "WEBP" {
		return nil, errPicture
	}
	if size := int(binary.LittleEndian.Uint32(b[4:])); size >= 4 && size+8 < len(b) {
		b = b[:size+8]
	}
	chunks, err := webpChunks(b[12:], map[string]int{"VP8X": 10, "ANIM": 6, "ANMF": MaxBytes, "ALPH": MaxBytes,
		"VP8 ": MaxBytes, "VP8L": MaxBytes})
	if err != nil {
		return nil, err
	}
	out := append(append(make([]byte, 0, len(b)), b[:12]...), chunks...)
	if len(out) > 20 && string(out[12:16]) == "VP8X" {
		out[20] &^= 0x2C // no profile, no EXIF, no XMP
	}
	binary.LittleEndian.PutUint32(out[4:], uint32(len(out)-8))
	return out, nil
}

func webpChunks(b []byte, most map[string]int) ([]byte, error) {
	var out []byte
	single := map[string]bool{}
	for i := 0; i+8 <= len(b); {
		size := int(binary.LittleEndian.Uint32(b[i+4:]))
		padded := size + size%2
		if size < 0 || padded > len(b)-i-8 {
			return nil, errPicture
		}
		kind := string(b[i : i+4])
		data := b[i+8 : i+8+size]
		i += 8 + padded
		limit, ok := most[kind]
		if !ok || size > limit || single[kind] {
			continue
		}
		if kind == "ANMF" {
			const head = 16
			if size < head {
				return nil, errPicture
			}
			inner, err := webpChunks(data[head:], map[string]int{"ALPH": MaxBytes, "VP8 ": MaxBytes, "VP8L": MaxBytes})
			if err != nil {
				return nil, err
			}
			data = append(append([]byte{}, data[:head]...), inner...)
		} else {
			single[kind] = true
		}
		out = append(out, kind...)
		out = binary.LittleEndian.AppendUint32(out, uint32(len(data)))
		out = append(out, data...)
		if len(data)%2 == 1 {
			out = append(out, 0)
		}
	}
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

// svgUnseen are elements and attributes that nobody sees in a picture, and that may
// hold words: they are cut.
var (
	svgUnseenElements   = words("title desc")
	svgUnseenAttributes = words("class role aria-label aria-labelledby version")
)

// svgValue is what the value of an attribute may be: numbers, names of colours, places
// and references within the drawing, no sentences.
var svgValue = regexp.MustCompile(`^[-+0-9A-Za-z_.,%#()\s/:]*$`)

// cleanSVG cuts what is not seen, by the bytes of each piece, so that the rest stays
// as it was drawn; a drawing that may run, load or hide something is refused.
func cleanSVG(data []byte) ([]byte, error) {
	d := xml.NewDecoder(bytes.NewReader(data))
	out := make([]byte, 0, len(data))
	var open []string
	unseen := 0 // depth of the element that is cut, 0 for none
	seen := false
	for {
		from := d.InputOffset()
		token, err := d.RawToken()
		raw := data[from:min(d.InputOffset(), int64(len(data)))]
		if errors.Is(err, io.EOF) {
			if !seen || len(open) != 0 {
				return nil, errPicture
			}
			return out, nil
		}
		if err != nil {
			return nil, fmt.Errorf("the drawing cannot be read: %w", err)
		}
		keep := unseen == 0
		switch t := token.(type) {
		case xml.StartElement:
			if t.Name.Space != "" || !svgElements[t.Name.Local] || len(open) == 0 && (t.Name.Local != "svg" || seen) {
				return nil, fmt.Errorf("the drawing has a <%s>, which is not published", t.Name.Local)
			}
			changed := false
			var attributes []xml.Attr
			for _, a := range t.Attr {
				plain := a.Name.Space == "" && svgAttributes[a.Name.Local]
				value := strings.ToLower(strings.Join(strings.Fields(a.Value), ""))
				remote := strings.Contains(value, "url(") && !strings.Contains(value, "url(#") || strings.Contains(value, "javascript:")
				if !plain || remote {
					return nil, fmt.Errorf("the drawing has the attribute %s, which is not published", a.Name.Local)
				}
				if svgUnseenAttributes[a.Name.Local] || !svgValue.MatchString(a.Value) {
					changed = true
					continue
				}
				attributes = append(attributes, a)
			}
			open = append(open, t.Name.Local)
			seen = true
			if len(open) > 200 {
				return nil, errPicture
			}
			if keep && svgUnseenElements[t.Name.Local] {
				unseen, keep = len(open), false
			}
			if keep && changed {
				out = append(out, "<"+t.Name.Local...)
				for _, a := range attributes {
					out = append(out, " "+a.Name.Local+`="`...)
					var b bytes.Buffer
					_ = xml.EscapeText(&b, []byte(a.Value))
					out = append(append(out, b.Bytes()...), '"')
				}
				if bytes.HasSuffix(raw, []byte("/>")) {
					out = append(out, '/')
				}
				out = append(out, '>')
				keep = false
			}
		case xml.EndElement:
			if len(open) == 0 || open[len(open)-1] != t.Name.Local {
				return nil, errPicture
			}
			if len(open) == unseen {
				unseen = 0
			}
			open = open[:len(open)-1]
		case xml.CharData:
			words := len(open) > 0 && (open[len(open)-1] == "text" || open[len(open)-1] == "tspan")
			keep = keep && (words || len(bytes.TrimSpace(raw)) == 0)
		case xml.Comment:
			keep = false
		case xml.Directive:
			return nil, errors.New("the drawing has a document type, which is not published")
		case xml.ProcInst:
			if t.Target != "xml" {
				return nil, errors.New("the drawing has a processing instruction, which is not published")
			}
		}
		if keep {
			out = append(out, raw...)
		}
	}
}
