package editor

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/schema/casefile"
)

// Version identifies the bytes of a case file.
type Version string

// VersionOf returns the version of some bytes.
func VersionOf(data []byte) Version {
	sum := sha256.Sum256(data)
	return Version(hex.EncodeToString(sum[:8]))
}

// Store keeps the case files of a notebook while they are written: each change goes to a
// journal first, then to the file; earlier versions are kept. It is safe for concurrent
// use, and beside other stores, commands and scripts on the same notebook: a text that was
// acknowledged and one that was displaced, whoever wrote it, is in the file or in the
// history.
type Store struct {
	dir  string
	days int // for how long earlier versions are kept
	now  func() time.Time

	mu    sync.Mutex
	steps map[string]*steps    // by id
	aside map[string]time.Time // when this session last put a version aside, by id
	mine  map[string]Version   // what this session wrote last, by id
	half  map[string]Version   // what it kept last that could not go into the file, by id
}

// steps are the versions of a case in this session, for undoing.
type steps struct {
	list [][]byte
	at   int // of the present one
}

// maxSteps bounds the versions that one session remembers of a case.
const maxSteps = 2_000

// errChanged is returned where a file changed since it was read.
var errChanged = errors.New("the file was changed by somebody else in the meantime")

// NewStore keeps the cases of the notebook in dir; days is for how long earlier
// versions are kept, 0 for a year.
func NewStore(dir string, days int) *Store {
	_ = disk.Folder(dir).MoveKept() // what cannot be moved now is looked for again
	return &Store{dir: dir, days: cmp.Or(days, 365), now: time.Now, steps: map[string]*steps{}, aside: map[string]time.Time{}, mine: map[string]Version{}, half: map[string]Version{}}
}

// Names inside the notebook. An id that is none never gets this far.
func (s *Store) journal(id string) string { return disk.Kept + "/journal/" + id + ".md" }
func (s *Store) latest(id string) string  { return s.history(id) + "/latest.md" }
func (s *Store) history(id string) string { return disk.Kept + "/history/" + id }

func (s *Store) folder() disk.Folder { return disk.Folder(s.dir) }

// read gives the bytes of a file that the store keeps.
func (s *Store) read(name string) ([]byte, error) { return s.folder().Read(name, casefile.MaxSize) }

// Read returns the bytes of a case file; path is inside the notebook. Nothing
// outside the notebook is read, whatever links there are.
func (s *Store) Read(path string) ([]byte, error) {
	return s.folder().Read(path, casefile.MaxSize)
}

// Save writes the next bytes of a case, if its file still has those that they
// were made from; otherwise it returns errChanged and writes nothing. The
// journal has the bytes before the file is touched.
func (s *Store) Save(id, path string, from Version, next []byte) error {
	defer s.enter()()
	return s.save(id, path, from, next, true)
}

// Update makes the next bytes of a case from those that its file has, while no other
// change gets between. It is for a writer that was overtaken again and again.
func (s *Store) Update(id, path string, edit func(have []byte) (next []byte, err error)) error {
	defer s.enter()()
	have, err := s.Read(path)
	if err != nil {
		return err
	}
	next, err := edit(have)
	if err != nil {
		return err
	}
	return s.save(id, path, VersionOf(have), next, true)
}

// enter waits for its turn in this process and in the notebook.
func (s *Store) enter() (leave func()) {
	s.mu.Lock()
	open := s.folder().Enter()
	return func() {
		open()
		s.mu.Unlock()
	}
}

func (s *Store) save(id, path string, from Version, next []byte, step bool) error {
	have, err := s.Read(path)
	if err != nil {
		return err
	}
	if VersionOf(have) != from {
		return errChanged
	}
	if bytes.Equal(have, next) {
		return nil
	}
	// What is in the journal and never got into the file is not written over.
	if left, err := s.read(s.journal(id)); err == nil && !bytes.Equal(left, have) && !bytes.Equal(left, next) && !s.has(id, VersionOf(left)) {
		if err := s.write(id, left); err != nil {
			return fmt.Errorf("nothing was written: %w", err)
		}
	}
	if err := s.folder().Write(s.journal(id), next); err != nil {
		return fmt.Errorf("nothing was written: %w", err)
	}
	if err := s.keepOthers(id, have); err != nil {
		return fmt.Errorf("the text is in the journal, not in the file: %w", err)
	}
	displaced, err := s.folder().Exchange(path, next)
	if err != nil {
		return fmt.Errorf("the text is in the journal, not in the file: %w", err)
	}
	if !bytes.Equal(displaced, have) && displaced != nil { // written since it was read
		if err := s.write(id, displaced); err != nil {
			return err
		}
	}
	s.mine[id] = VersionOf(next)
	// The journal has what the file has now; kept as the latest version, it brings
	// the case back when its file is deleted.
	if s.folder().Rename(s.journal(id), s.latest(id)) != nil {
		_ = s.folder().Remove(s.journal(id))
	}
	if step {
		s.remember(id, have, next)
	}
	return nil
}

