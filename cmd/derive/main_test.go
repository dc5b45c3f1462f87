package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/sources"
)

// TestSumsAreSaid: what differs is named with both sums, and nothing is made from records
// that are not the listed ones unless asked to.
func TestSumsAreSaid(t *testing.T) {
	of := func(s string) string { h := sha256.Sum256([]byte(s)); return hex.EncodeToString(h[:]) }
	for name, x := range map[string]struct {
		in, made      string
		check, anyway bool
		wrong         bool
		says, left    string
	}{
		"as listed":              {"records", "words", false, false, false, "out.txt: as listed", "words"},
		"other records":          {"others", "words", false, false, true, "in.csv: differs, SHA-256 is " + of("others") + " and not " + of("records"), "old"},
		"other records, anyway":  {"others", "words", false, true, true, "in.csv: differs", "words"},
		"another result":         {"records", "changed", false, false, true, "out.txt: differs, SHA-256 is " + of("changed"), "changed"},
		"another result, looked": {"records", "changed", true, false, true, "out.txt: differs", "old"},
	} {
		t.Run(name, func(t *testing.T) {
			from, top := t.TempDir(), t.TempDir()
			require.NoError(t, os.WriteFile(filepath.Join(from, "in.csv"), []byte(x.in), 0o600))
			require.NoError(t, os.WriteFile(filepath.Join(top, "out.txt"), []byte("old"), 0o600))
			list := []sources.Source{{Inputs: []sources.Input{{File: "in.csv", SHA256: of("records")}},
				Derived: []sources.Derived{{File: "out.txt", SHA256: of("words"), Command: []string{"learn", "$IN/in.csv", "$OUT"}}, {File: "by-hand"}}}}
			var said bytes.Buffer
			err := run(&said, list, from, top, x.check, x.anyway, func(_ string, args []string) error {
				require.Equal(t, []string{"run", "learn", from + "/in.csv"}, args[:3])
				return os.WriteFile(args[3], []byte(x.made), 0o600)
			})
			assert.Equal(t, x.wrong, err != nil)
			assert.Contains(t, said.String(), x.says)
			left, err := os.ReadFile(filepath.Join(top, "out.txt"))
			require.NoError(t, err)
			assert.Equal(t, x.left, string(left))
		})
	}
}
