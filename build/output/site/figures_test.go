package site

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/output/wording"
	"benchlore/build/reason/figures"
	"benchlore/build/reason/verdict"
)

// TestLastMonths: a month without a case is a month too.
func TestLastMonths(t *testing.T) {
	list := []figures.Month{{Month: "2025-11", Opened: 4}, {Month: "2026-01", Opened: 1, Closed: 2}}
	assert.Equal(t, []figures.Month{{Month: "2025-11", Opened: 4}, {Month: "2025-12"}, {Month: "2026-01", Opened: 1, Closed: 2}}, lastMonths(list, 24))
	assert.Equal(t, []figures.Month{{Month: "2025-12"}, {Month: "2026-01", Opened: 1, Closed: 2}}, lastMonths(list, 2))
	assert.Empty(t, lastMonths(nil, 24))
	s := &site{texts: wording.In("en")}
	assert.Equal(t, "1.7 opened and 0.7 closed a month; the most, 4, in 2025-11.", s.monthsSaid(lastMonths(list, 24)))
	drawn := string(s.monthsDrawn(lastMonths(list, 24)))
	assert.Contains(t, drawn, `<rect class="opened" x="34.0" y="10.0" width="9" height="150.0">`, "the longest column is as high as the drawing")
	assert.Equal(t, 1, strings.Count(drawn, `class="year"`)-strings.Count(drawn, `>2025</text>`), "each year once")
	assert.Empty(t, s.monthsDrawn(lastMonths(list, 1)), "one month is no series")
}

// TestBoardTasks: the questions about boards have the answers that the example's own files
// give, written here from them.
func TestBoardTasks(t *testing.T) {
	s := newSite(example(t))
	s.judge, s.cache = verdict.New(s.n), &cache{}
	var got []string
	for _, task := range s.boardTasks("../") {
		got = append(got, task.At.Text+": "+task.Ask+" "+task.Answer)
		right := 0
		for _, o := range task.Options {
			if o.Right {
				right++
			}
		}
		assert.True(t, right == 1 && len(task.Options) > 1 || len(task.Options) == 0, task.Ask)
	}
	assert.Contains(t, got, "N8 main rev 4: +3V3 and VIN_F read 0 V. Which is the first that fails, and what is checked there? "+
		"VIN_F: the other is made from it. VIN_F to ground without power; VIN, which it is made from: 12 V ±10 %; F1, which makes it.")
	assert.Contains(t, got, "HB4 main rev 3: U4.7, voltage, on: good boards show 3.28 V on one board, this one read 0.1 V. What is that? "+
		"2026-0022: 0.1 V, low.")
	assert.Contains(t, got, "N8 main rev 4: Find L1 on the picture, beside the 12 V socket. What does it do? "+
		"L1 220R@100MHz 3 A 0805: series, VIN_F and VIN_S.")
}

// TestTrayWarns: what lies under a screw and which longer ones fit its hole stand whole on
// the tray sheet, in as many lines as they need.
func TestTrayWarns(t *testing.T) {
	assert.Equal(t, []string{"one two", "three four"}, wrapped("one two three four", 11*0.55, 1))
	assert.Equal(t, []string{"endless…"}, wrapped("endlessword", 8*0.55, 1))
	s := newSite(example(t))
	d, ok := s.n.Device("aldermoor-hb4")
	require.True(t, ok)
	sheet := string(s.trayPage(d, papers[0]).Sheets[0])
	for _, want := range []string{"under it: palm rest, touch pad cable", "under it: fan housing, 3.2 mm deep", "longer ones fit here too: "} {
		assert.Contains(t, sheet, want)
	}
	assert.NotContains(t, sheet, "…")
	long := *d.Record
	long.Device.Fasteners = append(long.Device.Fasteners[:0:0], long.Device.Fasteners...)
	long.Device.Fasteners[0].Under = strings.Repeat("a cable that must not be crushed, ", 8) + "and a coil"
	other := *d
	other.Record = &long
	assert.Contains(t, strings.Join(htmlOf(s.trayPage(&other, papers[0])), ""), "and a coil")
}

func htmlOf(p trayPage) (out []string) {
	for _, sheet := range p.Sheets {
		out = append(out, string(sheet))
	}
	return out
}

// TestPrintedOn: a printed page says the day it was printed on, and the screen does not;
// the bar's search box is reached by a slash, what is folded out closes by Escape.
func TestPrintedOn(t *testing.T) {
	b := startBrowser(t)
	out := published(t)
	b.Do(t, chromedp.EmulateViewport(1280, 900), chromedp.Navigate(fileURL(out, "cases/2025-0010.html")))
	assert.True(t, eval[bool](t, b, `document.getElementById("printed").hidden`))
	_ = eval[any](t, b, `dispatchEvent(new Event("beforeprint"))`)
	assert.Regexp(t, `^Printed on \d{4}-\d{2}-\d{2}$`, eval[string](t, b, `document.getElementById("printed").hidden ? "" : document.getElementById("printed").textContent`))
	_ = eval[any](t, b, `dispatchEvent(new Event("afterprint"))`)
	assert.True(t, eval[bool](t, b, `document.getElementById("printed").hidden`))
	b.Do(t, chromedp.KeyEvent("/"))
	assert.Equal(t, "bar-find", eval[string](t, b, `document.activeElement.id`))
	// The protocol types a character even where its key was taken, so the box is emptied.
	_ = eval[any](t, b, `document.getElementById("bar-find").value = ""`)
	b.Do(t, chromedp.SendKeys(chromedp.CSS("#bar-find"), "1/2"))
	assert.Equal(t, "1/2", eval[string](t, b, `document.getElementById("bar-find").value`), "a slash is typed in a box, not taken")
	b.Do(t, chromedp.Focus(chromedp.CSS(".top summary")), chromedp.KeyEvent("\r"))
	assert.True(t, eval[bool](t, b, `document.querySelector(".top details").open`))
	b.Do(t, chromedp.KeyEvent(kb.Escape))
	assert.False(t, eval[bool](t, b, `document.querySelector(".top details").open`))
	assert.Empty(t, b.Problems)
}
