// Where hours and rows lie: time runs along, on narrow screens down, and around where the week repeats.
//
// Every paper has `area(from, to, row, low, high)`, the outline of some hours on a part of a row (0 to 1), `all(from,
// to)` over every row, `line(hour, fine)`, `day(i)`, `clock(hour)`, `middle(row)`, `name(row, class, text, gap)` and
// `point(x, y)`. `gap` is a tspan, the figure that stands beside a name, which has `nameRoom` pixels.

import { s } from "./dom.js";
import { WEEK_HOURS } from "./time.js";

export const NARROW = 700;
const HOUR_DOWN = 5.5;
const DAY_NAME = 104; // pixels beside a ring

const box = (x, y, width, height) => ({ d: `M${round(x)} ${round(y)}h${round(width)}v${round(height)}h${round(-width)}z` });
const round = (number) => Math.round(number * 100) / 100;
const gapOf = (rows) => (rows.some((row) => row.sort === "muscle") ? 14 : 0);
const rowAt = (rows, cross, row, where) => rows.findIndex((_, i) => where >= cross(i) && where < cross(i) + row);

export function along(width, rows) {
  const left = 206, top = 40, row = 30, scale = (width - left - 6) / WEEK_HOURS;
  const cross = (i) => top + i * row + (rows[i]?.sort === "muscle" ? gapOf(rows) : 0);
  const bottom = cross(rows.length - 1) + row;
  return {
    sort: "along", nameRoom: left - 66, width, height: bottom + 6, scale,
    area: (from, to, i, low = 0, high = 1) => box(left + from * scale, cross(i) + low * row, Math.max(0, to - from) * scale, (high - low) * row),
    all: (from, to) => box(left + from * scale, top - 4, (to - from) * scale, bottom - top + 4),
    line: (hour, fine) => `M${round(left + hour * scale)} ${fine ? 34 : 4}V${bottom}`,
    day: (i) => ({ x: left + i * 24 * scale + 4, y: 14 }),
    clock: scale > 4.5 ? (hour) => ({ x: left + hour * scale, y: 30, "text-anchor": "middle" }) : null,
    middle: (i) => `M${left} ${cross(i) + row / 2}H${width - 6}`,
    heading: { x: left - 8, y: cross(rows.findIndex((each) => each.sort === "muscle")) - 2, "text-anchor": "end" },
    name: (i, kind, text, gap) => {
      const y = cross(i) + row / 2 + 4;
      return [s("text", { class: kind, x: left - 62, y, "text-anchor": "end" }, text), gap ? s("text", { x: left - 8, y, "text-anchor": "end" }, gap) : null];
    },
    beside: (from, to, i) => (to > WEEK_HOURS - 9 ? { x: left + from * scale - 5, y: cross(i) + 8, "text-anchor": "end" } : { x: left + to * scale + 5, y: cross(i) + 8 }),
    point: (x, y) => ({ hour: (x - left) / scale, row: rowAt(rows, cross, row, y) }),
  };
}

export function down(width, rows) {
  const left = 46, top = 172, gap = gapOf(rows), row = (width - left - 2 - gap) / rows.length;
  const cross = (i) => left + i * row + (rows[i]?.sort === "muscle" ? gap : 0);
  return {
    sort: "down", nameRoom: top - 62, width, height: top + WEEK_HOURS * HOUR_DOWN + 8, scale: HOUR_DOWN,
    area: (from, to, i, low = 0, high = 1) => box(cross(i) + low * row, top + from * HOUR_DOWN, (high - low) * row, Math.max(0, to - from) * HOUR_DOWN),
    all: (from, to) => box(left - 4, top + from * HOUR_DOWN, width - left + 2, (to - from) * HOUR_DOWN),
    line: (hour, fine) => `M${fine ? left - 6 : 0} ${top + hour * HOUR_DOWN}H${width}`,
    day: (i) => ({ x: 0, y: top + i * 24 * HOUR_DOWN + 12 }),
    clock: (hour) => ({ x: 0, y: top + hour * HOUR_DOWN + 4 }),
    middle: (i) => `M${round(cross(i) + row / 2)} ${top}v${WEEK_HOURS * HOUR_DOWN}`,
    name: (i, kind, text, gap) => s("text", { class: kind, transform: `translate(${round(cross(i) + row / 2 + 4)} ${top - 8}) rotate(-90)` }, text, gap ? [" ", gap] : null),
    beside: null,
    point: (x, y) => ({ hour: (y - top) / HOUR_DOWN, row: rowAt(rows, cross, row, x) }),
  };
}

