package search

import (
	"cmp"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"benchlore/build/reason/nearness"
	"benchlore/schema/language"
	"benchlore/schema/terms"
)

// The numbers of the ranking, as the package comment explains them.
const (
	bm25K1         = 2
	bm25B          = 0.75
	lengthSteps    = 16 // levels to one
	synonymWeight  = 0.7
	compoundWeight = 0.4
	prefixWeight   = 0.4
	typoWeight     = 0.5
	slipsWeight    = 0.35 // two slips, or one in the first letter
	nearWeight     = 0.4
	inPhrase       = 0.8
	littleWeight   = 0.1
	symptomWeight  = 1.5

	mostTimes = 3   // that a word of the query counts
	minPrefix = 3   // characters
	minTypo   = 5   // characters
	minPart   = 3   // characters of each part of a compound
	maxExpand = 50  // words that one word of the query is expanded to by prefix and slips
	maxQuery  = 32  // words that are looked at; a query is a few
	minSlips  = 8   // characters of a word that may have two slips
	nearCap   = 100 // cases; what as many have is not widened

	companyCases = 5    // the first that are found, whose words are looked for too
	companyOf    = 40   // cases for each of these
	companyWords = 10   // that are looked for
	companyShare = 0.3  // of the score, that those words bring
	companyLeast = 3    // words that a query must have: fewer name a thing and describe none
	matters      = 0.25 // of the best score, below which a case shares a word and no more
	closeShare   = 0.3  // of the weight of the query's words, below which nothing is close
)

// How a word of the query was found in a case.
type How string

// The ways.
const (
	exactly    How = "as written"
	bySynonym  How = "as another word for"
	byCompound How = "written as one word or apart, as"
	byPrefix   How = "as the beginning of"
	byTypo     How = "with one slip for"
	byNear     How = "near in meaning to"
	byCompany  How = "stands in the first cases found"
	bySymptom  How = "as symptom"
)

// Brought is what one word or symptom brought to a score.
type Brought struct {
	Asked  string // the word of the query, stemmed, or the symptom's id
	How    How
	Word   string // the word of the case, or the symptom's name
	Fields []Field
	Score  float64
}

// String says it in words: `"humm" with one slip for "hum", 1.23 (title)`.
func (b Brought) String() string {
	var where string
	if len(b.Fields) > 0 {
		names := make([]string, len(b.Fields))
		for i, f := range b.Fields {
			names[i] = string(f)
		}
		where = " (" + strings.Join(names, ", ") + ")"
	}
	switch b.How {
	case exactly:
		return fmt.Sprintf("%q, %.2f%s", b.Word, b.Score, where)
	case bySymptom:
		return fmt.Sprintf("%s %q, %.2f", b.How, b.Word, b.Score)
	case byCompany:
		return fmt.Sprintf("%q %s, %.2f%s", b.Word, b.How, b.Score, where)
	case bySynonym, byNear:
		return fmt.Sprintf("%q %s %q, %.2f%s", b.Word, b.How, b.Asked, b.Score, where)
	}
	return fmt.Sprintf("%q %s %q, %.2f%s", b.Asked, b.How, b.Word, b.Score, where)
}

// posting is a case that has a word, by its ordinal among the ids in order, and
// at which level.
type posting struct {
	ordinal int32
	level   int32
}

// pivot is the length against which cases are measured: the fourth of an octave that
// is nearest, by ratio, to the mean. It stays when a few cases change, and with
// it every level.
func pivot(mean float64) float64 {
	if mean <= 0 {
		return 1
	}
	return math.Exp2(math.Round(4*math.Log2(mean)) / 4)
}

// levelOf is the part of the formula that belongs to one case and one word, in
// steps of 1/lengthSteps; f and length are in tenths.
func levelOf(f, length int, pivot float64) int32 {
	return max(1, int32(math.Round(lengthSteps*saturated(float64(f)/10, float64(length)/10, pivot, bm25K1, bm25B))))
}

// saturated is the part of BM25 that grows with the frequency of a word, ever less.
func saturated(f, length, mean, k1, b float64) float64 {
	return f * (k1 + 1) / (f + k1*(1-b+b*length/mean))
}

