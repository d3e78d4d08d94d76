// The week as 168 hours, drawn: time runs along, on narrow screens down; a row a kind of session and a muscle.

import { h, s } from "./dom.js";
import { DAYS, WEEK_HOURS, clockOf, dayAndClock, dayName, dayShort, textOf } from "./time.js";
import { busyOf, openingsOf, rowsOf, sessionsOf, tightest } from "./weekmodel.js";
import { t } from "./words.js";

const NARROW = 700;
const HOUR_DOWN = 5.5;
const STEP = 0.5; // hours that pointing rounds to

/** Where hours and rows lie on the paper. */
function paper(width, rows) {
  const gap = rows.some((row) => row.sort === "muscle") ? 14 : 0;
  const shift = (i) => (rows[i]?.sort === "muscle" ? gap : 0);
  if (width >= NARROW) {
    const left = 148, top = 40, row = 30, scale = (width - left - 6) / WEEK_HOURS;
    const cross = (i) => top + i * row + shift(i);
    return {
      down: false, width, height: cross(rows.length - 1) + row + 6, row, scale,
      box: (from, to, i, low = 0, high = 1) => ({ x: left + from * scale, y: cross(i) + low * row, width: Math.max(0, to - from) * scale, height: (high - low) * row }),
      all: (from, to) => ({ x: left + from * scale, y: top - 4, width: (to - from) * scale, height: cross(rows.length - 1) + row - top + 4 }),
      label: (i) => ({ x: left - 10, y: cross(i) + row / 2 + 4, "text-anchor": "end" }),
      day: (i) => ({ x: left + i * 24 * scale + 4, y: 14 }), clock: (hour) => ({ x: left + hour * scale, y: 30, "text-anchor": "middle" }),
      line: (hour, inner) => `M${left + hour * scale} ${inner ? 34 : 4}V${cross(rows.length - 1) + row}`,
      point: (x, y) => ({ hour: (x - left) / scale, row: rows.findIndex((_, i) => y >= cross(i) && y < cross(i) + row) }),
    };
  }
  const left = 46, top = 128, row = (width - left - 2) / rows.length - gap / rows.length;
  const cross = (i) => left + i * row + shift(i);
  return {
    down: true, width, height: top + WEEK_HOURS * HOUR_DOWN + 8, row, scale: HOUR_DOWN,
    box: (from, to, i, low = 0, high = 1) => ({ x: cross(i) + low * row, y: top + from * HOUR_DOWN, width: (high - low) * row, height: Math.max(0, to - from) * HOUR_DOWN }),
    all: (from, to) => ({ x: left - 4, y: top + from * HOUR_DOWN, width: width - left + 2, height: (to - from) * HOUR_DOWN }),
    label: (i) => ({ transform: `translate(${cross(i) + row / 2 + 4} ${top - 8}) rotate(-90)` }),
    day: (i) => ({ x: 0, y: top + i * 24 * HOUR_DOWN + 12 }), clock: (hour) => ({ x: 0, y: top + hour * HOUR_DOWN + 4 }),
    line: (hour) => `M${hour % 24 ? left - 6 : 0} ${top + hour * HOUR_DOWN}H${width}`,
    point: (x, y) => ({ hour: (y - top) / HOUR_DOWN, row: rows.findIndex((_, i) => x >= cross(i) && x < cross(i) + row) }),
  };
}

/** What runs over Sunday's end comes in again on Monday where the week repeats, else it is cut off. */
function pieces(from, to, repeats) {
  const found = from < WEEK_HOURS ? [[from, Math.min(to, WEEK_HOURS), 0, to - from]] : [];
  if (repeats && to > WEEK_HOURS) found.push([Math.max(0, from - WEEK_HOURS), to - WEEK_HOURS, from < WEEK_HOURS ? WEEK_HOURS - from : 0, to - from]);
  return found;
}

const BANDS = 8;

/** A tail fades in steps, from full to nothing over its whole length. */
function tail(on, mark, i, repeats) {
  const whole = mark.tail - mark.to;
  return Array.from({ length: BANDS }, (_, step) => {
    const [from, to] = [mark.to + (whole * step) / BANDS, mark.to + (whole * (step + 1)) / BANDS];
    const inset = 0.3 + 0.12 * (step / BANDS);
    return pieces(from, to, repeats).map(([start, end]) => s("rect", { class: "tail", opacity: (0.5 * (1 - step / BANDS)).toFixed(3), ...on.box(start, end, i, inset, 1 - inset) }));
  });
}

