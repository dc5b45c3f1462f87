package casefile

import (
	"fmt"
	"path"
	"slices"
	"strconv"
	"strings"

	"benchlore/schema/diagnostic"
	"benchlore/schema/privacy"
	"benchlore/schema/terms"
)

// Check applies the rules that one case file can be judged by: controlled
// words, the order of dates, what a closed case must say, the file's name, and
// personal data. Allow lists exact texts that are known not to be personal.
func (f *File) Check(v *terms.Vocabulary, allow []string) []diagnostic.Diagnostic {
	c := &f.Case
	var list []diagnostic.Diagnostic
	list = append(list, f.checkTerms(v)...)
	list = append(list, f.checkDates()...)
	warn := func(rule diagnostic.Rule, message string, path ...string) {
		list = append(list, f.Say(diagnostic.Warning, rule, message, path...))
	}
	if !c.Open() && c.Source == nil {
		if c.Cause == nil && c.Outcome != "unknown" {
			warn(diagnostic.NoCause, "a closed case says its cause; with none found, use fault: not-found", "closed")
		}
		if len(c.Symptoms) == 0 {
			list = append(list, f.Say(diagnostic.Error, diagnostic.NoSymptom, "a closed case names at least one symptom", "closed"))
		}
		if c.Outcome == "fixed" && c.Confirmed == "" {
			warn(diagnostic.NoProof, "fixed, but not said how that was proved; add confirmed:", "outcome")
		}
	}
	list = append(list, f.checkFasteners()...)
	base := path.Base(strings.ReplaceAll(f.Text.Name, "\\", "/"))
	if c.ID != "" && !nameBegins(strings.TrimSuffix(base, ".md"), c.ID) {
		list = append(list, f.Say(diagnostic.Error, diagnostic.FileName,
			fmt.Sprintf("the file is called %q; its name must begin with the case's id, as in %q", base, c.ID+"-short-title.md"), "case"))
	}
	return append(list, f.checkPersonal(allow)...)
}

// nameBegins reports whether a file name is the id or begins with id and hyphen.
func nameBegins(name, id string) bool { return name == id || strings.HasPrefix(name, id+"-") }

func (d *Document) unknownTerm(v *terms.Vocabulary, c terms.Class, word string, path ...string) []diagnostic.Diagnostic {
	if word == "" {
		return nil
	}
	if _, ok := v.Lookup(c, word); ok {
		return nil
	}
	out := d.Say(diagnostic.Error, diagnostic.UnknownTerm, fmt.Sprintf("%q is not a known %s", word, c.Singular()), path...)
	out.Suggestion = v.Nearest(c, word)
	if out.Suggestion == "" {
		out.Message += fmt.Sprintf("; see `benchlore terms %s`, or define it in terms/", c)
	}
	return []diagnostic.Diagnostic{out}
}

// ListClass has the keys of a case whose value is a list of terms, with the class
// of the terms.
var ListClass = map[string]terms.Class{"symptoms": terms.Symptom, "absent": terms.Symptom, "before": terms.Before, "hazards": terms.Hazard}

func (f *File) checkTerms(v *terms.Vocabulary) (list []diagnostic.Diagnostic) {
	c := &f.Case
	each := func(key string, words []string) {
		for i, w := range words {
			list = append(list, f.unknownTerm(v, ListClass[key], w, key, strconv.Itoa(i))...)
		}
	}
	each("symptoms", c.Symptoms)
	each("absent", c.Absent)
	each("before", c.Before)
	each("hazards", c.Hazards)
	for i, s := range c.Absent {
		if slices.Contains(c.Symptoms, s) {
			list = append(list, f.Say(diagnostic.Error, diagnostic.WrongValue,
				fmt.Sprintf("%q is named both as a symptom and as absent", s), "absent", strconv.Itoa(i)))
		}
	}
	if c.Cause != nil {
		list = append(list, f.unknownTerm(v, terms.Fault, c.Cause.Fault, "cause", "fault")...)
		list = append(list, f.unknownTerm(v, terms.Place, c.Cause.At, "cause", "at")...)
	}
	list = append(list, f.unknownTerm(v, terms.Kind, c.Device.Kind, "device", "kind")...)
	return list
}

func (f *File) checkDates() (list []diagnostic.Diagnostic) {
	c := &f.Case
	order := func(early, late, earlyName, lateName string) {
		a, okA := Day(early)
		b, okB := Day(late)
		if okA && okB && b.Before(a) {
			list = append(list, f.Say(diagnostic.Error, diagnostic.DateOrder,
				fmt.Sprintf("%s (%s) lies before %s (%s)", lateName, late, earlyName, early), lateName))
		}
	}
	order(c.Opened, c.Closed, "opened", "closed")
	if c.Closed != "" {
		order(c.Closed, c.Followed, "closed", "followed")
	} else {
		order(c.Opened, c.Followed, "opened", "followed")
	}
	return list
}

// checkPersonal scans the whole file, since all of it is published.
func (d *Document) checkPersonal(allow []string) (list []diagnostic.Diagnostic) {
	for _, found := range privacy.Scan(d.Text.Bytes) {
		text := string(d.Text.Bytes[found.Start:found.Stop])
		if slices.Contains(allow, text) {
			continue
		}
		list = append(list, d.Text.At(found.Start, found.Stop, diagnostic.Error, diagnostic.PersonalData,
			fmt.Sprintf("this may be a customer's %s; take it out, or list it under personal-data: allow: in notebook.yaml if it is not", found.Kind)))
	}
	return list
}

// checkFasteners compares what came out with what went back in.
func (f *File) checkFasteners() []diagnostic.Diagnostic {
	n := f.Case.Fasteners
	switch {
	case n == nil:
	case n.In == nil && !f.Case.Open():
		return []diagnostic.Diagnostic{f.Say(diagnostic.Error, diagnostic.FastenerCount,
			fmt.Sprintf("%d fasteners came out and the case is closed; say how many went back in, as in {out: %d, in: %d}", n.Out, n.Out, n.Out), "fasteners", "out")}
	case n.In != nil && *n.In != n.Out && strings.TrimSpace(n.Reason) == "":
		return []diagnostic.Diagnostic{f.Say(diagnostic.Error, diagnostic.FastenerCount,
			fmt.Sprintf("%d fasteners came out and %d went back in; look for the rest, or add reason: with why", n.Out, *n.In), "fasteners", "in")}
	}
	return nil
}
