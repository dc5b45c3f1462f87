package casefile

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
)

// SetSection puts a text in place of a section's, or adds the section where it
// belongs, and returns the file read anew. Only the bytes of that section
// change. The text is Markdown without a second-level heading of its own.
func (f *File) SetSection(name, text string) (*File, error) {
	body := strings.Trim(strings.ReplaceAll(text, "\r\n", "\n"), "\n")
	if body != "" {
		body = "\n" + body + "\n"
	}
	return f.replaceSection(name, body+"\n")
}

// replaceSection writes the bytes between a section's heading and the next.
func (f *File) replaceSection(name, body string) (*File, error) {
	nl := "\n"
	if bytes.Contains(f.Text.Bytes, []byte("\r\n")) {
		nl = "\r\n"
		body = strings.ReplaceAll(body, "\n", nl)
	}
	src := f.Text.Bytes
	for _, s := range f.Case.Sections {
		if s.Name != name {
			continue
		}
		if s.Stop == len(src) {
			body = strings.TrimRight(body, "\r\n") + nl
			if strings.TrimSpace(body) == "" {
				body = ""
			}
		}
		return f.reparse(slices.Concat(src[:s.Start], []byte(body), src[s.Stop:]), name)
	}
	if strings.TrimSpace(body) == "" {
		return f, nil
	}
	at := len(src)
	rank := slices.Index(SectionNames, name)
	if rank >= 0 {
		for _, s := range f.Case.Sections {
			if slices.Index(SectionNames, s.Name) > rank {
				line, _ := f.Text.Place(s.heading)
				at = f.Text.LineStart(line)
				break
			}
		}
	}
	head := "## " + name + nl
	if at == len(src) {
		body = strings.TrimRight(body, "\r\n") + nl
		if len(src) > 0 && !bytes.HasSuffix(src, []byte("\n")) {
			head = nl + head
		}
		if last := bytes.TrimRight(src, "\r\n"); len(src)-len(last) < 2*len(nl) && len(last) > f.body {
			head = nl + head
		}
	}
	return f.reparse(slices.Concat(src[:at], []byte(head+body), src[at:]), name)
}

// reparse reads changed bytes and makes sure that the section is still one.
func (f *File) reparse(out []byte, name string) (*File, error) {
	next, list := Parse(f.Text.Name, out)
	if next == nil {
		return nil, fmt.Errorf("%w: %s", ErrNotPlain, list[len(list)-1])
	}
	return next, nil
}

// Table is the rows of one of the three tables that are computed on, as plain
// text, with the columns that the workshop added.
type Table struct {
	Columns []string
	Rows    [][]string
}

