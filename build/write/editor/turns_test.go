package editor

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/build/testkit/workshop"
)

// oneCase is a notebook with one case, 2026-0001, as fast to publish as there is.
func oneCase(t testing.TB, language string) string {
	t.Helper()
	n := workshop.Book(t, map[string]string{"notebook.yaml": "name: Quay Street\nlanguage: " + language + "\n",
		"cases/2026/2026-0001-lamp.md": "---\ncase: 2026-0001\ntitle: Lamp flickers\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\n---\n## Symptom\n\nIt flickers.\n"})
	return n.Dir
}

func changeTitle(was, now string) ask {
	b, _ := json.Marshal(map[string]any{"changes": map[string]Change{"title": {was, now}}})
	return ask{path: "/write/case/2026-0001/change", kind: "application/json", body: string(b)}
}

// TestSecondServerReads: the second server on a notebook says which one writes, shows
// everything, takes no change by any handler, and writes once the first has ended.
func TestSecondServerReads(t *testing.T) {
	dir := oneCase(t, "en")
	first, err := New(dir, Options{})
	require.NoError(t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- first.Serve(ctx, l) }()
	t.Cleanup(stop)
	at := l.Addr().String()
	one := &served{t, dir, first, "http://" + at, &http.Client{}}
	code, _, _ := one.do(ask{method: http.MethodGet, path: "/write/ready"})
	require.Equal(t, http.StatusOK, code) // it serves, and has left its mark before

	var mu sync.Mutex
	var told []string
	x := serveDir(t, dir, Options{Told: func(text string) { mu.Lock(); told = append(told, text); mu.Unlock() }})
	code, body, _ := x.do(ask{method: http.MethodGet, path: "/write/ready"})
	require.Equal(t, http.StatusOK, code)
	assert.JSONEq(t, `{"writing": false, "pages": true}`, body)
	mu.Lock()
	assert.Len(t, told, 1)
	assert.Contains(t, told[0], "another server writes in this notebook, at http://"+at+"/write/")
	mu.Unlock()

	before := x.snapshot()
	refused := 0
	for pattern := range x.s.routes() {
		method, path, _ := strings.Cut(pattern, " ")
		if method != http.MethodPost || slices.Contains(changesNothing, pattern) {
			continue
		}
		code, body, _ := x.do(ask{path: strings.NewReplacer("{id}", "2026-0001").Replace(path)})
		assert.Equal(t, http.StatusLocked, code, pattern)
		assert.Contains(t, body, "Another server writes in this notebook, at http://"+at+"/write/", pattern)
		refused++
	}
	assert.Greater(t, refused, 12)
	assert.Equal(t, before, x.snapshot())
	for _, path := range []string{"/write/", "/write/case/2026-0001", "/write/case/2026-0001/source", "/write/case/2026-0001/close", "/write/case/2026-0001/history"} {
		code, page, _ := x.do(ask{method: http.MethodGet, path: path})
		require.Equal(t, http.StatusOK, code, path)
		assert.Contains(t, page, `<span id="why">Another server writes in this notebook, at http://`+at+"/write/:", path)
		assert.NotContains(t, page, "write.js", path)
		assert.NotContains(t, page, "source.js", path)
		assert.Zero(t, usable(t, page), "%s: fields that take something", path)
		_, page, _ = one.do(ask{method: http.MethodGet, path: path})
		assert.NotContains(t, page, "Another server", path)
		if strings.HasSuffix(path, "0001") {
			assert.NotZero(t, usable(t, page), path)
		}
	}
	code, page, _ := x.do(ask{method: http.MethodGet, path: "/cases/2026-0001.html"})
	assert.Equal(t, http.StatusOK, code)
	assert.Contains(t, page, "Lamp flickers")

	// Commands go on beside it.
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	_, err = NewStore(dir, 0), NewStore(dir, 0).Save("2026-0001", n.Cases[0].Path, VersionOf(n.Cases[0].Bytes()),
		bytes.Replace(n.Cases[0].Bytes(), []byte("It flickers."), []byte("It flickers more."), 1))
	require.NoError(t, err)

	stop()
	require.NoError(t, <-ended)
	x.s.lookAgain(strings.TrimPrefix(x.base, "http://"))
	code, body, _ = x.do(changeTitle("Lamp flickers", "Lamp is dark"))
	assert.Equal(t, http.StatusOK, code, body)
	_, page, _ = x.do(ask{method: http.MethodGet, path: "/write/case/2026-0001"})
	assert.NotContains(t, page, "Another server")
	mu.Lock()
	assert.Len(t, told, 2)
	mu.Unlock()
	third, err := New(dir, Options{})
	require.NoError(t, err)
	assert.ErrorContains(t, third.Attend("127.0.0.1:1"), strings.TrimPrefix(x.base, "http://"))
	require.NoError(t, third.Close())
}

