// Package schema holds the published JSON Schemas (draft 2020-12) of case,
// device, page and notebook files and validates decoded YAML against them.
//
// The schemas are the single source of what front matter may hold. What a
// schema cannot say is a named rule in casefile or notebook.
package schema

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/santhosh-tekuri/jsonschema/v6/kind"
	"golang.org/x/text/language"
	"golang.org/x/text/message"

	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// The schemas as published, byte for byte.
var (
	//go:embed case.schema.json
	CaseJSON []byte
	//go:embed device.schema.json
	DeviceJSON []byte
	//go:embed notebook.schema.json
	NotebookJSON []byte
	//go:embed page.schema.json
	PageJSON []byte
)

// Schema is a compiled JSON Schema.
type Schema struct{ compiled *jsonschema.Schema }

// The compiled schemas. Finding, Measurement and Part describe table rows.
var (
	Case        = compile("case.schema.json", CaseJSON, "")
	Device      = compile("device.schema.json", DeviceJSON, "")
	Notebook    = compile("notebook.schema.json", NotebookJSON, "")
	Page        = compile("page.schema.json", PageJSON, "")
	Finding     = compile("case.schema.json", CaseJSON, "#/$defs/finding")
	Measurement = compile("case.schema.json", CaseJSON, "#/$defs/measurement")
	Part        = compile("case.schema.json", CaseJSON, "#/$defs/part")
)

func compile(name string, src []byte, fragment string) func() *Schema {
	return sync.OnceValue(func() *Schema {
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(src))
		if err != nil {
			panic(fmt.Sprintf("%s: %v", name, err)) // our own file, checked by a test
		}
		c := jsonschema.NewCompiler()
		c.AssertFormat()
		if err := c.AddResource(name, doc); err != nil {
			panic(err)
		}
		return &Schema{c.MustCompile(name + fragment)}
	})
}

// Problem is one breach of a schema.
type Problem struct {
	// Path leads from the document's root to the value, in keys and indexes.
	Path []string
	// Key is the offending key inside the mapping at Path, when the key and
	// not the value is wrong.
	Key        string
	Rule       diagnostic.Rule
	Message    string
	Suggestion string
}

var printer = message.NewPrinter(language.English)

// Validate returns every breach, in the order of the paths. The document is
// made of map[string]any, []any, string, bool, float64, json.Number and nil.
func (s *Schema) Validate(doc any) []Problem {
	err := s.compiled.Validate(doc)
	var broken *jsonschema.ValidationError
	if !errors.As(err, &broken) {
		return nil
	}
	var list []Problem
	collect(broken, doc, &list)
	slices.SortStableFunc(list, func(a, b Problem) int { return slices.Compare(a.Path, b.Path) })
	return slices.CompactFunc(list, func(a, b Problem) bool {
		return slices.Equal(a.Path, b.Path) && a.Key == b.Key && a.Message == b.Message
	})
}

