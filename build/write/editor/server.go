// Package editor is the local server on which cases are written: it serves the
// notebook as its site shows it, always as the files are now, and pages that
// change the files.
//
// [New] makes a [Server], [Server.Handler] is what answers. Every change goes
// through a [Store]: to a journal first, then to the case file, which is the same
// Markdown that the command line reads. Two writers of one case are merged field
// by field by merge, and a field that both changed is shown to the second.
package editor

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"html/template"
	"io/fs"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/build/output/site"
	"benchlore/build/output/wording"
	"benchlore/build/reason/method"
	"benchlore/build/reason/similar"
	"benchlore/build/reason/triage"
	"benchlore/build/reason/verdict"
	"benchlore/build/write/meter"
	"benchlore/schema/casefile"
	"benchlore/theme"
)

// Limits of what is read from a request.
const (
	maxText     = 6 << 20  // bytes of a change or a source
	maxPictures = 90 << 20 // bytes of an upload, several pictures
)

// slowest is how long a request may take to arrive.
var slowest = 2 * time.Minute

// Server is the writing server of one notebook.
type Server struct {
	dir   string
	store *Store
	// phrase is asked for where others can reach the server; empty on loopback.
	phrase  string
	session string // what the cookie of somebody who gave the phrase holds
	tries   tries
	meter   *meter.Meter // may be nil

	now func() time.Time

	// What a request needs is read through a pointer: no request waits while
	// another loads the notebook or publishes it.
	latest  atomic.Pointer[snapshot]
	loading sync.Mutex // one load at a time
	learnt  atomic.Pointer[models]
	learn   sync.Mutex // one lesson at a time

	publishing sync.Mutex // of pages, published and making
	pages      string     // the folder of the published pages, outside the notebook
	published  *snapshot
	making     *making // the publication under way; nil for none
	patience   time.Duration
	// make publishes, and life ends with the server.
	make func(ctx context.Context, n *notebook.Notebook, out string) error
	life context.Context
	end  context.CancelFunc

	presence disk.Presence
	reading  atomic.Pointer[reading] // nil while this server writes
	told     func(string)

	phone phone
}

// snapshot is the notebook as it was at one moment; it never changes.
type snapshot struct {
	book  *notebook.Notebook
	seen  notebook.Fingerprint
	texts *wording.Texts
	// templates say their texts in the notebook's language; fixed are the same with every
	// field and button of the pages out of use.
	templates, fixed *template.Template
}

// models are what the sheet's margin is worked out with; they are made once for
// a state of the notebook.
type models struct {
	of      *snapshot
	judge   *verdict.Judge
	similar *similar.Model
	triage  *triage.Model
}

// Options of a server.
type Options struct {
	// Phrase must be given by everybody who is not on this machine; empty where
	// the server listens on loopback alone.
	Phrase string
	// Meter is an instrument whose readings a key takes into the sheet; it may be nil.
	Meter *meter.Meter
	// Told is told, in plain words, when the server stops or begins to write because of
	// another one on the same notebook; it may be nil.
	Told func(string)
}

// New loads the notebook in dir.
func New(dir string, o Options) (*Server, error) {
	n, err := notebook.Load(dir)
	if err != nil {
		return nil, err
	}
	if err := n.Exists(); err != nil {
		return nil, err
	}
	var random [16]byte
	if _, err := rand.Read(random[:]); err != nil {
		return nil, err
	}
	s := &Server{dir: dir, store: NewStore(dir, n.Config.History), phrase: o.Phrase, meter: o.Meter, session: hex.EncodeToString(random[:]), now: time.Now, told: o.Told, patience: patience}
	if s.told == nil {
		s.told = func(string) {}
	}
	s.life, s.end = context.WithCancel(context.Background())
	s.make = func(ctx context.Context, n *notebook.Notebook, out string) error {
		_, err := site.Publish(ctx, n, out, site.Options{Background: true})
		return err
	}
	look, err := notebook.FingerprintOf(dir)
	if err != nil {
		return nil, err
	}
	s.take(n, look)
	disk.Folder(dir).SweepTemporary("cases", "devices", "terms", ".benchlore", disk.Kept)
	return s, nil
}

