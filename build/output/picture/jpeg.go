package picture

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/bits"
	"sync"
)

// The quality of a JPEG that has to be decoded and encoded is what it had, within these, so
// that it does not grow for nothing. A progressive one has some ten scans.
const (
	leastQuality, mostQuality = 80, 95
	maxScans                  = 100
)

// cleanJPEG keeps a JPEG's coefficients where [recoded] can, and decodes and encodes it
// where not: a progressive one, one whose sides are no whole blocks and so has an edge
// that nobody sees, one with colours that are not the usual three, one that is turned.
func cleanJPEG(data []byte) ([]byte, error) {
	c, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, jpegError(err)
	}
	free, err := claim(c.Width, c.Height)
	if err != nil {
		return nil, err
	}
	defer free()
	turn := orientation(data)
	if turn < 2 || turn > 8 {
		if out, ok := recoded(data); ok {
			return out, nil
		}
	}
	if scans(data) > maxScans {
		return nil, fmt.Errorf("the JPEG has more than %d scans; save it anew", maxScans)
	}
	img, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, jpegError(err)
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, rotated(img, turn), &jpeg.Options{Quality: qualityOf(data)}); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// qualityOf tells a JPEG's quality by the mean of its first table of factors: that of T.81
// table K.1 is 57.6, and encoders scale it by 2 - quality/50.
func qualityOf(b []byte) int {
	at := bytes.Index(b, []byte{0xFF, 0xDB, 0x00})
	if at < 0 || at+69 > len(b) || b[at+4] != 0 {
		return mostQuality
	}
	sum := 0
	for _, q := range b[at+5 : at+69] {
		sum += int(q)
	}
	return min(max(int(math.Round(100-50*float64(sum)/64/57.6)), leastQuality), mostQuality)
}

// scans counts the scans of a JPEG, each of which goes over all pixels again.
func scans(b []byte) (n int) {
	for i := 2; i+4 <= len(b); {
		switch {
		case b[i] != 0xFF || b[i+1] == 0 || b[i+1] == 0xFF || b[i+1] >= 0xD0 && b[i+1] <= 0xD8: // within a scan
			i++
		case b[i+1] == 0xD9:
			return n
		default:
			if b[i+1] == 0xDA {
				n++
			}
			i += 2 + int(binary.BigEndian.Uint16(b[i+2:]))
		}
	}
	return n
}

func jpegError(err error) error {
	var unsupported jpeg.UnsupportedError
	if errors.As(err, &unsupported) {
		return fmt.Errorf("a JPEG of this sort cannot be decoded (%s); save it as baseline JPEG", string(unsupported))
	}
	return fmt.Errorf("the JPEG cannot be decoded: %w", err)
}

// baseline is a JPEG of one sequential scan (ITU-T T.81, annex F.1) whose blocks all show.
type baseline struct {
	width, height int
	components    []component
	across, down  int // MCUs
	quant         [4]*[64]byte
	tables        [2][4]*huffman // DC and AC, as they are read
	restart       int            // MCUs between restarts, 0 for none
	scan          []byte
	used          [4][64]bool // entries of quant that some coefficient is multiplied by
}

type component struct {
	id, h, v   byte
	quant      byte
	dc, ac     byte
	last, sent int // DC of the block before, as read and as written
}

// recoded writes a baseline JPEG anew, coefficient by coefficient: with the tables of
// codes of T.81 annex K, factors of 1 where no coefficient has one, no restarts, and
// nothing else. What it shows is the same to the last bit. ok is false where that is not
// possible or not certain, which is no error.
func recoded(data []byte) (out []byte, ok bool) {
	p := readBaseline(data)
	if p == nil {
		return nil, false
	}
	r := &bitReader{b: p.scan}
	w := &bitWriter{b: make([]byte, 0, len(data))}
	std := annexK()
	for mcu := range p.across * p.down {
		if p.restart > 0 && mcu > 0 && mcu%p.restart == 0 {
			if !r.restarts(byte((mcu/p.restart - 1) % 8)) {
				return nil, false
			}
			for i := range p.components {
				p.components[i].last = 0
			}
		}
		for i := range p.components {
			c := &p.components[i]
			for range int(c.h) * int(c.v) {
				if !p.block(c, r, w, &std[min(i, 1)]) {
					return nil, false
				}
			}
		}
	}
	if !r.ends() {
		return nil, false
	}
	w.flush()
	return append(append(p.header(), w.b...), 0xFF, 0xD9), true
}

