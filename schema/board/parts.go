package board

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// Limits of what is read of one board. They are far above real boards and keep
// a hostile file from filling the memory.
const (
	MaxFile    = 64 << 20 // bytes of either file
	MaxParts   = 100_000
	MaxPins    = 500_000
	MaxReach   = 2_000 // mm from the origin, in either direction
	maxName    = 64    // characters of a designator or net
	maxText    = 200   // characters of a value or package
	headerRows = 60    // lines within which the header stands
)

// Column is a column that a parts list may have.
type Column string

// The columns. Designator, X and Y are needed.
const (
	designatorColumn Column = "designator"
	valueColumn      Column = "value"
	packageColumn    Column = "package"
	xColumn          Column = "x"
	yColumn          Column = "y"
	rotationColumn   Column = "rotation"
	sideColumn       Column = "side"
)

// Columns lists them in the order in which they are written.
var Columns = []Column{designatorColumn, valueColumn, packageColumn, xColumn, yColumn, rotationColumn, sideColumn}

// headers are the names that programs give the columns, folded to small
// letters and digits.
var headers = map[string]Column{
	"designator": designatorColumn, "ref": designatorColumn, "refdes": designatorColumn,
	"reference": designatorColumn, "referencedesignator": designatorColumn,
	"refdesignator": designatorColumn, "component": designatorColumn, "comp": designatorColumn,
	"part": designatorColumn, "refid": designatorColumn, "designation": designatorColumn,
	"value": valueColumn, "val": valueColumn, "comment": valueColumn, "partvalue": valueColumn,
	"componentvalue": valueColumn, "description": valueColumn,
	"package": packageColumn, "footprint": packageColumn, "pkg": packageColumn, "pattern": packageColumn,
	"case": packageColumn, "casesize": packageColumn, "size": packageColumn,
	"shape": packageColumn, "decal": packageColumn, "componentpackage": packageColumn, "packagereference": packageColumn,
	"x": xColumn, "posx": xColumn, "xpos": xColumn, "midx": xColumn, "centerx": xColumn, "centrex": xColumn,
	"locationx": xColumn, "xlocation": xColumn, "xcoord": xColumn, "xcoordinate": xColumn, "coordx": xColumn,
	"symx": xColumn, "compx": xColumn,
	"y": yColumn, "posy": yColumn, "ypos": yColumn, "midy": yColumn, "centery": yColumn, "centrey": yColumn,
	"locationy": yColumn, "ylocation": yColumn, "ycoord": yColumn, "ycoordinate": yColumn, "coordy": yColumn,
	"symy": yColumn, "compy": yColumn,
	"rotation": rotationColumn, "rot": rotationColumn, "angle": rotationColumn, "orientation": rotationColumn,
	"symrotate": rotationColumn, "rotate": rotationColumn,
	"side": sideColumn, "layer": sideColumn, "tb": sideColumn, "boardside": sideColumn, "mountingside": sideColumn,
	"placementlayer": sideColumn, "componentside": sideColumn,
}

// lengthUnits are the units of length, as millimetres.
var lengthUnits = map[string]float64{"mm": 1, "millimetre": 1, "millimetres": 1, "millimeter": 1, "millimeters": 1,
	"metric": 1, "cm": 10, "um": 0.001, "µm": 0.001, "μm": 0.001,
	"mil": 0.0254, "mils": 0.0254, "thou": 0.0254, "in": 25.4, "inch": 25.4, "inches": 25.4, "imperial": 25.4, "\"": 25.4}

// PartsOptions help with a parts list that does not explain itself.
type PartsOptions struct {
	// Names maps a column to the header that it has in the file.
	Names map[Column]string
	// Unit is mm, mil or inch; empty to go by the file.
	Unit string
}

// errUnit is returned for a unit of length that is not known.
var errUnit = errors.New("a unit of length is mm, mil or inch")

// ReadParts reads a parts list with places: a centroid or pick-and-place file
// of rows with separators (comma, semicolon, tab, or blanks) under a header
// whose names and units vary. What cannot be used is named by line and left
// out, the rest is kept. The parts are nil when nothing could be read.
func ReadParts(name string, src []byte, o PartsOptions) ([]Part, []diagnostic.Diagnostic) {
	r := partsReader{report: reporter{file: name}, options: o}
	parts := r.read(src)
	return parts, r.report.done()
}

type partsReader struct {
	report    reporter
	options   PartsOptions
	separator rune // 0 for blanks
	columns   map[Column]int
	unit      float64 // 0 while not known
	unitOf    map[Column]float64
	header    int // its line
}