// lexicon is where the ranking gets its words: the index, or for a test a map.
type lexicon interface {
	// of returns the postings of a word in the order of the cases, none when no
	// case has it.
	of(word string) ([]posting, error)
	// forms returns the words as they are written, before stemming, that begin
	// with the character, in byte order.
	forms(first rune) ([]string, error)
	written(form string) (bool, error) // by any case
	all() ([]string, error)            // forms
	size() int                         // cases in all
}

func idf(cases, having int) float64 {
	n := float64(having)
	return math.Log(1 + (float64(cases)-n+0.5)/(n+0.5))
}

// reading is one way to read a word of the query: the word, or several that a
// case must all have.
type reading struct {
	how    How
	words  []string
	weight float64
	lists  [][]posting
	idf    []float64
}

// score returns what the reading brings to a case, 0 when it has not all words.
func (r *reading) score(ordinal int32) float64 {
	least := math.Inf(1)
	for i, list := range r.lists {
		at, ok := slices.BinarySearchFunc(list, ordinal, func(p posting, o int32) int { return cmp.Compare(p.ordinal, o) })
		if !ok {
			return 0
		}
		least = min(least, r.idf[i]*float64(list[at].level)/lengthSteps)
	}
	return r.weight * least
}

// item is a word of the query with its readings, the best of which counts in
// each case.
type item struct {
	asked    string
	most     float64 // weight times rarity of its best reading
	readings []*reading
}

// best returns the reading that brings most to a case.
func (it *item) best(ordinal int32) (*reading, float64) {
	var best *reading
	most := 0.0
	for _, r := range it.readings {
		if s := r.score(ordinal); s > most {
			best, most = r, s
		}
	}
	return best, most
}

// plan turns the words of a query into items.
type plan struct {
	lex     lexicon
	lang    *language.Language
	stem    func(word string) string // of the query's words
	items   []item
	words   int     // distinct words that are looked for
	whole   float64 // weight of all words that were asked
	company []share // words of the first cases found, with what each brings
}

// share is a word with its share of what the words of the first cases bring.
type share struct {
	word string
	part float64
	list []posting
	idf  float64
}

func (p *plan) reading(how How, weight float64, words ...string) (*reading, error) {
	r := &reading{how: how, words: words, weight: weight}
	for _, w := range words {
		list, err := p.lex.of(w)
		if err != nil || len(list) == 0 {
			return nil, err
		}
		r.lists = append(r.lists, list)
		r.idf = append(r.idf, idf(p.lex.size(), len(list)))
	}
	return r, nil
}

// add appends the reading where every word of it is known.
func (p *plan) add(it *item, how How, weight float64, words ...string) error {
	r, err := p.reading(how, weight, words...)
	if r != nil {
		it.readings = append(it.readings, r)
	}
	return err
}

func (p *plan) keep(it item) {
	if len(it.readings) > 0 {
		p.items = append(p.items, it)
	}
}

// weigh remembers how much an item of the query weighs, whether it is known or not.
func (p *plan) weigh(it *item, share float64) {
	most := 0.0
	for _, r := range it.readings {
		most = max(most, r.weight*slices.Min(r.idf))
	}
	it.most = most
	if len(it.readings) == 0 {
		most = share * idf(p.lex.size(), 0)
	}
	p.whole += most
}

