package site

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/reason/boards"
	"benchlore/build/reason/figures"
	"benchlore/build/reason/verdict"
	"benchlore/schema/board"
	"benchlore/schema/casefile"
	"benchlore/schema/quantity"
)

// TestHeat: each square carries the number of its pair, and the sentence names the
// commonest; few symptoms or causes are no grid.
func TestHeat(t *testing.T) {
	s := newSite(example(t))
	count := func(id, name string, n int) figures.Count { return figures.Count{ID: id, Name: name, N: n} }
	list := []figures.SymptomCauses{
		{Count: count("hum", "Hum", 5), Causes: []figures.Count{count("a@x", "Dried, Rail", 4), count("b@y", "Cracked, Joint", 1)}},
		{Count: count("dead", "Dead", 3), Causes: []figures.Count{count("c@z", "Open, Fuse", 3)}},
		{Count: count("odd", "Odd", 1), Causes: []figures.Count{count("b@y", "Cracked, Joint", 1)}},
	}
	drawing, said := s.heat(list)
	assert.Equal(t, "The commonest pair: Hum, and it was Dried, Rail (4 cases).", said)
	text := string(drawing)
	assert.Equal(t, 9, strings.Count(text, `<rect x=`), "three symptoms by three causes")
	assert.Equal(t, 4, strings.Count(text, `class="heat-some"`))
	for _, n := range []string{">4</text>", ">3</text>", ">1</text>"} {
		assert.Contains(t, text, n)
	}
	assert.Equal(t, 2, strings.Count(text, "heat-dark"), "4 and 3 of at most 4")
	drawing, said = s.heat(list[:2])
	assert.Empty(t, drawing)
	assert.Empty(t, said)
	// A number is read on its square: never between light and dark.
	for most := 2; most < 40; most++ {
		for n := 1; n <= most; n++ {
			x := shade(n, most)
			assert.True(t, x <= 0.3 || x >= 0.9, "%d of %d: %g", n, most, x)
		}
	}
}

// TestStory: the widths are the shares of the minutes, what was found after the repair and
// what has no minutes stand not in it, and one step alone is no story.
func TestStory(t *testing.T) {
	s := newSite(example(t))
	repair := 10
	k := casefile.Case{Minutes: &casefile.Minutes{Repair: &repair}, Findings: []casefile.Finding{
		{Check: "Fuse", Result: "clear", Minutes: 2}, {Check: "Rail", Result: "fault", Minutes: 8},
		{Check: "Looked", Result: "clear"}, {Check: "Again", Result: "clear", Minutes: 5, When: casefile.After}}}
	text := string(s.story(&k))
	assert.Contains(t, text, `class="step-good" x="0.00%" y="1" width="10.00%"`)
	assert.Contains(t, text, `class="step-bad" x="10.00%" y="1" width="40.00%"`)
	assert.Contains(t, text, `class="step-repair" x="50.00%" y="1" width="50.00%"`)
	assert.Contains(t, text, `aria-label="In order: Fuse: clear, 2 min; Rail: fault, 8 min; repair, 10 min."`)
	assert.NotContains(t, text, "Again")
	k.Findings = k.Findings[:1]
	assert.Empty(t, s.story(&k))
}

// TestCaseMap: the rings stand on the parts of the case, on the side where each lies, in
// the drawing's millimetres.
func TestCaseMap(t *testing.T) {
	n := example(t)
	s := newSite(n)
	c, _ := n.Case("2026-0025")
	m := s.caseMap("../", c)
	require.NotNil(t, m)
	require.Len(t, m.Sides, 1)
	var refs []string
	for _, r := range m.Refs {
		refs = append(refs, r.Text)
	}
	assert.Equal(t, []string{"FB1", "J3"}, refs)
	// FB1 lies at 32.5, 42 mm of a board of 45 mm; the drawing has 2 mm around it, y down.
	assert.Contains(t, string(m.Sides[0]), `<circle cx="34.5" cy="5" `)
	c, _ = n.Case("2024-0001")
	assert.Nil(t, s.caseMap("../", c))
	c, _ = n.Case("2026-0023")
	m = s.caseMap("../", c)
	require.NotNil(t, m)
	assert.Contains(t, string(m.Sides[len(m.Sides)-1]), "C23", "from below")
}

