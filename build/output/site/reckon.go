package site

import (
	"encoding/json"
	"fmt"
	"strings"

	"benchlore/schema/quantity"
)

type reckonPage struct {
	Frame    frame
	Formulas []quantity.Formula
}

func (s *site) reckonPage() reckonPage {
	return reckonPage{s.frame("", s.t("Calculate")), quantity.Formulas()}
}

// lean is a script that hands data to a function, in a string with single quotes: the
// many double ones of JSON need no escape there, which saves a tenth.
func lean(function string, data any) ([]byte, error) {
	text, err := json.Marshal(data) // without line ends, also those of JavaScript
	if err != nil {
		return nil, err
	}
	return []byte(function + "('" + strings.NewReplacer(`\`, `\\`, `'`, `\'`).Replace(string(text)) + "');\n"), nil
}

// reckonParts gives the page the rules of substitution, which it asks for when the
// first swap is judged.
func reckonParts() ([]byte, error) {
	return lean("benchloreParts", json.RawMessage(quantity.SwapsJSON))
}

// reckonFormulas gives the page the bench formulas, which drills do without, with the names
// of what goes in and comes out in the notebook's language.
func (s *site) reckonFormulas() ([]byte, error) {
	var list []map[string]json.RawMessage
	if err := json.Unmarshal(quantity.FormulasJSON, &list); err != nil {
		return nil, err
	}
	for _, f := range list {
		var source string
		if err := json.Unmarshal(f["source"], &source); err != nil {
			return nil, err
		}
		if text := s.t(source); text != source {
			said, err := json.Marshal(text)
			if err != nil {
				return nil, err
			}
			f["from"] = said
		}
		for _, side := range []string{"inputs", "results"} {
			var fields []map[string]any
			if err := json.Unmarshal(f[side], &fields); err != nil {
				return nil, err
			}
			for _, x := range fields {
				for key, english := range map[string]string{"said": fmt.Sprint(x["name"]), "in": fmt.Sprint(x["unit"])} {
					if text := s.t(english); text != english {
						x[key] = text
					}
				}
			}
			text, err := json.Marshal(fields)
			if err != nil {
				return nil, err
			}
			f[side] = text
		}
	}
	return lean("benchloreFormulas", list)
}

// reckonTables gives the page the same tables that the command line reads, and
// the series, which are computed.
func reckonTables() ([]byte, error) {
	series := map[string][]int64{}
	for _, s := range quantity.AllSeries {
		series[s.String()] = s.Members()
	}
	var tables map[string]json.RawMessage
	if err := json.Unmarshal(quantity.TablesJSON, &tables); err != nil {
		return nil, err
	}
	delete(tables, "sources") // the page says the source of each answer itself
	return lean("benchloreTables", map[string]any{
		"tables": tables, "series": series, "units": quantity.UnitTable(), "words": json.RawMessage(quantity.WordsJSON),
	})
}
