package site

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/learn/firstweeks"
	"benchlore/build/learn/practice"
	"benchlore/build/reason/triage"
	"benchlore/build/reason/verdict"
	testbrowser "benchlore/build/testkit/browser"
	"benchlore/schema/quantity"
	"benchlore/schema/terms"
)

// TestScheduleAgrees lets the page and the command line keep the same progress
// through random attempts, and compares what they keep and what is next.
func TestScheduleAgrees(t *testing.T) {
	e := scripts(t, "schedule.js")
	r := rand.New(rand.NewPCG(5, 6))
	for range 60 {
		var entries []practice.Entry
		for i := range 1 + r.IntN(12) {
			entries = append(entries, practice.Entry{ID: fmt.Sprintf("2026-%04d", i),
				Fault: string(rune('a' + r.IntN(4))), At: string(rune('p' + r.IntN(4))),
				Kind: []string{"lamp", "radio"}[r.IntN(2)], Common: r.IntN(5)})
		}
		type turn struct {
			ID  string `json:"id"`
			Q   int    `json:"q"`
			Day string `json:"day"`
		}
		ours := practice.NewProgress("T")
		var turns []turn
		var nexts []string
		day := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
		for range 25 {
			day = day.AddDate(0, 0, r.IntN(9))
			next, due, ok := ours.Next(entries, day)
			require.True(t, ok)
			nexts = append(nexts, fmt.Sprint(next.ID, " ", due))
			id := next.ID
			if r.IntN(3) == 0 {
				id = entries[r.IntN(len(entries))].ID
			}
			turns = append(turns, turn{id, r.IntN(6), day.Format(time.DateOnly)})
			ours.Take(id, turns[len(turns)-1].Q, day)
		}
		theirs := run[struct {
			Progress *practice.Progress `json:"progress"`
			Nexts    []string           `json:"nexts"`
		}](t, e, `(async () => {
			const p = benchloreSchedule.fresh("T"), entries = `+jsonOf(t, entries)+`, nexts = [];
			for (const { id, q, day } of `+jsonOf(t, turns)+`) { const n = benchloreSchedule.next(p, entries, day); nexts.push(n.entry.id + " " + n.due); benchloreSchedule.take(p, id, q, day); }
			return { progress: benchloreSchedule.read(JSON.stringify(p)), nexts };
		})()`)
		require.Equal(t, ours, theirs.Progress)
		require.Equal(t, nexts, theirs.Nexts)
	}
	// A file of the one is read by the other, and what is no such file is not.
	for _, bad := range []string{"", "[]", `{"format":"x"}`, `{"format":"benchlore practice 1","cases":{"x":{"ease":0}}}`} {
		assert.True(t, run[bool](t, e, `(async () => benchloreSchedule.read(`+jsonOf(t, bad)+`) === null)()`), bad)
		_, err := practice.ParseProgress([]byte(bad))
		assert.Error(t, err)
	}
}

func jsonOf(t testing.TB, v any) string {
	t.Helper()
	data, err := json.Marshal(v)
	require.NoError(t, err)
	return string(data)
}

// TestDrillsAgree gives both the same random numbers and compares questions and
// judgements.
func TestDrillsAgree(t *testing.T) {
	t.Parallel()
	out := published(t)
	e := scripts(t, "quantity.js", "drill.js")
	for _, name := range []string{"tables.js", "marks.js"} {
		data, err := os.ReadFile(filepath.Join(out, "reckon", name))
		require.NoError(t, err)
		e.eval(t, string(data))
	}
	for _, drill := range firstweeks.Drills {
		for seed := range uint64(150) {
			rolls := []int{}
			source := rand.New(rand.NewPCG(seed, 9))
			for range 8 {
				rolls = append(rolls, source.IntN(1<<30))
			}
			at := 0
			ours := firstweeks.Item{}
			ours = itemFrom(drill, func(n int) int { at++; return rolls[at-1] % n })
			type said struct {
				Text, Kind, Answer string
				Right              bool
			}
			theirs := run[said](t, e, `(async () => { let i = 0; const rolls = `+jsonOf(t, rolls)+`; const item = benchloreDrill.make(`+jsonOf(t, drill)+`, benchloreQuantity.series("E24"), (n) => rolls[i++] % n);
				const answer = benchloreDrill.answer(item); return { Text: item.text, Kind: item.kind, Answer: answer, Right: benchloreDrill.right(item, answer) && !benchloreDrill.right(item, "1 V") }; })()`)
			answer, err := ours.Answer()
			require.NoError(t, err)
			assert.Equal(t, said{ours.Text, ours.Kind, answer, true}, theirs)
		}
	}
}

