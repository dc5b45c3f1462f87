package casefile

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestPublic(t *testing.T) {
	src := "---\ncase: 2026-0001\nprivate:\n  owner: SECRET one\n- SECRET two\n# SECRET three\n\ntitle: \"Not private: this\"\n\"private\": SECRET four\nopened: 2026-01-02\nPRIVATE: {a: SECRET five}\n---\n" +
		"## Symptom\n\nA private matter stays.\n\n## Private: owner\n\nSECRET six\n\n### Deeper\n\nSECRET seven\n\n## Outcome\n\nDone.\n\n### private note\n\nSECRET eight\n\n### Public note\n\nSeen.\n\nPrivate\n-------\n\nSECRET nine\n\n```\n## Outcome\n```\n"
	got := Public([]byte(src))
	assert.NotContains(t, string(got), "SECRET")
	for _, want := range []string{"case: 2026-0001", "title: \"Not private: this\"", "opened: 2026-01-02", "A private matter stays.", "## Outcome\n\nDone.", "### Public note\n\nSeen."} {
		assert.Contains(t, string(got), want)
	}
	assert.Equal(t, strings.Count(src, "\n"), strings.Count(string(got), "\n"))
	assert.Len(t, got, len(src))
	f, list := Parse("a.md", got)
	assert.NotNil(t, f, list)
	assert.Equal(t, "Not private: this", f.Case.Title)
	plain := []byte("---\ncase: 2026-0002\n---\nNothing of the sort.\n")
	assert.True(t, &plain[0] == &Public(plain)[0], "nothing is copied where nothing is private")
	assert.Equal(t, "name: X\n                 \ncurrency: EUR\n", string(Public([]byte("name: X\nprivate: a secret\ncurrency: EUR\n"))))
}

func FuzzPublic(f *testing.F) {
	f.Add("private: SECRET\ntitle: x", "## Private\n\nSECRET\n\n## B\n")
	f.Add("a: b", "# Private\n```\n## x\n```\n")
	f.Fuzz(func(t *testing.T, front, body string) {
		src := []byte("---\n" + front + "\n---\n" + body)
		got := Public(src)
		if len(got) != len(src) || bytes.Count(got, []byte("\n")) != bytes.Count(src, []byte("\n")) {
			t.Fatal("lines moved")
		}
		for i := range src {
			if got[i] != src[i] && got[i] != ' ' {
				t.Fatal("something was written")
			}
		}
		if again := Public(got); !bytes.Equal(again, got) {
			t.Fatalf("twice is not once: %q %q", got, again)
		}
	})
}
