package site

import (
	"bytes"
	"cmp"
	"encoding/json"
	"encoding/xml"
	"strings"

	"github.com/google/uuid"

	"benchlore/build/notebook"
	"benchlore/schema/casefile"
	"benchlore/schema/terms"
)

// atom types follow RFC 4287.
type atomFeed struct {
	XMLName xml.Name    `xml:"http://www.w3.org/2005/Atom feed"`
	ID      string      `xml:"id"`
	Title   string      `xml:"title"`
	Updated string      `xml:"updated"`
	Author  atomPerson  `xml:"author"`
	Links   []atomLink  `xml:"link"`
	Entries []atomEntry `xml:"entry"`
}

type atomPerson struct {
	Name string `xml:"name"`
}

type atomLink struct {
	Rel  string `xml:"rel,attr,omitempty"`
	Href string `xml:"href,attr"`
}

type atomEntry struct {
	ID      string   `xml:"id"`
	Title   string   `xml:"title"`
	Updated string   `xml:"updated"`
	Link    atomLink `xml:"link"`
	Summary string   `xml:"summary"`
}

const feedLength = 50

// feed lists the newest cases. Ids are made from the workshop's name and the
// case's id, so that they last however the site is served.
func (s *site) feed() ([]byte, error) {
	space := uuid.NewSHA1(uuid.NameSpaceURL, []byte("benchlore:"+s.n.Config.Name))
	base := s.n.Config.Site.Address
	if base != "" && !strings.HasSuffix(base, "/") {
		base += "/"
	}
	f := atomFeed{ID: "urn:uuid:" + space.String(), Title: s.n.Config.Name, Author: atomPerson{s.n.Config.Name},
		Updated: "1970-01-01T00:00:00Z", Links: []atomLink{{"alternate", base + "index.html"}}}
	if base != "" {
		f.Links = append(f.Links, atomLink{"self", base + "feed.xml"})
	}
	for i, c := range s.lists.newest[:min(feedLength, len(s.lists.newest))] {
		k := &c.File.Case
		day := cmp.Or(k.Closed, k.Opened)
		if _, ok := casefile.Day(day); !ok {
			continue
		}
		it := s.item("", c)
		e := atomEntry{ID: "urn:uuid:" + uuid.NewSHA1(space, []byte(c.ID())).String(), Title: it.Title,
			Updated: day + "T00:00:00Z", Link: atomLink{"alternate", base + casePath(c)},
			Summary: strings.Join([]string{it.Device, cmp.Or(it.Cause, "cause open"), it.State.Word}, "; ")}
		if i == 0 {
			f.Updated = e.Updated
		}
		f.Entries = append(f.Entries, e)
	}
	var b bytes.Buffer
	b.WriteString(xml.Header)
	enc := xml.NewEncoder(&b)
	enc.Indent("", " ")
	if err := enc.Encode(f); err != nil {
		return nil, err
	}
	b.WriteByte('\n')
	return b.Bytes(), nil
}

// caseData is the machine-readable form of a case: its front matter as the
// schema has it, and what is computed from the body.
type caseData struct {
	Schema       string            `json:"$schema"`
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

// Data returns the machine-readable form of a case.
func (s *site) data(c *notebook.Case) ([]byte, error) {
	k := &c.File.Case
	d := caseData{Schema: "../schema/case.schema.json", FrontMatter: c.Values, Sections: []sectionData{}, Findings: []findingData{},
		Measurements: []measurementData{}, Parts: []partData{}}
	d.Device = deviceData{ID: c.Device.ID, Kind: c.Device.Kind, Maker: c.Device.Maker, Model: c.Device.Model}
	if t, ok := s.n.Terms.Lookup(terms.Kind, c.Device.Kind); ok {
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
		row := measurementData{Point: m.Point, What: m.What, State: m.State, Expected: m.Expected, Read: m.Read, Verdict: s.judge.Reading(c, m).Verdict.String(), Note: m.Note}
		if m.Reading != nil && !m.Reading.Over {
			x := m.Reading.Number.Float()
			row.SI, row.Unit = &x, m.Reading.Unit.Name()
		}
		d.Measurements = append(d.Measurements, row)
	}
	for _, p := range k.Parts {
		d.Parts = append(d.Parts, partData{p.Ref, p.Part, p.Value, p.Package, p.Net, p.Action, p.Fitted, p.Note})
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetIndent("", " ")
	if err := enc.Encode(d); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
