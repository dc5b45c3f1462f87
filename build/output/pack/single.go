package pack

import (
	"cmp"
	"fmt"
	"os"
	"path"
	"slices"
	"strings"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/build/output/threeway"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// Shared is a single case that travels between two benches.
type Shared struct {
	Case string `json:"case"`           // as the pack's workshop calls it
	Path string `json:"path"`           // in the pack
	Code string `json:"code,omitempty"` // what the code on its label says
	// Seen is the SHA-256 of the last text that the sender took in from the receiver.
	Seen string `json:"seen,omitempty"`
}

// ownID is the name of a notebook's workshop as a word.
func ownID(n *notebook.Notebook) string {
	return cmp.Or(casefile.Slug(n.Config.Name), "workshop")
}

// checkSingle says what is wrong with a choice of single cases.
func (o Options) checkSingle(n *notebook.Notebook) error {
	if o.To == "" {
		return nil
	}
	if o.To == ownID(n) {
		return fmt.Errorf("%s is this workshop; --to names the one that the case goes to", o.To)
	}
	if len(o.Cases) == 0 {
		return fmt.Errorf("no case is named, nothing was packed; name it before --to, as in `benchlore pack 2026-0031 --to %s`; `benchlore find` lists cases", o.To)
	}
	var ids []string
	for _, c := range n.Cases {
		ids = append(ids, c.ID())
	}
	for _, id := range o.Cases {
		c, ok := n.Case(id)
		if !ok {
			return fmt.Errorf("there is no case %q%s; nothing was packed", id, diagnostic.DidYouMean(terms.Nearest(id, ids)))
		}
		if from := c.File.Case.From; from != "" && from != o.To {
			return fmt.Errorf("%s is a case of %s and theirs to hand on; it goes back with --to %s", id, from, from)
		}
	}
	return nil
}

// outgoing is a case that travels by itself, as it goes out and as it stands here.
type outgoing struct {
	id         string
	here, gone []byte
}

// single makes the text of a case that travels by itself: what is released of it, each
// row with whose it is, minutes and cost in a row of the workshop.
func (p *packer) single(c *notebook.Case) error {
	src, err := disk.Ordinary(p.root, c.Path, maxOwn)
	if err != nil {
		return err
	}
	if src, err = p.released(c.Path, src); err != nil {
		return err
	}
	f, _ := casefile.Parse(c.Path, src)
	if f == nil {
		return fmt.Errorf("%s changed while it was packed", c.Path)
	}
	list, err := exchanges(p.root, c.ID())
	if err != nil {
		return err
	}
	s := Shared{Case: c.ID(), Path: "notes/" + c.Path}
	initials := cmp.Or(p.o.By, f.Case.By)
	for _, e := range list {
		if e.way != receivedWay || e.shop != p.o.To {
			continue
		}
		s.Seen = e.sum
		if text, err := disk.Ordinary(p.root, e.name, maxOwn); err == nil && p.o.By == "" && c.File.Case.From != "" {
			// Those who came with it are not at this bench.
			if was := casefile.Read(e.name, text); was != nil {
				theirs := strings.Split(was.Case.By, "+")
				initials = strings.Join(slices.DeleteFunc(strings.Split(f.Case.By, "+"), func(w string) bool { return slices.Contains(theirs, w) }), "+")
			}
		}
	}
	if c.File.Case.From != "" && len(list) == 0 {
		initials = p.o.By // whose the initials are is not known
	}
	marked, err := threeway.Mark(f, ownID(p.n), initials, p.n.Config.Currency)
	if err != nil {
		return fmt.Errorf("%s: %w", c.Path, err)
	}
	if p.o.Code != nil {
		s.Code = p.o.Code(c.ID())
	}
	p.m.Shared = append(p.m.Shared, s)
	gone := marked.Bytes()
	p.gone = append(p.gone, outgoing{c.ID(), src, gone})
	p.add(s.Path, func() ([]byte, error) { return gone, nil })
	return nil
}

// unchangedGuest reports whether a picture of a guest lies as it came.
func (p *packer) unchangedGuest(c *notebook.Case, name string) bool {
	if c.File.Case.From == "" {
		return false
	}
	s, err := readState(p.n.Dir, c.File.Case.From)
	if err != nil {
		return false
	}
	src, err := disk.Ordinary(p.root, name, maxOwn)
	return err == nil && s.Files[name] == digest(src)
}

// note writes down what goes out, before it does.
func (p *packer) note() error {
	for _, g := range p.gone {
		if err := noteExchange(p.n.Dir, g.id, sentWay, p.o.To, digest(g.gone), g.here); err != nil {
			return err
		}
	}
	return nil
}

// LeftBehind says what of a notebook a pack does not carry, a line each.
func LeftBehind(n *notebook.Notebook, o Options) (out []string) {
	root, err := os.OpenRoot(n.Dir)
	if err != nil {
		return nil
	}
	defer root.Close()
	for folder, what := range map[string]string{"method": "methods of the workshop", "path": "pages of the first weeks"} {
		count := 0
		list, _ := disk.ReadDir(root, folder)
		for _, e := range list {
			if ext := path.Ext(e.Name()); ext == ".yaml" || ext == ".md" {
				count++
			}
		}
		if count > 0 {
			out = append(out, fmt.Sprintf("%s: %d in %s/", what, count, folder))
		}
	}
	theirs := 0
	for _, c := range n.Cases {
		if c.File.Case.From != "" {
			theirs++
		}
	}
	if theirs > 0 && o.To == "" {
		out = append(out, fmt.Sprintf("cases of other workshops, which are theirs to hand on: %d", theirs))
	}
	slices.Sort(out)
	return out
}
