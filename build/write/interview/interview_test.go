package interview

import (
	"errors"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
)

var day = time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC)

func begun(t *testing.T) *notebook.Notebook {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "bench")
	_, err := notebook.Begin(dir, "Bench", false)
	require.NoError(t, err)
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	return n
}

// person answers by key; what is not said is left out. Wrong answers are tried
// first, and must be refused.
type person struct {
	t     *testing.T
	says  map[string]string
	wrong map[string]string
	asked []string
	stop  string // the key at which the person goes away
	back  map[string]bool
}

var errGone = errors.New("gone")

func (p *person) ask(q Question) (string, error) {
	p.asked = append(p.asked, q.Key)
	if q.Key == p.stop {
		return "", errGone
	}
	if p.back[q.Key] {
		delete(p.back, q.Key)
		return "", ErrBack
	}
	if bad, ok := p.wrong[q.Key]; ok {
		_, err := q.Take(bad)
		assert.Error(p.t, err, "%s takes %q", q.Key, bad)
	}
	return q.Take(p.says[q.Key])
}

var whole = map[string]string{"title": "Fan stands still", "device": "fan", "device.maker": "Velm",
	"symptoms.0": "it is dead", "hazards.0": "mains",
	"Symptom.text.0": "It hums no more.", "Findings.0.check": "Plug fuse", "Findings.0.result": "fault", "Findings.0.min": "2",
	"Measurements.0.point": "inlet", "Measurements.0.expected": "230 V ±10 %", "Measurements.0.read": "229 V",
	"Measurements.0.when": "before",
	"finished":            "yes", "Parts.0.part": "fuse", "Parts.0.action": "replaced", "cause.fault": "fuse-open",
	"cause.at": "mains-input", "outcome": "fixed",
	"confirmed": "two hours", "minutes.diagnosis": "0", "Lesson.text.0": "Measure first.", "closed": "2026-03-05"}

// TestWholeWay: each answer is held against the rules as it is given, and the case
// that comes of it has no error.
func TestWholeWay(t *testing.T) {
	n := begun(t)
	d := NewDraft(n.Dir, "", day)
	p := &person{t: t, says: whole, wrong: map[string]string{"title": "Call a.b@example.com", "device": "spaceship",
		"hazards.0": "qqqq", "Findings.0.result": "qqqq", "Findings.0.min": "two",
		"Measurements.0.expected": "230 wrong", "Measurements.0.read": "lots", "Measurements.0.when": "later",
		"finished": "mains", "Parts.0.action": "eaten", "cause.fault": "qqqq", "minutes.diagnosis": "ten", "closed": "yesterday"}}
	i := New(n, d, map[string]string{}, day)
	require.NoError(t, i.Run(p.ask))
	path, problems, err := n.Write(notebook.Draft{Case: i.Case(), Sections: i.Sections()})
	require.NoError(t, err, problems)
	assert.Empty(t, problems)
	data, err := os.ReadFile(filepath.Join(n.Dir, path))
	require.NoError(t, err)
	assert.Contains(t, string(data), "minutes: {diagnosis: 0}\n", "none is not the same as not noted")
	assert.Contains(t, string(data), "| inlet |  |  | 230 V ±10 % | 229 V |  | before |\n")
	assert.Contains(t, string(data), "closed: 2026-03-05\n")
	// A day before the opening is refused where it is asked.
	p = &person{t: t, says: whole, wrong: map[string]string{"closed": "2026-03-01"}}
	require.NoError(t, New(n, NewDraft(n.Dir, "", day), map[string]string{}, day).Run(p.ask))
}

