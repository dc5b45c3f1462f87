// Package pack hands a notebook to another workshop and takes theirs in.
//
// A pack is a ZIP archive that anybody can open: the notes as a notebook of its
// own below notes/, perhaps the built site below site/, a README, and first of all
// manifest.json with the size and SHA-256 of each file. [Write] makes one, the
// same bytes for the same content; [Open] trusts nothing in one; [Receive] brings
// it into a notebook under the origin's name.
package pack

import (
	"archive/zip"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/build/output/picture"
	"benchlore/build/parallel"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
)

// Format and Version name what a manifest describes.
const (
	packFormat  = "benchlore pack"
	packVersion = 1
)

// Manifest is the first file of a pack.
type Manifest struct {
	Format    string `json:"format"`
	Version   int    `json:"version"`
	Schema    string `json:"schema"` // of the case files
	Origin    Origin `json:"origin"`
	Licence   string `json:"licence"`
	Currency  string `json:"currency,omitempty"`
	Anonymous bool   `json:"anonymous"`
	Counts    Counts `json:"counts"`
	// To is the workshop that single cases go to, and Shared are these.
	To     string   `json:"to,omitempty"`
	Shared []Shared `json:"shared,omitempty"`
	Files  []File   `json:"files"` // by path
}

// Origin is the workshop that a pack comes from; ID is its name as a word.
type Origin struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

// Counts say what is in a pack.
type Counts struct {
	Cases    int `json:"cases"`
	Devices  int `json:"devices"`
	Pictures int `json:"pictures"`
	Terms    int `json:"terms"` // files of own words
	Site     int `json:"site"`  // files of the built site
}

