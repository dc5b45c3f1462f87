//go:build unix

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"
	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// onTerminal runs the program on a pseudo-terminal and hands over what it says
// until a text is seen; then keys are pressed.
type onTerminal struct {
	t    *testing.T
	cmd  *exec.Cmd
	keys *os.File
	said chan string
	all  strings.Builder
}

// tooLong only keeps a test that hangs from hanging for ever.
const tooLong = 2 * time.Minute

func start(t *testing.T, width uint16, env []string, program string, args ...string) *onTerminal {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), tooLong)
	t.Cleanup(cancel)
	cmd := exec.CommandContext(ctx, program, args...)
	cmd.Env = append(os.Environ(), env...)
	f, err := pty.StartWithSize(cmd, &pty.Winsize{Rows: 40, Cols: width})
	require.NoError(t, err)
	t.Cleanup(func() { f.Close() })
	o := &onTerminal{t: t, cmd: cmd, keys: f, said: make(chan string)}
	go func() {
		defer close(o.said)
		b := make([]byte, 4096)
		for {
			n, err := f.Read(b)
			if n > 0 {
				o.said <- string(b[:n])
			}
			if err != nil {
				return
			}
		}
	}()
	return o
}

func (o *onTerminal) await(text string) {
	o.t.Helper()
	for !strings.Contains(o.all.String(), text) {
		part, ok := <-o.said
		require.True(o.t, ok, "ended before %q:\n%s", text, o.all.String())
		o.all.WriteString(part)
	}
}

func (o *onTerminal) press(keys string) {
	o.t.Helper()
	_, err := io.WriteString(o.keys, keys)
	require.NoError(o.t, err)
}

// end returns the exit code and all that was said.
func (o *onTerminal) end() (code int, said string) {
	o.t.Helper()
	for part := range o.said {
		o.all.WriteString(part)
	}
	err := o.cmd.Wait()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return exit.ExitCode(), o.all.String()
	}
	require.NoError(o.t, err)
	return 0, o.all.String()
}

const ctrlC = "\x03"

// TestInterruptAtEveryPrompt: Ctrl-C ends a question at once with exit code 1, and
// what was answered is not lost.
func TestInterruptAtEveryPrompt(t *testing.T) {
	program := built(t)
	book := filepath.Join(t.TempDir(), "notebook")
	require.NoError(t, writeExample(book))
	settings := []string{"XDG_CONFIG_HOME=" + t.TempDir()}
	for _, test := range []struct {
		args   []string
		await  string
		expect string
	}{
		{[]string{"triage", "--symptom", "hum", "--notebook", book}, "empty line ends)", "interrupted"},
		{[]string{"practise", "--notebook", book}, "s shows it:", "nothing was noted"},
		{[]string{"start", filepath.Join(t.TempDir(), "new")}, "Name of the workshop", "interrupted"},
		{[]string{"writeup", "--notebook", book}, "What did the owner notice", "interrupted"},
	} {
		o := start(t, 100, settings, program, test.args...)
		o.await(test.await)
		o.press(ctrlC)
		code, said := o.end()
		assert.Equal(t, 1, code, "%v\n%s", test.args, said)
		assert.Contains(t, said, test.expect, test.args)
	}

	// In the middle of an interview: the draft has every answer, and is offered.
	o := start(t, 100, settings, program, "writeup", "--notebook", book)
	o.await("What did the owner notice")
	o.press("Heater: smells #odd\r")
	o.await("Device: a number")
	o.press("heater\r")
	o.await("Maker")
	o.press(ctrlC)
	code, said := o.end()
	assert.Equal(t, 1, code)
	said = strings.Join(strings.Fields(said), " ")
	assert.Contains(t, said, "drafts/new.json, and `benchlore writeup` goes on with them")
	o = start(t, 100, settings, program, "writeup", "--notebook", book)
	o.await("title: Heater: smells #odd")
	o.await("Go on with them?")
	o.press("perhaps\r")
	o.await("answer yes or no")
	o.press("y\r")
	o.await("Maker")
	o.press("back\r")
	o.await("Device: a number")
	o.press("back\r")
	o.await("What did the owner notice")
	o.press(ctrlC)
	code, _ = o.end()
	assert.Equal(t, 1, code)
}

