// A week in small: its sessions on 168 hours, a line a kind. To tell weeks apart that stand side by side.

import { h, s } from "./dom.js";
import { DAYS, WEEK_HOURS, dayAndClock, dayShort } from "./time.js";
import { sessionsOf } from "./weekmodel.js";

const LINE = 9;

/** `base` is the week that it is told apart from: its sessions that this one has not within an hour, as ghosts. */
export function strip(plan, base = null) {
  const kinds = Object.keys(plan.brief.kinds);
  const sessions = sessionsOf(plan);
  const high = kinds.length * LINE;
  return [h("div", { class: "strip-days small", "aria-hidden": "true" }, DAYS.map((_, day) => h("span", {}, dayShort(day)))), s("svg", { class: "strip", viewBox: `0 0 ${WEEK_HOURS} ${high}`, preserveAspectRatio: "none", role: "img", "aria-label": sessions.map((each) => `${each.name} ${dayAndClock(each.from)}`).join(", ") },
    Array.from({ length: 8 }, (_, day) => s("path", { class: "day-line", d: `M${day * 24} 0V${high}` })),
    base ? sessionsOf(base).filter((old) => !sessions.some((each) => each.kind === old.kind && Math.abs(each.from - old.from) < 1)).map((old) => s("rect", { class: "ghost", x: old.from, y: kinds.indexOf(old.kind) * LINE + 0.5, width: Math.max(3, old.to - old.from), height: LINE - 1 })) : null,
    sessions.map((each) => s("rect", { class: "mark", x: each.from, y: kinds.indexOf(each.kind) * LINE + 1, width: Math.max(3, each.to - each.from), height: LINE - 2 })))];
}
