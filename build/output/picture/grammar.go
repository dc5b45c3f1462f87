package picture

import (
	"image/color"
	"math"
	"regexp"
	"strconv"
	"strings"

	"golang.org/x/image/colornames"
)

// reference is what one part of a drawing calls another by.
var reference = regexp.MustCompile(`^url\(\s*['"]?#([^'")\s]+)['"]?\s*\)`)

// grammar says how the value of each attribute is read and how it is written: numbers,
// colours, words of SVG's own lists, references within the drawing. No value is copied, so
// none can hold anything else. ok is false for what is no value of the attribute.
var grammar = map[string]func(string) (string, bool){}

// applies are the attributes of each element beside the presentation attributes, which
// any may have.
var applies = map[string]map[string]bool{
	"svg": words("viewBox width height preserveAspectRatio"), "g": words("transform"),
	"path": words("d transform"), "rect": words("x y width height rx ry transform"), "circle": words("cx cy r transform"),
	"ellipse": words("cx cy rx ry transform"), "line": words("x1 y1 x2 y2 transform"),
	"polyline": words("points transform"), "polygon": words("points transform"), "text": words("x y dx dy transform"),
	"linearGradient": words("x1 y1 x2 y2 gradientUnits gradientTransform spreadMethod"),
	"radialGradient": words("cx cy r fx fy gradientUnits gradientTransform spreadMethod"),
	"stop":           words("offset stop-color stop-opacity"),
	"pattern":        words("x y width height patternUnits patternContentUnits patternTransform viewBox preserveAspectRatio"),
	"marker":         words("markerWidth markerHeight refX refY orient markerUnits viewBox preserveAspectRatio"),
	"clipPath":       words("clipPathUnits transform"),
}

var presentation = words(`fill fill-opacity fill-rule stroke stroke-width stroke-opacity stroke-linecap stroke-linejoin
	stroke-miterlimit stroke-dasharray stroke-dashoffset opacity font-size font-family font-weight font-style text-anchor
	dominant-baseline text-decoration letter-spacing word-spacing clip-path clip-rule marker-start marker-mid marker-end
	display visibility stop-color stop-opacity`)

// drawsOtherwise are attributes and properties that change what is seen in a way that is
// not followed here, unless they have one of the values in plainly.
var (
	drawsOtherwise = words(`filter mask mask-image vector-effect paint-order mix-blend-mode transform-origin transform-box
		text-length textLength lengthAdjust rotate writing-mode direction unicode-bidi baseline-shift font font-variant
		font-stretch font-size-adjust clip overflow background background-color background-image pathLength color
		content animation offset-path translate scale zoom all`)
	plainly = words(`none normal auto baseline visible ltr 100% horizontal-tb lr-tb lr srgb linearrgb currentcolor nonscaling
		black #000 #000000 hidden`)
)

func init() {
	add := func(names string, read func(string) (string, bool)) {
		for name := range words(names) {
			grammar[name] = read
		}
	}
	add(`x y dx dy`, lengths)
	add(`width height x1 y1 x2 y2 cx cy r rx ry fx fy markerWidth markerHeight refX refY stroke-width font-size offset
		stroke-dashoffset letter-spacing word-spacing`, aLength)
	add(`opacity fill-opacity stroke-opacity stop-opacity`, share)
	add(`stroke-miterlimit`, aNumber)
	add(`points viewBox`, numberList)
	add(`stroke-dasharray`, func(v string) (string, bool) {
		if v == "none" {
			return v, true
		}
		return lengths(v)
	})
	add(`d`, func(v string) (string, bool) { return v, true }) // written by outline
	add(`transform gradientTransform patternTransform`, transform)
	add(`fill stroke stop-color`, colour)
	add(`clip-path marker-start marker-mid marker-end`, func(v string) (string, bool) {
		if m := reference.FindStringSubmatch(v); m != nil {
			return "url(#" + m[1] + ")", true
		}
		return v, v == "none"
	})
	add(`font-family`, generic)
	one := func(name, list string) {
		known := words(list)
		add(name, func(v string) (string, bool) { return v, known[v] })
	}
	one("fill-rule", "nonzero evenodd")
	one("clip-rule", "nonzero evenodd")
	one("stroke-linecap", "butt round square")
	one("stroke-linejoin", "miter round bevel")
	one("font-weight", "normal bold bolder lighter 100 200 300 400 500 600 700 800 900")
	one("font-style", "normal italic oblique")
	one("text-anchor", "start middle end")
	one("dominant-baseline", "auto middle central hanging mathematical text-before-edge text-after-edge alphabetic ideographic")
	one("text-decoration", "none underline overline line-through")
	one("gradientUnits", "userSpaceOnUse objectBoundingBox")
	one("patternUnits", "userSpaceOnUse objectBoundingBox")
	one("patternContentUnits", "userSpaceOnUse objectBoundingBox")
	one("clipPathUnits", "userSpaceOnUse objectBoundingBox")
	one("markerUnits", "userSpaceOnUse strokeWidth")
	one("spreadMethod", "pad reflect repeat")
	one("display", "none inline block")
	one("visibility", "visible hidden collapse")
	add("orient", func(v string) (string, bool) {
		if v == "auto" || v == "auto-start-reverse" {
			return v, true
		}
		return aNumber(v)
	})
	ratio := regexp.MustCompile(`^(?:none|xM(?:in|id|ax)YM(?:in|id|ax)(?: (?:meet|slice))?)$`)
	add("preserveAspectRatio", func(v string) (string, bool) { return v, ratio.MatchString(v) })
}

