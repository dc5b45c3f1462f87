package site

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/gob"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"hash/fnv"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/build/reason/similar"
	"benchlore/theme"
)

// digest identifies content; the zero digest identifies nothing.
type digest [16]byte

func digestOf(data []byte) digest {
	sum := sha256.Sum256(data)
	return digest(sum[:16])
}

// file is what is remembered of a file of the site: what it was made from, its
// bytes, and how it lay on the disk.
type file struct {
	Key, Hash     digest
	Size, Mod     int64
	Width, Height int // of a picture, in pixels
}

// note takes down how the file lies on the disk.
func (f *file) note(path string) {
	if info, err := os.Lstat(path); err == nil {
		f.Size, f.Mod = info.Size(), info.ModTime().UnixNano()
	}
}

// intact reports whether the file still lies on the disk as it did.
func (f *file) intact(path string) bool {
	info, err := os.Lstat(path)
	return err == nil && info.Mode().IsRegular() && info.Size() == f.Size && info.ModTime().UnixNano() == f.Mod
}

// cache is what the last run to the same folder left. It lives in the notebook's
// .benchlore folder and may be lost: then everything is made again and compared
// by its bytes.
type cache struct {
	dir       string // of the notebook; path is inside it
	path      string
	old, next map[string]file
	// Neighbours of a case that was seen before with the same key, as a digest.
	oldNear, nextNear map[string]near
	mu                sync.Mutex // of nextNear
}

type near struct {
	Key    uint64
	Digest digest
}

type cacheFile struct {
	Files map[string]file
	Near  map[string]near
}

func openCache(n *notebook.Notebook, out string) *cache {
	c := &cache{next: map[string]file{}, nextNear: map[string]near{}}
	abs, err := filepath.Abs(out)
	if err != nil {
		return c
	}
	sum := sha256.Sum256([]byte(abs))
	c.dir = n.Dir
	var ok bool
	if c.path, ok = disk.Derived(n.Dir, "site-"+hex.EncodeToString(sum[:6])+".gob"); !ok {
		c.path = ""
		return c
	}
	var have cacheFile
	if data, err := disk.Folder(n.Dir).Read(c.path, disk.MaxDerived); err == nil &&
		gob.NewDecoder(bytes.NewReader(data)).Decode(&have) == nil {
		c.old, c.oldNear = have.Files, have.Near
	}
	return c
}

// save keeps the cache for the next run; it is only a help, so a notebook that
// cannot be written to goes without.
func (c *cache) save() {
	var b bytes.Buffer
	if c.path != "" && gob.NewEncoder(&b).Encode(cacheFile{c.next, c.nextNear}) == nil {
		_ = disk.Folder(c.dir).Write(c.path, b.Bytes())
	}
}

// makeKeys prepares what the keys of pages are made of.
func (s *site) makeKeys(out string) {
	s.cache = openCache(s.n, out)
	h := sha256.New()
	_ = fs.WalkDir(theme.Templates, ".", func(name string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() {
			data, _ := fs.ReadFile(theme.Templates, name)
			add(h, name, string(data))
		}
		return nil
	})
	// Another build of the program may make other pages.
	if exe, err := os.Executable(); err == nil {
		if info, err := os.Stat(exe); err == nil {
			add(h, fmt.Sprint(info.Size(), info.ModTime().UnixNano()))
		}
	}
	settings, _ := json.Marshal(s.n.Config)
	add(h, string(settings), s.n.TermsHash(), s.credit)
	s.global = digest(h.Sum(nil)[:16])
	s.said = make(map[string]uint64, len(s.n.Cases))
	byDevice := map[string]hash.Hash{}
	for _, c := range s.n.Cases {
		it := s.item("", c)
		f := fnv.New64a()
		add(f, it.ID, it.Title, it.Href, it.Device, it.Cause, it.Date, it.State.Word)
		s.said[c.ID()] = f.Sum64()
		d := byDevice[c.Device.ID]
		if d == nil {
			d = sha256.New()
			byDevice[c.Device.ID] = d
			_, _ = d.Write(c.Device.Hash[:])
			for _, b := range c.Device.Boards {
				_, _ = d.Write(b.Hash[:])
			}
		}
		_, _ = d.Write(c.Hash[:])
	}
	s.devices = make(map[string]digest, len(byDevice))
	for id, d := range byDevice {
		s.devices[id] = digest(d.Sum(nil)[:16])
	}
	s.neighbour = s.similar.Keys(func(c *notebook.Case) uint64 { return s.said[c.ID()] })
}

