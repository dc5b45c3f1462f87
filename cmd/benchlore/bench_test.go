package main

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/blevesearch/bleve/v2"
	"github.com/stretchr/testify/require"
	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/extension"

	"benchlore/build/notebook"
	"benchlore/build/output/site"
	"benchlore/build/reason/search"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// generate writes a notebook of n cases of about 3 kB, the same for the same n.
func generate(tb testing.TB, n int) string {
	tb.Helper()
	dir := tb.TempDir()
	r := rand.New(rand.NewPCG(20, 26))
	v := terms.Builtin()
	pick := func(c terms.Class) string { list := v.All(c); return list[r.IntN(len(list))].ID }
	words := strings.Fields(`rail regulator capacitor joint socket fuse switch relay board trace connector screen coil motor bearing
		belt brush cell pack charger diode transistor chip crystal antenna cable plug housing screw lens pump valve heater sensor warm
		cold cracked loose dirty bright dark noisy quiet open shorted leaking swollen bent pressed measured replaced cleaned resoldered`)
	sentence := func(k int) string {
		var b strings.Builder
		for range k {
			b.WriteString(words[r.IntN(len(words))] + " ")
		}
		return strings.TrimSpace(b.String())
	}
	write := func(name, text string) {
		path := filepath.Join(dir, filepath.FromSlash(name))
		require.NoError(tb, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(tb, os.WriteFile(path, []byte(text), 0o644))
	}
	write("notebook.yaml", "name: Generated\n")
	devices := max(n/50, 5)
	for i := range devices {
		write(fmt.Sprintf("devices/maker-m%d.md", i),
			fmt.Sprintf("---\ndevice: maker-m%d\nkind: %s\nmaker: Maker\nmodel: M%d\nhazards: [mains]\n---\n", i, pick(terms.Kind), i))
	}
	for i := range n {
		year := 2010 + i*15/n
		id := fmt.Sprintf("%d-%06d", year, i)
		var b strings.Builder
		fmt.Fprintf(&b, "---\ncase: %s\ntitle: %s\ndevice: maker-m%d\nopened: %d-%02d-%02d\nclosed: %d-12-31\nsymptoms: [%s]\ncause: {fault: %s, at: %s, origin: wear}\noutcome: fixed\nconfirmed: an hour\nminutes: {diagnosis: %d, repair: %d}\n---\n",
			id, sentence(6), r.IntN(devices), year, 1+r.IntN(12), 1+r.IntN(28), year, pick(terms.Symptom),
			pick(terms.Fault), pick(terms.Place), 5+r.IntN(60), 5+r.IntN(60))
		fmt.Fprintf(&b, "## Symptom\n\n%s.\n\n## Findings\n\n| check | seen | result | min |\n|---|---|---|---|\n", sentence(60))
		for range 4 {
			fmt.Fprintf(&b, "| %s | %s | clear | %d |\n", sentence(4), sentence(5), 1+r.IntN(20))
		}
		b.WriteString("\n## Measurements\n\n| point | what | state | expected | read | note |\n|---|---|---|---|---|---|\n")
		for range 4 {
			fmt.Fprintf(&b, "| TP%d | voltage | on | 3.3 V ±5 %% | %d.%02d V | %s |\n", r.IntN(40), 2+r.IntN(3), r.IntN(100), sentence(3))
		}
		b.WriteString("\n## Parts\n\n| ref | part | value | package | net | action | fitted | note |\n|---|---|---|---|---|---|---|---|\n")
		fmt.Fprintf(&b, "| C%d | capacitor | 10 µF 6.3 V X5R | 0603 | +3V3 | replaced | same | %s |\n", r.IntN(400), sentence(4))
		fmt.Fprintf(&b, "\n## Outcome\n\n%s.\n\n```console\n%s\n```\n\n## Lesson\n\n%s.\n", sentence(90), sentence(12), sentence(50))
		write(fmt.Sprintf("cases/%d/%s.md", year, id), b.String())
	}
	return dir
}

// texts returns the bodies of all cases, for the baseline.
func texts(b *testing.B, n *notebook.Notebook) [][]byte {
	b.Helper()
	var out [][]byte
	for _, c := range n.Cases {
		out = append(out, c.Text.Bytes)
	}
	return out
}

// Benchmark measures each stage at two sizes. Beside it, in the same run: plain
// goldmark conversion of the same texts on one processor, a bare bleve index of
// them, bleve's own match query, and the program's --help.
func Benchmark(b *testing.B) {
	md := goldmark.New(goldmark.WithExtensions(extension.Table, extension.Strikethrough))
	for _, size := range []int{1000, 10_000} {
		b.Run(fmt.Sprintf("cases=%d", size), func(b *testing.B) {
			dir := generate(b, size)
			n, err := notebook.Load(dir)
			require.NoError(b, err)
			require.Zero(b, n.Errors())
			all := texts(b, n)
			var baseline time.Duration // goldmark and bleve together, once each
			b.Run("baseline goldmark", func(b *testing.B) {
				var out bytes.Buffer
				for b.Loop() {
					for _, src := range all {
						out.Reset()
						require.NoError(b, md.Convert(src, &out))
					}
				}
				baseline += b.Elapsed() / time.Duration(b.N)
			})
			var bare bleve.Index
			whole := b
			b.Run("baseline bleve index", func(b *testing.B) {
				for b.Loop() {
					bare = bareIndex(whole, all)
				}
				baseline += b.Elapsed() / time.Duration(b.N)
			})
			words := fourWords()
			for _, fuzziness := range []int{0, 1} {
				b.Run(fmt.Sprintf("baseline bleve match, slips %d", fuzziness), func(b *testing.B) {
					percentiles(b, words, func(q string) {
						match := bleve.NewMatchQuery(q)
						match.SetFuzziness(fuzziness)
						_, err := bare.Search(bleve.NewSearchRequestOptions(match, 10, 0, false))
						require.NoError(b, err)
					})
				})
			}
			b.Run("load and check", func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					n, err := notebook.Load(dir)
					require.NoError(b, err)
					require.NoError(b, diagnostic.WriteText(&bytes.Buffer{}, n.Problems))
				}
			})
			b.Run("index cold", func(b *testing.B) {
				for b.Loop() {
					require.NoError(b, os.RemoveAll(filepath.Join(dir, ".benchlore")))
					ix, err := search.Open(n)
					require.NoError(b, err)
					require.NoError(b, ix.Close())
				}
			})
			b.Run("index warm", func(b *testing.B) {
				for b.Loop() {
					ix, err := search.Open(n)
					require.NoError(b, err)
					require.Zero(b, ix.Indexed)
					require.NoError(b, ix.Close())
				}
			})
			b.Run("find", func(b *testing.B) {
				ix, err := search.Open(n)
				require.NoError(b, err)
				defer ix.Close()
				percentiles(b, words, func(q string) {
					_, err := ix.Find(search.Query{Words: q})
					require.NoError(b, err)
				})
			})
			out := filepath.Join(b.TempDir(), "site")
			b.Run("publish cold", func(b *testing.B) {
				for b.Loop() {
					b.StopTimer()
					require.NoError(b, os.RemoveAll(out))
					require.NoError(b, os.RemoveAll(filepath.Join(dir, ".benchlore")))
					runtime.GC()
					b.StartTimer()
					_, err := site.Publish(context.Background(), n, out, site.Options{})
					require.NoError(b, err)
				}
				b.ReportMetric(float64(b.Elapsed())/float64(b.N)/float64(baseline), "times-baseline")
			})
			b.Run("publish warm", func(b *testing.B) {
				for b.Loop() {
					_, err := site.Publish(context.Background(), n, out, site.Options{})
					require.NoError(b, err)
				}
			})
		})
	}
}

