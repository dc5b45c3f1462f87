package casefile

import (
	"bytes"
	"fmt"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"benchlore/schema/diagnostic"
)

// Limits of what a text file of a notebook may hold. They lie far beyond any case
// that was ever written, and keep one hostile file from stopping the program: the
// parsers of Markdown are quadratic in some of these. They are counted before
// anything is parsed, outside fenced code.
const (
	maxLines    = 20_000 // of text outside code
	maxCells    = 20_000 // of one table: columns times rows
	maxHeadings = 500
	maxNesting  = 32     // quotes and lists within one another
	maxBrackets = 4_000  // [ outside code
	maxEmphasis = 20_000 // * and _ outside code
	maxValues   = 20_000 // keys, words and lists of one YAML text
	maxDepth    = 16     // of YAML
	maxYAML     = 1 << 20
	// maxProblems is how many problems of one file are named.
	maxProblems = 200
	// maxRun is how many marks of emphasis, brackets or signs of code stand in one
	// paragraph: what matches them is quadratic in each, and paragraphs add up.
	maxRun = 500
	// MostSuggested is for how many unknown words of one file the nearest known one is
	// looked for.
	MostSuggested = 20
)

// Limits says the limits in words, for those who read about them.
func Limits() string {
	return fmt.Sprintf("a text of %d MiB, %d lines and %d headings outside code, %d cells in a table, %d levels of quotes and lists, %d marks of emphasis, brackets or marks of code in a paragraph, %d values in front matter",
		MaxSize>>20, maxLines, maxHeadings, maxCells, maxNesting, maxRun, maxValues)
}

// tooMuch names what of the Markdown from body on goes beyond a limit.
func tooMuch(src []byte, body int) *NotCut {
	lines, headings, brackets, emphasis := 0, 0, 0, 0
	var run marks      // of the paragraph
	bars, rows := 0, 0 // of the lines with bars one after another
	var fence []byte
	for at := body; at < len(src); {
		line := lineAt(src, at)
		start := at
		at += len(line) + 1
		text := bytes.TrimLeft(line, " \t")
		over := func(what string, most int) *NotCut {
			e := notCut(start, start+min(len(line), 60),
				"%s; at most %d are read. Long logs and tables belong into a code block or a file beside the case", what, most)
			e.Rule = diagnostic.TooMuch
			return e
		}
		if fence != nil {
			if bytes.HasPrefix(text, fence) && len(bytes.Trim(text, string(fence[:1])+" \t\r")) == 0 {
				fence = nil
			}
			continue
		}
		for _, sign := range []string{"```", "~~~"} {
			if bytes.HasPrefix(text, []byte(sign)) && len(line)-len(text) < 4 {
				n := len(text) - len(bytes.TrimLeft(text, sign[:1]))
				fence = bytes.Repeat([]byte(sign[:1]), n)
			}
		}
		if fence != nil {
			if closes := bytes.IndexByte(text[len(fence):], fence[0]); fence[0] != '`' || closes < 0 {
				continue
			}
			fence = nil // a code span, not a fence
		}
		lines++
		if len(text) > 0 && text[0] == '#' {
			headings++
		}
		brackets += bytes.Count(line, []byte("["))
		emphasis += bytes.Count(line, []byte("*")) + bytes.Count(line, []byte("_"))
		if len(bytes.TrimSpace(text)) == 0 || bytes.IndexByte(line, '|') >= 0 {
			run = marks{} // each cell of a table is read by itself
		}
		run.count(line)
		if n := bytes.Count(line, []byte("|")); n > 0 {
			bars, rows = max(bars, n), rows+1
		} else {
			bars, rows = 0, 0
		}
		switch {
		case lines > maxLines:
			return over("this text has too many lines", maxLines)
		case headings > maxHeadings:
			return over("this text has too many headings", maxHeadings)
		case brackets > maxBrackets:
			return over("this text has too many brackets", maxBrackets)
		case emphasis > maxEmphasis:
			return over("this text has too many signs of emphasis", maxEmphasis)
		case max(run.emphasis, run.brackets, run.code) > maxRun:
			return over("this paragraph has too many marks of emphasis, brackets or marks of code", maxRun)
		case bars*rows > maxCells:
			return over("this table has too many cells, columns times rows", maxCells)
		case nesting(line) > maxNesting:
			return over("quotes and lists lie too deep in one another here", maxNesting)
		}
	}
	return nil
}