// usable counts the fields and buttons of a page's main part that take something.
func usable(t *testing.T, page string) int {
	t.Helper()
	count := 0
	for _, tag := range []string{"<input", "<textarea", "<select", "<button"} {
		for _, rest := range strings.Split(page, tag)[1:] {
			inside, _, _ := strings.Cut(rest, ">")
			if strings.Contains(inside, `type="hidden"`) || strings.Contains(inside, "hidden") || strings.Contains(inside, `id="pin-`) ||
				strings.Contains(inside, `id="pick-`) || strings.Contains(inside, `id="keep-`) || strings.Contains(inside, `id="by-phone`) ||
				strings.Contains(inside, "value=\"stay\"") || strings.Contains(inside, "value=\"go\"") {
				continue // in what only a script shows
			}
			if !strings.Contains(inside, "readonly") && !strings.Contains(inside, "disabled") {
				count++
			}
		}
	}
	// The list of keys has a button of its own.
	return count - strings.Count(page, "<button>Close this list")
}

// TestOnePublication: a freshly started server that is asked by twelve impatient people
// publishes once, says so in the notebook's language, and goes on when they have left.
func TestOnePublication(t *testing.T) {
	for language, said := range map[string]string{"en": "The pages are being made", "de": "Die Seiten werden gerade erstellt", "fr": "Les pages sont en préparation"} {
		dir := oneCase(t, language)
		x := serveDir(t, dir, Options{})
		ahead := time.Now().Add(time.Hour)
		x.s.now = func() time.Time { return ahead } // no file is of this very moment
		x.s.patience = 0
		var count atomic.Int64
		goOn := make(chan struct{})
		publish := x.s.make
		x.s.make = func(ctx context.Context, n *notebook.Notebook, out string) error {
			count.Add(1)
			select {
			case <-goOn:
			case <-ctx.Done():
			}
			return publish(ctx, n, out)
		}
		person := map[string]string{"Accept": "text/html,*/*"}
		for i := range 12 {
			if i%2 == 0 { // who gives up ends nothing
				ctx, leave := context.WithCancel(context.Background())
				req, err := http.NewRequestWithContext(ctx, http.MethodGet, x.base+"/data/2026-0001.json", nil)
				require.NoError(t, err)
				done := make(chan struct{})
				go func() {
					defer close(done)
					if res, err := x.client.Do(req); err == nil {
						res.Body.Close()
					}
				}()
				leave()
				<-done
				continue
			}
			code, page, h := x.do(ask{method: http.MethodGet, path: "/cases/2026-0001.html", header: person})
			assert.Equal(t, http.StatusServiceUnavailable, code)
			assert.NotEmpty(t, h.Get("Retry-After"))
			assert.Contains(t, page, said)
			assert.Contains(t, page, `data-until="pages"`)
		}
		code, style, _ := x.do(ask{method: http.MethodGet, path: "/assets/bench.css"})
		assert.Equal(t, http.StatusOK, code)
		assert.NotEmpty(t, style, "the page that waits has its style")
		_, body, _ := x.do(ask{method: http.MethodGet, path: "/write/ready"})
		assert.JSONEq(t, `{"writing": true, "pages": false}`, body)
		close(goOn)
		code, page, _ := x.do(ask{method: http.MethodGet, path: "/cases/2026-0001.html"}) // who can wait has it
		assert.Equal(t, http.StatusOK, code)
		assert.Contains(t, page, "Lamp flickers")
		code, _, _ = x.do(ask{method: http.MethodGet, path: "/cases/2026-0001.html", header: person})
		assert.Equal(t, http.StatusOK, code)
		_, body, _ = x.do(ask{method: http.MethodGet, path: "/write/ready"})
		assert.JSONEq(t, `{"writing": true, "pages": true}`, body)
		assert.Equal(t, int64(1), count.Load(), "publications")
	}
}

