package pack

import (
	"bytes"
	"context"
	stdjson "encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const plainManifest = `{"format":"benchlore pack","version":1,"schema":"case 1","origin":{"id":"a","name":"A"},"licence":"",` +
	`"anonymous":false,"counts":{"cases":1,"devices":0,"pictures":0,"terms":0,"site":0},"files":[{"path":"p","bytes":1,"sha256":"s"}]}`

// TestStrictJSON: a manifest or a state says each thing once and nothing else.
func TestStrictJSON(t *testing.T) {
	var m Manifest
	require.NoError(t, strictly([]byte(plainManifest), &m))
	require.NoError(t, strictly([]byte(" "+plainManifest+"\n"), &m))
	change := func(old, new string) string {
		require.Equal(t, 1, strings.Count(plainManifest, old), old)
		return strings.Replace(plainManifest, old, new, 1)
	}
	for name, text := range map[string]string{
		"a key twice":                    change(`"version":1`, `"version":1,"version":1`),
		"a key twice, once escaped":      change(`"version":1`, `"version":1,"versio\u006e":1`),
		"a key twice below":              change(`"id":"a"`, `"id":"a","id":"b"`),
		"a key twice in a list":          change(`"path":"p"`, `"path":"p","path":"q"`),
		"other capitals":                 change(`"format"`, `"Format"`),
		"other capitals beside":          change(`"version":1`, `"version":1,"VERSION":2`),
		"a letter that folds to another": change(`"schema"`, `"\u017fchema"`),
		"a key that is none":             change(`"version":1`, `"version":1,"extra":1`),
		"a key that is none, below":      change(`"bytes":1`, `"bytes":1,"mode":511`),
		"something behind":               plainManifest + "{}",
		"a letter behind":                plainManifest + "x",
		"a zero behind":                  plainManifest + "\x00",
		"not UTF-8":                      change(`"name":"A"`, "\"name\":\"\xff\""),
		"half a pair":                    change(`"name":"A"`, `"name":"\ud800"`),
		"a remark":                       change(`"version":1`, `"version":1/* x */`),
		"a comma at the end":             change(`"sha256":"s"`, `"sha256":"s",`),
		"a number as text":               change(`"version":1`, `"version":"1"`),
		"nothing":                        "",
	} {
		assert.Error(t, strictly([]byte(text), &Manifest{}), name)
	}
	var s state
	assert.Error(t, strictly([]byte(`{"origin":{"id":"a","name":"A"},"licence":"","files":{"a":"1","a":"2"}}`), &s))
	dir := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(dir, "received"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "received", "a.json"), []byte(`{"files":{},"Files":{}}`), 0o644))
	_, err := readState(dir, "a")
	assert.ErrorContains(t, err, "received/a.json")
}

// twice reports whether some object of a JSON text has a key twice, by the tokens of
// encoding/json.
func twice(text []byte) bool {
	d := stdjson.NewDecoder(bytes.NewReader(text))
	var walk func() (bool, error)
	walk = func() (bool, error) {
		t, err := d.Token()
		if err != nil {
			return false, err
		}
		open, ok := t.(stdjson.Delim)
		if !ok {
			return false, nil
		}
		keys, found := map[string]bool{}, false
		for d.More() {
			if open == '{' {
				key, err := d.Token()
				if err != nil {
					return false, err
				}
				found = found || keys[key.(string)]
				keys[key.(string)] = true
			}
			below, err := walk()
			if err != nil {
				return false, err
			}
			found = found || below
		}
		_, err = d.Token()
		return found, err
	}
	found, err := walk()
	return err == nil && found
}

// FuzzStrictJSON: what is taken means the same to encoding/json, and no key stands twice
// in it.
func FuzzStrictJSON(f *testing.F) {
	for _, text := range []string{plainManifest, `{"format":"a","format":"a"}`, `{"files":[{"path":"a"},{"path":"a","path":"b"}]}`, `{"files":null}`, `{}`, `null`, `{"version":1e0}`} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		var ours, theirs Manifest
		if strictly(text, &ours) != nil {
			return
		}
		if !utf8.Valid(text) {
			t.Fatal("not UTF-8")
		}
		if twice(text) {
			t.Fatalf("a key stands twice in %q", text)
		}
		d := stdjson.NewDecoder(bytes.NewReader(text))
		d.DisallowUnknownFields()
		if err := d.Decode(&theirs); err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		if _, err := d.Token(); err != io.EOF {
			t.Fatalf("something stands behind %q", text)
		}
		if len(ours.Files)+len(theirs.Files) == 0 {
			ours.Files, theirs.Files = nil, nil // null and an empty list
		}
		if !reflect.DeepEqual(ours, theirs) {
			t.Fatalf("%q: %v, and %v to encoding/json", text, ours, theirs)
		}
	})
}

// TestDrawingsComeInCleaned: of a drawing comes in what it shows, and what is no picture or
// has a script that cannot be cut out is refused before a byte is written.
func TestDrawingsComeInCleaned(t *testing.T) {
	withPhoto := func(name string) string {
		return strings.Replace(plainCase, "symptoms:", "photos: [{file: "+name+", caption: C}]\nsymptoms:", 1)
	}
	const drawing = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><!-- zebra --><path d="M0 0L9 9"/></svg>`
	into := fresh(t)
	received(t, forged(t, map[string]string{"notes/cases/2026/2026-0001-t.md": withPhoto("a.svg"),
		"notes/cases/2026/2026-0001/a.svg": drawing}, nil), "", into)
	n := 0
	for name, text := range tree(t, into) {
		if strings.HasSuffix(name, ".svg") {
			n++
			assert.Contains(t, text, "M0 0L9 9")
			assert.NotContains(t, text, "zebra")
		}
	}
	assert.Equal(t, 1, n)
	scripted := fresh(t)
	p, err := Open(forged(t, map[string]string{"notes/cases/2026/2026-0001-t.md": withPhoto("a.svg"),
		"notes/cases/2026/2026-0001/a.svg": strings.Replace(drawing, "<path", "<script>zebra()</script><path", 1)}, nil), "")
	require.NoError(t, err)
	defer p.Close()
	if plan, err := p.Preview(load(t, scripted)); err == nil {
		require.NoError(t, plan.Receive(context.Background()))
	}
	for name, text := range tree(t, scripted) {
		assert.NotContains(t, text, "zebra", name)
	}
	for name, text := range map[string]string{"a.svg": "<svg", "a.jpg": "MZ", "a.png": drawing} {
		into := fresh(t)
		before := tree(t, into)
		p, err := Open(forged(t, map[string]string{"notes/cases/2026/2026-0001-t.md": withPhoto(name), "notes/cases/2026/2026-0001/" + name: text}, nil), "")
		require.NoError(t, err)
		plan, err := p.Preview(load(t, into))
		if err == nil {
			err = plan.Receive(context.Background())
		}
		p.Close()
		assert.ErrorIs(t, err, errRefused, name)
		assert.Equal(t, before, tree(t, into), fmt.Sprint(name, ": nothing is written"))
	}
}
