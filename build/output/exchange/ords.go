// Package exchange brings repairs in from other sources and gives them out.
//
// [ImportORDS] and [ExportORDS] speak the Open Repair Data Standard v0.3: CSV
// after RFC 4180, one row an attempt, with the field names of ordsHeader. Reading
// is lenient where the standard's own documents differ, writing follows its
// code lists. A round trip keeps every field that the standard names.
package exchange

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/schema/casefile"
	"benchlore/schema/filename"
	"benchlore/schema/privacy"
	"benchlore/schema/terms"
)

// ordsHeader is the header row of the standard's published data file.
var ordsHeader = []string{"id", "data_provider", "country", "partner_product_category", "product_category", "product_category_id",
	"brand", "year_of_manufacture", "product_age", "repair_status", "repair_barrier_if_end_of_life", "group_identifier",
	"event_date", "problem"}

// recordDate is a field that the text of the standard lists and the published
// file lacks; it is kept when a file has it.
const recordDate = "record_date"

// Personal says what becomes of rows with a text that looks like personal data.
type Personal string

// Such a row is kept as it is, which stops publishing until somebody looked at it;
// or left out; or taken with the text blanked.
const (
	KeepPersonal  Personal = "keep"
	LeaveOut      Personal = "leave-out"
	BlankPersonal Personal = "blank"
)

// blankedText stands where a text was that looked like personal data.
const blankedText = "(left out)"

// Options of an import. Whose data it is and under which licence only its user
// knows; without a credit each row is credited to its own provider column.
type Options struct {
	Credit, Licence string
	Personal        Personal // KeepPersonal when empty
	Guess           string   // GuessSymptoms when empty
	// Told is called for each row with a text that looks like personal data, with
	// what it looks like; it may be nil.
	Told func(line int, kind string)
}

// What a program may read from the text of a record where nobody chose it.
const GuessSymptoms, GuessNone = "symptoms", "none"

// BadRow is a row that was not imported; Line is 1-based in the file.
type BadRow struct {
	Line   int
	Reason string
}

// Summary counts what an import did with each row.
type Summary struct {
	Rows        int // data rows seen
	Written     int // new case files
	Unchanged   int // that were there already, byte for byte
	Kept        int // that were there already, edited since; left as they are
	Bad         int
	Personal    int // rows with a text that looks like personal data
	LeftOut     int // of those, left out; they count as bad too
	WithSymptom int // rows taken whose text gave at least one symptom
	LongText    int // rows taken with 20 characters of text or more
	LongSymptom int // of those, rows with at least one symptom
}

// ErrNotORDS is returned for a file whose first row is not the standard's header.
var ErrNotORDS = errors.New("not a file of the Open Repair Data Standard")

// ImportORDS reads rows from r and writes a case file for each into the
// notebook folder dir. Bad rows are told to bad one by one and left out; the
// error is for what stops the whole import. It streams: memory does not grow
// with the file beyond the ids seen.
func ImportORDS(ctx context.Context, r io.Reader, dir string, v *terms.Vocabulary, o Options, bad func(BadRow)) (Summary, error) {
	return importORDS(ctx, r, dir, v, o, bad, importLimits{maxImported, maxRow})
}

// importLimits are how many rows an import takes and how many bytes one of them has.
type importLimits struct{ rows, row int }

// The file that the Open Repair Alliance publishes has some 250 thousand rows; a row of it
// some hundred bytes.
const (
	maxImported = 900_000
	maxRow      = 1 << 20
)

// ErrTooMuch is returned for a file that goes beyond a limit, which its text names.
var ErrTooMuch = errors.New("more than is taken in at once")

// rowGuard counts the bytes that are read for one row, and ends a row that has no end
// before it fills the memory.
type rowGuard struct {
	r          io.Reader
	read, most int
	tooLong    bool
}

func (g *rowGuard) Read(p []byte) (int, error) {
	if g.read > g.most {
		g.tooLong = true
		return 0, fmt.Errorf("%w: a row has more than %d bytes; is a quotation mark not closed?", ErrTooMuch, g.most)
	}
	n, err := g.r.Read(p[:min(len(p), g.most+1)])
	g.read += n
	return n, err
}

