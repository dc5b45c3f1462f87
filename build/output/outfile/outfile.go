// Package outfile says where a command may write what it makes: never among the files of a
// notebook, and over another file only where an earlier run wrote that one or somebody
// asks for it.
//
// [Allow] is asked before a file is written and [Note] told when it was. What this user's
// runs wrote is kept by path and SHA-256 in the settings folder.
package outfile

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"benchlore/build/disk"
)

// marker is the file that makes a folder a notebook, and own are the folders in it that
// hold what is not derived.
const marker = "notebook.yaml"

var own = []string{"cases", "devices", "method", "path", "received", "terms", ".benchlore", "kept"}

// Why a path is refused.
var (
	ErrOwn   = errors.New("among a notebook's own files")
	ErrThere = errors.New("there already, and no earlier run wrote it as it is now")
)

// Allow reports whether a file may be written: nil, or an error that says what would be
// right. With replace a file that somebody else wrote may be replaced, but never one of a
// notebook's own.
func Allow(name string, replace bool) error {
	real, err := resolved(name)
	if err != nil {
		return err
	}
	if book, inside, ok := among(real); ok {
		return fmt.Errorf("%s is %w (%s in %s); write it to another folder", name, ErrOwn, filepath.ToSlash(inside), book)
	}
	info, err := os.Lstat(real)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	if !info.Mode().IsRegular() {
		return fmt.Errorf("%s is no ordinary file; name another", name)
	}
	if replace {
		return nil
	}
	if sum, err := disk.Sum(real); err == nil {
		if noted, err := disk.ReadFile(noteOf(real), 2*sha256.Size); err == nil && string(noted) == sum {
			return nil
		}
	}
	return fmt.Errorf("%s is %w; --replace writes over it", name, ErrThere)
}

// Folder reports whether a folder may take what a command makes.
func Folder(name string) error {
	real, err := resolved(filepath.Join(name, "x"))
	if err != nil {
		return err
	}
	if book, inside, ok := among(real); ok {
		return fmt.Errorf("%s is %w (%s in %s); name another folder", name, ErrOwn, filepath.ToSlash(filepath.Dir(inside)), book)
	}
	return nil
}

// Outside reports whether a folder lies in no notebook at all, as secrets need it.
func Outside(name string) error {
	real, err := resolved(filepath.Join(name, "x"))
	if err != nil {
		return err
	}
	if book, _, ok := notebookOf(real); ok {
		return fmt.Errorf("%s lies in the notebook %s; name a folder outside of it", name, book)
	}
	return nil
}

// Note remembers that a run wrote a file as it is now. Where it cannot, the next run asks
// for --replace.
func Note(name string) {
	real, err := resolved(name)
	if err != nil {
		return
	}
	if sum, err := disk.Sum(real); err == nil && noteOf(real) != "" {
		_ = disk.WriteFile(noteOf(real), []byte(sum))
	}
}

// resolved is the path with the links of its folders followed; folders that are not there
// yet stand as they are written.
func resolved(name string) (string, error) {
	abs, err := filepath.Abs(name)
	if err != nil {
		return "", err
	}
	dir, rest := filepath.Dir(abs), filepath.Base(abs)
	for {
		real, err := filepath.EvalSymlinks(dir)
		if err == nil {
			return filepath.Join(real, rest), nil
		}
		if !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
		up := filepath.Dir(dir)
		if up == dir {
			return abs, nil
		}
		dir, rest = up, filepath.Join(filepath.Base(dir), rest)
	}
}

// notebookOf gives the notebook that a path lies in, and the path inside of it.
func notebookOf(real string) (book, inside string, ok bool) {
	for dir := filepath.Dir(real); ; dir = filepath.Dir(dir) {
		if info, err := os.Lstat(filepath.Join(dir, marker)); err == nil && !info.IsDir() {
			inside, err := filepath.Rel(dir, real)
			return dir, inside, err == nil
		}
		if dir == filepath.Dir(dir) {
			return "", "", false
		}
	}
}

// among reports whether a path is one of a notebook's own files. Capitals make no other
// name, since on many disks they do not.
func among(real string) (book, inside string, ok bool) {
	book, inside, ok = notebookOf(real)
	if !ok {
		return "", "", false
	}
	first, _, deeper := strings.Cut(filepath.ToSlash(strings.ToLower(inside)), "/")
	return book, inside, deeper && slices.Contains(own, first) || !deeper && first == marker
}

// noteOf is where it is kept what was written to a path; "" where there is no place for it.
func noteOf(real string) string {
	base, err := os.UserConfigDir()
	if err != nil {
		return ""
	}
	sum := sha256.Sum256([]byte(real))
	return filepath.Join(base, "benchlore", "written", hex.EncodeToString(sum[:16]))
}
