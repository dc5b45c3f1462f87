package site

import (
	"bufio"
	"io"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/alecthomas/chroma/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// BenchmarkHighlightHostile prints how long the slowest lexer takes for the texts that
// make lexers backtrack, as long as any that is coloured.
func BenchmarkHighlightHostile(b *testing.B) {
	signs := []string{"\\", "\"", "'", "(", "{", "/*", "<", "`", "#", "//", "a ", "\\\"", "0", "=", "[", "%", "$",
		"${", "*", "-", "--", "!", "@", ":", "; ", ".", "<<A\n", "//\\\n", " \t", "\n", "'''", `"""`, "+", "|", ","}
	for b.Loop() {
		worst, which := time.Duration(0), ""
		for _, language := range slices.Sorted(maps.Keys(lexers)) {
			for _, sign := range signs {
				line := strings.Repeat(sign, (maxHighlightLine-30)/len(sign)) + "\n"
				for _, code := range []string{line, "x" + line, "\"" + line, "#define A " + line, "/*" + line} {
					code = strings.Repeat(code, maxHighlight/len(code))
					began := time.Now()
					_ = highlight(bufio.NewWriter(io.Discard), language, code)
					if took := time.Since(began); took > worst {
						worst, which = took, language+" "+sign
					}
				}
			}
		}
		b.ReportMetric(float64(worst.Milliseconds()), "worst-ms")
		b.Log(which)
	}
}

// TestHighlight: what a console, a log or a file of settings is cut into; every sign comes
// out again, whatever the language.
func TestHighlight(t *testing.T) {
	for _, c := range []struct{ language, code, want string }{
		{"json", `{"volts": 3.3, "ok": true, "by": "RK"}`,
			`{<NameTag "volts">: <LiteralNumber 3.3>, <NameTag "ok">: <KeywordConstant true>, <NameTag "by">: <LiteralStringDouble "RK">}`},
		{"ini", "; note\n[rail]\nvolts=5\n", "<CommentSingle ; note>\n<Keyword [rail]>\n<NameTag volts>=5\n"},
		{"diff", "--- a\n+++ b\n@@ -1 +1 @@\n-old\n+new\n same\n",
			"<GenericHeading --- a>\n<GenericHeading +++ b>\n<GenericSubheading @@ -1 +1 @@>\n<GenericDeleted -old>\n<GenericInserted +new>\n same\n"},
		{"sh", "if [ -f $X ]; then # yes\n  echo 'a # b' 12\nfi\n",
			"<Keyword if> [ -f <NameConstant $X> ]; <Keyword then> <CommentSingle # yes>\n  echo <LiteralStringSingle 'a # b'> <LiteralNumber 12>\n<Keyword fi>\n"},
		{"python", "def f(x): return None # 0x1f\n",
			"<Keyword def> f(x): <Keyword return> <KeywordConstant None> <CommentSingle # 0x1f>\n"},
		{"python", "v = 0x1f + 2.5e-3\n", "v = <LiteralNumberHex 0x1f> + <LiteralNumber 2.5e-3>\n"},
		{"text", "any # thing 12\n", "any # thing 12\n"},
	} {
		tokens, err := chroma.Coalesce(lexers[c.language]).Tokenise(nil, c.code)
		require.NoError(t, err)
		var got strings.Builder
		for _, x := range tokens.Tokens() {
			switch x.Type {
			case chroma.Text, chroma.TextWhitespace, chroma.Punctuation:
				got.WriteString(x.Value)
			default:
				got.WriteString("<" + x.Type.String() + " " + x.Value + ">")
			}
		}
		assert.Equal(t, c.want, got.String(), c.language)
	}
	tokens, err := lexers["console"].Tokenise(nil, "board:/ # dmesg\nfatal at 0x40\n")
	require.NoError(t, err)
	var kinds []string
	for _, x := range tokens.Tokens() {
		if x.Type != chroma.GenericOutput {
			kinds = append(kinds, x.Type.String()+" "+x.Value)
		}
	}
	assert.Equal(t, []string{"GenericPrompt board:/ # ", "GenericError fatal", "LiteralNumberHex 0x40"}, kinds)
	hostile := "\"\\ '#$ <b>{[@@ -\n+\t;=µ\r\n\x00é"
	for name, l := range lexers {
		tokens, err := l.Tokenise(&chroma.TokeniseOptions{State: "root"}, hostile)
		require.NoError(t, err)
		var back strings.Builder
		for _, x := range tokens.Tokens() {
			assert.NotEqual(t, chroma.Error, x.Type, "%s: %q", name, x.Value)
			back.WriteString(x.Value)
		}
		assert.Equal(t, hostile, back.String(), name)
	}
}
