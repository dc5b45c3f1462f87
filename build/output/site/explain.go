package site

import (
	"bytes"
	"html"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"benchlore/schema/terms"
)

// Words are explained where they stand: in the text of a finished page the first
// time that a controlled word or a word of the bench appears becomes a button that
// opens its meaning, and all of them stand below as a list for print. It needs no
// script: the browser's own popover works by keyboard and touch.

// explained are the classes whose words are explained. The others are either of
// everyday language or stand in pages as what they are; so do symptoms, whose names
// ("No light") are what anybody says.
var explained = []terms.Class{terms.Word, terms.Place, terms.Fault, terms.Hazard}

// severalSenses are words of one word that mean more than one thing at a bench: a shunt
// resistor and a part in shunt to ground, a pad of copper and one of silicone, the track of
// a board and of a record. They are explained only in a longer form ("current shunt"),
// or where the author marks them: [shunt](word:shunt).
var severalSenses = map[string]bool{"shunt": true, "pad": true, "pads": true, "via": true, "vias": true,
	"track": true, "tracks": true, "net": true, "beeps": true, "bead": true, "braid": true,
	"coating": true, "lacquer": true, "spacer": true, "standoff": true, "standoffs": true, "donor": true,
	"donors": true, "crystal": true, "resonator": true, "buck": true, "leakage": true,
	"footprint": true}

type meaning struct {
	term *terms.Term
	id   string // on the page
	href string // from the site's root
}

// explainer finds the words of a vocabulary in text.
type explainer struct {
	phrases map[string]*meaning // in lower case, one space between words
	first   map[string]int      // words in the longest phrase that begins with a word
}

func newExplainer(v *terms.Vocabulary) *explainer {
	x := &explainer{map[string]*meaning{}, map[string]int{}}
	for _, class := range explained {
		for _, t := range v.All(class) {
			m := &meaning{t, "w-" + string(class) + "-" + t.ID, "words.html#" + string(class) + "-" + t.ID}
			phrases := []string{t.Name}
			if class != terms.Hazard { // whose synonyms are everyday words
				phrases = append(phrases, t.Also...)
			}
			for _, phrase := range phrases {
				words := strings.Fields(strings.ToLower(phrase))
				// One word of another class is of everyday language: memory, pump, blocked.
				if len(words) == 0 || len(words) == 1 && (class != terms.Word || severalSenses[words[0]]) {
					continue
				}
				key := strings.Join(words, " ")
				if _, taken := x.phrases[key]; !taken {
					x.phrases[key] = m
					x.first[words[0]] = max(x.first[words[0]], len(words))
				}
			}
		}
	}
	return x
}

// silent are elements in whose text nothing is explained: what can be acted on
// already, headings, code, and drawings.
var silent = []string{"a", "button", "code", "pre", "h1", "h2", "h3", "h4", "h5", "h6", "svg", "script", "style",
	"noscript", "summary", "select", "option", "label", "legend", "textarea", "th", "dt", "nav", "header", "footer", "title", "figcaption"}

// explain returns the page with its words explained. Of itself a page explains
// nothing: about names what it is about.
func (s *site) explain(page []byte, root string, about string) []byte {
	start := bytes.Index(page, []byte(`<main id="content">`))
	stop := bytes.LastIndex(page, []byte("</main>"))
	if start < 0 || stop < start {
		return page
	}
	var out bytes.Buffer
	out.Grow(len(page) + 4096)
	out.Write(page[:start])
	var used []*meaning
	body := page[start:stop]
	quiet := 0 // open elements that are silent
	for len(body) > 0 {
		at := bytes.IndexByte(body, '<')
		if at < 0 {
			at = len(body)
		}
		if at > 0 {
			if quiet > 0 {
				out.Write(body[:at])
			} else {
				used = s.explainer.text(&out, body[:at], used, about)
			}
			body = body[at:]
			continue
		}
		end := tagEnd(body)
		tag := body[:end]
		if bytes.HasPrefix(tag, []byte(`<section id="similar"`)) || bytes.HasPrefix(tag, []byte(`<section id="comebacks"`)) {
			// Lists of other cases are no text of this one, and are not printed.
			if stop := bytes.Index(body, []byte("</section>")); stop > 0 {
				out.Write(body[:stop])
				body = body[stop:]
				continue
			}
		}
		name, closing := tagName(tag)
		if slices.Contains(silent, name) && !bytes.HasSuffix(tag, []byte("/>")) {
			if closing {
				quiet = max(0, quiet-1)
			} else {
				quiet++
			}
		}
		out.Write(tag)
		body = body[end:]
	}
	if len(used) > 0 {
		s.wordList(&out, used, root)
	}
	out.Write(page[stop:])
	return out.Bytes()
}