// written gives a number with six figures.
func written(v float64) string {
	v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	if v == 0 {
		v = 0 // no minus
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// scan reads a number at the start of a text (SVG 2, section 4.2) and says how long it is,
// 0 for none.
func scan(s string) (v float64, n int) {
	digits := func() (any bool) {
		for n < len(s) && s[n] >= '0' && s[n] <= '9' {
			n++
			any = true
		}
		return any
	}
	if n < len(s) && (s[n] == '+' || s[n] == '-') {
		n++
	}
	some := digits()
	if n < len(s) && s[n] == '.' {
		n++
		some = digits() || some
	}
	if !some {
		return 0, 0
	}
	if end := n; n < len(s) && (s[n] == 'e' || s[n] == 'E') {
		n++
		if n < len(s) && (s[n] == '+' || s[n] == '-') {
			n++
		}
		if !digits() {
			n = end
		}
	}
	v, err := strconv.ParseFloat(s[:n], 64)
	if err != nil || math.Abs(v) > 1e9 {
		return 0, 0
	}
	if math.Abs(v) < 1e-9 {
		v = 0
	}
	return v, n
}

// apart steps over blanks and a comma.
func apart(s string) string {
	s = strings.TrimLeft(s, " \t\r\n")
	if strings.HasPrefix(s, ",") {
		s = strings.TrimLeft(s[1:], " \t\r\n")
	}
	return s
}

// numbersOf reads numbers up to what is none.
func numbersOf(s string) (list []float64) {
	for s = apart(s); s != ""; s = apart(s) {
		v, n := scan(s)
		if n == 0 {
			break
		}
		list = append(list, v)
		s = s[n:]
	}
	return list
}

func numberList(v string) (string, bool) {
	var out []string
	for _, n := range numbersOf(v) {
		out = append(out, written(n))
	}
	return strings.Join(out, " "), len(out) > 0
}

func aNumber(v string) (string, bool) {
	f, n := scan(v)
	return written(f), n > 0 && n == len(v)
}

// share is a number from 0 to 1, or percent.
func share(v string) (string, bool) {
	number, percent := strings.CutSuffix(v, "%")
	f, n := scan(number)
	if n == 0 || n != len(number) {
		return "", false
	}
	if percent {
		f /= 100
	}
	return written(min(max(f, 0), 1)), true
}

var unitNames = words("px pt pc in cm mm em ex %")

func aLength(v string) (string, bool) {
	f, n := scan(v)
	if n == 0 || v[n:] != "" && !unitNames[v[n:]] {
		return "", false
	}
	return written(f) + v[n:], true
}

func lengths(v string) (string, bool) {
	var out []string
	for _, part := range strings.FieldsFunc(v, func(r rune) bool { return strings.ContainsRune(" \t\r\n,", r) }) {
		l, ok := aLength(part)
		if !ok {
			return "", false
		}
		out = append(out, l)
	}
	return strings.Join(out, " "), len(out) > 0
}

var function = regexp.MustCompile(`^\s*,?\s*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^()]*)\)`)

type step struct {
	name string
	n    []float64
}

func steps(v string) (list []step, ok bool) {
	for strings.TrimSpace(v) != "" {
		m := function.FindStringSubmatch(v)
		if m == nil {
			return nil, false
		}
		s := step{m[1], numbersOf(m[2])}
		if n := len(s.n); n == 0 || n > 6 || s.name == "matrix" && n != 6 || s.name == "rotate" && n != 1 && n != 3 {
			return nil, false
		}
		list = append(list, s)
		v = v[len(m[0]):]
	}
	return list, true
}

func transform(v string) (string, bool) {
	list, ok := steps(v)
	var out []string
	for _, s := range list {
		var numbers []string
		for _, n := range s.n {
			numbers = append(numbers, written(n))
		}
		out = append(out, s.name+"("+strings.Join(numbers, " ")+")")
	}
	return strings.Join(out, " "), ok
}

// matrixOf is what a transform does (SVG 2, section 8.5).
func matrixOf(v string) matrix {
	m := matrix{1, 0, 0, 1, 0, 0}
	list, _ := steps(v)
	for _, s := range list {
		n := append(append([]float64{}, s.n...), 0, 0)
		switch s.name {
		case "matrix":
			m = m.times(matrix(n[:6]))
		case "translate":
			m = m.times(matrix{1, 0, 0, 1, n[0], n[1]})
		case "scale":
			if len(s.n) == 1 {
				n[1] = n[0]
			}
			m = m.times(matrix{n[0], 0, 0, n[1], 0, 0})
		case "rotate":
			sin, cos := math.Sincos(n[0] * math.Pi / 180)
			turn := matrix{cos, sin, -sin, cos, 0, 0}
			if len(s.n) == 3 {
				turn = matrix{1, 0, 0, 1, n[1], n[2]}.times(turn).times(matrix{1, 0, 0, 1, -n[1], -n[2]})
			}
			m = m.times(turn)
		case "skewX":
			m = m.times(matrix{1, 0, math.Tan(n[0] * math.Pi / 180), 1, 0, 0})
		case "skewY":
			m = m.times(matrix{1, math.Tan(n[0] * math.Pi / 180), 0, 1, 0, 0})
		}
	}
	return m
}

// generic gives the generic family that is nearest to a font.
func generic(v string) (string, bool) {
	low := strings.ToLower(v)
	switch {
	case strings.Contains(low, "mono") || strings.Contains(low, "courier"):
		return "monospace", true
	case strings.Contains(low, "serif") && !strings.Contains(low, "sans") || strings.Contains(low, "times"):
		return "serif", true
	}
	return "sans-serif", true
}

// colour reads a paint and writes a colour as #rrggbb or #rrggbbaa.
func colour(v string) (string, bool) {
	low := strings.ToLower(v)
	switch low {
	case "none", "transparent":
		return "none", true
	case "currentcolor":
		return "#000000", true // no colour is set above it, since that is refused
	}
	if m := reference.FindStringSubmatch(v); m != nil {
		return "url(#" + m[1] + ")", true
	}
	c, ok := colourOf(low)
	if !ok {
		return "", false
	}
	out := "#" + hexOf(c.R) + hexOf(c.G) + hexOf(c.B)
	if c.A != 0xFF {
		out += hexOf(c.A)
	}
	return out, true
}

func hexOf(b uint8) string {
	return string("0123456789abcdef"[b>>4]) + string("0123456789abcdef"[b&15])
}

func colourOf(v string) (c color.NRGBA, ok bool) {
	if named, ok := colornames.Map[v]; ok {
		return color.NRGBA(named), true
	}
	if digits, ok := strings.CutPrefix(v, "#"); ok {
		if len(digits) == 3 || len(digits) == 4 {
			wide := ""
			for _, d := range digits {
				wide += string(d) + string(d)
			}
			digits = wide
		}
		if len(digits) == 6 {
			digits += "ff"
		}
		n, err := strconv.ParseUint(digits, 16, 32)
		return color.NRGBA{uint8(n >> 24), uint8(n >> 16), uint8(n >> 8), uint8(n)}, err == nil && len(digits) == 8
	}
	inside, found := strings.CutPrefix(v, "rgb")
	inside = strings.TrimPrefix(inside, "a")
	if !found || !strings.HasPrefix(inside, "(") || !strings.HasSuffix(inside, ")") {
		return c, false
	}
	part := strings.FieldsFunc(inside[1:len(inside)-1], func(r rune) bool { return strings.ContainsRune(" ,/\t\r\n", r) })
	if len(part) != 3 && len(part) != 4 {
		return c, false
	}
	level := [4]float64{0, 0, 0, 255}
	for i, p := range part {
		number, percent := strings.CutSuffix(p, "%")
		f, n := scan(number)
		if n == 0 || n != len(number) {
			return c, false
		}
		if percent {
			f *= 2.55
		} else if i == 3 {
			f *= 255
		}
		level[i] = math.Round(min(max(f, 0), 255))
	}
	return color.NRGBA{uint8(level[0]), uint8(level[1]), uint8(level[2]), uint8(level[3])}, true
}

// paintOf reads a paint that [colour] has written.
func paintOf(v string) paint {
	if v == "none" {
		return paint{none: true}
	}
	c, ok := colourOf(v)
	return paint{flat: ok, c: c}
}

// subpath is a part of a path, with the box around it in the path's own units.
type subpath struct {
	d   string
	box box
}

// arguments is how many numbers each command of a path takes (SVG 2, section 9.3).
var arguments = map[byte]int{'M': 2, 'L': 2, 'H': 1, 'V': 1, 'C': 6, 'S': 4, 'Q': 4, 'T': 2, 'A': 7, 'Z': 0}

// subpaths reads a path up to its first error, as browsers do, and writes it with absolute
// coordinates. Parts that draw nothing are left out.
func subpaths(s string) (list []subpath) {
	var x, y, startX, startY, controlX, controlY float64
	var last byte // the command before, for S and T
	var out strings.Builder
	around, segments := nowhere, 0
	end := func() {
		if segments > 0 {
			list = append(list, subpath{out.String(), around})
		}
		out.Reset()
		around, segments = nowhere, 0
	}
	put := func(command byte, n ...float64) {
		out.WriteByte(command)
		for i, v := range n {
			if i > 0 {
				out.WriteByte(' ')
			}
			out.WriteString(written(v))
		}
	}
	var command byte
	for {
		s = strings.TrimLeft(s, " \t\r\n")
		if s == "" {
			break
		}
		implied := true
		if c := s[0]; c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' {
			if _, ok := arguments[c&^0x20]; !ok || last == 0 && c&^0x20 != 'M' {
				break
			}
			command, s, implied = c, s[1:], false
		} else if command == 0 || command&^0x20 == 'Z' {
			break
		}
		upper, relative := command&^0x20, command&0x20 != 0
		n := make([]float64, 0, 7)
		good := true
		for i := range arguments[upper] {
			if i > 0 || implied {
				s = apart(s)
			} else {
				s = strings.TrimLeft(s, " \t\r\n")
			}
			var v float64
			size := 0
			if upper == 'A' && (i == 3 || i == 4) {
				if s != "" && (s[0] == '0' || s[0] == '1') {
					v, size = float64(s[0]-'0'), 1
				}
			} else {
				v, size = scan(s)
			}
			if size == 0 {
				good = false
				break
			}
			n, s = append(n, v), s[size:]
		}
		if !good {
			break
		}
		if relative {
			for i := range n {
				switch {
				case upper == 'H', upper == 'A' && i == 5, upper != 'A' && upper != 'V' && i%2 == 0:
					n[i] += x
				case upper == 'V', upper == 'A' && i == 6, upper != 'A' && upper != 'H' && i%2 == 1:
					n[i] += y
				}
			}
		}
		if upper == 'M' {
			end()
			x, y = n[0], n[1]
			startX, startY = x, y
			put('M', x, y)
			around = around.with(x, y)
			last = 'M'
			command = 'L' | command&0x20 // what follows without a letter are lines
			continue
		}
		if last == 'Z' { // a new part begins where the last one did
			end()
			put('M', startX, startY)
			around = around.with(startX, startY)
		}
		segments++
		fromX, fromY := x, y
		switch upper {
		case 'Z':
			put('Z')
			x, y = startX, startY
		case 'H':
			x = n[0]
			put('L', x, y)
		case 'V':
			y = n[0]
			put('L', x, y)
		case 'A':
			put('A', n...)
			x, y = n[5], n[6]
			r := 2 * max(math.Abs(n[0]), math.Abs(n[1]), math.Hypot(x-fromX, y-fromY)/2)
			around = around.with(x-r, y-r).with(x+r, y+r).with(fromX-r, fromY-r).with(fromX+r, fromY+r)
		default:
			put(upper, n...)
			if upper == 'S' || upper == 'T' {
				before := map[byte]string{'S': "CS", 'T': "QT"}[upper]
				if strings.IndexByte(before, last) < 0 {
					controlX, controlY = x, y
				}
				controlX, controlY = 2*x-controlX, 2*y-controlY
				around = around.with(controlX, controlY)
			}
			for i := 0; i+1 < len(n); i += 2 {
				around = around.with(n[i], n[i+1])
			}
			x, y = n[len(n)-2], n[len(n)-1]
			if upper != 'L' && upper != 'T' {
				controlX, controlY = n[len(n)-4], n[len(n)-3]
			}
		}
		around = around.with(x, y)
		last = upper
	}
	end()
	return list
}
