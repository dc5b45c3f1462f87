// Command boardpicture draws a picture of a board from its parts list and netlist as a
// camera on a bench would see it: at an angle, through a lens that bends a little, in
// light from one side. The example notebook's board pictures are made with it; each is
// said to be drawn. It prints the points that lay the picture onto the board, as YAML.
//
//	go run ./cmd/boardpicture --parts b.csv --netlist b.ipc --side top --out top.jpg \
//	    --points J1,U4,C12,J9 [--without C341,R5] [--stain J9] [--warm C23] [--turn 3]
package main

import (
	"errors"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"

	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"

	"benchlore/schema/board"
	"benchlore/schema/diagnostic"
)

func main() {
	parts := flag.String("parts", "", "parts list, CSV")
	netlist := flag.String("netlist", "", "netlist, IPC-D-356A")
	side := flag.String("side", "top", "top or bottom")
	out := flag.String("out", "", "the picture to write, JPEG")
	points := flag.String("points", "", "designators, or x;y in millimetres, whose places are printed")
	without := flag.String("without", "", "designators whose part is gone, its pads bare")
	stain := flag.String("stain", "", "designator around which the board is corroded")
	warm := flag.String("warm", "", "designator that is the warmest: the picture is that of a thermal camera")
	turn := flag.Float64("turn", 3, "degrees by which the board lies askew")
	width := flag.Int("width", 1200, "pixels")
	flag.Parse()
	if err := run(*parts, *netlist, *side, *out, list(*points), list(*without), *stain, *warm, *turn, *width); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func list(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ' ' })
}

func run(parts, netlist, side, out string, points, without []string, stain, warm string, turn float64, width int) error {
	if parts == "" || out == "" {
		return errors.New("--parts and --out are needed")
	}
	src, err := os.ReadFile(parts)
	if err != nil {
		return err
	}
	rows, problems := board.ReadParts(parts, src, board.PartsOptions{})
	var nets *board.Netlist
	if netlist != "" {
		if src, err = os.ReadFile(netlist); err != nil {
			return err
		}
		var more []diagnostic.Diagnostic
		nets, more = board.ReadNetlist(netlist, src)
		problems = append(problems, more...)
	}
	if diagnostic.Count(problems, diagnostic.Error) > 0 {
		return fmt.Errorf("the board's files have errors; first: %s", problems[0].Message)
	}
	b, _ := board.New(rows, nets, netlist)
	s := newScene(b, side == "bottom", turn, width)
	s.without = without
	if p, ok := b.Part(stain); ok {
		s.stain = &board.Point{X: p.X, Y: p.Y}
	}
	if p, ok := b.Part(warm); ok {
		s.warm = &board.Point{X: p.X, Y: p.Y}
	}
	f, err := os.Create(out)
	if err != nil {
		return err
	}
	if err := errors.Join(jpeg.Encode(f, s.picture(), &jpeg.Options{Quality: 62}), f.Close()); err != nil {
		return err
	}
	for _, ref := range points {
		var x, y float64
		if p, ok := b.Part(ref); ok {
			x, y = p.X, p.Y
		} else if n, err := fmt.Sscanf(ref, "%g;%g", &x, &y); n != 2 || err != nil {
			return fmt.Errorf("the board has no %s", ref)
		}
		u, v := s.seen(x, y)
		fmt.Printf("      - {at: %s, x: %.4f, y: %.4f}\n", ref, u/float64(s.width), v/float64(s.height))
	}
	return nil
}

// scene is a board before a camera.
type scene struct {
	b             *board.Board
	bottom        bool
	width, height int
	low, high     board.Point
	matrix, back  [9]float64 // millimetres to pixels and back, before the lens
	without       []string
	stain, warm   *board.Point
	silk          *image.Alpha // names, a tenth of a millimetre for each of its pixels
	grid          map[[2]int][]*board.Part
}

const (
	bend    = -0.035
	silkPer = 10.0 // pixels of a millimetre
	cell    = 5.0  // mm
)

