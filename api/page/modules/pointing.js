// Pointing at the week: with a pointer, or by keys with one spot that holds the focus. Either asks about the spot.
//
// By keys the week is a grid of which only the cell in focus exists: the pattern of ARIA for grids too large to be
// whole (`aria-rowindex` and `aria-colindex` say where it lies). A move makes a new cell and focuses it, so that a
// screen reader reads it out.

import { s } from "./dom.js";
import { DAYS, WEEK_HOURS, textOf } from "./time.js";
import { t } from "./words.js";

export const STEP = 0.5; // hours that pointing rounds to
const LEAST_PIXELS = 12; // a spot in focus is at least as long

const TO = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowDown: [0, 1], ArrowUp: [0, -1] };
const TO_DOWN = { ArrowDown: [1, 0], ArrowUp: [-1, 0], ArrowRight: [0, 1], ArrowLeft: [0, -1] };

/** The spot that keys lead to: hours stop at the week's ends, or go round where it repeats. */
export function moved(spot, key, { rows, down, repeats }) {
  const day = Math.floor(spot.hour / 24) * 24;
  const [along, across] = (down ? TO_DOWN : TO)[key] ?? [0, 0];
  const hour = { PageDown: spot.hour + 24, PageUp: spot.hour - 24, Home: day, End: day + 24 - STEP }[key] ?? spot.hour + along * STEP;
  const found = { hour, row: Math.min(rows - 1, Math.max(0, spot.row + across)) };
  if (repeats) found.hour = (hour + WEEK_HOURS) % WEEK_HOURS;
  else if (hour < 0 || hour >= WEEK_HOURS) found.hour = spot.hour;
  return found;
}

/**
 * @param on the paper the week is drawn on
 * @param spot where the keys begin, {hour, row}
 * @param what `describe(spot)`, its words; `ask(spot)`; `kept(spot)`, told of every move; `repeats`
 */
export function pointing(on, svg, rows, spot, { describe, ask, kept, repeats }) {
  const cursor = s("g", { class: "cursor", "aria-hidden": "true" });
  const down = on.sort === "down";
  const grid = s("g", { role: "grid", "aria-label": t("spot.grid"), "aria-describedby": "spot-keys", "aria-rowcount": down ? WEEK_HOURS / STEP : rows.length, "aria-colcount": down ? rows.length : WEEK_HOURS / STEP });
  svg.append(cursor, grid);
  const readout = () => svg.parentNode.querySelector(".readout");
  const show = (found) => {
    cursor.replaceChildren(...(found ? [s("path", on.all(found.hour, found.hour + STEP)), s("path", on.area(0, WEEK_HOURS, found.row))] : []));
    readout().textContent = found ? describe(found) : t("spot.how");
  };

  const place = (found, focus) => {
    const pad = Math.max(0, (LEAST_PIXELS / on.scale - STEP) / 2);
    const at = { "aria-rowindex": found.row + 1, "aria-colindex": found.hour / STEP + 1 };
    if (down) [at["aria-rowindex"], at["aria-colindex"]] = [at["aria-colindex"], at["aria-rowindex"]];
    const cell = s("g", { role: "gridcell", id: "week-spot", class: "spot", tabindex: 0, "aria-colindex": at["aria-colindex"], "aria-label": describe(found), onfocus: () => show(found), onblur: () => show(null), onkeydown: (event) => pressed(event, found) },
      s("path", on.area(found.hour - pad, found.hour + STEP + pad, found.row)));
    grid.replaceChildren(s("g", { role: "row", "aria-rowindex": at["aria-rowindex"] }, cell));
    if (focus) cell.focus();
  };
  const pressed = (event, found) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      ask(found);
    } else if (event.key in TO || ["PageDown", "PageUp", "Home", "End"].includes(event.key)) {
      event.preventDefault();
      const next = moved(found, event.key, { rows: rows.length, down, repeats });
      kept(next);
      place(next, true);
    }
  };
  place(spot, false);

  const where = (event) => {
    const frame = svg.getBoundingClientRect();
    const { hour, row } = on.point(((event.clientX - frame.left) / frame.width) * on.width, ((event.clientY - frame.top) / frame.height) * on.height);
    const found = { hour: Math.floor(hour / STEP) * STEP, row };
    return row < 0 || found.hour < 0 || found.hour >= WEEK_HOURS ? null : found;
  };
  svg.addEventListener("pointermove", (event) => show(where(event)));
  svg.addEventListener("pointerleave", () => show(null));
  svg.addEventListener("click", (event) => {
    if (event.target.closest("a")) return;
    const found = where(event);
    if (!found) return;
    kept(found);
    place(found, false);
    ask(found);
  });
}

/** What asking about a spot demands; on a row of a muscle the kind is left open. */
export const demandAt = (rows, { hour, row }) => ({ kind: rows[row].kind ?? null, day: DAYS[Math.floor(hour / 24)], start: textOf(hour % 24) });
