package site

import (
	"bytes"
	"compress/zlib"
	"context"
	"fmt"
	"image/color"
	"image/jpeg"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	"benchlore/schema/board"
)

// openBoard publishes the example and opens a board's page.
func openBoard(t *testing.T, b *browser, n *notebook.Notebook, path string) {
	t.Helper()
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	b.Problems, b.Requests = nil, nil
	b.Do(t, chromedp.Navigate("about:blank"), chromedp.Navigate(fileURL(out, path)))
	waitFor(t, b, `!document.getElementById("tools").hidden`)
}

// TestBoardByKeyboard finds a part, goes to its net, turns the board over, and
// moves the drawing, all by keys.
func TestBoardByKeyboard(t *testing.T) {
	b := startBrowser(t)
	b.Do(t, chromedp.EmulateViewport(1280, 900))
	n := example(t)
	openBoard(t, b, n, "boards/aldermoor-hb4/hb4-main-rev-3.html")
	box := `document.querySelector("#side-top svg").dataset.view`
	whole := eval[string](t, b, box)
	b.Do(t, chromedp.Focus(chromedp.CSS("#sought")), chromedp.SendKeys(chromedp.CSS("#sought"), "c341\r"))
	waitFor(t, b, `document.querySelector("#told h2")?.textContent === "C341"`)
	told := eval[string](t, b, `document.getElementById("told").textContent`)
	for _, want := range []string{"10u 6.3V X5R", "1.6 × 0.8 mm", "from +3V3 to ground", "86 µF of 96 µF", "2025-0010"} {
		assert.Contains(t, told, want)
	}
	waitFor(t, b, box+` !== `+strconv.Quote(whole))
	assert.Equal(t, 1, eval[int](t, b, `document.querySelectorAll("#side-top .mark-ring").length`))
	b.Do(t, chromedp.Focus(chromedp.CSS("#told .chip")), chromedp.KeyEvent(kb.Enter)) // its first net
	waitFor(t, b, `document.querySelector("#told h2")?.textContent === "Net +3V3"`)
	assert.Contains(t, eval[string](t, b, `location.hash`), "net=%2B3V3")
	b.Do(t, chromedp.Focus(chromedp.CSS("#side-top svg")), chromedp.KeyEvent("0"))
	waitFor(t, b, box+` === `+strconv.Quote(whole))
	b.Do(t, chromedp.KeyEvent("+"), chromedp.KeyEvent(kb.ArrowRight))
	waitFor(t, b, `Number(`+box+`.split(" ")[0]) > 40`)
	b.Do(t, chromedp.KeyEvent("t"))
	waitFor(t, b, `document.getElementById("side-top").hidden && document.activeElement === document.querySelector("#side-bottom svg")`)
	b.Do(t, chromedp.KeyEvent("t"))
	_ = eval[any](t, b, `(() => { const s = document.getElementById("touched"); s.value = "2026-0007"; s.dispatchEvent(new Event("change")); })()`)
	waitFor(t, b, `document.querySelectorAll("#side-top .mark-touched").length === 1`)
	assert.Empty(t, b.Problems)
}

