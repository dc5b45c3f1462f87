package erase

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"path"
	"slices"
	"strings"
	"time"

	"benchlore/build/write/editor"
	"benchlore/schema/casefile"
)

// next is what a file's text becomes; gone is true where the file cannot stay.
func (e *eraser) next(name string, src []byte) (text []byte, gone bool, err error) {
	text = src
	own := e.own(name)
	if own && e.want.Private && e.sortOf(name) == caseFile {
		open, err := casefile.Strip(text)
		if err != nil && e.isVersion(name) {
			return nil, true, nil // nobody can tell what of it is private
		}
		var doubt *casefile.NotCut
		if errors.As(err, &doubt) {
			d := doubt.Problem(name, src)
			return nil, false, fmt.Errorf("%s:%d:%d: %s; nothing was changed", name, d.Line, max(d.Column, 1), d.Message)
		}
		if err != nil {
			return nil, false, err
		}
		text = open
	}
	if own && e.sortOf(name) == caseFile && len(e.files) > 0 {
		text = e.withoutPictures(name, text)
	}
	for _, was := range slices.Sorted(maps.Keys(e.rename)) {
		if own {
			text = renamedIn(text, was, e.rename[was])
		}
	}
	if len(e.files) > 0 && own {
		text = e.words(name, text, e.files, true)
	}
	if len(e.texts) > 0 {
		text = e.words(name, text, e.texts, false)
	}
	return text, false, nil
}

// withoutPictures takes the pictures that are wanted out of a case's front matter.
func (e *eraser) withoutPictures(name string, text []byte) []byte {
	f, _ := casefile.Parse(name, text)
	if f == nil {
		return text
	}
	var keep []casefile.Photo
	for _, p := range f.Case.Photos {
		if slices.Contains(e.want.Pictures, p.File) {
			continue
		}
		if slices.Contains(e.want.Pictures, p.Compare) {
			p.Compare = ""
		}
		keep = append(keep, p)
	}
	if next, err := f.SetPhotos(keep); err == nil && (len(keep) < len(f.Case.Photos) || e.compares(f)) {
		return next.Bytes()
	}
	return text
}

func (e *eraser) compares(f *casefile.File) bool {
	return slices.ContainsFunc(f.Case.Photos, func(p casefile.Photo) bool { return slices.Contains(e.want.Pictures, p.Compare) })
}

// renamedIn puts a file's new name in the place of its old one.
func renamedIn(text []byte, was, to string) []byte {
	part := func(c byte) bool {
		return c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c == '-' || c == '_' || c >= 0x80
	}
	var out []byte
	for from := 0; ; {
		i := bytes.Index(text[from:], []byte(was))
		if i < 0 {
			return append(out, text[from:]...)
		}
		at, end := from+i, from+i+len(was)
		out = append(out, text[from:at]...)
		if at > 0 && part(text[at-1]) || end < len(text) && part(text[end]) {
			out = append(out, was...)
		} else {
			out = append(out, to...)
		}
		from = end
	}
}

// words puts the mark in the place of each hit that the file can do without. A cell that
// must be a value is emptied; with blank, cells are emptied first.
func (e *eraser) words(name string, src []byte, list []pattern, blank bool) []byte {
	if len(e.found(src, list, false)) == 0 {
		return src
	}
	if e.sortOf(name) == jsonFile {
		return inJSON(src, func(text []byte) []byte { return e.settle(text, list, anything, blank) })
	}
	return e.settle(src, list, e.judgeOf(name, src), blank)
}

// mostRounds bounds how often a text is looked through again: what went may bring together
// what was apart.
const mostRounds = 8

func (e *eraser) settle(text []byte, list []pattern, ok judge, blank bool) []byte {
	for range mostRounds {
		before := text
		for r := range readings {
			if !r.calledFor(text) {
				continue
			}
			for _, p := range list {
				text = e.round(text, r, p, ok, blank)
			}
		}
		if bytes.Equal(before, text) {
			break
		}
	}
	return text
}

