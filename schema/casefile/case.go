// Package casefile reads and writes case and device files: front matter, then
// Markdown sections, some of them with tables.
//
// [Parse] gives a [File], which keeps the source bytes and the place of every
// value. [File.Check] applies the rules that one file can be judged by.
// [File.Set] changes one field and leaves every other byte as it was. New
// cases are composed with [Compose]. Nothing here reads a disk.
package casefile

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"benchlore/schema/diagnostic"
	"benchlore/schema/filename"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// Case is what a case file says. Dates are YYYY-MM-DD, as written.
type Case struct {
	ID        string   `yaml:"case"`
	From      string   `yaml:"from"` // the workshop that it came from; empty for our own
	Title     string   `yaml:"title"`
	Device    Device   `yaml:"device"`
	Board     string   `yaml:"board"`
	Opened    string   `yaml:"opened"`
	Closed    string   `yaml:"closed"` // empty while the case is open
	By        string   `yaml:"by"`
	Symptoms  []string `yaml:"symptoms"`
	Absent    []string `yaml:"absent"`
	Before    []string `yaml:"before"`
	Hazards   []string `yaml:"hazards"`
	Cause     *Cause   `yaml:"cause"`
	Outcome   string   `yaml:"outcome"`
	Barrier   string   `yaml:"barrier"`
	Confirmed string   `yaml:"confirmed"`
	Minutes   *Minutes `yaml:"minutes"`
	Cost      *Cost    `yaml:"cost"`
	Fasteners *Count   `yaml:"fasteners"`
	Returns   string   `yaml:"returns"`
	Followed  string   `yaml:"followed"`
	Photos    []Photo  `yaml:"photos"`
	Tags      []string `yaml:"tags"`
	Source    *Source  `yaml:"source"`

	Sections     []Section     `yaml:"-"`
	Findings     []Finding     `yaml:"-"`
	Measurements []Measurement `yaml:"-"`
	Parts        []Part        `yaml:"-"`
	Work         []Work        `yaml:"-"`
}

// idForm is what a case's id may be; the schema says the same. Ids become names of
// files, so nothing else is ever taken for one.
var idForm = regexp.MustCompile(`^[A-Za-z0-9]+(?:[-_][A-Za-z0-9]+)*$`)

// ValidID reports whether a text can be the id of a case.
func ValidID(id string) bool {
	return len(id) <= 80 && idForm.MatchString(id) && filename.Check(id) == nil
}

// deviceIDForm is what the id of a device's record may be.
var deviceIDForm = regexp.MustCompile(`^[a-z0-9]+(?:-[a-z0-9]+)*$`)

// ValidDeviceID reports whether a text can be the id of a device's record.
func ValidDeviceID(id string) bool {
	return len(id) <= 80 && deviceIDForm.MatchString(id) && filename.Check(id) == nil
}

// Open reports whether the case is unfinished.
func (c *Case) Open() bool { return c.Closed == "" }

// Device names a device record by ID, or describes the device in place.
type Device struct {
	ID    string
	Kind  string `yaml:"kind"`
	Maker string `yaml:"maker"`
	Model string `yaml:"model"`
}

// UnmarshalYAML accepts both forms.
func (d *Device) UnmarshalYAML(n *yaml.Node) error {
	if n.Kind == yaml.ScalarNode {
		d.ID = n.Value
		return nil
	}
	type plain Device
	return n.Decode((*plain)(d))
}

// Cause is what was wrong, where, and what brought it about.
type Cause struct {
	Fault  string `yaml:"fault"`
	At     string `yaml:"at"`
	Origin string `yaml:"origin"`
}

// Minutes of bench time; nil is what was not noted, which is not 0.
type Minutes struct {
	Diagnosis *int `yaml:"diagnosis"`
	Repair    *int `yaml:"repair"`
}

// Total is the whole bench time that was noted, 0 when nothing was.
func (m *Minutes) Total() int {
	total := 0
	if m != nil {
		for _, n := range []*int{m.Diagnosis, m.Repair} {
			if n != nil {
				total += *n
			}
		}
	}
	return total
}

