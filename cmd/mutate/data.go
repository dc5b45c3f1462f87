package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// cell is one change of one file of data.
type cell struct {
	start, end int    // of what is changed, in bytes
	is         string // what stands there instead
	line       int    // from 1
	was, said  string // for the report: what stood there and what was done with it
}

// text is the file after the change, as long as before: data lie embedded in a program,
// where a change may not move what follows. Where the change is longer, the blanks at the
// beginning of a line or the end of a comment give way, which mean nothing.
func (c *cell) text(src []byte) ([]byte, bool) {
	out := slices.Concat(src[:c.start], []byte(c.is), src[c.end:])
	more := len(out) - len(src)
	if more <= 0 {
		return append(out, bytes.Repeat([]byte{' '}, -more)...), true
	}
	for at := 0; at < len(out); {
		stop := at + bytes.IndexByte(append(out[at:len(out):len(out)], '\n'), '\n')
		line := out[at:stop]
		blank := len(line) - len(bytes.TrimLeft(line, " "))
		switch {
		case bytes.HasPrefix(line, []byte("#")) && len(line) > more:
			cut := stop - more
			for cut > at+1 && !utf8.RuneStart(out[cut]) {
				cut--
			}
			pad := bytes.Repeat([]byte{' '}, stop-cut-more)
			return slices.Concat(out[:cut], pad, out[stop:]), true
		case blank >= more && isJSON(src):
			return slices.Delete(out, at, at+more), true
		}
		at = stop + 1
	}
	return nil, false
}

// isJSON tells a file of JSON, in which blanks mean nothing, from one of YAML.
func isJSON(src []byte) bool { return bytes.HasPrefix(bytes.TrimSpace(src), []byte("{\n")) }

// cellsOf lists what may be changed in a file: a number by a factor or by one digit, a
// string left out of a list, a boolean, an entry. Comments stay. The digits are drawn.
func cellsOf(name string, src []byte, r *rand.Rand) ([]cell, error) {
	if filepath.Ext(name) == ".tsv" {
		return rowsOf(src, r), nil
	}
	var doc yaml.Node
	if err := yaml.Unmarshal(src, &doc); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	var was any
	if err := yaml.Unmarshal(src, &was); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	t := &tree{src: src, r: r, lines: []int{0}}
	for i, b := range src {
		if b == '\n' {
			t.lines = append(t.lines, i+1)
		}
	}
	if len(doc.Content) > 0 {
		t.walk(doc.Content[0])
	}
	// What cannot be read as data any more is found by reading it, and what reads as before
	// is no change.
	return slices.DeleteFunc(t.out, func(c cell) bool {
		text, ok := c.text(src)
		var is any
		return !ok || yaml.Unmarshal(text, &is) != nil || reflect.DeepEqual(was, is)
	}), nil
}

// tree walks over what a file says.
type tree struct {
	src   []byte
	lines []int // where each begins
	r     *rand.Rand
	out   []cell
}

// at is where a node begins, in bytes; YAML counts characters.
func (t *tree) at(n *yaml.Node) int {
	at := t.lines[n.Line-1]
	for range n.Column - 1 {
		_, size := utf8.DecodeRune(t.src[at:])
		at += size
	}
	return at
}

// end is where a node ends, in bytes.
func (t *tree) end(n *yaml.Node) int {
	at := t.at(n)
	switch {
	case n.Kind == yaml.ScalarNode && n.Style&(yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle) != 0:
		return at + quoted(t.src[at:])
	case n.Kind == yaml.ScalarNode:
		return min(len(t.src), at+len(n.Value))
	case n.Style&yaml.FlowStyle != 0:
		return at + bracketed(t.src[at:])
	}
	for _, child := range n.Content {
		at = max(at, t.end(child))
	}
	return at
}

// quoted is the length of the string in quotes that a text begins with.
func quoted(s []byte) int {
	for i := 1; i < len(s); i++ {
		switch {
		case s[0] == '"' && s[i] == '\\', s[0] == '\'' && s[i] == '\'' && i+1 < len(s) && s[i+1] == '\'':
			i++
		case s[i] == s[0]:
			return i + 1
		}
	}
	return len(s)
}

// bracketed is the length of the list or mapping in brackets that a text begins with. A
// quote inside of a word is an apostrophe.
func bracketed(s []byte) int {
	depth, begins := 0, true
	for i := 0; i < len(s); i++ {
		switch b := s[i]; {
		case (b == '"' || b == '\'') && begins:
			i += quoted(s[i:]) - 1
			begins = false
		case b == '[' || b == '{':
			depth++
			begins = true
		case b == ']' || b == '}':
			depth--
			if depth == 0 {
				return i + 1
			}
		case b == ',' || b == ':':
			begins = true
		case b != ' ' && b != '\n':
			begins = false
		}
	}
	return len(s)
}