function markOf(on, mark, i, row, repeats) {
  const thick = row.sort === "kind" ? 0.36 : 0.12 + 0.34 * mark.share;
  const box = on.box(mark.from, Math.max(mark.to, mark.from + 3 / on.scale), i, 0.5 - thick, 0.5 + thick);
  const said = row.sort === "kind" ? t("week.mark.kind", { name: mark.name, when: dayAndClock(mark.from) }) : t("week.mark.muscle", { name: row.name, n: mark.sets, when: dayAndClock(mark.from), session: mark.name });
  const shape = s("rect", { class: mark.hit ? `mark ${mark.state}` : "mark light", ...box });
  const inside = [mark.tail === null || mark.tail === undefined ? null : tail(on, mark, i, repeats), mark.missing ? pieces(...mark.missing, repeats).map(([from, to]) => s("rect", { class: "missing", fill: "url(#hatch-warn)", ...on.box(from, to, i, 0.2, 0.8) })) : null];
  const title = s("title", {}, said);
  if (row.sort !== "kind") return s("g", {}, inside, s("g", {}, title, shape));
  return s("g", {}, inside, s("a", { href: `#session-${mark.number}`, "aria-label": said, class: "to-session" }, title, s("rect", { class: "reach", ...grown(box) }), shape));
}

const grown = ({ x, y, width, height }) => ({ x: x - 4, y: y - 2, width: Math.max(24, width + 8), height: Math.max(24, height + 4) });

function behind(on, brief) {
  return [
    openingsOf(brief).map((opening) => s("rect", { class: `opening ${opening.preference}`, ...on.all(opening.from, opening.to) })),
    busyOf(brief).map((busy) => s("rect", { class: "busy", fill: "url(#hatch)", ...on.all(busy.from, busy.to) }, s("title", {}, busy.title))),
  ];
}

function axis(on) {
  return [
    DAYS.map((_, i) => [
      s("path", { class: "day-line", d: on.line(i * 24, false) }),
      s("text", { class: "day-name", ...on.day(i) }, on.down || on.scale < 3 ? dayShort(i) : dayName(i)),
      (on.down ? [12, 18] : [6, 12, 18]).map((hour) => [s("path", { class: "hour-line", d: on.line(i * 24 + hour, true) }), on.down || on.scale > 4.5 ? s("text", { class: "clock", ...on.clock(i * 24 + hour) }, on.down ? clockOf(hour).replace(/^0/, "") : String(hour)) : null]),
    ]),
    s("path", { class: "day-line", d: on.line(WEEK_HOURS, false) }),
  ];
}

/** Pointing at an empty spot asks; where the pointer is, is said beside it. */
function pointing(on, svg, rows, cursor, onAsk) {
  const where = (event) => {
    const frame = svg.getBoundingClientRect();
    const found = on.point(((event.clientX - frame.left) / frame.width) * on.width, ((event.clientY - frame.top) / frame.height) * on.height);
    const hour = Math.floor(found.hour / STEP) * STEP;
    return found.row < 0 || hour < 0 || hour >= WEEK_HOURS ? null : { hour, row: rows[found.row], index: found.row };
  };
  svg.addEventListener("pointermove", (event) => {
    const found = where(event);
    cursor.replaceChildren(...(found ? [s("rect", on.all(found.hour, found.hour + STEP)), s("rect", on.box(0, WEEK_HOURS, found.index))] : []));
    svg.parentNode.querySelector(".readout").textContent = found ? `${dayAndClock(found.hour)} · ${found.row.name}` : "";
  });
  svg.addEventListener("pointerleave", () => cursor.replaceChildren());
  svg.addEventListener("click", (event) => {
    if (event.target.closest("a")) return;
    const found = where(event);
    if (found) onAsk({ kind: found.row.kind ?? null, day: DAYS[Math.floor(found.hour / 24)], start: textOf(found.hour % 24) });
  });
}

