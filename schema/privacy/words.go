package privacy

import (
	"embed"
	"fmt"
	"path"
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
	"golang.org/x/text/unicode/norm"
)

// What people call a number, a street or an at sign, a file for each language. All of them
// are looked for in every text: a notebook in one language has customers of another.
//
//go:embed words/*.yaml
var wordFiles embed.FS

// class is what a word says of the number that stands after it.
type class int

const (
	none     class = iota
	phone          // a telephone number follows
	reach          // one may follow
	imei           // an IMEI follows
	card           // the number of a payment card follows
	account        // the number of a bank account follows
	iban           // an IBAN may follow
	network        // an address of a network follows
	version        // the number of a version follows
	part           // the number of a thing follows
	nClasses = int(part) + 1
)

// languageWords is a file of words.
type languageWords struct {
	Compounds bool // a word may be the end of a longer one
	Phone     []string
	Reach     []string
	IMEI      []string `yaml:"imei"`
	Card      []string
	Account   []string
	IBAN      []string `yaml:"iban"`
	Network   []string
	Version   []string
	Part      []string
	Address   []string // a postal address may follow
	At        []string // said for @, in brackets
	BareAt    []string `yaml:"bare at"` // and without
	Dot       []string
	Repeat    []string // stands between the number of a house and the street
	Streets   streetWords
}

// streetWords is how a street is named.
type streetWords struct {
	Number  string   // "before" or "after" the street
	Named   bool     // the street has a name before its word, in capitals
	Sure    []string // words for a street and for nothing else
	Endings []string // ends of words that are sure
	Unsure  []string // words and ends of words that mean other things as well
}

// lookup is all that the files say, for looking up.
type lookup struct {
	classes   map[string][]class // of a word or of some, joined by spaces
	heads     []head             // ends of compounds
	address   map[string]bool
	languages []languageWords
}

type head struct {
	ending string
	class  class
}

var words = sync.OnceValue(func() *lookup {
	l := &lookup{classes: map[string][]class{}, address: map[string]bool{}}
	files, err := wordFiles.ReadDir("words")
	if err != nil {
		panic(err) // the embed pattern is ours
	}
	for _, f := range files {
		text, err := wordFiles.ReadFile(path.Join("words", f.Name()))
		if err != nil {
			panic(err)
		}
		var w languageWords
		if err := yaml.Unmarshal(text, &w); err != nil {
			panic(fmt.Sprintf("%s: %v", f.Name(), err))
		}
		for c, list := range map[class][]string{phone: w.Phone, reach: w.Reach, imei: w.IMEI, card: w.Card, account: w.Account,
			iban: w.IBAN, network: w.Network, version: w.Version, part: w.Part} {
			for _, word := range list {
				l.classes[word] = append(l.classes[word], c)
				if w.Compounds && utf8.RuneCountInString(word) >= shortestHead {
					l.heads = append(l.heads, head{word, c})
				}
			}
		}
		for _, word := range w.Address {
			l.address[word] = true
		}
		l.languages = append(l.languages, w)
	}
	return l
})

// shortestHead is the length, in letters, from which a word may be the head of a compound:
// shorter ones end words by chance.
const shortestHead = 5

// reachOf is how far before a number, in bytes, the word that says what it is may end: a
// few words, as in "unter der Nummer".
const reachOf = 24

// longestTitle is how many words a name of a number has at most: "numéro de téléphone".
const longestTitle = 3

// contextOf says what the words before a place in a line call what stands there: the
// nearest that says anything decides. Digits between them and the place end the search.
func contextOf(line []byte, at int) []class {
	from := at
	for from > 0 && at-from < reachOf+40 && !digit(line[from-1]) && line[from-1] != '\n' {
		from--
	}
	for from < at && !utf8.RuneStart(line[from]) {
		from++
	}
	before := tokens(string(line[from:at]))
	w := words()
	for i := len(before) - 1; i >= 0; i-- {
		if at-from-before[i].stop > reachOf {
			return nil
		}
		for n := min(longestTitle, i+1); n > 0; n-- {
			name := before[i-n+1].text
			for _, t := range before[i-n+2 : i+1] {
				name += " " + t.text
			}
			if found := w.classes[name]; found != nil {
				return found
			}
		}
		for _, h := range w.heads {
			if strings.HasSuffix(before[i].text, h.ending) {
				return []class{h.class}
			}
		}
	}
	return nil
}

// is reports whether any of the classes is one of those asked for.
func is(have []class, want ...class) bool {
	return slices.ContainsFunc(have, func(c class) bool { return slices.Contains(want, c) })
}

// token is a word or a number of a text, in lower case; start and stop are bytes.
type token struct {
	text        string
	start, stop int
	capital     bool // it begins with a capital letter
}

// tokens cuts a text into words and numbers.
func tokens(text string) (list []token) {
	start, capital := -1, false
	end := func(stop int) {
		if start < 0 {
			return
		}
		list = append(list, token{norm.NFC.String(strings.ToLower(text[start:stop])), start, stop, capital})
		start = -1
	}
	for i, r := range text {
		if unicode.IsLetter(r) || unicode.IsMark(r) || unicode.IsDigit(r) {
			if start < 0 {
				start, capital = i, unicode.IsUpper(r)
			}
			continue
		}
		end(i)
	}
	end(len(text))
	return list
}