func (s *Server) take(n *notebook.Notebook, look notebook.Fingerprint) *snapshot {
	next := &snapshot{book: n, seen: look, texts: wording.In(n.Config.Language)}
	if old := s.latest.Load(); old != nil && old.texts == next.texts {
		next.templates, next.fixed = old.templates, old.fixed
	} else {
		next.templates, next.fixed = templates(next.texts, false), templates(next.texts, true)
	}
	s.latest.Store(next)
	return next
}

// say gives a text in the notebook's language.
func (s *Server) say(english string, args ...any) string {
	return s.latest.Load().texts.Say(english, args...)
}

// notebook returns the notebook as its files are now.
func (s *Server) notebook() (*notebook.Notebook, error) {
	now, err := s.current()
	if err != nil {
		return nil, err
	}
	return now.book, nil
}

func (s *Server) current() (*snapshot, error) {
	s.loading.Lock()
	defer s.loading.Unlock()
	look, err := notebook.FingerprintOf(s.dir)
	if err != nil {
		return nil, err
	}
	have := s.latest.Load()
	// A file of this very moment may change again within the clock's grain.
	young := s.now().UnixNano()-look.Newest < int64(50*time.Millisecond)
	if look.Digest == have.seen.Digest && !young {
		return have, nil
	}
	n, err := notebook.Load(s.dir)
	if err != nil {
		return nil, err
	}
	return s.take(n, look), nil
}

// learned returns the latest models there are: a case that is being written counts
// in them once it is closed and looked at. Newer ones are made behind the back of
// whoever asks, since that takes long in a large notebook.
func (s *Server) learned() (*notebook.Notebook, *models) {
	m := s.learnt.Load()
	if m == nil {
		m = s.relearn()
	} else if m.of != s.latest.Load() && s.learn.TryLock() {
		s.learn.Unlock()
		go s.relearn()
	}
	return m.of.book, m
}

// relearn makes the models of the notebook as it was when it was last loaded.
func (s *Server) relearn() *models {
	s.learn.Lock()
	defer s.learn.Unlock()
	now := s.latest.Load()
	if m := s.learnt.Load(); m != nil && m.of == now {
		return m
	}
	j := verdict.New(now.book)
	methods, _ := method.Of(now.book.Dir, now.book.Terms) // what is wrong with its own, check says; without them, cases alone decide
	m := &models{now, j, similar.New(now.book, j), triage.New(now.book, methods...)}
	s.learnt.Store(m)
	return m
}

// pagesPrefix begins the names of the folders in which servers keep their pages.
const pagesPrefix = "benchlore-pages-"

// LeftPages are folders of the system's temporary folder with pages that show a case of
// that number: those of a server that runs, of this notebook or another, or that was killed.
func LeftPages(id string) (out []string) {
	if !casefile.ValidID(id) {
		return nil
	}
	list, _ := filepath.Glob(filepath.Join(os.TempDir(), pagesPrefix+"*"))
	for _, dir := range list {
		if _, err := os.Lstat(filepath.Join(dir, "cases", id+".html")); err == nil {
			out = append(out, dir)
		}
	}
	return out
}

// Close ends what is under way and removes the pages that the server made.
func (s *Server) Close() error {
	s.end()
	s.presence.Leave()
	s.publishing.Lock()
	defer s.publishing.Unlock()
	for s.making != nil {
		m := s.making
		s.publishing.Unlock()
		<-m.done
		s.publishing.Lock()
	}
	pages := s.pages
	s.pages, s.published = "", nil
	if pages == "" {
		return nil
	}
	return os.RemoveAll(pages)
}

