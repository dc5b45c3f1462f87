package site

import (
	"bytes"
	"html/template"
	"io/fs"
	"path"
	"regexp"
	"strings"

	"benchlore/theme"
)

type docsPage struct {
	Frame frame
	Lang  string
	Tasks []link
}

type docPage struct {
	Frame frame
	Title string
	Lang  string // of the text, where it is not the page's
	HTML  template.HTML
}

// docJobs are the pages on using the program, one for each task, in the interface's
// language where there are such, else in English.
func (s *site) docJobs() ([]job, error) {
	dir := path.Join("docs", s.texts.Language())
	names, err := fs.Glob(theme.Docs, dir+"/*.md")
	if err != nil {
		return nil, err
	}
	language := ""
	if len(names) == 0 {
		language = "en" // not the page's own, so that it is read out rightly
		if names, err = fs.Glob(theme.Docs, "docs/en/*.md"); err != nil {
			return nil, err
		}
	}
	own := s.ownNames()
	index := docsPage{Frame: s.frame("", s.t("How to use this"))}
	var jobs []job
	for _, name := range names {
		source, err := fs.ReadFile(theme.Docs, name)
		if err != nil {
			return nil, err
		}
		heading, body, _ := bytes.Cut(source, []byte("\n"))
		title := strings.TrimPrefix(string(heading), "# ")
		_, file, _ := strings.Cut(path.Base(name), "-")
		target := "docs/" + strings.TrimSuffix(file, ".md") + ".html"
		index.Tasks = append(index.Tasks, link{title, target})
		html, err := convert(s.markdown2, own(body), onlyLinks)
		if err != nil {
			return nil, err
		}
		jobs = append(jobs, s.page(target, "doc", always(docPage{s.frame("../", title), title, language, html})))
	}
	index.Lang = language
	return append(jobs, s.page("docs.html", "docs", always(index))), nil
}

// The examples of the pages on each task name a case and a device in capitals.
var (
	anyCase   = regexp.MustCompile(`\bCASE\b`)
	anyDevice = regexp.MustCompile(`\bDEVICE\b`)
)

// ownNames puts a case and a device of this notebook into an example, where it has
// them: what stands there can be typed.
func (s *site) ownNames() func(text []byte) []byte {
	caseID, device := "", ""
	for _, c := range s.n.Cases {
		if c.File.Case.From == "" {
			caseID = c.ID()
		}
	}
	for _, d := range s.n.Devices {
		if d.Record != nil {
			device = d.ID
			break
		}
	}
	return func(text []byte) []byte {
		var out []byte
		for line := range bytes.Lines(text) {
			if bytes.HasPrefix(line, []byte("    benchlore ")) {
				if caseID != "" {
					line = anyCase.ReplaceAll(line, []byte(caseID))
				}
				if device != "" {
					line = anyDevice.ReplaceAll(line, []byte(device))
				}
			}
			out = append(out, line...)
		}
		return out
	}
}
