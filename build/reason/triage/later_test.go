package triage

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/build/testkit/workshop"
)

// TestLater: a notebook whose words tell the cause and whose symptoms do not is told by
// words from its older cases; one whose newer causes are all new is never told.
func TestLater(t *testing.T) {
	make := func(cause func(i int) (fault, word string)) *notebook.Notebook {
		dir := t.TempDir()
		require.NoError(t, os.MkdirAll(filepath.Join(dir, "cases"), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "notebook.yaml"), []byte("name: L\n"), 0o644))
		for i := range 60 {
			fault, word := cause(i)
			text := fmt.Sprintf("---\ncase: 2026-%04d\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-%02d\nclosed: 2026-01-%02d\nsymptoms: [hum]\ncause: {fault: %s, at: relay}\noutcome: fixed\nconfirmed: yes, it was so\n---\n## Symptom\n\nThe owner says %s.\n", i+1, i/3+1, i/3+1, fault, word)
			require.NoError(t, os.WriteFile(filepath.Join(dir, "cases", fmt.Sprintf("2026-%04d.md", i+1)), []byte(text), 0o644))
		}
		n, err := notebook.Load(dir)
		require.NoError(t, err)
		require.Empty(t, n.Problems)
		return n
	}
	faults, words := []string{"wear", "corrosion", "joint-cracked"}, []string{"rattling", "green crust", "knocking"}
	l := New(make(func(i int) (string, string) { return faults[i%3], words[i%3] })).Evaluate().Later
	require.NotNil(t, l)
	assert.Equal(t, []int{42, 18, 18}, []int{l.Older, l.Newer, l.Seen})
	assert.Equal(t, 1.0, l.Words.Top1)
	assert.Equal(t, 1.0, l.Both.Top1)
	assert.InDelta(t, 1.0/3, l.Chosen.Top1, 0.01, "symptoms say nothing here")
	assert.InDelta(t, 1.0/3, l.Commonest.Top1, 0.01)
	cases := 0
	for _, b := range l.Reliability {
		cases += b.Cases
	}
	assert.Equal(t, 18, cases)
	l = New(make(func(i int) (string, string) {
		if i < 42 {
			return "wear", "rattling"
		}
		return "corrosion", "rattling"
	})).Evaluate().Later
	assert.Equal(t, 0, l.Seen)
	assert.Zero(t, l.Both.Top3)
	assert.Greater(t, l.Calibration, 0.5, "sure of the wrong thing")
}

// TestKeptWords: what was learned is read back and says the same, and is learned anew
// when a text changed, when the file is damaged, and never taken from a notebook that
// brought it along under a name of its own.
func TestKeptWords(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "cases"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "notebook.yaml"), []byte("name: L\n"), 0o644))
	write := func(i int, word string) {
		fault := []string{"wear", "corrosion"}[i%2]
		text := fmt.Sprintf("---\ncase: 2026-%04d\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\nclosed: 2026-01-02\nsymptoms: []\ncause: {fault: %s, at: relay}\noutcome: fixed\nconfirmed: yes, it was so\n---\n## Symptom\n\nThe owner says %s.\n", i+1, fault, word)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "cases", fmt.Sprintf("2026-%04d.md", i+1)), []byte(text), 0o644))
	}
	for i := range worthKeeping + 10 {
		write(i, []string{"rattling", "green crust"}[i%2])
	}
	ask := func() float64 {
		n, err := notebook.Load(dir)
		require.NoError(t, err)
		list, _ := New(n).Causes(Evidence{Said: "it is rattling"})
		require.Equal(t, "wear", list[0].Fault)
		return list[0].P
	}
	first := ask()
	at, ok := disk.Derived(dir, "said.gob")
	require.True(t, ok)
	path := filepath.Join(dir, filepath.FromSlash(at))
	stored, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, first, ask())
	again, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, stored, again, "read, not written anew")
	require.NoError(t, os.WriteFile(path, stored[:len(stored)/2], 0o644))
	assert.Equal(t, first, ask())
	for i := 0; i < worthKeeping; i += 4 {
		write(i, "humming")
	}
	assert.NotEqual(t, first, ask(), "other texts teach other words")
}