// TestBoardDistances compares the page's distances with those of the command
// line.
func TestBoardDistances(t *testing.T) {
	b := startBrowser(t)
	b.Do(t, chromedp.EmulateViewport(1280, 900))
	n := example(t)
	openBoard(t, b, n, "boards/aldermoor-hb4/hb4-main-rev-3.html")
	d, _ := n.Device("aldermoor-hb4")
	on := d.Boards[0]
	for i := range 40 {
		p, q := &on.Parts[(i*37)%len(on.Parts)], &on.Parts[(i*53+11)%len(on.Parts)]
		if p == q {
			continue
		}
		_ = eval[any](t, b, fmt.Sprintf(`(() => { const m = document.getElementById("measure"); if (m.getAttribute("aria-pressed") === "true") m.click(); location.hash = "#ref=%s"; })()`, p.Ref))
		waitFor(t, b, `document.querySelector("#told h2")?.textContent === "`+p.Ref+`"`)
		_ = eval[any](t, b, fmt.Sprintf(`(() => { document.getElementById("measure").click(); location.hash = "#ref=%s"; })()`, q.Ref))
		waitFor(t, b, `document.querySelector("#told h2")?.textContent === "`+q.Ref+`"`)
		want := fmt.Sprintf("%s to %s: %.2f mm between the bodies, %.2f mm between the centres", p.Ref, q.Ref,
			board.Gap(p, q), math.Hypot(p.X-q.X, p.Y-q.Y))
		assert.Contains(t, eval[string](t, b, `document.getElementById("told").textContent`), want)
	}
}

// TestBoardByTouch pans with one finger, enlarges with two, and taps a part, on
// a phone.
func TestBoardByTouch(t *testing.T) {
	b := startBrowser(t)
	b.Do(t, chromedp.EmulateViewport(390, 844, chromedp.EmulateTouch))
	openBoard(t, b, example(t), "boards/uldra-n8/n8-main-rev-4.html")
	_ = eval[any](t, b, `document.querySelector("#side-top svg").scrollIntoView({block: "center"})`)
	r := eval[[]float64](t, b, `(() => { const r = document.querySelector("#side-top svg").getBoundingClientRect(); return [r.left, r.top, r.width, r.height]; })()`)
	x, y := r[0]+r[2]/2, r[1]+r[3]/2
	touch := func(kind input.DispatchTouchEventType, points ...[2]float64) {
		p := input.DispatchTouchEventParams{Type: kind, TouchPoints: []*input.TouchPoint{}}
		for i, at := range points {
			p.TouchPoints = append(p.TouchPoints, &input.TouchPoint{X: at[0], Y: at[1], ID: new(float64(i))})
		}
		b.Do(t, command(input.DispatchTouchEvent, p))
	}
	view := func() []string {
		return strings.Fields(eval[string](t, b, `document.querySelector("#side-top svg").dataset.view`))
	}
	width := func() float64 { w, _ := strconv.ParseFloat(view()[2], 64); return w }
	before := width()
	touch(input.DispatchTouchEventTypeTouchStart, [2]float64{x - 20, y}, [2]float64{x + 20, y})
	for i := 1; i <= 6; i++ {
		touch(input.DispatchTouchEventTypeTouchMove, [2]float64{x - 20 - 10*float64(i), y}, [2]float64{x + 20 + 10*float64(i), y})
	}
	touch(input.DispatchTouchEventTypeTouchEnd)
	waitFor(t, b, fmt.Sprintf(`Number(document.querySelector("#side-top svg").dataset.view.split(" ")[2]) < %f`, before/2))
	left := view()[0]
	touch(input.DispatchTouchEventTypeTouchStart, [2]float64{x, y})
	for i := 1; i <= 6; i++ {
		touch(input.DispatchTouchEventTypeTouchMove, [2]float64{x - 8*float64(i), y})
	}
	touch(input.DispatchTouchEventTypeTouchEnd)
	waitFor(t, b, `document.querySelector("#side-top svg").dataset.view.split(" ")[0] !== "`+left+`"`)
	// A tap on the biggest part: where U4 is drawn now.
	_ = eval[any](t, b, `document.getElementById("whole").click()`)
	time.Sleep(100 * time.Millisecond)
	at := eval[[]float64](t, b, `(() => { const r = [...document.querySelectorAll("#side-top text")].find((e) => e.textContent === "U4").getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2]; })()`)
	touch(input.DispatchTouchEventTypeTouchStart, [2]float64{at[0], at[1]})
	touch(input.DispatchTouchEventTypeTouchEnd)
	waitFor(t, b, `document.querySelector("#told h2")?.textContent === "U4"`)
	assert.Empty(t, b.Problems)
}

