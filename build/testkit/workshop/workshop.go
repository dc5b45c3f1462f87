// Package workshop gives tests the example workshop's notebook in a fresh folder.
// Only tests import it.
package workshop

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/cases"
)

// Dir copies the notebook and returns its folder.
func Dir(t testing.TB) string {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, cases.Files))
	return filepath.Join(dir, "notebook")
}

// Load copies the notebook and loads it.
func Load(t testing.TB) *notebook.Notebook {
	t.Helper()
	n, err := notebook.Load(Dir(t))
	require.NoError(t, err)
	return n
}
