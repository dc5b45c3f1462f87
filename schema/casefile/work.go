package casefile

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"benchlore/schema/diagnostic"
	"benchlore/schema/quantity"
)

// Work is a row of one of the tables that record what was done to a board: what was
// injected, reworked, wired, read or written, and what it was accepted by. All of these
// sections are optional.
type Work struct {
	Section string
	// Text holds the cells by column; a column that is not there has none.
	Text map[string]string
	// Verdict is that of Acceptance rows with a limit and a reading.
	Verdict quantity.Verdict
	at      cells
}

// WorkSections are the sections with records of work, in the order in which they stand.
var WorkSections = []string{"Injection", "Rework", "Jumpers", "Firmware", "Acceptance"}

var workColumns = map[string][]string{
	"Injection":  {"net", "volts", "limit", "current", "warm", "picture", "note"},
	"Rework":     {"part", "alloy", "nozzle", "temperature", "air", "time", "preheat", "underfill", "class", "note"},
	"Jumpers":    {"from", "to", "wire", "before", "after", "note"},
	"Firmware":   {"chip", "size", "sha256", "tool", "result", "note"},
	"Acceptance": {"test", "instrument", "limit", "read", "result", "note"},
	BenchSection: {"workshop", "by", "diagnosis", "repair", "parts", "charged", "currency"},
}

// BenchSection holds what a case took at the benches of other workshops that worked on
// it: a row a workshop, minutes and cost as it gives them, in its own currency. It is
// written when a case comes back and never asked for, and no figure counts it.
const BenchSection = "Other benches"

// WorkColumns are the columns of a section with records of work, and those that a row
// cannot be without.
func WorkColumns(section string) (columns, required []string) {
	return workColumns[section], workRequired[section]
}

// workRequired are the columns that give each table its meaning.
var workRequired = map[string][]string{"Injection": {"net", "volts"}, "Rework": {"part"}, "Jumpers": {"from", "to"},
	"Firmware": {"chip", "sha256"}, "Acceptance": {"test", "result"}, BenchSection: {"workshop"}}

// workUnits are the cells that are quantities, with their unit.
var workUnits = map[string]map[string]quantity.Unit{
	"Injection": {"volts": quantity.Volt, "limit": quantity.Ampere, "current": quantity.Ampere},
	"Rework":    {"temperature": quantity.Celsius, "preheat": quantity.Celsius},
}

var (
	digest      = regexp.MustCompile(`^[0-9a-f]{64}$`)
	sizeForm    = regexp.MustCompile(`^\d+(?:[.,]\d+)? ?(?:B|kB|KiB|MB|MiB|GB|GiB|kbit|Mbit|Gbit)$`)
	timeForm    = regexp.MustCompile(`^\d+(?:[.,]\d+)? ?(?:s|min)$`)
	reworkClass = regexp.MustCompile(`^(?:7711|7721)(?: \d+(?:\.\d+)*)?(?:, class [123])?$`)

	// AcceptanceResults are what a row of Acceptance may say under result.
	AcceptanceResults = []string{"passed", "failed", "not done"}
)

// work reads the tables of work and names what cannot be read in them.
func (b *body) work(f *File) {
	for _, section := range append(slices.Clone(WorkSections), BenchSection) {
		if !slices.ContainsFunc(b.sections, func(s Section) bool { return s.Name == section }) {
			continue
		}
		for _, r := range b.table(section, workColumns[section], workRequired[section]...) {
			w := Work{Section: section, Text: map[string]string{}, at: r.cells}
			for _, column := range workColumns[section] {
				if text := r.text(column); text != "" {
					w.Text[column] = text
				}
			}
			for column, unit := range workUnits[section] {
				b.quantityCell(r, column, unit)
			}
			b.workForms(f, r, &w)
			f.Case.Work = append(f.Case.Work, w)
		}
	}
}

func (b *body) quantityCell(r row, column string, unit quantity.Unit) {
	text := r.text(column)
	if text == "" {
		return
	}
	v, err := quantity.Parse(text)
	switch {
	case err != nil:
		b.cell(r, column, diagnostic.BadQuantity, "%s: %v", column, err)
	case v.Unit != unit:
		b.cell(r, column, diagnostic.BadQuantity, "%s is in %s, not %q", column, unit.Name(), text)
	}
}

// workForms checks the cells that have a form of their own.
func (b *body) workForms(f *File, r row, w *Work) {
	form := func(column string, ok func(text string) bool, says string) {
		if text := r.text(column); text != "" && !ok(text) {
			b.cell(r, column, diagnostic.WrongValue, "%s is %s, not %q", column, says, text)
		}
	}
	switch w.Section {
	case "Injection":
		form("picture", f.hasPhoto, "the file of a picture under photos:")
	case "Rework":
		form("time", timeForm.MatchString, "a number with s or min")
		form("class", reworkClass.MatchString, "the number of the procedure, such as 7711 3.3.1 or 7721, class 2")
	case "Jumpers":
		form("before", f.hasPhoto, "the file of a picture under photos:")
		form("after", f.hasPhoto, "the file of a picture under photos:")
	case "Firmware":
		form("size", sizeForm.MatchString, "a number with B, kB, KiB, MB, MiB or Mbit")
		form("sha256", digest.MatchString, "64 digits and letters a to f, as `benchlore firmware FILE` prints them")
	case "Acceptance":
		form("result", func(text string) bool { return slices.Contains(AcceptanceResults, text) }, strings.Join(AcceptanceResults, ", ")+" only")
		b.accept(r, w)
	}
}

// accept judges a reading against its limit; a result that says something else is an error,
// since whoever reads the record relies on it.
func (b *body) accept(r row, w *Work) {
	limit, err := quantity.ParseExpectation(r.text("limit"))
	if err != nil {
		b.cell(r, "limit", diagnostic.BadQuantity, "limit: %v", err)
		return
	}
	if r.text("read") == "" || !limit.Judges() {
		return
	}
	read, err := quantity.ParseReading(r.text("read"))
	if err != nil {
		b.cell(r, "read", diagnostic.BadQuantity, "read: %v", err)
		return
	}
	verdict, err := quantity.Judge(limit, read, quantity.Decimal{})
	if err != nil {
		b.cell(r, "read", diagnostic.BadQuantity, "read: %v", err)
		return
	}
	w.Verdict = verdict
	if r.text("result") == "passed" && verdict.Bad() {
		b.cell(r, "result", diagnostic.WrongValue, "%s is %s by the limit %s, so it did not pass", r.text("read"), verdict, r.text("limit"))
	}
}

func (f *File) hasPhoto(name string) bool {
	return slices.ContainsFunc(f.Case.Photos, func(p Photo) bool { return p.File == name })
}

// At places a diagnostic on a cell of the row.
func (w *Work) At(f *File, column string, s diagnostic.Severity, rule diagnostic.Rule, message string) diagnostic.Diagnostic {
	return f.at(w.at, column, s, rule, "%s", message)
}

// Line says the row in one line, for lists.
func (w *Work) Line() string {
	var parts []string
	for _, column := range workColumns[w.Section] {
		if text := w.Text[column]; text != "" {
			parts = append(parts, fmt.Sprintf("%s %s", column, text))
		}
	}
	return strings.Join(parts, ", ")
}

// SectionOrder is the order in which sections stand, those of work before the outcome.
var SectionOrder = func() []string {
	at := slices.Index(SectionNames, "Outcome")
	return slices.Concat(SectionNames[:at], WorkSections, SectionNames[at:], []string{BenchSection})
}()
