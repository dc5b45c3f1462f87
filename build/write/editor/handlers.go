package editor

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strings"
	"time"

	"benchlore/build/notebook"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/terms"
)

// home lists what is open and begins cases.
func (s *Server) home(w http.ResponseWriter, r *http.Request) {
	n, err := s.notebook()
	if err != nil {
		s.fail(w, err)
		return
	}
	s.render(w, http.StatusOK, "home", s.homePage(n, nil, ""))
}

// begin writes a new case from a title, a device and plain words.
func (s *Server) begin(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.fail(w, err)
		return
	}
	n, err := s.notebook()
	if err != nil {
		s.fail(w, err)
		return
	}
	form := r.PostForm
	again := func(message string) {
		s.render(w, http.StatusUnprocessableEntity, "home", s.homePage(n, form, message))
	}
	k := casefile.Case{Title: oneLine(form.Get("title")), Opened: s.now().Format(time.DateOnly), By: oneLine(form.Get("by"))}
	if k.Title == "" {
		again("Say in one line what the owner noticed.")
		return
	}
	device := oneLine(form.Get("device"))
	if d, ok := n.Device(device); ok && d.Record != nil {
		k.Device.ID = d.ID
	} else if device != "" {
		for _, d := range n.Devices {
			if d.Record != nil && strings.EqualFold(d.Name(n.Terms), device) {
				k.Device.ID = d.ID
			}
		}
		if k.Device.ID == "" {
			if ids, err := n.FindTerms(terms.Kind, []string{device}); err == nil && len(ids) > 0 {
				k.Device.Kind = ids[0]
			} else {
				again(fmt.Sprintf("%q is neither a device of the notebook nor a kind of device, such as lamp or laptop.", device))
				return
			}
		}
	} else {
		again("Say what is on the bench: a device of the notebook, or a kind such as lamp or laptop.")
		return
	}
	k.Symptoms = []string{} // what the title means is offered on the page, and kept when it is taken
	path, problems, err := n.Write(notebook.Draft{Case: k})
	if errors.Is(err, notebook.ErrProblems) {
		again(problems[0].Message)
		return
	}
	if err != nil {
		s.fail(w, err)
		return
	}
	http.Redirect(w, r, "/write/case/"+idOf(path), http.StatusSeeOther)
}

// idOf reads the id from the path of a case that was just written.
func idOf(p string) string {
	base := strings.TrimSuffix(path.Base(strings.ReplaceAll(p, "\\", "/")), ".md")
	parts := strings.SplitN(base, "-", 3)
	return strings.Join(parts[:min(2, len(parts))], "-")
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// read gives the case as its file is now, whatever state it is in.
func (s *Server) read(c *notebook.Case) (*casefile.File, []diagnostic.Diagnostic, []byte, error) {
	data, err := s.store.Read(c.Path)
	if err != nil {
		return nil, nil, nil, err
	}
	f, list := casefile.Parse(c.Path, data)
	return f, list, data, nil
}

// readable is the case as its file is now. Where that is no case, it has been
// answered.
func (s *Server) readable(w http.ResponseWriter, c *notebook.Case) (*casefile.File, bool) {
	f, _, _, err := s.read(c)
	if err != nil || f == nil {
		s.fail(w, cmp.Or(err, errUnreadable))
		return nil, false
	}
	return f, true
}

func (s *Server) sheet(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case) {
	f, _, data, err := s.read(c)
	if err != nil {
		s.fail(w, err)
		return
	}
	if f == nil {
		http.Redirect(w, r, "/write/case/"+url.PathEscape(c.ID())+"/source", http.StatusSeeOther)
		return
	}
	s.render(w, http.StatusOK, "sheet", s.sheetPage(n, c, f, data, nil, nil))
}

// answer is what a change is answered with.
type answer struct {
	Version   Version    `json:"version"`
	Fields    Fields     `json:"fields"`
	Conflicts []Conflict `json:"conflicts,omitempty"`
	Refused   []Refusal  `json:"refused,omitempty"`
	Checked   checked    `json:"checked"`
	Saved     string     `json:"saved"`
	Back      int        `json:"back"`
	Forward   int        `json:"forward"`
}

// change takes the fields that a page changed.
func (s *Server) change(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case) {
	var in struct {
		Changes map[string]Change `json:"changes"`
	}
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	if err := d.Decode(&in); err != nil {
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			s.fail(w, err)
			return
		}
		refuse(w, http.StatusBadRequest, "the change cannot be read")
		return
	}
	a, code, err := s.apply(n, c, in.Changes)
	if err != nil {
		s.fail(w, err)
		return
	}
	s.json(w, code, a)
}

// overtaken is how often a change is merged again because another writer was
// quicker, before it has the file to itself.
const overtaken = 3

