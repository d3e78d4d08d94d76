// What the picture of the week shows, in hours since Monday: no drawing here.

import { DAYS, WEEK_HOURS, WeekClock, hoursOf } from "./time.js";
import { word } from "./words.js";

const wrap = (hours) => ((hours % WEEK_HOURS) + WEEK_HOURS) % WEEK_HOURS;

export function openingsOf(brief) {
  return brief.openings.flatMap((opening) => [opening.day].flat().map((day) => {
    const start = DAYS.indexOf(day) * 24;
    return { from: start + hoursOf(opening.start), to: start + hoursOf(opening.end), place: opening.place, preference: opening.preference ?? "neutral" };
  }));
}

export function busyOf(brief) {
  const clock = new WeekClock(brief.week);
  return (brief.busy ?? [])
    .map((busy) => ({ from: Math.max(0, clock.hours(busy.start)), to: Math.min(WEEK_HOURS, clock.hours(busy.end)), title: busy.title ?? "" }))
    .filter((busy) => busy.to > busy.from);
}

export const kindName = (brief, kind) => brief.kinds[kind]?.name ?? word("kind", kind);

/** Hours that sessions of a kind ask for after themselves: the longest of its spaced pairs. */
function spacingOf(brief, kind) {
  const rule = brief.rules?.spacing;
  if (!rule || rule.mode === "off") return 0;
  return Math.max(0, ...(rule.pairs ?? []).filter((pair) => pair.from === kind || pair.to === kind).map((pair) => pair.hours));
}

function placed(plan, found, number, clock) {
  return { number, kind: found.kind, name: found.name, from: wrap(clock.hours(found.start)), to: wrap(clock.hours(found.start)) + (Date.parse(found.end) - Date.parse(found.start)) / 3_600_000, start: found.start, end: found.end, state: found.state };
}

export function sessionsOf(plan) {
  const clock = new WeekClock(plan.brief.week);
  return plan.sessions.map((found, number) => placed(plan, found, number, clock));
}

const end = (clock, session, hours) => session.from + (clock.after(session.end, hours) - clock.hours(session.start));

export const hasGoal = (row) => row.aim !== null || row.least !== null;

/** Rows of the picture: one a kind, then one a muscle with a goal. */
export function rowsOf(brief, plan) {
  const clock = new WeekClock(brief.week);
  const sessions = plan ? sessionsOf(plan) : [];
  const kinds = Object.keys(brief.kinds).map((kind) => ({
    kind, name: kindName(brief, kind), sort: "kind",
    marks: sessions.filter((each) => each.kind === kind).map((each) => {
      const asked = spacingOf(brief, kind);
      return { ...each, hit: true, share: 1, tail: asked ? end(clock, each, asked) : null, asked };
    }),
  }));
  if (!plan) return kinds;
  const muscles = plan.ledger.filter(hasGoal).map((row) => {
    const most = Math.max(1, ...plan.ledger.flatMap((each) => each.sets_by_session));
    const marks = sessions.filter((each) => row.sets_by_session[each.number] > 0).map((each) => {
      const hit = row.hit_sessions.includes(each.number);
      const sets = row.sets_by_session[each.number];
      return { ...each, hit, sets, share: sets / most, tail: hit && row.recovery_hours ? end(clock, each, row.recovery_hours) : null, asked: row.recovery_hours };
    });
    const gaps = row.hours_between_hits;
    const closest = gaps.length ? { closest: Math.min(...gaps), asked: row.recovery_hours } : {};
    return { target: row.target, name: row.name, sort: "muscle", marks: withOverlaps(marks, brief.week.repeats), ...closest };
  });
  return [...kinds, ...muscles];
}

/** Where a hit falls into the tail of the one before, the part of the tail that is missing. */
function withOverlaps(marks, repeats) {
  const hits = marks.filter((mark) => mark.hit);
  for (const [i, mark] of hits.entries()) {
    const next = hits[i + 1] ?? (repeats && hits.length > 1 ? { from: hits[0].from + WEEK_HOURS } : null);
    if (next && mark.tail !== null && mark.tail > next.from + 0.01) mark.missing = [next.from, mark.tail];
  }
  return marks;
}

/** What is at half an hour of a row: an opening, a busy time, a session, recovery that still runs (until which hour). */
export function spotOf(brief, row, hour) {
  const covers = (each) => each.from < hour + 0.5 && each.to > hour;
  const later = brief.week.repeats ? hour + WEEK_HOURS : hour;
  const tails = row.marks.filter((mark) => mark.tail > hour && mark.to <= hour || mark.tail > later && mark.to <= later);
  return { opening: openingsOf(brief).find(covers), busy: busyOf(brief).find(covers), mark: row.marks.find(covers), resting: tails.at(-1)?.tail };
}

/**
 * The two hits that lie closest: the answer to "is the hard work far enough apart?" Those that lie closer than is asked
 * come first, by how much. `asked` is null for a group, of which nothing is asked unless its goal does.
 */
export function tightest(plan) {
  const found = plan.ledger
    .filter((row) => hasGoal(row) && row.hours_between_hits.length)
    .map((row) => ({ name: row.name, hours: Math.min(...row.hours_between_hits), asked: row.recovery_hours }));
  const lacking = ({ hours, asked }) => Math.max(0, (asked ?? 0) - hours - 0.01);
  return found.sort((a, b) => lacking(b) - lacking(a) || a.hours - b.hours)[0] ?? null;
}
