package site

import (
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/schema/quantity"
)

// valueInputs are texts of every kind that the reader knows, nonsense among them.
func valueInputs() []string {
	r := rand.New(rand.NewPCG(11, 12))
	list := []string{"", " ", "4k7", "4,7k", "4.7 kΩ", "0R1", "R47", "47K", "104K", "47KK", "M47M", "5p6D", "R47F",
		"10R", "12R", "22F", "10A", "OL", "∞", "3V3", "1450 rpm", "25 C", "25C", "-3 pF",
		"−12 V", "1e999 V", "4k7k", "OLOL", "🙂", "12:30", "3.3 V ±5 %", "3.3 V +5/-10 %", "0.45..0.55 V", "10..22 kΩ",
		"5..3 V", "> 1 MΩ", "< 0.5 Ω", "≥1M", "OL ", "300-340 V", "~320 V", "ca. 12 V ±5 %", "environ 12 V ±1 V",
		"35 Volt", "35 Volt ±2 V", "4.7 kOhm", "320 V DC ±5 %", "12.1 VAC", "11-13 V AC", "beep", "no beep", "o.l.",
		"16 MHz ±50 ppm", "16 MHz ±x ppm", "-5 - -3 V", "1-2", "100 nF 16 V X7R 0402", "100nF/16V",
		"240R@100MHz", "600R@100MHz 1 A DCR 0.2 Ω 0603", "fuse 2 A 32 V fast 0603", "diode schottky 40 V 5 A SMC",
		"electrolytic 100 µF 50 V 105 °C", "10k 1% 0603 0.1 W", "22 pF ±0.5 pF C0G", "100 nF +80/-20 % Y5V",
		"brown black red gold", "yellow violet orange silver", "red red black brown brown",
		"brown black black red brown red", "gray purple gold gold", "gold black red", "X7R", "C0G", "NP0", "U2J",
		"Z5U", "0603M", "01005", "1005", "250 V~", "12 V⎓ ±5 %", "T2A250VAC", "F 1 A 250 V~",
		"99999999999999999999 V", "0.000000001", "1 yΩ", "k", "%", "1/min", "10 kelvin", "µ1", "μ1", "1 000", "5 m",
		"5 min", "C106", "106C", "E475", "regulator 3.3 V 0.5 A SOT-23", "100 nF X2 275 V", strings.Repeat("9", 300)}
	for _, p := range []string{"008004", "0201", "0402", "0603", "0805", "1008", "1206", "1210", "1806", "1812",
		"2010", "2220", "2512", "3216", "6432"} {
		list = append(list, p, p+"M")
	}
	letters := "ABCDEFGHJKLMNPRSTUVWXYZ"
	prefixes := []string{"", "p", "n", "u", "µ", "m", "k", "K", "M", "G"}
	units := []string{"", "Ω", "ohm", "F", "H", "V", "A", "W", "Hz", "s", "Ah", "°C", "%"}
	for range 160 {
		list = append(list, fmt.Sprintf("%03d", r.IntN(1000)), fmt.Sprintf("%04d", r.IntN(10000)),
			fmt.Sprintf("%02d%c", r.IntN(100), letters[r.IntN(len(letters))]),
			fmt.Sprintf("%d%c%d", r.IntN(1000), "RKMpnuVkL"[r.IntN(9)], r.IntN(100)),
			fmt.Sprintf("%03d%c", r.IntN(1000), letters[r.IntN(len(letters))]),
			fmt.Sprintf("%d.%02d %s%s", r.IntN(1000), r.IntN(100), prefixes[r.IntN(len(prefixes))], units[r.IntN(len(units))]),
			fmt.Sprintf("%d,%d%s%s ±%d%%", r.IntN(100), r.IntN(10), prefixes[r.IntN(len(prefixes))], units[r.IntN(len(units))], r.IntN(30)))
	}
	for _, name := range []string{"marks.tsv", "markings.tsv"} {
		table, err := os.ReadFile("../../../schema/quantity/testdata/" + name)
		if err != nil {
			panic(err)
		}
		for _, row := range strings.Split(strings.TrimSpace(string(table)), "\n")[1:] {
			list = append(list, strings.Split(row, "\t")[0])
		}
	}
	return list
}

