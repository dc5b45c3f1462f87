package exchange

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"io"
	"strconv"
	"strings"

	"benchlore/build/judge"
	"benchlore/build/notebook"
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
	Note     string   `json:"note,omitempty"`
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
}

// DataOf returns the machine-readable form of a case, its readings judged; schema
// is where the schema of its front matter is, or empty.
func DataOf(n *notebook.Notebook, j *judge.Judge, c *notebook.Case, schema string) *Data {
	k := &c.File.Case
	d := &Data{Schema: schema, FrontMatter: c.Values, Sections: []sectionData{}, Findings: []findingData{},
		Measurements: []measurementData{}, Parts: []partData{}}
	d.Device = deviceData{ID: c.Device.ID, Kind: c.Device.Kind, Maker: c.Device.Maker, Model: c.Device.Model}
	if t, ok := n.Terms.Lookup(terms.Kind, c.Device.Kind); ok {
		d.Device.Category = t.Category
	}
	for _, sec := range k.Sections {
		d.Sections = append(d.Sections, sectionData{sec.Name, strings.TrimSpace(string(c.Text.Bytes[sec.Start:sec.Stop]))})
	}
	for _, f := range k.Findings {
		d.Findings = append(d.Findings, findingData{f.Check, f.Seen, f.Result, f.Minutes})
	}
	for i := range k.Measurements {
		m := &k.Measurements[i]
		row := measurementData{Point: m.Point, What: m.What, State: m.State, Expected: m.Expected, Read: m.Read, Verdict: j.Reading(c, m).Verdict.String(), Note: m.Note}
		if m.Reading != nil && !m.Reading.Over {
			x := m.Reading.Number.Float()
			row.SI, row.Unit = &x, m.Reading.Unit.Name()
		}
		d.Measurements = append(d.Measurements, row)
	}
	for _, p := range k.Parts {
		d.Parts = append(d.Parts, partData{p.Ref, p.Part, p.Value, p.Package, p.Net, p.Action, p.Fitted, p.Note})
	}
	return d
}

// ExportJSON writes every case as one JSON array, one case at a time.
func ExportJSON(w io.Writer, n *notebook.Notebook, j *judge.Judge) error {
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
func ExportNDJSON(w io.Writer, n *notebook.Notebook, j *judge.Judge) error {
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
	word, text, day, whole, real := field{"type": "keyword"}, field{"type": "text"}, field{"type": "date"}, field{"type": "integer"}, field{"type": "double"}
	group := func(f map[string]any) field { return field{"properties": f} }
	list := func(f map[string]any) field { return field{"type": "nested", "properties": f} }
	out, _ := json.MarshalIndent(map[string]any{"mappings": map[string]any{"dynamic": false, "properties": map[string]any{
		"case": group(map[string]any{"case": word, "from": word, "title": text, "board": word, "opened": day, "closed": day, "followed": day, "by": word, "symptoms": word, "absent": word, "before": word,
			"hazards": word, "outcome": word, "barrier": word, "confirmed": text, "returns": word, "tags": word, "cause": group(map[string]any{"fault": word, "at": word, "origin": word}),
			"minutes": group(map[string]any{"diagnosis": whole, "repair": whole})}),
		"device":       group(map[string]any{"id": word, "kind": word, "maker": word, "model": word, "category": whole}),
		"sections":     list(map[string]any{"name": word, "markdown": text}),
		"findings":     list(map[string]any{"check": text, "seen": text, "result": word, "minutes": whole}),
		"measurements": list(map[string]any{"point": text, "what": word, "state": text, "expected": word, "read": word, "si": real, "unit": word, "verdict": word, "note": text}),
		"parts":        list(map[string]any{"ref": word, "part": text, "value": word, "package": word, "net": word, "action": word, "fitted": text, "note": text}),
	}}}, "", "  ")
	return append(out, '\n')
}

// caseColumns are the columns of [ExportCSV].
var caseColumns = []string{"case", "from", "title", "device", "kind", "maker", "model", "board", "opened", "closed", "by", "symptoms", "absent", "before", "hazards", "fault", "at", "origin", "outcome", "barrier",
	"confirmed", "minutes_diagnosis", "minutes_repair", "cost_parts", "returns", "followed", "tags", "findings", "measurements", "parts"}

// ExportCSV writes every case as a row (RFC 4180). A text that a spreadsheet would
// take for a formula gets an apostrophe in front, as spreadsheets mark text.
func ExportCSV(w io.Writer, n *notebook.Notebook, j *judge.Judge) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	if err := out.Write(caseColumns); err != nil {
		return err
	}
	for _, c := range n.Cases {
		k := &c.File.Case
		row := []string{c.ID(), k.From, k.Title, c.Device.ID, c.Device.Kind, c.Device.Maker, c.Device.Model, k.Board, k.Opened, k.Closed, k.By,
			strings.Join(k.Symptoms, " "), strings.Join(k.Absent, " "), strings.Join(k.Before, " "), strings.Join(k.Hazards, " ")}
		if k.Cause != nil {
			row = append(row, k.Cause.Fault, k.Cause.At, k.Cause.Origin)
		} else {
			row = append(row, "", "", "")
		}
		row = append(row, k.Outcome, k.Barrier, k.Confirmed)
		if k.Minutes != nil {
			row = append(row, strconv.Itoa(k.Minutes.Diagnosis), strconv.Itoa(k.Minutes.Repair))
		} else {
			row = append(row, "", "")
		}
		cost := ""
		if k.Cost != nil {
			cost = strconv.FormatFloat(k.Cost.Parts, 'f', -1, 64)
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
		row = append(row, cost, k.Returns, k.Followed, strings.Join(k.Tags, " "), strings.Join(findings, "; "), strings.Join(readings, "; "), strings.Join(parts, "; "))
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
	if t := strings.TrimLeft(s, " \t\r\n"); t != "" && strings.ContainsAny(t[:1], "=+-@|%") || s != "" && strings.ContainsAny(s[:1], "\t\r\n") {
		return "'" + s
	}
	return s
}