// itemFrom makes a question from given numbers.
func itemFrom(drill string, below func(n int) int) firstweeks.Item {
	return firstweeks.Make(drill, quantity.E24.Members(), below)
}

// TestPracticeAgrees: what the page would say at the end of every exercise of the
// example is what the command line says.
func TestPracticeAgrees(t *testing.T) {
	t.Parallel()
	n := example(t)
	m := triage.New(n)
	book := practice.New(n, verdict.New(n), m)
	e := scripts(t, "infer.js", "schedule.js")
	model := m.Export()
	e.eval(t, "globalThis.model = "+jsonOf(t, model))
	compared := 0
	for _, c := range n.Cases {
		x, ok := book.Of(c)
		if !ok {
			continue
		}
		d := book.DebriefOf(x)
		type told struct {
			Known          bool
			Finds          float64
			Fault, Clear   string
			PFault, PClear float64
		}
		type ending struct {
			Own, Offered float64
			Found        bool
			Told         []told
			Choices      []string
			Others       []string
		}
		theirs := run[ending](t, e, `(async () => {
			const x = `+jsonOf(t, x)+`, m = benchloreTriage(model, x.id), plan = m.plan(x.evidence);
			x.checks.forEach((c) => { c.id = model.checks.findIndex((k) => k.key === c.key && c.key); });
			let offered = 0, found = false;
			for (const s of plan.steps) { offered += s.minutes; if (x.checks.some((c) => c.id === s.id && c.result === "fault")) { found = true; break; } }
			const name = (c) => c ? c.fault + " " + c.at : "";
			const choices = [x.cause];
			for (const c of m.rank(x.evidence).causes) if (choices.length < 8 && c.p > 0 && name(c) !== name(x.cause)) choices.push(c);
			const ids = new Set(x.checks.map((c) => c.id));
			return { Own: benchloreSchedule.own(x), Offered: offered, Found: found, Choices: choices.map(name).sort(), Others: plan.steps.filter((s) => !ids.has(s.id)).slice(0, 3).map((s) => s.check),
				Told: x.checks.map((c) => { const w = c.id >= 0 ? m.worth(x.evidence, c.id) : null; return w ? { Known: true, Finds: w.finds, Fault: name(w.ifFault), PFault: w.ifFault?.p ?? 0, Clear: name(w.ifClear), PClear: w.ifClear?.p ?? 0 } : { Known: false }; }) };
		})()`)
		assert.InDelta(t, d.Own, theirs.Own, 1e-9, x.ID)
		assert.InDelta(t, d.Offered, theirs.Offered, 1e-9, x.ID)
		assert.Equal(t, d.Found, theirs.Found, x.ID)
		var choices, others []string
		for _, c := range book.Choices(x) {
			choices = append(choices, c.Fault+" "+c.At)
		}
		for _, o := range book.Others(x) {
			others = append(others, o.Text)
		}
		assert.ElementsMatch(t, choices, theirs.Choices, x.ID)
		assert.ElementsMatch(t, others, theirs.Others, x.ID)
		require.Len(t, theirs.Told, len(d.Told), x.ID)
		for i, w := range d.Told {
			got := theirs.Told[i]
			assert.Equal(t, w.Known, got.Known, "%s %s", x.ID, x.Checks[i].Text)
			if !w.Known {
				continue
			}
			compared++
			assert.InDelta(t, w.Finds, got.Finds, 1e-9)
			assert.Equal(t, w.IfFault.Fault+" "+w.IfFault.At, got.Fault)
			assert.InDelta(t, w.IfFault.P, got.PFault, 1e-9)
			assert.Equal(t, w.IfClear.Fault+" "+w.IfClear.At, got.Clear)
			assert.InDelta(t, w.IfClear.P, got.PClear, 1e-9)
		}
	}
	assert.Greater(t, compared, 30)
}

