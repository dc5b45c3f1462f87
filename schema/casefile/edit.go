package casefile

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"benchlore/schema"
)

// errNotPlain is returned by [File.Set] for a field whose present form cannot
// be changed without touching other lines.
var errNotPlain = errors.New("the field is not written on one line")

// deviceKeyOrder is to device files what keyOrder is to cases.
var deviceKeyOrder = []string{"device", "kind", "maker", "model", "years", "boards", "hazards", "fasteners", "views", "photos", "power"}

// Set changes one top-level field of the front matter and returns the file
// read anew; f itself is unchanged. The value is a string, number, list of
// strings, or a map or struct with yaml tags. A present field changes only its
// own lines, an absent one is added as a line in the usual order. Comments
// after the value stay.
func (f *File) Set(key string, value any) (*File, error) {
	out, err := f.set(keyOrder, key, value)
	if err != nil {
		return nil, err
	}
	next, list := Parse(f.Text.Name, out)
	if next == nil {
		return nil, fmt.Errorf("%w: %s", errNotPlain, list[len(list)-1])
	}
	return next, nil
}

// Set changes one top-level field, as [File.Set] does.
func (f *DeviceFile) Set(key string, value any) (*DeviceFile, error) {
	out, err := f.set(deviceKeyOrder, key, value)
	if err != nil {
		return nil, err
	}
	next, list := ParseDevice(f.Text.Name, out)
	if next == nil {
		return nil, fmt.Errorf("%w: %s", errNotPlain, list[len(list)-1])
	}
	return next, nil
}

// set returns the file's bytes with one field changed or added; the order is
// that of the keys.
func (d *Document) set(order []string, key string, value any) ([]byte, error) {
	if !slices.Contains(order, key) {
		return nil, fmt.Errorf("%q is not a key of this file", key)
	}
	text, err := flowValue(value)
	if err != nil {
		return nil, err
	}
	return d.setText(order, key, text)
}

// setText is [Document.set] for a value that is YAML of one line already.
func (d *Document) setText(order []string, key, text string) ([]byte, error) {
	src, newline := d.Text.Bytes, d.newline()
	if start, stop, ok := d.valueRange(key); ok {
		if src[start-1] == ':' {
			text = " " + text
		}
		return slices.Concat(src[:start], []byte(text), src[stop:]), nil
	}
	at := d.insertionPoint(order, key)
	return slices.Concat(src[:at], []byte(key+": "+text+newline), src[at:]), nil
}

func (d *Document) newline() string {
	if bytes.Contains(d.Text.Bytes[:min(len(d.Text.Bytes), d.body)], []byte("\r\n")) {
		return "\r\n"
	}
	return "\n"
}

// flowValue prints a value as YAML on one line.
func flowValue(value any) (string, error) {
	var n yaml.Node
	if node, ok := value.(*yaml.Node); ok {
		n = *node
	} else if err := n.Encode(value); err != nil {
		return "", err
	}
	if !isPlain(&n) {
		return "", errors.New("the value is not plain UTF-8 text, numbers, lists and mappings")
	}
	oneLine(&n)
	if n.Kind == yaml.ScalarNode && n.Tag == "!!str" && dateForm(n.Value) {
		n.Tag, n.Style = "!!timestamp", 0
	}
	b, err := yaml.Marshal(&n)
	if err != nil {
		return "", err
	}
	s := strings.TrimSuffix(string(b), "\n")
	if strings.Contains(s, "\n") {
		return "", errNotPlain
	}
	return s, nil
}

func dateForm(s string) bool {
	_, ok := Day(s)
	return ok
}

// isPlain reports whether a value needs none of YAML's special types; text
// that is not UTF-8 would become binary data.
func isPlain(n *yaml.Node) bool {
	if n.Tag == "!!binary" || strings.ContainsRune(n.Value, 0) {
		return false
	}
	for _, c := range n.Content {
		if !isPlain(c) {
			return false
		}
	}
	return true
}

// oneLine asks for flow style throughout, and quotes around what would
// otherwise be folded over lines.
func oneLine(n *yaml.Node) {
	switch n.Kind {
	case yaml.MappingNode, yaml.SequenceNode:
		n.Style = yaml.FlowStyle
	case yaml.ScalarNode:
		if n.Tag == "!!str" && strings.ContainsAny(n.Value, "\n\r\u0085\u2028\u2029") {
			n.Style = yaml.DoubleQuotedStyle
		}
	}
	for _, c := range n.Content {
		oneLine(c)
	}
}

