// Package privacy finds text that looks like a customer's personal data:
// e-mail addresses, telephone numbers, IMEIs, payment card numbers and MAC
// addresses.
//
// [Scan] errs on the side of naming too much, but never takes a component
// marking, a package size, a date, a reading or a case id for a person's.
// One 15-digit number in ten passes the check digit by chance, so the wording
// is "may be".
package privacy

import (
	"bytes"
	"regexp"
	"slices"
	"unicode"
	"unicode/utf8"
)

// Kind is what the text looks like.
type Kind string

// The kinds of personal data.
const (
	emailKind   Kind = "e-mail address"
	phoneKind   Kind = "telephone number"
	imeiKind    Kind = "IMEI"
	cardKind    Kind = "payment card number"
	ibanKind    Kind = "IBAN"
	accountKind Kind = "bank account number"
	macKind     Kind = "MAC address"
	networkKind Kind = "network address"
	addressKind Kind = "address"
)

// Find is a place that looks like personal data; Start and Stop are byte offsets.
type Find struct {
	Kind        Kind
	Start, Stop int
}

// Scan returns the finds in order of place. Spellings that a reader sees as the
// same (full-width digits, no-break spaces, other hyphens, character references,
// escapes of YAML and Markdown) are read as what they show.
func Scan(text []byte) []Find {
	plain, at := seen(text)
	finds := scan(plain)
	if at != nil {
		for i, f := range finds {
			finds[i].Start, finds[i].Stop = at[f.Start], at[f.Stop]
		}
	}
	return finds
}

// scan is Scan of text that is written as it is seen.
func scan(text []byte) []Find {
	var finds []Find
	var taken []bool // by byte, once anything is found: a long text may hold thousands
	add := func(k Kind, start, stop int) {
		if taken == nil {
			taken = make([]bool, len(text))
		}
		if taken[start] || taken[stop-1] {
			return
		}
		for i := start; i < stop; i++ {
			if taken[i] {
				return
			}
		}
		for i := start; i < stop; i++ {
			taken[i] = true
		}
		finds = append(finds, Find{k, start, stop})
	}
	scanMail(text, add)
	for start := 0; start < len(text); {
		stop := start + lineLength(text[start:])
		scanLine(text, start, stop, add)
		start = stop + 1
	}
	slices.SortFunc(finds, func(a, b Find) int { return a.Start - b.Start })
	return finds
}

func lineLength(b []byte) int {
	if n := bytes.IndexByte(b, '\n'); n >= 0 {
		return n
	}
	return len(b)
}

// scanLine looks at one line; most have few digits and no bracket, and are done soon.
func scanLine(text []byte, start, stop int, add func(Kind, int, int)) {
	line := text[start:stop]
	digits, brackets := 0, false
	for _, c := range line {
		if digit(c) {
			digits++
		}
		brackets = brackets || c == '(' || c == '[' || c == '{' || c == '<'
	}
	here := func(k Kind, from, to int) { add(k, start+from, start+to) }
	scanSaidMail(line, brackets, here)
	if digits < fewestDigits {
		return
	}
	for i := range line {
		if letter(line[i]) && (i == 0 || !letter(line[i-1])) {
			if end := ibanAt(line, i); end > 0 {
				here(ibanKind, i, end)
			}
		}
	}
	scanNumbers(line, here) // before networks: a number after its word may have the form of one
	scanNetwork(line, here)
	scanAddress(text, start, stop, add)
}

// fewestDigits is how many digits a line has at least that holds anything but mail: a
// British postcode below its street has two.
const fewestDigits = 2

// wordAt reports whether the byte at i continues a word, as in part markings.
func wordAt(line []byte, i int) bool {
	if i < 0 || i >= len(line) {
		return false
	}
	if line[i] >= utf8.RuneSelf {
		r, _ := utf8.DecodeRune(line[i:])
		return unicode.IsLetter(r)
	}
	return line[i] == '_' || line[i] >= 'a' && line[i] <= 'z' || line[i] >= 'A' && line[i] <= 'Z' || digit(line[i])
}

// decimalAt reports whether the run is part of a decimal number.
func decimalAt(line []byte, i, end int) bool {
	before := i > 1 && (line[i-1] == '.' || line[i-1] == ',') && digit(line[i-2])
	after := end+1 < len(line) && (line[end] == '.' || line[end] == ',') && digit(line[end+1])
	return before || after
}

var dates = regexp.MustCompile(`^(?:19|20)\d\d-\d\d`)

func dateLike(b []byte) bool { return dates.Match(b) }

func digit(c byte) bool { return c >= '0' && c <= '9' }
