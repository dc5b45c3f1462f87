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

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"benchlore/build/notebook"
	cautions "benchlore/build/reason/hazard"
	"benchlore/build/reason/method"
	"benchlore/build/reason/triage"
	"benchlore/build/testkit/long"
	"benchlore/schema/casefile"
	"benchlore/schema/terms"
)

// TestTriageAgrees puts random evidence to the page's model and to the command
// line's and compares every probability, interval, check, and expected time.
func TestTriageAgrees(t *testing.T) {
	t.Parallel()
	// Cases of other workshops, by two weights.
	mixed := example(t)
	quarter := 0.25
	mixed.Config.Received.Weight, mixed.Config.Received.Workshops = &quarter, map[string]float64{"quay": 0.8}
	for i, c := range mixed.Cases {
		c.File.Case.From = []string{"", "quay", "harbour"}[i%3]
	}
	none := *example(t)
	none.Cases = nil
	few := *mixed // a new notebook that received some and has none of its own
	few.Cases = nil
	for _, c := range mixed.Cases {
		if c.File.Case.From != "" && len(few.Cases) < 4 {
			few.Cases = append(few.Cases, c)
		}
	}
	for name, n := range map[string]*notebook.Notebook{"example": example(t),
		"without checks": invented(t, 300, "en"), "other workshops": mixed, "others alone": &few,
		"example with methods": example(t), "other workshops with methods": mixed, "methods alone": &none} {
		t.Run(name, func(t *testing.T) {
			var methods []method.Method
			if strings.Contains(name, "methods") {
				var err error
				methods, err = method.Of(n.Dir, n.Terms)
				require.NoError(t, err)
			}
			m := triage.New(n, methods...)
			x := m.Export()
			starter := m.ExportStarter()
			page := scripts(t, "infer.js")
			data, err := json.Marshal(x)
			require.NoError(t, err)
			more, err := json.Marshal(starter)
			require.NoError(t, err)
			x.Checks = append(x.Checks, starter.Checks...)
			page.eval(t, "globalThis.model = benchloreTriage("+string(data)+", '', "+string(more)+")")
			r := rand.New(rand.NewPCG(6, 6))
			near := func(want, got float64, what string) { assert.InDelta(t, want, got, 1e-9*max(1, want), what) }
			steps, told := 0, 0
			sets := 100
			if name != "example" {
				sets = 40
			}
			for range sets {
				e, sent := randomEvidence(r, n, x)
				text, err := json.Marshal(sent)
				require.NoError(t, err)
				parts := run[[2]json.RawMessage](t, page, `(async () => [model.rank(`+string(text)+`), model.plan(`+string(text)+`)])()`)
				var got struct {
					Rank struct {
						Causes []struct {
							Fault, At string
							P         float64
							Interval  [2]float64
							Cases     []string
							Shared    int
						}
						Unseen float64
						Basis  triage.Basis
					}
					Plan struct {
						Steps []struct {
							Check                 string
							Minutes, Finds, After float64
							First                 []struct{ Check, Why string }
							Cases                 []string
							From, Expect          string
							IfFault, IfClear      *triage.Ranked
						}
						Expected, CommonestFirst, CheapestFirst, Random float64
					}
				}
				require.NoError(t, json.Unmarshal(parts[0], &got.Rank))
				require.NoError(t, json.Unmarshal(parts[1], &got.Plan))
				causes, unseen := m.Causes(e)
				near(unseen, got.Rank.Unseen, "unseen")
				assert.Equal(t, m.Basis(e), got.Rank.Basis)
				require.Len(t, got.Rank.Causes, len(causes))
				for i, c := range causes {
					k := got.Rank.Causes[i]
					assert.Equal(t, []string{c.Fault, c.At}, []string{k.Fault, k.At})
					near(c.P, k.P, "p")
					near(c.Interval[0], k.Interval[0], "low")
					near(c.Interval[1], k.Interval[1], "high")
					assert.Equal(t, c.Cases, k.Cases)
					assert.Equal(t, c.Shared, k.Shared)
				}
				plan := m.Plan(e)
				near(plan.Expected, got.Plan.Expected, "expected")
				near(plan.CommonestFirst, got.Plan.CommonestFirst, "commonest first")
				near(plan.CheapestFirst, got.Plan.CheapestFirst, "cheapest first")
				near(plan.Random, got.Plan.Random, "random")
				require.Len(t, got.Plan.Steps, len(plan.Steps))
				for i, s := range plan.Steps {
					k := got.Plan.Steps[i]
					steps++
					assert.Equal(t, s.Check, k.Check)
					near(s.Minutes, k.Minutes, "minutes")
					near(s.Finds, k.Finds, "finds")
					near(s.After, k.After, "after")
					assert.Equal(t, s.Cases, k.Cases)
					assert.Equal(t, s.Expect, k.Expect)
					assert.Equal(t, s.From,
						map[string]string{"": "", "method": triage.FromMethod, "own": triage.FromOwn, "sheet": triage.FromSheet}[k.From])
					if s.From != "" {
						told++
					}
					require.Len(t, k.First, len(s.First))
					require.NotNil(t, k.IfFault)
					assert.Equal(t, s.IfFault.Cause, k.IfFault.Cause)
					near(s.IfFault.P, k.IfFault.P, "if fault")
					assert.Equal(t, s.IfClear.Cause, k.IfClear.Cause)
					near(s.IfClear.P, k.IfClear.P, "if clear")
				}
				if t.Failed() {
					t.Fatalf("for %+v", e)
				}
			}
			t.Logf("%d sets of evidence, %d steps, %d of them not from cases", sets, steps, told)
			assert.Equal(t, methods != nil, told > 0)
		})
	}
}

