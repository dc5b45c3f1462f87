package casefile

import (
	"fmt"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"benchlore/schema"
	"benchlore/schema/diagnostic"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// DeviceRecord is what a device file says.
type DeviceRecord struct {
	ID      string   `yaml:"device"`
	Kind    string   `yaml:"kind"`
	Maker   string   `yaml:"maker"`
	Model   string   `yaml:"model"`
	Years   string   `yaml:"years"`
	Boards  []string `yaml:"boards"`
	Hazards []string `yaml:"hazards"`
	Power   string   `yaml:"power"`
	// Protection is the class of protection, I, II or III; empty when not stated.
	Protection string       `yaml:"protection"`
	Total      *int         `yaml:"fasteners"` // of all fasteners; nil when not stated
	Views      []View       `yaml:"views"`
	Photos     []BoardPhoto `yaml:"photos"`

	Sections   []Section   `yaml:"-"`
	Fasteners  []Fastener  `yaml:"-"`
	Plugs      []Plug      `yaml:"-"`
	References []Reference `yaml:"-"`
	Spares     []Spare     `yaml:"-"`
	Donors     []Donor     `yaml:"-"`
	Rails      []Rail      `yaml:"-"`
}

// View is an outline of the device on which places are given, in mm from its
// top left corner; Picture is a file in the device's folder, or empty.
type View struct {
	Name    string  `yaml:"name"`
	Width   float64 `yaml:"width"`
	Height  float64 `yaml:"height"`
	Picture string  `yaml:"picture"`
}

// BoardPhoto is a picture of one side of a board, in the device's folder.
type BoardPhoto struct {
	File    string       `yaml:"file"`
	Caption string       `yaml:"caption"`
	Board   string       `yaml:"board"` // empty where the device has one alone
	Side    string       `yaml:"side"`  // top or bottom
	Points  []PhotoPoint `yaml:"points"`
}

// Fastener is a row of the Fasteners table: one kind of screw, nut or clip at
// one or more places.
type Fastener struct {
	Mark, Place, Head, Thread, Torque, On, Under, Note string

	Drive  string  // the id of the head's term; empty when not known
	Tool   string  // the bit that fits, as "PH1"; empty when not stated
	Length float64 // mm; 0 when not stated
	Count  int
	At     []Spot // on the view; none, or one for each
	at     cells
}

// Spot is a place on a view, mm from its top left corner.
type Spot struct{ X, Y float64 }

// Plug is a row of the Connectors table.
type Plug struct {
	Name, Pins, Carries, Release, Beside, Ref, Note string // Ref is its designator on a board
	at                                              cells
}

// Reference is a row of a device's Reference readings table: what a reading at
// a point should be.
type Reference struct {
	Point, What, State, Expected, Note string
	Expectation                        quantity.Expectation
	at                                 cells
}

// Spare is a row of the Spare parts table.
type Spare struct {
	Part, Value, Ref, From, Note string
	// Left is how many lie in the drawer, and Least how many should; nil where nobody
	// counted.
	Left, Least *int
	at          cells
}

// Short reports whether fewer are left than should be; without a number that should be,
// whether none is.
func (s *Spare) Short() bool {
	least := 1
	if s.Least != nil {
		least = *s.Least
	}
	return s.Left != nil && *s.Left < least
}

// Donor is a row of the Donors table: another device that parts come from.
type Donor struct {
	Device, Gives, Note string
	at                  cells
}

// Rail is a row of the Rails table: a supply of a board, what makes it from what, and what
// it should show.
type Rail struct {
	Name, From, By, Enable, Board, Note string
	Volts, Diode, Ohms                  string // as expectations: to ground, the last two without power
	VoltsExpected                       quantity.Expectation
	Order                               int // in which it comes up, from 1; 0 when not stated
	at                                  cells
}

// The sections of a device file whose tables are computed on, and their
// columns in the order in which they are written.
const (
	FastenerSection  = "Fasteners"
	PlugSection      = "Connectors"
	ReferenceSection = "Reference readings"
	SpareSection     = "Spare parts"
	DonorSection     = "Donors"
	RailSection      = "Rails"
)

var (
	fastenerColumns  = []string{"mark", "place", "head", "thread", "length", "count", "torque", "x", "y", "on", "under", "note"}
	plugColumns      = []string{"name", "pins", "carries", "release", "beside", "ref", "note"}
	referenceColumns = []string{"point", "what", "state", "expected", "note"}
	spareColumns     = []string{"part", "value", "ref", "from", "left", "least", "note"}
	donorColumns     = []string{"device", "gives", "note"}
	railColumns      = []string{"rail", "from", "by", "enable", "volts", "diode", "ohms", "order", "board", "note"}
)

// Name is maker and model.
func (d *DeviceRecord) Name() string { return d.Maker + " " + d.Model }

// Row is a row of one of a device's tables.
type Row interface{ row() cells }

func (p *Plug) row() cells      { return p.at }
func (r *Reference) row() cells { return r.at }
func (s *Spare) row() cells     { return s.at }
func (r *Rail) row() cells      { return r.at }

// Problem places a diagnostic on a cell of a row.
func (f *DeviceFile) Problem(r Row, column string, s diagnostic.Severity, rule diagnostic.Rule, message string) diagnostic.Diagnostic {
	return f.at(r.row(), column, s, rule, "%s", message)
}

// FastenerCount is how many fasteners the table lists.
func (d *DeviceRecord) FastenerCount() int {
	n := 0
	for i := range d.Fasteners {
		n += d.Fasteners[i].Count
	}
	return n
}

// View returns the view that a fastener's place is given on.
func (d *DeviceRecord) View(f *Fastener) (*View, bool) {
	for i := range d.Views {
		if f.On == "" || strings.EqualFold(d.Views[i].Name, f.On) {
			return &d.Views[i], true
		}
	}
	return nil, false
}

// DeviceFile is a device file with its source.
type DeviceFile struct {
	*Document
	Device DeviceRecord
}

// ParseDevice reads a device file, as [Parse] does a case.
func ParseDevice(name string, src []byte) (*DeviceFile, []diagnostic.Diagnostic) {
	return parseDevice(name, src, schema.Device())
}

// ReadDevice is to [ParseDevice] what [Read] is to [Parse].
func ReadDevice(name string, src []byte) *DeviceFile {
	f, _ := parseDevice(name, src, nil)
	return f
}

func parseDevice(name string, src []byte, s *schema.Schema) (*DeviceFile, []diagnostic.Diagnostic) {
	doc, list := parseFrontMatter(name, src, s)
	if doc == nil {
		return nil, list
	}
	f := &DeviceFile{Document: doc}
	doc.Decode(&f.Device)
	b := body{doc: doc, list: list}
	b.read(DeviceSections)
	f.Device.Sections = b.sections
	for _, r := range b.table(FastenerSection, fastenerColumns, "mark") {
		f.Device.Fasteners = append(f.Device.Fasteners, b.fastener(r))
	}
	for _, r := range b.table(PlugSection, plugColumns, "name") {
		f.Device.Plugs = append(f.Device.Plugs, Plug{r.text("name"), r.text("pins"), r.text("carries"), r.text("release"),
			r.text("beside"), r.text("ref"), r.text("note"), r.cells})
	}
	for _, r := range b.table(ReferenceSection, referenceColumns, "point", "expected") {
		ref := Reference{Point: r.text("point"), What: r.text("what"), State: r.text("state"),
			Expected: r.text("expected"), Note: r.text("note"), at: r.cells}
		var err error
		if ref.Expectation, err = quantity.ParseExpectation(ref.Expected); err != nil {
			b.cell(r, "expected", diagnostic.BadQuantity, "expected: %v", err)
		}
		f.Device.References = append(f.Device.References, ref)
	}
	for _, r := range b.table(SpareSection, spareColumns, "part") {
		f.Device.Spares = append(f.Device.Spares,
			Spare{r.text("part"), r.text("value"), r.text("ref"), r.text("from"), r.text("note"),
				b.number(r, "left"), b.number(r, "least"), r.cells})
	}
	for _, r := range b.table(DonorSection, donorColumns, "device") {
		f.Device.Donors = append(f.Device.Donors, Donor{r.text("device"), r.text("gives"), r.text("note"), r.cells})
	}
	for _, r := range b.table(RailSection, railColumns, "rail", "from") {
		b.rail(&f.Device, r)
	}
	return f, b.list
}

// rail reads a row of the Rails table. What it should show is a reference reading as well,
// unless the sheet of those says it in its own way.
func (b *body) rail(d *DeviceRecord, r row) {
	rail := Rail{Name: r.text("rail"), From: r.text("from"), By: r.text("by"), Enable: r.text("enable"), Board: r.text("board"),
		Note: r.text("note"), Volts: r.text("volts"), Diode: r.text("diode"), Ohms: r.text("ohms"), at: r.cells}
	if text := r.text("order"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 || n > 999 {
			b.cell(r, "order", diagnostic.WrongValue, "order is a whole number from 1 to 999, not %q", text)
			n = 0
		}
		rail.Order = n
	}
	for _, x := range []struct{ column, text, what, state string }{{"volts", rail.Volts, "voltage", "on"},
		{"diode", rail.Diode, "diode, red on ground", "off"}, {"ohms", rail.Ohms, "resistance to ground", "off"}} {
		e, err := quantity.ParseExpectation(x.text)
		if err != nil {
			b.cell(r, x.column, diagnostic.BadQuantity, "%s: %v", x.column, err)
			continue
		}
		if x.column == "volts" {
			rail.VoltsExpected = e
		}
		if x.text == "" || slices.ContainsFunc(d.References, func(o Reference) bool {
			return strings.EqualFold(o.Point, rail.Name) && strings.EqualFold(o.What, x.what) && strings.EqualFold(o.State, x.state)
		}) {
			continue
		}
		d.References = append(d.References, Reference{Point: rail.Name, What: x.what, State: x.state, Expected: x.text,
			Note: rail.Note, Expectation: e, at: r.cells})
	}
	d.Rails = append(d.Rails, rail)
}

// cell names an error in one cell of a row.
func (b *body) cell(r row, column string, rule diagnostic.Rule, format string, args ...any) *diagnostic.Diagnostic {
	start, stop := placeOf(r.cells, column)
	return b.say(start, stop, diagnostic.Error, rule, format, args...)
}

var torqueForm = regexp.MustCompile(`^\d+(?:[.,]\d+)? ?(?:m|c)?N[ ·]?(?:c|m)?m$`)

// maxLength is the longest fastener that a table may name, mm.
const maxLength = 500

// number is a cell that counts something, or nil where nothing stands in it.
func (b *body) number(r row, column string) *int {
	text := r.text(column)
	if text == "" {
		return nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 || n > 1_000_000 {
		b.cell(r, column, diagnostic.WrongValue, "%s is a whole number from 0, not %q", column, text)
		return nil
	}
	return &n
}

func (b *body) fastener(r row) Fastener {
	f := Fastener{Mark: r.text("mark"), Place: r.text("place"), Head: r.text("head"), Thread: r.text("thread"),
		Torque: r.text("torque"), On: r.text("on"), Under: r.text("under"), Note: r.text("note"), Count: 1, at: r.cells}
	f.Drive, f.Tool = headOf(f.Head)
	if text := r.text("count"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 || n > 999 {
			b.cell(r, "count", diagnostic.WrongValue, "count is a whole number from 1 to 999, not %q", text)
			n = 1
		}
		f.Count = n
	}
	if text := r.text("length"); text != "" {
		l, ok := millimetres(text)
		if !ok || l <= 0 || l > maxLength {
			b.cell(r, "length", diagnostic.BadQuantity, "length is in mm, up to %d, such as 6 or 6.5, not %q", maxLength, text)
			l = 0
		}
		f.Length = l
	}
	if f.Torque != "" && !torqueForm.MatchString(f.Torque) {
		b.cell(r, "torque", diagnostic.BadQuantity, "torque is a number with N m, N cm or mN m, not %q", f.Torque)
	}
	x, okX := spots(r.text("x"))
	y, okY := spots(r.text("y"))
	switch {
	case !okX:
		b.cell(r, "x", diagnostic.BadQuantity, "x is in mm, one number for each fastener with ; between, not %q", r.text("x"))
	case !okY:
		b.cell(r, "y", diagnostic.BadQuantity, "y is in mm, one number for each fastener with ; between, not %q", r.text("y"))
	case len(x) != len(y):
		b.cell(r, "y", diagnostic.FastenerMark, "there are %d numbers under x and %d under y", len(x), len(y))
	case len(x) > 0 && len(x) != f.Count:
		b.cell(r, "x", diagnostic.FastenerCount, "the row counts %d and gives %d places; give each one its place, or none", f.Count, len(x))
	default:
		for i := range x {
			f.At = append(f.At, Spot{x[i], y[i]})
		}
	}
	return f
}

// millimetres reads a length such as 6, 6.5, 6,5 or 6.5 mm.
func millimetres(text string) (float64, bool) {
	text = strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), "mm"))
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	return v, err == nil && v >= 0 && v < 1e6
}

