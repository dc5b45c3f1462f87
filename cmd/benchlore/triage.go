package main

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"benchlore/build/notebook"
	"benchlore/build/output/wording"
	"benchlore/build/reason/hazard"
	"benchlore/build/reason/method"
	"benchlore/build/reason/triage"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

func newTriage() *cobra.Command {
	var dir string
	var symptoms, absent, before, found []string
	var device, kind, said string
	var asJSON, evaluate bool
	c := &cobra.Command{
		Use:   "triage --symptom S ...",
		Short: "What it probably is, and what to check first",
		Long: `triage ranks the likely causes from the notebook's closed cases and offers an
order of checks that finds the fault in the fewest expected minutes. On a terminal
it goes on asking what each check found. It informs; it never declares a device
safe.`,
		Example: `  benchlore triage --symptom hum --device tarnwick-a40
  benchlore triage --said "clicks, then nothing, after the storm" --kind amplifier
  benchlore triage --symptom "won't turn on" --absent hum --found 'Rails under load=clear'
  benchlore triage --evaluate`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			n, err := loadBook(dir)
			if err != nil {
				return err
			}
			methods, err := method.Of(n.Dir, n.Terms)
			if err != nil {
				return err
			}
			m := triage.New(n, methods...)
			if evaluate {
				e := m.Evaluate()
				if err := e.Keep(n.Dir, time.Now()); err != nil {
					fmt.Fprintf(c.ErrOrStderr(), "not kept for the pages: %v\n", err)
				}
				return printEvaluation(c.OutOrStdout(), e, asJSON)
			}
			e, err := evidenceOf(n, m, symptoms, absent, before, device, found)
			if err != nil {
				return err
			}
			if kind != "" {
				t, err := n.FindTerm(terms.Kind, kind)
				if err != nil {
					return usageError{err}
				}
				if e.Kind != "" && e.Kind != t.ID {
					return usagef("the device is a %s, not a %s", n.Terms.Name(terms.Kind, e.Kind), t.Name)
				}
				e.Kind = t.ID
			}
			e.Said = said
			if len(e.Symptoms)+len(e.Before)+len(e.Found) == 0 && e.Device == "" && e.Kind == "" && strings.TrimSpace(said) == "" {
				return usagef("say what is known, as in `benchlore triage --symptom hum` or `benchlore triage --said \"hums with the volume down\"`")
			}
			if bad := m.Contradictions(e); bad != nil {
				return usagef("%s; leave one of the two out", strings.Join(bad, "; "))
			}
			general := method.For(methods, n.Terms, m.KindOf(e))
			if m.Basis(e).None() && !asJSON && !m.HasMethod(e) {
				say := wording.In(n.Config.Language).Say
				printWarnings(c.OutOrStdout(), n, m.Plan(e))
				fmt.Fprintln(c.OutOrStdout(), say("%s, so there is nothing to learn from yet; `benchlore writeup` begins one, and --kind gives a plan for its kind",
					m.Basis(e).Words(say)))
				printMethod(c.OutOrStdout(), n, general, m.Plan(e))
				return nil
			}
			if asJSON {
				return printTriageJSON(c.OutOrStdout(), n, m, e, general)
			}
			if m.HasMethod(e) {
				say := wording.In(n.Config.Language).Say
				fmt.Fprintln(c.OutOrStdout(), say("%s (%s) counts as %d cases of the kind", safe(general.Name), say(general.Says()), int(triage.Pseudo)))
			}
			printTriage(c.OutOrStdout(), n, m, e)
			if m.Basis(e).Kind < method.Enough && !m.HasMethod(e) {
				printMethod(c.OutOrStdout(), n, general, m.Plan(e))
			}
			if terminal(c.InOrStdin()) && terminal(c.OutOrStdout()) {
				return askOn(newPrompt(c.Context(), c.InOrStdin(), c.OutOrStdout()), n, m, e)
			}
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&dir, "notebook", ".", "the notebook's folder")
	f.StringArrayVar(&symptoms, "symptom", nil, "a symptom it has; may be given again")
	f.StringArrayVar(&absent, "absent", nil, "a symptom that was asked for and is not there")
	f.StringArrayVar(&before, "before", nil, "what happened to it just before")
	f.StringVar(&device, "device", "", "the device's id or name")
	f.StringVar(&kind, "kind", "", "the kind of device")
	f.StringVar(&said, "said", "", "what it does, in plain words; alone or beside the others")
	f.StringArrayVar(&found, "found", nil, "a check and what it said: 'check=clear', fault or unsure")
	f.BoolVar(&asJSON, "json", false, "print JSON")
	f.BoolVar(&evaluate, "evaluate", false, "judge each case by the others, and say how well that works")
	return c
}

