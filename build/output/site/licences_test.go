package site

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/output/wording"
	"benchlore/schema/sources"
)

// TestSourcesAreNamed: in each language of the interface the page names whose data it was,
// the terms and each thing that was made from them, without a script of its own, and every
// page leads there (CC BY-SA 4.0, section 3(a): credit, licence, changes).
func TestSourcesAreNamed(t *testing.T) {
	for _, language := range []string{"en", "de", "fr"} {
		t.Run(language, func(t *testing.T) {
			n := speaking(t, language)
			out := t.TempDir()
			_, err := Publish(t.Context(), n, out, Options{})
			require.NoError(t, err)
			page, err := os.ReadFile(filepath.Join(out, "licences.html"))
			require.NoError(t, err)
			texts := wording.In(language)
			for _, s := range sources.All() {
				for _, want := range []string{s.By, s.Licence, s.Terms, s.Home, texts.Say(s.Changed)} {
					assert.True(t, strings.Contains(string(page), want), want)
				}
				for _, d := range s.Derived {
					assert.True(t, strings.Contains(string(page), texts.Say(d.What)), d.What)
					if language != "en" {
						assert.NotEqual(t, d.What, texts.Say(d.What))
					}
				}
			}
			assert.Equal(t, 1, strings.Count(string(page), "<script"), "the bar's alone")
			assert.Less(t, len(page), 8<<10)
			for name, root := range map[string]string{"index.html": "", "docs/write.html": "../"} {
				data, err := os.ReadFile(filepath.Join(out, filepath.FromSlash(name)))
				require.NoError(t, err)
				assert.True(t, strings.Contains(string(data), `<a href="`+root+`licences.html">`), name)
			}
		})
	}
}