// way is what becomes of a hit.
type way byte

const (
	stays way = iota
	marked
	emptied // the cell that it stands in
	worded  // where the mark cannot stand, as in a tag; more of them are counted
)

// mostWorded is how many such may stand beside each other.
const mostWorded = 9

// round replaces what one pattern finds by one reading.
func (e *eraser) round(text []byte, r reading, p pattern, ok judge, blank bool) []byte {
	hits := slices.DeleteFunc(p.find(text, glyphs(text, r), e.want.Parts), func(h hit) bool { return !h.whole || len(h.pieces) == 0 })
	if len(hits) == 0 {
		return text
	}
	ways := make([]way, len(hits))
	tries := []way{marked, emptied}
	if blank {
		tries = []way{emptied, marked}
	}
	for i := range mostWorded {
		tries = append(tries, worded+way(i))
	}
	set := func(lo, hi int, w way) {
		for i := lo; i < hi; i++ {
			ways[i] = w
		}
	}
	var settle func(lo, hi int)
	settle = func(lo, hi int) {
		set(lo, hi, tries[0])
		if ok(e.replaced(text, hits, ways)) {
			return
		}
		if hi-lo == 1 {
			for _, w := range tries[1:] {
				if ways[lo] = w; ok(e.replaced(text, hits, ways)) {
					return
				}
			}
			ways[lo] = stays
			return
		}
		set(lo, hi, stays)
		mid := (lo + hi) / 2
		settle(lo, mid)
		settle(mid, hi)
	}
	settle(0, len(hits))
	return e.replaced(text, hits, ways)
}

// replaced is the text with each hit gone its way.
func (e *eraser) replaced(text []byte, hits []hit, ways []way) []byte {
	var out []byte
	at := 0
	put := func(start, stop int, with string) {
		if start < at {
			return // in a cell that was emptied already
		}
		out = append(append(out, text[at:start]...), with...)
		at = stop
	}
	for i, h := range hits {
		if ways[i] == stays {
			continue
		}
		if start, stop, ok := cellAround(text, h.pieces[0]); ways[i] == emptied && ok {
			put(start, stop, " ")
			continue
		}
		for _, p := range h.pieces {
			with := e.mark
			if k := int(ways[i]) - int(worded); k == 0 {
				with = e.inNames
			} else if k > 0 {
				with = fmt.Sprintf("%s-%d", e.inNames, k+1)
			}
			put(p.start, p.stop, p.before+with+p.after)
		}
	}
	return append(out, text[at:]...)
}

// cellAround is what stands between the bars around a piece; ok is false outside a table.
func cellAround(text []byte, p piece) (start, stop int, ok bool) {
	start, stop = p.start, p.stop
	for start > 0 && text[start-1] != '\n' && (text[start-1] != '|' || start > 1 && text[start-2] == '\\') {
		start--
	}
	for stop < len(text) && text[stop] != '\n' && (text[stop] != '|' || text[stop-1] == '\\') {
		stop++
	}
	return start, stop, start > 0 && text[start-1] == '|' && stop < len(text) && text[stop] == '|'
}

// erasedExt ends the name of the file that keeps a number taken.
const erasedExt = ".erased"

// lookAll works out how the whole case goes. Where other cases are comebacks of it, that
// they are goes too, and only where they may be changed.
func (e *eraser) lookAll(root *os.Root, p *Plan, files []file) error {
	for _, f := range files {
		if e.own(f.name) && !ofNobody(f.name) {
			p.Changes = append(p.Changes, Change{Path: f.name, Removed: true, own: true})
			continue
		}
		src, kind, err := e.text(root, f)
		if err != nil || kind != "" || strings.HasSuffix(f.name, erasedExt) {
			continue
		}
		next, err := e.withoutReturn(f.name, src)
		if err != nil {
			return err
		}
		if changed := lines(src, next); len(changed) > 0 {
			if !e.want.Everywhere && strings.HasPrefix(f.name, "cases/") {
				return fmt.Errorf("%s:%d: %w; --everywhere takes that out there", f.name, changed[0].Number, ErrReturned)
			}
			if e.want.Everywhere {
				p.Changes = append(p.Changes, Change{Path: f.name, Lines: changed})
			}
		}
		p.Elsewhere = append(p.Elsewhere, places(f.name, next, e.found(next, e.itself, false))...)
	}
	p.sort()
	return nil
}

