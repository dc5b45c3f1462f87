package pack

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/disk"
	"benchlore/build/testkit/workshop"
)

// TestWrittenMeanwhile: what somebody writes between the preview of a pack and its turn
// stays as they wrote it, new files and changed ones; what another run of the same
// workshop's packs wrote down is not forgotten; and removing leaves what is not theirs.
func TestWrittenMeanwhile(t *testing.T) {
	lamp := func(id, word string) string {
		return "---\ncase: " + id + "\ntitle: Lamp flickers\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\n---\n## Symptom\n\n" + word + "\n"
	}
	theirs := workshop.Book(t, map[string]string{"notebook.yaml": "name: Tidewater Bench\n",
		"cases/2026/2026-0001-lamp.md": lamp("2026-0001", "One."), "cases/2026/2026-0002-lamp.md": lamp("2026-0002", "Two.")}).Dir
	ours := workshop.Book(t, map[string]string{"notebook.yaml": "name: Quay Street\n",
		"cases/2026/2026-0009-lamp.md": lamp("2026-0009", "Ours.")}).Dir
	name, _ := packed(t, theirs, Options{})
	received(t, name, "", ours)
	find := func(id string) string {
		list, err := filepath.Glob(filepath.Join(ours, "cases", "from-tidewater-bench", "2026", "tidewater-bench-"+id+"*.md"))
		require.NoError(t, err)
		require.Len(t, list, 1)
		return list[0]
	}
	first := find("2026-0001")

	// A newer pack changes the first case and brings a third.
	require.NoError(t, os.WriteFile(filepath.Join(theirs, "cases", "2026", "2026-0001-lamp.md"), []byte(lamp("2026-0001", "One, newer.")), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(theirs, "cases", "2026", "2026-0003-lamp.md"), []byte(lamp("2026-0003", "Three.")), 0o644))
	name, _ = packed(t, theirs, Options{})
	p, err := Open(name, "")
	require.NoError(t, err)
	defer p.Close()
	plan, err := p.Preview(load(t, ours))
	require.NoError(t, err)
	require.Len(t, plan.Changed, 1)
	require.Len(t, plan.New, 1)
	third := filepath.Join(ours, filepath.FromSlash(plan.New[0]))
	was, err := os.ReadFile(first)
	require.NoError(t, err)
	edited := append(slices.Clone(was), "Our remark.\n"...)
	require.NoError(t, os.WriteFile(first, edited, 0o644))
	require.NoError(t, os.WriteFile(third, []byte("ours, by the same name"), 0o644))
	// Another run wrote down a file of its own.
	s, err := readState(ours, "tidewater-bench")
	require.NoError(t, err)
	s.Files["cases/from-tidewater-bench/2026/other.md"] = "sum"
	text, err := formatState(s)
	require.NoError(t, err)
	require.NoError(t, disk.Folder(ours).Write(statePath("tidewater-bench"), text))

	require.NoError(t, plan.Receive(context.Background()))
	late := slices.Clone(plan.Late)
	slices.Sort(late)
	assert.Equal(t, []string{plan.Changed[0], plan.New[0]}, late)
	have, err := os.ReadFile(first)
	require.NoError(t, err)
	assert.Equal(t, string(edited), string(have))
	have, err = os.ReadFile(third)
	require.NoError(t, err)
	assert.Equal(t, "ours, by the same name", string(have))
	s, err = readState(ours, "tidewater-bench")
	require.NoError(t, err)
	assert.Equal(t, "sum", s.Files["cases/from-tidewater-bench/2026/other.md"])
	assert.NotContains(t, s.Files, plan.New[0], "it never came")

	require.NoError(t, os.Remove(third))
	out, err := TakeOut(load(t, ours), "tidewater-bench")
	require.NoError(t, err)
	assert.Len(t, out.Edited, 1)
	assert.True(t, strings.HasSuffix(out.Edited[0], filepath.Base(first)))
	assert.FileExists(t, first)
	assert.FileExists(t, filepath.Join(ours, "cases", "2026", "2026-0009-lamp.md"))
}
