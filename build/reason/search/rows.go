package search

import (
	"bytes"
	"encoding/binary"
	"encoding/gob"
	"slices"
	"strings"
	"time"

	"benchlore/build/disk"
	"benchlore/build/notebook"
)

// rows are what ranking needs of the cases besides the index, in columns by
// ordinal, which read back ten times faster than one struct for each case. They
// are kept beside the index so that a search reads only the cases that it shows.
type rows struct {
	IDs    lines // sorted
	Paths  lines
	Facets [numFacets]column
	// DeviceNames and DevicePaths are by id; a device without a record has no path.
	DeviceNames map[string]string
	DevicePaths map[string]string
}

// lines is a list of texts without NUL, written as one text.
type lines []string

func (l lines) bytes() []byte { return []byte(strings.Join(l, "\x00")) }

func splitLines(data []byte) lines {
	if len(data) == 0 {
		return nil
	}
	return strings.Split(string(data), "\x00")
}

func (l lines) GobEncode() ([]byte, error) { return l.bytes(), nil }

func (l *lines) GobDecode(data []byte) error {
	*l = splitLines(data)
	return nil
}

// numbers is a list that is written as bytes, which reads back many times faster
// than one number after another.
type numbers []int32

func (n numbers) bytes() []byte {
	b := make([]byte, 0, 4*len(n))
	for _, v := range n {
		b = binary.LittleEndian.AppendUint32(b, uint32(v))
	}
	return b
}

func toNumbers(data []byte) numbers {
	n := make(numbers, len(data)/4)
	for i := range n {
		n[i] = int32(binary.LittleEndian.Uint32(data[4*i:]))
	}
	return n
}

func (n numbers) GobEncode() ([]byte, error) { return n.bytes(), nil }

func (n *numbers) GobDecode(data []byte) error {
	*n = toNumbers(data)
	return nil
}

const (
	numFacets = 8 // as FacetNames has
	markSize  = 16
)

// column holds the values of one facet: those of case i are
// Labels[Values[Starts[i]:Starts[i+1]]].
type column struct {
	Labels []string
	Values numbers
	Starts numbers
}

// values returns the ids that a case has for the facet at the place.
func (r *rows) values(ordinal, facet int) []string {
	c := &r.Facets[facet]
	var out []string
	for _, v := range c.Values[c.Starts[ordinal]:c.Starts[ordinal+1]] {
		out = append(out, c.Labels[v])
	}
	return out
}

// filter returns the test that the query's filters make of a case.
func (r *rows) filter(q Query) func(ordinal int32) bool {
	type test struct {
		c     *column
		value int32
	}
	var tests []test
	for i, want := range q.filters() {
		if want != "" {
			tests = append(tests, test{&r.Facets[i], int32(slices.Index(r.Facets[i].Labels, want))})
		}
	}
	return func(o int32) bool {
		for _, t := range tests {
			if !slices.Contains(t.c.Values[t.c.Starts[o]:t.c.Starts[o+1]], t.value) {
				return false
			}
		}
		return true
	}
}

// state is what is written beside the index.
type state struct {
	Layout string
	Made   uint64 // the mark of the index that it is of
	Rows   rows
	// Fingerprint and Written tell whether anything changed since; files changed shortly
	// before Written are not trusted by their time.
	Fingerprint notebook.Fingerprint
	Written     int64
}

// safetyGap covers file systems that keep whole or even seconds.
const safetyGap = 3 * time.Second

// trusts reports whether the folder looks as it did at the last run, and was
// old enough then to be believed.
func (s *state) trusts(now notebook.Fingerprint) bool {
	return s.Layout == layout && len(s.Rows.IDs) > 0 && now == s.Fingerprint && now.Newest <= s.Written-int64(safetyGap)
}

func readState(path string) state {
	var s state
	data, err := disk.ReadFile(path, disk.MaxDerived)
	if err != nil || gob.NewDecoder(bytes.NewReader(data)).Decode(&s) != nil {
		return state{}
	}
	return s
}

// rowsOf gathers the rows of a notebook.
func rowsOf(n *notebook.Notebook) rows {
	r := rows{DeviceNames: map[string]string{}, DevicePaths: map[string]string{}}
	for _, d := range n.Devices {
		r.DeviceNames[d.ID], r.DevicePaths[d.ID] = d.Name(n.Terms), d.Path
	}
	var known [numFacets]map[string]int32
	for i := range r.Facets {
		r.Facets[i].Starts, known[i] = numbers{0}, map[string]int32{}
	}
	for _, c := range n.Cases {
		r.IDs, r.Paths = append(r.IDs, c.ID()), append(r.Paths, c.Path)
		for j, facet := range facetNames {
			column := &r.Facets[j]
			for _, id := range facetValues(c, facet) {
				v, ok := known[j][id]
				if !ok {
					v = int32(len(column.Labels))
					known[j][id], column.Labels = v, append(column.Labels, id)
				}
				column.Values = append(column.Values, v)
			}
			column.Starts = append(column.Starts, int32(len(column.Values)))
		}
	}
	return r
}

// markOf identifies what is searched of a case: its content and its device's.
func markOf(c *notebook.Case) [markSize]byte {
	var m [markSize]byte
	copy(m[:12], c.Hash[:])
	copy(m[12:], c.Device.Hash[:])
	return m
}
