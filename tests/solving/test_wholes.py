"""What is said of whole exercises, steps of breaches, stations and times tightens the relaxation and removes no week.

The peer is the same model without those rows: both must prove the same costs. Rows of this sort are lifted cover and
packing inequalities (Balas 1975; Hammer, Johnson and Peled 1975); the argument for each stands at ``Week.cover``.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings

from scheduler.domain.brief import Brief
from scheduler.planning import instance_of
from scheduler.week.lengths import tell_time_by_zone
from scheduler.week.model import Week
from scheduler.week.solver import Limits
from tests.solving.costs import assert_same_costs
from tests.solving.one_model import solve_tiers
from tests.solving.strategies import briefs, settled
from tests.solving.test_properties import profile

LIMITS = Limits(deterministic_seconds=1.0)


@pytest.fixture(scope="module")
def bare() -> Any:
    """The week without the rows in question, and without the implications beside them."""

    class Bare(Week):
        def cover(self, *_: object, **__: object) -> None:
            pass

        def pack(self, *_: object, **__: object) -> None:
            pass

        def slack(self, switch: str, most: int, step: int = 1) -> Any:
            return super().slack(switch, most)

    return Bare


@settings(profile)
@given(data=briefs())
def test_the_same_costs_are_proved_without_them(bare: type[Week], data: dict[str, Any]) -> None:
    instance = settled(data)
    if instance is None:
        return
    tight, plain = (solve_tiers(week(instance), LIMITS) for week in (Week, bare))
    assert_same_costs(tight, plain)


@settings(profile)
@given(data=briefs())
def test_the_same_costs_are_proved_with_times_told_by_zone(data: dict[str, Any]) -> None:
    """They are told where a proof is long only; here at once."""
    instance = settled(data)
    if instance is None:
        return
    told = Week(instance)
    tell_time_by_zone(told)
    assert_same_costs(solve_tiers(told, LIMITS), solve_tiers(Week(instance), LIMITS))


def test_rows_are_there_to_be_compared() -> None:
    """A brief with aims, hits and a mix of reps says something of wholes, so the comparison above is not empty."""
    brief = Brief.model_validate(
        {
            "week": {"start": "2026-03-02"},
            "places": {"gym": {"base": "full_gym"}},
            "openings": [{"day": ["mon", "thu"], "start": "18:00", "end": "19:30", "place": "gym"}],
            "kinds": {"upper": {"base": "upper", "per_week": 2}},
            "sessions": 2,
            "goals": {"lats": {"aim": 10, "frequency": 2}},
        }
    )
    week = Week(instance_of(brief))
    wants = {cover.least for cover in week.covers}
    assert {40, 12, 1} <= wants, "ten sets in quarters, a hit of three, one exercise of a pattern"
    assert all(0 < most <= cover.least for cover in week.covers for _, _, most in cover.gives)
    # Sets count whole or half, so an aim of ten is missed by halves at least: two quarters.
    assert week.step("lats", 40) == 2
    assert any(name == "steps of weekly_sets:aim:lats" for name in (v.name for v in week.model.proto.variables))
