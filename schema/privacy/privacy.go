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
	"strings"
	"unicode"
	"unicode/utf8"
)

// Kind is what the text looks like.
type Kind string

// The kinds of personal data.
const (
	emailKind Kind = "e-mail address"
	phoneKind Kind = "telephone number"
	imeiKind  Kind = "IMEI"
	cardKind  Kind = "payment card number"
	macKind   Kind = "MAC address"
)

// Find is a place that looks like personal data; Start and Stop are byte offsets.
type Find struct {
	Kind        Kind
	Start, Stop int
}

var (
	// RFC 5321 4.1.2 and RFC 5322 3.4.1, dot-atom form.
	email = regexp.MustCompile(`[A-Za-z0-9!#$%&'*+/=?^_{|}~-]+(?:\.[A-Za-z0-9!#$%&'*+/=?^_{|}~-]+)*@[A-Za-z0-9](?:[A-Za-z0-9-]*[A-Za-z0-9])?(?:\.[A-Za-z0-9](?:[A-Za-z0-9-]*[A-Za-z0-9])?)*\.[A-Za-z]{2,63}`)
	// IEEE 802 and RFC 7042: six octets with hyphens or colons, or three groups with dots.
	mac = regexp.MustCompile(`[0-9A-Fa-f]{2}(?::[0-9A-Fa-f]{2}){5,}|[0-9A-Fa-f]{2}(?:-[0-9A-Fa-f]{2}){5,}|[0-9A-Fa-f]{4}(?:\.[0-9A-Fa-f]{4}){2,}`)
	// A word that says what the number is may be written without a space before it.
	named   = regexp.MustCompile(`(?i)(?:^|[^a-z])(?:imei|tel|phone|mobile|mob|fax|card)$`)
	context = regexp.MustCompile(`(?i)\b(?:tel|telephone|phone|mobile|mob|call|calls|ring|cell|fax|whatsapp|sms|contact|customer|owner)\b[^0-9\n]{0,16}$`)
)

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
	if bytes.IndexByte(text, '@') >= 0 {
		for _, m := range email.FindAllIndex(text, -1) {
			local := bytes.IndexByte(text[m[0]:m[1]], '@')
			joined := m[0] > 0 && text[m[0]-1] == '.' // "a..b@c" is not an address
			if local <= 64 && m[1]-m[0]-local-1 <= 255 && !joined {
				add(emailKind, m[0], m[1])
			}
		}
	}
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

// scanLine looks at each run of digits and the marks that people put between
// them; most lines have no run long enough to matter.
func scanLine(text []byte, start, stop int, add func(Kind, int, int)) {
	line := text[start:stop]
	if bytes.Count(line, []byte(":")) >= 5 || bytes.Count(line, []byte("-")) >= 5 || bytes.Count(line, []byte(".")) >= 2 {
		for _, m := range mac.FindAllIndex(line, -1) {
			n := m[1] - m[0]
			if (n == 17 || n == 14 && line[m[0]+4] == '.') && !wordAt(line, m[0]-1) && !wordAt(line, m[1]) && !dateLike(line[m[0]:m[1]]) {
				add(macKind, start+m[0], start+m[1])
			}
		}
	}
	if bytes.Count(line, []byte(".")) >= 2 {
		for _, m := range dotted.FindAllIndex(line, -1) {
			if bytes.Count(line[m[0]:m[1]], []byte("."))+9 <= m[1]-m[0] && !wordAt(line, m[0]-1) &&
				!wordAt(line, m[1]) && !decimalAt(line, m[0], m[1]) {
				add(phoneKind, start+m[0], start+m[1])
			}
		}
	}
	for i := 0; i < len(line); {
		if !digit(line[i]) && !(line[i] == '+' || line[i] == '(') {
			i++
			continue
		}
		j, digits := i, 0
		for j < len(line) && (digit(line[j]) || strings.IndexByte("+() /-", line[j]) >= 0) {
			if digit(line[j]) {
				digits++
			}
			j++
		}
		end := j
		for end > i && !digit(line[end-1]) {
			end--
		}
		if digits >= 8 && (!wordAt(line, i-1) || named.Match(line[max(0, i-contextReach):i])) && !wordAt(line, end) &&
			!decimalAt(line, i, end) {
			for _, f := range numbers(string(line[i:end]), string(line[max(0, i-contextReach):i])) {
				add(f.Kind, start+i+f.Start, start+i+f.Stop)
			}
		}
		i = max(j, i+1)
	}
}

