package casefile

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"html"
	"io"
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"github.com/yuin/goldmark/ast"
	extast "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/text"
	"go.yaml.in/yaml/v3"
	"golang.org/x/text/unicode/norm"

	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// What is private is decided on the trees that the parsers see, never on the
// spelling: keys of YAML and headings of Markdown count by the letters that a
// reader sees. Then the bytes of those nodes are cut, and what is left is parsed
// again and must hold nothing private. Whatever cannot be cut for certain is an
// error, so that nothing is published in doubt.

// privateWord is the key and the beginning of a heading that keep what hangs on
// them in the file.
const privateWord = "private"

// NotCut says where something private stands that cannot be cut out safely.
type NotCut struct {
	Start, Stop int // bytes
	Message     string
	Rule        diagnostic.Rule // PrivateForm when empty
}

func (e *NotCut) Error() string { return e.Message }

// Problem is the diagnostic of what could not be cut.
func (e *NotCut) Problem(name string, src []byte) diagnostic.Diagnostic {
	return diagnostic.NewText(name, src).At(e.Start, e.Stop, diagnostic.Error, cmp.Or(e.Rule, diagnostic.PrivateForm), e.Message)
}

func notCut(start, stop int, format string, args ...any) *NotCut {
	return &NotCut{Start: start, Stop: stop, Message: fmt.Sprintf(format, args...)}
}

// Public returns a file's bytes with everything private blanked out: the key
// `private:` of the front matter, or of a file that is YAML alone, with all that
// hangs on it; what stands under a heading whose visible letters begin with
// Private, up to the next heading as high; and comments of HTML. Lines and columns
// of the rest stay where they are. It returns the bytes themselves where there is
// nothing of that. The error is a [*NotCut]; the bytes are nil then.
func Public(src []byte) ([]byte, error) {
	if d := split(src); d.tooLongYAML() != nil {
		return nil, d.tooLongYAML()
	} else if e := tooMuch(src, d.body); e != nil {
		return nil, e
	}
	if !suspect(src) {
		return src, nil
	}
	out := src
	// What was swallowed by something private may turn up once that is cut.
	for range 8 {
		ranges, err := privateRanges(out)
		if err != nil {
			return nil, err
		}
		if len(ranges) == 0 {
			return out, nil
		}
		next := bytes.Clone(out)
		for _, r := range ranges {
			blank(next[r[0]:r[1]])
		}
		if bytes.Equal(next, out) {
			return nil, notCut(ranges[0][0], ranges[0][1],
				"this cannot be kept private in this form; write private: as a key of its own, or a heading of its own")
		}
		out = next
	}
	return nil, notCut(0, min(3, len(src)), "what is private here is nested too deeply to be cut out")
}

// Strip returns a file's bytes without what [Public] blanks and without comments of
// YAML, for giving away: lines that held nothing else are left out.
func Strip(src []byte) ([]byte, error) {
	public, err := Public(src)
	if err != nil {
		return nil, err
	}
	comments, err := yamlComments(public)
	if err != nil {
		return nil, err
	}
	if len(comments) > 0 {
		public = bytes.Clone(public)
		for _, r := range comments {
			blank(public[r[0]:r[1]])
		}
	}
	return withoutBlanked(src, public), nil
}

// withoutBlanked is a text without what was blanked in it; lines that held nothing else
// are left out.
func withoutBlanked(src, public []byte) []byte {
	if bytes.Equal(public, src) {
		return src
	}
	out := make([]byte, 0, len(src))
	for i := 0; i < len(src); {
		n := min(len(lineAt(src, i))+1, len(src)-i)
		line := public[i : i+n]
		switch {
		case bytes.Equal(src[i:i+n], line):
			out = append(out, line...)
		case len(bytes.TrimSpace(line)) > 0:
			end := line[len(bytes.TrimRight(line, "\r\n")):]
			out = append(append(out, bytes.TrimRight(line, " \t\r\n")...), end...)
		}
		i += n
	}
	return out
}

// privateWords are the letters of what people call private, in every language offered.
var privateWords = sync.OnceValue(func() (list []string) {
	for _, w := range terms.PrivateWords() {
		list = append(list, letters(w))
	}
	slices.Sort(list)
	return slices.Compact(list)
})

