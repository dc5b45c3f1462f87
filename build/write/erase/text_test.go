package erase

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/unicode/norm"
)

// TestFoundAsSeen: one text in the ways in which it can be written, and others that a
// reader does not take for it. Folding is that of Unicode 3.13 and UAX 15, escapes are those
// of YAML 1.2 (5.7), RFC 8259 (7), CommonMark (2.4, 2.5) and RFC 3986 (2.1).
func TestFoundAsSeen(t *testing.T) {
	const name = "Zerline Quastmühl"
	for text, want := range map[string]string{
		"the radio of Zerline Quastmühl hums":               "the radio of @ hums",
		"ZERLINE QUASTMÜHL, zerline quastmühl":              "@, @",
		norm.NFD.String("for Zerline Quastmühl."):           "for @.",
		"Ｚｅｒｌｉｎｅ Quastmühl":                                 "@",
		"Zerline\u00a0Quastmühl":                            "@",
		"Zerline   \tQuastmühl":                             "@",
		"Zer\u00adline Quast\u200bmühl":                     "@",
		"Zerline\nQuastmühl came":                           "@\n@ came",
		"> Zerline\n> Quastmühl":                            "> @\n> @",
		"Zerline\r\nQuastmühl":                              "@\r\n@",
		"**Zerline** Quastmühl":                             "**@**",
		"Zerline **Quastmühl**":                             "**@**",
		"**Zerline Quastmühl**":                             "**@**",
		"*Zer*line Quastmühl":                               "*@*",
		"Zerline Quast**müh**l":                             "@",
		"`Zerline` Quastmühl":                               "`@`",
		"_Zerline Quastmühl_":                               "_@_",
		"[Zerline](https://example.org) Quastmühl":          "[@](https://example.org)",
		"[Zerline Quastmühl](https://example.org)":          "[@](https://example.org)",
		"Zerline Quastm&uuml;hl":                            "@",
		"&#90;erline Quastm&#xFC;hl":                        "@",
		`"Zerline Quastm\u00fchl"`:                          `"@"`,
		`"\x5aerline Quastm\xfchl"`:                         `"@"`,
		`"Zerline\nQuastmühl"`:                              `"@"`,
		"\"Zer\\\n  line Quastmühl\"":                       "\"@\\\n  @\"", // a line that goes on (YAML 1.2, 7.3.1)
		"https://example.org/Zerline%20Quastm%C3%BChl":      "https://example.org/@",
		"zerline.quastmühl@example.org":                     "@@example.org",
		"zerline-quastmühl.jpg, zerline_quastmühl":          "@.jpg, @",
		"<b>Zerline</b> Quastmühl":                          "<b>@</b>",
		"Zerline <!-- the elder --> Quastmühl":              "@",
		"<!-- [Zerline](https://example.org) Quastmühl -->": "<!-- [@](https://example.org) -->",
		"the Zerline Quastmühls":                            "",
		"Zerline Quastmuhl":                                 "",
		"Zerlines Quastmühl":                                "",
		"Zerline\n\nQuastmühl":                              "",
		"| Zerline | Quastmühl |":                           "",
		"[Zerline, Quastmühl]":                              "",
		"Zerline: Quastmühl":                                "",
		"Quastmühl Zerline":                                 "",
		"Zerline and Quastmühl":                             "",
		strings.Repeat(" ", 200) + "Zerline  Quastmühl\n":   strings.Repeat(" ", 200) + "@\n",
	} {
		assert.Equal(t, orSame(want, text), erasedIn(t, text, name), "%q", text)
	}
	for _, c := range [][3]string{
		{"anna.berg@example.org", "to Anna.Berg@Example.org now", "to @ now"},
		{"anna.berg@example.org", "to anna.berg@example.com", ""},
		{"0170 1234567", "call 0170 1234567 or 0170/123 45 67, 0170-1234567", "call @ or @, @"},
		{"0170 1234567", "01701234567", "@"},
		{"+49 170 1234567", "+49 (170) 123-4567", "@"},
		{"0170 1234567", "0170 12345678", ""},
		{"O'Brien", "Mr O’Brien, 'O''Brien', O\\'Brien", "Mr @, '@', @"},
		{"Dr. Berg", "Dr.Berg and Dr.  Berg and dr berg", "@ and @ and dr berg"},
		{"Weiß", "WEISS, weiss, Weißer", "@, @, Weißer"},
		{"\u1e0d\u0307alo", "\u1e0b\u0323ALO, d\u0307\u0323alo, \u1e0dalo", "@, @, \u1e0dalo"}, // UAX 15, example of two marks
		{"東京", "住所 東京 です", "住所 @ です"},
	} {
		assert.Equal(t, orSame(c[2], c[1]), erasedIn(t, c[1], c[0]), "%q in %q", c[0], c[1])
	}
	for _, text := range []string{"", "  ", "**", "-"} {
		_, ok := newPattern(text)
		assert.False(t, ok, text)
	}
}

func orSame(want, text string) string {
	if want == "" {
		return text
	}
	return want
}

func erasedIn(t *testing.T, text, what string) string {
	p, ok := newPattern(what)
	require.True(t, ok)
	e := &eraser{mark: "@"}
	return string(e.settle([]byte(text), []pattern{p}, anything, false))
}

// TestLongerWords: a text within a longer word is told from a whole one, and the longer
// word goes whole where it is wanted.
func TestLongerWords(t *testing.T) {
	p, _ := newPattern("Quastmühl")
	text := []byte("Quastmühls Radio, quastmühl, Alt-Quastmühl, quastmühlhof")
	list := glyphs(text, plain)
	whole := 0
	for _, h := range p.find(text, list, false) {
		if h.whole {
			whole++
		}
	}
	assert.Equal(t, 2, whole)
	assert.Len(t, p.find(text, list, false), 4)
	e := &eraser{mark: "@", want: Wanted{Parts: true}}
	assert.Equal(t, "@ Radio, @, Alt-@, @", string(e.settle(text, []pattern{p}, anything, false)))
}
