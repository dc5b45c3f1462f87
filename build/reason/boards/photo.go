package boards

import (
	"fmt"
	"os"
	"path"
	"regexp"
	"strconv"
	"strings"

	"benchlore/build/notebook"
	"benchlore/build/output/picture"
	"benchlore/build/reason/registration"
	"benchlore/schema/board"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
)

// Photo is a picture of one side of a board that is laid onto the board.
type Photo struct {
	Path    string // inside the notebook
	Caption string
	Case    *notebook.Case // that it belongs to; nil where it is the device's
	Board   *notebook.Board
	Side    board.Side
	Points  []registration.Point
	Fit     *registration.Fit
}

// Photos gives the pictures of a device's boards that are laid onto them, the device's
// own first and then those of its cases, oldest first; and what is wrong with any.
func Photos(n *notebook.Notebook, d *notebook.Device) (list []Photo, problems []diagnostic.Diagnostic) {
	if len(d.Boards) == 0 {
		return nil, nil
	}
	root, err := os.OpenRoot(n.Dir)
	if err != nil {
		return nil, nil // whoever loaded the notebook has said so
	}
	defer root.Close()
	take := func(p Photo, side string, points []casefile.PhotoPoint, say func(message string, at ...string)) {
		if len(points) == 0 {
			return
		}
		data, err := picture.Read(root, p.Path)
		if err != nil {
			return // a missing picture is named elsewhere
		}
		laid, said, ok := Lay(p.Board, side, points, data)
		for _, w := range said {
			say(w.Message, w.At...)
		}
		if ok {
			p.Side, p.Points, p.Fit = laid.Side, laid.Points, laid.Fit
			list = append(list, p)
		}
	}
	if d.Record != nil {
		for i := range d.Record.Device.Photos {
			v := &d.Record.Device.Photos[i]
			say := func(message string, at ...string) {
				problems = append(problems, d.Record.Say(diagnostic.Warning, diagnostic.BoardPhoto, message,
					append([]string{"photos", strconv.Itoa(i)}, at...)...))
			}
			b, ok := d.Board(v.Board)
			if !ok {
				if len(v.Points) > 0 {
					say("which board it shows is not known; add board: as the device's boards are written", "points")
				}
				continue
			}
			take(Photo{Path: path.Join("devices", d.ID, v.File), Caption: v.Caption, Board: b}, v.Side, v.Points, say)
		}
	}
	for _, c := range n.Cases {
		if c.Device != d {
			continue
		}
		for i := range c.File.Case.Photos {
			v := &c.File.Case.Photos[i]
			say := func(message string, at ...string) {
				problems = append(problems, c.Say(diagnostic.Warning, diagnostic.BoardPhoto, message,
					append([]string{"photos", strconv.Itoa(i)}, at...)...))
			}
			b, ok := c.Board()
			if !ok || strings.ContainsAny(v.File, "/\\") {
				continue
			}
			take(Photo{Path: path.Join(c.PhotoDir(), v.File), Caption: v.Caption, Case: c, Board: b}, v.Side, v.Points, say)
		}
	}
	return list, problems
}

// Said is what is wrong with a picture's points, and at which of its keys.
type Said struct {
	Message string
	At      []string
}

