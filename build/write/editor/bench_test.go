package editor

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/casefile"
)

// example copies the example notebook and returns its folder.
func example(t testing.TB) string {
	t.Helper()
	return workshop.Dir(t)
}

func loaded(t testing.TB, dir, id string) *notebook.Case {
	t.Helper()
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	c, ok := n.Case(id)
	require.True(t, ok)
	return c
}

// TestFieldsAreTheFile: reading every field of every example case and writing
// it back changes no byte.
func TestFieldsAreTheFile(t *testing.T) {
	n, err := notebook.Load(example(t))
	require.NoError(t, err)
	for _, c := range n.Cases {
		fields := FieldsOf(c.File)
		changes := map[string]Change{}
		for k, v := range fields {
			changes[k] = Change{v, v}
		}
		next, conflicts, refused := merge(c.File, changes)
		assert.Empty(t, conflicts)
		assert.Empty(t, refused)
		assert.Equal(t, string(c.Bytes()), string(next.Bytes()), c.ID())
	}
}

// TestEachFieldAlone: one field changed is read back, and no other field
// changes.
func TestEachFieldAlone(t *testing.T) {
	c := loaded(t, example(t), "2025-0010")
	base := FieldsOf(c.File)
	photos := `[{"file":"a.jpg","caption":"A","marks":[{"x":0.5,"y":0.25,"label":"here","shape":"arrow","to":[0.1,0.2]}]}]`
	for key, value := range map[string]string{
		"title": "Laptop: \"dead\" # and quiet", "board": "HB4 main rev 4", "opened": "2025-05-20", "closed": "",
		"by": "MT", "outcome": "repairable", "barrier": "spare-parts-not-available",
		"confirmed": "two nights", "returns": "2025-0003", "followed": "2025-12-01", "symptoms": "no-power, flicker",
		"absent": "hum", "before": "", "hazards": "lithium", "tags": "a, b",
		"cause.fault": "joint-cracked", "cause.origin": "", "minutes.diagnosis": "7", "minutes.repair": "",
		"cost.parts": "1.5", "cost.charged": "40", "fasteners.in": "10", "fasteners.reason": "one lost", "photos": photos,
		"section:Symptom": "New text.\n\n- a list", "section:Lesson": "", "section:Findings": "Below the table.",
		"table:Findings": `{"Columns":["check","seen","result","min","when"],"Rows":[["a | b","c","clear","1","after"]]}`,
	} {
		if key == "cost.parts" {
			assert.NotEqual(t, base[key], value)
		}
		next, conflicts, refused := merge(c.File, map[string]Change{key: {base[key], value}})
		require.Empty(t, conflicts, key)
		require.Empty(t, refused, key)
		got := FieldsOf(next)
		assert.True(t, sameField(key, value, got[key]), "%s: %q was written and %q read", key, value, got[key])
		for other := range base {
			if other != key {
				assert.Equal(t, base[other], got[other], "%s changed with %s", other, key)
			}
		}
		// And back again gives the file as it was, but for the form of the field.
		back, _, refused := merge(next, map[string]Change{key: {got[key], base[key]}})
		require.Empty(t, refused, key)
		assert.True(t, sameField(key, base[key], FieldsOf(back)[key]), key)
	}
	for key, value := range map[string]string{"title": "", "opened": "", "closed": "yesterday",
		"minutes.repair": "ten", "cost.parts": "free", "section:Symptom": "## Parts\n\nx",
		"section:Outcome": "```\nnot closed", "table:Findings": "{}", "table:Nothing": "{}",
		"photos": `[{"file":"../x.jpg"}]`, "nonsense": "x", "section:Nothing": "x", "title2": "x"} {
		next, _, refused := merge(c.File, map[string]Change{key: {base[key], value}})
		assert.Len(t, refused, 1, key)
		assert.Equal(t, string(c.Bytes()), string(next.Bytes()), key)
	}
}

// TestTwoWriters: what they changed in different fields is joined, what both
// changed is shown to the second and stays as the first wrote it.
func TestTwoWriters(t *testing.T) {
	c := loaded(t, example(t), "2025-0010")
	base := FieldsOf(c.File)
	first, _, _ := merge(c.File, map[string]Change{"title": {base["title"], "First"},
		"section:Lesson": {base["section:Lesson"], "First lesson."}})
	second, conflicts, _ := merge(first,
		map[string]Change{"by": {base["by"], "ZZ"}, "section:Lesson": {base["section:Lesson"], "Second lesson."},
			"title": {base["title"], "First"}})
	assert.Equal(t, []Conflict{{"section:Lesson", "Second lesson.", "First lesson."}}, conflicts)
	got := FieldsOf(second)
	assert.Equal(t, []string{"First", "ZZ", "First lesson."}, []string{got["title"], got["by"], got["section:Lesson"]})
}

