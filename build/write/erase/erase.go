// Package erase takes out of a notebook what a customer wants out: a text, what is private
// of a case, pictures, or a whole case, out of the case file and of all that is kept of it:
// earlier versions, the journal, answers that were not finished, originals of pictures.
//
// [New] looks and changes nothing; its [Plan] says what would be changed, what stays and
// why, what stands elsewhere, and what was not looked into. [Plan.Do] changes it. Whatever
// was done already is not found again, so that one that was broken off is finished by
// running it again. What it displaces it deliberately keeps nowhere.
package erase

import (
	"bytes"
	"cmp"
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
	"unicode"
	"unicode/utf8"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
)

// Wanted is what is to go.
type Wanted struct {
	Texts      []string // each as a reader sees it, whole words
	Parts      bool     // longer words that a text is a part of go too
	Private    bool     // what is private of the case, comments included
	Pictures   []string // files of the case's folder, by their names
	All        bool     // the whole case; nothing else is said then
	Everywhere bool     // in the other files of the notebook too
}

// Options of a look.
type Options struct {
	Word     string    // that stands for what went, "erased" in the notebook's language
	Day      time.Time // that stands beside it
	SiteFile string    // the file by which the folder of a published site is known
	Sites    []string  // folders of published sites that are known already
	SiteList string    // the file in the notebook that knows them; it stays unless it has the text
}

// Why nothing can be erased.
var (
	ErrNoCase   = errors.New("the notebook holds no such case, and nothing is kept of it")
	ErrNoText   = errors.New("a text to erase has a letter or a digit")
	ErrAtWork   = errors.New("somebody is at work in this notebook, and would bring back what is erased: end `benchlore bench` and `benchlore writeup`, close the pages that they opened, then run it again")
	ErrReturned = errors.New("it is named as the earlier case of a comeback")
)

// Plan is what would be changed, or was.
type Plan struct {
	Mark      string // what stands in the place of a text
	Changes   []Change
	Left      []Place // of the case, where the text is what the notebook is read by
	Longer    []Place // of the case, where the text is a part of a longer word
	Elsewhere []Place // in other files, which stay
	Unread    []Unread
	Control   []string // folders of version control in the notebook and above it
	Derived   []string // what is made again, and thrown away
	Sites     []string // published sites that are known
	Missing   []string // of what was wanted, what stands nowhere in the case

	e *eraser
}

// Place is a line of a file that holds a text; 0 where it is the file's name.
type Place struct {
	Path string
	Line int
	Text string
}

// Change is what becomes of a file: its lines, its name, or that it goes.
type Change struct {
	Path    string
	To      string // another name; empty where it keeps its own
	Removed bool
	Lines   []Line

	own bool
}

// Line is a line that changes, by its number before; After is empty where it goes.
type Line struct {
	Number        int
	Before, After string
}

// Kind is why a file was not looked into.
type Kind string

// The kinds of files that hold no text that can be searched.
const (
	Picture Kind = "picture"
	Sound   Kind = "sound"
	Archive Kind = "archive"
	Link    Kind = "link" // or a pipe
	Other   Kind = "other"
)

// Unread is a file that was not looked into.
type Unread struct {
	Path string
	Kind Kind
	Own  bool // it is the case's own
}

// Nothing reports whether there is nothing to change.
func (p *Plan) Nothing() bool { return len(p.Changes) == 0 }

const (
	keptDir    = disk.Kept
	derivedDir = ".benchlore"
	// maxRead is the largest file that is looked into, in bytes.
	maxRead = 64 << 20
)

type eraser struct {
	n      *notebook.Notebook
	folder disk.Folder
	id     string
	want   Wanted
	o      Options

	written [][]pattern // of each text, and as it is spelled without letters that have marks
	texts   []pattern   // all of those
	spelled [][]pattern // of each text, as names of files spell it
	names   []pattern   // all of those
	files   []pattern   // of the pictures
	itself  []pattern   // the case's number, where the whole case goes
	mark    string
	inNames string // the mark in a file's name

	ids    []string          // of cases, of those too of which only something is kept
	rename map[string]string // names of pictures that hold a text
	before func() error      // asked before each write, for tests
}

