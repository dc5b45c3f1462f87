"use strict";
/* The first weeks: the questions on safety open what comes after them. */
(() => {
  const byID = (id) => document.getElementById(id);
  const progress = benchloreProgress.load(), gated = byID("gated"), closed = byID("closed"), quiz = byID("questions");
  if (gated) {
    gated.hidden = !progress.safety;
    closed.hidden = Boolean(progress.safety);
  }
  /* Which steps are done stays in this browser, beside what was practised. */
  const key = "benchlore-steps " + document.body.dataset.workshop;
  let held = [];
  const done = () => { try { return JSON.parse(localStorage.getItem(key) ?? "[]").filter((id) => typeof id === "string"); } catch { return held; } };
  const keep = (list) => { held = list; try { localStorage.setItem(key, JSON.stringify(list)); } catch { /* not allowed here */ } };
  const mine = byID("step-done"), way = [...document.querySelectorAll(".way [data-step]")];
  if (mine) {
    const show = () => {
      const is = done().includes(mine.dataset.step);
      mine.setAttribute("aria-pressed", String(is));
      mine.textContent = is ? say("✓ Done; not yet after all?") : say("Done with this step");
    };
    mine.hidden = Boolean(gated?.hidden);
    mine.addEventListener("click", () => {
      const list = done(), id = mine.dataset.step;
      keep(list.includes(id) ? list.filter((x) => x !== id) : [...list, id]);
      show();
      if (done().includes(id)) document.querySelector(".steps-nav a:last-child")?.focus();
    });
    show();
  }
  if (way.length > 0) {
    const list = done(), left = way.filter((li) => !list.includes(li.dataset.step)), said = byID("way-said");
    for (const li of way) if (list.includes(li.dataset.step)) { const mark = document.createElement("span"); mark.className = "mark mark-good"; mark.textContent = say("✓ done") + " "; li.prepend(mark); }
    said.hidden = list.length === 0;
    said.textContent = left.length === 0 ? say("Every step is done. Practise brings back what was missed; the next open case on the bench is the next lesson.") :
      say("%s of %s steps done. Next: ", way.length - left.length, way.length);
    if (left.length > 0) { const a = document.createElement("a"); a.href = left[0].querySelector("a").getAttribute("href"); a.textContent = left[0].querySelector("a").textContent; said.append(a); }
  }
  if (!quiz) return;
  // Options stand in an order that tells nothing; it changes with every visit.
  for (const set of quiz.querySelectorAll("fieldset")) {
    const options = [...set.querySelectorAll(".pick")];
    for (let i = options.length - 1; i > 0; i--) {
      const j = Math.floor(Math.random() * (i + 1));
      [options[i], options[j]] = [options[j], options[i]];
    }
    options.forEach((o) => set.append(o));
  }
  const said = byID("quiz-said");
  if (progress.safety) said.textContent = say("Passed on %s.", progress.safety);
  quiz.addEventListener("submit", (e) => {
    e.preventDefault();
    let wrong = 0;
    for (const set of quiz.querySelectorAll("fieldset")) {
      const chosen = set.querySelector("input:checked"), ok = chosen?.dataset.right === "yes";
      if (!ok) wrong++;
      set.querySelector(".answer")?.remove();
      const p = document.createElement("p"), sign = document.createElement("span");
      p.className = "answer mark mark-" + (ok ? "good" : "bad");
      sign.textContent = ok ? "●" : "✕";
      sign.setAttribute("aria-hidden", "true");
      p.append(sign, " " + (ok ? say("right") : say("not so; read the caution again")));
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
