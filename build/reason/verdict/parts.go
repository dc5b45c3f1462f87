package verdict

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/build/reason/hazard"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// Part is what is said of one row of a Parts table.
type Part struct {
	Rule     diagnostic.Rule
	Severity diagnostic.Severity
	Fit      quantity.Fit // of a substitution; empty otherwise
	Text     string       // what it means, in a sentence
	Reasons  []quantity.Reason
	// Protective marks a bridged or missing protective part; Answer is the
	// reason that was stated for it.
	Protective bool
	Answer     string
}

// reasonMark begins the stated reason in a part's note.
const reasonMark = "reason:"

// Part judges a row of a case; ok is false when there is nothing to say.
func (j *Judge) Part(c *notebook.Case, p *casefile.Part) (out Part, ok bool) {
	if protective(p) {
		return j.protectivePart(c, p)
	}
	switch p.Action {
	case "substituted":
		if j.off[string(diagnostic.PartSwap)] {
			return out, false
		}
		return j.swap(p)
	case "replaced":
		// "Replaced" means by the same part; what is written may say otherwise.
		out, ok = j.swap(p)
		return out, ok && out.Fit == quantity.DoesNotFit && !j.off[string(diagnostic.PartSwap)]
	case "bridged", "left-off":
		return j.gone(c, p)
	}
	return out, false
}

// sameWords gives how far the words go that say that what is fitted is as the original
// was, 0 where it does not begin with them.
func sameWords(fitted string) int {
	if start, stop, ok := terms.Worded(terms.Same, fitted); ok && start == 0 {
		return stop
	}
	return 0
}

func beginsSame(fitted string) bool { return sameWords(strings.TrimSpace(fitted)) > 0 }

// partWords keeps of a part's description what a specification knows; where it knows no
// kind of part, as in another language than English, the component that is named stands
// for it.
func partWords(description string) string {
	known := quantity.KnownWords(description)
	if quantity.KindWord(known) != "" {
		return known
	}
	if id := strings.ReplaceAll(terms.Component(description), "-", " "); id != "" && quantity.KindWord(id) != "" {
		return strings.TrimSpace(id + " " + known)
	}
	return known
}

// A figure says something of a part.
var saidFigure = regexp.MustCompile(`[0-9]`)

func (j *Judge) swap(p *casefile.Part) (out Part, ok bool) {
	if p.Fitted == "" || p.Value == "" {
		return out, false
	}
	original := strings.TrimSpace(partWords(p.Part) + " " + p.Value + " " + p.Package)
	fitted := p.Fitted
	if same := sameWords(fitted); same > 0 {
		// "same, 10 A" is not the same: what follows is compared, where it says anything.
		rest := strings.TrimLeft(fitted[same:], " ,;:")
		if !saidFigure.MatchString(rest) && quantity.KnownWords(rest) == "" {
			return out, false
		}
		fitted = quantity.Instead(original, rest)
	}
	if quantity.KindWord(fitted) == "" || !quantity.NamesKind(fitted) {
		fitted = quantity.KindWord(original) + " " + fitted
	}
	if !strings.Contains(fitted, p.Package) || p.Package == "" {
		original = strings.TrimSpace(partWords(p.Part) + " " + p.Value) // not stated again: taken for the same
	}
	r, err := quantity.Swap(original, fitted, j.n.Config.Rules.Off)
	if err != nil {
		return Part{Rule: diagnostic.PartSwap, Severity: diagnostic.Note, Fit: quantity.CannotTell,
			Text: "cannot tell: " + err.Error()}, true
	}
	out = Part{Rule: diagnostic.PartSwap, Severity: diagnostic.Note, Fit: r.Verdict, Reasons: r.Reasons}
	var told []string
	for _, reason := range r.Reasons {
		if reason.Says != quantity.Fits {
			told = append(told, reason.Text)
		}
	}
	out.Text = r.Verdict.Words()
	if len(told) > 0 {
		out.Text += ": " + strings.Join(told, "; ")
	}
	if r.Verdict == quantity.DoesNotFit {
		out.Severity = diagnostic.Warning
	}
	return out, true
}

