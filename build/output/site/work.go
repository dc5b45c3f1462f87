package site

import (
	"html"
	"html/template"
	"strings"

	"benchlore/schema/casefile"
	"benchlore/schema/quantity"
)

// workNote is what stands below the records of work that can hurt somebody, and the
// readings of an acceptance that are not within their limits.
func (s *site) workNote(k *casefile.Case, section string) template.HTML {
	note := ""
	switch section {
	case "Injection":
		note = s.t("Low volts into a short are many amperes: limit the current first, and keep skin and batteries away from what gets warm.")
	case "Rework":
		note = s.t("Hot air and solder fumes: extraction, eye protection, and no lithium cell near the nozzle.")
	case "Acceptance":
		note = s.t("A record of what was measured. Which tests are due, with which limits, is for the codes that apply where you are and for whoever is licensed to make them.")
	default:
		return ""
	}
	var b strings.Builder
	for i := range k.Work {
		w := &k.Work[i]
		if w.Section == section && (w.Verdict.Bad() || w.Verdict == quantity.TooClose) {
			b.WriteString(`<p><strong class="mark-bad">` + html.EscapeString(s.t("%s: %s is %s by the limit %s", w.Text["test"], w.Text["read"],
				s.t(w.Verdict.String()), w.Text["limit"])) + `</strong></p>`)
		}
	}
	b.WriteString(`<p class="meta">` + html.EscapeString(note) + `</p>`)
	return template.HTML(b.String())
}
