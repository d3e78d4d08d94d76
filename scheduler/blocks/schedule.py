"""From the settings of a block to its weeks: which build, which are easy, how far along the path, how hard."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from scheduler.answers.merge_patch import merge_patch
from scheduler.domain.block import BlockSettings, WeekRole
from scheduler.domain.brief import Brief
from scheduler.domain.catalogue import Catalogue, Caution
from scheduler.domain.errors import InputError
from scheduler.instance import usual_reserve

_WEEKS = re.compile(r"(\d{1,2})(?:(-)(\d{1,2})?)?")


@dataclass(frozen=True)
class WeekSpec:
    """What a week of a block is to be.

    Attributes:
        number: counted from 1.
        building: how many building weeks there are up to it, itself included.
        phase: counted from 1; accessory exercises are its own.
        opens_phase: whether it is the first of its phase.
        path_percent: 0 is a goal's least, 100 its aim, 200 its most; in an easy week that of the week before.
        patch: the keys of the patches that hold, joined; "" for none.
        changes: those patches as one.
    """

    number: int
    role: WeekRole
    building: int
    phase: int
    opens_phase: bool
    path_percent: int
    reps_in_reserve: int
    patch: str
    changes: Mapping[str, Any]


def schedule(settings: BlockSettings, brief: Brief, catalogue: Catalogue) -> tuple[WeekSpec, ...]:
    """The weeks of a block in order. Raises InputError where a patch names weeks that there are not."""
    total = settings.weeks + settings.easy_weeks
    spans = {key: span(key, total) for key in settings.patches}
    path = path_of(settings, brief, catalogue)
    reserve, easy_reserve = reserve_of(settings, brief, catalogue)
    turnover = settings.turnover_weeks or catalogue.default_int("block_turnover_weeks")
    ends = run_ends(settings.weeks, settings.easy_weeks)
    found: list[WeekSpec] = []

    def add(role: WeekRole, building: int) -> None:
        number = len(found) + 1
        keys = [key for key, weeks in spans.items() if number in weeks]
        changes: Mapping[str, Any] = {}
        for key in keys:
            changes = merge_patch(changes, settings.patches[key])
        build = role is WeekRole.BUILD
        found.append(
            WeekSpec(
                number=number,
                role=role,
                building=building,
                phase=(building - 1) // turnover + 1,
                opens_phase=build and (building - 1) % turnover == 0,
                path_percent=path[building - 1],
                reps_in_reserve=reserve[building - 1] if build else easy_reserve,
                patch=", ".join(keys),
                changes=changes,
            )
        )

    for building in range(1, settings.weeks + 1):
        add(WeekRole.BUILD, building)
        if building in ends:
            add(WeekRole.EASY, building)
    return tuple(found)


def run_ends(weeks: int, easy_weeks: int) -> tuple[int, ...]:
    """The building weeks after which an easy week comes: runs as even as can be, the longer ones first."""
    ends: list[int] = []
    for n in range(easy_weeks):
        ends.append((ends[-1] if ends else 0) + weeks // easy_weeks + (n < weeks % easy_weeks))
    return tuple(ends)


_AIM = 100


def path_of(settings: BlockSettings, brief: Brief, catalogue: Catalogue) -> tuple[int, ...]:
    """What each building week aims at, in per cent: by default a straight line; in pregnancy the aim every week."""
    if settings.path is not None:
        return settings.path
    if Caution.PREGNANCY in brief.lifter.cautions:
        return (_AIM,) * settings.weeks
    first = catalogue.default_int("block_path_first_percent")
    last = catalogue.default_int("block_path_last_percent")
    return _line(first, last, settings.weeks)


def reserve_of(settings: BlockSettings, brief: Brief, catalogue: Catalogue) -> tuple[tuple[int, ...], int]:
    """Reps in reserve of each building week, falling by default in even steps (for
    novices and who goes gently to the usual ones), and those of an easy week."""
    usual = usual_reserve(brief, catalogue)
    easy = min(10, usual + catalogue.default_int("block_easy_reserve_more"))
    if settings.reps_in_reserve is not None:
        return settings.reps_in_reserve, min(10, max(easy, settings.reps_in_reserve[-1] + 1))
    first = min(10, usual + catalogue.default_int("block_reserve_first_more"))
    steady = brief.lifter.stays_short_of_failure
    last = usual if steady else max(0, usual - catalogue.default_int("block_reserve_last_less"))
    return _line(first, last, settings.weeks), easy


def _line(first: int, last: int, count: int) -> tuple[int, ...]:
    """A straight line in whole numbers, halves towards the first."""
    if count == 1:
        return (last if first < last else first,)
    steps = ((last - first) * n / (count - 1) for n in range(count))
    return tuple(first + (int(s + 0.5 - 1e-9) if s >= 0 else -int(-s + 0.5 - 1e-9)) for s in steps)


def span(key: str, total: int) -> range:
    """The weeks that "3", "3-4" or "5-" name. Raises InputError."""
    match = _WEEKS.fullmatch(key.strip())
    if match is not None:
        first = int(match[1])
        last = int(match[3]) if match[3] else total if match[2] else first
        if 1 <= first <= last <= total:
            return range(first, last + 1)
    raise InputError.single(
        f"block.patches.{key}", f"{key!r} names no weeks of 1 to {total}", "Write 3, 3-4, or 5- for all from the fifth"
    )
