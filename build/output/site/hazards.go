package site

import (
	"cmp"
	"slices"

	cautions "benchlore/build/reason/hazard"
	"benchlore/schema/terms"
)

type limitView struct{ What, Limit, Source string }

type hazardView struct{ ID, Name, Meaning, Caution, Href, Cases string }

type hazardsPage struct {
	Frame   frame
	Hazards []hazardView
}

type hazardPage struct {
	Frame          frame
	Name, Meaning  string
	Caution        string
	Care           []string
	Limits         []limitView
	Devices, Cases []link
	More           int // cases that are not listed
}

func hazardPath(id string) string { return "hazards/" + id + ".html" }

func (s *site) hazardsPage() hazardsPage {
	p := hazardsPage{Frame: s.frame("", s.t("Cautions"))}
	for _, t := range s.n.Terms.All(terms.Hazard) {
		h := hazardView{ID: t.ID, Name: t.Name, Meaning: t.Meaning, Caution: s.cautionText(t), Href: hazardPath(t.ID)}
		if n := len(s.lists.hazard[t.ID]); n > 0 {
			h.Cases = s.count(n, "%d case", "%d cases")
		}
		p.Hazards = append(p.Hazards, h)
	}
	return p
}

func (s *site) cautionText(t *terms.Term) string {
	return cmp.Or(t.Caution, s.t("Ask somebody who knows this hazard."))
}

// hazardCases bounds the cases that a hazard's page lists; search has the others.
const hazardCases = 12

// hazardPage tells of one hazard: the caution, the usual precautions, published
// limits, and where this notebook meets it.
func (s *site) hazardPage(t *terms.Term) hazardPage {
	const root = "../"
	p := hazardPage{Frame: s.frame(root, t.Name), Name: t.Name, Meaning: t.Meaning, Caution: s.cautionText(t)}
	for _, care := range terms.Precautions() {
		if care.Hazard != t.ID {
			continue
		}
		for _, c := range care.Care {
			p.Care = append(p.Care, s.t(c))
		}
		for _, l := range care.Limits {
			v := limitView{s.t(l.What), s.t(l.Limit), s.t(l.Source)}
			if l.Limit == "" { // a text that nobody here has read is named, not quoted
				v.Limit = s.t("see there")
			}
			p.Limits = append(p.Limits, v)
		}
	}
	for _, d := range s.n.Devices {
		if slices.Contains(cautions.OfDevice(s.n, d), t) {
			p.Devices = append(p.Devices, link{d.Name(s.n.Terms), root + "devices/" + d.ID + ".html"})
		}
	}
	cases := s.lists.hazard[t.ID]
	for _, c := range cases[:min(hazardCases, len(cases))] {
		p.Cases = append(p.Cases, link{c.ID() + " " + c.File.Case.Title, root + casePath(c)})
	}
	p.More = len(cases) - len(p.Cases)
	return p
}
