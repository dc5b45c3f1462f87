package pack

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"go.yaml.in/yaml/v3"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/build/output/picture"
	"benchlore/build/parallel"
	"benchlore/build/reason/rules"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// Plan is what a pack would bring into a notebook.
type Plan struct {
	Origin    Origin
	New       []string // paths in the notebook that are not there yet
	Changed   []string // that an earlier pack brought and this one has anew
	Same      int
	Conflicts []string // that were edited here since; they stay as they are
	LeftOut   []string // cases that cannot be taken, each with why
	Mapped    []string // devices and words that are ours already, each with what it became

	// Late are files that somebody wrote between the preview and their turn; they stay as
	// they are.
	Late []string

	Merged []*Merged // single cases that were here already

	// Older says why the pack is older than what came before; empty where it is not.
	Older string

	p     *Pack
	n     *notebook.Notebook
	state state
	todo  []planned
	had   map[string]string // path -> SHA-256 of what is replaced; "" for a new file

	theirs  bool            // conflicts of single cases are settled by what came
	answers bool            // it answers what was sent to that workshop
	merging map[string]bool // cases of the pack that are merged, by path
	came    []incoming

	mu   sync.Mutex   // of Late while files are written
	kept atomic.Int64 // bytes of pictures
}

type planned struct {
	path string
	read func() ([]byte, error)
	sum  string // SHA-256 of what read gives, where it is known already
	back bool   // it is a comeback, and comes after its first case
}

// state is what a notebook remembers of an origin: received/ORIGIN.json.
type state struct {
	Origin  Origin            `json:"origin"`
	Licence string            `json:"licence"`
	Key     string            `json:"key,omitempty"` // that its packs must be signed with from now on
	Files   map[string]string `json:"files"`         // path -> SHA-256 as it was written
	// Before are the sums that files had before, newest first: a pack that has them
	// again is an older one.
	Before map[string][]string `json:"before,omitempty"`
}

// maxBefore is how many earlier sums of a file are remembered.
const maxBefore = 10

// older says why a pack is older than what came from its workshop already, or "".
func (l *Plan) older() string {
	for _, t := range l.todo {
		if slices.Contains(l.state.Before[t.path], t.sum) && l.state.Files[t.path] != t.sum {
			return fmt.Sprintf("it has %s as it was before a later pack", t.path)
		}
	}
	return ""
}

func statePath(origin string) string { return "received/" + origin + ".json" }

// maxOwn is the most that is read of a file of the notebook, and maxState of what is kept
// of a workshop's packs, in bytes.
const (
	maxOwn   = 64 << 20
	maxState = 64 << 20
)

func readState(dir, origin string) (s state, err error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return s, err
	}
	defer root.Close()
	text, err := disk.Ordinary(root, statePath(origin), maxState)
	if errors.Is(err, fs.ErrNotExist) {
		return state{Files: map[string]string{}}, nil
	}
	if err == nil {
		if err = strictly(text, &s); err != nil {
			err = fmt.Errorf("%s: %w", statePath(origin), err)
		}
	}
	if s.Files == nil {
		s.Files = map[string]string{}
	}
	return s, err
}

// Preview works out what a pack would bring, and writes nothing. Who it is from is
// decided by its key, else by its name (identity.go); a pack of the notebook's own
// workshop is refused.
func (p *Pack) Preview(n *notebook.Notebook) (*Plan, error) { return p.PreviewWith(n, Choices{}) }

// Choices are what a person said of a pack.
type Choices struct {
	// As is what the workshop is called here: the name of a known one, whose pack it then
	// is, or a new name for another workshop.
	As string
	// Theirs takes a field that differs on both sides of a single case as it came; it
	// stays ours without.
	Theirs bool
}

