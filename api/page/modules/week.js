// The week as 168 hours, drawn: time runs along, on narrow screens down; a row a kind of session and a muscle.

import { h, s } from "./dom.js";
import { NARROW, along, around, down } from "./paper.js";
import { demandAt, pointing } from "./pointing.js";
import { breach } from "./sentences.js";
import { SERVED, told } from "./told.js";
import { DAYS, WEEK_HOURS, clockOf, dayAndClock, dayName, dayShort, hourOf } from "./time.js";
import { busyOf, hasGoal, openingsOf, rowsOf, sessionsOf, spotOf, tightest } from "./weekmodel.js";
import { hoursText, t } from "./words.js";

function paperFor(width, rows, ring) {
  return width < NARROW ? down(width, rows) : ring ? around(width, rows) : along(width, rows);
}

/** What runs over Sunday's end comes in again on Monday where the week repeats, else it is cut off. */
function pieces(from, to, repeats) {
  const found = from < WEEK_HOURS ? [[from, Math.min(to, WEEK_HOURS), 0, to - from]] : [];
  if (repeats && to > WEEK_HOURS) found.push([Math.max(0, from - WEEK_HOURS), to - WEEK_HOURS, from < WEEK_HOURS ? WEEK_HOURS - from : 0, to - from]);
  return found;
}

const BANDS = 14;
const LEAST_PIXELS = 5; // so that a short session is seen

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
  const to = Math.max(mark.to, mark.from + LEAST_PIXELS / on.scale);
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
      s("text", { class: "day-name", ...on.day(i) }, on.sort === "down" || on.scale < 3.6 ? dayShort(i) : dayName(i)),
      hours.map((hour) => [s("path", { class: "hour-line", d: on.line(i * 24 + hour, true) }), on.clock ? s("text", { class: "clock", ...on.clock(i * 24 + hour) }, hourOf(hour)) : null]),
    ]),
    s("path", { class: "day-line", d: on.line(WEEK_HOURS, false) }),
  ];
}

/** A spot in words: when, on which row, and what is there. */
function spotSaid(brief, rows, { hour, row }) {
  const { opening, busy, mark, resting } = spotOf(brief, rows[row], hour);
  return [
    t("spot.when", { when: dayAndClock(hour), name: rows[row].name }),
    mark ? t("spot.mark", { name: mark.name }) : null,
    resting ? t("spot.resting", { until: dayAndClock(resting % WEEK_HOURS) }) : null,
    busy ? t("spot.busy", { title: busy.title }) : opening ? t("spot.opening", { place: brief.places[opening.place]?.name ?? opening.place }) : t("spot.closed"),
  ].filter(Boolean).join(" · ");
}

/**
 * @param asking `onAsk(demand)`, `onSession(number)`, and `spot`, where the keys stand, {hour, row} or null, kept up to
 * date; left out where there is nothing to ask about yet
 */
export function picture(brief, plan, base, width, { asking, ring }) {
  const rows = rowsOf(brief, plan);
  const on = paperFor(width, rows, ring);
  const repeats = brief.week.repeats ?? false;
  const ghosts = base ? sessionsOf(base) : [];
  const svg = s("svg", { class: `week ${on.sort}`, viewBox: `0 0 ${on.width} ${on.height}`, width: on.width, height: on.height, role: "group", "aria-labelledby": "week-title", "aria-describedby": "week-said" },
    behind(on, brief), axis(on),
    rows.map((_, i) => s("path", { class: "row-line", d: on.middle(i) })),
    ghosts.map((ghost) => rows.map((row, i) => (row.kind === ghost.kind ? ghostOf(on, ghost, i, row) : null))),
    rows.map((row, i) => s("g", { class: row.sort, "data-row": row.kind ?? row.target }, row.marks.map((mark) => markOf(on, mark, i, row, repeats)))),
    rows.map((row, i) => on.name(i, `row-name ${row.sort}`, s("tspan", { lang: row.sort === "muscle" ? SERVED : null }, shortened(row.name, on.nameRoom, row.sort === "kind")), gapOf(row))),
    on.heading && rows.some((row) => row.closest !== undefined) ? s("text", { class: "clock", ...on.heading }, t("week.closest")) : null,
    on.beside ? starts(on, rows) : null, on.centre ? centre(on.centre, plan) : null);
  if (asking) pointing(on, svg, rows, begin(asking.spot, rows, brief), {
    repeats,
    describe: (spot) => spotSaid(brief, rows, spot),
    kept: (spot) => { asking.spot = spot; },
    ask: (spot) => {
      const { mark } = spotOf(brief, rows[spot.row], spot.hour);
      if (mark) asking.onSession(mark.number);
      else asking.onAsk(demandAt(rows, spot));
    },
  });
  return svg;
}

/** The least hours between two hits of a row, in whole hours, never rounded up. */
function gapOf(row) {
  if (row.closest === undefined) return null;
  const close = row.closest + 0.01 < row.asked;
  return s("tspan", { class: close ? "gap close" : "gap" }, `${close ? "▲ " : ""}${t("hours", { n: Math.floor(row.closest + 0.01) })}`);
}

/** A session of the plan before; one that has not moved is drawn quietly. */
function ghostOf(on, ghost, i, row) {
  const same = row.marks.some((mark) => mark.from === ghost.from);
  const outline = on.area(ghost.from, Math.max(ghost.to, ghost.from + LEAST_PIXELS / on.scale), i, 0.04, 0.96);
  return s("path", { class: same ? "ghost same" : "ghost", ...outline }, s("title", {}, t("week.ghost", { name: ghost.name, when: dayAndClock(ghost.from) })));
}

