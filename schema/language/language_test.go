package language

import (
	"cmp"
	"flag"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"
)

var update = flag.Bool("update", false, "ask the stemmers for their endings anew and write endings.yaml; takes a minute")

// letters and roots are what a stemmer is asked with.
const (
	latin         = "abcdefghijklmnopqrstuvwxyzäöüßåøæéèêëàâáãíìîóòôõúùûñçışțşţăőűčćšžđąęłńśźż"
	cyrillic      = "абвгдежзийклмнопрстуфхцчшщъыьэюяё"
	longestEnding = 5   // letters
	most          = 250 // endings of a language
)

func rootsOf(l *Language) (letters []string, roots []string) {
	alphabet, candidates := latin, []string{"kontrollimar", "elektromontad", "transistoblik", "kondensatobl"}
	if l.Tag == "ru" {
		alphabet, candidates = cyrillic, []string{"контролимар", "электромонтад", "транзистоблик"}
	}
	for _, r := range candidates {
		for range 5 { // until the stemmer leaves it alone
			r = l.Stem(r)
		}
		if l.Stem(r) == r && len([]rune(r)) > 6 {
			roots = append(roots, r)
		}
	}
	return strings.Split(alphabet, ""), roots
}

func taken(l *Language, roots []string, ending string) bool {
	n := 0
	for _, r := range roots {
		if l.Stem(r+ending) == r {
			n++
		}
	}
	return 2*n > len(roots)
}

// probe asks the stemmer for its endings and for the letters that it replaces.
func probe(l *Language) rest {
	out := rest{Folds: map[string]string{}}
	letters, roots := rootsOf(l)
	found := map[string]bool{}
	var short []string
	for _, a := range letters {
		short = append(short, a)
		for _, b := range letters {
			short = append(short, a+b)
			for _, c := range letters {
				short = append(short, a+b+c)
			}
		}
	}
	var last []string
	for _, e := range short {
		if taken(l, roots, e) {
			found[e] = true
			last = append(last, e)
		}
	}
	for n := 4; n <= longestEnding; n++ {
		var next []string
		for _, e := range last {
			if len([]rune(e)) != n-1 {
				continue
			}
			for _, a := range letters {
				if !found[a+e] && taken(l, roots, a+e) {
					found[a+e] = true
					next = append(next, a+e)
				}
			}
		}
		last = next
	}
	list := slices.SortedFunc(maps.Keys(found), func(a, b string) int {
		return cmp.Or(cmp.Compare(len([]rune(a)), len([]rune(b))), strings.Compare(a, b))
	})
	out.Endings = strings.Join(list[:min(most, len(list))], " ")
	for _, a := range letters {
		if len(a) > 1 {
			if folded, ok := fold(l, roots[0], a); ok {
				out.Folds[a] = folded
			}
		}
	}
	return out
}

// fold is what the stemmer makes of a letter in the middle of a root.
func fold(l *Language, root, letter string) (string, bool) {
	half := len([]rune(root)) / 2
	before, after := string([]rune(root)[:half]), string([]rune(root)[half:])
	middle, ok := strings.CutPrefix(l.Stem(before+letter+after), before)
	middle, ok2 := strings.CutSuffix(middle, after)
	return middle, ok && ok2 && middle != letter && middle != "" && l.Tag != "ru"
}

// TestEndings: every ending that is written down is one that the stemmer takes off,
// and every letter one that it replaces.
func TestEndings(t *testing.T) {
	if *update {
		all := map[string]rest{}
		for _, tag := range Tags() {
			if !slices.Contains([]string{"en", "ar", "fa", "ckb", "hi", "pl"},
				tag) { // pages have the first; the others have other scripts, or learned tables
				all[tag] = probe(Of(tag))
			}
		}
		data, err := yaml.Marshal(all)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile("endings.yaml",
			append([]byte("# What stemmers take off long words and which letters they replace, found by\n# asking them: go test ./schema/language -update\n"), data...), 0o644))
		t.Skip("written; build again")
	}
	for tag, r := range rests() {
		l := Of(tag)
		_, roots := rootsOf(l)
		require.NotEmpty(t, strings.Fields(r.Endings), tag)
		for _, e := range strings.Fields(r.Endings) {
			assert.True(t, taken(l, roots, e), "%s: %s", tag, e)
		}
		for letter, to := range r.Folds {
			folded, ok := fold(l, roots[0], letter)
			assert.True(t, ok && folded == to, "%s: %s", tag, letter)
		}
	}
}

// TestStems: words of the bench in several languages come to one stem, worked out by
// hand from the published algorithms (Snowball; light stemmers of J. Savoy).
func TestStems(t *testing.T) {
	for _, c := range []struct{ tag, one, other string }{
		{"en", "measured", "measuring"}, {"de", "kondensatoren", "kondensator"}, {"de-AT", "geräte", "gerät"},
		{"fr", "appareils", "appareil"},
		{"es", "cables", "cable"}, {"it", "motori", "motore"}, {"nl", "apparaten", "apparaat"},
		{"sv", "kontakten", "kontakt"}, {"da", "kontakten", "kontakt"},
		{"nb", "kontakten", "kontakt"}, {"pt", "cabos", "cabo"}, {"fi", "johdot", "johdon"},
		{"ru", "кабели", "кабель"}, {"hu", "kábelek", "kábel"},
	} {
		l := Of(c.tag)
		assert.Equal(t, l.Stem(c.one), l.Stem(c.other), c.tag)
	}
	assert.Equal(t, "xyzzys", Of("tlh").Stem("xyzzys"), "words of a language that is not known stay")
	assert.True(t, Of("de").Stops("und"))
	assert.False(t, Of("de").Stops("nicht"), "it turns a symptom round")
	assert.True(t, Of("de").Negates("nicht"))
}
