"use strict";
/* The first weeks: the questions on safety open what comes after them. */
(() => {
  const byID = (id) => document.getElementById(id);
  const progress = benchloreProgress.load(), gated = byID("gated"), closed = byID("closed"), quiz = byID("questions");
  if (gated) {
    gated.hidden = !progress.safety;
    closed.hidden = Boolean(progress.safety);
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
    if (wrong > 0) { said.textContent = say("%s answers are not right yet. Nothing is lost: read and try again.", wrong); said.focus(); return; }
    const now = benchloreProgress.load();
    now.safety = benchloreProgress.today();
    said.textContent = benchloreProgress.save(now) ? say("All right. The rest of the first weeks is open.") : say("All right. This browser keeps nothing, so the pages open only until it is closed.");
    byID("go-on").hidden = false;
    byID("go-on").querySelector("a").focus();
  });
})();
