"use strict";
/* The triage page: what was seen is tapped, what it probably is and what to check
   first is shown beside it, and the state stands in the address. */
(() => {
  const byID = (id) => document.getElementById(id);
  const status = byID("status"), device = byID("device"), causesAt = byID("causes"), checksAt = byID("checks"), madeAt = byID("made");
  const cautions = byID("cautions"), find = byID("find"), kindAt = byID("kind");
  const signs = [...document.querySelectorAll("[data-symptom]")], events = [...document.querySelectorAll("[data-before]")];
  const words = { "": say("not asked"), has: say("it has this"), absent: say("asked, not there") }, shapes = { "": "○", has: "●", absent: "✕" };
  const results = ["clear", "fault", "unsure"], said = { clear: say("clear"), fault: say("fault"), unsure: say("unsure") };
  const from = { method: say("general method, no cases"), own: say("this workshop’s method, no cases"), sheet: say("reference reading of the device") };
  const shownChecks = 8, wide = matchMedia("(min-width: 70rem)");
  let model = null, data = null, state = null;

  const element = (tag, text, className) => {
    const e = document.createElement(tag);
    if (text) e.textContent = text;
    if (className) e.className = className;
    return e;
  };
  const language = document.documentElement.lang, decimals = (n) => ({ minimumFractionDigits: n, maximumFractionDigits: n, useGrouping: false });
  const percent = (x) => (100 * x).toLocaleString(language, decimals(x < 0.1 ? 1 : 0)) + " %";
  const links = (ids) => {
    const span = element("span", "", "meta");
    ids.slice(0, 4).forEach((id, i) => {
      const a = element("a", id);
      a.href = "cases/" + encodeURIComponent(id) + ".html";
      span.append(i ? ", " : "", a);
    });
    if (ids.length > 4) span.append(" " + say("and %s more", ids.length - 4));
    return span;
  };

  // The words of a text are weighed by scripts that are fetched when the first is said.
  const box = byID("said");
  const arrived = new Map();
  globalThis.benchloreShard = (name, text) => arrived.set("search/" + name, text);
  globalThis.benchloreRoot = (root) => arrived.set("search/root", root);
  globalThis.benchloreWords = (text) => arrived.set("triage/words", text);
  const fetched = (name) => new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = name + ".js";
    script.onload = () => { script.remove(); resolve(arrived.get(name)); };
    script.onerror = () => { script.remove(); reject(new Error(name)); };
    document.head.append(script);
  });
  let listening = null;
  const listen = () => listening ??= (async () => {
    await Promise.all(["assets/stem", "assets/read", "assets/rank", "assets/said"].map(fetched));
    const [root, words] = await Promise.all([fetched("search/root"), fetched("triage/words")]);
    return benchloreSaid(JSON.parse(words), benchloreRank(root, (name) => fetched("search/" + name)));
  })().catch((err) => { listening = null; throw err; });
  let methods = null, taught = null, teaching = false; // fetched when something is first asked
  globalThis.benchloreMethods = (text) => {
    const x = JSON.parse(text);
    methods = x.methods;
    taught = x;
    data.calls.push(...x.calls);
    for (const key of ["faults", "places"]) data[key] = { ...x[key], ...data[key] };
    model = benchloreTriage(data.model, "", x.starter);
  };
  // ready shows the page once what it lays out is there.
  const ready = () => { delete byID("sides").dataset.waiting; };
  const teach = async (then) => {
    if (teaching) return;
    teaching = true;
    await fetched("triage/methods").then(then, () => { ready(); status.textContent = say("A part of the page is missing or damaged (%s). Publish the site again.", "triage/methods.js"); });
  };
  /** @type {null | { top: any, check: string, result: string }} */
  let before = null; // the first cause before the last answer
  let heard = null, turn = 0; // what the words say; a newer text makes an older answer void
  async function hear() {
    const mine = ++turn, text = state.said;
    heard = null;
    if (text.trim() !== "") {
      try {
        const read = await (await listen()).read(text);
        if (mine !== turn) return;
        heard = read;
      } catch (err) {
        if (mine !== turn) return;
        show();
        ready();
        status.textContent = say("A part of the page is missing or damaged (%s). Publish the site again.", err.message + ".js");
        return;
      }
    }
    show();
  }

  globalThis.benchloreModel = (text) => {
    data = JSON.parse(text);
    model = benchloreTriage(data.model);
    for (const [id, d] of Object.entries(data.devices)) {
      const o = element("option", d.name);
      o.value = id;
      device.append(o);
    }
    if (location.hash.length > 1) teach(fromAddress); // which may name a check of a method
    else fromAddress();
  };

  function fromAddress() {
    const hash = new URLSearchParams(location.hash.slice(1));
    const list = (key) => (hash.get(key) ?? "").split(",").filter(Boolean);
    state = { symptoms: list("has"), absent: list("absent"), before: list("before"), device: hash.get("device") ?? "", kind: hash.get("kind") ?? "", found: [], said: (hash.get("said") ?? (location.hash.length > 1 ? "" : new URLSearchParams(location.search).get("q") ?? "")).slice(0, 2000) };
    if (!data.devices[state.device]) state.device = "";
    for (const item of hash.getAll("found")) {
      const at = item.lastIndexOf("="), check = model.checks.findIndex((k) => k.key === item.slice(0, at));
      if (check >= 0 && results.includes(item.slice(at + 1))) state.found.push({ check, result: item.slice(at + 1) });
    }
    if (![...kindAt.options].some((o) => o.value === state.kind)) state.kind = "";
    device.value = state.device;
    kindAt.value = state.kind;
    if (box.value !== state.said) box.value = state.said;
    if (!wide.matches && (state.said || state.symptoms.length > 0)) byID("signs").open = false; // the answer is what was asked for
    hear();
  }
  function keep() {
    const hash = new URLSearchParams();
    for (const [key, list] of [["has", state.symptoms], ["absent", state.absent], ["before", state.before]]) if (list.length > 0) hash.set(key, list.join(","));
    if (state.said) hash.set("said", state.said);
    if (state.device) hash.set("device", state.device);
    if (state.kind) hash.set("kind", state.kind);
    for (const f of state.found) hash.append("found", model.checks[f.check].key + "=" + f.result);
    history.replaceState(null, "", "#" + hash);
  }
  function remember() {
    keep();
    show();
  }

  function mark(button, value) {
    button.dataset.state = value;
    button.setAttribute("aria-pressed", value === "" ? "false" : "true");
    button.querySelector(".shape").textContent = shapes[value];
    button.querySelector(".said").textContent = ", " + words[value];
  }
  function show() {
    for (const b of signs) mark(b, state.symptoms.includes(b.dataset.symptom) ? "has" : state.absent.includes(b.dataset.symptom) ? "absent" : "");
    for (const b of events) mark(b, state.before.includes(b.dataset.before) ? "has" : "");
    const chips = [...signs.filter((b) => b.getAttribute("aria-pressed") === "true"), ...events.filter((b) => b.getAttribute("aria-pressed") === "true")].map((b) => {
      const c = element("button", (state.absent.includes(b.dataset.symptom) ? shapes.absent : shapes.has) + " " + b.textContent.replace(/^\S+ /, "").replace(/,[^,]*$/, "") + " ×");
      c.type = "button";
      c.setAttribute("aria-label", say("Take out %s", b.textContent.replace(/^\S+ /, "")));
      c.addEventListener("click", () => {
        for (const list of ["symptoms", "absent", "before"]) state[list] = state[list].filter((id) => id !== (b.dataset.symptom ?? b.dataset.before));
        remember();
        box.focus();
      });
      return c;
    });
    byID("chosen").replaceChildren(...chips);
    byID("chosen").hidden = chips.length === 0;
    // What is not chosen is taken from the words, and shown with a way to change it.
    const spoken = state.device === "" && state.kind === "", deviceNow = state.device || (spoken ? heard?.device : "") || "", about = data.devices[deviceNow];
    const asked = state.symptoms.length + state.before.length + state.found.length > 0 || state.device !== "" || state.kind !== "" || heard !== null;
    const kind = data.model.kinds[deviceNow] || state.kind || (spoken ? heard?.kind : "") || "", evidence = { ...state, kind, said: heard };
    const plan = asked ? model.plan(evidence) : { steps: [], dangers: [], withheld: 0 };
    if (asked && methods === null) teach(show);
    const general = methods === null ? null : methods[taught.ways[kind]] ?? methods.find((m) => !m.kinds?.length);
    // What stands before everything: the dangers, what is first and looked at first at each,
    // and the cautions of device or kind, method, dangers and checks.
    const stops = plan.dangers.map((id) => taught?.stops[id]).filter(Boolean), looks = stops.filter((d, i) => d.look && stops.findIndex((o) => o.look === d.look) === i);
    byID("stop").hidden = plan.dangers.length === 0;
    byID("dangers").replaceChildren(...stops.map((d) => {
      const li = element("li");
      const steps = element("ol");
      steps.append(...d.first.map((text) => element("li", text)));
      li.append(element("strong", d.name + "."), steps);
      return li;
    }));
    byID("dangers").hidden = stops.length === 0;
    byID("look-list").replaceChildren(...looks.map((d) => {
      const li = element("li", "");
      li.append(element("strong", d.look), " " + say("A good one: %s.", d.good));
      return li;
    }));
    byID("looks").hidden = looks.length === 0;
    const kinds = deviceNow === "" && asked ? [kind, ...(spoken && heard?.as ? [heard.as] : [])] : [];
    const called = new Set([...(about?.hazards ?? []), ...kinds.flatMap((id) => taught?.kinds[id] ?? []), ...(asked ? general?.hazards ?? [] : []),
      ...stops.flatMap((d) => d.hazards ?? []), ...plan.steps.flatMap((s) => data.calls[s.id])]);
    const ranked = model.rank(evidence), own = ranked.basis.kind;
    showMethod(asked && general ? general : null, own < data.enough && !model.hasMethod(evidence), plan.dangers.length > 0);
    byID("withheld").hidden = plan.withheld === 0;
    if (plan.withheld > 0) byID("withheld").textContent = say("%s more checks are withheld, as they need power or are not known to need none: only after %s.", plan.withheld, looks.map((d) => d.until).join("; "));
    cautions.replaceChildren(...(taught?.order ?? []).filter((id) => called.has(id)).map((id) => {
      const h = taught.hazards[id], li = element("li"), strong = element("strong"), a = element("a", h.name);
      a.href = h.href;
      strong.append(a, ".");
      li.append(strong, " " + h.text);
      return li;
    }), ...(about?.risks ?? []).map((r) => {
      const li = element("li", say("Opening one did this before: %s", r.what) + " ");
      li.append(links([r.case]));
      return li;
    }));
    const refer = asked ? general?.refer ?? "" : "";
    byID("refer").hidden = refer === "";
    byID("refer").textContent = refer === "" ? "" : say("Not here: %s", refer);
    byID("before-you-begin").hidden = cautions.children.length === 0 && refer === "";
    madeAt.replaceChildren(...state.found.map((f, i) => {
      const li = element("li", model.checks[f.check].name + ": " + said[f.result] + " ");
      const b = element("button", say("take back"));
      b.type = "button";
      b.setAttribute("aria-label", say("take back: %s", model.checks[f.check].name));
      b.addEventListener("click", () => { state.found.splice(i, 1); remember(); status.focus(); });
      li.append(b);
      return li;
    }));
    sayKind();
    byID("made-title").hidden = state.found.length === 0;
    byID("answer").hidden = !asked;
    byID("brief").hidden = true;
    if (!asked || methods !== null) ready();
    if (!asked) { status.textContent = say("Say or tap what it does, or choose the device."); return; }
    const b = ranked.basis, few = data.model.limits.fewCases;
    status.textContent = b.all < few && b.closed > b.all ? say("Too few cases: of %s closed ones %s say their cause.", b.closed, b.all) :
      b.all < few ? say("Too few cases: the notebook has %s closed ones.", b.all) :
      b.device >= few ? say("Rests on %s closed cases of this model, %s of its kind, %s in all.", b.device, b.kind, b.all) :
      b.kind >= few ? say("Too few cases of this model (%s): rests on %s closed cases of its kind, %s in all.", b.device, b.kind, b.all) :
      say("Too few cases of this model (%s) and of its kind (%s): rests on all %s closed cases.", b.device, b.kind, b.all);
    const t = b.theirs, tenths = (n) => n.toLocaleString(language, decimals(1));
    if (t.all > 0) status.textContent += " " + say("Of other workshops %s of this model, %s of its kind, %s in all, which count as %s, %s and %s.", t.device, t.kind, t.all, tenths(t.weight.device), tenths(t.weight.kind), tenths(t.weight.all));
    if (model.hasMethod(evidence)) status.textContent += " " + say("The method for its kind counts as %s cases.", model.pseudo);
    causesAt.replaceChildren(...ranked.causes.slice(0, 6).map((c) => {
      const tr = element("tr"), name = element("th", data.faults[c.fault] + ", " + data.places[c.at]), spoke = heard?.spoke(c.fault) ?? [];
      name.scope = "row";
      if (spoke.length > 0) name.append(element("span", " " + say("words: %s", spoke.join(", ")), "meta"));
      const cases = element("td");
      cases.append(c.general ? element("span", say("named by the method, no cases"), "meta") : links(c.cases));
      tr.append(name, element("td", percent(c.p), "num"), range(c), cases);
      const heads = [...causesAt.closest("table").tHead.rows[0].cells];
      [...tr.cells].forEach((cell, i) => { if (i > 0) cell.dataset.label = heads[i].textContent; });
      return tr;
    }));
    byID("unseen").textContent = say("%s for a cause that no case had yet. The ranges hold nine times in ten, if the cases are typical.", percent(ranked.unseen));
    const top = ranked.causes[0], next = plan.steps[0];
    // What the last answer did to the first cause: the same one, or another in its place.
    const last = state.found.at(-1), changed = before !== null && last !== undefined && model.checks[last.check].name === before.check && last.result === before.result && before.top && top;
    const name = (t) => data.faults[t.fault] + ", " + data.places[t.at], share = (t) => percent(ranked.causes.find((x) => x.fault === t.fault && x.at === t.at)?.p ?? 0);
    byID("changed").hidden = !changed;
    if (changed) byID("changed").textContent = say("%s: %s.", before.check, said[before.result]) + " " + (before.top.fault === top.fault && before.top.at === top.at
      ? say("%s goes from %s to %s.", name(top), percent(before.top.p), percent(top.p))
      : say("%s falls from %s to %s; %s is first now with %s.", name(before.top), percent(before.top.p), share(before.top), name(top), percent(top.p)));
    byID("brief").hidden = !top;
    byID("brief-go").textContent = stops.length > 0 ? say("Stop") + ": " + stops.map((d) => d.name).join(", ") : top ? data.faults[top.fault] + ", " + data.places[top.at] + " " + percent(top.p) + (next ? " · " + say("Next check: %s", next.check) : "") : "";
    byID("minutes").textContent = plan.steps.length === 0 ? kind === "" ? say("Checks are offered when it is known what it is: choose the device or its kind.") : say("No case knows a check that would tell more.") :
      say("%s min expected until it is found, if it is a known cause. Commonest cause first %s min, cheapest check first %s min, any order %s min.",
        plan.expected.toFixed(0), plan.commonestFirst.toFixed(0), plan.cheapestFirst.toFixed(0), plan.random.toFixed(0));
    checksAt.replaceChildren(...plan.steps.slice(0, b.all + t.all === 0 ? plan.steps.length : shownChecks).map((s, i) => {
      const li = element("li", "", i === 0 ? "now" : "");
      for (const f of s.first) li.append(element("p", say("First: %s, since %s.", f.check, f.why), "first"));
      li.append(element("strong", s.check));
      li.append(element("span", " " + say("%s min, shows it in %s; when clear, %s min to go", s.minutes.toFixed(0), percent(s.finds), s.after.toFixed(0)) + " ", "meta"), s.from === "" ? links(s.cases) : element("span", "(" + from[s.from] + ")", "meta"));
      if (s.expect) li.append(element("p", say("A good one: %s.", s.expect)));
      if (s.on.length > 0) li.append(element("p", say("Made on: %s.", s.on.slice(0, 2).map((id) => data.devices[id]?.name ?? id).join(", ")), "meta"));
      const would = element("details"), most = (t) => t ? data.faults[t.fault] + ", " + data.places[t.at] + " (" + percent(t.p) + ")" : say("none known");
      would.append(element("summary", say("What it would change")), element("p", say("If it shows the fault: most probably %s.", most(s.ifFault))), element("p", say("If it is clear: most probably %s.", most(s.ifClear))));
      const row = element("p", "", "choose");
      for (const result of results) {
        const b = element("button", said[result]);
        b.type = "button";
        b.setAttribute("aria-label", s.check + ": " + said[result]);
        b.addEventListener("click", () => { before = { top, check: s.check, result }; state.found.push({ check: s.id, result }); remember(); status.focus(); });
        row.append(b);
      }
      if (i === 0) { li.append(row, would); return li; }
      const later = element("details", "", "later");
      later.append(element("summary", say("Do this one now")), row, would);
      li.append(later);
      return li;
    }));
  }

  // sayKind says which device or kind the words were read as, with a way to another.
  function sayKind() {
    const at = byID("kind-offer"), option = (select, value) => [...select.options].find((o) => o.value === value)?.textContent;
    at.hidden = true;
    if (state.device !== "" || state.kind !== "") return;
    const perhaps = heard?.device || heard?.kind ? null : heard?.perhaps, named = perhaps && option(kindAt, perhaps.id);
    if (named) { // inferred, and nothing is decided by it until somebody says so
      const yes = element("button", say("Yes, it is"));
      yes.type = "button";
      yes.addEventListener("click", () => { state.kind = kindAt.value = perhaps.id; remember(); status.focus(); });
      at.replaceChildren(say("Perhaps this kind: %s (%s).", named, percent(perhaps.p)) + " ", yes);
      at.hidden = false;
    }
    if (!heard?.kind && !heard?.device) return;
    const b = element("button", say("Choose another"));
    b.type = "button";
    b.addEventListener("click", () => { (heard.device ? device : kindAt).focus(); });
    at.replaceChildren(say("Read as: %s", option(device, heard.device || "\u0000") ?? option(kindAt, heard.kind) ?? heard.kind) + " ", b);
    at.hidden = false;
  }
  // range draws a probability with the range that holds it, and says it too.
  function range(c) {
    const td = element("td", "", "num"), at = (tag, attributes) => { const e = document.createElementNS("http://www.w3.org/2000/svg", tag); for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v); return e; };
    const svg = at("svg", { class: "range", viewBox: "0 0 100 10", "aria-hidden": "true", preserveAspectRatio: "none" }), [low, high] = c.interval.map((x) => 100 * x);
    svg.append(at("rect", { class: "range-all", width: 100, height: 10 }), at("rect", { class: "range-p", width: 100 * c.p, height: 10 }), at("path", { d: `M${low} 1V9M${low} 5H${high}M${high} 1V9` }));
    td.append(svg, element("span", say("%s to %s", percent(c.interval[0]), percent(c.interval[1])), "meta"));
    return td;
  }
  // showMethod gives a bench's order of checks for a sort of device.
  function showMethod(m, open, stop) {
    const at = byID("method");
    at.hidden = m === null;
    if (m === null) return;
    at.open = open;
    byID("method-name").textContent = m.name + " (" + (m.own ? say("this workshop’s method, no cases") : say("general method, no cases")) + ")";
    byID("method-steps").replaceChildren(...m.steps.filter((s) => !stop || s.power === "off").map((s) => {
      const li = element("li");
      li.append(element("strong", s.check), element("span", " " + say("%s min", s.minutes), "meta"), element("p", say("A good one: %s.", s.expect)));
      if (s.finds?.length) li.append(element("p", say("Finds: %s.", s.finds.join(", ")), "meta"));
      return li;
    }));
  }

  byID("brief-go").addEventListener("click", () => {
    const next = byID("stop").hidden ? document.querySelector("#checks > li") ?? byID("answer") : byID("stop");
    next.scrollIntoView({ block: "center" });
    status.focus({ preventScroll: true });
  });
  const flip = (list, id) => list.includes(id) ? list.filter((x) => x !== id) : [...list, id];
  for (const b of signs) b.addEventListener("click", () => {
    const id = b.dataset.symptom;
    if (state.symptoms.includes(id)) { state.symptoms = flip(state.symptoms, id); state.absent = [...state.absent, id]; }
    else if (state.absent.includes(id)) state.absent = flip(state.absent, id);
    else state.symptoms = flip(state.symptoms, id);
    remember();
  });
  for (const b of events) b.addEventListener("click", () => { state.before = flip(state.before, b.dataset.before); remember(); });
  device.addEventListener("change", () => { state.device = device.value; remember(); });
  kindAt.addEventListener("change", () => { state.kind = kindAt.value; remember(); });
  find.addEventListener("input", () => {
    const q = find.value.trim().toLowerCase();
    for (const b of signs) b.hidden = q !== "" && !b.dataset.words.includes(q);
  });
  let pending = 0;
  box.addEventListener("input", () => {
    clearTimeout(pending);
    pending = setTimeout(() => { state.said = box.value.slice(0, 2000); keep(); hear(); }, 250);
  });
  byID("anew").addEventListener("click", () => { state = { symptoms: [], absent: [], before: [], device: "", kind: "", found: [], said: "" }; device.value = ""; kindAt.value = ""; box.value = ""; heard = null; turn++; remember(); });
  addEventListener("hashchange", fromAddress);

  fetched("triage/model").catch(() => { ready(); status.textContent = say("The model is missing or damaged (triage/model.js). Publish the site again."); });
})();
