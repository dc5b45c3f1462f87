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
  const limit = 30;
  let index = null;
  let loading = false;

  function analyze(text) {
    const out = [];
    const word = /[\p{L}\p{Nd}\p{Mn}\u2126](?:[\p{L}\p{Nd}\p{Mn}\u2126]|['’](?=[\p{L}\p{Nd}])|(?<=\p{Nd})[.,](?=\p{Nd}))*/gu;
    for (const [found] of text.matchAll(word)) {
      const w = found.replace(/['’]/g, "").replace(/[µμ]/g, "u").replace(/[Ωω\u2126]/g, "ohm").replace(/,/g, ".").toLowerCase();
      if (/\p{Nd}/u.test(w)) out.push(w);
      else if (!stop.has(w)) out.push(benchloreStem(w));
    }
    return out.slice(0, 32);
  }

  function symptoms(words) {
    const found = new Set();
    for (let i = 0; i < words.length; i++) {
      for (let n = Math.min(6, words.length - i); n > 0; n--) {
        const id = index.phrases[words.slice(i, i + n).join(" ")];
        if (id) { found.add(id); i += n - 1; break; }
      }
    }
    return [...found];
  }

  // BM25 over weighted word counts, k1 = 1.2, b = 0.75.
  function rank(query) {
    const words = analyze(query);
    const scores = new Map();
    const n = index.cases.length;
    const add = (list, weight) => {
      const idf = Math.log(1 + (n - list.length / 2 + 0.5) / (list.length / 2 + 0.5));
      for (let i = 0; i < list.length; i += 2) {
        const f = list[i + 1];
        const norm = 1.2 * (0.25 + 0.75 * index.lengths[list[i]] / index.mean);
        scores.set(list[i], (scores.get(list[i]) || 0) + weight * idf * f * 2.2 / (f + norm));
      }
    };
    words.forEach((w, at) => {
      const list = Object.hasOwn(index.words, w) ? index.words[w] : null;
      if (list) add(list, 1);
      else if (at === words.length - 1 && w.length > 2) {
        for (const other of Object.keys(index.words)) if (other.startsWith(w)) add(index.words[other], 0.4);
      }
    });
    const meant = symptoms(words);
    for (const id of meant) {
      const list = index.symptoms[id].cases;
      const idf = Math.log(1 + (n - list.length + 0.5) / (list.length + 0.5));
      for (const i of list) scores.set(i, (scores.get(i) || 0) + 2 * idf);
    }
    const order = [...scores].sort((a, b) => b[1] - a[1] || (index.cases[b[0]].id < index.cases[a[0]].id ? -1 : 1));
    return { order, meant: meant.map((id) => index.symptoms[id].name) };
  }

  function element(tag, text, className) {
    const e = document.createElement(tag);
    if (text) e.textContent = text;
    if (className) e.className = className;
    return e;
  }

  function show() {
    const query = input.value.trim();
    results.replaceChildren();
    if (query === "") { status.textContent = ""; return; }
    if (!index) { status.textContent = "Loading the index…"; load(); return; }
    const { order, meant } = rank(query);
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
    index.mean = (index.lengths || []).reduce((a, b) => a + b, 0) / Math.max(index.cases.length, 1) || 1;
    show();
  };

  let pending = 0;
  input.addEventListener("input", () => {
    clearTimeout(pending);
    pending = setTimeout(() => { history.replaceState(null, "", "#q=" + encodeURIComponent(input.value)); show(); }, 120);
  });
  input.form.addEventListener("submit", (event) => {
    event.preventDefault();
    history.replaceState(null, "", "#q=" + encodeURIComponent(input.value));
    show();
  });
  function fromAddress() {
    const query = new URLSearchParams(location.hash.slice(1)).get("q") ?? new URLSearchParams(location.search).get("q");
    if (query !== null && query !== input.value) input.value = query;
    show();
  }
  addEventListener("hashchange", fromAddress);
  fromAddress();
})();
