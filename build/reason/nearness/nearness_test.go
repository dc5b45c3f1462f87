package nearness

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestOf: pairs that anybody at a bench calls alike are near, pairs that are not are
// not. The pairs are common practice, no source.
func TestOf(t *testing.T) {
	near := func(a, b string) bool {
		for _, n := range Of(a) {
			if n.Word == b {
				return true
			}
		}
		return false
	}
	alike := [][2]string{{"batteri", "charg"}, {"smoke", "smell"}, {"solder", "joint"}, {"cartridg", "ink"},
		{"cd", "disc"}, {"hum", "buzz"}, {"leak", "water"}, {"screen", "display"}, {"keyboard", "key"}, {"fuse", "blown"}}
	found := 0
	for _, p := range alike {
		if near(p[0], p[1]) || near(p[1], p[0]) {
			found++
		} else {
			t.Logf("%s: %v", p[0], Of(p[0]))
		}
	}
	assert.GreaterOrEqual(t, found, 6)
	for _, p := range [][2]string{{"hum", "leak"}, {"batteri", "blade"}, {"ink", "kettl"}, {"solder", "virus"}} {
		assert.False(t, near(p[0], p[1]), p)
	}
	assert.Empty(t, Of("qwxz"))
	assert.Nil(t, Vector("qwxz"))
	assert.Len(t, Vector("hum"), Dims)
}

// TestData: the file stays small, sorted, and holds no capital letter, digit or space.
func TestData(t *testing.T) {
	assert.Less(t, len(source), 400_000)
	words := Words()
	assert.IsIncreasing(t, words)
	assert.Greater(t, len(words), 1500)
	for _, w := range words {
		assert.Regexp(t, `^[a-zà-ÿ]+3?$`, w)
	}
	assert.Contains(t, string(source[:400]), "Open Repair Alliance")
}
