package editor

import (
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// Tries of the pass phrase: a few at once, then one now and then. All strangers together
// have a bucket of their own, so that many addresses do not guess faster than a few; an
// address that gave the phrase before, and this machine, are not slowed by it.
const (
	triesAtOnce, triesEvery       = 5, 12 * time.Second
	strangersAtOnce, strangersOne = 60, 2 * time.Second
	knownAtOnce, knownEvery       = 30, 2 * time.Second
	maxAddresses                  = 4_096 // that are remembered, of strangers and of those let in
)

// tries counts the tries of the pass phrase by address, so that a stranger who
// guesses does not keep the owner out. The zero value is ready for use.
type tries struct {
	now func() time.Time // nil for the clock

	mu        sync.Mutex
	strangers addresses
	known     addresses
	all       *rate.Limiter // of all strangers
}

// addresses are limits by address; the one that was longest not seen is forgotten first.
type addresses struct {
	by   map[netip.Prefix]*address
	turn int
}

type address struct {
	limit *rate.Limiter
	seen  int
}

// of is the limit of an address; a new one has all its tries.
func (a *addresses) of(from netip.Prefix, every time.Duration, atOnce int) *rate.Limiter {
	a.turn++
	if one, ok := a.by[from]; ok {
		one.seen = a.turn
		return one.limit
	}
	if a.by == nil {
		a.by = map[netip.Prefix]*address{}
	}
	if len(a.by) >= maxAddresses {
		var oldest netip.Prefix
		least := a.turn
		for p, one := range a.by {
			if one.seen < least {
				oldest, least = p, one.seen
			}
		}
		delete(a.by, oldest)
	}
	limit := rate.NewLimiter(rate.Every(every), atOnce)
	a.by[from] = &address{limit, a.turn}
	return limit
}

func (t *tries) clock() time.Time {
	if t.now == nil {
		return time.Now()
	}
	return t.now()
}

// allow reports whether another try may be made from an address with a port.
func (t *tries) allow(remote string) bool {
	from, now := prefix(remote), t.clock()
	t.mu.Lock()
	defer t.mu.Unlock()
	if _, known := t.known.by[from]; known || from.IsValid() && from.Addr().IsLoopback() {
		return t.known.of(from, knownEvery, knownAtOnce).AllowN(now, 1)
	}
	// An address that has no try left takes none from the others.
	if !t.strangers.of(from, triesEvery, triesAtOnce).AllowN(now, 1) {
		return false
	}
	if t.all == nil {
		t.all = rate.NewLimiter(rate.Every(strangersOne), strangersAtOnce)
	}
	return t.all.AllowN(now, 1)
}

// letIn remembers that the phrase was given from an address: what strangers try does not
// keep it out from now on.
func (t *tries) letIn(remote string) {
	from := prefix(remote)
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.strangers.by, from)
	t.known.of(from, knownEvery, knownAtOnce)
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