func spots(text string) ([]float64, bool) {
	if strings.TrimSpace(text) == "" {
		return nil, true
	}
	var out []float64
	for _, one := range strings.Split(text, ";") {
		v, ok := millimetres(one)
		if !ok {
			return nil, false
		}
		out = append(out, v)
	}
	return out, true
}

// toolForm is the number of a bit, by the letters that the standards and the
// trade give it.
var toolForm = regexp.MustCompile(`(?i)(?:^|\s)(PH|PZ|TR|T|P|H|SL)[ ]?(\d{1,2}(?:[.,]\d)?)\b`)

var driveOfTool = map[string]string{"PH": "cross", "PZ": "cross-z", "T": "hexalobe", "TR": "hexalobe-pin",
	"P": "five-lobe", "H": "hex-socket", "SL": "slot"}

// headOf reads what turns a fastener: a bit's number such as PH1 or T5, the
// words of a head, or both.
func headOf(text string) (drive, tool string) {
	words := text
	if m := toolForm.FindStringSubmatch(text); m != nil {
		tool = strings.ToUpper(m[1]) + strings.Replace(m[2], ",", ".", 1)
		drive = driveOfTool[strings.ToUpper(m[1])]
		words = strings.TrimSpace(strings.Replace(text, strings.TrimSpace(m[0]), "", 1))
	}
	words = strings.TrimRight(words, " 0123456789.,")
	if t, ok := terms.Builtin().Resolve(terms.Head, words); ok && words != "" {
		drive = t.ID
	}
	return drive, tool
}

