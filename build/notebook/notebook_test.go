package notebook

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/disk"
	"benchlore/cases"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// book writes files into a fresh notebook folder.
func book(t testing.TB, files map[string]string) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "book")
	for name, text := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	require.NoError(t, os.MkdirAll(dir, 0o755))
	return dir
}

func caseText(id, extra string) string {
	return fmt.Sprintf("---\ncase: %s\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\n%s---\n## Symptom\n\nDark.\n", id, extra)
}

// rules returns the rules of the problems, with the last part of each file's name.
func rules(n *Notebook) []string {
	var out []string
	for _, p := range n.Problems {
		out = append(out, fmt.Sprintf("%s %s", filepath.Base(p.File), p.Rule))
	}
	return out
}

func TestLoadExample(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, cases.Files))
	n, err := Load(filepath.Join(dir, "notebook"))
	require.NoError(t, err)
	assert.Empty(t, n.Problems)
	finished := 0
	for _, c := range n.Cases {
		if !c.File.Case.Open() {
			finished++
		}
	}
	assert.GreaterOrEqual(t, finished, 30)
	assert.GreaterOrEqual(t, len(n.Devices), 10)
	first, last := n.Cases[0].File.Case.Opened, n.Cases[len(n.Cases)-1].File.Case.Opened
	from, _ := casefile.Day(first)
	to, _ := casefile.Day(last)
	assert.Greater(t, to.Sub(from).Hours(), 18*30.4*24, "at least 18 months")
}

