"use strict";
/* The first weeks: the questions on safety open what comes after them. */
(() => {
  const byID = (id) => document.getElementById(id);
  const progress = benchloreProgress.load(), gated = byID("gated"), closed = byID("closed"), quiz = byID("questions");
  if (gated) {
    gated.hidden = !progress.safety;
    closed.hidden = Boolean(progress.safety);
  }
  /* Which steps are done, and what was answered first, stays in this browser, beside
     what was practised. An older list has ids of steps alone. */
  const key = "benchlore-steps " + document.body.dataset.workshop;
  let held = { done: {}, answers: {} };
  const isMap = (m) => typeof m === "object" && m !== null && !Array.isArray(m);
  const kept = () => {
    try {
      const v = JSON.parse(localStorage.getItem(key) ?? "{}");
      if (Array.isArray(v)) return { done: Object.fromEntries(v.filter((id) => typeof id === "string").map((id) => [id, ""])), answers: {} };
      return { done: isMap(v.done) ? v.done : {}, answers: isMap(v.answers) ? v.answers : {} };
    } catch { return held; }
  };
  const keep = (now) => { held = now; try { localStorage.setItem(key, JSON.stringify(now)); } catch { /* not allowed here */ } };
  const marked = (ok, text) => {
    const m = document.createElement("span"), sign = document.createElement("span");
    m.className = "mark mark-" + (ok ? "good" : "bad");
    sign.textContent = ok ? "●" : "✕";
    sign.setAttribute("aria-hidden", "true");
    m.append(sign, " " + text);
    return m;
  };
  const shuffle = (set) => {
    const options = [...set.querySelectorAll(".pick")];
    for (let i = options.length - 1; i > 0; i--) {
      const j = Math.floor(Math.random() * (i + 1));
      [options[i], options[j]] = [options[j], options[i]];
    }
    options.forEach((o) => set.append(o));
  };
  const mine = byID("step-done"), way = [...document.querySelectorAll(".way [data-step]")];
  if (mine) {
    const step = mine.dataset.step;
    const show = () => {
      const is = step in kept().done;
      mine.setAttribute("aria-pressed", String(is));
      mine.textContent = is ? say("✓ Done; not yet after all?") : say("Done with this step");
    };
    mine.hidden = Boolean(gated?.hidden);
    mine.addEventListener("click", () => {
      const now = kept();
      if (step in now.done) delete now.done[step]; else now.done[step] = benchloreProgress.today();
      keep(now);
      show();
      if (step in now.done) document.querySelector(".steps-nav a:last-child")?.focus();
    });
    show();
    /* A question is answered as often as one likes; the first answer is kept. */
    const questions = [...document.querySelectorAll("[data-question]")].filter((q) => q.querySelector("fieldset")), asked = byID("asked");
    const tell = () => {
      const mine = kept().answers[step] ?? {}, known = questions.filter((q) => q.dataset.question in mine);
      if (known.length > 0) asked.textContent = say("%s of %s answered, %s of them right at first.", known.length, questions.length, known.filter((q) => mine[q.dataset.question] === true).length);
    };
    for (const q of questions) {
      const set = q.querySelector("fieldset");
      if (!("ordered" in q.dataset)) shuffle(set);
      set.addEventListener("change", (e) => {
        const ok = e.target.dataset.right === "yes", now = kept(), mine = now.answers[step] ??= {};
        if (!(q.dataset.question in mine)) { mine[q.dataset.question] = ok; keep(now); }
        set.querySelector(".answer")?.remove();
        const p = document.createElement("p");
        p.className = "answer";
        p.append(marked(ok, ok ? say("right") : say("not so; read the text again")));
        set.append(p);
        if (ok) q.querySelector("details").open = true;
        tell();
      });
    }
    tell();
  }
  if (way.length > 0) {
    const { done, answers } = kept(), left = way.filter((e) => !(e.dataset.step in done)), said = byID("way-said");
    for (const e of way) {
      const is = e.dataset.step in done, cell = e.querySelector(".done"), first = Object.values(answers[e.dataset.step] ?? {});
      if (is && !cell) { const mark = document.createElement("span"); mark.className = "mark mark-good"; mark.textContent = say("✓ done") + " "; e.prepend(mark); }
      if (is && cell) cell.textContent = "✓ " + (done[e.dataset.step] || say("done"));
      if (cell && first.length > 0) e.querySelector(".right").textContent = say("%s of %s", first.filter((ok) => ok === true).length, first.length);
    }
    said.hidden = left.length === way.length;
    said.textContent = left.length === 0 ? say("Every step is done. Practise brings back what was missed; the next open case on the bench is the next lesson.") :
      say("%s of %s steps done. Next: ", way.length - left.length, way.length);
    if (left.length > 0) { const a = document.createElement("a"), to = left[0].querySelector("a"); a.href = to.getAttribute("href"); a.textContent = to.textContent; said.append(a); }
  }
  const practised = byID("practised"), records = Object.values(progress.cases), print = byID("print-it");
  if (practised && records.length > 0) {
    const today = benchloreProgress.today(), found = records.filter(benchloreSchedule.passed).length, due = records.filter((r) => r.due <= today).length;
    const a = document.createElement("a");
    a.href = "../practise.html";
    a.textContent = say("Practise");
    practised.append(say("Practised: %s cases, %s of them found when last tried, %s due today.", records.length, found, due), " ", a);
    practised.hidden = false;
  }
  if (print) { print.hidden = false; print.addEventListener("click", () => window.print()); }
  if (!quiz) return;
  // Options stand in an order that tells nothing; it changes with every visit.
  for (const set of quiz.querySelectorAll("fieldset")) shuffle(set);
  const said = byID("quiz-said");
  if (progress.safety) said.textContent = say("Passed on %s.", progress.safety);
  quiz.addEventListener("submit", (e) => {
    e.preventDefault();
    let wrong = 0;
    for (const set of quiz.querySelectorAll("fieldset")) {
      const chosen = set.querySelector("input:checked"), ok = chosen?.dataset.right === "yes";
      if (!ok) wrong++;
      set.querySelector(".answer")?.remove();
      const p = document.createElement("p");
      p.className = "answer";
      p.append(marked(ok, ok ? say("right") : say("not so; read the caution again")));
      set.append(p);
    }
    if (wrong > 0) { said.textContent = say("%s answers are not right yet. Nothing is lost: read and try again.", wrong); quiz.querySelector("fieldset:has(.mark-bad) input:checked, fieldset:has(.mark-bad) input").focus(); return; }
    const now = benchloreProgress.load();
    now.safety = benchloreProgress.today();
    said.textContent = benchloreProgress.save(now) ? say("All right. The rest of the first weeks is open.") : say("All right. This browser keeps nothing, so the pages open only until it is closed.");
    byID("go-on").hidden = false;
    byID("go-on").querySelector("a").focus();
  });
})();
