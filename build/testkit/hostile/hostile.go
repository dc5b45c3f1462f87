// Package hostile makes notebooks that are small, within every limit of a single file,
// and meant to be dear to read: what somebody would send to hold a workshop up. Only
// tests import it.
package hostile

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
)

// Notebook is the files of a notebook by their names inside it, notebook.yaml left out.
type Notebook struct {
	Name  string
	Files map[string]string
}

// Ordinary is a notebook of about size bytes as a workshop writes one: the measure beside
// which hostile ones stand.
func Ordinary(size int) Notebook {
	files := map[string]string{}
	for i, used := 0, 0; used < size; i++ {
		text := fmt.Sprintf(`---
case: 2026-%04d
title: Desk lamp %d flickers after ten minutes
device: {kind: lamp, maker: Lumadane, model: Arc %d}
opened: 2026-03-06
symptoms: [flicker]
before: [nothing]
hazards: [mains, stored-charge]
---
## Symptom

Steady when cold, then flickers faster and faster. The owner says that it began in spring.

## Findings

| check | seen | result | min |
|---|---|---|---|
| cord and plug looked at | no damage | fine | 3 |
| lid off, parts looked at | C%d has a domed top | fault | 5 |

## Measurements

| point | what | state | expected | read | note |
|---|---|---|---|---|---|
| LED string | voltage | on, cold | 36 V ±5 %% | 35.8 V | |
| C%d | voltage | on, warm | 36 V ±5 %% | 31.%d V | falls with time |
`, i+1, i, i%7, i%40, i%40, i%10)
		files[fmt.Sprintf("cases/2026/2026-%04d-lamp.md", i+1)] = text
		used += len(text)
	}
	return Notebook{"ordinary", files}
}

// body repeats a piece until it is n bytes long.
func fill(piece string, n int) string { return strings.Repeat(piece, max(1, n/len(piece))) }

// counted joins n bytes of what each gives for 0, 1, 2 and so on.
func counted(n int, each func(i int) string) string {
	var b strings.Builder
	for i := 0; b.Len() < n; i++ {
		b.WriteString(each(i))
	}
	return b.String()
}

const front = "---\ncase: %s\ntitle: T\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\n%s---\n"

