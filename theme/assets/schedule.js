"use strict";
/* When an exercise comes again and which is next: the schedule of the command
   line's practice package, step for step; its comments give the formulas and their
   source. It knows nothing of the page. */
const benchloreSchedule = (() => {
  const passing = 3, leastEase = 1.3, firstEase = 2.5, format = "benchlore practice 1";
  const hundredths = (x) => Math.round(x * 100) / 100;
  const later = (day, days) => new Date(Date.parse(day + "T00:00:00Z") + days * 86400000).toISOString().slice(0, 10);

  const fresh = (notebook) => ({ format, notebook, cases: {} });
  function take(progress, id, q, day) {
    const r = { times: 0, ease: firstEase, interval: 0, missed: 0, ...progress.cases[id], last: q };
    if (q < passing) {
      r.times = 0;
      r.interval = 1;
      r.missed++;
    } else {
      r.times++;
      r.interval = r.times === 1 ? 1 : r.times === 2 ? 6 : Math.min(36500, Math.ceil(hundredths(r.interval * r.ease)));
      const away = 5 - q;
      r.ease = Math.max(leastEase, hundredths(r.ease + 0.1 - away * (0.08 + away * 0.02)));
    }
    r.due = later(day, r.interval);
    progress.cases[id] = r;
    return r;
  }
  const passed = (r) => r.last >= passing;
  function next(progress, entries, day) {
    const weak = {}, done = (e) => progress.cases[e.id], bump = (key, by) => { weak[key] = (weak[key] ?? 0) + by; };
    for (const e of entries) {
      if (!done(e) || passed(done(e))) continue;
      bump("fault " + e.fault, 3);
      bump("at " + e.at, 2);
      bump("kind " + e.kind, 1);
    }
    const near = (e) => (weak["fault " + e.fault] ?? 0) + (weak["at " + e.at] ?? 0) + (weak["kind " + e.kind] ?? 0);
    const rank = (e) => done(e) ? [done(e).due <= day ? 0 : 2, done(e).due] : [1, ""];
    const less = (a, b) => a < b ? -1 : a > b ? 1 : 0;
    const sorted = [...entries].sort((a, b) => {
      const [ca, da] = rank(a), [cb, db] = rank(b);
      if (ca !== cb || ca !== 1) return ca - cb || less(da, db) || less(a.id, b.id);
      return near(b) - near(a) || b.common - a.common || less(a.id, b.id);
    });
    return sorted.length === 0 ? null : { entry: sorted[0], due: rank(sorted[0])[0] === 0 };
  }
  // own is the minutes of the case's own path up to its last check that showed the fault.
  function own(x) {
    const path = x.checks.filter((c) => !c.reading), last = Math.max(0, ...path.filter((c) => c.result === "fault").map((c) => c.turn));
    return path.filter((c) => c.turn <= last || last === 0).reduce((sum, c) => sum + c.minutes, 0);
  }
  function grade(x, attempt) {
    const took = own(x), named = attempt.named ?? { fault: "", at: "" };
    if (attempt.gave) return 0;
    if (named.fault !== x.cause.fault || named.at !== x.cause.at) return named.fault === x.cause.fault || named.at === x.cause.at ? 2 : 1;
    if (attempt.minutes <= took && 2 * attempt.right >= attempt.said) return 5;
    return attempt.minutes <= Math.ceil(took * 1.5) ? 4 : 3;
  }
  // read gives the progress in a text, or null where it is none.
  function read(text) {
    let p;
    try { p = JSON.parse(text); } catch { return null; }
    if (p?.format !== format || typeof p.cases !== "object" || p.cases === null) return null;
    const whole = (n, most) => Number.isInteger(n) && n >= 0 && n <= most;
    const sound = (r) => /^\d{4}-\d\d-\d\d$/.test(r?.due) && !Number.isNaN(Date.parse(r.due)) && r.ease >= leastEase && r.ease <= 10 && whole(r.interval, 36500) && whole(r.last, 5) && whole(r.times, 1e9) && whole(r.missed, 1e9);
    return Object.values(p.cases).every(sound) ? p : null;
  }
  return { fresh, take, passed, next, own, grade, read };
})();
