package verdict

import (
	"fmt"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// protective reports whether anything says that a row's part protects.
func protective(p *casefile.Part) bool {
	text := p.Part + " " + p.Value
	return terms.Protects(text) || quantity.Protects(strings.TrimSpace(text)) != ""
}

// protectivePart judges what was done with a part that protects. No setting silences
// it, and no stated reason makes it less than an error: that a later row of the case
// puts the part back does.
func (j *Judge) protectivePart(c *notebook.Case, p *casefile.Part) (out Part, ok bool) {
	worse := ""
	switch p.Action {
	case "bridged":
		worse = "was bridged"
	case "left-off":
		worse = "was left off"
	case "substituted", "replaced":
		fit, fitted := j.swap(p)
		switch {
		case terms.HasWording(terms.Wire, p.Fitted) && !beginsSame(p.Fitted):
			worse = "has a wire in its place"
		case fitted && fit.Fit == quantity.DoesNotFit:
			worse = "was replaced by one that does not fit (" + detail(fit) + ")"
		case fitted && fit.Fit == quantity.CannotTell:
			fit.Severity = diagnostic.Note
			if p.Action == "substituted" {
				fit.Severity = diagnostic.Warning
			}
			fit.Text = fmt.Sprintf("%s protects people or the device: whether what was fitted protects as well cannot be told (%s). State both in full, or fit the same", describe(p), detail(fit))
			return fit, true
		default:
			return fit, fitted && p.Action == "substituted"
		}
	default:
		return out, false
	}
	out = Part{Rule: diagnostic.ProtectivePart, Severity: diagnostic.Error, Protective: true, Answer: reasonOf(p)}
	found := p.When == casefile.Found
	if found {
		worse = "was found so: it " + worse
	}
	out.Text = fmt.Sprintf("%s protects people or the device and %s", describe(p), worse)
	if out.Answer != "" {
		out.Text += "; stated reason: " + out.Answer
	}
	switch {
	case restored(j, c, p):
		out.Severity = diagnostic.Note
		out.Text += "; a later row puts it right"
	case found && c.File != nil && c.File.Case.Outcome != "fixed" && !c.File.Case.Open():
		out.Severity = diagnostic.Warning
		out.Text += "; nobody should use the device before the same part is in again"
	case found:
		out.Text += ". Put in the same part before anybody uses the device, and add the row that says so; this rule cannot be switched off"
	default:
		out.Text += ". Put in the same part before anybody uses the device; this rule cannot be switched off, and a reason does not answer it. What somebody else had done is marked found under when"
	}
	return out, true
}

// detail is what the reasons of a swap say against it.
func detail(p Part) string {
	var told []string
	for _, r := range p.Reasons {
		if r.Says == p.Fit {
			told = append(told, r.Text)
		}
	}
	if len(told) == 0 {
		return p.Text
	}
	return strings.Join(told, "; ")
}

// restored reports whether a later row of the case puts the same part back.
func restored(j *Judge, c *notebook.Case, p *casefile.Part) bool {
	if c.File == nil {
		return false
	}
	rows := c.File.Case.Parts
	at := slices.IndexFunc(rows, func(r casefile.Part) bool { return sameRow(&r, p) })
	if at < 0 {
		return false
	}
	for i := at + 1; i < len(rows); i++ {
		r := &rows[i]
		same := p.Ref != "" && r.Ref == p.Ref || p.Ref == "" && r.Ref == "" && fold(r.Part) == fold(p.Part)
		if !same || r.When == casefile.Found || r.Action != "replaced" && r.Action != "substituted" && r.Action != "reworked" {
			continue
		}
		if r.Action == "reworked" && (p.Action != "bridged" || terms.HasWording(terms.Wire, r.Fitted)) {
			continue // what was left off is not there to be reworked
		}
		if r.Action == "reworked" {
			return true
		}
		if r.Value == "" {
			copied := *r
			copied.Value = p.Value
			r = &copied
		}
		if fit, ok := j.Part(c, r); ok && fit.Fit == quantity.DoesNotFit {
			continue // the wrong part again
		}
		if again, bad := j.protectivePart(c, r); r.Fitted != "" && (!bad || !again.Protective && again.Fit != quantity.CannotTell) {
			return true
		}
	}
	return false
}

func sameRow(a, b *casefile.Part) bool {
	return a.Ref == b.Ref && a.Part == b.Part && a.Value == b.Value && a.Action == b.Action && a.Fitted == b.Fitted &&
		a.Note == b.Note && a.When == b.When
}
