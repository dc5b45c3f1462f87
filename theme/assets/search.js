"use strict";
/* The search page. Shards of the index arrive by plain script tags, the one way
   that works from a stick, and only when a query needs them. */
(() => {
  const input = document.getElementById("q");
  const status = document.getElementById("status");
  const results = document.getElementById("results");
  const offered = document.getElementById("offers");
  const more = document.getElementById("more");
  const narrow = document.getElementById("narrow");
  const selects = [...document.querySelectorAll("#narrow select")];
  const step = 10;
  let limit = step;

  // Scripts call these two with what they hold.
  const arrived = new Map();
  globalThis.benchloreShard = (name, text) => arrived.set(name, text);
  globalThis.benchloreRoot = (data) => arrived.set("root", data);
  const fetchShard = (name) => new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = "search/" + name + ".js";
    script.onload = () => { resolve(arrived.get(name)); arrived.delete(name); script.remove(); };
    script.onerror = () => { script.remove(); reject(new Error(name)); };
    document.head.append(script);
  });
  // pause lets the page draw and take keys between two pieces of work.
  const channel = new MessageChannel(), waiting = [];
  channel.port1.onmessage = () => waiting.shift()();
  const pause = () => new Promise((resolve) => { waiting.push(resolve); channel.port2.postMessage(0); });

  let opening = null;
  const open = () => opening ??= (async () => {
    const root = await fetchShard("root");
    if (!root) throw new Error("root");
    return benchloreRank(root, fetchShard, pause);
  })().catch((err) => { opening = null; throw err; });

  function element(tag, text, className) {
    const e = document.createElement(tag);
    if (text) e.textContent = text;
    if (className) e.className = className;
    return e;
  }
  // marked puts a text into an element with the found words marked.
  function marked(e, text, rank, words) {
    let at = 0;
    for (const t of rank.analyze(text)) {
      if (!words.has(t.term) || t.start < at) continue;
      e.append(text.slice(at, t.start), element("mark", text.slice(t.start, t.stop)));
      at = t.stop;
    }
    e.append(text.slice(at));
  }
  const how = { synonym: say("another word for %s"), compound: say("written apart or as one: %s"), prefix: say("begins with %s"), typo: say("a slip of %s"), near: say("near: %s") };

  function entry(rank, card, all) {
    // Filler is not worth a mark where anything else was found.
    const filler = (b) => b.how !== "symptom" && b.how !== "company" && b.words.every((w) => rank.little.has(w));
    const brought = all.some((b) => b.how !== "company" && !filler(b)) ? all.filter((b) => !filler(b)) : all;
    const [id, title, device, cause, state, sign, className, snippet] = card;
    const words = new Set(brought.filter((b) => b.how !== "company").flatMap((b) => b.words));
    const li = element("li"), a = element("a");
    a.href = "cases/" + encodeURIComponent(id) + ".html";
    a.append(element("span", id, "id"), " ");
    marked(a, title, rank, words);
    const meta = element("span", device + (cause ? " · " + cause : "") + " · ", "meta");
    const mark = element("span", "", "mark mark-" + className), signs = element("span", sign);
    signs.setAttribute("aria-hidden", "true");
    mark.append(signs, " " + state);
    meta.append(mark);
    li.append(a, meta);
    if (snippet) {
      const p = element("span", "", "snippet");
      marked(p, snippet, rank, words);
      li.append(p);
    }
    const reasons = brought.map((b) => b.how === "company" ? say("in the first cases found: %s", b.words.join(", ")) : b.how === "symptom" ? say("symptom %s", rank.symptoms[b.asked] ?? b.asked) :
      b.words.join(" ") + (how[b.how] ? " (" + how[b.how].replace("%s", () => b.asked) + ")" : ""));
    if (reasons.length > 0) li.append(element("span", say("Found by: %s", reasons.join(", ")), "why"));
    return li;
  }

  const chosen = () => Object.fromEntries(selects.filter((x) => x.value !== "").map((x) => [x.dataset.facet, x.value]));

  // fill offers in each choice what the result holds, and keeps what is chosen.
  async function fill(rank, found, filters, current) {
    for (const select of selects) {
      const name = select.dataset.facet, values = await rank.facet(name);
      if (!current()) return;
      const options = [];
      for (const [id, { label, cases }] of values) {
        let n = 0;
        for (const o of cases) n += found[o];
        if (n > 0 || filters[name] === id) options.push([id, label, n]);
      }
      options.sort((x, y) => y[2] - x[2] || (x[0] < y[0] ? -1 : 1));
      const any = element("option", say("any"));
      any.value = "";
      select.replaceChildren(any, ...options.map(([id, label, n]) => {
        const o = element("option", label + " (" + n + ")");
        o.value = id;
        return o;
      }));
      select.value = filters[name] || "";
    }
  }

  let wanted = {}; // the choices after # that the page knows
  let turn = 0;    // a newer question makes an older answer void

  async function show() {
    const mine = ++turn, current = () => mine === turn;
    const query = input.value.slice(0, 2000), filters = { ...wanted };
    const ask = document.getElementById("triage-this");
    if (query.trim() === "") ask.hidden = true;
    ask.querySelector("a").href = "triage.html#" + new URLSearchParams({ said: query.trim() });
    const nothing = query.trim() === "" && Object.keys(filters).length === 0 && !narrow.open;
    document.getElementById("unasked").hidden = !nothing;
    if (nothing) {
      results.replaceChildren();
      offered.replaceChildren();
      status.textContent = "";
      more.hidden = true;
      return;
    }
    try {
      const rank = await open();
      const answer = await rank.find(query, filters, limit);
      if (!current()) return;
      const cards = await Promise.all(answer.best.map(([o]) => rank.card(o)));
      const near = answer.total === 0 ? await rank.nearest(answer.tokens) : [];
      const offers = await rank.offers(query), kind = await kindOf(rank, query, filters, answer.found);
      if (!current()) return;
      const entries = [];
      for (const [i, [o]] of answer.best.entries()) {
        await pause();
        entries.push(entry(rank, cards[i], answer.why.get(o)));
      }
      if (!current()) return;
      results.replaceChildren(...entries);
      ask.hidden = query.trim() === "";
      const means = answer.meant.length ? " " + say("Read as: %s.", answer.meant.map((id) => rank.symptoms[id] ?? id).join(", ")) : "";
      status.textContent = (answer.total === 0 ? say("Nothing found.") + " " + (near.length ? say("Known words near it: %s.", near.join(", ")) : say("Try fewer or other words.")) :
        !answer.close ? say("Nothing here is close. These share a word:") : answer.total === 1 ? say("1 case.") : answer.total > limit ? say("%s cases, the best %s shown.", answer.total, limit) : say("%s cases.", answer.total)) + means;
      more.hidden = answer.total <= limit;
      offered.replaceChildren(...(kind ? [onlyKind(...kind)] : []), ...[...near, ...offers].slice(0, 6).map(offer));
      offered.hidden = offered.children.length === 0;
      if (narrow.open || Object.keys(filters).length > 0) await fill(rank, answer.found, filters, current);
    } catch (err) {
      if (!current()) return;
      results.replaceChildren();
      more.hidden = true;
      status.textContent = say("Part of the search index is missing, damaged or from another publish (%s). Publish the site again.", "search/" + err.message + ".js");
    }
  }
  // kindOf gives id and name of the kind that the words say, where a case found is of it.
  async function kindOf(rank, query, filters, found) {
    if (query.trim() === "" || filters.kind || filters.device) return null;
    const values = await rank.facet("kind");
    for (const id of await rank.kindSaid(query)) {
      const value = values.get(id);
      if (value && value.cases.some((o) => found[o])) return [id, value.label];
    }
    return null;
  }
  // onlyKind is a button that narrows to the kind that was read; nothing narrows by itself.
  function onlyKind(id, label) {
    const li = element("li"), b = element("button", say("Read as: %s. Only these", label));
    b.type = "button";
    b.addEventListener("click", () => { wanted = { ...wanted, kind: id }; narrow.open = true; remember(); });
    li.append(b);
    return li;
  }
  // offer is a button that puts a known word in the place of the last one typed.
  function offer(word) {
    const li = element("li"), b = element("button", word);
    b.type = "button";
    b.addEventListener("click", () => {
      input.value = input.value.replace(/[\p{L}\p{Nd}]*$/u, "") + word;
      input.focus();
      remember();
    });
    li.append(b);
    return li;
  }

  // benchloreFind answers with ids and scores, for whoever wants to compare.
  globalThis.benchloreFind = async (query, filters = {}) => {
    const rank = await open();
    const { total, best, close } = await rank.find(query, filters, 10);
    return { total, close, hits: await Promise.all(best.map(async ([o, score]) => [(await rank.card(o))[0], score])) };
  };

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
  narrow.addEventListener("toggle", () => { if (narrow.open) show(); });
  more.addEventListener("click", async () => {
    const before = limit;
    limit += 2 * step;
    await show();
    results.children[before]?.querySelector("a").focus();
  });

  // remember keeps the state in the address, so that it can be kept or sent.
  function remember() {
    limit = step;
    const state = new URLSearchParams({ q: input.value, ...wanted });
    history.replaceState(null, "", "#" + state);
    show();
  }
  function fromAddress() {
    const hash = new URLSearchParams(location.hash.slice(1));
    const query = hash.get("q") ?? new URLSearchParams(location.search).get("q");
    wanted = Object.fromEntries(selects.map((x) => [x.dataset.facet, hash.get(x.dataset.facet) || ""]).filter(([, v]) => v !== ""));
    if (Object.keys(wanted).length > 0) narrow.open = true;
    if (query !== null && query !== input.value) input.value = query;
    show();
  }
  addEventListener("hashchange", fromAddress);
  fromAddress();
})();
