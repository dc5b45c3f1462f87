package privacy

import (
	"bytes"
	"html"
	"regexp"
	"strconv"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
	"golang.org/x/text/width"
)

// A character that is written by its number or name: a reference of HTML, an escape
// of YAML in double quotes, a Markdown escape.
var reference = regexp.MustCompile(`^(?:&(?:#[0-9]{1,7}|#[xX][0-9a-fA-F]{1,6}|[A-Za-z]{2,31});|\\x[0-9a-fA-F]{2}|\\u[0-9a-fA-F]{4}|\\U[0-9a-fA-F]{8}|\\[!-/:-@[-` + "`" + `{-~])`)

// seen is the text as a reader sees it, with the place in the text of each of its
// bytes and of its end; the places are nil when it is the text itself, as most are: ohms
// and degrees are read as they are written.
func seen(text []byte) (plain []byte, at []int) {
	same := 0
	for same < len(text) {
		if c := text[same]; c < utf8.RuneSelf && c != '&' && c != '\\' { // nearly every one
			same++
			continue
		}
		shown, size, ok := shownAt(text[same:])
		var written [utf8.UTFMax]byte
		if !ok || !bytes.Equal(written[:utf8.EncodeRune(written[:], shown)], text[same:same+size]) {
			break
		}
		same += size
	}
	if same == len(text) {
		return text, nil
	}
	plain, at = append(make([]byte, 0, len(text)), text[:same]...), make([]int, 0, len(text)+1)
	for i := range same {
		at = append(at, i)
	}
	for i := same; i < len(text); {
		shown, size, ok := shownAt(text[i:])
		if ok {
			before := len(plain)
			plain = utf8.AppendRune(plain, shown)
			for range len(plain) - before {
				at = append(at, i)
			}
		}
		i += size
	}
	return plain, append(at, len(text))
}

// shownAt is the character that a reader sees where a text begins, and with how many bytes
// it is written; ok is false for one that is not seen at all.
func shownAt(text []byte) (shown rune, size int, ok bool) {
	r, size := utf8.DecodeRune(text)
	if r == '&' || r == '\\' {
		if m := reference.Find(text[:min(len(text), longestReference)]); m != nil {
			r, size = referred(string(m)), len(m)
		}
	}
	shown, ok = asSeen(r)
	return shown, size, ok
}

// longestReference is the length of the longest reference that is read, in bytes.
const longestReference = 33

// referred is the character that a reference stands for.
func referred(m string) rune {
	if m[0] == '&' {
		for _, r := range html.UnescapeString(m) {
			return r
		}
	}
	if len(m) == 2 {
		return rune(m[1])
	}
	n, err := strconv.ParseUint(m[2:], 16, 32)
	if err != nil || n > unicode.MaxRune {
		return utf8.RuneError
	}
	return rune(n)
}

// asSeen is the plain character that a character looks like; ok is false for one
// that is not seen at all.
func asSeen(r rune) (shown rune, ok bool) {
	switch {
	case r < utf8.RuneSelf:
		return r, true
	case r == '\u00ad' || unicode.Is(unicode.Cf, r):
		return 0, false
	case unicode.Is(unicode.Zs, r):
		return ' ', true
	case unicode.Is(unicode.Pd, r) || r == '\u2212' || r == '\u2043': // minus, hyphen bullet
		return '-', true
	case r == '\u2044' || r == '\u2215': // fraction slash, division slash
		return '/', true
	case r == '\u00b7' || r == '\u2022' || r == '\u2024' || r == '\u2027' || r == '\u2219' || r == '\u22c5':
		return '.', true // dots that stand in the middle of the line, and the one dot leader
	case unicode.Is(unicode.Nd, r):
		if plain := norm.NFKC.String(string(r)); len(plain) == 1 {
			return rune(plain[0]), true // a digit of another shape
		}
		if n, ok := decimal(r); ok {
			return n, true
		}
	}
	if narrow := width.LookupRune(r).Narrow(); narrow != 0 && narrow < utf8.RuneSelf {
		return narrow, true
	}
	return r, true
}

// decimal is the ASCII digit of a decimal digit of any script; Unicode lays them out
// in runs of ten that begin with zero.
func decimal(r rune) (rune, bool) {
	for n := range rune(10) {
		if !unicode.Is(unicode.Nd, r-n-1) {
			return '0' + n, true
		}
	}
	return 0, false
}
