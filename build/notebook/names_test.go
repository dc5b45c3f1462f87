package notebook

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/diagnostic"
)

// TestNamesOfFiles: ids, boards and photos whose files Windows could not have, or would
// take for one, are errors that say so.
func TestNamesOfFiles(t *testing.T) {
	const plain = "---\ncase: ID\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\nPHOTOS---\n## Symptom\n\nx\n"
	write := func(id, photos string) string {
		return strings.NewReplacer("ID", id, "PHOTOS", photos).Replace(plain)
	}
	for name, file := range map[string][2]string{
		"a case":            {"cases/2026/con.md", write("con", "")},
		"a device":          {"devices/nul.md", "---\ndevice: nul\nkind: lamp\nmaker: V\nmodel: L\n---\n"},
		"a board":           {"devices/x1.md", "---\ndevice: x1\nkind: lamp\nmaker: V\nmodel: L\nboards: [AUX]\n---\n"},
		"a photo":           {"cases/2026/2026-0001-t.md", write("2026-0001", "photos: [{file: com1.jpg, caption: C}]\n")},
		"a colon":           {"cases/2026/2026-0001-t.md", write("2026-0001", "photos: [{file: 'a.jpg:', caption: C}]\n")},
		"capitals alone":    {"cases/2026/2026-0001-t.md", write("2026-0001", "photos: [{file: a.jpg, caption: C}, {file: A.jpg, caption: C}]\n")},
		"composition alone": {"cases/2026/2026-0001-t.md", write("2026-0001", "photos: [{file: caf\u00e9.jpg, caption: C}, {file: cafe\u0301.jpg, caption: C}]\n")},
	} {
		dir := t.TempDir()
		p := filepath.Join(dir, filepath.FromSlash(file[0]))
		require.NoError(t, os.MkdirAll(filepath.Dir(p), 0o755))
		require.NoError(t, os.WriteFile(p, []byte(file[1]), 0o644))
		n, err := Load(dir)
		require.NoError(t, err)
		found := false
		for _, d := range n.Problems {
			found = found || d.Rule == diagnostic.FileName && d.Severity == diagnostic.Error
		}
		assert.True(t, found, "%s: %v", name, n.Problems)
	}
}
