package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"github.com/spf13/cobra"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/build/output/label"
	"benchlore/build/output/outfile"
	"benchlore/build/output/pack"
	"benchlore/build/output/site"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
)

func newPack() *cobra.Command {
	var o pack.Options
	var out, sign, to, book string
	var replace bool
	var withSite bool
	c := &cobra.Command{
		Use:         "pack [DIR] --out FILE | CASE... --to NAME",
		Annotations: map[string]string{writes: "yes"},
		Short:       "One file with the notes, for a stick or a mail",
		Long: `pack writes cases, devices, words and pictures to one ZIP archive that anybody can
open, with a manifest of every file's SHA-256; the same notes give the same bytes.
What is private is left out: the key private: and sections whose heading begins
with Private. What looks like personal data stops it. --sign writes a signature in
minisign's format beside it.

With --to single cases go to another workshop, each with its device, words, pictures
and boards. It works on them as its guests, packs them with the same command, and what
it adds is merged when it is received here: each row says whose it is, and minutes and
cost of the benches stay apart. --by gives the initials of who worked on it here.`,
		Example: `  benchlore pack --out notes.zip
  benchlore pack bench-notes --out lamps.zip --symptom flicker --closed --anonymous
  benchlore pack --out notes.zip --with-site --sign ~/keys/benchlore.key
  benchlore pack 2026-0018 --to quayside`,
		Args: func(c *cobra.Command, args []string) error {
			if to != "" {
				return nil
			}
			return atMost(1, "one folder, or cases with --to NAME")(c, args)
		},
		RunE: func(c *cobra.Command, args []string) error {
			dir := folder(args)
			if to != "" {
				if err := single(&o, to, args); err != nil {
					return err
				}
				if dir = book; out == "" && len(args) > 0 {
					out = args[0] + "-to-" + o.To + ".zip"
				} else if out == "" {
					out = o.To + ".zip"
				}
			} else if o.By != "" {
				return usagef("--by goes with --to")
			}
			if out == "" {
				return usagef("--out is missing: the file to write, such as notes.zip")
			}
			if o.Anonymous && sign != "" {
				return usagef("--sign says whose pack it is, and --anonymous hides it; choose one")
			}
			n, err := loadJudged(dir)
			if err != nil {
				return err
			}
			if err := n.Exists(); err != nil {
				return usageError{err}
			}
			o.Code = func(id string) string {
				l, _ := label.Of(n, id)
				return l.Code
			}
			if withSite && o.Anonymous {
				notes, done, err := anonymousNotes(c, n, o)
				if err != nil {
					return err
				}
				defer done()
				o.Site = filepath.Join(notes.Dir, "..", "site")
				if _, err := site.Publish(c.Context(), notes, o.Site, site.Options{}); err != nil {
					return err
				}
			} else if withSite {
				o.Site, err = os.MkdirTemp("", "benchlore-site-")
				if err != nil {
					return err
				}
				defer os.RemoveAll(o.Site)
				if _, err := site.Publish(c.Context(), n, o.Site, site.Options{}); err != nil {
					return err
				}
			}
			if err := allowed(out, replace); err != nil {
				return err
			}
			if err := allowed(out+pack.SignatureEnding, replace); sign != "" && err != nil {
				return err
			}
			var m *pack.Manifest
			err = writeWhole(c.Context(), out, func(w io.Writer) (err error) {
				var problems []diagnostic.Diagnostic
				m, problems, err = pack.Write(c.Context(), n, w, o)
				return errors.Join(diagnostic.WriteText(c.ErrOrStderr(), problems), err)
			})
			if err != nil {
				return err
			}
			outfile.Note(out)
			fmt.Fprintf(c.OutOrStdout(), "%s: %s, %s, %s, %s\n", filepath.ToSlash(out),
				plural(m.Counts.Cases, "case", "cases"), plural(m.Counts.Devices, "device", "devices"),
				plural(m.Counts.Pictures, "picture", "pictures"), plural(len(m.Files), "file", "files"))
			for _, s := range pack.LeftBehind(n, o) {
				fmt.Fprintf(c.OutOrStdout(), "not in it: %s\n", safe(s))
			}
			if sign == "" {
				return nil
			}
			signature, err := pack.Sign(out, sign)
			if err != nil {
				return err
			}
			outfile.Note(signature)
			fmt.Fprintf(c.OutOrStdout(), "%s: hand it on beside the pack\n", filepath.ToSlash(signature))
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&to, "to", "", "pack single cases for this workshop")
	f.StringVar(&o.By, "by", "", "initials of who worked on a single case here")
	notebookFlag(c, &book)
	f.StringVar(&out, "out", "", "the file to write")
	replaceFlag(c, &replace)
	f.BoolVar(&withSite, "with-site", false, "pack the built pages as well")
	f.StringVar(&sign, "sign", "", "sign it with this private key (`benchlore key` makes one)")
	f.StringArrayVar(&o.Devices, "device", nil, "only cases of this device; may be repeated")
	f.StringArrayVar(&o.Symptoms, "symptom", nil, "only cases with this symptom, by its id; may be repeated")
	f.StringArrayVar(&o.Years, "year", nil, "only cases of this year; may be repeated")
	f.StringArrayVar(&o.Tags, "tag", nil, "only cases with this tag; may be repeated")
	f.BoolVar(&o.Closed, "closed", false, "only closed cases")
	f.BoolVar(&o.Anonymous, "anonymous", false, "without the workshop's name, initials and costs; days moved to the month's beginning, times between them true")
	return c
}

// single reads the choice of single cases.
func single(o *pack.Options, to string, cases []string) error {
	o.Cases, o.To = cases, casefile.Slug(to)
	switch {
	case o.To == "" || len(o.To) > 60:
		return usagef("--to %q is no name of a workshop", to)
	case o.Anonymous:
		return usagef("--anonymous does not go with --to: each row of a single case says whose it is")
	case len(o.Devices)+len(o.Symptoms)+len(o.Years)+len(o.Tags) > 0 || o.Closed:
		return usagef("single cases are chosen by their ids alone; leave out --device, --symptom, --year, --tag and --closed")
	case !initialsForm.MatchString(o.By):
		return usagef("--by is initials, such as RK or RK+MT, not %q", o.By)
	}
	return nil
}

var initialsForm = regexp.MustCompile(`^(\p{L}{1,4}(\+\p{L}{1,4})*)?$`)

// allowed says whether --out may be written, as wrong usage where it may not.
func allowed(out string, replace bool) error {
	if err := outfile.Allow(out, replace); err != nil {
		return usageError{err}
	}
	return nil
}

// writeOut writes what a command made to --out, whole or not at all.
func writeOut(out string, data []byte, replace bool) error {
	if err := allowed(out, replace); err != nil {
		return err
	}
	if err := disk.WriteFile(out, data); err != nil {
		return err
	}
	outfile.Note(out)
	return nil
}

func replaceFlag(c *cobra.Command, replace *bool) {
	c.Flags().BoolVar(replace, "replace", false, "write over a file that no earlier run wrote")
}

// writeWhole writes a large file beside its place and moves it there when it is
// whole and synced.
func writeWhole(ctx context.Context, name string, write func(w io.Writer) error) error {
	tmp, err := os.CreateTemp(filepath.Dir(name), ".benchlore-*")
	if err != nil {
		return usageError{err}
	}
	defer os.Remove(tmp.Name())
	err = write(tmp)
	if err == nil {
		err = errors.Join(tmp.Sync(), ctx.Err())
	}
	if err = errors.Join(err, tmp.Close()); err != nil {
		return err
	}
	if err := os.Chmod(tmp.Name(), 0o644); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), name)
}

