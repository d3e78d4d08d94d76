"""Tiers solved one after another, each frozen before the next begins."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from scheduler.domain.plan import Role, TierResult
from scheduler.instance import SessionFacts
from scheduler.rules import RULES, RULES_BY_KEY, SAME_CONTENT_FROM, SAME_WORK_FROM, TIER_NAMES
from scheduler.week.decode import decode
from scheduler.week.expressions import Linear
from scheduler.week.model import OptionVars, Week
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
        deterministic_seconds: the solver's deterministic time a tier.
    """

    verdict: Verdict
    sessions: tuple[SessionFacts, ...]
    tiers: tuple[TierResult, ...]
    seconds: tuple[float, ...]
    deterministic_seconds: tuple[float, ...]
    stopped: bool = False


def objective(week: Week, tier: int) -> Linear:
    """Weighted sum of the breaches of a tier's wishes; 0 where it has none."""
    return sum(stages(week, tier))


def stages(week: Week, tier: int) -> list[Linear]:
    """What is minimised one after another inside a tier: a sum of breaches, then those of staged rules one by one.

    The weights of a staged rule are such that the whole sum is least where the stages, one after another, are.
    """
    found = [
        (week.switches[name], var)
        for name, var in week.slacks.items()
        if RULES_BY_KEY[week.switches[name].rule].tier == tier and week.switches[name].weight
    ]
    plain = [switch.weight * var for switch, var in found if not RULES_BY_KEY[switch.rule].staged]
    staged = sorted((s for s in found if RULES_BY_KEY[s[0].rule].staged), key=lambda s: -s[0].weight)
    return [sum(plain), *(switch.weight * var for switch, var in staged)]


def solve_tiers(
    week: Week,
    limits: Limits,
    *,
    floors: Mapping[int, int] | None = None,
    cancel: Cancel | None = None,
    progress: TierProgress | None = None,
) -> Solved:
    """Any week, then tier after tier. A tier that ends without proof is frozen at its best value and says its bound.

    Args:
        floors: by tier, what no week can be below where every tier before comes to its own floor: the values of a
            week that less is asked of. A week that reaches the floor needs no proof. Tiers that compare weeks with the
            same work have none.
    """
    floors = {tier: floor for tier, floor in (floors or {}).items() if tier < SAME_WORK_FROM}
    deadline = None if limits.wall_seconds is None else time.perf_counter() + limits.wall_seconds
    best = _any_week(week, limits, cancel, deadline)
    if not best.solution:
        stopped = cancel is not None and cancel.is_set
        return Solved(best.verdict, (), (), (best.wall_seconds,), (best.deterministic_seconds,), stopped)
    results: list[TierResult] = []
    seconds: list[float] = []
    deterministic: list[float] = []
    for tier in sorted({rule.tier for rule in RULES}):
        name = TIER_NAMES[tier]
        if tier == SAME_WORK_FROM:
            for work in week.work:
                week.model.add(work == best[work])
        if tier == SAME_CONTENT_FROM:
            _keep_content(week, best)
        if tier == TIE_BREAK:
            # Zones are settled too: only the times still move.
            for option in (o for s in week.open_sessions for o in s.options):
                week.model.add(option.uses == best[option.uses])
                week.model.add(option.sets == best[option.sets])
        whole = TierResult(tier=tier, name=name, value=0, bound=0, proved=True)
        took, took_deterministic = (0.0, 0.0) if results else (best.wall_seconds, best.deterministic_seconds)
        goals = [goal for goal in stages(week, tier) if not isinstance(goal, int)]
        floor = floors.get(tier, 0) if len(goals) == 1 else 0
        for goal in goals:
            if _value(goal, best) <= floor:
                # Already at the least that a sum of breaches can be, or at the floor.
                week.model.add(goal <= floor)
                whole = whole.model_copy(update={"value": floor, "bound": floor}) if floor else whole
                continue
            if floor:
                week.model.add(goal >= floor)
            outcome = search(
                week.model,
                goal,
                limits,
                # Any week is no good start, only better than none.
                hint=best.solution if results else (),
                spare=best.solution,
                cancel=cancel,
                progress=_reporter(progress, tier, name),
                deadline=deadline,
            )
            took += outcome.wall_seconds
            took_deterministic += outcome.deterministic_seconds
            if outcome.verdict is Verdict.INFEASIBLE:
                raise RuntimeError(
                    f"tier {tier} lost the solution of the tier before: a defect of the solver or the model"
                )
            if outcome.value is None:
                value, bound, proved = _value(goal, best), 0, False
            else:
                best = outcome
                value, bound, proved = outcome.value, outcome.bound, outcome.verdict is Verdict.OPTIMAL
            # What comes after a stage without proof could only be shown best beside it: it adds nothing to the bound.
            known = whole.bound + (bound if whole.proved else 0)
            whole = whole.model_copy(
                update={"value": whole.value + value, "bound": known, "proved": whole.proved and proved}
            )
            # The bound too: that one exercise less is not enough says much of sets.
            week.model.add_linear_constraint(goal, bound, value)
        if whole.value != floors.get(tier):
            floors = {}
        results.append(whole)
        seconds.append(took)
        deterministic.append(took_deterministic)
    proved = all(r.proved for r in results)
    return Solved(
        Verdict.OPTIMAL if proved else Verdict.FEASIBLE,
        decode(week, best),
        tuple(results),
        tuple(seconds),
        tuple(deterministic),
        cancel is not None and cancel.is_set,
    )


def _any_week(week: Week, limits: Limits, cancel: Cancel | None, deadline: float | None) -> Outcome:
    """Any week that keeps the musts: found in a hundredth of the time that a good one takes."""
    found = search(week.model, None, limits, cancel=cancel, deadline=deadline, light=True)
    if found.verdict is not Verdict.UNKNOWN:
        return found
    again = search(week.model, None, limits, cancel=cancel, deadline=deadline)
    return replace(
        again,
        wall_seconds=found.wall_seconds + again.wall_seconds,
        deterministic_seconds=found.deterministic_seconds + again.deterministic_seconds,
    )


def _keep_content(week: Week, best: Outcome) -> None:
    """From here on each session keeps its exercises and sets; their rep zones may still change."""
    for session in week.open_sessions:
        groups: dict[tuple[int, Role], list[OptionVars]] = {}
        for option in session.options:
            groups.setdefault((option.stimulus.index, option.role), []).append(option)
        for options in groups.values():
            week.model.add(sum(o.uses for o in options) == sum(best[o.uses] for o in options))
            week.model.add(sum(o.sets for o in options) == sum(best[o.sets] for o in options))


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
