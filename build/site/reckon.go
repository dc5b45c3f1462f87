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

// reckonTables gives the page the same tables that the command line reads, and
// the series, which are computed.
func reckonTables() ([]byte, error) {
	series := map[string][]int64{}
	for _, s := range quantity.AllSeries {
		series[s.String()] = s.Members()
	}
	return script("benchloreTables", map[string]any{
		"tables": json.RawMessage(quantity.TablesJSON), "formulas": json.RawMessage(quantity.FormulasJSON),
		"swaps": json.RawMessage(quantity.SwapsJSON), "series": series, "units": quantity.UnitTable(), "words": json.RawMessage(quantity.WordsJSON),
	})
}
