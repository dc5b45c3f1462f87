package disk

import (
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestExchange: what stood there is returned, and a file is whole before and after.
func TestExchange(t *testing.T) {
	f := Folder(t.TempDir())
	was, err := f.Exchange("a/b.md", []byte("one"))
	require.NoError(t, err)
	assert.Nil(t, was)
	was, err = f.Exchange("a/b.md", []byte("two"))
	require.NoError(t, err)
	assert.Equal(t, "one", string(was))
	now, err := f.Read("a/b.md", 100)
	require.NoError(t, err)
	assert.Equal(t, "two", string(now))
	entries, err := os.ReadDir(filepath.Join(string(f), "a"))
	require.NoError(t, err)
	assert.Len(t, entries, 1, "nothing is left beside it")
}

// TestNothingIsDisplacedUnseen: of many writers at once, each text is either what the file
// has in the end or was returned to somebody as displaced, once.
func TestNothingIsDisplacedUnseen(t *testing.T) {
	f := Folder(t.TempDir())
	const writers, each = 8, 40
	var mu sync.Mutex
	seen := map[string]int{}
	var all sync.WaitGroup
	for w := range writers {
		all.Go(func() {
			for i := range each {
				was, err := f.Exchange("x.md", []byte(strings.Repeat("t", 1+w*each+i)))
				assert.NoError(t, err)
				mu.Lock()
				seen[string(was)]++
				mu.Unlock()
			}
		})
	}
	all.Wait()
	last, err := f.Read("x.md", 1<<20)
	require.NoError(t, err)
	seen[string(last)]++
	lost := 0
	for n := 1; n <= writers*each; n++ {
		if seen[strings.Repeat("t", n)] == 0 {
			lost++
		}
	}
	assert.Zero(t, lost)
}

// TestGate: one enters at a time.
func TestGate(t *testing.T) {
	f := Folder(t.TempDir())
	inside, most := 0, 0
	var mu sync.Mutex
	var all sync.WaitGroup
	for range 6 {
		all.Go(func() {
			for range 20 {
				leave := f.Enter()
				mu.Lock()
				inside++
				most = max(most, inside)
				mu.Unlock()
				mu.Lock()
				inside--
				mu.Unlock()
				leave()
			}
		})
	}
	all.Wait()
	assert.Equal(t, 1, most)
}

// TestMoveKept: what notebooks of before kept among what is derived is brought over, and
// nothing that is there is written over.
func TestMoveKept(t *testing.T) {
	f := Folder(t.TempDir())
	for name, text := range map[string]string{".benchlore/history/2026-0001/a.md": "old", ".benchlore/history/2026-0002/b.md": "other", ".benchlore/journal/2026-0001.md": "typed",
		".benchlore/drafts/new.json": "{}", ".benchlore/originals/2026-0001/p.jpg": "jpg", ".benchlore/index/x": "derived", "kept/history/2026-0001/a.md": "newer"} {
		require.NoError(t, f.Write(name, []byte(text)))
	}
	require.NoError(t, f.MoveKept())
	require.NoError(t, f.MoveKept(), "once more does nothing")
	for name, text := range map[string]string{"kept/history/2026-0001/a.md": "newer", "kept/history/2026-0002/b.md": "other", "kept/journal/2026-0001.md": "typed",
		"kept/drafts/new.json": "{}", "kept/originals/2026-0001/p.jpg": "jpg", ".benchlore/index/x": "derived", ".benchlore/history/2026-0001/a.md": "old"} {
		got, err := f.Read(name, 100)
		require.NoError(t, err, name)
		assert.Equal(t, text, string(got), name)
	}
}

// TestAlone: several may attend, nobody is alone beside them, and nobody attends beside one
// who is alone.
func TestAlone(t *testing.T) {
	f := Folder(t.TempDir())
	one, two := f.Attend(), f.Attend()
	_, ok := f.Alone()
	assert.False(t, ok)
	one()
	_, ok = f.Alone()
	assert.False(t, ok)
	two()
	leave, ok := f.Alone()
	require.True(t, ok)
	_, ok = f.Alone()
	assert.False(t, ok)
	came := make(chan func())
	go func() { came <- f.Attend() }()
	select {
	case <-came:
		assert.Fail(t, "somebody attends beside one who is alone")
	default:
	}
	leave()
	(<-came)()
	leave, ok = f.Alone()
	assert.True(t, ok)
	leave()
}
