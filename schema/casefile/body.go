package casefile

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	extast "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/text"

	"benchlore/schema"
	"benchlore/schema/diagnostic"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// markdownParser is the dialect of notebooks: CommonMark with tables and
// strike-through. Raw HTML is never passed on. It is safe for concurrent use.
var markdownParser = goldmark.New(goldmark.WithExtensions(extension.Table, extension.Strikethrough))

// Parse reads a case file. The file is nil when nothing of it could be read;
// the diagnostics are about form only, the rest is [File.Check]'s.
func Parse(name string, src []byte) (*File, []diagnostic.Diagnostic) {
	return parse(name, src, schema.Case())
}

// Read is [Parse] for a file that was parsed before and is known to be in form:
// the schema is not asked. The file is nil when nothing of it could be read.
func Read(name string, src []byte) *File {
	f, _ := parse(name, src, nil)
	return f
}

func parse(name string, src []byte, s *schema.Schema) (*File, []diagnostic.Diagnostic) {
	doc, list := parseFrontMatter(name, src, s)
	if doc == nil {
		return nil, list
	}
	f := &File{Document: doc}
	// A value of the wrong type has been named by the schema; the rest decodes.
	doc.Decode(&f.Case)
	b := body{doc: doc, list: list, trusted: s == nil}
	root := b.read(CaseSections)
	if !b.trusted {
		f.pointersOfKeys("title", "confirmed")
		b.pointers(root, f)
	}
	f.Case.Sections = b.sections
	b.tables(f)
	b.work(f)
	return f, b.list
}

// body reads the Markdown below the front matter.
type body struct {
	doc      *Document
	list     []diagnostic.Diagnostic
	sections []Section
	blocks   map[string][]ast.Node // section name -> its blocks
	trusted  bool                  // rows are known to be in form
}

func (b *body) say(start, stop int, s diagnostic.Severity, rule diagnostic.Rule, format string, args ...any) *diagnostic.Diagnostic {
	b.list = append(b.list, b.doc.Text.At(start, stop, s, rule, fmt.Sprintf(format, args...)))
	return &b.list[len(b.list)-1]
}

func (b *body) source() []byte { return b.doc.Text.Bytes[b.doc.body:] }

// read splits the body at its second-level headings. Known is the list of
// section names; a name close to one of them is probably a slip. It returns the tree.
func (b *body) read(known []string) ast.Node {
	src, base := b.source(), b.doc.body
	root := markdownParser.Parser().Parse(text.NewReader(src))
	b.blocks = map[string][]ast.Node{}
	current := Section{Start: base, heading: base}
	seen := map[string]bool{}
	for n := root.FirstChild(); n != nil; n = n.NextSibling() {
		if html, ok := n.(*ast.HTMLBlock); ok {
			b.swallows(html)
		}
		h, ok := n.(*ast.Heading)
		if !ok || h.Level != 2 {
			b.blocks[current.Name] = append(b.blocks[current.Name], n)
			continue
		}
		name, start, stop := b.headingText(h)
		lineStart := bytes.LastIndexByte(src[:start-base], '\n') + 1 + base
		b.closeSection(current, lineStart)
		if canonical := canonicalSection(name, known); canonical != "" {
			name = canonical
		} else if near := terms.Nearest(name, known); near != "" {
			b.say(start, stop, diagnostic.Warning, diagnostic.SectionName, "section %q is kept as text of its own", name).Suggestion = near
		}
		if seen[name] {
			b.say(start, stop, diagnostic.Error, diagnostic.SectionTwice, "section %q stands twice; join the two", name)
		}
		seen[name] = true
		current = Section{Name: name, Start: b.afterHeading(stop), heading: start}
	}
	b.closeSection(current, len(b.doc.Text.Bytes))
	b.unclosedFence(root)
	b.strayTables(known)
	b.strayHeadings(root, known)
	return root
}

