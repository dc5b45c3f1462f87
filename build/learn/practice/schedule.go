package practice

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"slices"
	"strings"
	"time"

	"benchlore/build/disk"
)

// When an exercise comes again follows SM-2 (P. A. Woźniak, Optimization of
// learning, master's thesis, Poznań 1990): with quality q from 0 to 5,
//
//	I(1) = 1 day, I(2) = 6 days, I(n) = I(n-1) * EF, rounded up
//	EF'  = EF + (0.1 - (5-q) * (0.08 + (5-q) * 0.02)), at least 1.3, from 2.5
//
// and below 3 the intervals begin again, EF as it was. Which new exercise comes
// next is our own: one whose fault, place or kind of device the learner got wrong,
// then the commoner cause.
const (
	firstEase = 2.5
	leastEase = 1.3
	passing   = 3
)

// Progress is what a learner has done, as the page keeps it and a file holds it.
type Progress struct {
	Format   string            `json:"format"`
	Notebook string            `json:"notebook"`
	Safety   string            `json:"safety,omitempty"` // the day on which the questions on safety were passed
	Cases    map[string]Record `json:"cases"`
}

// scheduleFormat is what a progress file says it is.
const scheduleFormat = "benchlore practice 1"

// Record is the state of one exercise. Days are YYYY-MM-DD.
type Record struct {
	Times    int     `json:"times"`    // in a row that were passed
	Ease     float64 `json:"ease"`     // EF
	Interval int     `json:"interval"` // days
	Due      string  `json:"due"`
	Last     int     `json:"last"`   // quality of the last attempt
	Missed   int     `json:"missed"` // attempts below 3
}

// NewProgress is that of a learner who has done nothing.
func NewProgress(name string) *Progress {
	return &Progress{Format: scheduleFormat, Notebook: name, Cases: map[string]Record{}}
}

// ReadProgress reads a progress file; one that is not there is that of a beginner.
func ReadProgress(path, name string) (*Progress, error) {
	data, err := disk.ReadFile(path, maxProgress)
	if errors.Is(err, fs.ErrNotExist) {
		return NewProgress(name), nil
	}
	if err != nil {
		return nil, err
	}
	p, err := ParseProgress(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return p, nil
}

// maxProgress bounds a progress file, in bytes.
const maxProgress = 16 << 20

// ParseProgress reads what [Progress.Write] or the page wrote.
func ParseProgress(data []byte) (*Progress, error) {
	var p Progress
	if len(data) > maxProgress {
		return nil, fmt.Errorf("a progress file has at most %d MB", maxProgress>>20)
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	if err := dec.Decode(&p); err != nil {
		return nil, fmt.Errorf("this is not a progress file: %w", err)
	}
	if p.Format != scheduleFormat {
		return nil, fmt.Errorf("this is not a progress file: it says format %q, not %q", p.Format, scheduleFormat)
	}
	if p.Cases == nil {
		p.Cases = map[string]Record{}
	}
	for id, r := range p.Cases {
		if _, err := time.Parse(time.DateOnly, r.Due); err != nil || r.Ease < leastEase || r.Ease > 10 ||
			r.Interval < 0 || r.Interval > 36500 || r.Last < 0 || r.Last > 5 || r.Times < 0 || r.Missed < 0 {
			return nil, fmt.Errorf("the record of case %q is damaged", id)
		}
	}
	return &p, nil
}

// Write puts the progress into a file, whole or not at all.
func (p *Progress) Write(path string) error {
	data, err := json.MarshalIndent(p, "", "  ")
	if err != nil {
		return err
	}
	return disk.WriteFile(path, append(data, '\n'))
}

// Take notes an attempt of quality q on a day and returns what is kept of it.
func (p *Progress) Take(id string, q int, day time.Time) Record {
	r, ok := p.Cases[id]
	if !ok {
		r.Ease = firstEase
	}
	r.Last = q
	if q < passing {
		r.Times, r.Interval = 0, 1
		r.Missed++
	} else {
		r.Times++
		switch r.Times {
		case 1:
			r.Interval = 1
		case 2:
			r.Interval = 6
		default:
			r.Interval = min(36500, int(math.Ceil(hundredths(float64(r.Interval)*r.Ease))))
		}
		away := float64(5 - q)
		r.Ease = max(leastEase, hundredths(r.Ease+0.1-away*(0.08+away*0.02)))
	}
	r.Due = day.AddDate(0, 0, r.Interval).Format(time.DateOnly)
	p.Cases[id] = r
	return r
}

// hundredths keeps the numbers free of the noise of binary fractions, so that the
// page and this agree.
func hundredths(x float64) float64 { return math.Round(x*100) / 100 }

// Entry is an exercise as the choice sees it.
type Entry struct {
	ID     string `json:"id"`
	Fault  string `json:"fault"`
	At     string `json:"at"`
	Kind   string `json:"kind"`
	Common int    `json:"common"`         // closed cases of our own with this cause
	From   string `json:"from,omitempty"` // the workshop that it came from, empty for our own
}

// Ours are the exercises that are chosen from unasked: our own, and those of other
// workshops that were begun; all where none is our own.
func (p *Progress) Ours(entries []Entry) []Entry {
	if !slices.ContainsFunc(entries, func(e Entry) bool { return e.From == "" }) {
		return entries
	}
	return slices.DeleteFunc(slices.Clone(entries), func(e Entry) bool {
		_, begun := p.Cases[e.ID]
		return e.From != "" && !begun
	})
}

// Next chooses an exercise: the one most overdue; else a new one near what was got
// wrong, then the commoner cause, then the earlier case; else the one that is due
// soonest. ok is false where there is none.
func (p *Progress) Next(entries []Entry, day time.Time) (e Entry, due, ok bool) {
	today := day.Format(time.DateOnly)
	weak := map[string]int{}
	for _, e := range entries {
		if r, done := p.Cases[e.ID]; done && r.Last < passing {
			weak["fault "+e.Fault] += 3
			weak["at "+e.At] += 2
			weak["kind "+e.Kind]++
		}
	}
	near := func(e Entry) int { return weak["fault "+e.Fault] + weak["at "+e.At] + weak["kind "+e.Kind] }
	rank := func(e Entry) (class int, due string) {
		r, done := p.Cases[e.ID]
		switch {
		case done && r.Due <= today:
			return 0, r.Due
		case !done:
			return 1, ""
		}
		return 2, r.Due
	}
	if len(entries) == 0 {
		return Entry{}, false, false
	}
	best := slices.MinFunc(entries, func(a, b Entry) int {
		ca, da := rank(a)
		cb, db := rank(b)
		if ca != cb || ca != 1 {
			return cmp.Or(cmp.Compare(ca, cb), strings.Compare(da, db), strings.Compare(a.ID, b.ID))
		}
		return cmp.Or(cmp.Compare(near(b), near(a)), cmp.Compare(b.Common, a.Common), strings.Compare(a.ID, b.ID))
	})
	class, _ := rank(best)
	return best, class == 0, true
}

// Entries lists the exercises that are good ones, by id.
func (b *Book) Entries() []Entry {
	common := map[[2]string]int{}
	closed := Closed(b.n)
	for _, c := range closed {
		if k := c.File.Case.Cause; k != nil && c.File.Case.From == "" {
			common[[2]string{k.Fault, k.At}]++
		}
	}
	out := []Entry{}
	for _, c := range closed {
		if k := c.File.Case.Cause; len(b.Lacks(c)) == 0 {
			out = append(out, Entry{c.ID(), k.Fault, k.At, c.Device.Kind, common[[2]string{k.Fault, k.At}], c.File.Case.From})
		}
	}
	return out
}
