// Package wording says the texts of the interface in the notebook's language.
//
// A text is written in English where it is used and looked up by that English.
// The other languages are files in theme/messages; a text that a file does not
// have stays English. Begin with [In].
package wording

import (
	"embed"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"maps"
	"path"
	"regexp"
	"slices"
	"strings"
	"sync"

	"github.com/nicksnyder/go-i18n/v2/i18n"
	"go.yaml.in/yaml/v3"
	"golang.org/x/text/language"

	"benchlore/theme"
)

// Texts are the texts of one language. They are safe for concurrent use.
type Texts struct {
	tag       language.Tag
	localizer *i18n.Localizer
	known     map[string]entry
}

// entry is a text in another language: whole, or by plural form (CLDR).
type entry struct{ one, many, other string }

// UnmarshalYAML reads a text, or a map of plural forms.
func (e *entry) UnmarshalYAML(n *yaml.Node) error {
	if n.Kind == yaml.ScalarNode {
		e.other = n.Value
		return nil
	}
	var forms struct{ One, Many, Other string }
	if err := n.Decode(&forms); err != nil {
		return err
	}
	*e = entry{forms.One, forms.Many, forms.Other}
	return nil
}

var all = sync.OnceValue(func() map[string]*Texts {
	bundle := i18n.NewBundle(language.English)
	out := map[string]*Texts{"en": {tag: language.English}}
	read(theme.Messages, func(lang string, entries map[string]entry) {
		tag := language.MustParse(lang)
		for id, e := range entries {
			m := &i18n.Message{ID: id, One: e.one, Many: e.many, Other: e.other, LeftDelim: "\x00", RightDelim: "\x00"}
			if e.one == "" {
				m.One = e.other
			}
			if err := bundle.AddMessages(tag, m); err != nil {
				panic(fmt.Sprintf("messages of %s: %q: %v", lang, id, err))
			}
		}
		out[lang] = &Texts{tag: tag, known: entries}
	})
	for lang, t := range out {
		t.localizer = i18n.NewLocalizer(bundle, lang)
	}
	return out
})

// read calls with every message file; they are ours, so a mistake in them is one
// of the program.
func read(files embed.FS, call func(lang string, entries map[string]entry)) {
	list, err := files.ReadDir("messages")
	if err != nil {
		panic(err)
	}
	for _, f := range list {
		data, err := files.ReadFile("messages/" + f.Name())
		if err != nil {
			panic(err)
		}
		entries := map[string]entry{}
		if err := yaml.Unmarshal(data, &entries); err != nil {
			panic(fmt.Sprintf("messages/%s: %v", f.Name(), err))
		}
		call(strings.TrimSuffix(f.Name(), path.Ext(f.Name())), entries)
	}
}

// Languages lists the languages that there are texts in.
func Languages() []string { return slices.Sorted(maps.Keys(all())) }

// In returns the texts for a language tag such as "de" or "fr-CH"; English where
// there are none.
func In(tag string) *Texts {
	base, _, _ := strings.Cut(strings.ToLower(tag), "-")
	if t, ok := all()[base]; ok {
		return t
	}
	return all()["en"]
}

// Language is the tag of the texts' language.
func (t *Texts) Language() string { return t.tag.String() }

// Say gives a text; with arguments it is a format as for [fmt.Sprintf].
func (t *Texts) Say(english string, args ...any) string {
	text := english
	if e, ok := t.known[english]; ok && e.other != "" {
		text = e.other
	}
	if len(args) > 0 {
		return fmt.Sprintf(text, t.local(args)...)
	}
	return text
}

// decimalComma are the languages with texts here that write 1,5 for 1.5 (CLDR).
var decimalComma = map[string]bool{"de": true, "fr": true}

// commaFloat is a number that is written with a decimal comma.
type commaFloat float64

// Format writes as fmt does, with a comma.
func (f commaFloat) Format(state fmt.State, verb rune) {
	text := fmt.Sprintf(fmt.FormatString(state, verb), float64(f))
	_, _ = io.WriteString(state, strings.Replace(text, ".", ",", 1))
}

// local gives numbers the language's decimal sign.
func (t *Texts) local(args []any) []any {
	base, _, _ := strings.Cut(t.Language(), "-")
	if !decimalComma[base] {
		return args
	}
	out := slices.Clone(args)
	for i, a := range out {
		if x, ok := a.(float64); ok {
			out[i] = commaFloat(x)
		}
	}
	return out
}

// Count gives a text for n of something. Both forms are formats; n is their first
// argument. The message is looked up by the form for many.
func (t *Texts) Count(n int, one, many string, args ...any) string {
	text, err := t.localizer.Localize(&i18n.LocalizeConfig{
		DefaultMessage: &i18n.Message{ID: many, One: one, Other: many, LeftDelim: "\x00", RightDelim: "\x00"}, PluralCount: n})
	if err != nil {
		text = many
	}
	return fmt.Sprintf(text, append([]any{n}, args...)...)
}

// scriptText is a text that a script of a page looks up.
var scriptText = regexp.MustCompile(`\bsay\(("(?:[^"\\]|\\.)*")`)

// inScripts are the texts of all scripts, by their English.
var inScripts = sync.OnceValue(func() []string {
	var out []string
	for _, files := range []embed.FS{theme.Assets, theme.Bench} {
		err := fs.WalkDir(files, ".", func(name string, e fs.DirEntry, err error) error {
			if err != nil || path.Ext(name) != ".js" {
				return err
			}
			data, err := files.ReadFile(name)
			for _, m := range scriptText.FindAllSubmatch(data, -1) {
				var text string
				if err := json.Unmarshal(m[1], &text); err != nil {
					return fmt.Errorf("%s: %s: %w", name, m[1], err)
				}
				out = append(out, text)
			}
			return err
		})
		if err != nil {
			panic(err) // the scripts are ours
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
})

// Script is assets/say.js, by which the scripts of a page say their texts, with
// those of the language in front.
func (t *Texts) Script() ([]byte, error) {
	code, err := theme.Assets.ReadFile("assets/say.js")
	if err != nil {
		return nil, err
	}
	table := map[string]string{}
	for _, id := range inScripts() {
		if text := t.Say(id); text != id {
			table[id] = text
		}
	}
	if len(table) == 0 {
		return code, nil
	}
	data, err := json.Marshal(table)
	if err != nil {
		return nil, err
	}
	return slices.Concat([]byte("globalThis.benchloreTexts = "), data, []byte(";\n"), code), nil
}

// Funcs are what templates say texts with: t for a text, n for a number of things,
// lang for the language itself.
func (t *Texts) Funcs() template.FuncMap {
	return template.FuncMap{"t": t.Say, "n": t.Count, "lang": t.Language}
}
