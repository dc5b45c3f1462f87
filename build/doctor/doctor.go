// Package doctor looks at a notebook and at what it is used with, and says what is
// wrong and how to mend it. It changes nothing.
package doctor

import (
	"bufio"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"benchlore/build/disk"
	"benchlore/build/learn/practice"
	"benchlore/build/notebook"
	"benchlore/build/output/picture"
	"benchlore/build/output/wording"
	"benchlore/build/reason/rules"
	"benchlore/build/reason/search"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/language"
)

// State is how a thing that was looked at is.
type State string

// The states.
const (
	Good  State = "good"
	Worth State = "worth a look"
	Wrong State = "wrong"
)

// Finding is one thing that was looked at.
type Finding struct {
	What  string `json:"what"`
	State State  `json:"state"`
	Says  string `json:"says"`
	Mend  string `json:"mend,omitempty"` // what to do about it, empty where nothing is
}

// Wrongs counts the findings that are wrong.
func Wrongs(list []Finding) int {
	n := 0
	for _, f := range list {
		if f.State == Wrong {
			n++
		}
	}
	return n
}

const (
	longOpen  = 90 // days after which an open case is named
	named     = 3  // things of a sort that are named, the others are counted
	photoSize = 8 << 20
)

// Examine looks at the notebook that was loaded from its folder, on a day.
func Examine(n *notebook.Notebook, today time.Time) []Finding {
	var out []Finding
	add := func(what string, state State, mend, says string, args ...any) {
		out = append(out, Finding{what, state, fmt.Sprintf(says, args...), mend})
	}
	if err := n.Exists(); err != nil {
		add("notebook", Wrong, "benchlore start DIR begins one; benchlore demo shows one", "%v", errors.Unwrap(err))
		return out
	}
	add("notebook", Good, "", "%s, %s, %s of the first weeks", number(len(n.Cases), "case"),
		number(len(n.Devices), "device"), number(len(n.Pages), "page"))
	files(rules.Of(n), add)
	languages(n, add)
	folder(n, add)
	index(n, add)
	if len(n.Config.Meter) == 0 {
		add("meter", Worth, "write the accuracy from its leaflet into notebook.yaml under meter",
			"notebook.yaml does not say how accurate the meter is, so no reading is ever too close to call")
	} else {
		add("meter", Good, "", "accuracy known for %s", strings.Join(slices.Sorted(maps.Keys(n.Config.Meter)), ", "))
	}
	ofCases(n, today, add)
	photos(n, add)
	git(n, add)
	return out
}

type adder func(what string, state State, mend, says string, args ...any)

func files(problems []diagnostic.Diagnostic, add adder) {
	errs, warns := diagnostic.Count(problems, diagnostic.Error), diagnostic.Count(problems, diagnostic.Warning)
	if errs+warns == 0 {
		add("files", Good, "", "every file can be read and keeps the rules")
		return
	}
	var some []string
	for _, p := range problems {
		if p.Severity == diagnostic.Error && len(some) < named {
			some = append(some, fmt.Sprintf("%s:%d: %s", p.File, p.Line, p.Message))
		}
	}
	if errs > 0 {
		add("files", Wrong, "benchlore check names each with its line and what would be right",
			"%s and %s; first: %s", number(errs, "error"), number(warns, "warning"), strings.Join(some, "; "))
		return
	}
	add("files", Worth, "benchlore check names each", "%s, no error", number(warns, "warning"))
}

func languages(n *notebook.Notebook, add adder) {
	tag := n.Config.Language
	base, _, _ := strings.Cut(strings.ToLower(tag), "-")
	switch {
	case tag == "":
		add("language", Worth, "write language: en, or yours, into notebook.yaml", "notebook.yaml names no language; English is taken")
	case !slices.Contains(language.Tags(), language.Of(tag).Tag):
		add("language", Worth, "search finds words only as they are written; "+strings.Join(language.Tags(), ", ")+
			" are stemmed", "words of %q cannot be stemmed", tag)
	case !slices.Contains(wording.Languages(), base):
		add("language", Worth, "the pages speak "+strings.Join(wording.Languages(), ", "),
			"search stems %q; the pages themselves are in English", tag)
	default:
		add("language", Good, "", "%s, for the pages and for search", tag)
	}
}

