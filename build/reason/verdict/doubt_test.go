package verdict

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/testkit/workshop"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/quantity"
)

// TestDoubtIsNoVerdict: a row of which it is not understood what was measured, or whose
// unit is another's, is neither good nor bad, wherever its limits are from.
func TestDoubtIsNoVerdict(t *testing.T) {
	rows := func(what string) []string {
		return []string{"| X | " + what + " | on | 3.3 V ±5 % | 3.3 V |", "| TP1 | " + what + " | on | | 5 V |", "| Y | " + what + " | on | 3.3 V | 3.3 V |"}
	}
	good := book(t, "tolerance: {voltage: 5}\n", measured(rows("voltage")...))
	doubtful := book(t, "tolerance: {voltage: 5}\n", measured(rows("bananas")...))
	for i := range 3 {
		assert.Equal(t, quantity.In, judged(good, 0, i).Verdict)
		r := judged(doubtful, 0, i)
		assert.Equal(t, quantity.NoVerdict, r.Verdict)
		assert.Equal(t, string(casefile.UnknownWhat), r.Unjudged)
		assert.Empty(t, r.Limits, "no limits are drawn for what was not understood")
	}
	for _, d := range New(doubtful).Problems() {
		assert.NotEqual(t, diagnostic.NotJudged, d.Rule, "its own rule names the row")
	}
	assert.Empty(t, judged(book(t, "", measured("| Z | bananas | on | | 3.3 V |")), 0, 0).Unjudged, "nothing was expected")

	// Six readings of a point make limits for the seventh, unless nobody knows what they are of.
	past := func(what string) Reading {
		var bodies []string
		for range 6 {
			bodies = append(bodies, measured("| X | "+what+" | on | 3.3 V ±5 % | 3.3 V |"))
		}
		return judged(book(t, "", append(bodies, measured("| X | voltage | on | | 3.3 V |"))...), 6, 0)
	}
	assert.Equal(t, quantity.In, past("voltage").Verdict)
	assert.Equal(t, quantity.NoVerdict, past("bananas").Verdict)
}

// TestUnitsInDoubt is for the rows that check calls errors, which a notebook may have until
// they are mended.
func TestUnitsInDoubt(t *testing.T) {
	for row, why := range map[string]casefile.Doubt{
		"| X | resistance | on | 3.3 V ±5 % | 3.3 V |": casefile.WhatUnit,
		"| X | voltage | on | 3.3 V ±500 % | 3.3 V |":  casefile.Unlimited,
	} {
		n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n",
			"cases/2026-0001.md": "---\ncase: 2026-0001\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\n---\n## Symptom\n\nDark.\n\n" + measured(row)})
		require.Equal(t, 1, n.Errors(), "%v", n.Problems)
		assert.Equal(t, Reading{Unjudged: string(why)}, judged(n, 0, 0))
	}
}

// TestDoubtAtClosing: earth that is out is told whatever stands under what; earth that is in
// is no proof where nobody knows what was read.
func TestDoubtAtClosing(t *testing.T) {
	const insulated = "| live to case | insulation | 500 V | > 1 MΩ | 120 MΩ | | after |\n| boils | time | on | | 180 s | | after |\n"
	lacks := func(body string) (list []diagnostic.Rule) {
		for _, d := range closed(t, "I", "", readings+body) {
			list = append(list, d.Rule)
		}
		return list
	}
	assert.Equal(t, []diagnostic.Rule{diagnostic.StillOut}, lacks("| case to earth pin | bananas | off | < 0.2 Ω | 0.5 Ω | | after |\n"+insulated))
	whole := lacks("| case to earth pin | resistance | off | < 0.2 Ω | 0.1 Ω | | after |\n" + insulated)
	assert.Empty(t, whole)
	assert.Equal(t, []diagnostic.Rule{diagnostic.NoAcceptance}, lacks("| case to earth pin | bananas | off | < 0.2 Ω | 0.1 Ω | | after |\n"+insulated))
}