func swapInputs() [][2]string {
	parts := []string{"100 nF 16 V X7R 0402", "100 nF 25 V X5R 0402", "47 nF 16 V X7R 0603", "22 pF 50 V C0G",
		"22 pF 50 V U2J", "electrolytic 100 µF 50 V 105 °C", "100 µF 63 V tantalum", "100 nF X2 275 V", "100 nF Y2 300 V film",
		"10k 1% 0.1 W 0603", "10.2k 1% 0.125 W 0805", "10k 5% 0.1 W 1608M", "600R@100MHz 1 A 0603", "600R 2 A",
		"10 µH 2.5 A DCR 50 mΩ", "12 µH 3 A DCR 40 mΩ", "fuse 2 A 32 V fast", "fuse 2 A 63 V slow", "diode schottky 40 V 5 A SMC",
		"diode 60 V 5 A", "regulator 3.3 V 0.5 A", "transistor npn 140 V 10 A 100 W TO-3P",
		"transistor pnp 230 V 15 A", "nonsense", "0 Ω 0.1 W"}
	var list [][2]string
	table, err := os.ReadFile("../../../schema/quantity/testdata/swaps.tsv")
	if err != nil {
		panic(err)
	}
	for _, row := range strings.Split(strings.TrimSpace(string(table)), "\n")[1:] {
		f := strings.Split(row, "\t")
		list = append(list, [2]string{f[0], f[1]}, [2]string{f[1] + " zorch", f[0]})
	}
	for _, a := range parts {
		for _, b := range parts {
			list = append(list, [2]string{a, b})
		}
	}
	return list
}

type formulaInput struct {
	Name  string
	Given []quantity.Given
}

func formulaInputs() []formulaInput {
	r := rand.New(rand.NewPCG(13, 14))
	samples := map[string][]string{"ohm": {"4k7", "100R", "0R22", "1M", "20m", "6", "2k2 "}, "farad": {"100n", "47u", "22p", "1m", "1m5", "10"},
		"henry": {"10uH", "1 mH", "10u", "4u7", "2"}, "volt": {"12", "400 V", "3V3", "60", "75m", "1k5", "-12m", "230"},
		"ampere": {"1", "20 mA", "2.5 A", "20m", "1m5", "5u", "0"}, "watt": {"0.5", "10 W", "60", "2k"}, "hertz": {"50", "1 kHz", "1 MHz", "4k7", "1,5k"},
		"second": {"1 s", "0.5 s", "10", "5m", "2 min", "1h", "20u", "250 µs", "1m5"}, "degree Celsius": {"20", "85 °C", "-10", "105"},
		"kelvin": {"10", "20", "3950", "100 kelvin"}, "metre": {"0.3 mm", "1 m", "35 µm", "20m", "0.2", "70u"},
		"ampere hour": {"2.1 Ah", "3000 mAh", "2200m", "2100"}, "percent": {"80", "25 %", "0.3", "1", "120 %", "0"},
		"number": {"1", "30", "0.024", "0.048", "40", "3", "2m"}}
	gauges := []string{"24", "0000", "00", "0", "4/0", "5/0", "0/4", "-3", "24.5", "57", "2/3", "36"}
	odd := []string{"3 V", "OL", "x", "-1", "0", "", "1,000", "1e-3", "5;7", "1 2"}
	var list []formulaInput
	for _, f := range quantity.Formulas() {
		for n := range 60 {
			given := []quantity.Given{}
			for _, in := range f.Inputs {
				if (in.Default != "" || in.Optional) && r.IntN(2) == 0 || n%10 == 9 && r.IntN(3) == 0 {
					continue
				}
				s := samples[in.Unit]
				if in.Gauge {
					s = gauges
				}
				text := s[r.IntN(len(s))]
				if in.List {
					text += []string{", ", "; ", ",", " "}[r.IntN(4)] + s[r.IntN(len(s))]
				}
				if n%10 == 8 && r.IntN(3) == 0 {
					text = odd[r.IntN(len(odd))]
				}
				given = append(given, quantity.Given{Key: in.Key, Text: text})
			}
			if n%20 == 7 && len(given) > 1 { // names that no formula has, in an order of their own, and one twice
				given = append(given, quantity.Given{Key: "zz", Text: "1"}, quantity.Given{Key: "7", Text: "1"}, given[0])
				r.Shuffle(len(given), func(i, j int) { given[i], given[j] = given[j], given[i] })
			}
			list = append(list, formulaInput{f.Name, given})
		}
	}
	return list
}

