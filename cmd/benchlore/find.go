package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"benchlore/build/notebook"
	"benchlore/build/output/wording"
	"benchlore/build/reason/search"
	"benchlore/schema/terms"
)

func newFind() *cobra.Command {
	var q search.Query
	var dir string
	var asJSON, explain bool
	c := &cobra.Command{
		Use:   "find WORDS...",
		Short: "Find past cases from a symptom in plain words",
		Example: `  benchlore find won\'t turn on after a knock
  benchlore find --device tarnwick-a40 hum
  benchlore find --fault joint-cracked --year 2026`,
		RunE: func(c *cobra.Command, args []string) error {
			q.Words = strings.Join(args, " ")
			if strings.TrimSpace(q.Words) == "" && q.Symptom+q.Device+q.Kind+q.Fault+q.At+q.Action+q.Outcome+q.Year == "" {
				return usagef("say what to look for, as in `benchlore find no power`")
			}
			if q.Limit < 1 {
				return usagef("-n is how many cases to show, 1 or more, not %d", q.Limit)
			}
			ix, err := search.OpenDir(dir)
			if errors.Is(err, notebook.ErrNoFolder) || errors.Is(err, notebook.ErrNoNotebook) {
				return usageError{err}
			}
			if err != nil {
				return err
			}
			defer ix.Close()
			if q, err = ix.Resolve(q); err != nil {
				return usageError{err}
			}
			r, err := ix.Find(q)
			if err != nil {
				return err
			}
			if asJSON {
				err = printJSON(c.OutOrStdout(), ix.Terms(), q, r)
			} else {
				printHits(c.OutOrStdout(), ix.Terms(), q, r, explain)
			}
			if err == nil && r.Total == 0 {
				return errSilent
			}
			return err
		},
	}
	f := c.Flags()
	f.StringVar(&dir, "notebook", ".", "the notebook's folder")
	f.IntVarP(&q.Limit, "limit", "n", 10, "how many cases to show")
	f.StringVar(&q.Symptom, "symptom", "", "only cases with this symptom")
	f.StringVar(&q.Device, "device", "", "only this device")
	f.StringVar(&q.Kind, "kind", "", "only this kind of device")
	f.StringVar(&q.At, "at", "", "only faults at this place")
	f.StringVar(&q.Action, "action", "", "only cases in which this was done with a part")
	f.StringVar(&q.Fault, "fault", "", "only this fault")
	f.StringVar(&q.Outcome, "outcome", "", "only this outcome: fixed, repairable, end-of-life or unknown")
	f.StringVar(&q.Year, "year", "", "only cases opened in this year")
	f.BoolVar(&explain, "explain", false, "say what each word brought to each score")
	f.BoolVar(&asJSON, "json", false, "print JSON")
	return c
}

type jsonHit struct {
	Case    string   `json:"case"`
	Title   string   `json:"title"`
	Score   float64  `json:"score"`
	Device  string   `json:"device"`
	Cause   string   `json:"cause,omitempty"`
	Outcome string   `json:"outcome,omitempty"`
	Minutes int      `json:"minutes,omitempty"`
	Matched []string `json:"matched"`
	Why     []string `json:"why"`
	Path    string   `json:"path"`
}

func printJSON(w io.Writer, v *terms.Vocabulary, q search.Query, r *search.Result) error {
	hits := make([]jsonHit, 0, len(r.Hits))
	for _, h := range r.Hits {
		k := &h.Case.File.Case
		hits = append(hits, jsonHit{h.Case.ID(), k.Title, h.Score, h.Case.Device.ID, cause(v, h.Case), k.Outcome,
			k.Minutes.Total(), h.Matched, why(h), h.Case.Path})
	}
	out := struct {
		Query   string         `json:"query"`
		Total   int            `json:"total"`
		Hits    []jsonHit      `json:"hits"`
		Nearest string         `json:"nearest,omitempty"`
		Words   []string       `json:"words,omitempty"`
		Facets  []search.Facet `json:"facets"`
		Kind    string         `json:"kind,omitempty"` // that the words say; offered, never taken
		Close   bool           `json:"close"`          // false where what was found shares a word and no more
	}{Query: q.Words, Total: r.Total, Hits: hits, Words: r.Words, Facets: r.Facets, Close: r.Close || r.Total == 0}
	if r.Nearest != nil {
		out.Nearest = r.Nearest.ID
	}
	if r.Kind != nil {
		out.Kind = r.Kind.ID
	}
	return printAsJSON(w, out)
}

