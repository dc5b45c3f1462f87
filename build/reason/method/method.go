// Package method is how a bench goes about a sort of device before it has cases of its
// own: checks in their order with what a good one shows.
//
// [Of] gives the methods of a notebook: those that come with the program, and those of
// its folder method, which take their place for the same kinds. Nothing in them comes
// from cases, and whoever shows one says so.
package method

import (
	"bytes"
	"cmp"
	"embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"

	"benchlore/build/disk"
	"benchlore/schema/terms"
)

// Note stands wherever a method is shown, OwnNote where it is the workshop's.
const (
	Note    = "general method, no cases"
	OwnNote = "this workshop's method, no cases"
)

// Says is the note for a method.
func (m *Method) Says() string {
	if m.Own {
		return OwnNote
	}
	return Note
}

// Enough is the number of a kind's own closed cases from which its method is no longer
// shown first.
const Enough = 20

// Method is the order of checks for some kinds of device.
type Method struct {
	ID      string   `yaml:"id" json:"id"`
	Name    string   `yaml:"name" json:"name"`
	Kinds   []string `yaml:"kinds" json:"kinds"` // ids; none for any other device
	Hazards []string `yaml:"hazards" json:"hazards"`
	// Refer says what is not done at a bench, and who does it.
	Refer string `yaml:"refer" json:"refer,omitempty"`
	Steps []Step `yaml:"steps" json:"steps"`
	Own   bool   `yaml:"-" json:"own"` // of the workshop itself
}

// Step is one check.
type Step struct {
	Check   string  `yaml:"check" json:"check"`
	Expect  string  `yaml:"expect" json:"expect"` // what a good one shows
	Minutes float64 `yaml:"minutes" json:"minutes"`
	// Power is [Off] or [On]; empty where a workshop does not say.
	Power  string   `yaml:"power" json:"power,omitempty"`
	Finds  []string `yaml:"finds" json:"finds"` // in words
	Causes []Cause  `yaml:"causes" json:"causes,omitempty"`
}

// A step is made on a device that is unplugged, discharged and without its cells, or on
// one that has power in any way.
const (
	Off = "off"
	On  = "on"
)

// Cause is what a step finds, a fault at a place, as ids: fuse-open@mains-input.
type Cause string

// Parts returns the fault and the place.
func (c Cause) Parts() (fault, at string) {
	fault, at, _ = strings.Cut(string(c), "@")
	return fault, at
}

// Error is a mistake in a workshop's own method.
type Error struct {
	File    string // inside the notebook
	Line    int
	Message string // what is wrong, and what would be right
}

func (e *Error) Error() string { return fmt.Sprintf("%s:%d: %s", e.File, e.Line, e.Message) }

//go:embed general*.yaml
var general embed.FS

// inLanguage are the general methods in a language, in English where they are not
// translated.
var inLanguage sync.Map // tag -> func() []Method

func builtin(tag string) []Method {
	once, _ := inLanguage.LoadOrStore(tag, sync.OnceValue(func() []Method { return translated(tag) }))
	return once.(func() []Method)()
}

func read(name string) []Method {
	src, err := general.ReadFile(name)
	if err != nil {
		return nil // not translated into it
	}
	list, err := parse(src, name)
	if err != nil {
		panic(err) // the file is ours
	}
	return list
}

// translated puts the texts of a language in place of the English ones, method by method
// and step by step.
func translated(tag string) []Method {
	list := read("general.yaml")
	for _, m := range read("general." + tag + ".yaml") {
		at := slices.IndexFunc(list, func(x Method) bool { return x.ID == m.ID })
		if at < 0 || len(list[at].Steps) != len(m.Steps) {
			panic("general." + tag + ".yaml: " + m.ID + " has other steps than general.yaml")
		}
		list[at].Name, list[at].Refer = m.Name, m.Refer
		for i := range m.Steps {
			s := &list[at].Steps[i]
			s.Check, s.Expect, s.Finds = m.Steps[i].Check, m.Steps[i].Expect, m.Steps[i].Finds
		}
	}
	return list
}

// why is what is wrong with a file, without its name.
func why(err error) string {
	if at := (*fs.PathError)(nil); errors.As(err, &at) {
		return at.Err.Error()
	}
	return err.Error()
}

const (
	maxFile  = 256 << 10
	maxFiles = 100
	folder   = "method"
)

