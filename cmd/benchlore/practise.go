package main

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"benchlore/build/learn/practice"
	"benchlore/build/notebook"
	"benchlore/build/output/wording"
	"benchlore/build/reason/hazard"
	"benchlore/build/reason/triage"
	"benchlore/build/reason/verdict"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

func newPractise() *cobra.Command {
	var dir, file, on string
	var list bool
	c := &cobra.Command{
		Use:         "practise [CASE]",
		Annotations: map[string]string{writes: "yes"},
		Short:       "Work through a closed case blind",
		Long: `practise shows the device and symptom of a closed case, lets you choose checks and
say what you expect of each, and asks for the cause; then it shows the real path
beside yours, what each check could have told, and the lesson. Without CASE it takes
the one that is due by SM-2 (P. A. Woźniak 1990), else a new one near what you got
wrong, then the one with the commonest cause. The published page Practise does the
same and reads the same progress file.`,
		Example: `  benchlore practise
  benchlore practise 2025-0005 --progress mine.json
  benchlore practise --list`,
		Args: atMost(1, "one case"),
		RunE: func(c *cobra.Command, args []string) error {
			n, err := loadBook(dir)
			if err != nil {
				return err
			}
			day := time.Now()
			if on != "" {
				if day, err = time.Parse(time.DateOnly, on); err != nil {
					return usagef("--on takes a day as YYYY-MM-DD, not %q", on)
				}
			}
			file = cmp.Or(file, progressFile(n))
			progress, err := practice.ReadProgress(file, n.Config.Name)
			if err != nil {
				return err
			}
			s := &session{n: n, progress: progress, day: day, out: c.OutOrStdout(),
				in: newPrompt(c.Context(), c.InOrStdin(), c.OutOrStdout()), say: wording.In(n.Config.Language).Say}
			entries := practice.New(n, nil, nil).Entries()
			if list {
				return s.list(entries)
			}
			var id string
			if len(args) > 0 {
				id = args[0]
			} else {
				next, due, ok := progress.Next(progress.Ours(entries), day)
				if !ok {
					fmt.Fprintln(c.ErrOrStderr(), noneFit)
					return errSilent
				}
				id = next.ID
				if due {
					fmt.Fprintln(s.out, s.say("This one is due again."))
				}
			}
			s.book = practice.New(n, verdict.New(n), triage.New(n))
			x, err := s.exercise(id)
			if err != nil {
				return err
			}
			attempt, done := s.work(x)
			if !done {
				fmt.Fprintln(s.out, s.say("Left off; nothing was noted."))
				if c.Context().Err() != nil {
					return errInterrupted
				}
				return nil
			}
			s.debrief(x, attempt)
			return progress.Write(file)
		},
	}
	f := c.Flags()
	f.StringVar(&dir, "notebook", ".", "the notebook's folder")
	f.StringVar(&file, "progress", "", "file of your progress; kept with your settings by default")
	f.StringVar(&on, "on", "", "the day that counts as today, YYYY-MM-DD")
	f.BoolVar(&list, "list", false, "list the cases fit for practice, and when each comes again")
	return c
}

// progressFile is where the progress with a notebook is kept by default: with the
// user's settings, since the notebook may be shared.
func progressFile(n *notebook.Notebook) string {
	home, err := os.UserConfigDir()
	if err != nil {
		home = n.Dir
	}
	h := fnv.New32a()
	_, _ = h.Write([]byte(n.Config.Name))
	return filepath.Join(home, "benchlore", fmt.Sprintf("practice-%08x.json", h.Sum32()))
}

// session is one sitting of a learner.
type session struct {
	n        *notebook.Notebook
	book     *practice.Book
	progress *practice.Progress
	day      time.Time
	out      io.Writer
	in       *prompt
	say      func(english string, args ...any) string
}

const noneFit = "no closed case is fit for practice yet; `benchlore check --teach` says what each lacks"

func (s *session) list(entries []practice.Entry) error {
	w := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
	for _, e := range entries {
		c, _ := s.n.Case(e.ID)
		state := s.say("new")
		if r, ok := s.progress.Cases[e.ID]; ok {
			state = s.say("again on %s", r.Due)
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", e.ID, safe(c.Device.Described(s.n.Terms)),
			safe(strings.Join(s.n.Terms.Names(terms.Symptom, c.File.Case.Symptoms), ", ")), state)
	}
	if len(entries) == 0 {
		fmt.Fprintln(s.out, noneFit)
		return errSilent
	}
	return w.Flush()
}

