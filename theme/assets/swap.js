"use strict";
/* Swaps in the page, with the answers of the command line: the same tables, the same
   steps. It stands on quantity.js and comes once somebody asks. */
const benchloreSwap = (() => {
  const {
    attempt, Bad, bad, boundary, bytes, clip, cmp, dielectric, findPackage, float, fromFloat,
    fuseClasses, fuseSpeeds, gap, is, maxText, none, normal, number, own, parse, partEnd, partFuse,
    quote, show, size, specTolerance, text, trim, tryScan, unit, waveMarks, waveWord, wordLength,
  } = benchloreQuantity.steps;
  let W, swaps;

  // Parts: what a text says of one, with every word accounted for.
  const partPPM = new RegExp("^(?:±|\\+/-)?([0-9]+) ?ppm(?:/(?:K|°C|C))?" + partEnd);
  const partFraction = new RegExp("^([1-9])/(2|3|4|6|8|10|16|20) ?[Ww](?:att)?" + partEnd);
  const partWave = new RegExp("^([-+−]?[0-9][0-9.,]*[ \\u00a0\\u202f\\u2009]?[numkKMµμ]?(?:[VAva]|[Vv]olts?|[Aa]mps?)) ?\\(?(AC/DC|" + waveMarks + ")\\)?(?:$|[ ,;()/@])");
  const partCelsius = new RegExp("^([0-9]{2,3})C" + partEnd);
  const partBeta = new RegExp("^(?:(?:[Bb]eta|B) ?[=:]? ?([0-9]{4}) ?K|B([0-9]{4}))" + partEnd);
  const partArea = new RegExp("^([0-9]+(?:\\.[0-9]+)?) ?(?:mm²|mm2|mm\\^2|qmm|sq ?mm)" + partEnd);
  const partGauge = new RegExp("^(?:AWG ?#?([0-9]{1,2})|([0-9]{1,2}) ?AWG)" + partEnd);
  // wireArea is the cross-section in mm² of a wire by its American gauge (ASTM B258).
  const wireArea = (gauge) => { const d = 0.127 * Math.pow(92, (36 - gauge) / 39); return fromFloat(Math.PI / 4 * d * d, 4); };
  const partSize = new RegExp("^([0-9]+(?:\\.[0-9]+)?) ?[x×] ?([0-9]+(?:\\.[0-9]+)?)(?: ?mm)?" + partEnd);
  const unended = (m) => m[0].replace(/[ ,;()/@]+$/, "").length;
  let known = null;
  function phrases() {
    if (known) return known;
    known = { longest: 0, kinds: new Map(), words: new Map() };
    const see = (x) => { known.longest = Math.max(known.longest, x.length); };
    for (const [kind, list] of Object.entries(swaps.kindWords)) for (const x of list) { known.kinds.set(x, kind); see(x); }
    for (const w of swaps.words) for (const x of w.say) { known.words.set(x, [...(known.words.get(x) || []), w]); see(x); }
    for (const x of [...Object.keys(swaps.labels), ...swaps.fillers]) see(x);
    return known;
  }
  function phraseAt(lower) {
    const k = phrases();
    for (let n = Math.min(k.longest, lower.length); n > 0; n--) {
      const x = lower.slice(0, n), rest = lower.slice(n);
      if (rest !== "" && !boundary(rest) && rest[0] !== "=" && rest[0] !== ":" && x !== "=" && x !== ":") continue;
      if (k.kinds.has(x) || k.words.has(x) || own(swaps.labels, x) || swaps.fillers.includes(x)) return x;
    }
    return "";
  }
  function partTokens(input, p) {
    const list = [], k = phrases();
    let lower = input.toLowerCase();
    if (lower.length !== input.length) lower = input;
    const word = (attr, is) => ({ text: is, words: [{ attr, is }] });
    for (let at = 0; at < input.length;) {
      const rest = input.slice(at);
      if (gap(rest[0])) { at++; continue; }
      if (rest[0] === "@") { list.push({ text: "@", label: ["@", "", ""] }); at++; continue; }
      let m = partPPM.exec(rest);
      if (m) { list.push({ text: m[0], value: { d: number(m[1]).d, unit: none() }, attr: "tempco" }); at += unended(m); continue; }
      m = partBeta.exec(rest);
      if (m) { list.push({ text: m[0], value: { d: normal(number(m[1] || m[2]).d), unit: unit("kelvin") }, attr: "beta" }); at += unended(m); continue; }
      m = partArea.exec(rest);
      if (m) { list.push({ text: m[0], value: { d: normal(number(m[1]).d), unit: none() }, attr: "area" }); at += unended(m); continue; }
      m = partGauge.exec(rest);
      if (m) { list.push({ text: m[0], value: { d: wireArea(Number(m[1] || m[2])), unit: none() }, attr: "area" }); at += unended(m); continue; }
      m = partCelsius.exec(rest);
      if (m) { list.push({ text: m[0], value: { d: normal(number(m[1]).d), unit: unit("degree Celsius") } }); at += unended(m); continue; }
      m = partWave.exec(rest);
      if (m) {
        let v = null;
        try { v = parse(m[1]); } catch (e) { if (!(e instanceof Bad)) throw e; }
        if (v && !v.over) { list.push({ text: m[0].slice(0, unended(m)), value: v, wave: waveWord(m[2]) }); at += unended(m); continue; }
      }
      m = partFraction.exec(rest);
      if (m) { list.push({ text: m[0], value: { d: fromFloat(Number(m[1]) / Number(m[2]), 6), unit: unit("watt") }, attr: "power" }); at += unended(m); continue; }
      m = partFuse.exec(rest);
      if (m) {
        list.push({ text: m[0], value: parse(m[2] + " " + m[3]), attr: "current" }, { text: m[1], words: [{ attr: "speed", is: fuseSpeeds[m[1]], kinds: ["fuse"], implies: "fuse" }] });
        if (m[4]) list.push({ text: m[4], words: [{ attr: "breakingclass", is: fuseClasses[m[4]], kinds: ["fuse"] }] });
        if (m[5]) list.push({ text: m[5] + " V", value: { d: number(m[5]).d, unit: unit("volt") }, attr: "voltage", wave: m[6] ? waveWord(m[6]) : "" });
        at += unended(m);
        continue;
      }
      m = partSize.exec(rest);
      if (m) { list.push(word("size", m[1] + " × " + m[2] + " mm")); at += unended(m); continue; }
      if (rest[0] === "±" || rest[0] === "+") {
        const t = specTolerance({ value: {} }, rest);
        if (t) {
          if (t.t.unit.Name === "percent") list.push({ text: rest.slice(0, t.n), value: { d: cmp(t.t.up, t.t.down) < 0 ? t.t.down : t.t.up, unit: t.t.unit }, attr: "tolerance" });
          else p.others.push(rest.slice(0, t.n));
          at += t.n;
          continue;
        }
      }
      const x = phraseAt(lower.slice(at));
      if (x !== "") {
        const text = input.slice(at, at + x.length), words = k.words.get(x), label = own(swaps.labels, x);
        if (k.kinds.has(x)) list.push({ text: x, words: [{ attr: "kind", is: k.kinds.get(x) }, ...(words || [])], label });
        else if (words || label) list.push({ text, words, label });
        at += x.length;
        continue;
      }
      const said = rest.slice(0, wordLength(rest)), upper = said.toUpperCase(), d = dielectric(said);
      if (d) { list.push(word("dielectric", d.code)); at += said.length; continue; }
      if (findPackage(said) || W.packageHeads.some((h) => upper.startsWith(h))) { list.push(word("package", own(swaps.packageAlias, upper) || upper)); at += said.length; continue; }
      const r = tryScan(rest);
      if (!r.error && r.n > 0 && boundary(rest.slice(r.n))) { list.push({ text: rest.slice(0, r.n), value: r.v }); at += r.n; continue; }
      p.others.push(said);
      at += said.length;
    }
    return list;
  }
  const sameValue = (x, y) => x.unit === y.unit && x.d.coef === y.d.coef && x.d.exp === y.d.exp;
  function parsePart(input) {
    const p = { kind: "", values: new Map(), words: new Map(), waves: new Map(), inferred: new Map(), others: [], named: false };
    /** @type {any[]} */ const list = partTokens(input, p);
    p.kind = kindOf(list, p);
    const put = (attr, t) => {
      const have = p.values.get(attr);
      if (have && (!sameValue(have, t.value) || (p.waves.get(attr) || "") !== (t.wave || ""))) return false;
      p.values.set(attr, t.value);
      if (t.wave) p.waves.set(attr, t.wave);
      return true;
    };
    const claimed = list.map(() => false);
    list.forEach((t, i) => {
      if (!t.label) return;
      if ((t.words || []).some((w) => w.attr !== "kind" && (w.kinds || []).length === 0 || w.attr === "kind" && w.is === p.kind || (w.kinds || []).includes(p.kind))) return;
      const suits = (j) => j >= 0 && j < list.length && !claimed[j] && list[j].value && !list[j].attr && (list[j].value.unit.Name === t.label[1] || t.label[1] === "number" && is(list[j].value, ""));
      let attr = t.label[0], at = -1;
      if (attr === "@") {
        const name = i + 1 < list.length && list[i + 1].value ? list[i + 1].value.unit.Name : "";
        if (name === "hertz") { attr = "frequency"; at = i + 1; } else if (name === "degree Celsius") { attr = "attemp"; at = i + 1; }
      } else if (suits(i + 1) && suits(i - 1) && t.label[2] === "") { /* which is meant is not known */ }
      else if (suits(i + 1)) at = i + 1;
      else if (suits(i - 1) && t.label[2] === "") at = i - 1;
      claimed[i] = true;
      if (at < 0 || !put(attr, list[at])) { p.others.push(t.text); return; }
      claimed[at] = true;
    });
    list.forEach((t, i) => {
      if (claimed[i]) return;
      if (t.value) {
        const attr = attributeOf(p, t);
        if (attr === "" || !put(attr, t)) p.others.push(t.text.replace(/[ ,;()/@]+$/, ""));
        return;
      }
      let kind = false;
      for (const w of t.words || []) {
        if (w.attr === "kind" && w.is === p.kind) return;
        if (w.attr === "kind") { kind = true; continue; }
        if ((w.kinds || []).length > 0 && !w.kinds.includes(p.kind)) continue;
        if (p.words.has(w.attr) && p.words.get(w.attr) !== w.is) { kind = false; break; }
        p.words.set(w.attr, w.is);
        return;
      }
      if (!kind) p.others.push(t.text);
    });
    for (const t of list) for (const w of t.words || []) {
      if (wordOf(p, w.attr) !== w.is || (w.kinds || []).length > 0 && !w.kinds.includes(p.kind)) continue;
      for (const attr of Object.keys(w.also || {})) {
        if (p.words.has(attr) && p.words.get(attr) !== w.also[attr]) p.others.push(t.text);
        else p.words.set(attr, w.also[attr]);
      }
    }
    settleSupply(p);
    if (p.words.has("dielectric")) {
      if (p.kind !== "capacitor" || p.words.has("technology") && p.words.get("technology") !== "ceramic") p.others.push(p.words.get("dielectric"));
      p.words.set("technology", "ceramic");
    }
    for (const i of swaps.infer) {
      if (!holds(i, p)) continue;
      if (i.value) p.values.set(i.attr, parse(i.value));
      else p.words.set(i.attr, i.is);
      p.inferred.set(i.attr, i.note);
    }
    return p;
  }
  // holds: whether a part says what an inference goes by.
  function holds(i, p) {
    if (!i.kinds.includes(p.kind) || has(p, i.attr)) return false;
    const number = (attr) => p.values.has(attr) ? float(p.values.get(attr).d) : NaN;
    return Object.entries(i.if || {}).every(([attr, list]) => list.includes(wordOf(p, attr))) &&
      (i.has || []).every((attr) => has(p, attr)) && !(i.lacks || []).some((attr) => has(p, attr)) &&
      Object.entries(i.least || {}).every(([attr, least]) => number(attr) >= least) &&
      Object.entries(i.values || {}).every(([attr, list]) => list.includes(number(attr)));
  }
  // settleSupply says whether what the part is rated for is AC or DC.
  function settleSupply(p) {
    const short = { alternating: "AC", direct: "DC", either: "AC/DC" };
    let said = wordOf(p, "supply");
    if (said !== "" && p.kind === "relay") {
      p.others.push(short[said]);
      p.words.delete("supply");
      said = "";
    }
    for (const attr of [...p.waves.keys()].sort()) {
      const wave = p.waves.get(attr);
      if (wave === "peak to peak") p.others.push(show(p.values.get(attr)) + " peak to peak");
      else if (attr !== "voltage" && attr !== "current") p.words.set(attr + "supply", wave);
      else if (said !== "" && said !== wave) p.others.push(show(p.values.get(attr)) + " " + short[wave]);
      else { said = wave; p.words.set("supply", wave); }
    }
  }
  function kindOf(list, p) {
    let kind = "";
    const refines = (k) => own(swaps.refines, k) || [];
    for (const t of list) for (const w of t.words || []) {
      if (w.attr !== "kind" || t.label) continue;
      if (kind === "" || kind === w.is || refines(w.is).includes(kind)) { kind = w.is; p.named = true; }
      else if (!refines(kind).includes(w.is)) p.others.push(t.text);
    }
    for (const t of list) for (const w of t.words || []) if (w.implies && (kind === "" || refines(w.implies).includes(kind))) { kind = w.implies; p.named = true; }
    for (const t of list) if (kind === "" && t.label && t.words && t.words[0].attr === "kind") kind = t.words[0].is;
    list.forEach((t, i) => {
      if (kind !== "" || !t.value) return;
      kind = own(swaps.units, t.value.unit.Name) || "";
      if (kind === "resistor" && i + 2 < list.length && list[i + 1].label && list[i + 1].label[0] === "@" && list[i + 2].value && is(list[i + 2].value, "hertz")) kind = "ferrite";
    });
    return kind;
  }
  function attributeOf(p, t) {
    if (t.attr) return t.attr;
    const name = t.value.unit.Name;
    if (p.kind === "optocoupler" && name === "volt" && float(t.value.d) >= swaps.isolationFrom) return "isolation";
    const attr = own(own(swaps.freeOf, p.kind) || {}, name);
    if (attr) return attr;
    const k = own(swaps.kinds, p.kind);
    if (!p.values.has("value") && name !== "" && k && k.unit === name) return "value";
    if (name === "percent") return "tolerance";
    if (p.values.has("current") && p.kind === "fuse" && name === "ampere" && float(t.value.d) >= swaps.breakingFrom) return "breaking";
    return (own(swaps.free, name) || [""])[0];
  }

  // Swaps.
  const ranks = ["fits", "fits-with-remark", "cannot-tell", "does-not-fit"];
  function swap(original, fitted) {
    for (const x of [original, fitted]) {
      if (bytes(x) > maxText) bad("too long for a part");
      if (trim(x) === "") bad("no part");
    }
    const a = parsePart(original), b = parsePart(fitted);
    let kind = a.kind || b.kind;
    const name = (k) => swaps.kinds[k].name;
    const result = { verdict: "fits", kind, reasons: [] };
    const told = (rule, says, why, source) => {
      if (why) result.reasons.push(source ? { rule, says, text: why, source } : { rule, says, text: why });
      if (ranks.indexOf(says) > ranks.indexOf(result.verdict)) result.verdict = says;
    };
    if (a.kind === "ferrite" && b.kind === "resistor" && !b.named || a.kind === "resistor" && b.kind === "ferrite" && !a.named) { kind = "ferrite"; result.kind = kind; }
    else if (a.kind && b.kind && a.kind !== b.kind) {
      told("kind", "does-not-fit", name(b.kind) + " instead of " + name(a.kind));
      return result;
    }
    for (const [p, which] of /** @type {[any, string][]} */ ([[a, "original"], [b, "new"]])) for (const w of p.others) told("words", "cannot-tell", "did not understand " + quote(clip(w)) + " of the " + which + " part");
    const k = own(swaps.kinds, kind);
    if (!k) {
      told("kind", "cannot-tell", "the kind of part is not known; begin with a word such as fuse, diode or regulator");
      return result;
    }
    if (a.kind === "" || b.kind === "") told("kind", "cannot-tell", "only one of them says what kind of part it is");
    for (const r of k.rules) {
      const [says, why] = judge(r, a, b);
      told(kind + "-" + r.name, says, why, r.source);
    }
    for (const attr of [...new Set([...a.values.keys(), ...a.words.keys()])].sort()) {
      if (a.inferred.has(attr) || k.rules.some((r) => r.attr === attr)) continue;
      const x = a.values.get(attr), y = b.values.get(attr);
      if (x && y ? sameValue(x, y) : !x && !y && wordOf(a, attr) === wordOf(b, attr)) continue;
      told(kind + "-not-compared", "cannot-tell", attributeName(attr) + " of the original is not compared: no rule for it");
    }
    if ((k.needs || []).length && !k.needs.some((attr) => has(a, attr) && has(b, attr))) told(kind + "-needs", "cannot-tell", k.needtext);
    if (k.always && original.split(/\s+/).filter(Boolean).join(" ") !== fitted.split(/\s+/).filter(Boolean).join(" ")) told(kind + "-always", "fits-with-remark", k.always, "common practice, no source");
    return result;
  }
  const has = (p, attr) => p.values.has(attr) || p.words.has(attr);
  const wordOf = (p, attr) => p.words.get(attr) || "";
  function attributeName(attr) {
    if (own(swaps.attributes, attr)) return swaps.attributes[attr];
    return attr.length >= 6 && attr.endsWith("supply") ? "AC or DC of its " + attributeName(attr.slice(0, -6)) : attr;
  }
  // judge applies one rule. What is only inferred of a part gives a remark where it would
  // do, and decides nothing against it.
  function judge(r, a, b) {
    let [says, why] = compare(r, a, b);
    const byA = a.inferred.has(r.attr), byB = b.inferred.has(r.attr), noteA = a.inferred.get(r.attr) || "", noteB = b.inferred.get(r.attr) || "";
    if (byA && !r.need && !has(b, r.attr)) return ["fits", ""];
    if (!byA && !byB || says === "cannot-tell" || why === "") return [says, why];
    if (byA && byB && !r.need && says === "fits") return ["fits", ""];
    if (says === "does-not-fit") says = "cannot-tell";
    else if (says === "fits" && noteA + noteB !== "") says = "fits-with-remark";
    for (const note of noteA === noteB ? [noteA] : [noteA, noteB]) if (note !== "") why += "; inferred: " + note;
    return [says, why.replace(/^; /, "")];
  }
  function compare(r, a, b) {
    for (const [attr, is] of Object.entries(r.old || {})) if (wordOf(a, attr) !== is) return ["fits", ""];
    for (const [attr, is] of Object.entries(r.new || {})) if (wordOf(b, attr) !== is) return ["fits", ""];
    const name = attributeName(r.attr);
    switch (r.test) {
      case "dielectric": return compareDielectric(a, b);
      case "safety": return compareSafety(wordOf(a, "safety"), wordOf(b, "safety"));
      case "package": return comparePackage(wordOf(a, "package"), wordOf(b, "package"));
      case "smaller": return smaller(r, a, b);
      case "keep": return keep(r, a, b, name);
      case "added": return wordOf(a, r.attr) === "" && wordOf(b, r.attr) !== "" ? [r.says, r.note] : ["fits", ""];
      case "times": {
        const x = a.values.get(r.attr), y = b.values.get(r.attr);
        return x && y && wordOf(a, "technology") !== wordOf(b, "technology") && float(y.d) < r.factor * float(x.d) * (1 - 1e-9) ? ["does-not-fit", name + " only " + show(y) + " instead of " + show(x) + ": " + r.note] : ["fits", ""];
      }
    }
    const hasA = has(a, r.attr), hasB = has(b, r.attr);
    if (!hasA && r.unless && has(a, r.unless) && has(b, r.unless)) return ["fits", ""];
    if (!hasA && !hasB) {
      if (r.need) return ["cannot-tell", "neither states its " + name];
      return r.mention ? ["fits-with-remark", "neither states its " + name + ": " + r.mention] : ["fits", ""];
    }
    if (!hasB) {
      if (r.test === "soft") return ["fits-with-remark", "the new part does not state its " + name + ": look whether it sits in its place"];
      return [r.test === "at-most-remark" ? "fits-with-remark" : "cannot-tell", "the new part does not state its " + name];
    }
    if (!hasA) {
      const any = r.test === "pairs" && !r.need && own(r.pairs, "*>" + wordOf(b, r.attr));
      if (any) return [any[0], wordOf(b, r.attr) + ": " + any[1]];
      if ((b.inferred.has(r.attr) || wordOf(b, r.attr) === "either") && !r.need) return ["fits", ""];
      return r.need || ["same", "equal", "near", "keep-both"].includes(r.test) ? ["cannot-tell", "the original does not state its " + name] : ["fits", ""];
    }
    if (a.words.has(r.attr)) {
      const was = a.words.get(r.attr), d = dielectric(wordOf(b, "dielectric"));
      let now = wordOf(b, r.attr);
      if (d && d.class === 1 && r.test === "pairs" && was !== now && own(r.pairs, was + ">" + now + " of class 1")) now += " of class 1";
      return compareWords(r, name, was, now);
    }
    const x = a.values.get(r.attr), y = b.values.get(r.attr);
    if (x.unit !== y.unit) return ["does-not-fit", name + " in " + y.unit.Quantity + " against " + x.unit.Quantity];
    return compareValues(r, name, a, x, y);
  }
  function keep(r, a, b, name) {
    const x = wordOf(a, r.attr), y = wordOf(b, r.attr);
    if (x === "" || r.value && x !== r.value) return ["fits", ""];
    if (x === y) return ["fits", "same " + name + ", " + x];
    for (const [attr, list] of Object.entries(r.or || {})) if (list.includes(wordOf(b, attr))) return ["fits", ""];
    return [r.says || "does-not-fit", r.note];
  }
  function smaller(r, a, b) {
    const p = findPackage(wordOf(a, r.attr)), q = findPackage(wordOf(b, r.attr)), d = dielectric(wordOf(b, "dielectric"));
    if (!p || !q || d && d.class === 1) return ["fits", ""];
    const area = (x) => Number(x.p[2]) * Number(x.p[3]);
    return area(q) < area(p) ? ["fits-with-remark", r.note] : ["fits", ""];
  }
  function compareWords(r, name, x, y) {
    const instead = name + " " + y + " instead of " + x;
    if (x === y) return ["fits", "same " + name + ", " + x];
    if (r.test === "equal" && y === "either") return ["fits", name + " " + y + " covers " + x];
    if (r.test === "soft") return ["fits-with-remark", instead + ": look whether it sits in its place"];
    if (r.test === "order") {
      const i = r.order.indexOf(x), j = r.order.indexOf(y);
      if (i < 0 || j < 0) return ["cannot-tell", instead];
      if (j < i) return ["does-not-fit", instead];
      return r.better ? ["fits-with-remark", instead + ": " + r.better] : ["fits", instead];
    }
    if (r.test === "pairs") {
      const p = own(r.pairs, x + ">" + y) || own(r.pairs, "*>" + y);
      if (p) return [p[0], (y + " instead of " + x + ": " + p[1]).replace(/: $/, "")];
      const polar = r.polarised || [];
      if (polar.length && !polar.includes(x) && polar.includes(y)) return ["does-not-fit", y + " is polarised, " + x + " is not"];
      return ["cannot-tell", y + " instead of " + x + ": no rule compares them"];
    }
    return ["does-not-fit", instead];
  }
  function compareValues(r, name, a, x, y) {
    const o = cmp(y.d, x.d), tx = show(x), ty = show(y);
    const instead = name + " " + ty + " instead of " + tx, equal = "same " + name + ", " + ty, slack = 1e-9;
    switch (r.test) {
      case "same": case "equal": case "keep-both": return o === 0 ? ["fits", equal] : ["does-not-fit", instead];
      case "at-least": return o >= 0 ? ["fits", name + " " + ty + ", at least " + tx] : ["does-not-fit", name + " only " + ty + " instead of " + tx];
      case "at-most": case "at-most-remark":
        if (o <= 0) return ["fits", name + " " + ty + ", at most " + tx];
        if (r.test === "at-most-remark" && (!r.slack || float(y.d) <= r.slack * float(x.d) * (1 + slack))) return ["fits-with-remark", name + " " + ty + " is more than " + tx];
        if (r.slack > 1 && float(y.d) <= r.slack * float(x.d) * (1 + slack)) return ["fits-with-remark", name + " " + ty + " is more than " + tx + ": " + r.note];
        return ["does-not-fit", name + " " + ty + " is more than " + tx];
    }
    if (o === 0) return ["fits", equal];
    const pair = r.test === "nominal" && own(r.cells || {}, wordOf(a, "chemistry"));
    if (pair && sameCells(pair, x, y)) return ["fits-with-remark", instead + ": " + r.note];
    if (x.d.coef === 0n || y.d.coef === 0n) return ["does-not-fit", instead];
    const ratio = float(y.d) / float(x.d), d = dielectric(wordOf(a, "dielectric"));
    if (r.test === "load" && ratio >= r.remark[0] && ratio <= r.remark[1]) return ["fits-with-remark", instead + ": " + pulled(a.values.get("frequency"), x, y) + "; " + r.note];
    let w = { fit: r.fit || [0, 0], remark: r.remark || [0, 0], note: r.note || "", over: "" };
    const special = own(r.windows || {}, windowOf(a));
    if (special) w = special;
    else if (r.test === "tolerance") {
      const p = a.values.get("tolerance"), t = p ? float(p.d) / 100 : 0.01;
      w.fit = [1 - t, 1 + t];
      w.remark = [1 - 2 * t, 1 + 2 * t];
    } else if (d && d.class === 1 && r.class1) { w.fit = r.class1; w.remark = r.class1; }
    if (ratio >= w.fit[0] - slack && ratio <= w.fit[1] + slack) return ["fits", name + " " + ty + " is close enough to " + tx];
    if (ratio >= w.remark[0] - slack && ratio <= w.remark[1] + slack) return ["fits-with-remark", w.note ? instead + "; " + w.note : instead];
    if (w.over && ratio > 1) return ["does-not-fit", instead + ": " + w.over];
    return ["does-not-fit", instead];
  }
  // sameCells: as many cells by the two nominal voltages that one chemistry goes by.
  function sameCells(pair, x, y) {
    const low = float(parse(pair[0]).d), high = float(parse(pair[1]).d), vx = float(x.d), vy = float(y.d), n = Math.round(vx / low);
    const is = (v, one) => Math.abs(v - n * one) < 1e-9;
    return n > 0 && (is(vx, low) && is(vy, high) || is(vx, high) && is(vy, low));
  }
  function windowOf(a) {
    const safety = wordOf(a, "safety");
    if (safety !== "") return safety.includes("Y") ? "Y" : "X";
    return a.words.has("duty") ? "motor" : wordOf(a, "technology");
  }
  // pulled says how far a crystal is off that was made for another load than it gets.
  function pulled(frequency, x, y) {
    const fork = !frequency || float(frequency.d) < 1e6, motional = fork ? 3.5e-15 : 15e-15, parallel = fork ? 1.6e-12 : 4e-12;
    const shift = motional / 2 * (1 / (parallel + float(x.d)) - 1 / (parallel + float(y.d))) * 1e6;
    return "a usual one then runs about " + text(fromFloat(Math.abs(shift), 2)) + " ppm " + (shift < 0 ? "slow" : "fast");
  }
  function compareDielectric(a, b) {
    const ceramicA = wordOf(a, "technology") === "ceramic", ceramicB = wordOf(b, "technology") === "ceramic";
    const x = dielectric(wordOf(a, "dielectric")), y = dielectric(wordOf(b, "dielectric"));
    if (!ceramicA && !ceramicB) return ["fits", ""];
    if (ceramicA && !ceramicB || !ceramicA && ceramicB && y) return ["fits", ""];
    if (!x && !y && a.words.has("safety") && b.words.has("safety")) return ["fits", ""];
    const valueA = a.values.get("value"), valueB = b.values.get("value");
    if (!x && !y && wordOf(a, "style") === "disc" && wordOf(b, "style") === "disc" && (valueA && valueB ? sameValue(valueA, valueB) : !valueA && !valueB)) return ["fits-with-remark", "neither states its dielectric class; inferred: discs of one value and voltage mostly are of one class, compare the mark of colour"];
    if (!y) return ["cannot-tell", "the new part does not state its dielectric class"];
    if (!x && y.class === 1) return ["fits-with-remark", "the original does not state its dielectric class; " + y.code + " is as steady as any"];
    if (!x && y.low <= -55 && y.high >= 125 && Number(y.down) <= 15 && valueA && float(valueA.d) >= 10e-9) return ["fits-with-remark", "the original does not state its dielectric class; inferred: from 10 nF a ceramic is of class 2, and " + y.code + " is a steady one"];
    if (!x) return ["cannot-tell", "the original does not state its dielectric class"];
    if (x.code === y.code) return ["fits", "same class, " + y.code];
    if (y.class === 1 && x.class === 2) return ["fits", y.code + " is steadier than " + x.code];
    if (x.class === 1 && y.class === 2) return ["does-not-fit", y.code + " is not stable enough for " + x.code];
    if (x.class === 1) return ["fits-with-remark", y.code + " has another temperature coefficient than " + x.code];
    if (y.low > x.low || y.high < x.high) return ["does-not-fit", y.code + " is made for " + y.low + ".." + y.high + " °C, " + x.code + " for " + x.low + ".." + x.high + " °C"];
    if (Number(y.down) > Number(x.down) || Number(y.up) > Number(x.up)) return ["does-not-fit", y.code + " changes more over its range (" + y.text + ") than " + x.code];
    return ["fits", y.code + " is at least as good as " + x.code];
  }
  function compareSafety(x, y) {
    if (!x) return ["fits", ""];
    if (!y) return ["does-not-fit", "a safety capacitor of class " + x + " is replaced by a safety capacitor alone"];
    if (x === y) return ["fits", "same safety class, " + y];
    const classes = (c) => c.match(/../g);
    if (classes(x).every((o) => classes(y).some((n) => n[0] >= o[0] && n[1] <= o[1]))) return ["fits", "safety class " + y + " covers " + x];
    return ["does-not-fit", "safety class " + y + " does not cover " + x];
  }
  function comparePackage(x, y) {
    const insulated = (p) => swaps.insulated.includes(p);
    if (!x) return ["fits", ""];
    if (!y && insulated(x)) return ["cannot-tell", "the new part does not state its package; the tab of " + x + " is insulated"];
    if (!y) return ["fits-with-remark", "the new part does not state its package: look whether it sits in its place"];
    if (insulated(x) && !insulated(y)) return ["does-not-fit", "package " + y + " instead of " + x + ": its tab may be live, that of the original is insulated"];
    if (insulated(y) && !insulated(x)) return ["fits-with-remark", "package " + y + " instead of " + x + ": insulated, it gives off its heat less well; look whether it sits in its place"];
    if (x === y) return ["fits", "same package, " + y];
    const p = findPackage(x), q = findPackage(y);
    if (p && q && p.p[2] === q.p[2] && p.p[3] === q.p[3]) return ["fits", "the same size by another name, " + size(q.p)];
    return ["fits-with-remark", "package " + y + " instead of " + x + (p && q ? " (" + size(q.p) + " instead of " + size(p.p) + ")" : "") + ": look whether it sits on the pads"];
  }

  globalThis.benchloreParts = (data) => {
    W = benchloreQuantity.steps.words();
    swaps = JSON.parse(data);
    known = null;
    // Every kind has the rules for all kinds that it has none for: what may be stated of any part is compared.
    for (const k of Object.values(swaps.kinds)) k.rules = [...k.rules, ...swaps.defaults.filter((r) => !k.rules.some((o) => o.attr === r.attr))];
  };
  return { swap: (a, b) => attempt(() => swap(a, b)) };
})();