// TestCrossRules covers the rules that need more than one file.
func TestCrossRules(t *testing.T) {
	const y = "name: Y\n"
	device := "---\ndevice: lumadane-arc\nkind: lamp\nmaker: Lumadane\nmodel: Arc\n---\n"
	with := func(id, device string) string { return strings.Replace(caseText(id, ""), "{kind: lamp}", device, 1) }
	for _, test := range []struct {
		name    string
		files   map[string]string
		want    []string
		suggest string
	}{
		{"device", map[string]string{"notebook.yaml": y, "devices/lumadane-arc.md": device,
			"cases/2026-0001.md": with("2026-0001", "lumadane-arx")},
			[]string{"2026-0001.md unknown-device"}, "lumadane-arc"},
		{"two with one id", map[string]string{"notebook.yaml": y, "cases/a/2026-0001.md": caseText("2026-0001", ""),
			"cases/b/2026-0001-x.md": caseText("2026-0001", "")},
			[]string{"2026-0001-x.md id-twice"}, ""},
		{"ids that differ in case", map[string]string{"notebook.yaml": y, "cases/A1.md": caseText("A1", ""),
			"cases/a1.md": caseText("a1", "")},
			[]string{"a1.md id-twice"}, ""},
		{"comeback of none", map[string]string{"notebook.yaml": y, "cases/2026-0002.md": caseText("2026-0002", "returns: 2026-0003\n")},
			[]string{"2026-0002.md unknown-case"}, "2026-0002"},
		{"comeback of itself", map[string]string{"notebook.yaml": y, "cases/2026-0002.md": caseText("2026-0002", "returns: 2026-0002\n")},
			[]string{"2026-0002.md return-order"}, ""},
		{"comeback of a later one", map[string]string{"notebook.yaml": y,
			"cases/2026-0001.md": caseText("2026-0001", "returns: 2026-0002\n"),
			"cases/2026-0002.md": strings.Replace(caseText("2026-0002", ""), "2026-01-02", "2026-05-01", 1)},
			[]string{"2026-0001.md return-order"}, ""},
		{"missing photo", map[string]string{"notebook.yaml": y,
			"cases/2026-0001.md": caseText("2026-0001", "photos: [{file: rnig.jpg, caption: c}]\n"), "cases/2026-0001/ring.jpg": "x"},
			[]string{"2026-0001.md missing-photo"}, "ring.jpg"},
		{"picture of the text that is missing", map[string]string{"notebook.yaml": y, "cases/2026-0001.md": caseText("2026-0001", "") + "![c](rnig.jpg)\n", "cases/2026-0001/ring.jpg": "x"},
			[]string{"2026-0001.md missing-photo"}, "ring.jpg"},
		{"picture of the text that is not listed", map[string]string{"notebook.yaml": y, "cases/2026-0001.md": caseText("2026-0001", "") + "![c](ring.jpg)\n", "cases/2026-0001/ring.jpg": "x"},
			[]string{"2026-0001.md unused-photo"}, ""},
		{"picture of another host", map[string]string{"notebook.yaml": y, "cases/2026-0001.md": caseText("2026-0001", "") + "![c](https://a.example/ring.jpg)\n"}, nil, ""},
		{"picture that nothing shows", map[string]string{"notebook.yaml": y, "cases/2026-0001.md": caseText("2026-0001", ""), "cases/2026-0001/ring.jpg": "x", "cases/2026-0001/log.txt": "x"},
			[]string{"2026-0001.md unused-photo"}, ""},
		{"picture that is shown", map[string]string{"notebook.yaml": y, "cases/2026-0001.md": caseText("2026-0001", "photos: [{file: ring.jpg, caption: c}]\n") + "![c](ring.jpg)\n", "cases/2026-0001/ring.jpg": "x"}, nil, ""},
		{"mention of none", map[string]string{"notebook.yaml": y, "cases/2026-0001.md": caseText("2026-0001", "") + "Like 2026-0042, and 2026-0042 again.\n"},
			[]string{"2026-0001.md unknown-case"}, ""},
		{"mention of another year", map[string]string{"notebook.yaml": y, "cases/2025-0042.md": caseText("2025-0042", ""), "cases/2026-0001.md": caseText("2026-0001", "") + "Like 2026-0042.\n"},
			[]string{"2026-0001.md unknown-case"}, "2025-0042"},
		{"mention in the title", map[string]string{"notebook.yaml": y, "cases/2026-0001.md": strings.Replace(caseText("2026-0001", ""), "title: T", "title: As 2026-0042", 1)},
			[]string{"2026-0001.md unknown-case"}, ""},
		{"link to none", map[string]string{"notebook.yaml": y, "cases/2026-0001.md": caseText("2026-0001", "") + "[that](2026-0042-lamp.md) [that](../2026/2026-0043.html#x)\n"},
			[]string{"2026-0001.md unknown-case", "2026-0001.md unknown-case"}, ""},
		{"links and mentions that lead somewhere", map[string]string{"notebook.yaml": y, "cases/2026-0002-lamp.md": caseText("2026-0002", ""), "cases/2026-0003-x.md": "oops",
			"cases/2026-0001.md": caseText("2026-0001", "") + "[that](2026-0002-lamp.md), 2026-0002, 2026-0001, [it](2026-0001.html), 2026-0003 [a](https://a.example/2026-0044) [b](#2026-0044) [c](word:rail).\n"},
			[]string{"2026-0003-x.md front-matter"}, ""},
		{"what is no mention", map[string]string{"notebook.yaml": y, "cases/2026-0001.md": caseText("2026-0001", "") +
			"Made 2019-2020, on 2026-01-02, 1000-2000 rpm, a 2000-2500 mAh pack, SN-2026-0042, part 2026-0042-7, code `2026-0042`, 2026-0042.5, a 2026-2500 mAh pack, 2025-2026, a/2026-0042, IEC 60335-1, 1890-0012.\n\n    2026-0042\n"}, nil, ""},
		{"numbers of another form", map[string]string{"notebook.yaml": y, "cases/W26-0001.md": caseText("W26-0001", ""), "cases/W26-0002.md": caseText("W26-0002", "") + "As W26-0001 and w26-0009, not X26-0009.\n"},
			[]string{"W26-0002.md unknown-case"}, ""},
		{"mentions of what came from elsewhere", map[string]string{"notebook.yaml": y, "cases/quay-2026-0001.md": caseText("quay-2026-0001", "from: quay\n") + "As 2026-0002 and 2026-0003.\n",
			"cases/quay-2026-0002.md": caseText("quay-2026-0002", "from: quay\n") + "As 2026-0009.\n", "cases/quay-2026-0004.md": caseText("quay-2026-0004", "from: quay\n") + "As 2026-0001.\n"},
			[]string{"notebook.yaml unknown-case"}, ""},
		{"doubts about what came from elsewhere", map[string]string{"notebook.yaml": y,
			"cases/quay-1.md": caseText("quay-1", "from: quay\nminutes: {repair: 3000}\n") + "\n## Measurements\n\n| point | what | expected | read |\n|---|---|---|---|\n| A | bananas | 3 V ±100 % | 3 V |\n| B | bananas | | 3 V |\n| C | voltage | 3 V ±100 % | 3 V |\n",
			"cases/quay-2.md": caseText("quay-2", "from: quay\n") + "\n## Measurements\n\n| point | what | expected | read |\n|---|---|---|---|\n| A | bananas | | 3 V |\n| C | resistance | | 3 V |\n| D | voltage | 3 V ±500 % | 3 V |\n"},
			[]string{"quay-2.md what-unit", "quay-2.md loose-tolerance", "notebook.yaml long-time", "notebook.yaml loose-tolerance", "notebook.yaml unknown-what"}, ""},
		{"photo with a path", map[string]string{"notebook.yaml": y,
			"cases/2026-0001.md": caseText("2026-0001", "photos: [{file: ../../notebook.yaml, caption: c}]\n")},
			[]string{"2026-0001.md path-escape", "2026-0001.md wrong-value"}, ""},
		{"broken file beside a good one",
			map[string]string{"notebook.yaml": y, "cases/2026-0001.md": "oops", "cases/2026-0002.md": caseText("2026-0002", "")},
			[]string{"2026-0001.md front-matter"}, ""},
		{"own terms", map[string]string{"notebook.yaml": y, "terms/own.yaml": "symptoms:\n  - {id: gloomy, name: Gloomy, meaning: Dark.}\n",
			"cases/2026-0001.md": caseText("2026-0001", "symptoms: [gloomy]\n")}, nil, ""},
		{"bad config", map[string]string{"notebook.yaml": "name: Y\nlanguge: en\n", "cases/2026-0001.md": caseText("2026-0001", "")},
			[]string{"notebook.yaml unknown-key"}, "language"},
		{"no notebook.yaml", map[string]string{"cases/2026-0001.md": caseText("2026-0001", "")}, []string{"book no-notebook-file"}, ""},
		{"empty notebook", map[string]string{"notebook.yaml": y}, []string{"book empty-notebook"}, ""},
		{"empty folder", nil, []string{"book no-notebook-file"}, ""},
		{"personal data in terms", map[string]string{"notebook.yaml": y,
			"terms/own.yaml":     "symptoms:\n  - {id: gloomy, name: Gloomy, meaning: \"Dark, says a\\x40example.com.\"}\n",
			"cases/2026-0001.md": caseText("2026-0001", "")}, []string{"own.yaml personal-data"}, ""},
		{"personal data in notebook.yaml",
			map[string]string{"notebook.yaml": "name: Y, 020 7946 0000\npersonal-data: {allow: [a@example.com]}\n",
				"cases/2026-0001.md": caseText("2026-0001", "")},
			[]string{"notebook.yaml personal-data"}, ""},
		{"personal data in a parts list", map[string]string{"notebook.yaml": y, "cases/2026-0001.md": caseText("2026-0001", ""),
			"devices/lumadane-arc.md":       strings.Replace(device, "model: Arc\n", "model: Arc\nboards: [Main]\n", 1),
			"devices/lumadane-arc/main.csv": "Designator,Value\nR1,10k for a@example.com\n"},
			[]string{"main.csv board-file", "main.csv personal-data"}, ""},
		{"personal data in a drawing", map[string]string{"notebook.yaml": y,
			"cases/2026-0001.md":    caseText("2026-0001", "photos: [{file: a.svg, caption: c}]\n"),
			"cases/2026-0001/a.svg": `<svg xmlns="x"><path d="M 020 7946 0000"/><text>020 <tspan>7946</tspan> &#48;000</text></svg>`}, []string{"a.svg personal-data"}, ""},
		{"personal data at the end of a large drawing", map[string]string{"notebook.yaml": y,
			"cases/2026-0001.md":    caseText("2026-0001", "photos: [{file: A.SVG, caption: c}]\n"),
			"cases/2026-0001/A.SVG": `<svg xmlns="x">` + strings.Repeat(`<path d="M 0 0"/>`, 20_000) + `<text>020 7946 0000</text></svg>`}, []string{"A.SVG personal-data"}, ""},
		{"allowed text", map[string]string{"notebook.yaml": y + "personal-data: {allow: [a@example.com]}\n",
			"cases/2026-0001.md": caseText("2026-0001", "") + "a@example.com\n"}, nil, ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			n, err := Load(book(t, test.files))
			require.NoError(t, err)
			assert.Equal(t, test.want, rules(n))
			if test.suggest != "" {
				assert.Equal(t, test.suggest, n.Problems[0].Suggestion)
			}
		})
	}
}

