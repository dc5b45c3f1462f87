// Package interview asks for a case question by question: what there is to ask,
// in which order, what an answer must be, and how answers become a case.
//
// Begin with [New] for a new case or [Closing] for one that is to be closed, then
// [Interview.Run] with somebody who asks. An answer is held against the rules of
// `check` as it is given, so that no wrong cell is found out at the end. Answers
// live in a [Draft], which can be written down after each of them and taken up
// again: the interview is run anew with the answers that are there, and asks
// what is missing.
package interview

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchlore/build/notebook"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// ErrBack is returned by an [Asker] whose person wants the question before.
var ErrBack = errors.New("one step back")

// Choice is an answer that is offered, with what it means.
type Choice struct{ Word, Meaning string }

// Question is one thing to be answered.
type Question struct {
	Key     string // stable: "title", "Findings.2.seen"
	Text    string
	Choices []Choice
	// Take returns the answer as it is kept, or says what is wrong with it. An
	// empty answer is taken too, where it leaves a thing out.
	Take func(answer string) (string, error)
}

// Asker puts a question to somebody. It asks again until the answer is taken,
// and returns it as it is kept; [ErrBack] goes one question back.
type Asker func(q Question) (string, error)

// Interview is a conversation about one case.
type Interview struct {
	n     *notebook.Notebook
	draft *Draft
	today string
	given map[string]string // what the command line says already
	// Say tells the person something that is no question.
	Say func(format string, args ...any)
	// Judge applies the rules that look beyond one file to a case that is about to be
	// closed.
	Judge func(next *casefile.File) []diagnostic.Diagnostic
	ask   Asker

	file *casefile.File // of the case that is closed; nil for a new one
	c    casefile.Case
	text map[string]string // section -> Markdown
	rows map[string][][]string

	replays bool            // an answer that was kept is taken again
	told    map[string]bool // warnings that were said
}

// New prepares the interview of a new case. Given are leaves that are known
// already, by their path.
func New(n *notebook.Notebook, d *Draft, given map[string]string, today time.Time) *Interview {
	return &Interview{n: n, draft: d, given: given, today: today.Format(time.DateOnly), Say: func(string, ...any) {},
		Judge: func(*casefile.File) []diagnostic.Diagnostic { return nil }}
}

// Closing prepares the interview that closes a case of the notebook.
func Closing(n *notebook.Notebook, f *casefile.File, d *Draft, today time.Time) *Interview {
	i := New(n, d, map[string]string{}, today)
	i.file = f
	return i
}

// Run asks until all is answered. Answers stay in the draft whatever happens.
func (i *Interview) Run(ask Asker) error {
	i.ask = ask
	for {
		i.text, i.rows = map[string]string{}, map[string][][]string{}
		i.c = casefile.Case{}
		if i.file != nil {
			i.c = i.file.Case
		} else {
			i.c.Opened = i.today
			for _, path := range slices.Sorted(maps.Keys(i.given)) {
				if err := i.put(path, i.given[path]); err != nil {
					return err
				}
			}
		}
		err := i.all()
		if !errors.Is(err, ErrBack) {
			return err
		}
		if !i.draft.dropLast() {
			i.Say("this is the first question")
		}
	}
}

// put sets a leaf of the case under way; it fails where the case cannot be written down
// with it.
func (i *Interview) put(path, value string) error {
	next, err := i.compose(map[string]string{path: value})
	if err != nil {
		return fmt.Errorf("%s: %q cannot be kept: %w", path, value, err)
	}
	c := next.Case
	if i.file == nil { // what stands in for answers that are not there yet
		c.ID = ""
		if i.c.Title == "" && path != "title" {
			c.Title = ""
		}
		if i.c.Device == (casefile.Device{}) && !strings.HasPrefix(path, "device") {
			c.Device = casefile.Device{}
		}
	}
	i.c = c
	return nil
}

