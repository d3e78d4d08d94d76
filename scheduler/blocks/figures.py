"""What the weeks of a block hold, muscle by muscle."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import zip_longest

from scheduler.data import load_catalogue
from scheduler.domain.block import Block, BlockRow, BlockSettings, BlockWeek, MuscleWeek, WeekRole
from scheduler.domain.brief import Brief
from scheduler.domain.plan import Role
from scheduler.instance import Instance
from scheduler.instance.settle import settle
from scheduler.rules.settings import rule_settings


def instance_alone(brief: Brief) -> Instance:
    """A brief settled; whether the switches that it names exist is not looked at."""
    catalogue = load_catalogue()
    return settle(brief, catalogue, rule_settings(brief, catalogue))


def distinct_asked(instance: Instance, settings: BlockSettings, key: str) -> int | None:
    """How many distinct exercises a muscle is to have over the block: a default is no more than there are."""
    if key in settings.distinct:
        return settings.distinct[key]
    target = instance.targets.get(key)
    if target is None or target.is_group:
        return None
    row = "block_distinct_priority" if target.priority is not None else "block_distinct"
    there = sum(instance.direct(e, key) for e in instance.possible())
    return min(there, instance.catalogue.default_int(row))


def exercises_of(weeks: Iterable[BlockWeek]) -> dict[str, str]:
    """Names of the exercises of a block by key, activation left out."""
    return {
        e.exercise: e.name
        for week in weeks
        for session in week.plan.sessions
        for e in session.entries
        if e.role is not Role.ACTIVATION
    }


def rows(brief: Brief, settings: BlockSettings, weeks: Sequence[BlockWeek]) -> tuple[BlockRow, ...]:
    """The muscles of the block over its weeks: those with a goal first."""
    instance = instance_alone(brief)
    used = exercises_of(weeks)
    keys = list(
        dict.fromkeys((*instance.targets, *settings.distinct, *(r.target for w in weeks for r in w.plan.ledger)))
    )
    names = {r.target: r for w in weeks for r in w.plan.ledger}
    found = []
    for key in keys:
        row = names.get(key)
        if row is None:
            continue
        found.append(
            BlockRow(
                target=key,
                name=row.name,
                is_group=row.is_group,
                weeks=tuple(_muscle_week(instance, week, key) for week in weeks),
                exercises=tuple(name for e, name in used.items() if instance.direct(e, key)),
                distinct_asked=distinct_asked(instance, settings, key),
            )
        )
    return tuple(found)


def _muscle_week(instance: Instance, week: BlockWeek, key: str) -> MuscleWeek:
    row = next((r for r in week.plan.ledger if r.target == key), None)
    loads = [
        e.sets * e.reps * e.load_kg
        for s in week.plan.sessions
        for e in s.entries
        if e.load_kg is not None and e.role is not Role.ACTIVATION and instance.direct(e.exercise, key)
    ]
    return MuscleWeek(
        aim=row.aim if row and week.role is WeekRole.BUILD else None,
        direct=row.direct if row else 0.0,
        counted=row.counted if row else 0.0,
        hits=row.hits if row else 0,
        load_kg=round(sum(loads), 1) if loads else None,
        reps_in_reserve=week.reps_in_reserve,
    )


def beside(old: Block, new: Block) -> Iterator[str]:
    """What is different in a block beside another one, week by week, then over all weeks; in words."""
    for one, other in zip_longest(old.weeks, new.weeks):
        if one is None or other is None:
            week = one or other
            yield f"week {week.number}: {'only before' if other is None else 'only now'}"
            continue
        parts = [
            f"{name} {before:g} to {after:g}"
            for name, before, after in (
                ("sessions", len(one.plan.sessions), len(other.plan.sessions)),
                ("minutes", *(sum(s.minutes for s in w.plan.sessions) for w in (one, other))),
                *_sets_beside(one, other),
                ("cost of wishes", *(w.plan.tiers[0].value if w.plan.tiers else 0 for w in (one, other))),
            )
            if before != after
        ]
        if one.plan.status is not other.plan.status:
            parts.append(f"{one.plan.status.value} before, now {other.plan.status.value}")
        if parts:
            yield f"week {one.number}: {', '.join(parts)}"
    kept = {f.key: f.kept for f in old.findings}
    for f in new.findings:
        if kept.get(f.key, f.kept) != f.kept:
            yield f"{'kept now' if f.kept else 'no longer kept'}: {f.sentence}"
    if old.distinct_exercises != new.distinct_exercises:
        yield f"{old.distinct_exercises} to {new.distinct_exercises} distinct exercises"


def _sets_beside(one: BlockWeek, other: BlockWeek) -> Iterator[tuple[str, float, float]]:
    """Of muscles with a goal in one of the two: name, counted sets before and after."""
    rows = [{row.target: row for row in w.plan.ledger} for w in (one, other)]
    for key in dict.fromkeys((*rows[0], *rows[1])):
        before, after = (found.get(key) for found in rows)
        known = before or after
        if known is not None and any(row is not None and row.most is not None for row in (before, after)):
            yield known.name, before.counted if before else 0.0, after.counted if after else 0.0
