package casefile

import (
	"reflect"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"benchlore/schema/terms"
)

// Kind is what sort of value a leaf of the front matter holds.
type Kind int

const (
	Line     Kind = iota // one line of text
	Prose                // text, perhaps of several lines
	Date                 // YYYY-MM-DD
	Word                 // one controlled word of the leaf's class
	Words                // a list of controlled words of the leaf's class
	Labels               // a list of the workshop's own words
	Whole                // a whole number, 0 or more
	Money                // an amount in the notebook's currency
	Pictures             // the list of photos, whose own leaves are those of [Photo]
)

// Field is a leaf of a case's front matter.
type Field struct {
	Path  string // keys with dots between, such as cause.fault
	Kind  Kind
	Class terms.Class // of a controlled word, empty for other kinds
	Label string      // what it is called where people fill it in, in English; empty where only programs write it
}

// Fields are all leaves of a case's front matter in the order in which they are
// written. Whatever reads, writes, shows or exports front matter goes by this
// table; a test holds it against the JSON Schema and against [Case].
var Fields = []Field{
	{"case", Line, "", ""},
	{"from", Line, "", ""},
	{"title", Line, "", "What the owner noticed, in one line"},
	{"device", Line, "", "Device"},
	{"device.kind", Word, terms.Kind, "Kind, where it has no file"},
	{"device.maker", Line, "", "Maker"},
	{"device.model", Line, "", "Model"},
	{"board", Line, "", "Board"},
	{"opened", Date, "", "Opened"},
	{"closed", Date, "", "Closed"},
	{"by", Line, "", "By"},
	{"symptoms", Words, terms.Symptom, "Symptoms"},
	{"absent", Words, terms.Symptom, "Asked and absent"},
	{"before", Words, terms.Before, "Beforehand"},
	{"hazards", Words, terms.Hazard, "Hazards"},
	{"cause.fault", Word, terms.Fault, "Fault"},
	{"cause.at", Word, terms.Place, "Place"},
	{"cause.origin", Word, terms.Origin, "Brought about by"},
	{"outcome", Word, terms.Outcome, "Outcome"},
	{"barrier", Word, terms.Barrier, "Given up because"},
	{"confirmed", Line, "", "Proved by"},
	{"minutes.diagnosis", Whole, "", "Minutes of diagnosis"},
	{"minutes.repair", Whole, "", "Minutes of repair"},
	{"cost.parts", Money, "", "Cost of parts"},
	{"cost.charged", Money, "", "Charged"},
	{"fasteners.out", Whole, "", "Fasteners out"},
	{"fasteners.in", Whole, "", "Fasteners back in"},
	{"fasteners.reason", Line, "", "Why they differ"},
	{"returns", Line, "", "Comeback of"},
	{"followed", Date, "", "Known to work until"},
	{"photos", Pictures, "", "Pictures"},
	{"tags", Labels, "", "Tags"},
	{"source.standard", Line, "", ""},
	{"source.id", Line, "", ""},
	{"source.provider", Prose, "", ""},
	{"source.country", Prose, "", ""},
	{"source.partner-category", Prose, "", ""},
	{"source.category", Prose, "", ""},
	{"source.category-id", Prose, "", ""},
	{"source.brand", Prose, "", ""},
	{"source.year", Prose, "", ""},
	{"source.age", Prose, "", ""},
	{"source.status", Prose, "", ""},
	{"source.barrier", Prose, "", ""},
	{"source.group", Prose, "", ""},
	{"source.event-date", Prose, "", ""},
	{"source.record-date", Prose, "", ""},
	{"source.problem", Prose, "", ""},
	{"source.empty", Labels, "", ""},
	{"source.guessed", Labels, "", ""},
	{"source.licence", Line, "", ""},
	{"source.credit", Line, "", ""},
}

// intakeKey is the mapping that [Intake] hangs on.
var intakeKey = []string{privateWord, "intake"}

// Intake is what is taken down when a device is handed over. It hangs on the key
// private:, so it stays in the file; only who writes the case sees it, and [Case] has
// no place for it.
var Intake = []Field{
	{"private.intake.condition", Prose, "", "Condition"},
	{"private.intake.accessories", Prose, "", "Accessories"},
	{"private.intake.data", Prose, "", "Data on the device"},
	{"private.intake.words", Prose, "", "The owner’s words"},
}

// FieldAt returns the field with the path, of [Fields] or [Intake].
func FieldAt(path string) (Field, bool) {
	for _, list := range [][]Field{Fields, Intake} {
		if i := slices.IndexFunc(list, func(f Field) bool { return f.Path == path }); i >= 0 {
			return list[i], true
		}
	}
	return Field{}, false
}

// Key is the top-level key that the field hangs on.
func (f Field) Key() string {
	head, _, _ := strings.Cut(f.Path, ".")
	return head
}

// List reports whether the field's value is a list of words.
func (f Field) List() bool { return f.Kind == Words || f.Kind == Labels }

// keyOrder is the order in which the top-level keys of a case are written.
var keyOrder = func() (keys []string) {
	for _, f := range Fields {
		if !slices.Contains(keys, f.Key()) {
			keys = append(keys, f.Key())
		}
	}
	return keys
}()

// Value returns a leaf as text: a list with commas between, "" for what is not
// there, a number as it is written.
func (f *File) Value(path string) string {
	n := f.tree()
	for step := range strings.SplitSeq(path, ".") {
		if n = child(n, step); n == nil {
			return ""
		}
	}
	return textOf(n)
}

func textOf(n *yaml.Node) string {
	switch n.Kind {
	case yaml.ScalarNode:
		if n.ShortTag() == "!!null" {
			return ""
		}
		return n.Value
	case yaml.SequenceNode:
		var words []string
		for _, c := range n.Content {
			words = append(words, textOf(c))
		}
		return strings.Join(words, ", ")
	}
	return ""
}

// nodeOf is the YAML of a value of [Case], in the order of its fields, without
// what is not said: empty texts and lists, and numbers that are nil.
func nodeOf(v reflect.Value) *yaml.Node {
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() {
			return nil
		}
		return nodeOf(v.Elem())
	case reflect.String:
		if v.Len() == 0 {
			return nil
		}
	case reflect.Slice:
		if v.Len() == 0 {
			return nil
		}
		list := &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq"}
		for i := range v.Len() {
			list.Content = append(list.Content, nodeOf(v.Index(i)))
		}
		return list
	case reflect.Struct:
		if d, ok := v.Interface().(Device); ok && d.ID != "" {
			return nodeOf(reflect.ValueOf(d.ID))
		}
		m := &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map"}
		for i := range v.NumField() {
			key := v.Type().Field(i).Tag.Get("yaml")
			if key == "" || key == "-" {
				continue
			}
			if value := nodeOf(v.Field(i)); value != nil {
				m.Content = append(m.Content, nodeOf(reflect.ValueOf(key)), value)
			}
		}
		if len(m.Content) == 0 {
			return nil
		}
		return m
	}
	var n yaml.Node
	if n.Encode(v.Interface()) != nil {
		return nil
	}
	return &n
}

// Text returns a leaf of a case as [File.Value] does; numbers are written the
// shortest way.
func (c *Case) Text(path string) string {
	n := nodeOf(reflect.ValueOf(c).Elem())
	for step := range strings.SplitSeq(path, ".") {
		if n = child(n, step); n == nil {
			return ""
		}
	}
	return textOf(n)
}
