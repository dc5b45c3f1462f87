package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/learn/practice"
	"benchlore/build/notebook"
	"benchlore/build/reason/hazard"
	"benchlore/build/reason/triage"
	"benchlore/build/reason/verdict"
)

// TestPractiseTenCases works ten cases of the example through in the terminal: every
// check of the case in its own order, then the cause, right in even cases.
func TestPractiseTenCases(t *testing.T) {
	t.Parallel()
	program := built(t)
	say := runs(program)
	book := filepath.Join(t.TempDir(), "notebook")
	require.NoError(t, writeExample(book))
	n, err := notebook.Load(book)
	require.NoError(t, err)
	p := practice.New(n, verdict.New(n), triage.New(n))
	progress := filepath.Join(t.TempDir(), "p.json")
	for i, e := range p.Entries()[:10] {
		c, _ := n.Case(e.ID)
		x, ok := p.Of(c)
		require.True(t, ok)
		// The list is read as a person reads it: by the numbers that are printed.
		first, err := say("", "practise", e.ID, "--notebook", book, "--progress", progress)
		require.NoError(t, err, first)
		assert.NotContains(t, first, x.Title)
		if x.Lesson != "" {
			assert.NotContains(t, first, x.Lesson)
		}
		var input strings.Builder
		path := slices.SortedFunc(slices.Values(x.Checks), func(a, b practice.Check) int { return a.Turn - b.Turn })
		if at := slices.IndexFunc(path, func(c practice.Check) bool { return c.Unpowered }); x.Stop && at >= 0 {
			// What needs power is listed once something was looked at without.
			look := path[at]
			path = slices.Insert(slices.Delete(path, at, at+1), 0, look)
			fmt.Fprintf(&input, "%d\nclear\n", numberOf(t, first, look.Text))
			path = path[1:]
			first, err = say(input.String(), "practise", e.ID, "--notebook", book, "--progress", progress)
			require.NoError(t, err, first)
			first = first[strings.LastIndex(first, "min so far")+1:]
		}
		for _, check := range path {
			fmt.Fprintf(&input, "%d\nclear\n", numberOf(t, first, check.Text))
		}
		asked, err := say(input.String()+"c\n", "practise", e.ID, "--notebook", book, "--progress", progress)
		require.NoError(t, err, asked)
		for _, check := range x.Checks {
			assert.Contains(t, asked, check.Text+": "+check.Seen)
		}
		s := session{n: n}
		number := numberOf(t, asked[strings.LastIndex(asked, "s shows it:")+len("s shows it:"):], s.cause(x.Cause))
		if i%2 == 1 {
			number = number%2 + 1
		}
		said, err := say(input.String()+fmt.Sprintf("c\n%d\n", number), "practise", e.ID, "--notebook", book,
			"--progress", progress, "--on", "2026-12-01")
		require.NoError(t, err, said)
		assert.Contains(t, said, "It was: "+s.cause(x.Cause))
		if i%2 == 0 {
			assert.Contains(t, said, "\nFound. ")
		} else {
			assert.Contains(t, said, "\nNot it. ")
		}
		d := p.DebriefOf(x)
		assert.Contains(t, said, fmt.Sprintf("The real path: %.0f min to the fault", d.Own))
		assert.Contains(t, said, strings.Split(x.Lesson, "\n")[0])
	}
	kept, err := practice.ReadProgress(progress, n.Config.Name)
	require.NoError(t, err)
	assert.Len(t, kept.Cases, 10)
}

// numberOf finds the number before a line of a list.
func numberOf(t *testing.T, text, line string) int {
	t.Helper()
	for l := range strings.Lines(text) {
		var number int
		if _, err := fmt.Sscanf(l, "%d", &number); err == nil &&
			strings.HasPrefix(strings.TrimSpace(l)[len(fmt.Sprint(number)):], "  "+line) {
			return number
		}
	}
	t.Fatalf("%q is not offered in\n%s", line, text)
	return 0
}

// TestPractiseInGerman: the terminal practises in the notebook's language.
func TestPractiseInGerman(t *testing.T) {
	say := runs(built(t))
	book := filepath.Join(t.TempDir(), "notebook")
	require.NoError(t, writeExample(book))
	setLanguage(t, book, "de")
	said, err := say("s\n", "practise", "2025-0005", "--notebook", book, "--progress", filepath.Join(t.TempDir(), "p.json"))
	require.NoError(t, err, said)
	assert.Contains(t, said, "Auf dem Tisch: Lumadane Arc")
	assert.Contains(t, said, "Es war: Kondensator verbraucht, Lampe oder LED.")
	found, err := say("", "find", "--notebook", book, "der Verstärker brummt")
	require.NoError(t, err, found)
	assert.Contains(t, found, "2025-0002")
}

// TestPractiseStops: a case with a red flag begins with what comes before all checks,
// and one without does not.
func TestPractiseStops(t *testing.T) {
	say := runs(built(t))
	book := filepath.Join(t.TempDir(), "notebook")
	require.NoError(t, writeExample(book))
	progress := filepath.Join(t.TempDir(), "p.json")
	trips, err := say("s\n", "practise", "2025-0008", "--notebook", book, "--progress", progress)
	require.NoError(t, err, trips)
	assert.True(t, strings.HasPrefix(trips, "STOP  "+hazard.Stop), trips[:min(200, len(trips))])
	flickers, err := say("s\n", "practise", "2025-0005", "--notebook", book, "--progress", progress)
	require.NoError(t, err, flickers)
	assert.NotContains(t, flickers, "STOP")
}
