package editor

import (
	"bufio"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/testkit/browser"
	"benchlore/build/write/meter"
)

// TestLay: points are judged as they are sent, nothing is written, and what cannot be used
// is named with what would be right.
func TestLay(t *testing.T) {
	x := serveIt(t, Options{})
	before := x.snapshot()
	have := loaded(t, x.dir, "2025-0010").File.Case.Photos[0]
	send := func(side string, edit func(points []pinField) []pinField) (int, laid, string) {
		var points []pinField
		for _, p := range have.Points {
			points = append(points, pinField(p))
		}
		body, err := json.Marshal(map[string]any{"file": have.File, "side": side, "points": edit(points)})
		require.NoError(t, err)
		code, text, _ := x.do(ask{path: "/write/case/2025-0010/lay", body: string(body), kind: "application/json"})
		var a laid
		if code == http.StatusOK {
			require.NoError(t, json.Unmarshal([]byte(text), &a), text)
		}
		return code, a, text
	}
	same := func(p []pinField) []pinField { return p }
	code, a, _ := send("top", same)
	require.Equal(t, http.StatusOK, code)
	assert.True(t, a.Laid && a.Sure)
	assert.Less(t, a.Within, 0.2)
	assert.Len(t, a.Off, len(have.Points))
	assert.Empty(t, a.Said)
	_, a, _ = send("bottom", same)
	assert.False(t, a.Laid)
	assert.Contains(t, a.Said[0], "mirrored")
	_, a, _ = send("top", func(p []pinField) []pinField { p[3].X += 0.05; return p })
	assert.Equal(t, []int{3}, a.Left)
	assert.Contains(t, a.Said[0], p3(have.Points[3].At))
	_, a, _ = send("top", func(p []pinField) []pinField { p[0].At = "J77"; return p })
	assert.Contains(t, a.Said[0], `the board has no "J77"`)
	code, _, text := send("top", func(p []pinField) []pinField { return p[:3] })
	assert.Equal(t, http.StatusOK, code, text)
	code, text, _ = x.do(ask{path: "/write/case/2026-0018/lay", body: `{"file":"x.jpg"}`, kind: "application/json"})
	assert.Equal(t, http.StatusUnprocessableEntity, code)
	assert.Contains(t, text, "board add")
	assert.Equal(t, before, x.snapshot())
}

func p3(at string) string { return at + " lies " }

// TestPlacesOnAPicture takes a place out, marks it again by keys, and finds it in the file.
func TestPlacesOnAPicture(t *testing.T) {
	x := serveIt(t, Options{})
	b := browser.Start(t)
	b.Do(t, chromedp.EmulateViewport(1280, 1000), chromedp.Navigate(x.base+"/write/case/2025-0010"))
	hint := `[...document.querySelectorAll("#photos [role=status]")].map((e) => e.textContent).join(" ")`
	b.WaitFor(t, hint+`.includes("Laid onto the board within 0.0")`)
	was := loaded(t, x.dir, "2025-0010").File.Case.Photos[0]
	u1 := was.Points[3]
	require.Equal(t, "U1", u1.At)
	_ = browser.Eval[any](t, b, `[...document.querySelectorAll("#photos .places button")].find((e) => e.textContent === "Take out U1").click()`)
	b.WaitFor(t, `[...document.querySelectorAll("#photos ul.places li")].length === `+fmt.Sprint(len(was.Points)-1))
	_ = browser.Eval[any](t, b, `document.querySelector('#photos [data-shape="place"]').click()`)
	b.Do(t, chromedp.Focus(chromedp.CSS("#place-0")), chromedp.SendKeys(chromedp.CSS("#place-0"), "u1"))
	// Pointing is a click at the very place.
	spot := browser.Eval[[]float64](t, b, fmt.Sprintf(`(() => { const i = document.querySelector("#photos .marker img"); i.scrollIntoView({ block: "center" });
		const r = i.getBoundingClientRect(); return [r.left + %f * r.width, r.top + %f * r.height]; })()`, u1.X, u1.Y))
	b.Do(t, chromedp.MouseClickXY(spot[0], spot[1]))
	b.WaitFor(t, hint+`.includes("Laid onto the board within 0.")`)
	b.WaitFor(t, at("saved")+`.textContent.startsWith("Saved, ")`)
	now := loaded(t, x.dir, "2025-0010").File.Case.Photos[0]
	require.Len(t, now.Points, len(was.Points))
	last := now.Points[len(now.Points)-1]
	assert.Equal(t, "u1", last.At)
	assert.InDelta(t, u1.X, last.X, 0.003)
	assert.InDelta(t, u1.Y, last.Y, 0.003)
	assert.Equal(t, was.Caption, now.Caption)
	assert.Equal(t, "top", now.Side)
	assert.Empty(t, b.Problems)
}

