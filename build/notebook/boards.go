package notebook

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"io/fs"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"benchlore/build/disk"
	"benchlore/build/parallel"
	"benchlore/schema/board"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
	"benchlore/schema/filename"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// Board is a board of a device with what its files say.
type Board struct {
	*board.Board
	Name string // as the device's record has it
	Slug string // of the name; its files and page are called so
	// PartsPath and NetlistPath are where its files lie in the notebook; one of
	// the two may be empty.
	PartsPath, NetlistPath string
	Hash                   Hash // over both files
}

// BoardPaths returns where the files of a board are kept, inside the notebook.
func BoardPaths(device, name string) (parts, netlist string) {
	base := path.Join("devices", device, casefile.Slug(name))
	return base + ".csv", base + ".ipc"
}

// Board returns the board that a case is about, when the notebook has its
// files: the one that the case names, or the device's only one.
func (c *Case) Board() (*Board, bool) {
	if c.Device == nil {
		return nil, false
	}
	return c.Device.Board(c.File.Case.Board)
}

// Board returns the board with the name; without a name the device's only one.
func (d *Device) Board(name string) (*Board, bool) {
	if name == "" {
		if len(d.Boards) == 1 && d.Record != nil && len(d.Record.Device.Boards) == 1 {
			return d.Boards[0], true
		}
		return nil, false
	}
	for _, b := range d.Boards {
		if b.Slug == casefile.Slug(name) {
			return b, true
		}
	}
	return nil, false
}

// ChooseBoard gives the board of the device that a name means, as the device writes it,
// or the name of a new one: without a name the only board, or "main board" where the
// device has none yet. The error says what would be right.
func (d *Device) ChooseBoard(name string) (string, error) {
	known := d.Record.Device.Boards
	if name == "" {
		switch len(known) {
		case 0:
			return "main board", nil
		case 1:
			return known[0], nil
		}
		return "", fmt.Errorf("%s has the boards %s; say which with --board", d.ID, strings.Join(known, ", "))
	}
	for _, b := range known {
		if casefile.Slug(b) == casefile.Slug(name) {
			return b, nil
		}
	}
	if casefile.Slug(name) == "" {
		return "", fmt.Errorf("a board's name has letters or digits, unlike %q", name)
	}
	if err := filename.Check(casefile.Slug(name) + ".csv"); err != nil {
		return "", fmt.Errorf("the files of a board are called by its name: %w", err)
	}
	if near := terms.Nearest(name, known); near != "" {
		return "", fmt.Errorf("devices/%s.md lists no board %q%s Add it under boards: if it is another one", d.ID,
			name, diagnostic.DidYouMean(near))
	}
	return name, nil
}

// AddedBoard is what is put beside a device's file for one of its boards.
type AddedBoard struct {
	Name    string       // as [Device.ChooseBoard] gives it
	Parts   []board.Part // none where there is no parts list
	Netlist []byte       // IPC-D-356A; none where there is no netlist
	Replace bool         // files that are there already may be written over
}

// AddBoard writes the files of a board and lists it in the device's file. The error is
// [fs.ErrExist] where a file is there already and may not be replaced.
func (n *Notebook) AddBoard(d *Device, b AddedBoard) error {
	parts, netlist := BoardPaths(d.ID, b.Name)
	write := func(name string, data []byte) error {
		return disk.Folder(n.Dir).Change(name, strings.TrimSuffix(name, path.Ext(name)), func(have []byte) ([]byte, error) {
			if have != nil && !b.Replace {
				return nil, &fs.PathError{Op: "create", Path: filepath.ToSlash(filepath.Join(n.Dir, name)), Err: fs.ErrExist}
			}
			return data, nil
		})
	}
	if b.Parts != nil {
		if err := write(parts, board.FormatParts(b.Parts)); err != nil {
			return err
		}
	}
	if b.Netlist != nil {
		if err := write(netlist, b.Netlist); err != nil {
			return err
		}
	}
	if slices.Contains(d.Record.Device.Boards, b.Name) {
		return nil
	}
	return disk.Folder(n.Dir).Change(d.Path, strings.TrimSuffix(d.Path, path.Ext(d.Path)), func(have []byte) ([]byte, error) {
		record := d.Record
		if !bytes.Equal(have, record.Text.Bytes) { // somebody wrote it since it was read
			if record, _ = casefile.ParseDevice(d.Path, have); record == nil {
				return nil, fmt.Errorf("the files are in place; devices/%s.md cannot be read now: add %q under the key boards", d.ID, b.Name)
			}
		}
		if slices.Contains(record.Device.Boards, b.Name) {
			return nil, nil
		}
		next, err := record.Set("boards", append(slices.Clone(record.Device.Boards), b.Name))
		if err != nil {
			return nil, fmt.Errorf("the files are in place; add %q under boards: in devices/%s.md: %w", b.Name, d.ID, err)
		}
		return next.Text.Bytes, nil
	})
}

