"""All tiers of a week: in outline first, then in the week itself."""

from __future__ import annotations

import time
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

from scheduler.instance import Instance
from scheduler.rules import SAME_WORK_FROM
from scheduler.week.climb import EARLY, LATE, Climb, Solved, TierProgress, joined
from scheduler.week.model import Week
from scheduler.week.solver import Cancel, Limits, Verdict

_FOR_THE_OUTLINE = 0.8
"""Share of the wall-clock seconds that an outline may take: a week has to be fitted to it in what is left."""


def solve_week(
    instance: Instance,
    limits: Limits,
    *,
    floors: Mapping[int, int] | None = None,
    cancel: Cancel | None = None,
    progress: TierProgress | None = None,
) -> Solved:
    """Tiers in outline first, as far as it knows them, and a week fitted to that, which is built meanwhile.

    Where none fits, the tiers are solved in the week itself, with the outline's costs as floors.

    Args:
        floors: by tier, what no week can be below where every tier before comes to its own floor: the values of a
            week that less is asked of. A week that reaches the floor needs no proof. Tiers that compare weeks with the
            same work have none.
    """
    started = time.perf_counter()
    deadline = None if limits.wall_seconds is None else started + limits.wall_seconds
    soon = None if limits.wall_seconds is None else started + _FOR_THE_OUTLINE * limits.wall_seconds
    floors = {tier: floor for tier, floor in (floors or {}).items() if tier < SAME_WORK_FROM}
    sketch = Climb(Week(instance, outline=True), limits, cancel, progress, soon)
    built = time.perf_counter() - started
    with ThreadPoolExecutor(1, thread_name_prefix="building") as beside:
        building = beside.submit(Week, instance)
        if sketch.begin(floors):
            sketch.go(EARLY, floors)
        started = time.perf_counter()
        climb = Climb(building.result(), limits, cancel, progress, deadline)
        built += time.perf_counter() - started
    if sketch.best.verdict is Verdict.INFEASIBLE:
        return replace(sketch.solved(), build_seconds=built)
    if sketch.best.solution:
        climb.fit(sketch, floors)
    else:
        climb.clock.add(sketch.clock)
    floors = joined(floors, sketch.floors())
    if climb.results:
        climb.go(LATE, {})
    elif climb.best.solution or climb.begin(floors):
        climb.go((*EARLY, *LATE), floors)
    return replace(climb.solved(), build_seconds=built)
