package site

import (
	"context"
	"os"
	"path/filepath"
	"testing"

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

// published publishes the example and returns the folder of its site.
func published(t testing.TB) string {
	t.Helper()
	out := filepath.Join(t.TempDir(), "site")
	publish(t, example(t), out)
	return out
}

// write makes a file below dir.
func write(t testing.TB, dir, name, text string) {
	t.Helper()
	path := filepath.Join(dir, filepath.FromSlash(name))
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
}
