// Package site publishes a notebook as pages that need no server and no
// network: relative links, no request to elsewhere, a strict content security
// policy, and raw HTML shown as text.
//
// [Publish] is the whole of it. Equal notebooks give equal bytes. Files are
// written to a staging folder first, then moved into place one by one, and a
// file whose bytes did not change is left alone, so that an interrupted run
// leaves a site that can be read. Only files that an earlier run wrote are ever
// removed.
package site

import (
	"bytes"
	"cmp"
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"html/template"
	"image"
	_ "image/jpeg" // sizes
	_ "image/png"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/tdewolff/minify/v2"
	"github.com/tdewolff/minify/v2/css"
	"github.com/tdewolff/minify/v2/js"
	"github.com/yuin/goldmark"

	"benchlore/build/disk"
	"benchlore/build/learn/practice"
	"benchlore/build/notebook"
	"benchlore/build/output/picture"
	"benchlore/build/output/wording"
	"benchlore/build/parallel"
	cautions "benchlore/build/reason/hazard"
	"benchlore/build/reason/method"
	"benchlore/build/reason/search"
	"benchlore/build/reason/similar"
	"benchlore/build/reason/triage"
	"benchlore/build/reason/verdict"
	"benchlore/schema"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
	"benchlore/theme"
)

// Options of a run.
type Options struct {
	// Progress is told how many of the files are done; it may be nil.
	Progress func(done, total int)
	// Background leaves a processor and the disk to others: one page at a time, and
	// nothing waits until it is on the disk. It is for pages that are made again
	// whenever they are needed.
	Background bool
}

// Report says what a run did.
type Report struct {
	Files   int // in the site
	Written int // that were new or changed
	Removed int // that an earlier run wrote and this one did not
	// Problems are pictures that could not be published.
	Problems []diagnostic.Diagnostic

	published map[string]bool // names of the files
}

// ErrNotASite is returned when the target folder holds files that no earlier
// run wrote.
var ErrNotASite = errors.New("the folder holds files that are not of a published site")

// manifestName is the list of what a run wrote, with hashes.
const manifestName = "benchlore-site.json"

type manifest struct {
	Files map[string]string `json:"files"`
	// Mark shows that this installation wrote the list. Only files of such a list are
	// ever removed: one that came along with a folder could name anything.
	Mark string `json:"mark,omitempty"`
}

// mark is what the manifest's mark should be.
func (m manifest) mark() string {
	data, err := json.Marshal(m.Files)
	if err != nil {
		return ""
	}
	return disk.Mark("site\x00" + string(data))
}

type site struct {
	n          *notebook.Notebook
	texts      *wording.Texts
	similar    *similar.Model
	judge      *verdict.Judge
	history    *triage.History
	methods    []method.Method
	markdown   goldmark.Markdown // of sections, which have a heading
	markdown2  goldmark.Markdown // of whole pages
	templates  *template.Template
	nav        map[string]template.HTML
	lists      lists
	cautioned  map[*notebook.Case]cautions.Warnings // what is said before a case
	explainer  *explainer
	photos     map[string]bool   // "id/file" that are published
	sizes      map[string][2]int // of published pictures by their place, width and height in pixels
	report     Report
	background bool
	credit     string
	others     bool // cases of other workshops are among them
	cache      *cache
	global     digest            // of what every page is made with
	said       map[string]uint64 // what lists say of a case, by id
	devices    map[string]digest // the hashes of a device's cases, by id
	neighbour  func(c *notebook.Case) uint64
	fit        []practice.Entry // cases fit for practice, the commonest causes first
	exercises  map[string]bool  // ids of those of them that are offered
	found      sync.Map         // by device, what its pictures and readings tell of its boards
	ahead      ahead
}

// job makes one file of the site. Its plan gives a key of everything that the
// file is made from, and how to make it; the key is empty where only the bytes
// can tell.
type job struct {
	path string
	plan func() (digest, func() ([]byte, error), error)
}

// templates are the pages' templates, saying their texts in the given language.
func templates(texts *wording.Texts) *template.Template {
	return template.Must(template.New("").Funcs(texts.Funcs()).ParseFS(theme.Templates, "templates/*.html"))
}

