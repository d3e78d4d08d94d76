"""What all weeks break that are best in a tier: against all of them, one by one, and told to the tiers after it."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings

from scheduler.facts import WeekFacts
from scheduler.planning import instance_of
from scheduler.rules import RULES
from scheduler.week import climb
from scheduler.week.goals import objective
from scheduler.week.model import Week
from scheduler.week.solver import Limits, Outcome, Verdict, search
from scheduler.week.unavoidable import Unavoidable
from tests.solving.costs import assert_same_costs
from tests.solving.enumeration import judged, weeks
from tests.solving.one_model import solve_tiers
from tests.solving.strategies import briefs, settled
from tests.solving.test_brute_force import BRIEFS, STRETCH
from tests.solving.test_properties import profile

LIMITS = Limits(deterministic_seconds=1.0)
WISHES = 1
MUST_BREAK = ("sets and recovery", "ring", "add-on", "lower back", "alike in two roles", "alike", "wishes", "pairs")


def breaches(facts: WeekFacts) -> dict[str, int]:
    return {name: breach for rule in RULES for name, breach in rule.breaches(facts).items()}


@pytest.mark.parametrize("name", MUST_BREAK)
def test_brute_force_finds_the_same(name: str) -> None:
    """Of all weeks that break least, the one that has least in common with the one that the solver found."""
    instance = instance_of(BRIEFS[name]())
    costs = [
        (values[0], s)
        for s in weeks(instance, stretch=STRETCH.get(name, 0))
        if (values := judged(WeekFacts(instance, s)))
    ]
    least = min(cost for cost, _ in costs)
    alike = [breaches(WeekFacts(instance, sessions)) for cost, sessions in costs if cost == least]

    week = Week(instance)
    wishes = objective(week, WISHES)
    best = search(week.model, wishes, LIMITS)
    assert best.value == least > 0
    week.model.add(wishes == least)
    broken = Unavoidable.of(week, WISHES, best)
    found = search(*broken.question(), LIMITS, once=True)

    common = [
        sum(week.switches[n].weight * min(most, other.get(n, 0)) for n, most in broken.breaches.items())
        for other in alike
    ]
    assert (found.verdict, found.value) == (Verdict.OPTIMAL, min(common))


@settings(profile)
@given(data=briefs())
def test_the_same_costs_are_proved_when_it_is_told(data: dict[str, Any]) -> None:
    """It is told where later tiers are not soon proved; here before each of them, whole or in part."""
    instance = settled(data)
    if instance is None:
        return
    one_tier = climb.Climb._tier

    def told(self: climb.Climb, tier: int, floor: int | None) -> Any:
        for broken in self.broken:
            self._ask(broken, 0.01 if tier % 2 else 1.0)
        return one_tier(self, tier, floor)

    plain = solve_tiers(Week(instance), LIMITS)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(climb.Climb, "_tier", told)
        # In small weeks all of it is plain to the relaxation, and would not be told.
        patch.setattr(climb, "_AT_ONCE", -1.0)
        assert_same_costs(plain, solve_tiers(Week(instance), LIMITS))


def test_a_part_of_it_is_told_as_a_sum_and_all_of_it_one_by_one() -> None:
    week = Week(instance_of(BRIEFS["sets and recovery"]()))
    wishes = objective(week, WISHES)
    best = search(week.model, wishes, LIMITS)
    week.model.add(wishes == best[wishes])
    broken = Unavoidable.of(week, WISHES, best)
    for least in (best[wishes] - 1, best[wishes]):
        broken.tell(least)
        assert broken.share == least / best[wishes]
        left = search(week.model, sum(week.slacks[n] for n in broken.breaches), LIMITS)
        assert left.verdict is Verdict.OPTIMAL
    assert all(left[week.slacks[n]] == breach for n, breach in broken.breaches.items())
    # What is known already is not posted again.
    rows = len(week.model.proto.constraints)
    broken.tell(best[wishes] - 1)
    assert len(week.model.proto.constraints) == rows


def test_one_switch_alone_and_stages_say_all_there_is() -> None:
    week = Week(instance_of(BRIEFS["sets and recovery"]()))
    best = search(week.model, None, LIMITS)
    for tier in (2, 5, 6):
        broken = Unavoidable.of(week, tier, best)
        assert not broken.breaches
        assert broken.share == 1.0


def test_without_a_best_week_there_is_nothing_to_ask() -> None:
    with pytest.raises(LookupError):
        Unavoidable.of(Week(instance_of(BRIEFS["sets and recovery"]())), WISHES, Outcome(Verdict.UNKNOWN, None, 0))
