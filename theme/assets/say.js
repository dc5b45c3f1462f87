"use strict";
/* Texts of pages in the notebook's language, by their English; what stands before
   this script fills benchloreTexts where that language is not English. %s and %2$s
   are the arguments. */
const say = (english, ...given) => {
  let n = 0;
  const text = globalThis.benchloreTexts?.[english] ?? english;
  return given.length === 0 ? text : text.replace(/%(?:(\d)\$)?s/g, (_, at) => String(given[at ? at - 1 : n++]));
};