// boards reads the parts lists and netlists of all devices in parallel.
func (l *loader) boards() {
	type job struct {
		d    *Device
		name string
	}
	var jobs []job
	for _, d := range l.n.Devices {
		files := l.photos["devices/"+d.ID]
		known := map[string]bool{}
		for _, name := range d.Record.Device.Boards {
			parts, netlist := BoardPaths(d.ID, name)
			if known[path.Base(parts)] {
				l.say(d.Record.Say(diagnostic.Error, diagnostic.WrongValue,
					fmt.Sprintf("two boards are called much like %q; their files would have one name", name), "boards"))
				continue
			}
			known[path.Base(parts)], known[path.Base(netlist)] = true, true
			if err := filename.Check(path.Base(parts)); err != nil {
				l.say(d.Record.Say(diagnostic.Error, diagnostic.FileName, fmt.Sprintf("the files of a board are called by its name: %v", err), "boards"))
				continue
			}
			if slices.Contains(files, path.Base(parts)) || slices.Contains(files, path.Base(netlist)) {
				jobs = append(jobs, job{d, name})
			}
		}
		for _, file := range files {
			if ext := path.Ext(file); (ext == ".csv" || ext == ".ipc") && !known[file] {
				bad := l.fileProblem(path.Join("devices", d.ID, file), diagnostic.BoardFile,
					"this belongs to no board of the device; `benchlore board add %s` names it, or add the board under boards: in devices/%s.md", d.ID, d.ID)
				bad.Severity = diagnostic.Warning
				l.say(bad)
			}
		}
	}
	type result struct {
		board *Board
		list  []diagnostic.Diagnostic
	}
	results := make([]result, len(jobs))
	parallel.Each(len(jobs), func(i int) {
		results[i].board, results[i].list = l.readBoard(jobs[i].d, jobs[i].name)
	})
	for i, r := range results {
		l.say(r.list...)
		if r.board != nil {
			jobs[i].d.Boards = append(jobs[i].d.Boards, r.board)
		}
	}
}

func (l *loader) readBoard(d *Device, name string) (*Board, []diagnostic.Diagnostic) {
	parts, netlist := BoardPaths(d.ID, name)
	files := l.photos["devices/"+d.ID]
	b := &Board{Name: name, Slug: casefile.Slug(name)}
	var list []diagnostic.Diagnostic
	var rows []board.Part
	var nets *board.Netlist
	h := sha256.New()
	take := func(file string, into *string, read func(name string, src []byte) []diagnostic.Diagnostic) {
		if !slices.Contains(files, path.Base(file)) {
			return
		}
		src, bad := l.readUpTo(file, board.MaxFile)
		if bad != nil {
			list = append(list, *bad)
			return
		}
		*into = file
		fmt.Fprintln(h, file, len(src))
		_, _ = h.Write(src)
		list = append(list, read(l.show(file), src)...)
	}
	take(parts, &b.PartsPath, func(name string, src []byte) (said []diagnostic.Diagnostic) {
		rows, said = board.ReadParts(name, src, board.PartsOptions{})
		if l.trusted {
			return said
		}
		return append(said, casefile.Most(l.personalIn(parts, src))...)
	})
	take(netlist, &b.NetlistPath, func(name string, src []byte) (said []diagnostic.Diagnostic) {
		nets, said = board.ReadNetlist(name, src)
		return said
	})
	if len(rows) == 0 && nets == nil {
		return nil, list
	}
	var said []diagnostic.Diagnostic
	b.Board, said = board.New(rows, nets, l.show(netlist))
	// That a netlist knows more, or counts from elsewhere, was said when the
	// board was added.
	list = append(list, slices.DeleteFunc(said, func(d diagnostic.Diagnostic) bool { return d.Severity == diagnostic.Note })...)
	h.Sum(b.Hash[:0])
	return b, list
}

