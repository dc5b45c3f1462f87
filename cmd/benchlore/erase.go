package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"benchlore/build/notebook"
	"benchlore/build/output/site"
	"benchlore/build/output/wording"
	"benchlore/build/write/editor"
	"benchlore/build/write/erase"
)

func newErase() *cobra.Command {
	var dir string
	var yes bool
	var want erase.Wanted
	c := &cobra.Command{
		Use:         "erase CASE [TEXT...]",
		Annotations: map[string]string{writes: "yes"},
		Short:       "Take what a customer wants out of a case and of all that is kept of it",
		Long: `erase takes each TEXT out of a case: its file, private notes and captions, its
earlier versions, the journal, answers that were not finished, and names of files;
what is derived is thrown away and made again. A text is found as a reader sees it:
in any capitals, as whole words, however white space, line ends and marks such as
** stand in it. A mark with the day takes its place.
--private takes out what is private of the case, with comments; --pictures a
picture of the case's folder with its original and what names it; --all the whole
case, whose number is not given again. Other files that have the text are named,
and changed with --everywhere only.
Without --yes it shows what it would do, and does nothing. A writing server must be
ended first. What it cannot reach, it says.`,
		Example: `  benchlore erase 2026-0018 "away until Monday"
  benchlore erase 2026-0018 "away until Monday" --yes
  benchlore erase 2026-0018 --all`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usagef("a case is missing; see `benchlore erase --help`")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			want.Texts = args[1:]
			some := len(want.Texts)+len(want.Pictures) > 0 || want.Private
			if !some && !want.All {
				return usagef("what is to go is missing: a text, --private, --pictures NAME or --all")
			}
			if some && want.All {
				return usagef("--all takes the whole case; leave out the text, --private and --pictures")
			}
			n, err := loadBook(dir)
			if err != nil {
				return err
			}
			p, err := erase.New(n, args[0], want, erase.Options{Word: wording.In(n.Config.Language).Say("erased"), Day: time.Now(),
				SiteFile: site.ManifestFile, Sites: site.Known(n.Dir), SiteList: site.KnownList(n.Dir)})
			switch {
			case errors.Is(err, erase.ErrNoCase):
				return noCase(n, args[0])
			case errors.Is(err, erase.ErrNoText):
				return usageError{err}
			case err != nil:
				return err
			}
			if yes {
				done, err := p.Do(c.Context())
				if err != nil {
					return fmt.Errorf("%w; running it again goes on from there", err)
				}
				p = done
			}
			return report{c.OutOrStdout(), n, wording.In(n.Config.Language), args[0], p, want, yes}.print()
		},
	}
	notebookFlag(c, &dir)
	f := c.Flags()
	f.BoolVar(&yes, "yes", false, "do it; without, it is only shown")
	f.BoolVar(&want.Parts, "parts", false, "longer words that the text is a part of go too")
	f.BoolVar(&want.Private, "private", false, "everything private of the case, in all versions")
	f.StringArrayVar(&want.Pictures, "pictures", nil, "a picture or another file of the case's folder, by its name; may be repeated")
	f.BoolVar(&want.All, "all", false, "the whole case, with all that is kept of it")
	f.BoolVar(&want.Everywhere, "everywhere", false, "in the other files of the notebook too")
	return c
}

// report says what became of a plan, in the notebook's language.
type report struct {
	out   io.Writer
	n     *notebook.Notebook
	texts *wording.Texts
	id    string
	p     *erase.Plan
	want  erase.Wanted
	done  bool
}

// mostNamed is how many places of a sort are named; the others are counted.
const mostNamed = 20

func (r report) print() error {
	say, count := r.texts.Say, r.texts.Count
	r.changes()
	r.places(say("Stays: the notebook is read by it (a key, a heading, a number, a word of its vocabulary)"), r.p.Left)
	if !r.want.Parts {
		r.places(say("Stays: it is part of a longer word; --parts takes those out too"), r.p.Longer)
	}
	if r.want.All {
		r.places(say("Names the case, and stays"), r.p.Elsewhere)
	} else if r.want.Everywhere {
		r.places(say("Stays: the name of a file that others may go by; rename it yourself"), r.p.Elsewhere)
	} else {
		r.places(say("Elsewhere in the notebook; --everywhere takes it out there too"), r.p.Elsewhere)
	}
	for _, text := range r.p.Missing {
		fmt.Fprintln(r.out, say("Stands nowhere in the case: %s", safe(text)))
	}
	r.unread()
	r.beyond()
	switch {
	case r.p.Nothing():
		fmt.Fprintln(r.out, say("Nothing was found in the case, and nothing of it changed."))
		return errSilent
	case !r.done:
		fmt.Fprintln(r.out, count(len(r.p.Changes), "%d file would change; nothing is changed without --yes.", "%d files would change; nothing is changed without --yes."))
		return nil
	}
	fmt.Fprintln(r.out, count(len(r.p.Changes), "%d file changed.", "%d files changed."))
	if len(r.p.Left) > 0 {
		return errSilent
	}
	return nil
}

