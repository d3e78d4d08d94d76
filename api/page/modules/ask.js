// "Why not here?": a demand made up by pointing or in a small form, and the answers to all questions.

import { button, h } from "./dom.js";
import { otherWeeks } from "./others.js";
import { differences, explained, table } from "./sentences.js";
import { told, toldIn } from "./told.js";
import { DAYS, dayName } from "./time.js";
import { kindName } from "./weekmodel.js";
import { t, word } from "./words.js";

/** The form of a demand; `wanted` is what was pointed at. */
export function demandForm(brief, wanted, onAsk) {
  const kinds = h("select", { id: "demand-kind" }, Object.keys(brief.kinds).map((kind) => h("option", { value: kind, selected: kind === wanted?.kind }, kindName(brief, kind))));
  const days = h("select", { id: "demand-day" }, DAYS.map((day, i) => h("option", { value: day, selected: day === wanted?.day }, dayName(i))));
  const start = h("input", { type: "time", id: "demand-start", step: 300, value: wanted?.start ?? "" });
  const submit = (event) => {
    event.preventDefault();
    const demand = { kind: kinds.value, day: days.value, ...(start.value ? { start: start.value } : {}) };
    onAsk("why-not", { demand }, null);
  };
  return h("form", { class: "demand noprint", onsubmit: submit, "aria-labelledby": "demand-title" },
    h("h3", { id: "demand-title" }, t("demand.title")),
    h("label", {}, t("demand.kind"), kinds), h("label", {}, t("demand.day"), days), h("label", {}, t("demand.start"), start),
    h("button", { type: "submit", class: "act", id: "demand-ask" }, t("demand.ask")));
}

export function answer(state, acts, dismiss) {
  const { question, about, answer: found, asking } = state.answer;
  const body = asking ? [h("p", { class: "waiting" }, t("asking"))] : bodies[question]?.(found, acts) ?? [];
  return h("section", { class: "answer", "aria-labelledby": "answer-title", tabindex: -1, id: "answer" },
    h("h2", { id: "answer-title" }, t(`answer.${question}`, { about: about ?? "" })), body,
    asking ? null : button(t("answer.dismiss"), dismiss, { class: "quiet", id: "answer-dismiss" }));
}

const bodies = {
  why: (found, acts) => [
    toldIn("p", found.sentence),
    h("p", { class: "verdict" }, t(found.can_be_met === null ? "why.unknown" : found.can_be_met ? "why.can" : "why.cannot")),
    found.gives_way?.length ? [h("h3", {}, t("why.gives-way")), h("ul", { class: "moves" }, found.gives_way.map((each) => h("li", { class: "worse" }, told(each.sentence), " ", toldIn("b", each.after))))] : null,
    prices(found.prices ?? []),
    found.can_be_met ? button(t("why.demand"), () => acts.apply({ musts: [...(acts.store.state.brief.musts ?? []), found.switch] }), { class: "act" }) : explained(found.explanation, (patch) => acts.apply({ ...patch, musts: [...(acts.store.state.brief.musts ?? []), found.switch] })),
  ],
  "why-not": (found, acts) => [
    toldIn("p", found.sentence),
    h("p", { class: "verdict" }, t(`possibility.${found.possibility}`)),
    found.difference ? differences(found.difference) : null,
    found.plan && found.possibility !== "it is so already" ? button(t("why-not.take"), () => acts.pin(found.demand), { class: "act" }) : null,
    found.reasons ? explained(found.reasons, (patch) => acts.pin(found.demand, patch)) : null,
  ],
  "what-if": (found, acts) => found.variants.flatMap((variant) => [
    variant.plan.sessions.length ? differences(variant.difference) : h("p", {}, t("status.impossible")),
    variant.reasons ? explained(variant.reasons, (patch) => acts.apply(patch)) : null,
    variant.plan.sessions.length ? button(t("what-if.take"), () => acts.apply(variant.patch), { class: "act" }) : null,
  ]),
  alternatives: otherWeeks,
  replan: (found, acts) => [
    toldIn("p", found.sentence),
    found.moves.length ? h("ul", { class: "moves" }, found.moves.map((move) => h("li", {}, told(move.sentence), move.causes.length ? toldIn("span", move.causes.map((cause) => ` ${cause.sentence}`), { class: "small" }) : null))) : null,
    found.reasons ? explained(found.reasons, (patch) => acts.replan({ ...acts.lastReplan, changes: patch })) : null,
  ],
};

function prices(found) {
  const changed = found.filter((price) => price.before !== price.after);
  return changed.length ? table(t("why.prices"), changed.map((price) => [word("tier", price.name), price.before, price.after])) : null;
}