// strayTables names tables that look like one that is computed on and stand
// under a heading that is not its: nothing would read them.
func (b *body) strayTables(known []string) {
	for _, s := range b.sections {
		if slices.Contains(known, s.Name) {
			continue
		}
		for _, n := range b.blocks[s.Name] {
			t, ok := n.(*extast.Table)
			if !ok {
				continue
			}
			var head []string
			for c := t.FirstChild().FirstChild(); c != nil; c = c.NextSibling() {
				head = append(head, strings.ToLower(plainText(c, b.source())))
			}
			for _, section := range known {
				key := tableKeys[section]
				if len(key) == 0 || !slices.Contains(head, key[0]) || !slices.Contains(head, key[1]) {
					continue
				}
				start, _ := b.linesOf(t)
				if s.Name != "" {
					start = s.heading
				}
				line, _ := b.doc.Text.Place(start)
				d := b.say(start, b.doc.Text.LineStart(line)+len(b.doc.Text.Line(line)), diagnostic.Error, diagnostic.SectionName,
					"the table below is one of %s, but it is not read here: put it under a heading \"## %s\"", section, section)
				d.Suggestion = "## " + section
				b.list = slices.DeleteFunc(b.list, func(o diagnostic.Diagnostic) bool {
					return o.Rule == diagnostic.SectionName && o.Severity == diagnostic.Warning && o.Line == line
				})
				break
			}
		}
	}
}

// tableKeys are the two columns that tell what a table is.
var tableKeys = map[string][]string{"Findings": {"check", "result"}, "Measurements": {"point", "read"}, "Parts": {"part", "action"},
	FastenerSection: {"mark", "head"}, PlugSection: {"name", "pins"}, ReferenceSection: {"point", "expected"},
	SpareSection: {"part", "from"}, DonorSection: {"device", "gives"}, RailSection: {"rail", "from"}}

// strayHeadings names known sections whose heading has another level.
func (b *body) strayHeadings(root ast.Node, known []string) {
	for n := root.FirstChild(); n != nil; n = n.NextSibling() {
		h, ok := n.(*ast.Heading)
		if !ok || h.Level == 2 {
			continue
		}
		name, start, stop := b.headingText(h)
		told := slices.ContainsFunc(b.list, func(d diagnostic.Diagnostic) bool {
			return d.Rule == diagnostic.SectionName && d.Severity == diagnostic.Error
		})
		if section := canonicalSection(name, known); section != "" && !told &&
			!slices.ContainsFunc(b.sections, func(s Section) bool { return s.Name == section }) {
			d := b.say(start, stop, diagnostic.Warning, diagnostic.SectionName,
				"a section begins with two signs: \"## %s\"; this one is text of another section", section)
			d.Suggestion = "## " + section
		}
	}
}

// swallows names raw HTML that is not closed, such as <script> or <!--, and takes
// headings below it for its own.
func (b *body) swallows(html *ast.HTMLBlock) {
	src := b.source()
	for i := range html.Lines().Len() {
		if l := html.Lines().At(i); i > 0 && bytes.HasPrefix(l.Value(src), []byte("## ")) {
			first := html.Lines().At(0)
			b.say(first.Start+b.doc.body, first.Stop+b.doc.body, diagnostic.Error, diagnostic.UnclosedFence,
				"this looks like HTML that is not closed; sections below it are read as part of it. Write &lt; for <, or put it into a code block")
			return
		}
	}
}

// headingText returns the heading's plain text and its byte range.
func (b *body) headingText(h *ast.Heading) (name string, start, stop int) {
	lines := h.Lines()
	if lines.Len() == 0 {
		at := b.doc.body + max(h.Pos(), 0)
		return "", at, at
	}
	start = lines.At(0).Start + b.doc.body
	stop = lines.At(lines.Len()-1).Stop + b.doc.body
	return inlineText(h, b.source(), false), start, stop
}

// afterHeading skips to the line after a heading, past a setext underline.
func (b *body) afterHeading(at int) int {
	src := b.doc.Text.Bytes
	next := func(i int) int {
		if n := bytes.IndexByte(src[i:], '\n'); n >= 0 {
			return i + n + 1
		}
		return len(src)
	}
	// A setext heading's segment ends before its line end; so does an ATX one's.
	after := next(min(at, len(src)))
	if at > 0 && at <= len(src) && src[at-1] == '\n' {
		after = at
	}
	line := bytes.TrimSpace(src[after:next(after)])
	lineStart := bytes.LastIndexByte(src[:max(after-1, 0)], '\n') + 1
	isATX := bytes.HasPrefix(bytes.TrimLeft(src[lineStart:after], " "), []byte("#"))
	if !isATX && len(line) > 0 && len(bytes.Trim(line, "-")) == 0 {
		after = next(after)
	}
	return after
}

func canonicalSection(name string, known []string) string {
	for _, k := range known {
		if strings.EqualFold(name, k) {
			return k
		}
	}
	return ""
}

func (b *body) closeSection(s Section, stop int) {
	s.Stop = max(stop, s.Start)
	if s.Name == "" && len(bytes.TrimSpace(b.doc.Text.Bytes[s.Start:s.Stop])) == 0 {
		return
	}
	b.sections = append(b.sections, s)
}

