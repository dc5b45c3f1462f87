"use strict";
/* Values, markings and formulas in the page, with the answers of the
   command line: the same tables, the same steps, exact decimals. */
const benchloreQuantity = (() => {
  let T, W, M, series, formulas, live, units, unitOf;
  const maxText = 200;
  class Bad extends Error {}
  const bad = (message) => { throw new Bad(message); };
  const trim = (s) => s.replace(/^[\t\n\v\f\r \u0085\u00a0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+|[\t\n\v\f\r \u0085\u00a0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+$/g, "");
  const bytes = (s) => new TextEncoder().encode(s).length;
  const clip = (s) => { const r = [...s]; return r.length <= 40 ? s : r.slice(0, 40).join("") + "…"; };
  const quote = (s) => JSON.stringify(s);
  const digit = (c) => c >= "0" && c <= "9" && c.length === 1;
  const allDigits = (s) => /^[0-9]+$/.test(s);
  const own = (o, k) => Object.hasOwn(o, k) ? o[k] : undefined;

  // Decimals: coefficient and power of ten, without trailing zeros.
  const dec = (coef, exp) => normal({ coef: BigInt(coef), exp });
  function normal(d) {
    if (d.coef === 0n) return { coef: 0n, exp: 0 };
    let { coef, exp } = d;
    while (coef % 10n === 0n) { coef /= 10n; exp++; }
    return { coef, exp };
  }
  const abs = (d) => d.coef < 0n ? { coef: -d.coef, exp: d.exp } : d;
  const digits = (d) => abs(d).coef.toString().length;
  const order = (d) => digits(d) - 1 + d.exp;
  const float = (d) => Number(d.coef + "e" + d.exp);
  const times = (a, b) => ({ coef: a.coef * b.coef, exp: a.exp + b.exp });
  function cmp(a, b) {
    const low = Math.min(a.exp, b.exp);
    const x = a.coef * 10n ** BigInt(a.exp - low), y = b.coef * 10n ** BigInt(b.exp - low);
    return x < y ? -1 : x > y ? 1 : 0;
  }
  function add(a, b) {
    const low = Math.min(a.exp, b.exp);
    const d = normal({ coef: a.coef * 10n ** BigInt(a.exp - low) + b.coef * 10n ** BigInt(b.exp - low), exp: low });
    return d.coef > 9223372036854775807n || d.coef < -9223372036854775808n ? null : d;
  }
  function plain(d, shift) {
    const exp = d.exp + shift;
    let s = abs(d).coef.toString();
    if (d.coef === 0n) s = "0";
    else if (exp >= 0) s += "0".repeat(exp);
    else {
      while (s.length <= -exp) s = "0" + s;
      s = s.slice(0, s.length + exp) + "." + s.slice(s.length + exp);
    }
    return d.coef < 0n ? "-" + s : s;
  }
  const text = (d) => plain(d, 0);

  // fromFloat rounds to significant digits, halves to even, from the exact value.
  function fromFloat(f, n) {
    if (!Number.isFinite(f)) return null;
    const [m, e] = Math.abs(f).toExponential(100).split("e");
    const all = m.replace(".", "");
    let head = BigInt(all.slice(0, n));
    const rest = all.slice(n);
    const half = "5" + "0".repeat(rest.length - 1);
    if (rest > half || rest === half && head % 2n === 1n) head++;
    return dec(f < 0 ? -head : head, Number(e) - (n - 1));
  }

  // number reads a number at the start of s; n is what it took, 0 for none, -1 for too many digits.
  function number(s) {
    let i = 0, negative = false;
    if (s[0] === "-" || s[0] === "+") { negative = s[0] === "-"; i = 1; }
    else if (s[0] === "\u2212" && bytes(s) >= 3) { negative = true; i = 1; }
    let coef = 0n, exp = 0, count = 0, seen = false, point = false, grouped = false;
    for (; i < s.length; i++) {
      const c = s[i];
      if (digit(c)) {
        seen = true;
        if (count === 18) {
          if (c !== "0") return { n: -1 };
          if (!point) exp++;
          continue;
        }
        coef = coef * 10n + BigInt(c);
        if (coef !== 0n) count++;
        if (point) exp--;
      } else if (!point && !grouped && c === "," && ambiguousComma(s, i)) return { n: -2 };
      else if (!point && groupAt(s, i)) grouped = true;
      else if ((c === "." || c === ",") && !point && digit(s[i + 1] || "")) point = true;
      else break;
    }
    if (!seen) return { n: 0 };
    if (i + 1 < s.length && (s[i] === "e" || s[i] === "E")) {
      const m = /^[eE]([+-]?)([0-9]+)/.exec(s.slice(i));
      if (m) {
        if (Number(m[2]) > 1000) return { n: -1 };
        exp += m[1] === "-" ? -Number(m[2]) : Number(m[2]);
        i += m[0].length;
      }
    }
    return { d: { coef: negative ? -coef : coef, exp }, n: i };
  }

  const threeDigits = (s) => /^[0-9]{3}(?![0-9])/.test(s);
  const digitsBefore = (s, i) => /[0-9]*$/.exec(s.slice(0, i))[0];
  function ambiguousComma(s, i) {
    const d = digitsBefore(s, i);
    return d.length >= 1 && d.length <= 3 && d[0] !== "0" && threeDigits(s.slice(i + 1));
  }
  // groupAt says whether the space at i groups thousands.
  function groupAt(s, i) {
    if (!" \u00a0\u202f\u2009".includes(s[i]) || !threeDigits(s.slice(i + 1))) return false;
    const d = digitsBefore(s, i), start = i - d.length;
    if (d.length < 1 || d.length > 3 || start > 0 && (s[start - 1] === "." || s[start - 1] === ",")) return false;
    return !(d[0] === "0" && (d.length !== 3 || start === 0));
  }
  function twoWays(s) {
    const i = s.indexOf(","), d = digitsBefore(s, i);
    return d + " " + s.slice(i + 1, i + 4) + " or " + d + "." + s.slice(i + 1, i + 4);
  }

  const oldFarads = { MFD: -6, mfd: -6, Mfd: -6, MMFD: -12, mmfd: -12, MMF: -12, mmf: -12, uuF: -12, "µµF": -12, "μμF": -12 };
  const prefixes = { f: -15, p: -12, n: -9, u: -6, m: -3, k: 3, K: 3, M: 6, G: 9, T: 12, "µ": -6, "μ": -6 };
  const prefix = (s) => s !== "" && Object.hasOwn(prefixes, s[0]) ? prefixes[s[0]] : null;
  const unit = (name) => units.find((u) => u.Name === name);
  function scanUnit(word) {
    if (Object.hasOwn(oldFarads, word)) return { unit: unit("farad"), exp: oldFarads[word] };
    if (Object.hasOwn(unitOf, word)) return { unit: unitOf[word], exp: 0 };
    const e = prefix(word);
    if (e === null || word.length === 1) return null;
    const u = own(unitOf, word.slice(1));
    return u && u.Prefixes ? { unit: u, exp: e } : null;
  }
  function unitWord(s) {
    if (s.startsWith("1/min")) return "1/min";
    let i = 0;
    for (; i < s.length; i++) {
      const c = s[i];
      if (!(/[a-zA-Z%ΩΩµμ°℃⁻¹\u2126\u03a9]/.test(c) || c === "/" && i === 0)) break;
    }
    return s.slice(0, i);
  }
  const none = () => units[0];
  const is = (v, name) => v.unit.Name === name;
  function bounded(v, n) {
    v.d = normal(v.d);
    if (v.d.coef < 0n && v.unit.NeverNegative) bad("a " + v.unit.Quantity + " is never negative");
    if (v.d.coef !== 0n && Math.abs(order(v.d)) > 30) bad("beyond anything that can be measured");
    return { v, n };
  }
  const isOver = (s) => ["ol", "0l", "∞", "open", "ovld", "overload"].includes(s.toLowerCase().replaceAll(".", ""));

  function scanValue(s) {
    const { d, n } = number(s);
    if (n === -2) bad("the comma may group thousands or be the decimal point: write " + twoWays(s));
    if (n < 0) bad("more digits than a value can have");
    if (n === 0) {
      const c = scanCode(s, { coef: 0n, exp: 0 });
      if (c) return bounded(c.v, c.n);
      const u = unitFirst(s);
      if (u) return bounded(u.v, u.n);
      bad("no number");
    }
    const c = scanCode(s.slice(n), d);
    if (c) return bounded(c.v, n + c.n);
    let at = n;
    while (at < s.length && " \u00a0\u202f\u2009".includes(s[at])) at++;
    const word = unitWord(s.slice(at));
    if (word === "") return bounded({ d, unit: none() }, n);
    if (word === "C" && at > n) return bounded({ d, unit: unit("degree Celsius") }, at + 1);
    const u = scanUnit(word);
    if (u) return bounded({ d: { coef: d.coef, exp: d.exp + u.exp }, unit: u.unit }, at + word.length);
    const e = prefix(word);
    if (e !== null && word.length === 1) {
      if (e === -3) bad(quote(word) + " alone may be milli or metre; write the unit");
      return bounded({ d: { coef: d.coef, exp: d.exp + e }, unit: unit(e < -3 ? "farad" : "ohm") }, at + 1);
    }
    if (at > n) return bounded({ d, unit: none() }, n);
    return bad(quote(clip(word)) + " is not a unit");
  }

  function scanCode(s, d) {
    if (d.exp < 0 || s === "") return null;
    let u, exp = 0;
    switch (s[0]) {
      case "R": u = "ohm"; break;
      case "L": u = "ohm"; exp = -3; break;
      case "V": u = "volt"; break;
      case "A": u = "ampere"; break;
      case "F": u = "farad"; break;
      case "H": u = "henry"; break;
      case "k": case "K": case "M": case "G": case "T": u = "ohm"; exp = prefixes[s[0]]; break;
      case "m": u = "farad"; exp = -3; break;
      default: {
        const e = prefix(s);
        if (e === null || e < -12) return null;
        u = "farad"; exp = e;
      }
    }
    let i = 1;
    while (i < s.length && digit(s[i])) i++;
    if (i === 1 || i - 1 > 6) return null;
    if (d.coef < 0n || d.coef > 10n ** 10n) return null;
    let value = { coef: d.coef, exp: d.exp };
    for (const c of s.slice(1, i)) value = { coef: value.coef * 10n + BigInt(c), exp: value.exp - 1 };
    const word = unitWord(s.slice(i));
    const named = own(unitOf, word);
    if (word !== "" && named && (named.Name === u || exp > 0 && named.Name === "hertz" || exp < 0 && ["henry", "volt", "ampere", "second"].includes(named.Name))) {
      u = named.Name;
      i += word.length;
    }
    return { v: { d: { coef: value.coef, exp: value.exp + exp }, unit: unit(u) }, n: i };
  }

  function unitFirst(s) {
    const word = unitWord(s);
    const u = own(unitOf, word);
    if (!u || u.Name === "") return null;
    let at = word.length;
    while (s[at] === " ") at++;
    const { d, n } = number(s.slice(at));
    if (n <= 0) return null;
    at += n;
    let exp = 0;
    const rest = unitWord(s.slice(at));
    if (rest !== "") {
      const e = prefix(rest);
      if (e === null || rest.length !== 1 || !u.Prefixes) return null;
      exp = e;
      at++;
    }
    return { v: { d: { coef: d.coef, exp: d.exp + exp }, unit: u }, n: at };
  }

  function parse(input) {
    const s = trim(input);
    if (bytes(s) > maxText) bad("too long for a value");
    if (s === "") bad("no value");
    if (isOver(s)) return { over: true, d: dec(0, 0), unit: none() };
    const { v, n } = scanValue(s);
    if (n < s.length) bad(quote(clip(s.slice(n))) + " does not belong to a value");
    return v;
  }

  const names = ["f", "p", "n", "µ", "m", "", "k", "M", "G", "T"];
  function show(v) {
    if (v.over) return "OL";
    if (v.unit.Name === "") return text(v.d);
    if (!v.unit.Prefixes || v.d.coef === 0n) return text(v.d) + " " + v.unit.Symbol;
    let step = order(v.d);
    if (step < 0) step -= 2;
    step = Math.min(Math.max(Math.trunc(step / 3) * 3, -15), 12);
    if (["metre", "second", "litre"].includes(v.unit.Name)) step = Math.min(step, 0);
    if (["farad", "henry"].includes(v.unit.Name)) step = Math.min(Math.max(step, -12), 0);
    return plain(v.d, -step) + " " + names[step / 3 + 5] + v.unit.Symbol;
  }

  // Expectations.
  const about = /^(?:~|≈|circa|ca\.?|approximately|approx\.?|about|around|etwa|ungefähr|rund|environ|env\.?) ?/i;
  const waveMarks = "AC rms|DC|dc|d\\.c\\.|AC|ac|a\\.c\\.|RMS|rms|pp|p-p|PP|~|⎓";
  const wave = new RegExp("^(.*(?:[VAva]|[Vv]olts?|[Aa]mps?)) ?\\(?(?:" + waveMarks + ")\\)?$");
  // What a mark behind a voltage or current means.
  const waveWord = (mark) => mark === "AC/DC" ? "either" : ({ dc: "direct", "d.c.": "direct", "⎓": "direct", pp: "peak to peak", "p-p": "peak to peak" }[mark.toLowerCase()] || "alternating");
  const waveBefore = /^([^±+]*?(?:[VAva]|[Vv]olts?|[Aa]mps?)) ?\(?(?:DC|dc|AC|ac|RMS|rms|pp|p-p)\)?( *(?:±|\+).*)$/;
  const hyphenRange = /^([+\-\u2212]?[0-9][0-9.,]* ?[A-Za-zΩµμ°%]{0,4} ?)([-\u2212]) ?[0-9]/;
  function expectation(input) {
    let s = trim(input);
    if (bytes(s) > maxText) bad("too long for an expectation");
    if (s === "" || s === "-" || s === "–") return {};
    if (isOver(s)) return { over: true };
    if (/^(?:beep|beeps|beeped|no beep|silent)$/i.test(s)) return { over: true };
    const rough = about.exec(s);
    if (rough && rough[0].length < s.length) s = trim(s.slice(rough[0].length));
    const before = waveBefore.exec(s), behind = wave.exec(s);
    if (before) s = before[1] + before[2];
    else if (behind) s = behind[1];
    for (const mark of [">=", "≥", "<=", "≤", ">", "<"]) {
      if (!s.startsWith(mark)) continue;
      const v = parse(s.slice(mark.length));
      if (v.over) bad("OL is not a limit");
      return "<=≤".includes(mark[0]) && mark[0] !== "=" ? { high: v } : { low: v };
    }
    for (const mark of ["...", "..", "…", "–", "—", " to "]) {
      const i = s.indexOf(mark);
      if (i > 0) return range(s, i, i + mark.length);
    }
    const span = hyphenRange.exec(s);
    if (span) return range(s, span[1].length, span[1].length + 1);
    const { v, n } = scanValue(s);
    const rest = s.slice(n).replace(/^[ \u00a0\u202f]+/, "");
    if (rest === "") return { nominal: v };
    const [up, down] = deviation(rest, v);
    const low = add(v.d, { coef: -down.coef, exp: down.exp }), high = add(v.d, up);
    if (!low || !high) bad("the tolerance has more digits than a value can have");
    return { nominal: v, low: { d: low, unit: v.unit }, high: { d: high, unit: v.unit } };
  }
  function range(s, stop, start) {
    const high = parse(s.slice(start)), low = parse(s.slice(0, stop));
    if (low.over || high.over) bad("OL is not a limit");
    if (is(low, "") && !is(high, "")) {
      const u = scanUnit(unitWord(s.slice(start).replace(/^[ 0123456789.,+\-\u2212]+/, "")));
      low.unit = high.unit;
      low.d = normal({ coef: low.d.coef, exp: low.d.exp + (u ? u.exp : 0) });
    }
    if (low.unit !== high.unit) bad(high.unit.Quantity + " does not go with " + low.unit.Quantity);
    if (cmp(low.d, high.d) > 0) bad("the range runs backwards; write the smaller value first");
    return { low, high };
  }
  function deviation(rest, nominal) {
    for (const mark of ["±", "+/-", "+-"]) {
      if (rest.startsWith(mark)) { const t = oneDeviation(rest.slice(mark.length), nominal); return [t, t]; }
    }
    if (!rest.startsWith("+")) bad(quote(clip(rest)) + " is not a tolerance; write ±5 % or ±0.1 V");
    const i = rest.indexOf("/-");
    if (i < 0) bad("a two-sided tolerance is written +5/-10 %");
    let a = rest.slice(1, i);
    const b = rest.slice(i + 2);
    if (!a.includes("%") && trim(b).endsWith("%")) a += "%";
    return [oneDeviation(a, nominal), oneDeviation(b, nominal)];
  }
  function oneDeviation(s, nominal) {
    if (trim(s).endsWith("ppm")) {
      let t = null;
      try { t = parse(trim(s).slice(0, -3)); } catch (e) { if (!(e instanceof Bad)) throw e; }
      if (!t || !is(t, "") || t.over || t.d.coef < 0n) bad("a tolerance in ppm is a positive number before ppm");
      const p = times(t.d, abs(nominal.d));
      return { coef: p.coef, exp: p.exp - 6 };
    }
    const t = parse(s);
    if (t.over || t.d.coef < 0n) bad("a tolerance is a positive number");
    if (is(t, "percent")) { const p = times(t.d, abs(nominal.d)); return { coef: p.coef, exp: p.exp - 2 }; }
    if (t.unit === nominal.unit || is(t, "")) return t.d;
    return bad("a tolerance of " + nominal.unit.Quantity + " is in % or " + nominal.unit.Symbol + ", not in " + t.unit.Symbol);
  }

  // Series, packages, dielectrics.
  const order7 = ["E3", "E6", "E12", "E24", "E48", "E96", "E192"];
  const width = (name) => ["E3", "E6", "E12", "E24"].includes(name) ? 2 : 3;
  function inSeries(name, d) {
    d = normal(abs(d));
    if (d.coef === 0n || digits(d) > width(name)) return false;
    return series[name].includes(Number(d.coef * 10n ** BigInt(width(name) - digits(d))));
  }
  function nearest(name, d) {
    d = normal(abs(d));
    if (d.coef === 0n) return d;
    const list = series[name], n = width(name), exp = order(d) - (n - 1);
    let best = { coef: BigInt(list[list.length - 1]), exp: exp - 1 };
    for (const m of [...list, list[0] * 10]) {
      const next = { coef: BigInt(m), exp };
      if (cmp(next, d) <= 0) { best = next; continue; }
      if (cmp(times(next, best), times(d, d)) < 0) best = next;
      break;
    }
    return normal(best);
  }
  const standard = (d) => order7.find((name) => inSeries(name, d)) || "";
  const size = (p) => p[2] + " × " + p[3] + " mm";
  function findPackage(code) {
    let metric = false;
    if (code.length > 1 && /[Mm]$/.test(code)) { code = code.slice(0, -1); metric = true; }
    const imperialHit = code === "" ? undefined : T.packages.findLast((p) => p[0] === code);
    const metricHit = T.packages.findLast((p) => p[1] === code);
    if (metric) return metricHit ? { p: metricHit, warning: "" } : null;
    if (imperialHit) return { p: imperialHit, warning: metricHit ? "read as the imperial code; as a metric code " + code + "M it is " + size(metricHit) : "" };
    if (metricHit) return { p: metricHit, warning: "read as a metric code; there is no imperial " + code };
    return null;
  }
  function dielectric(input) {
    if (bytes(input) !== 3) return null;
    let code = input.replace(/[a-z]/g, (c) => c.toUpperCase());
    if (["COG", "NP0", "NPO"].includes(code)) code = "C0G";
    const low = own(T.dielectricLow, code[0]), high = own(T.dielectricHigh, code[1]), change = own(T.dielectricChange, code[2]);
    if (low !== undefined && high !== undefined && change) {
      const c = change[0] === change[1] ? "±" + change[1] + " %" : "+" + change[1] + "/-" + change[0] + " %";
      return { code, class: 2, low, high, down: change[0], up: change[1], text: low + ".." + high + " °C, " + c };
    }
    const f = own(T.class1Figure, code[0]), m = own(T.class1Multiplier, code[1]), t = own(T.class1Tolerance, code[2]);
    if (f === undefined || m === undefined || t === undefined) return null;
    const n = number(f).d;
    return { code, class: 1, text: text(normal({ coef: n.coef * BigInt(m), exp: n.exp })) + " ±" + t + " ppm/K" };
  }

  // Readings of a text.
  const digitSource = "IEC 60062, digit code", rkmSource = "IEC 60062, RKM code";
  function reading(v, source, reason) {
    const r = { kind: v.unit.Quantity, value: show(v), si: float(v.d), unit: v.unit.Name, source };
    if (reason) r.reason = reason;
    if (["ohm", "farad", "henry"].includes(v.unit.Name) && v.d.coef > 0n) {
      const s = standard(v.d);
      if (s) r.standard = s;
      r.nearest = {};
      for (const name of ["E6", "E12", "E24", "E96"]) r.nearest[name] = show({ d: nearest(name, v.d), unit: v.unit });
    }
    return r;
  }
  const same = (a, b) => a.kind === b.kind && a.value === b.value;

  function read(input) {
    const s = trim(input);
    if (bytes(s) > maxText) bad("too long for a value");
    if (s === "") bad("no value");
    const colours = readColours(s);
    if (colours) return [colours];
    if (isOver(s)) return [{ kind: "over range", value: "OL", si: 0, unit: "", source: "meter display", reason: "beyond the meter's range, or open" }];
    const two = ambiguousReadings(s);
    if (two) return two;
    const parted = s.replace(joined, "$1 $2");
    if (parted !== s) return read(parted);
    const plain = trim(M.rewrites.reduce((x, [from, to]) => x.replace(from, to), s));
    if (plain !== s) return read(plain);
    if (s.length > 9 && allDigits(s)) bad("more digits than a marking has, and no unit");
    const forms = patternReadings(s);
    if (forms.only) return forms.only;
    const worded = wordReadings(s);
    if (worded) return worded;
    let list = markReadings(s);
    if (/^[0-9A-Za-z]{1,8}$/.test(s)) list.push(...readCode(s));
    let error = null, spec = null;
    try { spec = parseSpec(s); } catch (e) { if (!(e instanceof Bad)) throw e; error = e; }
    const main = spec && mainOf(spec);
    if (main) {
      const r = reading(main, spec.code ? rkmSource : "written value");
      const t = toleranceText(spec.tolerance);
      if (t) r.tolerance = t;
      const c = conditions(spec);
      if (c) r.conditions = c;
      if (r.unit === "") {
        r.kind = "number";
        r.source = "written value";
        r.reason = "a bare number has no unit";
        list.push(r);
        const n = main.d;
        if (main === spec.value && n.coef > 0n && cmp(n, dec(1, 0)) < 0) list.push(reading({ d: { coef: n.coef, exp: n.exp - 6 }, unit: unit("farad") }, oldSource, "capacitor: old ones are marked in microfarads without a unit"));
      } else if (list.some((o) => same(o, r))) { /* known already */ }
      else if (list.length > 0 && (["farad", "henry", "joule"].includes(main.unit.Name) || is(main, "ampere") && (s[0] === "0" || s.length === 4) || !digit(s[0]) || list[0].kind === "capacitance" && s.includes(" "))) list.push(r);
      else list.unshift(r);
    }
    list = [...forms.first, ...list, ...forms.last];
    if (list.length > 0) return list;
    try {
      const e = expectation(s);
      if (e.low || e.high) return [expectationReading(e)];
      if (e.over) bad("no value");
    } catch (e) { if (!(e instanceof Bad)) throw e; }
    if (/^[A-Za-z][A-Za-z0-9]{1,4}$/.test(s)) bad("no value; it may be the mark of a semiconductor, and makers give one mark to several types: go by its package, its pins and the circuit");
    throw error || new Bad("no value");
  }

  const oldSource = "common practice, no source";
  // Forms of markings, as data (marks.json).
  const expand = (template, groups) => {
    let full = true;
    for (let i = 1; i < groups.length; i++) {
      if (!groups[i] && template.includes("$" + i)) full = false;
      template = template.replaceAll("$" + i, () => groups[i] || "");
    }
    return [template, full];
  };
  function markValue(s) {
    if (s[0] === "@") {
      const volts = own(T.voltageCodes, s.slice(1));
      if (!volts) return null;
      s = volts + " V";
    }
    if (s[0] === "#") {
      const v = tryParse("1" + s.slice(4));
      if (!v) return null;
      const d = dec(s.slice(1, 3), v.d.exp + Number(s[3]));
      return d.coef === 0n ? null : { d, unit: v.unit };
    }
    const v = tryParse(s);
    return v && !v.over ? v : null;
  }
  function markRule(r, s) {
    const m = r.pattern.exec(s), v = m && markValue(expand(r.value, m)[0]);
    if (!v) return null;
    const out = reading(v, r.source, r.reason);
    let t = expand(r.tolerance || "", m)[0];
    if (t.length === 1) t = own(r.letters || {}, t) ?? toleranceOf(t, v);
    if (t === null) return null;
    if (t) out.tolerance = t;
    for (const [name, template] of Object.entries(r.conditions || {})) {
      let [said, full] = expand(template, m);
      if (!full) continue;
      if (said[0] === "@") {
        const volts = markValue(said);
        if (!volts) return null;
        said = show(volts);
      }
      out.conditions = { ...out.conditions, [name]: said };
    }
    return out;
  }
  function patternReadings(s) {
    const first = [], last = [];
    for (const r of M.rules) {
      if (r.refuse) {
        if (r.pattern.test(s)) bad(r.refuse);
        continue;
      }
      const out = markRule(r, s);
      if (!out) continue;
      if (!r.place) return { only: [out] };
      (r.place === "first" ? first : last).push(out);
    }
    return { first, last };
  }
  const digitHead = /^[0-9]{3}[BCDGJKMZ]?$/, bareHead = /^(?:[0-9]{1,4}|[0-9]*[.,][0-9]+)$/;
  // wordReadings reads a code or a bare number with words beside it, each of which is read or named.
  function wordReadings(s) {
    const words = s.split(" ").map((w) => w.replace(/^([XY][12])([XY][12])$/, "$1 $2")).join(" ").split(/[ /@]+/).filter((w) => w !== "");
    let head = -1;
    for (const [i, w] of words.entries()) {
      if (head >= 0 && findPackage(w) || !digitHead.test(w) && !bareHead.test(w)) continue;
      if (head >= 0) return null;
      head = i;
    }
    if (head < 0 || words.length < 2 || words.length > 8) return null;
    const code = words[head], next = words[head + 1];
    if (next && !digit(next[0])) {
      const v = tryParse(code + " " + next);
      if (v && !is(v, "")) return null;
    }
    const facts = {}, put = (name, said) => { facts[name] = facts[name] ? facts[name] + ", " + said : said; };
    const spec = { kind: "", technology: "", pack: "", dielectric: "", safety: "", speed: "", value: { unit: unit("farad") } };
    const names = { volt: "voltage", ampere: "current", watt: "power", hertz: "frequency", "degree Celsius": "temperature" };
    let tolerance = "", known = false;
    for (const [i, w] of words.entries()) {
      if (i === head) continue;
      const state = () => spec.kind + spec.technology + spec.dielectric + spec.pack, before = state();
      const m = wave.exec(w), v = tryParse(m ? m[1] : w);
      if (v && own(names, v.unit.Name)) put(names[v.unit.Name], show(v));
      else if (v && is(v, "percent") && v.d.coef > 0n && tolerance === "") tolerance = "±" + show(v);
      else if (/^B[0-9]{4}$/.test(w)) put("B", w.slice(1) + " kelvin");
      else if (specWord(spec, w) === "") {
        if (spec.safety !== "") { put("safety class", spec.safety); spec.safety = ""; }
        else if (before === state()) put("not read", w);
      } else { put("not read", w); continue; }
      known = true;
    }
    for (const [name, said] of [["class", spec.dielectric], ["package", spec.pack], ["kind", spec.technology]]) if (said) put(name, said);
    if (spec.kind === "") spec.kind = own(W.technologyKinds, spec.technology) || "";
    let want = own({ capacitor: "capacitance", resistor: "resistance", ferrite: "resistance", inductor: "inductance" }, spec.kind) || "";
    if (!want && spec.kind !== "") return null;
    if (!want && (facts["safety class"] || facts.class || facts.voltage)) want = "capacitance";
    else if (!want && (facts.frequency || facts.power || facts.B)) want = "resistance";
    const list = [], n = tryParse(code);
    if (n && is(n, "") && want === "capacitance" && n.d.coef > 0n) {
      const micro = code.length !== 3 || code.endsWith("0") || /[.,]/.test(code);
      if (micro && spec.dielectric === "" && spec.kind === "" || spec.technology === "electrolytic") {
        list.push(reading({ d: { coef: n.d.coef, exp: n.d.exp - 6 }, unit: unit("farad") }, oldSource, "capacitor: a number beside a voltage is microfarads, as on electrolytic and film ones"));
      }
    }
    if (digitHead.test(code)) list.push(...digitReadings(code.slice(0, 3), code.slice(3)).filter((r) => want === "" || r.kind === want));
    if (list.length === 0 || !known && !facts["not read"]) return null;
    for (const r of list) {
      const all = { ...r.conditions, ...facts };
      if (Object.keys(all).length) r.conditions = all;
      if (!r.tolerance) { if (tolerance) r.tolerance = tolerance; }
      else if (tolerance && tolerance !== r.tolerance) r.warning = "two tolerances are stated: " + r.tolerance + " and " + tolerance;
    }
    return list;
  }

  const joined = /^([0-9]+(?:[.,][0-9]+)?[pnuµμm]F)([0-9]+(?:[.,][0-9]+)?k?V)$/;
  function ambiguousReadings(s) {
    const m = /^([1-9][0-9]{0,2}),([0-9]{3})([^0-9,.].*)?$/.exec(s);
    if (!m) return null;
    const list = [];
    for (const [way, why] of [[m[1] + m[2] + (m[3] || ""), "the comma groups thousands"], [m[1] + "." + m[2] + (m[3] || ""), "the comma is the decimal point"]]) {
      try {
        list.push({ ...read(way)[0], reason: why, warning: "the comma may be either: write a space or a point" });
      } catch (e) { if (!(e instanceof Bad)) throw e; return null; }
    }
    return list;
  }
  const fuseSpeeds = { FF: "very fast", F: "fast", M: "medium", T: "slow", TT: "very slow" };
  const fuseClasses = { L: "low", E: "enhanced", H: "high" };
  const partEnd = "(?:$|[ ,;()/])";
  const partFuse = new RegExp("^(FF|F|M|TT|T) ?([0-9]+(?:[.,][0-9]+)?) ?(m?A)([LEH])? ?(?:([0-9]+) ?V(?: ?(AC|DC|ac|dc|~))?)?" + partEnd);
  function markReadings(s) {
    const capacitor = (code, letter, volts, source, reason) => {
      const c = picofarads(code), t = c && toleranceOf(letter || "", c);
      if (!c || t === null) return null;
      const r = reading(c, source, reason);
      if (t) r.tolerance = t;
      return { ...r, conditions: { voltage: volts } };
    };
    let m = /^([0-3][A-Z])([0-9]{3})([A-Z])?$/.exec(s);
    if (m && own(T.voltageCodes, m[1])) {
      const r = capacitor(m[2], m[3], T.voltageCodes[m[1]] + " V", "two-character voltage code, from memory", "capacitor: a voltage code, then picofarads");
      if (r) return [r];
    }
    m = /^([0-9]{3})([A-Z])? +([0-9]+(?:[.,][0-9]+)?) ?(k?V)$/.exec(s);
    if (m) {
      const v = tryParse(m[3] + " " + m[4]), r = v && capacitor(m[1], m[2], show(v), digitSource, "capacitor: picofarads, two digits and the number of zeros");
      if (r) return [r];
    }
    m = partFuse.exec(s);
    if (m && m[0].length === s.length) {
      const v = tryParse(m[2] + " " + m[3]);
      if (v) {
        const r = reading(v, "IEC 60127-1 marking, from memory", "fuse: speed, then rated current");
        r.conditions = { speed: fuseSpeeds[m[1]] };
        if (m[4]) r.conditions["breaking capacity"] = fuseClasses[m[4]];
        if (m[5]) r.conditions.voltage = m[5] + " V" + (m[6] ? " " + m[6].toUpperCase().replace("~", "AC") : "");
        return [r];
      }
    }
    m = /^([0-9]{2})D([0-9]{3})K$/.exec(s);
    if (m) {
      const r = reading({ d: dec(m[2].slice(0, 2), Number(m[2][2])), unit: unit("volt") }, oldSource, "disc varistor: diameter, then its voltage at 1 mA, which is not what it may be run at");
      return [{ ...r, tolerance: "±10 %", conditions: { diameter: m[1].replace(/^0/, "") + " mm" } }];
    }
    m = /^([0-9]+(?:\.[0-9])?)D-?([0-9]{1,2})$/.exec(s);
    if (m && number(m[1]).n > 0) {
      const r = reading({ d: normal(number(m[1]).d), unit: unit("ohm") }, oldSource, "inrush limiter (NTC): resistance at 25 °C, then its diameter");
      delete r.standard;
      delete r.nearest;
      return [{ ...r, conditions: { diameter: m[2].replace(/^0/, "") + " mm" } }];
    }
    const upper = s.toUpperCase(), none0 = { si: 0, unit: "" };
    if (s.toLowerCase() === "black") return [{ kind: "resistance", value: "0 Ω", si: 0, unit: "ohm", source: "IEC 60062, colour code", reason: "a single black band: a link" }];
    if (own(T.bodies, upper)) return [{ kind: "package", value: T.bodies[upper], ...none0, source: "package outlines, from memory", reason: upper }];
    if (own(T.jis, upper)) return [{ kind: "dielectric", value: T.jis[upper], ...none0, source: "JIS C 5101 characteristic codes, from memory", reason: upper + "; says nothing of voltage and age" }];
    m = /^(?:[Cc]ase )?([A-E])$/.exec(s);
    if (m) return [{ kind: "package", value: T.tantalumCases[m[1]], ...none0, source: "EIA-535BAAC case codes, from memory", reason: "tantalum case " + m[1] }];
    return [];
  }
  const tryParse = (x) => { try { return parse(x); } catch (e) { if (!(e instanceof Bad)) throw e; return null; } };
  function expectationReading(e) {
    const r = reading(e.nominal || e.low || e.high, "written limits");
    r.value = e.low && e.high ? show(e.low) + " to " + show(e.high) : e.low ? "at least " + show(e.low) : "at most " + show(e.high);
    delete r.standard;
    delete r.nearest;
    return r;
  }

  function readCode(s) {
    const list = [];
    const found = findPackage(s);
    const sizeReading = () => {
      const r = { kind: "package", value: size(found.p), si: 0, unit: "", source: "EIA and IEC chip sizes", reason: "imperial " + (found.p[0] || "none") + ", metric " + found.p[1] + "M" };
      if (found.warning) r.warning = found.warning;
      return r;
    };
    if (found && (s[0] === "0" || s.length === 5)) list.push(sizeReading());
    if (/^0{1,4}$/.test(s)) list.push({ kind: "resistance", value: "0 Ω", si: 0, unit: "ohm", source: digitSource, reason: "a link" });
    else if (s.length === 3 && allDigits(s)) list.push(...digitReadings(s, ""));
    else if (s.length === 4 && allDigits(s)) {
      const stem = dec(s.slice(0, 3), 0);
      if (found && s[0] !== "0" && (!inSeries("E96", stem) && !inSeries("E24", stem) || s[3] >= "5")) list.push(sizeReading());
      list.push(reading({ d: dec(s.slice(0, 3), Number(s[3])), unit: unit("ohm") }, digitSource, "chip resistor: three digits and the number of zeros, usually 1 %"));
    } else if (s.length === 3 && allDigits(s.slice(0, 2)) && s[2] >= "A") {
      if ("RKM".includes(s[2])) list.push(...rkmReadings(s, []));
      list.push(...twoDigitReadings(s));
    } else if (s.length === 4 && allDigits(s.slice(0, 3))) list.push(...digitReadings(s.slice(0, 3), s[3]));
    else if (s.length === 4 && allDigits(s.slice(1))) {
      const volts = own(T.voltageLetters, s[0]), c = picofarads(s.slice(1));
      if (volts && c) list.push({ ...reading(c, "tantalum chip marking", "voltage letter, then picofarads"), conditions: { voltage: volts + " V" } });
    }
    list.push(...rkmReadings(s, list));
    const d = dielectric(s);
    if (d) list.push({ kind: "dielectric", value: d.text, si: 0, unit: "", source: "EIA-198", reason: "class " + d.class + " ceramic, " + d.code + "; says nothing of voltage and age" });
    if (found && !list.some((r) => r.kind === "package")) list.push(sizeReading());
    return list;
  }
  function picofarads(s) {
    let exp = Number(s[2]);
    if (exp >= 8) exp -= 10;
    const d = dec(s.slice(0, 2), exp - 12);
    return d.coef === 0n ? null : { d, unit: unit("farad") };
  }
  function digitReadings(s, letter) {
    const list = [], exp = Number(s[2]);
    const withTolerance = (r, t) => { if (t) r.tolerance = t; return r; };
    const ohms = dec(s.slice(0, 2), exp);
    if (letter === "" && ohms.coef !== 0n && exp < 8) list.push(reading({ d: ohms, unit: unit("ohm") }, digitSource, "chip resistor: two digits and the number of zeros, usually 5 %"));
    const c = picofarads(s);
    if (c) {
      const t = toleranceOf(letter, c);
      if (t !== null) list.push(withTolerance(reading(c, digitSource, "capacitor: picofarads, two digits and the number of zeros"), t));
      const volts = letter === "" ? undefined : own(T.voltageLetters, letter);
      if (volts) list.push({ ...reading(c, "tantalum chip marking", "picofarads, then a voltage letter"), conditions: { voltage: volts + " V" } });
    }
    const h = { d: dec(s.slice(0, 2), exp - 6), unit: unit("henry") };
    const t = toleranceOf(letter, h);
    if (t !== null && h.d.coef !== 0n && exp <= 6) list.push(withTolerance(reading(h, digitSource, "inductor: microhenries, two digits and the number of zeros"), t));
    return list;
  }
  function twoDigitReadings(s) {
    const list = [], letter = s[2], i = Number(s.slice(0, 2)), exp = own(T.eia96, letter);
    if (exp !== undefined && i >= 1 && i <= 96) {
      list.push({ ...reading({ d: dec(series.E96[i - 1], exp), unit: unit("ohm") }, "EIA-96", "1 % chip resistor: number in E96, then the multiplier; older 2, 5 and 10 % codes look alike"), tolerance: "±1 %" });
    }
    const c = { d: dec(i, -12), unit: unit("farad") };
    const t = toleranceOf(letter, c);
    if (t !== null && s[0] !== "0") list.push({ ...reading(c, digitSource, "small capacitor: picofarads and a tolerance letter"), tolerance: t });
    return list;
  }
  function toleranceOf(letter, v) {
    if (letter === "") return "";
    if (is(v, "farad") && cmp(v.d, dec(1, -11)) < 0 && own(T.tolerancesBelow10pF, letter)) return "±" + T.tolerancesBelow10pF[letter] + " pF";
    const t = own(T.tolerances, letter);
    return t ? t[0] === t[1] ? "±" + t[1] + " %" : "+" + t[1] + "/-" + t[0] + " %" : null;
  }
  function rkmReadings(s, have) {
    const found = rkm(s);
    if (!found) return [];
    const { v, n } = found;
    let body = s, tolerance = "";
    if (n === s.length - 1) {
      const t = toleranceOf(s[n], v);
      if (t === null) return [];
      body = s.slice(0, n);
      tolerance = t;
    } else if (n !== s.length) return [];
    const list = [];
    const put = (r, t) => { if (t) r.tolerance = t; list.push(r); };
    const point = body.includes("R") && !body.endsWith("R");
    put(reading(v, rkmSource, point ? "R stands for the point" : ""), tolerance);
    if (point && v.d.coef !== 0n) {
      const c = { d: { coef: v.d.coef, exp: v.d.exp - 12 }, unit: unit("farad") };
      const h = { d: { coef: v.d.coef, exp: v.d.exp - 6 }, unit: unit("henry") };
      put(reading(c, digitSource, "capacitor: R as the point, picofarads"), toleranceOf(s.slice(body.length), c) || "");
      put(reading(h, digitSource, "inductor: R as the point, microhenries"), tolerance);
    }
    return list.filter((r) => !have.some((o) => same(o, r)));
  }
  function rkm(s) {
    const { d, n } = number(s);
    if (n < 0 || n > 0 && (d.exp < 0 || !allDigits(s.slice(0, n)))) return null;
    const start = n === 0 ? { coef: 0n, exp: 0 } : d;
    const wrap = (v, m) => { try { return bounded(v, m); } catch (e) { if (!(e instanceof Bad)) throw e; return null; } };
    const c = scanCode(s.slice(n), start);
    if (c) return wrap(c.v, n + c.n);
    if (n === 0 || n === s.length) return null;
    const e = prefix(s.slice(n));
    if (e !== null && e !== -3 && e >= -12) return wrap({ d: { coef: d.coef, exp: d.exp + e }, unit: unit(e < 0 ? "farad" : "ohm") }, n + 1);
    if (s[n] === "R") return wrap({ d, unit: unit("ohm") }, n + 1);
    return null;
  }
  function readColours(s) {
    const fields = s.toLowerCase().split(/[ ,\-/]+/).filter((f) => f !== "").map((f) => own(T.colourAlso, f) || f);
    if (fields.length < 3 || fields.length > 6 || fields.some((f) => own(T.colourMultipliers, f) === undefined)) return null;
    const n = fields.length >= 5 ? 3 : 2;
    let coef = 0n;
    for (const f of fields.slice(0, n)) {
      const i = T.colours.indexOf(f);
      if (i < 0) return null;
      coef = coef * 10n + BigInt(i);
    }
    const r = reading({ d: dec(coef, T.colourMultipliers[fields[n]]), unit: unit("ohm") }, "IEC 60062, colour code", fields.length + " bands, first to last");
    r.tolerance = "±20 %";
    if (fields.length > n + 1) {
      const t = own(T.colourTolerances, fields[n + 1]);
      if (!t) return null;
      r.tolerance = "±" + t + " %";
    }
    if (fields.length === 6) {
      const ppm = own(T.colourCoefficients, fields[5]);
      if (ppm === undefined) return null;
      r.conditions = { "temperature coefficient": ppm + " ppm/K" };
    }
    return r;
  }

  // Specifications.
  const gaps = " \t\u00a0\u202f\u2009,;()/";
  const gap = (c) => c !== undefined && gaps.includes(c);
  const boundary = (s) => s === "" || gap(s[0]) || s[0] === "@" || s.startsWith("±") || s.startsWith("+/-");
  function wordLength(s) {
    let i = 0;
    for (const c of s) {
      if (i > 0 && (gap(c) || c === "@" || c === "±")) return i;
      i += c.length;
    }
    return s.length;
  }
  const tryScan = (s) => { try { return scanValue(s); } catch (e) { if (!(e instanceof Bad)) throw e; return { error: e }; } };
  const isRKM = (s) => { const r = rkm(s); return r !== null && r.n === s.length; };

  function parseSpec(input) {
    const s = { kind: "", technology: "", pack: "", dielectric: "", safety: "", speed: "", others: [] };
    if (bytes(input) > maxText) bad("too long for a value");
    let label = "";
    for (let at = 0; at < input.length;) {
      if (gap(input[at])) { at++; continue; }
      if (input[at] === "@") { label = "@"; at++; continue; }
      const t = specTolerance(s, input.slice(at));
      if (t) { s.tolerance = t.t; at += t.n; continue; }
      const word = input.slice(at, at + wordLength(input.slice(at)));
      const known = specWord(s, word);
      if (known !== false) { if (known) label = known; at += word.length; continue; }
      const r = tryScan(input.slice(at));
      if (!r.error && r.n > 0 && boundary(input.slice(at + r.n))) {
        if (is(r.v, "") && !s.value && s.kind === "" && at === 0 && trim(input.slice(r.n)) === "") s.value = r.v;
        else if (assign(s, r.v, label, isRKM(input.slice(at, at + r.n)))) s.point = s.point || s.code && input.slice(at, at + r.n).includes("R");
        else s.others.push(input.slice(at, at + r.n));
        label = "";
        at += r.n;
        continue;
      }
      if (!s.value && s.kind === "" && s.technology === "" && s.others.length === 0 && !s.voltage && !s.current) {
        if (r.error) throw r.error;
        bad(quote(clip(input.slice(at + r.n))) + " does not belong to a value");
      }
      if (s.value && !s.voltage && !s.current && !s.power && s.pack === "" && s.dielectric === "" && !input.slice(0, at).includes(" ")) {
        bad(quote(clip(input.slice(at))) + " does not belong to a value");
      }
      s.others.push(word);
      at += word.length;
    }
    settle(s);
    if (!s.value && s.kind === "" && !s.voltage && !s.current && !s.power && !s.frequency && !s.temperature) bad("no value");
    return s;
  }
  const rated = ["voltage", "current", "power", "frequency", "temperature"];
  function settle(s) {
    if (s.code && s.point && s.value && is(s.value, "ohm")) {
      if (s.kind === "capacitor") s.value = { d: { coef: s.value.d.coef, exp: s.value.d.exp - 12 }, unit: unit("farad") };
      else if (s.kind === "inductor") s.value = { d: { coef: s.value.d.coef, exp: s.value.d.exp - 6 }, unit: unit("henry") };
    }
    if (s.kind === "") s.kind = own(W.technologyKinds, s.technology) || "";
    if (s.kind === "" && s.value) s.kind = { ohm: s.frequency ? "ferrite" : "resistor", farad: "capacitor", henry: "inductor" }[s.value.unit.Name] || "";
    if (s.kind === "" && !s.value) {
      const key = rated.find((k) => s[k]);
      if (key) { s.value = s[key]; delete s[key]; }
    }
  }
  const mainOf = (s) => s.value || s.current || s.voltage || s.power;
  function conditions(s) {
    const m = {}, main = mainOf(s);
    for (const [name, v] of [["voltage", s.voltage], ["current", s.current], ["power", s.power], ["frequency", s.frequency], ["temperature", s.temperature], ["DC resistance", s.dcr], ["series resistance", s.esr]]) {
      if (v && v !== main) m[name] = show(v);
    }
    for (const [name, t] of [["not read", s.others.join(", ")], ["class", s.dielectric], ["package", s.pack], ["safety class", s.safety], ["speed", s.speed], ["kind", s.technology]]) if (t) m[name] = t;
    return Object.keys(m).length ? m : null;
  }
  function toleranceText(t) {
    if (!t) return "";
    if (cmp(t.up, t.down) === 0) return "±" + show({ d: t.up, unit: t.unit });
    return "+" + text(t.up) + "/-" + show({ d: t.down, unit: t.unit });
  }
  function specTolerance(s, input) {
    for (const mark of ["±", "+/-", "+-"]) {
      if (!input.startsWith(mark)) continue;
      const rest = input.slice(mark.length), body = rest.replace(/^ +/, ""), skip = rest.length - body.length;
      const r = tryScan(body);
      if (!r.error && !is(r.v, "") && r.v.d.coef >= 0n && boundary(body.slice(r.n))) return { t: { down: r.v.d, up: r.v.d, unit: r.v.unit }, n: mark.length + skip + r.n };
      return null;
    }
    if (input.startsWith("+")) {
      const end = input.indexOf("%"), inner = input.slice(1, Math.max(end, 1)), cut = inner.indexOf("/-");
      if (end <= 0 || cut < 0) return null;
      try {
        const up = parse(inner.slice(0, cut)), down = parse(inner.slice(cut + 2));
        if (up.d.coef >= 0n && down.d.coef >= 0n) return { t: { down: down.d, up: up.d, unit: unit("percent") }, n: end + 1 };
      } catch (e) { if (!(e instanceof Bad)) throw e; }
      return null;
    }
    const r = tryScan(input);
    if (!r.error && is(r.v, "percent") && r.v.d.coef >= 0n && s.value && boundary(input.slice(r.n))) return { t: { down: r.v.d, up: r.v.d, unit: r.v.unit }, n: r.n };
    return null;
  }
  // specWord returns false for a word that it does not know, else the label that it sets, or "".
  function specWord(s, word) {
    const lower = word.toLowerCase(), upper = word.toUpperCase();
    const kind = own(W.kinds, lower);
    if (kind) { s.kind = kind; return ""; }
    const technology = own(W.technologies, lower);
    if (technology) { s.technology = technology; return ""; }
    const speed = own(W.speeds, lower);
    if (speed && s.kind === "fuse") { s.speed = speed; return ""; }
    if (lower === "dcr" || lower === "esr") return lower;
    if (["x1", "x2", "y1", "y2"].includes(lower)) { s.safety = upper; return ""; }
    const d = dielectric(word);
    if (d && (s.value && is(s.value, "farad") || s.kind === "capacitor")) { s.dielectric = d.code; return ""; }
    if (findPackage(word) && (s.value || s.kind !== "" || s.voltage || s.current)) { s.pack = upper; return ""; }
    if (W.packageHeads.some((h) => upper.startsWith(h))) { s.pack = upper; return ""; }
    return false;
  }
  function assign(s, v, label, code) {
    const u = v.unit.Name;
    if (label === "dcr" && u === "ohm") s.dcr = v;
    else if (label === "esr" && u === "ohm") s.esr = v;
    else if (label === "@" && u === "hertz") s.frequency = v;
    else if (["ohm", "farad", "henry"].includes(u) && !s.value && !["fuse", "diode", "transistor", "regulator"].includes(s.kind)) { s.value = v; s.code = code; }
    else if (u === "volt" && !s.voltage) s.voltage = v;
    else if (u === "ampere" && !s.current) s.current = v;
    else if (u === "watt" && !s.power) s.power = v;
    else if (u === "hertz" && !s.frequency) s.frequency = v;
    else if (u === "degree Celsius" && !s.temperature) s.temperature = v;
    else if (u !== "" && u !== "percent" && !s.value && s.kind === "") { s.value = v; s.code = code; }
    else return false;
    return true;
  }

  // Formulas.
  const namesIn = (expr) => [...expr.matchAll(/[0-9.]+(?:e-?[0-9]+)?|([a-z][a-z0-9]*)(\(?)/g)].filter((m) => m[1] && !m[2] && m[1] !== "pi").map((m) => m[1]);
  const lacking = (expr, vars) => namesIn(expr).filter((name) => !Object.hasOwn(vars, name));
  const limitWords = (x, u) => show({ d: fromFloat(x, 4), unit: u });
  const gaugeWords = (x) => x < 0 ? 1 - x + "/0" : String(x);
  const dangerous = (volts) => Math.abs(volts) > live.above;
  function rangeWords(l, say) {
    const { above, low, high } = l;
    if (low !== undefined && high !== undefined) return "from " + say(low) + " to " + say(high);
    if (above !== undefined) return "more than " + say(above) + (high !== undefined ? " and at most " + say(high) : "");
    return low !== undefined ? "at least " + say(low) : "at most " + say(high);
  }
  // reckon works out a formula; given is a list of keys with their texts.
  function reckon(name, given) {
    const f = formulas.find((g) => g.name === name);
    if (!f) bad("there is no formula " + quote(name));
    const out = { formula: f.name, title: f.title, inputs: {}, results: [], working: [], source: f.source, valid: f.valid };
    const said = {}, vars = {};
    for (const [key, input] of given) {
      if (!f.inputs.some((i) => i.key === key)) bad(f.name + " has no " + quote(key) + "; it takes " + f.inputs.map((i) => i.key).join(", "));
      if (Object.hasOwn(said, key)) bad(key + " stands twice");
      said[key] = input;
    }
    let risky = false;
    for (const i of f.inputs) {
      const here = Object.hasOwn(said, i.key);
      if (!here && i.optional) continue;
      const input = here ? said[i.key] : i.default || "";
      if (!here && input === "") bad(i.key + " is missing: " + i.name + ", " + (i.unit === "number" ? "a number" : "in " + i.unit));
      const r = inputValues(i, input);
      vars[i.key] = r.values;
      risky ||= i.unit === "volt" && r.values.some(dangerous);
      if (here || i.key !== "load") out.inputs[i.key] = r.texts.join(", ");
    }
    unused(f, given, vars);
    for (const r of f.refusals ?? []) if (!Object.hasOwn(vars, r.unless) && lacking(r.expr, vars).length === 0 && evaluate(r.expr, vars) > 0) bad("refused: " + r.says);
    for (const r of f.results) {
      if (lacking(r.expr, vars).length > 0) continue;
      const x = evaluate(r.expr, vars), u = unit(r.unit) || none();
      const d = fromFloat(x, 4);
      if (!d) bad(r.name + " has no answer for these values");
      if (x < 0 && ["ohm", "second", "metre"].includes(r.unit)) bad(r.name + " would be negative: these values cannot be");
      const shown = show({ d, unit: u });
      if (x < r.low || x > r.high) bad(r.name + " would be " + shown + ", outside of where the formula holds (" + rangeWords(r, (l) => limitWords(l, u)) + ")");
      out.results.push({ name: r.name, value: shown, si: x, unit: r.unit });
      vars[r.key] = [x];
      risky ||= r.unit === "volt" && dangerous(x);
      out.working.push(r.key + " = " + r.expr + " = " + shown);
    }
    const cautions = [f.caution, risky && live.says].filter(Boolean);
    if (cautions.length > 0) out.cautions = cautions;
    return out;
  }
  // unused refuses the first input that decides nothing beside the others.
  function unused(f, given, vars) {
    const have = { ...vars }, uses = [...f.refusals ?? []];
    for (const r of f.results) {
      uses.push(r);
      if (lacking(r.expr, have).length === 0) have[r.key] = [0];
    }
    for (const [key] of given) {
      let why = "";
      for (const u of uses) {
        if (!namesIn(u.expr).includes(key)) continue;
        const missing = lacking(u.expr, have);
        if (missing.length === 0 && !Object.hasOwn(have, u.unless)) { why = ""; break; }
        if (why === "") why = missing.length > 0 ? "without " + missing.join(", ") : "beside " + u.unless;
      }
      if (why !== "") bad(key + " would not be used " + why);
    }
  }
  function inputValues(i, input) {
    const parts = i.list ? listed(input) : [input];
    if (i.list && (parts.length === 0 || parts.length > 50)) bad(i.key + ": a list of 1 to 50 values is needed, such as 10k,22k");
    const values = [], texts = [];
    for (const p of parts) {
      const r = inputValue(i, p);
      values.push(r.x);
      texts.push(r.shown);
    }
    return { values, texts };
  }
  const listed = (s) => s.includes(";") ? s.split(";").filter((p) => /[^ ]/.test(p))
    : s.replace(/([0-9]) +([A-Za-zµμΩ])/g, "$1$2").split(/[ ,]+/).filter((p) => p !== "");
  function inputValue(i, p) {
    const want = unit(i.unit) || none(), no = (message) => bad(i.key + ": " + message);
    let v = i.gauge ? aught(p, no) : null;
    if (!v) {
      p = completed(p, want, no);
      try { v = parse(p); } catch (e) { if (!(e instanceof Bad)) throw e; no(e.message + " in " + quote(clip(p))); }
    }
    if (v.over) no("OL is no value to reckon with");
    if (is(v, "") && want.Name !== "") {
      askBack(i, p, v.d, no);
      v = { d: v.d, unit: want };
    }
    let x = float(v.d), say = (l) => limitWords(l, want), shown = show(v);
    const minutes = want.Name === "second" && { minute: 60, hour: 3600 }[v.unit.Name];
    if (minutes) x *= minutes;
    else if (v.unit !== want) no(quote(p) + " is a " + v.unit.Quantity + "; " + (want.Name === "" ? "a plain number is needed" : "a " + want.Quantity + " in " + want.Symbol + " is needed"));
    if (i.gauge) { say = gaugeWords; shown = gaugeWords(x); }
    if (x <= i.above || x < i.low || x > i.high) no(quote(p) + " must be " + rangeWords(i, say));
    if (i.whole && x !== Math.trunc(x)) no(quote(p) + " must be a whole number");
    return { x, shown };
  }
  // completed adds the unit to a prefix that stands alone: it is of the quantity asked for.
  function completed(input, want, no) {
    const s = trim(input), { d, n } = number(s);
    if (n <= 0 || !want.Prefixes) return input;
    const rest = s.slice(n).replace(/^[ \u00a0\u202f\u2009]+/, ""), e = prefix(rest);
    if (e === null || e < -12 || want.Name === "metre" && e === -3) return input;
    const figures = rest.slice(1);
    if (want.Name === "second" && e === -3 && figures === "") no(quote(input) + " may be milliseconds or minutes: write " + text(d) + " ms or " + text(d) + " min");
    if (figures === "") return text(d) + " " + rest + want.Symbol;
    if (d.exp === 0 && rest === s.slice(n) && /^[0-9]{1,6}$/.test(figures)) return text(d) + "." + figures + " " + rest[0] + want.Symbol;
    return input;
  }
  // askBack refuses a number without a unit that may be meant in two ways.
  function askBack(i, input, d, no) {
    if (d.coef === 0n) return;
    if (i.unit === "percent" && d.coef > 0n && cmp(d, { coef: 1n, exp: 0 }) <= 0) no(quote(input) + " may be " + text(d) + " % or a share of one: write " + text(d) + " % or " + text({ coef: d.coef, exp: d.exp + 2 }) + " %");
    if (i.ask) no(quote(input) + " has no unit: write " + i.ask.map((u) => text(d) + " " + u).join(" or "));
  }
  // aught reads a gauge that is written with noughts: 0000 or 4/0.
  function aught(input, no) {
    const m = /^(?:(0+)|([1-9])\/0|.*\/.*)$/.exec(trim(input));
    if (!m) return null;
    if (!m[1] && !m[2]) no(quote(input) + " is no gauge: write 24, 0000 or 4/0");
    return { d: dec(1 - (m[1] ? m[1].length : Number(m[2])), 0), unit: none() };
  }
  function evaluate(src, vars) {
    let at = 0;
    const take = (c) => src[at] === c && (at++, true);
    const need = (c) => { if (!take(c)) bad("a bracket is not closed"); };
    function sum() {
      let x = product();
      for (;;) { if (take("+")) x += product(); else if (take("-")) x -= product(); else return x; }
    }
    function product() {
      let x = power();
      for (;;) { if (take("*")) x *= power(); else if (take("/")) x /= power(); else return x; }
    }
    function power() {
      const x = atom();
      return take("^") ? Math.pow(x, power()) : x;
    }
    function atom() {
      if (take("(")) { const x = sum(); need(")"); return x; }
      const n = /^[0-9.][0-9.]*(?:e-?[0-9]+)?/.exec(src.slice(at));
      if (n) { at += n[0].length; return Number(n[0]); }
      const name = /^[a-z0-9]*/.exec(src.slice(at))[0];
      at += name.length;
      if (take("(")) return call(name);
      if (name === "pi") return Math.PI;
      if (!Object.hasOwn(vars, name) || vars[name].length !== 1) bad(quote(name) + " is not a value");
      return vars[name][0];
    }
    function call(name) {
      if (name === "sum" || name === "sumrecip" || name === "least") {
        const list = /^[a-z0-9]*/.exec(src.slice(at))[0];
        at += list.length;
        need(")");
        if (name === "least") return Math.min(...vars[list]);
        return vars[list].reduce((t, x) => t + (name === "sumrecip" ? 1 / x : x), 0);
      }
      const args = [sum()];
      while (take(",")) args.push(sum());
      need(")");
      const [a, b] = args;
      switch (name) {
        case "sqrt": return Math.sqrt(a);
        case "exp": return Math.exp(a);
        case "ln": return Math.log(a);
        case "log10": return Math.log10(a);
        case "max": return Math.max(a, b);
        case "min": return Math.min(a, b);
        case "par": return a * b / (a + b);
      }
      return bad(quote(name) + " is not a function");
    }
    const x = sum();
    if (at < src.length) bad(quote(src.slice(at)) + " is left over");
    return x;
  }

  globalThis.benchloreTables = (data) => {
    const d = JSON.parse(data);
    T = d.tables; W = d.words; series = d.series;  units = d.units;
    unitOf = {};
    for (const u of units) for (const s of u.Spellings) unitOf[s] = u;
  };
  globalThis.benchloreMarks = (data) => {
    M = JSON.parse(data);
    M.rewrites = M.rewrites.map(([from, to]) => [new RegExp(from, "g"), to]);
    for (const r of M.rules) r.pattern = new RegExp(r.pattern);
  };
  globalThis.benchloreFormulas = (data) => {
    const d = JSON.parse(data), full = (x) => typeof x === "number" ? d.texts[x] : x;
    ({ formulas, live } = d);
    for (const f of formulas) {
      for (const name of ["source", "valid", "caution", "from", "holds", "warns"]) if (name in f) f[name] = full(f[name]);
      f.inputs = f.inputs.map(([key, name, unit, rest]) => ({ key, name: full(name), unit: full(unit), ...rest === 0 ? { above: 0 } : rest }));
      f.results = f.results.map(([key, name, unit, expr, rest]) => ({ key, name: full(name), unit: full(unit), expr, ...rest }));
    }
  };
  // attempt returns the answer, or the message of what could not be read.
  const attempt = (work) => { try { return { answer: work() }; } catch (e) { if (e instanceof Bad) return { error: e.message }; throw e; } };
  return {
    read: (s) => attempt(() => read(s)),
    reckon: (name, given) => attempt(() => reckon(name, given)),
    formula: (name) => formulas.find((f) => f.name === name),
    live: () => live,
    series: (name) => series[name],
    colour: (word) => own(T.colourAlso, word) || word, // of a band, however it is spelled
    fitWords: (f) => W.fits[f],
    // steps are for swap.js, which few pages ask for.
    steps: {
      attempt, Bad, bad, boundary, bytes, clip, cmp, dielectric, findPackage, float, fromFloat,
      fuseClasses, fuseSpeeds, gap, is, maxText, none, normal, number, own, parse, partEnd,
      partFuse, quote, show, size, specTolerance, text, trim, tryScan, unit, waveMarks, waveWord,
      wordLength,
      words: () => W,
    },
    packageOf: (code) => { const f = findPackage(code); return f ? size(f.p) + (f.warning ? "; " + f.warning : "") : ""; },
  };
})();