func (s *session) exercise(id string) (practice.Exercise, error) {
	c, ok := s.n.Case(id)
	if !ok {
		var ids []string
		for _, c := range s.n.Cases {
			ids = append(ids, c.ID())
		}
		return practice.Exercise{}, usagef("there is no case %q%s", id, diagnostic.DidYouMean(terms.Nearest(id, ids)))
	}
	x, ok := s.book.Of(c)
	if !ok {
		return x, usagef("case %s cannot be worked through: it lacks %s", id, strings.Join(append(s.book.Lacks(c), "a check")[:1], ", "))
	}
	return x, nil
}

func (s *session) ask(question string) (string, bool) {
	answer, err := s.in.line(question + " ")
	return answer, err == nil
}

func (s *session) minutes(m float64) string {
	return s.say("%s min", strconv.FormatFloat(m, 'f', 0, 64))
}

func (s *session) cause(c triage.Cause) string {
	return s.n.Terms.Name(terms.Fault, c.Fault) + ", " + s.n.Terms.Name(terms.Place, c.At)
}

// work lets the learner check and name; done is false where the input ended first.
func (s *session) work(x practice.Exercise) (a practice.Attempt, done bool) {
	if x.Stop {
		fmt.Fprintf(s.out, "%s  %s\n", s.say("STOP"), s.say(hazard.Stop))
	}
	for _, id := range x.Dangers {
		if t, ok := s.n.Terms.Lookup(terms.Danger, id); ok {
			fmt.Fprintf(s.out, "%s  %s: %s\n", s.say("DANGER"), safe(t.Name), safe(strings.Join(t.First, " ")))
		}
	}
	for _, id := range x.Hazards {
		if t, ok := s.n.Terms.Lookup(terms.Hazard, id); ok {
			fmt.Fprintf(s.out, "%s  %s. %s\n", s.say("CAUTION"), safe(t.Name), safe(t.Advice()))
		}
	}
	line := func(name string, list []string) {
		if len(list) > 0 {
			fmt.Fprintf(s.out, "%s: %s\n", name, safe(strings.Join(list, ", ")))
		}
	}
	fmt.Fprintf(s.out, "\n%s\n", s.say("On the bench: %s", safe(x.Device)))
	line(s.say("Symptoms"), x.Symptoms)
	line(s.say("Asked and absent"), x.Absent)
	line(s.say("Beforehand"), x.Before)
	fmt.Fprintf(s.out, "\n%s\n", safe(x.Said))
	checks := append(slices.Clone(x.Checks), s.book.Others(x)...)
	slices.SortStableFunc(checks, func(a, b practice.Check) int { return strings.Compare(a.Text, b.Text) })
	causes := s.book.Choices(x)
	slices.SortFunc(causes, func(a, b triage.Cause) int { return strings.Compare(s.cause(a), s.cause(b)) })
	made := map[int]bool{}
	for {
		fmt.Fprintln(s.out)
		held := 0
		waits := func(c practice.Check) bool { return x.Held(c, checks, func(i int) bool { return made[i] }) }
		for i, c := range checks {
			switch {
			case made[i]:
			case waits(c):
				held++
			default:
				fmt.Fprintf(s.out, "%3d  %s (%s)\n", i+1, safe(c.Text), s.minutes(c.Minutes))
			}
		}
		if held > 0 {
			fmt.Fprintln(s.out, s.say("%d more checks wait: first one that needs no power", held))
		}
		answer, ok := s.ask(s.say("Number of a check; c names the cause, s shows it:"))
		if !ok {
			return a, false
		}
		switch i, err := strconv.Atoi(answer); {
		case answer == "s":
			a.Gave = true
			return a, true
		case answer == "c":
			named, ok := s.name(causes)
			if !ok {
				return a, false
			}
			if named != nil {
				a.Named = *named
				return a, true
			}
		case err != nil || i < 1 || i > len(checks) || made[i-1] || waits(checks[i-1]):
			fmt.Fprintln(s.out, s.say("That is none of them."))
		default:
			if !s.check(checks[i-1], &a) {
				return a, false
			}
			made[i-1] = true
		}
	}
}

