package casefile

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"benchlore/schema"
	"benchlore/schema/diagnostic"
)

// MaxSize is the largest text file of a notebook that is read, in bytes. A
// long case is some tens of kilobytes; this leaves room for boot logs.
const MaxSize = 4 << 20

// Document is a file with front matter, or a file that is YAML alone.
type Document struct {
	Text *diagnostic.Text
	// Values is the YAML as maps, slices and plain values, with dates as text.
	Values map[string]any

	yamlStart, yamlStop int        // byte range of the YAML
	body                int        // byte offset of what follows the front matter
	root                *yaml.Node // nil once rested
}

// DropTree drops the tree of the YAML, a quarter of what a document holds. Whoever
// needs it later, to edit or to point at a value, gets it parsed again.
func (d *Document) DropTree() { d.root = nil }

// KeepTree parses the YAML once for all that is asked until the returned function is
// called.
func (d *Document) KeepTree() (done func()) {
	if d.root != nil {
		return func() {}
	}
	d.root = d.tree()
	return d.DropTree
}

// tree returns the tree of the YAML.
func (d *Document) tree() *yaml.Node {
	if d.root != nil {
		return d.root
	}
	var doc yaml.Node
	if yaml.Unmarshal(d.Text.Bytes[d.yamlStart:d.yamlStop], &doc) != nil || len(doc.Content) == 0 {
		return &yaml.Node{Kind: yaml.MappingNode, Line: 1, Column: 1}
	}
	return doc.Content[0]
}

// parseFrontMatter reads front matter and validates it against the schema. The
// document is nil when nothing of the file could be read.
func parseFrontMatter(name string, src []byte, s *schema.Schema) (*Document, []diagnostic.Diagnostic) {
	return parseDocument(name, src, s, true)
}

// ParseYAML reads a file that is YAML alone, such as notebook.yaml.
func ParseYAML(name string, src []byte, s *schema.Schema) (*Document, []diagnostic.Diagnostic) {
	return parseDocument(name, src, s, false)
}

func parseDocument(name string, src []byte, s *schema.Schema, front bool) (*Document, []diagnostic.Diagnostic) {
	d := &Document{Text: diagnostic.NewText(name, src), Values: map[string]any{}}
	list, ok := d.checkBytes()
	if !ok {
		return nil, list
	}
	if front {
		if bad := d.splitFront(); bad != nil {
			return nil, append(list, *bad)
		}
	} else {
		d.yamlStart, d.yamlStop, d.body = d.bomLength(), len(src), len(src)
	}
	for _, e := range []*NotCut{d.tooLongYAML(), tooMuch(src, d.body)} {
		if e != nil {
			return nil, append(list, d.Text.At(e.Start, e.Stop, diagnostic.Error, diagnostic.TooMuch, e.Message))
		}
	}
	merged := d.mergeMarkers()
	problems, ok := d.readYAML()
	if len(merged) > 0 && !ok {
		return nil, append(list, merged...) // what the YAML library says of them helps nobody
	}
	list = append(append(list, merged...), problems...)
	if !ok {
		return nil, list
	}
	if s != nil {
		for _, p := range s.Validate(any(d.Values)) {
			list = append(list, d.place(p))
		}
	}
	return d, list
}

// mergeMarker is a line that version control leaves where two versions clashed.
var mergeMarker = regexp.MustCompile(`^(?:<{7}|>{7}|\|{7})(?: .*)?$`)

func (d *Document) mergeMarkers() (list []diagnostic.Diagnostic) {
	for _, sign := range []string{"<<<<<<<", ">>>>>>>", "|||||||"} {
		for from := 0; ; {
			i := bytes.Index(d.Text.Bytes[from:], []byte(sign))
			if i < 0 {
				break
			}
			at := from + i
			from = at + len(sign)
			if at > 0 && d.Text.Bytes[at-1] != '\n' {
				continue
			}
			if line := strings.TrimRight(string(lineAt(d.Text.Bytes, at)), "\r"); mergeMarker.MatchString(line) {
				list = append(list, d.Text.At(at, at+len(line), diagnostic.Error, diagnostic.MergeMarker,
					"two versions of this file were merged and clashed here; choose between the lines and take the marks out"))
			}
		}
	}
	diagnostic.Sort(list)
	return list
}

func (d *Document) bomLength() int {
	if bytes.HasPrefix(d.Text.Bytes, []byte("\xef\xbb\xbf")) {
		return 3
	}
	return 0
}

