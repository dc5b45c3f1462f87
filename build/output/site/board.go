package site

import (
	"encoding/json"
	"fmt"
	"html"
	"html/template"
	"math"
	"net/url"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"

	"benchlore/build/notebook"
	"benchlore/build/output/picture"
	"benchlore/build/output/wording"
	"benchlore/build/reason/boards"
	"benchlore/build/reason/pins"
	"benchlore/build/reason/rails"
	"benchlore/build/reason/verdict"
	"benchlore/schema/board"
)

func boardPath(d *notebook.Device, b *notebook.Board) string {
	return "boards/" + d.ID + "/" + b.Slug + ".html"
}

// boardRef is the address of a part on its board's drawing.
func boardRef(d *notebook.Device, b *notebook.Board, ref string) string {
	return boardPath(d, b) + "#ref=" + strings.ReplaceAll(url.QueryEscape(ref), "+", "%20")
}

type boardCase struct{ ID, Title, Href, Refs string }

type boardPage struct {
	Frame              frame
	Heading            string
	Device, DeviceHref string
	Facts              []fact
	Sides              []sideView
	Supplies           []fact
	Cases              []boardCase
	Data               string
	Photos             []boardPhoto
	Rails              []railView
	RailLine           template.HTML
	Pins               []pinTable
	Guessed            bool // the edge was not known
}

type sideView struct {
	ID, Name string
	SVG      template.HTML
}

// boardPhoto is a picture of a side, drawn anew so that it lies under the drawing.
type boardPhoto struct {
	ID, Side, Caption, Href, Fit string
	Case, CaseHref               string
	Width, Height                int // pixels
}

// flatLongest is the longer side of such a picture, in pixels.
const flatLongest = 1600

// found is what the pictures and readings of a device tell of its boards.
type found struct {
	photos map[*notebook.Board][]boards.Photo
	pins   map[*notebook.Board][]pins.Table
}

// foundOf works out what is found of a device's boards, once: its pictures are read whole
// and laid onto the boards.
func (s *site) foundOf(d *notebook.Device) found {
	once, _ := s.found.LoadOrStore(d, sync.OnceValue(func() found {
		f := found{map[*notebook.Board][]boards.Photo{}, map[*notebook.Board][]pins.Table{}}
		photos, _ := boards.Photos(s.n, d)
		for _, p := range photos {
			f.photos[p.Board] = append(f.photos[p.Board], p)
		}
		for _, b := range d.Boards {
			f.pins[b] = pins.Tables(s.n, s.judge, d, b)
		}
		return f
	}))
	return once.(func() found)()
}

// boardPhotos lists the pictures that lie on a board, and the jobs that draw them.
func (s *site) boardPhotos(d *notebook.Device, b *notebook.Board) (list []boardPhoto, jobs []job) {
	const root = "../../"
	f := newFrameOf(b.Board)
	w, h := f.size()
	for i, p := range s.foundOf(d).photos[b] {
		id := strconv.Itoa(i + 1)
		scale := min(flatLongest, max(p.Fit.Size[0], p.Fit.Size[1])) / max(w, h) // no larger than what was taken
		width, height := int(math.Round(w*scale)), int(math.Round(h*scale))
		v := boardPhoto{ID: id, Side: p.Side.String(), Caption: p.Caption, Href: b.Slug + "-" + id + ".jpg", Width: width, Height: height}
		v.Fit = s.t("Laid onto the drawing by %s points, which fit within %s mm.", strconv.Itoa(len(p.Points)-len(p.Fit.Left)), num2(max(0.01, p.Fit.RMS)))
		if !p.Fit.Checked {
			v.Fit = s.t("Laid onto the drawing by four points; only a fifth could show whether they are right.")
		}
		for _, k := range p.Fit.Left {
			v.Fit += " " + s.t("%s does not go with the others and was left out.", p.Points[k].Name)
		}
		if p.Case != nil {
			v.Case, v.CaseHref = p.Case.ID(), root+casePath(p.Case)
		}
		list = append(list, v)
		jobs = append(jobs, job{"boards/" + d.ID + "/" + v.Href, func() (digest, func() ([]byte, error), error) {
			in, err := os.OpenRoot(s.n.Dir)
			if err != nil {
				return digest{}, nil, err
			}
			defer in.Close()
			whole := s.photoKey(in, p.Path)
			fit, err := json.Marshal([]any{p.Fit, f.low, f.high, width, height})
			if err != nil {
				return digest{}, nil, err
			}
			return s.key("flat", whole[:], fit), func() ([]byte, error) {
				in, err := os.OpenRoot(s.n.Dir)
				if err != nil {
					return nil, err
				}
				defer in.Close()
				data, err := picture.Read(in, p.Path)
				if err != nil {
					return nil, err
				}
				return picture.Flat(data, width, height, func(x, y float64) (u, v float64, ok bool) {
					mm := f.from(x*w, y*h, p.Side)
					u, v = p.Fit.Photo(mm.X, mm.Y)
					return u, v, true
				})
			}, nil
		}})
	}
	return list, jobs
}