// block reads one block of coefficients and writes it (T.81, F.1.2).
func (p *baseline) block(c *component, r *bitReader, w *bitWriter, std *[2]huffman) bool {
	var values [64]int
	size, ok := r.symbol(p.tables[0][c.dc])
	if !ok || size > 11 {
		return false
	}
	diff, ok := r.value(size)
	if !ok {
		return false
	}
	c.last += diff
	if c.last < -2047 || c.last > 2047 {
		return false
	}
	used := &p.used[c.quant]
	used[0] = used[0] || c.last != 0
	end := 0
	for k := 1; k < 64; k++ {
		s, ok := r.symbol(p.tables[1][c.ac])
		if !ok {
			return false
		}
		run, size := int(s>>4), s&15
		if size == 0 {
			if run == 0 {
				break
			}
			if run != 15 {
				return false
			}
			k += 15
			continue
		}
		if k += run; k > 63 || size > 10 {
			return false
		}
		if values[k], ok = r.value(size); !ok {
			return false
		}
		used[k], end = true, k
	}
	diff, c.sent = c.last-c.sent, c.last
	if bits.Len(uint(max(diff, -diff))) > 11 {
		return false
	}
	w.value(&std[0], 0, diff)
	run := 0
	for k := 1; k <= end; k++ {
		if values[k] == 0 {
			run++
			continue
		}
		for ; run > 15; run -= 16 {
			w.symbol(&std[1], 0xF0)
		}
		w.value(&std[1], byte(run)<<4, values[k])
		run = 0
	}
	if end < 63 {
		w.symbol(&std[1], 0)
	}
	return true
}

// readBaseline reads the segments up to the scan, nil where anything is not as plain as
// it has to be.
func readBaseline(b []byte) *baseline {
	p := &baseline{}
	for i := 2; i+4 <= len(b) && b[i] == 0xFF; {
		marker := b[i+1]
		if marker == 0xFF { // a fill byte
			i++
			continue
		}
		size := int(binary.BigEndian.Uint16(b[i+2:]))
		if size < 2 || i+2+size > len(b) {
			return nil
		}
		s := b[i+4 : i+2+size]
		i += 2 + size
		good := true
		switch {
		case marker == 0xC0:
			good = p.components == nil && p.frame(s)
		case marker == 0xC4:
			good = p.codes(s)
		case marker == 0xDB:
			good = p.factors(s)
		case marker == 0xDD:
			good = len(s) == 2
			if good {
				p.restart = int(binary.BigEndian.Uint16(s))
			}
		case marker == 0xEE && bytes.HasPrefix(s, []byte("Adobe")): // its last byte says which colours they are
			good = len(s) == 12 && s[11] == 1
		case marker >= 0xE0 && marker <= 0xEF, marker == 0xFE:
		case marker == 0xDA:
			if !p.begin(s) {
				return nil
			}
			p.scan = b[i:]
			return p
		default:
			good = false
		}
		if !good {
			return nil
		}
	}
	return nil
}

// frame reads SOF0 (T.81, B.2.2).
func (p *baseline) frame(s []byte) bool {
	if len(s) < 6 || s[0] != 8 || len(s) != 6+3*int(s[5]) || s[5] != 1 && s[5] != 3 {
		return false
	}
	p.height, p.width = int(binary.BigEndian.Uint16(s[1:])), int(binary.BigEndian.Uint16(s[3:]))
	for k := 6; k < len(s); k += 3 {
		p.components = append(p.components, component{id: s[k], h: s[k+1] >> 4, v: s[k+1] & 15, quant: s[k+2]})
	}
	first := &p.components[0]
	if len(p.components) == 1 {
		first.h, first.v = 1, 1 // T.81, A.2.2: one component alone is not interleaved
	}
	if first.h < 1 || first.h > 2 || first.v < 1 || first.v > 2 {
		return false
	}
	for i, c := range p.components {
		if c.quant > 3 || i > 0 && (c.h != 1 || c.v != 1) {
			return false
		}
	}
	if len(p.components) == 3 && (first.id == 'R' || first.id == p.components[1].id || first.id == p.components[2].id ||
		p.components[1].id == p.components[2].id) {
		return false
	}
	w, h := 8*int(first.h), 8*int(first.v)
	if p.width == 0 || p.height == 0 || p.width%w != 0 || p.height%h != 0 {
		return false
	}
	p.across, p.down = p.width/w, p.height/h
	return true
}

