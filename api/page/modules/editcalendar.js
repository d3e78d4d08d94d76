// Openings painted on the week, by pointer or by keys; calendars dropped on it.

import { busyTimes } from "./api.js";
import { h } from "./dom.js";
import { DAYS, clockOf, dayName, dayShort, hoursOf, textOf } from "./time.js";
import { busyOf, openingsOf } from "./weekmodel.js";
import { t } from "./words.js";

const STEP = 0.5, ROWS = 48;
const HOLD = 350; // milliseconds that a finger rests before it paints: a swipe is for scrolling
let brush = null; // the place that is painted
let stop = [0, 34]; // day and row that Tab comes to

/** Openings day by day: {day, from, to, place, preference} in hours of the day. */
function byDay(brief) {
  return brief.openings.flatMap((opening) => [opening.day].flat().map((day) => ({ day, from: hoursOf(opening.start), to: hoursOf(opening.end), place: opening.place, preference: opening.preference ?? "neutral" })));
}

/** Alike openings of several days are one again. */
function grouped(pieces) {
  const found = new Map();
  for (const piece of [...pieces].sort((a, b) => a.from - b.from)) {
    const key = JSON.stringify([piece.from, piece.to, piece.place, piece.preference]);
    const opening = found.get(key) ?? { day: [], start: textOf(piece.from), end: textOf(piece.to), place: piece.place, ...(piece.preference === "neutral" ? {} : { preference: piece.preference }) };
    if (!opening.day.includes(piece.day)) opening.day.push(piece.day);
    found.set(key, opening);
  }
  return [...found.values()].map((opening) => ({ ...opening, day: DAYS.filter((day) => opening.day.includes(day)) }));
}

/** Paint (or rub out) hours of a day at a place; edges finer than the grid stay. */
export function painted(brief, place, day, from, to, on) {
  const pieces = byDay(brief);
  const here = pieces.filter((piece) => piece.day === day && piece.place === place && piece.to >= from && piece.from <= to);
  const kept = pieces.filter((piece) => !here.includes(piece));
  if (on) {
    const preference = here[0]?.preference ?? "neutral";
    return grouped([...kept, { day, place, preference, from: Math.min(from, ...here.map((piece) => piece.from)), to: Math.max(to, ...here.map((piece) => piece.to)) }]);
  }
  const rest = here.flatMap((piece) => [{ ...piece, to: Math.min(piece.to, from) }, { ...piece, from: Math.max(piece.from, to) }]).filter((piece) => piece.to > piece.from);
  return grouped([...kept, ...rest]);
}

export async function addCalendar(file, store, problem) {
  try {
    const { brief } = store.state;
    const { busy } = await busyTimes(await file.text(), brief.week);
    store.edit({ ...store.state.brief, busy: [...(brief.busy ?? []), ...busy] });
    document.getElementById("live").textContent = t("calendar.added", { n: busy.length });
  } catch (error) {
    problem(error);
  }
}

export function calendarPart(brief, store, problem) {
  const places = Object.keys(brief.places ?? {});
  if (!places.includes(brush)) brush = places[0] ?? null;
  const choose = h("select", { id: "brush", onchange: (event) => { brush = event.target.value; store.set({ brief: { ...store.state.brief } }); } }, places.map((place) => h("option", { value: place, selected: place === brush }, brief.places[place].name ?? place)));
  const file = h("input", { type: "file", id: "calendar-file", accept: ".ics,text/calendar", class: "unseen", onchange: () => file.files[0] && addCalendar(file.files[0], store, problem) });
  return [
    h("p", { class: "small" }, t("openings.what")),
    h("label", { class: "field" }, h("span", {}, t("openings.place")), choose),
    grid(brief, store),
    h("p", { class: "paint-key small" }, ["open", "elsewhere", "taken"].map((kind) => h("span", { class: "piece" }, h("span", { class: `swatch ${kind}`, "aria-hidden": "true" }), t(`openings.${kind}`)))),
    h("div", { class: "row" }, file, h("label", { class: "button", for: "calendar-file" }, t("calendar.add"))),
  ];
}

