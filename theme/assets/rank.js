"use strict";
/* The ranking of the command line's search package, step for step, over the
   shards of the published index; that package's comment gives the formula. It
   asks for shards by name and knows nothing of the page. */
const benchloreRank = (root, fetchShard, pause = async () => {}) => {
  const r = root.ranking;
  const stop = new Set(root.stop.split(" "));
  const little = new Set(root.little.split(/\s+/));
  const pairs = (text) => {
    const list = text.split(" "), m = new Map();
    for (let i = 0; i + 1 < list.length; i += 2) m.set(list[i], list[i + 1]);
    return m;
  };
  const beginnings = pairs(root.words), formShards = pairs(root.forms), deviceShards = pairs(root.devices), nearShards = pairs(root.near);
  const utf8 = (s) => {
    const out = [];
    for (const c of s) {
      const p = c.codePointAt(0);
      if (p < 0x80) out.push(p);
      else if (p < 0x800) out.push(0xc0 | p >> 6, 0x80 | p & 63);
      else if (p < 0x10000) out.push(0xe0 | p >> 12, 0x80 | p >> 6 & 63, 0x80 | p & 63);
      else out.push(0xf0 | p >> 18, 0x80 | p >> 12 & 63, 0x80 | p >> 6 & 63, 0x80 | p & 63);
    }
    return out;
  };
  const hex = (s) => utf8(s).map((b) => b.toString(16).padStart(2, "0")).join("");

  // Shards, each asked for once and checked against the root.
  const digits = "!#$%'()*+,-./0123456789:;=?@ABCDEFGHIJKLMNOPQRSTUVWXYZ[]^_`abcdefghijklmnopqrstuvwxyz{|}~";
  const ending = 64, valueOf = new Uint8Array(128);
  for (let i = 0; i < digits.length; i++) valueOf[digits.charCodeAt(i)] = i;
  function checkOf(text) {
    let h = 0x811c9dc5;
    for (let i = 0; i < text.length; i++) {
      const c = text.charCodeAt(i);
      if (c < 0x80) { h = Math.imul(h ^ c, 0x01000193); continue; }
      const p = text.codePointAt(i);
      if (p > 0xffff) i++;
      for (const b of utf8(String.fromCodePoint(p))) h = Math.imul(h ^ b, 0x01000193);
    }
    h >>>= 0;
    return digits[h % 89] + digits[Math.floor(h / 89) % 89];
  }
  const asked = new Map();
  function shard(name, sum, read) {
    if (!asked.has(name)) {
      const answer = (async () => {
        const text = await fetchShard(name);
        await pause();
        if (typeof text !== "string" || checkOf(text) !== sum) throw new Error(name);
        await pause();
        return read(text);
      })();
      answer.catch(() => asked.delete(name)); // it may be mended meanwhile
      asked.set(name, answer);
    }
    return asked.get(name);
  }
  // numbers reads a text of numbers from a place, and keeps the place.
  function numbers(text) {
    let at = 0;
    const next = () => {
      let high = 0;
      for (;;) {
        const v = valueOf[text.charCodeAt(at++)];
        if (v < ending) return high * ending + v;
        high = high * (digits.length - ending) + v - ending;
      }
    };
    return { next, more: () => at < text.length, at: () => at };
  }
  function ordinals(n, count, out, from) {
    let o = -1;
    for (let i = 0; i < count; i++) out[from + i] = o += n.next() + 1;
  }

  // of gives a word's postings, or null where no case has it.
  async function of(word) {
    let beginning = null;
    for (let i = word.length; i >= 0 && beginning === null; i--) if (beginnings.has(word.slice(0, i))) beginning = word.slice(0, i);
    if (beginning === null) return null;
    const words = await shard("w-" + hex(beginning), beginnings.get(beginning), (text) => {
      const list = text.split(" "), m = new Map();
      for (let i = 0; i + 2 < list.length; i += 3) m.set(list[i], { compounds: list[i + 1], text: list[i + 2] });
      return m;
    });
    const entry = words.get(word);
    if (!entry) return null;
    if (entry.text !== null) await pause();
    if (entry.text !== null) { // still, after a pause in which another may have read it
      const parts = [];
      let total = 0;
      for (const n = numbers(entry.text); n.more();) {
        const level = n.next(), count = n.next(), list = new Int32Array(count);
        ordinals(n, count, list, 0);
        parts.push([level, list]);
        total += count;
      }
      entry.parts = parts;
      entry.size = total;
      entry.idf = Math.log(1 + (root.cases - total + 0.5) / (total + 0.5));
      entry.compounds = entry.compounds === "" ? [] : entry.compounds.split(",");
      entry.text = null;
    }
    return entry;
  }
  // levels is the postings as a map, for readings of several words.
  function levels(entry) {
    if (!entry.map) {
      entry.map = new Map();
      for (const [level, list] of entry.parts) for (const o of list) entry.map.set(o, level);
    }
    return entry.map;
  }
  // known are stems by form, of other languages than English, as far as they came.
  const known = new Map();
  async function forms(first) {
    const name = first.codePointAt(0).toString(16);
    if (!formShards.has(name)) return [];
    return shard("d-" + name, formShards.get(name), (text) => {
      const out = [];
      let before = [];
      for (const item of text.split(" ")) {
        const n = numbers(item), shared = n.next();
        let length = 1;
        while (valueOf[item.charCodeAt(length - 1)] >= ending) length++;
        const slash = root.language ? item.indexOf("/", length) : -1;
        before = [...before.slice(0, shared), ...(slash < 0 ? item.slice(length) : item.slice(length, slash))];
        const form = before.join("");
        out.push(form);
        if (!root.language) continue;
        if (slash < 0) { known.set(form, form); continue; }
        const m = numbers(item.slice(slash + 1)), off = m.next();
        known.set(form, before.slice(0, before.length - off).join("") + item.slice(slash + 1 + m.at()));
      }
      return out;
    });
  }

  // terms are the stems of the forms, made a few at a time, since it is the
  // longest work of a search.
  const stemmedForms = new Map();
  async function terms(first) {
    if (!stemmedForms.has(first)) {
      const out = new Set();
      let n = 0;
      for (const f of await forms(first)) {
        out.add(stemmed(f));
        if (++n % 100 === 0) await pause();
      }
      stemmedForms.set(first, out);
    }
    return stemmedForms.get(first);
  }

  // analyze cuts a text into terms with their places, as the index was made.
  const wordForm = root.language?.splits ? /[\p{L}\p{Nd}\p{Mn}\u2126](?:[\p{L}\p{Nd}\p{Mn}\u2126]|(?<=\p{Nd})[.,](?=\p{Nd}))*/gu :
    /[\p{L}\p{Nd}\p{Mn}\u2126](?:[\p{L}\p{Nd}\p{Mn}\u2126]|['’]|(?<=\p{Nd})[.,](?=\p{Nd}))*/gu;
  function analyze(text) {
    const out = [];
    for (const m of text.matchAll(wordForm)) {
      const form = m[0].replace(/['’]/g, "").replace(/[µμ]/g, "u").replace(/[Ωω\u2126]/g, "ohm").replace(/,/g, ".").toLowerCase();
      let term = form;
      if (!hasDigit(form)) {
        if (stop.has(form)) continue;
        term = stem(form);
      }
      if (term === "" || utf8(term).length > 64) continue;
      const start = m.index, end = m.index + m[0].length, parts = splitValue(term);
      if (parts) for (const t of parts) out.push({ term: t, start, stop: end, form: "" });
      else out.push({ term, start, stop: end, form });
    }
    return out;
  }
  const hasDigit = (w) => /\p{Nd}/u.test(w);
  const stemmed = (form) => hasDigit(form) ? form : stem(form);
  const tooShort = (w) => { const n = utf8(w).length; return n < 3 || n > 40; };
  // stem cuts a word; in other languages than English only one that is known or was learned.
  const stem = (w) => tooShort(w) ? w : root.language ? known.get(w) ?? learned.get(w) ?? w : benchloreStem(w);
  // partOf is the first part of a compound as a term.
  const partOf = (w) => root.language ? w : stem(w);
  // learn finds out how the words of a query are cut where the page has no stemmer:
  // as the word is in a case, else by letters that are replaced and endings that are
  // taken off, the shortest first.
  const learned = new Map();
  async function learn(words) {
    if (!root.language) return;
    for (const w of words) {
      if (tooShort(w) || learned.has(w)) continue;
      await forms([...w][0]);
      if (known.has(w)) continue;
      const folded = [...w].map((c) => root.language.folds[c] ?? c).join("");
      let base = await of(folded) ? folded : null;
      for (const e of root.language.endings.split(" ")) {
        if (base !== null) break;
        const cut = folded.endsWith(e) ? folded.slice(0, folded.length - e.length) : "";
        if (e !== "" && [...cut].length >= root.language.fewest && await of(cut)) base = cut;
      }
      learned.set(w, base ?? folded);
    }
  }
  // splitValue parts 4k7, 4.7k and 4.7kohm into number and unit.
  function splitValue(w) {
    const m = /^([0-9]+(?:\.[0-9]+)?)([a-z]+)([0-9]{0,3})$/.exec(w);
    if (!m || !Object.hasOwn(root.valueUnits, m[2])) return null;
    if (m[3] === "") return [m[1], root.valueUnits[m[2]]];
    return m[2].length === 1 && !m[1].includes(".") ? [m[1] + "." + m[3], root.valueUnits[m[2]]] : null;
  }

  // reader says what a text says; its words come when something is typed.
  let opening = null;
  function reader() {
    const words = (name) => shard("l-" + name, root.lexicon[name], name === "dangers" ? JSON.parse : (text) => text);
    opening ??= (async () => benchloreReader(await shard("l-common", root.lexicon.common, JSON.parse), words, benchloreStem))();
    opening.catch(() => { opening = null; });
    return opening;
  }
  // read gives what a text says, and recognise what it states of a class.
  async function ready(text) {
    const r = await reader();
    await r.prepare(text);
    return r;
  }
  const read = async (text) => (await ready(text)).read(text), recognise = async (text, cls = "symptoms") => (await ready(text)).recognise(text, cls);

  const perhaps = async (text) => (await ready(text)).perhaps(text);
  // kindSaid gives the kinds that the words say, from the finest to the widest.
  async function kindSaid(text) {
    const r = await ready(text), said = r.read(text).find((m) => m.cls === "kinds" && !m.negated && !m.asked);
    return said ? r.widened(said.id) : [];
  }

  // near gives the known words near a word, with their shares in hundredths.
  async function near(word) {
    const first = [...word][0].codePointAt(0).toString(16);
    if (!nearShards.has(first)) return [];
    const words = await shard("s-" + first, nearShards.get(first), (text) => new Map(text.split(" ").map((l) => [l.slice(0, l.indexOf(",")), l])));
    const parts = words.get(word)?.split(",") ?? [], out = [];
    for (let i = 1; i + 1 < parts.length; i += 2) out.push([parts[i], +parts[i + 1]]);
    return out;
  }
  // asked gives the types that a query may mean by words written apart.
  const models = (query) => [...new Set([...query.matchAll(/(?:^|[^\p{L}\p{Nd}])(\p{L}{1,4})[- ](\p{Nd}[\p{L}\p{Nd}]{0,9})/gu)].map((m) => (m[1] + m[2]).toLowerCase()))];
  const isNumber = (s) => /^[0-9.]+$/.test(s);
  // unitAfter gives the unit of a number of the query.
  function unitAfter(tokens, i) {
    if (i + 1 === tokens.length || !isNumber(tokens[i].term)) return null;
    const a = tokens[i], b = tokens[i + 1];
    if (a.form === "" && b.form === "" && a.start === b.start) return b.term;
    return a.form !== "" && b.form !== "" && Object.hasOwn(root.valueUnits, b.form) && b.start === a.stop + 1 ? root.valueUnits[b.form] : null;
  }

  // oneSlip reports whether two words differ by one letter too many, too few or wrong, or by two swapped.
  function oneSlip(a, b) {
    const x = [...a], y = [...b];
    let head = 0;
    while (head < x.length && head < y.length && x[head] === y[head]) head++;
    let tail = 0;
    while (tail < x.length - head && tail < y.length - head && x[x.length - 1 - tail] === y[y.length - 1 - tail]) tail++;
    const m = x.length - head - tail, n = y.length - head - tail;
    if (m === 2 && n === 2) return x[head] === y[head + 1] && x[head + 1] === y[head];
    return m + n > 0 && m <= 1 && n <= 1;
  }

  // distance counts slips between two words, two swapped letters as one.
  function distance(a, b) {
    const x = [...a], y = [...b];
    let two = [], one = y.map((_, j) => j);
    one.push(y.length);
    for (let i = 1; i <= x.length; i++) {
      const row = [i];
      for (let j = 1; j <= y.length; j++) {
        row[j] = Math.min(one[j] + 1, row[j - 1] + 1, one[j - 1] + (x[i - 1] === y[j - 1] ? 0 : 1));
        if (i > 1 && j > 1 && x[i - 1] === y[j - 2] && x[i - 2] === y[j - 1]) row[j] = Math.min(row[j], two[j - 2] + 1);
      }
      two = one;
      one = row;
    }
    return one[y.length];
  }

  // A word of the query may be read in several ways; the best counts.
  async function add(item, how, weight, ...words) {
    const lists = [];
    for (const w of words) {
      const entry = await of(w);
      if (!entry) return;
      lists.push(entry);
    }
    item.readings.push({ how, weight, words, lists });
  }
  // each calls with every case that a reading is true of and what it brings.
  function each(reading, call) {
    const { weight, lists } = reading;
    if (lists.length === 1) {
      for (const [level, list] of lists[0].parts) {
        const s = weight * (lists[0].idf * level / r.steps);
        for (const o of list) call(o, s);
      }
      return;
    }
    for (const o of levels(lists[0]).keys()) {
      let least = Infinity;
      for (const entry of lists) {
        const level = levels(entry).get(o);
        least = level === undefined ? 0 : Math.min(least, entry.idf * level / r.steps);
        if (least === 0) break;
      }
      if (least > 0) call(o, weight * least);
    }
  }
  const isPart = (form) => [...form].length >= r.minPart && !hasDigit(form);
  async function synonyms(item, phrase, share) {
    if (!Object.hasOwn(root.synonyms, phrase)) return;
    for (const words of root.synonyms[phrase]) await add(item, "synonym", share * r.synonym, ...words.split(" "));
  }
  async function word(item, t, share, last) {
    await add(item, "exact", share, t.term);
    const exact = item.readings.length > 0;
    await synonyms(item, t.term, share);
    if (root.near !== "" && !little.has(t.term) && (!exact || item.readings[0].lists[0].size < r.nearCap)) for (const [w, part] of await near(t.term)) await add(item, "near", share * r.near * part / 100, w);
    const type = exact ? null : /^([a-z]{1,4})([0-9][a-z0-9]{0,9})$/.exec(t.term);
    if (type) await add(item, "compound", share * r.compound, type[1], type[2]);
    const chars = [...t.term];
    if (exact) {
      for (const c of (await of(t.term)).compounds) {
        if (!/^[0-9]/.test(c)) continue;
        await add(item, "compound", share * r.compound, partOf(chars.slice(0, +c).join("")), chars.slice(+c).join(""));
      }
      return;
    }
    if (t.form === "") return;
    let others = null;
    for (let i = 1; i < chars.length; i++) {
      const a = chars.slice(0, i).join(""), b = chars.slice(i).join("");
      if (!isPart(a) || !isPart(b)) continue;
      others ??= await terms(chars[0]);
      if (others.has(partOf(a))) await add(item, "compound", share * r.compound, partOf(a), b);
    }
    await guess(item, t.form, share, last);
  }
  async function guess(item, form, share, last) {
    const size = [...form].length;
    const begins = last && size >= r.minPrefix, slips = size >= r.minTypo && !hasDigit(form);
    if (!begins && !slips) return;
    const seen = new Set();
    let n = 0;
    for (const w of await forms([...form][0])) {
      if (++n % 300 === 0) await pause();
      let how = "prefix", weight = r.prefix;
      if (begins && w.startsWith(form)) { /* the beginning of it */ }
      else if (slips && Math.abs(w.length - form.length) <= 2 && Math.abs([...w].length - size) <= 1 && oneSlip(form, w)) { how = "typo"; weight = r.typo; }
      else if (slips && size >= r.minSlips && Math.abs([...w].length - size) <= 2 && distance(form, w) === 2) { how = "typo"; weight = r.slips; }
      else continue;
      const term = stemmed(w);
      if (seen.has(term)) continue;
      seen.add(term);
      await add(item, how, share * weight, term);
      if (seen.size === r.maxExpand) break;
    }
  }
  // anyFirst reads a word as another with one slip, in the first letter.
  async function anyFirst(item, form) {
    const size = [...form].length;
    if (size < r.minTypo || hasDigit(form)) return;
    const all = [];
    for (const first of formShards.keys()) all.push(...await forms(String.fromCodePoint(parseInt(first, 16))));
    const seen = new Set();
    let n = 0;
    for (const w of all.sort(byBytes)) {
      if (++n % 300 === 0) await pause();
      if (Math.abs([...w].length - size) > 1 || !oneSlip(form, w)) continue;
      const term = stemmed(w);
      if (seen.has(term) || seen.size >= r.maxExpand) continue;
      seen.add(term);
      await add(item, "typo", r.slips, term);
    }
  }
  const byBytes = (a, b) => { const x = [...a], y = [...b]; for (let i = 0; i < x.length && i < y.length; i++) if (x[i] !== y[i]) return x[i].codePointAt(0) - y[i].codePointAt(0); return x.length - y.length; };
  // exists reports whether two neighbours written as one are a known word.
  async function isWhole(whole, a) {
    const entry = await of(a.term);
    if (entry) return entry.compounds.includes(whole);
    return (await forms([...a.form][0])).some((f) => f.startsWith(a.form) && stemmed(f) === whole);
  }

  async function plan(query) {
    await prepare(query);
    const tokens = analyze(query).slice(0, r.maxQuery), means = await recognise(query), phrases = [];
    for (const p of means) if (await of("#" + p.id)) phrases.push(p); // else its words stand for themselves
    const others = tokens.some((t) => !little.has(t.term));
    // shareOf is how much a word counts: as often as it is said, and little where most texts have it.
    const shareOf = (term) => others && little.has(term) ? r.little : Math.min(tokens.filter((t) => t.term === term).length, r.mostTimes);
    for (const t of tokens) of(t.term).catch(() => {}); // all on their way at once; a failure is met below
    const items = [], seen = new Set();
    let looked = 0, whole = 0;
    const weigh = (item, share) => {
      item.most = Math.max(0, ...item.readings.map((x) => x.weight * Math.min(...x.lists.map((l) => l.idf))));
      whole += item.readings.length === 0 ? share * Math.log(1 + (root.cases + 0.5) / 0.5) : item.most;
    };
    const keep = (item) => { if (item.readings.length > 0) items.push(item); };
    for (let i = 0; i < tokens.length; i++) {
      const t = tokens[i];
      if (seen.has(t.term)) continue;
      seen.add(t.term);
      const item = { asked: t.term, readings: [] }, unit = unitAfter(tokens, i);
      const share = shareOf(t.term) * (phrases.some((p) => t.start >= p.start && t.stop <= p.stop) ? r.inPhrase : 1);
      if (unit !== null) {
        seen.add(unit);
        seen.add(tokens[i + 1].term);
        item.asked = t.term + " " + unit;
        await add(item, "exact", share, t.term, unit);
      } else await word(item, t, share, i === tokens.length - 1);
      looked++;
      weigh(item, share);
      keep(item);
    }
    for (const name of models(query)) {
      if (seen.has(name)) continue;
      seen.add(name);
      const item = { asked: name, readings: [] };
      await add(item, "exact", 1, name);
      weigh(item, 0);
      keep(item);
    }
    for (let i = 1; i < tokens.length; i++) {
      const a = tokens[i - 1], b = tokens[i], pair = a.term + " " + b.term;
      if (seen.has(pair)) continue;
      seen.add(pair);
      const item = { asked: pair, readings: [] };
      if (isPart(a.form) && isPart(b.form)) {
        await learn([a.form + b.form]);
        const whole = stem(a.form + b.form);
        if (whole.startsWith(a.form) && isPart(whole.slice(a.form.length)) && await isWhole(whole, a)) await add(item, "compound", r.compound, whole);
      }
      await synonyms(item, pair, 1);
      keep(item);
    }
    const meant = [...new Set(means.map((p) => p.id))];
    for (const id of new Set(phrases.map((p) => p.id))) {
      const item = { asked: id, readings: [] };
      await add(item, "symptom", r.symptom, "#" + id);
      weigh(item, 0);
      keep(item);
    }
    if (items.length === 0) for (const t of tokens) { // nothing else fits: the first letter may be the slip
      const item = { asked: t.term, readings: [] };
      await anyFirst(item, t.form);
      keep(item);
    }
    return { tokens, items, meant, looked, whole };
  }

  const facet = (name) => shard("f-" + name, root.facets[name], (text) => {
    const m = new Map();
    for (const [id, label, list] of JSON.parse(text)) {
      const out = [];
      let o = -1;
      for (const n = numbers(list); n.more();) out.push(o += n.next() + 1);
      m.set(id, { label, cases: out });
    }
    return m;
  });

  // find ranks the cases: how many, the best of them, and a mark for each that
  // was found. Without words it lists what the filters leave, newest first.
  async function find(query, filters = {}, limit = 30) {
    const { tokens, items, meant, looked, whole } = await plan(query);
    const scores = new Float64Array(root.cases), found = new Uint8Array(root.cases);
    if (query.trim() === "") found.fill(1);
    for (const item of items) {
      await pause();
      if (item.readings.length === 1) { each(item.readings[0], (o, s) => { scores[o] += s; found[o] = 1; }); continue; }
      const most = new Map();
      for (const reading of item.readings) each(reading, (o, s) => { if (s > (most.get(o) ?? 0)) most.set(o, s); });
      for (const [o, s] of most) { scores[o] += s; found[o] = 1; }
    }
    for (const [name, id] of Object.entries(filters)) {
      if (!id) continue;
      const value = (await facet(name)).get(id), pass = new Uint8Array(root.cases);
      if (value) for (const o of value.cases) pass[o] = 1;
      for (let o = 0; o < found.length; o++) found[o] &= pass[o];
    }
    await pause();
    const fine = (x) => Math.round(x * 1e9) / 1e9; // as finely as scores are told apart
    for (let o = 0; o < found.length; o++) scores[o] = fine(scores[o]);
    const first = (limit) => { // the best first; among equals the last case first
      const best = [];
      for (let o = found.length - 1; o >= 0; o--) {
        if (found[o] === 0 || best.length === limit && scores[o] <= best[limit - 1][1]) continue;
        let at = best.length;
        while (at > 0 && best[at - 1][1] < scores[o]) at--;
        best.splice(at, 0, [o, scores[o]]);
        if (best.length > limit) best.pop();
      }
      return best;
    };
    const few = Math.min(r.companyCases, Math.floor(root.cases / r.companyOf));
    const company = looked < r.companyLeast || few === 0 ? [] : await companyOf(first(few), items.length);
    if (company.length > 0) {
      const more = new Float64Array(root.cases);
      for (const c of company) {
        await pause();
        for (const [level, list] of c.entry.parts) { const s = c.part * (c.entry.idf * level / r.steps); for (const o of list) more[o] += s; }
      }
      for (let o = 0; o < found.length; o++) if (found[o]) scores[o] = fine(scores[o] + more[o]);
    }
    let top = 0, total = 0;
    for (let o = 0; o < found.length; o++) if (found[o] && scores[o] > top) top = scores[o];
    for (let o = 0; o < found.length; o++) if (found[o]) { if (scores[o] < r.matters * top) found[o] = 0; else total++; }
    const best = first(limit);
    return { total, best, found, tokens, meant, close: items.length === 0 || best.length > 0 && isClose(items, whole, best[0][0]), why: why(items, best, company) };
  }
  // companyOf are the words of the first cases found, with what each brings.
  async function companyOf(first, size) {
    let sum = 0;
    for (const [, s] of first) sum += s;
    const shares = new Map();
    for (const [o, s] of first) {
      const [length, ...words] = (await card(o)).at(-1).split(" "), of = numbers(length).next();
      for (let i = 0; i + 1 < words.length; i += 2) shares.set(words[i + 1], (shares.get(words[i + 1]) ?? 0) + s / sum * numbers(words[i]).next() / of);
    }
    /** @type {any[]} */ const chosen = [...shares].map(([word, x]) => ({ word, part: Math.round(x * 1e9) / 1e9 })).sort((a, b) => b.part - a.part || byBytes(a.word, b.word)).slice(0, r.companyWords);
    const all = chosen.reduce((a, c) => a + c.part, 0), scale = r.companyScale * size;
    for (const c of chosen) {
      c.entry = await of(c.word);
      c.part = scale * c.part / all;
    }
    return chosen;
  }
  // isClose reports whether a case has a fair part of what was asked.
  function isClose(items, whole, o) {
    let has = 0;
    for (const item of items) {
      let most = 0, weight = 0;
      for (const reading of item.readings) each(reading, (x, s) => { if (x === o && s > most) { most = s; weight = reading.weight * Math.min(...reading.lists.map((l) => l.idf)); } });
      if (most > 0) has += Math.min(item.most ?? 0, weight);
    }
    return has >= r.closeShare * whole;
  }
  // why lists for each of the best what each item brought, by ordinal.
  function why(items, best, company) {
    const out = new Map(best.map(([o]) => [o, []]));
    for (const item of items) {
      const top = new Map();
      for (const reading of item.readings) each(reading, (o, s) => { if (out.has(o) && s > (top.get(o)?.score ?? 0)) top.set(o, { asked: item.asked, how: reading.how, words: reading.words, score: s }); });
      for (const [o, brought] of top) out.get(o).push(brought);
    }
    const beside = new Map(best.map(([o]) => [o, []]));
    for (const c of company) for (const [level, list] of c.entry.parts) for (const o of list) beside.get(o)?.push([c.word, c.part * (c.entry.idf * level / r.steps)]);
    for (const [o, list] of beside) if (list.length > 0) {
      list.sort((a, b) => b[1] - a[1]);
      out.get(o).push({ asked: "", how: "company", words: list.slice(0, 3).map(([w]) => w), score: list.reduce((a, [, s]) => a + s, 0) });
    }
    return out;
  }
  // nearest gives known words close to those that no case has.
  async function nearest(tokens) {
    const out = [];
    for (const t of tokens) {
      const size = [...t.form].length;
      if (size < r.minPrefix || await of(t.term)) continue;
      const close = [];
      let n = 0;
      for (const w of await forms([...t.form][0])) {
        if (++n % 100 === 0) await pause();
        if (Math.abs([...w].length - size) > 2) continue;
        const d = distance(t.form, w);
        if (d <= 2 && d < size - 1) close.push([w, d]);
      }
      close.sort((x, y) => x[1] - y[1]);
      for (const [w] of close.slice(0, 3)) if (!out.includes(w)) out.push(w);
    }
    return out;
  }
  // offers are symptoms, devices and designators that begin with what is being typed.
  async function offers(query) {
    await pause();
    const typed = (/[\p{L}\p{Nd}]+$/u.exec(query) || [""])[0].toLowerCase();
    if (typed.length < 2) return [];
    const begins = (name) => name.toLowerCase().split(/[^\p{L}\p{Nd}]+/u).some((w) => w.startsWith(typed));
    const out = Object.values(root.symptoms).filter(begins).slice(0, 4);
    const first = [...typed][0].codePointAt(0).toString(16);
    if (deviceShards.has(first)) out.push(...(await shard("n-" + first, deviceShards.get(first), JSON.parse)).filter(begins).slice(0, 3));
    if (/^\p{L}+[0-9]/u.test(typed)) out.push(...(await forms([...typed][0])).filter((w) => w.startsWith(typed) && w !== typed).slice(0, 4).map((w) => w.toUpperCase()));
    return [...new Set(out)].filter((w) => w.toLowerCase() !== query.trim().toLowerCase());
  }
  // card is what a result shows of a case.
  async function card(o) {
    const i = Math.floor(o / root.cardsInShard);
    return (await shard("c-" + i, root.cards.slice(2 * i, 2 * i + 2), JSON.parse))[o % root.cardsInShard];
  }

  // prepare learns how the words of a text are cut, in other languages than English.
  const prepare = (text) => learn(analyze(text).map((t) => t.form).filter((f) => f !== "" && !hasDigit(f)));
  return { analyze, read, recognise, kindSaid, perhaps, prepare, find, nearest, offers, facet, card, symptoms: root.symptoms, little };
};