// factors reads DQT (T.81, B.2.4.1).
func (p *baseline) factors(s []byte) bool {
	for ; len(s) > 0; s = s[65:] {
		if len(s) < 65 || s[0] > 3 || bytes.IndexByte(s[1:65], 0) >= 0 {
			return false
		}
		p.quant[s[0]] = (*[64]byte)(s[1:65])
	}
	return true
}

// codes reads DHT (T.81, B.2.4.2).
func (p *baseline) codes(s []byte) bool {
	for len(s) > 0 {
		if len(s) < 17 || s[0]>>4 > 1 || s[0]&15 > 3 {
			return false
		}
		n := 0
		for _, c := range s[1:17] {
			n += int(c)
		}
		if n > 256 || len(s) < 17+n {
			return false
		}
		h := newHuffman(s[1:17], s[17:17+n])
		if h == nil {
			return false
		}
		p.tables[s[0]>>4][s[0]&15] = h
		s = s[17+n:]
	}
	return true
}

// begin reads SOS (T.81, B.2.3): one scan of all components.
func (p *baseline) begin(s []byte) bool {
	n := len(p.components)
	if n == 0 || len(s) != 4+2*n || int(s[0]) != n || !bytes.Equal(s[1+2*n:], []byte{0, 63, 0}) {
		return false
	}
	for i := range p.components {
		c := &p.components[i]
		c.dc, c.ac = s[2+2*i]>>4, s[2+2*i]&15
		if s[1+2*i] != c.id || c.dc > 3 || c.ac > 3 || p.tables[0][c.dc] == nil || p.tables[1][c.ac] == nil || p.quant[c.quant] == nil {
			return false
		}
	}
	return true
}

// header is all before the scan as it is written.
func (p *baseline) header() []byte {
	out := []byte("\xFF\xD8\xFF\xE0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00")
	var order []byte
	number := func(old byte) byte {
		n := bytes.IndexByte(order, old)
		if n < 0 {
			n = len(order)
			order = append(order, old)
		}
		return byte(n)
	}
	n := byte(len(p.components))
	frame := []byte{0xFF, 0xC0, 0, 8 + 3*n, 8, byte(p.height >> 8), byte(p.height), byte(p.width >> 8), byte(p.width), n}
	scan := []byte{0xFF, 0xDA, 0, 6 + 2*n, n}
	for i, c := range p.components {
		frame = append(frame, byte(i+1), c.h<<4|c.v, number(c.quant))
		table := byte(min(i, 1))
		scan = append(scan, byte(i+1), table<<4|table)
	}
	for i, old := range order {
		out = append(out, 0xFF, 0xDB, 0, 67, byte(i))
		for k, q := range p.quant[old] {
			if !p.used[old][k] {
				q = 1
			}
			out = append(out, q)
		}
	}
	out = append(out, frame...)
	std := annexK()
	for i := range min(len(p.components), 2) {
		for class := range 2 {
			h := &std[i][class]
			out = append(out, 0xFF, 0xC4, 0, byte(19+len(h.symbols)), byte(class<<4|i))
			out = append(append(out, h.counts...), h.symbols...)
		}
	}
	return append(append(out, scan...), 0, 63, 0)
}

// huffman is a table of codes: by the next 16 bits for reading, by symbol for writing.
type huffman struct {
	counts, symbols []byte
	read            []uint16 // length << 8 | symbol, 0 for no code
	code            [256]uint16
	length          [256]uint8
}

// newHuffman makes the codes of T.81 annex C; nil where they are none.
func newHuffman(counts, symbols []byte) *huffman {
	h := &huffman{counts: counts, symbols: symbols, read: make([]uint16, 1<<16)}
	code, k := 0, 0
	for length := 1; length <= 16; length++ {
		for range counts[length-1] {
			if code >= 1<<length {
				return nil
			}
			s := symbols[k]
			h.code[s], h.length[s] = uint16(code), uint8(length)
			for j := code << (16 - length); j < (code+1)<<(16-length); j++ {
				h.read[j] = uint16(length)<<8 | uint16(s)
			}
			code++
			k++
		}
		code <<= 1
	}
	return h
}