// newSite prepares what every page is made with.
func newSite(n *notebook.Notebook) *site {
	texts := wording.In(n.Config.Language)
	return &site{n: n, texts: texts, explainer: newExplainer(n.Terms), markdown: newMarkdown(3),
		markdown2: newMarkdown(2), templates: templates(texts), nav: map[string]template.HTML{},
		sizes: map[string][2]int{}, photos: map[string]bool{}}
}

// t says a text in the notebook's language, and count a number of things.
func (s *site) t(english string, args ...any) string { return s.texts.Say(english, args...) }

func (s *site) count(n int, one, many string) string { return s.texts.Count(n, one, many) }

// Publish writes the site of a notebook to the folder out.
func Publish(ctx context.Context, n *notebook.Notebook, out string, o Options) (*Report, error) {
	leave, err := lockPublishing(ctx, n)
	if err != nil {
		return nil, err
	}
	defer leave()
	old, err := prepare(n, out)
	if err != nil {
		return nil, err
	}
	s := newSite(n)
	s.background = o.Background
	// The search index and what pages say of each other are made side by side.
	var shards []search.Shard
	exported := make(chan error, 1)
	var indexing sync.WaitGroup
	indexing.Go(func() {
		var err error
		shards, err = s.searchShards()
		exported <- err
	})
	defer indexing.Wait() // whatever ends the run, nothing of it goes on
	s.judge = verdict.New(n)
	s.history = triage.NewHistory(n)
	if s.methods, err = method.Of(n.Dir, n.Terms); err != nil {
		return nil, err
	}
	s.similar = similar.New(n, s.judge)
	for _, root := range []string{"", "../", "../../"} {
		var b strings.Builder
		if err := s.templates.ExecuteTemplate(&b, "nav", root); err != nil {
			return nil, err
		}
		s.nav[root] = template.HTML(b.String())
	}
	s.credit = s.credits()
	s.others = slices.ContainsFunc(n.Cases, func(c *notebook.Case) bool { return c.File.Case.From != "" })
	s.makeLists()
	s.makeExercises()
	s.makeKeys(out)
	jobs, err := s.jobs()
	if err != nil {
		return nil, err
	}
	index := func() ([]job, error) {
		if err := <-exported; err != nil {
			return nil, err
		}
		var more []job
		for _, shard := range shards {
			more = append(more, raw("search/"+shard.Name, shard.Data))
		}
		return more, nil
	}
	if err := s.write(ctx, out, jobs, index, old, o.Progress); err != nil {
		return nil, err
	}
	s.cache.save()
	if !o.Background { // else it is nobody's but the writing server's
		remember(n.Dir, out)
	}
	return &s.report, nil
}

// mostCredits is how many sources every page names; each case names its own.
const mostCredits = 12

// credits says whose data the notebook includes, each source once.
func (s *site) credits() string {
	var list []string
	for _, c := range s.n.Cases {
		credit, licence := s.whose(c)
		if credit == "" {
			continue
		}
		one := s.t("Includes %s (%s).", credit, licence)
		if licence == "" {
			one = s.t("Includes %s; its licence is not stated.", credit)
		}
		if !slices.Contains(list, one) {
			list = append(list, one)
		}
		if len(list) > mostCredits {
			return strings.Join(append(list[:mostCredits], s.t("More sources are named in their cases.")), " ")
		}
	}
	return strings.Join(list, " ")
}

// whose says whose a case is and under which licence, both empty for our own.
func (s *site) whose(c *notebook.Case) (credit, licence string) {
	k := &c.File.Case
	if src := k.Source; src != nil && src.Credit != "" {
		return src.Credit, src.Licence
	}
	if k.From == "" {
		return "", ""
	}
	w := s.n.Workshop(k.From)
	return s.t("cases of %s", w.Name), w.Licence
}

// lockPublishing waits until no other process publishes this notebook. Where no lock can
// be had, as in a folder that cannot be written to, nobody waits.
func lockPublishing(ctx context.Context, n *notebook.Notebook) (leave func(), err error) {
	name, ok := disk.Derived(n.Dir, "publishing")
	if !ok || disk.Folder(n.Dir).MkdirAll(".benchlore") != nil {
		return func() {}, nil
	}
	lock := disk.LockFile(filepath.Join(n.Dir, filepath.FromSlash(name)))
	if _, err := lock.TryLockContext(ctx, 50*time.Millisecond); ctx.Err() != nil {
		return nil, context.Cause(ctx)
	} else if err != nil {
		return func() {}, nil
	}
	return func() { _ = lock.Unlock() }, nil
}