// File is a file of a pack.
type File struct {
	Path   string `json:"path"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// Options choose what goes into a pack. Within one list any entry will do; every
// list that is not empty must be met.
type Options struct {
	Devices, Symptoms, Years, Tags []string
	Closed                         bool // only closed cases
	// Anonymous leaves out the workshop's name, initials and costs, and moves the days of
	// a case to the beginning of its month, all by as many (anonymous.go).
	Anonymous bool
	Site      string // folder of the built site, or empty
	// Cases are single cases by id, To the workshop that they go to, as a word. By are
	// the initials of who worked on them here, where the case does not tell.
	Cases  []string
	To, By string
	Code   func(id string) string // what the code on a case's label says; may be nil
}

// errPersonal is returned together with the places where something looks like
// personal data.
var errPersonal = errors.New("something looks like personal data; nothing was packed")

// errProblems is returned where the notebook has errors.
var errProblems = errors.New("the notebook has errors; nothing was packed")

// entry is a file to be packed; it is read when it is needed, twice.
type entry struct {
	path string
	read func() ([]byte, error)
}

// Write packs a notebook and says what went in. The problems are those that
// stopped it.
func Write(ctx context.Context, n *notebook.Notebook, w io.Writer, o Options) (*Manifest, []diagnostic.Diagnostic, error) {
	var personal, wrong []diagnostic.Diagnostic
	for _, p := range n.Problems {
		switch {
		case p.Rule == diagnostic.PersonalData:
			personal = append(personal, p)
		case p.Severity == diagnostic.Error:
			wrong = append(wrong, p)
		}
	}
	if len(personal) > 0 {
		return nil, personal, errPersonal
	}
	if len(wrong) > 0 {
		return nil, wrong, errProblems
	}
	if err := o.checkSingle(n); err != nil {
		return nil, nil, err
	}
	root, err := os.OpenRoot(n.Dir)
	if err != nil {
		return nil, nil, err
	}
	defer root.Close()
	p := packer{n: n, root: root, o: o, m: Manifest{Format: packFormat, Version: packVersion, Schema: "case 1",
		Licence: n.Config.Site.Licence, Currency: n.Config.Currency, Anonymous: o.Anonymous,
		To:     o.To,
		Origin: Origin{ID: ownID(n), Name: n.Config.Name}}}
	if o.Anonymous {
		p.m.Origin, p.hidden = unnamed(n.Config.Name), newHidden(n.Config.Name)
	}
	if err := p.gather(); err != nil {
		return nil, nil, err
	}
	if p.m.Counts.Cases == 0 {
		return nil, nil, errors.New("no case fits what was asked for; nothing was packed: `benchlore find` lists cases, `benchlore pack CASE --to NAME` packs one")
	}
	if err := p.note(); err != nil {
		return nil, nil, err
	}
	return &p.m, nil, p.write(ctx, w)
}

type packer struct {
	n       *notebook.Notebook
	root    *os.Root
	o       Options
	m       Manifest
	entries []entry
	gone    []outgoing
	hidden  *hidden // nil where the workshop says its name
}

func (p *packer) add(path string, read func() ([]byte, error)) {
	p.entries = append(p.entries, entry{path, func() ([]byte, error) {
		data, err := read()
		if err != nil {
			return nil, err
		}
		return p.hidden.checked(path, data)
	}})
}

// gather lists what goes in: cases that were chosen, their pictures, their
// devices with boards and pictures, own words. Nothing is packed because it lies
// in a folder; every file is one that something names.
func (p *packer) gather() error {
	devices := map[string]*notebook.Device{}
	for _, c := range p.n.Cases {
		if !p.chosen(c) {
			continue
		}
		p.m.Counts.Cases++
		if c.Device.Record != nil && c.File.Case.From == "" { // a guest's is at home
			devices[c.Device.ID] = c.Device
		}
		if p.o.To == "" {
			p.add("notes/"+c.Path, func() ([]byte, error) { return p.caseBytes(c) })
		} else if err := p.single(c); err != nil {
			return err
		}
		seen := map[string]bool{}
		for _, ph := range c.File.Case.Photos {
			if name := path.Join(c.PhotoDir(), ph.File); !seen[name] && !strings.ContainsAny(ph.File, "/\\") && !p.unchangedGuest(c, name) {
				seen[name] = true
				p.addPicture(name)
			}
		}
	}
	if p.o.To == "" && len(p.o.Devices)+len(p.o.Symptoms)+len(p.o.Years)+len(p.o.Tags) == 0 {
		for _, d := range p.n.Devices {
			if d.Record != nil {
				devices[d.ID] = d
			}
		}
	}
	for _, d := range devices {
		p.m.Counts.Devices++
		p.addText(d.Path)
		for _, b := range d.Boards {
			for _, name := range []string{b.PartsPath, b.NetlistPath} {
				if name != "" {
					p.add("notes/"+name, func() ([]byte, error) { return disk.Ordinary(p.root, name, maxOwn) })
				}
			}
		}
		for _, v := range d.Record.Device.Photos {
			if !strings.ContainsAny(v.File, "/\\") {
				p.addPicture(path.Join("devices", d.ID, v.File))
			}
		}
		for _, v := range d.Record.Device.Views {
			if v.Picture != "" && !strings.ContainsAny(v.Picture, "/\\") {
				p.addPicture(path.Join("devices", d.ID, v.Picture))
			}
		}
	}
	terms, err := disk.ReadDir(p.root, "terms")
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	for _, e := range terms {
		if path.Ext(e.Name()) == ".yaml" && !strings.HasPrefix(e.Name(), receivedTerms) {
			p.m.Counts.Terms++
			p.addText("terms/" + e.Name())
		}
	}
	settings, err := p.settings()
	if err != nil {
		return err
	}
	p.add("notes/notebook.yaml", func() ([]byte, error) { return settings, nil })
	p.add("README.txt", func() ([]byte, error) { return []byte(p.readme()), nil })
	if p.o.Site != "" {
		if err := p.addSite(); err != nil {
			return err
		}
	}
	slices.SortFunc(p.entries, func(a, b entry) int { return strings.Compare(a.path, b.path) })
	p.entries = slices.CompactFunc(p.entries, func(a, b entry) bool { return a.path == b.path })
	return nil
}

func (p *packer) addText(name string) {
	p.add("notes/"+name, func() ([]byte, error) {
		src, err := disk.Ordinary(p.root, name, maxOwn)
		if ext := path.Ext(name); err != nil || ext != ".md" && ext != ".yaml" {
			return src, err // a parts list or netlist
		}
		return p.released(name, src)
	})
}

func (p *packer) addPicture(name string) {
	p.m.Counts.Pictures++
	p.add("notes/"+name, func() ([]byte, error) {
		src, err := disk.Ordinary(p.root, name, maxOwn)
		if err != nil {
			return nil, err
		}
		clean, err := picture.Clean(name, src)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		return clean, nil
	})
}

// addSite packs the files of the site's folder, without those whose names begin
// with a point.
func (p *packer) addSite() error {
	site, err := os.OpenRoot(p.o.Site)
	if err != nil {
		return err
	}
	return fs.WalkDir(site.FS(), ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if strings.HasPrefix(path.Base(name), ".") && name != "." {
			if e.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if e.Type().IsRegular() {
			p.m.Counts.Site++
			p.add("site/"+name, func() ([]byte, error) { return site.ReadFile(name) })
		}
		return nil
	})
}

// chosen reports whether a case goes into the pack. What came from another
// workshop is theirs to hand on.
func (p *packer) chosen(c *notebook.Case) bool {
	k := &c.File.Case
	if p.o.To != "" {
		return slices.Contains(p.o.Cases, c.ID())
	}
	any := func(want []string, have ...string) bool {
		return len(want) == 0 || slices.ContainsFunc(have, func(h string) bool { return slices.Contains(want, h) })
	}
	year := k.Opened
	if len(year) >= 4 {
		year = year[:4]
	}
	return k.From == "" && (!p.o.Closed || !k.Open()) && any(p.o.Devices, c.Device.ID) &&
		any(p.o.Symptoms, k.Symptoms...) && any(p.o.Years, year) && any(p.o.Tags, k.Tags...)
}

// stripped is a text without what is private in it and without comments.
func stripped(name string, src []byte) ([]byte, error) {
	out, err := casefile.Strip(src)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return out, nil
}

// released is a text of ours as it is given away: [stripped], and without sections that
// nobody named.
func (p *packer) released(name string, src []byte) ([]byte, error) {
	out, err := stripped(name, src)
	if err != nil {
		return nil, err
	}
	switch top, _, _ := strings.Cut(name, "/"); top {
	case "cases":
		return casefile.StripHeld(out, slices.Concat(casefile.CaseSections, p.n.Config.Site.Sections)), nil
	case "devices":
		return casefile.StripHeld(out, slices.Concat(casefile.DeviceSections, p.n.Config.Site.Sections)), nil
	}
	return out, nil
}

// caseBytes is the case as it is packed: without what is private, and without
// initials, costs and days where that was asked for.
func (p *packer) caseBytes(c *notebook.Case) ([]byte, error) {
	src, err := disk.Ordinary(p.root, c.Path, maxOwn)
	if err != nil {
		return nil, err
	}
	if src, err = p.released(c.Path, src); err != nil {
		return nil, err
	}
	if !p.o.Anonymous {
		return src, nil
	}
	f := casefile.Read(c.Path, src)
	if f == nil {
		return nil, fmt.Errorf("%s changed while it was packed", c.Path)
	}
	for _, key := range []string{"by", "cost"} {
		if f, err = f.Unset(key); err != nil {
			return nil, err
		}
	}
	days := shift(p.n, c)
	for key, day := range map[string]string{"opened": f.Case.Opened, "closed": f.Case.Closed, "followed": f.Case.Followed} {
		if next := earlier(day, days); next != day {
			if f, err = f.Set(key, next); err != nil {
				return nil, err
			}
		}
	}
	return f.Bytes(), nil
}

// settings are those of notebook.yaml that another workshop needs.
func (p *packer) settings() ([]byte, error) {
	type site struct {
		Licence string `yaml:"licence,omitempty"`
	}
	return yaml.Marshal(struct {
		Name     string `yaml:"name"`
		Language string `yaml:"language,omitempty"`
		Currency string `yaml:"currency,omitempty"`
		Country  string `yaml:"country,omitempty"`
		Site     *site  `yaml:"site,omitempty"`
	}{p.m.Origin.Name, p.n.Config.Language, p.n.Config.Currency, p.n.Config.Country, func() *site {
		if p.n.Config.Site.Licence == "" {
			return nil
		}
		return &site{p.n.Config.Site.Licence}
	}()})
}

func (p *packer) readme() string {
	text := p.m.Origin.Name + "\n\nRepair notes, one Markdown file a repair, below notes/. Any editor reads them.\n"
	if p.o.Site != "" {
		text += "The same as pages: open site/index.html in a browser.\n"
	}
	text += "manifest.json has the size and SHA-256 of each file.\n`benchlore receive FILE` takes them into a notebook.\n"
	if p.m.Licence != "" {
		text += "\nLicence of the notes: " + p.m.Licence + "\n"
	}
	return text + "\nThe notes inform. They never declare a device safe.\n"
}

// write hashes every file, then writes the archive. Files are read twice and
// never held together, so that memory stays that of the largest one.
func (p *packer) write(ctx context.Context, w io.Writer) error {
	p.m.Files = make([]File, len(p.entries))
	errs := make([]error, len(p.entries))
	parallel.Each(len(p.entries), func(i int) {
		if ctx.Err() != nil {
			return
		}
		data, err := p.entries[i].read()
		p.m.Files[i], errs[i] = File{p.entries[i].path, int64(len(data)), digest(data)}, err
	})
	if err := errors.Join(append(errs, ctx.Err())...); err != nil {
		return err
	}
	z := zip.NewWriter(w)
	manifest, err := json.MarshalIndent(&p.m, "", " ")
	if err != nil {
		return err
	}
	if err := put(z, manifestName, append(manifest, '\n')); err != nil {
		return err
	}
	for i, e := range p.entries {
		if err := ctx.Err(); err != nil {
			return err
		}
		data, err := e.read()
		if err != nil {
			return err
		}
		if digest(data) != p.m.Files[i].SHA256 {
			return fmt.Errorf("%s changed while it was packed; try again", e.path)
		}
		if err := put(z, e.path, data); err != nil {
			return err
		}
	}
	return z.Close()
}

// put writes a file without a time and an owner: equal content gives equal bytes.
func put(z *zip.Writer, name string, data []byte) error {
	f, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate})
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	return err
}

// Archive writes the files of a folder as an archive, without those whose names
// begin with a point, and returns how many there are.
func Archive(ctx context.Context, w io.Writer, dir string) (files int, err error) {
	p := packer{o: Options{Site: dir}}
	if err := p.addSite(); err != nil {
		return 0, err
	}
	z := zip.NewWriter(w)
	for _, e := range p.entries {
		data, err := e.read()
		if err = errors.Join(err, ctx.Err()); err != nil {
			return 0, err
		}
		if err := put(z, strings.TrimPrefix(e.path, "site/"), data); err != nil {
			return 0, err
		}
	}
	return len(p.entries), z.Close()
}

const manifestName = "manifest.json"

// receivedTerms begins the names of files with the words of other workshops.
const receivedTerms = "from-"