// suspect reports cheaply whether a file may hold something private, or a comment of
// HTML: its letters, whatever stands between them, spell one of the words, or some are
// written as escapes or entities.
func suspect(src []byte) bool {
	if bytes.Contains(src, []byte("<!")) || bytes.Contains(src, []byte("<?")) || bytes.Contains(src, []byte("&#")) ||
		bytes.Contains(src, []byte(`\x`)) || bytes.Contains(src, []byte(`\u`)) || bytes.Contains(src, []byte(`\U`)) {
		return true
	}
	if tagged(src) { // tags may stand between the letters
		return true
	}
	// Named entities that stand for letters.
	for i := bytes.IndexByte(src, '&'); i >= 0 && i < len(src); {
		j := i + 1
		for j < len(src) && j-i < 40 && (src[j] >= 'a' && src[j] <= 'z' || src[j] >= 'A' && src[j] <= 'Z' ||
			src[j] >= '0' && src[j] <= '9') {
			j++
		}
		if j > i+1 && j < len(src) && src[j] == ';' {
			return true
		}
		next := bytes.IndexByte(src[i+1:], '&')
		if next < 0 {
			break
		}
		i += 1 + next
	}
	seen := make([]byte, 0, len(src))
	for i := 0; i < len(src); {
		c := src[i]
		if c >= utf8.RuneSelf {
			r, n := utf8.DecodeRune(src[i:])
			i += n
			seen = append(seen, letters(string(r))...)
			continue
		}
		i++
		if c |= 0x20; c >= 'a' && c <= 'z' {
			seen = append(seen, c)
		}
	}
	return slices.ContainsFunc(privateWords(), func(w string) bool { return bytes.Contains(seen, []byte(w)) })
}

// tagged reports whether a text may hold tags of HTML.
func tagged(src []byte) bool {
	for i := bytes.IndexByte(src, '<'); i >= 0 && i+1 < len(src); {
		if c := src[i+1] | 0x20; c == '/' || c >= 'a' && c <= 'z' {
			return true
		}
		next := bytes.IndexByte(src[i+1:], '<')
		if next < 0 {
			break
		}
		i += 1 + next
	}
	return false
}

