package casefile

import (
	"benchlore/schema"
	"benchlore/schema/diagnostic"
)

// Page is a workshop's own page of the first weeks, a file of path/.
type Page struct {
	*Document
	Title string `yaml:"title"`
	Why   string `yaml:"why"`   // why it is next, in one line
	After string `yaml:"after"` // the step that it follows
}

// ParsePage reads a page: front matter, then Markdown. The page is nil where
// nothing of it could be read. Allow lists exact texts that are known not to be
// personal.
func ParsePage(name string, src []byte, allow []string) (*Page, []diagnostic.Diagnostic) {
	doc, list := parseFrontMatter(name, src, schema.Page())
	if doc == nil {
		return nil, list
	}
	p := &Page{}
	doc.Decode(p)
	p.Document = doc
	return p, append(list, doc.checkPersonal(allow)...)
}

// Body is the Markdown below the front matter.
func (p *Page) Body() []byte { return p.Text.Bytes[p.body:] }