// Table returns the rows of a section's table; without one its usual columns
// and no row.
func (f *File) Table(section string) Table {
	known, rows := f.tableRows(section)
	t := Table{Columns: slices.Clone(known)}
	if len(rows) > 0 {
		t.Columns = t.Columns[:0]
		for _, c := range rows[0].columns {
			t.Columns = append(t.Columns, c.Text)
		}
	}
	for _, r := range rows {
		row := make([]string, len(t.Columns))
		for i := range min(len(row), len(r.list)) {
			row[i] = r.list[i].Text
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// tableRows are a table's usual columns, and its rows with their places.
func (f *File) tableRows(section string) (known []string, rows []cells) {
	switch section {
	case "Findings":
		known = FindingColumns
		for i := range f.Case.Findings {
			rows = append(rows, f.Case.Findings[i].at)
		}
	case "Measurements":
		known = MeasurementColumns
		for i := range f.Case.Measurements {
			rows = append(rows, f.Case.Measurements[i].at)
		}
	case "Parts":
		known = PartColumns
		for i := range f.Case.Parts {
			rows = append(rows, f.Case.Parts[i].at)
		}
	}
	return known, rows
}

// SetTable puts rows in place of a section's table and returns the file read
// anew. A row, or a cell at its old place, whose text did not change keeps its
// bytes, markup included; the rest of the section stays.
func (f *File) SetTable(section string, t Table) (*File, error) {
	_, old := f.tableRows(section)
	src := f.Text.Bytes
	used := make([]bool, len(old))
	same := func(c cells, row []string) bool {
		if len(c.list) != len(row) || len(c.columns) != len(t.Columns) {
			return false
		}
		for i := range row {
			if c.columns[i].Text != t.Columns[i] || c.list[i].Text != squeeze(row[i]) {
				return false
			}
		}
		return true
	}
	raw := func(c Cell) string { return string(src[c.Start:c.Stop]) }
	var b strings.Builder
	line := func(texts []string) {
		b.WriteByte('|')
		for _, text := range texts {
			if text == "" {
				b.WriteString(" |")
			} else {
				b.WriteString(" " + text + " |")
			}
		}
		b.WriteByte('\n')
	}
	var head []string
	for _, c := range t.Columns {
		head = append(head, escapeCell(c))
	}
	line(head)
	b.WriteString("|" + strings.Repeat("---|", len(t.Columns)) + "\n")
	for i, row := range t.Rows {
		if !slices.ContainsFunc(row, func(s string) bool { return squeeze(s) != "" }) {
			continue
		}
		match := -1
		for j := range old {
			if !used[j] && same(old[j], row) && (match < 0 || j == i) {
				match = j
			}
		}
		if match < 0 && i < len(old) && !used[i] && len(old[i].columns) == len(t.Columns) {
			match = i
		}
		texts := make([]string, len(t.Columns))
		for k := range texts {
			if k >= len(row) {
				continue
			}
			texts[k] = escapeCell(row[k])
			if match >= 0 && k < len(old[match].list) && old[match].columns[k].Text == t.Columns[k] && old[match].list[k].Text == squeeze(row[k]) {
				texts[k] = raw(old[match].list[k])
			}
		}
		if match >= 0 {
			used[match] = true
		}
		line(texts)
	}
	return f.replaceTable(section, b.String())
}

func squeeze(s string) string { return strings.Join(strings.Fields(s), " ") }

func escapeCell(s string) string { return strings.ReplaceAll(EscapeText(squeeze(s)), "\n", " ") }

// replaceTable puts a table in place of the first one of a section, or at the
// section's beginning.
func (f *File) replaceTable(section, table string) (*File, error) {
	for _, s := range f.Case.Sections {
		if s.Name != section {
			continue
		}
		text := string(f.Text.Bytes[s.Start:s.Stop])
		start, stop, ok := tableRange(text)
		if !ok {
			rest := strings.Trim(text, "\r\n")
			if rest != "" {
				rest = "\n" + rest + "\n"
			}
			return f.replaceSection(section, "\n"+table+rest+"\n")
		}
		nl := strings.Contains(text, "\r\n")
		if nl {
			table = strings.ReplaceAll(table, "\n", "\r\n")
		}
		src := f.Text.Bytes
		return f.reparse(slices.Concat(src[:s.Start+start], []byte(table), src[s.Start+stop:]), section)
	}
	return f.replaceSection(section, "\n"+table+"\n")
}

// tableRange finds the lines of the first table of a text: a line with a bar
// before a line of hyphens and bars, up to the next blank line.
func tableRange(text string) (start, stop int, ok bool) {
	lines := strings.SplitAfter(text, "\n")
	at := 0
	for i, l := range lines {
		if strings.Contains(l, "|") && i+1 < len(lines) && strings.Contains(lines[i+1], "-") && strings.Trim(lines[i+1], " |:-\r\n\t") == "" {
			stop = at
			for _, next := range lines[i:] {
				if strings.TrimSpace(next) == "" {
					break
				}
				stop += len(next)
			}
			return at, stop, true
		}
		at += len(l)
	}
	return 0, 0, false
}

// AfterTable returns what stands below the first table of a section, or the
// whole text of a section without one.
func (f *File) AfterTable(section string) string {
	text := f.Section(section)
	if _, stop, ok := tableRange(text); ok {
		text = text[stop:]
	}
	return strings.Trim(strings.ReplaceAll(text, "\r\n", "\n"), "\n")
}

// SetAfterTable puts a text in place of what [File.AfterTable] returns.
func (f *File) SetAfterTable(section, text string) (*File, error) {
	for _, s := range f.Case.Sections {
		if s.Name != section {
			continue
		}
		whole := strings.ReplaceAll(string(f.Text.Bytes[s.Start:s.Stop]), "\r\n", "\n")
		if _, stop, ok := tableRange(whole); ok {
			body := strings.Trim(text, "\n")
			if body != "" {
				body = "\n" + body + "\n"
			}
			return f.replaceSection(section, whole[:stop]+body+"\n")
		}
	}
	return f.SetSection(section, text)
}

// Unset removes a top-level field of the front matter with its lines, and
// returns the file read anew.
func (f *File) Unset(key string) (*File, error) {
	start, stop, ok := f.valueRange(key)
	if !ok {
		return f, nil
	}
	line, _ := f.Text.Place(start - 1)
	src := f.Text.Bytes
	from, to := f.Text.LineStart(line), stop
	if i := bytes.IndexByte(src[to:], '\n'); i >= 0 {
		to += i + 1
	}
	next, list := Parse(f.Text.Name, slices.Concat(src[:from], src[min(to, f.yamlStop):]))
	if next == nil {
		return nil, fmt.Errorf("%w: %s", ErrNotPlain, list[len(list)-1])
	}
	return next, nil
}

// Where says what a place in the file belongs to: a key of the front matter, a
// section, or a cell of one of the three tables. Row is -1 outside a table.
type Where struct {
	Key, Section, Column string
	Row                  int
}

// Where returns what a line and column, as diagnostics give them, belong to.
func (f *File) Where(line, column int) Where {
	w := Where{Row: -1}
	at := f.Text.Offset(line, column)
	if line < 1 {
		return w
	}
	if at < f.body {
		content := f.tree().Content
		for i := 0; i+1 < len(content); i += 2 {
			if start, _ := f.span(content[i]); start <= at {
				w.Key = content[i].Value
			}
		}
		return w
	}
	for _, s := range f.Case.Sections {
		if s.heading <= at && at <= s.Stop {
			w.Section = s.Name
		}
	}
	_, rows := f.tableRows(w.Section)
	for i, r := range rows {
		for k, c := range r.list {
			if l, _ := f.Text.Place(c.Start); l != line {
				continue
			}
			w.Row = i
			if c.Start <= at && k < len(r.columns) {
				w.Column = r.columns[k].Text
			}
		}
	}
	return w
}
