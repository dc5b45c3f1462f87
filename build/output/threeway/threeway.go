// Package threeway merges a case that two workshops worked on, by field and by row.
//
// [Merge] is a three-way merge: what both had, what stands here, and what came. It adds
// and changes and never takes out: what was taken out there stays here and is named. Where
// both sides changed one field it is a conflict with both texts, and ours stays unless
// the caller says otherwise. [Mark] says on each row whose it is before a case leaves.
package threeway

import (
	"fmt"
	"maps"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"benchlore/schema/casefile"
)

// Conflict is a field or row that differs on both sides.
type Conflict struct{ Where, Ours, Theirs string }

// Options say who is who. Self and Other are the ids of the two workshops.
type Options struct {
	Self, Other string
	Theirs      bool // conflicts are settled by what came
	// Public is ours as it is given away, to tell what cannot be seen there.
	Public *casefile.File
}

// Result is the merged case and what became of each difference.
type Result struct {
	File      *casefile.File
	Taken     []string // changes that came and were made
	Kept      []string // what was taken out there and stays here
	Conflicts []Conflict
}

// by is the column with whose row it is: initials and workshop, such as RK @quayside.
const by = "by"

var markForm = regexp.MustCompile(`^(?:(\p{L}{1,4}(?:\+\p{L}{1,4})*) )?@([a-z0-9]+(?:-[a-z0-9]+)*)$`)

// Tables are the sections whose rows are merged one by one.
var Tables = slices.Concat([]string{"Findings", "Measurements", "Parts"}, casefile.WorkSections)

// keys are the columns by which a changed row is known again.
var keys = map[string][]string{"Findings": {"check", "when"}, "Measurements": {"point", "what", "state", "when"}, "Parts": {"ref", "part"},
	"Injection": {"net"}, "Rework": {"part"}, "Jumpers": {"from", "to"}, "Firmware": {"chip"}, "Acceptance": {"test"}}

// groups are fields that say one thing together: half of each side would be a third.
var groups = [][]string{{"closed", "outcome", "barrier", "confirmed"}, {"cause.fault", "cause.at", "cause.origin"},
	{"fasteners.out", "fasteners.in", "fasteners.reason"}}

// owned reports whether a field is each workshop's own and never merged.
func owned(path string) bool {
	head, _, _ := strings.Cut(path, ".")
	return slices.Contains([]string{"case", "from", "device", "returns", "minutes", "cost", "source", "photos", "by"}, head)
}

type merger struct {
	Options
	Result
	base, ours, theirs *casefile.File
}

// Merge returns ours with what came in theirs. Base is what both had, nil where that is
// not known: whatever differs is a conflict then. Ours keeps every byte that no change
// touches, what is private among them.
func Merge(base, ours, theirs *casefile.File, o Options) (*Result, error) {
	m := merger{Options: o, base: base, ours: ours, theirs: theirs}
	m.File = ours
	if m.Public == nil {
		m.Public = ours
	}
	for _, step := range []func() error{m.fields, m.initials, m.photos, m.tables, m.benches, m.texts} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	return &m.Result, nil
}

func (m *merger) baseValue(path string) string {
	if m.base == nil {
		return ""
	}
	return m.base.Value(path)
}

// settle says what becomes of one text.
func (m *merger) settle(where, base, ours, theirs string) (take bool) {
	switch {
	case theirs == ours, theirs == base:
		return false
	case theirs == "":
		m.Kept = append(m.Kept, where+": "+ours)
		return false
	case ours == base:
		m.Taken = append(m.Taken, fmt.Sprintf("%s: %s", where, theirs))
		return true
	}
	m.Conflicts = append(m.Conflicts, Conflict{where, ours, theirs})
	return m.Theirs
}

func (m *merger) set(path, text string) (err error) {
	m.File, err = m.File.SetLeaf(path, text)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}

func (m *merger) fields() error {
	grouped := map[string]bool{}
	for _, g := range groups {
		text := func(value func(string) string) string {
			var parts []string
			for _, path := range g {
				grouped[path] = true
				if v := value(path); v != "" {
					parts = append(parts, path+" "+v)
				}
			}
			return strings.Join(parts, ", ")
		}
		if !m.settle(strings.SplitN(g[0], ".", 2)[0], text(m.baseValue), text(m.ours.Value), text(m.theirs.Value)) {
			continue
		}
		for _, path := range g {
			if v := m.theirs.Value(path); v != m.File.Value(path) {
				if err := m.set(path, v); err != nil {
					return err
				}
			}
		}
	}
	for _, f := range casefile.Fields {
		if f.Label == "" || grouped[f.Path] || owned(f.Path) {
			continue
		}
		base, ours, theirs := m.baseValue(f.Path), m.ours.Value(f.Path), m.theirs.Value(f.Path)
		if f.List() {
			if err := m.list(f.Path, casefile.SplitWords(base), casefile.SplitWords(ours), casefile.SplitWords(theirs)); err != nil {
				return err
			}
			continue
		}
		if m.settle(f.Path, base, ours, theirs) {
			if err := m.set(f.Path, theirs); err != nil {
				return err
			}
		}
	}
	return nil
}

