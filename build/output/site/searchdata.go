package site

import (
	"encoding/json"

	"benchlore/build/notebook"
	"benchlore/build/reason/search"
)

// searchShards are the files of the index that the search page loads from.
func (s *site) searchShards() ([]search.Shard, error) {
	return search.Export(s.n, s.card)
}

// card is what a search result shows, in the order in which search.js takes it
// apart.
func (s *site) card(c *notebook.Case) search.Card {
	it := s.item("", c)
	return search.Card{it.ID, it.Title, it.Device, it.Cause, s.t(it.State.Word), it.State.Sign, it.State.Class,
		excerpt(c.SectionPlain("Symptom"))}
}

// excerptLength is about three lines of a phone.
const excerptLength = 160

// excerpt is the beginning of a text, cut at the end of a word.
func excerpt(text string) string {
	short := []rune(text)
	if len(short) <= excerptLength {
		return text
	}
	at := excerptLength
	for at > 0 && short[at] != ' ' && short[at] != '\n' {
		at--
	}
	if at == 0 {
		at = excerptLength
	}
	return string(short[:at]) + " …"
}

// script is a plain script that calls a function with data, since pages opened
// from a stick can load nothing else; the data is one string, which parses
// faster than a literal.
func script(function string, data any) ([]byte, error) {
	text, err := json.Marshal(data)
	if err != nil {
		return nil, err
	}
	return search.Call(function, string(text)), nil
}