// valueRange returns the bytes that a top-level field's value takes up,
// without a trailing comment or line end.
func (d *Document) valueRange(key string) (start, stop int, ok bool) {
	content := d.tree().Content
	for i := 0; i+1 < len(content); i += 2 {
		k, v := content[i], content[i+1]
		if k.Value != key {
			continue
		}
		keyStart, _ := d.span(k)
		src := d.Text.Bytes
		colon := keyStart + len(k.Value)
		if k.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle) != 0 {
			colon += 2
		}
		for colon < d.yamlStop && src[colon] != ':' {
			colon++
		}
		end := d.yamlStop
		if i+2 < len(content) {
			end, _ = d.span(content[i+2])
		}
		start = colon + 1
		if start < end && (src[start] == ' ' || src[start] == '\t') {
			start++
		}
		stop = d.trimTail(start, end, v)
		return start, max(start, stop), true
	}
	return 0, 0, false
}

// trimTail cuts comments, blank lines and the line end off the text of a value.
func (d *Document) trimTail(start, end int, v *yaml.Node) int {
	src := d.Text.Bytes
	last := start
	// Whole-line comments and blank lines after the value belong to what follows.
	for at := start; at < end; {
		n := lineAt(src[:end], at)
		next := at + len(n) + 1
		trimmed := bytes.TrimSpace(n)
		block := v.Style&(yaml.LiteralStyle|yaml.FoldedStyle) != 0
		if len(trimmed) > 0 && (block || at == start || trimmed[0] != '#') {
			last = at + len(bytes.TrimRight(n, " \t\r"))
		}
		at = next
	}
	if comment := v.LineComment; comment != "" && !strings.Contains(comment, "\n") {
		line := bytes.LastIndexByte(src[start:last], '\n') + 1 + start
		if i := bytes.LastIndex(src[line:last], []byte(comment)); i >= 0 && line+i+len(comment) == last {
			return line + i - len(src[line:line+i]) + len(bytes.TrimRight(src[line:line+i], " \t"))
		}
	}
	return last
}

// insertionPoint is the start of the line before which a new key belongs.
func (d *Document) insertionPoint(order []string, key string) int {
	rank := slices.Index(order, key)
	content := d.tree().Content
	for i := 0; i+1 < len(content); i += 2 {
		k := content[i]
		if slices.Index(order, k.Value) > rank {
			at, _ := d.span(k)
			line, _ := d.Text.Place(at)
			return d.Text.LineStart(line)
		}
	}
	return d.yamlStop
}

// FillPart writes a text into an empty cell of the Parts table's i-th row and
// returns the file read anew. It returns errNotPlain for a cell that is not
// there or not empty; every other byte stays.
func (f *File) FillPart(i int, column, text string) (*File, error) {
	at := f.Case.Parts[i].at
	index := slices.IndexFunc(at.columns, func(c cell) bool { return c.Text == column })
	if index < 0 || index >= len(at.list) || at.list[index].Text != "" {
		return nil, errNotPlain
	}
	first, _ := placeOf(at, "part")
	line, _ := f.Text.Place(first)
	base := f.Text.LineStart(line)
	src := f.Text.Line(line)
	start, stop, ok := cellRange(src, index)
	if !ok || strings.TrimSpace(src[start:stop]) != "" {
		return nil, errNotPlain
	}
	cell := " " + strings.ReplaceAll(EscapeText(strings.Join(strings.Fields(text), " ")), "\n", " ") + " "
	next, list := Parse(f.Text.Name, slices.Concat(f.Text.Bytes[:base+start], []byte(cell), f.Text.Bytes[base+stop:]))
	if next == nil {
		return nil, fmt.Errorf("%w: %s", errNotPlain, list[len(list)-1])
	}
	return next, nil
}

// cellRange returns the bytes between the bars around the index-th cell of a
// table's line.
func cellRange(line string, index int) (start, stop int, ok bool) {
	i := len(line) - len(strings.TrimLeft(line, " "))
	if i < len(line) && line[i] == '|' {
		i++
	}
	start = i
	for ; i < len(line); i++ {
		switch line[i] {
		case '\\':
			i++
		case '|':
			if index == 0 {
				return start, i, true
			}
			index--
			start = i + 1
		}
	}
	return start, len(line), index == 0 && start < len(line)
}

