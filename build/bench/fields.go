package bench

import (
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"benchlore/schema/casefile"
)

// Fields are what the case sheet shows, as text: keys of the front matter,
// "section:NAME" for a section's text (below its table, where it has one), and
// "table:NAME" for a table as JSON.
type Fields map[string]string

// scalarKeys are the keys whose value is one text.
var scalarKeys = []string{"title", "board", "opened", "closed", "by", "outcome", "barrier", "confirmed", "returns", "followed"}

// listKeys are the keys whose value is a list of words.
var listKeys = []string{"symptoms", "absent", "before", "hazards", "tags"}

var tableSections = []string{"Findings", "Measurements", "Parts"}

const (
	sectionPrefix = "section:"
	tablePrefix   = "table:"
)

// FieldsOf reads the fields of a case.
func FieldsOf(f *casefile.File) Fields {
	k := &f.Case
	out := Fields{"title": k.Title, "board": k.Board, "opened": k.Opened, "closed": k.Closed, "by": k.By, "outcome": k.Outcome, "barrier": k.Barrier,
		"confirmed": k.Confirmed, "returns": k.Returns, "followed": k.Followed,
		"device": k.Device.ID, "device.kind": k.Device.Kind, "device.maker": k.Device.Maker, "device.model": k.Device.Model,
		"symptoms": strings.Join(k.Symptoms, ", "), "absent": strings.Join(k.Absent, ", "), "before": strings.Join(k.Before, ", "),
		"hazards": strings.Join(k.Hazards, ", "), "tags": strings.Join(k.Tags, ", ")}
	for _, key := range []string{"cause.fault", "cause.at", "cause.origin", "minutes.diagnosis", "minutes.repair", "cost.parts", "fasteners.out", "fasteners.in", "fasteners.reason"} {
		out[key] = ""
	}
	if c := k.Cause; c != nil {
		out["cause.fault"], out["cause.at"], out["cause.origin"] = c.Fault, c.At, c.Origin
	}
	if m := k.Minutes; m != nil {
		out["minutes.diagnosis"], out["minutes.repair"] = count(m.Diagnosis), count(m.Repair)
	}
	if c := k.Cost; c != nil {
		out["cost.parts"] = strconv.FormatFloat(c.Parts, 'f', -1, 64)
	}
	if n := k.Fasteners; n != nil {
		out["fasteners.out"], out["fasteners.reason"] = strconv.Itoa(n.Out), n.Reason
		if n.In != nil {
			out["fasteners.in"] = strconv.Itoa(*n.In)
		}
	}
	photos, _ := json.Marshal(photosOf(k.Photos))
	out["photos"] = string(photos)
	for _, name := range casefile.SectionNames {
		if slices.Contains(tableSections, name) {
			out[tablePrefix+name] = tableText(f.Table(name))
			out[sectionPrefix+name] = f.AfterTable(name)
		} else {
			out[sectionPrefix+name] = strings.Trim(strings.ReplaceAll(f.Section(name), "\r\n", "\n"), "\n")
		}
	}
	return out
}

func count(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
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
	File    string      `json:"file" yaml:"file"`
	Caption string      `json:"caption" yaml:"caption"`
	Marks   []markField `json:"marks,omitempty" yaml:"marks,omitempty"`
	Compare string      `json:"compare,omitempty" yaml:"compare,omitempty"`
}

type markField struct {
	X     float64   `json:"x" yaml:"x"`
	Y     float64   `json:"y" yaml:"y"`
	Label string    `json:"label" yaml:"label"`
	Shape string    `json:"shape,omitempty" yaml:"shape,omitempty"`
	To    []float64 `json:"to,omitempty" yaml:"to,omitempty,flow"`
}