// partKind finds the words of a part's description that a specification knows.
func partKind(description string) string {
	var known []string
	for _, w := range strings.Fields(strings.ToLower(description)) {
		w = strings.Trim(w, ",.;")
		if s, err := quantity.ParseSpec(w); err == nil && (s.Kind != "" || s.Technology != "") && s.Value == nil {
			known = append(known, w)
		}
	}
	return strings.Join(known, " ")
}

// reasonOf is the reason that a row's note states, when it is long enough to be
// one.
func reasonOf(p *casefile.Part) string {
	i := strings.Index(strings.ToLower(p.Note), reasonMark)
	if i < 0 {
		return ""
	}
	if reason := strings.TrimSpace(p.Note[i+len(reasonMark):]); len(reason) >= 10 {
		return reason
	}
	return ""
}

func describe(p *casefile.Part) string {
	return strings.TrimSpace(strings.Join(slices.DeleteFunc([]string{p.Ref, p.Part}, func(s string) bool { return s == "" }), ", "))
}

// gone says what a bridged or missing part did.
func (j *Judge) gone(c *notebook.Case, p *casefile.Part) (out Part, ok bool) {
	rule := diagnostic.PartLeftOff
	if p.Action == "bridged" {
		rule = diagnostic.PartBridged
	}
	if j.off[string(rule)] {
		return out, false
	}
	role, lost := jobOnBoard(c, p)
	if role == "" {
		role, lost = job(p)
	}
	out = Part{Rule: rule, Severity: diagnostic.Note, Text: fmt.Sprintf("%s, %s: %s", describe(p), role, lost)}
	if r, ok := bridgeResistance(p.Fitted); ok && p.Action == "bridged" {
		out.Text += "; the bridge itself has about " + r
		if own := ownResistance(p); own != "" {
			out.Text += ", the part had " + own
		}
	}
	return out, true
}

var supplyNet = regexp.MustCompile(`(?i)^(?:[+−-]?\d+v\d*|\+|−|v(?:cc|dd|bus|in|bat|ee|ss)|.*rail|.*supply|led\+)`)

// job tells what a part did, from its kind and net, or as the note says.
func job(p *casefile.Part) (role, lost string) {
	has := func(id string) bool { return terms.HasWording("job-"+id, p.Part+" "+p.Note) }
	value := ""
	if p.Value != "" {
		value = " (" + p.Value + ")"
	}
	switch {
	case has("sense"):
		return "series, sense", "the current that it measured is no longer seen" + value
	case has("feedback"):
		return "feedback", "the regulated value is no longer set by it" + value
	case has("pull"):
		return "pull", "the line may float" + value
	case has("choke") && p.Action == "bridged":
		return "series filter", "less is kept out of the supply or the line; expect more noise, and measure it" + value
	case has("choke"):
		return "series filter", "the path is open without it" + value
	case has("capacitor") && p.Action == "left-off" && supplyNet.MatchString(p.Net):
		return "shunt, decoupling on " + p.Net, "that much less capacitance holds the supply" + value + "; measure the ripple"
	case has("capacitor"):
		return "shunt or coupling", "filtering or coupling by it is lost" + value
	case has("connection"):
		return "connection", "the path goes another way; keep it short and hold it down"
	case has("resistor") && p.Action == "bridged":
		return "series", "what limited the current is now a wire" + value
	case has("diode") && p.Action == "bridged":
		return "series", "nothing blocks the reverse direction any more" + value
	}
	return "job not stated", "say in the note what it did"
}

var lengthForm = regexp.MustCompile(`\d+(?:[.,]\d+)?\s*mm\b`)

// bridgeResistance works out a copper wire from its diameter and length, as
// written: "enamelled wire 0.2 mm, 14 mm" (IEC 60028).
func bridgeResistance(fitted string) (string, bool) {
	lengths := lengthForm.FindAllString(fitted, -1)
	if len(lengths) != 2 {
		return "", false
	}
	f, _ := quantity.FindFormula("copper")
	r, err := quantity.Reckon(f, []quantity.Given{{Key: "d", Text: lengths[0]}, {Key: "length", Text: lengths[1]}})
	if err != nil {
		return "", false
	}
	return r.Results[0].Value, true
}

