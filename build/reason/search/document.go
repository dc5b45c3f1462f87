package search

import (
	"cmp"
	"math"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"benchlore/build/notebook"
	"benchlore/schema/casefile"
	"benchlore/schema/language"
	"benchlore/schema/terms"
)

// Field names one part of a case that is searched.
type Field string

// The fields, with their weights in fieldWeights.
const (
	titleField    Field = "title"
	symptomField  Field = "symptom"
	findingsField Field = "findings"
	readingsField Field = "readings"
	partsField    Field = "parts"
	causeField    Field = "cause"
	outcomeField  Field = "outcome"
	lessonField   Field = "lesson"
	deviceField   Field = "device"
)

// Fields lists the fields in the order in which a case is read.
var Fields = []Field{titleField, symptomField, deviceField, causeField, findingsField, readingsField, partsField, outcomeField, lessonField}

// fieldWeights say how much a word counts by where it stands.
//
// The symptom in the owner's words is ordinary text and counts 1; what is heavier than
// that saturates sooner, as if k1 were smaller.
var fieldWeights = map[Field]float64{titleField: 1.2, symptomField: 1, deviceField: 0.8, causeField: 0.6,
	lessonField: 0.4, findingsField: 0.4, partsField: 0.4, outcomeField: 0.3, readingsField: 0.2}

// content is a case as the ranking sees it: what stands in it with weighted
// frequencies and its weighted length, all in tenths, as fieldWeights are.
type content struct {
	entries map[string]int // see entryOf
	length  int
}

// entryOf is the one name for a token under which frequencies are kept: its
// form, or valueMark and the term for a part of a value, which has none.
func entryOf(t Token) string {
	if t.form == "" {
		return valueMark + t.Term
	}
	return t.form
}

// valueMark is never part of a word.
const valueMark = "="

// termOf returns the term of an entry, and its form where it has one.
func termOf(l *language.Language, entry string) (term, form string) {
	if value, ok := strings.CutPrefix(entry, valueMark); ok {
		return value, ""
	}
	if strings.HasPrefix(entry, symptomMark) {
		return entry, ""
	}
	return stemmed(l, entry), entry
}

func contentOf(n *notebook.Notebook, c *notebook.Case) content {
	out := content{entries: map[string]int{}}
	for _, f := range Fields {
		tenths := int(math.Round(10 * fieldWeights[f]))
		for _, t := range Analyze(n.Terms.Language(), Text(n, c, f)) {
			out.entries[entryOf(t)] += tenths
			out.length += tenths
		}
		for _, whole := range modelsIn(Text(n, c, f)) {
			out.entries[whole] += tenths // beside its parts, and no longer for it
		}
	}
	for _, m := range n.Terms.Recognise(terms.Symptom, Text(n, c, titleField)+"\n"+c.SectionPlain("Symptom")) {
		if id := m.Term.ID; !slices.Contains(c.File.Case.Symptoms, id) && !slices.Contains(c.File.Case.Absent, id) {
			out.entries[symptomWord(id)] = readLevel
		}
	}
	return out
}

// modelForm is a type that is written apart: VM-2405, A 40. In a text the letters
// before a space are capitals, or every "at 12" would be one.
var modelForm = regexp.MustCompile(`(?:^|[^\p{L}\p{Nd}-])(?:(\p{L}{1,4})-|(\p{Lu}{1,4}) )(\p{Nd}[\p{L}\p{Nd}]{0,9})(?:$|[^\p{L}\p{Nd}])`)

// modelsIn gives the types of a text that are written apart, as one word each.
func modelsIn(text string) []string {
	var out []string
	for _, m := range modelForm.FindAllStringSubmatch(text, -1) {
		out = append(out, strings.ToLower(m[1]+m[2]+m[3]))
	}
	return out
}

// askedForm is the same in a query, where nobody minds capitals.
var askedForm = regexp.MustCompile(`(?:^|[^\p{L}\p{Nd}])(\p{L}{1,4})[- ](\p{Nd}[\p{L}\p{Nd}]{0,9})`)

