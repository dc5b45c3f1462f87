package wording

import "benchlore/schema/quantity"

// Mark is a state as a word, a sign and a class of colour. Signs differ in shape, so
// that no state is told by colour alone.
type Mark struct{ Word, Sign, Class string }

// OfVerdict is the mark of a reading against its limits; it is empty where there is no
// verdict.
func OfVerdict(v quantity.Verdict) Mark {
	switch v {
	case quantity.In:
		return Mark{v.String(), "●", "good"}
	case quantity.Low:
		return Mark{v.String(), "▼", "bad"}
	case quantity.High:
		return Mark{v.String(), "▲", "bad"}
	case quantity.Open:
		return Mark{v.String(), "∕", "bad"}
	case quantity.Short:
		return Mark{v.String(), "═", "bad"}
	case quantity.Reversed:
		return Mark{v.String(), "⇄", "bad"}
	case quantity.TooClose:
		return Mark{v.String(), "≈", "care"}
	}
	return Mark{}
}

// OfPart is the mark of a part that was put in for another, bridged or left off;
// protective where that took a protection away.
func OfPart(fit quantity.Fit, protective bool) Mark {
	switch {
	case protective:
		return Mark{"protection", "✕", "bad"}
	case fit == quantity.Fits:
		return Mark{"fits", "●", "good"}
	case fit == quantity.FitsWithRemark:
		return Mark{"fits, with a remark", "◐", "care"}
	case fit == quantity.CannotTell:
		return Mark{"cannot tell", "?", "plain"}
	case fit == quantity.DoesNotFit:
		return Mark{"does not fit", "✕", "bad"}
	}
	return Mark{"function lost", "◌", "care"}
}
