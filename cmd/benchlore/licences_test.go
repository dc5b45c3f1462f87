package main

import (
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/licensecheck"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/sources"
)

// free are the licences (SPDX) of code that may be linked into a program and given away
// with no more than their text, OFL-1.1 for a font. What else turns up is looked at before it comes in.
var free = []string{"MIT", "BSD-2-Clause", "BSD-3-Clause", "Apache-2.0", "ISC", "Unlicense", "CC0-1.0", "Zlib",
	"0BSD", "BlueOak-1.0.0", "OFL-1.1"}

// TestNotices writes down the licences of every module that is built into the program on
// any system, and fails where one has none, or one that is not in [free].
func TestNotices(t *testing.T) {
	modules := map[string]string{} // path and version -> folder
	for _, system := range []string{"linux", "windows", "darwin"} {
		c := exec.Command("go", "list", "-deps", "-f",
			"{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}}\t{{.Dir}}\t{{$.Dir}}{{end}}{{end}}", ".")
		c.Env = append(os.Environ(), "GOOS="+system, "CGO_ENABLED=0")
		out, err := c.Output()
		require.NoError(t, err, system)
		for line := range strings.Lines(string(out)) {
			cells := strings.Split(strings.TrimSpace(line), "\t")
			if len(cells) != 3 {
				continue
			}
			modules[cells[0]] = cells[1]
			// A folder inside a module may have a licence of its own.
			for dir := cells[2]; dir != cells[1]; dir = filepath.Dir(dir) {
				if text, _ := licencesIn(t, dir); text != "" {
					modules[cells[0]+", "+filepath.ToSlash(dir[len(cells[1])+1:])] = dir
				}
			}
			// The fonts of labels have theirs in a folder beside them.
			if strings.Contains(filepath.ToSlash(cells[2]), "/font/gofont/") {
				modules["Go fonts, of "+cells[0]] = filepath.Join(filepath.Dir(cells[2]), "ttfs")
			}
		}
	}
	require.Greater(t, len(modules), 20)
	root, err := exec.Command("go", "env", "GOROOT").Output()
	require.NoError(t, err)
	modules["Go, its standard library"] = strings.TrimSpace(string(root))
	var b strings.Builder
	b.WriteString("benchlore is built with the code below. Each part stays under its own licence.\n")
	for _, name := range slices.Sorted(maps.Keys(modules)) {
		text, kinds := licencesIn(t, modules[name])
		assert.NotEmpty(t, text, "%s has no licence file", name)
		assert.NotEmpty(t, kinds, "the licence of %s is not known", name)
		for _, kind := range kinds {
			assert.Contains(t, free, kind, "%s is under %s", name, kind)
		}
		fmt.Fprintf(&b, "\n%s\n%s\n%s\n\n%s\n", strings.Repeat("=", 72), name, strings.Join(kinds, ", "), text)
	}
	fmt.Fprintf(&b, "\n%s\n%s\n", strings.Repeat("=", 72), sources.Notice())
	b.WriteString("Nothing from npm is built into the program or stands on its pages.\n")
	const file = "notices.txt"
	if *update {
		require.NoError(t, os.WriteFile(file, []byte(b.String()), 0o644))
	}
	have, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.True(t, b.String() == string(have), "notices.txt is out of date: go test ./cmd/benchlore -run Notices -update")
	if !*update { // the program under test was built before
		assert.True(t, string(have) == notices)
	}
}

// licencesIn gives the text of the licence files of a module, and which they are.
func licencesIn(t *testing.T, dir string) (text string, kinds []string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, e := range entries {
		name := strings.ToUpper(e.Name())
		if e.IsDir() || !strings.HasPrefix(name, "LICEN") && !strings.HasPrefix(name, "COPYING") &&
			!strings.HasPrefix(name, "NOTICE") && !strings.HasPrefix(name, "UNLICENSE") &&
			(name != "README" || filepath.Base(dir) != "ttfs") {
			continue
		}
		src, err := os.ReadFile(filepath.Join(dir, e.Name()))
		require.NoError(t, err)
		text += strings.TrimSpace(strings.ReplaceAll(string(src), "\r\n", "\n")) + "\n"
		for _, m := range licensecheck.Scan(src).Match {
			if !m.IsURL && !slices.Contains(kinds, m.ID) {
				kinds = append(kinds, m.ID)
			}
		}
	}
	return text, kinds
}

// TestLicencesCommand: the notices are printed.
func TestLicencesCommand(t *testing.T) {
	assert.Contains(t, notices, "github.com/yuin/goldmark")
	assert.Contains(t, notices, "Go, its standard library")
	assert.True(t, strings.Contains(notices, "Bigelow & Holmes"), "the fonts of labels")
	assert.True(t, strings.Contains(notices, sources.Notice()), "data of others")
}

// TestNothingOfNpmShips: what notices.txt says of npm.
func TestNothingOfNpmShips(t *testing.T) {
	src, err := os.ReadFile(filepath.Join("..", "..", ".ci", "package.json"))
	require.NoError(t, err)
	var p struct {
		Dependencies map[string]string `json:"dependencies"`
	}
	require.NoError(t, json.Unmarshal(src, &p))
	assert.Empty(t, p.Dependencies, "what ships is named in notices.txt")
}
