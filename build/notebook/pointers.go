package notebook

import (
	"fmt"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// forms are the forms that the ids of a notebook have, so that what looks like one in a
// text and is none can be told from a part's number.
type forms struct {
	shapes map[string]int // of ids, digits as 0, with the number of cases
	first  int            // the year of the first case
	most   int            // the highest number in a year
}

func (n *Notebook) forms() forms {
	f := forms{shapes: map[string]int{}, first: time.Now().Year(), most: usualMost}
	for id := range n.byID {
		f.shapes[shape(id)]++
		if m := ownID.FindStringSubmatch(id); m != nil {
			year, _ := strconv.Atoi(m[1])
			number, _ := strconv.Atoi(m[2])
			f.first, f.most = min(f.first, year), max(f.most, number)
		}
	}
	return f
}

// usualMost is the highest number of a year that is taken for a case's where no case has a
// higher one: 2000-2500 is a range of something.
const usualMost = 999

var digitRuns = regexp.MustCompile(`[0-9]`)

func shape(id string) string { return digitRuns.ReplaceAllString(strings.ToLower(id), "0") }

// like reports whether a word has the form of an id here: a year and a number as the
// program gives them, or a form that two cases or more share.
func (f forms) like(word string) bool {
	if _, isDay := casefile.Day(word); isDay {
		return false
	}
	m := ownID.FindStringSubmatch(word)
	if m == nil || m[0] != word {
		return f.shapes[shape(word)] >= 2
	}
	year, _ := strconv.Atoi(m[1])
	number, _ := strconv.Atoi(m[2])
	return year >= f.first-1 && year <= time.Now().Year()+1 && number >= 1 && number <= f.most
}

// missing gives the id that a pointer means and that no file of the notebook has.
func (l *loader) missing(c *Case, p *casefile.Pointer, f forms) (id string, is bool) {
	has := func(id string) bool {
		if strings.EqualFold(id, c.ID()) || l.n.byID[id] != nil {
			return true
		}
		if from := c.File.Case.From; from != "" && l.n.byID[from+"-"+id] != nil {
			return true // as the workshop that it came from calls it
		}
		return slices.ContainsFunc(l.n.unread, func(name string) bool { return strings.HasPrefix(name, id) })
	}
	parts := []string{p.Text}
	if p.Link { // a file's name: the id, and words behind it
		for at := len(p.Text); at > 0; at = strings.LastIndexByte(p.Text[:at], '-') {
			parts = append(parts, p.Text[:at])
		}
	}
	for _, word := range parts {
		if has(word) {
			return "", false
		}
		if id == "" && f.like(word) {
			id = word
		}
	}
	return id, id != ""
}

// checkMentions names cases that a text means and that are not there. What came from
// elsewhere is only counted: its cases are not ours to have.
func (l *loader) checkMentions(c *Case, f func() forms) {
	told := map[string]bool{}
	for i := range c.File.Mentions {
		p := &c.File.Mentions[i]
		id, is := l.missing(c, p, f())
		if !is || told[id] {
			continue
		}
		told[id] = true
		if fromElsewhere(c) {
			continue
		}
		d := p.At(c.File, diagnostic.Warning, diagnostic.UnknownCase, fmt.Sprintf("the notebook holds no case %s, which stands here", id))
		d.Suggestion = l.otherYear(id)
		l.say(d)
	}
	if len(told) > 0 && fromElsewhere(c) {
		l.elsewhere[diagnostic.UnknownCase]++
	}
}

// otherYear is the one case with the same number in another year: at the turn of a year
// people write the old one.
func (l *loader) otherYear(id string) string {
	m := ownID.FindStringSubmatch(id)
	if m == nil {
		return ""
	}
	found := ""
	for other := range l.n.byID {
		if o := ownID.FindStringSubmatch(other); o != nil && o[0] == other && o[2] == m[2] {
			if found != "" {
				return ""
			}
			found = other
		}
	}
	return found
}

// fromElsewhere reports whether another workshop wrote the case, or whoever gave open data.
func fromElsewhere(c *Case) bool { return c.File.Case.Source != nil || c.File.Case.From != "" }

// counting is a rule with its line for one case and for many.
type counting struct {
	rule      diagnostic.Rule
	one, many string
}

// countedOf are the rules whose doubts are counted over all cases from elsewhere and not
// named one by one: whoever reads them can ask nobody. What is an error is named.
var countedOf = []counting{
	{diagnostic.UnknownCase, "1 case from elsewhere names a case that is not in this notebook", "%d cases from elsewhere name cases that are not in this notebook"},
	{diagnostic.UnknownWhat, "1 case from elsewhere has readings that do not say in a known word what was measured; they are not judged", "%d cases from elsewhere have readings that do not say in a known word what was measured; they are not judged"},
	{diagnostic.LooseTolerance, "1 case from elsewhere has a tolerance of 100 % or more", "%d cases from elsewhere have a tolerance of 100 % or more"},
	{diagnostic.LongTime, "1 case from elsewhere says more minutes than one repair takes", "%d cases from elsewhere say more minutes than one repair takes"},
}

// counted takes out of a list what is only counted of a case from elsewhere.
func (l *loader) counted(c *Case, list []diagnostic.Diagnostic) (out []diagnostic.Diagnostic) {
	if !fromElsewhere(c) {
		return list
	}
	seen := map[diagnostic.Rule]bool{}
	for _, d := range list {
		if d.Severity != diagnostic.Warning || !slices.ContainsFunc(countedOf, func(x counting) bool { return x.rule == d.Rule }) {
			out = append(out, d)
			continue
		}
		if !seen[d.Rule] {
			l.elsewhere[d.Rule]++
		}
		seen[d.Rule] = true
	}
	return out
}

// imported says in one line each what cases from elsewhere have.
func (l *loader) imported() {
	for _, x := range countedOf {
		n := l.elsewhere[x.rule]
		if n == 0 {
			continue
		}
		text := x.one
		if n > 1 {
			text = fmt.Sprintf(x.many, n)
		}
		l.say(diagnostic.Diagnostic{File: l.show("notebook.yaml"), Severity: diagnostic.Note, Rule: x.rule, Message: text})
	}
}

// pictureEndings are those of the files that a case can show.
var pictureEndings = []string{".jpg", ".jpeg", ".png", ".svg", ".webp"}

// checkPictures compares the pictures that the text shows, and those in the case's folder,
// with the list of photos, from which alone pictures are published.
func (l *loader) checkPictures(c *Case) {
	listed, offered := map[string]bool{}, map[string]bool{}
	there := l.photos[c.PhotoDir()]
	for _, p := range c.File.Case.Photos {
		listed[p.File] = true
		if !slices.Contains(there, p.File) {
			offered[terms.Nearest(p.File, there)] = true // told with the one that is missing
		}
	}
	for i := range c.File.Pictures {
		p := &c.File.Pictures[i]
		switch name := strings.TrimPrefix(p.Text, "./"); {
		case listed[name]:
		case slices.Contains(there, name):
			l.say(p.At(c.File, diagnostic.Warning, diagnostic.UnusedPhoto,
				fmt.Sprintf("this picture is not shown, since photos: does not list it; add {file: %s, caption: what it shows}", name)))
			listed[name] = true // told
		default:
			d := p.At(c.File, diagnostic.Warning, diagnostic.MissingPhoto, fmt.Sprintf("there is no %s, so nothing is shown here", path.Join(c.PhotoDir(), name)))
			d.Suggestion = terms.Nearest(name, there)
			offered[d.Suggestion] = true
			l.say(d)
		}
	}
	var unused []string
	for _, name := range there {
		if slices.Contains(pictureEndings, strings.ToLower(path.Ext(name))) && !listed[name] && !offered[name] && !strings.HasPrefix(name, ".") {
			unused = append(unused, name)
		}
	}
	if len(unused) == 0 {
		return
	}
	slices.Sort(unused)
	count := "is a picture that nothing shows"
	if len(unused) > 1 {
		count = fmt.Sprintf("are %d pictures that nothing shows", len(unused))
	}
	shown := unused[:min(len(unused), 3)]
	l.say(c.Say(diagnostic.Note, diagnostic.UnusedPhoto, fmt.Sprintf("in %s %s: %s; list them under photos: with a caption, or delete them",
		c.PhotoDir(), count, strings.Join(shown, ", ")+more(len(unused)-len(shown))), "case"))
}

func more(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf(" and %d more", n)
}
