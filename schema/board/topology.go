package board

import (
	"regexp"
	"slices"
	"strings"

	"benchlore/schema/quantity"
)

// NetKind says what a net is for, as its name tells.
type NetKind string

// The kinds. A name that tells nothing is a signal's.
const (
	Ground NetKind = "ground"
	Supply NetKind = "supply"
	Sense  NetKind = "sense"
	Data   NetKind = "data"
	Signal NetKind = "signal"
)

// How nets are named is common practice, no source.
var netKinds = []struct {
	kind NetKind
	form *regexp.Regexp
}{
	{Ground, regexp.MustCompile(`(?i)^(?:[adps]?gnd[a-z]?\d?|gnd[_-].*|.*[_-]gnd|v?ss[adq]?\d?|0v|ground|earth|chassis|pe|agnd.*|dgnd.*|pgnd.*|com(?:mon)?)$`)},
	{Sense, regexp.MustCompile(`(?i)(?:sense|sns|isen|csp|csn|cs[_-]?[+-]$|^fb\d?$|[_-]fb\d?$|feedback|ntc|therm|vref)`)},
	{Supply, regexp.MustCompile(`(?i)^(?:[+−]?\d+v\d*|[+−]\d)`)},
	{Data, regexp.MustCompile(`(?i)(?:^|[_\-/.])(?:d[+-]|d[pm]\d?|usb.*|sda\d?|scl\d?|i2c.*|spi.*|mosi|miso|sck|sclk|cs|tx[dpn+-]?\d?|rx[dpn+-]?\d?|uart.*|can[hl]?|mdi.*|mdc|mdio|hdmi.*|tmds.*|lvds.*|edp.*|pcie.*|sata.*|eth.*|clk.*|data\d*|addr\d*|dq\d*|lan.*|trd.*)(?:$|[_\-/.\d])`)},
	{Supply, regexp.MustCompile(`(?i)^(?:[+−-]\d+(?:[.,]\d+)?v?\d*.*|[+-]?\d+v\d*(?:$|[_-].*)|v(?:cc|dd|bus|bat|batt|in|out|ee|core|io|sys|aa|pp|led|motor|mot|usb|ddr|ref)[a-z0-9_+-]*|vdd.*|vcc.*|pp\d+v.*|pwr.*|power.*|bat[t]?[+].*|b[+]|dcin.*|chg[+].*|led[+]|.*rail.*|.*supply.*|p\d+v\d*.*)$`)},
}

// kindOfNet reads what a net is for from its name.
func kindOfNet(name string) NetKind {
	for _, k := range netKinds {
		if k.form.MatchString(name) {
			return k.kind
		}
	}
	return Signal
}

// Role says what a part does by how it is joined.
type Role string

// The roles. A part between two nets is in series with them, unless one of
// them is ground: then it is a shunt. What has more pins is named by kind.
const (
	Series    Role = "series"
	Shunt     Role = "shunt"
	Link      Role = "link"       // both ends on one net
	Grounds   Role = "ground tie" // between two grounds
	TestPoint Role = "test point"
	Connector Role = "connector"
	Many      Role = "many pins"
	Unwired   Role = "not known" // no netlist, or no pin of it
)

var (
	testRef      = regexp.MustCompile(`(?i)^(?:tp|tst|test)`)
	connectorRef = regexp.MustCompile(`(?i)^(?:j|cn|con|x|p|usb|hdr)[a-z]*\d`)
	capacitorRef = regexp.MustCompile(`(?i)^(?:c|ec|pc)\d`)
	pathRef      = regexp.MustCompile(`(?i)^(?:r|l|fb|f|fl|jp|rn|fr|ln|b|rs|w|d)\d`)
)

// Role returns what the part does by topology.
func (b *Board) Role(p *Part) Role {
	nets := p.nets()
	connected := 0
	for _, pin := range p.Pins {
		if pin.Net >= 0 {
			connected++
		}
	}
	switch {
	case connected == 0:
		return Unwired
	case testRef.MatchString(p.Ref) || len(p.Pins) == 1:
		return TestPoint
	case connectorRef.MatchString(p.Ref):
		return Connector
	case len(nets) == 1 && len(p.Pins) == 2 && connected == 2:
		return Link
	case len(nets) != 2 || len(p.Pins) != 2:
		return Many
	}
	a, c := b.Nets[nets[0]].Kind == Ground, b.Nets[nets[1]].Kind == Ground
	switch {
	case a && c:
		return Grounds
	case a || c:
		return Shunt
	}
	return Series
}

// Important reports whether a slip at the part would cost much: it is in
// series in a supply, data or sense net.
func (b *Board) Important(p *Part) bool {
	if b.Role(p) != Series {
		return false
	}
	return slices.ContainsFunc(p.nets(), func(i int) bool { return b.Nets[i].Kind != Signal })
}

// capacitance returns the value of a capacitor; ok is false for other parts
// and unreadable values.
func capacitance(p *Part) (v quantity.Value, ok bool) {
	s, err := specOf(p)
	if err != nil || s.Value == nil || s.Value.Unit != quantity.Farad {
		return v, false
	}
	return *s.Value, true
}

