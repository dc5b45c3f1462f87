"use strict";
/* A page that waits: it asks every two seconds, and shows itself anew once what it waits
   for is there. Without this script its link does the same. */
(() => {
  const until = document.currentScript.dataset.until;
  const look = async () => {
    try {
      const r = await fetch("/write/ready");
      if (r.ok && (await r.json())[until]) { location.reload(); return; }
    } catch { /* the server may be starting again */ }
    setTimeout(look, 2000);
  };
  setTimeout(look, until === "pages" ? 300 : 2000);
})();
