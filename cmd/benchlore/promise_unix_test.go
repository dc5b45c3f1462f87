//go:build unix

package main

import (
	"archive/zip"
	"bytes"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// planted stands for what only the workshop may read.
const planted = "zqplanted"

// privateCases are ways to write something private that YAML 1.2 and CommonMark allow;
// %s is the number of the case.
var privateCases = []string{
	"---\ncase: %s\ntitle: Lamp dark\ndevice: {kind: lamp}\nopened: 2026-01-02\nclosed: 2026-01-03\noutcome: fixed\nsymptoms: [flicker]\nprivate: {owner: zqplanted}\n---\n## Symptom\n\nDark.\n\n## Private\n\nzqplanted\n\n## Lesson\n\nLook.\n",
	"---\n  case: %s\n  title: Lamp dark\n  device: {kind: lamp}\n  opened: 2026-01-02\n  symptoms: [flicker]\n  ? private\n  : zqplanted # of zqplanted\n---\n## Symptom\n\nDark.\n\n&#80;rivate: owner\n---\n\nzqplanted\n\n## Lesson\n\nLook.\n",
	"---\n{case: %s, title: Lamp dark, device: {kind: lamp}, opened: 2026-01-02, symptoms: [flicker], \"priv\\u0061te\": [zqplanted]}\n---\n## Symptom\n\nDark.\n\n## \U0001F512 Private\n\n| zqplanted | b |\n|---|---|\n| zqplanted | c |\n\n## Lesson\n\nLook.\n",
	"---\r\ncase: %s\r\ntitle: Lamp dark\r\ndevice: {kind: lamp}\r\nopened: 2026-01-02\r\nsymptoms: [flicker]\r\nprivate: |\r\n  zqplanted\r\n  zqplanted\r\n---\r\n## Symptom\r\n\r\nDark.\r\n\r\n> ## (Private)\r\n>\r\n> zqplanted\r\n\r\n## Lesson\r\n\r\nLook.\r\n",
	"---\n# zqplanted\ncase: %s\ntitle: Lamp dark\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\n---\n## Symptom\n\nDark. <!-- zqplanted -->\n\n## 1. *Private* zqplanted\n\nzqplanted\n\n### More\n\nzqplanted\n\n## Lesson\n\nLook.\n",
}

// TestNothingPrivateInAnyOutput: no file that a command writes for others, nothing that
// it says, and no cache holds what is private.
func TestNothingPrivateInAnyOutput(t *testing.T) {
	t.Parallel()
	run := runs(built(t))
	dir := filepath.Join(t.TempDir(), "notes")
	put := func(name, text string) {
		path := filepath.Join(dir, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	put("notebook.yaml", "name: Quay Street\n# zqplanted\nprivate: zqplanted\n")
	put("terms/own.yaml", "private: zqplanted\nplaces:\n  - {id: cue-lift, name: Cue lift, meaning: Lowers the arm.} # zqplanted\n")
	put("devices/lumadane-arc.md", "---\ndevice: lumadane-arc\nkind: lamp\nmaker: Lumadane\nmodel: Arc\nprivate: zqplanted\n---\n## Notes\n\nA lamp.\n\n## Private\n\nzqplanted\n")
	for i, text := range privateCases {
		id := "2026-000" + string(rune('1'+i))
		put("cases/2026/"+id+"-lamp-dark.md", strings.Replace(text, "%s", id, 1))
	}
	text, err := run("", "check", dir)
	require.NoError(t, err, text)
	require.NotContains(t, text, planted)
	out := t.TempDir()
	at := func(name string) string { return filepath.Join(out, name) }
	for _, args := range [][]string{
		{"publish", dir, "--out", at("site")}, {"pack", dir, "--out", at("notes.zip")},
		{"pack", dir, "--with-site", "--out", at("both.zip")},
		{"export", "ords", dir, "--out", at("a.csv")}, {"export", "json", dir, "--out", at("a.json")},
		{"export", "csv", dir, "--out", at("b.csv")},
		{"export", "ndjson", dir, "--out", at("a.ndjson")}, {"export", "site", dir, "--out", at("site.zip")},
		{"export", "sheet", "2026-0001", "--notebook", dir, "--out", at("sheet.html")},
		{"label", "2026-0001", "--notebook", dir, "--out", at("label.pdf")},
		{"find", "--notebook", dir, "dark"}, {"find", "--notebook", dir, planted},
		{"similar", "2026-0001", "--notebook", dir}, {"triage", "--notebook", dir, "--symptom", "flicker"},
		{"figures", dir}, {"check", dir, "--format", "json"}, {"check", dir, "--format", "sarif"},
	} {
		text, err := run("", args...)
		switch {
		case args[0] == "similar": // there may be none
		case args[len(args)-1] != planted:
			assert.NoError(t, err, "%v: %s", args, text)
		default:
			text = strings.Replace(text, planted, "", 1) // what was asked for
		}
		assert.NotContains(t, text, planted, args)
	}
	clean := func(name string, data []byte) {
		assert.NotContains(t, strings.ToLower(string(data)), planted, name)
	}
	files := 0
	for _, root := range []string{out, filepath.Join(dir, ".benchlore")} {
		require.NoError(t, filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
			if err != nil || e.IsDir() {
				return err
			}
			data, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			files++
			clean(path, data)
			if filepath.Ext(path) != ".zip" {
				return nil
			}
			z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
			require.NoError(t, err)
			for _, f := range z.File {
				r, err := f.Open()
				require.NoError(t, err)
				inside, err := io.ReadAll(r)
				require.NoError(t, err)
				clean(path+": "+f.Name, inside)
			}
			return nil
		}))
	}
	assert.Greater(t, files, 60)
}

// TestReadOnlyNotebook: whoever may read a notebook and not write it finds, publishes
// elsewhere, and is told where writing fails. It runs as another user where this one
// may do everything.
func TestReadOnlyNotebook(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "notes")
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "cases"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "notebook.yaml"), []byte("name: Quay Street\n"), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "cases", "2026-0001.md"),
		[]byte(strings.Replace(privateCases[0], "%s", "2026-0001", 1)), 0o644))
	program, out := built(t), t.TempDir()
	require.NoError(t, os.Chmod(out, 0o777))
	for _, path := range []string{filepath.Join(dir, "cases"), dir} {
		require.NoError(t, os.Chmod(path, 0o555))
		t.Cleanup(func() { _ = os.Chmod(path, 0o755) })
	}
	for path := filepath.Dir(dir); len(path) > len(os.TempDir()); path = filepath.Dir(path) {
		require.NoError(t, os.Chmod(path, 0o755))
	}
	require.NoError(t, os.Chmod(filepath.Dir(program), 0o755))
	run := func(args ...string) (string, int) {
		cmd := exec.Command(program, args...)
		cmd.Dir, cmd.Env = out, []string{"HOME=/nonexistent", "TMPDIR=" + out}
		if os.Getuid() == 0 {
			const nobody = 65534
			cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
		}
		text, _ := cmd.CombinedOutput()
		return string(text), cmd.ProcessState.ExitCode()
	}
	for _, args := range [][]string{{"check", dir}, {"find", "--notebook", dir, "dark"},
		{"triage", "--notebook", dir, "--symptom", "flicker"}, {"publish", dir, "--out", filepath.Join(out, "site")},
		{"export", "csv", dir}} {
		text, code := run(args...)
		assert.Zero(t, code, "%v: %s", args, text)
	}
	text, code := run("writeup", "--notebook", dir, "--title", "Lamp", "--kind", "lamp")
	assert.Equal(t, 1, code, text)
	assert.Contains(t, text, "permission denied")
	assert.NoDirExists(t, filepath.Join(dir, ".benchlore"))
}
