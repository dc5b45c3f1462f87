package pack

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/build/output/picture"
	"benchlore/build/output/threeway"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// Merged is a single case that came and was here already.
type Merged struct {
	Case string // as it is called here
	*threeway.Result

	path      string
	had, next []byte
	pictures  map[string][]byte // new ones, by path
}

// incoming is what is written down of a single case once it is in.
type incoming struct {
	id, sum string
	text    func() ([]byte, error)
}

// single takes the single cases of a pack: those that are ours, or that were worked on
// here, are merged; another is received as any case of a pack.
func (l *Plan) single(devices map[string]string, words map[terms.Class]map[string]string) error {
	l.merging = map[string]bool{}
	self := ownID(l.n)
	for _, s := range l.p.Manifest.Shared {
		if _, ok := l.p.entries[s.Path]; !ok || !strings.HasPrefix(s.Path, "notes/cases/") {
			return refusef("its manifest names the case %q, which is not there", s.Path)
		}
		f, list, err := l.parse(s.Path)
		if err != nil {
			return err
		}
		if f == nil || f.Case.ID != s.Case || diagnostic.Count(list, diagnostic.Error) > 0 {
			return refusef("%s is no case file: %s", s.Path, first(list))
		}
		raw, err := l.p.read(s.Path)
		if err != nil {
			return err
		}
		id := l.prefix(f.Case.ID)
		theirs := func() (*casefile.File, error) {
			next, err := l.rewrite(f, id, map[string]bool{}, devices, words)
			if err != nil {
				return nil, err
			}
			out, _ := casefile.Parse(id+".md", next)
			return out, nil
		}
		switch from := f.Case.From; {
		case from == self:
			home, ok := strings.CutPrefix(f.Case.ID, self+"-")
			if c, there := l.n.Case(home); !ok || !there || c.File.Case.From != "" {
				return refusef("it brings back %s, and this notebook has no such case of its own", f.Case.ID)
			}
			id, theirs = home, func() (*casefile.File, error) { return l.home(f, words) }
		case from != "":
			return refusef("%s is a case of %s and theirs to hand on", f.Case.ID, from)
		}
		l.came = append(l.came, incoming{id, digest(raw), func() ([]byte, error) {
			t, err := theirs()
			if err != nil {
				return nil, err
			}
			return t.Bytes(), nil
		}})
		c, there := l.n.Case(id)
		if !there {
			continue
		}
		had, err := disk.Folder(l.n.Dir).Read(c.Path, maxOwn)
		if err != nil {
			return err
		}
		if f.Case.From == "" && (c.File.Case.From != l.Origin.ID || l.state.Files[c.Path] == digest(had)) {
			continue // as it came, or another case: received as ever
		}
		t, err := theirs()
		if err != nil {
			return err
		}
		l.merging[s.Path] = true
		m, err := l.merge(c, s, had, t)
		if err != nil {
			return fmt.Errorf("%s: %w", id, err)
		}
		l.Merged = append(l.Merged, m)
	}
	return nil
}

// home gives a case of ours that comes back its words here.
func (l *Plan) home(f *casefile.File, words map[terms.Class]map[string]string) (*casefile.File, error) {
	return renamed(f, func(field casefile.Field, w string) (string, bool) {
		if field.Key() == "device" {
			return "", false
		}
		if ours, ok := words[field.Class][w]; ok {
			return ours, true
		}
		rest, cut := strings.CutPrefix(w, ownID(l.n)+"-")
		if !cut {
			return "", false
		}
		_, known := l.n.Terms.Lookup(field.Class, rest)
		return rest, known
	})
}

