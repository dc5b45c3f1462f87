package site

import (
	"fmt"
	"io/fs"
	"path"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/long"
	"benchlore/schema/diagnostic"
)

// odd are notebooks at the edges: with nothing in them, with one case that is still
// open, with cases that say hardly anything, and with words that scripts know in
// another sense.
var odd = map[string]map[string]string{
	"nothing": {},
	"one open case": {
		"cases/2026/2026-0001-lamp.md": "---\ncase: 2026-0001\ntitle: Lamp flickers\ndevice: {kind: lamp}\nopened: 2026-01-02\nsymptoms: [flicker]\n---\n## Symptom\n\nIt flickers.\n",
	},
	"imported records": func() map[string]string {
		all := map[string]string{}
		for i := 1; i <= 12; i++ {
			id := fmt.Sprintf("2025-%04d", i)
			all["cases/2025/"+id+"-x.md"] = "---\ncase: " + id +
				"\ntitle: Kettle\ndevice: {kind: small-kitchen, maker: V}\nopened: 2025-03-02\nclosed: 2025-03-02\noutcome: fixed\nsymptoms: [no-power]\n---\n## Symptom\n\nDoes not heat.\n"
		}
		return all
	}(),
	"words of scripts": {
		"terms/own.yaml":                      "places:\n  - {id: constructor, name: Constructor, meaning: A place.}\n  - {id: value-of, name: valueOf, meaning: A place.}\nsymptoms:\n  - {id: constructor, name: toString, meaning: A word., group: power}\n",
		"devices/constructor.md":              "---\ndevice: constructor\nkind: lamp\nmaker: constructor\nmodel: __proto__\n---\n",
		"cases/2026/2026-0001-a.md":           "---\ncase: 2026-0001\ntitle: hasOwnProperty\ndevice: constructor\nopened: 2026-01-02\nclosed: 2026-01-03\noutcome: fixed\nsymptoms: [constructor]\ntags: [constructor, valueof]\ncause: {at: constructor, fault: open-circuit}\n---\n## Symptom\n\n__proto__ toString constructor.\n\n## Findings\n\n| check | result |\n|---|---|\n| constructor | fault |\n",
		"cases/2026/2026-0002-b.md":           "---\ncase: 2026-0002\ntitle: valueOf\ndevice: constructor\nopened: 2026-01-02\nsymptoms: [constructor]\nphotos:\n  - {file: \"a#b %41, c.svg\", caption: A name that an address would read otherwise}\n---\n## Symptom\n\nvalueOf.\n\n![A drawing](<a#b %41, c.svg>)\n",
		"cases/2026/2026-0002/a#b %41, c.svg": `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><rect width="9" height="9"/></svg>`,
	},
}

// addresses are what a page may be called with by a link that is broken or meant ill.
var addresses = []string{"#%", "#%E0%A4%A", "#constructor", "#__proto__", "#case=__proto__",
	"#case=constructor&part=__proto__", "#q=constructor+__proto__", "#q=%",
	"#has=constructor&device=__proto__&checked=toString", "#has=%&found=%E0", "#&&==&", "#2099-9999"}

// TestOddNotebooksInTheBrowser: every page of a notebook at the edges opens without
// an error of its scripts, and so do pages with scripts at addresses that nobody
// should have written.
func TestOddNotebooksInTheBrowser(t *testing.T) {
	t.Parallel()
	b := startBrowser(t)
	for name, files := range odd {
		t.Run(name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "book")
			write(t, dir, "notebook.yaml", "name: Odd\n")
			for name, text := range files {
				write(t, dir, name, text)
			}
			n, err := notebook.Load(dir)
			require.NoError(t, err)
			for _, d := range n.Problems {
				require.NotEqual(t, diagnostic.Error, d.Severity, d)
			}
			out := filepath.Join(t.TempDir(), "site")
			publish(t, n, out)
			var pages []string
			require.NoError(t, filepath.WalkDir(out, func(file string, e fs.DirEntry, err error) error {
				if rel, _ := filepath.Rel(out, file); err == nil && filepath.Ext(file) == ".html" &&
					!strings.HasPrefix(filepath.ToSlash(rel), "docs") {
					pages = append(pages, filepath.ToSlash(rel))
				}
				return err
			}))
			require.Greater(t, len(pages), 10)
			of := map[string]int{}
			for _, page := range pages {
				if of[path.Dir(page)]++; strings.Contains(page, "/") && of[path.Dir(page)] > long.Or(4, 1) {
					continue // of one template
				}
				at := []string{""}
				if scripted := page == "triage.html" || page == "search.html" || page == "practise.html" ||
					page == "reckon.html"; scripted && name == "words of scripts" {
					at = append(at, addresses...)
				}
				for _, hash := range at {
					b.Requests, b.Problems = nil, nil
					b.Do(t, chromedp.Navigate("about:blank"), chromedp.Navigate(fileURL(out, page+hash)))
					// What the page puts off until its data has come.
					_ = eval[any](t, b, `new Promise((done) => requestAnimationFrame(() => setTimeout(() => done(null), 30)))`)
					shown := eval[[]bool](t, b,
						`Promise.all([...document.images].map((i) => { i.loading = "eager"; return i.decode().then(() => true, () => false); }))`)
					assert.NotContains(t, shown, false, "%s: a picture is missing", page)
					if page == "cases/2026-0002.html" {
						assert.NotEmpty(t, shown, page)
					}
					assert.Empty(t, b.Problems, page+hash)
					for _, r := range b.Requests {
						assert.True(t, strings.HasPrefix(r, "file:") || r == "about:blank", "%s asked for %s", page+hash, r)
					}
				}
			}
		})
	}
}
