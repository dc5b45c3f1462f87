// Package language cuts words of a notebook's language to their stems and knows
// which of them say nothing: for English the Snowball stemmer, for others what
// bleve has for them.
//
// Begin with [Of]. A language is read-only and safe for concurrent use.
package language

import (
	"cmp"
	_ "embed"
	"maps"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"github.com/blevesearch/bleve/v2/analysis"
	"github.com/blevesearch/bleve/v2/analysis/token/stop"
	"github.com/blevesearch/bleve/v2/registry"
	"github.com/blevesearch/snowballstem"
	"github.com/blevesearch/snowballstem/english"
	"go.yaml.in/yaml/v3"

	// Each registers its stemmer and stop words.
	_ "github.com/blevesearch/bleve/v2/analysis/lang/ar"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/bg"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/ca"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/ckb"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/cs"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/da"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/de"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/el"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/es"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/eu"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/fa"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/fi"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/fr"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/ga"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/gl"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/hi"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/hr"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/hu"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/hy"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/id"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/it"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/nl"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/no"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/pl"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/pt"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/ro"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/ru"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/sv"
	_ "github.com/blevesearch/bleve/v2/analysis/lang/tr"
)

// Language is how words of one language are treated.
type Language struct {
	// Tag is the base of the language tag, such as "de".
	Tag string
	// Splits says that an apostrophe parts two words (l'appareil); elsewhere it is
	// left out (won't).
	Splits   bool
	filters  []analysis.TokenFilter
	stops    map[string]bool
	negative map[string]bool
	stemmed  *memory
}

// memory keeps the stems of words that were met: a notebook says the same few
// thousand over and over.
type memory struct {
	stems sync.Map // string to string
	held  atomic.Int64
}

// mostStems bounds what is kept, since a text may hold any number of odd words.
const mostStems = 1 << 16

func (m *memory) of(w string, stem func(w string) string) string {
	if s, ok := m.stems.Load(w); ok {
		return s.(string)
	}
	s := stem(w)
	if m.held.Add(1) <= mostStems {
		// They may be cut from a whole text, which must not be kept for them.
		m.stems.Store(strings.Clone(w), strings.Clone(s))
	}
	return s
}

// English is what a notebook that names no language is taken to be in.
const English = "en"

// stemming are the languages that bleve has a stemmer or a normaliser for; stopping
// those that it has stop words for alone.
var (
	stemming = []string{"ar", "ckb", "da", "de", "es", "fa", "fi", "fr", "hi", "hr", "hu", "it", "nl", "no", "pl",
		"pt", "ro", "ru", "sv", "tr"}
	stopping = []string{"bg", "ca", "cs", "el", "eu", "ga", "gl", "hy", "id"}
)

// negatives turn a symptom round, and kept say where something is or goes; both are
// no stop words here, whatever the lists say.
var (
	negatives = map[string]string{
		"en": "not wont cant cannot doesnt dont didnt isnt arent wasnt werent wouldnt couldnt hasnt havent unable never without",
		"de": "nicht kein keine keinen keiner keinem nie ohne", "fr": "pas sans jamais aucun aucune",
		"es": "no sin nunca", "it": "non senza mai",
		"nl": "niet geen zonder", "sv": "inte ej ingen inget utan", "da": "ikke ingen intet uden",
		"no": "ikke ingen uten", "pt": "não nao sem nunca",
		"fi": "ei eivät ilman", "pl": "nie bez", "ru": "не нет без", "ro": "nu fără", "hr": "ne nije bez",
		"hu": "nem nincs", "tr": "değil yok",
	}
	kept = map[string]string{"de": "an aus auf ab zu ein", "fr": "plus sous sur", "nl": "aan uit op af",
		"sv": "på av", "da": "på til fra", "no": "på av til fra"}
)

var known = func() map[string]func() *Language {
	out := map[string]func() *Language{}
	for _, tag := range append(append([]string{English}, stemming...), stopping...) {
		out[tag] = sync.OnceValue(func() *Language { return load(tag) })
	}
	return out
}()

// aliases are tags of languages that others stand for.
var aliases = map[string]string{"nb": "no", "nn": "no"}

// Of gives the language of a tag such as "de-AT". Words of a language that is not
// known are left as they are.
func Of(tag string) *Language {
	base, _, _ := strings.Cut(strings.ToLower(cmp.Or(tag, English)), "-")
	base = cmp.Or(aliases[base], base)
	if l, ok := known[base]; ok {
		return l()
	}
	return &Language{Tag: base, stemmed: &memory{}}
}

