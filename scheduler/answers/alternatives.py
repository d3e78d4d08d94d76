"""What else: plans nearly as good as the best, each at least so many moves from every other.

A move is a session at another time (an hour away or more, or on another day), a session more or fewer, an exercise
that comes into the week or leaves it. The demand "so many moves away, for so much loss at most" is posted to the week
model itself: it is about two plans, and no brief can say it.
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from scheduler import planning, referee
from scheduler.answers.variants import difference
from scheduler.domain.brief import Brief
from scheduler.domain.plan import Plan, PlanStatus, Role
from scheduler.domain.units import SLOTS_PER_HOUR
from scheduler.domain.variants import Alternative, Alternatives
from scheduler.facts import WeekFacts
from scheduler.instance import SessionFacts
from scheduler.rules import SAME_WORK_FROM, TIER_NAMES
from scheduler.week.decode import decode
from scheduler.week.expressions import Linear
from scheduler.week.goals import objective
from scheduler.week.model import Week
from scheduler.week.neighbourhoods import IN_ALL, Held, briefly, freed, near
from scheduler.week.solver import Cancel, Limits, Outcome, Verdict, search
from scheduler.week.variables import OptionVars, SessionVars

FAR = SLOTS_PER_HOUR
"""Sessions of one kind whose starts lie less than this apart count as the same one."""
TIE_BREAK = max(TIER_NAMES)
_TIMES = 2
"""So much longer than for a goal weeks near by are looked for: there is no other way to them but a long one."""
STRICT = (1, 2)
"""Tiers in which an alternative loses nothing unless that is asked for."""


@dataclass(frozen=True)
class Loss:
    """What an alternative may lose in a tier: so much, or so many per cent of the best plan's cost."""

    amount: float
    percent: bool = True

    def most(self, value: int) -> int:
        return value + math.floor(value * self.amount / 100 if self.percent else self.amount)


def alternatives(
    brief: Brief,
    *,
    count: int = 5,
    apart: int = 2,
    loss: Loss = Loss(10),
    losses: Mapping[int, Loss] | None = None,
    best: Plan | None = None,
    limits: Limits | None = None,
    cancel: Cancel | None = None,
) -> Alternatives:
    """Up to ``count`` plans within a loss.

    Args:
        apart: least moves between any two of them, and to the best plan.
        loss: what each may lose in every tier but wishes and change.
        losses: the same by tier.
        best: the best plan, where it is known already.

    Raises:
        InputError: the brief cannot be used.
    """
    limits = limits or Limits()
    deadline = None if limits.wall_seconds is None else time.perf_counter() + limits.wall_seconds
    if best is None:
        best = planning.solve(brief, limits=limits, cancel=cancel)
    if not best.tiers:
        return Alternatives(best=best, loss={}, apart=apart, alternatives=(), complete=False)
    asked = {**{t.tier: loss if t.tier not in STRICT else Loss(0) for t in best.tiers}, **(losses or {})}
    most = {t.tier: asked[t.tier].most(t.value) for t in best.tiers if t.tier < SAME_WORK_FROM}
    instance = planning.instance_of(brief)
    week = Week(instance)
    for tier, value in most.items():
        week.model.add(objective(week, tier) <= value)
    references = [referee.facts_of(instance, best.sessions)]
    found: list[Alternative] = []
    complete = none_left = False
    while len(found) < count:
        _keep_away(week, references[-1], apart)
        # Any week within the loss will do: to look for the cheapest of them takes three times as long (measured).
        outcome = _near_or_any(week, references, limits, cancel, deadline)
        if not outcome.solution:
            none_left = outcome.verdict is Verdict.INFEASIBLE
            complete = none_left and _counts_every_move(week)
            break
        facts = WeekFacts(instance, _settled(week, outcome, limits, cancel, deadline))
        plan = _plan(brief, facts, best)
        moves = tuple(moves_between(other, facts) for other in references)
        found.append(Alternative(plan=plan, difference=difference(best, plan), moves=moves))
        references.append(facts)
    return Alternatives(
        best=best,
        loss=most,
        apart=apart,
        alternatives=tuple(found),
        complete=complete,
        truncated=len(found) < count and not none_left,
    )


def moves_between(one: WeekFacts, other: WeekFacts) -> int:
    """Sessions of one that are not in the other at nearly the same time, and exercises that only one of them has."""
    moves = 0
    for kind in one.instance.kinds:
        before = [s.start for s in one.planned if s.kind == kind]
        after = [s.start for s in other.planned if s.kind == kind]
        moves += max(len(before), len(after)) - _kept(before, after)
    return moves + len(_exercises(one.planned) ^ _exercises(other.planned))


def _kept(before: Sequence[int], after: Iterable[int]) -> int:
    """The most pairs that lie less than an hour apart: in order of time, each with the first that is free."""
    kept = 0
    free = sorted(after)
    for start in sorted(before):
        near = next((s for s in free if abs(s - start) < FAR), None)
        if near is not None:
            free = [s for s in free if s > near]
            kept += 1
    return kept


def _exercises(sessions: Iterable[SessionFacts]) -> frozenset[str]:
    return frozenset(i.key for s in sessions for i in s.items if i.role is not Role.ACTIVATION)


