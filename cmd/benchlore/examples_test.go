package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/write/editor"
)

// TestExamplesWork runs every example of every command's help in a copy of the
// example notebook, with what the examples name beside it. Examples of one command
// run after one another in one place; those that serve are interrupted.
func TestExamplesWork(t *testing.T) {
	program := built(t)
	fixtures := t.TempDir()
	prepareExamples(t, program, fixtures)
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			walk(sub)
		}
		if strings.HasPrefix(c.CommandPath(), "benchlore completion") || c.Name() == "help" {
			return // the library's own
		}
		t.Run(strings.ReplaceAll(c.CommandPath(), " ", "-"), func(t *testing.T) {
			t.Parallel()
			lines := examplesOf(c)
			require.NotEmpty(t, lines, "the help has no example")
			box := t.TempDir()
			require.NoError(t, os.CopyFS(box, os.DirFS(fixtures)))
			keys := filepath.Join(box, "home", "keys")
			require.NoError(t, os.Chmod(filepath.Join(keys, "benchlore.key"), 0o600))
			switch c.Name() { // what these make is not there yet
			case "benchlore", "start":
				require.NoError(t, os.RemoveAll(filepath.Join(box, "notebook", "bench-notes")))
			case "key":
				require.NoError(t, os.RemoveAll(keys))
			case "board", "add":
				for _, d := range []string{"aldermoor-hb4", "tarnwick-a40"} {
					require.NoError(t, os.RemoveAll(filepath.Join(box, "notebook", "devices", d)))
				}
			}
			for _, line := range lines {
				out, err := runExample(t, program, box, line)
				assert.NoError(t, err, "%s\n%s", line, out)
			}
		})
	}
	walk(newRoot())
}

// continued is where an example goes on in the next line.
var continued = regexp.MustCompile(` *\\\n *`)

// remark is what stands behind an example, three spaces away.
var remark = regexp.MustCompile(` {3,}.*$`)

func examplesOf(c *cobra.Command) []string {
	var out []string
	for line := range strings.Lines(continued.ReplaceAllString(c.Example, " ")) {
		if line = remark.ReplaceAllString(strings.TrimSpace(line), ""); line != "" {
			out = append(out, line)
		}
	}
	return out
}

// serving is said by commands that then wait for a browser.
var serving = regexp.MustCompile(`https?://127\.0\.0\.1`)

func runExample(t *testing.T, program, box, line string) (string, error) {
	line = strings.NewReplacer("/media/stick", filepath.Join(box, "stick"), "/tmp/look", filepath.Join(box, "look"),
		" --open", "", "--port 8080", "--port 0").Replace(line)
	answers := ""
	if line == "benchlore writeup" {
		answers = "Lamp stays dark\nlamp\n" + strings.Repeat("\n", 60)
	}
	return runLine(t, program, box, filepath.Join(box, "notebook"), line, answers)
}

// runLine runs a line of a shell in a folder; with answers on a terminal. One that
// serves is interrupted as soon as it says where.
func runLine(t *testing.T, program, box, dir, line, answers string) (string, error) {
	ctx, stop := context.WithTimeout(t.Context(), 2*time.Minute)
	defer stop()
	cmd := exec.CommandContext(ctx, "sh", "-c", "exec "+line)
	if answers != "" { // it asks, and wants a terminal for that
		cmd = exec.CommandContext(ctx, "script", "-qec", line, os.DevNull)
		cmd.Stdin = strings.NewReader(answers)
	}
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "PATH="+filepath.Dir(program)+string(os.PathListSeparator)+os.Getenv("PATH"),
		"HOME="+filepath.Join(box, "home"), "XDG_CONFIG_HOME="+filepath.Join(box, "home", "config"))
	var out watched
	out.said = make(chan struct{})
	cmd.Stdout, cmd.Stderr = &out, &out
	if err := cmd.Start(); err != nil {
		return "", err
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	select {
	case err := <-ended:
		return out.b.String(), err
	case <-out.said:
		_ = cmd.Process.Signal(os.Interrupt)
		err := <-ended
		return out.b.String(), err
	}
}

