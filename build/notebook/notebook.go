// Package notebook loads a workshop's folder of cases, devices, terms and
// photos and applies the rules that need more than one file.
//
// Begin with [Load]. Files are read and parsed in parallel, one slot a file,
// and joined in the order of their paths, so that equal folders give equal
// notebooks. All reading goes through [os.Root]: no link or path leads out of
// the notebook. A file that is broken is named in Problems and never stops the
// others. A loaded notebook is read-only.
package notebook

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/xml"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"benchlore/build/disk"
	"benchlore/build/parallel"
	"benchlore/schema"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/filename"
	"benchlore/schema/terms"
)

// Config is notebook.yaml.
type Config struct {
	Name     string `yaml:"name"`
	Language string `yaml:"language"`
	Currency string `yaml:"currency"`
	Country  string `yaml:"country"`
	Site     struct {
		Address string `yaml:"address"`
		Licence string `yaml:"licence"`
		Welcome string `yaml:"welcome"`
		// Sections are those that go out beside the ones of the format.
		Sections []string `yaml:"sections"`
	} `yaml:"site"`
	Path    []string                `yaml:"path"`    // the order of the first weeks; empty for the usual
	History int                     `yaml:"history"` // days that earlier versions of a case are kept; 0 for the usual
	Meter   map[string][]MeterRange `yaml:"meter"`   // by quantity
	// DiodeNumbers is the unit of a bare number in a diode row: V, mV, or empty for not said.
	DiodeNumbers string             `yaml:"diode-numbers"`
	Tolerance    map[string]float64 `yaml:"tolerance"` // percent, by quantity, of expected values that state none
	Received     struct {
		Weight    *float64           `yaml:"weight"`
		Workshops map[string]float64 `yaml:"workshops"`
	} `yaml:"received"`
	Rules struct {
		Off []string `yaml:"off"`
	} `yaml:"rules"`
	PersonalData struct {
		Allow []string `yaml:"allow"`
	} `yaml:"personal-data"`
}

// MeterRange is the accuracy of the workshop's meter in one range:
// ±(percent of reading + counts of the resolution).
type MeterRange struct {
	Range      string  `yaml:"range"`
	Percent    float64 `yaml:"percent"`
	Counts     float64 `yaml:"counts"`
	Resolution string  `yaml:"resolution"`
}

// Notebook is a loaded workshop notebook.
type Notebook struct {
	Dir      string
	Config   Config
	Terms    *terms.Vocabulary
	Cases    []*Case   // by id
	Devices  []*Device // by id
	Pages    []*Page   // of path/, by name
	Problems []diagnostic.Diagnostic

	byID      map[string]*Case
	devices   map[string]*Device
	unread    []string            // names of case files that could not be read as cases
	workshops map[string]Workshop // by what `from` says
}

// Page is a workshop's own page of the first weeks.
type Page struct {
	*casefile.Page
	ID   string // the file's name without ending
	Path string
}

// Hash identifies the content of a file.
type Hash [sha256.Size]byte

// Case is a case file in its notebook. What is private in it is blanked out: only
// those who write the file see that, through [Notebook.Whole].
type Case struct {
	*casefile.File
	Path   string  // inside the notebook, with slashes
	Hash   Hash    // of the file's bytes
	Device *Device // never nil; a device described in place has no Record
}

// otherWeight is what a case of another workshop counts for where notebook.yaml
// does not say.
const otherWeight = 0.5

// Weight is what a case counts for where past cases are evidence: 1 for our own,
// less for another workshop's as notebook.yaml says, in whole sixteenths.
func (n *Notebook) Weight(c *Case) float64 {
	from := c.File.Case.From
	if from == "" {
		return 1
	}
	w := otherWeight
	if n.Config.Received.Weight != nil {
		w = *n.Config.Received.Weight
	}
	if own, ok := n.Config.Received.Workshops[from]; ok {
		w = own
	}
	return math.Round(16*min(1, max(0, w))) / 16
}

