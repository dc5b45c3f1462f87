package verdict

import (
	"fmt"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/build/reason/hazard"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// accepts is what a row after a repair tells of.
type accepts int

const (
	other accepts = iota
	earth
	insulation
	protection // a part that protects
)

// Limits of rows that state none: what is past them is out whatever the device. Common
// practice, no source; the rules that hold at the place are stricter.
var (
	mostEarth       = limit("< 1 Ω")
	leastInsulation = limit("> 1 MΩ")
)

func limit(text string) quantity.Expectation {
	e, err := quantity.ParseExpectation(text)
	if err != nil {
		panic(err) // the text is ours
	}
	return e
}

// toldBy says what the words of a row tell of; insulation to earth is insulation.
func toldBy(text string) accepts {
	switch {
	case terms.HasWording(terms.Insulation, text):
		return insulation
	case terms.HasWording(terms.EarthRow, text):
		return earth
	case terms.Protects(text):
		return protection
	}
	return other
}

// afterRow is the latest row of a reading or a check after the repair.
type afterRow struct {
	tells       accepts
	words       string // which row it is
	seen        string
	before      string // what the latest row of the same before the repair says
	out, in     bool
	start, stop int
}

// afterRows gives the latest row after the repair at each point, and of each check.
func (j *Judge) afterRows(c *notebook.Case) []afterRow {
	k := &c.File.Case
	var rows []afterRow
	at := map[string]int{}
	before := map[string]string{}
	put := func(key string, when casefile.When, r afterRow) {
		if when != casefile.After {
			before[key] = r.seen
			return
		}
		r.before = before[key]
		if i, ok := at[key]; ok {
			rows[i] = r
			return
		}
		at[key] = len(rows)
		rows = append(rows, r)
	}
	for i := range k.Measurements {
		m := &k.Measurements[i]
		words := strings.Join(slices.DeleteFunc([]string{m.Point, m.What, m.State}, func(s string) bool { return s == "" }), ", ")
		r := afterRow{tells: toldBy(words), words: words, seen: m.Read}
		r.start, r.stop = m.Place("read")
		// What is out is told in doubt as well; what is in is not, since it would be a guess.
		verdict := j.byNumbers(c, m).Verdict
		if verdict == quantity.NoVerdict && m.Reading != nil {
			verdict = byLaw(r.tells, *m.Reading)
		}
		r.out, r.in = verdict.Bad(), verdict == quantity.In && m.Doubt(j.n.Terms) == casefile.NoDoubt
		put("m\x00"+fold(m.Point+"\x00"+m.What+"\x00"+m.State), m.When, r)
	}
	for i := range k.Findings {
		f := &k.Findings[i]
		r := afterRow{tells: toldBy(f.Check), words: f.Check, seen: f.Seen, out: f.Result == "fault", in: f.Result == "clear"}
		r.start, r.stop = f.Place("result")
		put("f\x00"+fold(f.Check), f.When, r)
	}
	return rows
}

// byLaw judges a reading of earth or insulation whose row states no limits.
func byLaw(tells accepts, v quantity.Value) quantity.Verdict {
	e, unit := mostEarth, quantity.Ohm
	switch tells {
	case earth:
	case insulation:
		e = leastInsulation
	default:
		return quantity.NoVerdict
	}
	if v.Unit != unit && !v.Over {
		return quantity.NoVerdict // a current that leaks has limits of its own kind
	}
	verdict, err := quantity.Judge(e, withUnit(v, unit), quantity.Decimal{})
	if err != nil {
		return quantity.NoVerdict
	}
	return verdict
}

// closing holds a case that was closed as fixed against the latest rows after the repair.
func (j *Judge) closing(c *notebook.Case) (list []diagnostic.Diagnostic) {
	k := &c.File.Case
	if k.Open() || k.Outcome != "fixed" {
		return nil
	}
	rows := j.afterRows(c)
	for _, r := range rows {
		if !r.out {
			continue
		}
		severity, what := diagnostic.Warning, "is still out after the repair"
		if r.tells != other {
			severity, what = diagnostic.Error, map[accepts]string{earth: "says that protective earth is lost", insulation: "says that insulation has failed",
				protection: "says that a part that protects is out"}[r.tells]+" after the repair; nothing switches this off"
		}
		text := fmt.Sprintf("the case is closed as fixed, and its row %q (%s) %s", r.words, r.seen, what)
		if r.before != "" {
			text += fmt.Sprintf("; before the repair it said %q", r.before)
		}
		list = append(list, c.Text.At(r.start, r.stop, severity, diagnostic.StillOut, text))
	}
	if d, ok := lacksAcceptance(c, rows); ok && k.Source == nil {
		list = append(list, d)
	}
	return list
}

// StillOut reports whether a case that was closed as fixed has a row after the repair that
// says that something is wrong.
func (j *Judge) StillOut(c *notebook.Case) bool {
	return slices.ContainsFunc(j.closing(c), func(d diagnostic.Diagnostic) bool { return d.Rule == diagnostic.StillOut })
}

// lacksAcceptance says what a repair on mains has no record of after it, with the rows to
// add.
func lacksAcceptance(c *notebook.Case, rows []afterRow) (d diagnostic.Diagnostic, lacks bool) {
	k := &c.File.Case
	if !onMains(c) {
		return d, false
	}
	class := ""
	if c.Device.Record != nil {
		class = c.Device.Record.Device.Protection
	}
	if class == "III" {
		return d, false // extra-low voltage alone
	}
	has := func(a accepts) bool {
		return slices.ContainsFunc(rows, func(r afterRow) bool { return r.tells == a && (r.in || r.out) })
	}
	var lack, add []string
	if class == "I" && !has(earth) {
		lack, add = append(lack, "protective earth"), append(add, "| case to earth pin | resistance | off | < 0.1 Ω | … | | after |")
	}
	if !has(insulation) {
		least := "> 1 MΩ"
		if class == "II" {
			least = "> 2 MΩ"
		}
		lack, add = append(lack, "insulation"), append(add, "| live and neutral to what is touched | insulation | 500 V | "+least+" | … | | after |")
	}
	if k.Confirmed == "" && !slices.ContainsFunc(rows, func(r afterRow) bool { return r.tells == other }) {
		lack = append(lack, "function (confirmed:)")
	}
	if len(lack) == 0 && class != "" {
		return d, false
	}
	var text []string
	if len(lack) > 0 {
		text = append(text, "a repair on mains has no record after it of "+strings.Join(lack, ", "))
	}
	if len(add) > 0 {
		text = append(text, "add to Measurements (point, what, state, expected, read, note, when): "+strings.Join(add, " and "))
	}
	if class == "" {
		if len(lack) == 0 && has(earth) {
			return d, false // earth, insulation and function: more is asked of no class
		}
		text = append(text, "whether earth belongs to it is not known: write protection: I, II or III in the device's file")
	}
	return c.Say(diagnostic.Warning, diagnostic.NoAcceptance, strings.Join(text, "; "), "outcome"), true
}

// onMains reports whether a case, its device or its kind says that it runs on mains.
func onMains(c *notebook.Case) bool {
	const mains = "mains"
	return slices.Contains(c.File.Case.Hazards, mains) || terms.Always(c.Device.Kind, mains) ||
		c.Device.Record != nil && slices.Contains(c.Device.Record.Device.Hazards, mains)
}

// shown names hazards of dangers that the text shows and that nobody wrote down.
func shown(c *notebook.Case, n *notebook.Notebook) []string {
	k := &c.File.Case
	said := slices.Concat(k.Hazards, terms.CalledForBy(c.Device.Kind))
	if c.Device.Record != nil {
		said = append(said, c.Device.Record.Device.Hazards...)
	}
	var out []string
	w := hazard.OfCase(n, c)
	for _, t := range w.Dangers {
		stop, ok := terms.Stops(t.ID)
		if ok && stop.Shows != "" && !slices.Contains(said, stop.Shows) && !slices.Contains(out, stop.Shows) {
			out = append(out, stop.Shows)
		}
	}
	return out
}
