"use strict";
/* Drills without end: a text as it stands on a part, made here and judged by the
   quantity tables. The command line makes them the same way. */
const benchloreDrill = (() => {
  const colours = ["black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white"];
  // make gives a question; below(n) is a whole number from 0 to n-1.
  function make(drill, series, below) {
    const two = series[below(series.length)];
    const pick = (list) => list[below(list.length)];
    if (drill === "markings-capacitors") {
      const zeros = below(5);
      return { text: "" + two + zeros + pick(["", "J", "K", "M"]), kind: "capacitance" };
    }
    if (drill === "markings-resistors") {
      const sort = below(3);
      if (sort === 0) return { text: "" + two + below(6), kind: "resistance" };
      if (sort === 1) return { text: String(1 + below(96)).padStart(2, "0") + pick(["X", "A", "B", "C", "D"]), kind: "resistance" };
      return { text: [colours[Math.floor(two / 10)], colours[two % 10], colours[below(6)], "gold"].join(" "), kind: "resistance" };
    }
    const letter = pick(["R", "k", "M", "p", "n", "u"]), kind = "pnu".includes(letter) ? "capacitance" : "resistance";
    const tens = Math.floor(two / 10), ones = two % 10, form = below(3);
    return { text: form === 0 ? "" + tens + letter + ones : form === 1 ? "" + tens + ones + letter : "" + tens + ones + "0" + letter, kind };
  }
  const answer = (item) => (benchloreQuantity.read(item.text).answer ?? []).find((r) => r.kind === item.kind)?.value ?? null;
  const right = (item, text) => { const got = benchloreQuantity.read(text).answer?.[0]; return got !== undefined && got.kind === item.kind && got.value === answer(item); };
  return { make, answer, right };
})();
