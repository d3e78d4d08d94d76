"""Tiers solved together, as one weighted sum, come to what they come to one after another.

That the least of such a sum is the lexicographic least is a textbook matter (Ehrgott, Multicriteria Optimization, 2005,
section 5.1, from memory), as long as no later goal outweighs a unit of an earlier one; what is checked is that none of
ours does, and that of a sum whose proof is not ended only so much is believed as is proved.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model

from scheduler.briefs import read_brief
from scheduler.planning import instance_of
from scheduler.rules import SAME_WORK_FROM
from scheduler.week import climb
from scheduler.week.expressions import Linear
from scheduler.week.goals import weights
from scheduler.week.model import Week
from scheduler.week.solver import Limits, Outcome, Verdict
from scheduler.week.tiers import solve_week
from tests.solving.costs import assert_same_costs
from tests.solving.one_model import solve_tiers
from tests.solving.strategies import briefs, settled
from tests.solving.test_properties import profile

LIMITS = Limits(deterministic_seconds=1.0)
SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"


@given(st.data())
def test_no_later_goal_outweighs_a_unit_of_an_earlier_one(data: st.DataObject) -> None:
    most = data.draw(st.lists(st.integers(0, 50), min_size=1, max_size=6))
    model = cp_model.CpModel()
    units = weights([model.new_int_var(0, top, "") for top in most])
    one, other = (tuple(data.draw(st.integers(0, top)) for top in most) for _ in range(2))
    sums = [sum(w * v for w, v in zip(units, values, strict=True)) for values in (one, other)]
    assert (one < other) == (sums[0] < sums[1])
    assert all(sums[0] // w == sums[1] // w for n, w in enumerate(units) if one[: n + 1] == other[: n + 1])


@settings(profile)
@given(data=briefs())
def test_the_same_costs_are_proved_one_by_one(data: dict[str, Any]) -> None:
    instance = settled(data)
    if instance is None:
        return
    together = solve_tiers(Week(instance), LIMITS)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(climb, "together", lambda *_: [])
        assert_same_costs(together, solve_tiers(Week(instance), LIMITS))


@pytest.mark.parametrize(
    ("name", "seconds", "found"),
    [
        ("back_first", 0.2, [Verdict.UNKNOWN, Verdict.FEASIBLE]),
        ("traveller", 0.2, [Verdict.UNKNOWN, Verdict.FEASIBLE]),
        ("push_pull_legs", 0.2, [Verdict.UNKNOWN, Verdict.FEASIBLE]),
        ("upper_lower_four_days", 1.0, [Verdict.FEASIBLE]),
    ],
)
def test_of_a_sum_that_is_not_proved_only_what_is_proved_is_believed(
    name: str, seconds: float, found: list[Verdict], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sum is left early, without a week or at one that is not the best: what is not proved is solved by itself."""
    instance = instance_of(read_brief(SCENARIOS / f"{name}.yaml"))
    known = solve_week(instance, Limits())
    whole = climb.search
    sums: list[Outcome] = []

    def left_early(model: cp_model.CpModel, objective: Linear, limits: Limits, **how: Any) -> Outcome:
        if not how.get("briefly"):
            return whole(model, objective, limits, **how)
        sums.append(whole(model, objective, Limits(deterministic_seconds=seconds), **how))
        return sums[-1]

    monkeypatch.setattr(climb, "search", left_early)
    early = solve_week(instance, Limits())
    assert [left.verdict for left in sums] == found
    for mine, theirs in zip(known.tiers, early.tiers, strict=True):
        assert mine.tier >= SAME_WORK_FROM or (mine.value, mine.proved) == (theirs.value, theirs.proved)