// Serve answers on the listener until the context ends.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	defer s.phone.stop()
	defer s.Close()
	defer disk.Folder(s.dir).Attend()() // what can be undone is in memory
	s.lookAgain(l.Addr().String())
	ctx, stop := context.WithCancel(ctx)
	gone := make(chan struct{})
	go func() {
		defer close(gone)
		s.attend(ctx, l.Addr().String())
	}()
	defer func() { stop(); <-gone }()
	return serve(ctx, l, s.handler(l.Addr()))
}

// newServer answers each connection in its own time and gives up on those that are slow:
// a header within seconds, a request and its answer within minutes.
func newServer(h http.Handler) *http.Server {
	return &http.Server{Handler: h, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: slowest, WriteTimeout: slowest + 3*time.Minute,
		IdleTimeout: time.Minute, MaxHeaderBytes: 64 << 10}
}

func serve(ctx context.Context, l net.Listener, h http.Handler) error {
	server := newServer(h)
	stop := context.AfterFunc(ctx, func() {
		grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), 2*time.Second)
		defer cancel()
		_ = server.Shutdown(grace)
	})
	defer stop()
	if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// routes are the pages and changes, each with what answers it.
func (s *Server) routes() map[string]http.HandlerFunc {
	return map[string]http.HandlerFunc{
		"GET /write/{$}":                      s.home,
		"POST /write/begin":                   s.begin,
		"GET /write/case/{id}":                s.onCase(s.sheet),
		"POST /write/case/{id}":               s.onCase(s.postSheet),
		"POST /write/case/{id}/change":        s.onCase(s.change),
		"GET /write/case/{id}/state":          s.onCase(s.state),
		"GET /write/case/{id}/aside":          s.onCase(s.aside),
		"GET /write/case/{id}/source":         s.onCase(s.source),
		"POST /write/case/{id}/source":        s.onCase(s.postSource),
		"POST /write/case/{id}/undo":          s.onCase(s.undo),
		"POST /write/case/{id}/kept":          s.onCase(s.postKept),
		"GET /write/case/{id}/close":          s.onCase(s.closing),
		"POST /write/case/{id}/close":         s.onCase(s.postClose),
		"POST /write/case/{id}/comeback":      s.onCase(s.comeback),
		"GET /write/case/{id}/history":        s.onCase(s.pastVersions),
		"POST /write/case/{id}/history":       s.onCase(s.postRestore),
		"POST /write/case/{id}/pictures":      s.onCase(s.pictures),
		"POST /write/case/{id}/blur":          s.onCase(s.blur),
		"POST /write/case/{id}/lay":           s.onBoard(s.placePicture),
		"GET /write/case/{id}/pins":           s.onBoard(s.pins),
		"GET /write/case/{id}/pin":            s.onBoard(s.pin),
		"GET /write/case/{id}/picture/{file}": s.onCase(s.picture),
		"POST /write/case/{id}/phone":         s.onCase(s.startPhone),
		"POST /write/case/{id}/meter":         s.onCase(s.takeReading),
		"POST /write/case/{id}/open":          s.onCase(s.postOpen),
		"GET /write/ready":                    s.ready,
		"GET /write/words":                    s.words,
		"GET /write/enter":                    s.enter,
		"POST /write/enter":                   s.postEnter,
		"GET /":                               s.page,
	}
}

// onCase answers with the case that the address names, as the notebook has it now.
func (s *Server) onCase(answer func(http.ResponseWriter, *http.Request, *notebook.Notebook, *notebook.Case)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if n, c, ok := s.find(w, r); ok {
			answer(w, r, n, c)
		}
	}
}

// entrance are the files that the page asking for the pass phrase looks like itself
// with; they are the same for every notebook.
var entrance = map[string]bool{"/assets/bench.css": true, "/assets/case.css": true, "/assets/icon.svg": true}