// TestBadFiles: things that are not ordinary text files are named, and the rest
// is read.
func TestBadFiles(t *testing.T) {
	outside := filepath.Join(t.TempDir(), "secret.md")
	require.NoError(t, os.WriteFile(outside, []byte(caseText("2026-0009", "")), 0o644))
	dir := book(t, map[string]string{"notebook.yaml": "name: Y\n",
		"cases/2026-0001.md": caseText("2026-0001", "photos: [{file: p.png, caption: c}]\n")})
	require.NoError(t, os.Mkdir(filepath.Join(dir, "cases", "2026-0002.md"), 0o755))
	require.NoError(t, os.Symlink("nowhere.md", filepath.Join(dir, "cases", "2026-0003.md")))
	require.NoError(t, os.Symlink(outside, filepath.Join(dir, "cases", "2026-0004.md")))
	require.NoError(t, os.Symlink("2026-0001.md", filepath.Join(dir, "cases", "2026-0005.md")))
	require.NoError(t, os.Mkdir(filepath.Join(dir, "cases", "2026-0001"), 0o755))
	require.NoError(t, os.Symlink(outside, filepath.Join(dir, "cases", "2026-0001", "p.png")))
	big, err := os.Create(filepath.Join(dir, "cases", "2026-0006.md"))
	require.NoError(t, err)
	require.NoError(t, big.Truncate(50<<20))
	require.NoError(t, big.Close())
	n, err := Load(dir)
	require.NoError(t, err)
	assert.ElementsMatch(t, []string{
		"2026-0001.md bad-file", "2026-0002.md bad-file", "2026-0003.md bad-file", "2026-0004.md bad-file",
		"2026-0005.md file-name", "2026-0005.md id-twice", "2026-0006.md file-too-large"}, rules(n))
	require.Len(t, n.Cases, 1)
}

