package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/build/reason/verdict"
	"benchlore/build/write/editor"
	"benchlore/build/write/interview"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

func newWriteup() *cobra.Command {
	w := writeup{}
	c := &cobra.Command{
		Use:         "writeup",
		Annotations: map[string]string{writes: "yes"},
		Short:       "Begin a case",
		Long: `writeup begins a case file with the next free number. On a terminal it asks for what
the flags do not say, from the symptom to the lesson; each answer is checked as it
is given. Nothing leaves a thing out, ? lists the choices, back goes one question
back. Answers are kept as they are given: after Ctrl-C the next writeup goes on
with them. --close CASE asks what closes a case that is open.
Elsewhere it takes flags, and the text from standard input: Markdown with
headings such as "## Symptom" and "## Findings", or plain text as the symptom.
It never overwrites a file.`,
		Example: `  benchlore writeup
  echo "Dead since the storm." | benchlore writeup --title "Router dead after a storm" \
    --kind network-device --symptom "no power" --before storm`,
		Args: atMost(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error { return w.run(c) },
	}
	f := c.Flags()
	f.StringVar(&w.dir, "notebook", ".", "the notebook's folder")
	f.StringVar(&w.close, "close", "", "close this case: asks for what it lacks, on a terminal")
	f.StringVar(&w.c.Title, "title", "", "one line: what the owner noticed")
	f.StringVar(&w.c.Device.ID, "device", "", "id of a device in devices/")
	f.StringVar(&w.c.Device.Kind, "kind", "", "kind of device, where it has no file")
	f.StringVar(&w.c.Device.Maker, "maker", "", "its maker, where it has no file")
	f.StringVar(&w.c.Device.Model, "model", "", "its model, where it has no file")
	f.StringVar(&w.c.Board, "board", "", "board and revision")
	f.StringVar(&w.c.Opened, "opened", "", "day it was opened, YYYY-MM-DD; today by default")
	f.StringVar(&w.c.Closed, "closed", "", "day it was closed; leave out while it is open")
	f.StringVar(&w.c.By, "by", "", "initials")
	f.StringArrayVar(&w.symptoms, "symptom", nil, "a symptom in plain words; may be repeated")
	f.StringArrayVar(&w.before, "before", nil, "what happened before, in plain words; may be repeated")
	f.StringArrayVar(&w.hazards, "hazard", nil, "a hazard; may be repeated")
	f.StringVar(&w.cause.Fault, "fault", "", "what was wrong")
	f.StringVar(&w.cause.At, "at", "", "where it was")
	f.StringVar(&w.cause.Origin, "origin", "", "what brought it about")
	f.StringVar(&w.c.Outcome, "outcome", "", "fixed, repairable, end-of-life or unknown")
	f.StringVar(&w.c.Barrier, "barrier", "", "why it was given up")
	f.StringVar(&w.c.Confirmed, "confirmed", "", "how the repair was proved")
	f.IntVar(&w.diagnosis, "diagnosis", -1, "minutes of diagnosis")
	f.IntVar(&w.repair, "repair", -1, "minutes of repair")
	f.StringVar(&w.c.Returns, "returns", "", "the earlier case that this one is a comeback of")
	return c
}

type writeup struct {
	dir                       string
	c                         casefile.Case
	cause                     casefile.Cause
	diagnosis, repair         int // minutes; -1 for not said
	close                     string
	symptoms, before, hazards []string
}

func (w *writeup) run(c *cobra.Command) error {
	n, err := load(w.dir)
	if err != nil {
		return err
	}
	if err := n.Exists(); err != nil {
		return usageError{err}
	}
	if w.close != "" {
		return w.closeCase(c, n)
	}
	if w.c.Opened == "" {
		w.c.Opened = time.Now().Format(time.DateOnly)
	}
	if err := w.resolve(n); err != nil {
		return usageError{err}
	}
	if w.cause != (casefile.Cause{}) {
		w.c.Cause = &w.cause
	}
	if w.diagnosis >= 0 || w.repair >= 0 {
		w.c.Minutes = &casefile.Minutes{}
		if w.diagnosis >= 0 {
			w.c.Minutes.Diagnosis = &w.diagnosis
		}
		if w.repair >= 0 {
			w.c.Minutes.Repair = &w.repair
		}
	}
	if terminal(c.InOrStdin()) {
		return w.interview(c, n)
	}
	const most = casefile.MaxSize
	text, err := io.ReadAll(io.LimitReader(c.InOrStdin(), most+1))
	if err != nil {
		return err
	}
	if len(text) > most {
		return fmt.Errorf("standard input is longer than %d bytes", most)
	}
	if strings.TrimSpace(w.c.Title) == "" {
		return usagef("--title is missing: one line that says what the owner noticed")
	}
	if w.c.Device == (casefile.Device{}) {
		return usagef("--device or --kind is missing: what is on the bench; `benchlore terms kinds` lists the kinds")
	}
	return w.write(c, n, w.c, notebook.SectionsFrom(string(text)))
}

// write puts a new case into the notebook and says where it is.
func (w *writeup) write(c *cobra.Command, n *notebook.Notebook, k casefile.Case, sections []casefile.SectionText) error {
	path, problems, err := n.Write(notebook.Draft{Case: k, Sections: sections})
	if len(problems) > 0 {
		if printErr := diagnostic.WriteText(c.ErrOrStderr(), problems); printErr != nil {
			return printErr
		}
	}
	if errors.Is(err, notebook.ErrProblems) {
		return fmt.Errorf("nothing was written: %w", err)
	}
	if err != nil {
		return err
	}
	printOpening(c.ErrOrStderr(), n, k.Device.ID)
	fmt.Fprintln(c.OutOrStdout(), filepath.ToSlash(filepath.Join(w.dir, path)))
	return nil
}

// interview asks for a new case on a terminal.
func (w *writeup) interview(c *cobra.Command, n *notebook.Notebook) error {
	defer disk.Folder(n.Dir).Attend()() // the answers are in memory
	p := newPrompt(c.Context(), c.InOrStdin(), c.ErrOrStderr())
	d, err := draftOf(p, n, "")
	if err != nil {
		return err
	}
	given := map[string]string{}
	for _, f := range casefile.Fields {
		if value := w.c.Text(f.Path); value != "" {
			given[f.Path] = value
		}
	}
	i := interview.New(n, d, given, time.Now())
	i.Judge = judgeOf(n)
	if err := converse(p, i, d, "benchlore writeup"); err != nil {
		return err
	}
	if err := w.write(c, n, i.Case(), i.Sections()); err != nil {
		return fmt.Errorf("%w; the answers are kept in %s", err, d.Path())
	}
	return d.Done()
}

// closeCase asks for what a case lacks, and closes it.
func (w *writeup) closeCase(c *cobra.Command, n *notebook.Notebook) error {
	found, ok := n.Case(w.close)
	if !ok {
		return noCase(n, w.close)
	}
	if !found.File.Case.Open() {
		return usagef("case %s was closed on %s", found.ID(), found.File.Case.Closed)
	}
	if !terminal(c.InOrStdin()) {
		return usagef("--close asks on a terminal; elsewhere write closed: and outcome: into %s",
			filepath.ToSlash(filepath.Join(w.dir, found.Path)))
	}
	defer disk.Folder(n.Dir).Attend()()
	f, err := n.Whole(found)
	if err != nil {
		return err
	}
	p := newPrompt(c.Context(), c.InOrStdin(), c.ErrOrStderr())
	d, err := draftOf(p, n, found.ID())
	if err != nil {
		return err
	}
	i := interview.Closing(n, f, d, time.Now())
	i.Judge = judgeOf(n)
	if err := converse(p, i, d, "benchlore writeup --close "+found.ID()); err != nil {
		return err
	}
	next, err := i.File()
	if err == nil {
		store := editor.NewStore(n.Dir, n.Config.History)
		err = store.Save(found.ID(), found.Path, editor.VersionOf(f.Bytes()), next.Bytes())
	}
	if err != nil {
		return fmt.Errorf("%w; the answers are kept in %s", err, d.Path())
	}
	state := "still open"
	if day := next.Case.Closed; day != "" {
		state = "closed " + day
	}
	fmt.Fprintf(c.OutOrStdout(), "%s: %s\n", filepath.ToSlash(filepath.Join(w.dir, found.Path)), state)
	return d.Done()
}

// draftOf offers the answers of an earlier time.
func draftOf(p *prompt, n *notebook.Notebook, id string) (*interview.Draft, error) {
	d, err := interview.ReadDraft(n.Dir, id)
	if err != nil {
		return nil, err
	}
	if d == nil || len(d.Answers) == 0 {
		return interview.NewDraft(n.Dir, id, time.Now()), nil
	}
	fmt.Fprintf(p.out, "Answers of %s were not finished:\n", d.Begun.Local().Format("2006-01-02 15:04"))
	for _, a := range d.Answers {
		if a.Text != "" {
			fmt.Fprintf(p.out, "  %s: %s\n", a.Key, safe(a.Text))
		}
	}
	answer, err := p.choose("Go on with them? [YES/no] ", "yes", "yes", "no")
	if err != nil {
		return nil, err
	}
	if answer == "yes" {
		return d, nil
	}
	aside, err := d.SetAside(time.Now())
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(p.out, "they are kept in %s\n", aside)
	return interview.NewDraft(n.Dir, id, time.Now()), nil
}

// converse runs an interview; whatever ends it early, the answers stay.
func converse(p *prompt, i *interview.Interview, d *interview.Draft, again string) error {
	i.Say = func(format string, args ...any) { fmt.Fprintln(p.out, safe(fmt.Sprintf(format, args...))) }
	err := i.Run(p.ask)
	if err != nil && len(d.Answers) > 0 {
		return fmt.Errorf("%w; the answers so far are in %s, and `%s` goes on with them", err, d.Path(), again)
	}
	return err
}

// resolve turns the words of the flags into terms.
func (w *writeup) resolve(n *notebook.Notebook) (err error) {
	if w.c.Symptoms, err = n.FindTerms(terms.Symptom, w.symptoms); err != nil {
		return err
	}
	if w.c.Before, err = n.FindTerms(terms.Before, w.before); err != nil {
		return err
	}
	if w.c.Hazards, err = n.FindTerms(terms.Hazard, w.hazards); err != nil {
		return err
	}
	for _, one := range []struct {
		class terms.Class
		word  *string
	}{{terms.Fault, &w.cause.Fault}, {terms.Place, &w.cause.At}, {terms.Origin, &w.cause.Origin}, {terms.Outcome, &w.c.Outcome},
		{terms.Barrier, &w.c.Barrier}, {terms.Kind, &w.c.Device.Kind}} {
		if *one.word == "" {
			continue
		}
		t, err := n.FindTerm(one.class, *one.word)
		if err != nil {
			return err
		}
		*one.word = t.ID
	}
	if id := w.c.Device.ID; id != "" {
		if w.c.Device.Kind+w.c.Device.Maker+w.c.Device.Model != "" {
			return errors.New("--device names a file of its own; leave out --kind, --maker and --model")
		}
		if d, ok := n.Device(id); ok && d.Record == nil {
			return fmt.Errorf("%s is only described in cases; give --kind, --maker and --model, or write devices/%s.md", id, id)
		}
	}
	return nil
}

// judgeOf applies the rules about readings, parts and closing to a case that is under way.
func judgeOf(n *notebook.Notebook) func(*casefile.File) []diagnostic.Diagnostic {
	return func(f *casefile.File) []diagnostic.Diagnostic {
		return verdict.New(n).Of(n.With(&notebook.Case{File: f}, f))
	}
}
