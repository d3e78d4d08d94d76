"""Every brief in scenarios/ is solved, refereed, held against its own ``expect`` block, stored and exported.

What an ``expect`` block may say (anything else is refused, see :class:`Expect`):

======================  =============================================================================================
``status``              "proved best" or "impossible"; always there
``sessions``            how many sessions the week has, done ones included
``tier_1``              cost of the wishes that give way, exactly
``tier_1_most``         the same, at most
``days``                ``[{kind: back, on: [mon, thu]}]``: the days on which sessions of a kind lie, in order
``gaps``                ``[{from: back, to: legs, hours: 48}]``: elapsed hours from the end of one session to the start
                        of another, at least; history counts, and in a repeating week so does the next round
``counted``             ``{lats: {least: 10, most: 18}}``: counted sets a week, added up here from the plan's entries
``uses``, ``avoids``    exercises or patterns that the week has, or has nowhere
``order``               exercises that one session has in this order, one right after the other
``place_of``            ``{legs: gym}``: where all sessions of a kind are
``load_most``           ``{dumbbells: 30}``: no load on it is above so many kg, and one load at least is given
``reps_least``          no set asks for fewer reps
``reserve_least``       no set leaves fewer reps in reserve
``add_on``              the one kind whose sessions carry add-ons, at their end
``pairs_least``         pairs of exercises that share rests, at least, over the week
``rest_days_least``     days of the week without a session, at least
``breaks``              rules of tier 1 that give way: exactly these
``keeps``               rules that are kept, each with something to check
``cautions``            keys of cautions shown with the plan, besides "always": exactly these
======================  =============================================================================================

Hours, counted sets, pairs, loads and rest days are measured here, not read from the referee's report.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Literal

import pytest
from icalendar import Calendar
from pydantic import Field, model_validator

from scheduler.briefs import read_brief
from scheduler.calendars import write_ics
from scheduler.data import load_catalogue
from scheduler.domain.brief import Brief
from scheduler.domain.plan import Entry, Plan, PlannedSession, PlanStatus, Role
from scheduler.domain.units import DAYS, Day, Frozen
from scheduler.planning import check, solve
from scheduler.reports import render_csv, render_html
from scheduler.rules import RULES_BY_KEY

FOLDER = Path(__file__).resolve().parents[1] / "scenarios"
FILES = sorted(FOLDER.glob("*.yaml"))
CATALOGUE = load_catalogue()
TIER_OF_WISHES = 1


class KindDays(Frozen):
    kind: str
    on: tuple[Day, ...]


class Gap(Frozen):
    one: str = Field(alias="from")
    other: str = Field(alias="to")
    hours: float = Field(gt=0)


class Between(Frozen):
    least: float = Field(default=0, ge=0)
    most: float = Field(default=200, ge=0)


class Expect(Frozen):
    """What a scenario must show; the module's text says what each key means."""

    status: Literal["proved best", "impossible"]
    sessions: int | None = None
    tier_1: int | None = None
    tier_1_most: int | None = None
    days: tuple[KindDays, ...] = ()
    gaps: tuple[Gap, ...] = ()
    counted: dict[str, Between] = Field(default_factory=dict)
    uses: tuple[str, ...] = ()
    avoids: tuple[str, ...] = ()
    order: tuple[str, ...] = ()
    place_of: dict[str, str] = Field(default_factory=dict)
    load_most: dict[str, float] = Field(default_factory=dict)
    reps_least: int | None = None
    reserve_least: int | None = None
    add_on: str | None = None
    pairs_least: int | None = None
    rest_days_least: int | None = None
    breaks: tuple[str, ...] | None = None
    keeps: tuple[str, ...] = ()
    cautions: tuple[str, ...] | None = None

    @model_validator(mode="after")
    def _says_something(self) -> Expect:
        if self.status == "impossible":
            if self.model_fields_set - {"status", "sessions"}:
                raise ValueError("an impossible week has nothing more to expect")
        elif self.sessions is None or (self.tier_1 is None) == (self.tier_1_most is None):
            raise ValueError("a week that can be solved expects its sessions, and either tier_1 or tier_1_most")
        return self


def expect_of(brief: Brief) -> Expect:
    assert brief.expect is not None, "no expect block"
    return Expect.model_validate(brief.expect)


# --- without a solve ----------------------------------------------------------------------------------------------


def test_no_two_people_have_one_name() -> None:
    """A server erases the data of a client by name."""
    names = [read_brief(path).lifter.name for path in FILES]
    assert len(set(names)) == len(names)