// compose is the case as it stands, as a file, with some leaves changed.
func (i *Interview) compose(leaves map[string]string) (*casefile.File, error) {
	c := i.c
	if i.file == nil {
		c.ID = "0000-0000"
		if c.Title == "" {
			c.Title = "untitled"
		}
		if c.Device == (casefile.Device{}) {
			c.Device.Kind = "misc"
		}
	}
	f := i.file
	if f == nil {
		data, err := casefile.Compose(&c, notebook.Template(i.Sections()))
		if err != nil {
			return nil, err
		}
		if f = casefile.Read(i.path(), data); f == nil {
			return nil, errors.New("the answer cannot be written down")
		}
	} else {
		var err error
		if f, err = i.fill(f); err != nil {
			return nil, err
		}
	}
	var err error
	for _, x := range casefile.Fields { // in the order of the file
		if value, ok := leaves[x.Path]; ok {
			if f, err = f.SetLeaf(x.Path, value); err != nil {
				return nil, err
			}
		}
	}
	return f, nil
}

// path is where the case is, or would be.
func (i *Interview) path() string {
	if i.file != nil {
		return i.file.Text.Name
	}
	return "cases/0000/0000-0000.md"
}

// fill puts the answers so far into the file of a case that is closed.
func (i *Interview) fill(f *casefile.File) (*casefile.File, error) {
	var err error
	for _, x := range casefile.Fields {
		if value := i.c.Text(x.Path); x.Kind != casefile.Pictures && value != i.file.Case.Text(x.Path) {
			if f, err = f.SetLeaf(x.Path, value); err != nil {
				return nil, err
			}
		}
	}
	for _, name := range slices.Concat(casefile.SectionNames, casefile.WorkSections) {
		if rows := i.rows[name]; len(rows) > 0 {
			t := f.Table(name)
			for _, row := range rows {
				cells := make([]string, len(t.Columns))
				for k, column := range columnsOf(name) {
					if at := slices.Index(t.Columns, column); at >= 0 {
						cells[at] = row[k]
					}
				}
				t.Rows = append(t.Rows, cells)
			}
			if f, err = f.SetTable(name, t); err != nil {
				return nil, err
			}
		}
		if text := i.text[name]; text != "" {
			if old := strings.TrimSpace(f.AfterTable(name)); old != "" {
				text = old + "\n\n" + text
			}
			if f, err = f.SetAfterTable(name, text); err != nil {
				return nil, err
			}
		}
	}
	return f, nil
}

// Case is what the answers so far come to.
func (i *Interview) Case() casefile.Case { return i.c }

// File is the case that was closed, with the answers in it.
func (i *Interview) File() (*casefile.File, error) { return i.fill(i.file) }

// Sections are the texts and tables so far.
func (i *Interview) Sections() (list []casefile.SectionText) {
	for _, name := range slices.Concat(casefile.SectionNames, casefile.WorkSections) {
		text := i.text[name]
		if rows := i.rows[name]; len(rows) > 0 {
			used, table := filled(name, rows)
			text = strings.TrimSpace(casefile.FormatTable(used, table) + "\n" + text)
		}
		if text != "" {
			list = append(list, casefile.SectionText{Name: name, Text: text})
		}
	}
	return list
}

// filled leaves out the columns that no row fills: of records of work all but those that
// a row cannot be without, of the others when.
func filled(section string, rows [][]string) (used []string, table [][]string) {
	work, needs := casefile.WorkColumns(section)
	table = make([][]string, len(rows))
	for k, column := range columnsOf(section) {
		some := slices.ContainsFunc(rows, func(r []string) bool { return k < len(r) && r[k] != "" })
		optional := column == "when" || work != nil && !slices.Contains(needs, column)
		if !some && optional {
			continue
		}
		used = append(used, column)
		for i, r := range rows {
			if k < len(r) {
				table[i] = append(table[i], r[k])
			}
		}
	}
	return used, table
}

// columns are what a row is asked for, in the order of asking.
var columns = map[string][]string{"Findings": casefile.FindingColumns, "Measurements": casefile.MeasurementColumns,
	"Parts": casefile.PartColumns}

