package search

import (
	"cmp"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/schema/terms"
)

// Facet is one way to narrow a result, with how many of its cases each choice
// leaves.
type Facet struct {
	Name    string  `json:"name"` // symptom, device, kind, fault, at, action, outcome, year
	Choices []Count `json:"choices"`
}

// Count is a choice of a facet: its id, its name and its number of cases.
type Count struct {
	ID    string `json:"id"`
	Name  string `json:"name"`
	Cases int    `json:"cases"`
}

// facetNames lists the facets in their order; each is also a flag and a key in
// the page's address.
var facetNames = []string{"symptom", "device", "kind", "fault", "at", "action", "outcome", "year"}

// facetValues returns the ids that a case has for a facet, each once.
func facetValues(c *notebook.Case, facet string) []string {
	k := &c.File.Case
	one := func(s string) []string {
		if s == "" {
			return nil
		}
		return []string{s}
	}
	switch facet {
	case "symptom":
		return slices.Compact(slices.Sorted(slices.Values(k.Symptoms)))
	case "device":
		return one(c.Device.ID)
	case "kind":
		return one(c.Device.Kind)
	case "outcome":
		return one(k.Outcome)
	case "year":
		return one(Year(c))
	case "action":
		var list []string
		for _, p := range k.Parts {
			list = append(list, one(p.Action)...)
		}
		slices.Sort(list)
		return slices.Compact(list)
	}
	if k.Cause == nil {
		return nil
	}
	if facet == "fault" {
		return one(k.Cause.Fault)
	}
	return one(k.Cause.At)
}

// facetLabel is the name of a facet's value as people read it.
func facetLabel(n *notebook.Notebook, facet, id string) string {
	classes := map[string]terms.Class{"symptom": terms.Symptom, "kind": terms.Kind, "fault": terms.Fault,
		"at": terms.Place, "action": terms.Action, "outcome": terms.Outcome}
	if class, ok := classes[facet]; ok {
		return n.Terms.Name(class, id)
	}
	if d, ok := n.Device(id); ok && facet == "device" {
		return d.Name(n.Terms)
	}
	return id
}

// deviceFacet is the place of "device" in facetNames.
const deviceFacet = 1

// facets counts the choices over a whole result, the commonest first.
func (ix *Index) facets(list []ranked) []Facet {
	var out []Facet
	for i, name := range facetNames {
		column := &ix.rows.Facets[i]
		counts := make([]int, len(column.Labels))
		for _, r := range list {
			for _, v := range column.Values[column.Starts[r.ordinal]:column.Starts[r.ordinal+1]] {
				counts[v]++
			}
		}
		f := Facet{Name: name, Choices: []Count{}}
		for v, n := range counts {
			if n == 0 {
				continue
			}
			id := column.Labels[v]
			label := facetLabel(ix.n, name, id)
			if device, ok := ix.rows.DeviceNames[id]; ok && name == "device" {
				label = device
			}
			f.Choices = append(f.Choices, Count{id, label, n})
		}
		slices.SortFunc(f.Choices, func(a, b Count) int { return cmp.Or(cmp.Compare(b.Cases, a.Cases), strings.Compare(a.ID, b.ID)) })
		out = append(out, f)
	}
	return out
}

// filters returns what the query asks of each facet, in the order of
// facetNames.
func (q *Query) filters() [numFacets]string {
	return [...]string{q.Symptom, q.Device, q.Kind, q.Fault, q.At, q.Action, q.Outcome, q.Year}
}