func (d *Document) checkBytes() (list []diagnostic.Diagnostic, ok bool) {
	src := d.Text.Bytes
	if len(src) > MaxSize {
		return []diagnostic.Diagnostic{{File: d.Text.Name, Severity: diagnostic.Error, Rule: diagnostic.FileTooLarge,
			Message: fmt.Sprintf("file has %d bytes; at most %d are read. Put long logs beside the case", len(src), MaxSize)}}, false
	}
	if n := d.bomLength(); n > 0 {
		list = append(list, d.Text.At(0, n, diagnostic.Note, diagnostic.ByteOrderMark,
			"file begins with a byte-order mark; it is not needed, and is kept"))
	}
	for i := 0; i < len(src); {
		r, n := utf8.DecodeRune(src[i:])
		if r == utf8.RuneError && n == 1 {
			return append(list, d.Text.At(i, i+1, diagnostic.Error, diagnostic.InvalidUTF8,
				fmt.Sprintf("byte 0x%02X is not UTF-8; save the file as UTF-8", src[i]))), false
		}
		if r == 0 {
			return append(list, d.Text.At(i, i+1, diagnostic.Error, diagnostic.InvalidUTF8,
				"file holds a zero byte; is it a text file?")), false
		}
		i += n
	}
	if i := bytes.Index(src, []byte("\r\n")); i >= 0 {
		list = append(list, d.Text.At(i, i, diagnostic.Note, diagnostic.LineEnds,
			"lines end with CR LF; they are read as usual, and kept"))
	}
	return list, true
}

// splitFront finds the YAML between the two lines of hyphens.
func (d *Document) splitFront() *diagnostic.Diagnostic {
	t := d.Text
	first := strings.TrimPrefix(t.Line(1), "\uFEFF")
	if strings.TrimRight(first, " \t") != "---" {
		bad := t.At(d.bomLength(), len(t.Bytes), diagnostic.Error, diagnostic.FrontMatter,
			"front matter is missing: the first line must be ---, then come keys such as case and title, then --- again")
		return &bad
	}
	d.yamlStart = t.LineStart(2)
	for line := 2; line <= t.Lines(); line++ {
		if strings.TrimRight(t.Line(line), " \t") == "---" {
			d.yamlStop, d.body = t.LineStart(line), t.LineStart(line+1)
			return nil
		}
	}
	bad := t.At(d.bomLength(), d.bomLength()+3, diagnostic.Error, diagnostic.FrontMatter,
		"front matter is not closed: a second line --- is missing")
	return &bad
}

func (d *Document) firstLine() int {
	line, _ := d.Text.Place(d.yamlStart)
	return line
}

func (d *Document) readYAML() (list []diagnostic.Diagnostic, ok bool) {
	src := d.Text.Bytes[d.yamlStart:d.yamlStop]
	before := d.firstLine() - 1
	if tab := leadingTab(src); tab >= 0 {
		return []diagnostic.Diagnostic{d.Text.At(d.yamlStart+tab, d.yamlStart+tab+1, diagnostic.Error, diagnostic.YAMLTab,
			"YAML is indented with spaces; this is a tab")}, false
	}
	var doc yaml.Node
	if err := yaml.Unmarshal(src, &doc); err != nil {
		return []diagnostic.Diagnostic{diagnostic.YAMLError(d.Text, before, err)}, false
	}
	if len(doc.Content) == 0 {
		d.root = &yaml.Node{Kind: yaml.MappingNode, Line: 1, Column: 1}
		return nil, true
	}
	d.root = doc.Content[0]
	if e := d.tooManyValues(d.root); e != nil {
		return []diagnostic.Diagnostic{d.Text.At(e.Start, e.Stop, diagnostic.Error, diagnostic.TooMuch, e.Message)}, false
	}
	value := d.convert(d.root, &list)
	if len(list) > maxProblems {
		return Most(list), false // to decode keys that stand twice costs the square of them
	}
	values, ok := value.(map[string]any)
	if !ok {
		at, stop := d.span(d.root)
		return append(list, d.Text.At(at, stop, diagnostic.Error, diagnostic.WrongType,
			"a mapping with keys such as title: is needed here")), false
	}
	d.Values = values
	return list, true
}

