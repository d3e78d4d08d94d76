// Sunday: what was done in a week of the block, beside what was planned; and what the log then says.

import { read } from "./api.js";
import { momentOf } from "./blockweek.js";
import { button, fill, h } from "./dom.js";
import { DAYS, WeekClock, dayName, textOf } from "./time.js";
import { SERVED, sessionName, told, toldIn } from "./told.js";
import { format, t } from "./words.js";

const FIELDS = [["sets", 0, 50, 1], ["reps", 1, 200, 1], ["load_kg", 0.5, 1000, 0.5], ["reps_in_reserve", 0, 10, 1]];

let catalogue = null;
const exercisesKnown = () => (catalogue ??= read("/v1/catalogue/exercises").then(({ rows }) => Object.entries(rows).map(([key, row]) => [key, row.name]).sort((one, other) => one[1].localeCompare(other[1]))));

/** Exercises of a session, without activation; what comes twice is one row. */
function exercisesOf(session) {
  const found = new Map();
  for (const entry of session.entries.filter((each) => each.role !== "activation")) {
    const row = found.get(entry.exercise);
    if (row) row.sets += entry.sets;
    else found.set(entry.exercise, { exercise: entry.exercise, name: entry.name, sets: entry.sets, reps: entry.reps, load_kg: entry.load_kg, reps_in_reserve: entry.reps_in_reserve });
  }
  return [...found.values()];
}

/** Exercises that hurt and that no log since then says are cleared; a block of an older version says nothing of these. */
function uncleared(block) {
  const found = new Set();
  for (const log of block.logs) {
    for (const row of log.sessions.flatMap((session) => session.exercises)) if (row.pain) found.add(row.exercise);
    for (const exercise of log.cleared ?? []) found.delete(exercise);
  }
  const names = new Map(block.weeks.flatMap((week) => week.plan.sessions.flatMap((session) => session.entries)).map((entry) => [entry.exercise, entry.name]));
  return [...found].sort().map((exercise) => ({ exercise, name: names.get(exercise) ?? exercise }));
}