// PreviewWith is [Pack.Preview] with what a person said.
func (p *Pack) PreviewWith(n *notebook.Notebook, c Choices) (*Plan, error) {
	id, s, sure, err := p.whose(n.Dir, casefile.Slug(n.Config.Name), c.As)
	if err != nil {
		return nil, err
	}
	plan := &Plan{Origin: Origin{ID: id, Name: p.Manifest.Origin.Name}, p: p, n: n, state: s, theirs: c.Theirs}
	words, err := plan.terms()
	if err != nil {
		return nil, err
	}
	devices, err := plan.devices()
	if err != nil {
		return nil, err
	}
	if err := plan.single(devices, words); err != nil {
		return nil, err
	}
	if err := plan.cases(devices, words); err != nil {
		return nil, err
	}
	if !sure {
		if err := plan.kin(); err != nil {
			return nil, err
		}
	}
	slices.SortFunc(plan.todo, func(a, b planned) int { return cmp.Or(rank(a)-rank(b), strings.Compare(a.path, b.path)) })
	if err := plan.sort(); err != nil {
		return nil, err
	}
	plan.Older = plan.older()
	return plan, plan.judge()
}

// judge holds what the pack brings against every rule of check, as it would stand in
// this notebook, in a folder of its own: the settings, words and devices of this
// notebook, what came from that workshop before, and the files of the pack.
func (l *Plan) judge() error {
	dir, err := os.MkdirTemp("", "benchlore-receive-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	trial := disk.Folder(dir)
	root, err := os.OpenRoot(l.n.Dir)
	if err != nil {
		return err
	}
	defer root.Close()
	if text, err := disk.Ordinary(root, "notebook.yaml", maxOwn); err == nil {
		if err := trial.Write("notebook.yaml", text); err != nil {
			return err
		}
	}
	brings := map[string]bool{}
	for _, t := range l.todo {
		brings[t.path] = true
	}
	// Ours that the pack's files may lean on. Pictures and boards of our own are not
	// needed to judge theirs.
	for _, top := range []string{"terms", "devices", "cases/" + l.Origin.ID, "cases"} {
		err := fs.WalkDir(root.FS(), top, func(name string, e fs.DirEntry, err error) error {
			if err != nil || e.IsDir() || brings[name] || !e.Type().IsRegular() {
				return nil
			}
			if theirs := l.state.Files[name] != ""; !theirs && (top == "cases" || path.Ext(name) != ".md" && path.Ext(name) != ".yaml") {
				return nil
			}
			text, err := disk.Ordinary(root, name, maxOwn)
			if err != nil {
				return nil
			}
			return trial.Write(name, text)
		})
		if err != nil {
			return err
		}
	}
	for _, t := range l.todo {
		data, err := t.read()
		if err != nil {
			return err
		}
		if err := trial.Write(t.path, data); err != nil {
			return err
		}
	}
	n, err := notebook.Load(dir)
	if err != nil {
		return err
	}
	var said []string
	for _, x := range faultsOf(n) {
		if !brings[x.file] {
			continue
		}
		if said = append(said, x.String()); len(said) == 5 {
			break
		}
	}
	if len(said) > 0 {
		return refusef("this notebook could not be published with it: %s", strings.Join(said, "; "))
	}
	return nil
}

// fault is an error of a notebook, by its file inside it.
type fault struct {
	file    string
	line    int
	message string
}

func (x fault) String() string { return fmt.Sprintf("%s:%d: %s", x.file, x.line, x.message) }

// faultsOf are the errors that any rule finds in a notebook.
func faultsOf(n *notebook.Notebook) (out []fault) {
	for _, d := range rules.Of(n) {
		if d.Severity != diagnostic.Error {
			continue
		}
		name, err := filepath.Rel(n.Dir, filepath.FromSlash(d.File))
		if err != nil {
			name = d.File
		}
		out = append(out, fault{filepath.ToSlash(name), d.Line, d.Message})
	}
	return out
}

// rank puts a file after those that it names, so that the notebook is whole at
// any moment.
func rank(p planned) int {
	switch {
	case strings.HasPrefix(p.path, "terms/"):
		return 0
	case path.Ext(p.path) != ".md":
		return 1
	case strings.HasPrefix(p.path, "devices/"):
		return 2
	case !p.back:
		return 3
	}
	return comebacks
}

// comebacks are written one by one, in the order of their names, since one may
// follow another.
const comebacks = 4

func (l *Plan) prefix(id string) string { return l.Origin.ID + "-" + id }

// sort compares what would be written with what is there.
func (l *Plan) sort() error {
	root, err := os.OpenRoot(l.n.Dir)
	if err != nil {
		return err
	}
	defer root.Close()
	const (
		isNew = iota
		isSame
		isChanged
		isConflict
	)
	kinds, errs := make([]int, len(l.todo)), make([]error, len(l.todo))
	parallel.Each(len(l.todo), func(i int) {
		t := &l.todo[i]
		if t.sum == "" {
			next, err := t.read()
			if err != nil {
				errs[i] = err
				return
			}
			t.sum = digest(next)
		}
		have, err := disk.Ordinary(root, t.path, maxOwn)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			kinds[i] = isNew
		case err != nil:
			kinds[i] = isConflict
		case digest(have) == t.sum:
			kinds[i] = isSame
		case l.state.Files[t.path] == digest(have):
			kinds[i] = isChanged
		default:
			kinds[i] = isConflict
		}
	})
	if err := errors.Join(errs...); err != nil {
		return err
	}
	var todo []planned
	l.had = map[string]string{}
	for i, t := range l.todo {
		switch kinds[i] {
		case isNew:
			l.New = append(l.New, t.path)
		case isSame:
			l.Same++
		case isChanged:
			l.Changed = append(l.Changed, t.path)
			l.had[t.path] = l.state.Files[t.path]
		case isConflict:
			l.Conflicts = append(l.Conflicts, t.path)
			continue
		}
		todo = append(todo, t)
	}
	l.todo = todo
	return nil
}