func (t *tree) walk(n *yaml.Node) {
	switch n.Kind {
	case yaml.SequenceNode:
		for i, child := range n.Content {
			said := "was left out of its list"
			if child.Kind != yaml.ScalarNode {
				said = "was removed"
			}
			t.leave(n, child, child, i, 1, said)
			t.walk(child)
		}
	case yaml.MappingNode:
		for i := 0; i+1 < len(n.Content); i += 2 {
			t.leave(n, n.Content[i], n.Content[i+1], i, 2, "was removed")
			t.walk(n.Content[i+1])
		}
	case yaml.ScalarNode:
		t.scalar(n)
	}
}

// leave takes an element out of a list or an entry out of a mapping, with its comma or
// its dash: blanks stand there instead, and lines stay lines.
func (t *tree) leave(in, first, last *yaml.Node, i, step int, said string) {
	start, end := t.at(first), t.end(last)
	was := string(t.src[start:end])
	switch {
	case in.Style&yaml.FlowStyle != 0 && i+step < len(in.Content):
		end = t.at(in.Content[i+step])
	case in.Style&yaml.FlowStyle != 0 && i > 0:
		start = t.end(in.Content[i-1])
	case in.Style&yaml.FlowStyle == 0 && in.Kind == yaml.SequenceNode:
		start = bytes.LastIndexByte(t.src[:start], '-') // of the list
	}
	if start < 0 || end < start {
		return
	}
	blank := []byte(strings.Repeat(" ", end-start))
	for i, b := range t.src[start:end] {
		if b == '\n' {
			blank[i] = '\n'
		}
	}
	t.out = append(t.out, cell{start: start, end: end, is: string(blank), line: first.Line, was: was, said: said})
}

var number = regexp.MustCompile(`\d+(?:\.\d+)?`)

// scalar flips a boolean, and changes each number of a value or a text.
func (t *tree) scalar(n *yaml.Node) {
	start, end := t.at(n), t.end(n)
	switch n.Tag {
	case "!!bool":
		is := "false"
		if n.Value == "false" {
			is = "true"
		}
		t.out = append(t.out, cell{start, end, is, n.Line, n.Value, "became " + is})
	case "!!int", "!!float", "!!str":
		t.out = append(t.out, numbersOf(t.src, start, end, n.Line, t.r)...)
	}
}

// numbersOf changes the numbers of a part of a file, each once by a digit and once by a
// factor.
func numbersOf(src []byte, start, end, line int, r *rand.Rand) (out []cell) {
	whole := string(src[start:end])
	for _, at := range number.FindAllStringIndex(whole, -1) {
		was := whole[at[0]:at[1]]
		for _, is := range []string{digit(was, r), factor(was)} {
			out = append(out, cell{start + at[0], start + at[1], is, line, whole, "became " + whole[:at[0]] + is + whole[at[1]:]})
		}
	}
	return out
}

// digit changes one digit, never the first one to a zero.
func digit(s string, r *rand.Rand) string {
	b := []byte(s)
	at := r.IntN(len(b))
	for b[at] == '.' {
		at = r.IntN(len(b))
	}
	b[at] = '0' + (b[at]-'0'+1+byte(r.IntN(9)))%10
	if at == 0 && b[0] == '0' {
		b[0] = s[0]%9 + '1' // another one from 1 to 9
		if b[0] == s[0] {
			b[0] = '1'
		}
	}
	return string(b)
}

// factor makes ten of a number.
func factor(s string) string {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || v == 0 {
		return s + "1"
	}
	return strconv.FormatFloat(v*10, 'f', -1, 64)
}

// rowsOf lists the changes of a table whose columns are parted by tabs: its numbers, and
// its rows, which become comments.
func rowsOf(src []byte, r *rand.Rand) (out []cell) {
	at := 0
	for i, line := range strings.SplitAfter(string(src), "\n") {
		row := strings.TrimRight(line, "\n")
		if row != "" && !strings.HasPrefix(row, "#") {
			out = append(out, cell{at, at + len(row), "#" + strings.Repeat(" ", len(row)-1), i + 1, row, "was removed"})
			in := at
			for _, column := range strings.SplitAfter(row, "\t") {
				end := in + len(strings.TrimRight(column, "\t"))
				out = append(out, numbersOf(src, in, end, i+1, r)...)
				in += len(column)
			}
		}
		at += len(line)
	}
	return slices.DeleteFunc(out, func(c cell) bool {
		_, ok := c.text(src)
		return !ok
	})
}

// program is the tests of a package, built once.
type program struct {
	dir, path, run, skip string
	places               []int64 // where the file that is changed lies in it
}