// collect walks to the leaves, which say what is wrong; inner nodes only say
// that something below them is.
func collect(e *jsonschema.ValidationError, doc any, list *[]Problem) {
	if _, ok := e.ErrorKind.(*kind.OneOf); ok {
		// Report the branch of the value's own type: a mapping is judged as the
		// mapping form, anything else as the word form.
		for _, c := range e.Causes {
			if !typeMismatchAtRoot(c, e.InstanceLocation) {
				collect(c, doc, list)
				return
			}
		}
		*list = append(*list, Problem{Path: e.InstanceLocation, Rule: diagnostic.WrongType,
			Message: "is neither of the forms that are allowed here" + describe(e)})
		return
	}
	if len(e.Causes) > 0 {
		for _, c := range e.Causes {
			collect(c, doc, list)
		}
		return
	}
	p := Problem{Path: e.InstanceLocation, Rule: diagnostic.WrongValue}
	what := describe(e)
	switch k := e.ErrorKind.(type) {
	case *kind.AdditionalProperties:
		known := properties(e)
		for _, key := range k.Properties {
			q := p
			q.Key, q.Rule = key, diagnostic.UnknownKey
			q.Message = fmt.Sprintf("%q is not a known key", key)
			q.Suggestion = terms.Nearest(key, known)
			*list = append(*list, q)
		}
		return
	case *kind.Required:
		p.Rule = diagnostic.MissingKey
		p.Message = fmt.Sprintf("%s missing: %s", plural(len(k.Missing), "key is", "keys are"), strings.Join(k.Missing, ", "))
	case *kind.Type:
		p.Rule = diagnostic.WrongType
		p.Message = fmt.Sprintf("is %s where %s belongs%s", kindName(k.Got), kindName(strings.Join(k.Want, " or ")), what)
		if shape := shapeOf(e); shape != "" {
			p.Message += "; write " + p.Path[len(p.Path)-1] + ": " + shape
		}
	case *kind.Enum:
		var want []string
		for _, w := range k.Want {
			if word := fmt.Sprint(w); word != "" {
				want = append(want, word)
			}
		}
		p.Message = fmt.Sprintf("%q is not one of %s", fmt.Sprint(k.Got), strings.Join(want, ", "))
		p.Suggestion = terms.Nearest(fmt.Sprint(k.Got), want)
	case *kind.Const:
		p.Message = fmt.Sprintf("must be %v here", k.Want)
	case *kind.Pattern:
		p.Message = fmt.Sprintf("%q has the wrong form%s", short(k.Got), what)
	case *kind.Format:
		p.Message = fmt.Sprintf("%q is not %s%s", short(fmt.Sprint(k.Got)), article("valid "+k.Want), what)
	case *kind.UniqueItems:
		p.Message = fmt.Sprintf("entries %d and %d are the same", k.Duplicates[0]+1, k.Duplicates[1]+1)
	case *kind.MinLength:
		p.Message = "is empty" + what
	case *kind.MaxLength:
		p.Message = fmt.Sprintf("has %d characters; at most %d are allowed", k.Got, k.Want)
	default:
		p.Message = e.ErrorKind.LocalizedString(printer) + what
	}
	*list = append(*list, p)
}

// kindName is what people call the types of JSON Schema.
func kindName(k string) string {
	switch k {
	case "object":
		return "a mapping"
	case "array":
		return "a list"
	case "string":
		return "a text"
	case "null":
		return "nothing"
	case "integer":
		return "a whole number"
	}
	return article(k)
}

// shapeOf shows the form of a mapping or list with its keys, required ones first;
// "" for other values and those of the whole file.
func shapeOf(e *jsonschema.ValidationError) string {
	s := descriptions()[e.SchemaURL]
	if s == nil || len(e.InstanceLocation) == 0 {
		return ""
	}
	switch {
	case len(s.Properties) > 0:
		keys := slices.Clone(s.Required)
		if len(keys) == 0 {
			keys = slices.Sorted(maps.Keys(s.Properties))
		}
		for i := range keys {
			keys[i] += ": …"
		}
		return "{" + strings.Join(keys, ", ") + "}"
	case s.Items2020 != nil || s.Items != nil:
		return "[…, …]"
	}
	return ""
}

func typeMismatchAtRoot(e *jsonschema.ValidationError, at []string) bool {
	if k, ok := e.ErrorKind.(*kind.Type); ok && slices.Equal(e.InstanceLocation, at) && k != nil {
		return true
	}
	return len(e.Causes) == 1 && typeMismatchAtRoot(e.Causes[0], at)
}

// describe returns the schema's own description of the value, as a hint.
func describe(e *jsonschema.ValidationError) string {
	s := descriptions()[e.SchemaURL]
	if s == nil || s.Description == "" {
		return ""
	}
	return " (" + strings.ToLower(s.Description[:1]) + s.Description[1:] + ")"
}

// descriptions indexes the compiled schemas by their location, for hints.
var descriptions = sync.OnceValue(func() map[string]*jsonschema.Schema {
	m := map[string]*jsonschema.Schema{}
	var walk func(s *jsonschema.Schema)
	walk = func(s *jsonschema.Schema) {
		if s == nil || m[s.Location] != nil {
			return
		}
		m[s.Location] = s
		walk(s.Ref)
		for _, p := range s.Properties {
			walk(p)
		}
		for _, p := range s.OneOf {
			walk(p)
		}
		walk(s.Items2020)
		if p, ok := s.AdditionalProperties.(*jsonschema.Schema); ok {
			walk(p)
		}
	}
	for _, s := range []func() *Schema{Case, Device, Notebook, Finding, Measurement, Part} {
		walk(s().compiled)
	}
	return m
})

func properties(e *jsonschema.ValidationError) []string {
	var names []string
	if s := descriptions()[e.SchemaURL]; s != nil {
		for name := range s.Properties {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

func article(noun string) string {
	if strings.ContainsRune("aeiou", rune(noun[0])) {
		return "an " + noun
	}
	return "a " + noun
}

func short(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return s
}
