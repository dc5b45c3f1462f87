package sources

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestDerivedIsAsRecorded: what a command makes is, byte for byte, what stands in the
// tree; what people made is there.
func TestDerivedIsAsRecorded(t *testing.T) {
	sum := regexp.MustCompile(`^[0-9a-f]{64}$`)
	for _, s := range All() {
		for _, field := range []string{s.Name, s.By, s.Home, s.Licence, s.Terms, s.Changed} {
			assert.NotEmpty(t, field, s.Name)
		}
		require.NotEmpty(t, s.Derived)
		for _, in := range s.Inputs {
			assert.Regexp(t, sum, in.SHA256, in.File)
		}
		for _, d := range s.Derived {
			assert.Equal(t, len(d.Command) > 0, d.SHA256 != "", d.File)
			path := filepath.Join("..", "..", filepath.FromSlash(d.File))
			if d.SHA256 == "" {
				_, err := os.Stat(path)
				assert.NoError(t, err)
				continue
			}
			data, err := os.ReadFile(path)
			require.NoError(t, err)
			have := sha256.Sum256(data)
			assert.Equal(t, d.SHA256, hex.EncodeToString(have[:]), "%s is not what sources.yaml records", d.File)
		}
	}
}

// TestWhatNamesTheAllianceIsListed: every file of data that says it comes from open repair
// records is in the list.
func TestWhatNamesTheAllianceIsListed(t *testing.T) {
	listed := func(path string) bool {
		for _, s := range All() {
			for _, d := range s.Derived {
				if ok, _ := filepath.Match(d.File+"*", path); ok || len(path) > len(d.File) && path[:len(d.File)+1] == d.File+"/" {
					return true
				}
			}
		}
		return false
	}
	found := 0
	for _, pattern := range []string{"schema/*/*.yaml", "schema/*/*/*.yaml", "schema/*/*/*/*.yaml", "schema/terms/data/*.gob", "build/*/*/*.txt", "build/*/*/*.yaml"} {
		files, err := filepath.Glob(filepath.Join("..", "..", filepath.FromSlash(pattern)))
		require.NoError(t, err)
		for _, f := range files {
			path := filepath.ToSlash(f)[len("../../"):]
			data, err := os.ReadFile(f)
			require.NoError(t, err)
			if path != "schema/sources/sources.yaml" && (filepath.Ext(path) == ".gob" || regexp.MustCompile(`Open Repair Alliance`).Match(data)) {
				found++
				assert.True(t, listed(path), "%s is not in sources.yaml", path)
			}
		}
	}
	assert.Greater(t, found, 40)
}