// randomEvidence is the same evidence for both: checks by name for one, by
// number for the other.
func randomEvidence(r *rand.Rand, n *notebook.Notebook, x triage.Export) (triage.Evidence, map[string]any) {
	var e triage.Evidence
	c, other := casefile.Case{}, casefile.Case{}
	if len(n.Cases) > 0 {
		c, other = n.Cases[r.IntN(len(n.Cases))].File.Case, n.Cases[r.IntN(len(n.Cases))].File.Case
	}
	for _, s := range c.Symptoms {
		if r.IntN(4) > 0 {
			e.Symptoms = append(e.Symptoms, s)
		}
	}
	for _, s := range other.Symptoms {
		if !slices.Contains(e.Symptoms, s) && r.IntN(2) == 0 {
			e.Absent = append(e.Absent, s)
		}
	}
	e.Before = append(e.Before, other.Before...)
	if r.IntN(2) == 0 {
		e.Device = n.Devices[r.IntN(len(n.Devices))].ID
	} else if kinds := n.Terms.All(terms.Kind); r.IntN(2) == 0 {
		e.Kind = kinds[r.IntN(len(kinds))].ID
	}
	found := []map[string]any{}
	for range r.IntN(3) {
		if len(x.Checks) == 0 {
			break
		}
		k, result := r.IntN(len(x.Checks)), []string{"clear", "fault", "unsure"}[r.IntN(3)]
		if slices.ContainsFunc(e.Found, func(f triage.Finding) bool { return f.Check == x.Checks[k].Name }) {
			continue
		}
		e.Found = append(e.Found, triage.Finding{Check: x.Checks[k].Name, Result: result})
		found = append(found, map[string]any{"check": k, "result": result})
	}
	return e, map[string]any{"symptoms": e.Symptoms, "absent": e.Absent, "before": e.Before, "device": e.Device,
		"kind": e.Kind, "found": found}
}

// TestTriageInThePage taps at phone width and then works by keyboard alone; the
// numbers are the command line's, and the address holds the state.
func TestTriageInThePage(t *testing.T) {
	b := startBrowser(t)
	n := example(t)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	b.Do(t, chromedp.EmulateViewport(390, 800), chromedp.Navigate(fileURL(out, "triage.html")))
	waitFor(t, b, `document.getElementById("status").textContent.includes("tap")`)
	b.Do(t, chromedp.Click(chromedp.CSS(`[data-symptom="hum"]`)))
	waitFor(t, b, `document.querySelectorAll("#causes tr").length > 0`)
	first := func() string { return eval[string](t, b, `document.querySelector("#causes th").textContent`) }
	causes, _ := triage.New(n).Causes(triage.Evidence{Symptoms: []string{"hum"}})
	top := causes[0]
	assert.Equal(t, n.Terms.Name(terms.Fault, top.Fault)+", "+n.Terms.Name(terms.Place, top.At), first())
	assert.Equal(t, fmt.Sprintf("%.1f %%", 100*top.P), eval[string](t, b, `document.querySelector("#causes td").textContent`))
	assert.Contains(t, eval[string](t, b, `location.hash`), "has=hum")
	b.Do(t, chromedp.Click(chromedp.CSS(`[data-symptom="hum"]`))) // asked, not there
	waitFor(t, b, `location.hash.includes("absent=hum")`)
	assert.Contains(t, eval[string](t, b, `document.querySelector('[data-symptom="hum"]').textContent`), "asked, not there")
	b.Do(t, chromedp.Click(chromedp.CSS(`#anew`)))
	waitFor(t, b, `document.getElementById("answer").hidden`)

	// By keyboard: to a symptom, Space, to its first check's answer, Enter.
	_ = eval[any](t, b, `document.querySelector('[data-symptom="hum"]').focus()`)
	b.Do(t, chromedp.KeyEvent(" "))
	waitFor(t, b, `document.querySelectorAll("#checks button").length > 0`)
	for range 80 {
		if eval[bool](t, b, `document.activeElement.closest("#checks") !== null && document.activeElement.textContent === "clear"`) {
			break
		}
		b.Do(t, chromedp.KeyEvent("\t"))
	}
	b.Do(t, chromedp.KeyEvent("\r"))
	waitFor(t, b, `document.querySelectorAll("#made li").length === 1 && location.hash.includes("found=")`)
	hash := eval[string](t, b, `location.hash`)
	b.Do(t, chromedp.Navigate("about:blank"), chromedp.Navigate(fileURL(out, "triage.html"+hash)))
	waitFor(t, b, `document.querySelectorAll("#made li").length === 1`)
	for _, r := range b.Requests {
		assert.Regexp(t, "^(file:|about:)", r)
	}
	assert.Empty(t, b.Problems)
}