// why lists what each word and symptom brought to a hit.
func why(h search.Hit) []string {
	out := make([]string, 0, len(h.Why))
	for _, b := range h.Why {
		out = append(out, b.String())
	}
	return out
}

func cause(v *terms.Vocabulary, c *notebook.Case) string {
	k := c.File.Case.Cause
	if k == nil {
		return ""
	}
	return v.Name(terms.Fault, k.Fault) + ", " + v.Name(terms.Place, k.At)
}

func printHits(w io.Writer, v *terms.Vocabulary, q search.Query, r *search.Result, explain bool) {
	say := wording.In(v.Language().Tag).Say
	if r.Total == 0 {
		fmt.Fprintln(w, say("nothing found for %q", q.Words))
		if len(r.Words) > 0 {
			fmt.Fprintln(w, say("words of the notebook near it: %s", safe(strings.Join(r.Words, ", "))))
		}
		if r.Nearest != nil {
			fmt.Fprintln(w, say("the nearest known symptom is %s (%s): try `benchlore find --symptom %s`",
				r.Nearest.Name, r.Nearest.Meaning, r.Nearest.ID))
		}
		return
	}
	if len(r.Symptoms) > 0 {
		var names []string
		for _, s := range r.Symptoms {
			names = append(names, s.Name)
		}
		fmt.Fprintln(w, say("read as: %s", strings.Join(names, ", ")))
	}
	if r.Kind != nil {
		fmt.Fprintln(w, say("read as: %s; all kinds are shown, --kind %s narrows", safe(r.Kind.Name), r.Kind.ID))
	}
	if !r.Close {
		fmt.Fprintln(w, say("nothing here is close; these share a word:"))
	}
	bold := styled(w)
	for _, h := range r.Hits {
		k := &h.Case.File.Case
		fmt.Fprintf(w, "\n%s  %s\n", h.Case.ID(), safe(k.Title))
		facts := []string{safe(h.Case.Device.Name(v))}
		if s := cause(v, h.Case); s != "" {
			facts = append(facts, s)
		}
		switch {
		case k.Open():
			facts = append(facts, say("still open"))
		case k.Outcome != "":
			facts = append(facts, v.Name(terms.Outcome, k.Outcome))
		}
		if m := k.Minutes.Total(); m > 0 {
			facts = append(facts, say("%d min", m))
		}
		fmt.Fprintf(w, "    %s\n", strings.Join(facts, " · "))
		for _, s := range h.Context {
			fmt.Fprintf(w, "    %s: %s\n", say(string(s.Field)), emphasis(s, bold))
		}
		if explain {
			fmt.Fprintf(w, "    score %.2f: %s\n", h.Score, safe(strings.Join(why(h), "; ")))
		}
	}
	if r.Total > len(r.Hits) {
		fmt.Fprintln(w, "\n"+say("%d of %d shown; -n shows more, or narrow by:", len(r.Hits), r.Total))
		printFacets(w, r)
	}
}

// printFacets offers the commonest choices that would leave fewer cases.
func printFacets(w io.Writer, r *search.Result) {
	const most = 3
	for _, f := range r.Facets {
		var choices []string
		for _, c := range f.Choices {
			if c.Cases < r.Total && len(choices) < most {
				choices = append(choices, fmt.Sprintf("%s (%d)", c.ID, c.Cases))
			}
		}
		if len(choices) > 0 {
			fmt.Fprintf(w, "  --%-8s %s\n", f.Name, safe(strings.Join(choices, ", ")))
		}
	}
}

// emphasis marks the matched words, in bold on a terminal and in asterisks
// elsewhere.
func emphasis(s search.Snippet, bold bool) string {
	on, off := "*", "*"
	if bold {
		on, off = "\x1b[1m", "\x1b[0m"
	}
	var b strings.Builder
	at := 0
	for _, m := range s.Marks {
		b.WriteString(safe(s.Text[at:m[0]]) + on + safe(s.Text[m[0]:m[1]]) + off)
		at = m[1]
	}
	return strings.TrimSpace(b.String() + safe(s.Text[at:]))
}

// safe keeps control characters of a hostile notebook off the terminal.
func safe(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r >= 0x7f && r < 0xa0 || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			return '\uFFFD'
		}
		return r
	}, s)
}