def test_there_are_enough_scenarios() -> None:
    assert len(FILES) >= 14


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_scenario_introduces_itself(path: Path) -> None:
    assert path.read_text(encoding="utf-8").startswith("# "), "no comment at the head"
    brief = read_brief(path)
    assert brief.title != "Training week"
    assert brief.story is not None
    assert "\n" not in brief.story.strip()


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_an_expect_block_names_what_there_is(path: Path) -> None:
    brief = read_brief(path)
    expect = expect_of(brief)
    known = {
        "kinds": (
            set(brief.kinds),
            [d.kind for d in expect.days]
            + [k for g in expect.gaps for k in (g.one, g.other)]
            + [*expect.place_of]
            + [k for k in (expect.add_on,) if k],
        ),
        "places": (set(brief.places), [*expect.place_of.values()]),
        "targets": ({*CATALOGUE.muscles, *CATALOGUE.groups}, [*expect.counted]),
        "exercises or patterns": ({*CATALOGUE.exercises, *CATALOGUE.patterns}, [*expect.uses, *expect.avoids]),
        "exercises": (set(CATALOGUE.exercises), [*expect.order]),
        "equipment": (set(CATALOGUE.equipment), [*expect.load_most]),
        "rules": (set(RULES_BY_KEY), [*(expect.breaks or ()), *expect.keeps]),
        "cautions": (set(CATALOGUE.cautions) | {"whole_back"}, [*(expect.cautions or ())]),
    }
    for what, (there, named) in known.items():
        assert set(named) <= there, f"unknown {what}: {sorted(set(named) - there)}"


# --- one solve a scenario -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_scenario_comes_out_as_expected(path: Path) -> None:
    """One test a scenario, so that each is solved once however the tests are shared out among processes."""
    brief = read_brief(path)
    expect = expect_of(brief)
    plan = solve(brief)
    wrong = [f"{checker.__name__.lstrip('_')}: {fault}" for checker in CHECKS for fault in checker(plan, expect)]
    assert not wrong, "\n".join(wrong)


def _solved(plan: Plan, expect: Expect) -> Iterator[str]:
    if plan.status != expect.status:
        yield f"{plan.status}, expected {expect.status}: {[(t.tier, t.value, t.bound) for t in plan.tiers]}"
    if plan.status is PlanStatus.OPTIMAL and not all(t.proved and t.value == t.bound for t in plan.tiers):
        yield "called proved, but a tier is not"
    if expect.sessions is not None and len(plan.sessions) != expect.sessions:
        yield f"{len(plan.sessions)} sessions, expected {expect.sessions}"
    wishes = next((t.value for t in plan.tiers if t.tier == TIER_OF_WISHES), None)
    if expect.tier_1 is not None and wishes != expect.tier_1:
        yield f"tier 1 is {wishes}, expected {expect.tier_1}"
    if expect.tier_1_most is not None and (wishes is None or wishes > expect.tier_1_most):
        yield f"tier 1 is {wishes}, expected at most {expect.tier_1_most}"


def _refereed(plan: Plan, expect: Expect) -> Iterator[str]:
    if not plan.tiers:
        return
    report = check(plan.brief, plan.sessions)
    if not report.holds:
        yield "the referee finds a must broken"
    solver = {t.tier: t.value for t in plan.tiers}
    referee = {t.tier: t.value for t in report.plan.tiers}
    if solver != referee:
        yield f"solver {solver}, referee {referee}"
    if report.plan.ledger != plan.ledger:
        yield "the ledger differs"


def _stored(plan: Plan, expect: Expect) -> Iterator[str]:
    if Plan.model_validate_json(plan.model_dump_json()) != plan:
        yield "the plan does not survive JSON"


def _exported(plan: Plan, expect: Expect) -> Iterator[str]:
    calendar = Calendar.from_ical(write_ics(plan))
    if len(calendar.walk("VEVENT")) != len(plan.sessions):
        yield "the calendar has not one event a session"
    page = render_html(plan)
    if "</html>" not in page:
        yield "the page does not end"
    rows = render_csv(plan).splitlines()
    if len(rows) < 1 + sum(len(s.entries) for s in plan.sessions):
        yield "the table lacks rows"


def _days(plan: Plan, expect: Expect) -> Iterator[str]:
    for asked in expect.days:
        found = tuple(DAYS[s.start.weekday()] for s in plan.sessions if s.kind == asked.kind)
        if found != asked.on:
            yield f"{asked.kind} on {', '.join(found)}; expected {', '.join(asked.on)}"


def _gaps(plan: Plan, expect: Expect) -> Iterator[str]:
    spans = sorted(_spans(plan))
    for asked in expect.gaps:
        found = [
            (later[0] - earlier[1]).total_seconds() / 3600
            for i, later in enumerate(spans)
            for earlier in spans[:i]
            if {earlier[2], later[2]} == {asked.one, asked.other}
        ]
        if not found:
            yield f"no {asked.one} and {asked.other} to measure"
        elif min(found) < asked.hours - 1e-9:
            yield f"{asked.one} and {asked.other} are {min(found):.2f} h apart, expected {asked.hours:g}"


def _spans(plan: Plan) -> Iterator[tuple[dt.datetime, dt.datetime, str]]:
    """Start and end in UTC and kind of every session, of the history too; of a repeating week twice."""
    zone = plan.brief.week.tz
    monday = dt.datetime.combine(plan.brief.week.start, dt.time(), zone).astimezone(dt.UTC)
    next_monday = plan.brief.week.start + dt.timedelta(days=7)
    week = dt.datetime.combine(next_monday, dt.time(), zone).astimezone(dt.UTC) - monday
    for session in plan.sessions:
        start, end = session.start.astimezone(dt.UTC), session.end.astimezone(dt.UTC)
        yield start, end, session.kind
        if plan.brief.week.repeats:
            yield start + week, end + week, session.kind
    for record in plan.brief.history:
        local = record.start if record.start.tzinfo else record.start.replace(tzinfo=zone)
        start = local.astimezone(dt.UTC)
        yield start, start + dt.timedelta(minutes=record.minutes), record.kind


