package notebook

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
)

// TestWhereACaseLies: by its year, its number and its title.
func TestWhereACaseLies(t *testing.T) {
	for _, c := range []struct{ id, opened, title, want string }{
		{"2026-0001", "2026-03-04", "Hums when warm", "cases/2026/2026-0001-hums-when-warm.md"},
		{"2026-0001", "", "Hums", "cases/undated/2026-0001-hums.md"},
		{"2026-0001", "202", "Hums", "cases/undated/2026-0001-hums.md"},
		{"2026-0001", "2026", "…", "cases/2026/2026-0001.md"},
	} {
		assert.Equal(t, c.want, filepath.ToSlash(CasePath(c.id, c.opened, c.title)))
	}
}

// TestSeveralPhotos: one bad name does not hide what is wrong with the next.
func TestSeveralPhotos(t *testing.T) {
	n, err := Load(book(t, map[string]string{"notebook.yaml": "name: Y\n", "cases/2026-0001/ring.jpg": "x",
		"cases/2026-0001.md": caseText("2026-0001", "photos: [{file: ../a.jpg, caption: c}, {file: 'a?.jpg', caption: c}, {file: rnig.jpg, caption: c}, {file: ring.jpg, caption: c}]\n")}))
	require.NoError(t, err)
	var got []string
	for _, d := range n.Problems {
		if d.Rule == diagnostic.PathEscape || d.Rule == diagnostic.FileName || d.Rule == diagnostic.MissingPhoto {
			got = append(got, string(d.Rule))
		}
	}
	assert.Equal(t, []string{"path-escape", "file-name", "missing-photo"}, got)
}

// TestHeldSections: what stays in the files is named with its count, eight of them, and the
// rest as a number; what would have to be quoted in YAML is.
func TestHeldSections(t *testing.T) {
	said := func(names ...string) string {
		text := caseText("2026-0001", "")
		for _, name := range names {
			text += "\n## " + name + "\n\nSome words.\n"
		}
		n, err := Load(book(t, map[string]string{"notebook.yaml": "name: Y\n", "cases/2026-0001.md": text}))
		require.NoError(t, err)
		for _, d := range n.Problems {
			if strings.HasPrefix(d.Message, "stays in the files") {
				return d.Message
			}
		}
		return ""
	}
	assert.Empty(t, said())
	assert.Equal(t, `stays in the files, never shown, packed or exported: "Stray" (1), "Who: when" (1); to give a section out, name it in notebook.yaml: site: {sections: [Stray, "Who: when"]}`,
		said("Who: when", "Stray"))
	var many []string
	for i := range 10 {
		many = append(many, "Aside "+string(rune('a'+i)))
	}
	text := said(many...)
	assert.Contains(t, text, `"Aside h" (1), 2 more; to give`)
	assert.NotContains(t, text, "Aside i")
}

// TestSectionsOfADraft: headings inside code are text, whichever fence it has.
func TestSectionsOfADraft(t *testing.T) {
	for _, fence := range []string{"```", "~~~", "~~~~"} {
		text := fmt.Sprintf("## Symptom\n\nOne.\n\n%s\n## not a heading\n%s\n\n## Outcome\n\nTwo.\n", fence, fence)
		assert.Equal(t, []casefile.SectionText{{Name: "Symptom", Text: fmt.Sprintf("One.\n\n%s\n## not a heading\n%s", fence, fence)}, {Name: "Outcome", Text: "Two."}}, SectionsFrom(text))
	}
	assert.Equal(t, []casefile.SectionText{{Name: "Symptom", Text: "Hums."}}, SectionsFrom("Hums."))
}
