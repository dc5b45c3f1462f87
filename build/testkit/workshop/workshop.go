// Package workshop gives tests the example workshop's notebook in a fresh folder.
// Only tests import it.
package workshop

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
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

// Book writes a notebook of the given files, by their names inside it, and loads it.
func Book(t testing.TB, files map[string]string) *notebook.Notebook {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		p := filepath.Join(dir, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(p), 0o755))
		require.NoError(t, os.WriteFile(p, []byte(text), 0o644))
	}
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	return n
}

// Netlist is a netlist of the given rows (IPC-D-356A, UNITS CUST 1: 1/1000 mm).
func Netlist(rows ...string) string {
	return "C  Invented\nP  JOB   B1\nP  UNITS CUST 1\nP  VER   IPC-D-356A\n" + strings.Join(rows, "") + "999\n"
}

// Pin is a row of a netlist: a pad of a part on a net, at millimetres.
func Pin(net, ref, number string, x, y float64) string {
	return fmt.Sprintf("317%-14s   %-6s-%-4s D0900PA00X%+07dY%+07dX0500Y0500R000 S0\n", net, ref, number, int(x*1000), int(y*1000))
}
