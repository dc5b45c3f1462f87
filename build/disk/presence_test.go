package disk

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestPresence: one server is there at a time, the second is told where the first listens,
// and comes after it.
func TestPresence(t *testing.T) {
	f := Folder(t.TempDir())
	var first, second Presence
	require.NoError(t, first.Attend(f, "127.0.0.1:4001"))
	require.NoError(t, first.Attend(f, "127.0.0.1:4001"), "looking again changes nothing")
	var other *Attended
	require.ErrorAs(t, second.Attend(f, "127.0.0.1:4002"), &other)
	assert.Equal(t, "127.0.0.1:4001", other.Address)
	assert.Contains(t, other.Error(), "http://127.0.0.1:4001/write/")
	// What is no address is not repeated, whoever wrote it there.
	for _, text := range []string{"", "evil.example:80\n", "<b>\n", "127.0.0.1\n", "127.0.0.1:99999\n"} {
		require.NoError(t, f.Write(addressName, []byte(text)))
		require.ErrorAs(t, second.Attend(f, "127.0.0.1:4002"), &other)
		assert.Empty(t, other.Address, text)
	}
	first.Leave()
	require.NoError(t, second.Attend(f, "127.0.0.1:4002"))
	require.ErrorAs(t, first.Attend(f, "127.0.0.1:4001"), &other)
	assert.Equal(t, "127.0.0.1:4002", other.Address)
	// What is derived may be deleted: whoever looks first has the mark again, and one alone.
	require.NoError(t, os.RemoveAll(filepath.Join(string(f), before)))
	require.NoError(t, first.Attend(f, "127.0.0.1:4001"))
	require.ErrorAs(t, second.Attend(f, "127.0.0.1:4002"), &other)
	second.Leave()
	first.Leave()
	first.Leave()
}

// TestPresenceEndsWithTheProcess: a server that is killed leaves no mark behind.
func TestPresenceEndsWithTheProcess(t *testing.T) {
	const in = "BENCHLORE_TEST_PRESENCE"
	if dir := os.Getenv(in); dir != "" {
		var p Presence
		fmt.Println(p.Attend(Folder(dir), "127.0.0.1:4001"))
		_ = os.Stdout.Sync()
		select {} // until it is killed
	}
	f := Folder(t.TempDir())
	other := exec.CommandContext(t.Context(), os.Args[0], "-test.run", "^TestPresenceEndsWithTheProcess$")
	other.Env = append(os.Environ(), in+"="+string(f))
	out, err := other.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, other.Start())
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	require.Equal(t, "<nil>\n", line)
	var p Presence
	var there *Attended
	require.ErrorAs(t, p.Attend(f, "127.0.0.1:4002"), &there)
	require.NoError(t, other.Process.Kill())
	_ = other.Wait()
	assert.FileExists(t, filepath.Join(string(f), filepath.FromSlash(presenceName)), "the file outlives it, and says nothing")
	assert.NoError(t, p.Attend(f, "127.0.0.1:4002"))
	p.Leave()
}

// TestOddLocks: what lies in the place of the lock is neither waited for nor followed.
func TestOddLocks(t *testing.T) {
	outside := filepath.Join(t.TempDir(), "made")
	for what, put := range map[string]func(name string) error{
		"a folder": func(name string) error { return os.Mkdir(name, 0o755) },
		"a link":   func(name string) error { return os.Symlink(outside, name) },
		"a pipe":   pipe,
	} {
		f := Folder(t.TempDir())
		require.NoError(t, f.MkdirAll(before))
		for _, name := range []string{presenceName, gateName} {
			if err := put(filepath.Join(string(f), filepath.FromSlash(name))); err != nil {
				t.Skipf("%s: %v", what, err)
			}
		}
		done := make(chan error, 1)
		go func() {
			var p Presence
			err := p.Attend(f, "127.0.0.1:4001")
			p.Leave()
			f.Enter()()
			done <- err
		}()
		select {
		case err := <-done:
			var there *Attended
			assert.False(t, errors.As(err, &there), "%s is no server", what)
			if what != "a pipe" {
				assert.Error(t, err, what)
			}
		case <-time.After(time.Minute):
			t.Fatalf("%s is waited for", what)
		}
	}
	assert.NoFileExists(t, outside)
}