// Lay lays a picture onto a board by its points; ok is false where it cannot be, and said
// tells why, or which of the points do not go with the others.
func Lay(b *notebook.Board, side string, points []casefile.PhotoPoint, data []byte) (p Photo, said []Said, ok bool) {
	say := func(message string, at ...string) { said = append(said, Said{message, at}) }
	p.Board = b
	switch side {
	case board.Top.String():
		p.Side = board.Top
	case board.Bottom.String():
		p.Side = board.Bottom
	default:
		say("the picture has points but does not say which side of the board it shows; add side: top or bottom", "points")
		return p, said, false
	}
	for i, q := range points {
		mm, err := locate(b.Board, q.At)
		if err != nil {
			say(err.Error(), "points", strconv.Itoa(i), "at")
			return p, said, false
		}
		p.Points = append(p.Points, registration.Point{Name: q.At, MM: mm, Mark: [2]float64{q.X, q.Y}})
	}
	w, h, err := picture.Size(data)
	if err != nil {
		say("the picture cannot be measured: "+err.Error(), "file")
		return p, said, false
	}
	if p.Fit, err = registration.New(p.Points, w, h); err != nil {
		say("the picture is not laid onto the board: "+err.Error(), "points")
		return p, said, false
	}
	if p.Fit.Mirrored(p.Side == board.Bottom) {
		say(fmt.Sprintf("the points show the board mirrored, so they are of its other side; is this the %s?", p.Side), "side")
		return p, said, false
	}
	for _, i := range p.Fit.Left {
		say(fmt.Sprintf("%s lies %.1f mm from where the other points expect it and is left out; mark it again",
			p.Points[i].Name, p.Fit.Off[i]), "points", strconv.Itoa(i))
	}
	if p.Fit.RMS > Loose {
		say(fmt.Sprintf("the points do not go together: %.1f mm between them and the board; mark more, or those again that were hard to see",
			p.Fit.RMS), "points")
	}
	return p, said, true
}

// Loose is from how far apart points and board are said not to go together, mm.
// Common practice, no source.
const Loose = 1.0

// PhotoProblems says what is wrong with the points of any picture of the notebook.
func PhotoProblems(n *notebook.Notebook) (out []diagnostic.Diagnostic) {
	for _, d := range n.Devices {
		_, said := Photos(n, d)
		out = append(out, said...)
	}
	return out
}

var millimetres = regexp.MustCompile(`^\s*(-?\d+(?:[.,]\d+)?)\s*;\s*(-?\d+(?:[.,]\d+)?)\s*(?:mm)?\s*$`)

// locate gives the millimetres of a place of a board: a designator is its body's middle, a
// pin (J9.12) its pad, and two numbers (12.5; 30) are themselves. The error names the
// nearest that there is.
func locate(b *board.Board, at string) ([2]float64, error) {
	if m := millimetres.FindStringSubmatch(at); m != nil {
		x, _ := strconv.ParseFloat(strings.ReplaceAll(m[1], ",", "."), 64)
		y, _ := strconv.ParseFloat(strings.ReplaceAll(m[2], ",", "."), 64)
		return [2]float64{x, y}, nil
	}
	if p, ok := b.Part(at); ok {
		return [2]float64{p.X, p.Y}, nil
	}
	p, pin, err := FindPin(b, at)
	if err != nil {
		return [2]float64{}, err
	}
	if pin == nil {
		return [2]float64{p.X, p.Y}, nil
	}
	return [2]float64{pin.X, pin.Y}, nil
}

// FindPin finds the part and the pin that a text such as J9.12 names. The pin is nil where
// the text names the part alone.
func FindPin(b *board.Board, text string) (*board.Part, *board.Pin, error) {
	text = strings.TrimSpace(text)
	if p, ok := b.Part(text); ok {
		return p, nil, nil
	}
	ref, name, dotted := cutLast(text)
	p, ok := b.Part(ref)
	if !dotted || !ok {
		word := text
		if dotted {
			word = ref
		}
		return nil, nil, fmt.Errorf("the board has no %q%s", word, diagnostic.DidYouMean(b.Nearest(word)))
	}
	for i := range p.Pins {
		if strings.EqualFold(p.Pins[i].Name, name) {
			return p, &p.Pins[i], nil
		}
	}
	if len(p.Pins) == 0 {
		return nil, nil, fmt.Errorf("the pins of %s are not known; a netlist has them", p.Ref)
	}
	return nil, nil, fmt.Errorf("%s has no pin %q; it has %s to %s", p.Ref, name, p.Pins[0].Name, p.Pins[len(p.Pins)-1].Name)
}

func cutLast(text string) (before, after string, ok bool) {
	i := strings.LastIndexAny(text, ".-")
	if i <= 0 || i == len(text)-1 {
		return text, "", false
	}
	return text[:i], text[i+1:], true
}
