package firstweeks

import "benchlore/schema/terms"

// Craft is a page about work of the hands, with what it can do to people and what is asked
// at its end.
type Craft struct {
	ID        string
	Hazards   []string // ids
	Questions []terms.Question
}

// Crafts are the pages about work of the hands, in their order. The melting points are
// those of Sn96.5Ag3Cu0.5 and Sn63Pb37 (J-STD-006 alloys, from memory); the rise time is
// 0.35 of the bandwidth, for a response like a Gaussian's; the rest is common practice, no
// source.
var Crafts = []Craft{
	{"soldering", []string{"hot-air", "fumes"}, []terms.Question{
		{Ask: "A joint on a ground pad does not take solder after three seconds. What now?",
			Right: "Let it cool, and warm the board from below.",
			Wrong: []string{"Stay on it until it takes.", "Take the finest tip, as hot as it goes."}},
		{Ask: "The solder of a joint is soft, and the part does not come off. What now?",
			Right: "Wait until it is liquid everywhere and the part slides.",
			Wrong: []string{"Lever it up gently.", "Pull with tweezers while the iron is on it."}}}},
	{"the-scope", []string{"mains", "stored-charge"}, []terms.Question{
		{Ask: "Where may the ground clip go?",
			Right: "Only to what may be joined to earth.",
			Wrong: []string{"To any minus, also on the mains side.", "Anywhere, since the probe has 10 MΩ."}},
		{Ask: "A rail dips once, at switch-on. How is it caught?",
			Right: "Trigger on the edge, normal mode, then switch on.",
			Wrong: []string{"Auto mode, and look quickly.", "A meter, set to its fastest."}}}},
	{"finding-shorts", []string{"stored-charge", "lithium", "chemicals"}, []terms.Question{
		{Ask: "How many volts may be injected into a rail that is made for 1.8 V?",
			Right: "At most 1.8 V, with the current limited from low up.",
			Wrong: []string{"5 V, since a short pulls it down anyway.", "Whatever warms something."}},
		{Ask: "A rail of a big chip reads 3 Ω to ground. Is it shorted?",
			Right: "That cannot be told before it is compared with a good board.",
			Wrong: []string{"Yes, since the meter beeps.", "No, since a short reads 0 Ω."}}}},
	{"writing-a-case", nil, []terms.Question{
		{Ask: "A check found nothing. Is it written down?",
			Right: "Yes, with its result: it saves the next person the time.",
			Wrong: []string{"No, only what was wrong counts.", "Only when it took long."}},
		{Ask: "What does the title say?",
			Right: "What the owner noticed.",
			Wrong: []string{"The part that was replaced.", "The model and the date."}}}},
}
