package site

import (
	"bytes"
	"html/template"
	"io/fs"
	"path"
	"strings"

	"benchlore/theme"
)

type docsPage struct {
	Frame frame
	Tasks []link
}

type docPage struct {
	Frame frame
	Title string
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
	if len(names) == 0 {
		if names, err = fs.Glob(theme.Docs, "docs/en/*.md"); err != nil {
			return nil, err
		}
	}
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
		html, err := convert(s.markdown2, body, onlyLinks)
		if err != nil {
			return nil, err
		}
		jobs = append(jobs, s.page(target, "doc", always(docPage{s.frame("../", title), title, html})))
	}
	return append(jobs, s.page("docs.html", "docs", always(index))), nil
}
