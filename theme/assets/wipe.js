"use strict";
/* Two pictures of a case that are compared are laid over each other, one up to a line that
   is moved; without scripts they stand side by side. */
for (const pair of document.querySelectorAll("[data-wipe]")) {
  const [before, after] = pair.querySelectorAll("figure");
  const tools = document.createElement("p"), lay = document.createElement("button"), label = document.createElement("label");
  const line = document.createElement("input"), laid = document.createElement("figure"), caption = document.createElement("figcaption");
  tools.className = "tap";
  lay.type = "button";
  lay.textContent = say("Lay one over the other");
  lay.setAttribute("aria-pressed", "false");
  line.type = "range";
  line.value = "50";
  label.append(say("how far across") + " ", line);
  label.hidden = laid.hidden = true;
  tools.append(lay, label);
  pair.after(tools, laid);
  laid.className = "laid";
  const named = (f) => f.querySelector("img").alt;
  caption.textContent = say("Left of the line: %s. Right of it: %s.", named(before), named(after));
  const move = () => { laid.querySelector(".over").style.clipPath = "inset(0 0 0 " + line.value + "%)"; };
  line.addEventListener("input", move);
  lay.addEventListener("click", () => {
    const on = laid.hidden;
    if (on && laid.childElementCount === 0) {
      const under = before.querySelector(".picture").cloneNode(true), over = after.querySelector(".picture").cloneNode(true);
      over.classList.add("over");
      under.append(over);
      laid.append(under, caption);
      move();
    }
    lay.setAttribute("aria-pressed", String(on));
    pair.hidden = on;
    laid.hidden = label.hidden = !on;
  });
}