// TestInterruptedCheck: a check that was cut short does not say that all is well.
func TestInterruptedCheck(t *testing.T) {
	program := built(t)
	book := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(book, "cases"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(book, "notebook.yaml"), []byte("name: Bench\n"), 0o644))
	cmd := exec.Command(program, "bench", book)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	b := make([]byte, 20)
	_, err = out.Read(b) // it serves
	require.NoError(t, err)
	require.NoError(t, cmd.Process.Signal(syscall.SIGINT))
	assert.NoError(t, cmd.Wait(), "a server is ended so")

	// Notes fill the pipe, so that the check is in the midst of them.
	for i := range 3000 {
		id := fmt.Sprintf("2026-%04d", i+1)
		text := "---\r\ncase: " + id + "\r\ntitle: Lamp dark\r\ndevice: {kind: lamp}\r\nopened: 2026-03-04\r\nsymptoms: []\r\n---\r\n## Symptom\r\n\r\nDark.\r\n"
		require.NoError(t, os.WriteFile(filepath.Join(book, "cases", id+".md"), []byte(text), 0o644))
	}
	check := exec.Command(program, "check", book)
	notes, err := check.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, check.Start())
	_, err = notes.Read(b)
	require.NoError(t, err)
	require.NoError(t, check.Process.Signal(os.Interrupt))
	// The full pipe holds it where it is until it has heard of the signal.
	time.Sleep(2 * time.Second)
	rest, err := io.ReadAll(notes)
	require.NoError(t, err)
	var exit *exec.ExitError
	require.ErrorAs(t, check.Wait(), &exit)
	assert.NotEqual(t, 0, exit.ExitCode())
	assert.NotContains(t, string(rest), "3000 cases")
}

// TestTerminalWidth: lines fit the terminal, excerpts of a source keep their
// columns, and nothing is bold where that is not wanted.
func TestTerminalWidth(t *testing.T) {
	program := built(t)
	book := filepath.Join(t.TempDir(), "notebook")
	require.NoError(t, writeExample(book))
	bold := "\x1b[1m"
	for _, test := range []struct {
		env  []string
		bold bool
	}{{[]string{"TERM=xterm"}, true}, {[]string{"TERM=xterm", "NO_COLOR=1"}, false}, {[]string{"TERM=dumb"}, false}} {
		o := start(t, 60, append(test.env, "XDG_CONFIG_HOME="+t.TempDir()), program, "find", "--notebook", book, "capacitor")
		code, said := o.end()
		require.Equal(t, 0, code, said)
		assert.Equal(t, test.bold, strings.Contains(said, bold), "%v", test.env)
		for line := range strings.Lines(said) {
			assert.LessOrEqual(t, ansi.StringWidth(strings.TrimRight(line, "\r\n")), 60, line)
		}
	}
	o := start(t, 60, nil, program, "check", book)
	_, said := o.end()
	lines := strings.Split(said, "\r\n")
	marked := false
	for i, line := range lines {
		if regexp.MustCompile(`^ +\| +\^+$`).MatchString(line) {
			marked = true
			assert.True(t, excerpt.MatchString(lines[i-1]), "the mark stands under its line: %q", lines[i-1])
		} else if !excerpt.MatchString(line) && !strings.Contains(line, "/") {
			assert.LessOrEqual(t, ansi.StringWidth(line), 60, line)
		}
	}
	assert.True(t, marked)
}

// TestFitted: breaking loses no word and adds none.
func TestFitted(t *testing.T) {
	for _, text := range []string{"short\n", "", "no end", strings.Repeat("word ", 40) + "\n",
		"  - " + strings.Repeat("é漢 ", 60) + "\nnext\n", strings.Repeat("x", 300) + "\n",
		"\x1b[1m" + strings.Repeat("bold ", 30) + "\x1b[0m\n"} {
		for _, width := range []int{0, 20, 33, 80} {
			out := fitted(text, width)
			assert.Equal(t, strings.Join(strings.Fields(text), ""), strings.Join(strings.Fields(out), ""), "%d: %q", width, text)
			if width < narrowest {
				assert.Equal(t, text, out)
				continue
			}
			for line := range strings.Lines(out) {
				assert.LessOrEqual(t, ansi.StringWidth(strings.TrimSuffix(line, "\n")), width, "%q", line)
			}
		}
	}
}