// outcome is an answer as JSON, or an error's message.
func outcome(answer any, err error) string {
	if err != nil {
		var bad *quantity.Error
		if errors.As(err, &bad) && err == error(bad) {
			return "error: " + bad.Message
		}
		return "error: " + err.Error()
	}
	data, err := json.Marshal(answer)
	if err != nil {
		return err.Error()
	}
	return string(data)
}

// alike compares two answers, figures to within twelve digits.
func alike(t *testing.T, want, got any, path string) {
	t.Helper()
	switch w := want.(type) {
	case float64:
		g, ok := got.(float64)
		if assert.True(t, ok, path) && w != g {
			assert.InEpsilon(t, w, g, 1e-12, path)
		}
	case map[string]any:
		g, ok := got.(map[string]any)
		if assert.True(t, ok, path) {
			assert.Len(t, g, len(w), "%s: %v | %v", path, w, g)
			for k := range w {
				alike(t, w[k], g[k], path+"."+k)
			}
		}
	case []any:
		g, ok := got.([]any)
		if assert.True(t, ok, path) && assert.Len(t, g, len(w), "%s: %v | %v", path, w, g) {
			for i := range w {
				alike(t, w[i], g[i], fmt.Sprintf("%s[%d]", path, i))
			}
		}
	default:
		assert.Equal(t, want, got, path)
	}
}

// TestReckonAgrees gives the page and the command line's code the same inputs,
// from file://, and compares every answer and every refusal.
func TestReckonAgrees(t *testing.T) {
	b := startBrowser(t)
	out := published(t)
	b.Do(t, chromedp.Navigate(fileURL(out, "reckon.html")))
	waitFor(t, b, `document.readyState === "complete"`)
	assert.Empty(t, b.Problems)
	total, refused := 0, 0
	compare := func(name string, inputs any, script string, ours func(i int) string) {
		data, err := json.Marshal(inputs)
		require.NoError(t, err)
		answers := eval[[]string](t, b, `(() => { const q = benchloreQuantity; const s = (r) => r.error !== undefined ? "error: " + r.error : JSON.stringify(r.answer); return `+string(data)+`.map(`+script+`); })()`)
		for i, got := range answers {
			want := ours(i)
			total++
			if strings.HasPrefix(want, "error: ") || strings.HasPrefix(got, "error: ") {
				refused++
				assert.Equal(t, want, got, "%s %d", name, i)
				continue
			}
			var w, g any
			require.NoError(t, json.Unmarshal([]byte(want), &w))
			require.NoError(t, json.Unmarshal([]byte(got), &g))
			alike(t, w, g, fmt.Sprintf("%s %d %s", name, i, want[:min(len(want), 60)]))
		}
	}
	_ = eval[any](t, b, `(() => {
		const load = (src, next) => { const s = document.createElement("script"); s.src = src; s.onload = next; document.head.append(s); };
		load("reckon/marks.js", () => load("reckon/formulas.js", () => { globalThis.marksAreHere = true; }));
		load("assets/swap.js", () => load("reckon/parts.js", () => { globalThis.partsAreHere = true; }));
	})()`)
	waitFor(t, b, `globalThis.partsAreHere === true && globalThis.marksAreHere === true`)
	values := valueInputs()
	compare("value", values, `(x) => s(q.read(x))`, func(i int) string {
		r, err := quantity.Read(values[i])
		return outcome(r, err)
	})
	swaps := swapInputs()
	compare("swap", swaps, `(x) => s(benchloreSwap.swap(x[0], x[1]))`, func(i int) string {
		r, err := quantity.Swap(swaps[i][0], swaps[i][1], nil)
		return outcome(r, err)
	})
	formulas, answered := formulaInputs(), map[string]bool{}
	compare("reckon", formulas, `(x) => s(q.reckon(x.Name, x.Given.map((g) => [g.Key, g.Text])))`, func(i int) string {
		f, _ := quantity.FindFormula(formulas[i].Name)
		r, err := quantity.Reckon(f, formulas[i].Given)
		if err == nil {
			answered[f.Name] = true
		}
		return outcome(r, err)
	})
	for _, f := range quantity.Formulas() {
		assert.True(t, answered[f.Name], "%s was refused every time", f.Name)
	}
	t.Logf("%d inputs compared, %d of them refused by both", total, refused)
	assert.Greater(t, total, 500)
}

