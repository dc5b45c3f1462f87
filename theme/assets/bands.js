"use strict";
/* A resistor drawn with the bands that words name: the colours of IEC 60062, which its
   words say beside it. */
globalThis.benchloreBands = (() => {
  const paint = { black: "#111", brown: "#6b3a1a", red: "#c4161c", orange: "#f08019", yellow: "#f2d21f", green: "#1f8a3b", blue: "#1d4fa0", violet: "#6f3aa0",
    grey: "#8a8a8a", white: "#fafafa", gold: "#b8923a", silver: "#b9bdc2", pink: "#f0a0b8" };
  const NS = "http://www.w3.org/2000/svg";
  const shape = (tag, attributes) => { const e = document.createElementNS(NS, tag); for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v); return e; };
  /* Three to six words that are all colours, or nothing. */
  const read = (text) => { const list = text.toLowerCase().split(/[\s,-]+/).filter(Boolean).map(benchloreQuantity.colour); return list.length >= 3 && list.length <= 6 && list.every((w) => paint[w]) ? list : null; };
  return (text) => {
    const list = read(text);
    if (!list) return null;
    const svg = shape("svg", { class: "bands", viewBox: "0 0 200 44", width: 200, height: 44, role: "img", "aria-label": list.join(", ") });
    svg.append(shape("path", { d: "M0 22H200", stroke: "#888", "stroke-width": 3 }), shape("rect", { x: 24, y: 6, width: 152, height: 32, rx: 12, fill: "#e8d9b4", stroke: "#555" }));
    const gap = 104 / (list.length - 1);
    list.forEach((c, i) => svg.append(shape("rect", { x: i === list.length - 1 ? 146 : 42 + i * gap * 0.86, y: 6, width: 11, height: 32, fill: paint[c], stroke: "#555", "stroke-width": 0.6 })));
    return svg;
  };
})();