// leadingTab returns the offset of the first tab in an indentation, or -1.
func leadingTab(src []byte) int {
	for start := 0; start < len(src); {
		i := start
		for i < len(src) && src[i] == ' ' {
			i++
		}
		if i < len(src) && src[i] == '\t' && len(bytes.TrimSpace(lineAt(src, i))) > 0 {
			return i
		}
		next := bytes.IndexByte(src[start:], '\n')
		if next < 0 {
			break
		}
		start += next + 1
	}
	return -1
}

func lineAt(src []byte, i int) []byte {
	if n := bytes.IndexByte(src[i:], '\n'); n >= 0 {
		return src[i : i+n]
	}
	return src[i:]
}

// span returns the byte range of a node's first line in the file.
func (d *Document) span(n *yaml.Node) (start, stop int) {
	start = d.Text.Offset(d.firstLine()-1+n.Line, n.Column)
	if n.Line == 1 && d.yamlStart == 3 {
		start += 3 // a byte-order mark before YAML is not counted as a column
	}
	stop = start + max(len(n.Value), 1)
	if n.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle) != 0 {
		stop += 2
	}
	return start, min(stop, len(d.Text.Bytes))
}

// convert turns a node into plain values, naming what notebooks do not use.
func (d *Document) convert(n *yaml.Node, list *[]diagnostic.Diagnostic) any {
	say := func(n *yaml.Node, rule diagnostic.Rule, format string, args ...any) {
		start, stop := d.span(n)
		*list = append(*list, d.Text.At(start, stop, diagnostic.Error, rule, fmt.Sprintf(format, args...)))
	}
	if n.Kind == yaml.AliasNode || n.Anchor != "" {
		say(n, diagnostic.YAMLAlias, "anchors and aliases are not used here; write the value out")
		return nil
	}
	if n.Style&yaml.TaggedStyle != 0 {
		say(n, diagnostic.YAMLAlias, "the tag %s is not used here; write the plain value", n.Tag)
		return nil
	}
	switch n.Kind {
	case yaml.MappingNode:
		m := make(map[string]any, len(n.Content)/2)
		first := map[string]*yaml.Node{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			key := n.Content[i]
			if key.Kind != yaml.ScalarNode {
				say(key, diagnostic.WrongType, "a key is a single word")
				continue
			}
			if c, ok := d.splitComma(n, i); ok {
				*list = append(*list, d.Text.At(c.start, c.stop, diagnostic.Error, diagnostic.DecimalComma, c.says))
				continue
			}
			if old, ok := first[key.Value]; ok {
				say(key, diagnostic.KeyTwice, "key %q stands twice; the first is on line %d", key.Value, d.firstLine()-1+old.Line)
				continue
			}
			first[key.Value] = key
			m[key.Value] = d.convert(n.Content[i+1], list)
		}
		return m
	case yaml.SequenceNode:
		s := make([]any, 0, len(n.Content))
		for _, c := range n.Content {
			s = append(s, d.convert(c, list))
		}
		return s
	}
	switch n.ShortTag() {
	case "!!int":
		if i, err := strconv.ParseInt(n.Value, 10, 64); err == nil {
			return i
		}
		var f float64
		if n.Decode(&f) == nil {
			return f
		}
	case "!!float":
		var f float64
		if n.Decode(&f) == nil && !math.IsNaN(f) && !math.IsInf(f, 0) {
			return f
		}
	case "!!bool":
		var b bool
		if n.Decode(&b) == nil {
			return b
		}
	case "!!null":
		return nil
	}
	return n.Value
}

// find returns the key and value nodes at a path; the nearest that exist when
// the path leads on.
func (d *Document) find(path []string) (key, value *yaml.Node) {
	value = d.tree()
	for _, step := range path {
		switch value.Kind {
		case yaml.MappingNode:
			found := false
			for i := 0; i+1 < len(value.Content); i += 2 {
				if value.Content[i].Value == step {
					key, value, found = value.Content[i], value.Content[i+1], true
					break
				}
			}
			if !found {
				return key, value
			}
		case yaml.SequenceNode:
			i, err := strconv.Atoi(step)
			if err != nil || i < 0 || i >= len(value.Content) {
				return key, value
			}
			key, value = value.Content[i], value.Content[i]
		default:
			return key, value
		}
	}
	return key, value
}