// handler answers requests to the address that is listened on.
func (s *Server) handler(on net.Addr) http.Handler {
	m := http.NewServeMux()
	for pattern, handle := range s.routes() {
		m.HandleFunc(pattern, s.writing(pattern, handle))
	}
	assets, _ := fs.Sub(theme.Bench, "bench")
	files := http.StripPrefix("/write/assets/", http.FileServerFS(assets))
	m.HandleFunc("GET /write/assets/", func(w http.ResponseWriter, r *http.Request) {
		if strings.HasSuffix(r.URL.Path, "/") {
			http.NotFound(w, r) // no folder is listed
			return
		}
		files.ServeHTTP(w, r)
	})

	var guarded http.Handler = m
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		refuse(w, http.StatusForbidden, "this request came from another page than the notebook's own, and was refused")
	}))
	guarded = cross.Handler(guarded)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'") // pages set their own
		if strings.ContainsRune(r.URL.Path, 0) {
			refuse(w, http.StatusBadRequest, "no address has a zero byte in it")
			return
		}
		if !s.hostAllowed(r.Host, on) {
			refuse(w, http.StatusMisdirectedRequest, "this server answers to its own address alone, not to "+r.Host)
			return
		}
		if r.Method != http.MethodGet && r.Method != http.MethodHead && r.Method != http.MethodPost {
			h.Set("Allow", "GET, HEAD, POST")
			refuse(w, http.StatusMethodNotAllowed, "only GET, HEAD and POST are answered")
			return
		}
		// A page of another site may not post here even from an old browser that
		// sends neither Origin nor Sec-Fetch-Site: its own pages send one of them.
		if r.Method == http.MethodPost && r.Header.Get("Origin") == "" && r.Header.Get("Sec-Fetch-Site") == "" &&
			r.Header.Get("X-Benchlore") == "" {
			refuse(w, http.StatusForbidden, "a change comes from the notebook's own pages; this one does not say where it comes from")
			return
		}
		if s.phrase != "" && r.URL.Path != "/write/enter" && !strings.HasPrefix(r.URL.Path, "/write/assets/") && !s.entered(r) {
			if entrance[r.URL.Path] {
				http.ServeFileFS(w, r, theme.Assets, strings.TrimPrefix(r.URL.Path, "/"))
				return
			}
			if r.Method == http.MethodGet {
				http.Redirect(w, r, "/write/enter", http.StatusSeeOther)
				return
			}
			refuse(w, http.StatusUnauthorized, "the pass phrase is needed first")
			return
		}
		limit := int64(maxText)
		if strings.HasSuffix(r.URL.Path, "/pictures") {
			limit = maxPictures
		}
		r.Body = http.MaxBytesReader(w, r.Body, limit)
		guarded.ServeHTTP(w, r)
	})
}

// hostAllowed keeps other names that lead here, by a trick of the name service,
// from being an origin of ours: the host is an address literal or localhost, with
// the port that is listened on.
func (s *Server) hostAllowed(host string, on net.Addr) bool {
	name, port, err := net.SplitHostPort(host)
	if err != nil {
		name, port = host, "80"
	}
	_, own, err := net.SplitHostPort(on.String())
	if err != nil || port != own {
		return false
	}
	addr, err := netip.ParseAddr(strings.Trim(name, "[]"))
	if err != nil {
		return strings.EqualFold(name, "localhost")
	}
	return addr.IsLoopback() || s.phrase != ""
}

func (s *Server) entered(r *http.Request) bool {
	c, err := r.Cookie("bench")
	return err == nil && subtle.ConstantTimeCompare([]byte(c.Value), []byte(s.session)) == 1
}

// refuse answers with a sentence, as JSON where a script asked.
func refuse(w http.ResponseWriter, code int, message string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.WriteHeader(code)
	fmt.Fprintln(w, message)
}

