package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const weighed = `package p

// Heavy says whether a parcel of this many kilograms needs two people.
func Heavy(kg float64) bool { return kg > 25 }
`

func TestMutantsOf(t *testing.T) {
	list, err := mutantsOf("p.go", []byte(weighed))
	require.NoError(t, err)
	var got []string
	for _, m := range list {
		got = append(got, m.was+" "+m.is)
	}
	assert.Equal(t, []string{"> >=", "25 26"}, got)
	_, err = mutantsOf("p.go", []byte("package"))
	assert.Error(t, err)
}

// TestTry: a test that looks on both sides of the border notices what one that looks
// far away does not, and text that does not compile is no change.
func TestTry(t *testing.T) {
	dir := t.TempDir()
	put := func(name, text string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	put("go.mod", "module p\n\ngo 1.26\n")
	put("p.go", weighed)
	list, err := mutants(dir)
	require.NoError(t, err)
	require.Len(t, list, 2)
	put("p_test.go", "package p\n\nimport \"testing\"\n\nfunc TestHeavy(t *testing.T) {\n\tif Heavy(5) || !Heavy(50) {\n\t\tt.Fail()\n\t}\n}\n")
	for _, m := range list {
		noticed, err := m.try(dir, "", "")
		require.NoError(t, err)
		assert.False(t, noticed, m.is)
	}
	put("p_test.go", "package p\n\nimport \"testing\"\n\nfunc TestHeavy(t *testing.T) {\n\tif Heavy(25) || !Heavy(25.5) {\n\t\tt.Fail()\n\t}\n}\n")
	for _, m := range list {
		noticed, err := m.try(dir, "", "")
		require.NoError(t, err)
		assert.True(t, noticed, m.is)
	}
	odd := list[0]
	odd.is = "without"
	_, err = odd.try(dir, "", "")
	assert.ErrorIs(t, err, errBuild)
	have, err := os.ReadFile(filepath.Join(dir, "p.go"))
	require.NoError(t, err)
	assert.Equal(t, weighed, string(have))
}