// base is the latest text that both sides are known to have had, nil for none.
func (l *Plan) base(id, seen string) (*casefile.File, error) {
	root, err := os.OpenRoot(l.n.Dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	list, err := exchanges(root, id)
	if err != nil {
		return nil, err
	}
	for _, e := range list {
		l.answers = l.answers || e.way == sentWay && e.sum == seen && e.shop == l.Origin.ID
	}
	for _, e := range slices.Backward(list) {
		if e.way == sentWay && e.sum == seen || e.way == receivedWay && e.shop == l.Origin.ID {
			text, err := disk.Ordinary(root, e.name, maxOwn)
			if err != nil {
				return nil, err
			}
			f, _ := casefile.Parse(e.name, text)
			return f, nil
		}
	}
	return nil, nil
}

func (l *Plan) merge(c *notebook.Case, s Shared, had []byte, theirs *casefile.File) (*Merged, error) {
	ours, list := casefile.Parse(c.Path, had)
	if ours == nil {
		return nil, errors.New(first(list))
	}
	open, err := stripped(c.Path, had)
	if err != nil {
		return nil, err
	}
	open = casefile.StripHeld(open, slices.Concat(casefile.CaseSections, l.n.Config.Site.Sections))
	public, _ := casefile.Parse(c.Path, open)
	base, err := l.base(c.ID(), s.Seen)
	if err != nil {
		return nil, err
	}
	m := &Merged{Case: c.ID(), path: c.Path, had: had, pictures: map[string][]byte{}}
	if theirs, err = l.pictures(c, s, theirs, m); err != nil {
		return nil, err
	}
	o := threeway.Options{Self: ownID(l.n), Other: l.Origin.ID, Theirs: l.theirs, Public: public}
	if m.Result, err = threeway.Merge(base, ours, theirs, o); err != nil {
		return nil, err
	}
	m.next = m.File.Bytes()
	return m, l.judgeMerged(c, m)
}

// pictures takes the new pictures of a case. One whose name has another picture here gets
// another name, so that both stay.
func (l *Plan) pictures(c *notebook.Case, s Shared, theirs *casefile.File, m *Merged) (*casefile.File, error) {
	photos := slices.Clone(theirs.Case.Photos)
	folder := path.Join(path.Dir(s.Path), s.Case)
	for i, ph := range photos {
		from := path.Join(folder, ph.File)
		if _, ok := l.p.entries[from]; !ok || strings.ContainsAny(ph.File, "/\\") {
			continue
		}
		data, err := l.p.read(from)
		if err != nil {
			return nil, err
		}
		if data, err = picture.Clean(ph.File, data); err != nil {
			return nil, refusef("%s: %v", from, err)
		}
		target := path.Join(c.PhotoDir(), ph.File)
		have, err := disk.Folder(l.n.Dir).Read(target, maxOwn)
		switch {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			return nil, err
		case digest(have) == digest(data) || l.state.Files[target] == digest(data):
			continue
		default:
			ext := path.Ext(ph.File)
			photos[i].File = strings.TrimSuffix(ph.File, ext) + "-" + l.Origin.ID + "-" + digest(data)[:8] + ext
			target = path.Join(c.PhotoDir(), photos[i].File)
			if have, err := disk.Folder(l.n.Dir).Read(target, maxOwn); err == nil && digest(have) == digest(data) {
				continue
			}
		}
		m.pictures[target] = data
	}
	if len(m.pictures) == 0 && slices.EqualFunc(photos, theirs.Case.Photos, func(a, b casefile.Photo) bool { return a.File == b.File }) {
		return theirs, nil
	}
	return theirs.SetPhotos(photos)
}

// judgeMerged holds the merged case against the rules of check, beside what it leans on,
// and refuses what has an error that it did not have.
func (l *Plan) judgeMerged(c *notebook.Case, m *Merged) error {
	had, err := l.faultsWith(c, m.had, nil)
	if err != nil {
		return err
	}
	now, err := l.faultsWith(c, m.next, m.pictures)
	if err != nil {
		return err
	}
	for _, said := range now {
		if !slices.Contains(had, said) {
			return refusef("this notebook could not be published with it: %s", said)
		}
	}
	return nil
}

// faultsWith are the errors that a case has with a text and pictures, beside what it leans on.
func (l *Plan) faultsWith(c *notebook.Case, text []byte, pictures map[string][]byte) (said []string, err error) {
	dir, err := os.MkdirTemp("", "benchlore-receive-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	root, err := os.OpenRoot(l.n.Dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	trial := disk.Folder(dir)
	lean := []string{"notebook.yaml", "terms", "devices/" + c.Device.ID + ".md", "devices/" + c.Device.ID, c.PhotoDir()}
	if back, ok := l.n.Case(c.File.Case.Returns); ok {
		lean = append(lean, back.Path)
	}
	for _, top := range lean {
		_ = fs.WalkDir(root.FS(), top, func(name string, e fs.DirEntry, err error) error {
			if err != nil || !e.Type().IsRegular() {
				return nil
			}
			text, err := disk.Ordinary(root, name, maxOwn)
			if err != nil {
				return nil
			}
			return trial.Write(name, text)
		})
	}
	for _, t := range l.todo {
		if strings.HasPrefix(t.path, "terms/") {
			data, err := t.read()
			if err == nil {
				err = trial.Write(t.path, data)
			}
			if err != nil {
				return nil, err
			}
		}
	}
	for name, data := range pictures {
		if err := trial.Write(name, data); err != nil {
			return nil, err
		}
	}
	if err := trial.Write(c.Path, text); err != nil {
		return nil, err
	}
	n, err := notebook.Load(dir)
	if err != nil {
		return nil, err
	}
	for _, x := range faultsOf(n) {
		if x.file == c.Path {
			said = append(said, x.message)
		}
	}
	return said, nil
}

// writeMerged writes pictures, then the cases, then what came for the next time.
func (l *Plan) writeMerged(ctx context.Context) error {
	folder := disk.Folder(l.n.Dir)
	for _, m := range l.Merged {
		for name, data := range m.pictures {
			if err := errors.Join(ctx.Err(), folder.Change(name, ofFile(name), func(have []byte) ([]byte, error) {
				if have != nil {
					return nil, nil // somebody put one there meanwhile
				}
				return data, nil
			})); err != nil {
				return err
			}
		}
		err := folder.Change(m.path, m.Case, func(have []byte) ([]byte, error) {
			switch digest(have) {
			case digest(m.next):
				return nil, nil
			case digest(m.had):
				return m.next, nil
			}
			l.Late = append(l.Late, m.path)
			return nil, nil
		})
		if err != nil {
			return err
		}
	}
	for _, c := range l.came {
		if slices.ContainsFunc(l.Merged, func(m *Merged) bool { return m.Case == c.id && slices.Contains(l.Late, m.path) }) {
			continue
		}
		text, err := c.text()
		if err != nil {
			return err
		}
		if err := noteExchange(l.n.Dir, c.id, receivedWay, l.Origin.ID, c.sum, text); err != nil {
			return err
		}
	}
	return nil
}
