package pack

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/long"
	"benchlore/build/testkit/workshop"
	"benchlore/schema/diagnostic"
	"benchlore/schema/filename"
)

func example(t testing.TB) string {
	t.Helper()
	return workshop.Dir(t)
}

func load(t testing.TB, dir string) *notebook.Notebook {
	t.Helper()
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	return n
}

func fresh(t testing.TB) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "fresh")
	_, err := notebook.Begin(dir, "Fresh Bench", false)
	require.NoError(t, err)
	return dir
}

// packed writes a pack of a notebook and returns its file and bytes.
func packed(t testing.TB, dir string, o Options) (string, []byte) {
	t.Helper()
	var b bytes.Buffer
	_, problems, err := Write(context.Background(), load(t, dir), &b, o)
	require.NoError(t, err, problems)
	name := filepath.Join(t.TempDir(), "a.zip")
	require.NoError(t, os.WriteFile(name, b.Bytes(), 0o644))
	return name, b.Bytes()
}

func contents(t testing.TB, data []byte) map[string]string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	out := map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		require.NoError(t, err)
		text, err := io.ReadAll(r)
		require.NoError(t, err)
		out[f.Name] = string(text)
	}
	return out
}

func tree(t testing.TB, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(p string, e fs.DirEntry, err error) error {
		if err == nil && e.Name() == ".benchlore" {
			return fs.SkipDir // what is derived, and the lock
		}
		if err != nil || e.IsDir() {
			return err
		}
		b, err := os.ReadFile(p)
		rel, _ := filepath.Rel(dir, p)
		out[filepath.ToSlash(rel)] = string(b)
		return err
	}))
	return out
}

// received takes a pack in and returns the plan.
func received(t testing.TB, name, key, into string) *Plan {
	t.Helper()
	p, err := Open(name, key)
	require.NoError(t, err)
	defer p.Close()
	plan, err := p.Preview(load(t, into))
	require.NoError(t, err)
	require.NoError(t, plan.Receive(context.Background()))
	return plan
}

