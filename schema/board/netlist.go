package board

import (
	"bytes"
	"math"
	"strconv"
	"strings"

	"benchlore/schema/diagnostic"
)

// Netlist is what a file in IPC-D-356A says, in mm.
type Netlist struct {
	Units   string // as stated: "mm" or "inch"
	Pins    []NetPin
	Outline []Point
}

// NetPin is a pad with its net; Ref is empty for a via.
type NetPin struct {
	Net, Ref, Pin string
	X, Y          float64
	Side          Side
	Hole          bool
	Line          int
}

// The columns of a record, counted from 1, as the standard lays them out
// (IPC-D-356A, Bare Substrate Electrical Test Data Format, test records 317 and
// 327).
const (
	colNet, colNetEnd = 4, 17
	colRef, colRefEnd = 21, 26
	colPin, colPinEnd = 28, 31
	colHole           = 33
	colAccess         = 39 // the letter A; two digits follow
	colXY             = 42
)

// ReadNetlist reads IPC-D-356A: parameters (P), comments (C), test records for
// holes (317), pads (327) and their like, outlines (389), continuations (a
// first 0 in place of the 3), and the end (999). Letters may be small. What
// cannot be used is named by line and left out, the rest is kept. The netlist
// is nil when nothing could be read.
func ReadNetlist(name string, src []byte) (*Netlist, []diagnostic.Diagnostic) {
	r := netReader{report: reporter{file: name}, aliases: map[string]string{}, names: map[string]string{}}
	n := r.read(src)
	return n, r.report.done()
}

type netReader struct {
	report  reporter
	n       Netlist
	scale   [2]float64        // mm in one count of a coordinate, as a fraction
	aliases map[string]string // short name -> the long one that it stands for
	names   map[string]string // text -> the one copy that is kept of it
	last    string            // operation code of the last whole record
	net     string            // and its net
	edge    bool              // the last outline is the board's
	at      Point             // where the outline got to
	ended   bool
}

// Counts of coordinates: a ten-thousandth of an inch, or a thousandth of a
// millimetre.
var (
	tenthMil   = [2]float64{254, 100_000}
	micrometre = [2]float64{1, 1_000}
)

func (r *netReader) mm(count float64) float64 { return count * r.scale[0] / r.scale[1] }

func (r *netReader) read(src []byte) *Netlist {
	if len(src) > MaxFile {
		r.report.say(0, 0, diagnostic.Error, "the file has %d bytes; at most %d are read", len(src), MaxFile)
		return nil
	}
	src = bytes.TrimPrefix(src, []byte("\xef\xbb\xbf"))
	r.scale, r.n.Units = tenthMil, "inch" // unless UNITS says otherwise
	line := 0
	for len(src) > 0 && !r.ended {
		line++
		text := src
		if i := bytes.IndexByte(src, '\n'); i >= 0 {
			text, src = src[:i], src[i+1:]
		} else {
			src = nil
		}
		text = bytes.TrimRight(text, "\r \t\x1a")
		if len(text) > 0 {
			r.record(line, text)
		}
		if len(r.n.Pins) >= MaxPins {
			r.report.say(line, 1, diagnostic.Error, "a board has at most %d pins; the rest is left out", MaxPins)
			break
		}
	}
	if len(r.n.Pins) == 0 {
		r.report.say(0, 0, diagnostic.Error, "no pin could be read; a netlist in IPC-D-356A has lines that begin with 317 or 327")
		return nil
	}
	if !r.ended && line > 0 {
		r.report.say(line, 1, diagnostic.Warning, "the file ends without its last record, 999; is it whole?")
	}
	if len(r.aliases) > 0 {
		for i := range r.n.Pins {
			if long, ok := r.aliases[key(r.n.Pins[i].Net)]; ok {
				r.n.Pins[i].Net = long
			}
		}
	}
	return &r.n
}

