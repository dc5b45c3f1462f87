"use strict";
/* The source of a case: what is typed is kept within two seconds, in the file where
   it can be read as a case and aside where it cannot yet. */
(() => {
  const form = document.getElementById("source"), text = document.getElementById("text"), saved = document.getElementById("saved"), problems = document.getElementById("problems");
  let timer = 0, busy = false, again = false, first = 0;
  const send = async () => {
    if (busy) { again = true; return; }
    busy = true;
    first = 0;
    const sent = text.value;
    try {
      const body = new URLSearchParams({ version: form.elements.version.value, text: sent });
      const r = await fetch(form.action, { method: "POST", body, headers: { Accept: "application/json", "X-Benchlore": "1" } });
      const type = r.headers.get("Content-Type") ?? "";
      const a = type.includes("json") ? await r.json() : { problem: await r.text() };
      if (r.ok) {
        form.elements.version.value = a.version;
        saved.textContent = say("Saved, %s.", a.saved);
        problems.replaceChildren();
        for (const p of a.checked.problems) {
          const line = document.createElement("p");
          line.textContent = say("Line %s:", p.line) + " " + p.severity + ": " + p.message + (p.suggestion ? say("; did you mean %s?", p.suggestion) : "");
          problems.append(line);
        }
      } else {
        saved.textContent = (a.line ? say("Line %s:", a.line) + " " : "") + a.problem;
        if (r.status === 409) {
          problems.replaceChildren();
          const h = document.createElement("h2"), pre = document.createElement("pre"), b = document.createElement("button");
          h.textContent = say("In the file now");
          pre.textContent = a.theirs;
          pre.tabIndex = 0;
          b.type = "button";
          b.textContent = say("Put mine in its place");
          b.addEventListener("click", () => { form.elements.version.value = a.version; send(); });
          problems.append(h, b, pre);
        }
      }
    } catch {
      saved.textContent = say("Not kept: the server does not answer. What you typed is still here.");
      timer = setTimeout(send, 2000);
    }
    busy = false;
    if (again) { again = false; send(); }
  };
  text.addEventListener("input", () => {
    saved.textContent = "…";
    first ||= Date.now();
    clearTimeout(timer);
    timer = setTimeout(send, Math.max(0, Math.min(500, 1500 - (Date.now() - first))));
  });
  form.addEventListener("submit", (e) => { e.preventDefault(); send(); });
})();