func (s *session) name(causes []triage.Cause) (*triage.Cause, bool) {
	for i, c := range causes {
		fmt.Fprintf(s.out, "%3d  %s\n", i+1, s.cause(c))
	}
	answer, ok := s.ask(s.say("Number of the cause; an empty line goes back:"))
	if !ok {
		return nil, false
	}
	if i, err := strconv.Atoi(answer); err == nil && i >= 1 && i <= len(causes) {
		return &causes[i-1], true
	}
	return nil, true
}

// check asks what is expected and shows what was found.
func (s *session) check(c practice.Check, a *practice.Attempt) bool {
	expect := ""
	for expect == "" {
		answer, ok := s.ask(s.say("What do you expect: clear, fault or unsure?"))
		if !ok {
			return false
		}
		if t, ok := s.n.Terms.Resolve(terms.Result, answer); ok {
			expect = t.ID
		} else if answer == "" {
			expect = "unsure" // nothing is expected
		} else {
			fmt.Fprintln(s.out, s.say("That is none of them."))
		}
	}
	a.Minutes += c.Minutes
	if c.Result == "" {
		fmt.Fprintln(s.out, s.say("%s: this case has no record of that check.", safe(c.Text)))
		return true
	}
	if expect != "unsure" {
		a.Said++
		if expect == c.Result {
			a.Right++
		}
	}
	fmt.Fprintf(s.out, "  -> %s: %s. %s\n", safe(c.Text), safe(c.Seen),
		s.say("Result: %s; %s min so far", s.say(c.Result), strconv.FormatFloat(a.Minutes, 'f', 0, 64)))
	return true
}

func (s *session) debrief(x practice.Exercise, a practice.Attempt) {
	d := s.book.DebriefOf(x)
	q := x.Grade(a)
	r := s.progress.Take(x.ID, q, s.day)
	verdict := s.say("Not it")
	if a.Gave {
		verdict = s.say("Shown")
	} else if a.Named == x.Cause {
		verdict = s.say("Found")
	}
	fmt.Fprintf(s.out, "\n%s. %s", verdict, s.say("It was: %s.", s.cause(x.Cause)))
	if !a.Gave && a.Named != x.Cause {
		fmt.Fprint(s.out, " "+s.say("You named: %s.", s.cause(a.Named)))
	}
	fmt.Fprintf(s.out, "\n%s\n", s.say("%s of %s expectations came true.", strconv.Itoa(a.Right), strconv.Itoa(a.Said)))
	fmt.Fprintf(s.out, "%s\n", s.say("Your path: %s", s.minutes(a.Minutes)))
	fmt.Fprintf(s.out, "%s\n", s.say("The real path: %s to the fault", s.minutes(d.Own)))
	real := slices.DeleteFunc(slices.Clone(x.Checks), func(c practice.Check) bool { return c.Reading })
	slices.SortFunc(real, func(a, b practice.Check) int { return a.Turn - b.Turn })
	for _, c := range real {
		fmt.Fprintf(s.out, "  %s: %s (%s, %s)\n", safe(c.Text), safe(c.Seen), s.say(c.Result), s.minutes(c.Minutes))
	}
	if d.Found {
		fmt.Fprintln(s.out, s.say("The offered order, which knew the symptom and the other cases alone, would have come to it in %s.", s.minutes(d.Offered)))
	} else {
		fmt.Fprintln(s.out, s.say("The offered order would not have come to it: no other case found a fault by these checks."))
	}
	fmt.Fprintf(s.out, "\n%s\n", s.say("What each check could have told"))
	for i, c := range x.Checks {
		t := d.Told[i]
		if !t.Known {
			fmt.Fprintf(s.out, "  %s: %s\n", safe(c.Text), s.say("no other case says"))
			continue
		}
		fmt.Fprintf(s.out, "  %s: %s\n", safe(c.Text), s.say("shows the fault in %.0f %%; if it does, %s (%.0f %%); if clear, %s (%.0f %%)",
			100*t.Finds, s.cause(t.IfFault.Cause), 100*t.IfFault.P, s.cause(t.IfClear.Cause), 100*t.IfClear.P))
	}
	fmt.Fprintf(s.out, "\n%s: %s\n", s.say("Lesson"), safe(cmp.Or(x.Lesson, s.say("This case says no lesson."))))
	fmt.Fprintln(s.out, s.say("Grade %s of 5; this case comes again on %s.", strconv.Itoa(q), r.Due))
}
