package verdict

import (
	"fmt"
	"slices"
	"strings"

	"benchlore/build/notebook"
	"benchlore/schema/board"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// boardProblems compares a case's parts and points with its board. A row that
// differs is an error, since one of the two is wrong; a stated reason makes it
// a warning.
func boardProblems(c *notebook.Case) (list []diagnostic.Diagnostic) {
	b, ok := c.Board()
	if !ok {
		return nil
	}
	var refs []string
	for i := range b.Parts {
		refs = append(refs, b.Parts[i].Ref)
	}
	for i := range c.File.Case.Parts {
		row := &c.File.Case.Parts[i]
		severity, tail := diagnostic.Error, "; correct it, or begin the note with \"reason:\" and say why it differs"
		if reason := reasonOf(row); reason != "" {
			severity, tail = diagnostic.Warning, "; stated reason: "+reason
		}
		say := func(column, near, format string, args ...any) {
			start, stop := row.Place(column)
			d := c.Text.At(start, stop, severity, diagnostic.BoardPart, fmt.Sprintf(format, args...)+tail)
			d.Suggestion = near
			list = append(list, d)
		}
		names := row.Refs()
		for _, ref := range names {
			if _, ok := b.Part(ref); !ok {
				say("ref", terms.Nearest(strings.ToUpper(ref), refs), "%s is not on %s", ref, b.Name)
			}
		}
		if len(names) != 1 {
			continue
		}
		p, ok := b.Part(names[0])
		if !ok {
			continue
		}
		if !sameValue(row, p) {
			say("value", p.Value, "%s is %s on %s, not %s", p.Ref, p.Value, b.Name, row.Value)
		}
		if !samePackage(row.Package, p.Package) {
			say("package", p.Package, "%s has the package %s on %s, not %s", p.Ref, p.Package, b.Name, row.Package)
		}
		if nets := b.NetsOf(p); len(nets) > 0 && !onNets(row.Net, nets) {
			say("net", terms.Nearest(row.Net, nets), "%s is on %s of %s, not on %s", p.Ref, strings.Join(nets, " and "), b.Name, row.Net)
		}
	}
	for i := range c.File.Case.Measurements {
		m := &c.File.Case.Measurements[i]
		for _, ref := range notebook.Designators(m.Point) {
			_, isPart := b.Part(ref)
			if _, isNet := b.Net(ref); isPart || isNet {
				continue
			}
			start, stop := m.Place("point")
			d := c.Text.At(start, stop, diagnostic.Warning, diagnostic.BoardPoint, fmt.Sprintf("%s is not on %s", ref, b.Name))
			d.Suggestion = terms.Nearest(ref, refs)
			list = append(list, d)
		}
	}
	return list
}

// sameValue compares what can be read of both; texts that are no values are
// not judged.
func sameValue(row *casefile.Part, p *board.Part) bool {
	if row.Value == "" || p.Value == "" {
		return true
	}
	word := partKind(row.Part)
	a, errA := quantity.ParseSpec(strings.TrimSpace(word + " " + row.Value))
	b, errB := quantity.ParseSpec(strings.TrimSpace(word + " " + p.Value))
	if errA != nil || errB != nil {
		return true
	}
	for _, pair := range [][2]*quantity.Value{{a.Value, b.Value}, {a.Voltage, b.Voltage}, {a.Current, b.Current}} {
		x, y := pair[0], pair[1]
		if x != nil && y != nil && (x.Unit != y.Unit && x.Unit != quantity.None && y.Unit != quantity.None || x.Number.Cmp(y.Number) != 0) {
			return false
		}
	}
	return true
}

func samePackage(row, known string) bool {
	if row == "" || known == "" || strings.EqualFold(row, known) {
		return true
	}
	a, okA := board.BodySize(row)
	b, okB := board.BodySize(known)
	return !okA || !okB || a == b
}

// onNets reports whether a cell names nets of the list; "A to B" names two.
func onNets(cell string, nets []string) bool {
	if strings.TrimSpace(cell) == "" {
		return true
	}
	var known []string
	for _, n := range nets {
		known = append(known, foldNet(n))
	}
	for _, one := range strings.Split(cell, " to ") {
		if !slices.Contains(known, foldNet(one)) {
			return false
		}
	}
	return true
}

// foldNet lets +3V3, 3V3 and "3V3 " be one net, and LED supply LED_SUPPLY; a
// minus is another one.
func foldNet(s string) string {
	s = strings.ToUpper(strings.Join(strings.FieldsFunc(s, func(c rune) bool { return c == ' ' || c == '_' }), ""))
	return strings.TrimPrefix(strings.ReplaceAll(s, "−", "-"), "+")
}

// jobOnBoard tells what a bridged or missing part did, from its board; role is
// empty where the board does not know.
func jobOnBoard(c *notebook.Case, p *casefile.Part) (role, lost string) {
	b, ok := c.Board()
	if !ok {
		return "", ""
	}
	known, ok := b.Part(p.Ref)
	if !ok {
		return "", ""
	}
	return LossWords(fmt.Sprintf, b.Board, known, p.Action == "bridged")
}