func newKey() *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:         "key",
		Annotations: map[string]string{writes: "yes"},
		Short:       "Make a key pair to sign packs with",
		Long: `key makes a private key, readable by you alone, and a public one to hand out, in
minisign's format, in the folder that --out names; keep them out of the notebook. On
a terminal it offers your settings folder.`,
		Example: "  benchlore key --out ~/keys",
		Args:    atMost(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			dir := out
			if dir == "" {
				base, err := os.UserConfigDir()
				if err != nil {
					return err
				}
				dir = filepath.Join(base, "benchlore")
				if !terminal(c.InOrStdin()) {
					return usagef("--out is missing: the folder for the two keys, such as %s", shellQuote(dir))
				}
				p := newPrompt(c.Context(), c.InOrStdin(), c.ErrOrStderr())
				if answer, err := p.choose(fmt.Sprintf("Write a private and a public key to %s? [YES/no] ", dir),
					"yes", "yes", "no"); err != nil || answer == "no" {
					return cmp.Or(err, usagef("nothing was written; --out names another folder"))
				}
			}
			if err := outfile.Outside(dir); err != nil {
				return usageError{fmt.Errorf("keys are kept outside of a notebook: %w", err)}
			}
			private, public, err := pack.NewKey(dir)
			if err != nil {
				return err
			}
			text, err := os.ReadFile(public)
			if err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "private key  %s\npublic key   %s\n%s", private, public, text)
			return nil
		},
	}
	c.Flags().StringVar(&out, "out", "", "the folder for the two files")
	return c
}

