//go:build unix

package main

import (
	"context"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/testkit/workshop"
)

// patience is how long a command may take before it is said to wait for ever.
const patience = time.Minute

// TestPipesAreNotWaitedFor: whatever lies in the place of a file or a folder of a notebook,
// commands answer. A pipe that nobody writes into would keep a reader for ever.
func TestPipesAreNotWaitedFor(t *testing.T) {
	t.Parallel()
	dir := workshop.Dir(t)
	program, out := built(t), t.TempDir()
	run := func(args ...string) {
		ctx, stop := context.WithTimeout(t.Context(), patience)
		defer stop()
		cmd := exec.CommandContext(ctx, program, args...)
		cmd.Dir, cmd.WaitDelay = out, time.Second
		text, _ := cmd.CombinedOutput()
		assert.NoError(t, ctx.Err(), "%v: %s", args, text)
		assert.NotContains(t, string(text), "panic", args)
	}
	commands := [][]string{
		{"check", dir}, {"triage", "--notebook", dir, "--said", "it hums and is dead"}, {"find", "--notebook", dir, "hum"},
		{"similar", "2026-0018", "--notebook", dir}, {"figures", dir}, {"doctor", dir},
		{"history", "2026-0018", "--notebook", dir}, {"practise", "--notebook", dir, "--list"},
		{"pack", dir, "--out", filepath.Join(out, "a.zip"), "--replace"}, {"publish", dir, "--out", filepath.Join(out, "site")},
		{"export", "csv", dir, "--out", filepath.Join(out, "a.csv"), "--replace"},
	}
	for _, args := range commands { // so that every cache is there to be replaced
		run(args...)
	}
	// Pipes in the place of every cache, then of one file of each folder, then of what
	// is not there, then of folders.
	seen := map[string]bool{}
	var rounds [4][]string
	require.NoError(t, filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		key, round := filepath.Dir(path)+filepath.Ext(path), 1
		if strings.Contains(path, ".benchlore") {
			key, round = path, 0
		}
		if !seen[key] {
			seen[key] = true
			rounds[round] = append(rounds[round], path)
		}
		return nil
	}))
	for i, names := range map[int]string{
		2: "method/a.yaml received/a.json kept/history/2026-0018/a.md kept/journal/2026-0018.md path/a.md terms/a.yaml photos/2026-0018/a.png practice.json",
		3: "cases devices path terms method received kept .benchlore photos",
	} {
		for name := range strings.FieldsSeq(names) {
			rounds[i] = append(rounds[i], filepath.Join(dir, filepath.FromSlash(name)))
		}
	}
	for _, places := range rounds {
		require.NotEmpty(t, places)
		var undo []func() error
		for _, at := range places {
			aside := filepath.Join(out, "aside-"+strings.ReplaceAll(at, string(filepath.Separator), "-"))
			there := os.Rename(at, aside) == nil
			require.NoError(t, os.MkdirAll(filepath.Dir(at), 0o755))
			require.NoError(t, syscall.Mkfifo(at, 0o644))
			undo = append(undo, func() error {
				if err := os.RemoveAll(at); err != nil || !there {
					return err
				}
				return os.Rename(aside, at)
			})
		}
		for _, args := range commands {
			run(args...)
		}
		for _, back := range undo {
			require.NoError(t, back())
		}
	}
}