// TestChange: a file is changed from what it has; what came between without the gate is
// kept, and nothing new is written over.
func TestChange(t *testing.T) {
	f := Folder(t.TempDir())
	read := func(name string) string {
		text, err := f.Read(name, 100)
		require.NoError(t, err)
		return string(text)
	}
	add := func(mark, meanwhile string) error {
		return f.Change("devices/a.md", "devices/a", func(have []byte) ([]byte, error) {
			if meanwhile != "" {
				require.NoError(t, os.MkdirAll(filepath.Join(string(f), "devices"), 0o755))
				require.NoError(t, os.WriteFile(filepath.Join(string(f), "devices", "a.md"), []byte(meanwhile), 0o644))
			}
			return append(append([]byte{}, have...), mark...), nil
		})
	}
	kept := func() (texts []string) {
		names, err := filepath.Glob(filepath.Join(string(f), Kept, "history", "devices", "a", "*.md"))
		require.NoError(t, err)
		for _, name := range names {
			text, err := os.ReadFile(name)
			require.NoError(t, err)
			texts = append(texts, string(text))
		}
		return texts
	}
	require.NoError(t, add("1", ""))
	require.NoError(t, add("2", ""))
	assert.Equal(t, "12", read("devices/a.md"))
	assert.Empty(t, kept(), "what was read is not kept here")
	require.NoError(t, add("3", "an editor's"))
	assert.Equal(t, "123", read("devices/a.md"))
	assert.Equal(t, []string{"an editor's"}, kept())
	require.NoError(t, f.Remove("devices/a.md"))
	require.NoError(t, add("4", "another editor's"))
	assert.Equal(t, "4", read("devices/a.md"))
	assert.Contains(t, kept(), "another editor's")
	require.NoError(t, f.Change("devices/a.md", "devices/a", func([]byte) ([]byte, error) { return nil, nil }))
	assert.Equal(t, "4", read("devices/a.md"))
	refused := errors.New("no")
	assert.ErrorIs(t, f.Change("devices/a.md", "devices/a", func([]byte) ([]byte, error) { return []byte("x"), refused }), refused)
	assert.Equal(t, "4", read("devices/a.md"))
}

// TestChangesInTurn: many that read, think and write lose none of each other's.
func TestChangesInTurn(t *testing.T) {
	f := Folder(t.TempDir())
	const writers, each = 6, 20
	done := make(chan error, writers)
	for w := range writers {
		go func() {
			var err error
			for i := 0; i < each && err == nil; i++ {
				err = f.Change("x.txt", "x", func(have []byte) ([]byte, error) {
					return fmt.Appendf(append([]byte{}, have...), "<%d-%d>", w, i), nil
				})
			}
			done <- err
		}()
	}
	for range writers {
		require.NoError(t, <-done)
	}
	text, err := f.Read("x.txt", 1<<20)
	require.NoError(t, err)
	for w := range writers {
		for i := range each {
			assert.Contains(t, string(text), fmt.Sprintf("<%d-%d>", w, i))
		}
	}
}

// TestRemoveIf: what is meant goes, what is not stays, also where it came a moment ago.
func TestRemoveIf(t *testing.T) {
	f := Folder(t.TempDir())
	is := func(want string) func([]byte) bool { return func(have []byte) bool { return string(have) == want } }
	removed, err := f.RemoveIf("a.md", "a", is("x"))
	require.NoError(t, err)
	assert.True(t, removed)
	require.NoError(t, f.Write("a.md", []byte("x")))
	removed, err = f.RemoveIf("a.md", "a", is("y"))
	require.NoError(t, err)
	assert.False(t, removed)
	looked := 0
	removed, err = f.RemoveIf("a.md", "a", func(have []byte) bool {
		if looked++; looked == 1 { // an editor saves just then
			require.NoError(t, os.WriteFile(filepath.Join(string(f), "a.md"), []byte("edited"), 0o644))
		}
		return string(have) == "x"
	})
	require.NoError(t, err)
	assert.False(t, removed)
	text, err := f.Read("a.md", 100)
	require.NoError(t, err)
	assert.Equal(t, "edited", string(text))
	removed, err = f.RemoveIf("a.md", "a", is("edited"))
	require.NoError(t, err)
	assert.True(t, removed)
	entries, err := os.ReadDir(string(f))
	require.NoError(t, err)
	assert.Len(t, entries, 1, "but for the folder of the lock nothing is left")
}
