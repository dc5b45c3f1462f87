package casefile

import (
	"bytes"
	"regexp"

	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/text"
)

var privateKey = regexp.MustCompile(`^["']?(?:[Pp]rivate|PRIVATE)["']?[ \t]*:`)

// Public returns a file's bytes with everything private blanked out: the key
// `private:` of the front matter, or of a file that is YAML alone, with all that
// hangs on it, and sections whose heading begins with the word Private, up to the
// next heading as high. Lines and columns of the rest stay where they are. It
// returns the bytes themselves where nothing is private.
func Public(src []byte) []byte {
	if !bytes.Contains(src, []byte("rivate")) && !bytes.Contains(src, []byte("PRIVATE")) {
		return src
	}
	front, body := yamlRange(src)
	out := bytes.Clone(src)
	blankKeys(out[front[0]:front[1]])
	if body < len(src) {
		blankSections(out, body)
	}
	if bytes.Equal(out, src) {
		return src
	}
	return out
}

// yamlRange is where the YAML of a file is and where its Markdown begins; a file
// without front matter is YAML alone.
func yamlRange(src []byte) (front [2]int, body int) {
	at := 0
	if bytes.HasPrefix(src, []byte("\xef\xbb\xbf")) {
		at = 3
	}
	first := lineAt(src, at)
	if !bytes.Equal(bytes.TrimRight(first, " \t\r"), []byte("---")) {
		return [2]int{0, len(src)}, len(src)
	}
	front[0] = min(at+len(first)+1, len(src))
	for i := front[0]; i < len(src); {
		l := lineAt(src, i)
		next := min(i+len(l)+1, len(src))
		if bytes.Equal(bytes.TrimRight(l, " \t\r"), []byte("---")) {
			front[1] = i
			return front, next
		}
		i = next
	}
	return [2]int{front[0], len(src)}, len(src)
}

// blankKeys blanks private keys: from the key to the next line that begins in the
// first column with anything but a list's hyphen, a comment or a closing bracket.
func blankKeys(y []byte) {
	private := false
	for i := 0; i < len(y); {
		l := lineAt(y, i)
		if len(l) > 0 && bytes.IndexByte([]byte(" \t-#]}\r"), l[0]) < 0 {
			private = privateKey.Match(l)
		}
		if private {
			blank(y[i : i+len(l)])
		}
		i += len(l) + 1
	}
}

func blank(b []byte) {
	for i, c := range b {
		if c != '\n' && c != '\r' {
			b[i] = ' '
		}
	}
}

// blankSections blanks private sections of the Markdown from body on.
func blankSections(src []byte, body int) {
	md := src[body:]
	root := Markdown.Parser().Parse(text.NewReader(md))
	level, from := 0, 0
	var ranges [][2]int
	lineStart := func(at int) int { return bytes.LastIndexByte(md[:at], '\n') + 1 }
	for n := root.FirstChild(); n != nil; n = n.NextSibling() {
		h, ok := n.(*ast.Heading)
		if !ok || h.Lines().Len() == 0 {
			continue
		}
		start := lineStart(h.Lines().At(0).Start)
		if level > 0 && h.Level <= level {
			ranges = append(ranges, [2]int{from, start})
			level = 0
		}
		if name := bytes.TrimSpace([]byte(plainText(h, md))); level == 0 && len(name) >= 7 && bytes.EqualFold(name[:7], []byte("private")) {
			level, from = h.Level, start
		}
	}
	if level > 0 {
		ranges = append(ranges, [2]int{from, len(md)})
	}
	for _, r := range ranges {
		blank(md[r[0]:r[1]])
	}
}

// Strip returns a file's bytes without what [Public] blanks: those lines are left
// out.
func Strip(src []byte) []byte {
	public := Public(src)
	if bytes.Equal(public, src) {
		return src
	}
	out := make([]byte, 0, len(src))
	for i := 0; i < len(src); {
		n := min(len(lineAt(src, i))+1, len(src)-i)
		if bytes.Equal(src[i:i+n], public[i:i+n]) {
			out = append(out, src[i:i+n]...)
		}
		i += n
	}
	return out
}
