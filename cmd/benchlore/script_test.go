package main

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write what the scripts saw into their golden files")

func TestMain(m *testing.M) {
	testscript.Main(tests{m}, map[string]func(){"benchlore": main})
}

// tests are those of the package, after which the program that they share goes.
type tests struct{ m *testing.M }

func (x tests) Run() int {
	defer func() {
		if program.dir != "" {
			_ = os.RemoveAll(program.dir)
		}
	}()
	return x.m.Run()
}

var program struct {
	sync.Mutex
	dir string
}

// built is the program, built once as its users have it.
func built(t testing.TB) string {
	t.Helper()
	program.Lock()
	defer program.Unlock()
	if program.dir == "" {
		dir, err := os.MkdirTemp("", "benchlore-program-")
		require.NoError(t, err)
		out, err := exec.Command("go", "build", "-o", filepath.Join(dir, "benchlore"), ".").CombinedOutput()
		require.NoError(t, err, string(out))
		program.dir = dir
	}
	return filepath.Join(program.dir, "benchlore")
}

// runs gives a program its input and arguments, and returns all it says.
func runs(program string) func(in string, args ...string) (string, error) {
	return func(in string, args ...string) (string, error) {
		cmd := exec.Command(program, args...)
		cmd.Stdin = strings.NewReader(in)
		text, err := cmd.CombinedOutput()
		return string(text), err
	}
}

// TestScripts runs testdata/*.txt, named by subcommand. The command demo of the scripts puts
// there what `benchlore demo --dir demo --no-serve` does.
func TestScripts(t *testing.T) {
	made := t.TempDir()
	demo := sync.OnceValue(func() error {
		program := exec.Command("benchlore", "demo", "--dir", "demo", "--no-serve")
		program.Dir = made
		program.Env = append(os.Environ(), "HOME="+made)
		text, err := program.CombinedOutput()
		if err != nil {
			return fmt.Errorf("%w: %s", err, text)
		}
		return nil
	})
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata",
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(env *testscript.Env) error {
			dir, err := os.Getwd()
			env.Setenv("FIXTURES", dir+"/../../testdata")
			env.Setenv("HOME", filepath.Join(env.WorkDir, ".home")) // where the program keeps its secret
			return err
		},
		// exits N command… wants exactly that exit code; ! exec takes any.
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"demo": func(ts *testscript.TestScript, neg bool, args []string) {
				if neg || len(args) > 0 {
					ts.Fatalf("usage: demo")
				}
				ts.Check(demo())
				ts.Check(os.CopyFS(ts.MkAbs("demo"), os.DirFS(filepath.Join(made, "demo"))))
			},
			"exits": func(ts *testscript.TestScript, neg bool, args []string) {
				if neg || len(args) < 2 {
					ts.Fatalf("usage: exits code command...")
				}
				want, err := strconv.Atoi(args[0])
				ts.Check(err)
				got := 0
				if err := ts.Exec(args[1], args[2:]...); err != nil {
					var exit *exec.ExitError
					if !errors.As(err, &exit) {
						ts.Fatalf("%v", err)
					}
					got = exit.ExitCode()
				}
				if got != want {
					ts.Fatalf("exit code %d, want %d", got, want)
				}
			},
		},
	})
}