// bodies are the Markdown below the front matter of a case, n bytes long.
var bodies = map[string]func(n int) string{
	"emphasis":           func(n int) string { return fill("*a_", n) },
	"strong and weak":    func(n int) string { return fill("*a **b ", n) },
	"stars in words":     func(n int) string { return fill("a**b", n) },
	"long runs of stars": func(n int) string { return fill(strings.Repeat("*", 900)+"a ", n) },
	"stars of growing length": func(n int) string {
		return counted(n, func(i int) string { return strings.Repeat("*", i%400+1) + "a" })
	},
	"strokes":             func(n int) string { return fill("~~a ", n) },
	"open brackets":       func(n int) string { return fill("[", n) },
	"open links":          func(n int) string { return fill("[a](", n) },
	"open links to angle": func(n int) string { return fill("[a](<b", n) },
	"links in links":      func(n int) string { return fill("[a", n/2) + fill("](b)", n/2) },
	"pictures":            func(n int) string { return fill("![a](b ", n) },
	"named links": func(n int) string {
		return counted(n/2, func(i int) string { return fmt.Sprintf("[r%d]: /x\n", i) }) + "\n" +
			counted(n/2, func(i int) string { return fmt.Sprintf("[a][r%d] ", i) })
	},
	"one name for all links": func(n int) string {
		return "[" + strings.Repeat("r", 900) + "]: /x\n\n" + fill("["+strings.Repeat("r", 900)+"] ", n)
	},
	"open definitions": func(n int) string { return fill("[a]:\n", n) },
	"definitions with open titles": func(n int) string {
		return counted(n, func(i int) string { return fmt.Sprintf("[r%d]: /x \"t\n", i) })
	},
	"code of every length": func(n int) string {
		return counted(n, func(i int) string { return strings.Repeat("`", i%600+1) + "a " })
	},
	"open code":          func(n int) string { return fill("``a `b ", n) },
	"open tags":          func(n int) string { return fill("<a ", n) },
	"open attributes":    func(n int) string { return fill("<a b='", n) },
	"open comments":      func(n int) string { return fill("x <!-- ", n) },
	"open instructions":  func(n int) string { return fill("x <? ", n) },
	"open declarations":  func(n int) string { return fill("x <!A ", n) },
	"open CDATA":         func(n int) string { return fill("x <![CDATA[ ", n) },
	"blocks of HTML":     func(n int) string { return fill("<div>\n\n", n) },
	"entities":           func(n int) string { return fill("&#x70; &p", n) },
	"backslashes":        func(n int) string { return fill("\\*\\[", n) },
	"quotes":             func(n int) string { return fill(strings.Repeat(">", 32)+"a\n", n) },
	"quotes by turns":    func(n int) string { return fill("> a\n\n", n) },
	"quotes that go on":  func(n int) string { return strings.Repeat("> ", 32) + "a\n" + fill("a\n", n) },
	"lists":              func(n int) string { return fill("- a\n", n) },
	"lists in lists":     func(n int) string { return fill(strings.Repeat("- ", 30)+"a\n", n) },
	"lists that stop":    func(n int) string { return fill("- a\n\n\n1. b\n\n", n) },
	"lists with gaps":    func(n int) string { return "- a\n" + fill("\n  b\n", n) },
	"empty items":        func(n int) string { return fill("*\n", n) },
	"rules":              func(n int) string { return fill("* * *\n", n) },
	"broken rules":       func(n int) string { return fill("* * * * * * * * * * * * * * * * * * * * * a\n", n) },
	"headings":           func(n int) string { return counted(n, func(i int) string { return fmt.Sprintf("## S%d\n", i%500) }) },
	"headings of a line": func(n int) string { return fill("a\n=\n", n) },
	"many tables":        func(n int) string { return fill("|a|b|\n|-|-|\n|\n\n", n) },
	"one long table":     func(n int) string { return "|a|b|\n|-|-|\n" + fill("|\n", n) },
	"one wide table": func(n int) string {
		return "|" + strings.Repeat("a|", 900) + "\n|" + strings.Repeat("-|", 900) + "\n" + fill("|\n", min(n, 40))
	},
	"almost tables":       func(n int) string { return fill("a|b\n-|\n", n) },
	"one long line":       func(n int) string { return fill("a", n) },
	"words of one line":   func(n int) string { return fill("lamp flickers ", n) },
	"denials":             func(n int) string { return fill("no not never without smoke ", n) },
	"one sentence":        func(n int) string { return fill("it does not turn on and ", n) },
	"words without end":   func(n int) string { return counted(n, func(i int) string { return fmt.Sprintf("w%dx ", i) }) },
	"words joined":        func(n int) string { return fill("a-", n) },
	"digits":              func(n int) string { return fill("1234 ", n) },
	"digits with hyphens": func(n int) string { return fill("1-2", n) },
	"one number":          func(n int) string { return fill("1", n) },
	"mail":                func(n int) string { return fill("a.b@example.com ", n) },
	"mail without end":    func(n int) string { return fill("a@", n) },
	"points of mail":      func(n int) string { return "a@" + fill("b.", n) },
	"device numbers":      func(n int) string { return fill("aa:bb:cc:dd:ee:", n) },
	"combining marks":     func(n int) string { return "e" + fill("\u0301\u0323", n) },
	"compatibility forms": func(n int) string { return fill("\ufdfa", n) },
	"letters p":           func(n int) string { return fill("p r i v a t ", n) },
	"private headings":    func(n int) string { return "## Private\n" + fill("## Priv\n", min(n, 3000)) },
	"private in quotes":   func(n int) string { return fill("> # private\n> a\n\n", n) },
	"private in lists":    func(n int) string { return fill("- # private\n  a\n\n", n) },
	"comments":            func(n int) string { return fill("<!-- a -->\n\n", n) },
	"comments in lines":   func(n int) string { return fill("a <!-- b --> ", n) },
	"blanks":              func(n int) string { return fill(" ", n) + "x" },
	"tabs":                func(n int) string { return fill("\t", n) + "x" },
	"lines of blanks":     func(n int) string { return fill(" \n", n) },
	"code of other kinds": func(n int) string { return "```json\n" + fill("{\"a\":[", n) + "\n```\n" },
	"code of a listing":   func(n int) string { return "```c\n" + fill("/* \" ' ", n) + "\n```\n" },
	"many blocks of code": func(n int) string { return fill("```c\n/* \" '\n```\n", n) },
	"findings": func(n int) string {
		return "## Findings\n\n|check|seen|result|min|\n|-|-|-|-|\n" + counted(n, func(i int) string { return fmt.Sprintf("|a%d|b|fine|1|\n", i) })
	},
	"readings": func(n int) string {
		return "## Measurements\n\n|point|what|state|expected|read|note|when|\n|-|-|-|-|-|-|-|\n" +
			counted(n, func(i int) string { return fmt.Sprintf("|P%d|voltage|on|5 V|4 V||before|\n", i) })
	},
	"readings of one point": func(n int) string {
		return "## Measurements\n\n|point|what|state|expected|read|note|when|\n|-|-|-|-|-|-|-|\n" + fill("|P1|voltage|on||4 V||before|\n", n)
	},
	"long readings": func(n int) string {
		return "## Measurements\n\n|point|what|state|expected|read|note|when|\n|-|-|-|-|-|-|-|\n" +
			fill("|P1|voltage|on|"+strings.Repeat("9", 900)+" V|"+strings.Repeat("1", 900)+" V||before|\n", n)
	},
	"parts": func(n int) string {
		return "## Parts\n\n|ref|part|value|package|net|action|fitted|note|when|\n|-|-|-|-|-|-|-|-|-|\n" +
			counted(n, func(i int) string {
				return fmt.Sprintf("|C%d|capacitor|100 nF 16 V X7R|0402||replaced|100 nF 25 V X7R 0402||\n", i)
			})
	},
	"one part of many marks": func(n int) string {
		return "## Parts\n\n|ref|part|value|package|net|action|fitted|note|when|\n|-|-|-|-|-|-|-|-|-|\n|" +
			counted(n, func(i int) string { return fmt.Sprintf("C%d,", i) }) + "|capacitor|||||||\n"
	},
	"outcome with rows": func(n int) string {
		return "## Acceptance\n\n|check|limit|read|result|\n|-|-|-|-|\n" + fill("|a|5 V|4 V|fine|\n", n)
	},
	"injections": func(n int) string {
		return "## Injection\n\n|net|volts|amps|seen|\n|-|-|-|-|\n" + fill("|N1|5 V|1 A|a|\n", n)
	},
}

