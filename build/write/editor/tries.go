package editor

import (
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// Tries of the pass phrase: a few at once, then one now and then.
const (
	triesAtOnce  = 5
	triesEvery   = 12 * time.Second
	maxAddresses = 4_096 // that are remembered
)

// tries counts the tries of the pass phrase by address, so that a stranger who
// guesses does not keep the owner out. The zero value is ready for use.
type tries struct {
	mu sync.Mutex
	by map[netip.Prefix]*rate.Limiter
}

// allow reports whether another try may be made from an address with a port.
func (t *tries) allow(remote string) bool {
	from := prefix(remote)
	t.mu.Lock()
	defer t.mu.Unlock()
	limit, ok := t.by[from]
	if !ok {
		if len(t.by) >= maxAddresses {
			t.forget()
		}
		if len(t.by) >= maxAddresses {
			return false
		}
		if t.by == nil {
			t.by = map[netip.Prefix]*rate.Limiter{}
		}
		limit = rate.NewLimiter(rate.Every(triesEvery), triesAtOnce)
		t.by[from] = limit
	}
	return limit.Allow()
}

// forget drops the addresses that have all their tries again.
func (t *tries) forget() {
	for from, limit := range t.by {
		if limit.Tokens() >= triesAtOnce {
			delete(t.by, from)
		}
	}
}

// prefix is what counts as one address: of IPv6 the 64 bits that one network has
// (RFC 4291 2.5.4), since a machine there may take any number of addresses.
func prefix(remote string) netip.Prefix {
	at, err := netip.ParseAddrPort(remote)
	if err != nil {
		return netip.Prefix{}
	}
	addr := at.Addr().Unmap()
	bits := addr.BitLen()
	if addr.Is6() {
		bits = 64
	}
	p, err := addr.WithZone("").Prefix(bits)
	if err != nil {
		return netip.Prefix{}
	}
	return p
}