// evidenceOf turns what was typed into ids, or says which word is unknown and
// what is nearest.
func evidenceOf(n *notebook.Notebook, m *triage.Model, symptoms, absent, before []string, device string,
	found []string) (triage.Evidence, error) {
	var e triage.Evidence
	resolve := func(class terms.Class, words []string) ([]string, error) {
		var ids []string
		for _, w := range words {
			t, err := n.FindTerm(class, w)
			if err != nil {
				return nil, usageError{err}
			}
			ids = append(ids, t.ID)
		}
		return ids, nil
	}
	var err error
	if e.Symptoms, err = resolve(terms.Symptom, symptoms); err != nil {
		return e, err
	}
	if e.Absent, err = resolve(terms.Symptom, absent); err != nil {
		return e, err
	}
	if e.Before, err = resolve(terms.Before, before); err != nil {
		return e, err
	}
	if device != "" {
		d, ok := findDevice(n, device)
		if !ok {
			var ids []string
			for _, d := range n.Devices {
				ids = append(ids, d.ID)
			}
			return e, usagef("%q is not a known device%s", device, diagnostic.DidYouMean(terms.Nearest(device, ids)))
		}
		e.Device, e.Kind = d.ID, d.Kind
	}
	for _, f := range found {
		at := strings.LastIndex(f, "=")
		if at < 1 {
			return e, usagef("--found takes a check and what it said, as in 'Fuse=clear', not %q", f)
		}
		finding, err := findingOf(m, n.Terms, f[:at], f[at+1:])
		if err != nil {
			return e, err
		}
		e.Found = append(e.Found, finding)
	}
	return e, nil
}

func findDevice(n *notebook.Notebook, word string) (*notebook.Device, bool) {
	if d, ok := n.Device(word); ok {
		return d, true
	}
	i := slices.IndexFunc(n.Devices, func(d *notebook.Device) bool { return strings.EqualFold(d.Name(n.Terms), word) })
	if i < 0 {
		return nil, false
	}
	return n.Devices[i], true
}

func findingOf(m *triage.Model, v *terms.Vocabulary, check, result string) (triage.Finding, error) {
	t, ok := v.Resolve(terms.Result, strings.TrimSpace(result))
	if !ok {
		return triage.Finding{}, usagef("a check says clear, fault or unsure, not %q%s", result,
			diagnostic.DidYouMean(v.Nearest(terms.Result, result)))
	}
	name, ok := m.Check(check)
	if !ok {
		return triage.Finding{}, usagef("no case has a check %q%s", check, diagnostic.DidYouMean(m.NearestCheck(check)))
	}
	return triage.Finding{Check: name, Result: t.ID}, nil
}

// shownCauses and shownChecks are as many as a glance takes in.
const shownCauses, shownChecks = 6, 8

