package site

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/text"
)

// Examples of CommonMark 0.31.2 that our rules render otherwise on purpose.
// Those that need raw HTML are found by their syntax tree; these are the links
// to schemes that the site does not follow.
var otherSchemes = []int{596, 598, 599, 601}

var spans = regexp.MustCompile(`</?span[^>]*>`)

// TestCommonMark runs the published examples through the renderer as the site
// configures it. The example file comes with goldmark's module.
func TestCommonMark(t *testing.T) {
	dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/yuin/goldmark").Output()
	require.NoError(t, err)
	data, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(dir)), "_test", "spec.json"))
	require.NoError(t, err)
	var examples []struct {
		Markdown, HTML string
		Example        int
	}
	require.NoError(t, json.Unmarshal(data, &examples))
	require.Len(t, examples, 652, "the examples of the released 0.31.2")
	md := newMarkdown(1)
	passed, raw := 0, []int{}
	for _, e := range examples {
		if needsHTML(e.Markdown) {
			raw = append(raw, e.Example)
			continue
		}
		got, err := convert(md, []byte(e.Markdown), nil)
		require.NoError(t, err)
		// Colours are spans inside the code, and code can be scrolled by keyboard.
		plain := strings.ReplaceAll(spans.ReplaceAllString(string(got), ""), `<pre tabindex="0">`, "<pre>")
		if slices.Contains(otherSchemes, e.Example) {
			assert.NotEqual(t, e.HTML, plain, "example %d is named as an exception and is none", e.Example)
			assert.NotContains(t, plain, "<a href", "example %d", e.Example)
			continue
		}
		if assert.Equal(t, e.HTML, plain, "example %d: %q", e.Example, e.Markdown) {
			passed++
		}
	}
	t.Logf("%d passed; raw HTML is needed by %d: %v; other schemes: %v", passed, len(raw), raw, otherSchemes)
	assert.Greater(t, passed, 560)
}

// needsHTML reports whether an example has raw HTML, block or inline.
func needsHTML(src string) bool {
	found := false
	root := newMarkdown(1).Parser().Parse(text.NewReader([]byte(src)))
	_ = ast.Walk(root, func(n ast.Node, _ bool) (ast.WalkStatus, error) {
		found = found || n.Kind() == ast.KindHTMLBlock || n.Kind() == ast.KindRawHTML
		return ast.WalkContinue, nil
	})
	return found
}

// TestHostileMarkdown: nothing of these may become an element that runs, loads
// or leads anywhere but where the policy allows.
func TestHostileMarkdown(t *testing.T) {
	md := newMarkdown(3)
	live := regexp.MustCompile(`(?i)<(script|img|iframe|object|embed|svg|style|link|meta|form|input|base|video|audio)\b|<[a-z][^>]*\son\w+\s*=|(?:href|src)="(?:javascript|data|vbscript|file|//)`)
	for _, src := range []string{
		"<script>alert(1)</script>", "a <img src=x onerror=alert(1)> b", "[x](javascript:alert(1))", "[x](JaVaScRiPt:alert(1))",
		"[x](java\nscript:alert(1))", "[x](&#106;avascript:alert(1))", "[x](javascript&colon;alert(1))", "[x](javascript&#58;alert(1))",
		"[x](\x01javascript:alert(1))", "[x](<java\tscript:alert(1)>)", "![x](data:image/svg+xml;base64,AAAA)",
		"![x](https://evil.example/x.png)",
		"![x](//evil.example/x.png)", "[x](//evil.example)", "[x](/\\evil.example)", "[x](\\\\evil.example)",
		"<javascript:alert(1)>", "<data:text/html,x>",
		"[x]: javascript:alert(1)\n\n[x]", "![x]: vbscript:x\n\n![x]", "[x](vbscript:x)", "[x](file:///etc/passwd)",
		"<a href=\"javascript:x\">y</a>",
		"```html\n<script>alert(1)</script>\n```", "```\"><script>alert(1)</script>\nx\n```",
		"| <script> | a |\n|---|---|\n| <b onclick=x> | [y](javascript:z) |",
		"<!-- --><script>alert(1)</script>", "<![CDATA[<script>alert(1)</script>]]>",
		"[x](http://ok.example \"onmouseover=alert(1)\")", "&lt;script&gt;",
		"![a\"onerror=alert(1)](x.png)", "<svg/onload=alert(1)>", "[a](feed:javascript:alert(1))",
	} {
		got, err := convert(md, []byte(src), func(dest string, picture bool) (string, bool) {
			if picture {
				return "", false
			}
			return safeURL(dest, false)
		})
		require.NoError(t, err)
		// What is escaped or inside an attribute value is text, not markup.
		markup := regexp.MustCompile(`(title|alt|class)="[^"]*"`).ReplaceAllString(string(got), "")
		assert.NotRegexp(t, live, markup, src)
	}
}

func TestSafeURL(t *testing.T) {
	for _, test := range []struct {
		dest          string
		link, picture bool
	}{
		{"a.html", true, true}, {"#x", true, true}, {"../b", true, true}, {"?q=a:b", true, true}, {"a/b:c", true, true}, {"", true, true},
		{"http://a.example/", true, false}, {"HTTPS://a.example", true, false}, {"mailto:x", true, false},
		{"javascript:x", false, false}, {"data:x", false, false}, {"//a.example", false, false}, {"\\\\a.example", false, false},
		{"/\\a.example", false, false}, {" javascript:x", false, false}, {"java\tscript:x", false, false},
		{"ftp://a", false, false}, {"C:\\x", false, false},
	} {
		_, link := safeURL(test.dest, false)
		_, picture := safeURL(test.dest, true)
		assert.Equal(t, test.link, link, test.dest)
		assert.Equal(t, test.picture, picture, test.dest)
	}
}

func FuzzConvert(f *testing.F) {
	f.Add("# a\n\n```go\nfunc\n```\n| a |\n|---|\n| [x](javascript:y) |\n")
	f.Add("<a href=\"javascript:x\">![y](data:z)")
	md := newMarkdown(3)
	// Every tag that we write is one of ours; everything else is escaped.
	tag := regexp.MustCompile(`<\s*/?\s*([a-zA-Z!?][^\s/>]*)`)
	ours := map[string]bool{}
	for _, w := range strings.Fields("div p h3 h4 h5 h6 a em strong del code pre span ul ol li blockquote table thead tbody tr th td br hr") {
		ours[w] = true
	}
	f.Fuzz(func(t *testing.T, src string) {
		got, err := convert(md, []byte(src), func(dest string, picture bool) (string, bool) {
			if picture {
				return "", false
			}
			return safeURL(dest, false)
		})
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range tag.FindAllStringSubmatch(string(got), -1) {
			if !ours[m[1]] {
				t.Fatalf("%q gives <%s in %q", src, m[1], got)
			}
		}
	})
}
