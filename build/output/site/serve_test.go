package site

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestHandler(t *testing.T) {
	dir := t.TempDir()
	out := filepath.Join(dir, "site")
	write(t, out, "index.html", "<p>home</p>")
	write(t, out, "photos/a/p.svg", "<svg/>")
	write(t, out, "theirs.html", "secret")
	write(t, out, ".staging-1/half.html", "half")
	write(t, dir, "secret.txt", "secret")
	require.NoError(t, os.Symlink(filepath.Join(dir, "secret.txt"), filepath.Join(out, "link.txt")))
	root, err := os.OpenRoot(out)
	require.NoError(t, err)
	defer root.Close()
	h := handler(root, map[string]bool{"index.html": true, "photos/a/p.svg": true, "link.txt": true, ".staging-1/half.html": true})
	ask := func(method, path string) *httptest.ResponseRecorder {
		w := httptest.NewRecorder()
		r := httptest.NewRequest(method, "http://127.0.0.1/", nil)
		r.URL.Path = path
		h.ServeHTTP(w, r)
		return w
	}
	ok := ask(http.MethodGet, "/")
	assert.Equal(t, http.StatusOK, ok.Code)
	assert.Equal(t, "<p>home</p>", ok.Body.String())
	assert.Equal(t, "nosniff", ok.Header().Get("X-Content-Type-Options"))
	assert.Equal(t, http.StatusOK, ask(http.MethodHead, "/").Code)
	assert.Contains(t, ask(http.MethodGet, "/photos/a/p.svg").Header().Get("Content-Security-Policy"), "sandbox",
		"a drawing opened by itself runs nothing")
	for _, path := range []string{"/../secret.txt", "/link.txt", "/theirs.html", "/.staging-1/half.html",
		"/photos/../../secret.txt", "/none.html", "/a\x00b", "/..%2fsecret.txt"} {
		w := ask(http.MethodGet, path)
		assert.NotEqual(t, http.StatusOK, w.Code, path)
		assert.NotContains(t, w.Body.String(), "secret\n", path)
		assert.NotEqual(t, "secret", w.Body.String(), path)
	}
	assert.Equal(t, http.StatusBadRequest, ask(http.MethodGet, "/a\x00b").Code)
	for _, method := range []string{http.MethodPost, http.MethodPut, http.MethodDelete, "TRACE"} {
		w := ask(method, "/")
		assert.Equal(t, http.StatusMethodNotAllowed, w.Code, method)
		assert.Equal(t, "GET, HEAD", w.Header().Get("Allow"))
	}
}
