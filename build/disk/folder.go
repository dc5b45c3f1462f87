package disk

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"sync"
	"time"
)

// Folder is a folder that is written into: a notebook that may have come from
// somebody else, or the place of a site. Every write and removal goes through an
// [os.Root], so that nothing outside is touched, and none goes through a link: what
// a link points at is not ours to change. Names have slashes.
type Folder string

// errLink is returned for a name on whose way a link lies.
var errLink = errors.New("it is a link, and nothing is written through one")

// open gives the root, and the name as the system writes it, once no link lies on
// its way.
func (f Folder) open(name string) (*os.Root, string, error) {
	if !filepath.IsLocal(filepath.FromSlash(name)) {
		return nil, "", fmt.Errorf("%q leads out of the folder", name)
	}
	root, err := os.OpenRoot(string(f))
	if err != nil {
		return nil, "", err
	}
	if err := noLink(root, name); err != nil {
		root.Close()
		return nil, "", err
	}
	return root, filepath.FromSlash(name), nil
}

func noLink(root *os.Root, name string) error {
	at := ""
	for part := range strings.SplitSeq(path.Clean(name), "/") {
		at = path.Join(at, part)
		info, err := root.Lstat(filepath.FromSlash(at))
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		if info.Mode()&fs.ModeSymlink != 0 {
			return fmt.Errorf("%s: %w", at, errLink)
		}
	}
	return nil
}

// Write replaces a file whole: temporary file, sync, rename. A reader sees the old
// bytes or the new ones.
func (f Folder) Write(name string, data []byte) error { return f.put(name, data, (*os.Root).Rename) }

// Create writes a new file whole and fails with [fs.ErrExist] when there is one of
// that name already.
func (f Folder) Create(name string, data []byte) error { return f.put(name, data, placeNew) }

