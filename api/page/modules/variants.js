// Several weeks side by side, each with a name.

import { button, h } from "./dom.js";
import { shortOf } from "./ledger.js";
import { strip } from "./strip.js";
import { format, t } from "./words.js";

const MOST = 6;

function figures(plan) {
  const sessions = plan.sessions;
  const minutes = sessions.reduce((sum, each) => sum + (Date.parse(each.end) - Date.parse(each.start)) / 60_000, 0);
  const goals = plan.ledger.filter((row) => row.aim !== null);
  return [
    ["variants.sessions", sessions.length],
    ["variants.minutes", minutes],
    ["variants.sets", sessions.flatMap((each) => each.entries).filter((entry) => entry.role !== "activation").reduce((sum, entry) => sum + entry.sets, 0)],
    ["variants.reached", t("variants.of", { n: goals.filter((row) => !shortOf(row)).length, all: goals.length })],
    ["variants.wishes", plan.tiers[0]?.value ?? 0],
  ];
}

export function variants(store, acts) {
  const { variants: kept, plan, brief } = store.state;
  const shown = plan?.plan?.sessions.length ? plan : null;
  const name = h("input", { type: "text", id: "variant-name", maxlength: 60, value: t("variants.default", { n: kept.length + 1 }) });
  const keep = (event) => {
    event.preventDefault();
    store.set({ variants: [...kept, { name: name.value || t("variants.default", { n: kept.length + 1 }), brief, plan: shown }].slice(-MOST) });
  };
  const rename = (i, text) => store.set({ variants: kept.map((each, k) => (k === i ? { ...each, name: text } : each)) });
  const show = (each) => { store.edit(each.brief); acts.show(each.brief, each.plan, plan); };
  return h("section", { class: "variants noprint", "aria-labelledby": "variants-title" },
    h("h2", { id: "variants-title", class: kept.length ? null : "unseen" }, t("variants.title")),
    kept.length ? h("div", { class: "wide", tabindex: 0, role: "region", "aria-label": t("variants.table") }, h("table", {},
      h("thead", {}, h("tr", {}, h("td", {}), kept.map((each, i) => h("th", { scope: "col" }, h("input", { type: "text", "aria-label": t("variants.name"), value: each.name, id: `variant-${i}`, maxlength: 60, onchange: (event) => rename(i, event.target.value) }))))),
      h("tbody", {}, h("tr", {}, h("th", { scope: "row" }, t("variants.week")), kept.map((each) => h("td", {}, strip(each.plan.plan)))), figures(kept[0].plan.plan).map(([key], row) => h("tr", {}, h("th", { scope: "row" }, t(key)), kept.map((each) => { const value = figures(each.plan.plan)[row][1]; return h("td", { class: "number" }, typeof value === "number" ? format(value) : value); }))),
        h("tr", {}, h("td", {}), kept.map((each, i) => h("td", { class: "row" }, button(t("variants.show"), () => show(each), { id: `variant-show-${i}`, "aria-label": t("variants.show.of", { name: each.name }) }), button(t("variants.remove"), () => store.set({ variants: kept.filter((other) => other !== each) }), { class: "quiet", "aria-label": t("variants.remove.of", { name: each.name }) }))))))) : null,
    shown && !store.stale ? h("form", { class: "row", onsubmit: keep }, h("label", {}, t("variants.keep.as"), name), h("button", { type: "submit", id: "variant-keep" }, t("variants.keep"))) : null);
}