func (r *netReader) record(line int, text []byte) {
	switch text[0] {
	case 'C', 'c', '#':
		return
	case 'P', 'p':
		r.parameter(line, string(text))
		return
	}
	if len(text) < 3 || !digits(text[:3]) {
		r.report.say(line, 1, diagnostic.Warning,
			"a record begins with three digits, P or C; this one with %q is left out",
			clip(strings.ToValidUTF8(string(text[:min(3, len(text))]), "?")))
		return
	}
	code := string(text[:3])
	follows := code[0] == '0'
	if follows {
		code = "3" + code[1:]
		if code != r.last {
			r.report.say(line, 1, diagnostic.Warning,
				"record 0%s goes on with a record %s that is not there; it is left out", code[1:], code)
			return
		}
	}
	switch code {
	case "999":
		r.ended = true
	case "317", "327", "337", "367", "307":
		r.last = code
		r.pin(line, text, code, follows)
	case "389":
		r.last = code
		r.outline(line, text, follows)
	case "378", "379", "370", "390", "380", "099":
		r.last = code // tracks and adjacencies, which are not needed
	default:
		r.last = code
		r.report.say(line, 1, diagnostic.Warning, "record type %s is not known here; it is left out", code)
	}
}

func digits(b []byte) bool {
	for _, c := range b {
		if c < '0' || c > '9' {
			return false
		}
	}
	return true
}

// parameter reads the unit and names too long for their columns.
func (r *netReader) parameter(line int, text string) {
	words := strings.Fields(text[1:])
	if len(words) < 2 {
		return
	}
	switch head := strings.ToUpper(words[0]); {
	case head == "UNITS":
		unit := strings.ToUpper(strings.Join(words[1:], " "))
		switch unit {
		case "CUST 0", "CUST", "CUST 2":
			r.scale, r.n.Units = tenthMil, "inch"
		case "CUST 1", "SI", "METRIC", "MM":
			r.scale, r.n.Units = micrometre, "mm"
		default:
			r.report.say(line, 1, diagnostic.Warning,
				"UNITS %q is not CUST 0 (inch), CUST 1 (mm), CUST 2 (inch) or SI (mm); inch is taken", clip(unit))
		}
	case strings.HasPrefix(head, "NNAME"):
		if len(r.aliases) < MaxPins {
			r.aliases[head] = r.one(clip(plain(strings.Join(words[1:], " "))))
		}
	}
}

// field is the text between two columns, counted from 1, both included.
func field(text []byte, from, to int) []byte {
	if len(text) < from {
		return nil
	}
	return bytes.TrimSpace(text[from-1 : min(to, len(text))])
}

// one keeps a single copy of a text that many records repeat.
func (r *netReader) one(s string) string {
	if have, ok := r.names[s]; ok {
		return have
	}
	r.names[s] = s
	return s
}

func (r *netReader) text(b []byte) string {
	if s, ok := r.names[string(b)]; ok {
		return s
	}
	return r.one(plain(strings.ToValidUTF8(string(b), "?")))
}