// TestStopOnThePage: a red flag, alone, shows what the command line says first.
func TestStopOnThePage(t *testing.T) {
	t.Parallel()
	b := startBrowser(t)
	out, n := published(t), example(t)
	b.Do(t, chromedp.Navigate(fileURL(out, "triage.html")))
	waitFor(t, b, `document.querySelectorAll("#device option").length > 1`)
	assert.True(t, eval[bool](t, b, `document.getElementById("stop").hidden`))
	assert.Contains(t, eval[string](t, b, `document.getElementById("stop").textContent`), cautions.Stop)
	ids := eval[[]string](t, b, `[...document.querySelectorAll("[data-symptom]")].map((x) => x.dataset.symptom)`)
	reds := 0
	for _, id := range ids {
		red := len(cautions.DangersOf(n, []string{id}, nil)) > 0
		shown := eval[bool](t, b, `(() => { const x = document.querySelector("[data-symptom='`+id+
			`']"); x.click(); const shown = !document.getElementById("stop").hidden; x.click(); x.click(); return shown; })()`)
		assert.Equal(t, red, shown, id)
		if red {
			reds++
		}
	}
	assert.Positive(t, reds)
}

// TestSaidAgrees says the same texts to the page's model and to the command line's, in
// English and German, with and without other evidence, and compares every cause.
func TestSaidAgrees(t *testing.T) {
	t.Parallel()
	books := map[string]*notebook.Notebook{"example": example(t)}
	if long.Run() {
		books["invented"], books["de"] = invented(t, 300, "en"), invented(t, 60, "de")
	}
	for name, n := range books {
		t.Run(name, func(t *testing.T) {
			out := filepath.Join(t.TempDir(), "site")
			publish(t, n, out)
			e := startEngine(t, out)
			m := triage.New(n)
			for _, file := range []string{"assets/infer.js", "assets/said.js", "triage/words.js"} {
				src, err := os.ReadFile(filepath.Join(out, filepath.FromSlash(file)))
				require.NoError(t, err)
				e.eval(t, "globalThis.benchloreWords = (text) => { globalThis.words = JSON.parse(text); };"+string(src))
			}
			data, err := json.Marshal(m.Export())
			require.NoError(t, err)
			e.eval(t, "globalThis.model = benchloreTriage("+string(data)+"); globalThis.said = benchloreSaid(words, rank)")
			texts := []string{"clicks, then nothing, after the storm",
				"Brummt seit dem Gewitter, die Anzeige bleibt dunkel", "smoke from the amplifier; hums!",
				"it won't turn on at all", "qwxz", "does not charge, don't know why; 4k7 at 3.3 V", "ÜBERHITZT nach 5 min"}
			for _, c := range n.Cases[:min(30, len(n.Cases))] {
				texts = append(texts, c.SectionPlain("Symptom"))
			}
			r := rand.New(rand.NewPCG(3, 4))
			compared := 0
			for _, text := range texts {
				if len(text) > 1000 || strings.TrimSpace(text) == "" {
					continue
				}
				evidence := triage.Evidence{Said: text}
				sent := map[string]any{}
				if r.IntN(2) == 0 {
					evidence, sent = randomEvidence(r, n, m.Export())
					evidence.Said = text
				}
				quoted, _ := json.Marshal(text)
				more, _ := json.Marshal(sent)
				got := run[struct {
					Causes []struct {
						Fault, At string
						P         float64
						Words     []string
					}
					Unseen float64
					Plan   []string
				}](t, e, `(async () => { const heard = await said.read(`+string(quoted)+`), x = {...`+string(more)+
					`, said: heard}, r = model.rank(x); return {unseen: r.unseen, causes: r.causes.map((c, i) => ({fault: c.fault, at: c.at, p: c.p, words: i < 6 ? heard.spoke(c.fault) : []})), plan: model.plan(x).steps.map((s) => s.check)}; })()`)
				causes, unseen := m.Causes(evidence)
				assert.InDelta(t, unseen, got.Unseen, 1e-9, text)
				require.Len(t, got.Causes, len(causes))
				for i, c := range causes {
					assert.Equal(t, []string{c.Fault, c.At}, []string{got.Causes[i].Fault, got.Causes[i].At}, text)
					assert.InDelta(t, c.P, got.Causes[i].P, 1e-9, text)
					if i < 6 {
						assert.Equal(t, append([]string{}, c.Words...), append([]string{}, got.Causes[i].Words...), text)
					}
					compared++
				}
				var plan []string
				for _, s := range m.Plan(evidence).Steps {
					plan = append(plan, s.Check)
				}
				assert.Equal(t, append([]string{}, plan...), append([]string{}, got.Plan...), text)
				if t.Failed() {
					t.Fatalf("for %q", text)
				}
			}
			t.Logf("%d causes compared", compared)
			assert.Greater(t, compared, 100)
		})
	}
}