function sessionFields(plan, session, i, corrects) {
  const clock = new WeekClock(plan.brief.week);
  const hours = clock.hours(session.start);
  const day = DAYS[Math.floor(hours / 24) % 7];
  const rows = exercisesOf(session);
  const otherwise = h("div", { class: "otherwise", hidden: true });
  const id = `log-${i}`;
  const choice = (value, checked) => h("label", {}, h("input", { type: "radio", name: id, id: `${id}-${value}`, value, checked, onchange: () => { otherwise.hidden = value !== "otherwise"; } }), t(`log.${value}`));
  const painOf = (row) => h("td", { class: "pain", "data-field": t("log.pain") }, h("input", { type: "text", id: `${id}-${row.exercise}-pain`, maxlength: 200, "aria-label": t("log.field.of", { field: t("log.pain"), name: row.name }) }));
  const input = (row, [field, least, most, step]) => h("td", { "data-field": t(`log.${field}`) }, h("input", { type: "number", id: `${id}-${row.exercise}-${field}`, min: least, max: most, step, value: row[field] ?? "", class: "short-number", "aria-label": t("log.field.of", { field: t(`log.${field}`), name: row.name }) }));
  const extras = [];
  const body = h("tbody", {}, rows.map((row) => h("tr", {}, h("th", { scope: "row" }, told(row.name)), FIELDS.map((field) => input(row, field)), painOf(row))));
  const add = async () => {
    const row = { exercise: `extra${extras.length}`, name: t("log.more"), sets: 3, reps: 10, load_kg: null, reps_in_reserve: 2 };
    const known = await exercisesKnown();
    const choose = h("select", { id: `${id}-${row.exercise}`, "aria-label": t("log.exercise"), lang: SERVED }, known.map(([key, name]) => h("option", { value: key }, name)));
    extras.push({ row, choose });
    body.append(h("tr", {}, h("td", {}, choose), FIELDS.map((field) => input(row, field)), painOf(row)));
    choose.focus();
  };
  fill(otherwise,
    h("div", { class: "row" },
      h("label", {}, t("log.day"), h("select", { id: `${id}-day` }, DAYS.map((each, n) => h("option", { value: each, selected: each === day }, dayName(n))))),
      h("label", {}, t("log.start"), h("input", { type: "time", id: `${id}-start`, value: textOf(hours % 24) }))),
    h("div", { class: "wide", tabindex: 0, role: "region", "aria-label": t("log.done.of", { name: session.name }) }, h("table", { class: "figures stacking" },
      h("thead", {}, h("tr", {}, h("th", { scope: "col" }, t("log.exercise")), FIELDS.map(([field]) => h("th", { scope: "col" }, t(`log.${field}`))), h("th", { scope: "col" }, t("log.pain")))),
      body)),
    button(t("log.more"), add, { class: "quiet", id: `${id}-more`, "aria-label": t("log.more.of", { name: session.name }) }));
  const done = (exercise, key) => {
    const pain = value(`${key}-pain`).trim();
    const figures = Object.fromEntries(FIELDS.map(([field]) => [field, number(`${key}-${field}`)]).filter(([, each]) => each !== null));
    return { exercise, sets: 0, ...figures, ...(pain ? { pain } : {}) };
  };
  const value = (key) => document.getElementById(`${id}-${key}`).value;
  const number = (key) => (value(key) === "" ? null : Number(value(key)));
  const logged = () => {
    const chosen = document.querySelector(`input[name="${id}"]:checked`)?.value;
    const when = { kind: session.kind, day, start: textOf(hours % 24) };
    if (chosen === "planned") return { ...when, as_planned: true };
    if (chosen === "missed") return { ...when, missed: true };
    if (chosen !== "otherwise") return null;
    const exercises = [...rows.map((row) => done(row.exercise, row.exercise)), ...extras.map(({ row, choose }) => done(choose.value, row.exercise))];
    return { ...when, day: value("day"), start: value("start") || when.start, exercises };
  };
  const node = h("fieldset", {}, h("legend", {}, sessionName(plan.brief, session), ", ", momentOf(plan, session.start)),
    h("div", { class: "row" }, corrects ? choice("unchanged", true) : null, choice("planned", !corrects), choice("otherwise", false), choice("missed", false)), otherwise);
  return { node, logged };
}

/** What is typed into a log, by the ids of its fields, so that it outlives a reload: `typed` with the week it is of. */
function typedIn(form) {
  const fields = [...form.elements].filter((each) => each.id && each.id !== "log-week" && !["submit", "button", "fieldset"].includes(each.type));
  return Object.fromEntries(fields.map((each) => [each.id, each.type === "radio" || each.type === "checkbox" ? each.checked : each.value]));
}

function typeAgain(form, fields) {
  for (const [id, value] of Object.entries(fields)) {
    const field = form.querySelector(`[id="${id}"]`);
    if (!field) continue;
    if (typeof value === "boolean") field.checked = value;
    else field.value = value;
    if (value === true) field.dispatchEvent(new Event("change"));
  }
}

