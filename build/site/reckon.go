package site

import (
	"encoding/json"

	"benchlore/schema/quantity"
)

type reckonPage struct {
	Frame    frame
	Formulas []quantity.Formula
}

func (s *site) reckonPage() reckonPage {
	return reckonPage{s.frame("", s.t("Reckon")), quantity.Formulas()}
}

// reckonParts gives the page the rules of substitution, which it asks for when the
// first swap is judged.
func reckonParts() ([]byte, error) {
	return script("benchloreParts", json.RawMessage(quantity.SwapsJSON))
}

// reckonTables gives the page the same tables that the command line reads, and
// the series, which are computed.
func reckonTables() ([]byte, error) {
	series := map[string][]int64{}
	for _, s := range quantity.AllSeries {
		series[s.String()] = s.Members()
	}
	return script("benchloreTables", map[string]any{
		"tables": json.RawMessage(quantity.TablesJSON), "formulas": json.RawMessage(quantity.FormulasJSON),
		"series": series, "units": quantity.UnitTable(), "words": json.RawMessage(quantity.WordsJSON),
	})
}