// TestSaidInThePage types what the owner says at phone width: causes with the words that
// spoke, a stop for a red flag, the text in the address, and the method of a kind.
func TestSaidInThePage(t *testing.T) {
	b := startBrowser(t)
	n := example(t)
	out := filepath.Join(t.TempDir(), "site")
	publish(t, n, out)
	b.Do(t, chromedp.EmulateViewport(390, 800), chromedp.Navigate(fileURL(out, "triage.html")))
	waitFor(t, b, `document.querySelectorAll("#device option").length > 1`)
	b.Do(t, chromedp.SendKeys(chromedp.CSS("#said"), "the drill stops as soon as it bites"))
	waitFor(t, b, `document.querySelector("#causes th") !== null`)
	// The answer in one line is in view while symptoms are tapped, and leads to the next check.
	assert.True(t, eval[bool](t, b, `(() => { scrollTo(0, 0); const r = document.getElementById("brief").getBoundingClientRect(), first = document.querySelector("#causes th"); return r.height >= 44 && r.bottom <= innerHeight + 1 && document.getElementById("brief").textContent.startsWith(first.firstChild.textContent); })()`))
	assert.True(t, eval[bool](t, b, `(() => { document.getElementById("brief-go").click(); const r = document.querySelector("#checks > li .choose").getBoundingClientRect(); return r.top > 0 && r.bottom < innerHeight; })()`), "the next check with its answers")
	causes, _ := triage.New(n).Causes(triage.Evidence{Said: "the drill stops as soon as it bites"})
	first := eval[string](t, b, `document.querySelector("#causes th").textContent`)
	assert.Contains(t, first, n.Terms.Name(terms.Fault, causes[0].Fault)+", "+n.Terms.Name(terms.Place, causes[0].At))
	assert.Contains(t, first, "words: "+strings.Join(causes[0].Words, ", "))
	assert.Contains(t, eval[string](t, b, `location.hash`), "said=the+drill")
	assert.True(t, eval[bool](t, b, `document.getElementById("stop").hidden`))
	b.Do(t, chromedp.SendKeys(chromedp.CSS("#said"), " and there was smoke"))
	waitFor(t, b, `!document.getElementById("stop").hidden`)
	// The address alone brings it back.
	there := eval[string](t, b, `location.href`)
	b.Do(t, chromedp.Navigate("about:blank"), chromedp.Navigate(there))
	waitFor(t, b, `!document.getElementById("stop").hidden && document.querySelector("#causes th") !== null`)
	b.Do(t, chromedp.Click(chromedp.CSS("#anew")))
	waitFor(t, b, `document.getElementById("answer").hidden && document.getElementById("said").value === ""`)
	_ = eval[any](t, b, `(() => { const k = document.getElementById("kind"); k.value = "toaster"; k.dispatchEvent(new Event("change")); return null; })()`)
	_ = eval[any](t, b, `document.querySelector('[data-symptom="no-heat"]').click()`)
	waitFor(t, b, `!document.getElementById("method").hidden`)
	assert.Contains(t, eval[string](t, b, `document.getElementById("method").textContent`), "general method, no cases")
	assert.Contains(t, eval[string](t, b, `document.getElementById("method-steps").textContent`), "Protective earth")
	waitFor(t, b, `document.getElementById("checks").textContent.includes("general method, no cases")`)
	assert.Contains(t, eval[string](t, b, `document.getElementById("checks").textContent`), "Protective earth")
	assert.Contains(t, eval[string](t, b, `document.getElementById("causes").textContent`), "named by the method, no cases")
	assert.Contains(t, eval[string](t, b, `document.getElementById("status").textContent`),
		fmt.Sprintf("counts as %d cases", triage.Pseudo))
	assert.False(t, eval[bool](t, b, `document.getElementById("method").open`), "it stands among the checks already")
	assert.Zero(t, eval[float64](t, b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`),
		"the page scrolls sideways")
	assert.Empty(t, b.Problems)
	b.Shot(t, "method-phone")
}
