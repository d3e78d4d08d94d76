"""Tiers solved one after another, each frozen before the next begins."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from ortools.sat.python import cp_model

from scheduler.domain.plan import TierResult
from scheduler.instance import SessionFacts
from scheduler.rules import RULES, RULES_BY_KEY, TIER_NAMES
from scheduler.week.decode import decode
from scheduler.week.expressions import Linear
from scheduler.week.model import Week
from scheduler.week.solver import Cancel, Limits, Outcome, Verdict, search

TIE_BREAK = max(TIER_NAMES)

TierProgress = Callable[[int, str, int, int, float], None]
"""Called with tier, its name, best value, bound, seconds."""


@dataclass(frozen=True)
class Solved:
    """What the tiers came to.

    Attributes:
        verdict: OPTIMAL when every tier is proved; FEASIBLE with a plan but not every proof; INFEASIBLE; UNKNOWN.
        sessions: the week, done sessions included; empty without a plan.
        tiers: one result a tier that was reached.
        seconds: wall-clock seconds a tier.
    """

    verdict: Verdict
    sessions: tuple[SessionFacts, ...]
    tiers: tuple[TierResult, ...]
    seconds: tuple[float, ...]
    stopped: bool = False


def objective(week: Week, tier: int) -> Linear:
    """Weighted sum of the breaches of a tier's wishes; 0 where it has none."""
    terms = [
        week.switches[name].weight * var
        for name, var in week.slacks.items()
        if RULES_BY_KEY[week.switches[name].rule].tier == tier and week.switches[name].weight
    ]
    return sum(terms) if terms else 0


def solve_tiers(
    week: Week, limits: Limits, *, cancel: Cancel | None = None, progress: TierProgress | None = None
) -> Solved:
    """Solve tier after tier. A tier that ends without proof is frozen at its best value and says its bound."""
    deadline = None if limits.wall_seconds is None else time.perf_counter() + limits.wall_seconds
    best: Outcome | None = None
    results: list[TierResult] = []
    seconds: list[float] = []
    for tier in sorted({rule.tier for rule in RULES}):
        name = TIER_NAMES[tier]
        goal = objective(week, tier)
        if best is not None and (isinstance(goal, int) or _value(goal, best) == 0):
            # Nothing to minimise, or already at the least that a sum of breaches can be.
            results.append(TierResult(tier=tier, name=name, value=0, bound=0, proved=True))
            seconds.append(0.0)
            week.model.add(goal <= 0)
            continue
        if best is not None and tier == TIE_BREAK:
            # The tie is broken among weeks with the same content: only the times still move.
            for option in (o for s in week.open_sessions for o in s.options):
                week.model.add(option.sets == best[option.sets])
        report = _reporter(progress, tier, name)
        outcome = search(
            week.model,
            goal,
            limits,
            hint=best.solution if best else (),
            cancel=cancel,
            progress=report,
            deadline=deadline,
        )
        seconds.append(outcome.wall_seconds)
        if outcome.value is None:
            if best is None:
                return Solved(outcome.verdict, (), (), tuple(seconds), cancel is not None and cancel.is_set)
            if outcome.verdict is Verdict.INFEASIBLE:
                raise RuntimeError(
                    f"tier {tier} lost the solution of the tier before: a defect of the solver or the model"
                )
            value, bound, proved = _value(goal, best), 0, False
        else:
            best = outcome
            value, bound, proved = outcome.value, outcome.bound, outcome.verdict is Verdict.OPTIMAL
        results.append(TierResult(tier=tier, name=name, value=value, bound=bound, proved=proved))
        week.model.add(goal <= value)
    assert best is not None
    proved = all(r.proved for r in results)
    return Solved(
        Verdict.OPTIMAL if proved else Verdict.FEASIBLE,
        decode(week, best),
        tuple(results),
        tuple(seconds),
        cancel is not None and cancel.is_set,
    )


def _value(goal: Linear, outcome: Outcome) -> int:
    """The value of a linear expression in a solution."""
    if isinstance(goal, int):
        return goal
    flat = cp_model.FlatIntExpr(goal)
    return int(flat.offset + sum(c * outcome[v] for v, c in zip(flat.vars, flat.coeffs, strict=True)))


def _reporter(progress: TierProgress | None, tier: int, name: str) -> Callable[[int, int, float], None] | None:
    if progress is None:
        return None
    return lambda value, bound, elapsed: progress(tier, name, value, bound, elapsed)
