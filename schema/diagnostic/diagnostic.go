// Package diagnostic describes one problem at one place in a notebook's files
// and prints lists of them.
//
// A [Diagnostic] is a value: where, how bad, which named rule, what is wrong
// and what would be right. Text, JSON and SARIF 2.1.0 are three printers over
// the same values. The package finds nothing itself.
package diagnostic

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// Severity says how much a problem matters.
type Severity int

// A Note informs, a Warning deserves a look, an Error makes `check` fail.
const (
	Note Severity = iota
	Warning
	Error
)

// String returns the word printed for the severity, which is also the SARIF
// level of the same meaning.
func (s Severity) String() string {
	switch s {
	case Error:
		return "error"
	case Warning:
		return "warning"
	default:
		return "note"
	}
}

// MarshalText prints the severity as its word.
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Diagnostic is one problem at one place.
type Diagnostic struct {
	File     string   `json:"file"`             // path as the reader of the report would type it, with slashes
	Line     int      `json:"line"`             // 1-based; 0 when the whole file is meant
	Column   int      `json:"column"`           // 1-based, in Unicode code points
	Length   int      `json:"length,omitempty"` // of the marked text, in code points
	Severity Severity `json:"severity"`
	Rule     Rule     `json:"rule"`
	Message  string   `json:"message"`
	// Suggestion is the nearest known word or the repair, ready to type.
	Suggestion string `json:"suggestion,omitempty"`
	// Source is the text of the line, for the caret display.
	Source string `json:"source,omitempty"`
}

// String prints the one-line form, file:line:col: severity: message [rule].
func (d Diagnostic) String() string {
	var b strings.Builder
	b.WriteString(d.File)
	if d.Line > 0 {
		fmt.Fprintf(&b, ":%d:%d", d.Line, max(d.Column, 1))
	}
	fmt.Fprintf(&b, ": %s: %s", d.Severity, d.Message)
	b.WriteString(DidYouMean(d.Suggestion))
	fmt.Fprintf(&b, " [%s]", d.Rule)
	return b.String()
}

// DidYouMean is what follows a message to offer the nearest known word; nothing
// for an empty one.
func DidYouMean(word string) string {
	if word == "" {
		return ""
	}
	return fmt.Sprintf("; did you mean %q?", word)
}

// Compare orders diagnostics by file, place, rule and message, so that equal
// notebooks give equal reports.
func Compare(a, b Diagnostic) int {
	return cmp.Or(
		strings.Compare(a.File, b.File),
		cmp.Compare(a.Line, b.Line),
		cmp.Compare(a.Column, b.Column),
		strings.Compare(string(a.Rule), string(b.Rule)),
		strings.Compare(a.Message, b.Message),
	)
}

// Sort puts the list into the order of [Compare].
func Sort(list []Diagnostic) { slices.SortStableFunc(list, Compare) }

// Count returns how many diagnostics have the severity.
func Count(list []Diagnostic, s Severity) int {
	n := 0
	for _, d := range list {
		if d.Severity == s {
			n++
		}
	}
	return n
}

// Text is the source of one file, for turning byte offsets into places. Lines
// end at LF; a CR before it belongs to the line end, not to the line.
type Text struct {
	Name  string
	Bytes []byte
	lines []int // byte offset of each line's start
}

// NewText indexes the lines of src once.
func NewText(name string, src []byte) *Text {
	t := &Text{Name: name, Bytes: src, lines: []int{0}}
	for i, c := range src {
		if c == '\n' {
			t.lines = append(t.lines, i+1)
		}
	}
	return t
}

// Lines returns the number of lines; text after the last LF counts as a line
// even when it is empty.
func (t *Text) Lines() int { return len(t.lines) }

// LineStart returns the byte offset at which the 1-based line begins, or the
// length of the text for a line past its end.
func (t *Text) LineStart(line int) int {
	if line < 1 {
		return 0
	}
	if line > len(t.lines) {
		return len(t.Bytes)
	}
	return t.lines[line-1]
}

// Line returns the 1-based line without its line end.
func (t *Text) Line(line int) string {
	if line < 1 || line > len(t.lines) {
		return ""
	}
	s := t.Bytes[t.LineStart(line):t.LineStart(line+1)]
	return strings.TrimRight(string(s), "\r\n")
}

// Place returns the 1-based line and column of a byte offset.
func (t *Text) Place(offset int) (line, column int) {
	offset = min(max(offset, 0), len(t.Bytes))
	i, found := slices.BinarySearch(t.lines, offset)
	if !found {
		i--
	}
	return i + 1, utf8.RuneCount(t.Bytes[t.lines[i]:offset]) + 1
}

// Offset is the inverse of [Text.Place], kept inside the line.
func (t *Text) Offset(line, column int) int {
	at, end := t.LineStart(line), t.LineStart(line+1)
	for ; column > 1 && at < end; column-- {
		_, n := utf8.DecodeRune(t.Bytes[at:end])
		at += n
	}
	return at
}

// At builds a diagnostic for the bytes from start to stop, with the line's
// text attached. The mark never runs past the end of its first line.
func (t *Text) At(start, stop int, s Severity, rule Rule, message string) Diagnostic {
	line, column := t.Place(start)
	from := t.LineStart(line)
	source := t.Bytes[from:t.LineStart(line+1)]
	source = bytes.TrimRight(source, "\r\n")
	if stop > start {
		stop = min(stop, len(t.Bytes))
		stop = min(stop, from+len(source))
	}
	length := 0
	if stop > start {
		length = utf8.RuneCount(t.Bytes[start:stop])
	}
	return Diagnostic{
		File: t.Name, Line: line, Column: column, Length: length,
		Severity: s, Rule: rule, Message: message, Source: clip(source),
	}
}

// clip keeps a hostile line of megabytes out of reports.
func clip(s []byte) string {
	const most = 400
	if len(s) <= most {
		return string(s)
	}
	cut := most
	for cut > 0 && !utf8.RuneStart(s[cut]) {
		cut--
	}
	return string(s[:cut])
}
