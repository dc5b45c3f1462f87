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
	rank := slices.Index(SectionOrder, name)
	if rank >= 0 {
		for _, s := range f.Case.Sections {
			if slices.Index(SectionOrder, s.Name) > rank {
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
		return nil, fmt.Errorf("%w: %s", errNotPlain, list[len(list)-1])
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
// and no row. Usual columns that the file's table lacks come last and are empty.
func (f *File) Table(section string) Table {
	known, rows := f.tableRows(section)
	t := Table{}
	if len(rows) > 0 {
		for _, c := range rows[0].columns {
			t.Columns = append(t.Columns, c.Text)
		}
	}
	for _, c := range known {
		if !slices.Contains(t.Columns, c) {
			t.Columns = append(t.Columns, c)
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

// lean leaves out usual columns that the file's table does not have and that no
// row fills.
func (f *File) lean(section string, t Table) Table {
	known, rows := f.tableRows(section)
	out := Table{Rows: make([][]string, len(t.Rows))}
	for k, column := range t.Columns {
		has := len(rows) == 0 && column != "when" || len(rows) > 0 &&
			slices.ContainsFunc(rows[0].columns, func(c cell) bool { return c.Text == column })
		filled := slices.ContainsFunc(t.Rows, func(r []string) bool { return k < len(r) && squeeze(r[k]) != "" })
		if !has && !filled && slices.Contains(known, column) {
			continue
		}
		out.Columns = append(out.Columns, column)
		for i, r := range t.Rows {
			cell := ""
			if k < len(r) {
				cell = r[k]
			}
			out.Rows[i] = append(out.Rows[i], cell)
		}
	}
	return out
}

// tableRows are a table's usual columns, and its rows with their places.
func (f *File) tableRows(section string) (known []string, rows []cells) {
	switch section {
	case "Findings":
		for i := range f.Case.Findings {
			rows = append(rows, f.Case.Findings[i].at)
		}
	case "Measurements":
		for i := range f.Case.Measurements {
			rows = append(rows, f.Case.Measurements[i].at)
		}
	case "Parts":
		for i := range f.Case.Parts {
			rows = append(rows, f.Case.Parts[i].at)
		}
	default:
		for i := range f.Case.Work {
			if f.Case.Work[i].Section == section {
				rows = append(rows, f.Case.Work[i].at)
			}
		}
	}
	return tableColumns[section], rows
}

// SetTable puts rows in place of a section's table and returns the file read
// anew. A row, or a cell at its old place, whose text did not change keeps its
// bytes, markup included; the rest of the section stays.
func (f *File) SetTable(section string, t Table) (*File, error) {
	_, old := f.tableRows(section)
	if len(t.Rows) == 0 && !slices.ContainsFunc(f.Case.Sections, func(s Section) bool { return s.Name == section }) {
		return f, nil
	}
	t = f.lean(section, t)
	src := f.Text.Bytes
	used := make([]bool, len(old))
	same := func(c cells, row []string) bool {
		if len(c.columns) > len(t.Columns) || len(c.list) > len(row) {
			return false
		}
		for _, text := range row[len(c.list):] {
			if squeeze(text) != "" {
				return false
			}
		}
		row = row[:len(c.list)]
		for i := range row {
			if c.columns[i].Text != t.Columns[i] || c.list[i].Text != squeeze(row[i]) {
				return false
			}
		}
		return true
	}
	raw := func(c cell) string { return string(src[c.Start:c.Stop]) }
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
		if match < 0 && i < len(old) && !used[i] && len(old[i].columns) <= len(t.Columns) {
			match = i
		}
		texts := make([]string, len(t.Columns))
		for k := range texts {
			if k >= len(row) {
				continue
			}
			texts[k] = escapeCell(row[k])
			if match >= 0 && k < len(old[match].list) && k < len(old[match].columns) &&
				old[match].columns[k].Text == t.Columns[k] && old[match].list[k].Text == squeeze(row[k]) {
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

// replaceTable puts a table in place of the first one of a section, or at the
// section's beginning.
func (f *File) replaceTable(section, table string) (*File, error) {
	for _, s := range f.Case.Sections {
		if s.Name != section {
			continue
		}
		src := f.Text.Bytes
		if s.TableStop == 0 {
			rest := strings.Trim(string(src[s.Start:s.Stop]), "\r\n")
			if rest != "" {
				rest = "\n" + rest + "\n"
			}
			return f.replaceSection(section, "\n"+table+rest+"\n")
		}
		if bytes.Contains(src[s.TableStart:s.TableStop], []byte("\r\n")) {
			table = strings.ReplaceAll(table, "\n", "\r\n")
		}
		return f.reparse(slices.Concat(src[:s.TableStart], []byte(table), src[s.TableStop:]), section)
	}
	return f.replaceSection(section, "\n"+table+"\n")
}

// AfterTable returns what stands below the first table of a section, or the
// whole text of a section without one.
func (f *File) AfterTable(section string) string {
	text := f.Section(section)
	for _, s := range f.Case.Sections {
		if s.Name == section && s.TableStop > 0 {
			text = string(f.Text.Bytes[s.TableStop:s.Stop])
		}
	}
	return strings.Trim(strings.ReplaceAll(text, "\r\n", "\n"), "\n")
}

// SetAfterTable puts a text in place of what [File.AfterTable] returns.
func (f *File) SetAfterTable(section, text string) (*File, error) {
	for _, s := range f.Case.Sections {
		if s.Name != section || s.TableStop == 0 {
			continue
		}
		before := strings.ReplaceAll(string(f.Text.Bytes[s.Start:s.TableStop]), "\r\n", "\n")
		body := strings.Trim(text, "\n")
		if body != "" {
			body = "\n" + body + "\n"
		}
		return f.replaceSection(section, before+body+"\n")
	}
	return f.SetSection(section, text)
}

// Unset removes a top-level field of the front matter with its lines, and
// returns the file read anew.
func (f *File) Unset(key string) (*File, error) {
	out, err := f.unset(key)
	if err != nil {
		return nil, err
	}
	return f.changed(out, []string{key})
}

func (f *File) unset(key string) ([]byte, error) {
	start, stop, ok := f.valueRange(key)
	if !ok {
		return f.Text.Bytes, nil
	}
	line, _ := f.Text.Place(start - 1)
	src := f.Text.Bytes
	from, to := f.Text.LineStart(line), stop
	if i := bytes.IndexByte(src[to:], '\n'); i >= 0 {
		to += i + 1
	}
	return slices.Concat(src[:from], src[min(to, f.yamlStop):]), nil
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
