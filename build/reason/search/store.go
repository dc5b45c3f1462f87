package search

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"os"
	"slices"
	"strings"

	"benchlore/build/disk"
)

// A store holds the lines of an index, as they are published too: one for each word, in
// order, then one for each form. Lines stand in blocks of about [blockSize], and behind
// them a directory gives the first key of each block, its place, its length and a sum, so
// that a question reads the directory and the blocks of its words.
//
//	magic, mark of what the lines were made from (8 bytes)
//	blocks
//	directory: for words, then forms: number of blocks, for each the key, length and sum
//	sum of the directory, length of the directory (4 bytes each, low byte first)
type store struct {
	r      io.ReaderAt
	made   uint64 // the mark
	kinds  [2][]block
	blocks map[int64][]string // read before, by place
}

const (
	wordLines = iota
	formLines
)

// block is some lines of a store.
type block struct {
	first string // key
	at    int64
	size  int
	sum   uint32
}

const (
	magic     = "benchlore index\n"
	blockSize = 4 << 10
	head      = len(magic) + 8
)

// errDamaged is returned where a store is not as it was written.
var errDamaged = errors.New("the search index is damaged")

// errOther is returned where a store was made from something else.
var errOther = errors.New("the search index is of other words")

// keyOf is what a line begins with, up to a space.
func keyOf(line string) string {
	key, _, _ := strings.Cut(line, " ")
	return key
}

// appendStore writes a store; the lines are in the order of their keys.
func appendStore(b []byte, made uint64, words, forms []string) []byte {
	b = append(b, magic...)
	b = binary.LittleEndian.AppendUint64(b, made)
	var directory []byte
	for _, lines := range [][]string{words, forms} {
		var kinds []byte
		n, first, start := 0, "", len(b)
		end := func() {
			if len(b) == start {
				return
			}
			n++
			kinds = binary.AppendUvarint(kinds, uint64(len(first)))
			kinds = append(kinds, first...)
			kinds = binary.AppendUvarint(kinds, uint64(len(b)-start))
			kinds = binary.LittleEndian.AppendUint32(kinds, crc32.ChecksumIEEE(b[start:]))
			start = len(b)
		}
		for _, line := range lines {
			if len(b) == start {
				first = keyOf(line)
			}
			b = append(append(b, line...), '\n')
			if len(b)-start >= blockSize {
				end()
			}
		}
		end()
		directory = append(binary.AppendUvarint(directory, uint64(n)), kinds...)
	}
	b = append(b, directory...)
	b = binary.LittleEndian.AppendUint32(b, crc32.ChecksumIEEE(directory))
	return binary.LittleEndian.AppendUint32(b, uint32(len(directory)))
}

// openStore reads the directory of a store of so many bytes.
func openStore(r io.ReaderAt, size int64) (*store, error) {
	s := &store{r: r, blocks: map[int64][]string{}}
	start, tail := make([]byte, head), make([]byte, 8)
	if size < int64(head+8) {
		return nil, errDamaged
	}
	if err := errors.Join(full(r, start, 0), full(r, tail, size-8)); err != nil {
		return nil, err
	}
	length := int64(binary.LittleEndian.Uint32(tail[4:]))
	if string(start[:len(magic)]) != magic || length > size-int64(head+8) {
		return nil, errDamaged
	}
	s.made = binary.LittleEndian.Uint64(start[len(magic):])
	directory := make([]byte, length)
	if err := full(r, directory, size-8-length); err != nil {
		return nil, err
	}
	if crc32.ChecksumIEEE(directory) != binary.LittleEndian.Uint32(tail) {
		return nil, errDamaged
	}
	number := func() int {
		v, k := binary.Uvarint(directory)
		if k <= 0 || v > uint64(size) {
			directory = nil
			return 0
		}
		directory = directory[k:]
		return int(v)
	}
	at, end := int64(head), size-8-length
	for kind := range s.kinds {
		for range number() {
			n := number()
			if n > len(directory) {
				return nil, errDamaged
			}
			b := block{first: string(directory[:n]), at: at}
			directory = directory[n:]
			if b.size = number(); len(directory) < 4 || int64(b.size) > end-at {
				return nil, errDamaged
			}
			b.sum = binary.LittleEndian.Uint32(directory)
			directory = directory[4:]
			at += int64(b.size)
			s.kinds[kind] = append(s.kinds[kind], b)
		}
	}
	if at != end {
		return nil, errDamaged
	}
	return s, nil
}

func full(r io.ReaderAt, b []byte, at int64) error {
	_, err := r.ReadAt(b, at)
	if err != nil {
		return fmt.Errorf("%w: %v", errDamaged, err)
	}
	return nil
}