func TestLoadNothing(t *testing.T) {
	_, err := Load(filepath.Join(t.TempDir(), "none"))
	assert.ErrorIs(t, err, ErrNoFolder)
	file := filepath.Join(t.TempDir(), "f")
	require.NoError(t, os.WriteFile(file, nil, 0o644))
	_, err = Load(file)
	assert.ErrorContains(t, err, "is a file")
}

func TestCreateFile(t *testing.T) {
	name := filepath.Join(t.TempDir(), "a", "b.md")
	require.NoError(t, disk.CreateFile(name, []byte("one")))
	assert.ErrorIs(t, disk.CreateFile(name, []byte("two")), fs.ErrExist)
	got, err := os.ReadFile(name)
	require.NoError(t, err)
	assert.Equal(t, "one", string(got))
	require.NoError(t, disk.WriteFile(name, []byte("three")))
	got, err = os.ReadFile(name)
	require.NoError(t, err)
	assert.Equal(t, "three", string(got))
	entries, err := os.ReadDir(filepath.Dir(name))
	require.NoError(t, err)
	assert.Len(t, entries, 1, "no temporary file stays behind")
}

// TestWriteAtOnce lets ten writers begin a case at the same time: ten numbers,
// none twice.
func TestWriteAtOnce(t *testing.T) {
	dir := book(t, map[string]string{"notebook.yaml": "name: Y\n", "cases/2026/2026-0041-x.md": "broken, but its number is taken"})
	var wg sync.WaitGroup
	var mu sync.Mutex
	paths := map[string]bool{}
	for i := range 10 {
		wg.Go(func() {
			n, err := Load(dir)
			if !assert.NoError(t, err) {
				return
			}
			d := Draft{Case: casefile.Case{Title: fmt.Sprintf("Title %d", i), Device: casefile.Device{Kind: "lamp"}, Opened: "2026-03-04"}}
			path, problems, err := n.Write(d)
			assert.NoError(t, err, "%v", problems)
			mu.Lock()
			paths[path] = true
			mu.Unlock()
		})
	}
	wg.Wait()
	assert.Len(t, paths, 10)
	for path := range paths {
		assert.NotContains(t, path, "2026-0041")
	}
	n, err := Load(dir)
	require.NoError(t, err)
	assert.Equal(t, []string{"2026-0041-x.md front-matter"}, rules(n))
}