func newReceive() *cobra.Command {
	var into, key, remove, as string
	var dry, older, theirs bool
	c := &cobra.Command{
		Use:         "receive FILE",
		Annotations: map[string]string{writes: "yes"},
		Short:       "Take another workshop's pack into the notebook",
		Long: `receive verifies the whole pack before a byte is written, says what it brings, and
takes it in under the other workshop's name: their 2026-0031 is quayside-2026-0031
here. A later pack of the same workshop brings it up to date; what was edited here
since stays and is listed. --remove takes all of it out again, and keeps and names what
was edited here with what that needs.

A workshop that signs its packs is known by its key from the first one on: another key
under its name is refused, and so is a pack without a signature. The key of a first pack
is shown; compare it with the workshop, or give theirs with --key. An unsigned pack joins
what came under its name only where a case of it says that it is the same workshop; --as
says so yourself, or gives another workshop of that name a name of its own.

A single case that comes back is merged with what was done here meanwhile. It adds and
changes and never takes out. Where both sides changed one field, both texts are shown
and ours stays, unless --take-theirs says otherwise.`,
		Example: `  benchlore receive quayside.zip --dry-run
  benchlore receive quayside.zip --key quayside.pub
  benchlore receive other-quayside.zip --as quayside-leeds
  benchlore receive --remove quayside`,
		Args: atMost(1, "one pack"),
		RunE: func(c *cobra.Command, args []string) error {
			n, err := load(into)
			if err != nil {
				return err
			}
			if err := n.Exists(); err != nil {
				return usageError{err}
			}
			if remove != "" {
				if len(args) > 0 || key != "" || as != "" || dry {
					return usagef("--remove stands alone")
				}
				return removeOrigin(c.OutOrStdout(), n, remove)
			}
			if len(args) == 0 {
				return usagef("a pack is missing; see `%s --help`", c.CommandPath())
			}
			beside := key == ""
			if beside {
				if key, err = pack.KeyBeside(args[0]); err != nil {
					return err
				}
			}
			p, err := pack.Open(args[0], key)
			if errors.Is(err, fs.ErrNotExist) {
				return usageError{err}
			}
			if err != nil {
				return err
			}
			defer p.Close()
			plan, err := p.PreviewWith(n, pack.Choices{As: as, Theirs: theirs})
			if err != nil {
				return err
			}
			printPlan(c.OutOrStdout(), p, plan, beside)
			if plan.Older != "" {
				fmt.Fprintf(c.OutOrStdout(), "this pack is older than what is here: %s\n", safe(plan.Older))
			}
			if dry {
				return nil
			}
			if plan.Older != "" && !older {
				return errors.New("nothing was written; --older takes it all the same")
			}
			if err := plan.Receive(c.Context()); err != nil {
				return fmt.Errorf("%w; run it again to finish", err)
			}
			for _, name := range plan.Late {
				fmt.Fprintf(c.OutOrStdout(), "written by somebody else meanwhile, left as it is: %s\n", safe(name))
			}
			fmt.Fprintln(c.OutOrStdout(), "received")
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&into, "into", ".", "the notebook's folder")
	f.BoolVar(&older, "older", false, "take a pack that is older than what came before")
	f.BoolVar(&theirs, "take-theirs", false, "where a field of a returned case differs on both sides, take theirs")
	f.BoolVar(&dry, "dry-run", false, "say what it would bring and write nothing")
	f.StringVar(&key, "key", "", "the public key that must have signed it, or the file with it")
	f.StringVar(&as, "as", "", "what the workshop is called here: a known one whose pack this is, or a new name")
	f.StringVar(&remove, "remove", "", "take out all that came from this workshop")
	return c
}

// shownPaths is how many files of each sort are named.
const shownPaths = 10

func printPlan(w io.Writer, p *pack.Pack, plan *pack.Plan, beside bool) {
	m := &p.Manifest
	fmt.Fprintf(w, "from %s (%s): %s, %s, %s\n", safe(m.Origin.Name), plan.Origin.ID,
		plural(m.Counts.Cases, "case", "cases"), plural(m.Counts.Devices, "device", "devices"),
		plural(m.Counts.Pictures, "picture", "pictures"))
	if m.Licence != "" {
		fmt.Fprintf(w, "licence of the notes: %s\n", safe(m.Licence))
	}
	if p.Signer != "" {
		fmt.Fprintf(w, "signed by %s\n", p.Signer)
		if beside && plan.FirstKey() {
			fmt.Fprintf(w, "this key is new here; compare it with the workshop: from now on it is what %s is known by\n", plan.Origin.ID)
		}
	} else {
		fmt.Fprintln(w, "who made it was not verified: it is not signed")
	}
	list := func(name string, paths []string) {
		if len(paths) == 0 {
			return
		}
		fmt.Fprintf(w, "%s: %d\n", name, len(paths))
		for _, s := range paths[:min(shownPaths, len(paths))] {
			fmt.Fprintf(w, "  %s\n", safe(s))
		}
		if len(paths) > shownPaths {
			fmt.Fprintf(w, "  and %d more\n", len(paths)-shownPaths)
		}
	}
	list("new files", plan.New)
	list("changed files", plan.Changed)
	if plan.Same > 0 {
		fmt.Fprintf(w, "there already: %d\n", plan.Same)
	}
	list("edited here, left as they are", plan.Conflicts)
	list("left out", plan.LeftOut)
	list("ours already", plan.Mapped)
	if m.To != "" {
		for _, s := range m.Shared {
			fmt.Fprintf(w, "case %s for %s, the code on its label says %s\n", safe(s.Case), safe(m.To), safe(s.Code))
		}
	}
	for _, c := range plan.Merged {
		printMerged(w, c, m.Origin.ID)
	}
}

// printMerged tells all that a returned case changes here, and all that it does not.
func printMerged(w io.Writer, c *pack.Merged, from string) {
	fmt.Fprintf(w, "case %s is merged: %s, %s\n", c.Case, plural(len(c.Taken), "change", "changes"), plural(len(c.Conflicts), "conflict", "conflicts"))
	for _, s := range c.Taken {
		fmt.Fprintf(w, "  taken: %s\n", safe(oneLine(s)))
	}
	for _, s := range c.Kept {
		fmt.Fprintf(w, "  taken out there, stays here: %s\n", safe(oneLine(s)))
	}
	for _, d := range c.Conflicts {
		fmt.Fprintf(w, "  differs: %s\n  # ours: %s\n  # %s: %s\n", safe(oneLine(d.Where)), safe(oneLine(d.Ours)), from, safe(oneLine(d.Theirs)))
	}
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

func removeOrigin(w io.Writer, n *notebook.Notebook, origin string) error {
	r, err := pack.TakeOut(n, origin)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "%s of %s removed\n", plural(r.Removed, "file", "files"), origin)
	if len(r.Edited) > 0 {
		fmt.Fprintf(w, "edited here, and kept: %s\n", safe(strings.Join(r.Edited, ", ")))
	}
	if len(r.Needed) > 0 {
		fmt.Fprintf(w, "needed by what stays, and kept: %s\n", safe(strings.Join(r.Needed, ", ")))
	}
	return nil
}
