package privacy

import (
	"bytes"
	"regexp"
	"strings"
)

// mostMarks is how many marks stand between two digits of one number at most, as in " / ".
const mostMarks = 3

// longestRun is how long, in bytes, one number is with its marks at most.
const longestRun = 80

// mark reports whether people write a character between the digits of a number.
func mark(c byte) bool { return strings.IndexByte(" -/.()", c) >= 0 }

// scanNumbers looks at each run of digits and the marks that people put between them.
func scanNumbers(line []byte, add func(Kind, int, int)) {
	for i := 0; i < len(line); {
		if c := line[i]; !digit(c) && c != '+' && c != '(' {
			i++
			continue
		}
		j, end, digits := i, i, 0
		for j < len(line) {
			if c := line[j]; digit(c) {
				digits++
				j++
				end = j
				continue
			} else if !mark(c) && c != '+' || j-end >= mostMarks && digits > 0 {
				break
			}
			if digits > 0 && j > end && (line[j] == '+' || line[j] == ' ' && strings.IndexByte(" .", line[j-1]) >= 0) {
				break // another number, two spaces, the end of a sentence
			}
			j++
		}
		if digits >= 6 {
			judge(line, i, end, add)
		}
		i = max(end, i+1)
	}
}

// Dates between numbers: ISO 8601, and day, month and year with dots, slashes or hyphens.
var anyDate = regexp.MustCompile(`\b(?:(?:19|20)\d\d-[01]\d-[0-3]\d|[0-3]?\d([./-])[01]?\d[./-](?:19|20)\d\d)\b`)

// parting stands between two numbers and not within one.
var parting = regexp.MustCompile(` [/-] `)

// judge adds what a run of digits and marks is: one number, or several with dates or
// marks between them.
func judge(line []byte, start, stop int, add func(Kind, int, int)) {
	run := line[start:stop]
	for bytes.ContainsAny(run[:min(len(run), longestRun)], "-./") || len(run) > longestRun {
		d := anyDate.FindIndex(run)
		if d == nil {
			break
		}
		// A number whose groups look like a date by chance is one where it says what it is.
		if (run[0] == '+' || d[0] > 0 && is(contextOf(line, start), phone, card)) && judgePiece(line, start, stop, add) {
			return
		}
		judgePiece(line, start, start+d[0], add)
		start += d[1]
		run = line[start:stop]
		if len(run) == 0 {
			return
		}
	}
	if judgePiece(line, start, stop, add) || stop-start < 13 {
		return
	}
	if cuts := parting.FindAllIndex(run, -1); cuts != nil {
		from := start
		for _, c := range append(cuts, []int{len(run), len(run)}) {
			judge(line, from, start+c[0], add)
			from = start + c[1]
		}
		return
	}
	for from := start; from < stop; { // long numbers among others
		to := from
		for to < stop && line[to] != ' ' {
			to++
		}
		if solid := bytes.Trim(line[from:to], "/-.()"); to-from < stop-start && len(solid) >= 13 && allDigits(solid) {
			judgePiece(line, from, to, add)
		}
		from = to + 1
	}
}

func allDigits(b []byte) bool {
	for _, c := range b {
		if !digit(c) {
			return false
		}
	}
	return true
}

// judgePiece reports whether it added what is between two places as one number.
func judgePiece(line []byte, start, stop int, add func(Kind, int, int)) bool {
	for start < stop && !digit(line[start]) && line[start] != '+' && line[start] != '(' {
		start++
	}
	for start+1 < stop && line[start] == '(' && line[start+1] != '+' && !digit(line[start+1]) {
		start++
	}
	for stop > start && !digit(line[stop-1]) {
		stop--
	}
	if stop-start > longestRun {
		return false
	}
	n := newNumber(line[start:stop])
	if len(n.digits) < 6 || wordAt(line, stop) || decimalAt(line, start, stop) {
		return false
	}
	context := contextOf(line, start)
	if wordAt(line, start-1) && (digit(line[start-1]) || !is(context, phone, reach, imei, card, account)) {
		return false
	}
	kind := n.kind(context)
	if kind == "" && line[start] == '(' && !bytes.Contains(line[start:stop], []byte(")")) {
		start++ // brackets stand around the whole
		n = newNumber(line[start:stop])
		kind = n.kind(context)
	}
	if kind == phoneKind && !is(context, phone) && (n.between(line, start, stop)) {
		kind = ""
	}
	if kind == "" {
		return false
	}
	add(kind, start, stop)
	return true
}