// TestClocks: a clock that is set back or ahead between saves changes neither the order of
// the earlier versions nor what is kept of them.
func TestClocks(t *testing.T) {
	const path, id = "cases/2026/2026-0001-lamp.md", "2026-0001"
	day := 24 * time.Hour
	for name, clock := range map[string][]time.Duration{
		"right":                 {0, time.Hour, 2 * time.Hour, 3 * time.Hour, 4 * time.Hour},
		"an hour back":          {0, -time.Hour, -time.Hour + time.Second, -time.Minute, time.Hour},
		"years back, and again": {0, -9000 * day, -9000*day + time.Minute, time.Hour, 2 * time.Hour, 3 * time.Hour},
		"a year ahead for one":  {0, 400 * day, time.Hour, 2 * time.Hour, 3 * time.Hour},
		"to and fro":            {0, -800 * day, 5 * day, -900 * day, 6 * day, 6*day + time.Hour, 6*day + 2*time.Hour},
	} {
		dir := oneCase(t, "en")
		s := NewStore(dir, 365)
		right := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
		have, err := s.Read(path)
		require.NoError(t, err)
		var want []string
		for i, off := range clock {
			s.now = func() time.Time { return right.Add(off) }
			delete(s.aside, id) // as of a session of its own, which keeps a version at once
			want = append(want, string(have))
			next := append(bytes.Clone(have), fmt.Sprintf("Save %d.\n", i)...)
			require.NoError(t, s.Save(id, path, VersionOf(have), next), name)
			have = next
		}
		slices.Reverse(want)
		var got []string
		for _, e := range s.History(id) {
			text, ok := s.Version(id, e.Version)
			require.True(t, ok, name)
			got = append(got, string(text))
		}
		assert.Equal(t, want, got, name)
	}
	// What is old by a clock that was right goes all the same.
	dir := oneCase(t, "en")
	s := NewStore(dir, 365)
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	s.now = func() time.Time { return now }
	for i := range 4 {
		have, err := s.Read(path)
		require.NoError(t, err)
		require.NoError(t, s.Save(id, path, VersionOf(have), append(have, fmt.Sprintf("Save %d.\n", i)...)))
		now = now.Add(300 * day)
	}
	assert.Len(t, s.History(id), 3, "of 0, 300, 600 and 900 days the first is older than a year before the one that came before the last")
}

// TestHalfTypedIsNotDisplaced: a text that was kept aside stays somewhere when another is
// kept aside or a change goes into the file.
func TestHalfTypedIsNotDisplaced(t *testing.T) {
	dir := oneCase(t, "en")
	const path, id = "cases/2026/2026-0001-lamp.md", "2026-0001"
	one, two := NewStore(dir, 0), NewStore(dir, 0)
	require.NoError(t, one.keepHalfTyped(id, []byte("half of one")))
	require.NoError(t, one.keepHalfTyped(id, []byte("half of one, more")))
	assert.Empty(t, one.History(id), "typing on keeps no version of each letter")
	require.NoError(t, two.keepHalfTyped(id, []byte("half of two")))
	have, err := one.Read(path)
	require.NoError(t, err)
	require.NoError(t, one.Save(id, path, VersionOf(have), append(bytes.Clone(have), "More.\n"...)))
	for _, text := range []string{"half of one, more", "half of two", string(have)} {
		_, ok := one.Version(id, VersionOf([]byte(text)))
		assert.True(t, ok, text)
	}
}

