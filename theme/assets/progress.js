"use strict";
/* What a learner has done stays in this browser; a file takes it to another. */
const benchloreProgress = (() => {
  const key = "benchlore-practice " + document.body.dataset.workshop;
  let held = null; // where the browser keeps nothing
  const today = () => { const d = new Date(); return new Date(d.getTime() - d.getTimezoneOffset() * 60000).toISOString().slice(0, 10); };
  function load() {
    let text = null;
    try { text = localStorage.getItem(key); } catch { /* not allowed here */ }
    return (text && benchloreSchedule.read(text)) || held || benchloreSchedule.fresh(document.body.dataset.workshop);
  }
  // save reports whether the browser keeps it.
  function save(progress) {
    held = progress;
    try { localStorage.setItem(key, JSON.stringify(progress)); return true; } catch { return false; }
  }
  return { load, save, today };
})();