// makePlan lists the items of a query: each distinct word, each pair of
// neighbours that means something together, and each symptom.
func makePlan(lex lexicon, l *language.Language, stem func(word string) string, tokens []Token, phrases []terms.Match,
	models []string) (*plan, error) {
	p := &plan{lex: lex, lang: l, stem: stem}
	seen := map[string]bool{}
	known := func(m terms.Match) bool {
		list, err := lex.of(symptomWord(m.Term.ID))
		return err == nil && len(list) > 0
	}
	phrases = slices.DeleteFunc(slices.Clone(phrases), func(m terms.Match) bool { return !known(m) }) // else its words stand for themselves
	for i, t := range tokens {
		if seen[t.Term] {
			continue
		}
		seen[t.Term] = true
		share := p.shareOf(tokens, t.Term)
		if slices.ContainsFunc(phrases, func(m terms.Match) bool { return t.Start >= m.Start && t.Stop <= m.Stop }) {
			share *= inPhrase
		}
		it := item{asked: t.Term}
		if unit, ok := unitAfter(tokens, i); ok {
			// A value is found whole: 4k7 is not every resistor in kilohms.
			seen[unit], seen[tokens[i+1].Term] = true, true
			it.asked = t.Term + " " + unit
			if err := p.add(&it, exactly, share, t.Term, unit); err != nil {
				return nil, err
			}
		} else if err := p.word(&it, t, share, i == len(tokens)-1); err != nil {
			return nil, err
		}
		p.words++
		p.weigh(&it, share)
		p.keep(it)
	}
	for _, whole := range models {
		if seen[whole] {
			continue
		}
		seen[whole] = true
		it := item{asked: whole}
		if err := p.add(&it, exactly, 1, whole); err != nil {
			return nil, err
		}
		p.weigh(&it, 0)
		p.keep(it)
	}
	for i := 1; i < len(tokens); i++ {
		a, b := tokens[i-1], tokens[i]
		pair := a.Term + " " + b.Term
		if seen[pair] {
			continue
		}
		seen[pair] = true
		it := item{asked: pair}
		if isPart(a.form) && isPart(b.form) {
			if whole := p.stem(a.form + b.form); strings.HasPrefix(whole, a.form) && isPart(whole[len(a.form):]) {
				if err := p.add(&it, byCompound, compoundWeight, whole); err != nil {
					return nil, err
				}
			}
		}
		if err := p.synonyms(&it, pair, 1); err != nil {
			return nil, err
		}
		p.keep(it)
	}
	asked := map[string]bool{}
	for _, m := range phrases {
		if asked[m.Term.ID] {
			continue
		}
		asked[m.Term.ID] = true
		it := item{asked: m.Term.ID}
		if err := p.add(&it, bySymptom, symptomWeight, symptomWord(m.Term.ID)); err != nil {
			return nil, err
		}
		p.weigh(&it, 0)
		p.keep(it)
	}
	if len(p.items) == 0 { // nothing else fits: the first letter may be the slip
		for _, t := range tokens {
			it := item{asked: t.Term}
			if err := p.anyFirst(&it, t.form); err != nil {
				return nil, err
			}
			p.keep(it)
		}
	}
	return p, nil
}

// shareOf is how much a word of the query counts: as often as it is said, and little
// where it is one of the words that most texts have and others were said too.
func (p *plan) shareOf(tokens []Token, term string) float64 {
	times, others := 0.0, false
	for _, t := range tokens {
		if t.Term == term {
			times++
		}
		others = others || !little[t.Term]
	}
	if others && little[term] {
		return littleWeight
	}
	return min(times, mostTimes)
}

// unitAfter gives the unit of a number of the query: of a value that was split, or
// the word behind the number.
func unitAfter(tokens []Token, i int) (unit string, ok bool) {
	if i+1 == len(tokens) || !isNumber(tokens[i].Term) {
		return "", false
	}
	a, b := tokens[i], tokens[i+1]
	if a.form == "" && b.form == "" && a.Start == b.Start {
		return b.Term, true
	}
	if u, known := valueUnits[b.form]; known && b.form != "" && a.form != "" && b.Start == a.Stop+1 {
		return u, true
	}
	return "", false
}

func isNumber(s string) bool {
	return s != "" && !strings.ContainsFunc(s, func(r rune) bool { return r != '.' && (r < '0' || r > '9') })
}

// isPart reports whether a word may be a part of a compound.
func isPart(form string) bool { return utf8.RuneCountInString(form) >= minPart && !hasDigit(form) }

func hasDigit(s string) bool { return strings.ContainsFunc(s, unicode.IsDigit) }

func (p *plan) word(it *item, t Token, share float64, last bool) error {
	exact, err := p.reading(exactly, share, t.Term)
	if err != nil {
		return err
	}
	if exact != nil {
		it.readings = append(it.readings, exact)
	}
	if err := p.synonyms(it, t.Term, share); err != nil {
		return err
	}
	if p.lang.Tag == language.English && !Filler(t.Term) && (exact == nil || len(exact.lists[0]) < nearCap) {
		for _, near := range nearness.Of(t.Term) {
			if err := p.add(it, byNear, share*nearWeight*float64(near.Share)/100, near.Word); err != nil {
				return err
			}
		}
	}
	if m := lettersThenDigits.FindStringSubmatch(t.Term); m != nil && exact == nil {
		if err := p.add(it, byCompound, share*compoundWeight, m[1], m[2]); err != nil {
			return err
		}
	}
	for i := range t.Term {
		a, b := t.Term[:i], t.Term[i:]
		if !isPart(a) || !isPart(b) {
			continue
		}
		if err := p.add(it, byCompound, share*compoundWeight, partOf(p.lang, a), b); err != nil {
			return err
		}
	}
	if exact == nil {
		return p.guess(it, t.form, share, last)
	}
	return nil
}