// Of gives the methods of a notebook folder; ours come where a workshop has none for
// the kind. The error names file, line, and what would be right.
func Of(dir string, v *terms.Vocabulary) ([]Method, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return builtin(v.Language().Tag), nil
	}
	defer root.Close()
	entries, err := disk.ReadDir(root, folder)
	if errors.Is(err, fs.ErrNotExist) {
		return builtin(v.Language().Tag), nil
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", folder, err)
	}
	var own []Method
	for _, e := range entries[:min(maxFiles, len(entries))] {
		if e.IsDir() || !strings.HasSuffix(e.Name(), ".yaml") {
			continue
		}
		name := path.Join(folder, e.Name())
		src, err := disk.Ordinary(root, name, maxFile)
		if err != nil {
			return nil, &Error{name, 1, why(err)}
		}
		list, err := parse(src, name)
		if err != nil {
			return nil, err
		}
		for _, m := range list {
			for _, k := range m.Kinds {
				if _, ok := v.Lookup(terms.Kind, k); !ok {
					return nil, &Error{name, lineOf(src, m.ID, k),
						fmt.Sprintf("%q of the method %q is not a known kind of device; the nearest is %q", k, m.ID,
							v.Nearest(terms.Kind, k))}
				}
			}
			for _, h := range m.Hazards {
				if _, ok := v.Lookup(terms.Hazard, h); !ok {
					return nil, &Error{name, lineOf(src, m.ID, h),
						fmt.Sprintf("%q of the method %q is not a known hazard; the nearest is %q", h, m.ID, v.Nearest(terms.Hazard, h))}
				}
			}
			for _, s := range m.Steps {
				for _, c := range s.Causes {
					if err := known(c, v); err != nil {
						return nil, &Error{name, lineOf(src, m.ID, s.Check, string(c)), fmt.Sprintf("%q in the step %q of the method %q: %v", string(c), s.Check, m.ID, err)}
					}
				}
			}
			m.Own = true
			own = append(own, m)
		}
	}
	return append(own, builtin(v.Language().Tag)...), nil
}

// known says what is wrong with a cause.
func known(c Cause, v *terms.Vocabulary) error {
	fault, at := c.Parts()
	if at == "" {
		return errors.New("a cause is a fault, @, and a place, as fuse-open@mains-input")
	}
	if _, ok := v.Lookup(terms.Fault, fault); !ok {
		return fmt.Errorf("%q is not a known fault; the nearest is %q", fault, v.Nearest(terms.Fault, fault))
	}
	if _, ok := v.Lookup(terms.Place, at); !ok {
		return fmt.Errorf("%q is not a known place; the nearest is %q", at, v.Nearest(terms.Place, at))
	}
	return nil
}

// For returns the method for a kind of device: the first that names it or else the nearest
// wider kind, else the one that names none; nil where there is neither.
func For(list []Method, v *terms.Vocabulary, kind string) *Method {
	at := -1
	for _, k := range v.Widened(kind) {
		if at < 0 {
			at = slices.IndexFunc(list, func(m Method) bool { return slices.Contains(m.Kinds, k) })
		}
	}
	if at < 0 {
		at = slices.IndexFunc(list, func(m Method) bool { return len(m.Kinds) == 0 })
	}
	if at < 0 {
		return nil
	}
	return &list[at]
}

var (
	atLine  = regexp.MustCompile(`line (\d+): (.*)`)
	unknown = regexp.MustCompile(`field (\S+) not found in type .*`)
)

// said gives the first thing that the YAML library says in our words, with its line.
func said(err error) (line int, text string) {
	m := atLine.FindStringSubmatch(err.Error())
	if m == nil {
		return 1, strings.TrimPrefix(err.Error(), "yaml: ")
	}
	line, _ = strconv.Atoi(m[1])
	return line, unknown.ReplaceAllString(m[2], `"$1" is not a key here`)
}

// lineOf gives the line of the last of some words, each looked for from where the one
// before it stands.
func lineOf(src []byte, words ...string) int {
	at := 0
	for _, w := range words {
		if i := bytes.Index(src[at:], []byte(w)); i > 0 {
			at += i
		}
	}
	return 1 + bytes.Count(src[:at], []byte("\n"))
}

func parse(src []byte, name string) ([]Method, error) {
	var list []Method
	dec := yaml.NewDecoder(bytes.NewReader(src))
	dec.KnownFields(true)
	if err := dec.Decode(&list); err != nil && !errors.Is(err, io.EOF) {
		line, text := said(err)
		return nil, &Error{name, line, text +
			"; a method is a list of - {id, name, kinds, hazards, steps}, a step {check, expect, minutes, power, finds, causes}"}
	}
	for i, m := range list {
		if m.ID == "" || m.Name == "" || len(m.Steps) == 0 {
			return nil, &Error{name, lineOf(src, cmp.Or(m.ID, m.Name)), fmt.Sprintf("method %d needs id, name and steps", i+1)}
		}
		for j, s := range m.Steps {
			if texts := strings.HasPrefix(name, "general.") && name != "general.yaml"; strings.TrimSpace(s.Check) == "" || !texts && (s.Minutes <= 0 || s.Minutes > 1000) {
				return nil, &Error{name, lineOf(src, m.ID, s.Check), fmt.Sprintf("step %d of the method %q needs a check and its minutes, 1 to 1000", j+1, m.ID)}
			}
			if s.Power != "" && s.Power != Off && s.Power != On {
				return nil, &Error{name, lineOf(src, m.ID, s.Check, s.Power), fmt.Sprintf("power of the step %q is off or on, not %q", s.Check, s.Power)}
			}
		}
	}
	return list, nil
}