// New looks for what is wanted of the case with the id.
func New(n *notebook.Notebook, id string, want Wanted, o Options) (*Plan, error) {
	e := &eraser{n: n, folder: disk.Folder(n.Dir), id: id, want: want, o: o, before: func() error { return nil }}
	if !casefile.ValidID(id) {
		return nil, ErrNoCase
	}
	for _, text := range want.Texts {
		p, ok := newPattern(text)
		if !ok {
			return nil, fmt.Errorf("%w: %q", ErrNoText, text)
		}
		written, spelled := []pattern{p}, []pattern{p}
		if slug, ok := newPattern(strings.ReplaceAll(casefile.Slug(text), "-", " ")); ok {
			spelled = append(spelled, slug)
			if strings.ContainsFunc(text, func(r rune) bool { return r >= utf8.RuneSelf && unicode.IsLetter(r) }) {
				written = spelled
			}
		}
		e.written, e.spelled = append(e.written, written), append(e.spelled, spelled)
		e.texts, e.names = append(e.texts, written...), append(e.names, spelled...)
	}
	for _, name := range want.Pictures {
		p, ok := newPattern(name)
		if !ok {
			return nil, fmt.Errorf("%w: %q", ErrNoText, name)
		}
		p.name = true
		e.files = append(e.files, p)
	}
	if p, ok := newPattern(id); ok && want.All {
		p.name = true
		e.itself = []pattern{p}
	}
	e.mark = "‹" + o.Word + " " + o.Day.Format(time.DateOnly) + "›"
	e.inNames = casefile.Slug(o.Word)
	if len(e.found([]byte(e.mark+" "+e.inNames), e.all(), true)) > 0 {
		e.mark, e.inNames = "‹…›", "x" // else it would be found again
	}
	return e.look()
}

func (e *eraser) all() []pattern { return slices.Concat(e.texts, e.names, e.files) }

// found are the hits of patterns in a text by any reading; with any, also those within
// longer words.
func (e *eraser) found(text []byte, list []pattern, any bool) (out []hit) {
	for r := range readings {
		if len(list) == 0 || !r.calledFor(text) {
			continue
		}
		g := glyphs(text, r)
		for _, p := range list {
			for _, h := range p.find(text, g, e.want.Parts) {
				if any || h.whole {
					out = append(out, h)
				}
			}
		}
	}
	return out
}