// boardJobs are a board's page and the data that its script reads.
func (s *site) boardJobs(d *notebook.Device, b *notebook.Board) []job {
	photos, flat := s.boardPhotos(d, b)
	tree, read := rails.Of(d, b), s.foundOf(d).pins[b]
	shown, _ := json.Marshal([]any{photos, tree, read})
	touched := boards.Touched(s.n, b, d.ID)
	seen, _ := json.Marshal(touched)
	key := s.key("board", b.Hash[:], []byte(b.Name), []byte(d.ID), []byte(d.Name(s.n.Terms)), seen, shown)
	return append(flat, []job{
		{boardPath(d, b), func() (digest, func() ([]byte, error), error) {
			return key, func() ([]byte, error) { return s.render("board", s.boardPage(d, b, touched, photos, tree, read)) }, nil
		}},
		{"boards/" + d.ID + "/" + b.Slug + ".js", func() (digest, func() ([]byte, error), error) {
			return key, func() ([]byte, error) { return s.boardData(d, b, touched, read) }, nil
		}},
	}...)
}

func (s *site) boardPage(d *notebook.Device, b *notebook.Board, touched map[string][]boards.Touch, photos []boardPhoto,
	tree rails.Tree, read []pins.Table) boardPage {
	const root = "../../"
	name := d.Name(s.n.Terms)
	p := boardPage{Frame: s.frame(root, b.Name+", "+name), Heading: b.Name, Device: name, DeviceHref: root + "devices/" + d.ID + ".html",
		Data: b.Slug + ".js", Guessed: !b.Drawn, Photos: photos, Rails: s.railViews(tree),
		RailLine: s.railLine(tree), Pins: s.pinTables(read)}
	f := newFrameOf(b.Board)
	count := [2]int{}
	for i := range b.Parts {
		count[b.Parts[i].Side&1]++
	}
	p.Facts = []fact{{Name: s.t("Parts"), Text: s.t("%d on top, %d below", count[0], count[1])},
		{Name: s.t("Size"), Text: s.t("%.1f × %.1f mm", f.high.X-f.low.X, f.high.Y-f.low.Y)}}
	if b.Wired() {
		p.Facts = append(p.Facts, fact{Name: s.t("Nets"), Text: strconv.Itoa(len(b.Nets))})
	}
	for i := range b.Nets {
		if sum := b.Decoupling(&b.Nets[i]); b.Nets[i].Kind == board.Supply && sum.Count > 0 {
			p.Supplies = append(p.Supplies,
				fact{Name: b.Nets[i].Name, Text: s.t("%s in %s", sum.Total, s.count(sum.Count, "%d capacitor", "%d capacitors"))})
		}
	}
	for _, side := range []board.Side{board.Top, board.Bottom} {
		if side == board.Bottom && count[1] == 0 {
			continue
		}
		p.Sides = append(p.Sides, sideView{side.String(), s.t(sideNames[side]), f.draw(s.texts, b, side)})
	}
	refs := map[string][]string{}
	for ref, list := range touched {
		for _, t := range list {
			if !slices.Contains(refs[t.Case], ref) {
				refs[t.Case] = append(refs[t.Case], ref)
			}
		}
	}
	for _, c := range s.n.Cases {
		if list := refs[c.ID()]; len(list) > 0 {
			slices.Sort(list)
			p.Cases = append(p.Cases, boardCase{c.ID(), s.item(root, c).Title, root + casePath(c), strings.Join(list, ", ")})
		}
	}
	return p
}