// fronts are lines of front matter, n bytes long.
var fronts = map[string]func(n int) string{
	"keys that are none": func(n int) string { return counted(n, func(i int) string { return fmt.Sprintf("k%d: 1\n", i) }) },
	"words that are none": func(n int) string {
		return "absent: [" + counted(n, func(i int) string { return fmt.Sprintf("w%dw, ", i) }) + "]\n"
	},
	"long words that are none": func(n int) string {
		return "absent: [" + fill(strings.Repeat("w", 900)+", ", n) + "]\n"
	},
	"known words": func(n int) string { return "absent: [" + fill("hum, ", n) + "]\n" },
	"tags": func(n int) string {
		return "tags: [" + counted(n, func(i int) string { return fmt.Sprintf("t%d, ", i) }) + "]\n"
	},
	"lists in lists of YAML": func(n int) string { return "tags: [" + fill("[[[[a]]]], ", n) + "]\n" },
	"aliases": func(n int) string {
		return "x: &a [b, b, b, b]\ny: [" + fill("*a, ", n) + "]\n"
	},
	"aliases of aliases": func(n int) string {
		return "x0: &a0 [b, b, b, b, b, b, b, b]\n" + counted(n, func(i int) string {
			a := fmt.Sprintf("*a%d", i)
			return fmt.Sprintf("x%d: &a%d [%s]\n", i+1, i+1, strings.Repeat(a+", ", 7)+a)
		})
	},
	"anchors": func(n int) string {
		return "x: [" + counted(n, func(i int) string { return fmt.Sprintf("&a%d b, ", i) }) + "]\n"
	},
	"merged keys":      func(n int) string { return "x: &a {b: c}\n" + fill("? {<<: *a}\n: c\n", n) },
	"tags of YAML":     func(n int) string { return "x: [" + fill("!!binary a, ", n) + "]\n" },
	"comments of YAML": func(n int) string { return fill("# a\n", n) },
	"a comment a line": func(n int) string { return counted(n, func(i int) string { return fmt.Sprintf("k%d: 1 # a\n", i) }) },
	"open flow":        func(n int) string { return "x: " + fill("[", n) + "\n" },
	"one long text":    func(n int) string { return "by: \"" + fill("\\x61", n) + "\"\n" },
	"a folded text":    func(n int) string { return "by: >\n" + fill("  a\n\n", n) },
	"blank lines":      func(n int) string { return fill("\n", n) },
	"keys of maps": func(n int) string {
		return "x:\n" + counted(n, func(i int) string { return fmt.Sprintf("  ? [a%d]\n  : b\n", i) })
	},
	"twice the keys": func(n int) string { return fill("by: a\n", n) },
	"photos": func(n int) string {
		return "photos:\n" + counted(n, func(i int) string { return fmt.Sprintf("  - {file: p%d.jpg, compare: q.jpg}\n", i) })
	},
	"marks": func(n int) string {
		return "photos:\n  - file: a.jpg\n    marks:\n" + fill("      - {x: 0.1, y: 0.2, label: a}\n", n)
	},
	"merge marks":     func(n int) string { return fill("<<<<<<< a\n", n) },
	"symptoms of all": func(n int) string { return "hazards: [" + fill("mains, ", n) + "]\n" },
}