/** Keys begin where they stood, at first where the first opening begins. */
function begin(spot, rows, brief) {
  if (spot && spot.row < rows.length) return spot;
  return { row: 0, hour: Math.floor(Math.min(...openingsOf(brief).map((each) => each.from), 17) * 2) / 2 };
}

/** In the middle of the ring what matters most: the hours between the closest hits. */
function centre({ x, y }, plan) {
  const close = plan && tightest(plan);
  return close ? [s("text", { class: "hours", x, y, "text-anchor": "middle" }, hoursText(close.hours)), s("text", { class: "clock", x, y: y + 20, "text-anchor": "middle" }, t("week.centre"))] : null;
}

const plain = (name) => name.replace(/ \(.*\)$/, "");
const pen = document.createElement("canvas").getContext("2d");

/** A name as far as there is room, in pixels: letters differ in width, and so do the faces that a machine has. */
function shortened(name, room, bold) {
  pen.font = `${bold ? 700 : 400} 12.5px ${getComputedStyle(document.body).fontFamily}`;
  const fits = (text) => pen.measureText(text).width <= room;
  let text = plain(name);
  if (fits(text)) return text;
  while (text && !fits(`${text}…`)) text = text.slice(0, -1).trimEnd();
  return `${text}…`;
}

const MOST_SHOWN = 3;

/** The same in words: the sentence that matters, with its figure large; what gives way. */
export function said(plan, { figure }) {
  const close = tightest(plan);
  const apart = close && close.hours + 0.01 >= (close.asked ?? 0);
  const broken = plan.rules.flatMap((rule) => (rule.measure ? [] : rule.findings)).filter((found) => found.breach > 0);
  const standings = broken.map((found) => (found.mode === "wish" ? "week.gives-way" : found.breach > found.conceded ? "week.broken" : "week.conceded"));
  const counted = [...new Set(standings)].map((each) => t(each, { n: standings.filter((other) => other === each).length }));
  return [
    h("div", { class: "verdict-line" },
      close && figure ? h("p", { class: apart ? "closest" : "closest close", "aria-hidden": "true" }, t("hours", { n: Math.floor(close.hours + 0.01) })) : null,
      h("div", {},
        h("p", { id: "week-said", class: "said" }, close ? t(!apart ? "week.too-close" : close.asked === null ? "week.apart.unasked" : "week.apart", { name: plain(close.name), hours: hoursText(close.hours), asked: hoursText(close.asked ?? 0) }) : t("week.no-gap")),
        h("p", {}, h("b", {}, t(`status.${plan.status}`)), " ", broken.length ? h("a", { href: "#proof-title" }, counted.join(" ")) : t("proof.all-kept")))),
    broken.length ? h("ul", { class: "moves gives" }, broken.slice(0, MOST_SHOWN).map((found) => h("li", { class: "worse" }, breach(plan, found)))) : null,
  ];
}

/** Every gap as a table, for those who read rather than look. */
export function gaps(plan) {
  const rows = plan.ledger.filter(hasGoal);
  if (!rows.length) return null;
  return h("details", { id: "week-table", class: "noprint" }, h("summary", {}, t("week.table")),
    h("div", { class: "wide", tabindex: 0, role: "region", "aria-label": t("week.table") }, h("table", { class: "figures" }, h("caption", { class: "unseen" }, t("week.table")),
      h("thead", {}, h("tr", {}, ["muscle", "sessions", "gaps", "asked"].map((each) => h("th", { scope: "col" }, t(`week.table.${each}`))))),
      h("tbody", {}, rows.map((row) => h("tr", {}, h("th", { scope: "row" }, told(row.name)),
        h("td", {}, row.hit_sessions.map((number) => dayAndClock(sessionsOf(plan)[number].from)).join(", ")),
        h("td", {}, row.hours_between_hits.map(hoursText).join(", ")), h("td", {}, row.recovery_hours === null ? "–" : hoursText(row.recovery_hours))))))));
}

/** Beside each session its start, where there is room. */
function starts(on, rows) {
  return rows.map((row, i) => row.sort === "kind" && row.marks.map((mark) => s("text", { class: "start", "aria-hidden": "true", ...on.beside(mark.from, mark.to, i) }, clockOf(mark.from % 24))));
}

/** What the drawing's signs mean; only those that are in it. */
export function legend(brief, plan, base) {
  const marks = plan ? rowsOf(brief, plan).flatMap((row) => row.marks) : [];
  const item = (kind, fill) => h("span", { class: "piece" }, s("svg", { class: "key", viewBox: "0 0 22 12", "aria-hidden": "true" }, s("rect", { class: kind, x: 0.5, y: 1, width: 21, height: 10, fill: fill ?? null, opacity: kind === "tail" ? 0.4 : null })), t(`legend.${kind.split(" ").at(-1)}`));
  return h("p", { class: "key small noprint" },
    plan ? [item("mark"), h("span", { class: "muscle" }, item("mark hit"))] : null,
    marks.some((mark) => !mark.hit) ? item("mark light") : null,
    marks.some((mark) => mark.tail) ? item("tail") : null,
    marks.some((mark) => mark.missing) ? item("missing", "url(#hatch-warn)") : null,
    item("opening"), openingsOf(brief).some((each) => each.preference === "preferred") ? item("opening preferred") : null,
    busyOf(brief).length ? item("busy", "url(#hatch)") : null, base ? item("ghost") : null,
    brief.week.repeats ? h("span", { class: "ring" }, t("week.ring")) : null);
}

export function definitions() {
  const hatch = (id, kind, line) => s("pattern", { id, width: 5, height: 5, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" }, s("path", { class: kind, d: `M0 ${line}H5` }));
  return s("svg", { class: "unseen", "aria-hidden": "true", width: 0, height: 0 }, s("defs", {}, hatch("hatch", "hatch", 2), hatch("hatch-warn", "hatch-warn", 2)));
}
