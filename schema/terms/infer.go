package terms

import (
	"bytes"
	"encoding/gob"
	"fmt"
	"hash/fnv"
	"math"
	"path"
	"slices"
	"strings"
	"sync"
)

// Inference says which kind of device a text that names none speaks of, by multinomial
// logistic regression on its words, pairs of words and runs of letters. Features are
// hashed into buckets, so that no word stands in it; weights are signed bytes of one
// step, so that program and page compute with the same numbers. It was learned from
// open repair records (cmd/likelykind says which and how).
type Inference struct {
	Kinds      []string  // ids, one a category of the Open Repair Data Standard
	Buckets    []uint16  // that have weights, in order
	Weights    []int8    // by bucket, then by kind
	Step       float64   // worth of one unit of a weight
	Intercepts []float64 // by kind
	Least      float64   // below this probability nothing is said
}

// hashBits is how many buckets there are, as a power of two.
const hashBits = 15

// What of a text is looked at, in words, and how long the runs of letters are.
const mostInferred = 300

var letterRuns = []int{3, 4, 5}

var inferences sync.Map // tag -> func() *Inference

// InferenceOf gives what was learned for a language, nil for none.
func InferenceOf(tag string) *Inference {
	once, _ := inferences.LoadOrStore(tag, sync.OnceValue(func() *Inference {
		src, err := data.ReadFile(path.Join("data", "kind-"+tag+".gob"))
		if err != nil {
			return nil
		}
		var i Inference
		if err := gob.NewDecoder(bytes.NewReader(src)).Decode(&i); err != nil {
			panic(fmt.Sprintf("kinds inferred in %s: %v", tag, err))
		}
		return &i
	}))
	return once.(func() *Inference)()
}

// Features gives the buckets of a text in a language with their values: two blocks of
// length one, of words with pairs and of letters.
func Features(tag, text string) (buckets []uint16, values []float64) {
	g := grammarOf(tag)
	tokens := g.tokens(text)
	tokens = tokens[:min(len(tokens), mostInferred)]
	var blocks [2]map[uint16]bool
	blocks[0], blocks[1] = map[uint16]bool{}, map[uint16]bool{}
	for i, t := range tokens {
		blocks[0][bucket(t.key)] = true
		if i > 0 && !t.first {
			blocks[0][bucket(tokens[i-1].key+" "+t.key)] = true
		}
		if t.key == notKey {
			continue
		}
		letters := []rune("<" + t.written + ">")
		for _, n := range letterRuns {
			for k := 0; k+n <= len(letters); k++ {
				blocks[1][bucket("~"+string(letters[k:k+n]))] = true
			}
		}
	}
	sum := map[uint16]float64{}
	for _, b := range blocks {
		for k := range b {
			sum[k] += 1 / math.Sqrt(float64(len(b)))
		}
	}
	for k := range sum {
		buckets = append(buckets, k)
	}
	slices.Sort(buckets)
	for _, k := range buckets {
		values = append(values, sum[k])
	}
	return buckets, values
}

func bucket(feature string) uint16 {
	h := fnv.New32a()
	_, _ = h.Write([]byte(feature))
	return uint16(h.Sum32() >> (32 - hashBits))
}

// Probable gives the probability of each kind.
func (i *Inference) Probable(tag, text string) []float64 {
	out := slices.Clone(i.Intercepts)
	n := len(i.Kinds)
	buckets, values := Features(tag, text)
	for k, b := range buckets {
		at, ok := slices.BinarySearch(i.Buckets, b)
		if !ok {
			continue
		}
		for c := range n {
			out[c] += values[k] * i.Step * float64(i.Weights[at*n+c])
		}
	}
	top := slices.Max(out)
	sum := 0.0
	for c, x := range out {
		out[c] = math.Exp(x - top)
		sum += out[c]
	}
	for c := range out {
		out[c] /= sum
	}
	return out
}

// infer gives the kind that a text probably speaks of, where that is probable enough.
func infer(tag, text string) (Mention, bool) {
	i := InferenceOf(tag)
	if i == nil || strings.TrimSpace(text) == "" {
		return Mention{}, false
	}
	p := i.Probable(tag, text)
	best := 0
	for c := range p {
		if p[c] > p[best] {
			best = c
		}
	}
	if p[best] < i.Least {
		return Mention{}, false
	}
	return Mention{Class: Kind, ID: i.Kinds[best], Inferred: math.Round(p[best]*100) / 100}, true
}
