package firstweeks

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"

	"benchlore/schema/quantity"
)

// Item is one question of a drill: a text as it stands on a part or a drawing, and
// the kind of value that it is there.
type Item struct {
	Text string
	Kind string // resistance or capacitance
}

// newItem makes a question of a drill.
func newItem(drill string, r *rand.Rand) Item { return Make(drill, quantity.E24.Members(), r.IntN) }

// Make makes a question of a drill from a series of two-digit values and whole
// numbers below what is asked for; equal numbers give equal questions. The page makes
// them the same way (theme/assets/drill.js).
func Make(drill string, series []int64, below func(n int) int) Item {
	two := int(series[below(len(series))])
	switch drill {
	case "markings-capacitors":
		zeros := below(5)
		return Item{fmt.Sprintf("%d%d%s", two, zeros, []string{"", "J", "K", "M"}[below(4)]), "capacitance"}
	case "markings-resistors":
		switch below(3) {
		case 0:
			return Item{fmt.Sprintf("%d%d", two, below(6)), "resistance"}
		case 1:
			return Item{fmt.Sprintf("%02d%s", 1+below(96), []string{"X", "A", "B", "C", "D"}[below(5)]), "resistance"}
		}
		colours := []string{"black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white"}
		return Item{strings.Join([]string{colours[two/10], colours[two%10], colours[below(6)], "gold"}, " "), "resistance"}
	}
	letter := []string{"R", "k", "M", "p", "n", "u"}[below(6)]
	kind := "resistance"
	if strings.Contains("pnu", letter) {
		kind = "capacitance"
	}
	tens, ones := strconv.Itoa(two/10), strconv.Itoa(two%10)
	switch below(3) {
	case 0:
		return Item{tens + letter + ones, kind}
	case 1:
		return Item{tens + ones + letter, kind}
	}
	return Item{tens + ones + "0" + letter, kind}
}

// Answer is the value that an item has, as the quantity package reads it.
func (i Item) Answer() (string, error) {
	readings, err := quantity.Read(i.Text)
	if err != nil {
		return "", err
	}
	for _, r := range readings {
		if r.Kind == i.Kind {
			return r.Value, nil
		}
	}
	return "", fmt.Errorf("%q is no %s", i.Text, i.Kind)
}

// right reports whether an answer is the item's value, however it is written; the
// unit must be there.
func (i Item) right(answer string) bool {
	want, err := i.Answer()
	if err != nil {
		return false
	}
	got, err := quantity.Read(answer)
	return err == nil && got[0].Kind == i.Kind && got[0].Value == want
}
