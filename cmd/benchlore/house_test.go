package main

import (
	"encoding/json"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/casefile"
)

// These tests hold how the project is built, not what it does: which package may stand on
// which, what may lie at the top level, that every package is in the map of DEVELOPERS.md,
// and what no text of it may say.

// ground is what every package of build and cmd may stand on.
var ground = []string{"build/disk", "build/parallel"}

// mayImport says which of our packages a package may stand on. Arrows point
// down only: cmd, then build, then schema; theme and cases hold content.
var mayImport = map[string][]string{
	"schema/diagnostic":     {},
	"schema/quantity":       {},
	"schema/privacy":        {},
	"schema/language":       {},
	"schema/filename":       {},
	"schema/sources":        {},
	"schema/terms":          {"schema/diagnostic", "schema/language"},
	"schema":                {"schema/diagnostic", "schema/terms"},
	"schema/board":          {"schema/diagnostic", "schema/quantity", "schema/terms"},
	"schema/casefile":       {"schema", "schema/diagnostic", "schema/filename", "schema/privacy", "schema/quantity", "schema/terms"},
	"theme":                 {},
	"cases":                 {},
	"build/disk":            {},
	"build/parallel":        {},
	"build/notebook":        {"schema/quantity", "schema", "schema/filename", "schema/board", "schema/casefile", "schema/diagnostic", "schema/terms"},
	"build/reason/maxent":   {},
	"build/reason/method":   {"schema/terms"},
	"build/reason/nearness": {},
	"build/reason/search": {"build/reason/nearness", "build/notebook", "schema/casefile", "schema/diagnostic",
		"schema/language", "schema/terms"},
	"build/reason/similar": {"build/reason/verdict", "build/notebook", "build/reason/search",
		"build/output/wording", "schema/casefile", "schema/quantity", "schema/terms"},
	"build/reason/triage": {"build/reason/hazard", "build/reason/maxent", "build/reason/method",
		"build/reason/nearness", "build/notebook", "build/reason/search", "schema/casefile", "schema/language", "schema/terms"},
	"build/reason/figures": {"build/notebook", "build/reason/triage", "schema/terms"},
	"build/output/exchange": {"build/reason/verdict", "build/notebook", "schema/casefile", "schema/filename", "schema/privacy",
		"schema/quantity", "schema/terms"},
	"build/reason/verdict": {"build/reason/hazard", "build/notebook", "schema/board", "schema/casefile",
		"schema/diagnostic", "schema/quantity", "schema/terms"},
	"build/reason/boards": {"build/reason/hazard", "build/reason/verdict", "build/reason/registration", "build/notebook",
		"build/output/picture", "schema/board", "schema/casefile", "schema/diagnostic", "schema/terms"},
	"build/reason/registration": {},
	"build/reason/rules":        {"build/notebook", "build/reason/boards", "build/reason/method", "build/reason/verdict", "schema/casefile", "schema/diagnostic"},
	"build/reason/pins": {"build/reason/boards", "build/reason/triage", "build/reason/verdict", "build/notebook", "schema/board",
		"schema/casefile", "schema/quantity"},
	"build/reason/rails":     {"build/notebook", "schema/board", "schema/casefile", "schema/quantity"},
	"build/output/outfile":   {"build/disk"},
	"build/output/label":     {"build/notebook", "build/reason/hazard", "schema/casefile", "schema/quantity", "schema/terms"},
	"build/output/picture":   {},
	"build/testkit/browser":  {},
	"build/testkit/hostile":  {},
	"build/testkit/long":     {},
	"build/output/wording":   {"theme", "schema/quantity"},
	"build/testkit/workshop": {"build/notebook", "cases"},
	"build/learn/firstweeks": {"build/reason/verdict", "build/notebook", "build/learn/practice", "schema/quantity", "schema/terms"},
	"build/reason/hazard":    {"build/notebook", "schema/casefile", "schema/terms"},
	"build/learn/practice": {"build/reason/hazard", "build/reason/verdict", "build/notebook", "build/reason/triage",
		"schema/casefile", "schema/quantity", "schema/terms"},
	"build/output/threeway": {"schema/casefile"},
	"build/output/pack": {"build/output/threeway", "build/reason/rules", "build/notebook", "build/output/picture", "schema/casefile",
		"schema/diagnostic", "schema/filename", "schema/terms"},
	"build/write/meter": {"schema/quantity"},
	"build/write/editor": {"build/reason/rules", "build/write/meter", "build/reason/hazard", "build/reason/boards", "build/reason/pins", "build/reason/verdict", "schema/board", "build/output/label",
		"build/reason/method", "build/notebook", "build/output/picture", "build/reason/similar", "build/output/site",
		"build/reason/triage", "build/output/wording", "schema/casefile", "schema/diagnostic", "schema/filename", "schema/quantity",
		"schema/terms", "theme"},
	"build/output/site": {"build/reason/hazard", "build/reason/boards", "build/reason/pins", "build/reason/rails", "build/output/exchange",
		"build/reason/figures", "build/learn/firstweeks", "build/reason/verdict", "build/reason/method",
		"build/notebook", "build/output/picture", "build/learn/practice", "build/reason/search",
		"build/reason/similar", "build/reason/triage", "build/output/wording", "schema", "schema/board",
		"schema/casefile", "schema/diagnostic",
		"schema/quantity", "schema/sources", "schema/terms", "theme"},
	"build/write/erase":     {"build/write/editor", "build/notebook", "schema/casefile", "schema/diagnostic", "schema/terms"},
	"build/write/interview": {"build/notebook", "schema/casefile", "schema/diagnostic", "schema/terms"},
	"build/doctor": {"build/reason/rules", "build/reason/boards", "build/output/picture", "build/reason/verdict", "build/notebook",
		"build/learn/practice", "build/reason/search", "build/output/wording", "schema/casefile", "schema/diagnostic", "schema/language"},
	"cmd/boardpicture": {"schema/board", "schema/diagnostic"},
	"cmd/mutate":       {},
	"cmd/release":      {},
	"cmd/derive":       {"build/disk", "schema/sources"},
	"cmd/nearness":     {"build/reason/search", "schema/language"},
	"cmd/likelykind":   {"build/reason/maxent", "schema/terms"},
	"cmd/benchlore": {"build/reason/rules", "build/write/editor", "build/write/erase", "build/output/outfile", "build/disk", "build/write/meter", "build/reason/hazard", "build/reason/boards", "build/reason/pins", "build/reason/rails", "build/doctor",
		"build/output/exchange", "build/reason/figures", "build/write/interview", "build/reason/verdict",
		"build/output/label", "build/reason/method", "build/notebook", "build/output/pack", "build/learn/practice",
		"build/reason/search", "build/reason/similar", "build/output/site", "build/reason/triage",
		"build/output/wording", "cases", "schema/board", "schema/casefile", "schema/quantity",
		"schema/diagnostic", "schema/sources", "schema/terms"},
}

