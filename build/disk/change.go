package disk

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"time"
)

// StampForm is how the moment stands in the names of what is kept, in UTC.
const StampForm = "20060102T150405.000Z"

// KeptName is the name of a text among the earlier versions: when it was put there, what
// its bytes are (the first 8 bytes of their SHA-256), and its extension.
func KeptName(at time.Time, text []byte, ext string) string {
	sum := sha256.Sum256(text)
	return at.UTC().Format(StampForm) + "-" + hex.EncodeToString(sum[:8]) + ext
}

// keep puts what was displaced under [Kept]/history/OF.
func (f Folder) keep(of, ext string, text []byte) error {
	return f.Write(path.Join(Kept, "history", of, KeptName(time.Now(), text, ext)), text)
}

// Change makes the next bytes of a file from those that it has, nil where there is none,
// while nobody else who uses the gate gets between. A nil next changes nothing. What
// somebody who does not use it wrote meanwhile, and edit therefore never saw, is kept
// under [Kept]/history/OF: the number of a case, or the name of another file. edit is to
// be short, since everybody waits for it, and must not write through the gate itself.
func (f Folder) Change(name, of string, edit func(have []byte) (next []byte, err error)) error {
	defer f.Enter()()
	have, err := f.Read(name, mostDisplaced)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	next, err := edit(have)
	if err != nil || next == nil {
		return err
	}
	if have == nil {
		// Never over what came into being since.
		err := f.Create(name, next)
		if !errors.Is(err, fs.ErrExist) {
			return err
		}
	}
	displaced, err := f.Exchange(name, next)
	if err != nil || displaced == nil || bytes.Equal(displaced, have) {
		return err
	}
	return f.keep(of, path.Ext(name), displaced)
}

// RemoveIf takes a file away if its bytes are what the caller means, and reports whether
// it did; another file stays or comes back. A name that is not there is fine.
func (f Folder) RemoveIf(name, of string, meant func(have []byte) bool) (removed bool, err error) {
	defer f.Enter()()
	have, err := f.Read(name, mostDisplaced)
	if errors.Is(err, fs.ErrNotExist) {
		return true, nil
	}
	if err != nil || !meant(have) {
		return false, err
	}
	// What is taken away is what is looked at: it is moved first.
	aside := path.Join(path.Dir(name), tempPrefix+rand.Text())
	if err := f.Rename(name, aside); err != nil {
		return false, err
	}
	have, err = f.Read(aside, mostDisplaced)
	if err == nil && meant(have) {
		return true, f.Remove(aside)
	}
	if _, there := os.Lstat(filepath.Join(string(f), filepath.FromSlash(name))); there != nil {
		return false, f.Rename(aside, name)
	}
	if err == nil {
		err = f.keep(of, path.Ext(name), have)
	}
	if err == nil {
		err = f.Remove(aside)
	}
	return false, err
}
