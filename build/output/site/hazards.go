package site

import (
	"cmp"
	"html/template"
	"slices"

	cautions "benchlore/build/reason/hazard"
	"benchlore/schema/terms"
)

type limitView struct{ What, Limit, Source string }

// drawingView is a drawn figure of how something is done.
type drawingView struct {
	Drawing template.HTML
	Caption string
}

// drawings are the drawn figures of a hazard, with what is said below them. Common practice,
// no source.
func (s *site) drawings(hazard string) []drawingView {
	draw := func(name, caption string) drawingView {
		svg, err := s.render("drawing-"+name, nil)
		if err != nil {
			return drawingView{Caption: caption}
		}
		return drawingView{template.HTML(svg), caption}
	}
	switch hazard {
	case "mains":
		return []drawingView{
			draw("series-lamp", s.t("First power through a lamp in series: it glows once and goes dark when all is well; it stays bright at a short. It limits the current and protects nobody from a shock.")),
			draw("earth", s.t("Earth from the pin of the plug to every bare metal part, the lead bent along its length: below 0.1 Ω plus the resistance of the lead.")),
			draw("one-hand", s.t("Where it must be live: the black lead is clipped on before, one hand holds the probe, the other is behind the back, and somebody is within call.")),
			draw("probe", s.t("A tip that is sleeved to 2 mm stands on one pin; a long bare one slips across two.")),
		}
	case "stored-charge":
		return []drawingView{draw("discharging", s.t("Through a resistor that is rated for it, on insulated clips that stay on, with the meter beside it: about 1 V before anything is touched, and read again after some minutes."))}
	case "lithium":
		return []drawingView{draw("isolating", s.t("The plug of the pack is out and its contacts are taped before any tool goes near the board."))}
	}
	return nil
}

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
	Drawings       []drawingView
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
	p.Drawings = s.drawings(t.ID)
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