// list adds the words that came. A hazard is thereby never lost by a merge.
func (m *merger) list(path string, base, ours, theirs []string) error {
	next := slices.Clone(ours)
	for _, w := range theirs {
		if !slices.Contains(next, w) && !slices.Contains(base, w) {
			next = append(next, w)
			m.Taken = append(m.Taken, path+": "+w)
		}
	}
	for _, w := range ours {
		if slices.Contains(base, w) && !slices.Contains(theirs, w) {
			m.Kept = append(m.Kept, path+": "+w)
		}
	}
	if len(next) == len(ours) {
		return nil
	}
	return m.set(path, strings.Join(next, ", "))
}

// initials joins who worked on it.
func (m *merger) initials() error {
	var next []string
	for _, text := range []string{m.ours.Case.By, m.theirs.Case.By} {
		for w := range strings.SplitSeq(text, "+") {
			if w != "" && !slices.Contains(next, w) {
				next = append(next, w)
			}
		}
	}
	if joined := strings.Join(next, "+"); joined != m.ours.Case.By && joined != "" {
		m.Taken = append(m.Taken, "by: "+joined)
		return m.set("by", joined)
	}
	return nil
}

func (m *merger) photos() error {
	list, changed := slices.Clone(m.ours.Case.Photos), false
	find := func(in []casefile.Photo, name string) int {
		return slices.IndexFunc(in, func(p casefile.Photo) bool { return p.File == name })
	}
	var had []casefile.Photo
	if m.base != nil {
		had = m.base.Case.Photos
	}
	for _, p := range m.theirs.Case.Photos {
		b, o := find(had, p.File), find(list, p.File)
		switch {
		case o < 0 && b < 0:
			list, changed = append(list, p), true
			m.Taken = append(m.Taken, "picture "+p.File)
		case o < 0 || b >= 0 && reflect.DeepEqual(had[b], p) || reflect.DeepEqual(list[o], p):
		case b >= 0 && reflect.DeepEqual(had[b], list[o]):
			list[o], changed = p, true
			m.Taken = append(m.Taken, "what is said of picture "+p.File)
		default:
			m.Conflicts = append(m.Conflicts, Conflict{"picture " + p.File, fmt.Sprint(list[o]), fmt.Sprint(p)})
			if m.Theirs {
				list[o], changed = p, true
			}
		}
	}
	for _, p := range list {
		if find(had, p.File) >= 0 && find(m.theirs.Case.Photos, p.File) < 0 {
			m.Kept = append(m.Kept, "picture "+p.File)
		}
	}
	if !changed {
		return nil
	}
	next, err := m.File.SetPhotos(list)
	if err == nil {
		m.File = next
	}
	return err
}

// row is a row with whose it is, its cells by column without that.
type row struct {
	origin, mark string
	cells        map[string]string
}

func (r row) text() string {
	var parts []string
	for _, c := range slices.Sorted(maps.Keys(r.cells)) {
		parts = append(parts, c+" "+r.cells[c])
	}
	return strings.Join(parts, ", ")
}

func (r row) key(section string) string {
	out := r.origin
	for _, c := range keys[section] {
		out += "\x00" + r.cells[c]
	}
	return out
}

// rowsOf reads a table; a row that says nothing of whose it is is self's.
func rowsOf(f *casefile.File, section, self string) (columns []string, out []row) {
	if f == nil {
		return nil, nil
	}
	t := f.Table(section)
	for _, texts := range t.Rows {
		r := row{origin: self, cells: map[string]string{}}
		for i, c := range t.Columns {
			if strings.EqualFold(c, by) {
				r.mark = texts[i]
				if found := markForm.FindStringSubmatch(texts[i]); found != nil {
					r.origin = found[2]
				}
				continue
			}
			if text := strings.Join(strings.Fields(texts[i]), " "); text != "" {
				r.cells[c] = text
			}
		}
		out = append(out, r)
	}
	return t.Columns, out
}

