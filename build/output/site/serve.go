package site

import (
	"context"
	"errors"
	"net"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"strings"
	"time"

	"benchlore/build/disk"
	"benchlore/build/output/picture"
)

// Serve hands out the site that a run published into dir on the listener until the
// context ends. It answers GET and HEAD alone, with nothing but the files of that run:
// what lay in the folder before is not served.
func Serve(ctx context.Context, l net.Listener, dir string, of *Report) error {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return errors.Join(err, l.Close())
	}
	defer root.Close()
	server := &http.Server{Handler: handler(root, of.published), ReadHeaderTimeout: 10 * time.Second, IdleTimeout: time.Minute}
	stop := context.AfterFunc(ctx, func() {
		grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), 2*time.Second)
		defer cancel()
		_ = server.Shutdown(grace)
	})
	defer stop()
	err = server.Serve(l)
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}

// Policy is what published pages may do, sent with every answer as it stands in
// every page; DrawingPolicy is for a drawing that is opened by itself.
const (
	Policy        = "default-src 'none'; img-src 'self'; style-src 'self'; script-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
	DrawingPolicy = "default-src 'none'; style-src 'unsafe-inline'; sandbox"
)

// Find is the published file that an address names, and its policy. A folder is
// none, nor is anything whose name begins with a point.
func Find(root *os.Root, address string) (name, policy string, ok bool) {
	name = strings.TrimPrefix(path.Clean("/"+address), "/")
	if name == "" {
		name = "index.html"
	}
	for part := range strings.SplitSeq(name, "/") {
		if strings.HasPrefix(part, ".") {
			return "", "", false
		}
	}
	if info, err := root.Stat(filepath.FromSlash(name)); err != nil || !info.Mode().IsRegular() {
		return "", "", false
	}
	if strings.HasSuffix(name, ".svg") {
		return name, DrawingPolicy, true
	}
	return name, Policy, true
}

// SetPictureType says what a picture is where its name does not: a WebP is published as
// PNG under its own name, and a smaller PNG may be a JPEG.
func SetPictureType(h http.Header, root *os.Root, name string) {
	switch strings.ToLower(path.Ext(name)) {
	case ".webp", ".png", ".jpg", ".jpeg":
	default:
		return
	}
	data, err := disk.Ordinary(root, name, picture.MaxBytes)
	if err != nil {
		return
	}
	if kind := http.DetectContentType(data); strings.HasPrefix(kind, "image/") {
		h.Set("Content-Type", kind)
	}
}

// handler serves those of the files below root that are listed. It lists no folder.
func handler(root *os.Root, listed map[string]bool) http.Handler {
	files := http.FileServerFS(root.FS())
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			w.Header().Set("Allow", "GET, HEAD")
			http.Error(w, "only GET and HEAD are answered", http.StatusMethodNotAllowed)
			return
		}
		if strings.ContainsRune(r.URL.Path, 0) {
			http.Error(w, "no address has a zero byte in it", http.StatusBadRequest)
			return
		}
		h := w.Header()
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Content-Security-Policy", Policy)
		name, policy, ok := Find(root, r.URL.Path)
		if !ok || !listed[name] {
			http.NotFound(w, r)
			return
		}
		h.Set("Content-Security-Policy", policy)
		SetPictureType(h, root, name)
		files.ServeHTTP(w, r)
	})
}