// Compose writes a new case file: front matter in the usual order, then the
// given sections. It returns an error when what it wrote does not read back.
func Compose(c *Case, sections []SectionText) ([]byte, error) {
	var b bytes.Buffer
	b.WriteString("---\n")
	whole := nodeOf(reflect.ValueOf(c).Elem())
	for _, key := range keyOrder {
		value := child(whole, key)
		switch {
		case value == nil && key == "symptoms" && c.Source == nil:
			fmt.Fprintf(&b, "%s: []\n", key)
		case value == nil:
		case key == "source":
			// One line a field: these are looked at, and some are long.
			if err := writeBlock(&b, key, value); err != nil {
				return nil, err
			}
		default:
			text, err := flowValue(value)
			if err != nil {
				return nil, err
			}
			fmt.Fprintf(&b, "%s: %s\n", key, text)
		}
	}
	b.WriteString("---\n")
	for _, s := range sections {
		fmt.Fprintf(&b, "## %s\n\n%s\n\n", s.Name, strings.TrimRight(s.Text, "\n"))
	}
	out := append(bytes.TrimRight(b.Bytes(), "\n"), '\n')
	if doc, list := parseFrontMatter(c.ID+".md", out, schema.Case()); doc == nil {
		return nil, fmt.Errorf("case %s cannot be written: %s", c.ID, list[len(list)-1])
	}
	return out, nil
}

// SectionText is a section to be written by [Compose].
type SectionText struct{ Name, Text string }

func writeBlock(b *bytes.Buffer, key string, m *yaml.Node) error {
	fmt.Fprintf(b, "%s:\n", key)
	for i := 0; i+1 < len(m.Content); i += 2 {
		v := m.Content[i+1]
		v.Style = 0
		if v.Kind == yaml.SequenceNode {
			v.Style = yaml.FlowStyle
		}
		if strings.ContainsAny(v.Value, "\n\r\u0085\u2028\u2029") {
			v.Style = yaml.DoubleQuotedStyle
		}
		text, err := yaml.Marshal(v)
		if err != nil {
			return err
		}
		if dateForm(v.Value) {
			text = []byte(`"` + v.Value + `"`)
		}
		fmt.Fprintf(b, "  %s: %s\n", m.Content[i].Value, strings.TrimSuffix(string(text), "\n"))
	}
	return nil
}

// FormatTable writes rows as a Markdown table. Line breaks in cells become
// spaces and bars are escaped.
func FormatTable(columns []string, rows [][]string) string {
	var b strings.Builder
	line := func(cells []string) {
		b.WriteByte('|')
		for i := range columns {
			cell := ""
			if i < len(cells) {
				cell = escapeCell(cells[i])
			}
			b.WriteString(" " + cell + " |")
		}
		b.WriteByte('\n')
	}
	line(columns)
	b.WriteString("|" + strings.Repeat("---|", len(columns)) + "\n")
	for _, r := range rows {
		line(r)
	}
	return b.String()
}

// EscapeText makes Markdown that shows exactly the given plain text, so that
// no sign in it becomes a heading, a list, a link or markup. Signs that mean nothing
// where they stand stay as they are.
func EscapeText(s string) string {
	var b strings.Builder
	atStart := true
	for i := 0; i < len(s); i++ {
		c := s[i]
		switch {
		case isMarkup(s, i),
			atStart && strings.IndexByte("=:>", c) >= 0,
			atStart && strings.IndexByte("#+-", c) >= 0 && endsMarker(s[i+1:]),
			(c == '.' || c == ')') && startsWithNumber(s[:i]) && endsMarker(s[i+1:]):
			b.WriteByte('\\')
		}
		b.WriteByte(c)
		atStart = c == '\n' || atStart && c == ' '
	}
	return b.String()
}

// escapeCell is [EscapeText] for a cell of a table, where no heading, list or quotation
// begins.
func escapeCell(s string) string {
	s = squeeze(s)
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if isMarkup(s, i) {
			b.WriteByte('\\')
		}
		b.WriteByte(s[i])
	}
	return b.String()
}

// isMarkup reports whether the sign at i could be markup within a line.
func isMarkup(s string, i int) bool {
	switch c := s[i]; c {
	case '_': // within a word it is none
		return i == 0 || i+1 == len(s) || !isWord(s[i-1]) || !isWord(s[i+1])
	case '&': // only what looks like an entity is one
		return i+1 < len(s) && (s[i+1] == '#' || isWord(s[i+1]))
	default:
		return strings.IndexByte("\\`*[<|~$", c) >= 0
	}
}

func isWord(c byte) bool {
	return c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z'
}

// endsMarker reports whether what follows a sign makes it the marker of a heading,
// list or rule: white space, the end, or more such signs.
func endsMarker(rest string) bool {
	return rest == "" || strings.IndexByte(" \t\r\n#-+", rest[0]) >= 0
}

// startsWithNumber reports whether the last line of s is digits alone.
func startsWithNumber(s string) bool {
	line := strings.TrimLeft(s[strings.LastIndexByte(s, '\n')+1:], " ")
	return line != "" && len(line) <= 9 && strings.Trim(line, "0123456789") == ""
}

// UnescapeText is the inverse of [EscapeText].
func UnescapeText(s string) string { return string(unescape([]byte(s))) }