// TestWork: records of work are asked for by name, each cell held against the rules, and
// stand before the outcome with the columns that were filled.
func TestWork(t *testing.T) {
	n := begun(t)
	says := maps.Clone(whole)
	maps.Copy(says, map[string]string{"work": "inj, firmware, acceptance", "Injection.0.net": "+3V3", "Injection.0.volts": "0.9 V",
		"Injection.0.limit": "1 A", "Firmware.0.chip": "U7", "Firmware.0.sha256": strings.Repeat("ab", 32),
		"Acceptance.0.test": "insulation", "Acceptance.0.limit": "> 1 MΩ", "Acceptance.0.read": "95 MΩ", "Acceptance.0.result": "passed"})
	p := &person{t: t, says: says, wrong: map[string]string{"work": "injektion", "Injection.0.volts": "much", "Injection.0.limit": "1 V",
		"Firmware.0.sha256": "12", "Acceptance.0.result": "clear"}}
	i := New(n, NewDraft(n.Dir, "", day), map[string]string{}, day)
	require.NoError(t, i.Run(p.ask))
	path, problems, err := n.Write(notebook.Draft{Case: i.Case(), Sections: i.Sections()})
	require.NoError(t, err, problems)
	assert.Empty(t, problems)
	data, err := os.ReadFile(filepath.Join(n.Dir, path))
	require.NoError(t, err)
	assert.Contains(t, string(data), "## Injection\n\n| net | volts | limit |\n|---|---|---|\n| +3V3 | 0.9 V | 1 A |\n")
	assert.Contains(t, string(data), "| test | limit | read | result |\n|---|---|---|---|\n| insulation | > 1 MΩ | 95 MΩ | passed |\n")
	assert.Less(t, strings.Index(string(data), "## Firmware"), strings.Index(string(data), "## Outcome"))
	// What contradicts its own limit is refused where it is said.
	p = &person{t: t, says: says, wrong: map[string]string{"Acceptance.0.result": "passed"}}
	says["Acceptance.0.read"] = "0.2 MΩ"
	require.Error(t, New(n, NewDraft(n.Dir, "", day), map[string]string{}, day).Run(func(q Question) (string, error) {
		if q.Key == "Acceptance.0.result" {
			_, err := q.Take("passed")
			return "", err
		}
		return p.ask(q)
	}))
}

// TestAnswersStay: wherever the person goes away, the next run has every answer and
// asks on from there; nothing is asked twice.
func TestAnswersStay(t *testing.T) {
	n := begun(t)
	all := &person{t: t, says: whole}
	want := New(n, NewDraft(t.TempDir(), "", day), map[string]string{}, day)
	require.NoError(t, want.Run(all.ask))
	for at, key := range all.asked {
		if at%4 != 1 { // before the first nothing is kept; a quarter of them will do
			continue
		}
		dir := t.TempDir()
		p := &person{t: t, says: whole, stop: key}
		assert.ErrorIs(t, New(n, NewDraft(dir, "", day), map[string]string{}, day).Run(p.ask), errGone)
		d, err := ReadDraft(dir, "")
		require.NoError(t, err)
		require.NotNil(t, d, key)
		assert.Len(t, d.Answers, at)
		rest := &person{t: t, says: whole}
		i := New(n, d, map[string]string{}, day)
		require.NoError(t, i.Run(rest.ask))
		assert.Equal(t, all.asked[at:], rest.asked, "after %s", key)
		assert.Equal(t, want.Case(), i.Case())
		assert.Equal(t, want.Sections(), i.Sections())
	}
}

// TestOneStepBack: back asks the question before anew, and the rest stays.
func TestOneStepBack(t *testing.T) {
	n := begun(t)
	all := &person{t: t, says: whole}
	require.NoError(t, New(n, NewDraft(t.TempDir(), "", day), map[string]string{}, day).Run(all.ask))
	for at, key := range all.asked {
		if at%4 != 0 {
			continue
		}
		p := &person{t: t, says: whole, back: map[string]bool{key: true}}
		require.NoError(t, New(n, NewDraft(t.TempDir(), "", day), map[string]string{}, day).Run(p.ask))
		want := append([]string{}, all.asked[:at+1]...)
		if at > 0 {
			want = append(want, all.asked[at-1])
		}
		want = append(want, all.asked[at:]...)
		assert.Equal(t, want, p.asked, key)
	}
}

// TestSetAside: a draft that is not wanted keeps its answers under another name.
func TestSetAside(t *testing.T) {
	dir := t.TempDir()
	d := NewDraft(dir, "", day)
	require.NoError(t, d.put("title", "T"))
	to, err := d.SetAside(day)
	require.NoError(t, err)
	kept, err := os.ReadFile(to)
	require.NoError(t, err)
	assert.Contains(t, string(kept), `"text": "T"`)
	none, err := ReadDraft(dir, "")
	require.NoError(t, err)
	assert.Nil(t, none)
	require.NoError(t, os.WriteFile(d.Path(), []byte("{"), 0o644))
	_, err = ReadDraft(dir, "")
	assert.ErrorContains(t, err, "does not hold answers")
}
