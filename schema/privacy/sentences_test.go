package privacy

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"
)

// sentences reads a file of testdata.
func sentences(t testing.TB, name string, into any) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", name))
	require.NoError(t, err)
	require.NoError(t, yaml.Unmarshal(text, into))
}

// told writes finds as kind:text, for comparing.
func told(text string, finds []Find) string {
	var out []string
	for _, f := range finds {
		out = append(out, fmt.Sprintf("%s:%s", f.Kind, text[f.Start:f.Stop]))
	}
	return strings.Join(out, " ")
}

// TestSentences: what people write in three languages is found at its place, with its kind,
// and nothing else of the sentence.
func TestSentences(t *testing.T) {
	var found map[string]map[string][]string
	sentences(t, "found.yaml", &found)
	seen, right := 0, 0
	for lang, kinds := range found {
		for kind, list := range kinds {
			for _, s := range list {
				before, rest, ok := strings.Cut(s, "⟦")
				require.True(t, ok, s)
				what, after, ok := strings.Cut(rest, "⟧")
				require.True(t, ok, s)
				text := before + what + after
				seen++
				if assert.Equal(t, kind+":"+what, told(text, Scan([]byte(text))), "%s: %s", lang, text) {
					right++
				}
			}
		}
	}
	assert.GreaterOrEqual(t, seen, 120)
	t.Logf("%d of %d found", right, seen)
}

// TestSentencesOfTheBench: what a bench writes is nobody's personal data.
func TestSentencesOfTheBench(t *testing.T) {
	var silent map[string][]string
	sentences(t, "silent.yaml", &silent)
	seen, right := 0, 0
	for lang, list := range silent {
		for _, text := range list {
			seen++
			if assert.Empty(t, told(text, Scan([]byte(text))), "%s: %s", lang, text) {
				right++
			}
		}
	}
	assert.GreaterOrEqual(t, seen, 120)
	t.Logf("%d of %d silent", right, seen)
}