// Check applies the rules that one device file can be judged by.
func (f *DeviceFile) Check(v *terms.Vocabulary, allow []string) []diagnostic.Diagnostic {
	list := f.unknownTerm(v, terms.Kind, f.Device.Kind, 0, "kind")
	for i, h := range f.Device.Hazards {
		list = append(list, f.unknownTerm(v, terms.Hazard, h, len(list), "hazards", strconv.Itoa(i))...)
	}
	list = append(list, f.checkFasteners()...)
	list = append(list, f.checkTwice()...)
	list = append(list, f.checkRails()...)
	for i := range f.Device.References {
		r := &f.Device.References[i]
		list = append(list, f.doubtful(v, r.at, r.What, r.Expected, "", r.Expectation, nil)...)
	}
	base := path.Base(strings.ReplaceAll(f.Text.Name, "\\", "/"))
	if f.Device.ID != "" && strings.TrimSuffix(base, ".md") != f.Device.ID {
		list = append(list, f.Say(diagnostic.Error, diagnostic.FileName,
			fmt.Sprintf("the file is called %q; it must be %q", base, f.Device.ID+".md"), "device"))
	}
	return append(list, f.checkPersonal(allow)...)
}

// checkRails: no rail stands twice on a board, and none is made from itself, by whatever
// way round.
func (f *DeviceFile) checkRails() (list []diagnostic.Diagnostic) {
	rails := f.Device.Rails
	at := map[[2]string]int{}
	name := func(r *Rail, rail string) [2]string {
		return [2]string{strings.ToLower(r.Board), strings.ToLower(rail)}
	}
	for i := range rails {
		r := &rails[i]
		if first, ok := at[name(r, r.Name)]; ok {
			list = append(list, f.at(r.at, "rail", diagnostic.Error, diagnostic.WrongValue,
				"the rail %q stands in row %d already", r.Name, first+1))
			continue
		}
		at[name(r, r.Name)] = i
	}
	for i := range rails {
		r, turns := &rails[i], 0
		for next, ok := i, true; ok; next, ok = at[name(&rails[next], rails[next].From)] {
			if turns++; turns > len(rails) {
				list = append(list, f.at(r.at, "from", diagnostic.Error, diagnostic.WrongValue,
					"%s is made from %s, which in the end is made from it again", r.Name, r.From))
				break
			}
		}
	}
	return list
}