// TestPinAfterPin: readings are taken by keys alone, one after the other, with a step
// back, a pin left out and a list pasted; all of them come into the table at once.
func TestPinAfterPin(t *testing.T) {
	x := serveIt(t, Options{})
	b := browser.Start(t)
	b.Do(t, chromedp.EmulateViewport(1280, 1000), chromedp.Navigate(x.base+"/write/case/2026-0016"))
	b.WaitFor(t, `!document.getElementById("by-pin").hidden`)
	had := len(loaded(t, x.dir, "2026-0016").File.Table("Measurements").Rows)
	_ = browser.Eval[any](t, b, `document.getElementById("by-pin").open = true`)
	b.Do(t, chromedp.Focus(chromedp.CSS("#pin-part")), chromedp.SendKeys(chromedp.CSS("#pin-part"), "u4"))
	_ = browser.Eval[any](t, b, `document.getElementById("pin-what").value = "resistance"; document.getElementById("pin-unit").value = "kΩ"`)
	b.Do(t, chromedp.Focus(chromedp.CSS("#pin-begin")), chromedp.KeyEvent(kb.Enter))
	name := `document.getElementById("pin-name").textContent`
	b.WaitFor(t, name+` === "U4.1 (P1_TX+)"`)
	b.Do(t, chromedp.KeyEvent("2"), chromedp.KeyEvent("."), chromedp.KeyEvent("4"), chromedp.KeyEvent(kb.Enter))
	b.WaitFor(t, name+`.startsWith("U4.2 ")`)
	b.Do(t, chromedp.KeyEvent(kb.Enter)) // left out
	b.WaitFor(t, name+`.startsWith("U4.3 ")`)
	b.Do(t, chromedp.KeyEvent(kb.Backspace)) // back
	b.WaitFor(t, name+`.startsWith("U4.2 ")`)
	// An odd one is heard, where that is wanted; one that is not is not.
	_ = browser.Eval[any](t, b, `window.heard = 0; OscillatorNode.prototype.start = function () { window.heard++; }; OscillatorNode.prototype.stop = function () {}; document.getElementById("pin-beep").click()`)
	b.Do(t, chromedp.Focus(chromedp.CSS("#pin-read")))
	b.Do(t, chromedp.KeyEvent("O"), chromedp.KeyEvent("L"), chromedp.KeyEvent(kb.Enter))
	b.WaitFor(t, name+`.startsWith("U4.3 ")`)
	_ = browser.Eval[any](t, b, `(() => { const e = document.getElementById("pin-read"), d = new DataTransfer(); d.setData("text/plain", "8 Ω\n17;2.3\nU4.5;2.5\n");
		e.dispatchEvent(new ClipboardEvent("paste", {clipboardData: d, bubbles: true, cancelable: true})); })()`)
	b.WaitFor(t, name+`.startsWith("U4.6 ")`)
	b.WaitFor(t, `document.getElementById("pin-done").textContent.includes("U4.17: 2.3 kΩ ● in")`)
	assert.Zero(t, browser.Eval[int](t, b, `window.heard`))
	_ = browser.Eval[any](t, b, `(() => { const e = document.getElementById("pin-read"), d = new DataTransfer(); d.setData("text/plain", "17;8 Ω\nU4.5;2.5\n");
		e.dispatchEvent(new ClipboardEvent("paste", {clipboardData: d, bubbles: true, cancelable: true})); })()`)
	b.WaitFor(t, `window.heard === 1 && !document.getElementById("pin-now").hidden`)
	_ = browser.Eval[any](t, b, `(() => { const d = new DataTransfer(); d.items.add(new File(["U4.9;2.2\n"], "log.csv", {type: "text/csv"}));
		dispatchEvent(new DragEvent("drop", {dataTransfer: d, bubbles: true, cancelable: true})); })()`)
	b.WaitFor(t, `document.getElementById("pin-done").textContent.includes("U4.9: 2.2 kΩ")`)
	b.WaitFor(t, `window.heard === 1 && document.getElementById("pin-done").textContent.includes("U4.17: 8 Ω ▼ low")`)
	_ = browser.Eval[any](t, b, `(() => { const e = document.getElementById("pin-read"), d = new DataTransfer(); d.setData("text/plain", "17;2.3\nU4.5;2.5\n");
		e.dispatchEvent(new ClipboardEvent("paste", {clipboardData: d, bubbles: true, cancelable: true})); })()`)
	_ = browser.Eval[any](t, b, `document.getElementById("pin-end").click()`)
	b.WaitFor(t, at("saved")+`.textContent.startsWith("Saved, ")`)
	b.WaitFor(t, `document.getElementById("pin-said").textContent === "6 readings are in the table."`)
	var got []string
	require.Eventually(t, func() bool {
		rows := loaded(t, x.dir, "2026-0016").File.Table("Measurements").Rows
		got = nil
		for _, r := range rows[had:] {
			got = append(got, strings.Join([]string{r[0], r[1], r[2], r[4]}, "|"))
		}
		return len(got) == 6
	}, time.Minute, 50*time.Millisecond)
	assert.Equal(t, []string{"U4.1|resistance|off|2.4 kΩ", "U4.2|resistance|off|OL", "U4.3|resistance|off|8 Ω",
		"U4.17|resistance|off|2.3 kΩ", "U4.5|resistance|off|2.5 kΩ", "U4.9|resistance|off|2.2 kΩ"}, got)
	assert.Empty(t, b.Problems)
}