func columnsOf(section string) []string {
	if work, _ := casefile.WorkColumns(section); work != nil {
		return work
	}
	return columns[section]
}

// doubts are the rules whose warnings are said with the answer that they are about; the
// others speak of what is still to come.
var doubts = []diagnostic.Rule{diagnostic.UnknownWhat, diagnostic.LooseTolerance, diagnostic.LongTime, diagnostic.NoProof}

// against holds a file with one more answer against the rules of check, and
// returns the first error that was not there before. A doubt about the answer is said.
func (i *Interview) against(next *casefile.File) error {
	before, err := i.compose(nil)
	if err != nil {
		before = nil
	}
	known := map[string]bool{}
	if before != nil {
		for _, d := range i.n.Check(i.path(), before.Bytes()) {
			known[string(d.Rule)+d.Message] = true
		}
	}
	for _, d := range i.n.Check(i.path(), next.Bytes()) {
		if d.Severity == diagnostic.Error && d.Rule != diagnostic.MissingKey && d.Rule != diagnostic.FileName &&
			d.Rule != diagnostic.NoSymptom && d.Rule != diagnostic.FastenerCount && !known[string(d.Rule)+d.Message] {
			return errors.New(d.Message + diagnostic.DidYouMean(d.Suggestion))
		}
		if d.Severity == diagnostic.Warning && slices.Contains(doubts, d.Rule) && !known[string(d.Rule)+d.Message] &&
			!(d.Rule == diagnostic.NoProof && next.Case.Confirmed == "") {
			i.doubt(d)
		}
	}
	return nil
}

// doubt says a warning once; not to somebody whose kept answers are taken again.
func (i *Interview) doubt(d diagnostic.Diagnostic) {
	if i.told[d.Message] {
		return
	}
	if i.told == nil {
		i.told = map[string]bool{}
	}
	i.told[d.Message] = true
	if !i.replays {
		i.Say("%s", d.Message+diagnostic.DidYouMean(d.Suggestion))
	}
}

// one asks a question whose answer is not in the draft yet.
func (i *Interview) one(q Question) (string, error) {
	if answer, ok := i.draft.take(q.Key); ok {
		i.replays = true
		kept, err := q.Take(answer)
		i.replays = false
		if err == nil {
			return kept, nil
		}
		i.draft.drop(q.Key) // no longer an answer; asked anew
	}
	answer, err := i.ask(q)
	if err != nil {
		return "", err
	}
	return answer, i.draft.put(q.Key, answer)
}

// leaf asks for a leaf of the front matter.
func (i *Interview) leaf(path, question string, choices []Choice) error {
	if i.given[path] != "" || i.c.Text(path) != "" {
		return nil
	}
	field, _ := casefile.FieldAt(path)
	answer, err := i.one(Question{Key: path, Text: question, Choices: choices, Take: func(answer string) (string, error) {
		if answer == "" {
			return "", nil
		}
		if field.Kind == casefile.Word {
			t, err := i.n.FindTerm(field.Class, answer)
			if err != nil {
				return "", err
			}
			if t.ID != answer && !i.draft.has(path) {
				i.Say("  read as %s: %s (back asks again)", t.ID, t.Name)
			}
			answer = t.ID
		}
		next, err := i.compose(map[string]string{path: answer})
		if err != nil {
			return "", err
		}
		return answer, i.against(next)
	}})
	if err == nil && answer != "" {
		err = i.put(path, answer)
	}
	return err
}

// needed is a leaf that no case is without.
func (i *Interview) needed(path, question, missing string) error {
	for i.c.Text(path) == "" {
		if err := i.leaf(path, question, nil); err != nil {
			return err
		}
		if i.c.Text(path) == "" {
			i.Say("%s", missing)
			i.draft.drop(path)
		}
	}
	return nil
}

