package site

import (
	"bufio"
	"io"
	"strings"
	"testing"
	"time"
)

// BenchmarkHighlightHostile prints how long the slowest lexer takes for the texts that
// make lexers backtrack, as long as any that is coloured.
func BenchmarkHighlightHostile(b *testing.B) {
	signs := []string{"\\", "\"", "'", "(", "{", "/*", "<", "`", "#", "//", "a ", "\\\"", "0", "=", "[", "%", "$", "${", "*", "-", "--", "!", "@", ":", "; ", ".", "<<A\n", "//\\\n", " \t", "\n", "'''", `"""`, "+", "|", ","}
	for b.Loop() {
		worst, which := time.Duration(0), ""
		for _, language := range coloured {
			for _, sign := range signs {
				line := strings.Repeat(sign, (maxHighlightLine-30)/len(sign)) + "\n"
				for _, code := range []string{line, "x" + line, "\"" + line, "#define A " + line, "/*" + line} {
					code = strings.Repeat(code, maxHighlight/len(code))
					began := time.Now()
					_ = highlight(bufio.NewWriter(io.Discard), language, code)
					if took := time.Since(began); took > worst {
						worst, which = took, language+" "+sign
					}
				}
			}
		}
		b.ReportMetric(float64(worst.Milliseconds()), "worst-ms")
		b.Log(which)
	}
}