// TestHeads: columns and sections that the program knows are said in the notebook's
// language, the workshop's own stay as they are.
func TestHeads(t *testing.T) {
	n := example(t)
	n.Config.Language = "de"
	s := newSite(n)
	assert.Equal(t, "<th>Schiene</th><th>Notiz</th><th>drawer</th><td>rail</td>",
		string(s.heads("<th>rail</th><th>note</th><th>drawer</th><td>rail</td>")))
	hit := boards.Hit{Role: board.Series, Nets: []string{"+5V", "SRV+"}}
	assert.Equal(t, "in Reihe, +5V und SRV+", hit.Does(s.t))
	for text, want := range map[string]string{"> 500 Ω": "mindestens 500 Ω", "< 1 V": "höchstens 1 V",
		"3..4 V": "3 V bis 4 V", "OL": "OL"} {
		e, err := quantity.ParseExpectation(text)
		require.NoError(t, err)
		got, from := s.limits(verdict.Reading{Expectation: e, Limits: verdict.Limits(e, fmt.Sprintf), From: verdict.FromDevice})
		assert.Equal(t, want, got)
		assert.Equal(t, "den Referenzwerten des Geräts", from)
	}
}

// TestCostly: a plug counts as quiet only where each part beside it is known to be so.
func TestCostly(t *testing.T) {
	assert.False(t, costly(boards.Hit{Role: board.Shunt}))
	assert.True(t, costly(boards.Hit{Role: board.Series, Important: true}))
	assert.True(t, costly(boards.Hit{Role: board.Unwired}), "no netlist tells what it does")
}

// TestWipe: two pictures that a case compares are laid over each other by keyboard and
// wiped across; pictures of other shapes stay side by side.
func TestWipe(t *testing.T) {
	t.Parallel()
	b := startBrowser(t)
	out := published(t)
	b.Do(t, chromedp.EmulateViewport(390, 844), chromedp.Navigate(fileURL(out, "cases/2026-0025.html")))
	waitFor(t, b, `document.querySelector("[data-wipe] ~ .tap button") !== null`)
	b.Do(t, chromedp.Focus(chromedp.CSS("[data-wipe] ~ .tap button")), chromedp.KeyEvent(" "))
	edge := func() string {
		return eval[string](t, b, `document.querySelector(".laid .over").style.clipPath.replaceAll("px", "")`)
	}
	assert.Equal(t, "inset(0 0 0 50%)", edge())
	b.Do(t, chromedp.Focus(chromedp.CSS(".tap input[type=range]")), chromedp.KeyEvent(kb.ArrowRight))
	assert.Equal(t, "inset(0 0 0 51%)", edge())
	assert.Equal(t, "Left of the line: Bare pads beside the steering plug, drawn. Right of it: FB1 in its place again, drawn.",
		eval[string](t, b, `document.querySelector(".laid figcaption").textContent`))
	assert.Equal(t, []float64{0, 0, 0}, eval[[]float64](t, b, `(() => { const [u, o] = [...document.querySelectorAll(".laid img")].map((i) => i.getBoundingClientRect()); return [Math.round(u.x - o.x), Math.round(u.y - o.y), Math.round(u.width - o.width)]; })()`),
		"one lies exactly over the other")
	assert.Zero(t, eval[float64](t, b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`))
	_ = eval[any](t, b, `document.querySelector(".laid").scrollIntoView()`)
	b.Shot(t, "case-wipe-phone")
	b.Do(t, chromedp.Focus(chromedp.CSS("[data-wipe] ~ .tap button")), chromedp.KeyEvent(" "))
	assert.Equal(t, []bool{false, true}, eval[[]bool](t, b, `[document.querySelector("[data-wipe]").hidden, document.querySelector(".laid").hidden]`))
	assert.Empty(t, b.Problems)
	assert.True(t, sameShape(&photoView{Width: 1200, Height: 800}, &photoView{Width: 601, Height: 400}))
	assert.False(t, sameShape(&photoView{Width: 1200, Height: 800}, &photoView{Width: 800, Height: 1200}))
	assert.False(t, sameShape(&photoView{}, &photoView{}), "not known")
}
