package triage

import (
	"fmt"
	"math"
)

// Basis says on how many closed cases an answer rests.
type Basis struct {
	Device int `json:"device"`
	Kind   int `json:"kind"`
	All    int `json:"all"`
	Closed int `json:"closed"` // whether they say a cause or not
}

// Basis counts the closed cases of the device, its kind, and all; those of other
// workshops by their weight.
func (m *Model) Basis(e Evidence) Basis {
	e = m.complete(e)
	return Basis{int(math.Round(m.deviceN[e.Device])), int(math.Round(m.kindN[e.Kind])), int(math.Round(m.total)), m.closed}
}

// String says it in English; see [Basis.Words].
func (b Basis) String() string { return b.Words(fmt.Sprintf) }

// Words says openly where cases are too few, in the words that say makes of English ones.
func (b Basis) Words(say func(english string, args ...any) string) string {
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
