// Package label draws labels for bags and devices: what it is, since when, what
// is still open, and a QR code (ISO/IEC 18004) that leads back to the notebook.
//
// [Of] gathers what stands on a label, [Write] draws one or a sheet of them as
// SVG, PNG or PDF. All lengths are in millimetres.
package label

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"net/url"
	"strings"

	"github.com/boombuler/barcode/qr"

	"benchlore/build/notebook"
	"benchlore/build/reason/hazard"
	"benchlore/schema/casefile"
	"benchlore/schema/quantity"
)

// Label is what stands on a label.
type Label struct {
	ID    string   // of the case or device, large
	Title string   // the device, or what it is
	Lines []string // date, then open questions; what does not fit is left out
	Code  string   // what the QR code says
}

// Of gathers the label of a case or a device.
func Of(n *notebook.Notebook, id string) (Label, bool) {
	if c, ok := n.Case(id); ok {
		return ofCase(n, c), true
	}
	if d, ok := n.Device(id); ok {
		return ofDevice(n, d), true
	}
	return Label{}, false
}

// address is where the site has a page, or the id where it has no address.
func address(n *notebook.Notebook, page, id string) string {
	base := n.Config.Site.Address
	if base == "" {
		return id
	}
	u, err := url.JoinPath(base, page)
	if err != nil {
		return id
	}
	return u
}

func ofCase(n *notebook.Notebook, c *notebook.Case) Label {
	k := &c.File.Case
	l := Label{ID: c.ID(), Title: c.Device.Name(n.Terms), Code: address(n, "cases/"+c.ID()+".html", c.ID())}
	date := "in " + k.Opened
	if k.Closed != "" {
		date += ", done " + k.Closed
	}
	l.Lines = append(l.Lines, strings.Join(strings.Fields(date+" "+k.By), " "))
	w := hazard.OfCase(n, c)
	if k.Open() && w.Stop() {
		l.Lines = append(l.Lines, "STOP: "+w.Dangers[0].Name)
	}
	if t := w.Gravest(); t != nil {
		l.Lines = append(l.Lines, "! "+t.Name)
	}
	if k.Fasteners != nil && k.Fasteners.In == nil {
		l.Lines = append(l.Lines, fmt.Sprintf("%d fasteners out", k.Fasteners.Out))
	}
	for _, q := range questions(n, c) {
		l.Lines = append(l.Lines, "? "+q)
	}
	if len(l.Lines) < 4 && k.Title != "" {
		l.Lines = append(l.Lines, k.Title)
	}
	return l
}

// questions are what a case leaves open: checks that were unsure, readings not
// taken or out of their limits in a case without a cause, and the cause itself.
func questions(n *notebook.Notebook, c *notebook.Case) []string {
	k := &c.File.Case
	var out []string
	for _, f := range k.Findings {
		if f.Result == "unsure" {
			out = append(out, f.Check)
		}
	}
	for i := range k.Measurements {
		m := &k.Measurements[i]
		switch v := m.Verdict(n.Terms); {
		case m.Reading == nil && m.Expected != "":
			out = append(out, m.Point+" not read")
		case k.Cause == nil && v != quantity.NoVerdict && v != quantity.In:
			out = append(out, m.Point+" "+v.String())
		}
	}
	if k.Open() && k.Cause == nil {
		out = append(out, "cause not known yet")
	}
	return out
}

func ofDevice(n *notebook.Notebook, d *notebook.Device) Label {
	l := Label{ID: d.ID, Title: d.Name(n.Terms), Code: address(n, "devices/"+d.ID+".html", d.ID)}
	count, newest := 0, ""
	var open []string
	for _, c := range n.Cases {
		if c.Device != d {
			continue
		}
		count++
		newest = max(newest, cmp.Or(c.File.Case.Closed, c.File.Case.Opened))
		if c.File.Case.Open() {
			open = append(open, "? "+c.ID()+" "+c.File.Case.Title)
		}
	}
	if newest != "" {
		l.Lines = append(l.Lines, fmt.Sprintf("%d on record, last %s", count, newest))
	}
	var cautions []string
	for _, t := range hazard.ByGravity(hazard.OfDevice(n, d)) {
		cautions = append(cautions, t.Name)
	}
	if len(cautions) > 0 {
		l.Lines = append(l.Lines, "! "+strings.Join(cautions, ", "))
	}
	if d.Record != nil {
		if total := total(&d.Record.Device); total > 0 {
			l.Lines = append(l.Lines, fmt.Sprintf("%d fasteners", total))
		}
	}
	l.Lines = append(l.Lines, open...)
	return l
}

func total(r *casefile.DeviceRecord) int {
	if r.Total != nil {
		return *r.Total
	}
	return r.FastenerCount()
}

// Size of a label, mm.
type Size struct{ Width, Height float64 }

// Format is the kind of file.
type Format string

// The formats.
const (
	formatSVG Format = "svg"
	formatPNG Format = "png"
	formatPDF Format = "pdf"
)

// errFormat is returned for a file name with another ending.
var errFormat = errors.New("a label is written as .svg, .png or .pdf")

// FormatOf reads the format from a file name.
func FormatOf(name string) (Format, error) {
	for _, f := range []Format{formatSVG, formatPNG, formatPDF} {
		if strings.HasSuffix(strings.ToLower(name), "."+string(f)) {
			return f, nil
		}
	}
	return "", fmt.Errorf("%w, not %q", errFormat, name)
}

const pointsPerMM = 72 / 25.4

