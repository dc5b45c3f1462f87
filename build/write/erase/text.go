package erase

import (
	"bytes"
	"html"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// A text is found as a reader sees it: capitals and small letters are one (Unicode full
// case folding), so are the normal forms (NFKD), all white space, all dashes and all
// apostrophes; what has no width is not there. What stands for a character, by its number
// or name, is that character. How much of a file is code for something else depends on who
// reads it, so a file is read in several ways, and what any of them finds is found.

// reading is a way to read a file's bytes.
type reading int

const (
	plain   reading = iota // references of HTML, escapes of Markdown
	escaped                // escapes of YAML and of JSON too, and two apostrophes as one
	percent                // percent-encoding (RFC 3986, 2.1), as in addresses
	linked                 // destinations of links are not seen
	shown                  // tags and comments are not seen either
	readings
)

// calledFor reports cheaply whether a reading can differ from the plain one.
func (r reading) calledFor(text []byte) bool {
	switch r {
	case escaped:
		return bytes.IndexByte(text, '\\') >= 0 || bytes.Contains(text, []byte("''"))
	case percent:
		return bytes.IndexByte(text, '%') >= 0
	case linked:
		return bytes.Contains(text, []byte("]("))
	case shown:
		return bytes.IndexByte(text, '<') >= 0
	}
	return true
}

// kind is what a glyph is to a match.
type kind byte

const (
	letter    kind = iota // of a word: letters, digits and their marks
	space                 // white space, a line end included
	joint                 // what may stand between two words of a name: a hyphen, a point
	markup                // emphasis and code, and links and tags in readings for them: nobody sees it
	underline             // a sign within a word, or emphasis
	other
)

// glyph is a folded character with the bytes that it is written with.
type glyph struct {
	r           rune
	start, stop int
	kind        kind
	lineEnd     bool
}

var (
	reference = regexp.MustCompile(`^&(?:#[0-9]{1,7}|#[xX][0-9a-fA-F]{1,6}|[A-Za-z][A-Za-z0-9]{1,31});`)
	byNumber  = regexp.MustCompile(`^\\(?:x[0-9a-fA-F]{2}|u[0-9a-fA-F]{4}|U[0-9a-fA-F]{8})`)
	octets    = regexp.MustCompile(`^(?:%[0-9a-fA-F]{2})+`)
	tag       = regexp.MustCompile(`^<(?:!--[^\n]*?--|/?[A-Za-z][^<>\n]*)>`)
	behind    = regexp.MustCompile(`^\]\([^()\n]*\)`) // the second half of a link
)

// longest bounds what one of the patterns above is asked to look at, in bytes.
const longest = 2100

// glyphs reads a text.
func glyphs(text []byte, as reading) []glyph {
	out := make([]glyph, 0, len(text))
	folder := cases.Fold()
	known := map[rune][]rune{}
	put := func(r rune, start, stop int) {
		if r < utf8.RuneSelf {
			out = append(out, ascii(r, start, stop))
			return
		}
		folded, ok := known[r]
		if !ok {
			folded = fold(r, &folder)
			known[r] = folded
		}
		for _, f := range folded {
			out = append(out, kindOf(f, start, stop))
		}
	}
	for i := 0; i < len(text); {
		c := text[i]
		rest := text[i:min(len(text), i+longest)]
		size := 1
		switch {
		case c == '&':
			if m := reference.Find(rest); m != nil {
				if meant := html.UnescapeString(string(m)); meant != string(m) {
					for _, r := range meant {
						put(r, i, i+len(m))
					}
					i += len(m)
					continue
				}
			}
			put('&', i, i+1)
		case c == '\\' && as == escaped && len(rest) > 1 && rest[1] == '\n': // a line that goes on without a space
			for size = 2; size < len(rest) && rest[size] == ' '; size++ {
			}
			out = append(out, glyph{'\\', i, i + size, markup, true})
		case c == '\\' && as == escaped:
			size = unescape(rest, func(r rune, n int) { put(r, i, i+n) })
		case c == '\\' && len(rest) > 1 && isPunct(rest[1]):
			size = 2
			out = append(out, glyph{rune(rest[1]), i, i + 2, kindOf(rune(rest[1]), 0, 0).kind, false})
			if k := &out[len(out)-1].kind; *k == markup { // it is shown
				*k = other
			}
		case c == '\\': // before a line end it breaks the line, elsewhere it is shown
			out = append(out, glyph{'\\', i, i + 1, other, false})
			if len(rest) > 1 && (rest[1] == '\n' || rest[1] == '\r') {
				out[len(out)-1].kind = markup
			}
		case c == '\'' && as == escaped && len(rest) > 1 && rest[1] == '\'':
			put('\'', i, i+2)
			size = 2
		case c == '%' && as == percent:
			m := octets.Find(rest)
			raw := make([]byte, 0, len(m)/3)
			for k := 0; k < len(m); k += 3 {
				b, _ := strconv.ParseUint(string(m[k+1:k+3]), 16, 8)
				raw = append(raw, byte(b))
			}
			if len(m) == 0 || !utf8.Valid(raw) {
				put('%', i, i+1)
				break
			}
			for at := 0; at < len(raw); {
				r, n := utf8.DecodeRune(raw[at:])
				put(r, i+3*at, i+3*(at+n))
				at += n
			}
			size = len(m)
		case as == shown && c == '<', as >= linked && c == ']':
			pattern := tag
			if c == ']' {
				pattern = behind
			}
			if m := pattern.Find(rest); m != nil {
				out = append(out, glyph{rune(c), i, i + len(m), markup, false})
				size = len(m)
			} else {
				put(rune(c), i, i+1)
			}
		case as >= linked && c == '[':
			out = append(out, glyph{'[', i, i + 1, markup, false})
		case c < utf8.RuneSelf:
			put(rune(c), i, i+1)
		default:
			r, n := utf8.DecodeRune(rest)
			put(r, i, i+n)
			size = n
		}
		i += size
	}
	order(out)
	return out
}

// unescape reads an escape of YAML or JSON at the beginning of text and returns its length.
func unescape(text []byte, put func(r rune, n int)) int {
	if m := byNumber.Find(text); m != nil {
		n, _ := strconv.ParseUint(string(m[2:]), 16, 32)
		if r := rune(n); utf16.IsSurrogate(r) && m[1] == 'u' {
			if low := byNumber.Find(text[len(m):]); low != nil && low[1] == 'u' {
				l, _ := strconv.ParseUint(string(low[2:]), 16, 32)
				put(utf16.DecodeRune(r, rune(l)), 12)
				return 12
			}
		}
		put(rune(n), len(m))
		return len(m)
	}
	if len(text) < 2 {
		put('\\', 1)
		return 1
	}
	switch text[1] {
	case 'n', 't', 'r', 'f', 'v', '_', 'N', 'L', 'P':
		put(' ', 2)
	default:
		if isPunct(text[1]) {
			put(rune(text[1]), 2)
			return 2
		}
		put('\\', 1)
		return 1
	}
	return 2
}

func isPunct(c byte) bool {
	return c >= '!' && c <= '/' || c >= ':' && c <= '@' || c >= '[' && c <= '`' || c >= '{' && c <= '~'
}

// fold is a character without capitals, in NFKD; nothing for one that is not seen.
func fold(r rune, folder *cases.Caser) []rune {
	switch {
	case unicode.Is(unicode.Cf, r), unicode.Is(unicode.Variation_Selector, r), r == '\u034f', r == '\ufeff':
		return nil
	case unicode.Is(unicode.Pd, r), r == '\u2212':
		return []rune{'-'}
	case r == '’', r == '‘', r == 'ʼ', r == '´':
		return []rune{'\''}
	case r == '“', r == '”', r == '„':
		return []rune{'"'}
	case unicode.IsSpace(r), unicode.Is(unicode.Zs, r):
		return []rune{' '}
	}
	s := norm.NFKD.String(folder.String(norm.NFKD.String(folder.String(norm.NFD.String(string(r))))))
	return []rune(s)
}

func ascii(r rune, start, stop int) glyph {
	if r >= 'A' && r <= 'Z' {
		r += 'a' - 'A'
	}
	return kindOf(r, start, stop)
}

func kindOf(r rune, start, stop int) glyph {
	g := glyph{r, start, stop, other, false}
	switch {
	case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
		g.kind = letter
	case r == ' ' || r == '\n' || r == '\r' || r == '\t' || r == '\v' || r == '\f':
		g.r, g.kind, g.lineEnd = ' ', space, r == '\n'
	case r == '-' || r == '.' || r == '/':
		g.kind = joint
	case r == '*' || r == '`' || r == '~':
		g.kind = markup
	case r == '_':
		g.kind = underline
	case r >= utf8.RuneSelf && (unicode.IsLetter(r) || unicode.IsNumber(r) || unicode.IsMark(r)):
		g.kind = letter
	}
	return g
}

// order brings marks that stand on one letter into canonical order (UAX 15), since each
// was decomposed by itself.
func order(list []glyph) {
	class := func(g glyph) uint8 {
		if g.r < 0x300 {
			return 0
		}
		return norm.NFKD.PropertiesString(string(g.r)).CCC()
	}
	for i := 0; i < len(list); i++ {
		if class(list[i]) == 0 {
			continue
		}
		j := i + 1
		for j < len(list) && class(list[j]) != 0 {
			j++
		}
		if j > i+1 {
			slices.SortStableFunc(list[i:j], func(a, b glyph) int { return int(class(a)) - int(class(b)) })
		}
		i = j
	}
}

// pattern is a text that is looked for.
type pattern struct {
	text  string
	steps []step
	// name is set for the name of a file, which begins and ends where no sign of another
	// name stands.
	name bool
}

// step is a character of a pattern, and whether what lies between words may stand before
// it; it must, unless loose.
type step struct {
	r          rune
	gap, loose bool
	word       bool // it is of a word
}

// newPattern reads what is looked for; ok is false for a text without a letter or digit.
func newPattern(text string) (p pattern, ok bool) {
	p.text = text
	gap, letters, digits := false, 0, 0
	for _, g := range glyphs([]byte(strings.TrimSpace(text)), plain) {
		if g.kind == markup {
			continue
		}
		if g.kind == space {
			gap = len(p.steps) > 0
			continue
		}
		s := step{r: g.r, gap: gap, word: g.kind == letter}
		if gap && (!s.word || !p.steps[len(p.steps)-1].word) {
			s.loose = true
		}
		if s.word {
			if unicode.IsDigit(g.r) {
				digits++
			} else {
				letters++
			}
		}
		p.steps = append(p.steps, s)
		gap = false
	}
	// A number of six digits and more is grouped as everybody likes.
	if letters == 0 && digits >= 6 {
		p.steps = slices.DeleteFunc(p.steps, func(s step) bool { return !s.word && s.r != '+' })
		for i := range p.steps {
			p.steps[i].gap, p.steps[i].loose = i > 0, true
		}
	}
	return p, letters+digits > 0
}

// hit is where a pattern was found.
type hit struct {
	pieces []piece // one on each line
	whole  bool    // not a part of a longer word
}

// piece is the part of a hit on one line, and the markup in it whose other half stands
// outside of it.
type piece struct {
	start, stop   int
	before, after string
}

// longestGap bounds what may stand between two words, in bytes: the indentation and the
// signs of a line that goes on.
const longestGap = 80

// find returns where the pattern stands, in order and without overlap. With parts a
// longer word that it is a part of is taken whole; else such are returned as not whole.
func (p pattern) find(text []byte, list []glyph, parts bool) (out []hit) {
	for i := 0; i < len(list); i++ {
		if list[i].r != p.steps[0].r || list[i].kind == markup {
			continue
		}
		end, ok := p.match(text, list, i)
		if !ok {
			continue
		}
		from := i
		whole := p.endsAt(list, from, end)
		if parts && !whole && !p.name {
			for from > 0 && list[from-1].kind == letter && list[from].kind == letter {
				from--
			}
			for end < len(list) && list[end].kind == letter && list[end-1].kind == letter {
				end++
			}
			whole = true
		}
		// A character that was decomposed is taken whole.
		for end < len(list) && list[end].start < list[end-1].stop && list[end].start == list[end-1].start {
			end++
		}
		out = append(out, hit{pieces(text, list[from:end]), whole})
		i = end - 1
	}
	return out
}

// endsAt reports whether neither end of a match stands within a word.
func (p pattern) endsAt(list []glyph, from, end int) bool {
	within := func(g glyph) bool {
		return g.kind == letter || p.name && (g.r == '-' || g.kind == underline)
	}
	if p.steps[0].word && from > 0 && within(list[from-1]) {
		return false
	}
	return !p.steps[len(p.steps)-1].word || end >= len(list) || !within(list[end])
}

// match follows the pattern from a glyph and returns the one after its last.
func (p pattern) match(text []byte, list []glyph, i int) (end int, ok bool) {
	for k, s := range p.steps {
		if k > 0 {
			from := i
			if s.gap {
				i = overGap(text, list, i)
				if i == from && !s.loose {
					return 0, false
				}
			}
			for i < len(list) && list[i].kind == markup && list[i].r != s.r {
				i++
			}
		}
		if i >= len(list) || list[i].r != s.r {
			return 0, false
		}
		i++
	}
	return i, true
}

// overGap passes over what may stand between two words: white space with one line end at
// the most, and the signs with which a quotation or comment goes on in the next line.
func overGap(text []byte, list []glyph, i int) int {
	from, ends, fresh := i, 0, false
	for i < len(list) && list[i].start-list[from].start < longestGap {
		g := list[i]
		switch {
		case g.lineEnd:
			if ends++; ends > 1 {
				return from
			}
			fresh = true
		case g.kind == space, g.kind == markup, g.kind == joint, g.kind == underline:
		case fresh && (g.r == '>' || g.r == '#'):
		case g.r == '(' || g.r == ')': // as in numbers
		default:
			return i
		}
		i++
	}
	return i
}

// pieces cuts a match at its line ends.
func pieces(text []byte, match []glyph) (out []piece) {
	var stack []piece // of openers, by what they are
	begin := func() { out, stack = append(out, piece{start: -1}), nil }
	begin()
	finish := func() {
		last := &out[len(out)-1]
		for _, o := range stack {
			last.before += o.before
		}
	}
	for i, g := range match {
		if g.lineEnd && bytes.IndexByte(text[g.start:g.stop], '\n') >= 0 {
			finish()
			begin()
			continue
		}
		last := &out[len(out)-1]
		if last.start < 0 {
			if g.kind != letter && i > 0 {
				continue // what a line begins with stays
			}
			last.start = g.start
		}
		if g.kind == letter || i == len(match)-1 || g.kind == other {
			last.stop = g.stop
		}
	}
	finish()
	out = slices.DeleteFunc(out, func(p piece) bool { return p.start < 0 || p.stop <= p.start })
	for i := range out {
		out[i].before, out[i].after = halves(text, match, out[i].start, out[i].stop)
	}
	return out
}

// halves is the markup of a piece whose other half stands outside: what opens, and what
// closes.
func halves(text []byte, match []glyph, start, stop int) (before, after string) {
	var open []string
	for i := 0; i < len(match); i++ {
		g := match[i]
		if g.start < start || g.stop > stop || g.kind != markup {
			continue
		}
		j := i
		for j+1 < len(match) && match[j+1].kind == markup && match[j+1].r == g.r && g.r != '<' && match[j+1].stop <= stop {
			j++
		}
		sign := string(text[g.start:match[j].stop])
		closes, twin := false, sign
		switch {
		case g.r == '\\': // a line break
			continue
		case g.r == ']':
			closes, twin = true, "["
		case g.r == '<' && strings.HasPrefix(sign, "<!"):
			continue
		case g.r == '<':
			closes = strings.HasPrefix(sign, "</")
		case g.r != '[':
			// Between two letters it closes what opened just before.
			closes = i > 0 && match[i-1].kind != space && (j+1 >= len(match) || match[j+1].kind != letter ||
				bytes.HasSuffix(text[:start], []byte(sign)))
		}
		i = j
		if k := slices.Index(open, twin); k >= 0 && (closes || g.r != '[' && g.r != '<') {
			open = slices.Delete(open, k, k+1)
			continue
		}
		if g.r == '<' && closes {
			if k := slices.IndexFunc(open, func(s string) bool { return strings.HasPrefix(s, "<") }); k >= 0 {
				open = slices.Delete(open, k, k+1)
				continue
			}
		}
		if closes {
			after += sign
		} else {
			open = append(open, sign)
		}
	}
	return strings.Join(open, ""), after
}
