package pack

import (
	"archive/zip"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"aead.dev/minisign"

	"benchlore/build/disk"
	"benchlore/schema/filename"
)

// Limits of a pack that is opened. They are far above real notebooks.
const (
	maxFiles = 1_000_000
	maxKey   = 4096     // of a key or a signature
	maxTotal = 32 << 30 // bytes, unpacked
	maxEntry = 64 << 20 // bytes of one file, unpacked
	// A pack unpacks to no more than so many times its size, and some room for a small
	// one. Texts of cases shrink to a fifth or a quarter, pages of a site to a tenth.
	maxRatio, maxRoom = 12, 256 << 10
)

// errRefused is what every pack is refused with that is not what it says.
var errRefused = errors.New("the pack was refused and nothing was written")

func refusef(format string, args ...any) error {
	return fmt.Errorf("%w: "+format, append([]any{errRefused}, args...)...)
}

// Pack is an opened pack; nothing in it is trusted until [Open] has returned.
type Pack struct {
	Manifest Manifest
	Signer   string // the public key that signed it, where that was asked for
	file     *os.File
	entries  map[string]*zip.File
}

// Close closes the archive.
func (p *Pack) Close() error { return p.file.Close() }

// Open opens a pack and verifies all of it: that its names stay inside and are
// told apart by every file system, that it is no bomb, that it holds exactly what
// its manifest lists with the bytes that that says, and, where a public key is
// given, that the detached signature beside it (FILE.minisig) is of that key and
// of these bytes.
func Open(name string, key string) (*Pack, error) {
	f, err := disk.Open(name)
	if err != nil {
		return nil, err
	}
	p := &Pack{file: f, entries: map[string]*zip.File{}}
	if err := p.verify(name, key); err != nil {
		f.Close()
		return nil, err
	}
	return p, nil
}

func (p *Pack) verify(name, key string) error {
	info, err := p.file.Stat()
	if err != nil {
		return err
	}
	if !info.Mode().IsRegular() {
		return refusef("it is not a file")
	}
	if key != "" {
		if err := p.checkSignature(name, key); err != nil {
			return err
		}
	}
	z, err := zip.NewReader(p.file, info.Size())
	if err != nil {
		return refusef("it is no whole ZIP archive: %v", err)
	}
	if len(z.File) > maxFiles {
		return refusef("it has %d files; at most %d are taken", len(z.File), maxFiles)
	}
	if z.Comment != "" {
		return refusef("the archive has a remark")
	}
	if err := p.checkNames(z.File); err != nil {
		return err
	}
	if err := checkLayout(p.file, info.Size(), z.File); err != nil {
		return err
	}
	return p.checkContent()
}

func (p *Pack) checkSignature(name, key string) error {
	public, err := parseKey(key)
	if err != nil {
		return err
	}
	signature, err := disk.ReadFile(name+".minisig", maxKey)
	if err != nil {
		return refusef("a key was given and there is no signature %s.minisig beside it", path.Base(name))
	}
	r := minisign.NewReader(p.file)
	if _, err := io.Copy(io.Discard, r); err != nil {
		return err
	}
	if !r.Verify(public, signature) {
		return refusef("its signature is not of these bytes by that key")
	}
	p.Signer = public.String()
	_, err = p.file.Seek(0, io.SeekStart)
	return err
}

// parseKey reads a public key, written out or in a file.
func parseKey(key string) (minisign.PublicKey, error) {
	text := []byte(key)
	if data, err := disk.ReadFile(key, maxKey); err == nil {
		text = data
	}
	var public minisign.PublicKey
	if err := public.UnmarshalText([]byte(strings.TrimSpace(string(text)))); err != nil {
		return public, fmt.Errorf("%q is no public key in minisign's format: %w", key, err)
	}
	return public, nil
}

// maxManifest is the largest manifest, in bytes; some two hundred a file.
const maxManifest = 64 << 20

