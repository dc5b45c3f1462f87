package site

import (
	"html/template"
	"regexp"

	"benchlore/build/reason/verdict"
)

// columnNames are the columns of the tables that a file's author writes, as a page heads
// them; a column of the workshop's own stays as it is written.
var columnNames = map[string]string{
	"point": "Point", "what": "What", "state": "State", "expected": "Expected", "note": "Note", "name": "Name",
	"pins": "Pins", "carries": "Carries", "release": "Release", "beside": "Beside", "ref": "Ref", "part": "Part",
	"value": "Value", "from": "From", "left": "Left", "least": "Least", "device": "Device", "gives": "Gives",
	"rail": "Rail", "by": "By", "enable": "Enable", "volts": "Volts", "diode": "Diode", "ohms": "Ohms",
	"order": "Order", "board": "Board", "net": "Net", "limit": "Limit", "current": "Current", "warm": "Warm",
	"picture": "Picture", "alloy": "Alloy", "nozzle": "Nozzle", "temperature": "Temperature", "air": "Air",
	"time": "Time", "preheat": "Preheat", "underfill": "Underfill", "class": "Class", "to": "To", "wire": "Wire",
	"before": "Before", "after": "After", "chip": "Chip", "size": "Size", "tool": "Tool", "result": "Result",
	"test": "Test", "instrument": "Instrument", "read": "Read",
}

var headCell = regexp.MustCompile(`<th>([a-z]+)</th>`)

// heads says the columns of tables in the notebook's language.
func (s *site) heads(tables template.HTML) template.HTML {
	return template.HTML(headCell.ReplaceAllStringFunc(string(tables), func(cell string) string {
		if name, ok := columnNames[headCell.FindStringSubmatch(cell)[1]]; ok {
			return "<th>" + string(escaped(s.t(name))) + "</th>"
		}
		return cell
	}))
}

// limits are those that a reading was judged by where its row does not state them, and
// where they are from, in the notebook's language.
func (s *site) limits(j verdict.Reading) (limits, from string) {
	if j.Limits != "" {
		limits = verdict.Limits(j.Expectation, s.t)
	}
	return limits, s.t(j.From)
}
