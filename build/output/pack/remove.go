package pack

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/schema/filename"
)

// Removal says what became of what the packs of a workshop brought.
type Removal struct {
	Removed int      // files
	Edited  []string // that were edited here and stay, by path
	Needed  []string // that stay since something needs them that stays, by path
}

// TakeOut takes everything out that the packs of an origin brought. What was edited here
// since stays, and with it what it or our own notes name: devices, words, pictures, first
// cases. Where the notebook would have an error without it that it does not have now,
// nothing is removed.
func TakeOut(n *notebook.Notebook, origin string) (r Removal, err error) {
	if !originForm.MatchString(origin) {
		return r, fmt.Errorf("%q is no name of a workshop", origin)
	}
	s, err := readState(n.Dir, origin)
	if err != nil {
		return r, err
	}
	if len(s.Files) == 0 {
		return r, fmt.Errorf("nothing came from %q: %w", origin, fs.ErrNotExist)
	}
	root, err := os.OpenRoot(n.Dir)
	if err != nil {
		return r, err
	}
	defer root.Close()
	needed, err := leaning(n, root, s.Files)
	if err != nil {
		return r, err
	}
	folder := disk.Folder(n.Dir)
	for _, name := range slices.Sorted(maps.Keys(s.Files)) {
		if filename.CheckPath(name) != nil {
			continue // the list was tampered with
		}
		if needed[name] {
			r.Needed = append(r.Needed, name)
			continue
		}
		_, missing := root.Lstat(filepath.FromSlash(name))
		gone, err := folder.RemoveIf(name, ofFile(name), func(have []byte) bool { return digest(have) == s.Files[name] })
		switch {
		case errors.Is(missing, fs.ErrNotExist) && gone:
		case errors.Is(err, fs.ErrPermission) || err != nil && !isOdd(root, name):
			return r, err
		case !gone:
			r.Edited = append(r.Edited, name)
			continue
		default:
			r.Removed++
			for dir := path.Dir(name); strings.Contains(dir, "/"); dir = path.Dir(dir) {
				if root.Remove(filepath.FromSlash(dir)) != nil {
					break // not empty
				}
			}
		}
		delete(s.Files, name)
	}
	if len(r.Edited)+len(r.Needed) > 0 {
		return r, folder.Change(statePath(origin), ofFile(statePath(origin)),
			func([]byte) ([]byte, error) { return formatState(s) })
	}
	return r, folder.Remove(statePath(origin))
}

// thing is what a file of a pack belongs to, as other files name it: the id of a case or
// a device, with its folder of pictures and boards; "" for a file of words.
func thing(name string, cases map[string]string) string {
	if id, ok := cases[name]; ok {
		return id
	}
	top, _, _ := strings.Cut(name, "/")
	switch dir := path.Dir(name); {
	case top == "devices" && dir == "devices":
		return strings.TrimSuffix(path.Base(name), path.Ext(name))
	case (top == "devices" || top == "cases") && path.Ext(name) != ".md":
		return path.Base(dir)
	}
	return ""
}

// leaning are the files of a list, path -> sum as it came, that are not edited and stay
// all the same, since what stays names what they are: an edited case, a note of our own.
// What is only mentioned counts as named, so that too much stays and never too little.
func leaning(n *notebook.Notebook, root *os.Root, files map[string]string) (map[string]bool, error) {
	cases := map[string]string{}
	for _, c := range n.Cases {
		cases[c.Path] = c.ID()
	}
	stays, going := map[string]bool{}, map[string]bool{} // things with an edited file; files
	names := map[string][]string{}                       // file -> what others call it
	for name, sum := range files {
		if filename.CheckPath(name) != nil {
			continue
		}
		is := thing(name, cases)
		have, err := disk.Ordinary(root, name, maxOwn)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil || digest(have) != sum {
			if is != "" {
				stays[is] = true
			}
			continue
		}
		going[name] = true
		if names[name] = []string{is}; is == "" {
			names[name] = ids(have)
		}
	}
	texts := map[string]string{}
	if err := fs.WalkDir(root.FS(), ".", func(name string, e fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case e.IsDir() && (name == "received" || name == "kept" || name != "." && strings.HasPrefix(name, ".")):
			return fs.SkipDir
		case !e.Type().IsRegular() || path.Ext(name) != ".md" && path.Ext(name) != ".yaml":
			return nil
		}
		text, err := disk.Ordinary(root, name, maxOwn)
		texts[name] = string(text)
		return err
	}); err != nil {
		return nil, err
	}
	needed := map[string]bool{}
	for again := true; again; {
		again = false
		for name := range going {
			if needed[name] || !slices.ContainsFunc(names[name], func(id string) bool {
				return stays[id] || slices.ContainsFunc(slices.Collect(maps.Keys(texts)), func(other string) bool {
					return other != name && (!going[other] || needed[other]) && mentioned(texts[other], id)
				})
			}) {
				continue
			}
			needed[name], again = true, true
			if is := thing(name, cases); is != "" {
				stays[is] = true
			}
		}
	}
	return needed, without(n, root, going, needed)
}

// mentioned reports whether a text has an id that is no part of a longer word.
func mentioned(text, id string) bool {
	letter := func(b byte) bool { return b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z' || b >= '0' && b <= '9' }
	for id != "" {
		at := strings.Index(text, id)
		if at < 0 {
			return false
		}
		if end := at + len(id); (at == 0 || !letter(text[at-1])) && (end == len(text) || !letter(text[end])) {
			return true
		}
		text = text[at+1:]
	}
	return false
}

// ids are those that a file of words gives.
func ids(text []byte) (out []string) {
	var words map[string][]struct {
		ID string `yaml:"id"`
	}
	if yaml.Unmarshal(text, &words) != nil {
		return nil
	}
	for _, list := range words {
		for _, w := range list {
			out = append(out, w.ID)
		}
	}
	return out
}

// without tries the notebook without what goes, in a folder of its own, and says which
// error it would have that it does not have now.
func without(n *notebook.Notebook, root *os.Root, going, needed map[string]bool) error {
	dir, err := os.MkdirTemp("", "benchlore-remove-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	trial := disk.Folder(dir)
	if err := fs.WalkDir(root.FS(), ".", func(name string, e fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case e.IsDir() && (name == "kept" || name != "." && strings.HasPrefix(name, ".")):
			return fs.SkipDir
		case !e.Type().IsRegular() || going[name] && !needed[name]:
			return nil
		}
		data, err := disk.Ordinary(root, name, maxOwn)
		if err != nil {
			return nil // it is as unreadable now
		}
		return trial.Create(name, data)
	}); err != nil {
		return err
	}
	had := map[string]bool{}
	for _, x := range faultsOf(n) {
		had[x.String()] = true
	}
	left, err := notebook.Load(dir)
	if err != nil {
		return err
	}
	var said []string
	for _, x := range faultsOf(left) {
		if s := x.String(); !had[s] && len(said) < 5 {
			said = append(said, s)
		}
	}
	if len(said) > 0 && len(left.Cases)+len(left.Devices) > 0 {
		return fmt.Errorf("nothing was removed, since the notebook would have errors without it: %s", strings.Join(said, "; "))
	}
	return nil
}
