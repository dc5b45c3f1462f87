package notebook

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"benchlore/build/disk"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// Draft is a case about to be written. Words are as people type them; [Notebook.Write]
// turns them into terms.
type Draft struct {
	Case     casefile.Case
	Sections []casefile.SectionText
}

// ErrProblems is returned by [Notebook.Write] together with the problems that
// stopped it.
var ErrProblems = errors.New("the case would not pass check")

// SectionsFrom splits what somebody typed into sections: Markdown with
// second-level headings is taken as it is, other text becomes the Symptom.
func SectionsFrom(text string) []casefile.SectionText {
	text = strings.TrimSpace(strings.ReplaceAll(text, "\r\n", "\n"))
	if text == "" {
		return nil
	}
	if !strings.HasPrefix(text, "## ") {
		return []casefile.SectionText{{Name: "Symptom", Text: text}}
	}
	var out []casefile.SectionText
	fence := ""
	for _, line := range strings.Split(text, "\n") {
		trimmed := strings.TrimSpace(line)
		if strings.HasPrefix(trimmed, "```") || strings.HasPrefix(trimmed, "~~~") {
			if fence == "" {
				fence = trimmed[:3]
			} else if strings.HasPrefix(trimmed, fence) {
				fence = ""
			}
		}
		if name, ok := strings.CutPrefix(line, "## "); ok && fence == "" {
			out = append(out, casefile.SectionText{Name: strings.TrimSpace(name)})
			continue
		}
		last := &out[len(out)-1]
		last.Text += line + "\n"
	}
	for i := range out {
		out[i].Text = strings.Trim(out[i].Text, "\n")
	}
	return out
}

// Template returns the sections that a case begins with: the given ones, and
// empty tables for the others, ready to be filled in.
func Template(given []casefile.SectionText) []casefile.SectionText {
	var out []casefile.SectionText
	for _, name := range casefile.SectionOrder {
		i := slices.IndexFunc(given, func(s casefile.SectionText) bool { return strings.EqualFold(s.Name, name) })
		if i >= 0 {
			out = append(out, casefile.SectionText{Name: name, Text: given[i].Text})
		} else if slices.Contains(casefile.SectionNames, name) {
			out = append(out, casefile.SectionText{Name: name, Text: casefile.Blank(name)})
		}
	}
	for _, s := range given {
		if !slices.ContainsFunc(casefile.SectionOrder, func(name string) bool { return strings.EqualFold(name, s.Name) }) {
			out = append(out, s)
		}
	}
	return out
}

// Unsettled is the error about a word that means no one term: none, or several. Near
// are the nearest by meaning, the likeliest first, or those that it may mean.
type Unsettled struct {
	Word    string
	Class   terms.Class
	Near    []*terms.Term
	Several bool
}

// Error names the word and the nearest terms in one line; `benchlore terms` lists all.
func (u *Unsettled) Error() string {
	var near []string
	for _, t := range u.Near {
		near = append(near, t.ID)
	}
	switch {
	case u.Several:
		return fmt.Sprintf("%q may mean %s; write one of them", u.Word, strings.Join(near, " or "))
	case len(near) == 0:
		return fmt.Sprintf("%q is not a known %s; `benchlore terms %s` lists them", u.Word, u.Class.Singular(), u.Class)
	case len(near) == 1:
		return fmt.Sprintf("%q is not a known %s%s", u.Word, u.Class.Singular(), diagnostic.DidYouMean(near[0]))
	}
	return fmt.Sprintf("%q is not a known %s%s (or %s)", u.Word, u.Class.Singular(), diagnostic.DidYouMean(near[0]), strings.Join(near[1:], ", "))
}

// FindTerm turns plain words into the one term of a class that they mean; the error is
// an [*Unsettled] where they mean none or several.
func (n *Notebook) FindTerm(c terms.Class, word string) (*terms.Term, error) {
	if t, ok := n.Terms.Resolve(c, word); ok {
		return t, nil
	}
	var found []*terms.Term
	for _, m := range n.Terms.Recognise(c, word) {
		if !slices.Contains(found, m.Term) {
			found = append(found, m.Term)
		}
	}
	switch len(found) {
	case 0:
		return nil, &Unsettled{Word: word, Class: c, Near: n.Terms.Suggest(c, word)}
	case 1:
		return found[0], nil
	}
	return nil, &Unsettled{Word: word, Class: c, Near: found, Several: true}
}

// FindTerms turns plain words into terms of a class: an exact word first, then
// what the text means. The error is an [*Unsettled] for a word that means none.
func (n *Notebook) FindTerms(c terms.Class, words []string) (ids []string, err error) {
	for _, w := range words {
		t, ok := n.Terms.Resolve(c, w)
		if ok {
			ids = append(ids, t.ID)
			continue
		}
		found := n.Terms.Recognise(c, w)
		if len(found) == 0 {
			return nil, &Unsettled{Word: w, Class: c, Near: n.Terms.Suggest(c, w)}
		}
		for _, m := range found {
			ids = append(ids, m.Term.ID)
		}
	}
	slices.Sort(ids)
	return slices.Compact(ids), nil
}