// TestStore: the journal, the earlier versions, undoing, restoring.
func TestStore(t *testing.T) {
	dir := example(t)
	c := loaded(t, dir, "2025-0010")
	s := NewStore(dir, 30)
	now := time.Date(2026, 1, 2, 3, 4, 5, 0, time.UTC)
	s.now = func() time.Time { return now }
	read := func() string { b, err := s.Read(c.Path); require.NoError(t, err); return string(b) }
	original := read()
	text := func(word string) []byte { return []byte(strings.Replace(original, "title: ", "title: "+word+" ", 1)) }
	require.NoError(t, s.Save(c.ID(), c.Path, VersionOf([]byte(original)), text("one")))
	now = now.Add(time.Second)
	require.NoError(t, s.Save(c.ID(), c.Path, VersionOf(text("one")), text("two")))
	assert.ErrorIs(t, s.Save(c.ID(), c.Path, VersionOf([]byte(original)), text("lost")), errChanged)
	assert.Equal(t, string(text("two")), read())
	assert.Len(t, s.History(c.ID()), 1, "versions a second apart are one")
	now = now.Add(2 * time.Minute)
	require.NoError(t, s.Save(c.ID(), c.Path, VersionOf(text("two")), text("three")))
	assert.Len(t, s.History(c.ID()), 2)
	// Undo to the first state and forward again.
	for _, want := range []string{"two", "one", ""} {
		require.NoError(t, s.undo(c.ID(), c.Path, -1))
		if want == "" {
			assert.Equal(t, original, read())
		} else {
			assert.Equal(t, string(text(want)), read())
		}
	}
	assert.Error(t, s.undo(c.ID(), c.Path, -1))
	require.NoError(t, s.undo(c.ID(), c.Path, 1))
	assert.Equal(t, string(text("one")), read())
	// A file that an editor changed is not undone over.
	require.NoError(t, os.WriteFile(filepath.Join(dir, c.Path), text("editor"), 0o644))
	assert.ErrorIs(t, s.undo(c.ID(), c.Path, 1), errChanged)
	// Text that cannot go into the file is kept, and can be dropped without loss.
	require.NoError(t, s.keepHalfTyped(c.ID(), []byte("half typed")))
	kept, ok := NewStore(dir, 30).Kept(c.ID(), c.Path)
	assert.True(t, ok)
	assert.Equal(t, "half typed", string(kept))
	now = now.Add(time.Minute)
	require.NoError(t, s.drop(c.ID()))
	_, ok = s.Kept(c.ID(), c.Path)
	assert.False(t, ok)
	dropped, ok := s.Version(c.ID(), VersionOf([]byte("half typed")))
	assert.True(t, ok)
	assert.Equal(t, "half typed", string(dropped))
	now = now.Add(time.Minute)
	require.NoError(t, s.Restore(c.ID(), c.Path, VersionOf([]byte(original))))
	assert.Equal(t, original, read())
	_, ok = s.Version(c.ID(), VersionOf(text("editor")))
	assert.True(t, ok, "what was there before restoring is kept")
	// After thirty days the earlier versions go, once another one says that time passed.
	kept30 := len(s.History(c.ID()))
	now = now.AddDate(0, 0, 31)
	require.NoError(t, s.Save(c.ID(), c.Path, VersionOf([]byte(original)), text("later")))
	assert.Len(t, s.History(c.ID()), kept30+1)
	now = now.Add(2 * time.Minute)
	require.NoError(t, s.Save(c.ID(), c.Path, VersionOf(text("later")), text("last")))
	assert.Len(t, s.History(c.ID()), 2)
	// A clock that is far ahead for one save makes no version old.
	right := now
	now = now.AddDate(10, 0, 0)
	require.NoError(t, s.Save(c.ID(), c.Path, VersionOf(text("last")), text("ahead")))
	assert.Len(t, s.History(c.ID()), 3)
	// Nor does one that is set back keep a version from being put aside.
	now = right.AddDate(-10, 0, 0)
	require.NoError(t, s.Save(c.ID(), c.Path, VersionOf(text("ahead")), text("late")))
	assert.Len(t, s.History(c.ID()), 4)
	_, ok = s.Version(c.ID(), VersionOf(text("ahead")))
	assert.True(t, ok)
	// A case whose file is a link to elsewhere is not written through.
	outside := filepath.Join(t.TempDir(), "outside.md")
	require.NoError(t, os.WriteFile(outside, text("late"), 0o644))
	require.NoError(t, os.Remove(filepath.Join(dir, c.Path)))
	require.NoError(t, os.Symlink(outside, filepath.Join(dir, c.Path)))
	assert.Error(t, s.Save(c.ID(), c.Path, VersionOf(text("late")), text("through")))
	left, _ := os.ReadFile(outside)
	assert.Equal(t, string(text("late")), string(left))
}