function grid(brief, store) {
  let openings = [], busy = [];
  try {
    [openings, busy] = [openingsOf(brief), busyOf(brief)];
  } catch {
    // an opening that is being typed
  }
  const covers = (list, day, row) => list.find((each) => each.from < day * 24 + (row + 1) * STEP && each.to > day * 24 + row * STEP);
  const cells = [];
  const cellOf = (day, row) => cells[row]?.[day];
  const set = (day, from, to, on) => store.edit({ ...store.state.brief, openings: painted(store.state.brief, brush, DAYS[day], from * STEP, to * STEP, on) });
  const cell = (day, row) => {
    const mine = covers(openings.filter((each) => each.place === brush), day, row);
    const other = covers(openings, day, row);
    const taken = covers(busy, day, row);
    return h("td", { role: "gridcell", id: `cell-${day}-${row}`, tabindex: day === stop[0] && row === stop[1] ? 0 : -1, "aria-selected": mine ? "true" : "false", "data-day": day, "data-row": row, class: [mine ? "open" : other ? "elsewhere" : "", taken ? "taken" : ""].join(" ").trim() || null,
      "aria-label": `${dayName(day)} ${clockOf(row * STEP)}${taken ? `, ${t("openings.busy")}` : ""}` });
  };
  for (let row = 0; row < ROWS; row += 1) cells.push(DAYS.map((_, day) => cell(day, row)));
  const table = h("table", { class: "paint", role: "grid", "aria-label": t("openings.grid"), "aria-multiselectable": "true" },
    h("thead", {}, h("tr", { role: "row" }, h("td", { role: "gridcell" }), DAYS.map((_, day) => h("th", { scope: "col", role: "columnheader", abbr: dayName(day) }, dayShort(day))))),
    h("tbody", {}, cells.map((row, i) => h("tr", { role: "row" }, i % 2 ? null : h("th", { scope: "row", role: "rowheader", rowspan: 2 }, (i / 2) % 3 === 0 ? String(i / 2) : h("span", { class: "unseen" }, clockOf(i / 2))), row))));
  let drag = null;
  const at = (event) => document.elementFromPoint(event.clientX, event.clientY)?.closest("td[data-day]");
  const show = () => {
    const [low, high] = drag ? [Math.min(drag.from, drag.to), Math.max(drag.from, drag.to)] : [1, 0];
    cells.forEach((row, i) => row.forEach((each, day) => {
      const within = day === drag?.day && i >= low && i <= high;
      each.classList.toggle("adding", within && drag.on);
      each.classList.toggle("taking", within && !drag.on);
    }));
  };
  const leave = () => {
    clearTimeout(drag?.timer);
    drag = null;
    show();
  };
  const hold = () => { drag.held = true; show(); };
  table.addEventListener("pointerdown", (event) => {
    const found = event.target.closest("td[data-day]");
    if (!found || !brush || drag) return;
    event.preventDefault();
    table.setPointerCapture(event.pointerId);
    drag = { day: Number(found.dataset.day), from: Number(found.dataset.row), to: Number(found.dataset.row), on: found.getAttribute("aria-selected") !== "true" };
    if (event.pointerType === "touch") drag.timer = setTimeout(hold, HOLD);
    else hold();
  });
  table.addEventListener("pointermove", (event) => {
    const found = drag && at(event);
    if (!found) return;
    if (drag.held) {
      drag.to = Number(found.dataset.row);
      show();
    } else if (found !== cellOf(drag.day, drag.from)) leave(); // a finger on its way elsewhere
  });
  table.addEventListener("pointerup", () => {
    if (!drag) return;
    const { day, from, to, on } = drag;
    leave();
    set(day, Math.min(from, to), Math.max(from, to) + 1, on);
  });
  // The browser took the touch for scrolling; once it is held, it may not.
  table.addEventListener("pointercancel", leave);
  table.addEventListener("touchmove", (event) => { if (drag?.held) event.preventDefault(); }, { passive: false });
  table.addEventListener("keydown", (event) => {
    const found = event.target.closest("td[data-day]");
    if (!found) return;
    const [day, row] = [Number(found.dataset.day), Number(found.dataset.row)];
    const move = { ArrowUp: [0, -1], ArrowDown: [0, 1], ArrowLeft: [-1, 0], ArrowRight: [1, 0], PageUp: [0, -6], PageDown: [0, 6], Home: [0, -row], End: [0, ROWS - 1 - row] }[event.key];
    if (move) {
      event.preventDefault();
      const next = cellOf(day + move[0], row + move[1]);
      if (!next) return;
      for (const each of table.querySelectorAll('[tabindex="0"]')) each.tabIndex = -1;
      next.tabIndex = 0;
      next.focus();
      stop = [day + move[0], row + move[1]];
      // With shift the hours between become as the one that is left: painted on, or rubbed out.
      if (event.shiftKey && move[1]) set(day, Math.min(row, stop[1]), Math.max(row, stop[1]) + 1, found.getAttribute("aria-selected") === "true");
    } else if (event.key === " " || event.key === "Enter") {
      event.preventDefault();
      set(day, row, row + 1, found.getAttribute("aria-selected") !== "true");
    }
  });
  return table;
}