// TestChecksBelong: what is offered for a kind of device was made on one; what names a part
// or a net of a board is for that device alone; nothing that takes the device apart comes
// before what does not, however much it would tell.
func TestChecksBelong(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "cases"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "notebook.yaml"), []byte("name: L\n"), 0o644))
	at := 0
	write := func(kind, place, rows string) {
		at++
		text := fmt.Sprintf("---\ncase: 2026-%04d\ntitle: T\ndevice: {kind: %s}\nopened: 2026-01-02\nclosed: 2026-01-02\nsymptoms: [hum]\ncause: {fault: wear, at: %s}\noutcome: fixed\nconfirmed: yes, it was so\n---\n## Symptom\n\nx\n\n## Findings\n\n| check | seen | result | min |\n|---|---|---|---|\n%s", at, kind, place, rows)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "cases", fmt.Sprintf("2026-%04d.md", at)), []byte(text), 0o644))
	}
	for range 3 {
		write("lamp", "switch", "| Desolder the holder | x | fault | 1 |\n| Glow of the filament | x | fault | 9 |\n")
		write("toy", "motor", "| Gear by hand | x | fault | 3 |\n")
		write("fan", "switch", "| Blade by hand | x | fault | 3 |\n")
	}
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	require.Empty(t, n.Problems)
	m := New(n)
	offered := func(e Evidence) (out []string) {
		for _, s := range m.Plan(e).Steps {
			out = append(out, s.Check)
		}
		return out
	}
	assert.Equal(t, []string{"Gear by hand"}, offered(Evidence{Kind: "toy", Symptoms: []string{"hum"}}))
	lamp := offered(Evidence{Kind: "lamp", Symptoms: []string{"hum"}})
	assert.Equal(t, []string{"Glow of the filament", "Desolder the holder"}, lamp, "the quickest, and last; a fan's blade is no lamp's")
	assert.Empty(t, offered(Evidence{Symptoms: []string{"hum"}}), "the kind is not known, and no check was made on two")
	assert.Empty(t, offered(Evidence{Kind: "kettle", Symptoms: []string{"hum"}}), "no case is of the kind")
}

// TestChecksOfOneBoard: a wording that names a part or a net is offered for the device it
// was made on; for another of its kind the check is worded as it was without, with whose it
// was, and is not offered where nobody worded it so.
func TestChecksOfOneBoard(t *testing.T) {
	dir := t.TempDir()
	for _, sub := range []string{"cases", "devices"} {
		require.NoError(t, os.MkdirAll(filepath.Join(dir, sub), 0o755))
	}
	put := func(name, text string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	put("notebook.yaml", "name: L\n")
	for _, d := range []string{"oke-r1", "oke-r2"} {
		put("devices/"+d+".md", "---\ndevice: "+d+"\nkind: portable-radio\nmaker: Oke\nmodel: "+d+"\n---\n## Rails\n\n| rail | from | expected |\n|---|---|---|\n| VCC_"+d[4:]+" | pack | 5 V |\n")
	}
	at := 0
	write := func(device, rows string) {
		at++
		put(fmt.Sprintf("cases/2026-%04d.md", at), fmt.Sprintf("---\ncase: 2026-%04d\ntitle: T\ndevice: %s\nopened: 2026-01-02\nclosed: 2026-01-02\nsymptoms: [hum]\ncause: {fault: wear, at: switch}\noutcome: fixed\nconfirmed: yes, it was so\n---\n## Symptom\n\nx\n\n## Findings\n\n| check | seen | result | min |\n|---|---|---|---|\n%s", at, device, rows))
	}
	for range 2 {
		write("oke-r1", "| Ripple across C12 | x | fault | 1 |\n| Voltage of VCC_r1 | x | fault | 1 |\n| Play of the knob, R7 end | x | fault | 1 |\n")
	}
	write("oke-r2", "| Play of the knob, end | x | fault | 1 |\n")
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	m := New(n)
	offered := func(device string) map[string][]string {
		out := map[string][]string{}
		for _, s := range m.Plan(Evidence{Device: device, Kind: "portable-radio", Symptoms: []string{"hum"}}).Steps {
			out[s.Check] = s.On
		}
		return out
	}
	assert.Equal(t, map[string][]string{"Ripple across C12": nil, "Voltage of VCC_r1": nil, "Play of the knob, R7 end": nil}, offered("oke-r1"))
	assert.Equal(t, map[string][]string{"Play of the knob, end": nil}, offered("oke-r2"))
	assert.Equal(t, map[string][]string{"Play of the knob, end": {"Oke oke-r1", "Oke oke-r2"}}, offered(""))
}

// TestSaid: words alone name a cause, a red flag in them stops, and symptoms that were
// said are not absent.
func TestSaid(t *testing.T) {
	n := workshop.Load(t)
	m := New(n)
	for said, want := range map[string]Cause{"the drill stops as soon as it bites": {"cell-worn", "battery"},
		"no water from the coffee maker, the pump is silent": {"open-circuit", "pump"}} {
		list, _ := m.Causes(Evidence{Said: said})
		assert.Equal(t, want, list[0].Cause, said)
		assert.NotEmpty(t, list[0].Words, said)
	}
	for said, stops := range map[string]bool{"there was smoke and a bang": true, "no smoke, it hums": false} {
		w := m.Warnings(Evidence{Said: said})
		assert.Equal(t, stops, w.Stop(), said)
	}
	silent, _ := m.Causes(Evidence{Said: "  "})
	none, _ := m.Causes(Evidence{})
	assert.Equal(t, none, silent)
	absent := m.complete(Evidence{Said: "it hums", Absent: []string{"hum"}})
	assert.NotContains(t, absent.Symptoms, "hum")
}