// boardFrame turns a board's millimetres into those of a drawing: y down, and
// the bottom mirrored, as it is seen when the board is turned over.
type boardFrame struct{ low, high board.Point }

// edgeMargin is the white around a drawing, mm.
const edgeMargin = 2

func newFrameOf(b *board.Board) boardFrame {
	f := boardFrame{board.Point{X: math.Inf(1), Y: math.Inf(1)}, board.Point{X: math.Inf(-1), Y: math.Inf(-1)}}
	take := func(p board.Point) {
		f.low = board.Point{X: min(f.low.X, p.X), Y: min(f.low.Y, p.Y)}
		f.high = board.Point{X: max(f.high.X, p.X), Y: max(f.high.Y, p.Y)}
	}
	for _, p := range b.Outline {
		take(p)
	}
	for i := range b.Parts { // some stand over the edge, and all must be seen
		for _, c := range b.Parts[i].Corners() {
			take(c)
		}
	}
	return f
}

func (f boardFrame) at(p board.Point, side board.Side) (x, y float64) {
	x, y = p.X-f.low.X+edgeMargin, f.high.Y-p.Y+edgeMargin
	if side == board.Bottom {
		x = f.high.X - p.X + edgeMargin
	}
	return x, y
}

// from is the way back: the place of the board under one of the drawing.
func (f boardFrame) from(x, y float64, side board.Side) board.Point {
	p := board.Point{X: f.low.X + x - edgeMargin, Y: f.high.Y - y + edgeMargin}
	if side == board.Bottom {
		p.X = f.high.X - x + edgeMargin
	}
	return p
}

func (f boardFrame) size() (w, h float64) {
	return f.high.X - f.low.X + 2*edgeMargin, f.high.Y - f.low.Y + 2*edgeMargin
}

// path is the closed line through places of the board.
func (f boardFrame) path(through []board.Point, side board.Side) string {
	var b strings.Builder
	for i, p := range through {
		x, y := f.at(p, side)
		b.WriteByte("ML"[min(i, 1)])
		b.WriteString(num2(x) + " " + num2(y))
	}
	b.WriteByte('Z')
	return b.String()
}

// nameSizes are the letter heights of designators, mm; a group of each lets the
// page leave out what would be too small to read.
var nameSizes = []float64{0.3, 0.5, 0.9, 1.6, 3}

// patches is into how many strips a drawing is cut each way.
const patches = 16

// draw makes one side: the edge, the bodies as one path, and the designators.
func (f boardFrame) draw(texts *wording.Texts, b *notebook.Board, side board.Side) template.HTML {
	w, h := f.size()
	// A path for each patch of the board: a browser draws in tiles, and goes
	// through a whole path for each tile that it touches.
	patch := max(w, h) / patches
	bodies, firsts := make([]strings.Builder, (patches+1)*(patches+1)), make([]strings.Builder, (patches+1)*(patches+1))
	names := make([]strings.Builder, len(nameSizes))
	count := 0
	for i := range b.Parts {
		p := &b.Parts[i]
		if p.Side != side {
			continue
		}
		count++
		corners := p.Corners()
		x, y := f.at(board.Point{X: p.X, Y: p.Y}, side)
		at := int(y/patch)*(patches+1) + int(x/patch)
		bodies[at].WriteString(f.path(corners[:], side))
		if len(p.Pins) > 2 {
			x, y := f.at(board.Point{X: p.Pins[0].X, Y: p.Pins[0].Y}, side)
			firsts[at].WriteString("M" + num2(x-0.2) + " " + num2(y) + "h.4")
		}
		low, high := corners[0], corners[0]
		for _, c := range corners {
			low, high = board.Point{X: min(low.X, c.X), Y: min(low.Y, c.Y)}, board.Point{X: max(high.X, c.X), Y: max(high.Y, c.Y)}
		}
		fits := min(0.8*(high.Y-low.Y), (high.X-low.X)/(0.62*float64(len(p.Ref))))
		size := 0
		for size+1 < len(nameSizes) && nameSizes[size+1] <= fits {
			size++
		}
		names[size].WriteString(`<text x="` + num2(x) + `" y="` + num2(y+0.35*nameSizes[size]) + `">` +
			html.EscapeString(p.Ref) + `</text>`)
	}
	var out strings.Builder
	label := texts.Say("%s of %s with %s", texts.Say(sideNames[side]), b.Name, texts.Count(count, "%d part", "%d parts"))
	fmt.Fprintf(&out, `<svg class="board" data-side="%s" role="img" aria-label="%s" viewBox="0 0 %s %s"><path class="edge" d="%s"></path>`,
		side, html.EscapeString(label), num2(w), num2(h), f.path(b.Outline, side))
	for i := range bodies {
		if bodies[i].Len() > 0 {
			out.WriteString(`<path class="bodies" d="` + bodies[i].String() + `"></path>`)
		}
		if firsts[i].Len() > 0 {
			out.WriteString(`<path class="first" d="` + firsts[i].String() + `"></path>`)
		}
	}
	for i := range names {
		if names[i].Len() > 0 {
			fmt.Fprintf(&out, `<g class="names" data-size="%s" font-size="%s">%s</g>`, num2(nameSizes[i]),
				num2(nameSizes[i]), names[i].String())
		}
	}
	out.WriteString(`</svg>`)
	return template.HTML(out.String())
}

