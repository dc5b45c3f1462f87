package editor

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"benchlore/schema/casefile"
)

// Fields are what the case sheet shows, as text: keys of the front matter,
// "section:NAME" for a section's text (below its table, where it has one), and
// "table:NAME" for a table as JSON.
type Fields map[string]string

var tableSections = append([]string{"Findings", "Measurements", "Parts"}, casefile.WorkSections...)

const (
	sectionPrefix = "section:"
	tablePrefix   = "table:"
)

// FieldsOf reads the fields of a case.
func FieldsOf(f *casefile.File) Fields {
	out := Fields{}
	for _, x := range slices.Concat(casefile.Fields, casefile.Intake) {
		if x.Label != "" && x.Kind != casefile.Pictures {
			out[x.Path] = f.Value(x.Path)
		}
	}
	photos, _ := json.Marshal(photosOf(f.Case.Photos))
	out["photos"] = string(photos)
	for _, name := range casefile.SectionNames {
		if slices.Contains(tableSections, name) {
			out[tablePrefix+name] = tableText(f.Table(name))
			out[sectionPrefix+name] = f.AfterTable(name)
		} else {
			out[sectionPrefix+name] = strings.Trim(strings.ReplaceAll(f.Section(name), "\r\n", "\n"), "\n")
		}
	}
	for _, name := range casefile.WorkSections {
		out[tablePrefix+name] = tableText(f.Table(name))
		out[sectionPrefix+name] = f.AfterTable(name)
	}
	return out
}

func tableText(t casefile.Table) string {
	if t.Rows == nil {
		t.Rows = [][]string{}
	}
	b, _ := json.Marshal(t)
	return string(b)
}

// photoField is a photo as the sheet writes it.
type photoField struct {
	File    string      `json:"file"`
	Caption string      `json:"caption"`
	Marks   []markField `json:"marks,omitempty"`
	Compare string      `json:"compare,omitempty"`
	Side    string      `json:"side,omitempty"`
	Points  []pinField  `json:"points,omitempty"`
}

// pinField is a place of the board that was found on the picture.
type pinField struct {
	At string  `json:"at"`
	X  float64 `json:"x"`
	Y  float64 `json:"y"`
}

type markField struct {
	X     float64   `json:"x"`
	Y     float64   `json:"y"`
	Label string    `json:"label"`
	Shape string    `json:"shape,omitempty"`
	To    []float64 `json:"to,omitempty"`
}

func photosOf(list []casefile.Photo) []photoField {
	out := []photoField{}
	for _, p := range list {
		f := photoField{File: p.File, Caption: p.Caption, Compare: p.Compare, Side: p.Side}
		for _, m := range p.Points {
			f.Points = append(f.Points, pinField(m))
		}
		for _, m := range p.Marks {
			f.Marks = append(f.Marks, markField(m))
		}
		out = append(out, f)
	}
	return out
}

// Change is one field as the writer found it and as it is to be.
type Change struct {
	Was string `json:"was"`
	Now string `json:"now"`
}

// Conflict is a field that somebody else changed too.
type Conflict struct {
	Field  string `json:"field"`
	Mine   string `json:"mine"`
	Theirs string `json:"theirs"`
}

// Refusal is a value that cannot stand in its field.
type Refusal struct {
	Field   string `json:"field"`
	Message string `json:"message"`
}

// merge applies changes to a case. A field that is neither as the writer found
// it nor as it is to be is a conflict and stays as it is; a value that cannot be
// written is refused. The other changes are made.
func merge(f *casefile.File, changes map[string]Change) (next *casefile.File, conflicts []Conflict, refused []Refusal) {
	next = f
	keys := make([]string, 0, len(changes))
	for k := range changes {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b string) int { return cmp.Or(orderOf(a)-orderOf(b), strings.Compare(a, b)) })
	todo := map[string]string{}
	have := FieldsOf(f)
	for _, k := range keys {
		c := changes[k]
		now := have[k]
		switch {
		case sameField(k, now, c.Now):
		case sameField(k, now, c.Was):
			todo[k] = c.Now
		default:
			conflicts = append(conflicts, Conflict{k, c.Now, now})
		}
	}
	for _, k := range keys {
		value, ok := todo[k]
		if !ok {
			continue
		}
		changed, err := set(next, k, value, todo)
		if err != nil {
			refused = append(refused, Refusal{k, err.Error()})
			continue
		}
		next = changed
	}
	return next, conflicts, refused
}

// orderOf is where a change comes in the order of the file; what is not front
// matter comes last. Equal changes are made in equal order.
func orderOf(key string) int {
	i := slices.IndexFunc(casefile.Fields, func(f casefile.Field) bool { return f.Path == key })
	if i < 0 {
		return len(casefile.Fields)
	}
	return i
}

// sameField compares tables and photos by what they say.
func sameField(key, a, b string) bool {
	if a == b {
		return true
	}
	switch {
	case strings.HasPrefix(key, tablePrefix):
		x, errX := parseTable(a)
		y, errY := parseTable(b)
		return errX == nil && errY == nil && tableText(x) == tableText(y)
	case strings.HasPrefix(key, sectionPrefix):
		return strings.Trim(strings.ReplaceAll(a, "\r\n", "\n"), "\n") == strings.Trim(strings.ReplaceAll(b, "\r\n", "\n"), "\n")
	case key == "photos":
		x, errX := parsePhotos(a)
		y, errY := parsePhotos(b)
		return errX == nil && errY == nil && reflect.DeepEqual(x, y)
	}
	if field, _ := casefile.FieldAt(key); field.List() {
		return slices.Equal(casefile.SplitWords(a), casefile.SplitWords(b))
	}
	return strings.TrimSpace(a) == strings.TrimSpace(b)
}

