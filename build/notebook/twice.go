package notebook

import (
	"cmp"
	"fmt"
	"path"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"time"

	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
)

// besides gives what is wrong with a second file of a case that is not wrong with the first
// as well. The name of a copy is not: the copy goes.
func besides(list, first []diagnostic.Diagnostic, copied bool) (out []diagnostic.Diagnostic) {
	for _, d := range list {
		if !(copied && d.Rule == diagnostic.FileName) && !slices.ContainsFunc(first, func(o diagnostic.Diagnostic) bool {
			return o.Rule == d.Rule && o.Message == d.Message
		}) {
			out = append(out, d)
		}
	}
	return out
}

// stem is a file's name without folder and ending.
func stem(c *Case) string { return strings.TrimSuffix(path.Base(c.Path), ".md") }

// copied reports whether a file's name says that it is a copy of another.
func copied(of, c *Case) bool { return strings.Contains(stem(c), stem(of)) }

// original picks the one among files of one id, in the order of their paths, that is the
// case: one whose name begins with the id, and whose whole name the most others contain, since whatever makes a copy adds
// to the name and does so in any language ("… (copy)", "…-conflict-…", "… 2"); else the
// first.
func original(files []*Case) int {
	best, most := 0, -1
	for i, c := range files {
		within := 0
		for k, o := range files {
			if k != i && stem(o) != stem(c) && copied(c, o) {
				within++
			}
		}
		if strings.HasPrefix(stem(c), c.ID()) {
			within += len(files)
		}
		if within > most {
			best, most = i, within
		}
	}
	return best
}

// twice is the one error about a second file of a case: both files, how they differ, and
// what to do.
func (l *loader) twice(first, second *Case) diagnostic.Diagnostic {
	both := fmt.Sprintf("%s and %s are both case %s", second.Path, first.Path, second.ID())
	if first.ID() != second.ID() {
		both = fmt.Sprintf("%s (case %s) and %s (case %s) have one id but for capitals", second.Path, second.ID(), first.Path, first.ID())
	}
	newer := l.newer(first, second)
	var message string
	switch differ := differences(first, second); {
	case first.Hash == second.Hash:
		message = fmt.Sprintf("%s, equal byte for byte; delete %s", both, second.Path)
	case strangers(first, second):
		opened, _ := casefile.Day(second.File.Case.Opened)
		message = fmt.Sprintf("%s and look like two repairs (%s%s); give the second the next free number, %s, under case:, in the file's name and in that of its folder of pictures",
			both, differ, newer, l.n.nextID(cmp.Or(max(opened.Year(), 0), time.Now().Year()), 0))
	default:
		message = fmt.Sprintf("%s: %s%s; a sync leaves such copies. Take into %s what only the other has, then delete %s",
			both, differ, newer, first.Path, second.Path)
	}
	return second.Say(diagnostic.Error, diagnostic.IDTwice, message, "case")
}

// strangers reports whether two files of one id tell of different repairs: two machines
// that could not see each other took the same number. A copy keeps its title or its name.
func strangers(a, b *Case) bool {
	return a.File.Case.Title != b.File.Case.Title && !copied(a, b) && !copied(b, a)
}

// newer says which of two files was changed later, nothing where that is not certain: file
// systems of sticks keep times to two seconds.
func (l *loader) newer(first, second *Case) string {
	a, errA := l.root.Stat(filepath.FromSlash(first.Path))
	b, errB := l.root.Stat(filepath.FromSlash(second.Path))
	if errA != nil || errB != nil || a.ModTime().Sub(b.ModTime()).Abs() <= 2*time.Second {
		return ""
	}
	late, at := second, b.ModTime()
	if a.ModTime().After(at) {
		late, at = first, a.ModTime()
	}
	return fmt.Sprintf("; %s was changed later, %s", path.Base(late.Path), at.UTC().Format("2006-01-02 15:04 MST"))
}

// most is how many differences are named.
const mostDifferences = 6

// differences says in a line in which keys and sections two files differ, with the number
// of rows that only one of them has.
func differences(first, second *Case) string {
	var list []string
	keys := map[string]bool{}
	for _, c := range []*Case{first, second} {
		for k := range c.Values {
			keys[k] = true
		}
	}
	for k := range keys {
		if !reflect.DeepEqual(first.Values[k], second.Values[k]) {
			list = append(list, k+":")
		}
	}
	slices.Sort(list)
	var names []string
	for _, c := range []*Case{first, second} {
		for _, s := range c.File.Case.Sections {
			if !slices.Contains(names, s.Name) {
				names = append(names, s.Name)
			}
		}
	}
	for _, name := range names {
		a, hasA := sectionOf(first, name)
		b, hasB := sectionOf(second, name)
		shown := cmp.Or(name, "the text above the sections")
		switch {
		case !hasB:
			list = append(list, fmt.Sprintf("%s (only in %s)", shown, path.Base(first.Path)))
		case !hasA:
			list = append(list, fmt.Sprintf("%s (only in %s)", shown, path.Base(second.Path)))
		case strings.TrimSpace(a) != strings.TrimSpace(b):
			onlyA, onlyB := rowsBeyond(a, b), rowsBeyond(b, a)
			if onlyA+onlyB > 0 {
				shown += fmt.Sprintf(" (%s only in %s, %d only in %s)", rows(onlyA), path.Base(first.Path), onlyB, path.Base(second.Path))
			}
			list = append(list, shown)
		}
	}
	switch {
	case len(list) == 0:
		return "they differ in what is private, in comments or in white space"
	case len(list) > mostDifferences:
		list = append(list[:mostDifferences], fmt.Sprintf("%d more", len(list)-mostDifferences))
	}
	return "they differ in " + strings.Join(list, ", ")
}

func rows(n int) string {
	if n == 1 {
		return "1 row"
	}
	return fmt.Sprintf("%d rows", n)
}

func sectionOf(c *Case, name string) (string, bool) {
	for _, s := range c.File.Case.Sections {
		if s.Name == name {
			return string(c.Text.Bytes[s.Start:s.Stop]), true
		}
	}
	return "", false
}

// rowsBeyond counts the rows of tables in a text that another does not have.
func rowsBeyond(text, other string) int {
	have := map[string]int{}
	for _, row := range tableRows(other) {
		have[row]++
	}
	n := 0
	for _, row := range tableRows(text) {
		if have[row] == 0 {
			n++
		} else {
			have[row]--
		}
	}
	return n
}

func tableRows(text string) (list []string) {
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); strings.HasPrefix(line, "|") {
			list = append(list, strings.Join(strings.Fields(line), " "))
		}
	}
	return list
}