// withoutReturn is a case's text without its being a comeback of the case that goes.
func (e *eraser) withoutReturn(name string, src []byte) ([]byte, error) {
	if e.sortOf(name) != caseFile || !bytes.Contains(src, []byte("returns")) {
		return src, nil
	}
	f, _ := casefile.Parse(name, src)
	if f == nil || f.Case.Returns != e.id {
		return src, nil
	}
	next, err := f.SetLeaf("returns", "")
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return next.Bytes(), nil
}

// marker is the file that keeps the number of a case that went taken, so that no other
// case is called by it.
func (e *eraser) marker() string {
	if c, ok := e.n.Case(e.id); ok {
		return path.Dir(c.Path) + "/" + e.id + erasedExt
	}
	return "cases/" + e.id + erasedExt
}

// mostPasses bounds how often the notebook is looked through again, for what somebody
// wrote meanwhile.
const mostPasses = 5

// Do changes what the plan says, and looks again until nothing is left to change. It
// returns what was changed, also beside an error: running it again goes on from there.
func (p *Plan) Do(ctx context.Context) (done *Plan, err error) {
	e := p.e
	leave, alone := e.folder.Alone()
	if !alone {
		return nil, ErrAtWork
	}
	defer leave()
	defer e.folder.Enter()()
	done = p
	var all []Change
	for range mostPasses {
		if err := e.throwAway(p); err != nil {
			return done, err
		}
		if p.Nothing() {
			break
		}
		if e.want.All {
			if err := e.step(func() error {
				return e.folder.Write(e.marker(), []byte(e.o.Word+" "+e.o.Day.Format(time.DateOnly)+"\n"))
			}); err != nil {
				return done, err
			}
		}
		for _, c := range inTurn(p.Changes) {
			if ctx.Err() != nil {
				return done, context.Cause(ctx)
			}
			if err := e.do(c); err != nil {
				return done, fmt.Errorf("%s: %w", c.Path, err)
			}
			all = append(all, c)
		}
		again := *e
		if p, err = again.look(); errors.Is(err, ErrNoCase) {
			break // all of it went
		} else if err != nil {
			return done, err
		}
		again.before = e.before
		e = &again
	}
	if p != nil && !p.Nothing() {
		return done, errors.New("the notebook is being written to all the time; run it again when nobody else is at work in it")
	}
	if p != nil && p != done {
		done.Left, done.Longer, done.Elsewhere = p.Left, p.Longer, p.Elsewhere
	}
	done.Changes = merged(done.Changes, all)
	return done, nil
}

// merged adds to the changes of a plan those that were found later.
func merged(planned, done []Change) []Change {
	for _, c := range done {
		if !slices.ContainsFunc(planned, func(o Change) bool { return o.Path == c.Path }) {
			planned = append(planned, c)
		}
	}
	return planned
}

// inTurn are changes in the order in which they may be broken off: what is kept, then
// files of the case's folder, the case file last, so that the case is found again. A
// picture gets its new name, or goes, after the case that names it.
func inTurn(list []Change) []Change {
	rank := func(c Change) int {
		picture := strings.HasPrefix(c.Path, "cases/") && path.Ext(c.Path) != ".md" || strings.Contains(c.Path, "/originals/")
		switch {
		case c.own && path.Ext(c.Path) == ".md" && strings.HasPrefix(c.Path, "cases/"):
			if c.Removed {
				return 3
			}
			return 1
		case picture:
			return 2
		}
		return 0
	}
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b Change) int { return rank(a) - rank(b) })
	return list
}