// watched keeps what is said and tells when an address was.
type watched struct {
	b    bytes.Buffer
	said chan struct{}
	told bool
}

func (w *watched) Write(p []byte) (int, error) {
	n, err := w.b.Write(p)
	if !w.told && serving.Match(w.b.Bytes()) {
		w.told = true
		close(w.said)
	}
	return n, err
}

// prepareExamples makes what the examples name: the notebook, another one inside it,
// a neighbour's signed pack, parts lists, keys, a table of repairs and an earlier
// version of a case.
func prepareExamples(t *testing.T, program, dir string) {
	t.Helper()
	say := runs(program)
	ok := func(in string, args ...string) {
		t.Helper()
		out, err := say(in, args...)
		require.NoError(t, err, "%v\n%s", args, out)
	}
	book := filepath.Join(dir, "notebook")
	require.NoError(t, writeExample(book))
	require.NoError(t, writeExample(filepath.Join(book, "bench-notes")))
	device := filepath.Join(book, "devices", "aldermoor-hb4")
	for from, to := range map[string]string{"*.csv": "main.csv", "*.ipc": "main.ipc"} {
		files, err := filepath.Glob(filepath.Join(device, from))
		require.NoError(t, err)
		require.NotEmpty(t, files)
		copyTo(t, files[0], filepath.Join(book, to))
	}
	require.NoError(t, os.WriteFile(filepath.Join(book, "read-u7.bin"), []byte("abc"), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(book, "top.csv"),
		[]byte("Part,X,Y,Rotation,Side,Value,Footprint\nR1,100,200,0,top,4k7,0603\nC1,300,200,90,top,100n,0402\n"), 0o644))
	copyTo(t, filepath.Join("..", "..", "testdata", "open-repair.csv"), filepath.Join(book, "OpenRepairData.csv"))
	keys := filepath.Join(dir, "home", "keys")
	require.NoError(t, os.MkdirAll(keys, 0o755))
	ok("", "key", "--out", keys)
	neighbour := filepath.Join(t.TempDir(), "quayside")
	require.NoError(t, writeExample(neighbour))
	config := filepath.Join(neighbour, "notebook.yaml")
	src, err := os.ReadFile(config)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(config, bytes.Replace(src, []byte("name: Tidewater Bench"), []byte("name: Quayside"), 1), 0o644))
	ok("", "pack", neighbour, "--out", filepath.Join(book, "quayside.zip"), "--closed", "--sign", filepath.Join(keys, "benchlore.key"))
	signatures, err := filepath.Glob(filepath.Join(book, "quayside.zip*"))
	require.NoError(t, err)
	require.Greater(t, len(signatures), 1)
	copyTo(t, filepath.Join(keys, "benchlore.pub"), filepath.Join(book, "quayside.pub"))
	copyTo(t, filepath.Join(book, "quayside.zip"), filepath.Join(book, "other-quayside.zip"))
	cases, err := filepath.Glob(filepath.Join(book, "cases", "2026", "2026-0018*.md"))
	require.NoError(t, err)
	require.Len(t, cases, 1)
	now, err := os.ReadFile(cases[0])
	require.NoError(t, err)
	path := filepath.ToSlash(filepath.Join("cases", "2026", filepath.Base(cases[0])))
	require.NoError(t, editor.NewStore(book, 0).Save("2026-0018", path, editor.VersionOf(now), append(now, "\nOne more line.\n"...)))
}

func copyTo(t *testing.T, from, to string) {
	t.Helper()
	data, err := os.ReadFile(from)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(to, data, 0o644))
}

// setLanguage writes another language into a notebook's settings.
func setLanguage(t *testing.T, book, tag string) {
	t.Helper()
	path := filepath.Join(book, "notebook.yaml")
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, bytes.Replace(data, []byte("language: en"), []byte("language: "+tag), 1), 0o644))
}