// specOf reads a part's value in the light of its designator: 10u at C1 is a
// capacitance.
func specOf(p *Part) (*quantity.Spec, error) {
	return quantity.ParseSpec(strings.TrimSpace(kindWord(p.Ref) + " " + p.Value))
}

// kindWord is the kind of part that a designator begins with, for reading
// values.
func kindWord(ref string) string {
	head := strings.ToUpper(strings.TrimRightFunc(ref, func(c rune) bool { return c >= '0' && c <= '9' || c == '-' || c == '_' }))
	switch head {
	case "C", "EC", "PC":
		return "capacitor"
	case "R", "RS", "FR", "RV":
		return "resistor"
	case "L":
		return "inductor"
	case "FB":
		return "ferrite"
	case "F":
		return "fuse"
	}
	return ""
}

// Decoupling is what capacitors between a supply and ground add up to.
type Decoupling struct {
	Count   int // capacitors
	Unread  int // of them, whose value cannot be read
	Total   quantity.Value
	Members []*Part
}

// Decoupling returns the capacitance between a net and ground.
func (b *Board) Decoupling(n *Net) Decoupling {
	var d Decoupling
	d.Total.Unit = quantity.Farad
	for _, i := range partsOf(n) {
		p := &b.Parts[i]
		if !capacitorRef.MatchString(p.Ref) || b.Role(p) != Shunt {
			continue
		}
		d.Count++
		d.Members = append(d.Members, p)
		v, ok := capacitance(p)
		if !ok {
			d.Unread++
			continue
		}
		sum, fits := d.Total.Number.Add(v.Number)
		if !fits {
			d.Unread++
			continue
		}
		d.Total.Number = sum
	}
	return d
}

// partsOf are the indexes of the parts on a net, each once.
func partsOf(n *Net) []int {
	var list []int
	for _, r := range n.Pins {
		if len(list) == 0 || list[len(list)-1] != r.Part {
			list = append(list, r.Part)
		}
	}
	slices.Sort(list)
	return slices.Compact(list)
}

// PartsOf returns the parts on a net.
func (b *Board) PartsOf(n *Net) []*Part {
	var list []*Part
	for _, i := range partsOf(n) {
		list = append(list, &b.Parts[i])
	}
	return list
}

// Loss is what is gone without a part.
type Loss struct {
	Role Role
	// From and To are the nets that a series part joined; To is the side that
	// hangs on it, the one with fewer parts.
	From, To *Net
	// Around are parts that still join the two nets directly; Cut says that no
	// path of resistors, coils, beads, fuses, diodes and links does.
	Around []*Part
	Cut    bool
	Behind int // parts on To, without the lost one
	// Of a shunt: the net that it stood on, and what is left between that and
	// ground.
	On           *Net
	Before, Left Decoupling
}

// Without works out what the nets lose when the part is missing or open.
func (b *Board) Without(p *Part) Loss {
	l := Loss{Role: b.Role(p)}
	nets := p.nets()
	switch l.Role {
	case Series:
		x, y := nets[0], nets[1]
		if b.weight(x) < b.weight(y) {
			x, y = y, x
		}
		l.From, l.To = &b.Nets[x], &b.Nets[y]
		for _, i := range partsOf(l.To) {
			if q := &b.Parts[i]; q != p {
				l.Behind++
				if b.Role(q) == Series && slices.Equal(q.nets(), nets) {
					l.Around = append(l.Around, q)
				}
			}
		}
		l.Cut = !b.joined(x, y, p)
	case Shunt:
		on := nets[0]
		if b.Nets[on].Kind == Ground {
			on = nets[1]
		}
		l.On = &b.Nets[on]
		if capacitorRef.MatchString(p.Ref) {
			l.Before = b.Decoupling(l.On)
			l.Left = l.Before
			l.Left.Count--
			if v, ok := capacitance(p); ok {
				if rest, fits := l.Before.Total.Number.Add(v.Number.Neg()); fits {
					l.Left.Total.Number = rest
				}
			} else {
				l.Left.Unread--
			}
		}
	}
	return l
}

// weight ranks nets by how much hangs on them; a supply outweighs a signal of
// as many parts.
func (b *Board) weight(net int) int {
	w := 2 * len(b.Nets[net].Pins)
	if b.Nets[net].Kind == Supply {
		w++
	}
	return w
}

// maxWalk bounds the nets that a search for another path visits.
const maxWalk = 2_000

// joined asks for a path of conducting two-pin parts between two nets that does
// without one part.
func (b *Board) joined(from, to int, without *Part) bool {
	seen := map[int]bool{from: true}
	todo := []int{from}
	for len(todo) > 0 && len(seen) < maxWalk {
		at := todo[0]
		todo = todo[1:]
		for _, i := range partsOf(&b.Nets[at]) {
			q := &b.Parts[i]
			if q == without || !pathRef.MatchString(q.Ref) || b.Role(q) != Series {
				continue
			}
			for _, next := range q.nets() {
				if next == to {
					return true
				}
				if !seen[next] {
					seen[next] = true
					todo = append(todo, next)
				}
			}
		}
	}
	return false
}