// TestPracticeInThePage works through ten cases from disk as a person does: by
// keyboard, with what is seen checked against the case, one of them at the width of
// a phone; progress is kept, saved and loaded.
func TestPracticeInThePage(t *testing.T) {
	t.Parallel()
	n := example(t)
	b := startBrowser(t)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	book := practice.New(n, verdict.New(n), triage.New(n))
	entries := book.Entries()
	require.GreaterOrEqual(t, len(entries), 10)
	made, err := filepath.Glob(filepath.Join(out, "practice", "*.js"))
	require.NoError(t, err)
	assert.Len(t, made, len(entries)+1, "an exercise for each that the book offers, and the book")
	b.Do(t, chromedp.EmulateViewport(1280, 900), chromedp.Navigate(fileURL(out, "practise.html")))
	waitFor(t, b, `document.querySelectorAll("#exercises li").length > 0`)
	assert.Equal(t, len(entries), eval[int](t, b, `document.querySelectorAll("#exercises li").length`))
	for i, entry := range entries[:10] {
		if i == 9 {
			b.Do(t, chromedp.EmulateViewport(390, 844))
		}
		c, _ := n.Case(entry.ID)
		x, _ := book.Of(c)
		_ = eval[any](t, b, `location.hash = "`+x.ID+`"`)
		waitFor(t, b, `document.querySelector("#bench h2")?.textContent.includes(`+jsonOf(t, x.Device)+
			`) && document.querySelectorAll("#bench .pick").length >= `+fmt.Sprint(listed(x)))
		text := eval[string](t, b, `document.getElementById("bench").textContent`)
		for _, s := range x.Symptoms {
			assert.Contains(t, text, s)
		}
		if x.Lesson != "" {
			assert.NotContains(t, text, x.Lesson, "not before the end")
		}
		assert.NotContains(t, text, x.Title, "a title may tell too much")
		// The case's own path, by keyboard: the radio by space, the rest by tab.
		for turn := 1; turn <= min(2, len(x.Checks)); turn++ {
			check := checkAt(x, turn)
			if at := slices.IndexFunc(x.Checks, func(c practice.Check) bool { return c.Unpowered }); x.Stop && at >= 0 {
				// What needs power waits for the first look without.
				if turn > 1 {
					break
				}
				check = x.Checks[at]
			}
			at := eval[int](t, b, `[...document.querySelectorAll("#bench .pick label")].findIndex((l) => l.textContent.startsWith(`+jsonOf(t, check.Text+" (")+`))`)
			require.GreaterOrEqual(t, at, 0, check.Text)
			b.Do(t, chromedp.Focus(chromedp.CSS(fmt.Sprintf("#check-%d", at))), chromedp.KeyEvent(" "),
				chromedp.Focus(chromedp.CSS("#expect")), chromedp.KeyEvent("n"), chromedp.KeyEvent("\t"), chromedp.KeyEvent("\r"))
			waitFor(t, b, `document.querySelectorAll("#bench tbody tr").length === `+fmt.Sprint(turn))
			row := eval[string](t, b, `document.querySelector("#bench tbody tr:last-child").textContent`)
			assert.Contains(t, row, check.Seen)
			assert.Contains(t, eval[string](t, b, `document.getElementById("status").textContent`), check.Text)
		}
		// The cause: the right one in even cases, another in odd ones.
		right := n.Terms.Name(terms.Fault, x.Cause.Fault) + ", " + n.Terms.Name(terms.Place, x.Cause.At)
		named := eval[string](t, b, `(() => { const s = document.getElementById("cause"), o = [...s.options].find((o) => o.value !== "" && (o.text === `+jsonOf(t, right)+`) === `+fmt.Sprint(i%2 == 0)+`); s.value = o.value; return o.text; })()`)
		b.Do(t, chromedp.Focus(chromedp.CSS("#cause")), chromedp.KeyEvent("\t"), chromedp.KeyEvent("\r"))
		waitFor(t, b, `document.querySelector("#bench .lead") !== null`)
		end := eval[string](t, b, `document.getElementById("bench").textContent`)
		assert.Contains(t, end, right)
		assert.Contains(t, end, strings.TrimSpace(strings.Split(x.Lesson, "\n")[0]))
		if i%2 == 0 {
			assert.Contains(t, end, "Found")
		} else {
			assert.Contains(t, end, "You named: "+named)
		}
		d := book.DebriefOf(x)
		assert.Contains(t, end, fmt.Sprintf("The real path: %.0f min", d.Own))
		if d.Found {
			assert.Contains(t, end, fmt.Sprintf("would have come to it in %.0f min", d.Offered))
		}
		wide := eval[float64](t, b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`)
		assert.Zero(t, wide, "the page scrolls sideways")
		b.Shot(t, "practised-"+fmt.Sprint(i))
	}
	kept := eval[string](t, b, `localStorage.getItem("benchlore-practice Tidewater Bench")`)
	p, err := practice.ParseProgress([]byte(kept))
	require.NoError(t, err, "the command line reads what the page keeps")
	assert.Len(t, p.Cases, 10)
	// Reloaded, it is still there; a file of another kind changes nothing; its own is taken.
	b.Do(t, chromedp.Navigate("about:blank"), chromedp.Navigate(fileURL(out, "practise.html")))
	waitFor(t, b, `document.getElementById("so-far").textContent.startsWith("10 of ")`)
	places := map[string]bool{}
	for _, e := range entries {
		places[e.At] = true
	}
	assert.Equal(t, len(places), eval[int](t, b, `document.querySelectorAll("#map tbody tr").length`))
	for column, want := range map[int]int{2: 5, 3: 5, 4: len(entries) - 10} { // right in even cases
		assert.Equal(t, want, eval[int](t, b, fmt.Sprintf(`[...document.querySelectorAll("#map tbody tr > :nth-child(%d)")].reduce((n, c) => n + (Number(/\d+/.exec(c.textContent)?.[0]) || 0), 0)`, column)), column)
	}
	b.Shot(t, "practise-map-phone")
	load := func(text string) {
		_ = eval[any](t, b, `(() => { const f = new File([`+jsonOf(t, text)+
			`], "practice.json"), d = new DataTransfer(), i = document.getElementById("load-progress"); d.items.add(f); i.files = d.files; i.dispatchEvent(new Event("change")); })()`)
	}
	load("not progress")
	waitFor(t, b, `document.getElementById("file-said").textContent.includes("nothing was changed")`)
	fresh := practice.NewProgress("Tidewater Bench")
	fresh.Take(entries[0].ID, 5, time.Now())
	load(jsonOf(t, fresh))
	waitFor(t, b, `document.getElementById("so-far").textContent.startsWith("1 of ")`)
	assert.Contains(t, eval[string](t, b,
		`(() => { let got = ""; const click = HTMLAnchorElement.prototype.click; HTMLAnchorElement.prototype.click = function () { got = this.download + " " + decodeURIComponent(this.href); }; document.getElementById("save-progress").click(); HTMLAnchorElement.prototype.click = click; return got; })()`), entries[0].ID)
	assert.Empty(t, b.Problems)
}

func checkAt(x practice.Exercise, turn int) practice.Check {
	for _, c := range x.Checks {
		if c.Turn == turn {
			return c
		}
	}
	return practice.Check{}
}

// TestFirstWeeksOpen: a step is closed until the questions on safety are answered
// right, by keyboard; a wrong answer is named and loses nothing. Then a drill is
// answered.
func TestFirstWeeksOpen(t *testing.T) {
	t.Parallel()
	b := startBrowser(t)
	out := published(t)
	b.Do(t, chromedp.EmulateViewport(390, 844), chromedp.Navigate(fileURL(out, "path/values.html")))
	waitFor(t, b, `!document.getElementById("closed").hidden`)
	assert.True(t, eval[bool](t, b, `document.getElementById("gated").hidden`))
	b.Do(t, chromedp.Navigate(fileURL(out, "path/safety.html")))
	waitFor(t, b, `document.querySelectorAll("#questions fieldset").length === `+fmt.Sprint(len(terms.Precautions())))
	answer := func(right bool) {
		sets := eval[int](t, b, `document.querySelectorAll("#questions fieldset").length`)
		for i := range sets {
			want := right || i > 0
			id := eval[string](t, b, fmt.Sprintf(`[...document.querySelectorAll("#questions fieldset")[%d].querySelectorAll("input")].find((o) => (o.dataset.right === "yes") === %t).id`, i, want))
			b.Do(t, chromedp.Focus(chromedp.CSS("#"+id)), chromedp.KeyEvent(" "))
		}
		b.Do(t, chromedp.Focus(chromedp.CSS("#questions button")), chromedp.KeyEvent("\r"))
	}
	answer(false)
	waitFor(t, b, `document.getElementById("quiz-said").textContent.startsWith("1 answers")`)
	b.Do(t, chromedp.Navigate(fileURL(out, "path/values.html")))
	assert.True(t, eval[bool](t, b, `document.getElementById("gated").hidden`), "still closed")
	b.Do(t, chromedp.Navigate(fileURL(out, "path/safety.html")))
	answer(true)
	waitFor(t, b, `!document.getElementById("go-on").hidden`)
	assert.Zero(t, eval[float64](t, b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`))
	b.Do(t, chromedp.Navigate(fileURL(out, "path/values.html")))
	waitFor(t, b, `!document.getElementById("gated").hidden && document.getElementById("drill-text").textContent !== ""`)
	for range 5 {
		value := eval[string](t, b, `benchloreDrill.answer({ text: document.getElementById("drill-text").textContent, kind: document.getElementById("drill-kind").textContent.includes("capacitor") ? "capacitance" : "resistance" })`)
		b.Do(t, chromedp.Focus(chromedp.CSS("#drill-answer")), chromedp.SendKeys(chromedp.CSS("#drill-answer"), value+"\r"))
	}
	waitFor(t, b, `document.getElementById("drill-said").textContent.includes("5 of 5 right")`)
	// The step is done by a key, the way shows it with what is next, and it can be taken back.
	b.Do(t, chromedp.Focus(chromedp.CSS("#step-done")), chromedp.KeyEvent("\r"))
	assert.Equal(t, "true", eval[string](t, b, `document.getElementById("step-done").getAttribute("aria-pressed")`))
	b.Do(t, chromedp.Navigate(fileURL(out, "path.html")))
	waitFor(t, b, `!document.getElementById("way-said").hidden`)
	assert.Regexp(t, `^1 of \d+ steps done\. Next: Safety$`, eval[string](t, b, `document.getElementById("way-said").textContent`))
	assert.Equal(t, "values", eval[string](t, b, `document.querySelector(".way .mark").parentElement.dataset.step`))
	b.Do(t, chromedp.Navigate(fileURL(out, "path/values.html")), chromedp.Focus(chromedp.CSS("#step-done")), chromedp.KeyEvent("\r"))
	b.Do(t, chromedp.Navigate(fileURL(out, "path.html")))
	assert.Zero(t, eval[int](t, b, `document.querySelectorAll(".way .mark").length`))
	assert.Empty(t, b.Problems)
}