// largeBoard adds a device with a board of so many parts to a copy of the
// example.
func largeBoard(t testing.TB, n *notebook.Notebook, parts int) *notebook.Notebook {
	t.Helper()
	folder := filepath.Join(n.Dir, "devices", "uldra-x99")
	require.NoError(t, os.MkdirAll(folder, 0o755))
	require.NoError(t, os.WriteFile(folder+".md",
		[]byte("---\ndevice: uldra-x99\nkind: network-device\nmaker: Uldra\nmodel: X99\nboards: [X99 main]\n---\n"), 0o644))
	var csv, ipc strings.Builder
	csv.WriteString("designator,value,package,x_mm,y_mm,rotation,side\n")
	ipc.WriteString("P  UNITS CUST 1\n")
	side := int(math.Sqrt(float64(parts)))
	for i := range parts {
		ref, pkg, pins := fmt.Sprintf("C%d", i+1), "0402", 2
		if i%8 == 0 {
			ref, pkg, pins = fmt.Sprintf("U%d", i+1), "SOIC-16", 18
		}
		x, y := 12*(i%side), 8*(i/side)
		fmt.Fprintf(&csv, "%s,100n,%s,%d,%d,%d,%s\n", ref, pkg, x, y, 90*(i%4), []string{"top", "top", "top", "bottom"}[i%4])
		for p := range pins {
			net := "GND"
			if p > 0 {
				net = fmt.Sprintf("N%d", (i*7+p)%(parts/2))
			}
			fmt.Fprintf(&ipc, "327%-14s   %-6s-%-4d       A01X%+07dY%+07dX0500Y0500R000 S0\n", net, ref, p+1, 1000*x+300*(p-1), 1000*y)
		}
	}
	ipc.WriteString("999\n")
	require.NoError(t, os.WriteFile(filepath.Join(folder, "x99-main.csv"), []byte(csv.String()), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(folder, "x99-main.ipc"), []byte(ipc.String()), 0o644))
	next, err := notebook.Load(n.Dir)
	require.NoError(t, err)
	require.Zero(t, next.Errors(), next.Problems)
	return next
}

// BenchmarkBoardFrames moves and enlarges the drawing of 5,000 parts and
// reports how long a frame takes, beside the drawing of the example's board.
func BenchmarkBoardFrames(b *testing.B) {
	br := startBrowser(b)
	br.Do(b, chromedp.EmulateViewport(1280, 900))
	n := largeBoard(b, example(b), 5_000)
	out := filepath.Join(b.TempDir(), "site")
	publish(b, n, out)
	for _, c := range []struct{ name, page string }{{"184-parts", "boards/aldermoor-hb4/hb4-main-rev-3.html"},
		{"5000-parts", "boards/uldra-x99/x99-main.html"}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				br.Do(b, chromedp.Navigate("about:blank"), chromedp.Navigate(fileURL(out, c.page)))
				waitFor(b, br, `!document.getElementById("tools").hidden`)
				frames := eval[[]float64](b, br, `new Promise((done) => {
					const d = document.querySelector("#side-top svg"), times = [];
					d.focus();
					let i = 0, last = performance.now();
					const keys = ["+", "ArrowRight", "ArrowDown", "ArrowLeft", "+", "ArrowUp", "ArrowRight", "-", "ArrowDown", "-"];
					const frame = (now) => {
						times.push(now - last);
						last = now;
						if (i === 60) { times.sort((a, b) => a - b); done([times[30], times[57], times[60]]); return; }
						d.dispatchEvent(new KeyboardEvent("keydown", { key: keys[i++ % keys.length], bubbles: true }));
						requestAnimationFrame(frame);
					};
					requestAnimationFrame(frame);
				})`)
				b.ReportMetric(frames[0], "median-ms/frame")
				b.ReportMetric(frames[1], "p95-ms/frame")
				b.ReportMetric(frames[2], "max-ms/frame")
				// From pointing at a place to what is told of the part there, in all 200 places.
				answers := eval[[]float64](b, br, `(() => {
					const d = document.querySelector("#side-top svg"), r = d.getBoundingClientRect(), times = [];
					d.setPointerCapture = () => {};
					for (let i = 0; i < 200; i++) {
						const at = {pointerId: 1, clientX: r.left + r.width * (0.1 + 0.8 * (i * 37 % 200) / 200), clientY: r.top + r.height * (0.1 + 0.8 * (i * 91 % 200) / 200), bubbles: true};
						const began = performance.now();
						d.dispatchEvent(new PointerEvent("pointerdown", at));
						d.dispatchEvent(new PointerEvent("pointerup", at));
						times.push(performance.now() - began);
					}
					times.sort((a, b) => a - b);
					return [times[100], times[190], times[199]];
				})()`)
				b.ReportMetric(answers[0], "median-ms/answer")
				b.ReportMetric(answers[1], "p95-ms/answer")
				b.ReportMetric(answers[2], "max-ms/answer")
			}
		})
	}
}