// number is a run of digits and marks.
type number struct {
	text   string
	digits string
	groups []string
	marks  string // the marks that stand between groups, each once
	mixed  bool   // different marks stand between different groups
}

func newNumber(run []byte) number {
	n := number{text: string(run)}
	n.groups = strings.FieldsFunc(n.text, func(r rune) bool { return r < '0' || r > '9' })
	n.digits = strings.Join(n.groups, "")
	last := ""
	for i := 0; i < len(n.text); {
		j := i
		for j < len(n.text) && !digit(n.text[j]) {
			j++
		}
		if j > i && i > 0 {
			between := n.text[i:j]
			n.mixed = n.mixed || last != "" && last != between
			last = between
			for _, c := range between {
				if !strings.ContainsRune(n.marks, c) {
					n.marks += string(c)
				}
			}
		}
		i = max(j, i+1)
	}
	return n
}

// shape is the lengths of the groups, as in 4-4-4-4.
func (n number) shape(lengths ...int) bool {
	if len(n.groups) != len(lengths) {
		return false
	}
	for i, g := range n.groups {
		if len(g) != lengths[i] {
			return false
		}
	}
	return true
}

// sizes are codes of packages (EIA and metric), which stand in lists.
var sizes = regexp.MustCompile(`^(?:01005|0201|0402|0603|0805|1005|1008|1206|1210|1608|1806|1812|2010|2012|2220|2512|3216|3225)$`)

// kind judges a number by its form and by what the words before it say.
func (n number) kind(context []class) Kind {
	if dateLike([]byte(n.text)) {
		return ""
	}
	codes := 0
	for _, g := range n.groups {
		if sizes.MatchString(g) {
			codes++
		}
	}
	if codes == len(n.groups) {
		return ""
	}
	first, length := n.digits[0], len(n.digits)
	plain := !n.mixed && n.text[0] != '(' && n.text[0] != '+'
	switch {
	case length == 15 && luhn(n.digits) && !is(context, card) && (is(context, imei) ||
		plain && (n.shape(15) || n.shape(2, 6, 6, 1) || n.shape(6, 2, 6, 1))):
		return imeiKind
	case length >= 13 && length <= 19 && n.text[0] != '+' && luhn(n.digits) && (is(context, card) ||
		plain && first >= '2' && first <= '6' && n.isCard()):
		return cardKind
	case is(context, account) && length <= 12 && n.text[0] != '+':
		return accountKind
	case n.isPhone(context, codes):
		return phoneKind
	}
	return ""
}

// isCard reports whether the groups are those of a card: ISO/IEC 7812-1 has up to 19
// digits, which are embossed in fours, or 4-6-5 and 4-6-4.
func (n number) isCard() bool {
	if len(n.groups) == 1 || n.shape(4, 6, 5) && n.digits[0] == '3' || n.shape(4, 6, 4) && n.digits[0] == '3' {
		return true
	}
	return n.shape(4, 4, 4, 4) || len(n.groups) == 5 && len(n.digits) > 16 && n.shape(4, 4, 4, 4, len(n.digits)-16)
}