// read takes a block as it was written.
func (s *store) read(b block) ([]byte, error) {
	data := make([]byte, b.size)
	if err := full(s.r, data, b.at); err != nil {
		return nil, err
	}
	if crc32.ChecksumIEEE(data) != b.sum {
		return nil, errDamaged
	}
	return data, nil
}

// linesOf cuts a block into its lines.
func (s *store) linesOf(b block) ([]string, error) {
	if lines, ok := s.blocks[b.at]; ok {
		return lines, nil
	}
	data, err := s.read(b)
	if err != nil {
		return nil, err
	}
	lines := strings.Split(strings.TrimSuffix(string(data), "\n"), "\n")
	s.blocks[b.at] = lines
	return lines, nil
}

// blockOf is the place of the last block that begins with a key or before it, -1 for none.
func (s *store) blockOf(kind int, key string) int {
	at, exact := slices.BinarySearchFunc(s.kinds[kind], key, func(b block, key string) int { return strings.Compare(b.first, key) })
	if !exact {
		at--
	}
	return at
}

// line returns the line of a key; ok is false where there is none.
func (s *store) line(kind int, key string) (line string, ok bool, err error) {
	at := s.blockOf(kind, key)
	if at < 0 {
		return "", false, nil
	}
	lines, err := s.linesOf(s.kinds[kind][at])
	if err != nil {
		return "", false, err
	}
	i, ok := slices.BinarySearchFunc(lines, key, func(line, key string) int { return strings.Compare(keyOf(line), key) })
	if !ok {
		return "", false, nil
	}
	return lines[i], true, nil
}

// beginning returns the keys that begin with a text, all for an empty one.
func (s *store) beginning(kind int, text string) ([]string, error) {
	blocks := s.kinds[kind]
	var out []string
	for at := max(0, s.blockOf(kind, text)); at < len(blocks) &&
		(blocks[at].first <= text || strings.HasPrefix(blocks[at].first, text)); at++ {
		lines, err := s.linesOf(blocks[at])
		if err != nil {
			return nil, err
		}
		for _, line := range lines {
			if strings.HasPrefix(line, text) {
				out = append(out, keyOf(line))
			}
		}
	}
	return out, nil
}

// all returns every line of a kind.
func (s *store) all(kind int) ([]string, error) {
	var out []string
	for _, b := range s.kinds[kind] {
		lines, err := s.linesOf(b)
		if err != nil {
			return nil, err
		}
		out = append(out, lines...)
	}
	return out, nil
}

// whole reports whether every block is as it was written.
func (s *store) whole() bool {
	for _, blocks := range s.kinds {
		for _, b := range blocks {
			if _, err := s.read(b); err != nil {
				return false
			}
		}
	}
	return true
}

// openFile opens the store in a file, if it was made from what the mark says.
func openFile(name string, made uint64) (*store, *os.File, error) {
	f, err := disk.Open(name)
	if err != nil {
		return nil, nil, err
	}
	info, err := f.Stat()
	var s *store
	if err == nil {
		s, err = openStore(f, info.Size())
	}
	if err == nil && s.made != made {
		err = errOther
	}
	if err != nil {
		f.Close()
		return nil, nil, err
	}
	return s, f, nil
}

// inMemory is a store over bytes.
func inMemory(data []byte) (*store, error) { return openStore(bytes.NewReader(data), int64(len(data))) }

// postingsOf reads the postings at the end of a word's line, in the order of the cases.
func postingsOf(line string) ([]posting, error) {
	at := strings.LastIndexByte(line, ' ')
	text := line[at+1:]
	bad := false
	number := func() int {
		v := 0
		for len(text) > 0 {
			d := int(value[text[0]])
			text = text[1:]
			if d < 0 {
				break
			}
			if d < ending {
				return v*ending + d
			}
			if v = v*(len(digits)-ending) + d - ending; v > 1<<40 {
				break
			}
		}
		bad = true
		return 0
	}
	var out []posting
	for len(text) > 0 {
		level, n, before := number(), number(), -1
		for range n {
			before += number() + 1
			if bad {
				return nil, errDamaged
			}
			out = append(out, posting{int32(before), int32(level)})
		}
	}
	if bad {
		return nil, errDamaged
	}
	slices.SortFunc(out, func(a, b posting) int { return cmp.Compare(a.ordinal, b.ordinal) })
	return out, nil
}

// value is what a digit is worth, -1 for what is none.
var value = func() (v [256]int8) {
	for i := range v {
		v[i] = int8(strings.IndexByte(digits, byte(i)))
	}
	return v
}()