func importORDS(ctx context.Context, r io.Reader, dir string, v *terms.Vocabulary, o Options, bad func(BadRow), most importLimits) (Summary, error) {
	var sum Summary
	disk.Folder(dir).SweepTemporary("cases", "devices")
	guard := &rowGuard{r: &keepBreaks{r: skipBOM(r)}, most: most.row}
	in := csv.NewReader(guard)
	in.FieldsPerRecord = -1
	in.ReuseRecord = true
	header, err := in.Read()
	if guard.tooLong {
		return sum, err
	}
	if err != nil {
		return sum, fmt.Errorf("%w: %v", ErrNotORDS, err)
	}
	columns, err := readHeader(header)
	if err != nil {
		return sum, err
	}
	width := len(header)
	seen := map[string]int{}
	for {
		if err := ctx.Err(); err != nil {
			return sum, err
		}
		guard.read = 0
		record, err := in.Read()
		if errors.Is(err, io.EOF) {
			return sum, nil
		}
		if guard.tooLong {
			return sum, fmt.Errorf("row %d: %w", sum.Rows+1, err)
		}
		if sum.Rows == most.rows {
			return sum, fmt.Errorf("%w: the file has more than %d rows, which are in; part the file and take in the rest", ErrTooMuch, most.rows)
		}
		sum.Rows++
		line, reason := 0, ""
		var parse *csv.ParseError
		switch {
		case errors.As(err, &parse):
			line, reason = parse.StartLine, "the row cannot be read: "+quoteReason(parse)
		case err != nil:
			return sum, err
		case len(record) < width:
			line, _ = in.FieldPos(0)
			reason = fmt.Sprintf("the row has %d of %d fields; it may be cut off", len(record), width)
		case len(record) > width:
			line, _ = in.FieldPos(0)
			reason = fmt.Sprintf("the row has %d fields, the header %d; is a comma outside quotes?", len(record), width)
		default:
			line, _ = in.FieldPos(0)
			reason, err = importRow(columns, record, line, dir, v, o, seen, &sum)
			if err != nil {
				return sum, err
			}
		}
		if reason != "" {
			sum.Bad++
			bad(BadRow{line, reason})
		}
	}
}

func quoteReason(e *csv.ParseError) string {
	if errors.Is(e.Err, csv.ErrQuote) || errors.Is(e.Err, csv.ErrBareQuote) {
		return "a quotation mark is not closed or not doubled"
	}
	return e.Err.Error()
}

func skipBOM(r io.Reader) *bufio.Reader {
	b := bufio.NewReaderSize(r, 64<<10)
	if start, err := b.Peek(3); err == nil && string(start) == "\xef\xbb\xbf" {
		_, _ = b.Discard(3)
	}
	return b
}

// readHeader maps field names to columns. Names may stand in any order and any
// case; unknown columns are passed over.
func readHeader(header []string) (map[string]int, error) {
	columns := map[string]int{}
	for i, h := range header {
		name := strings.ToLower(strings.TrimSpace(h))
		if name == "product_age_estimate" {
			name = "product_age"
		}
		columns[name] = i
	}
	for _, need := range []string{"id", "problem", "product_category", "repair_status", "event_date"} {
		if _, ok := columns[need]; !ok {
			return nil, fmt.Errorf("%w: the first row has no column %q", ErrNotORDS, need)
		}
	}
	return columns, nil
}

