"use strict";
/* The triage page: what was seen is tapped, what it probably is and what to check
   first is shown beside it, and the state stands in the address. */
(() => {
  const byID = (id) => document.getElementById(id);
  const status = byID("status"), device = byID("device"), causesAt = byID("causes"), checksAt = byID("checks"), madeAt = byID("made");
  const cautions = byID("cautions"), find = byID("find");
  const signs = [...document.querySelectorAll("[data-symptom]")], events = [...document.querySelectorAll("[data-before]")];
  const words = { "": "not asked", has: "it has this", absent: "asked, not there" }, shapes = { "": "○", has: "●", absent: "✕" };
  const results = ["clear", "fault", "unsure"];
  let model = null, data = null, state = null;

  const element = (tag, text, className) => {
    const e = document.createElement(tag);
    if (text) e.textContent = text;
    if (className) e.className = className;
    return e;
  };
  const percent = (x) => (100 * x).toFixed(x < 0.1 ? 1 : 0) + " %";
  const links = (ids) => {
    const span = element("span", "", "meta");
    ids.slice(0, 4).forEach((id, i) => {
      const a = element("a", id);
      a.href = "cases/" + encodeURIComponent(id) + ".html";
      span.append(i ? ", " : "", a);
    });
    if (ids.length > 4) span.append(" and " + (ids.length - 4) + " more");
    return span;
  };

  globalThis.benchloreModel = (text) => {
    data = JSON.parse(text);
    model = benchloreTriage(data.model);
    for (const [id, d] of Object.entries(data.devices)) {
      const o = element("option", d.name);
      o.value = id;
      device.append(o);
    }
    fromAddress();
  };

  function fromAddress() {
    const hash = new URLSearchParams(location.hash.slice(1));
    const list = (key) => (hash.get(key) ?? "").split(",").filter(Boolean);
    state = { symptoms: list("has"), absent: list("absent"), before: list("before"), device: hash.get("device") ?? "", found: [] };
    if (!data.devices[state.device]) state.device = "";
    for (const item of hash.getAll("found")) {
      const at = item.lastIndexOf("="), check = data.model.checks.findIndex((k) => k.key === item.slice(0, at));
      if (check >= 0 && results.includes(item.slice(at + 1))) state.found.push({ check, result: item.slice(at + 1) });
    }
    device.value = state.device;
    show();
  }
  function remember() {
    const hash = new URLSearchParams();
    for (const [key, list] of [["has", state.symptoms], ["absent", state.absent], ["before", state.before]]) if (list.length > 0) hash.set(key, list.join(","));
    if (state.device) hash.set("device", state.device);
    for (const f of state.found) hash.append("found", data.model.checks[f.check].key + "=" + f.result);
    history.replaceState(null, "", "#" + hash);
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
    const about = data.devices[state.device];
    cautions.replaceChildren(...(about?.cautions ?? []).map(([name, text]) => {
      const li = element("li");
      li.append(element("strong", name + "."), " " + text);
      return li;
    }), ...(about?.risks ?? []).map((r) => {
      const li = element("li", "Opening one did this before: " + r.what + " ");
      li.append(links([r.case]));
      return li;
    }));
    byID("before-you-begin").hidden = cautions.children.length === 0;
    madeAt.replaceChildren(...state.found.map((f, i) => {
      const li = element("li", data.model.checks[f.check].name + ": " + f.result + " ");
      const b = element("button", "take back");
      b.type = "button";
      b.setAttribute("aria-label", "take back: " + data.model.checks[f.check].name);
      b.addEventListener("click", () => { state.found.splice(i, 1); remember(); status.focus(); });
      li.append(b);
      return li;
    }));
    byID("made-title").hidden = state.found.length === 0;
    const asked = state.symptoms.length + state.before.length + state.found.length > 0 || state.device !== "";
    byID("answer").hidden = !asked;
    if (!asked) { status.textContent = "Tap what it does, or choose the device."; return; }
    const ranked = model.rank(state), plan = model.plan(state), b = ranked.basis, few = data.model.limits.fewCases;
    status.textContent = b.all < few ? "Too few cases: the notebook has " + b.all + " closed ones." :
      b.device >= few ? "Rests on " + b.device + " closed cases of this model, " + b.kind + " of its kind, " + b.all + " in all." :
      b.kind >= few ? "Too few cases of this model (" + b.device + "): rests on " + b.kind + " closed cases of its kind, " + b.all + " in all." :
      "Too few cases of this model (" + b.device + ") and of its kind (" + b.kind + "): rests on all " + b.all + " closed cases.";
    causesAt.replaceChildren(...ranked.causes.slice(0, 6).map((c) => {
      const tr = element("tr"), name = element("th", data.faults[c.fault] + ", " + data.places[c.at]);
      name.scope = "row";
      const cases = element("td");
      cases.append(links(c.cases));
      tr.append(name, element("td", percent(c.p), "num"), element("td", percent(c.interval[0]) + " to " + percent(c.interval[1]), "num"), cases);
      return tr;
    }));
    byID("unseen").textContent = percent(ranked.unseen) + " for a cause that no case had yet. The ranges hold nine times in ten, if the cases are typical.";
    byID("minutes").textContent = plan.steps.length === 0 ? "No case knows a check that would tell more." :
      plan.expected.toFixed(0) + " min expected until it is found, if it is a known cause. Commonest cause first " + plan.commonestFirst.toFixed(0) +
      " min, cheapest check first " + plan.cheapestFirst.toFixed(0) + " min, any order " + plan.random.toFixed(0) + " min.";
    checksAt.replaceChildren(...plan.steps.slice(0, 8).map((s) => {
      const li = element("li");
      for (const f of s.first) li.append(element("p", "First: " + f.check + ", since " + f.why + ".", "first"));
      li.append(element("strong", s.check));
      li.append(element("span", " " + s.minutes.toFixed(0) + " min, shows it in " + percent(s.finds) + "; when clear, " + s.after.toFixed(0) + " min to go ", "meta"), links(s.cases));
      const would = element("details"), most = (t) => t ? data.faults[t.fault] + ", " + data.places[t.at] + " (" + percent(t.p) + ")" : "none known";
      would.append(element("summary", "What it would change"), element("p", "If it shows the fault: most probably " + most(s.ifFault) + "."), element("p", "If it is clear: most probably " + most(s.ifClear) + "."));
      li.append(would);
      const row = element("p", "", "choose");
      for (const result of results) {
        const b = element("button", result);
        b.type = "button";
        b.setAttribute("aria-label", s.check + ": " + result);
        b.addEventListener("click", () => { state.found.push({ check: s.id, result }); remember(); status.focus(); });
        row.append(b);
      }
      li.append(row);
      return li;
    }));
  }

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
  find.addEventListener("input", () => {
    const q = find.value.trim().toLowerCase();
    for (const b of signs) b.hidden = q !== "" && !b.dataset.words.includes(q);
  });
  byID("anew").addEventListener("click", () => { state = { symptoms: [], absent: [], before: [], device: "", found: [] }; device.value = ""; remember(); });
  addEventListener("hashchange", fromAddress);

  const script = document.createElement("script");
  script.src = "triage/model.js";
  script.onerror = () => { status.textContent = "The model is missing or damaged (triage/model.js). Publish the site again."; };
  document.head.append(script);
})();
