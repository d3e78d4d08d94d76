// One session on a card of a phone's size, for the gym floor: large, with a tick for every exercise.

import { button, h } from "./dom.js";
import { howToRead, placeName, prescription } from "./days.js";
import { WeekClock, dayAndClock } from "./time.js";
import { sessionName, told } from "./told.js";
import { t } from "./words.js";

export function card(plan, session) {
  const clock = new WeekClock(plan.brief.week);
  const dialog = h("dialog", { class: "card", "aria-labelledby": "card-title", onclose: () => dialog.remove() },
    h("header", {}, h("h2", { id: "card-title" }, sessionName(plan.brief, session)), h("p", {}, `${dayAndClock(clock.hours(session.start))} · ${placeName(plan.brief, session.place)}`)),
    h("ol", {}, session.entries.map((entry) => h("li", {}, h("label", {}, h("input", { type: "checkbox" }),
      h("span", {}, h("b", {}, told(entry.name)), entry.per_side ? h("em", {}, t("per-side")) : null, h("span", { class: "dose" }, prescription(entry)), h("span", { class: "rest" }, t("entry.rest", { reserve: entry.reps_in_reserve, seconds: entry.rest_seconds }))))))),
    howToRead([session]),
    h("p", { class: "small" }, told(plan.cautions[0]?.text ?? "")),
    h("div", { class: "row noprint" }, button(t("card.print"), () => { document.body.classList.add("card-only"); window.print(); document.body.classList.remove("card-only"); }), button(t("card.close"), () => dialog.close(), { class: "act" })));
  document.body.append(dialog);
  dialog.showModal();
}
