// Package nearness knows which English words of the trade mean nearly the same,
// learned from how people write about broken things.
//
// [Of] gives the words nearest to one, and [Vector] where a word stands. The data are
// counts from open repair records of the Open Repair Alliance (CC BY-SA 4.0), learned
// by the command nearness; see there for the method. Nearness is a guess: what it
// brings is always shown as such.
package nearness

import (
	"bytes"
	"cmp"
	_ "embed"
	"encoding/base64"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
)

// Dims is the length of a vector.
const Dims = 64

// Fewest is the share from which a word is near, and Most how many there are at most.
// Chosen by whether the first ten records found have the fault type of the record
// asked with, folds 1 to 4 of the typed laptop and vacuum records.
const (
	fewestTexts = 55 // hundredths
	mostWords   = 6
)

//go:embed words.txt
var source []byte

type table struct {
	words   []string // stemmed, sorted
	vectors [][]int8
	lengths []float64
}

var data = sync.OnceValue(func() *table {
	t := &table{}
	for line := range bytes.Lines(source) {
		word, text, ok := strings.Cut(strings.TrimSpace(string(line)), " ")
		if !ok || word == "#" {
			continue
		}
		raw, err := base64.StdEncoding.DecodeString(text)
		if err != nil || len(raw) != Dims {
			panic(fmt.Sprintf("nearness: %q has no vector", word)) // the data is ours
		}
		v, sum := make([]int8, Dims), 0
		for i, b := range raw {
			v[i] = int8(b)
			sum += int(v[i]) * int(v[i])
		}
		t.words, t.vectors, t.lengths = append(t.words, word), append(t.vectors, v), append(t.lengths, math.Sqrt(float64(sum)))
	}
	return t
})

func dot(a, b []int8) int {
	sum := 0
	for i := range a {
		sum += int(a[i]) * int(b[i])
	}
	return sum
}

// Near is a word with how near it is, in hundredths of the cosine.
type Near struct {
	Word  string
	Share int
}

// Of gives the words nearest to a stemmed word, the nearest first; none for a word
// that is not known.
func Of(word string) []Near {
	t := data()
	at, ok := slices.BinarySearch(t.words, word)
	if !ok || t.lengths[at] == 0 {
		return nil
	}
	var out []Near
	for i, v := range t.vectors {
		if i == at || t.lengths[i] == 0 {
			continue
		}
		// An integer and a root: the same on every machine, and so is its hundredth.
		if share := int(math.Round(100 * float64(dot(t.vectors[at], v)) / (t.lengths[at] * t.lengths[i]))); share >= fewestTexts {
			out = append(out, Near{t.words[i], share})
		}
	}
	slices.SortFunc(out, func(a, b Near) int { return cmp.Or(b.Share-a.Share, strings.Compare(a.Word, b.Word)) })
	return out[:min(mostWords, len(out))]
}

// Vector is where a stemmed word stands, nil for one that is not known.
func Vector(word string) []int8 {
	t := data()
	if at, ok := slices.BinarySearch(t.words, word); ok {
		return t.vectors[at]
	}
	return nil
}

// Lines are the words with their vectors in base 64, by lines.
func Lines() string {
	text := string(source)
	for strings.HasPrefix(text, "#") {
		_, text, _ = strings.Cut(text, "\n")
	}
	return strings.TrimSpace(text)
}

// Words lists the known words, stemmed and sorted.
func Words() []string { return slices.Clone(data().words) }
