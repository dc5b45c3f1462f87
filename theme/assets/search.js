"use strict";
/* Searches the notebook in the page. The index arrives by a plain script tag,
   the one way that works from a stick, and only when somebody searches. */
(() => {
  const input = document.getElementById("q");
  const status = document.getElementById("status");
  const results = document.getElementById("results");
  const stop = new Set(("a an and are as at be been but by do does did for from had has have he her his i if in into is it " +
    "its my of or our she so than that the their them then there these they this to was we were what when which while " +
    "who will with you your").split(" "));
  const selects = [...document.querySelectorAll("#narrow select")];
  const limit = 30;
  let index = null;
  let loading = false;

  // analyze cuts a text into terms with their places, as the index was made.
  function analyze(text) {
    const out = [];
    const word = /[\p{L}\p{Nd}\p{Mn}\u2126](?:[\p{L}\p{Nd}\p{Mn}\u2126]|['’]|(?<=\p{Nd}['’]*)[.,](?=\p{Nd}))*/gu;
    for (const m of text.matchAll(word)) {
      const w = m[0].replace(/['’]/g, "").replace(/[µμ]/g, "u").replace(/[Ωω\u2126]/g, "ohm").replace(/,/g, ".").toLowerCase();
      let term = w;
      if (!/\p{Nd}/u.test(w)) {
        if (stop.has(w)) continue;
        term = stem(w);
      }
      if (term === "" || bytes(term) > 64) continue;
      const start = m.index, end = m.index + m[0].length;
      for (const t of splitValue(term)) out.push({ term: t, start, stop: end });
    }
    return out;
  }
  // splitValue parts 4k7, 4.7k and 4.7kohm into number and unit.
  function splitValue(w) {
    const m = /^([0-9]+(?:\.[0-9]+)?)([a-z]+)([0-9]{0,3})$/.exec(w);
    if (!m || !Object.hasOwn(index.valueUnits, m[2])) return [w];
    if (m[3] === "") return [m[1], index.valueUnits[m[2]]];
    return m[2].length === 1 && !m[1].includes(".") ? [m[1] + "." + m[3], index.valueUnits[m[2]]] : [w];
  }
  const bytes = (s) => new TextEncoder().encode(s).length;
  const stem = (w) => bytes(w) < 3 || bytes(w) > 40 ? w : benchloreStem(w);

  // recognise finds the symptoms that the words mean, the longest phrase first.
  function recognise(text) {
    const table = index.recognise;
    const tokens = [];
    let first = true;
    const letter = /[\p{L}\p{Nd}]/u, inner = /[\p{L}\p{Nd}\p{Mn}]/u;
    const chars = [...text];
    let at = 0;
    for (let i = 0; i < chars.length;) {
      if (!letter.test(chars[i])) {
        if (".,;:!?()[]\n|\"".includes(chars[i])) first = true;
        at += chars[i].length;
        i++;
        continue;
      }
      const start = at;
      let w = "";
      while (i < chars.length && ("'’`´".includes(chars[i]) || inner.test(chars[i]))) {
        if (!"'’`´".includes(chars[i])) w += chars[i].toLowerCase();
        at += chars[i].length;
        i++;
      }
      const before = tokens[tokens.length - 1];
      if (index.negative.has(w)) w = "not";
      else if (w === "to" && before && !first && (before.stem === "fail" || before.stem === "refus")) { before.stem = "not"; continue; }
      else if (index.filler.has(w)) continue;
      else w = stem(w);
      tokens.push({ stem: w, start, stop: at, first });
      first = false;
    }
    const found = [];
    for (let i = 0; i < tokens.length;) {
      let best = 0, id = null, key = "";
      for (let n = 1; n <= table.longest && i + n <= tokens.length; n++) {
        if (n > 1) {
          if (tokens[i + n - 1].first) break;
          key += " ";
        }
        key += tokens[i + n - 1].stem;
        if (Object.hasOwn(table.phrases, key)) { best = n; id = table.phrases[key]; }
      }
      if (id === null) { i++; continue; }
      const negated = i > 0 && !tokens[i].first && (tokens[i - 1].stem === "not" || tokens[i - 1].stem === "no");
      if (!negated) found.push({ id, start: tokens[i].start, stop: tokens[i + best - 1].stop });
      i += best;
    }
    return found;
  }

  // oneSlip reports whether two words differ by one letter too many, too few or wrong, or by two swapped.
  function oneSlip(a, b) {
    const x = [...a], y = [...b];
    let head = 0;
    while (head < x.length && head < y.length && x[head] === y[head]) head++;
    let tail = 0;
    while (tail < x.length - head && tail < y.length - head && x[x.length - 1 - tail] === y[y.length - 1 - tail]) tail++;
    const m = x.length - head - tail, n = y.length - head - tail;
    if (m === 2 && n === 2) return x[head] === y[head + 1] && x[head + 1] === y[head];
    return m + n > 0 && m <= 1 && n <= 1;
  }

  function expand(word, last) {
    if (Object.hasOwn(index.words, word)) return [{ word, weight: 1 }];
    const out = [], size = [...word].length, digits = /\p{Nd}/u.test(word), r = index.ranking;
    for (const w of index.sorted) {
      if (last && size >= 3 && w.startsWith(word)) out.push({ word: w, weight: r.prefix });
      else if (size >= 5 && !digits && Math.abs([...w].length - size) <= 1 && oneSlip(word, w)) out.push({ word: w, weight: r.typo });
      if (out.length === 50) break;
    }
    return out;
  }

  const passes = (c, filters) => index.facets.every((f, i) => !filters[f] || c.values[i].includes(filters[f]));

  // rank is the formula of the command line's search package, step for step.
  function rank(query, filters) {
    const tokens = analyze(query).slice(0, 32);
    const phrases = recognise(query);
    const meant = [...new Set(phrases.map((p) => p.id))];
    const { k1, b, inPhrase, symptom } = index.ranking;
    const n = index.cases.length;
    const scores = new Map();
    const add = (i, s) => scores.set(i, (scores.get(i) || 0) + s);
    const seen = new Set();
    tokens.forEach((t, at) => {
      if (seen.has(t.term)) return;
      seen.add(t.term);
      const share = phrases.some((p) => t.start >= p.start && t.stop <= p.stop) ? inPhrase : 1;
      for (const { word, weight } of expand(t.term, at === tokens.length - 1)) {
        const list = index.words[word], df = list.length / 2;
        const idf = Math.log(1 + (n - df + 0.5) / (df + 0.5));
        for (let i = 0; i < list.length; i += 2) {
          const f = list[i + 1];
          add(list[i], share * weight * idf * f * (k1 + 1) / (f + k1 * (1 - b + b * index.lengths[list[i]] / index.mean)));
        }
      }
    });
    for (const id of meant) {
      const list = index.symptoms[id] ? index.symptoms[id].cases : [];
      const score = symptom * Math.log(1 + (n - list.length + 0.5) / (list.length + 0.5));
      for (const i of list) add(i, score);
    }
    if (tokens.length === 0 && meant.length === 0 && query.trim() === "") index.cases.forEach((_, i) => add(i, 0));
    const order = [...scores].filter(([i]) => passes(index.cases[i], filters)).sort((x, y) => y[1] - x[1] || (index.cases[y[0]].id < index.cases[x[0]].id ? -1 : 1));
    return { order, meant: meant.filter((id) => index.symptoms[id]).map((id) => index.symptoms[id].name) };
  }

  function element(tag, text, className) {
    const e = document.createElement(tag);
    if (text) e.textContent = text;
    if (className) e.className = className;
    return e;
  }

  const chosen = () => Object.fromEntries(selects.filter((x) => x.value !== "").map((x) => [x.dataset.facet, x.value]));

  // offer fills each choice with what the result holds, and keeps what is chosen.
  function offer(order, filters) {
    for (const select of selects) {
      const facet = select.dataset.facet, at = index.facets.indexOf(facet), counts = new Map();
      for (const [i] of order) for (const id of index.cases[i].values[at]) counts.set(id, (counts.get(id) || 0) + 1);
      if (filters[facet] && !counts.has(filters[facet])) counts.set(filters[facet], 0);
      const options = [...counts].sort((x, y) => y[1] - x[1] || (x[0] < y[0] ? -1 : 1)).map(([id, n]) => {
        const o = element("option", (index.labels[facet]?.[id] ?? id) + " (" + n + ")");
        o.value = id;
        return o;
      });
      const any = element("option", "any");
      any.value = "";
      select.replaceChildren(any, ...options);
      select.value = filters[facet] || "";
    }
  }

  // filtersFromAddress are the choices after # that the page knows.
  let wanted = {};

  function show() {
    const query = input.value.trim();
    results.replaceChildren();
    const filters = index ? { ...wanted } : wanted;
    if (query === "" && Object.keys(filters).length === 0) { status.textContent = ""; if (index) offer([], {}); return; }
    if (!index) { status.textContent = "Loading the index…"; load(); return; }
    const { order, meant } = rank(query, filters);
    offer(order, filters);
    const means = meant.length ? " Read as: " + meant.join(", ") + "." : "";
    status.textContent = order.length === 0 ? "Nothing found. Try fewer or other words." :
      (order.length === 1 ? "1 case." : order.length + " cases" + (order.length > limit ? ", the best " + limit + " shown." : ".")) + means;
    for (const [at] of order.slice(0, limit)) {
      const c = index.cases[at];
      const li = element("li");
      const a = element("a");
      a.href = "cases/" + encodeURIComponent(c.id) + ".html";
      a.append(element("span", c.id, "id"), " " + c.title);
      const meta = element("span", c.device + (c.cause ? " · " + c.cause : "") + " · ", "meta");
      const mark = element("span", "", "mark mark-" + c.class);
      const sign = element("span", c.sign);
      sign.setAttribute("aria-hidden", "true");
      mark.append(sign, " " + c.state);
      meta.append(mark);
      li.append(a, meta);
      results.append(li);
    }
  }

  function load() {
    if (loading) return;
    loading = true;
    const script = document.createElement("script");
    script.src = "search/index.js";
    script.onerror = () => { status.textContent = "The search index is missing or damaged. Publish the site again."; };
    document.head.append(script);
  }

  globalThis.benchloreIndex = (text) => {
    index = JSON.parse(text);
    index.cases = index.cases || [];
    index.lengths = index.lengths || [];
    index.filler = new Set(index.recognise.filler);
    index.negative = new Set(index.recognise.negative);
    index.sorted = Object.keys(index.words).sort();
    index.mean = (index.lengths || []).reduce((a, b) => a + b, 0) / Math.max(index.cases.length, 1) || 1;
    show();
  };

  // benchloreFind answers with ids and scores, for whoever wants to compare.
  globalThis.benchloreFind = (query, filters = {}) => rank(query, filters).order.map(([at, score]) => [index.cases[at].id, score]);

  let pending = 0;
  input.addEventListener("input", () => {
    clearTimeout(pending);
    pending = setTimeout(remember, 120);
  });
  input.form.addEventListener("submit", (event) => {
    event.preventDefault();
    remember();
  });
  for (const select of selects) select.addEventListener("change", () => { wanted = chosen(); remember(); });

  // remember keeps the state in the address, so that it can be kept or sent.
  function remember() {
    const state = new URLSearchParams({ q: input.value, ...wanted });
    history.replaceState(null, "", "#" + state);
    show();
  }
  function fromAddress() {
    const hash = new URLSearchParams(location.hash.slice(1));
    const query = hash.get("q") ?? new URLSearchParams(location.search).get("q");
    wanted = Object.fromEntries(selects.map((x) => [x.dataset.facet, hash.get(x.dataset.facet) || ""]).filter(([, v]) => v !== ""));
    if (Object.keys(wanted).length > 0) document.getElementById("narrow").open = true;
    if (query !== null && query !== input.value) input.value = query;
    show();
  }
  addEventListener("hashchange", fromAddress);
  fromAddress();
})();
