package disk

import (
	"fmt"
	"net/netip"
	"path/filepath"
	"strings"
	"sync"

	"github.com/gofrs/flock"
)

// Names of the mark of presence, and of the address that goes with it: on some systems a
// file that is locked cannot be read by others.
const (
	presenceName = before + "/writing.lock"
	addressName  = before + "/writing.address"
)

// Attended is the error for a notebook in which another server writes already. Address is
// where that one listens, as HOST:PORT; "" where it does not say.
type Attended struct{ Address string }

func (a *Attended) Error() string {
	if a.Address == "" {
		return "another server writes in this notebook"
	}
	return fmt.Sprintf("another server writes in this notebook, at http://%s/write/", a.Address)
}

// Presence is the mark that a writing server leaves in a notebook while it runs: a lock of
// the operating system, which ends with the process however that ends. Its zero value is
// absent; it is safe for concurrent use.
type Presence struct {
	mu   sync.Mutex
	lock *flock.Flock
}

// Attend leaves the mark of a server that listens on address, HOST:PORT, or looks whether
// the one that was left is still there. The error is an [*Attended] where another server
// was first, and what the disk says where no mark can be left: there nobody can be told
// apart, and every write is still compared where it is placed.
func (p *Presence) Attend(f Folder, address string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.lock != nil && stands(p.lock) {
		return nil
	}
	p.end()
	if err := f.MkdirAll(before); err != nil {
		return err
	}
	lock := LockFile(filepath.Join(string(f), filepath.FromSlash(presenceName)))
	held, err := lock.TryLock()
	if err != nil {
		_ = lock.Close()
		return err
	}
	if !held {
		_ = lock.Close()
		return &Attended{f.attendedAt()}
	}
	p.lock = lock
	_ = f.Write(addressName, []byte(address+"\n")) // without it the other is only not named
	return nil
}

// Leave takes the mark away.
func (p *Presence) Leave() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.end()
}

func (p *Presence) end() {
	if p.lock != nil {
		_ = p.lock.Close()
		p.lock = nil
	}
}

// attendedAt is the address that a server wrote down, if it is one.
func (f Folder) attendedAt() string {
	const most = 200
	text, err := f.Read(addressName, most)
	if err != nil {
		return ""
	}
	at, err := netip.ParseAddrPort(strings.TrimSpace(string(text)))
	if err != nil {
		return ""
	}
	return at.String()
}