// checkBoard compares a case with what is known of its device: the board that
// it names, and how many fasteners there are.
func (l *loader) checkBoard(c *Case) {
	if c.Device.Record == nil {
		return
	}
	r := &c.Device.Record.Device
	if name := c.File.Case.Board; name != "" && len(r.Boards) > 0 &&
		!slices.ContainsFunc(r.Boards, func(b string) bool { return casefile.Slug(b) == casefile.Slug(name) }) {
		bad := c.Say(diagnostic.Warning, diagnostic.UnknownDevice,
			fmt.Sprintf("devices/%s.md lists no board %q", c.Device.ID, name), "board")
		bad.Suggestion = terms.Nearest(name, r.Boards)
		l.say(bad)
	}
	l.checkWork(c)
	if n := c.File.Case.Fasteners; n != nil {
		total := r.FastenerCount()
		if r.Total != nil {
			total = max(total, *r.Total)
		}
		if total > 0 && n.Out > total {
			l.say(c.Say(diagnostic.Error, diagnostic.FastenerCount,
				fmt.Sprintf("%d fasteners came out, and devices/%s.md knows %d; correct one of the two", n.Out,
					c.Device.ID, total), "fasteners", "out"))
		}
	}
}

// checkWork looks for what the records of work name on the case's board, and for a rail
// that was given more than it is made for.
func (l *loader) checkWork(c *Case) {
	b, ok := c.Board()
	if !ok {
		return
	}
	say := func(w *casefile.Work, column, format string, args ...any) {
		l.say(w.At(c.File, column, diagnostic.Warning, diagnostic.BoardPoint, fmt.Sprintf(format, args...)))
	}
	for i := range c.File.Case.Work {
		w := &c.File.Case.Work[i]
		for _, column := range []string{"part", "from", "to", "chip"} {
			for _, ref := range Designators(w.Text[column]) {
				if _, ok := b.Part(ref); !ok {
					say(w, column, "%s has no %s%s", b.Name, ref, diagnostic.DidYouMean(b.Nearest(ref)))
				}
			}
		}
		if w.Section != "Injection" || w.Text["net"] == "" {
			continue
		}
		if _, ok := b.Net(w.Text["net"]); !ok && b.Wired() {
			say(w, "net", "%s has no net %q%s", b.Name, w.Text["net"], diagnostic.DidYouMean(b.Nearest(w.Text["net"])))
			continue
		}
		given, err := quantity.Parse(w.Text["volts"])
		if err != nil || given.Unit != quantity.Volt {
			continue
		}
		for j := range c.Device.Record.Device.Rails {
			rail := &c.Device.Record.Device.Rails[j]
			if strings.EqualFold(rail.Name, w.Text["net"]) && rail.VoltsExpected.Judges() {
				if v, err := quantity.Judge(rail.VoltsExpected, given, quantity.Decimal{}); err == nil && v == quantity.High {
					say(w, "volts", "%s is more than %s is made for, %s", w.Text["volts"], rail.Name, rail.Volts)
				}
			}
		}
	}
}

// designator is how parts are named in running text, perhaps with a pin.
var designator = regexp.MustCompile(`\b(?:[A-Z]{1,3}|FB|TP|CN)\d{1,4}\b`)

// Designators returns the words of a text that name parts of a board: C341, or
// the U1 of U1.7.
func Designators(text string) []string { return designator.FindAllString(text, -1) }

