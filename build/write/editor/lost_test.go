package editor

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/testkit/workshop"
)

// TestNoTextIsLost: two stores, as of two servers, and a script that edits as editors do
// (read, add, rename) write to one case at once. Every text that was acknowledged is in
// the file or in the history, and so is every one that was displaced. With
// BENCHLORE_RACE=30s it goes on for so long.
func TestNoTextIsLost(t *testing.T) {
	long := 700 * time.Millisecond
	if text := os.Getenv("BENCHLORE_RACE"); text != "" {
		var err error
		long, err = time.ParseDuration(text)
		require.NoError(t, err)
	}
	const path = "cases/2026-0001.md"
	base := "---\ncase: 2026-0001\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [no-light]\n---\n## Symptom\n\nDark.\n"
	n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n", path: base})
	file := filepath.Join(n.Dir, filepath.FromSlash(path))
	var mu sync.Mutex
	said := map[string]bool{} // marks that somebody was told are kept
	acknowledge := func(mark string) {
		mu.Lock()
		said[mark] = true
		mu.Unlock()
	}
	end := time.Now().Add(long)
	var all sync.WaitGroup
	stores := []*Store{NewStore(n.Dir, 0), NewStore(n.Dir, 0)}
	for k, s := range stores {
		all.Go(func() {
			for i := 0; time.Now().Before(end); i++ {
				mark := fmt.Sprintf("<s%d-%d>", k, i)
				have, err := s.Read(path)
				if err != nil {
					continue
				}
				err = s.Save("2026-0001", path, VersionOf(have), append(bytes.Clone(have), mark+"\n"...))
				if err == nil {
					acknowledge(mark)
				} else if !errors.Is(err, errChanged) {
					assert.NoError(t, err)
				}
			}
		})
	}
	all.Go(func() {
		for i := 0; time.Now().Before(end); i++ {
			mark := fmt.Sprintf("<e-%d>", i)
			have, err := os.ReadFile(file)
			if err != nil {
				continue
			}
			tmp := fmt.Sprintf("%s.%d", file, i)
			if os.WriteFile(tmp, append(have, mark+"\n"...), 0o644) == nil && os.Rename(tmp, file) == nil {
				acknowledge(mark)
			}
			time.Sleep(time.Millisecond)
		}
	})
	all.Wait()
	var kept strings.Builder
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	kept.Write(text)
	require.NoError(t, filepath.WalkDir(filepath.Join(n.Dir, "kept"), func(p string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			text, err := os.ReadFile(p)
			kept.Write(text)
			return err
		}
		return err
	}))
	whole, lost := kept.String(), []string{}
	for mark := range said {
		if !strings.Contains(whole, mark) {
			lost = append(lost, mark)
		}
	}
	assert.Empty(t, lost, "of %d acknowledged texts", len(said))
	assert.Greater(t, len(said), 20)
	t.Logf("%d texts acknowledged, %d lost", len(said), len(lost))
}
