package search

import (
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	"benchlore/schema/language"
)

// Token is an analysed word; Start and Stop are byte offsets into the text.
type Token struct {
	Term        string
	Start, Stop int
	form        string // the word in lower case, before stemming; empty for a value that was split
}

// stopWords say nothing about a repair. Words that turn a symptom round (no,
// not, on, off, up, down, out) are kept.
var stopWords = func() map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(englishStops) {
		m[w] = true
	}
	return m
}()

// stopList is what stops a word of a language; it travels with the index that the
// page loads.
func stopList(l *language.Language) []string {
	if l.Tag == language.English {
		return strings.Fields(englishStops)
	}
	return l.StopWords()
}

const englishStops = `a an and are as at be been but by do does did for from had has have he her his i if
		in into is it its my of or our she so than that the their them then there these they this to was we were what
		when which while who will with you your`

// Analyze splits text into terms: words in lower case, stemmed in their language,
// without stop words. A word with a digit in it (C12, 4k7, 3.3) is
// kept whole and never stemmed; a comma between digits counts as a point, µ
// becomes u and Ω becomes ohm.
func Analyze(l *language.Language, text string) []Token { return cut(l, text, l.Stem) }

// cut is [Analyze] with words cut by another stemmer.
func cut(l *language.Language, text string, stem func(word string) string) []Token {
	var out []Token
	for i := 0; i < len(text); {
		r, n := utf8.DecodeRuneInString(text[i:])
		if !wordRune(r) {
			i += n
			continue
		}
		start := i
		var word strings.Builder
		digits := false
		var last rune
		for i < len(text) {
			r, n = utf8.DecodeRuneInString(text[i:])
			switch {
			case wordRune(r):
				if unicode.IsDigit(r) {
					digits = true
				}
				word.WriteString(fold(r))
			case (r == '\'' || r == '’') && l.Splits:
				goto done // l'appareil is two words
			case r == '\'' || r == '’':
				// won't and wont are one word
			case (r == '.' || r == ',') && unicode.IsDigit(last) && i+n < len(text) && isDigitAt(text, i+n):
				word.WriteByte('.')
			default:
				goto done
			}
			last = r
			i += n
		}
	done:
		w := word.String()
		form := w
		if !digits {
			if stops(l, w) {
				continue
			}
			w = stem(w)
		}
		if w == "" || len(w) > 64 {
			continue
		}
		if number, unit, ok := splitValue(w); digits && ok {
			out = append(out, Token{Term: number, Start: start, Stop: i}, Token{Term: unit, Start: start, Stop: i})
			continue
		}
		out = append(out, Token{w, start, i, form})
	}
	return out
}

func stops(l *language.Language, w string) bool {
	if l.Tag == language.English {
		return stopWords[w]
	}
	return l.Stops(w)
}

// valueForm is a number with a multiplier or unit behind it or in the place of
// its point; ValueUnits are the units as their own words are written. A word
// that begins with a letter is a designator and never split; four digits behind
// a letter are a type number (2N3904).
var (
	valueForm = regexp.MustCompile(`^([0-9]+(?:\.[0-9]+)?)([a-z]+)([0-9]{0,3})$`)
	// valueUnits travels with the index that the page loads.
	valueUnits = map[string]string{"r": "ohm", "k": "kohm", "m": "mohm", "g": "gohm", "p": "pf", "n": "nf", "u": "uf", "v": "v",
		"ohm": "ohm", "kohm": "kohm", "mohm": "mohm", "gohm": "gohm", "pf": "pf", "nf": "nf", "uf": "uf", "mf": "mf",
		"uh": "uh", "mh": "mh", "nh": "nh",
		"mv": "mv", "uv": "uv", "kv": "kv", "a": "a", "ma": "ma", "ua": "ua", "w": "w", "mw": "mw", "kw": "kw",
		"hz": "hz", "khz": "khz", "mhz": "mhz", "ah": "ah", "mah": "mah"}
)

// splitValue parts a value into number and unit, so that 4k7, 4.7k, 4.7kΩ and
// "4.7 kΩ" are the same two words.
func splitValue(w string) (number, unit string, ok bool) {
	if w[0] < '0' || w[0] > '9' {
		return "", "", false
	}
	m := valueForm.FindStringSubmatch(w)
	if m == nil {
		return "", "", false
	}
	unit, ok = valueUnits[m[2]]
	if m[3] != "" {
		if len(m[2]) != 1 || strings.Contains(m[1], ".") {
			return "", "", false
		}
		m[1] += "." + m[3]
	}
	return m[1], unit, ok
}

func isDigitAt(s string, i int) bool {
	r, _ := utf8.DecodeRuneInString(s[i:])
	return unicode.IsDigit(r)
}

func wordRune(r rune) bool {
	return unicode.IsLetter(r) || unicode.IsDigit(r) || unicode.Is(unicode.Mn, r) || r == '\u2126'
}

func fold(r rune) string {
	switch r {
	case 'µ', 'μ':
		return "u"
	case 'Ω', 'ω', '\u2126':
		return "ohm"
	}
	return string(unicode.ToLower(r))
}
