"""The block's referee: borders, ramps, loads, variety and easy weeks, from the plans alone. No solver.

Every week was refereed by itself; here each is looked at again beside what the weeks before it really hold.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from scheduler import referee
from scheduler.answers.replan import record_of
from scheduler.blocks.figures import instance_alone, rows
from scheduler.blocks.schedule import WeekSpec, run_ends
from scheduler.blocks.weeks import WEEK, at_week, base_of, placed
from scheduler.data import load_catalogue
from scheduler.domain import wording
from scheduler.domain.block import BlockFinding, BlockSettings, BlockWeek, WeekRole
from scheduler.domain.brief import Brief, SessionRecord
from scheduler.domain.catalogue import Caution
from scheduler.domain.plan import LedgerRow, Mode, Role
from scheduler.domain.units import GRAMS_PER_KG
from scheduler.facts import WeekFacts

_BORDER_RULES = ("recovery", "spacing", "rest_days", "lower_back")


def review(
    brief: Brief,
    settings: BlockSettings,
    weeks: Sequence[BlockWeek],
    done: Mapping[int, Sequence[SessionRecord]] | None = None,
) -> tuple[BlockFinding, ...]:
    """What holds over the weeks of a block, one finding a demand.

    Args:
        done: by week, what a log says was done instead of what was planned.
    """
    planned = [w for w in weeks if w.plan.tiers]
    return (
        _each_week(weeks),
        *_borders(planned, done or {}),
        *_rise(planned),
        _ramp(planned),
        *_steady(planned),
        _load_steps(planned),
        *_easy(planned),
        _easy_spacing(settings),
        *_distinct(brief, settings, planned),
    )


_A_PATH = 2
"""Building weeks from which there is something to rise."""


def _each_week(weeks: Sequence[BlockWeek]) -> BlockFinding:
    found = [f"week {w.number}: {w.plan.status.value}" for w in weeks if not w.plan.tiers]
    for week in weeks:
        facts = _facts(week.plan.brief, week)
        broken = referee.review(facts).broken_musts if week.plan.tiers else ()
        found += [f"week {week.number}: {f.sentence} {f.breach_text}" for f in broken]
    return _finding("weeks", "Every week keeps its musts.", found, must=True)


def _finding(key: str, sentence: str, found: Iterable[str], *, must: bool = False, source: str = "") -> BlockFinding:
    """A demand that is kept where nothing was found against it."""
    told = tuple(found)
    return BlockFinding(key=key, sentence=sentence, kept=not told, must=must, found=told, source=source)


def _facts(brief: Brief, week: BlockWeek) -> WeekFacts:
    return referee.facts_of(instance_alone(brief), week.plan.sessions)


def _borders(weeks: Sequence[BlockWeek], done: Mapping[int, Sequence[SessionRecord]]) -> Iterable[BlockFinding]:
    """Each week after what the weeks before it hold, whatever history it was planned with."""
    musts: list[str] = []
    wishes: list[str] = []
    records: list[SessionRecord] = list(weeks[0].plan.brief.history) if weeks else []
    for week in weeks:
        brief = week.plan.brief
        start = brief.week.start
        recent = [placed(r, brief) for r in records if start - 2 * WEEK <= _date(r, brief) < start]
        facts = _facts(brief.model_copy(update={"history": tuple(recent)}), week)
        alone = _facts(brief.model_copy(update={"history": ()}), week)
        before = {f.switch: f.breach for r in referee.review(alone).rules for f in r.findings}
        for report in referee.review(facts).rules:
            if report.rule not in _BORDER_RULES:
                continue
            for f in report.findings:
                if f.breach <= max(f.conceded, before.get(f.switch, 0)):
                    continue
                (musts if f.mode is Mode.MUST else wishes).append(f"week {week.number}: {f.breach_text}")
        sessions = done.get(week.number)
        records += sessions if sessions is not None else [record_of(s) for s in week.plan.sessions]
    yield _finding("borders", "Recovery, spacing and rest hold from each week to the next.", musts, must=True)
    yield _finding("border_wishes", "What is only wished of recovery holds from each week to the next.", wishes)


def can_follow(brief: Brief, spec: WeekSpec, before: Sequence[SessionRecord], usual: Sequence[SessionRecord]) -> bool:
    """Whether the usual sessions of a week keep the musts between sessions after those of the week before."""
    base = base_of(brief, spec)
    ahead = tuple(at_week(record, spec.number - 1, base) for record in usual)
    history = tuple(placed(record, base) for record in before)
    settled = instance_alone(base.model_copy(update={"history": history, "previous": ahead}))
    facts = WeekFacts(settled, settled.previous)
    findings = (f for r in referee.review(facts).rules if r.rule in _BORDER_RULES for f in r.findings)
    return not any(f.mode is Mode.MUST and f.broken for f in findings)


def _date(record: SessionRecord, brief: Brief) -> dt.date:
    start = record.start
    return (start.astimezone(brief.week.tz) if start.tzinfo else start).date()


def _rise(weeks: Sequence[BlockWeek]) -> Iterable[BlockFinding]:
    """From the first building week to the last, of the muscles whose aim rises.

    A week's exercises may come to more than a low aim asks, for each has its least sets: then only effort and loads
    rise, which has to be said.
    """
    building = [w for w in weeks if w.role is WeekRole.BUILD]
    if len(building) < _A_PATH:
        return
    first, last = ({row.target: row for row in _asked(week)} for week in (building[0], building[-1]))
    rising = [(first[key], row) for key, row in last.items() if key in first and (row.aim or 0) > (first[key].aim or 0)]
    if rising:
        yield _finding(
            "rise",
            "Counted sets rise where the aim does, from the first building week to the last. Where they do not, the "
            "exercises come to more than the first weeks ask: fewer sets of each (sets_per_exercise) or fewer "
            "exercises leave room to rise.",
            [
                f"{one.name}: aim {one.aim:g} to {other.aim:g}, counted {one.counted:g} to {other.counted:g}"
                for one, other in rising
                if other.counted <= one.counted
            ],
        )


def _ramp(weeks: Sequence[BlockWeek]) -> BlockFinding:
    """Building week after building week; an easy one between them is passed over."""
    catalogue = load_catalogue()
    percent = catalogue.default_int("ramp_percent")
    free = catalogue.default_int("ramp_free_sets")
    found = []
    for one, other in pairwise([w for w in weeks if w.role is WeekRole.BUILD]):
        last = {row.target: row.counted for row in _asked(one)}
        for row in _asked(other):
            was = last.get(row.target)
            if was is not None and row.counted > max(was * (100 + percent) / 100, was + free):
                found.append(f"week {other.number}: {row.name} {was:g} to {row.counted:g}")
    return _finding(
        "ramp",
        f"Counted sets rise from one building week to the next by at most {percent} % or {free} sets.",
        found,
        source=catalogue.evidence["ramp_percent"].source,
    )


def _steady(weeks: Sequence[BlockWeek]) -> Iterable[BlockFinding]:
    """In pregnancy no building week has more sets than the one before it, with a goal or without."""
    found = []
    building = [w for w in weeks if w.role is WeekRole.BUILD]
    if not any(Caution.PREGNANCY in w.plan.brief.lifter.cautions for w in building):
        return
    for one, other in pairwise(building):
        was, now = (sum(s.working_sets for s in w.plan.sessions) for w in (one, other))
        if now > was:
            found.append(f"week {other.number}: {was} to {now} sets in all")
        last = {row.target: row.counted for row in one.plan.ledger}
        found += [
            f"week {other.number}: {row.name} {last[row.target]:g} to {row.counted:g}"
            for row in other.plan.ledger
            if row.target in last and row.counted >= last[row.target] + 1
        ]
    yield _finding("steady", "In pregnancy sets do not rise from one building week to the next.", found)


def _load_steps(weeks: Sequence[BlockWeek]) -> BlockFinding:
    """The load of an exercise in one rep zone from one building week to the next in which it comes."""
    catalogue = load_catalogue()
    _, most = _pair(catalogue.evidence["load_step_percent"].value)
    found = []
    last: dict[tuple[str, int], float] = {}
    for week in (w for w in weeks if w.role is WeekRole.BUILD):
        instance = instance_alone(week.plan.brief)
        now: dict[tuple[str, int], float] = {}
        for session in week.plan.sessions:
            for e in session.entries:
                if e.load_kg is None or e.role is Role.ACTIVATION:
                    continue
                key = (e.exercise, e.reps)
                now[key] = max(e.load_kg, now.get(key, 0.0))
                was = last.get(key)
                if was is None or e.load_kg <= was * (1 + most / 100):
                    continue
                limits = instance.limits(e.exercise, session.place)
                if limits is None or e.load_kg - was > limits.step / GRAMS_PER_KG:
                    found.append(f"week {week.number}: {e.name} {was:g} to {e.load_kg:g} kg")
        last |= now
    return _finding(
        "load_steps",
        f"No load rises by more than {most} % at a time, or by more than one step of the equipment.",
        dict.fromkeys(found),
        source=catalogue.evidence["load_step_percent"].source,
    )


def _pair(value: object) -> tuple[int, int]:
    assert isinstance(value, tuple)
    return value


def _easy(weeks: Sequence[BlockWeek]) -> Iterable[BlockFinding]:
    """Less work for every muscle than the week before, on no more days, with more in reserve."""
    catalogue = load_catalogue()
    more: list[str] = []
    days: list[str] = []
    effort: list[str] = []
    reps: list[str] = []
    easy = [(one, other) for one, other in pairwise(weeks) if other.role is WeekRole.EASY]
    if not easy:
        return
    for one, other in easy:
        last = {row.target: row.counted for row in one.plan.ledger}
        more += [
            f"week {other.number}: {row.name} {last.get(row.target, 0.0):g} to {row.counted:g}"
            for row in other.plan.ledger
            if row.counted and row.counted >= last.get(row.target, 0.0)
        ]
        before, after = (len({s.start.date() for s in w.plan.sessions}) for w in (one, other))
        if after > before:
            days.append(f"week {other.number}: {after} days after {before}")
        were = _reps(one)
        reps += [
            f"week {other.number}: {name} {were[name]} to {number}"
            for name, number in _reps(other).items()
            if number > were.get(name, number)
        ]
        if other.reps_in_reserve <= one.reps_in_reserve:
            effort.append(f"week {other.number}: {other.reps_in_reserve} reps in reserve after {one.reps_in_reserve}")
    source = catalogue.evidence["block_easy_sets_percent"].source
    for key, sentence, found in (
        ("easy_sets", "An easy week has fewer sets for every muscle than the week before.", more),
        ("easy_days", "An easy week has no more training days than the week before.", days),
        ("easy_reps", "An easy week has no exercise with more reps a set than the week before.", reps),
        ("easy_effort", "An easy week leaves more reps in reserve than the week before.", effort),
    ):
        yield _finding(key, sentence, found, must=True, source=source)


def _reps(week: BlockWeek) -> dict[str, int]:
    """Most reps a set, by name of the exercise."""
    found: dict[str, int] = {}
    for e in (e for s in week.plan.sessions for e in s.entries if e.role is not Role.ACTIVATION):
        found[e.name] = max(e.reps, found.get(e.name, 0))
    return found


def _easy_spacing(settings: BlockSettings) -> BlockFinding:
    catalogue = load_catalogue()
    least, most = _pair(catalogue.evidence["block_weeks_to_easy"].value)
    ends = run_ends(settings.weeks, settings.easy_weeks)
    runs = [later - earlier for earlier, later in pairwise((0, *ends))]
    rest = settings.weeks - (ends[-1] if ends else 0)
    found = [f"{wording.counted(run, 'week')} before an easy one" for run in runs if not least <= run <= most]
    if rest > most:
        found.append(f"{rest} weeks without an easy one")
    return _finding(
        "easy_spacing",
        f"An easy week comes after {least} to {most} weeks.",
        found,
        source=catalogue.evidence["block_weeks_to_easy"].source,
    )


def _distinct(brief: Brief, settings: BlockSettings, weeks: Sequence[BlockWeek]) -> Iterable[BlockFinding]:
    instance = instance_alone(brief)
    found = {row.target: row for row in rows(brief, settings, weeks)}
    for key, number in settings.distinct.items():
        if key not in found and number:
            known = instance.catalogue.groups if key in instance.catalogue.groups else instance.catalogue.muscles
            yield BlockFinding(
                key=f"distinct:{key}",
                sentence=f"At least {wording.counted(number, 'distinct exercise')} for {known[key].name}.",
                kept=False,
                must=False,
                found=("none: no session trains it",),
            )
    for row in found.values():
        if row.distinct_asked is None:
            continue
        number = len(row.exercises)
        there = sum(instance.direct(e, row.target) for e in instance.possible())
        short = (f"only {there} can be done by this brief",) if there < row.distinct_asked else ()
        yield BlockFinding(
            key=f"distinct:{row.target}",
            sentence=f"At least {wording.counted(row.distinct_asked, 'distinct exercise')} for {row.name}.",
            kept=number >= row.distinct_asked,
            must=False,
            found=(f"{number}: {wording.listed(row.exercises)}" if row.exercises else "none", *short),
        )


def _asked(week: BlockWeek) -> tuple[LedgerRow, ...]:
    return tuple(row for row in week.plan.ledger if row.aim is not None)