// Limits of a table that a page sends.
const (
	maxRows    = 2_000
	maxColumns = 40
	maxCell    = 4_000
)

func parseTable(text string) (t casefile.Table, err error) {
	if err := json.Unmarshal([]byte(text), &t); err != nil {
		return t, fmt.Errorf("a table cannot be read: %w", err)
	}
	if len(t.Columns) == 0 || len(t.Columns) > maxColumns || len(t.Rows) > maxRows {
		return t, fmt.Errorf("a table has 1 to %d columns and up to %d rows", maxColumns, maxRows)
	}
	rows := [][]string{}
	for _, r := range t.Rows {
		if len(r) > len(t.Columns) {
			return t, fmt.Errorf("a row has more cells than the table has columns")
		}
		row := make([]string, len(t.Columns))
		filled := false
		for i, cell := range r {
			if len(cell) > maxCell {
				return t, fmt.Errorf("a cell has at most %d characters", maxCell)
			}
			row[i] = strings.Join(strings.Fields(cell), " ")
			filled = filled || row[i] != ""
		}
		if filled {
			rows = append(rows, row)
		}
	}
	t.Rows = rows
	return t, nil
}

func parsePhotos(text string) (list []casefile.Photo, err error) {
	list = []casefile.Photo{}
	if strings.TrimSpace(text) == "" {
		return list, nil
	}
	var sent []photoField
	d := json.NewDecoder(strings.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&sent); err != nil {
		return nil, fmt.Errorf("the pictures cannot be read: %w", err)
	}
	for i, p := range sent {
		if strings.ContainsAny(p.File, "/\\") || p.File == "" || strings.HasPrefix(p.File, ".") {
			return nil, fmt.Errorf("a picture is named by its file alone, not %q", p.File)
		}
		if strings.TrimSpace(p.Caption) == "" {
			p.Caption = "Picture " + strconv.Itoa(i+1)
		}
		photo := casefile.Photo{File: p.File, Caption: p.Caption, Compare: p.Compare, Side: p.Side}
		for _, m := range p.Points {
			photo.Points = append(photo.Points, casefile.PhotoPoint(m))
		}
		for j, m := range p.Marks {
			if strings.TrimSpace(m.Label) == "" {
				m.Label = strconv.Itoa(j + 1)
			}
			photo.Marks = append(photo.Marks, casefile.Mark(m))
		}
		list = append(list, photo)
	}
	return list, nil
}

// neverEmpty are the fields that no case is without.
var neverEmpty = []string{"title", "opened"}

// set writes one field; todo has the others that change as well.
func set(f *casefile.File, key, value string, todo map[string]string) (*casefile.File, error) {
	value = strings.ReplaceAll(value, "\r\n", "\n")
	if name, ok := strings.CutPrefix(key, tablePrefix); ok {
		if !slices.Contains(tableSections, name) {
			return nil, fmt.Errorf("there is no table %q", name)
		}
		t, err := parseTable(value)
		if err != nil {
			return nil, err
		}
		return f.SetTable(name, t)
	}
	if name, ok := strings.CutPrefix(key, sectionPrefix); ok {
		if !slices.Contains(casefile.SectionNames, name) && !slices.Contains(casefile.WorkSections, name) {
			return nil, fmt.Errorf("there is no section %q", name)
		}
		for line := range strings.Lines("\n" + value) {
			if strings.HasPrefix(line, "## ") || strings.HasPrefix(line, "# ") {
				return nil, fmt.Errorf("a heading of its own would begin another section; use ### for headings within one")
			}
		}
		next, err := f.SetSection(name, value)
		if slices.Contains(tableSections, name) {
			next, err = f.SetAfterTable(name, value)
		}
		if err == nil && !keepsOthers(f, next, name) {
			err = fmt.Errorf("this text would swallow what follows; is a code block (```) not closed?")
		}
		return next, err
	}
	value = strings.TrimSpace(value)
	field, ok := casefile.FieldAt(key)
	switch {
	case !ok || field.Label == "":
		return nil, fmt.Errorf("there is no field %q", key)
	case value == "" && slices.Contains(neverEmpty, key):
		return nil, fmt.Errorf("%s cannot be empty", key)
	case value == "" && key == "device" && f.Case.Device.ID != "":
		if todo["device.kind"] == "" {
			return nil, errors.New("a case says what is on the bench: a device, or at least its kind")
		}
		return f, nil // the kind takes its place
	case value == "" && key == "device.kind" && f.Case.Device.ID == "":
		return nil, errors.New("a case says what is on the bench: a device, or at least its kind")
	case field.Kind == casefile.Pictures:
		list, err := parsePhotos(value)
		if err != nil {
			return nil, err
		}
		return f.SetPhotos(list)
	}
	return f.SetLeaf(key, value)
}

// keepsOthers reports whether every other section stands as it did.
func keepsOthers(before, after *casefile.File, name string) bool {
	for _, s := range before.Case.Sections {
		if s.Name != name && strings.TrimSpace(before.Section(s.Name)) != strings.TrimSpace(after.Section(s.Name)) {
			return false
		}
	}
	for _, s := range after.Case.Sections {
		if s.Name != name && strings.TrimSpace(after.Section(s.Name)) != strings.TrimSpace(before.Section(s.Name)) {
			return false
		}
	}
	for _, table := range tableSections {
		if tableText(before.Table(table)) != tableText(after.Table(table)) {
			return false
		}
	}
	return true
}