// tests builds the tests of a package into a folder.
func tests(dir, folder, run, skip string) (*program, error) {
	p := &program{dir: dir, path: filepath.Join(folder, strings.ReplaceAll(filepath.Clean(dir), string(filepath.Separator), "_")+".test"), run: run, skip: skip}
	command := exec.Command("go", "test", "-c", "-vet=off", "-o", p.path, ".")
	command.Dir = dir
	if out, err := command.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("%s: %w\n%s", dir, err, out)
	}
	if fails, out := p.fails(); fails {
		return nil, fmt.Errorf("%s: the tests fail without a change\n%s", dir, out)
	}
	return p, nil
}

// fails runs the tests, and reports whether one fails.
func (p *program) fails() (bool, []byte) {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	args := []string{"-test.short", "-test.failfast"}
	if p.run != "" {
		args = append(args, "-test.run", p.run)
	}
	if p.skip != "" {
		args = append(args, "-test.skip", p.skip)
	}
	command := exec.CommandContext(ctx, p.path, args...)
	command.Dir = p.dir
	out, err := command.CombinedOutput()
	return err != nil, out
}

// look finds where a file is embedded.
func (p *program) look(src []byte) error {
	whole, err := os.ReadFile(p.path)
	if err != nil {
		return err
	}
	p.places = nil
	for at := 0; ; {
		i := bytes.Index(whole[at:], src)
		if i < 0 {
			return nil
		}
		p.places = append(p.places, int64(at+i))
		at += i + len(src)
	}
}

// put writes a text where the file is embedded.
func (p *program) put(text []byte) (err error) {
	f, err := os.OpenFile(p.path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	for _, at := range p.places {
		if _, err := f.WriteAt(text, at); err != nil {
			return err
		}
	}
	return nil
}

// tryData changes the cells of files of data, n of each or all for 0, and runs the tests of
// packages that embed them; lived is whether a change went unnoticed.
func tryData(out io.Writer, files, dirs []string, n int, seed uint64, run, skip string) (lived bool, err error) {
	folder, err := os.MkdirTemp("", "mutate")
	if err != nil {
		return false, err
	}
	defer os.RemoveAll(folder)
	var programs []*program
	for _, dir := range dirs {
		p, err := tests(dir, folder, run, skip)
		if err != nil {
			return false, err
		}
		programs = append(programs, p)
	}
	for _, name := range files {
		src, err := os.ReadFile(name)
		if err != nil {
			return lived, err
		}
		held := 0
		for _, p := range programs {
			if err := p.look(src); err != nil {
				return lived, err
			}
			held += len(p.places)
		}
		if held == 0 {
			return lived, fmt.Errorf("%s is embedded in no test of %s", name, strings.Join(dirs, ", "))
		}
		r := rand.New(rand.NewPCG(seed, 0))
		cells, err := cellsOf(name, src, r)
		if err != nil {
			return lived, err
		}
		could := len(cells)
		r.Shuffle(len(cells), func(i, j int) { cells[i], cells[j] = cells[j], cells[i] })
		if n > 0 {
			cells = cells[:min(n, len(cells))]
		}
		noticed := 0
		for _, c := range cells {
			saw, err := c.try(src, programs)
			if err != nil {
				return lived, err
			}
			if saw {
				noticed++
				continue
			}
			lived = true
			fmt.Fprintf(out, "%s:%d: %s %s and no test noticed\n", name, c.line, short(c.was), c.said)
		}
		fmt.Fprintf(out, "%s: %d of %d changes noticed, of %d that could be tried\n", name, noticed, len(cells), could)
	}
	return lived, nil
}

// try runs the tests with the change until one notices it, and takes it back.
func (c *cell) try(src []byte, programs []*program) (noticed bool, err error) {
	text, ok := c.text(src)
	if !ok {
		return false, errors.New("there is no room for the change")
	}
	for _, p := range programs {
		if len(p.places) == 0 || noticed {
			continue
		}
		if err := p.put(text); err != nil {
			return false, err
		}
		noticed, _ = p.fails()
		if err := p.put(src); err != nil {
			return false, err
		}
	}
	return noticed, nil
}

// short is a text on one line, cut where it is long.
func short(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > 90 {
		return string(r[:90]) + "…"
	}
	return s
}

// dataFiles are the files that patterns name, parted by commas.
func dataFiles(patterns string) ([]string, error) {
	var out []string
	for _, p := range strings.Split(patterns, ",") {
		names, err := filepath.Glob(p)
		if err != nil {
			return nil, err
		}
		if len(names) == 0 {
			return nil, fmt.Errorf("%s: there is no such file", p)
		}
		out = append(out, names...)
	}
	return out, nil
}
