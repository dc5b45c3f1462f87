package main

import (
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"
)

const parcels = `# Parcels of 25 kg, and what they need.
- {id: heavy, kg: 25, two: true, "also": [big, "it's", ünï, l'eau]}
- id: light
  needs:
    - "string, 3 m"
    - tape
`

// changesOf gives what each change makes of a file, by what it says of itself.
func changesOf(t *testing.T, name, src string, seed uint64) map[string]string {
	t.Helper()
	cells, err := cellsOf(name, []byte(src), rand.New(rand.NewPCG(seed, 0)))
	require.NoError(t, err)
	out := map[string]string{}
	for _, c := range cells {
		text, ok := c.text([]byte(src))
		require.True(t, ok)
		assert.Len(t, text, len(src), "%s %s", c.was, c.said)
		assert.Equal(t, strings.Count(src, "\n"), bytes.Count(text, []byte("\n")), "lines stay")
		if strings.HasSuffix(name, ".yaml") {
			assert.True(t, strings.HasPrefix(string(text), "# Parcels of "), c.said) // its end gives way to what is longer
		}
		out[short(c.was)+" "+c.said] = string(text)
	}
	return out
}

// TestCells: each sort of change, read back by a reader of YAML.
func TestCells(t *testing.T) {
	got := changesOf(t, "p.yaml", parcels, 1)
	read := func(key string) (list []map[string]any) {
		text, ok := got[key]
		require.True(t, ok, "%s is not among %v", key, got)
		require.NoError(t, yaml.Unmarshal([]byte(text), &list))
		return list
	}
	assert.Equal(t, []any{"big", "ünï", "l'eau"}, read(`"it's" was left out of its list`)[0]["also"])
	assert.Equal(t, []any{"big", "it's", "ünï"}, read(`l'eau was left out of its list`)[0]["also"])
	assert.Equal(t, []any{"string, 3 m"}, read(`tape was left out of its list`)[1]["needs"])
	assert.Equal(t, false, read("true became false")[0]["two"])
	assert.Equal(t, 250, read("25 became 250")[0]["kg"])
	assert.NotContains(t, read(`id: heavy was removed`)[0], "id")
	assert.Equal(t, []any{"string, 30 m", "tape"}, read(`"string, 3 m" became "string, 30 m"`)[1]["needs"])
	first := `{id: heavy, kg: 25, two: true, "also": [big, "it's", ünï, l'eau]} was removed`
	list := read(first)
	require.Len(t, list, 1)
	assert.Equal(t, "light", list[0]["id"])
	for key := range got {
		assert.NotContains(t, key, "Parcels", "comments stay")
	}
	assert.Equal(t, got, changesOf(t, "p.yaml", parcels, 1), "the same seed gives the same")
	assert.NotEqual(t, got, changesOf(t, "p.yaml", parcels, 2))
	_, err := cellsOf("p.yaml", []byte("[\n"), rand.New(rand.NewPCG(1, 0)))
	assert.ErrorContains(t, err, "p.yaml")
}

func TestCellsOfJSONAndTSV(t *testing.T) {
	got := changesOf(t, "p.json", "{\n  \"kg\": 25,\n  \"list\": [\n    \"0.5\",\n    \"b\"\n  ]\n}\n", 1)
	assert.Contains(t, got, `"0.5" became "5"`)
	assert.Contains(t, got[`"b" was left out of its list`], "\"0.5\"")
	assert.NotContains(t, got[`"b" was left out of its list`], ",\n   ")
	got = changesOf(t, "p.tsv", "# a 7\nx\t12\ny\t3\n", 1)
	assert.Equal(t, "# a 7\n#   \ny\t3\n", got["x 12 was removed"])
	for key := range got {
		assert.NotContains(t, key, "7")
	}
}

// TestTryData: in a program of tests that embeds a file, a change that a test looks at is
// noticed and another is named with its file and line.
func TestTryData(t *testing.T) {
	dir := t.TempDir()
	put := func(name, text string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	put("go.mod", "module p\n\ngo 1.26\n")
	put("p.yaml", "# kg\nheavy: 25\nhuge: true\n")
	put("p.go", "package p\n\nimport _ \"embed\"\n\n//go:embed p.yaml\nvar list string\n")
	put("p_test.go", "package p\n\nimport (\n\t\"strings\"\n\t\"testing\"\n)\n\nfunc TestHeavy(t *testing.T) {\n\tif !strings.Contains(list, \"heavy: 25\\n\") {\n\t\tt.Fail()\n\t}\n}\n")
	name := filepath.Join(dir, "p.yaml")
	var out strings.Builder
	lived, err := tryData(&out, []string{name}, []string{dir}, 0, 1, "", "")
	require.NoError(t, err)
	assert.True(t, lived)
	assert.Contains(t, out.String(), name+":3: true became false and no test noticed\n")
	assert.NotContains(t, out.String(), ":2:")
	assert.Contains(t, out.String(), "3 of 5 changes noticed, of 5 that could be tried")
	out.Reset()
	put("q.yaml", "free: [1]\n")
	put("r.yaml", "kept: true\n")
	put("p.go", "package p\n\nimport _ \"embed\"\n\n//go:embed p.yaml\nvar list string\n\n//go:embed q.yaml\nvar free string\n\n//go:embed r.yaml\nvar kept string\n")
	put("q_test.go", "package p\n\nimport \"testing\"\n\nfunc TestKept(t *testing.T) {\n\tif kept != \"kept: true\\n\" || free == \"\" {\n\t\tt.Fail()\n\t}\n}\n")
	_, err = tryData(&out, []string{filepath.Join(dir, "r.yaml"), filepath.Join(dir, "q.yaml")}, []string{dir}, 0, 1, "", "")
	require.NoError(t, err)
	assert.Regexp(t, `r.yaml: (\d) of (\d) changes noticed`, out.String())
	assert.Contains(t, out.String(), "q.yaml: 0 of ", "what was changed in one file is put back before the next")
	out.Reset()
	require.NoError(t, os.Remove(filepath.Join(dir, "q_test.go")))
	_, err = tryData(&out, []string{name}, []string{dir}, 0, 1, "", "TestHeavy")
	require.NoError(t, err)
	assert.Contains(t, out.String(), "0 of 5 changes noticed")
	_, err = tryData(&out, []string{filepath.Join(dir, "go.mod")}, []string{dir}, 0, 1, "", "")
	assert.ErrorContains(t, err, "embedded in no test")
	put("p_test.go", "package p\n\nimport \"testing\"\n\nfunc TestHeavy(t *testing.T) { t.Fail() }\n")
	_, err = tryData(&out, []string{name}, []string{dir}, 0, 1, "", "")
	assert.ErrorContains(t, err, "fail without a change")
	_, err = dataFiles(filepath.Join(dir, "*.tsv"))
	assert.ErrorContains(t, err, "no such file")
}