func (r *partsReader) fail(line int, format string, args ...any) []Part {
	r.report.say(line, 1, diagnostic.Error, format, args...)
	return nil
}

func (r *partsReader) read(src []byte) []Part {
	if len(src) > MaxFile {
		return r.fail(0, "the file has %d bytes; at most %d are read", len(src), MaxFile)
	}
	src = r.decode(src)
	if u := r.options.Unit; u != "" {
		f, ok := lengthUnits[strings.ToLower(u)]
		if !ok {
			return r.fail(0, "%q: %v", u, errUnit)
		}
		r.unit = f
	}
	at, line, ok := r.findHeader(src)
	if !ok {
		return nil
	}
	parts := r.rows(src[at:], line)
	if r.unit == 0 && len(r.unitOf) == 0 && len(parts) > 0 {
		parts = r.guessUnit(parts)
	}
	if len(parts) == 0 {
		return r.fail(r.header, "no row below this header could be read")
	}
	for column, missing := range map[Column]string{valueColumn: "values",
		packageColumn: "packages, and so the sizes of parts", sideColumn: "sides; all parts are taken to be on top"} {
		if _, ok := r.columns[column]; !ok {
			r.report.say(r.header, 1, diagnostic.Note, "the file does not say %s", missing)
		}
	}
	slices.SortFunc(r.report.list, diagnostic.Compare)
	return parts
}

// decode drops a byte-order mark and turns UTF-16 and Latin-1 into UTF-8.
func (r *partsReader) decode(src []byte) []byte {
	switch {
	case bytes.HasPrefix(src, []byte("\xef\xbb\xbf")):
		src = src[3:]
	case bytes.HasPrefix(src, []byte("\xff\xfe")), bytes.HasPrefix(src, []byte("\xfe\xff")):
		src = fromUTF16(src)
	}
	if utf8.Valid(src) {
		return src
	}
	out, err := charmap.Windows1252.NewDecoder().Bytes(src)
	if err != nil {
		return bytes.ToValidUTF8(src, []byte("?"))
	}
	r.report.say(0, 0, diagnostic.Note, "the file is not UTF-8; it was read as Latin-1")
	return out
}

// fromUTF16 decodes text with a byte-order mark.
func fromUTF16(src []byte) []byte {
	big := src[0] == 0xfe
	units := make([]rune, 0, len(src)/2)
	for i := 2; i+1 < len(src); i += 2 {
		u := rune(src[i]) | rune(src[i+1])<<8
		if big {
			u = rune(src[i])<<8 | rune(src[i+1])
		}
		units = append(units, u) // designators and values need no surrogate pairs
	}
	return []byte(string(units))
}

func foldHeader(s string) string {
	return strings.Map(func(c rune) rune {
		switch {
		case c >= 'a' && c <= 'z' || c >= '0' && c <= '9':
			return c
		case c >= 'A' && c <= 'Z':
			return c + 'a' - 'A'
		}
		return -1
	}, s)
}

// splitUnit takes a unit off a header: "PosX (mm)", "x_mil", "Mid X [inch]".
func splitUnit(h string) (name string, unit float64) {
	h = strings.TrimSpace(h)
	low := strings.ToLower(strings.TrimRight(h, ")] "))
	for word, f := range lengthUnits {
		rest, ok := strings.CutSuffix(low, word)
		if !ok || rest == "" {
			continue
		}
		if last := rest[len(rest)-1]; strings.IndexByte(" _-([", last) >= 0 {
			return strings.TrimRight(rest, " _-(["), f
		}
	}
	return h, 0
}

// findHeader looks for the first line that names the columns, and on its way
// for a unit that a comment states.
func (r *partsReader) findHeader(src []byte) (at, line int, ok bool) {
	best := ""
	for at < len(src) && line < headerRows {
		line++
		end := len(src)
		if i := bytes.IndexByte(src[at:], '\n'); i >= 0 {
			end = at + i + 1
		}
		text := strings.TrimRight(string(src[at:end]), "\r\n")
		at = end
		if len(text) > 1<<16 {
			continue
		}
		bare := strings.TrimSpace(strings.TrimLeft(text, "#;/* \t"))
		if !strings.HasPrefix(strings.TrimSpace(text), ";") {
			bare = strings.TrimSpace(strings.TrimLeft(text, "#/* \t"))
		}
		for _, separator := range separators(bare) {
			r.separator = separator
			cells, err := r.split(bare)
			if err != nil {
				continue
			}
			missing, any := r.take(cells)
			if missing == "" {
				r.header = line
				return at, line, true
			}
			if any && best == "" {
				best = fmt.Sprintf("line %d names %s", line, missing)
			}
		}
		r.statedUnit(text)
	}
	if best != "" {
		r.fail(0, "no header was found with a designator, x and y (%s); name the columns with --designator, --x and --y", best)
	} else {
		r.fail(0, "no header was found in the first %d lines: a parts list names its columns, such as Designator, Value, Package, X, Y, Rotation, Side", headerRows)
	}
	return 0, 0, false
}

