package editor

import (
	"encoding/json"
	"errors"
	"io/fs"
	"net/http"
	"slices"
	"time"

	"benchlore/build/disk"
	"benchlore/build/notebook"
	"benchlore/schema/casefile"
)

// Open is a choice that is still to be made: a field that somebody else changed too, with
// what was typed for it. It is kept beside the file until the choice is made.
type Open struct {
	ID    string    `json:"id"` // made by the page that it arose on
	Field string    `json:"field"`
	Mine  string    `json:"mine"`
	At    time.Time `json:"at"`
}

// Limits of open choices of one case.
const (
	maxOpen   = 100
	maxOpenID = 40 // characters
)

// openPath is where the open choices of a case are kept.
func openPath(id string) string { return disk.Kept + "/drafts/open-" + id + ".json" }

// errManyOpen is returned where more choices are open than anybody could make.
var errManyOpen = errors.New("too many choices are open in this case; make some of them first")

// Opened returns the choices of a case that are still to be made, the oldest first.
func (s *Store) Opened(id string) (list []Open, err error) {
	text, err := s.folder().Read(openPath(id), 4*casefile.MaxSize)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err == nil {
		err = json.Unmarshal(text, &list)
	}
	return list, err
}

// open keeps a choice, or what it has now.
func (s *Store) open(id string, o Open) error {
	return s.editOpen(id, func(list []Open) ([]Open, error) {
		if i := slices.IndexFunc(list, func(x Open) bool { return x.ID == o.ID && x.Field == o.Field }); i >= 0 {
			list[i].Mine = o.Mine
			return list, nil
		}
		if len(list) >= maxOpen {
			return nil, errManyOpen
		}
		return append(list, o), nil
	})
}

// settle forgets a choice that was made.
func (s *Store) settle(id, open, field string) error {
	return s.editOpen(id, func(list []Open) ([]Open, error) {
		return slices.DeleteFunc(list, func(o Open) bool { return o.ID == open && o.Field == field }), nil
	})
}

func (s *Store) editOpen(id string, edit func([]Open) ([]Open, error)) error {
	defer s.enter()()
	had, err := s.Opened(id)
	if err != nil {
		return err
	}
	list, err := edit(had)
	if err != nil {
		return err
	}
	if len(list) == 0 {
		return s.folder().Remove(openPath(id))
	}
	text, err := json.Marshal(list)
	if err != nil {
		return err
	}
	return s.folder().Write(openPath(id), append(text, '\n'))
}

// postOpen keeps or forgets a choice of the sheet; a form without scripts settles it, too.
func (s *Server) postOpen(w http.ResponseWriter, r *http.Request, _ *notebook.Notebook, c *notebook.Case) {
	if !wantsJSON(r) {
		if err := s.store.settle(c.ID(), r.FormValue("id"), r.FormValue("field")); err != nil {
			s.fail(w, err)
			return
		}
		http.Redirect(w, r, "/write/case/"+c.ID(), http.StatusSeeOther)
		return
	}
	var in struct {
		ID, Field, Mine string
		Settled         bool
	}
	if err := json.NewDecoder(r.Body).Decode(&in); err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			s.fail(w, err)
			return
		}
		refuse(w, http.StatusBadRequest, "the choice cannot be read")
		return
	}
	if _, ok := FieldsOf(c.File)[in.Field]; !ok || in.ID == "" || len(in.ID) > maxOpenID {
		refuse(w, http.StatusBadRequest, "the choice cannot be read")
		return
	}
	var err error
	if in.Settled {
		err = s.store.settle(c.ID(), in.ID, in.Field)
	} else {
		err = s.store.open(c.ID(), Open{in.ID, in.Field, in.Mine, s.now()})
	}
	switch {
	case errors.Is(err, errManyOpen):
		refuse(w, http.StatusTooManyRequests, err.Error())
	case err != nil:
		s.fail(w, err)
	default:
		w.WriteHeader(http.StatusNoContent)
	}
}