// asked gives the types that a query may mean by words written apart.
func asked(query string) []string {
	var out []string
	for _, m := range askedForm.FindAllStringSubmatch(query, -1) {
		if whole := strings.ToLower(m[1] + m[2]); !slices.Contains(out, whole) {
			out = append(out, whole)
		}
	}
	return out
}

// gistSize is how many words stand for a case when the first cases that were found
// say what else to look for.
const gistSize = 16

// weighed is a word with its weighted frequency in tenths.
type weighed struct {
	word   string
	tenths int
}

// littleWords are among the most frequent words of most texts, as stems. Those that
// turn a symptom round (no, off, out) still count where a phrase means a symptom.
const littleWords = `on off up down out no not when after befor onli all ani can cant could would wont dont doesnt also just veri some
	more most other over under about abov around again against between both dure each few further here how howev onc own same such too until whi where
	whom becaus cannot may might must shall should yet still even ever one two get got go goe will or if time use now back sinc see seem say said am it me mine us`

// little are those words.
var little = func() map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(littleWords) {
		m[w] = true
	}
	return m
}()

// Filler reports whether a term is one of the words that most texts have and that say
// little by themselves, such as on and after.
func Filler(term string) bool { return little[term] }

// gistOf gives the words that stand for a case: the most frequent, the longer first
// among equals, since longer words are rarer (Zipf 1935), and nothing with a digit.
func gistOf(l *language.Language, entries map[string]int) []weighed {
	sums := make(map[string]int, len(entries))
	for entry, tenths := range entries {
		if term, form := termOf(l, entry); form != "" && !hasDigit(term) && !little[term] && len(term) >= minPart {
			sums[term] += tenths
		}
	}
	list := make([]weighed, 0, len(sums))
	for w, t := range sums {
		list = append(list, weighed{w, t})
	}
	slices.SortFunc(list, func(a, b weighed) int {
		return cmp.Or(b.tenths-a.tenths, utf8.RuneCountInString(b.word)-utf8.RuneCountInString(a.word), strings.Compare(a.word, b.word))
	})
	return list[:min(gistSize, len(list))]
}

// symptomWord is how a symptom stands among the words; no text can hold it,
// since # is never part of a word.
func symptomWord(id string) string { return symptomMark + id }

const symptomMark = "#"

// readLevel is the level of a symptom that the words of a case mean and nobody chose.
const readLevel = lengthSteps / 2

// Text returns what a field of a case says, as one text.
func Text(n *notebook.Notebook, c *notebook.Case, f Field) string {
	var words []string
	k := &c.File.Case
	section := func(name string) { words = append(words, c.SectionPlain(name)) }
	switch f {
	case titleField:
		words = append(words, k.Title)
	case symptomField:
		for _, id := range k.Symptoms {
			words = append(words, n.Terms.Name(terms.Symptom, id))
		}
		section("Symptom")
	case deviceField:
		words = append(words, c.Device.Maker, c.Device.Model, n.Terms.Name(terms.Kind, c.Device.Kind), k.Board)
	case causeField:
		if k.Cause != nil {
			words = append(words, n.Terms.Name(terms.Fault, k.Cause.Fault), n.Terms.Name(terms.Place, k.Cause.At))
		}
	case findingsField:
		for _, r := range k.Findings {
			words = append(words, r.Check, r.Seen)
		}
		if len(k.Findings) == 0 {
			section("Findings")
		}
	case readingsField:
		for _, r := range k.Measurements {
			words = append(words, r.Point, r.What, r.Read, r.Note)
		}
	case partsField:
		for _, r := range k.Parts {
			words = append(words, r.Ref, r.Part, r.Value, r.Net, r.Fitted, r.Note)
		}
	case outcomeField:
		section("Outcome")
	case lessonField:
		section("Lesson")
		for _, s := range k.Sections {
			if !slices.Contains(casefile.SectionNames, s.Name) {
				section(s.Name)
			}
		}
	}
	return strings.Join(words, "\n")
}

// Year returns the year in which the case was opened, as text.
func Year(c *notebook.Case) string {
	if o := c.File.Case.Opened; len(o) >= 4 {
		return o[:4]
	}
	return ""
}
