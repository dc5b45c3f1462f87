package verdict

import (
	"strings"

	"benchlore/schema/board"
)

// LossWords says what a part does on its board, and what is lost when it is
// missing, or bridged, in the words that say makes of English ones. Role is empty where
// the netlist does not tell.
func LossWords(say func(english string, args ...any) string, b *board.Board, p *board.Part, bridged bool) (role, lost string) {
	l := b.Without(p)
	switch l.Role {
	case board.Series:
		role = say("series, between %s and %s", l.From.Name, l.To.Name)
		switch {
		case bridged:
			lost = say("the two are one net now; what it limited, filtered or blocked goes through")
		case len(l.Around) > 0:
			lost = say("the two stay joined by %s alone", refsOf(l.Around))
		case !l.Cut:
			lost = say("the two stay joined by a longer way")
		case l.Behind == 1:
			lost = say("%s, with 1 other part, is cut off from %s; nothing else joins the two", l.To.Name, l.From.Name)
		default:
			lost = say("%s, with %d other parts, is cut off from %s; nothing else joins the two", l.To.Name, l.Behind, l.From.Name)
		}
	case board.Shunt:
		role = say("shunt, from %s to ground", l.On.Name)
		switch {
		case bridged:
			lost = say("%s is short to ground", l.On.Name)
		case l.Before.Count == 0:
			lost = say("nothing stands from %s to ground here any more", l.On.Name)
		default:
			lost = decouplingWords(say, l)
		}
	case board.Link:
		return say("link on one net"), say("nothing, as both its ends are on one net")
	case board.Grounds:
		return say("tie between grounds"), say("the two grounds may drift apart")
	}
	return role, lost
}

func decouplingWords(say func(english string, args ...any) string, l board.Loss) string {
	left := l.Left.Total.String()
	if l.Left.Total.Number.Sign() == 0 {
		left = say("nothing")
	}
	text := say("%d capacitors left on it, %s of %s", l.Left.Count, left, l.Before.Total.String())
	if l.Left.Count == 1 {
		text = say("1 capacitor left on it, %s of %s", left, l.Before.Total.String())
	}
	if before := l.Before.Total.Number.Float(); before > 0 {
		text += say(", %.0f %% gone", 100*(1-l.Left.Total.Number.Float()/before))
	}
	if l.Left.Unread > 0 {
		text += say(" (%d of them have no value that can be read)", l.Left.Unread)
	}
	return text + say("; measure the ripple")
}

func refsOf(parts []*board.Part) string {
	var refs []string
	for _, p := range parts {
		refs = append(refs, p.Ref)
	}
	return strings.Join(refs, ", ")
}
