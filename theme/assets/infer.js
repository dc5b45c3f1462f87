"use strict";
/* The model of the command line's triage package, step for step, over the closed
   cases that are published; that package's comments give the formulas. It knows
   nothing of the page. */
const benchloreTriage = (data, without, starter) => { // without is the id of a case that is left out
  // What methods and devices' sheets say is numbered on from what cases say.
  const { rules, limits } = data, s = data.strength, sc = data.checkStrength, had = data.causes.length;
  const causes = data.causes.concat(starter?.causes ?? []), checks = data.checks.concat(starter?.checks ?? []);
  const own = (map, key) => map && Object.hasOwn(map, key) ? map[key] : undefined; // ids may be words like constructor
  const wayOf = (e) => starter?.ways[own(starter.kinds, e.kind)], readingsOf = (e) => own(starter?.readings, e.device) ?? [];
  const stepOf = (e, id) => wayOf(e)?.steps.find((x) => x[0] === id), readingOf = (e, id) => readingsOf(e).find((r) => r.check === id);
  const stands = (e, c) => count[c] > 0 || (wayOf(e)?.causes.includes(c) ?? false);
  const K = causes.length, cases = data.cases.filter((c) => c.id !== without);
  // What a case of another workshop counts for is in whole multiples of one small unit, so sums are exact.
  const weightOf = (c) => c.from ? data.weights[c.from - 1][c.kind] : 1, total = cases.reduce((sum, c) => sum + weightOf(c), 0);
  const faultIDs = [...new Set(causes.map((c) => c.fault))];
  const faultOf = causes.map((c) => faultIDs.indexOf(c.fault));
  const placeN = new Set((had > 0 ? data.causes : causes).map((c) => c.at)).size;
  const count = new Array(K).fill(0), whole = new Array(K).fill(0), spread = new Array(K).fill(0), faultN = new Array(faultIDs.length).fill(0);
  const kinds = new Map(), kindN = new Map(), devices = new Map(), deviceN = new Map();
  const ids = causes.map(() => []), theirIDs = causes.map(() => []);
  for (const c of data.cases) spread[c.cause] += weightOf(c);
  spread.forEach((n, c) => { spread[c] = Math.min(1, n); });
  const spreadAll = spread.reduce((sum, x) => sum + x, 0);
  spread.forEach((x, c) => { if (spreadAll > 0) spread[c] = x / spreadAll; });
  const newSigns = () => ({ cause: new Map(), fault: new Map(), all: new Map() });
  const symptoms = newSigns(), before = newSigns();
  const bump = (map, key, by) => map.set(key, (map.get(key) ?? 0) + by);
  const row = (map, key, size) => { if (!map.has(key)) map.set(key, new Array(size).fill(0)); return map.get(key); };
  const learned = checks.map(() => ({ results: new Map(), place: new Map(), all: [0, 0], kinds: new Set(), devices: new Set() }));
  for (const c of cases) {
    const f = faultOf[c.cause], w = weightOf(c);
    count[c.cause] += w;
    whole[c.cause]++;
    faultN[f] += w;
    (c.from ? theirIDs : ids)[c.cause].push(c.id);
    row(kinds, c.kind, K)[c.cause] += w;
    bump(kindN, c.kind, w);
    if (!devices.has(c.device)) devices.set(c.device, new Map());
    bump(devices.get(c.device), c.cause, w);
    bump(deviceN, c.device, w);
    for (const [signs, list, by] of [[symptoms, c.symptoms ?? [], w * (c.sure ?? 1)], [before, c.before ?? [], w]]) {
      for (const x of list) {
        row(signs.cause, x, K)[c.cause] += by;
        row(signs.fault, x, faultIDs.length)[f] += by;
        bump(signs.all, x, by);
      }
    }
    const made = c.made ?? [];
    for (let i = 0; i < made.length; i += 2) {
      const k = learned[made[i]], side = made[i + 1];
      row(k.results, c.cause, 2)[side] += w;
      row(k.place, causes[c.cause].at, 2)[side] += w;
      k.all[side] += w;
      k.kinds.add(c.kind);
      k.devices.add(c.device);
    }
  }
  ids.forEach((list, c) => list.push(...theirIDs[c]));

  function trigamma(x) {
    let sum = 0;
    for (; x < 6; x++) sum += 1 / (x * x);
    const y = 1 / (x * x);
    return sum + 1 / x + y / 2 + y / x * (1 / 6 - y * (1 / 30 - y * (1 / 42 - y / 30)));
  }
  // even makes numbers that differ only in their last digits equal.
  const even = (x) => Number.isFinite(x) ? (x < 0 ? -Math.round(-x * 1e9) : Math.round(x * 1e9)) : x;
  const mean = (n) => n[0] / (n[0] + n[1]);
  const log = (n, rest) => {
    const a = n[0], b = n[1];
    const part = rest ? b : a;
    return [Math.log(part / (a + b)), trigamma(Math.max(part, 0.5)) - trigamma(Math.max(a + b, 0.5))];
  };
  function share(signs, x, cause) {
    const all = ((signs.all.get(x) ?? 0) + 0.5) / (total + 1), f = faultOf[cause];
    const xf = signs.fault.get(x)?.[f] ?? 0, xc = signs.cause.get(x)?.[cause] ?? 0;
    const fault = (xf + s * all) / (faultN[f] + s);
    return [xc + s * fault, count[cause] - xc + s * (1 - fault)];
  }
  function prior(e, cause) {
    let p = count[cause] > 0 ? (count[cause] + s * spread[cause]) / (total + s) : 0;
    const way = wayOf(e);
    if (kinds.has(e.kind) || way) {
      let n = kinds.get(e.kind)?.[cause] ?? 0, of = kindN.get(e.kind) ?? 0;
      if (total > 0) of += s;
      if (way) { n += starter.pseudo * (way.causes.includes(cause) ? 1 / way.causes.length : 0); of += starter.pseudo; }
      p = (n + s * p) / of;
    }
    if (devices.has(e.device)) p = ((devices.get(e.device).get(cause) ?? 0) + s * p) / (deviceN.get(e.device) + s);
    return p;
  }
  function shows(e, k, cause) {
    const at = learned[k].place.get(causes[cause].at) ?? [0, 0], own = learned[k].results.get(cause) ?? [0, 0];
    const place = (at[1] + sc / (placeN + 1)) / (at[0] + at[1] + sc);
    const told = own[0] + own[1] === 0 && (stepOf(e, k)?.indexOf(cause, 1) > 0 || readingOf(e, k)?.places.includes(causes[cause].at));
    const half = told ? starter.pseudo / 2 : 0;
    return [own[1] + half + sc * place, own[0] + half + sc * (1 - place)];
  }
  // base are the counts that a cause's probability rests on, before any evidence.
  function base(cause) {
    const n = count[cause];
    if (n > 0) return [n + s * spread[cause], total - n + s * (1 - spread[cause])];
    return [0.5, starter.pseudo - 0.5];
  }
  // factors gives for each cause the logarithm of how much likelier the words make it.
  function factors(e) {
    if (!e.said || had === 0) return null;
    const beside = e.symptoms.some((x) => (symptoms.all.get(x) ?? 0) > 0), sums = new Map();
    const out = causes.map((c, i) => i < had ? e.said.place[c.at] : 0);
    causes.forEach((c, i) => { if (i < had) bump(sums, c.fault, count[i] * out[i]); });
    return out.map((x, i) => {
      const n = faultN[faultOf[i]], sum = sums.get(causes[i].fault);
      if (count[i] === 0 || n === 0 || sum === 0) return 0; // of the case left out
      const y = Math.log(e.said.fault[causes[i].fault]) + Math.log(x * n / sum);
      return beside ? y * e.said.beside : y;
    });
  }
  // dangersIn gives the ids of the dangers that the words, the symptoms and the events say.
  const dangersIn = (e) => [...new Set([...(e.said?.dangers ?? []), ...[...e.symptoms, ...(e.said?.symptoms ?? []), ...e.before, ...(e.said?.before ?? [])].map((id) => own(data.dangers, id)).filter(Boolean)])];
  const decides = (f) => f.result === "clear" || f.result === "fault";
  function weigh(e) {
    const p = new Array(K).fill(0), variance = new Array(K).fill(0);
    if (K === 0) return { p, variance, unseen: 1 };
    const u = (count.reduce((sum, n, c) => whole[c] === 1 ? sum + n : sum, 0) + 0.5) / (total + 1);
    let other = Math.log(u);
    const overall = (signs, x) => ((signs.all.get(x) ?? 0) + 0.5) / (total + 1);
    for (const x of e.symptoms) other += Math.log(overall(symptoms, x));
    for (const x of e.absent) other += Math.log(1 - overall(symptoms, x));
    for (const x of e.before) other += Math.log(overall(before, x));
    for (const f of e.found) {
      if (!decides(f)) continue;
      const k = learned[f.check];
      let q = (k.all[1] + sc / (placeN + 1)) / (k.all[0] + k.all[1] + sc);
      if (f.result === "clear") q = 1 - q;
      other += Math.log(q);
    }
    const words = factors(e), places = dangersIn(e).flatMap((id) => data.fitting[id] ?? []);
    let top = other;
    for (let c = 0; c < K; c++) {
      if (!stands(e, c)) { p[c] = -Infinity; continue; }
      let logP = Math.log((1 - u) * prior(e, c));
      let v = log(base(c), false)[1];
      const add = (n) => { logP += n[0]; v += n[1]; };
      for (const x of e.symptoms) add(log(share(symptoms, x, c), false));
      for (const x of e.absent) add(log(share(symptoms, x, c), true));
      for (const x of e.before) add(log(share(before, x, c), false));
      for (const f of e.found) if (decides(f)) add(log(shows(e, f.check, c), f.result === "clear"));
      if (words !== null) logP += words[c];
      if (places.includes(causes[c].at)) logP += Math.log(limits.fitting);
      p[c] = logP;
      variance[c] = v;
      top = Math.max(top, logP);
    }
    let sum = Math.exp(other - top);
    for (let c = 0; c < K; c++) sum += p[c] = Math.exp(p[c] - top);
    for (let c = 0; c < K; c++) p[c] /= sum;
    return { p, variance, unseen: Math.exp(other - top) / sum };
  }
  function intervals(p, v) {
    let all = 0;
    for (let c = 0; c < K; c++) all += p[c] * p[c] * v[c];
    return p.map((x, c) => {
      const rest = 1 - x;
      if (x <= 0 || rest <= 0) return [x, x];
      const spread = limits.z90 * Math.sqrt(v[c] + (all - x * x * v[c]) / (rest * rest)), odds = Math.log(x / rest);
      return [1 / (1 + Math.exp(spread - odds)), 1 / (1 + Math.exp(-spread - odds))];
    });
  }
  function complete(e) {
    const unique = (list) => [...new Set(list ?? [])];
    const said = e.said ?? null, spoken = !e.kind && !e.device && said, device = e.device || (spoken ? said.device : "") || "", absent = unique(e.absent);
    // What the words mean is evidence where a case has it too.
    const read = (said?.symptoms ?? []).filter((id) => (symptoms.all.get(id) ?? 0) > 0 && !absent.includes(id)), events = (said?.before ?? []).filter((id) => (before.all.get(id) ?? 0) > 0);
    return { said, symptoms: unique([...unique(e.symptoms), ...read]), absent, before: unique([...unique(e.before), ...events]), device, kind: e.kind || (spoken ? said.kind : "") || data.kinds[device] || "", found: e.found ?? [] };
  }

  // rank gives the causes, the most probable first, and the probability of one not seen yet.
  function rank(evidence) {
    const e = complete(evidence), { p, variance, unseen } = weigh(e), bounds = intervals(p, variance);
    const sharing = new Set(cases.filter((c) => e.device !== "" && c.device === e.device ||
      e.symptoms.some((x) => c.symptoms?.includes(x)) || e.before.some((x) => c.before?.includes(x))).map((c) => c.id));
    const list = causes.map((c, i) => {
      const first = ids[i].filter((id) => sharing.has(id));
      return { fault: c.fault, at: c.at, p: p[i], interval: bounds[i], cases: [...first, ...ids[i].filter((id) => !sharing.has(id))], shared: first.length, general: count[i] === 0 };
    }).filter((_, i) => stands(e, i));
    const less = (a, b) => a < b ? -1 : a > b ? 1 : 0;
    list.sort((a, b) => even(b.p) - even(a.p) || less(a.fault, b.fault) || less(a.at, b.at));
    return { causes: list, unseen, basis: basis(e) };
  }
  // basis counts whole cases, ours and theirs apart, and what theirs count for to a tenth.
  function basis(e) {
    const of = (list) => ({ device: list.filter((c) => c.device === e.device).length, kind: list.filter((c) => c.kind === e.kind).length, all: list.length });
    const ours = of(cases.filter((c) => !c.from)), theirs = of(cases.filter((c) => c.from)), tenths = (n, own) => Math.round(10 * (n - own)) / 10;
    return { ...ours, closed: data.closed, theirs: { ...theirs, closed: data.theirs,
      weight: { device: tenths(deviceN.get(e.device) ?? 0, ours.device), kind: tenths(kindN.get(e.kind) ?? 0, ours.kind), all: tenths(total, ours.all) } } };
  }

  // The question of order.
  function cost(o, order) {
    const left = [...o.p];
    let sum = 0;
    for (const k of order) {
      sum += o.minutes[k] * left.reduce((a, b) => a + b, 0);
      for (let c = 0; c < left.length; c++) left[c] *= 1 - o.shows[k][c];
    }
    return sum;
  }
  const allowed = (o, k, done) => !o.before || o.before[k].every(done);
  function exact(o) {
    const n = o.minutes.length, size = 1 << n, rest = new Float64Array(size), left = [o.p];
    for (let set = 0; set < size; set++) {
      if (set > 0) {
        const k = Math.log2(set & -set), from = left[set & (set - 1)];
        left[set] = from.map((x, c) => x * (1 - o.shows[k][c]));
      }
      for (const x of left[set]) rest[set] += x;
    }
    const best = new Float64Array(size), next = new Int32Array(size).fill(-1);
    for (let set = size - 2; set >= 0; set--) {
      best[set] = Infinity;
      for (let k = 0; k < n; k++) {
        if (set >> k & 1 || !allowed(o, k, (b) => set >> b & 1)) continue;
        const total = o.minutes[k] * rest[set] + best[set | 1 << k];
        if (total < best[set] - 1e-12) { best[set] = total; next[set] = k; }
      }
    }
    if (n > 0 && next[0] < 0) return heuristic(o);
    const order = [];
    for (let set = 0; set < size - 1 && next[set] >= 0; set |= 1 << order[order.length - 1]) order.push(next[set]);
    return order;
  }
  function by(o, worth) {
    const left = [...o.p], made = o.minutes.map(() => false), order = [];
    while (order.length < made.length) {
      let best = -1, most = -Infinity;
      for (let k = 0; k < made.length; k++) {
        if (made[k] || !allowed(o, k, (b) => made[b])) continue;
        const w = worth(left, k);
        if (even(w) > even(most)) { best = k; most = w; }
      }
      if (best < 0) break;
      made[best] = true;
      order.push(best);
      for (let c = 0; c < left.length; c++) left[c] *= 1 - o.shows[best][c];
    }
    return order;
  }
  function keeps(o, order) {
    const made = o.minutes.map(() => false);
    return order.every((k) => allowed(o, k, (b) => made[b]) && (made[k] = true));
  }
  function heuristic(o) {
    let order = by(o, (left, k) => left.reduce((sum, x, c) => sum + x * o.shows[k][c], 0) / o.minutes[k]);
    let least = cost(o, order);
    for (let better = true; better;) {
      better = false;
      for (let from = 0; from < order.length; from++) {
        for (let to = 0; to < order.length; to++) {
          if (from === to) continue;
          const next = order.toSpliced(from, 1).toSpliced(to, 0, order[from]);
          if (!keeps(o, next)) continue;
          const c = cost(o, next);
          if (c < least - 1e-9) { order = next; least = c; better = true; }
        }
      }
    }
    return order;
  }
  function random(o) {
    let sum = 0;
    for (let k = 0; k < o.minutes.length; k++) {
      for (let c = 0; c < o.p.length; c++) {
        if (o.p[c] === 0) continue;
        let average = 0;
        data.nodes.forEach((x, i) => {
          for (const t of [(1 - x) / 2, (1 + x) / 2]) {
            let product = 1;
            for (let j = 0; j < o.minutes.length; j++) if (j !== k) product *= 1 - t * o.shows[j][c];
            average += product * data.nodeWeights[i] / 2;
          }
        });
        sum += o.minutes[k] * o.p[c] * average;
      }
    }
    return sum;
  }

  // belongs reports whether a check may be offered for a kind of device.
  const belongs = (id, e) => called(id, e.device) !== "" && (e.kind === "" ? learned[id].kinds.size > 1 || kindN.size === 1 : learned[id].kinds.has(e.kind));
  // called gives the name of a check for a device, "" where all its wordings name something
  // of another's board.
  const called = (id, device) => own(checks[id].own, device) ?? checks[id].free ?? checks[id].name;
  // plan offers an order of the checks that were not made yet.
  function plan(evidence) {
    const e = complete(evidence), { p } = weigh(e);
    const sum = p.reduce((a, b) => a + b, 0);
    const dangers = dangersIn(e), stop = dangers.length > 0;
    let withheld = 0;
    const empty = () => ({ dangers, withheld, steps: [], expected: 0, commonestFirst: 0, cheapestFirst: 0, random: 0 });
    if (sum === 0) return empty();
    const known = p.map((x) => x / sum), made = new Set(e.found.map((f) => f.check));
    let list = [];
    checks.forEach((k, id) => {
      if (made.has(id) || (learned[id].all[1] === 0 || !belongs(id, e)) && !stepOf(e, id) && !readingOf(e, id)) return;
      const row = known.map((x, c) => x > 0 ? mean(shows(e, id, c)) : 0);
      const finds = known.reduce((a, x, c) => a + x * row[c], 0);
      if (finds < limits.worthwhile) return;
      if (stop && !checks[id].unpowered) withheld++;
      else list.push({ id, finds, shows: row });
    });
    const less = (a, b) => a < b ? -1 : a > b ? 1 : 0;
    list.sort((a, b) => even(b.finds / checks[b.id].minutes) - even(a.finds / checks[a.id].minutes) || less(checks[a.id].key, checks[b.id].key));
    const most = Math.max(0, ...list.map((k) => k.finds));
    list = list.filter((k) => k.finds >= most / limits.farBehind).slice(0, limits.maxChecks);
    if (list.length === 0) return empty();
    const o = { p: known, minutes: list.map((k) => checks[k.id].minutes), shows: list.map((k) => k.shows), before: list.map(() => []) };
    const says = list.map(() => []);
    list.forEach((k, i) => {
      const own = checks[k.id];
      if (own.invasive) list.forEach((other, j) => { const x = checks[other.id]; if (!x.invasive) o.before[i].push(j); });
      for (const rule of checks[k.id].under ?? []) {
        if (e.found.some((f) => checks[f.check].satisfies?.includes(rule))) continue;
        let found = false;
        list.forEach((other, j) => {
          const x = checks[other.id];
          if (j === i || !x.satisfies?.includes(rule) || x.under?.includes(rule)) return;
          o.before[i].push(j);
          found = true;
          says[i].push({ check: x.name, why: rules[rule].why });
        });
        if (!found) says[i].push({ check: rules[rule].do, why: rules[rule].why });
      }
    });
    // The steps of a method keep the bench's order, where safety does not say otherwise.
    const steps = (wayOf(e)?.steps ?? []).map((x) => list.findIndex((k) => k.id === x[0])).filter((at) => at >= 0);
    const waits = (i, j, seen) => i === j || (seen.add(i), o.before[i].some((k) => !seen.has(k) && waits(k, j, seen)));
    steps.forEach((later, n) => steps.slice(0, n).forEach((sooner) => {
      if (!o.before[later].includes(sooner) && !waits(sooner, later, new Set())) o.before[later].push(sooner);
    }));
    const order = list.length <= limits.exact ? exact(o) : heuristic(o);
    const left = [...known], after = [];
    order.forEach((k, i) => {
      for (let c = 0; c < left.length; c++) left[c] *= 1 - o.shows[k][c];
      const rest = left.reduce((a, b) => a + b, 0);
      after.push(rest > 0 ? cost({ ...o, p: left.map((x) => x / rest) }, order.slice(i + 1)) : 0);
    });
    return {
      dangers, withheld,
      steps: order.map((at, i) => ({ ...source(e, list[at].id), on: madeOn(e, list[at].id), ifFault: likeliest(e, list[at].id, "fault"), ifClear: likeliest(e, list[at].id, "clear"), id: list[at].id, check: called(list[at].id, e.device), minutes: o.minutes[at], finds: list[at].finds, after: after[i], first: says[at],
        cases: [...cases.filter((c) => !c.from), ...cases.filter((c) => c.from)].filter((c) => (c.made ?? []).some((x, n, all) => n % 2 === 0 && x === list[at].id && all[n + 1] === 1)).map((c) => c.id) })),
      expected: cost(o, order),
      commonestFirst: cost(o, by(o, (_, k) => Math.max(0, ...known.map((x, c) => x * o.shows[k][c])))),
      cheapestFirst: cost(o, by(o, (_, k) => -o.minutes[k])),
      random: random(o),
    };
  }
  // madeOn gives the devices of the kind that a check was made on, where this is none of them
  // and nothing else has it.
  function madeOn(e, id) {
    if (source(e, id).from !== "" || learned[id].devices.has(e.device)) return [];
    return [...learned[id].devices].filter((d) => e.kind === "" || data.kinds[d] === e.kind).sort();
  }
  // source says where a check comes from if not from cases, and what a good one shows.
  function source(e, id) {
    const reading = readingOf(e, id), at = wayOf(e)?.steps.findIndex((x) => x[0] === id) ?? -1;
    if (reading) return { from: "sheet", expect: reading.expect };
    if (at < 0) return { from: "", expect: "" };
    return { from: learned[id].all[1] === 0 || !belongs(id, e) ? wayOf(e).own ? "own" : "method" : "", expect: wayOf(e).expect[at] };
  }
  // likeliest is the most probable cause when a check has said something.
  function likeliest(e, check, result) {
    const q = weigh({ ...e, found: [...e.found, { check, result }] }).p;
    let top = -1;
    q.forEach((x, c) => { if (even(x) > (top < 0 ? 0 : even(q[top]))) top = c; });
    return top < 0 ? null : { fault: causes[top].fault, at: causes[top].at, p: q[top] };
  }
  // worth says what a check could tell, or null where no other case made it.
  function worth(evidence, id) {
    if (id < 0 || learned[id].all[0] + learned[id].all[1] <= 0) return null;
    const e = complete(evidence), { p, unseen } = weigh(e);
    const finds = p.reduce((sum, x, c) => x > 0 ? sum + x / (1 - unseen) * mean(shows(e, id, c)) : sum, 0);
    return { finds, ifFault: likeliest(e, id, "fault"), ifClear: likeliest(e, id, "clear") };
  }
  return { rank, plan, dangers: (evidence) => dangersIn(complete(evidence)), worth, checks, pseudo: starter?.pseudo, hasMethod: (evidence) => wayOf(complete(evidence)) !== undefined };
};
