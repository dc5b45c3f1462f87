package notebook

import (
	"fmt"
	"io/fs"
	"path/filepath"
	"regexp"
	"strconv"

	"benchlore/schema/casefile"
)

var ownID = regexp.MustCompile(`^(\d{4})-(\d{4,6})`)

// nextID returns a free case id of a year, such as 2026-0032, passing over as
// many free numbers as skip says. Files that cannot be read count by their
// names, so that no id is given twice.
func (n *Notebook) nextID(year, skip int) string {
	highest := 0
	see := func(name string) {
		if m := ownID.FindStringSubmatch(name); m != nil && m[1] == fmt.Sprintf("%04d", year) {
			if i, err := strconv.Atoi(m[2]); err == nil && i < 999999 {
				highest = max(highest, i)
			}
		}
	}
	for _, c := range n.Cases {
		see(c.ID())
	}
	_ = filepath.WalkDir(filepath.Join(n.Dir, "cases"), func(p string, _ fs.DirEntry, err error) error {
		if err == nil {
			see(filepath.Base(p))
		}
		return nil
	})
	return fmt.Sprintf("%04d-%04d", year, highest+1+skip)
}

// CasePath returns where a new case file belongs, inside the notebook.
func CasePath(id, opened, title string) string {
	name := id
	if slug := casefile.Slug(title); slug != "" {
		name += "-" + slug
	}
	year := "undated"
	if len(opened) >= 4 {
		year = opened[:4]
	}
	return filepath.Join("cases", year, name+".md")
}
