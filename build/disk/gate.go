package disk

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"time"

	"github.com/gofrs/flock"
)

// Kept is the folder of a notebook for what is not derived and stands in no case: earlier
// versions, the journal, answers that were not finished, originals of pictures. It is
// never packed, published or thrown away.
const Kept = "kept"

// before is where [Kept] was in notebooks of before.
const before = ".benchlore"

// keptParts are the folders in it.
var keptParts = []string{"history", "journal", "drafts", "originals"}

// gateName is the file whose lock is held for each write, and waits how long somebody
// waits for it: longer than any write takes.
const gateName = before + "/write.lock"

const waits = 15 * time.Second

// Enter waits until nobody else, of this process or another, writes into the notebook, and
// holds the gate until leave is called. On a disk that knows no locks it is open: what is
// written there is still compared where it is placed.
func (f Folder) Enter() (leave func()) {
	if f.MkdirAll(before) != nil {
		return func() {}
	}
	gate := LockFile(filepath.Join(string(f), filepath.FromSlash(gateName)))
	ctx, stop := context.WithTimeout(context.Background(), waits)
	defer stop()
	for {
		held, err := gate.TryLockContext(ctx, time.Millisecond)
		if err != nil || !held {
			_ = gate.Close()
			return func() {}
		}
		// What is derived may be deleted while somebody waits: a lock of a file that
		// nobody else would find keeps nobody out.
		if stands(gate) || f.MkdirAll(before) != nil {
			return func() { _ = gate.Close() }
		}
		_ = gate.Close()
	}
}

// stands reports whether what is locked is what others would find under its name.
func stands(lock *flock.Flock) bool {
	ours, err := lock.Stat()
	if err != nil {
		return false
	}
	theirs, err := os.Lstat(lock.Path())
	return err == nil && os.SameFile(ours, theirs)
}

// attendedName is the file whose lock is held by everybody who has texts of the notebook in
// memory for long.
const attendedName = before + "/attended.lock"

// Attend says, until leave is called, that somebody has texts of the notebook in memory and
// may write them again later, as a writing server and an interview do. Many may.
func (f Folder) Attend() (leave func()) {
	leave, _ = f.attended((*flock.Flock).TryRLockContext, waits)
	return leave
}

// Alone keeps others from [Folder.Attend] until leave is called; ok is false where somebody
// attends. On a disk that knows no locks nobody can tell, and ok is true.
func (f Folder) Alone() (leave func(), ok bool) {
	return f.attended((*flock.Flock).TryLockContext, waits/100)
}

func (f Folder) attended(try func(*flock.Flock, context.Context, time.Duration) (bool, error), most time.Duration) (leave func(), ok bool) {
	if f.MkdirAll(before) != nil {
		return func() {}, true
	}
	lock := LockFile(filepath.Join(string(f), filepath.FromSlash(attendedName)))
	ctx, stop := context.WithTimeout(context.Background(), most)
	defer stop()
	held, err := try(lock, ctx, 10*time.Millisecond)
	if err != nil && !errors.Is(err, context.DeadlineExceeded) {
		return func() {}, true
	}
	if !held {
		return func() {}, false
	}
	return func() { _ = lock.Close() }, true
}

// MoveKept brings what a notebook of before kept among what is derived to [Kept]. What is
// there already stays; it is done again where it was broken off.
func (f Folder) MoveKept() error {
	for _, part := range keptParts {
		from := filepath.Join(string(f), before, part)
		if info, err := os.Lstat(from); err != nil || !info.IsDir() {
			continue
		}
		leave := f.Enter()
		err := f.moveAll(before+"/"+part, Kept+"/"+part)
		leave()
		if err != nil {
			return err
		}
	}
	return nil
}

// moveAll moves the files of a folder, each whole, and takes the folder away once it is
// empty.
func (f Folder) moveAll(from, to string) error {
	entries, err := os.ReadDir(filepath.Join(string(f), filepath.FromSlash(from)))
	if err != nil {
		return err
	}
	if err := f.MkdirAll(to); err != nil {
		return err
	}
	for _, e := range entries {
		a, b := from+"/"+e.Name(), to+"/"+e.Name()
		if e.IsDir() {
			err = f.moveAll(a, b)
		} else if _, there := os.Lstat(filepath.Join(string(f), filepath.FromSlash(b))); there != nil {
			err = f.Rename(a, b)
		}
		if err != nil {
			return err
		}
	}
	_ = f.Remove(from) // what two folders both had stays where it is
	return nil
}

// Exchange replaces a file whole and returns what stood there at that moment, whoever
// wrote it and however shortly before: nil where nothing did.
func (f Folder) Exchange(name string, data []byte) (displaced []byte, err error) {
	err = f.put(name, data, func(root *os.Root, tmp, target string) error {
		displaced, err = exchange(root, tmp, target)
		return err
	})
	return displaced, err
}

// mostDisplaced is the most that is kept of what stood in a file's place, in bytes: more
// than any text that is read.
const mostDisplaced = 64 << 20

// renamed is [exchange] where a disk cannot swap two names: what stands there is read, and
// then replaced.
func renamed(root *os.Root, tmp, target string) ([]byte, error) {
	displaced, err := Ordinary(root, target, mostDisplaced)
	if err != nil {
		displaced = nil
	}
	return displaced, root.Rename(tmp, target)
}

// LockFile is a lock of that name, held over processes. What lies there in the place of a
// file is not waited for, and a link is an error: what it points at is not ours to make.
func LockFile(name string) *flock.Flock {
	return flock.New(name, flock.SetFlag(os.O_CREATE|os.O_RDONLY|nonblock|nofollow))
}
