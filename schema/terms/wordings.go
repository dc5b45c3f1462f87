package terms

import (
	"bytes"
	"embed"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode"

	"go.yaml.in/yaml/v3"
)

// The wordings that are looked for as they are written: ids of data/wordings.yaml.
const (
	AfterRepair  = "after-repair"   // a row was taken after the repair
	Wire         = "wire"           // stands in the place of a part that it does not replace
	Same         = "same"           // what is fitted is as the original was
	OutOfCircuit = "out-of-circuit" // nothing lies beside the part that is measured
	Discharged   = "discharged"     // is taken for granted and done by nobody
	EarthRow     = "earth-row"      // a row that tells of protective earth
	Insulation   = "insulation-row" // a row that tells of insulation
	NoProof      = "no-proof"       // says that a repair was proved, and not how; nothing else stands beside it
)

var wordings = sync.OnceValue(func() map[string]*regexp.Regexp {
	var lists map[string][]string
	decode("wordings", &lists)
	out := map[string]*regexp.Regexp{}
	for id, list := range lists {
		out[id] = wholeWords(list)
	}
	return out
})

// decode reads a file of the built-in data, every key of which must be known.
func decode(name string, into any) { decodeFile(data, "data/"+name+".yaml", into) }

func decodeFile(files embed.FS, name string, into any) {
	src, err := files.ReadFile(name)
	if err != nil {
		panic(err) // the embed pattern is ours
	}
	dec := yaml.NewDecoder(bytes.NewReader(src))
	dec.KnownFields(true)
	if err := dec.Decode(into); err != nil {
		panic(fmt.Sprintf("built-in %s: %v", name, err))
	}
}

// wholeWords finds any of some wordings as whole words, capitals or not, the longest
// first; its first group is what was found.
func wholeWords(list []string) *regexp.Regexp {
	return regexp.MustCompile(`(?i)(?:^|[^\pL\pN])(` + Alternatives(list) + `)(?:$|[^\pL\pN])`)
}

// Alternatives is a pattern of wordings, the longest first, white space in them being any.
func Alternatives(list []string) string {
	quoted := make([]string, len(list))
	for i, w := range list {
		quoted[i] = strings.ReplaceAll(regexp.QuoteMeta(w), " ", `\s+`)
	}
	slices.SortStableFunc(quoted, func(a, b string) int { return len(b) - len(a) })
	return strings.Join(quoted, "|")
}

// Worded finds the first place where a text has a wording as it is written, in bytes.
func Worded(id, text string) (start, stop int, ok bool) {
	at := wordings()[id].FindStringSubmatchIndex(text)
	if at == nil {
		return 0, 0, false
	}
	return at[2], at[3], true
}

// HasWording reports whether a text has a wording as it is written.
func HasWording(id, text string) bool {
	_, _, ok := Worded(id, text)
	return ok
}

// IsWording reports whether a text is nothing but wordings of an id as they are written,
// such as "yes, works".
func IsWording(id, text string) bool {
	rest := strings.TrimFunc(text, notWord)
	if rest == "" {
		return false
	}
	for rest != "" {
		start, stop, ok := Worded(id, rest)
		if !ok || start != 0 {
			return false
		}
		rest = strings.TrimLeftFunc(rest[stop:], notWord)
	}
	return true
}

func notWord(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsNumber(r) }

// Opened is what says that a thing was opened, and what is found once some are.
type Opened struct {
	Verbs   []string `yaml:"verbs"`
	Between []string `yaml:"between"` // the verb and its thing
	Was     []string `yaml:"was"`     // between a thing and the verb behind it
	How     []string `yaml:"how"`
	Then    []string `yaml:"then"` // before a verb whose thing was named earlier
	It      []string `yaml:"it"`
	GoOn    []string `yaml:"go-on"` // behind it
	Inside  []Inside `yaml:"inside"`
}

// Inside are the hazards that are found in some things.
type Inside struct {
	Things  []string `yaml:"things"`
	Hazards []string `yaml:"hazards"`
}

// OpenedWords are those that come with the program.
var OpenedWords = sync.OnceValue(func() (o Opened) {
	decode("opened", &o)
	return o
})

// protectiveReaders find parts that protect, in each language.
var protectiveReaders sync.Map

// Protects reports whether a text names a part that stands between a fault and a person
// or a fire, in any language that is read, whether it says that the part is there or not:
// a wrong alarm costs a word in the case, a missed one a house.
func Protects(text string) bool {
	for _, tag := range Reading {
		r := made(&protectiveReaders, tag, func() *reader { return compile(tag, []Class{Protective}) })
		if len(r.read(text)) > 0 {
			return true
		}
	}
	return false
}

// partReaders find components, in each language.
var partReaders sync.Map

// Component gives the id of the component that a text names, the longest name in any
// language that is read, "" for none.
func Component(text string) string {
	id, most := "", 0
	for _, tag := range Reading {
		r := made(&partReaders, tag, func() *reader { return compile(tag, []Class{Part}) })
		for _, m := range r.read(text) {
			if n := m.Stop - m.Start; n > most {
				id, most = m.ID, n
			}
		}
	}
	return id
}
