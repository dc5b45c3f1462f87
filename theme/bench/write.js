"use strict";
/* The case sheet: every change goes to the server within two seconds, what the
   server says comes back to its field, and nothing that was typed leaves the page
   before it is kept. Without this script the sheet is a plain form. */
(() => {
  const byID = (id) => document.getElementById(id);
  const form = byID("sheet"), saved = byID("saved"), clashes = byID("clashes");
  const state = JSON.parse(form.dataset.state), at = "/write/case/" + encodeURIComponent(state.id);
  const known = { ...state.fields };   // as the file has them
  const dirty = new Set();             // fields changed here and not kept yet
  let version = state.version, timer = 0, first = 0, busy = false, photos = JSON.parse(known.photos);

  const element = (tag, text, className) => {
    const e = document.createElement(tag);
    if (text) e.textContent = text;
    if (className) e.className = className;
    return e;
  };
  const button = (text, act, className) => {
    const b = element("button", text, className);
    b.type = "button";
    b.addEventListener("click", act);
    return b;
  };
  const ask = (path, options = {}) => fetch(at + path, { ...options, headers: { Accept: "application/json", "X-Benchlore": "1", ...options.headers } });

  /* Fields and tables as text, as the server has them. */
  const inputs = new Map([...form.querySelectorAll("[data-field]")].map((e) => [e.name, e]));
  const tables = new Map([...form.querySelectorAll("table[data-table]")].map((t) => ["table:" + t.dataset.table, t]));
  const columnsOf = (name) => JSON.parse(known[name]).Columns;
  function read(name) {
    if (name === "photos") return JSON.stringify(photos.map((p) => ({
      file: p.file, caption: p.caption, ...(p.marks?.length ? { marks: p.marks.map((m) => ({ x: m.x, y: m.y, label: m.label, ...(m.shape ? { shape: m.shape } : {}), ...(m.to ? { to: m.to } : {}) })) } : {}), ...(p.compare ? { compare: p.compare } : {}),
      ...(p.side ? { side: p.side } : {}), ...(p.points?.length ? { points: p.points.map((m) => ({ at: m.at, x: m.x, y: m.y })) } : {}),
    })));
    const t = tables.get(name);
    if (!t) return inputs.get(name).value;
    const rows = [...t.tBodies[0].rows].map((r) => [...r.querySelectorAll("input, select")].map((i) => i.value.trim()));
    return JSON.stringify({ Columns: columnsOf(name), Rows: rows.filter((r) => r.some((c) => c !== "")) });
  }
  function write(name, value) {
    if (name === "photos") { photos = JSON.parse(value); drawPhotos(); return; }
    const t = tables.get(name);
    if (t) { fill(t, JSON.parse(value).Rows); return; }
    const input = inputs.get(name);
    if (!input || input.value === value) return;
    if (input.tagName === "SELECT" && ![...input.options].some((o) => o.value === value)) input.append(new Option(value, value));
    input.value = value;
    input.dispatchEvent(new Event("shown"));
  }

  /* Choices that are still to be made: a field that somebody else changed too. What was
     typed for it is kept on the disk of the notebook, and in this browser as a second net,
     until the choice is made; it goes into the file by that choice alone. */
  /** @type {Map<string, { id: string, field: string, mine: string }>} */
  const open = new Map(); // by field
  const net = "open:" + state.id;
  let unsent = false, openTimer = 0;
  const openText = () => say("Kept, apart from what somebody else changed too");
  function catchOpen() {
    try { if (open.size > 0) localStorage.setItem(net, JSON.stringify([...open.values()])); else localStorage.removeItem(net); } catch { /* the disk has it */ }
  }
  let sending = Promise.resolve(); // one after the other, so that the last one counts
  function sendOpen(o, settled = false) {
    unsent = true;
    catchOpen();
    return sending = sending.then(() => postOpen(o, settled));
  }
  async function postOpen(o, settled) {
    try {
      const r = await ask("/open", { method: "POST", body: JSON.stringify({ id: o.id, field: o.field, mine: o.mine, settled }), headers: { "Content-Type": "application/json" } });
      if (r.ok) { unsent = false; return; }
      saved.textContent = say("Not kept: %s", (await r.text()).trim());
    } catch {
      saved.textContent = say("Not kept: the server does not answer. What you typed is still here.");
    }
    setTimeout(() => { if (settled || open.get(o.field) === o) sendOpen(o, settled); }, 2000);
  }
  function opens(field, mine) {
    const o = open.get(field) ?? { id: [...crypto.getRandomValues(new Uint32Array(4))].map((n) => n.toString(36)).join(""), field, mine };
    o.mine = mine;
    open.set(field, o);
    sendOpen(o);
  }
  function settles(field) {
    const o = open.get(field);
    if (!o) return;
    open.delete(field);
    settled(o);
  }
  const queued = []; // choices on a field that another window's choice is shown for first
  function settled(o) {
    sendOpen(o, true);
    const i = queued.findIndex((x) => x.field === o.field);
    if (i < 0) return;
    const [next] = queued.splice(i, 1);
    if (known[next.field] === next.mine) { sendOpen(next, true); return; }
    open.set(next.field, next);
    write(next.field, next.mine);
    showClash(next.field);
    saved.textContent = openText() + ".";
  }

  function touch(name) {
    const o = open.get(name);
    if (o) { // typed on while the choice is open: it is kept, and not sent over the other's text
      o.mine = read(name);
      document.querySelectorAll('[data-clash="' + CSS.escape(name) + '"] .mine').forEach((e) => { e.textContent = shown(o.mine); });
      saved.textContent = openText() + ".";
      catchOpen();
      clearTimeout(openTimer);
      openTimer = setTimeout(() => { for (const x of open.values()) sendOpen(x); }, 400);
      return;
    }
    dirty.add(name);
    saved.textContent = "…";
    first ||= Date.now();
    clearTimeout(timer);
    timer = setTimeout(keep, Math.max(0, Math.min(400, 1500 - (Date.now() - first))));
  }

  async function keep() {
    if (busy) return;
    clearTimeout(timer);
    first = 0;
    const changes = {};
    for (const name of dirty) {
      if (open.has(name)) continue; // it waits for a choice
      const now = read(name);
      if (now !== known[name]) changes[name] = { was: known[name], now };
    }
    const sent = new Set(dirty);
    dirty.clear();
    if (Object.keys(changes).length === 0) { saved.textContent = (open.size > 0 ? openText() : say("Saved")) + "."; return; }
    busy = true;
    let taken = false;
    try {
      const r = await ask("/change", { method: "POST", body: JSON.stringify({ changes }), headers: { "Content-Type": "application/json" } });
      taken = r.ok || r.status === 409;
      if (taken) {
        const a = await r.json(), made = [], not = new Set([...(a.conflicts ?? []), ...(a.refused ?? [])].map((x) => x.field));
        for (const [field, o] of chose) {
          if (!(field in changes)) continue;
          chose.delete(field);
          if (not.has(field)) open.set(field, o); else made.push(o);
        }
        take(a, changes);
        made.forEach(settled);
      }
      else {
        sent.forEach((n) => dirty.add(n));
        saved.textContent = say("Not kept: %s", (await r.text()).trim());
        if (r.status >= 500 || r.status === 429 || r.status === 423) timer = setTimeout(keep, 2000);
      }
    } catch {
      sent.forEach((n) => dirty.add(n));
      saved.textContent = say("Not kept: the server does not answer. What you typed is still here.");
      timer = setTimeout(keep, 2000);
    }
    busy = false;
    if (taken && dirty.size > 0) { // typed while that was on its way
      if (saved.textContent.startsWith(say("Saved"))) saved.textContent = "…";
      clearTimeout(timer);
      timer = setTimeout(keep, 400);
    }
  }

  /* What the file has now comes into every field that is not being changed here. */
  function take(a, changes = {}) {
    version = a.version;
    const refused = new Map((a.refused ?? []).map((r) => [r.field, r.message]));
    const clash = new Map((a.conflicts ?? []).map((c) => [c.field, c]));
    for (const [name, value] of Object.entries(a.fields)) {
      const was = known[name];
      known[name] = value;
      if (clash.has(name) || open.has(name) || refused.has(name) || dirty.has(name)) continue;
      const here = inputs.get(name) ?? tables.get(name);
      const focused = here && (here === document.activeElement || here.contains(document.activeElement));
      if (!inputs.has(name) && !tables.has(name) && name !== "photos") continue; // not on the sheet
      if (name in changes && read(name) === changes[name].now && focused) continue; // being typed in
      if (read(name) !== value && (value !== was || name in changes)) write(name, value);
    }
    for (const c of clash.values()) { opens(c.field, c.mine); showClash(c.field); }
    for (const o of [...open.values()]) { // the other text may have changed again, or become this one
      if (known[o.field] === o.mine) { settles(o.field); hideClash(o.field); }
      else document.querySelectorAll('[data-clash="' + CSS.escape(o.field) + '"] .theirs').forEach((e) => { e.textContent = shown(known[o.field]); });
    }
    showProblems(a.checked, refused);
    byID("undo").hidden = a.back === 0;
    byID("redo").hidden = a.forward === 0;
    saved.textContent = (open.size > 0 ? openText() : refused.size > 0 ? say("Kept, apart from what is named below its field") : say("Saved")) + (a.saved ? ", " + a.saved + "." : ".");
    byID("heading").textContent = known.title || say("Case") + " " + state.id;
    besideSoon();
  }
  const chose = new Map(); // choices that were made and are on their way into the file, by field
  // The choice stands at the field that two people changed; the bar above leads there.
  const hideClash = (field) => document.querySelectorAll('[data-clash="' + CSS.escape(field) + '"]').forEach((e) => e.remove());
  const shown = (v) => { try { const t = JSON.parse(v); return t.Rows ? t.Rows.map((r) => r.join(" | ")).join("\n") : v; } catch { return v; } };
  function showClash(field) {
    hideClash(field);
    const name = field.replace(/^(section|table):/, "");
    const box = element("section", "", "caution");
    box.dataset.clash = field;
    box.tabIndex = -1;
    const both = element("div", "", "both");
    for (const [name, v, of] of [[say("Yours"), open.get(field).mine, "mine"], [say("In the file"), known[field], "theirs"]]) {
      const d = element("div"), pre = element("pre", shown(v), of);
      pre.tabIndex = 0;
      d.append(element("strong", name), pre);
      both.append(d);
    }
    const choose = (label, value) => button(label, async () => {
      const chosen = value();
      hideClash(field);
      write(field, chosen);
      (inputs.get(field) ?? tables.get(field)?.querySelector("input, select"))?.focus?.();
      if (chosen === known[field]) { settles(field); saved.textContent = (open.size > 0 ? openText() : say("Saved")) + "."; return; }
      // Until the file has it, what was typed stays kept.
      const o = open.get(field);
      open.delete(field);
      chose.set(field, o);
      touch(field);
    });
    box.append(element("h3", say("Somebody else changed this too") + ": " + name), both,
      choose(say("Keep mine"), () => open.get(field).mine), " ", choose(say("Take what is in the file"), () => known[field]));
    if (field.startsWith("section:")) box.append(" ", choose(say("Keep both, one below the other"), () => known[field] + "\n\n" + open.get(field).mine));
    const at = form.querySelector('[data-for="' + CSS.escape(field) + '"]') ?? tables.get(field)?.closest("section") ?? clashes;
    at.append(box);
    if (at === clashes) return;
    const line = element("p", "", "caution");
    line.dataset.clash = field;
    line.append(button(say("Somebody else changed this too") + ": " + name, () => { box.scrollIntoView({ block: "center" }); box.focus(); }));
    clashes.append(line);
  }

  function showProblems(checked, refused = new Map()) {
    byID("stop").hidden = !checked.stop;
    byID("dangers").replaceChildren(...(checked.dangers ?? []).map((d) => {
      const li = document.createElement("li"), strong = document.createElement("strong");
      strong.textContent = d.name + ".";
      li.append(strong, " " + d.first.join(" "));
      return li;
    }));
    offer(checked.offers);
    form.querySelectorAll(".field-problem").forEach((e) => e.remove());
    form.querySelectorAll("[aria-invalid]").forEach((e) => e.removeAttribute("aria-invalid"));
    const list = byID("problems"), others = [];
    const place = (p) => {
      const message = p.message + (p.suggestion ? say("; did you mean %s?", p.suggestion) : "");
      let target = null;
      if (p.row >= 0) target = tables.get(p.field)?.tBodies[0].rows[p.row]?.cells[Math.max(0, columnsOf(p.field).indexOf(p.column))];
      else target = form.querySelector('[data-for="' + CSS.escape(p.field) + '"], [data-for^="' + CSS.escape(p.field) + '."]');
      if (!target) { others.push(p.severity + ": " + message); return; }
      if (p.severity === "note") return;
      target.append(element("span", (p.severity === "error" ? "✕ " : "! ") + message, "field-problem " + p.severity));
      if (p.severity === "error") target.querySelector("input, select, textarea")?.setAttribute("aria-invalid", "true");
    };
    for (const [field, message] of refused) place({ field, message, row: -1, severity: "error" });
    checked.problems.forEach(place);
    list.replaceChildren();
    if (others.length > 0) {
      const ul = element("ul");
      others.forEach((o) => ul.append(element("li", o)));
      list.append(element("h3", say("To mend")), ul);
    }
    showStrip(checked.problems);
    for (const [name, verdicts] of [["table:Measurements", checked.readings], ["table:Parts", checked.parts]]) {
      [...tables.get(name).tBodies[0].rows].forEach((r, i) => {
        const cell = r.querySelector(".said"), v = verdicts[i];
        if (!cell) return;
        cell.replaceChildren();
        if (v?.word) { const m = element("span", v.sign + " " + v.word, "mark mark-" + v.class); cell.append(m, " "); }
        if (v?.detail) cell.append(element("span", v.detail, "meta"));
      });
    }
  }

  /* Tables, like a small spreadsheet. */
  function rowOf(t, values = []) {
    const model = t.tBodies[0].rows[t.tBodies[0].rows.length - 1] ?? t.model;
    const r = model.cloneNode(true);
    [...r.querySelectorAll("input, select")].forEach((i, k) => { i.value = values[k] ?? ""; });
    r.querySelectorAll(".field-problem").forEach((e) => e.remove());
    r.querySelectorAll("[aria-invalid]").forEach((e) => e.removeAttribute("aria-invalid"));
    const said = r.querySelector(".said");
    if (said) said.replaceChildren();
    return r;
  }
  function fill(t, rows) {
    const body = t.tBodies[0], model = rowOf(t);
    const spot = document.activeElement?.closest?.("table") === t ? place(document.activeElement) : null;
    body.replaceChildren(...[...rows, []].map((values) => {
      const r = model.cloneNode(true);
      [...r.querySelectorAll("input, select")].forEach((i, k) => { i.value = values[k] ?? ""; });
      return r;
    }));
    number(t);
    if (spot) cellAt(t, spot.row, spot.column)?.focus();
  }
  function number(t) {
    [...t.tBodies[0].rows].forEach((r, i) => {
      [...r.querySelectorAll("input, select")].forEach((x, k) => {
        const column = columnsOf("table:" + t.dataset.table)[k];
        x.name = t.dataset.table + "." + i + "." + column;
        x.setAttribute("aria-label", say("%s, row %s", column, i + 1));
      });
      const act = r.querySelector(".act");
      const last = i === t.tBodies[0].rows.length - 1;
      act.replaceChildren();
      if (!last) { const b = button("✕", () => { r.remove(); number(t); touch("table:" + t.dataset.table); }); b.setAttribute("aria-label", say("Take out row %s", i + 1)); act.append(b); }
    });
  }
  const cellAt = (t, row, column) => t.tBodies[0].rows[row]?.querySelectorAll("input, select")[column];
  function place(input) {
    const r = input.closest("tr");
    return { row: [...r.parentNode.children].indexOf(r), column: [...r.querySelectorAll("input, select")].indexOf(input) };
  }
  function grow(t) {
    const rows = t.tBodies[0].rows, last = rows[rows.length - 1];
    if ([...last.querySelectorAll("input, select")].some((i) => i.value !== "")) { t.tBodies[0].append(rowOf(t)); number(t); }
  }
  /* Cells from a spreadsheet come with tabs, those of a meter's log with commas or
     semicolons. */
  function cells(text) {
    const lines = text.replace(/\r/g, "").replace(/\n+$/, "").split("\n");
    const sign = text.includes("\t") ? "\t" : lines.every((l) => l.includes(";")) ? ";" : ",";
    return lines.map((l) => {
      const out = [];
      let cell = "", quoted = false;
      for (let i = 0; i < l.length; i++) {
        const c = l[i];
        if (quoted) { if (c === '"' && l[i + 1] === '"') { cell += c; i++; } else if (c === '"') quoted = false; else cell += c; }
        else if (c === '"' && cell === "") quoted = true;
        else if (c === sign) { out.push(cell.trim()); cell = ""; }
        else cell += c;
      }
      return [...out, cell.trim()];
    });
  }
  for (const [name, t] of tables) {
    t.model = t.tBodies[0].rows[0].cloneNode(true);
    number(t);
    t.addEventListener("input", () => { grow(t); touch(name); });
    t.addEventListener("change", () => touch(name));
    t.addEventListener("keydown", (e) => {
      if (!e.target.matches("input, select")) return;
      const spot = place(e.target);
      const go = (row, column) => { const c = cellAt(t, row, column); if (c) { e.preventDefault(); c.focus(); c.select?.(); } };
      if (e.key === "Enter") { grow(t); go(spot.row + 1, e.shiftKey ? spot.column : 0); e.preventDefault(); }
      else if (e.key === "ArrowDown" && (e.target.tagName === "INPUT" && !e.target.list || e.altKey)) go(spot.row + 1, spot.column);
      else if (e.key === "ArrowUp" && (e.target.tagName === "INPUT" && !e.target.list || e.altKey)) go(spot.row - 1, spot.column);
    });
    t.addEventListener("paste", (e) => {
      const text = e.clipboardData?.getData("text/plain") ?? "";
      if (!/[\t\n]/.test(text.trim()) || !e.target.matches("input")) return;
      e.preventDefault();
      const spot = place(e.target), columns = columnsOf(name);
      let rows = cells(text);
      const head = rows[0].map((c) => c.toLowerCase());
      const byName = head.some((h) => columns.includes(h)) && head.filter((h) => columns.includes(h)).length >= 2;
      if (byName) rows = rows.slice(1).map((r) => columns.map((c) => r[head.indexOf(c)] ?? ""));
      rows.forEach((r, i) => {
        if (!t.tBodies[0].rows[spot.row + i]) t.tBodies[0].append(rowOf(t));
        r.forEach((v, k) => { const c = cellAt(t, spot.row + i, (byName ? 0 : spot.column) + k); if (c) c.value = v; });
      });
      grow(t);
      number(t);
      touch(name);
    });
  }
  for (const [name, input] of inputs) input.addEventListener("input", () => touch(name));
  form.addEventListener("submit", (e) => { e.preventDefault(); form.querySelectorAll("[data-field]").forEach((i) => dirty.add(i.name)); tables.forEach((_, n) => dirty.add(n)); keep(); });
  byID("plain-save").hidden = true;

  /* Words are found while they are typed, and kept as terms. */
  const names = new Map(Object.entries(state.names)), pickers = new Map();
  // What the title and the owner's words mean is offered, and kept when it is taken.
  function offer(offers) {
    const picker = pickers.get("symptoms");
    if (!picker) return;
    const had = picker.offers.contains(document.activeElement);
    picker.offers.replaceChildren(...offers.map((o) => {
      const li = element("li"), b = button("+ " + o.name, () => { names.set(o.id, o.name); picker.put([...picker.ids(), o.id]); picker.typed.focus(); });
      b.setAttribute("aria-label", say("Add %s, since it says “%s”", o.name, o.said));
      li.append(b, element("span", " “" + o.said + "”", "hint"));
      return li;
    }));
    picker.offers.previousElementSibling.hidden = offers.length === 0;
    if (had) picker.typed.focus();
  }
  for (const [name, input] of inputs) {
    if (!input.dataset.pick) continue;
    const typed = element("input"), list = element("ul", "", "picks"), found = element("ul", "", "found");
    typed.id = input.id;
    typed.autocomplete = "off";
    typed.setAttribute("aria-autocomplete", "list");
    input.id = "";
    input.type = "hidden";
    found.hidden = true;
    input.after(list, typed, found);
    const ids = () => input.value.split(",").map((w) => w.trim()).filter(Boolean);
    const show = () => {
      list.replaceChildren(...ids().map((id) => {
        const li = element("li"), b = button((names.get(id) ?? id) + " ✕", () => { put(ids().filter((x) => x !== id)); typed.focus(); });
        b.setAttribute("aria-label", say("Take out %s", names.get(id) ?? id));
        li.append(b);
        return li;
      }));
    };
    const put = (next) => { input.value = [...new Set(next)].join(", "); show(); touch(name); };
    const hint = element("p", say("The text may mean:"), "hint"), offers = element("ul", "", "offers");
    hint.hidden = true;
    found.after(hint, offers);
    pickers.set(name, { ids, put, typed, offers });
    const choose = (w) => { names.set(w.id, w.name); put([...ids(), w.id]); typed.value = ""; found.hidden = true; typed.focus(); };
    let wait = 0, offered = [];
    const look = async () => {
      const text = typed.value.trim();
      if (text.length < 2) { found.hidden = true; offered = []; return; }
      const r = await fetch("/write/words?class=" + input.dataset.pick + "&text=" + encodeURIComponent(text.slice(0, 300)));
      if (!r.ok || typed.value.trim() !== text) return;
      offered = await r.json();
      found.replaceChildren(...offered.map((w) => { const li = element("li"); li.append(button(w.name + ": " + w.meaning, () => choose(w))); return li; }));
      if (offered.length === 0) found.append(element("li", say("No such word; the text can still say it.")));
      found.hidden = false;
    };
    typed.addEventListener("input", () => { clearTimeout(wait); wait = setTimeout(look, 150); });
    typed.addEventListener("keydown", async (e) => {
      if (e.key === "Enter") { e.preventDefault(); clearTimeout(wait); await look(); if (offered[0]) choose(offered[0]); }
      else if (e.key === "ArrowDown" && !found.hidden) { e.preventDefault(); found.querySelector("button")?.focus(); }
      else if (e.key === "Escape") found.hidden = true;
      else if (e.key === "Backspace" && typed.value === "" && ids().length > 0) put(ids().slice(0, -1));
    });
    found.addEventListener("keydown", (e) => {
      const all = [...found.querySelectorAll("button")], i = all.indexOf(document.activeElement);
      if (e.key === "ArrowDown") { e.preventDefault(); all[i + 1]?.focus(); }
      if (e.key === "ArrowUp") { e.preventDefault(); (all[i - 1] ?? typed).focus(); }
      if (e.key === "Escape") { found.hidden = true; typed.focus(); }
    });
    input.addEventListener("shown", show);
    show();
  }

  /* Pin after pin: the pins of a part in order, a reading each, then all of them into the
     table at once. */
  function addRow(name, cells) {
    const t = tables.get(name), rows = t.tBodies[0].rows, row = rows[rows.length - 1];
    for (const [column, value] of Object.entries(cells)) {
      const cell = row.querySelector('[data-column="' + column + '"] input, [data-column="' + column + '"] select');
      if (!cell) continue;
      cell.value = value;
      cell.dispatchEvent(new Event("input", { bubbles: true }));
    }
  }
  byID("by-pin").hidden = false;
  /** @type {{ pins: { pin: string, net: string, good: string }[], at: number, read: Map<number, string>, said: Map<number, string> }} */
  const walk = { pins: [], at: 0, read: new Map(), said: new Map() };
  const beeps = byID("pin-beep");
  try { beeps.checked = localStorage.getItem("pin-beep") === "on"; } catch { /* it is asked anew each time */ }
  beeps.addEventListener("change", () => { try { localStorage.setItem("pin-beep", beeps.checked ? "on" : "off"); } catch { /* as above */ } });
  let sound;
  function beep() {
    sound ??= new AudioContext();
    const tone = sound.createOscillator(), level = sound.createGain();
    level.gain.value = 0.15;
    tone.frequency.value = 880;
    tone.connect(level).connect(sound.destination);
    tone.start();
    tone.stop(sound.currentTime + 0.15);
  }
  /* What limits and other boards say of a reading, while the probe is still there. */
  async function judgePin(k, read) {
    const r = await ask("/pin?" + new URLSearchParams({ point: walk.pins[k].pin, what: byID("pin-what").value, state: byID("pin-state").value, read }));
    if (!r.ok || walk.read.get(k) !== read) return;
    const a = await r.json();
    if (!a.word || byID("pin-now").hidden) return;
    walk.said.set(k, " " + a.sign + " " + a.word);
    const at = [...walk.read.keys()].indexOf(k), line = byID("pin-done").children[at];
    if (line) line.textContent = walk.pins[k].pin + ": " + read + walk.said.get(k);
    byID("pin-said").textContent = walk.pins[k].pin + ": " + read + walk.said.get(k);
    if (a.odd && beeps.checked) beep();
  }
  function atPin(i) {
    walk.at = Math.max(0, i);
    const pin = walk.pins[walk.at], read = byID("pin-read");
    byID("pin-done").replaceChildren(...[...walk.read].map(([k, v]) => element("li", walk.pins[k].pin + ": " + v + (walk.said.get(k) ?? ""))));
    byID("pin-end").hidden = walk.read.size === 0;
    if (!pin) { byID("pin-name").textContent = say("All pins are through."); byID("pin-good").textContent = ""; read.value = ""; byID("pin-end").focus(); return; }
    byID("pin-name").textContent = pin.pin + (pin.net ? " (" + pin.net + ")" : "");
    byID("pin-good").textContent = pin.good ? say("A good board: %s", pin.good) : "";
    read.value = walk.read.get(walk.at) ?? "";
    read.focus();
    read.select();
  }
  const withUnit = (text) => /^[+\-−]?\d+([.,]\d+)?$/.test(text) ? text + " " + byID("pin-unit").value : text;
  function takePin(text) {
    const k = walk.at, read = withUnit(text.trim());
    walk.said.delete(k);
    if (read === "") walk.read.delete(k); else walk.read.set(k, read);
    atPin(k + 1);
    if (read !== "") judgePin(k, read);
  }
  byID("pin-begin").addEventListener("click", async () => {
    const said = byID("pin-said"), query = new URLSearchParams({ part: byID("pin-part").value, what: byID("pin-what").value, state: byID("pin-state").value });
    await keep();
    const r = await ask("/pins?" + query);
    if (!r.ok) { said.textContent = (await r.text()).trim(); return; }
    const a = await r.json();
    said.textContent = a.pins.length === 1 ? say("1 pin.") : say("%s pins.", a.pins.length);
    if (a.pins.length === 0) return;
    walk.pins = a.pins;
    walk.read = new Map();
    walk.said = new Map();
    byID("pin-now").hidden = false;
    atPin(0);
  });
  byID("pin-read").addEventListener("keydown", (e) => {
    if (e.key === "Enter") { e.preventDefault(); if (walk.pins[walk.at]) takePin(e.target.value); }
    else if (e.key === "Backspace" && e.target.value === "" && walk.at > 0) { e.preventDefault(); atPin(walk.at - 1); }
  });
  /* A meter's log, pasted or dropped as a file: a reading a line, or pin and reading. */
  function takeLog(lines) {
    for (const line of lines) {
      const [first, ...rest] = line.split(/[;\t]|,(?=\s|\D)/).map((c) => c.trim().replace(/^"|"$/g, "")), value = rest.filter(Boolean)[0];
      const named = value === undefined ? -1 : walk.pins.findIndex((p) => p.pin.toUpperCase() === first.toUpperCase() || p.pin.split(".").pop() === first);
      if (named >= 0) walk.at = named;
      if (!walk.pins[walk.at]) break;
      takePin(named >= 0 ? value : first);
    }
  }
  const linesOf = (text) => text.split(/\r?\n/).map((l) => l.trim()).filter(Boolean);
  byID("pin-read").addEventListener("paste", (e) => {
    const lines = linesOf(e.clipboardData.getData("text"));
    if (lines.length < 2) return;
    e.preventDefault();
    takeLog(lines);
  });
  const logs = (files) => byID("pin-now").hidden ? [] : files.filter((f) => /\.(?:csv|txt|log)$/i.test(f.name) && f.size < 1e6);
  /* F9 takes what the instrument on the bench shows: at the pin that is asked for, or into
     the row of measurements that is being typed, else into a new one. */
  byID("pin-meter").hidden = !state.meter;
  async function fromMeter() {
    const row = document.activeElement?.closest?.('table[data-table="Measurements"] tbody tr'), pin = document.activeElement === byID("pin-read");
    const r = await ask("/meter", { method: "POST" });
    if (!r.ok) { saved.textContent = (await r.text()).trim(); return; }
    const a = await r.json();
    if (pin) { takePin(a.read); return; }
    const put = (column, value) => {
      const cell = row?.querySelector('[data-column="' + column + '"] input');
      if (!cell || column === "what" && cell.value !== "") return;
      cell.value = value;
      cell.dispatchEvent(new Event("input", { bubbles: true }));
    };
    if (row) { put("what", a.what); put("read", a.read); } else addRow("table:Measurements", a);
    saved.textContent = say("Taken from the instrument: %s", a.read);
  }
  addEventListener("keydown", (e) => { if (e.key === "F9" && state.meter) { e.preventDefault(); fromMeter(); } });
  byID("pin-meter").addEventListener("click", () => { byID("pin-read").focus(); fromMeter(); });
  byID("pin-end").addEventListener("click", () => {
    for (const [k, read] of walk.read) addRow("table:Measurements", { point: walk.pins[k].pin, what: byID("pin-what").value, state: byID("pin-state").value, read });
    byID("pin-said").textContent = say("%s readings are in the table.", walk.read.size);
    byID("pin-now").hidden = true;
    byID("by-pin").querySelector("summary").focus();
  });

  /* The strip of sections says which have nothing yet and which have something to mend;
     the list of keys opens by "?". */
  const map = byID("key-map");
  const typing = (e) => e.target.closest?.("input, textarea, select, [contenteditable]");
  byID("keys").hidden = false;
  byID("keys").addEventListener("click", () => map.showModal());
  addEventListener("keydown", (e) => {
    if (typing(e) || e.ctrlKey || e.metaKey || e.altKey || map.open) return;
    if (e.key === "?") { e.preventDefault(); map.showModal(); }
    if (e.key === "/") { e.preventDefault(); document.querySelector("#sheet [data-field]").focus(); }
  });
  byID("strip").hidden = false;
  function showStrip(problems) {
    for (const a of byID("strip").querySelectorAll("a")) {
      const box = document.getElementById(a.getAttribute("href").slice(1))?.closest("section, details");
      if (!box) continue;
      const names = new Set([...box.querySelectorAll("[data-field]")].map((f) => f.name).concat([...box.querySelectorAll("table[data-table]")].map((t) => "table:" + t.dataset.table)));
      const wrong = problems.filter((p) => names.has(p.field) && p.severity !== "note").length;
      const some = [...box.querySelectorAll("[data-field], table[data-table] input")].some((f) => f.value.trim() !== "");
      const [sign, word] = wrong > 0 ? ["▲ " + wrong, say("%s to mend", wrong)] : some ? ["●", say("has something")] : ["○", say("nothing yet")];
      a.querySelector("span").textContent = sign;
      a.title = word;
      a.setAttribute("aria-label", a.firstChild.textContent.trim() + ": " + word);
    }
  }

  /* Pictures with marks. */
  const shapes = { pin: say("Pin"), box: say("Box"), arrow: say("Arrow"), blur: say("Blur for good"), place: say("Place of the board") };
  const SVG = "http://www.w3.org/2000/svg";
  const draw = (tag, attributes, text) => {
    const e = document.createElementNS(SVG, tag);
    for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
    if (text) e.textContent = text;
    return e;
  };
  const percent = (x) => (100 * x).toFixed(1) + "%";
  const round = (x) => Math.round(Math.min(1, Math.max(0, x)) * 1000) / 1000;
  const fine = (x) => Math.round(Math.min(1, Math.max(0, x)) * 10000) / 10000; // places are looked for to the tenth of a millimetre
  function drawPhotos() {
    const area = byID("photos"), open = document.activeElement?.closest?.("[data-photo]")?.dataset.photo;
    area.replaceChildren(...photos.map(photoFigure));
    if (open !== undefined) area.querySelector('[data-photo="' + CSS.escape(open) + '"] .marker')?.focus();
  }
  function photoFigure(p, index) {
    const fig = element("figure"), frame = element("div", "", "marker"), img = element("img"), svg = draw("svg", { "aria-hidden": "true" }), tools = element("p", "", "tap");
    fig.dataset.photo = p.file;
    img.src = at + "/picture/" + encodeURIComponent(p.file) + (p.fresh ? "?" + p.fresh : "");
    img.alt = p.caption;
    frame.tabIndex = 0;
    frame.setAttribute("role", "application");
    frame.setAttribute("aria-label", say("Marks on %s. Arrows move the cross, Enter sets a mark.", p.caption));
    frame.append(img, svg);
    let shape = "pin", cross = [0.5, 0.5], begun = null;
    const status = element("p", "", "hint");
    status.setAttribute("role", "status");
    const changed = () => { touch("photos"); paint(); };
    const set = async (x, y) => {
      if (shape === "place") { setPlace(x, y); return; }
      [x, y] = [round(x), round(y)];
      if (shape === "pin") { (p.marks ??= []).push({ x, y, label: String(p.marks.length + 1) }); changed(); labels(true); return; }
      if (!begun) { begun = [x, y]; status.textContent = say("Now the other corner, or where the arrow points."); paint(); return; }
      const [a, b] = begun;
      begun = null;
      status.textContent = "";
      if (shape !== "blur") { (p.marks ??= []).push({ x: a, y: b, label: String(p.marks.length + 1), shape, to: [x, y] }); changed(); labels(true); return; }
      const r = await ask("/blur", { method: "POST", body: JSON.stringify({ file: p.file, x: Math.min(a, x), y: Math.min(b, y), w: Math.abs(a - x), h: Math.abs(b - y) }), headers: { "Content-Type": "application/json" } });
      if (!r.ok) { status.textContent = (await r.text()).trim(); paint(); return; }
      const done = await r.json();
      p.file = done.file;
      p.fresh = Date.now();
      take(done.answer);
      for (const q of photos) if (q.file === done.file) q.fresh = p.fresh;
      drawPhotos();
    };
    const paint = () => {
      svg.replaceChildren();
      (p.marks ?? []).forEach((m, i) => {
        if (m.shape === "box") for (const c of ["mark-halo", "mark-shape"]) svg.append(draw("rect", { class: c, x: percent(Math.min(m.x, m.to[0])), y: percent(Math.min(m.y, m.to[1])), width: percent(Math.abs(m.x - m.to[0])), height: percent(Math.abs(m.y - m.to[1])) }));
        if (m.shape === "arrow") { for (const c of ["mark-halo", "mark-shape"]) svg.append(draw("line", { class: c, x1: percent(m.x), y1: percent(m.y), x2: percent(m.to[0]), y2: percent(m.to[1]) })); svg.append(draw("circle", { class: "mark-tip", cx: percent(m.to[0]), cy: percent(m.to[1]), r: 5 })); }
        svg.append(draw("circle", { class: "mark-pin", cx: percent(m.x), cy: percent(m.y), r: 11 }), draw("text", { class: "mark-number", x: percent(m.x), y: percent(m.y), dy: 5 }, String(i + 1)));
      });
      for (const q of p.points ?? []) {
        const [x, y] = [percent(q.x), percent(q.y)];
        svg.append(draw("circle", { class: "mark-halo", cx: x, cy: y, r: 7 }), draw("circle", { class: "mark-shape", cx: x, cy: y, r: 7 }), draw("circle", { class: "mark-tip", cx: x, cy: y, r: 2 }), draw("text", { class: "mark-place", x, y, dy: -11 }, q.at));
      }
      if (document.activeElement === frame || begun) {
        const [x, y] = cross;
        svg.append(draw("line", { class: "cross", x1: percent(x), y1: "0%", x2: percent(x), y2: "100%" }), draw("line", { class: "cross", x1: "0%", y1: percent(y), x2: "100%", y2: percent(y) }));
        if (begun) svg.append(draw("circle", { class: "mark-tip", cx: percent(begun[0]), cy: percent(begun[1]), r: 6 }));
      }
    };
    frame.addEventListener("focus", paint);
    frame.addEventListener("blur", paint);
    frame.addEventListener("keydown", (e) => {
      const step = (e.shiftKey ? 0.1 : 0.02) / (shape === "place" ? 10 : 1), move = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[e.key];
      if (move) { e.preventDefault(); cross = [fine(cross[0] + move[0]), fine(cross[1] + move[1])]; paint(); }
      else if (e.key === "Enter" || e.key === " ") { e.preventDefault(); set(...cross); }
      else if (e.key === "Escape") { begun = null; status.textContent = ""; paint(); }
    });
    frame.addEventListener("click", (e) => {
      const r = img.getBoundingClientRect();
      cross = [fine((e.clientX - r.left) / r.width), fine((e.clientY - r.top) / r.height)];
      set(...cross);
    });
    /* Places of the board: from four on the picture is laid onto its drawing. */
    const places = element("div"), sideField = element("p", "", "field"), sideLabel = element("label", say("Shows this side of the board")), sides = element("select");
    sides.id = "side-" + index;
    sideLabel.htmlFor = sides.id;
    sides.append(new Option(say("not a board, or not to be laid onto it"), ""), new Option(say("top"), "top"), new Option(say("bottom"), "bottom"));
    sides.value = p.side ?? "";
    sideField.append(sideLabel, sides);
    const placeField = element("p", "", "field"), placeLabel = element("label", say("Next place: designator, pin (J9.12) or millimetres (12.5; 30)")), place = element("input");
    place.id = "place-" + index;
    placeLabel.htmlFor = place.id;
    place.autocomplete = "off";
    placeField.append(placeLabel, place);
    const marked = element("ul", "", "places"), told = element("p", "", "hint");
    told.setAttribute("role", "status");
    places.append(placeField, told, marked);
    const setPlace = (x, y) => {
      const name = place.value.trim();
      if (!name) { told.textContent = say("First write which place it is, then point at it."); place.focus(); return; }
      p.points = [...(p.points ?? []).filter((q) => q.at.toUpperCase() !== name.toUpperCase()), { at: name, x, y }];
      place.value = "";
      changed();
      laid();
      place.focus();
    };
    let asked = 0;
    const laid = async () => {
      places.hidden = sides.value === "";
      const turn = ++asked, list = p.points ?? [];
      const rows = (off, left) => marked.replaceChildren(...list.map((q, i) => {
        const li = element("li", q.at + (off?.[i] !== undefined ? ": " + say("%s mm off", off[i].toFixed(2)) : "") + (left?.includes(i) ? " " + say("(left out)") : "") + " ");
        li.append(button(say("Take out %s", q.at), () => { p.points.splice(p.points.indexOf(q), 1); if (p.points.length === 0) delete p.points; changed(); laid(); }));
        return li;
      }));
      rows();
      if (sides.value === "" || list.length === 0) { told.textContent = ""; return; }
      if (list.length < 4) { told.textContent = say("%s of at least 4 places marked; choose some near the corners.", list.length); return; }
      const r = await ask("/lay", { method: "POST", body: JSON.stringify({ file: p.file, side: sides.value, points: list }), headers: { "Content-Type": "application/json" } });
      if (turn !== asked) return;
      if (!r.ok) { told.textContent = (await r.text()).trim(); return; }
      const a = await r.json();
      rows(a.off, a.left);
      told.textContent = [a.laid ? (a.sure ? say("Laid onto the board within %s mm.", a.within.toFixed(2)) : say("Laid onto the board; a fifth place would show whether it is right.")) : "", ...a.said].filter(Boolean).join(" ");
    };
    sides.addEventListener("change", () => { if (sides.value) p.side = sides.value; else delete p.side; touch("photos"); if (sides.value) tools.querySelector('[data-shape="place"]').click(); laid(); });
    for (const [id, name] of Object.entries(shapes)) {
      const b = button(name, () => { shape = id; begun = null; tools.querySelectorAll("[data-shape]").forEach((x) => x.setAttribute("aria-pressed", String(x === b))); });
      b.dataset.shape = id;
      b.setAttribute("aria-pressed", String(id === shape));
      tools.append(b);
    }
    const out = button(say("Take the picture out"), () => { photos.splice(photos.indexOf(p), 1); touch("photos"); drawPhotos(); });
    tools.append(out);
    const caption = element("p", "", "field"), input = element("input"), label = element("label", say("What it shows"));
    input.id = "caption-" + index;
    label.htmlFor = input.id;
    input.value = p.caption;
    input.addEventListener("input", () => { p.caption = input.value; touch("photos"); });
    caption.append(label, input);
    const list = element("div");
    const labels = (focus) => {
      list.replaceChildren(...(p.marks ?? []).map((m, i) => {
        const row = element("p", "", "field"), l = element("label", say("Mark %s says", i + 1)), t = element("input");
        t.id = "mark-" + index + "-" + i;
        l.htmlFor = t.id;
        t.value = m.label;
        t.addEventListener("input", () => { m.label = t.value; touch("photos"); });
        row.append(l, t, " ", button(say("Take out mark %s", i + 1), () => { p.marks.splice(i, 1); if (p.marks.length === 0) delete p.marks; changed(); labels(); }));
        return row;
      }));
      if (focus) { const last = list.querySelector("p:last-child input"); last?.focus(); last?.select(); }
    };
    const pair = element("p", "", "field"), choose = element("select"), what = element("label", say("Shown beside, as before and after"));
    choose.id = "pair-" + index;
    what.htmlFor = choose.id;
    choose.append(new Option(say("no other picture"), ""), ...photos.filter((q) => q !== p).map((q) => new Option(q.caption, q.file)));
    choose.value = p.compare ?? "";
    choose.addEventListener("change", () => { if (choose.value) p.compare = choose.value; else delete p.compare; touch("photos"); });
    pair.append(what, choose);
    labels();
    paint();
    fig.append(frame, status, tools, caption, list, sideField, places);
    laid();
    if (photos.length > 1) fig.append(pair);
    return fig;
  }
  async function addPhotos(files) {
    if (files.length === 0) return;
    await keep();
    const body = new FormData();
    if (byID("keep-original").checked) body.append("keep", "1"); // before the pictures, which are read as they come
    for (const f of files) body.append("picture", f, f.name || "picture");
    saved.textContent = files.length === 1 ? say("Sending 1 picture …") : say("Sending %s pictures …", files.length);
    try {
      const r = await ask("/pictures", { method: "POST", body });
      if (!r.ok) { saved.textContent = say("Not taken: %s", (await r.text()).trim()); return; }
      const a = await r.json();
      take(a.answer);
      if (a.problems?.length > 0) saved.textContent = say("Not taken: %s", a.problems.join("; "));
      byID("photos").querySelector('[data-photo="' + CSS.escape(a.added[0]) + '"] .marker')?.focus();
    } catch {
      saved.textContent = say("Not taken: the server does not answer.");
    }
  }
  byID("add-photos").hidden = false;
  byID("pick-photos").addEventListener("change", (e) => { addPhotos([...e.target.files]); e.target.value = ""; });
  addEventListener("paste", (e) => { const files = [...(e.clipboardData?.files ?? [])]; if (files.length > 0) { e.preventDefault(); addPhotos(files); } });
  addEventListener("dragover", (e) => e.preventDefault());
  addEventListener("drop", async (e) => {
    e.preventDefault();
    const files = [...(e.dataTransfer?.files ?? [])], text = logs(files);
    for (const f of text) takeLog(linesOf(await f.text()));
    addPhotos(files.filter((f) => !text.includes(f)));
  });
  byID("by-phone").addEventListener("click", async () => {
    const box = byID("phone"), r = await ask("/phone", { method: "POST" });
    box.hidden = false;
    if (!r.ok) { box.textContent = (await r.text()).trim(); return; }
    const a = await r.json(), n = a.code.length, svg = draw("svg", { class: "code-drawing", viewBox: "-4 -4 " + (n + 8) + " " + (n + 8), role: "img", "aria-label": say("QR code of %s", a.link) });
    let d = "";
    a.code.forEach((row, y) => row.forEach((on, x) => { if (on) d += "M" + x + " " + y + "h1v1h-1z"; }));
    svg.append(draw("rect", { x: -4, y: -4, width: n + 8, height: n + 8, fill: "#fff" }), draw("path", { d, fill: "#000" }));
    box.replaceChildren(svg, element("br"), say("Anybody on this network who sees the code can send pictures for this case; good for one phone and %s minutes.", a.minutes) + " " + a.link);
  });

  /* Minutes, counted by a clock that survives a reload. */
  const clock = byID("clock"), store = "clock-" + state.id;
  const running = () => Number(localStorage.getItem(store)) || 0;
  const tick = () => { clock.textContent = running() ? say("Stop the clock: %s min", Math.floor((Date.now() - running()) / 60000)) : say("Start the clock"); };
  clock.hidden = false;
  clock.addEventListener("click", () => {
    if (!running()) { localStorage.setItem(store, String(Date.now())); tick(); return; }
    const minutes = Math.max(1, Math.round((Date.now() - running()) / 60000));
    localStorage.removeItem(store);
    const name = known["cause.fault"] ? "minutes.repair" : "minutes.diagnosis", input = inputs.get(name);
    input.value = String((Number(input.value) || 0) + minutes);
    touch(name);
    tick();
  });
  tick();
  setInterval(tick, 10000);

  for (const [id, body] of [["undo", ""], ["redo", "redo=1"]]) byID(id).addEventListener("click", async () => {
    await keep();
    const r = await ask("/undo", { method: "POST", body: new URLSearchParams(body) });
    if (r.ok) { const a = await r.json(); Object.keys(known).forEach((n) => dirty.delete(n)); take(a, Object.fromEntries(Object.keys(known).map((n) => [n, { now: null }]))); }
    else saved.textContent = (await r.text()).trim();
  });

  /* Beside the text. */
  let later = 0;
  const besideSoon = () => { clearTimeout(later); later = setTimeout(beside, 700); };
  async function beside() {
    let a;
    try {
      const r = await ask("/aside");
      if (!r.ok) return;
      a = await r.json();
    } catch { return; }
    const box = byID("aside");
    box.replaceChildren();
    const block = (title, items) => { if (items.length === 0) return; const ul = element("ul"); items.forEach((i) => { const li = element("li"); li.append(...i); ul.append(li); }); box.append(element("h3", title), ul); };
    const link = (id, text) => { const l = element("a", text); l.href = "/cases/" + encodeURIComponent(id) + ".html"; return l; };
    block(say("Likely causes"), a.causes.map((c) => [c.name + ": " + say("%s % (%s to %s %)", (100 * c.p).toFixed(0), (100 * c.low).toFixed(0), (100 * c.high).toFixed(0)) + " ", ...c.cases.map((id) => link(id, id + " "))]));
    block(say("Check next"), a.checks.map((c) => [button(say("Note it"), () => {
      const t = tables.get("table:Findings"), rows = t.tBodies[0].rows, cell = rows[rows.length - 1].querySelector("input");
      cell.value = c.check;
      cell.dispatchEvent(new Event("input", { bubbles: true }));
      t.tBodies[0].rows[rows.length - 2].querySelectorAll("input")[1].focus();
    }), " " + c.check + " " + say("(%s min, shows it in %s %)", c.minutes.toFixed(0), (100 * c.finds).toFixed(0)) + (c.first ? ". " + say("First: %s", c.first) : "")]));
    block(say("Cases like this one"), a.similar.map((s) => [link(s.id, s.id + " " + s.title), " " + s.why]));
    if (a.basis) box.append(element("p", a.basis, "meta"));
  }

  /* Another window, or an editor outside. */
  setInterval(async () => {
    if (busy || dirty.size > 0 || document.hidden) return;
    try {
      const r = await ask("/state?version=" + version);
      if (r.status !== 200) { if (r.status >= 400) saved.textContent = (await r.text()).trim(); return; }
      const a = await r.json();
      if (dirty.size > 0 || a.version === version) return;
      take(a);
      saved.textContent = say("Changed elsewhere, and shown here as it is now.");
    } catch { saved.textContent = say("The server does not answer; what you type stays here until it does."); }
  }, 3000);

  drawPhotos();
  showProblems(state.checked);
  byID("undo").hidden = state.back === 0;
  byID("redo").hidden = state.forward === 0;
  beside();
  /* What was typed for a choice that is still open is there again, from the disk and from
     this browser. */
  let caught = [];
  try { caught = JSON.parse(localStorage.getItem(net) ?? "[]"); } catch { /* the disk has it */ }
  for (const o of [...caught, ...state.open]) {
    if (!(o.field in known) || known[o.field] === o.mine || open.get(o.field)?.id === o.id) continue;
    if (open.has(o.field)) { // two texts for one field: one is shown after the other
      queued.push({ id: o.id, field: o.field, mine: o.mine });
      continue;
    }
    open.set(o.field, { id: o.id, field: o.field, mine: o.mine });
  }
  byID("opened")?.remove();
  for (const o of open.values()) {
    write(o.field, o.mine);
    showClash(o.field);
    if (!state.open.some((x) => x.id === o.id && x.mine === o.mine)) sendOpen(o);
  }
  catchOpen();
  if (open.size > 0) saved.textContent = openText() + ".";
  /* Nobody leaves without being told of it. */
  let leaving = false;
  addEventListener("beforeunload", (e) => {
    if (dirty.size > 0 || busy) keep();
    if (!leaving && (open.size > 0 || dirty.size > 0 || busy || unsent)) e.preventDefault();
  });
  addEventListener("click", (e) => {
    const a = e.target.closest?.("a[href]");
    if (!a || open.size === 0 || e.defaultPrevented || e.button !== 0 || e.ctrlKey || e.metaKey || e.shiftKey || a.target || a.getAttribute("href").startsWith("#")) return;
    e.preventDefault();
    const dialog = byID("leave");
    dialog.returnValue = "stay";
    dialog.onclose = async () => {
      if (dialog.returnValue !== "go") { document.querySelector("#sheet [data-clash], #clashes [data-clash]")?.focus(); return; }
      clearTimeout(openTimer);
      for (const o of open.values()) await sendOpen(o);
      if (unsent) return; // it says why
      await keep();
      leaving = dirty.size === 0 && !busy;
      location.href = a.href;
    };
    dialog.showModal();
  });
})();