// choicesOf lists the words of a class.
func choicesOf(v *terms.Vocabulary, c terms.Class) (list []Choice) {
	for _, t := range v.All(c) {
		list = append(list, Choice{t.ID, t.Name + ": " + t.Meaning})
	}
	return list
}

var yesNo = []Choice{{"yes", "or y"}, {"no", "or n"}}

// agree asks a question that is answered with yes or no; the usual answer is
// taken for an empty one, and anything else is asked again.
func agree(key, question string, usual bool) Question {
	hint := " [yes/NO]"
	if usual {
		hint = " [YES/no]"
	}
	return Question{Key: key, Text: question + hint, Choices: yesNo, Take: func(answer string) (string, error) {
		switch strings.ToLower(answer) {
		case "":
			if usual {
				return "yes", nil
			}
			return "no", nil
		case "y", "yes":
			return "yes", nil
		case "n", "no":
			return "no", nil
		}
		return "", fmt.Errorf("%q is neither yes nor no", answer)
	}}
}

func (i *Interview) agree(key, question string, usual bool) (bool, error) {
	answer, err := i.one(agree(key, question, usual))
	return answer == "yes", err
}

// words asks for controlled words in plain words, shows what they were taken for,
// and lets that be refused.
func (i *Interview) words(path, question string) error {
	field, _ := casefile.FieldAt(path)
	if i.c.Text(path) != "" {
		return nil
	}
	var ids []string
	for k := 0; ; k++ {
		key := path + "." + strconv.Itoa(k)
		text := question
		if len(ids) > 0 {
			text = "another, or nothing more"
		}
		answer, err := i.one(Question{Key: key, Text: text, Choices: choicesOf(i.n.Terms, field.Class),
			Take: func(answer string) (string, error) {
				if answer == "" {
					return "", nil
				}
				found, err := i.n.FindTerms(field.Class, []string{answer})
				return strings.Join(found, ", "), err
			}})
		if err != nil {
			return err
		}
		if answer == "" {
			return nil
		}
		for _, id := range casefile.SplitWords(answer) {
			t, ok := i.n.Terms.Lookup(field.Class, id)
			if !ok || slices.Contains(ids, id) {
				continue
			}
			fresh := !i.draft.has(key + "." + id)
			yes, err := i.agree(key+"."+id, "  "+t.Name+": "+t.Meaning, true)
			if err != nil {
				return err
			}
			if yes {
				ids = append(ids, id)
				if err := i.put(path, strings.Join(ids, ", ")); err != nil {
					return err
				}
				if t.Caution != "" && fresh {
					i.Say("  ! %s: %s", t.Name, t.Advice())
				}
			}
		}
	}
}

// prose asks for lines up to an empty one.
func (i *Interview) prose(section, question string) error {
	var lines []string
	for k := 0; ; k++ {
		text := "  "
		if k == 0 {
			text = section + ": " + question + " (an empty line ends it)\n  "
		}
		line, err := i.one(Question{Key: section + ".text." + strconv.Itoa(k), Text: text, Take: func(answer string) (string, error) {
			if answer == "" {
				return "", nil
			}
			saved := i.text[section]
			defer func() { i.text[section] = saved }()
			with := strings.Join(append(slices.Clone(lines), answer), "\n")
			if strings.HasPrefix(answer, "## ") || strings.HasPrefix(answer, "# ") {
				return "", errors.New("a heading would begin another section; use ### within one")
			}
			i.text[section] = with
			next, err := i.compose(nil)
			if err != nil {
				return "", err
			}
			i.text[section] = saved
			return answer, i.against(next)
		}})
		if err != nil {
			return err
		}
		if line == "" {
			return nil
		}
		lines = append(lines, line)
		i.text[section] = strings.Join(lines, "\n")
	}
}