// clearStaged removes what a run that was killed had staged.
func clearStaged(out string) {
	left, _ := filepath.Glob(filepath.Join(out, stagingPrefix+"*"))
	for _, dir := range left {
		_ = disk.Folder(out).RemoveAll(filepath.Base(dir))
	}
}

// stagingPrefix begins the names of folders in which pages wait for all others.
const stagingPrefix = ".staging-"

func (s *site) frame(root, title string) frame {
	name, about := s.n.Config.Name, title
	if title != name {
		title += " · " + name
	}
	lang := cmp.Or(s.n.Config.Language, "en")
	nav := s.nav[root]
	if root == "" { // the pages of the bar itself
		here := `">` + html.EscapeString(about) + `</a>`
		nav = template.HTML(strings.Replace(string(nav), here, `" aria-current="page`+here, 1))
	}
	return frame{Root: root, Title: title, About: about, Workshop: name, Lang: lang, Licence: s.n.Config.Site.Licence,
		Credit: s.credit, Others: s.others, Nav: nav}
}

func escaped(s string) template.HTML { return template.HTML(html.EscapeString(s)) }

// prepare checks that out may be written to and reads the last run's manifest.
func prepare(n *notebook.Notebook, out string) (manifest, error) {
	var m manifest
	abs, err := filepath.Abs(out)
	if err != nil {
		return m, err
	}
	book, err := filepath.Abs(n.Dir)
	if err != nil {
		return m, err
	}
	inside, err := filepath.Rel(book, abs)
	if err == nil && (inside == "." || first(inside) == "cases" || first(inside) == "devices" || first(inside) == "terms") {
		return m, fmt.Errorf("%s belongs to the notebook itself; publish to another folder", out)
	}
	info, err := os.Stat(out)
	if errors.Is(err, fs.ErrNotExist) {
		return m, nil
	}
	if err != nil {
		return m, err
	}
	if !info.IsDir() {
		return m, fmt.Errorf("%s is a file; a site is a folder", out)
	}
	data, err := disk.ReadFile(filepath.Join(out, manifestName), disk.MaxDerived)
	if err == nil && json.Unmarshal(data, &m) == nil {
		if m.Mark == "" || m.Mark != m.mark() {
			m.Files = nil // a site, but who wrote the list is not known
		}
		return m, nil
	}
	entries, err := os.ReadDir(out)
	if err != nil {
		return m, err
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), ".") && e.Name() != manifestName {
			return m, fmt.Errorf("%w: %s", ErrNotASite, out)
		}
	}
	return m, nil
}

func first(p string) string {
	p, _, _ = strings.Cut(filepath.ToSlash(p), "/")
	return p
}

// page is a page whose model is quick to make: the key is the model's.
func (s *site) page(name, template string, model func() (any, error)) job {
	return job{name, func() (digest, func() ([]byte, error), error) {
		m, err := model()
		if err != nil {
			return digest{}, nil, fmt.Errorf("%s: %w", name, err)
		}
		text, err := json.Marshal(m)
		if err != nil {
			return digest{}, nil, err
		}
		return s.key(template, text), func() ([]byte, error) { return s.render(template, m) }, nil
	}}
}

// raw is a file whose bytes are there already.
func raw(name string, data []byte) job {
	return job{name, func() (digest, func() ([]byte, error), error) {
		return digest{}, func() ([]byte, error) { return data, nil }, nil
	}}
}

func always[M any](model M) func() (any, error) { return func() (any, error) { return model, nil } }

func (s *site) render(template string, model any) ([]byte, error) {
	var b bytes.Buffer
	if err := s.templates.ExecuteTemplate(&b, template, model); err != nil {
		return nil, err
	}
	if f, ok := model.(framed); ok {
		return s.explain(b.Bytes(), f.frameOf().Root, f.frameOf().About), nil
	}
	return b.Bytes(), nil
}

// framed are the pages whose words are explained where they stand.
type framed interface{ frameOf() *frame }

func (p casePage) frameOf() *frame   { return &p.Frame }
func (p devicePage) frameOf() *frame { return &p.Frame }
func (p listPage) frameOf() *frame   { return &p.Frame }
func (p stepPage) frameOf() *frame   { return &p.Frame }
func (p hazardPage) frameOf() *frame { return &p.Frame }

