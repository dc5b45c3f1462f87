package site

import (
	"bytes"
	"cmp"
	"encoding/json"
	"encoding/xml"
	"strings"

	"github.com/google/uuid"

	"benchlore/build/notebook"
	"benchlore/build/output/exchange"
	"benchlore/schema/casefile"
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
	// Whose a received case is, and under which licence (RFC 4287, 4.2.1 and 4.2.10).
	Author *atomPerson `xml:"author,omitempty"`
	Rights string      `xml:"rights,omitempty"`
}

const feedLength = 50

// feed lists the newest cases, our own before those of other workshops. Ids are made from the workshop's name and the
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
	for _, c := range oursFirst(s.lists.newest)[:min(feedLength, len(s.lists.newest))] {
		k := &c.File.Case
		day := cmp.Or(k.Closed, k.Opened)
		if _, ok := casefile.Day(day); !ok {
			continue
		}
		it := s.item("", c)
		e := atomEntry{ID: "urn:uuid:" + uuid.NewSHA1(space, []byte(c.ID())).String(), Title: it.Title,
			Updated: day + "T00:00:00Z", Link: atomLink{"alternate", base + casePath(c)},
			Summary: strings.Join([]string{it.Device, cmp.Or(it.Cause, s.t("cause open")), s.t(it.State.Word)}, "; ")}
		if k.From != "" {
			w := s.n.Workshop(k.From)
			e.Author, e.Rights = &atomPerson{w.Name}, cmp.Or(w.Licence, s.t("The licence is not stated."))
		}
		f.Updated = max(f.Updated, e.Updated)
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

// data is the machine-readable form of a case.
func (s *site) data(c *notebook.Case) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetIndent("", " ")
	if err := enc.Encode(exchange.DataOf(s.n, s.judge, c, "../schema/case.schema.json")); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
