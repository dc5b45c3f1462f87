package search

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"sort"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestStore: every line is found by its key and nothing else is, whatever the blocks; the
// oracle is a sorted list.
func TestStore(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	for _, n := range []int{0, 1, 2, 50, 3000} {
		keys := map[string]bool{}
		for len(keys) < n {
			w := ""
			for range 1 + r.IntN(6) {
				w += string([]rune("abcdeéßжΩ#0")[r.IntN(11)])
			}
			keys[w] = true
		}
		var words, forms []string
		for k := range keys {
			words, forms = append(words, fmt.Sprintf("%s x,%d %s", k, r.IntN(99), strings.Repeat("!", r.IntN(30)))), append(forms, k)
		}
		slices.SortFunc(words, func(a, b string) int { return strings.Compare(keyOf(a), keyOf(b)) })
		slices.Sort(forms)
		s, err := inMemory(appendStore(nil, 77, words, forms))
		require.NoError(t, err)
		assert.Equal(t, uint64(77), s.made)
		assert.True(t, s.whole())
		for _, line := range words {
			got, ok, err := s.line(wordLines, keyOf(line))
			require.NoError(t, err)
			assert.True(t, ok)
			assert.Equal(t, line, got)
		}
		for _, w := range []string{"", "a", "zz", "ab\x01", "é", "жжжжжжжж", "~"} {
			got, ok, err := s.line(formLines, w)
			require.NoError(t, err)
			assert.Equal(t, keys[w], ok, "%q %q", w, got)
			begin, err := s.beginning(formLines, w)
			require.NoError(t, err)
			from := sort.SearchStrings(forms, w)
			to := from
			for to < len(forms) && strings.HasPrefix(forms[to], w) {
				to++
			}
			assert.ElementsMatch(t, forms[from:to], begin, "%q", w)
		}
		all, err := s.all(wordLines)
		require.NoError(t, err)
		assert.True(t, slices.Equal(words, all))
	}
}

// TestPostings: what is written is read back, in the order of the cases.
func TestPostings(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	for range 200 {
		var list []posting
		ordinal := int32(-1)
		for range r.IntN(60) {
			ordinal += 1 + int32(r.IntN(3000)*r.IntN(2))
			list = append(list, posting{ordinal, int32(1 + r.IntN(48))})
		}
		got, err := postingsOf(string(appendPostings([]byte("word a,b "), list)))
		require.NoError(t, err)
		assert.True(t, slices.Equal(list, got))
	}
	for _, bad := range []string{"w  z", "w  !", "w  z!~", "w  \x00", "w  ~~~~~~~~~~~~~~~!"} {
		_, err := postingsOf(bad)
		assert.ErrorIs(t, err, errDamaged, "%q", bad)
	}
}

// FuzzStore: damage is said, whatever byte it is in; nothing panics.
func FuzzStore(f *testing.F) {
	f.Add(appendStore(nil, 1, []string{"a  !!!", "b a !!"}, []string{"a", "b"}), "a")
	f.Add([]byte(magic+"12345678"+"\x00\x00\x00\x00\x00\x00\x00\x00"), "")
	f.Fuzz(func(t *testing.T, data []byte, key string) {
		s, err := inMemory(data)
		if err != nil {
			assert.ErrorIs(t, err, errDamaged)
			return
		}
		for kind := range s.kinds {
			if line, ok, err := s.line(kind, key); err == nil && ok {
				_, _ = postingsOf(line)
			}
			_, _ = s.beginning(kind, key)
			_, _ = s.all(kind)
		}
	})
}

// TestEveryByteCounts: a store with one byte changed is never taken for whole, and never
// answers with another line.
func TestEveryByteCounts(t *testing.T) {
	good := appendStore(nil, 5, []string{"a  !!!", "b a !!", "c  !!#"}, []string{"a", "b", "cc"})
	for i := range good {
		if i >= len(magic) && i < head {
			continue // the mark, which is compared with that of the state
		}
		bad := slices.Clone(good)
		bad[i] ^= 1
		s, err := inMemory(bad)
		if err == nil {
			assert.False(t, s.whole(), "%d", i)
		}
	}
}

// TestDamagedSince: a search that trusts the index on disk and finds it damaged reads
// everything again and answers all the same.
func TestDamagedSince(t *testing.T) {
	n := example(t)
	require.NoError(t, mustOpen(t, n.Dir).Close())
	old := time.Now().Add(-time.Hour)
	for _, c := range n.Cases {
		require.NoError(t, os.Chtimes(n.Dir+"/"+c.Path, old, old))
	}
	ix := mustOpen(t, n.Dir) // takes the look
	want := find(t, ix, Query{Words: "hum in both channels"})
	require.NoError(t, ix.Close())
	at, _ := placesIn(n.Dir)
	data, err := os.ReadFile(at.index)
	require.NoError(t, err)
	for i := head; i < len(data)-4000; i++ {
		data[i] ^= 1
	}
	require.NoError(t, os.WriteFile(at.index, data, 0o644))
	s := readState(at.state)
	require.Equal(t, layout, s.Layout)
	s.Written += int64(time.Hour)
	trusted := &Index{n: n, rows: s.Rows, found: map[string][]posting{}, partial: true}
	trusted.store, trusted.file, err = openFile(at.index, s.Made)
	require.NoError(t, err)
	_, _, err = trusted.store.line(wordLines, "hum")
	require.ErrorIs(t, err, errDamaged)
	assert.Equal(t, want, find(t, trusted, Query{Words: "hum in both channels"}))
	require.NoError(t, trusted.Close())
}

func mustOpen(t *testing.T, dir string) *Index {
	t.Helper()
	ix, err := Open(load(t, dir))
	require.NoError(t, err)
	return ix
}
