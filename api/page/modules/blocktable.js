// The weeks of a block side by side, muscle by muscle: counted sets as columns, with hits and what was moved.

import { h, s } from "./dom.js";
import { WeekClock } from "./time.js";
import { told } from "./told.js";
import { format, t } from "./words.js";

const HIGH = 40;
const dated = new Intl.DateTimeFormat(undefined, { day: "numeric", month: "numeric", timeZone: "UTC" });
const mondayOf = (week) => dated.format(Date.parse(`${week.plan.brief.week.start}T00:00:00Z`));
export const titleOf = (week) => t(`block.week.${week.role}`, { n: week.number, date: new WeekClock(week.plan.brief.week).date(0) });

function column(muscle, scale, was) {
  const y = (sets) => HIGH - (sets / scale) * (HIGH - 3);
  const direct = Math.min(muscle.direct, muscle.counted);
  return s("svg", { class: "column", viewBox: `0 0 30 ${HIGH}`, preserveAspectRatio: "none", "aria-hidden": "true" },
    s("rect", { class: "direct", x: 5, y: y(direct), width: 20, height: HIGH - y(direct) }),
    s("rect", { class: "indirect", x: 5, y: y(muscle.counted), width: 20, height: y(direct) - y(muscle.counted), fill: "url(#hatch)" }),
    s("rect", { class: "outline", x: 5, y: y(muscle.counted), width: 20, height: HIGH - y(muscle.counted) }),
    muscle.aim === null ? null : s("path", { class: "aim", d: `M0 ${y(muscle.aim)}H30` }),
    was === null ? null : s("path", { class: "ghost", d: `M2 ${y(was)}H28` }));
}

const setsOf = (week) => week.plan.sessions.flatMap((each) => each.entries).filter((entry) => entry.role !== "activation").reduce((sum, entry) => sum + entry.sets, 0);
const minutesOf = (week) => week.plan.sessions.reduce((sum, each) => sum + (Date.parse(each.end) - Date.parse(each.start)) / 60_000, 0);

/** `before` is the block that was shown before: where a muscle got another number of sets in a week, that is said. */
export function weeksTable(block, before, chosen, choose) {
  const { weeks } = block;
  const earlier = new Map((before?.rows ?? []).map((row) => [row.target, row]));
  const asked = block.rows.filter((row) => row.weeks.some((each) => each.aim !== null));
  const cell = (week, ...parts) => h("td", { class: week.role }, parts);
  const about = [
    ["block.path", (week) => (week.path_percent === null ? "–" : format(week.path_percent))],
    ["block.reserve", (week) => format(week.reps_in_reserve)],
    ["block.sessions", (week) => format(week.plan.sessions.length)],
    ["block.minutes", (week) => format(minutesOf(week))],
    ["block.sets", (week) => format(setsOf(week))],
  ];
  const row = (target) => {
    const was = target.weeks.map((each, i) => { const found = earlier.get(target.target)?.weeks[i]?.counted ?? each.counted; return found === each.counted ? null : found; });
    const scale = Math.max(1, ...target.weeks.map((each, i) => Math.max(each.counted, each.aim ?? 0, was[i] ?? 0)));
    const distinct = target.distinct_asked === null ? t("block.exercises", { n: target.exercises.length }) : t("block.exercises.of", { n: target.exercises.length, asked: target.distinct_asked });
    return h("tr", { "data-target": target.target }, h("th", { scope: "row" }, told(target.name), " ", h("span", { class: "small" }, distinct)),
      target.weeks.map((each, i) => cell(weeks[i], column(each, scale, was[i]), h("b", {}, format(each.counted)),
        was[i] === null ? null : h("span", { class: "small was" }, t("block.was", { n: was[i] })),
        h("span", { class: "small" }, t("block.hits", { n: each.hits })),
        each.load_kg === null ? null : h("span", { class: "small" }, t("block.load", { tonnes: format(Math.round(each.load_kg / 100) / 10) })))));
  };
  return h("div", { class: "wide", tabindex: 0, role: "region", "aria-label": t("block.table") },
    h("table", { class: "side-by-side", vars: { "--n": weeks.length } },
      h("caption", {}, t("block.table.what")),
      h("thead", {}, h("tr", {}, h("td", { class: "small" }, t("block.choose")), weeks.map((week) => h("th", { scope: "col", class: week.role },
        h("button", { type: "button", id: `block-week-${week.number}`, class: "pick", "aria-pressed": String(week === chosen), onclick: () => choose(week.number), "aria-label": titleOf(week) },
          h("b", {}, String(week.number)), h("span", { class: "small" }, mondayOf(week)), h("span", { class: "small" }, week.role === "easy" ? t("block.role.easy") : week.outlook ? t("block.outlook") : week.number <= block.logs.length ? t("block.logged") : "")))))),
      h("tbody", { class: "about" }, about.map(([key, value]) => h("tr", {}, h("th", { scope: "row" }, t(key)), weeks.map((week) => cell(week, value(week)))))),
      h("tbody", { class: "muscles" }, asked.map(row))));
}

/** What is said of single weeks, each sentence once with its weeks. */
export function remarks(block) {
  const found = new Map();
  for (const week of block.weeks) for (const text of [...week.moved, ...week.notes]) found.set(text, [...(found.get(text) ?? []), week.number]);
  if (!found.size) return null;
  return h("ul", { class: "moves" }, [...found].map(([text, numbers]) => h("li", {}, h("b", {}, t("block.in-weeks", { n: numbers.length, weeks: runs(numbers) })), " ", told(text))));
}

/** `2–5, 7` */
function runs(numbers) {
  const found = [];
  for (const n of numbers) {
    if (found.length && found.at(-1)[1] === n - 1) found.at(-1)[1] = n;
    else found.push([n, n]);
  }
  return found.map(([from, to]) => (from === to ? `${from}` : `${from}–${to}`)).join(", ");
}
