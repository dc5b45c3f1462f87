"use strict";
/* What the owner says, weighed step for step as the command line's triage package
   weighs it; that package's words.go gives the formulas. It cuts words with the search
   page's ranking and knows nothing of the page. */
const benchloreSaid = (data, rank) => {
  const digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  const bytes = (text) => {
    const clean = text.replace(/=+$/, ""), out = new Int8Array(Math.floor(clean.length * 3 / 4));
    let n = 0, held = 0, bits = 0;
    for (const c of clean) {
      held = held << 6 | digits.indexOf(c);
      bits += 6;
      if (bits >= 8) { bits -= 8; out[n++] = held >> bits & 255; }
    }
    return out;
  };
  const names = new Map((data.names ?? "").split("\n").map((w, i) => [w, i]));
  const vectors = new Map((data.vectors ?? "").split("\n").filter(Boolean).map((l) => [l.slice(0, l.indexOf(" ")), l.slice(l.indexOf(" ") + 1)]));
  const vectorOf = (w) => {
    const v = vectors.get(w);
    if (typeof v === "string") vectors.set(w, bytes(v));
    return vectors.get(w);
  };
  const models = !data.names ? [] : [data.fault, data.place].map((m) => ({ ...m, weights: bytes(m.weights), classes: m.intercepts.length }));
  const written = /[\p{L}\p{Nd}]+/gu, letters = "~";
  function counted(text) {
    const out = new Map(), add = (w) => out.set(w, (out.get(w) ?? 0) + 1);
    const tokens = rank.analyze(text).map((t) => t.term);
    tokens.forEach((t, i) => {
      add(t);
      if (i > 0) add(tokens[i - 1] + " " + t);
    });
    for (const [w] of [...text.toLowerCase().matchAll(written)].slice(0, data.maxWritten)) {
      const r = [..."<" + w + ">"];
      for (const n of data.runs) for (let i = 0; i + n <= r.length; i++) add(letters + r.slice(i, i + n).join(""));
    }
    return out;
  }
  // row gives a text as a vector: features with their values.
  function row(text) {
    const counts = counted(text), words = [...counts.keys()].sort(), list = [], squares = [0, 0], block = (w) => w.startsWith(letters) ? 1 : 0;
    for (const w of words) {
      if (!names.has(w)) continue;
      const x = (1 + Math.log(counts.get(w))) * data.idf[names.get(w)];
      squares[block(w)] += x * x;
      list.push([names.get(w), x, block(w)]);
    }
    const out = list.map(([f, x, b]) => [f, x / Math.sqrt(squares[b])]);
    const where = new Array(data.dims).fill(0);
    for (const w of words) {
      const v = vectorOf(w);
      if (!v) continue;
      const idf = names.has(w) ? data.idf[names.get(w)] : data.none;
      v.forEach((x, i) => { where[i] += idf * x; });
    }
    const square = where.reduce((a, x) => a + x * x, 0);
    if (square > 0) where.forEach((x, i) => out.push([names.size + i, x / Math.sqrt(square)]));
    return out;
  }
  function probable(m, r) {
    const out = [...m.intercepts];
    for (const [f, x] of r) for (let k = 0; k < m.classes; k++) out[k] += x * m.step * m.weights[f * m.classes + k];
    const top = Math.max(...out);
    let sum = 0;
    out.forEach((x, k) => { sum += out[k] = Math.exp(x - top); });
    return out.map((x) => x / sum);
  }

  // deviceOf gives the device of the notebook that a text names, by the longest name, and its
  // kind, else the finest kind said that cases or a method know of.
  function deviceOf(text, stated) {
    const plain = " " + text.toLowerCase().split(/[^\p{L}\p{Nd}]+/u).filter((w) => w !== "").join(" ") + " ", size = (s) => [...s].length;
    let device = "", most = 0;
    for (const id of data.order) for (const name of data.devices[id]) if (size(name) > most && plain.includes(name)) { device = id; most = size(name); }
    if (device !== "") return { device, kind: data.kinds[device], as: "" };
    const as = stated.find((m) => m.cls === "kinds")?.id ?? "";
    return { device, kind: data.known[as] ?? as, as };
  }

  // read gives what a text says: how much likelier each fault and place, symptoms and
  // events that its words mean, and which words spoke for a fault.
  async function read(text) {
    if (text.trim() === "") return null;
    const said = await rank.read(text), stated = said.filter((m) => !m.negated && !(m.asked && m.cls !== "dangers"));
    const of = (cls) => [...new Set(stated.filter((m) => m.cls === cls).sort((a, b) => a.start - b.start).map((m) => m.id))];
    const whole = { text, said, symptoms: of("symptoms"), before: of("before"), dangers: of("dangers"), ...deviceOf(text, stated), perhaps: stated.some((m) => m.cls === "kinds") ? null : await rank.perhaps(text) };
    if (!data.names) return { ...whole, fault: {}, place: {}, beside: 1, spoke: () => [] };
    await rank.prepare(text);
    const r = row(text), [fault, place] = models.map((m) => probable(m, r));
    const likelier = (ids, p, m) => Object.fromEntries(ids.map((id, k) => [id, p[k] / m.prior[k]]));
    let without = null; // asked for by the first cause that is shown
    return { ...whole, fault: likelier(data.faults, fault, models[0]), place: likelier(data.places, place, models[1]), beside: data.beside,
      spoke: (id) => spoke(fault, without ??= silence(text), id) };
  }
  // silence leaves each word of a text out in turn.
  function silence(text) {
    const places = [...text.matchAll(written)].slice(0, data.maxSpoken), list = [];
    for (const [found] of places) {
      const word = found.toLowerCase();
      if (list.some(([w]) => w === word) || rank.analyze(word).length === 0) continue;
      let rest = text;
      for (const p of [...places].reverse()) if (p[0].toLowerCase() === word) rest = rest.slice(0, p.index) + rest.slice(p.index + p[0].length);
      list.push([word, probable(models[0], row(rest))]);
    }
    return list;
  }
  function spoke(whole, without, id) {
    const k = data.faults.indexOf(id);
    if (k < 0) return [];
    return without.map(([w, p]) => [w, Math.round(Math.log(whole[k] / p[k]) * 1e6) / 1e6]).sort((a, b) => b[1] - a[1]).slice(0, 3).filter(([, by]) => by >= 0.1).map(([w]) => w);
  }
  return { read };
};
