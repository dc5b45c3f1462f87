package threeway

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/casefile"
)

func parse(t testing.TB, text string) *casefile.File {
	t.Helper()
	f, list := casefile.Parse("2026-0001-lamp.md", []byte(text))
	require.NotNil(t, f, list)
	return f
}

const lamp = `---
case: 2026-0001
title: Lamp flickers
device: {kind: lamp}
opened: 2026-01-02
by: RK
symptoms: [flicker]
hazards: [mains]
minutes: {diagnosis: 30}
private: {owner: Mrs Example}
---
## Symptom

It flickers.

## Findings

| check | seen | result | min |
|---|---|---|---|
| Fuse | whole | no | 5 |

## Private

A telephone number.
`

// TestMerge: each field by itself. Expected values are written by hand.
func TestMerge(t *testing.T) {
	base := parse(t, strings.Replace(strings.Split(lamp, "\n## Private")[0], "private: {owner: Mrs Example}\n", "", 1))
	edit := func(pairs ...string) *casefile.File {
		return parse(t, strings.NewReplacer(pairs...).Replace(string(base.Bytes())))
	}
	o := Options{Self: "harbour", Other: "quayside"}
	ours := parse(t, lamp)
	for name, c := range map[string]struct {
		theirs    *casefile.File
		ours      []string
		has, not  []string
		taken     int
		kept      int
		conflicts int
	}{
		"nothing":               {theirs: base},
		"a field there":         {theirs: edit("Lamp flickers", "Lamp dies"), has: []string{"title: Lamp dies"}, taken: 1},
		"a field on both":       {theirs: edit("Lamp flickers", "Lamp dies"), ours: []string{"Lamp flickers", "Lamp hums"}, has: []string{"title: Lamp hums"}, not: []string{"Lamp dies"}, conflicts: 1},
		"a hazard taken out":    {theirs: edit("hazards: [mains]\n", ""), has: []string{"hazards: [mains]"}, kept: 1},
		"a hazard added":        {theirs: edit("[mains]", "[mains, stored-charge]"), has: []string{"stored-charge"}, taken: 1},
		"initials":              {theirs: edit("by: RK", "by: RK+MT"), has: []string{"by: RK+MT"}, taken: 1},
		"minutes stay apart":    {theirs: edit("diagnosis: 30", "diagnosis: 99"), has: []string{"diagnosis: 30"}},
		"cause is one":          {theirs: edit("minutes:", "cause: {fault: open-joint, at: plug}\nminutes:"), ours: []string{"minutes:", "cause: {fault: worn-out, at: switch}\nminutes:"}, has: []string{"worn-out, at: switch"}, conflicts: 1},
		"a row taken out":       {theirs: edit("| Fuse | whole | no | 5 |\n", ""), has: []string{"| Fuse |"}, kept: 1},
		"a cell emptied":        {theirs: edit("whole", ""), has: []string{"whole"}, kept: 1},
		"a text emptied":        {theirs: edit("It flickers.", ""), has: []string{"It flickers."}, kept: 1},
		"a cell on both":        {theirs: edit("whole", "blown"), ours: []string{"whole", "cracked"}, has: []string{"cracked"}, not: []string{"blown"}, conflicts: 1},
		"a text there":          {theirs: edit("It flickers.", "It flickers when warm."), has: []string{"when warm"}, taken: 1},
		"a remark unseen there": {theirs: edit("It flickers.", "It flickers when warm."), ours: []string{"It flickers.", "It flickers. <!-- owner -->"}, has: []string{"<!-- owner -->"}, not: []string{"when warm"}, conflicts: 1},
	} {
		t.Run(name, func(t *testing.T) {
			mine := parse(t, strings.NewReplacer(c.ours...).Replace(string(ours.Bytes())))
			public, err := casefile.Strip(mine.Bytes())
			require.NoError(t, err)
			theirs := parse(t, strings.Replace(string(c.theirs.Bytes()), "| min |\n|---|---|---|---|", "| min | by |\n|---|---|---|---|---|", 1))
			theirs = parse(t, strings.Replace(string(theirs.Bytes()), "| 5 |", "| 5 | RK @harbour |", 1))
			opt := o
			opt.Public = parse(t, string(public))
			r, err := Merge(base, mine, theirs, opt)
			require.NoError(t, err)
			out := string(r.File.Bytes())
			for _, s := range append(c.has, "Mrs Example", "A telephone number.") {
				assert.Contains(t, out, s)
			}
			for _, s := range c.not {
				assert.NotContains(t, out, s)
			}
			assert.Len(t, r.Taken, c.taken, r.Taken)
			assert.Len(t, r.Kept, c.kept, r.Kept)
			assert.Len(t, r.Conflicts, c.conflicts, r.Conflicts)
		})
	}
}

// TestNoRowIsLost: a case is sent, worked on at both benches and returned, several times,
// with the base that the two really had. Every row that anybody wrote and did not take
// out is in it, once for each time it was written; both copies end with the same rows.
func TestNoRowIsLost(t *testing.T) {
	for seed := range uint64(500) {
		r := rand.New(rand.NewPCG(seed, 7))
		shops := []string{"harbour", "quayside"}
		start := parse(t, lamp)
		bytes, err := casefile.Strip(start.Bytes())
		require.NoError(t, err)
		at := []*casefile.File{start, nil}
		sent, err := Mark(parse(t, string(bytes)), shops[0], "RK", "EUR")
		require.NoError(t, err)
		at[1] = sent
		last := []*casefile.File{parse(t, string(bytes)), sent} // what both had, as each has it
		want := map[string]int{"Fuse whole": 1}
		work := func(who int) {
			section := []string{"Findings", "Measurements"}[r.IntN(2)]
			tab := at[who].Table(section)
			row := make([]string, len(tab.Columns))
			n := r.IntN(4) // few, so that both write the same
			if section == "Findings" {
				row[0], row[1], row[2] = fmt.Sprintf("Check %d", n), "seen", "no"
				want[fmt.Sprintf("Check %d seen", n)]++
			} else {
				row[0], row[1], row[4] = fmt.Sprintf("TP%d", n), "voltage", "5 V"
				want[fmt.Sprintf("TP%d voltage", n)]++
			}
			tab.Rows = append(tab.Rows, row)
			f, err := at[who].SetTable(section, tab)
			require.NoError(t, err)
			at[who] = f
		}
		for range 1 + r.IntN(3) {
			for who := range 2 {
				for range r.IntN(4) {
					work(who)
				}
			}
			for _, from := range []int{1, 0} {
				to := 1 - from
				open, err := casefile.Strip(at[from].Bytes())
				require.NoError(t, err)
				mine := parse(t, string(open))
				sent, err := Mark(mine, shops[from], "MT", "EUR")
				require.NoError(t, err)
				res, err := Merge(last[to], at[to], sent, Options{Self: shops[to], Other: shops[from]})
				require.NoError(t, err)
				require.Empty(t, res.Conflicts, "seed %d", seed)
				at[to], last[to], last[from] = res.File, sent, mine
			}
		}
		for who := range 2 {
			have := map[string]int{}
			for _, section := range []string{"Findings", "Measurements"} {
				for _, row := range at[who].Table(section).Rows {
					have[row[0]+" "+row[1]]++
				}
			}
			require.Equal(t, want, have, "seed %d, %s:\n%s", seed, shops[who], at[who].Bytes())
		}
		assert.Contains(t, string(at[0].Bytes()), "diagnosis: 30")
	}
}