// contextReach is how far before a number the word that makes it a telephone's may
// stand, bytes.
const contextReach = 80

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

// Telephone numbers in groups with dots: an international one, a national one with
// its trunk zero, one with a three-digit area. An address of the Internet protocol
// has no group longer than three and no leading zero; a date has eight digits.
var dotted = regexp.MustCompile(`\+[1-9]\d{0,2}(?:\.\d{2,4}){3,5}|0\d{1,5}\.\d{2,8}(?:\.\d{2,8})+|\d{3}\.\d{3}\.\d{4}`)

// Forms in which long numbers are written, tried in this order.
var (
	imeiForm = regexp.MustCompile(`^(?:\d{15}|\d{2}[ -]\d{6}[ -]\d{6}[ -]\d|\d{6}[ -]\d{2}[ -]\d{6}[ -]\d)$`)
	cardForm = regexp.MustCompile(`^(?:[2-6]\d{12,18}|[2-6]\d{3}(?:[ -]\d{4}){3}(?:[ -]\d{1,3})?|3\d{3}[ -]\d{6}[ -]\d{4,5})$`)
	// E.164: a plus, a country code, at most 15 digits in all.
	plusForm = regexp.MustCompile(`^\+[ ]?[1-9](?:[ ()/-]*\d){6,14}$`)
	// National forms: trunk zero or three-digit area, in groups.
	trunkForm = regexp.MustCompile(`^(?:\(0\d{1,5}\)[ ]?|0\d{1,5}[ /-])\d{2,8}(?:[ /-]\d{2,8})*$`)
	areaForm  = regexp.MustCompile(`^(?:\+?1[ -])?(?:\(\d{3}\) ?|\d{3}-)\d{3}-\d{4}$`)
	sizeCode  = regexp.MustCompile(`^(?:(?:01005|0201|0402|0603|0805|1005|1008|1206|1210|1608|1806|1812|2010|2012|2220|2512|3216|3225)[ /-]*)+$`)
)

// numbers judges one run of digits and marks; before is the line up to it.
func numbers(run, before string) []Find {
	if sizeCode.MatchString(run) || dates.MatchString(run) {
		return nil
	}
	digits := strings.Map(func(r rune) rune {
		if r < '0' || r > '9' {
			return -1
		}
		return r
	}, run)
	whole := func(k Kind) []Find { return []Find{{k, 0, len(run)}} }
	switch {
	case imeiForm.MatchString(run) && luhn(digits):
		return whole(imeiKind)
	case cardForm.MatchString(run) && luhn(digits):
		return whole(cardKind)
	case plusForm.MatchString(run) && len(digits) <= 15:
		return whole(phoneKind)
	case areaForm.MatchString(run):
		return whole(phoneKind)
	case len(digits) >= 9 && len(digits) <= 13 && trunkForm.MatchString(run):
		groups := strings.FieldsFunc(run, func(r rune) bool { return r < '0' || r > '9' })
		if len(groups) >= 3 || run[0] == '(' || context.MatchString(before) {
			return whole(phoneKind)
		}
	case len(digits) >= 8 && len(digits) <= 15 && context.MatchString(before):
		return whole(phoneKind)
	}
	// Several numbers in one run, parted by spaces: judge each.
	var finds []Find
	if strings.Contains(run, " ") {
		at := 0
		for _, word := range strings.SplitAfter(run, " ") {
			trimmed := strings.Trim(word, " /-")
			if len(trimmed) >= 13 && (imeiForm.MatchString(trimmed) || cardForm.MatchString(trimmed)) && luhn(trimmed) {
				kind := cardKind
				if imeiForm.MatchString(trimmed) {
					kind = imeiKind
				}
				finds = append(finds, Find{kind, at, at + len(trimmed)})
			}
			at += len(word)
		}
	}
	return finds
}

// luhn reports whether the digits end with the check digit of ISO/IEC 7812-1
// annex B; other characters are passed over.
func luhn(digits string) bool {
	sum, double, n := 0, false, 0
	for i := len(digits) - 1; i >= 0; i-- {
		if !digit(digits[i]) {
			continue
		}
		d := int(digits[i] - '0')
		if double {
			if d *= 2; d > 9 {
				d -= 9
			}
		}
		sum += d
		double = !double
		n++
	}
	return n > 1 && sum%10 == 0
}
