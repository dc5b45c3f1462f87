// Command nearness learns from open texts which words stand near one another in
// meaning, and writes them as the data of package nearness. It is run by hand:
//
//	go run ./cmd/nearness --texts english-problems.csv --vocabulary cmd/nearness/vocabulary.txt --out build/reason/nearness/words.txt
//
// The words are those of the vocabulary, stemmed, one a line, which people chose; what a
// dictionary would add is printed for them with --dictionary instead of --out.
//
// A word's vector comes from the words around it: co-occurrence within [window]
// words, each pair weighted by one over the square root of its distance, as positive
// pointwise mutual information with contexts raised to 0.75 (Levy, Goldberg & Dagan
// 2015), and the first [dims] singular vectors, each scaled by the square root of its
// value, by random projection with power iterations (Halko, Martinsson & Tropp 2011).
//
// Words of a dictionary in lower case, and abbreviations of the trade, are offered for the
// vocabulary: those of which people write more than [mostCapital] with a capital letter
// inside a sentence are taken for names, and whoever chooses leaves out the others.
package main

import (
	"encoding/base64"
	"encoding/csv"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"gonum.org/v1/gonum/mat"

	"benchlore/build/reason/search"
	"benchlore/schema/language"
)

const (
	dims        = 64
	window      = 8
	fewest      = 5 // texts that a word stands in
	mostCapital = 0.35
	smoothing   = 0.75
	iterations  = 6
)

// trade are abbreviations that no dictionary has in lower case.
const trade = "usb led lcd cd dvd hdmi pcb rcd wifi psu hdd ssd ram cpu gpu bios os tv pc ac dc dab fm am aux mp3 cctv crt vcr uv ir diy app apps pdf email offline sd sim hd tft " +
	"doesnt didnt dont couldnt wasnt wouldnt wont cant isnt hasnt resoldered resolder desoldered unsoldered multimeter bluetooth descaling descaled descale hairdryer micro ok"

func main() {
	texts := flag.String("texts", "", "CSV with a column named problem")
	vocabulary := flag.String("vocabulary", "cmd/nearness/vocabulary.txt", "the stemmed words, one a line")
	dictionary := flag.String("dictionary", "", "a list of words, one a line: print those that could join the vocabulary")
	out := flag.String("out", "", "the file to write")
	flag.Parse()
	if err := run(*texts, *vocabulary, *dictionary, *out); err != nil {
		fmt.Fprintln(os.Stderr, "nearness:", err)
		os.Exit(1)
	}
}

func lines(path string) (map[string]bool, error) {
	set := map[string]bool{}
	if path == "" {
		return set, nil
	}
	data, err := os.ReadFile(path)
	for _, l := range strings.Fields(string(data)) {
		set[l] = true
	}
	return set, err
}

func problems(path string) ([]string, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return nil, err
	}
	at := slices.Index(rows[0], "problem")
	if at < 0 {
		return nil, fmt.Errorf("%s has no column problem", path)
	}
	var out []string
	for _, r := range rows[1:] {
		out = append(out, r[at])
	}
	return out, nil
}

// counts are what is known of a stem.
type counts struct {
	texts           int
	forms           map[string]int
	inside, capital int // inside a sentence, and with a capital there
}

var begins = regexp.MustCompile(`(?:^|[.!?:;~\n-]\s*|["(]\s*)$`)

func run(texts, vocabulary, dictionary, out string) error {
	all, err := problems(texts)
	if err != nil {
		return err
	}
	known, err := lines(dictionary)
	if err != nil {
		return err
	}
	chosen, err := lines(vocabulary)
	if err != nil {
		return err
	}
	for _, w := range strings.Fields(trade) {
		known[w] = true
	}
	english := language.Of(language.English)
	stems := map[string]*counts{}
	documents := make([][]string, len(all))
	for i, text := range all {
		seen := map[string]bool{}
		for _, t := range search.Analyze(english, text) {
			written := text[t.Start:t.Stop]
			documents[i] = append(documents[i], t.Term)
			c := stems[t.Term]
			if c == nil {
				c = &counts{forms: map[string]int{}}
				stems[t.Term] = c
			}
			form := strings.ReplaceAll(strings.ReplaceAll(strings.ToLower(written), "'", ""), "’", "")
			c.forms[form]++
			if !seen[t.Term] {
				seen[t.Term] = true
				c.texts++
			}
			if begins.MatchString(text[:t.Start]) || written == strings.ToUpper(written) && len(written) > 1 {
				continue
			}
			c.inside++
			if unicode.IsUpper([]rune(written)[0]) {
				c.capital++
			}
		}
	}
	var words, offered []string
	for w, c := range stems {
		if chosen[w] {
			words = append(words, w)
			continue
		}
		if dictionary == "" || c.texts < fewest || strings.ContainsFunc(w, unicode.IsDigit) {
			continue
		}
		usual, most := "", 0
		for f, n := range c.forms {
			if n > most || n == most && f < usual {
				usual, most = f, n
			}
		}
		share := float64(c.capital) / math.Max(float64(c.inside), 1)
		if known[usual] && (slices.Contains(strings.Fields(trade), usual) || share <= mostCapital) {
			offered = append(offered, fmt.Sprintf("%s (%s) %.2f %d", w, usual, share, c.texts))
		}
	}
	slices.Sort(offered)
	for _, o := range offered {
		fmt.Println(o)
	}
	slices.Sort(words)
	fmt.Fprintf(os.Stderr, "%d texts, %d words kept of %d\n", len(all), len(words), len(stems))
	if out == "" {
		return nil
	}
	vectors := decompose(cooccurrence(documents, words), len(words))
	var b strings.Builder
	b.WriteString("# Words that stand near one another in texts of open repair records, each with a vector of 64 signed\n" +
		"# bytes. Learned by cmd/nearness from problem texts in English of the Open Repair Alliance's data, which is\n" +
		"# licensed CC BY-SA 4.0; so is this file. Only counts were taken, no sentence.\n")
	for i, w := range words {
		b.WriteString(w + " " + base64.StdEncoding.EncodeToString(vectors[i]) + "\n")
	}
	return os.WriteFile(out, []byte(b.String()), 0o644)
}

