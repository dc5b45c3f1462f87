package terms

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
)

// TestLongWords counts what a long word is asked for: no more than one of fifty letters,
// whatever its length, and that is enough for every word of a phrase.
func TestLongWords(t *testing.T) {
	for _, tag := range Reading {
		r := readerOf(tag)
		for _, n := range []int{50, 5_000, 50_000} {
			assert.LessOrEqual(t, len(r.heads(token{key: "q", written: strings.Repeat("q", n)})), longestHead, "%s %d", tag, n)
		}
		for word := range r.known {
			assert.LessOrEqual(t, utf8.RuneCountInString(word), longestHead, "%s %s", tag, word)
		}
	}
	g := &Grammar{Compounds: true}
	r := newReader(g)
	long := strings.Repeat("x", 60)
	assert.Len(t, r.heads(token{written: long}), longestHead-shortestHead+1, "where words are joined")
	assert.Equal(t, "xxxxx", r.heads(token{written: long})[longestHead-shortestHead])
}

// TestNear: only hits near enough are looked at, however many there are; which those are
// is held against looking at all.
func TestNear(t *testing.T) {
	var list []hit
	for i := range 3_000 {
		list = append(list, hit{3 * i, 3*i + 1})
	}
	for _, at := range []hit{{0, 0}, {17, 18}, {4_500, 4_501}, {9_100, 9_100}} {
		got := near(list, at)
		assert.LessOrEqual(t, len(got), 8)
		var want []hit
		for _, h := range list {
			if h.first > at.last && h.first-at.last-1 <= farEither || h.last < at.first && at.first-h.last-1 <= farEither || h.first <= at.last && h.last >= at.first {
				want = append(want, h)
			}
		}
		assert.ElementsMatch(t, want, got, at)
	}
}
