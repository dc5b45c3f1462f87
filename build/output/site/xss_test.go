package site

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/build/testkit/long"
	"benchlore/schema/casefile"
	"benchlore/schema/diagnostic"
)

// payloads are the lines of the corpus, and the event handlers on three elements
// each.
func payloads(t *testing.T) []string {
	t.Helper()
	read := func(name string) []string {
		src, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "xss", name))
		require.NoError(t, err)
		return slices.DeleteFunc(strings.Split(string(src), "\n"), func(l string) bool { return l == "" || strings.HasPrefix(l, "# ") })
	}
	list := read("payloads.txt")
	for _, line := range read("events.txt") {
		for _, event := range strings.Fields(line) {
			list = append(list, "<img src=x "+event+"=alert(1)>", `"><svg `+event+`="alert(1)">`,
				"<input autofocus tabindex=1 "+event+"=alert(1)>")
		}
	}
	return list
}

// TestHostileTexts plants over three hundred payloads in every field of a
// notebook, opens every page in a browser from file://, and watches for dialogs,
// requests and errors: none fires, and none is lost from the text.
func TestHostileTexts(t *testing.T) {
	t.Parallel()
	list := payloads(t)
	require.Greater(t, len(list), 300)
	// A comment that ends otherwise than a reader of Markdown expects is refused with its case.
	const unclosed = "<!-- --!><img src=x onerror=alert(1)>"
	list = slices.DeleteFunc(list, func(p string) bool { return p == unclosed })
	dir := t.TempDir()
	write := func(name, text string) {
		path := filepath.Join(dir, filepath.FromSlash(name))
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
	quote := func(s string) string { b, _ := json.Marshal(s); return string(b) }
	short := func(s string) string { return string([]rune(s)[:min(110, len([]rune(s)))]) }
	one := func(i int) string { return list[i%len(list)] }
	write("notebook.yaml", "name: "+quote(short(one(0)))+"\nsite: {licence: "+quote(one(25))+", welcome: "+quote(one(26))+"}\n")
	write("terms/own.yaml", "symptoms:\n  - {id: own-one, name: "+quote(one(72))+", meaning: "+quote(one(1))+
		", group: "+quote("x"+short(one(26)))+"}\nplaces:\n  - {id: own-place, name: "+quote(one(90))+", meaning: "+quote(one(25))+"}\n"+
		"hazards:\n  - {id: own-hazard, name: "+quote(one(91))+", meaning: "+quote(one(25))+", caution: "+quote(one(0))+"}\n")
	write("devices/evil.md", "---\ndevice: evil\nkind: lamp\nmaker: "+quote(short(one(72)))+"\nmodel: "+
		quote(short(one(25)))+"\nboards: [main]\npower: "+quote(short(one(93)))+
		"\nhazards: [own-hazard]\nviews: [{name: "+quote(short(one(26)))+
		", width: 100, height: 80}]\n---\n## Before you open it\n\n"+one(72)+"\n\n## Fasteners\n\n"+
		casefile.FormatTable([]string{"mark", "place", "head", "thread", "length", "count", "x", "y", "under",
			"note"}, [][]string{{"<b>", one(72), "PH1", one(25), "8", "1", "10", "10", one(0), one(26)},
			{"&\"'", one(91), "PH1", one(25), "4", "1", "50", "10", one(93), one(0)}})+
		"\n## Connectors\n\n"+casefile.FormatTable([]string{"name", "carries", "release", "beside", "ref"},
		[][]string{{one(72), one(0), one(25), one(26), "R1"}}))
	write("path/evil.md", "---\ntitle: "+quote(short(one(72)))+"\nwhy: "+quote(short(one(25)))+"\n---\n"+one(72)+
		"\n\n"+one(0)+"\n\n> "+one(91)+"\n")
	csv := "designator,value,package,x_mm,y_mm,rotation,side\nR1,1k,0402,5,5,0,top\n"
	for i := range 60 {
		csv += fmt.Sprintf("\"%s\",\"%s\",0402,%d,%d,0,top\n",
			strings.ReplaceAll(string([]rune(one(i))[:min(60, len([]rune(one(i))))]), `"`, `""`),
			strings.ReplaceAll(one(i+60), `"`, `""`), 5+i%3, 7+i)
	}
	write("devices/evil/main.csv", csv)
	for i, p := range list {
		id := fmt.Sprintf("2026-%04d", i+1)
		title := short(p)
		src := "---\ncase: " + id + "\ntitle: " + quote(title) + "\ndevice: " +
			[]string{"evil", "{kind: lamp, maker: " + quote(title) + ", model: " + quote(title) + "}"}[i%2] +
			"\nopened: 2026-01-02\nclosed: 2026-01-03\nsymptoms: [own-one]\nhazards: [own-hazard]\ncause: {fault: joint-cracked, at: own-place}\noutcome: fixed\nconfirmed: " + quote(title) +
			"\ntags: [" + quote(string([]rune(title)[:min(30, len([]rune(title)))])) + "]\n---\n## Symptom\n\n" + p +
			"\n\n" + casefile.EscapeText(p) + "\n\n## Findings\n\n" +
			casefile.FormatTable(casefile.FindingColumns, [][]string{{p, p, "fault", "1"}}) + "\n" + p +
			"\n\n## Measurements\n\n" + casefile.FormatTable(casefile.MeasurementColumns, [][]string{{p, p, p, "> 5 V", "3 V", p}}) +
			"\n## Parts\n\n" + casefile.FormatTable(casefile.PartColumns,
			[][]string{{"R1", p, p, p, p, "substituted", p, p}}) + "\n## Outcome\n\n```html\n" + p + "\n```\n\n> " +
			p + "\n\n## " + title + "\n\n- " + p + "\n"
		write("cases/2026/"+id+".md", src)
	}
	write("cases/2026/2026-9999.md", "---\ncase: 2026-9999\ntitle: Refused\ndevice: evil\nopened: 2026-01-02\n---\n## Symptom\n\n"+unclosed+"\n")
	n, err := notebook.Load(dir)
	require.NoError(t, err)
	require.Len(t, n.Cases, len(list), "cases")
	require.True(t, slices.ContainsFunc(n.Problems, func(d diagnostic.Diagnostic) bool {
		return strings.HasSuffix(d.File, "2026-9999.md") && d.Rule == diagnostic.PrivateForm
	}))
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	b := startBrowser(t)
	var mu sync.Mutex
	var dialogs []string
	require.NoError(t, chromedp.Listen(b.Ctx, func(ev any) {
		if d, ok := ev.(*page.EventJavascriptDialogOpening); ok {
			mu.Lock()
			dialogs = append(dialogs, d.Message)
			mu.Unlock()
			go func() {
				_, _ = chromedp.Run(context.WithoutCancel(b.Ctx), func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
					return command(page.HandleJavaScriptDialog, page.HandleJavaScriptDialogParams{Accept: true})(ctx, t)
				})
			}()
		}
	}))
	open := func(name string) {
		b.Requests, b.Problems = nil, nil
		b.Do(t, chromedp.Navigate(fileURL(out, name)))
	}
	quiet := func(name string) {
		mu.Lock()
		defer mu.Unlock()
		assert.Empty(t, dialogs, name)
		for _, r := range b.Requests {
			assert.True(t, strings.HasPrefix(r, "file:") || r == "about:blank", "%s asked for %s", name, r)
		}
		assert.Empty(t, b.Problems, name)
	}
	swallowed := 0
	for i, p := range list {
		if i%long.Or(1, 9) != 0 {
			continue
		}
		name := fmt.Sprintf("cases/2026-%04d.html", i+1)
		open(name)
		// Everything that can be pointed at or focused is.
		got := eval[[]string](t, b, `(() => {
			for (const e of document.querySelectorAll("main *")) for (const kind of ["mouseover", "mousemove", "pointerenter", "focus", "error", "load", "toggle", "animationstart"]) e.dispatchEvent(new Event(kind));
			const cells = [...document.querySelectorAll("main table")].map((t) => [...t.tBodies[0].rows[0].cells].map((c) => c.textContent).join("\n")).join("\n");
			return [document.querySelector("h1").textContent, cells, document.querySelector("main pre")?.textContent ?? "", String(document.querySelectorAll("main script, main iframe, main object, main embed, main form, main input, main style, main link:not([href=\"../assets/case.css\"], [href=\"../assets/board.css\"]), main meta, main base, main video, main audio, main math").length)];
		})()`)
		assert.Equal(t, strings.Join(strings.Fields(short(p)), " "), strings.Join(strings.Fields(got[0]), " "), name)
		if c := n.Cases[i]; len(c.File.Case.Findings) == 0 {
			// HTML that is not closed swallows what follows, as CommonMark has it;
			// check says so, and the text stands there.
			swallowed++
			if strings.Contains(p, "<!") || strings.Contains(p, "<?") {
				// A comment that is not closed is cut to its end, like every comment.
				assert.Equal(t, "0", got[3], name)
				quiet(name)
				continue
			}
			whole := eval[string](t, b, `document.querySelector("main").textContent`)
			assert.GreaterOrEqual(t, strings.Count(squeezed(whole), squeezed(p)), 5, name)
			assert.True(t, slices.ContainsFunc(n.Problems,
				func(d diagnostic.Diagnostic) bool {
					return d.File == c.Text.Name &&
						d.Rule == diagnostic.UnclosedFence
				}), "%s: check names it", name)
		} else {
			assert.GreaterOrEqual(t, strings.Count(squeezed(got[1]), squeezed(p)), 8, "%s: %q stands in the cells", name, p)
			assert.Contains(t, got[2], strings.TrimSpace(p), name)
		}
		assert.Equal(t, "0", got[3], "%s: no element of theirs is in the page", name)
		quiet(name)
	}
	for _, name := range []string{"index.html", "cases.html", "years/2026.html", "symptoms.html",
		"symptoms/own-one.html", "devices.html", "devices/evil.html", "trays/evil-a4.html", "boards/evil/main.html",
		"faults.html", "parts.html", "words.html",
		"cautions.html", "hazards/own-hazard.html", "path.html", "path/evil.html", "path/cases.html", "practise.html",
		"practise.html#2026-0001", "practise.html#2026-0002", "docs.html", "figures.html", "reckon.html",
		"triage.html#has=own-one&device=evil", "search.html#q=alert", "search.html#q=%3Cscript%3Ealert(1)%3C%2Fscript%3E"} {
		open(name)
		if strings.HasPrefix(name, "practise.html#") {
			waitFor(t, b, `document.querySelector("#bench h2, #exercises") !== null`)
			_ = eval[any](t, b, `(() => { document.getElementById("check-0")?.click(); document.querySelector("#bench form")?.requestSubmit(); })()`)
		}
		if strings.HasPrefix(name, "search") || strings.HasPrefix(name, "triage") {
			waitFor(t, b, `document.getElementById("status").textContent !== ""`)
		}
		quiet(name)
	}
	for name, text := range files(t, out) {
		if strings.HasSuffix(name, ".json") {
			assert.True(t, json.Valid([]byte(text)), name)
			assert.NotContains(t, text, "<script", name)
		}
	}
	assert.Less(t, swallowed, 12)
	t.Logf("%d payloads, each in over twenty fields; %d of them are HTML that is not closed", len(list), swallowed)
}

func squeezed(s string) string { return strings.Join(strings.Fields(s), "") }