// separators are those that a line may have, the commonest in it first.
func separators(line string) []rune {
	list := []rune{',', ';', '\t', '|'}
	slices.SortStableFunc(list, func(a, b rune) int { return strings.Count(line, string(b)) - strings.Count(line, string(a)) })
	list = slices.DeleteFunc(list, func(c rune) bool { return strings.Count(line, string(c)) < 2 })
	return append(list, 0)
}

func (r *partsReader) split(line string) ([]string, error) {
	if r.separator == 0 {
		return strings.Fields(line), nil
	}
	c := csv.NewReader(strings.NewReader(line))
	c.Comma, c.LazyQuotes, c.FieldsPerRecord = r.separator, true, -1
	return c.Read()
}

// take reads header cells; missing says which needed column is not there, and
// whether any of the needed ones is.
func (r *partsReader) take(cells []string) (missing string, any bool) {
	r.columns, r.unitOf = map[Column]int{}, map[Column]float64{}
	for i, h := range cells {
		h = strings.TrimSpace(h)
		name, unit := splitUnit(h)
		column := Column("")
		for c, wanted := range r.options.Names {
			if strings.EqualFold(strings.TrimSpace(wanted), h) {
				column = c
			}
		}
		if c, ok := headers[foldHeader(name)]; ok && column == "" && r.options.Names[c] == "" {
			column = c
		}
		if column == "" {
			continue
		}
		if _, ok := r.columns[column]; ok {
			continue // the first of two stands
		}
		r.columns[column] = i
		if unit != 0 && (column == xColumn || column == yColumn) && r.unit == 0 {
			r.unitOf[column] = unit
		}
	}
	var absent []string
	for _, c := range []Column{designatorColumn, xColumn, yColumn} {
		if _, ok := r.columns[c]; ok {
			any = true
		} else {
			absent = append(absent, string(c))
		}
	}
	if len(absent) == 0 {
		return "", any
	}
	return "no " + strings.Join(absent, ", no "), any
}

// statedUnit reads "Unit = mm" and its like in the lines before the header.
func (r *partsReader) statedUnit(line string) {
	low := strings.ToLower(line)
	i := strings.Index(low, "unit")
	if i < 0 || r.unit != 0 {
		return
	}
	for _, w := range strings.FieldsFunc(low[i:], func(c rune) bool { return strings.ContainsRune(" :=,;\t\"'()", c) }) {
		if f, ok := lengthUnits[w]; ok {
			r.unit = f
			return
		}
	}
}

// rows reads the lines below the header. A quote that is never closed would
// swallow the rest of the file, so a row that goes over a line end is named and
// reading goes on with the next line.
func (r *partsReader) rows(src []byte, line int) []Part {
	parts := []Part{}
	seen := map[string]int{}
	for at := 0; at < len(src); {
		if r.separator == 0 {
			end := len(src)
			if i := bytes.IndexByte(src[at:], '\n'); i >= 0 {
				end = at + i + 1
			}
			line++
			if cells := strings.Fields(string(src[at:end])); len(cells) > 0 && !strings.HasPrefix(cells[0], "#") {
				r.row(&parts, seen, line, cells, nil)
			}
			at = end
			continue
		}
		c := csv.NewReader(bytes.NewReader(src[at:]))
		c.Comma, c.LazyQuotes, c.FieldsPerRecord, c.ReuseRecord = r.separator, true, -1, true
		if r.separator != '#' {
			c.Comment = '#'
		}
		restart := false
		for {
			before := c.InputOffset()
			cells, err := c.Read()
			if errors.Is(err, io.EOF) {
				return parts
			}
			var bad *csv.ParseError
			if errors.As(err, &bad) {
				r.report.say(line+bad.StartLine, bad.Column, diagnostic.Error, "this row cannot be read: %v", bad.Err)
				continue
			}
			if err != nil {
				r.report.say(line+1, 1, diagnostic.Error, "reading stopped here: %v", err)
				return parts
			}
			start, _ := c.FieldPos(0)
			last, _ := c.FieldPos(len(cells) - 1)
			if last != start || strings.Contains(cells[len(cells)-1], "\n") {
				r.report.say(line+start, 1, diagnostic.Error, "a quote on this line is not closed; the row is left out")
				at += lineOffset(src[at:], start)
				line += start
				restart = true
				break
			}
			if len(parts) >= MaxParts {
				r.report.say(line+start, 1, diagnostic.Error, "a board has at most %d parts; the rest is left out", MaxParts)
				return parts
			}
			source := src[at+int(before) : at+int(c.InputOffset())]
			r.row(&parts, seen, line+start, cells, func(i int) int {
				_, b := c.FieldPos(i)
				text := bytes.TrimRight(source, "\r\n") // blank lines and comments may stand before the row
				text = text[bytes.LastIndexByte(text, '\n')+1:]
				return utf8.RuneCount(text[:min(b-1, len(text))]) + 1
			})
		}
		if !restart {
			break
		}
	}
	return parts
}

