package casefile

import (
	"fmt"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchlore/schema/diagnostic"
	"benchlore/schema/privacy"
	"benchlore/schema/quantity"
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
	if said, _ := f.Values["confirmed"].(string); c.Source == nil && terms.IsWording(terms.NoProof, said) { // what is no text has been named
		warn(diagnostic.NoProof, fmt.Sprintf("confirmed says how it was proved, and %q says no more than that it was or was not; write what was done and for how long, as in: an hour on full power, no fault",
			c.Confirmed), "confirmed")
	}
	list = append(list, f.checkWhen(v)...)
	list = append(list, f.checkMeasured(v)...)
	list = append(list, f.checkMinutes()...)
	list = append(list, f.checkSymptom()...)
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

// unknownTerm names a word that is none of its class, with the nearest one where few were
// named before: to look for it costs as much as a page of text.
func (d *Document) unknownTerm(v *terms.Vocabulary, c terms.Class, word string, before int, path ...string) []diagnostic.Diagnostic {
	if word == "" || before > maxProblems {
		return nil
	}
	if _, ok := v.Lookup(c, word); ok {
		return nil
	}
	out := d.Say(diagnostic.Error, diagnostic.UnknownTerm, fmt.Sprintf("%q is not a known %s", word, c.Singular()), path...)
	if before < MostSuggested {
		out.Suggestion = v.Nearest(c, word)
	}
	if out.Suggestion == "" {
		out.Message += fmt.Sprintf("; see `benchlore terms %s`, or define it in terms/", c)
	}
	return []diagnostic.Diagnostic{out}
}

func (f *File) checkTerms(v *terms.Vocabulary) (list []diagnostic.Diagnostic) {
	for _, x := range Fields {
		switch path := strings.Split(x.Path, "."); {
		case x.Class == "", x.Class == terms.Origin, x.Class == terms.Outcome, x.Class == terms.Barrier: // the schema names these
		case x.Kind == Words:
			if words := child(f.tree(), x.Path); words != nil {
				for i, w := range words.Content {
					list = append(list, f.unknownTerm(v, x.Class, w.Value, len(list), x.Path, strconv.Itoa(i))...)
				}
			}
		default:
			list = append(list, f.unknownTerm(v, x.Class, f.Value(x.Path), len(list), path...)...)
		}
	}
	c := &f.Case
	named := map[string]bool{}
	for _, s := range c.Symptoms {
		named[s] = true
	}
	for i, s := range c.Absent {
		if named[s] && len(list) <= maxProblems {
			list = append(list, f.Say(diagnostic.Error, diagnostic.WrongValue,
				fmt.Sprintf("%q is named both as a symptom and as absent", s), "absent", strconv.Itoa(i)))
		}
	}
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
	list = slices.Concat(f.checkDay("opened", c.Opened), f.checkDay("closed", c.Closed), f.checkDay("followed", c.Followed))
	order(c.Opened, c.Closed, "opened", "closed")
	if c.Closed != "" {
		order(c.Closed, c.Followed, "closed", "followed")
	} else {
		order(c.Opened, c.Followed, "opened", "followed")
	}
	return list
}

// today is the day that dates are held against.
var today = time.Now

// firstYear is the year before which no case of a notebook was opened.
const firstYear = 1950

// checkDay names days that cannot be: more than one ahead, for clocks and time
// zones, or long before anybody kept a notebook.
func (f *File) checkDay(key, day string) []diagnostic.Diagnostic {
	d, ok := Day(day)
	switch {
	case !ok:
	case d.After(today().AddDate(0, 0, 2)):
		ahead := fmt.Sprintf("%s (%s) lies ahead of today, %s", key, day, today().Format(time.DateOnly))
		if d.Before(today().AddDate(0, 6, 0)) { // the year is probably right
			return []diagnostic.Diagnostic{f.Say(diagnostic.Warning, diagnostic.DateOrder, ahead+"; are day and month right?", key)}
		}
		out := f.Say(diagnostic.Warning, diagnostic.DateOrder, ahead+"; is the year right?", key)
		for _, year := range []int{today().Year(), today().Year() - 1} { // the latest such day that was
			near := fmt.Sprintf("%04d%s", year, day[4:])
			if past, ok := Day(near); ok && !past.After(today()) {
				out.Suggestion = near
				break
			}
		}
		return []diagnostic.Diagnostic{out}
	case d.Year() < firstYear:
		return []diagnostic.Diagnostic{f.Say(diagnostic.Warning, diagnostic.DateOrder,
			fmt.Sprintf("%s (%s) is long ago; is the year right?", key, day), key)}
	}
	return nil
}

// checkSymptom asks for what the owner said.
func (f *File) checkSymptom() []diagnostic.Diagnostic {
	c := &f.Case
	at := slices.IndexFunc(c.Sections, func(s Section) bool { return s.Name == "Symptom" })
	switch {
	case c.Source != nil:
	case at < 0:
		return []diagnostic.Diagnostic{f.Say(diagnostic.Warning, diagnostic.NoSymptom,
			`there is no section "## Symptom": what the owner said, what the bench saw, how to provoke it`, "title")}
	case !c.Open() && strings.TrimSpace(f.Section("Symptom")) == "":
		start := c.Sections[at].heading
		return []diagnostic.Diagnostic{f.Text.At(start, start+len("Symptom"), diagnostic.Warning,
			diagnostic.NoSymptom, "the section Symptom of a closed case is empty; say what the owner said and the bench saw")}
	}
	return nil
}

// checkWhen names rows of a repaired case that find nothing wrong where the
// cause was: most likely they were taken after the repair.
func (f *File) checkWhen(v *terms.Vocabulary) (list []diagnostic.Diagnostic) {
	c := &f.Case
	if c.Open() || c.Cause == nil || c.Outcome != "fixed" {
		return nil
	}
	const say = "; if it was taken after the repair, write after in a column when, else before"
	place := v.Name(terms.Place, c.Cause.At)
	found := len(c.Findings) // what stands above a row that shows the fault was taken before it
	for found > 0 && !slices.ContainsFunc(c.Findings[found-1:], func(r Finding) bool { return r.Result == "fault" }) {
		found--
	}
	for i := found; i < len(c.Findings); i++ {
		row := &c.Findings[i]
		if row.Result != "clear" || row.When != "" {
			continue
		}
		if slices.ContainsFunc(v.Named(terms.Place, row.Check), func(m terms.Match) bool { return m.Term.ID == c.Cause.At }) {
			list = append(list, f.cellProblem(row.at, "check", diagnostic.Warning, diagnostic.TakenAfter,
				"this finds nothing wrong at the place of the cause (%s)%s", place, say))
		}
	}
	bad := map[string]bool{}
	for i := range c.Measurements {
		row := &c.Measurements[i]
		key := strings.ToLower(row.Point + "\x00" + row.What + "\x00" + row.State)
		switch verdict := row.Verdict(v); {
		case row.When == After:
		case verdict.Bad():
			bad[key] = true
		case verdict == quantity.In && bad[key] && row.When == "":
			list = append(list, f.cellProblem(row.at, "point", diagnostic.Warning, diagnostic.TakenAfter,
				"the same reading was wrong in a row above%s", say))
		}
	}
	return list
}

// checkPersonal scans the whole file, since all of it is published.
func (d *Document) checkPersonal(allow []string) []diagnostic.Diagnostic {
	return Personal(d.Text, 0, len(d.Text.Bytes), allow)
}

// Personal names what in a part of a text looks like a customer's personal data,
// other than what the notebook allows.
func Personal(text *diagnostic.Text, start, stop int, allow []string) (list []diagnostic.Diagnostic) {
	for _, found := range privacy.Scan(text.Bytes[start:stop]) {
		if len(list) > maxProblems {
			break // counted as one more by [Most]
		}
		from, to := start+found.Start, start+found.Stop
		if slices.Contains(allow, string(text.Bytes[from:to])) {
			continue
		}
		list = append(list, text.At(from, to, diagnostic.Error, diagnostic.PersonalData,
			fmt.Sprintf("this may be a customer's %s; take it out or move it under private: or a heading Private, which are never published, or list it under personal-data: allow: in notebook.yaml if it is not", found.Kind)))
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
			fmt.Sprintf("%d fasteners came out and %d went back in; look for the rest, or add reason: with why",
				n.Out, *n.In), "fasteners", "in")}
	}
	return nil
}
