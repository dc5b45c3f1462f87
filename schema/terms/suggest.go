package terms

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"sync"
	"unicode"
)

// MostSuggested is how many terms [Vocabulary.Suggest] gives at most.
const MostSuggested = 5

// Suggest gives the terms of a class that somebody may have meant who typed a word or
// two that are none, the likeliest first: those that the words say, those that are
// spelt nearly so, and those whose phrases share telling words with them.
func (v *Vocabulary) Suggest(c Class, text string) []*Term {
	var out []*Term
	add := func(id string) {
		if t, ok := v.byID[c][id]; ok && !slices.Contains(out, t) && len(out) < MostSuggested {
			out = append(out, t)
		}
	}
	if t, ok := v.Resolve(c, text); ok {
		add(t.ID)
	}
	near, slips := v.spelt(c, text)
	if slips <= len(text)/fewestPerSlip {
		add(near)
	}
	for _, m := range v.Recognise(c, text) {
		add(m.Term.ID)
	}
	add(near)
	for _, id := range v.sharing(c, text) {
		add(id)
	}
	return out
}

// Nearest returns the id of the known term closest to word, or "" when nothing is close.
func (v *Vocabulary) Nearest(c Class, word string) string {
	if near := v.Suggest(c, word); len(near) > 0 {
		return near[0].ID
	}
	return ""
}

// fewestPerSlip is how many letters a word has for each slip, where it is that word badly
// spelt before it is any other.
const fewestPerSlip = 3

// spelt gives the term whose id or name is spelt most nearly like a word and in how many
// letters they differ, "" for none.
func (v *Vocabulary) spelt(c Class, word string) (id string, slips int) {
	var names []string
	of := map[string]string{}
	for _, t := range v.order[c] {
		for _, w := range []string{t.ID, strings.ReplaceAll(t.ID, "-", " "), strings.ToLower(t.Name)} {
			if _, taken := of[w]; !taken {
				names, of[w] = append(names, w), t.ID
			}
		}
	}
	near := Nearest(word, names)
	if near == "" {
		return "", 0
	}
	return of[near], Distance(strings.ToLower(strings.TrimSpace(word)), near)
}

// said is what the phrases of a class are made of, by id.
type said struct {
	words map[string]map[string]bool // id -> keys
	in    map[string]int             // key -> ids that have it
}

var saidBy sync.Map // tag/class -> *said

func (v *Vocabulary) wordsOf(c Class) *said {
	tag := v.lang.Tag
	if made, ok := saidBy.Load(tag + "/" + string(c)); ok {
		return made.(*said)
	}
	g, s := grammarOf(tag), &said{map[string]map[string]bool{}, map[string]int{}}
	put := func(id, text string) {
		for _, t := range g.tokens(strings.Map(func(r rune) rune {
			if unicode.IsLetter(r) || unicode.IsDigit(r) || r == '\'' {
				return r
			}
			return ' '
		}, text)) {
			if s.words[id] == nil {
				s.words[id] = map[string]bool{}
			}
			if t.key != notKey && !s.words[id][t.key] {
				s.words[id][t.key] = true
				s.in[t.key]++
			}
		}
	}
	for _, t := range v.order[c] {
		put(t.ID, t.Name)
		put(t.ID, t.Meaning)
		if !t.Own {
			for _, w := range t.Also {
				put(t.ID, w)
			}
		}
	}
	for _, p := range lexiconOf(tag).phrases {
		if p.class == c {
			put(p.id, p.text)
		}
	}
	kept, _ := saidBy.LoadOrStore(tag+"/"+string(c), s)
	return kept.(*said)
}

// leastShared is how much of what was typed, by rarity, a term's phrases must share.
const leastShared = 0.4

// sharing gives the ids of a class whose phrases have words of a text, those that share
// the most of its telling words first.
func (v *Vocabulary) sharing(c Class, text string) []string {
	s, g := v.wordsOf(c), grammarOf(v.lang.Tag)
	n := float64(len(s.words))
	scores, all := map[string]float64{}, 0.0
	for _, t := range g.tokens(text) {
		if t.key == notKey {
			continue
		}
		weight := math.Log(1 + n/float64(1+s.in[t.key]))
		all += weight
		for id, words := range s.words {
			if words[t.key] {
				scores[id] += weight
			}
		}
	}
	var ids []string
	for id, x := range scores {
		if x >= leastShared*all {
			ids = append(ids, id)
		}
	}
	slices.SortFunc(ids, func(a, b string) int { return cmp.Or(cmp.Compare(scores[b], scores[a]), cmp.Compare(a, b)) })
	return ids
}
