package notebook

import (
	"encoding/json"
	"path"

	"benchlore/build/disk"
)

// Workshop is another workshop that cases were received from: its name as its packs give
// it, and under which licence these say that its notes are, empty where they do not.
type Workshop struct{ Name, Licence string }

// maxWorkshop is the most that is read of what is remembered of a workshop's packs, in
// bytes: a line for each of its files is in it too.
const maxWorkshop = 64 << 20

// Workshop says whose the cases are that stand under a name in `from`. Where nothing is
// remembered of its packs, the name is all that is known.
func (n *Notebook) Workshop(from string) Workshop {
	if w, ok := n.workshops[from]; ok {
		return w
	}
	return Workshop{Name: from}
}

// receivedFrom reads what package pack remembers of the workshops that cases name. What
// cannot be read is not known; the pack is asked for it again.
func (l *loader) receivedFrom() {
	l.n.workshops = map[string]Workshop{}
	for _, c := range l.n.Cases {
		from := c.File.Case.From
		if _, done := l.n.workshops[from]; done || from == "" {
			continue
		}
		var state struct {
			Origin  struct{ Name string }
			Licence string
		}
		w := Workshop{Name: from}
		text, err := disk.Ordinary(l.root, path.Join("received", path.Base(from)+".json"), maxWorkshop)
		if err == nil && json.Unmarshal(text, &state) == nil && state.Origin.Name != "" {
			w = Workshop{state.Origin.Name, state.Licence}
		}
		l.n.workshops[from] = w
	}
}