// lettersThenDigits is a type that others may write apart.
var lettersThenDigits = regexp.MustCompile(`^([a-z]{1,4})([0-9][a-z0-9]{0,9})$`)

// anyFirst reads a word as another with one slip, in the first letter.
func (p *plan) anyFirst(it *item, form string) error {
	if utf8.RuneCountInString(form) < minTypo || hasDigit(form) {
		return nil
	}
	forms, err := p.lex.all()
	if err != nil {
		return err
	}
	seen := map[string]bool{}
	for _, w := range forms {
		if abs(utf8.RuneCountInString(w)-utf8.RuneCountInString(form)) > 1 || terms.Distance(form, w) != 1 {
			continue
		}
		if word := stemmed(p.lang, w); !seen[word] && len(seen) < maxExpand {
			seen[word] = true
			if err := p.add(it, byTypo, slipsWeight, word); err != nil {
				return err
			}
		}
	}
	return nil
}

// guess reads a word that no case has as the beginning of others, when it is
// the last, or as a slip, or two in a long one; the first letter is taken to be right.
func (p *plan) guess(it *item, form string, share float64, last bool) error {
	size := utf8.RuneCountInString(form)
	begins, slips := last && size >= minPrefix, size >= minTypo && !hasDigit(form)
	if !begins && !slips {
		return nil
	}
	first, _ := utf8.DecodeRuneInString(form)
	forms, err := p.lex.forms(first)
	if err != nil {
		return err
	}
	seen := map[string]bool{}
	for _, w := range forms {
		how, weight := byPrefix, prefixWeight
		switch {
		case begins && strings.HasPrefix(w, form):
		case slips && abs(utf8.RuneCountInString(w)-size) <= 1 && terms.Distance(form, w) == 1:
			how, weight = byTypo, typoWeight
		case slips && size >= minSlips && abs(utf8.RuneCountInString(w)-size) <= 2 && terms.Distance(form, w) == 2:
			how, weight = byTypo, slipsWeight
		default:
			continue
		}
		word := stemmed(p.lang, w)
		if seen[word] {
			continue
		}
		seen[word] = true
		if err := p.add(it, how, share*weight, word); err != nil {
			return err
		}
		if len(seen) == maxExpand {
			break
		}
	}
	return nil
}

// stemmed is the term of a form.
func stemmed(l *language.Language, form string) string {
	if hasDigit(form) {
		return form
	}
	return l.Stem(form)
}

// partOf is the first part of a compound as a term: stemmed in English, as it is in
// languages whose stemmer the page does not have.
func partOf(l *language.Language, part string) string {
	if l.Tag == language.English {
		return l.Stem(part)
	}
	return part
}

// queryStem cuts the words of a query. In English that is the stemmer. In other
// languages the page has none: there a word that a case has is cut as the case's was; any
// other is brought to a known word by the letters that the stemmer replaces and the
// endings that it takes off, the shortest first. The page does the same, so both find
// the same.
func queryStem(lex lexicon, v *terms.Vocabulary, failed *error) func(word string) string {
	l := v.Language()
	if l.Tag == language.English {
		return l.Stem
	}
	folds := l.Folds()
	return func(w string) string {
		if !language.Stemmable(w) {
			return w
		}
		known, err := lex.written(w)
		if err == nil && known {
			return l.Stem(w)
		}
		var folded strings.Builder
		for _, r := range w {
			folded.WriteString(cmp.Or(folds[string(r)], string(r)))
		}
		isTerm := func(term string) bool {
			list, e := lex.of(term)
			err = cmp.Or(err, e)
			return len(list) > 0
		}
		if err == nil && isTerm(folded.String()) {
			return folded.String()
		}
		for _, ending := range l.Endings() {
			base, ok := strings.CutSuffix(folded.String(), ending)
			if ok && err == nil && utf8.RuneCountInString(base) >= minPart && isTerm(base) {
				return base
			}
		}
		if err != nil {
			*failed = err
		}
		return folded.String()
	}
}