// importRow writes one case. The reason is why the row was left out.
func importRow(columns map[string]int, record []string, line int, dir string, v *terms.Vocabulary, o Options,
	seen map[string]int, sum *Summary) (reason string, err error) {
	get := func(name string) string {
		if i, ok := columns[name]; ok {
			return strings.Clone(record[i])
		}
		return ""
	}
	for name, i := range columns {
		if !utf8.ValidString(record[i]) {
			return fmt.Sprintf("%s is not UTF-8; save the file as UTF-8", name), nil
		}
		if strings.ContainsRune(record[i], 0) {
			return fmt.Sprintf("%s holds a zero byte", name), nil
		}
		if len(record[i]) > 100_000 || name != "problem" && utf8.RuneCountInString(record[i]) > 500 {
			return fmt.Sprintf("%s is too long: %d bytes", name, len(record[i])), nil
		}
	}
	id := strings.TrimSpace(get("id"))
	if id == "" {
		return "id is empty", nil
	}
	if first, ok := seen[id]; ok {
		return fmt.Sprintf("id %q stands already on line %d", id, first), nil
	}
	seen[id] = line
	c, reason := rowCase(get, v, o)
	if reason != "" {
		return reason, nil
	}
	data, err := compose(c, get("problem"))
	if err != nil {
		return err.Error(), nil
	}
	// As a run that kept everything wrote it, which is replaced where nobody
	// edited it since.
	folder := disk.Folder(dir)
	plain, plainTarget := data, filepath.ToSlash(notebook.CasePath(c.ID, c.Opened, c.Title))
	if found := privacy.Scan(data); len(found) > 0 {
		sum.Personal++
		if o.Told != nil {
			o.Told(line, string(found[0].Kind))
		}
		switch o.Personal {
		case LeaveOut:
			sum.LeftOut++
			return fmt.Sprintf("it may hold a customer's %s and was left out", found[0].Kind), nil
		case BlankPersonal:
			blanked := func(name string) string { return blank(get(name)) }
			if c, reason = rowCase(blanked, v, o); reason != "" {
				return reason, nil
			}
			if data, err = compose(c, blanked("problem")); err != nil {
				return err.Error(), nil
			}
			if len(privacy.Scan(data)) > 0 {
				sum.LeftOut++
				return fmt.Sprintf("it may hold a customer's %s that cannot be blanked, and was left out", found[0].Kind), nil
			}
		}
	}
	target := filepath.ToSlash(notebook.CasePath(c.ID, c.Opened, c.Title))
	if target != plainTarget {
		if _, err := folder.RemoveIf(plainTarget, c.ID, func(have []byte) bool { return bytes.Equal(have, plain) }); err != nil {
			return "", err
		}
	}
	count := &sum.Written
	err = folder.Change(target, c.ID, func(have []byte) ([]byte, error) {
		switch {
		case have == nil, bytes.Equal(have, plain) && !bytes.Equal(have, data): // nobody edited it since it was taken whole
			return data, nil
		case bytes.Equal(have, data):
			count = &sum.Unchanged
		default:
			count = &sum.Kept
		}
		return nil, nil
	})
	if err != nil {
		return "", err
	}
	*count++
	if len(c.Symptoms) > 0 {
		sum.WithSymptom++
	}
	if utf8.RuneCountInString(get("problem")) >= 20 {
		sum.LongText++
		if len(c.Symptoms) > 0 {
			sum.LongSymptom++
		}
	}
	return "", nil
}

// blank puts blankedText in the place of what looks like personal data.
func blank(text string) string {
	var b strings.Builder
	at := 0
	for _, f := range privacy.Scan([]byte(text)) {
		if f.Start < at {
			continue
		}
		b.WriteString(text[at:f.Start] + blankedText)
		at = f.Stop
	}
	return b.String() + text[at:]
}

func rowCase(get func(string) string, v *terms.Vocabulary, o Options) (*casefile.Case, string) {
	c := &casefile.Case{ID: caseID(strings.TrimSpace(get("id")))}
	date := strings.TrimSpace(get("event_date"))
	if _, ok := casefile.Day(date); !ok {
		return nil, fmt.Sprintf("event_date %q is not a day as YYYY-MM-DD", date)
	}
	c.Opened, c.Closed = date, date
	kind := findKind(v, get("product_category"), get("product_category_id"))
	c.Device = casefile.Device{Kind: kind.ID}
	if brand := oneLine(get("brand"), 120); brand != "" && !strings.EqualFold(brand, "unknown") {
		c.Device.Maker = brand
	}
	c.Outcome = findStandard(v, terms.Outcome, get("repair_status"), "unknown")
	barrier := findStandard(v, terms.Barrier, get("repair_barrier_if_end_of_life"), "")
	if c.Outcome == "end-of-life" {
		c.Barrier = barrier
	}
	problem := get("problem")
	if o.Guess != GuessNone {
		for _, m := range v.Recognise(terms.Symptom, problem) {
			if !slices.Contains(c.Symptoms, m.Term.ID) {
				c.Symptoms = append(c.Symptoms, m.Term.ID)
			}
		}
	}
	c.Title = title(kind.Name, problem)
	c.Source = &casefile.Source{Standard: "open-repair-data", ID: get("id"), Provider: get("data_provider"), Country: get("country"),
		PartnerCategory: get("partner_product_category"), Brand: get("brand"), Year: get("year_of_manufacture"), Age: get("product_age"),
		Group: get("group_identifier"), RecordDate: get(recordDate), Licence: o.Licence, Credit: o.Credit}
	if provider := oneLine(get("data_provider"), 200); c.Source.Credit == "" && provider != "" {
		c.Source.Credit = "data of " + provider
	}
	if len(c.Symptoms) > 0 {
		c.Source.Guessed = []string{casefile.GuessedSymptoms}
	}
	// What the case itself says is not said twice, unless the words differ.
	s := c.Source
	differs := func(key, have, derived string) string {
		if have == derived {
			return ""
		}
		if have == "" {
			s.Empty = append(s.Empty, key)
		}
		return have
	}
	s.Category = differs("category", get("product_category"), kind.Standard)
	s.CategoryID = differs("category-id", get("product_category_id"), strconv.Itoa(kind.Category))
	s.Status = differs("status", get("repair_status"), standardName(v, terms.Outcome, c.Outcome))
	s.Barrier = differs("barrier", get("repair_barrier_if_end_of_life"), standardName(v, terms.Barrier, c.Barrier))
	s.EventDate = differs("event-date", get("event_date"), c.Opened)
	return c, ""
}

