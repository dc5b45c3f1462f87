package editor

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/png"
	"io"
	"io/fs"
	"mime/multipart"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"benchlore/theme"
)

// served is a server on a loopback port over a copy of the example.
type served struct {
	t      testing.TB
	dir    string
	s      *Server
	base   string
	client *http.Client
}

func serveIt(t testing.TB, o Options) *served {
	t.Helper()
	return serveDir(t, example(t), o)
}

func serveDir(t testing.TB, dir string, o Options) *served {
	t.Helper()
	s, err := New(dir, o)
	require.NoError(t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Serve(ctx, l) }()
	t.Cleanup(func() { stop(); assert.NoError(t, <-done) })
	return &served{t, dir, s, "http://" + l.Addr().String(),
		&http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

type ask struct {
	method, path, body, kind string
	header                   map[string]string
	host                     string
	reader                   io.Reader
}

func (x *served) do(a ask) (code int, body string, h http.Header) {
	x.t.Helper()
	var r io.Reader = strings.NewReader(a.body)
	if a.reader != nil {
		r = a.reader
	}
	method := a.method
	if method == "" {
		method = http.MethodPost
	}
	req, err := http.NewRequest(method, x.base+a.path, r)
	require.NoError(x.t, err)
	if a.host != "" {
		req.Host = a.host
	}
	if method == http.MethodPost {
		req.Header.Set("Origin", x.base)
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if a.kind != "" {
		req.Header.Set("Content-Type", a.kind)
	}
	for k, v := range a.header {
		if v == "" {
			req.Header.Del(k)
			continue
		}
		req.Header.Set(k, v)
	}
	res, err := x.client.Do(req)
	if err != nil {
		return 0, err.Error(), nil
	}
	defer res.Body.Close()
	text, _ := io.ReadAll(res.Body)
	return res.StatusCode, string(text), res.Header
}

// everyRoute is each pattern with a case in it, as method and path.
func (x *served) everyRoute() (list [][2]string) {
	for pattern := range x.s.routes() {
		method, path, _ := strings.Cut(pattern, " ")
		path = strings.NewReplacer("{id}", "2026-0018", "{file}", "ring.svg", "{$}", "").Replace(path)
		list = append(list, [2]string{method, path})
	}
	return list
}

func (x *served) snapshot() map[string]string {
	out := map[string]string{}
	for _, sub := range []string{"cases", "devices", "terms", "notebook.yaml"} {
		_ = filepath.WalkDir(filepath.Join(x.dir, sub), func(p string, e os.DirEntry, err error) error {
			if err == nil && !e.IsDir() {
				b, _ := os.ReadFile(p)
				out[p] = string(b)
			}
			return nil
		})
	}
	return out
}

// TestEveryHandlerRefusesStrangers: another host's name, another page's origin, a
// post that does not say where it comes from, an unknown method. Nothing changes.
func TestEveryHandlerRefusesStrangers(t *testing.T) {
	x := serveIt(t, Options{})
	before := x.snapshot()
	port := x.base[strings.LastIndex(x.base, ":"):]
	for _, r := range x.everyRoute() {
		name := r[0] + " " + r[1]
		for _, host := range []string{"evil.example" + port, "evil.example", "127.0.0.1.evil.example" + port,
			"127.0.0.1:1", "192.168.1.9" + port, "[::1]:1", "localhost"} {
			code, _, _ := x.do(ask{method: r[0], path: r[1], host: host})
			assert.Equal(t, http.StatusMisdirectedRequest, code, "%s with the host %s", name, host)
		}
		if r[0] == http.MethodPost {
			for what, h := range map[string]map[string]string{
				"another origin": {"Origin": "http://evil.example"}, "a null origin": {"Origin": "null"},
				"another port":       {"Origin": "http://127.0.0.1:1"},
				"a cross-site fetch": {"Origin": "http://evil.example", "Sec-Fetch-Site": "cross-site"},
				"a same-site fetch":  {"Origin": "http://evil.example", "Sec-Fetch-Site": "same-site"}, "no origin": {"Origin": ""},
			} {
				code, _, _ := x.do(ask{path: r[1], header: h})
				assert.Equal(t, http.StatusForbidden, code, "%s from %s", name, what)
			}
		}
		for _, method := range []string{http.MethodPut, http.MethodDelete, "TRACE", http.MethodOptions} {
			code, _, _ := x.do(ask{method: method, path: r[1]})
			assert.Equal(t, http.StatusMethodNotAllowed, code, "%s %s", method, r[1])
		}
	}
	assert.Equal(t, before, x.snapshot())
	code, _, h := x.do(ask{method: "GET", path: "/write/"})
	assert.Equal(t, http.StatusOK, code)
	assert.Equal(t, "DENY", h.Get("X-Frame-Options"))
	assert.Contains(t, h.Get("Content-Security-Policy"), "frame-ancestors 'none'")
	code, _, _ = x.do(ask{method: "GET", path: "/write/", host: "localhost" + port})
	assert.Equal(t, http.StatusOK, code)
}

// TestPathsStayInside: no parameter leads out of the notebook, or to a file that
// a case does not name.
func TestPathsStayInside(t *testing.T) {
	x := serveIt(t, Options{})
	require.NoError(t, os.WriteFile(filepath.Join(filepath.Dir(x.dir), "secret.png"), []byte("secret"), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(x.dir, "cases", "2026", "secret.md"), []byte("secret"), 0o600))
	before := x.snapshot()
	evil := []string{"..", "../notebook.yaml", "..%2f..%2fnotebook.yaml", "%2e%2e%2f%2e%2e%2fsecret.png",
		"..%5c..%5csecret.png", "%00", "2026-0018%00.md", "notebook.yaml", "C:%5cx", "%2fetc%2fpasswd", ".benchlore%2fturn"}
	for pattern := range x.s.routes() {
		method, path, _ := strings.Cut(pattern, " ")
		if !strings.Contains(path, "{") || strings.Contains(path, "{$}") {
			continue
		}
		for _, e := range evil {
			id := strings.NewReplacer("{id}", e, "{file}", "x.png").Replace(path)
			code, body, _ := x.do(ask{method: method, path: id})
			assert.Contains(t, []int{http.StatusNotFound, http.StatusTemporaryRedirect, http.StatusMovedPermanently,
				http.StatusBadRequest, http.StatusMethodNotAllowed, http.StatusOK}, code, "%s %s", method, id)
			assert.NotContains(t, body, "secret", "%s %s", method, id)
			assert.NotContains(t, body, "root:", "%s %s", method, id)
			if strings.Contains(path, "{file}") {
				file := strings.NewReplacer("{id}", "2025-0020", "{file}", e).Replace(path)
				code, body, _ = x.do(ask{method: method, path: file})
				assert.NotEqual(t, http.StatusOK, code, file)
				assert.NotContains(t, body, "secret", file)
			}
		}
	}
	for _, e := range evil {
		for _, path := range []string{"/" + e, "/cases/" + e, "/.benchlore/" + e, "/write/assets/" + e} {
			code, body, _ := x.do(ask{method: "GET", path: path})
			assert.NotEqual(t, http.StatusOK, code, path)
			assert.NotContains(t, body, "secret", path)
		}
		name, _ := url.PathUnescape(e)
		blur, _ := json.Marshal(map[string]any{"file": name, "x": 0.1, "y": 0.1, "w": 0.5, "h": 0.5})
		code, _, _ := x.do(ask{path: "/write/case/2025-0020/blur", body: string(blur), kind: "application/json"})
		assert.Equal(t, http.StatusNotFound, code, e)
		change, _ := json.Marshal(map[string]any{"changes": map[string]Change{"photos": {"[]",
			`[{"file":"` + strings.ReplaceAll(name, `\`, `\\`) + `","caption":"x"}]`}, "returns": {"", name},
			"device": {"tessaly-bm1", name}}})
		_, _, _ = x.do(ask{path: "/write/case/2026-0018/change", body: string(change), kind: "application/json"})
		code, _, _ = x.do(ask{path: "/write/case/2026-0018/history", body: "version=" + e})
		assert.NotEqual(t, http.StatusSeeOther, code)
	}
	after := x.snapshot()
	for p, text := range before {
		if !strings.Contains(p, "2026-0018") {
			assert.Equal(t, text, after[p], p)
		}
	}
	assert.Len(t, after, len(before), "no file came or went")
}

// endless gives bytes without end.
type endless struct{ sent atomic.Int64 }

func (e *endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = 'a'
	}
	if e.sent.Add(int64(len(p))) > 1<<30 {
		return 0, io.EOF
	}
	return len(p), nil
}

// TestLargeBodies: a body of a gigabyte is refused early by every handler that
// reads one.
func TestLargeBodies(t *testing.T) {
	x := serveIt(t, Options{})
	before := x.snapshot()
	for _, r := range x.everyRoute() {
		if r[0] != http.MethodPost {
			continue
		}
		for _, kind := range []string{"application/x-www-form-urlencoded", "application/json", "multipart/form-data; boundary=b"} {
			e := &endless{}
			prefix := map[string]string{"application/json": `{"changes":{"title":{"was":"`,
				"multipart/form-data; boundary=b": "--b\r\nContent-Disposition: form-data; name=\"picture\"; filename=\"a.png\"\r\n\r\n"}[kind]
			_, _, _ = x.do(ask{path: r[1], kind: kind, reader: io.MultiReader(strings.NewReader(prefix), e)})
			assert.Less(t, e.sent.Load(), int64(200<<20), "%s %s was read on and on", kind, r[1])
		}
	}
	after := x.snapshot()
	for p := range before {
		if !strings.Contains(p, "2026-0018") {
			assert.Equal(t, before[p], after[p], p)
		}
	}
	code, body, _ := x.do(ask{path: "/write/case/2026-0017/change", kind: "application/json",
		body: `{"changes":{"title":{"was":"","now":"` + strings.Repeat("a", maxText) + `"}}}`})
	assert.Equal(t, http.StatusRequestEntityTooLarge, code)
	assert.Contains(t, body, "more than 6 MB")
}

// TestSlowBodies: a body that trickles in is cut off.
func TestSlowBodies(t *testing.T) {
	was := slowest
	slowest = 300 * time.Millisecond
	defer func() { slowest = was }()
	x := serveIt(t, Options{})
	r, w := io.Pipe()
	go func() {
		for range 100 {
			if _, err := w.Write([]byte("a")); err != nil {
				return
			}
			time.Sleep(50 * time.Millisecond)
		}
		w.Close()
	}()
	began := time.Now()
	code, _, _ := x.do(ask{path: "/write/case/2026-0018/change", reader: r, kind: "application/json"})
	r.Close()
	assert.NotEqual(t, http.StatusOK, code)
	assert.Less(t, time.Since(began), 4*time.Second)
}

func upload(t testing.TB, files map[string][]byte) (body, kind string) {
	t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for name, data := range files {
		w, err := m.CreateFormFile("picture", name)
		require.NoError(t, err)
		_, _ = w.Write(data)
	}
	require.NoError(t, m.Close())
	return b.String(), m.FormDataContentType()
}

func smallPNG(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, image.NewGray(image.Rect(0, 0, 40, 30))))
	return b.Bytes()
}

// bombPNG says that it is of a size that it is not.
func bombPNG(t testing.TB, width, height uint32) []byte {
	t.Helper()
	bomb := smallPNG(t)
	binary.BigEndian.PutUint32(bomb[16:], width)
	binary.BigEndian.PutUint32(bomb[20:], height)
	binary.BigEndian.PutUint32(bomb[29:], crc32.ChecksumIEEE(bomb[12:29]))
	return bomb
}

// TestUploads: drawings with scripts, HEIC, bombs and files that are no pictures
// are refused with a word, and nothing is left behind; a good one among them is
// kept.
func TestUploads(t *testing.T) {
	x := serveIt(t, Options{})
	bomb := bombPNG(t, 100_000, 100_000)
	for name, c := range map[string]struct {
		data []byte
		says string
	}{
		"evil.svg": {[]byte(`<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>`),
			"not a JPEG, PNG or WebP"}, "evil.png": {[]byte("<script>alert(1)</script>"), "not a JPEG, PNG or WebP"},
		"a.heic":   {append([]byte{0, 0, 0, 24}, "ftypheic\x00\x00\x00\x00mif1heic"...), "HEIC"},
		"bomb.png": {bomb, "million pixels"}, "cut.png": {smallPNG(t)[:60], "damaged"}, "empty.png": {nil, "not a JPEG, PNG or WebP"},
	} {
		body, kind := upload(t, map[string][]byte{name: c.data})
		code, text, _ := x.do(ask{path: "/write/case/2026-0018/pictures", body: body, kind: kind})
		assert.Equal(t, http.StatusUnprocessableEntity, code, name)
		assert.Contains(t, text, c.says, name)
	}
	_, err := os.Stat(filepath.Join(x.dir, "cases", "2026", "2026-0018"))
	assert.ErrorIs(t, err, os.ErrNotExist)
	body, kind := upload(t, map[string][]byte{"../../../escape.png": smallPNG(t), "no.txt": []byte("text"), "CON .png": smallPNG(t)})
	code, text, _ := x.do(ask{path: "/write/case/2026-0018/pictures", body: body, kind: kind,
		header: map[string]string{"Accept": "application/json"}})
	assert.Equal(t, http.StatusOK, code, text)
	entries, err := os.ReadDir(filepath.Join(x.dir, "cases", "2026", "2026-0018"))
	require.NoError(t, err)
	assert.Len(t, entries, 2)
	for _, e := range entries {
		assert.Regexp(t, `^[a-z0-9-]+\.png$`, e.Name())
	}
	_, err = os.Stat(filepath.Join(filepath.Dir(x.dir), "escape.png"))
	assert.ErrorIs(t, err, os.ErrNotExist)
}

// TestBlurAndOriginals: an original is kept where it was asked for, and goes with
// its readable copy when part of the picture is blurred.
func TestBlurAndOriginals(t *testing.T) {
	x := serveIt(t, Options{})
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	require.NoError(t, m.WriteField("keep", "1"))
	w, err := m.CreateFormFile("picture", "label.png")
	require.NoError(t, err)
	_, _ = w.Write(smallPNG(t))
	require.NoError(t, m.Close())
	code, text, _ := x.do(ask{path: "/write/case/2026-0018/pictures", body: b.String(), kind: m.FormDataContentType(),
		header: map[string]string{"Accept": "application/json"}})
	require.Equal(t, http.StatusOK, code, text)
	original := filepath.Join(x.dir, "kept", "originals", "2026-0018", "label.png")
	have, err := os.ReadFile(original)
	require.NoError(t, err)
	assert.Equal(t, smallPNG(t), have)
	code, text, _ = x.do(ask{path: "/write/case/2026-0018/blur",
		body: `{"file":"label.png","x":0.1,"y":0.1,"w":0.5,"h":0.5}`, kind: "application/json"})
	require.Equal(t, http.StatusOK, code, text)
	_, err = os.Stat(original)
	assert.ErrorIs(t, err, os.ErrNotExist)
	code, _, h := x.do(ask{method: "GET", path: "/write/case/2026-0018/picture/label.png"})
	assert.Equal(t, http.StatusOK, code)
	assert.Equal(t, "image/png", h.Get("Content-Type"))
	code, _, _ = x.do(ask{path: "/write/case/2026-0018/blur",
		body: `{"file":"label.png","x":0.9,"y":0.1,"w":0.5,"h":0.5}`, kind: "application/json"})
	assert.Equal(t, http.StatusUnprocessableEntity, code)
}

// TestDiskTroubles: a file that went, a folder that cannot be written to, a full
// disk: a clear answer, and the file whole.
func TestDiskTroubles(t *testing.T) {
	x := serveIt(t, Options{})
	c := loaded(t, x.dir, "2026-0018")
	file := filepath.Join(x.dir, filepath.FromSlash(c.Path))
	original, err := os.ReadFile(file)
	require.NoError(t, err)
	change := func(now string) ask {
		b, _ := json.Marshal(map[string]any{"changes": map[string]Change{"section:Lesson": {FieldsOf(c.File)["section:Lesson"], now}}})
		return ask{path: "/write/case/2026-0018/change", kind: "application/json", body: string(b)}
	}
	code, _, _ := x.do(ask{method: "GET", path: "/write/case/2026-0018"})
	require.Equal(t, http.StatusOK, code)
	// The journal's folder is a file: nothing can be written.
	require.NoError(t, os.MkdirAll(filepath.Join(x.dir, "kept"), 0o755))
	require.NoError(t, os.RemoveAll(filepath.Join(x.dir, "kept", "journal")))
	require.NoError(t, os.WriteFile(filepath.Join(x.dir, "kept", "journal"), nil, 0o644))
	code, text, _ := x.do(change("A lesson."))
	assert.Equal(t, http.StatusInternalServerError, code)
	assert.Contains(t, text, "nothing was written")
	assert.NotContains(t, text, x.dir)
	have, _ := os.ReadFile(file)
	assert.Equal(t, string(original), string(have))
	require.NoError(t, os.Remove(filepath.Join(x.dir, "kept", "journal")))
	// The history's folder is a file: the journal has the text.
	require.NoError(t, os.RemoveAll(filepath.Join(x.dir, "kept", "history")))
	require.NoError(t, os.WriteFile(filepath.Join(x.dir, "kept", "history"), nil, 0o644))
	code, text, _ = x.do(change("A lesson."))
	assert.Equal(t, http.StatusInternalServerError, code)
	assert.Contains(t, text, "in the journal, not in the file")
	have, _ = os.ReadFile(file)
	assert.Equal(t, string(original), string(have))
	kept, ok := x.s.store.Kept("2026-0018", c.Path)
	assert.True(t, ok)
	assert.Contains(t, string(kept), "A lesson.")
	require.NoError(t, os.Remove(filepath.Join(x.dir, "kept", "history")))
	// It is offered on the sheet, and put into the file on request.
	_, text, _ = x.do(ask{method: "GET", path: "/write/case/2026-0018"})
	assert.Contains(t, text, "Text was kept that the file does not have")
	code, _, _ = x.do(ask{path: "/write/case/2026-0018/kept", body: "take=1"})
	assert.Equal(t, http.StatusSeeOther, code)
	have, _ = os.ReadFile(file)
	assert.Contains(t, string(have), "A lesson.")
	// The file is gone while its sheet is open.
	require.NoError(t, os.Remove(file))
	code, text, _ = x.do(change("More."))
	assert.Equal(t, http.StatusNotFound, code)
	assert.Contains(t, text, "still on the page")
	// An editor is halfway through writing it: worth asking again.
	require.NoError(t, os.WriteFile(file, original[:20], 0o644))
	for _, a := range []ask{change("More."), {method: "GET", path: "/write/case/2026-0018/state"}} {
		code, text, h := x.do(a)
		assert.Equal(t, http.StatusServiceUnavailable, code, text)
		assert.NotEmpty(t, h.Get("Retry-After"))
	}
	require.NoError(t, os.WriteFile(file, original, 0o644))
	// No answer names a file of this machine.
	for _, err := range []error{&fs.PathError{Op: "write", Path: "/tmp/x-1/y", Err: errors.New("odd")},
		fmt.Errorf("nothing was written: %w", &os.LinkError{Op: "rename", Old: "/tmp/a", New: "/tmp/b", Err: errors.New("odd")})} {
		rec := httptest.NewRecorder()
		x.s.fail(rec, err)
		assert.NotContains(t, rec.Body.String(), "/tmp")
		assert.Contains(t, rec.Body.String(), "a file: odd")
	}
	// What the system says of a full disk and a read-only folder.
	for err, want := range map[error]int{fmt.Errorf("x: %w", syscall.ENOSPC): http.StatusInsufficientStorage,
		fmt.Errorf("x: %w", os.ErrPermission): http.StatusForbidden} {
		rec := httptest.NewRecorder()
		x.s.fail(rec, err)
		assert.Equal(t, want, rec.Code)
	}
}

// TestSource: a half-typed source is kept aside, a whole one goes into the file,
// one made from an older file is told so.
func TestSource(t *testing.T) {
	x := serveIt(t, Options{})
	c := loaded(t, x.dir, "2026-0018")
	file := filepath.Join(x.dir, filepath.FromSlash(c.Path))
	original, _ := os.ReadFile(file)
	post := func(text string, v Version) (int, string) {
		code, body, _ := x.do(ask{path: "/write/case/2026-0018/source",
			body: url.Values{"text": {text}, "version": {string(v)}}.Encode(), header: map[string]string{"Accept": "application/json"}})
		return code, body
	}
	code, body := post("---\ncase: 2026-0018\ntitle: [half", VersionOf(original))
	assert.Equal(t, http.StatusUnprocessableEntity, code)
	assert.Contains(t, body, "kept aside")
	have, _ := os.ReadFile(file)
	assert.Equal(t, string(original), string(have))
	code, _ = post(strings.Replace(string(original), "2026-0018", "2026-0099", 1), VersionOf(original))
	assert.Equal(t, http.StatusUnprocessableEntity, code, "a case keeps its number")
	next := strings.ReplaceAll(string(original)+"\nMore.\n", "\n", "\r\n")
	code, body = post(next, VersionOf(original))
	assert.Equal(t, http.StatusOK, code, body)
	have, _ = os.ReadFile(file)
	assert.Equal(t, string(original)+"\nMore.\n", string(have))
	code, body = post(string(original)+"\nOther.\n", VersionOf(original))
	assert.Equal(t, http.StatusConflict, code)
	assert.Contains(t, body, "More.")
	kept, ok := x.s.store.Kept("2026-0018", c.Path)
	assert.True(t, ok)
	assert.Contains(t, string(kept), "Other.")
}

// TestPassPhrase: outside loopback everything asks for it, tries are limited,
// and the right one opens.
func TestPassPhrase(t *testing.T) {
	x := serveIt(t, Options{Phrase: "boda-kilu"})
	for _, r := range x.everyRoute() {
		if r[1] == "/write/enter" {
			continue
		}
		code, body, h := x.do(ask{method: r[0], path: r[1]})
		assert.True(t, code == http.StatusUnauthorized || code == http.StatusSeeOther &&
			h.Get("Location") == "/write/enter", "%s %s: %d", r[0], r[1], code)
		assert.NotContains(t, body, "Ostrelle")
	}
	cookie := ""
	code, _, h := x.do(ask{path: "/write/enter", body: "phrase=boda-kilu"})
	assert.Equal(t, http.StatusSeeOther, code)
	cookie, _, _ = strings.Cut(h.Get("Set-Cookie"), ";")
	assert.Contains(t, h.Get("Set-Cookie"), "HttpOnly; SameSite=Strict")
	code, _, _ = x.do(ask{method: "GET", path: "/write/", header: map[string]string{"Cookie": cookie}})
	assert.Equal(t, http.StatusOK, code)
	code, _, _ = x.do(ask{method: "GET", path: "/write/", header: map[string]string{"Cookie": "bench=00"}})
	assert.Equal(t, http.StatusSeeOther, code)
	// The page that asks has its style, which says nothing of the notebook.
	code, body, h := x.do(ask{method: "GET", path: "/assets/bench.css"})
	assert.Equal(t, http.StatusOK, code)
	assert.Contains(t, h.Get("Content-Type"), "text/css")
	style, err := theme.Assets.ReadFile("assets/bench.css")
	require.NoError(t, err)
	assert.Equal(t, string(style), body)
	limited := false
	for range knownAtOnce + 2 {
		code, _, _ = x.do(ask{path: "/write/enter", body: "phrase=wrong"})
		limited = limited || code == http.StatusTooManyRequests
		assert.NotEqual(t, http.StatusSeeOther, code)
	}
	assert.True(t, limited)
}

// TestPhone: the code of the sheet is good for one phone, for pictures alone, and
// ends.
func TestPhone(t *testing.T) {
	x := serveIt(t, Options{})
	n, err := x.s.notebook()
	require.NoError(t, err)
	c, _ := n.Case("2026-0018")
	link, err := x.s.openPhone(n, c, "127.0.0.1:0")
	require.NoError(t, err)
	u, err := url.Parse(link)
	require.NoError(t, err)
	phone := &served{t, x.dir, x.s, "http://" + u.Host, x.client}
	code, _, _ := phone.do(ask{method: "GET", path: "/"})
	assert.Equal(t, http.StatusNotFound, code, "without the code")
	code, _, _ = phone.do(ask{method: "GET", path: u.Path, host: "evil.example"})
	assert.Equal(t, http.StatusMisdirectedRequest, code)
	code, body, h := phone.do(ask{method: "GET", path: u.Path})
	assert.Equal(t, http.StatusOK, code)
	assert.Contains(t, body, "Only pictures for this case")
	cookie, _, _ := strings.Cut(h.Get("Set-Cookie"), ";")
	code, _, _ = phone.do(ask{method: "GET", path: u.Path})
	assert.Equal(t, http.StatusNotFound, code, "a second phone")
	mine := map[string]string{"Cookie": cookie}
	for _, path := range []string{"/write/", "/write/case/2026-0018", "/index.html", "/../notebook.yaml"} {
		code, _, _ = phone.do(ask{method: "GET", path: path, header: mine})
		assert.Equal(t, http.StatusNotFound, code, path)
	}
	up, kind := upload(t, map[string][]byte{"IMG_1.png": smallPNG(t)})
	code, _, _ = phone.do(ask{path: "/", body: up, kind: kind,
		header: map[string]string{"Cookie": cookie, "Origin": "http://evil.example"}})
	assert.Equal(t, http.StatusForbidden, code)
	code, body, _ = phone.do(ask{path: "/", body: up, kind: kind, header: mine})
	assert.Equal(t, http.StatusOK, code, body)
	assert.Contains(t, body, "1 sent.")
	assert.Contains(t, FieldsOf(loaded(t, x.dir, "2026-0018").File)["photos"], "img-1.png")
	for range phoneMost {
		code, _, _ = phone.do(ask{method: "GET", path: "/", header: mine})
	}
	assert.Equal(t, http.StatusNotFound, code, "it ends after so many requests")
	x.s.phone.stop()
	time.Sleep(100 * time.Millisecond)
	code, _, _ = phone.do(ask{method: "GET", path: "/", header: mine})
	assert.Zero(t, code, "the door is closed")
}

// TestPlainForm: the sheet works without scripts, and two such pages do not
// overwrite each other.
func TestPlainForm(t *testing.T) {
	x := serveIt(t, Options{})
	code, _, h := x.do(ask{path: "/write/begin",
		body: url.Values{"title": {"Lamp flickers when warm"}, "device": {"lamp"}, "by": {"RK"}}.Encode()})
	require.Equal(t, http.StatusSeeOther, code)
	at := h.Get("Location")
	id := strings.TrimPrefix(at, "/write/case/")
	_, page, _ := x.do(ask{method: "GET", path: at})
	v := textBetween(page, `name="version" value="`, `"`)
	form := url.Values{"version": {v}, "symptoms": {"flickers, hum"},
		"section:Symptom": {"Steady when cold.\r\nThen not."}, "Findings.0.check": {"Cord moved"},
		"Findings.0.result": {"clear"}, "Findings.1.check": {""}}
	code, body, _ := x.do(ask{path: at, body: form.Encode()})
	require.Equal(t, http.StatusSeeOther, code, body)
	got := FieldsOf(loaded(t, x.dir, id).File)
	assert.Equal(t, "flicker, hum", got["symptoms"])
	assert.Equal(t, "Steady when cold.\nThen not.", got["section:Symptom"])
	assert.Contains(t, got["table:Findings"], "Cord moved")
	assert.Equal(t, "RK", got["by"], "what the form did not have stays")
	// The other page began from the same file.
	code, body, _ = x.do(ask{path: at, body: url.Values{"version": {v}, "section:Symptom": {"Mine."},
		"section:Lesson": {"Look at the joint first."}}.Encode()})
	assert.Equal(t, http.StatusConflict, code)
	assert.Contains(t, body, "Somebody else changed this too")
	assert.Contains(t, body, "Mine.")
	got = FieldsOf(loaded(t, x.dir, id).File)
	assert.Equal(t, "Steady when cold.\nThen not.", got["section:Symptom"])
	assert.Equal(t, "Look at the joint first.", got["section:Lesson"])
	code, body, _ = x.do(ask{path: "/write/begin", body: "title=&device=lamp"})
	assert.Equal(t, http.StatusUnprocessableEntity, code)
	assert.Contains(t, body, "in one line")
	code, body, _ = x.do(ask{path: "/write/begin", body: "title=x&device=xyzzy<b>"})
	assert.Equal(t, http.StatusUnprocessableEntity, code)
	assert.NotContains(t, body, "xyzzy<b>")
}

// TestPlainFormLosesNothing: every case of the example, sent back as a browser
// without scripts sends its sheet, stays as it was, byte for byte.
func TestPlainFormLosesNothing(t *testing.T) {
	x := serveIt(t, Options{})
	for _, id := range []string{"2025-0010", "2025-0020", "2026-0013", "2026-0018", "2026-0019", "2025-0002"} {
		c := loaded(t, x.dir, id)
		_, sheet, _ := x.do(ask{method: "GET", path: "/write/case/" + id})
		form := formOf(t, sheet)
		require.Greater(t, len(form), 40)
		code, text, _ := x.do(ask{path: "/write/case/" + id, body: form.Encode()})
		require.Equal(t, http.StatusSeeOther, code, text)
		assert.Equal(t, string(c.Bytes()), string(loaded(t, x.dir, id).Bytes()), id)
	}
}

// formOf collects what a browser would send of the sheet's form.
func formOf(t *testing.T, page string) url.Values {
	t.Helper()
	root, err := html.Parse(strings.NewReader(page))
	require.NoError(t, err)
	values := url.Values{}
	get := func(n *html.Node, key string) (string, bool) {
		for _, a := range n.Attr {
			if a.Key == key {
				return a.Val, true
			}
		}
		return "", false
	}
	var walk func(n *html.Node, in bool)
	walk = func(n *html.Node, in bool) {
		if n.Type == html.ElementNode {
			if id, _ := get(n, "id"); n.Data == "form" {
				in = id == "sheet"
			}
			if name, ok := get(n, "name"); ok && in {
				switch n.Data {
				case "input":
					v, _ := get(n, "value")
					values.Add(name, v)
				case "textarea":
					if n.FirstChild != nil {
						values.Add(name, strings.ReplaceAll(n.FirstChild.Data, "\n", "\r\n"))
					} else {
						values.Add(name, "")
					}
				case "select":
					chosen := ""
					for i, o := 0, n.FirstChild; o != nil; o = o.NextSibling {
						if o.Type != html.ElementNode {
							continue
						}
						v, has := get(o, "value")
						if !has && o.FirstChild != nil {
							v = o.FirstChild.Data
						}
						if _, selected := get(o, "selected"); selected || i == 0 {
							chosen = v
						}
						i++
					}
					values.Add(name, chosen)
				}
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c, in)
		}
	}
	walk(root, false)
	return values
}

func textBetween(s, from, to string) string {
	_, rest, _ := strings.Cut(s, from)
	out, _, _ := strings.Cut(rest, to)
	return out
}

// TestComebackAndClose: a case that lacks what a record needs cannot be closed;
// one that has it can, and a comeback begins from it.
func TestComebackAndClose(t *testing.T) {
	x := serveIt(t, Options{})
	code, body, _ := x.do(ask{path: "/write/case/2026-0018/close"})
	assert.Equal(t, http.StatusUnprocessableEntity, code)
	assert.Contains(t, body, "a closed case names at least one symptom")
	change, _ := json.Marshal(map[string]any{"changes": map[string]Change{"symptoms": {"", "no-sound"},
		"cause.fault": {"", "not-found"}, "cause.at": {"", "speaker"}, "outcome": {"", "unknown"}}})
	code, body, _ = x.do(ask{path: "/write/case/2026-0018/change", body: string(change), kind: "application/json"})
	require.Equal(t, http.StatusOK, code, body)
	code, body, _ = x.do(ask{path: "/write/case/2026-0018/close"})
	require.Equal(t, http.StatusSeeOther, code, body)
	assert.NotEmpty(t, loaded(t, x.dir, "2026-0018").File.Case.Closed)
	code, body, h := x.do(ask{path: "/write/case/2026-0018/comeback"})
	require.Equal(t, http.StatusSeeOther, code, body)
	next := loaded(t, x.dir, strings.TrimPrefix(h.Get("Location"), "/write/case/"))
	assert.Equal(t, "2026-0018", next.File.Case.Returns)
	assert.Equal(t, "ostrelle-rm3", next.File.Case.Device.ID)
}

// TestIntakeStaysInTheFile: what is taken down at the counter is on the sheet and in
// the case's file, and on no page that is shown to others.
func TestIntakeStaysInTheFile(t *testing.T) {
	x := serveIt(t, Options{})
	const words = "Zqplanted, it hums since the move."
	change, _ := json.Marshal(map[string]any{"changes": map[string]Change{"private.intake.words": {"", words},
		"private.intake.data": {"", "not asked, zqplanted"}}})
	code, _, _ := x.do(ask{path: "/write/case/2026-0018/change", kind: "application/json", body: string(change)})
	require.Equal(t, http.StatusOK, code)
	_, sheet, _ := x.do(ask{method: http.MethodGet, path: "/write/case/2026-0018"})
	assert.Contains(t, sheet, ">"+words+"</textarea>")
	assert.Contains(t, sheet, `<details id="intake" open>`)
	have, err := x.s.store.Read(loaded(t, x.dir, "2026-0018").Path)
	require.NoError(t, err)
	assert.Contains(t, string(have), words)
	for _, page := range []string{"/cases/2026-0018.html", "/data/2026-0018.json", "/search.html", "/index.html"} {
		code, body, _ := x.do(ask{method: http.MethodGet, path: page})
		require.Equal(t, http.StatusOK, code, page)
		assert.NotContains(t, strings.ToLower(body), "zqplanted", page)
	}
}