// unclosedFence names a code block that swallows the rest of the file.
func (b *body) unclosedFence(root ast.Node) {
	last := root.LastChild()
	for last != nil && last.Type() == ast.TypeBlock && last.LastChild() != nil && last.LastChild().Type() == ast.TypeBlock {
		last = last.LastChild()
	}
	fence, ok := last.(*ast.FencedCodeBlock)
	if !ok {
		return
	}
	src := b.source()
	end := len(src)
	if n := fence.Lines().Len(); n > 0 {
		end = fence.Lines().At(n - 1).Stop
	} else if fence.Info != nil {
		end = fence.Info.Segment.Stop
	} else if p := fence.Pos(); p >= 0 {
		end = p + len(lineAt(src, p))
	}
	if len(bytes.TrimSpace(src[min(end, len(src)):])) > 0 {
		return // the closing fence stands there
	}
	at := fence.Pos()
	if at < 0 {
		at = 0
	}
	at += b.doc.body
	b.say(at, at+len(lineAt(b.doc.Text.Bytes, at)), diagnostic.Error, diagnostic.UnclosedFence,
		"this code block is not closed; everything below it is read as code. Add a line ``` at its end")
}

// plainText joins the text of a node's inlines, escapes resolved.
func plainText(n ast.Node, src []byte) string { return inlineText(n, src, true) }

// inlineText is [plainText] with tags of HTML or without.
func inlineText(n ast.Node, src []byte, tags bool) string {
	var out strings.Builder
	_ = ast.Walk(n, func(c ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		switch t := c.(type) {
		case *ast.Text:
			out.Write(unescape(t.Segment.Value(src)))
			if t.SoftLineBreak() || t.HardLineBreak() {
				out.WriteByte(' ')
			}
		case *ast.String:
			out.Write(t.Value)
		case *ast.AutoLink:
			out.Write(t.Label(src))
		case *ast.RawHTML:
			for i := range t.Segments.Len() {
				if !tags {
					break
				}
				s := t.Segments.At(i)
				out.Write(s.Value(src))
			}
		case *ast.CodeSpan:
			for i := c.FirstChild(); i != nil; i = i.NextSibling() {
				if s, ok := i.(*ast.Text); ok {
					out.Write(s.Segment.Value(src))
				}
			}
			return ast.WalkSkipChildren, nil
		}
		return ast.WalkContinue, nil
	})
	return strings.TrimSpace(out.String())
}

// unescape drops the backslash before ASCII punctuation.
func unescape(s []byte) []byte {
	if bytes.IndexByte(s, '\\') < 0 {
		return s
	}
	out := make([]byte, 0, len(s))
	for i := 0; i < len(s); i++ {
		if s[i] == '\\' && i+1 < len(s) && isPunct(s[i+1]) {
			i++
		}
		out = append(out, s[i])
	}
	return out
}

func isPunct(c byte) bool {
	return c >= '!' && c <= '/' || c >= ':' && c <= '@' || c >= '[' && c <= '`' || c >= '{' && c <= '~'
}

// row is a table row: cells by lower-case column name, in column order.
type row struct {
	cells   cells
	columns []cell
}

// cells are those of a row, under the columns that all rows of a table share.
type cells struct{ columns, list []cell }

// at returns the cell under a column.
func (c cells) at(column string) (cell, bool) {
	for i := len(c.list) - 1; i >= 0; i-- {
		if c.columns[i].Text == column {
			return c.list[i], true
		}
	}
	return cell{}, false
}

// table reads the first table of a section. Known are its columns; required
// those without which a row says nothing.
func (b *body) table(section string, known []string, required ...string) []row {
	src, base := b.source(), b.doc.body
	var t *extast.Table
	for _, n := range b.blocks[section] {
		if found, ok := n.(*extast.Table); ok {
			t = found
			break
		}
	}
	if t == nil {
		b.looksLikeTable(section)
		return nil
	}
	start, stop := b.linesOf(t)
	for i := range b.sections {
		if s := &b.sections[i]; s.Start <= start && start < s.Stop {
			s.TableStart, s.TableStop = start, min(stop, s.Stop)
		}
	}
	var columns []cell
	var rows []row
	for n := t.FirstChild(); n != nil; n = n.NextSibling() {
		var found []cell
		for c := n.FirstChild(); c != nil; c = c.NextSibling() {
			cell := cell{Text: plainText(c, src), Start: base, Stop: base}
			if l := c.Lines(); l != nil && l.Len() > 0 {
				cell.Start, cell.Stop = l.At(0).Start+base, l.At(l.Len()-1).Stop+base
			} else if len(found) > 0 {
				cell.Start, cell.Stop = found[len(found)-1].Stop, found[len(found)-1].Stop
			}
			found = append(found, cell)
		}
		if _, ok := n.(*extast.TableHeader); ok {
			columns = b.columns(found, known, required)
			continue
		}
		known := found[:min(len(found), len(columns))]
		r := row{cells: cells{columns, slices.Clone(known)}, columns: columns}
		blank := !slices.ContainsFunc(known, func(c cell) bool { return c.Text != "" })
		b.countCells(found, len(columns))
		if !blank {
			rows = append(rows, r)
		}
	}
	return rows
}