// Tags lists the languages whose words are stemmed or normalised.
func Tags() []string { return slices.Sorted(slices.Values(append([]string{English}, stemming...))) }

func load(tag string) *Language {
	l := &Language{Tag: tag, Splits: slices.Contains([]string{"fr", "it", "ca", "ga"}, tag), negative: words(negatives[tag]), stemmed: &memory{}}
	if tag == English {
		return l // its stop words are the caller's, who keeps more than a list would
	}
	cache := registry.NewCache()
	if list, err := cache.TokenMapNamed("stop_" + tag); err == nil {
		l.stops = map[string]bool{}
		for w := range list {
			l.stops[strings.ToLower(w)] = true
		}
		for w := range words(negatives[tag] + " " + kept[tag]) {
			delete(l.stops, w)
		}
		if l.Splits { // what stands before an apostrophe
			for _, w := range strings.Fields("l d j m t s n c qu jusqu lorsqu puisqu un dell nell sull all dall") {
				l.stops[w] = true
			}
		}
	}
	if !slices.Contains(stemming, tag) {
		return l
	}
	a, err := cache.AnalyzerNamed(tag)
	if err != nil {
		panic(err) // bleve's own analysers, registered above
	}
	whole, ok := a.(*analysis.DefaultAnalyzer)
	if !ok {
		panic("bleve's analyser of " + tag + " is of another kind than known")
	}
	for _, f := range whole.TokenFilters {
		if _, stops := f.(*stop.StopTokensFilter); !stops {
			l.filters = append(l.filters, f)
		}
	}
	return l
}

func words(text string) map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(text) {
		m[w] = true
	}
	return m
}

// Limits of what is stemmed, in bytes: shorter words have nothing to lose, and
// longer ones are no words.
const shortest, longest = 3, 40

// Stemmable reports whether a word is long enough, and not too long, to be cut.
func Stemmable(w string) bool { return len(w) >= shortest && len(w) <= longest }

// Stem cuts a word in lower case.
func (l *Language) Stem(w string) string {
	if !Stemmable(w) {
		return w
	}
	return l.stemmed.of(w, l.stem)
}

func (l *Language) stem(w string) string {
	if l.Tag == English {
		env := snowballstem.NewEnv(w)
		english.Stem(env)
		return env.Current()
	}
	if l.filters == nil {
		return w
	}
	tokens := analysis.TokenStream{{Term: []byte(w), Start: 0, End: len(w), Position: 1, Type: analysis.AlphaNumeric}}
	for _, f := range l.filters {
		tokens = f.Filter(tokens)
	}
	if len(tokens) != 1 || len(tokens[0].Term) == 0 {
		return w
	}
	return string(tokens[0].Term)
}

// Stops reports whether a word in lower case says nothing in this language.
func (l *Language) Stops(w string) bool { return l.stops[w] }

// StopWords lists them.
func (l *Language) StopWords() []string { return slices.Sorted(maps.Keys(l.stops)) }

// Negates reports whether a word in lower case turns round what it stands with.
func (l *Language) Negates(w string) bool { return l.negative[w] }

// Negatives lists those words.
func (l *Language) Negatives() []string { return slices.Sorted(maps.Keys(l.negative)) }

// A program that has no stemmer for the language, as the script of a page, can
// still bring a word that it does not know to one that it knows: by the endings
// that the stemmer takes off a long word, and the letters that it replaces. Both
// were found by asking the stemmer (the test of this package does, with -update).
type rest struct {
	Endings string            `yaml:"endings"`
	Folds   map[string]string `yaml:"folds"`
}

//go:embed endings.yaml
var endings []byte

var rests = sync.OnceValue(func() map[string]rest {
	out := map[string]rest{}
	if err := yaml.Unmarshal(endings, &out); err != nil {
		panic(err) // our own file
	}
	return out
})

// Endings are what the stemmer takes off a long word, the shortest first; none for
// English, whose stemmer pages have.
func (l *Language) Endings() []string { return strings.Fields(rests()[l.Tag].Endings) }

// Folds are single letters that the stemmer replaces wherever they stand.
func (l *Language) Folds() map[string]string { return rests()[l.Tag].Folds }