// checkDevice looks for the points and designators of a device's tables on its
// boards. It says nothing until every board of the device has its files.
func (l *loader) checkDevice(d *Device) {
	if d.Record != nil {
		files := l.photos["devices/"+d.ID]
		for i, v := range d.Record.Device.Views {
			if v.Picture != "" && !slices.Contains(files, v.Picture) {
				bad := d.Record.Say(diagnostic.Error, diagnostic.MissingPhoto,
					fmt.Sprintf("there is no devices/%s/%s", d.ID, v.Picture), "views", strconv.Itoa(i), "picture")
				bad.Suggestion = terms.Nearest(v.Picture, files)
				l.say(bad)
			}
		}
	}
	if d.Record != nil {
		files := l.photos["devices/"+d.ID]
		for i, v := range d.Record.Device.Photos {
			if !slices.Contains(files, v.File) {
				bad := d.Record.Say(diagnostic.Error, diagnostic.MissingPhoto,
					fmt.Sprintf("there is no devices/%s/%s", d.ID, v.File), "photos", strconv.Itoa(i), "file")
				bad.Suggestion = terms.Nearest(v.File, files)
				l.say(bad)
			}
		}
	}
	if d.Record == nil || len(d.Boards) == 0 || len(d.Boards) < len(d.Record.Device.Boards) {
		return
	}
	missing := func(ref string) (near string, missing bool) {
		for _, b := range d.Boards {
			if _, ok := b.Part(ref); ok {
				return "", false
			}
			if _, ok := b.Net(ref); ok {
				return "", false
			}
			near = b.Nearest(ref)
		}
		return near, true
	}
	say := func(row casefile.Row, column, text, ref string) {
		if near, none := missing(ref); none {
			bad := d.Record.Problem(row, column, diagnostic.Error, diagnostic.BoardPoint,
				fmt.Sprintf("%q names %s, which no board of the device has", text, ref))
			bad.Suggestion = near
			l.say(bad)
		}
	}
	r := &d.Record.Device
	for i := range r.References {
		for _, ref := range Designators(r.References[i].Point) {
			say(&r.References[i], "point", r.References[i].Point, ref)
		}
	}
	for i := range r.Plugs {
		if ref := r.Plugs[i].Ref; ref != "" {
			say(&r.Plugs[i], "ref", ref, ref)
		}
	}
	for i := range r.Spares {
		if ref := r.Spares[i].Ref; ref != "" {
			say(&r.Spares[i], "ref", ref, ref)
		}
	}
}

// FillParts writes what the case's board knows into the empty cells of its
// Parts table: value, package and net of each row that names one part. Every
// other byte of the file stays. It returns how many cells were filled.
func (n *Notebook) FillParts(f *casefile.File, path string) (filled *casefile.File, cells int) {
	c := &Case{File: f, Path: path}
	if d, ok := n.devices[f.Case.Device.ID]; ok {
		c.Device = d
	}
	b, ok := c.Board()
	if !ok {
		return f, 0
	}
	for i := range f.Case.Parts {
		known, ok := b.Part(f.Case.Parts[i].Ref)
		if !ok {
			continue
		}
		for _, cell := range []struct{ column, have, knows string }{
			{"value", f.Case.Parts[i].Value, known.Value},
			{"package", f.Case.Parts[i].Package, known.Package},
			{"net", f.Case.Parts[i].Net, b.NetWords(known)},
		} {
			if cell.have != "" || cell.knows == "" {
				continue
			}
			if next, err := f.FillPart(i, cell.column, cell.knows); err == nil {
				f, cells = next, cells+1
			}
		}
	}
	return f, cells
}

// NetWords names the nets of a two-pin part as a Parts table does: the net that
// a shunt stands on, or both ends of a series part.
func (b *Board) NetWords(p *board.Part) string {
	nets := b.NetsOf(p)
	switch b.Role(p) {
	case board.Shunt:
		return b.Without(p).On.Name
	case board.Series:
		return nets[0] + " to " + nets[1]
	case board.Link, board.TestPoint:
		return nets[0]
	}
	return ""
}