// TestPackIsTheSame: equal notes give equal bytes, and unpacked they are a
// notebook without a problem of their own.
func TestPackIsTheSame(t *testing.T) {
	dir := example(t)
	_, a := packed(t, dir, Options{})
	other := time.Date(2001, 2, 3, 4, 5, 6, 0, time.UTC)
	require.NoError(t, os.Chtimes(filepath.Join(dir, "notebook.yaml"), other, other))
	_, b := packed(t, dir, Options{})
	assert.True(t, bytes.Equal(a, b))
	out := t.TempDir()
	for name, text := range contents(t, a) {
		path := filepath.Join(out, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	n := load(t, filepath.Join(out, "notes"))
	assert.Zero(t, n.Errors(), n.Problems)
	assert.Len(t, n.Cases, 68)
}

// TestChoosing: by device, symptom, year, tag, only closed; anonymous.
func TestChoosing(t *testing.T) {
	dir := example(t)
	count := func(o Options) int {
		_, data := packed(t, dir, o)
		n := 0
		for name := range contents(t, data) {
			if strings.HasPrefix(name, "notes/cases/") && strings.HasSuffix(name, ".md") {
				n++
			}
		}
		return n
	}
	assert.Equal(t, 68, count(Options{}))
	assert.Equal(t, 65, count(Options{Closed: true}))
	assert.Equal(t, 16, count(Options{Years: []string{"2024"}}))
	assert.Equal(t, 4, count(Options{Devices: []string{"tarnwick-a40"}}))
	assert.Equal(t, 2, count(Options{Devices: []string{"tarnwick-a40"}, Years: []string{"2025"}}))
	_, _, err := Write(context.Background(), load(t, dir), io.Discard, Options{Tags: []string{"nothing-has-this"}})
	assert.ErrorContains(t, err, "no case fits")
	_, data := packed(t, dir, Options{Anonymous: true})
	for name, text := range contents(t, data) {
		if strings.HasPrefix(name, "notes/cases/") && strings.HasSuffix(name, ".md") {
			assert.NotContains(t, text, "\nby:", name)
			assert.NotContains(t, text, "\ncost:", name)
			if !strings.Contains(text, "\nreturns:") {
				assert.Regexp(t, `\nopened: \d{4}-\d{2}-01\n`, text, name)
			}
		}
	}
}

// TestNothingPrivateLeaves plants a secret in every place that can hold one, and
// a key, and searches every byte of the pack, with the site in it.
func TestNothingPrivateLeaves(t *testing.T) {
	dir := example(t)
	plant := func(name, old, new string) {
		path := filepath.Join(dir, filepath.FromSlash(name))
		src, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Contains(t, string(src), old)
		require.NoError(t, os.WriteFile(path, []byte(strings.Replace(string(src), old, new, 1)), 0o644))
	}
	found, err := filepath.Glob(filepath.Join(dir, "cases", "2025", "2025-0010-*.md"))
	require.NoError(t, err)
	name, _ := filepath.Rel(dir, found[0])
	plant(name, "\ntitle:", "\nprivate: {owner: zebra-secret-1, phone: +44 20 7946 0000}\ntitle:")
	plant(name, "## Findings", "## Private: owner\n\nzebra-secret-2, lives at a.b@example.com\n\n## Findings")
	plant("devices/aldermoor-hb4.md", "\nkind:", "\nprivate:\n  - zebra-secret-3\nkind:")
	plant("devices/aldermoor-hb4.md", "## Fasteners", "## private\n\nzebra-secret-4\n\n## Fasteners")
	plant("notebook.yaml", "language:", "private: zebra-secret-5\nlanguage:")
	terms, err := filepath.Glob(filepath.Join(dir, "terms", "*.yaml"))
	require.NoError(t, err)
	if len(terms) == 0 {
		require.NoError(t, os.MkdirAll(filepath.Join(dir, "terms"), 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "terms", "own.yaml"),
			[]byte("private: zebra-secret-6\nplaces:\n  - {id: turntable-lift, name: Turntable lift, meaning: The lever of the arm.}\n"), 0o644))
	}
	for _, file := range []string{"benchlore.key", "devices/aldermoor-hb4/notes.txt", "cases/2025/zebra.txt",
		".benchlore/history/2025-0010/zebra.md", "kept/history/2025-0010/zebra.md", "kept/originals/2025-0010/zebra.jpg", "received/zebra.json"} {
		path := filepath.Join(dir, filepath.FromSlash(file))
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte("zebra-secret-7"), 0o600))
	}
	n := load(t, dir)
	for _, p := range n.Problems {
		assert.NotEqual(t, diagnostic.PersonalData, p.Rule, "what is private may hold personal data: %s", p)
	}
	_, data := packed(t, dir, Options{})
	all := contents(t, data)
	assert.Greater(t, len(all), 80)
	for name, text := range all {
		assert.NotContains(t, strings.ToLower(name+text), "zebra", name)
		assert.NotContains(t, text, "7946", name)
	}
	assert.Contains(t, all["notes/"+filepath.ToSlash(name)], "## Findings")
}

// TestPersonalDataStopsAPack, with the place named.
func TestPersonalDataStopsAPack(t *testing.T) {
	dir := example(t)
	found, _ := filepath.Glob(filepath.Join(dir, "cases", "2025", "2025-0010-*.md"))
	src, err := os.ReadFile(found[0])
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(found[0], append(src, "\nCall a.b@example.com\n"...), 0o644))
	var b bytes.Buffer
	_, problems, err := Write(context.Background(), load(t, dir), &b, Options{})
	assert.ErrorIs(t, err, errPersonal)
	require.Len(t, problems, 1)
	assert.Positive(t, problems[0].Line)
	assert.Zero(t, b.Len())
}