// entry is a place of a sparse matrix with its value.
type entry struct {
	column int
	value  float64
}

// cooccurrence gives positive pointwise mutual information, row by row.
func cooccurrence(documents [][]string, words []string) [][]entry {
	id := map[string]int{}
	for i, w := range words {
		id[w] = i
	}
	together := make([]map[int]float64, len(words))
	for i := range together {
		together[i] = map[int]float64{}
	}
	sums := make([]float64, len(words))
	for _, d := range documents {
		var ids []int
		for _, w := range d {
			if i, ok := id[w]; ok {
				ids = append(ids, i)
			}
		}
		for i, a := range ids {
			for j := i + 1; j < min(len(ids), i+window); j++ {
				b := ids[j]
				if a == b {
					continue
				}
				x := 1 / math.Sqrt(float64(j-i))
				together[a][b] += x
				together[b][a] += x
				sums[a] += x
				sums[b] += x
			}
		}
	}
	contexts := 0.0
	for _, s := range sums {
		contexts += math.Pow(s, smoothing)
	}
	rows := make([][]entry, len(words))
	for i, row := range together {
		for j, x := range row {
			if pmi := math.Log(x * contexts / (sums[i] * math.Pow(sums[j], smoothing))); pmi > 0 {
				rows[i] = append(rows[i], entry{j, pmi})
			}
		}
		slices.SortFunc(rows[i], func(a, b entry) int { return a.column - b.column })
	}
	return rows
}

// times multiplies the sparse matrix, or its transpose, with a dense one.
func times(rows [][]entry, x *mat.Dense, transposed bool) *mat.Dense {
	n, k := x.Dims()
	out := mat.NewDense(n, k, nil)
	for i, row := range rows {
		for _, e := range row {
			to, from := i, e.column
			if transposed {
				to, from = from, to
			}
			a, b := out.RawRowView(to), x.RawRowView(from)
			for c := range a {
				a[c] += e.value * b[c]
			}
		}
	}
	return out
}

func orthonormal(x *mat.Dense) *mat.Dense {
	n, k := x.Dims()
	var qr mat.QR
	qr.Factorize(x)
	var q mat.Dense
	qr.QTo(&q)
	return mat.DenseCopyOf(q.Slice(0, n, 0, k))
}

// decompose gives each word its row of U times the square root of the singular
// values, as signed bytes of one length.
func decompose(rows [][]entry, n int) [][]byte {
	const more = 16
	r := rand.New(rand.NewPCG(1, 2))
	x := mat.NewDense(n, dims+more, nil)
	for i := range n {
		for j := range dims + more {
			x.Set(i, j, r.NormFloat64())
		}
	}
	q := orthonormal(times(rows, x, false))
	for range iterations {
		q = orthonormal(times(rows, orthonormal(times(rows, q, true)), false))
	}
	small := times(rows, q, true).T() // q' A, whose left singular vectors are those of A seen from q
	var svd mat.SVD
	svd.Factorize(small, mat.SVDThin)
	var u mat.Dense
	svd.UTo(&u)
	var left mat.Dense
	left.Mul(q, &u)
	values := svd.Values(nil)
	out := make([][]byte, n)
	for i := range n {
		row, length := make([]float64, dims), 0.0
		for j := range dims {
			row[j] = left.At(i, j) * math.Sqrt(values[j])
			length += row[j] * row[j]
		}
		out[i] = make([]byte, dims)
		for j := range dims {
			if length > 0 {
				out[i][j] = byte(int8(math.Round(max(-127, min(127, 254*row[j]/math.Sqrt(length))))))
			}
		}
	}
	return out
}
