package triage

import (
	"encoding/json"
	"time"

	"benchlore/build/disk"
)

// Kept is an evaluation with the day on which it was made.
type Kept struct {
	Made       string     `json:"made"` // YYYY-MM-DD
	Evaluation Evaluation `json:"evaluation"`
}

const keptAt = ".benchlore/triage-judged.json"

// maxKeptText is the most that is read of it, in bytes.
const maxKeptText = 4 << 20

// Keep keeps an evaluation beside the notebook, for pages that have no time to make one.
func (e *Evaluation) Keep(dir string, day time.Time) error {
	text, err := json.Marshal(Kept{day.Format(time.DateOnly), *e})
	if err != nil {
		return err
	}
	if err := disk.Folder(dir).MkdirAll(".benchlore"); err != nil {
		return err
	}
	return disk.Folder(dir).Write(keptAt, text)
}

// LastKept returns the evaluation that was kept last, if there is one that can be read.
func LastKept(dir string) (Kept, bool) {
	var k Kept
	text, err := disk.Folder(dir).Read(keptAt, maxKeptText)
	if err != nil || json.Unmarshal(text, &k) != nil {
		return Kept{}, false
	}
	return k, true
}