func caseFile(i int, front_, body string) (name, text string) {
	id := fmt.Sprintf("2026-%04d", i)
	return "cases/2026/" + id + "-t.md", fmt.Sprintf(front, id, front_) + "## Symptom\n\n" + body + "\n"
}

const device = "---\ndevice: x1\nkind: lamp\nmaker: V\nmodel: L\nboards: [main]\n---\n"

// Notebooks are the hostile ones, each of about size bytes, in the order of their names:
// each flood as one file of all the bytes, and as files of some kilobytes.
func Notebooks(size int) []Notebook {
	var out []Notebook
	add := func(name string, files map[string]string) { out = append(out, Notebook{name, files}) }
	for _, flood := range []struct {
		of   map[string]func(n int) string
		file func(i int, text string) (string, string)
	}{
		{bodies, func(i int, text string) (string, string) { return caseFile(i, "", text) }},
		{fronts, func(i int, text string) (string, string) { return caseFile(i, text, "") }},
	} {
		for name, text := range flood.of {
			for _, each := range []int{size, 6_000} {
				files := map[string]string{}
				for i := range max(1, size/each) {
					path, text := flood.file(i+1, text(each-300))
					files[path] = text
				}
				add(fmt.Sprintf("%s, %d files", name, len(files)), files)
			}
		}
	}
	many := func(each func(i int) (string, string)) map[string]string {
		files := map[string]string{}
		for i, used := 1, 0; used < size; i++ {
			name, text := each(i)
			files[name] = text
			used += len(text) + len(name)
		}
		return files
	}
	add("small cases", many(func(i int) (string, string) { return caseFile(i, "", "It flickers.") }))
	add("cases of unknown devices", many(func(i int) (string, string) {
		name, text := caseFile(i, "", "a")
		return name, strings.Replace(text, "{kind: lamp}", fmt.Sprintf("d%d", i), 1)
	}))
	add("comebacks of nothing", many(func(i int) (string, string) { return caseFile(i, "returns: 2020-0001\n", "a") }))
	add("a chain of comebacks", many(func(i int) (string, string) {
		if i == 1 {
			return caseFile(i, "", "a")
		}
		return caseFile(i, fmt.Sprintf("returns: 2026-%04d\n", i-1), "a")
	}))
	add("comebacks of each other", many(func(i int) (string, string) {
		return caseFile(i, fmt.Sprintf("returns: 2026-%04d\n", i^1), "a")
	}))
	add("cases of one point", many(func(i int) (string, string) {
		return caseFile(i, "", "a\n\n## Measurements\n\n|point|what|state|expected|read|\n|-|-|-|-|-|\n"+strings.Repeat("|P1|voltage|on||4 V|\n", 40))
	}))
	add("pages", many(func(i int) (string, string) {
		return fmt.Sprintf("path/p%d.md", i), "---\ntitle: T\n---\na\n"
	}))
	add("devices", many(func(i int) (string, string) {
		return fmt.Sprintf("devices/d%d.md", i), fmt.Sprintf("---\ndevice: d%d\nkind: lamp\nmaker: V\nmodel: L%d\n---\n", i, i)
	}))
	board := func(csv, ipc string) map[string]string {
		files := map[string]string{"devices/x1.md": device}
		if csv != "" {
			files["devices/x1/main.csv"] = csv
		}
		if ipc != "" {
			files["devices/x1/main.ipc"] = ipc
		}
		name, text := caseFile(1, "", "a")
		files[name] = strings.Replace(text, "{kind: lamp}", "x1", 1)
		return files
	}
	const head = "designator,value,package,x,y,rotation,side\n"
	const nethead = "C  Invented\nP  JOB   B1\nP  UNITS CUST 1\nP  VER   IPC-D-356A\n"
	pin := func(net, ref, number string, x, y int) string {
		return fmt.Sprintf("317%-14s   %-6s-%-4s D0900PA00X%+07dY%+07dX0500Y0500R000 S0\n", net, ref, number, x, y)
	}
	add("parts in one place", board(head+counted(size, func(i int) string { return fmt.Sprintf("C%d,1n,0402,1,1,0,top\n", i) }), ""))
	add("parts in a row", board(head+counted(size, func(i int) string { return fmt.Sprintf("C%d,1n,0402,%d,1,0,top\n", i, i%2000) }), ""))
	add("one part again and again", board(head+fill("C1,1n,0402,1,1,0,top\n", size), ""))
	add("large parts", board(head+counted(size, func(i int) string { return fmt.Sprintf("U%d,x,BGA-1000,%d,%d,0,top\n", i, i%50, i/50) }), ""))
	add("a list of quotes", board(head+fill("\"", size), ""))
	add("a list of commas", board(head+fill(",", size), ""))
	add("a list of heads", board(fill("ref,x,y\n", size), ""))
	add("a list of blanks", board(fill("ref x y\n", size/2)+fill(" ", size/2), ""))
	add("one net", board("", nethead+counted(size, func(i int) string { return pin("N1", fmt.Sprintf("R%d", i/2), fmt.Sprint(i%2+1), i%900, i/900) })+"999\n"))
	add("one part of all pins", board("", nethead+counted(size, func(i int) string { return pin(fmt.Sprintf("N%d", i), "U1", fmt.Sprint(i%9999), i, i) })+"999\n"))
	add("pins in one place", board("", nethead+counted(size, func(i int) string {
		return pin(fmt.Sprintf("N%d", i%40), fmt.Sprintf("R%d", i/2), fmt.Sprint(i%2+1), 1, 1)
	})+"999\n"))
	add("a chain of resistors", board("", nethead+counted(size, func(i int) string {
		return pin(fmt.Sprintf("N%d", (i+1)/2), fmt.Sprintf("R%d", i/2), fmt.Sprint(i%2+1), i%900, i/900)
	})+"999\n"))
	add("lines that are none", board("", nethead+fill("3\n", size)+"999\n"))
	add("aliases of nets", board("", nethead+counted(size, func(i int) string { return fmt.Sprintf("P  NNAME%d N%d\n", i, i) })+"999\n"))
	add("lines that go on", board("", nethead+pin("N1", "R1", "1", 1, 1)+fill("017 X1Y1\n", size)+"999\n"))
	add("outlines", board("", nethead+"389BOARD_EDGE X0Y0 "+fill("X100Y100 ", size/2)+"\n"+fill("089X1Y1 X2Y2\n", size/2)+"999\n"))
	drawing := func(svg string) map[string]string {
		name, text := caseFile(1, "photos:\n  - {file: a.svg, caption: a}\n", "a")
		return map[string]string{name: text, "cases/2026/2026-0001/a.svg": "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 9 9\">" + svg + "</svg>"}
	}
	add("a drawing of one line", drawing("<path d=\""+fill("M0 0L9 9", size)+"\"/>"))
	add("a drawing of groups", drawing(fill("<g>", size*3/7)+fill("</g>", size*4/7)))
	add("a drawing of words", drawing(fill("<text>a b@c.de 1234567</text>", size)))
	add("a drawing of one word", drawing("<text>"+fill("a@", size)+"</text>"))
	add("a drawing of attributes", drawing("<g "+counted(size, func(i int) string { return fmt.Sprintf("a%d=\"1\" ", i) })+"/>"))
	add("a drawing of references", drawing(counted(size, func(i int) string { return fmt.Sprintf("<g id=\"a%d\"><use href=\"#a%d\"/></g>", i+1, i) })))
	terms := func(text string) map[string]string {
		name, c := caseFile(1, "", "a")
		return map[string]string{"terms/a.yaml": text, name: c}
	}
	add("own words", terms("places:\n"+counted(size, func(i int) string { return fmt.Sprintf("  - {id: p%d, name: P%d, meaning: M.}\n", i, i) })))
	add("words for one word", terms("places:\n  - id: p1\n    name: P\n    meaning: M.\n    also: ["+counted(size, func(i int) string { return fmt.Sprintf("s%d, ", i) })+"]\n"))
	add("own words twice", terms("places:\n"+fill("  - {id: p1, name: P1, meaning: M.}\n", size)))
	add("own words with many files", many(func(i int) (string, string) {
		return fmt.Sprintf("terms/a%d.yaml", i), fmt.Sprintf("places:\n  - {id: p%d, name: P%d, meaning: M.}\n", i, i)
	}))
	methods := func(text string) map[string]string {
		name, c := caseFile(1, "", "a")
		return map[string]string{"method/a.yaml": text, name: c}
	}
	add("methods", methods("steps:\n"+counted(size, func(i int) string { return fmt.Sprintf("  - {check: c%d, minutes: 1}\n", i) })))
	tables := map[string]string{
		"fasteners":  "## Fasteners\n\n|mark|head|length|count|\n|-|-|-|-|\n",
		"references": "## Reference\n\n|point|what|state|expected|\n|-|-|-|-|\n",
		"rails":      "## Rails\n\n|rail|from|volts|\n|-|-|-|\n",
		"spares":     "## Spares\n\n|part|from|ref|left|least|\n|-|-|-|-|-|\n",
	}
	for name, head := range tables {
		add("a device of "+name, map[string]string{"devices/x1.md": strings.Replace(device, "boards: [main]\n", "", 1) + head +
			counted(size, func(i int) string {
				switch name {
				case "fasteners":
					return fmt.Sprintf("|a%d|PH1|%d mm|1|\n", i, i%30+1)
				case "references":
					return fmt.Sprintf("|P%d|voltage|on|5 V|\n", i)
				case "rails":
					return fmt.Sprintf("|R%d|R%d|5 V|\n", i+1, i)
				}
				return fmt.Sprintf("|p%d|a|C%d|1|2|\n", i, i)
			})})
	}
	add("boards of a device", map[string]string{"devices/x1.md": strings.Replace(device, "[main]", "["+
		counted(size, func(i int) string { return fmt.Sprintf("b%d, ", i) })+"]", 1)})
	slices.SortFunc(out, func(a, b Notebook) int { return strings.Compare(a.Name, b.Name) })
	return out
}

// Pack is an archive with a manifest that fits it, as another workshop would send it,
// compressed as far as the format goes. It is made without the code that writes packs.
func Pack(files map[string]string) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	type file struct {
		Path   string `json:"path"`
		Bytes  int    `json:"bytes"`
		SHA256 string `json:"sha256"`
	}
	var list []file
	put := func(name, text string) {
		w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate})
		if err == nil {
			_, err = io.WriteString(w, text)
		}
		if err != nil {
			panic(err) // a buffer takes everything
		}
	}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		if head, _, _ := strings.Cut(name, "/"); head == "path" || head == "method" {
			continue // is not taken in from a pack
		}
		sum := sha256.Sum256([]byte(files[name]))
		put("notes/"+name, files[name])
		list = append(list, file{"notes/" + name, len(files[name]), hex.EncodeToString(sum[:])})
	}
	manifest, err := json.Marshal(map[string]any{"format": "benchlore pack", "version": 1,
		"origin": map[string]string{"id": "evil", "name": "Evil"}, "files": list})
	if err != nil {
		panic(err)
	}
	put("manifest.json", string(manifest))
	if err := z.Close(); err != nil {
		panic(err)
	}
	return b.Bytes()
}
