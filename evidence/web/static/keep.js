// What was typed stays in this browser until it is stored: a reload, an error or a lost connection takes nothing.
"use strict";
(() => {
  const place = (form) => `steelyard:${location.pathname}#${form.dataset.keep}`;
  const fields = (form) =>
    [...form.elements].filter((e) => e.name && !["hidden", "submit", "button", "file", "password"].includes(e.type));
  const remember = (form) => {
    const kept = {};
    for (const e of fields(form)) {
      const value = e.type === "checkbox" || e.type === "radio" ? [e.value, e.checked] : e.value;
      (kept[e.name] ??= []).push(value);
    }
    try { localStorage.setItem(place(form), JSON.stringify(kept)); } catch { /* full or forbidden: the page works on */ }
  };
  const restore = (form) => {
    let kept;
    try { kept = JSON.parse(localStorage.getItem(place(form)) ?? "null"); } catch { kept = null; }
    if (!kept) return;
    let changed = false;
    for (const e of fields(form)) {
      const value = kept[e.name]?.shift();
      if (value === undefined) continue;
      if (Array.isArray(value)) { changed ||= e.checked !== value[1]; e.checked = value[1]; }
      else if (e.value !== value) { e.value = value; changed = true; }
    }
    if (changed) tell(form);
  };
  const tell = (form) => {
    const note = document.createElement("p");
    note.className = "hint";
    note.setAttribute("role", "status");
    note.textContent = "What you typed here before is back. ";
    const away = document.createElement("button");
    away.type = "button";
    away.className = "quiet";
    away.textContent = "Start afresh";
    away.addEventListener("click", () => { localStorage.removeItem(place(form)); location.reload(); });
    note.append(away);
    form.prepend(note);
  };
  const forms = () => document.querySelectorAll("form[data-keep]");
  // The page that says "stored" carries the address of the form it came from: what it kept is stored now.
  const stored = new URLSearchParams(location.search).get("kept");
  if (stored) for (const name of stored.split(",")) localStorage.removeItem(`steelyard:${name}`);
  for (const form of forms()) {
    if (!form.hasAttribute("data-failed")) restore(form); else remember(form);
    form.addEventListener("input", () => remember(form));
    form.addEventListener("change", () => remember(form));
  }
  document.body.addEventListener("htmx:sendError", (event) => {
    const status = document.querySelector("[data-offline]") ?? document.createElement("p");
    status.dataset.offline = "";
    status.className = "caution";
    status.setAttribute("role", "alert");
    status.textContent = "Steelyard does not answer. What you typed stays here; start it again and go on.";
    (event.detail.elt.closest("main") ?? document.body).prepend(status);
  });
})();
