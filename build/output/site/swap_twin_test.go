package site

import (
	"encoding/json"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/quantity"
)

// TestSwapsAgree asks the page's script and the command line's code for the same
// swaps by the script alone: those of the tables, both ways, each part against parts that were
// not made for it, and all of them with a rating or a mark of AC or DC more.
func TestSwapsAgree(t *testing.T) {
	e := scripts(t, "quantity.js", "swap.js")
	for _, data := range []func() ([]byte, error){reckonTables, reckonParts} {
		js, err := data()
		require.NoError(t, err)
		e.eval(t, string(js))
	}
	pairs := swapInputs()
	table, err := os.ReadFile("../../../schema/quantity/testdata/bench-swaps.tsv")
	require.NoError(t, err)
	for _, row := range strings.Split(strings.TrimSpace(string(table)), "\n")[1:] {
		f := strings.Split(row, "\t")
		pairs = append(pairs, [2]string{f[0], f[1]}, [2]string{f[1], f[0]})
	}
	r := rand.New(rand.NewPCG(31, 32))
	said := []string{"10 A", "1000 VDC", "250 V AC", "60 V~", "600 V AC/DC", "12 V (DC)", "24 Vpp", "AC", "dc", "105C", "1.5 mm²", "AWG 18", "18 AWG",
		"200 J", "surge 100 A", "beta 3950 K", "charge 4.2 V", "TO-220F", "DPAK", "0603", "X1Y2", "MKP", "ESR 5 Ω", "0.1 % 25 ppm",
		"motor start", "disc", "blade", "triac", "CR2032", "optocoupler", "battery pack", "manual reset", "zq"}
	for n := len(pairs); n > 0; n-- {
		p := pairs[r.IntN(len(pairs))]
		more := said[r.IntN(len(said))]
		pairs = append(pairs, [2]string{p[0] + " " + more, p[1]}, [2]string{p[0], p[1] + " " + more},
			[2]string{p[0] + " " + more, p[1] + " " + said[r.IntN(len(said))]}, [2]string{p[0], pairs[r.IntN(len(pairs))][1]})
	}
	asked, err := json.Marshal(pairs)
	require.NoError(t, err)
	answers := run[[]string](t, e, `(async () => `+string(asked)+`.map((x) => { const r = benchloreSwap.swap(x[0], x[1]); return r.error !== undefined ? "error: " + r.error : JSON.stringify(r.answer); }))()`)
	require.Len(t, answers, len(pairs))
	fits := map[quantity.Fit]int{}
	for i, got := range answers {
		answer, err := quantity.Swap(pairs[i][0], pairs[i][1], nil)
		want := outcome(answer, err)
		fits[answer.Verdict]++
		if strings.HasPrefix(want, "error: ") || strings.HasPrefix(got, "error: ") {
			assert.Equal(t, want, got, pairs[i])
			continue
		}
		assert.JSONEq(t, want, got, pairs[i])
	}
	for _, fit := range []quantity.Fit{quantity.Fits, quantity.FitsWithRemark, quantity.CannotTell, quantity.DoesNotFit} {
		assert.Greater(t, fits[fit], 50, fit)
	}
	t.Logf("%d swaps: %v", len(pairs), fits)
}
