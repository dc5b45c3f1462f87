package diagnostic

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"unicode"
)

// WriteText prints each diagnostic on its line, then the source line with a
// caret under the marked text.
func WriteText(w io.Writer, list []Diagnostic) error {
	var b strings.Builder
	for _, d := range list {
		b.WriteString(visible(d.String()))
		b.WriteByte('\n')
		if d.Source == "" || d.Line == 0 {
			continue
		}
		gutter := fmt.Sprintf("%6d | ", d.Line)
		fmt.Fprintf(&b, "%s%s\n", gutter, visible(d.Source))
		fmt.Fprintf(&b, "%s| %s\n", strings.Repeat(" ", len(gutter)-2), caret(d))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// caret pads with tabs where the source has tabs, so that the mark stays under
// its text whatever the terminal's tab width is.
func caret(d Diagnostic) string {
	var b strings.Builder
	runes := []rune(d.Source)
	for i := 0; i < d.Column-1 && i < len(runes); i++ {
		if runes[i] == '\t' {
			b.WriteByte('\t')
		} else {
			b.WriteByte(' ')
		}
	}
	b.WriteString(strings.Repeat("^", min(max(d.Length, 1), 120)))
	return b.String()
}

// visible replaces control and direction-changing characters: a hostile
// notebook must not be able to drive the reader's terminal.
func visible(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '\t' || !unicode.IsControl(r) && !unicode.Is(unicode.Cf, r) {
			return r
		}
		return '\uFFFD'
	}, s)
}

// WriteJSON prints {"problems":[…],"errors":N,"warnings":N}.
func WriteJSON(w io.Writer, list []Diagnostic) error {
	if list == nil {
		list = []Diagnostic{}
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(struct {
		Problems []Diagnostic `json:"problems"`
		Errors   int          `json:"errors"`
		Warnings int          `json:"warnings"`
	}{list, Count(list, Error), Count(list, Warning)})
}