// Write gives the draft the next free id of its year and writes its file. When
// the file would not pass check, nothing is written and the problems are
// returned with [ErrProblems]. An existing file is never overwritten.
func (n *Notebook) Write(d Draft) (path string, problems []diagnostic.Diagnostic, err error) {
	opened, ok := casefile.Day(d.Case.Opened)
	if !ok {
		return "", nil, fmt.Errorf("opened is a day as YYYY-MM-DD, not %q", d.Case.Opened)
	}
	for skip := range 100 {
		free := n.nextID(opened.Year(), skip)
		leave := disk.Folder(n.Dir).Enter()
		release, taken, err := n.reserve(free)
		leave()
		if err != nil {
			return "", nil, err
		}
		if taken || n.nextID(opened.Year(), skip) != free {
			release() // somebody else took the number a moment ago
			continue
		}
		defer release()
		d.Case.ID = free
		path = CasePath(d.Case.ID, d.Case.Opened, d.Case.Title)
		data, err := casefile.Compose(&d.Case, Template(d.Sections))
		if err != nil {
			return "", nil, err
		}
		data = n.fill(path, data)
		problems, err := n.try(path, data)
		if err != nil {
			return "", problems, err
		}
		leave = disk.Folder(n.Dir).Enter()
		if n.nextID(opened.Year(), skip) != free {
			leave()
			continue // a file of that number came from elsewhere while this one was tried
		}
		defer leave()
		return path, problems, disk.Folder(n.Dir).Create(filepath.ToSlash(path), data)
	}
	return "", nil, errors.New("no free case id could be had")
}

// staleAfter is when the reservation of an id is given up.
const staleAfter = 10 * time.Minute

// reserve takes a case id for this process, so that two writers with different
// titles never get one number.
func (n *Notebook) reserve(id string) (release func(), taken bool, err error) {
	name := ".benchlore/taken/" + id
	folder := disk.Folder(n.Dir)
	err = folder.Create(name, nil)
	if errors.Is(err, fs.ErrExist) {
		// A writer that was killed left it; nobody takes minutes over writing one file.
		info, statErr := os.Lstat(filepath.Join(n.Dir, filepath.FromSlash(name)))
		if statErr != nil || time.Since(info.ModTime()).Abs() < staleAfter { // a clock set back counts as well
			return func() {}, true, nil
		}
		if err := folder.Remove(name); err != nil {
			return func() {}, true, nil
		}
		if err = folder.Create(name, nil); errors.Is(err, fs.ErrExist) {
			return func() {}, true, nil
		}
	}
	return func() { _ = folder.Remove(name) }, false, err
}

// fill completes the Parts table of a case that is about to be written.
func (n *Notebook) fill(path string, data []byte) []byte {
	f := casefile.Read(path, data)
	if f == nil {
		return data
	}
	next, _ := n.FillParts(f, path)
	return next.Bytes()
}

// try checks a case as if it stood in the notebook.
func (n *Notebook) try(path string, data []byte) ([]diagnostic.Diagnostic, error) {
	list := n.Check(path, data)
	if diagnostic.Count(list, diagnostic.Error) > 0 {
		return list, ErrProblems
	}
	return list, nil
}

// Check applies the rules of one case, and those between it and the rest of the
// notebook, to bytes as if they stood in its file.
func (n *Notebook) Check(path string, data []byte) []diagnostic.Diagnostic {
	name := filepath.ToSlash(filepath.Join(n.Dir, path))
	public, problem := openly(name, data)
	if problem != nil {
		return []diagnostic.Diagnostic{*problem}
	}
	f, list := casefile.Parse(name, public)
	if f != nil {
		f, _ = f.Release(n.Config.Site.Sections)
		list = append(list, f.Check(n.Terms, n.Config.PersonalData.Allow)...)
		l := n.beside()
		c := &Case{File: f, Path: path, Hash: sha256.Sum256(data)}
		l.resolveDevice(c, slices.Sorted(maps.Keys(n.devices)))
		l.checkReturn(c, nil)
		if root, err := os.OpenRoot(n.Dir); err == nil {
			l.root = root
			entries, _ := disk.ReadDir(root, c.PhotoDir())
			for _, e := range entries {
				l.photos[c.PhotoDir()] = append(l.photos[c.PhotoDir()], e.Name())
			}
			l.checkPhotos(c)
			l.checkPictures(c)
			root.Close()
		}
		l.checkMentions(c, sync.OnceValue(n.forms))
		l.checkBoard(c)
		list = append(list, l.n.Problems...)
	}
	diagnostic.Sort(list)
	return list
}

// beside is a loader that knows the notebook and changes nothing of it.
func (n *Notebook) beside() *loader {
	return &loader{dir: n.Dir, n: &Notebook{Dir: n.Dir, Terms: n.Terms, byID: n.byID, Cases: n.Cases, unread: n.unread,
		devices: maps.Clone(n.devices)}, photos: map[string][]string{}, elsewhere: map[diagnostic.Rule]int{}}
}

// With returns a case of the notebook with another text; the notebook stays as
// it is.
func (n *Notebook) With(c *Case, f *casefile.File) *Case {
	public, err := casefile.Public(f.Bytes())
	if err != nil {
		f = c.File // in doubt nothing of the new text is shown
	} else if !bytes.Equal(public, f.Bytes()) {
		if blanked := casefile.Read(f.Text.Name, public); blanked != nil {
			f = blanked
		} else {
			f = c.File
		}
	}
	f, _ = f.Release(n.Config.Site.Sections)
	next := &Case{File: f, Path: c.Path, Hash: sha256.Sum256(f.Bytes())}
	n.beside().resolveDevice(next, nil)
	return next
}

// Whole reads a case's file with what is private in it.
func (n *Notebook) Whole(c *Case) (*casefile.File, error) {
	root, err := os.OpenRoot(n.Dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	src, err := disk.Ordinary(root, c.Path, casefile.MaxSize)
	if err != nil {
		return nil, err
	}
	f, list := casefile.Parse(c.Path, src)
	if f == nil {
		return nil, fmt.Errorf("%s", list[len(list)-1])
	}
	return f, nil
}