// add writes texts so that no two lists of them look alike.
func add(h hash.Hash, texts ...string) {
	for _, t := range texts {
		_ = binary.Write(h, binary.LittleEndian, uint64(len(t)))
		_, _ = h.Write([]byte(t))
	}
}

// key is the digest of what a page is made with and from.
func (s *site) key(kind string, parts ...[]byte) digest {
	h := sha256.New()
	_, _ = h.Write(s.global[:])
	add(h, kind)
	for _, p := range parts {
		add(h, string(p))
	}
	return digest(h.Sum(nil)[:16])
}

// photoKey identifies a picture by how it lies on the disk.
func (s *site) photoKey(root *os.Root, name string) digest {
	info, err := root.Stat(filepath.FromSlash(name))
	if err != nil {
		return digest{}
	}
	return s.key("photo", []byte(name), fmt.Append(nil, info.Size(), info.ModTime().UnixNano()))
}

// caseKey is the key of what is said of a case: its own file, its device, and
// the readings of that device's other cases, which limits are learned from.
func (s *site) caseKey(kind string, c *notebook.Case, more ...[]byte) digest {
	device := s.devices[c.Device.ID]
	name := c.Device.Name(s.n.Terms) + "\x00" + c.Device.Kind
	return s.key(kind, append(more, c.Hash[:], device[:], []byte(c.Device.ID), []byte(name))...)
}

func (s *site) caseJob(c *notebook.Case) job {
	return job{casePath(c), func() (digest, func() ([]byte, error), error) {
		var around strings.Builder // what else the page shows or links to
		for _, other := range s.similar.Comebacks(c) {
			fmt.Fprintln(&around, "back", s.said[other.ID()])
		}
		for _, p := range c.File.Case.Photos {
			fmt.Fprintln(&around, "photo", s.photos[c.ID()+"/"+p.File], s.sizes["photos/"+c.ID()+"/"+p.File])
		}
		for _, id := range slices.Concat(c.File.Case.Symptoms, c.File.Case.Absent) {
			fmt.Fprintln(&around, "symptom", len(s.lists.symptom[id]) > 0)
		}
		fmt.Fprintln(&around, "exercise", s.exercises[c.ID()])
		near, list := s.near(c)
		key := s.caseKey("case", c, []byte(around.String()), near[:])
		return key, func() ([]byte, error) {
			if list == nil {
				list = s.similar.Of(c, shown)
			}
			p, err := s.casePage(c, list)
			if err != nil {
				return nil, fmt.Errorf("case %s: %w", c.ID(), err)
			}
			return s.render("case", p)
		}, nil
	}}
}

func (s *site) dataJob(c *notebook.Case) job {
	return job{"data/" + c.ID() + ".json", func() (digest, func() ([]byte, error), error) {
		return s.caseKey("data", c), func() ([]byte, error) { return s.data(c) }, nil
	}}
}

// shown is how many similar cases a page names.
const shown = 5

// near identifies the neighbours that a page shows, and lists them where they
// had to be looked for, because something changed that could change them.
func (s *site) near(c *notebook.Case) (digest, []similar.Neighbour) {
	now := near{Key: s.neighbour(c) ^ binary.LittleEndian.Uint64(s.global[:])}
	var list []similar.Neighbour
	if old, ok := s.cache.oldNear[c.ID()]; ok && old.Key == now.Key {
		now.Digest = old.Digest
	} else {
		list = s.similar.Of(c, shown)
		var b strings.Builder
		for _, nb := range list {
			fmt.Fprintln(&b, s.said[nb.Case.ID()], nb.Why)
		}
		now.Digest = digestOf([]byte(b.String()))
	}
	s.cache.mu.Lock()
	s.cache.nextNear[c.ID()] = now
	s.cache.mu.Unlock()
	return now.Digest, list
}
