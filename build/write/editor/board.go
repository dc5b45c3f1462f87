package editor

import (
	"encoding/json"
	"net/http"

	"benchlore/build/notebook"
	"benchlore/build/reason/boards"
	"benchlore/build/reason/pins"
	"benchlore/build/reason/verdict"
	"benchlore/schema/board"
	"benchlore/schema/casefile"
)

// onBoard answers with a case as it is being written and the board that it is about.
func (s *Server) onBoard(answer func(http.ResponseWriter, *http.Request, *notebook.Notebook, *notebook.Case, *notebook.Board)) http.HandlerFunc {
	return s.onCase(func(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case) {
		f, _, _, err := s.read(c)
		if err != nil || f == nil {
			s.fail(w, errUnreadable)
			return
		}
		next := n.With(c, f)
		b, ok := next.Board()
		if !ok {
			refuse(w, http.StatusUnprocessableEntity, "the notebook has no parts list of this case's board; `benchlore board add` reads one")
			return
		}
		answer(w, r, n, next, b)
	})
}

// laid is what became of the points of a picture.
type laid struct {
	Laid   bool      `json:"laid"`
	Within float64   `json:"within"` // mm
	Sure   bool      `json:"sure"`   // more than four points
	Off    []float64 `json:"off"`    // mm, of each point
	Left   []int     `json:"left"`
	Said   []string  `json:"said"`
}

// placePicture says how well a picture's points lay it onto the board. It writes nothing: the
// points are a field of the case as any other.
func (s *Server) placePicture(w http.ResponseWriter, r *http.Request, _ *notebook.Notebook, c *notebook.Case, b *notebook.Board) {
	var in struct {
		File, Side string
		Points     []pinField
	}
	if err := json.NewDecoder(r.Body).Decode(&in); err != nil {
		refuse(w, http.StatusBadRequest, "the points cannot be read")
		return
	}
	data, err := s.photo(c, in.File)
	if err != nil {
		s.fail(w, err)
		return
	}
	var points []casefile.PhotoPoint
	for _, p := range in.Points {
		points = append(points, casefile.PhotoPoint(p))
	}
	p, said, ok := boards.Lay(b, in.Side, points, data)
	out := laid{Laid: ok, Off: []float64{}, Left: []int{}, Said: []string{}}
	for _, one := range said {
		out.Said = append(out.Said, one.Message)
	}
	if ok {
		out.Within, out.Sure, out.Off = p.Fit.RMS, p.Fit.Checked, p.Fit.Off
		out.Left = append(out.Left, p.Fit.Left...)
	}
	s.json(w, http.StatusOK, out)
}

// pinAsked is a pin with what a good board shows there.
type pinAsked struct {
	Pin  string `json:"pin"`
	Net  string `json:"net"`
	Good string `json:"good"`
}

// pins lists the pins of a part in order, with what is known of them in a mode and state,
// for readings that are taken pin after pin.
func (s *Server) pins(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case, b *notebook.Board) {
	p, _, err := boards.FindPin(b.Board, r.FormValue("part"))
	if err != nil {
		refuse(w, http.StatusUnprocessableEntity, err.Error())
		return
	}
	good := map[string]string{}
	for _, t := range pins.Tables(n, verdict.New(n), c.Device, b) {
		for i := range t.Rows {
			if row := &t.Rows[i]; row.Is(r.FormValue("what"), r.FormValue("state")) && row.Shows() != "" {
				good[row.Pin] = row.Shows()
			}
		}
	}
	out := []pinAsked{}
	for _, pin := range p.Pins {
		name := p.Ref + "." + pin.Name
		out = append(out, pinAsked{name, netOf(b.Board, pin), good[name]})
	}
	s.json(w, http.StatusOK, map[string]any{"part": p.Ref, "pins": out})
}

// pin judges one reading of a pin before it is in the table, so that an odd one is heard
// while the probe is still there.
func (s *Server) pin(w http.ResponseWriter, r *http.Request, n *notebook.Notebook, c *notebook.Case, b *notebook.Board) {
	row := casefile.Table{Columns: casefile.MeasurementColumns, Rows: [][]string{make([]string, len(casefile.MeasurementColumns))}}
	for k, column := range casefile.MeasurementColumns {
		switch column {
		case "point", "what", "state", "read":
			row.Rows[0][k] = r.FormValue(column)
		}
	}
	f, err := c.File.SetTable("Measurements", row)
	if err != nil || len(f.Case.Measurements) != 1 {
		refuse(w, http.StatusUnprocessableEntity, "the reading cannot be read")
		return
	}
	m := &f.Case.Measurements[0]
	_, learned := s.learned()
	next := n.With(c, f)
	v := readingVerdict(m, learned.judge.Reading(next, m))
	out := map[string]any{"word": s.say(v.Word), "sign": v.Sign, "odd": false}
	if j, ok := pins.Judged(n, learned.judge, next, b, m); ok {
		out["odd"] = j.Odd
		if v.Sign == "" || v.Sign == "?" {
			out["word"], out["sign"] = s.say(j.Verdict), ""
		}
		if j.Odd && j.Verdict == "" {
			out["word"], out["sign"] = s.say("beyond good boards"), "◇"
		}
	}
	s.json(w, http.StatusOK, out)
}

func netOf(b *board.Board, pin board.Pin) string {
	if pin.Net < 0 {
		return ""
	}
	return b.Nets[pin.Net].Name
}

// takeReading asks the instrument on the bench for what it shows.
func (s *Server) takeReading(w http.ResponseWriter, r *http.Request, _ *notebook.Notebook, _ *notebook.Case) {
	if s.meter == nil {
		refuse(w, http.StatusNotFound, "no instrument is named; `benchlore bench --meter ADDRESS` names one")
		return
	}
	reading, err := s.meter.Read(r.Context())
	if err != nil {
		refuse(w, http.StatusBadGateway, err.Error())
		return
	}
	s.json(w, http.StatusOK, map[string]string{"what": reading.What, "read": reading.Text})
}