// TestTrayIsTrueToSize prints the tray sheets as Chromium prints them and
// measures the 50 mm rule, a screw of 10 mm and the paper in the PDF.
func TestTrayIsTrueToSize(t *testing.T) {
	b := startBrowser(t)
	out := published(t)
	for _, p := range papers {
		t.Run(p.ID, func(t *testing.T) {
			b.Do(t, chromedp.Navigate(fileURL(out, "trays/tarnwick-a40-"+p.ID+".html")))
			ctx, cancel := context.WithTimeout(b.Ctx, time.Minute)
			defer cancel()
			pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(func(p *page.PrintToPDFParams) { p.PreferCSSPageSize = new(true) }))
			require.NoError(t, err)
			if dir := os.Getenv("BENCHLORE_SHOTS"); dir != "" {
				require.NoError(t, os.WriteFile(filepath.Join(dir, "tray-"+p.ID+".pdf"), pdf, 0o644))
			}
			boxes := regexp.MustCompile(`/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]`).FindAllSubmatch(pdf, -1)
			require.Len(t, boxes, 1, "one sheet")
			for i, want := range []float64{p.Width, p.Height} {
				got, _ := strconv.ParseFloat(string(boxes[0][i+1]), 64)
				assert.InDelta(t, want, got*25.4/72, 0.5)
			}
			lengths := lines(t, pdf)
			assert.True(t, has(lengths, 50, 0.05), "the rule: %v", lengths)
			assert.True(t, has(lengths, 10, 0.05), "the screws of 10 mm: %v", lengths)
			assert.True(t, has(lengths, 8, 0.05), "the screws of 8 mm: %v", lengths)
			assert.False(t, has(lengths, 47, 0.5), "nothing else is nearly as long")
		})
	}
}

func has(lengths []float64, want, by float64) bool {
	for _, l := range lengths {
		if math.Abs(l-want) <= by {
			return true
		}
	}
	return false
}

var operator = regexp.MustCompile(`[-+]?\d*\.?\d+|[A-Za-z*']+|\S`)

// lines reads the content of a PDF as ISO 32000 describes it, as far as lines
// go, and returns the lengths of all straight strokes and of rectangles' sides
// in mm.
func lines(t *testing.T, pdf []byte) (lengths []float64) {
	t.Helper()
	for rest := pdf; ; {
		i := bytes.Index(rest, []byte("stream\n"))
		if i < 0 {
			break
		}
		dict := rest[max(0, i-300):i]
		body := rest[i+len("stream\n"):]
		j := bytes.Index(body, []byte("endstream"))
		if j < 0 {
			break
		}
		rest = body[j+len("endstream"):]
		if !bytes.Contains(dict, []byte("FlateDecode")) {
			continue
		}
		z, err := zlib.NewReader(bytes.NewReader(body[:j]))
		if err != nil {
			continue
		}
		text, err := io.ReadAll(z)
		if err != nil || !bytes.Contains(text, []byte(" cm")) {
			continue
		}
		lengths = append(lengths, strokes(string(text))...)
	}
	return lengths
}

