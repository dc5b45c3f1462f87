"use strict";
/* The practice page: a case is worked through blind, and its real path shown
   beside the learner's at the end. */
(() => {
  const byID = (id) => document.getElementById(id);
  const status = byID("status"), bench = byID("bench"), list = byID("exercises");
  const { take, passed, next, own, grade, read } = benchloreSchedule;
  let book = null, data = null, x = null, attempt = null, progress = benchloreProgress.load();

  const element = (tag, text, className) => {
    const e = document.createElement(tag);
    if (text) e.textContent = text;
    if (className) e.className = className;
    return e;
  };
  const button = (text, act) => {
    const b = element("button", text);
    b.type = "button";
    b.addEventListener("click", act);
    return b;
  };
  const signs = { clear: ["○", "good"], fault: ["▲", "bad"], unsure: ["?", "care"], none: ["·", "plain"] };
  const said = { clear: say("clear"), fault: say("fault"), unsure: say("unsure"), none: say("not made in this case") };
  const mark = (result) => {
    const m = element("span", "", "mark mark-" + signs[result][1]), s = element("span", signs[result][0]);
    s.setAttribute("aria-hidden", "true");
    m.append(s, " " + said[result]);
    return m;
  };
  const percent = (p) => (100 * p).toFixed(0) + " %";
  const minutes = (n) => say("%s min", n.toFixed(0));
  const causeName = (c) => (data.faults[c.fault] ?? c.fault) + ", " + (data.places[c.at] ?? c.at);

  /* Which one. */
  const stateOf = (id) => {
    const r = progress.cases[id];
    if (!r) return say("new");
    return r.due <= benchloreProgress.today() ? say("due since %s", r.due) : say("again on %s", r.due);
  };
  /* The map of what was learned: a row for each place of the book's exercises. */
  const group = (list, key) => {
    const groups = new Map();
    for (const x of list) {
      if (!groups.has(key(x))) groups.set(key(x), []);
      groups.get(key(x)).push(x);
    }
    return groups;
  };
  // mine are those that are chosen from unasked: our own, and those of other workshops that were begun.
  const mine = () => book.entries.some((e) => !e.from) ? book.entries.filter((e) => !e.from || progress.cases[e.id]) : book.entries;
  function showMap() {
    const places = group(mine(), (e) => e.at);
    const faults = (list) => [...group(list, (e) => e.fault)].map(([fault, of]) => (data.faults[fault] ?? fault) + (of.length > 1 ? " × " + of.length : "")).join(", ");
    const cell = (list, sign, className) => {
      if (list.length === 0) return "";
      const box = element("span"), count = element("span", "", "mark mark-" + className), s = element("span", sign);
      s.setAttribute("aria-hidden", "true");
      count.append(s, " " + list.length);
      box.append(count, " " + (sign === "·" ? "" : faults(list))); // what is not met yet is not told
      return box;
    };
    const rows = [...places].sort(([a, x], [b, y]) => y.length - x.length || (a < b ? -1 : 1)).map(([at, list]) => {
      const state = group(list, (e) => { const r = progress.cases[e.id]; return !r ? "new" : passed(r) ? "found" : "missed"; });
      return [data.places[at] ?? at, cell(state.get("found") ?? [], "●", "good"), cell(state.get("missed") ?? [], "▲", "bad"), cell(state.get("new") ?? [], "·", "plain")];
    });
    byID("map").replaceChildren(table(say("By place"), [say("Place"), say("Found"), say("Missed"), say("Not met yet")], rows));
    byID("map").parentElement.hidden = rows.length === 0;
  }
  function showList() {
    showMap();
    const choice = next(progress, mine(), benchloreProgress.today());
    byID("next").hidden = choice === null;
    byID("why-next").textContent = choice === null ? say("No closed case is fit for practice yet. The command benchlore check --teach says what each lacks.") :
      choice.due ? say("This one is due again.") :
      progress.cases[choice.entry.id] ? say("Nothing is new or due; this one is due soonest, on %s.", progress.cases[choice.entry.id].due) :
      say("New. Its cause was met in %s closed cases here.", choice.entry.common);
    byID("next").onclick = () => { location.hash = choice.entry.id; };
    const item = (e) => {
      const li = element("li"), a = element("a", book.about[e.id].device + ": " + book.about[e.id].symptoms.join(", "));
      a.href = "#" + encodeURIComponent(e.id);
      li.append(a, " ", element("span", (e.from ? say("from %s", e.from) + ", " : "") + stateOf(e.id), "meta"));
      return li;
    };
    const theirs = book.entries.filter((e) => e.from);
    list.replaceChildren(...book.entries.filter((e) => !e.from).map(item));
    byID("their-exercises").replaceChildren(...theirs.map(item));
    byID("others").hidden = theirs.length === 0;
    byID("others-count").textContent = String(theirs.length);
    list.parentElement.hidden = book.entries.length === 0;
    const done = Object.keys(progress.cases).length;
    byID("so-far").textContent = done === 0 ? say("Nothing practised yet.") : say("%s of %s cases practised.", done, book.entries.length);
  }

  /* The bench. */
  function begin(exercise) {
    x = exercise;
    const model = benchloreTriage(data.model, x.id), known = (c) => data.model.checks.findIndex((k) => k.key === c.key && c.key);
    x.model = model;
    x.checks.forEach((c) => {
      c.id = known(c);
      if (!c.noted) c.minutes = c.id >= 0 ? data.model.checks[c.id].minutes : data.model.minutes;
    });
    const ids = new Set(x.checks.map((c) => c.id).filter((id) => id >= 0));
    const plan = model.plan(x.evidence);
    x.plan = plan;
    x.offered = [...x.checks, ...plan.steps.filter((s) => !ids.has(s.id)).slice(0, 3).map((s) => ({ text: s.check, minutes: s.minutes, result: "none", seen: "", unpowered: data.model.checks[s.id].unpowered }))];
    x.offered.sort((a, b) => a.text < b.text ? -1 : 1);
    const causes = [x.cause];
    for (const c of model.rank(x.evidence).causes) {
      if (causes.length < 8 && c.p > 0 && !(c.fault === x.cause.fault && c.at === x.cause.at)) causes.push({ fault: c.fault, at: c.at });
    }
    x.causes = causes.sort((a, b) => causeName(a) < causeName(b) ? -1 : 1);
    attempt = { minutes: 0, said: 0, right: 0, named: null, gave: false, made: [] };
    show();
    bench.querySelector("h2").focus();
  }
  function heading(text) {
    const h = element("h2", text);
    h.tabIndex = -1;
    return h;
  }
  function facts(pairs) {
    const dl = element("dl", "", "facts");
    for (const [name, text] of pairs) {
      if (!text) continue;
      const d = element("div");
      d.append(element("dt", name), element("dd", text));
      dl.append(d);
    }
    return dl;
  }
  function table(label, columns, rows) {
    const scroll = element("div", "", "scroll rows"), t = element("table"), head = element("tr"), body = element("tbody");
    scroll.role = "region";
    scroll.tabIndex = 0;
    scroll.setAttribute("aria-label", label);
    for (const c of columns) { const th = element("th", c); th.scope = "col"; head.append(th); }
    for (const cells of rows) {
      const tr = element("tr");
      cells.forEach((c, i) => {
        const cell = element(i === 0 ? "th" : "td");
        if (i === 0) cell.scope = "row"; else cell.dataset.label = columns[i];
        cell.append(c);
        tr.append(cell);
      });
      body.append(tr);
    }
    const thead = element("thead");
    thead.append(head);
    t.append(thead, body);
    scroll.append(t);
    return scroll;
  }
  function cautionBox() {
    const hazards = (x.hazards ?? []).map((id) => book.hazards[id]).filter(Boolean);
    if (hazards.length === 0 && !x.stop) return "";
    const box = element("section", "", "caution"), ul = element("ul");
    if (x.stop) box.append(element("h2", say("Stop")), element("p", say("Do not power it. Cut its supply where that needs no touch of anything wet, hot or live, and keep it away from what burns. A cell that is hot, hisses, smokes or vents is not touched: leave, close the door and call the fire service from outside. Only a cold and quiet one goes outdoors, in dry sand; none is ever charged, pressed or pierced. Then only what needs no power, unplugged and discharged.")));
    for (const d of (x.dangers ?? []).map((id) => book.stops[id]).filter(Boolean)) box.append(element("p", d.name + ": " + d.first.join(" ")));
    if (hazards.length > 0) box.append(element("h2", say("Before you begin")), ul);
    for (const h of hazards) {
      const li = element("li"), strong = element("strong"), a = element("a", h.name);
      a.href = h.href;
      strong.append(a, ".");
      li.append(strong, " " + h.text);
      ul.append(li);
    }
    return box;
  }
  function field(id, label, options) {
    const p = element("p"), l = element("label", label), s = element("select");
    s.id = id;
    l.htmlFor = id;
    s.append(...options.map(([value, text]) => new Option(text, value)));
    p.append(l, s);
    return p;
  }
  function show() {
    byID("choose").hidden = true;
    bench.hidden = false;
    const made = element("section");
    made.append(element("h3", say("Your path: %s", minutes(attempt.minutes))));
    if (attempt.made.length === 0) made.append(element("p", say("Nothing checked yet."), "meta"));
    else made.append(pathTable(attempt.made));
    // While the device shows a danger, what needs power waits for a check that needs none.
    const waits = (c) => x.stop && !c.unpowered && x.offered.some((o) => o.unpowered) && !attempt.made.some((m) => m.check.unpowered);
    const left = x.offered.filter((c) => !attempt.made.some((m) => m.check === c)), open = left.filter((c) => !waits(c));
    const form = element("form", "", "reckon");
    form.append(element("h3", say("What do you check?")));
    if (open.length > 0) {
      const set = element("fieldset"), legend = element("legend", say("Check, with its usual minutes"));
      set.append(legend);
      open.forEach((c, i) => {
        const p = element("p", "", "pick"), input = element("input"), label = element("label", c.text + " (" + minutes(c.minutes) + ")");
        input.type = "radio";
        input.name = "check";
        input.id = "check-" + i;
        input.value = String(i);
        input.required = true;
        label.htmlFor = input.id;
        p.append(input, label);
        set.append(p);
      });
      const go = element("button", say("Make the check"));
      go.type = "submit";
      const act = element("p");
      act.append(go);
      if (left.length > open.length) set.append(element("p", say("%s more checks wait: first one that needs no power.", left.length - open.length), "meta"));
      form.append(set, field("expect", say("What do you expect?"), [["unsure", say("I cannot say")], ["clear", say("nothing wrong there")], ["fault", say("it shows the fault")]]), act);
    } else form.append(element("p", say("Every check has been made.")));
    form.addEventListener("submit", (e) => {
      e.preventDefault();
      const chosen = open[Number(new FormData(form).get("check"))], expect = byID("expect").value;
      attempt.minutes += chosen.minutes;
      if (expect !== "unsure" && chosen.result !== "none") { attempt.said++; if (expect === chosen.result) attempt.right++; }
      attempt.made.push({ check: chosen, expect });
      status.textContent = chosen.result === "none" ? say("%s: this case has no record of that check.", chosen.text) : say("%s: %s. %s.", chosen.text, chosen.seen, said[chosen.result]);
      show();
      (bench.querySelector("input[name=check]") ?? byID("cause")).focus();
    });
    const name = element("form", "", "reckon"), ok = element("button", say("This is the cause")), row = element("p");
    ok.type = "submit";
    row.append(ok, " ", button(say("Show me"), () => { attempt.gave = true; finish(); }));
    name.append(element("h3", say("What is it?")), field("cause", say("Cause"), [["", say("not named yet")], ...x.causes.map((c, i) => [String(i), causeName(c)])]), row);
    within(name, "cause").required = true;
    name.addEventListener("submit", (e) => { e.preventDefault(); attempt.named = x.causes[Number(byID("cause").value)]; finish(); });
    bench.replaceChildren(heading(say("On the bench: %s", x.device)), cautionBox(),
      facts([[say("Symptoms"), x.symptoms.join(", ")], [say("Asked and absent"), (x.absent ?? []).join(", ")], [say("Beforehand"), (x.before ?? []).join(", ")]]),
      element("p", x.said, "said"), made, form, name);
  }
  const within = (root, id) => root.querySelector("#" + id);
  const pathTable = (made) => table(say("Your path"), [say("Check"), say("Expected"), say("Seen"), say("Result"), say("Minutes")],
    made.map((m) => [m.check.text, m.expect === "unsure" ? "–" : said[m.expect], m.check.seen || "–", mark(m.check.result), m.check.minutes.toFixed(0)]));

  /* The end. */
  function finish() {
    const q = grade(x, attempt);
    progress = benchloreProgress.load();
    const r = take(progress, x.id, q, benchloreProgress.today()), kept = benchloreProgress.save(progress);
    const right = attempt.named && attempt.named.fault === x.cause.fault && attempt.named.at === x.cause.at;
    const real = x.checks.filter((c) => !c.reading).sort((a, b) => a.turn - b.turn);
    let offered = 0, found = false;
    for (const s of x.plan.steps) {
      offered += s.minutes;
      if (x.checks.some((c) => c.id === s.id && c.result === "fault")) { found = true; break; }
    }
    const link = element("a", say("The whole case: %s", x.title));
    link.href = "cases/" + encodeURIComponent(x.id) + ".html";
    const whole = element("p");
    whole.append(link);
    const again = element("p", "", "tap");
    again.append(button(say("Next case"), () => { leave(); const c = next(progress, mine(), benchloreProgress.today()); if (c) location.hash = c.entry.id; }), button(say("All cases"), leave));
    const verdict = element("p", "", "lead");
    const m = element("span", "", "mark mark-" + (right ? "good" : "bad")), sign = element("span", right ? "●" : "✕");
    sign.setAttribute("aria-hidden", "true");
    m.append(sign, " " + (right ? say("Found") : attempt.gave ? say("Shown") : say("Not it")));
    verdict.append(m, " " + say("It was: %s.", causeName(x.cause)) + (attempt.named && !right ? " " + say("You named: %s.", causeName(attempt.named)) : ""));
    const paths = element("div", "", "columns"), yours = element("section"), theirs = element("section");
    yours.append(element("h3", say("Your path: %s", minutes(attempt.minutes))), attempt.made.length ? pathTable(attempt.made) : element("p", say("Nothing checked."), "meta"));
    theirs.append(element("h3", say("The real path: %s to the fault", minutes(own(x)))), table(say("The real path"), [say("Check"), say("Seen"), say("Result"), say("Minutes")], real.map((c) => [c.text, c.seen, mark(c.result), c.minutes.toFixed(0)])));
    paths.append(yours, theirs);
    const most = (t) => t ? causeName(t) + " (" + percent(t.p) + ")" : "–";
    const told = table(say("What each check could have told"), [say("Check"), say("Shows the fault"), say("Then, if it does"), say("Then, if it is clear")], x.checks.map((c) => {
      const w = c.id >= 0 ? x.model.worth(x.evidence, c.id) : null;
      return w ? [c.text, percent(w.finds), most(w.ifFault), most(w.ifClear)] : [c.text, say("no other case says"), "–", "–"];
    }));
    bench.replaceChildren(heading(say("What it was")), verdict,
      element("p", attempt.said === 0 ? say("You stated no expectation.") : say("%s of %s expectations came true.", attempt.right, attempt.said)),
      paths,
      element("p", found ? say("The offered order, which knew the symptom and the other cases alone, would have come to it in %s.", minutes(offered)) :
        say("The offered order would not have come to it: no other case found a fault by these checks.")),
      element("h3", say("What each check could have told")), told,
      element("h3", say("Lesson")), element("p", x.lesson || say("This case says no lesson."), "said"), whole,
      element("p", say("Grade %s of 5; this case comes again on %s.", q, r.due) + (kept ? "" : " " + say("This browser keeps nothing: save your progress to a file.")), "meta"), again);
    status.textContent = "";
    bench.querySelector("h2").focus();
  }
  function leave() {
    x = null;
    bench.hidden = true;
    byID("choose").hidden = false;
    status.textContent = "";
    history.replaceState(null, "", location.pathname + location.search);
    showList();
    byID("next").focus();
  }

  /* Progress in a file. */
  byID("save-progress").addEventListener("click", () => {
    const a = element("a");
    a.href = "data:application/json;charset=utf-8," + encodeURIComponent(JSON.stringify(benchloreProgress.load(), null, 2));
    a.download = "practice.json";
    a.click();
  });
  byID("load-progress").addEventListener("change", async (e) => {
    const file = e.target.files[0], loaded = file ? read(await file.text()) : null;
    e.target.value = "";
    if (!loaded) { byID("file-said").textContent = say("This is not a progress file; nothing was changed."); return; }
    progress = loaded;
    byID("file-said").textContent = benchloreProgress.save(progress) ? say("Progress of %s cases loaded.", Object.keys(progress.cases).length) : say("Loaded for now; this browser keeps nothing.");
    showList();
  });

  /* Data comes by scripts, the only way into a page opened from a stick. */
  const fetched = new Set();
  function fetchScript(src) {
    return new Promise((done, failed) => {
      const s = document.createElement("script");
      s.src = src;
      s.onload = done;
      s.onerror = () => failed(new Error(src));
      document.head.append(s);
    });
  }
  const exercises = new Map();
  globalThis.benchloreModel = (text) => { data = JSON.parse(text); };
  globalThis.benchloreBook = (text) => { book = JSON.parse(text); };
  globalThis.benchloreExercise = (text) => { const e = JSON.parse(text); exercises.set(e.id, e); };
  async function fromAddress() {
    const id = location.hash.slice(1); // ids are plain letters; an address is not decoded
    if (!id) { if (!bench.hidden) leave(); return; }
    try {
      if (!book.entries.some((e) => e.id === id)) throw new Error(id);
      if (!exercises.has(id) && !fetched.has(id)) { fetched.add(id); await fetchScript("practice/" + id + ".js"); }
      if (!exercises.has(id)) throw new Error(id);
    } catch {
      fetched.delete(id);
      status.textContent = say("There is no exercise %s: the case is open, has no cause, or names no check.", id);
      return;
    }
    status.textContent = "";
    begin(structuredClone(exercises.get(id)));
  }
  (async () => {
    try {
      await fetchScript("triage/model.js");
      await fetchScript("practice/book.js");
    } catch (err) {
      status.textContent = say("Part of the practice data is missing (%s). Publish the site again.", err.message);
      return;
    }
    byID("choose").hidden = false;
    showList();
    addEventListener("hashchange", fromAddress);
    if (location.hash.length > 1) fromAddress();
  })();
})();