func TestImportsPointDown(t *testing.T) {
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports,Doc", "benchlore/...").Output()
	require.NoError(t, err)
	dec := json.NewDecoder(strings.NewReader(string(out)))
	seen := 0
	for dec.More() {
		var p struct {
			ImportPath, Doc string
			Imports         []string
		}
		require.NoError(t, dec.Decode(&p))
		name := strings.TrimPrefix(p.ImportPath, "benchlore/")
		allowed, known := mayImport[name]
		assert.True(t, known, "%s is not in the plan of the house", name)
		assert.NotEmpty(t, p.Doc, "%s has no package comment", name)
		assert.NotContains(t, []string{"util", "utils", "common", "helpers", "misc"}, filepath.Base(name))
		for _, i := range p.Imports {
			if ours, ok := strings.CutPrefix(i, "benchlore/"); ok {
				free := slices.Contains(ground, ours) && !strings.HasPrefix(name, "schema")
				assert.True(t, free || slices.Contains(allowed, ours), "%s must not import %s", name, ours)
			}
		}
		seen++
	}
	assert.Equal(t, len(mayImport), seen)
}

// TestFilesAreReadInOnePlace: what builds reads files through build/disk, which waits for
// no pipe and reads no more than it was told.
func TestFilesAreReadInOnePlace(t *testing.T) {
	own := regexp.MustCompile(`\bos\.(?:Open|ReadFile)\(|\b(?:root|in)\.(?:Open|ReadFile)\(|fs\.(?:ReadDir|Glob)\((?:\w+\.)?root`)
	looked := 0
	require.NoError(t, filepath.WalkDir(filepath.Join("..", "..", "build"), func(path string, e fs.DirEntry, err error) error {
		in := filepath.ToSlash(path)
		if err != nil || e.IsDir() || !strings.HasSuffix(in, ".go") || strings.HasSuffix(in, "_test.go") ||
			strings.Contains(in, "/disk/") || strings.Contains(in, "/testkit/") {
			return err
		}
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		looked++
		for i, line := range strings.Split(string(text), "\n") {
			assert.False(t, own.MatchString(line), "%s:%d: %s", in, i+1, strings.TrimSpace(line))
		}
		return nil
	}))
	assert.Greater(t, looked, 100)
}

