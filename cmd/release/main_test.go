package main

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestArchives: equal files give equal archives, whatever their times, and the
// program in them may be run.
func TestArchives(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a")
	require.NoError(t, os.WriteFile(path, []byte("program"), 0o600))
	files := []file{{"benchlore", path, 0o755}, {"man/man1/x.1", path, 0o644}}
	for name, write := range map[string]func(string, []file) ([]byte, error){"tar": tarGz, "zip": zipped} {
		one, err := write("benchlore-1", files)
		require.NoError(t, err)
		require.NoError(t, os.Chtimes(path, epoch.AddDate(3, 0, 0), epoch.AddDate(4, 0, 0)))
		two, err := write("benchlore-1", files)
		require.NoError(t, err)
		assert.Equal(t, one, two, name)
		if name == "tar" {
			z, err := gzip.NewReader(bytes.NewReader(one))
			require.NoError(t, err)
			h, err := tar.NewReader(z).Next()
			require.NoError(t, err)
			assert.Equal(t, "benchlore-1/benchlore", h.Name)
			assert.EqualValues(t, 0o755, h.Mode)
		}
	}
}

// TestRelease builds twice for the system that BENCHLORE_RELEASE names, or for all six,
// and compares the bytes; each takes minutes the first time.
func TestRelease(t *testing.T) {
	only := os.Getenv("BENCHLORE_RELEASE")
	if only == "" {
		t.Skip("BENCHLORE_RELEASE names no system, such as linux/amd64, or all")
	}
	if only == "all" {
		only = ""
	}
	t.Chdir(filepath.Join("..", ".."))
	one, two := t.TempDir(), t.TempDir()
	require.NoError(t, release(one, "0.0.1", only))
	require.NoError(t, release(two, "0.0.1", only))
	sums, err := os.ReadFile(filepath.Join(one, "SHA256SUMS"))
	require.NoError(t, err)
	again, err := os.ReadFile(filepath.Join(two, "SHA256SUMS"))
	require.NoError(t, err)
	assert.Equal(t, string(sums), string(again))
	for line := range strings.Lines(string(sums)) {
		want, name, ok := strings.Cut(strings.TrimSpace(line), "  ")
		require.True(t, ok, line)
		f, err := os.Open(filepath.Join(one, name))
		require.NoError(t, err)
		h := sha256.New()
		_, err = io.Copy(h, f)
		f.Close()
		require.NoError(t, err)
		assert.Equal(t, want, fmt.Sprintf("%x", h.Sum(nil)))
	}
}