// lineOffset is where the line after the n-th begins.
func lineOffset(src []byte, n int) int {
	at := 0
	for range n {
		i := bytes.IndexByte(src[at:], '\n')
		if i < 0 {
			return len(src)
		}
		at += i + 1
	}
	return at
}

// row takes one row over, or says why not; place gives the column of a cell.
func (r *partsReader) row(parts *[]Part, seen map[string]int, line int, cells []string, place func(cell int) int) {
	blank := !slices.ContainsFunc(cells, func(s string) bool { return strings.TrimSpace(s) != "" })
	if blank {
		return
	}
	if first := strings.TrimSpace(cells[0]); strings.HasPrefix(first, "//") || strings.HasPrefix(first, "#") ||
		strings.HasPrefix(first, ";") {
		return
	}
	column := func(name Column) int {
		i := r.columns[name]
		if place == nil || i >= len(cells) {
			return 1
		}
		return place(i)
	}
	get := func(name Column) string {
		i, ok := r.columns[name]
		if !ok || i >= len(cells) {
			return ""
		}
		return plain(cells[i])
	}
	bad := func(name Column, format string, args ...any) {
		r.report.say(line, column(name), diagnostic.Error, format+"; the row is left out", args...)
	}
	for _, need := range []Column{designatorColumn, xColumn, yColumn} {
		if r.columns[need] >= len(cells) {
			r.report.say(line, 1, diagnostic.Error, "the row ends before its %s: it has %d cells; the row is left out", need, len(cells))
			return
		}
	}
	p := Part{Ref: strings.Clone(get(designatorColumn)), Value: clip(get(valueColumn)), Package: clip(get(packageColumn)), Line: line}
	switch {
	case p.Ref == "":
		bad(designatorColumn, "the designator is empty")
		return
	case strings.HasPrefix(p.Ref, "#"), strings.HasPrefix(p.Ref, "//"), strings.HasPrefix(p.Ref, ";"):
		bad(designatorColumn, "a designator does not begin as a comment does, with %q", p.Ref[:1])
		return
	case utf8.RuneCountInString(p.Ref) > maxName:
		bad(designatorColumn, "a designator has at most %d characters", maxName)
		return
	case seen[key(p.Ref)] > 0:
		bad(designatorColumn, "designator %q stands on line %d already", p.Ref, seen[key(p.Ref)])
		return
	}
	for _, axis := range []struct {
		name Column
		into *float64
	}{{xColumn, &p.X}, {yColumn, &p.Y}} {
		v, err := r.length(get(axis.name), axis.name)
		if err != nil {
			bad(axis.name, "%s: %v", axis.name, err)
			return
		}
		*axis.into = v
	}
	if text := get(rotationColumn); text != "" {
		v, err := number(strings.TrimRight(text, "°dg e"))
		if err != nil || math.Abs(v) > 3600 {
			r.report.say(line, column(rotationColumn), diagnostic.Warning, "rotation %q is not an angle in degrees; 0 is taken", text)
			v = 0
		}
		p.Rotation = math.Mod(math.Mod(v, 360)+360, 360)
	}
	if text := get(sideColumn); text != "" {
		side, ok := sideOf(text)
		if !ok {
			d := r.report.say(line, column(sideColumn), diagnostic.Warning, "side %q is neither top nor bottom; top is taken", text)
			d.Suggestion = terms.Nearest(strings.ToLower(text), []string{"top", "bottom"})
		}
		p.Side = side
	}
	seen[key(p.Ref)] = line
	*parts = append(*parts, p)
}

