package main

import (
	"bytes"
	"io"
	"os"
	"regexp"
	"strings"

	"al.essio.dev/pkg/shellescape"
	"github.com/charmbracelet/x/ansi"
	"golang.org/x/term"
)

// console is a terminal: what is written to it is broken at words so that it
// fits its width. Pipes and files get lines as they are.
type console struct {
	*os.File
	width func() int
	rest  []byte // of a line that has not ended yet
}

// narrowest is the width below which breaking lines helps nobody.
const narrowest = 20

// onConsole wraps a stream that is a terminal.
func onConsole(w io.Writer) io.Writer {
	f, ok := w.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return w
	}
	return &console{File: f, width: func() int {
		width, _, err := term.GetSize(int(f.Fd()))
		if err != nil {
			return 0
		}
		return width
	}}
}

// Write breaks whole lines; a line that is not ended, such as a question, goes
// out as it is.
func (c *console) Write(b []byte) (int, error) {
	text := append(c.rest, b...)
	last := bytes.LastIndexByte(text, '\n') + 1
	out := fitted(string(text[:last]), c.width()) + string(text[last:])
	c.rest = nil
	if _, err := io.WriteString(c.File, out); err != nil {
		return 0, err
	}
	return len(b), nil
}

// excerpt is a line of a source and the mark under it, which stand in columns.
var excerpt = regexp.MustCompile(`^ *\d* \| `)

// fitted breaks the lines of a text that are wider than width, and indents what
// goes on by two more than the line began with.
func fitted(text string, width int) string {
	if width < narrowest {
		return text
	}
	var b strings.Builder
	for line := range strings.Lines(text) {
		body := strings.TrimSuffix(line, "\n")
		if ansi.StringWidth(body) <= width || excerpt.MatchString(body) {
			b.WriteString(line)
			continue
		}
		indent := min(len(body)-len(strings.TrimLeft(body, " "))+2, width/3)
		for i, part := range strings.Split(ansi.Wrap(body, width-indent, ""), "\n") {
			if i > 0 {
				b.WriteString("\n" + strings.Repeat(" ", indent) + strings.TrimLeft(part, " "))
				continue
			}
			b.WriteString(part)
		}
		b.WriteString("\n")
	}
	return b.String()
}

// terminal reports whether the stream is a terminal.
func terminal(stream any) bool {
	switch s := stream.(type) {
	case *console:
		return true
	case *os.File:
		return term.IsTerminal(int(s.Fd()))
	}
	return false
}

// styled reports whether bold and colour may be used on the stream: on a terminal
// that can, where nobody asked for none (https://no-color.org).
func styled(stream any) bool {
	return terminal(stream) && os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
}

// shellQuote writes a word so that a shell takes it as one.
func shellQuote(word string) string { return shellescape.Quote(word) }