// TestReceiving: identity, links, pictures, devices and words; an update, a
// conflict, and taking all out again.
func TestReceiving(t *testing.T) {
	theirs := example(t)
	require.NoError(t, os.MkdirAll(filepath.Join(theirs, "terms"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(theirs, "terms", "more.yaml"),
		[]byte("places:\n  - {id: record-lift, name: Record lift, meaning: The lever of the arm.}\nsymptoms:\n  - {id: arm-drops, name: The arm drops, meaning: It falls on the record., group: moves}\n"), 0o644))
	found, _ := filepath.Glob(filepath.Join(theirs, "cases", "2026", "2026-0014-*.md"))
	src, _ := os.ReadFile(found[0])
	text := strings.Replace(string(src), "symptoms: [", "symptoms: [arm-drops, ", 1)
	require.NoError(t, os.WriteFile(found[0], []byte(text), 0o644))
	require.Zero(t, load(t, theirs).Errors(), load(t, theirs).Problems)
	name, _ := packed(t, theirs, Options{})

	ours := fresh(t)
	require.NoError(t, os.WriteFile(filepath.Join(ours, "devices", "our-hb4.md"),
		[]byte("---\ndevice: our-hb4\nkind: laptop\nmaker: ALDERMOOR\nmodel: HB4\n---\n"), 0o644))
	before := tree(t, ours)
	p, err := Open(name, "")
	require.NoError(t, err)
	plan, err := p.Preview(load(t, ours))
	require.NoError(t, err)
	p.Close()
	assert.Equal(t, before, tree(t, ours), "a preview writes nothing")
	assert.NotEmpty(t, plan.New)
	assert.Empty(t, plan.LeftOut)

	received(t, name, "", ours)
	n := load(t, ours)
	assert.Zero(t, n.Errors(), n.Problems)
	assert.Len(t, n.Cases, 68)
	c, ok := n.Case("tidewater-bench-2025-0015")
	require.True(t, ok)
	assert.Equal(t, "tidewater-bench", c.File.Case.From)
	assert.Equal(t, "tidewater-bench-2025-0005", c.File.Case.Returns, "a comeback is still of its first case")
	c, _ = n.Case("tidewater-bench-2025-0010")
	assert.Equal(t, "our-hb4", c.Device.ID, "the same maker and model is our device")
	c, _ = n.Case("tidewater-bench-2025-0020")
	assert.Equal(t, "tidewater-bench-drovik-g4", c.Device.ID)
	_, err = os.Stat(filepath.Join(ours, filepath.FromSlash(c.PhotoDir()), c.File.Case.Photos[0].File))
	assert.NoError(t, err)
	c, _ = n.Case("tidewater-bench-2026-0014")
	assert.Contains(t, c.File.Case.Symptoms, "tidewater-bench-arm-drops")

	again := received(t, name, "", ours)
	assert.Empty(t, again.New)
	assert.Empty(t, again.Changed)

	// One of theirs was edited here, another anew by them.
	edited, _ := filepath.Glob(filepath.Join(ours, "cases", "from-tidewater-bench", "2026", "*-2026-0001-*.md"))
	require.Len(t, edited, 1)
	old, _ := os.ReadFile(edited[0])
	require.NoError(t, os.WriteFile(edited[0], append(old, "\nOur remark.\n"...), 0o644))
	for _, id := range []string{"2026-0001", "2026-0002"} {
		theirs1, _ := filepath.Glob(filepath.Join(theirs, "cases", "2026", id+"-*.md"))
		src, _ := os.ReadFile(theirs1[0])
		require.NoError(t, os.WriteFile(theirs1[0], append(src, "\nTheir remark.\n"...), 0o644))
	}
	name, _ = packed(t, theirs, Options{})
	update := received(t, name, "", ours)
	assert.Len(t, update.Conflicts, 1)
	assert.Len(t, update.Changed, 1)
	now, _ := os.ReadFile(edited[0])
	assert.Contains(t, string(now), "Our remark.")
	assert.NotContains(t, string(now), "Their remark.")

	out, err := TakeOut(load(t, ours), "tidewater-bench")
	require.NoError(t, err)
	assert.Greater(t, out.Removed, 50)
	assert.Len(t, out.Edited, 1, "what was edited here stays")
	require.NoError(t, os.Remove(edited[0]))
	out, err = TakeOut(load(t, ours), "tidewater-bench")
	require.NoError(t, err)
	assert.Empty(t, out.Edited)
	assert.Equal(t, before, tree(t, ours), "nothing is left of it")
	_, err = TakeOut(load(t, ours), "../x")
	assert.Error(t, err)

	_, err = func() (*Plan, error) { p, _ := Open(name, ""); defer p.Close(); return p.Preview(load(t, theirs)) }()
	assert.ErrorIs(t, err, errRefused, "a pack of our own workshop")
}

// TestOlderPacks: a pack that has a file as it was before a later one is told apart,
// and taken only where the caller does so.
func TestOlderPacks(t *testing.T) {
	theirs, ours := example(t), fresh(t)
	older, _ := packed(t, theirs, Options{})
	first := received(t, older, "", ours)
	assert.Empty(t, first.Older)
	found, _ := filepath.Glob(filepath.Join(theirs, "cases", "2026", "2026-0001-*.md"))
	src, _ := os.ReadFile(found[0])
	require.NoError(t, os.WriteFile(found[0], append(src, "\nTheir remark.\n"...), 0o644))
	newer, _ := packed(t, theirs, Options{})
	assert.Empty(t, received(t, newer, "", ours).Older)
	assert.Empty(t, received(t, newer, "", ours).Older, "the same again is not older")
	assert.Contains(t, received(t, older, "", ours).Older, "2026-0001")
	assert.Contains(t, received(t, newer, "", ours).Older, "2026-0001", "back and forth")
}

// TestBreakingPacks: what would leave this notebook unpublishable is refused, and
// named; a notebook's own errors are no reason to refuse.
func TestBreakingPacks(t *testing.T) {
	ours := fresh(t)
	require.NoError(t, os.MkdirAll(filepath.Join(ours, "cases", "2026"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(ours, "cases", "2026", "2026-0009-x.md"), []byte("hello"), 0o644))
	require.NotZero(t, load(t, ours).Errors())
	before := tree(t, ours)
	for name, text := range map[string]string{
		"closed before it came in": strings.Replace(plainCase, "opened: 2026-01-02", "opened: 2026-01-02\nclosed: 2026-01-01", 1),
		"a field of none":          strings.Replace(plainCase, "opened: 2026-01-02", "opened: 2026-01-02\nfoo: bar", 1),
	} {
		require.NotEqual(t, plainCase, text, name)
		p, err := Open(forged(t, map[string]string{"notes/cases/2026/2026-0001-t.md": text}, nil), "")
		require.NoError(t, err, name)
		_, err = p.Preview(load(t, ours))
		p.Close()
		assert.ErrorIs(t, err, errRefused, name)
		assert.ErrorContains(t, err, "2026-0001", name)
	}
	assert.Equal(t, before, tree(t, ours))
	p, err := Open(forged(t, map[string]string{"notes/cases/2026/2026-0001-t.md": plainCase}, nil), "")
	require.NoError(t, err)
	defer p.Close()
	_, err = p.Preview(load(t, ours))
	assert.NoError(t, err)
}

// TestOnePackOneText: what a pack says beside its files, and what it says twice in
// two ways, is refused, so that every reader of it finds the same.
func TestOnePackOneText(t *testing.T) {
	whole, err := os.ReadFile(forged(t, map[string]string{"notes/cases/2026/2026-0001-t.md": plainCase}, nil))
	require.NoError(t, err)
	opens := func(data []byte) error {
		name := filepath.Join(t.TempDir(), "a.zip")
		require.NoError(t, os.WriteFile(name, data, 0o644))
		p, err := Open(name, "")
		if err == nil {
			p.Close()
		}
		return err
	}
	require.NoError(t, opens(whole))
	assert.ErrorIs(t, opens(append([]byte("MZ"), whole...)), errRefused, "before")
	assert.ErrorIs(t, opens(append(bytes.Clone(whole), "tail"...)), errRefused, "behind")
	remark := append(bytes.Clone(whole), "tail"...)
	remark[len(whole)-2] = 4
	assert.ErrorIs(t, opens(remark), errRefused, "a remark")
	// Every byte of the first file's local header that is turned.
	for i := range 30 + int(binary.LittleEndian.Uint16(whole[26:])) {
		turned := bytes.Clone(whole)
		turned[i] ^= 1
		assert.ErrorIs(t, opens(turned), errRefused, "byte %d", i)
	}
}

// TestSignature: the right key opens, another one and changed bytes do not, and a
// workshop that signed once signs from then on.
func TestSignature(t *testing.T) {
	name, data := packed(t, example(t), Options{Years: []string{"2024"}})
	keys := t.TempDir()
	private, public, err := NewKey(filepath.Join(keys, "a"))
	require.NoError(t, err)
	_, other, err := NewKey(filepath.Join(keys, "b"))
	require.NoError(t, err)
	info, err := os.Stat(private)
	require.NoError(t, err)
	assert.Equal(t, fs.FileMode(0o600), info.Mode().Perm())
	_, _, err = NewKey(filepath.Join(keys, "a"))
	assert.ErrorIs(t, err, fs.ErrExist)
	_, err = Open(name, public)
	assert.ErrorIs(t, err, errRefused, "no signature")
	_, err = Sign(name, private)
	require.NoError(t, err)
	p, err := Open(name, public)
	require.NoError(t, err)
	p.Close()
	text, _ := os.ReadFile(public)
	p, err = Open(name, string(text))
	require.NoError(t, err, "the key may be written out")
	p.Close()
	_, err = Open(name, other)
	assert.ErrorIs(t, err, errRefused, "another key")
	_, err = Open(name, "nonsense")
	assert.Error(t, err)
	into := fresh(t)
	received(t, name, public, into)
	p, err = Open(name, "")
	require.NoError(t, err)
	_, err = p.Preview(load(t, into))
	assert.ErrorIs(t, err, errRefused, "unsigned after signed")
	p.Close()
	data[len(data)/2] ^= 1
	require.NoError(t, os.WriteFile(name, data, 0o644))
	_, err = Open(name, public)
	assert.ErrorIs(t, err, errRefused, "changed bytes")
	require.NoError(t, os.Chmod(private, 0o644))
	_, err = Sign(name, private)
	assert.ErrorContains(t, err, "chmod 600")
}

// TestCorruptedCopies: a hundred copies with one byte changed somewhere that
// matters, and one cut at every byte, are all refused with nothing written.
func TestCorruptedCopies(t *testing.T) {
	keys := t.TempDir()
	private, public, err := NewKey(keys)
	require.NoError(t, err)
	name, data := packed(t, example(t), Options{Devices: []string{"tarnwick-a40"}})
	_, err = Sign(name, private)
	require.NoError(t, err)
	into := fresh(t)
	before := tree(t, into)
	r := rand.New(rand.NewPCG(3, 4))
	refused := 0
	for range 100 {
		broken := bytes.Clone(data)
		broken[r.IntN(len(broken))] ^= byte(1 + r.IntN(255))
		require.NoError(t, os.WriteFile(name, broken, 0o644))
		_, err := Open(name, public)
		require.ErrorIs(t, err, errRefused)
		refused++
	}
	assert.Equal(t, 100, refused)
	step := max(1, len(data)/4_000)
	for n := 0; n < len(data); n += step {
		require.NoError(t, os.WriteFile(name, data[:n], 0o644))
		if _, err := Open(name, ""); err == nil {
			t.Fatalf("cut after %d of %d bytes it was taken", n, len(data))
		}
	}
	assert.Equal(t, before, tree(t, into))
}

// forged writes an archive with a manifest that fits it, then lets it be spoilt.
func forged(t *testing.T, files map[string]string, spoil func(z *zip.Writer, m *Manifest)) string {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	m := Manifest{Format: packFormat, Version: packVersion, Origin: Origin{"evil", "Evil"}}
	put := func(name, text string) {
		w, err := z.Create(name)
		require.NoError(t, err)
		_, _ = w.Write([]byte(text))
	}
	for name, text := range files {
		put(name, text)
		m.Files = append(m.Files, File{name, int64(len(text)), digest([]byte(text))})
	}
	if spoil != nil {
		spoil(z, &m)
	}
	text, err := json.Marshal(m)
	require.NoError(t, err)
	put(manifestName, string(text))
	require.NoError(t, z.Close())
	name := filepath.Join(t.TempDir(), "evil.zip")
	require.NoError(t, os.WriteFile(name, b.Bytes(), 0o644))
	return name
}

const plainCase = "---\ncase: 2026-0001\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\n---\n## Symptom\n\nIt flickers.\n"

// TestHostileArchives: every one is refused, and nothing is written anywhere.
func TestHostileArchives(t *testing.T) {
	into := fresh(t)
	before := tree(t, into)
	outside := tree(t, filepath.Dir(into))
	ok := forged(t, map[string]string{"notes/cases/2026/2026-0001-t.md": plainCase}, nil)
	p, err := Open(ok, "")
	require.NoError(t, err)
	p.Close()
	add := func(name, text string) func(z *zip.Writer, m *Manifest) {
		return func(z *zip.Writer, m *Manifest) {
			w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate})
			require.NoError(t, err)
			_, _ = w.Write([]byte(text))
			m.Files = append(m.Files, File{name, int64(len(text)), digest([]byte(text))})
		}
	}
	mode := func(name string, mode fs.FileMode) func(z *zip.Writer, m *Manifest) {
		return func(z *zip.Writer, m *Manifest) {
			h := &zip.FileHeader{Name: name}
			h.SetMode(mode)
			w, err := z.CreateHeader(h)
			require.NoError(t, err)
			_, _ = w.Write([]byte("/etc/passwd"))
			m.Files = append(m.Files, File{name, 11, digest([]byte("/etc/passwd"))})
		}
	}
	both := func(a, b func(z *zip.Writer, m *Manifest)) func(z *zip.Writer, m *Manifest) {
		return func(z *zip.Writer, m *Manifest) { a(z, m); b(z, m) }
	}
	for name, spoil := range map[string]func(z *zip.Writer, m *Manifest){
		"up":                   add("notes/../../escape.md", plainCase),
		"up at once":           add("../escape.md", plainCase),
		"absolute":             add("/tmp/escape.md", plainCase),
		"backslashes":          add(`notes\..\..\escape.md`, plainCase),
		"a drive":              add("C:/escape.md", plainCase),
		"a stream":             add("notes/a.md:hidden", plainCase),
		"a zero byte":          add("notes/a\x00.md", plainCase),
		"not UTF-8":            add("notes/\xff.md", plainCase),
		"a line break":         add("notes/a\nb.md", plainCase),
		"turned text":          add("notes/cases/a\u202egpj.md", plainCase),
		"a point":              add("notes/.benchlore/site.gob", "x"),
		"git":                  add("notes/.git/hooks/post-checkout", "x"),
		"a reserved name":      add("notes/cases/CON.md", plainCase),
		"a reserved name, low": add("notes/cases/com1", plainCase),
		"a point at the end":   add("notes/cases/a.", plainCase),
		"a blank at the end":   add("notes/cases /a.md", plainCase),
		"too long":             add("notes/"+strings.Repeat("a", 300)+".md", plainCase),
		"too deep":             add("notes/"+strings.Repeat("a/", 250)+"a.md", plainCase),
		"empty":                add("", plainCase),
		"a folder":             add("notes/cases/", ""),
		"a link":               mode("notes/cases/link.md", 0o777|fs.ModeSymlink),
		"a device":             mode("notes/cases/dev.md", 0o666|fs.ModeDevice),
		"a pipe":               mode("notes/cases/pipe.md", 0o666|fs.ModeNamedPipe),
		"a name twice":         both(add("notes/terms/a.yaml", "x"), add("notes/terms/a.yaml", "y")),
		"case alone":           both(add("notes/terms/A.yaml", "x"), add("notes/terms/a.yaml", "x")),
		"composition alone":    both(add("notes/terms/caf\u00e9.yaml", "x"), add("notes/terms/cafe\u0301.yaml", "x")),
		"width alone":          both(add("notes/terms/a.yaml", "x"), add("notes/terms/\uff41.yaml", "x")),
		"sharp s":              both(add("notes/terms/stra\u00dfe.yaml", "x"), add("notes/terms/STRASSE.yaml", "x")),
		"a file and a folder":  both(add("notes/terms/a", "x"), add("notes/terms/a/b.yaml", "x")),
		"elsewhere":            add("bin/run.sh", "x"),
		"not listed":           func(z *zip.Writer, m *Manifest) { w, _ := z.Create("notes/terms/x.yaml"); _, _ = w.Write([]byte("x")) },
		"listed twice, one not at all": func(z *zip.Writer, m *Manifest) {
			w, _ := z.Create("notes/terms/x.yaml")
			_, _ = w.Write([]byte("x"))
			m.Files = append(m.Files, m.Files[0])
		},
		"a colon at the end":   add("notes/terms/a:", "x"),
		"a control sign":       add("notes/terms/a\x1f.yaml", "x"),
		"a sum in capitals":    func(z *zip.Writer, m *Manifest) { m.Files[0].SHA256 = strings.ToUpper(m.Files[0].SHA256) },
		"an origin of Windows": func(z *zip.Writer, m *Manifest) { m.Origin.ID = "con" },
		"small bombs": func(z *zip.Writer, m *Manifest) {
			for i := range 20 {
				add(fmt.Sprintf("notes/cases/2026/bomb%d.md", i), strings.Repeat("a", 100<<10))(z, m)
			}
		},
		"listed and not there": func(z *zip.Writer, m *Manifest) {
			m.Files = append(m.Files, File{"notes/terms/x.yaml", 1, digest([]byte("x"))})
		},
		"another sum":           func(z *zip.Writer, m *Manifest) { m.Files[0].SHA256 = digest([]byte("other")) },
		"another size":          func(z *zip.Writer, m *Manifest) { m.Files[0].Bytes++ },
		"lists itself":          func(z *zip.Writer, m *Manifest) { m.Files[0].Path = manifestName },
		"another format":        func(z *zip.Writer, m *Manifest) { m.Format = "other" },
		"another version":       func(z *zip.Writer, m *Manifest) { m.Version = 99 },
		"an origin that climbs": func(z *zip.Writer, m *Manifest) { m.Origin.ID = "../../x" },
		"no origin":             func(z *zip.Writer, m *Manifest) { m.Origin = Origin{} },
		"an origin with lines":  func(z *zip.Writer, m *Manifest) { m.Origin.Name = "a\nb" },
		"a bomb":                add("notes/cases/2026/bomb.md", strings.Repeat("a", 20<<20)),
		"too large": func(z *zip.Writer, m *Manifest) {
			w, err := z.CreateRaw(&zip.FileHeader{Name: "notes/a.md", Method: zip.Store, UncompressedSize64: 1 << 40,
				CompressedSize64: 1 << 40})
			require.NoError(t, err)
			_, _ = w.Write([]byte("x"))
			m.Files = append(m.Files, File{"notes/a.md", 1 << 40, digest([]byte("x"))})
		},
	} {
		t.Run(name, func(t *testing.T) {
			file := forged(t, map[string]string{"notes/cases/2026/2026-0001-t.md": plainCase}, spoil)
			_, err := Open(file, "")
			assert.ErrorIs(t, err, errRefused)
		})
	}
	// What is well packed and still not a notebook's is refused before writing.
	for name, files := range map[string]map[string]string{
		"no case":             {"notes/cases/2026/x.md": "hello"},
		"a script":            {"notes/cases/2026/run.sh": "#!/bin/sh"},
		"a stray picture":     {"notes/cases/2026/2026-0001/a.exe": "MZ"},
		"two of one number":   {"notes/cases/2026/2026-0001-a.md": plainCase, "notes/cases/2026/2026-0001-b.md": plainCase},
		"no device":           {"notes/devices/a.md": "hello"},
		"a device's stranger": {"notes/devices/x/a.csv": "a"},
		"a climbing device":   {"notes/devices/a.md": "---\ndevice: ../../x\nkind: lamp\nmaker: V\nmodel: L\n---\n"},
		"words that are none": {"notes/terms/a.yaml": "places: 7"},
	} {
		t.Run(name, func(t *testing.T) {
			p, err := Open(forged(t, files, nil), "")
			require.NoError(t, err)
			defer p.Close()
			_, err = p.Preview(load(t, into))
			assert.ErrorIs(t, err, errRefused)
		})
	}
	assert.Equal(t, before, tree(t, into))
	assert.Equal(t, outside, tree(t, filepath.Dir(into)))
}