// TestTries: an address has five tries and then one now and then; another address
// loses none by it, all strangers together are slowed, the oldest is forgotten, and neither
// an address that was let in nor this machine is kept out by any of it.
func TestTries(t *testing.T) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	x := tries{now: func() time.Time { return now }}
	from := func(address string) (allowed int) {
		for range 40 {
			if x.allow(address) {
				allowed++
			}
		}
		return allowed
	}
	x.letIn("203.0.113.7:4000")
	assert.Equal(t, triesAtOnce, from("192.0.2.1:4000"))
	assert.Zero(t, from("192.0.2.1:4001"), "another port is the same address")
	assert.Zero(t, from("[::ffff:192.0.2.1]:4001"), "in another form too")
	assert.Equal(t, triesAtOnce, from("192.0.2.2:4000"))
	assert.Equal(t, triesAtOnce, from("[2001:db8::1]:4000"))
	assert.Zero(t, from("[2001:db8::ffff]:4000"), "one network may take any address of its 64 bits")
	now = now.Add(triesEvery)
	assert.Equal(t, 1, from("192.0.2.1:4000"))

	// A flood of addresses with one wrong guess each is judged no faster than all strangers
	// together may guess.
	now = now.Add(time.Hour)
	judged := 0
	for i := range 3 * maxAddresses {
		if x.allow(fmt.Sprintf("10.%d.%d.%d:1", i/65536, i/256%256, i%256)) {
			judged++
		}
	}
	assert.Equal(t, strangersAtOnce, judged)
	assert.Len(t, x.strangers.by, maxAddresses, "the oldest were forgotten, and no more are remembered")
	last := 3*maxAddresses - 1
	assert.Contains(t, x.strangers.by, prefix(fmt.Sprintf("10.0.%d.%d:1", last/256, last%256)))
	assert.NotContains(t, x.strangers.by, prefix("10.0.0.0:1"))
	assert.False(t, x.allow("198.51.100.1:1"), "a stranger waits with the others")
	assert.Equal(t, knownAtOnce, from("203.0.113.7:4001"), "who was let in does not")
	assert.Equal(t, knownAtOnce, from("127.0.0.1:4001"), "nor does this machine")
	now = now.Add(strangersOne)
	assert.True(t, x.allow("198.51.100.1:1"), "and comes in turn")
	assert.False(t, x.allow("198.51.100.1:1"))
	now = now.Add(knownEvery)
	assert.NotZero(t, from("203.0.113.7:4001"))
	// Over a day of such a flood no more is judged than the bucket gives.
	judged = 0
	for range 1_000 {
		now = now.Add(24 * time.Hour / 1_000)
		for i := range 40 {
			if x.allow(fmt.Sprintf("10.9.%d.%d:1", judged%256, i)) {
				judged++
			}
		}
	}
	assert.LessOrEqual(t, judged, int(24*time.Hour/strangersOne)+strangersAtOnce)
	assert.True(t, x.allow("203.0.113.7:4001"))
	for i := range 2 * maxAddresses {
		x.letIn(fmt.Sprintf("10.%d.%d.%d:1", i/65536, i/256%256, i%256))
	}
	assert.Len(t, x.known.by, maxAddresses)
}

// FuzzMerge: whatever a page sends, the case stays one, and no field is lost that
// was not sent.
func FuzzMerge(f *testing.F) {
	f.Add("title", "a", "table:Findings", `{"Columns":["check"],"Rows":[["x"]]}`)
	f.Add("section:Symptom", "```\nopen", "photos", `[{"file":"a.png"}]`)
	f.Add("symptoms", "a: b, {c", "cause.fault", "- x")
	src := "---\ncase: 2026-0001\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\n---\n## Symptom\n\nIt hums.\n\n## Lesson\n\nNone.\n"
	f.Fuzz(func(t *testing.T, key1, value1, key2, value2 string) {
		file, _ := casefile.Parse("cases/2026/2026-0001.md", []byte(src))
		base := FieldsOf(file)
		next, _, refused := merge(file, map[string]Change{key1: {base[key1], value1}, key2: {base[key2], value2}})
		if next.Case.ID != "2026-0001" {
			t.Fatal("the case lost its number")
		}
		if again, _ := casefile.Parse("a.md", next.Bytes()); again == nil {
			t.Fatal("the file cannot be read any more")
		}
		got := FieldsOf(next)
		for k, v := range base {
			head, _, _ := strings.Cut(k, ".")
			if k != key1 && k != key2 && !strings.HasPrefix(key1, head) && !strings.HasPrefix(key2, head) && !sameField(k, v, got[k]) {
				t.Fatalf("%s changed from %q to %q with %q, %q (%v)", k, v, got[k], key1, key2, refused)
			}
		}
		_, _ = json.Marshal(got)
	})
}