// isPhone reports whether the form, with what words say, is that of a telephone number;
// codes is how many groups are sizes of packages. E.164 has at most 15 digits.
func (n number) isPhone(context []class, codes int) bool {
	length := len(n.digits)
	sure := is(context, phone)
	said := sure || is(context, reach)
	plus := strings.HasPrefix(n.text, "+") || strings.HasPrefix(n.text, "(+")
	dots := strings.Contains(n.marks, ".")
	if dots && !sure && (n.marks != "." || len(n.groups) < 3) { // decimal numbers have dots too
		return false
	}
	switch {
	case plus:
		return n.digits[0] != '0' && length >= 7 && length <= 15 && (!dots || said || len(n.groups) >= 4)
	case sure:
		return length <= 17
	case said && (n.digits[0] == '0' || n.text[0] == '('):
		return length >= 8 && length <= 17
	case is(context, part, version):
		return false
	case strings.HasPrefix(n.digits, "00"):
		code := n.groups[0]
		return len(n.groups) > 1 && len(code) >= 3 && len(code) <= 5 && code[2] != '0' && length >= 11 && length <= 17 && !dots
	case n.northAmerican():
		return true
	case n.digits[0] != '0' || length < 9 || length > 13 || codes > 1:
		return false
	case len(n.groups) == 1:
		return n.mobile()
	}
	trunk := n.groups[0]
	if len(trunk) < 2 || len(trunk) > 6 {
		if trunk != "0" || n.text[0] != '(' {
			return false
		}
	}
	for _, g := range n.groups[1:] {
		if len(g) < 2 && n.text[0] != '(' {
			return false
		}
	}
	switch {
	case n.text[0] == '(':
		return true
	case len(n.groups) == 2:
		slash := strings.Contains(n.marks, "/") && len(trunk) >= 3 && len(n.groups[1]) >= 5
		british := len(trunk) == 5 && length == 11 && trunk[1] == '1' && n.marks == " "
		return n.mobile() && len(trunk) >= 4 || slash && codes == 0 || british
	case len(trunk) == 2 && len(n.groups[1]) == 2:
		return n.shape(2, 2, 2, 2, 2) && !n.steps() // France writes pairs
	}
	return codes == 0 || strings.Contains(n.marks, "/")
}

// northAmerican reports whether the groups are an area and a number of the North American
// numbering plan.
func (n number) northAmerican() bool {
	groups := n.groups
	if len(groups) == 4 && groups[0] == "1" {
		groups = groups[1:]
	}
	if len(groups) != 3 || len(groups[0]) != 3 || len(groups[1]) != 3 || len(groups[2]) != 4 {
		return false
	}
	return n.marks == "-" || n.marks == "." && len(n.groups) == 3 || strings.Contains(n.text, "(") && strings.Contains(n.marks, ")")
}

// mobile reports whether the digits are those of a mobile telephone: 015, 016 and 017 in
// Germany with eleven or twelve digits, 071 to 079 in the United Kingdom with eleven.
func (n number) mobile() bool {
	d := n.digits
	return len(d) >= 11 && len(d) <= 12 && d[1] == '1' && d[2] >= '5' && d[2] <= '7' ||
		len(d) == 11 && d[1] == '7' && d[2] != '0'
}

// steps reports whether the groups count in equal steps, as pins of a connector do.
func (n number) steps() bool {
	value := func(i int) int { return int(n.groups[i][0]-'0')*10 + int(n.groups[i][1]-'0') }
	for i := 2; i < len(n.groups); i++ {
		if value(i)-value(i-1) != value(1)-value(0) {
			return false
		}
	}
	return true
}

// between reports whether a run of pairs goes on in a dump of bytes.
func (n number) between(line []byte, start, stop int) bool {
	for _, g := range n.groups {
		if len(g) != 2 {
			return false
		}
	}
	pair := func(i int) bool { return i >= 0 && i+1 < len(line) && hex(line[i]) && hex(line[i+1]) }
	after := stop < len(line) && line[stop] == ' ' && pair(stop+1) && !wordAt(line, stop+3)
	before := start > 2 && line[start-1] == ' ' && pair(start-3) && !wordAt(line, start-4)
	return after || before
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