// boardData is what the drawing's script knows. Texts that many parts share
// stand once, in words.
func (s *site) boardData(d *notebook.Device, b *notebook.Board, touched map[string][]boards.Touch,
	read []pins.Table) ([]byte, error) {
	words := []string{""}
	index := map[string]int{"": 0}
	word := func(t string) int {
		i, ok := index[t]
		if !ok {
			i = len(words)
			index[t] = i
			words = append(words, t)
		}
		return i
	}
	round := func(v float64) float64 { return math.Round(v*1000) / 1000 }
	type net struct {
		Name string `json:"n"`
		Kind string `json:"k"`
	}
	data := struct {
		Device string    `json:"device"`
		Low    []float64 `json:"low"`
		High   []float64 `json:"high"`
		Words  []string  `json:"words"`
		Nets   []net     `json:"nets"`
		// Parts are rows: designator, x, y, rotation, side, length, width, value,
		// package, role, what is lost without it, important, pins as net, x, y.
		Parts [][]any `json:"parts"`
		// Cases lists what each case touched: part and what was done.
		Cases map[string][][2]any `json:"cases"`
		// Pins are where something was read: designator, x, y, odd.
		Pins [][]any `json:"pins"`
	}{Device: d.ID, Cases: map[string][][2]any{}, Nets: []net{}, Parts: [][]any{}, Pins: [][]any{}}
	f := newFrameOf(b.Board)
	data.Low, data.High = []float64{round(f.low.X), round(f.low.Y)}, []float64{round(f.high.X), round(f.high.Y)}
	for i := range b.Nets {
		data.Nets = append(data.Nets, net{b.Nets[i].Name, string(b.Nets[i].Kind)})
	}
	for i := range b.Parts {
		p := &b.Parts[i]
		does, without := verdict.LossWords(s.t, b.Board, p, false)
		if does == "" {
			does = string(b.Role(p))
		}
		pins := []float64{}
		for _, pin := range p.Pins {
			pins = append(pins, float64(pin.Net), round(pin.X), round(pin.Y))
		}
		important := 0
		if b.Important(p) {
			important = 1
		}
		data.Parts = append(data.Parts, []any{p.Ref, round(p.X), round(p.Y), round(p.Rotation), p.Side, round(p.Size[0]), round(p.Size[1]),
			word(p.Value), word(p.Package), word(does), word(without), important, pins})
		for _, t := range touched[p.Ref] {
			data.Cases[t.Case] = append(data.Cases[t.Case], [2]any{i, t.Action})
		}
	}
	for _, t := range read {
		for _, r := range t.Rows {
			odd := 0
			if r.Odd {
				odd = 1
			}
			data.Pins = append(data.Pins, []any{t.Ref, round(r.At[0]), round(r.At[1]), odd})
		}
	}
	data.Words = words
	return script("benchloreBoard", data)
}

var sideNames = map[board.Side]string{board.Top: "Top side", board.Bottom: "Bottom side, seen from below"}
