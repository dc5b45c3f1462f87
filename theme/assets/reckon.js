"use strict";
/* The three forms of the reckoning page. */
(() => {
  const q = benchloreQuantity;
  const get = (id) => document.getElementById(id);
  const fitted = { "fits": say("fits"), "fits-with-remark": say("fits, with a remark"), "cannot-tell": say("cannot tell"), "does-not-fit": say("does not fit") };
  const signs = { "fits": ["●", "good"], "fits-with-remark": ["◐", "care"], "cannot-tell": ["?", "plain"], "does-not-fit": ["✕", "bad"] };

  function el(tag, text, className) {
    const e = document.createElement(tag);
    if (text) e.textContent = text;
    if (className) e.className = className;
    return e;
  }
  /* Numbers as the page's language writes them; what is worked out stays as it is. */
  const comma = (1.5).toLocaleString(document.documentElement.lang || "en").includes(",");
  const local = (text) => comma ? text.replace(/(\d)\.(\d)/g, "$1,$2") : text;
  function mark(fit) {
    const m = el("span", "", "mark mark-" + signs[fit][1]);
    const s = el("span", signs[fit][0]);
    s.setAttribute("aria-hidden", "true");
    m.append(s, " " + fitted[fit]);
    return m;
  }
  function answer(id, result, draw) {
    const box = get(id);
    box.replaceChildren();
    if (result.error) box.append(el("p", say("Cannot be read: %s.", result.error)));
    else draw(box, result.answer);
  }

  // drawBands draws a resistor where words name its bands; few ask, so the script waits.
  function drawBands(box, text) {
    if (!/^[a-z]+(?:[ ,-]+[a-z]+){2,5}$/i.test(text.trim())) return;
    const show = () => { const drawn = benchloreBands(text); if (drawn) box.prepend(drawn); };
    if (globalThis.benchloreBands) { show(); return; }
    const script = document.createElement("script");
    script.src = "assets/bands.js";
    script.onload = show;
    document.head.append(script);
  }
  // withData runs then once the scripts are here that a first answer needs; they weigh more
  // than the rest of the page, and most visits need one of them.
  const here = new Set();
  function withData(box, names, then) {
    const name = names.find((x) => !here.has(x));
    if (name === undefined) { then(); return; }
    const script = document.createElement("script");
    script.src = name;
    script.onload = () => { here.add(name); withData(box, names, then); };
    script.onerror = () => get(box).replaceChildren(el("p", say("The rules are missing or damaged (%s). Publish the site again.", name)));
    document.head.append(script);
  }
  get("value-form").addEventListener("submit", (event) => {
    event.preventDefault();
    withData("value-answer", ["reckon/marks.js"], () => answer("value-answer", q.read(get("value-text").value), (box, readings) => {
      drawBands(box, get("value-text").value);
      const list = el("ol", "", "readings");
      for (const r of readings) {
        const li = el("li");
        li.append(el("strong", local(r.value + (r.tolerance ? " " + r.tolerance : ""))), " " + r.kind + ". " + r.source + (r.reason ? ": " + r.reason : "") + ".");
        for (const [name, text] of Object.entries(r.conditions || {})) {
          const size = name === "package" ? q.packageOf(text) : "";
          li.append(el("br"), name + ": " + text + (size ? ", " + size : ""));
        }
        if (r.nearest) li.append(el("br"), (r.standard ? say("Standard from %s on", r.standard) : say("Not a standard value")) + "; " + say("nearest %s.", Object.entries(r.nearest).map(([s, v]) => s + " " + v).join(", ")));
        if (r.warning) li.append(el("br"), el("strong", say("Careful:") + " "), r.warning + ".");
        list.append(li);
      }
      box.append(list);
    }));
  });

  get("swap-form").addEventListener("submit", (event) => {
    event.preventDefault();
    withData("swap-answer", ["assets/swap.js", "reckon/parts.js"], () => answer("swap-answer", benchloreSwap.swap(get("swap-old").value, get("swap-new").value), (box, r) => {
      const p = el("p");
      p.append(mark(r.verdict));
      const list = el("ul");
      for (const reason of r.reasons) {
        const li = el("li");
        li.append(mark(reason.says), ": " + reason.text);
        list.append(li);
      }
      box.append(p, list, el("p", say("Judged by what is stated. Read both data sheets."), "meta"));
    }));
  });

  const inputs = get("formula-inputs");
  function drawInputs() {
    inputs.replaceChildren();
    get("formula-answer").replaceChildren();
    if (get("formula").value === "") return;
    const f = q.formula(get("formula").value);
    for (const i of f.inputs) {
      const p = el("p");
      const label = el("label", (i.said ?? i.name) + " (" + i.key + (i.unit === "number" ? "" : say(", in %s", i.in ?? i.unit)) + (i.list ? say(", several") : "") + (i.optional ? say(", if known") : "") + ")");
      const input = el("input");
      input.id = "in-" + i.key;
      input.name = i.key;
      input.autocomplete = "off";
      label.htmlFor = input.id;
      if (i.default && i.key !== "load") input.placeholder = i.default;
      p.append(label, input);
      inputs.append(p);
    }
  }
  const withFormulas = (then) => withData("formula-answer", ["reckon/formulas.js"], then);
  get("formula").addEventListener("change", () => withFormulas(drawInputs));
  get("formula-form").addEventListener("submit", (event) => {
    event.preventDefault();
    const given = [];
    for (const i of inputs.querySelectorAll("input")) if (i.value.trim() !== "") given.push([i.name, i.value]);
    answer("formula-answer", q.reckon(get("formula").value, given), (box, r) => {
      const list = el("dl", "", "facts");
      const f = q.formula(get("formula").value);
      r.results.forEach((x, n) => {
        const d = el("div");
        d.append(el("dt", f.results.find((o) => o.name === x.name)?.said ?? x.name), el("dd", local(x.value)));
        const code = el("code", r.working[n]);
        const dd = el("dd");
        dd.append(code);
        d.append(dd);
        list.append(d);
      });
      box.append(list, el("p", say("Source: %s.", f.from ?? r.source)), el("p", say("Valid: %s", f.holds ?? r.valid)));
      for (const words of r.cautions ?? []) {
        const c = el("p", "", "caution-text");
        c.append(el("strong", say("Caution:") + " "), words === f.caution ? f.warns ?? words : q.live().said ?? words);
        box.append(c);
      }
    });
  });
  if (get("formula").value !== "") withFormulas(drawInputs); // as it was when the page was left
})();
