"""What does it cost: one or two numbers of the brief swept over a range, each point a plan of its own."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from itertools import product
from typing import Any

from scheduler.answers.merge_patch import merge_patch, patch_of
from scheduler.answers.variants import patched, solve_all
from scheduler.domain.brief import Brief
from scheduler.domain.errors import InputError
from scheduler.domain.plan import Plan, PlanStatus
from scheduler.domain.variants import Sweep, SweepPoint, Vary
from scheduler.rules import SAME_WORK_FROM
from scheduler.week.solver import Cancel, Limits

MOST_POINTS = 200
_RANGE = re.compile(r"\s*(-?\d+(?:\.\d+)?)\s*\.\.\s*(-?\d+(?:\.\d+)?)(?:\s*/\s*(\d+(?:\.\d+)?))?\s*")
_UNITS = (
    (r"goals\..*\.(least|aim|most|session_cap)", "counted sets a week"),
    (r".*(minutes|minutes\.(least|most))", "min"),
    (r".*(hours|hours_apart)", "h"),
    (r".*\.per_week(\.(least|most))?|sessions(\.(least|most))?|.*\.frequency\.(least|most)", "sessions a week"),
    (r".*rest_days\.least", "days"),
    (r".*sets(_per_exercise)?(\.(least|most))?", "sets"),
    (r".*percent", "%"),
)


def sweep(brief: Brief, varied: Sequence[Vary], *, limits: Limits | None = None, cancel: Cancel | None = None) -> Sweep:
    """A plan for every combination of values.

    A combination that makes no usable brief is a point without a plan that says so. Raises InputError where no point
    can be used, or there are too many; Stopped where it was cancelled.
    """
    varied = [v if v.unit else v.model_copy(update={"unit": unit_of(v.path)}) for v in varied]
    combinations, briefs = _asked(brief, varied)
    plans = iter(solve_all([b for b in briefs if isinstance(b, Brief)], limits, cancel))
    points: list[SweepPoint] = []
    seen: list[Plan] = []
    for values, asked in zip(combinations, briefs, strict=True):
        if isinstance(asked, str):
            points.append(SweepPoint(values=values, status=asked, proved=False, figures={}))
            continue
        plan = next(plans)
        seen.append(plan)
        proved = plan.status in (PlanStatus.OPTIMAL, PlanStatus.IMPOSSIBLE)
        points.append(SweepPoint(values=values, status=plan.status.value, proved=proved, figures=dict(_figures(plan))))
    units = {key: unit for plan in seen for key, unit in _units(plan)}
    cautions = {note.key: note for plan in seen for note in plan.cautions}
    return Sweep(varied=tuple(varied), units=units, points=tuple(points), cautions=tuple(cautions.values()))


def check_sweep(brief: Brief, varied: Sequence[Vary]) -> None:
    """Raises InputError where :func:`sweep` would; solves nothing."""
    _asked(brief, varied)


def _asked(brief: Brief, varied: Sequence[Vary]) -> tuple[list[tuple[Any, ...]], list[Brief | str]]:
    """The combinations of values, and of each its brief, or why it makes none."""
    points = math.prod(len(v.values) for v in varied)
    if not varied or points > MOST_POINTS:
        raise InputError.single(
            "tradeoff", f"{points} points to plan for", f"Give 1 to {MOST_POINTS} points: a shorter range"
        )
    combinations = list(product(*(v.values for v in varied)))
    briefs: list[Brief | str] = []
    for values in combinations:
        patch: Any = {}
        for vary, value in zip(varied, values, strict=True):
            patch = merge_patch(patch, patch_of(vary.path, value))
        try:
            briefs.append(patched(brief, patch))
        except InputError as error:
            if not any(isinstance(b, Brief) for b in briefs) and values == combinations[-1]:
                raise
            briefs.append(f"cannot be asked: {error.faults[0].problem}")
    return combinations, briefs


def _figures(plan: Plan) -> Iterator[tuple[str, float | None]]:
    if not plan.tiers:
        return
    yield from ((tier.name, tier.value) for tier in plan.tiers if tier.tier < SAME_WORK_FROM)
    yield "sessions", len(plan.sessions)
    yield "time", sum(s.minutes for s in plan.sessions)
    yield "work", sum(s.working_sets for s in plan.sessions)
    yield from ((row.name, row.counted) for row in plan.ledger if row.aim is not None)


def _units(plan: Plan) -> Iterator[tuple[str, str]]:
    if not plan.tiers:
        return
    yield from ((tier.name, "cost") for tier in plan.tiers if tier.tier < SAME_WORK_FROM)
    yield from (("sessions", "a week"), ("time", "min a week"), ("work", "sets a week"))
    yield from ((row.name, "counted sets a week") for row in plan.ledger if row.aim is not None)


def unit_of(path: str) -> str:
    """The unit of a number of the brief, by where it stands; empty where it has none."""
    return next((unit for pattern, unit in _UNITS if re.fullmatch(pattern, path)), "")


def read_values(text: str) -> tuple[int | float, ...]:
    """``1..3``, ``36..48/4`` (in steps of 4) or ``2,3,5``. Raises InputError."""
    match = _RANGE.fullmatch(text)
    try:
        if match is None:
            return tuple(_number(part) for part in text.split(","))
        first, last = float(match[1]), float(match[2])
        step = float(match[3] or 1) * (1 if last >= first else -1)
        count = int(abs(last - first) / abs(step) + 1e-9) + 1 if step else 0
    except ValueError:
        count = 0
    if not 1 <= count <= MOST_POINTS:
        raise InputError.single("--over", f"{text!r} is no range of numbers", "Write 1..3, 36..48/4 or 2,3,5")
    return tuple(_number(f"{first + n * step:.6f}") for n in range(count))


def _number(text: str) -> int | float:
    value = float(text)
    return int(value) if value.is_integer() else value


def varying(found: Sweep) -> list[str]:
    """The figures that differ between points, in the order of the table."""
    return [key for key in found.units if len({p.figures[key] for p in found.points if key in p.figures}) > 1]


__all__ = ["Sweep", "Vary", "read_values", "sweep", "unit_of", "varying"]