// TestPins: what a good board shows stands beside each pin, and a part that is not there
// is named.
func TestPins(t *testing.T) {
	x := serveIt(t, Options{})
	code, text, _ := x.do(ask{method: "GET", path: "/write/case/2026-0016/pins?part=U4&what=Resistance&state=OFF"})
	require.Equal(t, http.StatusOK, code, text)
	var a struct {
		Part string
		Pins []pinAsked
	}
	require.NoError(t, json.Unmarshal([]byte(text), &a))
	assert.Equal(t, pinAsked{"U4.17", "P5_TX+", "> 1 kΩ"}, a.Pins[16])
	assert.Equal(t, pinAsked{"U4.5", "P2_TX+", "2.5 kΩ"}, a.Pins[4])
	// One reading is judged before it is in the table: by the sheet's limit, and by what
	// other boards showed.
	for query, want := range map[string]string{
		"point=U4.17&what=resistance&state=off&read=8+%CE%A9":    `{"odd":true,"sign":"▼","word":"low"}`,
		"point=U4.17&what=resistance&state=off&read=2.4+k%CE%A9": `{"odd":false,"sign":"●","word":"in"}`,
		"point=U4.44&what=frequency&state=off&read=2.4+kHz":      `{"odd":false,"sign":"","word":""}`,
		"point=U4.17&what=resistance&state=off&read=a+lot":       "",
	} {
		code, text, _ = x.do(ask{method: "GET", path: "/write/case/2026-0016/pin?" + query})
		if want == "" {
			assert.NotContains(t, text, `"odd":true`, query)
			continue
		}
		require.Equal(t, http.StatusOK, code, text)
		assert.JSONEq(t, want, text, query)
	}
	code, text, _ = x.do(ask{method: "GET", path: "/write/case/2026-0016/pins?part=U44"})
	assert.Equal(t, http.StatusUnprocessableEntity, code)
	assert.Contains(t, text, "did you mean")
}

// TestReadingByKey: F9 takes what a simulated instrument shows into the row that is being
// typed, and says so when there is no answer.
func TestReadingByKey(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	go func() {
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			in := bufio.NewScanner(conn)
			for in.Scan() {
				_, _ = conn.Write([]byte(map[string]string{"CONF?": "\"VOLT +1.0E+01\"\n", "READ?": "+3.29871000E+00\n"}[in.Text()]))
			}
		}
	}()
	instrument, err := meter.At(l.Addr().String())
	require.NoError(t, err)
	x := serveIt(t, Options{Meter: instrument})
	b := browser.Start(t)
	b.Do(t, chromedp.EmulateViewport(1280, 900), chromedp.Navigate(x.base+"/write/case/2026-0018"))
	b.WaitFor(t, at("clock")+`?.hidden === false`)
	_ = browser.Eval[any](t, b, cell("Measurements", 0, 0)+`.focus()`)
	b.Do(t, chromedp.KeyEvent("T"), chromedp.KeyEvent("P"), chromedp.KeyEvent("1"), chromedp.KeyEvent(kb.F9))
	b.WaitFor(t, at("saved")+`.textContent.startsWith("Saved, ") && `+cell("Measurements", 0, 4)+`.value === "3.2987 V"`)
	row := loaded(t, x.dir, "2026-0018").File.Table("Measurements").Rows[0]
	assert.Equal(t, []string{"TP1", "voltage", "3.2987 V"}, []string{row[0], row[1], row[4]})
	without := serveIt(t, Options{})
	code, text, _ := without.do(ask{path: "/write/case/2026-0018/meter"})
	assert.Equal(t, http.StatusNotFound, code)
	assert.Contains(t, text, "--meter")
	assert.Empty(t, b.Problems)
}