// step is a write, before which a test may break off.
func (e *eraser) step(write func() error) error {
	if err := e.before(); err != nil {
		return err
	}
	return write()
}

// throwAway removes what is derived: it may hold anything.
func (e *eraser) throwAway(p *Plan) error {
	for _, name := range p.Derived {
		if err := e.step(func() error { return e.folder.RemoveAll(name) }); err != nil {
			return err
		}
	}
	return nil
}

// do changes one file.
func (e *eraser) do(c Change) error {
	if c.Removed {
		if err := e.step(func() error { return e.folder.Remove(c.Path) }); err != nil {
			return err
		}
		for dir := path.Dir(c.Path); path.Base(dir) == e.id; dir = path.Dir(dir) {
			if e.folder.Remove(dir) != nil { // it holds something yet
				break
			}
		}
		return nil
	}
	name := c.Path
	if c.To != "" && !e.isPicture(name) { // a name that changed first is not looked for again
		if _, err := os.Lstat(e.path(c.To)); err == nil {
			return fmt.Errorf("it should be called %s, which is there already", c.To)
		}
		if err := e.step(func() error { return e.folder.Rename(name, c.To) }); err != nil {
			return err
		}
		name = c.To
	}
	if len(c.Lines) > 0 {
		if err := e.rewrite(name); err != nil {
			return err
		}
	}
	if c.To != "" && name != c.To {
		return e.step(func() error { return e.folder.Rename(name, c.To) })
	}
	return nil
}

func (e *eraser) path(name string) string { return string(e.folder) + "/" + name }

// rewrite gives a file its next text. What is displaced is kept nowhere, unlike everywhere
// else; what somebody wrote at that very moment goes through the same change.
func (e *eraser) rewrite(name string) error {
	change := func(src []byte) ([]byte, bool, error) {
		if e.want.All {
			next, err := e.withoutReturn(name, src)
			return next, false, err
		}
		return e.next(name, src)
	}
	have, err := e.folder.Read(name, maxRead)
	if err != nil {
		return err
	}
	if dir, base := path.Split(name); isStamped(name) {
		next, _, err := change(have)
		if err != nil || bytes.Equal(next, have) {
			return err
		}
		stamp, _, _ := strings.Cut(base, "-")
		to := dir + stamp + "-" + string(editor.VersionOf(next)) + path.Ext(base)
		if err := e.step(func() error { return e.folder.Write(to, next) }); err != nil {
			return err
		}
		return e.step(func() error { return e.folder.Remove(name) })
	}
	for stands := have; ; { // what the file should have
		next, _, err := change(have)
		if err != nil {
			return err
		}
		var displaced []byte
		if err := e.step(func() error {
			displaced, err = e.folder.Exchange(name, next)
			return err
		}); err != nil {
			return err
		}
		if displaced == nil || bytes.Equal(displaced, stands) {
			return nil
		}
		// Two texts that do not know each other: the later one has the file.
		if id := e.caseOf(name); id != "" {
			kept := keptDir + "/history/" + id + "/" + time.Now().UTC().Format("20060102T150405.000Z") + "-" + string(editor.VersionOf(next)) + ".md"
			if err := e.folder.Write(kept, next); err != nil {
				return err
			}
		}
		have, stands = displaced, next
	}
}

// caseOf is the case whose file this is; empty for another file.
func (e *eraser) caseOf(name string) string {
	for _, c := range e.n.Cases {
		if c.Path == name {
			return c.ID()
		}
	}
	if strings.HasPrefix(name, "cases/") && path.Ext(name) == ".md" && e.own(name) {
		return e.id
	}
	return ""
}

// isStamped reports whether a file is an earlier version, whose name has the sum of its
// bytes.
func isStamped(name string) bool {
	parts := keptParts(name)
	return len(parts) == 3 && parts[0] == "history" && strings.Contains(parts[2], "-")
}