// look walks the notebook and works out what becomes of each file.
func (e *eraser) look() (*Plan, error) {
	p := &Plan{Mark: e.mark, Sites: slices.Clone(e.o.Sites), e: e}
	root, err := os.OpenRoot(e.n.Dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	files, err := e.list(root, p)
	if err != nil {
		return nil, err
	}
	e.knowCases(files)
	own := slices.DeleteFunc(slices.Clone(files), func(f file) bool { return !e.own(f.name) })
	if _, ok := e.n.Case(e.id); !ok && !slices.ContainsFunc(own, func(f file) bool { return !ofNobody(f.name) }) &&
		!slices.ContainsFunc(files, func(f file) bool { return path.Base(f.name) == e.id+erasedExt }) {
		return nil, ErrNoCase
	}
	if e.want.All {
		return p, e.lookAll(root, p, files)
	}
	if err := e.nameFiles(root, own); err != nil {
		return nil, err
	}
	seen := make([]bool, len(e.written)+len(e.files))
	for _, f := range files {
		if err := e.lookAt(root, p, f, seen); err != nil {
			return nil, err
		}
	}
	for i, ok := range seen {
		if !ok {
			p.Missing = append(p.Missing, slices.Concat(e.want.Texts, e.want.Pictures)[i])
		}
	}
	p.sort()
	return p, nil
}

func (p *Plan) sort() {
	slices.SortFunc(p.Changes, func(a, b Change) int { return strings.Compare(a.Path, b.Path) })
	slices.Sort(p.Sites)
	p.Sites = slices.Compact(p.Sites)
}

type file struct {
	name    string
	regular bool
}

// list gives the files of the notebook, without those of version control and of published
// sites, and notes what is derived.
func (e *eraser) list(root *os.Root, p *Plan) (out []file, err error) {
	var walk func(dir string) error
	walk = func(dir string) error {
		entries, err := disk.ReadDir(root, dir)
		if err != nil {
			return err
		}
		if dir != "." && slices.ContainsFunc(entries, func(d fs.DirEntry) bool { return d.Name() == e.o.SiteFile }) {
			p.Sites = append(p.Sites, filepath.Join(e.n.Dir, filepath.FromSlash(dir)))
			return nil
		}
		for _, d := range entries {
			name := path.Join(dir, d.Name())
			switch {
			case slices.Contains(controls, d.Name()): // a folder, or the file of a linked working tree
				p.Control = append(p.Control, name)
			case dir == derivedDir && !keepsIn(d) && !e.staysAs(root, name):
				p.Derived = append(p.Derived, name)
			case d.IsDir():
				if err := walk(name); err != nil {
					return err
				}
			case dir == derivedDir: // a lock, or a list of sites
			default:
				out = append(out, file{name, d.Type().IsRegular()})
			}
		}
		return nil
	}
	if err := walk("."); err != nil {
		return nil, err
	}
	// The notebook may be a folder of a larger repository.
	above := ".."
	for dir, err := filepath.Abs(e.n.Dir); err == nil && dir != filepath.Dir(dir); above += "/.." {
		dir = filepath.Dir(dir)
		for _, name := range controls {
			if info, err := os.Lstat(filepath.Join(dir, name)); err == nil && info.IsDir() {
				p.Control = append(p.Control, above+"/"+name)
			}
		}
	}
	return out, nil
}

// controls are the folders in which version control keeps what was.
var controls = []string{".git", ".hg", ".svn"}

// keepsIn reports whether an entry of the folder of what is derived is none: what earlier
// programs kept there, numbers that are taken, and files that hold nothing.
func keepsIn(d fs.DirEntry) bool {
	switch d.Name() {
	case "history", "journal", "drafts", "originals", "taken":
		return true
	}
	info, err := d.Info()
	return err == nil && info.Mode().IsRegular() && info.Size() == 0
}

// staysAs reports whether a file is the list of published sites, and free of the texts.
func (e *eraser) staysAs(root *os.Root, name string) bool {
	if name != e.o.SiteList {
		return false
	}
	src, err := disk.Ordinary(root, name, maxRead)
	return err == nil && len(e.found(src, e.all(), false)) == 0
}

// knowCases gathers the ids by which files are told apart.
func (e *eraser) knowCases(files []file) {
	e.ids = []string{e.id}
	for _, c := range e.n.Cases {
		e.ids = append(e.ids, c.ID())
	}
	for _, f := range files {
		if parts := keptParts(f.name); len(parts) > 2 && parts[0] != "drafts" && casefile.ValidID(parts[1]) {
			e.ids = append(e.ids, parts[1])
		}
	}
	slices.Sort(e.ids)
	e.ids = slices.Compact(e.ids)
}

// keptParts are the steps of a path within what is kept: part, then the case; nil for
// another.
func keptParts(name string) []string {
	parts := strings.Split(name, "/")
	if len(parts) > 2 && (parts[0] == keptDir || parts[0] == derivedDir) {
		return parts[1:]
	}
	return nil
}

// ofNobody reports whether a file holds the answers about a case that is not begun: it may
// be the customer's.
func ofNobody(name string) bool {
	parts := keptParts(name)
	return len(parts) == 2 && parts[0] == "drafts" && !strings.HasPrefix(parts[1], "close-")
}

// own reports whether a file is the case's, or of a case that is not begun.
func (e *eraser) own(name string) bool {
	if c, ok := e.n.Case(e.id); ok && (name == c.Path || strings.HasPrefix(name, c.PhotoDir()+"/")) {
		return true
	}
	if parts := keptParts(name); parts != nil {
		return ofNobody(name) || e.ownerOf(strings.TrimPrefix(parts[1], "close-")) == e.id
	}
	if !strings.HasPrefix(name, "cases/") || strings.HasSuffix(name, erasedExt) {
		return false
	}
	// Another file of that name is an editor's copy, or the case where it cannot be read.
	if slices.ContainsFunc(e.n.Cases, func(c *notebook.Case) bool { return c.Path == name }) {
		return false
	}
	return slices.ContainsFunc(strings.Split(name, "/")[1:], func(part string) bool { return e.ownerOf(strings.TrimLeft(part, ".~#")) == e.id })
}

// ownerOf is the case that the name of a file or folder begins with.
func (e *eraser) ownerOf(name string) (owner string) {
	for _, id := range e.ids {
		rest, ok := strings.CutPrefix(name, id)
		if ok && len(id) > len(owner) && (rest == "" || strings.IndexByte("-._~", rest[0]) >= 0) {
			owner = id
		}
	}
	return owner
}

// text reads a file; kind says why it cannot be searched, where it cannot.
func (e *eraser) text(root *os.Root, f file) (src []byte, kind Kind, err error) {
	if !f.regular {
		return nil, Link, nil
	}
	src, err = disk.Ordinary(root, f.name, maxRead)
	if errors.Is(err, disk.ErrTooLarge) || errors.Is(err, disk.ErrNotOrdinary) || errors.Is(err, fs.ErrPermission) {
		return nil, kindOfFile(f.name), nil
	}
	if err != nil {
		return nil, "", err
	}
	if !utf8.Valid(src) || bytes.IndexByte(src, 0) >= 0 {
		return nil, kindOfFile(f.name), nil
	}
	return src, "", nil
}

var kinds = map[Kind]string{
	Picture: ".jpg .jpeg .png .webp .gif .heic .heif .avif .bmp .tif .tiff ",
	Sound:   ".mp3 .wav .ogg .oga .opus .m4a .aac .flac .webm .mp4 .3gp .amr ",
	Archive: ".zip .gz .tgz .tar .7z .rar .xz .zst ",
}

func kindOfFile(name string) Kind {
	for k, list := range kinds {
		if ext := strings.ToLower(path.Ext(name)); ext != "" && strings.Contains(list, ext+" ") {
			return k
		}
	}
	return Other
}

// lookAt works out what becomes of one file.
func (e *eraser) lookAt(root *os.Root, p *Plan, f file, seen []bool) error {
	own := e.own(f.name)
	src, kind, err := e.text(root, f)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil // it went a moment ago
		}
		return err
	}
	if kind != "" {
		p.Unread = append(p.Unread, Unread{f.name, kind, own})
		if own {
			e.lookAtName(p, f.name, Change{Path: f.name, own: true}, seen)
		} else if len(e.found([]byte(path.Base(f.name)), e.names, false)) > 0 {
			p.Elsewhere = append(p.Elsewhere, Place{f.name, 0, path.Base(f.name)})
		}
		return nil
	}
	if disk.Temporary(path.Base(f.name)) { // what somebody was killed while writing
		if len(e.found(src, slices.Concat(e.texts, e.files), false)) > 0 {
			p.Changes = append(p.Changes, Change{Path: f.name, Removed: true, own: own})
		}
		return nil
	}
	if !own && !e.want.Everywhere {
		hits := e.found(src, slices.Concat(e.texts, e.files), false)
		p.Elsewhere = append(p.Elsewhere, places(f.name, src, hits)...)
		if len(e.found([]byte(path.Base(f.name)), e.names, false)) > 0 {
			p.Elsewhere = append(p.Elsewhere, Place{f.name, 0, path.Base(f.name)})
		}
		return nil
	}
	for i, written := range e.written {
		seen[i] = seen[i] || len(e.found(src, written, false)) > 0
	}
	for i, p := range e.files {
		i += len(e.written)
		seen[i] = seen[i] || len(e.found(src, []pattern{p}, false)) > 0
	}
	next, gone, err := e.next(f.name, src)
	if err != nil {
		return err
	}
	c := Change{Path: f.name, Removed: gone, own: own, Lines: lines(src, next)}
	if own && !gone && e.sortOf(f.name) == caseFile {
		c.To = retitled(f.name, src, next)
	}
	if !gone {
		rest := e.found(next, slices.Concat(e.texts, e.files), true)
		p.Left = append(p.Left, places(f.name, next, slices.DeleteFunc(slices.Clone(rest), func(h hit) bool { return !h.whole }))...)
		p.Longer = append(p.Longer, places(f.name, next, slices.DeleteFunc(rest, func(h hit) bool { return h.whole }))...)
	}
	if own {
		e.lookAtName(p, f.name, c, seen)
		return nil
	}
	if len(e.found([]byte(path.Base(f.name)), e.names, false)) > 0 {
		p.Elsewhere = append(p.Elsewhere, Place{f.name, 0, path.Base(f.name)})
	}
	if len(c.Lines) > 0 || gone {
		p.Changes = append(p.Changes, c)
	}
	return nil
}

