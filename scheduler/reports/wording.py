"""Words and figures that the reports share, so that one plan reads the same on screen, on paper and in a sheet.

Nothing here knows about a terminal or a page. Text may hold ``–`` and ``×``; a report that cannot show them folds them.
"""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from collections.abc import Iterable

from scheduler.domain.plan import (
    CautionNote,
    Finding,
    LedgerRow,
    Mode,
    Plan,
    PlannedSession,
    PlanStatus,
    Role,
    RuleReport,
    TierResult,
    Zone,
)
from scheduler.domain.units import DAYS
from scheduler.domain.wording import counted, listed, minutes, short_day_time

MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
"""Spelled here because strftime follows the machine's locale, and one plan must give one text everywhere."""

ROLE_WORDS = {Role.ACTIVATION: "activation", Role.MAIN: "", Role.ADD_ON: "add-on"}

STANDING_CAUTION = CautionNote(
    key="standing",
    text=(
        "General information, not medical advice. Screen first (PAR-Q+ or its local equivalent), stop on sharp pain, "
        "and let a clinician's or a qualified coach's word come first."
    ),
    source="PAR-Q+",
)
"""Stands in when a plan arrives without cautions: no report goes out bare."""

BROKEN = "Musts broken"
CONCEDED = "Musts that gave way, as the brief concedes"
GAVE_WAY = "What gave way"
ONE_OF_TWO = "Loads of dumbbells and kettlebells are those of one of them."
BUILD_UP = (
    "Before the sets of an exercise with 6 or fewer reps build up in two or three lighter ones: they are not listed, "
    "their minutes are planned."
)
NO_LOAD = (
    "Where no load is given, no recent lift tells it well enough: take one that leaves the stated reps in reserve."
)


def plain(text: str) -> str:
    """One line without control or text-direction characters: a name must not move the cursor or reorder a line."""
    return "".join(c for c in " ".join(text.split()) if unicodedata.category(c) != "Cc" and c not in _DIRECTION)