// apply merges changes into the file; another writer between reading and
// writing only makes it merge again.
func (s *Server) apply(n *notebook.Notebook, c *notebook.Case, changes map[string]Change) (answer, int, error) {
	var next *casefile.File
	var conflicts []Conflict
	var refused []Refusal
	merge := func(have []byte) ([]byte, error) {
		f, _ := casefile.Parse(c.Path, have)
		if f == nil {
			return nil, errUnreadable
		}
		next, conflicts, refused = merge(f, changes)
		return next.Bytes(), nil
	}
	err := errChanged
	for range overtaken {
		have, readErr := s.store.Read(c.Path)
		if readErr != nil {
			return answer{}, 0, readErr
		}
		merged, mergeErr := merge(have)
		if mergeErr != nil {
			return answer{}, 0, mergeErr
		}
		if err = s.store.Save(c.ID(), c.Path, VersionOf(have), merged); !errors.Is(err, errChanged) {
			break
		}
	}
	if errors.Is(err, errChanged) {
		err = s.store.Update(c.ID(), c.Path, merge)
	}
	if err != nil {
		return answer{}, 0, err
	}
	a := s.answer(n, c, next)
	a.Conflicts, a.Refused = conflicts, refused
	code := http.StatusOK
	if len(conflicts) > 0 {
		code = http.StatusConflict
	}
	return a, code, nil
}

func (s *Server) answer(n *notebook.Notebook, c *notebook.Case, f *casefile.File) answer {
	a := answer{Version: VersionOf(f.Bytes()), Fields: FieldsOf(f), Checked: s.check(n, c, f), Saved: s.now().Format("15:04:05")}
	a.Back, a.Forward = s.store.Steps(c.ID())
	return a
}

