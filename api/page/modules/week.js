// The week as 168 hours, drawn: time runs along, on narrow screens down; a row a kind of session and a muscle.

import { h, s } from "./dom.js";
import { NARROW, along, around, down } from "./paper.js";
import { DAYS, WEEK_HOURS, clockOf, dayAndClock, dayName, dayShort, textOf } from "./time.js";
import { busyOf, openingsOf, rowsOf, sessionsOf, tightest } from "./weekmodel.js";
import { hoursText, t } from "./words.js";

const STEP = 0.5; // hours that pointing rounds to

function paperFor(width, rows, ring) {
  return width < NARROW ? down(width, rows) : ring ? around(width, rows) : along(width, rows);
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
    return pieces(from, to, repeats).map(([start, end]) => s("path", { class: "tail", opacity: (0.5 * (1 - step / BANDS)).toFixed(3), ...on.area(start, end, i, inset, 1 - inset) }));
  });
}

function markOf(on, mark, i, row, repeats) {
  const thick = row.sort === "kind" ? 0.36 : 0.12 + 0.34 * mark.share;
  const to = Math.max(mark.to, mark.from + 3 / on.scale);
  const said = row.sort === "kind" ? t("week.mark.kind", { name: mark.name, when: dayAndClock(mark.from) }) : t("week.mark.muscle", { name: row.name, n: mark.sets, when: dayAndClock(mark.from), session: mark.name });
  const shape = s("path", { class: mark.hit ? `mark ${mark.state}` : "mark light", ...on.area(mark.from, to, i, 0.5 - thick, 0.5 + thick) });
  const inside = [mark.tail === null || mark.tail === undefined ? null : tail(on, mark, i, repeats), mark.missing ? pieces(...mark.missing, repeats).map(([from, to]) => s("path", { class: "missing", fill: "url(#hatch-warn)", ...on.area(from, to, i, 0.2, 0.8) })) : null];
  const title = s("title", {}, said);
  if (row.sort !== "kind") return s("g", {}, inside, s("g", {}, title, shape));
  return s("g", {}, inside, s("a", { href: `#session-${mark.number}`, "aria-label": said, class: "to-session" }, title, s("path", { class: "reach", ...on.area(mark.from - 10 / on.scale, to + 10 / on.scale, i) }), shape));
}

function behind(on, brief) {
  return [
    openingsOf(brief).map((opening) => s("path", { class: `opening ${opening.preference}`, ...on.all(opening.from, opening.to) })),
    busyOf(brief).map((busy) => s("path", { class: "busy", fill: "url(#hatch)", ...on.all(busy.from, busy.to) }, s("title", {}, busy.title))),
  ];
}