// compose writes the case with the problem text as its Symptom section. Where
// Markdown cannot hold the text exactly, the front matter keeps it as well.
func compose(c *casefile.Case, problem string) ([]byte, error) {
	sections := []casefile.SectionText{{Name: "Symptom", Text: casefile.EscapeText(strings.Map(printable, problem))}}
	data, err := casefile.Compose(c, sections)
	if err != nil {
		return nil, err
	}
	if f, _ := casefile.Parse(c.ID+".md", data); f != nil && problemText(f) == problem {
		return data, nil
	}
	c.Source.Problem = problem
	return casefile.Compose(c, sections)
}

func printable(r rune) rune {
	if r == '\n' || r == '\t' || !unicode.IsControl(r) {
		return r
	}
	return -1
}

// problemText is the standard's problem field of a case.
func problemText(f *casefile.File) string {
	if s := f.Case.Source; s != nil && s.Problem != "" {
		return s.Problem
	}
	return casefile.UnescapeText(strings.Trim(f.Section("Symptom"), "\n"))
}

var goodID = regexp.MustCompile(`^[A-Za-z0-9]+(?:[-_][A-Za-z0-9]+)*$`)

// caseID keeps an id that a file can be called by, and makes one of any other.
func caseID(id string) string {
	if len(id) <= 60 && goodID.MatchString(id) && filename.Check(id) == nil {
		return id
	}
	sum := sha256.Sum256([]byte(id))
	slug := casefile.Slug(id)
	return strings.TrimLeft(slug[:min(len(slug), 30)]+"-"+hex.EncodeToString(sum[:5]), "-")
}

func findKind(v *terms.Vocabulary, name, id string) *terms.Term {
	fold := func(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), "")) }
	for _, t := range v.All(terms.Kind) {
		if t.Standard != "" && fold(t.Standard) == fold(name) {
			return t
		}
	}
	if n, err := strconv.Atoi(strings.TrimSpace(id)); err == nil {
		for _, t := range v.All(terms.Kind) {
			if t.Standard != "" && t.Category == n {
				return t
			}
		}
	}
	misc, _ := v.Lookup(terms.Kind, "misc")
	return misc
}

// barrierCodes are the standard's numbers, which may stand for the texts.
var barrierCodes = []string{"", "spare-parts-not-available", "spare-parts-too-expensive", "no-way-to-open-product",
	"repair-information-not-available", "lack-of-equipment", "item-too-worn-out"}

var outcomeCodes = []string{"unknown", "fixed", "repairable", "end-of-life"}

// findStandard reads a text or code of the standard, with the wordings that its
// documents use.
func findStandard(v *terms.Vocabulary, c terms.Class, text, otherwise string) string {
	text = strings.TrimSpace(text)
	if text == "" {
		return otherwise
	}
	codes := outcomeCodes
	if c == terms.Barrier {
		codes = barrierCodes
	}
	if n, err := strconv.Atoi(text); err == nil && n >= 0 && n < len(codes) {
		return codes[n]
	}
	if t, ok := v.Resolve(c, text); ok {
		return t.ID
	}
	return otherwise
}