// jobs lists every file of the site. Photos are looked at while the list is
// made, since pages show only those that can be published.
func (s *site) jobs() ([]job, error) {
	var jobs []job
	assets, err := fs.Sub(theme.Assets, "assets")
	if err != nil {
		return nil, err
	}
	err = fs.WalkDir(assets, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		data, err := fs.ReadFile(assets, name)
		if name == "say.js" {
			data, err = s.texts.Script()
		}
		if err == nil {
			data, err = lighter(name, data)
		}
		jobs = append(jobs, raw("assets/"+name, data))
		return err
	})
	if err != nil {
		return nil, err
	}
	jobs = append(jobs, raw("schema/case.schema.json", schema.CaseJSON), raw("schema/device.schema.json", schema.DeviceJSON),
		raw("schema/notebook.schema.json", schema.NotebookJSON), raw("schema/page.schema.json", schema.PageJSON))
	photos, err := s.photoJobs()
	if err != nil {
		return nil, err
	}
	jobs = append(jobs, photos...)
	for _, c := range s.n.Cases {
		jobs = append(jobs, s.caseJob(c), s.dataJob(c))
	}
	for _, t := range s.n.Terms.All(terms.Symptom) {
		if len(s.lists.symptom[t.ID]) > 0 {
			jobs = append(jobs, s.page("symptoms/"+t.ID+".html", "list", func() (any, error) { return s.symptomPage(t), nil }))
		}
	}
	for _, t := range s.n.Terms.All(terms.Fault) {
		if len(s.lists.fault[t.ID]) > 0 {
			jobs = append(jobs, s.page("faults/"+t.ID+".html", "list", func() (any, error) { return s.faultPage(t), nil }))
		}
	}
	for _, t := range s.n.Terms.All(terms.Hazard) {
		jobs = append(jobs, s.page(hazardPath(t.ID), "hazard", func() (any, error) { return s.hazardPage(t), nil }))
	}
	for _, d := range s.n.Devices {
		jobs = append(jobs, s.deviceJobs(d)...)
	}
	for slug := range s.lists.part {
		jobs = append(jobs, s.page("parts/"+slug+".html", "list", func() (any, error) { return s.partPage(slug), nil }))
	}
	for year := range s.lists.year {
		jobs = append(jobs, s.page("years/"+year+".html", "list", func() (any, error) { return s.yearPage(year), nil }))
	}
	tables, err := reckonTables()
	if err != nil {
		return nil, err
	}
	formulas, err := s.reckonFormulas()
	if err != nil {
		return nil, err
	}
	feed, err := s.feed()
	if err != nil {
		return nil, err
	}
	marks, err := reckonMarks()
	if err != nil {
		return nil, err
	}
	parts, err := reckonParts()
	if err != nil {
		return nil, err
	}
	docs, err := s.docJobs()
	if err != nil {
		return nil, err
	}
	jobs = append(jobs, docs...)
	jobs = append(jobs, s.triageJobs()...)
	jobs = append(jobs,
		s.page("figures.html", "figures", always(s.figuresPage())),
		raw("feed.xml", feed),
		raw("reckon/tables.js", tables),
		raw("reckon/formulas.js", formulas),
		raw("reckon/marks.js", marks),
		raw("reckon/parts.js", parts),
		s.page("cases.html", "list", always(s.casesPage())),
		s.page("symptoms.html", "list", always(s.symptomsPage())),
		s.page("devices.html", "list", always(s.devicesPage())),
		s.page("faults.html", "list", always(s.faultsPage())),
		s.page("parts.html", "list", always(s.partsPage())),
		s.page("reckon.html", "reckon", always(s.reckonPage())),
		s.page("words.html", "words", always(s.wordsPage())),
		s.page("cautions.html", "hazards", always(s.hazardsPage())),
		s.page("licences.html", "licences", always(s.licencesPage())),
		s.page("search.html", "search", always(s.searchPage())),
		s.page("index.html", "home", always(s.home())))
	seen := map[string]bool{}
	for _, j := range jobs {
		folded := strings.ToLower(j.path)
		if seen[folded] {
			return nil, fmt.Errorf("two pages would be written to %s", j.path)
		}
		seen[folded] = true
	}
	return jobs, nil
}