func strokes(content string) (lengths []float64) {
	type matrix [6]float64
	identity := matrix{1, 0, 0, 1, 0, 0}
	now, stack := identity, []matrix{}
	var args []float64
	var x, y float64
	apply := func(x, y float64) (float64, float64) {
		return now[0]*x + now[2]*y + now[4], now[1]*x + now[3]*y + now[5]
	}
	length := func(x, y, u, v float64) {
		a, b := apply(x, y)
		c, d := apply(u, v)
		lengths = append(lengths, math.Hypot(c-a, d-b)*25.4/72)
	}
	for _, word := range operator.FindAllString(content, -1) {
		if v, err := strconv.ParseFloat(word, 64); err == nil {
			args = append(args, v)
			continue
		}
		n := len(args)
		switch word {
		case "q":
			stack = append(stack, now)
		case "Q":
			if len(stack) > 0 {
				now, stack = stack[len(stack)-1], stack[:len(stack)-1]
			}
		case "cm":
			if n >= 6 {
				m := matrix(args[n-6:])
				now = matrix{m[0]*now[0] + m[1]*now[2], m[0]*now[1] + m[1]*now[3], m[2]*now[0] + m[3]*now[2], m[2]*now[1] + m[3]*now[3],
					m[4]*now[0] + m[5]*now[2] + now[4], m[4]*now[1] + m[5]*now[3] + now[5]}
			}
		case "m":
			if n >= 2 {
				x, y = args[n-2], args[n-1]
			}
		case "l":
			if n >= 2 {
				length(x, y, args[n-2], args[n-1])
				x, y = args[n-2], args[n-1]
			}
		case "re":
			if n >= 4 {
				length(args[n-4], args[n-3], args[n-4]+args[n-2], args[n-3])
				length(args[n-4], args[n-3], args[n-4], args[n-3]+args[n-1])
			}
		}
		args = args[:0]
	}
	return lengths
}

// TestBoardFromAnotherShop: names in a parts list are text on every page.
func TestBoardFromAnotherShop(t *testing.T) {
	n := example(t)
	folder := filepath.Join(n.Dir, "devices", "uldra-n8")
	evil := `<img src=x onerror=alert(1)>`
	csv := "designator,value,package,x_mm,y_mm,rotation,side\n" + evil +
		",\"</script><script>alert(2)</script>\",\"\"\"><b>\",1,1,0,top\nR2,1k,0402,5,5,0,top\n"
	require.NoError(t, os.WriteFile(filepath.Join(folder, "n8-main-rev-4.csv"), []byte(csv), 0o644))
	require.NoError(t, os.Remove(filepath.Join(folder, "n8-main-rev-4.ipc")))
	n, err := notebook.Load(n.Dir)
	require.NoError(t, err)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	for name, text := range files(t, out) {
		if strings.HasPrefix(name, "boards/uldra-n8") || strings.HasPrefix(name, "devices/uldra-n8") {
			assert.NotContains(t, text, "<img src=x", name)
			assert.NotContains(t, text, "</script><script>alert", name)
		}
	}
	b := startBrowser(t)
	b.Do(t, chromedp.Navigate(fileURL(out, "boards/uldra-n8/n8-main-rev-4.html")))
	waitFor(t, b, `!document.getElementById("tools").hidden`)
	b.Do(t, chromedp.SendKeys(chromedp.CSS("#sought"), "img\r"))
	waitFor(t, b, `document.querySelector("#told h2")?.textContent.includes("onerror")`)
	assert.Zero(t, eval[int](t, b, `document.querySelectorAll("main img, main b").length`))
	assert.Empty(t, b.Problems)
}

