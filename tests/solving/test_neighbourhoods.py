"""Near a week: what is held is held, and what is found there is no worse and claims no proof.

Local search beside an exact one is textbook (Fischetti and Lodi, Local Branching, 2003, from memory); what is checked
is that ours looks where it says, and ends where no single session can do better.
"""

from __future__ import annotations

from itertools import combinations

import pytest

from scheduler.domain.brief import Brief
from scheduler.planning import instance_of
from scheduler.week.goals import objective
from scheduler.week.model import Week
from scheduler.week.neighbourhoods import freed, improved, near
from scheduler.week.solver import Cancel, Limits, Outcome, Verdict, search
from scheduler.week.variables import OptionVars, SessionVars

LIMITS = Limits(deterministic_seconds=20.0)
EXERCISES = 4


@pytest.fixture(scope="module")
def week() -> Week:
    """Three full-body days with room for more than is asked."""
    kind = {"base": "full_body", "per_week": 3, "minutes": {"least": 30, "most": 75}}
    brief = Brief.model_validate(
        {
            "week": {"start": "2026-03-02"},
            "places": {"gym": {"base": "full_gym"}},
            "openings": [{"day": ["mon", "wed", "fri"], "start": "18:00", "end": "19:30", "place": "gym"}],
            "kinds": {"full_body": kind},
            "sessions": 3,
            "goals": {"lats": {"aim": 10, "frequency": 2}, "pectorals": {"aim": 9}, "quads": {"aim": 8}},
        }
    )
    return Week(instance_of(brief))


@pytest.fixture(scope="module")
def poor(week: Week) -> Outcome:
    """A week with as many exercises as may be."""
    goal = objective(week, EXERCISES)
    found = search(week.model, -goal, Limits(deterministic_seconds=0.5), once=True)
    assert found.solution
    return found


def held_in(outcome: Outcome, session: SessionVars) -> list[tuple[int, int]]:
    return [(outcome[o.uses], outcome[o.sets]) for o in session.options]


def test_each_session_and_each_two_are_left_free_once(week: Week) -> None:
    sessions = week.open_sessions
    assert len(sessions) == 3
    once = [tuple(s.label for s in free) for free in freed(sessions)]
    assert sorted(once) == sorted(
        [(s.label,) for s in sessions] + [(a.label, b.label) for a, b in combinations(sessions, 2)]
    )
    firsts = {freed(sessions, turn)[0][0].label for turn in range(3)}
    assert firsts == {s.label for s in sessions}
    assert freed(sessions[:1]) == []  # all of a week of one session is no part of it


def test_only_the_free_sessions_change(week: Week, poor: Outcome) -> None:
    goal = objective(week, EXERCISES)

    def held(_: SessionVars, option: OptionVars) -> tuple[int, int]:
        return poor[option.uses], poor[option.sets]

    changed = 0
    for free in freed(week.open_sessions):
        model = near(week, held, free)
        model.add_linear_constraint(goal, 0, poor[goal] - 1)
        found = search(model, None, LIMITS)
        for session in week.open_sessions:
            if session not in free:
                assert held_in(found, session) == held_in(poor, session)
        changed += any(held_in(found, s) != held_in(poor, s) for s in free)
    assert changed == 6


def test_what_is_found_near_by_is_better_and_no_proof(week: Week, poor: Outcome) -> None:
    goal = objective(week, EXERCISES)
    start = Outcome(Verdict.FEASIBLE, poor[goal], 0, poor.solution)
    found = improved(week, goal, start, LIMITS)
    assert found.value == found[goal] < poor[goal]
    assert (found.verdict, found.bound) == (Verdict.FEASIBLE, 0)
    best = search(week.model, goal, LIMITS)
    assert best.verdict is Verdict.OPTIMAL
    assert best[goal] <= found[goal]
    # No session by itself can do better: asked of the solver, each to the end.
    for session in week.open_sessions:
        model = near(week, lambda _, option: (found[option.uses], found[option.sets]), (session,))
        alone = search(model, goal, LIMITS)
        assert (alone.verdict, alone.value) == (Verdict.OPTIMAL, found[goal])


def test_at_the_bound_nothing_is_looked_for(week: Week, poor: Outcome) -> None:
    goal = objective(week, EXERCISES)
    known = Outcome(Verdict.FEASIBLE, poor[goal], poor[goal], poor.solution)
    assert improved(week, goal, known, LIMITS).solution == poor.solution


def test_a_stop_keeps_what_is_known(week: Week, poor: Outcome) -> None:
    goal = objective(week, EXERCISES)
    stop = Cancel()
    stop.set()
    known = Outcome(Verdict.FEASIBLE, poor[goal], 0, poor.solution)
    assert improved(week, goal, known, LIMITS, cancel=stop).solution == poor.solution
    assert improved(week, goal, known, LIMITS, deadline=0.0).solution == poor.solution
