"use strict";
/* The bar at the top: a slash goes to the search box, Escape and a click elsewhere close
   what is folded out. */
(() => {
  /* It runs as soon as the bar is there, so that lists are folded before they are seen. */
  const folds = [...document.querySelectorAll(".top details")];
  const typing = (e) => e.target.closest("input, textarea, select, [contenteditable]") !== null;
  addEventListener("keydown", (e) => {
    if (e.key === "/" && !typing(e) && !e.ctrlKey && !e.metaKey && !e.altKey) {
      const box = document.getElementById("q") ?? document.getElementById("bar-find");
      if (box) { e.preventDefault(); box.focus(); }
    }
    const open = folds.find((d) => d.open);
    if (e.key === "Escape" && open) { open.open = false; open.querySelector("summary").focus(); }
  });
  // A sheet on the wall says how old it is.
  const printed = () => document.getElementById("printed");
  addEventListener("beforeprint", () => {
    const at = printed();
    if (!at) return;
    at.hidden = false;
    at.querySelector("span").textContent = new Date().toLocaleDateString("sv-SE"); // writes as ISO 8601 does
  });
  addEventListener("afterprint", () => { const at = printed(); if (at) at.hidden = true; });
  // Long lists are folded on a phone; what an address points at is unfolded.
  const aim = () => { const at = document.querySelector(":target"), fold = at?.closest("details.list"); if (fold) { fold.open = true; at.scrollIntoView(); } };
  if (innerWidth < 736) {
    const folding = new MutationObserver((records) => {
      for (const r of records) for (const n of r.addedNodes) if (n instanceof HTMLDetailsElement && n.matches(".list")) n.open = false;
    });
    folding.observe(document.body, { childList: true, subtree: true });
    addEventListener("DOMContentLoaded", () => folding.disconnect());
  }
  addEventListener("DOMContentLoaded", aim);
  addEventListener("hashchange", aim);
  addEventListener("click", (e) => { for (const d of folds) if (d.open && !d.contains(e.target)) d.open = false; });
})();
