// Command benchlore keeps a workshop's repair notebook: it checks, finds,
// writes and publishes case files.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"

	"github.com/spf13/cobra"
	"golang.org/x/term"
)

// Rules of voice. One place prints errors and one place exits, both here.
// Messages are plain sentences in lower case without a full stop, quote what
// the user typed, and say what would be right. Results go to standard output,
// everything else to standard error.

// The exit codes are part of the interface.
const (
	exitFine  = 0
	exitFound = 1 // the notebook has errors, or nothing was found
	exitUsage = 2
)

// errSilent ends the program with exit code 1 after the output has said why.
var errSilent = errors.New("")

// usageError is a mistake in the command line itself.
type usageError struct{ err error }

func (e usageError) Error() string { return e.err.Error() }
func (e usageError) Unwrap() error { return e.err }

func usagef(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

func main() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

func run(args []string, in io.Reader, out, errOut io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	root := newRoot()
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(errOut)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return exitFine
	}
	if !errors.Is(err, errSilent) {
		fmt.Fprintf(errOut, "benchlore: %v\n", err)
	}
	var usage usageError
	if errors.As(err, &usage) {
		fmt.Fprintln(errOut, "`benchlore --help` lists the commands")
		return exitUsage
	}
	return exitFound
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "benchlore",
		Short: "A repair notebook: write cases, check them, find them, publish them",
		Long: `benchlore keeps a workshop's repairs as plain files, one case a repair, and gets
them back when the next device with that symptom lies on the bench.`,
		Example: `  benchlore demo                        see it at work on an example workshop
  benchlore start bench-notes           begin a notebook of your own
  benchlore find cuts out when warm     past cases from a few words`,
		Version:       version(),
		SilenceUsage:  true,
		SilenceErrors: true,
		Args: func(_ *cobra.Command, args []string) error {
			return usagef("there is no command %q", args[0])
		},
	}
	root.SetVersionTemplate("benchlore {{.Version}}\n")
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usageError{err} })
	root.AddCommand(newCheck(), newFind(), newPublish(), newStart(), newWriteup(), newImport(), newExport(), newTerms(), newDemo())
	root.Args = func(c *cobra.Command, args []string) error {
		if len(args) == 0 {
			return nil
		}
		hint := ""
		if near := c.SuggestionsFor(args[0]); len(near) > 0 {
			hint = fmt.Sprintf("; did you mean %q?", near[0])
		}
		return usagef("there is no command %q%s", args[0], hint)
	}
	root.RunE = func(c *cobra.Command, _ []string) error { return c.Help() }
	return root
}

// atMost accepts up to n arguments.
func atMost(n int, what string) cobra.PositionalArgs {
	return func(_ *cobra.Command, args []string) error {
		if len(args) > n {
			return usagef("%q is one argument too many; the command takes %s", args[n], what)
		}
		return nil
	}
}

// exactly accepts n arguments.
func exactly(n int, what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) < n {
			return usagef("%s is missing; see `%s --help`", what, c.CommandPath())
		}
		return atMost(n, what)(c, args)
	}
}

// folder is the notebook folder among the arguments, the current one by default.
func folder(args []string) string {
	if len(args) > 0 {
		return args[0]
	}
	return "."
}

func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" {
		return "(devel)"
	}
	return info.Main.Version
}

// terminal reports whether the stream is a terminal.
func terminal(stream any) bool {
	f, ok := stream.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}