func standardName(v *terms.Vocabulary, c terms.Class, id string) string {
	if t, ok := v.Lookup(c, id); ok {
		return t.Standard
	}
	return ""
}

// oneLine folds white space and cuts at a word end.
func oneLine(s string, most int) string {
	s = strings.Join(strings.Fields(strings.Map(printable, s)), " ")
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	cut := string([]rune(s)[:most])
	if i := strings.LastIndexByte(cut, ' '); i > most/2 {
		cut = cut[:i]
	}
	return strings.TrimRight(cut, " ,;:.") + "…"
}

// title is the first sentence of the problem, or the kind of device.
func title(kind, problem string) string {
	text := strings.TrimLeft(oneLine(problem, 400), " .,;:-–")
	if end := strings.IndexAny(text, ".!?"); end >= 12 {
		text = text[:end]
	}
	text = strings.TrimRight(oneLine(text, 80), " .")
	if utf8.RuneCountInString(text) < 3 {
		return kind + ", nothing said"
	}
	first, size := utf8.DecodeRuneInString(text)
	return kind + ": " + string(unicode.ToLower(first)) + text[size:]
}

// ExportORDS writes the closed cases of a notebook in the standard's form, in
// the order of their ids. The standard's readers expect a text as it is; for a
// spreadsheet, safe puts an apostrophe before what it would take for a formula.
func ExportORDS(w io.Writer, n *notebook.Notebook, safe bool) (rows int, err error) {
	header := slices.Clone(ordsHeader)
	for _, c := range n.Cases {
		if s := c.File.Case.Source; s != nil && s.RecordDate != "" {
			header = append(header, recordDate)
			break
		}
	}
	out := csv.NewWriter(w)
	if err := out.Write(header); err != nil {
		return 0, err
	}
	for _, c := range n.Cases {
		if c.File.Case.Open() {
			continue
		}
		row := exportRow(n, c)
		if len(header) > len(ordsHeader) {
			record := ""
			if s := c.File.Case.Source; s != nil {
				record = s.RecordDate
			}
			row = append(row, record)
		}
		if safe {
			for i := range row {
				row[i] = noFormula(row[i])
			}
		}
		if err := out.Write(row); err != nil {
			return rows, err
		}
		rows++
	}
	out.Flush()
	return rows, out.Error()
}

func exportRow(n *notebook.Notebook, c *notebook.Case) []string {
	k := &c.File.Case
	kind, ok := n.Terms.Lookup(terms.Kind, c.Device.Kind)
	if !ok {
		kind, _ = n.Terms.Lookup(terms.Kind, "misc")
	}
	category := kind.Standard
	for _, t := range n.Terms.All(terms.Kind) {
		if t.Standard != "" && t.Category == kind.Category {
			category = t.Standard
		}
	}
	s := k.Source
	if s == nil {
		provider, id, country := n.Config.Name, c.ID(), n.Config.Country
		if k.From != "" { // as that workshop gives it itself; its country is not known
			provider, id, country = n.Workshop(k.From).Name, strings.TrimPrefix(c.ID(), k.From+"-"), ""
		}
		problem := strings.TrimSpace(c.SectionPlain("Symptom"))
		return []string{strings.ReplaceAll(casefile.Slug(provider), "-", "") + "_" + id, provider, country, kind.Name,
			category, strconv.Itoa(kind.Category), cmp.Or(c.Device.Maker, "Unknown"), "", "",
			cmp.Or(standardName(n.Terms, terms.Outcome, k.Outcome), "Unknown"), standardName(n.Terms, terms.Barrier, k.Barrier),
			provider, cmp.Or(k.Closed, k.Opened), cmp.Or(problem, k.Title)}
	}
	kept := func(key, raw, derived string) string {
		if slices.Contains(s.Empty, key) {
			return ""
		}
		return cmp.Or(raw, derived)
	}
	return []string{s.ID, s.Provider, s.Country, s.PartnerCategory, kept("category", s.Category, category),
		kept("category-id", s.CategoryID, strconv.Itoa(kind.Category)), s.Brand, s.Year, s.Age,
		kept("status", s.Status, standardName(n.Terms, terms.Outcome, k.Outcome)),
		kept("barrier", s.Barrier, standardName(n.Terms, terms.Barrier, k.Barrier)), s.Group,
		kept("event-date", s.EventDate, k.Opened), problemText(c.File)}
}