// linesOf is the byte range in the file of a table's lines, line ends included.
func (b *body) linesOf(t *extast.Table) (start, stop int) {
	text := b.doc.Text
	line, _ := text.Place(b.doc.body + t.FirstChild().FirstChild().Pos())
	start = text.LineStart(line)
	line += 2 // the header and the line of hyphens; every row is a line of its own
	for n := t.FirstChild().NextSibling(); n != nil; n = n.NextSibling() {
		line++
	}
	return start, text.LineStart(line)
}

// columns resolves header cells to known column names; others keep theirs.
func (b *body) columns(cells []cell, known, required []string) []cell {
	seen := map[string]bool{}
	for i, c := range cells {
		name := strings.ToLower(c.Text)
		if name == "minutes" {
			name = "min"
		}
		if !slices.Contains(known, name) {
			if near := terms.Nearest(name, known); near != "" && name != "" {
				b.say(c.Start, c.Stop, diagnostic.Warning, diagnostic.TableColumn,
					"column %q is kept as one of your own", c.Text).Suggestion = near
			}
			name = c.Text
		}
		if seen[name] {
			b.say(c.Start, c.Stop, diagnostic.Error, diagnostic.TableColumn, "column %q stands twice", c.Text)
		}
		seen[name] = true
		cells[i].Text = name
	}
	for _, r := range required {
		if !seen[r] && len(cells) > 0 {
			b.say(cells[0].Start, cells[len(cells)-1].Stop, diagnostic.Error, diagnostic.TableColumn, "the table has no column %q", r)
		}
	}
	return cells
}

// countCells compares the cells written in a row with its header; the parser
// itself pads what is missing and drops what is too many.
func (b *body) countCells(cells []cell, want int) {
	if len(cells) == 0 {
		return
	}
	text := b.doc.Text
	line, _ := text.Place(cells[0].Start)
	source := strings.TrimSpace(text.Line(line))
	source = strings.TrimPrefix(source, "|")
	got := 1
	for i := 0; i < len(source); i++ {
		switch source[i] {
		case '\\':
			i++
		case '|':
			if i < len(source)-1 {
				got++
			}
		}
	}
	if got == want {
		return
	}
	start := text.LineStart(line)
	b.say(start, start+len(text.Line(line)), diagnostic.Error, diagnostic.TableRow,
		"row has %d cells and the header %d; write a missing cell as an empty one, and | in a text as \\|", got, want)
}

// looksLikeTable names lines that were meant as a table and are not one.
func (b *body) looksLikeTable(section string) {
	for _, n := range b.blocks[section] {
		p, ok := n.(*ast.Paragraph)
		if !ok || p.Lines().Len() == 0 {
			continue
		}
		s := p.Lines().At(0)
		if line := bytes.TrimSpace(s.Value(b.source())); bytes.HasPrefix(line, []byte("|")) {
			b.say(s.Start+b.doc.body, s.Stop+b.doc.body, diagnostic.Error, diagnostic.TableRow,
				"this looks like a table but is not one: the second line must be |---|---| with as many cells as the first")
			return
		}
	}
}

func (r row) text(column string) string {
	c, _ := r.cells.at(column)
	return c.Text
}

func (r row) extra(known []string) []Extra {
	var out []Extra
	for _, c := range r.columns {
		if !slices.Contains(known, c.Text) {
			out = append(out, Extra{c.Text, r.text(c.Text)})
		}
	}
	return out
}

