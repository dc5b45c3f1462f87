package terms

import (
	"fmt"
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

// understood gives what is read of a sentence, and whether it is what a person means by it.
func (s sentence) understood(v *Vocabulary) (got []string, ok bool) {
	class := Class(s.class)
	if s.class == "none" {
		class = Danger
	}
	found, _ := v.read(s.text)
	for _, m := range found {
		if m.Class == class && m.Said() && !slices.Contains(got, m.ID) {
			got = append(got, m.ID)
		}
	}
	switch s.class {
	case "none":
		return got, len(got) == 0
	case "kinds":
		return got, len(got) > 0 && slices.Contains(s.ids, got[0])
	default:
		return got, slices.ContainsFunc(got, func(id string) bool { return slices.Contains(s.ids, id) })
	}
}

// rates gives how many of the sentences of each class are understood, and how many there
// are; of dangers also, as stop, how many are read as any.
func rates(t *testing.T, tag, name string) (right, all map[string]int) {
	v := In(tag)
	right, all = map[string]int{}, map[string]int{}
	for _, s := range sentences(t, name) {
		got, ok := s.understood(v)
		if s.class == "dangers" {
			all["stop"]++
			if len(got) > 0 {
				right["stop"]++
			}
		}
		all[s.class]++
		if ok {
			right[s.class]++
		} else if !strings.HasSuffix(name, "-apart") {
			t.Logf("%s %s: %q means %v, read as %v", name, s.class, s.text, s.ids, got)
		}
	}
	return right, all
}

// TestSaidBlind: what people say is understood, in sentences written by hands that had not
// seen the lexicon, before any answer was looked at. By the first set the words were
// mended afterwards; nobody who wrote words has looked at the second, and what it says is
// what to expect of other people's sentences.
func TestSaidBlind(t *testing.T) {
	for suffix, least := range map[string]map[string]float64{
		"":       {"kinds": 0.95, "faults": 0.95, "dangers": 0.95, "stop": 0.97, "none": 0.92, "symptoms": 0.9},
		"-apart": {"kinds": 0.95, "faults": 0.85, "dangers": 0.93, "stop": 0.93, "none": 0.9, "symptoms": 0.78},
	} {
		for _, tag := range Reading {
			right, all := rates(t, tag, tag+suffix)
			for class, bar := range least {
				t.Logf("%s%s %s: %d of %d", tag, suffix, class, right[class], all[class])
				assert.GreaterOrEqual(t, float64(right[class])/float64(all[class]), bar, "%s%s %s", tag, suffix, class)
			}
		}
	}
}

// TestStopsByRecall: what must stop power does, and what only sounds alike does not, in
// sentences written blind for that alone. The halves that were kept apart were looked at by
// nobody who wrote words; their bars are what was reached, and the aim is 0.97 of what must
// stop and 0.92 of what must not.
func TestStopsByRecall(t *testing.T) {
	for _, tag := range []string{"en", "de", "fr"} {
		for suffix, least := range map[string][2]float64{"-stop": {0.97, 0.96}, "-stop2": {0.97, 0.96}, "-stop-apart": {0.88, 0.8}, "-stop2-apart": {0.86, 0.9}} {
			right, all := rates(t, tag, tag+suffix)
			t.Logf("%s%s: %d of %d stop, %d of the right class; %d of %d stop nobody", tag, suffix, right["stop"], all["stop"], right["dangers"], right["none"], all["none"])
			assert.GreaterOrEqual(t, float64(right["stop"])/float64(all["stop"]), least[0], tag+suffix)
			assert.GreaterOrEqual(t, float64(right["none"])/float64(all["none"]), least[1], tag+suffix)
		}
	}
}

// TestSaidStays: every sentence that is understood stays so, each by itself: a bar over all
// of them lets a word go that only one of them needs. The golden file has the numbers of
// those that are not understood, and no word of those that were kept apart; what a sentence
// means was said by who wrote it. One that is understood now goes out of it with -update.
func TestSaidStays(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("testdata", "said", "*.tsv"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	var b strings.Builder
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".tsv")
		tag, _, _ := strings.Cut(name, "-")
		for i, s := range sentences(t, name) {
			if _, ok := s.understood(In(tag)); !ok {
				fmt.Fprintf(&b, "%s %d %s\n", name, i+1, s.class)
			}
		}
	}
	golden := filepath.Join("testdata", "said-missed.golden")
	if *update {
		require.NoError(t, os.WriteFile(golden, []byte(b.String()), 0o644))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	assert.Equal(t, string(want), b.String(), "sentences, by number in their file, that are not understood")
}
