package main

import (
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"benchlore/build/reason/search"
	"benchlore/build/testkit/workshop"
)

// FuzzFindPrinted prints what is found, on a terminal and elsewhere, for the
// words of the notebook itself and for what the fuzzer makes of them.
func FuzzFindPrinted(f *testing.F) {
	n := workshop.Load(f)
	ix, err := search.Memory(n)
	require.NoError(f, err)
	show := func(words string) (string, error) {
		q := search.Query{Words: words, Limit: 20}
		r, err := ix.Find(q)
		if err != nil {
			return "", err
		}
		var b strings.Builder
		printHits(&b, ix.Terms(), q, r, true)
		if err := printJSON(io.Discard, ix.Terms(), q, r); err != nil {
			return "", err
		}
		for _, h := range r.Hits {
			for _, s := range h.Context {
				// Taking the marks off again leaves the text that was marked.
				plain := strings.NewReplacer("\x1b[1m", "", "\x1b[0m", "").Replace(emphasis(s, true))
				if plain != strings.TrimSpace(safe(s.Text)) {
					f.Fatalf("%q is printed as %q", s.Text, plain)
				}
			}
		}
		return b.String(), nil
	}
	seen := map[string]bool{}
	for _, c := range n.Cases {
		for _, field := range search.Fields {
			for _, w := range strings.Fields(search.Text(n, c, field)) {
				if !seen[w] && strings.ContainsAny(w, "0123456789") {
					seen[w] = true
					_, err := show(w) // every value, designator and type number of the notebook
					require.NoError(f, err)
				}
			}
		}
	}
	for _, q := range []string{"3.3V", "3V3", "+3V3", "2k2", "2,18k", "47u", "220uF/400V", "4k7Ω 4k7Ω", "won't turn on"} {
		f.Add(q)
	}
	f.Fuzz(func(t *testing.T, words string) {
		if _, err := show(words); err != nil {
			t.Fatal(err)
		}
	})
}
