package pack

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path"
	"regexp"
	"strings"
	"time"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/schema/casefile"
)

// ErrNamed is returned where a pack was asked for that hides the workshop's name, and a
// text that would go into it says that name.
var ErrNamed = errors.New("the workshop's name stands in what would be packed; nothing was packed")

// unnamed is the origin of an anonymous pack: the same for each pack of the workshop, so
// that a later one brings an earlier one up to date, and told from any other's. It is made
// with this installation's secret, so that nobody can try names against it.
func unnamed(name string) Origin {
	mark := disk.Mark("anonymous pack of " + name)
	if mark == "" {
		b := make([]byte, 12)
		_, _ = rand.Read(b) // it never fails
		mark = hex.EncodeToString(b)
	}
	return Origin{ID: "anonymous-" + mark[:12], Name: "Anonymous workshop " + mark[:12]}
}

// shift is how many days earlier the days of a case stand in an anonymous pack: so many
// that the first case it is a comeback of was opened on the first of its month. All of a
// case and its comebacks move together, so that every time between two days stays true.
func shift(n *notebook.Notebook, c *notebook.Case) int {
	seen := map[string]bool{}
	for c.File.Case.Returns != "" && !seen[c.ID()] {
		seen[c.ID()] = true
		first, ok := n.Case(c.File.Case.Returns)
		if !ok {
			break
		}
		c = first
	}
	day, ok := casefile.Day(c.File.Case.Opened)
	if !ok {
		return 0
	}
	return day.Day() - 1
}

// earlier is a day so many days before; what is no day of a calendar stays.
func earlier(day string, days int) string {
	d, ok := casefile.Day(day)
	if !ok || len(day) != len(time.DateOnly) {
		return day
	}
	return d.AddDate(0, 0, -days).Format(time.DateOnly)
}

// hidden is the name that an anonymous pack does not say.
type hidden struct {
	slug string
	name *regexp.Regexp
}

// newHidden is nil for a workshop without a name.
func newHidden(name string) *hidden {
	words := strings.Fields(strings.ToLower(name))
	if len(words) == 0 {
		return nil
	}
	h := &hidden{slug: casefile.Slug(strings.Join(words, " "))}
	for i := range words {
		words[i] = regexp.QuoteMeta(words[i])
	}
	h.name = regexp.MustCompile(`(?i)` + strings.Join(words, `[\s>*_]+`)) // it may be broken over two lines
	return h
}

// checked returns a file of a pack, or [ErrNamed] with the place where it says the name.
// Pictures are compared by their names alone; nil hides nothing.
func (h *hidden) checked(name string, data []byte) ([]byte, error) {
	if h == nil {
		return data, nil
	}
	if h.slug != "" && strings.Contains(strings.ToLower(name), h.slug) {
		return nil, fmt.Errorf("%s: its file's name says it: %w", name, ErrNamed)
	}
	switch path.Ext(name) {
	case ".md", ".yaml", ".csv", ".ipc", ".txt":
		if at := h.name.FindIndex(data); at != nil {
			return nil, fmt.Errorf("%s:%d: %w", strings.TrimPrefix(name, "notes/"), 1+bytes.Count(data[:at[0]], []byte("\n")), ErrNamed)
		}
	}
	return data, nil
}

// Notes writes the notes that a pack would hold to a new folder, as a notebook of its own.
func Notes(ctx context.Context, n *notebook.Notebook, dir string, o Options) error {
	tmp, err := os.CreateTemp("", "benchlore-notes-")
	if err != nil {
		return err
	}
	defer os.Remove(tmp.Name())
	defer tmp.Close()
	o.Site = ""
	m, _, err := Write(ctx, n, tmp, o)
	if err != nil {
		return err
	}
	p, err := Open(tmp.Name(), "")
	if err != nil {
		return err
	}
	defer p.Close()
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	for _, f := range m.Files {
		name, ok := strings.CutPrefix(f.Path, "notes/")
		if !ok {
			continue
		}
		data, err := p.read(f.Path)
		if err != nil {
			return err
		}
		if err := disk.Folder(dir).Create(name, data); err != nil {
			return err
		}
	}
	return nil
}