// synonyms reads a word, or two words with a space, as others of its group.
func (p *plan) synonyms(it *item, phrase string, share float64) error {
	for _, words := range synonymsIn(p.lang)[phrase] {
		if err := p.add(it, bySynonym, share*synonymWeight, words...); err != nil {
			return err
		}
	}
	return nil
}

// synonymsOf maps each word or phrase of a group of a language, as terms with spaces, to
// the others of the group as terms. They are made once for each language.
var synonymsOf sync.Map // tag -> map[string][][]string

func synonymsIn(l *language.Language) map[string][][]string {
	if known, ok := synonymsOf.Load(l.Tag); ok {
		return known.(map[string][][]string)
	}
	out := map[string][][]string{}
	for _, group := range terms.Synonyms(l.Tag) {
		var members [][]string
		for _, text := range group {
			var words []string
			for _, t := range Analyze(l, text) {
				words = append(words, t.Term)
			}
			members = append(members, words)
		}
		for i, m := range members {
			for j, other := range members {
				key := strings.Join(m, " ")
				if i != j && key != strings.Join(other, " ") {
					out[key] = append(out[key], other)
				}
			}
		}
	}
	known, _ := synonymsOf.LoadOrStore(l.Tag, out)
	return known.(map[string][][]string)
}

func abs(x int) int { return max(x, -x) }

// steady is how finely scores are told apart: logarithms differ in their last digit
// from one machine to another, and must not decide an order.
const steady = 1e9

// ranked is a case that was found.
type ranked struct {
	ordinal int32
	score   float64
}

// rank adds up what each item brings to each case that passes.
func (p *plan) rank(passes func(ordinal int32) bool) []ranked {
	scores := make([]float64, p.lex.size())
	most := make([]float64, p.lex.size()) // of one item, by case
	var touched []int32
	for i := range p.items {
		touched = touched[:0]
		for _, r := range p.items[i].readings {
			for _, q := range r.lists[0] {
				s := r.weight * (r.idf[0] * float64(q.level) / lengthSteps)
				if len(r.lists) > 1 {
					s = r.score(q.ordinal)
				}
				if s > most[q.ordinal] {
					if most[q.ordinal] == 0 {
						touched = append(touched, q.ordinal)
					}
					most[q.ordinal] = s
				}
			}
		}
		for _, o := range touched {
			scores[o] += most[o]
			most[o] = 0
		}
	}
	var list []ranked
	for o, s := range scores {
		if s > 0 && passes(int32(o)) {
			list = append(list, ranked{int32(o), math.Round(s*steady) / steady})
		}
	}
	return list
}

// lookAround takes the words that stand for the first cases found, and adds what they
// bring to the cases of the list: pseudo-relevance feedback by a relevance model
// (Lavrenko & Croft 2001), mixed with the query as by Abdul-Jaleel et al. (2004).
func (p *plan) lookAround(list []ranked, gist func(ordinal int32) ([]weighed, int, error)) ([]ranked, error) {
	few := min(companyCases, p.lex.size()/companyOf) // of a small notebook the first five are too large a part
	if p.words < companyLeast || few == 0 {
		return list, nil
	}
	first, sum := best(slices.Clone(list), few), 0.0
	for _, r := range first {
		sum += r.score
	}
	shares := map[string]float64{}
	for _, r := range first {
		words, length, err := gist(r.ordinal)
		if err != nil {
			return nil, err
		}
		for _, w := range words {
			shares[w.word] += r.score / sum * float64(w.tenths) / float64(length)
		}
	}
	var chosen []share
	for w, x := range shares {
		chosen = append(chosen, share{word: w, part: math.Round(x*steady) / steady})
	}
	slices.SortFunc(chosen, func(a, b share) int { return cmp.Or(cmp.Compare(b.part, a.part), strings.Compare(a.word, b.word)) })
	chosen = chosen[:min(companyWords, len(chosen))]
	whole := 0.0
	for _, c := range chosen {
		whole += c.part
	}
	more := make([]float64, p.lex.size())
	scale := companyShare / (1 - companyShare) * float64(len(p.items))
	for i := range chosen {
		c := &chosen[i]
		c.part = scale * c.part / whole
		var err error
		if c.list, err = p.lex.of(c.word); err != nil {
			return nil, err
		}
		c.idf = idf(p.lex.size(), len(c.list))
		for _, q := range c.list {
			more[q.ordinal] += c.part * (c.idf * float64(q.level) / lengthSteps)
		}
	}
	p.company = chosen
	for i := range list {
		list[i].score = math.Round((list[i].score+more[list[i].ordinal])*steady) / steady
	}
	return list, nil
}

