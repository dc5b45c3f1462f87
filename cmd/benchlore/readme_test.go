package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// command is a line that a reader is told to type, and where.
type command struct {
	line string
	demo bool // in the demo's notebook; otherwise in their own new one
}

// behind is a remark behind a command.
var behind = regexp.MustCompile(` {2,}#.*$`)

// commandsOf lists the commands of a text. A paragraph that names the demo's
// notebook and ends with a colon speaks of the block below it.
func commandsOf(text string) (list []command) {
	demo := false
	for line := range strings.Lines(text) {
		line = strings.TrimRight(line, "\n")
		typed, ok := strings.CutPrefix(line, "    ")
		switch {
		case !ok && line != "":
			demo = strings.Contains(line, "demo's notebook") && strings.HasSuffix(line, ":")
		case ok && strings.HasPrefix(typed, "benchlore "):
			list = append(list, command{behind.ReplaceAllString(typed, ""), demo})
		}
	}
	return list
}

// sampleCase is the case that the README shows.
func sampleCase(t *testing.T, readme string) string {
	_, rest, ok := strings.Cut(readme, "\n## A case\n")
	require.True(t, ok)
	var b strings.Builder
	for line := range strings.Lines(rest) {
		if strings.HasPrefix(line, "    ") || line == "\n" {
			b.WriteString(strings.TrimPrefix(line, "    "))
		} else {
			break
		}
	}
	return strings.TrimLeft(b.String(), "\n")
}

// TestTypedCommands runs every command of the README and of the pages on each task
// in the state that its reader is in: a notebook that was begun a moment ago, with
// one device and the README's sample case, or the demo's.
func TestTypedCommands(t *testing.T) {
	program := built(t)
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	require.NoError(t, err)
	pages, err := filepath.Glob(filepath.Join("..", "..", "theme", "docs", "en", "*.md"))
	require.NoError(t, err)
	require.NotEmpty(t, pages)
	texts := map[string]string{"README.md": string(readme)}
	for _, p := range pages {
		data, err := os.ReadFile(p)
		require.NoError(t, err)
		texts[filepath.Base(p)] = string(data)
	}
	fixtures := t.TempDir()
	prepareExamples(t, program, fixtures)
	say := runs(program)
	for name, text := range texts {
		commands := commandsOf(text)
		if len(commands) == 0 {
			continue
		}
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			box := t.TempDir()
			require.NoError(t, os.MkdirAll(filepath.Join(box, "home"), 0o755))
			demo, own := filepath.Join(box, "demo"), filepath.Join(box, "own")
			require.NoError(t, writeExample(demo))
			out, err := say("", "start", own, "--name", "Bench")
			require.NoError(t, err, out)
			require.NoError(t, os.WriteFile(filepath.Join(own, "devices", "velm-kettle.md"),
				[]byte("---\ndevice: velm-kettle\nkind: kettle\nmaker: Velm\nmodel: Kettle\nhazards: [mains]\n---\n"), 0o644))
			require.NoError(t, os.WriteFile(filepath.Join(own, "cases", "2026-0031-desk-lamp.md"),
				[]byte(sampleCase(t, string(readme))), 0o644))
			out, err = say("", "check", own)
			require.NoError(t, err, out)
			assert.Contains(t, out, "no problem found", "the sample case")
			for _, file := range []string{"main.csv", "main.ipc", "OpenRepairData.csv",
				"quayside.zip"} { // what the text says that the reader has
				copyTo(t, filepath.Join(fixtures, "notebook", file), filepath.Join(own, file))
			}
			copyTo(t, filepath.Join(own, "quayside.zip"), filepath.Join(own, "notes-of-others.zip"))
			for _, c := range commands {
				line := strings.NewReplacer("CASE", "2026-0031", "DEVICE", "velm-kettle", "FOLDER",
					filepath.Join(box, "keys"), "/media/stick", filepath.Join(box, "stick"), "bench-notes",
					filepath.Join(box, "bench-notes"), " --open", "", "~", filepath.Join(box, "home")).Replace(c.line)
				if dir, file := filepath.Split(line[strings.LastIndexByte(line, ' ')+1:]); strings.Contains(line, "> ") || file == "man1" {
					require.NoError(t, os.MkdirAll(dir, 0o755)) // the text makes it
				}
				in := own
				if c.demo {
					in = demo
				}
				out, err := typed(t, program, box, in, line)
				code := 0
				if exit, ok := err.(*exec.ExitError); ok {
					code = exit.ExitCode()
				} else {
					require.NoError(t, err, line)
				}
				assert.NotContains(t, out, "goroutine", line)
				// A new notebook has little to find, and says so with 1.
				nothing := !c.demo && regexp.MustCompile(`^benchlore (find|similar|practise|history|erase|pack)\b`).MatchString(line)
				assert.True(t, code == 0 || code == 1 && nothing, "%s: exit code %d\n%s", c.line, code, out)
			}
		})
	}
}

// typed runs a line in a folder; on a terminal where the command asks.
func typed(t *testing.T, program, box, dir, line string) (string, error) {
	if strings.HasPrefix(line, "benchlore writeup --close") {
		return runLine(t, program, box, dir, line, strings.Repeat("\n", 6)+"unknown\n"+strings.Repeat("\n", 20))
	}
	if strings.HasPrefix(line, "benchlore writeup") {
		return runLine(t, program, box, dir, line, "Lamp stays dark\nlamp\n"+strings.Repeat("\n", 60))
	}
	return runLine(t, program, box, dir, line, "")
}