func photosOf(list []casefile.Photo) []photoField {
	out := []photoField{}
	for _, p := range list {
		f := photoField{File: p.File, Caption: p.Caption, Compare: p.Compare}
		for _, m := range p.Marks {
			f.Marks = append(f.Marks, markField{m.X, m.Y, m.Label, m.Shape, m.To})
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

// Merge applies changes to a case. A field that is neither as the writer found
// it nor as it is to be is a conflict and stays as it is; a value that cannot be
// written is refused. The other changes are made.
func Merge(f *casefile.File, changes map[string]Change) (next *casefile.File, conflicts []Conflict, refused []Refusal) {
	next = f
	keys := make([]string, 0, len(changes))
	for k := range changes {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b string) int { return orderOf(a) - orderOf(b) })
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

// orderOf makes the order of changes the same for equal changes.
func orderOf(key string) int {
	h := 0
	for i, group := range []string{"title", "device", "board", "opened", "closed", "by"} {
		if strings.HasPrefix(key, group) {
			return i
		}
	}
	for _, c := range key {
		h = h*31 + int(c)
	}
	return 100 + h&0xffffff
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
		p, _ := json.Marshal(x)
		q, _ := json.Marshal(y)
		return errX == nil && errY == nil && string(p) == string(q)
	case slices.Contains(listKeys, key):
		return strings.Join(words(a), ",") == strings.Join(words(b), ",")
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

func parsePhotos(text string) (list []photoField, err error) {
	list = []photoField{}
	if strings.TrimSpace(text) == "" {
		return list, nil
	}
	d := json.NewDecoder(strings.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&list); err != nil {
		return nil, fmt.Errorf("the pictures cannot be read: %w", err)
	}
	for i := range list {
		if strings.ContainsAny(list[i].File, "/\\") || list[i].File == "" || strings.HasPrefix(list[i].File, ".") {
			return nil, fmt.Errorf("a picture is named by its file alone, not %q", list[i].File)
		}
		if strings.TrimSpace(list[i].Caption) == "" {
			list[i].Caption = "Picture " + strconv.Itoa(i+1)
		}
		for j := range list[i].Marks {
			if strings.TrimSpace(list[i].Marks[j].Label) == "" {
				list[i].Marks[j].Label = strconv.Itoa(j + 1)
			}
		}
	}
	return list, nil
}

func words(text string) []string {
	var out []string
	for _, w := range strings.FieldsFunc(text, func(c rune) bool { return c == ',' || c == '\n' || c == ';' }) {
		if w = strings.TrimSpace(w); w != "" && !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

// set writes one field. Fields of one key are written together: todo has the
// others that change as well.
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
		if !slices.Contains(casefile.SectionNames, name) {
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
	now := FieldsOf(f)
	part := func(k string) string {
		if v, ok := todo[k]; ok {
			return strings.TrimSpace(v)
		}
		return now[k]
	}
	number := func(k string) (int, error) {
		text := part(k)
		if text == "" {
			return 0, nil
		}
		n, err := strconv.Atoi(text)
		if err != nil || n < 0 || n > 100_000 {
			return 0, fmt.Errorf("a whole number is needed here, not %q", text)
		}
		return n, nil
	}
	head, _, _ := strings.Cut(key, ".")
	switch {
	case slices.Contains(scalarKeys, key):
		if strings.ContainsAny(value, "\n") {
			return nil, fmt.Errorf("this is one line")
		}
		if value == "" {
			if key == "title" || key == "opened" {
				return nil, fmt.Errorf("%s cannot be empty", key)
			}
			return f.Unset(key)
		}
		if key == "opened" || key == "closed" || key == "followed" {
			if _, ok := casefile.Day(value); !ok {
				return nil, fmt.Errorf("a day is written YYYY-MM-DD, not %q", value)
			}
		}
		return f.Set(key, value)
	case slices.Contains(listKeys, key):
		list := words(value)
		if len(list) == 0 {
			if key == "symptoms" {
				return f.Set(key, []string{})
			}
			return f.Unset(key)
		}
		return f.Set(key, list)
	case head == "device":
		if id := part("device"); id != "" {
			return f.Set("device", id)
		}
		m := plain{}
		m.add("kind", part("device.kind"))
		m.add("maker", part("device.maker"))
		m.add("model", part("device.model"))
		if len(m) == 0 {
			return nil, fmt.Errorf("a case says what is on the bench: a device, or at least its kind")
		}
		return f.Set("device", m.ordered())
	case head == "cause":
		m := plain{}
		m.add("fault", part("cause.fault"))
		m.add("at", part("cause.at"))
		m.add("origin", part("cause.origin"))
		if len(m) == 0 {
			return f.Unset("cause")
		}
		return f.Set("cause", m.ordered())
	case head == "minutes":
		diagnosis, err := number("minutes.diagnosis")
		if err != nil {
			return nil, err
		}
		repair, err := number("minutes.repair")
		if err != nil {
			return nil, err
		}
		if diagnosis+repair == 0 {
			return f.Unset("minutes")
		}
		return f.Set("minutes", struct {
			Diagnosis int `yaml:"diagnosis"`
			Repair    int `yaml:"repair"`
		}{diagnosis, repair})
	case key == "cost.parts":
		if value == "" {
			return f.Unset("cost")
		}
		cost, err := strconv.ParseFloat(strings.Replace(value, ",", ".", 1), 64)
		if err != nil || !(cost >= 0 && cost < 1e7) {
			return nil, fmt.Errorf("a sum of money is needed here, not %q", value)
		}
		return f.Set("cost", map[string]float64{"parts": cost})
	case head == "fasteners":
		if part("fasteners.out") == "" {
			return f.Unset("fasteners")
		}
		out, err := number("fasteners.out")
		if err != nil {
			return nil, err
		}
		v := struct {
			Out    int    `yaml:"out"`
			In     *int   `yaml:"in,omitempty"`
			Reason string `yaml:"reason,omitempty"`
		}{Out: out, Reason: part("fasteners.reason")}
		if part("fasteners.in") != "" {
			in, err := number("fasteners.in")
			if err != nil {
				return nil, err
			}
			v.In = &in
		}
		return f.Set("fasteners", v)
	case key == "photos":
		list, err := parsePhotos(value)
		if err != nil {
			return nil, err
		}
		if len(list) == 0 {
			return f.Unset("photos")
		}
		return f.Set("photos", list)
	}
	return nil, fmt.Errorf("there is no field %q", key)
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

// plain is a mapping of texts in the order in which they were added.
type plain [][2]string

func (p *plain) add(key, value string) {
	if value != "" {
		*p = append(*p, [2]string{key, value})
	}
}

func (p plain) ordered() any {
	return casefile.Ordered(p)
}
