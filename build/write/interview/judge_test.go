package interview

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/testkit/workshop"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
)

// TestClosingIsJudged: what the rules beside those of one file call an error keeps a case
// open, and a warning is said.
func TestClosingIsJudged(t *testing.T) {
	n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n", "cases/2026-0001.md": "---\ncase: 2026-0001\ntitle: T\ndevice: {kind: kettle}\nopened: 2026-01-02\nsymptoms: [no-heat]\n---\n## Symptom\n\nCold.\n"})
	found, ok := n.Case("2026-0001")
	require.True(t, ok)
	for severity, taken := range map[diagnostic.Severity]bool{diagnostic.Error: false, diagnostic.Warning: true} {
		i := Closing(n, found.File, NewDraft(t.TempDir(), "2026-0001", time.Now()), time.Date(2026, 1, 3, 0, 0, 0, 0, time.UTC))
		said, refused := "", error(nil)
		i.Say = func(format string, args ...any) {
			if len(args) > 0 {
				said, _ = args[0].(string)
			}
		}
		i.Judge = func(next *casefile.File) []diagnostic.Diagnostic {
			assert.Equal(t, "2026-01-03", next.Case.Closed)
			return []diagnostic.Diagnostic{{Severity: severity, Rule: diagnostic.StillOut, Message: "earth is lost"}}
		}
		p := &person{t: t, says: map[string]string{"cause.fault": "open-circuit", "cause.at": "heating-element", "outcome": "fixed", "confirmed": "twenty boils"}}
		require.NoError(t, i.Run(func(q Question) (string, error) {
			if q.Key != "closed" {
				return p.ask(q)
			}
			answer, err := q.Take("2026-01-03")
			if err != nil {
				refused = err
				return q.Take("no")
			}
			return answer, nil
		}))
		if taken {
			assert.NoError(t, refused)
			assert.Equal(t, "earth is lost", said)
		} else {
			assert.ErrorContains(t, refused, "earth is lost")
		}
	}
}

// TestDoubtsAreSaid: what check only warns of is said with the answer that it is about,
// once, and taken; what it calls an error is asked again.
func TestDoubtsAreSaid(t *testing.T) {
	n := workshop.Book(t, map[string]string{"notebook.yaml": "name: T\n"})
	draft := NewDraft(t.TempDir(), "new", time.Now())
	hear := func(d *Draft, p *person) (said []string) {
		i := New(n, d, map[string]string{"device.kind": "lamp"}, time.Date(2026, 1, 3, 0, 0, 0, 0, time.UTC))
		i.Say = func(format string, args ...any) {
			if text := fmt.Sprintf(format, args...); strings.Contains(text, "says") || strings.Contains(text, "at the bench") {
				said = append(said, text)
			}
		}
		require.NoError(t, i.Run(p.ask))
		return said
	}
	p := &person{t: t, says: map[string]string{"title": "Dark", "symptoms.0": "flicker", "Measurements.0.point": "TP1", "Measurements.0.what": "voltge", "Measurements.0.expected": "3.3 V ±5 %", "Measurements.0.read": "3.3 V",
		"Measurements.1.point": "TP2", "Measurements.1.what": "resistance", "Measurements.1.read": "4.7 kΩ",
		"finished": "yes", "cause.fault": "wear", "cause.at": "switch", "outcome": "fixed", "confirmed": "yes", "minutes.repair": "3000"},
		wrong: map[string]string{"Measurements.1.read": "3.3 V"}}
	said := hear(draft, p)
	require.Len(t, said, 3, "%q", said)
	assert.Contains(t, said[0], `did you mean "voltage"?`)
	assert.Contains(t, said[1], "how it was proved")
	assert.Contains(t, said[2], "50 hours")
}
