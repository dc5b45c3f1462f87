package terms

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// said is a sentence with what it means.
type sentence struct {
	class string
	ids   []string
	text  string
}

func sentences(t testing.TB, name string) []sentence {
	t.Helper()
	src, err := os.ReadFile(filepath.Join("testdata", "said", name+".tsv"))
	require.NoError(t, err)
	var out []sentence
	for i, line := range strings.Split(strings.TrimSpace(string(src)), "\n") {
		if strings.HasPrefix(line, "#") {
			continue
		}
		parts := strings.Split(line, "\t")
		require.Len(t, parts, 3, "%s.tsv, line %d", name, i+1)
		out = append(out, sentence{parts[0], strings.Split(parts[1], "|"), parts[2]})
	}
	require.NotEmpty(t, out)
	return out
}

// TestSaidBlind: what people say, in sentences that were written by a hand that had not
// seen the lexicon and before any answer was looked at, is understood.
func TestSaidBlind(t *testing.T) {
	for _, tag := range Reading {
		v := In(tag)
		right, all := map[string]int{}, map[string]int{}
		for _, s := range sentences(t, tag) {
			class := Class(s.class)
			if s.class == "none" {
				class = Danger
			}
			var got []string
			found, _ := v.read(s.text)
			for _, m := range found {
				if m.Class == class && m.Said() && !slices.Contains(got, m.ID) {
					got = append(got, m.ID)
				}
			}
			ok := false
			switch s.class {
			case "none":
				ok = len(got) == 0
			case "kinds":
				ok = len(got) > 0 && slices.Contains(s.ids, got[0])
			default:
				ok = slices.ContainsFunc(got, func(id string) bool { return slices.Contains(s.ids, id) })
			}
			if s.class == "dangers" {
				all["stop"]++
				if len(got) > 0 {
					right["stop"]++
				}
			}
			all[s.class]++
			if ok {
				right[s.class]++
			} else {
				t.Logf("%s %s: %q means %v, read as %v", tag, s.class, s.text, s.ids, got)
			}
		}
		for class, least := range map[string]float64{"kinds": 0.95, "faults": 0.95, "dangers": 0.95, "stop": 0.97, "none": 0.92, "symptoms": 0.85} {
			t.Logf("%s %s: %d of %d", tag, class, right[class], all[class])
			assert.GreaterOrEqual(t, float64(right[class])/float64(all[class]), least, "%s %s", tag, class)
		}
	}
}