// marks are the signs of a paragraph that are matched with one another.
type marks struct{ emphasis, brackets, code int }

// count adds those of a line. A run of one sign is one mark, and a sign between letters of
// a name_with_strokes is none.
func (m *marks) count(line []byte) {
	word := func(i int) bool {
		return i >= 0 && i < len(line) && (line[i] >= utf8.RuneSelf || line[i] >= '0' && line[i] <= '9' || line[i]|0x20 >= 'a' && line[i]|0x20 <= 'z')
	}
	for i := 0; i < len(line); {
		c, from := line[i], i
		for i < len(line) && line[i] == c {
			i++
		}
		switch c {
		case '*', '~':
			m.emphasis++
		case '_':
			if !word(from-1) || !word(i) {
				m.emphasis++
			}
		case '[':
			m.brackets += i - from
		case '`':
			m.code++
		}
	}
}

// nesting is how deep a line says that it lies: marks of quotes and lists at its
// beginning, and the indentation of a list item, two columns a level.
func nesting(line []byte) int {
	depth, spaces := 0, 0
	for i := 0; i < len(line); i++ {
		switch c := line[i]; {
		case c == ' ':
			spaces++
		case c == '\t':
			spaces += 4
		case c == '>':
			depth++
		case (c == '-' || c == '+' || c == '*') && (i+1 == len(line) || line[i+1] == ' ' || line[i+1] == '\t'):
			depth++
			if spaces/2 > depth {
				depth = spaces / 2
			}
		case c >= '0' && c <= '9' && i+1 < len(line) && (line[i+1] == '.' || line[i+1] == ')'):
			depth++
			i++
			if spaces/2 > depth {
				depth = spaces / 2
			}
		default:
			return depth
		}
	}
	return depth
}

// tooManyValues names YAML that goes beyond a limit; levels is how deep it lies.
func (d *Document) tooManyValues(root *yaml.Node) *NotCut {
	count, deepest := 0, 0
	var walk func(n *yaml.Node, depth int)
	walk = func(n *yaml.Node, depth int) {
		count++
		deepest = max(deepest, depth)
		if count > maxValues || depth > maxDepth {
			return
		}
		for _, c := range n.Content {
			walk(c, depth+1)
		}
	}
	walk(root, 0)
	var e *NotCut
	switch {
	case count > maxValues:
		e = notCut(d.yamlStart, d.yamlStart+1, "this YAML has too many values; at most %d are read", maxValues)
	case deepest > maxDepth:
		e = notCut(d.yamlStart, d.yamlStart+1, "this YAML is nested too deeply; at most %d levels are read", maxDepth)
	default:
		return nil
	}
	e.Rule = diagnostic.TooMuch
	return e
}

// tooLongYAML names YAML that is longer than is read.
func (d *Document) tooLongYAML() *NotCut {
	if d.yamlStop-d.yamlStart <= maxYAML {
		return nil
	}
	e := notCut(d.yamlStart, d.yamlStart+1, "the front matter has %d bytes; at most %d are read", d.yamlStop-d.yamlStart, maxYAML)
	e.Rule = diagnostic.TooMuch
	return e
}

// Most cuts a list of problems of one file to what people read, and says how many
// more there are.
func Most(list []diagnostic.Diagnostic) []diagnostic.Diagnostic {
	if len(list) <= maxProblems {
		return list
	}
	rest := list[maxProblems]
	out := list[:maxProblems:maxProblems]
	// An error among those that are not named counts all the same.
	for _, d := range list[maxProblems:] {
		if d.Severity == diagnostic.Error {
			rest.Severity = diagnostic.Error
			break
		}
	}
	rest.Rule, rest.Suggestion = diagnostic.TooMuch, ""
	rest.Message = fmt.Sprintf("%d more problems of this file are not named", len(list)-maxProblems)
	return append(out, rest)
}
