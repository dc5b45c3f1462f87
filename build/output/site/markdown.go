package site

import (
	"bytes"
	"html/template"
	"regexp"
	"strings"

	"github.com/alecthomas/chroma/v2"
	chromahtml "github.com/alecthomas/chroma/v2/formatters/html"
	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	extast "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/renderer"
	"github.com/yuin/goldmark/renderer/html"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"
)

// resolver decides where a link or picture leads; ok is false when it is shown
// as plain text instead.
type resolver func(dest string, picture bool) (target string, ok bool)

// markdown renders the notebook's dialect. Raw HTML is shown as text, links
// and pictures pass through a resolver, code is highlighted by class names.
// Headings begin at minLevel, below those of the page.
func newMarkdown(minLevel int) goldmark.Markdown {
	return goldmark.New(
		goldmark.WithExtensions(extension.Table, extension.Strikethrough),
		goldmark.WithParserOptions(parser.WithASTTransformers(util.Prioritized(&policy{minLevel}, 500))),
		goldmark.WithRendererOptions(html.WithXHTML(),
			renderer.WithNodeRenderers(util.Prioritized(&blocks{}, 100))),
	)
}

var resolverKey = parser.NewContextKey()

// convert renders Markdown from another shop or our own; both are hostile.
func convert(md goldmark.Markdown, src []byte, resolve resolver) (template.HTML, error) {
	pc := parser.NewContext()
	pc.Set(resolverKey, resolve)
	var out bytes.Buffer
	if err := md.Convert(src, &out, parser.WithContext(pc)); err != nil {
		return "", err
	}
	return template.HTML(out.String()), nil
}

// safeURL allows relative references and a few schemes for links, relative
// references alone for pictures, and refuses everything else.
func safeURL(dest string, picture bool) (string, bool) {
	// What the browser will see: escapes and entities resolved, and the
	// characters that it skips taken out.
	seen := string(util.ResolveEntityNames(util.ResolveNumericReferences(util.UnescapePunctuations([]byte(dest)))))
	seen = strings.Map(func(r rune) rune {
		if r <= ' ' || r == 0x7f {
			return -1
		}
		return r
	}, seen)
	for _, form := range []string{seen, dest} {
		if strings.HasPrefix(strings.ReplaceAll(form, "\\", "/"), "//") {
			return "", false // another host
		}
	}
	end := strings.IndexAny(seen, "/?#")
	if end < 0 {
		end = len(seen)
	}
	scheme, _, ok := strings.Cut(seen[:end], ":")
	if !ok || !schemeForm.MatchString(scheme) {
		return dest, true
	}
	switch strings.ToLower(scheme) {
	case "http", "https", "mailto":
		return dest, !picture
	}
	return "", false
}

