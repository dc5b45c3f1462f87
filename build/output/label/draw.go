package label

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"
	"strconv"
	"strings"
	"sync"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// page is what is drawn on a piece of paper, black on white, lengths in millimetres from
// its upper left corner.
type page struct {
	width, height float64
	bars          []bar
	rows          []row
}

// bar is a filled rectangle.
type bar struct{ x, y, width, height float64 }

// row is a line of text that begins at x, its baseline at y.
type row struct {
	x, y, size float64
	bold       bool
	text       string
}

// typeface is a font with what its outlines need.
type typeface struct {
	font *sfnt.Font
	ttf  []byte
}

// typefaces are the Go fonts, regular and bold, which hold Latin, Greek and Cyrillic and
// are free to embed.
var typefaces = sync.OnceValues(func() ([2]typeface, error) {
	var out [2]typeface
	for i, ttf := range [][]byte{goregular.TTF, gobold.TTF} {
		f, err := sfnt.Parse(ttf)
		if err != nil {
			return out, err
		}
		out[i] = typeface{f, ttf}
	}
	return out, nil
})

func faceOf(bold bool) (*typeface, error) {
	faces, err := typefaces()
	if err != nil {
		return nil, err
	}
	if bold {
		return &faces[1], nil
	}
	return &faces[0], nil
}

// unit is at how many dots to the em glyphs are measured: fine enough that nobody sees the
// rounding, coarse enough for the fixed point numbers.
const unit = 1000

// width of a text at a size, both mm.
func (t *typeface) width(text string, size float64) float64 {
	var b sfnt.Buffer
	sum := fixed.Int26_6(0)
	for _, r := range text {
		g, err := t.font.GlyphIndex(&b, r)
		if err != nil {
			continue
		}
		if a, err := t.font.GlyphAdvance(&b, g, fixed.I(unit), font.HintingNone); err == nil {
			sum += a
		}
	}
	return float64(sum) / 64 / unit * size
}

// outline hands over the strokes of a row, in millimetres on the page.
func (r *row) outline(each func(op sfnt.SegmentOp, at [3][2]float64)) error {
	t, err := faceOf(r.bold)
	if err != nil {
		return err
	}
	var b sfnt.Buffer
	x, scale := r.x, r.size/unit/64
	for _, c := range r.text {
		g, err := t.font.GlyphIndex(&b, c)
		if err != nil {
			return err
		}
		segments, err := t.font.LoadGlyph(&b, g, fixed.I(unit), nil)
		if err != nil {
			return err
		}
		for _, s := range segments {
			var at [3][2]float64
			for i, p := range s.Args {
				at[i] = [2]float64{x + float64(p.X)*scale, r.y + float64(p.Y)*scale}
			}
			each(s.Op, at)
		}
		a, err := t.font.GlyphAdvance(&b, g, fixed.I(unit), font.HintingNone)
		if err != nil {
			return err
		}
		x += float64(a) * scale
	}
	return nil
}

// points is how many of a segment's points count; the last is where it ends.
func points(op sfnt.SegmentOp) int {
	switch op {
	case sfnt.SegmentOpQuadTo:
		return 2
	case sfnt.SegmentOpCubeTo:
		return 3
	}
	return 1
}

