package erase

import (
	"bytes"
	"encoding/json"
	"fmt"
	"path"
	"reflect"
	"slices"
	"strings"

	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// What a file means to the program must be what it meant: a case stays a case with the same
// keys, words, sections and rows, what was private stays private, and check says nothing
// that it did not say before. A judge tells that of a text and the one that would stand in
// its place.
type judge func(after []byte) bool

func anything([]byte) bool { return true }

// judgeOf gives the judge for a file as it is now.
func (e *eraser) judgeOf(name string, before []byte) judge {
	switch e.sortOf(name) {
	case caseFile:
		return e.judgeCase(name, before)
	case deviceFile:
		return e.judgeDevice(name, before)
	case pageFile:
		p, list := casefile.ParsePage(name, before, e.n.Config.PersonalData.Allow)
		if p == nil {
			return anything
		}
		had := said(list)
		return func(after []byte) bool {
			next, list := casefile.ParsePage(name, after, e.n.Config.PersonalData.Allow)
			return next != nil && had.hold(list) && staysPrivate(before, after) && sameShape(p.Values, next.Values)
		}
	case yamlFile:
		doc, list := casefile.ParseYAML(name, before, nil)
		if doc == nil {
			return anything
		}
		had := said(list)
		return func(after []byte) bool {
			next, list := casefile.ParseYAML(name, after, nil)
			return next != nil && had.hold(list) && staysPrivate(before, after) && sameShape(doc.Values, next.Values) &&
				e.sameWords(doc.Values, next.Values, "")
		}
	}
	return anything
}

// sort is what a file is to the program.
type sort int

const (
	otherFile sort = iota
	caseFile
	deviceFile
	pageFile
	yamlFile
	jsonFile
)

func (e *eraser) sortOf(name string) sort {
	top, rest, _ := strings.Cut(name, "/")
	if top == ".benchlore" {
		top = keptDir
	}
	switch {
	case path.Ext(name) == ".json":
		return jsonFile
	case path.Ext(name) == ".md" && (top == "cases" || top == keptDir && (strings.HasPrefix(rest, "history/") || strings.HasPrefix(rest, "exchanged/") || strings.HasPrefix(rest, "journal/"))):
		return caseFile
	case path.Ext(name) == ".md" && top == "devices":
		return deviceFile
	case path.Ext(name) == ".md" && top == "path":
		return pageFile
	case path.Ext(name) == ".yaml":
		return yamlFile
	}
	return otherFile
}

// spoken are diagnostics by what they are about, counted: words of messages may change.
type spoken map[string]int

func said(list ...[]diagnostic.Diagnostic) spoken {
	out := spoken{}
	for _, d := range slices.Concat(list...) {
		out[keyOf(d)]++
	}
	return out
}

func keyOf(d diagnostic.Diagnostic) string { return fmt.Sprint(d.Line, d.Severity, d.Rule) }

// hold reports whether a list says nothing beyond.
func (s spoken) hold(list []diagnostic.Diagnostic) bool {
	for k, n := range said(list) {
		if n > s[k] {
			return false
		}
	}
	return true
}

// check applies to a case's text all rules that there are for it where it lies.
func (e *eraser) check(name string, text []byte) []diagnostic.Diagnostic {
	if strings.HasPrefix(name, "cases/") {
		return e.n.Check(name, text)
	}
	f, list := casefile.Parse(name, text)
	if f != nil {
		list = append(list, f.Check(e.n.Terms, e.n.Config.PersonalData.Allow)...)
	}
	return list
}

func (e *eraser) judgeCase(name string, before []byte) judge {
	f, _ := casefile.Parse(name, before)
	if f == nil {
		return anything
	}
	had, was := said(e.check(name, before)), shapeOf(f)
	return func(after []byte) bool {
		next, _ := casefile.Parse(name, after)
		return next != nil && reflect.DeepEqual(was, shapeOf(next)) && sameShape(f.Values, next.Values) &&
			staysPrivate(before, after) && had.hold(e.check(name, after))
	}
}

func (e *eraser) judgeDevice(name string, before []byte) judge {
	f, list := casefile.ParseDevice(name, before)
	if f == nil {
		return anything
	}
	allow := e.n.Config.PersonalData.Allow
	had := said(list, f.Check(e.n.Terms, allow))
	return func(after []byte) bool {
		next, list := casefile.ParseDevice(name, after)
		return next != nil && next.Device.ID == f.Device.ID && next.Device.Kind == f.Device.Kind &&
			slices.Equal(next.Device.Hazards, f.Device.Hazards) && sameShape(f.Values, next.Values) &&
			staysPrivate(before, after) && had.hold(append(list, next.Check(e.n.Terms, allow)...))
	}
}

// shape is what of a case must stay: controlled words, numbers, days, which sections are
// computed on and how many rows they have.
type shape struct {
	Words    map[string]string
	Sections []string
	Rows     []string
}

func shapeOf(f *casefile.File) (s shape) {
	s.Words = map[string]string{}
	for _, x := range casefile.Fields {
		switch x.Kind {
		case casefile.Prose, casefile.Labels:
			continue
		case casefile.Line:
			if !slices.Contains([]string{"case", "from", "returns", "source.standard"}, x.Path) {
				continue
			}
		}
		s.Words[x.Path] = f.Value(x.Path)
	}
	c := &f.Case
	s.Words["device"] = c.Device.ID
	for i, p := range c.Photos {
		s.Words[fmt.Sprint("photos ", i)] = p.File + "\x00" + p.Compare + "\x00" + p.Side
	}
	for _, x := range c.Sections {
		name := x.Name
		if !slices.Contains(casefile.SectionNames, name) && !slices.Contains(casefile.WorkSections, name) {
			name = "" // its own heading may change
		}
		s.Sections = append(s.Sections, name)
	}
	for _, r := range c.Findings {
		s.Rows = append(s.Rows, fmt.Sprint("finding ", r.Result, r.When, r.Minutes, len(r.Extra)))
	}
	for _, r := range c.Measurements {
		s.Rows = append(s.Rows, fmt.Sprint("measurement ", r.When, len(r.Extra)))
	}
	for _, r := range c.Parts {
		s.Rows = append(s.Rows, fmt.Sprint("part ", r.Action, r.When, len(r.Extra)))
	}
	for _, r := range c.Work {
		s.Rows = append(s.Rows, fmt.Sprint("work ", r.Section))
	}
	return s
}

// sameShape reports whether two values have the same keys, and lists as long.
func sameShape(a, b any) bool {
	switch x := a.(type) {
	case map[string]any:
		y, ok := b.(map[string]any)
		if !ok || len(x) != len(y) {
			return false
		}
		for k, v := range x {
			w, there := y[k]
			if !there || !sameShape(v, w) {
				return false
			}
		}
		return true
	case []any:
		y, ok := b.([]any)
		return ok && slices.EqualFunc(x, y, sameShape)
	}
	switch b.(type) {
	case map[string]any, []any:
		return false
	}
	return true
}

// sameWords reports whether values that other files go by are as they were: ids, and
// words of the vocabulary.
func (e *eraser) sameWords(a, b any, key string) bool {
	switch x := a.(type) {
	case map[string]any:
		for k, v := range x {
			if !e.sameWords(v, b.(map[string]any)[k], k) {
				return false
			}
		}
	case []any:
		for i, v := range x {
			if !e.sameWords(v, b.([]any)[i], key) {
				return false
			}
		}
	case string:
		if x == b {
			return true
		}
		if key == "id" || key == "language" || key == "country" || key == "currency" || key == "off" {
			return false
		}
		for _, c := range terms.Classes {
			if _, ok := e.n.Terms.Lookup(c, x); ok {
				return false
			}
		}
	}
	return true
}

// staysPrivate reports whether no line that nobody but its writer saw is seen afterwards.
func staysPrivate(before, after []byte) bool {
	was, err := casefile.Public(before)
	if err != nil {
		return true // nothing of it is shown
	}
	is, err := casefile.Public(after)
	if err != nil {
		return false
	}
	hidden := func(whole, public []byte) bool { return len(bytes.TrimSpace(public)) < len(bytes.TrimSpace(whole)) }
	a, b := bytes.Split(before, []byte("\n")), bytes.Split(was, []byte("\n"))
	c, d := bytes.Split(after, []byte("\n")), bytes.Split(is, []byte("\n"))
	if len(a) != len(b) || len(c) != len(d) || len(a) != len(c) {
		return false
	}
	for i := range a {
		if hidden(a[i], b[i]) != hidden(c[i], d[i]) {
			return false
		}
	}
	return true
}

// inJSON replaces texts within the values of JSON; keys stay.
func inJSON(src []byte, change func(text []byte) []byte) []byte {
	if !json.Valid(src) {
		return change(src)
	}
	var out []byte
	for i := 0; i < len(src); {
		if src[i] != '"' {
			out = append(out, src[i])
			i++
			continue
		}
		j := i + 1
		for src[j] != '"' {
			if src[j] == '\\' {
				j++
			}
			j++
		}
		literal := src[i : j+1]
		i = j + 1
		rest := bytes.TrimLeft(src[i:], " \t\r\n")
		var text string
		if bytes.HasPrefix(rest, []byte(":")) || json.Unmarshal(literal, &text) != nil {
			out = append(out, literal...)
			continue
		}
		next := change([]byte(text))
		if string(next) == text {
			out = append(out, literal...)
			continue
		}
		encoded, err := json.Marshal(string(next))
		if err != nil {
			encoded = literal
		}
		out = append(out, encoded...)
	}
	return out
}