// ownResistance is what the part itself had, where its value says so.
func ownResistance(p *casefile.Part) string {
	s, err := quantity.ParseSpec(strings.TrimSpace(partKind(p.Part) + " " + p.Value))
	switch {
	case err != nil:
		return ""
	case s.DCR != nil:
		return s.DCR.String()
	case s.Kind == "resistor" && s.Value != nil:
		return s.Value.String()
	}
	return ""
}

// checkMeter names ranges of the meter that cannot be read.
func (j *Judge) checkMeter() (list []diagnostic.Diagnostic) {
	functions := slices.Sorted(maps.Keys(j.n.Config.Meter))
	for _, function := range functions {
		for i, r := range j.n.Config.Meter[function] {
			full, err1 := quantity.Parse(r.Range)
			step, err2 := quantity.Parse(r.Resolution)
			text := ""
			switch {
			case err1 != nil:
				text = "range: " + err1.Error()
			case err2 != nil:
				text = "resolution: " + err2.Error()
			case full.Unit == quantity.None || full.Unit != step.Unit || meterFunction(function) != full.Unit:
				text = fmt.Sprintf("range %q and resolution %q do not both measure %s", r.Range, r.Resolution,
					meterFunction(function).Quantity())
			default:
				continue
			}
			list = append(list, diagnostic.Diagnostic{File: j.n.Dir + "/notebook.yaml", Severity: diagnostic.Error,
				Rule:    diagnostic.BadQuantity,
				Message: fmt.Sprintf("meter: %s: entry %d: %s", function, i+1, text)})
		}
	}
	return list
}

// Problems returns what the rules about parts have to say of every case.
func (j *Judge) Problems() []diagnostic.Diagnostic {
	list := j.checkMeter()
	for _, name := range j.n.Config.Rules.Off {
		if d, bad := j.checkOff(name); bad {
			list = append(list, d)
		}
	}
	imported := 0
	for _, c := range j.n.Cases {
		list = append(list, j.Of(c)...)
		if k := &c.File.Case; k.Source != nil && !k.Open() && k.Outcome == "fixed" {
			if _, lacks := lacksAcceptance(c, j.afterRows(c)); lacks {
				imported++
			}
		}
	}
	if imported > 0 {
		list = append(list, diagnostic.Diagnostic{File: j.n.Dir + "/notebook.yaml", Severity: diagnostic.Note, Rule: diagnostic.NoAcceptance,
			Message: fmt.Sprintf("%s on mains without a record of earth, insulation and function after them", importedRepairs(imported))})
	}
	diagnostic.Sort(list)
	return list
}

func importedRepairs(n int) string {
	if n == 1 {
		return "1 imported repair"
	}
	return fmt.Sprintf("%d imported repairs", n)
}

// Of returns what the rules about parts and boards have to say of one case,
// which need not be of the notebook.
func (j *Judge) Of(c *notebook.Case) []diagnostic.Diagnostic {
	list := slices.Concat(boardProblems(c), j.notJudged(c), j.hazards(c), j.closing(c))
	for i := range c.File.Case.Parts {
		p := &c.File.Case.Parts[i]
		if out, ok := j.Part(c, p); ok && (out.Fit == "" || out.Fit != quantity.Fits) {
			if p.When == casefile.Found && !out.Protective && out.Severity == diagnostic.Warning && restored(j, c, p) {
				out.Severity = diagnostic.Note
				out.Text = "was found so: " + out.Text + "; a later row puts it right"
			}
			start, stop := p.Place("action")
			list = append(list, c.Text.At(start, stop, out.Severity, out.Rule, out.Text))
		}
	}
	return list
}

