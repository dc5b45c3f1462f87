package terms

import (
	"path"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"unicode/utf8"

	"benchlore/schema/language"
)

// Grammar is how a language holds its words together, as data: what says nothing, what
// turns a thing round, and what endings its words take.
type Grammar struct {
	// Function words carry no meaning and are passed over; what language a text is in
	// is told by them.
	Function []string `yaml:"function" json:"function"`
	// Final words are function words that say something at the end of a clause ("water got
	// in").
	Final []string `yaml:"final" json:"final"`
	// Hanging words cannot end a phrase: what was meant to follow is missing.
	Hanging []string `yaml:"hanging" json:"hanging"`
	// Negators turn round what follows. An entry may be several words, and end in
	// *ing: the next word must end so and is not taken.
	Negators []string `yaml:"negators" json:"negators"`
	// After says that a negator may also stand right behind what it denies (es raucht nicht).
	After bool `yaml:"after" json:"after"`
	// Fine words say that what stands before them is as it should be.
	Fine []string `yaml:"fine" json:"fine"`
	// Asking words open a clause that asks and does not state; so do Opening words at
	// the beginning of one that ends with a question mark.
	Asking []string `yaml:"asking" json:"asking"`
	// Supposing words make a guess of what follows in their clause: a cause, mostly, and no
	// symptom.
	Supposing []string `yaml:"supposing" json:"supposing"`
	Opening   []string `yaml:"opening" json:"opening"`
	// Breaks end a clause as a full stop does; Or words pass a negation on.
	Breaks []string `yaml:"breaks" json:"breaks"`
	Or     []string `yaml:"or" json:"or"`
	// Folds are letters written in two ways, and Endings what inflection adds, for
	// languages other than English, whose stemmer program and pages share. Single
	// says that a doubled last consonant counts once.
	Folds   []string `yaml:"folds" json:"folds"` // from=to
	Endings []string `yaml:"endings" json:"endings"`
	Single  bool     `yaml:"single" json:"single"`
	// Nouns are the endings of plurals and cases; what they stand behind loses a last
	// letter of Drops first (battery, batteries).
	Nouns []string `yaml:"nouns" json:"nouns"`
	Drops string   `yaml:"drops" json:"drops"`
	// Compounds says that words are joined into one, the last of which is meant.
	Compounds bool `yaml:"compounds" json:"compounds"`
	// Splits says that an apostrophe parts two words.
	Splits bool `yaml:"splits" json:"splits"`
	// Slips are common misspellings with the word that is meant.
	Slips map[string]string `yaml:"slips" json:"slips"`

	tag       string
	endings   []string // the longest first
	folder    *strings.Replacer
	function  map[string]bool
	fine      map[string]bool // by key
	asking    map[string]bool
	supposing map[string]bool
	breaks    map[string]bool
	or        map[string]bool
	negators  map[string][]negator // by key of the first word
	stem      func(w string) string
	keys      *sync.Map // of words that were met
	held      *atomic.Int64
}

type negator struct {
	words  []string // keys
	ending string   // of the word behind, "" for any
}

var grammars sync.Map // tag -> *Grammar

// grammarOf gives the grammar of a language, English's where it has none.
func grammarOf(tag string) *Grammar {
	if !slices.Contains(Reading, tag) {
		tag = language.English
	}
	if made, ok := grammars.Load(tag); ok {
		return made.(*Grammar)
	}
	g := &Grammar{tag: tag, keys: &sync.Map{}, held: &atomic.Int64{}}
	decodeFile(lexiconFiles, path.Join("lexicon", tag, "grammar.yaml"), g)
	g.prepare()
	kept, _ := grammars.LoadOrStore(tag, g)
	return kept.(*Grammar)
}

func (g *Grammar) prepare() {
	var pairs []string
	for _, f := range g.Folds {
		from, to, _ := strings.Cut(f, "=")
		pairs = append(pairs, from, to)
	}
	g.folder = strings.NewReplacer(pairs...)
	g.endings = slices.Clone(g.Endings)
	slices.SortStableFunc(g.endings, func(a, b string) int { return len(b) - len(a) })
	if g.tag == language.English {
		g.stem = language.Of(language.English).Stem
	}
	keys := func(list []string) map[string]bool {
		m := map[string]bool{}
		for _, w := range list {
			m[g.key(w)] = true
		}
		return m
	}
	g.function = map[string]bool{}
	for _, w := range g.Function {
		g.function[w] = true
	}
	g.fine, g.asking, g.supposing, g.breaks, g.or = keys(g.Fine), keys(g.Asking), keys(g.Supposing), keys(g.Breaks), keys(g.Or)
	g.negators = map[string][]negator{}
	for _, text := range append([]string{notKey}, g.Negators...) { // phrases say "not" in every language
		var n negator
		for _, w := range strings.Fields(text) {
			if ending, ok := strings.CutPrefix(w, "*"); ok {
				n.ending = ending
			} else {
				n.words = append(n.words, g.key(w))
			}
		}
		first := n.words[0]
		g.negators[first] = append(g.negators[first], n)
	}
	for _, list := range g.negators { // the longest first
		slices.SortStableFunc(list, func(a, b negator) int { return len(b.words) - len(a.words) })
	}
}

// fewestLetters is what an ending leaves of a word at least.
const fewestLetters = 3

// mostKeys bounds what is remembered, since a text may hold any number of odd words.
const mostKeys = 1 << 16

// longestHeld is the longest word that is remembered, in bytes: longer ones come once.
const longestHeld = 100

// key is the same for the inflected forms of a word, given in lower case.
func (g *Grammar) key(w string) string {
	if k, ok := g.keys.Load(w); ok {
		return k.(string)
	}
	k := g.cut(w)
	if len(w) <= longestHeld && g.held.Add(1) <= mostKeys {
		// They may be cut from a whole text, which must not be kept for them.
		g.keys.Store(strings.Clone(w), strings.Clone(k))
	}
	return k
}

// fold brings a word to the letters that are told apart.
func (g *Grammar) fold(w string) string {
	if meant, ok := g.Slips[w]; ok {
		w = meant
	}
	return g.folder.Replace(w)
}

// isForm reports whether a word is one of some nouns or a form of it.
func (g *Grammar) isForm(w string, forms []string) bool {
	w = g.fold(w)
	for _, f := range forms {
		if w == f {
			return true
		}
		rest, ok := strings.CutPrefix(w, f)
		if ok && slices.Contains(g.Nouns, rest) {
			return true
		}
		if last := len(f) - 1; utf8.RuneCountInString(f) > 2 && strings.IndexByte(g.Drops, f[last]) >= 0 {
			if rest, ok := strings.CutPrefix(w, f[:last]); ok && slices.Contains(g.Nouns, rest) {
				return true
			}
		}
	}
	return false
}

func (g *Grammar) cut(w string) string {
	if meant, ok := g.Slips[w]; ok {
		w = meant
	}
	if g.stem != nil {
		return g.stem(w)
	}
	w = g.folder.Replace(w)
	for _, e := range g.endings {
		if base, ok := strings.CutSuffix(w, e); ok && utf8.RuneCountInString(base) >= fewestLetters {
			w = base
			break
		}
	}
	if g.Single && len(w) > fewestLetters {
		if last := w[len(w)-1]; last == w[len(w)-2] && last < utf8.RuneSelf {
			w = w[:len(w)-1]
		}
	}
	return w
}
