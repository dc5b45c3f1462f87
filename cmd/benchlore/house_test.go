package main

import (
	"encoding/json"
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

// mayImport says which of our packages a package may stand on. Arrows point
// down only: cmd, then build, then schema; theme and cases hold content.
var mayImport = map[string][]string{
	"schema/diagnostic": {},
	"schema/quantity":   {},
	"schema/privacy":    {},
	"schema/language":   {},
	"schema/terms":      {"schema/diagnostic", "schema/language"},
	"schema":            {"schema/diagnostic", "schema/terms"},
	"schema/board":      {"schema/diagnostic", "schema/quantity", "schema/terms"},
	"schema/casefile":   {"schema", "schema/diagnostic", "schema/privacy", "schema/quantity", "schema/terms"},
	"theme":             {},
	"cases":             {},
	"build/notebook":    {"schema", "schema/board", "schema/casefile", "schema/diagnostic", "schema/terms"},
	"build/maxent":      {},
	"build/method":      {"schema/terms"},
	"build/nearness":    {},
	"build/search":      {"build/nearness", "build/notebook", "schema/casefile", "schema/diagnostic", "schema/language", "schema/terms"},
	"build/similar":     {"build/judge", "build/notebook", "build/search", "build/wording", "schema/casefile", "schema/quantity", "schema/terms"},
	"build/triage":      {"build/caution", "build/maxent", "build/method", "build/nearness", "build/notebook", "build/search", "schema/casefile", "schema/language", "schema/terms"},
	"build/figures":     {"build/notebook", "build/triage", "schema/terms"},
	"build/exchange":    {"build/judge", "build/notebook", "schema/casefile", "schema/privacy", "schema/quantity", "schema/terms"},
	"build/judge":       {"build/caution", "build/notebook", "schema/board", "schema/casefile", "schema/diagnostic", "schema/quantity", "schema/terms"},
	"build/device":      {"build/caution", "build/judge", "build/notebook", "schema/board", "schema/casefile", "schema/terms"},
	"build/label":       {"build/notebook", "schema/casefile", "schema/quantity", "schema/terms"},
	"build/picture":     {},
	"build/browser":     {},
	"build/wording":     {"theme"},
	"build/workshop":    {"build/notebook", "cases"},
	"build/firstweeks":  {"build/judge", "build/notebook", "build/practice", "schema/quantity"},
	"build/caution":     {"build/notebook", "schema/casefile", "schema/terms"},
	"build/practice":    {"build/caution", "build/judge", "build/notebook", "build/triage", "schema/casefile", "schema/quantity", "schema/terms"},
	"build/pack":        {"build/judge", "build/notebook", "build/picture", "schema/casefile", "schema/diagnostic", "schema/terms"},
	"build/bench": {"build/caution", "build/device", "build/judge", "build/label", "build/method", "build/notebook", "build/picture", "build/similar", "build/site", "build/triage", "build/wording", "schema/casefile", "schema/diagnostic", "schema/quantity",
		"schema/terms", "theme"},
	"build/site": {"build/caution", "build/device", "build/exchange", "build/figures", "build/firstweeks", "build/judge", "build/method", "build/notebook", "build/picture", "build/practice", "build/search", "build/similar", "build/triage", "build/wording", "schema", "schema/board", "schema/casefile", "schema/diagnostic",
		"schema/quantity", "schema/terms", "theme"},
	"build/interview": {"build/notebook", "schema/casefile", "schema/diagnostic", "schema/terms"},
	"build/doctor":    {"build/judge", "build/notebook", "build/practice", "build/search", "build/wording", "schema/casefile", "schema/diagnostic", "schema/language"},
	"cmd/release":     {},
	"cmd/nearness":    {"build/search", "schema/language"},
	"cmd/benchlore": {"build/bench", "build/caution", "build/device", "build/doctor", "build/exchange", "build/figures", "build/interview", "build/judge", "build/label", "build/method", "build/notebook", "build/pack", "build/practice", "build/search", "build/similar", "build/site", "build/triage", "build/wording", "cases", "schema/board", "schema/casefile", "schema/quantity",
		"schema/diagnostic", "schema/terms"},
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
				assert.True(t, slices.Contains(allowed, ours), "%s must not import %s", name, ours)
			}
		}
		seen++
	}
	assert.Equal(t, len(mayImport), seen)
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