def _counted(plan: Plan, expect: Expect) -> Iterator[str]:
    given = plan.brief.prescription.indirect_share
    share = 0.5 if given is None else given
    for target, asked in expect.counted.items():
        muscles = set(CATALOGUE.groups[target].muscles if target in CATALOGUE.groups else (target,))
        total = 0.0
        for entry in _entries(plan):
            if entry.role is not Role.ACTIVATION:
                row = CATALOGUE.exercises[entry.exercise]
                total += entry.sets * (1 if muscles & set(row.direct) else share if muscles & set(row.indirect) else 0)
        if not asked.least <= total <= asked.most:
            yield f"{target} gets {total:g} sets, expected {asked.least:g} to {asked.most:g}"


def _content(plan: Plan, expect: Expect) -> Iterator[str]:
    there = {e.exercise for e in _entries(plan)}
    there |= {CATALOGUE.exercises[e].pattern for e in there}
    yield from (f"{name} is not in the week" for name in expect.uses if name not in there)
    yield from (f"{name} is in the week" for name in expect.avoids if name in there)
    if expect.order:
        sessions = [[e.exercise for e in s.entries] for s in plan.sessions]
        n = len(expect.order)
        if not any(tuple(s[i : i + n]) == expect.order for s in sessions for i in range(len(s))):
            yield f"no session has {', '.join(expect.order)} in this order"
    for equipment, most in expect.load_most.items():
        loads = [
            e.load_kg
            for e in _entries(plan)
            if e.load_kg is not None and CATALOGUE.exercises[e.exercise].loaded_by == equipment
        ]
        if not loads:
            yield f"no load on {equipment}"
        elif max(loads) > most:
            yield f"{max(loads):g} kg on {equipment}, expected at most {most:g}"
    if expect.reps_least is not None:
        yield from (f"{e.name} has {e.reps} reps" for e in _entries(plan) if e.reps < expect.reps_least)
    if expect.reserve_least is not None:
        few = (e for e in _entries(plan) if e.reps_in_reserve < expect.reserve_least)
        yield from (f"{e.name} leaves {e.reps_in_reserve} in reserve" for e in few)
    if expect.add_on is not None:
        carrying = [s for s in plan.sessions if any(e.role is Role.ADD_ON for e in s.entries)]
        if not carrying or {s.kind for s in carrying} != {expect.add_on}:
            yield f"add-ons in {[s.kind for s in carrying]}, expected in {expect.add_on}"
        if any(s.entries[-1].role is not Role.ADD_ON for s in carrying):
            yield "an add-on is not last"
    if expect.pairs_least is not None:
        pairs = sum(_pairs(s) for s in plan.sessions)
        if pairs < expect.pairs_least:
            yield f"{pairs} pairs, expected {expect.pairs_least}"


def _pairs(session: PlannedSession) -> int:
    numbers = [e.pair for e in session.entries if e.pair is not None]
    assert all(numbers.count(n) == 2 for n in numbers)
    return len(set(numbers))


def _placed(plan: Plan, expect: Expect) -> Iterator[str]:
    for kind, place in expect.place_of.items():
        found = {s.place for s in plan.sessions if s.kind == kind}
        if found != {place}:
            yield f"{kind} at {found}, expected {place}"
    if expect.rest_days_least is not None:
        rest = 7 - len({s.start.date() for s in plan.sessions})
        if rest < expect.rest_days_least:
            yield f"{rest} rest days, expected {expect.rest_days_least}"


def _reported(plan: Plan, expect: Expect) -> Iterator[str]:
    rules = {r.rule: r for r in plan.rules}
    if expect.breaks is not None:
        broken = {r.rule for r in plan.rules if r.tier == TIER_OF_WISHES and not r.kept}
        if broken != set(expect.breaks):
            yield f"{sorted(broken)} give way, expected {sorted(expect.breaks)}"
    for key in expect.keeps:
        if not (rules[key].kept and rules[key].findings):
            yield f"{key} is broken or has nothing to check"
    shown = {note.key for note in plan.cautions}
    if "always" not in shown:
        yield "the general caution is missing"
    if expect.cautions is not None and shown - {"always"} != set(expect.cautions):
        yield f"cautions {sorted(shown)}, expected {sorted(expect.cautions)}"


def _entries(plan: Plan) -> Iterator[Entry]:
    for session in plan.sessions:
        yield from session.entries


CHECKS: tuple[Callable[[Plan, Expect], Iterator[str]], ...] = (
    _solved,
    _refereed,
    _stored,
    _exported,
    _days,
    _gaps,
    _counted,
    _content,
    _placed,
    _reported,
)