// ID returns the case's id.
func (c *Case) ID() string { return c.File.Case.ID }

// PhotoDir returns the folder of the case's photos inside the notebook.
func (c *Case) PhotoDir() string { return path.Join(path.Dir(c.Path), c.ID()) }

// Device is a device of the notebook, with a record of its own or only
// described in cases.
type Device struct {
	ID     string // of the record, or made from maker and model
	Kind   string
	Maker  string
	Model  string
	Record *casefile.DeviceFile // nil when only cases describe it
	Boards []*Board             // those whose files the notebook holds
	Path   string
	Hash   Hash
}

// Name is what people call the device.
func (d *Device) Name(v *terms.Vocabulary) string {
	if name := strings.TrimSpace(d.Maker + " " + d.Model); name != "" {
		return name
	}
	return v.Name(terms.Kind, d.Kind)
}

// Described is the name with what kind of device it is: Tarnwick A40 (Amplifier).
func (d *Device) Described(v *terms.Vocabulary) string {
	name, kind := d.Name(v), v.Name(terms.Kind, d.Kind)
	if kind == "" || kind == name {
		return name
	}
	return name + " (" + kind + ")"
}

// Case returns the case with the id.
func (n *Notebook) Case(id string) (*Case, bool) {
	c, ok := n.byID[id]
	return c, ok
}

// Device returns the device with the id.
func (n *Notebook) Device(id string) (*Device, bool) {
	d, ok := n.devices[id]
	return d, ok
}

// Errors returns the number of problems that are errors.
func (n *Notebook) Errors() int { return diagnostic.Count(n.Problems, diagnostic.Error) }

// ErrNoFolder is returned by [Load] when there is no such folder at all.
var ErrNoFolder = errors.New("no such folder")

// ErrNoNotebook is returned by [Notebook.Exists] for a folder that holds
// neither notebook.yaml nor a case.
var ErrNoNotebook = errors.New("there is no notebook here: no notebook.yaml and no case; `benchlore start` begins one")

// Exists returns [ErrNoNotebook] when the folder is no notebook, so that nothing
// is written into a stranger's folder.
func (n *Notebook) Exists() error {
	for _, p := range n.Problems {
		if p.Rule == diagnostic.NoNotebookFile && p.Severity == diagnostic.Error {
			return fmt.Errorf("%w (%s)", ErrNoNotebook, n.Dir)
		}
	}
	return nil
}

// Load reads the notebook in dir. The error is about the folder itself;
// everything inside it is reported in Problems.
func Load(dir string) (*Notebook, error) {
	info, err := os.Stat(dir)
	if err != nil {
		return nil, fmt.Errorf("%w: %s", ErrNoFolder, dir)
	}
	if !info.IsDir() {
		return nil, fmt.Errorf("%s is a file; a notebook is a folder", dir)
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	l := newLoader(root, dir)
	l.config()
	l.n.Terms = terms.In(l.n.Config.Language)
	l.terms()
	l.devices()
	l.pages()
	l.cases()
	l.receivedFrom()
	l.crossCheck()
	l.sayHeld()
	diagnostic.Sort(l.n.Problems)
	return l.n, nil
}

// LoadSettings reads notebook.yaml and the terms, and neither device nor case,
// for those who know already what the others say. Problems says nothing.
func LoadSettings(dir string) (*Notebook, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, fmt.Errorf("%w: %s", ErrNoFolder, dir)
	}
	defer root.Close()
	l := newLoader(root, dir)
	l.trusted = true
	l.config()
	l.n.Terms = terms.In(l.n.Config.Language)
	l.terms()
	l.n.Problems = nil
	return l.n, nil
}

