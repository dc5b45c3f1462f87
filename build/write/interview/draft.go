package interview

import (
	"bytes"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"benchlore/build/disk"
)

// Answer is what was answered to the question with the key.
type Answer struct {
	Key  string `json:"key"`
	Text string `json:"text"`
}

// Draft are the answers to an interview, in the order in which they were given,
// in a file that is written anew after each of them.
type Draft struct {
	Case    string    `json:"case,omitempty"` // that is closed; empty for a new one
	Begun   time.Time `json:"begun"`
	Answers []Answer  `json:"answers"`

	dir, path string // the notebook, and the file within it
	last      []byte // what the file has, as far as this draft knows; nil for none
}

// draftPath is where the answers about a case are kept, inside the notebook; an
// empty id is for the next new one.
func draftPath(id string) string {
	name := "new.json"
	if id != "" {
		name = "close-" + id + ".json"
	}
	return disk.Kept + "/drafts/" + name
}

// maxDraft is the largest file of answers that is read, in bytes.
const maxDraft = 4 << 20

// NewDraft begins without an answer about a case of the notebook in dir, or about a
// new one where id is empty; nothing is written before the first answer.
func NewDraft(dir, id string, now time.Time) *Draft {
	return &Draft{Case: id, Begun: now, dir: dir, path: draftPath(id)}
}

// ReadDraft reads the answers of an earlier time; nil where there are none.
func ReadDraft(dir, id string) (*Draft, error) {
	_ = disk.Folder(dir).MoveKept() // answers of a notebook of before
	d := &Draft{dir: dir, path: draftPath(id)}
	data, err := disk.Folder(dir).Read(d.path, maxDraft)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	d.last = data
	if err := json.Unmarshal(data, d); err != nil {
		return nil, fmt.Errorf("%s does not hold answers: %w", d.Path(), err)
	}
	return d, nil
}

// Path is the file of the draft.
func (d *Draft) Path() string { return filepath.ToSlash(filepath.Join(d.dir, d.path)) }

// SetAside gives the file of the draft another name, so that a new one can be
// begun and nothing is lost. It returns the name.
func (d *Draft) SetAside(now time.Time) (string, error) {
	stem, _ := strings.CutSuffix(d.path, ".json")
	to := stem + "-" + now.UTC().Format("20060102T150405") + ".json"
	defer disk.Folder(d.dir).Enter()()
	return filepath.ToSlash(filepath.Join(d.dir, to)), disk.Folder(d.dir).Rename(d.path, to)
}

// Done removes the file: the answers are in a case now. Answers that somebody else has
// put there meanwhile stay.
func (d *Draft) Done() error {
	_, err := disk.Folder(d.dir).RemoveIf(d.path, d.of(), func(have []byte) bool { return bytes.Equal(have, d.last) })
	return err
}

// of is under which name answers are kept that were displaced.
func (d *Draft) of() string { return "drafts/" + strings.TrimSuffix(path.Base(d.path), ".json") }

func (d *Draft) write() error {
	data, err := json.MarshalIndent(d, "", "  ")
	if err != nil {
		return err
	}
	data = append(data, '\n')
	for {
		elsewhere := false
		err := disk.Folder(d.dir).Change(d.path, d.of(), func(have []byte) ([]byte, error) {
			if elsewhere = have != nil && !bytes.Equal(have, d.last); elsewhere {
				return nil, nil
			}
			return data, nil
		})
		if err != nil {
			return err
		}
		if !elsewhere {
			d.last = data
			return nil
		}
		// Another interview keeps its answers there: these get a file of their own.
		d.path, d.last = strings.TrimSuffix(draftPath(d.Case), ".json")+"-"+strings.ToLower(rand.Text()[:8])+".json", nil
	}
}

func (d *Draft) index(key string) int {
	return slices.IndexFunc(d.Answers, func(a Answer) bool { return a.Key == key })
}

func (d *Draft) has(key string) bool { return d.index(key) >= 0 }

// take returns the answer to a question that was answered before.
func (d *Draft) take(key string) (string, bool) {
	i := d.index(key)
	if i < 0 {
		return "", false
	}
	return d.Answers[i].Text, true
}

func (d *Draft) put(key, text string) error {
	d.drop(key)
	d.Answers = append(d.Answers, Answer{key, text})
	return d.write()
}

func (d *Draft) drop(key string) {
	if i := d.index(key); i >= 0 {
		d.Answers = slices.Delete(d.Answers, i, i+1)
	}
}

// dropLast takes back the last answer; ok is false where there is none.
func (d *Draft) dropLast() bool {
	if len(d.Answers) == 0 {
		return false
	}
	d.Answers = d.Answers[:len(d.Answers)-1]
	_ = d.write() // the next answer writes it again
	return true
}