// pair finds for each row of a the row of b that is the same, or -1: equal ones first,
// then those with one key.
func pair(section string, a, b []row) []int {
	out, used := make([]int, len(a)), make([]bool, len(b))
	for i := range out {
		out[i] = -1
	}
	for _, same := range []func(x, y row) bool{
		func(x, y row) bool { return x.origin == y.origin && maps.Equal(x.cells, y.cells) },
		func(x, y row) bool { return x.key(section) == y.key(section) },
	} {
		for i := range a {
			for j := range b {
				if out[i] < 0 && !used[j] && same(a[i], b[j]) {
					out[i], used[j] = j, true
				}
			}
		}
	}
	return out
}

func (m *merger) tables() error {
	for _, section := range Tables {
		if err := m.table(section); err != nil {
			return fmt.Errorf("%s: %w", section, err)
		}
	}
	return nil
}

func (m *merger) table(section string) error {
	columns, ours := rowsOf(m.ours, section, m.Self)
	more, theirs := rowsOf(m.theirs, section, m.Other)
	_, base := rowsOf(m.base, section, m.Self)
	inOurs, inTheirs := pair(section, base, ours), pair(section, base, theirs)
	oursDone, theirsDone := make([]bool, len(ours)), make([]bool, len(theirs))
	changed := false
	var added []row
	cells := func(o int, was map[string]string, t row) {
		for _, c := range more {
			if strings.EqualFold(c, by) {
				continue
			}
			if m.settle(section+", "+ours[o].text()+": "+c, was[c], ours[o].cells[c], t.cells[c]) {
				ours[o].cells[c], changed = t.cells[c], true
			}
		}
	}
	for b := range base {
		o, t := inOurs[b], inTheirs[b]
		if o >= 0 {
			oursDone[o] = true
		}
		if t >= 0 {
			theirsDone[t] = true
		}
		switch {
		case o >= 0 && t >= 0:
			cells(o, base[b].cells, theirs[t])
		case o >= 0:
			m.Kept = append(m.Kept, section+": "+ours[o].text())
		case t >= 0 && !maps.Equal(theirs[t].cells, base[b].cells):
			m.Conflicts = append(m.Conflicts, Conflict{section, "", theirs[t].text()})
			if m.Theirs {
				added = append(added, theirs[t])
			}
		}
	}
	// What base does not know: rows of both sides, told apart by whose they are.
	rest := func(rows []row, done []bool) (out []row, at []int) {
		for i, r := range rows {
			if !done[i] {
				out, at = append(out, r), append(at, i)
			}
		}
		return out, at
	}
	came, _ := rest(theirs, theirsDone)
	here, at := rest(ours, oursDone)
	for i, j := range pair(section, came, here) {
		switch {
		case j >= 0:
			cells(at[j], nil, came[i])
		default:
			added = append(added, came[i])
		}
	}
	for _, r := range added {
		if r.origin == m.Self || !markForm.MatchString(r.mark) {
			// It says that it is ours and is not known here: it came from them.
			r.mark = "@" + m.Other
		}
		m.Taken = append(m.Taken, section+": "+r.text())
		ours, changed = append(ours, r), true
	}
	if !changed {
		return nil
	}
	for _, c := range more {
		if !slices.Contains(columns, c) && !slices.ContainsFunc(columns, func(x string) bool { return strings.EqualFold(x, c) }) {
			columns = append(columns, c)
		}
	}
	return m.setTable(section, columns, ours)
}

func (m *merger) setTable(section string, columns []string, rows []row) (err error) {
	m.File, err = setRows(m.File, section, columns, rows)
	return err
}

func setRows(f *casefile.File, section string, columns []string, rows []row) (*casefile.File, error) {
	column := func(c string) bool { return strings.EqualFold(c, by) }
	if !slices.ContainsFunc(columns, column) && slices.ContainsFunc(rows, func(r row) bool { return r.mark != "" }) {
		columns = append(slices.Clone(columns), by)
	}
	t := casefile.Table{Columns: columns}
	for _, r := range rows {
		texts := make([]string, len(columns))
		for i, c := range columns {
			texts[i] = r.cells[c]
			if column(c) {
				texts[i] = r.mark
			}
		}
		t.Rows = append(t.Rows, texts)
	}
	return f.SetTable(section, t)
}

