package wording

import (
	"bytes"
	"encoding/json"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/learn/firstweeks"
	"benchlore/build/reason/search"
	"benchlore/build/reason/verdict"
	"benchlore/schema/board"
	"benchlore/schema/casefile"
	"benchlore/schema/quantity"
	"benchlore/schema/sources"
	"benchlore/schema/terms"
	"benchlore/theme"
)

// Where texts stand in sources: what is said at once, and static texts that are
// said later, by their places.
var (
	quoted    = `"((?:[^"\\]|\\.)*)"`
	said      = regexp.MustCompile(`(?:\bt|\bSay|\bsay)\(?\s*` + quoted)
	counted   = regexp.MustCompile(`(?:\bn [.$A-Za-z]+ |\bcount\([^"]+|\bCount\([^"]+)` + quoted + `,?\s+` + quoted)
	later     = regexp.MustCompile(`(?:\bmark\{Word: |\bMark\{|return "[^"]*", |classNames|stepTitles|sideNames)` + quoted)
	mapValues = regexp.MustCompile(`:\s+` + quoted)
)

func unquote(t *testing.T, s string) string {
	out, err := strconv.Unquote(`"` + s + `"`)
	require.NoError(t, err, s)
	return out
}

// texts gathers every text of the interface from the sources.
func texts(t *testing.T) []string {
	out := map[string]bool{}
	add := func(s string) {
		if regexp.MustCompile(`[A-Za-z]{2}|%`).MatchString(s) {
			out[s] = true
		}
	}
	for _, pattern := range []string{"../../../theme/templates/*.html", "../../../theme/bench/*.html", "../site/*.go", "mark.go",
		"../../write/editor/*.go", "../../reason/similar/*.go", "../../reason/verdict/loss.go", "../../reason/triage/basis.go", "../../../cmd/benchlore/practise.go",
		"../../../cmd/benchlore/find.go", "../../../cmd/benchlore/similar.go", "../../../cmd/benchlore/triage.go", "../../../cmd/benchlore/erase.go"} {
		files, err := filepath.Glob(pattern)
		require.NoError(t, err)
		require.NotEmpty(t, files, pattern)
		for _, name := range files {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			src, err := os.ReadFile(name)
			require.NoError(t, err)
			for _, m := range counted.FindAllSubmatch(src, -1) {
				add(unquote(t, string(m[2])))
			}
			for _, m := range said.FindAllSubmatch(src, -1) {
				add(unquote(t, string(m[1])))
			}
			for _, m := range later.FindAllSubmatch(src, -1) {
				add(unquote(t, string(m[1])))
			}
			// Maps of texts that a template or another place says.
			for _, start := range []string{"var classNames = ", "var stepTitles = ", "var sideNames = ", "var columnNames = ",
				"var says = ", "fieldHints    = map[string]string{\"device\"", "hints := map[string]string{", "workHints := map[string]string{"} {
				if _, rest, ok := bytes.Cut(src, []byte(start)); ok {
					body, _, _ := bytes.Cut(rest, []byte("}\n"))
					for _, m := range mapValues.FindAllSubmatch(append([]byte(": "), body...), -1) {
						add(unquote(t, string(m[1])))
					}
				}
			}
			if strings.HasSuffix(name, "editor/pages.go") {
				for _, m := range regexp.MustCompile(`add\(.*, "([^"]+)", "[a-z][^" ]*"\)`).FindAllSubmatch(src, -1) {
					add(string(m[1]))
				}
			}
		}
	}
	for _, p := range terms.Precautions() {
		for _, s := range slices.Concat(p.Care, p.Question.Wrong, []string{p.Question.Ask, p.Question.Right}) {
			add(s)
		}
		for _, l := range p.Limits {
			add(l.What)
			add(l.Limit)
		}
	}
	for _, c := range firstweeks.Crafts {
		for _, q := range c.Questions {
			for _, s := range append(q.Wrong, q.Ask, q.Right) {
				add(s)
			}
		}
	}
	for _, s := range inScripts() {
		add(s)
	}
	for _, s := range sources.All() {
		add(s.Name)
		add(s.Changed)
		for _, d := range s.Derived {
			add(d.What)
		}
	}
	for _, p := range terms.Prerequisites() {
		add(p.Do)
		add(p.Why)
	}
	for _, s := range terms.Builtin().All(terms.Symptom) {
		add(strings.ToUpper(s.Group[:1]) + s.Group[1:])
	}
	for _, kind := range []string{"Own", "Capacitors", "Resistors", "Inductors", "Fuses", "Diodes", "Transistors",
		"Crystals"} { // as parts.html groups them
		add(kind)
	}
	for _, r := range []board.Role{board.Series, board.Shunt, board.Link, board.Grounds, board.TestPoint, board.Connector, board.Many, board.Unwired} {
		add(string(r))
	}
	for _, section := range []string{casefile.FastenerSection, casefile.PlugSection, casefile.ReferenceSection, casefile.SpareSection,
		casefile.DonorSection, casefile.RailSection, "at least %s", "at most %s", "%s to %s", "and"} { // limits as verdict says them
		add(section)
	}
	for _, f := range search.Fields {
		add(string(f))
	}
	add(verdict.FromDevice)
	add(verdict.NoTolerance)
	add(verdict.NotDecided)
	for _, d := range []casefile.Doubt{casefile.UnknownWhat, casefile.WhatUnit, casefile.Unlimited} {
		add(string(d))
	}
	for _, f := range slices.Concat(casefile.Fields, casefile.Intake) {
		if f.Label != "" {
			add(f.Label)
		}
	}
	for v := quantity.In; v <= quantity.TooClose; v++ { // as a mark says it
		add(v.String())
	}
	add(quantity.LiveCaution())
	for _, f := range quantity.Formulas() {
		for _, x := range f.Inputs {
			add(x.Name)
			add(x.Unit)
		}
		for _, x := range f.Results {
			add(x.Name)
			add(x.Unit)
		}
		add(f.Title)
		add(f.Source)
		add(f.Valid)
		add(f.Caution)
	}
	for _, name := range casefile.WorkSections {
		add(name)
	}
	var list []string
	for s := range out {
		list = append(list, s)
	}
	slices.Sort(list)
	return list
}

