package filename

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestCheck: names that every system has, and those that one of them has not (Microsoft,
// Naming Files, Paths, and Namespaces; the superscript digits stand in its list).
func TestCheck(t *testing.T) {
	for _, name := range []string{"a", "a.md", "2026-0001-lamp.md", "Größe.jpg", "console.md", "com10", "com", "nul-x", "aux1.md",
		"a.con", "board 1.csv", strings.Repeat("a", maxName)} {
		assert.NoError(t, Check(name), name)
	}
	for _, name := range []string{"", ".", "..", ".git", "con", "CON", "Con.md", "con.tar.gz", "con .md", "nul", "prn", "aux.jpg", "com1",
		"COM0", "lpt9.txt", "com¹", "LPT³.md", "conin$", "CONOUT$.x", "a.", "a ", " a", "a...", "a:", "a:b", `a\b`, "a<b", "a>b", `a"b`,
		"a|b", "a?", "a*", "a\x00b", "a\nb", "a\x1fb", "a\x7fb", "a\u0085b", "a\u202eb", "a\u200bb", "a\u2028b", "a\xff", strings.Repeat("a", maxName+1)} {
		assert.Error(t, Check(name), "%q", name)
		assert.Error(t, CheckPath("notes/"+name), "%q", name)
		assert.Error(t, CheckPath(name+"/a"), "%q", name)
	}
	assert.Error(t, Check("a/b"))
	assert.NoError(t, CheckPath("cases/2026/a.md"))
	assert.Error(t, CheckPath("/cases"))
	assert.Error(t, CheckPath("cases/../a"))
	assert.Error(t, CheckPath(strings.Repeat("a/", maxPath)+"a"))
}

// TestFold: pairs that macOS or Windows takes for one file.
func TestFold(t *testing.T) {
	for a, b := range map[string]string{"A.md": "a.md", "caf\u00e9": "cafe\u0301", "\uff41": "a", "stra\u00dfe": "STRASSE", "\u212b": "\u00e5"} {
		assert.Equal(t, Fold(a), Fold(b), "%q %q", a, b)
	}
	assert.NotEqual(t, Fold("a"), Fold("b"))
}
