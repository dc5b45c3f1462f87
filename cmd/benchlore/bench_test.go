package main

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/extension"

	"benchlore/build/notebook"
	"benchlore/build/search"
	"benchlore/build/site"
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
		write(fmt.Sprintf("devices/maker-m%d.md", i), fmt.Sprintf("---\ndevice: maker-m%d\nkind: %s\nmaker: Maker\nmodel: M%d\nhazards: [mains]\n---\n", i, pick(terms.Kind), i))
	}
	for i := range n {
		year := 2010 + i*15/n
		id := fmt.Sprintf("%d-%06d", year, i)
		var b strings.Builder
		fmt.Fprintf(&b, "---\ncase: %s\ntitle: %s\ndevice: maker-m%d\nopened: %d-%02d-%02d\nclosed: %d-12-31\nsymptoms: [%s]\ncause: {fault: %s, at: %s, origin: wear}\noutcome: fixed\nconfirmed: an hour\nminutes: {diagnosis: %d, repair: %d}\n---\n",
			id, sentence(6), r.IntN(devices), year, 1+r.IntN(12), 1+r.IntN(28), year, pick(terms.Symptom), pick(terms.Fault), pick(terms.Place), 5+r.IntN(60), 5+r.IntN(60))
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

// Benchmark measures each stage at two sizes, beside plain goldmark conversion
// of the same texts on one processor in the same run.
func Benchmark(b *testing.B) {
	md := goldmark.New(goldmark.WithExtensions(extension.Table, extension.Strikethrough))
	for _, size := range []int{1000, 10_000} {
		b.Run(fmt.Sprintf("cases=%d", size), func(b *testing.B) {
			dir := generate(b, size)
			n, err := notebook.Load(dir)
			require.NoError(b, err)
			require.Zero(b, n.Errors())
			all := texts(b, n)
			b.Run("baseline goldmark", func(b *testing.B) {
				var out bytes.Buffer
				for b.Loop() {
					for _, src := range all {
						out.Reset()
						require.NoError(b, md.Convert(src, &out))
					}
				}
			})
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
				for b.Loop() {
					_, err := ix.Find(search.Query{Words: "cracked joint warm regulator"})
					require.NoError(b, err)
				}
			})
			out := filepath.Join(b.TempDir(), "site")
			b.Run("publish cold", func(b *testing.B) {
				for b.Loop() {
					require.NoError(b, os.RemoveAll(out))
					_, err := site.Publish(context.Background(), n, out, site.Options{})
					require.NoError(b, err)
				}
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