// TestLinksInOurNotebook: a folder of ours that is a link is not written through.
func TestLinksInOurNotebook(t *testing.T) {
	into, elsewhere := fresh(t), t.TempDir()
	require.NoError(t, os.Symlink(elsewhere, filepath.Join(into, "cases", "from-evil")))
	p, err := Open(forged(t, map[string]string{"notes/cases/2026/2026-0001-t.md": plainCase}, nil), "")
	require.NoError(t, err)
	defer p.Close()
	plan, err := p.Preview(load(t, into))
	require.NoError(t, err)
	assert.Len(t, plan.Conflicts, 1)
	require.NoError(t, plan.Receive(context.Background()))
	assert.Empty(t, tree(t, elsewhere))
}

// TestInterruptedReceive: stopped after any file, a rerun finishes.
func TestInterruptedReceive(t *testing.T) {
	name, _ := packed(t, example(t), Options{Years: []string{"2026"}})
	whole := fresh(t)
	received(t, name, "", whole)
	want := tree(t, whole)
	for stop := 0; stop < 12; stop += long.Or(1, 3) {
		into := fresh(t)
		p, err := Open(name, "")
		require.NoError(t, err)
		plan, err := p.Preview(load(t, into))
		require.NoError(t, err)
		ctx, cancel := context.WithCancel(context.Background())
		for i := range plan.todo {
			if i == stop*3 {
				read := plan.todo[i].read
				plan.todo[i].read = func() ([]byte, error) { cancel(); return read() }
			}
		}
		err = plan.Receive(ctx)
		cancel()
		p.Close()
		if err != nil {
			assert.ErrorIs(t, err, context.Canceled)
		}
		assert.Zero(t, load(t, into).Errors(), "what is there is whole")
		received(t, name, "", into)
		assert.Equal(t, want, tree(t, into), fmt.Sprint("stopped after ", stop*3))
	}
}