// The same in every language: names, signs, formats without words.
var untranslated = regexp.MustCompile(`^(?:Markdown|%[sd]|Name|Firmware|[^A-Za-z]*%\.?\d*[dsf][^A-Za-z]*|Ring|language-tag)$`)

// TestEveryTextIsTranslated: each language has each text of the interface, and none
// that is not used any more; the arguments of both are the same.
func TestEveryTextIsTranslated(t *testing.T) {
	want := texts(t)
	require.Greater(t, len(want), 400)
	if file := os.Getenv("BENCHLORE_TEXTS"); file != "" {
		data, err := json.MarshalIndent(want, "", " ")
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(file, data, 0o644))
	}
	verbs := regexp.MustCompile(`%(?:\[\d\]|\d\$)?[.0-9]*[a-z%]`)
	plain := func(s string) []string {
		list := verbs.FindAllString(s, -1)
		for i, v := range list {
			list[i] = regexp.MustCompile(`\[\d\]|\d\$`).ReplaceAllString(v, "")
		}
		slices.Sort(list)
		return list
	}
	read(theme.Messages, func(lang string, entries map[string]entry) {
		t.Run(lang, func(t *testing.T) {
			for _, text := range want {
				e, ok := entries[text]
				if !ok {
					assert.True(t, untranslated.MatchString(text), "%q is missing", text)
					continue
				}
				assert.Equal(t, plain(text), plain(e.other), text)
				if e.one != "" {
					assert.Equal(t, plain(text), plain(e.one), text)
				}
			}
			for id := range entries {
				assert.True(t, slices.Contains(want, id), "%q: nothing says this any more", id)
			}
		})
	})
}

// TestCounting: plural forms follow the language (CLDR): French takes the singular
// for none, English and German do not.
func TestCounting(t *testing.T) {
	for _, c := range []struct {
		lang string
		n    int
		want string
	}{{"en", 0, "0 cases"}, {"en", 1, "1 case"}, {"en", 2, "2 cases"}, {"de-CH", 1, "1 Fall"}, {"de", 0, "0 Fälle"},
		{"fr", 0, "0 cas"}, {"fr", 1, "1 cas"}, {"tlh", 3, "3 cases"}} {
		assert.Equal(t, c.want, In(c.lang).Count(c.n, "%d case", "%d cases"), "%s %d", c.lang, c.n)
	}
	assert.Equal(t, "1 pièce", In("fr").Count(1, "%d part", "%d parts"))
	assert.Equal(t, "0 pièce", In("fr").Count(0, "%d part", "%d parts"))
	assert.Equal(t, "2 pièces", In("fr").Count(2, "%d part", "%d parts"))
}

// TestPathIsTranslated: where a language has texts for the first weeks, it has all.
func TestPathIsTranslated(t *testing.T) {
	english, err := fs.Glob(theme.Path, "path/en/*.md")
	require.NoError(t, err)
	for _, lang := range Languages() {
		for _, name := range english {
			_, err := fs.Stat(theme.Path, strings.Replace(name, "/en/", "/"+lang+"/", 1))
			assert.NoError(t, err, "%s in %s", name, lang)
		}
	}
}

// TestDocsAreTranslated: every language has each page on using the program, with the same
// commands and settings in it.
func TestDocsAreTranslated(t *testing.T) {
	command := regexp.MustCompile(`(?m)^    benchlore [a-z]+(?: [a-z]+)?|--[a-z]+|DEVICE|CASE|## [A-Z][a-z]+`)
	english, err := fs.Glob(theme.Docs, "docs/en/*.md")
	require.NoError(t, err)
	require.NotEmpty(t, english)
	count := func(name string) map[string]int {
		text, err := fs.ReadFile(theme.Docs, name)
		require.NoError(t, err)
		found := map[string]int{}
		for _, w := range command.FindAllString(string(text), -1) {
			if strings.HasPrefix(w, "    ") {
				w = strings.Join(strings.Fields(w)[:2], " ")
			}
			found[w]++
		}
		return found
	}
	for _, lang := range Languages() {
		for _, name := range english {
			assert.Equal(t, count(name), count(strings.Replace(name, "/en/", "/"+lang+"/", 1)), "%s in %s", name, lang)
		}
	}
}

// TestDecimals: numbers are written as the language writes them, words and whole numbers
// stay as they are.
func TestDecimals(t *testing.T) {
	for tag, want := range map[string]string{"en": "2.25 of 2 v1.2", "de": "2,25 of 2 v1.2", "fr": "2,25 of 2 v1.2", "de-AT": "2,25 of 2 v1.2"} {
		assert.Equal(t, want, In(tag).Say("%.2f of %d %s", 2.25, 2, "v1.2"), tag)
	}
}
