"""One brief measured in a process of its own: seconds and deterministic time to proof per tier, gaps, sizes, memory.

``python -m tests.benchmarks.measure '{"case": "upper_lower-03-60"}'`` prints one record as JSON.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager, nullcontext
from pathlib import Path
from typing import Any
from unittest.mock import patch

Record = dict[str, Any]

SCENARIOS = Path(__file__).parents[2] / "scenarios"
KILL_AFTER_SECONDS = 30.0
"""A process that has not ended so long after its cap is ended from outside."""
GAPS_AT_SECONDS = (1, 5)


def names(families: tuple[str, ...], seeds: range) -> Iterator[str]:
    """The cases of the families asked for; ``scenario`` stands for the briefs in scenarios/."""
    from tests.benchmarks.briefs import FAMILIES, cases

    for family in families:
        if family == "scenario":
            yield from (f"scenario:{path.stem}" for path in sorted(SCENARIOS.glob("*.yaml")))
        elif family in FAMILIES:
            yield from (c.name for c in cases(seeds.stop, (family,)) if c.seed in seeds)
        else:
            raise SystemExit(f"no family {family!r}; there are scenario, {', '.join(FAMILIES)}")


def brief_of(name: str) -> tuple[Any, AbstractContextManager[None], str]:
    """Brief, what to solve it within, and family; ``core:`` before a name cuts the brief down to the core rules."""
    if name.startswith("core:"):
        from tests.benchmarks.peers import core

        brief, within, family = brief_of(name.removeprefix("core:"))
        return core(brief), within, family
    if name.startswith("scenario:"):
        from scheduler.briefs import read_brief

        return read_brief(SCENARIOS / f"{name.removeprefix('scenario:')}.yaml"), nullcontext(), "scenario"
    from tests.benchmarks.briefs import case

    family, seed, exercises, *rest = name.split("-")
    openings = int(rest[0].removesuffix("x7")) if rest else None
    found = case(family, int(seed), exercises=int(exercises), openings_a_day=openings)
    return found.brief, found.within(), family


def measured(job: Mapping[str, Any], cap_seconds: float) -> Record:
    """The record of a job, solved in a new process; what is killed or fails has a record too."""
    started = time.perf_counter()
    asked = {**job, "cap_seconds": cap_seconds}
    family = job["case"].removeprefix("core:").split("-")[0].split(":")[0]
    record: Record = {**job, "family": family, "proved": False, "tiers": []}
    command = [sys.executable, "-m", "tests.benchmarks.measure", json.dumps(asked)]
    try:
        ends = cap_seconds + KILL_AFTER_SECONDS
        run = subprocess.run(command, check=False, capture_output=True, text=True, timeout=ends)
    except subprocess.TimeoutExpired:
        return record | {"status": "killed", "seconds": time.perf_counter() - started}
    if run.returncode != 0:
        fault = run.stderr.strip().splitlines()[-1:] or ["no word"]
        return record | {"status": "fault", "fault": fault[0], "seconds": time.perf_counter() - started}
    return json.loads(run.stdout.splitlines()[-1])  # a solver may have announced itself


def one(job: Mapping[str, Any]) -> Record:
    """Solve one case in this process."""
    brief, within, family = brief_of(job["case"])
    peer = job.get("peer", "weekwright")
    with within:
        if peer == "weekwright":
            found = _own(brief, job)
        else:
            from tests.benchmarks.peers import solve_with

            found = solve_with(peer, brief, job)
    return {**job, "family": family, **found}


def _own(brief: Any, job: Mapping[str, Any]) -> Record:
    from scheduler import solve
    from scheduler.domain.plan import PlanStatus
    from scheduler.planning import instance_of
    from scheduler.rules import SAME_WORK_FROM
    from scheduler.week.model import Week
    from scheduler.week.solver import Limits

    events: list[tuple[float, int, int, int]] = []
    limits = Limits(
        wall_seconds=job["cap_seconds"], seed=job.get("solver_seed", 0), workers=job.get("workers", 1), **_budget(job)
    )
    with parameters(job.get("parameters", {})):
        started = time.perf_counter()
        plan = solve(
            brief,
            limits=limits,
            progress=lambda tier, _, value, bound, __: events.append(
                (time.perf_counter() - started, tier, value, bound)
            ),
        )
        seconds = time.perf_counter() - started
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    times = plan.timings
    # An impossible week has the time of the tier that showed it, and no tiers.
    tiers = [
        {"tier": t.tier, "name": t.name, "value": t.value, "bound": t.bound, "proved": t.proved}
        | {"seconds": s, "deterministic": d}
        for t, s, d in zip(plan.tiers, times.tier_seconds, times.tier_deterministic_seconds, strict=False)
    ]
    instance = instance_of(brief)
    week = Week(instance)
    proved = plan.status in (PlanStatus.OPTIMAL, PlanStatus.IMPOSSIBLE)
    return {
        "status": plan.status.value,
        "proved": proved,
        "seconds": seconds,
        "build_seconds": times.build_seconds,
        "solve_seconds": times.solve_seconds,
        "deterministic": sum(times.tier_deterministic_seconds),
        "tiers": tiers,
        "same_work_from": SAME_WORK_FROM,
        **{f"gap_at_{at}_s": gap_at(at, seconds, events) if tiers else None for at in GAPS_AT_SECONDS},
        "peak_mb": peak,
        "variables": len(week.model.proto.variables),
        "constraints": len(week.model.proto.constraints),
        "openings": len(instance.spots),
        "exercises": len(instance.pool),
        "classes": len(week.classes),
        "muscles": len(instance.targets),
        "sessions": sum(k.per_week.most for k in instance.kinds.values()),
    }


def _budget(job: Mapping[str, Any]) -> dict[str, float]:
    return {"deterministic_seconds": job["deterministic_seconds"]} if job.get("deterministic_seconds") else {}


def gap_at(at: float, ended: float, events: list[tuple[float, int, int, int]]) -> dict[str, Any]:
    """Where the search was: the tier, and how far its best value was above its bound as then reported.

    A bound is reported with each better week only, so the gap may have been smaller.
    """
    if at >= ended:
        return {"tier": None, "gap": 0.0}
    past = [event for event in events if event[0] <= at]
    if not past:
        return {"tier": None, "gap": None}
    _, tier, value, bound = past[-1]
    return {"tier": tier, "gap": (value - bound) / max(1, value)}


@contextmanager
def parameters(settings: Mapping[str, Any]) -> Iterator[None]:
    """Within it every search runs with these parameters of CP-SAT, whatever the program sets."""
    if not settings:
        yield
        return
    from ortools.sat.python import cp_model

    plain = cp_model.CpSolver.solve

    def solve(solver: Any, *arguments: Any) -> Any:
        for name, value in settings.items():
            setattr(solver.parameters, name, value)
        return plain(solver, *arguments)

    with patch.object(cp_model.CpSolver, "solve", solve):
        yield


if __name__ == "__main__":
    print(json.dumps(one(json.loads(sys.argv[1]))))
