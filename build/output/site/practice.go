package site

import (
	"cmp"
	"slices"
	"sync"

	"benchlore/build/learn/practice"
	"benchlore/build/notebook"
	"benchlore/build/reason/triage"
	"benchlore/schema/terms"
)

type practisePage struct {
	Frame  frame
	Boards []link
}

// maxExercises bounds what the practice page lists; those with the commonest
// causes stay, our own before all others.
const maxExercises = 1000

type exerciseAbout struct {
	Device   string   `json:"device"`
	Symptoms []string `json:"symptoms"`
}

// makeExercises chooses the cases that are practised with.
func (s *site) makeExercises() {
	s.fit = practice.New(s.n, nil, nil).Entries()
	theirs := func(e practice.Entry) int { return min(1, len(e.From)) }
	slices.SortStableFunc(s.fit, func(a, b practice.Entry) int { return cmp.Or(theirs(a)-theirs(b), b.Common-a.Common) })
	s.exercises = map[string]bool{}
	for _, e := range s.offered() {
		s.exercises[e.ID] = true
	}
}

// offered are the cases fit for practice that the page lists.
func (s *site) offered() []practice.Entry { return s.fit[:min(maxExercises, len(s.fit))] }

// practiceJobs are the page of practice, what it chooses from, and its exercises.
func (s *site) practiceJobs(model func() *triage.Model) []job {
	book := sync.OnceValue(func() *practice.Book { return practice.New(s.n, s.judge, model()) })
	jobs := []job{
		s.page("practise.html", "practise", always(practisePage{s.frame("", s.t("Practise")), s.boardDrills()})),
		{"practice/book.js", func() (digest, func() ([]byte, error), error) {
			return digest{}, func() ([]byte, error) { return s.practiceBook() }, nil
		}},
	}
	for _, c := range s.n.Cases {
		if s.exercises[c.ID()] {
			jobs = append(jobs, s.exerciseJob(c, book))
		}
	}
	return append(jobs, s.pathJobs(s.fit)...)
}

// boardDrills are the boards on whose drawing parts can be looked for.
func (s *site) boardDrills() (out []link) {
	for _, d := range s.n.Devices {
		for _, b := range d.Boards {
			out = append(out, link{b.Name, boardPath(d, b) + "#drill"})
		}
	}
	return out
}

func exercisePath(c *notebook.Case) string { return "practice/" + c.ID() + ".js" }

func (s *site) exerciseJob(c *notebook.Case, book func() *practice.Book) job {
	return job{exercisePath(c), func() (digest, func() ([]byte, error), error) {
		return s.caseKey("exercise", c), func() ([]byte, error) {
			x, _ := book().Of(c)
			for i := range x.Checks {
				if !x.Checks[i].Noted { // the usual minutes change with other cases; the page has them
					x.Checks[i].Minutes = 0
				}
			}
			return script("benchloreExercise", x)
		}, nil
	}}
}

func (s *site) practiceBook() ([]byte, error) {
	data := struct {
		Entries []practice.Entry         `json:"entries"`
		About   map[string]exerciseAbout `json:"about"`
		Hazards map[string]triageHazard  `json:"hazards"`
		Stops   map[string]triageStop    `json:"stops"`
	}{s.offered(), map[string]exerciseAbout{}, map[string]triageHazard{}, map[string]triageStop{}}
	stops := s.triageStops()
	for _, e := range s.offered() {
		c, _ := s.n.Case(e.ID)
		w := s.cautioned[c]
		for _, t := range w.Dangers {
			data.Stops[t.ID] = triageStop{Name: t.Name, First: stops[t.ID].First}
		}
		data.About[e.ID] = exerciseAbout{c.Device.Described(s.n.Terms), s.n.Terms.Names(terms.Symptom, c.File.Case.Symptoms)}
	}
	for _, t := range s.n.Terms.All(terms.Hazard) {
		data.Hazards[t.ID] = s.triageHazard(t)
	}
	return script("benchloreBook", data)
}
