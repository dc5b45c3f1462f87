package privacy

import (
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
// bytes and of its end; the places are nil when it is the text itself.
func seen(text []byte) (plain []byte, at []int) {
	if isSeen(text) {
		return text, nil
	}
	plain, at = make([]byte, 0, len(text)), make([]int, 0, len(text)+1)
	put := func(r rune, place int) {
		before := len(plain)
		plain = utf8.AppendRune(plain, r)
		for range len(plain) - before {
			at = append(at, place)
		}
	}
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRune(text[i:])
		if r == '&' || r == '\\' {
			if m := reference.Find(text[i:min(len(text), i+longestReference)]); m != nil {
				r, size = referred(string(m)), len(m)
			}
		}
		if shown, ok := asSeen(r); ok {
			put(shown, i)
		}
		i += size
	}
	return plain, append(at, len(text))
}

// isSeen reports whether a text is what a reader sees, as most are: ohms and degrees are.
func isSeen(text []byte) bool {
	for i := 0; i < len(text); {
		r, size := rune(text[i]), 1
		switch {
		case r >= utf8.RuneSelf:
			r, size = utf8.DecodeRune(text[i:])
			if shown, ok := asSeen(r); !ok || shown != r || r == utf8.RuneError {
				return false
			}
		case r == '&', r == '\\':
			if reference.Match(text[i:min(len(text), i+longestReference)]) {
				return false
			}
		}
		i += size
	}
	return true
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
	case unicode.Is(unicode.Pd, r) || r == '\u2212':
		return '-', true
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