// draw puts one label at a place, x and y from the upper left corner.
func (p *page) draw(l Label, x, y float64, s Size) error {
	regular, err := faceOf(false)
	if err != nil {
		return err
	}
	bold, err := faceOf(true)
	if err != nil {
		return err
	}
	pad := min(2, s.Width/20, s.Height/10)
	side := min(s.Height-2*pad, 0.42*s.Width)
	if err := p.drawCode(l.Code, x+s.Width-pad-side, y+(s.Height-side)/2, side); err != nil {
		return err
	}
	width := s.Width - side - 3*pad
	at := y + pad
	put := func(text string, size float64, face *typeface, most int) {
		for _, line := range wrap(face, text, size, width, most) {
			if at+size*1.15 > y+s.Height-pad/2 {
				return
			}
			p.rows = append(p.rows, row{x + pad, at + size*0.85, size, face == bold, line})
			at += size * 1.2
		}
	}
	large := min(5.5, s.Height/5)
	if w := bold.width(l.ID, large); w > width {
		large *= width / w
	}
	small := min(2.8, s.Height/9)
	put(l.ID, large, bold, 1)
	put(l.Title, small*1.15, bold, 2)
	for _, line := range l.Lines {
		put(line, small, regular, 2)
	}
	return nil
}

// wrap breaks a text at blanks into no more than so many rows.
func wrap(face *typeface, text string, size, width float64, most int) []string {
	var rows []string
	row := ""
	for _, w := range strings.Fields(text) {
		next := strings.TrimSpace(row + " " + w)
		if row == "" || face.width(next, size) <= width {
			row = next
			continue
		}
		rows = append(rows, row)
		row = w
	}
	rows = append(rows, row)
	cut := len(rows) > most
	rows = rows[:min(most, len(rows))]
	for i, r := range rows {
		last := cut && i == len(rows)-1
		for face.width(r, size) > width || last {
			letters := []rune(strings.TrimSuffix(r, "…"))
			if len(letters) < 2 {
				break
			}
			if last {
				last = false
				r += "…"
				continue
			}
			r = string(letters[:len(letters)-1]) + "…"
		}
		rows[i] = r
	}
	return rows
}

// quiet is the white around a code, in modules, as the standard asks.
const quiet = 4

// Code encodes a text as a QR code with error correction level M and returns its
// modules, rows from the top, true for dark.
func Code(text string) ([][]bool, error) {
	code, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		return nil, fmt.Errorf("%q cannot be made a QR code: %w", text, err)
	}
	b := code.Bounds()
	bits := make([][]bool, b.Dy())
	for y := range bits {
		bits[y] = make([]bool, b.Dx())
		for x := range bits[y] {
			grey, _, _, _ := code.At(b.Min.X+x, b.Min.Y+y).RGBA()
			bits[y][x] = grey == 0
		}
	}
	return bits, nil
}

// drawCode draws a QR code with its quiet zone into a square.
func (p *page) drawCode(text string, x, y, side float64) error {
	bits, err := Code(text)
	if err != nil {
		return err
	}
	unit := side / float64(len(bits)+2*quiet)
	for r, row := range bits {
		for c := 0; c < len(row); c++ {
			if !row[c] {
				continue
			}
			run := c
			for c+1 < len(row) && row[c+1] {
				c++
			}
			p.bars = append(p.bars, bar{x + float64(quiet+run)*unit, y + float64(quiet+r)*unit, float64(c-run+1) * unit, unit})
		}
	}
	return nil
}

// dotsPerMM is the resolution of PNG files, about 300 dots an inch.
const dotsPerMM = 12

// Write draws labels: one of its own size without a sheet, or as many sheets as
// are needed, the first few places left free by skip. Only PDF holds more than
// one page.
func Write(w io.Writer, f Format, labels []Label, s Size, sheet *Sheet, skip int) error {
	if err := s.check(); err != nil {
		return err
	}
	pages, err := layout(labels, s, sheet, skip)
	if err != nil {
		return err
	}
	if len(pages) > 1 && f != formatPDF {
		return fmt.Errorf("%d pages are needed and a .%s file holds one; write a .pdf", len(pages), f)
	}
	switch f {
	case formatSVG:
		return pages[0].writeSVG(w)
	case formatPNG:
		return pages[0].writePNG(w)
	}
	return writePDF(w, pages)
}

func (s Size) check() error {
	if !(s.Width >= 20 && s.Height >= 8 && s.Width <= 300 && s.Height <= 300) {
		return fmt.Errorf("a label is 20 × 8 mm at least and 300 × 300 mm at most, not %g × %g mm", s.Width, s.Height)
	}
	return nil
}

// layout draws the pages.
func layout(labels []Label, s Size, sheet *Sheet, skip int) ([]*page, error) {
	var pages []*page
	begin := func(width, height float64) *page {
		p := &page{width: width, height: height}
		pages = append(pages, p)
		return p
	}
	if sheet == nil {
		for _, l := range labels {
			if err := begin(s.Width, s.Height).draw(l, 0, 0, s); err != nil {
				return nil, err
			}
		}
		return pages, nil
	}
	if err := sheet.check(s); err != nil {
		return nil, err
	}
	per := sheet.Columns * sheet.Rows
	if skip < 0 || skip >= per {
		return nil, fmt.Errorf("a sheet has %d labels; %d cannot be left free", per, skip)
	}
	var p *page
	for i, l := range labels {
		n := i + skip
		if i == 0 || n%per == 0 {
			p = begin(sheet.Paper.Width, sheet.Paper.Height)
		}
		column, row := n%per%sheet.Columns, n%per/sheet.Columns
		x := sheet.Margin.Width + float64(column)*(s.Width+sheet.Gap.Width)
		y := sheet.Margin.Height + float64(row)*(s.Height+sheet.Gap.Height)
		if err := p.draw(l, x, y, s); err != nil {
			return nil, err
		}
	}
	return pages, nil
}