// benches takes over what the others say of their own minutes and cost.
func (m *merger) benches() error {
	ours, theirs := m.ours.Table(casefile.BenchSection), m.theirs.Table(casefile.BenchSection)
	get := func(t casefile.Table, r []string, c string) string {
		if i := slices.Index(t.Columns, c); i >= 0 {
			return r[i]
		}
		return ""
	}
	rows, changed := ours.Rows, false
	for _, r := range theirs.Rows {
		shop := get(theirs, r, "workshop")
		if shop == m.Self || shop == "" {
			continue
		}
		next := make([]string, len(ours.Columns))
		for i, c := range ours.Columns {
			next[i] = get(theirs, r, c)
		}
		at := slices.IndexFunc(rows, func(r []string) bool { return get(ours, r, "workshop") == shop })
		switch {
		case at < 0:
			rows, changed = append(rows, next), true
		case shop == m.Other && !slices.Equal(rows[at], next): // it speaks for itself alone
			rows[at], changed = next, true
		default:
			continue
		}
		m.Taken = append(m.Taken, fmt.Sprintf("%s: %s", casefile.BenchSection, strings.Join(next, " ")))
	}
	if !changed {
		return nil
	}
	next, err := m.File.SetTable(casefile.BenchSection, casefile.Table{Columns: ours.Columns, Rows: rows})
	if err == nil {
		m.File = next
	}
	return err
}

func textOf(f *casefile.File, name string) string {
	switch {
	case f == nil:
		return ""
	case slices.Contains(Tables, name):
		return f.AfterTable(name)
	}
	return strings.Trim(strings.ReplaceAll(f.Section(name), "\r\n", "\n"), "\n")
}

func (m *merger) texts() error {
	for _, s := range m.theirs.Case.Sections {
		if s.Name == "" || s.Name == casefile.BenchSection {
			continue
		}
		ours, theirs := textOf(m.Public, s.Name), textOf(m.theirs, s.Name)
		before := len(m.Taken)
		if !m.settle(s.Name, textOf(m.base, s.Name), ours, theirs) {
			continue
		}
		if textOf(m.ours, s.Name) != ours {
			// Something stands in ours that does not leave; it would be lost.
			m.Taken = m.Taken[:before]
			if c := (Conflict{s.Name, ours, theirs}); !slices.Contains(m.Conflicts, c) {
				m.Conflicts = append(m.Conflicts, c)
			}
			continue
		}
		var err error
		if slices.Contains(Tables, s.Name) {
			m.File, err = m.File.SetAfterTable(s.Name, theirs)
		} else {
			m.File, err = m.File.SetSection(s.Name, theirs)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", s.Name, err)
		}
		if textOf(m.File, s.Name) != theirs {
			return fmt.Errorf("%s: this text would swallow what follows", s.Name)
		}
	}
	return nil
}

// Mark says on each row of a case that says nothing yet whose it is, and moves minutes and
// cost to the row of the workshop under [casefile.BenchSection], so that those of several
// benches stay apart. Initials may be empty: nothing is guessed.
func Mark(f *casefile.File, self, initials, currency string) (*casefile.File, error) {
	for _, section := range Tables {
		columns, rows := rowsOf(f, section, self)
		changed := false
		for i := range rows {
			if markForm.MatchString(rows[i].mark) {
				continue
			}
			who := initials
			if ownInitials.MatchString(rows[i].mark) {
				who = rows[i].mark
			}
			rows[i].mark, changed = strings.TrimSpace(who+" @"+self), true
		}
		if !changed {
			continue
		}
		next, err := setRows(f, section, columns, rows)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", section, err)
		}
		f = next
	}
	if f.Case.Minutes == nil && f.Case.Cost == nil {
		return f, nil
	}
	t := f.Table(casefile.BenchSection)
	value := map[string]string{"workshop": self, "by": initials, "diagnosis": f.Value("minutes.diagnosis"), "repair": f.Value("minutes.repair"),
		"parts": f.Value("cost.parts"), "charged": f.Value("cost.charged")}
	if f.Case.Cost != nil {
		value["currency"] = currency
	}
	own := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		own[i] = value[c]
	}
	at := slices.Index(t.Columns, "workshop")
	t.Rows = append(slices.DeleteFunc(t.Rows, func(r []string) bool { return r[at] == self }), own)
	next, err := f.SetTable(casefile.BenchSection, t)
	for _, key := range []string{"minutes", "cost"} {
		if err == nil {
			next, err = next.Unset(key)
		}
	}
	return next, err
}

var ownInitials = regexp.MustCompile(`^\p{L}{1,4}(\+\p{L}{1,4})*$`)