func printTriage(w io.Writer, n *notebook.Notebook, m *triage.Model, e triage.Evidence) {
	say := wording.In(n.Config.Language).Say
	plan := m.Plan(e)
	printWarnings(w, n, plan)
	printRisks(w, n, m.DeviceOf(e))
	causes, unseen := m.Causes(e)
	chosen := say("chosen on this notebook")
	if !m.Chosen {
		chosen = say("not chosen, too few repeated causes")
	}
	fmt.Fprint(w, say("%s; smoothing strength %g (%s)", m.Basis(e).Words(say), m.Strength, chosen), "\n\n")
	printUnderstood(w, n, m, e)
	for _, c := range causes[:min(shownCauses, len(causes))] {
		spoke := ""
		if len(c.Words) > 0 {
			spoke = "  (" + say("words: %s", safe(strings.Join(c.Words, ", "))) + ")"
		}
		fmt.Fprintln(w, say("%5.1f %%  (%.0f to %.0f %%)  %s, %s: %s%s", 100*c.P, 100*c.Interval[0], 100*c.Interval[1],
			n.Terms.Name(terms.Fault, c.Fault), n.Terms.Name(terms.Place, c.At),
			casesOr(c.Cases, 4, c.General, say("named by the method, no cases")), spoke))
	}
	fmt.Fprintln(w, say("%5.1f %%  a cause that no case had yet", 100*unseen))
	name := func(r triage.Ranked) string {
		return n.Terms.Name(terms.Fault, r.Fault) + ", " + n.Terms.Name(terms.Place, r.At)
	}
	if len(plan.Steps) == 0 {
		switch {
		case plan.Stop():
		case m.KindOf(e) == "":
			fmt.Fprintln(w, "\n"+say("checks are offered when it is known what it is: --kind or --device"))
		default:
			fmt.Fprintln(w, "\n"+say("no case knows a check that would tell more"))
		}
		printWithheld(w, say, plan)
		return
	}
	fmt.Fprint(w, "\n", say("Check in this order; %.0f min expected until it is found, if it is a known cause\n(commonest cause first %.0f, cheapest check first %.0f, any order %.0f):",
		plan.Expected, plan.CommonestFirst, plan.CheapestFirst, plan.Random), "\n\n")
	shown := shownChecks
	if m.Basis(e).None() {
		shown = len(plan.Steps) // the whole method
	}
	for i, s := range plan.Steps[:min(shown, len(plan.Steps))] {
		fmt.Fprintln(w, say("%2d. %s  (%.0f min, shows it in %.0f %%, then %.0f min to go)  %s", i+1, safe(s.Check),
			s.Minutes, 100*s.Finds, s.After, casesOr(s.Cases, 3, s.From != "", say(s.From))))
		if s.Expect != "" {
			fmt.Fprintln(w, "      "+say("good: %s", safe(s.Expect)))
		}
		if s.IfFault.P > 0 {
			fmt.Fprintln(w, "      "+say("fault: then %s %.0f %%; clear: then %s %.0f %%", name(s.IfFault), 100*s.IfFault.P,
				name(s.IfClear), 100*s.IfClear.P))
		}
		for _, f := range s.First {
			fmt.Fprintln(w, "      "+say("first: %s, since %s", safe(say(f.Check)), safe(say(f.Why))))
		}
		if len(s.On) > 0 {
			fmt.Fprintln(w, "      "+say("made on: %s", safe(strings.Join(s.On[:min(shownOn, len(s.On))], ", "))))
		}
	}
	printWithheld(w, say, plan)
}

// shownOn are as many devices as are named beside a check that another one had.
const shownOn = 2

// printWithheld says what is not offered while a danger is there.
func printWithheld(w io.Writer, say func(string, ...any) string, plan triage.Plan) {
	if plan.Withheld == 0 {
		return
	}
	var until []string
	for _, l := range plan.Looks {
		until = append(until, l.Until)
	}
	fmt.Fprintln(w, "\n"+say("%d more checks are withheld, as they need power or are not known to need none: only after %s", plan.Withheld, strings.Join(until, "; ")))
}

// printWarnings says what comes before every check: where something is dangerous the
// usual and what is first at each danger, what is looked at first, and the cautions.
func printWarnings(w io.Writer, n *notebook.Notebook, plan triage.Plan) {
	say := wording.In(n.Config.Language).Say
	if plan.Stop() {
		fmt.Fprintf(w, "%s  %s\n", say("STOP"), say(hazard.Stop))
	}
	for _, t := range plan.Dangers {
		fmt.Fprintf(w, "%s  %s: %s\n", say("DANGER"), safe(t.Name), safe(strings.Join(t.First, " ")))
	}
	for _, l := range plan.Looks {
		fmt.Fprintln(w, say("LOOK FIRST  %s (good: %s)", safe(l.Check), safe(l.Expect)))
	}
	if plan.Refer != "" {
		fmt.Fprintf(w, "%s  %s\n", say("NOT HERE"), safe(plan.Refer))
	}
	for _, t := range plan.Cautions {
		fmt.Fprintf(w, "%s  %s. %s\n", say("CAUTION"), safe(t.Name), safe(t.Advice()))
	}
}

// printUnderstood says what was made of the words, and how to say it otherwise.
func printUnderstood(w io.Writer, n *notebook.Notebook, m *triage.Model, e triage.Evidence) {
	say, u := wording.In(n.Config.Language).Say, m.Understand(e.Said)
	read := append(n.Terms.Names(terms.Symptom, u.Symptoms()), n.Terms.Names(terms.Before, u.Events())...)
	taken := e.Device == "" && e.Kind == ""
	if d, ok := n.Device(u.Device); taken && ok {
		read = append([]string{d.Described(n.Terms)}, read...)
	} else if taken && u.As != "" {
		as := n.Terms.Name(terms.Kind, u.As)
		if u.Kind != u.As {
			as = say("%s (what is known of: %s)", as, n.Terms.Name(terms.Kind, u.Kind))
		}
		read = append([]string{as}, read...)
	}
	if len(read) > 0 {
		fmt.Fprintln(w, say("read as: %s", safe(strings.Join(read, ", "))))
	}
	switch {
	case taken && u.Kind != "":
		fmt.Fprintln(w, say("not so? --kind or --device says what it is"))
	case taken && u.Perhaps != "":
		fmt.Fprintln(w, say("perhaps it is this kind: %s (%.0f %%); --kind %s says so", n.Terms.Name(terms.Kind, u.Perhaps), 100*u.Inferred, u.Perhaps))
	}
}