// fail answers with what went wrong, without a path of this machine.
func (s *Server) fail(w http.ResponseWriter, err error) {
	code, text := http.StatusInternalServerError, withoutPaths(err)
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &tooLarge):
		code, text = http.StatusRequestEntityTooLarge, fmt.Sprintf("that is more than %d MB", tooLarge.Limit>>20)
	case errors.Is(err, errUnreadable):
		// An editor may be halfway through writing it: worth asking again.
		w.Header().Set("Retry-After", "2")
		code, text = http.StatusServiceUnavailable, errUnreadable.Error()
	case errors.Is(err, errChanged):
		code = http.StatusConflict
	case errors.Is(err, fs.ErrNotExist):
		code, text = http.StatusNotFound, "the file is gone; what you typed is still on the page"
	}
	switch why, _, _ := disk.Refused(err); why {
	case disk.ReadOnly:
		code, text = http.StatusForbidden, s.say("The notebook's disk is read-only, so nothing was written. Make the disk writable, or copy the notebook to one that is. What you typed is still on the page.")
	case disk.NotAllowed:
		code, text = http.StatusForbidden, s.say("The notebook's folder cannot be written to by the user that runs this server. Change the rights of the folder, or ask whoever it belongs to. What you typed is still on the page.")
	case disk.Full:
		code, text = http.StatusInsufficientStorage, s.say("The disk is full, so nothing was written. Make room. What you typed is still on the page.")
	}
	refuse(w, code, strings.ReplaceAll(text, s.dir, "the notebook"))
}

// errUnreadable is answered while the file of a case is none.
var errUnreadable = errors.New("the file cannot be read as a case now; if no editor is just writing it, mend it in its source")

// withoutPaths is what an error says, files named by what they are.
func withoutPaths(err error) string {
	text := err.Error()
	var path *fs.PathError
	if errors.As(err, &path) {
		text = strings.ReplaceAll(text, path.Path, "a file")
	}
	var link *os.LinkError
	if errors.As(err, &link) {
		text = strings.NewReplacer(link.Old, "a file", link.New, "a file").Replace(text)
	}
	return text
}

func (s *Server) json(w http.ResponseWriter, code int, v any) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(code)
	enc := json.NewEncoder(w)
	_ = enc.Encode(v)
}

