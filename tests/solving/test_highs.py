"""HiGHS where CP-SAT does not end a proof: the same answers, nothing taken on trust, and a stop is heard."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from typing import Any

import pytest

from scheduler.briefs import read_brief
from scheduler.domain.brief import Brief
from scheduler.domain.plan import PlanStatus
from scheduler.planning import instance_of, solve
from scheduler.rules import SAME_WORK_FROM
from scheduler.week import climb, highs, strategies
from scheduler.week.goals import goals
from scheduler.week.highs import Found
from scheduler.week.model import Week
from scheduler.week.solver import Cancel, Limits, Verdict, search
from tests.benchmarks.measure import SCENARIOS
from tests.solving.hard_week import HARD
from tests.solving.test_brute_force import BRIEFS

LIMITS = Limits(deterministic_seconds=30.0)
ALONE = ((strategies.BRANCH_AND_CUT, 1.0),)


def week_of(name: str) -> Week:
    """A scenario's week."""
    return Week(instance_of(read_brief(SCENARIOS / f"{name}.yaml")), outline=True)


@pytest.mark.parametrize("name", ["first_week_back", "home_only", "pinned_solid", "two_a_day"])
def test_alone_it_proves_what_cp_sat_proves(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two solvers that share nothing but the rows, goal after goal; beyond the wishes a week is known to start from."""
    week = week_of(name)
    hint: tuple[int, ...] = ()
    asked = 0
    for goal in (goal for tier in (1, 3, 4, 5) for goal in goals(week, tier)):
        ours = search(week.model, goal, LIMITS, hint=hint)
        with monkeypatch.context() as patch:
            patch.setattr(strategies, "TURNS", ALONE)
            theirs = search(week.model, goal, LIMITS, hint=hint)
        assert (theirs.verdict, theirs.value) == (Verdict.OPTIMAL, ours.value)
        assert theirs[goal] == ours.value
        week.model.add(goal == ours.value)
        hint = ours.solution
        asked += 1
    assert asked >= 3


def test_what_the_solver_says_of_its_own_is_no_answer() -> None:
    """Seen once in some thousand solves: a line of HiGHS's own before the answer, on the standard output."""
    program = """
import os
from scheduler.week import highs_process
solved = highs_process._solved
highs_process._solved = lambda asked: (os.write(1, b"HighsMipSolverData says something\\n"), solved(asked))[1]
highs_process.main()
"""
    one = {"lower": [0], "upper": [9], "rows": [(3, 9, [(0, 1)])], "costs": [(0, 1)], "constant": 0}
    asked = json.dumps({**one, "hint": [], "nodes": 10, "seconds": None})
    with subprocess.Popen(
        [sys.executable, "-c", program],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write(asked + "\n")
        process.stdin.flush()
        answer = json.loads(process.stdout.readline())
        process.kill()
    assert answer["solution"] == [3]


def test_whole_weeks_come_to_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """All tiers, the last ones in the week itself, no goals together: costs are equal, and the referee agrees."""
    brief = read_brief(SCENARIOS / "home_only.yaml")
    ours = solve(brief)
    monkeypatch.setattr(strategies, "TURNS", ALONE)
    monkeypatch.setattr(climb, "together", lambda *_: [])
    theirs = solve(brief)
    assert theirs.status is ours.status is PlanStatus.OPTIMAL
    costs = [[(t.name, t.value) for t in plan.tiers if t.tier < SAME_WORK_FROM] for plan in (ours, theirs)]
    assert costs[0] == costs[1]


def test_it_repeats() -> None:
    week = week_of("home_only")
    goal = goals(week, 4)[0]
    one, other = (ask(week, goal, nodes=5) for _ in range(2))
    assert one is not None
    assert one == other


def ask(week: Week, goal: Any, **changes: Any) -> Found | None:
    asked: dict[str, Any] = {
        "nodes": 1000,
        "hint": (),
        "seconds": None,
        "run": lambda work, _: work(),
    }
    return highs.least(week.model, goal, **(asked | changes))


@pytest.mark.parametrize(("above", "solution"), [(1, ()), (0, (0,))], ids=["bound", "week"])
def test_what_the_model_denies_does_not_count(
    above: int, solution: tuple[int, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A bound above a known week, and a week that breaks the rules of all weeks: both are floating point's."""
    week = Week(instance_of(BRIEFS["wishes"]()))
    wishes = goals(week, 1)[0]
    best = search(week.model, wishes, LIMITS)
    assert best.value is not None
    lie = Found(above and best.value + above, solution * len(best.solution), 0.0)
    monkeypatch.setattr(strategies, "TURNS", ALONE)
    monkeypatch.setattr(highs, "least", lambda *_, **__: lie)
    found = search(week.model, wishes, LIMITS, hint=best.solution)
    assert (found.verdict, found.bound, found.solution) == (Verdict.UNKNOWN, 0, ())


def test_what_has_no_linear_form_or_is_large_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    week = week_of("first_week_back")
    goal = goals(week, 4)[0]
    with monkeypatch.context() as patch:
        patch.setattr(highs, "_LARGEST", 100)
        assert ask(week, goal) is None
    with monkeypatch.context() as patch:
        patch.setattr(highs, "_DEAREST", 1)
        assert ask(week, goal) is None
    x, y = (week.model.new_int_var(0, 5, name) for name in "xy")
    week.model.add_multiplication_equality(y, [x, x])
    assert ask(week, goal) is None


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[subprocess.Popen[str]]:
    """The processes that are started."""
    found: list[subprocess.Popen[str]] = []
    plain = subprocess.Popen

    def watched(*arguments: Any, **settings: Any) -> Any:
        found.append(plain(*arguments, **settings))
        return found[-1]

    monkeypatch.setattr(subprocess, "Popen", watched)
    return found


def test_a_cancel_ends_it_at_once(started: list[subprocess.Popen[str]], monkeypatch: pytest.MonkeyPatch) -> None:
    """Without limits it would work for minutes on this one."""
    week = Week(instance_of(Brief.model_validate(HARD)), outline=True)
    monkeypatch.setattr(strategies, "TURNS", ALONE)
    cancel = Cancel()
    threading.Timer(2.0, cancel.set).start()
    before = time.perf_counter()
    found = search(week.model, goals(week, 1)[0], Limits(deterministic_seconds=1e6), cancel=cancel)
    assert time.perf_counter() - before < 20
    assert found.verdict is Verdict.UNKNOWN
    assert [process.returncode for process in started] == [-signal.SIGKILL]


def test_it_ends_with_the_process_that_asked(started: list[subprocess.Popen[str]]) -> None:
    """When that is killed its end of the pipe closes, and what it asked for is of no use to anybody."""
    week = Week(instance_of(Brief.model_validate(HARD)), outline=True)

    def run(work: Callable[[], str], _: object) -> str:
        (process,) = started
        assert process.stdin is not None
        threading.Timer(2.0, process.stdin.close).start()
        answer = work()
        process.wait(20)
        return answer

    assert highs.least(week.model, goals(week, 1)[0], nodes=10**6, hint=(), seconds=None, run=run) is None
    assert [process.returncode for process in started] == [1]


def test_a_process_that_fails_finds_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    week = week_of("first_week_back")
    monkeypatch.setattr(highs, "_PROCESS", highs._PROCESS.with_name("nowhere.py"))
    assert ask(week, goals(week, 4)[0]) is None