// TestOpenChoices: a choice that is still to be made is kept on the disk until it is made,
// and shown by a page without scripts as well.
func TestOpenChoices(t *testing.T) {
	x := serveDir(t, oneCase(t, "en"), Options{})
	const at = "/write/case/2026-0001"
	_, page, _ := x.do(ask{method: http.MethodGet, path: at})
	v := textBetween(page, `name="version" value="`, `"`)
	code, _, _ := x.do(changeTitle("Lamp flickers", "Theirs"))
	require.Equal(t, http.StatusOK, code)
	code, body, _ := x.do(ask{path: at, body: url.Values{"version": {v}, "title": {"Mine, typed long"}}.Encode()})
	require.Equal(t, http.StatusConflict, code)
	assert.Contains(t, body, "Mine, typed long")
	see := func() string {
		_, page, _ := x.do(ask{method: http.MethodGet, path: at})
		return page
	}
	page = see()
	assert.True(t, strings.Contains(page, `id="opened"`))
	assert.Contains(t, page, "Mine, typed long")
	again, err := New(x.dir, Options{}) // another time
	require.NoError(t, err)
	list, err := again.store.Opened("2026-0001")
	require.NoError(t, err)
	require.NoError(t, again.Close())
	require.Len(t, list, 1)
	assert.Equal(t, []string{"title", "Mine, typed long"}, []string{list[0].Field, list[0].Mine})
	script := func(o map[string]any) int {
		b, _ := json.Marshal(o)
		code, _, _ := x.do(ask{path: at + "/open", body: string(b), kind: "application/json", header: map[string]string{"Accept": "application/json"}})
		return code
	}
	assert.Equal(t, http.StatusNoContent, script(map[string]any{"id": "p1", "field": "section:Lesson", "mine": "A"}))
	assert.Equal(t, http.StatusNoContent, script(map[string]any{"id": "p1", "field": "section:Lesson", "mine": "A and more"}))
	assert.Contains(t, see(), "A and more")
	assert.Equal(t, http.StatusBadRequest, script(map[string]any{"id": "p1", "field": "nonsense", "mine": "A"}))
	assert.Equal(t, http.StatusBadRequest, script(map[string]any{"id": "", "field": "title", "mine": "A"}))
	assert.Equal(t, http.StatusBadRequest, script(map[string]any{"id": strings.Repeat("x", maxOpenID+1), "field": "title", "mine": "A"}))
	assert.Equal(t, http.StatusNoContent, script(map[string]any{"id": "p1", "field": "section:Lesson", "settled": true}))
	assert.NotContains(t, see(), "A and more")
	code, _, _ = x.do(ask{path: at + "/open", body: url.Values{"id": {list[0].ID}, "field": {"title"}}.Encode()})
	assert.Equal(t, http.StatusSeeOther, code)
	assert.False(t, strings.Contains(see(), `id="opened"`))
	assert.NoFileExists(t, filepath.Join(x.dir, filepath.FromSlash(openPath("2026-0001"))))
	for i := range maxOpen {
		require.NoError(t, x.s.store.open("2026-0001", Open{ID: fmt.Sprint(i), Field: "title", Mine: "m"}))
	}
	assert.Equal(t, http.StatusTooManyRequests, script(map[string]any{"id": "p2", "field": "title", "mine": "A"}))
}

// TestTimeouts: how long anybody may take, as values; and one who sends a letter and then
// nothing holds up nobody.
func TestTimeouts(t *testing.T) {
	server := newServer(http.NotFoundHandler())
	assert.Equal(t, 10*time.Second, server.ReadHeaderTimeout)
	assert.Equal(t, 2*time.Minute, server.ReadTimeout)
	assert.Equal(t, 5*time.Minute, server.WriteTimeout)
	assert.Equal(t, time.Minute, server.IdleTimeout)
	assert.Equal(t, 64<<10, server.MaxHeaderBytes)

	x := serveDir(t, oneCase(t, "en"), Options{})
	host := strings.TrimPrefix(x.base, "http://")
	for i := range 20 {
		c, err := net.Dial("tcp", host)
		require.NoError(t, err)
		defer c.Close()
		text := "POST /write/case/2026-0001/change HTTP/1.1\r\nHost: " + host + "\r\nOrigin: " + x.base + "\r\nContent-Type: application/json\r\nContent-Length: 5000\r\n\r\n{\"changes\":{\"title\":"
		if i%2 == 0 {
			text = text[:len(text)/3] // not even its header is whole
		}
		_, err = c.Write([]byte(text))
		require.NoError(t, err)
	}
	code, body, _ := x.do(changeTitle("Lamp flickers", "Lamp is dark"))
	assert.Equal(t, http.StatusOK, code, body)
	code, _, _ = x.do(ask{method: http.MethodGet, path: "/cases/2026-0001.html"})
	assert.Equal(t, http.StatusOK, code)
}

