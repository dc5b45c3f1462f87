package boards

import (
	"fmt"
	"math"
	"slices"

	"benchlore/build/notebook"
	"benchlore/build/reason/verdict"
	"benchlore/schema/board"
)

// PartView is what is known of a part of a board. Lengths are in mm.
type PartView struct {
	Board      string      `json:"board"`
	Ref        string      `json:"ref"`
	Value      string      `json:"value"`
	Package    string      `json:"package"`
	SizeMM     []float64   `json:"size_mm"` // null when not known
	Side       string      `json:"side"`
	AtMM       [2]float64  `json:"at_mm"`
	Rotation   float64     `json:"rotation"`
	Nets       []string    `json:"nets"`
	Role       board.Role  `json:"role"`
	Does       string      `json:"does,omitempty"`    // the role with its nets
	Without    string      `json:"without,omitempty"` // what is lost when it is missing
	Important  bool        `json:"important"`
	Pins       []PinView   `json:"pins,omitempty"`
	Neighbours []Neighbour `json:"neighbours"`
	Cases      []string    `json:"cases"`
	Touches    []Touch     `json:"touches"`
}

// PinView is a pin with its net, which is empty for none.
type PinView struct {
	Pin string `json:"pin"`
	Net string `json:"net"`
}

// Neighbour is a part nearby; MM is between the bodies, CentreMM between the
// centres.
type Neighbour struct {
	Ref      string  `json:"ref"`
	MM       float64 `json:"mm"`
	CentreMM float64 `json:"centre_mm"`
}

// ShowPart gathers what is known of a part, with the neighbours within so many
// mm.
func ShowPart(n *notebook.Notebook, d *notebook.Device, at Place, within float64) PartView {
	b, p := at.Board, at.Part
	v := PartView{Board: b.Name, Ref: p.Ref, Value: p.Value, Package: p.Package, Side: p.Side.String(),
		AtMM:     [2]float64{round(p.X), round(p.Y)},
		Rotation: p.Rotation, Nets: listed(b.NetsOf(p)), Role: b.Role(p), Important: b.Important(p),
		Neighbours: []Neighbour{}, Touches: []Touch{}}
	if p.Size[0] > 0 {
		v.SizeMM = []float64{round(p.Size[0]), round(p.Size[1])}
	}
	v.Does, v.Without = verdict.LossWords(fmt.Sprintf, b.Board, p, false)
	for _, pin := range p.Pins {
		net := ""
		if pin.Net >= 0 {
			net = b.Nets[pin.Net].Name
		}
		v.Pins = append(v.Pins, PinView{pin.Name, net})
	}
	for _, near := range b.Near(p, within) {
		v.Neighbours = append(v.Neighbours, Neighbour{near.Part.Ref, round(near.Gap), round(near.Centre)})
	}
	touched := Touched(n, b, d.ID)
	v.Touches = append(v.Touches, touched[p.Ref]...)
	v.Cases = casesOf(v.Touches)
	return v
}

// NetView is what is known of a net.
type NetView struct {
	Board      string          `json:"board"`
	Net        string          `json:"net"`
	Kind       board.NetKind   `json:"kind"`
	Parts      []NetPart       `json:"parts"`
	TestPoints []string        `json:"test_points"`
	Decoupling *DecouplingView `json:"decoupling,omitempty"`
	Cases      []string        `json:"cases"`
}

// NetPart is a part on a net, and what the net loses without it.
type NetPart struct {
	Ref     string     `json:"ref"`
	Value   string     `json:"value"`
	Pins    []string   `json:"pins"`
	Role    board.Role `json:"role"`
	Without string     `json:"without,omitempty"`
}

// DecouplingView is the capacitance between a supply and ground.
type DecouplingView struct {
	Capacitors int    `json:"capacitors"`
	Total      string `json:"total"`
	Unread     int    `json:"unread"`
}

// ShowNet gathers what is known of a net of a board.
func ShowNet(n *notebook.Notebook, d *notebook.Device, b *notebook.Board, net *board.Net) NetView {
	v := NetView{Board: b.Name, Net: net.Name, Kind: net.Kind, Parts: []NetPart{}, TestPoints: []string{}}
	touched := Touched(n, b, d.ID)
	var touches []Touch
	for _, p := range b.PartsOf(net) {
		role := b.Role(p)
		touches = append(touches, touched[p.Ref]...)
		if role == board.TestPoint {
			v.TestPoints = append(v.TestPoints, p.Ref)
			continue
		}
		part := NetPart{Ref: p.Ref, Value: p.Value, Role: role}
		for _, pin := range p.Pins {
			if pin.Net >= 0 && &b.Nets[pin.Net] == net {
				part.Pins = append(part.Pins, pin.Name)
			}
		}
		_, part.Without = verdict.LossWords(fmt.Sprintf, b.Board, p, false)
		v.Parts = append(v.Parts, part)
	}
	if sum := b.Decoupling(net); net.Kind != board.Ground && sum.Count > 0 {
		v.Decoupling = &DecouplingView{sum.Count, sum.Total.String(), sum.Unread}
	}
	v.Cases = casesOf(touches)
	return v
}

func listed(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}

func casesOf(touches []Touch) []string {
	ids := []string{}
	for _, t := range touches {
		ids = append(ids, t.Case)
	}
	slices.Sort(ids)
	return slices.Compact(ids)
}

// round keeps a hundredth of a millimetre.
func round(mm float64) float64 { return math.Round(mm*100) / 100 }
