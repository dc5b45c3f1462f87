package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"benchlore/build/disk"
	"benchlore/build/output/site"
	"benchlore/cases"
	"benchlore/schema/diagnostic"
)

func newDemo() *cobra.Command {
	var dir string
	var noServe bool
	var port int
	c := &cobra.Command{
		Use:         "demo",
		Annotations: map[string]string{untilInterrupted: "yes"},
		Short:       "Show it at work on an example workshop's notebook",
		Long: `demo writes the notebook of an invented workshop to a folder, checks it, publishes it
and serves the pages on this machine alone. Files that are there already stay as
they are.`,
		Example: "  benchlore demo\n  benchlore demo --dir /tmp/look --no-serve",
		Args:    atMost(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			if port < 0 || port > 65535 {
				return usagef("--port is 0 to 65535, not %d", port)
			}
			out := c.OutOrStdout()
			book, pages := filepath.Join(dir, "notebook"), filepath.Join(dir, "site")
			if err := writeExample(book); err != nil {
				return err
			}
			n, err := loadJudged(book)
			if err != nil {
				return err
			}
			notes := func(d diagnostic.Diagnostic) bool { return d.Severity == diagnostic.Note }
			if err := diagnostic.WriteText(c.ErrOrStderr(), slices.DeleteFunc(slices.Clone(n.Problems), notes)); err != nil {
				return err
			}
			fmt.Fprintf(out, "notebook  %s: %s\n", book, overall(n))
			fmt.Fprint(out, "site      ")
			report, err := publish(c, n, pages, false)
			if err != nil {
				return err
			}
			fmt.Fprintf(out, `
Try next:
  %[3]s find --notebook %[1]s cuts out under load
  %[3]s check %[1]s
  %[3]s practise --notebook %[1]s
  %[3]s writeup --notebook %[1]s
Open %[2]s in a browser, from this disk or from a stick; it needs no server.
`, book, filepath.Join(pages, "index.html"), self())
			if noServe {
				return nil
			}
			return serve(c, pages, report, port)
		},
	}
	f := c.Flags()
	f.StringVar(&dir, "dir", "benchlore-demo", "the folder for notebook and site")
	f.BoolVar(&noServe, "no-serve", false, "stop after publishing")
	f.IntVar(&port, "port", 0, "the port to serve on; any free one by default")
	return c
}

// self is how to call this program again; `go run` leaves none behind.
func self() string {
	path, err := os.Executable()
	if err == nil && strings.Contains(path, "go-build") {
		return "go run ./cmd/benchlore"
	}
	return "benchlore"
}

// writeExample copies the example notebook; a file that exists is kept.
func writeExample(dir string) error {
	book, err := fs.Sub(cases.Files, "notebook")
	if err != nil {
		return err
	}
	return fs.WalkDir(book, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		data, err := fs.ReadFile(book, name)
		if err != nil {
			return err
		}
		err = disk.CreateFile(filepath.Join(dir, filepath.FromSlash(name)), data)
		if errors.Is(err, fs.ErrExist) {
			return nil
		}
		return err
	})
}

func serve(c *cobra.Command, pages string, report *site.Report, port int) error {
	listener, err := net.Listen("tcp", net.JoinHostPort("127.0.0.1", strconv.Itoa(port)))
	if err != nil {
		return err
	}
	fmt.Fprintf(c.OutOrStdout(), "serving   http://%s/ on this machine alone; Ctrl+C ends it\n", listener.Addr())
	err = site.Serve(c.Context(), listener, pages, report)
	if errors.Is(err, context.Canceled) || errors.Is(err, os.ErrClosed) {
		return nil
	}
	return err
}