// TestPhoneCodes: a wrong code, one that was used, one of a door that was closed or whose
// place another took, and the code of another case open nothing.
func TestPhoneCodes(t *testing.T) {
	x := serveDir(t, oneCase(t, "en"), Options{})
	n, err := x.s.notebook()
	require.NoError(t, err)
	c, _ := n.Case("2026-0001")
	open := func() (*served, string) {
		link, err := x.s.openPhone(n, c, "127.0.0.1:0")
		require.NoError(t, err)
		u, err := url.Parse(link)
		require.NoError(t, err)
		return &served{t, x.dir, x.s, "http://" + u.Host, x.client}, u.Path
	}
	get := func(p *served, path, cookie string) (int, string) {
		h := map[string]string{}
		if cookie != "" {
			h["Cookie"] = cookie
		}
		code, _, head := p.do(ask{method: http.MethodGet, path: path, header: h})
		cookie, _, _ = strings.Cut(head.Get("Set-Cookie"), ";")
		return code, cookie
	}
	first, code1 := open()
	for _, wrong := range []string{"/", "/x", code1[:len(code1)-1], code1 + "0", "//" + code1[1:], strings.ToUpper(code1) + "?", code1 + "/"} {
		code, cookie := get(first, wrong, "")
		assert.NotEqual(t, http.StatusOK, code, wrong)
		assert.Empty(t, cookie, wrong)
	}
	code, _ := get(first, "/", "phone=")
	assert.Equal(t, http.StatusNotFound, code, "an empty cookie before the code was used")
	code, mine := get(first, code1, "")
	require.Equal(t, http.StatusOK, code, "wrong codes did not use up the right one")
	code, again := get(first, code1, "")
	assert.Equal(t, http.StatusNotFound, code, "used a second time")
	assert.Empty(t, again)
	code, _ = get(first, "/", mine)
	assert.Equal(t, http.StatusOK, code)
	code, _ = get(first, "/", mine[:len(mine)-1])
	assert.Equal(t, http.StatusNotFound, code)
	code, _ = get(first, "/", "phone=")
	assert.Equal(t, http.StatusNotFound, code)

	second, code2 := open()
	assert.NotEqual(t, code1, code2)
	for _, old := range []string{code1, "/"} {
		code, cookie := get(second, old, mine)
		assert.Equal(t, http.StatusNotFound, code, "the code and the cookie of the door before: %s", old)
		assert.Empty(t, cookie)
	}
	code, _ = get(second, code2, "")
	assert.Equal(t, http.StatusOK, code)
	assert.Equal(t, "[]", FieldsOf(loaded(t, x.dir, "2026-0001").File)["photos"])
}

// TestPictureBombs: many pictures that claim to be huge, and many that are not, in one
// upload: the claims are not believed with memory, what is one too many is named, and
// nothing of what was refused is left.
func TestPictureBombs(t *testing.T) {
	x := serveDir(t, oneCase(t, "en"), Options{})
	files := map[string][]byte{}
	for i := range maxAtOnce - 1 {
		files[fmt.Sprintf("bomb-%d.png", i)] = bombPNG(t, uint32(50_000+i), 60_000)
	}
	body, kind := upload(t, files)
	code, text, _ := x.do(ask{path: "/write/case/2026-0001/pictures", body: body, kind: kind})
	assert.Equal(t, http.StatusUnprocessableEntity, code)
	assert.Equal(t, maxAtOnce-1, strings.Count(text, "million pixels"), text)
	assert.NoDirExists(t, filepath.Join(x.dir, "cases", "2026", "2026-0001"))
	for _, side := range [][2]uint32{{0, 0}, {1, 1<<31 - 1}, {1<<32 - 1, 1<<32 - 1}, {1 << 31, 2}} {
		body, kind := upload(t, map[string][]byte{"bomb.png": bombPNG(t, side[0], side[1])})
		code, _, _ := x.do(ask{path: "/write/case/2026-0001/pictures", body: body, kind: kind})
		assert.Equal(t, http.StatusUnprocessableEntity, code, side)
	}
	files = map[string][]byte{}
	for i := range maxAtOnce + 5 {
		files[fmt.Sprintf("fine-%d.png", i)] = smallPNG(t)
	}
	body, kind = upload(t, files)
	code, text, _ = x.do(ask{path: "/write/case/2026-0001/pictures", body: body, kind: kind, header: map[string]string{"Accept": "application/json"}})
	assert.Equal(t, http.StatusOK, code)
	assert.Contains(t, text, fmt.Sprintf("at most %d pictures are taken at once", maxAtOnce))
	entries, err := os.ReadDir(filepath.Join(x.dir, "cases", "2026", "2026-0001"))
	require.NoError(t, err)
	assert.Len(t, entries, maxAtOnce)
}

// TestPicturesInTurn: a picture that somebody replaced is not blurred over.
func TestPicturesInTurn(t *testing.T) {
	x := serveDir(t, oneCase(t, "en"), Options{})
	c := loaded(t, x.dir, "2026-0001")
	name := c.PhotoDir() + "/a.png"
	require.NoError(t, disk.Folder(x.dir).Write(name, []byte("theirs")))
	assert.ErrorIs(t, x.s.blurred(c, "a.png", "a.png", []byte("as it was read"), []byte("blurred")), errChanged)
	have, err := disk.Folder(x.dir).Read(name, 100)
	require.NoError(t, err)
	assert.Equal(t, "theirs", string(have))
	require.NoError(t, x.s.blurred(c, "a.png", "a.png", []byte("theirs"), []byte("blurred")))
	assert.NoDirExists(t, filepath.Join(x.dir, "kept", "history"), "the readable picture is nowhere else")
}