func TestWriteRefuses(t *testing.T) {
	dir := book(t, map[string]string{"notebook.yaml": "name: Y\n"})
	n, err := Load(dir)
	require.NoError(t, err)
	_, problems, err := n.Write(Draft{Case: casefile.Case{Title: "T", Device: casefile.Device{ID: "no-such"}, Opened: "2026-03-04"}})
	assert.True(t, errors.Is(err, ErrProblems))
	require.Len(t, problems, 1)
	assert.Equal(t, diagnostic.UnknownDevice, problems[0].Rule)
	_, _, err = n.Write(Draft{Case: casefile.Case{Title: "T", Device: casefile.Device{Kind: "lamp"}, Opened: "2026-02-30"}})
	assert.ErrorContains(t, err, "2026-02-30")
	entries, _ := filepath.Glob(filepath.Join(dir, "cases", "*", "*"))
	assert.Empty(t, entries)
}

func TestBegin(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new")
	written, err := Begin(dir, `Bench "7": #1`, false)
	require.NoError(t, err)
	assert.Len(t, written, 3)
	n, err := Load(dir)
	require.NoError(t, err)
	assert.Equal(t, `Bench "7": #1`, n.Config.Name)
	assert.Equal(t, []string{"new empty-notebook"}, rules(n))
	_, err = Begin(dir, "X", false)
	assert.ErrorIs(t, err, ErrNotEmpty)
	written, err = Begin(dir, "X", true)
	require.NoError(t, err)
	assert.Empty(t, written, "nothing that exists is overwritten")
	// One that was killed at its first file can be begun again.
	dir = filepath.Join(t.TempDir(), "killed")
	require.NoError(t, os.MkdirAll(dir, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, ".benchlore-tmp-ABC"), []byte("name: Y"), 0o644))
	_, err = Begin(dir, "Y", false)
	assert.NoError(t, err)
}

func TestSlug(t *testing.T) {
	for in, want := range map[string]string{"Gate lamp, dark!": "gate-lamp-dark", "Größe µ Ω": "groesse",
		"../../etc": "etc", "": "", "🙂": "", "--a--": "a"} {
		assert.Equal(t, want, casefile.Slug(in), in)
	}
	assert.LessOrEqual(t, len(casefile.Slug(strings.Repeat("word ", 100))), 70)
}

// TestDescribed: the name, and what kind of device it is unless the name says that.
func TestDescribed(t *testing.T) {
	v := terms.Builtin()
	assert.Equal(t, "W B1 (Amplifier)", (&Device{Kind: "amplifier", Maker: "W", Model: "B1"}).Described(v))
	assert.Equal(t, v.Name(terms.Kind, "lamp"), (&Device{Kind: "lamp"}).Described(v))
}