// folder looks at what the program keeps for itself.
func folder(n *notebook.Notebook, add adder) {
	_ = disk.Folder(n.Dir).MoveKept()
	home := filepath.Join(n.Dir, ".benchlore")
	if err := os.MkdirAll(home, 0o755); err != nil {
		add("folder", Wrong, "give yourself the right to write there, or copy the notebook", "%s cannot be written to: %v", n.Dir, err)
		return
	}
	probe, err := os.CreateTemp(home, ".probe-*")
	if err != nil {
		add("folder", Wrong, "give yourself the right to write there, or copy the notebook", "%s cannot be written to: %v", home, err)
		return
	}
	probe.Close()
	os.Remove(probe.Name())
	kept, _ := filepath.Glob(filepath.Join(n.Dir, disk.Kept, "journal", "*"))
	kept = slices.DeleteFunc(kept, func(p string) bool { return strings.HasPrefix(filepath.Base(p), ".") })
	if len(kept) > 0 {
		add("kept text", Worth, "benchlore bench offers it; choose what to do with it there",
			"%d texts were kept when something ended while they were written", len(kept))
	}
	add("folder", Good, "", "can be written to; .benchlore may be deleted at any time; kept/ holds earlier versions and is kept")
}

func index(n *notebook.Notebook, add adder) {
	ix, err := search.Open(n)
	if err != nil {
		add("search index", Wrong, "delete .benchlore/index; it is made again", "%v", err)
		return
	}
	defer ix.Close()
	if ix.Rebuilt {
		add("search index", Good, "", "was damaged or of another version and has been made again, %d cases", ix.Kept+ix.Indexed)
		return
	}
	add("search index", Good, "", "up to date, %d cases", ix.Kept+ix.Indexed)
}

func ofCases(n *notebook.Notebook, today time.Time, add adder) {
	var old, later []string
	for _, c := range n.Cases {
		k := &c.File.Case
		opened, ok := casefile.Day(k.Opened)
		if ok && k.Open() && today.Sub(opened) > longOpen*24*time.Hour {
			old = append(old, c.ID())
		}
		if ok && opened.Sub(today) > 36*time.Hour {
			later = append(later, c.ID())
		}
	}
	if len(old) > 0 {
		add("open cases", Worth, "close them, or say in them what they wait for", "%s open for more than %d days", list(old), longOpen)
	}
	if len(later) > 0 {
		add("clock", Worth, "set this machine's clock, or the dates of the cases", "%s lie after today, %s",
			list(later), today.Format(time.DateOnly))
	}
	book := practice.New(n, nil, nil)
	closed, fit := len(practice.Closed(n)), len(book.Entries())
	state, mend := Good, ""
	if closed > 0 && fit == 0 {
		state, mend = Worth, "benchlore check --teach says what each case lacks"
	}
	add("practice", state, mend, "%d of %d closed cases are fit to be worked through blind", fit, closed)
}

func number(n int, word string) string {
	if n != 1 {
		word += "s"
	}
	return fmt.Sprintf("%d %s", n, word)
}

func list(ids []string) string {
	if len(ids) <= named {
		return strings.Join(ids, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(ids[:named], ", "), len(ids)-named)
}

// photos looks for pictures that no case names, and for very large ones.
func photos(n *notebook.Notebook, add adder) {
	wanted := map[string]bool{}
	for _, c := range n.Cases {
		for _, p := range c.File.Case.Photos {
			wanted[path.Join(c.PhotoDir(), p.File)] = true
		}
	}
	var lone, large []string
	root := os.DirFS(n.Dir)
	_ = fs.WalkDir(root, "cases", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || picture.MediaType(name) == "" {
			return nil
		}
		if !wanted[name] {
			lone = append(lone, name)
		}
		if info, err := e.Info(); err == nil && info.Size() > photoSize {
			large = append(large, name)
		}
		return nil
	})
	if len(lone) > 0 {
		add("pictures", Worth, "name them under photos in their case, or delete them", "no case shows %s", list(lone))
	}
	if len(large) > 0 {
		add("pictures", Worth, "pictures taken in through benchlore bench are made smaller", "%s larger than %d MB",
			list(large), photoSize>>20)
	}
	if len(lone)+len(large) == 0 {
		add("pictures", Good, "", "%d, each shown by its case", len(wanted))
	}
}

// git looks whether derived files are kept out of a repository.
func git(n *notebook.Notebook, add adder) {
	if _, err := os.Stat(filepath.Join(n.Dir, ".git")); err != nil {
		add("history", Worth, "git init keeps every version; a copy on another disk is the least",
			"the folder is under no version control, so its only earlier versions are those of the writing pages")
		return
	}
	f, err := disk.Open(filepath.Join(n.Dir, ".gitignore"))
	if err == nil {
		defer f.Close()
		for s := bufio.NewScanner(f); s.Scan(); {
			if strings.Trim(strings.TrimSpace(s.Text()), "/") == ".benchlore" {
				add("history", Good, "", "under git, without what can be made again")
				return
			}
		}
	}
	add("history", Worth, "write .benchlore/ into .gitignore", "git would keep .benchlore, which can be made again")
}
