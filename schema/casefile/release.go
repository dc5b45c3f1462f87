package casefile

import (
	"bytes"
	"slices"
	"strings"
	"unicode"

	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"
	"golang.org/x/text/unicode/norm"
)

// What goes out is named, not what stays: the sections that the schema knows and those
// that a notebook names. Any other part of a case or device stays in its file.

// DeviceTexts are the sections of a device file that are read as text alone.
var DeviceTexts = []string{"Before you open it", "What is usual", "Notes"}

// CaseSections and DeviceSections are the sections that go out.
var (
	CaseSections   = slices.Concat(SectionNames, WorkSections, []string{BenchSection})
	DeviceSections = slices.Concat([]string{FastenerSection, PlugSection, ReferenceSection, SpareSection, DonorSection, RailSection},
		DeviceTexts)
)

// Held is a part of a file that stays in it.
type Held struct {
	Name  string // as a reader sees its heading; "" for what stands before the first one
	Start int    // byte of the file
}

// Released returns a file's bytes with everything blanked out that does not go out: the
// parts under headings that are not in known, what stands before the first heading, and
// what no reader of a page sees (definitions of links that none uses, words behind the
// language of a code block). Tags of HTML are seen on our pages, as text, and stay. Lines
// and columns of the rest stay where they are; the bytes are those given where nothing of
// that is there. It is for bytes that [Public] gave.
func Released(src []byte, known []string) ([]byte, []Held) {
	d := split(src)
	if plainlyReleased(src[d.body:], known) {
		return src, nil
	}
	out := src
	var held []Held
	// What was swallowed by something that stays may turn up once that is blank.
	for range 8 {
		ranges, more := unreleased(out[d.body:], known)
		for _, h := range more {
			h.Start += d.body
			held = append(held, h)
		}
		if len(ranges) == 0 {
			return out, held
		}
		next := bytes.Clone(out)
		for _, r := range ranges {
			blank(next[d.body+r[0] : d.body+r[1]])
		}
		if bytes.Equal(next, out) {
			return out, held
		}
		out = next
	}
	out = bytes.Clone(out)
	blank(out[d.body:]) // nested too deeply for anybody to tell what goes out
	return out, held
}

// StripHeld returns what [Strip] gave without what [Released] blanks, for giving away.
func StripHeld(src []byte, known []string) []byte {
	out, _ := Released(src, known)
	return withoutBlanked(src, out)
}

// plainlyReleased reports cheaply that all of a text goes out: it begins with a known
// heading, every line that may be a heading is one, and nothing in it can be unseen.
func plainlyReleased(md []byte, known []string) bool {
	if bytes.Contains(md, []byte("]:")) || bytes.IndexByte(md, '\r') >= 0 {
		return false
	}
	first := true
	for line := range bytes.Lines(md) {
		t := bytes.TrimSpace(line)
		if len(t) == 0 {
			continue
		}
		switch {
		case t[0] == '#':
			if bytes.HasPrefix(t, []byte("###")) && !first {
				break
			}
			if name, ok := bytes.CutPrefix(t, []byte("## ")); !ok || !slices.Contains(known, string(name)) {
				return false
			}
		case first, len(bytes.Trim(t, "=")) == 0, len(bytes.Trim(t, "-")) == 0:
			return false
		case (bytes.HasPrefix(t, []byte("```")) || bytes.HasPrefix(t, []byte("~~~"))) && bytes.ContainsAny(bytes.Trim(t, "`~ \t"), " \t"):
			return false
		}
		first = false
	}
	return true
}

// unreleased are the bytes of a text that do not go out, and the parts that stay whole.
func unreleased(md []byte, known []string) (ranges [][2]int, held []Held) {
	root := markdownParser.Parser().Parse(text.NewReader(md))
	used := map[string]bool{} // labels of links
	_ = ast.Walk(root, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if entering {
			switch x := n.(type) {
			case *ast.Link:
				if x.Reference != nil {
					used[util.ToLinkReference(x.Reference.Value)] = true
				}
			case *ast.Image:
				if x.Reference != nil {
					used[util.ToLinkReference(x.Reference.Value)] = true
				}
			}
		}
		return ast.WalkContinue, nil
	})
	stays, from, name := true, 0, ""
	end := func(at int) {
		if stays && len(bytes.TrimSpace(md[from:at])) > 0 {
			ranges = append(ranges, [2]int{from, at})
			held = append(held, Held{name, from + len(md[from:at]) - len(bytes.TrimLeft(md[from:at], " \t\r\n"))})
		}
	}
	for n := root.FirstChild(); n != nil; n = n.NextSibling() {
		if h, ok := n.(*ast.Heading); ok && h.Level <= 2 {
			start := bytes.LastIndexByte(md[:headingAt(h, md)], '\n') + 1
			end(start)
			name = strings.TrimSpace(seen(h, md))
			stays, from = h.Level != 2 || !slices.ContainsFunc(known, func(k string) bool { return sameHeading(k, name) }), start
		}
		if !stays {
			ranges = append(ranges, unseen(n, md, used)...)
		}
	}
	end(len(md))
	return ranges, held
}

// unseen are the bytes in a block that no reader of a page sees. A definition counts
// once: links go to the first of their label.
func unseen(n ast.Node, md []byte, used map[string]bool) (ranges [][2]int) {
	add := func(start, stop int) {
		if len(bytes.TrimSpace(md[start:stop])) > 0 {
			ranges = append(ranges, [2]int{start, stop})
		}
	}
	_ = ast.Walk(n, func(c ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		switch x := c.(type) {
		case *ast.LinkReferenceDefinition:
			label := util.ToLinkReference(x.Label)
			if used[label] {
				used[label] = false
				break
			}
			for i := range x.Lines().Len() {
				add(x.Lines().At(i).Start, x.Lines().At(i).Stop)
			}
		case *ast.FencedCodeBlock:
			if x.Info != nil {
				info := x.Info.Segment
				word := info.Value(md)
				if i := bytes.IndexAny(word, " \t"); i >= 0 {
					add(info.Start+i, info.Stop)
				}
			}
		}
		return ast.WalkContinue, nil
	})
	return ranges
}

// sameHeading reports whether two headings are one to a reader: capitals, widths, spaces
// and signs of no width make no other.
func sameHeading(a, b string) bool { return foldHeading(a) == foldHeading(b) }

func foldHeading(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.In(r, unicode.Cf, unicode.Cc) && !unicode.IsSpace(r) {
			return -1
		}
		return r
	}, norm.NFKC.String(s))
	return strings.ToLower(strings.Join(strings.Fields(s), " "))
}

// Release is [Released] for a case that was read from what [Public] gave: the case as it
// goes out, with the sections of the schema and those in also.
func (f *File) Release(also []string) (*File, []Held) {
	out, held := Released(f.Bytes(), slices.Concat(CaseSections, also))
	if bytes.Equal(out, f.Bytes()) {
		return f, held
	}
	next := Read(f.Text.Name, out)
	if next != nil { // reading again looks for none; a picture of a part that stays is shown there
		next.Mentions, next.Pictures = f.Mentions, f.Pictures
	}
	return next, held
}

// Release is [File.Release] for a device.
func (f *DeviceFile) Release(also []string) (*DeviceFile, []Held) {
	out, held := Released(f.Text.Bytes, slices.Concat(DeviceSections, also))
	if bytes.Equal(out, f.Text.Bytes) {
		return f, held
	}
	return ReadDevice(f.Text.Name, out), held
}
