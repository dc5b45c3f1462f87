package editor

import (
	"context"
	"errors"
	"html"
	"net/http"
	"os"
	"slices"
	"strings"
	"time"

	"benchlore/build/disk"
)

// reading is why a server only reads: another one writes, or the disk takes no write.
type reading struct {
	address  string // of the other, HOST:PORT; "" where it is not known
	readOnly bool   // the disk
	words    string // for the terminal
}

// looksAgain is how often a server that only reads looks whether it may write, and one
// that writes whether its mark is still there.
const looksAgain = 2 * time.Second

// Attend leaves the mark of this server, which listens on address, in the notebook. The
// error says in plain words why it only reads for now: another server writes in the same
// notebook, or the disk is read-only.
func (s *Server) Attend(address string) error {
	err := s.presence.Attend(disk.Folder(s.dir), address)
	var other *disk.Attended
	var now *reading
	switch why, _, _ := disk.Refused(err); {
	case errors.As(err, &other):
		now = &reading{address: other.Address, words: other.Error() + "; this one only shows it, and takes no change until that one has ended"}
	case why == disk.ReadOnly:
		now = &reading{readOnly: true, words: disk.Advice(err) + ". Until then the notebook is only shown"}
	default:
		err = nil // no mark can be left here; writes are compared where they are placed
	}
	s.reading.Store(now)
	if now == nil {
		return nil
	}
	return errors.New(now.words)
}

// attend looks again and again, and tells of what changed.
func (s *Server) attend(ctx context.Context, address string) {
	tick := time.NewTicker(looksAgain)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			s.lookAgain(address)
		}
	}
}

func (s *Server) lookAgain(address string) {
	before := s.reading.Load()
	err := s.Attend(address)
	switch {
	case before != nil && err == nil:
		s.told("nobody else writes in this notebook any more; this server takes changes now")
	case before == nil && err != nil:
		s.told(err.Error())
	}
}

// whyReading says on a page why nothing can be changed.
func (s *Server) whyReading(r *reading) string {
	switch {
	case r.readOnly:
		return s.say("The notebook's disk is read-only: everything is shown, and nothing can be changed. Make the disk writable, or copy the notebook to one that is.")
	case r.address == "":
		return s.say("Another server writes in this notebook: everything is shown, and nothing can be changed here until that one has ended.")
	}
	return s.say("Another server writes in this notebook, at %s: everything is shown, and nothing can be changed here until that one has ended.", "http://"+r.address+"/write/")
}

// changesNothing are the posts that write no file of the notebook.
var changesNothing = []string{"POST /write/enter", "POST /write/case/{id}/lay", "POST /write/case/{id}/meter"}

// writing answers only while this server may write, unless the pattern changes nothing.
func (s *Server) writing(pattern string, answer http.HandlerFunc) http.HandlerFunc {
	if !strings.HasPrefix(pattern, http.MethodPost) || slices.Contains(changesNothing, pattern) {
		return answer
	}
	return func(w http.ResponseWriter, r *http.Request) {
		if why := s.reading.Load(); why != nil {
			refuse(w, http.StatusLocked, s.whyReading(why))
			return
		}
		answer(w, r)
	}
}

// banner is the element of a page that says why nothing can be changed; what people wrote
// is escaped and never looks like it.
const banner = `<span id="why"></span>`

func (s *Server) withWhy(page string, r *reading) string {
	return strings.Replace(page, banner, `<span id="why">`+html.EscapeString(s.whyReading(r))+`</span>`, 1)
}

// ready answers what a page waits for: that changes are taken, and that no pages are being
// made.
func (s *Server) ready(w http.ResponseWriter, _ *http.Request) {
	s.publishing.Lock()
	made := s.making == nil
	s.publishing.Unlock()
	s.json(w, http.StatusOK, map[string]bool{"writing": s.reading.Load() == nil, "pages": made})
}

// making is a publication under way.
type making struct {
	of   *snapshot
	done chan struct{}
	err  error // once it is done
}

// errMaking is returned to somebody who is better told than left waiting.
var errMaking = errors.New("the pages are being made")

// patience is how long somebody who looks at a page waits for the first publication before
// being told of it.
const patience = time.Second

// publish has the pages brought up to date and returns their folder. It is made anew
// for each server, outside the notebook: whatever a notebook from somebody else
// brought along is not served. One publication is under way at a time, whoever asks and
// whoever gives up waiting for it; person says that a page can be shown meanwhile.
func (s *Server) publish(ctx context.Context, person bool) (string, error) {
	var tooLong <-chan time.Time
	for {
		now, err := s.current()
		if err != nil {
			return "", err
		}
		s.publishing.Lock()
		if s.published == now {
			defer s.publishing.Unlock()
			return s.pages, nil
		}
		if s.making == nil {
			s.making = &making{of: now, done: make(chan struct{})}
			go s.publication(s.making)
		}
		m, first := s.making, s.published == nil
		s.publishing.Unlock()
		if person && first && tooLong == nil {
			timer := time.NewTimer(s.patience)
			defer timer.Stop()
			tooLong = timer.C
		}
		select {
		case <-m.done:
			if m.of == now || s.life.Err() != nil {
				return s.pagesNow(), m.err
			}
		case <-tooLong:
			return "", errMaking
		case <-ctx.Done():
			return "", ctx.Err()
		}
	}
}

func (s *Server) pagesNow() string {
	s.publishing.Lock()
	defer s.publishing.Unlock()
	return s.pages
}

// publication makes the pages; it ends with the server, not with a request.
func (s *Server) publication(m *making) {
	s.publishing.Lock()
	pages := s.pages
	s.publishing.Unlock()
	if pages == "" {
		pages, m.err = os.MkdirTemp("", pagesPrefix)
	}
	if m.err == nil {
		s.publishing.Lock()
		s.pages = pages
		s.publishing.Unlock()
		m.err = s.make(s.life, m.of.book, pages)
	}
	s.publishing.Lock()
	if m.err == nil {
		s.published = m.of
	}
	s.making = nil
	s.publishing.Unlock()
	close(m.done)
}
