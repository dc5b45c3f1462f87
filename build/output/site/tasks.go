package site

import (
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
func (s *site) boardTasks(root string) (out []taskView) {
	var first, find, odd []taskView
	for _, d := range s.n.Devices {
		for _, b := range d.Boards {
			at := root + boardPath(d, b)
			if t, ok := s.railTask(d, b); ok {
				t.At = link{b.Name, at}
				first = append(first, t)
			}
			photos := s.foundOf(d).photos[b]
			sheet := boards.NewSheet(s.n, d)
			for i := range sheet.Slips {
				if slip := &sheet.Slips[i]; slip.Board == b && len(slip.Hits) > 0 && len(photos) > 0 && photos[0].Side == slip.Part.Side {
					hit := &slip.Hits[0]
					find = append(find, taskView{Ask: s.t("Find %s on the picture, beside the %s. What does it do?", hit.Part.Ref, slip.Plug.Name),
						Answer: hit.Words() + ": " + hit.Does(s.t) + ".", At: link{b.Name, at + "#photo=1"}})
					break
				}
			}
			for _, t := range s.pinTables(s.foundOf(d).pins[b]) {
				if row := t.Rows[0]; row.Odd && len(row.Others) > 0 {
					var said []string
					for _, o := range row.Others {
						said = append(said, s.t("%s: %s, %s.", o.Case, o.Read, o.Word))
					}
					answer := strings.Join(said, " ")
					if row.Good != "" {
						answer += " " + s.t("Good boards: %s.", row.Good)
					}
					odd = append(odd, taskView{Ask: s.t("%s, %s: which boards were odd there, and what do others show?", row.Pin, row.What),
						Answer: answer, At: link{b.Name, at + t.Href}})
				}
			}
		}
	}
	for _, list := range [][]taskView{first, find, odd} {
		out = append(out, list[:min(mostTasks, len(list))]...)
	}
	return out
}

// railTask asks which rail fails first where one of the middle of the tree and one that is
// made from it read nothing.
func (s *site) railTask(d *notebook.Device, b *notebook.Board) (taskView, bool) {
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
		return taskView{Ask: s.t("%s and %s read 0 V. Which is the first that fails, and what is checked there?", next.Name, r.Name),
			Answer: s.t("%s: the other is made from it. %s.", tree.First, strings.Join(tree.Next, "; "))}, true
	}
	return taskView{}, false
}
