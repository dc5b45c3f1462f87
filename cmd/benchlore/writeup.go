package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"benchlore/build/notebook"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

func newWriteup() *cobra.Command {
	w := writeup{}
	c := &cobra.Command{
		Use:   "writeup",
		Short: "Begin a case",
		Long: `writeup begins a case file with the next free number. On a terminal it asks for what
the flags do not say, section by section; an empty answer leaves a thing out.
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
	f.IntVar(&w.minutes.Diagnosis, "diagnosis", 0, "minutes of diagnosis")
	f.IntVar(&w.minutes.Repair, "repair", 0, "minutes of repair")
	f.StringVar(&w.c.Returns, "returns", "", "the earlier case that this one is a comeback of")
	return c
}

type writeup struct {
	dir                       string
	c                         casefile.Case
	cause                     casefile.Cause
	minutes                   casefile.Minutes
	symptoms, before, hazards []string
	sections                  []casefile.SectionText
}

func (w *writeup) run(c *cobra.Command) error {
	n, err := load(w.dir)
	if err != nil {
		return err
	}
	if err := n.Exists(); err != nil {
		return usageError{err}
	}
	if w.c.Opened == "" {
		w.c.Opened = time.Now().Format(time.DateOnly)
	}
	if err := w.resolve(n); err != nil {
		return usageError{err}
	}
	if terminal(c.InOrStdin()) {
		if err := w.interview(n, newPrompt(c.InOrStdin(), c.ErrOrStderr())); err != nil {
			return err
		}
	} else {
		const most = casefile.MaxSize
		text, err := io.ReadAll(io.LimitReader(c.InOrStdin(), most+1))
		if err != nil {
			return err
		}
		if len(text) > most {
			return fmt.Errorf("standard input is longer than %d bytes", most)
		}
		w.sections = notebook.SectionsFrom(string(text))
	}
	if strings.TrimSpace(w.c.Title) == "" {
		return usagef("--title is missing: one line that says what the owner noticed")
	}
	if w.c.Device == (casefile.Device{}) {
		return usagef("--device or --kind is missing: what is on the bench; `benchlore terms kinds` lists the kinds")
	}
	if w.cause != (casefile.Cause{}) {
		w.c.Cause = &w.cause
	}
	if w.minutes.Total() > 0 {
		w.c.Minutes = &w.minutes
	}
	path, problems, err := n.Write(notebook.Draft{Case: w.c, Sections: w.sections})
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
	printOpening(c.ErrOrStderr(), n, w.c.Device.ID)
	fmt.Fprintln(c.OutOrStdout(), filepath.ToSlash(filepath.Join(w.dir, path)))
	return nil
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
		ids, err := n.FindTerms(one.class, []string{*one.word})
		if err != nil {
			return err
		}
		*one.word = ids[0]
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

// prompt asks questions on a terminal.
type prompt struct {
	in  *bufio.Scanner
	out io.Writer
}

func newPrompt(in io.Reader, out io.Writer) *prompt {
	s := bufio.NewScanner(in)
	s.Buffer(nil, 1<<20)
	return &prompt{s, out}
}

var errInputEnded = errors.New("the answers ended early; nothing was written")

// line asks for one line; an empty answer is fine.
func (p *prompt) line(question string) (string, error) {
	fmt.Fprintf(p.out, "%s: ", question)
	if !p.in.Scan() {
		if err := p.in.Err(); err != nil {
			return "", err
		}
		return "", errInputEnded
	}
	return strings.TrimSpace(p.in.Text()), nil
}

// text asks for lines up to an empty one.
func (p *prompt) text(question string) (string, error) {
	fmt.Fprintf(p.out, "%s (an empty line ends it):\n", question)
	var lines []string
	for {
		line, err := p.line("  ")
		if err != nil {
			return "", err
		}
		if line == "" {
			return strings.Join(lines, "\n"), nil
		}
		lines = append(lines, line)
	}
}

// pick asks for words until they are understood, shows what they were taken
// for, and lets the answer be refused.
func (p *prompt) pick(n *notebook.Notebook, class terms.Class, question string) ([]string, error) {
	var ids []string
	for {
		more := question
		if len(ids) > 0 {
			more = "another, or nothing more"
		}
		words, err := p.line(more)
		if err != nil || words == "" {
			return ids, err
		}
		found, err := n.FindTerms(class, []string{words})
		if err != nil {
			fmt.Fprintf(p.out, "  %v\n", err)
			continue
		}
		for _, id := range found {
			t, _ := n.Terms.Lookup(class, id)
			answer, err := p.line(fmt.Sprintf("  %s: %s [Y/n]", t.Name, t.Meaning))
			if err != nil {
				return nil, err
			}
			if answer == "" || strings.HasPrefix(strings.ToLower(answer), "y") {
				ids = append(ids, id)
			}
		}
	}
}

// rows asks for the cells of a table, row by row; an empty first cell ends it.
func (p *prompt) rows(question string, columns []string) ([][]string, error) {
	fmt.Fprintf(p.out, "%s (an empty %s ends it)\n", question, columns[0])
	var rows [][]string
	for {
		var row []string
		for i, column := range columns {
			cell, err := p.line("  " + column)
			if err != nil {
				return nil, err
			}
			if i == 0 && cell == "" {
				return rows, nil
			}
			row = append(row, cell)
		}
		rows = append(rows, row)
	}
}

// interview asks for what the flags left open, in the order of work.
func (w *writeup) interview(n *notebook.Notebook, p *prompt) (err error) {
	ask := func(question string, into *string) {
		if err == nil && *into == "" {
			*into, err = p.line(question)
		}
	}
	pick := func(class terms.Class, question string, into *[]string) {
		if err == nil && len(*into) == 0 {
			*into, err = p.pick(n, class, question)
		}
	}
	ask("What did the owner notice, in one line", &w.c.Title)
	if err == nil && w.c.Device == (casefile.Device{}) {
		err = w.askDevice(n, p)
	}
	pick(terms.Symptom, "Symptoms, in plain words", &w.c.Symptoms)
	pick(terms.Before, "What happened just before", &w.c.Before)
	pick(terms.Hazard, "Hazards (mains, stored charge, lithium ...)", &w.c.Hazards)
	for _, id := range w.c.Hazards {
		if t, ok := n.Terms.Lookup(terms.Hazard, id); ok {
			fmt.Fprintf(p.out, "  ! %s: %s\n", t.Name, t.Caution)
		}
	}
	if err != nil {
		return err
	}
	return w.askSections(p)
}

func (w *writeup) askDevice(n *notebook.Notebook, p *prompt) error {
	var known []*notebook.Device
	for _, d := range n.Devices {
		if d.Record != nil {
			known = append(known, d)
		}
	}
	for i, d := range known {
		fmt.Fprintf(p.out, "  %2d  %s\n", i+1, d.Name(n.Terms))
	}
	for {
		answer, err := p.line("Device: a number or id from the list, or a kind such as lamp for another")
		if err != nil {
			return err
		}
		if answer == "" {
			break
		}
		if i, err := strconv.Atoi(answer); err == nil && i >= 1 && i <= len(known) {
			w.c.Device.ID = known[i-1].ID
			return nil
		}
		if d, ok := n.Device(answer); ok && d.Record != nil {
			w.c.Device.ID = d.ID
			return nil
		}
		if kind, ok := n.Terms.Resolve(terms.Kind, answer); ok {
			w.c.Device.Kind = kind.ID
			break
		}
		fmt.Fprintf(p.out, "  %q is neither in the list nor a kind%s\n", answer, diagnostic.DidYouMean(n.Terms.Nearest(terms.Kind, answer)))
	}
	for w.c.Device.Kind == "" {
		answer, err := p.line("Kind of device (lamp, kettle, laptop ...; misc for none of them)")
		if err != nil {
			return err
		}
		ids, err := n.FindTerms(terms.Kind, []string{answer})
		if err != nil || len(ids) == 0 {
			fmt.Fprintf(p.out, "  %v\n", err)
			continue
		}
		w.c.Device.Kind = ids[0]
	}
	var err error
	if w.c.Device.Maker, err = p.line("Maker"); err == nil {
		w.c.Device.Model, err = p.line("Model")
	}
	return err
}

func (w *writeup) askSections(p *prompt) error {
	add := func(name, text string) {
		if text != "" {
			w.sections = append(w.sections, casefile.SectionText{Name: name, Text: text})
		}
	}
	text, err := p.text("Symptom: what the owner said, what the bench saw, how to provoke it")
	if err != nil {
		return err
	}
	add("Symptom", text)
	for _, t := range []struct {
		name, question string
		columns        []string
	}{
		{"Findings", "Findings so far; result is clear, fault or unsure", casefile.FindingColumns},
		{"Measurements", "Measurements so far; expected as 3.3 V ±5 %, 0.45..0.55 V, > 1 MΩ or OL", casefile.MeasurementColumns},
	} {
		rows, err := p.rows(t.question, t.columns)
		if err != nil {
			return err
		}
		if len(rows) > 0 {
			add(t.name, casefile.FormatTable(t.columns, rows))
		}
	}
	return nil
}
