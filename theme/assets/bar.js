"use strict";
/* The bar at the top: a slash goes to the search box, Escape and a click elsewhere close
   what is folded out. */
(() => {
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
  const printed = document.getElementById("printed");
  addEventListener("beforeprint", () => {
    if (!printed) return;
    printed.hidden = false;
    printed.querySelector("span").textContent = new Date().toLocaleDateString("sv-SE"); // writes as ISO 8601 does
  });
  addEventListener("afterprint", () => { if (printed) printed.hidden = true; });
  // Long lists are folded on a phone; what an address points at is unfolded.
  const lists = [...document.querySelectorAll("details.list")];
  const aim = () => { const at = document.querySelector(":target"), fold = at?.closest("details.list"); if (fold) { fold.open = true; at.scrollIntoView(); } };
  if (innerWidth < 736) for (const d of lists) d.open = false;
  aim();
  addEventListener("hashchange", aim);
  addEventListener("click", (e) => { for (const d of folds) if (d.open && !d.contains(e.target)) d.open = false; });
})();