// placeNew gives a whole file its name, if that is free.
func placeNew(root *os.Root, tmp, target string) error {
	// A hard link fails when the target exists, which a rename would not.
	err := root.Link(tmp, target)
	if err == nil || errors.Is(err, fs.ErrExist) {
		return err
	}
	// Sticks formatted as FAT know no links: reserve the name, then rename over it.
	file, err := root.OpenFile(target, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	file.Close()
	return root.Rename(tmp, target)
}

// tempPrefix begins the names of files that are not whole yet.
const tempPrefix = ".benchlore-tmp-"

// Temporary reports whether a name is that of a file that is not whole yet.
func Temporary(name string) bool { return strings.HasPrefix(name, tempPrefix) }

func (f Folder) put(name string, data []byte, place func(root *os.Root, tmp, target string) error) error {
	root, target, err := f.open(name)
	if err != nil {
		return err
	}
	defer root.Close()
	if dir := filepath.Dir(target); dir != "." {
		if err := root.MkdirAll(dir, 0o755); err != nil {
			return err
		}
	}
	return put(root, target, data, place)
}

// put writes a whole file beside its place and has it placed.
func put(root *os.Root, target string, data []byte, place func(root *os.Root, tmp, target string) error) error {
	tmp := filepath.Join(filepath.Dir(target), tempPrefix+rand.Text())
	file, err := root.OpenFile(tmp, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	defer root.Remove(tmp) // gone already where it was renamed
	_, err = file.Write(data)
	if err == nil {
		err = file.Sync()
	}
	if closeErr := file.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		return err
	}
	return place(root, tmp, target)
}

// Remove takes a file away, or a folder that is empty. A name that is not there is
// fine.
func (f Folder) Remove(name string) error {
	root, target, err := f.open(name)
	if err != nil {
		return err
	}
	defer root.Close()
	if err := root.Remove(target); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// RemoveAll takes a folder away with all that is in it; links in it are removed, not
// followed.
func (f Folder) RemoveAll(name string) error {
	root, target, err := f.open(name)
	if err != nil {
		return err
	}
	defer root.Close()
	return root.RemoveAll(target)
}

// Rename gives a file another name in the same folder tree.
func (f Folder) Rename(from, to string) error {
	root, target, err := f.open(to)
	if err != nil {
		return err
	}
	defer root.Close()
	if err := noLink(root, from); err != nil {
		return err
	}
	if dir := filepath.Dir(target); dir != "." {
		if err := root.MkdirAll(dir, 0o755); err != nil {
			return err
		}
	}
	return root.Rename(filepath.FromSlash(from), target)
}

// MkdirAll makes a folder and those above it.
func (f Folder) MkdirAll(name string) error {
	root, target, err := f.open(name)
	if err != nil {
		return err
	}
	defer root.Close()
	return root.MkdirAll(target, 0o755)
}

// Read returns the bytes of a regular file up to a size; links within the folder are
// followed, as reading a notebook follows them.
func (f Folder) Read(name string, most int64) ([]byte, error) {
	root, err := os.OpenRoot(string(f))
	if err != nil {
		return nil, err
	}
	defer root.Close()
	return Ordinary(root, name, most)
}

// sweepAge is how old a file that is not whole must be before nobody writes it any
// more.
const sweepAge = time.Hour

// SweepTemporary removes what an earlier run was killed while writing, an hour and
// more ago. It is a tidying and says nothing of what it could not remove.
func (f Folder) SweepTemporary(dirs ...string) {
	root, err := os.OpenRoot(string(f))
	if err != nil {
		return
	}
	defer root.Close()
	for _, dir := range dirs {
		_ = fs.WalkDir(root.FS(), dir, func(name string, e fs.DirEntry, err error) error {
			if err != nil || !e.Type().IsRegular() || !Temporary(e.Name()) {
				return nil
			}
			if info, err := e.Info(); err == nil && time.Since(info.ModTime()) > sweepAge {
				_ = root.Remove(filepath.FromSlash(name))
			}
			return nil
		})
	}
}

// secret is known to this user's installation alone. What was derived from a notebook
// carries a name made with it, so that state which came along with somebody else's
// notebook is never taken for our own.
var secret = sync.OnceValues(readSecret)

func readSecret() ([]byte, error) {
	base, err := os.UserConfigDir()
	if err != nil {
		return nil, err
	}
	dir := filepath.Join(base, "benchlore")
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, err
	}
	const size = 32
	for range 3 {
		key, err := ReadFile(filepath.Join(dir, "secret"), size)
		if err == nil && len(key) == size {
			return key, nil
		}
		fresh := make([]byte, size)
		if _, err := rand.Read(fresh); err != nil {
			return nil, err
		}
		if err == nil || errors.Is(err, ErrTooLarge) { // of another size: damaged
			if err := WriteFile(filepath.Join(dir, "secret"), fresh); err != nil {
				return nil, err
			}
			continue
		}
		if err := CreateFile(filepath.Join(dir, "secret"), fresh); err != nil && !errors.Is(err, fs.ErrExist) {
			return nil, err
		}
		_ = os.Chmod(filepath.Join(dir, "secret"), 0o600)
	}
	return nil, errors.New("the secret of this installation cannot be kept")
}

// Mark is a short text that only this installation can make of another one; "" where
// it has no place for its secret.
func Mark(text string) string {
	key, err := secret()
	if err != nil {
		return ""
	}
	mac := hmac.New(sha256.New, key)
	_, _ = mac.Write([]byte(text))
	return hex.EncodeToString(mac.Sum(nil)[:12])
}

// Derived is the name, inside the notebook in dir, of something that is derived from
// it and may be believed when it is found again; ok is false where nothing may be
// kept or believed.
func Derived(dir, name string) (inside string, ok bool) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return "", false
	}
	mark := Mark("derived\x00" + abs)
	if mark == "" {
		return "", false
	}
	ext := path.Ext(name)
	inside = ".benchlore/" + strings.TrimSuffix(name, ext) + "-" + mark + ext
	root, err := os.OpenRoot(dir)
	if err != nil {
		return "", false
	}
	defer root.Close()
	return inside, noLink(root, inside) == nil
}
