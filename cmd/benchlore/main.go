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
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"benchlore/build/disk"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
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
	root.SetOut(onConsole(out))
	root.SetErr(onConsole(errOut))
	type ended struct {
		command *cobra.Command
		err     error
	}
	done := make(chan ended, 1)
	go func() {
		c, err := root.ExecuteContextC(ctx)
		done <- ended{c, err}
	}()
	var end ended
	select {
	case end = <-done:
	case <-ctx.Done():
		stop() // a second signal ends the program at once
		select {
		case end = <-done:
		case <-time.After(grace(root, args)):
			end.err = errInterrupted
		}
		if end.err == nil && (end.command == nil || end.command.Annotations[untilInterrupted] == "") {
			end.err = errInterrupted // it was cut short, whatever it printed
		}
	}
	if end.err == nil {
		return exitFine
	}
	if !errors.Is(end.err, errSilent) {
		fmt.Fprintf(root.ErrOrStderr(), "benchlore: %v\n", end.err)
		if advice := disk.Advice(end.err); advice != "" {
			fmt.Fprintf(root.ErrOrStderr(), "%s\n", safe(advice))
		}
	}
	var usage usageError
	if errors.As(end.err, &usage) {
		fmt.Fprintln(root.ErrOrStderr(), "`benchlore --help` lists the commands")
		return exitUsage
	}
	return exitFound
}

// untilInterrupted marks commands that run until somebody ends them, and writes
// those that finish or take back what they are at when they are interrupted. All
// others only read, and end at once.
const untilInterrupted, writes = "until interrupted", "writes"

// grace is how long a command may take to come to an end after a signal.
func grace(root *cobra.Command, args []string) time.Duration {
	c, _, err := root.Find(args)
	if err == nil && c.Annotations[untilInterrupted]+c.Annotations[writes] != "" {
		return 10 * time.Second
	}
	return 0
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
	}
	root.SetVersionTemplate("benchlore {{.Version}}\n")
	root.SetFlagErrorFunc(flagError)
	root.AddCommand(newCheck(), newFind(), newSimilar(), newTriage(), newFigures(), newPractise(), newDoctor(),
		newManual(), newBoard(), newFirmware(), newLabel(), newBench(), newHistory(), newErase(), newPack(), newReceive(), newKey(),
		newPublish(), newStart(), newWriteup(), newImport(), newExport(), newTerms(), newValue(), newSwap(),
		newReckon(), newLicences(), newDemo())
	addCompletion(root)
	root.Args = func(c *cobra.Command, args []string) error {
		if len(args) == 0 {
			return nil
		}
		var names []string
		for _, sub := range c.Commands() {
			names = append(names, sub.Name())
		}
		return usagef("there is no command %q%s", args[0], diagnostic.DidYouMean(terms.Nearest(args[0], names)))
	}
	root.RunE = func(c *cobra.Command, _ []string) error { return c.Help() }
	return root
}

// flagError adds the nearest known flag to the message about an unknown one.
func flagError(c *cobra.Command, err error) error {
	word, ok := strings.CutPrefix(err.Error(), "unknown flag: --")
	if !ok {
		return usageError{err}
	}
	var names []string
	c.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
	if near := terms.Nearest(word, names); near != "" {
		return usagef("unknown flag --%s; did you mean --%s?", word, near)
	}
	return usagef("unknown flag --%s; see `%s --help`", word, c.CommandPath())
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

// plural says how many of a thing there are.
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// release is the version of a released program; it is set while building.
var release string

func version() string {
	if release != "" {
		return release
	}
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" {
		return "(devel)"
	}
	return info.Main.Version
}
