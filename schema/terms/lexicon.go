package terms

import (
	"bufio"
	"crypto/sha256"
	"embed"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
	"sync"
)

// The words that people use, by language and class. Each file lists for an id the
// phrases that mean it; [lexicon.parse] says how a phrase is written. What was learned from
// open repair records (single words and common collocations) is credited in the head
// of each file.
//
//go:embed lexicon
var lexiconFiles embed.FS

// Reading lists the languages whose texts are read, the first being the one whose
// words are understood where nothing else is known.
var Reading = []string{"en", "de", "fr", "nl"}

// phrase is one line of a lexicon: what is said, of a class, and what it means.
type phrase struct {
	class Class
	id    string
	text  string
}

// lexicon is what one language says.
type lexicon struct {
	phrases []phrase
	sets    map[string]string // "class/name" -> alternatives, parted by bars
}

var lexicons sync.Map // tag -> *lexicon

// lexiconOf reads the files of a language, none where it has no lexicon.
func lexiconOf(tag string) *lexicon {
	if made, ok := lexicons.Load(tag); ok {
		return made.(*lexicon)
	}
	l := &lexicon{sets: map[string]string{}}
	for _, c := range readClasses {
		src, err := lexiconFiles.ReadFile(path.Join("lexicon", tag, string(c)+".yaml"))
		if err != nil {
			if slices.Contains(Reading, tag) && !isMissing(err) {
				panic(err) // the embed pattern is ours
			}
			continue
		}
		if err := l.add(c, string(src)); err != nil {
			panic(fmt.Sprintf("lexicon %s, %s: %v", tag, c, err))
		}
	}
	kept, _ := lexicons.LoadOrStore(tag, l)
	return kept.(*lexicon)
}

func isMissing(err error) bool {
	_, ok := err.(*fs.PathError)
	return ok
}

// add reads the few forms of YAML that a file of the lexicon is written in: a key, its
// list a line each, and sets in brackets. It is many times faster than reading any YAML,
// and [TestLexiconIsYAML] holds it against a library that reads all.
func (l *lexicon) add(c Class, src string) error {
	id, set := "", ""
	lines := bufio.NewScanner(strings.NewReader(src))
	for n := 1; lines.Scan(); n++ {
		line := strings.TrimRight(lines.Text(), " ")
		switch {
		case line == "" || strings.HasPrefix(strings.TrimLeft(line, " "), "#"):
		case strings.HasPrefix(line, "_"):
			name, list, ok := strings.Cut(line[1:], ":")
			list = strings.TrimSpace(list)
			if !ok || list != "" && (!strings.HasPrefix(list, "[") || !strings.HasSuffix(list, "]")) {
				return fmt.Errorf("line %d: a set is written _name: [word, word]", n)
			}
			id, set = "", string(c)+"/"+name
			var words []string
			if list != "" {
				for _, w := range strings.Split(list[1:len(list)-1], ",") {
					words = append(words, unquoted(strings.TrimSpace(w)))
				}
			}
			l.sets[set] = strings.Join(words, "|")
		case strings.HasSuffix(line, ":") && line[0] != ' ':
			id, set = line[:len(line)-1], ""
		case strings.HasPrefix(line, "  - ") && id != "":
			l.phrases = append(l.phrases, phrase{c, id, unquoted(strings.TrimSpace(line[4:]))})
		case strings.HasPrefix(line, "  - ") && set != "":
			if l.sets[set] != "" {
				l.sets[set] += "|"
			}
			l.sets[set] += unquoted(strings.TrimSpace(line[4:]))
		default:
			return fmt.Errorf("line %d: neither an id with a colon nor \"  - phrase\"", n)
		}
	}
	return lines.Err()
}

// unquoted takes the quotes off a scalar that has them.
func unquoted(s string) string {
	if len(s) > 1 && (s[0] == '"' || s[0] == '\'') && s[len(s)-1] == s[0] {
		return s[1 : len(s)-1]
	}
	return s
}

