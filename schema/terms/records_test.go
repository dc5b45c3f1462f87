package terms

import (
	"encoding/csv"
	"hash/crc32"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Open repair records beside the checkout (data of the Open Repair Alliance, CC BY-SA
// 4.0). The lexicons were written with the records of seven parts in ten, by the CRC-32
// of the id; what is reported comes from the other three.
const recordsFolder = "../../../shared/ords"

type record struct{ category, text string }

// records are those of a file; kept says which parts: those that were kept apart, or
// those that words were learned from.
func records(t *testing.T, name string, kept bool) []record {
	t.Helper()
	f, err := os.Open(filepath.Join(recordsFolder, name))
	if os.IsNotExist(err) {
		t.Skip("the open repair records are not beside the checkout: " + recordsFolder)
	}
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	at := map[string]int{}
	for i, column := range rows[0] {
		at[column] = i
	}
	var out []record
	for _, r := range rows[1:] {
		if (crc32.ChecksumIEEE([]byte(r[at["id"]]))%10 >= 7) == kept {
			out = append(out, record{r[at["product_category"]], r[at["problem"]]})
		}
	}
	return out
}

// TestKindsOfRecords: where a text names a device, the record's category says which it
// should be; where it names none, a kind may be inferred.
func TestKindsOfRecords(t *testing.T) {
	names := map[int]string{}
	for _, k := range Builtin().All(Kind) {
		if k.Standard != "" {
			names[k.Category] = k.Standard
		}
	}
	kept := os.Getenv("BENCHLORE_LEARNED") == "" // set: the part that words were learned from
	for tag, file := range map[string]string{"en": "english-problems.csv", "de": "german-problems.csv"} {
		v := In(tag)
		said, saidRight, inferred, inferredRight := 0, 0, 0, 0
		list := records(t, file, kept)
		for _, r := range list {
			found := v.Read(r.text)
			if len(found) == 0 || found[0].Class != Kind || !found[0].Said() {
				continue
			}
			k, ok := v.Lookup(Kind, found[0].ID)
			require.True(t, ok, found[0].ID)
			right := names[k.Category] == r.category
			if found[0].Inferred > 0 {
				inferred++
				if right {
					inferredRight++
				}
				continue
			}
			said++
			if right {
				saidRight++
			} else if os.Getenv("BENCHLORE_WRONG") == tag {
				t.Logf("%s: %q is read as %s", r.category, r.text, k.ID)
			}
		}
		n, both := float64(len(list)), float64(said+inferred)
		t.Logf("%s: of %d texts a kind is said in %.3f, right in %.3f; inferred in %.3f, right in %.3f; both together %.3f, right in %.3f", tag, len(list),
			float64(said)/n, float64(saidRight)/float64(max(1, said)), float64(inferred)/n, float64(inferredRight)/float64(max(1, inferred)),
			both/n, float64(saidRight+inferredRight)/both)
		assert.Greater(t, float64(saidRight+inferredRight)/both, map[string]float64{"en": 0.69, "de": 0.66}[tag])
		assert.Greater(t, both/n, 0.2)
	}
}

// TestWordsOfRecords says how much of what people write is read as something: words that
// are part of a mention, of all that are no function words.
func TestWordsOfRecords(t *testing.T) {
	for tag, file := range map[string]string{"en": "english-problems.csv", "de": "german-problems.csv"} {
		v := In(tag)
		g := grammarOf(tag)
		read, all := 0, 0
		for _, r := range records(t, file, true) {
			if v.writtenIn(r.text) != tag {
				continue
			}
			found, _ := v.read(r.text)
			for _, w := range g.tokens(r.text) {
				if w.key == notKey || strings.ContainsAny(w.written, "0123456789") {
					continue
				}
				all++
				for _, m := range found {
					if w.start >= m.Start && w.stop <= m.Stop {
						read++
						break
					}
				}
			}
		}
		t.Logf("%s: %.3f of %d words are read as something", tag, float64(read)/float64(all), all)
		assert.Greater(t, float64(read)/float64(all), 0.4, tag)
	}
}
