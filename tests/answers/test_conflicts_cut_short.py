"""Answers about impossible weeks that cannot be given, or not in the time."""

from __future__ import annotations

import time

import pytest

from scheduler.answers import conflicts as conflicts_module
from scheduler.answers.conflicts import explain
from scheduler.answers.pose import Posing, Witness
from scheduler.briefs import read_brief
from scheduler.domain.errors import RefereeDisagreement
from scheduler.week.solver import Cancel
from tests.answers.test_conflicts import SCENARIOS, brief


def test_without_time_nothing_is_claimed() -> None:
    found = explain(brief(), budget_seconds=0)
    assert found.truncated
    assert not any(c.verified for c in found.conflicts)


def test_no_answer_where_the_two_models_disagree(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(conflicts_module, "witness", lambda asked, patience: Witness(True))
    with pytest.raises(RefereeDisagreement):
        explain(brief(), budget_seconds=30)


@pytest.mark.parametrize("seconds", [0.05, 0.1, 0.2, 0.4])
def test_out_of_time_says_so(seconds: float) -> None:
    found = explain(read_brief(SCENARIOS / "impossible.yaml"), budget_seconds=seconds, most_mends=8)
    assert found.truncated
    assert found.possible is not True
    for mend in found.mends:
        assert mend.changes


def test_a_ctrl_c_ends_the_searches_beside_it_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Here in the midst of the search for mends, while the thread beside works until it is told to stop."""
    in_time: list[bool] = []

    def until_stopped(posing: Posing, *_: object) -> tuple[list[object], bool]:
        while not posing.patience.over:
            time.sleep(0.01)
        in_time.append(time.perf_counter() < posing.patience.deadline)
        return [], False

    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(conflicts_module, "_conflicts", until_stopped)
    monkeypatch.setattr(conflicts_module, "cheapest_mends", interrupted)
    with pytest.raises(KeyboardInterrupt):
        explain(read_brief(SCENARIOS / "impossible.yaml"), budget_seconds=60)
    assert in_time == [True]


def test_a_stop_that_nobody_asked_for_was_a_ctrl_c(monkeypatch: pytest.MonkeyPatch) -> None:
    """A search that is interrupted stops as if it were cancelled."""

    def stopped(posing: Posing, *_: object) -> tuple[list[object], bool]:
        assert posing.patience.cancel is not None
        posing.patience.cancel.set()
        return [], False

    monkeypatch.setattr(conflicts_module, "cheapest_mends", stopped)
    with pytest.raises(KeyboardInterrupt):
        explain(read_brief(SCENARIOS / "impossible.yaml"), budget_seconds=60)
    assert explain(read_brief(SCENARIOS / "impossible.yaml"), budget_seconds=60, cancel=Cancel()).truncated