// lookAtName completes the change of one of the case's own files by what becomes of its
// name: a picture that is wanted goes, a name that holds a text changes.
func (e *eraser) lookAtName(p *Plan, name string, c Change, seen []bool) {
	base := path.Base(name)
	if i := slices.Index(e.want.Pictures, base); i >= 0 && e.isPicture(name) {
		c.Removed, c.Lines = true, nil
		seen[len(e.written)+i] = true
	} else if to, ok := e.rename[base]; ok && !c.Removed && e.isPicture(name) {
		c.To = path.Join(path.Dir(name), to)
	} else if to := e.cleanName(cmp.Or(c.To, base)); to != base && !c.Removed && !e.isVersion(name) {
		c.To = path.Join(path.Dir(name), to)
	}
	for i, spelled := range e.spelled {
		seen[i] = seen[i] || c.To != "" && len(e.found([]byte(base), spelled, false)) > 0
	}
	if own := path.Base(c.To); c.To != "" && strings.HasPrefix(name, "cases/") && !e.isPicture(name) && e.ownerOf(own) != e.id {
		c.To = path.Join(path.Dir(name), e.id+"-"+own) // by which it is known
	}
	if c.Removed || c.To != "" || len(c.Lines) > 0 {
		p.Changes = append(p.Changes, c)
	}
}