// annexK are the usual tables of T.81 annex K.3, DC and AC for luma and for chroma, as
// the library's encoder writes them.
var annexK = sync.OnceValue(func() (std [2][2]huffman) {
	var b bytes.Buffer
	tiny := image.NewRGBA(image.Rect(0, 0, 16, 16))
	tiny.Set(0, 0, color.White)
	if err := jpeg.Encode(&b, tiny, nil); err != nil {
		panic(err) // it is written to memory
	}
	p := readBaseline(b.Bytes())
	for class := range 2 {
		for i := range 2 {
			std[i][class] = *p.tables[class][i]
		}
	}
	return std
})

// bitReader reads the bits of a scan (T.81, F.2.2.5): the zero after 0xFF goes, and a
// marker ends it.
type bitReader struct {
	b    []byte
	i    int
	bits uint64
	n    int // bits at hand
	over int // bits at hand that no byte gave
}

func (r *bitReader) fill() {
	for r.n <= 48 {
		next, real := byte(0xFF), false
		if r.i < len(r.b) && (r.b[r.i] != 0xFF || r.i+1 < len(r.b) && r.b[r.i+1] == 0) {
			next, real = r.b[r.i], true
			if r.i++; next == 0xFF {
				r.i++
			}
		}
		if !real {
			r.over += 8
		}
		r.bits, r.n = r.bits<<8|uint64(next), r.n+8
	}
}

func (r *bitReader) symbol(h *huffman) (byte, bool) {
	if r.n < 16 {
		r.fill()
	}
	e := h.read[uint16(r.bits>>(r.n-16))]
	r.n -= int(e >> 8)
	return byte(e), e != 0 && r.n >= r.over
}

// value reads a number of so many bits (T.81, F.2.2.1).
func (r *bitReader) value(size byte) (int, bool) {
	if size == 0 {
		return 0, true
	}
	if r.n < 16 {
		r.fill()
	}
	r.n -= int(size)
	v := int(r.bits>>r.n) & (1<<size - 1)
	if v < 1<<(size-1) {
		v -= 1<<size - 1
	}
	return v, r.n >= r.over
}

// restarts steps over the marker RSTn; false where it does not stand there.
func (r *bitReader) restarts(n byte) bool {
	if r.n-r.over >= 8 || r.i+2 > len(r.b) || r.b[r.i] != 0xFF || r.b[r.i+1] != 0xD0+n {
		return false
	}
	r.i += 2
	r.bits, r.n, r.over = 0, 0, 0
	return true
}

// ends reports whether the picture ends here, with nothing before the end that a decoder
// would read as a part of it: stray bytes, comments and segments of applications are none.
func (r *bitReader) ends() bool {
	for i := r.i; i+2 <= len(r.b); {
		next := r.b[i+1]
		switch {
		case r.b[i] != 0xFF || next == 0 || next == 0xFF:
			i++
		case next == 0xD9:
			return true
		case next == 0xFE || next >= 0xE0 && next <= 0xEF:
			if i+4 > len(r.b) {
				return false
			}
			i += 2 + max(2, int(binary.BigEndian.Uint16(r.b[i+2:])))
		default:
			return false
		}
	}
	return false
}

type bitWriter struct {
	b    []byte
	bits uint32
	n    int
}

func (w *bitWriter) put(v uint32, n int) {
	w.bits, w.n = w.bits<<n|v, w.n+n
	for w.n >= 8 {
		next := byte(w.bits >> (w.n - 8))
		if w.b = append(w.b, next); next == 0xFF {
			w.b = append(w.b, 0)
		}
		w.n -= 8
	}
	w.bits &= 1<<w.n - 1
}

func (w *bitWriter) symbol(h *huffman, s byte) { w.put(uint32(h.code[s]), int(h.length[s])) }

// value writes the symbol of a number, with what is before it in the upper half, and its
// bits.
func (w *bitWriter) value(h *huffman, upper byte, v int) {
	size := bits.Len(uint(max(v, -v)))
	w.symbol(h, upper|byte(size))
	if v < 0 {
		v += 1<<size - 1
	}
	if size > 0 {
		w.put(uint32(v), size)
	}
}

// flush fills the last byte with ones (T.81, F.1.2.3).
func (w *bitWriter) flush() {
	if w.n > 0 {
		w.put(1<<(8-w.n)-1, 8-w.n)
	}
}