_DIRECTION = frozenset("\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def number(value: float) -> str:
    """12 for 12.0, 12.5 for 12.5."""
    return f"{value:g}"


def rest_clock(seconds: int) -> str:
    """A rest interval in minutes and seconds: 2:30."""
    return f"{seconds // 60}:{seconds % 60:02d}"


def load(value: float | None) -> str:
    """'62.5 kg', or nothing where no recent lift tells."""
    return "" if value is None else f"{value:g} kg"


def date(day: dt.date) -> str:
    """'4 May'."""
    return f"{day.day} {MONTHS[day.month - 1]}"


def short_date(day: dt.date) -> str:
    """'4 Nov'."""
    return f"{day.day} {MONTHS[day.month - 1][:3]}"


def day_date(day: dt.date) -> str:
    """'Monday 4 May'."""
    return f"{DAYS[day.weekday()].full_name} {date(day)}"


def local(plan: Plan, moment: dt.datetime) -> dt.datetime:
    """The moment on the clock of the brief's zone; a time without offset already is on that clock."""
    return moment.astimezone(plan.brief.week.tz) if moment.tzinfo else moment


def clock_span(plan: Plan, session: PlannedSession) -> str:
    """'18:00–19:05' on the brief's clock."""
    start, end = local(plan, session.start), local(plan, session.end)
    later = " next day" if end.date() > start.date() else ""
    return f"{start:%H:%M}–{end:%H:%M}{later}"


def place(plan: Plan, session: PlannedSession) -> str:
    """The place's name as the brief gives it, or its key; nothing where the plan names none."""
    if session.place is None:
        return ""
    known = plan.brief.places.get(session.place)
    return plain(known.name if known is not None and known.name else session.place)


def week_line(plan: Plan) -> str:
    week = plan.brief.week
    repeats = ", repeating" if week.repeats else ""
    return f"Week of {day_date(week.start)} {week.start.year}{repeats}, {week.zone} time"


def week_total(plan: Plan) -> str:
    """'5 sessions, 5 h 25 min, 84 working sets and 4 activation sets'."""
    length = minutes(sum(session.minutes for session in plan.sessions))
    return f"{counted(len(plan.sessions), 'session')}, {length}, {work(*plan.sessions)}"


def work(*sessions: PlannedSession) -> str:
    """'16 working sets and 2 activation sets': no other figure counts the light ones, so they stand apart."""
    working = sum(session.working_sets for session in sessions)
    light = sum(entry.sets for session in sessions for entry in session.entries) - working
    beside = [counted(light, "activation set")] if light else []
    return listed([counted(working, "working set"), *beside])


def by_day(plan: Plan) -> list[tuple[dt.date, list[PlannedSession]]]:
    """Each date of the week, Monday first, with the sessions that start on it."""
    dates = [plan.brief.week.start + dt.timedelta(days=n) for n in range(7)]
    return [(date, [s for s in plan.sessions if local(plan, s.start).date() == date]) for date in dates]


def status_line(plan: Plan) -> str:
    """What has been proved of this plan, in a sentence or two."""
    breaches = dict(not_kept(plan))
    broken, conceded = (len(breaches.get(heading, ())) for heading in (BROKEN, CONCEDED))
    match plan.status:
        case PlanStatus.OPTIMAL:
            line = "Proved best: of all weeks that keep every must, none is better, tier by tier."
        case PlanStatus.FEASIBLE:
            line = f"Feasible with bound: keeps every must, not proved best. {_distance(plan.tiers)}"
        case PlanStatus.IMPOSSIBLE:
            return "Impossible: no week keeps every must of this brief."
        case PlanStatus.STOPPED if not plan.sessions:
            return "Stopped before any week was found: this says nothing on whether one exists."
        case PlanStatus.STOPPED:
            line = f"Stopped before the proof was done: the best week found until then. {_distance(plan.tiers)}"
        case PlanStatus.CHECKED:
            line = "Checked, not solved: the plan was handed in."
            line += "" if broken or conceded else " Every must is kept."
    if broken:
        line += f" {counted(broken, 'must')} {'is' if broken == 1 else 'are'} broken."
    if conceded:
        line += f" {counted(conceded, 'must')} {'gives' if conceded == 1 else 'give'} way, as the brief concedes."
    return line.strip()


def _distance(tiers: Iterable[TierResult]) -> str:
    """How far the proof is, tier by tier."""
    parts = [
        f"{plain(t.name)} stands at {t.value} and cannot go below {t.bound}"
        for t in tiers
        if not t.proved and t.value > t.bound
    ]
    return f"Tier by tier: {'; '.join(parts)}." if parts else ""


def tier_proof(plan: Plan, tier: TierResult) -> tuple[str, str]:
    """The bound of a tier and how far it is proved; of a plan that was handed in nothing is."""
    if plan.status is PlanStatus.CHECKED:
        return "-", "as handed in"
    return str(tier.bound), "proved" if tier.proved else f"{tier.value - tier.bound} above the bound"


def not_kept(plan: Plan) -> list[tuple[str, list[tuple[RuleReport, Finding]]]]:
    """What this plan does not keep, each group under its heading, the gravest first; measures give way to nothing."""
    groups: dict[str, list[tuple[RuleReport, Finding]]] = {BROKEN: [], CONCEDED: [], GAVE_WAY: []}
    for rule in plan.rules:
        for finding in (f for f in rule.findings if f.breach):
            if finding.mode is Mode.MUST:
                groups[BROKEN if finding.broken else CONCEDED].append((rule, finding))
            elif not rule.measure:
                groups[GAVE_WAY].append((rule, finding))
    return [(heading, findings) for heading, findings in groups.items() if findings]


def sessions_of(plan: Plan, finding: Finding) -> str:
    """The sessions that make a breach: 'Wed 17:45 Legs and Thu 22:50 Push'; empty where it is the whole week's."""
    named = [plan.sessions[n] for n in finding.sessions]
    texts = [f"{short_day_time(s.start)} {plain(s.name)}" for s in named]
    return listed(texts) if texts else ""


def measures_line(plan: Plan) -> str:
    """What the measures cost: 'Kept as small as possible: Few exercises 18, Favourites 3.'"""
    costs = [f"{plain(rule.title)} {rule.cost}" for rule in plan.rules if rule.measure and rule.cost]
    return f"Kept as small as possible: {', '.join(costs)}." if costs else ""


def rule_word(rule: RuleReport) -> str:
    """One word or two on how a rule fared."""
    if rule.mode is Mode.OFF:
        return "off"
    if not rule.findings:
        return "nothing to check"
    if any(f.broken and f.mode is Mode.MUST for f in rule.findings):
        return "broken"
    if rule.measure:
        return "kept small"
    return "gave way" if any(f.breach for f in rule.findings) else "kept"


def rules_line(plan: Plan) -> str:
    """'21 rules: 15 kept, 2 gave way, 2 kept small, 1 with nothing to check, 1 off.'"""
    words = [rule_word(rule) for rule in plan.rules]
    shown = (
        *(("kept", "kept"), ("gave way", "gave way"), ("broken", "broken")),
        *(("kept small", "kept small"), ("nothing to check", "with nothing to check"), ("off", "off")),
    )
    parts = [f"{words.count(word)} {text}" for word, text in shown if word in words]
    return f"{counted(len(words), 'rule')}: {', '.join(parts)}." if parts else "No rules were looked at."


def muscle(row: LedgerRow) -> str:
    """The row's name as a table has room for it: 'Lats' for 'Lats (latissimus dorsi)'."""
    name = plain(row.name)
    return re.sub(r"\s*\([^()]*\)$", "", name) or name


def ledger_parts(plan: Plan) -> tuple[list[LedgerRow], list[LedgerRow]]:
    """The ledger's rows with goals, and the others."""
    asked = [row for row in plan.ledger if goals(row)]
    return asked, [row for row in plan.ledger if not goals(row)]


def ledger_mark(row: LedgerRow) -> str:
    """A word where the counted sets miss what was asked: below the least, short of the aim, above the most."""
    if row.least is not None and row.counted < row.least:
        return f"short {row.least - row.counted:g}"
    if row.most is not None and row.counted > row.most:
        return f"over {row.counted - row.most:g}"
    if row.aim is not None and row.counted < row.aim:
        return f"{row.aim - row.counted:g} to aim"
    return ""


def goals(row: LedgerRow) -> str:
    """Least, aim and most: '16/24/25', '-/-/12' where only the most is set, nothing where none is."""
    asked = (row.least, row.aim, row.most)
    return "/".join("-" if v is None else number(v) for v in asked) if any(v is not None for v in asked) else ""


def ledger_top(rows: Iterable[LedgerRow]) -> float:
    """The common scale of the bars of these rows, in sets."""
    return max((max(row.counted, row.aim or 0, row.most or 0) for row in rows), default=0) or 1


def entry_note(session: PlannedSession, index: int) -> str:
    """Role, sides and shared rests of the entry at ``index``: 'add-on, each side, shares rests with 4'."""
    entry = session.entries[index]
    others = [
        str(n + 1) for n, e in enumerate(session.entries) if e.pair is not None and e.pair == entry.pair and n != index
    ]
    # A space that does not break keeps the number with its word.
    shared = "shares rests with\u00a0" + " and\u00a0".join(others) if others else ""
    side = "each side" if entry.per_side else ""
    return ", ".join(part for part in (ROLE_WORDS[entry.role], side, shared) if part)


def cautions(plan: Plan) -> tuple[CautionNote, ...]:
    return plan.cautions or (STANDING_CAUTION,)


def how_to_read(plan: Plan) -> list[str]:
    """What is to be known of loads and sets before training from a plan."""
    entries = [entry for session in plan.sessions for entry in session.entries]
    said = (
        (NO_LOAD, any(entry.load_kg is None for entry in entries)),
        (ONE_OF_TWO, any(entry.one_of_two and entry.load_kg is not None for entry in entries)),
        (BUILD_UP, any(entry.zone is Zone.HEAVY for entry in entries)),
    )
    return [text for text, so in said if so]


def fingerprint_line(plan: Plan, *, digits: int = 12) -> str:
    """What the plan was made from: the same four give the same plan."""
    print_ = plan.fingerprint
    return (
        f"Weekwright {plain(print_.version)}, seed {print_.seed}, "
        f"brief {plain(print_.brief_sha256)[:digits]}, catalogue {plain(print_.catalogue_sha256)[:digits]}"
    )


def time_taken(plan: Plan) -> str:
    times = plan.timings
    parts = (("built", times.build_seconds), ("solved", times.solve_seconds), ("refereed", times.referee_seconds))
    return ", ".join(f"{word} in {seconds:.2f} s" for word, seconds in parts).capitalize()