/** The week as a ring: Monday begins at the top, hours run clockwise, Sunday touches Monday. */
export function around(width, rows) {
  const size = Math.min(width, 700), outer = Math.min(size / 2 - 34, width / 2 - DAY_NAME), gap = gapOf(rows);
  const row = Math.min(26, (outer * 0.6 - gap) / rows.length);
  const out = (i) => outer - i * row - (rows[i]?.sort === "muscle" ? gap : 0); // the outer edge of a row
  const inner = out(rows.length - 1) - row;
  const [x, y] = [width / 2, size / 2];
  const angle = (hour) => (hour / WEEK_HOURS) * 2 * Math.PI - Math.PI / 2;
  const at = (hour, radius) => `${round(x + radius * Math.cos(angle(hour)))} ${round(y + radius * Math.sin(angle(hour)))}`;
  const arc = (to, radius, large, sweep) => `A${round(radius)} ${round(radius)} 0 ${large} ${sweep} ${at(to, radius)}`;
  const sector = (from, end, far, near) => {
    const to = Math.min(Math.max(end, from), from + WEEK_HOURS - 0.01);
    const large = to - from > WEEK_HOURS / 2 ? 1 : 0;
    return { d: `M${at(from, far)}${arc(to, far, large, 1)}L${at(to, near)}${arc(from, near, large, 0)}z` };
  };
  return {
    sort: "around", nameRoom: 115, width, height: size, scale: ((outer + inner) / 2) * ((2 * Math.PI) / WEEK_HOURS), centre: { x, y },
    area: (from, to, i, low = 0, high = 1) => sector(from, to, out(i) - low * row, out(i) - high * row),
    all: (from, to) => sector(from, to, outer + 4, inner),
    line: (hour, fine) => `M${at(hour, inner)}L${at(hour, outer + (fine ? 2 : 16))}`,
    day: (i) => ({ x: Number(at(i * 24 + 12, outer + 20).split(" ")[0]), y: Number(at(i * 24 + 12, outer + 20).split(" ")[1]) + 4, "text-anchor": i < 3 ? "start" : i > 3 ? "end" : "middle" }),
    clock: null,
    middle: (i) => `M${at(0, out(i) - row / 2)}${arc(WEEK_HOURS / 2, out(i) - row / 2, 0, 1)}${arc(WEEK_HOURS, out(i) - row / 2, 0, 1)}`,
    // On the small hours of Monday, where nobody trains, along its own row.
    name: (i, kind, text, gap) => {
      const radius = out(i) - row / 2 - 4, id = `row-${i}`;
      return s("g", {}, s("path", { id, d: `M${at(0.4, radius)}${arc(60, radius, 0, 1)}`, fill: "none" }), s("text", { class: `${kind} lain` }, s("textPath", { href: `#${id}` }, text, gap ? [" ", gap] : null)));
    },
    beside: null,
    point: (px, py) => {
      const turn = (Math.atan2(py - y, px - x) + Math.PI / 2 + 2 * Math.PI) % (2 * Math.PI);
      const radius = Math.hypot(px - x, py - y);
      return { hour: (turn / (2 * Math.PI)) * WEEK_HOURS, row: rows.findIndex((_, i) => radius <= out(i) && radius > out(i) - row) };
    },
  };
}
