package site

import (
	"encoding/json"

	"benchlore/build/reason/triage"
)

// judgedCases is up to how many closed cases a publication judges Triage itself; beyond,
// its page gives what `triage --evaluate` found last.
const judgedCases = 300

type judgedPage struct {
	Frame  frame
	Lead   string
	Tables []figureTable
}

// judgedJob is the page that says how well Triage does on this notebook. It goes by all
// that the model goes by.
func (s *site) judgedJob(learned func() *triage.Model, by []byte) job {
	return job{"trust.html", func() (digest, func() ([]byte, error), error) {
		closed := 0
		for _, c := range s.n.Cases {
			if !c.File.Case.Open() {
				closed++
			}
		}
		if closed <= judgedCases {
			return s.key("judged", by), func() ([]byte, error) {
				return s.render("judged", s.judgedPage(learned().Evaluate(), ""))
			}, nil
		}
		kept, ok := triage.LastKept(s.n.Dir)
		if !ok {
			p := judgedPage{Frame: s.frame("", s.t("How far to trust Triage")),
				Lead: s.t("With more than %d closed cases this is not worked out at each publication. `benchlore triage --evaluate` works it out, and the next publication shows it.", judgedCases)}
			return s.key("judged", nil), func() ([]byte, error) { return s.render("judged", p) }, nil
		}
		text, err := json.Marshal(kept)
		if err != nil {
			return digest{}, nil, err
		}
		return s.key("judged", text), func() ([]byte, error) {
			return s.render("judged", s.judgedPage(kept.Evaluation, kept.Made))
		}, nil
	}}
}

// guessed counts the closed cases whose symptoms nobody chose.
func (s *site) guessed() (n int) {
	for _, c := range s.n.Cases {
		if k := &c.File.Case; !k.Open() && k.Cause != nil && k.Source.SymptomsGuessed() {
			n++
		}
	}
	return n
}

func (s *site) judgedPage(e triage.Evaluation, made string) judgedPage {
	p := judgedPage{Frame: s.frame("", s.t("How far to trust Triage"))}
	if made != "" {
		p.Lead = s.t("Worked out on %s.", made)
	}
	row := func(cells ...any) (r figureRow) {
		for i, c := range cells {
			switch x := c.(type) {
			case string:
				r.Cells = append(r.Cells, figureCell{Text: x, Number: i > 0})
			case float64:
				r.Cells = append(r.Cells, number("%.0f %%", 100*x))
			case int:
				r.Cells = append(r.Cells, number("%d", x))
			}
		}
		return r
	}
	right := []string{s.t("By"), s.t("First"), s.t("Among three")}
	out := figureTable{Name: s.t("Each case judged by the others"), Columns: right,
		Lead: s.t("%d closed cases say a cause; %d of these causes another case has too, or a method names: nothing could name the others.", e.Cases, e.Seen)}
	out.Rows = []figureRow{row(s.t("Triage"), e.Top1, e.Top3), row(s.t("Commonest cause first"), e.CommonestTop1, e.CommonestTop3),
		row(s.t("The methods alone"), e.MethodsTop1, e.MethodsTop3),
		row(s.t("Triage, causes that could be named"), e.Known.Top1, e.Known.Top3)}
	sure := figureTable{Name: s.t("When it says so many per cent, how often is it right?"),
		Columns: []string{s.t("It said"), s.t("Cases"), s.t("Mean said"), s.t("Right")}}
	for _, b := range e.Reliability {
		if b.Cases > 0 {
			sure.Rows = append(sure.Rows, row(s.t("%.0f to %.0f %%", 100*b.From, 100*b.To), b.Cases, b.Said, b.Right))
		}
	}
	if guessed := s.guessed(); guessed > 0 {
		out.Lead += " " + s.t("Of %d cases the symptoms were read from the text by a program; they count half.", guessed)
	}
	p.Tables = []figureTable{out, sure}
	if l := e.Later; l != nil {
		later := figureTable{Name: s.t("The newer cases judged by the older"), Columns: right,
			Lead: s.t("Learned from the %d cases closed first, asked about the %d closed later; %d of these have a cause that was seen before.", l.Older, l.Newer, l.Seen)}
		for _, r := range []struct {
			name string
			triage.Right
		}{{s.t("Triage, symptoms, events and device"), l.Chosen},
			{s.t("Triage, the owner’s words and device"), l.Words}, {s.t("Triage, all of it"), l.Both},
			{s.t("Commonest cause first"), l.Commonest}, {s.t("The methods alone"), l.Methods}} {
			later.Rows = append(later.Rows, row(r.name, r.Top1, r.Top3))
		}
		p.Tables = append(p.Tables, later)
	}
	if k := e.Minutes; k.Cases > 0 {
		t := figureTable{Name: s.t("Expected minutes to the fault"), Columns: []string{s.t("Order of checks"), s.t("Minutes")}}
		for _, r := range []struct {
			name string
			x    float64
		}{{s.t("As Triage offers them"), k.Offered}, {s.t("Commonest cause first"), k.CommonestFirst},
			{s.t("Cheapest check first"), k.CheapestFirst}, {s.t("Any order"), k.Random}, {s.t("Knowing the cause"), k.Clairvoyant}} {
			t.Rows = append(t.Rows, figureRow{Cells: []figureCell{{Text: r.name}, number("%.1f", r.x)}})
		}
		p.Tables = append(p.Tables, t)
	}
	return p
}
