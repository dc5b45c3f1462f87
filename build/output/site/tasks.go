package site

import (
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/build/reason/boards"
	"benchlore/build/reason/rails"
	"benchlore/schema/quantity"
)

// mostTasks bounds the questions of each sort about boards.
const mostTasks = 3

// boardTasks are questions about the notebook's own boards: which rail fails first, what a
// part on the picture is, and whether a reading is odd. Their answers are worked out as
// everywhere else.
func (s *site) boardTasks(root string) (out []choiceView) {
	var first, find, odd []choiceView
	for _, d := range s.n.Devices {
		for _, b := range d.Boards {
			at := root + boardPath(d, b)
			if t, ok := s.railTask(d, b); ok {
				t.At = &link{b.Name, at}
				first = append(first, t)
			}
			photos := s.foundOf(d).photos[b]
			sheet := boards.NewSheet(s.n, d)
			for i := range sheet.Slips {
				if slip := &sheet.Slips[i]; slip.Board == b && len(slip.Hits) > 0 && len(photos) > 0 && photos[0].Side == slip.Part.Side {
					hit := &slip.Hits[0]
					does := hit.Does(s.t)
					t := newChoice(s.t("Find %s on the picture, beside the %s. What does it do?", hit.Part.Ref, slip.Plug.Name), does,
						s.otherWork(sheet.Slips, does), hit.Words()+": "+does+".")
					t.At = &link{b.Name, at + "#photo=1"}
					find = append(find, t)
					break
				}
			}
			for _, t := range s.pinTables(s.foundOf(d).pins[b]) {
				if row := t.Rows[0]; row.Odd && len(row.Others) > 0 && row.Good != "" {
					odd = append(odd, s.oddTask(row, &link{b.Name, at + t.Href}))
				}
			}
		}
	}
	for _, list := range [][]choiceView{first, find, odd} {
		out = append(out, list[:min(mostTasks, len(list))]...)
	}
	return out
}

// railTask asks which rail fails first where one of the middle of the tree and one that is
// made from it read nothing.
func (s *site) railTask(d *notebook.Device, b *notebook.Board) (choiceView, bool) {
	tree := rails.Of(d, b)
	for i := 1; i+1 < len(tree.Rails); i++ {
		r, next := &tree.Rails[i], &tree.Rails[i+1]
		if r.Depth == 0 || next.From != r.Name {
			continue
		}
		nothing := quantity.Value{Unit: quantity.Volt}
		if tree.Judge(map[string]quantity.Value{r.Name: nothing, next.Name: nothing}) != nil || tree.First == "" {
			continue
		}
		var wrong []string
		for j := range tree.Rails {
			if name := tree.Rails[j].Name; name != tree.First && len(wrong) < mostWrong {
				wrong = append(wrong, name)
			}
		}
		return newChoice(s.t("%s and %s read 0 V. Which is the first that fails, and what is checked there?", next.Name, r.Name),
			tree.First, wrong, s.t("%s: the other is made from it. %s.", tree.First, strings.Join(tree.Next, "; "))), true
	}
	return choiceView{}, false
}

// mostWrong is how many wrong answers a question offers.
const mostWrong = 3

// otherWork is what other parts beside connectors do.
func (s *site) otherWork(slips []boards.Slips, right string) (wrong []string) {
	for i := range slips {
		for j := range slips[i].Hits {
			if does := slips[i].Hits[j].Does(s.t); does != right && !slices.Contains(wrong, does) && len(wrong) < mostWrong {
				wrong = append(wrong, does)
			}
		}
	}
	return wrong
}

// oddTask asks which of the readings of a pin is the odd one: what good boards show is
// said, and what the others read is to be chosen from.
func (s *site) oddTask(row pinRow, at *link) choiceView {
	o := &row.Others[0]
	t := s.verdictChoice(s.t("%s, %s: good boards show %s, this one read %s. What is that?", row.Pin, row.What, row.Good, o.Read),
		o.Word, s.t("%s: %s, %s.", o.Case, o.Read, o.Word))
	t.At = at
	return t
}
