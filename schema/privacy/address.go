package privacy

import (
	"bytes"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// How far a postcode may stand from its street, in bytes.
const (
	addressReach  = 100
	longestNumber = 4 // digits of the number of a house
)

// scanAddress looks in one line, and the one above, for a street with the number of a
// house beside a postcode: neither is a person's address alone. text is the whole,
// start..stop the line.
func scanAddress(text []byte, start, stop int, add func(Kind, int, int)) {
	for i := start; i < stop; i++ {
		if !digit(text[i]) {
			continue
		}
		j := i
		for j < stop && digit(text[j]) {
			j++
		}
		code, end, sure := postcode(text[start:stop], i-start, j-start)
		if end > 0 {
			code, end = code+start, end+start
			from := max(0, code-addressReach)
			if above := bytes.LastIndexByte(text[min(from, start):start], '\n'); above >= 0 {
				from += bytes.LastIndexByte(text[from:from+above], '\n') + 1
			}
			for from < code && !utf8.RuneStart(text[from]) {
				from++
			}
			if street := streetBefore(string(text[from:code]), sure); street >= 0 {
				add(addressKind, from+street, end)
				j = max(j, end)
			}
		}
		i = j
	}
}

// postcode is the place of the postcode that the digits from..to of a line belong to, with
// the town after it where it stands so; end is zero where they belong to none. sure says
// that it can be nothing else.
func postcode(line []byte, from, to int) (start, end int, sure bool) {
	n := to - from
	switch {
	case n == 1 && to+2 <= len(line) && capitals(line, to, 2) && !wordAt(line, to+2):
		// United Kingdom (BS 7666): the outward code, a space, a digit and two letters.
		at := from
		if at > 0 && line[at-1] == ' ' {
			at--
		}
		outward := at
		for outward > 0 && at-outward < 4 && (line[outward-1] >= 'A' && line[outward-1] <= 'Z' || digit(line[outward-1])) {
			outward--
		}
		if o := line[outward:at]; len(o) >= 2 && !wordAt(line, outward-1) && o[0] >= 'A' && bytes.ContainsAny(o, "0123456789") {
			return outward, to + 2, true
		}
	case n == 2 && from > 0 && capitals(line, from-1, 1) && to+2 <= len(line) && capitals(line, to, 2):
		// The same written without the space, as in LS14ZZ.
		outward := from
		for outward > 0 && from-outward < 2 && line[outward-1] >= 'A' && line[outward-1] <= 'Z' {
			outward--
		}
		if !wordAt(line, outward-1) && !wordAt(line, to+2) {
			return outward, to + 2, true
		}
	case n == 4 || n == 5:
		start = from
		if from >= 2 && line[from-1] == '-' && line[from-2] >= 'A' && line[from-2] <= 'Z' { // D-, A-, L-
			start, sure = from-2, true
			if from >= 3 && capitals(line, from-3, 1) { // CH-
				start--
			}
		}
		if wordAt(line, start-1) || wordAt(line, to) {
			return 0, 0, false
		}
		if n == 5 && from >= 4 && line[from-1] == ' ' && capitals(line, from-3, 2) && !wordAt(line, from-4) {
			return from - 3, to, true // a state of the United States and its ZIP code
		}
		if to+1 < len(line) && line[to] == ' ' {
			if r, _ := utf8.DecodeRune(line[to+1:]); unicode.IsUpper(r) {
				end = to + 1
				for end < len(line) {
					r, size := utf8.DecodeRune(line[end:])
					if !unicode.IsLetter(r) && !unicode.IsMark(r) && r != '-' && r != '\'' {
						break
					}
					end += size
				}
				return start, end, sure
			}
		}
	}
	return 0, 0, false
}

func capitals(line []byte, i, n int) bool {
	for k := range n {
		if i+k < 0 || i+k >= len(line) || line[i+k] < 'A' || line[i+k] > 'Z' {
			return false
		}
	}
	return true
}

// streetBefore is where the street with its number begins that stands right before a
// postcode, the last one in a text; -1 where none does.
func streetBefore(text string, sure bool) int {
	list := tokens(text)
	for _, w := range words().languages {
		for i := len(list) - 1; i >= 0; i-- {
			at := -1
			if w.Streets.Number == "after" {
				at = numberAfter(text, list, i, w, sure)
			} else {
				at = numberBefore(text, list, i, w)
			}
			if at >= 0 {
				return at
			}
		}
	}
	return -1
}

// numberAfter is where a street begins whose word is the one at i and whose number follows.
func numberAfter(text string, list []token, i int, w languageWords, postal bool) int {
	if i+1 >= len(list) || !house(list[i+1].text) || !near(text, list[i], list[i+1], " .") {
		return -1
	}
	ends := func(endings []string) bool {
		return slices.ContainsFunc(endings, func(e string) bool { return strings.HasSuffix(list[i].text, e) && list[i].text != e })
	}
	sure := slices.Contains(w.Streets.Sure, list[i].text) || ends(w.Streets.Endings)
	unsure := slices.Contains(w.Streets.Unsure, list[i].text) || ends(w.Streets.Unsure)
	if !sure && !unsure || withDigit(list[i+2:]) || !list[i].capital {
		return -1
	}
	first := i
	for first > 0 && i-first < 3 && list[first-1].capital && near(text, list[first-1], list[first], " -.") &&
		!words().address[list[first-1].text] && !withDigit(list[first-1:first]) {
		first--
	}
	if !sure && (i+2 < len(list) || !postal && !calledAddress(list[:first])) {
		return -1
	}
	return list[first].start
}

// numberBefore is where the number of a house begins that stands before a street whose
// word is the one at i.
func numberBefore(text string, list []token, i int, w languageWords) int {
	if !slices.Contains(w.Streets.Sure, list[i].text) || withDigit(list[i+1:]) {
		return -1
	}
	for k := i - 1; k >= max(0, i-4); k-- {
		switch {
		case house(list[k].text):
			if w.Streets.Named && k == i-1 {
				return -1
			}
			return list[k].start
		case w.Streets.Named && list[k].capital && near(text, list[k], list[k+1], " -'’."):
		case slices.Contains(w.Repeat, list[k].text):
		default:
			return -1
		}
	}
	return -1
}

func calledAddress(list []token) bool {
	return slices.ContainsFunc(list, func(t token) bool { return words().address[t.text] })
}

// house reports whether a word is the number of a house: 12, 4a.
func house(t string) bool {
	n := 0
	for n < len(t) && digit(t[n]) {
		n++
	}
	return n > 0 && n <= longestNumber && (n == len(t) || n == len(t)-1 && letter(t[n]))
}

func withDigit(list []token) bool {
	return slices.ContainsFunc(list, func(t token) bool { return strings.ContainsAny(t.text, "0123456789") })
}

// near reports whether only some marks stand between two words.
func near(text string, a, b token, marks string) bool {
	return strings.Trim(text[a.stop:b.start], marks) == ""
}
