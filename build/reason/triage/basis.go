package triage

import (
	"fmt"
	"math"
)

// Basis says on how many closed cases of our own an answer rests, and on how many of
// other workshops beside them. They are whole cases.
type Basis struct {
	Device int    `json:"device"`
	Kind   int    `json:"kind"`
	All    int    `json:"all"`
	Closed int    `json:"closed"` // whether they say a cause or not
	Theirs Theirs `json:"theirs,omitzero"`
}

// Theirs counts closed cases of other workshops; Weight is what they count for together,
// in cases of our own, to a tenth.
type Theirs struct {
	Device int `json:"device"`
	Kind   int `json:"kind"`
	All    int `json:"all"`
	Closed int `json:"closed"`
	Weight struct {
		Device float64 `json:"device"`
		Kind   float64 `json:"kind"`
		All    float64 `json:"all"`
	} `json:"weight"`
}

// Basis counts the closed cases of the device, its kind, and all.
func (m *Model) Basis(e Evidence) Basis {
	e = m.complete(e)
	ours, theirs := &m.ours, &m.theirs
	b := Basis{Device: ours.device[e.Device], Kind: ours.kind[e.Kind], All: ours.all, Closed: ours.closed,
		Theirs: Theirs{Device: theirs.device[e.Device], Kind: theirs.kind[e.Kind], All: theirs.all, Closed: theirs.closed}}
	tenths := func(weight float64, own int) float64 { return math.Round(10*(weight-float64(own))) / 10 }
	w := &b.Theirs.Weight
	w.Device, w.Kind, w.All = tenths(m.deviceN[e.Device], b.Device), tenths(m.kindN[e.Kind], b.Kind), tenths(m.total, b.All)
	return b
}

// None reports whether there is no case at all to learn from.
func (b Basis) None() bool { return b.All+b.Theirs.All == 0 }

// String says it in English; see [Basis.Words].
func (b Basis) String() string { return b.Words(fmt.Sprintf) }

// Words says openly where our own cases are too few, and what those of other workshops
// count for beside them, in the words that say makes of English ones.
func (b Basis) Words(say func(english string, args ...any) string) string {
	text, t := b.ours(say), b.Theirs
	if t.All > 0 {
		text += "; " + say("of other workshops %d of this model, %d of its kind, %d in all, which count as %.1f, %.1f and %.1f",
			t.Device, t.Kind, t.All, t.Weight.Device, t.Weight.Kind, t.Weight.All)
	}
	return text
}

func (b Basis) ours(say func(english string, args ...any) string) string {
	switch {
	case b.All < FewCases && b.Closed > b.All && b.Closed == 1:
		return say("too few cases: of 1 closed case in the notebook %d say their cause", b.All)
	case b.All < FewCases && b.Closed > b.All:
		return say("too few cases: of %d closed cases in the notebook %d say their cause", b.Closed, b.All)
	case b.All == 1:
		return say("too few cases: the notebook has 1 closed case")
	case b.All < FewCases:
		return say("too few cases: the notebook has %d closed cases", b.All)
	case b.Device >= FewCases:
		return say("rests on %d closed cases of this model, %d of its kind, %d in all", b.Device, b.Kind, b.All)
	case b.Kind >= FewCases:
		return say("too few cases of this model (%d): rests on %d closed cases of its kind, %d in all", b.Device, b.Kind, b.All)
	}
	return say("too few cases of this model (%d) and of its kind (%d): rests on all %d closed cases", b.Device, b.Kind, b.All)
}