function axis(on) {
  const hours = on.sort === "down" ? [12, 18] : [6, 12, 18];
  return [
    DAYS.map((_, i) => [
      s("path", { class: "day-line", d: on.line(i * 24, false) }),
      s("text", { class: "day-name", ...on.day(i) }, on.sort === "down" || on.scale < 3 ? dayShort(i) : dayName(i)),
      hours.map((hour) => [s("path", { class: "hour-line", d: on.line(i * 24 + hour, true) }), on.clock ? s("text", { class: "clock", ...on.clock(i * 24 + hour) }, on.sort === "down" ? clockOf(hour) : String(hour)) : null]),
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
    cursor.replaceChildren(...(found ? [s("path", on.all(found.hour, found.hour + STEP)), s("path", on.area(0, WEEK_HOURS, found.index))] : []));
    svg.parentNode.querySelector(".readout").textContent = found ? `${dayAndClock(found.hour)} · ${found.row.name}` : "";
  });
  svg.addEventListener("pointerleave", () => cursor.replaceChildren());
  svg.addEventListener("click", (event) => {
    if (event.target.closest("a")) return;
    const found = where(event);
    if (found) onAsk({ kind: found.row.kind ?? null, day: DAYS[Math.floor(found.hour / 24)], start: textOf(found.hour % 24) });
  });
}

export function picture(brief, plan, base, width, { onAsk, ring }) {
  const rows = rowsOf(brief, plan);
  const on = paperFor(width, rows, ring);
  const repeats = brief.week.repeats ?? false;
  const cursor = s("g", { class: "cursor", "aria-hidden": "true" });
  const ghosts = base ? sessionsOf(base) : [];
  const svg = s("svg", { class: `week ${on.sort}`, viewBox: `0 0 ${on.width} ${on.height}`, width: on.width, height: on.height, role: "group", "aria-labelledby": "week-title", "aria-describedby": "week-said" },
    behind(on, brief), axis(on),
    rows.map((_, i) => s("path", { class: "row-line", d: on.middle(i) })),
    cursor,
    rows.map((row, i) => s("g", { class: row.sort, "data-row": row.kind ?? row.target }, row.marks.map((mark) => markOf(on, mark, i, row, repeats)))),
    rows.map((row, i) => on.name(i, `row-name ${row.sort}`, shortened(row.name, on.sort === "along" ? 21 : 17))),
    ghosts.map((ghost) => rows.map((row, i) => (row.kind === ghost.kind ? s("path", { class: "ghost", ...on.area(ghost.from, Math.max(ghost.to, ghost.from + 3 / on.scale), i, 0.06, 0.94) }, s("title", {}, t("week.ghost", { name: ghost.name, when: dayAndClock(ghost.from) }))) : null))),
    on.beside ? starts(on, rows) : null, on.centre ? centre(on.centre, plan) : null);
  if (onAsk) pointing(on, svg, rows, cursor, onAsk);
  return svg;
}

/** In the middle of the ring what matters most: the hours between the closest hits. */
function centre({ x, y }, plan) {
  const close = plan && tightest(plan);
  return close ? [s("text", { class: "hours", x, y, "text-anchor": "middle" }, hoursText(close.hours)), s("text", { class: "clock", x, y: y + 20, "text-anchor": "middle" }, t("week.centre"))] : null;
}

function shortened(name, most) {
  const plain = name.replace(/ \(.*\)$/, "");
  return plain.length > most ? `${plain.slice(0, most - 1)}…` : plain;
}

/** The same in words: the sentence that matters, and every gap as a table. */
export function said(plan) {
  const close = tightest(plan);
  const broken = plan.rules.flatMap((rule) => (rule.measure ? [] : rule.findings)).filter((found) => found.breach > 0).length;
  const rows = plan.ledger.filter((row) => row.recovery_hours !== null);
  return [
    h("p", { class: "said" }, h("b", {}, t(`status.${plan.status}`)), " ", broken ? h("a", { href: "#proof-title" }, t("week.gives-way", { n: broken })) : t("proof.all-kept")),
    h("p", { id: "week-said", class: "said" }, close ? t(close.hours + 0.01 >= close.asked ? "week.apart" : "week.too-close", { name: close.name, hours: hoursText(close.hours), asked: hoursText(close.asked) }) : t("week.no-gap")),
    rows.length ? h("details", { id: "week-table", class: "noprint" }, h("summary", {}, t("week.table")),
      h("div", { class: "wide", tabindex: 0, role: "region", "aria-label": t("week.table") }, h("table", { class: "figures" }, h("caption", { class: "unseen" }, t("week.table")),
        h("thead", {}, h("tr", {}, ["muscle", "sessions", "gaps", "asked"].map((each) => h("th", { scope: "col" }, t(`week.table.${each}`))))),
        h("tbody", {}, rows.map((row) => h("tr", {}, h("th", { scope: "row" }, row.name),
          h("td", {}, row.hit_sessions.map((number) => dayAndClock(sessionsOf(plan)[number].from)).join(", ")),
          h("td", {}, row.hours_between_hits.map(hoursText).join(", ")), h("td", {}, hoursText(row.recovery_hours)))))))) : null,
  ];
}

/** Beside each session its start, where there is room. */
function starts(on, rows) {
  return rows.map((row, i) => row.sort === "kind" && row.marks.map((mark) => s("text", { class: "start", "aria-hidden": "true", ...on.beside(mark.from, mark.to, i) }, clockOf(mark.from % 24))));
}

export function legend(repeats) {
  const item = (kind, fill) => h("span", { class: "piece" }, s("svg", { class: "key", viewBox: "0 0 22 12", "aria-hidden": "true" }, s("rect", { class: kind, x: 0.5, y: 1, width: 21, height: 10, fill: fill ?? null, opacity: kind === "tail" ? 0.4 : null })), t(`legend.${kind.split(" ")[0]}`));
  return h("p", { class: "key small noprint" }, item("mark"), item("tail"), item("opening"), item("busy", "url(#hatch)"), item("ghost"), repeats ? h("span", { class: "ring" }, t("week.ring")) : null);
}

export function definitions() {
  const hatch = (id, kind, line) => s("pattern", { id, width: 5, height: 5, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" }, s("path", { class: kind, d: `M0 ${line}H5` }));
  return s("svg", { class: "unseen", "aria-hidden": "true", width: 0, height: 0 }, s("defs", {}, hatch("hatch", "hatch", 2), hatch("hatch-warn", "hatch-warn", 2)));
}
