package editor

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/casefile"
)

// TestDoubtsAtTheirFields: the sheet says what check says, at the cell or the key that it is
// about, and calls no reading good of which nobody knows what it is of.
func TestDoubtsAtTheirFields(t *testing.T) {
	s, err := New(example(t), Options{})
	require.NoError(t, err)
	n, _ := s.learned()
	c, ok := n.Case("2026-0018")
	require.True(t, ok)
	f, _ := casefile.Parse(c.Path, []byte("---\ncase: 2026-0018\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\nconfirmed: yes\n---\n## Symptom\n\nAs 2026-4711 and 2026-0711.\n\n"+
		"## Measurements\n\n| point | what | state | expected | read |\n|---|---|---|---|---|\n"+
		"| TP1 | bananas | on | 3.3 V ±5 % | 3.3 V |\n| TP2 | resistance | on | 3.3 V ±5 % | 3.3 V |\n| TP3 | voltage | on | 3.3 V ±5 % | 3.3 V |\n"))
	require.NotNil(t, f)
	out := s.check(n, c, f)
	at := map[[2]string]int{}
	for _, p := range out.Problems {
		at[[2]string{p.Field, p.Column}]++
		if p.Column == "what" {
			assert.Equal(t, 0, p.Row)
			assert.Equal(t, "warning", p.Severity)
		}
		if p.Column == "read" {
			assert.Equal(t, 1, p.Row)
			assert.Equal(t, "error", p.Severity)
		}
	}
	assert.Equal(t, map[[2]string]int{{"confirmed", ""}: 1, {sectionPrefix + "Symptom", ""}: 1, {tablePrefix + "Measurements", "what"}: 1, {tablePrefix + "Measurements", "read"}: 1}, at)
	require.Len(t, out.Readings, 3)
	assert.Equal(t, string(casefile.UnknownWhat), out.Readings[0].Word)
	assert.Equal(t, string(casefile.WhatUnit), out.Readings[1].Word)
	assert.Equal(t, "in", out.Readings[2].Word)
}