// notJudged names readings that stand beside an expected value and have no verdict.
func (j *Judge) notJudged(c *notebook.Case) (list []diagnostic.Diagnostic) {
	for i := range c.File.Case.Measurements {
		m := &c.File.Case.Measurements[i]
		why := j.Reading(c, m).Unjudged
		if why == "" || m.Doubt(j.n.Terms) != casefile.NoDoubt { // a rule of its own names the row
			continue
		}
		if why == NoTolerance {
			why += fmt.Sprintf("; write one, as in %q, or tolerance: in notebook.yaml", m.Expectation.Nominal.String()+" ±5 %")
		}
		start, stop := m.Place("expected")
		list = append(list, c.Text.At(start, stop, diagnostic.Note, diagnostic.NotJudged, why))
	}
	return list
}

// hazards names hazards that nobody wrote down: of what was opened, and of mains
// devices.
func (j *Judge) hazards(c *notebook.Case) []diagnostic.Diagnostic {
	const mains = "mains"
	k := &c.File.Case
	if k.Source != nil {
		return nil
	}
	if ids, section := hazard.Omitted(c); len(ids) > 0 {
		at := "device"
		if len(k.Hazards) > 0 {
			at = "hazards"
		}
		return []diagnostic.Diagnostic{c.Say(diagnostic.Warning, diagnostic.NoHazard,
			fmt.Sprintf("%s says that something was opened that holds %s, and the case does not say so; write hazards: [%s], or what there is",
				section, strings.Join(ids, " and "), strings.Join(slices.Concat(k.Hazards, ids), ", ")), at)}
	}
	if ids := shown(c, j.n); len(ids) > 0 {
		return []diagnostic.Diagnostic{c.Say(diagnostic.Warning, diagnostic.NoHazard,
			fmt.Sprintf("the text tells of a danger that calls for %s, and neither the case nor its device says so; write hazards: [%s], or what there is",
				strings.Join(ids, " and "), strings.Join(slices.Concat(k.Hazards, ids), ", ")), "symptoms")}
	}
	if len(k.Hazards) > 0 || !terms.Always(c.Device.Kind, mains) {
		return nil
	}
	if c.Device.Record != nil && len(c.Device.Record.Device.Hazards) > 0 {
		return nil
	}
	return []diagnostic.Diagnostic{c.Say(diagnostic.Warning, diagnostic.NoHazard,
		"a device of this kind usually runs on mains, and neither the case nor its device says a hazard; write hazards: [mains], or what there is", "device")}
}

// checkOff names a rule in the settings that does not exist or stays on.
func (j *Judge) checkOff(name string) (diagnostic.Diagnostic, bool) {
	known := append(quantity.SwapRules(), string(diagnostic.PartSwap), string(diagnostic.PartLeftOff), string(diagnostic.PartBridged))
	if slices.Contains(known, name) {
		return diagnostic.Diagnostic{}, false
	}
	d := diagnostic.Diagnostic{File: j.n.Dir + "/notebook.yaml", Severity: diagnostic.Error, Rule: diagnostic.WrongValue,
		Message: fmt.Sprintf("rules: off: %q is not a rule that can be switched off", name), Suggestion: terms.Nearest(name, known)}
	if name == string(diagnostic.ProtectivePart) {
		d.Message, d.Suggestion = "rules: off: the rule about protective parts cannot be switched off", ""
	}
	return d, true
}

// Key identifies a kind of part across cases: what it is, its value and its
// package; ok is false when the row does not say enough.
func Key(p *casefile.Part) (name, slug string, ok bool) {
	s, err := quantity.ParseSpec(strings.TrimSpace(partKind(p.Part) + " " + p.Value + " " + p.Package))
	if err != nil || s.Kind == "" || s.Value == nil && partKind(p.Part) == "" {
		return "", "", false // a relay has a coil, and is no inductor
	}
	words := []string{s.Kind}
	for _, v := range []*quantity.Value{s.Value, s.Current, s.Voltage} {
		if v != nil {
			words = append(words, v.String())
			break
		}
	}
	if len(words) < 2 {
		return "", "", false
	}
	if s.Package != "" {
		words = append(words, s.Package)
	}
	name = strings.Join(words, " ")
	slug = casefile.Slug(strings.NewReplacer("MΩ", "megohm", "Ω", "ohm", "µ", "u", ".", "p").Replace(name))
	return name, slug, slug != ""
}