// TestPictureUnderTheDrawing: a picture lies under the drawing to the millimetre, stays
// there while parts are asked for, and two of one side are wiped and shown in turns.
func TestPictureUnderTheDrawing(t *testing.T) {
	b := startBrowser(t)
	b.Do(t, chromedp.EmulateViewport(1280, 1000))
	n := example(t)
	openBoard(t, b, n, "boards/aldermoor-hb4/hb4-main-rev-3.html#ref=C341&photo=2")
	waitFor(t, b, `document.querySelectorAll("#side-top image").length === 1`)
	assert.Equal(t, "C341", eval[string](t, b, `document.querySelector("#told h2").textContent`))
	var image, whole []float64
	image = eval[[]float64](t, b, `["width", "height"].map((k) => Number(document.querySelector("#side-top image").getAttribute(k)))`)
	whole = eval[[]float64](t, b, `document.querySelector("#side-top svg").getAttribute("viewBox").split(" ").map(Number).slice(2)`)
	assert.InDeltaSlice(t, whole, image, 0.01, "the picture covers the drawing")
	// Where C341 is ringed, the good board has a body and the other bare board.
	at := eval[[]float64](t, b, `(() => { const i = document.querySelector('img[data-photo="2"]');
		const at = document.querySelector("#side-top .mark-chosen").getBBox(), v = document.querySelector("#side-top svg").viewBox.baseVal;
		return [(at.x + at.width / 2) / v.width * Number(i.getAttribute("width")), (at.y + at.height / 2) / v.height * Number(i.getAttribute("height"))]; })()`)
	site := filepath.Dir(eval[string](t, b, `location.pathname`))
	bright := func(photo string) float64 {
		f, err := os.Open(filepath.Join(site, "hb4-main-rev-3-"+photo+".jpg"))
		require.NoError(t, err)
		defer f.Close()
		img, err := jpeg.Decode(f)
		require.NoError(t, err)
		return float64(color.GrayModel.Convert(img.At(int(at[0]), int(at[1]))).(color.Gray).Y)
	}
	good, bare := bright("1"), bright("2")
	assert.Greater(t, good, bare+25, "a body of ceramic on the good board, bare board where it is gone")
	// Beside the good one, wiped and in turns, by keys.
	b.Do(t, chromedp.Focus(chromedp.CSS("#second")))
	_ = eval[any](t, b, `(() => { const s = document.getElementById("second"); s.value = "1"; s.dispatchEvent(new Event("change", { bubbles: true })); })()`)
	waitFor(t, b, `document.querySelectorAll("#side-top image").length === 2`)
	half := eval[float64](t, b, `Number(document.querySelector("#side-top clipPath rect").getAttribute("width"))`)
	assert.InDelta(t, whole[0]/2, half, 0.1)
	b.Do(t, chromedp.Focus(chromedp.CSS("#wipe")), chromedp.KeyEvent(kb.ArrowRight))
	waitFor(t, b, fmt.Sprintf(`Number(document.querySelector("#side-top clipPath rect").getAttribute("width")) > %f`, half))
	b.Do(t, chromedp.Focus(chromedp.CSS("#blink")), chromedp.KeyEvent(kb.Enter))
	waitFor(t, b, `document.querySelector("#side-top image.second").getAttribute("visibility") === "hidden"`)
	waitFor(t, b, `document.querySelector("#side-top image.second").getAttribute("visibility") === "visible"`)
	b.Do(t, chromedp.KeyEvent(kb.Enter))
	waitFor(t, b, `!document.querySelector("#side-top image.second").hasAttribute("visibility")`)
	// A picture of no other side stays when the board is turned over, and is on its own side.
	b.Do(t, chromedp.Focus(chromedp.CSS("#side-top svg")), chromedp.KeyEvent("t"))
	assert.Zero(t, eval[int](t, b, `document.querySelectorAll("#side-bottom image").length`))
	assert.Empty(t, b.Problems)
}

