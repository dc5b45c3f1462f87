package site

import (
	"encoding/json"
	"hash/fnv"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"

	cautions "benchlore/build/reason/hazard"
	"benchlore/build/reason/method"
	"benchlore/build/reason/triage"
	"benchlore/schema/terms"
)

type tapView struct{ ID, Name, Words string }

type option struct{ ID, Name string }

type triagePage struct {
	Frame            frame
	Symptoms, Events []tapView
	Kinds            []option
	Stop             string // what is said while something is dangerous
}

// triagePage offers the symptoms and events that a closed case had.
func (s *site) triagePage(x *triage.Export) triagePage {
	p := triagePage{Frame: s.frame("", s.t("Triage")), Stop: cautions.Stop}
	for _, t := range s.n.Terms.All(terms.Kind) {
		p.Kinds = append(p.Kinds, option{t.ID, t.Name})
	}
	slices.SortStableFunc(p.Kinds, func(a, b option) int { return strings.Compare(a.Name, b.Name) })
	symptoms, events := map[string]bool{}, map[string]bool{}
	for _, c := range x.Cases {
		for _, id := range c.Symptoms {
			symptoms[id] = true
		}
		for _, id := range c.Before {
			events[id] = true
		}
	}
	for _, t := range s.n.Terms.All(terms.Symptom) {
		if symptoms[t.ID] {
			p.Symptoms = append(p.Symptoms, tapView{t.ID, t.Name, strings.ToLower(t.Name + " " + strings.Join(t.Also, " "))})
		}
	}
	for _, t := range s.n.Terms.All(terms.Before) {
		if events[t.ID] {
			p.Events = append(p.Events, tapView{ID: t.ID, Name: t.Name})
		}
	}
	return p
}

// triageJobs make the page and its data, from what the model learns from and no
// more, so that an edited remark teaches nothing again.
func (s *site) triageJobs() []job {
	h := fnv.New128a()
	for _, d := range s.n.Devices {
		add(h, d.ID, d.Kind, d.Name(s.n.Terms), string(d.Hash[:]))
	}
	for _, c := range s.n.Cases {
		k := &c.File.Case
		add(h, c.ID(), k.Closed, k.Returns, k.Outcome, c.Device.ID)
		for _, list := range [][]string{k.Symptoms, k.Absent, k.Before} {
			add(h, list...)
			add(h, "")
		}
		if k.Cause != nil {
			add(h, k.Cause.Fault, k.Cause.At, k.Cause.Origin)
		}
		for i := range k.Findings {
			f := &k.Findings[i]
			add(h, f.Check, f.Result, strconv.Itoa(f.Minutes))
		}
		for i := range k.Parts {
			add(h, k.Parts[i].Ref, k.Parts[i].Part)
		}
	}
	if text, err := json.Marshal(s.methods); err == nil {
		add(h, string(text))
	}
	key := s.key("triage", h.Sum(nil))
	for _, c := range s.n.Cases { // what is learned from words goes by the texts too
		for _, sec := range c.File.Case.Sections {
			if sec.Name == "Symptom" {
				add(h, c.ID(), c.File.Case.Title, string(c.Text.Bytes[sec.Start:sec.Stop]))
			}
		}
	}
	wordsHash := h.Sum(nil)
	learned := sync.OnceValue(func() *triage.Model { return triage.New(s.n, s.methods...) })
	model := sync.OnceValue(func() triage.Export { return learned().Export() })
	return append([]job{
		s.judgedJob(learned, wordsHash),
		{"triage/model.js", func() (digest, func() ([]byte, error), error) {
			return key, func() ([]byte, error) { x := model(); return s.triageData(&x) }, nil
		}},
		{"triage/methods.js", func() (digest, func() ([]byte, error), error) {
			return key, func() ([]byte, error) { return s.methodsData(learned()) }, nil
		}},
		{"triage/words.js", func() (digest, func() ([]byte, error), error) {
			return s.key("triage words", wordsHash),
				func() ([]byte, error) { return script("benchloreWords", learned().ExportWords()) }, nil
		}},
		{"triage.html", func() (digest, func() ([]byte, error), error) {
			return key, func() ([]byte, error) { x := model(); return s.render("triage", s.triagePage(&x)) }, nil
		}},
	}, s.practiceJobs(learned)...)
}

// triageHref is the triage page with what is known filled in.
func triageHref(root string, symptoms []string, device string) string {
	known := url.Values{}
	if len(symptoms) > 0 {
		known.Set("has", strings.Join(symptoms, ","))
	}
	if device != "" {
		known.Set("device", device)
	}
	return root + "triage.html#" + known.Encode()
}

type triageHazard struct {
	Name string `json:"name"`
	Text string `json:"text"`
	Href string `json:"href"`
}

func (s *site) triageHazard(t *terms.Term) triageHazard {
	return triageHazard{t.Name, s.cautionText(t), hazardPath(t.ID)}
}

// hazardIDs gives the ids of hazards.
func hazardIDs(list []*terms.Term) []string {
	ids := []string{}
	for _, t := range list {
		ids = append(ids, t.ID)
	}
	return ids
}