func (d *Document) at(cells cells, column string, s diagnostic.Severity, rule diagnostic.Rule, format string,
	args ...any) diagnostic.Diagnostic {
	start, stop := placeOf(cells, column)
	return d.Text.At(start, stop, s, rule, fmt.Sprintf(format, args...))
}

// checkFasteners: marks are unique, heads are known, places lie on their view,
// and the rows add up to the total.
func (f *DeviceFile) checkFasteners() (list []diagnostic.Diagnostic) {
	d := &f.Device
	first := map[string]int{}
	for i := range d.Fasteners {
		s := &d.Fasteners[i]
		say := func(column string, rule diagnostic.Rule, format string, args ...any) *diagnostic.Diagnostic {
			list = append(list, f.at(s.at, column, diagnostic.Error, rule, format, args...))
			return &list[len(list)-1]
		}
		mark := strings.ToUpper(s.Mark)
		start, _ := placeOf(s.at, "mark")
		line, _ := f.Text.Place(start)
		switch at := first[mark]; {
		case s.Mark == "":
			say("mark", diagnostic.FastenerMark, "a fastener has a mark, which stands on the map and the tray")
		case len([]rune(s.Mark)) > 4:
			say("mark", diagnostic.FastenerMark, "a mark has at most four characters, so that it fits on the map; %q has more", s.Mark)
		case at > 0:
			say("mark", diagnostic.FastenerMark, "mark %q stands on line %d already", s.Mark, at)
		default:
			first[mark] = line
		}
		if s.Head != "" && s.Drive == "" {
			var ids []string
			for _, t := range terms.Builtin().All(terms.Head) {
				ids = append(ids, t.ID)
			}
			say("head", diagnostic.UnknownTerm,
				"%q is not a known head; write a bit such as PH1 or T5, or a word of `benchlore terms heads`",
				s.Head).Suggestion = terms.Nearest(s.Head, ids)
		}
		view, ok := d.View(s)
		switch {
		case s.On != "" && !ok:
			var names []string
			for _, v := range d.Views {
				names = append(names, v.Name)
			}
			say("on", diagnostic.FastenerMark, "there is no view %q under views:", s.On).Suggestion = terms.Nearest(s.On, names)
		case len(s.At) > 0 && !ok:
			say("x", diagnostic.FastenerMark,
				"places need a view: add views: [{name: bottom, width: 210, height: 140}] with the size of the case in mm")
		}
		for _, at := range s.At {
			if ok && (at.X > view.Width || at.Y > view.Height) {
				say("x", diagnostic.FastenerMark, "%g, %g mm lies outside %s, which is %g × %g mm", at.X, at.Y,
					view.Name, view.Width, view.Height)
			}
		}
	}
	if d.Total != nil && *d.Total != d.FastenerCount() && len(d.Fasteners) > 0 {
		list = append(list, f.Say(diagnostic.Error, diagnostic.FastenerCount,
			fmt.Sprintf("the table counts %d fasteners and this says %d", d.FastenerCount(), *d.Total), "fasteners"))
	}
	return list
}

