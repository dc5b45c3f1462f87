package triage

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"benchlore/schema/terms"
)

// Understood is what a text says, and of which device.
type Understood struct {
	Mentions []terms.Mention
	// Device is the notebook's whose name or model the text has, "" for none.
	Device string
	// Kind is that of the device, else the finest said for which there are cases or a
	// method, else the finest said; As is what was said.
	Kind, As string
	// Perhaps is a kind that is only inferred, with how probable it is; it decides nothing.
	Perhaps  string
	Inferred float64
}

// ids gives what is stated of a class, in order of appearance.
func (u *Understood) ids(class terms.Class) []string {
	var stated []terms.Mention
	for _, m := range u.Mentions {
		if m.Class == class && m.Said() && m.Inferred == 0 {
			stated = append(stated, m)
		}
	}
	slices.SortStableFunc(stated, func(a, b terms.Mention) int { return a.Start - b.Start })
	var out []string
	for _, m := range stated {
		if !slices.Contains(out, m.ID) {
			out = append(out, m.ID)
		}
	}
	return out
}

// Symptoms, Events and Dangers are the ids that the text states, in order of appearance.
func (u *Understood) Symptoms() []string { return u.ids(terms.Symptom) }

// Events are what happened before, as [Understood.Symptoms].
func (u *Understood) Events() []string { return u.ids(terms.Before) }

// Dangers are those that are or were there, as [Understood.Symptoms].
func (u *Understood) Dangers() []string { return u.ids(terms.Danger) }

// Understand reads what somebody says. A text is read once: the last answer is kept, as
// one text is asked about many times.
func (m *Model) Understand(said string) *Understood {
	if strings.TrimSpace(said) == "" {
		return &Understood{}
	}
	if last := m.last.Load(); last != nil && last.text == said {
		return last.Understood
	}
	u := &Understood{Mentions: m.n.Terms.Read(said)}
	u.Device = m.deviceIn(said)
	for _, x := range u.Mentions {
		if x.Class != terms.Kind || !x.Said() {
			continue
		}
		if x.Inferred > 0 {
			u.Perhaps, u.Inferred = x.ID, x.Inferred
		} else {
			u.As, u.Kind = x.ID, m.knownKind(x.ID)
		}
		break
	}
	if u.Device != "" {
		u.Kind = m.kindOf[u.Device]
	}
	m.last.Store(&lastRead{said, u})
	return u
}

// lastRead is the text that was read last.
type lastRead struct {
	text string
	*Understood
}

// knownKind gives a kind or the nearest wider one of which there are cases, as long as one
// method is for both: what is known of other devices of the wider kind is nothing for one
// with a method, and dangers, of its own.
func (m *Model) knownKind(kind string) string {
	for _, id := range m.n.Terms.Widened(kind) {
		if m.kindN[id] > 0 && m.starters[id] == m.starters[kind] {
			return id
		}
	}
	return kind
}

// fewestNamed is how many letters a model needs to be known by it alone.
const fewestNamed = 3

// callings gives the names that a text may call a device by, as it is looked for: the shown
// name, the id and the model.
func (m *Model) callings() map[string][]string {
	out := map[string][]string{}
	for _, d := range m.n.Devices {
		if strings.TrimSpace(d.Maker+d.Model) == "" {
			continue // it is called by its kind
		}
		names := []string{d.Name(m.n.Terms), d.ID, d.Model}
		for i, name := range names {
			name = plain(name)
			if utf8.RuneCountInString(strings.TrimSpace(name)) >= fewestNamed && (i < 2 || !m.commonWord(name)) && !slices.Contains(out[d.ID], name) {
				out[d.ID] = append(out[d.ID], name)
			}
		}
	}
	return out
}

// commonWord reports whether a model's name is a word that says something else too.
func (m *Model) commonWord(name string) bool {
	return len(m.n.Terms.Stated(name)) > 0
}

// deviceIn gives the device that a text names, by the longest name.
func (m *Model) deviceIn(said string) string {
	text, best, most := plain(said), "", 0
	names := m.names()
	for _, d := range m.n.Devices { // in their order, so that equals are decided
		for _, name := range names[d.ID] {
			if n := utf8.RuneCountInString(name); n > most && strings.Contains(text, name) {
				best, most = d.ID, n
			}
		}
	}
	return best
}

// plain is a text in small letters, its words parted by single spaces, one at each end.
func plain(text string) string {
	return " " + strings.Join(strings.FieldsFunc(strings.ToLower(text),
		func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), " ") + " "
}

// exportNames gives what the page needs to understand which device a text speaks of.
func (m *Model) exportNames() ExportedWords {
	x := ExportedWords{Devices: m.names(), Order: []string{}, Kinds: map[string]string{}, Known: map[string]string{}}
	for _, d := range m.n.Devices {
		if len(x.Devices[d.ID]) > 0 {
			x.Order, x.Kinds[d.ID] = append(x.Order, d.ID), d.Kind
		}
	}
	for _, t := range m.n.Terms.All(terms.Kind) {
		if known := m.knownKind(t.ID); known != t.ID {
			x.Known[t.ID] = known
		}
	}
	return x
}
