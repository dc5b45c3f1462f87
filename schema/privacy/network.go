package privacy

import (
	"bytes"
	"net/netip"
	"regexp"
	"strings"
)

// IEEE 802 and RFC 7042: six octets with hyphens or colons, or three groups with dots.
var mac = regexp.MustCompile(`[0-9A-Fa-f]{2}(?::[0-9A-Fa-f]{2}){5,}|[0-9A-Fa-f]{2}(?:-[0-9A-Fa-f]{2}){5,}|[0-9A-Fa-f]{4}(?:\.[0-9A-Fa-f]{4}){2,}`)

// scanNetwork looks for addresses of networks in one line.
func scanNetwork(line []byte, add func(Kind, int, int)) {
	var colons, hyphens, dots int
	for _, c := range line {
		switch c {
		case ':':
			colons++
		case '-':
			hyphens++
		case '.':
			dots++
		}
	}
	if colons >= 5 || hyphens >= 5 || dots >= 2 {
		for _, m := range mac.FindAllIndex(line, -1) {
			n := m[1] - m[0]
			text := line[m[0]:m[1]]
			if (n == 17 || n == 14 && line[m[0]+4] == '.') && !wordAt(line, m[0]-1) && !wordAt(line, m[1]) &&
				(m[0] == 0 || line[m[0]-1] != '+') && !is(contextOf(line, m[0]), phone, card) && !joined(line, m[0], m[1]) && !dateLike(text) && ofStation(text) {
				add(macKind, m[0], m[1])
			}
		}
	}
	if dots < 3 && colons < 2 {
		return
	}
	for i := 0; i < len(line); i++ {
		if !hex(line[i]) && line[i] != ':' || wordAt(line, i-1) {
			continue
		}
		stop := i
		for stop < len(line) && (hex(line[stop]) || line[stop] == '.' || line[stop] == ':') {
			stop++
		}
		text := line[i:stop]
		if n := bytes.IndexByte(text, ':'); n > 0 && bytes.Count(text, []byte(".")) == 3 {
			text = text[:n] // with a port
		}
		text = bytes.TrimRight(text, ".:")
		end := i + len(text)
		if len(text) >= 7 && !wordAt(line, end) && isNetwork(line, i, string(text)) {
			add(networkKind, i, end)
		}
		i = max(i, stop-1)
	}
}

// isNetwork reports whether a text at a place of a line is the address of a customer's
// network. Four numbers with dots are mostly a version; addresses that every network has
// inside (RFC 1918, RFC 4193, RFC 4291) name nobody.
func isNetwork(line []byte, at int, text string) bool {
	if strings.Count(text, ".") != 3 && strings.Count(text, ":") < 2 {
		return false
	}
	addr, err := netip.ParseAddr(text)
	if err != nil || !addr.IsGlobalUnicast() || addr.IsPrivate() {
		return false
	}
	context := contextOf(line, at)
	if addr.Is6() {
		return addr.As16()[0]>>5 == 1 // 2000::/3, what is given out
	}
	large := 0
	for _, octet := range addr.As4() {
		if octet >= 100 {
			large++
		}
	}
	first := addr.As4()[0]
	return first > 0 && first < 224 && !is(context, version, part, phone, card) && (is(context, network) || large >= 2)
}

// ofStation reports whether six octets can be the address of one device: IEEE 802 keeps
// those whose first octet is odd for groups, and zeros are nobody's.
func ofStation(text []byte) bool {
	return strings.IndexByte("02468aceACE", text[1]) >= 0 && len(bytes.Trim(text, "0:.-")) > 0
}

// joined reports whether the same mark goes on beyond a text, as in a longer dump.
func joined(line []byte, start, stop int) bool {
	sep := line[start+2]
	if stop-start == 14 {
		sep = line[start+4]
	}
	before := start > 1 && line[start-1] == sep && hex(line[start-2])
	after := stop+1 < len(line) && line[stop] == sep && hex(line[stop+1])
	return before || after
}

func hex(c byte) bool { return digit(c) || c >= 'a' && c <= 'f' || c >= 'A' && c <= 'F' }
