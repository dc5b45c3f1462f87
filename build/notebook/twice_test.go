package notebook

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/diagnostic"
)

// twiceIn loads files and gives the errors about ids that stand twice, after every file got
// one time of change but for those named.
func twiceIn(t *testing.T, files map[string]string, later map[string]time.Duration) (*Notebook, []diagnostic.Diagnostic) {
	t.Helper()
	dir := book(t, files)
	at := time.Date(2026, 3, 4, 10, 12, 0, 0, time.UTC)
	for name := range files {
		require.NoError(t, os.Chtimes(filepath.Join(dir, filepath.FromSlash(name)), at, at.Add(later[name])))
	}
	n, err := Load(dir)
	require.NoError(t, err)
	var out []diagnostic.Diagnostic
	for _, d := range n.Problems {
		if d.Rule == diagnostic.IDTwice {
			out = append(out, d)
		} else {
			assert.Equal(t, "-", d.Rule, "nothing else is said: %s", d)
		}
	}
	return n, out
}

// TestSecondFile: two files of one case are one error that names both and says how they
// differ. The names are those that copying and syncing leave behind (common practice, no
// source).
func TestSecondFile(t *testing.T) {
	const y, lamp = "name: Y\n", "cases/2026-0001-lamp.md"
	text := caseText("2026-0001", "") + "\n## Findings\n\n| check | seen | result |\n|---|---|---|\n| Look | dark | fault |\n"
	for _, copied := range []string{"2026-0001-lamp (copy).md", "2026-0001-lamp (Kopie 2).md", "2026-0001-lamp-conflict-20260304-101200.md", "2026-0001-lamp.sync-conflict-20260304-101200-ABCDEFG.md",
		"2026-0001-lamp 2.md", "Copy of 2026-0001-lamp.md", "Kopie von 2026-0001-lamp.md", "2026-0001-lamp~1.md"} {
		t.Run(copied, func(t *testing.T) {
			n, list := twiceIn(t, map[string]string{"notebook.yaml": y, lamp: text, "cases/" + copied: text}, nil)
			require.Len(t, list, 1)
			assert.Equal(t, copied, filepath.Base(list[0].File), "the error stands at the copy")
			assert.Equal(t, 2, list[0].Line)
			assert.Equal(t, diagnostic.Error, list[0].Severity)
			assert.Equal(t, "cases/"+copied+" and "+lamp+" are both case 2026-0001, equal byte for byte; delete cases/"+copied, list[0].Message)
			c, _ := n.Case("2026-0001")
			assert.Equal(t, lamp, c.Path, "the original is the case")
			assert.Len(t, n.Cases, 1)
		})
	}

	copied := "cases/2026-0001-lamp 2.md"
	more := strings.Replace(text, "opened: 2026-01-02\n", "opened: 2026-01-02\nby: RK\n", 1) + "| Knock | flickers | fault |\n| Wait | dark | unsure |\n\n## Lesson\n\nKnock first.\n"
	_, list := twiceIn(t, map[string]string{"notebook.yaml": y, lamp: text, copied: more}, map[string]time.Duration{copied: 3 * time.Hour})
	require.Len(t, list, 1)
	assert.Equal(t, copied+" and "+lamp+" are both case 2026-0001: they differ in by:, Findings (0 rows only in 2026-0001-lamp.md, 2 only in 2026-0001-lamp 2.md), Lesson (only in 2026-0001-lamp 2.md)"+
		"; 2026-0001-lamp 2.md was changed later, 2026-03-04 13:12 UTC; a sync leaves such copies. Take into "+lamp+" what only the other has, then delete "+copied, list[0].Message)
	_, list = twiceIn(t, map[string]string{"notebook.yaml": y, lamp: more, copied: text}, map[string]time.Duration{lamp: time.Minute})
	assert.Contains(t, list[0].Message, "Lesson (only in 2026-0001-lamp.md); 2026-0001-lamp.md was changed later")
	_, list = twiceIn(t, map[string]string{"notebook.yaml": y, lamp: text, copied: text + " \n"}, map[string]time.Duration{copied: time.Second})
	assert.Contains(t, list[0].Message, "they differ in what is private, in comments or in white space; a sync", "a second is no difference on a stick")
	secret := strings.Replace(text, "opened:", "private: {name: Marlow}\nopened:", 1)
	_, list = twiceIn(t, map[string]string{"notebook.yaml": y, lamp: text, copied: secret}, nil)
	assert.NotContains(t, list[0].String()+list[0].Source, "Marlow")

	kettle := strings.Replace(text, "title: T", "title: Kettle", 1)
	_, list = twiceIn(t, map[string]string{"notebook.yaml": y, lamp: text, "cases/2026-0001-kettle.md": kettle, "cases/2026-0007.md": caseText("2026-0007", "")}, nil)
	require.Len(t, list, 1)
	assert.Equal(t, "2026-0001-lamp.md", filepath.Base(list[0].File))
	assert.Contains(t, list[0].Message, "look like two repairs (they differ in title:)")
	assert.Contains(t, list[0].Message, "2026-0008", "the next free number")
}

// TestCopyHasItsOwnSlips: what is wrong in both files is said once, what is wrong in the
// copy alone as well.
func TestCopyHasItsOwnSlips(t *testing.T) {
	text := caseText("2026-0001", "symptoms: [flickr]\n")
	n, err := Load(book(t, map[string]string{"notebook.yaml": "name: Y\n", "cases/2026-0001.md": text, "cases/2026-0001 2.md": strings.Replace(text, "lamp", "lmap", 1)}))
	require.NoError(t, err)
	assert.Equal(t, []string{"2026-0001 2.md id-twice", "2026-0001 2.md unknown-term", "2026-0001.md unknown-term"}, rules(n))
	assert.Contains(t, n.Problems[1].Message, "lmap")
	assert.Contains(t, n.Problems[2].Message, "flickr")
}

// TestTemplateWithItsNumber: who copies a case to begin the next has forgotten the line case:.
func TestTemplateWithItsNumber(t *testing.T) {
	n, err := Load(book(t, map[string]string{"notebook.yaml": "name: Y\n", "cases/2026-0001.md": caseText("2026-0001", ""), "cases/2026-0000.md": caseText("2026-0001", "")}))
	require.NoError(t, err)
	assert.Equal(t, []string{"2026-0000.md file-name", "2026-0000.md id-twice"}, rules(n))
	c, _ := n.Case("2026-0001")
	assert.Equal(t, "cases/2026-0001.md", c.Path)
}

// TestCheckOneCaseAgainstTheRest: the writing pages and the interview ask for one case, and
// hear what check says of the notebook.
func TestCheckOneCaseAgainstTheRest(t *testing.T) {
	n, err := Load(book(t, map[string]string{"notebook.yaml": "name: Y\n", "cases/2026-0001.md": caseText("2026-0001", ""), "cases/2026-0002.md": caseText("2026-0002", ""),
		"cases/2026-0003.md": "oops", "cases/2026-0001/ring.jpg": "x"}))
	require.NoError(t, err)
	var got []diagnostic.Rule
	for _, d := range n.Check("cases/2026-0001.md", []byte(caseText("2026-0001", "")+"As 2026-0002, 2026-0003 and 2026-0009. ![c](x.png)\n")) {
		got = append(got, d.Rule)
	}
	assert.Equal(t, []diagnostic.Rule{diagnostic.UnusedPhoto, diagnostic.UnknownCase, diagnostic.MissingPhoto}, got)
}
