// Other weeks nearly as good, and what each trades: a question, and its answer.

import { button, h } from "./dom.js";
import { differences } from "./sentences.js";
import { strip } from "./strip.js";
import { t } from "./words.js";

const LOSSES = [0, 10, 25];

export function others(ask) {
  const count = h("input", { type: "number", id: "others-count", min: 1, max: 10, step: 1, value: 3 });
  const apart = h("input", { type: "number", id: "others-apart", min: 1, max: 20, step: 1, value: 2 });
  const loss = h("select", { id: "others-loss" }, LOSSES.map((each) => h("option", { value: each, selected: each === 10 }, t("others.percent", { n: each }))));
  const submit = (event) => {
    event.preventDefault();
    ask("alternatives", { count: Number(count.value), apart: Number(apart.value), loss_percent: Number(loss.value) }, null);
  };
  return h("section", { class: "others", "aria-labelledby": "others-title" },
    h("h2", { id: "others-title" }, t("others.title")), h("p", {}, t("others.what")),
    h("form", { class: "row", onsubmit: submit }, h("label", {}, t("others.count"), count), h("label", {}, t("others.apart"), apart), h("label", {}, t("others.loss"), loss),
      h("button", { type: "submit", id: "others-ask" }, t("others.ask"))));
}

/** Each other week as a strip under the best one, with its differences and a button that takes it. */
export function otherWeeks(found, acts) {
  const { alternatives } = found;
  return [
    alternatives.length ? null : h("p", { class: "verdict" }, t(found.complete ? "others.none" : "others.unknown")),
    alternatives.length ? h("figure", { class: "week-strip" }, h("figcaption", {}, t("others.best")), strip(found.best)) : null,
    h("ol", { class: "weeks" }, alternatives.map((each, i) => h("li", {},
      h("figure", { class: "week-strip" }, h("figcaption", {}, t("others.nth", { n: i + 1 }), " ", h("span", { class: "small" }, t("others.moves", { n: each.moves[0] }))), strip(each.plan, found.best)),
      h("details", { id: `other-${i}`, open: i === 0 }, h("summary", {}, t("others.trades")), differences(each.difference)),
      button(t("others.take"), () => acts.take(each.plan), { class: "act", id: `other-take-${i}`, "aria-label": t("others.take.of", { n: i + 1 }) })))),
    alternatives.length ? h("p", { class: "small" }, t(found.complete ? "others.complete" : found.truncated ? "truncated" : "others.more")) : null,
  ];
}
