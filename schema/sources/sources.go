// Package sources names the data of others that data of this program were made from:
// whose they are, under which terms, and what was made from which of their files.
//
// [All] is the one list behind the notices of the program, the page of every site and
// the command derive, which makes the data anew.
package sources

import (
	"bytes"
	_ "embed"
	"fmt"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"
)

//go:embed sources.yaml
var text []byte

// Source is data of somebody else.
type Source struct {
	Name, By string
	Home     string // address
	Licence  string // its usual short name
	Terms    string // address of the licence
	Changed  string // what was done to the data
	Inputs   []Input
	Derived  []Derived
}

// Input is a file of the source as it was when something was made from it.
type Input struct {
	File   string // its name
	SHA256 string // in hexadecimal
}

// Derived is something of ours that was made from a source.
type Derived struct {
	What    string
	File    string   // file or folder, from the top of the project
	SHA256  string   // of what Command makes; empty where people made it
	Command []string // arguments of "go run"; $IN is the folder of inputs and $OUT the file to make
}

// All gives the sources in the order of the file.
var All = sync.OnceValue(func() []Source {
	var list []Source
	dec := yaml.NewDecoder(bytes.NewReader(text))
	dec.KnownFields(true)
	if err := dec.Decode(&list); err != nil {
		panic("sources.yaml: " + err.Error()) // the data are ours
	}
	return list
})

// Notice says for readers of plain text what was made from whose data under which terms.
func Notice() string {
	var b strings.Builder
	for _, s := range All() {
		fmt.Fprintf(&b, "%s of the %s (%s)\n%s, %s\n\n%s\nMade from it, and under the same licence:\n", s.Name, s.By, s.Home, s.Licence, s.Terms, s.Changed)
		for _, d := range s.Derived {
			fmt.Fprintf(&b, "  - %s (%s)\n", d.What, d.File)
		}
	}
	return b.String()
}