// TestFindAPart: a part is asked for while no name stands on the drawing and its picture
// lies under it; what was tapped is named with its distance, by keys too.
func TestFindAPart(t *testing.T) {
	b := startBrowser(t)
	b.Do(t, chromedp.EmulateViewport(1280, 900))
	n := example(t)
	openBoard(t, b, n, "boards/zandeck-rover/rover-main-v1-2.html")
	d, _ := n.Device("zandeck-rover")
	on := d.Boards[0]
	_ = eval[any](t, b, `Math.random = () => 0; document.getElementById("drill").click()`)
	const ask = `document.getElementById("drill-ask").textContent`
	var top []*board.Part
	for i := range on.Parts {
		if p := &on.Parts[i]; p.Side == board.Top && len(p.Pins) > 0 {
			top = append(top, p)
		}
	}
	first, second := top[0], top[1]
	waitFor(t, b, fmt.Sprintf(ask+` === "Where is %s, %s?"`, first.Ref, first.Value))
	assert.Equal(t, "none", eval[string](t, b, `getComputedStyle(document.querySelector("#side-top .names")).display`))
	assert.Equal(t, "1", eval[string](t, b, `document.getElementById("photo").value`))
	tap := func(p *board.Part) {
		_ = eval[any](t, b, fmt.Sprintf(`(() => { const d = document.querySelector("#side-top svg"), r = d.getBoundingClientRect(), W = 74, H = 49;
			const s = Math.max(W / d.clientWidth, H / d.clientHeight), x = r.left + r.width / 2 + (%g + 2 - W / 2) / s, y = r.top + r.height / 2 + (45 - %g + 2 - H / 2) / s;
			for (const type of ["pointerdown", "pointerup"]) { d.setPointerCapture = () => {}; d.dispatchEvent(new PointerEvent(type, {pointerId: 1, clientX: x, clientY: y, bubbles: true})); } })()`, p.X, p.Y))
	}
	tap(second)
	waitFor(t, b, fmt.Sprintf(ask+` === "✕ That is %s; %s lies %.2f mm from it, in the ring. 0 of 1 right."`, second.Ref, first.Ref,
		math.Hypot(first.X-second.X, first.Y-second.Y)))
	assert.Equal(t, 1, eval[int](t, b, `document.querySelectorAll("#side-top .mark-ring").length`))
	tap(first) // after it was told counts no more
	assert.Contains(t, eval[string](t, b, ask), "0 of 1 right.")
	_ = eval[any](t, b, `document.getElementById("drill-next").click()`)
	waitFor(t, b, fmt.Sprintf(ask+`.startsWith("Where is %s")`, second.Ref))
	tap(second)
	waitFor(t, b, fmt.Sprintf(ask+` === "● Yes, that is %s. 1 of 2 right."`, second.Ref))
	// With keys: the part under the cross is taken, and again goes on to the next.
	_ = eval[any](t, b, `document.getElementById("drill-next").click()`)
	_ = eval[any](t, b, `document.querySelector("#side-top svg").focus()`)
	b.Do(t, chromedp.KeyEvent("+"), chromedp.KeyEvent("+"), chromedp.KeyEvent("+"),
		chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.Enter)) // to the controller, 3 mm right of the middle
	waitFor(t, b, ask+`.includes("That is U3; ") && `+ask+`.includes("1 of 3 right.")`)
	b.Do(t, chromedp.KeyEvent(kb.Enter))
	waitFor(t, b, ask+`.startsWith("Where is ")`)
	_ = eval[any](t, b, `document.getElementById("drill").click()`)
	assert.False(t, eval[bool](t, b, `document.querySelector("#side-top svg").classList.contains("nameless")`))
	assert.Empty(t, b.Problems)
}
