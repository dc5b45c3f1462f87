package site

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"

	testbrowser "benchlore/build/testkit/browser"

	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/cases"
)

// example copies the example notebook to a fresh folder and loads it.
func example(t testing.TB) *notebook.Notebook {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "book")
	require.NoError(t, os.CopyFS(filepath.Dir(dir), cases.Files))
	require.NoError(t, os.Rename(filepath.Join(filepath.Dir(dir), "notebook"), dir))
	return load(t, dir)
}

func load(t testing.TB, dir string) *notebook.Notebook {
	t.Helper()
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	require.Zero(t, n.Errors(), "%v", n.Problems)
	return n
}

func publish(t testing.TB, n *notebook.Notebook, out string) *Report {
	t.Helper()
	r, err := Publish(context.Background(), n, out, Options{})
	require.NoError(t, err)
	return r
}

// sites are the example's, published once for each language and copied for each test.
var sites = struct {
	sync.Mutex
	dir string
}{}

func TestMain(m *testing.M) {
	code := testbrowser.Run(m)
	if sites.dir != "" {
		_ = os.RemoveAll(sites.dir)
	}
	os.Exit(code)
}

// published returns a folder with the example's site.
func published(t testing.TB) string { t.Helper(); return inLanguage(t, "en") }

// inLanguage returns a folder with the example's site as a workshop of a language has it.
func inLanguage(t testing.TB, language string) string {
	t.Helper()
	sites.Lock()
	defer sites.Unlock()
	if sites.dir == "" {
		var err error
		sites.dir, err = os.MkdirTemp("", "sites")
		require.NoError(t, err)
	}
	whole := filepath.Join(sites.dir, language)
	if _, err := os.Stat(filepath.Join(whole, "index.html")); err != nil {
		n := example(t)
		if language != "en" {
			n = speaking(t, language)
		}
		publish(t, n, whole)
	}
	out := filepath.Join(t.TempDir(), "site")
	require.NoError(t, os.CopyFS(out, os.DirFS(whole)))
	return out
}

// write makes a file below dir.
func write(t testing.TB, dir, name, text string) {
	t.Helper()
	path := filepath.Join(dir, filepath.FromSlash(name))
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
}
