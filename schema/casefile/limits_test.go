package casefile

import (
	"fmt"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

const plainFront = "---\ncase: 2026-0001\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: []\n---\n## Symptom\n\n"

// floods are texts that grow with n and are read at their limit and refused beyond it.
var floods = map[string]struct {
	limit int
	text  func(n int) string
}{
	"cells": {maxCells / 101, func(n int) string {
		return plainFront + "|" + strings.Repeat("a|", 100) + "\n|" + strings.Repeat("-|", 100) + "\n" + strings.Repeat("|\n", n-2)
	}},
	"quotes":     {maxNesting, func(n int) string { return plainFront + strings.Repeat(">", n) + " x\n" }},
	"list items": {maxNesting, func(n int) string { return plainFront + strings.Repeat("- ", n) + "x\n" }},
	"indented list": {maxNesting, func(n int) string {
		var b strings.Builder
		for i := range n + 1 {
			b.WriteString(strings.Repeat("  ", i) + "- x\n")
		}
		return plainFront + b.String()
	}},
	"links": {maxBrackets, func(n int) string { return plainFront + strings.Repeat("[a](\n\n", n) }},
	"emphasis": {maxEmphasis / 2, func(n int) string {
		return plainFront + strings.Repeat("*a_ *a_ *a_ *a_ *a_\n\n", n/5) + strings.Repeat("*a_", n%5) + "\n"
	}},
	"brackets of a paragraph": {maxRun, func(n int) string { return plainFront + strings.Repeat("[a](", n) + "\n" }},
	"emphasis of a paragraph": {maxRun, func(n int) string { return plainFront + strings.Repeat("*a\n", n) }},
	"strokes of a paragraph":  {maxRun, func(n int) string { return plainFront + strings.Repeat("~~a ", n) + "\n" }},
	"code of a paragraph":     {maxRun, func(n int) string { return plainFront + strings.Repeat("`a", n) + "\n" }},
	"headings": {maxHeadings - 1, func(n int) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, "## S%d\n", i)
		}
		return plainFront + b.String()
	}},
	"lines": {maxLines - 2, func(n int) string { return plainFront + strings.Repeat("- a\n", n) }},
	"values": {maxValues/2 - 20, func(n int) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, "k%d: 1\n", i)
		}
		return "---\n" + b.String() + "---\n"
	}},
	"depth": {maxDepth, func(n int) string {
		return "---\ntitle: " + strings.Repeat("[", n) + strings.Repeat("]", n) + "\n---\n"
	}},
	"bytes of front matter": {maxYAML - 8, func(n int) string { return "---\ntitle: " + strings.Repeat("a", n) + "\n---\n" }},
}

func refused(src string) bool {
	public, err := Public([]byte(src))
	if err != nil {
		return true
	}
	f, list := Parse("cases/2026-0001.md", public)
	for _, d := range list {
		if d.Rule == diagnostic.TooMuch {
			return true
		}
	}
	return f == nil
}

// TestLimits: each limit is read at and refused one beyond and ten times over.
func TestLimits(t *testing.T) {
	for name, flood := range floods {
		assert.False(t, refused(flood.text(flood.limit)), "%s at its limit", name)
		for _, n := range []int{flood.limit + 1, flood.limit + 2, 10 * flood.limit} {
			if n == flood.limit+1 && (name == "cells" || name == "values") {
				continue // not to the very one
			}
			src := flood.text(n)
			if name == "values" && n == flood.limit+2 {
				src = flood.text(flood.limit + 30)
			}
			assert.True(t, refused(src), "%s at %d", name, n)
			f, list := Parse("cases/2026-0001.md", []byte(src))
			assert.Nil(t, f, "whoever parses without looking for private words is kept from it too")
			require.NotEmpty(t, list)
		}
	}
	assert.False(t, refused(plainFront+"```\n"+strings.Repeat("| * _ [ > \n", 30_000)+"```\n"), "a log in a code block is no flood")
	assert.False(t, refused(plainFront+strings.Repeat("net_vcc_3v3 and some_other_name\n", 1000)), "names with strokes are no emphasis")
}

// TestLimitsCostLittle counts what is allocated for a hostile file of a megabyte:
// no more than some times its size. Time is left to benchmarks.
func TestLimitsCostLittle(t *testing.T) {
	hostile := map[string]string{
		"mail addresses": plainFront + strings.Repeat("aa:bb:cc:dd:ee:ff a.b@example.com ", 30_000) + "\n",
		"digits":         plainFront + strings.Repeat("12345678 ", 100_000) + "\n",
		"wide table": plainFront + "|" + strings.Repeat("a|", 1000) + "\n|" + strings.Repeat("-|", 1000) + "\n" +
			strings.Repeat("|\n", 10_000),
	}
	for name, flood := range floods {
		hostile[name] = flood.text(10 * flood.limit)
	}
	for name, src := range hostile {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		if public, err := Public([]byte(src)); err == nil {
			if f, list := Parse("cases/2026-0001.md", public); f != nil {
				list = Most(append(list, f.Check(terms.Builtin(), nil)...))
				assert.LessOrEqual(t, len(list), maxProblems+1, name)
			}
		}
		runtime.ReadMemStats(&after)
		assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(100<<20), name)
	}
}

// BenchmarkHostile prints how long the slowest hostile text at its limit takes, beside
// a case of ordinary size.
func BenchmarkHostile(b *testing.B) {
	b.Run("ordinary", func(b *testing.B) {
		for b.Loop() {
			_ = refused(fullCase("block", "id"))
		}
	})
	for name, flood := range floods {
		b.Run(strings.ReplaceAll(name, " ", "-"), func(b *testing.B) {
			src := flood.text(flood.limit)
			b.SetBytes(int64(len(src)))
			for b.Loop() {
				_ = refused(src)
			}
		})
	}
}