export function picture(brief, plan, base, width, onAsk) {
  const rows = rowsOf(brief, plan);
  const on = paper(width, rows);
  const repeats = brief.week.repeats ?? false;
  const cursor = s("g", { class: "cursor", "aria-hidden": "true" });
  const ghosts = base ? sessionsOf(base) : [];
  const svg = s("svg", { class: on.down ? "week down" : "week along", viewBox: `0 0 ${on.width} ${on.height}`, width: on.width, height: on.height, role: "group", "aria-labelledby": "week-title", "aria-describedby": "week-said" },
    behind(on, brief), axis(on),
    rows.map((row, i) => [
      s("path", { class: "row-line", d: on.down ? rowDown(on, i) : rowAlong(on, i) }),
      s("text", { class: `row-name ${row.sort}`, ...on.label(i) }, shortened(row.name, on.down ? 17 : 21), s("title", {}, row.name)),
    ]),
    cursor,
    rows.map((row, i) => s("g", { class: row.sort, "data-row": row.kind ?? row.target }, row.marks.map((mark) => markOf(on, mark, i, row, repeats)))),
    ghosts.map((ghost) => rows.map((row, i) => (row.kind === ghost.kind ? s("rect", { class: "ghost", ...on.box(ghost.from, Math.max(ghost.to, ghost.from + 3 / on.scale), i, 0.06, 0.94) }, s("title", {}, t("week.ghost", { name: ghost.name, when: dayAndClock(ghost.from) }))) : null))),
    on.down ? null : starts(on, rows));
  if (onAsk) pointing(on, svg, rows, cursor, onAsk);
  return svg;
}

function rowAlong(on, i) {
  const { x, y, width, height } = on.box(0, WEEK_HOURS, i);
  return `M${x} ${y + height / 2}h${width}`;
}

function rowDown(on, i) {
  const { x, y, width, height } = on.box(0, WEEK_HOURS, i);
  return `M${x + width / 2} ${y}v${height}`;
}

function shortened(name, most) {
  const plain = name.replace(/ \(.*\)$/, "");
  return plain.length > most ? `${plain.slice(0, most - 1)}…` : plain;
}

/** The same in words: the sentence that matters, and every gap as a table. */
export function said(plan) {
  const close = tightest(plan);
  const rows = plan.ledger.filter((row) => row.recovery_hours !== null);
  return [
    h("p", { id: "week-said", class: "said" }, close ? t(close.hours + 0.01 >= close.asked ? "week.apart" : "week.too-close", close) : t("week.no-gap")),
    rows.length ? h("details", { id: "week-table", class: "noprint" }, h("summary", {}, t("week.table")),
      h("div", { class: "wide", tabindex: 0, role: "region", "aria-label": t("week.table") }, h("table", { class: "figures" }, h("caption", { class: "unseen" }, t("week.table")),
        h("thead", {}, h("tr", {}, ["muscle", "sessions", "gaps", "asked"].map((each) => h("th", { scope: "col" }, t(`week.table.${each}`))))),
        h("tbody", {}, rows.map((row) => h("tr", {}, h("th", { scope: "row" }, row.name),
          h("td", {}, row.hit_sessions.map((number) => dayAndClock(sessionsOf(plan)[number].from)).join(", ")),
          h("td", {}, row.hours_between_hits.map((hours) => t("hours", { n: hours })).join(", ")), h("td", {}, t("hours", { n: row.recovery_hours })))))))) : null,
  ];
}

/** Beside each session its start, where there is room. */
function starts(on, rows) {
  return rows.map((row, i) => row.sort === "kind" && row.marks.map((mark) => {
    const { x, y, width } = on.box(mark.from, mark.to, i);
    const late = mark.to > WEEK_HOURS - 9;
    return s("text", { class: "start", "aria-hidden": "true", x: late ? x - 5 : x + width + 5, y: y + 8, "text-anchor": late ? "end" : "start" }, clockOf(mark.from % 24));
  }));
}

export function legend(repeats) {
  const item = (kind, fill) => [s("svg", { class: "key", viewBox: "0 0 22 12", "aria-hidden": "true" }, s("rect", { class: kind, x: 0.5, y: 1, width: 21, height: 10, fill: fill ?? null, opacity: kind === "tail" ? 0.4 : null })), t(`legend.${kind.split(" ")[0]}`)];
  return h("p", { class: "key small noprint" }, item("mark"), item("tail"), item("opening"), item("busy", "url(#hatch)"), item("ghost"), repeats ? h("span", { class: "ring" }, t("week.ring")) : null);
}

export function definitions() {
  const hatch = (id, kind, line) => s("pattern", { id, width: 5, height: 5, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" }, s("path", { class: kind, d: `M0 ${line}H5` }));
  return s("svg", { class: "unseen", "aria-hidden": "true", width: 0, height: 0 }, s("defs", {}, hatch("hatch", "hatch", 2), hatch("hatch-warn", "hatch-warn", 2)));
}