// state answers whether a page has the file as it is now.
func (s *Server) state(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case) {
	f, _, data, err := s.read(c)
	if err != nil {
		s.fail(w, err)
		return
	}
	if string(VersionOf(data)) == r.URL.Query().Get("version") {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	if f == nil {
		s.fail(w, errUnreadable)
		return
	}
	s.json(w, http.StatusOK, s.answer(n, c, f))
}

// postSheet is the whole sheet of a page without scripts.
func (s *Server) postSheet(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case) {
	if err := r.ParseForm(); err != nil {
		s.fail(w, err)
		return
	}
	f, _, _, err := s.read(c)
	if err != nil {
		s.fail(w, err)
		return
	}
	if f == nil {
		s.fail(w, errUnreadable)
		return
	}
	// The fields as the page was made from are those of its version, where that
	// is still known; otherwise whatever differs is shown.
	base := Fields{}
	if old, ok := s.store.Version(c.ID(), Version(r.PostForm.Get("version"))); ok {
		if was := casefile.Read(c.Path, old); was != nil {
			base = FieldsOf(was)
		}
	} else if string(VersionOf(f.Bytes())) == r.PostForm.Get("version") {
		base = FieldsOf(f)
	}
	changes := map[string]Change{}
	typed := Fields{}
	for key := range FieldsOf(f) {
		if !r.PostForm.Has(key) && !strings.HasPrefix(key, tablePrefix) {
			continue
		}
		value := r.PostForm.Get(key)
		if name, ok := strings.CutPrefix(key, tablePrefix); ok {
			value = tableOfForm(r.PostForm, name, f.Table(name).Columns)
		}
		if field, _ := casefile.FieldAt(key); field.Kind == casefile.Words {
			value = plainWords(n, field.Class, value)
		}
		typed[key] = value
		if !sameField(key, base[key], value) {
			changes[key] = Change{base[key], value}
		}
	}
	a, code, err := s.apply(n, c, changes)
	if err != nil {
		s.fail(w, err)
		return
	}
	if code == http.StatusOK && len(a.Refused) == 0 {
		http.Redirect(w, r, "/write/case/"+url.PathEscape(c.ID())+"?saved", http.StatusSeeOther)
		return
	}
	for _, x := range a.Conflicts {
		o := Open{string(VersionOf([]byte(x.Field + "\x00" + x.Mine))), x.Field, x.Mine, s.now()}
		if err := s.store.open(c.ID(), o); err != nil && !errors.Is(err, errManyOpen) {
			s.fail(w, err)
			return
		}
	}
	f, _, data, err := s.read(c)
	if err != nil {
		s.fail(w, err)
		return
	}
	s.render(w, http.StatusConflict, "sheet", s.sheetPage(n, c, f, data, a.Conflicts, a.Refused))
}

// plainWords turns words typed into a list field into terms; what means nothing
// stays, for check to name.
func plainWords(n *notebook.Notebook, class terms.Class, text string) string {
	var out []string
	for _, w := range casefile.SplitWords(text) {
		found, err := n.FindTerms(class, []string{w})
		if err != nil {
			found = []string{w}
		}
		out = append(out, found...)
	}
	return strings.Join(out, ", ")
}

// tableOfForm reads the cells of a form without scripts, named
// "Findings.3.check".
func tableOfForm(form url.Values, name string, columns []string) string {
	t := casefile.Table{Columns: columns, Rows: [][]string{}}
	for row := range maxRows {
		cells := make([]string, len(columns))
		any := false
		for i, column := range columns {
			key := fmt.Sprintf("%s.%d.%s", name, row, column)
			any = any || form.Has(key)
			cells[i] = form.Get(key)
		}
		if !any {
			break
		}
		t.Rows = append(t.Rows, cells)
	}
	return tableText(t)
}

// words finds terms in plain words while they are typed.
func (s *Server) words(w http.ResponseWriter, r *http.Request) {
	n, err := s.notebook()
	if err != nil {
		s.fail(w, err)
		return
	}
	class := terms.Class(r.URL.Query().Get("class"))
	text := r.URL.Query().Get("text")
	if !slices.Contains(terms.Classes, class) || len(text) > 300 {
		refuse(w, http.StatusBadRequest, "no such class of words")
		return
	}
	type word struct {
		ID      string `json:"id"`
		Name    string `json:"name"`
		Meaning string `json:"meaning"`
		Caution string `json:"caution,omitempty"`
	}
	out := []word{}
	add := func(t *terms.Term) {
		if !slices.ContainsFunc(out, func(x word) bool { return x.ID == t.ID }) && len(out) < 8 {
			out = append(out, word{t.ID, t.Name, t.Meaning, t.Caution})
		}
	}
	if t, ok := n.Terms.Resolve(class, text); ok {
		add(t)
	}
	for _, m := range n.Terms.Recognise(class, text) {
		add(m.Term)
	}
	low := strings.ToLower(strings.TrimSpace(text))
	if len(low) >= 2 {
		for _, t := range n.Terms.All(class) {
			if slices.ContainsFunc(append([]string{t.ID, t.Name}, t.Also...),
				func(x string) bool { return strings.Contains(strings.ToLower(x), low) }) {
				add(t)
			}
		}
		for _, t := range n.Terms.Suggest(class, text) {
			add(t)
		}
	}
	s.json(w, http.StatusOK, out)
}

// source shows the Markdown itself.
func (s *Server) source(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case) {
	_, _, data, err := s.read(c)
	if err != nil {
		s.fail(w, err)
		return
	}
	if wantsJSON(r) {
		s.json(w, http.StatusOK, map[string]any{"version": VersionOf(data), "text": string(data)})
		return
	}
	s.render(w, http.StatusOK, "source", s.sourcePage(n, c, string(data), VersionOf(data), ""))
}

// postSource takes the whole source. It goes into the file when it can be read
// as this case and nobody changed the file meanwhile; otherwise into the
// journal, and the page is told why.
func (s *Server) postSource(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case) {
	if err := r.ParseForm(); err != nil {
		s.fail(w, err)
		return
	}
	text := r.PostForm.Get("text")
	have, err := s.store.Read(c.Path)
	if err != nil {
		s.fail(w, err)
		return
	}
	if !bytes.Contains(have, []byte("\r\n")) {
		text = strings.ReplaceAll(text, "\r\n", "\n") // forms send CR LF
	}
	f, list := casefile.Parse(c.Path, []byte(text))
	problem, code := "", http.StatusOK
	switch {
	case f == nil:
		problem, code = "kept aside, not in the file yet: "+list[len(list)-1].Message, http.StatusUnprocessableEntity
	case f.Case.ID != c.ID():
		problem, code = fmt.Sprintf("kept aside, not in the file: the number of a case stays; write case: %s",
			c.ID()), http.StatusUnprocessableEntity
	default:
		err = s.store.Save(c.ID(), c.Path, Version(r.PostForm.Get("version")), []byte(text))
		if errors.Is(err, errChanged) {
			problem, code = "kept aside, not in the file: it was changed elsewhere in the meantime; both are below", http.StatusConflict
		} else if err != nil {
			s.fail(w, err)
			return
		}
	}
	if code != http.StatusOK {
		if err := s.store.keepHalfTyped(c.ID(), []byte(text)); err != nil {
			s.fail(w, err)
			return
		}
	}
	if wantsJSON(r) {
		out := map[string]any{"problem": problem, "theirs": string(have), "version": VersionOf(have)}
		if code == http.StatusOK {
			a := s.answer(n, c, f)
			out = map[string]any{"version": a.Version, "checked": a.Checked, "saved": a.Saved, "fields": a.Fields}
		} else if f == nil && len(list) > 0 {
			out["line"] = list[len(list)-1].Line
		}
		s.json(w, code, out)
		return
	}
	if code == http.StatusOK {
		http.Redirect(w, r, "/write/case/"+url.PathEscape(c.ID())+"/source", http.StatusSeeOther)
		return
	}
	p := s.sourcePage(n, c, text, VersionOf(have), problem)
	if code == http.StatusConflict {
		p.Theirs = string(have)
	}
	s.render(w, code, "source", p)
}

func (s *Server) undo(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case) {
	by := -1
	if r.FormValue("redo") != "" {
		by = 1
	}
	if err := s.store.undo(c.ID(), c.Path, by); err != nil {
		refuse(w, http.StatusConflict, err.Error())
		return
	}
	if !wantsJSON(r) {
		http.Redirect(w, r, "/write/case/"+url.PathEscape(c.ID()), http.StatusSeeOther)
		return
	}
	f, ok := s.readable(w, c)
	if !ok {
		return
	}
	s.json(w, http.StatusOK, s.answer(n, c, f))
}

// postKept takes up or drops what the journal kept of a case.
func (s *Server) postKept(w http.ResponseWriter, r *http.Request, _ *notebook.Notebook, c *notebook.Case) {
	kept, ok := s.store.Kept(c.ID(), c.Path)
	if !ok {
		http.Redirect(w, r, "/write/case/"+url.PathEscape(c.ID()), http.StatusSeeOther)
		return
	}
	if r.FormValue("take") != "" {
		f, list := casefile.Parse(c.Path, kept)
		if f == nil || f.Case.ID != c.ID() {
			message := "it is another case"
			if len(list) > 0 {
				message = list[len(list)-1].Message
			}
			refuse(w, http.StatusUnprocessableEntity, "the text that was kept cannot be read as this case: "+message)
			return
		}
		have, err := s.store.Read(c.Path)
		if err == nil {
			err = s.store.Save(c.ID(), c.Path, VersionOf(have), kept)
		}
		if err != nil {
			s.fail(w, err)
			return
		}
	} else if err := s.store.drop(c.ID()); err != nil {
		s.fail(w, err)
		return
	}
	http.Redirect(w, r, "/write/case/"+url.PathEscape(c.ID()), http.StatusSeeOther)
}

// closing is the last sheet of a case.
func (s *Server) closing(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case) {
	f, ok := s.readable(w, c)
	if !ok {
		return
	}
	s.render(w, http.StatusOK, "closing", s.closingPage(n, c, f))
}

// postClose sets the day, unless something stands against it that a closed case
// must have.
func (s *Server) postClose(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case) {
	f, ok := s.readable(w, c)
	if !ok {
		return
	}
	day := cmp.Or(f.Case.Closed, s.now().Format(time.DateOnly))
	next, err := f.Set("closed", day)
	if err == nil && next.Case.Outcome == "" {
		next, err = next.Set("outcome", "unknown")
	}
	if err != nil {
		s.fail(w, err)
		return
	}
	if list := s.problems(n, c, next); diagnostic.Count(list, diagnostic.Error) > 0 {
		s.render(w, http.StatusUnprocessableEntity, "closing", s.closingPage(n, c, f))
		return
	}
	if err := s.store.Save(c.ID(), c.Path, VersionOf(f.Bytes()), next.Bytes()); err != nil {
		s.fail(w, err)
		return
	}
	http.Redirect(w, r, "/cases/"+url.PathEscape(c.ID())+".html", http.StatusSeeOther)
}

// comeback opens a new case from one that came back.
func (s *Server) comeback(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case) {
	k := &c.File.Case
	draft := casefile.Case{Title: k.Title, Device: k.Device, Board: k.Board, Symptoms: k.Symptoms, Hazards: k.Hazards,
		By: k.By, Returns: c.ID(), Opened: s.now().Format(time.DateOnly)}
	if draft.Opened < k.Opened {
		draft.Opened = k.Opened
	}
	path, problems, err := n.Write(notebook.Draft{Case: draft})
	if errors.Is(err, notebook.ErrProblems) {
		refuse(w, http.StatusUnprocessableEntity, problems[0].Message)
		return
	}
	if err != nil {
		s.fail(w, err)
		return
	}
	http.Redirect(w, r, "/write/case/"+idOf(path), http.StatusSeeOther)
}

func (s *Server) pastVersions(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case) {
	s.render(w, http.StatusOK, "history", s.historyPage(n, c))
}

func (s *Server) postRestore(w http.ResponseWriter, r *http.Request, _ *notebook.Notebook, c *notebook.Case) {
	if err := s.store.Restore(c.ID(), c.Path, Version(r.FormValue("version"))); err != nil {
		s.fail(w, err)
		return
	}
	http.Redirect(w, r, "/write/case/"+url.PathEscape(c.ID()), http.StatusSeeOther)
}
