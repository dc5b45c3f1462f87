package site

import (
	"html/template"
	"regexp"
	"strings"

	"benchlore/build/reason/boards"
	"benchlore/build/reason/verdict"
)

// columnNames are the columns of the tables that a file's author writes, as a page heads
// them; a column of the workshop's own stays as it is written.
var columnNames = map[string]string{
	"point": "Point", "what": "What", "state": "State", "expected": "Expected", "note": "Note", "name": "Name",
	"pins": "Pins", "carries": "Carries", "release": "Release", "beside": "Beside", "ref": "Ref", "part": "Part",
	"value": "Value", "from": "From", "left": "Left", "least": "Least", "device": "Device", "gives": "Gives",
	"rail": "Rail", "by": "By", "enable": "Enable", "volts": "Volts", "diode": "Diode", "ohms": "Ohms", "order": "Order", "board": "Board", "net": "Net", "limit": "Limit", "current": "Current", "warm": "Warm", "picture": "Picture", "alloy": "Alloy", "nozzle": "Nozzle", "temperature": "Temperature", "air": "Air", "time": "Time",
	"preheat": "Preheat", "underfill": "Underfill", "class": "Class", "to": "To", "wire": "Wire", "before": "Before", "after": "After", "chip": "Chip", "size": "Size", "tool": "Tool", "result": "Result", "test": "Test", "instrument": "Instrument", "read": "Read"}

// sectionTitles are the sections of a device that the program knows.
var sectionTitles = map[string]string{"Reference readings": "Reference readings", "Spare parts": "Spare parts",
	"Connectors": "Connectors", "Donors": "Donors", "Rails": "Rails", "Fasteners": "Fasteners"}

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

// does says what a part does between which nets.
func (s *site) does(h *boards.Hit) string {
	text := s.t(string(h.Role))
	if n := len(h.Nets); n > 0 && n <= 3 {
		text += ", " + strings.Join(h.Nets, " "+s.t("and")+" ")
	}
	return text
}

// limits says limits, and where they are from, in the notebook's language.
func (s *site) limits(limits, from string) (string, string) {
	if from == verdict.FromDevice {
		from = s.t("the device's reference readings")
	}
	if value, ok := strings.CutPrefix(limits, "at least "); ok {
		return s.t("at least %s", value), from
	}
	if value, ok := strings.CutPrefix(limits, "at most "); ok {
		return s.t("at most %s", value), from
	}
	if low, high, ok := strings.Cut(limits, " to "); ok {
		return s.t("%s to %s", low, high), from
	}
	return limits, from
}