func digest(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// terms brings the other workshop's own words under its name; a word that this
// notebook has already is that one. It returns what their words are called here.
func (l *Plan) terms() (map[terms.Class]map[string]string, error) {
	names := map[terms.Class]map[string]string{}
	out := map[string][]map[string]any{}
	for _, name := range l.p.names("terms/") {
		text, err := l.p.read(name)
		if err != nil {
			return nil, err
		}
		theirs, list := terms.Builtin().Extend(name, text)
		if diagnostic.Count(list, diagnostic.Error) > 0 {
			return nil, refusef("%s: %s", name, list[0].Message)
		}
		for _, class := range terms.Classes {
			if names[class] == nil {
				names[class] = map[string]string{}
			}
			for _, t := range theirs.All(class) {
				if !t.Own {
					continue
				}
				if _, ok := l.n.Terms.Lookup(class, t.ID); ok {
					l.Mapped = append(l.Mapped, fmt.Sprintf("the word %s is ours already", t.ID))
					continue
				}
				if ours, ok := l.n.Terms.Resolve(class, t.Name); ok {
					names[class][t.ID] = ours.ID
					l.Mapped = append(l.Mapped, fmt.Sprintf("the word %s is our %s", t.ID, ours.ID))
					continue
				}
				id := l.prefix(t.ID)
				names[class][t.ID] = id
				// Synonyms could clash with ours; the name and meaning are enough.
				word := map[string]any{"id": id, "name": t.Name + " (" + l.called() + ")", "meaning": t.Meaning}
				if t.Caution != "" {
					word["caution"] = t.Caution
				}
				if t.Group != "" {
					word["group"] = t.Group
				}
				out[string(class)] = append(out[string(class)], word)
			}
		}
	}
	if len(out) > 0 {
		text, err := yaml.Marshal(out)
		if err != nil {
			return nil, err
		}
		l.add("terms/"+receivedTerms+l.Origin.ID+".yaml", text)
	}
	return names, nil
}

func (l *Plan) add(name string, data []byte) {
	l.todo = append(l.todo, planned{name, func() ([]byte, error) { return data, nil }, digest(data), false})
}

// keptPictures is how much of the pictures of a pack is kept until it is written, in bytes.
const keptPictures = 64 << 20

// copied brings a file as it is, a picture written anew: whoever made the pack may not
// have done so.
func (l *Plan) copied(target, from string) {
	var kept []byte // it is asked for to be compared, judged and written, one after the other
	l.todo = append(l.todo, planned{target, func() ([]byte, error) {
		if kept != nil {
			return kept, nil
		}
		data, err := l.p.read(from)
		if err != nil || picture.MediaType(target) == "" {
			return data, err
		}
		if data, err = picture.Clean(target, data); err != nil {
			return nil, refusef("%s: %v", from, err)
		}
		if l.kept.Add(int64(len(data))) <= keptPictures {
			kept = data
		}
		return data, nil
	}, "", false})
}

// devices brings device files under the origin's name, unless this notebook
// knows the same maker and model. It returns what their devices are called here.
func (l *Plan) devices() (map[string]string, error) {
	ours := map[string]string{}
	for _, d := range l.n.Devices {
		if d.Record != nil && !strings.HasPrefix(d.ID, l.Origin.ID+"-") {
			ours[strings.ToLower(d.Maker+"\x00"+d.Model)] = d.ID
		}
	}
	names := map[string]string{}
	for _, name := range l.p.names("devices/") {
		if path.Dir(name) != "notes/devices" || path.Ext(name) != ".md" {
			continue
		}
		text, err := l.p.read(name)
		if err != nil {
			return nil, err
		}
		f, list := casefile.ParseDevice(name, text)
		if f == nil || diagnostic.Count(list, diagnostic.Error) > 0 || f.Device.ID+".md" != path.Base(name) {
			return nil, refusef("%s is no device file: %s", name, first(list))
		}
		id := f.Device.ID
		if our, ok := ours[strings.ToLower(f.Device.Maker+"\x00"+f.Device.Model)]; ok {
			names[id] = our
			l.Mapped = append(l.Mapped, fmt.Sprintf("the device %s is our %s; its file here stays", id, our))
			continue
		}
		names[id] = l.prefix(id)
		next, err := f.Set("device", names[id])
		if err != nil {
			return nil, err
		}
		l.add("devices/"+names[id]+".md", next.Text.Bytes)
	}
	for _, name := range l.p.names("devices/") {
		dir := path.Dir(name)
		if dir == "notes/devices" {
			if path.Ext(name) != ".md" {
				return nil, refusef("%s is no device file", name)
			}
			continue
		}
		id, ok := names[path.Base(dir)]
		if !ok || path.Dir(dir) != "notes/devices" || picture.MediaType(name) == "" &&
			!slices.Contains([]string{".csv", ".ipc"}, strings.ToLower(path.Ext(name))) {
			return nil, refusef("%s belongs to no device", name)
		}
		if strings.HasPrefix(id, l.Origin.ID+"-") {
			l.copied("devices/"+id+"/"+path.Base(name), name)
		}
	}
	return names, nil
}

func first(list []diagnostic.Diagnostic) string {
	for _, d := range list {
		if d.Severity == diagnostic.Error {
			return d.Message
		}
	}
	return "its name is not its id"
}

// cases brings each case under the origin's name. A case is read from the pack
// whenever it is needed and never held, so that a pack of any size takes the
// memory of a few cases.
func (l *Plan) cases(devices map[string]string, words map[terms.Class]map[string]string) error {
	var names []string
	for _, name := range l.p.names("cases/") {
		if path.Ext(name) == ".md" && !l.merging[name] {
			names = append(names, name)
		}
	}
	found := make([]struct {
		id, year string
		back     bool
		err      error
	}, len(names))
	parallel.Each(len(names), func(i int) {
		f, list, err := l.parse(names[i])
		switch {
		case err != nil:
			found[i].err = err
		case f == nil || f.Case.ID == "" || diagnostic.Count(list, diagnostic.Error) > 0:
			found[i].err = refusef("%s is no case file: %s", names[i], first(list))
		default:
			found[i].id, found[i].year, found[i].back = f.Case.ID, "undated", f.Case.Returns != ""
			if len(f.Case.Opened) >= 4 {
				found[i].year = f.Case.Opened[:4]
			}
		}
	})
	ids := map[string]bool{}
	for i := range found {
		if found[i].err != nil {
			return found[i].err
		}
		if id := strings.ToLower(found[i].id); ids[id] {
			return refusef("two of its cases are called %s", found[i].id)
		} else {
			ids[id] = true
		}
	}
	vocabulary := l.n.Terms
	for _, t := range l.todo {
		if strings.HasPrefix(t.path, "terms/") {
			text, err := t.read()
			if err != nil {
				return err
			}
			vocabulary, _ = vocabulary.Extend(t.path, text)
		}
	}
	targets, left, sums := make([]string, len(names)), make([]string, len(names)), make([]string, len(names))
	bring := func(i int) ([]byte, error) {
		f, _, err := l.parse(names[i])
		if err != nil {
			return nil, err
		}
		return l.rewrite(f, l.prefix(found[i].id), ids, devices, words)
	}
	parallel.Each(len(names), func(i int) {
		id := l.prefix(found[i].id)
		base := id
		if rest, ok := strings.CutPrefix(strings.TrimSuffix(path.Base(names[i]), ".md"), found[i].id); ok {
			base += rest
		}
		targets[i] = path.Join("cases", "from-"+l.Origin.ID, found[i].year, base+".md")
		next, err := bring(i)
		if err != nil {
			left[i] = err.Error()
			return
		}
		sums[i] = digest(next)
		again, list := casefile.Parse(targets[i], next)
		if again != nil {
			list = again.Check(vocabulary, l.n.Config.PersonalData.Allow)
		}
		if again == nil || diagnostic.Count(list, diagnostic.Error) > 0 {
			left[i] = first(list)
		}
	})
	folders := map[string]string{} // photo folder in the pack -> in the notebook
	for i, name := range names {
		if left[i] != "" {
			l.LeftOut = append(l.LeftOut, found[i].id+": "+left[i])
			continue
		}
		l.todo = append(l.todo, planned{targets[i], func() ([]byte, error) { return bring(i) }, sums[i], found[i].back})
		folders[path.Join(path.Dir(name), found[i].id)] = path.Join(path.Dir(targets[i]), l.prefix(found[i].id))
	}
	for _, name := range l.p.names("cases/") {
		if path.Ext(name) == ".md" {
			continue
		}
		if picture.MediaType(name) == "" {
			return refusef("%s belongs to no case", name)
		}
		if folder, ok := folders[path.Dir(name)]; ok {
			l.copied(folder+"/"+path.Base(name), name)
		}
	}
	return nil
}

// parse reads a case of the pack, without what is private in it.
func (l *Plan) parse(name string) (*casefile.File, []diagnostic.Diagnostic, error) {
	text, err := l.p.read(name)
	if err != nil {
		return nil, nil, err
	}
	if text, err = stripped(name, text); err != nil {
		return nil, nil, err
	}
	f, list := casefile.Parse(name, text)
	return f, list, nil
}

// rewrite gives a case its name here, and its device and words.
func (l *Plan) rewrite(f *casefile.File, id string, ids map[string]bool, devices map[string]string,
	words map[terms.Class]map[string]string) ([]byte, error) {
	k := f.Case
	set := func(key string, value any) (err error) {
		if f, err = f.Set(key, value); err != nil {
			return fmt.Errorf("%s: %w", key, err)
		}
		return nil
	}
	if err := cmp.Or(set("case", id), set("from", l.Origin.ID)); err != nil {
		return nil, err
	}
	if k.Returns != "" {
		if ids[strings.ToLower(k.Returns)] {
			if err := set("returns", l.prefix(k.Returns)); err != nil {
				return nil, err
			}
		} else {
			next, err := f.Unset("returns")
			if err != nil {
				return nil, err
			}
			f = next
		}
	}
	if k.Device.ID != "" {
		ours, ok := devices[k.Device.ID]
		if !ok {
			return nil, fmt.Errorf("it names the device %s, which the pack does not have", k.Device.ID)
		}
		if err := set("device", ours); err != nil {
			return nil, err
		}
	}
	f, err := renamed(f, func(field casefile.Field, w string) (string, bool) {
		ours, ok := words[field.Class][w]
		return ours, ok
	})
	if err != nil {
		return nil, err
	}
	return f.Bytes(), nil
}

// renamed gives the words of a case's fields their names here; name says what a word is
// called, where it is called something else.
func renamed(f *casefile.File, name func(field casefile.Field, word string) (string, bool)) (*casefile.File, error) {
	for _, field := range casefile.Fields {
		if field.Class == "" {
			continue
		}
		next := casefile.SplitWords(f.Value(field.Path))
		changed := false
		for i, w := range next {
			if word, ok := name(field, w); ok {
				next[i], changed = word, true
			}
		}
		if !changed {
			continue
		}
		var err error
		if f, err = f.SetLeaf(field.Path, strings.Join(next, ", ")); err != nil {
			return nil, fmt.Errorf("%s: %w", field.Path, err)
		}
	}
	return f, nil
}

// Receive writes what the plan says. Each file is written whole; what was
// written is remembered last, so that an interrupted run is finished by doing it
// again.
func (l *Plan) Receive(ctx context.Context) error {
	disk.Folder(l.n.Dir).SweepTemporary("cases", "devices", "terms", "received")
	s := l.state
	s.Origin, s.Licence = l.Origin, l.p.Manifest.Licence
	if s.Before == nil {
		s.Before = map[string][]string{}
	}
	for _, t := range l.todo {
		if had := s.Files[t.path]; had != "" && had != t.sum && !slices.Contains(s.Before[t.path], had) {
			earlier := append([]string{had}, s.Before[t.path]...)
			s.Before[t.path] = earlier[:min(maxBefore, len(earlier))]
		}
	}
	if l.p.Signer != "" {
		s.Key = l.p.Signer
	}
	// What is new is remembered first, so that an interrupted run can be taken out
	// again as well as finished.
	fresh := map[string]bool{}
	for _, name := range l.New {
		fresh[name] = true
	}
	for _, t := range l.todo {
		if fresh[t.path] {
			s.Files[t.path] = t.sum
		}
	}
	if err := l.remember(s); err != nil {
		return err
	}
	for from := 0; from < len(l.todo); {
		to := from
		for to < len(l.todo) && rank(l.todo[to]) == rank(l.todo[from]) {
			to++
		}
		errs := make([]error, to-from)
		write := func(i int) {
			if errs[i] = ctx.Err(); errs[i] == nil {
				errs[i] = l.write(l.todo[from+i])
			}
		}
		if rank(l.todo[from]) == comebacks {
			for i := range errs {
				write(i)
			}
		} else {
			parallel.Each(to-from, write)
		}
		if err := errors.Join(errs...); err != nil {
			return cmp.Or(ctx.Err(), err)
		}
		for _, t := range l.todo[from:to] {
			switch {
			case !slices.Contains(l.Late, t.path):
				s.Files[t.path] = t.sum
			case l.had[t.path] == "":
				delete(s.Files, t.path) // it never came
			}
		}
		from = to
	}
	if err := l.writeMerged(ctx); err != nil {
		return err
	}
	return l.remember(s)
}

func (l *Plan) write(t planned) error {
	data, err := t.read()
	if err != nil {
		return err
	}
	if digest(data) != t.sum {
		return refusef("%s changed while it was received", t.path)
	}
	return disk.Folder(l.n.Dir).Change(t.path, ofFile(t.path), func(have []byte) ([]byte, error) {
		switch {
		case have != nil && digest(have) == t.sum:
			return nil, nil
		case have == nil || digest(have) == l.had[t.path]:
			return data, nil
		}
		// Somebody wrote it since the preview: it stays.
		l.mu.Lock()
		defer l.mu.Unlock()
		l.Late = append(l.Late, t.path)
		return nil, nil
	})
}

// ofFile is whose earlier version a file of that name is.
func ofFile(name string) string { return strings.TrimSuffix(name, path.Ext(name)) }

// remember writes down what came. What another run of this workshop's packs wrote down
// meanwhile stays, apart from the files of this one.
func (l *Plan) remember(s state) error {
	mine := map[string]bool{}
	for _, t := range l.todo {
		mine[t.path] = true
	}
	return disk.Folder(l.n.Dir).Change(statePath(s.Origin.ID), ofFile(statePath(s.Origin.ID)), func(have []byte) ([]byte, error) {
		var other state
		if have != nil && json.Unmarshal(have, &other) == nil {
			files := maps.Clone(s.Files)
			for name := range files {
				if !mine[name] {
					delete(files, name)
				}
			}
			for name, sum := range other.Files {
				if !mine[name] {
					files[name] = sum
				}
			}
			s.Files = files
		}
		return formatState(s)
	})
}

func formatState(s state) ([]byte, error) {
	text, err := json.MarshalIndent(s, "", " ")
	return append(text, '\n'), err
}

// isOdd reports whether something lies there that no pack brought: a link, a folder.
func isOdd(root *os.Root, name string) bool {
	info, err := root.Lstat(filepath.FromSlash(name))
	return err != nil || !info.Mode().IsRegular() || info.Size() > maxOwn
}