func newScene(b *board.Board, bottom bool, turn float64, width int) *scene {
	s := &scene{b: b, bottom: bottom, width: width, low: b.Outline[0], high: b.Outline[0], grid: map[[2]int][]*board.Part{}}
	for _, p := range b.Outline {
		s.low = board.Point{X: min(s.low.X, p.X), Y: min(s.low.Y, p.Y)}
		s.high = board.Point{X: max(s.high.X, p.X), Y: max(s.high.Y, p.Y)}
	}
	w, h := s.high.X-s.low.X, s.high.Y-s.low.Y
	s.height = int(float64(width) * (h + 16) / (w + 16))
	scale := float64(width) / (w + 16)
	angle := turn * math.Pi / 180
	sin, cos := math.Sin(angle), math.Cos(angle)
	mirror := 1.0
	if bottom {
		mirror = -1
	}
	cx, cy := (s.low.X+s.high.X)/2, (s.low.Y+s.high.Y)/2
	// To the middle, mirrored for the bottom, y downwards, turned, and farther away at
	// the top: a homography.
	a := scale * 0.95
	m := [9]float64{a * mirror * cos, a * sin, 0, a * mirror * sin, -a * cos, 0, 0.0006 * mirror * w / 200, 0.0012 * h / 150, 1}
	toMiddle := [9]float64{1, 0, -cx, 0, 1, -cy, 0, 0, 1}
	toPhoto := [9]float64{1, 0, float64(s.width) / 2, 0, 1, float64(s.height) / 2, 0, 0, 1}
	s.matrix = times(toPhoto, times(m, toMiddle))
	s.back = inverse(s.matrix)
	for i := range b.Parts {
		p := &b.Parts[i]
		if (p.Side == board.Bottom) != bottom {
			continue
		}
		lo, hi := p.Corners()[0], p.Corners()[0]
		for _, c := range p.Corners() {
			lo, hi = board.Point{X: min(lo.X, c.X), Y: min(lo.Y, c.Y)}, board.Point{X: max(hi.X, c.X), Y: max(hi.Y, c.Y)}
		}
		for _, pin := range p.Pins {
			lo, hi = board.Point{X: min(lo.X, pin.X), Y: min(lo.Y, pin.Y)}, board.Point{X: max(hi.X, pin.X), Y: max(hi.Y, pin.Y)}
		}
		for x := math.Floor((lo.X - 1) / cell); x <= (hi.X+1)/cell; x++ {
			for y := math.Floor((lo.Y - 1) / cell); y <= (hi.Y+1)/cell; y++ {
				s.grid[[2]int{int(x), int(y)}] = append(s.grid[[2]int{int(x), int(y)}], p)
			}
		}
	}
	s.letter()
	return s
}

// letter prints the designators beside their parts.
func (s *scene) letter() {
	s.silk = image.NewAlpha(image.Rect(0, 0, int((s.high.X-s.low.X)*silkPer), int((s.high.Y-s.low.Y)*silkPer)))
	for i := range s.b.Parts {
		p := &s.b.Parts[i]
		if (p.Side == board.Bottom) != s.bottom {
			continue
		}
		x, y := (p.X-s.low.X)*silkPer, (s.high.Y-p.Y)*silkPer
		if s.bottom {
			x = (s.high.X - p.X) * silkPer
		}
		low := 0.0
		for _, c := range p.Corners() {
			low = max(low, p.Y-c.Y)
		}
		d := font.Drawer{Dst: s.silk, Src: image.NewUniform(color.Alpha{0xFF}), Face: basicfont.Face7x13,
			Dot: fixed.P(int(x)-7*len(p.Ref)/2, int(y+low*silkPer)+13)}
		d.DrawString(p.Ref)
	}
}

func (s *scene) seen(x, y float64) (u, v float64) {
	u, v = project(s.matrix, x, y)
	cx, cy := float64(s.width)/2, float64(s.height)/2
	half := math.Hypot(cx, cy)
	dx, dy := u-cx, v-cy
	k := 1 + bend*(dx*dx+dy*dy)/(half*half)
	return cx + dx*k, cy + dy*k
}

// under is the place of the board that a pixel shows.
func (s *scene) under(u, v float64) (x, y float64) {
	cx, cy := float64(s.width)/2, float64(s.height)/2
	half := math.Hypot(cx, cy)
	dx, dy := u-cx, v-cy
	px, py := dx, dy
	for range 6 { // the bend is small, so repeating comes to rest
		k := 1 + bend*(px*px+py*py)/(half*half)
		px, py = dx/k, dy/k
	}
	return project(s.back, cx+px, cy+py)
}