// WithCases returns the notebook with the named case and device files read into
// it; the one it is called on stays as it is. Rules are not applied.
func (n *Notebook) WithCases(cases, devices []string) (*Notebook, error) {
	root, err := os.OpenRoot(n.Dir)
	if err != nil {
		return nil, fmt.Errorf("%w: %s", ErrNoFolder, n.Dir)
	}
	defer root.Close()
	l := newLoader(root, n.Dir)
	l.trusted = true
	l.n.Config, l.n.Terms = n.Config, n.Terms
	l.n.Devices, l.n.devices = slices.Clone(n.Devices), maps.Clone(n.devices)
	l.parseDevices(devices)
	l.parse(cases)
	for _, c := range l.n.Cases {
		l.resolveDevice(c, nil)
	}
	l.n.Problems = nil
	return l.n, nil
}

type loader struct {
	root      *os.Root
	dir       string
	n         *Notebook
	photos    map[string][]string // folder -> its files that are not cases
	hasConfig bool
	held      map[string]int          // sections that stay in their files
	trusted   bool                    // files were checked before; no rule is applied
	elsewhere map[diagnostic.Rule]int // cases from elsewhere by what is counted of them
}

func newLoader(root *os.Root, dir string) *loader {
	return &loader{root: root, dir: dir, n: &Notebook{Dir: dir, Terms: terms.Builtin(),
		byID: map[string]*Case{}, devices: map[string]*Device{}}, photos: map[string][]string{}, held: map[string]int{}, elsewhere: map[diagnostic.Rule]int{}}
}

// show is the path as the user of the command line would type it.
func (l *loader) show(name string) string { return filepath.ToSlash(filepath.Join(l.dir, name)) }

func (l *loader) say(list ...diagnostic.Diagnostic) { l.n.Problems = append(l.n.Problems, list...) }

func (l *loader) fileProblem(name string, rule diagnostic.Rule, format string, args ...any) diagnostic.Diagnostic {
	return diagnostic.Diagnostic{File: l.show(name), Severity: diagnostic.Error, Rule: rule, Message: fmt.Sprintf(format, args...)}
}

// read returns the bytes of a regular file no larger than allowed.
func (l *loader) read(name string) ([]byte, *diagnostic.Diagnostic) {
	return l.readUpTo(name, casefile.MaxSize)
}

func (l *loader) readUpTo(name string, most int64) ([]byte, *diagnostic.Diagnostic) {
	bad := func(rule diagnostic.Rule, format string, args ...any) ([]byte, *diagnostic.Diagnostic) {
		d := l.fileProblem(name, rule, format, args...)
		return nil, &d
	}
	info, err := l.root.Stat(filepath.FromSlash(name))
	if err != nil {
		if link, lerr := l.root.Lstat(filepath.FromSlash(name)); lerr == nil && link.Mode()&fs.ModeSymlink != 0 {
			return bad(diagnostic.BadFile, "this link leads nowhere, or out of the notebook; put the file itself here")
		}
		return bad(diagnostic.BadFile, "cannot be read: %v", reason(err))
	}
	if info.IsDir() {
		return bad(diagnostic.BadFile, "this is a folder where a file should be")
	}
	if !info.Mode().IsRegular() {
		return bad(diagnostic.BadFile, "this is not an ordinary file")
	}
	if info.Size() > most {
		return bad(diagnostic.FileTooLarge, "file has %d bytes; at most %d are read. Put long logs beside the case", info.Size(), most)
	}
	src, err := disk.Ordinary(l.root, name, most)
	if err != nil {
		return bad(diagnostic.BadFile, "cannot be read: %v", reason(err))
	}
	return src, nil
}

// openly is a file's bytes without what is private in it, or why that cannot be told
// from the rest.
func openly(name string, src []byte) ([]byte, *diagnostic.Diagnostic) {
	public, err := casefile.Public(src)
	var doubt *casefile.NotCut
	if errors.As(err, &doubt) {
		d := doubt.Problem(name, src)
		d.Source = "" // which would show it
		return nil, &d
	}
	return public, nil
}

