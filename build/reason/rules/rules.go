// Package rules gathers what every rule of check says of a notebook, from the packages that
// know: files and their links, parts and readings, points on photographs, methods. Whoever
// asks whether a notebook is sound asks here, so that no command passes over a rule.
package rules

import (
	"errors"
	"path/filepath"
	"slices"

	"benchlore/build/notebook"
	"benchlore/build/reason/boards"
	"benchlore/build/reason/method"
	"benchlore/build/reason/verdict"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
)

// Of is what all rules say of a notebook, in the order of its files.
func Of(n *notebook.Notebook) []diagnostic.Diagnostic {
	out := slices.Concat(n.Problems, verdict.New(n).Problems(), boards.PhotoProblems(n), methods(n))
	diagnostic.Sort(out)
	return out
}

// OfCase is what the rules about a case say of it as f has it; judge is the notebook's.
func OfCase(n *notebook.Notebook, judge *verdict.Judge, c *notebook.Case, f *casefile.File) []diagnostic.Diagnostic {
	out := append(n.Check(c.Path, f.Bytes()), judge.Of(n.With(c, f))...)
	diagnostic.Sort(out)
	return out
}

// methods are what is wrong with the notebook's own methods; reading stops at the first.
func methods(n *notebook.Notebook) []diagnostic.Diagnostic {
	var bad *method.Error
	if _, err := method.Of(n.Dir, n.Terms); !errors.As(err, &bad) {
		return nil
	}
	return []diagnostic.Diagnostic{{File: filepath.ToSlash(filepath.Join(n.Dir, bad.File)), Line: bad.Line, Column: 1,
		Severity: diagnostic.Error, Rule: diagnostic.WrongValue, Message: bad.Message}}
}