// plain cuts control characters and outer blanks off a cell.
func plain(s string) string {
	s = strings.TrimSpace(s)
	if strings.IndexFunc(s, func(c rune) bool { return c < ' ' || c == 0x7f }) < 0 {
		return s
	}
	return strings.Map(func(c rune) rune {
		if c < ' ' || c == 0x7f {
			return -1
		}
		return c
	}, s)
}

func clip(s string) string {
	if utf8.RuneCountInString(s) > maxText {
		s = string([]rune(s)[:maxText])
	}
	return strings.Clone(s)
}

// length reads a coordinate in the file's unit, or in its own: "12.7mm".
func (r *partsReader) length(text string, column Column) (float64, error) {
	unit := r.unit
	if f := r.unitOf[column]; f != 0 {
		unit = f
	}
	reach := float64(MaxReach)
	if unit == 0 {
		unit, reach = 1, MaxReach/lengthUnits["mil"] // mil, perhaps; guessUnit decides
	}
	body := strings.TrimRightFunc(text, func(c rune) bool { return c < '0' || c > '9' && c != '.' })
	if body == "" {
		return 0, fmt.Errorf("%q is not a number", text)
	}
	if tail := strings.ToLower(strings.TrimSpace(text[len(body):])); tail != "" {
		f, ok := lengthUnits[tail]
		if !ok {
			return 0, fmt.Errorf("%q is not a length", text)
		}
		unit = f
	}
	v, err := number(body)
	if err != nil {
		return 0, err
	}
	if v *= unit; math.Abs(v) > reach {
		return 0, fmt.Errorf("%s lies %.4g mm from the origin; at most %d mm are taken", text, math.Abs(v), MaxReach)
	}
	return v, nil
}

// number reads a decimal with a point or a comma, whichever stands last.
func number(text string) (float64, error) {
	s := strings.TrimPrefix(strings.ReplaceAll(strings.ReplaceAll(text, " ", ""), "−", "-"), "+")
	point, comma := strings.LastIndexByte(s, '.'), strings.LastIndexByte(s, ',')
	switch {
	case comma >= 0 && point < 0:
		s = strings.Replace(s, ",", ".", 1)
	case comma > point:
		s = strings.Replace(strings.ReplaceAll(s, ".", ""), ",", ".", 1)
	case comma >= 0:
		s = strings.ReplaceAll(s, ",", "")
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(s, "xXpP_") {
		return 0, fmt.Errorf("%q is not a number", text)
	}
	return v, nil
}

var topWords = []string{"top", "t", "toplayer", "topside", "f", "fcu", "front", "component", "componentside", "primary", "1", "fside", "a"}
var bottomWords = []string{"bottom", "bot", "b", "bottomlayer", "bottomside", "bcu", "back", "solder", "solderside",
	"secondary", "2", "bside"}

func sideOf(text string) (Side, bool) {
	w := foldHeader(text)
	if slices.Contains(bottomWords, w) {
		return Bottom, true
	}
	return Top, slices.Contains(topWords, w)
}

// guessUnit decides for a file that says no unit: a board of half a metre and
// more is in mils.
func (r *partsReader) guessUnit(parts []Part) []Part {
	span := 0.0
	for i := range parts {
		span = max(span, math.Abs(parts[i].X-parts[0].X), math.Abs(parts[i].Y-parts[0].Y))
	}
	if span <= 500 {
		r.report.say(r.header, 1, diagnostic.Note, "no unit is stated; mm is taken. --units mil or --units inch says otherwise")
		return slices.DeleteFunc(parts, func(p Part) bool {
			far := math.Abs(p.X) > MaxReach || math.Abs(p.Y) > MaxReach
			if far {
				r.report.say(p.Line, 1, diagnostic.Error, "%s lies more than %d mm from the origin; the row is left out", p.Ref, MaxReach)
			}
			return far
		})
	}
	for i := range parts {
		parts[i].X *= 0.0254
		parts[i].Y *= 0.0254
	}
	r.report.say(r.header, 1, diagnostic.Warning,
		"no unit is stated, and in mm the board would be %.0f mm long; mil is taken. --units mm says otherwise", span)
	return parts
}

// FormatParts writes a parts list that says its units, for [ReadParts].
func FormatParts(parts []Part) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write([]string{"designator", "value", "package", "x_mm", "y_mm", "rotation", "side"})
	num := func(v float64) string { return strconv.FormatFloat(math.Round(v*1e4)/1e4, 'f', -1, 64) }
	for i := range parts {
		p := &parts[i]
		_ = w.Write([]string{p.Ref, p.Value, p.Package, num(p.X), num(p.Y), num(p.Rotation), p.Side.String()})
	}
	w.Flush()
	return b.Bytes()
}