// shown is a path as the user would type it.
func (r report) shown(name string) string {
	return safe(filepath.ToSlash(filepath.Join(r.n.Dir, name)))
}

// changes prints each line that changes, those that are the same in several versions once.
func (r report) changes() {
	say, count := r.texts.Say, r.texts.Count
	type key struct{ before, after string }
	var order []key
	where := map[key][]string{}
	for _, c := range r.p.Changes {
		for _, l := range c.Lines {
			k := key{strings.TrimRight(l.Before, "\r"), strings.TrimRight(l.After, "\r")}
			if c.Removed {
				continue
			}
			if len(where[k]) == 0 {
				order = append(order, k)
			}
			where[k] = append(where[k], fmt.Sprintf("%s:%d", r.shown(c.Path), l.Number))
		}
	}
	for _, k := range order {
		fmt.Fprintln(r.out, where[k][0])
		if more := where[k][1:]; len(more) > 0 {
			fmt.Fprintln(r.out, "  "+count(len(more), "and the same in %d place more: %s", "and the same in %d places more: %s", some(more)))
		}
		fmt.Fprintf(r.out, "  - %s\n", clipped(k.before))
		if k.after != "" {
			fmt.Fprintf(r.out, "  + %s\n", clipped(k.after))
		}
	}
	for _, c := range r.p.Changes {
		switch {
		case c.Removed:
			fmt.Fprintln(r.out, say("goes: %s", r.shown(c.Path)))
		case c.To != "":
			fmt.Fprintln(r.out, say("new name: %s → %s", r.shown(c.Path), safe(filepath.Base(c.To))))
		}
	}
}

func clipped(line string) string {
	const most = 300
	runes := []rune(safe(strings.TrimSpace(line)))
	if len(runes) > most {
		return string(runes[:most]) + "…"
	}
	return string(runes)
}

// some names the first of a list.
func some(list []string) string {
	const most = 3
	if len(list) > most {
		return strings.Join(list[:most], ", ") + ", …"
	}
	return strings.Join(list, ", ")
}

func (r report) places(head string, list []erase.Place) {
	if len(list) == 0 {
		return
	}
	fmt.Fprintln(r.out, head+":")
	for i, p := range list {
		if i == mostNamed {
			fmt.Fprintln(r.out, "  "+r.texts.Count(len(list)-i, "and %d place more", "and %d places more"))
			break
		}
		if p.Line == 0 {
			fmt.Fprintf(r.out, "  %s\n", r.shown(p.Path))
			continue
		}
		fmt.Fprintf(r.out, "  %s:%d: %s\n", r.shown(p.Path), p.Line, clipped(p.Text))
	}
}

// unread names what was not looked into: the case's own by their names, others by number.
func (r report) unread() {
	if r.want.All || len(r.want.Texts) == 0 {
		return
	}
	say, count := r.texts.Say, r.texts.Count
	var own []string
	others := map[erase.Kind]int{}
	for _, u := range r.p.Unread {
		if u.Own {
			own = append(own, r.shown(u.Path))
		} else {
			others[u.Kind]++
		}
	}
	if len(own) > 0 {
		fmt.Fprintln(r.out, say("Not looked into, since it is no text that can be searched; look yourself:"))
		for _, name := range own {
			fmt.Fprintf(r.out, "  %s\n", name)
		}
	}
	var said []string
	add := func(n int, text string) {
		if n > 0 {
			said = append(said, text)
		}
	}
	add(others[erase.Picture], count(others[erase.Picture], "%d picture", "%d pictures"))
	add(others[erase.Sound], count(others[erase.Sound], "%d recording", "%d recordings"))
	add(others[erase.Archive], count(others[erase.Archive], "%d archive", "%d archives"))
	add(others[erase.Link], count(others[erase.Link], "%d link", "%d links"))
	add(others[erase.Other], count(others[erase.Other], "%d other file", "%d other files"))
	if len(said) > 0 {
		fmt.Fprintln(r.out, say("Not looked into elsewhere in the notebook: %s", strings.Join(said, ", ")))
	}
}

// beyond says what this cannot reach.
func (r report) beyond() {
	say := r.texts.Say
	for _, s := range slices.Compact(slices.Sorted(slices.Values(r.p.Sites))) {
		fmt.Fprintln(r.out, say("Published at %s: publish there again, and it is gone from those pages too", safe(filepath.ToSlash(s))))
	}
	for _, dir := range editor.LeftPages(r.id) {
		fmt.Fprintln(r.out, say("Not reached: pages of a writing server in %s; remove them if they are of this notebook and it was killed", safe(filepath.ToSlash(dir))))
	}
	if c, ok := r.n.Case(r.id); ok && c.File.Case.From != "" {
		fmt.Fprintln(r.out, say("The case came from %s: a later pack may bring it again; ask there to erase it too", safe(c.File.Case.From)))
	}
	for _, c := range r.p.Control {
		fmt.Fprintln(r.out, say("Not reached: the version control in %s has what was there before", r.shown(c)))
	}
	fmt.Fprintln(r.out, say("Not reached: packs that were given out, sites that were copied, exports, printed sheets, backups, and the histories of version control. They cannot be called back."))
}
