package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/long"
	"benchlore/cases"
)

// TestInterrupted stops publish, receive, import and writeup at random moments,
// by SIGINT and by kill -9: the notebook is whole, the old site or the new one can
// be read, and a rerun finishes. BENCHLORE_INTERRUPTS says how often each.
func TestInterrupted(t *testing.T) {
	t.Parallel()
	times := long.Or(6, 2)
	if n, err := strconv.Atoi(os.Getenv("BENCHLORE_INTERRUPTS")); err == nil {
		times = n
	}
	program := built(t)
	run := runs(program)
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(dir, cases.Files))
	book := filepath.Join(dir, "notebook")
	text, err := run("", "pack", book, "--out", filepath.Join(dir, "notes.zip"))
	require.NoError(t, err, text)
	var rows bytes.Buffer
	rows.WriteString("id,data_provider,country,partner_product_category,product_category,product_category_id,brand,year_of_manufacture,product_age,repair_status,repair_barrier_if_end_of_life,group_identifier,event_date,problem\r\n")
	for i := range 300 {
		fmt.Fprintf(&rows, "row_%d,Quay,IRL,Lamp,Lamp,15,Unknown,,,Fixed,,Quay,2025-01-%02d,Flickers when warm number %d\r\n", i, i%28+1, i)
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "rows.csv"), rows.Bytes(), 0o644))
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 1))
	fresh := func(name string) string {
		into := filepath.Join(t.TempDir(), name)
		_, err := notebook.Begin(into, "Quay Street", false)
		require.NoError(t, err)
		return into
	}
	sound := func(dir string) *notebook.Notebook {
		n, err := notebook.Load(dir)
		require.NoError(t, err)
		for _, p := range n.Problems {
			require.NotContains(t, []string{"bad-file", "front-matter", "yaml-syntax", "invalid-utf8"}, string(p.Rule), p.String())
		}
		require.Zero(t, n.Errors(), n.Problems)
		return n
	}
	site := filepath.Join(dir, "site")
	text, err = run("", "publish", book, "--out", site)
	require.NoError(t, err, text)
	readable := func() {
		home, err := os.ReadFile(filepath.Join(site, "index.html"))
		require.NoError(t, err)
		require.True(t, bytes.HasSuffix(bytes.TrimSpace(home), []byte("</html>")))
	}
	edits := 0
	jobs := map[string]struct {
		begin  func() (args []string, in string)
		after  func()
		finish func()
	}{
		"publish": {
			begin: func() ([]string, string) {
				edits++
				path := filepath.Join(book, "notebook.yaml")
				src, _ := os.ReadFile(path)
				head, _, _ := strings.Cut(string(src), "  welcome:")
				require.NoError(t, os.WriteFile(path,
					[]byte(head+fmt.Sprintf("  welcome: Edit %d\n  licence: CC BY-SA 4.0\n", edits)), 0o644))
				return []string{"publish", book, "--out", site}, ""
			},
			after: readable,
			finish: func() {
				text, err := run("", "publish", book, "--out", site)
				require.NoError(t, err, text)
				home, _ := os.ReadFile(filepath.Join(site, "index.html"))
				require.Contains(t, string(home), fmt.Sprintf("Edit %d", edits))
				left, _ := filepath.Glob(filepath.Join(site, ".staging-*"))
				assert.Empty(t, left, "what a killed run staged is gone")
			},
		},
	}
	var into string
	jobs["receive"] = struct {
		begin  func() (args []string, in string)
		after  func()
		finish func()
	}{
		begin: func() ([]string, string) {
			into = fresh("receive")
			return []string{"receive", filepath.Join(dir, "notes.zip"), "--into", into}, ""
		},
		after: func() { sound(into) },
		finish: func() {
			text, err := run("", "receive", filepath.Join(dir, "notes.zip"), "--into", into)
			require.NoError(t, err, text)
			require.Len(t, sound(into).Cases, 68)
		},
	}
	jobs["import"] = struct {
		begin  func() (args []string, in string)
		after  func()
		finish func()
	}{
		begin: func() ([]string, string) {
			into = fresh("import")
			return []string{"import", "ords", filepath.Join(dir, "rows.csv"), "--into", into}, ""
		},
		after: func() { sound(into) },
		finish: func() {
			text, err := run("", "import", "ords", filepath.Join(dir, "rows.csv"), "--into", into)
			require.NoError(t, err, text)
			require.Len(t, sound(into).Cases, 300)
		},
	}
	jobs["writeup"] = struct {
		begin  func() (args []string, in string)
		after  func()
		finish func()
	}{
		begin: func() ([]string, string) {
			into = fresh("writeup")
			return []string{"writeup", "--notebook", into, "--title", "Lamp flickers", "--kind", "lamp", "--symptom",
				"flickers"}, strings.Repeat("It flickers. ", 2_000)
		},
		after: func() { sound(into) },
		finish: func() {
			text, err := run("It flickers.", "writeup", "--notebook", into, "--title", "Lamp flickers", "--kind",
				"lamp", "--symptom", "flickers")
			require.NoError(t, err, text)
			require.NotEmpty(t, sound(into).Cases)
		},
	}
	longest := map[string]time.Duration{"publish": 900 * time.Millisecond, "receive": 500 * time.Millisecond,
		"import": 700 * time.Millisecond, "writeup": 150 * time.Millisecond}
	cut := map[string]int{}
	for name, job := range jobs {
		for i := range times {
			args, in := job.begin()
			cmd := exec.Command(program, args...)
			cmd.Stdin = strings.NewReader(in)
			require.NoError(t, cmd.Start())
			time.Sleep(time.Duration(r.Int64N(int64(longest[name]))))
			signal := []os.Signal{os.Interrupt, syscall.SIGKILL}[i%2]
			_ = cmd.Process.Signal(signal)
			if cmd.Wait() != nil {
				cut[name]++
			}
			job.after()
			job.finish()
		}
	}
	t.Logf("%d runs of each; cut short: %v", times, cut)
	sound(book)
}