/** The form of a log; `keep(typed)` keeps what is typed, and `typed` is what was kept. */
export function logForm(block, log, typed = null, keep = () => {}) {
  const next = block.logs.length + 1;
  // The next week, unless it could not be planned: then only what is logged can be put right.
  const last = block.weeks[next - 1]?.plan.sessions.length ? next : next - 1;
  if (!last) return null;
  const place = h("div", { class: "log-sessions" });
  let sessions = [];
  const draw = (number) => {
    const { plan } = block.weeks[number - 1];
    sessions = plan.sessions.map((session, i) => sessionFields(plan, session, i, number < next));
    fill(place, h("p", { class: "small" }, t(number < next ? "log.corrects" : "log.what")), sessions.map((each) => each.node));
  };
  const choose = h("select", { id: "log-week", onchange: (event) => draw(Number(event.target.value)) },
    Array.from({ length: last }, (_, i) => h("option", { value: i + 1, selected: i + 1 === last }, t(i + 1 < next ? "log.week.again" : "log.week", { n: i + 1 }))));
  const easy = h("input", { type: "checkbox", id: "log-easy" });
  const looked = uncleared(block).map(({ exercise, name }) => ({ exercise, name, box: h("input", { type: "checkbox", id: `log-cleared-${exercise}` }) }));
  const submit = (event) => {
    event.preventDefault();
    const { plan } = block.weeks[Number(choose.value) - 1];
    const cleared = looked.filter(({ box }) => box.checked).map(({ exercise }) => exercise);
    log({ log: { week: plan.brief.week.start, sessions: sessions.map((each) => each.logged()).filter(Boolean), ...(cleared.length ? { cleared } : {}) }, ...(easy.checked ? { easy: true } : {}) });
  };
  draw(last);
  const form = h("form", { class: "log-form", onsubmit: submit, oninput: () => keep({ week: Number(choose.value), fields: typedIn(form) }) }, h("label", { class: "line" }, t("log.of"), choose), place,
      looked.length ? h("fieldset", { id: "log-cleared" }, h("legend", {}, t("log.cleared")), h("div", { class: "row" }, looked.map(({ name, box }) => h("label", { class: "line" }, box, told(name))))) : null,
      h("label", { class: "line" }, easy, t("log.easy")), h("button", { type: "submit", class: "act", id: "log-do" }, t("log.do")));
  const again = typed && typed.week <= last;
  if (again) {
    choose.value = String(typed.week);
    draw(typed.week);
    typeAgain(form, typed.fields);
  }
  return h("details", { id: "block-log", open: again }, h("summary", {}, t("log.title", { n: last })), form);
}

const changed = (each) => each.sets_done !== each.sets_planned || each.reps_over || each.estimate_after_kg !== each.estimate_before_kg;

/** What the log says: what was missed or better than asked, which muscles wait, reasons for an easy week. */
export function reportOf({ answer, body }, { easy, dismiss }) {
  const lines = answer.sessions.flatMap((session) => (session.done === null
    ? [h("li", { class: "worse" }, told(session.name), `: ${t("log.missed.said")}`)]
    : session.exercises.filter(changed).map((each) => h("li", {}, told(`${session.name}, ${each.name}: ${each.sentence}`),
      each.estimate_after_kg !== null && each.estimate_after_kg !== each.estimate_before_kg ? ` · ${t("log.estimate", { kg: format(each.estimate_after_kg) })}` : ""))));
  return h("section", { class: "answer", id: "block-report", tabindex: -1, "aria-labelledby": "block-report-title" },
    h("h3", { id: "block-report-title" }, t("log.said", { n: answer.week })),
    lines.length ? h("ul", { class: "moves" }, lines) : answer.notes.length ? null : h("p", {}, t("log.all-planned")),
    answer.behind.length || answer.notes.length ? h("ul", { class: "moves" }, [...answer.behind, ...answer.notes].map((text) => toldIn("li", text))) : null,
    toldIn("p", answer.formula, { class: "small" }),
    answer.easy_week.length && !body.easy && answer.next_week !== null ? h("div", {}, h("p", {}, h("b", {}, t("log.easy.why"))), h("ul", { class: "moves" }, answer.easy_week.map((text) => toldIn("li", text, { class: "worse" }))), button(t("log.easy.do"), easy, { id: "log-make-easy", class: "act" })) : null,
    h("p", {}, answer.next_week === null ? t("log.end") : t("log.next", { n: answer.next_week })),
    button(t("answer.dismiss"), dismiss, { class: "quiet" }));
}
