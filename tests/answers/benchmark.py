"""How long questions take on the scenarios: medians and 95th percentiles, by kind of question.

Run it from the project's root: ``python -m tests.answers.benchmark [scenario ...]``. The plan of each scenario is known
before its questions are asked, as it is for anyone who asks them. Beside wall-clock seconds stand seconds of processor
time, over all threads and processes: on a busy machine only those tell anything.
"""

from __future__ import annotations

import resource
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from scheduler.answers.alternatives import alternatives
from scheduler.answers.conflicts import explain
from scheduler.answers.replan import replan
from scheduler.answers.variants import what_if
from scheduler.answers.why_not import why_not
from scheduler.briefs import read_brief
from scheduler.domain.brief import Brief
from scheduler.domain.plan import Plan
from scheduler.domain.units import DAYS
from scheduler.domain.variants import Demand
from scheduler.planning import solve

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"


def questions(plan: Plan) -> Iterator[tuple[str, Callable[[], Any]]]:
    """Some questions of each kind about a plan."""
    coming = [s for s in plan.sessions if s.state != "done"]
    names = [f"{s.start:%a} {s.kind}" for s in coming]
    for number in range(1, len(coming)):
        yield "re-plan", lambda n=number: replan(plan, done=names[: n - 1], missed=names[n - 1 : n])
    for session in coming[:3]:
        day = DAYS[(session.start.weekday() + 1) % 7]
        yield "why-not", lambda k=session.kind, d=day: why_not(plan.brief, Demand(kind=k, day=d), base=plan)
    # One change at a time, and two at once, as a coach compares them.
    goals = [key for key, goal in plan.brief.goals.items() if goal.aim is not None and goal.most is not None][:2]
    patches = {
        key: {"goals": {key: {"aim": max(plan.brief.goals[key].least or 0, (plan.brief.goals[key].aim or 0) - 1)}}}
        for key in goals
    }
    for name in patches:
        yield "what-if, one", lambda n=name: what_if(plan.brief, {n: patches[n]}, base=plan)
    if len(patches) > 1:
        yield "what-if, two", lambda: what_if(plan.brief, patches, base=plan)
    yield "five alternatives", lambda: alternatives(plan.brief, best=plan)


def impossible(brief: Brief) -> Iterator[tuple[str, Callable[[], Any]]]:
    """Why a brief is impossible: as it is, or with the later half of its training days closed."""
    days = sorted({d for o in brief.openings for d in o.day}, key=lambda d: d.number)
    open_days = set(days[: max(1, len(days) // 2)])
    kept = [o.model_copy(update={"day": tuple(d for d in o.day if d in open_days)}) for o in brief.openings]
    half = brief.model_copy(update={"openings": tuple(o for o in kept if o.day)})
    for asked in (brief, half):
        if explain(asked, budget_seconds=60, most_conflicts=0, most_mends=0).possible is False:
            yield "conflict, 3 mends", lambda b=asked: explain(b, budget_seconds=60, most_conflicts=1)
            return


def processor_seconds() -> float:
    """Of this process and of those that it has waited for."""
    used = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(u.ru_utime + u.ru_stime for u in used)


def p95(values: list[float]) -> float:
    return sorted(values)[max(0, -(-len(values) * 95 // 100) - 1)]


def main(names: list[str]) -> None:
    taken: dict[str, list[tuple[float, float]]] = {}
    for path in sorted(SCENARIOS.glob("*.yaml")):
        if names and path.stem not in names:
            continue
        brief = read_brief(path)
        plan = solve(brief)
        for kind, ask in (*impossible(brief), *(questions(plan) if plan.tiers else ())):
            started, used = time.perf_counter(), processor_seconds()
            ask()
            seconds, busy = time.perf_counter() - started, processor_seconds() - used
            taken.setdefault(kind, []).append((seconds, busy))
            print(f"{path.stem:24} {kind:18} {seconds:6.2f} s {busy:6.2f} s of processor", flush=True)
    print(f"\n{'question':18} {'number':>6} {'median':>8} {'p95':>8}   processor: median, p95")
    for kind, times in taken.items():
        wall, busy_times = [t for t, _ in times], [t for _, t in times]
        print(
            f"{kind:18} {len(times):6} {statistics.median(wall):6.2f} s {p95(wall):6.2f} s "
            f"{statistics.median(busy_times):10.2f} s {p95(busy_times):6.2f} s"
        )


if __name__ == "__main__":
    main(sys.argv[1:])