// Cost in the notebook's currency; nil is what was not noted.
type Cost struct {
	Parts   *float64 `yaml:"parts"`
	Charged *float64 `yaml:"charged"`
}

// Count is how many fasteners came out and went back in; In is nil while the
// device lies open.
type Count struct {
	Out    int    `yaml:"out"`
	In     *int   `yaml:"in"`
	Reason string `yaml:"reason"` // why the two differ
}

// Photo is a picture in the case's own folder.
type Photo struct {
	File    string       `yaml:"file"`
	Caption string       `yaml:"caption"`
	Marks   []Mark       `yaml:"marks"`
	Compare string       `yaml:"compare"` // the file of the picture taken before this one
	Side    string       `yaml:"side"`    // of the board that it shows, top or bottom
	Points  []PhotoPoint `yaml:"points"`
}

// PhotoPoint is a place of a board that was found on a picture: a designator, a pin or
// millimetres, and shares of the picture's width and height.
type PhotoPoint struct {
	At string  `yaml:"at"`
	X  float64 `yaml:"x"`
	Y  float64 `yaml:"y"`
}

// Mark is a labelled place on a photo, as shares of its width and height.
type Mark struct {
	X     float64   `yaml:"x"`
	Y     float64   `yaml:"y"`
	Label string    `yaml:"label"`
	Shape string    `yaml:"shape"` // pin when empty, box or arrow
	To    []float64 `yaml:"to"`    // the other corner of a box, or an arrow's head
}

// Source says where a case came from that this workshop did not write. The
// texts are as the standard's file gave them.
type Source struct {
	Standard        string   `yaml:"standard"`
	ID              string   `yaml:"id"`
	Provider        string   `yaml:"provider"`
	Country         string   `yaml:"country"`
	PartnerCategory string   `yaml:"partner-category"`
	Category        string   `yaml:"category"`
	CategoryID      string   `yaml:"category-id"`
	Brand           string   `yaml:"brand"`
	Year            string   `yaml:"year"`
	Age             string   `yaml:"age"`
	Status          string   `yaml:"status"`
	Barrier         string   `yaml:"barrier"`
	Group           string   `yaml:"group"`
	EventDate       string   `yaml:"event-date"`
	RecordDate      string   `yaml:"record-date"`
	Problem         string   `yaml:"problem"` // only where the Symptom section cannot hold it exactly
	Empty           []string `yaml:"empty"`   // fields that were empty there and follow from the case here
	Guessed         []string `yaml:"guessed"` // fields that a program read from the text and nobody chose
	Licence         string   `yaml:"licence"`
	Credit          string   `yaml:"credit"`
}

// SymptomsGuessed reports whether a program read the symptoms from the text.
func (s *Source) SymptomsGuessed() bool {
	return s != nil && slices.Contains(s.Guessed, GuessedSymptoms)
}

// GuessedSymptoms is what Guessed says of symptoms.
const GuessedSymptoms = "symptoms"

// Section is a part of the body under a second-level heading; the text before
// the first heading is a section without a name.
type Section struct {
	Name        string
	Start, Stop int // byte range of its text in the file, heading excluded
	// TableStart and TableStop are the byte range of the lines of its table in the
	// file, the one that is computed on; both 0 without one.
	TableStart, TableStop int
	heading               int // byte offset of the heading's text
}

// cell is a table cell as plain text, with its byte range in the file.
type cell struct {
	Text        string
	Start, Stop int
}

// Extra is a cell of a column that the workshop added.
type Extra struct{ Column, Text string }

// When says whether a row was taken before or after the repair; rows of old
// files need not say.
type When string

// Before and After the repair.
const (
	Before When = "before"
	After  When = "after"
	// Found marks a part that somebody had bridged, left off or changed before this
	// repair.
	Found When = "found"
)

// whenOf is what a row says of itself: in its column, else in its own words.
func whenOf(column, text string) When {
	if column == "" && text != "" && terms.HasWording(terms.AfterRepair, text) {
		return After
	}
	return When(column)
}

