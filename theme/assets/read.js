"use strict";
/* The reader of people's words, step for step as the command line's package of terms
   has it (reader.go, grammar.go, lexicon.go, read.go, infer.go), over the same data. It
   asks for a language's words by name when a text needs them and knows nothing of the
   page. Places are counted in UTF-16 units. */
const benchloreReader = (common, fetchWords, stem) => {
  const not = "not", far = { ".": 5, "&": 6 }, farNegated = 2, farFine = 2, shortestPart = 3, shortestHead = 5, longestHead = 40;
  const naming = new Set(["kinds", "parts", "instruments", "names"]);
  const named = new Set(["symptoms", "faults", "dangers", "before", "places", "parts", "kinds", "actions", "results", "protective"]);
  const nouns = new Set(["kinds", "parts", "instruments", "places", "protective"]);
  const spending = new Set(["symptoms", "faults", "before", "dangers"]);
  // One end of a phrase whose words stand apart is a part of an instrument: "renewed with much hot air".
  const leans = (m, n) => n.cls === "instruments" && n.span === n.words && n.words > 1 && spending.has(m.cls) && m.span !== m.words
    && (n.first <= m.first && m.first <= n.last && m.last > n.last || n.first <= m.last && m.last <= n.last && m.first < n.first);
  const letter = /[\p{L}\p{Nd}]/u, inner = /[\p{L}\p{Nd}\p{Mn}]/u, apostrophes = "'’`´", ends = ".,;:!?()[]\n|\"";
  const lengthOf = (w) => [...w].length;
  const put = (map, key, make) => { if (!map.has(key)) map.set(key, make()); return map.get(key); };

  function grammarOf(g) {
    const folds = g.folds.map((f) => f.split("=")), endings = [...g.endings].sort((a, b) => b.length - a.length), slips = new Map(Object.entries(g.slips));
    const fold = (w) => {
      let out = "";
      for (let i = 0; i < w.length;) {
        const f = folds.find(([from]) => w.startsWith(from, i));
        out += f ? f[1] : w[i];
        i += f ? f[0].length : 1;
      }
      return out;
    };
    const known = new Map();
    function cut(w) {
      w = slips.get(w) ?? w;
      if (g.english) return stem(w);
      w = fold(w);
      const e = endings.find((x) => w.endsWith(x) && [...w.slice(0, w.length - x.length)].length >= 3);
      if (e !== undefined) w = w.slice(0, w.length - e.length);
      const n = w.length;
      return g.single && n > 3 && w[n - 1] === w[n - 2] && w.charCodeAt(n - 1) < 128 ? w.slice(0, n - 1) : w;
    }
    const key = (w) => {
      if (known.size > 20000) known.clear();
      return put(known, w, () => cut(w));
    };
    const folded = (w) => fold(slips.get(w) ?? w);
    const forms = (w, list) => {
      const x = folded(w), ending = (base) => base.length > 0 && x.startsWith(base) && g.nouns.includes(x.slice(base.length));
      return list.some((f) => x === f || ending(f) || lengthOf(f) > 2 && f !== "" && g.drops.includes(f.at(-1)) && ending(f.slice(0, -1)));
    };
    const keys = (list) => new Set(list.map(key)), negators = new Map();
    for (const text of [not, ...g.negators]) {
      const n = { words: [], ending: "" };
      for (const w of text.split(" ")) if (w.startsWith("*")) n.ending = w.slice(1); else n.words.push(key(w));
      put(negators, n.words[0], () => []).push(n);
    }
    for (const list of negators.values()) list.sort((a, b) => b.words.length - a.words.length);
    return { ...g, key, folded, forms, negators, function: new Set(g.function), fine: keys(g.fine), asking: keys(g.asking), supposing: keys(g.supposing ?? []), breaks: keys(g.breaks), or: keys(g.or) };
  }

  // split gives all words of a text; a question mark is a token without a key.
  function split(g, text) {
    const out = [], chars = [...text];
    let first = true, at = 0;
    for (let i = 0; i < chars.length;) {
      if (!letter.test(chars[i])) {
        if (ends.includes(chars[i])) {
          first = true;
          if (chars[i] === "?") out.push({ key: "", written: "", start: at, stop: at + 1, first: true, asked: true });
        }
        at += chars[i++].length;
        continue;
      }
      const start = at;
      let w = "";
      while (i < chars.length) {
        const apostrophe = apostrophes.includes(chars[i]);
        if (apostrophe && g.splits) { at += chars[i++].length; break; }
        if (!apostrophe && !inner.test(chars[i])) break;
        if (!apostrophe) w += chars[i].toLowerCase();
        at += chars[i++].length;
      }
      out.push({ key: g.key(w), written: w, start, stop: at, first, asked: false });
      first = false;
    }
    return out;
  }
  function opens(g, clause) {
    const said = clause.map((t) => t.written + " ").join("");
    return g.opening.some((w) => said.startsWith(w + " "));
  }
  function negates(g, raw, i) {
    for (const n of g.negators.get(raw[i].key) ?? []) {
      if (i + n.words.length > raw.length) continue;
      if (n.words.some((w, k) => k > 0 && (raw[i + k].key !== w || raw[i + k].first))) continue;
      const behind = raw[i + n.words.length];
      if (n.ending !== "" && (!behind || behind.first || !behind.written.endsWith(n.ending))) continue;
      return n.words.length;
    }
    return 0;
  }
  function tokensOf(g, text) {
    const raw = split(g, text), out = [];
    let first = true, or = false, clause = 0, begun = 0;
    for (let i = 0; i < raw.length; i++) {
      const t = raw[i];
      if (t.first) { first = true; or = false; }
      if (t.asked && opens(g, raw.slice(begun, i))) for (let k = clause; k < out.length; k++) out[k].asked = true;
      if (t.key === "" || t.first) { clause = out.length; begun = i; }
      if (t.key === "") { begun++; continue; }
      const n = negates(g, raw, i);
      if (n > 0) {
        out.push({ ...t, key: not, stop: raw[i + n - 1].stop, first, or, asked: false, supposed: false });
        first = or = false;
        i += n - 1;
      } else if (g.breaks.has(t.key)) {
        first = true;
        or = false;
        clause = out.length;
      } else if (g.or.has(t.key)) or = true;
      else if (!g.function.has(t.written) || g.final.includes(t.written) && (i + 1 === raw.length || raw[i + 1].first)) {
        out.push({ ...t, first, or, asked: false, supposed: false });
        first = or = false;
      }
    }
    raw.forEach((t, i) => {
      if (t.key === "" || !g.asking.has(t.key) && !g.supposing.has(t.key)) return;
      let stop = i + 1;
      while (stop < raw.length && !raw[stop].first && raw[stop].key !== "") stop++;
      for (const o of out) if (o.start > t.start && o.stop <= raw[stop - 1].stop) {
        o.asked ||= g.asking.has(t.key);
        o.supposed ||= g.supposing.has(t.key);
      }
    });
    return out;
  }

  // parse reads how a phrase is written: its words with their alternatives, and its joints.
  function parse(text, sets) {
    text = text.toLowerCase();
    for (let i = text.indexOf("<"); i >= 0; i = text.indexOf("<")) {
      const end = text.indexOf(">", i), before = text.slice(0, i), inGroup = before.lastIndexOf("(") > before.lastIndexOf(")"), set = sets[text.slice(i + 1, end)];
      text = before + (inGroup ? set : "(" + set + ")") + text.slice(end + 1);
    }
    const out = [], fields = (t) => t.split(/\s+/u).filter((w) => w !== "");
    while (text !== "") {
      const i = text.indexOf("(") < 0 ? text.length : text.indexOf("("), end = text.indexOf(")", i);
      for (const w of fields(text.slice(0, i))) out.push(w === ".." || w === "&" ? { joint: w[0] } : { joint: "", alternatives: [[w]] });
      if (i === text.length) break;
      out.push({ joint: "", alternatives: text.slice(i + 1, end).split("|").map(fields) });
      text = text.slice(end + 1);
    }
    return out;
  }

  function readerOf(g) {
    // Phrases wait, by the keys that they may begin with, until a text has one.
    const next = [new Map()], segment = [-1], alone = [], begins = [], words = new Set([not]), waiting = new Map();
    function step(node, key) {
      return put(next[node], key, () => { next.push(new Map()); segment.push(-1); return next.length - 1; });
    }
    function segmentAt(node) {
      if (segment[node] < 0) {
        segment[node] = alone.length;
        alone.push([]);
        begins.push([]);
      }
      return segment[node];
    }
    const pure = /^[\p{L}\p{Nd}]+$/u;
    // behind gives the words that may stand behind one, whose alternative goes on with rest.
    function behind(items, i, rest) {
      if (rest.length > 0) return [rest[0]];
      const out = [];
      for (const it of items.slice(i + 1)) {
        let passes = false;
        for (const list of it.alternatives ?? []) if (list.length > 0) out.push(list[0]); else passes = true;
        if (it.joint !== "" || !passes) break;
      }
      return out;
    }
    // plain reports whether each word of a phrase can be read by itself.
    const plain = (items) => items.every((it, i) => it.joint !== "" || it.alternatives.every((list) => list.every((w, k) => pure.test(w) && (g.negators.get(g.key(w)) ?? []).every((n) =>
      n.words.length === 1 && n.ending === "" || !behind(items, i, list.slice(k + 1)).some((next) => n.words.length > 1 ? g.key(next) === n.words[1] : next.endsWith(n.ending))))));
    function keyOf(w) {
      const k = g.key(w);
      return g.negators.get(k)?.some((n) => n.words.length === 1 && n.ending === "") ? not : g.breaks.has(k) || g.or.has(k) || g.function.has(w) ? "" : k;
    }
    // noun takes in a name of one word.
    function noun(cls, id, list, form) {
      const same = list.filter((m) => m.cls === cls);
      if (same.some((m) => m.forms?.includes(form))) return;
      const mine = same.find((m) => m.id === id);
      if (mine) mine.forms?.push(form); else list.push({ cls, id, forms: [form] });
    }
    function end(cls, id, w, written) {
      if (w.segments.length === 0 || g.hanging.includes(w.ends) || w.keys === 1 && (w.only === not || written > 1)) return;
      const first = w.segments[0];
      if (w.segments.length === 1 && w.keys === 1 && nouns.has(cls)) noun(cls, id, alone[first], g.folded(w.word));
      else if (w.segments.length > 1) begins[first].push({ cls, id, joints: [...w.joints], segments: [...w.segments], words: w.keys });
      else if (!alone[first].some((m) => m.cls === cls && !m.forms)) alone[first].push({ cls, id });
    }
    function add(cls, id, text, sets) {
      const items = parse(text, sets), w = { segments: [], joints: [], joint: "", keys: 0, only: "", word: "", tail: "", ends: "" };
      let opening = "";
      // along goes through all that a phrase may say, from an item at a node of the tree.
      function along(i, node, keys, written) {
        if (i < items.length && items[i].joint === "") {
          alternatives: for (const list of items[i].alternatives) {
            const { only, word: last, tail, ends } = w;
            let at = node, n = 0;
            for (const word of list) {
              const k = keyOf(word);
              w.ends = word;
              w.tail = k === "" && g.final.includes(word) ? word : "";
              if (k !== "" && keys + n + w.keys === 0 && opening !== "" && k !== opening) continue alternatives;
              if (k !== "") { at = step(at, k); n++; w.only = k; w.word = word; }
            }
            along(i + 1, at, keys + n, written + list.length);
            w.only = only;
            w.word = last;
            w.tail = tail;
            w.ends = ends;
          }
          return;
        }
        const { joint, only } = w;
        if (i === items.length && keys + w.keys === 1 && w.tail !== "") { // "got in" is nothing without its last word
          w.only = g.key(w.tail);
          node = step(node, w.only);
          keys++;
        }
        if (keys > 0) { w.segments.push(segmentAt(node)); w.joints.push(joint); w.keys += keys; }
        if (i < items.length) {
          w.joint = w.segments.length === 0 ? "" : items[i].joint;
          along(i + 1, 0, 0, written);
        } else end(cls, id, w, written);
        if (keys > 0) { w.segments.pop(); w.joints.pop(); w.keys -= keys; }
        w.joint = joint;
        w.only = only;
      }
      // spell writes each way out, where neighbours may be a negator, and reads it as a text.
      function spell(i, said) {
        if (i < items.length) {
          if (items[i].joint !== "") spell(i + 1, [...said, items[i].joint]);
          else for (const list of items[i].alternatives) spell(i + 1, [...said, ...list]);
          return;
        }
        Object.assign(w, { segments: [], joints: [], joint: "", keys: 0, ends: said.at(-1) ?? "" });
        for (let from = 0, k = 0; k <= said.length; k++) {
          if (k < said.length && said[k] !== "." && said[k] !== "&") continue;
          const keys = tokensOf(g, said.slice(from, k).join(" "));
          if (keys.length > 0) {
            let node = 0;
            for (const t of keys) { node = step(node, t.key); w.only = t.key; w.word = t.written; words.add(t.key); }
            w.segments.push(segmentAt(node));
            w.joints.push(w.joint);
            w.keys += keys.length;
          }
          if (k < said.length) { w.joint = w.segments.length > 0 ? said[k] : ""; from = k + 1; }
        }
        end(cls, id, w, said.length);
      }
      if (!plain(items)) { spell(0, []); return; } // what it begins with shows only when it is spelt out
      const open = [];
      let passes = true;
      for (const it of items) {
        let passed = it.joint !== "";
        for (const list of it.alternatives ?? []) {
          let first = "";
          for (const word of list) {
            const k = keyOf(word);
            if (k !== "") words.add(k);
            if (first === "") first = k;
          }
          if (first === "") passed = true; else if (passes && !open.includes(first)) open.push(first);
        }
        passes &&= passed;
      }
      for (const k of open) put(waiting, k, () => []).push(() => { opening = k; along(0, 0, 0, 0); });
    }
    function fetch(keys) {
      for (const k of keys) {
        for (const begin of waiting.get(k) ?? []) begin();
        waiting.delete(k);
      }
    }
    function match(p, tokens, hits, i, before, first, last) {
      if (i === p.segments.length) return [first, last];
      let best = null;
      for (const h of hits.get(p.segments[i]) ?? []) {
        const joint = p.joints[i];
        let fits = h[0] > before[1] && h[0] - before[1] - 1 <= far[joint] && together(tokens, before[1], h[0]);
        if (joint === "&" && !fits) fits = h[1] < before[0] && before[0] - h[1] - 1 <= far["&"] && together(tokens, h[1], before[0]);
        if (!fits) continue;
        const whole = match(p, tokens, hits, i + 1, h, Math.min(first, h[0]), Math.max(last, h[1]));
        if (whole && (!best || whole[1] - whole[0] < best[1] - best[0])) best = whole;
      }
      return best;
    }
    function compounds(tokens, found) {
      if (!g.compounds) return;
      tokens.forEach((t, i) => {
        const letters = [...t.written];
        if (words.has(t.key) || letters.length < shortestPart + shortestHead) return;
        for (let from = Math.max(shortestPart, letters.length - longestHead); from <= letters.length - shortestHead; from++) {
          const key = g.key(letters.slice(from).join(""));
          fetch([key]);
          const node = next[0].get(key);
          if (node === undefined || segment[node] < 0) continue;
          // An umlaut at the joint makes another word of it.
          const head = letters.slice(from).join("");
          const list = alone[segment[node]].filter((m) => (naming.has(m.cls) && m.cls !== "names" || m.cls === "places") && (m.forms ?? []).some((f) => f.startsWith(letters[from])) && g.forms(head, m.forms));
          for (const m of list) found.push({ cls: m.cls, id: m.id, words: 1, span: 1, first: i, last: i });
          if (list.length > 0) break;
        }
      });
    }
    function read(text) {
      const tokens = tokensOf(g, text), found = [], hits = new Map();
      fetch(tokens.map((t) => t.key));
      for (let i = 0; i < tokens.length; i++) {
        let node = 0;
        for (let k = i; k < tokens.length && (k === i || !tokens[k].first); k++) {
          node = next[node].get(tokens[k].key);
          if (node === undefined) break;
          const seg = segment[node];
          if (seg < 0) continue;
          put(hits, seg, () => []).push([i, k]);
          for (const m of alone[seg]) if (!m.forms || g.forms(tokens[i].written, m.forms)) found.push({ cls: m.cls, id: m.id, words: k - i + 1, span: k - i + 1, first: i, last: k });
        }
      }
      for (const [seg, list] of hits) for (const p of begins[seg]) for (const h of list) {
        const at = match(p, tokens, hits, 1, h, h[0], h[1]);
        if (at) found.push({ cls: p.cls, id: p.id, words: p.words, span: at[1] - at[0] + 1, first: at[0], last: at[1] });
      }
      compounds(tokens, found);
      const out = chosen(found, tokens);
      negate(g, tokens, out);
      return out.map((m) => ({ ...m, start: tokens[m.first].start, stop: tokens[m.last].stop, asked: tokens[m.first].asked || m.cls === "symptoms" && tokens[m.first].supposed, opens: tokens[m.first].first }));
    }
    function knows(text) {
      let known = 0, all = 0;
      for (const t of split(g, text)) {
        if (t.key === "") continue;
        all++;
        if (words.has(t.key) || g.function.has(t.written) || g.or.has(t.key) || g.negators.has(t.key)) known++;
      }
      return known / Math.max(1, all);
    }
    return { add, read, knows };
  }
  function together(tokens, a, b) {
    for (let k = a + 1; k <= b; k++) if (tokens[k].first) return false;
    return true;
  }
  // chosen keeps of each class the longest at each place, and nothing that is only a part of a longer name.
  function chosen(found, tokens) {
    found.sort((a, b) => b.words - a.words || a.span - b.span || a.first - b.first);
    const taken = new Map(), out = [];
    for (const m of found) {
      const used = put(taken, m.cls, () => new Array(tokens.length).fill(false));
      if (m.span === m.words) {
        if (used.slice(m.first, m.last + 1).includes(true)) continue;
        used.fill(true, m.first, m.last + 1);
      } else {
        // "Swollen and hot": two dangers of one thing are two.
        if (used[m.first] && used[m.last] || (used[m.first] || used[m.last]) && m.cls !== "dangers") continue;
        used[m.first] = used[m.last] = true;
      }
      out.push({ ...m, negated: false });
    }
    // A name that holds a negator denies what is a part of it: "no smoke".
    for (const m of out) {
      m.negated = spending.has(m.cls) && out.some((n) => n.cls === "names" && n.span === n.words && n.words > m.words && n.first <= m.first && n.last >= m.last && tokens[n.first].key === not);
    }
    return out.filter((m) => !(named.has(m.cls) && !m.negated && out.some((n) => {
      if (leans(m, n)) return true;
      if (!naming.has(n.cls) || n.span !== n.words || n.words <= m.words || n.first > m.first || n.last < m.last) return false;
      if (n.cls === "names" && !spending.has(m.cls)) return false; // it names what it names
      return !(m.cls === "kinds" && (n.cls === "parts" || n.cls === "kinds")) && !(m.cls === "parts" && n.cls === "parts") && !(m.cls === "places" && n.cls === "parts");
    })));
  }
  // negate marks what the text denies.
  function negate(g, tokens, found) {
    const spent = new Array(tokens.length).fill(false);
    for (const m of found) {
      if (!spending.has(m.cls) || m.span !== m.words) continue;
      for (let k = m.first; k <= m.last; k++) spent[k] ||= tokens[k].key === not;
    }
    found.sort((a, b) => a.first - b.first);
    found.forEach((m, i) => {
      const reach = naming.has(m.cls) || m.cls === "places" || m.cls === "protective" ? 0 : farNegated;
      for (let k = m.first - 1; k >= 0 && k >= m.first - 1 - reach && !tokens[k + 1].first; k--) {
        if (tokens[k].key === not && !spent[k]) { m.negated = true; break; }
      }
      if (m.span !== m.words) for (let k = m.first + 1; k < m.last; k++) if (tokens[k].key === not && !spent[k]) m.negated = true;
      const next = tokens[m.last + 1];
      if (g.after && spending.has(m.cls) && next && (m.last + 2 === tokens.length || tokens[m.last + 2].first) && next.key === not && !next.first && !spent[m.last + 1]) m.negated = true;
      // "Die Lampe brennt nicht" is no fire: the longer phrase holds the negator.
      if (m.cls === "dangers" && found.some((n) => n.cls !== "dangers" && n.span === n.words && n.first <= m.first && n.last >= m.last && tokens.some((t, k) => k >= n.first && k <= n.last && t.key === not && (k < m.first || k > m.last)))) m.negated = true;
      if (!m.negated && tokens[m.first].or && found.slice(0, i).some((n) => n.negated && n.last === m.first - 1)) m.negated = true;
      if (m.cls !== "places" && m.cls !== "parts") return;
      for (let k = m.last + 1; k < tokens.length && k <= m.last + 1 + farFine && !tokens[k].first; k++) {
        if (tokens[k].key === not) break;
        if (g.fine.has(tokens[k].key)) { m.negated = true; break; }
      }
    });
  }

  // The words of a language, and their readers, made when they are first needed.
  const grammars = Object.fromEntries(Object.entries(common.grammars).map(([tag, g]) => [tag, grammarOf(g)])), readers = new Map(), dangerous = new Map();
  function fill(reader, text, classes) {
    let cls = "", id = "";
    const sets = {};
    for (const line of text.split("\n")) {
      if (line === "") continue;
      const rest = line.slice(1);
      if (line[0] === "=") { cls = rest; for (const k of Object.keys(sets)) delete sets[k]; }
      else if (line[0] === ">") id = rest;
      else if (line[0] === "<") sets[rest.slice(0, rest.indexOf(" "))] = rest.slice(rest.indexOf(" ") + 1);
      else if (!classes || classes.includes(cls)) reader.add(cls, id, rest, sets);
    }
    return reader;
  }
  const wordsAt = new Map();
  const words = (tag) => put(wordsAt, tag, () => fetchWords(tag));
  const languageOf = (tag) => common.reading.includes(tag) ? tag : "en";
  async function reader(tag) {
    if (!readers.has(tag)) {
      const own = tag === common.language, r = readerOf(grammars[languageOf(tag)]);
      if (common.reading.includes(tag)) fill(r, await words(tag));
      if (own) fill(r, common.own);
      readers.set(tag, r);
    }
    return readers.get(tag);
  }
  async function dangers(tag) {
    if (!dangerous.has(tag)) dangerous.set(tag, fill(readerOf(grammars[tag]), (await words("dangers"))[tag]));
    return dangerous.get(tag);
  }
  function functionWords(tag, text) {
    const g = grammars[tag];
    let n = 0, all = 0;
    for (const t of split(g, text)) {
      if (t.key === "") continue;
      all++;
      const size = lengthOf(t.written);
      if (size > 1 && (g.function.has(t.written) || g.or.has(t.key)) || size > 2 && g.negators.has(t.key)) n++;
    }
    return [n, all];
  }
  function writtenIn(text) {
    const own = common.language;
    if (!common.reading.includes(own)) {
      const [n, all] = functionWords("en", text);
      return n > 1 && 3 * n >= all ? "en" : own;
    }
    let best = own, most = functionWords(own, text)[0];
    for (const tag of common.reading) {
      if (tag === own) continue;
      const [n, all] = functionWords(tag, text);
      if (n > most && (n > 1 || all <= 4)) { best = tag; most = n; }
    }
    return best !== own && readers.get(own).knows(text) >= 0.6 ? own : best;
  }
  const rank = (m) => common.classes.indexOf(m.cls), denied = (m) => m.negated ? 2 : m.asked ? 1 : 0, depth = (m) => {
    let n = 0;
    for (let id = m.id; common.parents[id] && n < 4; id = common.parents[id]) n++;
    return n;
  };

  // prepare fetches what a text needs; read then says what it says, the best of each class first.
  const prepare = async (text) => {
    await reader(common.language);
    const tag = writtenIn(text);
    await reader(tag);
    for (const other of common.reading) if (other !== tag) await dangers(other);
  };
  function read(text) {
    const tag = writtenIn(text), r = readers.get(tag);
    if (!r) throw new Error("not prepared: " + tag);
    const weak = new Set(common.weak ?? []);
    let found = r.read(text).filter((m) => !(m.cls === "kinds" && m.first > 0 && weak.has(m.id)));
    for (const other of common.reading) {
      if (other === tag) continue;
      for (const m of dangerous.get(other).read(text)) {
        if (m.cls === "dangers" && !found.some((n) => n.start < m.stop && m.start < n.stop)) found.push(m);
      }
    }
    found = found.filter((m) => m.cls !== "names" && rank(m) >= 0);
    // What says no more than that something is wrong falls away where the text says what,
    // or says it of a part and not of the device.
    const vague = (m) => common.vague.includes(m.id);
    const ofPart = (m) => !m.opens && found.some((n) => (n.cls === "parts" || n.cls === "protective") && n.last === m.first - 1);
    found = found.filter((m) => m.cls !== "symptoms" || !vague(m) || !ofPart(m));
    if (found.some((m) => m.cls === "symptoms" && !m.negated && !m.asked && !vague(m))) found = found.filter((m) => m.cls !== "symptoms" || !vague(m));
    return found.sort((a, b) => rank(a) - rank(b) || denied(a) - denied(b) || (a.cls === "kinds" ? depth(b) - depth(a) : 0) || b.words - a.words || a.start - b.start);
  }
  // recognise gives what a text states of one class, in order of appearance.
  const recognise = (text, cls) => read(text).filter((m) => m.cls === cls && !m.negated && !(m.asked && cls !== "dangers")).sort((a, b) => a.start - b.start);
  // widened gives a kind and the wider ones that it is a sort of.
  const widened = (kind) => {
    const out = [];
    for (let id = kind; id && out.length < 5; id = common.parents[id]) out.push(id);
    return out;
  };

  // perhaps gives the kind that a text which names none probably speaks of, or null.
  const inferences = new Map();
  const digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  function bytes(text) {
    const clean = text.replace(/=+$/, ""), out = new Uint8Array(Math.floor(clean.length * 3 / 4));
    let n = 0, held = 0, bits = 0;
    for (const c of clean) {
      held = held << 6 | digits.indexOf(c);
      bits += 6;
      if (bits >= 8) { bits -= 8; out[n++] = held >> bits & 255; }
    }
    return out;
  }
  function hashed(feature, bits) {
    let h = 0x811c9dc5;
    for (const c of feature) {
      const p = c.codePointAt(0);
      for (const b of p < 0x80 ? [p] : p < 0x800 ? [0xc0 | p >> 6, 0x80 | p & 63] : p < 0x10000 ? [0xe0 | p >> 12, 0x80 | p >> 6 & 63, 0x80 | p & 63] :
        [0xf0 | p >> 18, 0x80 | p >> 12 & 63, 0x80 | p >> 6 & 63, 0x80 | p & 63]) h = Math.imul(h ^ b, 0x01000193);
    }
    return (h >>> 0) >>> (32 - bits);
  }
  async function perhaps(text) {
    const tag = writtenIn(text);
    if (text.trim() === "" || !common.inferring.includes(tag)) return null;
    const i = await put(inferences, tag, async () => {
      const x = JSON.parse(await fetchWords("kind-" + tag)), b = bytes(x.buckets), at = new Map();
      for (let k = 0; 2 * k < b.length; k++) at.set(b[2 * k] | b[2 * k + 1] << 8, k);
      return { ...x, at, weights: new Int8Array(bytes(x.weights).buffer) };
    });
    const tokens = tokensOf(grammars[tag], text).slice(0, i.most), blocks = [new Set(), new Set()];
    tokens.forEach((t, k) => {
      blocks[0].add(hashed(t.key, i.bits));
      if (k > 0 && !t.first) blocks[0].add(hashed(tokens[k - 1].key + " " + t.key, i.bits));
      if (t.key === not) return;
      const letters = [..."<" + t.written + ">"];
      for (const n of i.runs) for (let m = 0; m + n <= letters.length; m++) blocks[1].add(hashed("~" + letters.slice(m, m + n).join(""), i.bits));
    });
    const values = new Map(), out = [...i.intercepts];
    for (const b of blocks) for (const k of b) values.set(k, (values.get(k) ?? 0) + 1 / Math.sqrt(b.size));
    for (const k of [...values.keys()].sort((a, b) => a - b)) {
      const at = i.at.get(k);
      if (at !== undefined) for (let c = 0; c < out.length; c++) out[c] += values.get(k) * i.step * i.weights[at * out.length + c];
    }
    const top = Math.max(...out), p = out.map((x) => Math.exp(x - top)), sum = p.reduce((a, x) => a + x, 0);
    let best = 0;
    p.forEach((x, c) => { if (x / sum > p[best] / sum) best = c; });
    return p[best] / sum < i.least ? null : { id: i.kinds[best], p: Math.round(p[best] / sum * 100) / 100 };
  }
  return { prepare, read, recognise, widened, perhaps };
};
