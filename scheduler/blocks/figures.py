"""What the weeks of a block hold, muscle by muscle."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from scheduler.blocks.turnover import possible
from scheduler.data import load_catalogue
from scheduler.domain.block import BlockRow, BlockSettings, BlockWeek, MuscleWeek, WeekRole
from scheduler.domain.brief import Brief
from scheduler.domain.plan import Role
from scheduler.instance import Instance
from scheduler.instance.settle import settle
from scheduler.rules.settings import rule_settings


def instance_alone(brief: Brief) -> Instance:
    """A brief settled without looking whether it can be solved."""
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
    there = sum(instance.direct(e, key) for e in possible(instance))
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
