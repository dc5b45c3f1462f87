"use strict";
/* The page of a drill. */
(() => {
  const byID = (id) => document.getElementById(id), box = byID("drill");
  if (!box) return;
  const form = byID("drill-form"), input = byID("drill-answer"), said = byID("drill-said");
  let item = null, asked = 0, right = 0;
  function ask() {
    item = benchloreDrill.make(box.dataset.drill, benchloreQuantity.series("E24"), (n) => Math.floor(Math.random() * n));
    const drawn = benchloreBands(item.text);
    byID("drill-text").replaceChildren(...(drawn ? [drawn, " "] : []), item.text);
    byID("drill-kind").textContent = item.kind === "capacitance" ? say("as on a capacitor") : say("as on a resistor");
    input.value = "";
  }
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    asked++;
    const ok = benchloreDrill.right(item, input.value), value = benchloreDrill.answer(item);
    if (ok) right++;
    const m = document.createElement("span"), sign = document.createElement("span");
    m.className = "mark mark-" + (ok ? "good" : "bad");
    sign.textContent = ok ? "●" : "✕";
    sign.setAttribute("aria-hidden", "true");
    m.append(sign, " " + (ok ? say("right") : say("not so")));
    said.replaceChildren(m, " " + say("%s is %s.", item.text, value) + " " + say("%s of %s right so far.", right, asked));
    ask();
    input.focus();
  });
  box.hidden = false;
  ask();
})();