// pin reads a test record. A continuation that names a part is a further pin of
// the same net; one that does not adds to the pad before it, which says enough.
func (r *netReader) pin(line int, text []byte, code string, follows bool) {
	ref, pin := field(text, colRef, colRefEnd), field(text, colPin, colPinEnd)
	if follows {
		if len(ref) == 0 {
			return
		}
	} else {
		r.net = r.text(field(text, colNet, colNetEnd))
		if r.net == "" {
			r.report.say(line, colNet, diagnostic.Warning, "the record names no net; it is left out")
			return
		}
	}
	if len(text) < colXY {
		r.report.say(line, len(text)+1, diagnostic.Error,
			"the record ends after %d characters, before its place; it is left out", len(text))
		return
	}
	x, y, ok := coordinates(text[colXY-1:])
	if !ok {
		r.report.say(line, colXY, diagnostic.Error, "a place such as X+012700Y+008000 belongs here; the record is left out")
		return
	}
	p := NetPin{Net: r.net, X: r.mm(x), Y: r.mm(y), Hole: code == "317" || code == "367", Line: line}
	if math.Abs(p.X) > MaxReach || math.Abs(p.Y) > MaxReach {
		r.report.say(line, colXY, diagnostic.Error,
			"this pad lies %.4g mm from the origin; at most %d mm are taken; the record is left out",
			max(math.Abs(p.X), math.Abs(p.Y)), MaxReach)
		return
	}
	if name := r.text(ref); name != "" && !strings.EqualFold(name, "VIA") {
		p.Ref, p.Pin = name, r.text(pin)
	}
	access := field(text, colAccess, colAccess+2)
	switch {
	case len(access) == 3 && string(access[1:]) == "00", p.Hole && len(access) == 0:
		p.Side = Both
	case len(access) == 3 && string(access[1:]) == "01", len(access) == 0:
		p.Side = Top
	case len(access) == 3 && digits(access[1:]):
		p.Side = Bottom
	default:
		r.report.say(line, colAccess, diagnostic.Warning,
			"an access such as A01 belongs here, not %q; the top side is taken", clip(strings.ToValidUTF8(string(access), "?")))
	}
	r.n.Pins = append(r.n.Pins, p)
}

// coordinates reads X and Y with their signs from the front of the text.
func coordinates(b []byte) (x, y float64, ok bool) {
	x, rest, ok := coordinate(b, 'X')
	if !ok {
		return 0, 0, false
	}
	y, _, ok = coordinate(rest, 'Y')
	return x, y, ok
}

func coordinate(b []byte, axis byte) (v float64, rest []byte, ok bool) {
	b = bytes.TrimLeft(b, " ")
	if len(b) < 2 || b[0]&^0x20 != axis {
		return 0, b, false
	}
	b = b[1:]
	sign := 1.0
	switch b[0] {
	case '-':
		sign = -1
		b = b[1:]
	case '+', ' ':
		b = b[1:]
	}
	i := 0
	for i < len(b) && i < 12 && b[i] >= '0' && b[i] <= '9' {
		i++
	}
	if i == 0 {
		return 0, b, false
	}
	n, err := strconv.ParseInt(string(b[:i]), 10, 64)
	return sign * float64(n), b[i:], err == nil
}

// outline reads the board's edge: places of which X or Y may be left out where
// it stays as it was.
func (r *netReader) outline(line int, text []byte, follows bool) {
	if !follows {
		r.edge = strings.EqualFold(string(field(text, 4, 17)), "BOARD_EDGE") && len(r.n.Outline) == 0
		r.at = Point{}
		if len(text) < 19 {
			r.edge = false
			return
		}
		text = text[17:]
	} else {
		text = text[3:]
	}
	if !r.edge {
		return
	}
	for len(text) > 0 {
		text = bytes.TrimLeft(text, " *")
		if len(text) == 0 {
			return
		}
		axis := text[0] &^ 0x20
		v, rest, ok := coordinate(text, axis)
		if !ok || axis != 'X' && axis != 'Y' {
			r.report.say(line, 1, diagnostic.Warning, "the board's edge cannot be followed from here")
			r.edge = false
			return
		}
		if axis == 'X' {
			r.at.X = r.mm(v)
			if len(rest) > 0 && rest[0] != ' ' { // a blank separates two places
				if y, after, ok := coordinate(rest, 'Y'); ok {
					r.at.Y, rest = r.mm(y), after
				}
			}
		} else {
			r.at.Y = r.mm(v)
		}
		if math.Abs(r.at.X) > MaxReach || math.Abs(r.at.Y) > MaxReach {
			r.report.say(line, 1, diagnostic.Error, "the board's edge goes more than %d mm from the origin; it is left out", MaxReach)
			r.n.Outline, r.edge = nil, false
			return
		}
		if len(r.n.Outline) >= 10_000 {
			r.edge = false
			return
		}
		r.n.Outline = append(r.n.Outline, r.at)
		text = rest
	}
}
