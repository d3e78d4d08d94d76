// The day list: every session in order, to be read from top to bottom; also what is printed.

import { button, h } from "./dom.js";
import { WeekClock, clockOf, dayName } from "./time.js";
import { sessionName, told } from "./told.js";
import { t, word } from "./words.js";

export function placeName(brief, place) {
  return brief.places[place]?.name ?? word("place", place ?? "");
}

export function prescription(entry) {
  return t(entry.load_kg === null ? "entry" : "entry.loaded", { sets: entry.sets, reps: entry.reps, load: entry.load_kg });
}

export function line(entry) {
  return h("li", { class: `entry ${entry.role}` },
    h("span", { class: "name" }, told(entry.name),
      entry.role === "main" ? null : h("em", {}, t(`role.${entry.role}`)),
      entry.per_side ? h("em", {}, t("per-side")) : null,
      entry.pair === null ? null : h("em", {}, t("pair", { n: entry.pair + 1 }))),
    h("span", { class: "dose" }, prescription(entry)),
    h("span", { class: "rest" }, t("entry.rest", { reserve: entry.reps_in_reserve, seconds: entry.rest_seconds })));
}

export function session(plan, found, number, onCard = null) {
  const clock = new WeekClock(plan.brief.week);
  const from = clock.hours(found.start);
  const to = clock.hours(found.end);
  return h("article", { class: `session ${found.state}`, id: `session-${number}`, tabindex: -1, "data-kind": found.kind },
    h("header", {},
      h("h4", {}, sessionName(plan.brief, found)),
      h("p", {}, h("time", { datetime: found.start }, `${clockOf(from % 24)} – ${clockOf(to % 24)}`), ` · ${placeName(plan.brief, found.place)}`,
        found.state === "planned" ? null : h("em", {}, t(`state.${found.state}`)))),
    h("ol", {}, found.entries.map(line)),
    onCard ? button(t("card.open"), () => onCard(found), { class: "quiet noprint", "aria-label": t("card.of", { name: found.name, day: dayName(Math.floor(from / 24) % 7) }) }) : null);
}

export function dayList(plan, onCard) {
  const clock = new WeekClock(plan.brief.week);
  const byDay = Array.from({ length: 7 }, () => []);
  plan.sessions.forEach((found, number) => byDay[((Math.floor(clock.hours(found.start) / 24) % 7) + 7) % 7].push([found, number]));
  return h("section", { class: "days", "aria-labelledby": "days-title" },
    h("h2", { id: "days-title" }, t("days.title")),
    byDay.map((sessions, day) => h("section", { class: sessions.length ? "day" : "day free" },
      h("h3", {}, plan.brief.week.repeats ? dayName(day) : clock.date(day)),
      sessions.length ? sessions.map(([found, number]) => session(plan, found, number, onCard)) : h("p", {}, t("days.free")))),
    howToRead(plan.sessions));
}

/** What is to be known of loads and sets before training from them. */
export function howToRead(sessions) {
  const entries = sessions.flatMap((each) => each.entries);
  const said = { "read.no-load": entries.some((each) => each.load_kg === null), "read.one-of-two": entries.some((each) => each.one_of_two && each.load_kg !== null), "read.build-up": entries.some((each) => each.zone === "heavy") };
  return Object.entries(said).filter(([, so]) => so).map(([key]) => h("p", { class: "small" }, t(key)));
}
