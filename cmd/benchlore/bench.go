package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"math/big"
	"net"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"benchlore/build/notebook"
	"benchlore/build/write/editor"
	"benchlore/build/write/meter"
)

func newBench() *cobra.Command {
	var dmm string
	var port int
	var open bool
	var listen string
	c := &cobra.Command{
		Use:         "bench [DIR]",
		Annotations: map[string]string{untilInterrupted: "yes"},
		Short:       "Write cases on a page of this machine",
		Long: `bench serves the notebook in DIR on this machine alone, always as its files are now,
with pages to write on: what is typed is in the case file within two seconds, the
same Markdown that the other commands read. --listen lets other machines in; they
are asked for a pass phrase, which is printed, and what they send is not
encrypted: use it on a network that you trust. One server writes in a notebook at a
time: a second one says where the first is, only shows the notebook, and takes
changes once the first has ended. Commands such as writeup go on beside it.`,
		Example: "  benchlore bench --open\n  benchlore bench bench-notes --port 8080",
		Args:    atMost(1, "one folder"),
		RunE: func(c *cobra.Command, args []string) error {
			if port < 0 || port > 65535 {
				return usagef("--port is 0 to 65535, not %d", port)
			}
			on, phrase := net.JoinHostPort("127.0.0.1", strconv.Itoa(port)), ""
			if listen != "" {
				host, p, err := net.SplitHostPort(listen)
				if err != nil {
					host, p = listen, strconv.Itoa(port)
				}
				ip := net.ParseIP(host)
				if ip == nil {
					return usagef("--listen is an address of this machine, such as 192.168.1.20:8080, not %q", listen)
				}
				on = net.JoinHostPort(host, p)
				if !ip.IsLoopback() {
					if phrase, err = newPhrase(); err != nil {
						return err
					}
				}
			}
			var instrument *meter.Meter
			if dmm != "" {
				var err error
				if instrument, err = meter.At(dmm); err != nil {
					return usageError{err}
				}
				defer instrument.Close()
				name, err := instrument.Name(c.Context())
				if err != nil {
					fmt.Fprintf(c.ErrOrStderr(), "warning: %v; it is asked again when a reading is wanted\n", err)
				} else {
					fmt.Fprintf(c.OutOrStdout(), "instrument: %s; F9 takes its reading\n", name)
				}
			}
			told := func(text string) { fmt.Fprintln(c.ErrOrStderr(), safe(text)) }
			s, err := editor.New(folder(args), editor.Options{Phrase: phrase, Meter: instrument, Told: told})
			switch {
			case errors.Is(err, notebook.ErrNoFolder), errors.Is(err, notebook.ErrNoNotebook):
				return usageError{err}
			case err != nil:
				return err
			}
			l, err := net.Listen("tcp", on)
			if err != nil {
				return err
			}
			address := "http://" + l.Addr().String() + "/write/"
			out, does := c.OutOrStdout(), "writing"
			if why := s.Attend(l.Addr().String()); why != nil {
				does = "reading only"
				told(why.Error())
			}
			if phrase == "" {
				fmt.Fprintf(out, "%s at %s on this machine alone; Ctrl+C ends it\n", does, address)
			} else {
				fmt.Fprintf(c.ErrOrStderr(), "warning: other machines can reach this, and nothing on the way is encrypted\n")
				fmt.Fprintf(out, "%s at %s\npass phrase: %s\n", does, address, phrase)
			}
			if open {
				openBrowser(c.Context(), address)
			}
			err = s.Serve(c.Context(), l)
			if errors.Is(err, context.Canceled) {
				return nil
			}
			return err
		},
	}
	f := c.Flags()
	f.IntVar(&port, "port", 0, "the port; any free one by default")
	f.StringVar(&dmm, "meter", "", "an instrument that speaks SCPI over TCP, HOST or HOST:PORT; F9 takes its reading")
	f.BoolVar(&open, "open", false, "open the page in the browser")
	f.StringVar(&listen, "listen", "", "another address than loopback; a pass phrase is asked for there")
	return c
}

