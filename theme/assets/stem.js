"use strict";
/* The Snowball English stemmer (Porter 2), as its authors describe it, so that
   the page and the command line cut words alike. */
const benchloreStem = (() => {
  const vowel = (c) => "aeiouy".includes(c) && c !== "";
  const fixed = { skis: "ski", skies: "sky", dying: "die", lying: "lie", tying: "tie", idly: "idl", gently: "gentl",
    ugly: "ugli", early: "earli", only: "onli", singly: "singl", sky: "sky", news: "news", howe: "howe", atlas: "atlas",
    cosmos: "cosmos", bias: "bias", andes: "andes" };
  const kept = ["inning", "outing", "canning", "herring", "earring", "proceed", "exceed", "succeed"];
  const doubles = ["bb", "dd", "ff", "gg", "mm", "nn", "pp", "rr", "tt"];
  const step2 = [["ational", "ate"], ["ization", "ize"], ["fulness", "ful"], ["ousness", "ous"], ["iveness", "ive"],
    ["tional", "tion"], ["biliti", "ble"], ["lessli", "less"], ["entli", "ent"], ["ation", "ate"], ["alism", "al"],
    ["aliti", "al"], ["ousli", "ous"], ["iviti", "ive"], ["fulli", "ful"], ["enci", "ence"], ["anci", "ance"],
    ["abli", "able"], ["izer", "ize"], ["ator", "ate"], ["alli", "al"], ["bli", "ble"], ["ogi", "og"], ["li", ""]];
  const step3 = [["ational", "ate"], ["tional", "tion"], ["alize", "al"], ["icate", "ic"], ["iciti", "ic"],
    ["ative", ""], ["ical", "ic"], ["ness", ""], ["ful", ""]];
  const step4 = ["ement", "ance", "ence", "able", "ible", "ment", "ant", "ent", "ism", "ate", "iti", "ous", "ive", "ize",
    "ion", "al", "er", "ic"];

  function region(w, from) {
    for (let i = from + 1; i < w.length; i++) {
      if (vowel(w[i - 1]) && !vowel(w[i])) return i + 1;
    }
    return w.length;
  }
  function shortEnd(w) {
    const n = w.length;
    if (n === 2) return vowel(w[0]) && !vowel(w[1]);
    if (n < 3) return false;
    return !vowel(w[n - 3]) && vowel(w[n - 2]) && !vowel(w[n - 1]) && !"wxY".includes(w[n - 1]);
  }
  const hasVowel = (s) => [...s].some(vowel);

  return (word) => {
    if (word.length < 3 || word.length > 40) return word;
    if (Object.hasOwn(fixed, word)) return fixed[word];
    let w = "";
    for (let i = 0; i < word.length; i++) {
      const c = word[i];
      w += c === "y" && (i === 0 || vowel(w[i - 1])) ? "Y" : c;
    }
    let r1 = region(w, 0);
    for (const head of ["gener", "commun", "arsen"]) if (w.startsWith(head)) r1 = head.length;
    const r2 = region(w, r1);
    // 1a
    if (w.endsWith("sses")) w = w.slice(0, -2);
    else if (w.endsWith("ied") || w.endsWith("ies")) w = w.slice(0, w.length > 4 ? -2 : -1);
    else if (w.endsWith("s") && !w.endsWith("us") && !w.endsWith("ss") && hasVowel(w.slice(0, -2))) w = w.slice(0, -1);
    if (kept.includes(w)) return w;
    // 1b
    if (w.endsWith("eedly")) { if (w.length - 5 >= r1) w = w.slice(0, -3); }
    else if (w.endsWith("eed")) { if (w.length - 3 >= r1) w = w.slice(0, -1); }
    else {
      for (const end of ["ingly", "edly", "ing", "ed"]) {
        if (!w.endsWith(end)) continue;
        const head = w.slice(0, -end.length);
        if (hasVowel(head)) {
          w = head;
          if (/(?:at|bl|iz)$/.test(w)) w += "e";
          else if (doubles.includes(w.slice(-2))) w = w.slice(0, -1);
          else if (r1 >= w.length && shortEnd(w)) w += "e";
        }
        break;
      }
    }
    // 1c
    if (w.length > 2 && /[yY]$/.test(w) && !vowel(w[w.length - 2])) w = w.slice(0, -1) + "i";
    // 2
    for (const [end, to] of step2) {
      if (!w.endsWith(end)) continue;
      const at = w.length - end.length;
      if (at >= r1) {
        if (end === "ogi") { if (w[at - 1] === "l") w = w.slice(0, -1); }
        else if (end === "li") { if (at > 0 && "cdeghkmnrt".includes(w[at - 1])) w = w.slice(0, -2); }
        else w = w.slice(0, at) + to;
      }
      break;
    }
    // 3
    for (const [end, to] of step3) {
      if (!w.endsWith(end)) continue;
      const at = w.length - end.length;
      if (at >= r1 && (end !== "ative" || at >= r2)) w = w.slice(0, at) + to;
      break;
    }
    // 4
    for (const end of step4) {
      if (!w.endsWith(end)) continue;
      const at = w.length - end.length;
      if (at >= r2 && (end !== "ion" || at > 0 && "st".includes(w[at - 1]))) w = w.slice(0, at);
      break;
    }
    // 5
    if (w.endsWith("e")) {
      const at = w.length - 1;
      if (at >= r2 || at >= r1 && !shortEnd(w.slice(0, -1))) w = w.slice(0, -1);
    } else if (w.endsWith("ll") && w.length - 1 >= r2) w = w.slice(0, -1);
    return w.replaceAll("Y", "y");
  };
})();
