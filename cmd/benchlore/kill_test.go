package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/testkit/workshop"
	"benchlore/build/write/editor"
	"benchlore/schema/casefile"
)

// TestKilledWhileWriting kills the writing server at random moments while a
// script types, and starts it again. Each change that was answered must be in the
// file, or in the journal that the next start offers, and every file must be
// whole. BENCHLORE_KILLS says how often; each change is acknowledged within
// milliseconds, so this asks for more than two seconds' grace would.
func TestKilledWhileWriting(t *testing.T) {
	kills := 8
	if n, err := strconv.Atoi(os.Getenv("BENCHLORE_KILLS")); err == nil {
		kills = n
	}
	program := built(t)
	dir := workshop.Dir(t)
	found, err := filepath.Glob(filepath.Join(dir, "cases", "2026", "2026-0018-*.md"))
	require.NoError(t, err)
	require.Len(t, found, 1)
	path, err := filepath.Rel(dir, found[0])
	require.NoError(t, err)
	store := editor.NewStore(dir, 0)
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 1))
	var acknowledged atomic.Int64
	next, changes, fromJournal := int64(1), 0, 0
	for kill := range kills {
		cmd := exec.Command(program, "bench", dir)
		stdout, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		line, err := bufio.NewReader(stdout).ReadString('\n')
		require.NoError(t, err)
		base := regexp.MustCompile(`http://[^/]+`).FindString(line)
		require.NotEmpty(t, base)
		stop := make(chan bool)
		typed := make(chan int)
		go func() {
			n := 0
			for {
				select {
				case <-stop:
					typed <- n
					return
				default:
				}
				if typeChange(base, found[0], next) {
					acknowledged.Store(next)
					n++
				}
				next++
			}
		}()
		if kill%2 == 0 { // on a machine that is busy nothing may be acknowledged before the kill else
			before := acknowledged.Load()
			require.Eventually(t, func() bool { return acknowledged.Load() > before }, time.Minute, time.Millisecond)
		}
		time.Sleep(time.Duration(20+r.IntN(600)) * time.Millisecond)
		require.NoError(t, cmd.Process.Kill())
		_ = cmd.Wait()
		close(stop)
		changes += <-typed
		last := acknowledged.Load()
		have, err := os.ReadFile(found[0])
		require.NoError(t, err)
		if kept, ok := store.Kept("2026-0018", filepath.ToSlash(path)); ok && counter(have) < last {
			fromJournal++
			have = kept
			require.NoError(t, os.WriteFile(found[0], kept, 0o644)) // as the page would on request
		}
		require.GreaterOrEqual(t, counter(have), last, "kill %d: change %d was acknowledged and is gone", kill, last)
		whole(t, dir, store)
	}
	t.Logf("%d kills, %d changes acknowledged, all there; %d times the journal had what the file had not yet", kills, changes, fromJournal)
	assert.GreaterOrEqual(t, changes, (kills+1)/2, "the script typed")
}

// typeChange writes a number into the lesson and reports whether the server said
// that it is kept.
func typeChange(base, file string, n int64) bool {
	src, err := os.ReadFile(file)
	if err != nil {
		return false
	}
	f, _ := casefile.Parse("a.md", src)
	if f == nil {
		return false
	}
	body, _ := json.Marshal(map[string]any{"changes": map[string]editor.Change{"section:Lesson": {Was: editor.FieldsOf(f)["section:Lesson"], Now: fmt.Sprintf("Change %d. %s", n, strings.Repeat("Words. ", int(n%400)))}}})
	req, _ := http.NewRequest(http.MethodPost, base+"/write/case/2026-0018/change", bytes.NewReader(body))
	req.Header.Set("X-Benchlore", "1")
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		time.Sleep(5 * time.Millisecond)
		return false
	}
	defer res.Body.Close()
	var a struct{ Version string }
	return res.StatusCode == http.StatusOK && json.NewDecoder(res.Body).Decode(&a) == nil && a.Version != ""
}

var change = regexp.MustCompile(`Change (\d+)\. `)

func counter(src []byte) int64 {
	m := change.FindSubmatch(src)
	if m == nil {
		return 0
	}
	n, _ := strconv.ParseInt(string(m[1]), 10, 64)
	return n
}

// whole looks at every file: cases can be read, earlier versions have the bytes
// of their names.
func whole(t *testing.T, dir string, store *editor.Store) {
	t.Helper()
	require.NoError(t, filepath.WalkDir(filepath.Join(dir, "cases"), func(p string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() || filepath.Ext(p) != ".md" {
			return err
		}
		src, err := os.ReadFile(p)
		require.NoError(t, err)
		f, list := casefile.Parse(p, src)
		require.NotNil(t, f, "%s: %v", p, list)
		require.True(t, bytes.HasSuffix(src, []byte("\n")), p)
		return nil
	}))
	for _, e := range store.History("2026-0018") {
		_, ok := store.Version("2026-0018", e.Version)
		require.True(t, ok, "version %s is not whole", e.Version)
	}
}