// tagEnd is where a tag ends; quotes in it may hold angle brackets.
func tagEnd(b []byte) int {
	quote := byte(0)
	for i, c := range b {
		switch {
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case c == '"' || c == '\'':
			quote = c
		case c == '>':
			return i + 1
		}
	}
	return len(b)
}

func tagName(tag []byte) (name string, closing bool) {
	b := bytes.TrimPrefix(tag, []byte("<"))
	if closing = bytes.HasPrefix(b, []byte("/")); closing {
		b = b[1:]
	}
	end := bytes.IndexFunc(b, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	if end < 0 {
		end = len(b)
	}
	return strings.ToLower(string(b[:end])), closing
}

// text writes a run of escaped text, with what is explained as buttons.
func (x *explainer) text(out *bytes.Buffer, text []byte, used []*meaning, about string) []*meaning {
	type word struct {
		start, stop int
		lower       string
	}
	var words []word
	for i := 0; i < len(text); {
		r, n := utf8.DecodeRune(text[i:])
		if r == '&' { // an entity is no word
			if end := bytes.IndexByte(text[i:], ';'); end > 0 && end < 10 {
				i += end + 1
				continue
			}
		}
		if !unicode.IsLetter(r) {
			i += n
			continue
		}
		start := i
		for i < len(text) {
			r, n = utf8.DecodeRune(text[i:])
			if !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '-' {
				break
			}
			i += n
		}
		words = append(words, word{start, i, strings.ToLower(string(text[start:i]))})
	}
	written := 0
	for i := 0; i < len(words); i++ {
		m, n := x.at(func(k int) (string, bool) {
			if i+k >= len(words) || k > 0 && string(text[words[i+k-1].stop:words[i+k].start]) != " " {
				return "", false
			}
			return words[i+k].lower, true
		})
		if m == nil {
			continue
		}
		start, stop := words[i].start, words[i+n-1].stop
		i += n - 1
		if slices.Contains(used, m) || m.term.Name == about {
			continue
		}
		used = append(used, m)
		out.Write(text[written:start])
		out.WriteString(`<button type="button" class="word" popovertarget="` + m.id + `">`)
		out.Write(text[start:stop])
		out.WriteString(`</button>`)
		written = stop
	}
	out.Write(text[written:])
	return used
}

// at gives the longest phrase that begins with the words of next.
func (x *explainer) at(next func(k int) (string, bool)) (m *meaning, words int) {
	w, ok := next(0)
	if !ok {
		return nil, 0
	}
	first, plural := x.first[w], x.first[strings.TrimSuffix(w, "s")]
	longest := max(first, plural)
	key := ""
	for k := range longest {
		w, ok := next(k)
		if !ok {
			break
		}
		if k > 0 {
			key += " "
		}
		for _, form := range []string{w, strings.TrimSuffix(w, "s")} {
			if found := x.phrases[key+form]; found != nil {
				m, words = found, k+1
				break
			}
		}
		key += w
	}
	return m, words
}

// wordList writes the meanings: those that the buttons open, and a list of them
// for print.
func (s *site) wordList(out *bytes.Buffer, used []*meaning, root string) {
	out.WriteString("<aside class=\"meanings\">\n")
	for _, m := range used {
		out.WriteString(`<div popover id="` + m.id + `" class="meaning"><strong>` + html.EscapeString(m.term.Name) +
			`</strong> ` + html.EscapeString(m.term.Meaning) +
			` <a href="` + root + m.href + `">` + html.EscapeString(s.t("Words")) + "</a></div>\n")
	}
	out.WriteString("</aside>\n<section class=\"glossary\">\n<h2>" + html.EscapeString(s.t("Words on this page")) + "</h2>\n<dl>\n")
	sorted := slices.SortedFunc(slices.Values(used), func(a, b *meaning) int {
		return strings.Compare(strings.ToLower(a.term.Name), strings.ToLower(b.term.Name))
	})
	for _, m := range sorted {
		out.WriteString("<dt>" + html.EscapeString(m.term.Name) + "</dt><dd>" + html.EscapeString(m.term.Meaning) + "</dd>\n")
	}
	out.WriteString("</dl>\n</section>\n")
}
