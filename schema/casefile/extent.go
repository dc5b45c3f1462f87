package casefile

import (
	"bytes"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// extents finds which bytes of a document the nodes of its YAML take up. The
// parser says where a node begins and never where it ends; what lies between
// is read by YAML's own rules, and a node that cannot be followed has no
// extent, so that nobody cuts in the wrong place.
type extents struct {
	d     *Document
	root  *yaml.Node // where it matters
	lines []int      // byte offsets at which YAML's lines begin
}

func (d *Document) extents() *extents {
	e := &extents{d: d, lines: []int{d.yamlStart}}
	src := d.Text.Bytes[:d.yamlStop]
	for i := d.yamlStart; i < len(src); {
		n := breakLength(src[i:])
		if n > 0 {
			e.lines = append(e.lines, i+n)
		}
		i += max(n, 1)
	}
	return e
}

// breakLength is the length of the line break that b begins with, 0 for none.
// YAML 1.1, which the parser follows, ends lines at more signs than a text file
// does.
func breakLength(b []byte) int {
	switch {
	case len(b) == 0:
	case b[0] == '\n':
		return 1
	case b[0] == '\r':
		if len(b) > 1 && b[1] == '\n' {
			return 2
		}
		return 1
	case bytes.HasPrefix(b, []byte("\u0085")):
		return 2
	case bytes.HasPrefix(b, []byte("\u2028")), bytes.HasPrefix(b, []byte("\u2029")):
		return 3
	}
	return 0
}

// start is the byte at which a node begins.
func (e *extents) start(n *yaml.Node) (int, bool) {
	if n.Line < 1 || n.Line > len(e.lines) {
		return 0, false
	}
	src := e.d.Text.Bytes[:e.d.yamlStop]
	at := e.lines[n.Line-1]
	for column := 1; column < n.Column; column++ {
		if at >= len(src) {
			return 0, false
		}
		_, size := utf8.DecodeRune(src[at:])
		at += size
	}
	return at, true
}

// of returns the bytes of a node; ok is false where they cannot be told.
func (e *extents) of(n *yaml.Node) (start, stop int, ok bool) {
	if n.Anchor != "" || n.Kind == yaml.AliasNode || n.Style&yaml.TaggedStyle != 0 {
		return 0, 0, false
	}
	start, ok = e.start(n)
	if !ok {
		return 0, 0, false
	}
	src := e.d.Text.Bytes[:e.d.yamlStop]
	switch n.Kind {
	case yaml.ScalarNode:
		stop, ok = e.scalar(n, start)
		return start, stop, ok
	case yaml.MappingNode, yaml.SequenceNode:
		stop = start
		for i, c := range n.Content {
			if n.Kind == yaml.MappingNode && i%2 == 1 && c.Value == "" && c.Kind == yaml.ScalarNode && c.Style == 0 {
				continue // a value left out takes up nothing
			}
			_, to, ok := e.of(c)
			if !ok {
				return 0, 0, false
			}
			stop = max(stop, to)
		}
		if n.Style&yaml.FlowStyle == 0 {
			if n.Kind == yaml.MappingNode && len(n.Content) > 1 && stop < len(src) {
				if last := n.Content[len(n.Content)-1]; last.Value == "" && last.Style == 0 && last.Kind == yaml.ScalarNode {
					if colon := colonAfter(src, stop); colon > 0 {
						stop = colon
					}
				}
			}
			return start, stop, true
		}
		closer := byte('}')
		if n.Kind == yaml.SequenceNode {
			closer = ']'
		}
		if start >= len(src) || src[start] != closer-2 { // [ and ], { and } are two apart
			return 0, 0, false
		}
		stop = max(stop, start+1)
		for stop < len(src) && src[stop] != closer {
			switch c := src[stop]; {
			case c == '#':
				stop += len(lineAt(src, stop))
			case c == ' ' || c == '\t' || c == ',' || c == ':' || c == '?' || breakLength(src[stop:]) > 0:
				stop += max(1, breakLength(src[stop:]))
			default:
				return 0, 0, false
			}
		}
		if stop >= len(src) {
			return 0, 0, false
		}
		return start, stop + 1, true
	}
	return 0, 0, false
}

// colonAfter returns the byte after the colon that follows a key, 0 where none
// follows on its line.
func colonAfter(src []byte, at int) int {
	for at < len(src) && (src[at] == ' ' || src[at] == '\t') {
		at++
	}
	if at < len(src) && src[at] == ':' {
		return at + 1
	}
	return 0
}

func (e *extents) scalar(n *yaml.Node, start int) (stop int, ok bool) {
	src := e.d.Text.Bytes[:e.d.yamlStop]
	switch {
	case n.Style&yaml.DoubleQuotedStyle != 0:
		if start >= len(src) || src[start] != '"' {
			return 0, false
		}
		for i := start + 1; i < len(src); i++ {
			switch src[i] {
			case '\\':
				i++
			case '"':
				return i + 1, true
			}
		}
		return 0, false
	case n.Style&yaml.SingleQuotedStyle != 0:
		if start >= len(src) || src[start] != '\'' {
			return 0, false
		}
		for i := start + 1; i < len(src); i++ {
			if src[i] != '\'' {
				continue
			}
			if i+1 < len(src) && src[i+1] == '\'' {
				i++
				continue
			}
			return i + 1, true
		}
		return 0, false
	case n.Style&(yaml.LiteralStyle|yaml.FoldedStyle) != 0:
		return e.block(start)
	}
	// A plain scalar has no escapes; only its white space may be folded.
	at := start
	for i := 0; i < len(n.Value); {
		if isBlank(n.Value[i:]) {
			i += max(1, breakLength([]byte(n.Value[i:])))
			continue
		}
		for at < len(src) && isBlank(string(src[at:min(at+3, len(src))])) {
			at += max(1, breakLength(src[at:]))
		}
		if at >= len(src) || src[at] != n.Value[i] {
			return 0, false
		}
		at, i = at+1, i+1
	}
	return at, true
}

func isBlank(s string) bool {
	return s[0] == ' ' || s[0] == '\t' || breakLength([]byte(s)) > 0
}

// block returns the end of a literal or folded text that begins at the sign in
// start: the lines below that are empty or lie deeper than the line of the sign.
func (e *extents) block(start int) (int, bool) {
	src := e.d.Text.Bytes[:e.d.yamlStop]
	lineOf := 0
	for lineOf+1 < len(e.lines) && e.lines[lineOf+1] <= start {
		lineOf++
	}
	depth, hyphen := 0, 0 // a hyphen of a list counts as indentation of what follows it
	for i := e.lines[lineOf]; i < start && (src[i] == ' ' || src[i] == '-'); i++ {
		if src[i] == '-' {
			hyphen = depth
		}
		depth++
	}
	if e.lines[lineOf]+depth == start {
		depth = hyphen // the text is the list's own item
	}
	end := func(line int) int {
		if line+1 < len(e.lines) {
			return e.lines[line+1]
		}
		return len(src)
	}
	stop := end(lineOf)
	for line := lineOf + 1; line < len(e.lines); line++ {
		text := src[e.lines[line]:end(line)]
		indent := len(text) - len(bytes.TrimLeft(text, " "))
		if len(bytes.TrimSpace(text)) == 0 {
			continue
		}
		if indent <= depth {
			break
		}
		stop = end(line)
	}
	// The line end itself is not part of the value that a line holds.
	for stop > start && breakLength(src[stop-1:stop]) > 0 {
		stop--
	}
	return stop, true
}
