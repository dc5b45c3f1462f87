package main

import (
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
			"{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}}\t{{.Dir}}{{end}}{{end}}", ".")
		c.Env = append(os.Environ(), "GOOS="+system, "CGO_ENABLED=0")
		out, err := c.Output()
		require.NoError(t, err, system)
		for line := range strings.Lines(string(out)) {
			if name, dir, ok := strings.Cut(strings.TrimSpace(line), "\t"); ok {
				modules[name] = dir
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
			!strings.HasPrefix(name, "NOTICE") && !strings.HasPrefix(name, "UNLICENSE") {
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
}