// letters are the Latin letters of a text as a reader sees them: folded, without
// signs, digits, marks and what has no width.
func letters(s string) string {
	var b strings.Builder
	for _, r := range norm.NFKD.String(s) {
		r = unicode.ToLower(r)
		if twin, ok := lookalikes[r]; ok {
			r = twin
		}
		if r >= 'a' && r <= 'z' {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// lookalikes are letters of other scripts that nobody can tell from those of the
// words.
var lookalikes = map[rune]rune{'р': 'p', 'ρ': 'p', 'г': 'r', 'і': 'i', 'ι': 'i', 'ı': 'i', 'ν': 'v', 'ѵ': 'v',
	'а': 'a', 'α': 'a', 'т': 't', 'τ': 't', 'е': 'e', 'ε': 'e', 'о': 'o', 'ο': 'o', 'с': 'c', 'ϲ': 'c', 'ѕ': 's',
	'ӏ': 'l', 'һ': 'h', 'к': 'k', 'κ': 'k', 'у': 'y', 'υ': 'u', 'ո': 'n', 'ԁ': 'd'}

// isPrivate reports whether a heading says that what is below it is private: a word for
// it begins or ends it.
func isPrivate(visible string) bool {
	l := letters(visible)
	return slices.ContainsFunc(privateWords(), func(w string) bool { return strings.HasPrefix(l, w) || strings.HasSuffix(l, w) })
}

// marksPrivate reports whether a line, cell or bold text is a word for private, alone or
// before a colon, dash or bracket: its author takes what follows for private, and it is
// not.
func marksPrivate(visible string) bool {
	l := letters(beforeMark(visible))
	return l != "" && slices.Contains(privateWords(), l)
}

// beforeMark is a text up to its first colon, dash or bracket, those before its first
// letter left out. A hyphen inside a word is none.
func beforeMark(s string) string {
	s = strings.TrimLeftFunc(norm.NFKC.String(s), func(r rune) bool { return !unicode.IsLetter(r) })
	for i, r := range s {
		switch r {
		case '-':
			if before, after := s[i-1], s[i+1:]; before != ' ' && after != "" && after[0] != ' ' {
				continue
			}
			return s[:i]
		case ':', '–', '—', '―', '−', '(', '[', '{', '=':
			return s[:i]
		}
	}
	return s
}

func blank(b []byte) {
	for i, c := range b {
		if c != '\n' && c != '\r' {
			b[i] = ' '
		}
	}
}

// split finds where the YAML and the Markdown of a file are, as parsing does; a file
// without front matter is YAML alone.
func split(src []byte) *Document {
	d := &Document{Text: diagnostic.NewText("", src)}
	if bad := d.splitFront(); bad != nil {
		d.yamlStart, d.yamlStop, d.body = d.bomLength(), len(src), len(src)
	}
	return d
}

// privateRanges are the bytes of what is private.
func privateRanges(src []byte) (ranges [][2]int, err error) {
	d := split(src)
	root, err := d.onlyYAML()
	if err != nil {
		return nil, err
	}
	if root != nil {
		e := d.extents()
		e.root = root
		if ranges, err = e.private(root, nil); err != nil {
			return nil, err
		}
	}
	if d.body < len(src) {
		more, err := privateMarkdown(src, d.body)
		if err != nil {
			return nil, err
		}
		ranges = append(ranges, more...)
	}
	return ranges, nil
}

// onlyYAML is the tree of a file's YAML, nil where there is none. YAML that cannot be
// read is an error: nobody can tell what of it is private.
func (d *Document) onlyYAML() (*yaml.Node, error) {
	dec := yaml.NewDecoder(bytes.NewReader(d.Text.Bytes[d.yamlStart:d.yamlStop]))
	var doc, more yaml.Node
	if err := dec.Decode(&doc); err != nil && !errors.Is(err, io.EOF) {
		at := diagnostic.YAMLError(d.Text, d.firstLine()-1, err)
		start := d.Text.LineStart(at.Line)
		return nil, notCut(start, start+len(d.Text.Line(at.Line)),
			"YAML cannot be read, so that nobody can tell what of it is private: %s", strings.TrimPrefix(err.Error(), "yaml: "))
	}
	if len(doc.Content) == 0 {
		return nil, nil
	}
	if e := d.tooManyValues(doc.Content[0]); e != nil {
		return nil, e
	}
	if err := dec.Decode(&more); !errors.Is(err, io.EOF) {
		return nil, notCut(d.yamlStart, d.yamlStart+1,
			"the YAML ends and begins anew; what follows would be given away unread. One document a file")
	}
	return doc.Content[0], nil
}

// private collects the ranges of private keys with their values, at any depth.
func (e *extents) private(n *yaml.Node, ranges [][2]int) ([][2]int, error) {
	if n.Kind == yaml.SequenceNode || n.Kind == yaml.DocumentNode {
		for _, c := range n.Content {
			var err error
			if ranges, err = e.private(c, ranges); err != nil {
				return nil, err
			}
		}
		return ranges, nil
	}
	if n.Kind == yaml.ScalarNode {
		return ranges, e.marked(n)
	}
	if n.Kind != yaml.MappingNode {
		return ranges, nil
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		if key.Kind != yaml.ScalarNode || letters(key.Value) != privateWord {
			var err error
			if ranges, err = e.private(value, ranges); err == nil {
				ranges, err = e.private(key, ranges)
			}
			if err != nil {
				return nil, err
			}
			continue
		}
		r, err := e.entry(n, i)
		if err != nil {
			return nil, err
		}
		ranges = append(ranges, r)
	}
	return ranges, nil
}

// marked names a value that says it is private and is not.
func (e *extents) marked(n *yaml.Node) error {
	for line := range strings.Lines(n.Value) {
		if marksPrivate(line) {
			start, stop, ok := e.of(n)
			if !ok {
				start, stop = e.d.yamlStart, e.d.yamlStart+1
			}
			return notCut(start, stop, "%s", notPrivateHere)
		}
	}
	return nil
}

// notPrivateHere is said of a word for private that keeps nothing in the file.
const notPrivateHere = "this word keeps nothing private here; put what is private under a heading \"## Private\" or a key private:, or write another word"

// entry is the range of the i-th key of a mapping with its value and the comments
// between it and the next key, so that what is left is YAML still.
func (e *extents) entry(m *yaml.Node, i int) (r [2]int, err error) {
	src := e.d.Text.Bytes[:e.d.yamlStop]
	start, ok := e.start(m.Content[i])
	fail := func() ([2]int, error) {
		return r, notCut(min(start, len(src)), min(start+1, len(src)),
			"what is private here cannot be told from the rest; write private: as a key of its own, without anchors and tags")
	}
	if !ok {
		return fail()
	}
	if m.Style&yaml.FlowStyle != 0 {
		last := m.Content[i+1]
		if last.Kind == yaml.ScalarNode && last.Value == "" && last.Style == 0 {
			last = m.Content[i]
		}
		if _, _, ok := e.of(last); !ok {
			return fail()
		}
		if i+2 < len(m.Content) {
			stop, ok := e.start(m.Content[i+2]) // with the comma, and with comments
			if !ok {
				return fail()
			}
			return [2]int{start, stop}, nil
		}
		_, end, ok := e.of(m)
		if !ok {
			return fail()
		}
		return [2]int{start, end - 1}, nil // up to the bracket; a comma may stand before it
	}
	lineStart := func(at int) int {
		line := 0
		for line+1 < len(e.lines) && e.lines[line+1] <= at {
			line++
		}
		return e.lines[line]
	}
	before := func(at int) string { return strings.TrimLeft(string(src[lineStart(at):at]), " \t") }
	switch before(start) {
	case "", "?", "? ":
		start = lineStart(start)
	default:
		if strings.Trim(before(start), "- \t") != "" {
			return fail() // something stands before the key on its line
		}
	}
	stop := len(src)
	if i+2 < len(m.Content) {
		if stop, ok = e.start(m.Content[i+2]); !ok {
			return fail()
		}
		if s := before(stop); s == "" || strings.TrimRight(s, " \t") == "?" {
			stop = lineStart(stop)
		} else {
			return fail()
		}
	} else if m != e.root {
		// The last key of a mapping within another: up to the end of its last line.
		_, end, ok := e.of(m)
		if !ok {
			return fail()
		}
		stop = min(end+len(lineAt(src, min(end, len(src)))), len(src))
	}
	if stop < start {
		return fail()
	}
	return [2]int{start, stop}, nil
}

// yamlComments are the ranges of the comments of a file's YAML: a # outside all
// keys and values.
func yamlComments(src []byte) (ranges [][2]int, err error) {
	d := split(src)
	yamlPart := src[d.yamlStart:d.yamlStop]
	if bytes.IndexByte(yamlPart, '#') < 0 {
		return nil, nil
	}
	root, err := d.onlyYAML()
	if err != nil {
		return nil, err
	}
	if root == nil {
		return nil, nil // nothing reads it
	}
	e := d.extents()
	var taken [][2]int
	var walk func(n *yaml.Node) error
	walk = func(n *yaml.Node) error {
		if n.Kind == yaml.ScalarNode {
			start, stop, ok := e.of(n)
			if n.Value == "" && n.Style == 0 {
				return nil
			}
			if !ok {
				return notCut(d.yamlStart, d.yamlStart+1,
					"the comments of this front matter cannot be told from its values, and would be given away; take out anchors, aliases and tags")
			}
			taken = append(taken, [2]int{start, stop})
			return nil
		}
		if n.Kind == yaml.AliasNode || n.Anchor != "" || n.Style&yaml.TaggedStyle != 0 {
			return notCut(d.yamlStart, d.yamlStart+1, "anchors, aliases and tags are not given away")
		}
		for _, c := range n.Content {
			if err := walk(c); err != nil {
				return err
			}
		}
		return nil
	}
	if err := walk(root); err != nil {
		return nil, err
	}
	slices.SortFunc(taken, func(a, b [2]int) int { return cmp.Compare(a[0], b[0]) })
	for i := d.yamlStart; i < d.yamlStop; {
		if len(taken) > 0 && i >= taken[0][0] {
			i = max(i, taken[0][1])
			taken = taken[1:]
			continue
		}
		if src[i] != '#' {
			i++
			continue
		}
		stop := i
		for stop < d.yamlStop && breakLength(src[stop:]) == 0 {
			stop++
		}
		ranges = append(ranges, [2]int{i, stop})
		i = stop
	}
	return ranges, nil
}

// privateMarkdown are the ranges of private parts of the Markdown from body on, and
// of comments of HTML in it.
func privateMarkdown(src []byte, body int) (ranges [][2]int, err error) {
	md := src[body:]
	// A CR alone ends a line for some readers of Markdown and for others not.
	for i, c := range md {
		if c == '\r' && (i+1 == len(md) || md[i+1] != '\n') {
			if isPrivateSomewhere(md) {
				return nil, notCut(body+i, body+i+1,
					"a line ends with CR alone, so that it cannot be told where something private begins and ends; save the file with LF")
			}
			break
		}
	}
	root := markdownParser.Parser().Parse(text.NewReader(md))
	lineStart := func(at int) int { return bytes.LastIndexByte(md[:at], '\n') + 1 }
	var bad *NotCut
	unsafe := func(start, stop int, what string) {
		if bad == nil {
			bad = notCut(body+start, body+stop, "%s", what)
		}
	}
	type open struct {
		level, from int
	}
	var current *open // a private part at the top
	end := func(at int) {
		if current != nil {
			ranges = append(ranges, [2]int{body + current.from, body + at})
			current = nil
		}
	}
	for n := root.FirstChild(); n != nil; n = n.NextSibling() {
		h, heading := n.(*ast.Heading)
		if heading {
			start := lineStart(headingAt(h, md))
			if current != nil && h.Level <= current.level {
				end(start)
			}
			if current == nil && isPrivate(seen(h, md)) {
				current = &open{h.Level, start}
			}
		}
		if current != nil {
			continue
		}
		// Under a heading inside a quote or list all is private up to the next heading
		// outside of one, since nobody can tell how far its author meant it to go.
		_ = ast.Walk(n, func(c ast.Node, entering bool) (ast.WalkStatus, error) {
			if !entering {
				return ast.WalkContinue, nil
			}
			switch x := c.(type) {
			case *ast.Heading:
				if c != n && isPrivate(seen(x, md)) {
					current = &open{6, lineStart(headingAt(x, md))}
					return ast.WalkStop, nil
				}
			case *ast.Paragraph, *ast.TextBlock:
				for at, line := range linesSeen(c, md) {
					if marksPrivate(line) {
						unsafe(at, at+1, notPrivateHere)
					}
				}
				for i := range c.Lines().Len() {
					l := c.Lines().At(i)
					line := strings.TrimLeft(string(l.Value(md)), " \t\\")
					if strings.HasPrefix(line, "#") && isPrivate(line) {
						unsafe(l.Start, l.Stop,
							"this looks like a heading and is none, so what stands below it is not private; write \"## Private\" with a space")
					}
				}
			case *extast.TableCell:
				word := seen(x, md)
				if start := max(x.Pos(), 0); marksPrivate(word) || inHeader(x) && isPrivate(word) {
					unsafe(start, min(start+1, len(md)),
						"a column or row called Private is not private; put it under a heading \"## Private\" or a key private:")
				}
			case *ast.Emphasis:
				if at := firstByte(x); at >= 0 && marksPrivate(seen(x, md)) {
					unsafe(at, at+1, notPrivateHere)
				}
			case *ast.CodeSpan:
				return ast.WalkSkipChildren, nil
			case *ast.Text:
				if at := bytes.Index(x.Segment.Value(md), []byte("!--")); at >= 0 && opensComment(md, x.Segment.Start+at) {
					unsafe(x.Segment.Start+at-1, x.Segment.Start+at+3, unclosedComment)
				}
			case *ast.HTMLBlock:
				first := x.Lines()
				if first.Len() == 0 {
					break
				}
				start, stop := first.At(0).Start, first.At(first.Len()-1).Stop
				if x.HasClosure() {
					stop = max(stop, x.ClosureLine.Stop)
				}
				block := md[start:stop]
				switch {
				case x.HTMLBlockType == ast.HTMLBlockType2 && !bytes.Contains(block, []byte("-->")):
					unsafe(start, min(start+len("<!--"), stop), unclosedComment)
				case x.HTMLBlockType == ast.HTMLBlockType2, x.HTMLBlockType == ast.HTMLBlockType3, x.HTMLBlockType == ast.HTMLBlockType4:
					ranges = append(ranges, [2]int{body + start, body + stop})
				case bytes.Contains(block, []byte("<!--")):
					for _, r := range htmlComments(block) {
						ranges = append(ranges, [2]int{body + start + r[0], body + start + r[1]})
					}
				case headingTag(block) && isPrivateSomewhere(block):
					unsafe(start, stop, "a heading of HTML keeps nothing private; write \"## Private\"")
				}
			case *ast.RawHTML:
				if x.Segments.Len() == 0 {
					break
				}
				first := x.Segments.At(0)
				v := first.Value(md)
				if headingTag(v) && isPrivateSomewhere(md[first.Start:min(first.Start+200, len(md))]) {
					unsafe(first.Start, first.Stop, "a heading of HTML keeps nothing private; write \"## Private\"")
				}
				for i := range x.Segments.Len() {
					if s := x.Segments.At(i); bytes.HasPrefix(v, []byte("<!")) || bytes.HasPrefix(v, []byte("<?")) {
						ranges = append(ranges, [2]int{body + s.Start, body + s.Stop})
					}
				}
			}
			return ast.WalkContinue, nil
		})
	}
	end(len(md))
	if bad != nil {
		return nil, bad
	}
	return ranges, nil
}

const unclosedComment = "this comment is not closed, or a blank line ends it, so that it would be read as text; close it with --> in the same paragraph, or put it under a heading \"## Private\""

// opensComment reports whether the !-- at a byte follows a sign that begins a comment.
func opensComment(md []byte, at int) bool {
	return at > 0 && md[at-1] == '<' && (at < 2 || md[at-2] != '\\')
}

// firstByte is where the text of an inline begins, -1 where it has none.
func firstByte(n ast.Node) int {
	at := -1
	_ = ast.Walk(n, func(c ast.Node, entering bool) (ast.WalkStatus, error) {
		if t, ok := c.(*ast.Text); ok && entering {
			at = t.Segment.Start
			return ast.WalkStop, nil
		}
		return ast.WalkContinue, nil
	})
	return at
}

// linesSeen are the lines of a block as a reader sees them, by where they begin.
func linesSeen(block ast.Node, md []byte) map[int]string {
	lines := map[int]string{}
	start, line := -1, strings.Builder{}
	end := func() {
		if start >= 0 {
			lines[start] = html.UnescapeString(line.String())
		}
		start = -1
		line.Reset()
	}
	_ = ast.Walk(block, func(c ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		switch t := c.(type) {
		case *ast.Text:
			if start < 0 {
				start = t.Segment.Start
			}
			line.Write(unescape(t.Segment.Value(md)))
			if t.SoftLineBreak() || t.HardLineBreak() {
				end()
			}
		case *ast.String:
			line.Write(t.Value)
		case *ast.CodeSpan: // a sample, not the author's word
			line.WriteString("code")
			return ast.WalkSkipChildren, nil
		}
		return ast.WalkContinue, nil
	})
	end()
	return lines
}

func inHeader(c *extast.TableCell) bool {
	_, ok := c.Parent().(*extast.TableHeader)
	return ok
}

// isPrivateSomewhere reports whether a word for private stands anywhere in a text.
func isPrivateSomewhere(b []byte) bool {
	l := letters(string(b))
	return slices.ContainsFunc(privateWords(), func(w string) bool { return strings.Contains(l, w) })
}

func headingTag(b []byte) bool {
	for i := 0; i+2 < len(b); i++ {
		if b[i] == '<' && (b[i+1] == 'h' || b[i+1] == 'H') && b[i+2] >= '1' && b[i+2] <= '6' {
			return true
		}
	}
	return false
}

// htmlComments are the ranges of comments in a piece of HTML.
func htmlComments(b []byte) (ranges [][2]int) {
	for from := 0; ; {
		i := bytes.Index(b[from:], []byte("<!--"))
		if i < 0 {
			return ranges
		}
		start, stop := from+i, len(b)
		if j := bytes.Index(b[start+4:], []byte("-->")); j >= 0 {
			stop = start + 4 + j + 3
		}
		ranges = append(ranges, [2]int{start, stop})
		from = stop
	}
}

// headingAt is where a heading's line is.
func headingAt(h *ast.Heading, md []byte) int {
	if h.Lines().Len() > 0 {
		return h.Lines().At(0).Start
	}
	return min(max(h.Pos(), 0), len(md))
}

// seen is what a reader sees of a heading or cell: markup and tags gone, entities resolved.
func seen(n ast.Node, md []byte) string { return html.UnescapeString(inlineText(n, md, false)) }