// Say builds a diagnostic for the value at a path of keys and indexes.
func (d *Document) Say(s diagnostic.Severity, rule diagnostic.Rule, message string, path ...string) diagnostic.Diagnostic {
	if len(path) == 0 {
		return d.Text.At(d.yamlStart, d.yamlStart, s, rule, message)
	}
	_, value := d.find(path)
	start, stop := d.span(value)
	return d.Text.At(start, stop, s, rule, message)
}

func (d *Document) place(p schema.Problem) diagnostic.Diagnostic {
	message := p.Message
	key, value := d.find(p.Path)
	if len(p.Path) > 0 && p.Rule != diagnostic.UnknownKey {
		message = strings.Join(readable(p.Path), " ") + " " + message
	}
	at := value
	if p.Rule == diagnostic.WrongType && value.Kind == yaml.ScalarNode && strings.Contains(message, "number belongs") && decimalComma.MatchString(value.Value) {
		start, stop := d.span(value)
		return d.Text.At(start, stop, diagnostic.Error, diagnostic.DecimalComma,
			fmt.Sprintf("%s: the decimal sign of a number is a point here; write %s", strings.Join(readable(p.Path), " "), withPoint(value.Value)))
	}
	switch {
	case p.Key != "":
		at, _ = d.find(append(append([]string{}, p.Path...), p.Key))
	case p.Rule == diagnostic.MissingKey && key != nil:
		at = key
	case p.Rule == diagnostic.WrongType && value.Kind == yaml.ScalarNode && strings.Contains(message, "a text belongs"):
		if slices.Equal(p.Path, []string{"confirmed"}) && value.ShortTag() == "!!bool" {
			message += "; write how it was proved, as in confirmed: an hour on full power, no fault"
		} else if value.Value == "" {
			message += "; the value is empty, fill it in or remove the line"
		} else {
			message += fmt.Sprintf("; write it in quotes: %q", value.Value)
		}
	}
	start, stop := d.span(at)
	if len(p.Path) == 0 && p.Rule == diagnostic.MissingKey {
		start = d.yamlStart
		stop = start
		if d.body > 0 && d.yamlStart >= 4 {
			start, stop = d.bomLength(), d.bomLength()+3
		}
	}
	out := d.Text.At(start, stop, diagnostic.Error, p.Rule, message)
	out.Suggestion = p.Suggestion
	return out
}

// decimalComma is a number as it is written where the decimal sign is a comma.
var decimalComma = regexp.MustCompile(`^[+-]?[0-9]+,[0-9]+$`)

// withPoint writes such a number with a point, and says that three digits behind the comma
// may have been thousands.
func withPoint(text string) string {
	whole, part, _ := strings.Cut(text, ",")
	if len(part) == 3 {
		return whole + part + ", or " + whole + "." + part + " for a part of one"
	}
	return whole + "." + part
}

// comma is a number that a decimal comma parts in a mapping in braces.
type comma struct {
	start, stop int
	says        string
}

// splitComma recognises the i-th node of a mapping in braces as the end of a number with a
// decimal comma: {parts: 12,50} is to YAML a value 12 and a key 50 without a value.
func (d *Document) splitComma(m *yaml.Node, i int) (c comma, ok bool) {
	if m.Style&yaml.FlowStyle == 0 || i < 2 {
		return c, false
	}
	key, before, value := m.Content[i-2], m.Content[i-1], m.Content[i]
	if before.Kind != yaml.ScalarNode || m.Content[i+1].ShortTag() != "!!null" || m.Content[i+1].Value != "" {
		return c, false
	}
	text := before.Value + "," + value.Value
	c.start, _ = d.span(before)
	c.stop = c.start + len(text)
	if !decimalComma.MatchString(text) || c.stop > len(d.Text.Bytes) || string(d.Text.Bytes[c.start:c.stop]) != text {
		return c, false
	}
	c.says = fmt.Sprintf("a comma parts two values here, so that %s is %s with another key %q behind it; the decimal sign of a number is a point: write %s: %s",
		key.Value, before.Value, value.Value, key.Value, withPoint(text))
	return c, true
}

func readable(path []string) []string {
	out := make([]string, len(path))
	for i, p := range path {
		if n, err := strconv.Atoi(p); err == nil {
			p = strconv.Itoa(n + 1)
		}
		out[i] = p
	}
	return out
}

// Decode fills out from the YAML; values of the wrong type stay zero, since
// validation has already named them.
func (d *Document) Decode(out any) { _ = d.tree().Decode(out) }