// page serves the published site, brought up to date, with a way to the writing
// pages in its header.
func (s *Server) page(w http.ResponseWriter, r *http.Request) {
	if entrance[r.URL.Path] { // the same for every notebook, and needed before its pages are made
		http.ServeFileFS(w, r, theme.Assets, strings.TrimPrefix(r.URL.Path, "/"))
		return
	}
	pages, err := s.publish(r.Context(), strings.Contains(r.Header.Get("Accept"), "text/html"))
	if errors.Is(err, errMaking) {
		w.Header().Set("Retry-After", "2")
		s.render(w, http.StatusServiceUnavailable, "waiting", map[string]any{"Title": s.say("The pages are being made")})
		return
	}
	if err != nil {
		s.fail(w, err)
		return
	}
	root, err := os.OpenRoot(pages)
	if err != nil {
		s.fail(w, err)
		return
	}
	defer root.Close()
	w.Header().Set("Content-Security-Policy", site.Policy)
	name, policy, ok := site.Find(root, r.URL.Path)
	if !ok {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Security-Policy", policy)
	if !strings.HasSuffix(name, ".html") {
		site.SetPictureType(w.Header(), root, name)
		http.ServeFileFS(w, r, root.FS(), name)
		return
	}
	data, err := disk.Ordinary(root, name, disk.MaxDerived)
	if err != nil {
		http.NotFound(w, r)
		return
	}
	to, words := "/write/", "Write"
	if id, ok := strings.CutPrefix(strings.TrimSuffix(name, ".html"), "cases/"); ok {
		to, words = "/write/case/"+url.PathEscape(id), "Write on this case"
	}
	way := `<p class="to-write"><a href="` + to + `">` + html.EscapeString(s.say(words)) + `</a></p></header>`
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write([]byte(strings.Replace(string(data), "</header>", way, 1)))
}

// templates are the writing pages in the notebook's language.
// Where they are fixed, what is typed in can be read and copied, and nothing be changed.
func templates(texts *wording.Texts, fixed bool) *template.Template {
	still, off := template.HTMLAttr(""), template.HTMLAttr("")
	if fixed {
		still, off = "readonly", "disabled"
	}
	own := template.FuncMap{"fixed": func() bool { return fixed }, "still": func() template.HTMLAttr { return still },
		"off": func() template.HTMLAttr { return off }}
	return template.Must(template.New("").Funcs(texts.Funcs()).Funcs(own).ParseFS(theme.Bench, "bench/*.html"))
}

// render shows a writing page under its own content security policy: scripts,
// styles, pictures and requests of this server alone.
func (s *Server) render(w http.ResponseWriter, code int, name string, model any) {
	var b strings.Builder
	pages := s.latest.Load().templates
	why := s.reading.Load()
	if why != nil {
		pages = s.latest.Load().fixed
	}
	if err := pages.ExecuteTemplate(&b, name, model); err != nil {
		s.fail(w, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Security-Policy",
		"default-src 'none'; img-src 'self'; style-src 'self'; script-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
	w.WriteHeader(code)
	text := b.String()
	if why != nil {
		text = s.withWhy(text, why)
	}
	_, _ = w.Write([]byte(text))
}

// wantsJSON reports whether the page's script asks, rather than a plain form.
func wantsJSON(r *http.Request) bool {
	return strings.Contains(r.Header.Get("Accept"), "application/json")
}

// enter asks for the pass phrase.
func (s *Server) enter(w http.ResponseWriter, r *http.Request) {
	s.render(w, http.StatusOK, "enter", map[string]any{"Title": "Pass phrase"})
}

func (s *Server) postEnter(w http.ResponseWriter, r *http.Request) {
	if s.phrase == "" {
		http.Redirect(w, r, "/write/", http.StatusSeeOther)
		return
	}
	if !s.tries.allow(r.RemoteAddr) {
		refuse(w, http.StatusTooManyRequests, s.say("That is too many tries; wait a minute."))
		return
	}
	if err := r.ParseForm(); err != nil {
		s.fail(w, err)
		return
	}
	if subtle.ConstantTimeCompare([]byte(strings.TrimSpace(r.PostForm.Get("phrase"))), []byte(s.phrase)) != 1 {
		s.render(w, http.StatusUnauthorized, "enter", map[string]any{"Title": "Pass phrase", "Wrong": true})
		return
	}
	s.tries.letIn(r.RemoteAddr)
	http.SetCookie(w, &http.Cookie{Name: "bench", Value: s.session, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, "/write/", http.StatusSeeOther)
}

// find returns the case of a request. Its id is looked up, never made a path.
// Where the notebook was loaded with the case in it, the rest need not be read
// again for each letter that is typed.
func (s *Server) find(w http.ResponseWriter, r *http.Request) (*notebook.Notebook, *notebook.Case, bool) {
	n := s.latest.Load().book
	c, ok := n.Case(r.PathValue("id"))
	if !ok || r.Method == http.MethodGet && strings.HasSuffix(r.URL.Path, "/"+r.PathValue("id")) {
		var err error
		if n, err = s.notebook(); err != nil {
			s.fail(w, err)
			return nil, nil, false
		}
		c, ok = n.Case(r.PathValue("id"))
	}
	if !ok {
		refuse(w, http.StatusNotFound, "the notebook has no case of that number")
		return nil, nil, false
	}
	return n, c, true
}

// ids returns the ids of devices with a file of their own, for completion.
func ids(n *notebook.Notebook) []string {
	var out []string
	for _, d := range n.Devices {
		if d.Record != nil {
			out = append(out, d.ID)
		}
	}
	slices.Sort(out)
	return out
}