// TestReckonByKeyboard uses the three forms as a person does.
func TestReckonByKeyboard(t *testing.T) {
	b := startBrowser(t)
	out := published(t)
	b.Do(t, chromedp.Navigate(fileURL(out, "reckon.html")),
		chromedp.Focus(chromedp.CSS("#value-text")), chromedp.SendKeys(chromedp.CSS("#value-text"), "104K\r"))
	waitFor(t, b, `document.querySelector("#value-answer li")`)
	assert.Contains(t, eval[string](t, b, `document.querySelector("#value-answer li").textContent`), "100 nF ±10 %")
	b.Do(t, chromedp.SendKeys(chromedp.CSS("#swap-old"), "fuse 2 A 32 V fast"),
		chromedp.SendKeys(chromedp.CSS("#swap-new"), "fuse 3 A 32 V fast\r"))
	waitFor(t, b, `document.querySelector("#swap-answer li")`)
	assert.Contains(t, eval[string](t, b, `document.querySelector("#swap-answer").textContent`), "does not fit")
	b.Do(t, chromedp.Focus(chromedp.CSS("#formula")), chromedp.KeyEvent(kb.ArrowDown))
	waitFor(t, b, `document.querySelector("#in-f")`)
	b.Do(t, chromedp.SendKeys(chromedp.CSS("#in-f"), "1 kHz"), chromedp.SendKeys(chromedp.CSS("#in-c"), "10u\r"))
	waitFor(t, b, `document.querySelector("#formula-answer dd")`)
	assert.Contains(t, eval[string](t, b, `document.querySelector("#formula-answer").textContent`), "15.92 Ω")
	b.Shot(t, "reckon-filled")
	b.Do(t, chromedp.SendKeys(chromedp.CSS("#value-text"), "zz\r"))
	waitFor(t, b, `document.querySelector("#value-answer").textContent.includes("Cannot be read")`)
	assert.Empty(t, b.Problems)
}

// TestBands: bands that words name are drawn, a colour each, the last one apart; what is no
// list of colours draws nothing.
func TestBands(t *testing.T) {
	b := startBrowser(t)
	out := published(t)
	b.Do(t, chromedp.Navigate(fileURL(out, "reckon.html")))
	read := func(text string) {
		_ = eval[any](t, b, `document.getElementById("value-text").value = "`+text+`"; document.getElementById("value-form").requestSubmit()`)
	}
	read("yellow violet red gold")
	waitFor(t, b, `document.querySelector("#value-answer .bands")?.getAttribute("aria-label") === "yellow, violet, red, gold"`)
	assert.Equal(t, []string{"#f2d21f", "#6f3aa0", "#c4161c", "#b8923a"},
		eval[[]string](t, b, `[...document.querySelectorAll(".bands rect")].slice(1).map((r) => r.getAttribute("fill"))`))
	assert.True(t, eval[bool](t, b, `(() => { const x = [...document.querySelectorAll(".bands rect")].slice(1).map((r) => Number(r.getAttribute("x"))); return x[3] - x[2] > x[2] - x[1]; })()`))
	read("4k7")
	waitFor(t, b, `document.getElementById("value-answer").textContent.includes("4.7 kΩ")`)
	assert.Zero(t, eval[int](t, b, `document.querySelectorAll(".bands").length`))
	assert.Empty(t, b.Problems)
}
