// One week of a block, to be read; and a button that makes it the week of the page.

import { line, placeName } from "./days.js";
import { button, h } from "./dom.js";
import { titleOf } from "./blocktable.js";
import { WeekClock, clockOf, dayAndClock } from "./time.js";
import { sessionName, told } from "./told.js";
import { t } from "./words.js";

export const momentOf = (plan, moment) => dayAndClock(new WeekClock(plan.brief.week).hours(moment));

export function weekOf(block, week, { open, close }) {
  const { plan } = week;
  const clock = new WeekClock(plan.brief.week);
  return h("section", { class: "block-week", "aria-labelledby": "block-week-title" },
    h("h3", { id: "block-week-title" }, titleOf(week)),
    week.outlook ? h("p", { class: "small" }, t("block.outlook.what")) : null,
    week.left_out?.length ? h("p", { class: "small" }, t("block.left-out"), " ", told([...new Set(plan.sessions.flatMap((session) => session.entries).filter((entry) => week.left_out.includes(entry.exercise)).map((entry) => entry.name))].join(", "))) : null,
    h("div", { class: "sessions" }, plan.sessions.map((session) => h("article", { class: "session" },
      h("header", {}, h("h4", {}, sessionName(plan.brief, session)), h("p", {}, `${momentOf(plan, session.start)} – ${clockOf(clock.hours(session.end) % 24)} · ${placeName(plan.brief, session.place)}`)),
      h("ol", {}, session.entries.map((entry) => (week.left_out?.includes(entry.exercise) ? h("li", { class: "entry left-out" }, h("s", {}, told(entry.name)), " ", h("em", {}, t("block.left-out.short"))) : line(entry))))))),
    h("div", { class: "row" }, plan.sessions.length ? button(t("block.open"), open, { id: "block-open", class: "act" }) : null, button(t("block.close"), close, { class: "quiet" })));
}