def _keep_away(week: Week, reference: WeekFacts, apart: int) -> None:
    """At least so many moves from a plan. Counted cautiously: what is counted is never more than there is."""
    model = week.model
    planned = reference.planned
    sessions = week.open_sessions
    kept: list[Linear] = []
    for old in planned:
        for new in (s for s in sessions if s.kind == old.kind):
            near, earlier, later = (week.bool_var(f"{new.label} {word}") for word in ("near", "earlier", "later"))
            model.add(new.start <= old.start - FAR).only_enforce_if(earlier)
            model.add(new.start >= old.start + FAR).only_enforce_if(later)
            model.add_bool_or(near, earlier, later, ~new.active)
            kept.append(near)
    exercises = _exercises(planned)
    changed: list[Linear] = []
    for stimulus in week.classes:
        options = [o for s in sessions for o in s.options if o.stimulus is stimulus]
        change = week.bool_var(f"{stimulus.key} comes or goes")
        if exercises & set(stimulus.members):
            for option in options:
                model.add_implication(change, ~option.use)
        else:
            model.add(sum(o.use for o in options) >= change)
        changed.append(change)
    larger: list[Linear] = []
    for kind in week.instance.kinds:
        before = sum(s.kind == kind for s in planned)
        mine = [s for s in sessions if s.kind == kind]
        more = week.bool_var(f"more {kind} sessions than before")
        most = model.new_int_var(0, max(before, len(mine)), f"{kind} sessions in the week that has more")
        model.add(most <= before).only_enforce_if(~more)
        model.add(most <= sum(s.active for s in mine)).only_enforce_if(more)
        larger.append(most)
    model.add(sum(changed) - sum(kept) + sum(larger) >= apart)


def _near_or_any(
    week: Week, references: Sequence[WeekFacts], limits: Limits, cancel: Cancel | None, deadline: float | None
) -> Outcome:
    """A week that is left: near the best, or near the last one found, else any.

    Each looks first at another session. Five alternatives that took 5 to 20 seconds take one or two (measured on
    twelve such briefs: eleven).
    """
    used = 0.0
    for reference in (references[0], *references[1:][-1:]):
        for free in freed(week.open_sessions, turn=len(references) - 1):
            few = briefly(limits, free, _TIMES)
            if used + few.deterministic_seconds > _TIMES * IN_ALL * limits.deterministic_seconds:
                break
            model = near(week, _as_in(week, reference), free)
            outcome = search(model, None, few, cancel=cancel, deadline=deadline)
            if outcome.solution:
                return outcome
            used += outcome.deterministic_seconds
    return search(week.model, None, limits, cancel=cancel, deadline=deadline)


def _as_in(week: Week, plan: WeekFacts) -> Held:
    """What the sessions hold in a plan: pinned ones by their pins, others of a kind in order of time."""
    held: dict[str, SessionFacts] = {}
    for kind in week.instance.kinds:
        planned = sorted((s for s in plan.planned if s.kind == kind), key=lambda s: s.start)
        mine = [s for s in week.open_sessions if s.kind == kind]
        held.update((s.label, old) for s in mine if s.pin is not None for old in planned if old.pin == s.pin)
        held |= zip((s.label for s in mine if s.pin is None), (s for s in planned if s.pin is None), strict=False)

    def of(session: SessionVars, option: OptionVars) -> tuple[int, int]:
        items = held[session.label].items if session.label in held else ()
        mine = [i for i in items if i.role is option.role and i.zone in option.zones]
        sets = [i.sets for i in mine if i.key in option.stimulus.members]
        return len(sets), sum(sets)

    return of


def _counts_every_move(week: Week) -> bool:
    """Whether what is counted is all that there is: no exercises in one class, and one session of a kind."""
    kinds = Counter(s.kind for s in week.open_sessions)
    return all(stimulus.size == 1 for stimulus in week.classes) and max(kinds.values(), default=0) <= 1


def _settled(
    week: Week, outcome: Outcome, limits: Limits, cancel: Cancel | None, deadline: float | None
) -> tuple[SessionFacts, ...]:
    """The week found, with its content as it is and its sessions as early as may be."""
    model = week.model.clone()
    for option in (o for s in week.open_sessions for o in s.options):
        model.add(option.sets == outcome[option.sets])
        model.add(option.uses == outcome[option.uses])
    goal = objective(week, TIE_BREAK)
    early = search(model, goal, limits, hint=outcome.solution, cancel=cancel, deadline=deadline, briefly=True)
    return decode(week, early if early.solution else outcome)


def _plan(brief: Brief, facts: WeekFacts, best: Plan) -> Plan:
    """A refereed plan. Its wishes are bounded as those of the best plan are; of later tiers nothing is proved."""
    sessions = referee.planned_sessions(facts)
    report = planning.check(brief, sessions)
    if not report.holds:
        raise RuntimeError("the referee finds a must broken in an alternative: a defect of this program")
    wishes, *rest = report.plan.tiers
    bound = best.tiers[0].bound
    wishes = wishes.model_copy(update={"bound": bound, "proved": wishes.value == bound})
    return report.plan.model_copy(
        update={"sessions": sessions, "status": PlanStatus.FEASIBLE, "tiers": (wishes, *rest)}
    )