// table asks for rows, cell by cell; an empty first cell ends it.
func (i *Interview) table(section, question string) error {
	head := columnsOf(section)
	for r := 0; ; r++ {
		var row []string
		for k, column := range head {
			if k == 0 && r == 0 && !i.draft.has(section+".0."+column) {
				i.Say("%s: %s", section, question)
			}
			if section == "Parts" && column == "when" && !missing(row) {
				row = append(row, "") // only of what somebody took away may it have been found so
				continue
			}
			text := "  " + column
			if k == first(section) {
				text += " (nothing ends the table)"
			}
			cell, err := i.one(Question{Key: section + "." + strconv.Itoa(r) + "." + column, Text: text,
				Choices: i.cellChoices(section, column), Take: func(answer string) (string, error) {
					return i.cell(section, append(slices.Clone(row), answer), k)
				}})
			if err != nil {
				return err
			}
			row = append(row, cell)
			if k == first(section) && cell == "" {
				return nil
			}
		}
		i.rows[section] = append(i.rows[section], row)
	}
}

// missing reports whether a row of Parts says that something is not there.
func missing(row []string) bool {
	k := slices.Index(casefile.PartColumns, "action")
	return row[k] == "bridged" || row[k] == "left-off"
}

// first is the column that says whether there is another row. A part may have no
// designator.
func first(section string) int {
	if section == "Parts" {
		return 1
	}
	return 0
}

// required are the cells that a row cannot be without.
var required = []string{"check", "result", "point", "read", "part", "action"}

func cannotMiss(section, column string) bool {
	if work, needs := casefile.WorkColumns(section); work != nil {
		return slices.Contains(needs, column)
	}
	return slices.Contains(required, column)
}

// unasked stand in for cells that are not asked yet, so that these are not what is
// found wrong.
func unasked(section, column string, row []string) string {
	switch section + " " + column {
	case "Findings result":
		return "unsure"
	case "Parts action":
		return "reworked"
	case "Injection volts":
		return "0 V"
	case "Jumpers to":
		return row[0]
	case "Firmware sha256":
		return strings.Repeat("0", 64)
	case "Acceptance result":
		return "not done"
	}
	return ""
}

// cell holds a row as far as it is answered against the rules.
func (i *Interview) cell(section string, row []string, k int) (string, error) {
	answer := row[k]
	column := columnsOf(section)[k]
	if answer == "" {
		if k != first(section) && cannotMiss(section, column) {
			return "", fmt.Errorf("a row cannot be without %s", column)
		}
		return "", nil
	}
	if class, ok := map[string]terms.Class{"Findings result": terms.Result, "Parts action": terms.Action}[section+" "+column]; ok {
		t, err := i.n.FindTerm(class, answer)
		if err != nil {
			return "", err
		}
		answer = t.ID
		row[k] = answer
	}
	full := make([]string, len(columnsOf(section)))
	copy(full, row)
	for j, c := range columnsOf(section) {
		if full[j] != "" || j <= k {
			continue
		}
		full[j] = unasked(section, c, row)
	}
	saved := i.rows[section]
	i.rows[section] = append(slices.Clone(saved), full)
	next, err := i.compose(nil)
	i.rows[section] = saved
	if err != nil {
		return "", err
	}
	return answer, i.against(next)
}

func (i *Interview) cellChoices(section, column string) []Choice {
	switch column {
	case "result":
		switch section {
		case "Findings":
			return choicesOf(i.n.Terms, terms.Result)
		case "Acceptance":
			var list []Choice
			for _, result := range casefile.AcceptanceResults {
				list = append(list, Choice{result, ""})
			}
			return list
		}
	case "action":
		return choicesOf(i.n.Terms, terms.Action)
	case "when":
		if section == "Parts" {
			return []Choice{{"found", "somebody had done it before this repair; nothing says that it was done here"}}
		}
		return []Choice{{"before", "taken before the repair; nothing says the same"}, {"after", "taken after the repair"}}
	case "expected":
		return []Choice{{"3.3 V ±5 %", "a value with its tolerance"}, {"300-340 V", "a range"}, {"> 1 MΩ", "a limit"},
			{"OL", "nothing to be measured"}, {"beep", "continuity"}}
	}
	return nil
}