// newPhrase makes five groups of letters that are read out easily: 55 bits.
func newPhrase() (string, error) {
	const consonants, vowels = "bdfghjklmnprstvz", "aeiou"
	pick := func(from string) (byte, error) {
		i, err := rand.Int(rand.Reader, big.NewInt(int64(len(from))))
		if err != nil {
			return 0, err
		}
		return from[i.Int64()], nil
	}
	var groups []string
	for range 5 {
		var b strings.Builder
		for i := range 4 {
			letter, err := pick([]string{consonants, vowels}[i%2])
			if err != nil {
				return "", err
			}
			b.WriteByte(letter)
		}
		groups = append(groups, b.String())
	}
	return strings.Join(groups, "-"), nil
}

// openBrowser asks the system to show a page; that it cannot is no error.
func openBrowser(ctx context.Context, address string) {
	name, args := "xdg-open", []string{address}
	switch runtime.GOOS {
	case "darwin":
		name = "open"
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", address}
	}
	cmd := exec.CommandContext(ctx, name, args...)
	if cmd.Start() == nil {
		go func() { _ = cmd.Wait() }()
	}
}

func newHistory() *cobra.Command {
	var dir, restore, show string
	c := &cobra.Command{
		Use:   "history CASE",
		Short: "Earlier versions of a case, to see or put back",
		Long: `history lists the versions of a case that the writing pages kept before they changed
it, newest first, for as many days as notebook.yaml says (history: 365). --show
prints one, --restore puts one back; what is there now is kept first. A case whose
file was deleted is brought back the same way.`,
		Example: "  benchlore history 2026-0018\n  benchlore history 2026-0018 --restore 1",
		Args:    exactly(1, "a case"),
		RunE: func(c *cobra.Command, args []string) error {
			n, err := loadBook(dir)
			if err != nil {
				return err
			}
			id := args[0]
			found, ok := n.Case(id)
			store := editor.NewStore(n.Dir, n.Config.History)
			list := store.History(id)
			if !ok {
				if list = store.Deleted(id); len(list) == 0 {
					return noCase(n, id)
				}
				if show == "" && restore == "" {
					fmt.Fprintf(c.ErrOrStderr(), "the file of %s is gone; --restore brings a version back\n", id)
				}
			}
			choose := func(word string) (editor.Version, error) {
				if i, err := strconv.Atoi(word); err == nil && len(word) < 6 && i >= 1 && i <= len(list) {
					return list[i-1].Version, nil
				}
				for _, e := range list {
					if string(e.Version) == word {
						return e.Version, nil
					}
				}
				return "", usagef("there is no version %q of %s; `benchlore history %s` lists them", word, id, id)
			}
			switch {
			case show != "":
				v, err := choose(show)
				if err != nil {
					return err
				}
				text, known := store.Version(id, v)
				if !known {
					return fmt.Errorf("version %s is damaged: its bytes are not those of its name", v)
				}
				_, err = c.OutOrStdout().Write(text)
				return err
			case restore != "":
				v, err := choose(restore)
				if err != nil {
					return err
				}
				path := ""
				if ok {
					path, err = found.Path, store.Restore(id, found.Path, v)
				} else {
					path, err = store.BringBack(id, v)
				}
				if err != nil {
					return err
				}
				fmt.Fprintf(c.OutOrStdout(), "%s is as it was in version %s\n", filepath.ToSlash(filepath.Join(dir, path)), v)
				return nil
			}
			if len(list) == 0 {
				fmt.Fprintf(c.OutOrStdout(), "no earlier version of %s is kept\n", id)
				return errSilent
			}
			for i, e := range list {
				fmt.Fprintf(c.OutOrStdout(), "%3d  until %s  %s  %d bytes\n", i+1, e.At.Local().Format(time.DateTime), e.Version, e.Size)
			}
			return nil
		},
	}
	notebookFlag(c, &dir)
	c.Flags().StringVar(&restore, "restore", "", "put this version back: its number in the list, or its name")
	c.Flags().StringVar(&show, "show", "", "print this version")
	return c
}
