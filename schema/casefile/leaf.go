package casefile

import (
	"bytes"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

var moneyForm = regexp.MustCompile(`^[0-9]{1,9}(?:\.[0-9]{1,9})?$`)

// yamlOf is what a text typed for the field is in YAML, on one line; "" for a
// field that is to be empty.
func (f Field) yamlOf(text string) (string, error) {
	text = strings.ReplaceAll(text, "\r\n", "\n")
	if f.Kind != Prose {
		text = strings.TrimSpace(text)
	}
	if text == "" {
		return "", nil
	}
	switch f.Kind {
	case Words, Labels:
		if list := SplitWords(text); len(list) > 0 {
			return flowValue(list)
		}
		return "", nil
	case Whole:
		if n, err := strconv.Atoi(text); err != nil || n < 0 || n > 100_000 {
			return "", fmt.Errorf("a whole number is needed here, not %q", text)
		}
		return text, nil
	case Money:
		if text = strings.Replace(text, ",", ".", 1); !moneyForm.MatchString(text) {
			return "", fmt.Errorf("a sum of money is needed here, such as 4.50, not %q", text)
		}
		return text, nil
	case Date:
		if _, ok := Day(text); !ok {
			return "", fmt.Errorf("a day is written YYYY-MM-DD, not %q", text)
		}
	case Line, Word:
		if strings.Contains(text, "\n") {
			return "", fmt.Errorf("this is one line")
		}
	case Pictures:
		return "", fmt.Errorf("pictures are changed one by one")
	}
	if f.Kind != Date && dateForm(text) {
		return strconv.Quote(text), nil // a text that looks like a day
	}
	if f.Path != f.Key() {
		// Inside a mapping of one line a comma or bracket would end the text.
		list, err := flowValue([]string{text})
		return strings.TrimSuffix(strings.TrimPrefix(list, "["), "]"), err
	}
	return flowValue(text)
}

// SplitWords reads a list as people type it, with commas, semicolons or line
// ends between; a word that stands twice counts once.
func SplitWords(text string) []string {
	var out []string
	for _, w := range strings.FieldsFunc(text, func(c rune) bool { return c == ',' || c == '\n' || c == ';' }) {
		if w = strings.TrimSpace(w); w != "" && !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

// SetLeaf changes one leaf of the front matter, given as text, and returns the
// file read anew; "" takes the leaf out. Only the bytes of that leaf change:
// its neighbours in the same mapping, comments and the rest of the file stay
// as they are. It returns an error that says what would be right for a text
// that is no such value, and errNotPlain where the leaf cannot be changed
// without touching more.
func (f *File) SetLeaf(path, text string) (*File, error) {
	field, ok := FieldAt(path)
	if !ok {
		return nil, fmt.Errorf("there is no field %q", path)
	}
	value, err := field.yamlOf(text)
	if err != nil {
		return nil, err
	}
	if field.Key() == privateWord {
		if err := f.roomForIntake(); err != nil {
			return nil, err
		}
	}
	if value == "" && field.Kind == Words && path == "symptoms" {
		value = "[]" // an open case says that it has none yet
	}
	return f.putLeaf(strings.Split(path, "."), value)
}

// roomForIntake refuses where something of the writer's own stands in place of the
// mapping that the intake hangs on: it would be overwritten.
func (f *File) roomForIntake() error {
	n := f.tree()
	for _, step := range intakeKey {
		if n = child(n, step); n == nil {
			return nil
		}
		if n.Kind != yaml.MappingNode && (n.Kind != yaml.ScalarNode || textOf(n) != "") {
			return fmt.Errorf("%s: holds something else already; write the intake in the source, as %s: {intake: {condition: …}}",
				step, privateWord)
		}
	}
	return nil
}

// putLeaf puts YAML of one line at a path of keys and indexes, or takes out what
// is there when it is empty.
func (f *File) putLeaf(path []string, value string) (*File, error) {
	var out []byte
	var err error
	if value == "" {
		out, err = f.cutLeaf(path)
	} else {
		out, err = f.writeLeaf(path, value)
	}
	if err != nil {
		return nil, err
	}
	if _, err := strconv.Atoi(path[len(path)-1]); err == nil {
		path = path[:len(path)-1] // those behind it move up
	}
	return f.changed(out, path)
}

// changed reads bytes that differ at one path alone, and refuses them where
// anything else differs too.
func (f *File) changed(out []byte, path []string) (*File, error) {
	next, list := Parse(f.Text.Name, out)
	if next == nil {
		return nil, fmt.Errorf("%w: %s", errNotPlain, list[len(list)-1])
	}
	where := strings.Join(path, ".")
	before, after := map[string]string{}, map[string]string{}
	flatten(before, "", f.tree())
	flatten(after, "", next.tree())
	for _, m := range []map[string]string{before, after} {
		maps.DeleteFunc(m, func(k, _ string) bool {
			return k == where || strings.HasPrefix(k, where+".") || strings.HasPrefix(where, k+".")
		})
	}
	if !maps.Equal(before, after) || !bytes.Equal(f.Text.Bytes[f.body:], next.Text.Bytes[next.body:]) {
		return nil, fmt.Errorf("%w: %s; change it in the file itself", errNotPlain, where)
	}
	return next, nil
}

// flatten lists every leaf of a tree by its path, tags included.
func flatten(into map[string]string, path string, n *yaml.Node) {
	join := func(step string) string {
		if path == "" {
			return step
		}
		return path + "." + step
	}
	switch n.Kind {
	case yaml.MappingNode:
		for i := 0; i+1 < len(n.Content); i += 2 {
			flatten(into, join(n.Content[i].Value), n.Content[i+1])
		}
	case yaml.SequenceNode:
		for i, c := range n.Content {
			flatten(into, join(strconv.Itoa(i)), c)
		}
	default:
		into[path] = n.ShortTag() + " " + n.Value
		return
	}
	if len(n.Content) == 0 {
		into[path] = "empty " + n.ShortTag()
	}
}

// child returns what a mapping or list holds under a key or index, or nil.
func child(n *yaml.Node, step string) *yaml.Node {
	switch n.Kind {
	case yaml.MappingNode:
		for i := 0; i+1 < len(n.Content); i += 2 {
			if n.Content[i].Value == step {
				return n.Content[i+1]
			}
		}
	case yaml.SequenceNode:
		if i, err := strconv.Atoi(step); err == nil && i >= 0 && i < len(n.Content) {
			return n.Content[i]
		}
	}
	return nil
}

// holds reports whether a node has anything below or in it.
func holds(n *yaml.Node) bool {
	return n != nil && (n.Kind == yaml.MappingNode || n.Kind == yaml.SequenceNode)
}

// nested wraps a value in mappings for the given keys.
func nested(keys []string, value string) string {
	for _, k := range slices.Backward(keys) {
		value = "{" + k + ": " + value + "}"
	}
	return value
}

func (f *File) writeLeaf(path []string, value string) ([]byte, error) {
	parent := f.tree()
	for i, step := range path {
		last := i == len(path)-1
		next := child(parent, step)
		if next != nil && !last && holds(next) {
			parent = next
			continue
		}
		if next == nil && i > 0 {
			return f.insert(parent, path[:i], step, nested(path[i+1:], value))
		}
		// Here the leaf is, or something without leaves stands in its place.
		text := nested(path[i+1:], value)
		if i == 0 {
			return f.setText(keyOrder, step, text)
		}
		return f.replaceNode(parent, step, text)
	}
	return nil, errNotPlain
}

// replaceNode puts a text in place of a value inside a mapping or list.
func (f *File) replaceNode(parent *yaml.Node, step, text string) ([]byte, error) {
	src, e := f.Text.Bytes, f.extents()
	value := child(parent, step)
	if value.Kind == yaml.ScalarNode && value.Value == "" && value.Style == 0 && parent.Kind == yaml.MappingNode {
		key := keyOf(parent, step)
		_, stop, ok := e.of(key)
		colon := colonAfter(src, stop)
		if !ok || colon == 0 {
			return nil, errNotPlain
		}
		return slices.Concat(src[:colon], []byte(" "+text), src[colon:]), nil
	}
	start, stop, ok := e.of(value)
	if !ok {
		return nil, errNotPlain
	}
	return slices.Concat(src[:start], []byte(text), src[stop:]), nil
}

func keyOf(m *yaml.Node, key string) *yaml.Node {
	for i := 0; i+1 < len(m.Content); i += 2 {
		if m.Content[i].Value == key {
			return m.Content[i]
		}
	}
	return nil
}

// insert adds a key to a mapping inside the front matter, before the first of
// its neighbours that comes later in the usual order.
func (f *File) insert(parent *yaml.Node, at []string, key, text string) ([]byte, error) {
	if parent.Kind != yaml.MappingNode {
		return nil, errNotPlain
	}
	src, e := f.Text.Bytes, f.extents()
	start, stop, ok := e.of(parent)
	if !ok {
		return nil, errNotPlain
	}
	flow := parent.Style&yaml.FlowStyle != 0
	if len(parent.Content) == 0 {
		return slices.Concat(src[:start+1], []byte(key+": "+text), src[start+1:]), nil
	}
	rank := leafRank(at, key)
	for i := 0; i+1 < len(parent.Content); i += 2 {
		if leafRank(at, parent.Content[i].Value) <= rank {
			continue
		}
		from, ok := e.start(parent.Content[i])
		if !ok {
			return nil, errNotPlain
		}
		if flow {
			return slices.Concat(src[:from], []byte(key+": "+text+", "), src[from:]), nil
		}
		return slices.Concat(src[:from], []byte(key+": "+text+f.newline()+f.indentOf(from)), src[from:]), nil
	}
	if flow {
		_, end, ok := e.of(parent.Content[len(parent.Content)-1])
		if !ok {
			return nil, errNotPlain
		}
		if last := parent.Content[len(parent.Content)-1]; last.Value == "" && last.Style == 0 && last.Kind == yaml.ScalarNode {
			end = stop - 1
		}
		return slices.Concat(src[:end], []byte(", "+key+": "+text), src[end:]), nil
	}
	first, _ := e.start(parent.Content[0])
	end := stop + len(lineAt(src, stop)) // past a comment on the last line
	return slices.Concat(src[:end], []byte(trimReturn(src[:end], f.newline())+f.indentOf(first)+key+": "+text), src[end:]), nil
}

// trimReturn is the line end to write after bytes that may end with a CR of
// their own.
func trimReturn(before []byte, newline string) string {
	if bytes.HasSuffix(before, []byte("\r")) {
		return "\n"
	}
	return newline
}

// indentOf is white space up to the column of a byte; hyphens of a list count.
func (f *File) indentOf(at int) string {
	line, _ := f.Text.Place(at)
	return strings.Repeat(" ", at-f.Text.LineStart(line))
}

// leafRank is the place of a key among its neighbours in the usual order.
func leafRank(at []string, key string) int {
	var order []string
	if where := strings.Join(at, "."); where == "photos" || strings.HasPrefix(where, "photos.") {
		order = []string{"file", "caption", "marks", "compare", "x", "y", "label", "shape", "to"}
	} else {
		for _, x := range slices.Concat(Fields, Intake) {
			if rest, ok := strings.CutPrefix(x.Path, where+"."); ok {
				order = append(order, rest)
			}
		}
	}
	if i := slices.Index(order, key); i >= 0 {
		return i
	}
	return len(order)
}

// cutLeaf takes a leaf out, and the mapping that it leaves empty.
func (f *File) cutLeaf(path []string) ([]byte, error) {
	parent, depth := f.tree(), 0
	var above []*yaml.Node
	for i, step := range path {
		next := child(parent, step)
		if next == nil {
			return f.Text.Bytes, nil
		}
		above, depth = append(above, parent), i
		if i < len(path)-1 && !holds(next) {
			return f.Text.Bytes, nil // device: some-id has no maker of its own
		}
		if i == len(path)-1 && holds(next) &&
			slices.ContainsFunc(Fields, func(x Field) bool { return strings.HasPrefix(x.Path, strings.Join(path, ".")+".") }) {
			return f.Text.Bytes, nil // a mapping that stands where the leaf could
		}
		parent = next
	}
	for depth > 0 && (above[depth].Kind == yaml.MappingNode && len(above[depth].Content) == 2 ||
		above[depth].Kind == yaml.SequenceNode && len(above[depth].Content) == 1) {
		depth--
	}
	if depth == 0 {
		return f.unset(path[0])
	}
	return f.cutEntry(above[depth], path[depth])
}

// cutEntry takes one entry out of a mapping or list that has others.
func (f *File) cutEntry(parent *yaml.Node, step string) ([]byte, error) {
	src, e := f.Text.Bytes, f.extents()
	width := 1
	index := 0
	if parent.Kind == yaml.MappingNode {
		width = 2
		for index < len(parent.Content) && parent.Content[index].Value != step {
			index += 2
		}
	} else {
		index, _ = strconv.Atoi(step)
	}
	from, ok := e.start(parent.Content[index])
	if !ok {
		return nil, errNotPlain
	}
	last := index+width >= len(parent.Content)
	flow := parent.Style&yaml.FlowStyle != 0
	switch {
	case flow && !last, !flow && !last && width == 2 && strings.TrimSpace(f.indentedBy(from)) != "":
		// What follows takes its place.
		to, ok := e.start(parent.Content[index+width])
		if !ok {
			return nil, errNotPlain
		}
		return slices.Concat(src[:from], src[to:]), nil
	case flow:
		_, before, ok := e.of(parent.Content[index-1])
		_, stop, ok2 := e.of(parent.Content[index+width-1])
		if !ok || !ok2 {
			return nil, errNotPlain
		}
		if v := parent.Content[index+width-1]; v.Value == "" && v.Style == 0 && v.Kind == yaml.ScalarNode {
			_, end, _ := e.of(parent.Content[index])
			stop = max(end, colonAfter(src, end))
		}
		if comma := bytes.IndexByte(src[before:from], ','); comma >= 0 && bytes.IndexByte(src[before:from], '#') < 0 {
			before += comma
		} else {
			return nil, errNotPlain
		}
		return slices.Concat(src[:before], src[stop:]), nil
	}
	line, _ := f.Text.Place(from)
	start := f.Text.LineStart(line)
	_, stop, ok := e.of(parent.Content[index+width-1])
	if v := parent.Content[index+width-1]; width == 2 && v.Value == "" && v.Style == 0 && v.Kind == yaml.ScalarNode {
		_, stop, ok = e.of(parent.Content[index])
	}
	if !ok {
		return nil, errNotPlain
	}
	stop = min(stop+len(lineAt(src, stop))+1, f.yamlStop)
	return slices.Concat(src[:start], src[stop:]), nil
}

// indentedBy is what stands before a byte on its line.
func (f *File) indentedBy(at int) string {
	line, _ := f.Text.Place(at)
	return string(f.Text.Bytes[f.Text.LineStart(line):at])
}