// checkTwice names connectors, points and parts that stand twice in their
// table.
func (f *DeviceFile) checkTwice() (list []diagnostic.Diagnostic) {
	seen := map[string]bool{}
	once := func(table, column string, at cells, words ...string) {
		k := table + "\x00" + strings.ToLower(strings.Join(words, "\x00"))
		if seen[k] {
			list = append(list, f.at(at, column, diagnostic.Error, diagnostic.WrongValue, "%q stands twice under %s", words[0], table))
		}
		seen[k] = true
	}
	d := &f.Device
	for i := range d.Plugs {
		once(PlugSection, "name", d.Plugs[i].at, d.Plugs[i].Name)
	}
	for i := range d.References {
		once(ReferenceSection, "point", d.References[i].at, d.References[i].Point, d.References[i].What, d.References[i].State)
	}
	for i := range d.Spares {
		once(SpareSection, "part", d.Spares[i].at, d.Spares[i].Part, d.Spares[i].Ref)
	}
	for i := range d.Donors {
		once(DonorSection, "device", d.Donors[i].at, d.Donors[i].Device)
	}
	return list
}

// Clash is a fastener that goes where a shorter one belongs.
type Clash struct {
	Longer, Shorter *Fastener
	By              float64 // mm
}

// longerBy is the difference in length from which a swap does harm, mm.
const longerBy = 0.3

// Clashes lists which fastener fits into the hole of a shorter one: same
// thread and head, longer by 0.3 mm or more. The worst come first.
func (d *DeviceRecord) Clashes() []Clash {
	var out []Clash
	same := func(a, b string) bool {
		return strings.EqualFold(strings.ReplaceAll(a, " ", ""), strings.ReplaceAll(b, " ", ""))
	}
	for i := range d.Fasteners {
		for j := range d.Fasteners {
			a, b := &d.Fasteners[i], &d.Fasteners[j]
			if a.Length == 0 || b.Length == 0 || a.Thread == "" || !same(a.Thread, b.Thread) || a.Drive != b.Drive {
				continue
			}
			if by := a.Length - b.Length; by >= longerBy-1e-9 {
				out = append(out, Clash{a, b, by})
			}
		}
	}
	slices.SortStableFunc(out, func(x, y Clash) int {
		switch {
		case x.By > y.By:
			return -1
		case x.By < y.By:
			return 1
		}
		return 0
	})
	return out
}