// TestWordsOpen: a word in a text opens its meaning by keyboard and closes again,
// with scripts switched off.
func TestWordsOpen(t *testing.T) {
	b := startBrowser(t)
	out := published(t)
	b.Do(t, command(emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}),
		chromedp.Navigate(fileURL(out, "cases/2025-0010.html")))
	b.Do(t, chromedp.Focus(chromedp.CSS(`.word[popovertarget="w-words-ripple"]`)), chromedp.KeyEvent("\r"),
		chromedp.WaitVisible(chromedp.CSS("#w-words-ripple")))
	b.Do(t, chromedp.KeyEvent("\x1b"), chromedp.WaitNotVisible(chromedp.CSS("#w-words-ripple")))
	page, err := os.ReadFile(filepath.Join(out, "cases", "2025-0010.html"))
	require.NoError(t, err)
	assert.Equal(t, strings.Count(string(page), `class="word"`), strings.Count(string(page), `class="meaning"`), "each once")
}

// TestExplain: words are explained once, not in headings, links or code, the longest
// phrase first, and nothing of a text is lost.
func TestExplain(t *testing.T) {
	s := &site{n: example(t)}
	s.texts, s.explainer, s.markdown = newSite(s.n).texts, newExplainer(s.n.Terms), newMarkdown(3)
	wrap := func(body string) string { return `<body><main id="content">` + body + `</main></body>` }
	plain := func(page string) string {
		page, _, _ = strings.Cut(page, `<aside class="meanings">`)
		var out strings.Builder
		for len(page) > 0 {
			at := strings.IndexByte(page, '<')
			if at < 0 {
				at = len(page)
			}
			out.WriteString(page[:at])
			page = page[at:]
			if page != "" {
				page = page[tagEnd([]byte(page)):]
			}
		}
		return out.String()
	}
	for body, want := range map[string]int{
		"<p>The ripple is large, and the Ripple stays.</p>": 1, "<h2>Ripple</h2><p>none</p>": 0,
		"<p><a href=\"x\">ripple</a> and <code>ripple</code></p>": 0,
		"<p>flux residue and flux</p>":                            1, "<p>fuses</p>": 1, "<p>a ceramic capacitor here</p>": 1,
		"<p>1 &lt; ripple &amp; fuse</p>": 2, "<p>confused refuse</p>": 0,
		"<td>solder joint</td>": 1, "<p title=\"ripple > fuse\">x</p>": 0, "<p></p>": 0, "<p>isolating\ntransformer</p>": 0,
		// What has several senses at a bench, or is of everyday language, is left alone.
		"<p>C12 is in shunt to nothing</p>": 0, "<p>across the current shunt</p>": 1,
		"<p>a silicone pad, two pads</p>": 0, "<p>Memory tests passed, the pump runs</p>": 0, "<p>No light at all</p>": 0,
		"<p>the track of the record</p>": 0, "<p>the copper track</p>": 1, "<p>Solder joint</p>": 1,
	} {
		page := string(s.explain([]byte(wrap(body)), "../", ""))
		assert.Equal(t, want, strings.Count(page, `class="word"`), body)
		assert.Equal(t, want, strings.Count(page, "popover id="), body)
		assert.Equal(t, plain(wrap(body)), plain(page), body)
	}
	// The author can say that the word of the bench is meant.
	c := s.n.Cases[0]
	marked, err := convert(s.markdown, []byte("a [shunt](word:shunt) and [x](word:nothing)"), s.resolver(c))
	require.NoError(t, err)
	assert.Equal(t, "<p>a <a href=\"../words.html#words-shunt\">shunt</a> and x</p>\n", string(marked))
	about := string(s.explain([]byte(wrap("<p>Ripple and fuse</p>")), "", "Ripple"))
	assert.Equal(t, 1, strings.Count(about, `class="word"`), "a page does not explain what it is about")
}