// printMethod gives a bench's order of checks for a sort of device, said to rest on no
// case; while a danger is there those alone that need no power.
func printMethod(w io.Writer, n *notebook.Notebook, m *method.Method, plan triage.Plan) {
	say := wording.In(n.Config.Language).Say
	fmt.Fprintf(w, "\n%s (%s):\n\n", safe(m.Name), say(m.Says()))
	for i, s := range m.Steps {
		if plan.Stop() && !triage.Unpowered(s) {
			plan.Withheld++
			continue
		}
		fmt.Fprintln(w, say("%2d. %s  (%g min)\n      good: %s; finds: %s", i+1, safe(s.Check), s.Minutes,
			safe(s.Expect), safe(strings.Join(s.Finds, ", "))))
	}
	if plan.Stop() {
		printWithheld(w, say, plan)
	}
}

// printRisks says what past work on the device damaged.
func printRisks(w io.Writer, n *notebook.Notebook, device string) {
	for _, r := range triage.NewHistory(n).Risks(device) {
		fmt.Fprintln(w, wording.In(n.Config.Language).Say("AT RISK  opening it once did this: %s, %s %s (%s)", safe(r.Fault), safe(r.At), safe(r.Parts), r.Case))
	}
}

// askOn goes on asking what the next check found, until there is none left or
// the user stops.
func askOn(p *prompt, n *notebook.Notebook, m *triage.Model, e triage.Evidence) error {
	for {
		plan := m.Plan(e)
		if len(plan.Steps) == 0 {
			return nil
		}
		next := plan.Steps[0].Check
		answer, err := p.line("\n" + wording.In(n.Config.Language).Say("%s: clear, fault or unsure? (or another check=result; empty line ends)", safe(next)) + " ")
		if errors.Is(err, errInputEnded) || err == nil && answer == "" {
			fmt.Fprintln(p.out)
			return nil
		}
		if err != nil {
			return err
		}
		check, result := next, answer
		if at := strings.LastIndex(result, "="); at > 0 {
			check, result = result[:at], result[at+1:]
		}
		f, err := findingOf(m, n.Terms, check, result)
		if err != nil {
			fmt.Fprintln(p.out, err)
			continue
		}
		e.Found = append(slices.DeleteFunc(e.Found, func(old triage.Finding) bool { return old.Check == f.Check }), f)
		fmt.Fprintln(p.out)
		printTriage(p.out, n, m, e)
	}
}

// dangerOut is a danger that the words say, with what is to be done first.
type dangerOut struct {
	ID    string   `json:"id"`
	Name  string   `json:"name"`
	First []string `json:"first"`
}

