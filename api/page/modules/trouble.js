// Errors: what is wrong, where, what to try; a fault of the brief leads to its field.

import { key } from "./api.js";
import { button, h } from "./dom.js";
import { told, toldIn } from "./told.js";
import { parts } from "./documents.js";
import { t, word } from "./words.js";

export const fieldId = (pointer) => `at${pointer.replace(/^#/, "")}`;

/** Where a fault is, in words: `weekly sets › lats`. */
const placeOf = (pointer) => parts(pointer).map((part) => (/^\d+$/.test(part) ? Number(part) + 1 : word("field", part))).join(" › ");

/** A problem of the server in its language; what the page found out by itself (no status) is in the page's. */
const said = (found, text) => (found.status ? told(text) : text);

export function trouble(found, { again, dismiss }) {
  const locked = found.status === 401;
  const secret = h("input", { type: "password", id: "key", autocomplete: "off" });
  const unlock = (event) => {
    event.preventDefault();
    key.set(secret.value);
    location.reload();
  };
  return h("section", { class: "trouble", role: "alert", "aria-labelledby": "trouble-title", tabindex: "-1" },
    h("h2", { id: "trouble-title" }, found.offline ? t("offline.title") : said(found, found.title)),
    h("p", {}, found.offline ? t("offline.what") : said(found, found.faults.length ? found.advice : `${found.detail} ${found.advice}`)),
    found.faults.length ? h("ul", {}, found.faults.map((fault) => h("li", {},
      fault.pointer ? h("a", { href: `#${encodeURIComponent(fieldId(fault.pointer))}`, onclick: (event) => { event.preventDefault(); lead(fault.pointer); } }, placeOf(fault.pointer) || t("brief")) : told(fault.place ?? ""), ": ", told(`${fault.problem}. ${fault.advice}`)))) : null,
    locked ? h("form", { onsubmit: unlock }, h("label", {}, t("key.label"), secret), h("button", { type: "submit" }, t("key.use"))) : null,
    h("div", { class: "row" }, again ? button(t("again"), again, { class: "act", id: "again" }) : null, button(t("answer.dismiss"), dismiss, { class: "quiet" })));
}

/** Bring the field of a pointer before the reader, or the nearest part around it. */
export function lead(pointer) {
  for (let path = pointer.replace(/^#/, ""); path; path = path.replace(/\/[^/]*$/, "")) {
    const node = document.getElementById(fieldId(path));
    if (!node) continue;
    for (let each = node.parentElement; each; each = each.parentElement) if (each.tagName === "DETAILS") each.open = true;
    node.scrollIntoView({ block: "center" });
    node.focus();
    return;
  }
}

/** Mark the fields that the faults name, each described by its fault. */
export function markFaults(found) {
  for (const node of document.querySelectorAll("[aria-invalid]")) {
    node.removeAttribute("aria-invalid");
    node.removeAttribute("aria-describedby");
  }
  // What a form says of itself has no field of the brief that it belongs to, and stays.
  for (const node of document.querySelectorAll(".fault[id], .of-fault")) node.remove();
  for (const fault of found?.faults ?? []) {
    if (!fault.pointer) continue;
    let path = fault.pointer.replace(/^#/, "");
    let node = null;
    while (path && !(node = document.getElementById(fieldId(path)))) path = path.replace(/\/[^/]*$/, "");
    if (!node) continue;
    const id = `fault-${node.id}`;
    node.setAttribute("aria-invalid", "true");
    node.setAttribute("aria-describedby", id);
    const note = toldIn("p", `${fault.problem}. ${fault.advice}`, { class: "fault", id });
    if (node.tagName === "TR") node.before(h("tr", { class: "of-fault" }, h("td", { colspan: node.cells.length }, note)));
    else if (node.matches("fieldset, details")) node.prepend(note);
    else node.after(note);
  }
}
