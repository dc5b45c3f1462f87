package editor

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/hex"
	"errors"
	"fmt"
	"net"
	"net/http"
	"sync"
	"time"

	"benchlore/build/notebook"
	"benchlore/build/output/label"
)

// phoneFor is for how long a phone may send pictures, and phoneMost how many
// requests.
const (
	phoneFor  = 10 * time.Minute
	phoneMost = 40
)

// phone is the door for pictures of a phone on the same network: another
// listener, opened on request for one case, that takes pictures and nothing
// else. Its address holds a token that is good for one phone, the first.
type phone struct {
	mu     sync.Mutex
	cancel context.CancelFunc
}

func (p *phone) stop() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.cancel != nil {
		p.cancel()
		p.cancel = nil
	}
}

// ownAddress is this machine's address on the local network.
func ownAddress() (string, error) {
	list, err := net.InterfaceAddrs()
	if err != nil {
		return "", err
	}
	for _, a := range list {
		if ip, ok := a.(*net.IPNet); ok && ip.IP.To4() != nil && ip.IP.IsPrivate() {
			return ip.IP.String(), nil
		}
	}
	return "", errors.New("this machine is on no local network that a phone could reach it by")
}

func token() (string, error) {
	var b [18]byte
	_, err := rand.Read(b[:])
	return hex.EncodeToString(b[:]), err
}

// startPhone opens the door and shows its address as a QR code.
func (s *Server) startPhone(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case) {
	address, err := ownAddress()
	if err != nil {
		refuse(w, http.StatusServiceUnavailable, err.Error())
		return
	}
	link, err := s.openPhone(n, c, net.JoinHostPort(address, "0"))
	if err != nil {
		s.fail(w, err)
		return
	}
	bits, err := label.Code(link)
	if err != nil {
		s.fail(w, err)
		return
	}
	s.json(w, http.StatusOK, map[string]any{"link": link, "minutes": int(phoneFor.Minutes()), "code": bits})
}

// openPhone listens for the pictures of one case and closes an earlier door.
func (s *Server) openPhone(n *notebook.Notebook, c *notebook.Case, on string) (link string, err error) {
	s.phone.stop()
	secret, err := token()
	if err != nil {
		return "", err
	}
	l, err := net.Listen("tcp", on)
	if err != nil {
		return "", err
	}
	ctx, cancel := context.WithTimeout(context.Background(), phoneFor)
	s.phone.mu.Lock()
	s.phone.cancel = cancel
	s.phone.mu.Unlock()
	go func() {
		defer cancel()
		_ = serve(ctx, l, s.phoneHandler(n, c, secret, l.Addr().String()))
	}()
	return "http://" + l.Addr().String() + "/" + secret, nil
}

// phoneHandler answers with one page and takes pictures. The token is exchanged
// for a cookie at the first visit and void from then on.
func (s *Server) phoneHandler(n *notebook.Notebook, c *notebook.Case, secret, host string) http.Handler {
	var mu sync.Mutex
	cookie, used, left := "", false, phoneMost
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cache-Control", "no-store")
		if r.Host != host {
			refuse(w, http.StatusMisdirectedRequest, "this is not the address of that code")
			return
		}
		mu.Lock()
		given, _ := r.Cookie("phone")
		known := used && given != nil && subtle.ConstantTimeCompare([]byte(given.Value), []byte(cookie)) == 1
		first := !used && subtle.ConstantTimeCompare([]byte(r.URL.Path), []byte("/"+secret)) == 1 && r.Method == http.MethodGet
		if first {
			used = true
			cookie, _ = token()
		}
		if first || known {
			left--
		}
		allowed := (first || known) && left >= 0
		mu.Unlock()
		switch {
		case !allowed:
			refuse(w, http.StatusNotFound, "this code is used up; ask for a new one on the sheet")
		case first:
			http.SetCookie(w, &http.Cookie{Name: "phone", Value: cookie, Path: "/", HttpOnly: true,
				SameSite: http.SameSiteStrictMode, MaxAge: int(phoneFor.Seconds())})
			s.render(w, http.StatusOK, "phone", map[string]any{"Title": "Pictures for " + c.ID(), "ID": c.ID()})
		case r.Method == http.MethodPost && r.URL.Path == "/":
			if origin := r.Header.Get("Origin"); origin != "" && origin != "http://"+host {
				refuse(w, http.StatusForbidden, "this request came from another page")
				return
			}
			if why := s.reading.Load(); why != nil {
				refuse(w, http.StatusLocked, s.whyReading(why))
				return
			}
			r.Body = http.MaxBytesReader(w, r.Body, maxPictures)
			names, problems, err := s.takePictures(c, r)
			if err == nil && len(names) > 0 {
				_, err = s.addPhotos(n, c, names)
			}
			if err != nil {
				s.fail(w, err)
				return
			}
			s.render(w, http.StatusOK, "phone",
				map[string]any{"Title": "Pictures for " + c.ID(), "ID": c.ID(),
					"Done": fmt.Sprintf("%d sent.", len(names)), "Problems": problems})
		case r.Method == http.MethodGet && r.URL.Path == "/":
			s.render(w, http.StatusOK, "phone", map[string]any{"Title": "Pictures for " + c.ID(), "ID": c.ID()})
		default:
			http.NotFound(w, r)
		}
	})
}