type triageRisk struct {
	What string `json:"what"`
	Case string `json:"case"`
}

type triageDevice struct {
	Name    string       `json:"name"`
	Hazards []string     `json:"hazards,omitempty"`
	Risks   []triageRisk `json:"risks,omitempty"`
}

// triageData is what the page computes with.
func (s *site) triageData(x *triage.Export) ([]byte, error) {
	data := struct {
		Model   *triage.Export          `json:"model"`
		Faults  map[string]string       `json:"faults"`
		Places  map[string]string       `json:"places"`
		Devices map[string]triageDevice `json:"devices"`
		Calls   [][]string              `json:"calls"`  // hazards that a check calls for, by its number
		Enough  int                     `json:"enough"` // cases of a kind from which its method is folded away
	}{x, map[string]string{}, map[string]string{}, map[string]triageDevice{}, [][]string{}, method.Enough}
	for i := range x.Rules {
		x.Rules[i].Do, x.Rules[i].Why = s.t(x.Rules[i].Do), s.t(x.Rules[i].Why)
	}
	for _, k := range x.Checks {
		data.Calls = append(data.Calls, hazardIDs(cautions.OfText(s.n, k.Name)))
	}
	s.nameCauses(x.Causes, data.Faults, data.Places)
	for _, d := range s.n.Devices {
		v := triageDevice{Name: d.Name(s.n.Terms), Hazards: hazardIDs(cautions.OfDevice(s.n, d))}
		for _, r := range s.history.Risks(d.ID) {
			v.Risks = append(v.Risks, triageRisk{riskText(r), r.Case})
		}
		data.Devices[d.ID] = v
	}
	return script("benchloreModel", data)
}

func (s *site) nameCauses(list []triage.Cause, faults, places map[string]string) {
	for _, c := range list {
		faults[c.Fault], places[c.At] = s.n.Terms.Name(terms.Fault, c.Fault), s.n.Terms.Name(terms.Place, c.At)
	}
}

// methodsData is what the page computes with that rests on no case. It is fetched when
// something is asked.
func (s *site) methodsData(m *triage.Model) ([]byte, error) {
	data := struct {
		Methods []method.Method         `json:"methods"`
		Starter triage.ExportedStarter  `json:"starter"`
		Faults  map[string]string       `json:"faults"`
		Places  map[string]string       `json:"places"`
		Hazards map[string]triageHazard `json:"hazards"`
		Calls   [][]string              `json:"calls"` // numbered on from those of the model
		Kinds   map[string][]string     `json:"kinds"` // the hazards that each kind calls for
		Ways    map[string]int          `json:"ways"`  // the number of the method for each kind
		Stops   map[string]triageStop   `json:"stops"` // what is first at each danger
		Order   []string                `json:"order"` // of the hazards
	}{triage.Powered(s.methods), m.ExportStarter(), map[string]string{}, map[string]string{}, map[string]triageHazard{}, [][]string{},
		map[string][]string{}, map[string]int{}, s.triageStops(), []string{}}
	for _, t := range s.n.Terms.All(terms.Kind) {
		if list := cautions.Of(s.n, terms.CalledForBy(t.ID)); len(list) > 0 {
			data.Kinds[t.ID] = hazardIDs(list)
		}
		if way := method.For(s.methods, s.n.Terms, t.ID); way != nil {
			data.Ways[t.ID] = slices.IndexFunc(s.methods, func(x method.Method) bool { return x.ID == way.ID && x.Own == way.Own })
		}
	}
	for _, t := range s.n.Terms.All(terms.Hazard) {
		data.Hazards[t.ID] = s.triageHazard(t)
		data.Order = append(data.Order, t.ID)
	}
	for _, k := range data.Starter.Checks {
		data.Calls = append(data.Calls, hazardIDs(cautions.OfText(s.n, k.Name)))
	}
	s.nameCauses(data.Starter.Causes, data.Faults, data.Places)
	return script("benchloreMethods", data)
}

// triageStop is what a danger means for the work, as a page says it.
type triageStop struct {
	Name    string   `json:"name"`
	First   []string `json:"first"`
	Look    string   `json:"look,omitempty"`
	Good    string   `json:"good,omitempty"`
	Until   string   `json:"until,omitempty"`
	Hazards []string `json:"hazards,omitempty"`
}

func (s *site) triageStops() map[string]triageStop {
	out, tag := map[string]triageStop{}, s.n.Terms.Language().Tag
	for _, t := range s.n.Terms.All(terms.Danger) {
		v := triageStop{Name: t.Name, First: t.First}
		if stop, ok := terms.Stops(t.ID); ok {
			v.Look, v.Good, v.Until = terms.Said(stop.Look, tag), terms.Said(stop.Good, tag), terms.Said(stop.Until, tag)
			v.Hazards = stop.Hazards
		}
		out[t.ID] = v
	}
	return out
}

func riskText(r triage.Risk) string {
	text := r.Fault + ", " + r.At
	if r.Parts != "" {
		text += ": " + r.Parts
	}
	return text
}