// schemeForm is RFC 3986 3.1; a colon after anything else is part of a path.
var schemeForm = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9+.-]*$`)

// policy applies the resolver and the heading levels to the syntax tree.
type policy struct{ minLevel int }

// Transform implements parser.ASTTransformer.
func (p *policy) Transform(doc *ast.Document, reader text.Reader, pc parser.Context) {
	resolve, _ := pc.Get(resolverKey).(resolver)
	if resolve == nil {
		resolve = safeURL
	}
	var drop []ast.Node
	_ = ast.Walk(doc, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		switch t := n.(type) {
		case *ast.Heading:
			t.Level = min(max(t.Level, p.minLevel), 6)
		case *ast.Link:
			if to, ok := resolve(string(t.Destination), false); ok {
				t.Destination = []byte(to)
			} else {
				drop = append(drop, n)
			}
		case *ast.Image:
			if to, ok := resolve(string(t.Destination), true); ok {
				t.Destination = []byte(to)
			} else {
				drop = append(drop, n)
			}
		case *ast.AutoLink:
			if _, ok := resolve(string(t.URL(reader.Source())), false); !ok && t.AutoLinkType == ast.AutoLinkURL {
				drop = append(drop, n)
			}
		}
		return ast.WalkContinue, nil
	})
	for _, n := range drop {
		unwrap(n, reader.Source())
	}
}

// unwrap puts the node's text in its place.
func unwrap(n ast.Node, src []byte) {
	parent := n.Parent()
	if a, ok := n.(*ast.AutoLink); ok {
		parent.ReplaceChild(parent, n, ast.NewString(a.Label(src)))
		return
	}
	for c := n.FirstChild(); c != nil; {
		next := c.NextSibling()
		n.RemoveChild(n, c)
		parent.InsertBefore(parent, n, c)
		c = next
	}
	parent.RemoveChild(parent, n)
}

// blocks renders what the house renders differently from goldmark.
type blocks struct{}

// RegisterFuncs implements renderer.NodeRenderer.
func (b *blocks) RegisterFuncs(r renderer.NodeRendererFuncRegisterer) {
	r.Register(ast.KindRawHTML, b.rawHTML)
	r.Register(ast.KindHTMLBlock, b.htmlBlock)
	r.Register(ast.KindFencedCodeBlock, b.fencedCode)
	r.Register(ast.KindCodeBlock, b.indentedCode)
	r.Register(extast.KindTable, b.table)
}

// table can be scrolled sideways, by keyboard too, so that a wide one does not
// push the page out of a phone's window.
func (b *blocks) table(w util.BufWriter, _ []byte, _ ast.Node, entering bool) (ast.WalkStatus, error) {
	if entering {
		_, _ = w.WriteString("<div class=\"scroll\" role=\"group\" aria-label=\"Table\" tabindex=\"0\"><table>\n")
	} else {
		_, _ = w.WriteString("</table></div>\n")
	}
	return ast.WalkContinue, nil
}

func (b *blocks) rawHTML(w util.BufWriter, src []byte, n ast.Node, entering bool) (ast.WalkStatus, error) {
	if entering {
		segments := n.(*ast.RawHTML).Segments
		for i := range segments.Len() {
			s := segments.At(i)
			_, _ = w.Write(util.EscapeHTML(s.Value(src)))
		}
	}
	return ast.WalkSkipChildren, nil
}

func (b *blocks) htmlBlock(w util.BufWriter, src []byte, n ast.Node, entering bool) (ast.WalkStatus, error) {
	if !entering {
		return ast.WalkContinue, nil
	}
	block := n.(*ast.HTMLBlock)
	_, _ = w.WriteString("<p>")
	for i := range block.Lines().Len() {
		s := block.Lines().At(i)
		_, _ = w.Write(util.EscapeHTML(s.Value(src)))
	}
	if block.HasClosure() {
		_, _ = w.Write(util.EscapeHTML(block.ClosureLine.Value(src)))
	}
	_, _ = w.WriteString("</p>\n")
	return ast.WalkSkipChildren, nil
}

// indentedCode can be scrolled by keyboard too, as code in a fence can.
func (b *blocks) indentedCode(w util.BufWriter, src []byte, n ast.Node, entering bool) (ast.WalkStatus, error) {
	if !entering {
		return ast.WalkContinue, nil
	}
	_, _ = w.WriteString("<pre tabindex=\"0\"><code>")
	for i := range n.Lines().Len() {
		s := n.Lines().At(i)
		_, _ = w.Write(util.EscapeHTML(s.Value(src)))
	}
	_, _ = w.WriteString("</code></pre>\n")
	return ast.WalkSkipChildren, nil
}

// maxHighlight is the longest code that is coloured; lexers are regular
// expressions, and a hostile log must not keep them busy; see BenchmarkHighlightHostile.
const (
	maxHighlight     = 4 << 10
	maxHighlightLine = 400 // bytes; longer lines are data, not code
)

// noStyle: colours are the style sheet's, by class.
var noStyle = chroma.MustNewStyle("none", chroma.StyleEntries{chroma.Background: ""})

var codeFormat = chromahtml.New(chromahtml.WithClasses(true), chromahtml.PreventSurroundingPre(true))

func (b *blocks) fencedCode(w util.BufWriter, src []byte, n ast.Node, entering bool) (ast.WalkStatus, error) {
	if !entering {
		return ast.WalkContinue, nil
	}
	block := n.(*ast.FencedCodeBlock)
	language := block.Language(src)
	_, _ = w.WriteString("<pre tabindex=\"0\"><code")
	if language != nil {
		_, _ = w.WriteString(" class=\"language-")
		_, _ = w.Write(util.EscapeHTML(util.ResolveEntityNames(util.ResolveNumericReferences(util.UnescapePunctuations(language)))))
		_, _ = w.WriteString("\"")
	}
	_, _ = w.WriteString(">")
	var code bytes.Buffer
	for i := range block.Lines().Len() {
		s := block.Lines().At(i)
		code.Write(s.Value(src))
	}
	if !highlight(w, string(language), code.String()) {
		_, _ = w.Write(util.EscapeHTML(code.Bytes()))
	}
	_, _ = w.WriteString("</code></pre>\n")
	return ast.WalkSkipChildren, nil
}

// highlight writes coloured code and reports whether it did.
func highlight(w util.BufWriter, language, code string) bool {
	lexer, ok := lexers[strings.ToLower(language)]
	if !ok || len(code) > maxHighlight {
		return false
	}
	for line := range strings.Lines(code) {
		if len(line) > maxHighlightLine {
			return false
		}
	}
	tokens, err := chroma.Coalesce(lexer).Tokenise(nil, code)
	if err != nil {
		return false
	}
	var out bytes.Buffer
	if codeFormat.Format(&out, noStyle, tokens) != nil {
		return false
	}
	_, _ = w.Write(out.Bytes())
	return true
}