// writeSVG draws letters as their outlines, so that they look the same everywhere; the
// text itself stands in the title.
func (p *page) writeSVG(w io.Writer) error {
	var b, said strings.Builder
	num := func(x float64) string { return strconv.FormatFloat(math.Round(x*1e3)/1e3, 'f', -1, 64) }
	for _, r := range p.bars {
		fmt.Fprintf(&b, "M%s %sh%sv%sh%sz", num(r.x), num(r.y), num(r.width), num(r.height), num(-r.width))
	}
	for i := range p.rows {
		said.WriteString(p.rows[i].text + "\n")
		err := p.rows[i].outline(func(op sfnt.SegmentOp, at [3][2]float64) {
			b.WriteString([]string{"M", "L", "Q", "C"}[op])
			for k := range points(op) {
				fmt.Fprintf(&b, "%s %s ", num(at[k][0]), num(at[k][1]))
			}
		})
		if err != nil {
			return err
		}
	}
	escaped := strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;").Replace(strings.TrimSpace(said.String()))
	_, err := fmt.Fprintf(w, `<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="%[1]smm" height="%[2]smm" viewBox="0 0 %[1]s %[2]s" role="img"><title>%[3]s</title><path fill="#fff" d="M0 0h%[1]sv%[2]sH0z"/><path d="%[4]s"/></svg>`,
		num(p.width), num(p.height), escaped, strings.ReplaceAll(b.String(), " M", "M"))
	return err
}

// writePNG draws at [dotsPerMM], greys at the edges.
func (p *page) writePNG(w io.Writer) error {
	width, height := int(math.Round(p.width*dotsPerMM)), int(math.Round(p.height*dotsPerMM))
	img := image.NewGray(image.Rect(0, 0, width, height))
	draw.Draw(img, img.Bounds(), image.White, image.Point{}, draw.Src)
	z := vector.NewRasterizer(width, height)
	z.DrawOp = draw.Over
	at := func(v [2]float64) (x, y float32) { return float32(v[0] * dotsPerMM), float32(v[1] * dotsPerMM) }
	for _, r := range p.bars {
		x, y := at([2]float64{r.x, r.y})
		right, low := at([2]float64{r.x + r.width, r.y + r.height})
		z.MoveTo(x, y)
		z.LineTo(right, y)
		z.LineTo(right, low)
		z.LineTo(x, low)
		z.ClosePath()
	}
	for i := range p.rows {
		err := p.rows[i].outline(func(op sfnt.SegmentOp, v [3][2]float64) {
			x, y := at(v[0])
			switch op {
			case sfnt.SegmentOpMoveTo:
				z.ClosePath()
				z.MoveTo(x, y)
			case sfnt.SegmentOpLineTo:
				z.LineTo(x, y)
			case sfnt.SegmentOpQuadTo:
				x1, y1 := at(v[1])
				z.QuadTo(x, y, x1, y1)
			case sfnt.SegmentOpCubeTo:
				x1, y1 := at(v[1])
				x2, y2 := at(v[2])
				z.CubeTo(x, y, x1, y1, x2, y2)
			}
		})
		if err != nil {
			return err
		}
		z.ClosePath()
	}
	z.Draw(img, img.Bounds(), image.NewUniform(color.Black), image.Point{})
	return png.Encode(w, img)
}

// writePDF writes all pages, with the letters as text that can be searched.
func writePDF(w io.Writer, pages []*page) error {
	faces, err := typefaces()
	if err != nil {
		return err
	}
	doc := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: pages[0].width, Ht: pages[0].height}})
	doc.SetCatalogSort(true) // equal labels give equal bytes
	doc.SetCreationDate(time.Unix(0, 0).UTC())
	doc.SetModificationDate(time.Unix(0, 0).UTC())
	doc.SetMargins(0, 0, 0)
	doc.SetAutoPageBreak(false, 0)
	doc.AddUTF8FontFromBytes("label", "", faces[0].ttf)
	doc.AddUTF8FontFromBytes("label", "B", faces[1].ttf)
	doc.SetFillColor(0, 0, 0)
	for _, p := range pages {
		doc.AddPageFormat("P", fpdf.SizeType{Wd: p.width, Ht: p.height})
		for _, r := range p.bars {
			doc.Rect(r.x, r.y, r.width, r.height, "F")
		}
		for _, r := range p.rows {
			style := ""
			if r.bold {
				style = "B"
			}
			doc.SetFont("label", style, r.size*pointsPerMM)
			doc.Text(r.x, r.y, r.text)
		}
	}
	return doc.Output(w)
}