func FuzzOpen(f *testing.F) {
	_, data := packed(f, example(f), Options{Devices: []string{"tarnwick-a40"}, Years: []string{"2025"}})
	f.Add(data)
	f.Add([]byte("PK\x05\x06" + strings.Repeat("\x00", 18)))
	into := fresh(f)
	n := load(f, into)
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, data []byte) {
		name := filepath.Join(dir, "f.zip")
		if err := os.WriteFile(name, data, 0o644); err != nil {
			t.Skip()
		}
		p, err := Open(name, "")
		if err != nil {
			return
		}
		defer p.Close()
		if plan, err := p.Preview(n); err == nil {
			for _, todo := range plan.todo {
				if filename.CheckPath(todo.path) != nil {
					t.Fatalf("%q would be written", todo.path)
				}
			}
		}
	})
}

// TestPicturesOfAPack: a picture in a pack that its maker did not clean is received
// cleaned, a WebP goes out as PNG under its own name and can be received so, and one that
// cannot be decoded is named.
func TestPicturesOfAPack(t *testing.T) {
	const drawing = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><script>alert(1)</script><title>PLANTED</title>` +
		`<rect width="5" height="5" onclick="PLANTED()"/><text x="99" y="99">PLANTED</text></svg>`
	webp, err := os.ReadFile(filepath.Join("..", "picture", "testdata", "webp", "lossy.webp"))
	require.NoError(t, err)
	illustrated := strings.Replace(plainCase, "symptoms: [flicker]", "symptoms: [flicker]\nphotos: [{file: a.svg, caption: A}, {file: b.webp, caption: B}]", 1)
	name := forged(t, map[string]string{"notes/cases/2026/2026-0001-t.md": illustrated,
		"notes/cases/2026/2026-0001/a.svg": drawing, "notes/cases/2026/2026-0001/b.webp": string(webp) + "PLANTED"}, nil)
	ours := fresh(t)
	received(t, name, "", ours)
	got := tree(t, ours)
	folder := "cases/from-evil/2026/evil-2026-0001/"
	assert.Equal(t, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><rect height="5" width="5"/></svg>`, got[folder+"a.svg"])
	assert.True(t, strings.HasPrefix(got[folder+"b.webp"], "\x89PNG"))
	for file, text := range got {
		if !strings.HasPrefix(file, "received/") {
			assert.NotContains(t, text, "PLANTED", file)
		}
	}
	again := received(t, name, "", ours)
	assert.Empty(t, again.New, "the same pack brings nothing new")
	assert.Empty(t, again.Changed)
	assert.Empty(t, again.Conflicts)

	theirs := fresh(t)
	for file, text := range map[string]string{"2026-0001-t.md": illustrated, "2026-0001/a.svg": drawing, "2026-0001/b.webp": string(webp)} {
		file = filepath.Join(theirs, "cases", "2026", file)
		require.NoError(t, os.MkdirAll(filepath.Dir(file), 0o755))
		require.NoError(t, os.WriteFile(file, []byte(text), 0o644))
	}
	require.NoError(t, os.WriteFile(filepath.Join(theirs, "notebook.yaml"), []byte("name: Quayside\n"), 0o644))
	out, data := packed(t, theirs, Options{})
	inside := contents(t, data)
	assert.Equal(t, got[folder+"a.svg"], inside["notes/cases/2026/2026-0001/a.svg"])
	assert.Equal(t, got[folder+"b.webp"], inside["notes/cases/2026/2026-0001/b.webp"])
	received(t, out, "", ours)
	assert.Equal(t, got[folder+"b.webp"], tree(t, ours)["cases/from-quayside/2026/quayside-2026-0001/b.webp"])

	for what, picture := range map[string]string{"GIF": "GIF89a", "moving": func() string {
		moving, err := os.ReadFile(filepath.Join("..", "picture", "testdata", "webp", "moving.webp"))
		require.NoError(t, err)
		return string(moving)
	}()} {
		p, err := Open(forged(t, map[string]string{"notes/cases/2026/2026-0001-t.md": illustrated,
			"notes/cases/2026/2026-0001/a.svg": drawing, "notes/cases/2026/2026-0001/b.webp": picture}, nil), "")
		require.NoError(t, err)
		_, err = p.Preview(load(t, fresh(t)))
		p.Close()
		assert.ErrorIs(t, err, errRefused)
		assert.ErrorContains(t, err, "b.webp")
		assert.ErrorContains(t, err, what)
	}
}
