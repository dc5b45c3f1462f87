package picture

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path"
	"strings"
)

// MaxBytes is the largest picture that is read or published, in bytes.
const MaxBytes = 20 << 20

// MediaType returns the media type (RFC 2046) that a picture has once [Clean] has
// written it anew, by the ending of its name; it is empty where files of that ending are
// no pictures that are published. A WebP is published as PNG under the name that its case
// gives it: no text of a case or a pack needs rewriting, a page from a stick shows it,
// since browsers tell pictures by their bytes, and a server says what it is.
func MediaType(name string) string {
	switch strings.ToLower(path.Ext(name)) {
	case ".jpg", ".jpeg":
		return "image/jpeg"
	case ".png", ".webp":
		return "image/png"
	case ".svg":
		return "image/svg+xml"
	}
	return ""
}

// Clean writes a picture anew with nothing in it but what it shows, or says why it is not
// published. Equal pictures give equal bytes.
//
// PNG and WebP are decoded and written as PNG, with the very pixels that were shown; a
// moving one is refused, since which of its frames matters only its author knows. A JPEG
// keeps its coefficients where they can be read and written one by one ([recoded]);
// otherwise, and where it has to be turned upright, it is decoded and encoded at about the
// quality that it had. Of a drawing what is drawn inside its view is written anew ([cleanSVG]).
//
// What lies in the visible pixels themselves, such as their lowest bits, is part of what
// is shown.
func Clean(name string, data []byte) ([]byte, error) {
	if len(data) > MaxBytes {
		return nil, fmt.Errorf("picture has %d bytes; at most %d are published", len(data), MaxBytes)
	}
	have := kindOf(data)
	var out []byte
	var err error
	switch ext := strings.ToLower(path.Ext(name)); {
	case MediaType(name) == "":
		if have == "" {
			have = strings.ToUpper(strings.TrimPrefix(ext, "."))
		}
		return nil, refused(have)
	case ext == ".svg":
		if have != "" {
			return nil, mistaken("SVG", have)
		}
		out, err = cleanSVG(data)
	case ext == ".webp" && (have == "WebP" || have == "PNG"), ext == ".png" && have == "PNG":
		out, err = cleanPixels(data, have)
	case (ext == ".jpg" || ext == ".jpeg") && have == "JPEG":
		out, err = cleanJPEG(data)
	case have == "":
		return nil, errPicture
	default:
		return nil, mistaken(strings.ToUpper(ext[1:]), have)
	}
	if err == nil && len(out) > MaxBytes {
		err = fmt.Errorf("the picture has %d bytes once it is written anew; at most %d are published, so make it smaller", len(out), MaxBytes)
	}
	if err != nil {
		return nil, err
	}
	return out, nil
}

var errPicture = errors.New("this is not a whole picture of the kind that its name says")

func refused(kind string) error {
	if kind == "" {
		kind = "file of an unknown kind"
	}
	return fmt.Errorf("%s: only JPEG, PNG, WebP and SVG pictures are published; save it as one of these", kind)
}

// mistaken says that the bytes are of another kind than the name.
func mistaken(named, have string) error {
	switch have {
	case "JPEG", "PNG", "WebP":
		return fmt.Errorf("its name says %s and its bytes are %s; give it the ending .%s", named, have,
			map[string]string{"JPEG": "jpg", "PNG": "png", "WebP": "webp"}[have])
	}
	return refused(have)
}

// signatures are how files of pictures begin (MIME Sniffing, section 6.1, and the formats'
// own specifications), so that what cannot be decoded is named.
var signatures = []struct{ kind, begins string }{
	{"PNG", pngSignature}, {"JPEG", "\xFF\xD8\xFF"}, {"GIF", "GIF8"}, {"BMP", "BM"}, {"TIFF", "II*\x00"},
	{"TIFF", "MM\x00*"}, {"JPEG XL", "\xFF\x0A"}, {"JPEG XL", "\x00\x00\x00\x0CJXL "},
	{"JPEG 2000", "\x00\x00\x00\x0CjP  "}, {"JPEG 2000", "\xFF\x4F\xFF\x51"}, {"ICO", "\x00\x00\x01\x00"},
	{"Photoshop", "8BPS"}, {"PDF", "%PDF-"},
}

// kindOf tells the kind of a picture by how it begins, or "".
func kindOf(b []byte) string {
	for _, s := range signatures {
		if bytes.HasPrefix(b, []byte(s.begins)) {
			return s.kind
		}
	}
	switch {
	case len(b) >= 12 && string(b[:4]) == "RIFF" && string(b[8:12]) == "WEBP":
		return "WebP"
	case len(b) >= 12 && string(b[4:12]) == "ftypavif":
		return "AVIF"
	case isHEIC(b):
		return "HEIC"
	}
	return ""
}

// claim waits until so many pixels may be decoded; the caller calls free when it holds
// them no more.
func claim(width, height int) (free func(), err error) {
	if width < 1 || height < 1 || width > MaxPixels/height {
		return nil, ErrPixels
	}
	pixels := int64(width) * int64(height)
	if err := decoding.Acquire(context.Background(), pixels); err != nil {
		return nil, err
	}
	return func() { decoding.Release(pixels) }, nil
}