// FuzzExplain: whatever a page holds, its text is as it was, and no tag is opened
// that is not closed.
func FuzzExplain(f *testing.F) {
	s := &site{n: example(f)}
	s.texts, s.explainer = newSite(s.n).texts, newExplainer(s.n.Terms)
	f.Add("<p>ripple <b>fuse</b></p>")
	f.Add("a < b & ripple\"'>")
	f.Fuzz(func(t *testing.T, body string) {
		if strings.Contains(body, "<main") || strings.Contains(body, "</main") ||
			strings.Contains(body, `class="meanings"`) || strings.Contains(body, `class="word"`) {
			t.Skip()
		}
		page := string(s.explain([]byte(`<main id="content">`+body+`</main>`), "", ""))
		head, _, _ := strings.Cut(page, `<aside class="meanings">`)
		head = strings.TrimSuffix(head, "</main>")
		for strings.Contains(head, `<button type="button" class="word"`) {
			i := strings.Index(head, `<button type="button" class="word"`)
			end := i + tagEnd([]byte(head[i:]))
			closed := strings.Index(head[end:], "</button>")
			if closed < 0 {
				t.Fatal("not closed")
			}
			head = head[:i] + head[end:end+closed] + head[end+closed+len("</button>"):]
		}
		if head != `<main id="content">`+body {
			t.Fatalf("%q became %q", body, head)
		}
	})
}

