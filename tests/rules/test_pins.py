"""Which session is which pin's: an assignment of least cost, quick for a week full of pins."""

from __future__ import annotations

import random
from itertools import permutations
from pathlib import Path

import pytest

from scheduler.answers.conflicts import explain
from scheduler.briefs import read_brief
from scheduler.domain.brief import Brief
from scheduler.rules.pinned import cheapest

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"


@pytest.mark.parametrize("seed", range(60))
def test_no_other_assignment_costs_less(seed: int) -> None:
    some = random.Random(seed)
    rows = some.randint(1, 5)
    columns = some.randint(rows, 6)
    highest = some.choice([1, 9, 2000])
    costs = [[some.randint(0, highest) for _ in range(columns)] for _ in range(rows)]
    found = cheapest(costs)
    assert len(set(found)) == rows
    every = (sum(costs[r][c] for r, c in enumerate(way)) for way in permutations(range(columns), rows))
    assert sum(costs[r][c] for r, c in enumerate(found)) == min(every)


def test_fourteen_pins_are_no_matter() -> None:
    costs = [[(row - column) % 14 for column in range(14)] for row in range(14)]
    assert cheapest(costs) == list(range(14))


def test_a_pin_of_more_sets_than_an_exercise_may_have_says_so() -> None:
    """It clashes with itself: the range of sets is no demand that could give way, so the pin's sentence names it."""
    asked = read_brief(SCENARIOS / "upper_lower_four_days.yaml")
    pin = {"kind": "upper", "exercises": [{"exercise": "lat_pulldown", "sets": 9}]}
    brief = Brief.model_validate({**asked.model_dump(mode="json"), "pinned": [pin], "expect": None})
    (conflict,) = explain(brief, budget_seconds=30, most_mends=0).conflicts
    (sentence,) = conflict.sentences
    assert sentence.endswith("(9 sets, where an exercise has 3 to 4 sets).")
