package privacy

import (
	"bytes"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/net/publicsuffix"
)

// scanMail looks for addresses of mail: RFC 5321 4.1.2 and RFC 5322 3.4.1 in dot-atom
// form, with letters of any script (RFC 6531).
func scanMail(text []byte, add func(Kind, int, int)) {
	for i := 0; ; {
		n := bytes.IndexByte(text[i:], '@')
		if n < 0 {
			return
		}
		at := i + n
		i = at + 1
		start, stop := localBefore(text, at), hostAfter(text, at+1)
		if start < at && stop > at+1 && at-start <= 64 && stop-at-1 <= longestHost {
			add(emailKind, start, stop)
		}
	}
}

// longestHost is the length of the longest name of a host, in bytes (RFC 1035 2.3.4).
const longestHost = 255

// localBefore is where the local part begins that ends at a place; the place itself where
// there is none.
func localBefore(text []byte, at int) int {
	start := at
	for start > 0 {
		r, size := utf8.DecodeLastRune(text[:start])
		if !letterOrDigit(r) && (r >= utf8.RuneSelf || strings.IndexByte("!#$%&'*+/=?^_{|}~-.", byte(r)) < 0) {
			break
		}
		start -= size
		if at-start > 80 {
			return at
		}
	}
	for start < at && (text[start] == '\'' || text[start] == '*' || text[start] == '|') {
		start++ // marks of the text around it
	}
	local := text[start:at]
	if len(local) == 0 || local[0] == '.' || local[len(local)-1] == '.' || bytes.Contains(local, []byte("..")) {
		return at
	}
	return start
}

// hostAfter is where the name of a host ends that begins at a place, which has two labels
// or more and ends with letters; the place itself where there is none.
func hostAfter(text []byte, at int) int {
	end, labels := at, 0
	for i := at; i < len(text); {
		start, last := i, rune(0)
		letters := true
		for i < len(text) {
			r, size := utf8.DecodeRune(text[i:])
			if !letterOrDigit(r) && (r != '-' || i == start) {
				break
			}
			if !unicode.IsLetter(r) && !unicode.IsMark(r) && !(r == '-' || unicode.IsDigit(r)) {
				break
			}
			letters = letters && (unicode.IsLetter(r) || unicode.IsMark(r))
			last = r
			i += size
		}
		if i == start {
			break
		}
		for last == '-' {
			i--
			last, _ = utf8.DecodeLastRune(text[start:i])
		}
		labels++
		if n := utf8.RuneCount(text[start:i]); labels > 1 && n >= 2 && n <= 63 && (letters || bytes.HasPrefix(bytes.ToLower(text[start:i]), []byte("xn--"))) {
			end = i
		}
		if i >= len(text) || text[i] != '.' {
			break
		}
		i++
	}
	return end
}

func letterOrDigit(r rune) bool {
	return r != utf8.RuneError && (unicode.IsLetter(r) || unicode.IsMark(r) || unicode.IsDigit(r))
}

// scanSaidMail looks in one line for addresses whose at sign is written out, in brackets
// or, where the last dot is written out too, without. The end is one that is given out.
func scanSaidMail(line []byte, brackets bool, add func(Kind, int, int)) {
	for _, w := range words().languages {
		for _, bracketed := range []bool{true, false} {
			if bracketed && !brackets {
				continue
			}
			said := w.At
			if !bracketed {
				said = w.BareAt
			}
			for _, word := range said {
				for i := 0; ; {
					n := bytes.Index(line[i:], []byte(word))
					if n < 0 {
						break
					}
					at := i + n
					i = at + len(word)
					start, stop := saidAround(line, at, i, w.Dot, bracketed)
					if start < stop {
						add(emailKind, start, stop)
					}
				}
			}
		}
	}
}

// saidAround is the address around a word for the at sign, which is at..stop; equal
// numbers where there is none.
func saidAround(line []byte, at, stop int, dots []string, bracketed bool) (int, int) {
	before, after := at, stop
	if bracketed {
		if at == 0 || stop >= len(line) || strings.IndexByte("([{<", line[at-1]) < 0 || strings.IndexByte(")]}>", line[stop]) < 0 {
			return 0, 0
		}
		before, after = at-1, stop+1
	} else if at == 0 || line[at-1] != ' ' || stop >= len(line) || line[stop] != ' ' {
		return 0, 0
	}
	for before > 0 && line[before-1] == ' ' {
		before--
	}
	for after < len(line) && line[after] == ' ' {
		after++
	}
	start := localBefore(line, before)
	if start == before {
		return 0, 0
	}
	// The host, with its dots as marks or as words.
	var host []byte
	end, spelled := after, false
	for i := after; i < len(line) && i-after <= longestHost; {
		from := i
		for i < len(line) {
			r, size := utf8.DecodeRune(line[i:])
			if !letterOrDigit(r) && (r != '-' || i == from) {
				break
			}
			i += size
		}
		if i == from {
			break
		}
		host, end = append(host, line[from:i]...), i
		next, asWord := dotAt(line, i, dots)
		if next == i {
			break
		}
		spelled = spelled || asWord
		host = append(host, '.')
		i = next
	}
	host = bytes.ToLower(bytes.TrimRight(host, "."))
	if !bytes.Contains(host, []byte(".")) || !bracketed && !spelled {
		return 0, 0
	}
	suffix, given := publicsuffix.PublicSuffix(string(host))
	if !given && suffix != "example" { // RFC 2606
		return 0, 0
	}
	return start, end
}

// dotAt is where a dot ends that begins at a place, and whether it is a word.
func dotAt(line []byte, i int, dots []string) (int, bool) {
	if line := line[i:]; len(line) > 1 && line[0] == '.' {
		return i + 1, false
	}
	j := i
	for j < len(line) && (line[j] == ' ' || strings.IndexByte("([{<", line[j]) >= 0) {
		j++
	}
	if j == i {
		return i, false
	}
	for _, d := range dots {
		if bytes.HasPrefix(line[j:], []byte(d)) {
			k := j + len(d)
			for k < len(line) && (line[k] == ' ' || strings.IndexByte(")]}>", line[k]) >= 0) {
				k++
			}
			if k > j+len(d) {
				return k, true
			}
		}
	}
	return i, false
}