func (p *Pack) checkNames(files []*zip.File) error {
	seen := map[string]string{}
	total, packed := uint64(0), uint64(0)
	for _, f := range files {
		if err := filename.CheckPath(f.Name); err != nil {
			return refusef("%q: %v", f.Name, err)
		}
		if !f.Mode().IsRegular() {
			return refusef("%q is a link, a folder or a device; a pack has files alone", f.Name)
		}
		if f.Flags&1 != 0 {
			return refusef("%q is encrypted", f.Name)
		}
		if f.Method != zip.Store && f.Method != zip.Deflate {
			return refusef("%q is packed in a way that is not known", f.Name)
		}
		if other, ok := seen[filename.Fold(f.Name)]; ok {
			return refusef("%q and %q would be one file on some systems", other, f.Name)
		}
		seen[filename.Fold(f.Name)] = f.Name
		limit := uint64(maxEntry)
		if f.Name == manifestName {
			limit = maxManifest
		}
		if f.UncompressedSize64 > limit {
			return refusef("%q has %d bytes; at most %d are taken", f.Name, f.UncompressedSize64, limit)
		}
		packed += f.CompressedSize64
		if total += f.UncompressedSize64; total > maxTotal {
			return refusef("it would grow to more than %d bytes", int64(maxTotal))
		}
		p.entries[f.Name] = f
	}
	if total > maxRatio*packed+maxRoom {
		return refusef("it would grow from %d to %d bytes; at most %d times as many and %d are taken", packed, total, maxRatio, maxRoom)
	}
	for name := range p.entries {
		for dir := path.Dir(name); dir != "."; dir = path.Dir(dir) {
			if _, ok := p.entries[dir]; ok {
				return refusef("%q is a file and a folder", dir)
			}
		}
	}
	return nil
}

// checkContent reads the manifest and compares every file with it.
func (p *Pack) checkContent() error {
	text, err := p.read(manifestName)
	if err != nil {
		return refusef("its manifest cannot be read: %v", err)
	}
	if err := strictly(text, &p.Manifest); err != nil {
		return refusef("its manifest cannot be read: %v", err)
	}
	m := &p.Manifest
	listed := map[string]bool{}
	switch {
	case m.Format != packFormat:
		return refusef("it is another kind of archive")
	case m.Version != packVersion:
		return refusef("it is of version %d; this program reads %d", m.Version, packVersion)
	case !originForm.MatchString(m.Origin.ID) || len(m.Origin.ID) > 60 || filename.Check(m.Origin.ID+".json") != nil || !oneLine(m.Origin.Name) || !oneLine(m.Licence+"x"):
		return refusef("its manifest does not say where it comes from")
	case len(m.Files) != len(p.entries)-1:
		return refusef("its manifest lists %d files and it has %d", len(m.Files), len(p.entries)-1)
	}
	for _, want := range m.Files {
		f, ok := p.entries[want.Path]
		if !ok || want.Path == manifestName {
			return refusef("its manifest lists %q, which is not there", want.Path)
		}
		if listed[want.Path] {
			return refusef("its manifest lists %q twice", want.Path)
		}
		listed[want.Path] = true
		if head, _, _ := strings.Cut(want.Path, "/"); head != "notes" && head != "site" && want.Path != "README.txt" {
			return refusef("%q belongs to no part of a pack", want.Path)
		}
		sum, size, err := hash(f)
		if err != nil {
			return refusef("%q: %v", want.Path, err)
		}
		if size != want.Bytes || sum != want.SHA256 {
			return refusef("%q is not what the manifest says", want.Path)
		}
	}
	return nil
}

var originForm = regexp.MustCompile(`^[a-z0-9]+(?:-[a-z0-9]+)*$`)

func oneLine(s string) bool {
	return s != "" && utf8.RuneCountInString(s) <= 300 && strings.IndexFunc(s, unicode.IsControl) < 0
}

func hash(f *zip.File) (sum string, size int64, err error) {
	r, err := f.Open()
	if err != nil {
		return "", 0, err
	}
	defer r.Close()
	h := sha256.New()
	size, err = io.Copy(h, io.LimitReader(r, maxEntry+1))
	return hex.EncodeToString(h.Sum(nil)), size, err
}

// read returns a file of the pack.
func (p *Pack) read(name string) ([]byte, error) {
	f, ok := p.entries[name]
	if !ok {
		return nil, fs.ErrNotExist
	}
	r, err := f.Open()
	if err != nil {
		return nil, err
	}
	defer r.Close()
	return io.ReadAll(io.LimitReader(r, maxManifest))
}

// names lists the files of the notes below a folder, in order.
func (p *Pack) names(below string) []string {
	var out []string
	for _, f := range p.Manifest.Files {
		if strings.HasPrefix(f.Path, "notes/"+below) {
			out = append(out, f.Path)
		}
	}
	slices.Sort(out)
	return out
}
