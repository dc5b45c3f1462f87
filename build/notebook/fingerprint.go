package notebook

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"benchlore/build/disk"
)

// Fingerprint is what tells cheaply whether any file of a notebook changed.
type Fingerprint struct {
	Digest Hash  // over the names, sizes and times of all files
	Newest int64 // the latest modification time, nanoseconds
}

// FingerprintOf asks for the size and time of every file that a notebook is made of,
// parts lists, netlists and pictures too, and opens none. Links are followed, as
// reading follows them.
func FingerprintOf(dir string) (Fingerprint, error) {
	return fingerprint(dir, func(string) bool { return true })
}

// TextFingerprintOf is [FingerprintOf] for those who need no more than cases, devices, words and
// settings.
func TextFingerprintOf(dir string) (Fingerprint, error) {
	return fingerprint(dir, func(name string) bool { return strings.HasSuffix(name, ".md") || strings.HasSuffix(name, ".yaml") })
}

func fingerprint(dir string, counts func(name string) bool) (Fingerprint, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return Fingerprint{}, fmt.Errorf("%w: %s", ErrNoFolder, dir)
	}
	defer root.Close()
	g := &fileWalk{root: root, dir: dir, counts: counts, folders: map[string]Fingerprint{}}
	if info, err := root.Stat("notebook.yaml"); err == nil {
		g.folders["notebook.yaml"] = Fingerprint{sha256.Sum256(stamp(nil, "", info.Size(), info.ModTime().UnixNano())), info.ModTime().UnixNano()}
	}
	for _, sub := range []string{"cases", "devices", "path", "terms"} {
		g.wg.Go(func() { g.folder(sub) })
	}
	g.wg.Wait()
	h := sha256.New()
	var look Fingerprint
	for _, name := range slices.Sorted(maps.Keys(g.folders)) {
		_, _ = io.WriteString(h, name)
		digest := g.folders[name].Digest
		_, _ = h.Write(digest[:])
		look.Newest = max(look.Newest, g.folders[name].Newest)
	}
	h.Sum(look.Digest[:0])
	return look, nil
}

// fileWalk looks at the folders on all processors. Files are asked for through
// the folder: going through the root costs ten times as much.
type fileWalk struct {
	root    *os.Root
	dir     string
	counts  func(name string) bool
	wg      sync.WaitGroup
	mu      sync.Mutex
	folders map[string]Fingerprint
}

// stamp appends what tells whether a file changed; size is -1 for one that
// cannot be read now, since that too may change.
func stamp(b []byte, name string, size, mod int64) []byte {
	b = append(append(b, name...), 0)
	b = binary.AppendVarint(b, size)
	b = binary.AppendVarint(b, mod)
	return append(b, '\n')
}

func (g *fileWalk) folder(name string) {
	f, err := disk.OpenDir(filepath.Join(g.dir, filepath.FromSlash(name)))
	if err != nil {
		return
	}
	defer f.Close()
	entries, err := f.ReadDir(-1)
	if err != nil {
		return
	}
	slices.SortFunc(entries, func(a, b fs.DirEntry) int { return strings.Compare(a.Name(), b.Name()) })
	var look Fingerprint
	var lines []byte
	for _, e := range entries {
		file := e.Name()
		if e.IsDir() {
			g.wg.Go(func() { g.folder(name + "/" + file) })
			continue
		}
		if strings.HasPrefix(file, ".") || !g.counts(file) {
			continue
		}
		size, mod, regular, ok := statIn(f, file)
		if ok && !regular { // a link, most likely
			info, err := g.root.Stat(filepath.FromSlash(name + "/" + file))
			if ok = err == nil; ok {
				size, mod = info.Size(), info.ModTime().UnixNano()
			}
		}
		if !ok {
			size, mod = -1, 0
		}
		look.Newest = max(look.Newest, mod)
		lines = stamp(lines, file, size, mod)
	}
	look.Digest = sha256.Sum256(lines)
	g.mu.Lock()
	g.folders[name] = look
	g.mu.Unlock()
}