// those that matter have a fair part of the best score.
func thatMatter(list []ranked) []ranked {
	top := 0.0
	for _, r := range list {
		top = max(top, r.score)
	}
	return slices.DeleteFunc(list, func(r ranked) bool { return r.score < matters*top })
}

// isClose reports whether a case has a fair part of what was asked.
func (p *plan) isClose(ordinal int32) bool {
	has := 0.0
	for i := range p.items {
		if r, s := p.items[i].best(ordinal); r != nil && s > 0 {
			has += min(p.items[i].most, r.weight*slices.Min(r.idf))
		}
	}
	return has >= closeShare*p.whole
}

// best returns the n best of the list, in order; among equals the last case is
// first. It may put the list in another order.
func best(list []ranked, n int) []ranked {
	before := func(a, b ranked) bool {
		return a.score > b.score || a.score == b.score && a.ordinal > b.ordinal
	}
	if n > 1000 { // asked for nearly all
		slices.SortFunc(list, func(a, b ranked) int {
			return cmp.Or(cmp.Compare(b.score, a.score), cmp.Compare(b.ordinal, a.ordinal))
		})
		return list[:min(n, len(list))]
	}
	top := list[:0:0]
	for _, r := range list {
		if len(top) == n && !before(r, top[n-1]) {
			continue
		}
		at, _ := slices.BinarySearchFunc(top, r, func(x, y ranked) int {
			if before(x, y) {
				return -1
			}
			return 1
		})
		top = slices.Insert(top, at, r)
		top = top[:min(n, len(top))]
	}
	return top
}

// why lists what each item brought to a case.
func (p *plan) why(ordinal int32) []Brought {
	var out []Brought
	for i := range p.items {
		if r, s := p.items[i].best(ordinal); r != nil {
			out = append(out, Brought{Asked: p.items[i].asked, How: r.how, Word: strings.Join(r.words, " "), Score: s})
		}
	}
	return append(out, p.beside(ordinal)...)
}

// beside is what the words of the first cases brought to a case, the three that
// brought most by name.
func (p *plan) beside(ordinal int32) []Brought {
	var list []Brought
	sum := 0.0
	for _, c := range p.company {
		if at, ok := slices.BinarySearchFunc(c.list, ordinal, func(p posting, o int32) int { return cmp.Compare(p.ordinal, o) }); ok {
			s := c.part * (c.idf * float64(c.list[at].level) / lengthSteps)
			list = append(list, Brought{Word: c.word, Score: s})
			sum += s
		}
	}
	if len(list) == 0 {
		return nil
	}
	slices.SortStableFunc(list, func(a, b Brought) int { return cmp.Compare(b.Score, a.Score) })
	var words []string
	for _, b := range list[:min(3, len(list))] {
		words = append(words, b.Word)
	}
	return []Brought{{How: byCompany, Word: strings.Join(words, " "), Score: sum}}
}

// nearForms returns the words of the notebook nearest to those of the query that
// no case has, at most three for each.
func nearForms(lex lexicon, tokens []Token) ([]string, error) {
	var out []string
	for _, t := range tokens {
		size := utf8.RuneCountInString(t.form)
		list, err := lex.of(t.Term)
		if err != nil {
			return nil, err
		}
		if len(list) > 0 || size < minPrefix {
			continue
		}
		first, _ := utf8.DecodeRuneInString(t.form)
		forms, err := lex.forms(first)
		if err != nil {
			return nil, err
		}
		type near struct {
			form     string
			distance int
		}
		var close []near
		for _, w := range forms {
			if abs(utf8.RuneCountInString(w)-size) > 2 {
				continue
			}
			if d := terms.Distance(t.form, w); d <= 2 && d < size-1 {
				close = append(close, near{w, d})
			}
		}
		slices.SortStableFunc(close, func(a, b near) int { return cmp.Compare(a.distance, b.distance) })
		for _, w := range close[:min(3, len(close))] {
			if !slices.Contains(out, w.form) {
				out = append(out, w.form)
			}
		}
	}
	return out, nil
}