// Finding is a row of the Findings table.
type Finding struct {
	Check, Seen, Result string
	Minutes             int // 0 when not noted
	When                When
	Extra               []Extra
	at                  cells
}

// Measurement is a row of the Measurements table.
type Measurement struct {
	Point, What, State, Expected, Read, Note string
	When                                     When
	// Expectation and Reading are Expected and Read as quantities; Reading is
	// nil when Read is not one.
	Expectation quantity.Expectation
	Reading     *quantity.Value
	Extra       []Extra
	at          cells
}

// Part is a row of the Parts table.
type Part struct {
	Ref, Part, Value, Package, Net, Action, Fitted, Note string
	When                                                 When // Found, or nothing
	Extra                                                []Extra
	at                                                   cells
}

// Refs are the designators of the row, of a cell such as "C31, C32".
func (p *Part) Refs() []string {
	return strings.FieldsFunc(p.Ref, func(c rune) bool { return c == ',' || c == ';' || c == ' ' || c == '+' || c == '/' })
}

// The known sections, in their order.
var SectionNames = []string{"Symptom", "Findings", "Measurements", "Parts", "Outcome", "Lesson"}

// Columns of the tables, in the order in which they are written.
var (
	FindingColumns     = []string{"check", "seen", "result", "min", "when"}
	MeasurementColumns = []string{"point", "what", "state", "expected", "read", "note", "when"}
	PartColumns        = []string{"ref", "part", "value", "package", "net", "action", "fitted", "note", "when"}
)

// Blank is a section's table without a row, as a new case has it: the column that
// tells readings after the repair comes with the first of them.
func Blank(section string) string {
	columns, ok := tableColumns[section]
	if !ok {
		return ""
	}
	return FormatTable(slices.DeleteFunc(slices.Clone(columns), func(c string) bool { return c == "when" }), nil)
}

// tableColumns are the columns of the sections with tables.
var tableColumns = func() map[string][]string {
	all := maps.Clone(workColumns)
	all["Findings"], all["Measurements"], all["Parts"] = FindingColumns, MeasurementColumns, PartColumns
	return all
}()

// File is a case file: the case, its source and the place of every value.
type File struct {
	*Document
	Case Case
	// Pictures are those that the text shows, Mentions what may be ids of cases in the text,
	// in its links, in the title and under confirmed. A file that [Read] read has none.
	Pictures, Mentions []Pointer
}

// Section returns the text of the named section, "" when there is none.
func (f *File) Section(name string) string {
	for _, s := range f.Case.Sections {
		if s.Name == name {
			return string(f.Text.Bytes[s.Start:s.Stop])
		}
	}
	return ""
}

// Bytes returns the file as it would be written: exactly what was read, apart
// from what [File.Set] changed.
func (f *File) Bytes() []byte { return f.Text.Bytes }

// Day parses a date as written in a case; ok is false when it is not one.
func Day(s string) (t time.Time, ok bool) {
	t, err := time.Parse(time.DateOnly, s)
	return t, err == nil
}

// Place returns the place of a table cell for diagnostics: the named column of
// a row, or the row's first known cell.
func (f *Finding) Place(column string) (start, stop int) { return placeOf(f.at, column) }

func (p *Part) Place(column string) (start, stop int) { return placeOf(p.at, column) }

// Place returns the place of a cell, as [Part.Place] does.
func (m *Measurement) Place(column string) (start, stop int) { return placeOf(m.at, column) }

func placeOf(at cells, column string) (start, stop int) {
	for _, name := range []string{column, "check", "point", "part", "mark", "name"} {
		if c, ok := at.at(name); ok {
			return c.Start, c.Stop
		}
	}
	return 0, 0
}

// cellProblem places a diagnostic on a table cell.
func (f *File) cellProblem(at cells, column string, s diagnostic.Severity, rule diagnostic.Rule, format string,
	args ...any) diagnostic.Diagnostic {
	start, stop := placeOf(at, column)
	return f.Text.At(start, stop, s, rule, fmt.Sprintf(format, args...))
}