// retitled is the file name of a case whose title lost a text, where it was called by that
// title; else empty.
func retitled(name string, before, after []byte) string {
	a, b := casefile.Read(name, before), casefile.Read(name, after)
	if a == nil || b == nil || a.Case.Title == b.Case.Title {
		return ""
	}
	called := func(c *casefile.Case) string {
		return path.Base(filepath.ToSlash(notebook.CasePath(c.ID, c.Opened, c.Title)))
	}
	if called(&a.Case) != path.Base(name) {
		return ""
	}
	return called(&b.Case)
}

// isVersion reports whether a file's name is not given by people: an earlier version, the
// journal, answers.
func (e *eraser) isVersion(name string) bool {
	parts := keptParts(name)
	return parts != nil && parts[0] != "originals"
}

// isPicture reports whether a file lies in the case's folder or among the originals.
func (e *eraser) isPicture(name string) bool {
	parts := keptParts(name)
	return len(parts) > 2 && parts[0] == "originals" || strings.HasPrefix(name, "cases/") && path.Base(path.Dir(name)) == e.id
}

// cleanName is a file's name without the texts.
func (e *eraser) cleanName(base string) string {
	for range 8 {
		hits := e.found([]byte(base), e.names, false)
		if len(hits) == 0 {
			break
		}
		pieces := hits[0].pieces
		base = base[:pieces[0].start] + e.inNames + base[pieces[len(pieces)-1].stop:]
	}
	return base
}

// nameFiles finds new names for pictures whose name holds a text. It goes by the names
// that are there and not by those that were given, so that it finds the same again.
func (e *eraser) nameFiles(root *os.Root, own []file) error {
	taken, all := map[string]bool{}, map[string]bool{}
	for _, f := range own {
		if e.isPicture(f.name) {
			taken[path.Base(f.name)], all[path.Base(f.name)] = true, true
		}
		if e.sortOf(f.name) != caseFile {
			continue
		}
		src, kind, err := e.text(root, f)
		if err != nil || kind != "" {
			continue
		}
		if c := casefile.Read(f.name, src); c != nil {
			for _, p := range c.Case.Photos {
				all[p.File] = true
			}
		}
	}
	e.rename = map[string]string{}
	given := map[string]bool{}
	for _, name := range slices.Sorted(maps.Keys(all)) {
		to := e.cleanName(name)
		if to == name {
			continue
		}
		ext := path.Ext(to)
		for i := 2; taken[to] || given[to]; i++ {
			to = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(e.cleanName(name), ext), i, ext)
		}
		given[to] = true
		e.rename[name] = to
	}
	return nil
}

// places are the lines in which hits begin, each once.
func places(name string, src []byte, hits []hit) (out []Place) {
	text := diagnostic.NewText(name, src)
	for _, h := range hits {
		if len(h.pieces) == 0 {
			continue
		}
		line, _ := text.Place(h.pieces[0].start)
		if !slices.ContainsFunc(out, func(p Place) bool { return p.Line == line }) {
			out = append(out, Place{name, line, text.Line(line)})
		}
	}
	slices.SortFunc(out, func(a, b Place) int { return a.Line - b.Line })
	return out
}

// lines are those that differ between two texts.
func lines(before, after []byte) (out []Line) {
	if bytes.Equal(before, after) {
		return nil
	}
	a, b := strings.Split(string(before), "\n"), strings.Split(string(after), "\n")
	if len(a) == len(b) {
		for i := range a {
			if a[i] != b[i] {
				out = append(out, Line{i + 1, a[i], b[i]})
			}
		}
		return out
	}
	from := 0
	for from < len(a) && from < len(b) && a[from] == b[from] {
		from++
	}
	// Lines were taken out: what is left comes in the same order.
	for i, k := from, from; i < len(a); i++ {
		switch {
		case k < len(b) && a[i] == b[k]:
			k++
		case k < len(b) && len(a)-i == len(b)-k:
			out = append(out, Line{i + 1, a[i], b[k]})
			k++
		default:
			out = append(out, Line{i + 1, a[i], ""})
		}
	}
	return out
}