// lighten takes remarks, indentation and long local names out of styles and scripts:
// a page is carried on sticks and opened on slow machines.
var lighten = func() *minify.M {
	m := minify.New()
	m.AddFunc("text/css", css.Minify)
	m.AddFunc("application/javascript", js.Minify)
	return m
}()

func lighter(name string, data []byte) ([]byte, error) {
	switch path.Ext(name) {
	case ".css":
		return lighten.Bytes("text/css", data)
	case ".js":
		return lighten.Bytes("application/javascript", data)
	}
	return data, nil
}

// photoJobs reads and cleans the pictures that cases name.
func (s *site) photoJobs() ([]job, error) {
	root, err := os.OpenRoot(s.n.Dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	s.cleanAhead(root)
	var jobs []job
	for _, c := range s.n.Cases {
		for i, p := range c.File.Case.Photos {
			if s.photos[c.ID()+"/"+p.File] || strings.ContainsAny(p.File, "/\\") {
				continue
			}
			j, err := s.pictureJob(root, path.Join(c.PhotoDir(), p.File), "photos/"+c.ID()+"/"+p.File)
			if err != nil {
				if !errors.Is(err, fs.ErrNotExist) { // a missing photo is check's to name
					s.report.Problems = append(s.report.Problems, c.Say(diagnostic.Warning, diagnostic.BadFile,
						"this picture is not published: "+err.Error(), "photos", fmt.Sprint(i), "file"))
				}
				continue
			}
			s.photos[c.ID()+"/"+p.File] = true
			jobs = append(jobs, j)
			if small, ok := s.smallJob(root, path.Join(c.PhotoDir(), p.File), smallPhoto(c.ID(), p.File)); ok {
				s.photos[smallPhoto(c.ID(), p.File)] = true
				jobs = append(jobs, small)
			}
		}
	}
	return append(jobs, s.viewJobs(root)...), nil
}

// pictureJob publishes a picture of the notebook; the error says why it cannot
// be published.
func (s *site) pictureJob(root *os.Root, name, target string) (job, error) {
	key := s.photoKey(root, name)
	old := s.cache.old[target]
	s.sizes[target] = [2]int{old.Width, old.Height}
	if key == (digest{}) || old.Key != key || old.Width == 0 {
		data, err := s.readPhoto(root, name)
		if err != nil {
			return job{}, err
		}
		if c, _, err := image.DecodeConfig(bytes.NewReader(data)); err == nil { // what cannot be measured has no size
			s.sizes[target] = [2]int{c.Width, c.Height}
		}
	}
	return job{target, func() (digest, func() ([]byte, error), error) {
		return key, func() ([]byte, error) {
			root, err := os.OpenRoot(s.n.Dir)
			if err != nil {
				return nil, err
			}
			defer root.Close()
			return s.readPhoto(root, name)
		}, nil
	}}, nil
}

// smallFolder holds the pictures for small screens, beside the others; no file of
// a case's folder can be called so, since that has no ending.
const (
	smallFolder = "small"
	smallWidth  = 800 // pixels
)

func smallPhoto(id, file string) string { return "photos/" + id + "/" + smallFolder + "/" + file }

// smallJob makes a picture for small screens; ok is false where the picture is
// not wider than that.
func (s *site) smallJob(root *os.Root, name, target string) (job, bool) {
	whole := s.photoKey(root, name)
	key := s.key("small", whole[:])
	big := "photos/" + strings.Replace(strings.TrimPrefix(target, "photos/"), "/"+smallFolder+"/", "/", 1)
	old, had := s.cache.old[target]
	if known := s.cache.old[big]; known.Key == whole && !(had && old.Key == key) {
		return job{}, false // it was looked at before and is not wide
	}
	var data []byte
	if !had || old.Key != key {
		whole, err := s.readPhoto(root, name)
		if err != nil {
			return job{}, false
		}
		var ok bool
		if data, ok = picture.Smaller(whole, smallWidth); !ok {
			return job{}, false
		}
	}
	return job{target, func() (digest, func() ([]byte, error), error) {
		return key, func() ([]byte, error) {
			if data != nil {
				return data, nil
			}
			root, err := os.OpenRoot(s.n.Dir)
			if err != nil {
				return nil, err
			}
			defer root.Close()
			whole, err := s.readPhoto(root, name)
			if err != nil {
				return nil, err
			}
			small, ok := picture.Smaller(whole, smallWidth)
			if !ok {
				return nil, fmt.Errorf("%s cannot be made smaller", name)
			}
			return small, nil
		}, nil
	}}, true
}

// aheadBytes is how much of the pictures that were written anew is kept until it is
// published, in bytes.
const aheadBytes = 128 << 20

// ahead holds pictures that were written anew, by their name in the notebook: each is
// needed to know whether and how large it is published, to publish it, and to make it
// smaller.
type ahead struct {
	mu   sync.Mutex
	kept map[string][]byte
	size int
}

// cleanAhead writes the pictures that changed anew on all processors, as many as are kept.
func (s *site) cleanAhead(root *os.Root) {
	var names []string
	seen := map[string]bool{}
	look := func(file, name, target string) {
		if file == "" || strings.ContainsAny(file, "/\\") || seen[name] {
			return
		}
		seen[name] = true
		key := s.photoKey(root, name)
		if old := s.cache.old[target]; key != (digest{}) && old.Key != key {
			names = append(names, name)
		}
	}
	for _, c := range s.n.Cases {
		for _, p := range c.File.Case.Photos {
			look(p.File, path.Join(c.PhotoDir(), p.File), "photos/"+c.ID()+"/"+p.File)
		}
	}
	for _, d := range s.n.Devices {
		if d.Record == nil {
			continue
		}
		for _, v := range d.Record.Device.Views {
			look(v.Picture, path.Join("devices", d.ID, v.Picture), sitePhoto(d, v.Picture))
		}
	}
	parallel.Each(len(names), func(i int) {
		s.ahead.mu.Lock()
		full := s.ahead.size >= aheadBytes
		s.ahead.mu.Unlock()
		if full {
			return
		}
		data, err := readPhoto(root, names[i])
		if err != nil {
			return // it is tried again, and said, where it is asked for
		}
		s.ahead.mu.Lock()
		defer s.ahead.mu.Unlock()
		s.ahead.size += len(data)
		if s.ahead.kept == nil {
			s.ahead.kept = map[string][]byte{}
		}
		s.ahead.kept[names[i]] = data
	})
}

func (s *site) readPhoto(root *os.Root, name string) ([]byte, error) {
	s.ahead.mu.Lock()
	data, ok := s.ahead.kept[name]
	s.ahead.mu.Unlock()
	if ok {
		return data, nil
	}
	return readPhoto(root, name)
}

func readPhoto(root *os.Root, name string) ([]byte, error) {
	data, err := picture.Read(root, name)
	if err != nil {
		return nil, err
	}
	return picture.Clean(name, data)
}

// write makes every file on all processors, those of the index last, stages what
// changed, then moves it into place.
func (s *site) write(ctx context.Context, out string, jobs []job, index func() ([]job, error), old manifest,
	progress func(done, total int)) error {
	if err := os.MkdirAll(out, 0o755); err != nil {
		return err
	}
	clearStaged(out)
	stage, err := os.MkdirTemp(out, stagingPrefix)
	if err != nil {
		return err
	}
	defer os.RemoveAll(stage)
	results, err := s.produceAll(ctx, out, stage, jobs, progress)
	if err != nil {
		_, _ = index() // which runs beside this and must not outlive it
		return err
	}
	more, err := index()
	if err != nil {
		return err
	}
	last, err := s.produceAll(ctx, out, stage, more, nil)
	if err != nil {
		return err
	}
	jobs, results = append(jobs, more...), append(results, last...)
	if !s.background {
		if err := syncTree(stage); err != nil {
			return err
		}
	}
	next := manifest{Files: make(map[string]string, len(jobs))}
	s.report.published = make(map[string]bool, len(jobs))
	folder := ""
	place := disk.Folder(out)
	root, err := os.OpenRoot(out)
	if err != nil {
		return err
	}
	defer root.Close()
	staged := filepath.Base(stage)
	for i, j := range jobs {
		s.report.published[j.path] = true
		next.Files[j.path] = hex.EncodeToString(results[i].file.Hash[:])
		made := results[i].file
		made.Width, made.Height = s.sizes[j.path][0], s.sizes[j.path][1]
		s.cache.next[j.path] = made
		if !results[i].changed {
			continue
		}
		s.report.Written++
		target := filepath.Join(out, filepath.FromSlash(j.path))
		if dir := filepath.Dir(target); dir != folder {
			if err := place.MkdirAll(path.Dir(j.path)); err != nil { // refuses links on the way
				return err
			}
			folder = dir
		}
		if err := root.Rename(filepath.Join(staged, filepath.FromSlash(j.path)), filepath.FromSlash(j.path)); err != nil {
			return err
		}
	}
	s.report.Files = len(jobs)
	return s.sweep(out, old, next)
}

// produceAll does the jobs on all processors, with a few more workers, since some
// of them wait for the disk.
func (s *site) produceAll(ctx context.Context, out, stage string, jobs []job, progress func(done, total int)) ([]made, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	results := make([]made, len(jobs))
	done := 0
	var mu sync.Mutex
	var wg sync.WaitGroup
	todo := make(chan int)
	workers := 2 * runtime.GOMAXPROCS(0)
	if s.background {
		workers = 1
	}
	for range workers {
		wg.Go(func() {
			for i := range todo {
				var err error
				if results[i], err = s.produce(out, stage, jobs[i]); err != nil {
					cancel(err)
					continue
				}
				if progress != nil {
					mu.Lock()
					done++
					progress(done, len(jobs))
					mu.Unlock()
				}
			}
		})
	}
	for i := range jobs {
		if ctx.Err() != nil {
			break
		}
		todo <- i
	}
	close(todo)
	wg.Wait()
	return results, context.Cause(ctx)
}

// made is what became of a job.
type made struct {
	file    file
	changed bool
}

// produce makes a file unless the one of the last run was made from the same
// and is still there as it was, and stages it unless the site has its bytes.
func (s *site) produce(out, stage string, j job) (made, error) {
	target := filepath.Join(out, filepath.FromSlash(j.path))
	key, work, err := j.plan()
	if err != nil {
		return made{}, err
	}
	old, known := s.cache.old[j.path]
	intact := known && old.intact(target)
	if intact && key != (digest{}) && key == old.Key {
		return made{old, false}, nil
	}
	data, err := work()
	if err != nil {
		return made{}, err
	}
	now := file{Key: key, Hash: digestOf(data)}
	if intact && now.Hash == old.Hash {
		now.Size, now.Mod = old.Size, old.Mod
		return made{now, false}, nil
	}
	if !known { // nothing is remembered; the bytes decide
		if have, err := disk.ReadFile(target, int64(len(data))); err == nil && bytes.Equal(have, data) {
			now.note(target)
			return made{now, false}, nil
		}
	}
	staged := filepath.Join(stage, filepath.FromSlash(j.path))
	if err := stageFile(staged, data); err != nil {
		return made{}, err
	}
	now.note(staged) // moving it keeps both
	return made{now, true}, nil
}

func stageFile(target string, data []byte) error {
	f, err := os.OpenFile(target, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if errors.Is(err, fs.ErrNotExist) {
		if err := os.MkdirAll(filepath.Dir(target), 0o755); err != nil {
			return err
		}
		f, err = os.OpenFile(target, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	}
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err == nil && syncsEach {
		err = f.Sync()
	}
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	return err
}

// sweep removes what an earlier run wrote and this one did not, and writes the
// new manifest.
func (s *site) sweep(out string, old, next manifest) error {
	var gone []string
	for name := range old.Files {
		if _, ok := next.Files[name]; !ok && filepath.IsLocal(filepath.FromSlash(name)) {
			gone = append(gone, name)
		}
	}
	slices.Sort(gone)
	for _, name := range gone {
		place := disk.Folder(out)
		if err := place.Remove(name); err != nil {
			return err
		}
		s.report.Removed++
		if dir := path.Dir(name); dir != "." {
			_ = place.Remove(dir) // when it is empty now
		}
	}
	next.Mark = next.mark()
	data, err := json.MarshalIndent(next, "", " ")
	if err != nil {
		return err
	}
	target := filepath.Join(out, manifestName)
	if have, err := disk.ReadFile(target, int64(len(data))); err == nil && bytes.Equal(have, data) {
		return nil
	}
	return disk.Folder(out).Write(manifestName, data)
}
