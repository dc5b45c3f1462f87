package site

import (
	"encoding/base64"
	"fmt"
	"io/fs"
	"os"
	"path"
	"regexp"
	"strings"

	"benchlore/build/notebook"
	"benchlore/build/output/picture"
	"benchlore/build/reason/similar"
	"benchlore/build/reason/triage"
	"benchlore/build/reason/verdict"
	"benchlore/theme"
)

var (
	outwardLink = regexp.MustCompile(` href="\.\./[^"]*"`)
	stylesheet  = regexp.MustCompile(`<link rel="stylesheet"[^>]*>`)
	otherLinks  = regexp.MustCompile(`<link rel="(?:icon|alternate)"[^>]*>\n?`)
	policyTag   = regexp.MustCompile(`<meta http-equiv="Content-Security-Policy"[^>]*>`)
	pictureTag  = regexp.MustCompile(`<img src="\.\./photos/[^/"]+/([^"]+)"(?: srcset="[^"]*" sizes="[^"]*")?`)
)

// CaseSheet returns one case as a page of its own that needs no other file: its
// style and pictures are in it, and links to other pages are plain text.
func CaseSheet(n *notebook.Notebook, c *notebook.Case) ([]byte, error) {
	s := newSite(n)
	s.judge, s.history, s.cache = verdict.New(n), triage.NewHistory(n), &cache{}
	s.similar = similar.New(n, s.judge)
	s.makeLists()
	root, err := os.OpenRoot(n.Dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	pictures := map[string][]byte{}
	for _, p := range c.File.Case.Photos {
		if strings.ContainsAny(p.File, "/\\") {
			continue
		}
		if data, err := readPhoto(root, path.Join(c.PhotoDir(), p.File)); err == nil {
			pictures[p.File] = data
			s.photos[c.ID()+"/"+p.File] = true
		}
	}
	model, err := s.casePage(c, nil)
	if err != nil {
		return nil, err
	}
	page, err := s.render("case", model)
	if err != nil {
		return nil, err
	}
	style, err := fs.ReadFile(theme.Assets, "assets/bench.css")
	if err != nil {
		return nil, err
	}
	text := policyTag.ReplaceAllLiteralString(string(page),
		`<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'">`)
	text = otherLinks.ReplaceAllLiteralString(text, "")
	text = stylesheet.ReplaceAllLiteralString(text, "<style>\n"+string(style)+"</style>")
	text = pictureTag.ReplaceAllStringFunc(text, func(tag string) string {
		name := ""
		for file, data := range pictures {
			if strings.Contains(tag, "/"+strings.ReplaceAll(file, " ", "%20")+`"`) {
				name = fmt.Sprintf(`<img src="data:%s;base64,%s"`, picture.MediaType(file), base64.StdEncoding.EncodeToString(data))
			}
		}
		return name
	})
	return []byte(outwardLink.ReplaceAllLiteralString(text, "")), nil
}
