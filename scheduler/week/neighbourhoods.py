"""Weeks near a known one: a session, or two, hold something else, the others what they hold; times are free.

A better week, or another as good, mostly lies so near, and what is left free is small. The solver's own neighbourhoods
know nothing of sessions.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from itertools import combinations

from ortools.sat.python import cp_model

from scheduler.week.expressions import Linear
from scheduler.week.model import Week
from scheduler.week.solver import Cancel, Limits, Outcome, Verdict, search
from scheduler.week.variables import OptionVars, SessionVars

_SHARE = 0.01
"""Share of the deterministic seconds for one session; four times that for two."""
IN_ALL = 0.1
"""Share for all of them together."""

Held = Callable[[SessionVars, OptionVars], tuple[int, int]]
"""Uses and sets of an option of a session."""


def freed(sessions: Sequence[SessionVars], turn: int = 0) -> list[tuple[SessionVars, ...]]:
    """Sessions that are left free while others are not: each, then each two, beginning elsewhere each turn."""
    found: list[tuple[SessionVars, ...]] = []
    for number in (1, 2):
        if number < len(sessions):
            choices = list(combinations(sessions, number))
            first = turn % len(choices)
            found += [*choices[first:], *choices[:first]]
    return found


def briefly(limits: Limits, free: Collection[SessionVars], times: int = 1) -> Limits:
    """How long to look where so many sessions are free."""
    return replace(limits, deterministic_seconds=times * _SHARE * len(free) ** 2 * limits.deterministic_seconds)


def near(week: Week, held: Held, free: Collection[SessionVars]) -> cp_model.CpModel:
    """The weeks in which all sessions but the free ones hold what they are said to."""
    model = week.model.clone()
    for session in week.open_sessions:
        if session not in free:
            for option in session.options:
                uses, sets = held(session, option)
                model.add(option.uses == uses)
                model.add(option.sets == sets)
    return model


def improved(
    week: Week,
    goal: Linear,
    best: Outcome,
    limits: Limits,
    *,
    cancel: Cancel | None = None,
    deadline: float | None = None,
) -> Outcome:
    """A week near the best, or near one that was found so, with less of a goal; the best itself where there is none."""
    started, used = time.perf_counter(), 0.0
    value, bound = best[goal], best.bound
    choices = freed(week.open_sessions)
    turn = failed = 0
    while failed < len(choices) and value > bound and not (cancel is not None and cancel.is_set):
        free = choices[turn % len(choices)]
        few = briefly(limits, free)
        late = deadline is not None and time.perf_counter() >= deadline
        if late or used + few.deterministic_seconds > IN_ALL * limits.deterministic_seconds:
            break
        model = near(week, _as_in(best), free)
        model.add_linear_constraint(goal, bound, value - 1)
        found = search(model, goal, few, cancel=cancel, deadline=deadline, once=True)
        used += found.deterministic_seconds
        turn, failed = turn + 1, failed + 1
        if found.solution:
            # Best of those near by: of the others nothing is proved.
            value, failed = found[goal], 0
            best = replace(found, verdict=Verdict.FEASIBLE, value=value, bound=bound)
    return replace(best, deterministic_seconds=used, wall_seconds=time.perf_counter() - started)


def _as_in(outcome: Outcome) -> Held:
    return lambda _, option: (outcome[option.uses], outcome[option.sets])
