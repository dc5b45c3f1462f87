package casefile

import (
	"bytes"
	"net/url"
	"path"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/yuin/goldmark/ast"
	"go.yaml.in/yaml/v3"

	"benchlore/schema/diagnostic"
)

// Pointer is a place of a case that points to something else: a picture, or what has the
// form of a case's id, in words or in a link.
type Pointer struct {
	Text string // the file of a picture; what may be an id
	Link bool   // of Markdown; the text is the name of a file without ending, and may go on behind an id

	start, stop int
}

// At places a diagnostic on what points.
func (p *Pointer) At(f *File, s diagnostic.Severity, rule diagnostic.Rule, message string) diagnostic.Diagnostic {
	return f.Text.At(p.start, p.stop, s, rule, message)
}

// maxPointers is how many pointers of a file are kept.
const maxPointers = 500

// idLike is what may be the id of a case in running text.
var idLike = regexp.MustCompile(`[A-Za-z0-9]+(?:[-_][A-Za-z0-9]+)+`)

// leastDigits is how many digits make such a word a number and no compound.
const leastDigits = 4

// pointers gathers what the body points to; code says what it says.
func (b *body) pointers(root ast.Node, f *File) {
	src, base := b.source(), b.doc.body
	if bytes.IndexByte(src, '[') < 0 && !idLike.Match(src) {
		return
	}
	block := 0 // where the innermost block begins
	_ = ast.Walk(root, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		if n.Type() == ast.TypeBlock && n.Lines() != nil && n.Lines().Len() > 0 {
			block = n.Lines().At(0).Start
		}
		switch t := n.(type) {
		case *ast.FencedCodeBlock, *ast.CodeBlock, *ast.CodeSpan, *ast.HTMLBlock, *ast.RawHTML, *ast.AutoLink:
			return ast.WalkSkipChildren, nil
		case *ast.Image:
			if name, ok := ownFile(string(t.Destination)); ok && len(f.Pictures) < maxPointers {
				start, stop := placeOfLink(src, block, t.Destination)
				f.Pictures = append(f.Pictures, Pointer{name, true, start + base, stop + base})
			}
		case *ast.Link:
			name, ok := ownFile(string(t.Destination))
			ending := strings.ToLower(path.Ext(name))
			if ok && (ending == ".md" || ending == ".html" || ending == "") && len(f.Mentions) < maxPointers {
				start, stop := placeOfLink(src, block, t.Destination)
				f.Mentions = append(f.Mentions, Pointer{strings.TrimSuffix(path.Base(name), path.Ext(name)), true, start + base, stop + base})
			}
		case *ast.Text:
			f.mentions(t.Segment.Start+base, t.Segment.Stop+base)
		}
		return ast.WalkContinue, nil
	})
}

// ownFile is the file that a link or picture leads to, where it stays in the notebook.
func ownFile(dest string) (string, bool) {
	u, err := url.Parse(dest)
	if err != nil || u.Scheme != "" || u.Host != "" || u.Path == "" {
		return "", false
	}
	return u.Path, true
}

// placeOfLink finds the destination of a link as it is written, from its block on.
func placeOfLink(src []byte, block int, dest []byte) (start, stop int) {
	at := bytes.Index(src[block:], dest)
	if at < 0 {
		return block, block
	}
	return block + at, block + at + len(dest)
}

// mentions gathers what may be ids in a part of the file.
func (f *File) mentions(start, stop int) {
	src := f.Text.Bytes
	for _, at := range idLike.FindAllIndex(src[start:stop], -1) {
		from, to := start+at[0], start+at[1]
		digits := 0
		for _, c := range src[from:to] {
			if c >= '0' && c <= '9' {
				digits++
			}
		}
		if digits < leastDigits || joined(src[:from], src[to:]) || len(f.Mentions) >= maxPointers {
			continue
		}
		f.Mentions = append(f.Mentions, Pointer{string(src[from:to]), false, from, to})
	}
}

// pointersOfKeys gathers what may be ids in values of the front matter.
func (f *File) pointersOfKeys(keys ...string) {
	for _, key := range keys {
		if n := child(f.tree(), key); n != nil && n.Kind == yaml.ScalarNode {
			start, stop := f.span(n)
			f.mentions(start, min(stop, start+len(lineAt(f.Text.Bytes, start))))
		}
	}
}

// joined reports whether a word goes on before or behind: in an address, a path, a number.
func joined(before, behind []byte) bool {
	b, _ := utf8.DecodeLastRune(before)
	a, n := utf8.DecodeRune(behind)
	next, _ := utf8.DecodeRune(behind[n:])
	part := func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }
	return len(before) > 0 && (part(b) || strings.ContainsRune("-_/\\.@=#", b)) ||
		len(behind) > 0 && (part(a) || strings.ContainsRune("-_/\\@=", a) || (a == '.' || a == ',') && unicode.IsDigit(next))
}