// reason strips the path that the message already begins with.
func reason(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

func (l *loader) config() {
	if _, err := l.root.Lstat("notebook.yaml"); errors.Is(err, fs.ErrNotExist) {
		l.n.Config.Name = filepath.Base(l.dir)
		return
	}
	l.hasConfig = true
	src, bad := l.read("notebook.yaml")
	if bad != nil {
		l.say(*bad)
		return
	}
	var rules *schema.Schema
	if !l.trusted {
		rules = schema.Notebook()
	}
	public, bad := openly(l.show("notebook.yaml"), src)
	if bad != nil {
		l.say(*bad)
		l.n.Config.Name = filepath.Base(l.dir)
		return
	}
	doc, list := casefile.ParseYAML(l.show("notebook.yaml"), public, rules)
	l.say(list...)
	if doc != nil {
		doc.Decode(&l.n.Config)
	}
	l.personal("notebook.yaml", public)
	if l.n.Config.Name == "" {
		l.n.Config.Name = filepath.Base(l.dir)
	}
}

func (l *loader) terms() {
	for _, name := range l.list("terms", ".yaml") {
		src, bad := l.read(name)
		if bad != nil {
			l.say(*bad)
			continue
		}
		public, bad := openly(l.show(name), src)
		if bad != nil {
			l.say(*bad)
			continue
		}
		next, list := l.n.Terms.Extend(l.show(name), public)
		l.n.Terms = next
		l.say(list...)
		l.personal(name, public)
	}
}

// personal names what looks like personal data in a file that is published but is no
// case, device or page.
func (l *loader) personal(name string, public []byte) {
	if l.trusted {
		return
	}
	l.say(casefile.Most(l.personalIn(name, public))...)
}

func (l *loader) personalIn(name string, public []byte) []diagnostic.Diagnostic {
	return casefile.Personal(diagnostic.NewText(l.show(name), public), 0, len(public), l.n.Config.PersonalData.Allow)
}

// list walks a folder and returns the files with the ending, in path order;
// other files are noted as photos.
func (l *loader) list(dir, ending string) []string {
	var names []string
	_ = fs.WalkDir(l.root.FS(), dir, func(name string, e fs.DirEntry, err error) error {
		switch {
		case err != nil:
			if name != dir || !errors.Is(err, fs.ErrNotExist) {
				l.say(l.fileProblem(name, diagnostic.BadFile, "cannot be read: %v", reason(err)))
			}
			return nil
		case strings.HasPrefix(path.Base(name), ".") && name != dir:
			if e.IsDir() {
				return fs.SkipDir
			}
			return nil
		case strings.HasSuffix(name, ending):
			names = append(names, name)
			if e.IsDir() {
				return fs.SkipDir // named when it is read
			}
		case !e.IsDir():
			l.photos[path.Dir(name)] = append(l.photos[path.Dir(name)], path.Base(name))
		}
		return nil
	})
	slices.Sort(names)
	return names
}

// each runs work for every name on all processors and keeps results in order.
func each[T any](names []string, work func(name string) T) []T {
	out := make([]T, len(names))
	parallel.Each(len(names), func(i int) { out[i] = work(names[i]) })
	return out
}

func (l *loader) pages() {
	for _, name := range l.list("path", ".md") {
		src, bad := l.read(name)
		if bad != nil {
			l.say(*bad)
			continue
		}
		public, bad := openly(l.show(name), src)
		if bad != nil {
			l.say(*bad)
			continue
		}
		p, list := casefile.ParsePage(l.show(name), public, l.n.Config.PersonalData.Allow)
		l.say(list...)
		id := strings.TrimSuffix(path.Base(name), ".md")
		switch {
		case p == nil:
		case path.Dir(name) != "path" || !terms.IDPattern.MatchString(id):
			l.say(p.Say(diagnostic.Error, diagnostic.FileName,
				fmt.Sprintf("a page of path/ is called in lower-case words joined by hyphens, such as our-tools.md, not %q", strings.TrimPrefix(name, "path/")), "title"))
		default:
			l.n.Pages = append(l.n.Pages, &Page{p, id, name})
		}
	}
}

func (l *loader) devices() {
	l.parseDevices(l.list("devices", ".md"))
	l.boards()
}

func (l *loader) parseDevices(names []string) {
	type result struct {
		device *Device
		list   []diagnostic.Diagnostic
		held   []casefile.Held
	}
	results := each(names, func(name string) result {
		src, bad := l.read(name)
		if bad != nil {
			return result{list: []diagnostic.Diagnostic{*bad}}
		}
		public, bad := openly(l.show(name), src)
		if bad != nil {
			return result{list: []diagnostic.Diagnostic{*bad}}
		}
		if l.trusted {
			out, _ := casefile.Released(public, l.goesOut(casefile.DeviceSections))
			f := casefile.ReadDevice(l.show(name), out)
			if f == nil {
				return result{}
			}
			return result{device: deviceOf(f, name, hashOf(src, public, out))}
		}
		f, list := casefile.ParseDevice(l.show(name), public)
		if f == nil {
			return result{nil, casefile.Most(list), nil}
		}
		f, held := f.Release(l.n.Config.Site.Sections)
		list = append(list, f.Check(l.n.Terms, l.n.Config.PersonalData.Allow)...)
		return result{deviceOf(f, name, hashOf(src, public, f.Text.Bytes)), casefile.Most(list), held}
	})
	for _, r := range results {
		l.say(r.list...)
		l.hold(r.held)
		if r.device != nil {
			l.named(r.device.Record.Document, "device", r.device.ID)
		}
		if r.device == nil || !casefile.ValidDeviceID(r.device.ID) {
			continue // ids become names of files; the schema has named a wrong one
		}
		if first, ok := l.n.devices[r.device.ID]; ok {
			l.say(r.device.Record.Say(diagnostic.Error, diagnostic.IDTwice,
				fmt.Sprintf("device %q is already in %s", r.device.ID, first.Path), "device"))
			continue
		}
		l.n.devices[r.device.ID] = r.device
		l.n.Devices = append(l.n.Devices, r.device)
	}
}

// goesOut are the sections of a kind of file that go out.
func (l *loader) goesOut(known []string) []string {
	return slices.Concat(known, l.n.Config.Site.Sections)
}

// hashOf is the hash of a file: of its bytes, or of what goes out of them where that
// hangs on the settings.
func hashOf(src, public, out []byte) Hash {
	if bytes.Equal(public, out) {
		return sha256.Sum256(src)
	}
	return sha256.Sum256(slices.Concat(src, out))
}

// hold notes which sections stay in their file.
func (l *loader) hold(list []casefile.Held) {
	for _, h := range list {
		l.held[strings.TrimSpace(h.Name)]++
	}
}

// sayHeld names once what stays in the files, with the line that would give it out.
func (l *loader) sayHeld() {
	if len(l.held) == 0 {
		return
	}
	d := diagnostic.Diagnostic{File: l.show("notebook.yaml"), Severity: diagnostic.Note, Rule: diagnostic.SectionHeld}
	var parts []string
	var names []string
	for _, name := range slices.Sorted(maps.Keys(l.held)) {
		if name == "" {
			parts = append(parts, fmt.Sprintf("what stands before the first heading (%d; put it under one)", l.held[name]))
			continue
		}
		parts = append(parts, fmt.Sprintf("%q (%d)", name, l.held[name]))
		names = append(names, name)
	}
	const most = 8
	if len(parts) > most {
		parts = append(parts[:most], fmt.Sprintf("%d more", len(parts)-most))
	}
	d.Message = "stays in the files, never shown, packed or exported: " + strings.Join(parts, ", ")
	if len(names) > 0 {
		all := slices.Concat(l.n.Config.Site.Sections, names[:min(most, len(names))])
		for i, name := range all {
			if strings.IndexFunc(name, func(r rune) bool { return !unicode.IsLetter(r) && r != ' ' }) >= 0 {
				all[i] = strconv.Quote(name)
			}
		}
		d.Message += "; to give a section out, name it in notebook.yaml: site: {sections: [" + strings.Join(all, ", ") + "]}"
	}
	l.say(d)
}

func deviceOf(f *casefile.DeviceFile, name string, hash Hash) *Device {
	r := f.Device
	return &Device{ID: r.ID, Kind: r.Kind, Maker: r.Maker, Model: r.Model, Record: f, Path: name, Hash: hash}
}

func (l *loader) cases() {
	names := l.list("cases", ".md")
	l.parse(names)
	if len(names) == 0 {
		d := diagnostic.Diagnostic{File: filepath.ToSlash(l.dir), Severity: diagnostic.Warning, Rule: diagnostic.EmptyNotebook,
			Message: "the notebook holds no case yet; `benchlore writeup` begins one"}
		if !l.hasConfig {
			d.Severity, d.Rule = diagnostic.Error, diagnostic.NoNotebookFile
			d.Message = ErrNoNotebook.Error()
		}
		l.say(d)
	} else if !l.hasConfig {
		l.say(diagnostic.Diagnostic{File: filepath.ToSlash(l.dir), Severity: diagnostic.Warning, Rule: diagnostic.NoNotebookFile,
			Message: "notebook.yaml is missing; a line such as `name: Our workshop` is enough"})
	}
}

// parse reads the named case files in parallel and keeps them by id.
func (l *loader) parse(names []string) {
	type result struct {
		c    *Case
		list []diagnostic.Diagnostic
		held []casefile.Held
	}
	results := each(names, func(name string) result {
		src, bad := l.read(name)
		if bad != nil {
			return result{list: []diagnostic.Diagnostic{*bad}}
		}
		public, bad := openly(l.show(name), src)
		if bad != nil {
			return result{list: []diagnostic.Diagnostic{*bad}}
		}
		if l.trusted {
			out, _ := casefile.Released(public, l.goesOut(casefile.CaseSections))
			f := casefile.Read(l.show(name), out)
			if f == nil {
				return result{}
			}
			f.DropTree()
			return result{c: &Case{File: f, Path: name, Hash: hashOf(src, public, out)}}
		}
		f, list := casefile.Parse(l.show(name), public)
		if f == nil {
			return result{list: casefile.Most(list)}
		}
		f, held := f.Release(l.n.Config.Site.Sections)
		list = append(list, f.Check(l.n.Terms, l.n.Config.PersonalData.Allow)...)
		f.DropTree()
		return result{&Case{File: f, Path: name, Hash: hashOf(src, public, f.Bytes())}, casefile.Most(list), held}
	})
	for _, r := range results {
		l.hold(r.held)
		if r.c != nil && !l.trusted {
			l.named(r.c.Document, "case", r.c.ID())
		}
	}
	same := map[string][]*Case{} // ids that differ in case alone would share a page
	problems := map[*Case][]diagnostic.Diagnostic{}
	for i, r := range results {
		if r.c == nil || !casefile.ValidID(r.c.ID()) {
			l.n.unread = append(l.n.unread, path.Base(names[i]))
			l.say(r.list...)
			continue // ids become names of files; the schema has named a wrong one
		}
		key := strings.ToLower(r.c.ID())
		same[key] = append(same[key], r.c)
		problems[r.c] = l.counted(r.c, r.list)
	}
	for _, files := range same {
		c := files[original(files)]
		l.say(problems[c]...)
		l.n.byID[c.ID()] = c
		l.n.Cases = append(l.n.Cases, c)
	}
	slices.SortFunc(l.n.Cases, func(a, b *Case) int { return strings.Compare(a.ID(), b.ID()) })
	if l.trusted {
		return
	}
	for _, c := range l.n.Cases { // in their order: a map has none
		for _, o := range same[strings.ToLower(c.ID())] {
			if o != c {
				l.say(l.twice(c, o))
				l.say(besides(problems[o], problems[c], copied(c, o))...)
			}
		}
	}
}

// named says of an id that becomes the name of files why some system refuses that.
func (l *loader) named(d *casefile.Document, key, id string) {
	if err := filename.Check(id); id != "" && err != nil {
		l.say(d.Say(diagnostic.Error, diagnostic.FileName, fmt.Sprintf("files are called by this: %v", err), key))
	}
}

// crossCheck applies the rules between files.
func (l *loader) crossCheck() {
	var deviceIDs, caseIDs []string
	for _, d := range l.n.Devices {
		deviceIDs = append(deviceIDs, d.ID)
	}
	for _, c := range l.n.Cases {
		caseIDs = append(caseIDs, c.ID())
	}
	forms := sync.OnceValue(l.n.forms)
	for _, c := range l.n.Cases {
		l.resolveDevice(c, deviceIDs)
		l.checkReturn(c, caseIDs)
		l.checkPhotos(c)
		l.checkPictures(c)
		l.checkMentions(c, forms)
		l.checkBoard(c)
	}
	l.imported()
	for _, d := range l.n.Devices {
		l.checkDevice(d)
	}
	slices.SortFunc(l.n.Devices, func(a, b *Device) int { return cmp.Compare(a.ID, b.ID) })
}

func (l *loader) resolveDevice(c *Case, known []string) {
	d := c.File.Case.Device
	if d.ID != "" {
		if found, ok := l.n.devices[d.ID]; ok && found.Record != nil {
			c.Device = found
			return
		}
		message := fmt.Sprintf("there is no devices/%s.md", d.ID)
		if _, ok := l.n.Terms.Lookup(terms.Kind, d.ID); ok {
			message += fmt.Sprintf("; for a kind of device write device: {kind: %s}", d.ID)
		}
		bad := c.Say(diagnostic.Error, diagnostic.UnknownDevice, message, "device")
		bad.Suggestion = terms.Nearest(d.ID, known)
		l.say(bad)
		c.Device = &Device{ID: d.ID, Kind: "misc", Model: d.ID}
		return
	}
	kind := cmp.Or(d.Kind, "misc")
	id := casefile.Slug(d.Maker + " " + d.Model)
	if id == "" {
		id = "any-" + kind
	}
	if found, ok := l.n.devices[id]; ok {
		c.Device = found
		return
	}
	c.Device = &Device{ID: id, Kind: kind, Maker: d.Maker, Model: d.Model}
	l.n.devices[id] = c.Device
	l.n.Devices = append(l.n.Devices, c.Device)
}

func (l *loader) checkReturn(c *Case, known []string) {
	id := c.File.Case.Returns
	if id == "" {
		return
	}
	earlier, ok := l.n.byID[id]
	switch {
	case id == c.ID():
		l.say(c.Say(diagnostic.Error, diagnostic.ReturnOrder, "a case cannot be a comeback of itself", "returns"))
	case !ok:
		bad := c.Say(diagnostic.Error, diagnostic.UnknownCase, fmt.Sprintf("the notebook holds no case %q", id), "returns")
		bad.Suggestion = terms.Nearest(id, known)
		l.say(bad)
	case earlier.File.Case.Opened > c.File.Case.Opened:
		l.say(c.Say(diagnostic.Error, diagnostic.ReturnOrder,
			fmt.Sprintf("case %s was opened later (%s) than this one", id, earlier.File.Case.Opened), "returns"))
	}
}

func (l *loader) checkPhotos(c *Case) {
	photos := c.File.Case.Photos
	if len(photos) == 0 {
		return
	}
	defer c.KeepTree()() // every problem is placed by it
	var list []diagnostic.Diagnostic
	say := func(d diagnostic.Diagnostic) { list = append(list, d) }
	defer func() { l.say(casefile.Most(list)...) }()
	lie, known, folded := map[string]bool{}, map[string]bool{}, map[string]string{}
	for _, name := range l.photos[c.PhotoDir()] {
		lie[name] = true
	}
	for _, p := range photos {
		known[p.File] = true
	}
	missing := 0
	for i, p := range photos {
		if strings.ContainsAny(p.File, "/\\") || p.File == "" {
			say(c.Say(diagnostic.Error, diagnostic.PathEscape,
				"a photo lies in the case's own folder; write its file name alone", "photos", strconv.Itoa(i), "file"))
			continue
		}
		if err := filename.Check(p.File); err != nil {
			say(c.Say(diagnostic.Error, diagnostic.FileName, fmt.Sprintf("%q is no name for a photo: %v", p.File, err), "photos", strconv.Itoa(i), "file"))
			continue
		}
		if other, ok := folded[filename.Fold(p.File)]; ok && other != p.File {
			say(c.Say(diagnostic.Error, diagnostic.FileName, fmt.Sprintf("%q and %q would be one file on some systems", other, p.File), "photos", strconv.Itoa(i), "file"))
		}
		folded[filename.Fold(p.File)] = p.File
		name := path.Join(c.PhotoDir(), p.File)
		if p.Compare != "" && !known[p.Compare] {
			say(c.Say(diagnostic.Error, diagnostic.MissingPhoto,
				fmt.Sprintf("there is no picture %q among photos to compare with", p.Compare), "photos", strconv.Itoa(i), "compare"))
		}
		if lie[p.File] {
			if info, err := l.root.Stat(filepath.FromSlash(name)); err == nil && info.Mode().IsRegular() {
				l.checkDrawing(name, info.Size())
				continue
			}
			say(c.Say(diagnostic.Error, diagnostic.BadFile,
				"this photo is a link that leads nowhere or out of the notebook, or not a file", "photos", strconv.Itoa(i), "file"))
			continue
		}
		bad := c.Say(diagnostic.Error, diagnostic.MissingPhoto, fmt.Sprintf("there is no %s", name), "photos", strconv.Itoa(i), "file")
		if missing++; missing <= casefile.MostSuggested {
			bad.Suggestion = terms.Nearest(p.File, l.photos[c.PhotoDir()])
		}
		say(bad)
	}
}

// maxDrawing is the largest drawing that is published, in bytes.
const maxDrawing = 20 << 20

// checkDrawing looks for personal data among the words of a drawing, which are read
// where they are shown.
func (l *loader) checkDrawing(name string, size int64) {
	if l.trusted || !strings.EqualFold(path.Ext(name), ".svg") || size > maxDrawing {
		return // a larger one is not published
	}
	src, bad := l.readUpTo(name, maxDrawing)
	if bad != nil {
		l.say(*bad)
		return
	}
	text := diagnostic.NewText(l.show(name), src)
	d := xml.NewDecoder(bytes.NewReader(src))
	var list []diagnostic.Diagnostic
	defer func() { l.say(casefile.Most(list)...) }()
	words, from := []byte(nil), -1 // of a text element, and where they begin
	for {
		before := int(d.InputOffset())
		token, err := d.RawToken()
		if err != nil {
			return // what cannot be read is refused when it is published
		}
		switch t := token.(type) {
		case xml.StartElement:
			if t.Name.Local == "text" && from < 0 {
				words, from = nil, int(d.InputOffset())
			}
		case xml.CharData:
			if from >= 0 {
				words = append(words, t...)
			}
		case xml.EndElement:
			if t.Name.Local == "text" && from >= 0 {
				whole := diagnostic.NewText("", words)
				for _, found := range casefile.Personal(whole, 0, len(words), l.n.Config.PersonalData.Allow) {
					list = append(list, text.At(from, before, found.Severity, found.Rule, found.Message))
				}
				from = -1
			}
		}
	}
}

// TermsHash identifies the vocabulary, so that what was derived with another
// one is made anew.
func (n *Notebook) TermsHash() string {
	h := sha256.New()
	fmt.Fprintln(h, n.Terms.Language().Tag, terms.LexiconSum())
	for _, c := range terms.Classes {
		for _, t := range n.Terms.All(c) {
			fmt.Fprintf(h, "%s\x00%s\x00%s\x00%q\n", c, t.ID, t.Name, t.Also)
		}
	}
	return fmt.Sprintf("%x", h.Sum(nil)[:12])
}