func (s *scene) picture() image.Image {
	out := image.NewRGBA(image.Rect(0, 0, s.width, s.height))
	draw.Draw(out, out.Bounds(), image.NewUniform(color.RGBA{0x6b, 0x5b, 0x4b, 0xFF}), image.Point{}, draw.Src)
	r := rand.New(rand.NewPCG(356, 1))
	for j := range s.height {
		for i := range s.width {
			var sum [3]float64
			for k := range 4 { // four looks in each pixel, against steps
				x, y := s.under(float64(i)+0.25+0.5*float64(k%2), float64(j)+0.25+0.5*float64(k/2))
				c := s.colour(x, y)
				for n := range sum {
					sum[n] += c[n] / 4
				}
			}
			light := 1.08 - 0.22*float64(i)/float64(s.width) - 0.1*float64(j)/float64(s.height) + 0.012*r.NormFloat64()
			out.SetRGBA(i, j, color.RGBA{byteOf(sum[0] * light), byteOf(sum[1] * light), byteOf(sum[2] * light), 0xFF})
		}
	}
	return out
}

func byteOf(v float64) uint8 { return uint8(min(max(v, 0), 255)) }

type rgb [3]float64

var (
	bench  = rgb{112, 98, 84}
	mask   = rgb{28, 92, 62}
	ink    = rgb{226, 230, 222}
	tin    = rgb{196, 196, 188}
	copper = rgb{186, 122, 72}
	grime  = rgb{118, 150, 120}
)

// bodies are the colours of parts by the first letters of their designators.
var bodies = map[string]rgb{"C": {176, 142, 102}, "R": {34, 34, 38}, "L": {72, 72, 76}, "FB": {92, 88, 84}, "F": {88, 104, 66},
	"U": {30, 31, 34}, "Q": {36, 37, 40}, "D": {40, 38, 40}, "J": {222, 214, 192}, "T": {44, 46, 52}, "X": {190, 190, 194},
	"Y": {190, 190, 194}, "K": {36, 54, 96}, "TP": {196, 196, 188}, "SH": {168, 172, 170}, "S": {40, 40, 42}}

func (s *scene) colour(x, y float64) rgb {
	if !s.inside(x, y) {
		return bench
	}
	c := mask
	// Tracks: a weave, lighter where copper lies under the mask.
	if math.Mod(x+0.37*y+1000, 4) < 0.5 || math.Mod(y-0.21*x+1000, 5) < 0.4 {
		c = rgb{36, 108, 74}
	}
	sx, sy := int((x-s.low.X)*silkPer), int((s.high.Y-y)*silkPer)
	if s.bottom {
		sx = int((s.high.X - x) * silkPer)
	}
	if a := float64(s.silk.AlphaAt(sx, sy).A) / 255; a > 0 {
		c = mix(c, ink, a)
	}
	var lid *board.Part // lies over all others
	for _, p := range s.grid[[2]int{int(math.Floor(x / cell)), int(math.Floor(y / cell))}] {
		if strings.HasPrefix(p.Ref, "SH") {
			lid = p
			continue
		}
		c = s.part(p, x, y, c)
	}
	if lid != nil {
		c = s.part(lid, x, y, c)
	}
	if s.warm != nil {
		return s.thermal(x, y, c)
	}
	if s.stain != nil {
		far := math.Hypot(x-s.stain.X, y-s.stain.Y)
		rough := 4 + 1.5*math.Sin(3*math.Atan2(y-s.stain.Y, x-s.stain.X)) + 0.6*math.Sin(5*x)*math.Sin(4*y)
		if far < rough {
			c = mix(c, grime, 0.75*(1-far/rough)+0.15)
		}
	}
	return c
}

// heat are the colours of a thermal picture from cool to warm.
var heat = []rgb{{18, 18, 46}, {58, 28, 104}, {128, 36, 110}, {206, 74, 62}, {244, 150, 40}, {254, 232, 150}}

// thermal is the colour of a place by its warmth, which falls off around the warm part;
// parts stand out a little, as they do to such a camera.
func (s *scene) thermal(x, y float64, c rgb) rgb {
	far := math.Hypot(x-s.warm.X, y-s.warm.Y)
	level := 0.12 + 0.1*(c[0]+c[1]+c[2])/765 + 0.75*math.Exp(-far*far/8) + 0.16*math.Exp(-far/9)
	at := min(max(level, 0), 1) * float64(len(heat)-1)
	i := min(int(at), len(heat)-2)
	return mix(heat[i], heat[i+1], at-float64(i))
}