// TestWritesGoThroughTheGate: what changes files of a notebook takes its turn, by
// [disk.Folder.Change], RemoveIf or Enter. Files are named in which a plain write is what
// is derived, a folder that is nobody's yet, or stands within the gate already.
func TestWritesGoThroughTheGate(t *testing.T) {
	plain := regexp.MustCompile(`(?:disk\.Folder\([^()]*\)|\bfolder(?:\(\))?)\.(?:Write|Rename|Exchange)\(`)
	may := []string{"reason/search/search.go", "reason/search/shards.go", "reason/triage/words.go", "reason/triage/kept.go",
		"output/site/cache.go", "output/site/known.go", "output/site/publish.go", // derived
		"write/editor/store.go", "write/editor/open.go", "write/editor/pictures.go", "write/interview/draft.go", "write/erase/change.go"} // within the gate
	looked := 0
	for _, top := range []string{filepath.Join("..", "..", "build"), "."} {
		require.NoError(t, filepath.WalkDir(top, func(path string, e fs.DirEntry, err error) error {
			in := filepath.ToSlash(path)
			if err != nil || e.IsDir() || !strings.HasSuffix(in, ".go") || strings.HasSuffix(in, "_test.go") || strings.Contains(in, "/disk/") ||
				slices.ContainsFunc(may, func(name string) bool { return strings.HasSuffix(in, "build/"+name) }) {
				return err
			}
			text, err := os.ReadFile(path)
			require.NoError(t, err)
			looked++
			for i, line := range strings.Split(string(text), "\n") {
				assert.False(t, plain.MatchString(line), "%s:%d: %s", in, i+1, strings.TrimSpace(line))
			}
			return nil
		}))
	}
	assert.Greater(t, looked, 100)
}

// TestTopLevel: nothing else stands at the root.
func TestTopLevel(t *testing.T) {
	known := []string{"go.mod", "go.sum", "cmd", "cases", "schema", "build", "theme", "testdata", "README.md", "DEVELOPERS.md"}
	kept := exec.Command("git", "ls-files") // what people made while trying it out is theirs
	kept.Dir = filepath.Join("..", "..")
	out, err := kept.Output()
	if err != nil {
		t.Skip("not a checkout of git, so nothing says which files are the project's")
	}
	require.NotEmpty(t, out)
	for line := range strings.Lines(string(out)) {
		name, _, _ := strings.Cut(strings.TrimSpace(line), "/")
		assert.True(t, strings.HasPrefix(name, ".") || slices.Contains(known, name), name)
	}
}

// TestDevelopersNamesEveryPackage keeps the map of the house complete.
func TestDevelopersNamesEveryPackage(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "DEVELOPERS.md"))
	require.NoError(t, err)
	for name := range mayImport {
		assert.Contains(t, string(text), "`"+name+"`")
	}
}

// TestSecurityIsHeld: each promise of the README names tests that are there, in the
// package that it says, and the limits stand there as the code has them.
func TestSecurityIsHeld(t *testing.T) {
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	require.NoError(t, err)
	assert.Contains(t, string(readme), casefile.Limits())
	_, table, _ := strings.Cut(string(readme), "| promise | held by |")
	table, _, _ = strings.Cut(table, "\n\n")
	row := regexp.MustCompile("((?:`(?:Test|Fuzz)\\w+`(?:, )?)+) \\(`([a-z/]+)`\\)")
	name := regexp.MustCompile(`\w+`)
	named := 0
	for _, line := range strings.Split(strings.TrimSpace(table), "\n")[1:] {
		found := row.FindAllStringSubmatch(line, -1)
		assert.NotEmpty(t, found, line)
		for _, m := range found {
			files, err := filepath.Glob(filepath.Join("..", "..", filepath.FromSlash(m[2]), "*_test.go"))
			require.NoError(t, err)
			var source strings.Builder
			for _, f := range files {
				text, err := os.ReadFile(f)
				require.NoError(t, err)
				source.Write(text)
			}
			for _, test := range name.FindAllString(m[1], -1) {
				named++
				assert.Contains(t, source.String(), "func "+test+"(", "%s in %s", test, m[2])
			}
		}
	}
	assert.GreaterOrEqual(t, named, 10)
}
