package boards

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"benchlore/schema/casefile"
)

// Warnings says of each fastener into whose hole a longer one fits which those
// are, and what lies under it, if that is stated.
func (s *Sheet) Warnings() []string {
	var order []*casefile.Fastener
	longer := map[*casefile.Fastener][]casefile.Clash{}
	for _, c := range s.Clashes {
		if longer[c.Shorter] == nil {
			order = append(order, c.Shorter)
		}
		longer[c.Shorter] = append(longer[c.Shorter], c)
	}
	var out []string
	for _, f := range order {
		var names []string
		for _, c := range slices.Backward(longer[f]) {
			names = append(names, fmt.Sprintf("%s (%s mm)", c.Longer.Mark, Number(c.Longer.Length)))
		}
		text := fmt.Sprintf("%s, %s × %s mm", f.Mark, f.Thread, Number(f.Length))
		if f.Place != "" {
			text += ", " + f.Place
		}
		text += ": " + strings.Join(names, ", ")
		if len(names) == 1 {
			text += " fits there and is longer."
		} else {
			text += " fit there and are longer."
		}
		if f.Under != "" {
			text += " Under it: " + f.Under + "."
		}
		out = append(out, text)
	}
	return out
}

// Number prints a length without needless zeros.
func Number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// Words says in a few words what a hit part is.
func (h *Hit) Words() string {
	parts := []string{h.Part.Ref}
	for _, s := range []string{h.Part.Value, h.Part.Package} {
		if s != "" {
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, " ")
}

// Does says what the part does, with its nets, in the words that say makes.
func (h *Hit) Does(say func(format string, args ...any) string) string {
	text := say(string(h.Role))
	if n := len(h.Nets); n > 0 && n <= 3 {
		text += ", " + strings.Join(h.Nets, " "+say("and")+" ")
	}
	return text
}
