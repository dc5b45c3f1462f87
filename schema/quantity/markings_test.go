package quantity

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// markingOutcome compares what a marking is read as with what a repairer expects: "right",
// "wrong" for another first reading or one that passes something over, "unanswered" for none.
func markingOutcome(row []string) string {
	list, err := Read(row[0])
	wants := strings.Split(row[2], "; ")
	if wants[0] == "refused" || wants[0] == "cannot tell" {
		switch {
		case err == nil:
			return "wrong"
		case wants[0] == "refused" || strings.Contains(err.Error(), "semiconductor") || strings.Contains(err.Error(), "type number"):
			return "right"
		}
		return "unanswered"
	}
	if err != nil {
		return "unanswered"
	}
	r := list[0]
	if r.Kind != row[1] || !sameText(r.Value, wants[0]) {
		return "wrong"
	}
	for _, fact := range wants[1:] {
		if rest, ok := strings.CutPrefix(fact, "also "); ok {
			if !slices.ContainsFunc(list[1:], func(o Reading) bool { return sameText(o.Value, rest) }) {
				return "wrong"
			}
			continue
		}
		if rest, ok := strings.CutPrefix(fact, "unread "); ok {
			if !strings.Contains(r.Conditions["not read"], rest) {
				return "wrong"
			}
			continue
		}
		said := r.Tolerance + "|" + r.Reason
		for _, c := range r.Conditions {
			said += "|" + c
		}
		if !slices.ContainsFunc(strings.Split(said, "|"), func(x string) bool { return sameText(x, fact) || strings.Contains(" "+x, " "+fact) }) {
			return "wrong"
		}
	}
	return "right"
}

func sameText(got, want string) bool {
	a, errA := Parse(got)
	b, errB := Parse(want)
	if errA == nil && errB == nil {
		return a == b
	}
	return strings.Contains(got, want)
}

// TestMarkings counts how many of testdata/markings.tsv, written down before any answer was
// looked at, are read as a repairer expects. Wrong answers count most.
func TestMarkings(t *testing.T) {
	rows := table(t, "markings.tsv", 4)
	require.GreaterOrEqual(t, len(rows), 400)
	got := map[string][]string{}
	for _, row := range rows {
		o := markingOutcome(row)
		got[o] = append(got[o], row[0])
	}
	t.Logf("%d markings: %d right, %d wrong, %d unanswered", len(rows), len(got["right"]), len(got["wrong"]), len(got["unanswered"]))
	t.Logf("wrong: %s", strings.Join(got["wrong"], " | "))
	t.Logf("unanswered: %s", strings.Join(got["unanswered"], " | "))
	assert.LessOrEqual(t, len(got["wrong"]), 45, "more are read wrongly than before")
	assert.LessOrEqual(t, len(got["unanswered"]), 13, "more have no answer than before")
}

// FuzzMarking: a marking is read or refused, and no word that stands beside a code is lost:
// it is in a reading's conditions or tolerance, or named as not read.
func FuzzMarking(f *testing.F) {
	for _, s := range []string{"102M Y1", "220 25V", "601 100MHz", "107 16K", "14K275", "103F3950", "104 X7R zorch",
		"BZX55C5V1", "T2,5A/250V", "1/2 W", "104J 2E", "103103103103"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		list, err := Read(s)
		if (err == nil) == (len(list) == 0) {
			t.Fatalf("%q: %v, %v", s, list, err)
		}
		if len(s) < 40 {
			odd := "104K " + strings.Map(func(r rune) rune {
				if r >= 'q' && r <= 'z' {
					return r
				}
				return -1
			}, s) + "qzq"
			list, err := Read(odd)
			if err == nil && !strings.Contains(list[0].Conditions["not read"], "qzq") {
				t.Fatalf("%q: a word is passed over: %v", odd, list[0])
			}
		}
	})
}
