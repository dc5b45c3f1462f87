"use strict";
/* The drawing of a board: it is moved, enlarged and turned over, a part or net is
   found and shown, what a case touched is marked, and distances are measured. The
   drawing itself is in the page; this only lays marks over it. */
(() => {
  const byID = (id) => document.getElementById(id);
  const SVG = "http://www.w3.org/2000/svg", margin = 2, smallest = 2, near = 3, unknown = 0.6;
  const told = byID("told"), sought = byID("sought"), offers = byID("offers"), touched = byID("touched"), measure = byID("measure");
  const figures = { 0: byID("side-top"), 1: byID("side-bottom") };
  const drawings = { 0: figures[0]?.querySelector("svg"), 1: figures[1]?.querySelector("svg") };
  let board = null, parts = [], side = 0, view = null, whole = null, chosen = null, net = -1, from = null, measuring = false, waiting = false;
  const grid = [new Map(), new Map()], cell = 5;
  const photo = byID("photo"), second = byID("second"), wipe = byID("wipe"), blink = byID("blink");

  const element = (tag, text, className) => {
    const e = document.createElement(tag);
    if (text) e.textContent = text;
    if (className) e.className = className;
    return e;
  };
  const shape = (tag, attributes) => {
    const e = document.createElementNS(SVG, tag);
    for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
    return e;
  };
  const mm = (x) => x.toLocaleString(document.documentElement.lang, { minimumFractionDigits: 2, maximumFractionDigits: 2, useGrouping: false }) + " mm";

  globalThis.benchloreBoard = (text) => {
    board = JSON.parse(text);
    parts = board.parts.map((r, i) => ({
      i, ref: r[0], x: r[1], y: r[2], turn: r[3], side: r[4], size: [r[5], r[6]], value: board.words[r[7]], pack: board.words[r[8]],
      does: board.words[r[9]], without: board.words[r[10]], important: r[11] === 1, pins: r[12],
    }));
    for (const p of parts) {
      p.corners = corners(p);
      const xs = p.corners.map((c) => c[0]), ys = p.corners.map((c) => c[1]);
      p.box = [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
      cells(p.box, (key) => {
        if (!grid[p.side].has(key)) grid[p.side].set(key, []);
        grid[p.side].get(key).push(p);
      });
    }
    board.members = board.nets.map(() => []);
    for (const p of parts) {
      const own = new Set();
      for (let k = 0; k < p.pins.length; k += 3) if (p.pins[k] >= 0) own.add(p.pins[k]);
      p.nets = [...own].sort((a, b) => a - b);
      for (const n of p.nets) board.members[n].push(p);
    }
    whole = [0, 0, board.high[0] - board.low[0] + 2 * margin, board.high[1] - board.low[1] + 2 * margin];
    view = [...whole];
    for (const s of [0, 1]) if (drawings[s]) prepare(s);
    byID("tools").hidden = false;
    delete byID("finding").dataset.waiting;
    byID("keys").hidden = false;
    byID("turn").hidden = !drawings[1];
    byID("turn").addEventListener("click", turnOver);
    byID("nearer").addEventListener("click", () => zoom(0.6));
    byID("farther").addEventListener("click", () => zoom(1 / 0.6));
    byID("whole").addEventListener("click", () => look([...whole]));
    measure.addEventListener("click", () => setMeasuring(!measuring));
    byID("drill").addEventListener("click", () => setDrill(!drill));
    byID("drill-next").addEventListener("click", nextFind);
    sought.addEventListener("input", offer);
    sought.addEventListener("keydown", (e) => {
      if (e.key === "Enter") offers.querySelector("button")?.click();
    });
    touched?.addEventListener("change", () => remember({ case: touched.value }));
    photo?.addEventListener("change", () => { const has = new URLSearchParams(location.hash.slice(1)); underlay(); remember(Object.fromEntries([...has].filter(([k]) => k !== "photo"))); });
    second?.addEventListener("change", lay);
    wipe?.addEventListener("input", wiped);
    blink?.addEventListener("click", () => turns(!blinking));
    addEventListener("hashchange", fromAddress);
    addEventListener("beforeprint", () => { for (const s of [0, 1]) if (figures[s]) { figures[s].hidden = false; show(drawings[s], whole); showNames(drawings[s], 0); } });
    addEventListener("afterprint", () => { showSide(); draw(); });
    showSide();
    fromAddress();
    if (location.hash === "#drill") setDrill(true);
  };

  function corners(p) {
    const l = (p.size[0] || unknown) / 2, w = (p.size[1] || unknown) / 2, a = p.turn * Math.PI / 180, cos = Math.cos(a), sin = Math.sin(a);
    return [[-l, -w], [l, -w], [l, w], [-l, w]].map(([x, y]) => [p.x + x * cos - y * sin, p.y + x * sin + y * cos]);
  }
  function cells(box, each) {
    for (let x = Math.floor(box[0] / cell); x <= Math.floor(box[2] / cell); x++)
      for (let y = Math.floor(box[1] / cell); y <= Math.floor(box[3] / cell); y++) each(x + "," + y);
  }
  /* Distance of two bodies: none where no line along an edge separates them. */
  function gap(a, b) {
    const apart = (s) => s.some((p, i) => {
      const q = s[(i + 1) % 4], n = [q[1] - p[1], p[0] - q[0]];
      const along = (r) => r.map((c) => c[0] * n[0] + c[1] * n[1]);
      const u = along(a), v = along(b);
      return Math.max(...u) < Math.min(...v) || Math.max(...v) < Math.min(...u);
    });
    if (!apart(a) && !apart(b)) return 0;
    let least = Infinity;
    const edge = (p, q, r) => {
      const dx = r[0] - q[0], dy = r[1] - q[1], l = dx * dx + dy * dy;
      const t = l > 0 ? Math.min(1, Math.max(0, ((p[0] - q[0]) * dx + (p[1] - q[1]) * dy) / l)) : 0;
      return Math.hypot(p[0] - q[0] - t * dx, p[1] - q[1] - t * dy);
    };
    for (let i = 0; i < 4; i++) for (let j = 0; j < 4; j++) least = Math.min(least, edge(a[i], b[j], b[(j + 1) % 4]), edge(b[i], a[j], a[(j + 1) % 4]));
    return least;
  }
  function neighbours(p) {
    const found = new Map();
    cells([p.box[0] - near, p.box[1] - near, p.box[2] + near, p.box[3] + near], (key) => {
      for (const q of grid[p.side].get(key) ?? []) if (q !== p && !found.has(q)) found.set(q, gap(p.corners, q.corners));
    });
    return [...found].filter(([, g]) => g <= near).sort((a, b) => a[1] - b[1] || a[0].i - b[0].i);
  }

  const place = (x, y) => [side === 1 ? board.high[0] - x + margin : x - board.low[0] + margin, board.high[1] - y + margin];
  const outline = (p) => "M" + p.corners.map((c) => place(...c).join(" ")).join("L") + "Z";

  function prepare(s) {
    const d = drawings[s];
    /* The content is moved within the drawing: that costs a browser far less than
       another view box, for which it looks at every element again. */
    const all = shape("g", { class: "all" });
    all.append(...d.children);
    d.append(all, shape("path", { class: "centre", d: `M${whole[2] / 2 - 1.5} ${whole[3] / 2}h3M${whole[2] / 2} ${whole[3] / 2 - 1.5}v3` }));
    d.tabIndex = 0;
    d.classList.add("live");
    all.append(shape("g", { class: "marks" }));
    d.addEventListener("keydown", onKey);
    d.addEventListener("wheel", (e) => { if (document.activeElement === d || e.ctrlKey) { e.preventDefault(); zoom(e.deltaY > 0 ? 1.2 : 1 / 1.2, point(e)); } }, { passive: false });
    const fingers = new Map();
    let moved = 0;
    d.addEventListener("pointerdown", (e) => { d.setPointerCapture(e.pointerId); fingers.set(e.pointerId, e); moved = 0; });
    d.addEventListener("pointermove", (e) => {
      const before = fingers.get(e.pointerId);
      if (!before) return;
      const by = scale();
      if (fingers.size === 1) {
        moved += Math.abs(e.clientX - before.clientX) + Math.abs(e.clientY - before.clientY);
        look([view[0] - (e.clientX - before.clientX) * by, view[1] - (e.clientY - before.clientY) * by, view[2], view[3]]);
      } else {
        moved = Infinity;
        const other = [...fingers].find(([id]) => id !== e.pointerId)[1];
        const now = Math.hypot(e.clientX - other.clientX, e.clientY - other.clientY), then = Math.hypot(before.clientX - other.clientX, before.clientY - other.clientY);
        if (now > 0 && then > 0) zoom(then / now, point({ clientX: (e.clientX + other.clientX) / 2, clientY: (e.clientY + other.clientY) / 2 }));
      }
      fingers.set(e.pointerId, e);
    });
    const up = (e) => {
      if (!fingers.delete(e.pointerId) || moved > 6 || e.type !== "pointerup") return;
      const p = partAt(point(e));
      if (p) pick(p);
    };
    d.addEventListener("pointerup", up);
    d.addEventListener("pointercancel", up);
  }
  /* Pictures lie under the drawing: they were drawn anew to its very millimetres, so
     what is pointed at on one is pointed at on the other, and two of one side show the
     same place at the same spot. */
  let blinking = 0;
  function underlay() {
    const chosenPhoto = photo.selectedOptions[0];
    if (photo.value) {
      const s = chosenPhoto.dataset.side === "bottom" ? 1 : 0;
      if (s !== side && drawings[s]) turnOver();
      second.replaceChildren(new Option(say("nothing"), ""));
      for (const o of photo.options) if (o.value && o !== chosenPhoto && o.dataset.side === chosenPhoto.dataset.side) second.append(new Option(o.text, o.value));
    }
    byID("against").hidden = !photo.value || second.options.length < 2;
    lay();
  }
  function lay() {
    turns(false);
    for (const s of [0, 1]) {
      const d = drawings[s];
      if (!d) continue;
      for (const e of d.querySelectorAll("image, clipPath")) e.remove();
      const mine = photo.value && (photo.selectedOptions[0].dataset.side === "bottom" ? 1 : 0) === s;
      d.classList.toggle("on-photo", Boolean(mine));
      if (!mine) continue;
      const put = (id, attributes) => shape("image", { href: document.querySelector(`img[data-photo="${id}"]`).getAttribute("src"), width: whole[2], height: whole[3], preserveAspectRatio: "none", ...attributes });
      const under = [put(photo.value, {})];
      if (second.value) {
        const clip = shape("clipPath", { id: "wiped" });
        clip.append(shape("rect", { width: whole[2], height: whole[3] }));
        under.push(clip, put(second.value, { "clip-path": "url(#wiped)", class: "second" }));
      }
      d.firstElementChild.prepend(...under);
    }
    byID("mixing").hidden = !second.value;
    wiped();
  }
  function wiped() {
    drawings[side]?.querySelector("clipPath rect")?.setAttribute("width", String(whole[2] * Number(wipe.value) / 100));
  }
  function turns(on) {
    clearInterval(blinking);
    blinking = 0;
    blink.setAttribute("aria-pressed", String(on));
    const over = drawings[side]?.querySelector("image.second");
    drawings[side]?.querySelector("clipPath rect")?.setAttribute("width", String(on ? whole[2] : whole[2] * Number(wipe.value) / 100));
    over?.removeAttribute("visibility");
    if (on && over) blinking = setInterval(() => over.setAttribute("visibility", over.getAttribute("visibility") === "hidden" ? "visible" : "hidden"), 700);
  }
  /* Where a pointer is on the drawing, mm from its corner. */
  function point(e) {
    const r = drawings[side].getBoundingClientRect(), s = scale();
    return [view[0] + view[2] / 2 + (e.clientX - r.left - r.width / 2) * s, view[1] + view[3] / 2 + (e.clientY - r.top - r.height / 2) * s];
  }
  /* mm in a pixel; the drawing may be wider than what it shows. */
  function scale() {
    const d = drawings[side];
    return Math.max(view[2] / Math.max(1, d.clientWidth), view[3] / Math.max(1, d.clientHeight));
  }
  function partAt(at) {
    const [u, v] = at;
    const x = side === 1 ? board.high[0] - u + margin : u + board.low[0] - margin, y = board.high[1] - v + margin;
    /** @type {any} */ let best = null, least = Math.max(0.3, view[2] / 100);
    const reach = least;
    cells([x - reach, y - reach, x + reach, y + reach], (key) => {
      for (const p of grid[side].get(key) ?? []) {
        const g = gap([[x, y], [x, y], [x, y], [x, y]], p.corners);
        const size = (p.box[2] - p.box[0]) * (p.box[3] - p.box[1]);
        if (g < least || g === 0 && least === 0 && best !== null && size < best.size) { best = { p, size }; least = g; }
      }
    });
    return best?.p;
  }
  function onKey(e) {
    const step = view[2] / 8;
    const act = {
      ArrowLeft: () => look([view[0] - step, view[1], view[2], view[3]]), ArrowRight: () => look([view[0] + step, view[1], view[2], view[3]]),
      ArrowUp: () => look([view[0], view[1] - step, view[2], view[3]]), ArrowDown: () => look([view[0], view[1] + step, view[2], view[3]]),
      "+": () => zoom(0.7), "=": () => zoom(0.7), "-": () => zoom(1 / 0.7), "−": () => zoom(1 / 0.7), 0: () => look([...whole]), t: turnOver, T: turnOver,
      Enter: () => { if (drill?.told) { nextFind(); return; } const p = partAt([view[0] + view[2] / 2, view[1] + view[3] / 2]); if (p) pick(p); },
    }[e.key];
    if (!act || e.ctrlKey || e.metaKey || e.altKey) return;
    e.preventDefault();
    act();
  }
  function zoom(by, about) {
    const w = Math.min(whole[2] * 1.5, Math.max(smallest, view[2] * by)), h = w * whole[3] / whole[2];
    const at = about ?? [view[0] + view[2] / 2, view[1] + view[3] / 2];
    look([at[0] - (at[0] - view[0]) * w / view[2], at[1] - (at[1] - view[1]) * h / view[3], w, h]);
  }
  function look(v) {
    const clamp = (at, length, all) => Math.min(Math.max(at, -length / 2), all - length / 2);
    view = [clamp(v[0], v[2], whole[2]), clamp(v[1], v[3], whole[3]), v[2], v[3]];
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => { waiting = false; draw(); });
  }
  function draw() {
    const d = drawings[side];
    show(d, view);
    showNames(d, scale());
  }
  function show(d, v) {
    d.dataset.view = v.map((x) => x.toFixed(3)).join(" ");
    const k = whole[2] / v[2];
    d.firstElementChild.setAttribute("transform", `matrix(${k} 0 0 ${k} ${-v[0] * k} ${-v[1] * k})`);
  }
  /* Names that would be smaller than a reader can read are left out. */
  function showNames(d, scale) {
    for (const g of d.querySelectorAll(".names")) g.classList.toggle("small", Number(g.dataset.size) / scale < 5.5);
  }
  function showSide() {
    for (const s of [0, 1]) if (figures[s]) figures[s].hidden = s !== side;
    byID("turn").textContent = side === 0 ? say("Turn over: bottom") : say("Turn over: top");
    draw();
    marks();
  }
  function turnOver() {
    if (!drawings[1 - side]) return;
    const focused = document.activeElement === drawings[side];
    side = 1 - side;
    view = [whole[2] - view[0] - view[2], view[1], view[2], view[3]];
    showSide();
    if (focused) drawings[side].focus();
  }
  function setMeasuring(on) {
    measuring = on;
    from = on ? chosen : null;
    measure.setAttribute("aria-pressed", String(on));
    measure.textContent = on ? (from ? say("Measuring from %s: choose the other part", from.ref) : say("Measuring: choose the first part")) : say("Measure a distance");
    marks();
  }

  function offer() {
    const word = sought.value.trim().toUpperCase();
    offers.replaceChildren();
    offers.hidden = word === "";
    if (word === "") return;
    const rank = (name) => { const n = name.toUpperCase(); return n === word ? 0 : n.startsWith(word) ? 1 : n.includes(word) ? 2 : 3; };
    const list = [...parts.map((p) => [rank(p.ref), p.ref, () => pick(p)]), ...board.nets.map((n) => [rank(n.n), say("%s, net", n.n), () => remember({ net: n.n })])]
      .filter((o) => o[0] < 3).sort((a, b) => a[0] - b[0]).slice(0, 12);
    for (const [, name, act] of list) {
      const item = element("li"), b = element("button", name);
      b.type = "button";
      b.addEventListener("click", act);
      item.append(b);
      offers.append(item);
    }
    if (list.length === 0) offers.append(element("li", say("Nothing of that name.")));
  }
  /* Practising: a part is named, and its place is to be found while no name stands on
     the drawing; a picture lies under it where there is one. With keys, Enter takes the
     part under the cross, and again goes on to the next. */
  /** @type {null | { part: any, tries: number, right: number, told: boolean }} */
  let drill = null;
  function setDrill(on) {
    drill = on ? { part: null, tries: 0, right: 0, told: false } : null;
    byID("drill").setAttribute("aria-pressed", String(on));
    byID("drill").textContent = on ? say("End practising") : say("Practise: find a part");
    for (const s of [0, 1]) drawings[s]?.classList.toggle("nameless", on);
    byID("finding").hidden = on;
    byID("drill-line").hidden = !on;
    if (!on) { chosen = null; marks(); return; }
    setMeasuring(false);
    chosen = null;
    net = -1;
    told.hidden = true;
    if (photo && photo.value === "") {
      const first = [...photo.options].find((o) => o.value && (o.dataset.side === "bottom" ? 1 : 0) === side);
      if (first) { photo.value = first.value; underlay(); }
    }
    nextFind();
  }
  function nextFind() {
    const list = parts.filter((p) => p.side === side && p !== drill.part && p.pins.length > 0);
    drill.part = list[Math.floor(Math.random() * list.length)];
    drill.told = false;
    chosen = null;
    look([...whole]);
    marks();
    byID("drill-ask").textContent = say("Where is %s?", [drill.part.ref, drill.part.value].filter(Boolean).join(", "));
    byID("drill-next").hidden = true;
    drawings[side].dataset.asked = drill.part.ref;
  }
  function judgeFind(p) {
    if (drill.told) return;
    drill.told = true;
    drill.tries++;
    const right = p === drill.part;
    if (right) drill.right++;
    const far = Math.hypot(p.x - drill.part.x, p.y - drill.part.y);
    byID("drill-ask").textContent = (right ? say("● Yes, that is %s.", p.ref) : say("✕ That is %s; %s lies %s from it, in the ring.", p.ref, drill.part.ref, mm(far)))
      + " " + say("%s of %s right.", drill.right, drill.tries);
    chosen = drill.part;
    marks();
    byID("drill-next").hidden = false;
  }
  function pick(p) {
    if (drill) { judgeFind(p); return; }
    if (measuring && !from) { chosen = p; setMeasuring(true); return; }
    remember({ ref: p.ref });
  }
  function remember(what) {
    history.replaceState(null, "", "#" + Object.entries({ ...what, photo: photo?.value }).filter(([, v]) => v).map(([k, v]) => k + "=" + encodeURIComponent(v)).join("&"));
    fromAddress();
  }
  function fromAddress() {
    const hash = new URLSearchParams(location.hash.slice(1).replace(/\+/g, "%2B"));
    if (photo && (hash.get("photo") ?? "") !== photo.value) { photo.value = hash.get("photo") ?? ""; underlay(); }
    const ref = hash.get("ref"), name = hash.get("net"), id = hash.get("case");
    const was = chosen;
    chosen = ref ? parts.find((p) => p.ref.toUpperCase() === ref.toUpperCase()) ?? null : null;
    net = name ? board.nets.findIndex((n) => n.n.toUpperCase() === name.toUpperCase()) : -1;
    if (touched) touched.value = id ?? "";
    const first = chosen ?? (net >= 0 ? board.members[net][0] : id ? parts[(board.cases[id] ?? [[]])[0][0]] : null);
    if (first && !(net >= 0 && board.members[net].some((p) => p.side === side)) && first.side !== side) turnOver();
    if (chosen) {
      const [x, y] = place(chosen.x, chosen.y), inside = x > view[0] && x < view[0] + view[2] && y > view[1] && y < view[1] + view[3];
      const span = Math.max(25, 2.5 * Math.max(chosen.size[0], chosen.size[1]));
      if (!inside || was === null && span < view[2]) {
        const w = Math.min(whole[2], span), h = w * whole[3] / whole[2];
        look([x - w / 2, y - h / 2, w, h]);
      }
    } else if (net >= 0 || id) look([...whole]);
    tell(id);
    marks(id);
  }
  const chip = (text, act) => {
    const b = element("button", text, "chip");
    b.type = "button";
    b.addEventListener("click", act);
    return b;
  };
  const line = (...bits) => { const p = element("p"); p.append(...bits); return p; };
  function chips(list, act) {
    const p = element("p", "", "tap");
    list.slice(0, 60).forEach((one) => p.append(act(one)));
    if (list.length > 60) p.append(" " + say("and %s more", list.length - 60));
    return p;
  }
  const partChip = (p) => chip(p.ref, () => remember({ ref: p.ref }));
  function tell(id) {
    told.replaceChildren();
    told.hidden = !chosen && net < 0 && !id;
    if (chosen) {
      const p = chosen;
      told.append(element("h2", p.ref));
      const size = p.size[0] ? p.size[0] + " × " + p.size[1] + " mm" : say("size not known");
      told.append(line([p.value, p.pack, size, p.side === 1 ? say("bottom side") : say("top side")].filter(Boolean).join(" · ")));
      told.append(line(p.does + (p.important ? ". " + say("Important: a supply, data or sense line goes through it") : "") + "."));
      if (p.without) told.append(line(say("Without it: %s.", p.without)));
      if (p.nets.length > 0) { told.append(element("h3", say("Nets"))); told.append(chips(p.nets, (n) => chip(board.nets[n].n, () => remember({ net: board.nets[n].n })))); }
      for (const [c, list] of Object.entries(board.cases)) {
        for (const [i, action] of list) if (i === p.i) { const a = element("a", c); a.href = "../../cases/" + encodeURIComponent(c) + ".html"; told.append(line(say("Case") + " ", a, ": " + action + ".")); }
      }
      if (from && from !== p) {
        told.append(line(element("strong", say("%s to %s: %s between the bodies, %s between the centres", from.ref, p.ref, mm(gap(from.corners, p.corners)), mm(Math.hypot(from.x - p.x, from.y - p.y))) + (from.side === p.side ? "." : say(", on opposite sides.")))));
      }
      const read = board.pins.filter(([ref]) => ref === p.ref), odd = read.filter((r) => r[3] === 1).length;
      if (read.length > 0) told.append(line(odd > 0 ? say("Readings at its pins: %s, of which odd: %s (◇ on the drawing).", read.length, odd) : say("Readings at its pins: %s, none odd (○ on the drawing).", read.length)));
      const around = neighbours(p);
      told.append(element("h3", say("Within %s mm on this side", near)));
      if (around.length === 0) told.append(line(say("Nothing.")));
      else told.append(chips(around, ([q, g]) => chip(q.ref + " " + mm(g), () => remember({ ref: q.ref }))));
    } else if (net >= 0) {
      const list = board.members[net];
      told.append(element("h2", say("Net %s", board.nets[net].n)));
      told.append(line(list.length === 1 ? say("Kind of net: %s; 1 part.", board.nets[net].k) : say("Kind of net: %s; %s parts.", board.nets[net].k, list.length)));
      told.append(chips(list, partChip));
    } else if (id) {
      const list = board.cases[id] ?? [];
      const a = element("a", say("Case") + " " + id);
      a.href = "../../cases/" + encodeURIComponent(id) + ".html";
      const h = element("h2");
      h.append(a);
      told.append(h, chips(list, ([i, action]) => chip(parts[i].ref + ": " + action, () => remember({ ref: parts[i].ref }))));
    }
  }
  /* Marks lie over the drawing: shapes, not colours, tell them apart. */
  function marks(id) {
    const g = drawings[side]?.querySelector(".marks");
    if (!g) return;
    id ??= touched?.value;
    g.replaceChildren();
    if (net >= 0) {
      let bodies = "", pads = "";
      for (const p of board.members[net]) {
        if (p.side === side) bodies += outline(p);
        for (let k = 0; k < p.pins.length; k += 3) if (p.pins[k] === net) { const [x, y] = place(p.pins[k + 1], p.pins[k + 2]); pads += "M" + (x - 0.35) + " " + y + "a.35 .35 0 1 0 .7 0a.35 .35 0 1 0 -.7 0"; }
      }
      g.append(shape("path", { class: "mark-net", d: bodies }), shape("path", { class: "mark-pad", d: pads }));
    }
    for (const [i] of board.cases[id] ?? []) {
      const p = parts[i];
      if (p.side !== side) continue;
      const [x, y] = place(p.x, p.y), r = Math.max(p.box[2] - p.box[0], p.box[3] - p.box[1]) / 2 + 2;
      g.append(shape("path", { class: "mark-touched", d: `M${x} ${y - r}L${x + r} ${y}L${x} ${y + r}L${x - r} ${y}Z` }));
    }
    if (chosen && chosen.side === side) {
      let fine = "", odd = "";
      for (const [ref, x, y, isOdd] of board.pins) if (ref === chosen.ref) {
        const [u, v] = place(x, y), r = 0.45;
        if (isOdd) odd += `M${u} ${v - 1.6 * r}L${u + 1.6 * r} ${v}L${u} ${v + 1.6 * r}L${u - 1.6 * r} ${v}Z`;
        else fine += `M${u - r} ${v}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0`;
      }
      g.append(shape("path", { class: "mark-fine", d: fine }), shape("path", { class: "mark-odd", d: odd }));
      const [x, y] = place(chosen.x, chosen.y), r = Math.max(chosen.box[2] - chosen.box[0], chosen.box[3] - chosen.box[1]) / 2 + 1.2;
      g.append(shape("path", { class: "mark-chosen", d: outline(chosen) }), shape("circle", { class: "mark-ring", cx: x, cy: y, r }));
    }
    if (from && chosen && from !== chosen) {
      const [x, y] = place(from.x, from.y), [u, v] = place(chosen.x, chosen.y);
      g.append(shape("path", { class: "mark-line", d: `M${x} ${y}L${u} ${v}` }));
    }
  }
})();