// LexiconSum identifies the words that come with the program, so that what was read with
// others is read anew.
var LexiconSum = sync.OnceValue(func() string {
	h := sha256.New()
	for _, tag := range Reading {
		entries, err := lexiconFiles.ReadDir(path.Join("lexicon", tag))
		if err != nil {
			panic(err) // the embed pattern is ours
		}
		for _, e := range entries {
			src, err := lexiconFiles.ReadFile(path.Join("lexicon", tag, e.Name()))
			if err != nil {
				panic(err)
			}
			_, _ = h.Write(src)
		}
	}
	return fmt.Sprintf("%x", h.Sum(nil)[:12])
})

// item is a place in a phrase: the words that may stand there, each alternative a list
// of them, or a joint between two parts.
type item struct {
	joint        byte // '.' for words between, '&' for either order, 0 for words
	alternatives [][]string
}

// parse reads how a phrase is written:
//
//	blown fuse            words that stand together
//	fuse .. blown         up to [farOrdered] words between, in this order
//	fuse & blown          either order, up to [farEither] words between
//	(blown|burnt out) fuse    alternatives, which may be empty
//	<broken> wire         a set of the same file
func (l *lexicon) parse(p phrase) ([]item, error) {
	text := strings.ToLower(p.text)
	for i := strings.IndexByte(text, '<'); i >= 0; i = strings.IndexByte(text, '<') {
		end := strings.IndexByte(text[i:], '>')
		if end < 0 {
			return nil, fmt.Errorf("%q: a set is written <name>", p.text)
		}
		set, ok := l.sets[string(p.class)+"/"+text[i+1:i+end]]
		if !ok {
			return nil, fmt.Errorf("%q: there is no set %q in this file", p.text, text[i+1:i+end])
		}
		open, shut := "(", ")"
		if inGroup(text[:i]) {
			open, shut = "", "" // its words are alternatives of the group
		}
		text = text[:i] + open + set + shut + text[i+end+1:]
	}
	var out []item
	for text != "" {
		i := strings.IndexByte(text, '(')
		if i < 0 {
			i = len(text)
		}
		for _, w := range strings.Fields(text[:i]) {
			if w == ".." || w == "&" {
				out = append(out, item{joint: w[0]})
			} else {
				out = append(out, item{alternatives: [][]string{{w}}})
			}
		}
		if i == len(text) {
			break
		}
		end := strings.IndexByte(text[i:], ')')
		if end < 0 {
			return nil, fmt.Errorf("%q: a bracket is not closed", p.text)
		}
		group := item{}
		for _, alternative := range strings.Split(text[i+1:i+end], "|") {
			group.alternatives = append(group.alternatives, strings.Fields(alternative))
		}
		out, text = append(out, group), text[i+end+1:]
	}
	return out, nil
}

// inGroup reports whether a bracket is open at the end of a text.
func inGroup(text string) bool {
	return strings.LastIndexByte(text, '(') > strings.LastIndexByte(text, ')')
}

// mostShown is how many of the phrases of a term are shown to people.
const mostShown = 12

// shown gives some of what people say for a term that reads well: plain words without
// alternatives, gaps or denials, the first of the lexicon.
func shown(tag string, c Class, t *Term) (out []string) {
	name := strings.ToLower(t.Name)
	for _, text := range plainPhrases(tag)[termKey{c, t.ID}] {
		if len(out) < mostShown && text != name && text != strings.ReplaceAll(t.ID, "-", " ") && !slices.Contains(t.Also, text) {
			out = append(out, text)
		}
	}
	return out
}

// termKey is an id of a class.
type termKey struct {
	class Class
	id    string
}

var plainByTag sync.Map // tag -> map[termKey][]string

func plainPhrases(tag string) map[termKey][]string {
	if made, ok := plainByTag.Load(tag); ok {
		return made.(map[termKey][]string)
	}
	out := map[termKey][]string{}
	for _, p := range lexiconOf(tag).phrases {
		if strings.ContainsAny(p.text, "(<&") || strings.Contains(p.text, "..") || slices.Contains(strings.Fields(p.text), notKey) {
			continue
		}
		at := termKey{p.class, p.id}
		out[at] = append(out[at], p.text)
	}
	kept, _ := plainByTag.LoadOrStore(tag, out)
	return kept.(map[termKey][]string)
}
