package site

import (
	"encoding/json"
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

// reckonMarks gives the page the forms of markings, which it asks for when the first one is
// read.
func reckonMarks() ([]byte, error) {
	return lean("benchloreMarks", json.RawMessage(quantity.MarksJSON))
}

// reckonParts gives the page the rules of substitution, which it asks for when the
// first swap is judged.
func reckonParts() ([]byte, error) {
	return lean("benchloreParts", json.RawMessage(quantity.SwapsJSON))
}

// reckonFormulas gives the page the bench formulas, which drills do without, with the names
// of what goes in and comes out in the notebook's language. Fields stand in columns and texts
// that repeat in a list, which saves a quarter.
func (s *site) reckonFormulas() ([]byte, error) {
	var set struct {
		Live     map[string]any   `json:"live"`
		Formulas []map[string]any `json:"formulas"`
	}
	if err := json.Unmarshal(quantity.FormulasJSON, &set); err != nil {
		return nil, err
	}
	// translate puts a text in the notebook's language beside the English one that differs.
	translate := func(in map[string]any, english, said string) {
		if text, _ := in[english].(string); s.t(text) != text {
			in[said] = s.t(text)
		}
	}
	translate(set.Live, "says", "said")
	delete(set.Live, "source")
	for _, f := range set.Formulas {
		translate(f, "caution", "warns")
		translate(f, "source", "from")
		translate(f, "valid", "holds")
		for _, side := range []string{"inputs", "results"} {
			fields, _ := f[side].([]any)
			for _, x := range fields {
				if field, ok := x.(map[string]any); ok {
					translate(field, "name", "said")
					translate(field, "unit", "in")
				}
			}
		}
	}
	var texts []string
	at := map[string]int{}
	// shared gives a text that many formulas have its place in a list.
	shared := func(x any) any {
		text, ok := x.(string)
		if !ok || len(text) < 4 {
			return x
		}
		if _, ok := at[text]; !ok {
			at[text] = len(texts)
			texts = append(texts, text)
		}
		return at[text]
	}
	for _, f := range set.Formulas {
		for _, name := range []string{"source", "valid", "caution", "from", "holds", "warns"} {
			if f[name] != nil {
				f[name] = shared(f[name])
			}
		}
		for _, side := range []string{"inputs", "results"} { // in this order, so that equal notes give equal bytes
			columns := []string{"key", "name", "unit"}
			if side == "results" {
				columns = append(columns, "expr")
			}
			fields, _ := f[side].([]any)
			for i, x := range fields {
				field, ok := x.(map[string]any)
				if !ok {
					continue
				}
				var row []any
				for _, c := range columns {
					if text := field[c]; c == "name" || c == "unit" {
						row = append(row, shared(text))
					} else {
						row = append(row, text)
					}
					delete(field, c)
				}
				if above, ok := field["above"].(float64); ok && above == 0 && len(field) == 1 {
					row = append(row, 0) // most have this one limit
				} else if len(field) > 0 {
					row = append(row, field)
				}
				fields[i] = row
			}
		}
	}
	return lean("benchloreFormulas", map[string]any{"live": set.Live, "formulas": set.Formulas, "texts": texts})
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
