package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/cases"
)

// TestFullDisk runs the commands that write on a small file system that fills up
// at several points: they say so, what is there is whole, and with room again a
// rerun finishes. It needs to mount one, which takes root.
func TestFullDisk(t *testing.T) {
	t.Parallel()
	disk := t.TempDir()
	if err := syscall.Mount("tmpfs", disk, "tmpfs", 0, "size=16m"); err != nil {
		t.Skipf("a small file system cannot be mounted here: %v", err)
	}
	t.Cleanup(func() { assert.NoError(t, syscall.Unmount(disk, syscall.MNT_DETACH)) })
	program := built(t)
	run := runs(program)
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, cases.Files))
	book := filepath.Join(dir, "notebook")
	text, err := run("", "pack", book, "--out", filepath.Join(dir, "notes.zip"))
	require.NoError(t, err, text)
	filler := filepath.Join(disk, "filler")
	fill := func(leave int64) {
		var st syscall.Statfs_t
		require.NoError(t, syscall.Statfs(disk, &st))
		free := int64(st.Bavail) * st.Bsize
		require.NoError(t, os.WriteFile(filler, bytes.Repeat([]byte("x"), int(max(0, free-leave))), 0o644))
	}
	sound := func(dir string) {
		n, err := notebook.Load(dir)
		require.NoError(t, err)
		require.Zero(t, n.Errors(), n.Problems)
	}
	failed := 0
	for _, leave := range []int64{0, 8 << 10, 60 << 10, 150 << 10, 280 << 10} {
		into := filepath.Join(disk, "book")
		require.NoError(t, os.RemoveAll(into))
		_, err := notebook.Begin(into, "Quay Street", false)
		require.NoError(t, err)
		fill(leave)
		for _, job := range [][]string{{"receive", filepath.Join(dir, "notes.zip"), "--into", into},
			{"writeup", "--notebook", into, "--title", "Lamp", "--kind", "lamp"}} {
			text, err := run(strings.Repeat("It flickers. ", 20_000), job...)
			if err != nil {
				failed++
				assert.Contains(t, text, "no space left", job)
			}
			sound(into)
		}
		require.NoError(t, os.Remove(filler))
		text, err := run("", "receive", filepath.Join(dir, "notes.zip"), "--into", into)
		require.NoError(t, err, text)
		sound(into)
	}
	assert.Greater(t, failed, 4)
	require.NoError(t, os.RemoveAll(filepath.Join(disk, "book")))
	// A site on the small disk: the old one stays readable, and a rerun finishes.
	site := filepath.Join(disk, "site")
	text, err = run("", "publish", book, "--out", site)
	require.NoError(t, err, text)
	home, err := os.ReadFile(filepath.Join(site, "index.html"))
	require.NoError(t, err)
	settings := filepath.Join(book, "notebook.yaml")
	src, err := os.ReadFile(settings)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(settings,
		bytes.Replace(src, []byte("welcome: More than sixty"), []byte("welcome: More than forty"), 1), 0o644))
	fill(0)
	text, err = run("", "publish", book, "--out", site)
	require.Error(t, err)
	assert.Contains(t, text, "no space left")
	now, err := os.ReadFile(filepath.Join(site, "index.html"))
	require.NoError(t, err)
	assert.Equal(t, string(home), string(now))
	require.NoError(t, os.Remove(filler))
	text, err = run("", "publish", book, "--out", site)
	require.NoError(t, err, text)
	now, _ = os.ReadFile(filepath.Join(site, "index.html"))
	assert.Contains(t, string(now), "More than forty")
	left, _ := filepath.Glob(filepath.Join(site, ".staging-*"))
	assert.Empty(t, left)
}

// TestReadOnlyDisk runs the commands that write on a disk that is mounted read-only: each
// says so in words, with what and what can be done, and those that read go on. It needs to
// mount one, which takes root.
func TestReadOnlyDisk(t *testing.T) {
	disk := t.TempDir()
	if err := syscall.Mount("tmpfs", disk, "tmpfs", 0, "size=16m"); err != nil {
		t.Skipf("a small file system cannot be mounted here: %v", err)
	}
	t.Cleanup(func() { assert.NoError(t, syscall.Unmount(disk, syscall.MNT_DETACH)) })
	book, run := filepath.Join(disk, "book"), runs(built(t))
	_, err := notebook.Begin(book, "Quay Street", false)
	require.NoError(t, err)
	text, err := run("", "writeup", "--notebook", book, "--title", "Lamp hums", "--kind", "lamp")
	require.NoError(t, err, text)
	list, err := filepath.Glob(filepath.Join(book, "cases", "*", "*.md"))
	require.NoError(t, err)
	require.Len(t, list, 1)
	id := strings.Join(strings.SplitN(filepath.Base(list[0]), "-", 3)[:2], "-")
	require.NoError(t, os.MkdirAll(filepath.Join(book, "kept", "history", id), 0o755))
	require.NoError(t, syscall.Mount("", disk, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
	csv := filepath.Join(t.TempDir(), "rows.csv")
	require.NoError(t, os.WriteFile(csv, []byte("id,problem,product_category,repair_status,event_date\nx-1,It hums.,Lamp,Fixed,2026-01-02\n"), 0o644))
	for _, job := range [][]string{
		{"writeup", "--notebook", book, "--title", "Lamp is dark", "--kind", "lamp"},
		{"import", "ords", csv, "--into", book},
		{"start", filepath.Join(disk, "other"), "--name", "Other"},
		{"publish", book, "--out", filepath.Join(disk, "site")},
	} {
		text, err := run("", job...)
		assert.Error(t, err, job)
		assert.Contains(t, text, "the disk is read-only, so ", job)
		assert.Contains(t, text, "Make the disk writable", job)
	}
	for _, job := range [][]string{{"check", book}, {"find", "--notebook", book, "hum"}, {"history", id, "--notebook", book}} {
		text, _ := run("", job...)
		assert.NotContains(t, text, "read-only", job)
	}
}