// TestCautionsOnce: wherever a case, a device, triage or practice calls for a
// caution, it stands once on the page, above what it concerns.
func TestCautionsOnce(t *testing.T) {
	out := filepath.Join(t.TempDir(), "site")
	n := example(t)
	publish(t, n, out)
	pages, err := filepath.Glob(filepath.Join(out, "*", "*.html"))
	require.NoError(t, err)
	with := 0
	for _, page := range pages {
		data, err := os.ReadFile(page)
		require.NoError(t, err)
		text := string(data)
		if strings.Count(text, `id="caution-title"`) == 0 {
			continue
		}
		with++
		assert.Equal(t, 1, strings.Count(text, `id="caution-title"`), page)
		for _, h := range n.Terms.All(terms.Hazard) {
			assert.LessOrEqual(t, strings.Count(text, inPage(h.Caution)), 1, "%s: %s", page, h.ID)
		}
		if at := strings.Index(text, `<section id="s1"`); at > 0 {
			assert.Less(t, strings.Index(text, `id="caution-title"`), at, page)
		}
	}
	assert.Greater(t, with, 40)
}

func inPage(caution string) string { return strings.ReplaceAll(caution, "'", "&#39;") }

// TestOtherLanguages: the example in German and French: pages say their texts in the
// language, search understands it, practice works, and axe-core finds nothing.
func TestOtherLanguages(t *testing.T) {
	t.Parallel()
	axe, err := os.ReadFile(testbrowser.Tool(t, "axe-core/axe.min.js"))
	require.NoError(t, err)
	b := startBrowser(t)
	for _, c := range []struct{ lang, search, nav, query, found, bench, safety string }{
		{"de", "Suchen", "Erste Wochen", "brummt beim Einschalten", "2025-0002", "Auf dem Tisch", "Sicherheit"},
		{"fr", "Chercher", "Premières semaines", "l’ampli ronfle", "2025-0002", "Sur l’établi", "Sécurité"},
	} {
		t.Run(c.lang, func(t *testing.T) {
			out := inLanguage(t, c.lang)
			b.Problems = nil
			b.Do(t, chromedp.EmulateViewport(390, 844), chromedp.Navigate("about:blank"), chromedp.Navigate(fileURL(out, "index.html")))
			assert.Equal(t, c.lang, eval[string](t, b, `document.documentElement.lang`))
			assert.Contains(t, eval[string](t, b, `document.querySelector("nav").textContent`), c.nav)
			b.Do(t, chromedp.Focus(chromedp.CSS("#q")), chromedp.SendKeys(chromedp.CSS("#q"), c.query+"\r"))
			waitFor(t, b, `document.querySelectorAll("#results li").length > 0`)
			assert.Contains(t, eval[string](t, b, `document.getElementById("results").textContent`), c.found)
			for _, page := range []string{"index.html", "search.html#q=hum", "triage.html#has=hum",
				"practise.html#2025-0005", "path/safety.html", "cases/2025-0010.html", "devices/tarnwick-a40.html",
				"boards/aldermoor-hb4/hb4-main-rev-3.html#ref=C341"} {
				b.Problems = nil
				b.Do(t, chromedp.Navigate("about:blank"), chromedp.Navigate(fileURL(out, page)))
				if strings.HasPrefix(page, "practise") {
					waitFor(t, b, `document.querySelector("#bench h2")?.textContent.startsWith(`+jsonOf(t, c.bench)+`)`)
				}
				assert.Empty(t, b.Problems, page) // before axe-core, which asks for what the policy forbids
				_ = eval[any](t, b, string(axe)+"; null")
				found := eval[string](t, b,
					`axe.run(document, {resultTypes: ["violations"], preload: false}).then(r => JSON.stringify(r.violations.map(v => v.id + ": " + v.nodes.map(n => n.html).slice(0, 2).join(" | "))))`)
				assert.Equal(t, "[]", found, page)
				assert.Zero(t, eval[float64](t, b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`), page)
				b.Shot(t, c.lang+"-"+strings.NewReplacer("/", "-", "#", "-", ".html", "", "=", "-").Replace(page))
			}
			b.Do(t, chromedp.Navigate(fileURL(out, "path.html")))
			assert.Contains(t, eval[string](t, b, `document.querySelector("main").textContent`), c.safety)
		})
	}
}

// TestAnswersAreKept: questions of a step are answered by keyboard, the first answer is
// kept however often one answers, and the last page tells what was learned and is a sheet
// to sign.
func TestAnswersAreKept(t *testing.T) {
	t.Parallel()
	b := startBrowser(t)
	out := published(t)
	b.Do(t, chromedp.EmulateViewport(390, 844), chromedp.Navigate(fileURL(out, "path/learned.html")))
	assert.Equal(t, 0, eval[int](t, b, `[...document.querySelectorAll(".learned .done")].filter((d) => d.textContent !== "–").length`))
	_ = eval[any](t, b, `(() => { const p = benchloreProgress.load(); p.safety = "2026-01-02"; p.cases["2025-0001"] = { times: 1, ease: 2.5, interval: 1, due: "2026-01-03", last: 5, missed: 0 }; benchloreProgress.save(p); localStorage.setItem("benchlore-steps " + document.body.dataset.workshop, '["values"]'); })()`)
	choose := func(question int, right bool) {
		id := eval[string](t, b, fmt.Sprintf(`[...document.querySelectorAll("[data-question]")[%d].querySelectorAll("input")].find((o) => (o.dataset.right === "yes") === %t).id`, question, right))
		b.Do(t, chromedp.Focus(chromedp.CSS("#"+id)), chromedp.KeyEvent(" "))
	}
	said := func() string { return eval[string](t, b, `document.getElementById("asked").textContent`) }
	b.Do(t, chromedp.Navigate(fileURL(out, "path/soldering.html")))
	waitFor(t, b, `!document.getElementById("gated").hidden`)
	b.Shot(t, "step-soldering-phone")
	assert.Empty(t, said())
	choose(0, false)
	assert.Equal(t, "1 of 2 answered, 0 of them right at first.", said())
	assert.Contains(t, eval[string](t, b, `document.querySelector("[data-question] .answer").textContent`), "not so")
	choose(0, true)
	assert.Equal(t, "1 of 2 answered, 0 of them right at first.", said(), "the first answer stays")
	choose(1, true)
	assert.Equal(t, "2 of 2 answered, 1 of them right at first.", said())
	b.Do(t, chromedp.Focus(chromedp.CSS("#step-done")), chromedp.KeyEvent("\r"))
	for _, step := range []string{"measuring-voltage", "boards"} {
		b.Do(t, chromedp.Navigate(fileURL(out, "path/"+step+".html")))
		waitFor(t, b, `!document.getElementById("gated").hidden`)
		b.Shot(t, "step-"+step+"-phone")
		assert.Greater(t, eval[int](t, b, `document.querySelectorAll("[data-question] fieldset").length`), 1)
		assert.Equal(t, 0, eval[int](t, b, `[...document.querySelectorAll("[data-question] fieldset")].filter((f) => f.querySelectorAll("[data-right=yes]").length !== 1 || f.querySelectorAll("input").length < 2).length`), "one right answer among several")
		assert.Zero(t, eval[float64](t, b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`))
	}
	b.Do(t, chromedp.Navigate(fileURL(out, "path/measuring-voltage.html")))
	assert.Contains(t, eval[string](t, b, `document.querySelector("[data-ordered]").textContent`), "open", "a meter may show nothing")
	b.Do(t, chromedp.Navigate(fileURL(out, "path/learned.html")))
	waitFor(t, b, `!document.getElementById("way-said").hidden`)
	row := func(step string) string {
		return eval[string](t, b, `[...document.querySelectorAll('[data-step="`+step+`"] td')].map((c) => c.textContent).join("|")`)
	}
	assert.Equal(t, "✓ "+time.Now().Format(time.DateOnly)+"|1 of 2|", row("soldering"))
	assert.Equal(t, "✓ done|–|", row("values"), "of an older list without days")
	assert.Equal(t, "–|–|", row("the-scope"))
	assert.Contains(t, eval[string](t, b, `document.getElementById("practised").textContent`), "1 cases, 1 of them found when last tried, 1 due today")
	b.Shot(t, "step-learned-phone")
	b.Do(t, chromedp.EmulateViewport(1000, 1200), command(emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"}))
	assert.True(t, eval[bool](t, b, `getComputedStyle(document.querySelector("td.paper")).display === "table-cell"`), "room to sign")
	b.Shot(t, "step-learned-print")
	assert.Empty(t, b.Problems)
}

// listed is how many checks of an exercise are offered before anything was looked at.
func listed(x practice.Exercise) (n int) {
	for _, c := range x.Checks {
		if !x.Held(c, x.Checks, func(int) bool { return false }) {
			n++
		}
	}
	return n
}