// keepHalfTyped puts text into the journal that cannot go into the file yet, such as a
// source that is half typed.
func (s *Store) keepHalfTyped(id string, text []byte) error {
	defer s.enter()()
	// What another session left there is somebody's text too.
	if have, err := s.read(s.journal(id)); err == nil && s.half[id] != VersionOf(have) && !s.has(id, VersionOf(have)) {
		if err := s.write(id, have); err != nil {
			return err
		}
	}
	if err := s.folder().Write(s.journal(id), text); err != nil {
		return err
	}
	s.half[id] = VersionOf(text)
	return nil
}

// Kept returns what the journal has of a case and its file has not.
func (s *Store) Kept(id, path string) ([]byte, bool) {
	if _, err := s.read(s.journal(id)); err != nil {
		return nil, false // as nearly always; nobody is kept waiting
	}
	defer s.enter()()
	text, err := s.read(s.journal(id))
	if err != nil {
		return nil, false
	}
	if have, err := s.Read(path); err == nil && bytes.Equal(have, text) {
		_ = s.folder().Remove(s.journal(id)) // it got as far as the file
		return nil, false
	}
	return text, true
}

// drop removes what the journal has of a case, after a copy of it is kept with
// the earlier versions.
func (s *Store) drop(id string) error {
	defer s.enter()()
	text, err := s.read(s.journal(id))
	if err != nil {
		return nil
	}
	if err := s.write(id, text); err != nil {
		return err
	}
	return s.folder().Remove(s.journal(id))
}

func (s *Store) remember(id string, have, next []byte) {
	st := s.steps[id]
	if st == nil || !bytes.Equal(st.list[st.at], have) {
		st = &steps{list: [][]byte{have}}
		s.steps[id] = st
	}
	st.list = append(st.list[:st.at+1], next)
	if len(st.list) > maxSteps {
		st.list = slices.Delete(st.list, 0, len(st.list)-maxSteps)
	}
	st.at = len(st.list) - 1
}

// undo goes one step back in this session, or forward where by is 1.
func (s *Store) undo(id, path string, by int) error {
	defer s.enter()()
	st := s.steps[id]
	if st == nil || st.at+by < 0 || st.at+by >= len(st.list) {
		return errors.New("there is nothing more to undo or redo")
	}
	if err := s.save(id, path, VersionOf(st.list[st.at]), st.list[st.at+by], false); err != nil {
		return err
	}
	st.at += by
	return nil
}

// Steps says how many steps can be undone and redone.
func (s *Store) Steps(id string) (back, forward int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if st := s.steps[id]; st != nil {
		return st.at, len(st.list) - 1 - st.at
	}
	return 0, 0
}

// Version returns the bytes of a version that this session or the history
// still has.
func (s *Store) Version(id string, v Version) ([]byte, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if st := s.steps[id]; st != nil {
		for _, b := range st.list {
			if VersionOf(b) == v {
				return b, true
			}
		}
	}
	for _, e := range append(s.list(id), Earlier{Version: v, file: "latest.md"}) {
		if e.Version == v {
			if b, err := s.read(s.history(id) + "/" + e.file); err == nil && VersionOf(b) == v {
				return b, true
			}
		}
	}
	return nil, false
}

// Earlier is a version of a case that is kept.
type Earlier struct {
	Version Version
	At      time.Time // when it was replaced
	Size    int64
	file    string
	turn    int // how many were kept before it; 0 where its name does not say
}

const (
	between = time.Minute // earlier versions closer than this are one
	maxKept = 1_000       // of one case, beside those of the last day
)

// keepOthers puts aside what the file has, always where somebody else wrote it, and what
// was acknowledged last and somebody displaced since.
func (s *Store) keepOthers(id string, have []byte) error {
	version := VersionOf(have)
	if last, err := s.read(s.latest(id)); err == nil && VersionOf(last) != version && !s.has(id, VersionOf(last)) {
		if err := s.write(id, last); err != nil {
			return err
		}
	}
	if mine, ok := s.mine[id]; ok && mine != version && !s.has(id, version) {
		return s.write(id, have)
	}
	return s.keep(id, have)
}

// has reports whether a version is kept.
func (s *Store) has(id string, v Version) bool {
	return slices.ContainsFunc(s.list(id), func(e Earlier) bool { return e.Version == v })
}

// keep puts a version aside unless one was put aside a moment ago.
func (s *Store) keep(id string, have []byte) error {
	list := s.list(id)
	if len(list) > 0 {
		// How long ago is told by this session's clock alone: stamps may be of a clock
		// that was wrong, now or then.
		last, ok := s.aside[id]
		if since := s.now().Sub(last); ok && since >= 0 && since < between || list[0].Version == VersionOf(have) {
			return nil
		}
	}
	return s.write(id, have)
}

