// Command likelykind learns which kind of device a text speaks of, from open repair
// records with their category (data of the Open Repair Alliance, CC BY-SA 4.0), and
// writes the weights that schema/terms reads:
//
//	go run ./cmd/likelykind --language en --data RECORDS.csv --kept 3 --out schema/terms/data/kind-en.gob
//
// A record whose id falls into one of the last --kept of ten parts (CRC-32 of the id) is
// not learned from; on those it says how often it is right. With --kept 0 all are
// learned from.
package main

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"encoding/gob"
	"flag"
	"fmt"
	"hash/crc32"
	"io"
	"math"
	"os"
	"slices"

	"benchlore/build/reason/maxent"
	"benchlore/schema/terms"
)

func main() {
	tag := flag.String("language", "en", "the language of the texts")
	from := flag.String("data", "", "a CSV file with id, product_category and problem")
	kept := flag.Int("kept", 3, "how many of ten parts are kept for measuring")
	out := flag.String("out", "", "where the weights go")
	most := flag.Int("buckets", 6000, "how many buckets keep their weights")
	cost := flag.Float64("cost", 0.7, "weight of the data against that of small weights")
	against := flag.String("against", "", "another such file to measure on, none of which is learned from")
	least := flag.Float64("least", 0.8, "below this probability nothing is inferred")
	flag.Parse()
	if err := run(*tag, *from, *against, *out, *kept, *most, *cost, *least); err != nil {
		fmt.Fprintln(os.Stderr, "likelykind:", err)
		os.Exit(1)
	}
}

type record struct{ category, text string }

func run(tag, from, against, out string, kept, most int, cost, least float64) error {
	learn, measure, err := read(from, kept)
	if err != nil {
		return err
	}
	if against != "" {
		if measure, _, err = read(against, 0); err != nil {
			return err
		}
	}
	// The kind of a category is the first with its name in the standard.
	var kinds []string
	at := map[string]int{}
	for _, t := range terms.Builtin().All(terms.Kind) {
		if t.Standard != "" {
			at[t.Standard] = len(kinds)
			kinds = append(kinds, t.ID)
		}
	}
	var rows []maxent.Row
	var class []int
	for _, r := range learn {
		k, ok := at[r.category]
		if !ok {
			continue
		}
		rows, class = append(rows, row(tag, r.text)), append(class, k)
	}
	idf := rarity(rows)
	for _, r := range rows {
		for k, b := range r.Features {
			r.Values[k] *= idf[b]
		}
	}
	m := maxent.Train(rows, class, len(kinds), 1<<15, maxent.Options{Cost: cost, Iterations: 80})
	i := pruned(m, idf, kinds, most)
	i.Least = least
	fmt.Printf("%d records learned from\n", len(rows))
	report(tag, i, measure)
	if out == "" {
		return nil
	}
	var b bytes.Buffer
	if err := gob.NewEncoder(&b).Encode(i); err != nil {
		return err
	}
	fmt.Printf("%d bytes\n", b.Len())
	return os.WriteFile(out, b.Bytes(), 0o644)
}

func row(tag, text string) maxent.Row {
	buckets, values := terms.Features(tag, text)
	r := maxent.Row{Values: values}
	for _, b := range buckets {
		r.Features = append(r.Features, int32(b))
	}
	return r
}

// rarity weighs each bucket by how few texts have it, the root of ln(n/having), which
// was chosen on the texts that are learned from.
// It is multiplied into the weights, so that whoever reads them needs none of it.
func rarity(rows []maxent.Row) []float64 {
	out := make([]float64, 1<<15)
	for _, r := range rows {
		for _, b := range r.Features {
			out[b]++
		}
	}
	for b, having := range out {
		out[b] = math.Sqrt(math.Log(float64(1+len(rows)) / (1 + having)))
	}
	return out
}

// pruned keeps the buckets with the largest weights, rarity multiplied in.
func pruned(m *maxent.Model, idf []float64, kinds []string, most int) *terms.Inference {
	n := len(kinds)
	whole, top := make([]float64, len(m.Weights)), 0.0
	for j, w := range m.Weights {
		whole[j] = float64(w) * m.Step * idf[j/n]
		top = max(top, math.Abs(whole[j]))
	}
	i := &terms.Inference{Kinds: kinds, Step: math.Exp2(math.Ceil(math.Log2(top / 127))), Intercepts: m.Intercepts}
	for j := range whole {
		m.Weights[j] = int8(math.Round(whole[j] / i.Step))
	}
	size := func(b int) (sum int) {
		for _, w := range m.Weights[b*n : (b+1)*n] {
			sum += int(w) * int(w)
		}
		return sum
	}
	order := make([]int, len(m.Weights)/n)
	sizes := make([]int, len(order))
	for b := range order {
		order[b], sizes[b] = b, size(b)
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(sizes[b], sizes[a]) })
	order = order[:min(most, len(order))]
	slices.Sort(order)
	for _, b := range order {
		if sizes[b] > 0 {
			i.Buckets = append(i.Buckets, uint16(b))
			i.Weights = append(i.Weights, m.Weights[b*n:(b+1)*n]...)
		}
	}
	return i
}

// report says how often the likeliest kind is the record's, from the surest on.
func report(tag string, i *terms.Inference, measure []record) {
	type answer struct {
		p     float64
		right bool
	}
	v := terms.Builtin()
	var list []answer
	for _, r := range measure {
		p := i.Probable(tag, r.text)
		best := 0
		for c := range p {
			if p[c] > p[best] {
				best = c
			}
		}
		t, _ := v.Lookup(terms.Kind, i.Kinds[best])
		list = append(list, answer{p[best], t.Standard == r.category})
	}
	slices.SortStableFunc(list, func(a, b answer) int { return cmp.Compare(b.p, a.p) })
	right := 0
	for n, a := range list {
		if a.right {
			right++
		}
		if (n+1)%(max(1, len(list)/20)) == 0 {
			fmt.Printf("%.2f of %d texts, from p = %.2f on: right in %.3f\n", float64(n+1)/float64(len(list)), len(list), a.p, float64(right)/float64(n+1))
		}
	}
}

func read(from string, kept int) (learn, measure []record, err error) {
	f, err := os.Open(from)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	r := csv.NewReader(f)
	head, err := r.Read()
	if err != nil {
		return nil, nil, err
	}
	id, category, text := slices.Index(head, "id"), slices.Index(head, "product_category"), slices.Index(head, "problem")
	if min(id, category, text) < 0 {
		return nil, nil, fmt.Errorf("%s has no columns id, product_category and problem", from)
	}
	for {
		line, err := r.Read()
		if err == io.EOF {
			return learn, measure, nil
		}
		if err != nil {
			return nil, nil, err
		}
		if int(crc32.ChecksumIEEE([]byte(line[id]))%10) >= 10-kept {
			measure = append(measure, record{line[category], line[text]})
		} else {
			learn = append(learn, record{line[category], line[text]})
		}
	}
}
