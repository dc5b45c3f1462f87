package exchange

import (
	"bufio"
	"io"
)

// keepBreaks hands CSV on with every CR LF inside a quoted cell written as
// CR CR LF. encoding/csv folds one CR before each LF, in quotes too, where RFC
// 4180 keeps it; so the cell comes out as it was.
type keepBreaks struct {
	r       *bufio.Reader
	state   cellState
	pending bool // a second CR is still to be given
}

type cellState uint8

const (
	cellStart  cellState = iota // a quote here opens a quoted cell
	cellPlain                   // quotes are ordinary signs
	cellQuoted                  // until the closing quote
	cellQuote                   // just after a quote in a quoted cell: doubled, or closing
)

// Read implements io.Reader.
func (k *keepBreaks) Read(p []byte) (n int, err error) {
	for n < len(p) {
		if k.pending {
			p[n] = '\r'
			n++
			k.pending = false
			continue
		}
		b, err := k.r.ReadByte()
		if err != nil {
			if n > 0 {
				return n, nil
			}
			return 0, err
		}
		k.step(b)
		p[n] = b
		n++
	}
	return n, nil
}

func (k *keepBreaks) step(b byte) {
	switch {
	case k.state == cellQuoted && b == '"':
		k.state = cellQuote
	case k.state == cellQuoted:
		if next, err := k.r.Peek(1); b == '\r' && err == nil && next[0] == '\n' {
			k.pending = true
		}
	case k.state == cellQuote && b == '"':
		k.state = cellQuoted
	case k.state == cellStart && b == '"':
		k.state = cellQuoted
	case b == ',' || b == '\n':
		k.state = cellStart
	default:
		k.state = cellPlain
	}
}

var _ io.Reader = (*keepBreaks)(nil)