func printTriageJSON(w io.Writer, n *notebook.Notebook, m *triage.Model, e triage.Evidence, general *method.Method) error {
	type cautionOut struct {
		Name string `json:"name"`
		Text string `json:"text"`
	}
	causes, unseen := m.Causes(e)
	plan := m.Plan(e)
	out := struct {
		Stop      string             `json:"stop,omitempty"` // what comes before every check
		Dangers   []dangerOut        `json:"dangers,omitempty"`
		Looks     []triage.Look      `json:"look_first,omitempty"`
		Withheld  int                `json:"withheld,omitempty"` // checks, while a danger is there
		Refer     string             `json:"not_here,omitempty"` // what is not done at a bench, and who does it
		Cautions  []cautionOut       `json:"cautions"`
		Basis     triage.Basis       `json:"basis"`
		Says      string             `json:"basis_says"`
		Strength  float64            `json:"strength"`
		Causes    []triage.Ranked    `json:"causes"`
		Unseen    float64            `json:"unseen"`
		Checks    []triage.Step      `json:"checks"`
		Expected  float64            `json:"expected_minutes"`
		Baselines map[string]float64 `json:"baselines"`
		Method    *method.Method     `json:"method"` // rests on no case
		Note      string             `json:"method_says"`
		// Kind and Device are those that the order goes by, chosen or read from the words.
		Kind   string    `json:"kind,omitempty"`
		Device string    `json:"device,omitempty"`
		Read   []reading `json:"read,omitempty"`
	}{Kind: m.KindOf(e), Device: m.DeviceOf(e), Read: readings(m.Understand(e.Said).Mentions, e.Said), Method: general, Note: method.Note, Cautions: []cautionOut{}, Basis: m.Basis(e), Says: m.Basis(e).String(),
		Strength: m.Strength, Causes: append([]triage.Ranked{}, causes...), Unseen: unseen,
		Checks: append([]triage.Step{}, plan.Steps...), Expected: plan.Expected,
		Baselines: map[string]float64{"commonest_first": plan.CommonestFirst, "cheapest_first": plan.CheapestFirst, "random": plan.Random}}
	if plan.Stop() {
		out.Stop = hazard.Stop
	}
	for _, t := range plan.Dangers {
		out.Dangers = append(out.Dangers, dangerOut{t.ID, t.Name, t.First})
	}
	for _, t := range plan.Cautions {
		out.Cautions = append(out.Cautions, cautionOut{t.Name, t.Advice()})
	}
	out.Looks, out.Withheld, out.Refer = plan.Looks, plan.Withheld, plan.Refer
	if plan.Stop() { // of the method too only what needs no power
		shown := *general
		shown.Steps = slices.DeleteFunc(slices.Clone(general.Steps), func(s method.Step) bool { return !triage.Unpowered(s) })
		out.Method = &shown
	}
	return printAsJSON(w, out)
}

// casesOr names some cases, or says what else something rests on.
func casesOr(ids []string, most int, other bool, what string) string {
	if other {
		return safe(what)
	}
	return safe(strings.Join(ids[:min(most, len(ids))], ", "))
}

func printEvaluation(w io.Writer, e triage.Evaluation, asJSON bool) error {
	if asJSON {
		return printAsJSON(w, e)
	}
	fmt.Fprintf(w, "%d closed cases; %d of them say a cause, and each of those is judged by the others; smoothing strength %g\n", e.Closed, e.Cases, e.Strength)
	if e.Theirs > 0 {
		fmt.Fprintf(w, "of other workshops %d closed cases that say a cause are learned from and not judged\n", e.Theirs)
	}
	line := func(what string, h triage.Hits) {
		fmt.Fprintf(w, "%s: true cause first %.0f %%, among the first three %.0f %%, mean reciprocal rank %.3f\n    by the commonest causes alone: first %.0f %%, among the first three %.0f %%\n    by the methods alone: first %.0f %%, among the first three %.0f %%\n",
			what, 100*h.Top1, 100*h.Top3, h.Reciprocal, 100*h.CommonestTop1, 100*h.CommonestTop3, 100*h.MethodsTop1, 100*h.MethodsTop3)
	}
	line(fmt.Sprintf("of all %d", e.Cases), e.Hits)
	line(fmt.Sprintf("of the %d whose cause another case has too, or a method names", e.Seen), e.Known)
	fmt.Fprintf(w, "Brier score %.3f (0 is best, 2 worst)\n\nsaid          cases  mean said  right\n", e.Brier)
	for _, b := range e.Reliability {
		fmt.Fprintf(w, "%3.0f to %3.0f %%  %5d  %8.0f %%  %4.0f %%\n", 100*b.From, 100*b.To, b.Cases, 100*b.Said, 100*b.Right)
	}
	if l := e.Later; l != nil {
		fmt.Fprintf(w, "\nby time: learned from the %d closed first, asked of the %d closed later, %d of which have a cause that was seen before\n", l.Older, l.Newer, l.Seen)
		for _, r := range []struct {
			what string
			triage.Right
		}{{"symptoms, events, device", l.Chosen}, {"words and device", l.Words}, {"all of it", l.Both},
			{"commonest first", l.Commonest}, {"methods alone", l.Methods}} {
			fmt.Fprintf(w, "    %-25s true cause first %3.0f %%, among the first three %3.0f %%\n", r.what, 100*r.Top1, 100*r.Top3)
		}
		fmt.Fprintf(w, "    calibration error of all of it %.2f\n", l.Calibration)
	}
	k := e.Minutes
	fmt.Fprintf(w, "\nexpected minutes to the fault, %d cases: offered %.1f, commonest first %.1f, cheapest first %.1f, any order %.1f, knowing the cause %.1f\n", k.Cases, k.Offered, k.CommonestFirst, k.CheapestFirst, k.Random, k.Clairvoyant)
	return nil
}
