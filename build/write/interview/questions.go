package interview

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"benchlore/build/notebook"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// all asks everything, in the order of work.
func (i *Interview) all() error {
	if i.file != nil {
		i.Say("Closing %s: %s", i.c.ID, i.c.Title)
		return i.end()
	}
	for _, step := range []func() error{
		func() error {
			return i.needed("title", "What did the owner notice, in one line", "a case needs that line")
		},
		i.device,
		i.board,
		func() error { return i.leaf("by", "Your initials", nil) },
		func() error { return i.words("symptoms", "Symptoms, in plain words") },
		func() error { return i.words("before", "What happened just before") },
		func() error { return i.words("hazards", "Hazards (mains, stored charge, lithium ...)") },
		func() error {
			return i.prose("Symptom", "what the owner said, what the bench saw, how to provoke it")
		},
		func() error { return i.table("Findings", "what was looked at or tried so far") },
		func() error { return i.table("Measurements", "readings so far") },
	} {
		if err := step(); err != nil {
			return err
		}
	}
	done, err := i.agree("finished", "Is the repair finished", false)
	if err != nil || !done {
		return err
	}
	return i.end()
}

// end asks for what closes a case.
func (i *Interview) end() error {
	if i.file != nil {
		for _, step := range []func() error{
			func() error { return i.words("symptoms", "Symptoms, in plain words") },
			func() error { return i.table("Findings", "more of what was looked at or tried") },
			func() error {
				return i.table("Measurements", "more readings; those after the repair say so under when")
			},
		} {
			if err := step(); err != nil {
				return err
			}
		}
	}
	choices := func(c terms.Class) []Choice { return choicesOf(i.n.Terms, c) }
	fixed := func() bool { return i.c.Outcome == "fixed" }
	for _, step := range []func() error{
		func() error { return i.table("Parts", "what was done with which part") },
		i.work,
		func() error {
			return i.leaf("cause.fault", "What was wrong (not-found where it was not found)", choices(terms.Fault))
		},
		func() error {
			if i.c.Cause == nil || i.c.Cause.Fault == "" {
				return nil
			}
			return i.leaf("cause.at", "Where", choices(terms.Place))
		},
		func() error {
			if i.c.Cause == nil || i.c.Cause.Fault == "" {
				return nil
			}
			return i.leaf("cause.origin", "What brought it about", choices(terms.Origin))
		},
		i.outcome,
		func() error {
			if i.c.Outcome != "end-of-life" {
				return nil
			}
			return i.leaf("barrier", "Why it was given up", choices(terms.Barrier))
		},
		func() error {
			if !fixed() {
				return nil
			}
			return i.leaf("confirmed", "How the repair was proved", nil)
		},
		func() error { return i.leaf("minutes.diagnosis", "Minutes of diagnosis", nil) },
		func() error { return i.leaf("minutes.repair", "Minutes of repair", nil) },
		func() error {
			return i.leaf("cost.parts", strings.TrimSpace("Cost of parts "+i.n.Config.Currency), nil)
		},
		i.fasteners,
		func() error { return i.prose("Outcome", "what was done, how it was proved, what was left and why") },
		func() error { return i.prose("Lesson", "what the next person should do differently") },
		i.close,
	} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// workQuestions are what each record of work asks.
var workQuestions = map[string]string{
	"Injection":  "what was put in, with which limit, and what got warm",
	"Rework":     "heat and solder, so that it can be done again the same way",
	"Jumpers":    "wires in place of tracks; from and to as pins (U4.1), nets or parts",
	"Firmware":   "what was read and written; `benchlore firmware FILE` prints size and sum",
	"Acceptance": "what it was accepted by; limits are those of the codes that apply where you are",
}

// work asks which records of work there are, and then for their rows.
func (i *Interview) work() error {
	var choices []Choice
	for _, name := range casefile.WorkSections {
		choices = append(choices, Choice{strings.ToLower(name), workQuestions[name]})
	}
	answer, err := i.one(Question{Key: "work", Text: "Records of work (injection, rework, jumpers, firmware, acceptance; nothing for none)",
		Choices: choices, Take: func(answer string) (string, error) {
			var names []string
			for _, word := range casefile.SplitWords(answer) {
				name, ok := workSection(word)
				if !ok {
					return "", fmt.Errorf("%q is none of %s%s", word, strings.ToLower(strings.Join(casefile.WorkSections, ", ")),
						diagnostic.DidYouMean(terms.Nearest(strings.ToLower(word), casefile.WorkSections)))
				}
				names = append(names, name)
			}
			return strings.Join(names, ", "), nil
		}})
	if err != nil {
		return err
	}
	for _, name := range casefile.WorkSections {
		if slices.Contains(casefile.SplitWords(answer), name) {
			if err := i.table(name, workQuestions[name]); err != nil {
				return err
			}
		}
	}
	return nil
}

// workSection is the section that a word, or its beginning, names.
func workSection(word string) (string, bool) {
	for _, name := range casefile.WorkSections {
		if len(word) >= 3 && strings.HasPrefix(strings.ToLower(name), strings.ToLower(word)) {
			return name, true
		}
	}
	return "", false
}

// outcome must be known before a case can be closed.
func (i *Interview) outcome() error {
	for i.c.Outcome == "" {
		if err := i.leaf("outcome", "How it ended", choicesOf(i.n.Terms, terms.Outcome)); err != nil {
			return err
		}
		if i.c.Outcome == "" {
			i.Say("fixed, repairable, end-of-life or unknown")
			i.draft.drop("outcome")
		}
	}
	return nil
}

// fasteners are asked for where the device's record counts them, or somebody did.
func (i *Interview) fasteners() error {
	total := 0
	if d, ok := i.n.Device(i.c.Device.ID); ok && d.Record != nil {
		total = d.Record.Device.FastenerCount()
	}
	if total == 0 && i.c.Fasteners == nil {
		return nil
	}
	if err := i.leaf("fasteners.out", fmt.Sprintf("Fasteners that came out (the device has %d)", total),
		nil); err != nil || i.c.Fasteners == nil {
		return err
	}
	if err := i.leaf("fasteners.in", "Fasteners that went back in", nil); err != nil {
		return err
	}
	if n := i.c.Fasteners; n.In != nil && *n.In != n.Out {
		return i.leaf("fasteners.reason", "Why the two differ", nil)
	}
	return nil
}

// close asks for the day, and names what a closed case still lacks.
func (i *Interview) close() error {
	answer, err := i.one(Question{Key: "closed", Text: "Closed on, YYYY-MM-DD (nothing for today, no to leave it open)",
		Choices: []Choice{{i.today, "today"}, {"no", "the case stays open"}}, Take: func(answer string) (string, error) {
			if strings.EqualFold(answer, "no") || strings.EqualFold(answer, "n") {
				return "no", nil
			}
			answer = cmp.Or(answer, i.today)
			if _, ok := casefile.Day(answer); !ok {
				return "", fmt.Errorf("a day is written YYYY-MM-DD, not %q", answer)
			}
			next, err := i.compose(map[string]string{"closed": answer})
			if err != nil {
				return "", err
			}
			judged := i.Judge(next)
			for _, d := range append(i.n.Check(i.path(), next.Bytes()), judged...) {
				if d.Severity == diagnostic.Error && d.Rule != diagnostic.FileName {
					return "", errors.New("it cannot be closed yet: " + d.Message + "; answer no to leave it open, or back")
				}
			}
			for _, d := range judged {
				if d.Severity == diagnostic.Warning {
					i.Say("%s", d.Message)
				}
			}
			return answer, nil
		}})
	if err == nil && answer != "no" {
		err = i.put("closed", answer)
	}
	return err
}

// device asks for a device of the notebook, or a kind with maker and model.
func (i *Interview) device() error {
	if i.given["device"] != "" || i.given["device.kind"] != "" {
		return nil
	}
	var known []*notebook.Device
	var choices []Choice
	for _, d := range i.n.Devices {
		if d.Record != nil {
			known = append(known, d)
			choices = append(choices, Choice{strconv.Itoa(len(known)), d.Name(i.n.Terms) + " (" + d.ID + ")"})
		}
	}
	choices = append(choices, choicesOf(i.n.Terms, terms.Kind)...)
	if !i.draft.has("device") {
		for k, d := range known {
			i.Say("  %2d  %s", k+1, d.Name(i.n.Terms))
		}
	}
	answer, err := i.one(Question{Key: "device",
		Text: "Device: a number or id from the list, or a kind such as lamp for another", Choices: choices,
		Take: func(answer string) (string, error) {
			if k, err := strconv.Atoi(answer); err == nil && k >= 1 && k <= len(known) {
				return known[k-1].ID, nil
			}
			if d, ok := i.n.Device(answer); ok && d.Record != nil {
				return d.ID, nil
			}
			for _, d := range known {
				if strings.EqualFold(d.Name(i.n.Terms), answer) {
					return d.ID, nil
				}
			}
			t, unsettled := i.n.FindTerm(terms.Kind, answer)
			if unsettled == nil {
				return "kind " + t.ID, nil
			}
			if kind, ok := strings.CutPrefix(answer, "kind "); ok {
				if t, ok := i.n.Terms.Lookup(terms.Kind, kind); ok {
					return "kind " + t.ID, nil
				}
			}
			if answer == "" {
				return "", errors.New("a case says what is on the bench; misc is for what fits nowhere else")
			}
			return "", unsettled
		}})
	if err != nil {
		return err
	}
	kind, ok := strings.CutPrefix(answer, "kind ")
	if !ok {
		return i.put("device", answer)
	}
	if err := i.put("device.kind", kind); err != nil {
		return err
	}
	if err := i.leaf("device.maker", "Maker", nil); err != nil {
		return err
	}
	return i.leaf("device.model", "Model", nil)
}

// board offers those that the device's record lists.
func (i *Interview) board() error {
	var choices []Choice
	if d, ok := i.n.Device(i.c.Device.ID); ok && d.Record != nil {
		for _, b := range d.Record.Device.Boards {
			choices = append(choices, Choice{b, ""})
		}
		if len(choices) == 1 {
			return i.leaf("board", "Board ("+choices[0].Word+")", choices)
		}
	}
	return i.leaf("board", "Board: name and revision printed on it", choices)
}