func (s *Store) write(id string, have []byte) error {
	now := s.now()
	turn := 1
	if list := s.list(id); len(list) > 0 {
		turn = list[0].turn + 1
	}
	// Clocks are set; which version came after which, the turn says.
	name := disk.KeptName(now, have, "."+strconv.Itoa(turn)+".md")
	if err := s.folder().Write(s.history(id)+"/"+name, have); err != nil {
		return err
	}
	s.aside[id] = now
	list := s.list(id)
	since := agesOf(list, now)
	// Age is counted from the version before this one, if that is earlier: a clock that
	// is far ahead for one save makes nothing old.
	for i, e := range list {
		if e.file != name {
			now = earliest(now, since[i])
			break
		}
	}
	limit, young := now.AddDate(0, 0, -s.days), now.AddDate(0, 0, -1)
	for i, e := range list {
		if e.file != name && (i >= maxKept && since[i].Before(young) || since[i].Before(limit)) {
			_ = s.folder().Remove(s.history(id) + "/" + e.file)
		}
	}
	return nil
}

// agesOf says since when each version of a list, newest first, is surely kept: no version
// is older than one that was kept before it, so that a clock which was set back makes
// nothing old. Stamps of a time that is still to come say nothing.
func agesOf(list []Earlier, now time.Time) []time.Time {
	out := make([]time.Time, len(list))
	var latest time.Time
	for i := len(list) - 1; i >= 0; i-- {
		if at := list[i].At; at.After(latest) && !at.After(now) {
			latest = at
		}
		out[i] = latest
		if latest.IsZero() {
			out[i] = now
		}
	}
	return out
}

func earliest(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

// History lists the versions that are kept of a case, newest first.
func (s *Store) History(id string) []Earlier {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.list(id)
}

// Deleted lists the versions that are kept of a case whose file is gone, newest
// first: the one that the file had last, where it was written here, and earlier
// ones. It is empty for an id of which nothing is kept.
func (s *Store) Deleted(id string) []Earlier {
	if !casefile.ValidID(id) {
		return nil
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	list := s.list(id)
	text, err := s.read(s.latest(id))
	info, statErr := os.Lstat(filepath.Join(s.dir, filepath.FromSlash(s.latest(id))))
	if err == nil && statErr == nil && (len(list) == 0 || list[0].Version != VersionOf(text)) {
		list = slices.Insert(list, 0, Earlier{Version: VersionOf(text), At: info.ModTime(), Size: info.Size(), file: "latest.md"})
	}
	return list
}

// BringBack writes a version of a deleted case to a new file and returns its path
// inside the notebook. An existing file is never overwritten.
func (s *Store) BringBack(id string, v Version) (string, error) {
	for _, e := range s.Deleted(id) {
		if e.Version != v {
			continue
		}
		text, err := s.read(s.history(id) + "/" + e.file)
		if err != nil {
			return "", err
		}
		f, _ := casefile.Parse(id+".md", text)
		if VersionOf(text) != v || f == nil || f.Case.ID != id {
			return "", fmt.Errorf("version %s of %s is damaged", v, id)
		}
		path := filepath.ToSlash(notebook.CasePath(id, f.Case.Opened, f.Case.Title))
		defer s.enter()()
		return path, s.folder().Create(path, text)
	}
	return "", fmt.Errorf("there is no version %s of %s: %w", v, id, fs.ErrNotExist)
}

func (s *Store) list(id string) []Earlier {
	if !casefile.ValidID(id) {
		return nil
	}
	root, err := os.OpenRoot(s.dir)
	if err != nil {
		return nil
	}
	defer root.Close()
	entries, err := disk.ReadDir(root, s.history(id))
	if err != nil {
		return nil
	}
	var out []Earlier
	for _, e := range entries {
		stamp, version, ok := strings.Cut(strings.TrimSuffix(e.Name(), ".md"), "-")
		version, number, _ := strings.Cut(version, ".")
		turn, _ := strconv.Atoi(number)
		at, err := time.Parse(disk.StampForm, stamp)
		if !ok || err != nil || !strings.HasSuffix(e.Name(), ".md") {
			continue
		}
		info, err := e.Info()
		if err != nil || !info.Mode().IsRegular() {
			continue
		}
		out = append(out, Earlier{Version(version), at, info.Size(), e.Name(), max(0, turn)})
	}
	slices.SortFunc(out, func(a, b Earlier) int { return cmp.Or(b.turn-a.turn, b.At.Compare(a.At)) })
	return out
}

// Restore puts an earlier version back in place; what is there now is kept.
func (s *Store) Restore(id, path string, v Version) error {
	text, ok := s.Version(id, v)
	if !ok {
		return fmt.Errorf("there is no version %s of %s: %w", v, id, fs.ErrNotExist)
	}
	defer s.enter()()
	have, err := s.Read(path)
	if err != nil {
		return err
	}
	if err := s.write(id, have); err != nil {
		return err
	}
	return s.save(id, path, VersionOf(have), text, true)
}