// inside counts the edges of the outline to the right of a place.
func (s *scene) inside(x, y float64) bool {
	in := false
	for i, p := range s.b.Outline {
		q := s.b.Outline[(i+1)%len(s.b.Outline)]
		if (p.Y > y) != (q.Y > y) && x < p.X+(y-p.Y)*(q.X-p.X)/(q.Y-p.Y) {
			in = !in
		}
	}
	return in
}

func mix(a, b rgb, share float64) (c rgb) {
	for i := range c {
		c[i] = a[i]*(1-share) + b[i]*share
	}
	return c
}

func (s *scene) part(p *board.Part, x, y float64, c rgb) rgb {
	gone := slices.Contains(s.without, p.Ref)
	pad := 0.35
	if len(p.Pins) == 2 {
		pad = min(max(0.3, 0.3*math.Min(p.Size[0], p.Size[1])+0.25), 1.2)
	}
	for _, pin := range p.Pins {
		if math.Abs(x-pin.X) < pad && math.Abs(y-pin.Y) < pad {
			c = tin
			if gone {
				c = copper
			}
		}
	}
	if gone {
		return c
	}
	a := p.Rotation * math.Pi / 180
	dx, dy := x-p.X, y-p.Y
	lx, ly := dx*math.Cos(a)+dy*math.Sin(a), dy*math.Cos(a)-dx*math.Sin(a)
	hx, hy := max(p.Size[0], 0.6)/2, max(p.Size[1], 0.6)/2
	if math.Abs(lx) > hx || math.Abs(ly) > hy {
		return c
	}
	letters := strings.TrimRight(p.Ref, "0123456789")
	body, ok := bodies[letters]
	if !ok {
		body = rgb{60, 60, 64}
	}
	round := letters == "C" && hx > 3 && math.Abs(hx-hy) < 0.5
	switch {
	case round: // an electrolytic can from above
		far := math.Hypot(lx, ly) / hx
		if far > 1 {
			return c
		}
		body = rgb{44, 50, 70}
		if far < 0.86 {
			body = rgb{176, 180, 186}
		}
		if math.Abs(lx) < 0.12*hx && far < 0.7 || math.Abs(ly) < 0.12*hx && far < 0.7 {
			body = rgb{140, 144, 150}
		}
	case hx < 4 && (letters == "R" || letters == "C" || letters == "FB" || letters == "F" || letters == "L") && math.Abs(lx) > 0.62*hx:
		return tin // the ends of a chip part
	case (letters == "U" || letters == "Q") && math.Hypot(lx+0.75*hx, ly-0.75*hy) < 0.12*math.Min(hx, hy):
		return rgb{120, 120, 122} // where pin 1 is
	case letters == "J" && math.Abs(lx) < 0.9*hx && math.Abs(ly) < 0.55*hy && math.Mod(lx+100, 1) < 0.45:
		return rgb{150, 136, 92} // contacts
	}
	// An edge catches the light on one side and throws a shadow on the other.
	edge := math.Min(hx-math.Abs(lx), hy-math.Abs(ly))
	if edge < 0.18 && !round {
		return mix(body, rgb{255, 255, 255}, 0.18)
	}
	return body
}

func project(m [9]float64, x, y float64) (u, v float64) {
	w := m[6]*x + m[7]*y + m[8]
	return (m[0]*x + m[1]*y + m[2]) / w, (m[3]*x + m[4]*y + m[5]) / w
}

func times(a, b [9]float64) (c [9]float64) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				c[3*i+j] += a[3*i+k] * b[3*k+j]
			}
		}
	}
	return c
}

func inverse(m [9]float64) (out [9]float64) {
	c := [9]float64{
		m[4]*m[8] - m[5]*m[7], m[2]*m[7] - m[1]*m[8], m[1]*m[5] - m[2]*m[4],
		m[5]*m[6] - m[3]*m[8], m[0]*m[8] - m[2]*m[6], m[2]*m[3] - m[0]*m[5],
		m[3]*m[7] - m[4]*m[6], m[1]*m[6] - m[0]*m[7], m[0]*m[4] - m[1]*m[3],
	}
	det := m[0]*c[0] + m[1]*c[3] + m[2]*c[6]
	for i := range c {
		out[i] = c[i] / det
	}
	return out
}
