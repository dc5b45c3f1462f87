package exchange

import (
	"bufio"
	"cmp"
	"encoding/csv"
	"encoding/json"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"

	"benchlore/build/notebook"
	"benchlore/build/reason/verdict"
	"benchlore/schema/casefile"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// Data is the machine-readable form of a case: its front matter as the
// schema has it, and what is computed from the body.
type Data struct {
	Schema       string            `json:"$schema,omitempty"`
	FrontMatter  map[string]any    `json:"case"`
	Device       deviceData        `json:"device"`
	Sections     []sectionData     `json:"sections"`
	Findings     []findingData     `json:"findings"`
	Measurements []measurementData `json:"measurements"`
	Parts        []partData        `json:"parts"`
	// Received says whose a case is that came from another workshop.
	Received *receivedData `json:"received,omitempty"`
	// Work are the rows of the records of work, with their cells by column.
	Work []workData `json:"work,omitempty"`
}

type receivedData struct {
	Workshop string `json:"workshop"`
	Licence  string `json:"licence,omitempty"` // as its pack states it
}

type deviceData struct {
	ID    string `json:"id"`
	Kind  string `json:"kind"`
	Maker string `json:"maker,omitempty"`
	Model string `json:"model,omitempty"`
	// Category is the Open Repair Data Standard's.
	Category int `json:"category,omitempty"`
}

type sectionData struct {
	Name     string `json:"name"`
	Markdown string `json:"markdown"`
}

type findingData struct {
	Check   string `json:"check"`
	Seen    string `json:"seen"`
	Result  string `json:"result"`
	Minutes int    `json:"minutes,omitempty"`
	When    string `json:"when,omitempty"` // before or after the repair
}

type measurementData struct {
	Point    string   `json:"point"`
	What     string   `json:"what"`
	State    string   `json:"state"`
	Expected string   `json:"expected"`
	Read     string   `json:"read"`
	SI       *float64 `json:"si,omitempty"` // the reading in the SI unit without prefix
	Unit     string   `json:"unit,omitempty"`
	Verdict  string   `json:"verdict,omitempty"`
	Unjudged string   `json:"unjudged,omitempty"` // why there is no verdict
	Note     string   `json:"note,omitempty"`
	When     string   `json:"when,omitempty"` // before or after the repair
}

type partData struct {
	Ref     string `json:"ref"`
	Part    string `json:"part"`
	Value   string `json:"value"`
	Package string `json:"package"`
	Net     string `json:"net"`
	Action  string `json:"action"`
	Fitted  string `json:"fitted"`
	Note    string `json:"note"`
	When    string `json:"when,omitempty"`
}

type workData struct {
	Section string            `json:"section"`
	Cells   map[string]string `json:"cells"`
	Verdict string            `json:"verdict,omitempty"` // of an acceptance with a limit and a reading
}

// DataOf returns the machine-readable form of a case, its readings judged; schema
// is where the schema of its front matter is, or empty.
func DataOf(n *notebook.Notebook, j *verdict.Judge, c *notebook.Case, schema string) *Data {
	k := &c.File.Case
	d := &Data{Schema: schema, FrontMatter: c.Values, Sections: []sectionData{}, Findings: []findingData{},
		Measurements: []measurementData{}, Parts: []partData{}}
	d.Device = deviceData{ID: c.Device.ID, Kind: c.Device.Kind, Maker: c.Device.Maker, Model: c.Device.Model}
	if k.From != "" {
		w := n.Workshop(k.From)
		d.Received = &receivedData{w.Name, w.Licence}
	}
	if t, ok := n.Terms.Lookup(terms.Kind, c.Device.Kind); ok {
		d.Device.Category = t.Category
	}
	for _, sec := range k.Sections {
		d.Sections = append(d.Sections, sectionData{sec.Name, strings.TrimSpace(string(c.Text.Bytes[sec.Start:sec.Stop]))})
	}
	for _, f := range k.Findings {
		d.Findings = append(d.Findings, findingData{f.Check, f.Seen, f.Result, f.Minutes, string(f.When)})
	}
	for i := range k.Measurements {
		m := &k.Measurements[i]
		judged := j.Reading(c, m)
		row := measurementData{Point: m.Point, What: m.What, State: m.State, Expected: m.Expected, Read: m.Read,
			Verdict: judged.Verdict.String(), Unjudged: judged.Unjudged, Note: m.Note, When: string(m.When)}
		if m.Reading != nil && !m.Reading.Over && m.Reading.Bound == quantity.Exact {
			x := m.Reading.Number.Float()
			row.SI, row.Unit = &x, m.Reading.Unit.Name()
		}
		d.Measurements = append(d.Measurements, row)
	}
	for i := range k.Work {
		w := &k.Work[i]
		d.Work = append(d.Work, workData{w.Section, w.Text, w.Verdict.String()})
	}
	for _, p := range k.Parts {
		d.Parts = append(d.Parts, partData{p.Ref, p.Part, p.Value, p.Package, p.Net, p.Action, p.Fitted, p.Note, string(p.When)})
	}
	return d
}

// ExportJSON writes every case as one JSON array, one case at a time.
func ExportJSON(w io.Writer, n *notebook.Notebook, j *verdict.Judge) error {
	out := bufio.NewWriter(w)
	_, _ = out.WriteString("[\n")
	for i, c := range n.Cases {
		if i > 0 {
			_, _ = out.WriteString(",\n")
		}
		text, err := json.Marshal(DataOf(n, j, c, ""))
		if err != nil {
			return err
		}
		_, _ = out.Write(text)
	}
	_, _ = out.WriteString("\n]\n")
	return out.Flush()
}

// ExportNDJSON writes every case for bulk loading into a distributed search
// engine: a line that says where it goes, then the case on a line of its own.
// [Mapping] describes the fields.
func ExportNDJSON(w io.Writer, n *notebook.Notebook, j *verdict.Judge) error {
	out := bufio.NewWriter(w)
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	for _, c := range n.Cases {
		type index struct {
			ID string `json:"_id"`
		}
		if err := enc.Encode(map[string]index{"index": {c.ID()}}); err != nil {
			return err
		}
		if err := enc.Encode(DataOf(n, j, c, "")); err != nil {
			return err
		}
	}
	return out.Flush()
}

// Mapping is what a search engine is told of the fields of [ExportNDJSON]: words
// that are counted whole, days, numbers, and text that is searched.
func Mapping() []byte {
	type field map[string]any
	word, text, day, whole, real := field{"type": "keyword"}, field{"type": "text"}, field{"type": "date"},
		field{"type": "integer"}, field{"type": "double"}
	group := func(f map[string]any) field { return field{"properties": f} }
	list := func(f map[string]any) field { return field{"type": "nested", "properties": f} }
	sort := map[casefile.Kind]field{casefile.Date: day, casefile.Whole: whole, casefile.Money: real}
	front := map[string]any{}
	for _, f := range tabled() {
		as, ok := sort[f.Kind]
		if !ok {
			as = word
		}
		if f.Path == "title" || f.Path == "confirmed" || f.Path == "fasteners.reason" {
			as = text
		}
		head, leaf, nested := strings.Cut(f.Path, ".")
		switch {
		case head == "device": // either a word or a mapping, and below it is whole
		case !nested:
			front[head] = as
		default:
			if front[head] == nil {
				front[head] = group(map[string]any{})
			}
			front[head].(field)["properties"].(map[string]any)[leaf] = as
		}
	}
	out, _ := json.MarshalIndent(map[string]any{"mappings": map[string]any{"dynamic": false, "properties": map[string]any{
		"case":     group(front),
		"device":   group(map[string]any{"id": word, "kind": word, "maker": word, "model": word, "category": whole}),
		"received": group(map[string]any{"workshop": word, "licence": word}),
		"sections": list(map[string]any{"name": word, "markdown": text}),
		"findings": list(map[string]any{"check": text, "seen": text, "result": word, "minutes": whole, "when": word}),
		"measurements": list(map[string]any{"point": text, "what": word, "state": text, "expected": word,
			"read": word, "si": real, "unit": word, "verdict": word, "unjudged": text, "note": text, "when": word}),
		"parts": list(map[string]any{"ref": word, "part": text, "value": word, "package": word, "net": word,
			"action": word, "fitted": text, "note": text}),
	}}}, "", "  ")
	return append(out, '\n')
}

// tabled are the fields of front matter that a row of a table has: those that
// people fill in, where the case came from, and whose it is.
func tabled() (list []casefile.Field) {
	for _, f := range casefile.Fields {
		switch {
		case f.Kind == casefile.Pictures:
		case f.Label != "", f.Path == "case", f.Path == "from", f.Path == "source.licence", f.Path == "source.credit":
			list = append(list, f)
		}
	}
	return list
}

// whose says of a received case what its own file does not: whose it is, and under which
// licence.
func whose(n *notebook.Notebook, c *notebook.Case, field string) string {
	from := c.File.Case.From
	if from == "" || c.File.Value("source.credit") != "" {
		return ""
	}
	switch w := n.Workshop(from); field {
	case "source.credit":
		return w.Name
	case "source.licence":
		return cmp.Or(w.Licence, "not stated")
	}
	return ""
}

// columnName is what a field is called in the head of a table.
func columnName(f casefile.Field) string {
	name := strings.TrimPrefix(strings.TrimPrefix(f.Path, "device."), "cause.")
	return strings.ReplaceAll(name, ".", "_")
}

// ExportCSV writes every case as a row (RFC 4180). A text that a spreadsheet would
// take for a formula gets an apostrophe in front, as spreadsheets mark text.
func ExportCSV(w io.Writer, n *notebook.Notebook, j *verdict.Judge) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	fields := tabled()
	var head []string
	for _, f := range fields {
		head = append(head, columnName(f))
	}
	if err := out.Write(append(head, "findings", "measurements", "parts")); err != nil {
		return err
	}
	for _, c := range n.Cases {
		k := &c.File.Case
		// The device is as the notebook knows it, whether a file or the case says so.
		device := map[string]string{"device": c.Device.ID, "device.kind": c.Device.Kind,
			"device.maker": c.Device.Maker, "device.model": c.Device.Model}
		var row []string
		for _, f := range fields {
			value, ok := device[f.Path]
			if !ok {
				value = cmp.Or(c.File.Value(f.Path), whose(n, c, f.Path))
			}
			if f.List() {
				value = strings.Join(casefile.SplitWords(value), " ")
			}
			row = append(row, value)
		}
		var findings, readings, parts []string
		for _, f := range k.Findings {
			findings = append(findings, f.Check+": "+f.Seen+" ("+f.Result+")")
		}
		for i := range k.Measurements {
			m := &k.Measurements[i]
			text := strings.Join(strings.Fields(m.Point+" "+m.What+" "+m.State+": "+m.Read), " ")
			if v := j.Reading(c, m).Verdict.String(); v != "" {
				text += " (" + v + ")"
			}
			readings = append(readings, text)
		}
		for _, p := range k.Parts {
			parts = append(parts, strings.Join(strings.Fields(p.Ref+" "+p.Part+" "+p.Value+" "+p.Package+": "+p.Action+" "+p.Fitted), " "))
		}
		row = append(row, strings.Join(findings, "; "), strings.Join(readings, "; "), strings.Join(parts, "; "))
		for i := range row {
			row[i] = noFormula(row[i])
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// noFormula marks as text what a spreadsheet would run.
func noFormula(s string) string {
	trimmed := strings.TrimLeftFunc(s, unicode.IsSpace)
	first, _ := utf8.DecodeRuneInString(trimmed)
	if trimmed != "" && strings.ContainsRune("=+-@|%＝＋－＠", first) || s != "" && strings.ContainsAny(s[:1], "\t\r\n") {
		return "'" + s
	}
	return s
}