// tables reads the three tables that are computed on. A case still open may
// have half-filled rows.
func (b *body) tables(f *File) {
	check := func(rules func() *schema.Schema, r row, known []string) {
		if b.trusted {
			return
		}
		values := map[string]any{}
		for _, k := range known {
			if c, ok := r.cells.at(k); ok && (c.Text != "" || !f.Case.Open()) {
				values[k] = c.Text
			}
		}
		for _, p := range rules().Validate(any(values)) {
			if p.Rule == diagnostic.MissingKey {
				continue // the missing column has been named, or the case is open
			}
			d := f.cellProblem(r.cells, p.Path[0], diagnostic.Error, p.Rule, "%s %s", p.Path[0], p.Message)
			d.Suggestion = p.Suggestion
			if d.Suggestion == "" && p.Path[0] == "result" {
				d.Suggestion = terms.Builtin().Nearest(terms.Result, r.text("result"))
			}
			if d.Suggestion == "" && p.Path[0] == "action" {
				d.Suggestion = terms.Builtin().Nearest(terms.Action, r.text("action"))
			}
			b.list = append(b.list, d)
		}
	}
	for _, r := range b.table("Findings", FindingColumns, "check", "result") {
		check(schema.Finding, r, FindingColumns)
		minutes, _ := strconv.Atoi(r.text("min"))
		f.Case.Findings = append(f.Case.Findings, Finding{Check: r.text("check"), Seen: r.text("seen"),
			Result: r.text("result"), Minutes: minutes, When: whenOf(r.text("when"), r.text("check")),
			Extra: r.extra(FindingColumns), at: r.cells})
	}
	for _, r := range b.table("Measurements", MeasurementColumns, "point", "read") {
		check(schema.Measurement, r, MeasurementColumns)
		m := Measurement{Point: r.text("point"), What: r.text("what"), State: r.text("state"),
			Expected: r.text("expected"), Read: r.text("read"), Note: r.text("note"), When: whenOf(r.text("when"), r.text("state")),
			Extra: r.extra(MeasurementColumns), at: r.cells}
		b.list = append(b.list, f.readQuantities(&m)...)
		f.Case.Measurements = append(f.Case.Measurements, m)
	}
	for _, r := range b.table("Parts", PartColumns, "part", "action") {
		check(schema.Part, r, PartColumns)
		f.Case.Parts = append(f.Case.Parts, Part{Ref: r.text("ref"), Part: r.text("part"), Value: r.text("value"),
			Package: r.text("package"), Net: r.text("net"), Action: r.text("action"), Fitted: r.text("fitted"),
			Note: r.text("note"), When: When(r.text("when")), Extra: r.extra(PartColumns), at: r.cells})
	}
}

// readQuantities fills Expectation and Reading and names what is not a value.
func (f *File) readQuantities(m *Measurement) (list []diagnostic.Diagnostic) {
	bad := func(column string, err error) {
		d := f.cellProblem(m.at, column, diagnostic.Error, diagnostic.BadQuantity, "%s: %v", column, err)
		list = append(list, d)
	}
	expect, err := quantity.ParseExpectation(m.Expected)
	if err != nil {
		bad("expected", err)
	}
	m.Expectation = expect
	if m.Read == "" {
		return list
	}
	v, err := quantity.ParseReading(m.Read)
	if err != nil {
		bad("read", err)
		return list
	}
	m.Reading = &v
	if _, err := quantity.Judge(expect, v, quantity.Decimal{}); err != nil {
		bad("read", err)
	}
	return list
}

// SectionPlain returns a section as plain text: words without markup, cells
// and blocks on lines of their own, code included.
func (f *File) SectionPlain(name string) string {
	for _, s := range f.Case.Sections {
		if s.Name == name {
			return withoutMarkup(f.Text.Bytes[s.Start:s.Stop])
		}
	}
	return ""
}

// withoutMarkup returns Markdown as plain text, a line for each block.
func withoutMarkup(src []byte) string {
	var out strings.Builder
	root := markdownParser.Parser().Parse(text.NewReader(src))
	_ = ast.Walk(root, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		switch n.Kind() {
		case ast.KindParagraph, ast.KindTextBlock, ast.KindHeading, extast.KindTableCell:
			out.WriteString(plainText(n, src))
			out.WriteByte('\n')
			return ast.WalkSkipChildren, nil
		case ast.KindCodeBlock, ast.KindFencedCodeBlock, ast.KindHTMLBlock:
			for i := range n.Lines().Len() {
				l := n.Lines().At(i)
				out.Write(l.Value(src))
			}
			return ast.WalkSkipChildren, nil
		}
		return ast.WalkContinue, nil
	})
	return out.String()
}
