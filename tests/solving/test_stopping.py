"""A search that is stopped says so, and whatever plan it hands out has been refereed."""

from __future__ import annotations

import threading
import time
from pathlib import Path
from typing import Any

import pytest

from scheduler import planning
from scheduler.briefs import read_brief
from scheduler.domain.brief import Brief
from scheduler.domain.plan import PlanStatus
from scheduler.planning import check, instance_of, solve
from scheduler.week.goals import objective
from scheduler.week.model import Week
from scheduler.week.solver import Cancel, Grace, Limits, Outcome, Verdict, search
from tests.solving.hard_week import CUT_SHORT, HARD, MIDDLING


def hard() -> Brief:
    return Brief.model_validate(HARD)


def middling() -> Brief:
    return Brief.model_validate(MIDDLING)


def test_a_cancel_before_the_start_gives_no_plan() -> None:
    cancel = Cancel()
    cancel.set()
    plan = solve(hard(), cancel=cancel)
    assert plan.status is PlanStatus.STOPPED
    assert not plan.sessions
    assert not plan.tiers


def test_a_cancel_in_mid_search_gives_a_refereed_plan_that_says_so() -> None:
    cancel = Cancel()
    seen: list[int] = []

    def progress(tier: int, name: str, value: int, bound: int, seconds: float) -> None:
        seen.append(value)
        cancel.set()

    brief = middling()
    plan = solve(brief, cancel=cancel, progress=progress)
    assert seen, "it was stopped by its first solution, not before"
    assert plan.status is PlanStatus.STOPPED
    assert plan.sessions
    assert all(tier.bound <= tier.value for tier in plan.tiers)
    assert not all(tier.proved for tier in plan.tiers)
    assert plan.tiers[0].value <= seen[0]
    report = check(brief, plan.sessions)
    assert report.holds
    assert [t.value for t in report.plan.tiers] == [t.value for t in plan.tiers]


def test_a_cancel_from_another_thread_is_heard() -> None:
    """As a server sends it: some time after the start, from outside. How fast is no matter here, only that it ends
    long before the search would by itself."""
    cancel = Cancel()
    timer = threading.Timer(1.0, cancel.set)
    started = time.perf_counter()
    timer.start()
    try:
        plan = solve(hard(), limits=Limits(deterministic_seconds=10_000), cancel=cancel)
    finally:
        timer.cancel()
    assert plan.status is PlanStatus.STOPPED
    assert time.perf_counter() - started < 60


def test_a_grace_ends_after_the_cancel_not_before() -> None:
    """What fits a week to an outline goes on after a stop, for there is none to show without; but not for long."""
    cancel = Cancel()
    grace = Grace(cancel, 0.2)
    assert not grace.is_set
    cancel.set()
    heard = time.perf_counter()
    assert not grace.is_set
    while not grace.is_set:
        time.sleep(0.01)
    assert time.perf_counter() - heard >= 0.2
    whole = Cancel()
    Grace(whole, 60.0).set()
    assert whole.is_set, "a Ctrl-C is everybody's"


def test_progress_tells_tier_value_and_bound() -> None:
    told: list[tuple[int, str, int, int, float]] = []
    limits = Limits(deterministic_seconds=CUT_SHORT)
    started = time.perf_counter()
    plan = solve(middling(), limits=limits, progress=lambda *report: told.append(report))
    took = time.perf_counter() - started
    assert {tier for tier, *_ in told} <= {t.tier for t in plan.tiers}
    names = {t.tier: t.name for t in plan.tiers}
    for tier, name, value, bound, seconds in told:
        assert names[tier] == name
        assert 0 <= bound <= value
        assert 0 < seconds < took
    first = [value for tier, _, value, _, _ in told if tier == 1]
    assert len(first) > 1, "the first plan found is not the best"
    assert first == sorted(first, reverse=True)
    assert first[-1] >= plan.tiers[0].value


def impossible() -> Brief:
    return read_brief(Path(__file__).parents[2] / "scenarios" / "impossible.yaml")


def test_the_greatest_seed_says_of_an_impossible_week_what_every_seed_says() -> None:
    """It is asked twice, the second time with the next seed."""
    assert solve(impossible(), limits=Limits(seed=2**31 - 1)).status is PlanStatus.IMPOSSIBLE


def test_a_week_is_not_called_impossible_where_the_time_is_up_before_it_is_asked_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    deadlines: list[float | None] = []

    def late(*_: Any, deadline: float | None = None, **__: Any) -> Outcome:
        deadlines.append(deadline)
        return Outcome(Verdict.UNKNOWN, None, 0)

    monkeypatch.setattr(planning, "search", late)
    before = time.perf_counter()
    plan = solve(impossible(), limits=Limits(wall_seconds=60.0))
    (deadline,) = deadlines
    assert deadline is not None
    assert before + 60.0 <= deadline <= time.perf_counter() + 60.0
    assert plan.status is PlanStatus.STOPPED


def test_the_wall_clock_limit_ends_a_search() -> None:
    started = time.perf_counter()
    plan = solve(hard(), limits=Limits(deterministic_seconds=10_000, wall_seconds=2.0))
    assert time.perf_counter() - started < 20
    assert plan.status in (PlanStatus.FEASIBLE, PlanStatus.STOPPED)
    assert not all(tier.proved for tier in plan.tiers) or not plan.tiers


def test_the_deterministic_limit_ends_a_search_with_a_bound() -> None:
    plan = solve(middling(), limits=Limits(deterministic_seconds=CUT_SHORT))
    assert plan.status is PlanStatus.FEASIBLE
    unproved = [tier for tier in plan.tiers if not tier.proved]
    assert unproved
    assert all(tier.bound < tier.value for tier in unproved)


def test_a_search_too_short_for_a_good_week_still_gives_one() -> None:
    """Twice too short for the search for the best: it finds none by then, but any week is found first."""
    limits = Limits(deterministic_seconds=0.15)
    brief = hard()
    week = Week(instance_of(brief))
    assert search(week.model, objective(week, 1), limits).value is None, "no longer too short: take less"
    plan = solve(brief, limits=limits)
    assert plan.sessions
    assert plan.status is PlanStatus.FEASIBLE
    assert check(brief, plan.sessions).holds