// bareIndex is what bleve does by itself with the texts, in batches of 500.
func bareIndex(b *testing.B, all [][]byte) bleve.Index {
	b.Helper()
	ix, err := bleve.New(filepath.Join(b.TempDir(), "bare"), bleve.NewIndexMapping())
	require.NoError(b, err)
	b.Cleanup(func() { ix.Close() })
	batch := ix.NewBatch()
	for i, src := range all {
		require.NoError(b, batch.Index(fmt.Sprint(i), map[string]string{"body": string(src)}))
		if batch.Size() == 500 || i == len(all)-1 {
			require.NoError(b, ix.Batch(batch))
			batch.Reset()
		}
	}
	return ix
}

// fourWords are a hundred queries of four words of the generated texts, one in
// four with a slip.
func fourWords() []string {
	r := rand.New(rand.NewPCG(4, 4))
	words := strings.Fields("rail regulator capacitor joint socket switch relay board trace connector screen bearing charger diode transistor crystal antenna housing heater sensor warm cracked loose leaking")
	var out []string
	for i := range 100 {
		var q []string
		for range 4 {
			q = append(q, words[r.IntN(len(words))])
		}
		if i%4 == 0 {
			w := q[3]
			q[3] = w[:1] + w[2:]
		}
		out = append(out, strings.Join(q, " "))
	}
	return out
}

// percentiles reports the median and the 95th percentile of a question's time.
func percentiles(b *testing.B, queries []string, ask func(q string)) {
	b.Helper()
	var times []time.Duration
	for b.Loop() {
		for _, q := range queries {
			began := time.Now()
			ask(q)
			times = append(times, time.Since(began))
		}
	}
	slices.Sort(times)
	b.ReportMetric(float64(times[len(times)/2].Microseconds())/1000, "ms/median")
	b.ReportMetric(float64(times[len(times)*95/100].Microseconds())/1000, "ms/p95")
}

// BenchmarkProcess runs the program as a whole over 10,000 cases: a find beside
// --help, and the memory that a first publish takes at its peak.
func BenchmarkProcess(b *testing.B) {
	dir := generate(b, 10_000)
	program := built(b)
	call := func(args ...string) { require.NoError(b, exec.Command(program, args...).Run(), args) }
	call("find", "--notebook", dir, "warm")
	time.Sleep(4 * time.Second) // until files are old enough to be trusted by their time
	call("find", "--notebook", dir, "warm")
	for name, args := range map[string][]string{"help": {"--help"},
		"find": {"find", "--notebook", dir, "cracked", "joint", "warm", "regulator"}} {
		b.Run(name, func(b *testing.B) {
			percentiles(b, make([]string, 15), func(string) { call(args...) })
		})
	}
	b.Run("publish", func(b *testing.B) {
		for b.Loop() {
			require.NoError(b, os.RemoveAll(filepath.Join(dir, ".benchlore")))
			c := exec.Command(program, "publish", dir, "--out", filepath.Join(b.TempDir(), "site"), "--quiet")
			require.NoError(b, c.Start())
			peak := watchPeak(c.Process.Pid)
			require.NoError(b, c.Wait())
			b.ReportMetric(float64(<-peak)/1024, "MiB/peak")
		}
	})
}

// watchPeak follows the resident memory's high-water mark of a process, in KiB,
// until it ends. The rusage of a child would count the parent's memory too.
func watchPeak(pid int) <-chan int {
	out := make(chan int, 1)
	go func() {
		peak := 0
		for {
			status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
			_, after, ok := strings.Cut(string(status), "VmHWM:")
			if err != nil || !ok {
				out <- peak
				return
			}
			_, _ = fmt.Sscan(after, &peak)
			time.Sleep(20 * time.Millisecond)
		}
	}()
	return out
}
